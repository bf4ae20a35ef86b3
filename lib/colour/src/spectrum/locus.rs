//! White points by temperature and tint, the way a camera's white balance names them.

use super::daylight::polynomial;
use super::planck::{planckian_chromaticity, slope};
use crate::chromaticity::Xy;
use crate::invalid::{Invalid, Parameter};
use crate::math;
use nalgebra::Vector3;

/// Correlated colour temperature of a white: 1000 K, below candle light, to 25 000 K, the end of the daylight series.
pub const KELVIN: Parameter = Parameter {
    key: "kelvin",
    min: 1000.0,
    max: 25_000.0,
    default: 5600.0,
    unit: "K",
    help: "correlated colour temperature of the white",
};

/// Tint of a white, in thousandths of Duv. Beyond 0.05 Duv a correlated colour temperature means nothing (CIE
/// 15:2018).
pub const TINT: Parameter = Parameter {
    key: "tint",
    min: -50.0,
    max: 50.0,
    default: 0.0,
    unit: "thousandths of Duv",
    help: "towards green above zero, towards magenta below",
};

/// Below the first, whites without tint are Planck's; above the second, daylight.
const BLEND: [f64; 2] = [4000.0, 5000.0];

/// The white of a correlated colour temperature and a tint.
///
/// Without tint it lies on the Planckian locus up to 4000 K, on the daylight locus from 5000 K, and between on a smooth
/// blend of the two in CIE 1960 u, v (Hermite step). `tint` moves it by `tint` / 1000 in u, v square to the Planckian
/// locus, along the line of constant correlated colour temperature: above zero towards green. So tint is measured from
/// the light that a set or a sky of that temperature has; daylight itself lies about 0.003 Duv green of Planck's.
///
/// Domain: [`KELVIN`] and [`TINT`]; refused outside. Refused as well: a warm white with so much green that no light can
/// be it (Z at or below zero), such as 2500 K beyond a tint of 19.6; the message gives the limit.
pub fn locus_white(kelvin: f64, tint: f64) -> Result<Xy, Invalid> {
    let (kelvin, tint) = (KELVIN.check(kelvin)?, TINT.check(tint)?);
    let planck = planckian_chromaticity(kelvin)?.to_uv_1960();
    let share = math::smooth_step(BLEND[0], BLEND[1], kelvin);
    let daylight = if share > 0.0 { polynomial(kelvin).to_uv_1960() } else { planck };
    let (u, v) = (planck.0 + share * (daylight.0 - planck.0), planck.1 + share * (daylight.1 - planck.1));
    let (du, dv) = towards_green(kelvin)?;
    // Z falls to zero on the line u + 10 v = 4, which bounds real lights on the green side of a warm white.
    let limit = 1000.0 * (4.0 - u - 10.0 * v) / (du + 10.0 * dv);
    if tint > 0.0 && limit > 0.0 && tint >= limit {
        let most = (limit * 10.0).floor() / 10.0;
        let message = format!("{tint} at {kelvin} K is greener than any light: it must be at most {most:.1} there");
        return Err(Invalid::new(TINT.key, message));
    }
    Ok(Xy::from_uv_1960(u + 0.001 * tint * du, v + 0.001 * tint * dv))
}

/// The unit vector in CIE 1960 u, v square to the Planckian locus, on its green side. `kelvin` is in the domain.
fn towards_green(kelvin: f64) -> Result<(f64, f64), Invalid> {
    let (light, rise) = (super::planck(kelvin)?.to_xyz(), slope(kelvin).to_xyz());
    // u = 4 X / d and v = 6 Y / d with d = X + 15 Y + 3 Z; the slopes of both times d^2 have the same direction.
    let weights = Vector3::new(1.0, 15.0, 3.0);
    let (d, d_rise) = (weights.dot(&light), weights.dot(&rise));
    let du = 4.0 * (rise.x * d - light.x * d_rise);
    let dv = 6.0 * (rise.y * d - light.y * d_rise);
    let length = (du * du + dv * dv).sqrt();
    // u falls all along the locus as it gets hotter, so the side to the right of its path is green.
    Ok((dv / length, -du / length))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spectrum::daylight_chromaticity;

    fn kelvins() -> impl Iterator<Item = f64> {
        (0..=480).map(|i| 1000.0 + 50.0 * f64::from(i))
    }

    fn distance(a: Xy, b: Xy) -> f64 {
        let ((u, v), (s, t)) = (a.to_uv_1960(), b.to_uv_1960());
        ((u - s) * (u - s) + (v - t) * (v - t)).sqrt()
    }

    #[test]
    fn whites_without_tint_lie_on_the_two_loci() {
        for kelvin in kelvins() {
            let white = locus_white(kelvin, 0.0).unwrap();
            if kelvin <= 4000.0 {
                assert!(distance(white, planckian_chromaticity(kelvin).unwrap()) < 1e-15);
            } else if kelvin >= 5000.0 {
                assert!(distance(white, daylight_chromaticity(kelvin).unwrap()) < 1e-15);
            }
        }
    }

    /// The blend has no jump, and neither stops nor turns back: u falls at every step.
    #[test]
    fn hotter_is_bluer_all_the_way() {
        let u = |kelvin: f64| locus_white(kelvin, 0.0).unwrap().to_uv_1960().0;
        for (a, b) in kelvins().zip(kelvins().skip(1)) {
            assert!(u(b) < u(a), "{a} K to {b} K");
        }
        for kelvin in (0..1000).map(|i| 4000.0 + f64::from(i)) {
            let step = distance(locus_white(kelvin, 0.0).unwrap(), locus_white(kelvin + 1.0, 0.0).unwrap());
            assert!(step < 4e-5, "{kelvin} K: {step}");
        }
    }

    #[test]
    fn tint_has_its_length_is_square_to_the_locus_and_green() {
        for kelvin in kelvins().skip(1) {
            let base = locus_white(kelvin, 0.0).unwrap();
            let h = kelvin * 1e-5;
            let [(u, v), (s, t)] = [kelvin - h, kelvin + h].map(|k| planckian_chromaticity(k).unwrap().to_uv_1960());
            for tint in [-50.0, -10.0, 10.0, 50.0] {
                let Ok(white) = locus_white(kelvin, tint) else {
                    assert!(tint > 0.0 && kelvin < 4500.0, "{kelvin} K, {tint}");
                    continue;
                };
                assert!((distance(white, base) - 0.001 * f64::abs(tint)).abs() < 1e-14);
                let ((a, b), (c, d)) = (white.to_uv_1960(), base.to_uv_1960());
                let cosine = ((a - c) * (s - u) + (b - d) * (t - v))
                    / (0.001 * tint * ((s - u) * (s - u) + (t - v) * (t - v)).sqrt());
                assert!(cosine.abs() < 1e-6, "{kelvin} K: {cosine}");
                assert_eq!(b > d, tint > 0.0, "{kelvin} K");
                assert!(white.x > 0.0 && white.y > 0.0 && white.x + white.y < 1.0);
            }
        }
    }

    /// The limit in the message is where Z reaches zero.
    #[test]
    fn a_tint_that_no_light_has_is_refused_at_its_limit() {
        let last = locus_white(2500.0, 19.6).unwrap();
        assert!((0.0..1e-3).contains(&(1.0 - last.x - last.y)), "{last:?}");
        let refused = locus_white(2500.0, 20.0).unwrap_err();
        assert_eq!(refused.key, "tint");
        assert!(refused.message.contains("at most 19.6"), "{}", refused.message);
    }

    #[test]
    fn values_outside_are_refused() {
        assert_eq!(locus_white(999.0, 0.0).unwrap_err().key, "kelvin");
        assert_eq!(locus_white(f64::NAN, 0.0).unwrap_err().key, "kelvin");
        assert_eq!(locus_white(5000.0, 50.1).unwrap_err().key, "tint");
    }
}
