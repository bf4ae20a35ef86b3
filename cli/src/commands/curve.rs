//! `curve`

use super::probe::no_signal;
use crate::args::Curve;
use crate::disk::read_text;
use crate::failure::Failure;
use crate::output;
use crate::target;
use rushlight::curve_file;
use rushlight::math::exp2;
use rushlight::message::unknown;
use rushlight::transfer::{Light, MID_GREY, Transfer, encoding, encodings};
use schemars::JsonSchema;
use serde::Serialize;
use std::fmt::Write as _;
use std::path::Path;
use std::sync::Arc;

/// A curve with its title and its source.
struct Described {
    title: String,
    source: String,
    light: Light,
    signal: String,
    /// The EI that the curve is for, where it has one by EI.
    ei: Option<u32>,
    transfer: Arc<dyn Transfer>,
}

#[derive(Serialize, JsonSchema)]
struct Value {
    /// The value given: light to encode, signal to decode.
    r#in: f64,
    /// What the curve makes of it.
    out: f64,
}

#[derive(Serialize, JsonSchema)]
struct Values<'a> {
    /// Name of the curve, or its file.
    curve: &'a str,
    /// The exposure index, where the curve has one by it.
    ei: Option<u32>,
    /// `encode` or `decode`.
    direction: &'static str,
    /// The values, in the order given.
    values: Vec<Value>,
}

#[derive(Serialize, JsonSchema)]
struct Summary<'a> {
    /// Name of the curve, or its file.
    curve: &'a str,
    /// The exposure index, where the curve has one by it.
    ei: Option<u32>,
    /// Its title.
    title: &'a str,
    /// Where it is published.
    source: &'a str,
    /// The unit of light.
    light: &'static str,
    /// The unit of signal.
    signal: &'a str,
    /// Places on the curve.
    values: Vec<Row>,
}

#[derive(Serialize, JsonSchema)]
struct Row {
    #[serde(skip_serializing_if = "Option::is_none")]
    /// Stops from mid-grey; a display's curve has none.
    stops: Option<f64>,
    /// Light.
    light: f64,
    /// Signal, 0 to 1.
    signal: f64,
    /// Code value of 10 bits.
    code_10: f64,
    /// Code value of 12 bits.
    code_12: f64,
}

/// What is printed as JSON.
#[derive(Serialize, JsonSchema)]
#[serde(untagged)]
#[schemars(title = "Rushlight curve")]
enum Report<'a> {
    /// Of values that were given.
    Values(Values<'a>),
    /// Of a curve by itself.
    Summary(Summary<'a>),
}

/// The JSON Schema of the report.
pub(crate) fn schema() -> serde_json::Value {
    schemars::schema_for!(Report<'static>).to_value()
}

pub(crate) fn run(args: &Curve) -> Result<(), Failure> {
    let curve = find(args)?;
    let (direction, given): (_, &[f64]) = match (args.encode.is_empty(), args.decode.is_empty()) {
        (false, _) => ("encode", &args.encode),
        (_, false) => ("decode", &args.decode),
        _ => return summary(args, &curve),
    };
    let apply = |v: f64| if direction == "encode" { curve.transfer.encode(v) } else { curve.transfer.decode(v) };
    if let Some(bad) = given.iter().find(|v| !v.is_finite()) {
        return Err(Failure::new(format!("--{direction}: {bad} is not a finite number")));
    }
    let values: Vec<Value> = given.iter().map(|v| Value { r#in: *v, out: apply(*v) }).collect();
    if let Some(Value { r#in: given, .. }) = values.iter().find(|v| !v.out.is_finite()) {
        return Err(Failure::new(match direction {
            "decode" => format!("--decode: {}", no_signal(*given)),
            _ => format!("--{direction}: {given} is out of range: the result is not a finite number"),
        }));
    }
    if args.json {
        return output::print_json(&Report::Values(Values { curve: &args.name, ei: curve.ei, direction, values }));
    }
    output::print(&values.iter().map(|v| format!("{} {}\n", v.r#in, v.out)).collect::<String>())
}

fn find(args: &Curve) -> Result<Described, Failure> {
    let name = &args.name;
    if name.ends_with(".toml") {
        if args.ei.is_some() {
            return Err(Failure::new("--ei: the curve of a curve file is the same at every EI"));
        }
        let text = read_text(Path::new(name))?;
        let file = curve_file::parse(name, &text).map_err(|p| Failure::Documents(vec![p]))?;
        return Ok(Described {
            title: file.title().to_owned(),
            source: file.source().to_owned(),
            light: Light::SceneReflectance,
            signal: "code value / 1023, full range".to_owned(),
            ei: None,
            transfer: file.transfer(),
        });
    }
    let found = encoding(name).ok_or_else(|| {
        let names = encodings().iter().map(|e| e.name);
        Failure::new(target::or_file(unknown("curve", name, names)))
    })?;
    Ok(Described {
        title: found.title.to_owned(),
        source: found.source.to_owned(),
        light: found.light,
        signal: found.signal.to_owned(),
        ei: args.ei.or(found.base_rating),
        transfer: found.build(args.ei).map_err(Failure::options)?,
    })
}

fn light_unit(light: Light) -> &'static str {
    match light {
        Light::SceneReflectance => "scene reflectance, 0.18 is mid-grey",
        Light::SceneFraction => "scene light, 1 gives signal 1",
        Light::Nits => "display light, nits",
        Light::FractionOfWhite => "display light, 1 is white",
    }
}

fn summary(args: &Curve, curve: &Described) -> Result<(), Failure> {
    let row = |stops: Option<f64>, light: f64| {
        let signal = curve.transfer.encode(light);
        Row { stops, light, signal, code_10: signal * 1023.0, code_12: signal * 4095.0 }
    };
    let values: Vec<Row> = match curve.light {
        Light::SceneReflectance => std::iter::once(row(None, 0.0))
            .chain((-8..=8).map(|s| row(Some(f64::from(s)), MID_GREY * exp2(f64::from(s)))))
            .collect(),
        Light::Nits => {
            [0.0, 0.1, 1.0, 10.0, 48.0, 100.0, 203.0, 400.0, 1000.0, 4000.0, 10000.0].map(|l| row(None, l)).into()
        }
        Light::SceneFraction | Light::FractionOfWhite => (0..=10).map(|i| row(None, f64::from(i) / 10.0)).collect(),
    };
    if args.json {
        let Described { title, source, signal, ei, .. } = curve;
        let light = light_unit(curve.light);
        return output::print_json(&Report::Summary(Summary {
            curve: &args.name,
            ei: *ei,
            title,
            source,
            light,
            signal,
            values,
        }));
    }
    let ei = curve.ei.map(|ei| format!(", EI {ei}")).unwrap_or_default();
    let mut text = format!("{}{ei}\n", curve.title);
    for (name, said) in [("source", &*curve.source), ("light", light_unit(curve.light)), ("signal", &*curve.signal)] {
        output::push_field(&mut text, name, said);
    }
    let with_stops = values.iter().any(|r| r.stops.is_some());
    let first = |said: &str| if with_stops { format!("{said:>6}") } else { String::new() };
    let _ = writeln!(text, "\n{}{:>14}{:>12}{:>9}{:>9}", first("stops"), "light", "signal", "10 bits", "12 bits");
    for r in &values {
        let stops = match r.stops {
            None => "black".to_owned(),
            Some(0.0) => "grey".to_owned(),
            Some(s) => format!("{s:+}"),
        };
        let Row { light, signal, code_10, code_12, .. } = r;
        let _ = writeln!(text, "{}{light:>14.6}{signal:>12.6}{code_10:>9.1}{code_12:>9.1}", first(&stops));
    }
    for jump in curve.transfer.jumps() {
        let said = format!(
            "The published pieces do not meet at light {}: the signal steps by {:+.4} codes of 10 bits there.",
            output::short(jump.light),
            jump.codes
        );
        let _ = writeln!(text, "\n{}", output::wrap(&said, output::COLUMNS).join("\n"));
    }
    output::print(&text)
}
