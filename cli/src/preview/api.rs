//! What a page asks for, and what it is answered.

use super::assets;
use super::bakes::{self, Asked, Table};
use super::events;
use super::fields;
use super::frames::{self, Picture, Reading};
use super::live;
use super::looks_api;
use super::overlay;
use super::page_settings::PageSettings;
use super::refusal::Refusal;
use super::scopes_api;
use super::server::Server;
use super::shots;
use super::studio::{self, At, Wanted};
use super::versus::versus;
use crate::disk::Passing;
use axum::Router;
use axum::body::{self, Body, Bytes, HttpBody};
use axum::extract::{DefaultBodyLimit, Path, Query, Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, Uri, header};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::Value as Json;
use std::future::poll_fn;
use std::io::Write;
use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::Semaphore;

/// Bytes of a question.
const MOST_QUESTION: usize = 64 << 10;
/// Bytes of a file that is dropped.
const MOST_FILE: u64 = 512 << 20;
/// A body of which nothing comes for so long is not waited for.
const PATIENCE: Duration = Duration::from_secs(20);

pub(super) type Shared = State<Arc<Server>>;
pub(super) type Answer = Result<Response, Refusal>;

/// Every address below the token.
pub(super) fn router(server: Arc<Server>) -> Router {
    Router::new()
        .route("/api/state", get(state))
        .route("/api/order", get(order))
        .route("/api/cube", get(cube))
        .route("/api/curve", get(curve))
        .route("/api/worst", get(worst))
        .route("/api/compare", get(compare))
        .route("/api/probe", post(probe))
        .route("/api/page", post(page_settings))
        .route("/api/frames", post(drop_frame))
        .route("/api/frames/{id}", get(frame))
        .route("/api/events", get(event_stream))
        .merge(looks_api::routes())
        .merge(overlay::routes())
        .merge(live::routes())
        .merge(scopes_api::routes())
        .route("/", get(page))
        .route("/{file}", get(page_file))
        .merge(shots::routes::router())
        .fallback(|| async { Refusal::not_found("not found") })
        .method_not_allowed_fallback(|| async { Refusal::new(StatusCode::METHOD_NOT_ALLOWED, "method not allowed") })
        .layer(DefaultBodyLimit::disable())
        .with_state(server)
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        let mut response = answer_json(&self.body);
        *response.status_mut() = self.status;
        response
    }
}

pub(super) fn answer_json(value: &Json) -> Response {
    ([(header::CONTENT_TYPE, "application/json")], value.to_string()).into_response()
}

pub(super) fn serialised(value: &impl serde::Serialize) -> Json {
    serde_json::to_value(value).unwrap_or_default()
}

/// The part of an address after its question mark.
pub(super) fn query<T: DeserializeOwned>(uri: &Uri) -> Result<T, Refusal> {
    Query::try_from_uri(uri).map(|Query(q)| q).map_err(|e| Refusal::bad(e.body_text()))
}

/// A question in JSON.
pub(super) async fn question<T: DeserializeOwned>(request: Request) -> Result<T, Refusal> {
    of_type(request.headers(), "application/json")?;
    let read = tokio::time::timeout(PATIENCE, body::to_bytes(request.into_body(), MOST_QUESTION));
    let bytes = read.await.map_err(|_| Refusal::new(StatusCode::REQUEST_TIMEOUT, "the request broke off"))?;
    let bytes = bytes.map_err(|_| {
        Refusal::new(StatusCode::PAYLOAD_TOO_LARGE, format!("more than {MOST_QUESTION} bytes, or broken off"))
    })?;
    serde_json::from_slice(&bytes).map_err(|e| Refusal::bad(format!("not the JSON that is asked for: {e}")))
}

fn of_type(headers: &HeaderMap, wanted: &str) -> Result<(), Refusal> {
    let given = headers.get(header::CONTENT_TYPE).and_then(|v| v.to_str().ok()).unwrap_or_default();
    if given.split(';').next().is_some_and(|kind| kind.trim().eq_ignore_ascii_case(wanted)) {
        return Ok(());
    }
    Err(Refusal::new(StatusCode::UNSUPPORTED_MEDIA_TYPE, format!("content-type must be {wanted}")))
}

pub(super) type Work = Box<dyn FnOnce() -> Answer + Send>;

/// Work that takes long, away from the thread that answers. Who has gone does not get a turn. Boxed: tokio makes much code of
/// each kind of work, which takes long to build.
pub(super) async fn away(turns: &Arc<Semaphore>, work: Work) -> Answer {
    let broken = || Refusal::new(StatusCode::INTERNAL_SERVER_ERROR, "the work for this broke off");
    let turn = turns.clone().acquire_owned().await.map_err(|_| broken())?;
    let worked = tokio::task::spawn_blocking(move || {
        let made = work();
        drop(turn);
        made
    });
    worked.await.map_err(|_| broken())?
}

async fn page(State(server): Shared) -> Answer {
    static_file(&server, "")
}

async fn page_file(State(server): Shared, Path(name): Path<String>) -> Answer {
    static_file(&server, &name)
}

fn static_file(server: &Server, name: &str) -> Answer {
    let (kind, text) =
        assets::file(name, server.page_from.as_deref()).ok_or_else(|| Refusal::not_found("not found"))?;
    Ok(([(header::CONTENT_TYPE, kind)], text.into_owned()).into_response())
}

async fn state(State(server): Shared) -> Answer {
    // After what is being stored: a page that is loaded again finds what was chosen just before.
    let turn = server.storing.acquire().await;
    let page = PageSettings::read();
    drop(turn);
    let mut state = server.studio.state();
    state["kinds"] = serialised(&fields::kinds());
    let live = server.live.iter().map(|live| live.as_frame());
    state["frames"] = live.chain(server.frames.report()).collect();
    state["page"] = serialised(&page);
    Ok(answer_json(&state))
}

/// Where the corrections of the show's shots come, and to which of them it matters.
async fn order(State(server): Shared) -> Answer {
    let working = server.working.clone();
    away(&working, Box::new(move || Ok(answer_json(&serialised(&*server.studio.order()))))).await
}

#[derive(Deserialize)]
struct Which {
    look: String,
    camera: String,
    display: String,
    #[serde(default)]
    at: String,
    points: Option<usize>,
    #[serde(default)]
    screen: String,
    within: Option<f64>,
    ei: Option<f64>,
    /// The shot whose correction goes in: as it is edited, or as its file has it.
    shot: Option<String>,
    #[serde(default)]
    shot_at: String,
}

impl Which {
    fn wanted(&self, server: &Server) -> Result<Wanted, Refusal> {
        let Self { look, camera, display, at, shot, shot_at, .. } = self;
        let [look, camera, display] = [look, camera, display].map(String::clone);
        let shot = shot.as_ref().map(|shot| server.shots.corrected(&server.studio, shot, shot_at)).transpose()?;
        Ok(Wanted { look, camera, display, at: At::from(at.as_str()), shot })
    }
}

async fn cube(State(server): Shared, uri: Uri) -> Answer {
    let which: Which = query(&uri)?;
    let asked = Asked::new(which.points, &which.screen, which.within)?;
    let baking = server.baking.clone();
    let work = move || Ok(answer_table(&*server.bakes.cube(&server.studio, &which.wanted(&server)?, asked)?, None));
    away(&baking, Box::new(work)).await
}

/// A table as bytes, with what is said of it in headers.
pub(super) fn answer_table(table: &Table, key: Option<&Json>) -> Response {
    let mut response = Response::new(Body::from(table.bytes.clone()));
    say(&mut response, "content-type", "application/octet-stream");
    say(&mut response, "x-table", &table.id.to_string());
    say(&mut response, "x-points", &table.points.to_string());
    say(&mut response, "x-version", &table.version.to_string());
    say(&mut response, "x-millis", &format!("{:.1}", table.millis));
    if let Some(note) = &table.note {
        say(&mut response, "x-preview", note);
    }
    if let Some(key) = key {
        say(&mut response, "x-key", &key.to_string());
    }
    response
}

pub(super) fn say(response: &mut Response, name: &'static str, value: &str) {
    if let Ok(value) = HeaderValue::from_str(&ascii(value)) {
        response.headers_mut().insert(HeaderName::from_static(name), value);
    }
}

/// JSON and plain text alike, with nothing that a header cannot have.
fn ascii(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_ascii() { c.to_string() } else { format!("\\u{:04x}", u32::from(c).min(0xffff)) })
        .collect()
}

async fn curve(State(server): Shared, uri: Uri) -> Answer {
    let which: Which = query(&uri)?;
    let working = server.working.clone();
    away(&working, Box::new(move || Ok(answer_json(&bakes::curve(&server.studio, &which.wanted(&server)?, which.ei)?))))
        .await
}

async fn worst(State(server): Shared, uri: Uri) -> Answer {
    let which: Which = query(&uri)?;
    let working = server.working.clone();
    away(&working, Box::new(move || Ok(answer_json(&server.worst.finding(&server.studio, &which.wanted(&server)?)?))))
        .await
}

#[derive(Deserialize)]
struct Both {
    a: String,
    b: String,
    camera: String,
    display: String,
    a_shot: Option<String>,
    #[serde(default)]
    a_shot_at: String,
    b_shot: Option<String>,
}

async fn compare(State(server): Shared, uri: Uri) -> Answer {
    let Both { a, b, camera, display, a_shot, a_shot_at, b_shot } = query(&uri)?;
    // As many colours as a cube has nodes, and more.
    let baking = server.baking.clone();
    let work = move || {
        let of = |shot: Option<String>, at: &str| {
            shot.map(|shot| server.shots.corrected(&server.studio, &shot, at)).transpose()
        };
        let sides = [(&*a, of(a_shot, &a_shot_at)?), (&*b, of(b_shot, "now")?)];
        Ok(answer_json(&versus(&server.studio, sides, &camera, &display)?))
    };
    away(&baking, Box::new(work)).await
}

/// One at a time, so that what is chosen last is what is stored.
async fn page_settings(State(server): Shared, request: Request) -> Answer {
    let settings: PageSettings = question(request).await?;
    let turns = server.storing.clone();
    away(&turns, Box::new(move || Ok(settings.store().map(|()| answer_json(&serialised(&settings)))?))).await
}

#[derive(Deserialize)]
struct Probe {
    signal: [f64; 3],
    look: String,
    camera: String,
    display: String,
    #[serde(default)]
    at: String,
    shot: Option<String>,
}

async fn probe(State(server): Shared, request: Request) -> Answer {
    let Probe { signal, look, camera, display, at, shot } = question(request).await?;
    let shot = shot.map(|shot| server.shots.corrected(&server.studio, &shot, "now")).transpose()?;
    let wanted = Wanted { look, camera, display, at: At::from(at.as_str()), shot };
    let working = server.working.clone();
    away(&working, Box::new(move || Ok(answer_json(&bakes::probe(&server.studio, &wanted, signal)?)))).await
}

#[derive(Deserialize)]
struct Shown {
    camera: Option<String>,
    r#as: Option<String>,
    #[serde(default)]
    full: u8,
}

async fn frame(State(server): Shared, Path(id): Path<String>, uri: Uri) -> Answer {
    let Shown { camera, r#as, full } = query(&uri)?;
    let reading = r#as.as_deref().map(Reading::from_name).transpose()?;
    let working = server.working.clone();
    let work = move || {
        let show = server.studio.show();
        let camera = camera.unwrap_or_else(|| server.studio.picked_camera());
        let camera = &studio::camera(&show, &camera)?.item;
        Ok(answer_picture(server.frames.picture(&id, camera, reading, full == 1)?))
    };
    away(&working, Box::new(work)).await
}

fn answer_picture(picture: Picture) -> Response {
    let mut response = Response::new(Body::from(picture.bytes));
    say(&mut response, "content-type", "application/octet-stream");
    say(&mut response, "x-width", &picture.width.to_string());
    say(&mut response, "x-height", &picture.height.to_string());
    say(&mut response, "x-says", picture.says);
    response
}

#[derive(Deserialize)]
struct Dropped {
    name: String,
    #[serde(default)]
    at: f64,
    r#as: Option<String>,
}

async fn drop_frame(State(server): Shared, request: Request) -> Answer {
    let Dropped { name, at, r#as } = query(request.uri())?;
    of_type(request.headers(), "application/octet-stream")?;
    let reading = r#as.as_deref().map(Reading::from_name).transpose()?;
    if !(0.0..=1e6).contains(&at) {
        return Err(Refusal::bad("at: seconds from the start of the clip"));
    }
    // It is said back to people, and names nothing here.
    let name: String = name.chars().filter(|c| !c.is_control()).take(200).collect();
    let length = request.headers().get(header::CONTENT_LENGTH).and_then(|v| v.to_str().ok()?.parse::<u64>().ok());
    if length.is_some_and(|length| length > MOST_FILE) {
        return Err(frames::too_large(MOST_FILE));
    }
    let turn = server.uploading.clone().acquire_owned().await;
    let file = kept(request.into_body()).await?;
    drop(turn);
    let reads = server.reading.clone();
    away(&reads, Box::new(move || Ok(answer_json(&server.frames.take(file.path(), &name, at, reading)?)))).await
}

/// A body as a temporary file.
async fn kept(body: Body) -> Result<Passing, Refusal> {
    let fail =
        |e: std::io::Error| Refusal::new(StatusCode::INSUFFICIENT_STORAGE, format!("cannot store the file: {e}"));
    let mut file = Passing::new("dropped", ".tmp").map_err(fail)?;
    let mut body = pin!(body);
    let mut length = 0;
    loop {
        let next = tokio::time::timeout(PATIENCE, poll_fn(|context| body.as_mut().poll_frame(context)));
        let next = next.await.map_err(|_| Refusal::new(StatusCode::REQUEST_TIMEOUT, "the request broke off"))?;
        let Some(part) = next else { break };
        let part = part.map_err(|_| Refusal::bad("the file broke off"))?;
        let bytes: Bytes = part.into_data().unwrap_or_default();
        length += bytes.len() as u64;
        if length > MOST_FILE {
            return Err(frames::too_large(MOST_FILE));
        }
        file.write_all(&bytes).map_err(fail)?;
    }
    Ok(file)
}

async fn event_stream(State(server): Shared) -> Response {
    let mut response = Response::new(events::body(server.studio.events()));
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static("text/event-stream"));
    response
}
