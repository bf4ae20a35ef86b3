//! Makes the demo frame again: fixtures/demo/frame.exr, or the file given.

use rushlight_tests::{demo, frame, still};
use std::path::PathBuf;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let path = std::env::args_os().nth(1).map_or_else(|| demo::folder().join("frame.exr"), PathBuf::from);
    still::write(&path, frame::WIDTH, &frame::render())?;
    println!("{}: {} bytes", path.display(), std::fs::metadata(&path)?.len());
    Ok(())
}
