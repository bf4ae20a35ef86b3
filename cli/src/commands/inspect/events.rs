//! What an event list holds.

use crate::args::Inspect;
use crate::corrections::wrong;
use crate::disk::read_bytes;
use crate::failure::{BEYOND, Failure};
use crate::output::{self, COLUMNS, wrap};
use rushlight::format::events::{self, Event, EventList, Form};
use serde_json::{Value, json};
use std::fmt::Write as _;
use std::process::ExitCode;

/// Prints the events; one whose correction or timecode cannot be used is a departure.
pub(super) fn run(args: &Inspect, form: Form) -> Result<ExitCode, Failure> {
    if args.strict || args.plot.is_some() {
        return Err(Failure::new("--strict, --plot: for tables, not for event lists"));
    }
    let list = events::read(&read_bytes(&args.file)?, form, None);
    let list = list.map_err(|all| Failure::new(wrong(&args.file, &all)))?;
    if args.json {
        output::print_json(&json!({
            "schema": 1,
            "file": args.file.display().to_string(),
            "kind": form.name(),
            "title": list.title,
            "rate": list.rate,
            "events": list.events.iter().map(event).collect::<Vec<_>>(),
        }))?;
    } else {
        output::print(&text(&list, form, args))?;
    }
    let bad = list.events.iter().any(|e| !faults(e).is_empty());
    Ok(if bad { ExitCode::from(BEYOND) } else { ExitCode::SUCCESS })
}

/// All that is wrong with an event.
fn faults(event: &Event) -> Vec<String> {
    let correction = event.correction().err().unwrap_or_default().into_iter().map(|refused| refused.to_string());
    event.unusable.iter().chain(&event.untimed).cloned().chain(correction).collect()
}

fn event(event: &Event) -> Value {
    let numbers = event.correction().ok().flatten();
    json!({
        "line": event.line,
        "name": event.name,
        "reel": event.reel,
        "source_file": event.file,
        "source": event.source.map(|source| source.map(|time| time.to_string())),
        "correction": numbers,
        "wrong": faults(event),
    })
}

fn text(list: &EventList, form: Form, args: &Inspect) -> String {
    let with = list.events.iter().filter(|e| !e.sop.is_empty() || !e.sat.is_empty()).count();
    let rate = list.rate.map(|rate| format!(", {rate} frames per second")).unwrap_or_default();
    let mut text = format!(
        "{}\n  {}{rate}, {} events with a picture, {with} of them with a correction\n",
        args.file.display(),
        form.name(),
        list.events.len()
    );
    list.title.iter().for_each(|title| {
        let _ = writeln!(text, "  title: {title}");
    });
    let mut said = |indent: usize, words: &str| {
        for line in wrap(words, COLUMNS - indent) {
            let _ = writeln!(text, "{:indent$}{line}", "");
        }
    };
    for event in &list.events {
        said(0, "");
        let reel = event.reel.as_deref().map(|reel| format!(", reel {reel}")).unwrap_or_default();
        let time = event.source.map(|[from, to]| format!(", {from} to {to}")).unwrap_or_default();
        let name = if event.name.is_empty() { "without a name" } else { &event.name };
        said(2, &format!("{name}{reel}{time}"));
        event.file.iter().for_each(|file| said(4, &format!("of {file}")));
        match event.correction() {
            Ok(Some(numbers)) => said(4, &numbers.to_string()),
            Ok(None) => said(4, "no correction"),
            Err(_) => {}
        }
        faults(event).iter().for_each(|why| said(4, &format!("cannot be used: {why}")));
    }
    said(0, "");
    said(
        0,
        "The end of an event is not part of it. A list does not say in which space its corrections work, nor whether before or after the look.",
    );
    text
}
