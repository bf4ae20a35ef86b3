//! What the kernels are made of: samples to vectors and back, and the order of what is in them.

use crate::cube::fast::Lane;
use crate::cube::fast::frame::{CACHE_LINE, Sample};
use std::arch::x86_64::*;
use std::ptr;

/// Pixels in a vector.
pub(super) const LANES: usize = 8;
/// Bytes from what is at work to what is fetched meanwhile.
const AHEAD: usize = 1536;

/// Has planes read ahead. The processor guesses on its own where they go on, but not among nodes that lie anywhere.
pub(super) fn fetch<S: Sample>(source: [&Lane<S>; 3]) {
    for plane in source {
        plane.iter().step_by(CACHE_LINE / size_of::<S>()).for_each(fetch_line);
    }
}

/// Has the line read that lies [`AHEAD`] bytes past a sample.
#[inline(always)]
pub(super) fn fetch_line<S: Sample>(sample: &S) {
    // SAFETY: an address is only a hint here, and may lie anywhere.
    unsafe { _mm_prefetch::<_MM_HINT_T0>(ptr::from_ref(sample).cast::<i8>().wrapping_add(AHEAD)) };
}

/// Eight samples as floats.
#[inline]
#[target_feature(enable = "avx2,fma")]
pub(super) fn load<S: Sample>(lane: &Lane<S>, at: usize) -> __m256 {
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

/// Eight values of the cube as samples, rounded as [`Sample::from_value`] rounds.
#[inline]
#[target_feature(enable = "avx2,fma")]
pub(super) fn store<S: Sample>(lane: &mut Lane<S>, at: usize, values: __m256) {
    let eight = lane[at..at + LANES].as_mut_ptr();
    if size_of::<S>() == 4 {
        // SAFETY: the slice has room for eight samples, which are f32; the store needs no alignment.
        return unsafe { _mm256_storeu_ps(eight.cast(), values) };
    }
    let max = _mm256_set1_ps(S::MAX_CODE);
    // To the nearest whole number, which a frame of codes has within i32 here; then packing clamps.
    let codes = _mm256_cvtps_epi32(_mm256_mul_ps(values, max));
    let (low, high) = (_mm256_castsi256_si128(codes), _mm256_extracti128_si256::<1>(codes));
    // SAFETY: the slice has room for eight samples, two bytes each or one; the stores need no alignment.
    unsafe {
        if size_of::<S>() == 2 {
            _mm_storeu_si128(eight.cast(), _mm_packus_epi32(low, high));
        } else {
            // With their sign, by which the second packing goes.
            let codes = _mm_packs_epi32(low, high);
            _mm_storel_epi64(eight.cast(), _mm_packus_epi16(codes, codes));
        }
    }
}

/// Whether [`stream_two`] can write the plane.
pub(super) fn streams<S: Sample>(lane: &Lane<S>) -> bool {
    size_of::<S>() == 4 && lane.as_ptr().addr().is_multiple_of(CACHE_LINE)
}

/// Twice eight values, past the caches: a whole line at once, or it would be written more than once. The plane must be one
/// that [`streams`].
#[inline]
#[target_feature(enable = "avx2,fma")]
pub(super) fn stream_two<S: Sample>(lane: &mut Lane<S>, at: usize, first: __m256, second: __m256) {
    let to = lane[at..at + 2 * LANES].as_mut_ptr().cast::<f32>();
    assert!(size_of::<S>() == 4);
    debug_assert!(to.addr().is_multiple_of(CACHE_LINE));
    // SAFETY: the slice has room for sixteen samples, which are f32, and starts on a line of the cache.
    unsafe {
        _mm256_stream_ps(to, first);
        _mm256_stream_ps(to.add(LANES), second);
    }
}

#[inline]
#[target_feature(enable = "avx2,fma")]
pub(super) fn store_index(lane: &mut Lane<u32>, at: usize, bytes: __m256i) {
    let eight = &mut lane[at..at + LANES];
    // SAFETY: the slice has room for eight numbers of 32 bits; the store needs no alignment.
    unsafe { _mm256_storeu_si256(eight.as_mut_ptr().cast(), bytes) }
}

/// Offsets of pixels k and k + 4, for k from 0 to 3. Read two at a time, for loads are what there is least of.
#[inline]
#[target_feature(enable = "avx2,fma")]
pub(super) fn offsets(lane: &Lane<u32>, at: usize) -> [[u32; 2]; 4] {
    let eight = lane[at..at + LANES].as_ptr().cast::<u64>();
    // SAFETY: the slice has eight numbers, four pairs; the reads need no alignment.
    let two = [0, 1, 2, 3].map(|i| unsafe { eight.add(i).read_unaligned() });
    let (low, high) = (two.map(|t| t as u32), two.map(|t| (t >> 32) as u32));
    [[low[0], low[2]], [high[0], high[2]], [low[1], low[3]], [high[1], high[3]]]
}

/// Pixels k and k + 4 in each vector, into planes; the fourth component is dropped.
#[inline]
#[target_feature(enable = "avx2,fma")]
pub(super) fn transpose(p: [__m256; 4]) -> [__m256; 3] {
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
pub(super) fn spread<const K: usize>(v: __m256) -> __m256 {
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
pub(super) fn max_min(a: __m256, b: __m256) -> (__m256, __m256) {
    let (a, b) = (_mm256_castps_si256(a), _mm256_castps_si256(b));
    (_mm256_castsi256_ps(_mm256_max_epi32(a, b)), _mm256_castsi256_ps(_mm256_min_epi32(a, b)))
}

/// All bits where `a` is greater than `b`, ordered as by [`max_min`].
#[inline]
#[target_feature(enable = "avx2,fma")]
pub(super) fn greater(a: __m256, b: __m256) -> __m256i {
    _mm256_cmpgt_epi32(_mm256_castps_si256(a), _mm256_castps_si256(b))
}
