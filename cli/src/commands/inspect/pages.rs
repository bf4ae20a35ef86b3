//! What a page, a drawing or a PDF says of where it comes from.

use super::slate::origin;
use super::stills::{no_table, report};
use crate::args::Inspect;
use crate::disk::read_bytes;
use crate::failure::Failure;
use crate::pdf;
use rushlight::inspect::report::{Page, Report};
use rushlight::slate::Slate;
use std::process::ExitCode;

/// The kinds: how a file's name ends, and what it is called.
const KINDS: [(&str, &str); 4] = [("html", "HTML page"), ("htm", "HTML page"), ("svg", "SVG drawing"), ("pdf", "PDF")];

/// Where a page and a drawing have their slate: what stands before it, and what ends it.
const PLACES: [(&str, &str); 2] = [("<meta name=\"description\" content=\"", "\""), ("<desc>", "</desc>")];

/// The kind of such a file.
pub(super) fn kind(extension: &str) -> Option<&'static str> {
    KINDS.iter().find(|(end, _)| extension.eq_ignore_ascii_case(end)).map(|(_, kind)| *kind)
}

pub(super) fn run(args: &Inspect, kind: &'static str) -> Result<ExitCode, Failure> {
    no_table(args)?;
    let bytes = read_bytes(&args.file)?;
    let text = if kind == "PDF" { pdf::slate(&bytes) } else { described(&String::from_utf8_lossy(&bytes)) };
    let origin = origin(text.as_deref().and_then(Slate::parse), args)?;
    let none = origin.version.is_none().then(|| ("slate", "none: the file does not say whose it is".to_owned()));
    let fields: Vec<_> = std::iter::once(("kind", kind.to_owned())).chain(none).collect();
    report(args, &fields, Page { format: kind }, Report::Page, origin)
}

/// The first description in a text of elements that is a slate.
fn described(text: &str) -> Option<String> {
    PLACES.iter().find_map(|(start, end)| {
        let mut parts = text.split(start).skip(1).filter_map(|rest| rest.split(end).next()).map(plain);
        parts.find(|text| Slate::parse(text).is_some())
    })
}

/// Text of which four characters were written as entities.
fn plain(text: &str) -> String {
    let entities = [("&lt;", "<"), ("&gt;", ">"), ("&quot;", "\""), ("&#39;", "'"), ("&apos;", "'"), ("&amp;", "&")];
    entities.iter().fold(text.to_owned(), |text, (entity, character)| text.replace(entity, character))
}
