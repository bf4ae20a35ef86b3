//! `list`

mod steps;

use crate::args::{Kind, List};
use crate::failure::Failure;
use crate::output::{self, wrap};
use rushlight::display::STANDARDS;
use rushlight::gamut::CATALOGUE;
use rushlight::message::unknown;
use rushlight::step::KINDS as KINDS_OF_STEP;
use rushlight::transfer::encodings;
use serde_json::{Value, json};
use std::fmt::Write as _;

const KINDS: [(Kind, &str); 4] =
    [(Kind::Curves, "curves"), (Kind::Gamuts, "gamuts"), (Kind::Displays, "displays"), (Kind::Steps, "steps")];

pub(crate) fn run(args: &List) -> Result<(), Failure> {
    if let (Some(Kind::Steps), Some(name)) = (args.kind, &args.name) {
        return steps::run(name, args.json);
    }
    let wanted = KINDS.iter().filter(|(kind, _)| args.kind.is_none_or(|k| k == *kind));
    let entries = |kind| picked(entries(kind), args.name.as_deref());
    if let (Some(kind), Some(name)) = (args.kind, &args.name)
        && entries(kind).is_empty()
    {
        let all = self::entries(kind);
        let names = all.iter().filter_map(|entry| entry["name"].as_str());
        let what = KINDS.iter().find(|(k, _)| *k == kind).map_or("", |(_, what)| what.trim_end_matches('s'));
        return Err(Failure::new(unknown(what, name, names)));
    }
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

/// Those of a name, or all.
fn picked(mut entries: Vec<Value>, name: Option<&str>) -> Vec<Value> {
    entries.retain(|entry| name.is_none_or(|name| entry["name"] == name));
    entries
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
        Kind::Steps => KINDS_OF_STEP.iter().map(steps::entry).collect(),
    }
}
