//! How display light outside the gamut is brought in.
//!
//! `soft` moves a colour along a straight line of constant luminance towards grey. With Y the luminance and d the three
//! channels less Y, all as shares of the peak, the distances to the gamut's faces are
//!
//! > r = -d / Y where d is below zero, d / (top - Y) where it is above,
//!
//! and how far out the colour lies is their 8-norm, which is smooth where two faces meet. Up to 0.45 of the way it stays;
//! beyond, with z = (reach - 0.45) / 0.55, it comes to 0.45 + 0.55 z / (1 + z⁴)^(1/4): all derivatives up to the third are
//! continuous, and the boundary is met only by colours infinitely far out. `top` is 1, or less for HLG ([`Ceiling`]).

use crate::math;

/// A way into the gamut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[non_exhaustive]
pub enum Mapping {
    /// A straight line of constant luminance towards grey, bending in softly from 0.45 of the way to the boundary.
    #[default]
    Soft,
    /// Each channel cut off at 0 and at the peak: hues and luminance change, shapes are lost. For comparison.
    Clip,
}

/// The brightest that a channel may be, as a share of the peak, at a luminance.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Ceiling {
    /// That of white, whatever the luminance.
    White,
    /// The luminance to this power, above 0 and below 1. The signal of HLG is the light over its luminance to the power
    /// (gamma - 1) / gamma (ITU-R BT.2100-2, table 5, the inverse OOTF): a saturated light reaches the end of the signal
    /// before its channel reaches the peak.
    Power(f64),
}

impl Ceiling {
    /// That of HLG with this system gamma.
    pub fn of_system_gamma(gamma: f64) -> Self {
        if gamma > 1.0 { Self::Power((gamma - 1.0) / gamma) } else { Self::White }
    }

    fn at(self, luminance: f64) -> f64 {
        match self {
            Self::White => 1.0,
            Self::Power(power) => math::pow(luminance, power),
        }
    }
}

/// Where the line begins to bend, as a share of the way from grey to the boundary. Earlier, and colours next to a primary
/// pale; later, and cubes fold at sky blues and greens near white.
const KNEE: f64 = 0.45;

crate::named!(Mapping, "mapping", { Soft => "soft", Clip => "clip" });

impl Mapping {
    /// Linear display light (peak 1, unbounded) to 0..1 in each channel; `weights` are those of luminance.
    pub fn apply(self, rgb: [f64; 3], weights: [f64; 3], ceiling: Ceiling) -> [f64; 3] {
        match self {
            Self::Soft => soft(rgb, weights, ceiling),
            Self::Clip => rgb.map(|c| c.clamp(0.0, 1.0)),
        }
    }
}

fn soft(rgb: [f64; 3], weights: [f64; 3], ceiling: Ceiling) -> [f64; 3] {
    let luminance = (weights[0] * rgb[0] + weights[1] * rgb[1] + weights[2] * rgb[2]).clamp(0.0, 1.0);
    if luminance == 0.0 || luminance == 1.0 {
        return [luminance; 3];
    }
    let room = ceiling.at(luminance) - luminance;
    let away = rgb.map(|c| c - luminance);
    // 1 on a face of the gamut, along the line from grey.
    let reaches = away.map(|d| if d < 0.0 { -d / luminance } else { d / room });
    let most = reaches[0].max(reaches[1]).max(reaches[2]);
    // The norm is at most 3^(1/8) times the largest, 1.147.
    if most <= KNEE / 1.15 {
        return rgb;
    }
    let sum: f64 = reaches
        .iter()
        .map(|r| {
            let square = (r / most) * (r / most);
            (square * square) * (square * square)
        })
        .sum();
    let reach = most * sum.sqrt().sqrt().sqrt();
    if reach <= KNEE {
        return rgb;
    }
    let z = (reach - KNEE) / (1.0 - KNEE);
    let bend = |z: f64| (1.0 + (z * z) * (z * z)).sqrt().sqrt();
    // The second form keeps its digits where z to the fourth power would overflow.
    let bent = if z < 1.0 { z / bend(z) } else { 1.0 / bend(1.0 / z) };
    let scale = (KNEE + (1.0 - KNEE) * bent) / reach;
    away.map(|d| (luminance + d * scale).clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gamut::BT709;
    use proptest::prelude::*;

    fn weights() -> [f64; 3] {
        BT709.luminance_weights().into()
    }

    fn luminance(rgb: [f64; 3]) -> f64 {
        (0..3).map(|i| weights()[i] * rgb[i]).sum()
    }

    #[test]
    fn neutrals_and_inner_colours_stay() {
        for grey in [0.0, 0.18, 0.9, 1.0] {
            let out = Mapping::Soft.apply([grey; 3], weights(), Ceiling::White);
            assert!(out.iter().all(|c| (c - grey).abs() < 1e-15));
        }
        assert_eq!(Mapping::Soft.apply([0.4, 0.5, 0.45], weights(), Ceiling::White), [0.4, 0.5, 0.45]);
    }

    #[test]
    fn beyond_black_and_white_is_black_and_white() {
        assert_eq!(Mapping::Soft.apply([-1.0, -0.5, 0.1], weights(), Ceiling::White), [0.0; 3]);
        assert_eq!(Mapping::Soft.apply([9.0, 2.0, 1.5], weights(), Ceiling::White), [1.0; 3]);
    }

    proptest! {
        #[test]
        fn luminance_is_kept_and_the_gamut_holds(r in -3.0..4.0f64, g in -3.0..4.0f64, b in -3.0..4.0f64) {
            let rgb = [r, g, b];
            let out = Mapping::Soft.apply(rgb, weights(), Ceiling::White);
            prop_assert!(out.iter().all(|c| (0.0..=1.0).contains(c)));
            prop_assert!((luminance(out) - luminance(rgb).clamp(0.0, 1.0)).abs() < 1e-13);
        }

        #[test]
        fn the_order_along_a_line_is_kept(hue in 0.0..std::f64::consts::TAU, near in 0.0..4.0f64, step in 1e-3..1.0f64, grey in 0.05..0.95f64) {
            let line = |t: f64| {
                let d = [t * math::cos(hue), t * math::cos(hue + 2.1), t * math::cos(hue + 4.2)];
                let level = luminance(d);
                Mapping::Soft.apply(d.map(|c| grey + c - level), weights(), Ceiling::White)
            };
            let away = |rgb: [f64; 3]| rgb.iter().map(|c| (c - grey).abs()).fold(0.0, f64::max);
            prop_assert!(away(line(near + step)) >= away(line(near)));
        }
    }

    /// Across the plane where two channels are equal, the second difference of the mapped colour has no peak: no crease.
    #[test]
    fn there_is_no_crease_where_two_faces_meet() {
        let at = |t: f64| Mapping::Soft.apply([0.9 + t, 0.9 - t, 0.02], weights(), Ceiling::White)[0];
        let bend = |t: f64| (at(t + 1e-3) - 2.0 * at(t) + at(t - 1e-3)).abs() / 1e-6;
        let (across, beside) = (bend(0.0), bend(0.02).max(bend(-0.02)));
        assert!(across < 1.5 * beside + 0.5, "{across} across, {beside} beside");
    }

    #[test]
    fn below_a_ceiling_the_signal_of_hlg_has_room() {
        let ceiling = Ceiling::of_system_gamma(1.2);
        for rgb in [[0.1, 0.02, 4.0], [3.0, 0.1, 0.2], [0.4, 0.5, 0.9], [1.2, 1.1, 0.1]] {
            let out = Mapping::Soft.apply(rgb, weights(), ceiling);
            let top = math::pow(luminance(out), 0.2 / 1.2);
            assert!(out.iter().all(|c| (0.0..=top + 1e-12).contains(c)), "{rgb:?}: {out:?} over {top}");
        }
        assert_eq!(Ceiling::of_system_gamma(0.9), Ceiling::White);
    }

    #[test]
    fn hostile_light_is_finite() {
        for rgb in [[1e300, -1e300, 0.0], [1e-320, -1.0, 0.5], [-1e30, 1e30, 1e30], [1e-300, 0.0, 0.0]] {
            let out = Mapping::Soft.apply(rgb, weights(), Ceiling::White);
            assert!(out.iter().all(|c| c.is_finite()), "{rgb:?}: {out:?}");
        }
    }
}
