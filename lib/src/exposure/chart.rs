//! A test frame in a camera's log signal: a small picture, a smooth ramp of exposure, and patches a stop apart.
//!
//! The picture is computed, not shot: balls of known reflectance under one light, a lamp that clips, and a coloured tube.
//! Nothing in it is noisy, and the signal stops at the clip as the camera's does.

use super::stops::{Curve, Ends};
use crate::camera::Camera;
use crate::math::exp2;
use crate::transfer::MID_GREY;

/// Pixels across and down.
pub const WIDTH: usize = 960;
/// Pixels down.
pub const HEIGHT: usize = 540;
/// Where the ramp and the patches begin.
const RAMP: usize = 420;
const PATCHES: usize = 480;
/// Stops beyond the floor and the clip that the ramp reaches.
const BEYOND: f64 = 1.0;

type Rgb = [f64; 3];

/// A ball: its middle and radius in pixels, and its reflectance in the camera's channels.
struct Ball {
    at: [f64; 2],
    radius: f64,
    reflectance: Rgb,
}

const BALLS: [Ball; 5] = [
    Ball { at: [120.0, 250.0], radius: 85.0, reflectance: [0.04, 0.04, 0.04] },
    Ball { at: [310.0, 270.0], radius: 95.0, reflectance: [MID_GREY; 3] },
    // A fair skin a stop over grey, and a leaf: rounded, from the reflectances of test colours 13 and 14 of CIE 13.3.
    Ball { at: [505.0, 250.0], radius: 90.0, reflectance: [0.48, 0.34, 0.28] },
    Ball { at: [690.0, 280.0], radius: 85.0, reflectance: [0.10, 0.13, 0.06] },
    Ball { at: [860.0, 250.0], radius: 80.0, reflectance: [0.9, 0.9, 0.9] },
];

/// The signal of every pixel, in rows from the top, for the camera at the rating of `ends`.
pub fn chart(camera: &Camera, ends: &Ends) -> Vec<Rgb> {
    let curve = Curve::of(camera, ends.ei);
    let clip = ends.clip.0.signal;
    let (floor, top) = (ends.floor.0.stops - BEYOND, ends.clip.0.stops + BEYOND);
    let grey = |stops: f64| [MID_GREY * exp2(stops); 3];
    let pixel = |i: usize| {
        let (x, y) = (i % WIDTH, i / WIDTH);
        let across = (x as f64 + 0.5) / WIDTH as f64;
        let light = if y < RAMP {
            scene(x as f64 + 0.5, y as f64 + 0.5, top)
        } else if y < PATCHES {
            grey(floor + (top - floor) * across)
        } else {
            let patches = top.floor() - floor.ceil() + 1.0;
            grey(floor.ceil() + (across * patches).floor())
        };
        light.map(|c| curve.signal_of(c).min(clip))
    };
    (0..WIDTH * HEIGHT).map(pixel).collect()
}

/// Light of the picture.
fn scene(x: f64, y: f64, brightest: f64) -> Rgb {
    let from = |at: [f64; 2]| ((x - at[0]) * (x - at[0]) + (y - at[1]) * (y - at[1])).sqrt();
    // A lamp: at the top of the ramp in its middle, and a glow that falls off.
    let lamp = from([410.0, 70.0]);
    if lamp < 26.0 {
        return [MID_GREY * exp2(brightest); 3];
    }
    // A blue tube three stops over grey.
    if (600.0..820.0).contains(&x) && (64.0..76.0).contains(&y) {
        return [0.06, 0.14, 1.0].map(|c| c * MID_GREY * exp2(3.0));
    }
    let toward = |normal: Rgb| {
        // From the upper left and the front.
        let key = [-0.58, -0.46, 0.67];
        (normal[0] * key[0] + normal[1] * key[1] + normal[2] * key[2]).max(0.0)
    };
    for ball in &BALLS {
        let d = from(ball.at) / ball.radius;
        if d < 1.0 {
            let normal = [(x - ball.at[0]) / ball.radius, (y - ball.at[1]) / ball.radius, (1.0 - d * d).sqrt()];
            return ball.reflectance.map(|r| r * (0.02 + toward(normal)));
        }
    }
    let glow = exp2(1.5 - lamp / 45.0);
    let wall = exp2(-2.5 - 2.5 * (x / WIDTH as f64)) * if y > 340.0 { 0.5 } else { 1.0 };
    [MID_GREY * (wall + 0.25 * glow); 3]
}
