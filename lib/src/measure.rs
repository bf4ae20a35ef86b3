//! Measures a camera from its test frames: an exposure bracket of an evenly lit grey card.
//!
//! Each [`Shot`] is the same patch of one or more frames and its exposure in stops from what the meter calls mid-grey.
//! [`measure`] finds where each channel clips, how the response departs from a curve, how noise rises with light (the
//! photon transfer, [`noise`]), where the signal drowns in it, and so the latitude. [`compare`] sets exposure indices side
//! by side at one final brightness, [`modes`] says what a camera mode changes, [`curve`] names the published curve
//! that fits a bracket, or fits one. Behind the cargo feature `frame`.
//!
//! # Units
//! Stops are counted from the exposure at which the meter reads mid-grey (0.18). Signal is 0..1 as in [`crate::camera`].
//! Light is scene reflectance by the curve.
//!
//! # Limits
//! A patch is seen through the lens (flare, uneven light), the camera's development (sharpening, noise reduction) and its
//! codec. The result describes that whole chain, not the sensor alone; [`crate::processing::noise`] measures how far the
//! noise was smoothed, and the floor without that smoothing.

pub mod choice;
pub mod compare;
pub mod curve;
pub mod faults;
pub mod grid;
pub mod identify;
pub mod modes;
pub mod noise;
pub mod patch;
mod remarks;
pub mod report;
mod response;
pub mod white;

use crate::camera::Range;
use crate::frame::Frame;
use crate::math::{exp2, log2};
use crate::transfer::{MID_GREY, Transfer};
use curve::Fitted;
use identify::{Match, Samples};
use noise::{PhotonTransfer, Point};
use patch::{Level, level};
use response::{clip, quantum, share_above};
use std::fmt;
use std::sync::Arc;

/// The patch of one exposure.
#[derive(Debug, Clone)]
pub struct Shot {
    /// The file, for messages.
    pub name: String,
    /// Exposure in stops from what the meter calls mid-grey.
    pub stops: f64,
    /// The patch of each frame of this exposure, all of one size; several give the noise between them.
    pub patches: Vec<Frame>,
}

/// A curve and the range of its signal.
#[derive(Debug, Clone)]
pub struct Claim {
    /// Its name, for reports.
    pub name: String,
    /// The curve.
    pub curve: Arc<dyn Transfer>,
    /// The range of the signal.
    pub range: Range,
}

impl Claim {
    /// Signal to light.
    pub fn decode(&self, signal: f64) -> f64 {
        self.curve.decode(self.range.decode(signal))
    }

    /// Light to signal.
    pub fn encode(&self, light: f64) -> f64 {
        self.range.encode(self.curve.encode(light))
    }
}

/// How to measure.
#[derive(Debug, Clone)]
pub struct Settings {
    /// The curve that the camera claims; default: the published one that fits, or one fitted to the bracket.
    pub claim: Option<Claim>,
    /// Signal over noise that is still usable: 1 is the lower end of dynamic range in ISO 15739 (from memory); a higher
    /// value is stricter.
    pub ratio: f64,
    /// Mean signal of a second patch of another brightness in each exposure, dark to bright: it tells a wrong exposure from
    /// the curve.
    pub witness: Option<Vec<f64>>,
}

impl Default for Settings {
    fn default() -> Self {
        Self { claim: None, ratio: 1.0, witness: None }
    }
}

/// Why a bracket cannot be measured.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum MeasureError {
    /// Too few exposures.
    TooFew(String),
    /// Frames that do not belong together.
    Mismatch(String),
    /// A patch that cannot be used.
    Patch(String),
    /// The frames do not get brighter with their stops.
    Order(String),
    /// All frames are black, or all are clipped.
    Flat(String),
}

impl fmt::Display for MeasureError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooFew(why) | Self::Mismatch(why) | Self::Patch(why) | Self::Order(why) | Self::Flat(why) => {
                f.write_str(why)
            }
        }
    }
}

impl std::error::Error for MeasureError {}

/// Red, green and blue in words.
pub const CHANNELS: [&str; 3] = ["red", "green", "blue"];

/// Whether a channel of a shot can be used, once the clip is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// It can be used.
    Good,
    /// Some of its samples clip: it is excluded from every fit.
    Touched,
    /// It is at the clip.
    Clipped,
}

/// One channel of one shot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Mean signal.
    pub signal: f64,
    /// Standard deviation of the signal.
    pub signal_noise: f64,
    /// Mean light by the curve.
    pub light: f64,
    /// Standard deviation of the light, without the part that the steps of the codes add.
    pub noise: f64,
    /// Deviation of the light from the stated stops, in stops; `None` if it clips or is lost in noise.
    pub deviation: Option<f64>,
    /// Whether it clips.
    pub state: State,
    /// The noise is finer than the steps of the codes, which hide it.
    pub coarse: bool,
}

impl Reading {
    /// Noise in stops, to first order; none without light.
    pub fn noise_stops(&self) -> Option<f64> {
        (self.light > 0.0).then(|| self.noise / (self.light * std::f64::consts::LN_2))
    }
}

/// One exposure, measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Exposure {
    /// The file.
    pub name: String,
    /// Stops from what the meter calls mid-grey.
    pub stops: f64,
    /// Red, green, blue.
    pub channels: [Reading; 3],
}

/// Where a channel clips.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clip {
    /// The signal of the clip, or the highest that the bracket reached.
    pub signal: f64,
    /// Stops over the measured mid-grey.
    pub stops: f64,
    /// Whether the bracket reached the clip; else the clip is higher.
    pub seen: bool,
}

/// The lowest usable light of a channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Floor {
    /// Stops from the measured mid-grey, below 0.
    pub stops: f64,
    /// Stops from the curve's mid-grey, light of 0.18: as a show counts its ratings.
    pub rated: f64,
    /// Its signal.
    pub signal: f64,
    /// Whether it lies below the darkest shot, so that it is extrapolated by the fit.
    pub below_bracket: bool,
}

/// One channel, measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// The signal of what the meter calls mid-grey.
    pub grey: f64,
    /// Offset of the whole response from the curve, in stops: caused by the meter, the lens or the exposure index.
    pub offset: f64,
    /// The largest deviation from the curve beyond `offset`, in stops.
    pub worst: f64,
    /// Light without exposure: flare, or a lifted black.
    pub black: f64,
    /// Where it clips.
    pub clip: Clip,
    /// Noise by light; none where it cannot be measured.
    pub noise: Option<PhotonTransfer>,
    /// The lowest usable light.
    pub floor: Option<Floor>,
}

/// The curve by which the light was calculated.
#[derive(Debug, Clone)]
pub enum Used {
    /// The curve that the camera is said to have.
    Claimed(Claim),
    /// The published one that fits best.
    Published(Claim),
    /// One of several published ones that the bracket cannot tell apart: that which needs the least offset.
    Alike(Claim),
    /// A curve fitted to the bracket, because no published one fits.
    Fitted(Claim, Box<Fitted>),
}

impl Used {
    /// The curve.
    pub fn claim(&self) -> &Claim {
        match self {
            Self::Claimed(claim) | Self::Published(claim) | Self::Alike(claim) | Self::Fitted(claim, _) => claim,
        }
    }
}

/// A bracket, measured.
#[derive(Debug, Clone)]
pub struct Measurement {
    /// The exposures, dark to bright.
    pub exposures: Vec<Exposure>,
    /// Red, green, blue.
    pub channels: [Channel; 3],
    /// The curve by which the light was calculated.
    pub used: Used,
    /// The published curves that fit best: those that the bracket cannot tell apart, then the others, the best first.
    pub matches: Vec<Match>,
    /// The step between neighbouring codes, in signal.
    pub step: f64,
    /// Pixels of the patch.
    pub pixels: usize,
    /// Samples of each channel of an exposure: the pixels of all its frames.
    pub samples: usize,
    /// Noise is that between frames, not across the patch.
    pub temporal: bool,
    /// Further notes, in sentences.
    pub remarks: Vec<String>,
}

/// The fewest shots of a bracket.
pub const FEWEST: usize = 3;
/// A published curve fits when the bracket deviates from it by less than this, in stops (root mean square).
pub const FITS: f64 = 0.05;
/// An even patch: its blocks deviate by less than this part of the mean.
const EVEN: f64 = 0.1;
/// A noise of fewer steps than this is hidden by the codes.
const HIDDEN: f64 = 0.4;

/// Measures a bracket.
///
/// # Errors
/// Fewer than [`FEWEST`] exposures, patches of different sizes, frames that do not get brighter with their stops, nothing
/// but black or clip, a patch that is not even.
pub fn measure(shots: &[Shot], settings: &Settings) -> Result<Measurement, MeasureError> {
    let shots = response::in_order(shots)?;
    let signals: Vec<[Level; 3]> = shots.iter().map(|s| std::array::from_fn(|c| level(&s.patches, c, |v| v))).collect();
    let step = quantum(&shots);
    response::check_rise(&shots, &signals, step)?;
    let stops: Vec<f64> = shots.iter().map(|s| s.stops).collect();
    let found: [response::Plateau; 3] = std::array::from_fn(|c| {
        let levels: Vec<Level> = signals.iter().map(|s| s[c]).collect();
        clip(&shots, c, &stops, &levels, step)
    });
    let state = |i: usize, c: usize| {
        let plateau = &found[c];
        match plateau.from {
            Some(from) if i >= from => State::Clipped,
            Some(_) if share_above(shots[i], c, plateau.touches) > 1e-3 => State::Touched,
            _ => State::Good,
        }
    };
    let good: Vec<usize> = (0..shots.len()).filter(|i| (0..3).all(|c| state(*i, c) == State::Good)).collect();
    if good.len() < FEWEST {
        return Err(MeasureError::Flat(format!(
            "only {} of {} exposures lie below the clip: shoot the bracket darker",
            good.len(),
            shots.len()
        )));
    }

    // The curve, by the mean of the channels.
    let pixels = shots[0].patches[0].width() * shots[0].patches[0].height();
    let samples = pixels * shots.iter().map(|s| s.patches.len()).min().unwrap_or(1);
    let points: Vec<curve::Point> = good
        .iter()
        .map(|i| point(stops[*i], &signals[*i].map(|l| (l.mean, l.variance.sqrt())), samples, step))
        .collect();
    let samples_of = |i: &usize| Samples::of(stops[*i], &shots[*i].patches, step);
    let matches = identify::published(&good.iter().map(samples_of).collect::<Vec<_>>());
    let mut remarks = Vec::new();
    let used = match (&settings.claim, matches.first()) {
        (Some(claim), _) => Used::Claimed(claim.clone()),
        (None, Some(best)) if best.rms <= FITS => {
            let several = matches.iter().filter(|m| m.alike).count() > 1;
            if several { Used::Alike(best.claim.clone()) } else { Used::Published(best.claim.clone()) }
        }
        _ => {
            let fitted = curve::fit(&points).ok_or_else(|| {
                MeasureError::TooFew(format!(
                    "no published curve fits, and {} usable exposures are too few to fit one: shoot {} or more",
                    points.len(),
                    curve::FEWEST
                ))
            })?;
            Used::Fitted(fitted.claim(), Box::new(fitted))
        }
    };
    let claim = used.claim().clone();

    let mut exposures: Vec<Exposure> = Vec::new();
    let mut lights: Vec<[Level; 3]> = Vec::new();
    for (i, shot) in shots.iter().enumerate() {
        let light: [Level; 3] = std::array::from_fn(|c| level(&shot.patches, c, |v| claim.decode(v)));
        let channels = std::array::from_fn(|c| {
            let (signal, light) = (signals[i][c], light[c]);
            let signal_noise = signal.variance.sqrt();
            let slope = (claim.decode(signal.mean + 0.5 * step) - claim.decode(signal.mean - 0.5 * step)).abs();
            let noise = (light.variance - slope * slope / 12.0).max(0.0).sqrt();
            let coarse = signal_noise < HIDDEN * step;
            let (state, light) = (state(i, c), light.mean);
            Reading { signal: signal.mean, signal_noise, light, noise, deviation: None, state, coarse }
        });
        exposures.push(Exposure { name: shot.name.clone(), stops: shot.stops, channels });
        lights.push(light);
    }
    for (shot, light) in exposures.iter().zip(&lights) {
        for (c, (reading, level)) in shot.channels.iter().zip(light).enumerate() {
            // The noise within blocks: an object in the patch would raise the noise across it.
            let told = reading.light > 5.0 * level.within.sqrt();
            if reading.state == State::Good && told && level.unevenness > EVEN {
                return Err(MeasureError::Patch(format!(
                    "{}: the patch is not even: parts of it lie {:.0} % off its mean in {}: the card or the camera moved, something is in it, the light falls off, or a codec left blocks: give another by --patch",
                    shot.name,
                    100.0 * level.unevenness,
                    CHANNELS[c]
                )));
            }
        }
    }

    let mut channels: Vec<Channel> = Vec::new();
    for c in 0..3 {
        channels.push(channel(c, &mut exposures, &lights, &found[c], &claim, settings.ratio));
    }
    remarks::of_camera(&mut remarks, &exposures, &channels, &used, &matches);
    remarks::of_bracket(&mut remarks, &shots, &exposures, &claim, channels[1].black, settings.witness.as_deref());
    let temporal = shots.iter().all(|s| s.patches.len() > 1);
    let channels = channels.try_into().unwrap_or_else(|_| unreachable!("three channels were made"));
    Ok(Measurement { exposures, channels, used, matches, step, pixels, samples, temporal, remarks })
}

/// A point of the response from the mean and the noise of each channel.
fn point(stops: f64, channels: &[(f64, f64); 3], samples: usize, step: f64) -> curve::Point {
    let signal = channels.iter().map(|c| c.0).sum::<f64>() / 3.0;
    let variance = channels.iter().map(|c| c.1 * c.1).sum::<f64>() / 9.0 / samples as f64;
    curve::Point { stops, signal, error: (variance + step * step / 16.0).sqrt() }
}

/// Measures one channel, and notes each shot's deviation.
fn channel(
    c: usize,
    exposures: &mut [Exposure],
    lights: &[[Level; 3]],
    plateau: &response::Plateau,
    claim: &Claim,
    ratio: f64,
) -> Channel {
    for shot in exposures.iter_mut() {
        let reading = &mut shot.channels[c];
        if reading.state == State::Good && reading.light > reading.noise && reading.light > 0.0 {
            reading.deviation = Some(log2(reading.light / MID_GREY) - shot.stops);
        }
    }
    let clean = |r: &Reading| r.light > 8.0 * r.noise;
    let told: Vec<(f64, f64)> = exposures
        .iter()
        .filter(|s| clean(&s.channels[c]))
        .filter_map(|s| s.channels[c].deviation.map(|d| (s.stops, d)))
        .collect();
    // About mid-grey where the bracket has it, for there the meter was read.
    let near: Vec<f64> = told.iter().filter(|t| t.0.abs() <= 3.0).map(|t| t.1).collect();
    let all: Vec<f64> = told.iter().map(|t| t.1).collect();
    let offset = crate::statistics::median(if near.len() >= 3 { &near } else { &all }).unwrap_or(0.0);
    let worst = all.iter().map(|d| d - offset).fold(0.0, |a: f64, b| if b.abs() > a.abs() { b } else { a });
    let place = response::between(&told, 0.0).unwrap_or(offset);
    let grey = claim.encode(MID_GREY * exp2(place));
    let grey_light = MID_GREY * exp2(offset);

    let black = response::black(exposures, c, grey_light);
    let points: Vec<Point> = exposures
        .iter()
        .zip(lights)
        .map(|(shot, light)| (&shot.channels[c], light[c].count))
        .filter(|(r, _)| r.state == State::Good && !r.coarse)
        .map(|(r, count)| Point { light: (r.light - black).max(0.0), variance: r.noise * r.noise, count })
        .collect();
    let noise = PhotonTransfer::fit(&points);
    let from_grey = |light: f64| stops_over(grey_light, light);
    let darkest = exposures.first().map_or(0.0, |s| s.stops);
    let floor = noise.and_then(|n| n.light_at(ratio)).filter(|light| *light > 0.0).map(|light| {
        let stops = from_grey(light);
        let rated = log2(light / MID_GREY);
        Floor { stops, rated, signal: claim.encode(light + black), below_bracket: stops < darkest - 0.5 }
    });
    let clip = Clip {
        signal: plateau.signal,
        stops: from_grey(claim.decode(plateau.signal) - black),
        seen: plateau.from.is_some(),
    };
    Channel { grey, offset, worst, black, clip, noise, floor }
}

/// Stops of a light over another; far below for one that is none.
fn stops_over(grey: f64, light: f64) -> f64 {
    log2(light.max(f64::MIN_POSITIVE) / grey)
}

impl Measurement {
    /// Stops of a channel's signal over the measured mid-grey.
    pub(crate) fn stops_of(&self, c: usize, signal: f64) -> f64 {
        let Channel { offset, black, .. } = self.channels[c];
        stops_over(MID_GREY * exp2(offset), self.used.claim().decode(signal) - black)
    }

    /// The response below the clip, by the mean of the channels.
    pub fn points(&self) -> Vec<curve::Point> {
        let good = self.exposures.iter().filter(|s| s.channels.iter().all(|r| r.state == State::Good));
        good.map(|s| point(s.stops, &s.channels.map(|r| (r.signal, r.signal_noise)), self.samples, self.step)).collect()
    }

    /// The same before a range: what a curve gives, and `range` then squeezes.
    pub fn points_in(&self, range: Range) -> Vec<curve::Point> {
        let width = range.encode(1.0) - range.encode(0.0);
        let before = |p: curve::Point| curve::Point { signal: range.decode(p.signal), error: p.error / width, ..p };
        self.points().into_iter().map(before).collect()
    }

    /// The clip to rate the camera by: that of the channel which clips first, where every channel's was seen.
    pub fn clip(&self) -> Option<Clip> {
        let all: Vec<Clip> = self.channels.iter().map(|c| c.clip).collect();
        let first = all.iter().copied().min_by(|a, b| a.stops.total_cmp(&b.stops))?;
        first.seen.then_some(first)
    }

    /// The floor of the channel that has the highest one.
    pub fn floor(&self) -> Option<Floor> {
        self.highest_floor(|floor| floor.stops)
    }

    /// The floor as a show's rating counts it: stops from the curve's mid-grey, of the channel that has the highest one.
    pub fn rated_floor(&self) -> Option<f64> {
        self.highest_floor(|floor| floor.rated).map(|floor| floor.rated)
    }

    fn highest_floor(&self, by: impl Fn(&Floor) -> f64) -> Option<Floor> {
        let all: Option<Vec<Floor>> = self.channels.iter().map(|c| c.floor).collect();
        all?.into_iter().max_by(|a, b| by(a).total_cmp(&by(b)))
    }
}
