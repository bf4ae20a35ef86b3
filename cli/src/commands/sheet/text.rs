//! The summary of a sheet as text.

use crate::output::{COLUMNS, push_field, wrap};
use rushlight::sheet::{DisplaySheet, LookSheet, Report};
use rushlight::stress::Grade;
use std::fmt::Write as _;

/// Stops at which a look is summed up.
const STOPS: [f64; 5] = [-4.0, -2.0, 0.0, 2.0, 4.0];

pub(super) fn text(report: &Report) -> String {
    let looks = if report.looks.len() == 1 { "1 look".to_owned() } else { format!("{} looks", report.looks.len()) };
    let printed = report.pdf.as_ref().map(|pdf| format!(" and {pdf}")).unwrap_or_default();
    let mut text = String::new();
    for line in wrap(&format!("{}: look sheet of {looks} into {}{printed}", report.show, report.page), COLUMNS) {
        let _ = writeln!(text, "{line}");
    }
    for look in &report.looks {
        push_look(&mut text, look);
    }
    text
}

fn push_look(text: &mut String, look: &LookSheet) {
    let _ = writeln!(text, "\nlook {}, revision {}", look.name, look.revision);
    push_field(text, "title", &look.title);
    push_field(text, "file", &look.document.file);
    push_field(text, "sha256", &look.document.sha256);
    for (i, step) in look.steps.iter().enumerate() {
        let words = step.words.replace('\u{2212}', "-");
        push_field(text, if i == 0 { "steps" } else { "" }, &format!("{}: {words}", step.title));
    }
    for display in &look.displays {
        push_display(text, display);
    }
    let error = |cube: &rushlight::sheet::CubeSheet| cube.error.as_ref().map(|s| s.mean);
    if let Some((mean, cube)) =
        look.cubes.iter().filter_map(|c| Some((error(c)?, c))).max_by(|a, b| a.0.total_cmp(&b.0))
    {
        let cubes = if look.cubes.len() == 1 { "1 cube".to_owned() } else { format!("{} cubes", look.cubes.len()) };
        push_field(
            text,
            "cubes",
            &format!(
                "{cubes}; largest mean error {mean:.2} {}: {}",
                cube.error.as_ref().map_or("", |s| s.formula()),
                cube.file
            ),
        );
    }
    push_stress(text, look);
}

/// The properties that do not hold, picture by picture.
fn push_stress(text: &mut String, look: &LookSheet) {
    for (i, held) in look.stress.iter().enumerate() {
        let worse = held.properties.iter().filter(|p| p.grade != Grade::Holds);
        let worse: Vec<String> = worse.map(|p| format!("{} {}", p.property, p.grade.name())).collect();
        let said = if worse.is_empty() { "holds".to_owned() } else { worse.join(", ") };
        push_field(text, if i == 0 { "stress" } else { "" }, &format!("{}, {}: {said}", held.camera, held.display));
    }
}

fn push_display(text: &mut String, display: &DisplaySheet) {
    let label = if display.label.is_empty() || display.label == display.name {
        String::new()
    } else {
        format!(": {}", display.label)
    };
    let _ = writeln!(text, "\n  display {}{label}", display.name);
    let _ =
        writeln!(text, "  {:>9}{:>19}{:>10}   {:<18}{:>10}", "stops", "R G B, 10 bits", "nits", "cast", "saturation");
    for level in STOPS.iter().filter_map(|at| display.at(*at)) {
        let codes = level.code_10.map(|v| format!("{v:.0}")).join(" ");
        let cast = format!("{} {:.1}", level.cast, level.cast_chroma());
        let named = if level.stops == 0.0 { "mid-grey".to_owned() } else { format!("{:+}", level.stops) };
        let saturation = level.saturation.map_or_else(|| "-".to_owned(), |s| format!("{:.0} %", 100.0 * s));
        let _ = writeln!(text, "  {named:>9}{codes:>19}{:>10.3}   {cast:<18}{saturation:>10}", level.nits);
    }
}
