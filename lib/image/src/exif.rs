//! EXIF (CIPA DC-008): what a file says of its making, in the blocks that PNG and JPEG hold and in the directories of TIFF.
//!
//! What a picture that went through a look no longer is, is not written again: colour space, transfer curves and the like,
//! embedded pictures, and how the other file held its samples.

use super::{Exposure, Tags};
use exif::experimental::Writer;
use exif::{Context, Exif, Field, In, Rational, Reader, Tag, Value};
use std::collections::{BTreeMap, BTreeSet};
use std::io::Cursor;

/// Bytes of values that are looked at: entries of a hostile file may all name the same place.
const MOST: usize = 64 << 20;

/// Tags of the first directory that speak of the making, not of how samples lie: DocumentName, ImageDescription, Make,
/// Model, Orientation, both resolutions, PageName, their unit, Software, DateTime, Artist, HostComputer, Copyright.
const FIRST: [u16; 14] = [269, 270, 271, 272, 274, 282, 283, 285, 296, 305, 306, 315, 316, 33432];
/// Tags of TIFF 6.0 and its supplements that say how samples lie or what their colours are, and pointers to directories.
const LAYOUT: [std::ops::RangeInclusive<u16>; 3] = [254..=403, 512..=532, 34665..=34675];
/// XMP, a directory of positions, one of interoperability: dealt with elsewhere, or a statement of colour.
const ELSEWHERE: [u16; 3] = [700, 34853, 40965];
const MAKER_NOTE: u16 = 0x927c;
/// Tags of EXIF that speak of colour or of how samples lie: OECF, ComponentsConfiguration, CompressedBitsPerPixel,
/// FlashpixVersion, ColorSpace, both dimensions, Gamma.
const UNTRUE: [u16; 8] = [0x8828, 0x9101, 0x9102, 0xa000, 0xa001, 0xa002, 0xa003, 0xa500];
const COLOUR_SPACE: Tag = Tag::ColorSpace;
/// ColorSpace of anything but sRGB.
const UNCALIBRATED: u16 = 0xffff;

/// What becomes of a field.
#[derive(PartialEq)]
enum Fate {
    Stays,
    Untrue,
    /// It may be true, but not here: what it is, in words.
    Private(&'static str),
}

fn fate(field: &Field) -> Fate {
    let number = field.tag.number();
    match field.tag.context() {
        _ if matches!(field.value, Value::Unknown(..)) => Fate::Untrue,
        Context::Tiff if FIRST.contains(&number) => Fate::Stays,
        Context::Tiff if LAYOUT.iter().any(|r| r.contains(&number)) || ELSEWHERE.contains(&number) => Fate::Untrue,
        Context::Tiff => Fate::Private("private tags"),
        Context::Exif if UNTRUE.contains(&number) => Fate::Untrue,
        // Places within a file that no longer holds.
        Context::Exif if number == MAKER_NOTE => Fate::Private("maker notes"),
        Context::Exif | Context::Gps => Fate::Stays,
        _ => Fate::Untrue,
    }
}

fn parse(tiff: &[u8]) -> Option<Exif> {
    let mut reader = Reader::new();
    reader.continue_on_error(true);
    reader.read_raw(tiff.to_vec()).or_else(|e| e.distill_partial_result(|_| ())).ok()
}

/// Bytes of a value, and its type, as TIFF has them on this machine.
fn bytes(value: &Value) -> Option<(u16, Vec<u8>)> {
    fn all<T, const N: usize>(values: &[T], bytes: impl Fn(&T) -> [u8; N]) -> Vec<u8> {
        values.iter().flat_map(bytes).collect()
    }
    let pair = |[a, b]: [[u8; 4]; 2]| -> [u8; 8] { std::array::from_fn(|i| if i < 4 { a[i] } else { b[i - 4] }) };
    Some(match value {
        Value::Byte(v) => (1, v.clone()),
        Value::Ascii(v) => (2, v.iter().flat_map(|text| text.iter().copied().chain([0])).collect()),
        Value::Short(v) => (3, all(v, |v| v.to_ne_bytes())),
        Value::Long(v) => (4, all(v, |v| v.to_ne_bytes())),
        Value::Rational(v) => (5, all(v, |v| pair([v.num, v.denom].map(u32::to_ne_bytes)))),
        Value::SByte(v) => (6, all(v, |v| v.to_ne_bytes())),
        Value::Undefined(v, _) => (7, v.clone()),
        Value::SShort(v) => (8, all(v, |v| v.to_ne_bytes())),
        Value::SLong(v) => (9, all(v, |v| v.to_ne_bytes())),
        Value::SRational(v) => (10, all(v, |v| pair([v.num, v.denom].map(i32::to_ne_bytes)))),
        Value::Float(v) => (11, all(v, |v| v.to_ne_bytes())),
        Value::Double(v) => (12, all(v, |v| v.to_ne_bytes())),
        Value::Unknown(..) => return None,
    })
}

/// The fields of the first picture, each once; those that would be untrue of another file are omitted.
fn fields(exif: &Exif) -> Vec<Field> {
    let mut found = BTreeMap::new();
    let mut total = 0;
    for field in exif.fields() {
        total += bytes(&field.value).map_or(0, |(_, b)| b.len());
        if total > MOST {
            break;
        }
        if field.ifd_num == In::PRIMARY && fate(field) != Fate::Untrue {
            found.entry(field.tag).or_insert_with(|| field.clone());
        }
    }
    // A resolution without a unit is a shape of pixels at most.
    if found.get(&Tag::ResolutionUnit).is_some_and(|unit| unit.value.get_uint(0) == Some(1)) {
        for tag in [Tag::XResolution, Tag::YResolution, Tag::ResolutionUnit] {
            found.remove(&tag);
        }
    }
    found.into_values().collect()
}

fn encoded(fields: &[Field]) -> Option<Vec<u8>> {
    let mut writer = Writer::new();
    fields.iter().for_each(|field| writer.push_field(field));
    let mut block = Cursor::new(Vec::new());
    writer.write(&mut block, false).ok()?;
    Some(block.into_inner())
}

/// What a block of EXIF, or a whole TIFF file, says of the exposure; nothing where it is broken: a picture can be read
/// without.
pub(super) fn exposure(tiff: &[u8]) -> Exposure {
    parse(tiff).map(|exif| exposed(&exif)).unwrap_or_default()
}

fn exposed(exif: &Exif) -> Exposure {
    Exposure {
        time: positive(exif, Tag::ExposureTime),
        f_number: positive(exif, Tag::FNumber),
        iso: positive(exif, Tag::PhotographicSensitivity),
    }
}

fn positive(exif: &Exif, tag: Tag) -> Option<f64> {
    let value = match &exif.get_field(tag, In::PRIMARY)?.value {
        Value::Rational(list) => list.first()?.to_f64(),
        other => f64::from(other.get_uint(0)?),
    };
    (value.is_finite() && value > 0.0).then_some(value)
}

/// What a TIFF file says, as a block, and the exposure.
pub(super) fn of_tiff(file: &[u8]) -> (Option<Vec<u8>>, Exposure) {
    let Some(exif) = parse(file) else { return Default::default() };
    let fields = fields(&exif);
    (encoded(&fields).filter(|_| !fields.is_empty()), exposed(&exif))
}

/// A block with fields added that it does not have itself.
pub(super) fn with(block: Option<Vec<u8>>, more: Vec<(Tag, Value)>) -> Option<Vec<u8>> {
    let mut all = block.as_deref().and_then(parse).map(|exif| fields(&exif)).unwrap_or_default();
    let there: BTreeSet<Tag> = all.iter().map(|f| f.tag).collect();
    let new = more.into_iter().filter(|(tag, _)| !there.contains(tag));
    all.extend(new.map(|(tag, value)| Field { tag, ifd_num: In::PRIMARY, value }));
    if all.len() == there.len() { block } else { encoded(&all) }
}

/// A block with one tag replaced.
pub(super) fn instead(block: Option<&[u8]>, new: Option<(Tag, Value)>) -> Option<Vec<u8>> {
    let mut all = block.and_then(parse).map(|exif| fields(&exif)).unwrap_or_default();
    let Some((tag, value)) = new else { return block.map(<[u8]>::to_vec) };
    all.retain(|field| field.tag != tag);
    all.push(Field { tag, ifd_num: In::PRIMARY, value });
    encoded(&all)
}

/// Text as a value; nothing where it says nothing.
pub(super) fn said(tag: Tag, text: &str) -> Option<(Tag, Value)> {
    let text = text.trim_matches(|c: char| c == '\0' || c.is_whitespace()).replace('\0', " ");
    (!text.is_empty()).then(|| (tag, Value::Ascii(vec![text.into_bytes()])))
}

/// A positive number as a value: one over a whole number where it is that.
pub(super) fn number(tag: Tag, value: f64) -> (Tag, Value) {
    let part = (1.0 / value).round();
    let whole = |over: f64, under: f64| Rational { num: over as u32, denom: under as u32 };
    let rational = match value {
        v if v < 1.0 && (v * part - 1.0).abs() < 1e-5 && part < 1e9 => whole(1.0, part),
        v if v < 4000.0 => whole((v * 1e6).round(), 1e6),
        v => whole(v.round(), 1.0),
    };
    (tag, Value::Rational(vec![rational]))
}

/// Pixels a metre, across and down, as a file of another format says.
pub(super) fn resolution(per_metre: [f64; 2]) -> Vec<(Tag, Value)> {
    if !per_metre.iter().all(|v| (1.0..4e8).contains(v)) {
        return Vec::new();
    }
    // To a hundredth of a pixel an inch, which is what people set.
    let per_inch = |v: f64| Value::Rational(vec![Rational { num: (v * 2.54).round() as u32, denom: 100 }]);
    let [x, y] = per_metre.map(per_inch);
    vec![(Tag::XResolution, x), (Tag::YResolution, y), (Tag::ResolutionUnit, Value::Short(vec![2]))]
}

/// What is written of a block.
pub(super) struct Written(Vec<Field>);

impl Written {
    /// What stays true of a picture with these tags.
    pub(super) fn of(block: Option<&[u8]>, tags: &Tags) -> Self {
        let mut fields = block.and_then(parse).map(|exif| fields(&exif)).unwrap_or_default();
        fields.retain(|field| fate(field) == Fate::Stays);
        if fields.iter().any(|f| f.tag.context() == Context::Exif) {
            let space = if tags.srgb { 1 } else { UNCALIBRATED };
            fields.push(Field { tag: COLOUR_SPACE, ifd_num: In::PRIMARY, value: Value::Short(vec![space]) });
        }
        Self(fields)
    }

    pub(super) fn block(&self) -> Option<Vec<u8>> {
        encoded(&self.0).filter(|_| !self.0.is_empty())
    }

    /// Number, type and bytes of the entries of TIFF's first directory, of its EXIF and of its positions.
    pub(super) fn directories(&self) -> [Vec<(u16, u16, Vec<u8>)>; 3] {
        [Context::Tiff, Context::Exif, Context::Gps].map(|context| {
            let of = self.0.iter().filter(|f| f.tag.context() == context);
            let made = of.filter_map(|f| bytes(&f.value).map(|(kind, bytes)| (f.tag.number(), kind, bytes)));
            made.filter(|(_, _, bytes)| !bytes.is_empty()).collect()
        })
    }

    /// The text of a tag.
    pub(super) fn text(&self, tag: Tag) -> Option<String> {
        let Value::Ascii(parts) = &self.0.iter().find(|f| f.tag == tag)?.value else { return None };
        let text = parts.iter().map(|part| String::from_utf8_lossy(part)).collect::<Vec<_>>().join(" ");
        Some(text.trim().to_owned()).filter(|t| !t.is_empty())
    }

    /// Pixels a metre, across and down.
    pub(super) fn resolution(&self) -> Option<[f64; 2]> {
        let value = |tag: Tag| self.0.iter().find(|f| f.tag == tag).map(|f| &f.value);
        let unit = match value(Tag::ResolutionUnit).and_then(|v| v.get_uint(0)) {
            Some(3) => 100.0,
            // The unit is inches where none is stated.
            Some(2) | None => 100.0 / 2.54,
            _ => return None,
        };
        let [x, y] = [Tag::XResolution, Tag::YResolution].map(|tag| match value(tag) {
            Some(Value::Rational(v)) => v.first().map(|v| v.to_f64() * unit).filter(|v| (1.0..4e8).contains(v)),
            _ => None,
        });
        Some([x?, y?])
    }

    /// Whether there is any tag besides these and those that describe colour.
    pub(super) fn beside(&self, tags: &[Tag]) -> bool {
        self.0.iter().any(|f| f.tag != COLOUR_SPACE && f.tag != Tag::ExifVersion && !tags.contains(&f.tag))
    }
}

/// What a block holds that no file takes over, in words.
pub(super) fn private(block: Option<&[u8]>) -> BTreeSet<&'static str> {
    let fields = block.and_then(parse).map(|exif| fields(&exif)).unwrap_or_default();
    let words = |field: &Field| match fate(field) {
        Fate::Private(words) => Some(words),
        _ => None,
    };
    fields.iter().filter_map(words).collect()
}
