//! `gamut`

use crate::args::Gamut;
use crate::failure::Failure;
use crate::output;
use rushlight::gamut::{CATALOGUE, Named, named_gamut};
use rushlight::message::unknown;
use schemars::JsonSchema;
use serde::Serialize;
use std::fmt::Write as _;

#[derive(Serialize, JsonSchema)]
#[schemars(title = "Rushlight gamut")]
struct Report {
    /// Name of the gamut that it is from.
    from: &'static str,
    /// Name of the gamut, or `xyz`, that it is to.
    to: &'static str,
    /// Name of the chromatic adaptation.
    adaptation: &'static str,
    /// The matrix, row by row: linear light to linear light.
    matrix: [[f64; 3]; 3],
}

/// The JSON Schema of the report.
pub(crate) fn schema() -> serde_json::Value {
    schemars::schema_for!(Report).to_value()
}

pub(crate) fn run(args: &Gamut) -> Result<(), Failure> {
    let from = find(&args.from)?;
    let to = find(args.to.as_deref().unwrap_or("xyz"))?;
    let adaptation = args.adapt;
    let matrix = from.gamut.to(&to.gamut, adaptation);
    let report = Report {
        from: from.name,
        to: to.name,
        adaptation: from.gamut.adaptation_to(&to.gamut, adaptation).name(),
        matrix: std::array::from_fn(|r| std::array::from_fn(|c| matrix[(r, c)])),
    };
    if args.json { output::print_json(&report) } else { output::print(&text(from, to, &report)) }
}

fn find(name: &str) -> Result<&'static Named, Failure> {
    named_gamut(name).ok_or_else(|| Failure::new(unknown("gamut", name, CATALOGUE.map(|g| g.name))))
}

fn text(from: &Named, to: &Named, report: &Report) -> String {
    let mut text = String::new();
    for named in if from == to { vec![from] } else { vec![from, to] } {
        let _ = writeln!(text, "{}", named.title);
        output::push_field(&mut text, "source", named.source);
        let [red, green, blue] = named.gamut.primaries;
        for (name, xy) in [("red", red), ("green", green), ("blue", blue), ("white", named.gamut.white)] {
            let _ = writeln!(text, "  {name:<8}x {:<9} y {}", output::short(xy.x), output::short(xy.y));
        }
    }
    let _ = writeln!(text, "\n{} to {}, adaptation {}", from.title, to.title, report.adaptation);
    for row in report.matrix {
        let _ = writeln!(text, "{:>16.10}{:>16.10}{:>16.10}", row[0], row[1], row[2]);
    }
    text
}
