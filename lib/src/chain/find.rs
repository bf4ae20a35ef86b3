//! The four corner marks in a capture, and with them where every place of the chart lies.
//!
//! Each row that is looked at is cut into runs of dark and light; seven runs with the widths of a mark's rings, which are
//! there down the column too, are a mark. Four of them that stand as the chart's corners do give the way from units to
//! pixels: any scale, crop and padding, and a picture turned or taken at an angle, which is found out by it.

use super::layout::{CORNERS, MARK, RINGS};
use crate::frame::Frame;
use nalgebra::{Matrix3, SMatrix, SVector, Vector3};

/// The brightness of a frame, for finding alone: of few of its pixels, so that it is not held.
pub(super) struct Plane<'f> {
    frame: &'f Frame,
    width: usize,
    height: usize,
    /// Brightness of the dark and the light that most of the picture lies between.
    ends: [f32; 2],
}

impl<'f> Plane<'f> {
    pub(super) fn of(frame: &'f Frame) -> Self {
        let (width, height) = (frame.width(), frame.height());
        let mut plane = Self { frame, width, height, ends: [0.0; 2] };
        let step = (width * height / 20_000).max(1);
        let mut some: Vec<f32> = (0..width * height).step_by(step).map(|i| plane.at(i % width, i / width)).collect();
        some.sort_unstable_by(f32::total_cmp);
        let at = |share: f64| some[((some.len() - 1) as f64 * share) as usize];
        plane.ends = [at(0.02), at(0.98)];
        plane
    }

    fn at(&self, x: usize, y: usize) -> f32 {
        let [r, g, b] = self.frame.rgb(x, y);
        let sum = 0.25 * r + 0.5 * g + 0.25 * b;
        if sum.is_finite() { sum } else { 0.0 }
    }

    /// The light between pixels, whose middles are at halves; outside the picture that of its edge.
    fn between(&self, x: f64, y: f64) -> f32 {
        let place = |v: f64, most: usize| {
            let v = (v - 0.5).clamp(0.0, (most - 1) as f64);
            (v as usize, (v as usize + 1).min(most - 1), v.fract() as f32)
        };
        let ((x0, x1, fx), (y0, y1, fy)) = (place(x, self.width), place(y, self.height));
        let row = |y| self.at(x0, y) * (1.0 - fx) + self.at(x1, y) * fx;
        row(y0) * (1.0 - fy) + row(y1) * fy
    }
}

/// Seven runs of a mark along a line: its middle and how many pixels a unit has.
#[derive(Debug, Clone, Copy)]
struct Cut {
    middle: f64,
    unit: f64,
}

/// Where the light of a line crosses the threshold, and whether it gets dark there.
fn edges(line: impl Iterator<Item = f32>, threshold: f32, edges: &mut Vec<(f64, bool)>) {
    edges.clear();
    let mut before: Option<f32> = None;
    for (i, light) in line.enumerate() {
        if let Some(last) = before
            && (last < threshold) != (light < threshold)
        {
            let part = f64::from((threshold - last) / (light - last));
            edges.push((i as f64 - 0.5 + part, light < threshold));
        }
        before = Some(light);
    }
}

/// Every place where seven runs have the widths of a mark.
fn cuts(edges: &[(f64, bool)]) -> impl Iterator<Item = Cut> + '_ {
    edges.windows(8).filter(|w| w[0].1).filter_map(|w| {
        let unit = (w[7].0 - w[0].0) / MARK;
        let fits = |i: usize| {
            let length = w[i + 1].0 - w[i].0;
            (length - RINGS[i] * unit).abs() < 0.45 * unit + 0.25
        };
        let is_one = unit > 1.0 && (0..7).all(fits);
        // The innermost edges and the next ones: blur moves both alike.
        let middle = (w[3].0 + w[4].0 + w[2].0 + w[5].0) / 4.0;
        is_one.then_some(Cut { middle, unit })
    })
}

/// A mark: its middle in pixels, and how many a unit has across and down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Found {
    pub(super) at: [f64; 2],
    pub(super) unit: [f64; 2],
    /// Lines that went through it.
    hits: usize,
}

/// The marks of a picture.
fn marks(plane: &Plane<'_>) -> Vec<Found> {
    let mut found: Vec<Found> = Vec::new();
    let [dark, light] = plane.ends;
    if light - dark < 0.05 {
        return found;
    }
    let (mut across, mut down) = (Vec::new(), Vec::new());
    let step = (plane.height / 540).max(1);
    for share in [0.5, 0.3, 0.7] {
        let threshold = dark + (light - dark) * share;
        for y in (0..plane.height).step_by(step) {
            edges((0..plane.width).map(|x| plane.at(x, y)), threshold, &mut across);
            for cut in cuts(&across) {
                let x = (cut.middle as usize).min(plane.width - 1);
                edges((0..plane.height).map(|y| plane.at(x, y)), threshold, &mut down);
                let near = |c: &Cut| (c.middle - y as f64).abs() < 1.2 * c.unit;
                let Some(column) = cuts(&down).find(near) else { continue };
                let (at, unit) = ([cut.middle, column.middle], [cut.unit, column.unit]);
                if unit[0] > 2.5 * unit[1] || unit[1] > 2.5 * unit[0] {
                    continue;
                }
                let same = |f: &&mut Found| (0..2).all(|i| (f.at[i] / f.hits as f64 - at[i]).abs() < 3.0 * unit[i]);
                match found.iter_mut().find(same) {
                    Some(f) => {
                        (0..2).for_each(|i| {
                            f.at[i] += at[i];
                            f.unit[i] += unit[i];
                        });
                        f.hits += 1;
                    }
                    None => found.push(Found { at, unit, hits: 1 }),
                }
            }
        }
        if found.len() >= 4 {
            break;
        }
    }
    let mean = |f: Found| {
        let n = f.hits as f64;
        Found { at: f.at.map(|v| v / n), unit: f.unit.map(|v| v / n), hits: f.hits }
    };
    found.into_iter().map(mean).collect()
}

/// The way from a place on the chart, in units, to a place in the capture, in pixels, whose middles are at halves.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    way: Matrix3<f64>,
}

impl Place {
    /// By where the four corners lie.
    fn of(corners: [[f64; 2]; 4]) -> Option<Self> {
        let mut a = SMatrix::<f64, 8, 8>::zeros();
        let mut b = SVector::<f64, 8>::zeros();
        for (i, ([x, y], [u, v])) in CORNERS.iter().zip(corners).enumerate() {
            let rows = [[*x, *y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y], [0.0, 0.0, 0.0, *x, *y, 1.0, -v * x, -v * y]];
            for (j, row) in rows.iter().enumerate() {
                row.iter().enumerate().for_each(|(c, value)| a[(2 * i + j, c)] = *value);
            }
            (b[2 * i], b[2 * i + 1]) = (u, v);
        }
        let s = a.lu().solve(&b)?;
        Some(Self { way: Matrix3::new(s[0], s[1], s[2], s[3], s[4], s[5], s[6], s[7], 1.0) })
    }

    /// A capture that is the chart, scaled and moved: pixels per unit, and where its corner lies.
    pub fn straight([across, down]: [f64; 2], [x, y]: [f64; 2]) -> Self {
        Self { way: Matrix3::new(across, 0.0, x, 0.0, down, y, 0.0, 0.0, 1.0) }
    }

    /// Where a place of the chart lies.
    pub fn at(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let v = self.way * Vector3::new(x, y, 1.0);
        [v[0] / v[2], v[1] / v[2]]
    }

    /// Pixels per unit about the middle of the chart, across and down.
    pub fn unit(&self) -> [f64; 2] {
        let [a, b, c] = [[96.0, 54.0], [97.0, 54.0], [96.0, 55.0]].map(|p| self.at(p));
        let length = |p: [f64; 2], q: [f64; 2]| {
            let (x, y) = (p[0] - q[0], p[1] - q[1]);
            (x * x + y * y).sqrt()
        };
        [length(a, b), length(a, c)]
    }

    /// How far its corners lie from those of a picture that was only scaled and moved, in units at most.
    pub fn slant(&self) -> f64 {
        let [ul, ur, ll, lr] = CORNERS.map(|c| self.at(c));
        let [across, down] = self.unit();
        let off = [ul[1] - ur[1], ll[1] - lr[1]].map(|v| v.abs() / down);
        let aside = [ul[0] - ll[0], ur[0] - lr[0]].map(|v| v.abs() / across);
        off.into_iter().chain(aside).fold(0.0, f64::max)
    }

    /// The same with the chart mirrored left to right, upside down, or both.
    fn flipped(&self, [across, down]: [bool; 2]) -> Self {
        let line = |flip: bool, length: f64| if flip { (-1.0, length) } else { (1.0, 0.0) };
        let ((sx, ox), (sy, oy)) = (line(across, super::layout::ACROSS), line(down, super::layout::DOWN));
        Self { way: self.way * Matrix3::new(sx, 0.0, ox, 0.0, sy, oy, 0.0, 0.0, 1.0) }
    }

    /// All four ways to hold the chart: as it is first.
    pub(super) fn ways(&self) -> [([bool; 2], Self); 4] {
        [[false, false], [true, false], [false, true], [true, true]].map(|flip| (flip, self.flipped(flip)))
    }
}

/// How sharp a capture is, by the rings of its marks: 1 where the narrow rings have the contrast of the wide ones, 0 where
/// nothing is left of them.
fn sharpness(plane: &Plane<'_>, place: &Place) -> f64 {
    let one = |[x, y]: [f64; 2]| {
        let light = |dx: f64| {
            let at = |dx: f64, dy: f64| {
                let [u, v] = place.at([x + dx, y + dy]);
                f64::from(plane.between(u, v))
            };
            (at(dx, 0.0) + at(-dx, 0.0) + at(0.0, dx) + at(0.0, -dx)) / 4.0
        };
        // From the middle: white to 1, black to 2, white to 3, black to 5, white beyond.
        let narrow = light(2.5) - light(1.5);
        let wide = light(0.0) - light(4.0);
        if wide > 0.0 { narrow / wide } else { 0.0 }
    };
    CORNERS.iter().map(|c| one(*c)).sum::<f64>() / 4.0
}

/// Why no chart was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lost {
    /// Hardly any contrast: no picture, or another one.
    Flat,
    /// So many marks were found, which are too few.
    Marks(usize),
    /// Marks were found that do not stand as the corners of a chart.
    Corners,
    /// The chart is there, and too blurred or too small to be read.
    Blurred,
}

/// The least sharpness of a capture whose patches are sound.
const SHARP: f64 = 0.3;
/// The fewest pixels of a unit.
const UNIT: f64 = 2.2;

/// A chart in a capture.
pub(super) struct Located {
    pub(super) place: Place,
    pub(super) sharpness: f64,
}

/// Finds the chart.
pub(super) fn locate(plane: &Plane<'_>) -> Result<Located, Lost> {
    let [dark, light] = plane.ends;
    if light - dark < 0.05 {
        return Err(Lost::Flat);
    }
    let found = marks(plane);
    if found.len() < 3 {
        return Err(Lost::Marks(found.len()));
    }
    let corners = corners(&found).ok_or(if found.len() < 4 { Lost::Marks(found.len()) } else { Lost::Corners })?;
    let place = Place::of(corners).ok_or(Lost::Corners)?;
    let sharpness = sharpness(plane, &place);
    if sharpness < SHARP || place.unit().iter().any(|u| *u < UNIT) {
        return Err(Lost::Blurred);
    }
    Ok(Located { place, sharpness })
}

/// The four marks, one of them perhaps reckoned from the others, that stand as the corners of a chart best.
fn corners(found: &[Found]) -> Option<[[f64; 2]; 4]> {
    let [across, down] = [CORNERS[1][0] - CORNERS[0][0], CORNERS[2][1] - CORNERS[0][1]];
    let mut best: Option<(f64, [[f64; 2]; 4])> = None;
    let near = |at: [f64; 2], unit: [f64; 2]| {
        let off = |f: &Found| ((f.at[0] - at[0]) / unit[0]).abs().max(((f.at[1] - at[1]) / unit[1]).abs());
        found.iter().map(|f| (off(f), f.at)).min_by(|a, b| a.0.total_cmp(&b.0))
    };
    // From a mark, the others are looked for where its own size says.
    for a in found {
        for (b, is_diagonal) in found.iter().flat_map(|b| [(b, true), (b, false)]) {
            let unit = [(a.unit[0] + b.unit[0]) / 2.0, (a.unit[1] + b.unit[1]) / 2.0];
            let span = [(b.at[0] - a.at[0]) / unit[0], (b.at[1] - a.at[1]) / unit[1]];
            let wanted = if is_diagonal { [across, down] } else { [-across, down] };
            if (0..2).any(|i| (span[i] / wanted[i] - 1.0).abs() > 0.15) {
                continue;
            }
            // `a` is above `b`; the other two stand at the other crossings of their rows and columns.
            let (left, right) = if is_diagonal { (a.at[0], b.at[0]) } else { (b.at[0], a.at[0]) };
            let reckoned = [[left, a.at[1]], [right, a.at[1]], [left, b.at[1]], [right, b.at[1]]];
            // A chart at an angle has them elsewhere, by as much as 14 units.
            let seen = reckoned.map(|at| near(at, unit).filter(|(off, _)| *off < 14.0));
            let missing = seen.iter().filter(|s| s.is_none()).count();
            if missing > 1 {
                continue;
            }
            let places: [[f64; 2]; 4] = std::array::from_fn(|i| match seen[i] {
                Some((_, at)) => at,
                None => [0.0; 2],
            });
            let mut places = places;
            if let Some(i) = seen.iter().position(Option::is_none) {
                // A parallelogram: the two beside it less the one across.
                let (beside, opposite) = ([[1, 2], [0, 3], [0, 3], [1, 2]][i], 3 - i);
                places[i] = std::array::from_fn(|c| places[beside[0]][c] + places[beside[1]][c] - places[opposite][c]);
            }
            let off: f64 = seen.iter().flatten().map(|(off, _)| off).sum::<f64>() + 20.0 * missing as f64;
            if best.as_ref().is_none_or(|(least, _)| off < *least) {
                best = Some((off, places));
            }
        }
    }
    best.map(|(_, places)| places)
}
