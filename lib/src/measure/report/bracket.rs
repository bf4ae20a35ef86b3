//! One bracket, for programs.

use super::super::choice::Choice;
use super::super::identify::Match;
use super::super::patch::Patch;
use super::super::{self as measure, CHANNELS, Measurement, State, Used, curve};
use crate::camera;
use crate::processing::noise::Noise;
use schemars::JsonSchema;
use serde::Serialize;

/// A bracket of one exposure index.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Bracket {
    /// The exposure index, where it is known.
    pub ei: Option<f64>,
    /// The patch: left, top, width and height in pixels.
    pub patch: [usize; 4],
    /// Width and height of the frames in pixels.
    pub frame: [usize; 2],
    /// How the patch was found; none where it was given.
    pub choice: Option<Chosen>,
    /// Why noise and floor as seen are too good to be true; `processing` has them without smoothing.
    pub flattered: Option<String>,
    /// temporal or spatial.
    pub noise: &'static str,
    /// From one code of the signal to the next.
    pub step: f64,
    /// The curve that made light of the signal.
    pub curve: Curve,
    /// Published curves that fit best.
    pub fits: Vec<Fit>,
    /// Red, green, blue.
    pub channels: Vec<Channel>,
    /// The exposures, dark to bright.
    pub exposures: Vec<Exposure>,
    /// What a show states of this exposure index.
    pub rating: Option<Rating>,
    /// What else there is to say.
    pub remarks: Vec<String>,
}

/// How a patch was found.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Chosen {
    /// Part of the frame that it covers.
    pub share: f64,
    /// Its deviation from the curve that fits it best, in stops.
    pub deviation_stops: Option<f64>,
    /// The next best.
    pub runner_up: Option<RunnerUp>,
}

/// The second likeliest patch.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct RunnerUp {
    /// Left, top, width and height in pixels.
    pub patch: [usize; 4],
    /// Stops by which it is brighter.
    pub stops: Option<f64>,
    /// What speaks for it, over what speaks for the chosen one.
    pub score_ratio: f64,
}

/// The curve that made light of the signal.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Curve {
    /// Its name.
    pub name: String,
    /// claimed, published, one of several that fit alike, or fitted.
    pub source: &'static str,
    /// The range of the signal.
    pub range: &'static str,
    /// Its parameters, where it was fitted.
    pub fitted: Option<Fitted>,
}

/// A curve that was fitted: a logarithm to the base 2 above a straight toe.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Fitted {
    /// The base of the logarithm: 2.
    pub log_base: f64,
    /// Signal over the logarithm.
    pub log_slope: f64,
    /// Factor of the light within the logarithm.
    pub light_gain: f64,
    /// Added to the light within the logarithm.
    pub light_offset: f64,
    /// Added to the signal.
    pub signal_offset: f64,
    /// The light below which the toe is straight.
    pub break_light: f64,
    /// Root mean square of what is left, in stops.
    pub rms_stops: f64,
    /// What is left at each exposure.
    pub residuals: Vec<Residual>,
}

/// What a fitted curve leaves at one exposure.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Residual {
    /// Stops from mid-grey.
    pub stops: f64,
    /// How far it lies over the curve, in stops.
    pub residual_stops: f64,
}

/// A published curve against the bracket.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Fit {
    /// Its name.
    pub name: String,
    /// Stops by which the bracket lies over it.
    pub offset_stops: f64,
    /// Root mean square of what is left, in stops.
    pub rms_stops: f64,
    /// The bracket cannot tell it from the best.
    pub alike: bool,
}

/// One channel.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Channel {
    /// red, green or blue.
    pub channel: &'static str,
    /// Signal of what the meter calls mid-grey.
    pub grey: f64,
    /// Stops by which the response lies over the curve.
    pub offset_stops: f64,
    /// The largest deviation from the curve beyond that, in stops.
    pub largest_deviation_stops: f64,
    /// Light that is there without exposure.
    pub black_light: f64,
    /// Where it clips.
    pub clip: Clip,
    /// The lowest usable light.
    pub floor: Option<Floor>,
    /// Noise by light.
    pub photon_transfer: Option<PhotonTransfer>,
}

/// Where a channel clips.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Clip {
    /// Its signal, or the highest of the bracket.
    pub signal: f64,
    /// Stops over the measured mid-grey.
    pub stops: f64,
    /// It was seen; else the clip lies above.
    pub seen: bool,
}

/// The lowest usable light of a channel.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Floor {
    /// Its signal.
    pub signal: f64,
    /// Stops from the measured mid-grey.
    pub stops: f64,
    /// Stops from the curve's mid-grey, as a show counts.
    pub stops_from_the_curves_grey: f64,
    /// It follows from the fit alone.
    pub below_bracket: bool,
}

/// Variance of the light x: a + b x + c x^2.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PhotonTransfer {
    /// What is there in the dark.
    pub a: f64,
    /// What grows with the light: photons.
    pub b: f64,
    /// What grows with its square: fixed pattern.
    pub c: f64,
}

/// One exposure.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Exposure {
    /// The file.
    pub file: String,
    /// Stops from the meter's mid-grey.
    pub stops: f64,
    /// Red, green, blue.
    pub channels: Vec<Reading>,
}

/// One channel of one exposure.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Reading {
    /// red, green or blue.
    pub channel: &'static str,
    /// Mean signal.
    pub signal: f64,
    /// Standard deviation of the signal.
    pub signal_noise: f64,
    /// Mean light.
    pub light: f64,
    /// Standard deviation of the light.
    pub light_noise: f64,
    /// The same in stops.
    pub noise_stops: Option<f64>,
    /// How far the light lies over what the stops say, in stops.
    pub deviation_stops: Option<f64>,
    /// good, clips in part, or clipped.
    pub state: &'static str,
    /// The noise is hidden by the steps of the codes.
    pub coarse: bool,
}

/// What a show states of an exposure index.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Rating {
    /// The exposure index.
    pub ei: f64,
    /// The signal where the sensor clips.
    pub clip: Option<f64>,
    /// The lowest usable stop from mid-grey.
    pub floor_stops: Option<f64>,
}

fn corners(patch: &Patch) -> [usize; 4] {
    [patch.x, patch.y, patch.width, patch.height]
}

impl Bracket {
    /// Of a measurement and its noise read again: its patch in frames of `frame` pixels, how that was found, and what it rates the camera at.
    pub fn new(
        ei: Option<f64>,
        (m, noise): (&Measurement, &Noise),
        patch: &Patch,
        frame: [usize; 2],
        choice: Option<&Choice>,
        rating: Option<camera::Rating>,
    ) -> Self {
        let choice = choice.map(|c| Chosen {
            share: c.best.share,
            deviation_stops: c.best.deviation,
            runner_up: c.runner_up.as_ref().map(|r| RunnerUp {
                patch: corners(&r.patch),
                stops: Some(r.stops).filter(|stops| stops.is_finite()),
                score_ratio: r.score / c.best.score,
            }),
        });
        let fit =
            |f: &Match| Fit { name: f.claim.name.clone(), offset_stops: f.offset, rms_stops: f.rms, alike: f.alike };
        Self {
            ei,
            patch: corners(patch),
            frame,
            choice,
            flattered: noise.flattered.clone(),
            noise: if m.temporal { "temporal" } else { "spatial" },
            step: m.step,
            curve: Curve::new(&m.used),
            fits: m.matches.iter().map(fit).collect(),
            channels: m.channels.iter().enumerate().map(|(c, channel)| Channel::new(c, channel)).collect(),
            exposures: m.exposures.iter().map(Exposure::new).collect(),
            rating: rating.map(|r| Rating { ei: r.ei, clip: r.clip, floor_stops: r.floor_stops }),
            remarks: m.remarks.clone(),
        }
    }
}

impl Curve {
    fn new(used: &Used) -> Self {
        let source = match used {
            Used::Claimed(_) => "claimed",
            Used::Published(_) => "published",
            Used::Alike(_) => "one of several that fit alike",
            Used::Fitted(..) => "fitted",
        };
        let fitted = match used {
            Used::Fitted(_, fitted) => Some(Fitted::new(fitted)),
            _ => None,
        };
        let claim = used.claim();
        Self { name: claim.name.clone(), source, range: claim.range.name(), fitted }
    }
}

impl Fitted {
    fn new(fitted: &curve::Fitted) -> Self {
        let p = &fitted.parameters;
        let residual =
            |(stops, residual_stops): &(f64, f64)| Residual { stops: *stops, residual_stops: *residual_stops };
        Self {
            log_base: 2.0,
            log_slope: p.log_slope,
            light_gain: p.light_gain,
            light_offset: p.light_offset,
            signal_offset: p.signal_offset,
            break_light: p.break_light,
            rms_stops: fitted.rms,
            residuals: fitted.residuals.iter().map(residual).collect(),
        }
    }
}

impl Channel {
    fn new(c: usize, channel: &measure::Channel) -> Self {
        let clip = channel.clip;
        Self {
            channel: CHANNELS[c],
            grey: channel.grey,
            offset_stops: channel.offset,
            largest_deviation_stops: channel.worst,
            black_light: channel.black,
            clip: Clip { signal: clip.signal, stops: clip.stops, seen: clip.seen },
            floor: channel.floor.map(|f| Floor {
                signal: f.signal,
                stops: f.stops,
                stops_from_the_curves_grey: f.rated,
                below_bracket: f.below_bracket,
            }),
            photon_transfer: channel.noise.map(|n| PhotonTransfer { a: n.dark, b: n.gain, c: n.fixed }),
        }
    }
}

impl Exposure {
    fn new(shot: &measure::Exposure) -> Self {
        let reading = |(c, r): (usize, &measure::Reading)| Reading {
            channel: CHANNELS[c],
            signal: r.signal,
            signal_noise: r.signal_noise,
            light: r.light,
            light_noise: r.noise,
            noise_stops: r.noise_stops(),
            deviation_stops: r.deviation,
            state: match r.state {
                State::Good => "good",
                State::Touched => "clips in part",
                State::Clipped => "clipped",
            },
            coarse: r.coarse,
        };
        let channels = shot.channels.iter().enumerate().map(reading).collect();
        Self { file: shot.name.clone(), stops: shot.stops, channels }
    }
}
