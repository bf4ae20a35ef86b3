//! Sample planes of video: codes of RGB, of luma and chroma, or of grey, to signal and back.
//!
//! Samples are whole planes one after another, each sample a byte up to 8 bits and two bytes, little end first, above.
//! Signal that is read is as recorded: code value over the largest code, nothing squeezed or spread, with the matrix undone.
//! Signal that is written is 0 to 1 of the display's curve; planes of luma have it in legal or in full range.
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
}

type Lanes = [Vec<f32>; 3];

impl Planes {
    /// Planes of a picture.
    pub const fn count(self) -> usize {
        match self.coding {
            Coding::Grey => 1,
            Coding::Rgb | Coding::Luma { .. } => 3,
        }
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

    /// `count` pixels from `at` on, as recorded.
    fn load(self, raw: &[u8], at: usize, count: usize, lanes: &mut Lanes) {
        let size = self.bytes();
        let plane = raw.len() / self.count();
        for (p, lane) in lanes.iter_mut().take(self.count()).enumerate() {
            let codes = &raw[p * plane + at * size..p * plane + (at + count) * size];
            if size == 2 {
                for (to, from) in lane.iter_mut().zip(codes.as_chunks::<2>().0) {
                    *to = f32::from(u16::from_le_bytes(*from));
                }
            } else {
                for (to, from) in lane.iter_mut().zip(codes) {
                    *to = f32::from(*from);
                }
            }
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
            let codes = lane[..count].iter().map(|v| nearest(*v, top));
            if self.bits > 8 {
                part.as_chunks_mut::<2>().0.iter_mut().zip(codes).for_each(|(to, v)| *to = (v as u16).to_le_bytes());
            } else {
                part.iter_mut().zip(codes).for_each(|(to, v)| *to = v as u8);
            }
        }
    }

    /// Red, green and blue of every pixel of a picture, as recorded.
    ///
    /// # Panics
    /// When the bytes are not the planes of so many pixels.
    pub fn samples(self, raw: &[u8], pixels: usize) -> Vec<f32> {
        assert_eq!(self.size(pixels), Some(raw.len()), "planes of {pixels} pixels");
        let mut samples = Vec::with_capacity(3 * pixels);
        let mut lanes: Lanes = from_fn(|_| vec![0.0; PART]);
        for at in (0..pixels).step_by(PART) {
            let count = PART.min(pixels - at);
            self.load(raw, at, count, &mut lanes);
            samples.extend((0..count).flat_map(|i| [lanes[0][i], lanes[1][i], lanes[2][i]]));
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
/// transform gives. Grey is not written.
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
    let Some(cube) = transform.fast().filter(|_| planes == Planes { bits: 16, coding: Coding::Rgb }) else {
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

/// A frame that holds a display's signal of `range` as planes of `to`, on all threads; alpha is left out. Grey is not
/// written.
///
/// # Panics
/// When the target is not planes of as many pixels.
pub fn store(frame: &Frame, (to, target): (Planes, &mut [u8]), range: Range) {
    let channels = frame.channels();
    fill(to, target, range, frame.width() * frame.height(), |lanes, at, count| {
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
mod tests {
    use super::*;

    const BITS: [u8; 4] = [8, 10, 12, 16];

    fn raw(planes: Planes, codes: &[[u16; 3]]) -> Vec<u8> {
        let plane = |p: usize| codes.iter().flat_map(move |c| c[p].to_le_bytes().into_iter().take(planes.bytes()));
        (0..planes.count()).flat_map(plane).collect()
    }

    /// ITU-R BT.709-6, table 3, items 3.2 to 3.4: colours at full amplitude, in codes of 10 bits.
    #[test]
    fn the_matrix_gives_back_the_codes_of_the_colours() {
        let planes = Planes { bits: 10, coding: Coding::Luma { full: false, weights: BT709 } };
        for rgb in [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [0.5, 0.5, 0.5], [1.0, 1.0, 1.0]] {
            let luma = 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2];
            let [b, r] = [(rgb[2] - luma) / 1.8556, (rgb[0] - luma) / 1.5748];
            let codes = [64.0 + 876.0 * luma, 512.0 + 896.0 * b, 512.0 + 896.0 * r].map(|v: f64| v.round() as u16);
            let found = planes.samples(&raw(planes, &[codes]), 1);
            for (found, want) in found.into_iter().zip(rgb) {
                // A code of chroma is at most 1.9 of blue.
                assert!((f64::from(found) * 1023.0 - (64.0 + 876.0 * want)).abs() < 1.6, "{found} for {want}");
            }
            // And forth.
            let mut target = vec![0; 6];
            let signal = Planes { bits: 16, coding: Coding::Rgb };
            let source = raw(signal, &[[rgb[1], rgb[2], rgb[0]].map(|v| (v * 65535.0f64).round() as u16)]);
            let same = Transform::function(|rgb| rgb);
            apply(&same, (signal, &source), (planes, &mut target), Range::Full, 1);
            assert_eq!(target, raw(planes, &[codes]), "{rgb:?}");
        }
    }

    #[test]
    fn what_is_left_alone_keeps_its_codes() {
        let same = Transform::function(|rgb| rgb);
        for bits in BITS {
            let top = (1u32 << bits) - 1;
            // More pixels than one part, and no whole number of parts; grey and near it, which every matrix holds.
            let pixels = PART + 77;
            let codes: Vec<[u16; 3]> = (0..pixels as u32)
                .map(|i| {
                    let y = (top / 4 + i * 31 % (top / 2)) as u16;
                    let off = |k: u32| ((1u32 << (bits - 1)) + (i * k % 9) * (top / 255) - 4 * (top / 255)) as u16;
                    [y, off(5), off(7)]
                })
                .collect();
            let rgb = Planes { bits, coding: Coding::Rgb };
            let mut out = vec![0; rgb.size(pixels).unwrap()];
            apply(&same, (rgb, &raw(rgb, &codes)), (rgb, &mut out), Range::Full, pixels);
            assert!(out == raw(rgb, &codes), "{bits} bits of RGB");
            for (full, weights) in [(false, BT709), (false, BT2020), (true, BT601)] {
                let luma = Planes { bits, coding: Coding::Luma { full, weights } };
                let mut out = vec![0; luma.size(pixels).unwrap()];
                // As recorded, legal codes come as a legal signal, which is written as one.
                let range = if full { Range::Full } else { Range::Legal };
                apply(&same, (luma, &raw(luma, &codes)), (luma, &mut out), range, pixels);
                let back = raw(luma, &codes);
                if full || bits == 10 {
                    assert!(out == back, "{bits} bits of luma, full: {full}");
                }
            }
        }
    }

    #[test]
    fn sixteen_bits_at_once_are_what_they_are_part_by_part() {
        use crate::cube::{Cube, Interpolation};
        let cube = Cube::sample(9, |[r, g, b]| [r * r, (g * (1.0 - r)).sqrt(), 0.2 + 0.7 * b * g]).unwrap();
        let cube = Transform::cube(&cube, Interpolation::Tetrahedral).unwrap();
        let planes = Planes { bits: 16, coding: Coding::Rgb };
        let pixels = PART + 13;
        let codes: Vec<[u16; 3]> =
            (0..pixels as u32).map(|i| [11, 5, 29].map(|k| (i * k * 7919 % 65536) as u16)).collect();
        let bytes = raw(planes, &codes);
        let mut whole = vec![0; bytes.len()];
        assert!(at_once(&cube, (planes, &bytes), &mut whole, pixels));
        // Bytes that do not begin where a sample of two may go part by part.
        let mut odd = vec![0; bytes.len() + 1];
        odd[1..].copy_from_slice(&bytes);
        let (mut parts, start) = (vec![0; bytes.len()], usize::from(odd.as_ptr().addr().is_multiple_of(2)));
        if start == 0 {
            odd.rotate_left(1);
        }
        assert!(!at_once(&cube, (planes, &odd[start..start + bytes.len()]), &mut parts, pixels));
        apply(&cube, (planes, &odd[start..start + bytes.len()]), (planes, &mut parts), Range::Full, pixels);
        let samples =
            |raw: &[u8]| raw.as_chunks::<2>().0.iter().map(|b| i32::from(u16::from_le_bytes(*b))).collect::<Vec<_>>();
        let (whole, parts) = (samples(&whole), samples(&parts));
        assert!(whole.iter().zip(&parts).all(|(a, b)| (a - b).abs() <= 1));
        assert!(whole.iter().zip(&parts).filter(|(a, b)| a != b).count() * 50 < whole.len());
        let mut through = vec![0; bytes.len()];
        apply(&cube, (planes, &bytes), (planes, &mut through), Range::Full, pixels);
        assert!(samples(&through) == whole);
    }

    #[test]
    fn a_frame_has_the_codes_that_its_planes_would_have() {
        let same = Transform::function(|rgb| rgb);
        let pixels = PART + 5;
        let source = Planes { bits: 16, coding: Coding::Rgb };
        let codes: Vec<[u16; 3]> = (0..pixels as u32).map(|i| [3, 5, 7].map(|k| (i * k * 97 % 65536) as u16)).collect();
        let bytes = raw(source, &codes);
        for alpha in [false, true] {
            let rgb = source.samples(&bytes, pixels);
            let samples = match alpha {
                false => rgb,
                true => rgb.chunks_exact(3).flat_map(|p| [p[0], p[1], p[2], 0.5]).collect(),
            };
            let info = crate::frame::Info::new(crate::frame::Format::Dpx, crate::frame::Depth::Integer(16));
            let frame = Frame::new(pixels, 1, alpha, samples, info).unwrap();
            for (to, range) in [
                (Planes { bits: 10, coding: Coding::Luma { full: false, weights: BT709 } }, Range::Full),
                (Planes { bits: 12, coding: Coding::Rgb }, Range::Legal),
            ] {
                let mut ours = vec![0; to.size(pixels).unwrap()];
                let mut theirs = ours.clone();
                store(&frame, (to, &mut ours), range);
                apply(&same, (source, &bytes), (to, &mut theirs), range, pixels);
                assert!(ours == theirs, "alpha: {alpha}, {to:?}");
            }
        }
    }

    #[test]
    fn grey_has_three_equal_channels() {
        let grey = Planes { bits: 10, coding: Coding::Grey };
        assert_eq!(grey.samples(&raw(grey, &[[1023, 0, 0], [0, 0, 0]]), 2), [1.0, 1.0, 1.0, 0.0, 0.0, 0.0]);
    }
}
