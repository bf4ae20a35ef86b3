//! Whether eight bits with dither reach the cube: the means of patches hide it, and their pixels show it.
//!
//! A channel that is dithered to eight bits has the codes around its signal in turn. A patch of one colour then has, after
//! the cube, only the colours that the cube makes of combinations of such codes, and noise of any other kind has others.
//! Scaling, compression and fewer colour samples mix the pixels, and eight bits after the cube hide it: then nothing is said.

use super::bank::{Bank, Reading};
use super::explain::Evidence;
use super::model::{Change, Fault, Loaded, after, changed, in_order};
use crate::cube::Interpolation;

type Rgb = [f64; 3];

/// Codes of eight bits.
const TOP: f64 = 255.0;
/// How near a pixel must be to one of the colours, in signal: a rounding to ten bits, and half as much again.
const NEAR: f64 = 0.8 / 1023.0;
/// The share of pixels that must be as near.
const SHARE: f64 = 0.9;
/// The least distance between two pixels of a patch, in signal, that says something.
const APART: f64 = 3.0 / 1023.0;
/// Patches that say something, at least.
const FEWEST: usize = 60;

/// Whether the pixels are those of a chain with these faults whose signal is dithered to eight bits before the cube.
pub(super) fn is_before(bank: &Bank, faults: &[Fault], interpolation: Interpolation, evidence: &Evidence) -> bool {
    if faults.iter().any(|f| matches!(f, Fault::Cube(Loaded::None) | Fault::Input(Change::Eight(_)))) {
        return false;
    }
    let before = in_order(faults.iter().filter_map(|f| if let Fault::Input(c) = f { Some(*c) } else { None }));
    let loaded = faults.iter().find_map(|f| if let Fault::Cube(l) = f { Some(*l) } else { None });
    let reading = Reading::of(faults, interpolation);
    let (mut telling, mut near, mut count) = (0, 0, 0);
    for (signal, pixels) in evidence.signals.iter().zip(&evidence.pixels).filter(|(_, pixels)| is_spread(pixels)) {
        let entering = around(changed(&before, *signal)).map(|rgb| bank.through(loaded, reading, rgb));
        let colours = after(faults, &entering);
        telling += 1;
        count += pixels.len();
        near += pixels.iter().filter(|pixel| colours.iter().any(|colour| is_near(**pixel, *colour))).count();
    }
    telling >= FEWEST && near as f64 >= SHARE * count as f64
}

fn is_near(pixel: [f32; 3], colour: Rgb) -> bool {
    (0..3).all(|c| (f64::from(pixel[c]) - colour[c]).abs() <= NEAR)
}

/// Whether pixels of a patch differ by more than rounding.
fn is_spread(pixels: &[[f32; 3]]) -> bool {
    (0..3).any(|c| {
        let (low, high) =
            pixels.iter().fold((f32::INFINITY, f32::NEG_INFINITY), |(l, h), p| (l.min(p[c]), h.max(p[c])));
        f64::from(high - low) > APART
    })
}

/// The combinations of the four codes around each channel of a signal: dither reaches over one code or over two.
fn around(rgb: Rgb) -> [Rgb; 64] {
    let code = |v: f64, i: usize| (((v * TOP).floor() - 1.0 + i as f64) / TOP).clamp(0.0, 1.0);
    std::array::from_fn(|i| [code(rgb[0], i % 4), code(rgb[1], i / 4 % 4), code(rgb[2], i / 16)])
}
