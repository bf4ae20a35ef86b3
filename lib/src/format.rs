//! File formats: text to values and back, with line numbers in errors, and no paths.

pub mod cube;
