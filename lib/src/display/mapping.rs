//! How display light outside the gamut is brought in.

use crate::math;

/// A way into the gamut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Mapping {
    /// A straight line of constant luminance towards grey, bending in softly from 0.8 of the way to the boundary.
    #[default]
    Soft,
    /// Each channel cut off at 0 and at the peak: hues and luminance change, shapes are lost. For comparison.
    Clip,
}

/// Where the line begins to bend, as a share of the way from grey to the boundary.
const KNEE: f64 = 0.8;
/// How hard it bends.
const POWER: f64 = 1.2;

impl Mapping {
    /// Both ways.
    pub const ALL: [Self; 2] = [Self::Soft, Self::Clip];

    /// The name in documents.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Soft => "soft",
            Self::Clip => "clip",
        }
    }

    /// The way of that name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|m| m.name() == name)
    }

    /// Linear display light (peak 1, unbounded) to 0..1 in each channel; `weights` are those of luminance.
    pub fn apply(self, rgb: [f64; 3], weights: [f64; 3]) -> [f64; 3] {
        match self {
            Self::Soft => soft(rgb, weights),
            Self::Clip => rgb.map(|c| c.clamp(0.0, 1.0)),
        }
    }
}

fn soft(rgb: [f64; 3], weights: [f64; 3]) -> [f64; 3] {
    let luminance = (weights[0] * rgb[0] + weights[1] * rgb[1] + weights[2] * rgb[2]).clamp(0.0, 1.0);
    if luminance == 0.0 || luminance == 1.0 {
        return [luminance; 3];
    }
    let away = rgb.map(|c| c - luminance);
    // 1 on the boundary of the gamut, along the line from grey.
    let reach = away.iter().fold(0.0f64, |r, d| r.max(-d / luminance).max(d / (1.0 - luminance)));
    if reach <= KNEE {
        return rgb;
    }
    let z = (reach - KNEE) / (1.0 - KNEE);
    // The second form keeps its digits where z^POWER would overflow.
    let bent = if z < 1.0 {
        z / math::pow(1.0 + math::pow(z, POWER), 1.0 / POWER)
    } else {
        1.0 / math::pow(1.0 + math::pow(z, -POWER), 1.0 / POWER)
    };
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
            let out = Mapping::Soft.apply([grey; 3], weights());
            assert!(out.iter().all(|c| (c - grey).abs() < 1e-15));
        }
        assert_eq!(Mapping::Soft.apply([0.4, 0.5, 0.45], weights()), [0.4, 0.5, 0.45]);
    }

    #[test]
    fn beyond_black_and_white_is_black_and_white() {
        assert_eq!(Mapping::Soft.apply([-1.0, -0.5, 0.1], weights()), [0.0; 3]);
        assert_eq!(Mapping::Soft.apply([9.0, 2.0, 1.5], weights()), [1.0; 3]);
    }

    proptest! {
        #[test]
        fn luminance_is_kept_and_the_gamut_holds(r in -3.0..4.0f64, g in -3.0..4.0f64, b in -3.0..4.0f64) {
            let rgb = [r, g, b];
            let out = Mapping::Soft.apply(rgb, weights());
            prop_assert!(out.iter().all(|c| (0.0..=1.0).contains(c)));
            prop_assert!((luminance(out) - luminance(rgb).clamp(0.0, 1.0)).abs() < 1e-13);
        }

        #[test]
        fn the_order_along_a_line_is_kept(hue in 0.0..std::f64::consts::TAU, near in 0.0..4.0f64, step in 1e-3..1.0f64, grey in 0.05..0.95f64) {
            let line = |t: f64| {
                let d = [t * math::cos(hue), t * math::cos(hue + 2.1), t * math::cos(hue + 4.2)];
                let level = luminance(d);
                Mapping::Soft.apply(d.map(|c| grey + c - level), weights())
            };
            let away = |rgb: [f64; 3]| rgb.iter().map(|c| (c - grey).abs()).fold(0.0, f64::max);
            prop_assert!(away(line(near + step)) >= away(line(near)));
        }
    }

    #[test]
    fn hostile_light_is_finite() {
        for rgb in [[1e300, -1e300, 0.0], [1e-320, -1.0, 0.5], [-1e30, 1e30, 1e30], [1e-300, 0.0, 0.0]] {
            let out = Mapping::Soft.apply(rgb, weights());
            assert!(out.iter().all(|c| c.is_finite()), "{rgb:?}: {out:?}");
        }
    }
}
