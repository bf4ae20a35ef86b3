//! XMP (ISO 16684-1): a packet as it is, less what would be untrue of another picture.

use quick_xml::events::{BytesStart, Event};
use quick_xml::reader::Reader;

/// The keyword of PNG's text, and the head of JPEG's segment, that hold a packet (ISO 16684-3).
pub(super) const KEYWORD: &str = "XML:com.adobe.xmp";
pub(super) const HEAD: &[u8] = b"http://ns.adobe.com/xap/1.0/\0";
/// The tag of TIFF.
pub(super) const TAG: u16 = 700;

/// Properties, whatever the namespace: colours, how samples lie, pictures within, and sums over what is no longer there.
const UNTRUE: [&str; 23] = [
    "BitsPerSample",
    "ColorMode",
    "ColorSpace",
    "ComponentsConfiguration",
    "CompressedBitsPerPixel",
    "Compression",
    "Gamma",
    "HasExtendedXMP",
    "ICCProfile",
    "MakerNote",
    "NativeDigest",
    "OECF",
    "PhotometricInterpretation",
    "PlanarConfiguration",
    "PrimaryChromaticities",
    "ReferenceBlackWhite",
    "SamplesPerPixel",
    "Thumbnails",
    "TransferFunction",
    "WhitePoint",
    "YCbCrCoefficients",
    "YCbCrPositioning",
    "YCbCrSubSampling",
];

fn untrue(name: &str) -> bool {
    UNTRUE.contains(&name)
}

/// The packet without what is untrue; none where it is broken.
pub(super) fn clean(packet: &[u8]) -> Option<Vec<u8>> {
    let text = std::str::from_utf8(packet).ok()?.trim_matches(['\u{feff}', '\0']);
    let mut reader = Reader::from_str(text);
    let mut out = String::with_capacity(text.len());
    // Elements that are open, and those of them within one that is omitted.
    let (mut open, mut left, mut any) = (0usize, 0usize, false);
    loop {
        let from = reader.buffer_position() as usize;
        let event = reader.read_event().ok()?;
        let as_it_is = text.get(from..reader.buffer_position() as usize)?;
        let within = left > 0;
        match &event {
            Event::Eof => break,
            Event::DocType(_) => return None,
            Event::Start(start) => {
                (open, any) = (open + 1, true);
                if within || untrue(start.local_name().into_inner()) {
                    left += 1;
                } else {
                    tag(&mut out, start, as_it_is, ">")?;
                }
            }
            Event::Empty(start) if !within && !untrue(start.local_name().into_inner()) => {
                any = true;
                tag(&mut out, start, as_it_is, "/>")?;
            }
            Event::Empty(_) => {}
            Event::End(_) => {
                open = open.checked_sub(1)?;
                if within {
                    left -= 1;
                } else {
                    out.push_str(as_it_is);
                }
            }
            _ if within => {}
            _ => out.push_str(as_it_is),
        }
    }
    (open == 0 && any).then(|| out.into_bytes())
}

/// A beginning without the attributes that are untrue.
fn tag(out: &mut String, start: &BytesStart<'_>, as_it_is: &str, end: &str) -> Option<()> {
    let mut attributes = Vec::new();
    // Whether a name occurs twice is no concern of ours, and costs the square of their number.
    for attribute in start.attributes().with_checks(false) {
        attributes.push(attribute.ok()?);
    }
    let local = |key: &str| untrue(key.rsplit(':').next().unwrap_or(key));
    if !attributes.iter().any(|a| local(a.key.into_inner())) {
        out.push_str(as_it_is);
        return Some(());
    }
    out.push('<');
    out.push_str(start.name().into_inner());
    for attribute in attributes.iter().filter(|a| !local(a.key.into_inner())) {
        let quote = if attribute.value.contains('"') { '\'' } else { '"' };
        out.push_str(&format!(" {}={quote}{}{quote}", attribute.key.into_inner(), attribute.value));
    }
    out.push_str(end);
    Some(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const PACKET: &str = concat!(
        "<?xpacket begin=\"\u{feff}\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n",
        "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\"><rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\n",
        "<rdf:Description rdf:about=\"\" xmlns:dc=\"http://purl.org/dc/elements/1.1/\" ",
        "xmlns:e=\"http://ns.adobe.com/exif/1.0/\" e:ColorSpace=\"1\" e:Note='say \"when\"'>\n",
        "<dc:rights><rdf:Alt><rdf:li xml:lang=\"x-default\">Heron &amp; Sons</rdf:li></rdf:Alt></dc:rights>\n",
        "<e:Thumbnails><rdf:Alt><rdf:li>AAAA</rdf:li></rdf:Alt></e:Thumbnails><e:Gamma/>\n",
        "</rdf:Description></rdf:RDF></x:xmpmeta>\n<?xpacket end=\"w\"?>"
    );

    #[test]
    fn what_is_untrue_goes_and_the_rest_stays_to_the_byte() {
        let clean = String::from_utf8(clean(PACKET.as_bytes()).unwrap()).unwrap();
        let want = PACKET
            .replace("e:ColorSpace=\"1\" ", "")
            .replace("<e:Thumbnails><rdf:Alt><rdf:li>AAAA</rdf:li></rdf:Alt></e:Thumbnails><e:Gamma/>", "");
        assert_eq!(clean, want);
        assert_eq!(super::clean(want.as_bytes()).unwrap(), want.as_bytes());
    }

    #[test]
    fn what_is_broken_is_none() {
        let cut = &PACKET[..PACKET.len() - 60];
        for text in ["", "words", "<a>", "<a></b>", "</a>", "<!DOCTYPE a [<!ENTITY b 'c'>]><a/>", "<a b=c/>", cut] {
            assert!(clean(text.as_bytes()).is_none(), "{text}");
        }
        assert!(clean(&[b'<', 0xff, b'>']).is_none());
    }
}
