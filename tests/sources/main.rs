//! What the library computes, against published sources, independent code and its own definitions. The library alone: a curve
//! is checked without a build of the program.
//! One file: `cargo test --workspace --test sources cube_spec::`.

mod apply;
mod chart;
mod clf_spec;
mod cube_error;
mod cube_spec;
mod demo;
mod demo_frame;
mod difference;
mod display;
mod documents;
mod encodings;
mod fit;
mod frame;
mod gamut;
mod looks;
mod measure;
mod palette;
mod palette_types;
mod print;
mod scope;
mod shipped;
mod spectrum;
mod steps;
