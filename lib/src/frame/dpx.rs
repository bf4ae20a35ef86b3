//! DPX (SMPTE ST 268-1:2014): one picture of 8, 10, 12 or 16 bits, red, green and blue, with and without alpha, or luma.
//!
//! Words of 32 bits, of either byte order; 10 and 12 bits filled to the left (method A) or to the right (method B).
//! Codes are taken as they are, full range: 10-bit code 445 is 445 / 1023.

use super::{Depth, Format, Frame, FrameError, Info, Limits};

/// Where the fields of the header are, and what they may be (ST 268-1:2014, tables 1 to 3).
mod field {
    pub(super) const PICTURE: usize = 4;
    pub(super) const ELEMENTS: usize = 770;
    pub(super) const WIDTH: usize = 772;
    pub(super) const HEIGHT: usize = 776;
    pub(super) const DESCRIPTOR: usize = 800;
    pub(super) const BITS: usize = 803;
    pub(super) const PACKING: usize = 804;
    pub(super) const ENCODING: usize = 806;
    pub(super) const ELEMENT_PICTURE: usize = 808;
    pub(super) const END_OF_LINE: usize = 812;
    /// The generic header: file, image, orientation.
    pub(super) const LENGTH: usize = 1664;
    /// A field that says nothing has every bit set.
    pub(super) const NOTHING: u32 = u32::MAX;
}

struct Reader<'f> {
    file: &'f [u8],
    big: bool,
}

impl Reader<'_> {
    fn u32(&self, at: usize) -> u32 {
        let bytes = self.file.get(at..at + 4).and_then(|b| b.try_into().ok()).unwrap_or([0xff; 4]);
        if self.big { u32::from_be_bytes(bytes) } else { u32::from_le_bytes(bytes) }
    }

    fn u16(&self, at: usize) -> u16 {
        let bytes = self.file.get(at..at + 2).and_then(|b| b.try_into().ok()).unwrap_or([0xff; 2]);
        if self.big { u16::from_be_bytes(bytes) } else { u16::from_le_bytes(bytes) }
    }

    fn u8(&self, at: usize) -> u8 {
        self.file.get(at).copied().unwrap_or(0xff)
    }
}

/// How the samples of a row lie in 32-bit words.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Layout {
    /// Whole bytes.
    Bytes(usize),
    /// Three samples of 10 bits to a word of 32, the first at the top, or one of 12 bits to a word of 16; `high` where
    /// the bits that are left over lie below (method A).
    Filled { bits: u32, high: bool },
}

impl Layout {
    /// Bytes of a row of so many samples, to whole words.
    fn row(self, samples: usize) -> usize {
        match self {
            Self::Bytes(n) => (samples * n).next_multiple_of(4),
            Self::Filled { bits: 10, .. } => samples.div_ceil(3) * 4,
            Self::Filled { .. } => (samples * 2).next_multiple_of(4),
        }
    }

    /// Sample `i` of a row.
    fn sample(self, reader: &Reader<'_>, row: usize, i: usize) -> u16 {
        match self {
            Self::Bytes(1) => u16::from(reader.u8(row + i)),
            Self::Bytes(_) => reader.u16(row + 2 * i),
            Self::Filled { bits: 10, high } => {
                let shift = 20 - 10 * (i % 3) as u32 + if high { 2 } else { 0 };
                ((reader.u32(row + i / 3 * 4) >> shift) & 0x3ff) as u16
            }
            Self::Filled { high, .. } => {
                let word = reader.u16(row + 2 * i);
                if high { word >> 4 } else { word & 0xfff }
            }
        }
    }
}

pub(super) fn read(file: &[u8], limits: Limits) -> Result<Frame, FrameError> {
    let big = file.starts_with(b"SDPX");
    let reader = Reader { file, big };
    if file.len() < field::LENGTH {
        let why = format!("the DPX is cut short: its header alone takes {} bytes", field::LENGTH);
        return Err(FrameError::Malformed(why));
    }
    let (width, height) = (reader.u32(field::WIDTH), reader.u32(field::HEIGHT));
    let channels: usize = match reader.u8(field::DESCRIPTOR) {
        6 => 1,
        50 => 3,
        51 => 4,
        other => {
            let why = format!("a DPX of descriptor {other}: luma (6), RGB (50) and RGBA (51) are read");
            return Err(FrameError::Unsupported(why));
        }
    };
    if reader.u16(field::ELEMENTS) != 1 {
        return Err(FrameError::unsupported("a DPX of several elements: one is read, with all its channels"));
    }
    if !matches!(reader.u16(field::ENCODING), 0 | u16::MAX) {
        return Err(FrameError::unsupported("a DPX of run lengths: only plain samples are read"));
    }
    let bits = reader.u8(field::BITS);
    let layout = match (bits, reader.u16(field::PACKING)) {
        (8, _) => Layout::Bytes(1),
        (16, _) => Layout::Bytes(2),
        (10 | 12, 1) => Layout::Filled { bits: u32::from(bits), high: true },
        (10 | 12, 2) => Layout::Filled { bits: u32::from(bits), high: false },
        (10 | 12, other) => {
            let why = format!("a DPX of packing {other}: samples filled into words are read (1 and 2)");
            return Err(FrameError::Unsupported(why));
        }
        (other, _) => return Err(FrameError::Unsupported(format!("a DPX of {other} bits: 8, 10, 12 and 16 are read"))),
    };
    limits.check(u64::from(width), u64::from(height), channels as u64, file.len())?;
    let (width, height) = (width as usize, height as usize);
    let start = match reader.u32(field::ELEMENT_PICTURE) {
        0 | field::NOTHING => reader.u32(field::PICTURE),
        at => at,
    } as usize;
    let padding = match reader.u32(field::END_OF_LINE) {
        field::NOTHING => 0,
        bytes => bytes as usize,
    };
    let row = layout.row(width * channels);
    let needs = (row as u64 + padding as u64) * height as u64 - padding as u64;
    if start < field::LENGTH || start as u64 + needs > file.len() as u64 {
        let why = format!("the DPX is cut short: {width} x {height} pixels take {needs} bytes from byte {start}");
        return Err(FrameError::Malformed(why));
    }
    let white = ((1u32 << bits) - 1) as f32;
    let mut samples = Vec::with_capacity(width * height * channels);
    for y in 0..height {
        let at = start + y * (row + padding);
        samples.extend((0..width * channels).map(|i| f32::from(layout.sample(&reader, at, i)) / white));
    }
    Frame::from_pixels(width, height, channels, samples, Info::new(Format::Dpx, Depth::Integer(bits)))
}
