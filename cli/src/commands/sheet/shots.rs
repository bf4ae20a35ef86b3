//! The shots that are seen in a look, with their corrections: a side of their own.

use super::html::minus;
use crate::drawing::escape;
use crate::output::short;
use rushlight::sheet::{LookSheet, ShotSheet};
use std::fmt::Write as _;

/// Nothing where the look has no shots.
pub(super) fn shots(body: &mut String, look: &LookSheet) {
    let Some(first) = look.shots.first() else { return };
    let _ = writeln!(
        body,
        "<section class=\"side\">\n<p class=\"running\"><b>{}</b>, revision {}</p>\n<h2>Shots and their corrections</h2>\n<p \
         class=\"note\">Corrections by the ASC CDL, {}. Slope, offset and power of red, green and blue, then \
         saturation.</p>\n<div class=\"scroll\"><table class=\"stops\">\n<thead><tr><th class=\"text\">shot</th><th \
         class=\"text\">camera</th><th class=\"text first\">correction</th><th class=\"first\" colspan=\"3\">slope</th><th \
         class=\"first\" colspan=\"3\">offset</th><th class=\"first\" colspan=\"3\">power</th><th \
         class=\"first\">saturation</th></tr></thead>\n<tbody>",
        escape(&look.title),
        look.revision,
        escape(&first.order),
    );
    for shot in &look.shots {
        row(body, shot);
    }
    body.push_str("</tbody></table></div>\n</section>\n");
}

fn row(body: &mut String, shot: &ShotSheet) {
    let [id, file] = &shot.correction;
    let _ = write!(
        body,
        "<tr><th class=\"text\">{}</th><td class=\"text\">{}</td><td class=\"text first\">{} <code>{}</code></td>",
        escape(&shot.name),
        escape(shot.camera.as_deref().unwrap_or("any")),
        escape(id),
        escape(file)
    );
    for numbers in [shot.slope, shot.offset, shot.power] {
        for (i, number) in numbers.into_iter().enumerate() {
            let first = if i == 0 { " class=\"first\"" } else { "" };
            let _ = write!(body, "<td{first}>{}</td>", minus(short(number)));
        }
    }
    let _ = writeln!(body, "<td class=\"first\">{}</td></tr>", short(shot.saturation));
}
