//! A camera's pixel to the light that a monitor shows.
//!
//!     cargo run --example pixel

use rushlight::prelude::*;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let camera = Camera::of(&curve::SLOG3, &gamut::SGAMUT3_CINE)?;
    let look = Look::new("Plain print", 1, vec![], Rendering::new(PrintSettings::default())?);
    let pipeline = Pipeline::new(&camera, &look, &Display::of(&display::BT709))?;

    // Code 420 of 10 bits is mid-grey in S-Log3.
    let signal = Signal([420.0 / 1023.0; 3]);
    let shown = pipeline.apply(signal);
    println!("camera signal {:.4?}", signal.0);
    println!("scene light   {:.4?}", camera.decode(signal).0);
    println!("display light {:.4?}", pipeline.light(signal).0);
    println!("display       {:.4?}, {:.2} nits", shown.0, pipeline.display().nits(shown));
    Ok(())
}
