//! The settings of a look's steps as they stand in its document, each with its unit and what it goes by when left out.

use super::parameters;
use toml::{Table, Value};

/// A setting by its key path, in the order of the document's own kind.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// The key path within the step, such as `from.kelvin`.
    pub key: String,
    /// As people write it.
    pub value: String,
    /// As the document has it.
    pub raw: Value,
    /// Its unit; empty for a plain number.
    pub unit: &'static str,
    /// Whether the document says so itself; otherwise it is what the step goes by.
    pub given: bool,
}

/// A step of a look as its document has it.
#[derive(Debug, Clone, PartialEq)]
pub struct StepSettings {
    /// The name in `do`; empty where there is none.
    pub name: String,
    /// Its settings, those that the document leaves out among them.
    pub settings: Vec<Setting>,
}

/// The steps of the look document `text`, in order, sound or not; none of what is no TOML.
pub fn settings(text: &str) -> Vec<StepSettings> {
    steps(&table(text))
}

impl StepSettings {
    pub(crate) fn does_the_same(&self, other: &Self) -> bool {
        let plain = |s: &Self| s.settings.iter().map(|s| (s.key.clone(), s.value.clone())).collect::<Vec<_>>();
        self.name == other.name && plain(self) == plain(other)
    }

    /// What the document says of it, such as `: -0.4 stops`; empty where it says nothing.
    pub fn said(&self) -> String {
        let given: Vec<String> = self.settings.iter().filter(|s| s.given).map(|s| s.said(&self.name)).collect();
        if given.is_empty() { String::new() } else { format!(": {}", given.join(", ")) }
    }
}

impl Setting {
    pub(crate) fn said(&self, step: &str) -> String {
        let phrase = phrase(step, &self.key);
        let key = phrase.strip_prefix(step).unwrap_or(&phrase).trim();
        let unit = unit(&phrase, self.unit);
        format!("{key}{}{}{unit}", if key.is_empty() { "" } else { " " }, self.value)
    }
}

/// A step and one of its keys in words: the key that says what the step itself does goes without saying.
pub(crate) fn phrase(step: &str, key: &str) -> String {
    match (step, key) {
        ("exposure", "stops") | ("saturation" | "contrast", "amount") => step.to_owned(),
        _ => format!("{step} {}", key.replace(['_', '.'], " ")),
    }
}

/// A unit after a number, unless the phrase before it says it already.
pub(crate) fn unit(phrase: &str, unit: &str) -> String {
    if unit.is_empty() || phrase.ends_with(unit) { String::new() } else { format!(" {unit}") }
}

/// A value as people write it.
pub(crate) fn written(value: &Value, unit: &str) -> String {
    let number = |v: f64| if unit.starts_with("stops") { format!("{v:?}") } else { format!("{v}") };
    match value {
        Value::String(text) => text.clone(),
        Value::Integer(n) => number(*n as f64),
        Value::Float(v) => number(*v),
        Value::Boolean(yes) => if *yes { "yes" } else { "no" }.to_owned(),
        Value::Array(values) => {
            format!("[{}]", values.iter().map(|v| written(v, unit)).collect::<Vec<_>>().join(", "))
        }
        other => other.to_string(),
    }
}

/// Every value of a table by its key path.
pub(crate) fn flat(table: &Table) -> Vec<(String, Value)> {
    let mut all = Vec::new();
    for (key, value) in table {
        flatten(key, value, &mut all);
    }
    all
}

fn flatten(path: &str, value: &Value, all: &mut Vec<(String, Value)>) {
    match value {
        Value::Table(table) => table.iter().for_each(|(key, value)| flatten(&format!("{path}.{key}"), value, all)),
        Value::Array(entries) if entries.iter().any(Value::is_table) => {
            entries.iter().enumerate().for_each(|(i, value)| flatten(&format!("{path}[{i}]"), value, all));
        }
        value => all.push((path.to_owned(), value.clone())),
    }
}

pub(crate) fn table(text: &str) -> Table {
    text.parse().unwrap_or_default()
}

pub(crate) fn steps(look: &Table) -> Vec<StepSettings> {
    let entries = look.get("step").and_then(Value::as_array).map(Vec::as_slice).unwrap_or_default();
    entries.iter().filter_map(Value::as_table).map(step).collect()
}

fn step(given: &Table) -> StepSettings {
    let name = given.get("do").and_then(Value::as_str).unwrap_or_default().to_owned();
    let stated: Vec<(String, Value)> = flat(given).into_iter().filter(|(key, _)| key != "do").collect();
    let mut all: Vec<(String, Value, bool)> = Vec::new();
    for (key, default) in parameters::defaults(&name, given) {
        let own = stated.iter().find(|(k, _)| k == key).map(|(_, value)| value.clone());
        all.push((key.to_owned(), own.clone().unwrap_or(default), own.is_some()));
    }
    for (key, value) in stated {
        if !all.iter().any(|(k, ..)| *k == key) {
            all.push((key, value, true));
        }
    }
    let settings = all.into_iter().map(|(key, value, given)| {
        let unit = parameters::parameter(&name, &key).map_or("", |p| p.unit);
        Setting { value: written(&value, unit), raw: value, key, unit, given }
    });
    StepSettings { settings: settings.collect(), name }
}
