//! Pictures through a look or a cube.
//!
//! A [`Transform`] is a cube made ready for frames, or the exact path. It takes what a frame's samples say as they stand:
//! code value over the largest code, or scene-linear light where the transform is made for that. Alpha is kept, and colour
//! that is multiplied by it is divided first. [`tags`](mod@tags) says of a display what a file of its signal has to say of
//! its colours, [`icc`] writes the profile, and [`planes`] takes and gives the sample planes of video.
//!
//! # Error
//! A sampled cube has the error against the exact path that its audit measures ([`crate::audit`]); [`Deviation`] measures it on the pictures
//! themselves. The fast kernels add what [`crate::cube::fast`] states.

pub mod burn_in;
pub mod icc;
pub mod planes;
pub mod report;
pub mod tags;

use crate::camera::{Camera, Range};
use crate::cube::fast::{CHUNK, FastCube};
use crate::cube::{Cube, Interpolation};
use crate::display::Display;
use crate::frame::Frame;
use crate::gamut::Gamut;
use crate::invalid::Refusals;
use crate::look::Look;
use crate::pipeline::Pipeline;
use crate::transfer::{Transfer, acescct::ACES_CCT, linear::Linear};
use crate::transform::ColourTransform;
use rayon::prelude::*;
use std::fmt;
use std::sync::Arc;

/// Scene light between which a cube for light has its nodes, even in stops: from a little below black to ten stops over
/// mid-grey, 1.0 of ACEScct.
const LIGHT: [f64; 2] = [-0.01, 222.860944204404];
/// Points of a cube for light, where nothing says how many: it spans more stops than a camera's log does.
pub const LIGHT_POINTS: usize = 65;
/// Beyond these, signal and light are taken for their bounds: the path is then finite everywhere.
const SIGNALS: f64 = 4.0;
const LIGHTS: f64 = 1e9;
/// Pixels of a frame that [`Deviation`] looks at.
const LOOKED_AT: usize = 256;

/// A function of a colour, on any thread.
type Function = dyn ColourTransform + Send;

#[derive(Clone)]
enum Kind {
    Cube(FastCube),
    /// ACEScct, then a cube.
    Light(FastCube),
    /// Any transform; input is held within so much of zero.
    Function(Arc<Function>, f64),
}

/// What is done to the colours of a frame.
#[derive(Clone)]
pub struct Transform {
    kind: Kind,
}

impl fmt::Debug for Transform {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self.kind {
            Kind::Cube(_) => "Transform(cube)",
            Kind::Light(_) => "Transform(cube for light)",
            Kind::Function(..) => "Transform(function)",
        })
    }
}

/// A path from scene-linear light of a gamut, 0.18 mid-grey, instead of a camera's signal.
///
/// # Errors
/// As [`Pipeline::new`].
pub fn from_light(gamut: &Gamut, look: &Look, display: &Display) -> Result<Pipeline, Refusals> {
    let camera = Camera::new(Arc::new(Linear), gamut, None, Range::Full, Vec::new())?;
    Pipeline::new(&camera, look, display)
}

impl Transform {
    /// A cube.
    ///
    /// # Errors
    /// As [`FastCube::new`].
    pub fn cube(cube: &Cube, interpolation: Interpolation) -> Result<Self, Refusals> {
        Ok(Self { kind: Kind::Cube(FastCube::new(cube, interpolation)?) })
    }

    /// A path sampled into a cube of so many points, between 0 and 1 of the signal.
    ///
    /// # Errors
    /// As [`Cube::sample`] and [`FastCube::new`].
    pub fn sampled(pipeline: &Pipeline, points: usize, kind: Interpolation) -> Result<Self, Refusals> {
        Self::cube(&pipeline.cube(points)?, kind)
    }

    /// A path [from scene-linear light](from_light) sampled into a cube whose nodes are even in stops: from a little below
    /// black (-0.01) to ten stops over mid-grey; light beyond is taken for these.
    ///
    /// # Errors
    /// As [`sampled`](Self::sampled).
    pub fn sampled_light(pipeline: &Pipeline, points: usize, kind: Interpolation) -> Result<Self, Refusals> {
        let domain = LIGHT.map(|light| [ACES_CCT.encode(light); 3]);
        let cube = Cube::sample_over(points, domain, |place| pipeline.apply(place.map(|v| ACES_CCT.decode(v))))?;
        Ok(Self { kind: Kind::Light(FastCube::new(&cube, kind)?) })
    }

    /// The exact path from a camera's signal, in f64.
    pub fn exact(pipeline: Pipeline) -> Self {
        Self { kind: Kind::Function(Arc::new(pipeline), SIGNALS) }
    }

    /// The exact path [from scene-linear light](from_light), in f64.
    pub fn exact_light(pipeline: Pipeline) -> Self {
        Self { kind: Kind::Function(Arc::new(pipeline), LIGHTS) }
    }

    /// Any other transform.
    pub fn of(f: impl ColourTransform + Send + 'static) -> Self {
        Self { kind: Kind::Function(Arc::new(f), LIGHTS) }
    }

    /// The cube that samples of 16 bits can go through as they are.
    pub const fn fast(&self) -> Option<&FastCube> {
        match &self.kind {
            Kind::Cube(cube) => Some(cube),
            _ => None,
        }
    }

    /// Every pixel of a frame; alpha is left alone. Where colour is multiplied by alpha it is divided first and multiplied
    /// again; where alpha is 0, black stays black, and light without alpha goes through as it stands.
    pub fn frame(&self, frame: &mut Frame) {
        let divide = frame.alpha() && frame.info.associated;
        match (divide, frame.alpha()) {
            (_, false) => self.pixels::<3>(frame.samples_mut()),
            (false, true) => self.pixels::<4>(frame.samples_mut()),
            (true, true) => frame.samples_mut().par_chunks_mut(4 * CHUNK).for_each(|part| {
                let nothing = |p: &[f32]| p.iter().all(|v| *v == 0.0);
                let empty: Vec<bool> = part.chunks_exact(4).map(nothing).collect();
                let scale = |p: &mut [f32], by: f32| p[..3].iter_mut().for_each(|v| *v *= by);
                let covered = |p: &[f32]| p[3] != 0.0 && p[3] != 1.0;
                part.chunks_exact_mut(4).filter(|p| covered(p)).for_each(|p| scale(p, 1.0 / p[3]));
                self.pixels::<4>(part);
                for (pixel, empty) in part.chunks_exact_mut(4).zip(empty) {
                    if empty {
                        pixel.fill(0.0);
                    } else if covered(pixel) {
                        scale(pixel, pixel[3]);
                    }
                }
            }),
        }
    }

    /// Interleaved samples, of which the first three of every `N` are red, green and blue.
    fn pixels<const N: usize>(&self, samples: &mut [f32]) {
        let through = |cube: &FastCube, samples: &mut [f32]| match N {
            3 => cube.rgb_in_place(samples),
            _ => cube.rgba_in_place(samples),
        };
        match &self.kind {
            Kind::Cube(cube) => through(cube, samples).expect("whole pixels"),
            Kind::Light(cube) => samples.par_chunks_mut(N * CHUNK).for_each(|part| {
                for pixel in part.chunks_exact_mut(N) {
                    pixel[..3].iter_mut().for_each(|v| *v = stops(*v));
                }
                through(cube, part).expect("whole pixels");
            }),
            Kind::Function(f, limit) => samples.par_chunks_mut(N * CHUNK / 8).for_each(|part| {
                for pixel in part.chunks_exact_mut(N) {
                    let rgb = at(&**f, *limit, [pixel[0], pixel[1], pixel[2]]);
                    pixel[..3].copy_from_slice(&rgb.map(|v| v as f32));
                }
            }),
        }
    }

    /// Three planes of red, green and blue, 0 to 1.
    ///
    /// # Panics
    /// When the planes differ in length.
    pub fn planes(&self, [red, green, blue]: [&mut [f32]; 3]) {
        match &self.kind {
            Kind::Cube(cube) => cube.planar_in_place([red, green, blue]).expect("planes of one length"),
            _ => {
                assert!(red.len() == green.len() && green.len() == blue.len(), "planes of one length");
                let mut pixels: Vec<f32> = (0..red.len()).flat_map(|i| [red[i], green[i], blue[i]]).collect();
                self.pixels::<3>(&mut pixels);
                for (i, pixel) in pixels.chunks_exact(3).enumerate() {
                    (red[i], green[i], blue[i]) = (pixel[0], pixel[1], pixel[2]);
                }
            }
        }
    }
}

/// Light as the place of a cube for light; no number is black.
fn stops(light: f32) -> f32 {
    if light.is_nan() { ACES_CCT.encode(0.0) as f32 } else { ACES_CCT.encode(f64::from(light).min(LIGHTS)) as f32 }
}

/// What a function gives for a colour of f32; no number is 0.
fn at(f: &Function, limit: f64, rgb: [f32; 3]) -> [f64; 3] {
    f.transform(rgb.map(|v| if v.is_nan() { 0.0 } else { f64::from(v).clamp(-limit, limit) }))
}

/// How far pictures came out from where the exact path would have them, in code values of 10 bits, by pixels spread evenly
/// over each.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Deviation {
    /// Pixels that were compared.
    pub pixels: u64,
    /// The sum over pixels of the farthest channel.
    sum: f64,
    /// The farthest.
    pub max: f64,
}

/// A few pixels as they went in.
#[derive(Debug, Clone)]
pub struct SampledPixels(Vec<(usize, [f32; 3])>);

impl SampledPixels {
    /// Of a frame before its [`Transform`]; pixels that alpha makes part transparent are passed over.
    pub fn of(frame: &Frame) -> Self {
        let count = frame.width() * frame.height();
        let (step, channels) = (count.div_ceil(LOOKED_AT).max(1), frame.channels());
        // An odd step, so that not the same columns come again and again.
        let places = (0..count).step_by(step | 1);
        let seen = places.filter_map(|i| {
            let pixel = &frame.samples()[i * channels..(i + 1) * channels];
            (channels == 3 || pixel[3] == 1.0).then(|| (i, [pixel[0], pixel[1], pixel[2]]))
        });
        Self(seen.collect())
    }
}

impl Deviation {
    /// The mean over pixels of the farthest channel; 0 where there are none.
    pub fn mean(&self) -> f64 {
        self.sum / (self.pixels.max(1)) as f64
    }

    /// Adds a frame that came out of a cube for what `exact` does.
    pub fn add(&mut self, exact: &Transform, before: &SampledPixels, after: &Frame) {
        let Kind::Function(f, limit) = &exact.kind else { return };
        for (i, rgb) in &before.0 {
            let want = at(&**f, *limit, *rgb);
            let got = &after.samples()[i * after.channels()..];
            let off = (0..3).map(|c| (f64::from(got[c]) - want[c]).abs() * 1023.0).fold(0.0, f64::max);
            (self.pixels, self.sum, self.max) = (self.pixels + 1, self.sum + off, self.max.max(off));
        }
    }

    /// Adds what another saw.
    pub fn merge(&mut self, other: &Self) {
        (self.pixels, self.sum, self.max) = (self.pixels + other.pixels, self.sum + other.sum, self.max.max(other.max));
    }
}

#[cfg(test)]
mod tests;
