//! Compares two versions of a picture: how far they differ, where, and in which direction.
//!
//! Both sides are functions from one camera's signal to one display's signal: exact pipelines, or cubes read by their
//! interpolant. The same signal goes into both; the difference of what comes out is a [`Difference`].
//!
//! | group | what it is |
//! | --- | --- |
//! | `whole` | the whole cube: 20000 signals spread evenly, the audit's own; every node of two cubes of one size |
//! | `plausible` | 20000 colours that a camera meets, the audit's own |
//! | `neutral` | greys from 7 stops under mid-grey to 7 over, a quarter stop apart |
//! | `skin` | sample 13 of CIE 13.3-1995 in three depths, under seven lights, from two stops under to one over |
//! | `samples` | the fourteen samples of CIE 13.3-1995 under D65 and illuminant A |
//! | `lights` | narrow bands, red, amber, green, blue and violet, from two stops under to four over mid-grey |
//!
//! Of two cubes whose camera is unknown only `whole` and `neutral` are measured, the latter along the signal.
//!
//! [`document`] says what changed in the documents, [`limits`] what may change in the picture, [`report`] holds it all.

pub mod document;
pub mod limits;
mod measure;
pub mod report;

use crate::camera::Camera;
use crate::difference::Difference;
use crate::display::Display;
use crate::math;
use crate::test_colours;
use crate::test_colours::named::{self as inputs, Input};
use crate::transfer::MID_GREY;
use crate::transform::ColourTransform;
use measure::Measured;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;

/// Two sides, each from camera signal to display signal over one domain, and what their input and output mean.
pub struct Pair<'p> {
    /// The older side.
    pub old: &'p dyn ColourTransform,
    /// The newer side.
    pub new: &'p dyn ColourTransform,
    /// The camera whose signal goes in; none where it is unknown.
    pub camera: Option<&'p Camera>,
    /// Whose signal comes out.
    pub display: &'p Display,
    /// Where two cubes of one size are compared: their nodes, side by side, red fastest.
    pub nodes: Option<[&'p [[f64; 3]]; 2]>,
}

/// A set of colours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
#[non_exhaustive]
pub enum GroupName {
    /// The whole cube.
    Whole,
    /// Colours that a camera meets.
    Plausible,
    /// Greys.
    Neutral,
    /// Skin.
    Skin,
    /// The test colour samples of CIE 13.3-1995.
    Samples,
    /// Saturated lights.
    Lights,
}

rushlight_colour::named!(GroupName, "group", { Whole => "whole", Plausible => "plausible", Neutral => "neutral", Skin => "skin", Samples => "samples", Lights => "lights" });

impl GroupName {
    /// The title of the group.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Whole => "the whole cube",
            Self::Plausible => "colours a camera meets",
            Self::Neutral => "greys, -7 to +7 stops",
            Self::Skin => "skin, under seven lights",
            Self::Samples => "CIE 13.3 test colours",
            Self::Lights => "saturated lights",
        }
    }
}

/// The mean of the new side less the old, in units of the difference: L*, C*, a*, b* of CIELAB, or 720 times those of
/// ICtCp (BT.2124).
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Direction {
    /// Lighter above zero, darker below: L*, or I.
    pub lightness: f64,
    /// More saturated above zero, less below: C*ab, or the length of T and P.
    pub chroma: f64,
    /// Warmer (yellow) above zero, cooler (blue) below: b*, or -T.
    pub warmth: f64,
    /// More magenta above zero, greener below: a*, or P.
    pub magenta: f64,
    /// The same in words, the largest first; nothing under 0.1.
    pub words: Vec<String>,
}

/// Means under this go unsaid: a tenth of what a careful eye sees side by side.
pub const UNSAID: f64 = 0.1;

impl Direction {
    fn new([lightness, chroma, warmth, magenta]: [f64; 4]) -> Self {
        let mut said: Vec<(f64, &str)> = [
            (lightness, ["darker", "lighter"]),
            (chroma, ["less saturated", "more saturated"]),
            (warmth, ["cooler", "warmer"]),
            (magenta, ["greener", "more magenta"]),
        ]
        .into_iter()
        .filter(|(mean, _)| mean.abs() >= UNSAID)
        .map(|(mean, words)| (mean.abs(), words[usize::from(mean > 0.0)]))
        .collect();
        said.sort_by(|a, b| b.0.total_cmp(&a.0));
        let words = said.into_iter().map(|(_, word)| word.to_owned()).collect();
        Self { lightness, chroma, warmth, magenta, words }
    }
}

/// The input at which two sides lie furthest apart.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Worst {
    /// Camera signal.
    pub signal: [f64; 3],
    /// Its name, if it has one.
    pub name: Option<String>,
    /// Luminance of its scene light in stops from mid-grey, where the camera is known and there is light.
    pub stops: Option<f64>,
    /// Display signal of the older side.
    pub old: [f64; 3],
    /// Display signal of the newer side.
    pub new: [f64; 3],
}

/// The differences of one set of colours.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Group {
    /// The set.
    pub name: GroupName,
    /// The number of its colours.
    pub count: usize,
    /// Mean difference.
    pub mean: f64,
    /// The difference that 95 of 100 colours do not exceed.
    pub p95: f64,
    /// The largest difference.
    pub max: f64,
    /// The place of the largest difference; null if there is none.
    pub worst: Option<Worst>,
    /// The direction in which colours move on average.
    pub direction: Direction,
}

/// Mid-grey on both sides.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Grey {
    /// Stops by which the light would have to be raised under the old look to give the mid-grey of the new one; null if the
    /// old look cannot reach it.
    pub stops: Option<f64>,
    /// Display signal of the older side.
    pub old: [f64; 3],
    /// Display signal of the newer side.
    pub new: [f64; 3],
    /// Luminance on the display, nits: older, newer.
    pub nits: [f64; 2],
}

/// A step of the neutral ramp.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct RampStep {
    /// Stops from mid-grey, where the camera is known.
    pub stops: Option<f64>,
    /// Camera signal.
    pub signal: [f64; 3],
    /// Display signal of the older side.
    pub old: [f64; 3],
    /// Display signal of the newer side.
    pub new: [f64; 3],
    /// The difference.
    pub difference: f64,
}

/// The differences of two pictures.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Comparison {
    /// The formula: `ciede2000` or `delta-e-itp`.
    pub difference: &'static str,
    /// Its name in sentences.
    #[serde(skip)]
    pub formula: &'static str,
    /// Every group that can be measured.
    pub groups: Vec<Group>,
    /// Mid-grey, where the camera is known.
    pub grey: Option<Grey>,
    /// The neutral ramp.
    pub ramp: Vec<RampStep>,
}

impl Comparison {
    /// The group of that name.
    pub fn group(&self, name: GroupName) -> Option<&Group> {
        self.groups.iter().find(|g| g.name == name)
    }

    /// Whether no colour of any group differs.
    pub fn is_nothing(&self) -> bool {
        self.groups.iter().all(|g| g.max == 0.0)
    }
}

/// Compares two sides.
pub fn compare(pair: &Pair<'_>) -> Comparison {
    let difference = Difference::on(pair.display);
    let mut groups = vec![whole(pair, &difference)];
    let mut measure = |name, inputs: &[Input]| {
        let (group, each) = pair.group(&difference, name, inputs);
        groups.push(group);
        each
    };
    let ramp = if let Some(camera) = pair.camera {
        let plausible = test_colours::plausible(camera, test_colours::FIRST, test_colours::MANY);
        let plausible: Vec<Input> = plausible.into_iter().map(|signal| Input { signal, name: None }).collect();
        measure(GroupName::Plausible, &plausible);
        let neutral = inputs::neutral(camera);
        let each = measure(GroupName::Neutral, &neutral);
        measure(GroupName::Skin, &inputs::skin(camera));
        measure(GroupName::Samples, &inputs::samples(camera));
        measure(GroupName::Lights, &inputs::lights(camera));
        pair.ramp(&neutral, &each, inputs::ramp_stops().map(Some))
    } else {
        let neutral = inputs::neutral_signal(pair.old.domain());
        let each = measure(GroupName::Neutral, &neutral);
        pair.ramp(&neutral, &each, std::iter::repeat_n(None, neutral.len()))
    };
    let grey = pair.camera.map(|camera| grey(pair, camera));
    let (name, title) = (difference.formula().name(), difference.formula().title());
    Comparison { difference: name, formula: title, groups, grey, ramp }
}

/// The whole cube: its nodes where both sides have the same ones, else the audit's even set.
fn whole(pair: &Pair<'_>, difference: &Difference) -> Group {
    if let Some([old, new]) = pair.nodes {
        let measured = measure::pairs(difference, old, new);
        let size = (1..).find(|n| n * n * n >= old.len()).unwrap_or(1);
        let last = (size.max(2) - 1) as f64;
        let [low, high] = pair.old.domain();
        let at = [measured.worst % size, measured.worst / size % size, measured.worst / (size * size)];
        let signal = std::array::from_fn(|c| low[c] + at[c] as f64 / last * (high[c] - low[c]));
        let signals = (old.get(measured.worst), new.get(measured.worst));
        let worst = match signals {
            (Some(old), Some(new)) => Some(pair.worst(signal, None, *old, *new)),
            _ => None,
        };
        return group(GroupName::Whole, old.len(), measured, worst);
    }
    let [low, high] = pair.old.domain();
    let place = |p: [f64; 3]| std::array::from_fn(|c| low[c] + p[c] * (high[c] - low[c]));
    let even = test_colours::uniform(test_colours::FIRST, test_colours::MANY);
    let even: Vec<Input> = even.into_iter().map(|p| Input { signal: place(p), name: None }).collect();
    pair.group(difference, GroupName::Whole, &even).0
}

fn group(name: GroupName, count: usize, measured: Measured, worst: Option<Worst>) -> Group {
    let Measured { mean, p95, max, moved, .. } = measured;
    Group { name, count, mean, p95, max, worst: worst.filter(|_| max > 0.0), direction: Direction::new(moved) }
}

impl Pair<'_> {
    /// What both sides give for each input.
    fn outputs(&self, inputs: &[Input]) -> [Vec<[f64; 3]>; 2] {
        let (old, new): (Vec<_>, Vec<_>) =
            inputs.par_iter().map(|i| (self.old.transform(i.signal), self.new.transform(i.signal))).unzip();
        [old, new]
    }

    /// One group, and the outputs of both sides with their differences.
    fn group(&self, difference: &Difference, name: GroupName, inputs: &[Input]) -> (Group, Outputs) {
        let [old, new] = self.outputs(inputs);
        let measured = measure::pairs(difference, &old, &new);
        let at = measured.worst;
        let worst = inputs.get(at).map(|i| self.worst(i.signal, i.name.clone(), old[at], new[at]));
        let each = measured.each.clone();
        (group(name, inputs.len(), measured, worst), Outputs { old, new, each })
    }

    fn worst(&self, signal: [f64; 3], name: Option<String>, old: [f64; 3], new: [f64; 3]) -> Worst {
        let stops = self.camera.and_then(|camera| camera.stops(signal));
        Worst { signal, name, stops, old, new }
    }

    fn ramp(&self, inputs: &[Input], outputs: &Outputs, stops: impl Iterator<Item = Option<f64>>) -> Vec<RampStep> {
        let step = |(i, stops): (usize, Option<f64>)| RampStep {
            stops,
            signal: inputs[i].signal,
            old: outputs.old[i],
            new: outputs.new[i],
            difference: outputs.each[i],
        };
        stops.enumerate().map(step).collect()
    }
}

/// Outputs of both sides for every input of a group.
struct Outputs {
    old: Vec<[f64; 3]>,
    new: Vec<[f64; 3]>,
    each: Vec<f64>,
}

/// Stops around mid-grey in which the old side is searched for the new one's grey, and the steps of the search.
const SEARCH: i32 = 12;
const SEARCH_STEP: f64 = 0.25;

fn grey(pair: &Pair<'_>, camera: &Camera) -> Grey {
    let nits = |signal| pair.display.nits(signal);
    let at = |stops: f64| camera.encode([MID_GREY * math::exp2(stops); 3]).0;
    let (old, new) = (pair.old.transform(at(0.0)), pair.new.transform(at(0.0)));
    let goal = nits(new);
    let excess = |stops: f64| nits(pair.old.transform(at(stops))) - goal;
    Grey { stops: crossing(excess), old, new, nits: [nits(old), goal] }
}

/// Where a rising function crosses zero nearest to zero.
fn crossing(excess: impl Fn(f64) -> f64) -> Option<f64> {
    if excess(0.0) == 0.0 {
        return Some(0.0);
    }
    // It lies on the side where the function goes the other way.
    let side = if excess(0.0) > 0.0 { -SEARCH_STEP } else { SEARCH_STEP };
    let steps = (f64::from(SEARCH) / SEARCH_STEP) as i32;
    let from = (0..steps).map(|i| f64::from(i) * side).find(|s| (excess(s + side) > 0.0) != (side < 0.0))?;
    let (mut near, mut far) = (from, from + side);
    while near != far {
        let middle = near + (far - near) / 2.0;
        if middle == near || middle == far {
            break;
        }
        if (excess(middle) > 0.0) == (side < 0.0) { near = middle } else { far = middle }
    }
    Some(near + (far - near) / 2.0)
}

/// Rows of named colours as signals of a camera, for a chart: greys by the stop, the samples in each of their lights, skin in
/// each depth, saturated lights band by band.
pub fn chart(camera: &Camera) -> Vec<Vec<[f64; 3]>> {
    let signals = |inputs: Vec<Input>| inputs.into_iter().map(|i| i.signal).collect::<Vec<_>>();
    let rows = |inputs: Vec<Input>, count: usize| {
        let all = signals(inputs);
        let length = all.len() / count;
        all.chunks(length).map(<[_]>::to_vec).collect::<Vec<_>>()
    };
    let greys = signals(inputs::neutral(camera)).into_iter().step_by(4).collect();
    let mut chart = vec![greys];
    chart.extend(rows(inputs::samples(camera), 2));
    chart.extend(rows(inputs::skin(camera), 3));
    chart.extend(rows(inputs::lights(camera), 5));
    chart
}

#[cfg(test)]
mod tests;
