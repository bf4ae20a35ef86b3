//! Runs of the binary, a file or a few for each command.
//! One file: `cargo test --workspace --test commands bake::`.

mod apply_clips;
mod apply_stills;
mod bake;
mod bake_fit;
mod bracket;
mod burn_in;
mod camera;
mod camera_light;
mod cdl_files;
mod chain;
mod chart;
mod cli;
mod colour_modes;
mod diff;
mod diff_git;
mod event_lists;
mod false_colour;
mod guide;
mod measure;
mod mistakes;
mod names;
mod package;
mod pictures;
mod preview;
mod preview_edits;
mod preview_page;
mod preview_shots;
mod preview_shows;
mod processing;
mod production;
mod sheet;
mod shots;
mod stress;
mod tables;
