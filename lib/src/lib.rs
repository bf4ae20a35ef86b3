//! Rushlight
#![deny(missing_docs)]

pub mod adaptation;
pub mod bake;
pub mod camera;
pub mod chromaticity;
pub mod cube;
pub mod curve_file;
pub mod display;
pub mod document;
pub mod files;
pub mod format;
pub mod gamut;
pub mod inspect;
pub mod invalid;
pub mod look;
pub mod math;
pub mod pipeline;
pub mod show;
pub mod spectrum;
pub mod step;
pub mod transfer;
