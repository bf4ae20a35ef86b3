//! What an event list holds.

use crate::args::Inspect;
use crate::corrections::wrong;
use crate::disk::read_bytes;
use crate::failure::{BEYOND, Failure};
use crate::output::{self, COLUMNS, wrap};
use rushlight::format::events::{self, EventList, Form};
use rushlight::inspect::report::{EventReport, Events, Report};
use std::fmt::Write as _;
use std::process::ExitCode;

/// Prints the events; one whose correction or timecode cannot be used is a departure.
pub(super) fn run(args: &Inspect, form: Form) -> Result<ExitCode, Failure> {
    super::stills::no_table(args)?;
    let list = events::read(&read_bytes(&args.file)?, form, None);
    let list = list.map_err(|all| Failure::new(wrong(&args.file, &all)))?;
    let report = Events::of(args.file.display().to_string(), form, &list);
    let is_bad = report.events.iter().any(|event| !event.wrong.is_empty());
    if args.json {
        output::print_json(&Report::Events(report))?;
    } else {
        output::print(&text(&list, &report))?;
    }
    Ok(if is_bad { ExitCode::from(BEYOND) } else { ExitCode::SUCCESS })
}

fn text(list: &EventList, report: &Events) -> String {
    let with = list.events.iter().filter(|e| !e.sop.is_empty() || !e.sat.is_empty()).count();
    let rate = report.rate.map(|rate| format!(", {rate} frames per second")).unwrap_or_default();
    let mut text = format!("{}\n", report.file);
    let mut said = |indent: usize, words: &str| {
        for line in wrap(words, COLUMNS - indent) {
            let _ = writeln!(text, "{:indent$}{line}", "");
        }
    };
    let (kind, events) = (&report.kind, report.events.len());
    let plural = if events == 1 { "" } else { "s" };
    said(2, &format!("{kind}{rate}, {events} event{plural} with a picture, {with} with a correction"));
    report.title.iter().for_each(|title| said(2, &format!("title: {title}")));
    for (event, found) in list.events.iter().zip(&report.events) {
        let EventReport { name, reel, source, source_file, correction, wrong, .. } = found;
        said(0, "");
        let reel = reel.as_deref().map(|reel| format!(", reel {reel}")).unwrap_or_default();
        let time = source.as_ref().map(|[from, to]| format!(", {from} to {to}")).unwrap_or_default();
        let name = if name.is_empty() { "without a name" } else { name };
        said(2, &format!("{name}{reel}{time}"));
        source_file.iter().for_each(|file| said(4, &format!("of {file}")));
        match correction {
            Some(numbers) => said(4, &numbers.to_string()),
            None if event.sop.is_empty() && event.sat.is_empty() => said(4, "no correction"),
            None => {}
        }
        wrong.iter().for_each(|why| said(4, &format!("cannot be used: {why}")));
    }
    said(0, "");
    said(
        0,
        "The end of an event is not part of it. A list does not say in which space its corrections work, nor whether before or after the look.",
    );
    text
}
