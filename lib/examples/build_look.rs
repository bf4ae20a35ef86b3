//! A look made in code, saved as a document, read again, and baked to a cube.
//!
//!     cargo run --example build_look > night.cube

use rushlight::format::cube::{WriteOptions, write_cube};
use rushlight::prelude::*;
use rushlight::step::{compress::CompressSettings, exposure::ExposureSettings};
use std::collections::BTreeMap;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let steps = vec![Step::new(CompressSettings::default())?, Step::new(ExposureSettings::stops(-0.5))?];
    let print = PrintSettings { shoulder: 1.9, ..PrintSettings::default() };
    let look = Look::new("Saltmarsh, night", 1, steps, Rendering::new(print)?);

    // The document that a show names; what is read is what was written.
    let document = look::to_toml(&look);
    assert_eq!(look::parse("night.toml", &document, &BTreeMap::new())?, look);
    for sentence in look.sentences() {
        eprintln!("{}", sentence.words);
    }

    let camera = Camera::of(&curve::LOGC3, &gamut::AWG3)?;
    let cube = Pipeline::new(&camera, &look, &Display::of(&display::BT709))?.cube(33)?;
    print!("{}", write_cube(&cube, &WriteOptions { title: look.title(), ..WriteOptions::default() })?);
    Ok(())
}
