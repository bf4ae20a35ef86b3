//! Curves for a camera that is not built in, from its maker's document or from a measurement.
//!
//! Three families, each a validated type made from plain named parameters: [`LogCurve`] (a logarithm above a linear or
//! quadratic toe), [`GammaLogCurve`] (a power below a logarithm) and [`TableCurve`] (measured points). Light is scene
//! reflectance (0.18 is mid-grey), signal is code value / 1023 of the full range.
//!
//! Each curve rises strictly, is continuous, and has its exact inverse; a refusal names the parameter at fault and
//! says what would be right.

mod gamma_log;
mod log;
mod table;

pub use gamma_log::{GammaLogCurve, GammaLogParameters};
pub use log::{LogCurve, LogParameters, Toe};
pub use table::{TableCurve, TableParameters};

use super::CODES;
use super::segment::LogSegment;
use crate::invalid::{Refusals, out_of_range};

/// The largest step at the break, in code values of 10 bits, that counts as the rounding of published constants. A step
/// up to this size is closed by moving the lower piece; a larger one is refused.
pub const CLOSED_STEP: f64 = 0.01;

fn finite(refusals: &mut Refusals, key: &str, value: f64) {
    if !value.is_finite() {
        refusals.push(key, format!("{value} must be a finite number"));
    }
}

fn positive(refusals: &mut Refusals, key: &str, value: f64) {
    if !(value > 0.0 && value.is_finite()) {
        refusals.push(key, out_of_range(value, "", "it must be above 0, for the curve to rise"));
    }
}

/// Checks the logarithm of a curve from `break_light` up.
fn check_log(refusals: &mut Refusals, log: &LogSegment, break_light: f64) {
    positive(refusals, "log_slope", log.slope);
    positive(refusals, "light_gain", log.gain);
    finite(refusals, "light_offset", log.offset);
    finite(refusals, "signal_offset", log.signal_offset);
    finite(refusals, "break_light", break_light);
    let argument = log.gain * break_light + log.offset;
    if argument <= 0.0 && log.gain > 0.0 {
        let pole = -log.offset / log.gain;
        refusals.push(
            "break_light",
            format!("{break_light} lies where the logarithm has no value: it must be above {pole}, its pole"),
        );
    }
}

/// The step from `below` up to `above` at the break, both in signal; refused under `key` when it is too large to be
/// rounding.
fn check_step(refusals: &mut Refusals, key: &str, break_light: f64, below: f64, above: f64) -> f64 {
    let codes = CODES * (above - below);
    if !codes.is_finite() {
        refusals.push(key, format!("the two pieces have no finite value at break_light {break_light}"));
    } else if codes.abs() > CLOSED_STEP {
        let way = if codes < 0.0 { "falls" } else { "jumps" };
        refusals.push(
            key,
            format!(
                "the signal {way} by {:.4} code values of 10 bits at break_light {break_light}, from {below} to \
                 {above}: the pieces must meet to within {CLOSED_STEP}; remove {key} to let it follow by continuity",
                codes.abs()
            ),
        );
    }
    codes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::transfer::{LogBase, Transfer};
    use proptest::prelude::*;

    /// Both directions undo each other and rise about `light`.
    fn holds(curve: &dyn Transfer, light: f64) -> Result<(), TestCaseError> {
        let signal = curve.encode(light);
        let back = curve.decode(signal);
        prop_assert!((back - light).abs() <= 1e-12 * (1e-2 + light.abs()), "{light} came back as {back} from {signal}");
        let above = light + 1e-6 * (1e-2 + light.abs());
        prop_assert!(curve.encode(above) > signal, "not rising at {light}");
        Ok(())
    }

    fn lights() -> impl Strategy<Value = f64> {
        (-16.0..8.0f64, any::<bool>()).prop_map(|(stops, below)| {
            let light = crate::math::exp2(stops);
            if below { -light.min(1.0) } else { light }
        })
    }

    proptest! {
        #[test]
        fn log_curves(
            log_base in prop_oneof![Just(LogBase::Two), Just(LogBase::E), Just(LogBase::Ten)],
            per_stop in 0.04..0.12f64,
            light_gain in 0.5..100.0f64,
            light_offset in 0.001..1.0f64,
            break_light in 0.001..0.1f64,
            steeper in 0.3..1.7f64,
            quadratic: bool,
            light in lights(),
        ) {
            let log_slope = per_stop / log_base.log(2.0);
            let signal_offset = 0.4;
            let log =
                LogSegment { base: log_base, slope: log_slope, gain: light_gain, offset: light_offset, signal_offset };
            let slope = Some(steeper * log.slope_at(break_light));
            let toe = if quadratic {
                Toe::Quadratic { curvature: None, slope, offset: None }
            } else {
                Toe::Linear { slope, offset: None }
            };
            let parameters =
                LogParameters { log_base, log_slope, light_gain, light_offset, signal_offset, break_light, toe };
            let curve = LogCurve::new(&parameters).expect("valid parameters");
            holds(&curve, light)?;
            prop_assert!(curve.jumps().is_empty());
        }

        #[test]
        fn gamma_log_curves(
            gain in 0.5..2.0f64,
            exponent in 0.3..1.0f64,
            log_slope in 0.1..0.3f64,
            light_gain in 0.5..20.0f64,
            light_offset in 0.0..0.5f64,
            break_light in 0.01..0.4f64,
            black in 0.0..0.1f64,
            light in lights(),
        ) {
            let curve = GammaLogCurve::new(&GammaLogParameters {
                gain: Some(gain),
                exponent,
                shift: 0.0,
                black,
                log_base: LogBase::E,
                log_slope,
                light_gain,
                light_offset,
                signal_offset: None,
                break_light,
            })
            .expect("valid parameters");
            holds(&curve, light)?;
            prop_assert!(curve.jumps().is_empty());
        }

        #[test]
        fn table_curves(
            steps in prop::collection::vec((0.1..3.0f64, 0.005..0.2f64), 1..12),
            black in prop::option::of(0.001..0.1f64),
            light in lights(),
        ) {
            let mut points = vec![[-7.0, 0.1]];
            for (stops, signal) in steps {
                let last = points[points.len() - 1];
                points.push([last[0] + stops, last[1] + signal]);
            }
            let black = black.map(|below| 0.1 - below);
            let curve = TableCurve::new(&TableParameters { points, black }).expect("rising points");
            let signal = curve.encode(light);
            // Where the cubic runs flat a double of signal holds less of light; signal must come back all the same.
            prop_assert!((curve.encode(curve.decode(signal)) - signal).abs() <= 2e-15 * (1.0 + signal.abs()));
            prop_assert!(curve.encode(light + 1e-6 * (1e-2 + light.abs())) > signal, "not rising at {}", light);
            prop_assert!(curve.jumps().is_empty());
        }
    }
}
