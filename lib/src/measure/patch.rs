//! A patch of a frame: where it is, how even it is, and its levels.

use super::MeasureError;
use crate::frame::Frame;

/// A rectangle of pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Patch {
    /// Left edge, pixels from the left.
    pub x: usize,
    /// Upper edge, pixels from the top.
    pub y: usize,
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
}

/// Least pixels of a patch along an edge: fewer say little of noise.
pub const SMALLEST: usize = 8;
/// Blocks along each edge of a patch whose means show how even it is.
const BLOCKS: usize = 4;

impl Patch {
    /// The patch of that place and size within a frame of `width` by `height`.
    ///
    /// # Errors
    /// A patch that reaches outside, or is smaller than [`SMALLEST`].
    pub fn new(place: [usize; 4], width: usize, height: usize) -> Result<Self, MeasureError> {
        let [x, y, w, h] = place;
        if w < SMALLEST || h < SMALLEST {
            let why = format!("a patch of {w} x {h} pixels is too small: it needs {SMALLEST} along each edge");
            return Err(MeasureError::Patch(why));
        }
        let inside = |at: usize, length: usize, edge: usize| at.checked_add(length).is_some_and(|end| end <= edge);
        if !inside(x, w, width) || !inside(y, h, height) {
            let why =
                format!("the patch {x},{y},{w},{h} reaches outside the frame, which has {width} x {height} pixels");
            return Err(MeasureError::Patch(why));
        }
        Ok(Self { x, y, width: w, height: h })
    }

    /// The largest even patch of a frame, from its whole shorter side down to a sixth of it; of equals, that nearest the
    /// middle. Where none is even, the most even of the smallest.
    ///
    /// Evenness is judged by the means of blocks, so that noise does not count; the patch stays clear of the edges of what
    /// was found even. What sits at the frame's own black or clip, which is even because it holds nothing, is passed over
    /// where there is anything else.
    ///
    /// # Errors
    /// A frame too small to hold a patch.
    pub fn find(frame: &Frame) -> Result<Self, MeasureError> {
        let (width, height) = (frame.width(), frame.height());
        let short = width.min(height);
        if short < SMALLEST {
            return Self::new([0, 0, width, height], width, height);
        }
        let sides = [1.0, 0.5, 0.33, 0.25, 0.17].map(|share| ((short as f64 * share) as usize).max(SMALLEST));
        let step = (sides[sides.len() - 1] / BLOCKS).max(1);
        let cells = Cells::of(frame, step);
        let mut found = [0, 0, width, height];
        for side in sides {
            let count = side / step;
            let (apart, [x, y]) = cells.most_even(count);
            let length = count * step;
            // Clear of the edges by a cell, unless too little is left.
            found = if length >= SMALLEST + 2 * step {
                [x + step, y + step, length - 2 * step, length - 2 * step]
            } else {
                [x, y, length, length]
            };
            if apart < EVEN + 4.0 * cells.noise / step as f64 {
                break;
            }
        }
        Self::new(found, width, height)
    }

    /// The patch of a frame.
    ///
    /// # Errors
    /// A frame that does not hold it.
    pub fn of(&self, frame: &Frame) -> Result<Frame, MeasureError> {
        frame.crop(self.x, self.y, self.width, self.height).ok_or_else(|| {
            let Self { x, y, width, height } = self;
            let size = format!("{} x {}", frame.width(), frame.height());
            MeasureError::Patch(format!("the patch {x},{y},{width},{height} reaches outside {size} pixels"))
        })
    }
}

/// Cells of an even patch lie no further than this from its mean, in signal, beside their noise.
const EVEN: f64 = 0.01;

/// Means of square cells of a frame, green.
struct Cells {
    step: usize,
    columns: usize,
    rows: usize,
    means: Vec<f64>,
    /// Standard deviation of a sample within the quieter cells.
    noise: f64,
}

impl Cells {
    fn of(frame: &Frame, step: usize) -> Self {
        let (columns, rows) = (frame.width() / step, frame.height() / step);
        let count = (step * step) as f64;
        let (mut means, mut variances) = (Vec::new(), Vec::new());
        for i in 0..columns * rows {
            let (left, top) = (i % columns * step, i / columns * step);
            let inside =
                || (top..top + step).flat_map(move |y| (left..left + step).map(move |x| f64::from(frame.rgb(x, y)[1])));
            let mean = inside().sum::<f64>() / count;
            means.push(mean);
            variances.push(inside().map(|v| (v - mean) * (v - mean)).sum::<f64>() / (count - 1.0).max(1.0));
        }
        variances.sort_by(f64::total_cmp);
        let noise = variances.get(variances.len() / 4).copied().unwrap_or(0.0).sqrt();
        Self { step, columns, rows, means, noise }
    }

    /// The most even square of `count` by `count` cells: how far its cells lie from their mean, and its place in pixels.
    fn most_even(&self, count: usize) -> (f64, [usize; 2]) {
        let (least, most) = self.means.iter().fold((f64::MAX, f64::MIN), |(a, b), v| (a.min(*v), b.max(*v)));
        let (black, white) = (least + 0.05 * (most - least), most - 0.02 * (most - least));
        let varied = most - least > 2.0 * EVEN + 8.0 * self.noise / self.step as f64;
        let mut best = ((true, f64::INFINITY), f64::INFINITY, [0, 0]);
        for row in 0..=self.rows.saturating_sub(count) {
            for column in 0..=self.columns.saturating_sub(count) {
                let inside =
                    || (row..row + count).flat_map(|y| &self.means[y * self.columns + column..][..count]).copied();
                let mean = inside().sum::<f64>() / (count * count) as f64;
                let apart = inside().map(|v| (v - mean).abs()).fold(0.0, f64::max);
                let off = |at: usize, all: usize| (at as f64 + count as f64 / 2.0) / all as f64 - 0.5;
                let (dx, dy) = (off(column, self.columns), off(row, self.rows));
                // A place at the corner must be twice as even as the middle.
                let score = (apart + 1e-4) * (1.0 + 2.0 * (dx * dx + dy * dy));
                let nothing = varied && (mean < black || mean > white);
                if (nothing, score) < best.0 {
                    // What holds nothing is never even enough to stop at.
                    let apart = if nothing { f64::INFINITY } else { apart };
                    best = ((nothing, score), apart, [column * self.step, row * self.step]);
                }
            }
        }
        (best.1, best.2)
    }
}

/// Mean and noise of one channel of a patch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// The mean.
    pub mean: f64,
    /// The variance: between frames of the same exposure where there are several (temporal noise, by half the variance of
    /// their differences: EMVA 1288, 4.0), else across the patch, less an even slope of the light (fixed pattern included).
    pub variance: f64,
    /// Means of blocks, the standard deviation beyond what the noise within blocks leads one to expect, over the mean.
    pub unevenness: f64,
    /// Variance within a block, the middle one of all blocks: what stands in a part of the patch does not add to it.
    pub within: f64,
    /// Samples.
    pub count: usize,
}

/// The level of channel `c` of frames of one exposure, each sample taken through `of`.
pub(super) fn level(frames: &[Frame], c: usize, of: impl Fn(f64) -> f64) -> Level {
    let planes: Vec<Vec<f64>> = frames.iter().map(|f| f.pixels().map(|rgb| of(f64::from(rgb[c]))).collect()).collect();
    let (width, height) = (frames[0].width(), frames[0].height());
    let pixels = width * height;
    let count = pixels * planes.len();
    let mean = planes.iter().flatten().sum::<f64>() / count as f64;
    let average: Vec<f64> =
        (0..pixels).map(|i| planes.iter().map(|p| p[i]).sum::<f64>() / planes.len() as f64).collect();
    let flat = without_slope(&average, width, mean);
    let across = flat.iter().map(|v| v * v).sum::<f64>() / (pixels.saturating_sub(3).max(1)) as f64;
    let variance = if planes.len() > 1 {
        // The mean of each frame is taken off: light that flickers is no noise of the sensor.
        let means: Vec<f64> = planes.iter().map(|p| p.iter().sum::<f64>() / pixels as f64).collect();
        let pair = |k: usize| {
            let (a, b) = (&planes[k], &planes[k + 1]);
            let step = means[k] - means[k + 1];
            a.iter().zip(b).map(|(a, b)| (a - b - step) * (a - b - step)).sum::<f64>() / (2 * (pixels - 1)) as f64
        };
        (0..planes.len() - 1).map(pair).sum::<f64>() / (planes.len() - 1) as f64
    } else {
        across
    };
    let blocks = blocks(&average, width);
    let spread = blocks.iter().map(|b| (b.0 - mean) * (b.0 - mean)).sum::<f64>() / blocks.len() as f64;
    let variances: Vec<f64> = blocks.iter().map(|b| b.1).collect();
    let within = super::response::median(&variances).unwrap_or(0.0);
    let expected = within * blocks.len() as f64 / pixels as f64;
    let unevenness = (spread - expected).max(0.0).sqrt() / mean.abs().max(f64::MIN_POSITIVE);
    Level { mean, variance, unevenness, within, count }
}

/// A plane less its mean and its slope across and down.
fn without_slope(plane: &[f64], width: usize, mean: f64) -> Vec<f64> {
    let height = plane.len() / width;
    let centred =
        |i: usize| ((i % width) as f64 - (width as f64 - 1.0) / 2.0, (i / width) as f64 - (height as f64 - 1.0) / 2.0);
    let (mut sx, mut sy, mut xx, mut yy) = (0.0, 0.0, 0.0, 0.0);
    for (i, v) in plane.iter().enumerate() {
        let (x, y) = centred(i);
        (sx, sy, xx, yy) = (sx + x * (v - mean), sy + y * (v - mean), xx + x * x, yy + y * y);
    }
    let slope = |s: f64, square: f64| if square > 0.0 { s / square } else { 0.0 };
    let (bx, by) = (slope(sx, xx), slope(sy, yy));
    plane
        .iter()
        .enumerate()
        .map(|(i, v)| {
            let (x, y) = centred(i);
            v - mean - bx * x - by * y
        })
        .collect()
}

/// The mean and the variance of each block.
fn blocks(plane: &[f64], width: usize) -> Vec<(f64, f64)> {
    let height = plane.len() / width;
    let block = |i: usize| (i / width * BLOCKS / height) * BLOCKS + i % width * BLOCKS / width;
    let mut sums = [(0.0, 0usize); BLOCKS * BLOCKS];
    for (i, v) in plane.iter().enumerate() {
        let sum = &mut sums[block(i)];
        *sum = (sum.0 + v, sum.1 + 1);
    }
    let means = sums.map(|(sum, count)| sum / count.max(1) as f64);
    let mut squares = [0.0; BLOCKS * BLOCKS];
    for (i, v) in plane.iter().enumerate() {
        let apart = v - means[block(i)];
        squares[block(i)] += apart * apart;
    }
    (0..BLOCKS * BLOCKS)
        .filter(|b| sums[*b].1 > 0)
        .map(|b| (means[b], squares[b] / (sums[b].1 as f64 - 1.0).max(1.0)))
        .collect()
}
