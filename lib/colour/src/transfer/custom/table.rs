//! A measured curve: points of stops and signal.

use super::finite;
use crate::invalid::{Refusals, out_of_range};
use crate::math::{exp2, log2};
use crate::transfer::{MID_GREY, Transfer};
use std::f64::consts::LN_2;

/// Parameters of a [`TableCurve`], under the names that a document gives them.
#[derive(Debug, Clone, PartialEq)]
pub struct TableParameters {
    /// The measured points: stops from mid-grey (0 is a reflectance of 0.18), and signal (code value / 1023). Two or
    /// more, both numbers rising from point to point.
    pub points: Vec<[f64; 2]>,
    /// Signal at zero light, such as that of the capped lens. By default the line below the lowest point keeps that
    /// point's slope in light.
    pub black: Option<f64>,
}

/// A strictly rising curve through measured points.
///
/// Between the points, signal is a piecewise cubic of stops that never overshoots (PCHIP: Fritsch and Carlson,
/// "Monotone Piecewise Cubic Interpolation", SIAM J. Numer. Anal. 17, 1980, with the slopes of Fritsch and Butland,
/// 1984). Below the lowest point signal is a straight line in light, through `black` at zero light, on into negative
/// light; with `black` given, the cubic leaves the lowest point at the slope of that line (at most three times the
/// first chord), without it the line takes the slope of the cubic. Above the highest point signal goes on straight in
/// stops. Both directions are defined for every number.
#[derive(Debug, Clone, PartialEq)]
pub struct TableCurve {
    stops: Vec<f64>,
    signals: Vec<f64>,
    /// Signal per stop at each point.
    slopes: Vec<f64>,
    black: f64,
    /// Signal per reflectance below the lowest point.
    toe_slope: f64,
    lowest_light: f64,
}

impl TableCurve {
    /// The curve, or all that is wrong. Keys of refusals: `points`, `points[i][0]` (stops), `points[i][1]` (signal),
    /// `black`.
    pub fn new(parameters: &TableParameters) -> Result<Self, Refusals> {
        let TableParameters { points, black } = parameters;
        let mut refusals = Refusals::new();
        if points.len() < 2 {
            refusals.push("points", format!("{} given: a curve needs two points or more", points.len()));
        }
        for (i, point) in points.iter().enumerate() {
            for (j, what) in ["stops", "signal"].into_iter().enumerate() {
                let key = format!("points[{i}][{j}]");
                finite(&mut refusals, &key, point[j]);
                if i > 0 && point[j] <= points[i - 1][j] {
                    let before = points[i - 1][j];
                    refusals.push(
                        key,
                        format!("{what} must rise: {} does not lie above {before}, the one before", point[j]),
                    );
                }
            }
            if point[0].abs() > 100.0 {
                refusals.push(format!("points[{i}][0]"), out_of_range(point[0], "stops", "-100 to 100"));
            }
        }
        if let (Some(black), Some(lowest)) = (black, points.first()) {
            // Written so that NaN is refused too.
            if !(*black < lowest[1] && black.is_finite()) {
                refusals.push("black", format!("{black} must lie below the lowest point's signal, {}", lowest[1]));
            }
        }
        refusals.finish(|| ())?;

        let stops: Vec<f64> = points.iter().map(|point| point[0]).collect();
        let signals: Vec<f64> = points.iter().map(|point| point[1]).collect();
        let mut slopes = slopes(&stops, &signals);
        if let Some(black) = black {
            // Three chords is the most that leaves the cubic monotone.
            let chord = (signals[1] - signals[0]) / (stops[1] - stops[0]);
            slopes[0] = (LN_2 * (signals[0] - black)).min(3.0 * chord);
        }
        let lowest_light = MID_GREY * exp2(stops[0]);
        let black = black.unwrap_or(signals[0] - slopes[0] / LN_2);
        let toe_slope = (signals[0] - black) / lowest_light;
        Ok(Self { stops, signals, slopes, black, toe_slope, lowest_light })
    }

    /// Signal at zero light, given or found.
    pub fn black(&self) -> f64 {
        self.black
    }

    /// The index of the segment that holds `x`, which lies between the first and the last of `along`.
    fn segment(along: &[f64], x: f64) -> usize {
        along[1..along.len() - 1].partition_point(|&at| at <= x)
    }

    /// Width and cubic of segment `i`: its signal is y0 + t (c1 + t (c2 + t c3)) with t from 0 to 1.
    fn cubic(&self, i: usize) -> (f64, [f64; 3]) {
        let width = self.stops[i + 1] - self.stops[i];
        let rise = self.signals[i + 1] - self.signals[i];
        let (m0, m1) = (self.slopes[i] * width, self.slopes[i + 1] * width);
        (width, [m0, 3.0 * rise - 2.0 * m0 - m1, m0 + m1 - 2.0 * rise])
    }

    /// Signal at a number of stops from mid-grey, at or above the lowest point.
    fn encode_stops(&self, stops: f64) -> f64 {
        let last = self.stops.len() - 1;
        if stops >= self.stops[last] {
            return self.signals[last] + self.slopes[last] * (stops - self.stops[last]);
        }
        let i = Self::segment(&self.stops, stops);
        let (width, c) = self.cubic(i);
        let t = (stops - self.stops[i]) / width;
        self.signals[i] + t * (c[0] + t * (c[1] + t * c[2]))
    }
}

impl Transfer for TableCurve {
    fn encode(&self, light: f64) -> f64 {
        if light >= self.lowest_light {
            self.encode_stops(log2(light / MID_GREY))
        } else {
            self.black + self.toe_slope * light
        }
    }

    fn decode(&self, signal: f64) -> f64 {
        let last = self.stops.len() - 1;
        let stops = if signal >= self.signals[last] {
            self.stops[last] + (signal - self.signals[last]) / self.slopes[last]
        } else if signal >= self.signals[0] {
            let i = Self::segment(&self.signals, signal);
            let (width, c) = self.cubic(i);
            self.stops[i] + width * root(c, signal - self.signals[i])
        } else {
            return (signal - self.black) / self.toe_slope;
        };
        MID_GREY * exp2(stops)
    }

    fn top(&self) -> f64 {
        self.signals[self.signals.len() - 1].min(1.0)
    }

    fn breaks(&self) -> Vec<f64> {
        vec![self.lowest_light]
    }
}

/// Slopes at the points: the weighted harmonic mean of the two chords, and at the ends the three-point formula, kept to
/// at least a tenth of the end's chord so that the curve can go on rising beyond it.
fn slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let h: Vec<f64> = x.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let chord: Vec<f64> = y.windows(2).zip(&h).map(|(pair, h)| (pair[1] - pair[0]) / h).collect();
    let n = h.len();
    if n == 1 {
        return vec![chord[0]; 2];
    }
    let end = |h0: f64, h1: f64, c0: f64, c1: f64| (((2.0 * h0 + h1) * c0 - h0 * c1) / (h0 + h1)).max(0.1 * c0);
    let mut slopes = vec![end(h[0], h[1], chord[0], chord[1])];
    for i in 1..n {
        let (w0, w1) = (2.0 * h[i] + h[i - 1], h[i] + 2.0 * h[i - 1]);
        slopes.push((w0 + w1) / (w0 / chord[i - 1] + w1 / chord[i]));
    }
    slopes.push(end(h[n - 1], h[n - 2], chord[n - 1], chord[n - 2]));
    slopes
}

/// The t in 0..1 at which t (c0 + t (c1 + t c2)), which rises there, reaches `y`: Newton's steps, kept inside the
/// bracket by bisection, to the last bit that a step still moves.
fn root(c: [f64; 3], y: f64) -> f64 {
    let (mut low, mut high) = (0.0f64, 1.0f64);
    let mut t = 0.5;
    // Bisection alone needs at most 1075 steps to exhaust the doubles; Newton takes about six.
    for _ in 0..1100 {
        let miss = t * (c[0] + t * (c[1] + t * c[2])) - y;
        if miss > 0.0 {
            high = t;
        } else if miss < 0.0 {
            low = t;
        } else {
            break;
        }
        let newton = t - miss / (c[0] + t * (2.0 * c[1] + t * 3.0 * c[2]));
        let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
        if next == t || next == low || next == high {
            break;
        }
        t = next;
    }
    t
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points() -> Vec<[f64; 2]> {
        vec![[-7.0, 0.07], [-5.0, 0.11], [-2.5, 0.26], [0.0, 0.49], [1.0, 0.60], [4.0, 0.88], [6.0, 0.96]]
    }

    fn curve(black: Option<f64>) -> TableCurve {
        TableCurve::new(&TableParameters { points: points(), black }).unwrap()
    }

    #[test]
    fn it_passes_through_its_points_and_rises() {
        for black in [None, Some(0.0625)] {
            let curve = curve(black);
            for [stops, signal] in points() {
                assert!((curve.encode(MID_GREY * exp2(stops)) - signal).abs() < 1e-15);
            }
            assert_eq!(curve.encode(0.0), curve.black());
            assert!(curve.jumps().is_empty());
            let mut last = f64::NEG_INFINITY;
            for i in -2000..=12000 {
                let light = if i < 0 { f64::from(i) * 1e-3 } else { exp2(f64::from(i) * 2e-3 - 14.0) };
                let signal = curve.encode(light);
                assert!(signal > last, "not rising at {light}");
                last = signal;
                let back = curve.decode(signal);
                assert!((back - light).abs() <= 1e-13 * (1e-3 + light.abs()), "{light} came back as {back}");
                assert!((curve.encode(back) - signal).abs() <= 4e-16 * (1.0 + signal.abs()));
            }
        }
    }

    #[test]
    fn the_toe_and_the_cubic_share_a_slope() {
        for black in [None, Some(0.0625)] {
            let curve = curve(black);
            let (light, h) = (MID_GREY * exp2(-7.0), 1e-9);
            let below = (curve.encode(light) - curve.encode(light - h)) / h;
            let above = (curve.encode(light + h) - curve.encode(light)) / h;
            assert!((below / above - 1.0).abs() < 1e-5, "{below} {above}");
        }
    }

    #[test]
    fn above_the_highest_point_each_stop_adds_the_same() {
        let curve = curve(None);
        let at = |stops: f64| curve.encode(MID_GREY * exp2(stops));
        assert!(((at(9.0) - at(8.0)) - (at(7.0) - at(6.0))).abs() < 1e-14);
        assert!(at(7.0) > at(6.0));
    }

    #[test]
    fn an_end_that_would_run_flat_keeps_a_tenth_of_its_chord() {
        let steep = vec![[0.0, 0.1], [1.0, 0.11], [2.0, 0.9]];
        let curve = TableCurve::new(&TableParameters { points: steep, black: None }).unwrap();
        assert!((curve.slopes[0] - 0.001).abs() < 1e-15);
        for i in 0..=400 {
            let signal = 0.1 + f64::from(i) * 0.002;
            assert!((curve.encode(curve.decode(signal)) - signal).abs() < 1e-15);
        }
    }

    #[test]
    fn all_that_is_wrong_is_named() {
        let refused = |points: Vec<[f64; 2]>, black: Option<f64>| -> Vec<String> {
            let refused = TableCurve::new(&TableParameters { points, black }).expect_err("must be refused");
            refused.into_iter().map(|one| one.key).collect()
        };
        assert_eq!(refused(vec![[0.0, 0.4]], None), ["points"]);
        assert_eq!(refused(vec![[0.0, 0.4], [0.0, 0.3]], None), ["points[1][0]", "points[1][1]"]);
        assert_eq!(refused(vec![[0.0, f64::NAN], [1.0, 0.3]], Some(f64::NAN)), ["points[0][1]", "black"]);
        assert_eq!(refused(points(), Some(0.08)), ["black"]);
        assert_eq!(refused(vec![[-300.0, 0.1], [0.0, 0.4]], None), ["points[0][0]"]);
    }

    #[test]
    fn no_finite_number_gives_nan() {
        let curve = curve(Some(0.06));
        for x in [-f64::MAX, -1e30, 0.0, 1e-300, 1e30, f64::MAX] {
            assert!(!curve.encode(x).is_nan() && !curve.decode(x).is_nan(), "{x}");
        }
        assert!(curve.encode(f64::NAN).is_nan() && curve.decode(f64::NAN).is_nan());
    }
}
