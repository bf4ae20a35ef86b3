//! Measures how a camera smoothed the noise of a bracket, over pixels and over frames, and what floor and latitude it has
//! without that smoothing.
//!
//! # Method
//! Each exposure's patch gives a [`Spectrum`] in light by the curve; where there are several frames, from their differences,
//! so that the fixed pattern stays out. Noise that is averaged over frames as well changes less from one frame to the next
//! than over two: with variances D1 and D2 of those differences, the correlation of neighbouring frames is `r = D2 / D1 - 1`,
//! and the number of frames whose mean does the same is `(1 + r) / (1 - r)`, as for a recursive filter.
//!
//! The white noise of the same power at low frequencies has more variance by [`Spectrum::factor`], in space and time; by it
//! the photon transfer is fitted once more, and gives floor and latitude without smoothing.
//!
//! # Limits
//! Interpolation of a colour filter array smooths noise too, over 1.8 to 2.7 pixels (by calculation, for bilinear
//! interpolation); a spectrum cannot tell it from light noise reduction. This method cannot undo noise reduction that also
//! removes low frequencies; such noise reduction may still show as a floor that no sensor can have.

use super::Plane;
use super::spectrum::Spectrum;
use crate::math::log2;
use crate::measure::noise::{PhotonTransfer, Point};
use crate::measure::{CHANNELS, Claim, Exposure, Floor, Measurement, Shot, State};
use crate::statistics::median;
use crate::transfer::MID_GREY;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;

/// More electrons than a pixel of a video sensor can hold: common practice, no source.
pub const MOST_ELECTRONS: f64 = 200_000.0;
/// The widest smoothing that the interpolation of a colour filter array does by itself, in pixels (by calculation).
pub const INTERPOLATION: f64 = 2.7;
/// Noise smoothed over less than this is taken for white, in pixels: the error of the method.
pub const WHITE: f64 = 1.25;
/// Noise averaged over less than this is taken for new in each frame, in frames: the error of the method.
pub const FRESH: f64 = 1.3;
/// Noise smoothed over more than this is reduced beyond doubt, in pixels: [`INTERPOLATION`] with the error of the method and
/// a little more.
pub const FLATTERED: f64 = 3.5;
/// Shadows with less than this part of the shot noise that the brighter exposures have are denoised.
const SHOT: f64 = 0.5;
/// Exposures from here on are bright, in stops from mid-grey.
const BRIGHT: f64 = -1.0;

/// Floor and clip, in stops from the measured mid-grey.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Latitude {
    /// The lowest usable light; none where it could not be measured.
    pub floor_stops: Option<f64>,
    /// The clip of the channel that clips first, or the brightest exposure.
    pub clip_stops: f64,
    /// The bracket reached the clip.
    pub clip_seen: bool,
}

impl Latitude {
    fn of(measured: &Measurement) -> Self {
        let clip_stops = measured.channels.iter().map(|c| c.clip.stops).fold(f64::INFINITY, f64::min);
        Self { floor_stops: measured.floor().map(|f| f.stops), clip_stops, clip_seen: measured.clip().is_some() }
    }

    /// Stops from the floor to the clip.
    pub fn stops(&self) -> Option<f64> {
        self.floor_stops.map(|floor| self.clip_stops - floor)
    }
}

/// One exposure.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct OfExposure {
    /// Stops from what the meter calls mid-grey.
    pub stops: f64,
    /// Edge of the square of pixels whose mean smooths noise as much: red, green, blue; none where noise is finer than the
    /// steps of the codes or the exposure clips.
    pub smoothed_pixels: [Option<f64>; 3],
}

/// The smoothing of the noise of a bracket.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Noise {
    /// The exposures, dark to bright.
    pub exposures: Vec<OfExposure>,
    /// Edge of the square of pixels whose mean smooths noise as much: the middle of all exposures and channels; 1 is no
    /// smoothing.
    pub smoothed_pixels: Option<f64>,
    /// Frames over which noise is averaged, 1 for none; it needs three frames of an exposure.
    pub averaged_frames: Option<f64>,
    /// Noise that changes from frame to frame, per cent of the light at mid-grey; it needs two frames.
    pub temporal_percent: Option<f64>,
    /// Noise that stays, the fixed pattern, per cent of the light at mid-grey; it needs two frames.
    pub fixed_percent: Option<f64>,
    /// With the noise as measured.
    pub seen: Latitude,
    /// With white noise of the same low-frequency power.
    pub white: Latitude,
    /// Power of the noise by frequency in cycles per pixel, over its mean, at the exposure nearest mid-grey: 1 throughout is
    /// white.
    pub spectrum: Vec<[f64; 2]>,
    /// How alike noise is at 0 to 8 pixels from itself, -1 to 1, at that exposure.
    pub autocorrelation: Vec<f64>,
    /// The reason why the measured noise is less than a sensor can have.
    pub too_good: Vec<String>,
    /// The reason why the measured noise, floor and latitude flatter the camera; `None` if there is none.
    pub flattered: Option<String>,
    /// The bracket with its noise as if it were white.
    #[serde(skip)]
    #[schemars(skip)]
    pub unsmoothed: Option<Box<Unsmoothed>>,
}

impl Noise {
    /// Whether noise is smoothed, over pixels or frames. The measured noise then flatters the camera, and reports never
    /// print it alone.
    pub fn is_smoothed(&self) -> bool {
        self.smoothed_pixels.is_some_and(|pixels| pixels > WHITE) || self.averaged_frames.is_some_and(|n| n > FRESH)
    }
}

/// A measurement with white noise in place of the measured one; reports never print it as measured.
#[derive(Debug, Clone)]
pub struct Unsmoothed(pub Measurement);

impl PartialEq for Unsmoothed {
    fn eq(&self, other: &Self) -> bool {
        self.0.channels == other.0.channels
    }
}

/// Spectra of one exposure, and the white noise in them that the steps of the codes add.
struct Seen<'s> {
    exposure: &'s Exposure,
    shot: &'s Shot,
    channels: [Option<(Spectrum, f64)>; 3],
}

impl Seen<'_> {
    fn factor(&self, c: usize) -> Option<f64> {
        self.channels[c].as_ref().and_then(|(spectrum, white)| spectrum.factor(*white))
    }
}

/// Analyses the noise of a measured bracket. `ratio` is the signal over noise at the floor.
pub fn noise(shots: &[Shot], measured: &Measurement, ratio: f64) -> Noise {
    let claim = measured.used.claim();
    let all: Vec<Seen<'_>> = measured
        .exposures
        .par_iter()
        .filter_map(|exposure| {
            let shot = shots.iter().find(|s| s.stops == exposure.stops)?;
            let channels = std::array::from_fn(|c| {
                let r = &exposure.channels[c];
                let usable = r.state == State::Good && !r.coarse && r.noise > 0.0;
                usable.then(|| spectrum(shot, c, claim, measured.step)).flatten()
            });
            Some(Seen { exposure, shot, channels })
        })
        .collect();

    let factors: Vec<f64> = all.iter().flat_map(|s| (0..3).filter_map(|c| s.factor(c))).collect();
    let pixels = |factor: f64| factor.max(1.0).sqrt();
    let smoothed_pixels = median(&factors).map(pixels);
    let averaged_frames = frames(&all, claim);
    // The variance of the difference of neighbouring frames is that of the noise less their covariance.
    let in_time = averaged_frames.filter(|n| *n > FRESH).map_or(1.0, |n| {
        let shared = (n - 1.0) / (n + 1.0);
        n / (1.0 - shared)
    });
    let usual = smoothed_pixels.map_or(1.0, |p| p * p);
    let unsmoothed = unsmoothed(measured, &all, usual, in_time, ratio);

    let grey = all
        .iter()
        .filter(|s| s.channels.iter().any(Option::is_some))
        .min_by(|a, b| a.exposure.stops.abs().total_cmp(&b.exposure.stops.abs()));
    let spectra: Vec<Spectrum> = grey
        .iter()
        .flat_map(|s| s.channels.iter().flatten())
        .map(|(s, _)| s.clone().over(s.variance().max(f64::MIN_POSITIVE)))
        .collect();
    let mean = Spectrum::mean(&spectra);
    let too_good = too_good(measured, &unsmoothed);
    let (temporal_percent, fixed_percent) = grey.and_then(|s| patterns(s, claim)).unzip();
    Noise {
        exposures: all
            .iter()
            .map(|s| OfExposure {
                stops: s.exposure.stops,
                smoothed_pixels: std::array::from_fn(|c| s.factor(c).map(pixels)),
            })
            .collect(),
        smoothed_pixels,
        averaged_frames,
        temporal_percent,
        fixed_percent,
        seen: Latitude::of(measured),
        white: Latitude::of(&unsmoothed),
        spectrum: mean.as_ref().map(Spectrum::radial).unwrap_or_default(),
        autocorrelation: mean.as_ref().map(Spectrum::autocorrelation).unwrap_or_default(),
        flattered: flattered(smoothed_pixels, averaged_frames, &too_good),
        too_good,
        unsmoothed: Some(Box::new(Unsmoothed(unsmoothed))),
    }
}

/// The spectrum of a shot's channel, in light, and the power in it that the steps of the codes add.
fn spectrum(shot: &Shot, c: usize, claim: &Claim, step: f64) -> Option<(Spectrum, f64)> {
    let planes: Vec<Plane> = shot.patches.iter().map(|f| Plane::light(f, c, claim)).collect();
    let found = if planes.len() > 1 {
        let pairs: Vec<Spectrum> =
            planes.windows(2).filter_map(|w| Spectrum::of(&w[0].less(&w[1])).map(|s| s.over(2.0))).collect();
        Spectrum::mean(&pairs)?
    } else {
        Spectrum::of(planes.first()?)?
    };
    // The middle slope: the mean of the light lies where the noise puts it.
    let signals = shot.patches[0].pixels().map(|rgb| f64::from(rgb[c]));
    let mean = signals.sum::<f64>() / shot.patches[0].pixels().len() as f64;
    let slope = claim.decode(mean + 0.5 * step) - claim.decode(mean - 0.5 * step);
    Some((found, slope * slope / 12.0))
}

/// Frames over which noise is averaged.
fn frames(all: &[Seen<'_>], claim: &Claim) -> Option<f64> {
    let ratios: Vec<f64> = all
        .iter()
        .filter(|s| s.shot.patches.len() > 2)
        .flat_map(|s| (0..3).filter(|c| s.channels[*c].is_some()).map(|c| (s, c)).collect::<Vec<_>>())
        .filter_map(|(s, c)| {
            let planes: Vec<Plane> = s.shot.patches.iter().map(|f| Plane::light(f, c, claim)).collect();
            let apart = |lag: usize| {
                let pairs = planes.windows(lag + 1).map(|w| centred_square(&w[0].less(&w[lag]).values));
                pairs.sum::<f64>() / (planes.len() - lag) as f64
            };
            let (one, two) = (apart(1), apart(2));
            (one > 0.0).then(|| (two / one - 1.0).clamp(0.0, 0.95))
        })
        .collect();
    median(&ratios).map(|r| (1.0 + r) / (1.0 - r))
}

/// Mean square of numbers less their mean: light that flickers moves all of a frame, and is no noise.
fn centred_square(values: &[f64]) -> f64 {
    let count = values.len().max(1) as f64;
    let mean = values.iter().sum::<f64>() / count;
    values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / count
}

/// Noise from frame to frame and noise that stays, per cent of the light: the mean of the channels.
fn patterns(seen: &Seen<'_>, claim: &Claim) -> Option<(f64, f64)> {
    let count = seen.shot.patches.len();
    if count < 2 {
        return None;
    }
    let mut sums = (0.0, 0.0);
    for (c, reading) in seen.exposure.channels.iter().enumerate() {
        let planes: Vec<Plane> = seen.shot.patches.iter().map(|f| Plane::light(f, c, claim)).collect();
        let pairs = planes.windows(2).map(|w| centred_square(&w[0].less(&w[1]).values) / 2.0);
        let temporal = pairs.sum::<f64>() / (count - 1) as f64;
        let mean = |i: usize| planes.iter().map(|p| p.values[i]).sum::<f64>() / count as f64;
        let width = planes[0].width;
        let still = Plane { width, values: (0..planes[0].values.len()).map(mean).collect() };
        let across = Spectrum::of(&still)?.variance();
        let percent = |variance: f64| 100.0 * variance.max(0.0).sqrt() / reading.light.max(f64::MIN_POSITIVE);
        sums.0 += percent(temporal) / 3.0;
        sums.1 += percent(across - temporal / count as f64) / 3.0;
    }
    Some(sums)
}

/// The bracket with white noise of the same low-frequency power.
fn unsmoothed(measured: &Measurement, all: &[Seen<'_>], usual: f64, in_time: f64, ratio: f64) -> Measurement {
    let mut white = measured.clone();
    let claim = measured.used.claim();
    let darkest = measured.exposures.first().map_or(0.0, |e| e.stops);
    for (c, channel) in white.channels.iter_mut().enumerate() {
        let points = points(measured, c, |exposure| {
            let own = all.iter().find(|s| s.exposure.stops == exposure.stops).and_then(|s| s.factor(c));
            // Noise with a rising spectrum, such as added grain, is not corrected.
            own.unwrap_or(usual).max(1.0) * in_time
        });
        channel.noise = channel.noise.and(PhotonTransfer::fit(&points));
        channel.floor = channel.noise.and_then(|n| n.light_at(ratio)).filter(|light| *light > 0.0).map(|light| {
            let rated = log2(light / MID_GREY);
            let stops = rated - channel.offset;
            Floor { stops, rated, signal: claim.encode(light + channel.black), below_bracket: stops < darkest - 0.5 }
        });
    }
    white
}

/// Variance by light of one channel, with the variance of each exposure times `factor`.
fn points(measured: &Measurement, c: usize, factor: impl Fn(&Exposure) -> f64) -> Vec<Point> {
    let black = measured.channels[c].black;
    let used = measured.exposures.iter().filter(|e| e.channels[c].state == State::Good && !e.channels[c].coarse);
    used.map(|e| {
        let r = &e.channels[c];
        let variance = r.noise * r.noise * factor(e);
        Point { light: (r.light - black).max(0.0), variance, count: measured.samples }
    })
    .collect()
}

/// The strongest reason to distrust the measured noise and floor.
fn flattered(pixels: Option<f64>, frames: Option<f64>, too_good: &[String]) -> Option<String> {
    if let Some(pixels) = pixels.filter(|pixels| *pixels > FLATTERED) {
        return Some(format!(
            "noise is smoothed over about {pixels:.1} pixels, more than any debayering does: noise reduction hides it"
        ));
    }
    if let Some(frames) = frames.filter(|frames| *frames > FRESH) {
        return Some(format!("noise is averaged over about {frames:.1} frames: noise reduction in time hides it"));
    }
    too_good.first().cloned()
}

/// A finding that no sensor can have.
fn too_good(measured: &Measurement, white: &Measurement) -> Vec<String> {
    let mut said = Vec::new();
    let full = |m: &Measurement, c: usize| {
        let channel = &m.channels[c];
        let light = crate::math::exp2(channel.clip.stops + channel.offset) * MID_GREY;
        channel.noise.and_then(|n| n.electrons(light))
    };
    let most = (0..3).filter_map(|c| full(measured, c)).fold(0.0, f64::max);
    if most > MOST_ELECTRONS {
        let still = (0..3).filter_map(|c| full(white, c)).fold(0.0, f64::max);
        let still = if still > MOST_ELECTRONS { ", also without the smoothing that was found" } else { "" };
        said.push(format!(
            "so little noise would need pixels of {most:.0} electrons{still}: no pixel of a video sensor holds more than {MOST_ELECTRONS:.0} (common practice, no source)"
        ));
    }
    let under: Vec<(usize, f64)> = (0..3).filter_map(|c| Some((c, under_shot_noise(measured, c)?))).collect();
    if let Some((c, stops)) = under.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)) {
        said.push(format!(
            "from {stops:+.0} stops down {} has less than half of the shot noise that its brighter exposures have: shadows are denoised more than the rest",
            CHANNELS[c]
        ));
    }
    said
}

/// The brightest of the darker exposures from which on all have less noise than the light itself brings, by the shot noise
/// of the brighter ones; in stops.
fn under_shot_noise(measured: &Measurement, c: usize) -> Option<f64> {
    let stops: Vec<f64> = measured
        .exposures
        .iter()
        .filter(|e| e.channels[c].state == State::Good && !e.channels[c].coarse)
        .map(|e| e.stops)
        .collect();
    let points = points(measured, c, |_| 1.0);
    let bright: Vec<Point> = stops.iter().zip(&points).filter(|(s, _)| **s >= BRIGHT).map(|(_, p)| *p).collect();
    let gain = PhotonTransfer::fit(&bright)?.gain;
    // Shot noise must dominate at some exposure, or the fit cannot determine it.
    let first = bright.first()?;
    if gain * first.light < 0.5 * first.variance {
        return None;
    }
    let dark: Vec<(f64, Point)> = stops.into_iter().zip(points).filter(|(s, _)| *s < BRIGHT).collect();
    let under = dark.iter().take_while(|(_, p)| p.variance < SHOT * gain * p.light).count();
    (under >= 2).then(|| dark[under - 1].0)
}
