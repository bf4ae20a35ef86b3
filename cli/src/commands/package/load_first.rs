//! The page that says which file goes where.

use super::collect::{Loaded, Parcel};
use crate::page::Page;
use maud::{Markup, html};
use rushlight::show::Show;
use rushlight::slate;

/// Digits of a checksum that tell files apart.
const DIGITS: usize = 8;

const STYLE: &str = "td { text-align: left; } td code, td b { white-space: nowrap; } ol li { margin: .4rem 0; }";

pub(super) fn page(show: &Show, parcel: &Parcel) -> String {
    let title = format!("{}: load this first", show.title());
    let (of_shots, of_looks): (Vec<&Loaded>, Vec<&Loaded>) = parcel.loads.iter().partition(|load| load.shot.is_some());
    let body = html! {
        h1 { (title) }
        p {
            "One file for each camera and monitor carries the whole look, from the camera's log signal to the monitor's signal. "
            "Load that file and no other conversion before or after it."
        }
        ol {
            li { "Find the row of your camera, look and monitor, and load the file: " code { ".cube" }
                " for boxes and most programs, the " code { ".clf" } " of the same name where a program reads it. If there are two files with different numbers of points (the last \
                 number of the name), take the larger one if the box reads it." }
            @if !of_shots.is_empty() {
                li { "For a shot that is listed below, load the file of the shot instead. It includes the correction of the shot: do not \
                      apply its CDL as well." }
            }
            li { "Check the ranges. A full-range file on a legal-range signal lifts blacks and darkens whites; a legal-range file on a full-range signal crushes \
                  blacks and clips whites. Nothing on the monitor shows the mistake." }
            li { "Put the camera's frame of " code { "reference/" } " through your chain, and compare what comes out with the picture of the \
                  same camera, look and monitor there: " code { "rushlight diff EXPECTED.png YOURS.tif" }
                ", or both side by side by eye. A right chain differs by the error of the cube, which the table states." }
        }
        (table("The looks", show, &of_looks))
        @if !of_shots.is_empty() { (table("The shots", show, &of_shots)) }
        p.note {
            "Error is against the exact look, on colours that a camera meets: 1 is what a careful eye just sees side by side. The \
             checksum is the first 8 digits of the file's SHA-256; " code { "SHA256SUMS" } " has all of them."
        }
        p.note { "A cube is not a light meter. Test it on your own camera and monitor first." }
    };
    let slate = slate::of_looks(show, show.looks().keys().map(String::as_str));
    Page { title: &title, style: STYLE, font: false, slate: &slate, body }.html()
}

fn table(head: &str, show: &Show, loads: &[&Loaded]) -> Markup {
    html! {
        h2 { (head) }
        div.scroll {
            table {
                thead { tr {
                    @if loads.iter().any(|load| load.shot.is_some()) { th { "Shot" } }
                    th.text { "Camera" } th.text { "Look" } th.text { "Monitor" } th.text { "File" } th.text { "Range" }
                    th.text { "Error: mean, largest" } th.text { "Checksum" }
                } }
                tbody {
                    @for load in loads {
                        tr {
                            @if let Some(shot) = &load.shot { td { b { (shot) } } }
                            td.text { (show.cameras()[&load.camera].label) }
                            td { (load.look) }
                            td { (show.displays()[&load.display].label) }
                            td { code { (load.file) } }
                            td { (load.ranges) }
                            td { (load.error.map(|(formula, mean, max)| format!("{formula} {mean:.2}, {max:.2}")).unwrap_or_default()) }
                            td { code { (load.sha256.chars().take(DIGITS).collect::<String>()) } }
                        }
                    }
                }
            }
        }
    }
}
