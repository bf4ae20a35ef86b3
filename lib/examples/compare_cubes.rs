//! How far apart two cubes are on a display, in CIEDE2000, and where.
//!
//!     cargo run --example compare_cubes

use rushlight::compare::{Pair, compare};
use rushlight::prelude::*;
use rushlight::{math::pow, transform::function};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let curve = function(|rgb| rgb.map(|v| pow(v, 0.9)));
    let (one, two) = (Cube::of(&curve, 17)?, Cube::of(&curve, 33)?);
    let by = Interpolation::Tetrahedral;
    // Any function of a colour stands on either side: a pipeline, a table file, a CLF list.
    let pair =
        Pair { old: &one.by(by), new: &two.by(by), camera: None, display: &Display::of(&display::BT709), nodes: None };
    let found = compare(&pair);
    for group in &found.groups {
        println!("{:<24} {}: mean {:.3}, max {:.3}", group.name.title(), found.formula, group.mean, group.max);
    }
    println!("1 is about what a careful eye just sees side by side");
    Ok(())
}
