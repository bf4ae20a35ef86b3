//! The types that a setting can have, and their values where the type does not matter.

use crate::adaptation::Adaptation;
use crate::cube::Interpolation;

#[cfg(feature = "serde")]
mod read;

#[cfg(feature = "serde")]
pub(crate) use read::{Key, Of};

/// The value of one setting.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize), serde(untagged))]
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
}

/// A number as people write it.
pub fn number(value: f64, unit: &str) -> String {
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
    #[cfg(feature = "serde")]
    fn read<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error>;

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
            #[cfg(feature = "serde")]
    fn read<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                serde::Deserialize::deserialize(deserializer)
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
    #[cfg(feature = "serde")]
    fn read<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let list = <Vec<f64> as serde::Deserialize>::deserialize(deserializer)?;
        let length = list.len();
        list.try_into()
            .map_err(|_| serde::de::Error::invalid_length(length, &format!("an array of length {N}").as_str()))
    }

    fn list(&self, path: &str, all: &mut Vec<(String, Value)>) {
        all.push((path.to_owned(), Value::Numbers(self.to_vec())));
    }
}

impl<T: Setting> Setting for Option<T> {
    const OPTIONAL: bool = true;

    #[cfg(feature = "serde")]
    fn read<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
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
    ($($type:ty;)*) => {
        $(impl Setting for $type {
            #[cfg(feature = "serde")]
            fn read<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let name = <String as serde::Deserialize>::deserialize(deserializer)?;
                crate::named::Named::named(&name).map_err(serde::de::Error::custom)
            }

            fn list(&self, path: &str, all: &mut Vec<(String, Value)>) {
                all.push((path.to_owned(), Value::Text(self.name().to_owned())));
            }
        }

        #[cfg(feature = "serde")]
        impl serde::Serialize for $type {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.name())
            }
        })*
    };
}

named_settings! {
    Adaptation;
    Interpolation;
}
