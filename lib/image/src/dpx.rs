//! DPX (SMPTE ST 268-1:2014): one picture of 8, 10, 12 or 16 bits, red, green and blue, with and without alpha, or luma;
//! written with 10 bits, red, green and blue, filled by method A. The header is kept and written back.
//!
//! Words of 32 bits, of either byte order; 10 and 12 bits filled to the left (method A) or to the right (method B).
//! Codes are taken as they are, full range: 10-bit code 445 is 445 / 1023.

use super::extras::{Contents, Extras};
use super::{Cicp, Depth, Format, Frame, FrameError, Info, Limits, exif, metadata};

/// Where the fields of the header are, and what they may be (ST 268-1:2014, tables 1 to 5; places typed from memory, and
/// checked against what ffmpeg and ExifTool read).
mod field {
    pub(super) const PICTURE: usize = 4;
    pub(super) const VERSION: usize = 8;
    pub(super) const FILE_SIZE: usize = 16;
    pub(super) const DITTO: usize = 20;
    pub(super) const GENERIC_SIZE: usize = 24;
    pub(super) const INDUSTRY_SIZE: usize = 28;
    pub(super) const USER_SIZE: usize = 32;
    /// Text from here on, to the key of an encryption.
    pub(super) const FILE_NAME: usize = 36;
    /// Texts, and how long they are: when, who, what for, and whose.
    pub(super) const DATE: (usize, usize) = (136, 24);
    pub(super) const CREATOR: (usize, usize) = (160, 100);
    pub(super) const PROJECT: (usize, usize) = (260, 200);
    pub(super) const COPYRIGHT: (usize, usize) = (460, 200);
    pub(super) const KEY: usize = 660;
    pub(super) const ORIENTATION: usize = 768;
    pub(super) const ELEMENTS: usize = 770;
    pub(super) const WIDTH: usize = 772;
    pub(super) const HEIGHT: usize = 776;
    pub(super) const SIGN: usize = 780;
    pub(super) const LOW_CODE: usize = 784;
    pub(super) const LOW_QUANTITY: usize = 788;
    pub(super) const HIGH_CODE: usize = 792;
    pub(super) const HIGH_QUANTITY: usize = 796;
    pub(super) const DESCRIPTOR: usize = 800;
    pub(super) const TRANSFER: usize = 801;
    pub(super) const COLORIMETRIC: usize = 802;
    pub(super) const BITS: usize = 803;
    pub(super) const PACKING: usize = 804;
    pub(super) const ENCODING: usize = 806;
    pub(super) const ELEMENT_PICTURE: usize = 808;
    pub(super) const END_OF_LINE: usize = 812;
    pub(super) const END_OF_IMAGE: usize = 816;
    /// Fields of text in the headers for orientation, film and television: where, and how long.
    pub(super) const TEXTS: [(usize, usize); 7] =
        [(820, 32), (1432, 188), (1664, 48), (1732, 132), (1864, 56), (1636, 28), (1972, 76)];
    /// The number of a film's frame, and the time code of a television's.
    pub(super) const FRAME: usize = 1712;
    pub(super) const TIME_CODE: usize = 1920;
    /// The gamma of a television signal.
    pub(super) const GAMMA: usize = 1948;
    /// The generic header: file, image, orientation.
    pub(super) const LENGTH: usize = 1664;
    /// With the headers for film and television.
    pub(super) const WHOLE: usize = 2048;
    /// An unset field has every bit set.
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
    let mut info = Info::new(Format::Dpx, Depth::Integer(bits));
    info.exif = exif::with(None, said(&reader));
    if (field::WHOLE..=LONGEST_HEADER).contains(&start) {
        info.kept = Some(Extras::new(Contents::Dpx(file[..start].to_vec())));
    }
    Frame::from_pixels(width, height, channels, samples, info)
}

/// What the header says of its making, as EXIF has it.
fn said(reader: &Reader<'_>) -> Vec<(::exif::Tag, ::exif::Value)> {
    let text = |(at, length): (usize, usize)| {
        let bytes = reader.file.get(at..at + length).unwrap_or_default();
        let bytes = bytes.split(|b| *b == 0).next().unwrap_or_default();
        // An unset field may have every bit set.
        std::str::from_utf8(bytes).unwrap_or_default().to_owned()
    };
    // 2026:11:26:14:03:09 and a zone; EXIF parts day and hour by a space.
    let date = text(field::DATE);
    let date = date.get(..10).zip(date.get(11..19)).map(|(day, hour)| format!("{day} {hour}"));
    let all = [
        (metadata::DATE, date.unwrap_or_default()),
        (metadata::ARTIST, artist(&text(field::CREATOR)).to_owned()),
        (metadata::COPYRIGHT, text(field::COPYRIGHT)),
    ];
    all.iter().filter_map(|(tag, text)| exif::said(*tag, text)).collect()
}

/// Creators without the program that stands after them.
fn artist(creators: &str) -> &str {
    creators.rfind(MADE).map_or(creators, |at| creators[..at].trim_end_matches("; "))
}

/// How a program that wrote a file begins among its creators.
const MADE: &str = "made by ";

/// Whether a header says more than what is in [`said`] and what every picture has: names of files and projects, frames of
/// film and of television.
pub(super) fn says_more(header: &[u8]) -> bool {
    let texts = field::TEXTS.into_iter().chain([field::PROJECT]);
    let said = |(at, length): (usize, usize)| {
        header.get(at..at + length).is_some_and(|t| t.iter().any(|b| !matches!(b, 0 | 0xff)))
    };
    let numbers = [field::FRAME, field::TIME_CODE];
    let number = |at: usize| header.get(at..at + 4).is_some_and(|n| n != [0xff; 4] && n != [0; 4]);
    header.len() > field::WHOLE || texts.into_iter().any(said) || numbers.into_iter().any(number)
}

/// Longest header, with what a user has put there, that is kept.
const LONGEST_HEADER: usize = 1 << 20;
/// Transfer and colorimetric characteristics (ST 268-1:2014, tables 5A and 5B; from memory).
const USER_DEFINED: u8 = 0;
const BT709: u8 = 6;

struct Writer {
    file: Vec<u8>,
    big: bool,
}

impl Writer {
    fn u32(&mut self, at: usize, value: u32) {
        let bytes = if self.big { value.to_be_bytes() } else { value.to_le_bytes() };
        self.file[at..at + 4].copy_from_slice(&bytes);
    }

    fn u16(&mut self, at: usize, value: u16) {
        let bytes = if self.big { value.to_be_bytes() } else { value.to_le_bytes() };
        self.file[at..at + 2].copy_from_slice(&bytes);
    }

    /// A header without content: all bits set in numbers, zeros in text.
    fn new() -> Self {
        let mut file = vec![0xff; field::WHOLE];
        file[field::FILE_NAME..field::KEY].fill(0);
        for (at, length) in field::TEXTS {
            file[at..at + length].fill(0);
        }
        file[field::VERSION..field::VERSION + 8].copy_from_slice(b"V2.0\0\0\0\0");
        let mut writer = Self { file, big: true };
        writer.file[..4].copy_from_slice(b"SDPX");
        writer.u32(field::DITTO, 1);
        writer.u32(field::GENERIC_SIZE, field::LENGTH as u32);
        writer.u32(field::INDUSTRY_SIZE, (field::WHOLE - field::LENGTH) as u32);
        writer.u32(field::USER_SIZE, 0);
        writer.u16(field::ORIENTATION, 0);
        writer
    }

    /// With who made the picture, when, and whose it is.
    fn saying(mut self, about: &exif::Written) -> Self {
        // Day and hour are parted as all else is.
        let date =
            about.text(metadata::DATE).or_else(|| about.text(metadata::TAKEN)).map(|date| date.replace(' ', ":"));
        let texts = [
            (field::DATE, date),
            (field::CREATOR, about.text(metadata::ARTIST)),
            (field::COPYRIGHT, about.text(metadata::COPYRIGHT)),
        ];
        for ((at, length), text) in texts {
            self.text((at, length), &text.unwrap_or_default());
        }
        self
    }

    /// As much of a text as a field has room for; a zero ends it.
    fn text(&mut self, (at, length): (usize, usize), text: &str) {
        let whole = cut(text, length - 1);
        self.file[at..at + length].fill(0);
        self.file[at..at + whole.len()].copy_from_slice(whole.as_bytes());
    }

    /// With the program that makes the file after its creators, as far as there is room for these.
    fn made_by(&mut self, maker: &str) {
        let (at, length) = field::CREATOR;
        let before = self.file[at..at + length].split(|b| *b == 0).next().unwrap_or_default();
        let before = artist(std::str::from_utf8(before).unwrap_or_default());
        let room = (length - 1).saturating_sub(maker.len() + 2);
        let all = match cut(before, room) {
            "" => maker.to_owned(),
            before => format!("{before}; {maker}"),
        };
        self.text(field::CREATOR, &all);
    }
}

/// A text up to so many bytes.
fn cut(text: &str, bytes: usize) -> &str {
    let whole = (0..=bytes.min(text.len())).rev().find(|n| text.is_char_boundary(*n)).unwrap_or(0);
    &text[..whole]
}

pub(super) fn write(frame: &Frame) -> Result<Vec<u8>, FrameError> {
    if frame.alpha() {
        return Err(FrameError::unsupported("a DPX is written without alpha: write a PNG, a TIFF or an EXR"));
    }
    let mut out = match frame.info.kept.as_ref().and_then(Extras::dpx) {
        Some(header) => Writer { file: header.to_vec(), big: header.starts_with(b"SDPX") },
        None => Writer::new().saying(&exif::Written::of(frame.info.exif.as_deref(), &frame.info.tags)),
    };
    frame.info.maker.iter().for_each(|maker| out.made_by(maker));
    let start = out.file.len();
    let row = Layout::Filled { bits: 10, high: true }.row(frame.width() * 3);
    let length = row.checked_mul(frame.height()).and_then(|n| u32::try_from(n + start).ok());
    let length = length.ok_or_else(|| FrameError::unsupported("a picture too large for a DPX of less than 4 GiB"))?;
    out.u32(field::PICTURE, start as u32);
    out.u32(field::FILE_SIZE, length);
    out.u16(field::ELEMENTS, 1);
    out.u32(field::WIDTH, frame.width() as u32);
    out.u32(field::HEIGHT, frame.height() as u32);
    for (at, value) in [(field::SIGN, 0), (field::LOW_CODE, 0), (field::HIGH_CODE, 1023)] {
        out.u32(at, value);
    }
    let silent = [field::LOW_QUANTITY, field::HIGH_QUANTITY, field::END_OF_LINE, field::END_OF_IMAGE, field::GAMMA];
    for at in silent {
        out.u32(at, field::NOTHING);
    }
    let cicp = frame.info.tags.cicp;
    let says = |yes: bool| if yes { BT709 } else { USER_DEFINED };
    out.file[field::DESCRIPTOR] = 50;
    out.file[field::TRANSFER] = says(cicp.is_some_and(|c| c.transfer == Cicp::BT709));
    out.file[field::COLORIMETRIC] = says(cicp.is_some_and(|c| c.primaries == Cicp::BT709));
    out.file[field::BITS] = 10;
    out.u16(field::PACKING, 1);
    out.u16(field::ENCODING, 0);
    out.u32(field::ELEMENT_PICTURE, start as u32);
    out.file.reserve(length as usize - start);
    let codes: Vec<u16> = frame.codes(1023).collect();
    for row in codes.chunks_exact(frame.width() * 3) {
        for rgb in row.chunks_exact(3) {
            let word = u32::from(rgb[0]) << 22 | u32::from(rgb[1]) << 12 | u32::from(rgb[2]) << 2;
            out.file.extend(if out.big { word.to_be_bytes() } else { word.to_le_bytes() });
        }
    }
    Ok(out.file)
}
