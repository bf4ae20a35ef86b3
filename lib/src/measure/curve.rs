//! Fits a curve to a bracket that follows no published one.

use super::Claim;
use crate::camera::Range;
use crate::invalid::Refusals;
use crate::math::{exp2, log2};
use crate::transfer::custom::{LogCurve, LogParameters, Toe};
use crate::transfer::{LogBase, MID_GREY, Transfer};
use nalgebra::{DMatrix, DVector};
use std::sync::Arc;

/// A point of the response.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Stops from mid-grey.
    pub stops: f64,
    /// Mean signal.
    pub signal: f64,
    /// How uncertain the mean is, one standard deviation.
    pub error: f64,
}

/// A curve fitted to a bracket: a logarithm above a straight toe.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// Its parameters, for a curve file.
    pub parameters: LogParameters,
    /// At each point its stops, and how far it lies over the curve in stops.
    pub residuals: Vec<(f64, f64)>,
    /// Root mean square of the residuals.
    pub rms: f64,
    curve: LogCurve,
}

impl Fitted {
    /// The curve, full range.
    pub fn claim(&self) -> Claim {
        Claim { name: "a fitted curve".to_owned(), curve: Arc::new(self.curve), range: Range::Full }
    }

    /// The curve document.
    pub fn document(&self, title: &str, source: &str) -> String {
        let LogParameters { log_slope, light_gain, light_offset, signal_offset, break_light, toe, .. } =
            self.parameters;
        let toe = match toe {
            Toe::Linear { slope: Some(slope), .. } => format!("\n[log.linear_toe]\nslope = {slope}\n"),
            _ => String::new(),
        };
        let quoted = |text: &str| toml::Value::String(text.to_owned()).to_string();
        format!(
            "schema = 1\ntitle = {}\nsource = {}\n\n[log]\nlog_base = 2\nlog_slope = {log_slope}\nlight_gain = {light_gain:?}\n\
             light_offset = {light_offset}\nsignal_offset = {signal_offset}\nbreak_light = {break_light}\n{toe}",
            quoted(title),
            quoted(source)
        )
    }
}

/// Fewest points that a curve is fitted to: it has five numbers.
pub const FEWEST: usize = 7;

/// Fits signal = s log2(light + k) + d above a light b, and a straight toe below, to points of which 0 stops is mid-grey.
/// The toe meets the logarithm; where fewer than two points lie in it, it goes on at its slope. For given k and b the rest is
/// linear; these two are searched for, first on a grid and then ever finer. Rising by its making; none for fewer than
/// [`FEWEST`] points, or where nothing rises.
pub fn fit(points: &[Point]) -> Option<Fitted> {
    if points.len() < FEWEST {
        return None;
    }
    let (least, most) = points.iter().fold((f64::MAX, f64::MIN), |(a, b), p| (a.min(p.stops), b.max(p.stops)));
    // Stops from mid-grey of k and b: from two under the darkest point to two under the brightest.
    let bounds = [least - 4.0, most - 2.0];
    let cost = |at: [f64; 2]| solve(points, at).map_or(f64::INFINITY, |s| s.left);
    let mut best = ([0.0; 2], f64::INFINITY);
    const GRID: usize = 25;
    for i in 0..GRID {
        for j in 0..GRID {
            let place = |n: usize| bounds[0] + (bounds[1] - bounds[0]) * n as f64 / (GRID - 1) as f64;
            let at = [place(i), place(j)];
            let left = cost(at);
            if left < best.1 {
                best = (at, left);
            }
        }
    }
    let mut step = (bounds[1] - bounds[0]) / (GRID - 1) as f64;
    while step > 1e-6 {
        let around =
            [[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0], [1.0, 1.0], [-1.0, -1.0], [1.0, -1.0], [-1.0, 1.0]];
        let next = around
            .map(|d: [f64; 2]| [0, 1].map(|i| (best.0[i] + d[i] * step).clamp(bounds[0], bounds[1])))
            .into_iter()
            .map(|at| (at, cost(at)))
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .filter(|n| n.1 < best.1);
        match next {
            Some(next) => best = next,
            None => step /= 2.0,
        }
    }
    let solved = solve(points, best.0)?;
    let [k, b] = best.0.map(|stops| MID_GREY * exp2(stops));
    let parameters = LogParameters {
        log_base: LogBase::Two,
        log_slope: rounded(solved.slope),
        light_gain: 1.0,
        light_offset: rounded(k),
        signal_offset: rounded(solved.offset),
        break_light: rounded(b),
        toe: Toe::Linear { slope: solved.toe.map(rounded), offset: None },
    };
    let curve = LogCurve::new(&parameters).map_err(|_: Refusals| ()).ok()?;
    let residuals: Vec<(f64, f64)> = points
        .iter()
        .filter_map(|p| {
            let light = curve.decode(p.signal);
            (light > 0.0).then(|| (p.stops, log2(light / MID_GREY) - p.stops))
        })
        .collect();
    let rms = (residuals.iter().map(|r| r.1 * r.1).sum::<f64>() / residuals.len().max(1) as f64).sqrt();
    Some(Fitted { parameters, residuals, rms, curve })
}

/// Seven significant digits: far finer than any bracket, and readable in a document.
fn rounded(value: f64) -> f64 {
    format!("{value:.6e}").parse().unwrap_or(value)
}

struct Solved {
    slope: f64,
    offset: f64,
    /// Slope of the toe; `None` for the slope of the logarithm.
    toe: Option<f64>,
    left: f64,
}

/// Slopes and offset for the stops of k and b, by weighted least squares, and the residual.
fn solve(points: &[Point], at: [f64; 2]) -> Option<Solved> {
    let [k, b] = at.map(|stops| MID_GREY * exp2(stops));
    let lights = points.iter().map(|p| MID_GREY * exp2(p.stops));
    let free = lights.clone().filter(|light| *light < b).count() >= 2;
    // Columns: the logarithm, one, and the toe.
    let row = |light: f64| -> [f64; 3] {
        let (above, below) = (log2(light.max(b) + k), (light - b).min(0.0));
        if free { [above, 1.0, below] } else { [above + below / ((b + k) * std::f64::consts::LN_2), 1.0, 0.0] }
    };
    let columns = if free { 3 } else { 2 };
    let rows: Vec<[f64; 3]> = lights.map(row).collect();
    // A curve of five parameters cannot be more accurate than this.
    let roots: Vec<f64> = points.iter().map(|p| 1.0 / (p.error * p.error + 1e-8).sqrt()).collect();
    let matrix = DMatrix::from_fn(points.len(), columns, |i, j| rows[i][j] * roots[i]);
    let target = DVector::from_fn(points.len(), |i, _| points[i].signal * roots[i]);
    let found = matrix.clone().svd(true, true).solve(&target, 1e-13).ok()?;
    let left = (&matrix * &found - &target).norm_squared();
    let toe = free.then(|| found[2]);
    let rises = found[0] > 0.0 && toe.is_none_or(|t| t > 0.0);
    (rises && left.is_finite()).then(|| Solved { slope: found[0], offset: found[1], toe, left })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::curve_file;
    use crate::transfer::encoding;

    fn points(curve: &dyn Transfer, range: Range, offset: f64) -> Vec<Point> {
        (-8..=6)
            .map(|stops| {
                let stops = f64::from(stops);
                let signal = range.encode(curve.encode(MID_GREY * exp2(stops + offset)));
                Point { stops, signal, error: 1e-4 }
            })
            .collect()
    }

    #[test]
    fn a_fitted_curve_passes_near_its_points_and_reads_back() {
        for name in ["slog3", "logc3", "vlog", "log3g10", "flog2"] {
            let truth = encoding(name).unwrap().build(None).unwrap();
            let fitted = fit(&points(truth.as_ref(), Range::Full, 0.0)).unwrap();
            assert!(fitted.rms < 0.02, "{name}: {}", fitted.rms);
            let text = fitted.document("Heron \"2\"", "a test");
            let read = curve_file::parse("c.toml", &text).unwrap_or_else(|p| panic!("{text}{p}"));
            for stops in -8..=6 {
                let light = MID_GREY * exp2(f64::from(stops));
                assert!((read.transfer().encode(light) - fitted.claim().encode(light)).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn too_few_points_are_not_fitted() {
        let truth = encoding("slog3").unwrap().build(None).unwrap();
        assert!(fit(&points(truth.as_ref(), Range::Full, 0.0)[..6]).is_none());
    }
}
