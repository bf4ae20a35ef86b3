//! The steps of a look: plain validated types that work on scene light, one after another.
//!
//! Scene light is linear ACES AP1, 0.18 mid-grey, unbounded, of any sign. Each step maps three finite components to
//! three finite components. The last step of a look is its rendering ([`mod@print`], [`tone`] or a display-giving
//! [`cube`]), which turns graded scene light into display light.

pub mod balance;
pub mod cdl;
pub mod compress;
pub mod contrast;
pub mod cube;
pub mod exposure;
pub mod print;
pub mod printer;
pub mod saturation;
pub mod tint;
pub mod tone;

use crate::chromaticity::Xy;
use crate::gamut::AP1;
use crate::invalid::Invalid;
use crate::math::bounded;
use nalgebra::Vector3;

pub use crate::transfer::MID_GREY;

/// The weights of AP1 red, green and blue in luminance.
pub(crate) fn luminance_weights() -> Vector3<f64> {
    AP1.luminance_weights()
}

/// The mean of three channels in each of them, to the bit where they are the same already.
pub(crate) fn even([r, g, b]: [f64; 3]) -> [f64; 3] {
    if r == g && g == b { [r, g, b] } else { [(r + g + b) / 3.0; 3] }
}

/// One step on scene light.
#[derive(Debug, Clone, PartialEq)]
pub enum Step {
    /// More or less light.
    Exposure(exposure::Exposure),
    /// One white carried to another.
    Balance(balance::Balance),
    /// ASC CDL in ACEScct.
    Cdl(cdl::Cdl),
    /// Printer points per channel.
    Printer(printer::Printer),
    /// Saturation about luminance.
    Saturation(saturation::Saturation),
    /// Contrast about a pivot.
    Contrast(contrast::Contrast),
    /// Tinted shadows and highlights.
    Tint(tint::Tint),
    /// Gamut compression.
    Compress(compress::Compress),
    /// A cube of the crew's own that gives scene light.
    Cube(Box<cube::SceneCube>),
}

impl Step {
    /// The light after this step: finite for any finite light.
    pub fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        bounded(match self {
            Self::Exposure(step) => step.apply(rgb),
            Self::Balance(step) => step.apply(rgb),
            Self::Cdl(step) => step.apply(rgb),
            Self::Printer(step) => step.apply(rgb),
            Self::Saturation(step) => step.apply(rgb),
            Self::Contrast(step) => step.apply(rgb),
            Self::Tint(step) => step.apply(rgb),
            Self::Compress(step) => step.apply(rgb),
            Self::Cube(step) => step.apply(rgb),
        })
    }

    /// The name in documents.
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Exposure(_) => "exposure",
            Self::Balance(_) => "balance",
            Self::Cdl(_) => "cdl",
            Self::Printer(_) => "printer",
            Self::Saturation(_) => "saturation",
            Self::Contrast(_) => "contrast",
            Self::Tint(_) => "tint",
            Self::Compress(_) => "compress",
            Self::Cube(_) => "cube",
        }
    }
}

/// The last step of a look: graded scene light to display light. Its settings; [`Rendering::compile`] fits them to a
/// display.
#[derive(Debug, Clone)]
pub enum Rendering {
    /// The film-print-style tone map.
    Print(print::PrintSettings),
    /// A plain neutral curve.
    Tone(tone::ToneSettings),
    /// A cube of the crew's own that gives display signal.
    Cube(Box<cube::DisplayCube>),
}

impl Rendering {
    /// The name in documents.
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Print(_) => "print",
            Self::Tone(_) => "tone",
            Self::Cube(_) => "cube",
        }
    }

    /// Fits the settings to a display whose picture has its white at `white` and whose peak is `peak` times its diffuse
    /// white (1 for SDR).
    ///
    /// # Errors
    /// What the settings get wrong, by key.
    pub fn compile(&self, white: Xy, peak: f64) -> Result<Compiled, Vec<Invalid>> {
        Ok(match self {
            Self::Print(settings) => Compiled::Print(Box::new(print::Print::new(settings, white, peak)?)),
            Self::Tone(settings) => Compiled::Tone(Box::new(tone::Tone::new(settings, white, peak)?)),
            Self::Cube(cube) => Compiled::Cube(Box::new(cube.to_white(white))),
        })
    }
}

/// A rendering fitted to a display.
#[derive(Debug, Clone)]
pub enum Compiled {
    /// See [`Rendering::Print`].
    Print(Box<print::Print>),
    /// See [`Rendering::Tone`].
    Tone(Box<tone::Tone>),
    /// See [`Rendering::Cube`].
    Cube(Box<cube::DisplayCube>),
}

impl Compiled {
    /// Graded scene light (AP1) to display light: XYZ under the display's white, Y = 1 at diffuse white.
    pub fn render(&self, rgb: [f64; 3]) -> [f64; 3] {
        bounded(match self {
            Self::Print(print) => print.render(rgb),
            Self::Tone(tone) => tone.render(rgb),
            Self::Cube(cube) => cube.render(rgb),
        })
    }
}
