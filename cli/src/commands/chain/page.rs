//! The report of `chain check` as a page: verdicts, and each capture with its patches marked.

use super::text::word;
use crate::drawing::escape;
use crate::failure::Failure;
use crate::page::Page;
use crate::picture::{data_uri, mean};
use rushlight::chain::layout::{self, patch};
use rushlight::chain::report::{Capture, Figures, Read, Report, Verdict};
use rushlight::frame::{Format, Frame};
use std::fmt::Write as _;

/// Pixels across a picture.
const WIDTH: usize = 960;
/// The least difference that is listed.
const SHOWN: f64 = 0.1;
/// Patches that are listed, those with the largest differences.
const LISTED: usize = 12;

pub(super) fn html(report: &Report, frames: &[Frame], formula: &str) -> Result<String, Failure> {
    let mut body = format!(
        "<header><h1>Chain check</h1>\n<p class=\"note\">{}, {} points</p>\n</header>\n<main>\n<table>\n\
         <thead><tr><th>capture</th><th>verdict</th><th>what was found</th><th>{formula}, mean</th></tr></thead>\n",
        escape(&report.expected),
        report.points
    );
    for capture in &report.captures {
        let mean = capture.off.as_ref().map_or_else(String::new, |f| format!("{:.2}", f.mean));
        let _ = writeln!(
            body,
            "<tr><td>{}</td><td class=\"{}\">{}</td><td>{}</td><td class=\"number\">{mean}</td></tr>",
            escape(&capture.label),
            class(capture.verdict),
            word(capture.verdict),
            escape(&capture.summary)
        );
    }
    body.push_str("</table>\n");
    for (capture, frame) in report.captures.iter().zip(frames) {
        push_capture(&mut body, capture, frame, formula)?;
    }
    body.push_str(
        "</main>\n<footer><p>A patch is outlined where it differs from the right picture by more than 1, and thickly by more \
         than 3. About 1 is a difference that a careful eye just sees side by side. The check compares signals: whether the \
         panel of a monitor shows its signal rightly, it does not say.</p></footer>\n",
    );
    Ok(Page { title: "Chain check", style: include_str!("page.css"), font: false, body: maud::PreEscaped(body) }.html())
}

const fn class(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Right => "good",
        Verdict::Wrong => "bad",
        Verdict::Unknown => "plain",
    }
}

fn push_capture(body: &mut String, capture: &Capture, frame: &Frame, formula: &str) -> Result<(), Failure> {
    let _ = writeln!(
        body,
        "<section>\n<h2>{}</h2>\n<p class=\"verdict {}\">{}</p>\n<p>{}</p>",
        escape(&capture.label),
        class(capture.verdict),
        word(capture.verdict),
        escape(&capture.summary)
    );
    if !capture.help.is_empty() {
        body.push_str("<ul class=\"help\">\n");
        capture.help.iter().for_each(|help| {
            let _ = writeln!(body, "<li>{}</li>", escape(help));
        });
        body.push_str("</ul>\n");
    }
    for note in &capture.notes {
        let _ = writeln!(body, "<p class=\"note\">{}</p>", escape(note));
    }
    let figures = |f: &Figures| format!("{:.2} mean, {:.2} at 99 %, {:.2} at most", f.mean, f.p99, f.max);
    let lines = [("From the right picture", &capture.off), ("After the explanation", &capture.unexplained)];
    for (what, figures) in lines.into_iter().filter_map(|(what, f)| Some((what, figures(f.as_ref()?)))) {
        let _ = writeln!(body, "<p class=\"note\">{what}: {formula} {figures}.</p>");
    }
    push_picture(body, capture, frame)?;
    if let Some(read) = &capture.read {
        push_worst(body, read);
    }
    body.push_str("</section>\n");
    Ok(())
}

/// The capture, with its patches outlined.
fn push_picture(body: &mut String, capture: &Capture, frame: &Frame) -> Result<(), Failure> {
    let across = frame.width().min(WIDTH);
    let down = (frame.height() * across / frame.width()).max(1);
    let pixel = |i: usize| mean(frame, [i % across, i / across], [across, down]).map(|v| v.clamp(0.0, 1.0) as f32);
    let uri = data_uri((0..across * down).map(pixel).collect(), across, Format::Png)?;
    let (w, h) = (frame.width(), frame.height());
    let _ = write!(
        body,
        "<figure><div class=\"capture\"><img src=\"{uri}\" width=\"{across}\" height=\"{down}\" alt=\"the capture\">"
    );
    if let Some(read) = &capture.read {
        let _ = write!(body, "<svg viewBox=\"0 0 {w} {h}\" preserveAspectRatio=\"none\" aria-hidden=\"true\">");
        for (measured, off) in read.reading.flat().zip(&read.off).filter(|(_, off)| **off > 1.0) {
            let area = patch(measured.patch.column, measured.patch.row);
            let corner = |u: f64, v: f64| {
                let [x, y] = read.reading.place.at([area.x + u * area.width, area.y + v * area.height]);
                format!("{x:.1},{y:.1}")
            };
            let unit = read.reading.place.unit()[0];
            let width = if *off > 3.0 { 0.6 * unit } else { 0.25 * unit };
            let points = [corner(0.1, 0.1), corner(0.9, 0.1), corner(0.9, 0.9), corner(0.1, 0.9)].join(" ");
            for (colour, width) in [("#000000", 1.8 * width), ("#ffffff", width)] {
                let _ = write!(
                    body,
                    "<polygon points=\"{points}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{width:.1}\"/>"
                );
            }
        }
        body.push_str("</svg>");
    }
    let columns = layout::PATCH_COLUMNS;
    let _ = writeln!(
        body,
        "</div><figcaption>The capture, as it is, without regard to the display. Patches: {columns} columns, {} rows.</figcaption></figure>",
        layout::PATCH_ROWS
    );
    Ok(())
}

fn push_worst(body: &mut String, read: &Read) {
    let mut order: Vec<usize> = (0..read.off.len()).filter(|i| read.off[*i] >= SHOWN).collect();
    if order.is_empty() {
        return;
    }
    order.sort_by(|a, b| read.off[*b].total_cmp(&read.off[*a]));
    let patches: Vec<_> = read.reading.flat().collect();
    body.push_str(
        "<div class=\"scroll\"><table><caption>The patches that differ most. Codes of 10 bits, red, green and blue.</caption>\n\
         <thead><tr><th>column, row</th><th>chart</th><th>right</th><th>capture</th><th>explained</th><th>difference</th></tr></thead>\n",
    );
    let codes = |rgb: [f64; 3]| rgb.map(|v| format!("{:.0}", 1023.0 * v)).join(" ");
    for i in order.into_iter().take(LISTED) {
        let m = patches[i];
        let _ = writeln!(
            body,
            "<tr><td>{}, {}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td class=\"number\">{:.2}</td></tr>",
            m.patch.column + 1,
            m.patch.row + 1,
            m.patch.codes.map(|c| c.to_string()).join(" "),
            codes(read.wanted[i]),
            codes(m.mean),
            codes(read.given[i]),
            read.off[i]
        );
    }
    body.push_str("</table></div>\n");
}
