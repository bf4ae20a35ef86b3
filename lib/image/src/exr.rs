//! OpenEXR: half, float and 32-bit integer channels, scan lines and tiles, several layers, any names of channels.
//!
//! Red, green and blue are the channels called R, G and B, or X.R, X.G and X.B of a layer X, of either case; a channel Y
//! alone is grey. The picture is the data window. All else in the file is kept beside it: other channels and layers,
//! windows, attributes.

use super::extras::{Contents, Extras};
use super::{Depth, Exposure, Format, Frame, FrameError, Info, ReadOptions, Tags, exif, metadata};
use exr::error::Error;
use exr::image::{AnyChannel, AnyChannels, FlatSamples, Layers};
use exr::meta::MetaData;
use exr::meta::attribute::{AttributeValue, Chromaticities};
use exr::prelude::{
    Compression, Encoding, Image, Layer, LayerAttributes, ReadChannels as _, ReadLayers as _, Text, Vec2,
    WritableImage as _, f16,
};
use rushlight_colour::chromaticity::Xy;
use std::collections::BTreeMap;
use std::io::Cursor;

fn refused(error: Error) -> FrameError {
    match error {
        Error::NotSupported(what) => FrameError::Unsupported(format!("an EXR of a kind not read here: {what}")),
        Error::Invalid(what) => FrameError::Malformed(format!("the EXR is broken or cut short: {what}")),
        Error::Io(_) | Error::Aborted => FrameError::malformed("the EXR is cut short"),
    }
}

/// A file without its picture.
#[derive(PartialEq)]
pub(super) struct Rest {
    image: Image<Layers<AnyChannels<FlatSamples>>>,
    /// The part that the picture stood in.
    part: usize,
    /// The names of red, green, blue and alpha.
    names: [String; 4],
}

impl Rest {
    /// Whether it holds more than a picture needs.
    pub(super) fn says_more(&self) -> bool {
        let [part] = &self.image.layer_data[..] else { return true };
        let attributes = self.image.attributes.other.len() + part.attributes.other.len();
        !part.channel_data.list.is_empty() || attributes > 0
    }
}

/// The channels of one layer: its name, which is empty for what has none, and where the channel of each name is, by the
/// number of its part and its own.
type Named = Vec<(String, BTreeMap<String, (usize, usize)>)>;

/// Channels by layer, in the order of the file; the names of channels in capitals.
fn by_layer(parts: &[(Option<String>, Vec<String>)]) -> Named {
    let mut layers: Named = Vec::new();
    for (p, (part, channels)) in parts.iter().enumerate() {
        for (c, full) in channels.iter().enumerate() {
            let (prefix, channel) = full.rsplit_once('.').unwrap_or(("", full));
            let part = part.as_deref().unwrap_or("");
            let name = match (part, prefix) {
                (part, "") => part.to_owned(),
                ("", prefix) => prefix.to_owned(),
                // A part is often named after the layer that is alone in it.
                (part, prefix) if part == prefix => part.to_owned(),
                (part, prefix) => format!("{part}.{prefix}"),
            };
            let at = layers.iter().position(|l| l.0 == name).unwrap_or_else(|| {
                layers.push((name, BTreeMap::new()));
                layers.len() - 1
            });
            layers[at].1.entry(channel.to_ascii_uppercase()).or_insert((p, c));
        }
    }
    layers
}

/// Places of red, green, blue and alpha, or of grey and alpha.
fn picture(channels: &BTreeMap<String, (usize, usize)>) -> Option<Vec<(usize, usize)>> {
    let at = |name: &str| channels.get(name).copied();
    let mut places = match (at("R"), at("G"), at("B")) {
        (Some(r), Some(g), Some(b)) => vec![r, g, b],
        // Luminance beside chroma is another thing than grey.
        _ if at("RY").is_some() || at("BY").is_some() => return None,
        _ => vec![at("Y")?],
    };
    places.extend(at("A").filter(|a| a.0 == places[0].0));
    places.iter().all(|p| p.0 == places[0].0).then_some(places)
}

pub(super) fn read(file: &[u8], options: &ReadOptions) -> Result<Frame, FrameError> {
    let meta = MetaData::read_from_buffered(Cursor::new(file), false).map_err(refused)?;
    let mut total = 0u64;
    for header in &meta.headers {
        if header.deep {
            return Err(FrameError::unsupported("an EXR of deep data: only flat pictures are read"));
        }
        let (size, count) = (header.layer_size, header.channels.list.len() as u64);
        options.limits.check(size.width() as u64, size.height() as u64, count.max(1), file.len())?;
        total = total.saturating_add((size.area() as u64).saturating_mul(count));
        if header.channels.list.iter().any(|c| c.sampling != Vec2(1, 1)) {
            return Err(FrameError::unsupported("an EXR with channels of fewer pixels than others"));
        }
    }
    options.limits.check(total, 1, 1, file.len())?;
    let parts: Vec<(Option<String>, Vec<String>)> = meta
        .headers
        .iter()
        .map(|h| {
            let part = h.own_attributes.layer_name.as_ref().map(Text::to_string);
            (part, h.channels.list.iter().map(|c| c.name.to_string()).collect())
        })
        .collect();
    let layers = by_layer(&parts);
    let names = || {
        let names: Vec<String> = layers.iter().filter(|l| !l.0.is_empty()).map(|l| format!("`{}`", l.0)).collect();
        if names.is_empty() { "it names no layers".to_owned() } else { format!("its layers are {}", names.join(", ")) }
    };
    let chosen = match &options.layer {
        Some(wanted) => {
            let layer = layers
                .iter()
                .find(|l| l.0 == *wanted)
                .ok_or_else(|| FrameError::Unsupported(format!("the EXR has no layer `{wanted}`: {}", names())))?;
            picture(&layer.1).map(|places| (&layer.0, places))
        }
        None => layers.iter().find_map(|l| picture(&l.1).map(|places| (&l.0, places))),
    };
    let Some((name, places)) = chosen else {
        let all: Vec<&str> = parts.iter().flat_map(|p| &p.1).map(String::as_str).collect();
        let why = format!("the EXR has no channels R, G and B: its channels are {}", all.join(", "));
        return Err(FrameError::Unsupported(why));
    };
    let mut image = exr::prelude::read()
        .no_deep_data()
        .largest_resolution_level()
        .all_channels()
        .all_layers()
        .all_attributes()
        .from_buffered(Cursor::new(file))
        .map_err(refused)?;
    let number = places[0].0;
    let part = &image.layer_data[number];
    let channels: Vec<&AnyChannel<FlatSamples>> = places.iter().map(|p| &part.channel_data.list[p.1]).collect();
    let depth = match &channels[0].sample_data {
        FlatSamples::F16(_) => Depth::Half,
        FlatSamples::F32(_) => Depth::Float,
        FlatSamples::U32(_) => Depth::Integer(32),
    };
    let planes: Vec<Vec<f32>> = channels.iter().map(|c| c.sample_data.values_as_f32().collect()).collect();
    let planes: Vec<&[f32]> = planes.iter().map(Vec::as_slice).collect();
    let mut info = Info::new(Format::Exr, depth);
    info.grey = planes.len() < 3;
    info.layer = Some(name.clone()).filter(|n| !n.is_empty());
    let xy = |v: Vec2<f32>| Xy::new(f64::from(v.x()), f64::from(v.y()));
    info.tags.chromaticities = image.attributes.chromaticities.map(|c| [c.red, c.green, c.blue, c.white].map(xy));
    let positive = |v: Option<f32>| v.filter(|v| v.is_finite() && *v > 0.0).map(f64::from);
    let said = &part.attributes;
    info.exposure =
        Exposure { time: positive(said.exposure), f_number: positive(said.aperture), iso: positive(said.iso_speed) };
    let text = |tag, value: &Option<Text>| {
        value.as_ref().and_then(|text| exif::said(tag, &String::from_utf8_lossy(text.as_slice())))
    };
    let mut more = metadata::exposed(info.exposure);
    more.extend(text(metadata::DESCRIPTION, &said.comments));
    more.extend(text(metadata::COPYRIGHT, &said.owner));
    more.extend(text(metadata::TAKEN, &said.capture_date));
    info.exif = exif::with(None, more);
    let (width, height) = (part.size.width(), part.size.height());
    let mut frame = Frame::from_planes(width, height, &planes, info)?;
    let names = names_of(part.channel_data.list.as_slice(), &places);
    let mut at = 0;
    image.layer_data[number].channel_data.list.retain(|_| {
        at += 1;
        places.iter().all(|p| p.1 + 1 != at)
    });
    frame.info.kept = Some(Extras::new(Contents::Exr(Box::new(Rest { image, part: number, names }))));
    Ok(frame)
}

/// What red, green, blue and alpha are called: as in the file, and after their layer where it has them not.
fn names_of(channels: &[AnyChannel<FlatSamples>], places: &[(usize, usize)]) -> [String; 4] {
    let name = |i: usize| channels[places[i].1].name.to_string();
    let layer = name(0).rsplit_once('.').map(|(layer, _)| format!("{layer}.")).unwrap_or_default();
    std::array::from_fn(|c| match (places.len(), c) {
        (3 | 4, c) if c < places.len() => name(c),
        (2, 3) => name(1),
        _ => format!("{layer}{}", ["R", "G", "B", "A"][c]),
    })
}

/// An ACES frame: scene light of AP0 (SMPTE ST 2065-1), half floats in the container of SMPTE ST 2065-4 (both from memory):
/// `acesImageContainerFlag` 1, the chromaticities of AP0, its white as `adoptedNeutral`, no compression, lines from the top,
/// no channels but red, green and blue, with alpha where there is one. The samples are written as they stand.
///
/// # Errors
/// What the `exr` library does not write, such as a picture that is too large.
pub fn write_aces(frame: &Frame) -> Result<Vec<u8>, FrameError> {
    let ap0 = rushlight_colour::gamut::named_gamut("aces-ap0").expect("a gamut of the catalogue").gamut;
    let mut frame = Frame::new(
        frame.width(),
        frame.height(),
        frame.alpha(),
        frame.samples().to_vec(),
        Info { kept: None, ..frame.info.clone() },
    )?;
    let [red, green, blue] = ap0.primaries;
    frame.info.tags = Tags { chromaticities: Some([red, green, blue, ap0.white]), ..Tags::default() };
    let mut image = image(&frame, Depth::Half);
    let layer = &mut image.layer_data;
    layer.encoding = Encoding::UNCOMPRESSED;
    layer.attributes.adopted_neutral = Some(Vec2(ap0.white.x as f32, ap0.white.y as f32));
    image.attributes.other.insert("acesImageContainerFlag".into(), AttributeValue::I32(1));
    let mut file = Cursor::new(Vec::new());
    let unwritten = |e| FrameError::Unsupported(format!("it cannot be written as an EXR: {e}"));
    image.write().to_buffered(&mut file).map_err(unwritten)?;
    Ok(file.into_inner())
}

/// Channels of a frame by their names.
fn channels(frame: &Frame, depth: Depth, names: [&str; 4]) -> Vec<AnyChannel<FlatSamples>> {
    // The nearest half; what is beyond the largest becomes the largest, for no picture gains by an infinity.
    let most = f16::MAX.to_f32();
    let half = |v: f32| f16::from_f32(if v.is_finite() { v.clamp(-most, most) } else { v });
    let plane = |c: usize| frame.samples().iter().skip(c).step_by(frame.channels());
    let samples = |c: usize| match depth {
        Depth::Half => FlatSamples::F16(plane(c).map(|v| half(*v)).collect()),
        _ => FlatSamples::F32(plane(c).copied().collect()),
    };
    let named = names.into_iter().take(frame.channels()).enumerate();
    named.map(|(c, name)| AnyChannel::new(name, samples(c))).collect()
}

fn chromaticities(frame: &Frame) -> Option<Chromaticities> {
    frame.info.tags.chromaticities.map(|xy| {
        let [red, green, blue, white] = xy.map(|c| Vec2(c.x as f32, c.y as f32));
        Chromaticities { red, green, blue, white }
    })
}

/// A file of one layer, with its slate.
fn image(frame: &Frame, depth: Depth) -> Image<Layer<AnyChannels<FlatSamples>>> {
    let Exposure { time, f_number, iso } = frame.info.exposure;
    let about = exif::Written::of(frame.info.exif.as_deref(), &frame.info.tags);
    let text = |tag| about.text(tag).map(|text| Text::from_slice_unchecked(text.as_bytes()));
    let attributes = LayerAttributes {
        comments: text(metadata::DESCRIPTION),
        owner: text(metadata::COPYRIGHT),
        capture_date: text(metadata::TAKEN).or_else(|| text(metadata::DATE)),
        exposure: time.map(|v| v as f32),
        aperture: f_number.map(|v| v as f32),
        iso_speed: iso.map(|v| v as f32),
        ..LayerAttributes::default()
    };
    let encoding = Encoding { compression: Compression::ZIP16, ..Encoding::SMALL_LOSSLESS };
    let list = channels(frame, depth, ["R", "G", "B", "A"]).into();
    let size = Vec2(frame.width(), frame.height());
    let mut image = Image::from_layer(Layer::new(size, attributes, encoding, AnyChannels::sort(list)));
    image.attributes.chromaticities = chromaticities(frame);
    image
}

pub(super) fn write(frame: &Frame, depth: Depth) -> Result<Vec<u8>, FrameError> {
    let size = Vec2(frame.width(), frame.height());
    let mut file = Cursor::new(Vec::new());
    let unwritten = |e| FrameError::Unsupported(format!("it cannot be written as an EXR: {e}"));
    let rest = frame.info.kept.as_ref().and_then(Extras::exr);
    // A picture of another size, such as a part of it, does not go with the rest of the file.
    if let Some(rest) = rest.filter(|r| r.image.layer_data[r.part].size == size) {
        let mut image = rest.image.clone();
        let mut list = std::mem::take(&mut image.layer_data[rest.part].channel_data.list);
        list.extend(channels(frame, depth, rest.names.each_ref().map(String::as_str)));
        image.layer_data[rest.part].channel_data = AnyChannels::sort(list);
        image.attributes.chromaticities = chromaticities(frame);
        let said = exif::Written::of(frame.info.exif.as_deref(), &frame.info.tags).text(metadata::DESCRIPTION);
        if let Some(text) = said {
            image.layer_data[rest.part].attributes.comments = Some(Text::from_slice_unchecked(text.as_bytes()));
        }
        image.write().to_buffered(&mut file).map_err(unwritten)?;
        return Ok(file.into_inner());
    }
    image(frame, depth).write().to_buffered(&mut file).map_err(unwritten)?;
    Ok(file.into_inner())
}
