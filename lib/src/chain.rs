//! The chain proven: a chart of camera signal that goes through the boxes of a set, and what a captured frame of it says.
//!
//! A chart is drawn by [`draw`], from a fixed [`layout`] and fixed [`patches`], and says by its [`mark`] what it is. A
//! capture is found by its four corner marks ([`find`]), its patches are read ([`read`]), and [`explain`] searches for the
//! simplest [`model`] of a chain that gives what was read. [`report`] has the verdict in words. [`screen`] is another
//! chart, of display signal, that a person reads off the monitor by eye.
//!
//! # Units
//! Places on the chart are in units of its lattice, 192 across and 108 down, whatever the size in pixels. Signals are
//! code value / 1023, 0 to 1. Differences of colours are CIEDE2000, or Delta E ITP on an HDR display.
//!
//! # What it cannot know
//! It compares a capture with what the given cubes would give. A fault that no model here describes is found, since the
//! patches differ from what they should be, and is not named. Whether a monitor's panel shows its signal rightly, no
//! capture of that signal says.

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
