//! A frame in memory through a cube, in place, on all cores.
//!
//!     cargo run --release --example frame

use rayon::prelude::*;
use rushlight::cube::fast::FastCube;
use rushlight::prelude::*;

const WIDTH: usize = 3840;
const HEIGHT: usize = 2160;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    // One from a file comes from `rushlight::format::cube::read`.
    let cube = Cube::sample(33, |rgb| rgb.map(|v| v * v))?;
    let fast = FastCube::new(&cube, Interpolation::Tetrahedral)?;
    let mut frame: Vec<f32> = (0..3 * WIDTH * HEIGHT).map(|i| (i % 1009) as f32 / 1008.0).collect();
    let middle = 3 * (WIDTH * HEIGHT / 2 + WIDTH / 2);
    let before = frame[middle..middle + 3].to_vec();

    frame.par_chunks_mut(3 * WIDTH * 16).try_for_each(|rows| fast.rgb_in_place(rows))?;
    println!("{WIDTH} x {HEIGHT}: the middle was {before:.4?} and is {:.4?}", &frame[middle..middle + 3]);
    Ok(())
}
