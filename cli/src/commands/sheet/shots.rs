//! The shots that are seen in a look, with their corrections.

use super::html::minus;
use crate::output::short;
use maud::{Markup, html};
use rushlight::sheet::{LookSheet, ShotNotes, ShotSheet};

/// Nothing where the look has no shots.
pub(super) fn shots(look: &LookSheet) -> Markup {
    let Some(first) = look.shots.first() else { return Markup::default() };
    html! {
        section.shots {
            h2 { "Shots and their corrections" }
            p.note {
                "Corrections by the ASC CDL, " (first.order) ". Slope, offset and power of red, green and blue, then saturation."
            }
            div.scroll {
                table.stops {
                    thead {
                        tr {
                            th.text { "shot" }
                            th.text { "camera" }
                            th.text.first { "correction" }
                            @for name in ["slope", "offset", "power"] { th.first colspan="3" { (name) } }
                            th.first { "saturation" }
                        }
                    }
                    tbody {
                        @for shot in &look.shots {
                            (row(shot))
                            @if let Some(words) = shot.notes.as_ref().map(ShotNotes::words).filter(|words| !words.is_empty()) {
                                tr.noted { th {} td.text colspan="12" { (words) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn row(shot: &ShotSheet) -> Markup {
    let [id, file] = &shot.correction;
    html! {
        tr {
            th.text { (shot.name) }
            td.text { (shot.camera.as_deref().unwrap_or("any")) }
            td.text.first { (id) " " code { (file) } }
            @for numbers in [shot.slope, shot.offset, shot.power] {
                @for (i, number) in numbers.into_iter().enumerate() { td.first[i == 0] { (minus(short(number))) } }
            }
            td.first { (short(shot.saturation)) }
        }
    }
}
