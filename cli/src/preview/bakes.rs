//! What a page draws with: cubes, curves, exposure cubes, and single colours after every stage.

use super::refusal::Refusal;
use super::studio::{Studio, Wanted, sdr_note};
use crate::picture::Screen;
use rushlight::camera::Camera;
use rushlight::cube::fast::FastCube;
use rushlight::cube::{Cube, Interpolation, POINTS, check_points};
use rushlight::exposure::{Ends, Level, Limit};
use rushlight::invalid::Refusals;
use rushlight::math::exp2;
use rushlight::pipeline::Sampler;
use rushlight::transfer::MID_GREY;
use serde_json::{Value as Json, json};
use std::collections::VecDeque;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use std::time::Instant;

/// Points that a cube for a page may have at most: what a graphics card takes at once without a thought.
const MOST_POINTS: usize = 65;
/// Sizes that stand in for a larger cube while something is dragged, the largest that is fast enough.
const QUICK: [usize; 4] = [25, 21, 17, 13];
/// Cubes that are kept.
const MOST_KEPT: usize = 8;
/// Samplers that are kept, of some megabytes each.
const MOST_SAMPLERS: usize = 4;
/// Ends and step of the curve of greys, in stops from mid-grey.
const STOPS: (f64, f64, f64) = (-8.0, 8.0, 0.25);

/// The number of the next table.
static NEXT: AtomicU64 = AtomicU64::new(1);

/// A table for a page: red fastest, f32.
#[derive(Debug)]
pub(super) struct Table {
    /// By which a page asks for frames that went through it.
    pub(super) id: u64,
    pub(super) points: usize,
    pub(super) version: u64,
    pub(super) millis: f64,
    /// What has to be said beside the picture.
    pub(super) note: Option<String>,
    pub(super) bytes: Vec<u8>,
    /// Made ready for frames, by the first of them.
    fast: OnceLock<FastCube>,
}

impl Table {
    /// `start`: when work on it began.
    pub(super) fn new(cube: &Cube, version: u64, start: Instant, note: Option<String>) -> Self {
        Self {
            id: NEXT.fetch_add(1, Ordering::Relaxed),
            points: cube.size(),
            version,
            millis: start.elapsed().as_secs_f64() * 1e3,
            note,
            bytes: cube.nodes().iter().flatten().flat_map(|v| (*v as f32).to_le_bytes()).collect(),
            fast: OnceLock::new(),
        }
    }

    /// The same table for frames, of the very numbers that the page has, and by the interpolation that the page draws with.
    pub(super) fn fast(&self) -> Result<&FastCube, Refusals> {
        if let Some(fast) = self.fast.get() {
            return Ok(fast);
        }
        let values: Vec<f64> = self.bytes.as_chunks().0.iter().map(|v| f64::from(f32::from_le_bytes(*v))).collect();
        let cube = Cube::new(self.points, [[0.0; 3], [1.0; 3]], values.as_chunks().0.to_vec())?;
        let made = FastCube::new(&cube, Interpolation::Tetrahedral)?;
        Ok(self.fast.get_or_init(|| made))
    }
}

/// How a cube is asked for.
#[derive(Debug, Clone, Copy)]
pub(super) struct Asked {
    pub(super) points: usize,
    /// Turned into what an sRGB screen shows.
    pub(super) screen: bool,
    /// Fewer points will do, if all of them take longer, in milliseconds.
    pub(super) within: Option<f64>,
}

impl Asked {
    pub(super) fn new(points: Option<usize>, screen: &str, within: Option<f64>) -> Result<Self, Refusal> {
        let points = check_points("points", points.unwrap_or(POINTS)).map_err(Refusals::from)?;
        if points > MOST_POINTS {
            return Err(Refusal::bad(format!("points: {points} is more than a page is given, {MOST_POINTS}")));
        }
        let screen = match screen {
            "" | "none" => false,
            "srgb" => true,
            other => return Err(Refusal::bad(format!("screen: `{other}`: it must be none or srgb"))),
        };
        Ok(Self { points, screen, within: within.filter(|w| w.is_finite() && *w > 0.0) })
    }
}

/// The newest cubes, and how long a node took.
#[derive(Debug, Default)]
pub(super) struct Bakes {
    kept: Mutex<VecDeque<(String, Arc<Table>)>>,
    /// Milliseconds a node, of the last cube.
    pace: Mutex<Option<f64>>,
    /// What the next cube of a look, camera and size may begin from: the newest few.
    samplers: Mutex<VecDeque<(String, Sampler)>>,
}

impl Bakes {
    /// The cube of what is wanted, of the newest version there is by now.
    pub(super) fn cube(&self, studio: &Studio, wanted: &Wanted, asked: Asked) -> Result<Arc<Table>, Refusal> {
        let start = Instant::now();
        let way = studio.path(wanted)?;
        let points = asked.within.map_or(asked.points, |within| self.points(asked.points, within));
        let key = format!("{}\n{points} {}", way.key, asked.screen);
        if let Some(there) = self.find(&key) {
            return Ok(there);
        }
        let display = way.pipeline.display();
        let of = format!("{}\n{}\n{points}", wanted.look, wanted.camera);
        let mut sampler = self.sampler(&of);
        let cube = if asked.screen {
            let screen = Screen::of(display);
            sampler.cube_then(&way.pipeline, points, |signal| screen.show(signal).map(f64::from))
        } else {
            sampler.cube_then(&way.pipeline, points, |signal| signal)
        }?;
        self.keep(of, sampler);
        let millis = start.elapsed().as_secs_f64() * 1e3;
        *self.pace.lock().unwrap_or_else(PoisonError::into_inner) = Some(millis / (points * points * points) as f64);
        let note = sdr_note(display).filter(|_| asked.screen);
        Ok(self.take(key, Table::new(&cube, way.version.number, start, note)))
    }

    /// Takes in a table that was made.
    pub(super) fn take(&self, key: String, table: Table) -> Arc<Table> {
        let table = Arc::new(table);
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.push_front((key, table.clone()));
        kept.truncate(MOST_KEPT);
        table
    }

    /// The table of this number, as long as it is kept; it is then the last to go.
    pub(super) fn of_id(&self, id: u64) -> Option<Arc<Table>> {
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let at = kept.iter().position(|(_, table)| table.id == id)?;
        let found = kept.remove(at)?;
        let table = found.1.clone();
        kept.push_front(found);
        Some(table)
    }

    /// The sampler that made the last cube of a look, camera and size, taken out while it works; a new one where there is none.
    fn sampler(&self, of: &str) -> Sampler {
        let mut samplers = self.samplers.lock().unwrap_or_else(PoisonError::into_inner);
        let at = samplers.iter().position(|(name, _)| name == of);
        at.and_then(|at| samplers.remove(at)).map_or_else(Sampler::default, |(_, sampler)| sampler)
    }

    fn keep(&self, of: String, sampler: Sampler) {
        let mut samplers = self.samplers.lock().unwrap_or_else(PoisonError::into_inner);
        samplers.push_front((of, sampler));
        samplers.truncate(MOST_SAMPLERS);
    }

    fn find(&self, key: &str) -> Option<Arc<Table>> {
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.iter().find(|(k, _)| k == key).map(|(_, table)| table.clone())
    }

    /// The most points that are done in time, as fast as the last ones were.
    fn points(&self, asked: usize, within: f64) -> usize {
        let pace = *self.pace.lock().unwrap_or_else(PoisonError::into_inner);
        let Some(pace) = pace else { return asked };
        let fits = |points: &usize| pace * (points * points * points) as f64 <= within;
        let least = QUICK.last().copied().unwrap_or(asked).min(asked);
        [asked].into_iter().chain(QUICK).filter(|p| *p <= asked).find(fits).unwrap_or(least)
    }
}

/// Greys from the floor to far over white, and where the camera ends.
pub(super) fn curve(studio: &Studio, wanted: &Wanted, ei: Option<f64>) -> Result<Json, Refusal> {
    let way = studio.path(wanted)?;
    let (camera, display) = (way.pipeline.camera(), way.pipeline.display());
    let grey = |stops: f64| {
        let signal = camera.encode([MID_GREY * exp2(stops); 3]);
        let out = way.pipeline.apply(signal);
        json!({ "stop": stops, "signal": signal[1], "out": *out, "nits": display.nits(out) })
    };
    let (from, to, step) = STOPS;
    let count = ((to - from) / step) as usize;
    let stops: Vec<Json> = (0..=count).map(|i| grey(from + step * i as f64)).collect();
    let ends = ends(camera, ei)?;
    Ok(json!({
        "version": way.version.number, "grey": grey(0.0), "stops": stops, "ei": ends.ei, "clip": end(&ends.clip), "floor": end(&ends.floor),
    }))
}

/// Where a camera ends, and what says so.
pub(super) fn end((level, limit): &(Level, Limit)) -> Json {
    json!({ "stop": level.stops, "signal": level.signal, "from": limit.name() })
}

/// Where a camera ends at a rating; default: its first, or where its curve does.
pub(super) fn ends(camera: &Camera, ei: Option<f64>) -> Result<Ends, Refusal> {
    let rating = match ei {
        Some(ei) => Some(
            camera.rating(ei).ok_or_else(|| Refusal::not_found(format!("ei: the camera is not rated at EI {ei}")))?,
        ),
        None => camera.ratings().first(),
    };
    Ok(Ends::of(camera, rating, false).map_err(Refusals::from)?)
}

/// One colour after every stage.
pub(super) fn probe(studio: &Studio, wanted: &Wanted, signal: [f64; 3]) -> Result<Json, Refusal> {
    let way = studio.path(wanted)?;
    let (camera, display) = (way.pipeline.camera(), way.pipeline.display());
    let stages = way.pipeline.stages(signal);
    if !stages.iter().all(|s| s.rgb.iter().all(|v| v.is_finite())) {
        return Err(Refusal::bad("signal: it is out of range: its light is not a finite number"));
    }
    let out = stages.last().map_or(signal, |s| s.rgb);
    let range = display.settings().range;
    let codes = |bits: u8| out.map(|v| range.code(v, bits).round());
    Ok(json!({
        "version": way.version.number, "in": signal,
        "stages": stages.iter().map(|s| json!({ "name": s.name, "unit": s.unit, "values": s.rgb })).collect::<Vec<_>>(),
        "out": out,
        // Black and what is darker has no stop.
        "stops_from_grey": camera.stops(signal),
        "camera_code_10": signal.map(|v| camera.range().code(v, 10).round()),
        "display_code_8": codes(8), "code_10": codes(10), "nits": display.nits(out),
    }))
}
