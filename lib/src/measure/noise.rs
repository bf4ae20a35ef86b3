//! The photon transfer: how noise rises with light, and where the signal is lost in it.
//!
//! Variance against mean light, var = a + b x + c x^2, as the photon transfer method of EMVA 1288 (release 4.0) has it for
//! a linear sensor: a is the dark noise, b the system gain K in units of light for an electron (shot noise), c the
//! square of the non-uniformity, where one frame was measured and not the difference of two. A picture that a camera has
//! developed and denoised is not that of a linear sensor: a, b and c then describe the picture, and electrons are only
//! nominal.

use nalgebra::{DMatrix, DVector};

/// Variance by light: `dark + gain x + fixed x^2`, each at least 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PhotonTransfer {
    /// a: variance without light, light squared.
    pub dark: f64,
    /// b: light for an electron.
    pub gain: f64,
    /// c: variance in proportion to the light, squared; no unit.
    pub fixed: f64,
}

/// One exposure: mean light over black, its variance, and from how many samples.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Mean light over black.
    pub light: f64,
    /// Variance.
    pub variance: f64,
    /// Samples.
    pub count: usize,
}

impl PhotonTransfer {
    /// The weighted least-squares fit to points: each variance is trusted by its own scatter, 2 var^2 / n, with var of the
    /// fit before; none of the terms is below 0. None for fewer than three points of different light.
    pub fn fit(points: &[Point]) -> Option<Self> {
        let mut lights: Vec<f64> = points.iter().map(|p| p.light).collect();
        lights.sort_by(f64::total_cmp);
        lights.dedup();
        if lights.len() < 3 || points.iter().any(|p| !(p.variance >= 0.0 && p.light.is_finite())) {
            return None;
        }
        let mut weights: Vec<f64> = points.iter().map(|p| weight(p.variance, p.count)).collect();
        let mut fitted = None;
        for _ in 0..ROUNDS {
            let now = weighted(points, &weights)?;
            weights = points.iter().map(|p| weight(now.variance(p.light), p.count)).collect();
            fitted = Some(now);
        }
        fitted
    }

    /// The variance at a light.
    pub fn variance(&self, light: f64) -> f64 {
        self.dark + (self.gain + self.fixed * light) * light
    }

    /// Light over its noise.
    pub fn ratio(&self, light: f64) -> f64 {
        let noise = self.variance(light.max(0.0)).sqrt();
        if noise > 0.0 { light / noise } else { f64::INFINITY }
    }

    /// Noise in stops: the standard deviation of log2 of the light, to first order.
    pub fn stops(&self, light: f64) -> f64 {
        1.0 / (self.ratio(light) * std::f64::consts::LN_2)
    }

    /// The light at which signal over noise is `ratio`; `None` if it is never reached.
    pub fn light_at(&self, ratio: f64) -> Option<f64> {
        // x^2 = r^2 (a + b x + c x^2)
        let square = ratio * ratio;
        let (p, q, r) = (1.0 - square * self.fixed, square * self.gain, square * self.dark);
        (p > 0.0).then(|| (q + (q * q + 4.0 * p * r).sqrt()) / (2.0 * p))
    }

    /// Electrons that an amount of light stands for, where there is shot noise.
    pub fn electrons(&self, light: f64) -> Option<f64> {
        (self.gain > 0.0).then(|| light / self.gain)
    }
}

/// Rounds of new weights; the fit converges after a few.
const ROUNDS: usize = 12;

fn weight(variance: f64, count: usize) -> f64 {
    count as f64 / (2.0 * variance * variance).max(f64::MIN_POSITIVE)
}

/// The fit with given weights: of all choices of terms, the best with none below 0.
fn weighted(points: &[Point], weights: &[f64]) -> Option<PhotonTransfer> {
    let scale = points.iter().map(|p| p.light.abs()).fold(0.0, f64::max).max(f64::MIN_POSITIVE);
    let basis = |light: f64| [1.0, light / scale, light / scale * (light / scale)];
    // Roots of the weights, of a mean of about one.
    let most = weights.iter().fold(0.0_f64, |a, b| a.max(*b));
    let roots: Vec<f64> = weights.iter().map(|w| (w / most).sqrt()).collect();
    let target = DVector::from_iterator(points.len(), points.iter().zip(&roots).map(|(p, w)| p.variance * w));
    let mut best: Option<(f64, [f64; 3])> = None;
    for choice in 1..8u8 {
        let terms: Vec<usize> = (0..3).filter(|t| choice >> t & 1 == 1).collect();
        let matrix = DMatrix::from_fn(points.len(), terms.len(), |i, j| basis(points[i].light)[terms[j]] * roots[i]);
        // Columns of very different size: scaled to one, so that small terms are not lost.
        let sizes: Vec<f64> = matrix.column_iter().map(|c| c.norm().max(f64::MIN_POSITIVE)).collect();
        let scaled = DMatrix::from_fn(points.len(), terms.len(), |i, j| matrix[(i, j)] / sizes[j]);
        let Ok(solved) = scaled.clone().svd(true, true).solve(&target, 1e-14) else { continue };
        if solved.iter().any(|v| *v < 0.0) {
            continue;
        }
        let left = (&scaled * &solved - &target).norm_squared();
        if best.is_none_or(|(least, _)| left < least) {
            let mut found = [0.0; 3];
            for (j, t) in terms.iter().enumerate() {
                found[*t] = solved[j] / sizes[j];
            }
            best = Some((left, found));
        }
    }
    best.map(|(_, [a, b, c])| PhotonTransfer { dark: a, gain: b / scale, fixed: c / (scale * scale) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::exp2;

    fn points(truth: PhotonTransfer) -> Vec<Point> {
        (-8..=5)
            .map(|stop| 0.18 * exp2(f64::from(stop)))
            .map(|light| Point { light, variance: truth.variance(light), count: 10_000 })
            .collect()
    }

    #[test]
    fn an_exact_curve_is_found_again() {
        for truth in [
            PhotonTransfer { dark: 1e-7, gain: 2e-5, fixed: 4e-5 },
            PhotonTransfer { dark: 0.0, gain: 2e-5, fixed: 0.0 },
            PhotonTransfer { dark: 1e-6, gain: 0.0, fixed: 1e-4 },
        ] {
            let found = PhotonTransfer::fit(&points(truth)).unwrap();
            for (found, truth) in [(found.dark, truth.dark), (found.gain, truth.gain), (found.fixed, truth.fixed)] {
                assert!((found - truth).abs() <= 1e-6 * truth + 1e-12, "{found} for {truth}");
            }
        }
    }

    #[test]
    fn the_light_of_a_ratio_has_that_ratio() {
        let noise = PhotonTransfer { dark: 1e-7, gain: 2e-5, fixed: 4e-5 };
        for ratio in [1.0, 2.0, 10.0, 100.0] {
            let light = noise.light_at(ratio).unwrap();
            assert!((noise.ratio(light) - ratio).abs() < 1e-9 * ratio);
        }
        // The fixed pattern keeps the ratio below 1 / sqrt(c).
        assert_eq!(noise.light_at(200.0), None);
    }

    #[test]
    fn too_few_points_give_nothing() {
        let all = points(PhotonTransfer { dark: 1e-7, gain: 2e-5, fixed: 0.0 });
        assert_eq!(PhotonTransfer::fit(&all[..2]), None);
        assert_eq!(PhotonTransfer::fit(&[all[0]; 5]), None);
    }
}
