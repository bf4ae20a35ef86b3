//! A logarithm above a linear or quadratic toe.

use super::{check_log, check_step, finite};
use crate::invalid::{Refusals, out_of_range};
use crate::transfer::Transfer;
use crate::transfer::segment::{LogBase, LogSegment};

/// Parameters of a [`LogCurve`], under the names that a document gives them.
///
/// From `break_light` up: signal = log_slope log(light_gain light + light_offset) + signal_offset. Below: the [`Toe`].
/// Light is scene reflectance, signal is code value / 1023.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogParameters {
    /// Base of the logarithm, as the maker's document writes it.
    pub log_base: LogBase,
    /// a: signal for each unit of the logarithm; with base 2, signal per stop. Above 0.
    pub log_slope: f64,
    /// b: factor on light inside the logarithm, per reflectance. Above 0.
    pub light_gain: f64,
    /// c: added to light after the factor, inside the logarithm; no unit.
    pub light_offset: f64,
    /// d: added to the logarithm, in signal.
    pub signal_offset: f64,
    /// The light, in reflectance, at which the logarithm begins.
    pub break_light: f64,
    /// The curve below the break.
    pub toe: Toe,
}

/// The curve below the break. What is not given follows from the logarithm: one parameter not given is set so that the
/// pieces meet, two so that they also meet at the same slope.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Toe {
    /// signal = slope light + offset.
    Linear {
        /// Signal per reflectance. Above 0.
        slope: Option<f64>,
        /// Signal at zero light.
        offset: Option<f64>,
    },
    /// signal = curvature light^2 + slope light + offset, from zero light to the break; below zero light the tangent at
    /// zero goes on. The break must lie above zero light, and at least one parameter must be given.
    Quadratic {
        /// Signal per reflectance squared; of either sign.
        curvature: Option<f64>,
        /// Signal per reflectance at zero light. Above 0.
        slope: Option<f64>,
        /// Signal at zero light.
        offset: Option<f64>,
    },
}

/// A logarithm above a toe. Continuous and strictly rising; both directions are defined for every number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogCurve {
    log: LogSegment,
    curvature: f64,
    slope: f64,
    offset: f64,
    break_light: f64,
    break_signal: f64,
    closed_step: f64,
}

impl LogCurve {
    /// The curve, or every parameter that is wrong. Keys of refusals: the names in [`LogParameters`], and
    /// `toe.curvature`, `toe.slope`, `toe.offset`.
    pub fn new(parameters: &LogParameters) -> Result<Self, Refusals> {
        let &LogParameters { log_base, log_slope, light_gain, light_offset, signal_offset, break_light, toe } =
            parameters;
        let mut refusals = Refusals::new();
        let log =
            LogSegment { base: log_base, slope: log_slope, gain: light_gain, offset: light_offset, signal_offset };
        check_log(&mut refusals, &log, break_light);
        let (given, quadratic) = match toe {
            Toe::Linear { slope, offset } => ([Some(0.0), slope, offset], false),
            Toe::Quadratic { curvature, slope, offset } => ([curvature, slope, offset], true),
        };
        for (key, value) in ["toe.curvature", "toe.slope", "toe.offset"].into_iter().zip(given) {
            finite(&mut refusals, key, value.unwrap_or(0.0));
        }
        if quadratic && break_light <= 0.0 {
            refusals.push("break_light", out_of_range(break_light, "", "above a quadratic toe it must be above 0"));
        }
        if given == [None; 3] {
            refusals.push("toe.offset", "a quadratic toe needs at least one of curvature, slope and offset");
        }
        refusals.finish(|| ())?;

        let mut refusals = Refusals::new();
        let signal = log.encode(break_light);
        let [curvature, slope, offset] = solve(given, break_light, signal, log.slope_at(break_light));
        for (key, value) in [("toe.curvature", curvature), ("toe.slope", slope), ("toe.offset", offset)] {
            if !value.is_finite() {
                refusals.push(key, "it does not follow from the rest: give its value");
            }
        }
        for (at, slope) in [(break_light.min(0.0), slope), (break_light, slope + 2.0 * curvature * break_light)] {
            if slope <= 0.0 {
                let key = if given[1].is_some() || !quadratic { "toe.slope" } else { "toe.curvature" };
                refusals.push(
                    key,
                    format!("the toe does not rise at a light of {at} (slope {slope}): it must rise up to the break"),
                );
                break;
            }
        }
        let toe_signal = (curvature * break_light + slope) * break_light + offset;
        let closed_step = check_step(&mut refusals, "toe.offset", break_light, toe_signal, signal);
        refusals.finish(|| Self {
            log,
            curvature,
            slope,
            offset: offset + (signal - toe_signal),
            break_light,
            break_signal: signal,
            closed_step,
        })
    }

    /// The step that rounded constants left at the break, in code values of 10 bits, and that was closed by moving the
    /// toe; at most [`CLOSED_STEP`](super::CLOSED_STEP).
    pub fn closed_step(&self) -> f64 {
        self.closed_step
    }

    /// Curvature, slope and offset of the toe as they came out (curvature 0 for a linear one).
    pub fn toe(&self) -> [f64; 3] {
        [self.curvature, self.slope, self.offset]
    }
}

/// Fills in what is missing of curvature, slope and offset so that the toe meets `signal` at the light `b`, and, with
/// two missing, rises there by `rise`. At least one is given.
fn solve(given: [Option<f64>; 3], b: f64, signal: f64, rise: f64) -> [f64; 3] {
    match given {
        [Some(q), Some(s), Some(o)] => [q, s, o],
        [Some(q), Some(s), None] => [q, s, signal - (q * b + s) * b],
        [Some(q), None, Some(o)] => [q, (signal - o) / b - q * b, o],
        [None, Some(s), Some(o)] => [((signal - o) / b - s) / b, s, o],
        [Some(q), None, None] => {
            let s = rise - 2.0 * q * b;
            [q, s, signal - (q * b + s) * b]
        }
        [None, Some(s), None] => {
            let q = (rise - s) / (2.0 * b);
            [q, s, signal - (q * b + s) * b]
        }
        [None, None, Some(o)] => {
            let q = (rise - (signal - o) / b) / b;
            [q, rise - 2.0 * q * b, o]
        }
        [None, None, None] => [f64::NAN; 3],
    }
}

impl Transfer for LogCurve {
    fn encode(&self, light: f64) -> f64 {
        if light >= self.break_light {
            self.log.encode(light)
        } else if light <= 0.0 {
            self.slope * light + self.offset
        } else {
            (self.curvature * light + self.slope) * light + self.offset
        }
    }

    fn decode(&self, signal: f64) -> f64 {
        let y = signal - self.offset;
        if signal >= self.break_signal {
            self.log.decode(signal)
        } else if y <= 0.0 || self.curvature == 0.0 {
            y / self.slope
        } else {
            // The root in the form that does not cancel for either sign of the curvature.
            2.0 * y / (self.slope + (self.slope * self.slope + 4.0 * self.curvature * y).sqrt())
        }
    }

    fn breaks(&self) -> Vec<f64> {
        vec![self.break_light]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The published constants of LogC3 at EI 800, typed as a user would.
    fn published() -> LogParameters {
        LogParameters {
            log_base: LogBase::Ten,
            log_slope: 0.247190,
            light_gain: 5.555556,
            light_offset: 0.052272,
            signal_offset: 0.385537,
            break_light: 0.010591,
            toe: Toe::Linear { slope: Some(5.367655), offset: Some(0.092809) },
        }
    }

    fn refusals(parameters: LogParameters) -> Refusals {
        LogCurve::new(&parameters).expect_err("must be refused")
    }

    fn round_trip(curve: &LogCurve) {
        let mut last = f64::NEG_INFINITY;
        for i in -400i32..=4000 {
            let light = f64::from(i) * 1e-3 * (1.0 + f64::from(i.abs()) * 1e-2);
            let signal = curve.encode(light);
            assert!(signal > last, "not rising at {light}");
            last = signal;
            let back = curve.decode(signal);
            assert!((back - light).abs() <= 1e-13 * (1.0 + light.abs()), "{light} came back as {back}");
        }
    }

    #[test]
    fn a_makers_constants_give_the_makers_curve() {
        let curve = LogCurve::new(&published()).unwrap();
        let built_in = crate::transfer::logc3::log_c3(800).unwrap();
        for light in [0.02, 0.18, 0.9, 40.0] {
            assert_eq!(curve.encode(light), built_in.encode(light));
        }
        let step = built_in.jumps()[0].codes;
        assert!((curve.closed_step() - step).abs() < 1e-9);
        assert!((curve.encode(0.0) - built_in.encode(0.0) - step / 1023.0).abs() < 1e-15);
        assert!(curve.jumps().is_empty());
        round_trip(&curve);
    }

    #[test]
    fn what_is_left_out_follows_by_continuity() {
        let b = 0.02;
        for toe in [
            Toe::Linear { slope: None, offset: None },
            Toe::Linear { slope: Some(5.0), offset: None },
            Toe::Linear { slope: None, offset: Some(0.1) },
            Toe::Quadratic { curvature: None, slope: None, offset: Some(0.094) },
            Toe::Quadratic { curvature: None, slope: Some(6.0), offset: None },
            Toe::Quadratic { curvature: Some(-30.0), slope: None, offset: None },
            Toe::Quadratic { curvature: Some(20.0), slope: Some(4.0), offset: None },
            Toe::Quadratic { curvature: Some(20.0), slope: None, offset: Some(0.1) },
            Toe::Quadratic { curvature: None, slope: Some(3.0), offset: Some(0.1) },
        ] {
            let curve = LogCurve::new(&LogParameters { toe, break_light: b, ..published() }).unwrap();
            assert!(curve.closed_step().abs() < 1e-10, "{toe:?}");
            assert!(curve.jumps().is_empty(), "{toe:?}");
            round_trip(&curve);
            let two_free = matches!(
                toe,
                Toe::Linear { slope: None, offset: None }
                    | Toe::Quadratic { curvature: None, slope: None, .. }
                    | Toe::Quadratic { curvature: None, offset: None, .. }
                    | Toe::Quadratic { slope: None, offset: None, .. }
            );
            let h = 1e-7;
            let below = (curve.encode(b) - curve.encode(b - h)) / h;
            let above = (curve.encode(b + h) - curve.encode(b)) / h;
            assert_eq!((below - above).abs() < 1e-3, two_free, "{toe:?}: {below} {above}");
        }
    }

    #[test]
    fn a_step_at_the_break_is_stated_in_codes() {
        let toe = Toe::Linear { slope: Some(8.0), offset: Some(0.09) };
        let found = refusals(LogParameters {
            log_slope: 0.27,
            light_gain: 1.3,
            light_offset: 0.0115,
            signal_offset: 0.6,
            break_light: 0.006,
            toe,
            ..published()
        });
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].key, "toe.offset");
        assert!(found[0].message.contains("falls by 0.92"), "{}", found[0]);
    }

    #[test]
    fn every_wrong_parameter_is_named() {
        let found = refusals(LogParameters {
            log_slope: -1.0,
            light_gain: f64::NAN,
            signal_offset: f64::INFINITY,
            toe: Toe::Linear { slope: Some(f64::NAN), offset: None },
            ..published()
        });
        let keys: Vec<&str> = found.iter().map(|one| one.key.as_str()).collect();
        assert_eq!(keys, ["log_slope", "light_gain", "signal_offset", "toe.slope"]);

        assert_eq!(refusals(LogParameters { break_light: -0.02, ..published() })[0].key, "break_light");
        let falling = Toe::Linear { slope: Some(-5.0), offset: None };
        assert_eq!(refusals(LogParameters { toe: falling, ..published() })[0].key, "toe.slope");
        let none = Toe::Quadratic { curvature: None, slope: None, offset: None };
        assert_eq!(refusals(LogParameters { toe: none, ..published() })[0].key, "toe.offset");
        let bent = Toe::Quadratic { curvature: Some(2000.0), slope: None, offset: None };
        assert_eq!(refusals(LogParameters { toe: bent, ..published() })[0].key, "toe.curvature");
        let at_zero = Toe::Quadratic { curvature: Some(1.0), slope: None, offset: None };
        assert_eq!(refusals(LogParameters { toe: at_zero, break_light: 0.0, ..published() })[0].key, "break_light");
        let free = Toe::Linear { slope: None, offset: Some(0.1) };
        let found = refusals(LogParameters { toe: free, break_light: 0.0, ..published() });
        assert_eq!(found[0].key, "toe.slope");
    }

    #[test]
    fn no_finite_number_gives_nan() {
        let toe = Toe::Quadratic { curvature: Some(-30.0), slope: None, offset: None };
        let curve = LogCurve::new(&LogParameters { toe, break_light: 0.02, ..published() }).unwrap();
        for x in [-f64::MAX, -1e30, -1.0, 0.0, 1.0, 1e30, f64::MAX] {
            assert!(!curve.encode(x).is_nan() && !curve.decode(x).is_nan(), "{x}");
        }
        assert!(curve.encode(f64::NAN).is_nan() && curve.decode(f64::NAN).is_nan());
    }
}
