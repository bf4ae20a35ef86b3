//! Shared helpers of the tests.

#[cfg(feature = "commands")]
mod binary;
pub mod brackets;
pub mod camera_tests;
#[cfg(feature = "commands")]
pub mod cdl;
pub mod chain;
pub mod chart_scene;
pub mod charts;
pub mod confusion;
pub mod demo;
pub mod demo_frame;
pub mod print;
#[cfg(feature = "commands")]
pub mod scene;
#[cfg(feature = "commands")]
pub mod schemas;
pub mod sensor;
#[cfg(feature = "commands")]
pub mod server;
mod table;

#[cfg(feature = "commands")]
pub use binary::rushlight;
pub use table::{Row, Worst, table};
