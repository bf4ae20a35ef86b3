//! What a file of corrections holds.

use crate::args::Inspect;
use crate::corrections::{Read, load};
use crate::failure::{BEYOND, Failure};
use crate::output::{self, COLUMNS, wrap};
use rushlight::format::cdl::{CdlFile, Correction, Kind};
use rushlight::inspect::report::{Corrections, Report};
use std::fmt::Write as _;
use std::process::ExitCode;

/// Prints what the file holds; a correction that cannot be used is a departure.
pub(super) fn run(args: &Inspect) -> Result<ExitCode, Failure> {
    if args.strict || args.plot.is_some() {
        return Err(Failure::new("--strict, --plot: for tables, not for corrections"));
    }
    let read = load(&args.file, None)?;
    if args.json {
        output::print_json(&report(&read, args))?
    } else {
        output::print(&text(&read, args))?
    }
    Ok(if read.file().refused.is_empty() { ExitCode::SUCCESS } else { ExitCode::from(BEYOND) })
}

fn kind(read: &Read) -> &'static str {
    match read {
        Read::Cdl(CdlFile { kind: Kind::Correction, .. }) => "correction",
        Read::Cdl(CdlFile { kind: Kind::Collection, .. }) => "collection",
        Read::Cdl(CdlFile { kind: Kind::Decisions, .. }) => "decision list",
        Read::List(form, ..) => form.name(),
    }
}

fn report(read: &Read, args: &Inspect) -> Report {
    let (namespace, without) = match read {
        Read::Cdl(file) => (file.namespace.uri(), None),
        Read::List(_, _, without) => ("", Some(*without)),
    };
    Report::Corrections(Corrections::of(args.file.display().to_string(), [kind(read), namespace], without, read.file()))
}

fn descriptions(correction: &Correction) -> impl Iterator<Item = &str> {
    let [sop, sat] = &correction.node_descriptions;
    correction.remarks.descriptions.iter().chain(sop).chain(sat).map(String::as_str)
}

fn text(read: &Read, args: &Inspect) -> String {
    let file = read.file();
    let count = file.corrections.len() + file.refused.len();
    let what = match read {
        Read::Cdl(file) => match file.namespace.uri() {
            "" => "no namespace".to_owned(),
            uri => uri.to_owned(),
        },
        Read::List(_, _, 0) => "every row has a correction".to_owned(),
        Read::List(_, _, without) => format!("rows without a correction: {without}"),
    };
    let mut text = format!(
        "{}\n  {}, {what}, {count} correction{}\n",
        args.file.display(),
        kind(read),
        if count == 1 { "" } else { "s" }
    );
    if !file.refused.is_empty() {
        let _ = writeln!(text, "  {} of them cannot be used", file.refused.len());
    }
    let mut said = |indent: usize, words: &str| {
        for line in wrap(words, COLUMNS - indent) {
            let _ = writeln!(text, "{:indent$}{line}", "");
        }
    };
    let named = [("input", &file.remarks.input), ("viewing", &file.remarks.viewing)];
    file.remarks.descriptions.iter().for_each(|d| said(2, d));
    named.iter().for_each(|(name, value)| value.iter().for_each(|v| said(2, &format!("{name}: {v}"))));
    for c in &file.refused {
        said(0, "");
        said(2, &format!("{}: cannot be used", c.id.as_deref().unwrap_or("without an id")));
        c.wrong.iter().for_each(|e| said(4, &e.to_string()));
    }
    for c in &file.corrections {
        said(0, "");
        said(2, c.id.as_deref().unwrap_or("without an id"));
        said(4, &c.numbers.to_string());
        descriptions(c).for_each(|d| said(4, d));
        let named = [("input", &c.remarks.input), ("viewing", &c.remarks.viewing)];
        named.iter().for_each(|(name, value)| value.iter().for_each(|v| said(4, &format!("{name}: {v}"))));
        c.media.iter().for_each(|m| said(4, &format!("of {m}")));
    }
    said(0, "");
    said(0, "A CDL file does not say in which space its numbers work, nor whether before or after the look.");
    text
}
