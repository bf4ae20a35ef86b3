//! Finds what a codec does to the picture: edges of blocks, missing codes, chroma at less than full resolution, detail that
//! comes and goes with the key frames.
//!
//! Any frames work, an even patch or a scene; a scene with detail and colour shows the most. A [`Reader`] takes one frame at
//! a time, so that a clip need not fit into memory.

pub mod blocks;
pub mod chroma;
pub mod codes;
pub mod pumping;

use super::Plane;
use crate::apply::planes::{BT601, BT709, Coding};
use crate::frame::{Depth, Format, Frame, Info};
use blocks::{Blocks, Steps};
use chroma::Chroma;
use codes::{Codes, Histogram};
use pumping::{Pumping, Series};
use schemars::JsonSchema;
use serde::Serialize;

/// The most frames that are read for blocks and codes; more would add nothing.
const FRAMES: usize = 8;

/// How the samples of frames were recorded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Source {
    /// The kind of planes.
    pub coding: Coding,
    /// Bits of a sample; none for floats.
    pub bits: Option<u8>,
}

impl Source {
    /// The source of a still, by its file.
    pub fn of(info: &Info) -> Self {
        let coding = match info.format {
            // ITU-T T.871: JFIF has luma of BT.601, full range.
            Format::Jpeg => Coding::Luma { full: true, weights: BT601 },
            _ => Coding::Rgb,
        };
        let bits = match info.depth {
            Depth::Integer(bits) => Some(bits),
            Depth::Half | Depth::Float => None,
        };
        Self { coding, bits }
    }

    pub(super) fn weights(&self) -> [f64; 3] {
        let [red, blue] = match self.coding {
            Coding::Luma { weights, .. } => weights,
            Coding::Rgb | Coding::Grey => BT709,
        };
        [red, 1.0 - red - blue, blue]
    }

    /// Luma of a frame, in signal.
    pub(super) fn luma(&self, frame: &Frame) -> Plane {
        let [r, g, b] = self.weights();
        Plane::of(frame, |rgb| r * rgb[0] + g * rgb[1] + b * rgb[2])
    }
}

/// The findings on a codec.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Codec {
    /// Frames that were read.
    pub frames: usize,
    /// Blocks; `None` if the frames are too small, or have neither detail nor noise.
    pub blocks: Option<Blocks>,
    /// Codes: of luma, or of red, green and blue.
    pub codes: Vec<Codes>,
    /// Resolution of chroma; `None` if there is too little colour.
    pub chroma: Option<Chroma>,
    /// Detail that comes and goes; `None` if there are too few frames.
    pub pumping: Option<Pumping>,
}

/// Reads frames one after another.
#[derive(Debug, Clone)]
pub struct Reader {
    source: Source,
    frames: usize,
    steps: Option<Steps>,
    histograms: Vec<(&'static str, Histogram)>,
    chroma: Option<Chroma>,
    series: Series,
}

impl Reader {
    /// For frames of one size and source.
    pub fn new(source: Source) -> Self {
        let names: &[&'static str] = match source.coding {
            Coding::Rgb => &["red", "green", "blue"],
            Coding::Luma { .. } | Coding::Grey => &["luma"],
        };
        let histograms = names.iter().map(|name| (*name, Histogram::new(source.bits))).collect();
        Self { source, frames: 0, steps: None, histograms, chroma: None, series: Series::default() }
    }

    /// Takes the next frame. A frame of another size than the first is ignored.
    pub fn add(&mut self, frame: &Frame) {
        let luma = self.source.luma(frame);
        self.series.add(&luma);
        if self.frames < FRAMES {
            match &mut self.steps {
                Some(steps) => steps.add(&luma),
                none => *none = Some(Steps::of(&luma)),
            }
            for (c, (_, histogram)) in self.histograms.iter_mut().enumerate() {
                if matches!(self.source.coding, Coding::Rgb) {
                    frame.pixels().for_each(|rgb| histogram.add(f64::from(rgb[c])));
                } else {
                    luma.values.iter().for_each(|v| histogram.add(*v));
                }
            }
        }
        if self.frames == 0 && !matches!(self.source.coding, Coding::Grey) {
            let step = self.source.bits.map_or(0.0, |bits| Depth::Integer(bits).step());
            let [red, _, blue] = self.source.weights();
            let difference = |channel: usize, weight: f64| {
                let other = Plane::of(frame, |rgb| rgb[channel] / (2.0 * (1.0 - weight)));
                let luma = Plane {
                    width: luma.width,
                    values: luma.values.iter().map(|v| v / (2.0 * (1.0 - weight))).collect(),
                };
                other.less(&luma)
            };
            self.chroma = Chroma::of(&luma, &[difference(2, blue), difference(0, red)], step);
        }
        self.frames += 1;
    }

    /// The findings.
    pub fn finish(self) -> Codec {
        Codec {
            frames: self.frames,
            blocks: self.steps.and_then(|s| s.blocks()),
            codes: self.histograms.into_iter().filter_map(|(name, h)| h.codes(name)).collect(),
            chroma: self.chroma,
            pumping: self.series.pumping(),
        }
    }
}

/// The findings on some frames.
pub fn codec(frames: &[Frame], source: Source) -> Codec {
    let mut reader = Reader::new(source);
    frames.iter().for_each(|f| reader.add(f));
    reader.finish()
}
