//! The steps of a look, one per file: plain validated types with units, each compiled into a function of a colour.

pub mod print;
