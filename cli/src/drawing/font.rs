//! The font of every drawing, embedded.

use std::sync::LazyLock;
use ttf_parser::Face;

pub(super) const REGULAR: &[u8] = include_bytes!("../../assets/Inter-Regular.otf");
pub(super) const SEMIBOLD: &[u8] = include_bytes!("../../assets/Inter-SemiBold.otf");
#[cfg(feature = "draw")]
pub(super) const FAMILY: &str = "Inter";

/// The width of one line of text of size 1, kerning aside.
pub(super) fn width_of(text: &str, bold: bool) -> f64 {
    static FACES: LazyLock<[Option<Face<'static>>; 2]> =
        LazyLock::new(|| [REGULAR, SEMIBOLD].map(|data| Face::parse(data, 0).ok()));
    let Some(face) = &FACES[usize::from(bold)] else { return 0.6 * text.chars().count() as f64 };
    let advance = |c| face.glyph_hor_advance(face.glyph_index(c).unwrap_or_default()).unwrap_or_default();
    text.chars().map(advance).map(f64::from).sum::<f64>() / f64::from(face.units_per_em())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_have_one_width_and_signs_of_the_trade_are_there() {
        for bold in [false, true] {
            // To the font's own rounding.
            let zero = width_of("0", bold);
            assert!("123456789".chars().all(|c| (width_of(&c.to_string(), bold) - zero).abs() < 0.002));
            assert!((width_of("0000", bold) - 4.0 * zero).abs() < 1e-12);
            assert!(width_of("iiii", bold) < width_of("mmmm", bold));
        }
        let face = Face::parse(REGULAR, 0).unwrap();
        for c in "Aéßőž αΔσ Жя 0±°×−µ²₃ ←↑→↓ …–—“”‘’• ≤≥≈≠√∞ ✓✗■●▲".chars()
        {
            assert!(face.glyph_index(c).is_some(), "{c}");
        }
    }
}
