//! Where a frame has a slanted edge.

use super::{Edge, EdgeError, LEAST, measure};
use crate::frame::Frame;
use crate::math::{atan2, cos, sin};
use crate::measure::Claim;
use crate::measure::patch::Patch;

/// Windows along the shorter side of a frame, about: an edge is at least as long as one.
const ACROSS: usize = 10;
/// Pixels of a window along each edge, at most: a longer one has more bend of the lens in it.
const LARGEST: usize = 160;
/// Windows that are measured, the most promising.
const TRIED: usize = 60;
/// Windows whose gradient runs less into one direction than this hold a corner or a texture.
const ONE_WAY: f64 = 0.8;
/// The gradient of one edge lies within this part of a window, across the edge (standard deviation).
const NARROW: f64 = 5.0;

/// The best slanted edge of a frame, measured: straight, with even sides and much contrast over noise; of equals, that
/// nearest the middle of the frame.
///
/// # Errors
/// None is there that can be measured; the reason of the most promising.
pub fn find(frame: &Frame, claim: &Claim) -> Result<Edge, EdgeError> {
    let (width, height) = (frame.width(), frame.height());
    let short = width.min(height);
    let side = (short / ACROSS).clamp(40, LARGEST).min(short);
    if side < LEAST {
        return Err(EdgeError(format!("a frame of {width} x {height} pixels is too small for an edge")));
    }
    let luma = smooth(frame);
    let step = (side / 3).max(1);
    let places = |length: usize| -> Vec<usize> { (0..=length - side).step_by(step).collect() };
    let mut windows: Vec<(f64, [usize; 2])> = places(height)
        .into_iter()
        .flat_map(|y| places(width).into_iter().map(move |x| [x, y]))
        .filter_map(|at| Some((promise(&luma, width, at, side)?, at)))
        .collect();
    windows.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut why = EdgeError("no slanted edge was found in the frame".to_owned());
    let mut best: Option<(f64, Edge)> = None;
    for (i, (_, at)) in windows.iter().take(TRIED).enumerate() {
        match centred(frame, &luma, *at, side, claim) {
            Ok(edge) => {
                let off = |at: usize, all: usize| (at + side / 2) as f64 / all as f64 - 0.5;
                let (dx, dy) = (off(edge.place[0], width), off(edge.place[1], height));
                let score = score(&edge) / (1.0 + 2.0 * (dx * dx + dy * dy));
                if best.as_ref().is_none_or(|(most, _)| score > *most) {
                    best = Some((score, edge));
                }
            }
            Err(error) if i == 0 => {
                why = EdgeError(format!("no slanted edge was found in the frame; at {},{}: {error}", at[0], at[1]));
            }
            Err(_) => {}
        }
    }
    best.map(|(_, edge)| edge).ok_or(why)
}

/// Straight, of much contrast, of about the slant that the standard's chart has (5 degrees, from memory).
fn score(edge: &Edge) -> f64 {
    let slant = (edge.slant_degrees - 5.0) / 10.0;
    (edge.contrast.min(20.0) - 1.0) / (0.05 + edge.bent_pixels) / (1.0 + slant * slant)
}

/// The mean of green over squares of three pixels, row after row.
fn smooth(frame: &Frame) -> Vec<f64> {
    let (width, height) = (frame.width(), frame.height());
    let green: Vec<f64> = frame.pixels().map(|rgb| f64::from(rgb[1])).collect();
    let along = |v: &[f64], apart: usize, at: usize, count: usize, i: usize| {
        let before = if at > 0 { v[i - apart] } else { v[i] };
        let after = if at + 1 < count { v[i + apart] } else { v[i] };
        (before + v[i] + after) / 3.0
    };
    let rows: Vec<f64> = (0..green.len()).map(|i| along(&green, 1, i % width, width, i)).collect();
    (0..green.len()).map(|i| along(&rows, width, i / width, height, i)).collect()
}

/// How much a window looks like one slanted edge; none where it does not.
fn promise(luma: &[f64], width: usize, [left, top]: [usize; 2], side: usize) -> Option<f64> {
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for y in top + 1..top + side - 1 {
        for x in left + 1..left + side - 1 {
            let i = y * width + x;
            let (dx, dy) = (luma[i + 1] - luma[i - 1], luma[i + width] - luma[i - width]);
            (xx, yy, xy) = (xx + dx * dx, yy + dy * dy, xy + dx * dy);
        }
    }
    let (sum, apart) = (xx + yy, ((xx - yy) * (xx - yy) + 4.0 * xy * xy).sqrt());
    let one_way = apart / sum.max(f64::MIN_POSITIVE);
    // The smaller angle from an axis, by the directions of the gradient.
    let (large, small) = (xx.max(yy), xx.min(yy));
    if one_way < ONE_WAY || small <= 2e-4 * large {
        return None;
    }
    // Across one edge all of the gradient lies on a line; stripes and textures have it everywhere.
    let angle = atan2(2.0 * xy, xx - yy) / 2.0;
    let (across_x, across_y) = (cos(angle), sin(angle));
    let mut moments = [0.0; 3];
    for y in top + 1..top + side - 1 {
        for x in left + 1..left + side - 1 {
            let i = y * width + x;
            let (dx, dy) = (luma[i + 1] - luma[i - 1], luma[i + width] - luma[i - width]);
            let (weight, at) = (dx * dx + dy * dy, across_x * (x - left) as f64 + across_y * (y - top) as f64);
            moments = [moments[0] + weight, moments[1] + weight * at, moments[2] + weight * at * at];
        }
    }
    let mean = moments[1] / moments[0];
    let spread = (moments[2] / moments[0] - mean * mean).max(0.0).sqrt();
    (spread < side as f64 / NARROW).then_some(sum * one_way)
}

/// The edge of a window, once the window is moved so that the edge lies in its middle.
fn centred(frame: &Frame, luma: &[f64], [x, y]: [usize; 2], side: usize, claim: &Claim) -> Result<Edge, EdgeError> {
    let width = frame.width();
    let (mut sum, mut at) = (0.0, [0.0, 0.0]);
    for row in y + 1..y + side - 1 {
        for column in x + 1..x + side - 1 {
            let i = row * width + column;
            let (dx, dy) = (luma[i + 1] - luma[i - 1], luma[i + width] - luma[i - width]);
            let weight = dx * dx + dy * dy;
            sum += weight;
            at = [at[0] + weight * column as f64, at[1] + weight * row as f64];
        }
    }
    let place = |k: usize, length: usize| {
        let middle = at[k] / f64::max(sum, f64::MIN_POSITIVE) - side as f64 / 2.0;
        (middle.round().max(0.0) as usize).min(length - side)
    };
    let place = [place(0, frame.width()), place(1, frame.height()), side, side];
    let patch = Patch::new(place, frame.width(), frame.height()).map_err(|e| EdgeError(e.to_string()))?;
    measure(frame, &patch, claim)
}
