//! What is stressed: the exact path, or a cube of it as its reader reads it.

use crate::cube::Cube;
use crate::difference::{Difference, Formula, itp, luminance_of_ictcp};
use crate::math;
use crate::oklab::oklab;
use crate::pipeline::Pipeline;
use crate::transfer::{Transfer as _, pq::Pq};
use crate::transform::{ColourTransform, Interpolated};
use std::sync::atomic::{AtomicBool, Ordering};

/// Code values of 10 bits, full range, less one.
pub(super) const CODES: f64 = 1023.0;
/// Chroma of Oklab below which a colour has no hue to speak of: a fifth of that of BT.709's primaries, about.
const LEAST_CHROMA: f64 = 0.05;

/// Camera signal to display signal, and where the latter lies.
#[derive(Clone, Copy)]
pub(super) struct Path<'p> {
    pub(super) difference: &'p Difference,
    transform: &'p dyn ColourTransform,
    exact: bool,
    stop: &'p AtomicBool,
}

impl<'p> Path<'p> {
    pub(super) const fn exact(pipeline: &'p Pipeline, difference: &'p Difference, stop: &'p AtomicBool) -> Self {
        Self { difference, transform: pipeline, exact: true, stop }
    }

    /// The same of a cube, under an interpolation.
    pub(super) const fn of_cube(&self, cube: &'p Interpolated<'p, Cube>) -> Self {
        Self { transform: cube, exact: false, ..*self }
    }

    /// Whether the search has been stopped: results from then on are not valid.
    pub(super) fn is_stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    /// Display signal.
    pub(super) fn at(&self, signal: [f64; 3]) -> [f64; 3] {
        // Nothing is better than anything any more, so that every climb and every count soon ends.
        if self.is_stopped() {
            return [0.0; 3];
        }
        self.transform.transform(signal)
    }

    /// Where the display signal lies: CIELAB or ICtCp.
    pub(super) fn place(&self, signal: [f64; 3]) -> [f64; 3] {
        self.difference.place(self.at(signal))
    }

    pub(super) fn is_hdr(&self) -> bool {
        self.difference.formula() == Formula::DeltaEItp
    }

    /// L*, a*, b*, or I, T, P as Delta E ITP counts them: lengths are differences.
    pub(super) fn metric(&self, place: [f64; 3]) -> [f64; 3] {
        if self.is_hdr() { itp(place) } else { place }
    }

    /// What luminance alone makes of lightness: L*, or I of a grey of that luminance, as Delta E ITP counts it.
    pub(super) fn lightness(&self, place: [f64; 3]) -> f64 {
        if self.is_hdr() { itp([Pq::new().encode(luminance_of_ictcp(place)), 0.0, 0.0])[0] } else { place[0] }
    }

    /// a* and b*, or T and P as Delta E ITP counts them.
    pub(super) fn plane(&self, place: [f64; 3]) -> [f64; 2] {
        let [_, a, b] = self.metric(place);
        [a, b]
    }

    /// The hue of Oklab of a signal in degrees, none where there is too little chroma to speak of one. On PQ and HLG it is
    /// that of the light over diffuse white too: the hue of ICtCp turns by up to 11 degrees where a light of constant
    /// chromaticity does nothing but get brighter, since PQ is no power of light.
    pub(super) fn hue_of(&self, signal: [f64; 3]) -> Option<f64> {
        self.hue(self.at(signal))
    }

    /// The same of a display signal.
    pub(super) fn hue(&self, out: [f64; 3]) -> Option<f64> {
        let [_, a, b] = oklab(self.difference.xyz_over_white(out)).0;
        (length([a, b]) >= LEAST_CHROMA).then(|| math::atan2(b, a) * 180.0 / std::f64::consts::PI)
    }

    /// Whether it is an exact path.
    pub(super) const fn is_exact(&self) -> bool {
        self.exact
    }
}

pub(super) fn length([a, b]: [f64; 2]) -> f64 {
    (a * a + b * b).sqrt()
}

/// An angle of -180 up to 180 degrees.
pub(super) fn turned(degrees: f64) -> f64 {
    (degrees + 180.0).rem_euclid(360.0) - 180.0
}
