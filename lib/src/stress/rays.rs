//! Lights of constant chromaticity: a hue and a saturation in the camera's own primaries, from dark to bright.
//!
//! A light is stated by the signal of its brightest channel. Its other channels are shares of that channel's light, by
//! the hexagon of hues: 0 red, 60 yellow, 120 green, 180 cyan, 240 blue, 300 magenta. No channel is ever negative, which
//! saturated lights in wide primaries have to be in others. Stops are those of the brightest channel over 0.18.

use super::path::{CODES, Path};
use super::search::Axis;
use super::{Light, Point};
use crate::camera::Camera;
use crate::math;
use crate::transfer::MID_GREY;
use rayon::prelude::*;
use std::sync::OnceLock;

/// Hues of the grid, evenly round.
pub(super) const HUES: usize = 24;
/// Degrees between them.
pub(super) const HUE_STEP: f64 = 360.0 / HUES as f64;
/// Saturations of the grid.
pub(super) const SATURATIONS: [f64; 4] = [0.25, 0.5, 0.75, 1.0];
/// Stops from mid-grey where a ray begins.
const DARKEST: f64 = -8.0;
/// Stops from mid-grey beyond which no signal is followed.
const BRIGHTEST: f64 = 20.0;

/// The rays of a camera.
#[derive(Clone, Copy)]
pub(super) struct Rays<'c> {
    pub(super) camera: &'c Camera,
    /// Signal of no light.
    pub(super) black: f64,
    /// Signal where a ray begins, and where it ends.
    pub(super) low: f64,
    pub(super) high: f64,
}

impl<'c> Rays<'c> {
    pub(super) fn of(camera: &'c Camera) -> Self {
        let encode = |light: f64| camera.range().encode(camera.curve().encode(light));
        let most = camera.curve().decode(1.0).min(MID_GREY * math::exp2(BRIGHTEST));
        Self {
            camera,
            black: encode(0.0).clamp(0.0, 1.0),
            low: encode(MID_GREY * math::exp2(DARKEST)).clamp(0.0, 1.0),
            high: encode(most).clamp(0.0, 1.0),
        }
    }

    /// Light of a signal.
    fn light(&self, v: f64) -> f64 {
        self.camera.linearise([v; 3])[0].min(MID_GREY * math::exp2(BRIGHTEST))
    }

    /// Stops over mid-grey of the signal of a channel.
    pub(super) fn stops(&self, v: f64) -> f64 {
        math::log2((self.light(v) / MID_GREY).max(1e-9))
    }

    /// The signal so many stops over mid-grey, within the ray.
    pub(super) fn at_stops(&self, stops: f64) -> f64 {
        let light = MID_GREY * math::exp2(stops);
        self.camera.range().encode(self.camera.curve().encode(light)).clamp(self.low, self.high)
    }

    /// Camera signal of a hue (degrees), a saturation (0 to 1) and the signal of the brightest channel.
    pub(super) fn signal(&self, hue: f64, saturation: f64, v: f64) -> [f64; 3] {
        let light = self.light(v);
        hexagon(hue).map(|share| {
            let channel = light * (1.0 - saturation * (1.0 - share));
            // The brightest channel keeps its own digits.
            if channel == light { v } else { self.camera.range().encode(self.camera.curve().encode(channel)) }
        })
    }

    /// Codes of a ray, each the signal of its brightest channel.
    pub(super) fn codes(&self) -> Vec<f64> {
        let count = ((self.high - self.low) * CODES).floor() as usize;
        (0..=count).map(|i| self.low + i as f64 / CODES).collect()
    }

    pub(super) fn axis(&self) -> Axis {
        Axis::new(self.low, self.high, 8.0 / CODES)
    }

    /// A ray's light in a report.
    pub(super) fn point(&self, path: &Path<'_>, hue: f64, saturation: f64, v: f64) -> Point {
        let light = Light { hue: Some(hue.rem_euclid(360.0)), saturation: Some(saturation), name: None };
        Point::new(path, self.signal(hue, saturation, v), light, Some(self.stops(v)))
    }

    /// A grey in a report.
    pub(super) fn grey(&self, path: &Path<'_>, v: f64) -> Point {
        Point::new(path, [v; 3], Light::grey(), Some(self.stops(v)))
    }
}

/// Shares of red, green and blue in a fully saturated hue.
pub(super) fn hexagon(hue: f64) -> [f64; 3] {
    [0.0, 4.0, 2.0].map(|turn| (((hue / 60.0 + turn).rem_euclid(6.0) - 3.0).abs() - 1.0).clamp(0.0, 1.0))
}

/// A hue over the camera's primaries, in a word: 0 red, 120 green, 240 blue.
pub fn hue_name(hue: f64) -> &'static str {
    const NAMES: [&str; 12] =
        ["red", "orange", "yellow", "lime", "green", "sea green", "cyan", "azure", "blue", "violet", "magenta", "rose"];
    NAMES[((hue.rem_euclid(360.0) + 15.0) / 30.0) as usize % 12]
}

/// Where a path puts greys and the rays of the grid, code by code.
pub(super) struct Sweep<'s> {
    of: (Rays<'s>, Path<'s>),
    pub(super) codes: Vec<f64>,
    pub(super) greys: Vec<[f64; 3]>,
    /// Ray after ray, once they are asked for.
    places: OnceLock<Vec<[f64; 3]>>,
}

impl<'s> Sweep<'s> {
    pub(super) fn of(rays: &Rays<'s>, path: &Path<'s>) -> Self {
        let codes = rays.codes();
        let greys = codes.par_iter().map(|v| path.place([*v; 3])).collect();
        Self { of: (*rays, *path), codes, greys, places: OnceLock::new() }
    }

    /// Every ray of the grid: its hue, its saturation, and its appearance at each of the codes.
    pub(super) fn rays(&self) -> impl Iterator<Item = (f64, f64, &[[f64; 3]])> {
        let (count, (rays, path)) = (self.codes.len(), &self.of);
        let places = self.places.get_or_init(|| {
            (0..HUES * SATURATIONS.len() * count)
                .into_par_iter()
                .map(|i| {
                    let (hue, saturation) = ray_of(i / count);
                    path.place(rays.signal(hue, saturation, self.codes[i % count]))
                })
                .collect()
        });
        places.chunks(count).enumerate().map(|(ray, seen)| {
            let (hue, saturation) = ray_of(ray);
            (hue, saturation, seen)
        })
    }
}

fn ray_of(ray: usize) -> (f64, f64) {
    ((ray / SATURATIONS.len()) as f64 * HUE_STEP, SATURATIONS[ray % SATURATIONS.len()])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::Range;
    use crate::gamut::named_gamut;
    use crate::transfer::encoding;

    #[test]
    fn a_ray_keeps_its_chromaticity_and_its_stops() {
        let curve = encoding("slog3").unwrap().build(None).unwrap();
        let camera =
            Camera::new(curve, &named_gamut("sgamut3-cine").unwrap().gamut, None, Range::Legal, vec![]).unwrap();
        let rays = Rays::of(&camera);
        for stops in [-6.0, 0.0, 3.5] {
            let v = rays.at_stops(stops);
            assert!((rays.stops(v) - stops).abs() < 1e-9);
            let light = camera.linearise(rays.signal(250.0, 0.9, v));
            let want = [0.1 + 0.9 / 6.0, 0.1, 1.0].map(|share| share * MID_GREY * math::exp2(stops));
            assert!((0..3).all(|i| (light[i] / want[i] - 1.0).abs() < 1e-9), "{light:?} {want:?}");
        }
        // The end of the curve is code 940, not 1023.
        assert!((rays.high - 940.0 / 1023.0).abs() < 1e-9);
    }

    #[test]
    fn the_hexagon_has_its_corners() {
        assert_eq!(hexagon(0.0), [1.0, 0.0, 0.0]);
        assert_eq!(hexagon(60.0), [1.0, 1.0, 0.0]);
        assert_eq!(hexagon(120.0), [0.0, 1.0, 0.0]);
        assert_eq!(hexagon(210.0), [0.0, 0.5, 1.0]);
        assert_eq!(hexagon(-60.0), [1.0, 0.0, 1.0]);
        assert_eq!(["red", "blue", "rose", "red"], [0.0, 240.0, 330.0, 352.0].map(hue_name));
    }
}
