//! How many bits the signal of a capture has, by the codes that its pixels take, and whether it is dithered.
//!
//! A signal of 8 bits in a file of 10 or 16 takes few of the codes that the file has. Those few lie evenly: as parts of the
//! whole range, or as codes with zeros at their end. The means of patches do not show it where the signal is dithered; the
//! pixels do. Noise, scaling, compression and a matrix after the rounding hide it: then nothing is said.
//!
//! The chart itself has codes of 10 bits, so that it does not show whether more than 10 bits reach the cube.

use super::read::Measured;
use crate::frame::Depth;

/// What the pixels say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Signal {
    /// Bits of the signal: 8, 10 or 12, fewer than the file has.
    pub bits: u8,
    /// Patches of one colour have several codes: dither, or noise before the rounding.
    pub dithered: bool,
}

/// Bits that are looked for, the fewest first.
const BITS: [u8; 3] = [8, 10, 12];
/// The share of pixels that must lie on codes of so many bits: an overlay may cover some.
const ON_CODES: f64 = 0.97;
/// The share of patches with several codes that makes a dithered signal.
const DITHERED: f64 = 0.5;
/// Values to judge by, at least: of fewer, too many lie there by chance.
const FEWEST: usize = 300;
/// Beside the ends of the range, where every depth has a code.
const ENDS: f64 = 0.004;

/// The values of the pixels of a patch, channel by channel, without those at the ends of the range.
fn values(measured: &Measured) -> [Vec<f64>; 3] {
    let of = |c: usize| measured.pixels.iter().map(move |rgb| f64::from(rgb[c]));
    std::array::from_fn(|c| of(c).filter(|v| (ENDS..1.0 - ENDS).contains(v)).collect())
}

/// The bits of the signal, where its pixels take the codes of fewer than the file has.
pub(super) fn depth(file: Depth, measured: &[Measured]) -> Option<Signal> {
    let file = match file {
        Depth::Integer(bits) => Some(bits),
        Depth::Half => return None,
        Depth::Float => None,
    };
    let patches: Vec<Vec<f64>> = measured.iter().flat_map(values).filter(|v| !v.is_empty()).collect();
    if patches.len() < FEWEST {
        return None;
    }
    let count = patches.iter().map(Vec::len).sum::<usize>() as f64;
    let top = |bits: u8| ((1u64 << bits.min(32)) - 1) as f64;
    let holds = |scale: f64, least: f64| {
        let is_on = |v: &&f64| ((*v * scale).round() - *v * scale).abs() <= least;
        patches.iter().flatten().filter(is_on).count() as f64 >= ON_CODES * count
    };
    let fits = |bits: u8| match file {
        // Parts of the whole range, to a rounding of the file's; or codes of the file that end in zeros.
        Some(file) => {
            holds(top(bits), (0.5 + 1e-3) * top(bits) / top(file))
                || holds(top(file) / (1u64 << (file - bits)) as f64, 1e-3)
        }
        None => holds(top(bits), 1e-2),
    };
    let bits = BITS.into_iter().filter(|bits| file.is_none_or(|file| *bits < file)).find(|bits| fits(*bits))?;
    let spread = |values: &&Vec<f64>| {
        let (low, high) = values.iter().fold((1.0f64, 0.0f64), |(l, h), v| (l.min(*v), h.max(*v)));
        high - low > 0.5 / top(bits)
    };
    let dithered = patches.iter().filter(spread).count() as f64 >= DITHERED * patches.len() as f64;
    Some(Signal { bits, dithered })
}

#[cfg(test)]
mod tests {
    use super::super::read::read;
    use super::*;
    use crate::chain::draw::chart;
    use crate::chain::mark::Mark;
    use crate::chain::patches::STOPS;
    use crate::frame::{Format, Frame, Info};

    /// The chart, bent by a power so that its codes lie nowhere, rounded to `bits` after `dither`, in a file of `file`.
    fn rounded(bits: u8, dither: f64, file: Depth, is_shifted: bool) -> Option<Signal> {
        let sheet = chart(&Mark::new("saltmarsh", [960, 540], [300; STOPS])).unwrap();
        let top = |bits: u8| ((1u64 << bits) - 1) as f64;
        // Spread evenly by the golden ratio.
        let one = |(i, v): (usize, &f32)| {
            let v = 0.03 + 0.91 * f64::from(*v) * f64::from(*v);
            let code = (v * top(bits) + dither * ((i as f64 * 0.618_033_988_749_895).fract() - 0.5)).round();
            let v = match file {
                Depth::Integer(file) if is_shifted => code * (1u64 << (file - bits)) as f64 / top(file),
                Depth::Integer(file) => (code / top(bits) * top(file)).round() / top(file),
                _ => code / top(bits),
            };
            v as f32
        };
        let samples: Vec<f32> = sheet.samples().iter().enumerate().map(one).collect();
        let frame = Frame::new(960, 540, false, samples, Info::new(Format::Tiff, file)).unwrap();
        read(&frame).unwrap().signal
    }

    #[test]
    fn bits_and_dither_show_in_the_codes_of_pixels() {
        let is = |bits, dithered| Some(Signal { bits, dithered });
        for file in [Depth::Integer(16), Depth::Float] {
            for bits in [8, 10, 12] {
                assert_eq!(rounded(bits, 0.0, file, false), is(bits, false), "{bits} in {file:?}");
                assert_eq!(rounded(bits, 1.0, file, false), is(bits, true), "{bits} in {file:?}, dithered");
            }
        }
        assert_eq!(rounded(8, 1.0, Depth::Integer(10), false), is(8, true));
        assert_eq!(rounded(8, 0.0, Depth::Integer(10), true), is(8, false));
        assert_eq!(rounded(10, 1.0, Depth::Integer(12), true), is(10, true));
        // As many bits as the file, or more than are looked for: nothing is said.
        assert_eq!(rounded(8, 0.0, Depth::Integer(8), false), None);
        assert_eq!(rounded(10, 1.0, Depth::Integer(10), false), None);
        assert_eq!(rounded(16, 0.0, Depth::Integer(16), false), None);
        assert_eq!(rounded(14, 1.0, Depth::Float, false), None);
    }
}
