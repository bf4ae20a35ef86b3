//! Colour of camera log signals and displays: primaries and spectra, log encodings, the steps of a look with a
//! film-print-style tone map, displays, cubes, and the one compiled function from a camera's signal to a display's.
//!
//! # Scope
//! Published log encodings and primaries, chromatic adaptation, the steps of a look, displays of standard and high dynamic
//! range, three-dimensional tables with their interpolation and fast kernels, colour differences.
//!
//! # Non-goals
//! No files, no documents, no reports: those are the crates `rushlight-formats`, `rushlight-image` and `rushlight`.
//!
//! # The two central types
//! A [`pipeline::Pipeline`] is one [`camera::Camera`], one [`look::Look`] and one [`display::Display`], compiled into a single
//! function of a colour in f64: the exact path. A [`cube::Cube`] is that function, sampled. Both are a
//! [`transform::ColourTransform`], which is what measures and comparisons take.
//!
//! # Other crates in signatures
//! Matrices and vectors are those of [`nalgebra`], re-exported here on purpose: a program that takes it from here has the
//! version that the functions give.
//!
//! # Features
//! | feature | default | for |
//! | --- | --- | --- |
//! | `parallel` | yes | frames and cubes on all processors, by rayon; the same results without |
//! | `serde` | no | settings, and the types of this crate that reports contain, to and from serde |
//! | `palette` | no | colours to and from the crate `palette`, with every gamut and encoding as a type of its `Rgb` |
//! | `schema` | no | JSON schemas of the same, by schemars |
#![deny(missing_docs)]

pub use nalgebra;

pub mod adaptation;
pub mod camera;
pub mod chromaticity;
pub mod colour;
pub mod cube;
pub mod curve;
pub mod difference;
pub mod display;
pub mod gamut;
pub mod invalid;
pub mod look;
pub mod math;
pub mod message;
pub mod named;
pub mod oklab;
#[cfg(feature = "palette")]
pub mod palette;
mod parallel;
pub mod pipeline;
pub mod range;
pub mod screen;
pub mod setting;
pub mod shot;
pub mod source;
pub mod spectrum;
pub mod step;
pub mod transfer;
pub mod transform;
