//! Sets of camera signals on which a cube is judged: deterministic, and the same for every look.

pub(crate) mod named;

use crate::camera::Camera;
use crate::gamut::AP1;
use crate::math;
use crate::spectrum;
use crate::transfer::MID_GREY;
use nalgebra::Vector3;
use rayon::prelude::*;

/// Signals in a large set.
pub(crate) const MANY: usize = 20_000;
/// Where the audit's own part of a sequence begins, so that no fit has seen its points.
pub(crate) const FIRST: u64 = 1 << 32;

/// Points of a low-discrepancy sequence in D dimensions, each component 0 to 1, from `first` on.
///
/// An additive recurrence by powers of the root of x^(D+1) = x + 1 (Roberts, "The unreasonable effectiveness of
/// quasirandom sequences", 2018), in whole numbers of 2^-64, so that no rounding gathers.
pub fn sequence<const D: usize>(first: u64, count: usize) -> impl IndexedParallelIterator<Item = [f64; D]> {
    let mut root = 2.0;
    for _ in 0..64 {
        root = math::pow(1.0 + root, 1.0 / (D as f64 + 1.0));
    }
    let mut share = 1.0;
    let steps: [u64; D] = std::array::from_fn(|_| {
        share /= root;
        (share * 18_446_744_073_709_551_616.0) as u64
    });
    (0..count).into_par_iter().map(move |i| {
        let index = first + i as u64;
        steps.map(|step| ((1u64 << 63).wrapping_add(step.wrapping_mul(index)) >> 11) as f64 / (1u64 << 53) as f64)
    })
}

/// Signals all over 0..1.
pub fn uniform(first: u64, count: usize) -> Vec<[f64; 3]> {
    sequence::<3>(first, count).collect()
}

/// A neutral ramp of `count` signals.
pub fn neutral(count: usize) -> Vec<[f64; 3]> {
    let last = count.max(2) as f64 - 1.0;
    (0..count).map(|i| [i as f64 / last; 3]).collect()
}

/// Centres of the cells of a cube of `size` points: all of them, or `most` of them, evenly taken.
pub fn centres(size: usize, most: usize) -> Vec<[f64; 3]> {
    let cells = size - 1;
    let all = cells * cells * cells;
    let centre =
        |i: usize| [i % cells, i / cells % cells, i / (cells * cells)].map(|c| (c as f64 + 0.5) / cells as f64);
    if all <= most {
        return (0..all).map(centre).collect();
    }
    sequence::<3>(1, most)
        .map(|p| p.map(|v| ((v * cells as f64) as usize).min(cells - 1)))
        .map(|[r, g, b]| centre(r + cells * (g + cells * b)))
        .collect()
}

/// Stops about mid-grey: the spread of exposures, and where they end.
const SPREAD: f64 = 2.5;
const REACH: f64 = 7.0;
/// Stops of red over green and of blue over green: modest saturation.
const COLOUR: f64 = 0.7;
/// One point in so many is a light source.
const LIGHTS: u64 = 5;

/// Signals of colours that a camera meets: exposures spread log-normally about mid-grey, 2.5 stops, cut at 7; channels
/// 0.7 stops apart; and, one in five, saturated lights: bands of 10 to 80 nm, 420 to 680 nm, two stops under mid-grey to
/// seven over, mixed with up to as much white. The shares and spreads are our own choice.
pub fn plausible(camera: &Camera, first: u64, count: usize) -> Vec<[f64; 3]> {
    let from_xyz = AP1.from_xyz();
    sequence::<4>(first, count)
        .enumerate()
        .map(|(i, p)| {
            let index = first + i as u64;
            let light = if index.is_multiple_of(LIGHTS) { source(p, &from_xyz) } else { surface(p) };
            // What the signal cannot carry is clipped, as the camera does.
            camera.encode(light).map(|v| v.clamp(0.0, 1.0))
        })
        .collect()
}

/// Four evenly spread numbers to three normal ones (Box and Muller, 1958), as exposure and two ratios.
fn surface(p: [f64; 4]) -> [f64; 3] {
    let normals = |u: f64, v: f64| {
        let (radius, angle) = ((-2.0 * math::ln(1.0 - u)).sqrt(), std::f64::consts::TAU * v);
        [radius * math::cos(angle), radius * math::sin(angle)]
    };
    let ([exposure, red], [blue, _]) = (normals(p[0], p[1]), normals(p[2], p[3]));
    let exposure = (SPREAD * exposure).clamp(-REACH, REACH);
    [exposure + COLOUR * red, exposure, exposure + COLOUR * blue].map(|stops| MID_GREY * math::exp2(stops))
}

/// A narrow light of the spectrum with some white in it.
fn source(p: [f64; 4], from_xyz: &nalgebra::Matrix3<f64>) -> [f64; 3] {
    let band = spectrum::gaussian(420.0 + 260.0 * p[0], 10.0 + 70.0 * p[1]).expect("within the bounds of a band");
    let xyz = band.to_xyz();
    let luminance = MID_GREY * math::exp2(-2.0 + (REACH + 2.0) * p[2]);
    let white = 0.5 * p[3];
    let light: Vector3<f64> = from_xyz * (xyz / xyz.y) * (1.0 - white) + Vector3::repeat(white);
    (light * luminance).into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sequence_fills_space_evenly() {
        let points = uniform(1, 8000);
        for axis in 0..3 {
            let mut bins = [0usize; 16];
            points.iter().for_each(|p| bins[(p[axis] * 16.0) as usize] += 1);
            assert!(bins.iter().all(|b| (495..=505).contains(b)), "{bins:?}");
        }
        // A thousandth of the room each, in a box of 0.1: random points would deviate by the root of 8.
        let inside = points.iter().filter(|p| p.iter().all(|v| (0.4..0.5).contains(v))).count();
        assert!((5..=11).contains(&inside), "{inside}");
    }

    #[test]
    fn centres_lie_in_the_middle_of_cells() {
        assert_eq!(centres(2, 10), [[0.5; 3]]);
        assert_eq!(centres(3, 10)[1], [0.75, 0.25, 0.25]);
        let some = centres(65, 1000);
        assert_eq!(some.len(), 1000);
        assert!(some.iter().flatten().all(|v| (v * 128.0) % 2.0 == 1.0));
    }
}
