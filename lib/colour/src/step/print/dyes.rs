//! From print densities to amounts of dye, so that equal densities are exactly neutral.

use super::density::hermite;
use super::projector::Projector;
use nalgebra::Vector3;

/// From one row of the table to the next, in density.
const STEP: f64 = 0.05;

/// Amounts of cyan, magenta and yellow against equivalent neutral density.
///
/// A print density of D in all three layers lets exactly 10^-D of white pass, in white's own chromaticity. Amounts are
/// solved by Newton's method at steps of 0.05, with their slopes, and joined by cubic Hermite pieces.
#[derive(Debug, Clone)]
pub struct DyeTable {
    /// Number of the density zero.
    zero: f64,
    /// Amounts and slopes (per step) at each step.
    rows: Vec<[[f64; 3]; 2]>,
}

impl DyeTable {
    /// The table from density `low` (0 or less) to `high` (above 0).
    pub fn new(projector: &Projector, low: f64, high: f64) -> Self {
        let first = (low / STEP).floor() as i32 - 1;
        let last = (high / STEP).ceil() as i32 + 1;
        // Outward from zero, where the amounts are known to be zero, each row starts from the one before.
        let walk = |numbers: &mut dyn Iterator<Item = i32>, step: f64| {
            let mut rows = Vec::new();
            let (mut at, mut slope) = (Vector3::zeros(), Vector3::zeros());
            for n in numbers {
                (at, slope) = solve(projector, f64::from(n) * STEP, at + slope * step);
                rows.push((at, slope));
            }
            rows
        };
        let mut below = walk(&mut (first..=0).rev(), -STEP);
        below.reverse();
        let above = walk(&mut (0..=last), STEP);
        let all = below.iter().chain(&above[1..]);
        let rows = all.map(|(at, slope)| [(*at).into(), (slope * STEP).into()]).collect();
        Self { zero: -f64::from(first), rows }
    }

    /// Amount of each dye at the density of its own layer; densities beyond the table are held at its ends.
    #[inline(always)]
    pub fn amounts(&self, densities: [f64; 3]) -> [f64; 3] {
        let last = (self.rows.len() - 1) as f64;
        let mut amounts = [0.0; 3];
        for d in 0..3 {
            let position = (densities[d] / STEP + self.zero).clamp(0.0, last);
            let i = (position as i32 as usize).min(self.rows.len() - 2);
            let [from, leaving] = &self.rows[i];
            let [to, arriving] = &self.rows[i + 1];
            amounts[d] = hermite(position - i as f64, [from[d], to[d]], [leaving[d], arriving[d]]);
        }
        amounts
    }

    /// Least and greatest amount of each dye.
    pub fn span(&self) -> (Vector3<f64>, Vector3<f64>) {
        let ends = [self.rows[0], self.rows[self.rows.len() - 1]].map(|row| Vector3::from(row[0]));
        (ends[0], ends[1])
    }
}

/// The amounts that are neutral at `density`, and their slope by density, from a near `start`.
fn solve(projector: &Projector, density: f64, start: Vector3<f64>) -> (Vector3<f64>, Vector3<f64>) {
    use crate::math::ln;
    let goal = projector.white().map(|w| ln(w) - std::f64::consts::LN_10 * density);
    let mut at = start;
    for _ in 0..50 {
        let (light, slopes) = projector.light_and_slopes(&at);
        // In logarithms the equations are nearly straight.
        let rest = light.map(ln) - goal;
        let by_amount = nalgebra::Matrix3::from_fn(|r, c| slopes[(r, c)] / light[r]);
        let inverse = by_amount.try_inverse().expect("the dyes are independent at neutral densities");
        let step = inverse * rest;
        at -= step;
        if step.amax() < 1e-13 {
            return (at, inverse * Vector3::repeat(-std::f64::consts::LN_10));
        }
    }
    unreachable!("Newton's method settles within the densities that settings allow; a test walks them all")
}
