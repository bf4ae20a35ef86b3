//! Shared helpers of the tests.

mod binary;
pub mod brackets;
pub mod cdl;
pub mod chart_scene;
pub mod charts;
pub mod demo;
pub mod frame;
pub mod print;
pub mod scene;
pub mod schemas;
pub mod sensor;
pub mod server;
mod table;

pub use binary::rushlight;
pub use table::{Row, Worst, table};
