//! Shared helpers of the tests.

pub mod demo;
pub mod frame;
pub mod print;
pub mod still;
