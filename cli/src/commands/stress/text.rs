//! The report for a terminal, within 80 columns.

use crate::output::{COLUMNS, short, wrap};
use rushlight::stress::{
    CaseReport, FindingReport, Grade, HueRow, LightOutcome, LightRow, NeutralRow, PROPERTIES, Report, hue_name,
};
use std::fmt::Write as _;

/// What the columns of the table of lights are.
pub(super) fn columns_of_lights(case: &CaseReport) -> String {
    let unit = case.findings.iter().find(|f| f.property == "lights" && f.figure == "shape").map_or("", |f| &f.unit);
    format!(
        "Lights, as they get brighter. Least step: the least difference that a stop makes, in {unit}. Hue turns: without \
         what the look asks for; in brackets with it."
    )
}

/// What a report ends with.
pub(super) const CAUTION: &str = "A search proves what it finds, never that there is nothing else. The lights are calculated for a sensor with the \
     sensitivities of the CIE 1931 observer, which no camera has exactly: film them with your own camera, and check the \
     cube on your own monitor.";

pub(super) fn report(report: &Report) -> String {
    let mut text = format!("{}: {}\n", report.show, report.grade.name());
    if report.cases.len() > 1 {
        text.push_str(&overview(report));
    }
    for case in &report.cases {
        text.push_str(&one(case, report.tried.as_deref()));
    }
    // The long tables of one case; of many they would hide what matters.
    match &report.cases[..] {
        [case] => text.push_str(&tables(case)),
        _ => text.push_str(
            "\nFor the hues and greys of each picture: --format html=FILE, or --look, --camera\nand --display.\n",
        ),
    }
    let _ = writeln!(text, "\n{}", wrap(CAUTION, 78).join("\n"));
    text
}

/// A line a case: the grade of every property.
fn overview(report: &Report) -> String {
    let width = report.cases.iter().map(|c| c.name().len()).max().unwrap_or(0);
    let mut text = String::from("\n");
    // Names that leave no room for the grades stand on lines of their own.
    let alone = width > 15;
    let head = |text: &mut String, name: &str| {
        if alone && !name.is_empty() {
            let _ = writeln!(text, "{name}");
        }
        let _ = write!(text, "{:<15}", if alone { "" } else { name });
    };
    let columns = |words: [&str; 7]| {
        words.iter().zip(PROPERTIES).fold(String::new(), |mut line, (word, _)| {
            let _ = write!(line, " {word:<8}");
            line
        })
    };
    head(&mut text, "");
    let _ = writeln!(text, "{}", columns(PROPERTIES.map(|p| p.0)).trim_end());
    for case in &report.cases {
        head(&mut text, &case.name());
        let _ = writeln!(text, "{}", columns(PROPERTIES.map(|p| case.grade_of(p.0).name())).trim_end());
    }
    text
}

fn one(case: &CaseReport, tried: Option<&str>) -> String {
    let CaseReport { look, revision, camera, display, points, reader, .. } = case;
    let shot = case.shot.as_ref().map(|shot| format!("shot {shot}, ")).unwrap_or_default();
    let head = format!(
        "{shot}look {look} r{revision}, camera {camera}, display {display}; cube of {points} points, {reader}: {}",
        case.grade.name()
    );
    let mut text = format!("\n{}\n\n", wrap(&head, COLUMNS).join("\n"));
    let _ =
        writeln!(text, "{:<9} {:<13} {:>8} {:>8}  {:<13} {:>6} {:>6}", "", "", "exact", "cube", "", "holds", "breaks");
    for (property, _) in PROPERTIES {
        let mut name = property;
        for finding in case.findings.iter().filter(|f| f.property == property) {
            let [holds, breaks] = limits(finding);
            let grade = if finding.limits.is_some() { finding.grade.name() } else { "" };
            let line = format!(
                "{name:<9} {:<13} {:>8} {:>8}  {:<13} {:>6} {:>6}  {grade}",
                finding.figure,
                value(finding.exact.value),
                value(finding.cube.value),
                finding.unit,
                holds,
                breaks,
            );
            let _ = writeln!(text, "{}", line.trim_end());
            name = "";
        }
    }
    for finding in case.findings.iter().filter(|f| f.grade != Grade::Holds) {
        text.push_str(&told(finding, tried));
    }
    if tried.is_some() && case.findings.iter().all(|f| f.tried.is_none()) {
        let _ = writeln!(text, "\nThe look already begins with that step, so nothing was tried.");
    }
    for paragraph in [ends(case), cube(case)] {
        let _ = writeln!(text, "\n{}", wrap(&paragraph, COLUMNS).join("\n"));
    }
    text.push_str(&lights(case));
    for line in spectrum(case).iter().flat_map(|s| wrap(s, COLUMNS)) {
        let _ = writeln!(text, "{line}");
    }
    text
}

/// Where greys and the camera's colours reach the display's ends.
pub(super) fn ends(case: &CaseReport) -> String {
    let ends = &case.ends;
    let stops = |at: Option<f64>| at.map_or("never".to_owned(), |s| format!("{s:+.1}"));
    let [r, g, b] = ends.channels.map(stops);
    let white = match ends.white {
        Some(white) => format!("White clips at {white:+.1} stops"),
        None => {
            format!(
                "White does not clip in all three channels: the camera's curve reaches its last code first, at {:+.1} stops (the \
                 figure clipping.white; the clip of a rating is not used)",
                ends.top
            )
        }
    };
    let channels = if ends.channels.iter().any(Option::is_some) {
        format!(". The channels of a grey reach the top at: red {r}, green {g}, blue {b}")
    } else {
        String::new()
    };
    let black = match ends.black {
        Some(black) => format!("Below {black:+.1} stops all is one code of black"),
        None => "Black is never one code".to_owned(),
    };
    let mut text = format!(
        "Greys: {white}{channels}. {black}. Of the camera's colours {} have a channel at the display's top and {} at its bottom",
        share(case.boundary.top),
        share(case.boundary.bottom)
    );
    let most: Vec<String> = case
        .boundary
        .hues
        .iter()
        .filter(|h| h.percent >= 0.5)
        .take(3)
        .map(|h| format!("{} ({:.0} %)", h.hue, h.percent))
        .collect();
    if !most.is_empty() {
        let _ = write!(text, ", most of all {}", most.join(", "));
    }
    text + "."
}

/// A share in per cent; a small one is not rounded to nothing.
fn share(percent: f64) -> String {
    if percent > 0.0 && percent < 1.0 { format!("{percent:.2} %") } else { format!("{percent:.0} %") }
}

/// What the cube adds to the figures that have limits.
pub(super) fn cube(case: &CaseReport) -> String {
    // A twentieth of the limit at which a figure breaks.
    let tells = |f: &&FindingReport| {
        let worse = if f.more_is_worse { f.cube_adds } else { -f.cube_adds };
        f.limits.is_some_and(|l| worse > 0.05 * l.breaks)
    };
    let added: Vec<String> = case
        .findings
        .iter()
        .filter(tells)
        .map(|f| format!("{}.{} {} ({})", f.property, f.figure, signed(f.cube_adds), f.unit))
        .collect();
    let points = case.points;
    if added.is_empty() {
        return format!(
            "The cube of {points} points makes no figure worse by more than a twentieth of its limit for `breaks`."
        );
    }
    format!(
        "The cube of {points} points makes these figures worse: {}. It makes no other one worse by more than a twentieth of its \
         limit for `breaks`.",
        added.join(", ")
    )
}

/// Which lines and bands along the spectrum lie outside the display, and which lose their shape.
pub(super) fn spectrum(case: &CaseReport) -> Vec<String> {
    [(0.0, "Lights of one wavelength"), (40.0, "Bands of 40 nm, by their middles,")]
        .into_iter()
        .map(|(width, name)| {
            let at = |holds: fn(&LightOutcome) -> bool| {
                let rows = case.spectrum.iter().filter(|row| row.width == width);
                ranges(rows.map(|row| (row.nm, holds(&row.kept))))
            };
            format!(
                "{name} outside the display's gamut: {}; flat at some stop: {}.",
                at(|kept| kept.outside.is_some()),
                at(|kept| kept.flat.is_some())
            )
        })
        .collect()
}

/// Runs of wavelengths of which something is true: `380 to 480 and 600 to 780 nm`.
fn ranges(rows: impl Iterator<Item = (f64, bool)>) -> String {
    let mut runs: Vec<[f64; 2]> = Vec::new();
    let mut open = false;
    for (nm, holds) in rows {
        match runs.last_mut() {
            Some(run) if holds && open => run[1] = nm,
            _ if holds => runs.push([nm, nm]),
            _ => {}
        }
        open = holds;
    }
    let runs: Vec<String> =
        runs.iter().map(|[a, b]| if a == b { format!("{a:.0}") } else { format!("{a:.0} to {b:.0}") }).collect();
    match runs.split_last() {
        None => "none".to_owned(),
        Some((last, [])) => format!("{last} nm"),
        Some((last, before)) => format!("{} and {last} nm", before.join(", ")),
    }
}

/// Hues and greys.
fn tables(case: &CaseReport) -> String {
    let mut text = String::from(
        "\nsaturated lights: how far the hue turns on the display (with what the look asks\nfor), and where a channel clips\n",
    );
    let cell = |row: &HueRow| {
        let span = turns(row.span, row.total, " deg");
        let clips = row.clips.map_or("never".to_owned(), |s| format!("{s:+.1}"));
        format!("{:>4.0} {:<9} {span:>12} {clips:>6}", row.hue, hue_name(row.hue))
    };
    let (left, right) = case.hues.split_at(case.hues.len().div_ceil(2));
    for (i, row) in left.iter().enumerate() {
        let other = right.get(i).map(&cell).unwrap_or_default();
        let _ = writeln!(text, "{}", format!("{}    {other}", cell(row)).trim_end());
    }
    let axes = if case.findings.iter().any(|f| f.unit == "CIELAB") { ["a*", "b*"] } else { ["T", "P"] };
    let _ = writeln!(
        text,
        "\ngreys: the cast, the part of it that no step asks for, and the cast on the cube\n{:>6} {1:>9} {2:>7} {1:>11} {2:>7} \
         {1:>11} {2:>7}",
        "stops", axes[0], axes[1]
    );
    for NeutralRow { stops, cast, unasked, cube } in &case.neutral {
        let pair = |[a, b]: [f64; 2]| format!("{a:>+9.2} {b:>+7.2}");
        let _ = writeln!(text, "{stops:>+6.0} {}   {}   {}", pair(*cast), pair(*unasked), pair(*cube));
    }
    text
}

/// A finding that does not hold.
fn told(finding: &FindingReport, tried: Option<&str>) -> String {
    let FindingReport { property, figure, title, unit, .. } = finding;
    let head = format!("{} {property}.{figure}: {title}", finding.grade.name());
    let mut text = format!("\n{}\n", wrap(&head, COLUMNS).join("\n"));
    let mut said = Vec::new();
    let (exact, cube) = (value(finding.exact.value), value(finding.cube.value));
    let numbers = format!("{exact} {unit}{}, {cube} on the cube{}", beyond(finding), with_asked(finding));
    said.push(match finding.place() {
        Some(place) => format!("{numbers}; {place}"),
        None => numbers,
    });
    if let Some(at) = &finding.worse().at {
        let [r, g, b] = at.signal;
        let from = if finding.worse().to.is_some() { " where that begins" } else { "" };
        said.push(format!("signal{from} {r:.4} {g:.4} {b:.4}"));
    }
    if let (Some(step), Some(with)) = (tried, finding.tried) {
        said.push(format!(
            "with {step}: {} {unit}, {} on the cube: {}",
            value(with.exact),
            value(with.cube),
            with.grade.name()
        ));
    }
    said.push(format!("effect: {}", finding.means));
    if let Some(hint) = &finding.hint {
        said.push(format!("remedy: {hint}"));
    }
    for line in said.iter().flat_map(|s| wrap(s, 76)) {
        let _ = writeln!(text, "  {line}");
    }
    text
}

fn lights(case: &CaseReport) -> String {
    let mut text = format!(
        "\n{}\n\n{:<16} {:>14} {:>10} {:>12} {:>12}\n",
        wrap(&columns_of_lights(case), COLUMNS).join("\n"),
        "light",
        "out of gamut",
        "flat from",
        "least step",
        "hue turns"
    );
    for LightRow { name, kept, .. } in &case.lights {
        let span = turns(kept.span, kept.total, " deg");
        let _ = writeln!(text, "{name:<16} {:>14} {:>10} {:>12.2} {span:>12}", outside(kept), flat(kept), kept.least);
    }
    text.push('\n');
    text
}

/// How far a hue turns, and in brackets how far with what the look asks for, where that is another number.
pub(super) fn turns(span: Option<f64>, total: Option<f64>, unit: &str) -> String {
    let whole = |v: f64| format!("{v:.0}");
    match (span.map(whole), total.map(whole)) {
        (None, _) => "no hue".to_owned(),
        (Some(span), Some(total)) if total != span => format!("{span} ({total}){unit}"),
        (Some(span), _) => format!("{span}{unit}"),
    }
}

/// The same with what the look asks for, of a finding that has that.
pub(super) fn with_asked(finding: &FindingReport) -> String {
    finding.worse().total.map_or(String::new(), |total| format!("; {} with what the look asks for", value(total)))
}

/// Of what a figure is, of a finding that is counted without what the look asks for.
pub(super) fn beyond(finding: &FindingReport) -> &'static str {
    if finding.worse().total.is_some() { " without what the look asks for" } else { "" }
}

/// From where a light lies outside the display's gamut, in words.
pub(super) fn outside(kept: &LightOutcome) -> String {
    match kept.outside {
        None => "never".to_owned(),
        Some(stops) if stops <= rushlight::stress::SWEEP.0 => "always".to_owned(),
        Some(stops) => format!("from {stops:+.1}"),
    }
}

/// From where a light has no shape left, in words.
pub(super) fn flat(kept: &LightOutcome) -> String {
    kept.flat.map_or("never".to_owned(), |stops| format!("{stops:+.1}"))
}

/// A figure's value: three digits that say something.
pub(super) fn value(v: f64) -> String {
    let digits = match v.abs() {
        a if a >= 100.0 => 0,
        a if a >= 10.0 => 1,
        a if a >= 1.0 || a == 0.0 => 2,
        _ => 3,
    };
    format!("{v:.digits$}")
}

/// What is added to a figure, with its sign.
pub(super) fn signed(v: f64) -> String {
    let text = value(v);
    if v < 0.0 { text } else { format!("+{text}") }
}

/// What a figure's limits are, as short as they are; nothing where it has none.
pub(super) fn limits(finding: &FindingReport) -> [String; 2] {
    finding.limits.map_or_else(Default::default, |l| [l.holds, l.breaks].map(short))
}
