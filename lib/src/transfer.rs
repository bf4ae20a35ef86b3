//! Transfer functions: light to signal and back, one published encoding per file.
#![allow(missing_docs)]
use std::fmt;

/// One encoding of light as a signal, in both directions.
///
/// Both directions extend beyond the published domain without ever giving NaN for a finite number; NaN gives NaN.
pub trait Transfer: fmt::Debug + Send + Sync {
    /// Light to signal.
    fn encode(&self, light: f64) -> f64;
    /// Signal to light.
    fn decode(&self, signal: f64) -> f64;
}
