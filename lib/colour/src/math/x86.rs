//! The exact path on processors with AVX2 and FMA: the same to the bit, several numbers to an instruction.
//!
//! Wider vectors change no result: each number goes through the same additions, multiplications, divisions and square
//! roots. The fused multiply-add stands only where its result is exact, as the part that rounding took from a product,
//! and in the tails of series whose own error is allowed for. One of the two modules with unsafe code, since a function
//! compiled for a processor's features may be called only where it has them.
#![allow(unsafe_code)]

use super::Wide;
use super::pow::tables::{EXP, LN_2, LOG, STEP, STEPS};
use super::pow::{OFF, WHOLE};
use std::arch::x86_64::*;

/// Whether this processor has what the functions here need.
#[inline(always)]
pub(super) fn available() -> bool {
    is_x86_feature_detected!("avx2") && is_x86_feature_detected!("fma")
}

/// `work` compiled for AVX2 and FMA; none where the processor lacks them.
#[inline(always)]
pub(super) fn run<W: Wide>(work: W) -> Result<W::Output, W> {
    #[target_feature(enable = "avx2,fma")]
    fn compiled<W: Wide>(work: W) -> W::Output {
        work.run::<true>()
    }
    if !available() {
        return Err(work);
    }
    // SAFETY: the processor has AVX2 and FMA.
    Ok(unsafe { compiled(work) })
}

/// Three results, and which of them are right to the last bit.
pub(super) struct Quick {
    values: [f64; 3],
    decided: i32,
}

impl Quick {
    #[inline]
    #[target_feature(enable = "avx2,fma")]
    fn of(values: __m256d, decided: __m256d) -> Self {
        let (front, back) = (_mm256_castpd256_pd128(values), _mm256_extractf128_pd::<1>(values));
        let second = _mm_cvtsd_f64(_mm_unpackhi_pd(front, front));
        let values = [_mm_cvtsd_f64(front), second, _mm_cvtsd_f64(back)];
        Self { values, decided: _mm256_movemask_pd(decided) & 0b111 }
    }

    /// The results, those that are undecided by `slow`.
    #[inline(always)]
    pub(super) fn or(self, slow: impl Fn(usize) -> f64) -> [f64; 3] {
        if self.decided == 0b111 {
            return self.values;
        }
        std::array::from_fn(|i| if self.decided & (1 << i) != 0 { self.values[i] } else { slow(i) })
    }
}

/// Powers of three numbers; none where the processor lacks AVX2 and FMA.
#[inline(always)]
pub(super) fn powers(x: [f64; 3], y: [f64; 3]) -> Option<Quick> {
    // SAFETY: the processor has AVX2 and FMA.
    available().then(|| unsafe { quick_powers(x, y) })
}

/// Logarithms to base 10 of three numbers; none where the processor lacks AVX2 and FMA.
#[inline(always)]
pub(super) fn logs10(x: [f64; 3]) -> Option<Quick> {
    // SAFETY: the processor has AVX2 and FMA.
    available().then(|| unsafe { quick_logs10(x) })
}

#[target_feature(enable = "avx2,fma")]
fn quick_powers(x: [f64; 3], y: [f64; 3]) -> Quick {
    let (power, decided) = quick(_mm256_setr_pd(x[0], x[1], x[2], 1.0), _mm256_setr_pd(y[0], y[1], y[2], 1.0));
    Quick::of(power, decided)
}

#[target_feature(enable = "avx2,fma")]
fn quick_logs10(x: [f64; 3]) -> Quick {
    let x = _mm256_setr_pd(x[0], x[1], x[2], 1.0);
    let (log, log_low) = ln(_mm256_castpd_si256(x));
    let (high, low) = product(log, all(std::f64::consts::LOG10_E));
    let low = _mm256_add_pd(
        low,
        _mm256_fmadd_pd(log, all(LOG10_E_LOW), _mm256_mul_pd(log_low, all(std::f64::consts::LOG10_E))),
    );
    // The logarithm is right to 2^-66 of itself, and the product loses less.
    let error = _mm256_mul_pd(magnitude(high), all(1.0 / (1u64 << 62) as f64 * 0.25));
    let (value, sure) = settled(high, low, error);
    Quick::of(value, _mm256_and_pd(sure, normal(x)))
}

/// What an f64 leaves of log10(e).
const LOG10_E_LOW: f64 = 1.098_319_650_216_765e-17;

#[inline]
#[target_feature(enable = "avx2,fma")]
fn magnitude(v: __m256d) -> __m256d {
    _mm256_andnot_pd(all(-0.0), v)
}

/// Positive normal numbers.
#[inline]
#[target_feature(enable = "avx2,fma")]
fn normal(x: __m256d) -> __m256d {
    let least = _mm256_cmp_pd::<_CMP_GE_OQ>(x, all(f64::MIN_POSITIVE));
    _mm256_and_pd(least, _mm256_cmp_pd::<_CMP_LE_OQ>(x, all(f64::MAX)))
}

/// The sums, and whether rounding comes out the same over all of the error (Ziv).
#[inline]
#[target_feature(enable = "avx2,fma")]
fn settled(front: __m256d, back: __m256d, error: __m256d) -> (__m256d, __m256d) {
    let least = _mm256_add_pd(front, _mm256_sub_pd(back, error));
    let most = _mm256_add_pd(front, _mm256_add_pd(back, error));
    (_mm256_add_pd(front, back), _mm256_cmp_pd::<_CMP_EQ_OQ>(least, most))
}

#[inline]
#[target_feature(enable = "avx2,fma")]
fn all(value: f64) -> __m256d {
    _mm256_set1_pd(value)
}

#[inline]
#[target_feature(enable = "avx2,fma")]
fn whole(value: u64) -> __m256i {
    _mm256_set1_epi64x(value.cast_signed())
}

/// The powers, and a mask of those that are right to the last bit. As [`super::pow::quick`], step by step.
#[inline]
#[target_feature(enable = "avx2,fma")]
fn quick(x: __m256d, y: __m256d) -> (__m256d, __m256d) {
    let usual = _mm256_and_pd(normal(x), _mm256_cmp_pd::<_CMP_LT_OQ>(magnitude(y), all(1e3)));
    let (log, log_low) = ln(_mm256_castpd_si256(x));
    let (high, low) = product(y, log);
    let low = _mm256_fmadd_pd(y, log_low, low);
    let size = magnitude(high);
    let within =
        _mm256_and_pd(_mm256_cmp_pd::<_CMP_LT_OQ>(size, all(600.0)), _mm256_cmp_pd::<_CMP_GT_OQ>(size, all(1e-30)));
    let (front, back, scale) = exp(high, low);
    let error =
        _mm256_mul_pd(_mm256_mul_pd(front, _mm256_add_pd(all(1.0), size)), all(1.0 / (1u64 << 62) as f64 * 0.25));
    let (value, sure) = settled(front, back, error);
    // A power of two, far from the ends of what an f64 holds: exact.
    (_mm256_mul_pd(value, scale), _mm256_and_pd(_mm256_and_pd(usual, within), sure))
}

/// The rows of a table that the low seven bits of each place name.
#[inline]
#[target_feature(enable = "avx2,fma")]
fn rows<const N: usize>(table: &[[f64; N]; 128], places: __m256i) -> [&[f64; N]; 4] {
    let row = |place: i64| &table[(place & 127) as usize];
    [
        row(_mm256_extract_epi64::<0>(places)),
        row(_mm256_extract_epi64::<1>(places)),
        row(_mm256_extract_epi64::<2>(places)),
        row(_mm256_extract_epi64::<3>(places)),
    ]
}

#[inline]
#[target_feature(enable = "avx2,fma")]
fn column<const N: usize>(rows: [&[f64; N]; 4], k: usize) -> __m256d {
    _mm256_setr_pd(rows[0][k], rows[1][k], rows[2][k], rows[3][k])
}

/// Natural logarithms of positive normal numbers, by their bits, in two parts.
#[inline]
#[target_feature(enable = "avx2,fma")]
fn ln(bits: __m256i) -> (__m256d, __m256d) {
    const MOST: u64 = 1 << 52;
    let over = _mm256_sub_epi64(bits, whole(OFF));
    let rows = rows(&LOG, _mm256_srli_epi64::<45>(over));
    let (inverse, table, table_low) = (column(rows, 0), column(rows, 1), column(rows, 2));
    // The exponent lies within 1024 of zero: as a whole number in the low bits of 2^52, and then without them.
    let exponent = _mm256_srli_epi64::<52>(_mm256_add_epi64(over, whole(1024 << 52)));
    let exponent = _mm256_castsi256_pd(_mm256_or_si256(exponent, whole((MOST as f64).to_bits())));
    let exponent = _mm256_sub_pd(exponent, all(MOST as f64 + 1024.0));
    let z = _mm256_sub_epi64(bits, _mm256_and_si256(over, whole(0xfff << 52)));
    let front = _mm256_castsi256_pd(_mm256_andnot_si256(whole(0x07ff_ffff), z));
    let rest = _mm256_sub_pd(_mm256_castsi256_pd(z), front);
    let (r, r_low) = sum(_mm256_fmsub_pd(front, inverse, all(1.0)), _mm256_mul_pd(rest, inverse));
    let (square, square_low) = product(r, r);
    let (s, e1) = sum(_mm256_mul_pd(exponent, all(LN_2[0])), table);
    let (s, e2) = sum(s, r);
    let (s, e3) = sum(s, _mm256_mul_pd(all(-0.5), square));
    let series = |terms: [f64; 4]| {
        let back = _mm256_fmadd_pd(square, all(terms[3]), all(terms[2]));
        _mm256_fmadd_pd(square, _mm256_fmadd_pd(square, back, all(terms[1])), all(terms[0]))
    };
    let even = series([1.0 / 3.0, 1.0 / 5.0, 1.0 / 7.0, 1.0 / 9.0]);
    let odd = series([1.0 / 4.0, 1.0 / 6.0, 1.0 / 8.0, 1.0 / 10.0]);
    let tail = _mm256_mul_pd(_mm256_mul_pd(r, square), _mm256_fnmadd_pd(r, odd, even));
    let low = _mm256_add_pd(_mm256_add_pd(e1, e2), e3);
    let low = _mm256_add_pd(low, _mm256_fmadd_pd(exponent, all(LN_2[1]), table_low));
    let of_r = _mm256_fnmadd_pd(all(0.5), square_low, _mm256_fnmadd_pd(r, r_low, r_low));
    ordered(s, _mm256_add_pd(_mm256_add_pd(low, of_r), tail))
}

/// e to the powers `high + low`, in two parts of 1 to 2 and a power of two.
#[inline]
#[target_feature(enable = "avx2,fma")]
fn exp(high: __m256d, low: __m256d) -> (__m256d, __m256d, __m256d) {
    let shifted = _mm256_add_pd(_mm256_mul_pd(high, all(STEPS)), all(WHOLE));
    let steps = _mm256_sub_pd(shifted, all(WHOLE));
    // Both products are exact.
    let front = _mm256_fnmadd_pd(steps, all(STEP[0]), high);
    let (r, r_low) = sum(front, _mm256_fnmadd_pd(steps, all(STEP[1]), low));
    let back = _mm256_fmadd_pd(r, all(1.0 / 720.0), all(1.0 / 120.0));
    let back = _mm256_fmadd_pd(r, _mm256_fmadd_pd(r, back, all(1.0 / 24.0)), all(1.0 / 6.0));
    let back = _mm256_fmadd_pd(r, back, all(0.5));
    let (p, p_low) = sum(r, _mm256_fmadd_pd(_mm256_mul_pd(r, r), back, r_low));
    // The low bits of the shifted number are the whole number itself.
    let steps = _mm256_castpd_si256(shifted);
    let rows = rows(&EXP, steps);
    let (table, table_low) = (column(rows, 0), column(rows, 1));
    let (a, b) = product(table, p);
    let (front, e) = ordered(table, a);
    let rest = _mm256_fmadd_pd(table, p_low, _mm256_fmadd_pd(table_low, p, table_low));
    let (front, back) = ordered(front, _mm256_add_pd(e, _mm256_add_pd(b, rest)));
    let scale = _mm256_slli_epi64::<52>(_mm256_srli_epi64::<7>(steps));
    let scale = _mm256_add_epi64(scale, whole(1023 << 52));
    (front, back, _mm256_castsi256_pd(scale))
}

/// The sum of two numbers, and what rounding took from it (Knuth).
#[inline]
#[target_feature(enable = "avx2,fma")]
fn sum(a: __m256d, b: __m256d) -> (__m256d, __m256d) {
    let s = _mm256_add_pd(a, b);
    let of_b = _mm256_sub_pd(s, a);
    (s, _mm256_add_pd(_mm256_sub_pd(a, _mm256_sub_pd(s, of_b)), _mm256_sub_pd(b, of_b)))
}

/// The same for |a| of at least |b| (Dekker).
#[inline]
#[target_feature(enable = "avx2,fma")]
fn ordered(a: __m256d, b: __m256d) -> (__m256d, __m256d) {
    let s = _mm256_add_pd(a, b);
    (s, _mm256_sub_pd(b, _mm256_sub_pd(s, a)))
}

/// The product of two numbers, and what rounding took from it: exact by the fused multiply-add.
#[inline]
#[target_feature(enable = "avx2,fma")]
fn product(a: __m256d, b: __m256d) -> (__m256d, __m256d) {
    let p = _mm256_mul_pd(a, b);
    (p, _mm256_fmsub_pd(a, b, p))
}
