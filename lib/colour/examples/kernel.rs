//! Applies a cube of 9 points to planes of so many pixels, so many times, for a tool that counts instructions, such as an
//! emulator: `kernel PATH KIND PIXELS TIMES`, with PATH one of those that it prints without arguments, and KIND f32 or u16.
//!
//! The difference of two counts that differ in TIMES is what the kernel alone takes; `benches/instructions` takes it. More
//! points would change only what is done before the first frame.

use rushlight_colour::cube::fast::{FastCube, Path, Sample};
use rushlight_colour::cube::{Cube, Interpolation};
use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [path, kind, pixels, times] = &arguments[..] else {
        println!("paths of this processor: {:?}", Path::available());
        return ExitCode::SUCCESS;
    };
    let path = Path::available().iter().find(|known| format!("{known:?}").eq_ignore_ascii_case(path));
    let (Some(path), Ok(pixels), Ok(times)) = (path, pixels.parse(), times.parse()) else {
        eprintln!("kernel PATH KIND PIXELS TIMES, with PATH one of {:?}", Path::available());
        return ExitCode::from(2);
    };
    let cube = Cube::sample(9, |rgb| rgb.map(|v| v * (2.0 - v))).expect("9 points are a cube");
    let fast = FastCube::on_path(&cube, Interpolation::Tetrahedral, *path).expect("a cube for f32");
    match kind.as_str() {
        "f32" => apply(&fast, pixels, times, |v| v as f32),
        "u16" => apply(&fast, pixels, times, |v| (v * 65535.0) as u16),
        _ => return ExitCode::from(2),
    }
    ExitCode::SUCCESS
}

/// Colours that are spread evenly, with no picture's order.
fn apply<S: Sample>(fast: &FastCube, pixels: usize, times: usize, sample: impl Fn(f64) -> S) {
    let source = [0.569_840_29, 0.754_877_67, 0.324_717_96]
        .map(|step: f64| (0..pixels).map(|n| sample((n as f64 * step).fract())).collect::<Vec<S>>());
    let mut target = source.clone();
    let ([r, g, b], [tr, tg, tb]) = (&source, &mut target);
    for _ in 0..times {
        fast.planar([r, g, b], [&mut tr[..], tg, tb]).expect("planes of one length");
    }
}
