//! Text to numbers, correctly rounded and fast: `fast-float2`, without its NaN and infinities.

/// The number that `text` starts with, and how many bytes it has. What is not a finite number gives `None`.
#[inline]
pub(super) fn number(text: &[u8]) -> Option<(f64, usize)> {
    // Words such as `nan`, `-inf` and `infinity` give a number that is not finite.
    let (value, length): (f64, usize) = fast_float2::parse_partial(text).ok()?;
    value.is_finite().then_some((value, length))
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
