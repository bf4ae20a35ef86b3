//! Looks at a still through a show: an EXR of scene-linear AP1 to a PNG of 16 bits.
//!
//! Arguments: SHOW LOOK CAMERA DISPLAY IN.exr OUT.png. The camera takes no part but has to be one of the show's.

use rayon::prelude::*;
use rushlight::frame::{Depth, Format, Tags, write};
use rushlight_tests::demo;
use std::path::Path;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [show, look, camera, display, from, to] = &arguments[..] else {
        return Err("needs SHOW LOOK CAMERA DISPLAY IN.exr OUT.png".into());
    };
    let show = demo::show_of(Path::new(show));
    let pipeline = show.pipeline(look, camera, display).map_err(|refused| format!("{refused:?}"))?;
    let mut still = demo::still(Path::new(from));
    still.samples_mut().par_chunks_exact_mut(3).for_each(|pixel| {
        let light = [pixel[0], pixel[1], pixel[2]].map(f64::from);
        pixel.copy_from_slice(&pipeline.apply_to_light(light).map(|v| v as f32));
    });
    still.info.tags = Tags::default();
    std::fs::write(to, write(&still, Format::Png, Depth::Integer(16))?)?;
    Ok(())
}
