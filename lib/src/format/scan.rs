//! Text to numbers, correctly rounded and fast.
//!
//! Most numbers of a table are a few digits about a point. Their digits make a whole number below 2^53, which is exact,
//! as is the power of ten below it, so one division rounds correctly; eight digits are read in one go. Everything else
//! goes to `fast-float2`.

/// 10^0 to 10^22, which doubles hold exactly.
const POWERS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20,
    1e21, 1e22,
];
/// Whole numbers up to here are exact.
const EXACT: u64 = 1 << 53;

/// The number that `text` starts with, and how many bytes it has. What is not a finite number gives `None`.
#[inline]
pub(super) fn number(text: &[u8]) -> Option<(f64, usize)> {
    plain(text).or_else(|| {
        let digits = text.iter().find(|b| !matches!(b, b'+' | b'-'))?;
        if !matches!(digits, b'0'..=b'9' | b'.') {
            return None;
        }
        let (value, length): (f64, usize) = fast_float2::parse_partial(text).ok()?;
        value.is_finite().then_some((value, length))
    })
}

/// A number of at most eight digits before and sixteen after the point, no exponent, with a byte after it.
#[inline]
fn plain(text: &[u8]) -> Option<(f64, usize)> {
    let negative = *text.first()? == b'-';
    let mut at = usize::from(negative);
    let mut whole = 0;
    let mut byte = *text.get(at)?;
    let start = at;
    while byte.is_ascii_digit() {
        whole = whole * 10 + u64::from(byte - b'0');
        at += 1;
        if at - start > 8 {
            return None;
        }
        byte = *text.get(at)?;
    }
    if at == start {
        return None;
    }
    let mut decimals = 0;
    if byte == b'.' {
        at += 1;
        let (first, count) = digits(text.get(at..at + 8)?);
        whole = whole * POWERS_WHOLE[count] + first;
        decimals = count;
        if count == 8 {
            let (second, count) = digits(text.get(at + 8..at + 16)?);
            whole = whole.checked_mul(POWERS_WHOLE[count])?.checked_add(second)?;
            decimals += count;
        }
        at += decimals;
        byte = *text.get(at)?;
    }
    if whole > EXACT || byte.is_ascii_digit() || matches!(byte, b'e' | b'E' | b'.') {
        return None;
    }
    let value = whole as f64 / POWERS[decimals];
    Some((if negative { -value } else { value }, at))
}

const POWERS_WHOLE: [u64; 9] = [1, 10, 100, 1_000, 10_000, 100_000, 1_000_000, 10_000_000, 100_000_000];

/// The digits at the start of eight bytes as a whole number, and how many they are.
#[inline]
fn digits(eight: &[u8]) -> (u64, usize) {
    let word = u64::from_le_bytes(eight.try_into().expect("eight bytes"));
    // A byte is a digit where its high half is 3, and is so still with 6 added to it.
    let high = 0xf0f0_f0f0_f0f0_f0f0;
    let other = (word & high ^ 0x3030_3030_3030_3030)
        | (word.wrapping_add(0x0606_0606_0606_0606) & high ^ 0x3030_3030_3030_3030);
    let count = (other.trailing_zeros() / 8) as usize;
    if count == 0 {
        return (0, 0);
    }
    // The digits to the top of the word, zeros below them: the same number with zeros in front.
    let word = (word & 0x0f0f_0f0f_0f0f_0f0f) << (8 * (8 - count));
    let pairs = (word.wrapping_mul(10) + (word >> 8)) & 0x00ff_00ff_00ff_00ff;
    let fours = (pairs.wrapping_mul(100) + (pairs >> 16)) & 0x0000_ffff_0000_ffff;
    let eight = (fours.wrapping_mul(10_000) + (fours >> 32)) & 0xffff_ffff;
    (eight, count)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn forms_that_a_table_may_have() {
        for text in
            ["0", "1", ".75", "0.", "-1", "+0.5", "1e-3", "-2.5E+2", "12345678.5", "0.1234567890123456789", "123456789"]
        {
            for tail in ["", " ", "\n", "\t0.5 0.5\n", " 1.000000 0.500000\n"] {
                let whole = format!("{text}{tail}");
                let want = text.parse::<f64>().unwrap();
                assert_eq!(number(whole.as_bytes()), Some((want, text.len())), "{whole:?}");
            }
        }
    }

    #[test]
    fn what_is_no_finite_number() {
        for text in
            ["", "-", "+", ".", "nan", "-nan", "inf", "-inf", "infinity", "x", "1e999", "-1e400", " 1", "#", "--1"]
        {
            assert_eq!(number(text.as_bytes()), None, "{text:?}");
        }
        // Where a number ends is the caller's to judge.
        assert_eq!(number(b"0.5x"), Some((0.5, 3)));
        assert_eq!(number(b"1.2.3 and more text"), Some((1.2, 3)));
        assert_eq!(number(b"0.5\x80\x80\x80\x80\x80\x80\x80\x80"), Some((0.5, 3)));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(4000))]
        #[test]
        fn numbers_are_as_the_standard_library_reads_them(v in any::<f64>(), unit in -3.0..3.0f64, digits in 0usize..18) {
            for text in [format!("{v:e}"), format!("{v}"), format!("{unit:.digits$}"), format!("{:.digits$}", unit * 1e7)] {
                let want = text.parse::<f64>().unwrap();
                let got = number(format!("{text} 0.250000 0.750000\n").as_bytes());
                if want.is_finite() {
                    prop_assert_eq!(got.map(|(v, n)| (v.to_bits(), n)), Some((want.to_bits(), text.len())));
                } else {
                    prop_assert_eq!(got, None);
                }
            }
        }
    }
}
