//! How far noise is smoothed before it is seen: noise reduction, or the interpolation of a colour filter array.
//!
//! White noise has the same power at every frequency. Smoothed noise has less variance, but its power at low frequencies
//! stays: the sum of its autocorrelation over all distances says how much variance white noise of that power would have.
//! The root of that sum is the edge of a square of pixels over which a mean would do the same.

use crate::frame::Frame;
use crate::statistics::{median, without_surface};

/// Distances at which noise is compared with itself, in pixels along each axis.
const REACH: isize = 7;
/// Smoothing over a wider square than this is no interpolation of a colour filter array, which smooths over 1.8 to 2.7
/// pixels (by calculation, for bilinear interpolation).
pub const FLATTERED: f64 = 3.5;
/// More electrons than this no pixel of a video sensor holds: common practice, no source.
pub const MOST_ELECTRONS: f64 = 200_000.0;

/// The sum of the autocorrelation of noise in the patches of several exposures: 1 for white noise. None where there is no
/// noise, or too few pixels. `decode` makes light of a signal.
pub(super) fn factor(patches: &[&[Frame]], decode: impl Fn(f64) -> f64) -> Option<f64> {
    let mut sums: Vec<f64> = Vec::new();
    for frames in patches {
        for c in 0..3 {
            let light = |f: &Frame| -> Vec<f64> { f.pixels().map(|rgb| decode(f64::from(rgb[c]))).collect() };
            let first = frames.first()?;
            let mut plane = light(first);
            if let Some(second) = frames.get(1) {
                plane.iter_mut().zip(light(second)).for_each(|(a, b)| *a -= b);
            }
            sums.extend(correlation(&plane, first.width()));
        }
    }
    let sum = median(&sums)?;
    Some(sum.max(1.0))
}

/// The sum of the autocorrelation of one plane without its slow changes.
fn correlation(plane: &[f64], width: usize) -> Option<f64> {
    let height = plane.len() / width;
    if width < 2 * REACH as usize || height < 2 * REACH as usize {
        return None;
    }
    let flat = without_surface(plane, width);
    let at = |dx: isize, dy: isize| {
        let (mut sum, mut count) = (0.0, 0.0_f64);
        for y in 0..height as isize - dy {
            for x in (-dx).max(0)..(width as isize).min(width as isize - dx) {
                sum += flat[(y * width as isize + x) as usize] * flat[((y + dy) * width as isize + x + dx) as usize];
                count += 1.0;
            }
        }
        sum / count.max(1.0)
    };
    let variance = at(0, 0);
    if variance <= 0.0 {
        return None;
    }
    // Half of the plane of distances: the other half is the same. Summed outwards as far as it is above chance.
    let chance = 3.0 / (plane.len() as f64).sqrt();
    let mut sum = 1.0;
    for ring in 1..=REACH {
        let mut here = 0.0;
        let mut places = 0.0;
        for dy in 0..=ring {
            for dx in -ring..=ring {
                let half = dy > 0 || dx > 0;
                if half && dx.abs().max(dy) == ring {
                    here += 2.0 * at(dx, dy) / variance;
                    places += 2.0;
                }
            }
        }
        if here / places < chance / f64::sqrt(places) {
            break;
        }
        sum += here;
    }
    Some(sum)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frame::{Depth, Format, Info};

    /// Noise of the mean over a square of `edge` pixels.
    fn smoothed(edge: usize) -> Frame {
        let mut state = 1u64;
        let side = 96 + edge;
        let noise: Vec<f64> = (0..side * side)
            .map(|_| {
                let mut draw = || {
                    state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                    (state >> 33) as f64 / (1u64 << 31) as f64 - 0.5
                };
                draw() + draw() + draw()
            })
            .collect();
        let mean = |x: usize, y: usize| {
            let all = (0..edge).flat_map(|j| (0..edge).map(move |i| (x + i, y + j)));
            all.map(|(x, y)| noise[y * side + x]).sum::<f64>() / (edge * edge) as f64
        };
        let samples: Vec<f32> = (0..96 * 96).flat_map(|i| [(0.5 + 0.02 * mean(i % 96, i / 96)) as f32; 3]).collect();
        Frame::new(96, 96, false, samples, Info::new(Format::Tiff, Depth::Float)).unwrap()
    }

    #[test]
    fn the_edge_of_a_mean_comes_back() {
        for edge in [1usize, 2, 3, 4, 5] {
            let frames: Vec<Frame> = vec![smoothed(edge)];
            let found = factor(&[&frames[..]], |v| v).unwrap().sqrt();
            assert!((found / edge as f64 - 1.0).abs() < 0.2, "{edge}: {found}");
        }
    }
}
