//! x to the power y, correctly rounded, in a fifth of the time.
//!
//! A quick path in plain additions and multiplications, with some twelve bits more than an f64 has, and a test of whether
//! they decide the last bit (Ziv, *Fast evaluation of elementary mathematical functions with correctly rounded last bit*,
//! ACM TOMS 17, 1991). Where they do not, one power in some hundreds, and for everything unusual, `pxfm` is asked. The
//! result is the same to the bit.

#[allow(clippy::approx_constant, reason = "a table has them among its rows")]
pub(super) mod tables;

use super::{Wide, wide};
use tables::{EXP, LN_2, LOG, STEP, STEPS};

/// The mantissa is brought to between the number of these bits, about 0.7057, and twice that.
pub(super) const OFF: u64 = 0x3fe6_9555_0000_0000;
/// Adding and taking away this rounds to a whole number.
pub(super) const WHOLE: f64 = 6_755_399_441_055_744.0;

/// x to the power y; NaN for a negative x with a fractional y.
#[inline]
pub fn pow(x: f64, y: f64) -> f64 {
    let found = wide(One { x, y });
    if found.is_nan() { pxfm::f_pow(x, y) } else { found }
}

/// One power; NaN where the quick path does not decide it.
struct One {
    x: f64,
    y: f64,
}

impl Wide for One {
    type Output = f64;

    #[inline(always)]
    fn run<const FUSED: bool>(self) -> f64 {
        match quick::<FUSED>(self.x, self.y) {
            Some((high, low, error)) if high + (low - error) == high + (low + error) => high + low,
            _ => f64::NAN,
        }
    }
}

/// Each number to a power of its own, as [`pow`] gives it, in one go.
#[inline]
pub fn powers(x: [f64; 3], y: [f64; 3]) -> [f64; 3] {
    #[cfg(target_arch = "x86_64")]
    if let Some(quick) = super::x86::powers(x, y) {
        return quick.or(|i| pxfm::f_pow(x[i], y[i]));
    }
    std::array::from_fn(|i| pow(x[i], y[i]))
}

/// The power in two parts with what it may be wrong by; none outside its reach.
#[inline(always)]
fn quick<const FUSED: bool>(x: f64, y: f64) -> Option<(f64, f64, f64)> {
    let bits = x.to_bits();
    // Positive normal numbers, and powers that do not make the logarithm's own error matter.
    if !(0x0010_0000_0000_0000..0x7ff0_0000_0000_0000).contains(&bits) || y.is_nan() || y.abs() >= 1e3 {
        return None;
    }
    let (log, log_low) = ln::<FUSED>(bits);
    let (high, low) = product::<FUSED>(y, log);
    let low = low + y * log_low;
    // Beyond, the result may be near the ends of what an f64 holds; a power of nearly zero is rare.
    if !(high.abs() < 600.0 && high.abs() > 1e-30) {
        return None;
    }
    let (high_part, low_part, scale) = exp::<FUSED>(high, low);
    // The logarithm is right to 2^-66 of itself, the rest to 2^-66.
    let error = high_part * (1.0 + high.abs()) * (1.0 / (1u64 << 62) as f64) * 0.25;
    Some((high_part * scale, low_part * scale, error * scale))
}

/// The natural logarithm of a positive normal number in two parts.
#[inline(always)]
fn ln<const FUSED: bool>(bits: u64) -> (f64, f64) {
    let over = bits.wrapping_sub(OFF);
    let i = (over >> 45) as usize % LOG.len();
    let exponent = ((over as i64) >> 52) as f64;
    let z = f64::from_bits(bits.wrapping_sub(over & (0xfff << 52)));
    let [inverse, table, table_low] = LOG[i];
    // Both products are exact: 26 and 27 bits times eleven.
    let front = f64::from_bits(z.to_bits() & !0x07ff_ffff);
    let (r, r_low) = sum(front * inverse - 1.0, (z - front) * inverse);
    let (square, square_low) = product::<FUSED>(r, r);
    let (s, e1) = sum(exponent * LN_2[0], table);
    let (s, e2) = sum(s, r);
    let (s, e3) = sum(s, -0.5 * square);
    let even = 1.0 / 3.0 + square * (1.0 / 5.0 + square * (1.0 / 7.0 + square * (1.0 / 9.0)));
    let odd = 1.0 / 4.0 + square * (1.0 / 6.0 + square * (1.0 / 8.0 + square * (1.0 / 10.0)));
    let tail = r * square * (even - r * odd);
    let low = ((e1 + e2 + e3) + (exponent * LN_2[1] + table_low) + (r_low - r * r_low - 0.5 * square_low)) + tail;
    ordered(s, low)
}

/// e to the power `high + low`, in two parts of 1 to 2 and a power of two.
#[inline(always)]
fn exp<const FUSED: bool>(high: f64, low: f64) -> (f64, f64, f64) {
    let steps = (high * STEPS + WHOLE) - WHOLE;
    let (r, r_low) = sum(high - steps * STEP[0], low - steps * STEP[1]);
    let series = r * r * (1.0 / 2.0 + r * (1.0 / 6.0 + r * (1.0 / 24.0 + r * (1.0 / 120.0 + r * (1.0 / 720.0)))));
    let (p, p_low) = sum(r, r_low + series);
    let steps = steps as i64;
    let [table, table_low] = EXP[(steps & 127) as usize];
    let (a, b) = product::<FUSED>(table, p);
    let (front, e) = ordered(table, a);
    let back = e + (b + (table * p_low + (table_low + table_low * p)));
    let (front, back) = ordered(front, back);
    (front, back, f64::from_bits(((1023 + (steps >> 7)) as u64) << 52))
}

/// The sum of two numbers, and what rounding took from it (Knuth).
#[inline(always)]
fn sum(a: f64, b: f64) -> (f64, f64) {
    let s = a + b;
    let of_b = s - a;
    (s, (a - (s - of_b)) + (b - of_b))
}

/// The same for |a| of at least |b| (Dekker).
#[inline(always)]
fn ordered(a: f64, b: f64) -> (f64, f64) {
    let s = a + b;
    (s, b - (s - a))
}

/// The product of two numbers, and what rounding took from it (Dekker, Veltkamp), or by one instruction, the same.
#[inline(always)]
fn product<const FUSED: bool>(a: f64, b: f64) -> (f64, f64) {
    if FUSED {
        let p = a * b;
        #[expect(clippy::disallowed_methods, reason = "exact: nothing is rounded")]
        return (p, a.mul_add(b, -p));
    }
    let halves = |x: f64| {
        let c = 134_217_729.0 * x;
        let front = c - (c - x);
        (front, x - front)
    };
    let p = a * b;
    let ((a, a_low), (b, b_low)) = (halves(a), halves(b));
    (p, ((a * b - p) + a * b_low + a_low * b) + a_low * b_low)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_the_correctly_rounded_power_to_the_bit() {
        let exponents = [2.4, 1.0 / 2.4, 1.2, 1.0 / 1.2, 2.6, 0.45, 1.0 / 0.45, -1.2, 3.0, 0.5, 1e-3, 2610.0 / 16384.0];
        let mut random = fastrand::Rng::with_seed(1);
        let (mut asked, mut others) = (0, 0);
        for i in 0..120_000 {
            let share = |bits: u64| (bits >> 11) as f64 / (1u64 << 53) as f64;
            let (a, b) = (random.u64(..), random.u64(..));
            let x = match i % 4 {
                0 => share(a),
                1 => 2.0 * share(a),
                2 => 1.0 + (share(a) - 0.5) * 1e-3,
                // Of every size and sign, not numbers at all among them.
                _ => f64::from_bits(a),
            };
            let y = if i % 3 == 0 { f64::from_bits(b) } else { exponents[i % exponents.len()] };
            let (ours, exact) = (pow(x, y), pxfm::f_pow(x, y));
            assert!(
                ours.to_bits() == exact.to_bits() || ours.is_nan() && exact.is_nan(),
                "{x:e}^{y:e}: {ours:e} {exact:e}"
            );
            if let Some((high, low, error)) = quick::<false>(x, y) {
                others += 1;
                asked += usize::from(high + (low - error) != high + (low + error));
            }
        }
        // What is quick is worth having: it decides nearly always.
        assert!(asked * 50 < others, "{asked} of {others}");
    }

    #[test]
    fn three_at_once_are_each_by_itself() {
        let mut random = fastrand::Rng::with_seed(7);
        let same = |a: f64, b: f64| a.to_bits() == b.to_bits() || a.is_nan() && b.is_nan();
        let unusual =
            [0.0, -0.0, 1.0, -2.0, f64::INFINITY, f64::NAN, f64::MIN_POSITIVE, 5e-324, f64::MAX, 1.0 + f64::EPSILON];
        for i in 0..60_000 {
            let x: [f64; 3] = std::array::from_fn(|k| {
                let bits = random.u64(..);
                match (i + k) % 4 {
                    0 => (bits >> 11) as f64 / (1u64 << 53) as f64,
                    1 => 1.0 + ((bits >> 11) as f64 / (1u64 << 53) as f64 - 0.5) * 1e-3,
                    2 => unusual[bits as usize % unusual.len()],
                    _ => f64::from_bits(bits),
                }
            });
            let y: [f64; 3] = std::array::from_fn(|k| match (i / 4 + k) % 3 {
                0 => 1.0 / 2.4,
                1 => -1.2,
                _ => f64::from_bits(random.u64(..)),
            });
            let (ours, logs) = (powers(x, y), crate::math::log10_each(x));
            for k in 0..3 {
                let (power, log) = (pxfm::f_pow(x[k], y[k]), pxfm::f_log10(x[k]));
                assert!(same(ours[k], power), "{:e}^{:e}: {:e} {power:e}", x[k], y[k], ours[k]);
                assert!(same(logs[k], log), "log10 {:e}: {:e} {log:e}", x[k], logs[k]);
            }
        }
    }

    #[test]
    fn what_is_unusual_is_as_it_should_be() {
        let infinity = f64::INFINITY;
        for (x, y, power) in [
            (0.0, 2.4, 0.0),
            (-0.0, 3.0, -0.0),
            (1.0, 1e300, 1.0),
            (2.0, 0.0, 1.0),
            (-8.0, 3.0, -512.0),
            (infinity, -1.0, 0.0),
            (2.0, 1023.0, f64::from_bits(0x7fe0_0000_0000_0000)),
            (2.0, 1024.0, infinity),
            (2.0, -1074.0, f64::from_bits(1)),
        ] {
            assert_eq!(pow(x, y).to_bits(), power.to_bits(), "{x}^{y}");
        }
        assert!(pow(-0.5, 0.5).is_nan());
    }
}
