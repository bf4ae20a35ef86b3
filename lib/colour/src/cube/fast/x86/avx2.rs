//! AVX2 and FMA: eight pixels to a vector.
//!
//! Unsafe, for vector loads and stores take pointers, the table is read without a bounds check, and functions compiled for a
//! processor's features may be called only where it has them: in all of this module it has, or there would be no [`Avx2`].
#![allow(unsafe_code)]

use super::NODE;
use super::vector::{Vector, Work, order};
use crate::cube::fast::frame::CACHE_LINE;
use crate::cube::fast::sample::Sample;
use crate::cube::fast::{Lane, Node, TILE};
use std::arch::x86_64::*;

const LANES: usize = 8;

/// Processors with AVX2 and FMA.
#[derive(Clone, Copy)]
pub(super) struct Avx2(());

#[target_feature(enable = "avx2,fma")]
fn compiled(work: impl Work) {
    work.run();
}

impl Vector for Avx2 {
    const LANES: usize = LANES;
    type Floats = __m256;
    type Wholes = __m256i;
    type Mask = __m256i;
    type Offsets = [u32; 2];

    fn found() -> Option<Self> {
        (is_x86_feature_detected!("avx2") && is_x86_feature_detected!("fma")).then_some(Self(()))
    }

    #[inline(always)]
    fn with(self, work: impl Work) {
        // SAFETY: the processor has the features.
        unsafe { compiled(work) }
    }

    #[inline(always)]
    fn all(self, value: f32) -> __m256 {
        // SAFETY: the processor has the features.
        unsafe { _mm256_set1_ps(value) }
    }

    #[inline(always)]
    fn all_wholes(self, value: u32) -> __m256i {
        // SAFETY: the processor has the features.
        unsafe { _mm256_set1_epi32(value.cast_signed()) }
    }

    #[inline(always)]
    fn load<S: Sample>(self, lane: &Lane<S>, at: usize) -> __m256 {
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

    #[inline(always)]
    fn store<S: Sample>(self, lane: &mut Lane<S>, at: usize, values: __m256) {
        let eight = lane[at..at + LANES].as_mut_ptr();
        // SAFETY: the slice has room for eight samples, f32, u16 or u8 by their sizes; the stores need no alignment.
        unsafe {
            if size_of::<S>() == 4 {
                return _mm256_storeu_ps(eight.cast(), values);
            }
            // To the nearest whole number, which a frame of codes has within i32 here; then packing clamps.
            let codes = _mm256_cvtps_epi32(_mm256_mul_ps(values, _mm256_set1_ps(S::MAX_CODE)));
            let (low, high) = (_mm256_castsi256_si128(codes), _mm256_extracti128_si256::<1>(codes));
            if size_of::<S>() == 2 {
                _mm_storeu_si128(eight.cast(), _mm_packus_epi32(low, high));
            } else {
                // With their sign, by which the second packing goes.
                let codes = _mm_packs_epi32(low, high);
                _mm_storel_epi64(eight.cast(), _mm_packus_epi16(codes, codes));
            }
        }
    }

    #[inline(always)]
    fn store_wholes(self, lane: &mut Lane<u32>, at: usize, values: __m256i) {
        let eight = &mut lane[at..at + LANES];
        // SAFETY: the slice has room for eight numbers of 32 bits; the store needs no alignment.
        unsafe { _mm256_storeu_si256(eight.as_mut_ptr().cast(), values) }
    }

    #[inline(always)]
    fn stream<S: Sample>(self, lane: &mut Lane<S>, at: usize, values: __m256) {
        let to = lane[at..at + LANES].as_mut_ptr().cast::<f32>();
        assert!(size_of::<S>() == 4);
        debug_assert!(to.addr().is_multiple_of(CACHE_LINE * LANES / 16));
        // SAFETY: the slice has room for eight samples, which are f32, and starts on half a line of the cache.
        unsafe { _mm256_stream_ps(to, values) }
    }

    #[inline(always)]
    fn subtract(self, a: __m256, b: __m256) -> __m256 {
        // SAFETY: the processor has the features.
        unsafe { _mm256_sub_ps(a, b) }
    }

    #[inline(always)]
    fn multiply(self, a: __m256, b: __m256) -> __m256 {
        // SAFETY: the processor has the features.
        unsafe { _mm256_mul_ps(a, b) }
    }

    #[inline(always)]
    fn multiply_add(self, a: __m256, b: __m256, c: __m256) -> __m256 {
        // SAFETY: the processor has the features.
        unsafe { _mm256_fmadd_ps(a, b, c) }
    }

    #[inline(always)]
    fn multiply_subtract(self, a: __m256, b: __m256, c: __m256) -> __m256 {
        // SAFETY: the processor has the features.
        unsafe { _mm256_fmsub_ps(a, b, c) }
    }

    #[inline(always)]
    fn floor(self, a: __m256) -> __m256 {
        // SAFETY: the processor has the features.
        unsafe { _mm256_floor_ps(a) }
    }

    #[inline(always)]
    fn clamp(self, a: __m256, most: __m256) -> __m256 {
        // The instruction gives its second operand when the first is NaN.
        // SAFETY: the processor has the features.
        unsafe { _mm256_min_ps(_mm256_max_ps(a, _mm256_setzero_ps()), most) }
    }

    #[inline(always)]
    fn wholes(self, a: __m256) -> __m256i {
        // SAFETY: the processor has the features.
        unsafe { _mm256_cvtps_epi32(a) }
    }

    #[inline(always)]
    fn add_wholes(self, a: __m256i, b: __m256i) -> __m256i {
        // SAFETY: the processor has the features.
        unsafe { _mm256_add_epi32(a, b) }
    }

    #[inline(always)]
    fn max_min(self, a: __m256, b: __m256) -> (__m256, __m256) {
        // SAFETY: the processor has the features.
        unsafe {
            let (a, b) = (_mm256_castps_si256(a), _mm256_castps_si256(b));
            (_mm256_castsi256_ps(_mm256_max_epi32(a, b)), _mm256_castsi256_ps(_mm256_min_epi32(a, b)))
        }
    }

    #[inline(always)]
    fn greater(self, a: __m256, b: __m256) -> __m256i {
        // SAFETY: the processor has the features.
        unsafe { _mm256_cmpgt_epi32(_mm256_castps_si256(a), _mm256_castps_si256(b)) }
    }

    #[inline(always)]
    fn choose(self, mask: __m256i, yes: __m256i, no: __m256i) -> __m256i {
        // SAFETY: the processor has the features.
        unsafe { _mm256_blendv_epi8(no, yes, mask) }
    }

    /// Read two at a time, for loads are what there is least of.
    #[inline(always)]
    fn offsets(self, lane: &Lane<u32>, at: usize) -> [[u32; 2]; 4] {
        let eight = lane[at..at + LANES].as_ptr().cast::<u64>();
        // SAFETY: the slice has eight numbers, four pairs; the reads need no alignment.
        let two = [0, 1, 2, 3].map(|i| unsafe { eight.add(i).read_unaligned() });
        let (low, high) = (two.map(|t| t as u32), two.map(|t| (t >> 32) as u32));
        [[low[0], low[2]], [high[0], high[2]], [low[1], low[3]], [high[1], high[3]]]
    }

    #[inline(always)]
    unsafe fn nodes(self, table: &[Node], [low, high]: [u32; 2], step: usize) -> __m256 {
        debug_assert!(low.max(high) as usize + step + NODE <= size_of_val(table));
        let table = table.as_ptr().cast::<u8>();
        // SAFETY: the caller's promise; a node is sixteen bytes at an address that sixteen divides.
        unsafe {
            let low = _mm_load_ps(table.add(low as usize + step).cast());
            let high = _mm_load_ps(table.add(high as usize + step).cast());
            _mm256_insertf128_ps::<1>(_mm256_castps128_ps256(low), high)
        }
    }

    #[inline(always)]
    fn spread<const K: usize>(self, v: __m256) -> __m256 {
        // SAFETY: the processor has the features.
        unsafe {
            match K {
                0 => _mm256_permute_ps::<{ order(0, 0, 0, 0) }>(v),
                1 => _mm256_permute_ps::<{ order(1, 1, 1, 1) }>(v),
                2 => _mm256_permute_ps::<{ order(2, 2, 2, 2) }>(v),
                _ => _mm256_permute_ps::<{ order(3, 3, 3, 3) }>(v),
            }
        }
    }

    #[inline(always)]
    fn planes(self, p: [__m256; 4]) -> [__m256; 3] {
        // SAFETY: the processor has the features.
        unsafe {
            let (rg01, rg23) = (_mm256_unpacklo_ps(p[0], p[1]), _mm256_unpacklo_ps(p[2], p[3]));
            let (ba01, ba23) = (_mm256_unpackhi_ps(p[0], p[1]), _mm256_unpackhi_ps(p[2], p[3]));
            [
                _mm256_shuffle_ps::<{ order(0, 1, 0, 1) }>(rg01, rg23),
                _mm256_shuffle_ps::<{ order(2, 3, 2, 3) }>(rg01, rg23),
                _mm256_shuffle_ps::<{ order(0, 1, 0, 1) }>(ba01, ba23),
            ]
        }
    }

    /// Three vectors, of which each half has a third of four pixels: red, green, blue, red and so on.
    #[inline(always)]
    fn load_three(self, pixels: &[[f32; 3]; TILE], at: usize) -> [__m256; 3] {
        let from = pixels[at..at + LANES].as_flattened().as_ptr();
        // SAFETY: the slice has 24 floats; the loads need no alignment.
        unsafe {
            let (a, b, c) = (halves(from, 12), halves(from.add(4), 12), halves(from.add(8), 12));
            let last = _mm256_shuffle_ps::<{ order(2, 3, 1, 2) }>(b, c); // r2 g2 r3 g3
            let first = _mm256_shuffle_ps::<{ order(1, 2, 0, 1) }>(a, b); // g0 b0 g1 b1
            [
                _mm256_shuffle_ps::<{ order(0, 3, 0, 2) }>(a, last),
                _mm256_shuffle_ps::<{ order(0, 2, 1, 3) }>(first, last),
                _mm256_shuffle_ps::<{ order(1, 3, 0, 3) }>(first, c),
            ]
        }
    }

    #[inline(always)]
    fn load_four(self, pixels: &[[f32; 4]; TILE], at: usize) -> [__m256; 3] {
        let from = pixels[at..at + LANES].as_flattened().as_ptr();
        // SAFETY: the slice has 32 floats; the loads need no alignment.
        unsafe {
            self.planes([halves(from, 16), halves(from.add(4), 16), halves(from.add(8), 16), halves(from.add(12), 16)])
        }
    }

    #[inline(always)]
    fn store_three(self, pixels: &mut [[f32; 3]; TILE], at: usize, p: [__m256; 4]) {
        let to = pixels[at..at + LANES].as_flattened_mut().as_mut_ptr();
        // SAFETY: the slice has room for 24 floats; the stores need no alignment.
        unsafe {
            // Of the four pixels of each half: r0 g0 b0 r1, g1 b1 r2 g2, b2 r3 g3 b3.
            let a = _mm256_blend_ps::<0b1000_1000>(p[0], _mm256_permute_ps::<{ order(0, 0, 0, 0) }>(p[1]));
            let b = _mm256_shuffle_ps::<{ order(1, 2, 0, 1) }>(p[1], p[2]);
            let (two, three) =
                (_mm256_permute_ps::<{ order(2, 2, 2, 2) }>(p[2]), _mm256_permute_ps::<{ order(0, 0, 1, 2) }>(p[3]));
            let c = _mm256_blend_ps::<0b0001_0001>(three, two);
            _mm256_storeu_ps(to, _mm256_permute2f128_ps::<0x20>(a, b));
            _mm256_storeu_ps(to.add(8), _mm256_permute2f128_ps::<0x30>(c, a));
            _mm256_storeu_ps(to.add(16), _mm256_permute2f128_ps::<0x31>(b, c));
        }
    }

    #[inline(always)]
    fn store_four(self, pixels: &mut [[f32; 4]; TILE], at: usize, group: [__m256; 4]) {
        let to = pixels[at..at + LANES].as_flattened_mut().as_mut_ptr();
        // SAFETY: the slice has 32 floats; loads and stores need no alignment.
        unsafe {
            for (k, pair) in group.into_iter().enumerate() {
                let (low, high) = (to.add(4 * k), to.add(4 * k + 16));
                let first = _mm_blend_ps::<0b1000>(_mm256_castps256_ps128(pair), _mm_loadu_ps(low));
                let second = _mm_blend_ps::<0b1000>(_mm256_extractf128_ps::<1>(pair), _mm_loadu_ps(high));
                _mm_storeu_ps(low, first);
                _mm_storeu_ps(high, second);
            }
        }
    }
}

/// Four floats, and four from `further` on.
///
/// # Safety
/// They must be there, and the processor must have the features.
#[inline(always)]
pub(super) unsafe fn halves(from: *const f32, further: usize) -> __m256 {
    // SAFETY: the caller's promise.
    unsafe {
        let low = _mm256_castps128_ps256(_mm_loadu_ps(from));
        _mm256_insertf128_ps::<1>(low, _mm_loadu_ps(from.add(further)))
    }
}
