//! How far apart two cubes are on a display, in CIEDE2000.
//!
//!     cargo run --example compare_cubes

use rushlight::cube::{Cube, Interpolation};
use rushlight::difference::{Difference, Statistics};
use rushlight::display::{Display, standard};
use rushlight::math::pow;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let one = Cube::sample(17, |rgb| rgb.map(|v| pow(v.max(0.0), 0.9)))?;
    let two = Cube::sample(33, |rgb| rgb.map(|v| pow(v.max(0.0), 0.9)))?;
    let on = Difference::on(&Display::of(standard("bt709").ok_or("no such display")?));

    let steps = 24;
    let level = |i: usize| i as f64 / (steps - 1) as f64;
    let inputs =
        (0..steps * steps * steps).map(|i| [level(i % steps), level(i / steps % steps), level(i / steps / steps)]);
    let differences: Vec<f64> = inputs
        .map(|rgb| [&one, &two].map(|cube| on.place(cube.at(rgb, Interpolation::Tetrahedral))))
        .map(|[a, b]| on.between(a, b))
        .collect();
    let found = Statistics::of(&differences);
    println!(
        "mean {:.3}, 99 % {:.3}, max {:.3}: 1 is what a careful eye just sees side by side",
        found.mean, found.p99, found.max
    );
    Ok(())
}
