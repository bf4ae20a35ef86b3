//! Sharpness: the spatial frequency response of a slanted edge (e-SFR).
//!
//! # Method
//! ISO 12233, edge-based SFR, as we remember its text and the published descriptions of it: signal is made linear by the
//! curve; in each row that crosses the edge the centroid of the derivative, under a Hamming window, places the edge, twice,
//! the second time with the window about the line of the first; a straight line is fitted to the centroids; all samples
//! are projected along it into bins of a quarter of a pixel, over whole turns of the slant; the derivative of that edge
//! profile, under a Hamming window about the edge, is transformed, and its modulus over that at 0 is the response. It is
//! corrected for the derivative taken over two bins, for the slant, and, which the standard does not do, for the mean over a
//! bin: 1 % at 0.3 cycles per pixel.
//!
//! # Limits
//! Noise raises the response at high frequencies: the edge should be well exposed. A sharpened edge is drawn in the camera's
//! signal, so over- and undershoot are counted there, and the response in light.

mod find;

pub use find::find;

use super::Plane;
use crate::frame::Frame;
use crate::math::{atan2, cos, sin};
use crate::measure::patch::Patch;
use crate::measure::{CHANNELS, Claim};
use crate::statistics::median;
use schemars::JsonSchema;
use serde::Serialize;
use std::f64::consts::{PI, TAU};
use std::fmt;

/// Bins of the edge profile, a pixel.
const BINS: usize = 4;
/// Highest frequency that is measured, cycles per pixel.
const HIGHEST: f64 = 1.0;
/// Steps of frequency for a cycle a pixel.
const STEPS: usize = 100;
/// Least pixels of the rectangle across the edge and along it.
const LEAST: usize = 20;
/// The slant, in degrees from the rows or columns: less gives the profile too few places, more is no edge along an axis.
const SLANT: [f64; 2] = [1.0, 40.0];
/// Centroids lie no further than this from a straight line, in pixels (root mean square).
const STRAIGHT: f64 = 0.5;
/// The bright side has at least this many times the light of the dark one.
const CONTRAST: f64 = 1.3;

/// Why an edge cannot be measured.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EdgeError(pub String);

impl fmt::Display for EdgeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for EdgeError {}

/// The response of one channel.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Response {
    /// Red, green or blue.
    pub channel: &'static str,
    /// Frequency in cycles per pixel across the edge, 0 to 1, and the response there, 1 at frequency 0.
    pub response: Vec<[f64; 2]>,
    /// The lowest frequency with half the contrast, cycles per pixel; none below 1.
    pub mtf50: Option<f64>,
    /// The lowest frequency with a tenth of the contrast, cycles per pixel; none below 1.
    pub mtf10: Option<f64>,
    /// By how much the bright side rises over its level beside the edge, per cent of the step, in signal.
    pub overshoot_percent: f64,
    /// By how much the dark side falls under its level beside the edge, per cent of the step, in signal.
    pub undershoot_percent: f64,
    /// Response above the limit of the grid, 0.5 cycles per pixel, over that below: what can alias.
    pub above_nyquist: f64,
}

/// An edge, measured.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Edge {
    /// Left, upper edge, width and height of the rectangle, pixels.
    pub place: [usize; 4],
    /// The edge runs from the top to the bottom, not from side to side.
    pub upright: bool,
    /// From the column or row that it runs along, degrees.
    pub slant_degrees: f64,
    /// How far the edge is from a straight line, pixels (root mean square).
    pub bent_pixels: f64,
    /// Light of the bright side over that of the dark side, green.
    pub contrast: f64,
    /// Red, green, blue.
    pub channels: [Response; 3],
}

impl Edge {
    /// Green, by which cameras are compared: it has the most places of a colour filter array.
    pub fn green(&self) -> &Response {
        &self.channels[1]
    }
}

impl Response {
    /// The response at a frequency of 0 to 1 cycles per pixel.
    pub fn at(&self, frequency: f64) -> f64 {
        let place = frequency.clamp(0.0, HIGHEST) * STEPS as f64;
        let i = (place.floor() as usize).min(self.response.len().saturating_sub(2));
        let [a, b] = [self.response[i][1], self.response[i + 1][1]];
        a + (b - a) * (place - i as f64)
    }
}

/// Measures the edge in a rectangle of a frame.
///
/// # Errors
/// No edge that is straight, slanted and runs through the whole rectangle; too few pixels; too little contrast; a side that
/// clips.
pub fn measure(frame: &Frame, place: &Patch, claim: &Claim) -> Result<Edge, EdgeError> {
    let part = place.of(frame).map_err(|e| EdgeError(e.to_string()))?;
    let signals: [Plane; 3] = std::array::from_fn(|c| Plane::of(&part, |rgb| rgb[c]));
    let lights: [Plane; 3] = std::array::from_fn(|c| Plane::light(&part, c, claim));
    let upright = is_upright(&lights[1]);
    let along = |p: &Plane| if upright { p.clone() } else { p.turned() };
    let (signals, lights) = (signals.each_ref().map(along), lights.each_ref().map(along));
    let green = Line::of(&lights[1])?;
    let [dark, bright] = sides(&lights[1], &green);
    if bright.is_nan() || bright <= CONTRAST * dark.max(0.0) {
        let why = format!(
            "the two sides of the edge differ too little: the bright one has {:.2} times the light",
            bright / dark
        );
        return Err(EdgeError(why));
    }
    clipped(frame, &signals[1], &green)?;
    let mut channels = Vec::new();
    for c in 0..3 {
        let line = Line::of(&lights[c]).map_err(|e| EdgeError(format!("{}: {e}", CHANNELS[c])))?;
        channels.push(response(c, &signals[c], &lights[c], &line));
    }
    let channels = channels.try_into().unwrap_or_else(|_| unreachable!("three channels were made"));
    Ok(Edge {
        place: [place.x, place.y, place.width, place.height],
        upright,
        slant_degrees: green.degrees().abs(),
        bent_pixels: green.bent,
        contrast: bright / dark,
        channels,
    })
}

/// The edge crosses rows, not columns.
fn is_upright(plane: &Plane) -> bool {
    let (width, height) = (plane.width, plane.height());
    let at = |x: usize, y: usize| plane.values[y * width + x];
    // Means of strips, so that noise does not count.
    let columns: Vec<f64> = (0..width).map(|x| (0..height).map(|y| at(x, y)).sum::<f64>() / height as f64).collect();
    let rows: Vec<f64> = (0..height).map(|y| (0..width).map(|x| at(x, y)).sum::<f64>() / width as f64).collect();
    let range = |v: &[f64]| {
        let ends = |part: &[f64]| part.iter().sum::<f64>() / part.len().max(1) as f64;
        let quarter = v.len() / 4;
        (ends(&v[..quarter.max(1)]) - ends(&v[v.len() - quarter.max(1)..])).abs()
    };
    range(&columns) >= range(&rows)
}

/// A side that lies at the highest signal of the frame, where many samples heap up, is clipped.
fn clipped(frame: &Frame, signal: &Plane, line: &Line) -> Result<(), EdgeError> {
    let highest = frame.pixels().map(|rgb| f64::from(rgb[1])).fold(f64::MIN, f64::max);
    let bright: Vec<f64> = beside(signal, line, line.rises).collect();
    let level = bright.iter().sum::<f64>() / bright.len().max(1) as f64;
    let spread = (bright.iter().map(|v| (v - level) * (v - level)).sum::<f64>() / bright.len().max(1) as f64).sqrt();
    let heaped = bright.iter().filter(|v| **v >= highest - 1e-6).count();
    // A noiseless picture of an edge alone has one highest signal too: only near the end of the range is it a clip.
    if heaped * 4 > bright.len() && highest > 0.97 - spread {
        return Err(EdgeError("the bright side of the edge clips: expose the edge darker".to_owned()));
    }
    Ok(())
}

/// The line of an edge that crosses rows.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Line {
    /// Pixels to the right for each row down.
    slope: f64,
    /// Where it crosses the first row, pixels.
    start: f64,
    /// The bright side is the right one.
    rises: bool,
    /// Root mean square of the centroids from it, pixels.
    bent: f64,
}

impl Line {
    fn at(&self, y: usize) -> f64 {
        self.start + self.slope * y as f64
    }

    fn degrees(&self) -> f64 {
        atan2(self.slope, 1.0) * 180.0 / PI
    }

    fn of(plane: &Plane) -> Result<Self, EdgeError> {
        let (width, height) = (plane.width, plane.height());
        if width < LEAST || height < LEAST {
            let why = format!("{width} x {height} pixels are too few about an edge: it needs {LEAST} along each axis");
            return Err(EdgeError(why));
        }
        let row = |y: usize| &plane.values[y * width..][..width];
        let quarter = (width / 4).max(1);
        let side = |from: usize| (0..height).map(|y| row(y)[from..from + quarter].iter().sum::<f64>()).sum::<f64>();
        let rises = side(width - quarter) >= side(0);
        let sign = if rises { 1.0 } else { -1.0 };
        // First the window in the middle of the rectangle, then about the line.
        let mut line = Self { slope: 0.0, start: (width as f64 - 1.0) / 2.0, rises, bent: 0.0 };
        for round in 0..3 {
            let reach = if round == 0 { width as f64 } else { (width as f64 / 2.0).max(LEAST as f64) };
            let points: Vec<[f64; 2]> =
                (0..height).filter_map(|y| Some([y as f64, centroid(row(y), sign, line.at(y), reach)?])).collect();
            line = Self { rises, ..fitted(&points).ok_or_else(|| EdgeError("no edge was found there".to_owned()))? };
        }
        if line.bent > STRAIGHT {
            return Err(EdgeError(format!(
                "no straight edge was found there: it is {:.1} pixels off a line (root mean square)",
                line.bent
            )));
        }
        let margin = 4.0;
        let inside = |x: f64| x >= margin && x <= width as f64 - 1.0 - margin;
        if !inside(line.at(0)) || !inside(line.at(height - 1)) {
            return Err(EdgeError(
                "the edge runs out of the rectangle at its sides: make it wider or less high".to_owned(),
            ));
        }
        let degrees = line.degrees().abs();
        if !(SLANT[0]..=SLANT[1]).contains(&degrees) || line.slope.abs() * (height as f64) < 1.0 {
            return Err(EdgeError(format!(
                "the edge is slanted by {degrees:.1} degrees: turn the chart to about 5, at least by one pixel over the rectangle"
            )));
        }
        Ok(line)
    }
}

/// Where the derivative of a row has its centre, under a Hamming window about `middle`.
fn centroid(row: &[f64], sign: f64, middle: f64, reach: f64) -> Option<f64> {
    let (mut sum, mut moment) = (0.0, 0.0);
    for i in 1..row.len() - 1 {
        let apart = (i as f64 - middle) / reach;
        if apart.abs() < 0.5 {
            let weight = 0.54 + 0.46 * cos(TAU * apart);
            let derivative = sign * (row[i + 1] - row[i - 1]) / 2.0 * weight;
            (sum, moment) = (sum + derivative, moment + derivative * i as f64);
        }
    }
    (sum > 0.0).then(|| moment / sum).filter(|at| *at >= 0.0 && *at < row.len() as f64)
}

/// The least-squares line through (row, place).
fn fitted(points: &[[f64; 2]]) -> Option<Line> {
    let n = points.len() as f64;
    if points.len() < LEAST / 2 {
        return None;
    }
    let mean = |k: usize| points.iter().map(|p| p[k]).sum::<f64>() / n;
    let (my, mx) = (mean(0), mean(1));
    let over: f64 = points.iter().map(|p| (p[0] - my) * (p[1] - mx)).sum();
    let under: f64 = points.iter().map(|p| (p[0] - my) * (p[0] - my)).sum();
    let slope = over / under.max(f64::MIN_POSITIVE);
    let start = mx - slope * my;
    let left = points.iter().map(|p| p[1] - start - slope * p[0]).map(|d| d * d).sum::<f64>() / n;
    Some(Line { slope, start, rises: true, bent: left.sqrt() })
}

/// Values well to one side of the edge.
fn beside<'p>(plane: &'p Plane, line: &'p Line, right: bool) -> impl Iterator<Item = f64> + 'p {
    let clear = 5.0_f64.min(plane.width as f64 / 6.0);
    plane.values.iter().enumerate().filter_map(move |(i, v)| {
        let apart = (i % plane.width) as f64 - line.at(i / plane.width);
        (if right { apart > clear } else { apart < -clear }).then_some(*v)
    })
}

/// The levels of the dark and of the bright side.
fn sides(plane: &Plane, line: &Line) -> [f64; 2] {
    let level = |right: bool| median(&beside(plane, line, right).collect::<Vec<_>>()).unwrap_or(0.0);
    [level(!line.rises), level(line.rises)]
}

/// The profile across the edge: means of bins of a quarter of a pixel, dark to bright, and the bin of the edge.
fn profile(plane: &Plane, line: &Line) -> (Vec<f64>, f64) {
    let (width, height) = (plane.width, plane.height());
    // Whole turns of the slant, so that every phase counts alike.
    let turn = 1.0 / line.slope.abs();
    let rows = ((height as f64 / turn).floor() * turn).round().max(1.0) as usize;
    let reach = (0..rows).map(|y| line.at(y).min(width as f64 - 1.0 - line.at(y))).fold(f64::INFINITY, f64::min);
    let half = (reach.max(2.0) * BINS as f64).floor();
    let count = 2 * half as usize;
    let mut sums = vec![(0.0, 0.0); count];
    for y in 0..rows.min(height) {
        for x in 0..width {
            let apart = (x as f64 - line.at(y)) * if line.rises { 1.0 } else { -1.0 };
            let bin = (apart * BINS as f64 + half).floor();
            if bin >= 0.0 && bin < count as f64 {
                let sum = &mut sums[bin as usize];
                *sum = (sum.0 + plane.values[y * width + x], sum.1 + 1.0);
            }
        }
    }
    // A bin without a sample has the mean of its neighbours.
    let filled = |i: usize| {
        let near = (0..count).map(|d| [i.checked_sub(d), (i + d < count).then_some(i + d)]);
        let found =
            near.map(|two| two.into_iter().flatten().map(|j| sums[j]).filter(|s| s.1 > 0.0).collect::<Vec<_>>());
        let found = found.into_iter().find(|all| !all.is_empty()).unwrap_or_default();
        found.iter().map(|(sum, count)| sum / count).sum::<f64>() / found.len().max(1) as f64
    };
    ((0..count).map(filled).collect(), half)
}

fn response(c: usize, signal: &Plane, light: &Plane, line: &Line) -> Response {
    let (profile_of_light, middle) = profile(light, line);
    let n = profile_of_light.len();
    let mut spread: Vec<f64> = (0..n)
        .map(|i| {
            let (before, after) = (profile_of_light[i.saturating_sub(1)], profile_of_light[(i + 1).min(n - 1)]);
            (after - before) / 2.0
        })
        .collect();
    if n > 1 {
        (spread[0], spread[n - 1]) = (spread[1], spread[n - 2]);
    }
    for (i, v) in spread.iter_mut().enumerate() {
        // The edge lies between two bins.
        let apart = (i as f64 + 0.5 - middle) / n as f64;
        *v *= 0.54 + 0.46 * cos(TAU * apart);
    }
    let modulus = |f: f64| {
        let (mut real, mut imaginary) = (0.0, 0.0);
        for (i, v) in spread.iter().enumerate() {
            let angle = TAU * f * i as f64 / BINS as f64;
            (real, imaginary) = (real + v * cos(angle), imaginary - v * sin(angle));
        }
        (real * real + imaginary * imaginary).sqrt()
    };
    // Across the edge a pixel is shorter than along the row.
    let shorter = cos(line.degrees() * PI / 180.0);
    let all = modulus(0.0).max(f64::MIN_POSITIVE);
    let curve: Vec<[f64; 2]> = (0..=STEPS)
        .map(|i| {
            let frequency = HIGHEST * i as f64 / STEPS as f64;
            let along = frequency * shorter;
            // The difference over two bins has this response.
            let angle = TAU * along / BINS as f64;
            let derivative = if i == 0 { 1.0 } else { sin(angle) / angle };
            // And the mean over a bin this one.
            let angle = PI * along / BINS as f64;
            let bin = if i == 0 { 1.0 } else { sin(angle) / angle };
            [frequency, modulus(along) / all / derivative.max(0.1) / bin]
        })
        .collect();
    let crossing = |level: f64| {
        let at = curve.windows(2).find(|w| w[0][1] >= level && w[1][1] < level)?;
        Some(at[0][0] + (at[1][0] - at[0][0]) * (at[0][1] - level) / (at[0][1] - at[1][1]))
    };
    let mean = |from: f64, to: f64| {
        let part: Vec<f64> = curve.iter().filter(|p| p[0] >= from && p[0] <= to).map(|p| p[1]).collect();
        part.iter().sum::<f64>() / part.len().max(1) as f64
    };
    let above_nyquist = mean(0.5, 1.0) / mean(0.0, 0.5).max(f64::MIN_POSITIVE);
    let (mtf50, mtf10) = (crossing(0.5), crossing(0.1));
    let [overshoot_percent, undershoot_percent] = shoots(&profile(signal, line));
    Response {
        channel: CHANNELS[c],
        response: curve,
        mtf50,
        mtf10,
        overshoot_percent,
        undershoot_percent,
        above_nyquist,
    }
}

/// Over- and undershoot of a profile, per cent of its step.
fn shoots((profile, middle): &(Vec<f64>, f64)) -> [f64; 2] {
    let bins = BINS as f64;
    // Levels further than 8 pixels off, or in the outer third where there is less.
    let clear = (8.0 * bins).min(middle * 2.0 / 3.0);
    let side = |bright: bool, far: bool| -> Vec<f64> {
        let apart = |i: usize| (i as f64 + 0.5 - middle) * if bright { 1.0 } else { -1.0 };
        let wanted = |i: &usize| apart(*i) > if far { clear } else { 0.0 } && (far || apart(*i) <= clear);
        (0..profile.len()).filter(wanted).map(|i| profile[i]).collect()
    };
    let level = |bright: bool| median(&side(bright, true)).unwrap_or(0.0);
    let noise = |bright: bool, level: f64| {
        let far = side(bright, true);
        (far.iter().map(|v| (v - level) * (v - level)).sum::<f64>() / far.len().max(1) as f64).sqrt()
    };
    let (dark, bright) = (level(false), level(true));
    let step = (bright - dark).max(f64::MIN_POSITIVE);
    // The mean of three bins: one alone has the noise of few samples.
    let smooth = |v: &[f64]| -> Vec<f64> { v.windows(3).map(|w| w.iter().sum::<f64>() / 3.0).collect() };
    let over = smooth(&side(true, false)).into_iter().fold(bright, f64::max) - bright;
    let under = dark - smooth(&side(false, false)).into_iter().fold(dark, f64::min);
    let counted =
        |shoot: f64, noise: f64| if shoot > 3.0 * noise / 3.0_f64.sqrt() { 100.0 * shoot / step } else { 0.0 };
    [counted(over, noise(true, bright)), counted(under, noise(false, dark))]
}
