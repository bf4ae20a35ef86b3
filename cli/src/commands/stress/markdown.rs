//! The report as Markdown, for a note or a review.

use super::text::{
    CAUTION, beyond, columns_of_lights, cube, ends, flat, limits, outside, signed, spectrum, turns, value, with_asked,
};
use crate::markdown::plain;
use rushlight::stress::{CaseReport, Grade, PROPERTIES, Report};
use std::fmt::Write as _;

pub(super) fn report(report: &Report) -> String {
    let mut text = format!("# {}, stress test: {}\n", plain(&report.show), report.grade.name());
    if report.cases.len() > 1 {
        let _ = write!(text, "\n| look | camera | display |");
        for (property, _) in PROPERTIES {
            let _ = write!(text, " {property} |");
        }
        let _ = writeln!(text, "\n|{}", " --- |".repeat(3 + PROPERTIES.len()));
        for case in &report.cases {
            let _ = write!(text, "| {}{} | {} | {} |", shot(case), case.look, case.camera, case.display);
            for (property, _) in PROPERTIES {
                let _ = write!(text, " {} |", emphasised(case.grade_of(property)));
            }
            text.push('\n');
        }
    }
    for case in &report.cases {
        text.push_str(&one(case, report.tried.as_deref()));
    }
    let _ = writeln!(text, "\n{CAUTION}");
    text
}

/// A shot in front of its look.
fn shot(case: &CaseReport) -> String {
    case.shot.as_ref().map(|shot| format!("{}, ", plain(shot))).unwrap_or_default()
}

fn one(case: &CaseReport, tried: Option<&str>) -> String {
    let CaseReport { look, revision, camera, display, points, reader, .. } = case;
    let mut text = format!("\n## {}{look} r{revision}, {camera} to {display}: {}\n", shot(case), case.grade.name());
    let _ = writeln!(text, "\nCube of {points} points, {reader} interpolation.\n");
    let [head, line] = if tried.is_some() { [" tried |", " ---: |"] } else { ["", ""] };
    let _ = writeln!(text, "| figure | exact | cube | cube adds | unit | holds | breaks | verdict | where |{head}");
    let _ = writeln!(text, "| --- | ---: | ---: | ---: | --- | ---: | ---: | --- | --- |{line}");
    for f in &case.findings {
        let [holds, breaks] = limits(f);
        let grade = if f.limits.is_some() { emphasised(f.grade) } else { "no limit".to_owned() };
        let _ = write!(
            text,
            "| {}.{} | {} | {} | {} | {} | {} | {} | {grade} | {} |",
            f.property,
            f.figure,
            value(f.exact.value),
            value(f.cube.value),
            signed(f.cube_adds),
            plain(&f.unit),
            holds,
            breaks,
            plain(&f.place().unwrap_or_default())
        );
        let with = f.tried.map_or(String::new(), |with| format!("{} ({})", value(with.exact), with.grade.name()));
        let _ = writeln!(text, "{}", if tried.is_some() { format!(" {with} |") } else { String::new() });
    }
    if let Some(step) = tried {
        let _ = writeln!(text, "\nTried: {}.", plain(step));
    }
    for f in case.findings.iter().filter(|f| f.grade != Grade::Holds) {
        let asked = with_asked(f);
        let (exact, cube) = (value(f.exact.value), value(f.cube.value));
        let figures = format!("{exact} {}{}, {cube} on the cube{asked}", plain(&f.unit), beyond(f));
        let _ =
            writeln!(text, "\n- **{}.{}** {}, {figures}: {}.", f.property, f.figure, f.grade.name(), plain(&f.means));
        if let Some(hint) = &f.hint {
            let _ = writeln!(text, "  What to do: {}.", plain(hint).replace("\\`", "`"));
        }
    }
    let _ = writeln!(text, "\n{}\n\n{}", plain(&ends(case)), plain(&cube(case)));
    let _ = writeln!(text, "\n{}", plain(&columns_of_lights(case)));
    let _ = writeln!(text, "\n| light | spectrum | out of gamut | flat from | least step | hue turns |");
    let _ = writeln!(text, "| --- | --- | --- | ---: | ---: | ---: |");
    for light in &case.lights {
        let _ = writeln!(
            text,
            "| {} | {} | {} | {} | {:.2} | {} |",
            light.name,
            light.spectrum,
            outside(&light.kept),
            flat(&light.kept),
            light.kept.least,
            turns(light.kept.span, light.kept.total, "°")
        );
    }
    let _ = writeln!(text, "\n{}", spectrum(case).join("\n"));
    let _ = writeln!(text, "\n| stops | cast | of it unasked | cube |\n| ---: | ---: | ---: | ---: |");
    let pair = |[a, b]: [f64; 2]| format!("{a:+.2}, {b:+.2}");
    for row in &case.neutral {
        let _ =
            writeln!(text, "| {:+.0} | {} | {} | {} |", row.stops, pair(row.cast), pair(row.unasked), pair(row.cube));
    }
    text
}

fn emphasised(grade: Grade) -> String {
    match grade {
        Grade::Holds => grade.name().to_owned(),
        Grade::Marginal => format!("*{}*", grade.name()),
        Grade::Breaks => format!("**{}**", grade.name()),
    }
}
