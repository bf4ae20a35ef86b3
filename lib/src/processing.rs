//! Measures what a camera does to the picture between the sensor and the file: smoothing of noise, sharpness of an edge, and
//! losses of the codec.
//!
//! [`noise`] reads a bracket of an even card, [`edge`] a frame of a slanted edge by the edge method of ISO 12233, [`codec`]
//! any frame or clip; [`scene`] sets two frames of one scene side by side. [`words`] says what was found. Behind the cargo
//! feature `frame`.
//!
//! # Units
//! Frequencies are cycles per pixel: 0.5 is the limit of the grid (Nyquist). Light and signal are as in [`crate::measure`].
//!
//! # Limits
//! The lens, its focus and its diffraction are part of the result. Two measurements compare two settings of a camera only if
//! lens, aperture, focus and distance were the same.

pub mod codec;
pub mod edge;
pub mod noise;
pub mod report;
pub mod scene;
pub mod spectrum;
pub mod words;

use crate::frame::Frame;
use crate::measure::Claim;
use schemars::JsonSchema;
use serde::Serialize;

/// What was found at one exposure index.
#[derive(Debug, Clone, PartialEq, Default, Serialize, JsonSchema)]
pub struct Processing {
    /// The noise, from the bracket.
    pub noise: Option<noise::Noise>,
    /// Sharpness, from the frame of an edge.
    pub edge: Option<edge::Edge>,
    /// Losses of the codec, from the frame or clip of a scene, or else from the patch of the bracket nearest mid-grey.
    pub codec: Option<codec::Codec>,
}

/// One number for each pixel.
#[derive(Debug, Clone, PartialEq)]
pub struct Plane {
    /// Pixels across.
    pub width: usize,
    /// Row after row.
    pub values: Vec<f64>,
}

impl Plane {
    /// A number of each pixel of a frame.
    pub fn of(frame: &Frame, value: impl Fn([f64; 3]) -> f64) -> Self {
        Self { width: frame.width(), values: frame.pixels().map(|rgb| value(rgb.map(f64::from))).collect() }
    }

    /// The light of one channel.
    pub fn light(frame: &Frame, channel: usize, claim: &Claim) -> Self {
        Self::of(frame, |rgb| claim.decode(rgb[channel]))
    }

    /// Pixels down.
    pub fn height(&self) -> usize {
        self.values.len() / self.width.max(1)
    }

    /// The same with rows and columns exchanged.
    pub fn turned(&self) -> Self {
        let (width, height) = (self.width, self.height());
        let at = |i: usize| self.values[i % height * width + i / height];
        Self { width: height, values: (0..width * height).map(at).collect() }
    }

    /// This less another of the same size.
    pub fn less(&self, other: &Self) -> Self {
        let values = self.values.iter().zip(&other.values).map(|(a, b)| a - b).collect();
        Self { width: self.width, values }
    }
}
