//! The normal equations of a fit: a symmetric 3x3 block for each pair of nodes that a reader mixes, and a right side.
//!
//! Nodes stand in planes of one blue step each. A plane is padded by zeros on both sides, so that a neighbour's place is
//! always the node's own plus a fixed offset. Sums run in a fixed order: the result does not depend on the thread count.

use crate::cube::Share;
use rayon::prelude::*;
use std::ops::Range;

/// A symmetric 3x3 matrix: rr, gg, bb, rg, rb, gb.
pub(super) type Block = [f64; 6];

/// Block times vector.
pub(super) fn times([rr, gg, bb, rg, rb, gb]: &Block, [r, g, b]: [f64; 3]) -> [f64; 3] {
    [rr * r + rg * g + rb * b, rg * r + gg * g + gb * b, rb * r + gb * g + bb * b]
}

/// Steps in red, green and blue to itself and to the nodes that come later in order and share a cell.
const NEIGHBOURS: [[isize; 3]; 14] = [
    [0, 0, 0],
    [1, 0, 0],
    [0, 1, 0],
    [1, 1, 0],
    [0, 0, 1],
    [1, 0, 1],
    [0, 1, 1],
    [1, 1, 1],
    // Only mixed by a trilinear reader.
    [-1, 1, 0],
    [-1, 0, 1],
    [-1, 1, 1],
    [0, -1, 1],
    [1, -1, 1],
    [-1, -1, 1],
];

/// How many of [`NEIGHBOURS`] a reader mixes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Reach {
    Tetrahedral = 8,
    Trilinear = 14,
}

/// Index of a neighbour in [`NEIGHBOURS`] by its steps, each plus one.
const SLOTS: [usize; 27] = {
    let mut table = [0; 27];
    let mut i = 0;
    while i < NEIGHBOURS.len() {
        let [r, g, b] = NEIGHBOURS[i];
        table[((r + 1) + 3 * (g + 1) + 9 * (b + 1)) as usize] = i;
        i += 1;
    }
    table
};

/// For two corners of a cell: which comes first in order, and the slot of the other seen from there.
const PAIRS: [[(usize, usize); 8]; 8] = {
    let mut table = [[(0, 0); 8]; 8];
    let mut i = 0;
    while i < 64 {
        let (one, two) = (i / 8, i % 8);
        // The corner's number grows in the order of the nodes.
        let (low, high) = if one < two { (one, two) } else { (two, one) };
        let r = (high & 1) + 1 - (low & 1);
        let g = (high >> 1 & 1) + 1 - (low >> 1 & 1);
        let b = (high >> 2) + 1 - (low >> 2);
        table[one][two] = (low, SLOTS[r + 3 * g + 9 * b]);
        i += 1;
    }
    table
};

/// Where the nodes of a cube stand.
#[derive(Debug, Clone, Copy)]
struct Grid {
    size: usize,
    pad: usize,
    stride: usize,
}

impl Grid {
    const fn new(size: usize) -> Self {
        let pad = size + 1;
        Self { size, pad, stride: size * size + 2 * pad }
    }

    /// The nodes' places within a plane of one channel.
    const fn inner(&self) -> Range<usize> {
        self.pad..self.pad + self.size * self.size
    }
}

/// Three numbers for each node.
#[derive(Debug, Clone)]
pub(super) struct Field {
    grid: Grid,
    /// Planes, in each the channels, in each the places.
    values: Vec<f64>,
}

impl Field {
    /// All zero, for a cube of `size` points.
    pub(super) fn zero(size: usize) -> Self {
        let grid = Grid::new(size);
        Self { grid, values: vec![0.0; grid.size * 3 * grid.stride] }
    }

    const fn place(&self, node: usize, channel: usize) -> usize {
        let face = self.grid.size * self.grid.size;
        (node / face * 3 + channel) * self.grid.stride + self.grid.pad + node % face
    }

    pub(super) fn get(&self, node: usize) -> [f64; 3] {
        std::array::from_fn(|c| self.values[self.place(node, c)])
    }

    pub(super) fn set(&mut self, node: usize, value: [f64; 3]) {
        for c in 0..3 {
            let place = self.place(node, c);
            self.values[place] = value[c];
        }
    }

    pub(super) fn plane(&self, blue: usize) -> &[f64] {
        &self.values[blue * 3 * self.grid.stride..][..3 * self.grid.stride]
    }

    fn channels(&self, blue: usize, places: &Range<usize>) -> [&[f64]; 3] {
        let plane = self.plane(blue);
        std::array::from_fn(|c| &plane[c * self.grid.stride..][places.clone()])
    }

    /// Changes every plane and adds up what `change` gives, in order.
    pub(super) fn each_plane(&mut self, change: impl Fn(usize, &mut [f64]) -> f64 + Sync) -> f64 {
        let planes = self.values.par_chunks_mut(3 * self.grid.stride).enumerate();
        let sums: Vec<f64> = planes.map(|(blue, plane)| change(blue, plane)).collect();
        sums.iter().sum()
    }

    /// Adds `factor` times `other`.
    pub(super) fn add(&mut self, factor: f64, other: &Self) {
        self.each_plane(|blue, plane| {
            for (value, more) in plane.iter_mut().zip(other.plane(blue)) {
                *value += factor * more;
            }
            0.0
        });
    }
}

/// One plane of the equations.
#[derive(Debug, Clone)]
struct Plane {
    /// Neighbours, in each the components of the block, in each the places.
    blocks: Vec<f64>,
    /// The right side: channels, in each the places.
    right: Vec<f64>,
}

/// The normal equations.
#[derive(Debug, Clone)]
pub(super) struct Normal {
    grid: Grid,
    reach: Reach,
    planes: Vec<Plane>,
}

/// Two neighbouring planes, to which the cells between them add.
pub(super) struct Layer<'a> {
    grid: Grid,
    blue: usize,
    planes: &'a mut [Plane],
}

impl Layer<'_> {
    /// Steps in blue to the cells.
    pub(super) const fn blue(&self) -> usize {
        self.blue
    }

    /// Adds `tensor` times `weight` for a pair of corners of the cell at `step`.
    pub(super) fn add_pair(&mut self, step: [usize; 3], [one, two]: [usize; 2], tensor: &Block, weight: f64) {
        let (low, slot) = PAIRS[one][two];
        let place = self.place(step, low);
        let plane = &mut self.planes[low >> 2].blocks[slot * 6 * self.grid.stride..];
        for (component, value) in tensor.iter().enumerate() {
            plane[component * self.grid.stride + place] += weight * value;
        }
    }

    /// Adds to the right side at a corner of the cell at `step`.
    pub(super) fn add_right(&mut self, step: [usize; 3], corner: usize, value: [f64; 3], weight: f64) {
        let place = self.place(step, corner);
        let plane = &mut self.planes[corner >> 2].right;
        for c in 0..3 {
            plane[c * self.grid.stride + place] += weight * value[c];
        }
    }

    /// Adds a sample in the cell at `step` that mixes `shares` and is away by `away`, under the metric `tensor`.
    pub(super) fn add_sample(&mut self, step: [usize; 3], shares: &[Share], away: [f64; 3], tensor: &Block) {
        let pull = times(tensor, away);
        for (i, (one, a)) in shares.iter().enumerate() {
            self.add_right(step, *one, pull, *a);
            for (two, b) in &shares[i..] {
                self.add_pair(step, [*one, *two], tensor, a * b);
            }
        }
    }

    const fn place(&self, [r, g, _]: [usize; 3], corner: usize) -> usize {
        self.grid.pad + r + (corner & 1) + self.grid.size * (g + (corner >> 1 & 1))
    }
}

impl Normal {
    /// All zero, for a cube of `size` points.
    pub(super) fn zero(size: usize, reach: Reach) -> Self {
        let grid = Grid::new(size);
        let plane = || Plane { blocks: vec![0.0; reach as usize * 6 * grid.stride], right: vec![0.0; 3 * grid.stride] };
        Self { grid, reach, planes: (0..size).into_par_iter().map(|_| plane()).collect() }
    }

    /// Lets every layer of cells add its own: first the even ones, side by side, then the odd ones.
    pub(super) fn each_layer(&mut self, add: impl Fn(&mut Layer<'_>) + Sync) {
        let grid = self.grid;
        for start in 0..2 {
            self.planes[start..].par_chunks_exact_mut(2).enumerate().for_each(|(i, planes)| {
                add(&mut Layer { grid, blue: start + 2 * i, planes });
            });
        }
    }

    fn blocks(&self, blue: usize, slot: usize, places: &Range<usize>) -> [&[f64]; 6] {
        let stride = self.grid.stride;
        std::array::from_fn(|c| &self.planes[blue].blocks[(slot * 6 + c) * stride..][places.clone()])
    }

    /// The right side of one plane.
    pub(super) fn right(&self, blue: usize) -> &[f64] {
        &self.planes[blue].right
    }

    /// `into` becomes the product with `field`; gives the product of both.
    pub(super) fn times(&self, field: &Field, into: &mut Field) -> f64 {
        let (grid, inner) = (self.grid, self.grid.inner());
        into.each_plane(|blue, plane| {
            plane.fill(0.0);
            for (slot, neighbour) in NEIGHBOURS[..self.reach as usize].iter().enumerate() {
                let step = neighbour[0] + grid.size as isize * neighbour[1];
                let up = neighbour[2].unsigned_abs();
                let moved = |by: isize| inner.start.wrapping_add_signed(by)..inner.end.wrapping_add_signed(by);
                if blue + up < grid.size {
                    let there = field.channels(blue + up, &moved(step));
                    accumulate(grid, plane, self.blocks(blue, slot, &inner), there);
                }
                if slot > 0 && blue >= up {
                    let there = moved(-step);
                    let blocks = self.blocks(blue - up, slot, &there);
                    accumulate(grid, plane, blocks, field.channels(blue - up, &there));
                }
            }
            field.plane(blue).iter().zip(plane.iter()).map(|(a, b)| a * b).sum()
        })
    }

    /// The inverses of each node's block with itself.
    pub(super) fn inverses(&self) -> Inverses {
        let (grid, inner) = (self.grid, self.grid.inner());
        let planes = (0..grid.size).into_par_iter().map(|blue| {
            let own = self.blocks(blue, 0, &(0..grid.stride));
            let mut blocks = vec![0.0; 6 * grid.stride];
            for place in inner.clone() {
                let block = inverse(own.map(|component| component[place]));
                for c in 0..6 {
                    blocks[c * grid.stride + place] = block[c];
                }
            }
            blocks
        });
        Inverses { grid, planes: planes.collect() }
    }
}

/// The inverse of a symmetric positive block; zero for one that has none.
fn inverse([rr, gg, bb, rg, rb, gb]: Block) -> Block {
    let (a, b, c) = (gg * bb - gb * gb, rb * gb - rg * bb, rg * gb - rb * gg);
    let determinant = rr * a + rg * b + rb * c;
    let inverse = [a, rr * bb - rb * rb, rr * gg - rg * rg, b, c, rg * rb - rr * gb].map(|v| v / determinant);
    if determinant > 0.0 && inverse.iter().all(|v| v.is_finite()) { inverse } else { [0.0; 6] }
}

/// One block for each node.
pub(super) struct Inverses {
    grid: Grid,
    planes: Vec<Vec<f64>>,
}

impl Inverses {
    /// `into` becomes the product with `field` where `free` is 1, and 0 where that is 0; gives the product of both.
    pub(super) fn times(&self, field: &Field, free: &Field, into: &mut Field) -> f64 {
        let (grid, inner) = (self.grid, self.grid.inner());
        into.each_plane(|blue, plane| {
            plane.fill(0.0);
            let blocks = std::array::from_fn(|c| &self.planes[blue][c * grid.stride..][inner.clone()]);
            accumulate(grid, plane, blocks, field.channels(blue, &inner));
            let mut sum = 0.0;
            for ((value, free), other) in plane.iter_mut().zip(free.plane(blue)).zip(field.plane(blue)) {
                *value *= free;
                sum += *value * other;
            }
            sum
        })
    }
}

/// Adds block times vector for every node of a plane.
fn accumulate(grid: Grid, plane: &mut [f64], [rr, gg, bb, rg, rb, gb]: [&[f64]; 6], [xr, xg, xb]: [&[f64]; 3]) {
    let inner = grid.inner();
    let (red, rest) = plane.split_at_mut(grid.stride);
    let (green, blue) = rest.split_at_mut(grid.stride);
    let (yr, yg, yb) = (&mut red[inner.clone()], &mut green[inner.clone()], &mut blue[inner]);
    // Equal lengths known to the compiler, which then works on several nodes at once.
    let n = yr.len();
    let (rr, gg, bb, rg, rb, gb) = (&rr[..n], &gg[..n], &bb[..n], &rg[..n], &rb[..n], &gb[..n]);
    let (xr, xg, xb, yg, yb) = (&xr[..n], &xg[..n], &xb[..n], &mut yg[..n], &mut yb[..n]);
    for i in 0..n {
        yr[i] += rr[i] * xr[i] + rg[i] * xg[i] + rb[i] * xb[i];
        yg[i] += rg[i] * xr[i] + gg[i] * xg[i] + gb[i] * xb[i];
        yb[i] += rb[i] * xr[i] + gb[i] * xg[i] + bb[i] * xb[i];
    }
}
