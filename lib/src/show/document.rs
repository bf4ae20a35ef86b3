//! The shape of a show document. Bounds and help come from the types that the tables make.

use super::SCHEMA;
use super::cameras::CameraDoc;
use super::production::Production;
use crate::camera::EI;
use crate::cube::SIZES;
use crate::display;
use crate::format::device::{BITS, TITLE_LENGTHS};
use crate::look::document::{SpaceSchema, WhiteSchema, bounded, number};
use crate::look::names::{EotfName, GamutSchema, MappingName, OrderName, RangeName};
use crate::shot::SPACES;
use crate::step::balance::White;
use crate::step::space::{GamutChoice, Space};
use crate::stress::GivenBounds;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;
use std::borrow::Cow;
use std::collections::BTreeMap;

/// A show: its cameras, its displays, its looks, and what to bake of them.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "Rushlight show")]
pub(super) struct ShowDoc {
    /// The version of this document's shape: 1.
    #[schemars(extend("const" = SCHEMA))]
    #[expect(dead_code, reason = "checked as it stands in the text")]
    pub(super) schema: u32,
    /// The show's title.
    #[schemars(length(min = 1))]
    pub(super) title: String,
    /// Who made the looks, and for which day; it goes into what leaves, and changes no picture.
    pub(super) production: Option<Production>,
    /// Cameras by name: lower-case letters, digits, hyphens.
    #[schemars(extend("propertyNames" = names(), "minProperties" = 1))]
    pub(super) cameras: BTreeMap<String, CameraDoc>,
    /// Displays by name; default: none, and nothing can be baked.
    #[serde(default)]
    #[schemars(extend("propertyNames" = names(), "minProperties" = 1))]
    pub(super) displays: BTreeMap<String, DisplayDoc>,
    /// Looks by name: the path of each look document, relative to this one; default: none, and nothing can be baked.
    #[serde(default)]
    #[schemars(extend("propertyNames" = names(), "minProperties" = 1))]
    pub(super) looks: BTreeMap<String, String>,
    /// Devices that the cubes are for, by name, with their limits.
    #[serde(default)]
    #[schemars(extend("propertyNames" = names()))]
    pub(super) devices: BTreeMap<String, DeviceDoc>,
    /// Limits of `stress`, by property and figure; default: those of the program.
    #[serde(default)]
    #[schemars(schema_with = "crate::stress::limits::limits_schema")]
    pub(super) stress: BTreeMap<String, BTreeMap<String, GivenBounds>>,
    /// How the shots' corrections work, and the files that have them.
    pub(super) cdl: Option<GradingDoc>,
    /// Shots, each with a correction by the ASC CDL, by itself or from a list.
    #[serde(default)]
    pub(super) shots: Vec<ShotDoc>,
    /// What to bake; default: every look, camera and display at 33 points.
    #[serde(default)]
    pub(super) bake: Vec<BakeDoc>,
    /// What a new version may change of the picture, for `diff`; default: nothing.
    pub(super) limits: Option<LimitsDoc>,
}

/// Limits on CIEDE2000, or on Delta E ITP for PQ and HLG: on every group of colours, and on single ones.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct LimitsDoc {
    /// The mean, of every group.
    #[schemars(range(min = 0.0))]
    pub(super) mean: Option<f64>,
    /// What 95 of 100 colours do not exceed, in every group.
    #[schemars(range(min = 0.0))]
    pub(super) p95: Option<f64>,
    /// The largest, of every group.
    #[schemars(range(min = 0.0))]
    pub(super) max: Option<f64>,
    /// The whole cube.
    #[serde(default)]
    pub(super) whole: FiguresDoc,
    /// Colours that a camera meets.
    #[serde(default)]
    pub(super) plausible: FiguresDoc,
    /// Greys from 7 stops under mid-grey to 7 over.
    #[serde(default)]
    pub(super) neutral: FiguresDoc,
    /// Skin in seven lights.
    #[serde(default)]
    pub(super) skin: FiguresDoc,
    /// The test colour samples of CIE 13.3-1995.
    #[serde(default)]
    pub(super) samples: FiguresDoc,
    /// Saturated lights.
    #[serde(default)]
    pub(super) lights: FiguresDoc,
}

/// Limits on one group.
#[derive(Debug, Default, Clone, Copy, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct FiguresDoc {
    /// The mean.
    #[schemars(range(min = 0.0))]
    pub(super) mean: Option<f64>,
    /// What 95 of 100 colours do not exceed.
    #[schemars(range(min = 0.0))]
    pub(super) p95: Option<f64>,
    /// The largest.
    #[schemars(range(min = 0.0))]
    pub(super) max: Option<f64>,
}

/// What the names of cameras, displays and looks are made of.
fn names() -> serde_json::Value {
    serde_json::json!({ "pattern": "^[a-z0-9-]+$" })
}

/// A display: a standard one, changed where a key says so, or one of your own.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct DisplayDoc {
    /// The label for reports.
    pub(super) label: Option<String>,
    /// A built-in display.
    #[schemars(extend("enum" = display::STANDARDS.map(|s| s.name)))]
    pub(super) standard: Option<String>,
    /// Primaries and white; needed without `standard`.
    #[schemars(with = "Option<GamutSchema>")]
    pub(super) gamut: Option<GamutChoice>,
    /// Signal to light; needed without `standard`.
    pub(super) eotf: Option<EotfName>,
    #[schemars(transform = bounded(display::PEAK))]
    pub(super) peak: Option<f64>,
    #[schemars(transform = number(display::BLACK))]
    pub(super) black: Option<f64>,
    #[schemars(transform = bounded(display::DIFFUSE_WHITE))]
    pub(super) diffuse_white: Option<f64>,
    /// Range of the signal that leaves the cube; default: full.
    pub(super) range: Option<RangeName>,
    /// How light outside the display's gamut is brought in; default: soft.
    pub(super) mapping: Option<MappingName>,
    /// `adapt`: the picture's white is the display's; `keep`: it stays `keep_white`.
    pub(super) white: Option<WhiteName>,
    /// The white that `keep` keeps, CIE 1931 x and y; default: D65.
    #[serde(default, deserialize_with = "crate::document::numbers::some_numbers")]
    pub(super) keep_white: Option<[f64; 2]>,
}

/// What white means on a display with another white.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub(super) enum WhiteName {
    Adapt,
    Keep,
}

/// The limits of a device: a monitor, a converter, a camera. Default: no limit.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct DeviceDoc {
    /// The label for reports.
    pub(super) label: Option<String>,
    /// Points along each edge that it takes at most.
    #[schemars(range(min = *SIZES.start(), max = *SIZES.end()))]
    pub(super) max_points: Option<usize>,
    /// Characters of a title that it takes at most.
    #[schemars(range(min = *TITLE_LENGTHS.start(), max = *TITLE_LENGTHS.end()))]
    pub(super) title_length: Option<usize>,
    /// File names must be of ASCII letters, digits, `-`, `_` and `.`.
    #[serde(default)]
    pub(super) ascii_name: bool,
    /// Values must lie within 0 to 1.
    #[serde(default)]
    pub(super) clamp: bool,
    /// Bits of each value in the table of the device.
    #[schemars(range(min = *BITS.start(), max = *BITS.end()))]
    pub(super) bits: Option<u8>,
}

/// How the shots' corrections work, which a CDL file cannot state.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct GradingDoc {
    /// Files of corrections (.cc, .ccc, .cdl, .ale, .csv, .edl, .otio), relative to this document; shots name them by their ids.
    #[serde(default)]
    pub(super) files: Vec<String>,
    /// Whether the CDL comes before the look, after the `compress` that it begins with, or after the look; default: before.
    pub(super) order: Option<OrderName>,
    /// What the CDL works on; default: acescct before the look, display after it.
    pub(super) space: Option<SpaceName>,
    /// Clamp to 0..1 as the specification's formula does; default: no.
    #[serde(default)]
    pub(super) clamp: bool,
}

/// What a CDL works on: a name, or a log and a gamut.
#[derive(Debug, Clone, Deserialize)]
#[serde(untagged, expecting = "must be acescct, acescc, camera, display, or a table of curve and gamut")]
pub(super) enum SpaceName {
    Name(String),
    Log(Box<Space>),
}

impl JsonSchema for SpaceName {
    fn schema_name() -> Cow<'static, str> {
        "CdlSpace".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let log = generator.subschema_for::<SpaceSchema>();
        json_schema!({ "description": "What a CDL works on: a name, or a log and a gamut.", "anyOf": [{ "enum": SPACES }, log] })
    }
}

/// A shot, or a list of shots.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ShotDoc {
    /// The shot's name, such as 12A-3.
    pub(super) name: Option<String>,
    /// The id of its correction; default: the name, or the only one of `file`.
    pub(super) id: Option<String>,
    /// The file that its correction stands in (.cc, .ccc, .cdl, .ale, .csv, .edl, .otio), relative to this document; default: one
    /// of [cdl] files.
    pub(super) file: Option<String>,
    /// Instead of a name, a list of shots (.ale or .csv with columns ASC_SOP and ASC_SAT; .edl or .otio with corrections;
    /// .cc, .ccc, .cdl: every id a shot).
    pub(super) list: Option<String>,
    /// The column of a `list` or `file` that is an .ale or .csv, which names the shots; default: Name, or else Shot.
    pub(super) column: Option<String>,
    /// The only look that the shot is seen in; default: any.
    pub(super) look: Option<String>,
    /// The only camera that it was shot with; default: any.
    pub(super) camera: Option<String>,
    /// A frame of the shot, as the signal of the camera, relative to this document; `preview` shows it.
    pub(super) frame: Option<String>,
    /// The exposure index that the camera was set to; noted, and does not change the picture.
    #[schemars(range(min = EI.min, max = EI.max))]
    pub(super) ei: Option<f64>,
    /// The white that the camera was set to; noted, and does not change the picture.
    #[schemars(with = "Option<WhiteSchema>")]
    pub(super) white: Option<White>,
    /// The scene.
    pub(super) scene: Option<String>,
    /// The take.
    pub(super) take: Option<String>,
    /// The reel or card that its clip is on.
    pub(super) reel: Option<String>,
    /// A timecode within its clip.
    pub(super) timecode: Option<String>,
    /// Anything else, in one line.
    pub(super) note: Option<String>,
}

/// Cubes to bake.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct BakeDoc {
    /// Names of looks; default: all.
    pub(super) looks: Option<Vec<String>>,
    /// Names of cameras; default: all.
    pub(super) cameras: Option<Vec<String>>,
    /// Names of displays; default: all.
    pub(super) displays: Option<Vec<String>>,
    /// Points along each edge; default: 33.
    #[schemars(range(min = *SIZES.start(), max = *SIZES.end()))]
    pub(super) points: Option<usize>,
}
