//! What a page asks of the live picture. A frame is asked for after the last one that was shown, and comes as soon as there is a
//! newer one: no more frames are on their way than a page can take.

use super::super::api::{Answer, Shared, answer_json, away, query, question, say};
use super::super::bakes::Table;
use super::super::refusal::Refusal;
use super::super::server::Server;
use super::super::studio::{At, Wanted};
use super::{Live, Taken};
use axum::Router;
use axum::body::{Body, Bytes};
use axum::extract::{Request, State};
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use serde::Deserialize;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::OwnedSemaphorePermit;

/// How long a page waits for a frame before it is told how the source is.
const WAITS: Duration = Duration::from_secs(1);

pub(in super::super) fn routes() -> Router<Arc<Server>> {
    Router::new()
        .route("/api/live", get(report))
        .route("/api/live/frame", get(frame))
        .route("/api/live/hold", post(hold))
        .route("/api/live/grab", post(grab))
}

/// The live picture, where there is one.
pub(in super::super) fn of(server: &Server) -> Result<Arc<Live>, Refusal> {
    let none = "there is no live picture: start the preview with --live";
    server.live.clone().ok_or_else(|| Refusal::not_found(none))
}

async fn report(State(server): Shared) -> Answer {
    Ok(answer_json(&of(&server)?.report()))
}

#[derive(Deserialize)]
struct Which {
    /// Newer than this one.
    #[serde(default)]
    after: u64,
    /// This very one.
    number: Option<u64>,
    /// Through the table of this number too, for a page that draws slowly; left of the divide stays the signal.
    by: Option<u64>,
    #[serde(default)]
    divide: f64,
    /// Its colours alone will do.
    #[serde(default)]
    colours: bool,
}

/// How a page is given a frame: its signal, its colours by a table with the columns left of the divide, or both.
struct Given {
    signal: bool,
    colours: Option<(Arc<Table>, usize)>,
}

async fn frame(State(server): Shared, uri: Uri) -> Answer {
    let Which { after, number, by, divide, colours } = query(&uri)?;
    let live = of(&server)?;
    let taken = match number {
        Some(number) => Some(live.kept(Some(number))?),
        None => live.after(after, WAITS).await,
    };
    let Some(taken) = taken else {
        let mut response = StatusCode::NO_CONTENT.into_response();
        say(&mut response, "x-live", &live.report().to_string());
        return Ok(response);
    };
    // A page that does not take what it asked for is given no more.
    let Ok(Ok(place)) = tokio::time::timeout(WAITS, live.sending.clone().acquire_owned()).await else {
        return Err(Refusal::new(StatusCode::SERVICE_UNAVAILABLE, "too many live frames are on their way to pages"));
    };
    let turns = live.turns.clone();
    // A page whose table is not kept any more draws by itself.
    let table = by.and_then(|id| server.bakes.of_id(id));
    let left = (divide.clamp(0.0, 1.0) * taken.size()[0] as f64).round() as usize;
    let given = Given { signal: !colours || table.is_none(), colours: table.map(|table| (table, left)) };
    away(&turns, Box::new(move || answer_frame(&live, &taken, &given, place))).await
}

/// A picture on its way to a page, which takes one of the places that there are.
struct Sent {
    picture: Bytes,
    _place: OwnedSemaphorePermit,
}

impl AsRef<[u8]> for Sent {
    fn as_ref(&self) -> &[u8] {
        &self.picture
    }
}

/// The signal first, and its colours behind it.
fn answer_frame(live: &Live, taken: &Taken, given: &Given, place: OwnedSemaphorePermit) -> Answer {
    let [width, height] = taken.size();
    let mut picture = if given.signal { live.picture(taken) } else { Bytes::new() };
    if let Some((table, left)) = &given.colours {
        let colours = taken.coloured(table.fast()?, *left);
        picture = if given.signal { [&picture[..], &colours].concat().into() } else { colours.into() };
    }
    let sent = Sent { picture, _place: place };
    let mut response = Response::new(Body::from(Bytes::from_owner(sent)));
    say(&mut response, "content-type", "application/octet-stream");
    say(&mut response, "x-width", &width.to_string());
    say(&mut response, "x-height", &height.to_string());
    say(&mut response, "x-number", &taken.number.to_string());
    say(&mut response, "x-taken", &format!("{:.1}", taken.millis()));
    say(&mut response, "x-live", &live.report().to_string());
    say(&mut response, "x-signal", if given.signal { "1" } else { "0" });
    if let Some((table, _)) = &given.colours {
        say(&mut response, "x-table", &table.id.to_string());
    }
    Ok(response)
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Hold {
    on: bool,
}

async fn hold(State(server): Shared, request: Request) -> Answer {
    let Hold { on } = question(request).await?;
    let live = of(&server)?;
    live.hold(on);
    Ok(answer_json(&live.report()))
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Grab {
    number: Option<u64>,
    look: String,
    camera: String,
    display: String,
    shot: Option<String>,
}

async fn grab(State(server): Shared, request: Request) -> Answer {
    let Grab { number, look, camera, display, shot } = question(request).await?;
    let live = of(&server)?;
    // Taken now, so that it is the frame that was seen, however long its turn takes to come.
    let taken = live.kept(number)?;
    let shot = shot.map(|shot| server.shots.corrected(&server.studio, &shot, "now")).transpose()?;
    let wanted = Wanted { look, camera, display, at: At::Now, shot };
    let turns = server.working.clone();
    away(&turns, Box::new(move || Ok(answer_json(&live.grab(&taken, &server, &wanted)?)))).await
}
