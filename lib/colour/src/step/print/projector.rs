//! Projection: light of a lamp through three dyes, seen by the CIE 1931 observer.

use crate::chromaticity::Xy;
use crate::invalid::Invalid;
use crate::math::{Wide, exp, exp10, wide};
use crate::spectrum::{self, observer, planck};
use nalgebra::{Matrix3, Vector3};

/// From one wavelength of the sum to the next, nm.
const STEP_NM: f64 = 10.0;
const FIRST_NM: f64 = spectrum::FIRST;
/// Wavelengths of the sum, 380 to 780 nm.
const COUNT: usize = 41;
/// The same in whole lanes; what is left over has no weight.
const ROWS: usize = 11;
const LANES: usize = 4;

type Lane = [f64; LANES];
type Row = [Lane; ROWS];

/// From one row of a transmittance table to the next, in amounts of dye.
const TABLE_STEP: f64 = 1.0 / 16.0;

/// One absorption: peak, width towards short and long waves (standard deviations), all nm, and height.
struct Bell(f64, f64, f64, f64);

/// The dyes' densities for an amount of one: asymmetric Gaussians with side absorptions. Our own numbers, of no film
/// stock. Cyan, magenta, yellow.
const DYES: [&[Bell]; 3] = [
    &[Bell(660.0, 52.0, 60.0, 1.0), Bell(540.0, 45.0, 45.0, 0.10), Bell(430.0, 40.0, 50.0, 0.11)],
    &[Bell(545.0, 36.0, 27.0, 1.0), Bell(430.0, 40.0, 45.0, 0.16), Bell(640.0, 30.0, 60.0, 0.05)],
    &[Bell(447.0, 38.0, 36.0, 1.0), Bell(545.0, 40.0, 40.0, 0.05), Bell(650.0, 40.0, 40.0, 0.015)],
];

/// Density of dye `dye` (0 cyan, 1 magenta, 2 yellow) at `nm` for an amount of one.
pub fn dye_density(dye: usize, nm: f64) -> f64 {
    let bell = |&Bell(peak, left, right, height): &Bell| {
        let d = (nm - peak) / if nm < peak { left } else { right };
        height * exp(-0.5 * d * d)
    };
    DYES[dye].iter().map(bell).sum()
}

/// Density of the base at `nm`: faint, a little more towards short waves.
fn base_density(nm: f64) -> f64 {
    0.03 + 0.06 * exp(-(nm - FIRST_NM) / 70.0)
}

/// A lamp, the three dyes and the observer, on fixed wavelengths.
///
/// [`light`](Self::light) reads transmittances from tables, one a dye: it takes the nearest row and brings the rest,
/// at most 1/32 of an amount of each dye, by the Taylor series of the exponential to the fifth order. Against the plain
/// sum it deviates by less than 2e-9 of white.
#[derive(Debug, Clone)]
pub struct Projector {
    /// -ln 10 times the density for an amount of one, per dye and wavelength.
    decay: [Row; 3],
    /// Observer times lamp times base, X, Y, Z; Y sums to one.
    weights: [Row; 3],
    tables: [Table; 3],
    white: Vector3<f64>,
}

#[derive(Debug, Clone, Default)]
struct Table {
    /// Row number of the amount zero.
    zero: f64,
    rows: Vec<Row>,
}

impl Projector {
    /// A projector whose lamp is a black body at `kelvin`. Tables hold no rows until [`tabulate`](Self::tabulate).
    ///
    /// # Errors
    /// A temperature outside the domain of [`planck()`].
    pub fn new(kelvin: f64) -> Result<Self, Invalid> {
        let mut decay = [[[0.0; LANES]; ROWS]; 3];
        let mut weights = [[[0.0; LANES]; ROWS]; 3];
        let lamp = planck(kelvin)?;
        for i in 0..COUNT {
            let nm = FIRST_NM + STEP_NM * i as f64;
            let (row, lane) = (i / LANES, i % LANES);
            let power = lamp.samples()[i * (STEP_NM / spectrum::STEP) as usize] * exp10(-base_density(nm));
            for (k, seen) in observer(nm).into_iter().enumerate() {
                decay[k][row][lane] = -std::f64::consts::LN_10 * dye_density(k, nm);
                weights[k][row][lane] = seen * power;
            }
        }
        let luminance: f64 = weights[1].iter().flatten().sum();
        weights.iter_mut().flatten().flatten().for_each(|w| *w /= luminance);
        let white = Vector3::from_fn(|k, _| weights[k].iter().flatten().sum());
        Ok(Self { decay, weights, tables: Default::default(), white })
    }

    /// XYZ of the lamp through the base alone; Y = 1.
    pub const fn white(&self) -> &Vector3<f64> {
        &self.white
    }

    /// Chromaticity of the lamp through the base alone.
    pub fn white_chromaticity(&self) -> Xy {
        Xy::from_xyz(&self.white).expect("a lamp gives light")
    }

    /// XYZ through `amounts` of cyan, magenta and yellow, and its derivatives by them (a column a dye): the plain sum.
    pub fn light_and_slopes(&self, amounts: &Vector3<f64>) -> (Vector3<f64>, Matrix3<f64>) {
        let mut light = Vector3::zeros();
        let mut slopes = Matrix3::zeros();
        for i in 0..COUNT {
            let (row, lane) = (i / LANES, i % LANES);
            let decay = Vector3::from_fn(|d, _| self.decay[d][row][lane]);
            let passed = exp(decay.dot(amounts));
            let seen = Vector3::from_fn(|k, _| self.weights[k][row][lane]) * passed;
            light += seen;
            slopes += seen * decay.transpose();
        }
        (light, slopes)
    }

    /// Fills the tables for amounts between `low` and `high` of each dye.
    pub fn tabulate(&mut self, low: &Vector3<f64>, high: &Vector3<f64>) {
        for d in 0..3 {
            let first = (low[d] / TABLE_STEP).floor() as i64 - 1;
            let last = (high[d] / TABLE_STEP).ceil() as i64 + 1;
            let row = |n: i64| self.decay[d].map(|lane| lane.map(|decay| exp(decay * (n as f64 * TABLE_STEP))));
            self.tables[d] = Table { zero: -(first as f64), rows: (first..=last).map(row).collect() };
        }
    }

    /// XYZ through `amounts` of cyan, magenta and yellow, from the tables; amounts beyond them are held at their ends.
    #[inline(always)]
    pub fn light(&self, amounts: [f64; 3]) -> [f64; 3] {
        let mut rest = [0.0; 3];
        let mut nearest = [0; 3];
        for d in 0..3 {
            let table = &self.tables[d];
            let last = (table.rows.len() - 1) as f64;
            let position = (amounts[d] / TABLE_STEP + table.zero).clamp(0.0, last);
            nearest[d] = (position + 0.5) as i32 as usize;
            rest[d] = (position - nearest[d] as f64) * TABLE_STEP;
        }
        let [cyan, magenta, yellow] = &self.tables;
        let [cyan, magenta, yellow] = [&cyan.rows[nearest[0]], &magenta.rows[nearest[1]], &yellow.rows[nearest[2]]];
        wide(Sum { decay: &self.decay, weights: &self.weights, passed: [cyan, magenta, yellow], rest })
    }
}

/// The sum over the wavelengths, by far the most of the work of a print. A function of its own: within the rest of the print it
/// would share the registers, and a print takes a tenth longer.
struct Sum<'a> {
    decay: &'a [Row; 3],
    weights: &'a [Row; 3],
    /// Transmittances of the nearest rows of the dyes' tables.
    passed: [&'a Row; 3],
    /// Amounts beyond them.
    rest: [f64; 3],
}

impl Wide for Sum<'_> {
    type Output = [f64; 3];

    #[inline(always)]
    fn run<const FUSED: bool>(self) -> [f64; 3] {
        let Self { decay: [dc, dm, dy], weights: [wx, wy, wz], passed: [cyan, magenta, yellow], rest } = self;
        let mut sums = [[0.0; LANES]; 3];
        for row in 0..ROWS {
            for lane in 0..LANES {
                let t = dc[row][lane] * rest[0] + dm[row][lane] * rest[1] + dy[row][lane] * rest[2];
                let series = 1.0 + t * (1.0 + t * (C2 + t * (C3 + t * (C4 + t * C5))));
                let passed = cyan[row][lane] * magenta[row][lane] * yellow[row][lane] * series;
                sums[0][lane] += wx[row][lane] * passed;
                sums[1][lane] += wy[row][lane] * passed;
                sums[2][lane] += wz[row][lane] * passed;
            }
        }
        let mut light = [0.0; 3];
        for k in 0..3 {
            let [a, b, c, d] = sums[k];
            light[k] = (a + b) + (c + d);
        }
        light
    }
}

const C2: f64 = 1.0 / 2.0;
const C3: f64 = 1.0 / 6.0;
const C4: f64 = 1.0 / 24.0;
const C5: f64 = 1.0 / 120.0;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tables_give_the_plain_sum() {
        let mut projector = Projector::new(5600.0).unwrap();
        projector.tabulate(&Vector3::repeat(-1.5), &Vector3::new(5.5, 3.2, 3.8));
        let mut worst = 0.0_f64;
        for i in 0..4000 {
            // Weyl's sequence: even cover of the cube without chance.
            let at = |step: f64, low: f64, high: f64| low + (high - low) * (f64::from(i) * step).fract();
            let amounts = [at(0.8191725, -1.5, 5.5), at(0.6710436, -1.5, 3.2), at(0.5497005, -1.5, 3.8)];
            let (plain, _) = projector.light_and_slopes(&amounts.into());
            let fast = projector.light(amounts);
            for k in 0..3 {
                worst = worst.max((plain[k] - fast[k]).abs() / plain.max());
            }
        }
        assert!(worst < 2e-9, "{worst:e}");
    }

    #[test]
    fn the_slopes_are_the_derivatives() {
        let projector = Projector::new(5600.0).unwrap();
        let at = Vector3::new(0.7, 1.1, 0.4);
        let (_, slopes) = projector.light_and_slopes(&at);
        for d in 0..3 {
            let step = Vector3::from_fn(|i, _| if i == d { 1e-5 } else { 0.0 });
            let (above, _) = projector.light_and_slopes(&(at + step));
            let (below, _) = projector.light_and_slopes(&(at - step));
            assert!(((above - below) / 2e-5 - slopes.column(d)).norm() < 1e-9);
        }
    }

    #[test]
    fn the_lamp_is_near_the_white_of_its_temperature() {
        // The chromaticity of a black body at 5600 K (CIE 15 gives the locus; this point from memory, 1e-3).
        let white = Projector::new(5600.0).unwrap().white_chromaticity();
        assert!((white.x - 0.3302).abs() < 6e-3 && (white.y - 0.3391).abs() < 6e-3, "{white:?}");
    }
}
