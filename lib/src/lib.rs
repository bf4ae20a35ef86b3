//! Rushlight
#![deny(missing_docs)]

pub mod adaptation;
pub mod chromaticity;
pub mod document;
pub mod gamut;
pub mod invalid;
pub mod math;
pub mod spectrum;
pub mod step;
pub mod transfer;
