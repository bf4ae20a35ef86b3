//! Sample planes of video: codes of RGB, of luma and chroma, or of grey, to signal and back.
//!
//! Samples are whole planes one after another, each sample a byte up to 8 bits and two bytes, little end first, above.
//! Signal that is read is as recorded: code value over the largest code, nothing squeezed or spread, with the matrix undone.
//! Signal that is written is 0 to 1 of the display's curve; planes of luma have it in legal or in full range. Alpha is a plane
//! of full range after the others, and colour is not multiplied by it.
//!
//! # Error
//! f32 throughout: below a sixth of a code of 16 bits, and codes are the nearest.

use super::Transform;
use crate::camera::Range;
use crate::frame::Frame;
use rayon::prelude::*;
use std::array::from_fn;

/// Weights of red and blue in luma.
pub type Weights = [f64; 2];
/// ITU-R BT.601-7.
pub const BT601: Weights = [0.299, 0.114];
/// ITU-R BT.709-6.
pub const BT709: Weights = [0.2126, 0.0722];
/// ITU-R BT.2020-2, non-constant luminance.
pub const BT2020: Weights = [0.2627, 0.0593];

/// Pixels that one thread takes at a time: three planes of f32 stay in its nearest caches.
const PART: usize = 1 << 12;

/// What the planes are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Coding {
    /// Green, blue, red, full range.
    Rgb,
    /// Luma and both colour differences.
    Luma {
        /// 0 to 1 is the whole range of codes (ITU-T H.273), not the legal one.
        full: bool,
        /// The matrix.
        weights: Weights,
    },
    /// One plane.
    Grey,
}

/// A layout of planes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Planes {
    /// Bits of a sample, 8 to 16.
    pub bits: u8,
    /// What they are.
    pub coding: Coding,
    /// One more has alpha.
    pub alpha: bool,
}

type Lanes = [Vec<f32>; 3];

impl Planes {
    /// Planes without alpha.
    pub const fn new(bits: u8, coding: Coding) -> Self {
        Self { bits, coding, alpha: false }
    }

    /// The same without alpha.
    pub const fn opaque(self) -> Self {
        Self { alpha: false, ..self }
    }

    /// Planes of colour.
    const fn colours(self) -> usize {
        match self.coding {
            Coding::Grey => 1,
            Coding::Rgb | Coding::Luma { .. } => 3,
        }
    }

    /// Planes of a picture.
    pub const fn count(self) -> usize {
        self.colours() + self.alpha as usize
    }

    /// Samples of a pixel that [`samples`](Self::samples) gives: 3, or 4 with alpha.
    pub const fn channels(self) -> usize {
        3 + self.alpha as usize
    }

    /// Bytes of a sample.
    const fn bytes(self) -> usize {
        if self.bits > 8 { 2 } else { 1 }
    }

    /// Bytes of a picture of so many pixels; none where there is no such number.
    pub fn size(self, pixels: usize) -> Option<usize> {
        pixels.checked_mul(self.count() * self.bytes())
    }

    fn top(self) -> f32 {
        ((1u32 << self.bits) - 1) as f32
    }

    /// Codes of black and of no colour, and codes of a swing of 1 in luma and in colour difference.
    fn levels(self, full: bool) -> [f32; 4] {
        let unit = (1u32 << (self.bits - 8)) as f32;
        if full { [0.0, 128.0 * unit, self.top(), self.top()] } else { [16.0, 128.0, 219.0, 224.0].map(|v| v * unit) }
    }

    /// Codes of a part of a plane.
    fn codes(self, raw: &[u8], lane: &mut [f32]) {
        if self.bytes() == 2 {
            for (to, from) in lane.iter_mut().zip(raw.as_chunks::<2>().0) {
                *to = f32::from(u16::from_le_bytes(*from));
            }
        } else {
            for (to, from) in lane.iter_mut().zip(raw) {
                *to = f32::from(*from);
            }
        }
    }

    /// Codes as a part of a plane, the nearest.
    fn put(self, lane: &[f32], part: &mut [u8]) {
        let top = self.top();
        let codes = lane.iter().map(|v| nearest(*v, top));
        if self.bits > 8 {
            part.as_chunks_mut::<2>().0.iter_mut().zip(codes).for_each(|(to, v)| *to = (v as u16).to_le_bytes());
        } else {
            part.iter_mut().zip(codes).for_each(|(to, v)| *to = v as u8);
        }
    }

    /// `count` pixels from `at` on, as recorded.
    fn load(self, raw: &[u8], at: usize, count: usize, lanes: &mut Lanes) {
        let size = self.bytes();
        let plane = raw.len() / self.count();
        for (p, lane) in lanes.iter_mut().take(self.colours()).enumerate() {
            self.codes(&raw[p * plane + at * size..p * plane + (at + count) * size], lane);
        }
        let scale = 1.0 / self.top();
        match self.coding {
            Coding::Grey => {
                let [first, rest @ ..] = lanes;
                first.iter_mut().for_each(|v| *v *= scale);
                rest.iter_mut().for_each(|lane| lane.copy_from_slice(first));
            }
            Coding::Rgb => {
                lanes.iter_mut().flatten().for_each(|v| *v *= scale);
                // Green, blue, red.
                lanes.rotate_right(1);
            }
            Coding::Luma { full, weights: [red, blue] } => {
                let [_, middle, y_swing, c_swing] = self.levels(full);
                // Codes of colour difference to codes of the difference from luma.
                let swing = f64::from(y_swing / c_swing);
                let (dr, db) = ((2.0 * (1.0 - red) * swing) as f32, (2.0 * (1.0 - blue) * swing) as f32);
                let green = 1.0 - red - blue;
                let (gr, gb) = ((red / green) as f32 * dr, (blue / green) as f32 * db);
                let [luma, cb, cr] = lanes;
                for ((y, b), r) in luma.iter_mut().zip(cb).zip(cr) {
                    let (db_, dr_) = (*b - middle, *r - middle);
                    let rgb = [*y + dr * dr_, *y - gr * dr_ - gb * db_, *y + db * db_];
                    (*y, *b, *r) = (rgb[0] * scale, rgb[1] * scale, rgb[2] * scale);
                }
            }
        }
    }

    /// Puts `count` pixels of signal, 0 to 1 of a display's curve, as codes into the planes' own parts.
    fn store(self, lanes: &mut Lanes, count: usize, parts: &mut [&mut [u8]; 3]) {
        let top = self.top();
        match self.coding {
            Coding::Rgb | Coding::Grey => {
                lanes.rotate_left(1);
                lanes.iter_mut().flatten().for_each(|v| *v *= top);
            }
            Coding::Luma { full, weights: [red, blue] } => {
                let [black, middle, y_swing, c_swing] = self.levels(full);
                let (kr, kb, kg) = (red as f32, blue as f32, (1.0 - red - blue) as f32);
                let (cb, cr) = (c_swing / (2.0 * (1.0 - kb)), c_swing / (2.0 * (1.0 - kr)));
                let [first, second, third] = lanes;
                for ((r, g), b) in first.iter_mut().zip(second).zip(third) {
                    let y = kr * *r + kg * *g + kb * *b;
                    (*r, *g, *b) = (black + y_swing * y, middle + cb * (*b - y), middle + cr * (*r - y));
                }
            }
        }
        for (lane, part) in lanes.iter().zip(parts) {
            self.put(&lane[..count], part);
        }
    }

    /// Red, green and blue of every pixel of a picture, as recorded, and alpha where there is one.
    ///
    /// # Panics
    /// When the bytes are not the planes of so many pixels.
    pub fn samples(self, raw: &[u8], pixels: usize) -> Vec<f32> {
        assert_eq!(self.size(pixels), Some(raw.len()), "planes of {pixels} pixels");
        let mut samples = Vec::with_capacity(self.channels() * pixels);
        let mut lanes: Lanes = from_fn(|_| vec![0.0; PART]);
        let mut alpha = vec![0.0; PART];
        let plane = raw.len() / self.count() * self.colours();
        for at in (0..pixels).step_by(PART) {
            let count = PART.min(pixels - at);
            self.load(raw, at, count, &mut lanes);
            if self.alpha {
                self.codes(&raw[plane + at * self.bytes()..plane + (at + count) * self.bytes()], &mut alpha);
                let [red, green, blue] = &lanes;
                samples.extend((0..count).flat_map(|i| [red[i], green[i], blue[i], alpha[i] / self.top()]));
            } else {
                samples.extend((0..count).flat_map(|i| [lanes[0][i], lanes[1][i], lanes[2][i]]));
            }
        }
        samples
    }
}

/// The code nearest to a value, from 0 to the largest: adding 2^23, which has a last place of 1, rounds to whole numbers
/// and leaves them in the low bits, in vectors where a cast would not be.
#[inline(always)]
fn nearest(value: f32, top: f32) -> u32 {
    let value = if value > 0.0 { value } else { 0.0 };
    let value = if value < top { value } else { top };
    (value + 8_388_608.0).to_bits() & 0xffff
}

/// A picture of `from` through a transform into one of `to`, on all threads; `range` is that of the signal that the
/// transform gives. Alpha is kept; where the source has none, all is opaque. Grey is not written.
///
/// # Panics
/// When source and target are not planes of `pixels` pixels.
pub fn apply(
    transform: &Transform,
    (from, source): (Planes, &[u8]),
    (to, target): (Planes, &mut [u8]),
    range: Range,
    pixels: usize,
) {
    assert_eq!(from.size(pixels), Some(source.len()), "planes of {pixels} pixels");
    assert_eq!(to.size(pixels), Some(target.len()), "planes of {pixels} pixels");
    let (source, source_alpha) = source.split_at(from.opaque().size(pixels).unwrap_or(0));
    let (target, target_alpha) = target.split_at_mut(to.opaque().size(pixels).unwrap_or(0));
    match (from.alpha, to.alpha) {
        (_, false) => {}
        (true, true) if from.bits == to.bits => target_alpha.copy_from_slice(source_alpha),
        (is, true) => {
            let scale = to.top() / from.top();
            let parts = target_alpha.par_chunks_mut(PART * to.bytes()).enumerate();
            parts.for_each_init(
                || vec![1.0; PART],
                |lane, (i, part)| {
                    let count = part.len() / to.bytes();
                    let lane = &mut lane[..count];
                    if is {
                        from.codes(&source_alpha[i * PART * from.bytes()..], lane);
                        lane.iter_mut().for_each(|v| *v *= scale);
                    } else {
                        lane.fill(to.top());
                    }
                    to.put(lane, part);
                },
            );
        }
    }
    let (from, to) = (from.opaque(), to.opaque());
    if range == Range::Full && from == to && at_once(transform, (from, source), target, pixels) {
        return;
    }
    fill(to, target, range, pixels, |lanes, at, count| {
        from.load(source, at, count, lanes);
        let [red, green, blue] = lanes;
        transform.planes([&mut red[..count], &mut green[..count], &mut blue[..count]]);
    });
}

/// Samples of 16 bits through a cube's own kernel for them, where that is what there is and the bytes lie so.
fn at_once(transform: &Transform, (planes, source): (Planes, &[u8]), target: &mut [u8], pixels: usize) -> bool {
    let Some(cube) = transform.fast().filter(|_| planes == Planes::new(16, Coding::Rgb)) else {
        return false;
    };
    if cfg!(target_endian = "big") || target.len() != source.len() || pixels == 0 {
        return false;
    }
    let (Ok(source), Ok(target)) = (bytemuck::try_cast_slice(source), bytemuck::try_cast_slice_mut(target)) else {
        return false;
    };
    let ([green, blue, red], [to_green, to_blue, to_red]) = (thirds::<u16>(source), thirds_mut(target));
    cube.planar([red, green, blue], [to_red, to_green, to_blue]).is_ok()
}

fn thirds<T>(all: &[T]) -> [&[T]; 3] {
    let (first, rest) = all.split_at(all.len() / 3);
    let (second, third) = rest.split_at(all.len() / 3);
    [first, second, third]
}

fn thirds_mut<T>(all: &mut [T]) -> [&mut [T]; 3] {
    let each = all.len() / 3;
    let (first, rest) = all.split_at_mut(each);
    let (second, third) = rest.split_at_mut(each);
    [first, second, third]
}

/// A frame that holds a display's signal of `range` as planes of `to`, on all threads; alpha is dropped where they have none,
/// and all is opaque where the frame has none. Grey is not written.
///
/// # Panics
/// When the target is not planes of as many pixels.
pub fn store(frame: &Frame, (to, target): (Planes, &mut [u8]), range: Range) {
    let channels = frame.channels();
    let pixels = frame.width() * frame.height();
    let (target, alpha) = target.split_at_mut(to.opaque().size(pixels).unwrap_or(0).min(target.len()));
    if to.alpha {
        let top = to.top();
        alpha.par_chunks_mut(PART * to.bytes()).enumerate().for_each(|(i, part)| {
            let pixels = frame.samples()[i * PART * channels..].chunks_exact(channels);
            let lane: Vec<f32> = pixels.take(PART).map(|p| p.get(3).map_or(top, |v| *v * top)).collect();
            to.put(&lane, part);
        });
    }
    let to = to.opaque();
    fill(to, target, range, pixels, |lanes, at, count| {
        let pixels = frame.samples()[at * channels..(at + count) * channels].chunks_exact(channels);
        for (i, pixel) in pixels.enumerate() {
            lanes.iter_mut().zip(pixel).for_each(|(lane, v)| lane[i] = *v);
        }
    });
}

/// Fills planes part by part with signal of `range`: `part` is given room for red, green and blue, a place and a number of
/// pixels.
fn fill(
    to: Planes,
    target: &mut [u8],
    range: Range,
    pixels: usize,
    part: impl Fn(&mut Lanes, usize, usize) + Send + Sync,
) {
    assert!(to.count() == 3 && to.size(pixels) == Some(target.len()), "planes of {pixels} pixels");
    let bytes = to.bytes();
    let [first, second, third] = thirds_mut(target);
    let parts = |plane| <[u8] as ParallelSliceMut<u8>>::par_chunks_mut(plane, PART * bytes);
    let black = range.decode(0.0) as f32;
    let spread = (range.decode(1.0) - range.decode(0.0)) as f32;
    parts(first).zip(parts(second)).zip(parts(third)).enumerate().for_each_init(
        || -> Lanes { from_fn(|_| vec![0.0; PART]) },
        |lanes, (i, ((a, b), c))| {
            let count = a.len() / bytes;
            part(lanes, i * PART, count);
            if range == Range::Legal {
                lanes.iter_mut().flatten().for_each(|v| *v = black + spread * *v);
            }
            to.store(lanes, count, &mut [a, b, c]);
        },
    );
}

#[cfg(test)]
mod tests;
