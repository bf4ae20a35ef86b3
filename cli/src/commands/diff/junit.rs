//! The report as JUnit XML, so that any CI shows it: a suite for each pair of files, a case for each limit of each picture;
//! without limits, a case for each picture and document.

use super::text::{headline, only_one, state};
use crate::drawing::escape;
use rushlight::compare::report::{Item, Picture, Report, State};
use std::fmt::Write as _;

/// One case: its class, its name, and why it fails.
struct Case {
    class: String,
    name: String,
    failure: Option<String>,
}

pub(super) fn junit(report: &Report) -> String {
    let suites: Vec<(String, Vec<Case>)> = report.items.iter().map(|item| (item.name.clone(), cases(item))).collect();
    let failures = |cases: &[Case]| cases.iter().filter(|c| c.failure.is_some()).count();
    let (tests, failed) =
        suites.iter().fold((0, 0), |(tests, failed), (_, cases)| (tests + cases.len(), failed + failures(cases)));
    let mut text = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    let _ = writeln!(text, "<testsuites name=\"rushlight diff\" tests=\"{tests}\" failures=\"{failed}\">");
    for (name, cases) in &suites {
        let (name, tests, failed) = (escape(name), cases.len(), failures(cases));
        let _ = writeln!(text, "  <testsuite name=\"{name}\" tests=\"{tests}\" failures=\"{failed}\">");
        for Case { class, name, failure } in cases {
            let (class, name) = (escape(class), escape(name));
            match failure {
                None => {
                    let _ = writeln!(text, "    <testcase classname=\"{class}\" name=\"{name}\"/>");
                }
                Some(why) => {
                    let why = escape(why);
                    let _ = writeln!(
                        text,
                        "    <testcase classname=\"{class}\" name=\"{name}\"><failure message=\"{why}\"/></testcase>"
                    );
                }
            }
        }
        text.push_str("  </testsuite>\n");
    }
    text.push_str("</testsuites>\n");
    text
}

fn cases(item: &Item) -> Vec<Case> {
    let class = |part: &str| format!("{}: {part}", item.name);
    let mut cases: Vec<Case> = item.pictures.iter().flat_map(|p| of_picture(item, p, &class(&p.title()))).collect();
    if item.limits.is_empty() {
        cases.extend(item.documents.iter().map(|d| {
            Case {
                class: class(&d.name),
                name: "document".to_owned(),
                failure: (!d.changes.is_empty())
                    .then(|| d.changes.iter().map(|c| c.words.as_str()).collect::<Vec<_>>().join("; ")),
            }
        }));
    }
    // What fails the build is always among the cases.
    let said = item.passes() || cases.iter().any(|case| case.failure.is_some());
    if cases.is_empty() || !said {
        let failure = (!said).then(|| match item.state {
            State::Added | State::Removed => only_one(item),
            _ if item.holds() => state(item.state).to_owned(),
            _ => "no picture of it was compared, so no limit is known to hold".to_owned(),
        });
        cases.push(Case { class: item.name.clone(), name: "file".to_owned(), failure });
    }
    cases
}

fn of_picture(item: &Item, picture: &Picture, class: &str) -> Vec<Case> {
    let case = |name: &str, failure| Case { class: class.to_owned(), name: name.to_owned(), failure };
    if picture.state == State::Incomparable {
        return vec![case("picture", Some(picture.note.clone().unwrap_or_else(|| state(picture.state).to_owned())))];
    }
    if item.limits.is_empty() {
        let differs = (picture.state != State::Identical).then(|| {
            match picture.comparison.as_ref().and_then(|c| Some((c.formula, headline(c)?))) {
                Some((formula, g)) => format!("{formula} mean {:.3}, max {:.3}", g.mean, g.max),
                None => state(picture.state).to_owned(),
            }
        });
        return vec![case("picture", differs)];
    }
    if picture.checks.is_empty() {
        return vec![case("picture", None)];
    }
    let checks = picture.checks.iter().map(|c| {
        let said = c.value.map_or_else(|| "could not be measured".to_owned(), |v| format!("{v:.4}"));
        let failure = (!c.holds).then(|| format!("{} {} is {said}, limit {}", c.group.name(), c.figure, c.most));
        case(&format!("{}.{} at most {}", c.group.name(), c.figure, c.most), failure)
    });
    checks.collect()
}
