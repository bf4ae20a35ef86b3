//! The colours of a camera from frames of a colour chart: where the patches are, what the camera gives of them, and the
//! matrix that takes its light to colours.
//!
//! | module | does |
//! | --- | --- |
//! | [`file`](mod@file) | charts described by CSV or CGATS text |
//! | [`light`] | the light that a chart is shot under |
//! | [`find`] | the chart in a frame |
//! | [`read`] | the light of each patch, and whether it can be used |
//! | [`fit`] | the matrix by least CIEDE2000, white kept |
//! | [`measure`] | from frames to a matrix, with what it leaves |
//! | [`modes`] | what another mode of the camera does to colours |
//! | [`report`] | the same for programs |
//!
//! # Units
//! Light is linear, as the camera's curve gives it. Reference colours are XYZ with Y = 1 of the perfect diffuser, under
//! CIE 1931, adapted to D65 by Bradford. Exposure is in stops. Differences are CIEDE2000.
//!
//! # Limits
//! A matrix is right for the light that the chart was shot in, and for the colours of the chart. A saturated light, such as
//! a blue LED, is no colour of a chart.

pub mod classic;
pub mod file;
#[cfg(feature = "frame")]
pub mod find;
pub mod fit;
pub mod light;
#[cfg(feature = "frame")]
pub mod measure;
#[cfg(feature = "frame")]
pub mod modes;
pub mod place;
#[cfg(feature = "frame")]
pub mod read;
#[cfg(feature = "frame")]
pub mod report;

use crate::adaptation::Adaptation;
use crate::chromaticity::{D65, Xy};
use crate::invalid::Invalid;
use crate::spectrum::Spectrum;
use light::Light;
use std::fmt;

/// What is known of a patch's colour.
#[derive(Debug, Clone, PartialEq)]
pub enum Colour {
    /// Its reflectance: its colour follows under any light.
    Spectrum(Box<Spectrum>),
    /// XYZ with Y = 1 of the perfect diffuser, as measured under a light of this white.
    Xyz {
        /// X, Y, Z.
        xyz: [f64; 3],
        /// Chromaticity of the light.
        white: Xy,
    },
}

/// A patch of a chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Patch {
    /// Its name.
    pub name: String,
    /// Its colour.
    pub colour: Colour,
}

/// A chart of even patches in rows and columns.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// Its name.
    pub name: String,
    /// Where its colours come from.
    pub source: String,
    /// Patches across.
    pub columns: usize,
    /// Patches down.
    pub rows: usize,
    /// Row after row from the upper left.
    pub patches: Vec<Patch>,
}

/// A patch is grey where its chroma under D65 is below this, in CIELAB.
const GREY: f64 = 4.0;

impl Chart {
    /// XYZ of every patch under a light, adapted to D65.
    ///
    /// # Errors
    /// A light without power.
    pub fn reference(&self, light: &Light) -> Result<Vec<[f64; 3]>, Invalid> {
        self.patches
            .iter()
            .map(|patch| {
                let (xyz, white) = match (&patch.colour, &light.spectrum) {
                    (Colour::Spectrum(reflectance), Some(power)) => (reflectance.to_xyz_under(power)?, light.white),
                    // Of a light known by its white alone the spectrum is not known: that of daylight or glow stands in.
                    (Colour::Spectrum(reflectance), None) => {
                        (reflectance.to_xyz_under(&light.stand_in()?)?, light.white)
                    }
                    (Colour::Xyz { xyz, white }, _) => ((*xyz).into(), *white),
                };
                Ok((Adaptation::Bradford.matrix(white, D65) * xyz).into())
            })
            .collect()
    }

    /// The patches that are grey, the brightest first. `reference` as [`reference`](Self::reference) gives it.
    pub fn greys(&self, reference: &[[f64; 3]]) -> Vec<usize> {
        let white = D65.to_xyz(1.0);
        let chroma = |xyz: &[f64; 3]| {
            let [_, a, b] = crate::difference::lab(*xyz, white).0;
            (a * a + b * b).sqrt()
        };
        let mut greys: Vec<usize> = (0..reference.len()).filter(|i| chroma(&reference[*i]) < GREY).collect();
        greys.sort_by(|a, b| reference[*b][1].total_cmp(&reference[*a][1]));
        greys
    }

    /// Whether every patch has a spectrum.
    pub fn has_spectra(&self) -> bool {
        self.patches.iter().all(|p| matches!(p.colour, Colour::Spectrum(_)))
    }
}

/// So many even things of a scene that two cameras see: their colours are what the camera that is matched to gives of them.
pub fn scene(count: usize) -> Chart {
    let patch = |i: usize| {
        // Only what is near grey is asked of it before a match, and of a scene nothing is known to be.
        let colour = Colour::Xyz { xyz: [1.0, 0.0, 0.0], white: D65 };
        Patch { name: format!("place {}", i + 1), colour }
    };
    let (name, source) = ("the scene".to_owned(), "the other camera".to_owned());
    Chart { name, source, columns: count, rows: 1, patches: (0..count).map(patch).collect() }
}

/// Why a chart cannot be used.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum ChartError {
    /// No chart is found in the frame.
    NotFound(String),
    /// Corners that cannot be those of the chart.
    Corners(String),
    /// Patches that clip, by name.
    Clipped(String),
    /// Patches that are not even, or a light that is not.
    Uneven(String),
    /// An exposure that is far off.
    Exposure(String),
    /// A file that describes no chart or light: line (0 where none) and what is wrong.
    File(usize, String),
    /// Too few patches, or colours that fix no matrix.
    Fit(String),
}

impl fmt::Display for ChartError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotFound(why)
            | Self::Corners(why)
            | Self::Clipped(why)
            | Self::Uneven(why)
            | Self::Exposure(why)
            | Self::Fit(why) => f.write_str(why),
            Self::File(0, why) => f.write_str(why),
            Self::File(line, why) => write!(f, "line {line}: {why}"),
        }
    }
}

impl std::error::Error for ChartError {}
