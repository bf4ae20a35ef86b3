//! Kelvin and tint of a white that is known by its chromaticity.

use super::locus::{KELVIN, TINT};
use super::{locus_white, planckian_chromaticity};
use crate::chromaticity::Xy;

/// The correlated colour temperature of a white, in kelvin, by the nearest point of the Planckian locus in CIE 1960 u, v;
/// within 1000 to 25 000 K.
pub fn temperature(white: Xy) -> f64 {
    let (u, v) = white.to_uv_1960();
    let away = |reciprocal: f64| {
        let Ok(xy) = planckian_chromaticity(1e6 / reciprocal) else { return f64::INFINITY };
        let (a, b) = xy.to_uv_1960();
        (a - u) * (a - u) + (b - v) * (b - v)
    };
    // In reciprocal kelvin (mired) the locus is nearly even.
    let (mut low, mut high) = (40.0_f64, 1000.0_f64);
    for _ in 0..80 {
        let third = (high - low) / 3.0;
        if away(low + third) < away(high - third) { high -= third } else { low += third }
    }
    1e6 / (0.5 * (low + high))
}

/// Kelvin and tint of a white, so that [`locus_white`] gives it back; none for a white outside [`KELVIN`] and [`TINT`].
pub fn kelvin_and_tint(white: Xy) -> Option<(f64, f64)> {
    let wanted = white.to_uv_1960();
    let apart = |[mired, tint]: [f64; 2]| {
        let (u, v) = locus_white(1e6 / mired, tint).ok()?.to_uv_1960();
        Some([u - wanted.0, v - wanted.1])
    };
    let size = |[u, v]: [f64; 2]| (u * u + v * v).sqrt();
    // Newton's method in reciprocal megakelvin and thousandths of Duv, both of about one step of sight.
    let mut at = [1e6 / temperature(white), 0.0];
    for _ in 0..60 {
        let here = apart(at)?;
        if size(here) < 1e-10 {
            break;
        }
        let slope = |moved: [f64; 2]| apart(moved).map(|[u, v]| [(u - here[0]) / 0.01, (v - here[1]) / 0.01]);
        let (across, along) = (slope([at[0] + 0.01, at[1]])?, slope([at[0], at[1] + 0.01])?);
        let determinant = across[0] * along[1] - along[0] * across[1];
        let step = [
            (along[1] * here[0] - along[0] * here[1]) / determinant,
            (across[0] * here[1] - across[1] * here[0]) / determinant,
        ];
        // Daylight and Planck's locus meet in a bend: no step over all of it.
        let most = 20.0 / size(step).max(20.0);
        at = [at[0] - step[0] * most, at[1] - step[1] * most];
    }
    let (kelvin, tint) = (1e6 / at[0], at[1]);
    let known = (KELVIN.min..=KELVIN.max).contains(&kelvin) && (TINT.min..=TINT.max).contains(&tint);
    (known && size(apart(at)?) < 1e-6).then_some((kelvin, tint))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_white_by_kelvin_and_tint_comes_back() {
        for kelvin in [1800.0, 2856.0, 3200.0, 3900.0, 4300.0, 4900.0, 5600.0, 6504.0, 9000.0, 15_000.0] {
            for tint in [-20.0, -5.0, 0.0, 4.0, 9.0] {
                let Ok(xy) = locus_white(kelvin, tint) else { continue };
                let (k, t) = kelvin_and_tint(xy).unwrap_or_else(|| panic!("{kelvin} {tint}"));
                assert!((k / kelvin - 1.0).abs() < 1e-4 && (t - tint).abs() < 0.01, "{kelvin} {tint}: {k} {t}");
            }
        }
        assert!(kelvin_and_tint(Xy::new(0.15, 0.06)).is_none());
    }
}
