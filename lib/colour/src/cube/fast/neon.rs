//! The path for NEON, which 64-bit ARM processors have: four pixels to a vector where the plan is made, and one, with its
//! three channels, where nodes are added up.
//!
//! Unsafe as `x86.rs` is, and for the same reasons: vector loads and stores take pointers, the table is read without a bounds
//! check, and functions compiled for a processor's features may be called only where it has them. Every sum is made of the
//! same operations in the same order as there, so that both give the same bits.
#![allow(unsafe_code)]

use super::frame::{Frame, Kernel, Source, Target, tiles};
use super::sample::Sample;
use super::{Axis, FastCube, Interpolation, Lane, Node, Plan, TILE, padded};
use std::arch::aarch64::*;

/// Pixels that are taken together: two vectors, which hide each other's latency.
const LANES: usize = 8;

/// Whether this processor has what the path needs.
pub(super) fn available() -> bool {
    std::arch::is_aarch64_feature_detected!("neon")
}

/// Runs the frame.
///
/// # Panics
/// Where the processor lacks NEON.
pub(super) fn run<F: Frame>(cube: &FastCube, frame: F) {
    assert!(available(), "NEON is needed");
    // SAFETY: the processor has NEON.
    unsafe { run_neon(cube, frame) }
}

#[target_feature(enable = "neon")]
fn run_neon<F: Frame>(cube: &FastCube, frame: F) {
    let table = Table::new(cube, F::Sample::MAX_CODE);
    match cube.interpolation {
        Interpolation::Tetrahedral => tiles(Tetrahedral { table, plan: Plan::new() }, frame),
        Interpolation::Trilinear => tiles(Trilinear { table, plan: Plan::new() }, frame),
    }
}

/// What both interpolations need.
///
/// Made only in [`run_neon`], so code that has one may call functions for NEON.
struct Table<'a> {
    nodes: &'a [Node],
    axes: [Axis; 3],
    /// Nodes to the next one in red, green and blue.
    strides: [usize; 3],
}

impl<'a> Table<'a> {
    #[target_feature(enable = "neon")]
    fn new(cube: &'a FastCube, code: f32) -> Self {
        // What the loads without a check rely on.
        assert!(cube.nodes.len() == padded(cube.size));
        Self { nodes: &cube.nodes, axes: cube.axes(code), strides: cube.strides() }
    }

    /// A node.
    ///
    /// # Safety
    /// The sum must be that of a node in the table.
    #[inline]
    #[target_feature(enable = "neon")]
    unsafe fn node(&self, at: u32, step: usize) -> float32x4_t {
        debug_assert!(at as usize + step < self.nodes.len());
        // SAFETY: the caller's promise.
        unsafe { vld1q_f32(self.nodes.as_ptr().add(at as usize + step).cast()) }
    }
}

/// An [`Axis`] in registers.
#[derive(Clone, Copy)]
struct Place {
    low: float32x4_t,
    range: float32x4_t,
    scale: float32x4_t,
    rest: float32x4_t,
    stride: float32x4_t,
}

impl Place {
    #[inline]
    #[target_feature(enable = "neon")]
    fn of(table: &Table<'_>, channel: usize) -> Self {
        let axis = table.axes[channel];
        Self {
            low: vdupq_n_f32(axis.low),
            range: vdupq_n_f32(axis.range),
            scale: vdupq_n_f32(axis.scale),
            rest: vdupq_n_f32(axis.scale_rest),
            stride: vdupq_n_f32(table.strides[channel] as f32),
        }
    }

    /// The fraction within the cell, and the grid step below: 0 to size - 1 for every input, since samples are clamped first.
    #[inline]
    #[target_feature(enable = "neon")]
    fn at(&self, samples: float32x4_t) -> (float32x4_t, float32x4_t) {
        // Of a number and NaN these give the number.
        let above = vmaxnmq_f32(vsubq_f32(samples, self.low), vdupq_n_f32(0.0));
        let above = vminnmq_f32(above, self.range);
        let step = vrndmq_f32(vmulq_f32(above, self.scale));
        // Fused, so that the product's rounding, and then the scale's, do not enter the fraction.
        let fraction = vfmaq_f32(vnegq_f32(step), above, self.scale);
        (vfmaq_f32(fraction, above, self.rest), step)
    }
}

/// The lowest node: exact in f32, since a table has fewer than 2^24 nodes where a cell begins.
#[inline]
#[target_feature(enable = "neon")]
fn base(places: &[Place; 3], step: [float32x4_t; 3]) -> uint32x4_t {
    let red = vmulq_f32(step[0], places[0].stride);
    let green = vfmaq_f32(red, step[1], places[1].stride);
    vcvtq_u32_f32(vfmaq_f32(green, step[2], places[2].stride))
}

/// Eight samples as floats.
#[inline]
#[target_feature(enable = "neon")]
fn load<S: Sample>(lane: &Lane<S>, at: usize) -> [float32x4_t; 2] {
    let eight = lane[at..at + LANES].as_ptr();
    let wide = |codes| [vmovl_u16(vget_low_u16(codes)), vmovl_high_u16(codes)].map(|half| vcvtq_f32_u32(half));
    // SAFETY: the slice has eight samples; the loads need no alignment beyond theirs. Samples are f32, u16 or u8, which their
    // sizes tell apart.
    unsafe {
        match size_of::<S>() {
            4 => [vld1q_f32(eight.cast()), vld1q_f32(eight.add(4).cast())],
            2 => wide(vld1q_u16(eight.cast())),
            _ => wide(vmovl_u8(vld1_u8(eight.cast()))),
        }
    }
}

/// Eight values of the cube as samples, rounded as [`Sample::from_value`] rounds. Conversions take what is beyond a code's
/// range to its end, so that any node will do.
#[inline]
#[target_feature(enable = "neon")]
fn store<S: Sample>(lane: &mut Lane<S>, at: usize, values: [float32x4_t; 2]) {
    let eight = lane[at..at + LANES].as_mut_ptr();
    let codes = values.map(|half| vcvtnq_s32_f32(vmulq_f32(half, vdupq_n_f32(S::MAX_CODE))));
    // SAFETY: the slice has room for eight samples, f32, u16 or u8 by their sizes; the stores need no alignment beyond theirs.
    unsafe {
        match size_of::<S>() {
            4 => {
                vst1q_f32(eight.cast(), values[0]);
                vst1q_f32(eight.add(4).cast(), values[1]);
            }
            2 => vst1q_u16(eight.cast(), vcombine_u16(vqmovun_s32(codes[0]), vqmovun_s32(codes[1]))),
            _ => vst1_u8(eight.cast(), vqmovun_s16(vcombine_s16(vqmovn_s32(codes[0]), vqmovn_s32(codes[1])))),
        }
    }
}

/// Four numbers of a plan.
#[inline]
#[target_feature(enable = "neon")]
fn four(lane: &Lane<f32>, at: usize) -> float32x4_t {
    // SAFETY: the slice has four numbers.
    unsafe { vld1q_f32(lane[at..at + 4].as_ptr()) }
}

#[inline]
#[target_feature(enable = "neon")]
fn put(lane: &mut Lane<f32>, at: usize, values: float32x4_t) {
    // SAFETY: the slice has room for four numbers.
    unsafe { vst1q_f32(lane[at..at + 4].as_mut_ptr(), values) }
}

#[inline]
#[target_feature(enable = "neon")]
fn put_index(lane: &mut Lane<u32>, at: usize, values: uint32x4_t) {
    // SAFETY: the slice has room for four numbers.
    unsafe { vst1q_u32(lane[at..at + 4].as_mut_ptr(), values) }
}

/// Four pixels into planes; the fourth component is dropped.
#[inline]
#[target_feature(enable = "neon")]
fn transpose(p: [float32x4_t; 4]) -> [float32x4_t; 3] {
    let double = |v| vreinterpretq_f64_f32(v);
    let (rb01, rb23) = (double(vtrn1q_f32(p[0], p[1])), double(vtrn1q_f32(p[2], p[3])));
    let (ga01, ga23) = (double(vtrn2q_f32(p[0], p[1])), double(vtrn2q_f32(p[2], p[3])));
    [vtrn1q_f64(rb01, rb23), vtrn1q_f64(ga01, ga23), vtrn2q_f64(rb01, rb23)].map(|v| vreinterpretq_f32_f64(v))
}

/// The larger of numbers of which at least one is not negative, and the smaller: as whole numbers, as the path for AVX2 does.
#[inline]
#[target_feature(enable = "neon")]
fn max_min(a: float32x4_t, b: float32x4_t) -> (float32x4_t, float32x4_t) {
    let (a, b) = (vreinterpretq_s32_f32(a), vreinterpretq_s32_f32(b));
    (vreinterpretq_f32_s32(vmaxq_s32(a, b)), vreinterpretq_f32_s32(vminq_s32(a, b)))
}

/// All bits where `a` is greater than `b`, ordered as by [`max_min`].
#[inline]
#[target_feature(enable = "neon")]
fn greater(a: float32x4_t, b: float32x4_t) -> uint32x4_t {
    vcgtq_s32(vreinterpretq_s32_f32(a), vreinterpretq_s32_f32(b))
}

/// The plan holds nodes that [`plan_neon`](Self::plan_neon) found in this table, or zeros, which any table has.
struct Tetrahedral<'a> {
    table: Table<'a>,
    plan: Plan,
}

impl Tetrahedral<'_> {
    #[inline]
    #[target_feature(enable = "neon")]
    fn plan_neon<S: Sample>(&mut self, source: [&Lane<S>; 3]) {
        let (table, plan) = (&self.table, &mut self.plan);
        let places = [Place::of(table, 0), Place::of(table, 1), Place::of(table, 2)];
        let strides = table.strides.map(|s| s as u32);
        let total = strides.iter().sum::<u32>();
        // From the lowest node to the one a step along each channel, and to the one that lacks that step.
        let [red, green, blue] = strides.map(|s| vdupq_n_u32(s));
        let [not_red, not_green, not_blue] = strides.map(|s| vdupq_n_u32(total - s));
        for eight in (0..TILE).step_by(LANES) {
            let samples = [load(source[0], eight), load(source[1], eight), load(source[2], eight)];
            for half in [0, 1] {
                let at = eight + 4 * half;
                let (r, r_step) = places[0].at(samples[0][half]);
                let (g, g_step) = places[1].at(samples[1][half]);
                let (b, b_step) = places[2].at(samples[2][half]);
                let (more, less) = max_min(r, g);
                let (high, rest) = max_min(more, b);
                let (middle, low) = max_min(less, rest);
                // The first step goes along the largest fraction, the last along the smallest. Between equals either may
                // come first: the node between them has no weight.
                let (green_first, over, under) = (greater(g, r), greater(b, more), greater(less, b));
                let first = vbslq_u32(over, blue, vbslq_u32(green_first, green, red));
                let second = vbslq_u32(under, not_blue, vbslq_u32(green_first, not_red, not_green));
                let base = base(&places, [r_step, g_step, b_step]);
                put_index(&mut plan.index[0], at, base);
                put_index(&mut plan.index[1], at, vaddq_u32(base, first));
                put_index(&mut plan.index[2], at, vaddq_u32(base, second));
                put(&mut plan.weight[0], at, vsubq_f32(vdupq_n_f32(1.0), high));
                put(&mut plan.weight[1], at, vsubq_f32(high, middle));
                put(&mut plan.weight[2], at, vsubq_f32(middle, low));
                put(&mut plan.weight[3], at, low);
            }
        }
    }

    /// Adds one of the nodes of each of four pixels.
    ///
    /// # Safety
    /// As [`Table::node`].
    #[inline]
    #[target_feature(enable = "neon")]
    unsafe fn add(&self, w: float32x4_t, at: &[u32], step: usize, sum: [float32x4_t; 4]) -> [float32x4_t; 4] {
        // SAFETY: the caller's promise.
        unsafe {
            [
                vfmaq_laneq_f32::<0>(sum[0], self.table.node(at[0], step), w),
                vfmaq_laneq_f32::<1>(sum[1], self.table.node(at[1], step), w),
                vfmaq_laneq_f32::<2>(sum[2], self.table.node(at[2], step), w),
                vfmaq_laneq_f32::<3>(sum[3], self.table.node(at[3], step), w),
            ]
        }
    }

    /// Red, green and blue of the four pixels from `at`.
    #[inline]
    #[target_feature(enable = "neon")]
    fn four(&self, at: usize) -> [float32x4_t; 3] {
        let Plan { index, weight } = &self.plan;
        let [lowest, first, second] = [0, 1, 2].map(|k| &index[k][at..at + 4]);
        let total = self.table.strides.iter().sum::<usize>();
        // SAFETY: the plan has nodes of the cube, and nodes one step each in one, two and three channels above them, which the
        // table's padding has room for.
        unsafe {
            let w = four(&weight[0], at);
            let sum = [
                vmulq_laneq_f32::<0>(self.table.node(lowest[0], 0), w),
                vmulq_laneq_f32::<1>(self.table.node(lowest[1], 0), w),
                vmulq_laneq_f32::<2>(self.table.node(lowest[2], 0), w),
                vmulq_laneq_f32::<3>(self.table.node(lowest[3], 0), w),
            ];
            let sum = self.add(four(&weight[3], at), lowest, total, sum);
            let sum = self.add(four(&weight[1], at), first, 0, sum);
            transpose(self.add(four(&weight[2], at), second, 0, sum))
        }
    }

    #[inline]
    #[target_feature(enable = "neon")]
    fn blend_neon<S: Sample>(&self, target: [&mut Lane<S>; 3]) {
        for at in (0..TILE).step_by(LANES) {
            let (a, b) = (self.four(at), self.four(at + 4));
            store(target[0], at, [a[0], b[0]]);
            store(target[1], at, [a[1], b[1]]);
            store(target[2], at, [a[2], b[2]]);
        }
    }
}

impl Kernel for Tetrahedral<'_> {
    const INTEGERS: bool = true;

    #[inline(always)]
    fn plan<S: Sample>(&mut self, source: Source<'_, S>) {
        let source = source.planes();
        // SAFETY: a table is made only where the processor has NEON.
        unsafe { self.plan_neon(source) }
    }

    #[inline(always)]
    fn blend<S: Sample>(&self, target: Target<'_, S>, _large: bool) {
        // SAFETY: as above.
        unsafe { self.blend_neon(target.planes()) }
    }
}

/// The plan holds nodes that [`plan_neon`](Self::plan_neon) found in this table, or zeros, which any table has.
struct Trilinear<'a> {
    table: Table<'a>,
    plan: Plan,
}

/// `a` to `b` by element `K` of `t`.
#[inline]
#[target_feature(enable = "neon")]
fn mix<const K: i32>(t: float32x4_t, a: float32x4_t, b: float32x4_t) -> float32x4_t {
    vfmaq_laneq_f32::<K>(a, vsubq_f32(b, a), t)
}

impl Trilinear<'_> {
    #[inline]
    #[target_feature(enable = "neon")]
    fn plan_neon<S: Sample>(&mut self, source: [&Lane<S>; 3]) {
        let (table, plan) = (&self.table, &mut self.plan);
        let places = [Place::of(table, 0), Place::of(table, 1), Place::of(table, 2)];
        for eight in (0..TILE).step_by(LANES) {
            let samples = [load(source[0], eight), load(source[1], eight), load(source[2], eight)];
            for half in [0, 1] {
                let at = eight + 4 * half;
                let (r, r_step) = places[0].at(samples[0][half]);
                let (g, g_step) = places[1].at(samples[1][half]);
                let (b, b_step) = places[2].at(samples[2][half]);
                put_index(&mut plan.index[0], at, base(&places, [r_step, g_step, b_step]));
                put(&mut plan.weight[0], at, r);
                put(&mut plan.weight[1], at, g);
                put(&mut plan.weight[2], at, b);
            }
        }
    }

    /// Pixel `at + K`; the fractions are those of the four pixels from `at`.
    #[inline]
    #[target_feature(enable = "neon")]
    fn one<const K: i32>(&self, at: usize, [r, g, b]: [float32x4_t; 3]) -> float32x4_t {
        let lowest = self.plan.index[0][at + K as usize];
        let [red, green, blue] = self.table.strides;
        // SAFETY: the plan has nodes of the cube; the table's padding has room for a step in each channel.
        let node = |step| unsafe { self.table.node(lowest, step) };
        let edge = |step| mix::<K>(r, node(step), node(step + red));
        let face = |step| mix::<K>(g, edge(step), edge(step + green));
        mix::<K>(b, face(0), face(blue))
    }

    #[inline]
    #[target_feature(enable = "neon")]
    fn four(&self, at: usize) -> [float32x4_t; 3] {
        let fraction = [0, 1, 2].map(|c| four(&self.plan.weight[c], at));
        transpose([
            self.one::<0>(at, fraction),
            self.one::<1>(at, fraction),
            self.one::<2>(at, fraction),
            self.one::<3>(at, fraction),
        ])
    }

    #[inline]
    #[target_feature(enable = "neon")]
    fn blend_neon<S: Sample>(&self, target: [&mut Lane<S>; 3]) {
        for at in (0..TILE).step_by(LANES) {
            let (a, b) = (self.four(at), self.four(at + 4));
            store(target[0], at, [a[0], b[0]]);
            store(target[1], at, [a[1], b[1]]);
            store(target[2], at, [a[2], b[2]]);
        }
    }
}

impl Kernel for Trilinear<'_> {
    const INTEGERS: bool = true;

    #[inline(always)]
    fn plan<S: Sample>(&mut self, source: Source<'_, S>) {
        let source = source.planes();
        // SAFETY: a table is made only where the processor has NEON.
        unsafe { self.plan_neon(source) }
    }

    #[inline(always)]
    fn blend<S: Sample>(&self, target: Target<'_, S>, _large: bool) {
        // SAFETY: as above.
        unsafe { self.blend_neon(target.planes()) }
    }
}
