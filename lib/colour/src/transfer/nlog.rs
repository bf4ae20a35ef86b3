//! N-Log: Nikon, "N-Log Specification Document", Version 1.0.0, 2018.
//!
//! Light: scene reflectance, 0.18 is mid-grey. Signal: code value / 1023, full range; the document gives the code
//! value of 10 bits. Its `log` is natural.

use super::Transfer;
use crate::math::{cbrt, exp, ln};

/// Constants of the document, in code values of 10 bits.
mod constants {
    pub(super) const A: f64 = 650.0 / 1023.0;
    pub(super) const B: f64 = 0.0075;
    pub(super) const C: f64 = 150.0 / 1023.0;
    pub(super) const D: f64 = 619.0 / 1023.0;
    pub(super) const BREAK: f64 = 0.328;
    pub(super) const BREAK_SIGNAL: f64 = 452.0 / 1023.0;
}
use constants::{A, B, BREAK, BREAK_SIGNAL, C, D};

/// N-Log. The cube root goes on below zero light, odd about -0.0075. The pieces miss each other by +0.13 code value of
/// 10 bits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NLog;

impl Transfer for NLog {
    fn encode(&self, light: f64) -> f64 {
        if light >= BREAK { C * ln(light) + D } else { A * cbrt(light + B) }
    }

    fn decode(&self, signal: f64) -> f64 {
        if signal >= BREAK_SIGNAL {
            exp((signal - D) / C)
        } else {
            let root = signal / A;
            root * root * root - B
        }
    }

    fn breaks(&self) -> Vec<f64> {
        vec![BREAK]
    }
}
