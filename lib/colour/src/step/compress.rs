//! `compress`: colours far outside AP1 are brought back near its boundary.
//!
//! The ACES reference gamut compression (Academy S-2020-001, "Specification of the Reference Gamut Compression"),
//! with its published parameters as the default. Neutrals, and colours within the thresholds, are untouched.

use super::words::plain;
use super::{Context, Extremes, Maths, OnScene, Role, StepSettings, extremes};
use crate::invalid::{Parameter, Refusals};
use crate::math;
use crate::setting::settings;

/// How far outside each boundary a colour may lie and still be brought onto it, towards cyan, magenta and yellow.
pub const LIMITS: Parameter = Parameter {
    key: "limits",
    min: 1.001,
    max: 65504.0,
    default: 1.0,
    unit: "distances from grey (1 is the boundary)",
    help: "the distance that lands on the boundary, towards cyan, magenta and yellow",
};

/// Where the compression begins.
pub const THRESHOLDS: Parameter = Parameter {
    key: "thresholds",
    min: 0.0,
    max: 0.9999,
    default: 0.8,
    unit: "distances from grey (1 is the boundary)",
    help: "the distance below which colours are untouched, towards cyan, magenta and yellow",
};

/// How hard the bend is.
pub const POWER: Parameter = Parameter {
    key: "power",
    min: 1.0,
    max: 20.0,
    default: 1.2,
    unit: "",
    help: "how hard the bend is; higher is harder",
};

/// The published parameters (S-2020-001, 4.2): cyan, magenta, yellow.
pub const PUBLISHED_LIMITS: [f64; 3] = [1.147, 1.264, 1.312];
/// See [`PUBLISHED_LIMITS`].
pub const PUBLISHED_THRESHOLDS: [f64; 3] = [0.815, 0.803, 0.880];
/// See [`PUBLISHED_LIMITS`].
pub const PUBLISHED_POWER: f64 = 1.2;

/// What its limits and thresholds are distances towards.
const TOWARDS: &[&str] = &["cyan", "magenta", "yellow"];

settings! {
    "CompressDoc",
    /// Gamut compression; the default is the published one.
    #[derive(Copy)]
    pub struct CompressSettings {
        /// How far outside each boundary a colour may lie and still be brought onto it.
        limits: [f64; 3] = PUBLISHED_LIMITS, Three(&LIMITS, TOWARDS);
        /// Where the compression begins.
        thresholds: [f64; 3] = PUBLISHED_THRESHOLDS, Three(&THRESHOLDS, TOWARDS);
        /// How hard the bend is.
        power: f64 = PUBLISHED_POWER, Number(&POWER);
    }
}

impl StepSettings for CompressSettings {
    const NAME: &'static str = "compress";
    const TITLE: &'static str = "Gamut compression";
    const HELP: &'static str = "ACES reference gamut compression.";
    const ROLE: Role = Role::Scene;
    const EXAMPLE: &'static str = "thresholds = [0.7, 0.7, 0.8]";
    const EXTREMES: &'static [Extremes] = &[
        extremes(
            "limits",
            "saturated lights still leave the gamut, and become flat patches",
            "saturated lights lose colour that the display could show",
        ),
        extremes(
            "thresholds",
            "colours that were well within the gamut lose some saturation too",
            "saturated lights are pressed into a narrow band, and lose their shape",
        ),
        extremes(
            "power",
            "the bend is wide: moderate colours lose a little too",
            "the bend is abrupt, and shows as an edge in a colour that fades",
        ),
    ];

    fn make(&self, _: &dyn Context) -> Result<Maths, Refusals> {
        Compress::new(self.limits, self.thresholds, self.power).map(Maths::scene)
    }

    fn describe(&self, _: &dyn Fn(&str) -> bool) -> String {
        let what = "Colours far outside AP1 are moved back near its edge, gently";
        if *self == Self::default() {
            return format!("{what}, by the published numbers of the ACES reference gamut compression.");
        }
        let list = |values: [f64; 3]| values.map(plain).join(" ");
        format!(
            "{what} (ACES reference gamut compression): untouched up to {} from grey, limits {}, power {}; towards cyan, \
             magenta, yellow.",
            list(self.thresholds),
            list(self.limits),
            plain(self.power)
        )
    }
}

/// The compression, ready to apply. Domain: scene light, unbounded; range: near AP1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compress {
    thresholds: [f64; 3],
    scales: [f64; 3],
    power: f64,
}

impl Compress {
    /// From limits and thresholds towards cyan, magenta and yellow, and a power.
    ///
    /// # Errors
    /// Values out of [`LIMITS`], [`THRESHOLDS`] and [`POWER`].
    pub fn new(limits: [f64; 3], thresholds: [f64; 3], power: f64) -> Result<Self, Refusals> {
        let mut refusals = Refusals::new();
        refusals.bound_each(&LIMITS, &limits);
        refusals.bound_each(&THRESHOLDS, &thresholds);
        refusals.bound(&POWER, power);
        refusals.finish(|| {
            let scales = std::array::from_fn(|i| {
                let (limit, threshold) = (limits[i], thresholds[i]);
                let ratio = (1.0 - threshold) / (limit - threshold);
                (limit - threshold) / math::pow(math::pow(ratio, -power) - 1.0, 1.0 / power)
            });
            Self { thresholds, scales, power }
        })
    }

    /// With the published parameters.
    pub fn published() -> Self {
        Self::new(PUBLISHED_LIMITS, PUBLISHED_THRESHOLDS, PUBLISHED_POWER)
            .expect("the published parameters are in bounds")
    }

    /// The light after the step.
    pub fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        let achromatic = rgb[0].max(rgb[1]).max(rgb[2]);
        let size = achromatic.abs();
        if size == 0.0 {
            return rgb;
        }
        let distances = rgb.map(|c| (achromatic - c) / size);
        let stays: [bool; 3] = std::array::from_fn(|i| distances[i] < self.thresholds[i]);
        if stays == [true; 3] {
            return rgb;
        }
        let squeezed = self.curve(distances);
        std::array::from_fn(|i| if stays[i] { rgb[i] } else { achromatic - squeezed[i] * size })
    }

    /// Distances from grey in, at or over the thresholds, distances out; what lies below them means nothing.
    fn curve(&self, distances: [f64; 3]) -> [f64; 3] {
        // Any power will do for what stays, if it is a quick one.
        let normals = std::array::from_fn(|i| match (distances[i] - self.thresholds[i]) / self.scales[i] {
            below if below < 0.0 => 0.5,
            normal => normal,
        });
        // Beyond one, this form keeps its digits where normal^power would overflow.
        let far = normals.map(|normal| normal > 1.0);
        let inner = math::powers(normals, far.map(|far| if far { -self.power } else { self.power }));
        let roots = math::powers(inner.map(|power| 1.0 + power), [1.0 / self.power; 3]);
        std::array::from_fn(|i| {
            let squeezed = if far[i] { 1.0 / roots[i] } else { normals[i] / roots[i] };
            self.thresholds[i] + self.scales[i] * squeezed
        })
    }
}

impl OnScene for Compress {
    fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.apply(rgb)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_limit_lands_on_the_boundary() {
        let step = Compress::published();
        assert!(step.curve(PUBLISHED_LIMITS).iter().all(|d| (d - 1.0).abs() < 1e-14));
        assert_eq!(step.curve(PUBLISHED_THRESHOLDS), PUBLISHED_THRESHOLDS);
    }

    #[test]
    fn neutrals_and_inner_colours_are_untouched() {
        let step = Compress::published();
        for colour in [[0.18; 3], [0.0; 3], [-0.1; 3], [0.5, 0.3, 0.2], [1e9; 3]] {
            assert_eq!(step.apply(colour), colour);
        }
    }

    #[test]
    fn hostile_light_stays_finite_and_order_is_kept() {
        let step = Compress::published();
        for colour in [[1e30, -1e30, 0.0], [1e-300, -1.0, 1e-300], [0.0, -1.0, -2.0], [-1.0, -2.0, -3.0]] {
            assert!(step.apply(colour).iter().all(|c| c.is_finite()), "{colour:?}");
        }
        let mut last = f64::INFINITY;
        for i in 0..2000 {
            let out = step.apply([1.0, 1.0 - f64::from(i) * 0.01, 0.5])[1];
            assert!(out < last);
            last = out;
        }
    }

    #[test]
    fn every_bad_value_is_named() {
        let refused = Compress::new([1.0, 1.2, f64::NAN], [0.8, 1.0, 0.8], 0.5).unwrap_err();
        let keys: Vec<_> = refused.iter().map(|r| r.key.as_str()).collect();
        assert_eq!(keys, ["limits[0]", "limits[2]", "thresholds[1]", "power"]);
    }
}
