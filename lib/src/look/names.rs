//! Names and small tables that look and show documents share.

use super::document::{CURVE_HELP, CustomGamutSchema, GAMUT_HELP};
use crate::adaptation::Adaptation;
use crate::curve_file;
use crate::document::Problems;
use crate::files::Recorder;
use crate::invalid::{Invalid, Refusals};
use crate::named::Named as _;
use crate::step::space::{CurveName, built_in, curves, gamuts};
use crate::transfer::Transfer;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;
use std::borrow::Cow;
use std::sync::Arc;

/// A name out of a fixed list, read by serde and listed in the schema.
macro_rules! fixed_names {
    ($name:ident, $of:ty, $help:literal) => {
        #[doc = $help]
        #[derive(Debug, Clone, Copy)]
        pub(crate) struct $name(pub(crate) $of);

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                <$of>::named(&String::deserialize(deserializer)?).map(Self).map_err(serde::de::Error::custom)
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

fixed_names!(AdaptationName, Adaptation, "How white is carried to another white.");
fixed_names!(RangeName, crate::camera::Range, "Whether 0..1 is the full or the legal range of code values.");
fixed_names!(MappingName, crate::display::Mapping, "How light outside the display's gamut is brought in.");
fixed_names!(
    OrderName,
    crate::shot::Order,
    "Whether a CDL comes before the look, after the compress that it begins with, or after the look."
);
fixed_names!(EotfName, crate::display::Eotf, "How the display turns signal into light.");

/// The schema of a [`CurveName`].
pub(crate) struct CurveSchema;

impl JsonSchema for CurveSchema {
    fn schema_name() -> Cow<'static, str> {
        "Curve".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": CURVE_HELP,
            "anyOf": [{ "enum": curves() }, { "type": "string", "pattern": "\\.toml$" }]
        })
    }
}

/// The schema of a [`GamutChoice`](crate::step::space::GamutChoice).
pub(crate) struct GamutSchema;

impl JsonSchema for GamutSchema {
    fn schema_name() -> Cow<'static, str> {
        "Gamut".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let custom = generator.subschema_for::<CustomGamutSchema>();
        json_schema!({ "description": GAMUT_HELP, "anyOf": [{ "enum": gamuts() }, custom] })
    }
}

/// The curve, or what is wrong with it, under `curve` or `ei`. `from` is the document that names it.
pub(crate) fn resolve_curve(
    name: &CurveName,
    ei: Option<u32>,
    from: &str,
    files: &Recorder<'_>,
) -> Result<Arc<dyn Transfer>, Refusals> {
    if !name.is_file() {
        return built_in(name, ei);
    }
    if ei.is_some() {
        return Err(Invalid::new(
            "ei",
            "the curve of a curve file is the same at every EI: remove `ei`, or add ratings to the camera",
        )
        .into());
    }
    let (file, text) = files.text(from, &name.0).map_err(|why| Invalid::new("curve", why.to_string()))?;
    let each = |problems: Problems| -> Refusals {
        problems.to_string().lines().map(|line| Invalid::new("curve", line)).collect()
    };
    let curve = curve_file::parse(&file, &text).map_err(each)?;
    Ok(curve.transfer())
}
