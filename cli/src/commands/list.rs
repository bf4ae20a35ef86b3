//! `list`

use crate::args::{Kind, List};
use crate::failure::Failure;
use crate::output;
use rushlight::display::STANDARDS;
use rushlight::gamut::CATALOGUE;
use rushlight::look::STEPS;
use rushlight::step::print::VARIANTS;
use rushlight::transfer::encodings;
use serde_json::{Value, json};
use std::fmt::Write as _;

const KINDS: [(Kind, &str); 4] =
    [(Kind::Curves, "curves"), (Kind::Gamuts, "gamuts"), (Kind::Displays, "displays"), (Kind::Steps, "steps")];

pub(crate) fn run(args: &List) -> Result<(), Failure> {
    let wanted = KINDS.iter().filter(|(kind, _)| args.kind.is_none_or(|k| k == *kind));
    if args.json {
        let lists: serde_json::Map<String, Value> =
            wanted.map(|(kind, name)| ((*name).to_owned(), entries(*kind).into())).collect();
        return output::print_json(&lists);
    }
    let mut text = String::new();
    for (kind, name) in wanted {
        let _ = writeln!(text, "{}{name}", if text.is_empty() { "" } else { "\n" });
        for entry in entries(*kind) {
            let field = |key: &str| entry[key].as_str().unwrap_or_default().to_owned();
            let source = if field("source").is_empty() { String::new() } else { format!("; {}", field("source")) };
            let what = format!("{}{source}", field("title"));
            for (i, line) in wrap(&what, 62).into_iter().enumerate() {
                let name = if i == 0 { field("name") } else { String::new() };
                let _ = writeln!(text, "  {name:<15} {line}");
            }
        }
    }
    output::print(&text)
}

fn entries(kind: Kind) -> Vec<Value> {
    match kind {
        Kind::Curves => encodings()
            .iter()
            .map(|e| json!({ "name": e.name, "title": e.title, "source": e.source, "signal": e.signal, "ei": e.ratings }))
            .collect(),
        Kind::Gamuts => CATALOGUE
            .iter()
            .map(|g| {
                let xy = g.gamut.primaries.map(|p| [p.x, p.y]);
                let white = [g.gamut.white.x, g.gamut.white.y];
                json!({ "name": g.name, "title": g.title, "source": g.source, "primaries": xy, "white": white, "adaptation": g.gamut.adaptation.name() })
            })
            .collect(),
        Kind::Displays => STANDARDS
            .iter()
            .map(|s| json!({ "name": s.name, "title": s.title, "eotf": s.eotf.name(), "peak": s.peak }))
            .collect(),
        Kind::Steps => STEPS
            .iter()
            .map(|(name, help)| {
                let variants: Vec<&str> = VARIANTS.iter().map(|v| v.name).collect();
                if *name == "print" {
                    json!({ "name": name, "title": format!("{help} Variants: {}.", variants.join(", ")), "variants": variants })
                } else {
                    json!({ "name": name, "title": help })
                }
            })
            .collect(),
    }
}

/// Lines of at most `width` characters, broken between words.
fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ') {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}
