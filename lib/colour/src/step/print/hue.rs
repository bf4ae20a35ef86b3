//! The hue guard: turns the light of a rendering towards the hue that the scene's light had, at equal luminance.
//!
//! Curves on separate channels, and dyes, turn the hue of strong light as it gets brighter: a deep blue goes to violet
//! and lilac, a red to orange. The guard compares two colours in Oklab ([`crate::oklab`]), the exposures that went in
//! and the light that came out, and moves a and b of the second towards the direction of the first. Chroma and
//! lightness stay nearly as they were; luminance stays exactly.
//!
//! With (Ls, as, bs) of the exposures, their chroma r, and (L, a, b) of the light, its chroma c:
//!
//! > near = 1/2 + 1/2 (as cos 75° + bs sin 75°) / r,
//! > w = strength (1 - warmth near⁸) r² / (r² + (0.05 Ls)²),
//! > (a', b') = (1 - w) (a, b) + w c / r (as, bs).
//!
//! - The weight `w` is 0 at grey and half at a saturation of 0.05, so that the map is smooth there and skin stays nearly
//!   as the dyes have it.
//! - Unit vectors are blended, not angles: where the two hues disagree much, the colour also pales a little.
//! - Orange is let go by `warmth`, so that fire and sodium lamps may go to yellow as they brighten, as the eye expects of
//!   them (Bezold and Brücke) and film does. The direction opposite is not let go at all.
//! - All of it happens under D65, so that a display white of another colour makes no grey coloured.

use super::{apply, rows};
use crate::adaptation::Adaptation;
use crate::chromaticity::{ACES, D65, Xy};
use crate::gamut::AP1;
use crate::math::{cbrt_each, cos, exp10, sin};
use crate::oklab;
use nalgebra::{Matrix3, Vector3};

/// Share of each neighbour in an exposure whose hue is read, beside the crosstalk that it has: near the blue corner of AP1
/// Oklab's hue swings by 18 degrees within a cell of a cube, and this calms it. More of it makes blues violet: of a line at
/// 465 nm by 1.3 degrees for each hundredth.
const READ_MIX: f64 = 0.03;
/// The hue of Oklab that is let go, degrees: amber, on the yellow side of flames.
const WARM: f64 = 75.0;
/// Saturation (chroma over lightness of Oklab) at which the guard reaches half of its strength.
const HALF: f64 = 0.05;
/// Keeps the division by chroma finite at grey.
const TINY: f64 = 1e-30;

/// A guard, ready to work on light: see the module.
#[derive(Debug, Clone)]
pub struct HueGuard {
    strength: f64,
    warmth: f64,
    warm: [f64; 2],
    /// Exposures to LMS, 1 each at grey.
    scene: [[f64; 3]; 3],
    /// Light to LMS, 1 each at its white.
    light: [[f64; 3]; 3],
    to_lab: [[f64; 3]; 3],
    from_lab: [[f64; 3]; 3],
    /// LMS to the display's XYZ.
    back: [[f64; 3]; 3],
    to_display: [[f64; 3]; 3],
}

impl HueGuard {
    /// A guard of `strength` (0: leaves light alone, 1: the scene's hue) that lets orange go by `warmth` (0 to 1), for
    /// light under the chromaticity `white` that `to_display` carries to the display's XYZ. `gains` are factors on the
    /// exposures, such as printer lights, which the hue that is aimed for follows.
    pub fn new(strength: f64, warmth: f64, gains: [f64; 3], white: Xy, to_display: &Matrix3<f64>) -> Self {
        let scaled =
            |lms: Matrix3<f64>, white: Vector3<f64>| Matrix3::from_diagonal(&(lms * white).map(|v| 1.0 / v)) * lms;
        let to_lms = oklab::matrix(&oklab::XYZ_TO_LMS);
        let mix = super::interlayer::crosstalk_matrix(READ_MIX);
        let scene = to_lms * Adaptation::Bradford.matrix(ACES, D65) * AP1.to_xyz() * mix;
        let scene = scaled(scene, Vector3::repeat(1.0)) * Matrix3::from_diagonal(&gains.into());
        let light = scaled(to_lms * Adaptation::Bradford.matrix(white, D65), white.to_xyz(1.0));
        // Rows that sum to 1, 0 and 0 make greys exactly grey; the printed ones miss it by 4e-8.
        let mut to_lab = oklab::matrix(&oklab::LMS_TO_LAB);
        for (row, sum) in [1.0, 0.0, 0.0].into_iter().enumerate() {
            to_lab[(row, 2)] = sum - to_lab[(row, 0)] - to_lab[(row, 1)];
        }
        let inverse = |m: &Matrix3<f64>| m.try_inverse().expect("Oklab's matrices and adaptations have inverses");
        let angle = WARM * std::f64::consts::PI / 180.0;
        Self {
            strength,
            warmth,
            warm: [cos(angle), sin(angle)],
            scene: rows(&scene),
            from_lab: rows(&inverse(&to_lab)),
            to_lab: rows(&to_lab),
            back: rows(&(to_display * inverse(&light))),
            light: rows(&light),
            to_display: rows(to_display),
        }
    }

    /// Factors of printer lights, log10 exposure of each layer's print, on the scene: through the slope of a negative.
    pub fn gains_of(lights: [f64; 3], gamma: f64) -> [f64; 3] {
        lights.map(|light| exp10(-light / gamma))
    }

    /// Display XYZ of `xyz` under the guard's white, its hue turned towards that of `exposures`, which are above zero. The
    /// luminance is that of the light without the guard.
    #[inline(always)]
    pub fn apply(&self, exposures: [f64; 3], xyz: [f64; 3]) -> [f64; 3] {
        let plain = apply(&self.to_display, xyz);
        if self.strength == 0.0 {
            return plain;
        }
        let [s0, s1, s2] = apply(&self.scene, exposures);
        let [t0, t1, t2] = apply(&self.light, xyz);
        // Both in one go: no root waits for another.
        let [s0, s1, s2, t0, t1, t2] = cbrt_each([s0, s1, s2, t0, t1, t2]);
        let [scene_l, scene_a, scene_b] = apply(&self.to_lab, [s0, s1, s2]);
        let [l, a, b] = apply(&self.to_lab, [t0, t1, t2]);
        let square = scene_a * scene_a + scene_b * scene_b;
        let r = (square + TINY).sqrt();
        let c = (a * a + b * b).sqrt();
        let near = 0.5 + 0.5 * (scene_a * self.warm[0] + scene_b * self.warm[1]) / r;
        // Narrow enough that red does not follow orange to yellow.
        let fourth = (near * near) * (near * near);
        let let_go = fourth * fourth;
        let half = HALF * scene_l;
        // w / r, which is finite at grey.
        let pull = self.strength * (1.0 - self.warmth * let_go) * r / (square + half * half);
        let stay = 1.0 - pull * r;
        let turned = [l, stay * a + pull * c * scene_a, stay * b + pull * c * scene_b];
        let [x, y, z] = apply(&self.back, cubes(apply(&self.from_lab, turned)));
        let gain = plain[1] / y;
        [x * gain, y * gain, z * gain]
    }
}

#[inline(always)]
fn cubes(roots: [f64; 3]) -> [f64; 3] {
    let mut cubes = roots;
    for k in 0..3 {
        cubes[k] = roots[k] * roots[k] * roots[k];
    }
    cubes
}
