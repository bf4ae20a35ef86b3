//! The settings of each step by the key path that a document gives them under: their units, and what they are when left
//! out.

use crate::cube::Interpolation;
use crate::invalid::Parameter;
use crate::step::compress::{self, PUBLISHED_LIMITS, PUBLISHED_POWER, PUBLISHED_THRESHOLDS};
use crate::step::print::{PrintSettings, VARIANTS, parameters as print, variant};
use crate::step::{balance, cdl, contrast, cube, exposure, printer, saturation, tint};
use toml::{Table, Value};

/// The numbers of a step named `name`, the first the one that it is mostly set by.
pub fn parameters(name: &str) -> &'static [Parameter] {
    match name {
        "exposure" => &[exposure::STOPS, exposure::FACTOR],
        "balance" => &[balance::KELVIN, balance::TINT],
        "cdl" => &[cdl::SLOPE, cdl::OFFSET, cdl::POWER, cdl::SATURATION],
        "printer" => &[printer::POINTS, printer::PER_STOP],
        "saturation" => &[saturation::AMOUNT],
        "contrast" => &[contrast::AMOUNT, contrast::PIVOT],
        "tint" => &TINT,
        "compress" => &[compress::LIMITS, compress::THRESHOLDS, compress::POWER],
        "cube" => &[cube::STRENGTH],
        "print" => &print::ALL,
        "tone" => &TONE,
        _ => &[],
    }
}

/// The number under `path` of a step named `name`, such as `kelvin` of `balance` under `from.kelvin`.
pub fn parameter(name: &str, path: &str) -> Option<Parameter> {
    let key = path.rsplit('.').next().unwrap_or(path);
    parameters(name).iter().find(|p| p.key == key).copied()
}

static TINT: [Parameter; 6] = [
    tint::SHADOWS,
    tint::HIGHLIGHTS,
    tint::SHADOW_START,
    tint::SHADOW_WIDTH,
    tint::HIGHLIGHT_START,
    tint::HIGHLIGHT_WIDTH,
];
static TONE: [Parameter; 5] = [print::GREY, print::CONTRAST, print::TOE, print::SHOULDER, print::BLACK];

fn list(values: [f64; 3]) -> Value {
    Value::Array(values.map(Value::Float).to_vec())
}

fn defaults_of(parameters: &[Parameter]) -> impl Iterator<Item = (&'static str, Value)> {
    parameters.iter().map(|p| (p.key, Value::Float(p.default)))
}

/// What a step named `name` goes by where its table, `given`, leaves a key out.
pub(crate) fn defaults(name: &str, given: &Table) -> Vec<(&'static str, Value)> {
    let zero = || list([0.0; 3]);
    match name {
        "balance" => vec![("adaptation", "bradford".into())],
        // The numbers stand in the file.
        "cdl" if given.contains_key("file") => vec![("clamp", false.into())],
        "cdl" => vec![
            ("slope", list([cdl::SLOPE.default; 3])),
            ("offset", zero()),
            ("power", list([cdl::POWER.default; 3])),
            ("saturation", cdl::SATURATION.default.into()),
            ("clamp", false.into()),
        ],
        "printer" => defaults_of(&[printer::PER_STOP]).collect(),
        "contrast" => defaults_of(&[contrast::PIVOT]).collect(),
        "tint" => {
            let zones = defaults_of(&TINT[2..]);
            let keeps = [("keep_grey", true.into()), ("keep_luminance", true.into())];
            [("shadows", zero()), ("highlights", zero())].into_iter().chain(zones).chain(keeps).collect()
        }
        "compress" => vec![
            ("limits", list(PUBLISHED_LIMITS)),
            ("thresholds", list(PUBLISHED_THRESHOLDS)),
            ("power", PUBLISHED_POWER.into()),
        ],
        "cube" => {
            let strength = defaults_of(&[cube::STRENGTH]);
            [("interpolation", Interpolation::default().name().into())].into_iter().chain(strength).collect()
        }
        "print" => {
            let named = given.get("variant").and_then(Value::as_str).and_then(variant).unwrap_or(&VARIANTS[0]);
            let s: &PrintSettings = &named.settings;
            let numbers = [
                (print::EXPOSURE, s.exposure),
                (print::GREY, s.grey),
                (print::CONTRAST, s.contrast),
                (print::TOE, s.toe),
                (print::SHOULDER, s.shoulder),
                (print::BLACK, s.black),
                (print::COLOUR, s.colour),
                (print::HUE, s.hue),
                (print::CROSSTALK, s.crosstalk),
                (print::KELVIN, s.kelvin),
                (print::FLARE, s.flare),
            ];
            let numbers = numbers.into_iter().map(|(p, value)| (p.key, Value::Float(value)));
            let first = [("variant", named.name.into())];
            first.into_iter().chain(numbers).chain([(print::LIGHTS.key, list(s.lights))]).collect()
        }
        "tone" => defaults_of(&TONE).chain([("per_channel", false.into())]).collect(),
        _ => Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every number of the schema is known here, with the same bounds.
    #[test]
    fn no_number_of_a_document_is_missing() {
        fn numbers(schema: &serde_json::Value, path: &str, found: &mut Vec<(String, f64, f64)>) {
            let entry = if schema["type"] == "array" { &schema["items"] } else { schema };
            if let (Some(min), Some(max)) = (entry["minimum"].as_f64(), entry["maximum"].as_f64()) {
                found.push((path.to_owned(), min, max));
            }
        }
        let schema = crate::look::schema();
        let defs = &schema["$defs"];
        let steps = defs["StepDoc"]["oneOf"].as_array().unwrap();
        assert_eq!(steps.len(), crate::look::STEPS.len());
        let mut count = 0;
        for step in steps {
            let name = step["properties"]["do"]["const"].as_str().unwrap();
            let mut properties: Vec<&serde_json::Value> = vec![&step["properties"]];
            if let Some(link) = step["$ref"].as_str() {
                properties.push(&defs[link.rsplit('/').next().unwrap()]["properties"]);
            }
            let mut found = Vec::new();
            for (key, value) in properties.iter().filter_map(|p| p.as_object()).flatten() {
                numbers(value, key, &mut found);
            }
            for (key, min, max) in found {
                let known = parameter(name, &key).unwrap_or_else(|| panic!("{name}.{key}"));
                assert_eq!((known.min, known.max), (min, max), "{name}.{key}");
                count += 1;
            }
        }
        assert!(count > 35, "{count}");
    }
}
