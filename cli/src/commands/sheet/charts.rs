//! Charts of a sheet: greys and colours by the stop.

use crate::drawing::chart::{Axis, Chart, Guide, Mark, Panel, Series};
use crate::drawing::{Drawing, theme};
use crate::output::short;
use rushlight::sheet::{DisplayLevel, DisplaySheet, LookSheet};

/// Width and height of a plot, in pixels.
const PLOT: [f64; 2] = [196.0, 100.0];
/// Stops on the axes.
const REACH: [f64; 2] = [-8.0, 8.0];
/// The least light of the axis of nits.
const LEAST_NITS: f64 = 0.03;

/// Every chart of a look, each with its alternative text.
pub(super) fn charts(look: &LookSheet) -> Vec<Drawing> {
    let mut all: Vec<Drawing> = look.displays.iter().map(signal).collect();
    all.push(nits(&look.displays));
    all.extend(casts(&look.displays));
    all.push(chroma(&look.displays));
    all
}

fn one(panel: Panel, said: &str) -> Drawing {
    let none = String::new();
    Chart { title: none.clone(), subtitle: none, panels: vec![panel], columns: 1, plot: PLOT, notes: Vec::new() }
        .inset(said)
}

fn stops() -> Axis {
    Axis::linear("scene light, stops from mid-grey").over(REACH[0], REACH[1]).every(2.0)
}

fn grey(said: impl Into<String>) -> Guide {
    Guide::Foot(0.0, said.into())
}

/// One line of a display's levels.
fn line(display: &DisplaySheet, value: impl Fn(&DisplayLevel) -> f64) -> Vec<[f64; 2]> {
    display.levels.iter().map(|level| [level.stops, value(level)]).collect()
}

fn signal(display: &DisplaySheet) -> Drawing {
    let lines = std::array::from_fn(|c| line(display, |level| 100.0 * level.signal[c]));
    let at = display.mid_grey().signal.map(|v| format!("{:.1}", 100.0 * v));
    let label = name(display);
    let said = format!(
        "Signal of greys on {label}, red, green and blue, in percent of full range over stops from mid-grey. Mid-grey: {} %.",
        at.join(", ")
    );
    let panel = Panel {
        title: label.to_owned(),
        x: stops(),
        y: Axis::linear("signal, % of full").over(0.0, 100.0).every(20.0),
        series: Series::channels(lines),
        guides: vec![grey(format!("mid-grey {} %", at[1]))],
    };
    one(panel, &said)
}

/// A display as people call it, short enough for a legend.
fn name(display: &DisplaySheet) -> &str {
    if display.label.is_empty() { &display.name } else { &display.label }
}

/// A line a display, in a colour of its own.
fn lines(displays: &[DisplaySheet], value: impl Fn(&DisplayLevel) -> f64) -> Vec<Series> {
    let colours = theme::SERIES.into_iter().cycle();
    displays.iter().zip(colours).map(|(d, colour)| Series::line(d.name.clone(), colour, line(d, &value))).collect()
}

fn nits(displays: &[DisplaySheet]) -> Drawing {
    let peak = displays.iter().map(|d| d.peak).fold(0.0, f64::max);
    let at = |d: &DisplaySheet| format!("{} nits on {}", short((d.mid_grey().nits * 100.0).round() / 100.0), name(d));
    let greys: Vec<String> = displays.iter().map(at).collect();
    let said = format!("Luminance of greys in nits over stops from mid-grey. Mid-grey: {}.", greys.join(", "));
    let lights: Vec<String> = displays.iter().map(|d| format!("{:.1}", d.mid_grey().nits)).collect();
    let light = |level: &DisplayLevel| if level.nits > 0.0 { level.nits } else { f64::NAN };
    let panel = Panel {
        title: "Luminance".to_owned(),
        x: stops(),
        y: Axis::log("nits").over(LEAST_NITS, 1.25 * peak).every(1.0),
        series: lines(displays, light),
        guides: vec![grey(format!("{} nits", lights.join(", ")))],
    };
    one(panel, &said)
}

fn casts(displays: &[DisplaySheet]) -> [Drawing; 2] {
    let most =
        displays.iter().flat_map(|d| &d.levels).flat_map(|l| [l.lab[1].abs(), l.lab[2].abs()]).fold(2.0f64, f64::max);
    let reach = 1.15 * most;
    // Two labels on either side of zero, or one.
    let step = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0].into_iter().find(|step| reach < 3.0 * step).unwrap_or(100.0);
    let draw = |title: &str, axis: usize, label: &str, ends: &str| {
        let panel = Panel {
            title: title.to_owned(),
            x: stops(),
            y: Axis::linear(label).over(-reach, reach).every(step),
            series: lines(displays, |level| level.lab[axis]),
            guides: vec![Guide::Y(0.0, String::new()), grey("")],
        };
        let said = format!(
            "Cast of greys over stops from mid-grey: CIELAB {label}, {ends}. {}.",
            displays.iter().map(|d| extremes(d, axis)).collect::<Vec<_>>().join("; ")
        );
        one(panel, &said)
    };
    [
        draw("Cast: green to magenta", 1, "a*", "green below zero, magenta above"),
        draw("Cast: blue to yellow", 2, "b*", "blue below zero, yellow above"),
    ]
}

/// Where a display's cast is least and most.
fn extremes(display: &DisplaySheet, axis: usize) -> String {
    let by = |a: &&DisplayLevel, b: &&DisplayLevel| a.lab[axis].total_cmp(&b.lab[axis]);
    let said = |level: Option<&DisplayLevel>| {
        level.map_or_else(String::new, |l| format!("{:.1} at {} stops", l.lab[axis], short(l.stops)))
    };
    let levels = || display.levels.iter();
    format!("{}: from {} to {}", name(display), said(levels().min_by(by)), said(levels().max_by(by)))
}

fn chroma(displays: &[DisplaySheet]) -> Drawing {
    let mut series = Vec::new();
    for (display, colour) in displays.iter().zip(theme::SERIES.into_iter().cycle()) {
        let plain = Series::line("", colour, line(display, |l| l.plain_chroma));
        series.push(Series { mark: Mark::Line { width: 1.2, dash: &[3.0, 2.5] }, ..plain });
        series.push(Series::line(display.name.clone(), colour, line(display, |l| l.chroma)));
    }
    let at = |d: &DisplaySheet| format!("{:.0} % on {}", 100.0 * d.mid_grey().saturation.unwrap_or_default(), name(d));
    let said = format!(
        "Chroma of eight surfaces over stops from mid-grey, by the look and, dashed, by the plain rendering. Chroma at \
         mid-grey, compared with the plain rendering: {}.",
        displays.iter().map(at).collect::<Vec<_>>().join(", ")
    );
    let panel = Panel {
        title: "Chroma (dashed: before)".to_owned(),
        x: stops(),
        y: Axis::linear("mean C*ab").every(20.0),
        series,
        guides: vec![grey("")],
    };
    one(panel, &said)
}
