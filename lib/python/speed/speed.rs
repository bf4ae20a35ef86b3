//! What `speed.py` measures, without Python: the least of many runs.
//!
//!     cargo run --release --example speed

use rushlight::cube::fast::FastCube;
use rushlight::cube::{Cube, Interpolation};
use std::time::Instant;

/// Samples of a UHD frame.
const SAMPLES: usize = 3 * 3840 * 2160;

fn least(runs: usize, mut f: impl FnMut()) -> f64 {
    let time = |f: &mut dyn FnMut()| {
        let start = Instant::now();
        f();
        start.elapsed().as_secs_f64() * 1e3
    };
    (0..runs).map(|_| time(&mut f)).fold(f64::INFINITY, f64::min)
}

fn main() {
    let cube = Cube::sample(33, |rgb| rgb.map(|v| v * v)).expect("a cube");
    let fast = FastCube::new(&cube, Interpolation::Tetrahedral).expect("a cube");
    let frame: Vec<f32> = (0..SAMPLES).map(|i| (i % 1009) as f32 / 1008.0).collect();
    let mut out = vec![0.0f32; SAMPLES];
    println!("cube, interleaved, into another: {:.1} ms", least(40, || fast.rgb(&frame, &mut out).expect("pixels")));
    let mut own = frame.clone();
    println!("cube, interleaved, in place: {:.1} ms", least(40, || fast.rgb_in_place(&mut own).expect("pixels")));
    let (from, _) = frame.as_chunks::<{ SAMPLES / 3 }>();
    let (to, _) = out.as_chunks_mut::<{ SAMPLES / 3 }>();
    let [r, g, b] = to else { unreachable!("three planes") };
    let planes = least(40, || {
        fast.planar([&from[0], &from[1], &from[2]], [&mut r[..], &mut g[..], &mut b[..]]).expect("planes")
    });
    println!("cube, planes, into others: {planes:.1} ms");
}
