//! Makes the demo frame again: fixtures/demo/frame.exr, or the file given.

use rushlight::frame::{Depth, Format, write};
use rushlight_tests::{demo, demo_frame};
use std::path::PathBuf;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let path = std::env::args_os().nth(1).map_or_else(|| demo::folder().join("frame.exr"), PathBuf::from);
    let bytes = write(&demo_frame::render(), Format::Exr, Depth::Half)?;
    std::fs::write(&path, &bytes)?;
    println!("{}: {} bytes", path.display(), bytes.len());
    Ok(())
}
