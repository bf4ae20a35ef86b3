//! Keys and settings of a table, one by one, for serde.

use super::Setting;
use serde::Deserializer;
use serde::de::{DeserializeSeed, Error, Visitor};
use std::fmt;
use std::marker::PhantomData;

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
