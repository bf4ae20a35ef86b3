//! A page that asks nothing of any other place: its head, the style that pages share, and charts that follow day and night.

use crate::drawing::{escape, font_faces, policy, theme};
use std::fmt::Write as _;

const STYLE: &str = include_str!("page/page.css");

/// A page in the making.
pub(crate) struct Page<'p> {
    pub(crate) title: &'p str,
    /// Its own style, beside the one that pages share.
    pub(crate) style: &'p str,
    /// Whether the font of drawings is embedded, so that the page is set the same everywhere.
    pub(crate) font: bool,
    /// HTML.
    pub(crate) body: &'p str,
}

impl Page<'_> {
    /// The whole file.
    pub(crate) fn html(&self) -> String {
        let Self { style, body, .. } = self;
        let (title, charts, policy) = (escape(self.title), charts_by_night(), policy());
        let version = env!("CARGO_PKG_VERSION");
        let faces = if self.font { font_faces() } else { String::new() };
        format!(
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
             {policy}<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<meta name=\"color-scheme\" content=\"light dark\">\n\
             <meta name=\"generator\" content=\"rushlight {version}\">\n<title>{title}</title>\n<style>\n{faces}{STYLE}{charts}{style}</style>\n</head>\n<body>\n{body}</body>\n</html>\n"
        )
    }
}

/// Style that gives each colour of a drawing its counterpart by night.
fn charts_by_night() -> String {
    let mut style = "@media screen and (prefers-color-scheme: dark) {\n".to_owned();
    for (day, night) in theme::NIGHT {
        for property in ["fill", "stroke"] {
            let _ = writeln!(style, ".chart [{property}=\"{day}\"] {{ {property}: {night}; }}");
        }
    }
    style + "}\n"
}
