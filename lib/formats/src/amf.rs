//! The ACES Metadata File, version 2 (Academy S-2019-001): how a clip was looked at, as XML that points to transforms.
//!
//! Files are checked against the Academy's published schema, version 2.0, which is not part of the project. The identifiers
//! of the transforms to and from ACEScct and ACEScc are written from memory of the Academy's examples; the schema knows
//! their form alone.

use super::cdl::write_nodes;
use super::xml::Xml;
use crate::checksum::sha256;
use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use rushlight_colour::step::cdl::CdlNumbers;
use sha2::{Digest, Sha256};

/// The version written.
pub const VERSION: &str = "2.0";
/// The namespace of the file.
pub const NAMESPACE: &str = "urn:ampas:aces:amf:v2.0";
/// The namespace of the corrections in it.
pub const CDL_NAMESPACE: &str = "urn:ASC:CDL:v1.01";
/// The system whose encodings the transforms are in: ACES 1.3.0.
const SYSTEM: [(&str, &str); 3] = [("aces:majorVersion", "1"), ("aces:minorVersion", "3"), ("aces:patchVersion", "0")];
/// The hash of a file that is pointed to.
const HASH: &str = "http://www.w3.org/2001/04/xmlenc#sha256";

/// A transform in a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Transform {
    /// What it does.
    pub description: String,
    /// Its name, relative to the AMF, with forward slashes.
    pub file: String,
    /// SHA-256 of its bytes.
    pub sha256: [u8; 32],
}

impl Transform {
    /// A file of these bytes.
    pub fn new(description: impl Into<String>, file: impl Into<String>, bytes: &[u8]) -> Self {
        Self { description: description.into(), file: file.into(), sha256: Sha256::digest(bytes).into() }
    }
}

/// The log in which a correction works.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum WorkingSpace {
    /// ACEScct.
    AcesCct,
    /// ACEScc.
    AcesCc,
}

impl WorkingSpace {
    /// The identifiers of the transforms to ACES and from it.
    const fn transforms(self) -> [&'static str; 2] {
        match self {
            Self::AcesCct => [
                "urn:ampas:aces:transformId:v1.5:ACEScsc.Academy.ACEScct_to_ACES.a1.0.3",
                "urn:ampas:aces:transformId:v1.5:ACEScsc.Academy.ACES_to_ACEScct.a1.0.3",
            ],
            Self::AcesCc => [
                "urn:ampas:aces:transformId:v1.5:ACEScsc.Academy.ACEScc_to_ACES.a1.0.3",
                "urn:ampas:aces:transformId:v1.5:ACEScsc.Academy.ACES_to_ACEScc.a1.0.3",
            ],
        }
    }
}

/// A step between the input and the output, from ACES to ACES.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum LookTransform {
    /// A transform in a file.
    File(Transform),
    /// A correction, not clamped.
    Cdl(String, WorkingSpace, CdlNumbers),
}

/// A file.
#[derive(Debug, Clone, PartialEq)]
pub struct Amf {
    /// What it is of.
    pub description: String,
    /// The name and the e-mail address of who made it, as the schema asks for both.
    pub author: Option<[String; 2]>,
    /// When it was made, as `2026-11-25T00:00:00Z`.
    pub date: String,
    /// The name of the clip that it is of. No file of it is known here: the clip gets an identifier made from its name.
    pub clip: Option<String>,
    /// Camera signal to ACES.
    pub input: Transform,
    /// In order.
    pub looks: Vec<LookTransform>,
    /// ACES to the display's signal.
    pub output: Transform,
}

impl Amf {
    /// The file's text. The identifiers of the file and of its pipeline are made from all the rest: the same file has the
    /// same ones.
    pub fn to_xml(&self) -> String {
        let text = self.text(["", ""]);
        let [file, pipeline] = ["file", "pipeline"].map(|what| uuid(what, &text));
        self.text([&file, &pipeline])
    }

    fn text(&self, [file, pipeline]: [&str; 2]) -> String {
        let mut xml = Xml::new();
        let none = Vec::new();
        let spaces = vec![
            ("xmlns:aces", NAMESPACE.to_owned()),
            ("xmlns:cdl", CDL_NAMESPACE.to_owned()),
            ("version", VERSION.to_owned()),
        ];
        xml.open("aces:acesMetadataFile", &spaces);
        xml.open("aces:amfInfo", &none);
        xml.text("aces:description", &self.description);
        if let Some([name, address]) = &self.author {
            xml.open("aces:author", &none);
            xml.text("aces:name", name);
            xml.text("aces:emailAddress", address);
            xml.close("aces:author");
        }
        self.dates(&mut xml);
        xml.text("aces:uuid", file);
        xml.close("aces:amfInfo");
        if let Some(clip) = &self.clip {
            xml.open("aces:clipId", &none);
            xml.text("aces:clipName", clip);
            xml.text("aces:uuid", &uuid("clip", clip));
            xml.close("aces:clipId");
        }
        xml.open("aces:pipeline", &none);
        xml.open("aces:pipelineInfo", &none);
        self.dates(&mut xml);
        xml.text("aces:uuid", pipeline);
        xml.open("aces:systemVersion", &none);
        SYSTEM.iter().for_each(|(name, value)| xml.text(name, value));
        xml.close("aces:systemVersion");
        xml.close("aces:pipelineInfo");
        let applied = vec![("applied", "false".to_owned())];
        xml.open("aces:inputTransform", &applied);
        transform(&mut xml, &self.input);
        xml.close("aces:inputTransform");
        for look in &self.looks {
            xml.open("aces:lookTransform", &applied);
            match look {
                LookTransform::File(file) => transform(&mut xml, file),
                LookTransform::Cdl(description, space, numbers) => {
                    xml.text("aces:description", description);
                    let [to_aces, from_aces] = space.transforms();
                    xml.open("aces:cdlWorkingSpace", &none);
                    for (name, id) in [("aces:toCdlWorkingSpace", from_aces), ("aces:fromCdlWorkingSpace", to_aces)] {
                        xml.open(name, &none);
                        xml.text("aces:transformId", id);
                        xml.close(name);
                    }
                    xml.close("aces:cdlWorkingSpace");
                    write_nodes(&mut xml, "cdl:", numbers, [&[], &[]]);
                }
            }
            xml.close("aces:lookTransform");
        }
        xml.open("aces:outputTransform", &applied);
        transform(&mut xml, &self.output);
        xml.close("aces:outputTransform");
        xml.close("aces:pipeline");
        xml.close("aces:acesMetadataFile");
        xml.finish()
    }

    fn dates(&self, xml: &mut Xml) {
        xml.open("aces:dateTime", &Vec::new());
        xml.text("aces:creationDateTime", &self.date);
        xml.text("aces:modificationDateTime", &self.date);
        xml.close("aces:dateTime");
    }
}

fn transform(xml: &mut Xml, transform: &Transform) {
    xml.text("aces:description", &transform.description);
    xml.text_with("aces:hash", &vec![("algorithm", HASH.to_owned())], &BASE64_STANDARD.encode(transform.sha256));
    xml.text("aces:file", &transform.file);
}

/// The identifier of `what` of that text: RFC 9562, version 8, from the first half of the SHA-256 of both.
fn uuid(what: &str, text: &str) -> String {
    let mut id = "urn:uuid:".to_owned();
    for (at, digit) in sha256(format!("{what}\n{text}").as_bytes()).chars().take(32).enumerate() {
        if matches!(at, 8 | 12 | 16 | 20) {
            id.push('-');
        }
        id.push(match (at, digit.to_digit(16).unwrap_or_default() % 4) {
            (12, _) => '8',
            // The variant: the two highest bits are 1 and 0.
            (16, 0) => '8',
            (16, 1) => '9',
            (16, 2) => 'a',
            (16, _) => 'b',
            _ => digit,
        });
    }
    id
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_file_has_the_same_identifier_and_another_another() {
        let transform = |name: &str| Transform::new(name, format!("{name}.clf"), name.as_bytes());
        let amf = Amf {
            description: "Night & fog".to_owned(),
            author: None,
            date: "2026-11-25T00:00:00Z".to_owned(),
            clip: Some("12A-3".to_owned()),
            input: transform("input"),
            looks: vec![LookTransform::Cdl("shot".to_owned(), WorkingSpace::AcesCct, CdlNumbers::default())],
            output: transform("output"),
        };
        let text = amf.to_xml();
        assert_eq!(text, amf.to_xml());
        assert!(text.contains("<aces:description>Night &amp; fog</aces:description>"));
        let ids = |text: &str| text.split("urn:uuid:").skip(1).map(|id| id[..36].to_owned()).collect::<Vec<_>>();
        let other = Amf { description: "Day".to_owned(), ..amf.clone() };
        // Of the file, the clip and the pipeline.
        let (one, other) = (ids(&text), ids(&other.to_xml()));
        assert_eq!(one.len(), 3);
        assert!(one[0] != one[1] && one[0] != one[2] && one[1] != one[2], "{one:?}");
        assert!(one[0] != other[0] && one[2] != other[2], "another file has other identifiers");
        assert_eq!(one[1], other[1], "the same clip has the same one");
        for id in one {
            // RFC 9562, section 5.8: version 8 and the variant stand at these places.
            assert_eq!(&id[14..15], "8");
            assert!("89ab".contains(&id[19..20]));
        }
        // FIPS 180-4: SHA-256 of "abc", here in base64.
        let abc = Transform::new("", "", b"abc");
        assert_eq!(BASE64_STANDARD.encode(abc.sha256), "ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0=");
    }

    /// The order of elements in the Academy's schema: a reader that follows it finds them nowhere else.
    #[test]
    fn elements_stand_in_the_order_of_the_schema() {
        let transform = Transform::new("a", "a.clf", b"a");
        let look = LookTransform::Cdl("shot".to_owned(), WorkingSpace::AcesCct, CdlNumbers::default());
        let amf = Amf {
            description: "Night".to_owned(),
            author: None,
            date: "2026-11-25T00:00:00Z".to_owned(),
            clip: Some("12A-3".to_owned()),
            input: transform.clone(),
            looks: vec![look],
            output: transform,
        };
        let text = amf.to_xml();
        let mut rest = text.as_str();
        for next in [
            "<aces:amfInfo>",
            "<aces:description>",
            "<aces:dateTime>",
            "<aces:uuid>urn:uuid:",
            "<aces:clipId>",
            "<aces:clipName>",
            "<aces:uuid>urn:uuid:",
            "<aces:pipelineInfo>",
            "<aces:dateTime>",
            "<aces:uuid>urn:uuid:",
            "<aces:systemVersion>",
            "<aces:inputTransform applied=\"false\">",
            "<aces:lookTransform applied=\"false\">",
            "<aces:toCdlWorkingSpace>",
            "ACES_to_ACEScct",
            "<aces:fromCdlWorkingSpace>",
            "ACEScct_to_ACES",
            "<cdl:SOPNode>",
            "<cdl:SatNode>",
            "<aces:outputTransform applied=\"false\">",
        ] {
            let at = rest.find(next).unwrap_or_else(|| panic!("{next} is not in its place: {text}"));
            rest = &rest[at + next.len()..];
        }
    }
}
