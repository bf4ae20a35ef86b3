//! Lists of what is built in: encodings, gamuts, displays, and steps with their settings.

use crate::display::STANDARDS;
use crate::gamut::CATALOGUE;
use crate::invalid::Parameter;
use crate::named::UnknownName;
use crate::setting::{Field, Takes, Value};
use crate::step::print::{PrintSettings, VARIANTS};
use crate::step::{KINDS, Kind, Role, Settings};
use crate::transfer::encodings;
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt;

/// The lists; those that were not asked for are null.
#[derive(Debug, Clone, PartialEq, Default, Serialize, JsonSchema)]
pub struct Catalogue {
    /// Encodings.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub curves: Option<Vec<Curve>>,
    /// Gamuts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gamuts: Option<Vec<Gamut>>,
    /// Displays.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub displays: Option<Vec<Display>>,
    /// Steps of a look.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub steps: Option<Vec<Step>>,
}

/// An encoding.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Curve {
    /// The name in documents.
    pub name: &'static str,
    /// The name in its own document.
    pub title: &'static str,
    /// The document.
    pub source: &'static str,
    /// The convention of the signal.
    pub signal: &'static str,
    /// The exposure indices with different constants.
    pub ei: &'static [u32],
}

/// A gamut.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Gamut {
    /// The name in documents.
    pub name: &'static str,
    /// The name in its own document.
    pub title: &'static str,
    /// The document.
    pub source: &'static str,
    /// CIE 1931 x, y of red, green and blue.
    pub primaries: [[f64; 2]; 3],
    /// CIE 1931 x, y of white.
    pub white: [f64; 2],
    /// The default adaptation of its white.
    pub adaptation: &'static str,
}

/// A display.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Display {
    /// The name in documents.
    pub name: &'static str,
    /// Its description.
    pub title: &'static str,
    /// The EOTF.
    pub eotf: &'static str,
    /// Peak luminance, nits.
    pub peak: f64,
}

/// A kind of step.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Step {
    /// The name in a look.
    pub name: &'static str,
    /// Its description.
    pub title: String,
    /// The variants that one of its settings names.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub variants: Option<Vec<&'static str>>,
    /// The numbers of each variant; null in the list of all steps.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub variant_numbers: Option<Vec<VariantNumbers>>,
    /// Every setting; null in the list of all steps.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub settings: Option<Vec<Setting>>,
    /// An example in TOML; null in the list of all steps.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub example: Option<String>,
}

/// A variant with its numbers.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct VariantNumbers {
    /// The name in documents.
    pub name: &'static str,
    /// One line of help.
    pub help: &'static str,
    /// The numbers by the key of their setting.
    pub numbers: BTreeMap<String, Numbers>,
}

/// The number of a setting, or its three numbers.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum Numbers {
    /// One.
    One(f64),
    /// Red, green and blue.
    Three([f64; 3]),
}

impl fmt::Display for Numbers {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::One(value) => f.pad(&value.to_string()),
            Self::Three(values) => f.pad(&values.map(|value| value.to_string()).join(" ")),
        }
    }
}

/// A setting of a step.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Setting {
    /// Its key path.
    pub key: String,
    /// The possible values and the default, in words.
    pub range: String,
    /// Whether it is required.
    pub required: bool,
    /// The default, in the form of a document.
    pub default: Option<String>,
    /// One line of help.
    pub help: String,
    /// The unit of a number; empty for a plain one.
    pub unit: Option<&'static str>,
    /// The lower bound of a number.
    pub min: Option<f64>,
    /// The upper bound.
    pub max: Option<f64>,
    /// What the picture looks like if the number is too low.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub too_low: Option<&'static str>,
    /// What the picture looks like if the number is too high.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub too_high: Option<&'static str>,
}

/// An entry of a list, for those who print it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Entry<'c> {
    /// The name in documents.
    pub name: &'c str,
    /// Its description.
    pub title: &'c str,
    /// The document that it is from; empty if there is none.
    pub source: &'c str,
}

/// A list of the catalogue.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum List {
    /// Encodings.
    Curves,
    /// Gamuts.
    Gamuts,
    /// Displays.
    Displays,
    /// Steps of a look.
    Steps,
}

rushlight_colour::named!(List, "list", {
    Curves => "curves", Gamuts => "gamuts", Displays => "displays", Steps => "steps",
});

impl Catalogue {
    /// All of one list, or of every one.
    pub fn of(list: Option<List>) -> Self {
        let of = |one| list.is_none_or(|list| list == one);
        Self {
            curves: of(List::Curves).then(curves),
            gamuts: of(List::Gamuts).then(gamuts),
            displays: of(List::Displays).then(displays),
            steps: of(List::Steps).then(|| KINDS.iter().map(Step::short).collect()),
        }
    }

    /// What has a name in one list, or in any: other lists stay, empty. A step of the list of steps has its settings.
    ///
    /// # Errors
    /// A name that is not in the one list.
    pub fn named(list: Option<List>, name: &str) -> Result<Self, UnknownName> {
        let mut all = Self::of(list);
        if let Some(list) = list {
            let names: Vec<&str> = all.entries(list).iter().map(|entry| entry.name).collect();
            if !names.contains(&name) {
                return Err(UnknownName::of(list.name().trim_end_matches('s'), name, names));
            }
        }
        all.curves.iter_mut().for_each(|l| l.retain(|e| e.name == name));
        all.gamuts.iter_mut().for_each(|l| l.retain(|e| e.name == name));
        all.displays.iter_mut().for_each(|l| l.retain(|e| e.name == name));
        all.steps.iter_mut().for_each(|l| l.retain(|e| e.name == name));
        if list == Some(List::Steps) {
            all.steps = Kind::named(name).map(|kind| vec![Step::whole(kind)]);
        }
        Ok(all)
    }

    /// The entries of a list.
    pub fn entries(&self, list: List) -> Vec<Entry<'_>> {
        macro_rules! entries {
            ($list:expr, $source:expr) => {
                $list.iter().flatten().map(|e| Entry { name: e.name, title: &e.title, source: $source(e) }).collect()
            };
        }
        match list {
            List::Curves => entries!(self.curves, |e: &Curve| e.source),
            List::Gamuts => entries!(self.gamuts, |e: &Gamut| e.source),
            List::Displays => entries!(self.displays, |_: &Display| ""),
            List::Steps => entries!(self.steps, |_: &Step| ""),
        }
    }
}

fn curves() -> Vec<Curve> {
    let made = |e: &crate::transfer::Encoding| Curve {
        name: e.name,
        title: e.title,
        source: e.source,
        signal: e.signal,
        ei: e.ratings,
    };
    encodings().iter().map(made).collect()
}

fn gamuts() -> Vec<Gamut> {
    let made = |g: &crate::gamut::Named| Gamut {
        name: g.name,
        title: g.title,
        source: g.source,
        primaries: g.gamut.primaries.map(|p| [p.x, p.y]),
        white: [g.gamut.white.x, g.gamut.white.y],
        adaptation: g.gamut.adaptation.name(),
    };
    CATALOGUE.iter().map(made).collect()
}

fn displays() -> Vec<Display> {
    let made =
        |s: &crate::display::Standard| Display { name: s.name, title: s.title, eotf: s.eotf.name(), peak: s.peak };
    STANDARDS.iter().map(made).collect()
}

impl Step {
    /// Its name and what it does.
    fn short(kind: &Kind) -> Self {
        let variants = kind.shape.field("variant").and_then(|field| match field.takes {
            Takes::Choice(names) => Some(names()),
            _ => None,
        });
        let title = match &variants {
            Some(variants) => format!("{} Variants: {}.", kind.help, variants.join(", ")),
            None => kind.help.to_owned(),
        };
        Self { name: kind.name, title, variants, variant_numbers: None, settings: None, example: None }
    }

    /// The same with its settings.
    pub fn whole(kind: &Kind) -> Self {
        Self {
            variant_numbers: variant_numbers(kind),
            settings: Some(settings(kind)),
            example: Some(format!("[[step]]\ndo = \"{}\"\n{}\n", kind.name, kind.example)),
            ..Self::short(kind)
        }
    }
}

/// The numbers of each variant of a kind of step; none where it has no variants.
fn variant_numbers(kind: &Kind) -> Option<Vec<VariantNumbers>> {
    if !matches!((kind.new)(), Settings::Print(_)) {
        return None;
    }
    let number = |(key, value): (String, Value)| match value {
        Value::Number(value) => Some((key, Numbers::One(value))),
        Value::Numbers(values) => Some((key, Numbers::Three(values.try_into().ok()?))),
        _ => None,
    };
    let made = VARIANTS.iter().filter_map(|variant| {
        let settings = Settings::from(PrintSettings::named(variant.name)?);
        let numbers = settings.values().into_iter().filter_map(number).collect();
        Some(VariantNumbers { name: variant.name, help: variant.help, numbers })
    });
    Some(made.collect())
}

/// What a kind of step works on, in a sentence.
pub const fn role(kind: &Kind) -> &'static str {
    match kind.role {
        Role::Scene => "Works on scene light.",
        Role::Rendering => "Gives display light: the last step of a look.",
        Role::Either => "Works on scene light; one that gives a display ends the look.",
    }
}

fn settings(kind: &Kind) -> Vec<Setting> {
    let made = |(key, field): (String, &'static Field)| {
        let default = kind.shape.default(&key).filter(|_| !field.required);
        let default = default.map(|value| match value {
            Value::Flag(yes) => yes.to_string(),
            value => value.written(""),
        });
        let range = match (&default, field.required) {
            (Some(default), _) => format!("{}; default {default}", range(field)),
            (None, true) => format!("{}; required", range(field)),
            (None, false) => range(field),
        };
        let p = field.parameter();
        let ends = kind.extremes.iter().find(|ends| ends.key == key);
        Setting {
            too_low: ends.map(|ends| ends.low),
            too_high: ends.map(|ends| ends.high),
            key,
            range,
            required: field.required,
            default,
            help: field.help().to_owned(),
            unit: p.map(|p| p.unit),
            min: p.map(|p| p.min),
            max: p.map(|p| p.max),
        }
    };
    kind.shape.leaves().into_iter().map(made).collect()
}

fn range(field: &Field) -> String {
    let numbers = |p: &Parameter| {
        let space = if p.unit.is_empty() { "" } else { " " };
        // As few digits as are worth reading: a bound of 2^-20 has twenty.
        let bound = |v: f64| if v != 0.0 && v.abs() < 1e-4 { format!("{v:.2e}") } else { v.to_string() };
        format!("{} to {}{space}{}", bound(p.min), bound(p.max), p.unit)
    };
    match field.takes {
        Takes::Number(p) => numbers(p),
        Takes::Three(p, parts) => format!("[{}], each {}", parts.join(", "), numbers(p)),
        Takes::Xy => "[x, y]".to_owned(),
        Takes::Whole => "a whole number".to_owned(),
        Takes::Flag => "true or false".to_owned(),
        Takes::Choice(names) => format!("one of {}", names().join(", ")),
        Takes::Text => "a text".to_owned(),
        Takes::Curve(_) => "a name of `rushlight list curves`, or the path of a curve file".to_owned(),
        Takes::Gamut(_) => {
            "a name of `rushlight list gamuts`, or a table of red, green, blue and white, each [x, y]".to_owned()
        }
        Takes::Table(shape) => shape.about.to_owned(),
    }
}

/// The JSON Schema of the lists.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(Catalogue).to_value()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_found_in_its_list_alone() {
        let one = Catalogue::named(Some(List::Gamuts), "bt709").unwrap();
        assert_eq!(one.gamuts.as_ref().map(Vec::len), Some(1));
        assert!(one.curves.is_none() && one.steps.is_none());
        let any = Catalogue::named(None, "bt709").unwrap();
        let counts = List::ALL.map(|list| any.entries(list).len());
        assert_eq!(counts, [0, 1, 1, 0], "a gamut and a display are called so");
        let wrong = Catalogue::named(Some(List::Curves), "slog4").unwrap_err();
        assert!(wrong.to_string().contains("unknown curve `slog4`: did you mean"), "{wrong}");
    }

    #[test]
    fn a_step_has_its_settings_with_their_defaults() {
        let one = Catalogue::named(Some(List::Steps), "print").unwrap();
        let step = &one.steps.as_ref().unwrap()[0];
        let contrast = step.settings.as_ref().unwrap().iter().find(|s| s.key == "contrast").unwrap();
        assert!(contrast.min < contrast.max && contrast.default.is_some() && !contrast.required);
        assert!(contrast.range.ends_with(&format!("default {}", contrast.default.as_ref().unwrap())));
        assert!(step.example.as_ref().unwrap().starts_with("[[step]]\ndo = \"print\"\n"));
        assert!(Catalogue::of(None).steps.unwrap().iter().all(|step| step.settings.is_none()));
    }
}
