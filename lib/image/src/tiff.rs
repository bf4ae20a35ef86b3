//! TIFF 6.0 and BigTIFF: grey and colour of 8 and 16 bits, half and 32-bit float; with and without alpha; the first
//! picture of a file.

use super::{Depth, Format, Frame, FrameError, Info, Limits, exif, xmp};
use std::io::Cursor;
use tiff::decoder::{BufferLayoutPreference, Decoder, DecodingResult};
use tiff::encoder::{Compression, DirectoryEncoder, Predictor, TiffEncoder, TiffKindStandard, TiffValue, colortype};
use tiff::tags::{ExtraSamples, Tag, Type};
use tiff::{ColorType, TiffError};

fn refused(error: TiffError) -> FrameError {
    match error {
        TiffError::UnsupportedError(what) => FrameError::Unsupported(format!("a TIFF of a kind not read here: {what}")),
        TiffError::LimitsExceeded | TiffError::IntSizeError => {
            FrameError::Limit("the TIFF takes more memory than is allowed".to_owned())
        }
        TiffError::IoError(_) => FrameError::malformed("the TIFF is cut short"),
        other => FrameError::Malformed(format!("the TIFF is broken: {other}")),
    }
}

pub(super) fn read(file: &[u8], limits: Limits) -> Result<Frame, FrameError> {
    let mut bounds = tiff::decoder::Limits::default();
    (bounds.decoding_buffer_size, bounds.intermediate_buffer_size) = (limits.memory, limits.memory);
    bounds.ifd_value_size = limits.memory.min(64 << 20);
    let mut decoder = Decoder::new(Cursor::new(file)).map_err(refused)?.with_limits(bounds);
    let (width, height) = decoder.dimensions().map_err(refused)?;
    let colour = decoder.colortype().map_err(refused)?;
    let stored = usize::from(colour.num_samples());
    limits.check(u64::from(width), u64::from(height), stored as u64, file.len())?;
    let channels = match colour {
        ColorType::Gray(_) => 1,
        ColorType::GrayA(_) | ColorType::Multiband { num_samples: 2, .. } => 2,
        ColorType::RGB(_) => 3,
        ColorType::RGBA(_) => 4,
        other => {
            let what = match other {
                ColorType::CMYK(_) | ColorType::CMYKA(_) => "CMYK".to_owned(),
                ColorType::YCbCr(_) => "YCbCr".to_owned(),
                ColorType::Lab(_) => "CIELAB".to_owned(),
                ColorType::Palette(_) => "palette colours".to_owned(),
                other => format!("{} channels", other.num_samples()),
            };
            return Err(FrameError::Unsupported(format!("a TIFF of {what}: only grey, RGB and RGBA are read")));
        }
    };
    let mut data = DecodingResult::U8(Vec::new());
    let layout = decoder.read_image_to_buffer(&mut data).map_err(refused)?;
    let bits = colour.bit_depth();
    let (depth, samples) = match data {
        DecodingResult::U8(v) if bits == 8 => (Depth::Integer(8), v.iter().map(|v| f32::from(*v) / 255.0).collect()),
        DecodingResult::U16(v) if bits == 16 => {
            (Depth::Integer(16), v.iter().map(|v| f32::from(*v) / 65535.0).collect())
        }
        DecodingResult::F16(v) => (Depth::Half, v.iter().map(|v| v.to_f32()).collect()),
        DecodingResult::F32(v) => (Depth::Float, v),
        _ => {
            let why = format!("a TIFF of {bits} bits: 8 and 16 bits, half and 32-bit float are read");
            return Err(FrameError::Unsupported(why));
        }
    };
    let samples = interleaved(samples, &layout, channels);
    let mut info = Info::new(Format::Tiff, depth);
    info.tags.icc = decoder.find_tag(Tag::IccProfile).ok().flatten().and_then(|v| v.into_u8_vec().ok());
    info.xmp = decoder.find_tag(Tag::Unknown(xmp::TAG)).ok().flatten().and_then(|v| v.into_u8_vec().ok());
    (info.exif, info.exposure) = exif::of_tiff(file);
    let extra = decoder.find_tag(Tag::ExtraSamples).ok().flatten().and_then(|v| v.into_u16_vec().ok());
    info.associated = extra.is_some_and(|kinds| kinds.first() == Some(&ExtraSamples::AssociatedAlpha.to_u16()));
    Frame::from_pixels(width as usize, height as usize, channels, samples, info)
}

/// Samples pixel by pixel, whether the file has them so or plane after plane.
fn interleaved(samples: Vec<f32>, layout: &BufferLayoutPreference, channels: usize) -> Vec<f32> {
    if layout.planes < 2 {
        return samples;
    }
    let pixels = samples.len() / layout.planes;
    let mut mixed = Vec::with_capacity(pixels * channels);
    for i in 0..pixels {
        mixed.extend((0..channels).map(|c| samples[c * pixels + i]));
    }
    mixed
}

fn unwritten(error: TiffError) -> FrameError {
    FrameError::Unsupported(format!("it cannot be written as a TIFF: {error}"))
}

type Directory<'a, 'b> = DirectoryEncoder<'a, &'b mut Cursor<Vec<u8>>, TiffKindStandard>;

pub(super) fn write(frame: &Frame, depth: Depth) -> Result<Vec<u8>, FrameError> {
    use colortype::{RGB8, RGB16, RGB32Float, RGBA8, RGBA16, RGBA32Float};
    match (depth, frame.alpha()) {
        (Depth::Integer(8), false) => put::<RGB8>(frame, &frame.codes(255).map(|v| v as u8).collect::<Vec<_>>()),
        (Depth::Integer(8), true) => put::<RGBA8>(frame, &frame.codes(255).map(|v| v as u8).collect::<Vec<_>>()),
        (Depth::Integer(_), false) => put::<RGB16>(frame, &frame.codes(65535).collect::<Vec<_>>()),
        (Depth::Integer(_), true) => put::<RGBA16>(frame, &frame.codes(65535).collect::<Vec<_>>()),
        (_, false) => put::<RGB32Float>(frame, frame.samples()),
        (_, true) => put::<RGBA32Float>(frame, frame.samples()),
    }
}

fn put<C: colortype::ColorType>(frame: &Frame, samples: &[C::Inner]) -> Result<Vec<u8>, FrameError>
where
    [C::Inner]: TiffValue,
{
    // Four bytes of a place in the file, less room for the directory.
    if size_of_val(samples) as u64 > u64::from(u32::MAX) - (1 << 20) {
        return Err(FrameError::unsupported("a picture too large for a TIFF of less than 4 GiB"));
    }
    let too_large = |_| FrameError::unsupported("a picture too large for a TIFF");
    let width = u32::try_from(frame.width()).map_err(too_large)?;
    let height = u32::try_from(frame.height()).map_err(too_large)?;
    let integer = size_of::<C::Inner>() < 4;
    let mut file = Cursor::new(Vec::new());
    let mut encoder = TiffEncoder::new(&mut file).map_err(unwritten)?;
    encoder = encoder.with_compression(Compression::Deflate(Default::default()));
    if integer {
        encoder = encoder.with_predictor(Predictor::Horizontal);
    }
    let [first, exposure, places] = exif::Written::of(frame.info.exif.as_deref(), &frame.info.tags).directories();
    // Directories of their own, which the first one names.
    let mut pointers = Vec::new();
    for (tag, fields) in [(Tag::ExifDirectory, exposure), (Tag::GpsDirectory, places)] {
        if !fields.is_empty() {
            let mut directory = encoder.extra_directory().map_err(unwritten)?;
            fields.iter().try_for_each(|field| entry(&mut directory, field)).map_err(unwritten)?;
            pointers.push((tag, directory.finish_with_offsets().map_err(unwritten)?.offset));
        }
    }
    let mut image = encoder.new_image::<C>(width, height).map_err(unwritten)?;
    first.iter().try_for_each(|field| entry(image.encoder(), field)).map_err(unwritten)?;
    for (tag, offset) in pointers {
        image.encoder().write_tag(tag, offset).map_err(unwritten)?;
    }
    if let Some(packet) = frame.info.xmp.as_deref().and_then(xmp::clean) {
        image.encoder().write_tag(Tag::Unknown(xmp::TAG), &packet[..]).map_err(unwritten)?;
    }
    if frame.alpha() {
        let associated = frame.info.associated;
        let kind = if associated { ExtraSamples::AssociatedAlpha } else { ExtraSamples::UnassociatedAlpha };
        image.encoder().write_tag(Tag::ExtraSamples, &[kind.to_u16()][..]).map_err(unwritten)?;
    }
    if let Some(icc) = &frame.info.tags.icc {
        // Bytes of no type, which is what readers expect.
        let (tag, kind) = (Tag::IccProfile.to_u16(), Type::UNDEFINED.to_u16());
        entry(image.encoder(), &(tag, kind, icc.clone())).map_err(unwritten)?;
    }
    image.write_data(samples).map_err(unwritten)?;
    Ok(file.into_inner())
}

/// A number, a type and bytes.
fn entry(directory: &mut Directory<'_, '_>, (tag, kind, bytes): &(u16, u16, Vec<u8>)) -> Result<(), TiffError> {
    let kind = Type::from_u16(*kind).unwrap_or(Type::UNDEFINED);
    let entry = directory.write_entry_bytes(kind, bytes)?;
    directory.extend_from(&tiff::Directory::from_iter([(Tag::from_u16_exhaustive(*tag), entry)]));
    Ok(())
}
