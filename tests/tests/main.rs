//! Every test of this crate in one program: 34 programs took a third longer to build, each with its own copy of the generics.
//! One file: `cargo test --workspace --test all cube_spec::`.

mod apply;
mod apply_clips;
mod apply_stills;
mod bake;
mod bake_fit;
mod camera;
mod cdl_files;
mod clf_spec;
mod cli;
mod cube_error;
mod cube_spec;
mod demo;
mod demo_frame;
mod diff;
mod diff_git;
mod difference;
mod display;
mod documents;
mod encodings;
mod false_colour;
mod faults;
mod fit;
mod frame;
mod gamut;
mod guide;
mod hostile;
mod language;
mod looks;
mod measure;
mod measure_cli;
mod mistakes;
mod numbers;
mod overwrite;
mod package;
mod palette;
mod preview;
mod preview_edits;
mod preview_lost;
mod preview_shows;
mod print;
mod processing;
mod readme;
mod sheet;
mod shipped;
mod shots;
mod spectrum;
mod steps;
mod stress;
mod supply;
mod tables;

/// A file that no line above names would be left out without a word.
#[test]
fn every_file_is_named() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests");
    for entry in std::fs::read_dir(folder).expect("the folder of the tests") {
        let name = entry.expect("an entry").file_name().into_string().expect("a name in Unicode");
        if let Some(module) = name.strip_suffix(".rs").filter(|&m| m != "main") {
            assert!(include_str!("main.rs").contains(&format!("\nmod {module};\n")), "{name} is not in tests/main.rs");
        }
    }
}
