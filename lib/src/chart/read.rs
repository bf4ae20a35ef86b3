//! Reads the light of a chart's patches in a frame, and whether they can be used.

use super::find::{Found, find, left_by_turn};
use super::place::Place;
use super::{Chart, ChartError};
use crate::frame::Frame;
use crate::measure::Claim;

/// Half of the square that is read, of the distance between patches: clear of the edges of what a patch covers.
const HALF: f64 = 0.24;
/// Quarters of a patch may differ from its mean by this part, beside noise.
const EVEN: f64 = 0.12;
/// More than this part of a patch's samples at the clip, and it clips.
const CLIPS: f64 = 0.01;
/// Given corners are in the wrong order if another turn leaves a difference this many times smaller.
const TURNED: f64 = 0.6;

/// One patch as it was seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Mean light by the camera's curve.
    pub light: [f64; 3],
    /// Standard deviation of the light.
    pub noise: [f64; 3],
    /// Pixels.
    pub pixels: usize,
    /// Samples clip.
    pub clipped: bool,
    /// Quarters differ by the largest part of the mean: a reflection, an edge.
    pub unevenness: f64,
}

impl Reading {
    /// Whether the fit may use the patch.
    pub fn usable(&self) -> bool {
        !self.clipped && self.unevenness < EVEN && self.light.iter().all(|v| *v > 0.0 && v.is_finite())
    }
}

/// A chart in a frame.
#[derive(Debug, Clone, PartialEq)]
pub struct View {
    /// Where it lies.
    pub place: Place,
    /// Mean CIEDE2000 that a linear map leaves: how sure the finding is.
    pub left: f64,
    /// Every patch, row after row.
    pub patches: Vec<Reading>,
    /// The corners of the square that was read of each.
    pub squares: Vec<[[f64; 2]; 4]>,
}

/// Reads a chart in a frame, at the corners given or where it is found. `clip`: the signal at which the camera clips, where
/// it is known.
///
/// # Errors
/// No chart found, corners that cannot be right, clipped patches by name, patches that are not even.
pub fn view(
    frame: &Frame,
    chart: &Chart,
    reference: &[[f64; 3]],
    claim: &Claim,
    clip: Option<f64>,
    corners: Option<[[f64; 2]; 4]>,
) -> Result<View, ChartError> {
    let decode = |signal: f64| claim.decode(signal);
    let Found { place, left, .. } = match corners {
        Some(corners) => given(frame, chart, reference, &decode, corners)?,
        None => find(frame, chart, reference, &decode)?,
    };
    let inverse = place.inverse().ok_or_else(|| ChartError::Corners("the corners lie on one line".to_owned()))?;
    let clip = clip_of(frame, clip);
    let (mut patches, mut squares) = (Vec::new(), Vec::new());
    for i in 0..chart.patches.len() {
        let at = [(i % chart.columns) as f64, (i / chart.columns) as f64];
        let square = place.square(at, HALF);
        patches.push(reading(frame, &inverse, at, &square, claim, clip, &chart.patches[i].name)?);
        squares.push(square);
    }
    let named = |bad: &dyn Fn(&Reading) -> bool| {
        let names: Vec<&str> =
            chart.patches.iter().zip(&patches).filter(|(_, r)| bad(r)).map(|(p, _)| p.name.as_str()).collect();
        names.join(", ")
    };
    let clipped = named(&|r| r.clipped);
    // The fit excludes up to two clipped patches; with more, the exposure is wrong.
    if patches.iter().filter(|r| r.clipped).count() > 2.max(chart.patches.len() / 8) {
        return Err(ChartError::Clipped(format!("these patches clip: {clipped}: shoot the chart darker")));
    }
    let uneven = patches.iter().filter(|r| r.unevenness >= EVEN).count();
    if uneven > chart.patches.len() / 6 {
        let names = named(&|r| r.unevenness >= EVEN);
        return Err(ChartError::Uneven(format!(
            "these patches are not even: {names}: a reflection, a shadow, a chart out of focus, or corners that are not its own"
        )));
    }
    Ok(View { place, left, patches, squares })
}

/// Reads even things of a scene, each in its rectangle: x, y, width and height in pixels.
///
/// # Errors
/// Rectangles of too few pixels, or fewer than patches of the chart.
pub fn places(
    frame: &Frame,
    chart: &Chart,
    rectangles: &[[f64; 4]],
    claim: &Claim,
    clip: Option<f64>,
) -> Result<View, ChartError> {
    let clip = clip_of(frame, clip);
    let whole = [0.0, 0.0, frame.width() as f64, frame.height() as f64];
    let corners = |[x, y, w, h]: [f64; 4]| [[x, y], [x + w, y], [x + w, y + h], [x, y + h]];
    let plane = [[-HALF, -HALF], [HALF, -HALF], [HALF, HALF], [-HALF, HALF]];
    let bad = || ChartError::Corners("the places must be rectangles of the frame".to_owned());
    let of = |square: [[f64; 2]; 4]| Place::fit(&[0, 1, 2, 3].map(|i| (plane[i], square[i]))).ok_or_else(bad);
    let (mut patches, mut squares) = (Vec::new(), Vec::new());
    for (patch, rectangle) in chart.patches.iter().zip(rectangles) {
        let square = corners(*rectangle);
        let inverse = of(square)?.inverse().ok_or_else(bad)?;
        patches.push(reading(frame, &inverse, [0.0; 2], &square, claim, clip, &patch.name)?);
        squares.push(square);
    }
    if patches.len() != chart.patches.len() {
        return Err(bad());
    }
    Ok(View { place: of(corners(whole))?, left: 0.0, patches, squares })
}

/// The signal at which a patch clips: without a known clip, the top of the frame and of the signal.
fn clip_of(frame: &Frame, clip: Option<f64>) -> f64 {
    let top = frame.pixels().flatten().filter(|v| v.is_finite()).fold(0.0_f32, f32::max);
    clip.map_or(f64::from(top).max(0.97) - 1e-4, |c| c - 0.002)
}

fn given(
    frame: &Frame,
    chart: &Chart,
    reference: &[[f64; 3]],
    decode: &dyn Fn(f64) -> f64,
    corners: [[f64; 2]; 4],
) -> Result<Found, ChartError> {
    let (width, height) = (frame.width() as f64, frame.height() as f64);
    if let Some([x, y]) = corners.iter().find(|[x, y]| !(0.0..=width).contains(x) || !(0.0..=height).contains(y)) {
        return Err(ChartError::Corners(format!(
            "the corner {x},{y} lies outside the frame, which has {width} x {height} pixels"
        )));
    }
    let place = Place::of_corners(corners, chart.columns, chart.rows).ok_or_else(|| {
        let name = &chart.patches[0].name;
        ChartError::Corners(format!(
            "the corners must go round clockwise from the outer corner of the first patch, {name}"
        ))
    })?;
    let all = left_by_turn(frame, &place, chart, reference, decode);
    let own = all[0].ok_or_else(|| ChartError::Corners("the corners hold no patches".to_owned()))?;
    let best = all[1..].iter().flatten().copied().fold(f64::INFINITY, f64::min);
    if best < TURNED * own {
        let name = &chart.patches[0].name;
        return Err(ChartError::Corners(format!(
            "the chart is turned: begin with the outer corner of its first patch, {name}, and go round clockwise"
        )));
    }
    Ok(Found { place, left: own, next: best })
}

/// Reads the pixels of a square.
fn reading(
    frame: &Frame,
    inverse: &Place,
    at: [f64; 2],
    square: &[[f64; 2]; 4],
    claim: &Claim,
    clip: f64,
    name: &str,
) -> Result<Reading, ChartError> {
    let ends = |axis: usize, most: usize| {
        let all = square.iter().map(|c| c[axis]);
        let (low, high) = all.fold((f64::MAX, f64::MIN), |(a, b), v| (a.min(v), b.max(v)));
        (low.floor().max(0.0) as usize, (high.ceil().max(0.0) as usize).min(most))
    };
    let ((left, right), (top, bottom)) = (ends(0, frame.width()), ends(1, frame.height()));
    let (mut sums, mut squares, mut count, mut clipped) = ([0.0; 3], [0.0; 3], 0usize, 0usize);
    let mut quarters = [([0.0; 3], 0usize); 4];
    for y in top..bottom {
        for x in left..right {
            let [u, v] = inverse.pixel([x as f64 + 0.5, y as f64 + 0.5]);
            let (u, v) = (u - at[0], v - at[1]);
            if u.abs() > HALF || v.abs() > HALF {
                continue;
            }
            let rgb = frame.rgb(x, y).map(f64::from);
            let quarter = &mut quarters[usize::from(u > 0.0) + 2 * usize::from(v > 0.0)];
            quarter.1 += 1;
            count += 1;
            clipped += usize::from(rgb.iter().any(|v| *v >= clip));
            for c in 0..3 {
                let light = claim.decode(rgb[c]);
                sums[c] += light;
                squares[c] += light * light;
                quarter.0[c] += light;
            }
        }
    }
    if count < 16 || quarters.iter().any(|q| q.1 < 3) {
        return Err(ChartError::NotFound(format!(
            "`{name}` covers only {count} pixels: fill more of the frame with it"
        )));
    }
    let n = count as f64;
    let light = sums.map(|s| s / n);
    let noise: [f64; 3] = std::array::from_fn(|c| (squares[c] / n - light[c] * light[c]).max(0.0).sqrt());
    let mut unevenness = 0.0_f64;
    for (sum, of) in &quarters {
        for c in 0..3 {
            let apart = (sum[c] / *of as f64 - light[c]).abs();
            // Three standard errors of a quarter's mean are chance.
            let chance = 3.0 * noise[c] / (*of as f64).sqrt();
            unevenness = unevenness.max((apart - chance).max(0.0) / light[c].abs().max(1e-6));
        }
    }
    Ok(Reading { light, noise, pixels: count, clipped: clipped as f64 > CLIPS * n, unevenness })
}
