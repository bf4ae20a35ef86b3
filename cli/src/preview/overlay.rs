//! Exposure cubes over the picture of a page, with their keys: what each zone is called, its colour, and its stops.

use super::api::{Answer, Shared, answer_table, away, query};
use super::bakes::{Asked, Table};
use super::refusal::Refusal;
use super::server::Server;
use super::studio::{self, Studio};
use axum::Router;
use axum::extract::State;
use axum::http::Uri;
use axum::routing::get;
use rushlight::display::{self, Display};
use rushlight::exposure::{self, Basis, ExposureCube, Fill, Kind, Options, Zone, ZoneSettings, palette};
use serde::Deserialize;
use serde_json::{Value as Json, json};
use std::sync::Arc;
use std::time::Instant;

/// Their address.
pub(super) fn routes() -> Router<Arc<Server>> {
    Router::new().route("/api/exposure", get(overlay))
}

/// An exposure cube that is asked for.
#[derive(Deserialize)]
struct Exposure {
    camera: String,
    ei: Option<f64>,
    kind: String,
    points: Option<usize>,
    /// What exposure is read from; default: luminance.
    #[serde(default)]
    basis: String,
    /// The window of the kind that has one, in stops from mid-grey.
    low: Option<f64>,
    high: Option<f64>,
}

async fn overlay(State(server): Shared, uri: Uri) -> Answer {
    let asked: Exposure = query(&uri)?;
    let working = server.working.clone();
    let work = move || {
        let (table, key) = asked.made(&server.studio)?;
        // No two that are asked for are the same question: the page asks once.
        let table = server.bakes.take(String::new(), table);
        Ok(answer_table(&table, Some(&key)))
    };
    away(&working, Box::new(work)).await
}

impl Exposure {
    /// The cube for an sRGB screen, and its key from the lowest zone up.
    fn made(&self, studio: &Studio) -> Result<(Table, Json), Refusal> {
        let start = Instant::now();
        let show = studio.show();
        let camera = &studio::camera(&show, &self.camera)?.item;
        let options = self.options()?;
        let rating = match self.ei {
            Some(ei) => {
                let none = || Refusal::not_found(format!("ei: the camera is not rated at EI {ei}"));
                Some(camera.rating(ei).copied().ok_or_else(none)?)
            }
            None => camera.ratings().first().copied(),
        };
        let screen = Display::of(&display::SRGB);
        let made = ExposureCube::new(camera, rating.as_ref(), false, &screen, &options)?;
        let key = key(&made.zones.list, made.zones.clip.as_ref(), &options.zones);
        let not_a_meter = "for this camera and this exposure index alone, and not a light meter";
        let notes = made.zones.notes.iter().map(String::as_str).chain([not_a_meter]).collect::<Vec<_>>().join("; ");
        Ok((Table::new(&made.cube, 0, start, Some(notes)), key))
    }

    fn options(&self) -> Result<Options, Refusal> {
        let kind = named(&self.kind, Kind::from_name, "kind", &Kind::ALL.map(Kind::name))?;
        let basis = if self.basis.is_empty() { Basis::default().name() } else { &self.basis };
        let basis = named(basis, Basis::from_name, "basis", &Basis::ALL.map(Basis::name))?;
        let points = Asked::new(Some(self.points.unwrap_or(exposure::POINTS)), "", None)?.points;
        let mut zones = ZoneSettings::of(kind);
        let [low, high] = zones.window;
        zones.window = [self.low.unwrap_or(low), self.high.unwrap_or(high)];
        Ok(Options { zones, basis, points, soft: false })
    }
}

fn named<T>(name: &str, of: impl Fn(&str) -> Option<T>, key: &str, known: &[&str]) -> Result<T, Refusal> {
    let odd = || Refusal::bad(format!("{key}: `{name}`: it must be one of {}", known.join(", ")));
    of(name).ok_or_else(odd)
}

/// Each zone with the stops from which and to which it reaches; one without a colour shows the picture in grey.
fn key(zones: &[Zone], clip: Option<&Zone>, settings: &ZoneSettings) -> Json {
    let ends = zones.iter().skip(1).map(|zone| zone.from).chain([clip.and_then(|clip| clip.from)]);
    let entries = zones.iter().zip(ends).chain(clip.map(|clip| (clip, None))).map(|(zone, to)| {
        let colour = match zone.fill {
            Fill::Colour(rgb) => Some(palette::srgb(rgb)),
            Fill::Picture => None,
        };
        let [low, high] = settings.window.map(exposure::signed);
        let label = match (settings.kind, zone.name.as_str()) {
            (Kind::Range, "under") => format!("below {low} stops"),
            (Kind::Range, "over") => format!("above {high} stops"),
            (_, name) => name.to_owned(),
        };
        json!({ "label": label, "from": zone.from, "to": to, "colour": colour })
    });
    entries.collect()
}
