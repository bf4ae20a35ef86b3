//! Checks the health of a table: its values, its behaviour, and its probable purpose.
//!
//! Figures only, from the nodes themselves, which are finite: the readers refuse NaN and infinity with their line.
//! [`Inspection`] is what is reported of a table; [`report`] has the reports on every kind of file.

pub mod report;

use crate::cube::{Cube, Interpolation, Table, UNIT};
use crate::format::clf::{self, ProcessList};
use crate::format::cube::{CubeFile, Warning};
use crate::invalid::Refusals;
use crate::transform::{ColourTransform, Interpolate};
use report::SCHEMA;
use schemars::JsonSchema;
use serde::Serialize;

/// Points of the neutral axis that are checked.
const NEUTRALS: usize = 1025;
/// Rise and fall below this is rounding: half a unit of the sixth decimal twice, from both neighbours.
const ROUNDING: f64 = 1e-6;
/// Shares of the neutral rise between which its steep part is measured.
const RISE: [f64; 2] = [0.1, 0.9];
/// A neutral rise over a smaller share of the input is that of a picture made from log.
const LOG_RISE: f64 = 0.62;
/// A neutral rise over a larger share of the input is that of one signal to another of its kind.
const DISPLAY_RISE: f64 = 0.72;

/// The report on the table of a file.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Inspection {
    /// The version of its shape.
    pub schema: u32,
    /// `1d`, `3d`, `1d+3d` for curves in front of a cube, or `clf` for a list of nodes, looked at as a cube sampled from it.
    pub kind: &'static str,
    /// Entries of each curve, or points along each edge.
    pub size: usize,
    /// Entries of the curves in front of a cube.
    pub shaper_size: Option<usize>,
    /// Lower and upper bounds of the input.
    pub domain: [[f64; 3]; 2],
    /// The title, empty for none.
    pub title: String,
    /// No departure from the specification.
    pub conforms: bool,
    /// Departures from the specification.
    pub departures: Vec<Departure>,
    /// What to check before the table is used, in sentences; empty for a sound table.
    pub concerns: Vec<String>,
    /// Figures of the table.
    pub figures: Figures,
}

/// A departure from the specification.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Departure {
    /// The first line of it, from 1.
    pub line: usize,
    /// The rule's name.
    pub rule: &'static str,
    /// What the file has, and what would be right.
    pub message: String,
    /// Lines that depart in this way.
    pub count: usize,
}

impl From<&Warning> for Departure {
    fn from(warning: &Warning) -> Self {
        let Warning { line, rule, message, count } = warning;
        Self { line: *line, rule: rule.name(), message: message.clone(), count: *count }
    }
}

impl From<&clf::Departure> for Departure {
    fn from(departure: &clf::Departure) -> Self {
        let clf::Departure { line, rule, message } = departure;
        Self { line: *line, rule, message: message.clone(), count: 1 }
    }
}

/// The behaviour of a table. Channels are red, green, blue.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Figures {
    /// Smallest and largest output of each channel.
    pub range: [[f64; 3]; 2],
    /// Share of the values at or below 0, and at or above 1.
    pub clipped: [f64; 2],
    /// How each channel falls along its own axis, the others held.
    pub monotone: [Monotone; 3],
    /// How each channel falls along the neutral axis.
    pub neutral_monotone: [Monotone; 3],
    /// How far a channel falls along the neutral axis under the highest value before, over any number of steps.
    pub neutral_fall: f64,
    /// Distance of the outputs from their inputs, mean and largest over all values.
    pub identity_distance: Distance,
    /// The neutral input with the least neutral output.
    pub neutral_cast: Cast,
    /// The largest difference of one channel between two neighbours.
    pub largest_step: LargestStep,
    /// The share of the domain over which neutrals rise from 10 to 90 percent of what they reach; none where they are flat.
    pub neutral_rise: Option<f64>,
    /// `log`, `display` or `unclear`: what the input is likely to be, by `neutral_rise`.
    pub likely_input: &'static str,
}

/// How a channel falls where its input rises.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, JsonSchema)]
pub struct Monotone {
    /// It falls nowhere by more than rounding.
    pub holds: bool,
    /// Steps between neighbours over which it falls.
    pub falls: usize,
    /// The deepest single fall, of the output.
    pub deepest: f64,
}

/// Distance of outputs from inputs, in the table's own numbers.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Distance {
    /// Over all values.
    pub mean: f64,
    /// The largest.
    pub max: f64,
}

/// The least neutral output of the neutral axis.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Cast {
    /// Largest channel minus smallest.
    pub max: f64,
    /// The input.
    pub at: [f64; 3],
    /// The output.
    pub rgb: [f64; 3],
}

/// A step between neighbours.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct LargestStep {
    /// The difference of the output.
    pub step: f64,
    /// The input of the lower neighbour.
    pub from: [f64; 3],
    /// The input of the upper neighbour.
    pub to: [f64; 3],
    /// The channel that differs: `red`, `green` or `blue`.
    pub channel: &'static str,
}

const CHANNELS: [&str; 3] = ["red", "green", "blue"];

impl Monotone {
    fn note(&mut self, step: f64) {
        if step < -ROUNDING {
            self.falls += 1;
            self.deepest = self.deepest.max(-step);
        }
    }

    fn settled(mut self) -> Self {
        self.holds = self.falls == 0;
        self
    }
}

/// Limits of a table in which there is nothing to look at. They are our own, from cubes of looks and of faults.
mod sound {
    /// Share of the values that may be clipped at one end.
    pub const CLIPPED: f64 = 0.05;
    /// How far a channel may fall along its axis: film-print-style looks turn hues, and fall by less.
    pub const FALL: f64 = 0.02;
    /// How far a grey may fall.
    pub(super) const GREY_FALL: f64 = 0.002;
    /// How many steps of an identity table one step may be as large as.
    pub(super) const STEPS: f64 = 12.0;
}

pub use sound::{CLIPPED, FALL};

/// What a person should check before a table is used, in sentences; empty for a sound table.
fn concerns(departures: &[Departure], f: &Figures, size: usize) -> Vec<String> {
    let mut found = Vec::new();
    match departures.iter().map(|d| d.count).sum::<usize>() {
        0 => {}
        1 => found.push("one line breaks a rule of its format's specification".to_owned()),
        n => found.push(format!("{n} lines break rules of their format's specification")),
    }
    let fall = |channels: &[Monotone; 3]| channels.iter().map(|m| m.deepest).fold(0.0, f64::max);
    let grey = f.neutral_fall;
    if grey > sound::GREY_FALL {
        found.push(format!("a grey gets darker by up to {grey:.4} where its input gets brighter"));
    } else if f.neutral_rise.is_none() {
        found.push("greys are flat".to_owned());
    }
    for (share, end) in [(f.clipped[0], "0"), (f.clipped[1], "1")] {
        // An identity table has its first and its last node there.
        if share > sound::CLIPPED + 1.0 / size.max(1) as f64 {
            found.push(format!("{:.0} % of the values are clipped at {end}", 100.0 * share));
        }
    }
    let channel = fall(&f.monotone);
    if channel > sound::FALL {
        found.push(format!("a channel falls by up to {channel:.4} where its input rises"));
    }
    let step = f.largest_step.step;
    if step * (size.max(2) - 1) as f64 > sound::STEPS * reach(&f.range) {
        found.push(format!("neighbours jump by up to {step:.4}, as in false colour or a damaged file"));
    }
    found
}

/// The widest span of a channel.
fn reach([low, high]: &[[f64; 3]; 2]) -> f64 {
    (0..3).map(|c| high[c] - low[c]).fold(0.0, f64::max)
}

/// Looks at what a cube file holds.
pub fn inspect(file: &CubeFile) -> Inspection {
    let (kind, shaper_size) = match (&file.table, &file.shaper) {
        (Table::Curves(_), _) => ("1d", None),
        (Table::Cube(_), None) => ("3d", None),
        (Table::Cube(_), Some(shaper)) => ("1d+3d", Some(shaper.size())),
    };
    // The neutral axis and the domain are those of the whole file; neighbours are those of its last table.
    let whole = file.by(Interpolation::Tetrahedral);
    let domain = whole.domain();
    let departures: Vec<Departure> = file.warnings.iter().map(Departure::from).collect();
    let figures = figures(&file.table, whole);
    Inspection {
        schema: SCHEMA,
        kind,
        size: file.table.size(),
        shaper_size,
        domain,
        title: file.title.clone(),
        conforms: departures.is_empty(),
        concerns: concerns(&departures, &figures, file.table.size()),
        departures,
        figures,
    }
}

/// Looks at what a CLF file does over 0..1, sampled with the points of its largest cube, or 33; its departures are those of
/// [`clf::departures`].
///
/// # Errors
/// An output that is not finite.
pub fn inspect_list(list: &ProcessList, departures: &[clf::Departure]) -> Result<Inspection, Refusals> {
    let size = list.largest_cube().unwrap_or(33);
    let table = Table::from(Cube::of(list, size)?);
    let departures: Vec<Departure> = departures.iter().map(Departure::from).collect();
    let figures = figures(&table, list);
    Ok(Inspection {
        schema: SCHEMA,
        kind: "clf",
        size,
        shaper_size: None,
        domain: UNIT,
        title: list.name.clone().unwrap_or_default(),
        conforms: departures.is_empty(),
        concerns: concerns(&departures, &figures, size),
        departures,
        figures,
    })
}

/// The figures of `table`, whose neutral axis is that of `whole`: the table's own, or what stands in front of it included.
pub fn figures(table: &Table, whole: impl ColourTransform) -> Figures {
    let nodes = table.rows();
    let mut range = [[f64::INFINITY; 3], [f64::NEG_INFINITY; 3]];
    let (mut low, mut high) = (0, 0);
    for value in nodes {
        for c in 0..3 {
            range[0][c] = range[0][c].min(value[c]);
            range[1][c] = range[1][c].max(value[c]);
            low += usize::from(value[c] <= 0.0);
            high += usize::from(value[c] >= 1.0);
        }
    }
    let values = (3 * nodes.len()) as f64;
    let Steps { monotone, largest } = match table {
        Table::Curves(curves) => {
            let mut steps = Steps::new();
            for i in 1..curves.size() {
                for c in 0..3 {
                    let step = nodes[i][c] - nodes[i - 1][c];
                    steps.monotone[c].note(step);
                    steps.largest(step, c, || (curves.input(i - 1), curves.input(i)));
                }
            }
            steps.settled()
        }
        Table::Cube(cube) => cube_steps(cube),
    };
    let neutral = Neutral::of(whole);
    let rise = neutral.rise();
    Figures {
        range,
        clipped: [low as f64 / values, high as f64 / values],
        monotone,
        neutral_monotone: neutral.monotone,
        neutral_fall: neutral.fall,
        identity_distance: identity(table),
        neutral_cast: neutral.cast,
        largest_step: largest,
        neutral_rise: rise,
        likely_input: match rise {
            Some(rise) if rise < LOG_RISE => "log",
            Some(rise) if rise > DISPLAY_RISE => "display",
            _ => "unclear",
        },
    }
}

/// Steps between neighbours.
struct Steps {
    monotone: [Monotone; 3],
    largest: LargestStep,
}

impl Steps {
    fn new() -> Self {
        let largest = LargestStep { step: 0.0, from: [0.0; 3], to: [0.0; 3], channel: CHANNELS[0] };
        Self { monotone: Default::default(), largest }
    }

    fn largest(&mut self, step: f64, channel: usize, ends: impl FnOnce() -> ([f64; 3], [f64; 3])) {
        if step.abs() > self.largest.step {
            let (from, to) = ends();
            self.largest = LargestStep { step: step.abs(), from, to, channel: CHANNELS[channel] };
        }
    }

    fn settled(self) -> Self {
        Self { monotone: self.monotone.map(Monotone::settled), ..self }
    }
}

fn cube_steps(cube: &Cube) -> Steps {
    let (size, nodes) = (cube.size(), cube.nodes());
    let strides = [1, size, size * size];
    let place = |index: usize| [index % size, index / size % size, index / (size * size)];
    let mut steps = Steps::new();
    for (index, node) in nodes.iter().enumerate() {
        let at = place(index);
        for axis in (0..3).filter(|axis| at[*axis] + 1 < size) {
            let next = nodes[index + strides[axis]];
            steps.monotone[axis].note(next[axis] - node[axis]);
            for c in 0..3 {
                steps.largest(next[c] - node[c], c, || {
                    let mut to = at;
                    to[axis] += 1;
                    (cube.input(at[0], at[1], at[2]), cube.input(to[0], to[1], to[2]))
                });
            }
        }
    }
    steps.settled()
}

fn identity(table: &Table) -> Distance {
    let size = table.size();
    let (mut sum, mut max) = (0.0, 0.0f64);
    for (index, node) in table.rows().iter().enumerate() {
        let input = match table {
            Table::Curves(curves) => curves.input(index),
            Table::Cube(cube) => cube.input(index % size, index / size % size, index / (size * size)),
        };
        for c in 0..3 {
            let distance = (node[c] - input[c]).abs();
            sum += distance;
            max = max.max(distance);
        }
    }
    Distance { mean: sum / (3 * table.rows().len()) as f64, max }
}

/// The neutral axis.
struct Neutral {
    monotone: [Monotone; 3],
    /// The deepest fall of a channel under its highest value before.
    fall: f64,
    cast: Cast,
    /// Mean of the channels at evenly spaced inputs.
    levels: Vec<f64>,
}

impl Neutral {
    fn of(whole: impl ColourTransform) -> Self {
        let (domain, at) = (whole.domain(), |rgb| whole.transform(rgb));
        let mut monotone = [Monotone::default(); 3];
        let mut cast = Cast { max: 0.0, at: domain[0], rgb: at(domain[0]) };
        let mut levels = Vec::with_capacity(NEUTRALS);
        let mut before: Option<[f64; 3]> = None;
        let (mut highest, mut fall) = ([f64::MIN; 3], 0.0_f64);
        for i in 0..NEUTRALS {
            let t = i as f64 / (NEUTRALS - 1) as f64;
            let input = std::array::from_fn(|c| domain[0][c] + t * (domain[1][c] - domain[0][c]));
            let rgb = at(input);
            let spread = rgb.iter().fold(f64::MIN, |m, v| m.max(*v)) - rgb.iter().fold(f64::MAX, |m, v| m.min(*v));
            if spread > cast.max {
                cast = Cast { max: spread, at: input, rgb };
            }
            if let Some(before) = before {
                for c in 0..3 {
                    monotone[c].note(rgb[c] - before[c]);
                }
            }
            for c in 0..3 {
                highest[c] = highest[c].max(rgb[c]);
                fall = fall.max(highest[c] - rgb[c]);
            }
            levels.push((rgb[0] + rgb[1] + rgb[2]) / 3.0);
            before = Some(rgb);
        }
        Self { monotone: monotone.map(Monotone::settled), fall, cast, levels }
    }

    /// The share of the axis between the first points that reach both of [`RISE`].
    fn rise(&self) -> Option<f64> {
        let low = self.levels.iter().fold(f64::MAX, |m, v| m.min(*v));
        let high = self.levels.iter().fold(f64::MIN, |m, v| m.max(*v));
        if high - low <= ROUNDING {
            return None;
        }
        let [from, to] = RISE.map(|share| {
            let level = low + share * (high - low);
            self.levels.iter().position(|v| *v >= level).unwrap_or(0) as f64 / (NEUTRALS - 1) as f64
        });
        Some(to - from)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cube::Curves;
    use crate::transfer::encoding;

    fn figures_of(table: impl Into<Table>) -> Figures {
        let table = table.into();
        figures(&table, table.by(Interpolation::Tetrahedral))
    }

    #[test]
    fn an_identity_is_healthy() {
        let f = figures_of(Cube::sample(5, |rgb| rgb).unwrap());
        assert_eq!(f.range, UNIT);
        assert_eq!(f.identity_distance, Distance { mean: 0.0, max: 0.0 });
        assert!(f.monotone.iter().chain(&f.neutral_monotone).all(|m| m.holds));
        assert_eq!((f.neutral_cast.max, f.largest_step.step), (0.0, 0.25));
        // A fifth of the nodes of each channel at either end.
        assert_eq!(f.clipped, [0.2, 0.2]);
        assert_eq!(f.likely_input, "display");
    }

    #[test]
    fn falls_casts_and_steps_are_found_where_they_are() {
        let cube = Cube::sample(3, |[r, g, b]| [if r > 0.75 { 0.2 } else { r }, g, if b > 0.25 { b + 0.1 } else { b }]);
        let f = figures_of(cube.unwrap());
        assert_eq!((f.monotone[0].holds, f.monotone[0].falls), (false, 9));
        assert!((f.monotone[0].deepest - 0.3).abs() < 1e-15);
        assert!(f.monotone[1].holds && f.monotone[2].holds && !f.neutral_monotone[0].holds);
        assert!((f.neutral_cast.max - 0.9).abs() < 1e-15);
        assert_eq!(f.neutral_cast.at, [1.0; 3]);
        assert_eq!(f.largest_step.channel, "blue");
        assert_eq!((f.largest_step.from, f.largest_step.to), ([0.0; 3], [0.0, 0.0, 0.5]));
        assert!((f.largest_step.step - 0.6).abs() < 1e-15);
    }

    #[test]
    fn curves_are_looked_at_entry_by_entry() {
        let f = figures_of(Curves::new(UNIT, vec![[0.0; 3], [0.5, 0.6, 0.5], [1.0, 0.55, 2.0]]).unwrap());
        assert_eq!(f.monotone.map(|m| m.falls), [0, 1, 0]);
        assert_eq!((f.largest_step.channel, f.largest_step.step), ("blue", 1.5));
        let flat = figures_of(Curves::sample(2, |_| 0.5).unwrap());
        assert_eq!((flat.neutral_rise, flat.likely_input), (None, "unclear"));
    }

    #[test]
    fn log_and_display_input_are_told_apart() {
        let gamma = encoding("gamma24").unwrap().build(None).unwrap();
        for name in ["slog3", "logc3", "logc4", "vlog", "acescct", "canon-log3", "nlog", "flog2", "log3g10"] {
            let log = encoding(name).unwrap().build(None).unwrap();
            // Scene light, mid-grey at 0.105 of white, a contrast of 1.5 and a soft shoulder.
            let picture = |v: f64| {
                let light = crate::math::pow((log.decode(v) / 0.18).max(0.0), 1.5) * 0.105 / 0.895;
                gamma.encode(light / (1.0 + light))
            };
            let f = figures_of(Cube::sample(33, |rgb| rgb.map(picture)).unwrap());
            assert_eq!(f.likely_input, "log", "{name}: {:?}", f.neutral_rise);
        }
        let srgb = encoding("srgb").unwrap().build(None).unwrap();
        let f = figures_of(Cube::sample(33, |rgb| rgb.map(|v| gamma.encode(srgb.decode(v)))).unwrap());
        assert_eq!(f.likely_input, "display");
    }
}
