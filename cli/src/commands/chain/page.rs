//! The report of `chain check` as a page: verdicts, and each capture with its patches marked.

use super::text::{HEAD, is_explained, list, matrix, word};
use crate::failure::Failure;
use crate::page::Page;
use crate::picture::{data_uri, mean};
use maud::{Markup, html};
use rushlight::chain::layout::{self, patch};
use rushlight::chain::report::{Capture, Figures, Read, Report, Verdict};
use rushlight::frame::{Format, Frame};

/// Pixels across a picture.
const WIDTH: usize = 960;
/// The least difference that is listed.
const SHOWN: f64 = 0.1;
/// Patches that are listed, those with the largest differences.
const LISTED: usize = 12;

pub(super) fn html(report: &Report, frames: &[Frame], formula: &str) -> Result<String, Failure> {
    let sections = report.captures.iter().zip(frames).map(|(capture, frame)| section(capture, frame, formula));
    let sections = sections.collect::<Result<Vec<_>, _>>()?;
    let body = html! {
        header {
            h1 { "Chain check" }
            p.note { (report.expected) ", " (report.points) " points" }
            @let of = report.origin.line();
            @if !of.is_empty() { p.note { (of) } }
        }
        main {
            table {
                thead { tr { @for name in HEAD { th { (name) } } th { (formula) ", mean" } } }
                @for (capture, [label, verdict, sides @ ..]) in report.captures.iter().zip(matrix(report)) {
                    tr {
                        td { (label) }
                        td.(class(capture.verdict)) { (verdict) }
                        @for side in sides { td { (side) } }
                        td.number { @if let Some(off) = &capture.off { (format!("{:.2}", off.mean)) } }
                    }
                }
            }
            @for section in sections { (section) }
        }
        footer {
            p {
                "A patch is outlined where it differs from the right picture by more than 1, and thickly by more than 3. \
                 About 1 is a difference that a careful eye just sees side by side. The check compares signals: whether the \
                 panel of a monitor shows its signal rightly, it does not say."
            }
        }
    };
    Ok(Page { title: "Chain check", style: include_str!("page.css"), font: false, slate: &[], body }.html())
}

const fn class(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Right => "good",
        Verdict::Wrong => "bad",
        Verdict::Unknown => "plain",
    }
}

fn section(capture: &Capture, frame: &Frame, formula: &str) -> Result<Markup, Failure> {
    let figures = |f: &Figures| format!("{:.2} mean, {:.2} at 99 %, {:.2} at most", f.mean, f.p99, f.max);
    let left = capture.unexplained.as_ref().filter(|_| is_explained(capture));
    let lines = [("From the right picture", capture.off.as_ref()), ("After the explanation", left)];
    let picture = picture(capture, frame)?;
    Ok(html! {
        section {
            h2 { (capture.label) }
            p.verdict.(class(capture.verdict)) { (word(capture.verdict)) }
            p { (capture.summary) }
            @if !capture.help.is_empty() {
                ul.help { @for help in &capture.help { li { (help) } } }
            }
            @for note in &capture.notes { p.note { (note) } }
            @for (what, found) in lines {
                @if let Some(found) = found { p.note { (what) ": " (formula) " " (figures(found)) "." } }
            }
            @if let Some(second) = &capture.second {
                p.note {
                    "Next best explanation: " (list(&second.faults)) ", which leaves " (format!("{:.1}", second.times))
                    " times as much."
                }
            }
            (picture)
            @if let Some(read) = &capture.read { (worst(read)) }
        }
    })
}

/// The capture, with its patches outlined.
fn picture(capture: &Capture, frame: &Frame) -> Result<Markup, Failure> {
    let across = frame.width().min(WIDTH);
    let down = (frame.height() * across / frame.width()).max(1);
    let pixel = |i: usize| mean(frame, [i % across, i / across], [across, down]).map(|v| v.clamp(0.0, 1.0) as f32);
    let uri = data_uri((0..across * down).map(pixel).collect(), across, Format::Png)?;
    Ok(html! {
        figure {
            div.capture {
                img src=(uri) width=(across) height=(down) alt="the capture";
                @if let Some(read) = &capture.read {
                    svg viewBox={ "0 0 " (frame.width()) " " (frame.height()) } preserveAspectRatio="none" aria-hidden="true" {
                        @for (points, width) in outlines(read) {
                            @for (colour, width) in [("#000000", 1.8 * width), ("#ffffff", width)] {
                                polygon points=(points) fill="none" stroke=(colour) stroke-width=(format!("{width:.1}")) {}
                            }
                        }
                    }
                }
            }
            figcaption {
                "The capture, as it is, without regard to the display. Patches: " (layout::PATCH_COLUMNS) " columns, "
                (layout::PATCH_ROWS) " rows."
            }
        }
    })
}

/// The corners of each patch that is off, and how thick its outline is, in pixels of the capture.
fn outlines(read: &Read) -> impl Iterator<Item = (String, f64)> + '_ {
    let unit = read.reading.place.unit()[0];
    read.reading.flat().zip(&read.off).filter(|(_, off)| **off > 1.0).map(move |(measured, off)| {
        let area = patch(measured.patch.column, measured.patch.row);
        let corner = |u: f64, v: f64| {
            let [x, y] = read.reading.place.at([area.x + u * area.width, area.y + v * area.height]);
            format!("{x:.1},{y:.1}")
        };
        let points = [corner(0.1, 0.1), corner(0.9, 0.1), corner(0.9, 0.9), corner(0.1, 0.9)].join(" ");
        (points, if *off > 3.0 { 0.6 * unit } else { 0.25 * unit })
    })
}

/// The patches that differ most; nothing where none does.
fn worst(read: &Read) -> Markup {
    let mut order: Vec<usize> = (0..read.off.len()).filter(|i| read.off[*i] >= SHOWN).collect();
    if order.is_empty() {
        return Markup::default();
    }
    order.sort_by(|a, b| read.off[*b].total_cmp(&read.off[*a]));
    let patches: Vec<_> = read.reading.flat().collect();
    let codes = |rgb: [f64; 3]| rgb.map(|v| format!("{:.0}", 1023.0 * v)).join(" ");
    html! {
        div.scroll {
            table {
                caption { "The patches that differ most. Codes of 10 bits, red, green and blue." }
                thead {
                    tr {
                        @for name in ["column, row", "chart", "right", "capture", "explained", "difference"] { th { (name) } }
                    }
                }
                @for i in order.into_iter().take(LISTED) {
                    @let m = patches[i];
                    tr {
                        td { (m.patch.column + 1) ", " (m.patch.row + 1) }
                        td { (m.patch.codes.map(|c| c.to_string()).join(" ")) }
                        td { (codes(read.wanted[i])) }
                        td { (codes(m.mean)) }
                        td { (codes(read.given[i])) }
                        td.number { (format!("{:.2}", read.off[i])) }
                    }
                }
            }
        }
    }
}
