//! What both interpolations need, and what tells them apart.
//!
//! Unsafe, for the table is read without a bounds check.
#![allow(unsafe_code)]

use super::NODE;
use super::vector::Vector;
use crate::cube::fast::sample::Sample;
use crate::cube::fast::{Axis, FastCube, Node, Plan, padded};

/// What a domain of 0..1 spares, by far the most common.
///
/// Nothing, since the domain is another.
pub(super) const OTHER: u8 = 0;
/// Of floats: the offset, and the rest of the scale, which is whole.
pub(super) const FLOATS: u8 = 1;
/// Of code values: the offset, and clamping where they come as such.
pub(super) const CODES: u8 = 2;

/// What both interpolations need.
pub(super) struct Table<'a, V> {
    pub(super) vector: V,
    nodes: &'a [Node],
    pub(super) axes: [Axis; 3],
    /// Bytes to the next node in red, green and blue.
    strides: [usize; 3],
}

impl<'a, V: Vector> Table<'a, V> {
    pub(super) fn new(vector: V, cube: &'a FastCube, code: f32) -> Self {
        // What the loads without a check rely on.
        assert!(cube.nodes.len() == padded(cube.size));
        Self { vector, nodes: &cube.nodes, axes: cube.axes(code), strides: cube.strides().map(|s| s * NODE) }
    }

    /// Nodes at offsets in bytes, each a further `step` on.
    ///
    /// # Safety
    /// As [`Vector::nodes`].
    #[inline(always)]
    unsafe fn nodes(&self, at: V::Offsets, step: usize) -> V::Floats {
        // SAFETY: the caller's promise.
        unsafe { self.vector.nodes(self.nodes, at, step) }
    }
}

/// An [`Axis`] in registers.
pub(super) struct Place<V: Vector> {
    low: V::Floats,
    range: V::Floats,
    scale: V::Floats,
    rest: V::Floats,
    stride: V::Floats,
}

impl<V: Vector> Place<V> {
    #[inline(always)]
    pub(super) fn of(table: &Table<'_, V>, channel: usize) -> Self {
        let (axis, v) = (table.axes[channel], table.vector);
        Self {
            low: v.all(axis.low),
            range: v.all(axis.range),
            scale: v.all(axis.scale),
            rest: v.all(axis.scale_rest),
            stride: v.all(table.strides[channel] as f32),
        }
    }

    /// The fraction within the cell, and the grid step below: 0 to size - 1 for every input, since samples are clamped first,
    /// or are codes that cannot lie outside.
    #[inline(always)]
    pub(super) fn at<const DOMAIN: u8, S: Sample>(&self, v: V, samples: V::Floats) -> (V::Floats, V::Floats) {
        let above = if DOMAIN == OTHER { v.subtract(samples, self.low) } else { samples };
        let above = if DOMAIN == CODES && S::MAX_CODE > 1.0 { above } else { v.clamp(above, self.range) };
        let step = v.floor(v.multiply(above, self.scale));
        // Fused, so that the product's rounding, and then the scale's, do not enter the fraction.
        let fraction = v.multiply_subtract(above, self.scale, step);
        (if DOMAIN == FLOATS { fraction } else { v.multiply_add(above, self.rest, fraction) }, step)
    }
}

/// Byte offset of the lowest node: exact in f32, since it is a multiple of 16 below 2^28.
#[inline(always)]
pub(super) fn base<V: Vector>(v: V, places: &[Place<V>; 3], step: [V::Floats; 3]) -> V::Wholes {
    let red = v.multiply(step[0], places[0].stride);
    let green = v.multiply_add(step[1], places[1].stride, red);
    v.wholes(v.multiply_add(step[2], places[2].stride, green))
}

/// An interpolation.
pub(super) trait Method<V: Vector> {
    /// Whether floats are best written by whole lines of the cache.
    const LINES: bool;

    /// Keeps the nodes and weights of a vector of pixels: the lowest node, and the fractions above it.
    fn plan(&self, v: V, plan: &mut Plan, at: usize, base: V::Wholes, fraction: [V::Floats; 3]);

    /// The colours of the group of pixels from `at`.
    ///
    /// # Safety
    /// The plan must have offsets of nodes of the table's cube, and in what [`plan`](Self::plan) adds to them one step each in
    /// one, two and three channels, which the table's padding has room for.
    unsafe fn group(table: &Table<'_, V>, plan: &Plan, at: usize) -> [V::Floats; 4];
}

/// From the lowest node to the one a step along each channel, and to the one that lacks that step, in bytes.
pub(super) struct Tetrahedral<V: Vector> {
    with: [V::Wholes; 3],
    without: [V::Wholes; 3],
}

impl<V: Vector> Tetrahedral<V> {
    pub(super) fn new(table: &Table<'_, V>) -> Self {
        let (v, total) = (table.vector, table.strides.iter().sum::<usize>());
        let all = |s: usize| v.all_wholes(s as u32);
        let [r, g, b] = table.strides;
        Self { with: [all(r), all(g), all(b)], without: [all(total - r), all(total - g), all(total - b)] }
    }
}

impl<V: Vector> Method<V> for Tetrahedral<V> {
    const LINES: bool = true;

    #[inline(always)]
    fn plan(&self, v: V, plan: &mut Plan, at: usize, base: V::Wholes, [r, g, b]: [V::Floats; 3]) {
        let ([red, green, blue], [not_red, not_green, not_blue]) = (self.with, self.without);
        let (more, less) = v.max_min(r, g);
        let (high, rest) = v.max_min(more, b);
        let (middle, low) = v.max_min(less, rest);
        // The first step goes along the largest fraction, the last along the smallest. Between equals either may come first:
        // the node between them has no weight.
        let (green_first, over, under) = (v.greater(g, r), v.greater(b, more), v.greater(less, b));
        let first = v.choose(over, blue, v.choose(green_first, green, red));
        let second = v.choose(under, not_blue, v.choose(green_first, not_red, not_green));
        v.store_wholes(&mut plan.index[0], at, base);
        v.store_wholes(&mut plan.index[1], at, v.add_wholes(base, first));
        v.store_wholes(&mut plan.index[2], at, v.add_wholes(base, second));
        v.store(&mut plan.weight[0], at, v.subtract(v.all(1.0), high));
        v.store(&mut plan.weight[1], at, v.subtract(high, middle));
        v.store(&mut plan.weight[2], at, v.subtract(middle, low));
        v.store(&mut plan.weight[3], at, low);
    }

    /// Node after node, not pixel after pixel: four sums grow side by side, and none waits for itself.
    #[inline(always)]
    unsafe fn group(table: &Table<'_, V>, plan: &Plan, at: usize) -> [V::Floats; 4] {
        let (v, Plan { index, weight }) = (table.vector, plan);
        let total = table.strides.iter().sum::<usize>();
        // SAFETY: the caller's promise.
        unsafe {
            let (lowest, w) = (v.offsets(&index[0], at), v.load(&weight[0], at));
            let sum = [
                v.multiply(v.spread::<0>(w), table.nodes(lowest[0], 0)),
                v.multiply(v.spread::<1>(w), table.nodes(lowest[1], 0)),
                v.multiply(v.spread::<2>(w), table.nodes(lowest[2], 0)),
                v.multiply(v.spread::<3>(w), table.nodes(lowest[3], 0)),
            ];
            let sum = add(table, v.load(&weight[3], at), lowest, total, sum);
            let sum = add(table, v.load(&weight[1], at), v.offsets(&index[1], at), 0, sum);
            add(table, v.load(&weight[2], at), v.offsets(&index[2], at), 0, sum)
        }
    }
}

/// Adds one of the nodes of each pixel of a group to `sum`.
///
/// # Safety
/// As [`Vector::nodes`].
#[inline(always)]
unsafe fn add<V: Vector>(
    table: &Table<'_, V>,
    w: V::Floats,
    at: [V::Offsets; 4],
    step: usize,
    sum: [V::Floats; 4],
) -> [V::Floats; 4] {
    let v = table.vector;
    // SAFETY: the caller's promise.
    unsafe {
        [
            v.multiply_add(v.spread::<0>(w), table.nodes(at[0], step), sum[0]),
            v.multiply_add(v.spread::<1>(w), table.nodes(at[1], step), sum[1]),
            v.multiply_add(v.spread::<2>(w), table.nodes(at[2], step), sum[2]),
            v.multiply_add(v.spread::<3>(w), table.nodes(at[3], step), sum[3]),
        ]
    }
}

pub(super) struct Trilinear;

/// `a` to `b` by `t`.
#[inline(always)]
fn mix<V: Vector>(v: V, t: V::Floats, a: V::Floats, b: V::Floats) -> V::Floats {
    v.multiply_add(t, v.subtract(b, a), a)
}

/// Nodes of one vector of a group, mixed by the fractions of its pixels.
///
/// # Safety
/// As [`Method::group`].
#[inline(always)]
unsafe fn mixed<V: Vector, const K: usize>(table: &Table<'_, V>, i: V::Offsets, fraction: [V::Floats; 3]) -> V::Floats {
    let (v, [red, green, blue]) = (table.vector, table.strides);
    let [r, g, b] = [v.spread::<K>(fraction[0]), v.spread::<K>(fraction[1]), v.spread::<K>(fraction[2])];
    // SAFETY: the caller's promise.
    unsafe {
        let edge = [
            mix(v, r, table.nodes(i, 0), table.nodes(i, red)),
            mix(v, r, table.nodes(i, green), table.nodes(i, green + red)),
            mix(v, r, table.nodes(i, blue), table.nodes(i, blue + red)),
            mix(v, r, table.nodes(i, blue + green), table.nodes(i, blue + green + red)),
        ];
        mix(v, b, mix(v, g, edge[0], edge[1]), mix(v, g, edge[2], edge[3]))
    }
}

impl<V: Vector> Method<V> for Trilinear {
    const LINES: bool = false;

    #[inline(always)]
    fn plan(&self, v: V, plan: &mut Plan, at: usize, base: V::Wholes, fraction: [V::Floats; 3]) {
        v.store_wholes(&mut plan.index[0], at, base);
        for (lane, fraction) in plan.weight.iter_mut().zip(fraction) {
            v.store(lane, at, fraction);
        }
    }

    #[inline(always)]
    unsafe fn group(table: &Table<'_, V>, plan: &Plan, at: usize) -> [V::Floats; 4] {
        let (v, [r, g, b, _]) = (table.vector, &plan.weight);
        let (i, fraction) = (v.offsets(&plan.index[0], at), [v.load(r, at), v.load(g, at), v.load(b, at)]);
        // SAFETY: the caller's promise.
        unsafe {
            [
                mixed::<V, 0>(table, i[0], fraction),
                mixed::<V, 1>(table, i[1], fraction),
                mixed::<V, 2>(table, i[2], fraction),
                mixed::<V, 3>(table, i[3], fraction),
            ]
        }
    }
}
