//! The report as Markdown for a comment under a change.

use super::text::{SEEN, broken, by_unit, formula, grey, headline, place, state, stops_of, words};
use crate::markdown::{code, plain};
use rushlight::compare::report::{Item, Picture, Report, State, Verdict};
use std::fmt::Write as _;

/// Pictures whose groups are listed; the others have their line in the summary.
const DETAILED: usize = 6;

pub(super) fn markdown(report: &Report) -> String {
    let bold = if report.verdict == Verdict::Beyond { "**" } else { "" };
    let verdict = format!("{bold}{}{bold}", report.verdict);
    let mut text = format!("### Look diff: {verdict}\n\n{} to {}\n", code(&report.old), code(&report.new));
    for item in &report.items {
        push_item(&mut text, item);
    }
    text
}

fn push_item(text: &mut String, item: &Item) {
    let _ = writeln!(text, "\n#### {}: {}", code(&item.name), state(item.state));
    for note in &item.notes {
        let _ = writeln!(text, "\n*{}*", plain(note));
    }
    for document in item.documents.iter().filter(|d| !d.changes.is_empty()) {
        let _ = writeln!(text, "\n{}\n", plain(&document.name));
        for change in &document.changes {
            let _ = writeln!(text, "- {}", plain(&change.words));
        }
    }
    let changed: Vec<&Picture> = item.pictures.iter().filter(|p| p.state != State::Identical).collect();
    if !changed.is_empty() {
        let mut unit = None;
        for picture in by_unit(&changed) {
            // A table for each unit.
            if unit != Some(formula(picture)) {
                unit = Some(formula(picture));
                let head = formula(picture).unwrap_or("not compared");
                let _ =
                    writeln!(text, "\n| {head} | mean | 95 % | max | mid-grey |\n| --- | ---: | ---: | ---: | --- |");
            }
            let title = plain(&picture.title());
            match picture.comparison.as_ref().and_then(|c| Some((c, headline(c)?))) {
                Some((found, g)) => {
                    let stops = found.grey.as_ref().and_then(|g| g.stops);
                    let stops = stops.map(stops_of).unwrap_or_default();
                    let _ = writeln!(text, "| {title} | {:.2} | {:.2} | {:.2} | {stops} |", g.mean, g.p95, g.max);
                }
                None => {
                    let note = picture.note.as_deref().map(|n| format!(": {}", plain(n))).unwrap_or_default();
                    let _ = writeln!(text, "| {title} | | | | {}{note} |", state(picture.state));
                }
            }
        }
        let _ = writeln!(text, "\n*{SEEN}*");
    }
    let broken = broken(item);
    if !item.limits.is_empty() {
        let _ = writeln!(text, "\nLimits: {}", code(&item.limits.join(", ")));
        if !broken.is_empty() {
            text.push('\n');
            broken.iter().for_each(|line| {
                let _ = writeln!(text, "- {}", plain(line));
            });
        }
    }
    for picture in changed.iter().filter(|p| p.comparison.is_some()).take(DETAILED) {
        push_groups(text, picture);
    }
}

fn push_groups(text: &mut String, picture: &Picture) {
    let Some(found) = &picture.comparison else { return };
    let _ = writeln!(text, "\n<details><summary>{}, {}</summary>\n", plain(&picture.title()), found.formula);
    text.push_str("| group | mean | 95 % | max | direction | place of the max |\n");
    text.push_str("| --- | ---: | ---: | ---: | --- | --- |\n");
    for g in &found.groups {
        let _ = writeln!(
            text,
            "| {} | {:.2} | {:.2} | {:.2} | {} | {} |",
            g.name.name(),
            g.mean,
            g.p95,
            g.max,
            words(&g.direction),
            place(g).map(|p| plain(&p)).unwrap_or_default()
        );
    }
    if let Some(grey) = grey(found) {
        let _ = writeln!(text, "\nMid-grey: {}", plain(&grey));
    }
    text.push_str("\n</details>\n");
}
