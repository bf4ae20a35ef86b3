//! The path for AVX2 and FMA: eight pixels to a vector.
//!
//! With what is under it, one of the two modules of the workspace with unsafe code (the other is `math/x86.rs`): vector
//! loads and stores take pointers, the table is read without a bounds check, and functions compiled for a processor's
//! features may be called only where it has them.
#![allow(unsafe_code)]

mod vector;

use super::frame::{Frame, Kernel, Sample, tiles};
use super::{Axis, FastCube, Interpolation, Lane, Node, Plan, TILE, padded};
use std::arch::x86_64::*;
use std::sync::atomic::{Ordering, compiler_fence};
use vector::*;

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

/// What a domain of 0..1 spares, by far the most common.
///
/// Nothing, since the domain is another.
const OTHER: u8 = 0;
/// Of floats: the offset, and the rest of the scale, which is whole.
const FLOATS: u8 = 1;
/// Of code values: the offset, and clamping where they come as such.
const CODES: u8 = 2;

#[target_feature(enable = "avx2,fma")]
fn run_avx2<F: Frame>(cube: &FastCube, frame: F) {
    let (code, large) = (F::Sample::MAX_CODE, frame.large());
    let table = Table::new(cube, code);
    let plan = Plan::new();
    let unit = table.axes.iter().all(|a| a.low == 0.0 && a.range == code);
    match (cube.interpolation, unit, code == 1.0) {
        (Interpolation::Tetrahedral, true, true) => tiles(Tetrahedral::<FLOATS> { table, plan }, frame),
        (Interpolation::Tetrahedral, true, false) => tiles(Tetrahedral::<CODES> { table, plan }, frame),
        (Interpolation::Tetrahedral, false, _) => tiles(Tetrahedral::<OTHER> { table, plan }, frame),
        (Interpolation::Trilinear, true, true) => tiles(Trilinear::<FLOATS> { table, plan }, frame),
        (Interpolation::Trilinear, true, false) => tiles(Trilinear::<CODES> { table, plan }, frame),
        (Interpolation::Trilinear, false, _) => tiles(Trilinear::<OTHER> { table, plan }, frame),
    }
    if large {
        // What was streamed is there for everybody before the frame counts as done.
        _mm_sfence();
    }
}

/// What both interpolations need.
///
/// Made only in [`run_avx2`], so a holder of one may call functions for AVX2 and FMA.
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

    /// Two nodes at offsets in bytes, both a further `step` on.
    ///
    /// # Safety
    /// The sums must be multiples of a node's size that leave a whole node in the table.
    #[inline]
    #[target_feature(enable = "avx2,fma")]
    unsafe fn pair(&self, [low, high]: [u32; 2], step: usize) -> __m256 {
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
    /// samples are clamped first, or are codes that cannot lie outside.
    #[inline]
    #[target_feature(enable = "avx2,fma")]
    fn at<const DOMAIN: u8, S: Sample>(&self, samples: __m256) -> (__m256, __m256) {
        let above = if DOMAIN == OTHER { _mm256_sub_ps(samples, self.low) } else { samples };
        let above = if DOMAIN == CODES && S::MAX_CODE > 1.0 {
            above
        } else {
            // The instruction gives its second operand when the first is NaN.
            _mm256_min_ps(_mm256_max_ps(above, _mm256_setzero_ps()), self.range)
        };
        let step = _mm256_floor_ps(_mm256_mul_ps(above, self.scale));
        // Fused, so that the product's rounding, and then the scale's, do not enter the fraction.
        let fraction = _mm256_fmsub_ps(above, self.scale, step);
        (if DOMAIN == FLOATS { fraction } else { _mm256_fmadd_ps(above, self.rest, fraction) }, step)
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

/// The plan holds offsets that [`plan_avx2`](Self::plan_avx2) made for this table, or zeros, which any table has.
struct Tetrahedral<'a, const DOMAIN: u8> {
    table: Table<'a>,
    plan: Plan,
}

impl<const DOMAIN: u8> Tetrahedral<'_, DOMAIN> {
    #[inline]
    #[target_feature(enable = "avx2,fma")]
    fn plan_avx2<S: Sample>(&mut self, source: [&Lane<S>; 3]) {
        let (table, plan) = (&self.table, &mut self.plan);
        // Apart from the plan, so that they stay in registers while it is written.
        let places = [Place::of(table, 0), Place::of(table, 1), Place::of(table, 2)];
        let strides = table.strides.map(|s| s as i32);
        let total = strides.iter().sum::<i32>();
        // Bytes from the lowest node to the one a step along each channel, and to the one that lacks that step.
        let [red, green, blue] = strides.map(|s| _mm256_set1_epi32(s));
        let [not_red, not_green, not_blue] = strides.map(|s| _mm256_set1_epi32(total - s));
        for at in (0..TILE).step_by(LANES) {
            let (r, r_step) = places[0].at::<DOMAIN, S>(load(source[0], at));
            let (g, g_step) = places[1].at::<DOMAIN, S>(load(source[1], at));
            let (b, b_step) = places[2].at::<DOMAIN, S>(load(source[2], at));
            let (more, less) = max_min(r, g);
            let (high, rest) = max_min(more, b);
            let (middle, low) = max_min(less, rest);
            // The first step goes along the largest fraction, the last along the smallest. Between equals either may
            // come first: the node between them has no weight.
            let (green_first, over, under) = (greater(g, r), greater(b, more), greater(less, b));
            let first = _mm256_blendv_epi8(_mm256_blendv_epi8(red, green, green_first), blue, over);
            let second = _mm256_blendv_epi8(_mm256_blendv_epi8(not_green, not_red, green_first), not_blue, under);
            let base = base(&places, [r_step, g_step, b_step]);
            store_index(&mut plan.index[0], at, base);
            store_index(&mut plan.index[1], at, _mm256_add_epi32(base, first));
            store_index(&mut plan.index[2], at, _mm256_add_epi32(base, second));
            store(&mut plan.weight[0], at, _mm256_sub_ps(_mm256_set1_ps(1.0), high));
            store(&mut plan.weight[1], at, _mm256_sub_ps(high, middle));
            store(&mut plan.weight[2], at, _mm256_sub_ps(middle, low));
            store(&mut plan.weight[3], at, low);
        }
    }

    /// Adds pixels k and k + 4 of one of the nodes, for each k, to `sum`.
    ///
    /// # Safety
    /// As [`Table::pair`].
    #[inline]
    #[target_feature(enable = "avx2,fma")]
    unsafe fn add(&self, w: __m256, at: [[u32; 2]; 4], step: usize, sum: [__m256; 4]) -> [__m256; 4] {
        // SAFETY: the caller's promise.
        unsafe {
            [
                _mm256_fmadd_ps(spread::<0>(w), self.table.pair(at[0], step), sum[0]),
                _mm256_fmadd_ps(spread::<1>(w), self.table.pair(at[1], step), sum[1]),
                _mm256_fmadd_ps(spread::<2>(w), self.table.pair(at[2], step), sum[2]),
                _mm256_fmadd_ps(spread::<3>(w), self.table.pair(at[3], step), sum[3]),
            ]
        }
    }

    /// Red, green and blue of the eight pixels from `at`. Always inlined, or the values would travel through memory.
    ///
    /// # Safety
    /// To be called where AVX2 and FMA may be.
    #[inline(always)]
    unsafe fn eight(&self, at: usize) -> [__m256; 3] {
        let Plan { index, weight } = &self.plan;
        let total = self.table.strides.iter().sum::<usize>();
        // Node after node, not pixel after pixel: four sums grow side by side, and none waits for itself.
        // SAFETY: the caller has the features. The plan has offsets of nodes of the cube, and of nodes one step each in one,
        // two and three channels above them, which the table's padding has room for.
        unsafe {
            let (lowest, w) = (offsets(&index[0], at), load(&weight[0], at));
            let sum = [
                _mm256_mul_ps(spread::<0>(w), self.table.pair(lowest[0], 0)),
                _mm256_mul_ps(spread::<1>(w), self.table.pair(lowest[1], 0)),
                _mm256_mul_ps(spread::<2>(w), self.table.pair(lowest[2], 0)),
                _mm256_mul_ps(spread::<3>(w), self.table.pair(lowest[3], 0)),
            ];
            let sum = self.add(load(&weight[3], at), lowest, total, sum);
            let sum = self.add(load(&weight[1], at), offsets(&index[1], at), 0, sum);
            transpose(self.add(load(&weight[2], at), offsets(&index[2], at), 0, sum))
        }
    }

    /// Lines of the cache in one go, which costs less. A large frame of floats goes past the caches in two planes of three:
    /// memory takes all of it no faster than that, none of it would have memory read what is then written over, and push the
    /// table out. The third plane is fetched early, which the processor leaves undone among nodes that lie anywhere.
    #[inline]
    #[target_feature(enable = "avx2,fma")]
    fn blend_avx2<S: Sample, const STREAM: bool>(&self, target: [&mut Lane<S>; 3]) {
        let [red, green, blue] = target;
        if size_of::<S>() < 4 {
            // Here the work outweighs the writing, and two at a time would have the offsets wait in memory.
            for at in (0..TILE).step_by(LANES) {
                // SAFETY: this function has the features.
                let [r, g, b] = unsafe { self.eight(at) };
                store(red, at, r);
                store(green, at, g);
                store(blue, at, b);
            }
            return;
        }
        for at in (0..TILE).step_by(2 * LANES) {
            // SAFETY: this function has the features.
            let ([r, g, b], [r2, g2, b2]) = unsafe { (self.eight(at), self.eight(at + LANES)) };
            // Or the compiler may store the first eight long before the second.
            compiler_fence(Ordering::SeqCst);
            if STREAM {
                stream_two(red, at, r, r2);
                stream_two(green, at, g, g2);
                fetch_line(&blue[at]);
            } else {
                store(red, at, r);
                store(red, at + LANES, r2);
                store(green, at, g);
                store(green, at + LANES, g2);
            }
            store(blue, at, b);
            store(blue, at + LANES, b2);
        }
    }
}

impl<const DOMAIN: u8> Kernel for Tetrahedral<'_, DOMAIN> {
    const INTEGERS: bool = true;

    #[inline(always)]
    fn plan<S: Sample>(&mut self, source: [&Lane<S>; 3]) {
        // SAFETY: a table is made only where the processor has the features.
        unsafe { self.plan_avx2(source) }
    }

    #[inline(always)]
    fn fetch<S: Sample>(&self, source: [&Lane<S>; 3]) {
        fetch(source);
    }

    #[inline(always)]
    fn blend<S: Sample>(&self, target: [&mut Lane<S>; 3], large: bool) {
        if large && streams(target[0]) && streams(target[1]) {
            // SAFETY: as above.
            unsafe { self.blend_avx2::<S, true>(target) }
        } else {
            // SAFETY: as above.
            unsafe { self.blend_avx2::<S, false>(target) }
        }
    }
}

/// The plan holds offsets that [`plan_avx2`](Self::plan_avx2) made for this table, or zeros, which any table has.
struct Trilinear<'a, const DOMAIN: u8> {
    table: Table<'a>,
    plan: Plan,
}

/// `a` to `b` by `t`.
#[inline]
#[target_feature(enable = "avx2,fma")]
fn mix(t: __m256, a: __m256, b: __m256) -> __m256 {
    _mm256_fmadd_ps(t, _mm256_sub_ps(b, a), a)
}

impl<const DOMAIN: u8> Trilinear<'_, DOMAIN> {
    #[inline]
    #[target_feature(enable = "avx2,fma")]
    fn plan_avx2<S: Sample>(&mut self, source: [&Lane<S>; 3]) {
        let (table, plan) = (&self.table, &mut self.plan);
        let places = [Place::of(table, 0), Place::of(table, 1), Place::of(table, 2)];
        for at in (0..TILE).step_by(LANES) {
            let (r, r_step) = places[0].at::<DOMAIN, S>(load(source[0], at));
            let (g, g_step) = places[1].at::<DOMAIN, S>(load(source[1], at));
            let (b, b_step) = places[2].at::<DOMAIN, S>(load(source[2], at));
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
        let i = [self.plan.index[0][at + K], self.plan.index[0][at + K + 4]];
        let [red, green, blue] = self.table.strides;
        let [r, g, b] = [spread::<K>(fraction[0]), spread::<K>(fraction[1]), spread::<K>(fraction[2])];
        // SAFETY: the plan has offsets of nodes of the cube; the table's padding has room for a step in each channel.
        unsafe {
            let edge = [
                mix(r, self.table.pair(i, 0), self.table.pair(i, red)),
                mix(r, self.table.pair(i, green), self.table.pair(i, green + red)),
                mix(r, self.table.pair(i, blue), self.table.pair(i, blue + red)),
                mix(r, self.table.pair(i, blue + green), self.table.pair(i, blue + green + red)),
            ];
            mix(b, mix(g, edge[0], edge[1]), mix(g, edge[2], edge[3]))
        }
    }

    #[inline]
    #[target_feature(enable = "avx2,fma")]
    fn blend_avx2<S: Sample>(&self, target: [&mut Lane<S>; 3]) {
        let [red, green, blue] = target;
        for at in (0..TILE).step_by(LANES) {
            let [r, g, b, _] = &self.plan.weight;
            let fraction = [load(r, at), load(g, at), load(b, at)];
            let [r, g, b] = transpose([
                self.two::<0>(at, fraction),
                self.two::<1>(at, fraction),
                self.two::<2>(at, fraction),
                self.two::<3>(at, fraction),
            ]);
            store(red, at, r);
            store(green, at, g);
            store(blue, at, b);
        }
    }
}

impl<const DOMAIN: u8> Kernel for Trilinear<'_, DOMAIN> {
    const INTEGERS: bool = true;

    #[inline(always)]
    fn plan<S: Sample>(&mut self, source: [&Lane<S>; 3]) {
        // SAFETY: a table is made only where the processor has the features.
        unsafe { self.plan_avx2(source) }
    }

    #[inline(always)]
    fn fetch<S: Sample>(&self, source: [&Lane<S>; 3]) {
        fetch(source);
    }

    #[inline(always)]
    fn blend<S: Sample>(&self, target: [&mut Lane<S>; 3], _large: bool) {
        // SAFETY: as above.
        unsafe { self.blend_avx2(target) }
    }
}
