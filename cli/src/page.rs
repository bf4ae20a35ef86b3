//! A page that asks nothing of any other place: its head, the style that pages share, and charts that follow day and night.

use crate::drawing::{Drawing, font_faces, policy, theme};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use std::fmt::Write as _;

const STYLE: &str = include_str!("page/page.css");

/// A page in the making.
pub(crate) struct Page<'p> {
    pub(crate) title: &'p str,
    /// Its own style, beside the one that pages share.
    pub(crate) style: &'p str,
    /// Whether the font of drawings is embedded, so that the page is set the same everywhere.
    pub(crate) font: bool,
    /// Whose it is, in the lines of a slate; none of a page that is of no show.
    pub(crate) slate: &'p [String],
    pub(crate) body: Markup,
}

impl Page<'_> {
    /// The whole file.
    pub(crate) fn html(&self) -> String {
        let Self { title, style, font, slate, body } = self;
        let faces = if *font { font_faces() } else { String::new() };
        let page = html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    (policy())
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    meta name="color-scheme" content="light dark";
                    meta name="generator" content={ "rushlight " (env!("CARGO_PKG_VERSION")) };
                    @if !slate.is_empty() { meta name="description" content=(slate.join("\n")); }
                    title { (title) }
                    style { (PreEscaped(faces)) (PreEscaped(STYLE)) (PreEscaped(charts_by_night())) (PreEscaped(style)) }
                }
                body { (body) }
            }
        };
        page.into_string() + "\n"
    }
}

/// A drawing within a page.
pub(crate) fn chart(drawing: &Drawing) -> Markup {
    html! { div.chart { (PreEscaped(&drawing.svg)) } }
}

/// Style that gives each colour of a drawing its counterpart by night.
fn charts_by_night() -> String {
    let mut style = "@media screen and (prefers-color-scheme: dark) {\n".to_owned();
    for (day, night) in theme::NIGHT {
        for property in ["fill", "stroke"] {
            let _ = writeln!(style, ".chart [{property}=\"{day}\"] {{ {property}: {night}; }}");
        }
    }
    // A picture of much and little keeps its hues.
    style + ".chart image { filter: invert(1) hue-rotate(180deg); }\n}\n"
}
