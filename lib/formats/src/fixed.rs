//! Numbers to fixed-point text, correctly rounded and fast.
//!
//! The product with 10^N in double precision is off by half a unit in its last place at most: unless it lies that near to
//! a tie, its nearest whole number is the right one. Near a tie, the product is taken exactly: a double is m 2^e with m
//! below 2^53, and m 10^N fits 128 bits. Ties go to even: what `format!("{:.N}")` gives, several times faster.

#![expect(
    clippy::indexing_slicing,
    reason = "widths are fixed by the count of digits, and a row's room is checked for all of it"
)]

use std::io::Write as _;

/// Decimals that a number may be written with.
pub const DIGITS: std::ops::RangeInclusive<usize> = 4..=10;

/// Magnitudes from here up are left to `format!`: rare in tables, and they would not fit the integers used.
const LARGE: f64 = (1u64 << 30) as f64;
/// From here up, doubles have no fractions.
const FRACTIONS_END: f64 = (1u64 << 52) as f64;
/// Scale of six decimals.
const SIX: u64 = 1_000_000;
/// Bytes of one number below [`LARGE`] with a sign, ten digits, a point, ten decimals and the byte after it.
const LONGEST: usize = 24;
/// Bytes gathered before they are handed on.
const BLOCK: usize = 4096;

/// "00" to "99".
const PAIRS: [[u8; 2]; 100] = {
    let mut pairs = [[0; 2]; 100];
    let mut i = 0;
    while i < 100 {
        pairs[i] = [b'0' + (i / 10) as u8, b'0' + (i % 10) as u8];
        i += 1;
    }
    pairs
};

/// Appends `rows` to `out`, three numbers a line with `digits` decimals, single spaces between, LF after. Zero, and what
/// rounds to it, has no sign.
///
/// # Panics
/// When `digits` is not among [`DIGITS`].
pub fn write_rows(rows: &[[f64; 3]], digits: usize, out: &mut Vec<u8>) {
    out.reserve(rows.len() * 3 * (digits + 3));
    match digits {
        4 => write::<4, 10_000>(rows, out),
        5 => write::<5, 100_000>(rows, out),
        6 => write::<6, 1_000_000>(rows, out),
        7 => write::<7, 10_000_000>(rows, out),
        8 => write::<8, 100_000_000>(rows, out),
        9 => write::<9, 1_000_000_000>(rows, out),
        10 => write::<10, 10_000_000_000>(rows, out),
        _ => panic!("{digits} decimals: it must lie between {} and {}", DIGITS.start(), DIGITS.end()),
    }
}

fn write<const N: usize, const SCALE: u64>(rows: &[[f64; 3]], out: &mut Vec<u8>) {
    let mut block = [0; BLOCK];
    let mut end = 0;
    for row in rows {
        if end + 4 * LONGEST > BLOCK {
            out.extend_from_slice(&block[..end]);
            end = 0;
        }
        for (value, after) in row.iter().zip(*b"  \n") {
            match scaled::<SCALE>(*value) {
                Some(scaled) => {
                    if scaled != 0 && value.is_sign_negative() {
                        block[end] = b'-';
                        end += 1;
                    }
                    let room = block[end..].first_chunk_mut().expect("a block has room for a row");
                    end += put::<N, SCALE>(scaled, room);
                }
                None => {
                    out.extend_from_slice(&block[..end]);
                    end = 0;
                    write!(out, "{value:.N$}").expect("memory takes any text");
                }
            }
            block[end] = after;
            end += 1;
        }
    }
    out.extend_from_slice(&block[..end]);
}

/// The magnitude of `value` times `SCALE`, rounded to the nearest whole number, ties to even.
#[inline]
fn scaled<const SCALE: u64>(value: f64) -> Option<u64> {
    let magnitude = value.abs();
    // By their bits, infinity and NaN are larger still.
    if magnitude.to_bits() >= LARGE.to_bits() {
        return None;
    }
    let product = magnitude * SCALE as f64;
    // The sum has no fractions: it is the product rounded to the nearest whole number, which its low bits hold.
    let sum = product + FRACTIONS_END;
    let rest = product - (sum - FRACTIONS_END);
    // Twice the bound of the product's rounding.
    if product < FRACTIONS_END && 0.5 - rest.abs() > product * f64::EPSILON {
        return Some(sum.to_bits() & ((1 << 52) - 1));
    }
    Some(exactly(magnitude, SCALE))
}

/// [`scaled`] in whole numbers.
#[cold]
fn exactly(magnitude: f64, scale: u64) -> u64 {
    let bits = magnitude.to_bits();
    // A number below 2^30 has an exponent of at most 29: the shift is to the right. Subnormals are far below any half.
    let shift = 1075 - (bits >> 52);
    if shift >= 120 {
        return 0;
    }
    let product = u128::from(bits & ((1 << 52) - 1) | 1 << 52) * u128::from(scale);
    let whole = (product >> shift) as u64;
    let rest = product & ((1 << shift) - 1);
    let half = 1 << (shift - 1);
    let up = rest > half || (rest == half && whole & 1 == 1);
    whole + u64::from(up)
}

/// Writes `scaled` as a number of `N` decimals to the start of `out`; the count of bytes.
#[inline]
fn put<const N: usize, const SCALE: u64>(scaled: u64, out: &mut [u8; LONGEST]) -> usize {
    if scaled >= 10 * SCALE {
        let (whole, rest) = (scaled / SCALE, scaled % SCALE);
        let point = put_whole(whole, out);
        out[point] = b'.';
        put_decimals(rest, &mut out[point + 1..point + 1 + N]);
        return point + 1 + N;
    }
    // The usual case: one digit, the point and six decimals at a stroke, then what more there is.
    let (seven, more) =
        if SCALE >= SIX { (scaled / (SCALE / SIX), scaled % (SCALE / SIX)) } else { (scaled * (SIX / SCALE), 0) };
    out[..8].copy_from_slice(&one_and_six(seven));
    if N > 6 {
        put_decimals(more, &mut out[8..2 + N]);
    }
    N + 2
}

/// A number below 10 in millionths, as text: a digit, the point and six decimals.
#[inline]
fn one_and_six(millionths: u64) -> [u8; 8] {
    // Eight digits side by side in one word, the first in the lowest byte: parted into fours, twos and ones, each quotient by
    // a multiplication that is exact for numbers so small.
    let fours = (millionths / 10_000) | ((millionths % 10_000) << 32);
    let hundreds = ((fours * 5_243) >> 19) & 0x0000_007f_0000_007f;
    let twos = hundreds | ((fours - 100 * hundreds) << 16);
    let tens = ((twos * 103) >> 10) & 0x000f_000f_000f_000f;
    let ones = (tens | ((twos - 10 * tens) << 8)) | 0x3030_3030_3030_3030;
    // The first of the eight is a zero that no one needs: the point takes the place between.
    let digit = (ones >> 8) & 0xff;
    (digit | (u64::from(b'.') << 8) | (ones & 0xffff_ffff_ffff_0000)).to_le_bytes()
}

/// Writes `rest` with as many digits as `out` has places, two at a time from the end; halves of four digits do not wait for
/// one another.
#[inline]
fn put_decimals(mut rest: u64, out: &mut [u8]) {
    let mut at = out.len();
    while at >= 4 {
        at -= 4;
        let four = (rest % 10_000) as u32;
        rest /= 10_000;
        out[at..at + 2].copy_from_slice(&PAIRS[(four / 100) as usize]);
        out[at + 2..at + 4].copy_from_slice(&PAIRS[(four % 100) as usize]);
    }
    if at >= 2 {
        at -= 2;
        out[at..at + 2].copy_from_slice(&PAIRS[(rest % 100) as usize]);
        rest /= 100;
    }
    if at == 1 {
        out[0] = b'0' + rest as u8;
    }
}

/// Writes a whole number of two digits or more; the count of bytes.
fn put_whole(whole: u64, out: &mut [u8]) -> usize {
    let count = whole.ilog10() as usize + 1;
    let mut rest = whole;
    for at in (0..count).rev() {
        out[at] = b'0' + (rest % 10) as u8;
        rest /= 10;
    }
    count
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// What the standard library writes, without the sign of a zero.
    fn reference(value: f64, digits: usize) -> String {
        let text = format!("{value:.digits$}");
        let is_zero = text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
        if is_zero { text.trim_start_matches('-').to_owned() } else { text }
    }

    fn check(values: [f64; 3]) {
        for digits in DIGITS {
            let mut out = Vec::new();
            write_rows(&[values], digits, &mut out);
            let want = values.map(|v| reference(v, digits)).join(" ") + "\n";
            assert_eq!(String::from_utf8(out).unwrap(), want, "{values:?}, {digits} decimals");
        }
    }

    #[test]
    fn chosen_values_are_as_the_standard_library_writes_them() {
        check([0.0, -0.0, 1.0]);
        check([-1e-12, 1e-300, f64::MIN_POSITIVE / 8.0]);
        check([0.9999999, 9.99999999999, 99.99999999999]);
        check([-0.00005, -0.00004999, 0.00005]);
        check([LARGE, LARGE - 1e-7, -LARGE]);
        check([1e37, -1e37, 123456789.123456789]);
        check([1073741823.9999998, -1073741823.0, 1073741824.0]);
        check([0.1, 0.2, 0.3]);
    }

    /// k / 2^j has exactly j decimals: with one digit less it is a tie.
    #[test]
    fn ties_go_to_even() {
        for j in 5..=11u32 {
            for k in (1..4000u32).step_by(2) {
                let tie = f64::from(k) / f64::from(1u32 << j);
                check([tie, -tie, tie + 1000.0]);
            }
        }
    }

    #[test]
    fn seven_digits_come_out_one_by_one() {
        for n in (0..10_000_000).step_by(7).chain(0..10_000).chain([9_999_999]) {
            let want = format!("{}.{:06}", n / 1_000_000, n % 1_000_000);
            assert_eq!(one_and_six(n), want.as_bytes());
        }
    }

    #[test]
    fn neighbours_of_every_decimal_step_round_their_own_way() {
        for i in 0..2000u32 {
            let middle = (f64::from(i) + 0.5) / 1e6;
            check([middle, middle.next_up(), middle.next_down()]);
            let step = f64::from(i) / 1e4;
            check([step, step.next_up(), -step.next_down()]);
        }
    }

    #[test]
    fn many_rows_pass_the_block_unbroken() {
        let rows: Vec<[f64; 3]> = (0..5000).map(|i| [f64::from(i) * -0.37, 1e10, f64::from(i) / 7.0]).collect();
        let mut out = b"before\n".to_vec();
        write_rows(&rows, 7, &mut out);
        let want: String = rows.iter().map(|r| r.map(|v| reference(v, 7)).join(" ") + "\n").collect();
        assert_eq!(String::from_utf8(out).unwrap(), format!("before\n{want}"));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(4000))]
        #[test]
        fn any_value_is_as_the_standard_library_writes_it(a in any::<f64>(), b in -2.0..2.0f64, c in -1e10..1e10f64) {
            if a.is_finite() && a.abs() < 1e40 {
                check([a, b, c]);
            }
            check([b / 1e4, b / 1e9, c / 1e5]);
        }
    }
}
