//! Settings as plain values: what a person sets, described once.
//!
//! `settings!` declares a struct of settings with each one's help, default and bounds. From that one
//! block follow reading and writing by serde (feature `serde`), the JSON schema, lists of the settings by their key paths, and whatever
//! shows or compares them.

mod value;

#[cfg(feature = "serde")]
pub(crate) use value::{Key, Of};
pub use value::{Setting, Value, number};

use crate::invalid::Parameter;

/// One setting: its key and what it takes.
#[derive(Debug, Clone, Copy)]
pub struct Field {
    /// The key in a document.
    pub key: &'static str,
    /// What it is, in one line.
    pub help: &'static str,
    /// What can be set.
    pub takes: Takes,
    /// Whether a document must state it.
    pub required: bool,
    /// Whether it has no value at all where a document does not set it, rather than a default.
    pub optional: bool,
}

/// What a setting takes.
#[derive(Debug, Clone, Copy)]
pub enum Takes {
    /// One number.
    Number(&'static Parameter),
    /// Three numbers, and the names of the three.
    Three(&'static Parameter, &'static [&'static str]),
    /// CIE 1931 x and y.
    Xy,
    /// A whole number, 0 or more.
    Whole,
    /// Yes or no.
    Flag,
    /// One of some names.
    Choice(fn() -> Vec<&'static str>),
    /// A text, such as the name of a file.
    Text,
    /// A built-in curve of these, or the path of a curve file.
    Curve(fn() -> Vec<&'static str>),
    /// A built-in gamut of these, or a table of primaries and a white.
    Gamut(fn() -> Vec<&'static str>),
    /// A table of settings.
    Table(&'static Shape),
}

/// The channels of a colour.
pub const CHANNELS: &[&str] = &["red", "green", "blue"];

/// A table of settings.
#[derive(Debug)]
pub struct Shape {
    /// Its name in the JSON schema.
    pub name: &'static str,
    /// What it is.
    pub about: &'static str,
    /// Its settings, those that matter most first.
    pub fields: &'static [Field],
    /// Every setting that has a default, by its key path.
    pub defaults: fn() -> Vec<(String, Value)>,
}

impl Field {
    /// The bounds, unit and default of its number or numbers.
    pub const fn parameter(&self) -> Option<&'static Parameter> {
        match self.takes {
            Takes::Number(parameter) | Takes::Three(parameter, _) => Some(parameter),
            _ => None,
        }
    }

    /// The unit; empty where there is none.
    pub const fn unit(&self) -> &'static str {
        match self.parameter() {
            Some(parameter) => parameter.unit,
            None => "",
        }
    }

    /// What it is, in one line: of a number, its parameter's own help.
    pub const fn help(&self) -> &'static str {
        match self.parameter() {
            Some(parameter) => parameter.help,
            None => self.help,
        }
    }
}

impl Shape {
    /// The setting under a key path, such as `from.kelvin`.
    pub fn field(&self, path: &str) -> Option<&'static Field> {
        let (key, rest) = path.split_once('.').map_or((path, None), |(key, rest)| (key, Some(rest)));
        let field = self.fields.iter().find(|field| field.key == key)?;
        match (rest, field.takes) {
            (None, _) => Some(field),
            (Some(rest), Takes::Table(shape)) => shape.field(rest),
            (Some(_), _) => None,
        }
    }

    /// Every setting by its key path, with those of tables in place of the tables.
    pub fn leaves(&self) -> Vec<(String, &'static Field)> {
        let mut all = Vec::new();
        for field in self.fields {
            match field.takes {
                Takes::Table(shape) => {
                    all.extend(shape.leaves().into_iter().map(|(key, leaf)| (format!("{}.{key}", field.key), leaf)));
                }
                _ => all.push((field.key.to_owned(), field)),
            }
        }
        all
    }

    /// The default under a key path.
    pub fn default(&self, path: &str) -> Option<Value> {
        (self.defaults)().into_iter().find(|(key, _)| key == path).map(|(_, value)| value)
    }
}

/// Reading and writing by serde, with the feature `serde`; without it, nothing.
#[cfg(feature = "serde")]
pub trait Document: serde::Serialize + serde::de::DeserializeOwned {}
#[cfg(feature = "serde")]
impl<T: serde::Serialize + serde::de::DeserializeOwned> Document for T {}

/// Reading and writing by serde, with the feature `serde`; without it, nothing.
#[cfg(not(feature = "serde"))]
pub trait Document {}
#[cfg(not(feature = "serde"))]
impl<T> Document for T {}

/// A struct of settings, made by `settings!`.
pub trait Shaped: Sized {
    /// What it consists of.
    const SHAPE: Shape;

    /// What an empty table reads as.
    fn unstated() -> Self;

    /// The settings that a document does not set beside these: the defaults, or those of a variant.
    fn base(&self) -> Self;

    /// Adds every setting under its key path to `all`, below `path`.
    fn list(&self, path: &str, all: &mut Vec<(String, Value)>);

    /// Every setting by its key path, but for those that are nothing.
    fn values(&self) -> Vec<(String, Value)> {
        let mut all = Vec::new();
        self.list("", &mut all);
        all
    }
}

/// Declares a struct of settings: the name of its JSON schema, and each setting with its type, its default, what it takes,
/// and whether it is `required`. The doc comment of a setting is its help in documents too, but for numbers, whose
/// parameters have their own.
///
/// A setting whose type is an `Option` is `None` where a document does not set it, whatever its default says. `base FUNCTION`
/// after the name gives the values of those that a document does not set, from those that it does.
macro_rules! settings {
    (@base $given:expr) => { <Self as $crate::setting::Shaped>::unstated() };
    (@base $given:expr, $base:path) => { $base($given) };
    (
        $shape:literal $(, base $base:path)?,
        $(#[doc = $about:literal])+
        $(#[derive($($derive:ident),+)])?
        pub struct $name:ident {
            $(
                $(#[doc = $help:literal])+
                $key:ident: $type:ty = $default:expr, $takes:expr $(, $required:ident)?;
            )+
        }
    ) => {
        $(#[doc = $about])+
        #[derive(Debug, Clone, PartialEq $(, $($derive),+)?)]
        pub struct $name {
            $($(#[doc = $help])+ pub $key: $type,)+
        }

        impl Default for $name {
            fn default() -> Self {
                Self { $($key: $default,)+ }
            }
        }

        impl $crate::setting::Shaped for $name {
            const SHAPE: $crate::setting::Shape = $crate::setting::Shape {
                name: $shape,
                about: concat!($($about),+).trim_ascii(),
                fields: {
                    #[allow(unused_imports, reason = "not every struct takes every kind")]
                    use $crate::setting::Takes::*;
                    &[$($crate::setting::Field {
                        key: stringify!($key),
                        help: concat!($($help),+).trim_ascii(),
                        takes: $takes,
                        required: !concat!("", $(stringify!($required))?).is_empty(),
                        optional: <$type as $crate::setting::Setting>::OPTIONAL,
                    },)+]
                },
                defaults: || $crate::setting::Shaped::values(&<$name as $crate::setting::Shaped>::unstated()),
            };

            fn unstated() -> Self {
                Self { $($key: $crate::setting::Setting::unstated($default),)+ }
            }

            fn base(&self) -> Self {
                $crate::setting::settings!(@base self $(, $base)?)
            }

            fn list(&self, path: &str, all: &mut Vec<(String, $crate::setting::Value)>) {
                $($crate::setting::Setting::list(&self.$key, &$crate::setting::join(path, stringify!($key)), all);)+
            }
        }

        impl $crate::setting::Setting for $name {
            #[cfg(feature = "serde")]
            fn read<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                serde::Deserialize::deserialize(deserializer)
            }

            fn unstated(_: Self) -> Self {
                $crate::setting::Shaped::unstated()
            }

            fn list(&self, path: &str, all: &mut Vec<(String, $crate::setting::Value)>) {
                $crate::setting::Shaped::list(self, path, all);
            }
        }

        #[cfg(feature = "serde")]
        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                use serde::ser::SerializeStruct as _;
                let count = [$($crate::setting::Setting::is_nothing(&self.$key)),+].iter().filter(|n| !**n).count();
                let mut table = serializer.serialize_struct($shape, count)?;
                $(
                    if $crate::setting::Setting::is_nothing(&self.$key) {
                        table.skip_field(stringify!($key))?;
                    } else {
                        table.serialize_field(stringify!($key), &self.$key)?;
                    }
                )+
                table.end()
            }
        }

        #[cfg(feature = "serde")]
        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                const KEYS: &[&str] = &[$(stringify!($key)),+];
                struct Visitor;
                impl<'de> serde::de::Visitor<'de> for Visitor {
                    type Value = $name;

                    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                        f.write_str("a table")
                    }

                    fn visit_map<A: serde::de::MapAccess<'de>>(self, mut map: A) -> Result<$name, A::Error> {
                        use serde::de::Error as _;
                        $(let mut $key: Option<$type> = None;)+
                        while let Some(key) = map.next_key_seed($crate::setting::Key(KEYS))? {
                            match key {
                                $(stringify!($key) => $key = Some(map.next_value_seed($crate::setting::Of::<$type>::new())?),)+
                                other => return Err(A::Error::unknown_field(other, KEYS)),
                            }
                        }
                        $(
                            if !concat!("", $(stringify!($required))?).is_empty() && $key.is_none() {
                                return Err(A::Error::missing_field(stringify!($key)));
                            }
                        )+
                        let stated = $name {
                            $($key: $key.clone().unwrap_or_else(|| $crate::setting::Setting::unstated($default)),)+
                        };
                        let base = $crate::setting::Shaped::base(&stated);
                        Ok($name { $($key: $key.unwrap_or_else(|| $crate::setting::Setting::unstated(base.$key)),)+ })
                    }
                }
                deserializer.deserialize_struct($shape, KEYS, Visitor)
            }
        }
    };
}

pub(crate) use settings;

/// A key below a path.
pub(crate) fn join(path: &str, key: &str) -> String {
    if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") }
}
