//! JPEG (ITU-T T.81): 8 bits, grey or colour.

use super::{Depth, Format, Frame, FrameError, Info, Limits, Tags, exif, xmp};
use std::io::Cursor;
use zune_jpeg::JpegDecoder;
use zune_jpeg::errors::DecodeErrors;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

fn refused(error: DecodeErrors) -> FrameError {
    match error {
        DecodeErrors::Unsupported(what) => FrameError::Unsupported(format!("a JPEG of a kind not read here: {what:?}")),
        DecodeErrors::ExhaustedData | DecodeErrors::IoErrors(_) => FrameError::malformed("the JPEG is cut short"),
        other => FrameError::Malformed(format!("the JPEG is broken: {other:?}")),
    }
}

pub(super) fn read(file: &[u8], limits: Limits) -> Result<Frame, FrameError> {
    let widest = usize::from(u16::MAX);
    let options = DecoderOptions::default().set_max_width(widest).set_max_height(widest).set_strict_mode(true);
    let mut decoder = JpegDecoder::new_with_options(Cursor::new(file), options);
    decoder.decode_headers().map_err(refused)?;
    let (Some((width, height)), Some(colour)) = (decoder.dimensions(), decoder.input_colorspace()) else {
        return Err(FrameError::malformed("the JPEG has no picture"));
    };
    limits.check(width as u64, height as u64, 3, file.len())?;
    let (colour, channels) = match colour {
        ColorSpace::Luma => (ColorSpace::Luma, 1),
        ColorSpace::YCbCr | ColorSpace::RGB => (ColorSpace::RGB, 3),
        other => return Err(FrameError::Unsupported(format!("a JPEG of {other:?}: only grey and colour are read"))),
    };
    decoder.set_options(options.jpeg_set_out_colorspace(colour));
    let data = decoder.decode().map_err(refused)?;
    let samples = data.iter().map(|v| f32::from(*v) / 255.0).collect();
    let mut info = Info::new(Format::Jpeg, Depth::Integer(8));
    info.tags = Tags { icc: decoder.icc_profile(), ..Tags::default() };
    info.exposure = decoder.exif().map(|block| exif::exposure(block)).unwrap_or_default();
    info.xmp = decoder.xmp().cloned();
    // JFIF's own, where EXIF says none.
    let density = decoder.info().and_then(|i| {
        let unit = [None, Some(100.0 / 2.54), Some(100.0)].get(usize::from(i.pixel_density)).copied().flatten()?;
        Some([i.x_density, i.y_density].map(|v| f64::from(v) * unit))
    });
    info.exif = exif::with(decoder.exif().cloned(), density.map(exif::resolution).unwrap_or_default());
    Frame::from_pixels(width, height, channels, samples, info)
}

/// Bytes of a segment, and of the head of one that holds EXIF.
pub(super) const SEGMENT: usize = 65533;
pub(super) const EXIF_HEAD: usize = 6;

pub(super) fn write(frame: &Frame, quality: u8) -> Result<Vec<u8>, FrameError> {
    use jpeg_encoder::{ColorType, Encoder, PixelDensity, PixelDensityUnit, SamplingFactor};
    let too_large = |_| FrameError::unsupported("a picture too large for a JPEG: 65535 pixels a side at most");
    let width = u16::try_from(frame.width()).map_err(too_large)?;
    let height = u16::try_from(frame.height()).map_err(too_large)?;
    if frame.alpha() {
        return Err(FrameError::unsupported("a JPEG has no alpha: write a PNG, a TIFF or an EXR"));
    }
    let unwritten = |e| FrameError::Unsupported(format!("it cannot be written as a JPEG: {e}"));
    let data: Vec<u8> = frame.codes(255).map(|v| v as u8).collect();
    let mut file = Vec::new();
    let mut encoder = Encoder::new(&mut file, quality);
    encoder.set_sampling_factor(SamplingFactor::F_1_1);
    let said = exif::Written::of(frame.info.exif.as_deref(), &frame.info.tags);
    if let Some(block) = said.block().filter(|block| block.len() <= SEGMENT - EXIF_HEAD) {
        encoder.add_exif_metadata(&block).map_err(unwritten)?;
    }
    if let Some([x, y]) = said.resolution() {
        let each = |v: f64| (v * 0.0254).round().clamp(1.0, 65535.0) as u16;
        encoder.set_density(PixelDensity { density: (each(x), each(y)), unit: PixelDensityUnit::Inches });
    }
    if let Some(packet) =
        frame.info.xmp.as_deref().and_then(xmp::clean).filter(|p| p.len() <= SEGMENT - xmp::HEAD.len())
    {
        encoder.add_app_segment(1, [xmp::HEAD, &packet].concat()).map_err(unwritten)?;
    }
    if let Some(icc) = &frame.info.tags.icc {
        encoder.add_icc_profile(icc).map_err(unwritten)?;
    }
    encoder.encode(&data, width, height, ColorType::Rgb).map_err(unwritten)?;
    Ok(file)
}
