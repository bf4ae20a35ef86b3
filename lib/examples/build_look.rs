//! A look made in code, saved as a document, read again, and baked to a cube.
//!
//!     cargo run --example build_look > night.cube

use rushlight::camera::{Camera, Range};
use rushlight::display::{Display, standard};
use rushlight::format::cube::{WriteOptions, write_cube};
use rushlight::gamut::named_gamut;
use rushlight::look::{self, Look};
use rushlight::pipeline::Pipeline;
use rushlight::step::{Rendering, Step, compress::CompressSettings, exposure::ExposureSettings, print::PrintSettings};
use rushlight::transfer::encoding;
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

    let curve = encoding("logc3").ok_or("no such curve")?.build(Some(800))?;
    let gamut = named_gamut("awg3").ok_or("no such gamut")?.gamut;
    let camera = Camera::new(curve, &gamut, None, Range::Full, vec![])?;
    let display = Display::of(standard("bt709").ok_or("no such display")?);
    let cube = Pipeline::new(&camera, &look, &display)?.cube(33)?;
    print!("{}", write_cube(&cube, &WriteOptions::default())?);
    Ok(())
}
