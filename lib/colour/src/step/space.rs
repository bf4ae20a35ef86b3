//! A log and a gamut by name: what a cube is given, and what it gives.

use super::cube::LogSpace;
use super::{Context, both};
use crate::adaptation::Adaptation;
use crate::chromaticity::Xy;
use crate::gamut::{CATALOGUE, Gamut, named_gamut};
use crate::invalid::{Invalid, Refusals};
use crate::message::unknown;
use crate::setting::{Setting, Shaped as _, Value, settings};
use crate::transfer::{Role, Transfer, encoding, encodings};
use std::sync::Arc;

settings! {
    "SpaceDoc",
    /// A log and a gamut.
    pub struct Space {
        /// A built-in curve, or the path of a curve file (.toml).
        curve: CurveName = CurveName::default(), Curve(curves), required;
        /// EI, for a curve whose constants depend on it.
        ei: Option<u32> = None, Whole;
        /// A built-in gamut, or primaries and a white.
        gamut: GamutChoice = GamutChoice::default(), Gamut(gamuts), required;
    }
}

impl Space {
    /// Of a curve and a gamut by name.
    pub fn named(curve: &str, gamut: &str) -> Self {
        Self { curve: CurveName(curve.to_owned()), ei: None, gamut: GamutChoice::Name(gamut.to_owned()) }
    }

    /// What it means.
    ///
    /// # Errors
    /// What is wrong with the curve and with the gamut.
    pub fn make(&self, with: &dyn Context) -> Result<LogSpace, Refusals> {
        let (curve, gamut) = both(with.curve(&self.curve, self.ei), self.gamut.make("gamut"))?;
        Ok(LogSpace::new(curve, &gamut))
    }

    /// In words: `slog3 at EI 800 / sgamut3`.
    pub(crate) fn describe(&self) -> String {
        let ei = self.ei.map(|ei| format!(" at EI {ei}")).unwrap_or_default();
        format!("{}{ei} / {}", self.curve.0, self.gamut.describe())
    }
}

/// The curves that encode scene light.
pub fn curves() -> Vec<&'static str> {
    encodings().iter().filter(|e| e.role != Role::Display).map(|e| e.name).collect()
}

/// The built-in gamuts.
pub fn gamuts() -> Vec<&'static str> {
    CATALOGUE.iter().map(|g| g.name).collect()
}

/// A curve: a built-in name, or the path of a curve file.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(transparent))]
pub struct CurveName(pub String);

impl Default for CurveName {
    fn default() -> Self {
        Self(curves()[0].to_owned())
    }
}

impl CurveName {
    /// Whether it is the path of a file.
    pub fn is_file(&self) -> bool {
        self.0.ends_with(".toml")
    }
}

/// The built-in curve of that name.
///
/// # Errors
/// Under `curve` or `ei`: what is wrong with it.
pub fn built_in(name: &CurveName, ei: Option<u32>) -> Result<Arc<dyn Transfer>, Refusals> {
    match encoding(&name.0).filter(|e| e.role != Role::Display) {
        Some(encoding) => encoding.build(ei).map_err(Refusals::from),
        None => {
            let why = unknown("curve", &name.0, curves());
            let path = if why.ends_with('?') { "" } else { ", or the path of a curve file (.toml)" };
            Err(Invalid::new("curve", why + path).into())
        }
    }
}

/// A gamut: a built-in name, or primaries and a white.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(
        untagged,
        expecting = "must be a built-in gamut's name, or a table of red, green, blue and white, each [x, y]"
    )
)]
pub enum GamutChoice {
    /// A built-in one.
    Name(String),
    /// One of its own.
    Custom(CustomGamut),
}

impl Default for GamutChoice {
    fn default() -> Self {
        Self::Name(CATALOGUE[0].name.to_owned())
    }
}

settings! {
    "CustomGamut",
    /// Chromaticities in CIE 1931 x, y.
    #[derive(Copy)]
    pub struct CustomGamut {
        /// Red primary, x and y.
        red: [f64; 2] = [0.64, 0.33], Xy, required;
        /// Green primary, x and y.
        green: [f64; 2] = [0.3, 0.6], Xy, required;
        /// Blue primary, x and y.
        blue: [f64; 2] = [0.15, 0.06], Xy, required;
        /// White point, x and y.
        white: [f64; 2] = [0.3127, 0.329], Xy, required;
    }
}

impl GamutChoice {
    /// The gamut.
    ///
    /// # Errors
    /// What is wrong with it, under `key`.
    pub fn make(&self, key: &str) -> Result<Gamut, Refusals> {
        match self {
            Self::Name(name) => named_gamut(name)
                .map(|named| named.gamut)
                .ok_or_else(|| Invalid::new(key, unknown("gamut", name, gamuts())).into()),
            Self::Custom(c) => {
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

    fn describe(&self) -> String {
        match self {
            Self::Name(name) => name.clone(),
            Self::Custom(gamut) => {
                let points = gamut.values().into_iter().map(|(key, value)| format!("{key} {}", value.written("")));
                format!("a gamut of {}", points.collect::<Vec<_>>().join(", "))
            }
        }
    }
}

impl Setting for CurveName {
    #[cfg(feature = "serde")]
    fn read<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        serde::Deserialize::deserialize(deserializer)
    }

    fn list(&self, path: &str, all: &mut Vec<(String, Value)>) {
        all.push((path.to_owned(), Value::Text(self.0.clone())));
    }
}

impl Setting for GamutChoice {
    #[cfg(feature = "serde")]
    fn read<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        serde::Deserialize::deserialize(deserializer)
    }

    fn list(&self, path: &str, all: &mut Vec<(String, Value)>) {
        match self {
            Self::Name(name) => all.push((path.to_owned(), Value::Text(name.clone()))),
            Self::Custom(gamut) => Setting::list(gamut, path, all),
        }
    }
}
