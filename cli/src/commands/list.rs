//! `list`

use crate::args::List as Args;
use crate::failure::Failure;
use crate::output::{self, wrap};
use rushlight::catalogue::{Catalogue, List, Step, VariantNumbers, role};
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

/// The numbers of each variant of a step, a column a variant; nothing for a step without variants. `width` is that of the
/// longest key.
fn variants(step: &Step, width: usize) -> String {
    let Some(variants) = step.variant_numbers.as_deref() else { return String::new() };
    let mut text = String::from("\nNumbers of each variant:\n\n");
    let columns = variants.iter().map(|variant| {
        let cells = variant.numbers.values().map(ToString::to_string);
        let widest = cells.map(|cell| cell.len()).max().unwrap_or_default();
        (variant, widest.max(variant.name.len()))
    });
    let columns: Vec<_> = columns.collect();
    let mut line = |key: &str, cell: &dyn Fn(&VariantNumbers) -> Option<String>| {
        let _ = write!(text, "  {key:<width$}");
        for &(variant, widest) in &columns {
            let _ = write!(text, "  {:>widest$}", cell(variant).unwrap_or_default());
        }
        text.push('\n');
    };
    line("", &|variant| Some(variant.name.to_owned()));
    for setting in step.settings.iter().flatten() {
        if variants.iter().any(|variant| variant.numbers.contains_key(&setting.key)) {
            line(&setting.key, &|variant| variant.numbers.get(&setting.key).map(ToString::to_string));
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
    text += &variants(step, width);
    let _ = writeln!(text, "\nExample:\n");
    for line in step.example.iter().flat_map(|example| example.lines()) {
        let _ = writeln!(text, "  {line}");
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_with_variants_prints_the_numbers_of_each() {
        let print = settings(&Step::whole(Kind::named("print").unwrap()));
        assert!(print.lines().all(|line| line.chars().count() <= output::COLUMNS), "{print}");
        let row = |key: &str| {
            let table = print.split("Numbers of each variant:\n\n").nth(1).expect("the table");
            let line = table
                .lines()
                .find(|line| line.trim_start().starts_with(key))
                .unwrap_or_else(|| panic!("{key}: {table}"));
            line.split_whitespace().collect::<Vec<_>>().join(" ")
        };
        assert_eq!(row("even"), "even deep soft rich");
        assert_eq!(row("grey"), "grey 0.12 0.085 0.125 0.11");
        assert_eq!(row("lights"), "lights 25 25 25 25 25 25 25 25 25 24.7 25 25.3");
        // Every setting but the variant itself.
        let rows = print.split("Numbers of each variant:\n\n").nth(1).and_then(|t| t.split("\n\n").next()).unwrap();
        assert_eq!(rows.lines().count(), Kind::named("print").unwrap().shape.leaves().len(), "{rows}");
        assert!(!settings(&Step::whole(Kind::named("tone").unwrap())).contains("variant"));
    }
}
