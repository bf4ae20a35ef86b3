//! Runs of the binary, a file or a few for each command.
//! One file: `cargo test --workspace --test commands bake::`.

mod apply_clips;
mod apply_stills;
mod bake;
mod bake_fit;
mod bracket;
mod camera;
mod cdl_files;
mod chain;
mod chart;
mod cli;
mod diff;
mod diff_git;
mod false_colour;
mod guide;
mod measure;
mod mistakes;
mod package;
mod preview;
mod preview_edits;
mod preview_page;
mod preview_shows;
mod processing;
mod sheet;
mod shots;
mod stress;
mod tables;
