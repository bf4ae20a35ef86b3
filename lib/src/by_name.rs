//! Enums in JSON by their names, for serde's `with`.

use crate::cube::Reader;
use crate::difference::Formula;
use crate::display::Eotf;
use crate::range::Range;
use schemars::{Schema, SchemaGenerator, json_schema};
use serde::de::Error;
use serde::{Deserialize, Deserializer, Serializer};
use std::borrow::Cow;

/// An enum whose values have names.
pub(crate) trait ByName: Copy + 'static {
    /// Every value.
    const EVERY: &'static [Self];

    /// Its name.
    fn by_name(self) -> &'static str;
}

pub(crate) fn serialize<T: ByName, S: Serializer>(value: &T, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(value.by_name())
}

pub(crate) fn deserialize<'de, T: ByName, D: Deserializer<'de>>(deserializer: D) -> Result<T, D::Error> {
    let name = Cow::<str>::deserialize(deserializer)?;
    T::EVERY.iter().copied().find(|value| value.by_name() == name).ok_or_else(|| {
        let known: Vec<&str> = T::EVERY.iter().map(|value| value.by_name()).collect();
        D::Error::custom(format!(
            "unknown name `{}`: must be one of {}",
            crate::message::beginning(&name),
            known.join(", ")
        ))
    })
}

/// The schema of such an enum: its names.
pub(crate) fn schema<T: ByName>(_: &mut SchemaGenerator) -> Schema {
    let names: Vec<&str> = T::EVERY.iter().map(|value| value.by_name()).collect();
    json_schema!({ "type": "string", "enum": names })
}

macro_rules! by_name_of {
    ($($type:ty: $every:expr;)*) => {
        $(impl $crate::by_name::ByName for $type {
            const EVERY: &'static [Self] = &$every;

            fn by_name(self) -> &'static str {
                self.name()
            }
        })*
    };
}
pub(crate) use by_name_of;

by_name_of! {
    Range: Range::ALL;
    Eotf: Eotf::ALL;
    Reader: Reader::ALL;
    Formula: [Formula::Ciede2000, Formula::DeltaEItp];
}
