//! `tint`: colour in the shadows and in the highlights, while mid-grey stays where it is.
//!
//! Each zone is an offset in stops per channel, weighted by a smooth step over luminance in stops from mid-grey. The
//! gains are scaled so that a neutral keeps its luminance; a coloured light changes as through a pale filter.

use super::words::{capital, channels, from_grey, signed};
use super::{Context, Extremes, MID_GREY, Maths, OnScene, Role, StepSettings, Uncast, extremes, luminance_weights};
use crate::invalid::{Parameter, Refusals};
use crate::math;
use crate::setting::{CHANNELS, settings};
use nalgebra::Vector3;

/// Offset of one channel in the shadows.
pub const SHADOWS: Parameter = Parameter {
    key: "shadows",
    min: -2.0,
    max: 2.0,
    default: 0.0,
    unit: "stops",
    help: "stops per channel in the shadows",
};

/// Offset of one channel in the highlights.
pub const HIGHLIGHTS: Parameter = Parameter {
    key: "highlights",
    min: -2.0,
    max: 2.0,
    default: 0.0,
    unit: "stops",
    help: "stops per channel in the highlights",
};

/// Where the shadows begin.
pub const SHADOW_START: Parameter = Parameter {
    key: "shadow_start",
    min: -6.0,
    max: 6.0,
    default: 0.0,
    unit: "stops from mid-grey",
    help: "the shadow tint begins below this; above mid-grey only with keep_grey = false",
};

/// How wide the way to the full shadow tint is.
pub const SHADOW_WIDTH: Parameter = Parameter {
    key: "shadow_width",
    min: 0.5,
    max: 10.0,
    default: 4.0,
    unit: "stops",
    help: "the shadow tint is full this far below its start",
};

/// Where the highlights begin.
pub const HIGHLIGHT_START: Parameter = Parameter {
    key: "highlight_start",
    min: -6.0,
    max: 6.0,
    default: 0.0,
    unit: "stops from mid-grey",
    help: "the highlight tint begins above this; below mid-grey only with keep_grey = false",
};

/// How wide the way to the full highlight tint is.
pub const HIGHLIGHT_WIDTH: Parameter = Parameter {
    key: "highlight_width",
    min: 0.5,
    max: 10.0,
    default: 4.0,
    unit: "stops",
    help: "the highlight tint is full this far above its start",
};

/// The steepest slope of the smooth step, reached at its middle.
const STEEPEST: f64 = 1.5;

/// Stops between the channels that move apart most; a channel that stays counts as 0, as does the luminance gain, which
/// lies among the channels' gains.
fn span(offsets: [f64; 3]) -> f64 {
    offsets.iter().fold(0.0f64, |m, o| m.max(*o)) - offsets.iter().fold(0.0f64, |m, o| m.min(*o))
}

settings! {
    "TintDoc",
    /// The numbers of a tint.
    #[derive(Copy)]
    pub struct TintSettings {
        /// Stops per channel, full below the shadows.
        shadows: [f64; 3] = [SHADOWS.default; 3], Three(&SHADOWS, CHANNELS);
        /// Stops per channel, full above the highlights.
        highlights: [f64; 3] = [HIGHLIGHTS.default; 3], Three(&HIGHLIGHTS, CHANNELS);
        /// Where the shadow tint begins, in stops from mid-grey.
        shadow_start: f64 = SHADOW_START.default, Number(&SHADOW_START);
        /// Stops from there to its full strength.
        shadow_width: f64 = SHADOW_WIDTH.default, Number(&SHADOW_WIDTH);
        /// Where the highlight tint begins, in stops from mid-grey.
        highlight_start: f64 = HIGHLIGHT_START.default, Number(&HIGHLIGHT_START);
        /// Stops from there to its full strength.
        highlight_width: f64 = HIGHLIGHT_WIDTH.default, Number(&HIGHLIGHT_WIDTH);
        /// Mid-grey stays where it is.
        keep_grey: bool = true, Flag;
        /// Neutrals keep their luminance.
        keep_luminance: bool = true, Flag;
    }
}

impl StepSettings for TintSettings {
    const NAME: &'static str = "tint";
    const TITLE: &'static str = "Tint";
    const HELP: &'static str = "Colour in the shadows and in the highlights.";
    const ROLE: Role = Role::Scene;
    const EXAMPLE: &'static str = "shadows = [-0.06, 0.02, 0.08]\nhighlights = [0.06, 0, -0.06]";
    const EXTREMES: &'static [Extremes] = &[
        extremes(
            "shadows",
            "shadows of the opposite of the channel's colour",
            "shadows of the colour of the channel, which reads as a wrong white balance",
        ),
        extremes(
            "highlights",
            "highlights of the opposite of the channel's colour",
            "highlights of the colour of the channel; whites look dirty",
        ),
        extremes("shadow_start", "only the blackest shadows have the colour", "mid-tones and skin have it too"),
        extremes("shadow_width", "the colour sets in with a visible step", "the colour is hardly reached anywhere"),
        extremes("highlight_start", "mid-tones and skin have the colour too", "only the brightest lights have it"),
        extremes("highlight_width", "the colour sets in with a visible step", "the colour is hardly reached anywhere"),
    ];

    fn make(&self, _: &dyn Context) -> Result<Maths, Refusals> {
        Tint::new(self).map(Maths::scene)
    }

    fn describe(&self, stated: &dyn Fn(&str) -> bool) -> String {
        let shadows = ("shadow", self.shadows, self.shadow_start, self.shadow_width, -1.0);
        let highlights = ("highlight", self.highlights, self.highlight_start, self.highlight_width, 1.0);
        let (mut said, mut idle) = (Vec::new(), Vec::new());
        for (zone, offsets, start, width, beyond) in [shadows, highlights] {
            let moved = channels(offsets, 0.0, signed);
            if !moved.is_empty() {
                let (from, full) = (from_grey(start), from_grey(start + beyond * width));
                said.push(format!("{}s {moved} stops, from {from} on, full {full}.", capital(zone)));
                continue;
            }
            // Settings of a zone that is not tinted are in the sentence all the same, where the document states them.
            for (what, value, unit) in [("start", start, SHADOW_START.unit), ("width", width, SHADOW_WIDTH.unit)] {
                if stated(&format!("{zone}_{what}")) {
                    idle.push(format!("{zone} {what} {value:?} {unit}"));
                }
            }
        }
        if said.is_empty() {
            said.push("No zone is tinted.".to_owned());
        }
        let kept = [(self.keep_grey, "mid-grey"), (self.keep_luminance, "the luminance of greys")];
        let kept: Vec<&str> = kept.into_iter().filter(|(is, _)| *is).map(|(_, what)| what).collect();
        said.push(match kept.as_slice() {
            [] => "Mid-grey and the luminance of greys may move.".to_owned(),
            [one] => format!("{} stays.", capital(one)),
            both => format!("{} stay.", capital(&both.join(" and "))),
        });
        if !idle.is_empty() {
            said.push(format!("{}.", capital(&idle.join(", "))));
        }
        said.join(" ")
    }
}

/// A tint, ready to apply. Domain and range: scene light, unbounded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tint {
    settings: TintSettings,
    weights: Vector3<f64>,
}

impl Tint {
    /// From its numbers.
    ///
    /// # Errors
    /// Values out of their parameters; a zone over mid-grey while it is to be kept; an offset so large for its width that
    /// a brighter light would come out darker in some channel.
    pub fn new(settings: &TintSettings) -> Result<Self, Refusals> {
        let s = *settings;
        let mut refusals = Refusals::new();
        refusals.bound_each(&SHADOWS, &s.shadows);
        refusals.bound_each(&HIGHLIGHTS, &s.highlights);
        refusals.bound(&SHADOW_START, s.shadow_start);
        refusals.bound(&SHADOW_WIDTH, s.shadow_width);
        refusals.bound(&HIGHLIGHT_START, s.highlight_start);
        refusals.bound(&HIGHLIGHT_WIDTH, s.highlight_width);
        if s.keep_grey && s.shadow_start > 0.0 {
            refusals.push("shadow_start", "lies over mid-grey: 0 or lower, or keep_grey = false");
        }
        if s.keep_grey && s.highlight_start < 0.0 {
            refusals.push("highlight_start", "lies under mid-grey: 0 or higher, or keep_grey = false");
        }
        let steepness = |offsets: [f64; 3], width: f64| span(offsets) * STEEPEST / width;
        let (shadow, highlight) = (steepness(s.shadows, s.shadow_width), steepness(s.highlights, s.highlight_width));
        for (key, steep, offsets) in [("shadows", shadow, s.shadows), ("highlights", highlight, s.highlights)] {
            if steep >= 1.0 {
                let span = span(offsets);
                let width = span * STEEPEST;
                let message = format!(
                    "{span:.2} stops between channels would turn the order of lights round: the zone must be over {width:.2} stops wide"
                );
                refusals.push(key, message);
            }
        }
        if s.shadow_start > s.highlight_start && shadow.max(highlight) < 1.0 && shadow + highlight >= 1.0 {
            let message = "where the zones overlap they would turn the order of lights round: wider zones, smaller offsets, or a start below the highlights'";
            refusals.push("shadow_start", message);
        }
        refusals.finish(|| Self { settings: s, weights: luminance_weights() })
    }

    /// The gains per channel for light `stops` from mid-grey.
    pub fn gains(&self, stops: f64) -> [f64; 3] {
        let s = &self.settings;
        let shadow = math::smooth_step(-s.shadow_start, -s.shadow_start + s.shadow_width, -stops);
        let highlight = math::smooth_step(s.highlight_start, s.highlight_start + s.highlight_width, stops);
        let gains: [f64; 3] = std::array::from_fn(|i| math::exp2(shadow * s.shadows[i] + highlight * s.highlights[i]));
        if !s.keep_luminance {
            return gains;
        }
        let luminance = self.weights.dot(&Vector3::from(gains));
        gains.map(|g| g / luminance)
    }

    /// The light after the step.
    pub fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        let luminance = self.weights.dot(&Vector3::from(rgb));
        // Far below any zone the weights no longer change: a floor keeps the logarithm of dark and negative light.
        let stops = math::log2(luminance.max(1e-9) / MID_GREY);
        let gains = self.gains(stops);
        std::array::from_fn(|i| rgb[i] * gains[i])
    }
}

impl OnScene for Tint {
    fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.apply(rgb)
    }

    fn uncast(&self) -> Uncast {
        Uncast::Nothing
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tint() -> Tint {
        let settings =
            TintSettings { shadows: [-0.06, 0.10, -0.02], highlights: [0.08, 0.02, -0.10], ..TintSettings::default() };
        Tint::new(&settings).unwrap()
    }

    #[test]
    fn mid_grey_stays_and_luminance_stays() {
        let weights = luminance_weights();
        assert!(tint().apply([MID_GREY; 3]).iter().all(|c| (c - MID_GREY).abs() < 1e-16));
        for stops in -10..=10 {
            let light = MID_GREY * math::exp2(f64::from(stops));
            let out = Vector3::from(tint().apply([light; 3]));
            assert!((weights.dot(&out) / light - 1.0).abs() < 1e-14, "{stops}");
        }
    }

    #[test]
    fn the_zones_are_full_where_they_say() {
        let settings = TintSettings { keep_luminance: false, ..tint().settings };
        let step = Tint::new(&settings).unwrap();
        for (stops, offsets) in [(-4.0, settings.shadows), (-9.0, settings.shadows), (4.0, settings.highlights)] {
            let light = MID_GREY * math::exp2(stops);
            let out = step.apply([light; 3]);
            for i in 0..3 {
                assert!((math::log2(out[i] / light) - offsets[i]).abs() < 1e-12, "{stops}");
            }
        }
    }

    #[test]
    fn order_is_kept_up_to_the_bound_and_refused_beyond() {
        let at_bound = TintSettings { shadows: [1.0, 0.0, -1.0], shadow_width: 3.01, ..TintSettings::default() };
        let step = Tint::new(&at_bound).unwrap();
        let mut last = [0.0; 3];
        for i in -1200..=600 {
            let out = step.apply([MID_GREY * math::exp2(f64::from(i) * 0.01); 3]);
            assert!((0..3).all(|c| out[c] > last[c]), "{i}: {out:?} after {last:?}");
            last = out;
        }
        let beyond = TintSettings { shadow_width: 3.0, ..at_bound };
        assert_eq!(Tint::new(&beyond).unwrap_err()[0].key, "shadows");
    }

    #[test]
    fn a_zone_over_mid_grey_must_be_asked_for() {
        let over = TintSettings { shadow_start: 1.0, ..TintSettings::default() };
        assert_eq!(Tint::new(&over).unwrap_err()[0].key, "shadow_start");
        assert!(Tint::new(&TintSettings { keep_grey: false, ..over }).is_ok());
    }

    #[test]
    fn dark_and_negative_light_stays_finite() {
        for colour in [[0.0; 3], [-1.0, -2.0, 0.0], [1e-300; 3], [-1e30, 1e30, 0.0]] {
            assert!(tint().apply(colour).iter().all(|c| c.is_finite()));
        }
    }
}
