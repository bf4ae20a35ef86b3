//! Shared helpers of the tests.

pub mod demo;
pub mod print;
