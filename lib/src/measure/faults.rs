//! Finds errors of a bracket itself, apart from the curve and the camera: a card that moved, a light that flickered, an
//! exposure step that differs from the stated one.
//!
//! A wrong exposure moves everything in a frame by the same stops; a curve moves everything of one signal, in whatever
//! frame. So a second patch of another brightness, if the frames show one, separates the two.

use super::grid::Grid;
use super::patch::Patch;
use super::response::between;
use super::{Exposure, State};
use crate::frame::Frame;
use crate::math::log2;
use crate::statistics::median;

/// A jump between neighbouring exposures beyond this is a fault, in stops.
const JUMP: f64 = 0.2;
/// A light that changes by more than this between frames of one exposure flickers.
const FLICKER: f64 = 0.02;
/// Bands of more than this part of the light.
const BANDS: f64 = 0.01;

/// The movement of the card in a frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Moved {
    /// The file.
    pub name: String,
    /// Pixels to the right and down, from where it is in most frames.
    pub pixels: [f64; 2],
    /// Whether the patch is no longer on the card.
    pub lost: bool,
}

/// Frames in which the card that a patch lies on is elsewhere. Seen only where the edges of the card are in the frame, and
/// stand out from what is around it.
pub fn moved(grids: &[Grid], patch: &Patch) -> Vec<Moved> {
    let seen: Vec<(&Grid, [f64; 2], bool)> = grids.iter().filter_map(|g| place(g, patch)).collect();
    let middle = |of: usize| median(&seen.iter().map(|s| s.1[of]).collect::<Vec<_>>()).unwrap_or(0.0);
    let usual = [middle(0), middle(1)];
    seen.iter()
        .filter_map(|(grid, at, whole)| {
            let pixels = [0, 1].map(|i| (at[i] - usual[i]) * grid.step as f64);
            let far = pixels.iter().any(|p| p.abs() > 1.5 * grid.step as f64);
            far.then(|| Moved { name: grid.name.clone(), pixels, lost: !whole })
        })
        .collect()
}

/// The middle of the card in cells, and whether the patch lies on it wholly; none where its edges are not seen. Where the
/// patch lies half beside the card, the card is that part of it which does not run out of the frame.
fn place<'g>(grid: &'g Grid, patch: &Patch) -> Option<(&'g Grid, [f64; 2], bool)> {
    let mut cells = grid.cells(patch);
    let all: Vec<f64> = (0..grid.means.len()).map(|i| grid.grey(i)).collect();
    let (least, most) = all.iter().fold((f64::MAX, f64::MIN), |(a, b), v| (a.min(*v), b.max(*v)));
    let allowed = (0.04 * (most - least)).max(5.0 * grid.smoothed_noise());
    if most - least < 4.0 * allowed {
        return None;
    }
    cells.sort_by(|a, b| grid.grey(*a).total_cmp(&grid.grey(*b)));
    let levels = [cells.len() / 2, cells.len() * 3 / 4, cells.len() / 4];
    levels.into_iter().find_map(|at| {
        let (start, level) = (*cells.get(at)?, grid.grey(*cells.get(at)?));
        let inside = grid.flood(start, |_, b| (grid.grey(b) - level).abs() <= allowed);
        let members = (0..inside.len()).filter(|i| inside[*i]);
        let [mut left, mut top, mut right, mut bottom] = [usize::MAX, usize::MAX, 0, 0];
        for cell in members {
            let (x, y) = (cell % grid.columns, cell / grid.columns);
            (left, right, top, bottom) = (left.min(x), right.max(x), top.min(y), bottom.max(y));
        }
        if left == 0 || top == 0 || right + 1 >= grid.columns || bottom + 1 >= grid.rows {
            return None;
        }
        let whole = cells.iter().filter(|i| !inside[**i]).count() * 50 <= cells.len();
        Some((grid, [(left + right) as f64 / 2.0, (top + bottom) as f64 / 2.0], whole))
    })
}

/// Flicker within one exposure.
#[derive(Debug, Clone, PartialEq)]
pub enum Flicker {
    /// It changes from frame to frame: the largest difference from the mean, as a part of it.
    Frames {
        /// The file.
        name: String,
        /// Part of the mean.
        part: f64,
    },
    /// It changes within a frame, row by row.
    Bands {
        /// The file.
        name: String,
        /// Standard deviation over the mean.
        part: f64,
    },
}

/// Flicker in the patches of one exposure, by the light of the green channel.
pub fn flicker(name: &str, patches: &[Frame], decode: impl Fn(f64) -> f64) -> Option<Flicker> {
    let light = |frame: &Frame| -> Vec<f64> { frame.pixels().map(|rgb| decode(f64::from(rgb[1]))).collect() };
    let planes: Vec<Vec<f64>> = patches.iter().map(light).collect();
    let mean_of = |p: &[f64]| p.iter().sum::<f64>() / p.len().max(1) as f64;
    let means: Vec<f64> = planes.iter().map(|p| mean_of(p)).collect();
    let mean = mean_of(&means);
    let width = patches.first()?.width();
    let error = planes.iter().zip(&means).map(|(p, m)| {
        let variance = p.iter().map(|v| (v - m) * (v - m)).sum::<f64>() / p.len().max(2) as f64;
        (variance / p.len().max(1) as f64).sqrt()
    });
    let error = error.fold(0.0, f64::max);
    let most = means.iter().map(|m| (m - mean).abs()).fold(0.0, f64::max);
    if planes.len() > 1 && mean > 0.0 && most > FLICKER * mean && most > 5.0 * error {
        return Some(Flicker::Frames { name: name.to_owned(), part: most / mean });
    }
    // Rows against columns: a card that is lit unevenly changes slowly along both.
    let rows: Vec<f64> = planes[0].chunks_exact(width).map(mean_of).collect();
    let columns: Vec<f64> =
        (0..width).map(|x| mean_of(&planes[0].iter().skip(x).step_by(width).copied().collect::<Vec<_>>())).collect();
    let (down, across) = (spread(&rows), spread(&columns));
    let expected = error * (rows.len() as f64).sqrt();
    let bands = mean > 0.0 && down > BANDS * mean && down > 3.0 * across && down > 3.0 * expected;
    bands.then(|| Flicker::Bands { name: name.to_owned(), part: down / mean })
}

/// Standard deviation of what is left of a profile without its slope.
fn spread(profile: &[f64]) -> f64 {
    let n = profile.len() as f64;
    let mean = profile.iter().sum::<f64>() / n;
    let at = |i: usize| i as f64 - (n - 1.0) / 2.0;
    let square = (0..profile.len()).map(|i| at(i) * at(i)).sum::<f64>();
    let slope = profile.iter().enumerate().map(|(i, v)| at(i) * (v - mean)).sum::<f64>() / square.max(1.0);
    let left = profile.iter().enumerate().map(|(i, v)| v - mean - slope * at(i));
    (left.map(|v| v * v).sum::<f64>() / n).sqrt()
}

/// An exposure step that differs from the stated one.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// The darker file, and the brighter one.
    pub names: [String; 2],
    /// The stated step, in stops.
    pub said: f64,
    /// The measured step by the curve, in stops.
    pub found: f64,
    /// Whether a second patch shows the same.
    pub witness: Option<bool>,
    /// Only one frame is off, and the next step makes up for it.
    pub alone: bool,
}

/// Steps between exposures that stand out from the others. `witness`: mean signals of a second patch in the same exposures,
/// and how light follows from them. `black`: the light without exposure, of the green channel.
///
/// In the dark, where the light is less than 8 times the noise, a curve that is a little off looks like a wrong step: one counts
/// only if a second patch shows it too, or if one frame alone is off, which no curve is.
pub fn steps(exposures: &[Exposure], witness: Option<&[f64]>, black: f64, decode: impl Fn(f64) -> f64) -> Vec<Step> {
    let clear: Vec<bool> = exposures.iter().map(|s| s.channels[1].light > 8.0 * s.channels[1].noise).collect();
    let usable = |(s, clear): (&Exposure, &bool)| {
        let r = &s.channels[1];
        // Black counts only in the dark, and its own figure is off by what a wrong step does to it.
        let lifted = if *clear { 1.0 } else { r.light / (r.light - black) };
        r.deviation.filter(|_| lifted > 0.0 && lifted.is_finite()).map(|d| d - log2(lifted))
    };
    let of: Vec<Option<f64>> = exposures.iter().zip(&clear).map(usable).collect();
    let jumps: Vec<Option<f64>> = of.windows(2).map(|w| Some(w[1]? - w[0]?)).collect();
    let all: Vec<f64> = (0..jumps.len()).filter(|i| clear[*i] && clear[i + 1]).filter_map(|i| jumps[i]).collect();
    let usual = median(&all).unwrap_or(0.0);
    let scatter = median(&all.iter().map(|j| (j - usual).abs()).collect::<Vec<_>>()).unwrap_or(0.0);
    let off = |i: usize| jumps.get(i).copied().flatten().map(|j| j - usual);
    let big = |i: usize| off(i).filter(|j| j.abs() > JUMP.max(6.0 * scatter));
    let second = |i: usize| -> Option<f64> {
        let signals = witness?;
        let [a, b] = [i, i + 1].map(|k| decode(signals[k]));
        let (low, high) = range(signals);
        let inside = [i, i + 1].iter().all(|k| (low..high).contains(&signals[*k]));
        (inside && a > 0.0 && b > 0.0).then(|| log2(b / a) - (exposures[i + 1].stops - exposures[i].stops) - usual)
    };
    let mut found = Vec::new();
    let mut i = 0;
    while i < jumps.len() {
        if let Some(jump) = big(i) {
            let said = exposures[i + 1].stops - exposures[i].stops;
            let witness = second(i).map(|w| (w - jump).abs() < 0.4 * jump.abs());
            let alone = big(i + 1).is_some_and(|next| (next + jump).abs() < 0.4 * jump.abs());
            let names = [exposures[i].name.clone(), exposures[i + 1].name.clone()];
            if clear[i] && clear[i + 1] || witness == Some(true) || alone {
                found.push(Step { names, said, found: said + jump, witness, alone });
            }
            i += usize::from(alone);
        }
        i += 1;
    }
    // If the second patch disagrees, the curve is the cause.
    found.retain(|step| step.witness != Some(false));
    found
}

/// The signals between which a patch is neither black nor clipped.
fn range(signals: &[f64]) -> (f64, f64) {
    let (least, most) = signals.iter().fold((f64::MAX, f64::MIN), |(a, b), v| (a.min(*v), b.max(*v)));
    (least + 0.1 * (most - least), most - 0.03 * (most - least))
}

/// The true size of one stop of the bracket, if all steps are too long or too short by the same part. `None` within 3 %, or
/// if a straight line does not explain the deviations. A curve of another slope looks the same.
pub fn scale(exposures: &[Exposure]) -> Option<f64> {
    let points: Vec<(f64, f64)> = exposures
        .iter()
        .filter(|s| s.channels[1].state == State::Good && s.channels[1].light > 8.0 * s.channels[1].noise)
        .filter_map(|s| Some((s.stops, s.channels[1].deviation?)))
        .collect();
    if points.len() < 4 {
        return None;
    }
    let n = points.len() as f64;
    let (x, y) = (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n);
    let square = points.iter().map(|p| (p.0 - x) * (p.0 - x)).sum::<f64>();
    let slope = points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum::<f64>() / square;
    let left = points.iter().map(|p| p.1 - y - slope * (p.0 - x)).map(|v| v * v).sum::<f64>();
    let before = points.iter().map(|p| (p.1 - y) * (p.1 - y)).sum::<f64>();
    let straight = left < 0.02 * before && between(&points, x).is_some();
    (slope.abs() > 0.03 && straight).then_some(1.0 + slope)
}

/// Sentences on the errors, for the remarks of a report.
pub fn words(moved: &[Moved], flicker: &[Flicker], steps: &[Step], scale: Option<f64>) -> Vec<String> {
    let mut said = Vec::new();
    let size = |m: &Moved| (m.pixels[0] * m.pixels[0] + m.pixels[1] * m.pixels[1]).sqrt();
    if let Some(far) = moved.iter().max_by(|a, b| size(a).total_cmp(&size(b))) {
        said.push(format!(
            "the card moves from frame to frame, by about {:.0} pixels in {}; the patch stays on it",
            size(far),
            far.name
        ));
    }
    let frames =
        flicker.iter().filter_map(|f| if let Flicker::Frames { name, part } = f { Some((name, part)) } else { None });
    if let Some((name, part)) = frames.max_by(|a, b| a.1.total_cmp(b.1)) {
        said.push(format!(
            "the light flickers: it changes by {:.1} % between frames of {name}; this is not noise of the camera",
            100.0 * part
        ));
    }
    let bands =
        flicker.iter().filter_map(|f| if let Flicker::Bands { name, part } = f { Some((name, part)) } else { None });
    if let Some((name, part)) = bands.max_by(|a, b| a.1.total_cmp(b.1)) {
        said.push(format!(
            "bands run across the patch of {name}, by {:.1} % of the light: a light that flickers against the shutter; choose another shutter or light",
            100.0 * part
        ));
    }
    for step in steps {
        let [a, b] = &step.names;
        let sure = match step.witness {
            Some(true) => "; a second patch shows the same, so it is the exposure or the light, not the curve",
            _ => "",
        };
        if step.alone {
            said.push(format!(
                "{b} deviates by {:+.2} stops from its neighbours: its exposure or its light differs from the stated stop{sure}",
                step.found - step.said
            ));
        } else {
            said.push(format!(
                "the step from {a} to {b} is {:.2} stops, not {:.2}: its exposure is not what its stop says, and every brighter frame is off by as much{sure}",
                step.found, step.said
            ));
        }
    }
    if let Some(scale) = scale {
        said.push(format!(
            "each stop of the bracket is {scale:.2} stops by the curve: the steps are not what they say, or the curve is not this camera's"
        ));
    }
    said
}
