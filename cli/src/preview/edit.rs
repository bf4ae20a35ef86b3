//! Edits of a look's text. Comments and layout stay: what is not edited keeps its bytes.

use rushlight::look::{Draft, note_line, step_to_toml};
use rushlight::math;
use rushlight::setting::Takes;
use rushlight::step::exposure::{ExposureSettings, FACTOR, STOPS};
use rushlight::step::{Kind, Role, Settings, StepSettings, Written};
use serde_json::Value as Json;
use toml_edit::{Array, DocumentMut, InlineTable, Item, Table, TableLike, Value};

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

/// Edits a document, of which `draft` is what it says; gives the step that the edit is about, where it stands then, or why
/// it cannot be.
pub(super) fn apply(document: &mut DocumentMut, draft: &Draft, edit: &Edit) -> Result<usize, String> {
    let count = draft.steps.len();
    let is_rendering = |step: usize| draft.steps.get(step).is_some_and(|step| step.is_rendering());
    let last = count.checked_sub(1).filter(|last| is_rendering(*last));
    let check = |step: usize| {
        if step < count { Ok(()) } else { Err(format!("there is no step {step}: the look has {count}")) }
    };
    let stays_last = |step: usize, what: &str| match draft.steps.get(step) {
        Some(there) if there.is_rendering() => {
            Err(format!("`{}` gives display light and ends the look: it cannot be {what}", there.name))
        }
        _ => Ok(()),
    };
    match edit {
        Edit::Set { step, key, value } => {
            check(*step)?;
            set(document, *step, &draft.steps[*step].name, key, value)?;
            Ok(*step)
        }
        Edit::Move { from, to } => {
            check(*from)?;
            check(*to)?;
            stays_last(*from, "moved")?;
            let latest = (count - usize::from(last.is_some())).saturating_sub(1);
            let place = (*to).min(latest);
            if *from != place {
                let step = take(document, *from)?;
                put(document, place, step)?;
            }
            Ok(place)
        }
        Edit::Add { what, at } => {
            let kind = Kind::named(what).ok_or_else(|| format!("there is no step `{what}`"))?;
            let new_ends = kind.role == Role::Rendering;
            let at = match last {
                // A look has one rendering: a new one takes the place of the old.
                Some(last) if new_ends => {
                    take(document, last)?;
                    last
                }
                Some(last) => (*at).min(last),
                None if new_ends => count,
                None => (*at).min(count),
            };
            put(document, at, new_step(kind)?)?;
            Ok(at)
        }
        Edit::Remove { step } => {
            check(*step)?;
            stays_last(*step, "removed")?;
            take(document, *step)?;
            Ok(*step)
        }
        Edit::Title(title) => {
            replace(document.as_table_mut(), "title", Value::from(title.as_str()));
            Ok(0)
        }
    }
}

/// The edits that raise the light by `stops`: of the first exposure that is in the picture, or of a new one, which comes after
/// a gamut compression that the look begins with.
pub(super) fn raise(draft: &Draft, bypassed: &[bool], stops: f64) -> Vec<Edit> {
    let settings = |step: usize| draft.steps[step].written.as_ref().map(Written::settings);
    let in_picture = |step: &usize| !bypassed.get(*step).copied().unwrap_or_default();
    let exposure = |step: usize| match settings(step) {
        Some(Settings::Exposure(there)) => Some((step, *there)),
        _ => None,
    };
    let set = |step: usize, key: &str, value: f64| Edit::Set { step, key: key.to_owned(), value: value.into() };
    match (0..draft.steps.len()).filter(in_picture).find_map(exposure) {
        Some((step, ExposureSettings { factor: Some(factor), .. })) => {
            vec![set(step, FACTOR.key, factor * math::exp2(stops))]
        }
        Some((step, there)) => vec![set(step, STOPS.key, there.stops.unwrap_or(STOPS.default) + stops)],
        None => {
            let begins = !draft.steps.is_empty() && matches!(settings(0), Some(Settings::Compress(_)));
            let at = usize::from(begins);
            vec![Edit::Add { what: ExposureSettings::NAME.to_owned(), at }, set(at, STOPS.key, stops)]
        }
    }
}

/// The text with another revision, and above it a comment line with a note where there is one, after those on `earlier`
/// revisions.
pub(super) fn with_revision(
    text: &str,
    revision: u32,
    note: &str,
    mut earlier: Vec<(u32, String)>,
) -> Result<String, String> {
    let mut document = parse(text)?;
    let table = document.as_table_mut();
    replace(table, "revision", Value::from(i64::from(revision)));
    if note.chars().any(|c| !c.is_whitespace() && !c.is_control()) {
        earlier.push((revision, note.to_owned()));
    }
    if let Some(mut key) = table.key_mut("revision").filter(|_| !earlier.is_empty()) {
        let decor = key.leaf_decor_mut();
        let before = decor.prefix().and_then(|p| p.as_str()).unwrap_or_default().to_owned();
        let lines: String = earlier.iter().map(|(of, note)| note_line(*of, note) + "\n").collect();
        decor.set_prefix(before + &lines);
    }
    Ok(document.to_string())
}

pub(super) fn parse(text: &str) -> Result<DocumentMut, String> {
    text.parse().map_err(|e: toml_edit::TomlError| format!("not valid TOML: {}", e.message()))
}

/// The steps, however the document writes them: each under `[[step]]`, or in one list.
pub(super) fn count(document: &DocumentMut) -> usize {
    match document.get("step") {
        Some(Item::ArrayOfTables(steps)) => steps.len(),
        Some(Item::Value(Value::Array(steps))) => steps.len(),
        _ => 0,
    }
}

fn step_mut(document: &mut DocumentMut, step: usize) -> Option<&mut dyn TableLike> {
    match document.get_mut("step")? {
        Item::ArrayOfTables(steps) => steps.get_mut(step).map(|t| t as &mut dyn TableLike),
        Item::Value(Value::Array(steps)) => steps.get_mut(step)?.as_inline_table_mut().map(|t| t as &mut dyn TableLike),
        _ => None,
    }
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
            let value = step.into_value().map_err(|_| "the step is not a table".to_owned())?;
            steps.insert_formatted(at.min(steps.len()), value);
        }
        Some(Item::ArrayOfTables(steps)) => {
            let table = step.into_table().map_err(|_| "the step is not a table".to_owned())?;
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
fn new_step(kind: &Kind) -> Result<Item, String> {
    let mut table = parse(&step_to_toml(&Written::of((kind.new)())))?.as_table().clone();
    table.decor_mut().set_prefix("\n");
    // Where it stands among the others is said when it is put there.
    table.set_position(None);
    Ok(Item::Table(table))
}

fn set(document: &mut DocumentMut, step: usize, what: &str, key: &str, value: &Json) -> Result<(), String> {
    let field = Kind::named(what).and_then(|kind| kind.shape.field(key));
    let value = match value {
        Json::Null => None,
        value => Some(written(value, field.is_some_and(|f| matches!(f.takes, Takes::Whole)))?),
    };
    let parts: Vec<&str> = key.split('.').collect();
    if key == "do" || parts.iter().any(|p| p.is_empty()) || parts.len() > 4 {
        return Err(format!("`{key}` is not a key of a step"));
    }
    let table = step_mut(document, step).ok_or_else(|| format!("step {step} is not a table"))?;
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
    within(item.as_table_like_mut().ok_or_else(|| format!("`{first}` is not a table"))?, rest)
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
        Json::Number(n) if integer => {
            n.as_i64().map(Value::from).ok_or_else(|| format!("{n} is not a whole number"))?
        }
        Json::Number(n) => number(n.as_f64().filter(|v| v.is_finite()).ok_or_else(|| format!("{n} is not a number"))?),
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
