//! AVX-512: sixteen pixels to a vector, with the operations of AVX2 in the same order, so that both give the same bits.
//!
//! Unsafe as `avx2.rs` is, and for the same reasons: in all of this module the processor has AVX-512, or there would be no
//! [`Avx512`].
#![allow(unsafe_code)]

use super::NODE;
use super::avx2::halves;
use super::vector::{Vector, Work, order};
use crate::cube::fast::frame::CACHE_LINE;
use crate::cube::fast::sample::Sample;
use crate::cube::fast::{Lane, Node, TILE};
use std::arch::x86_64::*;

const LANES: usize = 16;

/// Processors with the foundation of AVX-512.
#[derive(Clone, Copy)]
pub(super) struct Avx512(());

#[target_feature(enable = "avx512f,avx2,fma")]
fn compiled(work: impl Work) {
    work.run();
}

/// A quarter of a vector, as a mask.
const SECOND: u16 = 0x00f0;
const THIRD: u16 = 0x0f00;
const FOURTH: u16 = 0xf000;

impl Vector for Avx512 {
    const LANES: usize = LANES;
    type Floats = __m512;
    type Wholes = __m512i;
    type Mask = __mmask16;
    type Offsets = [u32; 4];

    fn found() -> Option<Self> {
        let features = is_x86_feature_detected!("avx512f") && is_x86_feature_detected!("avx2");
        (features && is_x86_feature_detected!("fma")).then_some(Self(()))
    }

    #[inline(always)]
    fn with(self, work: impl Work) {
        // SAFETY: the processor has the features.
        unsafe { compiled(work) }
    }

    #[inline(always)]
    fn all(self, value: f32) -> __m512 {
        // SAFETY: the processor has the features.
        unsafe { _mm512_set1_ps(value) }
    }

    #[inline(always)]
    fn all_wholes(self, value: u32) -> __m512i {
        // SAFETY: the processor has the features.
        unsafe { _mm512_set1_epi32(value.cast_signed()) }
    }

    #[inline(always)]
    fn load<S: Sample>(self, lane: &Lane<S>, at: usize) -> __m512 {
        let sixteen = lane[at..at + LANES].as_ptr();
        // SAFETY: the slice has sixteen samples; the loads need no alignment. Samples are f32, u16 or u8, which their sizes
        // tell apart.
        unsafe {
            match size_of::<S>() {
                4 => _mm512_loadu_ps(sixteen.cast()),
                2 => _mm512_cvtepi32_ps(_mm512_cvtepu16_epi32(_mm256_loadu_si256(sixteen.cast()))),
                _ => _mm512_cvtepi32_ps(_mm512_cvtepu8_epi32(_mm_loadu_si128(sixteen.cast()))),
            }
        }
    }

    #[inline(always)]
    fn store<S: Sample>(self, lane: &mut Lane<S>, at: usize, values: __m512) {
        let sixteen = lane[at..at + LANES].as_mut_ptr();
        // SAFETY: the slice has room for sixteen samples, f32, u16 or u8 by their sizes; the stores need no alignment.
        unsafe {
            if size_of::<S>() == 4 {
                return _mm512_storeu_ps(sixteen.cast(), values);
            }
            // To the nearest whole number, which a frame of codes has within i32 here; packing then clamps from above.
            let codes = _mm512_cvtps_epi32(_mm512_mul_ps(values, _mm512_set1_ps(S::MAX_CODE)));
            let codes = _mm512_max_epi32(codes, _mm512_setzero_si512());
            if size_of::<S>() == 2 {
                _mm256_storeu_si256(sixteen.cast(), _mm512_cvtusepi32_epi16(codes));
            } else {
                _mm_storeu_si128(sixteen.cast(), _mm512_cvtusepi32_epi8(codes));
            }
        }
    }

    #[inline(always)]
    fn store_wholes(self, lane: &mut Lane<u32>, at: usize, values: __m512i) {
        let sixteen = &mut lane[at..at + LANES];
        // SAFETY: the slice has room for sixteen numbers of 32 bits; the store needs no alignment.
        unsafe { _mm512_storeu_si512(sixteen.as_mut_ptr().cast(), values) }
    }

    #[inline(always)]
    fn stream<S: Sample>(self, lane: &mut Lane<S>, at: usize, values: __m512) {
        let to = lane[at..at + LANES].as_mut_ptr().cast::<f32>();
        assert!(size_of::<S>() == 4);
        debug_assert!(to.addr().is_multiple_of(CACHE_LINE * LANES / 16));
        // SAFETY: the slice has room for sixteen samples, which are f32, and starts on a line of the cache.
        unsafe { _mm512_stream_ps(to, values) }
    }

    #[inline(always)]
    fn subtract(self, a: __m512, b: __m512) -> __m512 {
        // SAFETY: the processor has the features.
        unsafe { _mm512_sub_ps(a, b) }
    }

    #[inline(always)]
    fn multiply(self, a: __m512, b: __m512) -> __m512 {
        // SAFETY: the processor has the features.
        unsafe { _mm512_mul_ps(a, b) }
    }

    #[inline(always)]
    fn multiply_add(self, a: __m512, b: __m512, c: __m512) -> __m512 {
        // SAFETY: the processor has the features.
        unsafe { _mm512_fmadd_ps(a, b, c) }
    }

    #[inline(always)]
    fn multiply_subtract(self, a: __m512, b: __m512, c: __m512) -> __m512 {
        // SAFETY: the processor has the features.
        unsafe { _mm512_fmsub_ps(a, b, c) }
    }

    #[inline(always)]
    fn floor(self, a: __m512) -> __m512 {
        // SAFETY: the processor has the features.
        unsafe { _mm512_roundscale_ps::<{ _MM_FROUND_TO_NEG_INF | _MM_FROUND_NO_EXC }>(a) }
    }

    #[inline(always)]
    fn clamp(self, a: __m512, most: __m512) -> __m512 {
        // The instruction gives its second operand when the first is NaN.
        // SAFETY: the processor has the features.
        unsafe { _mm512_min_ps(_mm512_max_ps(a, _mm512_setzero_ps()), most) }
    }

    #[inline(always)]
    fn wholes(self, a: __m512) -> __m512i {
        // SAFETY: the processor has the features.
        unsafe { _mm512_cvtps_epi32(a) }
    }

    #[inline(always)]
    fn add_wholes(self, a: __m512i, b: __m512i) -> __m512i {
        // SAFETY: the processor has the features.
        unsafe { _mm512_add_epi32(a, b) }
    }

    #[inline(always)]
    fn max_min(self, a: __m512, b: __m512) -> (__m512, __m512) {
        // SAFETY: the processor has the features.
        unsafe {
            let (a, b) = (_mm512_castps_si512(a), _mm512_castps_si512(b));
            (_mm512_castsi512_ps(_mm512_max_epi32(a, b)), _mm512_castsi512_ps(_mm512_min_epi32(a, b)))
        }
    }

    #[inline(always)]
    fn greater(self, a: __m512, b: __m512) -> __mmask16 {
        // SAFETY: the processor has the features.
        unsafe { _mm512_cmpgt_epi32_mask(_mm512_castps_si512(a), _mm512_castps_si512(b)) }
    }

    #[inline(always)]
    fn choose(self, mask: __mmask16, yes: __m512i, no: __m512i) -> __m512i {
        // SAFETY: the processor has the features.
        unsafe { _mm512_mask_blend_epi32(mask, no, yes) }
    }

    /// Read two at a time, for loads are what there is least of.
    #[inline(always)]
    fn offsets(self, lane: &Lane<u32>, at: usize) -> [[u32; 4]; 4] {
        let sixteen = lane[at..at + LANES].as_ptr().cast::<u64>();
        // SAFETY: the slice has sixteen numbers, eight pairs; the reads need no alignment.
        let two = [0, 1, 2, 3, 4, 5, 6, 7].map(|i| unsafe { sixteen.add(i).read_unaligned() });
        let (low, high) = (two.map(|t| t as u32), two.map(|t| (t >> 32) as u32));
        [
            [low[0], low[2], low[4], low[6]],
            [high[0], high[2], high[4], high[6]],
            [low[1], low[3], low[5], low[7]],
            [high[1], high[3], high[5], high[7]],
        ]
    }

    #[inline(always)]
    unsafe fn nodes(self, table: &[Node], at: [u32; 4], step: usize) -> __m512 {
        debug_assert!(at.into_iter().all(|at| at as usize + step + NODE <= size_of_val(table)));
        let table = table.as_ptr().cast::<u8>();
        // SAFETY: the caller's promise; a node is sixteen bytes at an address that sixteen divides.
        unsafe {
            let [a, b, c, d] = at.map(|at| table.add(at as usize + step).cast());
            let low = _mm256_insertf128_ps::<1>(_mm256_castps128_ps256(_mm_load_ps(a)), _mm_load_ps(b));
            let high = _mm256_insertf128_ps::<1>(_mm256_castps128_ps256(_mm_load_ps(c)), _mm_load_ps(d));
            both(low, high)
        }
    }

    #[inline(always)]
    fn spread<const K: usize>(self, v: __m512) -> __m512 {
        // SAFETY: the processor has the features.
        unsafe {
            match K {
                0 => _mm512_permute_ps::<{ order(0, 0, 0, 0) }>(v),
                1 => _mm512_permute_ps::<{ order(1, 1, 1, 1) }>(v),
                2 => _mm512_permute_ps::<{ order(2, 2, 2, 2) }>(v),
                _ => _mm512_permute_ps::<{ order(3, 3, 3, 3) }>(v),
            }
        }
    }

    #[inline(always)]
    fn planes(self, p: [__m512; 4]) -> [__m512; 3] {
        // SAFETY: the processor has the features.
        unsafe {
            let (rg01, rg23) = (_mm512_unpacklo_ps(p[0], p[1]), _mm512_unpacklo_ps(p[2], p[3]));
            let (ba01, ba23) = (_mm512_unpackhi_ps(p[0], p[1]), _mm512_unpackhi_ps(p[2], p[3]));
            [
                _mm512_shuffle_ps::<{ order(0, 1, 0, 1) }>(rg01, rg23),
                _mm512_shuffle_ps::<{ order(2, 3, 2, 3) }>(rg01, rg23),
                _mm512_shuffle_ps::<{ order(0, 1, 0, 1) }>(ba01, ba23),
            ]
        }
    }

    /// Three vectors, of which each quarter has a third of four pixels: red, green, blue, red and so on.
    #[inline(always)]
    fn load_three(self, pixels: &[[f32; 3]; TILE], at: usize) -> [__m512; 3] {
        let from = pixels[at..at + LANES].as_flattened().as_ptr();
        // SAFETY: the slice has 48 floats; the loads need no alignment.
        unsafe {
            let (x, y, z) = (_mm512_loadu_ps(from), _mm512_loadu_ps(from.add(16)), _mm512_loadu_ps(from.add(32)));
            // Quarters 0, 3, 6, 9 of the twelve; 1, 4, 7, 10; 2, 5, 8, 11.
            let a = _mm512_shuffle_f32x4::<{ order(0, 3, 2, 0) }>(x, y);
            let a = _mm512_mask_shuffle_f32x4::<{ order(1, 1, 1, 1) }>(a, FOURTH, z, z);
            let b = _mm512_shuffle_f32x4::<{ order(1, 0, 0, 2) }>(x, z);
            let b = _mm512_mask_shuffle_f32x4::<{ order(0, 0, 3, 0) }>(b, SECOND | THIRD, y, y);
            let c = _mm512_shuffle_f32x4::<{ order(2, 0, 0, 3) }>(x, z);
            let c = _mm512_mask_shuffle_f32x4::<{ order(0, 1, 0, 0) }>(c, SECOND, y, y);
            let last = _mm512_shuffle_ps::<{ order(2, 3, 1, 2) }>(b, c); // r2 g2 r3 g3
            let first = _mm512_shuffle_ps::<{ order(1, 2, 0, 1) }>(a, b); // g0 b0 g1 b1
            [
                _mm512_shuffle_ps::<{ order(0, 3, 0, 2) }>(a, last),
                _mm512_shuffle_ps::<{ order(0, 2, 1, 3) }>(first, last),
                _mm512_shuffle_ps::<{ order(1, 3, 0, 3) }>(first, c),
            ]
        }
    }

    #[inline(always)]
    fn load_four(self, pixels: &[[f32; 4]; TILE], at: usize) -> [__m512; 3] {
        let from = pixels[at..at + LANES].as_flattened().as_ptr();
        // SAFETY: the slice has 64 floats; the loads need no alignment.
        unsafe { self.planes([quarters(from), quarters(from.add(4)), quarters(from.add(8)), quarters(from.add(12))]) }
    }

    #[inline(always)]
    fn store_three(self, pixels: &mut [[f32; 3]; TILE], at: usize, p: [__m512; 4]) {
        let to = pixels[at..at + LANES].as_flattened_mut().as_mut_ptr();
        // SAFETY: the slice has room for 48 floats; the stores need no alignment.
        unsafe {
            // Of the four pixels of each quarter: r0 g0 b0 r1, g1 b1 r2 g2, b2 r3 g3 b3.
            let a = _mm512_mask_permute_ps::<{ order(0, 0, 0, 0) }>(p[0], 0x8888, p[1]);
            let b = _mm512_shuffle_ps::<{ order(1, 2, 0, 1) }>(p[1], p[2]);
            let c = _mm512_permute_ps::<{ order(2, 2, 2, 2) }>(p[2]);
            let c = _mm512_mask_permute_ps::<{ order(0, 0, 1, 2) }>(c, 0xeeee, p[3]);
            // Quarters in the order of pixels: a0 b0 c0 a1, b1 c1 a2 b2, c2 a3 b3 c3.
            let x = _mm512_shuffle_f32x4::<{ order(0, 0, 0, 1) }>(a, a);
            let x = _mm512_mask_shuffle_f32x4::<{ order(0, 0, 0, 0) }>(x, SECOND, b, b);
            let y = _mm512_shuffle_f32x4::<{ order(1, 1, 2, 2) }>(c, b);
            let z = _mm512_shuffle_f32x4::<{ order(2, 2, 3, 3) }>(c, b);
            _mm512_storeu_ps(to, _mm512_mask_shuffle_f32x4::<{ order(0, 0, 0, 0) }>(x, THIRD, c, c));
            let y = _mm512_mask_shuffle_f32x4::<{ order(1, 1, 1, 1) }>(y, 0x000f, b, b);
            _mm512_storeu_ps(to.add(16), _mm512_mask_shuffle_f32x4::<{ order(2, 2, 2, 2) }>(y, THIRD, a, a));
            let z = _mm512_mask_shuffle_f32x4::<{ order(3, 3, 3, 3) }>(z, SECOND, a, a);
            _mm512_storeu_ps(to.add(32), _mm512_mask_shuffle_f32x4::<{ order(3, 3, 3, 3) }>(z, FOURTH, c, c));
        }
    }

    #[inline(always)]
    fn store_four(self, pixels: &mut [[f32; 4]; TILE], at: usize, p: [__m512; 4]) {
        let to = pixels[at..at + LANES].as_flattened_mut().as_mut_ptr();
        // SAFETY: the slice has 64 floats; the masked stores leave every fourth, and need no alignment.
        unsafe {
            // Quarters are pixels: those of four vectors in their order.
            let (ab, cd) = (
                [
                    _mm512_shuffle_f32x4::<{ order(0, 1, 0, 1) }>(p[0], p[1]),
                    _mm512_shuffle_f32x4::<{ order(2, 3, 2, 3) }>(p[0], p[1]),
                ],
                [
                    _mm512_shuffle_f32x4::<{ order(0, 1, 0, 1) }>(p[2], p[3]),
                    _mm512_shuffle_f32x4::<{ order(2, 3, 2, 3) }>(p[2], p[3]),
                ],
            );
            for half in [0, 1] {
                let first = _mm512_shuffle_f32x4::<{ order(0, 2, 0, 2) }>(ab[half], cd[half]);
                let second = _mm512_shuffle_f32x4::<{ order(1, 3, 1, 3) }>(ab[half], cd[half]);
                _mm512_mask_storeu_ps(to.add(32 * half), 0x7777, first);
                _mm512_mask_storeu_ps(to.add(32 * half + 16), 0x7777, second);
            }
        }
    }
}

/// Two halves.
///
/// # Safety
/// The processor must have the features.
#[inline(always)]
unsafe fn both(low: __m256, high: __m256) -> __m512 {
    // SAFETY: the caller's promise.
    unsafe {
        let low = _mm512_castps_pd(_mm512_castps256_ps512(low));
        _mm512_castpd_ps(_mm512_insertf64x4::<1>(low, _mm256_castps_pd(high)))
    }
}

/// Four floats, and three times four, each from sixteen further on.
///
/// # Safety
/// They must be there, and the processor must have the features.
#[inline(always)]
unsafe fn quarters(from: *const f32) -> __m512 {
    // SAFETY: the caller's promise.
    unsafe { both(halves(from, 16), halves(from.add(32), 16)) }
}
