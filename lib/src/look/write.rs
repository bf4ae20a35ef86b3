//! A look as a document.

use super::{GENERATION, Look, SCHEMA};
use crate::message::one_line;
use crate::setting::Value;
use crate::step::Written;
use std::fmt::Write as _;

/// The look as a document, which [`parse`](super::parse) reads back as the same look.
pub fn to_toml(look: &Look) -> String {
    let title = toml::Value::from(look.title());
    let mut text = format!("schema = {SCHEMA}\ngeneration = {GENERATION}\ntitle = {title}\n");
    if !look.note().is_empty() {
        let _ = writeln!(text, "{}", note_line(look.revision(), look.note()));
    }
    let _ = writeln!(text, "revision = {}", look.revision());
    for written in look.written() {
        let _ = write!(text, "\n[[step]]\n{}", step_to_toml(written));
    }
    text
}

/// The comment that a note on a revision stands in, above the revision.
pub fn note_line(revision: u32, note: &str) -> String {
    format!("# Revision {revision}: {}", one_line(note))
}

/// The notes on revisions that a document has, as [`note_line`] writes them, from its first line down.
pub fn notes(text: &str) -> Vec<(u32, String)> {
    let note = |line: &str| {
        let (revision, note) = line.trim().strip_prefix("# Revision ")?.split_once(": ")?;
        Some((revision.parse().ok()?, note.to_owned()))
    };
    text.lines().filter_map(note).collect()
}

/// What is stated of a step, without its header.
pub fn step_to_toml(step: &Written) -> String {
    let mut table = toml::Table::new();
    let mut order = Vec::new();
    for set in step.values().into_iter().filter(|set| set.stated) {
        let path: Vec<&str> = set.key.split('.').collect();
        if !order.contains(&path[0].to_owned()) {
            order.push(path[0].to_owned());
        }
        put(&mut table, &path, value(&set.value));
    }
    let mut text = format!("do = {}\n", toml::Value::from(step.kind().name));
    for key in order {
        let _ = writeln!(text, "{key} = {}", table[&key]);
    }
    text
}

/// Puts a value under a path of keys.
fn put(table: &mut toml::Table, path: &[&str], value: toml::Value) {
    let Some((key, rest)) = path.split_first() else { return };
    if rest.is_empty() {
        table.insert((*key).to_owned(), value);
    } else if let toml::Value::Table(within) = table.entry(*key).or_insert_with(|| toml::Table::new().into()) {
        put(within, rest, value);
    }
}

fn value(value: &Value) -> toml::Value {
    match value {
        Value::Number(value) => (*value).into(),
        Value::Numbers(values) => values.clone().into(),
        Value::Whole(value) => i64::from(*value).into(),
        Value::Flag(yes) => (*yes).into(),
        Value::Text(text) => text.clone().into(),
    }
}
