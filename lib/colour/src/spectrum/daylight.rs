//! The daylight series of the CIE: its chromaticity locus, its spectra, and the illuminants D50 to D75.

use super::{COUNT, Spectrum};
use crate::chromaticity::Xy;
use crate::invalid::{Invalid, Parameter};

/// Correlated colour temperature of daylight, the domain of its polynomial (CIE 15:2018).
pub const KELVIN: Parameter = Parameter {
    key: "kelvin",
    min: 4000.0,
    max: 25_000.0,
    default: 6500.0 * NOMINAL,
    unit: "K",
    help: "correlated colour temperature of daylight",
};

/// From the nominal temperature of a CIE D illuminant to its correlated colour temperature. The series was fixed with
/// c2 = 1.4380e-2 m K; today's 1.4388e-2 moves every temperature by this factor, so that D65 lies at about 6504 K (CIE
/// 15:2018, 4.1.2, note).
pub const NOMINAL: f64 = 1.4388 / 1.4380;

/// The mean of daylight and its first two characteristic vectors: S0, S1, S2 at 380, 390, ... 780 nm, S0 100 at 560
/// (CIE 15:2004, table T.2).
#[rustfmt::skip]
const CHARACTERISTIC: [[f64; 3]; 41] = [
    [ 63.4,  38.5,  3.0], // 380
    [ 65.8,  35.0,  1.2], // 390
    [ 94.8,  43.4, -1.1], // 400
    [104.8,  46.3, -0.5], // 410
    [105.9,  43.9, -0.7], // 420
    [ 96.8,  37.1, -1.2], // 430
    [113.9,  36.7, -2.6], // 440
    [125.6,  35.9, -2.9], // 450
    [125.5,  32.6, -2.8], // 460
    [121.3,  27.9, -2.6], // 470
    [121.3,  24.3, -2.6], // 480
    [113.5,  20.1, -1.8], // 490
    [113.1,  16.2, -1.5], // 500
    [110.8,  13.2, -1.3], // 510
    [106.5,   8.6, -1.2], // 520
    [108.8,   6.1, -1.0], // 530
    [105.3,   4.2, -0.5], // 540
    [104.4,   1.9, -0.3], // 550
    [100.0,   0.0,  0.0], // 560
    [ 96.0,  -1.6,  0.2], // 570
    [ 95.1,  -3.5,  0.5], // 580
    [ 89.1,  -3.5,  2.1], // 590
    [ 90.5,  -5.8,  3.2], // 600
    [ 90.3,  -7.2,  4.1], // 610
    [ 88.4,  -8.6,  4.7], // 620
    [ 84.0,  -9.5,  5.1], // 630
    [ 85.1, -10.9,  6.7], // 640
    [ 81.9, -10.7,  7.3], // 650
    [ 82.6, -12.0,  8.6], // 660
    [ 84.9, -14.0,  9.8], // 670
    [ 81.3, -13.6, 10.2], // 680
    [ 71.9, -12.0,  8.3], // 690
    [ 74.3, -13.3,  9.6], // 700
    [ 76.4, -12.9,  8.5], // 710
    [ 63.3, -10.6,  7.0], // 720
    [ 71.7, -11.6,  7.6], // 730
    [ 77.0, -12.2,  8.0], // 740
    [ 65.2, -10.2,  6.7], // 750
    [ 47.7,  -7.8,  5.2], // 760
    [ 68.6, -11.2,  7.4], // 770
    [ 65.0, -10.4,  6.8], // 780
];

/// The chromaticity of daylight at a correlated colour temperature, taken as given: no factor is applied. Multiply the
/// nominal temperature of a CIE illuminant by [`NOMINAL`]. Domain: [`KELVIN`], 4000 to 25 000 K; refused outside.
pub fn daylight_chromaticity(kelvin: f64) -> Result<Xy, Invalid> {
    Ok(polynomial(KELVIN.check(kelvin)?))
}

/// The spectral power of daylight at a correlated colour temperature, taken as given as in [`daylight_chromaticity`]
/// (same domain): 1 at 560 nm, linear between the 10 nm of the table (CIE 15:2018). The weights of the vectors
/// are not rounded, so it varies smoothly; for the tabulated illuminants see [`illuminant_d`]. Its chromaticity lies up
/// to 1.1e-4 below the locus in y, as the published weights have it.
pub fn daylight(kelvin: f64) -> Result<Spectrum, Invalid> {
    let (m1, m2) = weights(daylight_chromaticity(kelvin)?);
    series(m1, m2)
}

/// A CIE illuminant D by its nominal temperature (5000, 5500, 6500, 7500 K for D50, D55, D65, D75), as the CIE computes
/// its table: [`NOMINAL`] applied, the weights of the vectors rounded to three decimals. 1 at 560 nm. Refused: a
/// temperature outside [`KELVIN`] after the factor.
pub fn illuminant_d(nominal: f64) -> Result<Spectrum, Invalid> {
    let (m1, m2) = weights(daylight_chromaticity(nominal * NOMINAL)?);
    series((m1 * 1000.0).round() / 1000.0, (m2 * 1000.0).round() / 1000.0)
}

/// CIE standard illuminant D65.
pub fn illuminant_d65() -> Spectrum {
    illuminant_d(6500.0).expect("6500 K is in the domain")
}

/// The daylight locus (CIE 15:2018).
pub(super) fn polynomial(kelvin: f64) -> Xy {
    let [a, b, c, d] = if kelvin <= 7000.0 {
        [-4.6070e9, 2.9678e6, 0.09911e3, 0.244063]
    } else {
        [-2.0064e9, 1.9018e6, 0.24748e3, 0.237040]
    };
    let x = ((a / kelvin + b) / kelvin + c) / kelvin + d;
    Xy::new(x, (-3.000 * x + 2.870) * x - 0.275)
}

/// The weights M1, M2 of the characteristic vectors for a chromaticity (CIE 15:2018).
fn weights(Xy { x, y }: Xy) -> (f64, f64) {
    let m = 0.0241 + 0.2562 * x - 0.7341 * y;
    ((-1.3515 - 1.7703 * x + 5.9114 * y) / m, (0.0300 - 31.4424 * x + 30.0717 * y) / m)
}

fn series(m1: f64, m2: f64) -> Result<Spectrum, Invalid> {
    let at = |i: usize| {
        let [s0, s1, s2] = CHARACTERISTIC[i];
        (s0 + m1 * s1 + m2 * s2) / 100.0
    };
    let mut samples = [0.0; COUNT];
    for (i, sample) in samples.iter_mut().enumerate() {
        *sample = if i % 2 == 0 { at(i / 2) } else { (at(i / 2) + at(i / 2 + 1)) / 2.0 };
    }
    Spectrum::new(samples)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// CIE 15:2004, table T.3 (five digits, from memory).
    #[test]
    fn the_illuminants_have_their_published_chromaticities() {
        let published = [
            (5000.0, 0.34567, 0.35851),
            (5500.0, 0.33243, 0.34744),
            (6500.0, 0.31272, 0.32903),
            (7500.0, 0.29903, 0.31488),
        ];
        for (nominal, x, y) in published {
            let xy = illuminant_d(nominal).unwrap().chromaticity().unwrap();
            assert!((xy.x - x).abs() < 1e-5 && (xy.y - y).abs() < 1e-5, "{nominal} K: {xy:?}");
        }
        assert_eq!(illuminant_d65().samples()[36], 1.0);
    }

    /// Points of the daylight locus to four digits (Wyszecki and Stiles, "Color Science", 2nd edition, 1982, from
    /// memory).
    #[test]
    fn the_locus_passes_its_published_points() {
        let published = [
            (4000.0, 0.3823, 0.3838),
            (5000.0, 0.3457, 0.3587),
            (6500.0, 0.3128, 0.3292),
            (10_000.0, 0.2788, 0.2920),
            (25_000.0, 0.2499, 0.2548),
        ];
        for (kelvin, x, y) in published {
            let xy = daylight_chromaticity(kelvin).unwrap();
            assert!((xy.x - x).abs() < 5.5e-5 && (xy.y - y).abs() < 5.5e-5, "{kelvin} K: {xy:?}");
        }
    }

    /// The weights are made to give the chromaticity of the locus, in the digits and for the sums of their time.
    #[test]
    fn spectrum_and_locus_agree_over_the_domain() {
        for i in 0..=210 {
            let kelvin = 4000.0 + 100.0 * f64::from(i);
            let (spectrum, locus) =
                (daylight(kelvin).unwrap().chromaticity().unwrap(), daylight_chromaticity(kelvin).unwrap());
            assert!((spectrum.x - locus.x).abs() < 4e-5 && (spectrum.y - locus.y).abs() < 1.1e-4, "{kelvin} K");
        }
    }

    #[test]
    fn temperatures_outside_are_refused() {
        for kelvin in [3990.0, 25_001.0, f64::NAN] {
            assert_eq!(daylight(kelvin).unwrap_err().key, "kelvin");
            assert!(daylight_chromaticity(kelvin).is_err() && illuminant_d(kelvin).is_err());
        }
    }
}
