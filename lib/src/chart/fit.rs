//! The matrix from a camera's light to colours: white kept exactly, and the least CIEDE2000 over the patches.
//!
//! What is least is the sum of sqrt(1 + e^2) - 1 of each patch's CIEDE2000 e, which counts small differences by their
//! squares and large ones by their size, so that one faded patch does not turn all others. The exposure of each frame is
//! free. Solved by Levenberg and Marquardt's method on the three parts of each difference.

use super::ChartError;
use crate::chromaticity::D65;
use crate::difference::{ciede2000, ciede2000_tensor, lab};
use crate::gamut::{CATALOGUE, Gamut, XYZ};
use crate::math::{exp2, log2};
use nalgebra::{DMatrix, DVector, Matrix3, Vector3};

/// What a camera gives of the patches of a chart in one frame, and what they are.
#[derive(Debug, Clone, PartialEq)]
pub struct Seen {
    /// Linear light, red, green, blue: equal for a neutral surface.
    pub light: Vec<[f64; 3]>,
    /// XYZ adapted to D65, Y = 1 of the perfect diffuser.
    pub reference: Vec<[f64; 3]>,
    /// Patches that are used; others are only reported.
    pub used: Vec<bool>,
}

/// A matrix, and what it needs and leaves.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Camera light to XYZ under D65, a column vector on its right; 1, 1, 1 goes to the white of D65 at Y = 1.
    pub matrix: Matrix3<f64>,
    /// Stops by which each frame's light is brightened to be right.
    pub stops: Vec<f64>,
    /// The sum that is least.
    pub cost: f64,
}

fn white() -> Vector3<f64> {
    D65.to_xyz(1.0)
}

/// The unconstrained linear least-squares matrix from light to XYZ; none where the colours do not span it.
pub fn least_squares(light: &[[f64; 3]], reference: &[[f64; 3]]) -> Option<Matrix3<f64>> {
    let (mut square, mut cross) = (Matrix3::zeros(), Matrix3::zeros());
    for (rgb, xyz) in light.iter().zip(reference) {
        let (rgb, xyz) = (Vector3::from(*rgb), Vector3::from(*xyz));
        square += rgb * rgb.transpose();
        cross += xyz * rgb.transpose();
    }
    square.try_inverse().filter(|i| i.iter().all(|v| v.is_finite())).map(|inverse| cross * inverse)
}

/// CIEDE2000 of each patch of a frame through a matrix, brightened by `stops`.
pub fn differences(seen: &Seen, matrix: &Matrix3<f64>, stops: f64) -> Vec<f64> {
    let white: [f64; 3] = white().into();
    let gain = exp2(stops);
    let of = |(rgb, xyz): (&[f64; 3], &[f64; 3])| {
        ciede2000(lab(*xyz, white), lab(matrix * (Vector3::from(*rgb) * gain), white))
    };
    seen.light.iter().zip(&seen.reference).map(of).collect()
}

/// The patches of every frame, ready to be compared.
struct Problem<'s> {
    frames: &'s [Seen],
    white: [f64; 3],
    /// CIELAB of each reference, and the root of its tensor.
    wanted: Vec<Vec<([f64; 3], Matrix3<f64>)>>,
    /// A matrix that is not searched for: only exposures are.
    fixed: Option<Matrix3<f64>>,
}

impl<'s> Problem<'s> {
    fn new(frames: &'s [Seen], fixed: Option<Matrix3<f64>>) -> Self {
        let white: [f64; 3] = white().into();
        let one = |xyz: &[f64; 3]| {
            let place = lab(*xyz, white).0;
            let tensor = ciede2000_tensor(place);
            // The tensor's root, upper half; its diagonal where rounding took it below zero.
            let root = tensor.cholesky().map_or_else(
                || Matrix3::from_diagonal(&tensor.diagonal().map(|v| v.max(1e-12).sqrt())),
                |c| c.l().transpose(),
            );
            (place, root)
        };
        let wanted = frames.iter().map(|f| f.reference.iter().map(one).collect()).collect();
        Self { frames, white, wanted, fixed }
    }

    fn matrix(&self, p: &[f64]) -> Matrix3<f64> {
        if let Some(matrix) = self.fixed {
            return matrix;
        }
        Matrix3::from_fn(|r, c| if c < 2 { p[2 * r + c] } else { self.white[r] - p[2 * r] - p[2 * r + 1] })
    }

    fn stops<'p>(&self, p: &'p [f64]) -> &'p [f64] {
        if self.fixed.is_some() { p } else { &p[6..] }
    }

    /// Three parts of each difference, whose squares sum to twice what is least.
    fn parts(&self, p: &[f64]) -> Vec<f64> {
        let (matrix, stops) = (self.matrix(p), self.stops(p));
        let mut parts = Vec::new();
        for ((frame, wanted), stops) in self.frames.iter().zip(&self.wanted).zip(stops) {
            let gain = exp2(*stops);
            for (i, (target, root)) in wanted.iter().enumerate().filter(|(i, _)| frame.used[*i]) {
                let found = lab(matrix * (Vector3::from(frame.light[i]) * gain), self.white).0;
                let apart = root * (Vector3::from(found) - Vector3::from(*target));
                let (size, true_size) = (apart.norm(), ciede2000(*target, found));
                let robust = (2.0 * ((1.0 + true_size * true_size).sqrt() - 1.0)).max(0.0).sqrt();
                let scale = if size > 1e-12 { robust / size } else { 1.0 };
                parts.extend((apart * scale).iter().copied());
            }
        }
        parts
    }

    fn cost(parts: &[f64]) -> f64 {
        0.5 * parts.iter().map(|v| v * v).sum::<f64>()
    }

    /// Levenberg and Marquardt from a start.
    fn solve(&self, start: Vec<f64>) -> (Vec<f64>, f64) {
        let mut p = start;
        let mut parts = self.parts(&p);
        let mut cost = Self::cost(&parts);
        let mut damping = 1e-3;
        for _ in 0..ROUNDS {
            let columns: Vec<Vec<f64>> = (0..p.len())
                .map(|j| {
                    let mut moved = p.clone();
                    moved[j] = p[j] + STEP;
                    let up = self.parts(&moved);
                    moved[j] = p[j] - STEP;
                    let down = self.parts(&moved);
                    up.iter().zip(&down).map(|(a, b)| (a - b) / (2.0 * STEP)).collect()
                })
                .collect();
            let jacobian = DMatrix::from_fn(parts.len(), p.len(), |i, j| columns[j][i]);
            let gradient = jacobian.tr_mul(&DVector::from_column_slice(&parts));
            let normal = jacobian.tr_mul(&jacobian);
            let mut better = false;
            while damping < 1e12 {
                let mut damped = normal.clone();
                for i in 0..p.len() {
                    damped[(i, i)] += damping * normal[(i, i)].max(1e-12);
                }
                let Some(step) = damped.cholesky().map(|c| c.solve(&gradient)) else {
                    damping *= 10.0;
                    continue;
                };
                let next: Vec<f64> = p.iter().zip(step.iter()).map(|(a, b)| a - b).collect();
                let next_parts = self.parts(&next);
                let next_cost = Self::cost(&next_parts);
                if next_cost < cost {
                    better = cost - next_cost > 1e-13 * (cost + 1e-12);
                    (p, parts, cost) = (next, next_parts, next_cost);
                    damping = (damping / 5.0).max(1e-12);
                    break;
                }
                damping *= 4.0;
            }
            if !better {
                break;
            }
        }
        (p, cost)
    }
}

const ROUNDS: usize = 300;
/// Of the differences that derivatives are taken from.
const STEP: f64 = 1e-6;

/// Exposures to begin with: the middle ratio of luminance to light.
fn exposures(frames: &[Seen]) -> Vec<f64> {
    let of = |frame: &Seen| {
        let usable = (0..frame.light.len()).filter(|i| frame.used[*i]);
        let mut ratios: Vec<f64> = usable
            .map(|i| log2(frame.reference[i][1].max(1e-6) / (frame.light[i].iter().sum::<f64>() / 3.0).max(1e-6)))
            .collect();
        ratios.sort_by(f64::total_cmp);
        ratios.get(ratios.len() / 2).copied().unwrap_or(0.0)
    };
    frames.iter().map(of).collect()
}

/// The fit to one or more frames.
///
/// # Errors
/// Fewer than eight patches in use; colours that do not span a matrix.
pub fn fit(frames: &[Seen]) -> Result<Fit, ChartError> {
    let count: usize = frames.iter().map(|f| f.used.iter().filter(|u| **u).count()).sum();
    if count < super::file::FEWEST {
        let why = format!("{count} patches can be used, and a matrix needs {}", super::file::FEWEST);
        return Err(ChartError::Fit(why));
    }
    let stops = exposures(frames);
    let (mut light, mut reference) = (Vec::new(), Vec::new());
    for (frame, stops) in frames.iter().zip(&stops) {
        for i in (0..frame.light.len()).filter(|i| frame.used[*i]) {
            light.push(frame.light[i].map(|v| v * exp2(*stops)));
            reference.push(frame.reference[i]);
        }
    }
    let linear = least_squares(&light, &reference)
        .ok_or_else(|| ChartError::Fit("the patches have too few different colours to find a matrix by".to_owned()))?;
    let problem = Problem::new(frames, None);
    // White kept: what a row lacks is shared among its three.
    let start = |matrix: &Matrix3<f64>| -> Vec<f64> {
        let lacks: Vector3<f64> = (white() - matrix * Vector3::repeat(1.0)) / 3.0;
        let rows = (0..3).flat_map(|r| (0..2).map(move |c| (r, c))).map(|(r, c)| matrix[(r, c)] + lacks[r]);
        rows.chain(stops.iter().copied()).collect()
    };
    let starts = [start(&linear), start(&crate::gamut::BT2020.to_xyz())];
    let solved = starts.into_iter().map(|s| problem.solve(s)).min_by(|a, b| a.1.total_cmp(&b.1));
    let (p, cost) = solved.ok_or_else(|| ChartError::Fit("no matrix is found".to_owned()))?;
    if !cost.is_finite() {
        return Err(ChartError::Fit("no matrix is found: the light of the patches is not finite".to_owned()));
    }
    Ok(Fit { matrix: problem.matrix(&p), stops: problem.stops(&p).to_vec(), cost })
}

/// A fit with the matrix given and only the exposures free.
pub fn with_matrix(frames: &[Seen], matrix: &Matrix3<f64>) -> Fit {
    let problem = Problem::new(frames, Some(*matrix));
    let (p, cost) = problem.solve(exposures(frames));
    Fit { matrix: *matrix, stops: p, cost }
}

/// CIEDE2000 of each patch in each frame when the fit has not seen it: what is to be expected of a colour that is not on the
/// chart.
///
/// # Errors
/// As [`fit`], with one patch fewer.
pub fn without_patch(frames: &[Seen]) -> Result<Vec<Vec<f64>>, ChartError> {
    let patches = frames.first().map_or(0, |f| f.light.len());
    let mut left = vec![Vec::with_capacity(patches); frames.len()];
    for patch in 0..patches {
        let mut without = frames.to_vec();
        without.iter_mut().for_each(|f| f.used[patch] = false);
        let fitted = fit(&without)?;
        for ((frame, stops), left) in frames.iter().zip(&fitted.stops).zip(&mut left) {
            left.push(differences(frame, &fitted.matrix, *stops)[patch]);
        }
    }
    Ok(left)
}

/// How well a published gamut fits.
#[derive(Debug, Clone, PartialEq)]
pub struct Published {
    /// Its name in documents.
    pub name: &'static str,
    /// CIEDE2000 of every patch that is used, of every frame.
    pub differences: Vec<f64>,
}

/// Every published gamut of a camera by what it leaves, the best first.
pub fn published(frames: &[Seen]) -> Vec<Published> {
    let mean = |d: &[f64]| d.iter().sum::<f64>() / d.len().max(1) as f64;
    let mut all: Vec<Published> = CATALOGUE
        .iter()
        .filter(|entry| entry.gamut != XYZ)
        .map(|entry| {
            let matrix = entry.gamut.adaptation.matrix(entry.gamut.white, D65) * entry.gamut.to_xyz();
            Published { name: entry.name, differences: every(frames, &with_matrix(frames, &matrix)) }
        })
        .collect();
    all.sort_by(|a, b| mean(&a.differences).total_cmp(&mean(&b.differences)));
    all
}

/// CIEDE2000 of every patch that is used, frame after frame.
pub fn every(frames: &[Seen], fit: &Fit) -> Vec<f64> {
    let of = |(frame, stops): (&Seen, &f64)| -> Vec<f64> {
        let all = differences(frame, &fit.matrix, *stops);
        all.into_iter().zip(&frame.used).filter(|(_, used)| **used).map(|(d, _)| d).collect()
    };
    frames.iter().zip(&fit.stops).flat_map(of).collect()
}

/// A matrix to XYZ under D65 as primaries and white; they may lie outside all colours.
///
/// # Errors
/// A matrix whose primaries have no chromaticity, or that turns colours round.
pub fn gamut(matrix: &Matrix3<f64>) -> Result<Gamut, ChartError> {
    let bad = || {
        ChartError::Fit(
            "the matrix has no primaries that a show could state: the camera's colours are far off".to_owned(),
        )
    };
    let mut primaries = [D65; 3];
    for (c, primary) in primaries.iter_mut().enumerate() {
        let [x, y, z] = [matrix[(0, c)], matrix[(1, c)], matrix[(2, c)]];
        let sum = x + y + z;
        if sum.abs() < 1e-6 {
            return Err(bad());
        }
        *primary = crate::chromaticity::Xy::new(x / sum, y / sum);
    }
    Gamut::new(primaries, D65, crate::adaptation::Adaptation::Bradford).map_err(|_| bad())
}
