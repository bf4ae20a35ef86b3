//! PNG (W3C, third edition): grey, colour, palette; 1 to 16 bits; with and without alpha.

use super::extras::{Contents, Extras};
use super::{Cicp, Depth, Format, Frame, FrameError, Info, Limits, Tags, exif, metadata, xmp};
use png::text_metadata::{ITXtChunk, TEXtChunk};
use png::{BitDepth, ColorType, Decoder, DecodingError, Encoder, EncodingError, ScaledFloat, Transformations, chunk};
use png::{PixelDimensions, Unit};
use rushlight_colour::chromaticity::Xy;
use std::borrow::Cow;
use std::io::Cursor;

fn refused(error: DecodingError) -> FrameError {
    match error {
        DecodingError::LimitsExceeded => FrameError::Limit("it takes more memory than is allowed".to_owned()),
        DecodingError::IoError(_) => FrameError::malformed("the PNG is cut short"),
        other => FrameError::Malformed(format!("the PNG is broken: {other}")),
    }
}

pub(super) fn read(file: &[u8], limits: Limits) -> Result<Frame, FrameError> {
    let mut decoder = Decoder::new_with_limits(Cursor::new(file), png::Limits { bytes: limits.memory });
    // A palette becomes colours, fewer bits become 8, and a transparent colour becomes alpha.
    decoder.set_transformations(Transformations::EXPAND);
    let mut reader = decoder.read_info().map_err(refused)?;
    let info = reader.info();
    let (width, height) = (info.width, info.height);
    let (colour, bits) = reader.output_color_type();
    let channels = colour.samples();
    limits.check(u64::from(width), u64::from(height), channels as u64, file.len())?;
    let palette = info.color_type == ColorType::Indexed;
    let depth = match (info.bit_depth, palette) {
        (_, true) => 8,
        (bits, false) => bits as u8,
    };
    let tags = tags(info);
    let size = reader.output_buffer_size().ok_or_else(|| FrameError::malformed("the PNG is too large"))?;
    let mut data = vec![0; size];
    reader.next_frame(&mut data).map_err(refused)?;
    // What stands after the picture is read too, for the tags that may stand there.
    let _ = reader.finish();
    let samples = match bits {
        BitDepth::Sixteen => {
            data.chunks_exact(2).map(|b| f32::from(u16::from_be_bytes([b[0], b[1]])) / 65535.0).collect()
        }
        _ => data.iter().map(|v| f32::from(*v) / 255.0).collect(),
    };
    let mut about = Info { tags, ..Info::new(Format::Png, Depth::Integer(depth)) };
    let info = reader.info();
    let block = info.exif_metadata.as_ref().map(|e| e.to_vec());
    about.exposure = block.as_deref().map(exif::exposure).unwrap_or_default();
    let mut more = Vec::new();
    if let Some(size) = info.pixel_dims.filter(|d| d.unit == Unit::Meter) {
        more.extend(exif::resolution([size.xppu, size.yppu].map(f64::from)));
    }
    let mut texts = texts(info);
    about.xmp = texts.iter().position(|(key, _)| key == xmp::KEYWORD).map(|at| texts.remove(at).1.into_bytes());
    more.extend(metadata::PNG.iter().filter_map(|(keyword, tag)| {
        let (_, text) = texts.iter().find(|(key, _)| key == keyword)?;
        exif::said(*tag, text)
    }));
    about.exif = exif::with(block, more);
    // Blocks of other kinds as text hold profiles and the like.
    texts.retain(|(key, _)| !key.starts_with("Raw profile type") && key != xmp::KEYWORD);
    about.kept = (!texts.is_empty()).then(|| Extras::new(Contents::Png(texts)));
    Frame::from_pixels(width as usize, height as usize, channels, samples, about)
}

/// Texts that a file may hold, and bytes of each as it unfolds: what is beyond is no description.
const TEXTS: usize = 64;
const LONGEST: usize = 1 << 20;

/// Keywords and texts; what is broken is passed over.
fn texts(info: &png::Info<'_>) -> Vec<(String, String)> {
    let plain = info.uncompressed_latin1_text.iter().map(|t| (t.keyword.clone(), t.text.clone()));
    let packed = info.compressed_latin1_text.iter().filter_map(|t| {
        let mut t = t.clone();
        t.decompress_text_with_limit(LONGEST).ok()?;
        Some((t.keyword.clone(), t.get_text().ok()?))
    });
    let wide = info.utf8_text.iter().filter_map(|t| {
        let mut t = t.clone();
        t.decompress_text_with_limit(LONGEST).ok()?;
        Some((t.keyword.clone(), t.get_text().ok()?))
    });
    wide.chain(plain).chain(packed).take(TEXTS).collect()
}

fn tags(info: &png::Info<'_>) -> Tags {
    let xy = |(x, y): (ScaledFloat, ScaledFloat)| Xy::new(scaled(x), scaled(y));
    Tags {
        cicp: info.coding_independent_code_points.map(|c| Cicp {
            primaries: c.color_primaries,
            transfer: c.transfer_function,
            matrix: c.matrix_coefficients,
            full_range: c.is_video_full_range_image,
        }),
        srgb: info.srgb.is_some(),
        icc: info.icc_profile.as_ref().map(|p| p.to_vec()),
        chromaticities: info.chrm_chunk.map(|c| [xy(c.red), xy(c.green), xy(c.blue), xy(c.white)]),
        gamma: info.gama_chunk.map(scaled),
    }
}

/// The number that stands in the file as a whole number of 100 000ths.
fn scaled(value: ScaledFloat) -> f64 {
    f64::from(value.into_scaled()) / 100_000.0
}

fn unwritten(error: EncodingError) -> FrameError {
    FrameError::Unsupported(format!("it cannot be written as a PNG: {error}"))
}

pub(super) fn write(frame: &Frame, depth: Depth) -> Result<Vec<u8>, FrameError> {
    let too_large = |_| FrameError::unsupported("a picture too large for a PNG");
    let width = u32::try_from(frame.width()).map_err(too_large)?;
    let height = u32::try_from(frame.height()).map_err(too_large)?;
    let tags = &frame.info.tags;
    let mut info = png::Info::with_size(width, height);
    info.color_type = if frame.alpha() { ColorType::Rgba } else { ColorType::Rgb };
    let said = exif::Written::of(frame.info.exif.as_deref(), tags);
    info.exif_metadata = said.block().map(Cow::Owned);
    info.pixel_dims = said.resolution().map(|size| {
        let [xppu, yppu] = size.map(|v| v.round() as u32);
        PixelDimensions { xppu, yppu, unit: Unit::Meter }
    });
    let mut texts: Vec<(String, String)> = frame.info.kept.as_ref().and_then(Extras::png).unwrap_or_default().to_vec();
    for (keyword, tag) in metadata::PNG {
        if let Some(text) = said.text(tag).filter(|_| texts.iter().all(|(key, _)| key != keyword)) {
            texts.push((keyword.to_owned(), text));
        }
    }
    let packet = frame.info.xmp.as_deref().and_then(xmp::clean).and_then(|p| String::from_utf8(p).ok());
    texts.extend(packet.map(|packet| (xmp::KEYWORD.to_owned(), packet)));
    for (keyword, text) in texts {
        match text.is_ascii() && keyword != xmp::KEYWORD {
            true => info.uncompressed_latin1_text.push(TEXtChunk::new(keyword, text)),
            false => info.utf8_text.push(ITXtChunk::new(keyword, text)),
        }
    }
    let data: Vec<u8> = if depth == Depth::Integer(8) {
        info.bit_depth = BitDepth::Eight;
        frame.codes(255).map(|v| v as u8).collect()
    } else {
        info.bit_depth = BitDepth::Sixteen;
        frame.codes(65535).flat_map(u16::to_be_bytes).collect()
    };
    // One tag for each kind of reader: those who know no cICP fall back on the others, which must not contradict it.
    if tags.srgb {
        info.srgb = Some(png::SrgbRenderingIntent::RelativeColorimetric);
    } else {
        info.icc_profile = tags.icc.as_deref().map(Cow::Borrowed);
        let scaled = |v: f64| ScaledFloat::from_scaled((v * 100_000.0).round() as u32);
        info.source_gamma = tags.gamma.map(scaled);
        info.source_chromaticities = tags.chromaticities.map(|xy| {
            let [red, green, blue, white] = xy.map(|c| (scaled(c.x), scaled(c.y)));
            png::SourceChromaticities { white, red, green, blue }
        });
    }
    let mut file = Vec::new();
    let mut encoder = Encoder::with_info(&mut file, info).map_err(unwritten)?;
    encoder.set_compression(png::Compression::Balanced);
    let mut writer = encoder.write_header().map_err(unwritten)?;
    if let Some(c) = tags.cicp {
        let bytes = [c.primaries, c.transfer, c.matrix, u8::from(c.full_range)];
        writer.write_chunk(chunk::cICP, &bytes).map_err(unwritten)?;
    }
    writer.write_image_data(&data).and_then(|()| writer.finish()).map_err(unwritten)?;
    Ok(file)
}
