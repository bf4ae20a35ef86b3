//! Places of many signals, for whole cubes: [`Difference::place`] from tables, some five times as fast.
//!
//! What the exact path computes by powers is interpolated here by cubics through a table of its own values, and the cube
//! root of CIELAB is found by Halley's iteration. A difference of two such places is within 1e-5 of the exact one, a
//! hundred-thousandth of what an eye tells apart. Like the exact path it has no function that rounds by machine.

use super::{Difference, Formula, ictcp_of_lms, lms};
use crate::display::Eotf;
use crate::transfer::{Transfer, pq::Pq};
use nalgebra::Vector3;

/// Cells of a table.
const CELLS: usize = 8192;
/// Cells at the low end in which the exact function is taken: powers bend too sharply there for a cubic.
const STEEP: f64 = 32.0;
/// Nits at the end of PQ.
const PQ_PEAK: f64 = 10_000.0;

/// What a cubic may miss in the middle of a cell; a curve that is put together of two misses more where they meet.
const MISS: f64 = 1e-11;

/// A function on 0..1, at evenly spaced places one cell beyond either end.
#[derive(Debug, Clone)]
struct Table {
    values: Vec<f64>,
    at_zero: f64,
    /// Cells in which the exact function is taken.
    exact: Vec<bool>,
}

impl Table {
    fn of(f: impl Fn(f64) -> f64) -> Self {
        let place = |i: usize| (i as f64 - 1.0) / CELLS as f64;
        let values = (0..CELLS + 3).map(|i| f(place(i))).collect();
        let mut table = Self { values, at_zero: f(0.0), exact: vec![false; CELLS] };
        table.exact = (0..CELLS)
            .map(|cell| (table.cubic(cell, 0.5) - f((cell as f64 + 0.5) / CELLS as f64)).abs() > MISS)
            .collect();
        table
    }

    /// The cubic through the four values around `x`; `exact` where the table does not serve.
    #[inline]
    fn at(&self, x: f64, exact: impl Fn(f64) -> f64) -> f64 {
        let place = x * CELLS as f64;
        let cell = (place.max(0.0) as usize).min(CELLS - 1);
        if !(STEEP..=CELLS as f64).contains(&place) || self.exact[cell] {
            return if x == 0.0 { self.at_zero } else { exact(x) };
        }
        self.cubic(cell, place - cell as f64)
    }

    /// The cubic of a cell, `t` of the way through it.
    #[inline]
    fn cubic(&self, cell: usize, t: f64) -> f64 {
        let [a, b, c, d] = [0, 1, 2, 3].map(|i| self.values[cell + i]);
        // Lagrange's polynomial through -1, 0, 1 and 2.
        let (s, u, v) = (1.0 - t, 1.0 + t, 2.0 - t);
        0.5 * u * v * (s * b + t * c) - t * s * (v * a + u * d) / 6.0
    }
}

/// [`Difference::place`] from tables.
#[derive(Debug, Clone)]
pub struct Quick<'d> {
    difference: &'d Difference,
    /// Signal to light, a fraction of the peak.
    light: Table,
    /// The eighth root of BT.2020 light over 10000 nits to PQ.
    pq: Option<Table>,
}

impl<'d> Quick<'d> {
    /// For `difference`; nothing where its display does not take each channel by itself (HLG).
    pub fn new(difference: &'d Difference) -> Option<Self> {
        if matches!(difference.display.settings().eotf, Eotf::Hlg) {
            return None;
        }
        let light = Table::of(|v| difference.light([v; 3])[0]);
        let eighth = |t: f64| {
            let square = t * t;
            let fourth = square * square;
            Pq::new().encode(PQ_PEAK * (fourth * fourth))
        };
        let pq = (difference.formula == Formula::DeltaEItp).then(|| Table::of(eighth));
        Some(Self { difference, light, pq })
    }

    /// Where a signal lies: CIELAB, or I, Ct, Cp.
    pub fn place(&self, signal: [f64; 3]) -> [f64; 3] {
        let light = signal.map(|v| self.light.at(v, |v| self.difference.light([v; 3])[0]));
        let light: [f64; 3] = (self.difference.matrix * Vector3::from(light)).into();
        match &self.pq {
            None => lab(light),
            Some(table) => ictcp_of_lms(lms(light).map(|nits| {
                if nits < 0.0 {
                    return Pq::new().encode(nits);
                }
                table.at((nits / PQ_PEAK).sqrt().sqrt().sqrt(), |_| Pq::new().encode(nits))
            })),
        }
    }
}

/// CIELAB of X / Xn, Y / Yn, Z / Zn.
fn lab(ratios: [f64; 3]) -> [f64; 3] {
    super::lab_by(ratios, cbrt)
}

/// From a guess by the bits of the exponent, 6 % off at most, by three-fold convergence to the last places.
fn cbrt(x: f64) -> f64 {
    /// A third of the exponent's bias that the division by three takes away, less what makes the guess fair both ways.
    const BIAS: u64 = 0x2a9f_7893_0000_0000;
    let guess = f64::from_bits(x.to_bits() / 3 + BIAS);
    let halley = |t: f64| {
        let cube = t * t * t;
        t * (cube + 2.0 * x) / (2.0 * cube + x)
    };
    halley(halley(guess))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::display::{Display, DisplaySettings, STANDARDS};

    #[test]
    fn the_cube_root_is_one() {
        for i in 1..40_000 {
            let x = f64::from(i) * 1e-4;
            assert!((cbrt(x) / crate::math::cbrt(x) - 1.0).abs() < 2e-12, "{x}");
        }
    }

    #[test]
    fn quick_differences_are_the_exact_ones() {
        for standard in &STANDARDS {
            for black in [0.0, 0.05] {
                let Ok(display) = Display::new(DisplaySettings { black, ..DisplaySettings::of(standard) }) else {
                    continue;
                };
                let difference = Difference::on(&display);
                let Some(quick) = Quick::new(&difference) else {
                    assert_eq!(standard.eotf, Eotf::Hlg);
                    continue;
                };
                // Roberts, "The unreasonable effectiveness of quasirandom sequences", 2018.
                const STEPS: [f64; 3] = [0.819_172_513_396_164_4, 0.671_043_606_703_789_3, 0.549_700_477_901_970_4];
                let signals: Vec<_> =
                    (1..4000).map(|i| STEPS.map(|step| (0.5 + step * f64::from(i)).fract())).collect();
                // As they are, in the shadows, and beyond both ends.
                for (scale, offset) in [(1.0, 0.0), (0.06, 0.0), (0.002, 0.0), (1.2, -0.1)] {
                    let reach = |p: [f64; 3]| p.map(|v| scale * v + offset);
                    for pair in signals.windows(2) {
                        let (a, b) = (reach(pair[0]), reach(pair[1]));
                        let exact = difference.between(difference.place(a), difference.place(b));
                        let got = difference.between(quick.place(a), quick.place(b));
                        assert!((got - exact).abs() < 1e-5, "{}: {a:?} {b:?}: {got} {exact}", standard.name);
                    }
                }
                for same in [[0.0; 3], [1.0; 3], [0.0, 1.0, 0.5]] {
                    let (quick, exact) = (quick.place(same), difference.place(same));
                    assert!((0..3).all(|i| (quick[i] - exact[i]).abs() < 1e-6), "{quick:?} {exact:?}");
                }
            }
        }
    }
}
