//! A camera's pixel to the light that a monitor shows.
//!
//!     cargo run --example pixel

use rushlight::camera::{Camera, Range};
use rushlight::display::{Display, standard};
use rushlight::gamut::named_gamut;
use rushlight::look::Look;
use rushlight::pipeline::Pipeline;
use rushlight::step::{Rendering, Step, compress::CompressSettings, print::PrintSettings};
use rushlight::transfer::encoding;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let curve = encoding("slog3").ok_or("no such curve")?.build(None)?;
    let gamut = named_gamut("sgamut3-cine").ok_or("no such gamut")?.gamut;
    let camera = Camera::new(curve, &gamut, None, Range::Full, vec![])?;
    let display = Display::of(standard("bt709").ok_or("no such display")?);
    let print = Rendering::new(PrintSettings::default())?;
    let look = Look::new("Plain print", 1, vec![Step::new(CompressSettings::default())?], print);

    let pipeline = Pipeline::new(&camera, &look, &display)?;
    // Code 420 of 10 bits is mid-grey in S-Log3.
    let signal = [420.0 / 1023.0; 3];
    let shown = pipeline.apply(signal);
    println!("camera signal {signal:.4?}");
    println!("scene light   {:.4?}", camera.decode(signal));
    println!("display       {shown:.4?}, {:.2} nits", display.nits(shown));
    Ok(())
}
