//! File formats: text to values and back, with line numbers in errors, and no paths.

pub mod clf;
pub mod cube;
pub mod device;
pub mod fixed;
pub mod hald;
mod scan;
