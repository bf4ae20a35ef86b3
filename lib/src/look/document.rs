//! The shape of a look document. That of its steps, with bounds, defaults and help, comes from the steps' own settings.

use super::names::{CurveSchema, GamutSchema};
use super::{GENERATION, SCHEMA};
use crate::invalid::Parameter;
use crate::setting::{Field, Shape, Shaped, Takes};
use crate::step::balance::White;
use crate::step::space::{CustomGamut, Space};
use crate::step::{KINDS, Kind};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;
use serde_json::{Map, Value as Json, json};
use std::borrow::Cow;

/// Writes a parameter's bounds and help into the schema of a number that has no default, or one that depends on other keys.
pub(crate) fn bounded(p: Parameter) -> impl Fn(&mut Schema) {
    move |schema| *schema = bounded_number(&p)
}

/// The same with its default.
pub(crate) fn number(p: Parameter) -> impl Fn(&mut Schema) {
    move |schema| *schema = one_number(&p)
}

/// A parameter's help with its unit.
fn help(p: &Parameter) -> String {
    if p.unit.is_empty() { p.help.to_owned() } else { format!("{} ({})", p.help, p.unit) }
}

fn bounded_number(p: &Parameter) -> Schema {
    json_schema!({ "type": "number", "minimum": p.min, "maximum": p.max, "description": help(p) })
}

fn one_number(p: &Parameter) -> Schema {
    let mut schema = bounded_number(p);
    schema.insert("default".to_owned(), json!(p.default));
    schema
}

fn three_numbers(p: &Parameter) -> Schema {
    let bounds = json!({ "type": "number", "minimum": p.min, "maximum": p.max });
    json_schema!({ "type": "array", "items": bounds, "minItems": 3, "maxItems": 3, "description": help(p) })
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

/// One step: a table of each kind.
#[derive(Debug)]
struct StepDoc;

impl JsonSchema for StepDoc {
    fn schema_name() -> Cow<'static, str> {
        "StepDoc".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let step = |kind: &Kind| {
            let mut schema = table(generator, kind.shape);
            schema.insert("description".to_owned(), kind.help.into());
            let within = |schema: &mut Schema, key: &str, put: &dyn Fn(&mut Json)| {
                put(schema.ensure_object().entry(key.to_owned()).or_insert(Json::Null));
            };
            within(&mut schema, "properties", &|all| all["do"] = json!({ "type": "string", "const": kind.name }));
            within(&mut schema, "required", &|all| {
                let others = all.as_array().cloned().unwrap_or_default();
                *all = [Json::from("do")].into_iter().chain(others).collect();
            });
            schema
        };
        let steps: Vec<Schema> = KINDS.iter().map(step).collect();
        json_schema!({ "description": "One step.", "oneOf": steps })
    }
}

/// The schema of a table of settings.
fn table(generator: &mut SchemaGenerator, shape: &Shape) -> Schema {
    let properties: Map<String, Json> =
        shape.fields.iter().map(|field| (field.key.to_owned(), setting(generator, shape, field).to_value())).collect();
    let required: Vec<&str> = shape.fields.iter().filter(|field| field.required).map(|field| field.key).collect();
    let mut schema = json_schema!({
        "description": shape.about, "type": "object", "properties": properties, "additionalProperties": false
    });
    if !required.is_empty() {
        schema.insert("required".to_owned(), required.into());
    }
    schema
}

/// The schema of one setting; `null` is among what an optional one can be.
fn setting(generator: &mut SchemaGenerator, shape: &Shape, field: &Field) -> Schema {
    let default = shape.default(field.key).filter(|_| !field.required);
    let mut schema = match field.takes {
        Takes::Number(parameter) if field.required || field.optional => return bounded_number(parameter),
        Takes::Number(parameter) => return one_number(parameter),
        Takes::Three(parameter, _) => return three_numbers(parameter),
        Takes::Xy => {
            let number = json!({ "type": "number", "format": "double" });
            json_schema!({ "type": "array", "items": number, "minItems": 2, "maxItems": 2 })
        }
        Takes::Whole => json_schema!({ "type": "integer", "format": "uint32", "minimum": 0 }),
        Takes::Flag => json_schema!({ "type": "boolean" }),
        Takes::Choice(names) => json_schema!({ "type": "string", "enum": names() }),
        Takes::Text => json_schema!({ "type": "string" }),
        Takes::Curve(_) => generator.subschema_for::<CurveSchema>(),
        Takes::Gamut(_) => generator.subschema_for::<GamutSchema>(),
        Takes::Table(shape) => {
            let within = table(generator, shape).to_value();
            generator.definitions_mut().insert(shape.name.to_owned(), within);
            Schema::new_ref(format!("#/$defs/{}", shape.name))
        }
    };
    let is_reference = schema.get("$ref").is_some();
    if field.optional {
        schema = if is_reference {
            json_schema!({ "anyOf": [schema, { "type": "null" }] })
        } else {
            let own = schema.remove("type").unwrap_or_default();
            schema.insert("type".to_owned(), json!([own, "null"]));
            schema
        };
    }
    if let Some(default) = default.filter(|_| !is_reference) {
        schema.insert("default".to_owned(), json!(default));
    }
    // A curve and a gamut that need no further word have their own.
    if !(is_reference && [CURVE_HELP, GAMUT_HELP].contains(&field.help)) {
        schema.insert("description".to_owned(), field.help.into());
    }
    schema
}

/// What a curve and a gamut are.
pub(super) const CURVE_HELP: &str = "A built-in curve, or the path of a curve file (.toml).";
pub(super) const GAMUT_HELP: &str = "A built-in gamut, or primaries and a white.";

macro_rules! shaped_schemas {
    ($($name:ident of $type:ty),+) => {
        $(
            #[doc = concat!("The schema of [`", stringify!($type), "`].")]
            pub(crate) struct $name;

            impl JsonSchema for $name {
                fn schema_name() -> Cow<'static, str> {
                    <$type>::SHAPE.name.into()
                }

                fn json_schema(generator: &mut SchemaGenerator) -> Schema {
                    table(generator, &<$type>::SHAPE)
                }
            }
        )+
    };
}

shaped_schemas!(SpaceSchema of Space, WhiteSchema of White, CustomGamutSchema of CustomGamut);
