//! An HTML page that needs nothing but itself.

use super::{font, theme};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// CSS that brings the embedded font into a page.
pub(crate) fn font_faces() -> String {
    let face = |weight: u32, data: &[u8]| {
        let data = STANDARD.encode(data);
        format!("@font-face{{font-family:Inter;font-weight:{weight};src:url(data:font/otf;base64,{data})}}\n")
    };
    face(400, font::REGULAR) + &face(600, font::SEMIBOLD)
}

/// What a page may ask for: nothing but what it holds (Content Security Policy).
pub(crate) fn policy() -> Markup {
    html! {
        meta http-equiv="Content-Security-Policy"
            content="default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:";
    }
}

/// A page of one drawing, under the font and ink of the drawings.
pub(crate) fn page(title: &str, svg: &str) -> String {
    let (ink, ground) = (theme::INK, theme::GROUND);
    let style = format!(
        "{}body{{margin:24px;font-family:{};color:{ink};background:{ground}}}\nsvg{{max-width:100%;height:auto}}\n",
        font_faces(),
        theme::FONTS
    );
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                (policy())
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style { (PreEscaped(style)) }
            }
            body { (PreEscaped(svg)) }
        }
    };
    page.into_string() + "\n"
}
