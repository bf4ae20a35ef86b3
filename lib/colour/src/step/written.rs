//! A step's settings as a document writes them: some stated, the others left to their defaults.

use super::cdl::CdlNumbers;
use super::space::CurveName;
use super::words::{self, Sentence};
use super::{Context, Kind, Maths, Settings};
use crate::cube::Cube;
use crate::invalid::Refusals;
use crate::setting::{Field, Value};
use crate::transfer::Transfer;
use std::collections::BTreeSet;
use std::sync::Arc;

/// The settings of a step, and which of them a document states.
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    settings: Settings,
    stated: BTreeSet<String>,
}

/// A setting by its key path.
#[derive(Debug, Clone, PartialEq)]
pub struct Set {
    /// The key path within the step, such as `from.kelvin`.
    pub key: String,
    /// Its value.
    pub value: Value,
    /// Its unit; empty for a plain number.
    pub unit: &'static str,
    /// Whether the document states it; otherwise it is the default.
    pub stated: bool,
}

impl Written {
    /// Settings of which a document states `stated`, by their key paths.
    pub const fn new(settings: Settings, stated: BTreeSet<String>) -> Self {
        Self { settings, stated }
    }

    /// Settings of which no more is stated than is needed.
    pub fn of(settings: Settings) -> Self {
        let base = settings.base();
        let shape = settings.kind().shape;
        let must = |key: &str| {
            let top = key.split('.').next().unwrap_or(key);
            shape.field(top).is_some_and(|field| field.required)
        };
        let news = |(key, value): &(String, Value)| must(key) || !base.iter().any(|(k, v)| k == key && v == value);
        let stated = settings.values().into_iter().filter(news).map(|(key, _)| key).collect();
        Self { settings, stated }
    }

    /// The settings.
    pub const fn settings(&self) -> &Settings {
        &self.settings
    }

    /// The kind of step.
    pub fn kind(&self) -> &'static Kind {
        self.settings.kind()
    }

    /// Whether the document states a setting, by its key path.
    pub fn states(&self, key: &str) -> bool {
        self.stated.contains(key)
    }

    /// The maths of the settings, with the files that `context` finds.
    ///
    /// # Errors
    /// Everything that the settings get wrong, by key.
    pub fn make(&self, context: &dyn Context) -> Result<Maths, Refusals> {
        self.settings.make(&Stating { written: self, context })
    }

    /// Every setting that has an effect, those that are not set with their defaults.
    pub fn values(&self) -> Vec<Set> {
        let kind = self.kind();
        let set = |(key, value): (String, Value)| {
            let unit = kind.shape.field(&key).map_or("", Field::unit);
            Set { stated: self.states(&key), value, unit, key }
        };
        self.settings.values().into_iter().map(set).collect()
    }

    /// What is stated, such as `: -0.4 stops`; empty where nothing is.
    pub fn said(&self) -> String {
        let kind = self.kind();
        let said = |set: &Set| {
            let phrase = phrase(kind, kind.name, &set.key);
            let key = phrase.strip_prefix(kind.name).unwrap_or(&phrase).trim();
            let space = if key.is_empty() { "" } else { " " };
            format!("{key}{space}{}{}", set.value.written(set.unit), unit(&phrase, set.unit))
        };
        let stated: Vec<String> = self.values().iter().filter(|set| set.stated).map(said).collect();
        if stated.is_empty() { String::new() } else { format!(": {}", stated.join(", ")) }
    }

    /// What the step does, in sentences for people who do not read TOML.
    pub fn sentence(&self) -> Sentence {
        let kind = self.kind();
        let words = self.settings.describe(&|key| self.states(key));
        Sentence { step: kind.name.to_owned(), title: kind.title.to_owned(), words: words::capital(&words) }
    }
}

/// A context that knows what a document states.
struct Stating<'w> {
    written: &'w Written,
    context: &'w dyn Context,
}

impl Context for Stating<'_> {
    fn states(&self, key: &str) -> bool {
        self.written.states(key)
    }

    fn curve(&self, name: &CurveName, ei: Option<u32>) -> Result<Arc<dyn Transfer>, Refusals> {
        self.context.curve(name, ei)
    }

    fn cube(&self, file: &str) -> Result<Arc<Cube>, Refusals> {
        self.context.cube(file)
    }

    fn correction(&self, file: &str, id: Option<&str>) -> Result<CdlNumbers, Refusals> {
        self.context.correction(file, id)
    }
}

/// A setting in words, below a step that is called `title`.
pub fn phrase(kind: &Kind, title: &str, key: &str) -> String {
    if key == kind.main { title.to_owned() } else { format!("{title} {}", key.replace(['_', '.'], " ")) }
}

/// A unit after a number, unless the phrase before it says it already.
pub fn unit(phrase: &str, unit: &str) -> String {
    if unit.is_empty() || phrase.ends_with(unit) { String::new() } else { format!(" {unit}") }
}
