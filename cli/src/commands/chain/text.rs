//! The report of `chain check` for a terminal, and as a table.

use crate::failure::Failure;
use crate::output::{COLUMNS, push_field, wrap};
use rushlight::chain::report::{Capture, FaultRecord, Figures, Report, Verdict};
use std::fmt::Write as _;

/// A verdict in a word.
pub(super) const fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Right => "as it should be",
        Verdict::Wrong => "wrong",
        Verdict::Unknown => "could not tell",
    }
}

/// Faults in one line.
pub(super) fn list(faults: &[FaultRecord]) -> String {
    if faults.is_empty() {
        return "the right chain".to_owned();
    }
    faults.iter().map(|f| f.what.as_str()).collect::<Vec<_>>().join("; and ")
}

/// Whether faults explain the colours of a capture.
pub(super) fn is_explained(capture: &Capture) -> bool {
    capture.faults.iter().any(|f| !f.key.starts_with("picture-"))
}

/// What the columns of the matrix are.
pub(super) const HEAD: [&str; 5] = ["capture", "verdict", "before the cube", "cube", "after the cube"];

/// The matrix of boxes and verdicts: a row for each capture, with what is wrong on each side of the cube and at it.
pub(super) fn matrix(report: &Report) -> impl Iterator<Item = [String; 5]> + '_ {
    report.captures.iter().map(|capture| {
        let place = |key: &str| match () {
            () if key.starts_with("input-") => 0,
            () if key.starts_with("output-") || key.starts_with("picture-") => 2,
            () => 1,
        };
        let mut cells: [Vec<&str>; 3] = Default::default();
        for key in capture.faults.iter().map(|f| f.key.as_str()) {
            cells[place(key)].push(key.strip_prefix("input-").or(key.strip_prefix("output-")).unwrap_or(key));
        }
        // Where something is wrong that was not explained, no side is known to be right.
        let is_known = capture.verdict == Verdict::Right || !capture.faults.is_empty();
        let [before, cube, after] = cells.map(|keys| match keys[..] {
            [] if is_known => "right".to_owned(),
            [] => "?".to_owned(),
            _ => keys.join(" + "),
        });
        [capture.label.clone(), word(capture.verdict).to_owned(), before, cube, after]
    })
}

pub(super) fn text(report: &Report, formula: &str) -> String {
    let mut text = format!("Chain: {}, {} points\n", report.expected, report.points);
    if report.captures.len() > 1 {
        let rows: Vec<[String; 5]> = std::iter::once(HEAD.map(str::to_owned)).chain(matrix(report)).collect();
        let widths: [usize; 5] =
            std::array::from_fn(|i| rows.iter().map(|row| row[i].chars().count()).max().unwrap_or(0));
        text.push('\n');
        for row in &rows {
            let cells: Vec<String> = row.iter().zip(widths).map(|(cell, width)| format!("{cell:width$}")).collect();
            let _ = writeln!(text, "  {}", cells.join("  ").trim_end());
        }
    }
    report.captures.iter().for_each(|capture| push_capture(&mut text, capture, formula));
    text
}

fn push_capture(text: &mut String, capture: &Capture, formula: &str) {
    let _ = writeln!(text, "\n{}: {}", capture.label, word(capture.verdict));
    wrap(&capture.summary, COLUMNS - 2).iter().for_each(|line| {
        let _ = writeln!(text, "  {line}");
    });
    for help in &capture.help {
        push_field(text, "do", help);
    }
    for note in &capture.notes {
        push_field(text, "note", note);
    }
    if let Some(chart) = &capture.chart {
        let name = chart.name.as_deref().unwrap_or("(the bar code could not be read)");
        let agree = match chart.agree {
            Some(true) => "both readings agree",
            Some(false) => "the two readings differ",
            None => "one reading",
        };
        push_field(text, "chart", &format!("{name}, number {}; {agree}", chart.number));
    }
    if let Some(found) = &capture.found {
        let [w, h] = found.chart;
        // A corner that lies at zero by little has no sign.
        let [x, y] = found.corner.map(|v| v.round() + 0.0);
        let size = format!("{w:.0} x {h:.0} of {} x {} pixels, from {x:.0}, {y:.0}", found.size[0], found.size[1]);
        let mut said = format!("{size}; sharpness {:.2}", found.sharpness);
        if let Some(chroma) = &capture.chroma {
            said += &format!("; colour {chroma}");
        }
        if let Some(bits) = capture.signal_bits {
            let dither =
                if capture.dithered == Some(true) { ", dithered or noisy before they were rounded" } else { "" };
            said += &format!("; codes of {bits} bits{dither}");
        }
        push_field(text, "found", &said);
    }
    let figures = |f: &Figures| {
        let [column, row] = f.worst;
        format!("{formula} {:.2} mean, {:.2} at 99 %, {:.2} at most (column {column}, row {row})", f.mean, f.p99, f.max)
    };
    if let Some(off) = &capture.off {
        push_field(text, "off", &format!("from the right picture: {}", figures(off)));
    }
    if let Some(left) = capture.unexplained.as_ref().filter(|_| is_explained(capture)) {
        push_field(text, "left", &format!("after the explanation: {}", figures(left)));
    }
    if let Some(second) = &capture.second {
        let said =
            format!("the second-best explanation fits {:.1} times worse: {}", second.times, list(&second.faults));
        push_field(text, "next", &said);
    }
}

/// Columns of the table: the capture, its verdict and what is wrong on each side of the cube, figures, words, and what the
/// cube is of.
const TABLE: [&str; 20] = [
    "capture",
    "file",
    "verdict",
    "before the cube",
    "at the cube",
    "after the cube",
    "faults",
    "difference",
    "mean",
    "p99",
    "max",
    "summary",
    "what to do",
    "cube",
    "points",
    "show",
    "look",
    "revision",
    "camera",
    "display",
];

/// A row for each capture.
pub(super) fn csv(report: &Report) -> Result<String, Failure> {
    let fail = |e: &dyn std::fmt::Display| Failure::new(format!("cannot write the table: {e}"));
    let mut table = csv::Writer::from_writer(Vec::new());
    table.write_record(TABLE).map_err(|e| fail(&e))?;
    let origin = &report.origin;
    let of = [&origin.show, &origin.look, &origin.revision, &origin.camera, &origin.display];
    for (capture, [label, verdict, before, cube, after]) in report.captures.iter().zip(matrix(report)) {
        let keys: Vec<&str> = capture.faults.iter().map(|f| f.key.as_str()).collect();
        let number = |of: fn(&Figures) -> f64| capture.off.as_ref().map_or(String::new(), |f| format!("{:.3}", of(f)));
        let row = [
            label,
            capture.file.clone(),
            verdict,
            before,
            cube,
            after,
            keys.join(" "),
            report.difference.clone(),
            number(|f| f.mean),
            number(|f| f.p99),
            number(|f| f.max),
            capture.summary.clone(),
            capture.help.join(" "),
            report.expected.clone(),
            report.points.to_string(),
        ];
        let of = of.map(|said| said.clone().unwrap_or_default());
        table.write_record(row.into_iter().chain(of)).map_err(|e| fail(&e))?;
    }
    let bytes = table.into_inner().map_err(|e| fail(&e))?;
    String::from_utf8(bytes).map_err(|e| fail(&e))
}
