//! A sensor of known truth: shot noise, read noise, fixed pattern, a clip, a log curve and its code values.
//!
//! Numbers drawn are the same on every machine: a counter through a mixing function, and functions of `math`.

use rushlight::camera::Range;
use rushlight::frame::{Depth, Format, Frame, Info};
use rushlight::math::{cos, exp, exp2, ln};
use rushlight::measure::noise::PhotonTransfer;
use rushlight::measure::{Claim, Shot};
use rushlight::transfer::{MID_GREY, encoding};
use std::f64::consts::TAU;

/// Drawn numbers.
#[derive(Debug, Clone)]
pub struct Draw(u64);

impl Draw {
    /// From a seed.
    pub fn new(seed: u64) -> Self {
        // Mixed, for seeds side by side would start side by side in one sequence.
        Self(mix(seed.wrapping_mul(0xd6e8_feb8_6659_fd93) ^ 0x5851_f42d_4c95_7f2d))
    }

    /// Above 0, up to 1.
    pub fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        ((mix(self.0) >> 11) as f64 + 1.0) / (1u64 << 53) as f64
    }

    /// Of the normal distribution.
    pub fn normal(&mut self) -> f64 {
        let (u, v) = (self.unit(), self.unit());
        (-2.0 * ln(u)).sqrt() * cos(TAU * v)
    }

    /// Of the Poisson distribution; above 40 by the normal of the same mean and variance.
    pub fn poisson(&mut self, mean: f64) -> f64 {
        if mean > 40.0 {
            return mean + mean.sqrt() * self.normal();
        }
        let (bound, mut product, mut count) = (exp(-mean), self.unit(), 0.0);
        while product > bound {
            product *= self.unit();
            count += 1.0;
        }
        count
    }
}

fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// A sensor behind a curve.
#[derive(Debug, Clone)]
pub struct Sensor {
    /// Curve and range.
    pub claim: Claim,
    /// Electrons for a scene light of 1, by channel.
    pub electrons: [f64; 3],
    /// Read noise, electrons.
    pub read: f64,
    /// Standard deviation of the pixels' gain.
    pub pattern: f64,
    /// Scene light at which each channel clips.
    pub full: [f64; 3],
    /// Light that is there without exposure.
    pub black: f64,
    /// Bits of the code values.
    pub bits: u8,
}

impl Sensor {
    /// A sensor whose channels all clip six stops over mid-grey, of 12 bits, by a built-in curve.
    ///
    /// # Panics
    /// For an unknown curve.
    pub fn new(curve: &str) -> Self {
        let curve_of = encoding(curve).and_then(|e| e.build(None).ok()).expect("a built-in curve");
        Self {
            claim: Claim { name: curve.to_owned(), curve: curve_of, range: Range::Full },
            electrons: [3500.0; 3],
            read: 4.0,
            pattern: 0.02,
            full: [MID_GREY * 64.0; 3],
            black: 0.0,
            bits: 12,
        }
    }

    /// The noise of a channel as it truly is.
    pub fn truth(&self, c: usize) -> PhotonTransfer {
        let electrons = self.electrons[c];
        let read = self.read / electrons;
        PhotonTransfer { dark: read * read, gain: 1.0 / electrons, fixed: self.pattern * self.pattern }
    }

    /// The stops at which a channel's signal over noise is `ratio`.
    ///
    /// # Panics
    /// Where it never is.
    pub fn floor(&self, c: usize, ratio: f64) -> f64 {
        rushlight::math::log2(self.truth(c).light_at(ratio).expect("a level") / MID_GREY)
    }

    /// One sample of scene light, as a signal.
    pub fn signal(&self, c: usize, light: f64, gain: f64, draw: &mut Draw) -> f32 {
        let caught = draw.poisson(light * self.electrons[c]) * gain;
        let seen = (caught + self.read * draw.normal()) / self.electrons[c] + self.black;
        let code = self.claim.encode(seen.min(self.full[c]));
        let top = ((1u64 << self.bits) - 1) as f64;
        // As 16-bit files hold codes of fewer bits: the nearest.
        let whole = (code.clamp(0.0, 1.0) * top).round() / top;
        ((whole * 65535.0).round() / 65535.0) as f32
    }

    /// An even card at so many stops; `seed` draws the noise, the fixed pattern is the sensor's own.
    ///
    /// # Panics
    /// For no pixels.
    pub fn card(&self, stops: f64, width: usize, height: usize, seed: u64) -> Frame {
        self.picture(width, height, seed, |_, _| [MID_GREY * exp2(stops); 3])
    }

    /// Any scene, by pixel.
    ///
    /// # Panics
    /// For no pixels.
    pub fn picture(&self, width: usize, height: usize, seed: u64, scene: impl Fn(usize, usize) -> [f64; 3]) -> Frame {
        let (mut fixed, mut draw) = (Draw::new(77), Draw::new(seed));
        let mut samples = Vec::with_capacity(width * height * 3);
        for i in 0..width * height {
            let light = scene(i % width, i / width);
            for (c, light) in light.into_iter().enumerate() {
                let gain = 1.0 + self.pattern * fixed.normal();
                samples.push(self.signal(c, light, gain, &mut draw));
            }
        }
        let info = Info::new(Format::Tiff, Depth::Integer(16));
        Frame::new(width, height, false, samples, info).expect("a picture")
    }

    /// A bracket of a card of `side` pixels, `frames` of each exposure.
    pub fn bracket(&self, stops: impl IntoIterator<Item = f64>, side: usize, frames: u64) -> Vec<Shot> {
        self.drawn(stops, side, frames, 0)
    }

    /// A [`bracket`](Self::bracket) whose noise is that of another `draw`.
    pub fn drawn(&self, stops: impl IntoIterator<Item = f64>, side: usize, frames: u64, draw: u64) -> Vec<Shot> {
        stops
            .into_iter()
            .enumerate()
            .map(|(i, stops)| {
                let seed = |k: u64| 1000 * (i as u64 + 1) + draw + k;
                let patches = (0..frames).map(|k| self.card(stops, side, side, seed(k))).collect();
                Shot { name: format!("card_{stops:+}.tif"), stops, patches }
            })
            .collect()
    }
}
