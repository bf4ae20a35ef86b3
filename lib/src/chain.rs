//! Proves a chain: draws a chart of camera signal for the boxes of a set, and finds from a captured frame of it what they
//! did.
//!
//! [`draw`] makes a chart from a fixed [`layout`] and fixed [`patches`]; its [`mark`] names the cube that it is for.
//! [`find`] locates a chart in a capture by its four corner marks, [`read`] reads its patches, and [`explain`] searches for
//! the simplest [`model`] of a chain that gives what was read. [`report`] has the verdict in words. [`screen`] is another
//! chart, of display signal, that a person reads off the monitor by eye.
//!
//! # Units
//! Places on the chart are in units of its lattice, 192 across and 108 down, whatever the size in pixels. Signals are
//! code value / 1023, 0 to 1. Differences of colours are CIEDE2000, or Delta E ITP on an HDR display.
//!
//! # What it cannot know
//! It compares a capture with what the given cubes would give. A fault that no model here describes is detected, because the
//! patches differ from the expected ones, but it is not named. A capture of the signal cannot show whether a monitor's panel
//! displays that signal correctly.

pub mod bank;
pub mod depth;
mod dither;
pub mod draw;
pub mod explain;
pub mod find;
pub mod layout;
pub mod mark;
pub mod model;
pub mod origin;
pub mod patches;
pub mod photo;
pub mod read;
pub mod report;
pub mod screen;
mod search;
mod words;

#[cfg(test)]
mod tests;
