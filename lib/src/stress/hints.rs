//! What one could change about a figure that does not hold, in a sentence.

use super::banding::STEPS;
use super::figures::*;
use super::{Reading, rays};
use crate::display::{Display, Mapping};
use crate::look::Look;
use crate::step::saturation::SaturationSettings;
use crate::step::{Rendering, Settings, Step};

/// Whether a light ends so pale and bright on the display that only white is left over it.
fn is_near_white(reading: &Reading) -> bool {
    reading.to.as_ref().or(reading.at.as_ref()).is_some_and(|point| point.out.iter().all(|v| *v > 0.85))
}

/// Whether a light ends so dark on the display that only black is left under it.
fn is_near_black(reading: &Reading) -> bool {
    reading.to.as_ref().or(reading.at.as_ref()).is_some_and(|point| point.out.iter().all(|v| *v < 0.15))
}

/// Stops over mid-grey from which on a light is bright enough for less of it to be a remedy.
const BRIGHT: f64 = 2.0;
/// Thresholds of a compress below which lower ones win nothing.
const LOW_THRESHOLD: f64 = 0.65;

/// What of a look a hint depends on.
pub(super) struct Context {
    /// Whether it begins with a compress step: later, what turns has turned.
    compress: bool,
    /// The highest threshold of that step.
    threshold: f64,
    cube: bool,
    tint: bool,
    cdl: bool,
    clips: bool,
    print: bool,
    lever: Option<Lever>,
    /// The most that a saturation step of it raises the saturation to, above 1.
    saturation: Option<f64>,
}

impl Context {
    pub(super) fn of(look: &Look, display: &Display) -> Self {
        let has = |which: fn(&Settings) -> bool| look.steps().iter().any(|step| which(step.settings()));
        let first = look.steps().first().and_then(Step::compress);
        Self {
            compress: first.is_some(),
            threshold: first.map_or(0.0, |c| c.thresholds.into_iter().fold(0.0, f64::max)),
            cube: has(|s| matches!(s, Settings::Cube(_))) || matches!(look.rendering().settings(), Settings::Cube(_)),
            tint: has(|s| matches!(s, Settings::Tint(_))),
            cdl: has(|s| matches!(s, Settings::Cdl(_) | Settings::Contrast(_))),
            clips: display.settings().mapping == Mapping::Clip,
            print: matches!(look.rendering().settings(), Settings::Print(_)),
            lever: Lever::of(look.rendering()),
            saturation: look
                .steps()
                .iter()
                .filter_map(|step| match step.settings() {
                    Settings::Saturation(SaturationSettings { amount }) if *amount > 1.0 => Some(*amount),
                    _ => None,
                })
                .reduce(f64::max),
        }
    }

    /// `exact_holds`: the fault is the cube's alone.
    pub(super) fn hint(&self, figure: &'static Figure, exact_holds: bool, exact: &Reading) -> String {
        if exact_holds && figure != &LIGHTS_SHAPE {
            // A bend within a cell turns its slopes by as much however small the cell is.
            let points = if figure.property == "folds" {
                "with more points fewer colours fold, but those fold as much"
            } else {
                "bake it with more points"
            };
            let more = if self.compress { "" } else { ", or begin the look with a compress step" };
            return format!("the exact path holds and the cube does not: {points}{more}");
        }
        let said = if figure == &ORDER_NEUTRAL || figure == &ORDER_COLOURS || figure.property == "folds" {
            self.of_order(figure)
        } else if figure == &CLIPPING_WHITE {
            "a longer shoulder, a lower contrast, or less exposure before the last step"
        } else if figure == &CLIPPING_BLACK {
            "a longer toe, a lower contrast, or more exposure before the last step"
        } else if STEPS.contains(&figure) {
            self.of_step(figure)
        } else if figure.property == "banding" {
            if self.cube {
                "check the cube step of the look: `inspect` shows where the cube is not smooth"
            } else {
                "a step with a hard edge: raise the width of a tint, remove clamp, or map the gamut softly"
            }
        } else if figure.property == "neutral" {
            if self.cube {
                "the cube step of the look casts the greys: take a cube with neutral greys, or lower its strength; if the cast is \
                 intended, set a limit of your own"
            } else {
                "a printer or balance step against it; in a print, less crosstalk or colour"
            }
        } else if figure == &LIGHTS_SHAPE && is_near_white(exact) {
            "it has nearly come to white: a longer shoulder, or less exposure before the last step"
        } else if figure == &LIGHTS_SHAPE && is_near_black(exact) {
            "it is nearly black: a longer toe, or more exposure before the last step"
        } else if figure == &HUE_WARM || figure == &LIGHTS_WARM {
            return format!(
                "first look at it: eyes and audiences expect warm lights to go to yellow as they get brighter (Bezold and \
                 Brücke). If it looks wrong, {}",
                self.of_colour(exact)
            );
        } else {
            return self.of_colour(exact);
        };
        said.to_owned()
    }

    fn of_order(&self, figure: &Figure) -> &'static str {
        if self.cube {
            "check the cube step of the look for a misplaced node: `inspect` shows the worst place"
        } else if !self.compress && figure != &ORDER_NEUTRAL {
            "begin the look with a compress step, or lower the saturation"
        } else if self.saturation.is_some() && figure != &ORDER_NEUTRAL {
            "lower the saturation step of the look"
        } else if self.tint {
            "a smaller tint, or a wider zone for it"
        } else if self.cdl {
            "a smaller slope, power or contrast"
        } else if self.print {
            "in the print, less crosstalk or colour; or a saturation step below 1 before it"
        } else {
            "lower the saturation before the last step"
        }
    }

    fn of_step(&self, figure: &Figure) -> &'static str {
        if figure == &BANDING_NEUTRAL_STEP {
            "lower the contrast, or record more bits: the look stretches the camera's codes"
        } else if !self.compress {
            "begin the look with a compress step: signals far outside it move fastest"
        } else {
            "lower the saturation of what is bright, or record more bits"
        }
    }

    /// What helps a light to keep its hue, the first two levers that are left: never less light for one that is hardly lit.
    fn of_colour(&self, exact: &Reading) -> String {
        let light = exact.at.as_ref().map(|p| &p.light);
        let what = match light.and_then(|l| l.hue.map(rays::hue_name)) {
            Some(name) => format!("{name} lights"),
            None => "such lights".to_owned(),
        };
        let soft = || {
            format!("map the display's gamut softly (mapping = \"soft\"): cutting off channels is what turns {what}")
        };
        let begin =
            || format!("begin the look with a compress step, so that {what} lose saturation before anything else");
        let lower = || {
            format!(
                "add `thresholds = [0.6, 0.6, 0.6]` to compress, or three numbers down to 0.5: {what} then lose saturation earlier"
            )
        };
        let levers = [
            self.clips.then(soft),
            (!self.compress).then(begin),
            self.saturation.map(|amount| format!("lower the saturation step of the look, now {amount}")),
            self.of_rendering(&what),
            (self.compress && self.threshold > LOW_THRESHOLD).then(lower),
            self.saturation.is_none().then(|| "a saturation step below 1 before the last step".to_owned()),
        ];
        // One alone may not be enough.
        let first: Vec<String> = levers.into_iter().flatten().take(2).collect();
        let lever = first.join("; if that is not enough, ");
        let bright = exact.to.as_ref().or(exact.at.as_ref()).and_then(|p| p.stops);
        let less = bright.filter(|stops| *stops >= BRIGHT).map_or("", |_| "; or make that light darker");
        lever + less
    }

    /// What the rendering has to keep hues.
    fn of_rendering(&self, what: &str) -> Option<String> {
        match self.lever? {
            Lever::PrintHue(hue) => {
                Some(format!("raise `hue` of the print from {hue} towards 1, where {what} turn least"))
            }
            Lever::PerChannel => {
                Some(format!("set per_channel = false in the tone: a curve for each channel is what turns {what}"))
            }
        }
    }
}

/// A setting of a rendering that keeps hues better.
#[derive(Debug, Clone, Copy)]
enum Lever {
    /// The `hue` of a print, below 1.
    PrintHue(f64),
    /// A tone with a curve for each channel.
    PerChannel,
}

impl Lever {
    fn of(rendering: &Rendering) -> Option<Self> {
        match rendering.settings() {
            Settings::Print(settings) if settings.hue < 1.0 => Some(Self::PrintHue(settings.hue)),
            Settings::Tone(settings) if settings.per_channel => Some(Self::PerChannel),
            _ => None,
        }
    }
}
