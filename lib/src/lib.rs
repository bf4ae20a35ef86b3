//! The colour pipeline of a show: from a camera's log signal, through a look, to the signal of a display; and the cube
//! that a monitor or a player reads.
//!
//! # Scope
//! Published log encodings and primaries, chromatic adaptation, the steps of a look with a film-print-style tone map,
//! displays of standard and high dynamic range, documents for shows, looks and curves, baking to the Cube LUT
//! Specification 1.0 (2013), and reading, checking, converting and applying any cube. Stop tables, and cubes that
//! colour a picture by its exposure. The difference of two looks, cubes or pictures ([`compare`], [`diff`], `pictures`),
//! a search for what breaks a look ([`stress`]), a camera's colours by a chart ([`chart`]), clip, noise and floor of a
//! camera (`measure`), a look on frames (`apply`), the test of a chain of devices (`chain`), the look sheet ([`sheet`])
//! and the package for post ([`handoff`]).
//!
//! # Features
//! | feature | default | for |
//! | --- | --- | --- |
//! | `frame` | no | stills: the modules `frame`, `image_state`, `pictures`, `apply`, `chain`, `measure`, `processing` |
//! | `palette` | no | the module `palette`: colours to and from the crate palette |
//!
//! # Non-goals
//! No pictures are developed or debayered here, no camera's own noise or sharpening is modelled, no film stock is
//! imitated, and no device is driven. The library prints nothing and knows no paths: documents name files, and the caller
//! gives their bytes ([`files::Files`]). A cube is not a light meter: it shows what a signal means, not what the light on
//! the set was.
//!
//! # Simplifications
//! One observer (CIE 1931, 2 degrees). One working space (linear ACES AP1). A display is its primaries, white, EOTF and
//! levels: no viewing surround, no panel's own faults.
//!
//! # The path
//! ```text
//! signal --camera--> scene light --steps--> graded scene light --print--> display light --display--> signal
//! (log code)         (linear, AP1)          (exposure, balance,           (linear, display            (encoded,
//!                                           CDL, compress, tint)          primaries, mapped)           full/legal)
//! ```
//! # The central types
//! A [`pipeline::Pipeline`] is one [`camera::Camera`], one [`look::Look`] and one [`display::Display`], compiled into a
//! single function of a colour in f64. It is the truth; a [`cube::Cube`] samples it. A [`show::Show`] names many of each, and
//! says what to bake. Colours have types by what they mean ([`colour`]); what is built in stands as constants
//! ([`curve`], [`gamut`], [`display`]); [`prelude`] has what most programs use.
//!
//! # Units
//! | number | unit |
//! | --- | --- |
//! | camera signal | code value / 1023 of 10 bits (the same ratio at any depth), 0..1 in full range |
//! | scene light | linear, 0.18 is mid-grey, unbounded, may be negative |
//! | exposure, offsets, zones | stops: one is a factor of two |
//! | display light | linear, 1.0 is diffuse white, up to peak / diffuse white |
//! | XYZ | relative, Y = 1 at diffuse white |
//! | white, peak, black | nits (cd/m2) |
//! | density of the print | log10 of (light of white / light) |
//! | printer lights (exposure of the print in a film lab) | points of 0.025 in log10 of exposure |
//! | display signal | code value / 1023, 0..1 in full range |
//!
//! # Other crates in signatures
//! Matrices are those of [`nalgebra`]. Schemas, and records of a manifest that have no fixed form, are those of
//! [`serde_json`]. Both are re-exported here on purpose, in the version that the functions give. Errors are types that are
//! [`std::error::Error`]: one refusal is an [`invalid::Invalid`], several are [`invalid::Refusals`], those of a text file
//! [`format::LineErrors`], those of documents [`show::ShowError`].
//!
//! # Same bytes everywhere
//! Everything on the way to a cube is f64 with functions that round the same on every machine ([`math`]): a cube is the
//! same file whatever the thread count, optimisation level or processor.
//!
//! # Example
//! ```
//! use rushlight::{look::Look, show::Show};
//! use std::collections::BTreeMap;
//!
//! let look = "schema = 1\ngeneration = 2\ntitle = 'Night'\n[[step]]\ndo = 'compress'\n[[step]]\ndo = 'print'\n";
//! let show = "schema = 1\ntitle = 'Saltmarsh'\n\
//!     [cameras.a]\ncurve = 'slog3'\ngamut = 'sgamut3-cine'\n\
//!     [displays.onset]\nstandard = 'bt709'\n\
//!     [looks]\nnight = 'night.toml'\n";
//! let files = BTreeMap::from([("night.toml".to_owned(), look.as_bytes().to_vec())]);
//! let show = Show::parse("show.toml", show, &files).unwrap();
//! let pipeline = show.pipeline("night", "a", "onset").unwrap();
//! // Mid-grey, code 420 of S-Log3, comes out at 12 % of white, which BT.1886 encodes as 0.413.
//! let out = pipeline.apply([420.0 / 1023.0; 3]);
//! assert!((out[1] - 0.413).abs() < 5e-4);
//! ```
#![deny(missing_docs)]

#[cfg(feature = "palette")]
pub use rushlight_colour::palette;
pub use rushlight_colour::{
    adaptation, camera, chromaticity, colour, cube, curve, difference, display, gamut, invalid, math, message,
    nalgebra, named, oklab, pipeline, range, screen, setting, shot, source, spectrum, step, transfer, transform,
};
pub use rushlight_formats as format;
#[cfg(feature = "frame")]
pub use rushlight_image as frame;
pub use serde_json;

pub mod advice;
#[cfg(feature = "frame")]
pub mod apply;
pub mod audit;
pub mod bake;
mod by_name;
pub mod catalogue;
#[cfg(feature = "frame")]
pub mod chain;
pub mod chart;
pub mod clips;
pub mod compare;
pub mod curve_file;
pub mod diff;
pub mod document;
pub mod exposure;
pub mod files;
pub mod fit;
#[cfg(feature = "frame")]
mod glyphs;
pub mod handoff;
#[cfg(feature = "frame")]
pub mod image_state;
pub mod inspect;
pub mod limit;
pub mod look;
#[cfg(feature = "frame")]
pub mod measure;
#[cfg(feature = "frame")]
pub mod pictures;
pub mod prelude;
#[cfg(feature = "frame")]
pub mod processing;
pub mod scope;
pub mod shaper;
pub mod sheet;
pub mod show;
pub mod slate;
#[cfg(feature = "frame")]
mod statistics;
pub mod stress;
pub mod table_file;
pub mod test_colours;
#[cfg(test)]
mod test_show;

/// The example of the README, as a test.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct Readme;
