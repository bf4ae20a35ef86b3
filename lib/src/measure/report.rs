//! What was measured of a camera, for programs: the document that `measure --json` prints.

mod bracket;

pub use bracket::{Bracket, Channel, Chosen, Clip, Curve, Exposure, Fit, Fitted, Floor, PhotonTransfer, Rating};
pub use bracket::{Reading, Residual, RunnerUp};

use super::compare::{Row, Zone};
use super::modes::{self, Finding};
use super::{CHANNELS, white};
use crate::processing;
use schemars::JsonSchema;
use serde::Serialize;

/// The version of the report's shape.
pub const SCHEMA: u32 = 1;

/// The whole report of `measure`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "Rushlight measure")]
pub struct Report {
    /// The version of this shape: 1.
    #[schemars(extend("const" = SCHEMA))]
    pub schema: u32,
    /// Signal over noise that is still usable; it defines the floor.
    pub snr: f64,
    /// The same in words.
    pub floor_by: String,
    /// Each bracket, one for each exposure index.
    pub brackets: Vec<Bracket>,
    /// Ways to expose, side by side.
    pub compared: Vec<Compared>,
    /// The same with white noise of the same low-frequency power: without what smoothing flatters.
    pub compared_white: Vec<Compared>,
    /// Two modes of the camera: red, green, blue; none where there is one.
    pub modes: Option<Vec<Mode>>,
    /// Colours of the second mode against the first; none where they were not asked for.
    pub colour: Option<ColourFound>,
    /// What the camera does to the picture.
    pub processing: processing::report::Report,
    /// The white of the light on a grey card; none where it was not asked for.
    pub white: Option<WhiteFound>,
}

impl Report {
    /// Of brackets, ways and modes.
    pub fn new(
        (snr, floor_by): (f64, String),
        brackets: Vec<Bracket>,
        (rows, white, zones): (&[Row], &[Row], &[f64]),
        modes: Option<&[modes::Pairs; 3]>,
        processing: processing::report::Report,
    ) -> Self {
        let [compared, compared_white] =
            [rows, white].map(|rows| rows.iter().map(|row| Compared::new(row, zones)).collect());
        let modes = modes.map(|pairs| pairs.iter().enumerate().map(|(c, p)| Mode::new(c, p)).collect());
        Self {
            schema: SCHEMA,
            snr,
            floor_by,
            brackets,
            compared,
            compared_white,
            modes,
            colour: None,
            processing,
            white: None,
        }
    }

    /// The same with the colours of two modes.
    #[must_use]
    pub fn with_colour(self, colour: Option<ColourFound>) -> Self {
        Self { colour, ..self }
    }

    /// The same with a white.
    #[must_use]
    pub fn with_white(self, white: WhiteFound) -> Self {
        Self { white: Some(white), ..self }
    }
}

/// Colours of two modes, and the frames that they were read from.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ColourFound {
    /// The frames of the chart, the first mode's and the second's; none where matrices were set side by side.
    pub frames: Vec<ColourFrame>,
    /// The light of the chart.
    pub light: String,
    /// What was found.
    #[serde(flatten)]
    pub modes: crate::chart::modes::Modes,
    /// The same in words.
    pub sentences: Vec<String>,
}

/// A frame of a chart.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ColourFrame {
    /// The file.
    pub file: String,
    /// Its SHA-256.
    pub sha256: String,
}

/// A white by a grey card, as the camera sees it where its own neutral is D65.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct WhiteFound {
    /// The file.
    pub file: String,
    /// Its SHA-256.
    pub sha256: String,
    /// Chromaticity, CIE 1931 x and y.
    pub xy: [f64; 2],
    /// Correlated colour temperature, kelvin.
    pub kelvin: f64,
    /// Thousandths of Duv; above 0 towards green.
    pub tint: f64,
    /// Stops of red and of blue over green in the camera's own channels.
    pub cast_stops: [f64; 2],
}

impl WhiteFound {
    /// Of a frame.
    pub fn new(file: &str, sha256: &str, found: &white::White) -> Self {
        Self {
            file: file.to_owned(),
            sha256: sha256.to_owned(),
            xy: [found.xy.x, found.xy.y],
            kelvin: found.kelvin,
            tint: found.tint,
            cast_stops: found.cast,
        }
    }
}

/// A way to expose, at one final brightness.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Compared {
    /// The exposure index.
    pub ei: f64,
    /// Stops exposed over and brought down.
    pub over: f64,
    /// Stops over mid-grey of the final picture where the first channel clips.
    pub clip_stops: f64,
    /// Stops of the lowest usable light.
    pub floor_stops: Option<f64>,
    /// Zones of the final picture.
    pub zones: Vec<ZoneFound>,
}

/// A zone of the final picture.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ZoneFound {
    /// Stops from mid-grey.
    pub stops: f64,
    /// usable, clipped or below floor.
    pub state: &'static str,
    /// Its noise in stops.
    pub noise_stops: Option<f64>,
    /// Its noise in per cent of the light.
    pub noise_percent: Option<f64>,
}

impl Compared {
    fn new(row: &Row, zones: &[f64]) -> Self {
        let zone = |(stops, zone): (&f64, &Zone)| ZoneFound {
            stops: *stops,
            state: match zone {
                Zone::Noise(_) => "usable",
                Zone::Clipped => "clipped",
                Zone::Drowned => "below floor",
            },
            noise_stops: match zone {
                Zone::Noise(v) => Some(*v),
                _ => None,
            },
            noise_percent: zone.percent(),
        };
        let zones = zones.iter().zip(&row.zones).map(zone).collect();
        Self { ei: row.ei, over: row.over, clip_stops: row.clip, floor_stops: row.floor, zones }
    }
}

/// One channel in two modes.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Mode {
    /// red, green or blue.
    pub channel: &'static str,
    /// What differs.
    pub findings: Vec<ModeFinding>,
    /// Signals of both modes, pair by pair.
    pub pairs: Vec<[f64; 2]>,
    /// The clip of each mode, where it was seen.
    pub clips: [Option<f64>; 2],
}

/// A difference of two modes.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ModeFinding {
    /// Its kind: same, squeezed, spread, shifted, black moved, curve or clip moved.
    pub kind: &'static str,
    /// In words.
    pub words: String,
}

impl Mode {
    fn new(c: usize, pairs: &modes::Pairs) -> Self {
        let kind = |finding: &Finding| match finding {
            Finding::Same => "same",
            Finding::Squeezed => "squeezed",
            Finding::Spread => "spread",
            Finding::Shifted(_) => "shifted",
            Finding::BlackMoved(_) => "black moved",
            Finding::Curve { .. } => "curve",
            Finding::ClipMoved { .. } => "clip moved",
        };
        let finding = |f: &Finding| ModeFinding { kind: kind(f), words: modes::words(f, None) };
        Self {
            channel: CHANNELS[c],
            findings: pairs.findings().iter().map(finding).collect(),
            pairs: pairs.pairs.iter().map(|p| [p.first, p.second]).collect(),
            clips: pairs.clips,
        }
    }
}

/// The JSON Schema of the report.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(Report).to_value()
}
