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
use crate::invalid::Refusals;

/// The largest step at the break, in code values of 10 bits, that counts as the rounding of published constants. A step
/// up to this size is closed by moving the lower piece; a larger one is refused.
pub const CLOSED_STEP: f64 = 0.01;

fn finite(refusals: &mut Refusals, key: &str, value: f64) {
    if !value.is_finite() {
        refusals.push(key, format!("{value} is not a number to work with: it must be finite"));
    }
}

fn positive(refusals: &mut Refusals, key: &str, value: f64) {
    if !(value > 0.0 && value.is_finite()) {
        refusals.push(key, format!("{value} is out of range: it must be above 0, for the curve to rise"));
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
                "the signal {way} by {:.4} code values of 10 bits at break_light {break_light}, from {below} to {above}: \
                 the pieces must meet to within {CLOSED_STEP}; leave {key} out to have it follow from continuity",
                codes.abs()
            ),
        );
    }
    codes
}
