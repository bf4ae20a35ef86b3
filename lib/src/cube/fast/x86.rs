//! The path for AVX2 and FMA: eight pixels to a vector.
//!
//! One of the two modules of the workspace with unsafe code (the other is `math/x86.rs`): vector loads and stores take
//! pointers, the table is read without a bounds check, and functions compiled for a processor's features may be called
//! only where it has them.
#![allow(unsafe_code)]

use super::frame::{Frame, Kernel, Sample, tiles};
use super::{Axis, FastCube, Interpolation, Lane, Node, Plan, TILE, padded};
use std::arch::x86_64::*;

/// Pixels in a vector.
const LANES: usize = 8;
/// Bytes of a node.
const NODE: usize = size_of::<Node>();

/// Whether this processor has what the path needs.
pub(super) fn available() -> bool {
    is_x86_feature_detected!("avx2") && is_x86_feature_detected!("fma")
}

/// Runs the frame.
///
/// # Panics
/// Where the processor lacks the features.
pub(super) fn run<F: Frame>(cube: &FastCube, frame: F) {
    assert!(available(), "AVX2 and FMA are needed");
    // SAFETY: the processor has AVX2 and FMA.
    unsafe { run_avx2(cube, frame) }
}

#[target_feature(enable = "avx2,fma")]
fn run_avx2<F: Frame>(cube: &FastCube, frame: F) {
    let table = Table::new(cube, F::Sample::MAX_CODE);
    let plan = Plan::new();
    // Floats over 0..1, by far the most common, need neither an offset nor the rest of the scale.
    let plain = table.axes.iter().all(|a| a.low == 0.0 && a.scale_rest == 0.0);
    match (cube.interpolation, plain) {
        (Interpolation::Tetrahedral, true) => tiles(Tetrahedral::<true> { table, plan }, frame),
        (Interpolation::Tetrahedral, false) => tiles(Tetrahedral::<false> { table, plan }, frame),
        (Interpolation::Trilinear, true) => tiles(Trilinear::<true> { table, plan }, frame),
        (Interpolation::Trilinear, false) => tiles(Trilinear::<false> { table, plan }, frame),
    }
}

/// What both interpolations need.
///
/// Made only in [`run_avx2`], so whoever holds one may call functions for AVX2 and FMA.
struct Table<'a> {
    nodes: &'a [Node],
    axes: [Axis; 3],
    /// Bytes to the next node in red, green and blue.
    strides: [usize; 3],
}

impl<'a> Table<'a> {
    #[target_feature(enable = "avx2,fma")]
    fn new(cube: &'a FastCube, code: f32) -> Self {
        // What the loads without a check rely on.
        assert!(cube.nodes.len() == padded(cube.size));
        Self { nodes: &cube.nodes, axes: cube.axes(code), strides: cube.strides().map(|s| s * NODE) }
    }

    /// Two nodes: `low` bytes into the table, and `high`, both a further `step` on.
    ///
    /// # Safety
    /// Both must be multiples of a node's size that leave a whole node in the table.
    #[inline]
    #[target_feature(enable = "avx2,fma")]
    unsafe fn pair(&self, low: u32, high: u32, step: usize) -> __m256 {
        debug_assert!(low as usize + step + NODE <= size_of_val(self.nodes));
        debug_assert!(high as usize + step + NODE <= size_of_val(self.nodes));
        let nodes = self.nodes.as_ptr().cast::<u8>();
        // SAFETY: the caller's promise; a node is sixteen bytes at an address that sixteen divides.
        unsafe {
            let low = _mm_load_ps(nodes.add(low as usize + step).cast());
            let high = _mm_load_ps(nodes.add(high as usize + step).cast());
            _mm256_insertf128_ps::<1>(_mm256_castps128_ps256(low), high)
        }
    }
}

/// An [`Axis`] in registers.
#[derive(Clone, Copy)]
struct Place {
    low: __m256,
    range: __m256,
    scale: __m256,
    rest: __m256,
    stride: __m256,
}

impl Place {
    #[inline]
    #[target_feature(enable = "avx2,fma")]
    fn of(table: &Table<'_>, channel: usize) -> Self {
        let axis = table.axes[channel];
        Self {
            low: _mm256_set1_ps(axis.low),
            range: _mm256_set1_ps(axis.range),
            scale: _mm256_set1_ps(axis.scale),
            rest: _mm256_set1_ps(axis.scale_rest),
            stride: _mm256_set1_ps(table.strides[channel] as f32),
        }
    }

    /// The fraction within the cell, and the grid step below, for eight samples: 0 to size - 1 for every input, since
    /// samples are clamped first.
    #[inline]
    #[target_feature(enable = "avx2,fma")]
    fn at<const PLAIN: bool>(&self, samples: __m256) -> (__m256, __m256) {
        let above = if PLAIN { samples } else { _mm256_sub_ps(samples, self.low) };
        // The instruction gives its second operand when the first is NaN.
        let above = _mm256_max_ps(above, _mm256_setzero_ps());
        let above = _mm256_min_ps(above, self.range);
        let step = _mm256_floor_ps(_mm256_mul_ps(above, self.scale));
        // Fused, so that the product's rounding, and then the scale's, do not enter the fraction.
        let fraction = _mm256_fmsub_ps(above, self.scale, step);
        (if PLAIN { fraction } else { _mm256_fmadd_ps(above, self.rest, fraction) }, step)
    }
}

/// Byte offset of the lowest node: exact in f32, since it is a multiple of 16 below 2^28.
#[inline]
#[target_feature(enable = "avx2,fma")]
fn base(places: &[Place; 3], step: [__m256; 3]) -> __m256i {
    let red = _mm256_mul_ps(step[0], places[0].stride);
    let green = _mm256_fmadd_ps(step[1], places[1].stride, red);
    _mm256_cvtps_epi32(_mm256_fmadd_ps(step[2], places[2].stride, green))
}

#[inline]
#[target_feature(enable = "avx2,fma")]
fn load(lane: &Lane<f32>, at: usize) -> __m256 {
    let eight = &lane[at..at + LANES];
    // SAFETY: the slice has eight samples; the load needs no alignment.
    unsafe { _mm256_loadu_ps(eight.as_ptr()) }
}

#[inline]
#[target_feature(enable = "avx2,fma")]
fn store(lane: &mut Lane<f32>, at: usize, values: __m256) {
    let eight = &mut lane[at..at + LANES];
    // SAFETY: the slice has room for eight samples; the store needs no alignment.
    unsafe { _mm256_storeu_ps(eight.as_mut_ptr(), values) }
}

#[inline]
#[target_feature(enable = "avx2,fma")]
fn store_index(lane: &mut Lane<u32>, at: usize, bytes: __m256i) {
    let eight = &mut lane[at..at + LANES];
    // SAFETY: the slice has room for eight numbers of 32 bits; the store needs no alignment.
    unsafe { _mm256_storeu_si256(eight.as_mut_ptr().cast(), bytes) }
}

/// Pixels k and k + 4 in each vector, into planes; the fourth component is dropped.
#[inline]
#[target_feature(enable = "avx2,fma")]
fn transpose(p: [__m256; 4]) -> [__m256; 3] {
    let (rg01, rg23) = (_mm256_unpacklo_ps(p[0], p[1]), _mm256_unpacklo_ps(p[2], p[3]));
    let (ba01, ba23) = (_mm256_unpackhi_ps(p[0], p[1]), _mm256_unpackhi_ps(p[2], p[3]));
    [
        _mm256_shuffle_ps::<0b01_00_01_00>(rg01, rg23),
        _mm256_shuffle_ps::<0b11_10_11_10>(rg01, rg23),
        _mm256_shuffle_ps::<0b01_00_01_00>(ba01, ba23),
    ]
}

/// Element `K` of each half, all over that half.
#[inline]
#[target_feature(enable = "avx2,fma")]
fn spread<const K: usize>(v: __m256) -> __m256 {
    match K {
        0 => _mm256_permute_ps::<0x00>(v),
        1 => _mm256_permute_ps::<0x55>(v),
        2 => _mm256_permute_ps::<0xaa>(v),
        _ => _mm256_permute_ps::<0xff>(v),
    }
}

/// The plan holds offsets that [`plan_avx2`](Self::plan_avx2) made for this table, or zeros, which any table has.
struct Tetrahedral<'a, const PLAIN: bool> {
    table: Table<'a>,
    plan: Plan,
}

impl<const PLAIN: bool> Tetrahedral<'_, PLAIN> {
    #[inline]
    #[target_feature(enable = "avx2,fma")]
    fn plan_avx2(&mut self, source: [&Lane<f32>; 3]) {
        let (table, plan) = (&self.table, &mut self.plan);
        // Apart from the plan, so that they stay in registers while it is written.
        let places = [Place::of(table, 0), Place::of(table, 1), Place::of(table, 2)];
        let strides = table.strides.map(|s| s as i32);
        let total = strides.iter().sum::<i32>();
        // Bytes from the lowest node to the one a step along each channel, and to the one that lacks that step.
        let [red, green, blue] = strides.map(|s| _mm256_castsi256_ps(_mm256_set1_epi32(s)));
        let [not_red, not_green, not_blue] = strides.map(|s| _mm256_castsi256_ps(_mm256_set1_epi32(total - s)));
        for at in (0..TILE).step_by(LANES) {
            let (r, r_step) = places[0].at::<PLAIN>(load(source[0], at));
            let (g, g_step) = places[1].at::<PLAIN>(load(source[1], at));
            let (b, b_step) = places[2].at::<PLAIN>(load(source[2], at));
            let (more, less) = (_mm256_max_ps(r, g), _mm256_min_ps(r, g));
            let (high, low) = (_mm256_max_ps(more, b), _mm256_min_ps(less, b));
            let middle = _mm256_max_ps(less, _mm256_min_ps(more, b));
            // The first step goes along the largest fraction, the last along the smallest. Between equals either may
            // come first: the node between them has no weight.
            let red_first = _mm256_cmp_ps::<_CMP_GE_OQ>(r, g);
            let over = _mm256_cmp_ps::<_CMP_GT_OQ>(b, more);
            let under = _mm256_cmp_ps::<_CMP_LT_OQ>(b, less);
            let first = _mm256_blendv_ps(_mm256_blendv_ps(green, red, red_first), blue, over);
            let second = _mm256_blendv_ps(_mm256_blendv_ps(not_red, not_green, red_first), not_blue, under);
            let base = base(&places, [r_step, g_step, b_step]);
            store_index(&mut plan.index[0], at, base);
            store_index(&mut plan.index[1], at, _mm256_add_epi32(base, _mm256_castps_si256(first)));
            store_index(&mut plan.index[2], at, _mm256_add_epi32(base, _mm256_castps_si256(second)));
            store(&mut plan.weight[0], at, _mm256_sub_ps(_mm256_set1_ps(1.0), high));
            store(&mut plan.weight[1], at, _mm256_sub_ps(high, middle));
            store(&mut plan.weight[2], at, _mm256_sub_ps(middle, low));
            store(&mut plan.weight[3], at, low);
        }
    }

    /// Pixels `at + K` and `at + K + 4`.
    #[inline]
    #[target_feature(enable = "avx2,fma")]
    fn two<const K: usize>(&self, at: usize, weight: [__m256; 4], total: usize) -> __m256 {
        let index = |k: usize| (self.plan.index[k][at + K], self.plan.index[k][at + K + 4]);
        let ((i0, j0), (i1, j1), (i2, j2)) = (index(0), index(1), index(2));
        // SAFETY: the plan has offsets of nodes of the cube, and of nodes one step each in one, two and three channels
        // above them, which the table's padding has room for.
        unsafe {
            let sum = _mm256_mul_ps(spread::<K>(weight[0]), self.table.pair(i0, j0, 0));
            let sum = _mm256_fmadd_ps(spread::<K>(weight[1]), self.table.pair(i1, j1, 0), sum);
            let sum = _mm256_fmadd_ps(spread::<K>(weight[2]), self.table.pair(i2, j2, 0), sum);
            _mm256_fmadd_ps(spread::<K>(weight[3]), self.table.pair(i0, j0, total), sum)
        }
    }

    #[inline]
    #[target_feature(enable = "avx2,fma")]
    fn blend_avx2(&self, target: [&mut Lane<f32>; 3]) {
        let [red, green, blue] = target;
        let total = self.table.strides.iter().sum::<usize>();
        for at in (0..TILE).step_by(LANES) {
            let [w0, w1, w2, w3] = &self.plan.weight;
            let weight = [load(w0, at), load(w1, at), load(w2, at), load(w3, at)];
            let pixels = [
                self.two::<0>(at, weight, total),
                self.two::<1>(at, weight, total),
                self.two::<2>(at, weight, total),
                self.two::<3>(at, weight, total),
            ];
            let [r, g, b] = transpose(pixels);
            store(red, at, r);
            store(green, at, g);
            store(blue, at, b);
        }
    }
}

impl<const PLAIN: bool> Kernel for Tetrahedral<'_, PLAIN> {
    #[inline(always)]
    fn plan(&mut self, source: [&Lane<f32>; 3]) {
        // SAFETY: a table is made only where the processor has the features.
        unsafe { self.plan_avx2(source) }
    }

    #[inline(always)]
    fn blend(&self, target: [&mut Lane<f32>; 3]) {
        // SAFETY: as above.
        unsafe { self.blend_avx2(target) }
    }
}

/// The plan holds offsets that [`plan_avx2`](Self::plan_avx2) made for this table, or zeros, which any table has.
struct Trilinear<'a, const PLAIN: bool> {
    table: Table<'a>,
    plan: Plan,
}

/// `a` to `b` by `t`.
#[inline]
#[target_feature(enable = "avx2,fma")]
fn mix(t: __m256, a: __m256, b: __m256) -> __m256 {
    _mm256_fmadd_ps(t, _mm256_sub_ps(b, a), a)
}

impl<const PLAIN: bool> Trilinear<'_, PLAIN> {
    #[inline]
    #[target_feature(enable = "avx2,fma")]
    fn plan_avx2(&mut self, source: [&Lane<f32>; 3]) {
        let (table, plan) = (&self.table, &mut self.plan);
        let places = [Place::of(table, 0), Place::of(table, 1), Place::of(table, 2)];
        for at in (0..TILE).step_by(LANES) {
            let (r, r_step) = places[0].at::<PLAIN>(load(source[0], at));
            let (g, g_step) = places[1].at::<PLAIN>(load(source[1], at));
            let (b, b_step) = places[2].at::<PLAIN>(load(source[2], at));
            store_index(&mut plan.index[0], at, base(&places, [r_step, g_step, b_step]));
            store(&mut plan.weight[0], at, r);
            store(&mut plan.weight[1], at, g);
            store(&mut plan.weight[2], at, b);
        }
    }

    /// Pixels `at + K` and `at + K + 4`.
    #[inline]
    #[target_feature(enable = "avx2,fma")]
    fn two<const K: usize>(&self, at: usize, fraction: [__m256; 3]) -> __m256 {
        let (i, j) = (self.plan.index[0][at + K], self.plan.index[0][at + K + 4]);
        let [red, green, blue] = self.table.strides;
        let [r, g, b] = [spread::<K>(fraction[0]), spread::<K>(fraction[1]), spread::<K>(fraction[2])];
        // SAFETY: the plan has offsets of nodes of the cube; the table's padding has room for a step in each channel.
        unsafe {
            let edge = [
                mix(r, self.table.pair(i, j, 0), self.table.pair(i, j, red)),
                mix(r, self.table.pair(i, j, green), self.table.pair(i, j, green + red)),
                mix(r, self.table.pair(i, j, blue), self.table.pair(i, j, blue + red)),
                mix(r, self.table.pair(i, j, blue + green), self.table.pair(i, j, blue + green + red)),
            ];
            mix(b, mix(g, edge[0], edge[1]), mix(g, edge[2], edge[3]))
        }
    }

    #[inline]
    #[target_feature(enable = "avx2,fma")]
    fn blend_avx2(&self, target: [&mut Lane<f32>; 3]) {
        let [red, green, blue] = target;
        for at in (0..TILE).step_by(LANES) {
            let [r, g, b, _] = &self.plan.weight;
            let fraction = [load(r, at), load(g, at), load(b, at)];
            let pixels = [
                self.two::<0>(at, fraction),
                self.two::<1>(at, fraction),
                self.two::<2>(at, fraction),
                self.two::<3>(at, fraction),
            ];
            let [r, g, b] = transpose(pixels);
            store(red, at, r);
            store(green, at, g);
            store(blue, at, b);
        }
    }
}

impl<const PLAIN: bool> Kernel for Trilinear<'_, PLAIN> {
    #[inline(always)]
    fn plan(&mut self, source: [&Lane<f32>; 3]) {
        // SAFETY: a table is made only where the processor has the features.
        unsafe { self.plan_avx2(source) }
    }

    #[inline(always)]
    fn blend(&self, target: [&mut Lane<f32>; 3]) {
        // SAFETY: as above.
        unsafe { self.blend_avx2(target) }
    }
}
