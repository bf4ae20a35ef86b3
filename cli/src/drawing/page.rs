//! An HTML page that needs nothing but itself.

use super::{escape, font, theme};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

/// CSS that brings the embedded font into a page.
pub(crate) fn font_faces() -> String {
    let face = |weight: u32, data: &[u8]| {
        let data = STANDARD.encode(data);
        format!("@font-face{{font-family:Inter;font-weight:{weight};src:url(data:font/otf;base64,{data})}}\n")
    };
    face(400, font::REGULAR) + &face(600, font::SEMIBOLD)
}

/// What a page may ask for: nothing but what it holds (Content Security Policy).
pub(crate) fn policy() -> &'static str {
    "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; img-src data:; \
     font-src data:\">\n"
}

/// A page with `body`, which is HTML, under the font and ink of the drawings.
pub(crate) fn page(title: &str, body: &str) -> String {
    let (title, faces, fonts) = (escape(title), font_faces(), theme::FONTS);
    let (ink, ground, policy) = (theme::INK, theme::GROUND, policy());
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         {policy}<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{title}</title>\n<style>\n\
         {faces}body{{margin:24px;font-family:{fonts};color:{ink};background:{ground}}}\n\
         svg{{max-width:100%;height:auto}}\n</style>\n</head>\n<body>\n{body}\n</body>\n</html>\n"
    )
}
