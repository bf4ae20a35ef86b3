//! The types that a setting can have, and their values where the type does not matter.

use crate::adaptation::Adaptation;
use crate::cube::Interpolation;
use crate::document::unknown;
use serde::de::{DeserializeSeed, Error, Visitor};
use serde::{Deserialize, Deserializer, Serialize};
use std::fmt;
use std::marker::PhantomData;

/// The value of one setting.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Value {
    /// A number.
    Number(f64),
    /// Two or three numbers.
    Numbers(Vec<f64>),
    /// A whole number.
    Whole(u32),
    /// Yes or no.
    Flag(bool),
    /// A text or a name.
    Text(String),
}

impl Value {
    /// As people write it; stops always with a decimal point.
    pub fn written(&self, unit: &str) -> String {
        match self {
            Self::Number(value) => number(*value, unit),
            Self::Numbers(values) => {
                format!("[{}]", values.iter().map(|v| number(*v, unit)).collect::<Vec<_>>().join(", "))
            }
            Self::Whole(value) => number(f64::from(*value), unit),
            Self::Flag(yes) => if *yes { "yes" } else { "no" }.to_owned(),
            Self::Text(text) => text.clone(),
        }
    }

    /// As TOML has it.
    pub fn to_toml(&self) -> toml::Value {
        match self {
            Self::Number(value) => (*value).into(),
            Self::Numbers(values) => values.clone().into(),
            Self::Whole(value) => i64::from(*value).into(),
            Self::Flag(yes) => (*yes).into(),
            Self::Text(text) => text.clone().into(),
        }
    }
}

/// A number as people write it.
pub(crate) fn number(value: f64, unit: &str) -> String {
    if unit.starts_with("stops") { format!("{value:?}") } else { format!("{value}") }
}

/// A type that a setting can have.
pub trait Setting: Sized {
    /// Whether it can be nothing.
    const OPTIONAL: bool = false;

    /// Reads it from a document.
    ///
    /// # Errors
    /// What is of another type.
    fn read<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error>;

    /// Its value where a document does not set it.
    #[must_use]
    fn unstated(default: Self) -> Self {
        default
    }

    /// Whether it is nothing.
    fn is_nothing(&self) -> bool {
        false
    }

    /// Adds its value under its key path; a table adds each of its own.
    fn list(&self, path: &str, all: &mut Vec<(String, Value)>);
}

macro_rules! plain_settings {
    ($($type:ty => $kind:ident;)*) => {
        $(impl Setting for $type {
            fn read<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                Self::deserialize(deserializer)
            }

            fn list(&self, path: &str, all: &mut Vec<(String, Value)>) {
                all.push((path.to_owned(), Value::$kind(self.clone())));
            }
        })*
    };
}

plain_settings! {
    f64 => Number;
    u32 => Whole;
    bool => Flag;
    String => Text;
}

/// A list of exactly so many numbers: an array of serde takes the first ones of a longer list.
impl<const N: usize> Setting for [f64; N] {
    fn read<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let list = Vec::<f64>::deserialize(deserializer)?;
        let length = list.len();
        list.try_into().map_err(|_| D::Error::invalid_length(length, &format!("an array of length {N}").as_str()))
    }

    fn list(&self, path: &str, all: &mut Vec<(String, Value)>) {
        all.push((path.to_owned(), Value::Numbers(self.to_vec())));
    }
}

impl<T: Setting> Setting for Option<T> {
    const OPTIONAL: bool = true;

    fn read<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        T::read(deserializer).map(Some)
    }

    fn unstated(_: Self) -> Self {
        None
    }

    fn is_nothing(&self) -> bool {
        self.is_none()
    }

    fn list(&self, path: &str, all: &mut Vec<(String, Value)>) {
        if let Some(value) = self {
            value.list(path, all);
        }
    }
}

/// Settings that are one of some names.
macro_rules! named_settings {
    ($($type:ty, $what:literal;)*) => {
        $(impl Setting for $type {
            fn read<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let name = String::deserialize(deserializer)?;
                let all = Self::ALL.map(|v| v.name());
                Self::from_name(&name).ok_or_else(|| D::Error::custom(unknown($what, &name, all)))
            }

            fn list(&self, path: &str, all: &mut Vec<(String, Value)>) {
                all.push((path.to_owned(), Value::Text(self.name().to_owned())));
            }
        }

        impl Serialize for $type {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.name())
            }
        })*
    };
}

named_settings! {
    Adaptation, "adaptation";
    Interpolation, "interpolation";
}

/// A list of exactly `N` numbers, for `deserialize_with`, where the key may be absent.
pub(crate) fn some_numbers<'de, D: Deserializer<'de>, const N: usize>(
    deserializer: D,
) -> Result<Option<[f64; N]>, D::Error> {
    Option::<[f64; N]>::read(deserializer)
}

/// A list of such lists.
pub(crate) fn lists_of_numbers<'de, D: Deserializer<'de>, const N: usize>(
    deserializer: D,
) -> Result<Vec<[f64; N]>, D::Error> {
    struct Numbers<const N: usize>([f64; N]);

    impl<'de, const N: usize> Deserialize<'de> for Numbers<N> {
        fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
            <[f64; N]>::read(deserializer).map(Self)
        }
    }
    Vec::<Numbers<N>>::deserialize(deserializer).map(|lists| lists.into_iter().map(|list| list.0).collect())
}

/// Reads a key of a table, one of those that it has.
#[derive(Debug)]
pub(crate) struct Key(pub(crate) &'static [&'static str]);

impl<'de> DeserializeSeed<'de> for Key {
    type Value = &'static str;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Self::Value, D::Error> {
        deserializer.deserialize_identifier(self)
    }
}

impl Visitor<'_> for Key {
    type Value = &'static str;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a key")
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<Self::Value, E> {
        self.0.iter().copied().find(|key| *key == text).ok_or_else(|| E::unknown_field(text, self.0))
    }
}

/// Reads a setting of a type.
#[derive(Debug)]
pub(crate) struct Of<T>(PhantomData<T>);

impl<T> Of<T> {
    /// Of that type.
    pub(crate) const fn new() -> Self {
        Self(PhantomData)
    }
}

impl<'de, T: Setting> DeserializeSeed<'de> for Of<T> {
    type Value = T;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<T, D::Error> {
        T::read(deserializer)
    }
}
