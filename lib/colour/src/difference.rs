//! How far two colours lie apart to the eye, and the statistics of many such differences.
//!
//! A [`Difference`] belongs to one display: it takes two of its signals to CIELAB and CIEDE2000 where the display is of
//! standard dynamic range, and to Delta E ITP where it is PQ or HLG. Both are in their own units: about 1 is a difference
//! that a careful eye just sees side by side.
//!
//! | formula | source |
//! | --- | --- |
//! | CIELAB | CIE 15:2018, 8.2.1 |
//! | CIEDE2000 | ISO/CIE 11664-6:2014; Sharma, Wu and Dalal, Color Research and Application 30 (1), 2005 |
//! | ICtCp | ITU-R BT.2100-2 (2018), table 7 |
//! | Delta E ITP | ITU-R BT.2124-0 (2019), annex 1 |

pub mod quick;

use crate::chromaticity::D65;
use crate::colour::{Lab, Signal, Xyz};
use crate::display::Display;
use crate::gamut::BT2020;
use crate::math;
use crate::transfer::{Transfer, pq::Pq};
use nalgebra::{Matrix3, Vector3};
use std::sync::LazyLock;

/// The formula of the colour difference.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Formula {
    /// CIEDE2000, for displays of standard dynamic range.
    Ciede2000,
    /// Delta E ITP of ITU-R BT.2124, for PQ and HLG.
    DeltaEItp,
}

impl Formula {
    /// The name in reports.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Ciede2000 => "ciede2000",
            Self::DeltaEItp => "delta-e-itp",
        }
    }

    /// The name in sentences.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Ciede2000 => "CIEDE2000",
            Self::DeltaEItp => "Delta E ITP",
        }
    }
}

/// Constants of CIE 15:2018, 8.2.1: where the cube root gives way to a straight line.
mod lab_constants {
    pub(super) const EDGE: f64 = 6.0 / 29.0;
    pub(super) const OFFSET: f64 = 4.0 / 29.0;
}

/// CIELAB of XYZ seen under `white`, both in the same unit. Domain: any finite XYZ, white above zero.
pub fn lab(xyz: impl Into<Xyz>, white: impl Into<Xyz>) -> Lab {
    let (xyz, white) = (xyz.into(), white.into());
    Lab(lab_of_ratios(std::array::from_fn(|i| xyz[i] / white[i])))
}

/// CIELAB of X / Xn, Y / Yn, Z / Zn.
fn lab_of_ratios(ratios: [f64; 3]) -> [f64; 3] {
    lab_by(ratios, math::cbrt)
}

/// [`lab_of_ratios`] by a cube root.
fn lab_by(ratios: [f64; 3], cbrt: impl Fn(f64) -> f64) -> [f64; 3] {
    use lab_constants::{EDGE, OFFSET};
    let [x, y, z] = ratios.map(|t| if t > EDGE * EDGE * EDGE { cbrt(t) } else { t / (3.0 * EDGE * EDGE) + OFFSET });
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

/// Cosine and sine of the angles of the hue function of CIEDE2000.
mod angles {
    pub(super) const COS_30: f64 = 0.8660254037844387;
    pub(super) const SIN_30: f64 = 0.5;
    pub(super) const COS_6: f64 = 0.9945218953682733;
    pub(super) const SIN_6: f64 = 0.10452846326765347;
    pub(super) const COS_63: f64 = 0.4539904997395468;
    pub(super) const SIN_63: f64 = 0.8910065241883678;
}

/// 25 to the power 7.
const POW_25_7: f64 = 6_103_515_625.0;
/// Degrees in a radian.
const DEGREES: f64 = 180.0 / std::f64::consts::PI;

/// C^7 / (C^7 + 25^7), square root taken.
fn chroma_share(chroma: f64) -> f64 {
    let c3 = chroma * chroma * chroma;
    let c7 = c3 * c3 * chroma;
    // Beyond the largest number the share is one.
    if c7.is_infinite() { 1.0 } else { (c7 / (c7 + POW_25_7)).sqrt() }
}

/// What CIEDE2000 divides lightness, chroma and hue by, and how it couples the last two.
#[derive(Debug, Clone, Copy)]
struct Weights {
    lightness: f64,
    chroma: f64,
    hue: f64,
    rotation: f64,
}

impl Weights {
    /// At a mean lightness, a mean chroma C' and the unit vector of the mean hue h'.
    fn at(lightness: f64, chroma: f64, [c1, s1]: [f64; 2]) -> Self {
        use angles::{COS_6, COS_30, COS_63, SIN_6, SIN_30, SIN_63};
        // Cosines of multiples of the hue from its own cosine and sine: no angle is needed.
        let (c2, s2) = (c1 * c1 - s1 * s1, 2.0 * s1 * c1);
        let (c3, s3) = (c2 * c1 - s2 * s1, s2 * c1 + c2 * s1);
        let (c4, s4) = (c2 * c2 - s2 * s2, 2.0 * s2 * c2);
        let t = 1.0 - 0.17 * (c1 * COS_30 + s1 * SIN_30) + 0.24 * c2 + 0.32 * (c3 * COS_6 - s3 * SIN_6)
            - 0.20 * (c4 * COS_63 + s4 * SIN_63);
        let around = (lightness - 50.0) * (lightness - 50.0);
        let mut degrees = math::atan2(s1, c1) * DEGREES;
        if degrees < 0.0 {
            degrees += 360.0;
        }
        let away = (degrees - 275.0) / 25.0;
        let theta = 30.0 * math::exp(-away * away);
        Self {
            lightness: 1.0 + 0.015 * around / (20.0 + around).sqrt(),
            chroma: 1.0 + 0.045 * chroma,
            hue: 1.0 + 0.015 * chroma * t,
            rotation: -math::sin(2.0 * theta / DEGREES) * 2.0 * chroma_share(chroma),
        }
    }
}

/// CIEDE2000 between two CIELAB colours, all three parametric factors 1. Domain: finite; range: zero and up.
pub fn ciede2000(one: impl Into<Lab>, two: impl Into<Lab>) -> f64 {
    let (one, two) = (one.into(), two.into());
    let length = |x: f64, y: f64| (x * x + y * y).sqrt();
    let stretch = 1.0 + 0.5 * (1.0 - chroma_share((length(one[1], one[2]) + length(two[1], two[2])) / 2.0));
    let (a1, b1, a2, b2) = (stretch * one[1], one[2], stretch * two[1], two[2]);
    let (c1, c2) = (length(a1, b1), length(a2, b2));
    let (dl, dc) = (two[0] - one[0], c2 - c1);
    // The mean hue as a unit vector, and the difference of the hues as a chord. Where a colour has no hue, the other's
    // counts, and there is no difference.
    let (hue, dh) = match (c1 > 0.0, c2 > 0.0) {
        (true, true) => {
            let (u, v) = ([a1 / c1, b1 / c1], [a2 / c2, b2 / c2]);
            let chord = [v[0] - u[0], v[1] - u[1]];
            let turn = a1 * b2 - b1 * a2;
            // Opposite hues are halved on the side that the angles 0 to 360 degrees say.
            let forward = if turn == 0.0 { b1 > 0.0 || (b1 == 0.0 && a1 > 0.0) } else { turn > 0.0 };
            let side = if forward { 1.0 } else { -1.0 };
            let mean = if u[0] * v[0] + u[1] * v[1] >= 0.0 {
                [u[0] + v[0], u[1] + v[1]]
            } else {
                [side * chord[1], -side * chord[0]]
            };
            let size = length(mean[0], mean[1]);
            (mean.map(|m| m / size), side * (c1 * c2).sqrt() * length(chord[0], chord[1]))
        }
        (true, false) => ([a1 / c1, b1 / c1], 0.0),
        (false, true) => ([a2 / c2, b2 / c2], 0.0),
        (false, false) => ([1.0, 0.0], 0.0),
    };
    let w = Weights::at((one[0] + two[0]) / 2.0, (c1 + c2) / 2.0, hue);
    let (l, c, h) = (dl / w.lightness, dc / w.chroma, dh / w.hue);
    // The rotation can take the sum below zero by rounding alone.
    (l * l + c * c + h * h + w.rotation * c * h).max(0.0).sqrt()
}

/// The square of CIEDE2000 for a small step from `lab`, as a symmetric matrix over steps in L*, a*, b*.
pub fn ciede2000_tensor(lab: [f64; 3]) -> Matrix3<f64> {
    let [l, a, b] = lab;
    let stretch = 1.0 + 0.5 * (1.0 - chroma_share((a * a + b * b).sqrt()));
    let chroma = (stretch * a * stretch * a + b * b).sqrt();
    let [cos, sin] = if chroma > 0.0 { [stretch * a / chroma, b / chroma] } else { [1.0, 0.0] };
    let w = Weights::at(l, chroma, [cos, sin]);
    // Steps in L*, C' and H', each over its weight.
    let steps = Matrix3::new(
        1.0 / w.lightness,
        0.0,
        0.0, //
        0.0,
        stretch * cos / w.chroma,
        sin / w.chroma, //
        0.0,
        -stretch * sin / w.hue,
        cos / w.hue,
    );
    let coupled = Matrix3::new(1.0, 0.0, 0.0, 0.0, 1.0, w.rotation / 2.0, 0.0, w.rotation / 2.0, 1.0);
    steps.transpose() * coupled * steps
}

/// Constants of ITU-R BT.2100-2, table 7, and ITU-R BT.2124-0, annex 1.
mod itp_constants {
    pub(super) const LMS: [[f64; 3]; 3] = [
        [1688.0 / 4096.0, 2146.0 / 4096.0, 262.0 / 4096.0],
        [683.0 / 4096.0, 2951.0 / 4096.0, 462.0 / 4096.0],
        [99.0 / 4096.0, 309.0 / 4096.0, 3688.0 / 4096.0],
    ];
    pub(super) const I: [f64; 3] = [0.5, 0.5, 0.0];
    pub(super) const CT: [f64; 3] = [6610.0 / 4096.0, -13613.0 / 4096.0, 7003.0 / 4096.0];
    pub(super) const CP: [f64; 3] = [17933.0 / 4096.0, -17390.0 / 4096.0, -543.0 / 4096.0];
    /// Share of Ct that is T.
    pub(super) const T: f64 = 0.5;
    /// What makes 1 a just visible difference.
    pub(super) const SCALE: f64 = 720.0;
}

fn dot(row: [f64; 3], v: [f64; 3]) -> f64 {
    row[0] * v[0] + row[1] * v[1] + row[2] * v[2]
}

/// I, Ct, Cp (PQ form) of linear BT.2020 light in nits, each channel 0 to 10000.
pub fn ictcp(nits: [f64; 3]) -> [f64; 3] {
    let pq = Pq::new();
    ictcp_of_lms(pq.encode_each(lms(nits)))
}

/// L, M, S of linear BT.2020 light, in its unit.
fn lms(light: [f64; 3]) -> [f64; 3] {
    itp_constants::LMS.map(|row| dot(row, light))
}

/// I, Ct, Cp of L, M, S in PQ.
fn ictcp_of_lms(lms: [f64; 3]) -> [f64; 3] {
    use itp_constants::{CP, CT, I};
    [dot(I, lms), dot(CT, lms), dot(CP, lms)]
}

/// Luminance in nits of I, Ct, Cp: the way back from [`ictcp`], to the second row of XYZ of BT.2020.
pub fn luminance_of_ictcp(place: [f64; 3]) -> f64 {
    use itp_constants::{CP, CT, I, LMS};
    static BACK: LazyLock<(Matrix3<f64>, Vector3<f64>)> = LazyLock::new(|| {
        let rows = |m: [[f64; 3]; 3]| Matrix3::from_fn(|r, c| m[r][c]);
        let inverse = |m: Matrix3<f64>| m.try_inverse().expect("the published matrices have inverses");
        let to_y = BT2020.to_xyz().row(1).transpose();
        (inverse(rows([I, CT, CP])), inverse(rows(LMS)).transpose() * to_y)
    });
    let pq = Pq::new();
    (BACK.0 * Vector3::from(place)).map(|v| pq.decode(v)).dot(&BACK.1)
}

/// Delta E ITP between two colours given as I, Ct, Cp.
pub fn delta_e_itp(one: [f64; 3], two: [f64; 3]) -> f64 {
    use itp_constants::{SCALE, T};
    let d = [one[0] - two[0], T * (one[1] - two[1]), one[2] - two[2]];
    SCALE * dot(d, d).sqrt()
}

/// I, T, P of I, Ct, Cp, scaled so that the distance of two of them is Delta E ITP.
pub fn itp([i, ct, cp]: [f64; 3]) -> [f64; 3] {
    use itp_constants::{SCALE, T};
    [SCALE * i, SCALE * T * ct, SCALE * cp]
}

/// How far two signals of one display lie apart.
#[derive(Debug, Clone)]
pub struct Difference {
    display: Display,
    formula: Formula,
    /// Display light (fraction of the peak) to XYZ over the picture's white, or to BT.2020 light in nits.
    matrix: Matrix3<f64>,
    /// Display light (fraction of the peak) to XYZ over diffuse white, under D65.
    over_white: Matrix3<f64>,
    /// The display's black over its peak.
    black: f64,
}

/// The step in signal over which a tensor is taken.
const STEP: f64 = 2e-3;

impl Difference {
    /// For signals of `display`: CIEDE2000 under the picture's white at its peak, or Delta E ITP for PQ and HLG. The
    /// light of the display's own black counts.
    pub fn on(display: &Display) -> Self {
        let s = display.settings();
        if !s.eotf.is_hdr() {
            return Self::lab_on(display);
        }
        let matrix = display.gamut().to(&BT2020, None) * s.peak;
        Self { formula: Formula::DeltaEItp, matrix, ..Self::lab_on(display) }
    }

    /// CIELAB and CIEDE2000 under the picture's diffuse white, whatever the display: L* goes beyond 100 where the light
    /// goes beyond white.
    pub fn lab_on(display: &Display) -> Self {
        let s = display.settings();
        let to_xyz = display.gamut().to_xyz();
        let white = to_xyz * Vector3::from(display.to_linear(<[f64; 3]>::from(display.picture_white().to_xyz(1.0))).0);
        let matrix = Matrix3::from_diagonal(&white.map(|v| 1.0 / v)) * to_xyz * display.peak_ratio();
        let over_white = Matrix3::from_diagonal(&D65.to_xyz(1.0)) * matrix;
        let black = s.black / s.peak;
        Self { display: display.clone(), formula: Formula::Ciede2000, matrix, over_white, black }
    }

    /// Which formula it is.
    pub const fn formula(&self) -> Formula {
        self.formula
    }

    /// Where a signal lies: CIELAB, or I, Ct, Cp.
    pub fn place(&self, signal: impl Into<Signal>) -> [f64; 3] {
        let light = (self.matrix * Vector3::from(self.light(signal))).into();
        match self.formula {
            Formula::Ciede2000 => lab_of_ratios(light),
            Formula::DeltaEItp => ictcp(light),
        }
    }

    /// XYZ of a signal over diffuse white, which is D65 with Y = 1; light of the display's black counts.
    pub fn xyz_over_white(&self, signal: impl Into<Signal>) -> Xyz {
        Xyz((self.over_white * Vector3::from(self.light(signal))).into())
    }

    /// Display light of a signal with that of the black, a fraction of the peak.
    fn light(&self, signal: impl Into<Signal>) -> [f64; 3] {
        let peak = self.display.peak_ratio();
        self.display.decode(signal).map(|c| self.black + (1.0 - self.black) * c / peak)
    }

    /// The difference of two places.
    pub fn between(&self, one: [f64; 3], two: [f64; 3]) -> f64 {
        match self.formula {
            Formula::Ciede2000 => ciede2000(one, two),
            Formula::DeltaEItp => delta_e_itp(one, two),
        }
    }

    /// The square of the difference for a small step of signal from `signal`, as a symmetric matrix over steps in red,
    /// green and blue. Steps of 0.002 of signal towards the middle of its range stand for the small ones.
    pub fn tensor(&self, signal: impl Into<Signal>) -> Matrix3<f64> {
        let signal = signal.into();
        let here = self.place(signal);
        let mut slopes = Matrix3::zeros();
        for channel in 0..3 {
            let step = if signal[channel] > 0.5 { -STEP } else { STEP };
            let mut moved = signal;
            moved[channel] += step;
            let there = self.place(moved);
            for i in 0..3 {
                slopes[(i, channel)] = (there[i] - here[i]) / step;
            }
        }
        let local = match self.formula {
            Formula::Ciede2000 => ciede2000_tensor(here),
            Formula::DeltaEItp => {
                use itp_constants::{SCALE, T};
                Matrix3::from_diagonal(&Vector3::new(1.0, T * T, 1.0)) * (SCALE * SCALE)
            }
        };
        slopes.transpose() * local * slopes
    }
}

/// What many differences come to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Statistics {
    /// How many there are.
    pub count: usize,
    /// Their mean.
    pub mean: f64,
    /// The smallest value that 95 of 100 do not exceed (nearest rank).
    pub p95: f64,
    /// The smallest value that 99 of 100 do not exceed (nearest rank).
    pub p99: f64,
    /// The largest.
    pub max: f64,
    /// Where the largest stands; the first of several.
    pub worst: usize,
}

impl Statistics {
    /// Of a list; all zero for an empty one. NaN counts as larger than any number.
    pub fn of(differences: &[f64]) -> Self {
        let count = differences.len();
        if count == 0 {
            return Self { count, mean: 0.0, p95: 0.0, p99: 0.0, max: 0.0, worst: 0 };
        }
        // Sums of runs, then their sum: little rounding, and the same order always.
        let sum: f64 = differences.chunks(1024).map(|run| run.iter().sum::<f64>()).sum();
        let mut ranked = differences.to_vec();
        let mut rank = |percent: usize| {
            let place = (count * percent).div_ceil(100) - 1;
            *ranked.select_nth_unstable_by(place, f64::total_cmp).1
        };
        let (p95, p99, max) = (rank(95), rank(99), rank(100));
        let worst = differences.iter().position(|d| d.total_cmp(&max).is_eq()).unwrap_or(0);
        Self { count, mean: sum / count as f64, p95, p99, max, worst }
    }

    /// How many of a list exceed `limit`.
    pub fn over(differences: &[f64], limit: f64) -> usize {
        differences.iter().filter(|d| d.total_cmp(&limit).is_gt()).count()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::display::standard;
    use proptest::prelude::*;

    #[test]
    fn the_angles_are_those_of_the_formula() {
        use angles::*;
        for (degrees, cos, sin) in [(30.0, COS_30, SIN_30), (6.0, COS_6, SIN_6), (63.0, COS_63, SIN_63)] {
            assert!((math::cos(degrees / DEGREES) - cos).abs() < 2e-16);
            assert!((math::sin(degrees / DEGREES) - sin).abs() < 2e-16);
        }
    }

    #[test]
    fn white_is_white_on_every_display() {
        for display in crate::display::STANDARDS {
            let d = Difference::on(&Display::of(&display));
            let white = d.place([1.0; 3]);
            match d.formula() {
                Formula::Ciede2000 => {
                    assert!((white[0] - 100.0).abs() < 1e-10, "{} {white:?}", display.name);
                    assert!(white[1].abs() < 1e-10 && white[2].abs() < 1e-10);
                }
                // Neutral in BT.2100: no Ct, no Cp.
                Formula::DeltaEItp => assert!(white[1].abs() < 1e-12 && white[2].abs() < 1e-12, "{white:?}"),
            }
        }
    }

    #[test]
    fn luminance_comes_back_from_ictcp() {
        for nits in [[100.0, 100.0, 100.0], [0.0, 0.0, 300.0], [900.0, 2.0, 0.5], [0.01, 0.02, 0.0]] {
            let want = BT2020.to_xyz().row(1).transpose().dot(&Vector3::from(nits));
            let got = luminance_of_ictcp(ictcp(nits));
            assert!((got / want - 1.0).abs() < 1e-6, "{nits:?}: {got}, not {want}");
        }
    }

    #[test]
    fn statistics_of_a_hundred() {
        let list: Vec<f64> = (1..=100).rev().map(f64::from).collect();
        let s = Statistics::of(&list);
        assert_eq!((s.count, s.mean, s.p95, s.p99, s.max, s.worst), (100, 50.5, 95.0, 99.0, 100.0, 0));
        assert_eq!(Statistics::over(&list, 90.0), 10);
        assert!(Statistics::of(&[1.0, f64::NAN]).max.is_nan());
        assert_eq!(Statistics::of(&[]).count, 0);
    }

    proptest! {
        #[test]
        fn ciede2000_is_symmetric_and_zero_only_at_home(
            l in 0.0..100.0f64, a in -120.0..120.0f64, b in -120.0..120.0f64,
            m in 0.0..100.0f64, c in -120.0..120.0f64, d in -120.0..120.0f64,
        ) {
            let (one, two) = ([l, a, b], [m, c, d]);
            prop_assert!((ciede2000(one, two) - ciede2000(two, one)).abs() < 1e-10);
            prop_assert_eq!(ciede2000(one, one), 0.0);
            prop_assert!(ciede2000(one, two) > 0.0);
        }

        #[test]
        fn the_tensor_is_the_square_of_small_differences(
            r in 0.05..0.95f64, g in 0.05..0.95f64, b in 0.05..0.95f64,
            x in -1.0..1.0f64, y in -1.0..1.0f64, z in -1.0..1.0f64, hdr in any::<bool>(),
        ) {
            let display = standard(if hdr { "bt2100-pq" } else { "bt709" }).unwrap();
            let d = Difference::on(&Display::of(display));
            let signal = [r, g, b];
            let step = Vector3::new(x, y, z) * 1e-4;
            prop_assume!(step.norm() > 2e-5);
            let there = std::array::from_fn(|i| signal[i] + step[i]);
            let exact = d.between(d.place(signal), d.place(there));
            let tensor = (step.transpose() * d.tensor(signal) * step)[0].sqrt();
            // Slopes over 0.002 of signal have an error in proportion to their size where the curve bends.
            prop_assert!((tensor - exact).abs() < 0.06 * exact + 1e-6, "{tensor} {exact}");
        }
    }
}
