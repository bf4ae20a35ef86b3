//! Hues of saturated lights and casts of greys of a case, drawn.

use crate::drawing::chart::{Axis, Chart, Guide, Panel, Series};
use crate::drawing::{Drawing, theme};
use rushlight::stress::CaseReport;

/// Width and height of a chart's plot, in pixels.
const PLOT: [f64; 2] = [360.0, 220.0];

/// The hues of saturated lights and the cast of greys, drawn.
pub(super) fn charts(case: &CaseReport) -> Drawing {
    let hue = || Axis::linear("hue over the camera's primaries, degrees").over(0.0, 360.0);
    let limit = |figure: &str| {
        let limits = case.findings.iter().find(|f| f.property == "hue" && f.figure == figure)?.limits?;
        Some(vec![Guide::Y(limits.holds, "holds".to_owned()), Guide::Y(limits.breaks, "breaks".to_owned())])
    };
    let spans = case.hues.iter().map(|row| [row.hue, row.span.unwrap_or(f64::NAN)]).collect();
    let clips = case.hues.iter().map(|row| [row.hue, row.clips.unwrap_or(f64::NAN)]).collect();
    let cast = |pick: fn(&rushlight::stress::NeutralRow) -> f64| -> Vec<[f64; 2]> {
        case.neutral.iter().map(|row| [row.stops, pick(row)]).collect()
    };
    let [first, second, third, fourth, ..] = theme::SERIES;
    let axes = if case.findings.iter().any(|f| f.unit == "CIELAB") { ["a*", "b*"] } else { ["T", "P"] };
    let label = if axes[0] == "a*" { "CIELAB" } else { "Delta E ITP" };
    Chart {
        title: String::new(),
        subtitle: String::new(),
        panels: vec![
            Panel {
                title: "Saturated lights: how far their hue turns from -6 to +6 stops".to_owned(),
                x: hue(),
                y: Axis::linear("degrees on the display"),
                series: vec![Series::line("", first, spans)],
                guides: limit("skew").unwrap_or_default(),
            },
            Panel {
                title: "Saturated lights: where a channel first clips".to_owned(),
                x: hue(),
                y: Axis::linear("stops over mid-grey"),
                series: vec![Series::line("", first, clips)],
                guides: Vec::new(),
            },
            Panel {
                title: "Greys: their cast".to_owned(),
                x: Axis::linear("stops from mid-grey"),
                y: Axis::linear(label),
                series: vec![
                    Series::line(axes[0], first, cast(|row| row.cast[0])),
                    Series::line(axes[1], second, cast(|row| row.cast[1])),
                    Series::line(format!("{}, unasked", axes[0]), third, cast(|row| row.unasked[0])),
                    Series::line(format!("{}, unasked", axes[1]), fourth, cast(|row| row.unasked[1])),
                ],
                guides: vec![Guide::Y(0.0, String::new())],
            },
        ],
        columns: 3,
        plot: PLOT,
        notes: vec!["A line is broken where a hue has no colour left to see, or never clips.".to_owned()],
    }
    .draw()
}
