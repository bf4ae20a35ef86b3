//! The controls of each kind of step: its settings, and what a page needs beyond them.

use rushlight::invalid::Parameter;
use rushlight::setting::{Field as Setting, Shape, Takes, Value};
use rushlight::step::{KINDS, Kind as StepKind, Role};
use serde::Serialize;

/// A kind of step.
#[derive(Debug, Serialize)]
pub(super) struct Kind {
    /// Its name in documents.
    r#do: &'static str,
    help: &'static str,
    /// It gives display light and ends the look.
    is_rendering: bool,
    fields: Vec<Field>,
}

/// A setting of a step.
#[derive(Debug, Serialize)]
struct Field {
    /// The key path within the step, such as `from.kelvin`.
    key: String,
    label: String,
    unit: &'static str,
    help: &'static str,
    /// What the picture looks like where a number is too low, and where it is too high.
    too_low: Option<&'static str>,
    too_high: Option<&'static str>,
    /// number, integer, vector2, vector3, choice, text or bool.
    r#type: &'static str,
    /// A step without it is refused.
    required: bool,
    min: Option<f64>,
    max: Option<f64>,
    /// Its default; null where another setting gives it.
    default: Option<Value>,
    /// A useful step and range of a slider.
    step: Option<f64>,
    soft_min: Option<f64>,
    soft_max: Option<f64>,
    /// Names to choose from; of a text, names that are known.
    choices: Vec<&'static str>,
    /// Names of the parts of a vector.
    parts: &'static [&'static str],
}

/// Every kind of step, in the order of the list.
pub(super) fn kinds() -> Vec<Kind> {
    KINDS.iter().map(kind).collect()
}

fn kind(kind: &StepKind) -> Kind {
    let must = required(kind.shape, "");
    let field = |(key, setting): (String, &Setting)| field(kind, must.contains(&key), key, setting);
    Kind {
        r#do: kind.name,
        help: kind.help,
        is_rendering: kind.role == Role::Rendering,
        fields: kind.shape.leaves().into_iter().map(field).collect(),
    }
}

/// The settings that a document must state, by their key paths: of a table that must be there and needs none in particular,
/// the first.
fn required(shape: &Shape, path: &str) -> Vec<String> {
    let mut all = Vec::new();
    for field in shape.fields.iter().filter(|field| field.required) {
        match field.takes {
            Takes::Table(shape) => {
                let path = format!("{path}{}.", field.key);
                let within = required(shape, &path);
                let first = shape.fields.first().map(|first| format!("{path}{}", first.key));
                all.extend(if within.is_empty() { first.into_iter().collect() } else { within });
            }
            _ => all.push(format!("{path}{}", field.key)),
        }
    }
    all
}

fn field(kind: &StepKind, required: bool, key: String, setting: &Setting) -> Field {
    let (shown, choices, parts): (_, _, &[&str]) = match setting.takes {
        Takes::Number(_) => ("number", Vec::new(), &[]),
        Takes::Three(_, parts) => ("vector3", Vec::new(), parts),
        Takes::Xy => ("vector2", Vec::new(), &["x", "y"]),
        Takes::Whole => ("integer", Vec::new(), &[]),
        Takes::Flag => ("bool", Vec::new(), &[]),
        Takes::Choice(names) => ("choice", names(), &[]),
        // Names that are built in, or a file's.
        Takes::Curve(names) | Takes::Gamut(names) => ("text", names(), &[]),
        Takes::Text | Takes::Table(_) => ("text", Vec::new(), &[]),
    };
    let parameter = setting.parameter();
    let ends = kind.extremes.iter().find(|ends| ends.key == key);
    let [soft_min, soft_max] = [0, 1].map(|i| parameter.map(|p| soft(p)[i]));
    Field {
        label: key.replace(['_', '.'], " "),
        unit: setting.unit(),
        help: setting.help(),
        too_low: ends.map(|ends| ends.low),
        too_high: ends.map(|ends| ends.high),
        r#type: shown,
        required,
        min: parameter.map(|p| p.min),
        max: parameter.map(|p| p.max),
        default: kind.shape.default(&key).filter(|_| !required),
        step: soft_max.zip(soft_min).map(|(high, low)| fine((high - low) / 200.0)),
        soft_min,
        soft_max,
        choices,
        parts,
        key,
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
        for kind in &kinds {
            assert!(!kind.fields.is_empty() && !kind.help.is_empty(), "{}", kind.r#do);
            for field in &kind.fields {
                let name = format!("{}.{}", kind.r#do, field.key);
                assert!(!field.help.is_empty(), "{name} has no help");
                assert_eq!(field.too_low.is_some(), field.too_high.is_some(), "{name}");
                if let (Some(min), Some(max)) = (field.min, field.max) {
                    let (low, high) = (field.soft_min.unwrap(), field.soft_max.unwrap());
                    assert!(min <= low && low < high && high <= max, "{name}: {low} to {high} of {min} to {max}");
                    assert!(field.step.is_some_and(|s| s > 0.0 && s <= (high - low) / 20.0), "{name}");
                }
            }
        }
        let renderings: Vec<&str> = kinds.iter().filter(|k| k.is_rendering).map(|k| k.r#do).collect();
        assert_eq!(renderings, ["print", "tone"]);
        let find = |what: &str, key: &str| {
            let kind = kinds.iter().find(|k| k.r#do == what).unwrap();
            kind.fields.iter().find(|f| f.key == key).unwrap_or_else(|| panic!("{what}.{key}"))
        };
        assert_eq!(find("exposure", "stops").unit, "stops");
        assert_eq!(find("balance", "from.kelvin").r#type, "number");
        assert_eq!(find("balance", "from.xy").r#type, "vector2");
        assert_eq!(find("tint", "shadows").r#type, "vector3");
        assert_eq!(find("compress", "limits").parts, ["cyan", "magenta", "yellow"]);
        assert_eq!(find("tint", "keep_grey").r#type, "bool");
        assert_eq!(find("print", "variant").r#type, "choice");
        assert_eq!(find("cube", "expects.ei").r#type, "integer");
        assert_eq!(find("cube", "expects.curve").r#type, "text");
        assert!(find("cube", "expects.curve").choices.contains(&"slog3"));
        assert_eq!(find("print", "contrast").default, Some(Value::Number(find("tone", "contrast").default_number())));
        let must: Vec<&str> =
            kinds.iter().flat_map(|k| &k.fields).filter(|f| f.required).map(|f| f.key.as_str()).collect();
        assert_eq!(
            must,
            ["from.kelvin", "points", "amount", "amount", "file", "expects.curve", "expects.gamut", "gives.curve"]
        );
    }

    impl Field {
        fn default_number(&self) -> f64 {
            match self.default {
                Some(Value::Number(value)) => value,
                _ => panic!("{} has no number", self.key),
            }
        }
    }

    #[test]
    fn sliders_step_finely() {
        for (value, step) in [(0.04, 0.02), (52.0, 50.0), (0.5, 0.5), (0.0019, 0.001), (3.0, 2.0)] {
            assert_eq!(fine(value), step);
        }
    }
}
