//! `list`

use crate::args::List as Args;
use crate::failure::Failure;
use crate::output::{self, wrap};
use rushlight::catalogue::Step;
use rushlight::catalogue::{Catalogue, List, role};
use rushlight::step::Kind;
use std::fmt::Write as _;

pub(crate) fn run(args: &Args) -> Result<(), Failure> {
    let found = match &args.name {
        Some(name) => Catalogue::named(args.kind, name).map_err(|unknown| Failure::new(unknown.to_string()))?,
        None => Catalogue::of(args.kind),
    };
    if args.json {
        return output::print_json(&found);
    }
    match found.steps.as_deref() {
        Some([step]) if step.settings.is_some() => output::print(&settings(step)),
        _ => output::print(&lists(args.kind, &found)),
    }
}

fn lists(kind: Option<List>, found: &Catalogue) -> String {
    let mut text = String::new();
    for list in List::ALL.into_iter().filter(|list| kind.is_none_or(|k| k == *list)) {
        let _ = writeln!(text, "{}{list}", if text.is_empty() { "" } else { "\n" });
        for entry in found.entries(list) {
            let source = if entry.source.is_empty() { String::new() } else { format!("; {}", entry.source) };
            for (i, line) in wrap(&format!("{}{source}", entry.title), 62).into_iter().enumerate() {
                let name = if i == 0 { entry.name } else { "" };
                let _ = writeln!(text, "  {name:<15} {line}");
            }
        }
    }
    text
}

/// A step with all its settings.
fn settings(step: &Step) -> String {
    let Some(kind) = Kind::named(step.name) else { return String::new() };
    let mut text = String::new();
    for line in wrap(&format!("{}: {} {}", kind.name, kind.help, role(kind)), 80) {
        let _ = writeln!(text, "{line}");
    }
    let settings = step.settings.as_deref().unwrap_or_default();
    let width = settings.iter().map(|setting| setting.key.len()).max().unwrap_or_default();
    for setting in settings {
        let _ = writeln!(text);
        let ends = [("too low", setting.too_low), ("too high", setting.too_high)];
        let ends = ends.into_iter().filter_map(|(name, looks)| Some(format!("{name}: {}", looks?)));
        let parts = [setting.range.clone(), setting.help.clone()].into_iter().chain(ends);
        let lines = parts.flat_map(|part| wrap(&part, 76 - width));
        for (i, line) in lines.enumerate() {
            let key = if i == 0 { setting.key.as_str() } else { "" };
            let _ = writeln!(text, "  {key:<width$}  {line}");
        }
    }
    let _ = writeln!(text, "\nExample:\n");
    for line in step.example.iter().flat_map(|example| example.lines()) {
        let _ = writeln!(text, "  {line}");
    }
    text
}
