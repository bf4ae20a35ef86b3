//! Limits of the figures, as a show gives them and as they stand.

use super::figures::{Bounds, FIGURES, Figure, PROPERTIES};
use crate::invalid::{Invalid, Refusals};
use crate::limit::limiting;
use crate::message::unknown;
use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::Deserialize;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// Limits as a show gives them: one that is not given stays as it is.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GivenBounds {
    /// Within this it holds.
    pub holds: Option<f64>,
    /// Beyond this it breaks.
    pub breaks: Option<f64>,
}

/// The schema of a show's limits: every property, every figure.
pub(crate) fn limits_schema(generator: &mut SchemaGenerator) -> Schema {
    let bounds = generator.subschema_for::<GivenBounds>();
    let object = |properties: serde_json::Map<String, Value>, description: &str| json!({ "type": "object", "description": description, "additionalProperties": false, "properties": properties });
    let property = |(name, asks): (&str, &str)| {
        let figures = FIGURES.iter().filter(|f| f.property == name).map(|figure| {
            let unit = [false, true].map(|hdr| figure.unit.name(hdr));
            let unit = if unit[0] == unit[1] { unit[0].to_owned() } else { unit.join(" or ") };
            let mut schema = bounds.clone();
            schema.insert("description".to_owned(), json!(format!("{} ({unit})", figure.title)));
            (figure.name.to_owned(), schema.to_value())
        });
        (name.to_owned(), object(figures.collect(), asks))
    };
    let description = "Limits of the stress test, by property and figure. Default: the limits of the program.";
    let schema = object(PROPERTIES.into_iter().map(property).collect(), description);
    Schema::try_from(schema).expect("an object is a schema")
}

/// The limits of every figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits(BTreeMap<String, Bounds>);

impl Default for Limits {
    fn default() -> Self {
        Self(FIGURES.iter().filter_map(|f| Some((f.key(), f.bounds?))).collect())
    }
}

impl Limits {
    /// The default limits, changed where `given`, by property and figure, says so.
    ///
    /// # Errors
    /// Properties and figures that are not known, numbers that are no limit or stand the wrong way round: each under
    /// its key.
    pub fn new(given: &BTreeMap<String, BTreeMap<String, GivenBounds>>) -> Result<Self, Refusals> {
        let mut limits = Self::default();
        let mut refused = Refusals::new();
        for (property, figures) in given {
            if !PROPERTIES.iter().any(|p| p.0 == property) {
                refused.push(property, unknown("property", property, PROPERTIES.map(|p| p.0)));
                continue;
            }
            for (name, bounds) in figures {
                let key = format!("{property}.{name}");
                let mut all = FIGURES.iter().filter(|f| f.property == property);
                match all.clone().find(|f| f.name == name) {
                    None => refused.push(key, unknown("figure", name, all.by_ref().map(|f| f.name))),
                    Some(figure) => refused.extend(limits.set(figure, *bounds).err()),
                }
            }
        }
        refused.finish(|| limits)
    }

    fn set(&mut self, figure: &Figure, given: GivenBounds) -> Result<(), Invalid> {
        let key = figure.key();
        let old = self.0.get(&key).copied();
        // One of two limits of a figure that has none stands for both.
        let holds = given.holds.or(old.map(|b| b.holds)).or(given.breaks);
        let breaks = given.breaks.or(old.map(|b| b.breaks)).or(given.holds);
        let (Some(holds), Some(breaks)) = (holds, breaks) else {
            return Err(Invalid::new(key, "needs `holds`, `breaks` or both"));
        };
        for (name, value) in [("holds", holds), ("breaks", breaks)] {
            limiting(value).map_err(|why| Invalid::new(format!("{key}.{name}"), why.message))?;
        }
        let (order, right) = if figure.most { ("above", holds <= breaks) } else { ("below", holds >= breaks) };
        if !right {
            let message = format!("it holds within {holds}, so `breaks` cannot lie {} it: it is {breaks}", {
                if figure.most { "below" } else { "above" }
            });
            return Err(Invalid::new(key, format!("{message}; put it {order}")));
        }
        self.0.insert(key, Bounds { holds, breaks });
        Ok(())
    }

    /// The limits of a figure.
    pub fn of(&self, figure: &Figure) -> Option<Bounds> {
        self.0.get(&figure.key()).copied()
    }
}

#[cfg(test)]
mod tests {
    use super::super::figures::{HUE_ORDER, HUE_SKEW, NEUTRAL_CAST};
    use super::*;

    fn given(property: &str, name: &str, holds: Option<f64>, breaks: Option<f64>) -> Result<Limits, Refusals> {
        let figure = BTreeMap::from([(name.to_owned(), GivenBounds { holds, breaks })]);
        Limits::new(&BTreeMap::from([(property.to_owned(), figure)]))
    }

    #[test]
    fn a_show_changes_what_it_names() {
        let limits = given("hue", "skew", Some(10.0), None).unwrap();
        assert_eq!(limits.of(&HUE_SKEW), Some(Bounds { holds: 10.0, breaks: 45.0 }));
        assert_eq!(limits.of(&HUE_ORDER), HUE_ORDER.bounds);
        let limits = given("neutral", "cast", None, Some(6.0)).unwrap();
        assert_eq!(limits.of(&NEUTRAL_CAST), Some(Bounds { holds: 6.0, breaks: 6.0 }));
    }

    #[test]
    fn what_is_no_limit_is_refused_by_key() {
        let said = |r: Result<Limits, Refusals>| r.unwrap_err()[0].to_string();
        assert!(said(given("hues", "skew", Some(1.0), None)).contains("did you mean `hue`?"));
        assert!(said(given("hue", "skwe", Some(1.0), None)).contains("did you mean `skew`?"));
        assert!(said(given("hue", "skew", Some(50.0), None)).contains("`breaks` cannot lie below it"));
        assert!(said(given("clipping", "white", None, Some(5.0))).contains("cannot lie above it"));
        assert!(said(given("hue", "skew", Some(f64::NAN), None)).contains("hue.skew.holds"));
        assert!(said(given("neutral", "cast", None, None)).contains("needs `holds`"));
    }
}
