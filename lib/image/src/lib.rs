//! Stills: the bytes of a file to a [`Frame`] of f32 samples, and back.
//!
//! OpenEXR, TIFF, PNG, JPEG and DPX are read and written.
//!
//! # Samples
//! Integer samples become code value / largest code: 0..1, and exact both ways up to 16 bits. Float samples stay as they
//! are; NaN stays NaN. A grey picture becomes three equal channels.
//! No curve is decoded and no colour converted: the colour tags of the file are in [`Info::tags`], and the caller decides
//! what the samples mean. EXIF and XMP are read and written; [`unsupported_by`] names the metadata that another format
//! cannot hold.
//!
//! # Limits
//! A file's claims are checked against [`Limits`], and against its own length, before memory is taken for its picture.
//! A decoder needs at most about as much memory again as the frame itself.
#![deny(missing_docs)]

mod dpx;
mod exif;
mod exr;
mod extras;
mod jpeg;
mod metadata;
mod png;
mod tiff;
mod xmp;

pub use exr::write_aces;
pub use extras::Extras;
pub use metadata::{describe, description, summary, unsupported_by};

use rushlight_colour::chromaticity::Xy;
use std::fmt;

/// A format of files.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Format {
    /// OpenEXR.
    Exr,
    /// TIFF 6.0, BigTIFF.
    Tiff,
    /// PNG (W3C, third edition).
    Png,
    /// JPEG (ITU-T T.81), with or without JFIF.
    Jpeg,
    /// SMPTE ST 268.
    Dpx,
}

impl Format {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Exr, Self::Tiff, Self::Png, Self::Jpeg, Self::Dpx];

    /// The name, as people write it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Exr => "EXR",
            Self::Tiff => "TIFF",
            Self::Png => "PNG",
            Self::Jpeg => "JPEG",
            Self::Dpx => "DPX",
        }
    }

    /// The endings of its files, the usual one first.
    pub const fn extensions(self) -> &'static [&'static str] {
        match self {
            Self::Exr => &["exr"],
            Self::Tiff => &["tif", "tiff"],
            Self::Png => &["png"],
            Self::Jpeg => &["jpg", "jpeg"],
            Self::Dpx => &["dpx"],
        }
    }

    /// The format of files that end so, in letters of either case.
    pub fn from_extension(extension: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|f| f.extensions().iter().any(|e| extension.eq_ignore_ascii_case(e)))
    }

    /// The format of a file by its first bytes.
    pub fn of(file: &[u8]) -> Option<Self> {
        const MAGIC: [(&[u8], Format); 9] = [
            (&[0x76, 0x2f, 0x31, 0x01], Format::Exr),
            (b"II*\0", Format::Tiff),
            (b"MM\0*", Format::Tiff),
            (b"II+\0", Format::Tiff),
            (b"MM\0+", Format::Tiff),
            (b"\x89PNG\r\n\x1a\n", Format::Png),
            (&[0xff, 0xd8, 0xff], Format::Jpeg),
            (b"SDPX", Format::Dpx),
            (b"XPDS", Format::Dpx),
        ];
        MAGIC.iter().find(|(magic, _)| file.starts_with(magic)).map(|(_, format)| *format)
    }
}

/// How a file holds its samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Depth {
    /// Unsigned integers of so many bits, full range: 0 to 2^bits - 1.
    Integer(u8),
    /// IEEE 754 floats of 16 bits.
    Half,
    /// IEEE 754 floats of 32 bits.
    Float,
}

impl Depth {
    /// Bits of a sample.
    pub const fn bits(self) -> u8 {
        match self {
            Self::Integer(bits) => bits,
            Self::Half => 16,
            Self::Float => 32,
        }
    }

    /// The step between two neighbouring samples, 0 for floats.
    pub fn step(self) -> f64 {
        match self {
            Self::Integer(bits) => 1.0 / ((1u64 << bits.min(63)) - 1) as f64,
            Self::Half | Self::Float => 0.0,
        }
    }
}

impl fmt::Display for Depth {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Integer(bits) => write!(f, "{bits} bits"),
            Self::Half => f.write_str("half float"),
            Self::Float => f.write_str("float"),
        }
    }
}

/// Colour by the code points of ITU-T H.273, as in a PNG's cICP chunk.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Cicp {
    /// ColourPrimaries: 1 for BT.709, 9 for BT.2020, 11 for P3 with DCI white, 12 for P3 with D65.
    pub primaries: u8,
    /// TransferCharacteristics: 1 for BT.709, 8 for linear, 13 for sRGB, 16 for PQ, 18 for HLG.
    pub transfer: u8,
    /// MatrixCoefficients: 0 where the samples are red, green and blue.
    pub matrix: u8,
    /// Black is code 0 and white the largest code.
    pub full_range: bool,
}

impl Cicp {
    /// BT.709, as primaries and as a transfer.
    pub const BT709: u8 = 1;

    /// Red, green and blue of full range.
    pub const fn rgb(primaries: u8, transfer: u8) -> Self {
        Self { primaries, transfer, matrix: 0, full_range: true }
    }
}

/// What a file says of its colours. A writer puts in what its format has a place for, the most exact first.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tags {
    /// Code points: PNG's cICP.
    pub cicp: Option<Cicp>,
    /// It is sRGB: PNG's sRGB.
    pub srgb: bool,
    /// An ICC profile: PNG, TIFF, JPEG.
    pub icc: Option<Vec<u8>>,
    /// Red, green, blue and white: OpenEXR's chromaticities, PNG's cHRM.
    pub chromaticities: Option<[Xy; 4]>,
    /// The exponent by which samples encode light, such as 1 / 2.2: PNG's gAMA.
    pub gamma: Option<f64>,
}

impl Tags {
    /// Whether the file says anything of its colours.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

/// How a frame was exposed, as its file says.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Exposure {
    /// Exposure time, seconds.
    pub time: Option<f64>,
    /// F-number.
    pub f_number: Option<f64>,
    /// Photographic sensitivity (ISO), which cameras set as their exposure index.
    pub iso: Option<f64>,
}

/// What a file says beside its samples.
#[derive(Debug, Clone, PartialEq)]
pub struct Info {
    /// The format.
    pub format: Format,
    /// How it holds its samples.
    pub depth: Depth,
    /// It has one channel of colour.
    pub grey: bool,
    /// The layer that was read, where the file has names for them.
    pub layer: Option<String>,
    /// Colour.
    pub tags: Tags,
    /// Exposure.
    pub exposure: Exposure,
    /// A block of EXIF, from its TIFF header on: as it is in PNG and JPEG; what TIFF, EXR and DPX say in their own fields.
    pub exif: Option<Vec<u8>>,
    /// A packet of XMP: TIFF, PNG and JPEG.
    pub xmp: Option<Vec<u8>>,
    /// Colour is multiplied by alpha: OpenEXR, and TIFF where it says so.
    pub associated: bool,
    /// What a frame has no place for, to be written back into a file of the same format: OpenEXR, DPX, texts of PNG.
    pub kept: Option<Extras>,
    /// The program that writes the file, for a DPX, which has no description: it stands among the creators.
    pub maker: Option<String>,
}

impl Info {
    /// What is known of samples that no file held.
    pub fn new(format: Format, depth: Depth) -> Self {
        let (tags, exposure) = (Tags::default(), Exposure::default());
        let (layer, exif, xmp, kept) = (None, None, None, None);
        let associated = format == Format::Exr;
        Self { format, depth, grey: false, layer, tags, exposure, exif, xmp, associated, kept, maker: None }
    }
}

/// A picture: red, green, blue and perhaps alpha, row after row from the top.
#[derive(Debug, Clone, PartialEq)]
pub struct Frame {
    width: usize,
    height: usize,
    alpha: bool,
    samples: Vec<f32>,
    /// What its file says.
    pub info: Info,
}

impl Frame {
    /// From samples: red, green, blue, and alpha where there is one, of each pixel.
    ///
    /// # Errors
    /// No pixels, a wrong count of samples.
    pub fn new(width: usize, height: usize, alpha: bool, samples: Vec<f32>, info: Info) -> Result<Self, FrameError> {
        let channels = if alpha { 4 } else { 3 };
        if width == 0 || height == 0 {
            return Err(FrameError::Malformed(format!("{width} x {height} pixels: a picture has at least one")));
        }
        let count = width.checked_mul(height).and_then(|n| n.checked_mul(channels));
        if count != Some(samples.len()) {
            let why = format!("{} samples where {width} x {height} pixels have {channels} each", samples.len());
            return Err(FrameError::Malformed(why));
        }
        Ok(Self { width, height, alpha, samples, info })
    }

    /// From one plane for each channel: one of grey, two of grey and alpha, three of colour, four of colour and alpha.
    fn from_planes(width: usize, height: usize, planes: &[&[f32]], info: Info) -> Result<Self, FrameError> {
        let order: &[usize] = match planes.len() {
            1 => &[0, 0, 0],
            2 => &[0, 0, 0, 1],
            3 => &[0, 1, 2],
            _ => &[0, 1, 2, 3],
        };
        let pixels = planes.iter().map(|p| p.len()).min().unwrap_or(0);
        let mut samples = Vec::with_capacity(pixels * order.len());
        for i in 0..pixels {
            samples.extend(order.iter().map(|c| planes[*c][i]));
        }
        Self::new(width, height, order.len() == 4, samples, info)
    }

    /// From samples pixel by pixel, of one to four channels as in [`from_planes`](Self::from_planes).
    fn from_pixels(
        width: usize,
        height: usize,
        channels: usize,
        samples: Vec<f32>,
        mut info: Info,
    ) -> Result<Self, FrameError> {
        info.grey = channels < 3;
        let spread = match channels {
            1 => samples.iter().flat_map(|v| [*v; 3]).collect(),
            2 => samples.chunks_exact(2).flat_map(|p| [p[0], p[0], p[0], p[1]]).collect(),
            _ => samples,
        };
        Self::new(width, height, channels.is_multiple_of(2), spread, info)
    }

    /// Pixels across.
    pub const fn width(&self) -> usize {
        self.width
    }

    /// Pixels down.
    pub const fn height(&self) -> usize {
        self.height
    }

    /// Whether there is alpha.
    pub const fn alpha(&self) -> bool {
        self.alpha
    }

    /// Samples of a pixel: 3, or 4 with alpha.
    pub const fn channels(&self) -> usize {
        if self.alpha { 4 } else { 3 }
    }

    /// Red, green and blue of a pixel.
    ///
    /// # Panics
    /// Outside the picture.
    pub fn rgb(&self, x: usize, y: usize) -> [f32; 3] {
        assert!(x < self.width && y < self.height, "({x}, {y}) lies outside {} x {}", self.width, self.height);
        let at = (y * self.width + x) * self.channels();
        [self.samples[at], self.samples[at + 1], self.samples[at + 2]]
    }

    /// The part of so many pixels from (x, y) on; none where it reaches outside.
    pub fn crop(&self, x: usize, y: usize, width: usize, height: usize) -> Option<Self> {
        if x.checked_add(width)? > self.width || y.checked_add(height)? > self.height {
            return None;
        }
        let row = |y: usize| {
            let at = (y * self.width + x) * self.channels();
            &self.samples[at..at + width * self.channels()]
        };
        let samples = (y..y + height).flat_map(row).copied().collect();
        Self::new(width, height, self.alpha, samples, self.info.clone()).ok()
    }

    /// Colour multiplied by alpha, or not, as wanted. Where alpha is 0 there is nothing to divide by, and colour stays.
    pub fn associate(&mut self, wanted: bool) {
        if self.alpha && self.info.associated != wanted {
            for pixel in self.samples.chunks_exact_mut(4) {
                let by = match (wanted, pixel[3]) {
                    (true, alpha) => alpha,
                    (false, 0.0) => 1.0,
                    (false, alpha) => 1.0 / alpha,
                };
                pixel[..3].iter_mut().for_each(|v| *v *= by);
            }
        }
        self.info.associated = wanted;
    }

    /// Every pixel's samples in order.
    pub fn samples(&self) -> &[f32] {
        &self.samples
    }

    /// Every pixel's samples in order, to be changed.
    pub fn samples_mut(&mut self) -> &mut [f32] {
        &mut self.samples
    }

    /// Red, green and blue of every pixel in order.
    pub fn pixels(&self) -> impl ExactSizeIterator<Item = [f32; 3]> + '_ {
        self.samples.chunks_exact(self.channels()).map(|p| [p[0], p[1], p[2]])
    }

    /// Samples as integers up to `max`, the nearest; beyond 0..1 and no number at the ends.
    fn codes(&self, max: u16) -> impl Iterator<Item = u16> + '_ {
        let white = f32::from(max);
        // A cast takes NaN to zero.
        self.samples.iter().map(move |v| (v * white).round().clamp(0.0, white) as u16)
    }
}

/// What a file may ask for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Bytes that the samples of a file may take as f32, all its channels and layers together.
    pub memory: usize,
}

impl Default for Limits {
    /// 1 GiB: 89 million pixels of three channels.
    fn default() -> Self {
        Self { memory: 1 << 30 }
    }
}

/// Samples that a byte of a file can stand for at most: more than any lossless compression of these formats reaches.
const EXPANSION: u64 = 16_384;

impl Limits {
    /// Refuses a picture that is larger than allowed, or than `length` bytes of a file can hold.
    fn check(self, width: u64, height: u64, channels: u64, length: usize) -> Result<(), FrameError> {
        if width == 0 || height == 0 || channels == 0 {
            return Err(FrameError::Malformed(format!("{width} x {height} pixels: a picture has at least one")));
        }
        let samples = u128::from(width) * u128::from(height) * u128::from(channels);
        if samples * 4 > self.memory as u128 {
            return Err(FrameError::Limit(format!(
                "{width} x {height} pixels of {channels} channels take {} MiB, more than the {} MiB allowed",
                samples * 4 / (1 << 20),
                self.memory / (1 << 20)
            )));
        }
        if samples > u128::from(length as u64 * EXPANSION) {
            return Err(FrameError::Malformed(format!(
                "its header states {width} x {height} pixels, which {length} bytes cannot hold: the file is cut short"
            )));
        }
        Ok(())
    }
}

/// How to read.
#[derive(Debug, Clone, Default)]
pub struct ReadOptions {
    /// What a file may ask for.
    pub limits: Limits,
    /// The layer to read of an OpenEXR file; default: the first that has red, green and blue.
    pub layer: Option<String>,
}

/// Why a file cannot be read or written.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum FrameError {
    /// The file is broken, or no picture.
    Malformed(String),
    /// The file may be sound, but this is not read or written here.
    Unsupported(String),
    /// The file asks for more than [`Limits`] allow.
    Limit(String),
}

impl FrameError {
    fn unsupported(why: impl Into<String>) -> Self {
        Self::Unsupported(why.into())
    }

    fn malformed(why: impl Into<String>) -> Self {
        Self::Malformed(why.into())
    }
}

impl fmt::Display for FrameError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Malformed(why) | Self::Unsupported(why) | Self::Limit(why) => f.write_str(why),
        }
    }
}

impl std::error::Error for FrameError {}

/// Reads a still; its first bytes say which format it is.
///
/// # Errors
/// A broken file, a kind of file that is not read here, more than the limits allow.
pub fn read(file: &[u8], options: &ReadOptions) -> Result<Frame, FrameError> {
    let Some(format) = Format::of(file) else {
        let names = Format::ALL.map(Format::name).join(", ");
        return Err(FrameError::Malformed(format!("not a picture of a known kind: {names}")));
    };
    match format {
        Format::Exr => exr::read(file, options),
        Format::Tiff => tiff::read(file, options.limits),
        Format::Png => png::read(file, options.limits),
        Format::Jpeg => jpeg::read(file, options.limits),
        Format::Dpx => dpx::read(file, options.limits),
    }
}

/// Quality of a JPEG file that is written, 1 to 100.
const JPEG_QUALITY: u8 = 95;

/// Writes a still; alpha, the tags, EXIF and XMP are kept where the format has a place for them and they stay true of it.
/// Colour that is multiplied by alpha is written as it is: see [`Frame::associate`].
///
/// EXR takes [`Depth::Half`] and [`Depth::Float`]; TIFF 8 and 16 bits and float; PNG 8 and 16 bits; JPEG 8; DPX 10.
/// Integers are the nearest, clipped to 0..1.
///
/// # Errors
/// A format or a depth that is not written, alpha in a JPEG, a picture too large for the format.
pub fn write(frame: &Frame, format: Format, depth: Depth) -> Result<Vec<u8>, FrameError> {
    match (format, depth) {
        (Format::Exr, Depth::Half | Depth::Float) => exr::write(frame, depth),
        (Format::Tiff, Depth::Integer(8 | 16) | Depth::Float) => tiff::write(frame, depth),
        (Format::Png, Depth::Integer(8 | 16)) => png::write(frame, depth),
        (Format::Jpeg, Depth::Integer(8)) => jpeg::write(frame, JPEG_QUALITY),
        (Format::Dpx, Depth::Integer(10)) => dpx::write(frame),
        _ => Err(FrameError::Unsupported(format!("{} files of {depth} are not written", format.name()))),
    }
}

#[cfg(test)]
mod tests;
