//! Shared helpers of the tests.

mod binary;
pub mod demo;
pub mod frame;
pub mod print;
pub mod scene;
mod table;

pub use binary::rushlight;
pub use table::{Row, Worst, table};
