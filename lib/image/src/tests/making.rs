//! What files say of the making of a picture, from format to format.

use super::*;
use crate::exif as ours;
use ::exif::{Context, In, Rational, Reader, SRational, Tag, Value};
use std::collections::BTreeMap;

const PACKET: &str = concat!(
    "<x:xmpmeta xmlns:x='adobe:ns:meta/'><r:RDF xmlns:r='http://www.w3.org/1999/02/22-rdf-syntax-ns#'>",
    "<r:Description r:about='' xmlns:d='http://purl.org/dc/elements/1.1/' d:source='Saltmarsh'/></r:RDF></x:xmpmeta>"
);
const LENS: Tag = Tag::LensModel;
const LATITUDE: Tag = Tag::GPSLatitude;
const MAKER_NOTE: Tag = Tag::MakerNote;
const ODD: Tag = Tag(Context::Tiff, 50_000);

fn text(text: &str) -> Value {
    Value::Ascii(vec![text.as_bytes().to_vec()])
}

fn ratio(num: u32, denom: u32) -> Value {
    Value::Rational(vec![Rational { num, denom }])
}

/// Every type of value, in every directory; and what must not come along.
fn said() -> Vec<(Tag, Value)> {
    vec![
        (metadata::DESCRIPTION, text("Slate 12, take 3 — été")),
        (metadata::ARTIST, text("A. Heron")),
        (metadata::COPYRIGHT, text("Heron & Sons")),
        (metadata::DATE, text("2026:11:26 14:03:09")),
        (Tag::Make, text("Invented")),
        (Tag::Orientation, Value::Short(vec![6])),
        (Tag::XResolution, ratio(300, 1)),
        (Tag::YResolution, ratio(300, 1)),
        (Tag::ResolutionUnit, Value::Short(vec![2])),
        (Tag::ExposureTime, ratio(1, 48)),
        (Tag::FNumber, ratio(28, 10)),
        (Tag::PhotographicSensitivity, Value::Short(vec![800])),
        (metadata::TAKEN, text("2026:11:25 05:59:00")),
        (Tag::ExposureBiasValue, Value::SRational(vec![SRational { num: -1, denom: 3 }])),
        (Tag::ExifVersion, Value::Undefined(b"0232".to_vec(), 0)),
        (LENS, text("40 mm")),
        (LATITUDE, Value::Rational(vec![Rational { num: 52, denom: 1 }; 3])),
        (Tag::GPSAltitudeRef, Value::Byte(vec![1])),
        (MAKER_NOTE, Value::Undefined(vec![7; 40], 0)),
        (Tag::ColorSpace, Value::Short(vec![1])),
        (Tag::PixelXDimension, Value::Long(vec![9000])),
        (Tag::WhitePoint, ratio(1, 3)),
        (ODD, text("private")),
    ]
}

/// What a block says, in words.
fn words(block: &[u8]) -> BTreeMap<Tag, String> {
    let exif = Reader::new().read_raw(block.to_vec()).unwrap();
    let said = |value: &Value| match value {
        // Without its place in the block.
        Value::Undefined(bytes, _) => format!("{bytes:?}"),
        other => format!("{other:?}"),
    };
    exif.fields().filter(|f| f.ifd_num == In::PRIMARY).map(|f| (f.tag, said(&f.value))).collect()
}

fn with_all(depth: Depth) -> Frame {
    let mut frame = frame(false, depth);
    frame.info.exif = ours::with(None, said());
    frame.info.xmp = Some(PACKET.as_bytes().to_vec());
    frame
}

#[test]
fn what_a_file_says_of_its_making_goes_from_format_to_format() {
    let eight = Depth::Integer(8);
    let first = with_all(eight);
    let all = words(first.info.exif.as_deref().unwrap());
    for chain in [[Format::Tiff, Format::Png, Format::Jpeg], [Format::Jpeg, Format::Tiff, Format::Png]] {
        let mut frame = first.clone();
        for format in chain {
            let file = write(&frame, format, eight).unwrap();
            frame = back(&file);
            let found = words(frame.info.exif.as_deref().unwrap());
            for (tag, value) in &all {
                match *tag {
                    MAKER_NOTE | Tag::PixelXDimension | Tag::WhitePoint | ODD => {
                        assert!(!found.contains_key(tag), "{format:?}: {tag:?}");
                    }
                    // It is no sRGB any more, or not by what is known.
                    Tag::ColorSpace if format == Format::Tiff => assert!(!found.contains_key(tag)),
                    Tag::ColorSpace => assert_eq!(found[tag], "Short([65535])"),
                    tag => assert_eq!(&found[&tag], value, "{format:?}: {tag:?}"),
                }
            }
            assert_eq!(frame.info.xmp.as_deref(), Some(PACKET.as_bytes()), "{format:?}");
            assert_eq!(frame.info.exposure.iso, Some(800.0));
            // A file as it was before, without what speaks of others.
            assert!(
                unsupported_by(&frame.info, Format::Tiff).is_empty(),
                "{:?}",
                unsupported_by(&frame.info, Format::Tiff)
            );
        }
    }
    let mut srgb = first;
    srgb.info.tags.srgb = true;
    let png = back(&write(&srgb, Format::Png, eight).unwrap());
    assert_eq!(words(png.info.exif.as_deref().unwrap())[&Tag::ColorSpace], "Short([1])");
}

#[test]
fn exr_and_dpx_keep_what_they_have_a_place_for() {
    let frame = with_all(Depth::Integer(16));
    for (format, depth, kept) in [
        (Format::Exr, Depth::Half, vec![metadata::DESCRIPTION, metadata::COPYRIGHT, metadata::TAKEN]),
        (Format::Dpx, Depth::Integer(10), vec![metadata::ARTIST, metadata::COPYRIGHT, metadata::DATE]),
    ] {
        let mut frame = frame.clone();
        frame.info.exposure = Exposure { time: Some(1.0 / 48.0), f_number: Some(2.8), iso: Some(800.0) };
        let file = write(&frame, format, depth).unwrap();
        let back = back(&file);
        let (all, found) = (words(frame.info.exif.as_deref().unwrap()), words(back.info.exif.as_deref().unwrap()));
        for tag in kept {
            assert_eq!(found[&tag], all[&tag], "{format:?}");
        }
        if format == Format::Exr {
            assert_eq!(found[&Tag::ExposureTime], all[&Tag::ExposureTime]);
            assert_eq!(found[&Tag::PhotographicSensitivity], "Short([800])");
        }
        // And on, to one that holds it as EXIF.
        let again = self::back(&write(&back, Format::Tiff, Depth::Integer(16)).unwrap());
        assert_eq!(words(again.info.exif.as_deref().unwrap())[&metadata::COPYRIGHT], all[&metadata::COPYRIGHT]);
    }
}

#[test]
fn what_has_no_place_is_said() {
    let frame = with_all(Depth::Integer(8));
    let private = ["maker notes", "private tags"];
    for format in [Format::Tiff, Format::Png, Format::Jpeg] {
        assert!(unsupported_by(&frame.info, format).into_iter().eq(private), "{format:?}");
    }
    let lost_in = |info: &Info, format| unsupported_by(info, format).into_iter().collect::<Vec<_>>().join("; ");
    let exr = lost_in(&frame.info, Format::Exr);
    assert_eq!(exr, "EXIF but for description, copyright, date and exposure; XMP; maker notes; private tags");
    assert!(lost_in(&frame.info, Format::Dpx).starts_with("EXIF but for creator, copyright and date; XMP"));
    // More than a segment of JPEG holds.
    let mut large = frame.clone();
    large.info.exif = ours::with(None, vec![(metadata::DESCRIPTION, text(&"long ".repeat(15_000)))]);
    large.info.xmp = Some(PACKET.replace("Saltmarsh", &"marsh ".repeat(12_000)).into_bytes());
    assert_eq!(lost_in(&large.info, Format::Jpeg), "EXIF of more than 64 KiB; XMP of more than 64 KiB");
    let jpeg = back(&write(&large, Format::Jpeg, Depth::Integer(8)).unwrap());
    assert!(jpeg.info.xmp.is_none());
    large.info.xmp = Some(b"<broken".to_vec());
    assert_eq!(lost_in(&large.info, Format::Png), "XMP that is broken");
    assert!(unsupported_by(&self::frame(false, Depth::Half).info, Format::Dpx).is_empty());
    // Read from a JPEG file whose packet goes on in other segments.
    large.info.xmp = Some(PACKET.replace("'Saltmarsh'", "'Saltmarsh' n:HasExtendedXMP='0'").into_bytes());
    assert!(!lost_in(&large.info, Format::Png).contains("first segment"));
    large.info.format = Format::Jpeg;
    assert!(lost_in(&large.info, Format::Png).contains("XMP beyond its first segment"));
}

#[test]
fn all_that_is_said_is_named() {
    assert_eq!(
        metadata::summary(&with_all(Depth::Integer(8)).info).into_iter().collect::<Vec<_>>().join("; "),
        "EXIF; XMP; maker notes; private tags"
    );
    assert!(metadata::summary(&frame(false, Depth::Half).info).is_empty());
}

#[test]
fn texts_of_png_stay_in_png_and_say_what_exif_says() {
    let mut first = frame(false, Depth::Integer(8));
    let texts = [("Copyright", "Heron & Sons"), ("Comment", "été"), ("Raw profile type icc", "00ff")];
    let texts = texts.map(|(key, text)| (key.to_owned(), text.to_owned())).to_vec();
    first.info.kept = Some(Extras::new(extras::Contents::Png(texts.clone())));
    first.info.format = Format::Png;
    let png = back(&write(&first, Format::Png, Depth::Integer(8)).unwrap());
    let kept = |frame: &Frame| -> BTreeMap<String, String> {
        frame.info.kept.as_ref().and_then(Extras::png).unwrap_or_default().iter().cloned().collect()
    };
    assert_eq!(kept(&png), texts[..2].iter().cloned().collect());
    assert!(unsupported_by(&png.info, Format::Tiff).contains("texts of PNG but for description, author and copyright"));
    let tiff = back(&write(&png, Format::Tiff, Depth::Integer(8)).unwrap());
    assert_eq!(words(tiff.info.exif.as_deref().unwrap())[&metadata::COPYRIGHT], format!("{:?}", text("Heron & Sons")));
    // Back again: as a text and as EXIF.
    let png = back(&write(&tiff, Format::Png, Depth::Integer(8)).unwrap());
    assert_eq!(kept(&png).into_keys().collect::<Vec<_>>(), ["Copyright"]);
}

#[test]
fn what_is_broken_is_left_out_and_never_a_panic() {
    let whole = ours::with(None, said()).unwrap();
    for at in 0..whole.len() {
        let mut broken = whole.clone();
        broken[at] ^= 0xff;
        let mut frame = frame(false, Depth::Integer(8));
        frame.info.exif = Some(if at % 2 == 0 { broken } else { whole[..at].to_vec() });
        for format in [Format::Tiff, Format::Png, Format::Jpeg] {
            let _ = unsupported_by(&frame.info, format);
            back(&write(&frame, format, Depth::Integer(8)).unwrap());
        }
    }
}
