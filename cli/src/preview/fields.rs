//! The steps that a look can have, and the settings of each, as the schema of the look document tells them.

use rushlight::invalid::Parameter;
use rushlight::look::{self, Look};
use serde::Serialize;
use serde_json::{Map, Value as Json};
use std::collections::BTreeMap;
use std::sync::OnceLock;
use toml_edit::{Array, Value};

/// A kind of step.
#[derive(Debug, Serialize)]
pub(super) struct Kind {
    /// Its name in documents.
    #[serde(rename = "do")]
    pub(super) what: String,
    pub(super) help: String,
    /// It gives display light and ends the look.
    pub(super) is_rendering: bool,
    pub(super) fields: Vec<Field>,
}

/// A setting of a step.
#[derive(Debug, Default, Serialize)]
pub(super) struct Field {
    /// The key path within the step, such as `from.kelvin`.
    pub(super) key: String,
    pub(super) label: String,
    pub(super) unit: String,
    pub(super) help: String,
    /// number, integer, vector2, vector3, choice, text, bool or table.
    #[serde(rename = "type")]
    pub(super) kind: &'static str,
    /// A step without it is refused.
    pub(super) required: bool,
    pub(super) min: Option<f64>,
    pub(super) max: Option<f64>,
    /// What the step goes by when it is left out; null where something else says so.
    pub(super) default: Json,
    /// A useful step and range of a slider.
    pub(super) step: Option<f64>,
    pub(super) soft_min: Option<f64>,
    pub(super) soft_max: Option<f64>,
    /// Names to choose from; of a text, names that are known.
    pub(super) choices: Vec<String>,
    /// Names of the parts of a vector.
    pub(super) parts: &'static [&'static str],
}

/// Every kind of step, in the order of the catalogue.
pub(super) fn kinds() -> &'static [Kind] {
    static KINDS: OnceLock<Vec<Kind>> = OnceLock::new();
    KINDS.get_or_init(|| {
        let schema = look::schema();
        look::STEPS.iter().map(|(what, help)| kind(&schema, what, help)).collect()
    })
}

/// The setting under `key` of a step.
pub(super) fn field(what: &str, key: &str) -> Option<&'static Field> {
    kinds().iter().find(|k| k.what == what)?.fields.iter().find(|f| f.key == key)
}

impl Kind {
    /// The settings that a new step begins with: those that it must have, at their defaults.
    pub(super) fn beginning(&self) -> Vec<(&str, Value)> {
        let needed: Vec<&Field> = self.fields.iter().filter(|f| f.required).collect();
        // Where no setting is needed and none has a default, one of several is: the first.
        let optional = needed.is_empty() && self.fields.iter().all(|f| f.default.is_null());
        let needed = if optional { self.fields.first().into_iter().collect() } else { needed };
        needed.into_iter().map(|f| (f.key.as_str(), f.beginning(&self.what))).collect()
    }
}

impl Field {
    fn beginning(&self, what: &str) -> Value {
        let default = look::parameter(what, &self.key).map_or(0.0, |p| p.default);
        match self.kind {
            "number" => default.into(),
            "integer" => 0.into(),
            "vector2" => Value::Array([default; 2].into_iter().collect::<Array>()),
            "vector3" => Value::Array([default; 3].into_iter().collect::<Array>()),
            "bool" => false.into(),
            _ => self.choices.first().map(String::as_str).unwrap_or_default().into(),
        }
    }
}

fn kind(schema: &Json, what: &str, help: &str) -> Kind {
    let defs = &schema["$defs"];
    let steps = defs["StepDoc"]["oneOf"].as_array().map(Vec::as_slice).unwrap_or_default();
    let own = steps.iter().find(|step| step["properties"]["do"]["const"] == what);
    let mut fields = Vec::new();
    if let Some(own) = own {
        let table = if own["$ref"].is_string() { follow(own, defs) } else { own };
        let defaults: BTreeMap<String, Json> = look::settings(&format!("[[step]]\ndo = '{what}'\n"))
            .into_iter()
            .flat_map(|step| step.settings)
            .filter_map(|s| Some((s.key, serde_json::to_value(s.raw).ok()?)))
            .collect();
        let within = Within { defs, what, defaults: &defaults };
        within.table(table, "", true, &mut fields);
        // The schema has its keys by the alphabet; people look for what a step is set by.
        let numbers = look::parameters(what);
        let place = |f: &Field| numbers.iter().position(|p| f.key.rsplit('.').next() == Some(p.key));
        let outer = |f: &Field| f.key.split_once('.').map(|(outer, _)| outer.to_owned());
        fields.sort_by_key(|f| (outer(f), place(f).is_none(), place(f)));
    }
    let mut kind = Kind { what: what.to_owned(), help: help.to_owned(), is_rendering: false, fields };
    // What makes a look by itself is a rendering.
    let alone = super::edit::alone(&kind);
    kind.is_rendering = Look::parse("look.toml", &alone, &BTreeMap::new()).is_ok();
    kind
}

/// What a reference of the schema leads to.
fn follow<'s>(schema: &'s Json, defs: &'s Json) -> &'s Json {
    match schema["$ref"].as_str().and_then(|link| link.rsplit('/').next()) {
        Some(name) => &defs[name],
        None => schema,
    }
}

/// A step's part of the schema.
struct Within<'s> {
    defs: &'s Json,
    what: &'s str,
    defaults: &'s BTreeMap<String, Json>,
}

impl Within<'_> {
    /// The settings of a table under `path`.
    fn table(&self, table: &Json, path: &str, required: bool, fields: &mut Vec<Field>) {
        let none = Map::new();
        let needed: Vec<&str> = table["required"].as_array().into_iter().flatten().filter_map(Json::as_str).collect();
        let first = fields.len();
        for (key, schema) in table["properties"].as_object().unwrap_or(&none).iter().filter(|(key, _)| *key != "do") {
            let key_path = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
            self.add(schema, key_path, required && needed.contains(&key.as_str()), fields);
        }
        // A table that must be there begins with its first setting, where none is needed in it.
        if required
            && !path.is_empty()
            && needed.is_empty()
            && let Some(field) = fields.get_mut(first)
        {
            field.required = true;
        }
    }

    fn add(&self, schema: &Json, key: String, required: bool, fields: &mut Vec<Field>) {
        let mut variants: Vec<&Json> = vec![schema];
        if let Some(any) = schema["anyOf"].as_array() {
            variants = any.iter().filter(|v| v["type"] != "null").collect();
        }
        let mut variants: Vec<&Json> = variants.into_iter().map(|v| follow(v, self.defs)).collect();
        let whole = variants.first().copied().unwrap_or(schema);
        if let [one] = variants.as_slice()
            && let Some(any) = one["anyOf"].as_array()
        {
            variants = any.iter().map(|v| follow(v, self.defs)).collect();
        }
        let first = variants.first().copied().unwrap_or(schema);
        if variants.len() == 1 && first["properties"].is_object() {
            return self.table(first, &key, required, fields);
        }
        let parameter = look::parameter(self.what, &key);
        let said = schema["description"]
            .as_str()
            .or(whole["description"].as_str())
            .or(first["description"].as_str())
            .unwrap_or_default();
        let choices = variants.iter().flat_map(|v| v["enum"].as_array().into_iter().flatten());
        let mut field = Field {
            label: key.replace(['_', '.'], " "),
            kind: of_type(first, variants.len()),
            help: parameter
                .map_or_else(|| said.split_whitespace().collect::<Vec<_>>().join(" "), |p| p.help.to_owned()),
            required,
            default: self.defaults.get(&key).cloned().unwrap_or_default(),
            choices: choices.filter_map(Json::as_str).map(str::to_owned).collect(),
            key,
            ..Field::default()
        };
        field.parts = match field.kind {
            "vector2" => &["x", "y"],
            // Its limits and thresholds are distances from grey towards each.
            "vector3" if self.what == "compress" => &["cyan", "magenta", "yellow"],
            "vector3" => &["red", "green", "blue"],
            _ => &[],
        };
        if let Some(p) = parameter {
            let [soft_min, soft_max] = soft(&p);
            field.unit = p.unit.to_owned();
            (field.min, field.max) = (Some(p.min), Some(p.max));
            (field.soft_min, field.soft_max) = (Some(soft_min), Some(soft_max));
            field.step = Some(fine((soft_max - soft_min) / 200.0));
        }
        fields.push(field);
    }
}

/// What a page shows a setting as.
fn of_type(schema: &Json, variants: usize) -> &'static str {
    let is = |name: &str| schema["type"] == name || schema["type"].as_array().is_some_and(|t| t.contains(&name.into()));
    match () {
        // Names that are built in, or a file's.
        () if schema["enum"].is_array() && variants > 1 => "text",
        () if schema["enum"].is_array() => "choice",
        () if is("boolean") => "bool",
        () if is("integer") => "integer",
        () if is("number") => "number",
        () if is("array") => match schema["maxItems"].as_u64() {
            Some(2) => "vector2",
            Some(3) => "vector3",
            _ => "table",
        },
        () if is("string") => "text",
        () => "table",
    }
}

/// The part of a number's bounds in which looks are made, by its unit and its default.
fn soft(p: &Parameter) -> [f64; 2] {
    let Parameter { min, max, default, unit, .. } = *p;
    let within = |low: f64, high: f64| [low.max(min), high.min(max)];
    if unit == "K" {
        within(0.4 * default, 2.0 * default)
    } else if min > 0.0 && max / min > 1e4 {
        within(default / 8.0, default * 8.0)
    } else if unit.starts_with("stops") && min < 0.0 {
        within(default - 4.0, default + 4.0)
    } else if min < 0.0 {
        let reach = (max - default).min(default - min) / 4.0;
        within(default - reach, default + reach)
    } else if default > 0.0 {
        within(min, 2.5 * default)
    } else {
        within(min, max)
    }
}

/// The largest of 1, 2 and 5 times a power of ten that is not over `value`.
fn fine(value: f64) -> f64 {
    let digits = format!("{value:e}");
    let Some((mantissa, exponent)) = digits.split_once('e') else { return value };
    let first = match mantissa.parse::<f64>() {
        Ok(m) if m >= 5.0 => 5,
        Ok(m) if m >= 2.0 => 2,
        _ => 1,
    };
    format!("{first}e{exponent}").parse().unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_step_has_its_settings_with_bounds_and_help() {
        let kinds = kinds();
        assert_eq!(kinds.len(), look::STEPS.len());
        for kind in kinds {
            assert!(!kind.fields.is_empty() && !kind.help.is_empty(), "{}", kind.what);
            for field in &kind.fields {
                let name = format!("{}.{}", kind.what, field.key);
                assert!(!field.help.is_empty() || field.kind == "bool" || field.kind == "table", "{name} has no help");
                if let (Some(min), Some(max)) = (field.min, field.max) {
                    let (low, high) = (field.soft_min.unwrap(), field.soft_max.unwrap());
                    assert!(min <= low && low < high && high <= max, "{name}: {low} to {high} of {min} to {max}");
                    assert!(field.step.is_some_and(|s| s > 0.0 && s <= (high - low) / 20.0), "{name}");
                }
            }
        }
        let renderings: Vec<&str> = kinds.iter().filter(|k| k.is_rendering).map(|k| k.what.as_str()).collect();
        assert_eq!(renderings, ["print", "tone"]);
        let find = |what: &str, key: &str| field(what, key).unwrap_or_else(|| panic!("{what}.{key}"));
        assert_eq!(find("exposure", "stops").unit, "stops");
        assert_eq!(find("balance", "from.kelvin").kind, "number");
        assert_eq!(find("balance", "from.xy").kind, "vector2");
        assert_eq!(find("tint", "shadows").kind, "vector3");
        assert_eq!(find("tint", "keep_grey").kind, "bool");
        assert_eq!(find("print", "variant").kind, "choice");
        assert_eq!(find("cube", "expects.ei").kind, "integer");
        assert_eq!(find("cube", "expects.curve").kind, "text");
        assert!(find("cube", "expects.curve").choices.contains(&"slog3".to_owned()));
        assert_eq!(
            find("print", "contrast").default,
            serde_json::json!(look::parameter("print", "contrast").unwrap().default)
        );
    }

    #[test]
    fn sliders_step_finely() {
        for (value, step) in [(0.04, 0.02), (52.0, 50.0), (0.5, 0.5), (0.0019, 0.001), (3.0, 2.0)] {
            assert_eq!(fine(value), step);
        }
    }
}
