//! What files say of the making of a picture, and what of it another format has no place for.

use super::exif::{Written, number, private};
use super::{Exposure, Format, Info, dpx, jpeg, xmp};
use exif::{Tag, Value};
use std::collections::BTreeSet;

pub(super) const DESCRIPTION: Tag = Tag::ImageDescription;
pub(super) const ARTIST: Tag = Tag::Artist;
pub(super) const COPYRIGHT: Tag = Tag::Copyright;
/// When the file was made.
pub(super) const DATE: Tag = Tag::DateTime;
/// When the picture was taken.
pub(super) const TAKEN: Tag = Tag::DateTimeOriginal;

/// Keywords of PNG's texts (W3C, third edition, 11.3.3.2) and the tags that say the same.
pub(super) const PNG: [(&str, Tag); 3] = [("Description", DESCRIPTION), ("Author", ARTIST), ("Copyright", COPYRIGHT)];

/// An exposure as tags.
pub(super) fn exposed(exposure: Exposure) -> Vec<(Tag, Value)> {
    let mut all = Vec::new();
    all.extend(exposure.time.map(|v| number(Tag::ExposureTime, v)));
    all.extend(exposure.f_number.map(|v| number(Tag::FNumber, v)));
    let iso = exposure.iso.filter(|v| *v < 65535.0);
    all.extend(iso.map(|v| (Tag::PhotographicSensitivity, Value::Short(vec![v.round() as u16]))));
    all
}

/// The description of a picture: EXIF's, PNG's or OpenEXR's.
pub fn description(info: &Info) -> Option<String> {
    Written::of(info.exif.as_deref(), &info.tags).text(DESCRIPTION)
}

/// Puts a text in front of the description of a picture; what `replaced` says of the old one goes.
pub fn describe(info: &mut Info, text: &str, replaced: impl Fn(&str) -> bool) {
    let whole = match description(info).filter(|old| !replaced(old)) {
        Some(old) => format!("{text}\n\n{old}"),
        None => text.to_owned(),
    };
    info.exif = super::exif::instead(info.exif.as_deref(), super::exif::said(DESCRIPTION, &whole));
}

/// What [`write`](super::write) omits of a file's metadata, since the other format has no place for
/// it, in words; colours, profiles and pictures within, which would be untrue of what is written, are not among it.
pub fn unsupported_by(info: &Info, to: Format) -> BTreeSet<&'static str> {
    let mut lost = private(info.exif.as_deref());
    lost.extend(extended(info));
    let said = Written::of(info.exif.as_deref(), &info.tags);
    let exposed = [Tag::ExposureTime, Tag::FNumber, Tag::PhotographicSensitivity];
    let texts = [DESCRIPTION, COPYRIGHT, TAKEN];
    let same_kept = info.format == to && info.kept.is_some();
    match to {
        Format::Exr if !same_kept && said.beside(&[&texts[..], &exposed].concat()) => {
            lost.insert("EXIF but for description, copyright, date and exposure");
        }
        Format::Dpx if !same_kept && said.beside(&[DATE, ARTIST, COPYRIGHT]) => {
            lost.insert("EXIF but for creator, copyright and date");
        }
        Format::Jpeg if said.block().is_some_and(|b| b.len() > jpeg::SEGMENT - jpeg::EXIF_HEAD) => {
            lost.insert("EXIF of more than 64 KiB");
        }
        _ => {}
    }
    if let Some(packet) = &info.xmp {
        match (to, xmp::clean(packet)) {
            (Format::Exr | Format::Dpx, _) => lost.insert("XMP"),
            (_, None) => lost.insert("XMP that is broken"),
            (Format::Jpeg, Some(clean)) if clean.len() > jpeg::SEGMENT - xmp::HEAD.len() => {
                lost.insert("XMP of more than 64 KiB")
            }
            _ => false,
        };
    }
    if info.format != to {
        lost.extend(own(info));
    }
    lost
}

/// All that a file says beside its picture and its colours, in words: what goes where nothing of it has a place.
pub fn summary(info: &Info) -> BTreeSet<&'static str> {
    let mut said = private(info.exif.as_deref());
    if Written::of(info.exif.as_deref(), &info.tags).beside(&[]) {
        said.insert("EXIF");
    }
    if info.xmp.is_some() {
        said.insert("XMP");
    }
    said.extend(own(info));
    said
}

/// XMP that did not fit one segment of a JPEG file: only the first is read.
fn extended(info: &Info) -> Option<&'static str> {
    const MARK: &[u8] = b"HasExtendedXMP";
    let packet = info.xmp.as_deref().filter(|_| info.format == Format::Jpeg)?;
    packet.windows(MARK.len()).any(|w| w == MARK).then_some("XMP beyond its first segment")
}

/// What only the file's own format has a place for.
fn own(info: &Info) -> BTreeSet<&'static str> {
    let mut own = BTreeSet::new();
    let Some(kept) = &info.kept else { return own };
    if kept.exr().is_some_and(super::exr::Rest::says_more) {
        own.insert("other channels, layers and attributes of EXR");
    }
    if kept.dpx().is_some_and(dpx::says_more) {
        own.insert("the header of DPX but for creator, copyright and date");
    }
    if kept.png().is_some_and(|texts| texts.iter().any(|(key, _)| PNG.iter().all(|(known, _)| key != known))) {
        own.insert("texts of PNG but for description, author and copyright");
    }
    own
}
