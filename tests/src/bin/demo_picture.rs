//! Looks at a still through a show: an EXR of scene-linear AP1 to a PNG of 16 bits.
//!
//! Arguments: SHOW LOOK CAMERA DISPLAY IN.exr OUT.png. The camera takes no part but has to be one of the show's.

use rayon::prelude::*;
use rushlight_tests::{demo, still};
use std::io::BufWriter;
use std::path::Path;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [show, look, camera, display, from, to] = &arguments[..] else {
        return Err("needs SHOW LOOK CAMERA DISPLAY IN.exr OUT.png".into());
    };
    let show = demo::show_of(Path::new(show));
    let pipeline = show.pipeline(look, camera, display).map_err(|refused| format!("{refused:?}"))?;
    let still = still::read(Path::new(from))?;
    let bytes: Vec<u8> = still
        .pixels
        .par_iter()
        .flat_map_iter(|rgb| pipeline.apply_to_light(rgb.map(f64::from)))
        .flat_map_iter(|v| ((v * 65535.0).round() as u16).to_be_bytes())
        .collect();
    let file = BufWriter::new(std::fs::File::create(to)?);
    let mut encoder = png::Encoder::new(file, still.width as u32, (still.pixels.len() / still.width) as u32);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Sixteen);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&bytes)?;
    writer.finish()?;
    Ok(())
}
