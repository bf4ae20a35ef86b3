//! The steps of a look: plain settings, each with its bounds, and the maths that is made of them.
//!
//! Scene light is linear ACES AP1, 0.18 mid-grey, unbounded, of any sign. Each step maps three finite components to
//! three finite components. The last step of a look is its rendering ([`mod@print`], [`tone`] or a display-giving
//! [`cube`]), which turns graded scene light into display light.
//!
//! A kind of step is one file here: its settings, its role, its maths and its sentence ([`StepSettings`]); and its line in
//! the list below. Whatever reads, writes, shows, compares or explains steps uses these.

pub mod balance;
pub mod cdl;
pub mod compress;
pub mod contrast;
pub mod cube;
pub mod exposure;
pub mod print;
pub mod printer;
pub mod saturation;
pub mod space;
pub mod tint;
pub mod tone;

mod made;
mod words;
mod written;

pub use made::{Compiled, Made, Maths, OnScene, Rendered, Rendering, Renders, Step, Uncast};
pub use words::Sentence;
pub use written::{Set, Written};
pub use written::{phrase, unit};

use crate::cube::Cube;
use crate::gamut::AP1;
use crate::invalid::{Invalid, Refusals};
use crate::setting::{Document, Shape, Shaped, Value};
use crate::source::Source;
use crate::transfer::Transfer;
use cdl::CdlNumbers;
use nalgebra::Vector3;
use space::CurveName;
use std::fmt::Debug;
use std::sync::Arc;

pub use crate::transfer::MID_GREY;

/// The weights of AP1 red, green and blue in luminance.
pub(crate) fn luminance_weights() -> Vector3<f64> {
    AP1.luminance_weights()
}

/// The mean of three channels in each of them, to the bit where they are the same already.
pub(crate) fn even([r, g, b]: [f64; 3]) -> [f64; 3] {
    if r == g && g == b { [r, g, b] } else { [(r + g + b) / 3.0; 3] }
}

/// Where in a look a kind of step stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// It works on scene light.
    Scene,
    /// It gives display light and ends the look.
    Rendering,
    /// Its settings decide.
    Either,
}

/// What a picture looks like where a number of a step is too low, and where it is too high for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Extremes {
    /// The key path of the number.
    pub key: &'static str,
    /// Too low.
    pub low: &'static str,
    /// Too high.
    pub high: &'static str,
}

/// Both for one number.
pub(crate) const fn extremes(key: &'static str, low: &'static str, high: &'static str) -> Extremes {
    Extremes { key, low, high }
}

/// The settings of one kind of step, and what follows from them.
pub trait StepSettings: Shaped + Document + Default + Clone + PartialEq + Debug {
    /// The name in documents.
    const NAME: &'static str;
    /// What it is, in a few words.
    const TITLE: &'static str;
    /// What it does, in a sentence.
    const HELP: &'static str;
    /// Where it stands.
    const ROLE: Role;
    /// The setting that says what the step itself does, and needs no name beside the step's; empty where there is none.
    const MAIN: &'static str = "";
    /// Settings to start from, as TOML.
    const EXAMPLE: &'static str;
    /// What the picture looks like at both ends of each number.
    const EXTREMES: &'static [Extremes];

    /// The maths of the settings.
    ///
    /// # Errors
    /// Everything that the settings get wrong, by key.
    fn make(&self, with: &dyn Context) -> Result<Maths, Refusals>;

    /// What the step does, in sentences; `stated` tells which settings a document states.
    fn describe(&self, stated: &dyn Fn(&str) -> bool) -> String;

    /// Settings that mean nothing beside the others.
    fn meaningless(&self) -> &'static [&'static str] {
        &[]
    }

    /// Whether it gives display light.
    fn is_rendering(&self) -> bool {
        Self::ROLE == Role::Rendering
    }
}

/// Access to the curves, cubes and corrections that settings name, when their maths is made.
pub trait Context {
    /// Whether a document states a setting; [`Written::make`] knows.
    fn states(&self, key: &str) -> bool {
        let _ = key;
        false
    }

    /// A curve by name or from a file, at an exposure index where it has constants of its own by it.
    ///
    /// # Errors
    /// Under `curve` or `ei`: what is wrong with it.
    fn curve(&self, name: &CurveName, ei: Option<u32>) -> Result<Arc<dyn Transfer>, Refusals>;

    /// The cube of a file.
    ///
    /// # Errors
    /// Under an empty key: why it cannot be read.
    fn cube(&self, file: &str) -> Result<Arc<Cube>, Refusals>;

    /// The correction `id` of a file, or its only one.
    ///
    /// # Errors
    /// Under `file` or `id`: why there is none.
    fn correction(&self, file: &str, id: Option<&str>) -> Result<CdlNumbers, Refusals>;

    /// The files that were found so far.
    fn sources(&self) -> Vec<Source> {
        Vec::new()
    }
}

/// What is built in, and no files.
#[derive(Debug, Clone, Copy)]
pub struct BuiltIn;

impl BuiltIn {
    fn no_file<T>(key: &str, file: &str) -> Result<T, Refusals> {
        Err(Invalid::new(key, format!("no files are given: `{file}` cannot be read")).into())
    }
}

impl Context for BuiltIn {
    fn curve(&self, name: &CurveName, ei: Option<u32>) -> Result<Arc<dyn Transfer>, Refusals> {
        if name.is_file() { Self::no_file("curve", &name.0) } else { space::built_in(name, ei) }
    }

    fn cube(&self, file: &str) -> Result<Arc<Cube>, Refusals> {
        Self::no_file("", file)
    }

    fn correction(&self, file: &str, _: Option<&str>) -> Result<CdlNumbers, Refusals> {
        Self::no_file("file", file)
    }
}

/// A kind of step, for lists and forms.
#[derive(Debug)]
pub struct Kind {
    /// The name in documents.
    pub name: &'static str,
    /// What it is, in a few words.
    pub title: &'static str,
    /// What it does, in a sentence.
    pub help: &'static str,
    /// Where it stands.
    pub role: Role,
    /// The setting that needs no name beside the step's, or nothing.
    pub main: &'static str,
    /// Its settings.
    pub shape: &'static Shape,
    /// Settings to start from, as TOML.
    pub example: &'static str,
    /// What the picture looks like at both ends of each number.
    pub extremes: &'static [Extremes],
    /// A new step of this kind.
    pub new: fn() -> Settings,
}

impl Kind {
    const fn of<S: StepSettings + 'static>(new: fn() -> Settings) -> Self {
        Self {
            name: S::NAME,
            title: S::TITLE,
            help: S::HELP,
            role: S::ROLE,
            main: S::MAIN,
            shape: &S::SHAPE,
            example: S::EXAMPLE,
            extremes: S::EXTREMES,
            new,
        }
    }

    /// The kind of that name.
    pub fn named(name: &str) -> Option<&'static Self> {
        KINDS.iter().find(|kind| kind.name == name)
    }
}

/// A function that is generic over the settings type of a kind.
pub trait ForKind {
    /// Its result.
    type Output;
    /// Calls it.
    fn run<S: StepSettings + Into<Settings>>(self) -> Self::Output;
}

macro_rules! steps {
    ($($variant:ident($settings:ty);)+) => {
        /// The settings of a step.
        #[non_exhaustive]
        #[derive(Debug, Clone, PartialEq)]
        pub enum Settings {
            $(#[doc = concat!("See [`", stringify!($settings), "`].")] $variant($settings),)+
        }

        /// Every kind of step.
        pub const KINDS: &[Kind] =
            &[$(Kind::of::<$settings>(|| Settings::$variant(<$settings>::default()))),+];

        $(impl From<$settings> for Settings {
            fn from(settings: $settings) -> Self {
                Self::$variant(settings)
            }
        })+

        impl Settings {
            /// Its kind.
            pub fn kind(&self) -> &'static Kind {
                let name = match self { $(Self::$variant(_) => <$settings>::NAME,)+ };
                KINDS.iter().find(|kind| kind.name == name).unwrap_or(&KINDS[0])
            }

            /// Whether it gives display light.
            pub fn is_rendering(&self) -> bool {
                match self { $(Self::$variant(settings) => settings.is_rendering(),)+ }
            }

            /// Every setting that means something, by its key path.
            pub fn values(&self) -> Vec<(String, Value)> {
                let (values, without) = match self {
                    $(Self::$variant(settings) => (settings.values(), settings.meaningless()),)+
                };
                values.into_iter().filter(|(key, _)| !without.contains(&key.as_str())).collect()
            }

            /// The values of the settings that a document does not set beside these.
            pub(crate) fn base(&self) -> Vec<(String, Value)> {
                match self { $(Self::$variant(settings) => settings.base().values(),)+ }
            }

            fn make(&self, with: &dyn Context) -> Result<Maths, Refusals> {
                match self { $(Self::$variant(settings) => settings.make(with),)+ }
            }

            fn describe(&self, stated: &dyn Fn(&str) -> bool) -> String {
                match self { $(Self::$variant(settings) => settings.describe(stated),)+ }
            }
        }

        /// Does something with the settings type of the kind of that name; none where there is no such kind.
        pub fn for_kind<F: ForKind>(name: &str, what: F) -> Option<F::Output> {
            match name {
                $(<$settings>::NAME => Some(what.run::<$settings>()),)+
                _ => None,
            }
        }
    };
}

steps! {
    Exposure(exposure::ExposureSettings);
    Balance(balance::BalanceSettings);
    Cdl(cdl::CdlSettings);
    Printer(printer::PrinterSettings);
    Saturation(saturation::SaturationSettings);
    Contrast(contrast::ContrastSettings);
    Tint(tint::TintSettings);
    Compress(compress::CompressSettings);
    Cube(cube::CubeSettings);
    Print(print::PrintSettings);
    Tone(tone::ToneSettings);
}

/// Both results, or the refusals of both.
pub fn both<A, B>(a: Result<A, Refusals>, b: Result<B, Refusals>) -> Result<(A, B), Refusals> {
    match (a, b) {
        (Ok(a), Ok(b)) => Ok((a, b)),
        (a, b) => Err(a.err().into_iter().chain(b.err()).flatten().collect()),
    }
}

/// The refusals of a table within another, under its key.
pub fn within<T>(key: &str, made: Result<T, Refusals>) -> Result<T, Refusals> {
    made.map_err(|refused| refused.into_iter().map(|r| r.within(key)).collect())
}
