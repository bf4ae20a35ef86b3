//! What the scopes of a page ask for.

use super::api::{Answer, Shared, answer_json, away, query, question, say};
use super::refusal::Refusal;
use super::scopes::{self, Place};
use super::server::Server;
use super::studio::{At, Wanted};
use axum::Router;
use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::Uri;
use axum::response::Response;
use axum::routing::{get, post};
use serde::Deserialize;
use serde_json::json;
use std::sync::Arc;

/// Places that are read at once.
const MOST_PLACES: usize = 8;

/// Their addresses.
pub(super) fn routes() -> Router<Arc<Server>> {
    Router::new().route("/api/scales", get(scales)).route("/api/places", post(places))
}

#[derive(Deserialize)]
struct Between {
    camera: String,
    display: String,
    ei: Option<f64>,
}

async fn scales(State(server): Shared, uri: Uri) -> Answer {
    let Between { camera, display, ei } = query(&uri)?;
    let working = server.working.clone();
    let work = move || {
        let (bytes, says) = scopes::scales(&server.studio, &camera, &display, ei)?;
        let mut response = Response::new(Body::from(bytes));
        say(&mut response, "content-type", "application/octet-stream");
        say(&mut response, "x-scales", &says.to_string());
        Ok(response)
    };
    away(&working, Box::new(work)).await
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Places {
    look: String,
    camera: String,
    display: String,
    #[serde(default)]
    at: String,
    shot: Option<String>,
    places: Vec<Place>,
}

async fn places(State(server): Shared, request: Request) -> Answer {
    let Places { look, camera, display, at, shot, places } = question(request).await?;
    if places.len() > MOST_PLACES {
        return Err(Refusal::bad(format!("places: {} are more than are read at once, {MOST_PLACES}", places.len())));
    }
    let shot = shot.map(|shot| server.shots.corrected(&server.studio, &shot, "now")).transpose()?;
    let wanted = Wanted { look, camera, display, at: At::from(at.as_str()), shot };
    let working = server.working.clone();
    let work = move || {
        let (version, readings) = scopes::read(&server.studio, &wanted, &places)?;
        Ok(answer_json(&json!({ "version": version, "readings": readings })))
    };
    away(&working, Box::new(work)).await
}
