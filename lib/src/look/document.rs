//! The shape of a look document. Bounds, defaults and help come from the steps' own parameters.

use super::{AdaptationName, CurveName, GENERATION, GamutDoc, InterpolationName, SCHEMA};
use crate::display::STANDARDS;
use crate::document::{Document, unknown};
use crate::invalid::{Invalid, Parameter};
use crate::step::print::{self as print_model, parameters as print};
use crate::step::{cdl, compress, contrast, cube, exposure, printer, saturation, tint};
use schemars::{JsonSchema, Schema, json_schema};
use serde::Deserialize;

/// Writes a parameter's bounds, default and help into the schema of the number, or of each number of the list.
pub(crate) fn number(p: Parameter) -> impl Fn(&mut Schema) {
    move |schema| {
        let unit = if p.unit.is_empty() { String::new() } else { format!(" ({})", p.unit) };
        let is_list = schema.as_value().to_string().contains("\"array\"");
        let bounds = json_schema!({ "type": "number", "minimum": p.min, "maximum": p.max });
        *schema = if is_list {
            json_schema!({ "type": "array", "items": bounds, "minItems": 3, "maxItems": 3, "description": format!("{}{unit}", p.help) })
        } else {
            json_schema!({
                "type": "number", "minimum": p.min, "maximum": p.max, "default": p.default, "description": format!("{}{unit}", p.help)
            })
        };
    }
}

/// A look: an ordered list of steps from scene light to display light.
#[derive(Debug, JsonSchema)]
#[schemars(deny_unknown_fields, title = "Rushlight look")]
#[expect(dead_code, reason = "the whole document's shape, for the schema; the parts are read one by one")]
pub(crate) struct LookDoc {
    #[schemars(flatten)]
    head: HeadDoc,
    /// The steps, in order; the last one gives display light: `print`, `tone`, or a `cube` that gives a display.
    #[schemars(length(min = 1))]
    step: Vec<StepDoc>,
}

/// What stands above the steps.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct HeadDoc {
    /// The version of this document's shape: 1.
    #[schemars(extend("const" = SCHEMA))]
    #[expect(dead_code, reason = "checked as it stands in the text")]
    pub(crate) schema: u32,
    /// The generation of the picture that the look was written for: 2. A program that makes another one refuses the look.
    #[schemars(required, extend("const" = GENERATION))]
    pub(crate) generation: Option<u32>,
    /// The look's title.
    #[schemars(length(min = 1))]
    pub(crate) title: String,
    /// The look's revision, from 1; raise it with every change.
    #[serde(default = "one")]
    #[schemars(range(min = 1))]
    pub(crate) revision: u32,
}

fn one() -> u32 {
    1
}

/// The steps of the catalogue: the name in `do`, the variant, the table.
macro_rules! steps {
    ($($name:literal => $variant:ident($doc:ident), $help:literal;)*) => {
        /// One step.
        #[derive(Debug, JsonSchema)]
        #[schemars(tag = "do")]
        pub(crate) enum StepDoc {
            $(#[doc = $help] #[schemars(rename = $name)] $variant($doc),)*
        }

        /// Every step: its name and what it does.
        pub const STEPS: &[(&str, &str)] = &[$(($name, $help)),*];

        impl StepDoc {
            /// Reads the table at `path`, noting whatever is wrong in it; then what is left of it, so that the rest is judged too.
            pub(crate) fn read(document: &mut Document<'_>, path: &str) -> Option<Self> {
                let Some(name) = document.string(&format!("{path}.do")) else {
                    let names = STEPS.iter().map(|s| s.0).collect::<Vec<_>>().join(", ");
                    let (key, message) = if !document.is_table(path) {
                        (path.to_owned(), "must be a table, under [[step]]".to_owned())
                    } else if document.has(&format!("{path}.do")) {
                        (format!("{path}.do"), format!("must be a string: name the step, one of {names}"))
                    } else {
                        (path.to_owned(), format!("missing key `do`: name the step, one of {names}"))
                    };
                    document.refuse(Invalid::new(key, message));
                    return None;
                };
                match name.as_str() {
                    $($name => document.read_sound_part::<$doc>(path, &["do"]).map(Self::$variant),)*
                    _ => {
                        let message = unknown("step", &name, STEPS.iter().map(|s| s.0));
                        document.refuse(Invalid::new(format!("{path}.do"), message));
                        None
                    }
                }
            }
        }
    };
}

steps! {
    "exposure" => Exposure(ExposureDoc), "More or less light.";
    "balance" => Balance(BalanceDoc), "One white carried to another.";
    "cdl" => Cdl(CdlDoc), "ASC CDL slope, offset, power and saturation, in ACEScct.";
    "printer" => Printer(PrinterDoc), "Printer points per channel.";
    "saturation" => Saturation(SaturationDoc), "Saturation about luminance.";
    "contrast" => Contrast(ContrastDoc), "Contrast about a pivot, in log.";
    "tint" => Tint(TintDoc), "Colour in the shadows and in the highlights.";
    "compress" => Compress(CompressDoc), "ACES reference gamut compression.";
    "cube" => Cube(CubeDoc), "A cube file of the crew's own.";
    "print" => Print(PrintDoc), "Film-print-style tone map to display light; the last step.";
    "tone" => Tone(ToneDoc), "Plain neutral contrast curve to display light; the last step.";
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ExposureDoc {
    #[schemars(transform = number(exposure::STOPS))]
    pub(crate) stops: Option<f64>,
    #[schemars(transform = number(exposure::FACTOR))]
    pub(crate) factor: Option<f64>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct BalanceDoc {
    /// The white of the light on the scene, as a camera balanced for D65 sees it.
    pub(crate) from: WhiteDoc,
    /// The white that it becomes; left out: D65.
    pub(crate) to: Option<WhiteDoc>,
    /// How; left out: bradford.
    pub(crate) adaptation: Option<AdaptationName>,
}

/// A white: kelvin with a tint, or x and y.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct WhiteDoc {
    #[schemars(transform = number(crate::step::balance::KELVIN))]
    pub(crate) kelvin: Option<f64>,
    #[schemars(transform = number(crate::step::balance::TINT))]
    pub(crate) tint: Option<f64>,
    /// CIE 1931 x and y, instead of kelvin.
    #[serde(default, deserialize_with = "crate::document::some_numbers")]
    pub(crate) xy: Option<[f64; 2]>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CdlDoc {
    /// A file of corrections (.cc, .ccc, .cdl, .ale, .csv), relative to this document, instead of numbers.
    pub(crate) file: Option<String>,
    /// The correction's id in the file; left out: the only one.
    pub(crate) id: Option<String>,
    #[schemars(transform = number(cdl::SLOPE))]
    #[serde(default, deserialize_with = "crate::document::some_numbers")]
    pub(crate) slope: Option<[f64; 3]>,
    #[schemars(transform = number(cdl::OFFSET))]
    #[serde(default, deserialize_with = "crate::document::some_numbers")]
    pub(crate) offset: Option<[f64; 3]>,
    #[schemars(transform = number(cdl::POWER))]
    #[serde(default, deserialize_with = "crate::document::some_numbers")]
    pub(crate) power: Option<[f64; 3]>,
    #[schemars(transform = number(cdl::SATURATION))]
    pub(crate) saturation: Option<f64>,
    /// Clamp to 0..1 as the specification's formula does; left out: no.
    #[serde(default)]
    pub(crate) clamp: bool,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct PrinterDoc {
    #[schemars(transform = number(printer::POINTS))]
    #[serde(deserialize_with = "crate::document::numbers")]
    pub(crate) points: [f64; 3],
    #[schemars(transform = number(printer::PER_STOP))]
    pub(crate) per_stop: Option<f64>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SaturationDoc {
    #[schemars(transform = number(saturation::AMOUNT))]
    pub(crate) amount: f64,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ContrastDoc {
    #[schemars(transform = number(contrast::AMOUNT))]
    pub(crate) amount: f64,
    #[schemars(transform = number(contrast::PIVOT))]
    pub(crate) pivot: Option<f64>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct TintDoc {
    #[schemars(transform = number(tint::SHADOWS))]
    #[serde(default, deserialize_with = "crate::document::some_numbers")]
    pub(crate) shadows: Option<[f64; 3]>,
    #[schemars(transform = number(tint::HIGHLIGHTS))]
    #[serde(default, deserialize_with = "crate::document::some_numbers")]
    pub(crate) highlights: Option<[f64; 3]>,
    #[schemars(transform = number(tint::SHADOW_START))]
    pub(crate) shadow_start: Option<f64>,
    #[schemars(transform = number(tint::SHADOW_WIDTH))]
    pub(crate) shadow_width: Option<f64>,
    #[schemars(transform = number(tint::HIGHLIGHT_START))]
    pub(crate) highlight_start: Option<f64>,
    #[schemars(transform = number(tint::HIGHLIGHT_WIDTH))]
    pub(crate) highlight_width: Option<f64>,
    /// Mid-grey stays where it is; left out: yes.
    pub(crate) keep_grey: Option<bool>,
    /// Neutrals keep their luminance; left out: yes.
    pub(crate) keep_luminance: Option<bool>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CompressDoc {
    #[schemars(transform = number(compress::LIMITS))]
    #[serde(default, deserialize_with = "crate::document::some_numbers")]
    pub(crate) limits: Option<[f64; 3]>,
    #[schemars(transform = number(compress::THRESHOLDS))]
    #[serde(default, deserialize_with = "crate::document::some_numbers")]
    pub(crate) thresholds: Option<[f64; 3]>,
    #[schemars(transform = number(compress::POWER))]
    pub(crate) power: Option<f64>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CubeDoc {
    /// The cube file, relative to this document.
    pub(crate) file: String,
    /// How values between nodes are found; left out: tetrahedral.
    pub(crate) interpolation: Option<InterpolationName>,
    /// The log and gamut that the cube is given.
    pub(crate) expects: SpaceDoc,
    /// What it gives: a log and gamut, or a display, which makes this the last step.
    pub(crate) gives: GivesDoc,
    #[schemars(transform = number(cube::STRENGTH))]
    pub(crate) strength: Option<f64>,
}

/// A log and a gamut.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SpaceDoc {
    pub(crate) curve: CurveName,
    /// The EI of a curve that has its own constants by EI.
    pub(crate) ei: Option<u32>,
    pub(crate) gamut: GamutDoc,
}

/// A log and a gamut, or a display.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct GivesDoc {
    /// The log of what the cube gives, as in `expects`.
    pub(crate) curve: Option<CurveName>,
    /// The EI of a curve that has its own constants by EI.
    pub(crate) ei: Option<u32>,
    /// The gamut of what the cube gives, as in `expects`.
    pub(crate) gamut: Option<GamutDoc>,
    /// A built-in display, instead of a curve and a gamut.
    #[schemars(extend("enum" = STANDARDS.map(|s| s.name)))]
    pub(crate) display: Option<String>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct PrintDoc {
    /// Where the numbers that are left out come from; left out: the first variant.
    #[schemars(extend("enum" = print_model::VARIANTS.iter().map(|v| v.name).collect::<Vec<_>>()))]
    pub(crate) variant: Option<String>,
    #[schemars(transform = number(print::EXPOSURE))]
    pub(crate) exposure: Option<f64>,
    #[schemars(transform = number(print::GREY))]
    pub(crate) grey: Option<f64>,
    #[schemars(transform = number(print::CONTRAST))]
    pub(crate) contrast: Option<f64>,
    #[schemars(transform = number(print::TOE))]
    pub(crate) toe: Option<f64>,
    #[schemars(transform = number(print::SHOULDER))]
    pub(crate) shoulder: Option<f64>,
    #[schemars(transform = number(print::BLACK))]
    pub(crate) black: Option<f64>,
    #[schemars(transform = number(print::COLOUR))]
    pub(crate) colour: Option<f64>,
    #[schemars(transform = number(print::HUE))]
    pub(crate) hue: Option<f64>,
    #[schemars(transform = number(print::CROSSTALK))]
    pub(crate) crosstalk: Option<f64>,
    #[schemars(transform = number(print::LIGHTS))]
    #[serde(default, deserialize_with = "crate::document::some_numbers")]
    pub(crate) lights: Option<[f64; 3]>,
    #[schemars(transform = number(print::KELVIN))]
    pub(crate) kelvin: Option<f64>,
    #[schemars(transform = number(print::FLARE))]
    pub(crate) flare: Option<f64>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ToneDoc {
    #[schemars(transform = number(print::GREY))]
    pub(crate) grey: Option<f64>,
    #[schemars(transform = number(print::CONTRAST))]
    pub(crate) contrast: Option<f64>,
    #[schemars(transform = number(print::TOE))]
    pub(crate) toe: Option<f64>,
    #[schemars(transform = number(print::SHOULDER))]
    pub(crate) shoulder: Option<f64>,
    #[schemars(transform = number(print::BLACK))]
    pub(crate) black: Option<f64>,
    /// The curve on each channel by itself, which turns the hue of bright lights; default: false.
    pub(crate) per_channel: Option<bool>,
}
