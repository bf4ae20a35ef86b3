//! Edits of a look's text. Comments and layout stay: what is not edited keeps its bytes.

use super::fields::{self, Kind};
use serde_json::Value as Json;
use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, TableLike, Value};

/// A change of a look's document.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Edit {
    /// A setting by its key path, such as `from.kelvin`; null takes it out.
    Set { step: usize, key: String, value: Json },
    /// A step to another place.
    Move { from: usize, to: usize },
    /// A new step with the values that leave the picture as it is, where there are such.
    Add { what: String, at: usize },
    /// A step out of the look.
    Remove { step: usize },
    /// Another title.
    Title(String),
}

/// The text after an edit and the step that it is about, where it stands then; or why it cannot be.
pub(super) fn apply(text: &str, edit: &Edit) -> Result<(String, usize), String> {
    let mut document = parse(text)?;
    let mut place = 0;
    match edit {
        Edit::Set { step, key, value } => {
            set(&mut document, *step, key, value)?;
            place = *step;
        }
        Edit::Move { from, to } => {
            let count = count(&document);
            check(*from, count)?;
            check(*to, count)?;
            stays_last(&document, *from, "moved")?;
            place = (*to).min(last_scene_step(&document));
            if *from != place {
                let step = take(&mut document, *from)?;
                put(&mut document, place, step)?;
            }
        }
        Edit::Add { what, at } => {
            let kind = fields::kinds().iter().find(|k| k.what == *what);
            let kind = kind.ok_or_else(|| format!("there is no step `{what}`"))?;
            let count = count(&document);
            let mut at = (*at).min(count);
            // A look has one rendering: a new one takes the place of the old.
            let last = count.checked_sub(1).filter(|last| is_rendering(&document, *last));
            match last {
                Some(last) if kind.is_rendering => {
                    take(&mut document, last)?;
                    at = last;
                }
                Some(last) => at = at.min(last),
                None if kind.is_rendering => at = count,
                None => {}
            }
            put(&mut document, at, new_step(kind))?;
            place = at;
        }
        Edit::Remove { step } => {
            check(*step, count(&document))?;
            stays_last(&document, *step, "taken out")?;
            take(&mut document, *step)?;
            place = *step;
        }
        Edit::Title(title) => {
            let table = document.as_table_mut();
            replace(table, "title", Value::from(title.as_str()));
        }
    }
    Ok((document.to_string(), place))
}

/// The text with another revision, and above it a comment line with a note where there is one.
pub(super) fn with_revision(text: &str, revision: u32, note: &str) -> Result<String, String> {
    let mut document = parse(text)?;
    let table = document.as_table_mut();
    replace(table, "revision", Value::from(i64::from(revision)));
    let note = note.split_whitespace().collect::<Vec<_>>().join(" ");
    let note: String = note.chars().filter(|c| !c.is_control()).collect();
    if !note.is_empty()
        && let Some(mut key) = table.key_mut("revision")
    {
        let decor = key.leaf_decor_mut();
        let before = decor.prefix().and_then(|p| p.as_str()).unwrap_or_default().to_owned();
        decor.set_prefix(format!("{before}# Revision {revision}: {note}\n"));
    }
    Ok(document.to_string())
}

/// A look of one new step alone.
pub(super) fn alone(kind: &Kind) -> String {
    let mut document = DocumentMut::new();
    document.insert("schema", toml_edit::value(i64::from(rushlight::look::SCHEMA)));
    document.insert("generation", toml_edit::value(i64::from(rushlight::look::GENERATION)));
    document.insert("title", toml_edit::value(kind.what.as_str()));
    let steps = new_step(kind).into_table().map(|table| ArrayOfTables::from_iter([table])).unwrap_or_default();
    document.insert("step", Item::ArrayOfTables(steps));
    document.to_string()
}

fn parse(text: &str) -> Result<DocumentMut, String> {
    text.parse().map_err(|e: toml_edit::TomlError| format!("not valid TOML: {}", e.message()))
}

/// The steps, however the document writes them: each under `[[step]]`, or in one list.
fn count(document: &DocumentMut) -> usize {
    match document.get("step") {
        Some(Item::ArrayOfTables(steps)) => steps.len(),
        Some(Item::Value(Value::Array(steps))) => steps.len(),
        _ => 0,
    }
}

fn check(step: usize, count: usize) -> Result<(), String> {
    if step < count { Ok(()) } else { Err(format!("there is no step {step}: the look has {count}")) }
}

fn step_mut(document: &mut DocumentMut, step: usize) -> Option<&mut dyn TableLike> {
    match document.get_mut("step")? {
        Item::ArrayOfTables(steps) => steps.get_mut(step).map(|t| t as &mut dyn TableLike),
        Item::Value(Value::Array(steps)) => steps.get_mut(step)?.as_inline_table_mut().map(|t| t as &mut dyn TableLike),
        _ => None,
    }
}

fn name(document: &DocumentMut, step: usize) -> &str {
    let found = match document.get("step") {
        Some(Item::ArrayOfTables(steps)) => steps.get(step).and_then(|t| t.get("do")).and_then(Item::as_str),
        Some(Item::Value(Value::Array(steps))) => {
            steps.get(step).and_then(Value::as_inline_table).and_then(|t| t.get("do")).and_then(Value::as_str)
        }
        _ => None,
    };
    found.unwrap_or_default()
}

fn is_rendering(document: &DocumentMut, step: usize) -> bool {
    let name = name(document, step);
    // A cube that gives a display is one too, which its table says.
    let gives = |item: Option<&Item>| item.and_then(|i| i.get("gives")).is_some_and(|g| g.get("display").is_some());
    fields::kinds().iter().any(|k| k.what == name && k.is_rendering)
        || (name == "cube" && gives(document.get("step").and_then(|s| s.get(step))))
}

fn stays_last(document: &DocumentMut, step: usize, what: &str) -> Result<(), String> {
    if !is_rendering(document, step) {
        return Ok(());
    }
    Err(format!("`{}` gives display light and ends the look: it cannot be {what}", name(document, step)))
}

/// Where a step on scene light may stand at the latest, once it was taken out.
fn last_scene_step(document: &DocumentMut) -> usize {
    let count = count(document);
    let rendering = count > 0 && is_rendering(document, count - 1);
    (count - usize::from(rendering)).saturating_sub(1)
}

fn take(document: &mut DocumentMut, step: usize) -> Result<Item, String> {
    match document.get_mut("step") {
        Some(Item::ArrayOfTables(steps)) if step < steps.len() => Ok(Item::Table(steps.remove(step))),
        Some(Item::Value(Value::Array(steps))) if step < steps.len() => Ok(Item::Value(steps.remove(step))),
        _ => Err(format!("there is no step {step}")),
    }
}

fn put(document: &mut DocumentMut, at: usize, step: Item) -> Result<(), String> {
    match document.get_mut("step") {
        Some(Item::Value(Value::Array(steps))) => {
            let value = step.into_value().map_err(|_| "the step is no table".to_owned())?;
            steps.insert_formatted(at.min(steps.len()), value);
        }
        Some(Item::ArrayOfTables(steps)) => {
            let table = step.into_table().map_err(|_| "the step is no table".to_owned())?;
            let mut all: Vec<Table> = steps.iter().cloned().collect();
            all.insert(at.min(all.len()), table);
            // Tables are written in the order of their positions: as they stand now, each before its own tables.
            let mut next = all.iter().filter_map(Table::position).min().unwrap_or_default();
            steps.clear();
            for mut table in all {
                place(&mut table, &mut next);
                steps.push(table);
            }
        }
        _ => return Err("the look has no steps".to_owned()),
    }
    Ok(())
}

/// Gives a table and those within it positions from `next` on.
fn place(table: &mut Table, next: &mut isize) {
    table.set_position(Some(*next));
    *next += 1;
    let mut within: Vec<(Option<isize>, &mut Table)> =
        table.iter_mut().filter_map(|(_, item)| item.as_table_mut()).map(|t| (t.position(), t)).collect();
    within.sort_by_key(|(position, _)| *position);
    for (_, table) in within {
        place(table, next);
    }
}

/// A step as it is added: what its kind must have.
fn new_step(kind: &Kind) -> Item {
    let mut table = Table::new();
    table.decor_mut().set_prefix("\n");
    table.insert("do", toml_edit::value(kind.what.as_str()));
    for (key, value) in kind.beginning() {
        let parts: Vec<&str> = key.split('.').collect();
        if let Some((last, outer)) = parts.split_last()
            && let Ok(table) = within(&mut table, outer)
        {
            table.insert(last, Item::Value(value));
        }
    }
    Item::Table(table)
}

fn set(document: &mut DocumentMut, step: usize, key: &str, value: &Json) -> Result<(), String> {
    check(step, count(document))?;
    let what = name(document, step).to_owned();
    let field = fields::field(&what, key);
    let value = match value {
        Json::Null => None,
        value => Some(written(value, field.is_some_and(|f| f.kind == "integer"))?),
    };
    let parts: Vec<&str> = key.split('.').collect();
    if key == "do" || parts.iter().any(|p| p.is_empty()) || parts.len() > 4 {
        return Err(format!("`{key}` is no key of a step"));
    }
    let table = step_mut(document, step).ok_or_else(|| format!("step {step} is no table"))?;
    let (last, outer) = parts.split_last().ok_or("no key")?;
    match value {
        Some(value) => replace(within(table, outer)?, last, value),
        None => remove(table, &parts),
    }
    Ok(())
}

/// The table under a path, made where it is not there.
fn within<'t>(table: &'t mut dyn TableLike, path: &[&str]) -> Result<&'t mut dyn TableLike, String> {
    let Some((first, rest)) = path.split_first() else { return Ok(table) };
    let item = table.entry(first).or_insert(Item::Value(InlineTable::new().into()));
    within(item.as_table_like_mut().ok_or_else(|| format!("`{first}` is no table"))?, rest)
}

/// Takes a key out, and tables that are empty then.
fn remove(table: &mut dyn TableLike, parts: &[&str]) {
    let Some((first, rest)) = parts.split_first() else { return };
    if !rest.is_empty() {
        let Some(within) = table.get_mut(first).and_then(Item::as_table_like_mut) else { return };
        remove(within, rest);
        if !within.is_empty() {
            return;
        }
    }
    table.remove(first);
}

/// Puts a value under a key; what stood around the old one, such as a comment after it, stays.
fn replace(table: &mut dyn TableLike, key: &str, mut value: Value) {
    match table.get_mut(key) {
        Some(Item::Value(there)) => {
            *value.decor_mut() = there.decor().clone();
            *there = value;
        }
        _ => {
            table.insert(key, Item::Value(value));
        }
    }
}

/// A JSON value as TOML has it.
fn written(value: &Json, integer: bool) -> Result<Value, String> {
    Ok(match value {
        Json::Bool(yes) => Value::from(*yes),
        Json::String(text) => Value::from(text.as_str()),
        Json::Number(n) if integer => n.as_i64().map(Value::from).ok_or_else(|| format!("{n} is no whole number"))?,
        Json::Number(n) => number(n.as_f64().filter(|v| v.is_finite()).ok_or_else(|| format!("{n} is no number"))?),
        Json::Array(list) if list.len() <= 16 => {
            let mut array = Array::new();
            for value in list {
                array.push_formatted(written(value, false)?);
            }
            array.fmt();
            Value::Array(array)
        }
        Json::Object(map) if map.len() <= 16 => {
            let mut table = InlineTable::new();
            for (key, value) in map {
                table.insert(key, written(value, false)?);
            }
            Value::InlineTable(table)
        }
        _ => return Err("no such value can be set".to_owned()),
    })
}

/// A number without what a slider's arithmetic leaves behind: 0.30000000000000004 is 0.3.
fn number(value: f64) -> Value {
    let plain: f64 = format!("{value:.12e}").parse().unwrap_or(value);
    Value::from(plain)
}

#[cfg(test)]
mod tests;
