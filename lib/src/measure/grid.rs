//! Frames of a bracket as coarse grids of cells, and the even regions in them.

use super::patch::{Patch, SMALLEST};
use crate::frame::Frame;

/// Cells along the shorter side of a frame, about.
const CELLS: usize = 48;
/// Pixels over which noise that a camera smoothed is no longer alike.
const APART: usize = 12;
/// Neighbouring cells of one region differ by less than this, in stops, beside their noise.
const JOINED: f64 = 0.06;
/// Cells of one patch lie within this of the cell in its middle, in stops, beside their noise.
const EVEN: f64 = 0.05;

/// The standard deviation of normal noise over the median of the differences between two of its samples: 1 / (0.6745 sqrt 2).
const MEDIAN_TO_DEVIATION: f64 = 1.0484;

/// The mean signal of each cell of one frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    /// The file, for messages.
    pub name: String,
    /// Exposure in stops from what the meter calls mid-grey.
    pub stops: f64,
    /// Pixels of the frame, across and down.
    pub size: [usize; 2],
    /// Pixels of a cell along each edge.
    pub step: usize,
    /// Cells across.
    pub columns: usize,
    /// Cells down.
    pub rows: usize,
    /// Red, green and blue of each cell, row after row.
    pub means: Vec<[f64; 3]>,
    /// Variance of the mean of the three channels within each cell.
    pub variances: Vec<f64>,
}

impl Grid {
    /// The grid of a frame. A frame smaller than a cell gives an empty grid.
    pub fn of(name: String, stops: f64, frame: &Frame) -> Self {
        let size = [frame.width(), frame.height()];
        let step = (size[0].min(size[1]) / CELLS).max(2);
        let (columns, rows) = (size[0] / step, size[1] / step);
        let count = (step * step) as f64;
        let (mut means, mut variances) = (Vec::new(), Vec::new());
        for i in 0..columns * rows {
            let (left, top) = (i % columns * step, i / columns * step);
            let inside = || (top..top + step).flat_map(move |y| (left..left + step).map(move |x| frame.rgb(x, y)));
            let mut sums = [0.0; 3];
            inside().for_each(|rgb| (0..3).for_each(|c| sums[c] += f64::from(rgb[c])));
            let mean = sums.map(|s| s / count);
            let grey = mean.iter().sum::<f64>() / 3.0;
            let apart = inside().map(|rgb| rgb.iter().map(|v| f64::from(*v)).sum::<f64>() / 3.0 - grey);
            variances.push(apart.map(|v| v * v).sum::<f64>() / (count - 1.0).max(1.0));
            means.push(mean);
        }
        Self { name, stops, size, step, columns, rows, means, variances }
    }

    /// The mean of the three channels of a cell.
    pub fn grey(&self, cell: usize) -> f64 {
        self.means[cell].iter().sum::<f64>() / 3.0
    }

    /// Standard deviation of a cell's mean: of the middle one of all cells, so that edges do not count.
    pub fn noise(&self) -> f64 {
        let variance = crate::statistics::median(&self.variances).unwrap_or(0.0);
        (variance / (self.step * self.step) as f64).sqrt()
    }

    /// The same where noise was smoothed, so that a cell varies less within itself than against others: by cells some pixels
    /// apart, of which most are of one surface.
    pub fn smoothed_noise(&self) -> f64 {
        let lag = (APART / self.step).max(1);
        let pairs = (0..self.means.len()).filter(|i| i % self.columns + lag < self.columns);
        let apart: Vec<f64> = pairs.map(|i| (self.grey(i + lag) - self.grey(i)).abs()).collect();
        // Of a normal distribution, whose median of |x| is 0.6745 of its deviation; a difference has that of two.
        let deviation = crate::statistics::median(&apart).unwrap_or(0.0) / (0.6745 * std::f64::consts::SQRT_2);
        deviation.max(self.noise())
    }

    /// The cells that lie wholly within a patch; all that it touches where none does.
    pub fn cells(&self, patch: &Patch) -> Vec<usize> {
        let edges = |at: usize, length: usize, most: usize| {
            let (from, to) = (at.div_ceil(self.step), (at + length) / self.step);
            if from < to { from..to.min(most) } else { at / self.step..(at / self.step + 1).min(most) }
        };
        let (across, down) = (edges(patch.x, patch.width, self.columns), edges(patch.y, patch.height, self.rows));
        down.flat_map(|row| across.clone().map(move |column| row * self.columns + column)).collect()
    }

    /// The mean signal of cells, by channel.
    pub fn signal(&self, cells: &[usize]) -> [f64; 3] {
        let count = cells.len().max(1) as f64;
        let sum = |c: usize| cells.iter().map(|i| self.means[*i][c]).sum::<f64>() / count;
        [sum(0), sum(1), sum(2)]
    }

    /// The four neighbours of a cell.
    fn neighbours(&self, cell: usize) -> impl Iterator<Item = usize> + use<> {
        let (x, y, columns, rows) = (cell % self.columns, cell / self.columns, self.columns, self.rows);
        [
            (x > 0).then(|| cell - 1),
            (x + 1 < columns).then(|| cell + 1),
            (y > 0).then(|| cell - columns),
            (y + 1 < rows).then(|| cell + columns),
        ]
        .into_iter()
        .flatten()
    }

    /// The connected cells from `start` on that `joins` lets in, from a cell to its neighbour.
    pub(super) fn flood(&self, start: usize, joins: impl Fn(usize, usize) -> bool) -> Vec<bool> {
        let mut inside = vec![false; self.columns * self.rows];
        inside[start] = true;
        let mut open = vec![start];
        while let Some(cell) = open.pop() {
            for next in self.neighbours(cell) {
                if !inside[next] && joins(cell, next) {
                    inside[next] = true;
                    open.push(next);
                }
            }
        }
        inside
    }

    /// The largest rectangle of cells that are all `inside`, as columns and rows: left, top, width, height.
    fn rectangle(&self, inside: &[bool]) -> [usize; 4] {
        let mut heights = vec![0usize; self.columns];
        let mut best = (0usize, [0; 4]);
        for row in 0..self.rows {
            for column in 0..self.columns {
                heights[column] = if inside[row * self.columns + column] { heights[column] + 1 } else { 0 };
            }
            for left in 0..self.columns {
                let mut height = usize::MAX;
                for right in left..self.columns {
                    height = height.min(heights[right]);
                    if height == 0 {
                        break;
                    }
                    let width = right + 1 - left;
                    // Of equal areas the squarer one: longer patches lie nearer to edges.
                    let area = width * height * 1000 - width.abs_diff(height);
                    if area > best.0 {
                        best = (area, [left, row + 1 - height, width, height]);
                    }
                }
            }
        }
        best.1
    }

    /// A rectangle of cells as a patch, clear of its edges by a cell unless too little is left.
    fn patch(&self, [left, top, width, height]: [usize; 4]) -> Option<Patch> {
        let within = |at: usize, count: usize| {
            let length = count * self.step;
            if length >= SMALLEST + 2 * self.step {
                (at * self.step + self.step, length - 2 * self.step)
            } else {
                (at * self.step, length)
            }
        };
        let ((x, w), (y, h)) = (within(left, width), within(top, height));
        Patch::new([x, y, w, h], self.size[0], self.size[1]).ok()
    }
}

/// An even region of a bracket's frames.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Region {
    /// The largest even patch in it.
    pub(super) patch: Patch,
    /// Edges of the frame that the region touches.
    pub(super) edges: usize,
}

/// The even regions of a bracket, the largest first: of the mean of all its frames, where whatever is lit by one light has
/// its contrast, and noise is least. What is black or clipped in every frame holds nothing and is passed over.
pub(super) fn regions(grids: &[Grid]) -> Vec<Region> {
    let first = &grids[0];
    let cells = first.columns * first.rows;
    let count = grids.len() as f64;
    let mean: Vec<f64> = (0..cells).map(|i| grids.iter().map(|g| g.grey(i)).sum::<f64>() / count).collect();
    // Noise of the mean: no more than that of one frame, since a fixed pattern stays, and no more than neighbours differ.
    let one = grids.iter().map(Grid::noise).sum::<f64>() / count;
    let steps: Vec<f64> =
        (0..cells).filter(|i| (i + 1) % first.columns != 0).map(|i| (mean[i + 1] - mean[i]).abs()).collect();
    let noise = one.min(crate::statistics::median(&steps).unwrap_or(0.0) * MEDIAN_TO_DEVIATION);
    // How far the mean moves with a stop: by the whole rise of a cell over the whole bracket.
    let span = grids[grids.len() - 1].stops - grids[0].stops;
    let rise = |i: usize| (grids[grids.len() - 1].grey(i) - grids[0].grey(i)).abs();
    let steepest = (0..cells).map(rise).fold(0.0, f64::max);
    let slope = steepest / span.max(1.0);
    let joined = (JOINED * slope).max(5.0 * noise);
    let even = (EVEN * slope).max(5.0 * noise);
    let mut seen = vec![false; cells];
    let mut found = Vec::new();
    for start in 0..cells {
        if seen[start] {
            continue;
        }
        let inside = first.flood(start, |a, b| (mean[a] - mean[b]).abs() <= joined);
        (0..cells).filter(|i| inside[*i]).for_each(|i| seen[i] = true);
        let area = first.rectangle(&inside);
        if area[2] < 2 || area[3] < 2 {
            continue;
        }
        // A region may slope: the patch is what lies near its middle.
        let middle = (area[1] + area[3] / 2) * first.columns + area[0] + area[2] / 2;
        if rise(middle) < 0.2 * steepest {
            continue;
        }
        let near: Vec<bool> = (0..cells).map(|i| inside[i] && (mean[i] - mean[middle]).abs() <= even).collect();
        let near = first.flood(middle, |_, b| near[b]);
        let Some(patch) = first.patch(first.rectangle(&near)) else { continue };
        let edges = [
            (0..first.rows).any(|y| inside[y * first.columns]),
            (0..first.rows).any(|y| inside[(y + 1) * first.columns - 1]),
            (0..first.columns).any(|x| inside[x]),
            (0..first.columns).any(|x| inside[(first.rows - 1) * first.columns + x]),
        ];
        found.push(Region { patch, edges: edges.into_iter().filter(|e| *e).count() });
    }
    found.sort_by_key(|r| std::cmp::Reverse(r.patch.width * r.patch.height));
    found
}
