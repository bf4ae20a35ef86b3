//! `list steps NAME`: a step with all its settings.

use crate::failure::Failure;
use crate::output::{self, wrap};
use rushlight::invalid::Parameter;
use rushlight::message::unknown;
use rushlight::setting::{Field, Takes, Value};
use rushlight::step::{KINDS, Kind, Role};
use serde_json::{Value as Json, json};
use std::fmt::Write as _;

pub(super) fn run(name: &str, as_json: bool) -> Result<(), Failure> {
    let kind = Kind::named(name);
    let kind = kind.ok_or_else(|| Failure::new(unknown("step", name, KINDS.iter().map(|kind| kind.name))))?;
    if as_json {
        let mut entry = entry(kind);
        entry["settings"] = settings(kind).iter().map(Setting::to_json).collect();
        entry["example"] = example(kind).into();
        return output::print_json(&json!({ "steps": [entry] }));
    }
    output::print(&text(kind))
}

/// A kind of step in the list of all: its name and what it does, with the variants that one of its settings names.
pub(super) fn entry(kind: &Kind) -> Json {
    let variants = kind.shape.field("variant").and_then(|field| match field.takes {
        Takes::Choice(names) => Some(names()),
        _ => None,
    });
    match variants {
        Some(variants) => {
            let title = format!("{} Variants: {}.", kind.help, variants.join(", "));
            json!({ "name": kind.name, "title": title, "variants": variants })
        }
        None => json!({ "name": kind.name, "title": kind.help }),
    }
}

/// A step as it stands in a look.
fn example(kind: &Kind) -> String {
    format!("[[step]]\ndo = \"{}\"\n{}\n", kind.name, kind.example)
}

fn text(kind: &Kind) -> String {
    let role = match kind.role {
        Role::Scene => "Works on scene light.",
        Role::Rendering => "Gives display light: the last step of a look.",
        Role::Either => "Works on scene light; one that gives a display ends the look.",
    };
    let mut text = String::new();
    for line in wrap(&format!("{}: {} {role}", kind.name, kind.help), 80) {
        let _ = writeln!(text, "{line}");
    }
    let settings = settings(kind);
    let width = settings.iter().map(|setting| setting.key.len()).max().unwrap_or_default();
    for setting in &settings {
        let _ = writeln!(text);
        let lines = [setting.range.as_str(), setting.field.help()].into_iter().flat_map(|part| wrap(part, 76 - width));
        for (i, line) in lines.enumerate() {
            let key = if i == 0 { setting.key.as_str() } else { "" };
            let _ = writeln!(text, "  {key:<width$}  {line}");
        }
    }
    let _ = writeln!(text, "\nExample:\n");
    for line in example(kind).lines() {
        let _ = writeln!(text, "  {line}");
    }
    text
}

/// A setting by its key path.
struct Setting {
    key: String,
    field: &'static Field,
    default: Option<String>,
    /// What can be set, and what holds where it is not.
    range: String,
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
            (None, true) => format!("{}; must be stated", range(field)),
            (None, false) => range(field),
        };
        Setting { key, field, default, range }
    };
    kind.shape.leaves().into_iter().map(made).collect()
}

impl Setting {
    fn to_json(&self) -> Json {
        let Setting { key, field, default, range } = self;
        let p = field.parameter();
        json!({ "key": key, "range": range, "required": field.required, "default": default, "help": field.help(),
            "unit": p.map(|p| p.unit), "min": p.map(|p| p.min), "max": p.map(|p| p.max) })
    }
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
