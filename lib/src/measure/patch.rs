//! A patch of a frame: where it is, how even it is, and its levels.

use super::MeasureError;
use crate::frame::Frame;
use std::fmt;

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

/// The fewest pixels of a patch along an edge: fewer do not show the noise.
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

impl fmt::Display for Patch {
    /// Its notation for `--patch`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { x, y, width, height } = self;
        write!(f, "{x},{y},{width},{height}")
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
    let within = crate::statistics::median(&variances).unwrap_or(0.0);
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
