//! A frame in memory through a cube, in place, on all cores.
//!
//!     cargo run --release --example frame

use rayon::prelude::*;
use rushlight::cube::fast::FastCube;
use rushlight::cube::{Cube, Interpolation};
use std::time::Instant;

const WIDTH: usize = 3840;
const HEIGHT: usize = 2160;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    // A cube that swaps nothing and darkens everything; one from a file comes from `rushlight::format::cube::read`.
    let cube = Cube::sample(33, |rgb| rgb.map(|v| v * v))?;
    let fast = FastCube::new(&cube, Interpolation::Tetrahedral)?;
    let mut frame: Vec<f32> = (0..3 * WIDTH * HEIGHT).map(|i| (i % 1009) as f32 / 1008.0).collect();

    let start = Instant::now();
    frame.par_chunks_mut(3 * WIDTH * 16).try_for_each(|rows| fast.rgb_in_place(rows))?;
    println!("{WIDTH} x {HEIGHT} RGB in {:.1} ms", start.elapsed().as_secs_f64() * 1e3);
    Ok(())
}
