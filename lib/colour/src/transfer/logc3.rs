//! LogC3: ARRI, "ALEXA Log C Curve, Usage in VFX", 2012 and later: the table for SUP 3.x, linear scene exposure.
//!
//! Light: scene reflectance, 0.18 is mid-grey at every exposure index. Signal: code value / 1023, full range; mid-grey
//! is 400/1023 at every index.
//!
//! The constants are the table's own six digits, which its generating equations miss by up to 8.4e-7. The two pieces
//! meet to within 0.001 code value of 10 bits ([`Transfer::jumps`](super::Transfer::jumps)). At EI 1600 the sensor's
//! clip lands at 1.0054 by the formula, where the camera's own curve bends softly into 1.0: there the plain formula,
//! which is all that is published as numbers, holds only below that bend.

use super::segment::{LogBase, LogOverLine, LogSegment};

/// The exposure indices of the table.
pub const RATINGS: [u32; 11] = [160, 200, 250, 320, 400, 500, 640, 800, 1000, 1280, 1600];

/// The index used where none is asked for.
pub const BASE_RATING: u32 = 800;

/// cut, a, b, c, d, e, f of t = c log10(a x + b) + d above cut, e x + f at or below it; rows as [`RATINGS`].
#[rustfmt::skip]
const TABLE: [[f64; 7]; 11] = [
    [0.005561, 5.555556, 0.080216, 0.269036, 0.381991, 5.842037, 0.092778],
    [0.006208, 5.555556, 0.076621, 0.266007, 0.382478, 5.776265, 0.092782],
    [0.006871, 5.555556, 0.072941, 0.262978, 0.382966, 5.710494, 0.092786],
    [0.007622, 5.555556, 0.068768, 0.259627, 0.383508, 5.637732, 0.092791],
    [0.008318, 5.555556, 0.064901, 0.256598, 0.383999, 5.571960, 0.092795],
    [0.009031, 5.555556, 0.060939, 0.253569, 0.384493, 5.506188, 0.092800],
    [0.009840, 5.555556, 0.056443, 0.250219, 0.385040, 5.433426, 0.092805],
    [0.010591, 5.555556, 0.052272, 0.247190, 0.385537, 5.367655, 0.092809],
    [0.011361, 5.555556, 0.047996, 0.244161, 0.386036, 5.301883, 0.092814],
    [0.012235, 5.555556, 0.043137, 0.240810, 0.386590, 5.229121, 0.092819],
    [0.013047, 5.555556, 0.038625, 0.237781, 0.387093, 5.163350, 0.092824],
];

/// LogC3 at an exposure index of [`RATINGS`]; `None` at any other. The line goes on below zero, the logarithm above
/// the clip.
pub fn log_c3(ei: u32) -> Option<LogOverLine> {
    let row = RATINGS.iter().position(|&rating| rating == ei)?;
    let [cut, a, b, c, d, e, f] = TABLE[row];
    Some(LogOverLine {
        log: LogSegment { base: LogBase::Ten, slope: c, gain: a, offset: b, signal_offset: d },
        line_slope: e,
        line_offset: f,
        from_light: cut.next_up(),
        from_signal: (e * cut + f).next_up(),
    })
}
