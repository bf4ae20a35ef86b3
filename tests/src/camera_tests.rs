//! Frames of camera B of the demo for what a camera does to the picture: a slanted edge at two exposure indices, a scene after
//! a coarse codec, and a grey card under a light that the camera is not balanced for.

use crate::charts::{sensor, white_under};
use crate::demo;
use crate::sensor::{Draw, Sensor};
use rushlight::chart::light::Light;
use rushlight::frame::{Depth, Format, Frame, Info, write};
use rushlight::math::{cos, exp, sin};
use rushlight::transfer::MID_GREY;
use std::f64::consts::PI;
use std::path::PathBuf;

/// Pixels of the frame of an edge.
const EDGE: [usize; 2] = [160, 120];
/// Half the side of the dark square, in pixels, and its turn in degrees.
const SQUARE: f64 = 36.0;
const TURN: f64 = 5.0;
/// Pixels of the scene.
const SCENE: [usize; 2] = [320, 176];
/// Pixels of the grey card.
const CARD: usize = 48;

/// The folder of the frames.
pub fn folder() -> PathBuf {
    demo::folder().join("camera_tests")
}

/// The blur of an edge at an exposure index, as the standard deviation of a Gaussian in pixels: a stronger noise reduction at
/// the high one.
pub const BLURS: [(u32, f64); 2] = [(200, 0.62), (800, 0.78)];

/// The integral of the normal distribution: Abramowitz and Stegun, 7.1.26, to 1.5e-7.
pub fn normal(x: f64) -> f64 {
    let z = x.abs() / 2.0_f64.sqrt();
    let t = 1.0 / (1.0 + 0.327_591_1 * z);
    let sum =
        t * (0.254_829_592 + t * (-0.284_496_736 + t * (1.421_413_741 + t * (-1.453_152_027 + t * 1.061_405_429))));
    let erf = 1.0 - sum * exp(-z * z);
    if x < 0.0 { (1.0 - erf) / 2.0 } else { (1.0 + erf) / 2.0 }
}

/// A dark square on grey, slanted, blurred by a Gaussian. Sixteen frames' mean: the noise is a quarter of one frame's.
fn edge(sigma: f64, seed: u64) -> Frame {
    let (s, c) = (sin(TURN * PI / 180.0), cos(TURN * PI / 180.0));
    let [width, height] = EDGE;
    let one = sensor("b", 200);
    let quiet = Sensor { electrons: [one.electrons[0] * 16.0; 3], pattern: one.pattern / 4.0, ..one };
    quiet.picture(width, height, seed, |x, y| {
        let (px, py) = (x as f64 - 0.5 * width as f64 - 0.4, y as f64 - 0.5 * height as f64 - 0.2);
        let (u, v) = (px * c - py * s, px * s + py * c);
        let inside = |d: f64| normal((SQUARE - d.abs()) / sigma);
        [MID_GREY * (2.0 - 1.8 * inside(u) * inside(v)); 3]
    })
}

/// An even card under tungsten light, by the camera balanced for daylight.
fn grey() -> Frame {
    let light = |name: &str| Light::parse(name).expect("a light");
    let cast = white_under(&light("a"), &light("d55"));
    sensor("b", 200).picture(CARD, CARD, 61, |_, _| cast.map(|v| MID_GREY * v))
}

/// A picture with detail and colour at every scale, of 8 bits.
///
/// # Panics
/// For no pixels.
pub fn detailed(width: usize, height: usize, seed: u64) -> Frame {
    let mut draw = Draw::new(seed);
    let waves: Vec<[f64; 6]> = (0..60)
        .map(|_| {
            let length = 3.0 * exp(4.0 * draw.unit());
            let (angle, size) = (PI * draw.unit(), 0.0016 * length.sqrt());
            [
                cos(angle) / length,
                sin(angle) / length,
                6.3 * draw.unit(),
                size,
                draw.normal() * size,
                draw.normal() * size,
            ]
        })
        .collect();
    let noise: Vec<[f64; 3]> = (0..width * height).map(|_| [(); 3].map(|()| 0.006 * draw.normal())).collect();
    let samples = (0..width * height).flat_map(|i| {
        let (x, y) = ((i % width) as f64, (i / width) as f64);
        let mut sum = [0.45; 3];
        for [fx, fy, phase, size, red, blue] in &waves {
            let wave = sin(2.0 * PI * (fx * x + fy * y) + phase);
            sum = [sum[0] + (size + red) * wave, sum[1] + size * wave, sum[2] + (size + blue) * wave];
        }
        std::array::from_fn::<f64, 3, _>(|c| sum[c] + noise[i][c])
    });
    let samples = samples.map(|v| ((v.clamp(0.0, 1.0) * 255.0).round() / 255.0) as f32).collect();
    Frame::new(width, height, false, samples, Info::new(Format::Png, Depth::Integer(8))).expect("a picture")
}

/// Reeds and water, after a codec of coarse blocks.
fn scene() -> Frame {
    let [width, height] = SCENE;
    let mut frame = detailed(width, height, 23);
    for c in 0..3 {
        let mut plane: Vec<f64> = frame.pixels().map(|rgb| f64::from(rgb[c])).collect();
        blocks(&mut plane, width, 0.05);
        let samples = frame.samples_mut().iter_mut().skip(c).step_by(3);
        samples.zip(plane).for_each(|(v, of)| *v = of.clamp(0.0, 1.0) as f32);
    }
    frame
}

/// Squares of 8 pixels as cosines, rounded to steps that grow with the frequency.
fn blocks(plane: &mut [f64], width: usize, step: f64) {
    const N: usize = 8;
    let wave = |k: usize, i: usize| {
        let scale = if k == 0 { (1.0 / N as f64).sqrt() } else { (2.0 / N as f64).sqrt() };
        scale * cos(PI * k as f64 * (2.0 * i as f64 + 1.0) / (2.0 * N as f64))
    };
    let table: Vec<[f64; N]> = (0..N).map(|k| std::array::from_fn(|i| wave(k, i))).collect();
    let height = plane.len() / width;
    for (top, left) in (0..height / N).flat_map(|y| (0..width / N).map(move |x| (y * N, x * N))) {
        let at = |x: usize, y: usize| (top + y) * width + left + x;
        let own: Vec<f64> = (0..N * N).map(|i| plane[at(i % N, i / N)]).collect();
        let rounded: Vec<f64> = (0..N * N)
            .map(|k| {
                let (u, v) = (k % N, k / N);
                let part = (0..N * N).map(|i| own[i] * table[u][i % N] * table[v][i / N]).sum::<f64>();
                let step = step * (1.0 + (u + v) as f64 / 2.0);
                (part / step).round() * step
            })
            .collect();
        for i in 0..N * N {
            let back = (0..N * N).map(|k| rounded[k] * table[k % N][i % N] * table[k / N][i / N]).sum();
            plane[at(i % N, i / N)] = back;
        }
    }
}

/// Every file by name.
///
/// # Panics
/// When a frame cannot be written.
pub fn files() -> Vec<(String, Vec<u8>)> {
    let png = |frame: &Frame| write(frame, Format::Png, Depth::Integer(16)).expect("a PNG");
    let edges = BLURS.map(|(ei, sigma)| (format!("b_{ei}_edge.png"), png(&edge(sigma, u64::from(ei)))));
    let scene = write(&scene(), Format::Jpeg, Depth::Integer(8)).expect("a JPEG");
    edges
        .into_iter()
        .chain([("b_grey_a.png".to_owned(), png(&grey())), ("b_200_scene.jpg".to_owned(), scene)])
        .collect()
}
