//! `inspect --plot`: the neutral axis and the axis of each channel, drawn.

use crate::drawing::Drawing;
use crate::drawing::chart::{Axis, Chart, Guide, Panel, Series};
use crate::output::short;
use rushlight::cube::Table;
use rushlight::inspect::Inspection;
use rushlight::table_file::TableFile;
use std::path::Path;

/// Points of each line, where the table does not have more of its own: 1024 parts, as many as a 10-bit signal.
const POINTS: usize = 1025;
const PLOT: [f64; 2] = [400.0, 340.0];
const CHANNELS: [&str; 3] = ["red", "green", "blue"];

pub(super) fn draw(source: &TableFile, report: &Inspection, path: &Path) -> Drawing {
    let curves = match source {
        TableFile::Cube(file, _) => file.shaper.as_ref(),
        TableFile::Clf(_) => None,
    };
    let domain = source.domain();
    let mut panels = Vec::new();
    if let Some(curves) = curves {
        let title = format!("Curves in front of the cube, {} entries", curves.size());
        panels.push(panel(title, "input", domain, curves.size(), |t| mixed(domain, [t; 3]), |rgb| curves.at(rgb)));
    }
    let alone = matches!(source, TableFile::Cube(file, _) if matches!(file.table, Table::Curves(_)));
    let points = POINTS.max(if alone { report.size } else { 0 });
    let title = if alone { "Curves" } else { "Greys: red, green and blue rise together" };
    panels.push(panel(title.to_owned(), "input", domain, points, |t| mixed(domain, [t; 3]), |rgb| source.apply(rgb)));
    for (axis, name) in CHANNELS.iter().enumerate().filter(|_| !alone) {
        let at = |t| {
            let mut shares = [0.5; 3];
            shares[axis] = t;
            mixed(domain, shares)
        };
        let title = format!("Only {name} rises");
        panels.push(panel(title, &format!("{name} input"), domain, points, at, |rgb| source.apply(rgb)));
    }
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let mut notes = Vec::new();
    if !alone {
        notes.push("Where only one channel rises, the other two stay at the middle of the input's domain.".to_owned());
    }
    if panels.iter().any(|panel| !panel.guides.is_empty()) {
        notes.push("Dashed line: output equal to input.".to_owned());
    }
    let terms = format!("{}, domain {}", super::kind(report), domain_in_words(report.domain));
    let (title, subtitle) =
        if report.title.is_empty() { (name, terms) } else { (report.title.clone(), format!("{name}: {terms}")) };
    Chart { title, subtitle, columns: if panels.len() > 1 { 2 } else { 1 }, panels, plot: PLOT, notes }.draw()
}

/// The bounds of the input, once where the channels have the same.
fn domain_in_words([low, high]: [[f64; 3]; 2]) -> String {
    let said = |v: [f64; 3]| {
        let said = v.map(short);
        if said.iter().all(|s| *s == said[0]) { said[0].clone() } else { said.join(" ") }
    };
    format!("{} to {}", said(low), said(high))
}

/// The input at a share of each channel's domain.
fn mixed([low, high]: [[f64; 3]; 2], shares: [f64; 3]) -> [f64; 3] {
    std::array::from_fn(|c| low[c] + shares[c] * (high[c] - low[c]))
}

fn panel(
    title: String,
    input: &str,
    domain: [[f64; 3]; 2],
    points: usize,
    at: impl Fn(f64) -> [f64; 3],
    apply: impl Fn([f64; 3]) -> [f64; 3],
) -> Panel {
    let [low, high] = domain;
    // Channels of different domains share an axis of their shares.
    let one = (low == [low[0]; 3] && high == [high[0]; 3]).then_some([low[0], high[0]]);
    let (ends, label) = match one {
        Some(ends) => (ends, input.to_owned()),
        None => ([0.0, 1.0], format!("{input}, share of its domain")),
    };
    let mut lines: [Vec<[f64; 2]>; 3] = Default::default();
    for i in 0..points {
        let t = i as f64 / (points - 1) as f64;
        let out = apply(at(t));
        for c in 0..3 {
            lines[c].push([ends[0] + t * (ends[1] - ends[0]), out[c]]);
        }
    }
    let values = lines.iter().flatten().map(|p| p[1]).filter(|v| v.is_finite());
    let [bottom, top] = values.fold([0.0f64, 1.0f64], |[bottom, top], v| [bottom.min(v), top.max(v)]);
    let room = 0.03 * (top - bottom);
    Panel {
        title,
        x: Axis::linear(label).over(ends[0], ends[1]),
        y: Axis::linear("output").over(bottom - room, top + room),
        series: Series::channels(lines),
        guides: one.map(|[low, high]| Guide::Line([[low, low], [high, high]])).into_iter().collect(),
    }
}
