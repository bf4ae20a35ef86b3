//! What is found of an exposure cube, in words: how it came out, and why it would mislead.

use super::most_points;
use rushlight::camera::Camera;
use rushlight::exposure::palette::Apart;
use rushlight::exposure::{ExposureCube, Fill, Job, Kind, Limit, Options, POINTS, signed};

/// How far apart the colours of a ladder are.
pub(super) fn apart(kind: Kind, made: &ExposureCube) -> Option<Apart> {
    let zones = made.zones.list.iter().chain(&made.zones.clip);
    let colours: Option<Vec<[f64; 3]>> = zones
        .map(|zone| match zone.fill {
            Fill::Colour(rgb) => Some(rgb),
            Fill::Picture => None,
        })
        .collect();
    let grey = made.zones.list.iter().position(|zone| zone.name == "mid-grey")?;
    (kind == Kind::Ladder).then_some(Apart::of(&colours?, grey))
}

/// What there is to say besides: of the curve, and of how the zones came out.
pub(super) fn notes(camera: &Camera, job: &Job<'_>, made: &ExposureCube) -> Vec<String> {
    let mut notes = made.zones.notes.clone();
    notes.extend(job.ei.and_then(|ei| camera.odd_clip(camera.rating(ei)?)));
    if let Some(ei) = job.ei.filter(|ei| camera.lacks_curve_at(*ei)) {
        notes.push(format!("the curve is not published for EI {ei}: the curve of the camera is used instead"));
    }
    notes
}

/// The edges that are off, in words.
fn off(made: &ExposureCube) -> Vec<String> {
    let said =
        |error: Option<f64>| error.map_or("is not visible".to_owned(), |e| format!("is {:.1} stops off", e.abs()));
    made.edges.off().map(|edge| format!("the edge at {} stops {}", signed(edge.stops), said(edge.error()))).collect()
}

/// What a reader of the key has to know, without the options by which another cube is made.
pub(super) fn for_the_key(made: &ExposureCube) -> Vec<String> {
    let (off, weak) = (off(made), weak_zones(made));
    let mut said = Vec::new();
    if !off.is_empty() {
        said.push(format!("do not rely on the zones there: {}", off.join(", ")));
    }
    if !weak.is_empty() {
        said.push(format!("do not rely on these zones: {}", weak.join(", ")));
    }
    said
}

/// Stops of mean error over which a report says how to come closer.
const CLOSE: f64 = 0.1;

/// How many points would make the edges more exact; none where the cube has as many, or its box takes no more.
fn more_points(job: &Job<'_>) -> Option<usize> {
    let most = most_points(job.device);
    (job.options.points < most).then_some(most)
}

/// What would make the edges more exact; none where they are close.
pub(super) fn advice(job: &Job<'_>, made: &ExposureCube) -> Option<String> {
    let points = more_points(job).map(|points| format!("{points} points"));
    let soft = (!job.options.soft).then(|| "--soft".to_owned());
    let help: Vec<String> = points.into_iter().chain(soft).collect();
    let close = made.edges.neutrals[0].mean <= CLOSE || help.is_empty();
    (!close).then(|| format!("{} would make the edges more exact", help.join(" or ")))
}

/// Why a cube would mislead: the edges that are off, and what to do; none where no edge is.
pub(super) fn off_edges(job: &Job<'_>, made: &ExposureCube) -> Option<String> {
    let off = off(made);
    if off.is_empty() {
        return None;
    }
    let Options { zones, points, soft, .. } = job.options;
    let mut help = Vec::new();
    if is_unrated(made) {
        help.push(format!("rate the camera first (`rushlight measure`, or [[cameras.{}.rating]])", job.camera.name));
    }
    if let Some(more) = more_points(job) {
        help.push(format!("use more points (--points {more})"));
    }
    if !soft {
        help.push("blend the edges (--soft)".to_owned());
    }
    if zones.kind == Kind::Ladder {
        help.push(larger(points));
    }
    let ei = job.ei.map(|ei| format!(" at EI {ei}")).unwrap_or_default();
    Some(format!(
        "camera {}{ei}: this exposure cube would mislead: {}: {}",
        job.camera.name,
        off.join(", "),
        help.join(", or ")
    ))
}

/// Whether the clip or the floor is an end of the curve, which no sensor need reach.
fn is_unrated(made: &ExposureCube) -> bool {
    [made.ends.clip.1, made.ends.floor.1].contains(&Limit::Curve)
}

/// What a cube without a complete rating does not know; none where it knows it.
pub(super) fn unrated(made: &ExposureCube) -> Option<String> {
    let what = match [made.ends.clip.1, made.ends.floor.1].map(|limit| limit == Limit::Curve) {
        [true, true] => "clip and floor are not measured: the ends of the curve are used instead",
        [true, false] => "the clip is not measured: the end of the curve is used instead",
        [false, true] => "the floor is not measured: the end of the curve is used instead",
        [false, false] => return None,
    };
    Some(format!("{what}. Measure the camera before you rely on this cube"))
}

/// What a ladder of few points can do instead: larger zones, or colours at two stops alone.
fn larger(points: usize) -> String {
    match points < POINTS {
        true => "use larger zones (--zone 2), or mark two stops only (--kind range)".to_owned(),
        false => "use larger zones (--zone)".to_owned(),
    }
}

/// Zones that hardly show their own colour, with the share of their codes that do.
fn weak_zones(made: &ExposureCube) -> Vec<String> {
    let listed = made.zones.list.iter().chain(&made.zones.clip).zip(&made.edges.shown);
    let weak = listed.filter(|(_, shown)| shown.is_weak());
    weak.map(|(zone, shown)| format!("{} ({:.0} %)", zone.name, 100.0 * shown.least())).collect()
}

/// What is wrong with zones that hardly show their own colour, and what would help; none where all do.
pub(super) fn weak(job: &Job<'_>, made: &ExposureCube) -> Option<String> {
    let weak = weak_zones(made);
    if weak.is_empty() {
        return None;
    }
    let Options { zones, points, soft, .. } = job.options;
    let mut help = Vec::new();
    if let Some(more) = more_points(job) {
        help.push(format!("use {more} points"));
    } else if soft && points >= POINTS {
        // With few points, plain edges would be off.
        help.push("use plain edges".to_owned());
    }
    help.push(match zones.kind {
        Kind::Ladder => larger(points),
        Kind::Key => "use a larger --width".to_owned(),
        Kind::Clip => "use a larger --near".to_owned(),
        Kind::Range => "use a wider --window".to_owned(),
    });
    Some(format!(
        "these zones show their colour in less than half of their codes: {}. Do not rely on them: {}",
        weak.join(", "),
        help.join(", or ")
    ))
}
