//! Elementary functions that round the same on every machine.
//!
//! Every transcendental function of the exact path goes through this page: correctly rounded pure Rust from
//! `pxfm`, never the platform's libm, so a cube is byte-identical across machines, optimisation levels and
//! thread counts. `clippy.toml` at the top of the workspace refuses the methods of `f64` that would bypass it.
//! Addition, multiplication, division and `sqrt` are exact by IEEE 754 and need no wrapper; nothing here or
//! elsewhere in the exact path contracts to a fused multiply-add.

mod pow;
#[cfg(target_arch = "x86_64")]
mod x86;

pub use pow::{pow, powers};

/// Work that is worth compiling twice, for any processor and for wider vectors; the same to the bit.
pub(crate) trait Wide {
    /// What comes of it.
    type Output;

    /// Does it; `inline(always)`, and so all that it calls and that should be wide. `FUSED` says that a fused multiply-add
    /// is one instruction.
    fn run<const FUSED: bool>(self) -> Self::Output;
}

/// Does the work in the widest way that this processor has.
#[inline(always)]
pub(crate) fn wide<W: Wide>(work: W) -> W::Output {
    #[cfg(target_arch = "x86_64")]
    let work = match x86::run(work) {
        Ok(done) => return done,
        Err(work) => work,
    };
    // 64-bit ARM has the instruction on every processor. It is used where the sum is exact either way.
    work.run::<{ cfg!(target_arch = "aarch64") }>()
}

/// e to the power x.
#[inline]
pub fn exp(x: f64) -> f64 {
    pxfm::f_exp(x)
}

/// e to the power x, minus one, exact near zero.
#[inline]
pub fn exp_m1(x: f64) -> f64 {
    pxfm::f_expm1(x)
}

/// 2 to the power x; one stop is a factor of `exp2(1.0)`.
#[inline]
pub fn exp2(x: f64) -> f64 {
    pxfm::f_exp2(x)
}

/// 10 to the power x.
#[inline]
pub fn exp10(x: f64) -> f64 {
    pxfm::f_exp10(x)
}

/// Natural logarithm; `-inf` at zero, NaN below.
#[inline]
pub fn ln(x: f64) -> f64 {
    pxfm::f_log(x)
}

/// Natural logarithm of one plus x, exact near zero.
#[inline]
pub fn ln_1p(x: f64) -> f64 {
    pxfm::f_log1p(x)
}

/// Logarithm to base 2: stops between two lights is `log2` of their ratio.
#[inline]
pub fn log2(x: f64) -> f64 {
    pxfm::f_log2(x)
}

/// Logarithm to base 10: density is minus `log10` of a transmittance.
#[inline]
pub fn log10(x: f64) -> f64 {
    pxfm::f_log10(x)
}

/// [`log10`] of three numbers, in one go.
#[inline]
pub fn log10_each(x: [f64; 3]) -> [f64; 3] {
    #[cfg(target_arch = "x86_64")]
    if let Some(quick) = x86::logs10(x) {
        return quick.or(|i| log10(x[i]));
    }
    x.map(log10)
}

/// Cube root, of any sign.
#[inline]
pub fn cbrt(x: f64) -> f64 {
    pxfm::f_cbrt(x)
}

/// Magnitude under which [`cbrt_each`] gives zero.
const LEAST_ROOT: f64 = 1e-200;

/// [`cbrt`] of several numbers in one go, in a third of the time: to within three units in the last place, by additions,
/// multiplications and divisions alone, and so the same on every machine. Domain: magnitudes up to 1e300; below 1e-200 the
/// root is zero.
#[inline(always)]
pub(crate) fn cbrt_each<const N: usize>(x: [f64; N]) -> [f64; N] {
    // A third of the exponent, and nearly of the mantissa, by the bits (W. Kahan's method): within 3.2 %.
    const THIRD: u64 = 0x2A9F_7893_782D_A1CE;
    let mut roots = [0.0; N];
    let mut size = [0.0; N];
    for k in 0..N {
        size[k] = x[k].abs().max(LEAST_ROOT);
        roots[k] = f64::from_bits(size[k].to_bits() / 3 + THIRD);
    }
    // Halley's iteration takes the error to its cube: 3e-2, 2e-5, 5e-15, rounding.
    for _ in 0..3 {
        for k in 0..N {
            let cube = roots[k] * roots[k] * roots[k];
            roots[k] *= (cube + 2.0 * size[k]) / (2.0 * cube + size[k]);
        }
    }
    for k in 0..N {
        roots[k] = if size[k] > LEAST_ROOT { roots[k].copysign(x[k]) } else { 0.0 };
    }
    roots
}

/// Sine of an angle in radians.
#[inline]
pub fn sin(x: f64) -> f64 {
    pxfm::f_sin(x)
}

/// Cosine of an angle in radians.
#[inline]
pub fn cos(x: f64) -> f64 {
    pxfm::f_cos(x)
}

/// The angle of the point (x, y), in radians, -pi to pi.
#[inline]
pub fn atan2(y: f64, x: f64) -> f64 {
    pxfm::f_atan2(y, x)
}

/// A power of the magnitude that keeps the sign: odd about zero, never NaN for finite input.
#[inline]
pub fn signed_pow(x: f64, y: f64) -> f64 {
    pow(x.abs(), y).copysign(x)
}

/// Magnitude that no light goes beyond: far above any light, far below where sums of light overflow.
pub const MOST_LIGHT: f64 = 1e30;

/// Light kept within [`MOST_LIGHT`], infinities included, so that no matrix that follows makes a NaN of it. NaN stays.
#[inline]
pub fn bounded(light: [f64; 3]) -> [f64; 3] {
    light.map(|c| c.clamp(-MOST_LIGHT, MOST_LIGHT))
}

/// [`signed_pow`] of three numbers with one exponent.
#[inline]
pub fn signed_powers(x: [f64; 3], y: f64) -> [f64; 3] {
    let powers = powers(x.map(f64::abs), [y; 3]);
    std::array::from_fn(|i| powers[i].copysign(x[i]))
}

/// ln(1 + e^x), the smooth hinge: 0 far below zero, x far above; no overflow at either end.
#[inline]
pub fn soft_plus(x: f64) -> f64 {
    if x > 0.0 { x + ln_1p(exp(-x)) } else { ln_1p(exp(x)) }
}

/// The inverse of [`soft_plus`], for y > 0; `-inf` at zero, NaN below.
#[inline]
pub fn soft_plus_inverse(y: f64) -> f64 {
    if y > 1.0 { y + ln(-exp_m1(-y)) } else { ln(exp_m1(y)) }
}

/// The logistic function, the derivative of [`soft_plus`].
#[inline]
pub fn logistic(x: f64) -> f64 {
    if x >= 0.0 {
        1.0 / (1.0 + exp(-x))
    } else {
        let e = exp(x);
        e / (1.0 + e)
    }
}

/// Hermite step: 0 at or below `low`, 1 at or above `high`, with zero slope at both.
#[inline]
pub fn smooth_step(low: f64, high: f64, x: f64) -> f64 {
    let t = ((x - low) / (high - low)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn soft_plus_inverts_over_its_whole_range() {
        for i in -300..=300 {
            let x = f64::from(i) * 0.1;
            let back = soft_plus_inverse(soft_plus(x));
            assert!((back - x).abs() < 1e-12 * (1.0 + x.abs()), "{x} came back as {back}");
        }
        assert_eq!(soft_plus(800.0), 800.0);
        assert_eq!(soft_plus(-800.0), 0.0);
    }

    #[test]
    fn quick_cube_roots_are_within_three_units_of_the_last_place() {
        let mut worst = 0u64;
        for i in -60_000..=60_000 {
            let x = exp10(f64::from(i) * 0.00457);
            let [quick, negative, third] = cbrt_each([x, -x, 0.3 * x]);
            assert_eq!(quick, -negative);
            for (quick, x) in [(quick, x), (third, 0.3 * x)] {
                if x > 1e-199 {
                    worst = worst.max(quick.to_bits().abs_diff(cbrt(x).to_bits()));
                }
            }
        }
        assert!(worst <= 3, "{worst}");
        assert_eq!(cbrt_each([0.0, 8.0, 1e-250, -27.0]), [0.0, 2.0, 0.0, -3.0]);
    }

    #[test]
    fn logistic_is_the_slope_of_soft_plus() {
        for i in -40..=40 {
            let x = f64::from(i) * 0.5;
            let h = 1e-5;
            let slope = (soft_plus(x + h) - soft_plus(x - h)) / (2.0 * h);
            assert!((slope - logistic(x)).abs() < 1e-9);
        }
    }

    /// Bit patterns, so that a machine or a version of the library that rounds otherwise is caught here first.
    /// The values are those of correct rounding (checked with 60-digit arithmetic).
    #[test]
    fn the_functions_round_correctly() {
        assert_eq!(exp(1.0).to_bits(), 0x4005_bf0a_8b14_5769);
        assert_eq!(exp_m1(1e-3).to_bits(), 0x3f50_6466_dfb8_cf3a);
        assert_eq!(exp2(0.5).to_bits(), 0x3ff6_a09e_667f_3bcd);
        assert_eq!(exp10(0.3).to_bits(), 0x3fff_ec98_2d5b_b8af);
        assert_eq!(ln(10.0).to_bits(), 0x4002_6bb1_bbb5_5516);
        assert_eq!(ln_1p(1e-3).to_bits(), 0x3f50_6035_4f8c_3ebf);
        assert_eq!(log2(0.18).to_bits(), 0xc003_ca9c_6f53_897a);
        assert_eq!(log10(2.0).to_bits(), 0x3fd3_4413_509f_79ff);
        assert_eq!(pow(0.18, 2.4).to_bits(), 0x3f90_b589_dfb8_0a43);
        assert_eq!(cbrt(2.0).to_bits(), 0x3ff4_28a2_f98d_728b);
        assert_eq!(cos(1.0).to_bits(), 0x3fe1_4a28_0fb5_068c);
        assert_eq!(atan2(1.0, 2.0).to_bits(), 0x3fdd_ac67_0561_bb4f);
    }
}
