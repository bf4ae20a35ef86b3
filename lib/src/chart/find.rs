//! The chart in a frame: even quadrilaterals of one size in a lattice, whose colours are those of the chart in one of its
//! four turns and in no other.
//!
//! Even regions are found at several sensitivities, since a patch may be dark and noisy or hardly differ from what is around
//! it. Some may be missing: a perspective through those that were found says where the others lie. What decides is colour:
//! a linear map from the light of the patches to their reference colours must leave little, and far less than any other
//! turn or place. Else nothing is found.

use super::fit::least_squares;
use super::place::Place;
use super::{Chart, ChartError};
use crate::chromaticity::D65;
use crate::difference::{ciede2000, lab};
use crate::frame::Frame;
use nalgebra::{Matrix3, Vector3};

/// The longer side of the picture that is searched, in pixels.
const SEARCHED: usize = 640;
/// Differences between neighbours that still belong to one region, in signal.
const SENSITIVITIES: [f32; 4] = [0.012, 0.022, 0.04, 0.07];
/// Mean CIEDE2000 that a linear map may leave.
const LEFT: f64 = 7.0;
/// The next best turn must leave so many times as much.
const CLEAR: f64 = 1.7;
/// A part of the patches must be seen as regions of their own.
const SEEN: f64 = 0.5;

/// A chart that was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Found {
    /// Where it lies, in pixels of the frame; the first patch is the chart's own first.
    pub place: Place,
    /// Mean CIEDE2000 that a linear map leaves.
    pub left: f64,
    /// The same of the next best turn or place; infinite where there is none.
    pub next: f64,
}

/// A picture of fewer pixels.
struct Small {
    width: usize,
    height: usize,
    scale: f64,
    signal: Vec<[f32; 3]>,
}

impl Small {
    fn of(frame: &Frame) -> Self {
        let step = frame.width().max(frame.height()).div_ceil(SEARCHED).max(1);
        let (width, height) = (frame.width() / step, frame.height() / step);
        let count = (step * step) as f32;
        let mut signal = Vec::with_capacity(width * height);
        for i in 0..width * height {
            let (left, top) = (i % width * step, i / width * step);
            let mut sum = [0.0_f32; 3];
            for y in top..top + step {
                for x in left..left + step {
                    let rgb = frame.rgb(x, y);
                    (0..3).for_each(|c| sum[c] += rgb[c]);
                }
            }
            signal.push(sum.map(|v| if v.is_finite() { v / count } else { 0.0 }));
        }
        Self { width, height, scale: step as f64, signal }
    }

    /// The largest difference within the eight neighbours of each pixel, in the channel that has most.
    fn ranges(&self) -> Vec<f32> {
        let mut ranges = vec![f32::MAX; self.signal.len()];
        for y in 1..self.height.saturating_sub(1) {
            for x in 1..self.width - 1 {
                let mut ends = [[f32::MAX; 3], [f32::MIN; 3]];
                for row in y - 1..=y + 1 {
                    for rgb in &self.signal[row * self.width + x - 1..=row * self.width + x + 1] {
                        for c in 0..3 {
                            ends[0][c] = ends[0][c].min(rgb[c]);
                            ends[1][c] = ends[1][c].max(rgb[c]);
                        }
                    }
                }
                ranges[y * self.width + x] = (0..3).map(|c| ends[1][c] - ends[0][c]).fold(0.0, f32::max);
            }
        }
        ranges
    }

    /// The mean light about a point, in pixels of this picture.
    fn light(&self, [x, y]: [f64; 2], reach: isize, decode: &dyn Fn(f64) -> f64) -> Option<[f64; 3]> {
        let (x, y) = (x.floor() as isize, y.floor() as isize);
        if x < reach || y < reach || x + reach >= self.width as isize || y + reach >= self.height as isize {
            return None;
        }
        let (mut sum, mut count) = ([0.0; 3], 0.0);
        for row in y - reach..=y + reach {
            for column in x - reach..=x + reach {
                let rgb = self.signal[row as usize * self.width + column as usize];
                (0..3).for_each(|c| sum[c] += decode(f64::from(rgb[c])));
                count += 1.0;
            }
        }
        Some(sum.map(|v| v / count))
    }
}

/// An even region that could be a patch.
#[derive(Debug, Clone, Copy)]
struct Blob {
    at: [f64; 2],
    /// The edge of a square of its area, with the border that the search takes off.
    edge: f64,
}

/// Regions whose shape is near a square's.
fn blobs(small: &Small, ranges: &[f32], limit: f32) -> Vec<Blob> {
    let mut seen = vec![false; ranges.len()];
    let mut found = Vec::new();
    let most = small.width * small.height / 25;
    let mut open = Vec::new();
    for start in 0..ranges.len() {
        if seen[start] || ranges[start] > limit {
            continue;
        }
        seen[start] = true;
        open.push(start);
        let (mut count, mut sums) = (0.0_f64, [0.0_f64; 5]);
        while let Some(at) = open.pop() {
            let (x, y) = ((at % small.width) as f64 + 0.5, (at / small.width) as f64 + 0.5);
            count += 1.0;
            [x, y, x * x, x * y, y * y].into_iter().zip(&mut sums).for_each(|(v, s)| *s += v);
            for next in [at - 1, at + 1, at - small.width, at + small.width] {
                if !seen[next] && ranges[next] <= limit {
                    seen[next] = true;
                    open.push(next);
                }
            }
        }
        if count < 9.0 || count > most as f64 {
            continue;
        }
        let [x, y, xx, xy, yy] = sums.map(|s| s / count);
        // Of a pixel's own width there is a twelfth of a pixel's variance.
        let (a, b, c) = (xx - x * x + 1.0 / 12.0, xy - x * y, yy - y * y + 1.0 / 12.0);
        let (half, root) = ((a + c) / 2.0, ((a - c) * (a - c) / 4.0 + b * b).sqrt());
        let (long, short) = ((half + root).sqrt(), (half - root).max(1e-9).sqrt());
        // Of a rectangle the area is 12 times the product of its deviations along and across.
        let full = count / (12.0 * long * short);
        if long / short < 2.2 && (0.8..1.2).contains(&full) {
            found.push(Blob { at: [x, y], edge: count.sqrt() + 2.0 });
        }
    }
    found
}

/// Regions with whole numbers for their places in a lattice.
type Lattice = Vec<([i32; 2], [f64; 2])>;

fn minus(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] - b[0], a[1] - b[1]]
}

fn length([x, y]: [f64; 2]) -> f64 {
    (x * x + y * y).sqrt()
}

/// The lattice that grows from a region and two neighbours.
fn grow(blobs: &[Blob], start: usize, u: [f64; 2], v: [f64; 2]) -> Lattice {
    let mut places: Vec<([i32; 2], usize)> = vec![([0, 0], start)];
    let mut taken = vec![false; blobs.len()];
    taken[start] = true;
    let mut next = 0;
    while next < places.len() && places.len() < 600 {
        let (at, blob) = places[next];
        next += 1;
        let here = blobs[blob].at;
        let found = |cell: [i32; 2]| places.iter().find(|p| p.0 == cell).map(|p| blobs[p.1].at);
        let mut added = Vec::new();
        for (axis, sign) in [(0, 1), (0, -1), (1, 1), (1, -1)] {
            let mut cell = at;
            cell[axis] += sign;
            if found(cell).is_some() {
                continue;
            }
            // From the neighbour on the other side, where there is one: perspective changes slowly.
            let mut behind = at;
            behind[axis] -= sign;
            let base = [u, v][axis].map(|c| c * f64::from(sign));
            let step = found(behind).map_or(base, |b| minus(here, b));
            let due = [here[0] + step[0], here[1] + step[1]];
            let near = (0..blobs.len())
                .filter(|i| !taken[*i] && (0.6..1.67).contains(&(blobs[*i].edge / blobs[blob].edge)))
                .map(|i| (length(minus(blobs[i].at, due)), i))
                .min_by(|a, b| a.0.total_cmp(&b.0))
                .filter(|n| n.0 < 0.22 * length(step));
            if let Some((_, i)) = near {
                taken[i] = true;
                added.push((cell, i));
            }
        }
        places.extend(added);
    }
    places.into_iter().map(|(cell, i)| (cell, blobs[i].at)).collect()
}

/// The largest lattices of regions, the largest first.
fn lattices(blobs: &[Blob], least: usize) -> Vec<Lattice> {
    let mut found: Vec<Lattice> = Vec::new();
    let mut covered = vec![0usize; blobs.len()];
    for (start, blob) in blobs.iter().enumerate() {
        if covered[start] > 0 {
            continue;
        }
        let mut near: Vec<([f64; 2], f64)> = blobs
            .iter()
            .enumerate()
            .filter(|(i, other)| *i != start && (0.6..1.67).contains(&(other.edge / blob.edge)))
            .map(|(_, other)| (minus(other.at, blob.at), length(minus(other.at, blob.at))))
            .filter(|(_, far)| (0.9..2.4).contains(&(far / blob.edge)))
            .collect();
        near.sort_by(|a, b| a.1.total_cmp(&b.1));
        near.truncate(8);
        let mut best: (usize, f64, Lattice) = (0, f64::INFINITY, Vec::new());
        for (u, far_u) in &near {
            for (v, far_v) in &near {
                // Right-handed as the picture is, and nearly square: no diagonal.
                let turn = (u[0] * v[1] - u[1] * v[0]) / (far_u * far_v);
                if turn > 0.8 && (0.66..1.5).contains(&(far_u / far_v)) && u[0] > 0.0 && u[0] >= u[1].abs() {
                    let grown = grow(blobs, start, *u, *v);
                    // Of lattices of one size the one with the shortest steps: others run along diagonals.
                    let steps = far_u + far_v;
                    if grown.len() > best.0 || grown.len() == best.0 && steps < best.1 {
                        best = (grown.len(), steps, grown);
                    }
                }
            }
        }
        let best = best.2;
        if best.len() >= least {
            for (i, blob) in blobs.iter().enumerate() {
                covered[i] += usize::from(best.iter().any(|b| b.1 == blob.at));
            }
            found.push(best);
        }
    }
    found.sort_by_key(|l| std::cmp::Reverse(l.len()));
    found.truncate(6);
    found
}

/// How much a linear map leaves of the chart at a place, as mean CIEDE2000; none where it reaches outside.
fn left(
    small: &Small,
    place: &Place,
    chart: &Chart,
    reference: &[[f64; 3]],
    decode: &dyn Fn(f64) -> f64,
) -> Option<f64> {
    let step = length(minus(place.pixel([0.0, 0.0]), place.pixel([1.0, 0.0])));
    let reach = ((0.2 * step) as isize).clamp(0, 6);
    let light: Option<Vec<[f64; 3]>> = (0..chart.patches.len())
        .map(|i| small.light(place.pixel([(i % chart.columns) as f64, (i / chart.columns) as f64]), reach, decode))
        .collect();
    let mut light = light?;
    light_to_one(&mut light);
    let matrix = least_squares(&light, reference)?;
    let white: [f64; 3] = D65.to_xyz(1.0).into();
    let of = |(rgb, xyz): (&[f64; 3], &[f64; 3])| {
        let found: [f64; 3] = (matrix * Vector3::from(*rgb)).into();
        ciede2000(lab(*xyz, white), lab(found, white))
    };
    let all = light.iter().zip(reference).map(of).sum::<f64>();
    Some(all / reference.len() as f64)
}

/// Light of any exposure as light of about 1, so that a matrix can be inverted.
fn light_to_one(light: &mut [[f64; 3]]) {
    let most = light.iter().flatten().copied().fold(1e-12, f64::max);
    light.iter_mut().for_each(|rgb| *rgb = rgb.map(|v| v / most));
}

/// The turns of a chart in its plane: quarters, as maps from its own plane to one of `columns` by `rows`, or the same lying.
fn turns(columns: f64, rows: f64) -> [Matrix3<f64>; 4] {
    let (right, down) = (columns - 1.0, rows - 1.0);
    [
        Matrix3::identity(),
        Matrix3::new(0.0, -1.0, down, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0),
        Matrix3::new(-1.0, 0.0, right, 0.0, -1.0, down, 0.0, 0.0, 1.0),
        Matrix3::new(0.0, 1.0, 0.0, -1.0, 0.0, right, 0.0, 0.0, 1.0),
    ]
}

/// Places that are the same but for a small shift.
fn same(a: &Place, b: &Place, chart: &Chart) -> bool {
    let ends = [[0.0, 0.0], [chart.columns as f64 - 1.0, 0.0], [0.0, chart.rows as f64 - 1.0]];
    let step = length(minus(a.pixel([0.0, 0.0]), a.pixel([1.0, 0.0])));
    ends.iter().all(|at| length(minus(a.pixel(*at), b.pixel(*at))) < 0.4 * step)
}

/// The chart in a frame. `reference` is that of the chart under its light, `decode` the camera's curve.
///
/// # Errors
/// No chart, or one that could lie in more than one way.
pub fn find(
    frame: &Frame,
    chart: &Chart,
    reference: &[[f64; 3]],
    decode: &dyn Fn(f64) -> f64,
) -> Result<Found, ChartError> {
    let small = Small::of(frame);
    if small.width < 24 || small.height < 24 {
        return Err(ChartError::NotFound("the frame is too small to hold a chart".to_owned()));
    }
    let ranges = small.ranges();
    let least = ((SEEN * chart.patches.len() as f64).ceil() as usize).max(4);
    let mut candidates: Vec<(f64, Place)> = Vec::new();
    for limit in SENSITIVITIES {
        for lattice in lattices(&blobs(&small, &ranges, limit), least) {
            candidates.extend(places(&small, &lattice, chart, reference, decode, least));
        }
    }
    candidates.sort_by(|a, b| a.0.total_cmp(&b.0));
    let none = "no chart is found: fill more of the frame with it, or give its corners by --corners";
    let Some((best, place)) = candidates.first().copied() else {
        return Err(ChartError::NotFound(none.to_owned()));
    };
    if best > LEFT {
        return Err(ChartError::NotFound(format!(
            "{none}; the most likely place has colours that are none of this chart's, by CIEDE2000 {best:.1} in the mean"
        )));
    }
    let next = candidates[1..].iter().find(|c| !same(&place, &c.1, chart)).map_or(f64::INFINITY, |c| c.0);
    if next < CLEAR * best {
        return Err(ChartError::NotFound(
            "the chart could lie in two ways, and its colours do not tell which: give its corners by --corners"
                .to_owned(),
        ));
    }
    Ok(Found { place: place.scaled(small.scale), left: best, next })
}

/// The chart over a lattice in every place and turn that covers enough of it, with what each leaves.
fn places(
    small: &Small,
    lattice: &Lattice,
    chart: &Chart,
    reference: &[[f64; 3]],
    decode: &dyn Fn(f64) -> f64,
    least: usize,
) -> Vec<(f64, Place)> {
    let mut found = Vec::new();
    let ends = |axis: usize| {
        let all = lattice.iter().map(|l| l.0[axis]);
        (all.clone().min().unwrap_or(0), all.max().unwrap_or(0))
    };
    for (turn, quarter) in turns(chart.columns as f64, chart.rows as f64).into_iter().enumerate() {
        // A quarter turn lies the chart on its side.
        let (across, down) = if turn % 2 == 0 { (chart.columns, chart.rows) } else { (chart.rows, chart.columns) };
        let ((left_end, right_end), (top, bottom)) = (ends(0), ends(1));
        for x in left_end - across as i32 + 1..=right_end {
            for y in top - down as i32 + 1..=bottom {
                let within = |cell: &[i32; 2]| {
                    (x..x + across as i32).contains(&cell[0]) && (y..y + down as i32).contains(&cell[1])
                };
                let points: Vec<([f64; 2], [f64; 2])> = lattice
                    .iter()
                    .filter(|l| within(&l.0))
                    .map(|(cell, at)| ([f64::from(cell[0] - x), f64::from(cell[1] - y)], *at))
                    .collect();
                if points.len() < least {
                    continue;
                }
                let Some(place) = Place::fit(&points) else { continue };
                let step = length(minus(place.pixel([0.0, 0.0]), place.pixel([1.0, 0.0])));
                let true_to = points.iter().filter(|p| length(minus(place.pixel(p.0), p.1)) < 0.12 * step).count();
                if true_to * 10 < points.len() * 9 {
                    continue;
                }
                let turned = place.after(quarter);
                if let Some(left) = left(small, &turned, chart, reference, decode) {
                    found.push((left, turned));
                }
            }
        }
    }
    found
}

/// What a linear map leaves of a chart at a given place in each of its four turns, its own first.
pub fn left_by_turn(
    frame: &Frame,
    place: &Place,
    chart: &Chart,
    reference: &[[f64; 3]],
    decode: &dyn Fn(f64) -> f64,
) -> [Option<f64>; 4] {
    let small = Small::of(frame);
    let place = place.scaled(1.0 / small.scale);
    let (columns, rows) = (chart.columns as f64, chart.rows as f64);
    turns(columns, rows).map(|turn| {
        // Turned about the place of its own corners: a chart of other proportions is stretched to them.
        let stretch = if turn[(0, 0)] == 0.0 {
            Matrix3::new(
                (columns - 1.0) / (rows - 1.0),
                0.0,
                0.0,
                0.0,
                (rows - 1.0) / (columns - 1.0),
                0.0,
                0.0,
                0.0,
                1.0,
            )
        } else {
            Matrix3::identity()
        };
        left(&small, &place.after(stretch * turn), chart, reference, decode)
    })
}
