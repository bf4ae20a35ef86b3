//! Names and small tables that look and show documents share.

use crate::adaptation::Adaptation;
use crate::chromaticity::Xy;
use crate::cube::Interpolation;
use crate::curve_file;
use crate::document::{Problems, unknown};
use crate::files::Recorder;
use crate::gamut::{self, Gamut, named_gamut};
use crate::invalid::Invalid;
use crate::transfer::{self, Role, Transfer};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;
use std::borrow::Cow;
use std::sync::Arc;

/// A name out of a fixed list, read by serde and listed in the schema.
macro_rules! fixed_names {
    ($name:ident, $of:ty, $what:literal, $help:literal) => {
        #[doc = $help]
        #[derive(Debug, Clone, Copy)]
        pub(crate) struct $name(pub(crate) $of);

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let name = String::deserialize(deserializer)?;
                let all = <$of>::ALL.map(|v| v.name());
                <$of>::from_name(&name).map(Self).ok_or_else(|| serde::de::Error::custom(unknown($what, &name, all)))
            }
        }

        impl JsonSchema for $name {
            fn schema_name() -> Cow<'static, str> {
                stringify!($name).into()
            }

            fn inline_schema() -> bool {
                true
            }

            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!({ "type": "string", "enum": <$of>::ALL.map(|v| v.name()).to_vec(), "description": $help })
            }
        }
    };
}

fixed_names!(AdaptationName, Adaptation, "adaptation", "How white is carried to another white.");
fixed_names!(InterpolationName, Interpolation, "interpolation", "How values between nodes are found.");
fixed_names!(RangeName, crate::camera::Range, "range", "Whether 0..1 is the full or the legal range of code values.");
fixed_names!(MappingName, crate::display::Mapping, "mapping", "How light outside the display's gamut is brought in.");
fixed_names!(
    OrderName,
    crate::shot::Order,
    "order",
    "Whether a CDL comes before the look, after the compress that it begins with, or after the look."
);
fixed_names!(EotfName, crate::display::Eotf, "eotf", "How the display turns signal into light.");

/// A curve: a built-in name, or the path of a curve file.
#[derive(Debug, Clone, Deserialize)]
#[serde(transparent)]
pub(crate) struct CurveName(pub(crate) String);

impl JsonSchema for CurveName {
    fn schema_name() -> Cow<'static, str> {
        "Curve".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let names: Vec<&str> = scene_curves().collect();
        json_schema!({
            "description": "A built-in curve, or the path of a curve file (.toml).",
            "anyOf": [{ "enum": names }, { "type": "string", "pattern": "\\.toml$" }]
        })
    }
}

/// The curves that encode scene light.
fn scene_curves() -> impl Iterator<Item = &'static str> {
    transfer::encodings().iter().filter(|e| e.role != Role::Display).map(|e| e.name)
}

/// A gamut: a built-in name, or primaries and a white.
#[derive(Debug, Clone, Deserialize)]
#[serde(untagged, expecting = "must be a built-in gamut's name, or a table of red, green, blue and white, each [x, y]")]
pub(crate) enum GamutDoc {
    Name(String),
    Custom(CustomGamut),
}

/// Chromaticities in CIE 1931 x, y.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CustomGamut {
    /// Red primary, x and y.
    #[serde(deserialize_with = "crate::document::numbers")]
    red: [f64; 2],
    /// Green primary, x and y.
    #[serde(deserialize_with = "crate::document::numbers")]
    green: [f64; 2],
    /// Blue primary, x and y.
    #[serde(deserialize_with = "crate::document::numbers")]
    blue: [f64; 2],
    /// White point, x and y.
    #[serde(deserialize_with = "crate::document::numbers")]
    white: [f64; 2],
}

impl JsonSchema for GamutDoc {
    fn schema_name() -> Cow<'static, str> {
        "Gamut".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let names = gamut::CATALOGUE.map(|g| g.name).to_vec();
        let custom = generator.subschema_for::<CustomGamut>();
        json_schema!({ "description": "A built-in gamut, or primaries and a white.", "anyOf": [{ "enum": names }, custom] })
    }
}

/// The gamut, or what is wrong with it, under `key`.
pub(crate) fn resolve_gamut(doc: &GamutDoc, key: &str) -> Result<Gamut, Vec<Invalid>> {
    match doc {
        GamutDoc::Name(name) => named_gamut(name)
            .map(|named| named.gamut)
            .ok_or_else(|| vec![Invalid::new(key, unknown("gamut", name, gamut::CATALOGUE.map(|g| g.name)))]),
        GamutDoc::Custom(c) => {
            let xy = |v: [f64; 2]| Xy::new(v[0], v[1]);
            Gamut::new([xy(c.red), xy(c.green), xy(c.blue)], xy(c.white), Adaptation::Bradford).map_err(|refused| {
                refused
                    .into_iter()
                    .map(|r| if r.key == "primaries" { Invalid::new(key, r.message) } else { r.within(key) })
                    .collect()
            })
        }
    }
}

/// The curve, or what is wrong with it, under `curve` or `ei`. `from` is the document that names it.
pub(crate) fn resolve_curve(
    name: &CurveName,
    ei: Option<u32>,
    from: &str,
    files: &Recorder<'_>,
) -> Result<Arc<dyn Transfer>, Vec<Invalid>> {
    let name = &name.0;
    if name.ends_with(".toml") {
        if ei.is_some() {
            return Err(vec![Invalid::new("ei", "a curve file has no EI of its own: leave it out, or give ratings")]);
        }
        let refuse = |message: String| vec![Invalid::new("curve", message)];
        let refuse_line = |line: &str| refuse(line.to_owned());
        let (file, text) = files.text(from, name).map_err(refuse)?;
        let each = |problems: Problems| problems.to_string().lines().flat_map(refuse_line).collect::<Vec<_>>();
        let curve = curve_file::parse(&file, &text).map_err(each)?;
        return Ok(curve.transfer());
    }
    match transfer::encoding(name).filter(|e| e.role != Role::Display) {
        Some(encoding) => encoding.build(ei).map_err(|refused| vec![refused]),
        None => {
            let why = unknown("curve", name, scene_curves());
            let path = if why.ends_with('?') { "" } else { ", or the path of a curve file (.toml)" };
            Err(vec![Invalid::new("curve", why + path)])
        }
    }
}
