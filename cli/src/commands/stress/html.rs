//! The report as one page that needs nothing but itself: for each look and display the strips of lights with verdicts, then
//! what to do, then the figures, folded. Cameras whose strips look the same share them.

use super::charts::charts;
use super::lights::{figures_of_lights, spectra, strips};
use super::text::{CAUTION, beyond, cube, ends, limits, signed, value, with_asked};
use crate::failure::Failure;
use crate::page::{Page, chart};
use crate::picture::Screen;
use maud::{Markup, html};
use rushlight::difference::Difference;
use rushlight::show::Show;
use rushlight::slate;
use rushlight::stress::{CaseReport, FindingReport, Grade, PROPERTIES, Report, SWEEP};

const STYLE: &str = include_str!("stress.css");

/// One look (with a shot's correction, where there is one) on one display, from all its cameras.
pub(super) struct Group<'r> {
    pub(super) cases: Vec<&'r CaseReport>,
}

impl<'r> Group<'r> {
    /// The cases of a report by look and display, in the order of their first camera.
    fn all(report: &'r Report) -> Vec<Self> {
        let key = |case: &CaseReport| (case.shot.clone(), case.look.clone(), case.display.clone());
        let mut groups: Vec<Self> = Vec::new();
        for case in &report.cases {
            match groups.iter_mut().find(|g| g.cases.first().is_some_and(|first| key(first) == key(case))) {
                Some(group) => group.cases.push(case),
                None => groups.push(Self { cases: vec![case] }),
            }
        }
        groups
    }

    fn grade(&self) -> Grade {
        self.cases.iter().map(|case| case.grade).max().unwrap_or(Grade::Holds)
    }

    fn cameras(&self) -> String {
        let names: Vec<&str> = self.cases.iter().map(|case| case.camera.as_str()).collect();
        and(&names)
    }

    /// Each figure that does not hold, with the cases in which it does not, in the order of the report.
    fn faults(&self) -> Vec<Vec<(&'r CaseReport, &'r FindingReport)>> {
        let mut faults: Vec<Vec<(&CaseReport, &FindingReport)>> = Vec::new();
        for (property, _) in PROPERTIES {
            for case in &self.cases {
                for finding in &case.findings {
                    if finding.property != property || finding.grade == Grade::Holds {
                        continue;
                    }
                    let same = |fault: &&mut Vec<(&CaseReport, &FindingReport)>| {
                        fault.first().is_some_and(|(_, f)| f.property == finding.property && f.figure == finding.figure)
                    };
                    match faults.iter_mut().find(same) {
                        Some(fault) => fault.push((case, finding)),
                        None => faults.push(vec![(case, finding)]),
                    }
                }
            }
        }
        faults
    }
}

/// Names in a sentence: `a`, `a and b`, `a, b and c`.
pub(super) fn and(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

pub(crate) fn page(report: &Report, show: &Show) -> Result<String, Failure> {
    let title = format!("{}, stress test", report.show);
    let groups = Group::all(report);
    let sections = groups.iter().enumerate().map(|(i, group)| section(i, group, report.tried.as_deref(), show));
    let sections = sections.collect::<Result<Vec<_>, _>>()?;
    let (from, to, _) = SWEEP;
    let body = html! {
        h1 { (title) " " (chip(report.grade)) }
        p {
            "Each strip is one light as it gets brighter, from " (format!("{from:+}")) " to " (format!("{to:+}")) " stops from \
             mid-grey, or as far as the camera's signal goes, in quarter stops. The display's peak is the white of this page."
            @if let Some(step) = &report.tried { " Below each, with " (step) "." }
        }
        @if report.cases.len() > 1 { (overview(&groups)) }
        @for section in sections { (section) }
        h2 { "How far to trust this" }
        p { (CAUTION) }
        p {
            "Tested are the exact path of each look, and the cube of it that will be on the monitor. Every figure but a share is \
             the worst that the search found, not a sample. Exposure is in stops from mid-grey, by the brightest camera channel."
        }
    };
    let slate = slate::of_looks(show, report.cases.iter().map(|case| case.look.as_str()));
    Ok(Page { title: &title, style: STYLE, font: true, slate: &slate, body }.html())
}

/// A case by its names, a shot in front of its look.
fn named(case: &CaseReport) -> String {
    case.shot.as_ref().map(|shot| format!("{shot}, ")).unwrap_or_default() + &case.look
}

fn chip(grade: Grade) -> Markup {
    html! { span.grade.(grade.name()) { (grade.name()) } }
}

fn overview(groups: &[Group<'_>]) -> Markup {
    html! {
        div.scroll {
            table {
                tr {
                    th { "look, camera, display" }
                    @for (property, asks) in PROPERTIES { th title=(asks) { (property) } }
                }
                @for (i, group) in groups.iter().enumerate() {
                    @for case in &group.cases {
                        tr {
                            td { a href={ "#case" (i) } { (named(case)) ", " (case.camera) ", " (case.display) } }
                            @for (property, _) in PROPERTIES { td { (chip(case.grade_of(property))) } }
                        }
                    }
                }
            }
        }
    }
}

fn section(i: usize, group: &Group<'_>, tried: Option<&str>, show: &Show) -> Result<Markup, Failure> {
    let Some(first) = group.cases.first() else { return Ok(Markup::default()) };
    let display = &show.displays()[&first.display].item;
    let screen = Screen::of_peak(display);
    let cubes = |case: &CaseReport| format!("{} points, {} interpolation", case.points, case.reader);
    let several = group.cases.len() > 1;
    let sentences = shared(&group.cases, in_short);
    Ok(html! {
        h2 id={ "case" (i) } {
            (named(first)) " r" (first.revision) ", " (group.cameras()) " to " (first.display) " " (chip(group.grade()))
        }
        // First what a cinematographer looks at, then what to do, then the figures, folded.
        @for (cameras, words) in &sentences {
            p.short {
                b { @if sentences.len() > 1 { (cameras) ": " } (words) }
                " " span.note {
                    @for (cameras, words) in &shared(&group.cases, cubes) {
                        "Cube" @if sentences.len() > 1 || several { " of " (cameras) } ": " (words) ". "
                    }
                    @if let Some(step) = tried { "Tried: " (step) "." }
                }
            }
        }
        (strips(group, &Difference::on(display), &screen)?)
        @for fault in group.faults() { (remedy(&fault, several)) }
        @for case in &group.cases {
            details {
                summary { "Every figure" @if several { " of camera " (case.camera) } }
                (figures(case, tried.is_some()))
                p { (ends(case)) }
                p { (cube(case)) }
                (figures_of_lights(case))
            }
        }
        @for case in &group.cases {
            details {
                summary { "Every wavelength, hues and greys" @if several { " of camera " (case.camera) } }
                (spectra(case, &screen)?)
                (chart(&charts(case)))
            }
        }
    })
}

/// The words for each case, once where they are the same, with the cameras that they are of.
fn shared(cases: &[&CaseReport], words: impl Fn(&CaseReport) -> String) -> Vec<(String, String)> {
    let mut found: Vec<(Vec<&str>, String)> = Vec::new();
    for case in cases {
        let words = words(case);
        match found.iter_mut().find(|(_, said)| *said == words) {
            Some((cameras, _)) => cameras.push(&case.camera),
            None => found.push((vec![&case.camera], words)),
        }
    }
    found.into_iter().map(|(cameras, words)| (and(&cameras), words)).collect()
}

/// What was found, in one plain sentence.
fn in_short(case: &CaseReport) -> String {
    let count = |grade: Grade| case.findings.iter().filter(|f| f.grade == grade).count();
    let worst = case.findings.iter().find(|f| f.grade == case.grade).map(|f| f.title.as_str()).unwrap_or_default();
    match (count(Grade::Breaks), count(Grade::Marginal)) {
        (0, 0) => "Everything that was searched holds.".to_owned(),
        (0, 1) => format!("Nothing breaks; one figure is marginal: {worst}."),
        (0, n) => format!("Nothing breaks; {n} figures are marginal, first of all: {worst}."),
        (1, 0) => format!("One figure breaks: {worst}."),
        (b, m) => {
            format!("{} and {m} {} marginal, first of all: {worst}.", breaks(b), if m == 1 { "is" } else { "are" })
        }
    }
}

fn breaks(n: usize) -> String {
    if n == 1 { "One figure breaks".to_owned() } else { format!("{n} figures break") }
}

/// A figure on the exact path and on the cube; the one that the verdict is of stands first.
fn measured(finding: &FindingReport) -> Markup {
    let (exact, cube) = (value(finding.exact.value), value(finding.cube.value));
    // The cube decides where the exact path lies on the better side of the limit.
    let of_cube = finding.limits.is_some_and(|limits| match finding.more_is_worse {
        true => finding.exact.value <= limits.holds && finding.cube.value > limits.holds,
        false => finding.exact.value >= limits.holds && finding.cube.value < limits.holds,
    });
    html! {
        @if of_cube {
            b { (cube) " " (finding.unit) (beyond(finding)) " on the cube" } " (" (exact) " on the exact path)"
        } @else {
            b { (exact) " " (finding.unit) (beyond(finding)) } " (" (cube) " on the cube)"
        }
    }
}

/// A text whose words between backticks are settings.
fn with_code(text: &str) -> Markup {
    html! {
        @for (i, part) in text.split('`').enumerate() {
            @if i % 2 == 1 { code { (part) } } @else { (part) }
        }
    }
}

/// What does not hold, where, what it does to a picture, and what changes it: one figure, from the cameras that have it.
fn remedy(fault: &[(&CaseReport, &FindingReport)], several: bool) -> Markup {
    let Some((_, first)) = fault.first() else { return Markup::default() };
    let grade = fault.iter().map(|(_, finding)| finding.grade).max().unwrap_or(Grade::Holds);
    let mut hints: Vec<&str> = fault.iter().filter_map(|(_, finding)| finding.hint.as_deref()).collect();
    hints.dedup();
    html! {
        div.finding.{ "is-" (grade.name()) } {
            p { (chip(grade)) " " b { (first.property) "." (first.figure) } ", " (first.title) }
            @for (case, finding) in fault {
                @let [r, g, b] = finding.worse().at.as_ref().map(|at| at.signal).unwrap_or_default();
                p {
                    @if several { "Camera " (case.camera) ": " }
                    (measured(finding)) (with_asked(finding)) "."
                    @if let Some(place) = finding.place() {
                        br; "At " (place) "; signal " (format!("{r:.4} {g:.4} {b:.4}")) "."
                    }
                }
            }
            p { "You would see: " (first.means) "." }
            @for hint in hints { p { "What to do: " (with_code(hint)) "." } }
        }
    }
}

fn figures(case: &CaseReport, tried: bool) -> Markup {
    html! {
        div.scroll {
            table {
                tr {
                    th { "figure" }
                    th { "what it is" }
                    @for name in ["exact", "cube", "cube adds"] { th.n { (name) } }
                    th { "unit" }
                    @for name in ["holds", "breaks"] { th.n { (name) } }
                    th {}
                    @if tried { th.n { "tried" } }
                }
                @for f in &case.findings {
                    tr {
                        td { (f.property) "." (f.figure) }
                        td { (f.title) }
                        @for number in [value(f.exact.value), value(f.cube.value), signed(f.cube_adds)] { td.n { (number) } }
                        td { (f.unit) }
                        @for limit in limits(f) { td.n { (limit) } }
                        td { @if f.limits.is_some() { (chip(f.grade)) } @else { "no limit" } }
                        @if tried {
                            td.n {
                                @if let Some(t) = &f.tried {
                                    (value(t.exact)) " (" (value(t.cube)) " on the cube) " (chip(t.grade))
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}
