//! The path for AVX2 and FMA: eight pixels to a vector.
//!
//! One of the two modules of the workspace with unsafe code (the other is `math/x86.rs`): vector loads and stores take
//! pointers, the table is read without a bounds check, and functions compiled for a processor's features may be called
//! only where it has them.
#![allow(unsafe_code)]

use super::frame::{CACHE_LINE, Frame, Kernel, Sample, tiles};
use super::{Axis, FastCube, Interpolation, Lane, Node, Plan, TILE, padded};
use std::arch::x86_64::*;

/// Pixels in a vector.
const LANES: usize = 8;
/// Bytes ahead of a tile that its planes are fetched from memory: the processor guesses on its own where a frame goes on,
/// but not among a table's nodes that lie anywhere.
const AHEAD: usize = 1024;
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
    let code = F::Sample::MAX_CODE;
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
}

fn fetch<S: Sample>(source: [&Lane<S>; 3]) {
    for plane in source {
        for at in (AHEAD..AHEAD + size_of_val(plane)).step_by(CACHE_LINE) {
            // SAFETY: an address is only a hint here, and may lie anywhere.
            unsafe { _mm_prefetch::<_MM_HINT_T0>(plane.as_ptr().cast::<i8>().wrapping_add(at)) };
        }
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

/// Eight samples as floats.
#[inline]
#[target_feature(enable = "avx2,fma")]
fn load<S: Sample>(lane: &Lane<S>, at: usize) -> __m256 {
    let eight = lane[at..at + LANES].as_ptr();
    // SAFETY: the slice has eight samples; the loads need no alignment. Samples are f32, u16 or u8, which their sizes
    // tell apart.
    unsafe {
        match size_of::<S>() {
            4 => _mm256_loadu_ps(eight.cast()),
            2 => _mm256_cvtepi32_ps(_mm256_cvtepu16_epi32(_mm_loadu_si128(eight.cast()))),
            _ => _mm256_cvtepi32_ps(_mm256_cvtepu8_epi32(_mm_loadl_epi64(eight.cast()))),
        }
    }
}

#[inline]
#[target_feature(enable = "avx2,fma")]
fn store(lane: &mut Lane<f32>, at: usize, values: __m256) {
    let eight = &mut lane[at..at + LANES];
    // SAFETY: the slice has room for eight samples; the store needs no alignment.
    unsafe { _mm256_storeu_ps(eight.as_mut_ptr(), values) }
}

/// Twice eight values of the cube as samples, rounded as [`Sample::from_value`] rounds. Together, since what goes to one line
/// of the cache is best written in one go.
#[inline]
#[target_feature(enable = "avx2,fma")]
fn store_two<S: Sample>(lane: &mut Lane<S>, at: usize, first: __m256, second: __m256) {
    let to = lane[at..at + 2 * LANES].as_mut_ptr();
    if size_of::<S>() == 4 {
        let to = to.cast::<f32>();
        // SAFETY: the slice has room for sixteen samples, which are f32; the stores need no alignment.
        return unsafe {
            _mm256_storeu_ps(to, first);
            _mm256_storeu_ps(to.add(LANES), second);
        };
    }
    let max = _mm256_set1_ps(S::MAX_CODE);
    // To the nearest whole number, and a number too low for one to the lowest; then packing clamps below.
    let [first, second] = [first, second].map(|v| _mm256_cvtps_epi32(_mm256_min_ps(_mm256_mul_ps(v, max), max)));
    // Packing works within halves.
    let codes = _mm256_permute4x64_epi64::<0b11_01_10_00>(_mm256_packus_epi32(first, second));
    // SAFETY: the slice has room for sixteen samples, two bytes each or one; the stores need no alignment.
    unsafe {
        if size_of::<S>() == 2 {
            _mm256_storeu_si256(to.cast(), codes);
        } else {
            let (low, high) = (_mm256_castsi256_si128(codes), _mm256_extracti128_si256::<1>(codes));
            _mm_storeu_si128(to.cast(), _mm_packus_epi16(low, high));
        }
    }
}

#[inline]
#[target_feature(enable = "avx2,fma")]
fn store_index(lane: &mut Lane<u32>, at: usize, bytes: __m256i) {
    let eight = &mut lane[at..at + LANES];
    // SAFETY: the slice has room for eight numbers of 32 bits; the store needs no alignment.
    unsafe { _mm256_storeu_si256(eight.as_mut_ptr().cast(), bytes) }
}

/// Offsets of pixels k and k + 4, for k from 0 to 3. Read two at a time, for loads are what there is least of.
#[inline]
#[target_feature(enable = "avx2,fma")]
fn offsets(lane: &Lane<u32>, at: usize) -> [[u32; 2]; 4] {
    let eight = lane[at..at + LANES].as_ptr().cast::<u64>();
    // SAFETY: the slice has eight numbers, four pairs; the reads need no alignment.
    let two = [0, 1, 2, 3].map(|i| unsafe { eight.add(i).read_unaligned() });
    let (low, high) = (two.map(|t| t as u32), two.map(|t| (t >> 32) as u32));
    [[low[0], low[2]], [high[0], high[2]], [low[1], low[3]], [high[1], high[3]]]
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

/// The larger of numbers of which at least one is not negative, and the smaller: as whole numbers, which more of the
/// processor's units can compare. Between two below zero, by a rounding, either may come out.
#[inline]
#[target_feature(enable = "avx2,fma")]
fn max_min(a: __m256, b: __m256) -> (__m256, __m256) {
    let (a, b) = (_mm256_castps_si256(a), _mm256_castps_si256(b));
    (_mm256_castsi256_ps(_mm256_max_epi32(a, b)), _mm256_castsi256_ps(_mm256_min_epi32(a, b)))
}

/// All bits where `a` is greater than `b`, ordered as by [`max_min`].
#[inline]
#[target_feature(enable = "avx2,fma")]
fn greater(a: __m256, b: __m256) -> __m256i {
    _mm256_cmpgt_epi32(_mm256_castps_si256(a), _mm256_castps_si256(b))
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

    #[inline]
    #[target_feature(enable = "avx2,fma")]
    fn blend_avx2<S: Sample>(&self, target: [&mut Lane<S>; 3]) {
        let [red, green, blue] = target;
        for at in (0..TILE).step_by(2 * LANES) {
            // SAFETY: this function has the features.
            let ([r, g, b], [r2, g2, b2]) = unsafe { (self.eight(at), self.eight(at + LANES)) };
            store_two(red, at, r, r2);
            store_two(green, at, g, g2);
            store_two(blue, at, b, b2);
        }
    }
}

impl<const DOMAIN: u8> Kernel for Tetrahedral<'_, DOMAIN> {
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
    fn blend<S: Sample>(&self, target: [&mut Lane<S>; 3]) {
        // SAFETY: as above.
        unsafe { self.blend_avx2(target) }
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

    /// Red, green and blue of the eight pixels from `at`.
    #[inline]
    #[target_feature(enable = "avx2,fma")]
    fn eight(&self, at: usize) -> [__m256; 3] {
        let [r, g, b, _] = &self.plan.weight;
        let fraction = [load(r, at), load(g, at), load(b, at)];
        transpose([
            self.two::<0>(at, fraction),
            self.two::<1>(at, fraction),
            self.two::<2>(at, fraction),
            self.two::<3>(at, fraction),
        ])
    }

    #[inline]
    #[target_feature(enable = "avx2,fma")]
    fn blend_avx2<S: Sample>(&self, target: [&mut Lane<S>; 3]) {
        let [red, green, blue] = target;
        for at in (0..TILE).step_by(2 * LANES) {
            let ([r, g, b], [r2, g2, b2]) = (self.eight(at), self.eight(at + LANES));
            store_two(red, at, r, r2);
            store_two(green, at, g, g2);
            store_two(blue, at, b, b2);
        }
    }
}

impl<const DOMAIN: u8> Kernel for Trilinear<'_, DOMAIN> {
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
    fn blend<S: Sample>(&self, target: [&mut Lane<S>; 3]) {
        // SAFETY: as above.
        unsafe { self.blend_avx2(target) }
    }
}
