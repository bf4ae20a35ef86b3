//! What the entries of a show are in the document's own terms: values, whose `Display` is the sentence of reports.

use crate::by_name;
use crate::camera::Camera;
use crate::display::{Display, DisplaySettings, Eotf};
use crate::format::device::Device;
use crate::invalid::Invalid;
use crate::look::Look;
use crate::range::Range;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// The words for primaries, and for a display, that have no name.
const CUSTOM: &str = "custom";
const CUSTOM_GAMUT: &str = "custom gamut";
const AT_EI: &str = " at EI ";

/// A thing that a show has entries of, and what identifies one.
pub trait Identified {
    /// What it is in the document's terms.
    type Id: fmt::Debug + Clone + PartialEq;
}

impl Identified for Camera {
    type Id = CameraId;
}

impl Identified for Display {
    type Id = DisplayId;
}

impl Identified for Look {
    type Id = LookId;
}

impl Identified for Device {
    type Id = ();
}

/// A camera in the document's terms; as text, `slog3 at EI 800, sgamut3-cine, full range`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct CameraId {
    /// The name of its curve, or the path of its curve file as the show states it.
    pub curve: String,
    /// The exposure index of the curve, where one is stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ei: Option<u32>,
    /// The name of its gamut; none for primaries that the show states.
    pub gamut: Option<String>,
    /// The range of its signal.
    #[serde(with = "by_name")]
    #[schemars(schema_with = "crate::by_name::schema::<Range>")]
    pub range: Range,
}

impl CameraId {
    /// The name of its gamut, or words for primaries without one.
    pub fn gamut_name(&self) -> &str {
        self.gamut.as_deref().unwrap_or(CUSTOM_GAMUT)
    }

    /// The curve with its exposure index.
    pub fn curve_at_ei(&self) -> String {
        let at_ei = self.ei.map(|ei| format!("{AT_EI}{ei}")).unwrap_or_default();
        format!("{}{at_ei}", self.curve)
    }
}

impl fmt::Display for CameraId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, {}, {} range", self.curve_at_ei(), self.gamut_name(), self.range.name())
    }
}

/// The range at the end of a sentence.
fn range(words: &str) -> Option<Range> {
    Range::from_name(words.strip_suffix(" range")?)
}

/// Reads what `Display` writes: version 0.1 stated cameras so in manifests, and headers of cubes still do.
impl FromStr for CameraId {
    type Err = Invalid;

    fn from_str(text: &str) -> Result<Self, Invalid> {
        // From the end: the path of a curve file may have commas.
        let read = || {
            let (rest, last) = text.rsplit_once(", ")?;
            let (curve, gamut) = rest.rsplit_once(", ")?;
            let at_ei = curve.rsplit_once(AT_EI).and_then(|(curve, ei)| Some((curve, ei.parse().ok()?)));
            let (curve, ei) = at_ei.map_or((curve, None), |(curve, ei)| (curve, Some(ei)));
            let gamut = (gamut != CUSTOM_GAMUT).then(|| gamut.to_owned());
            Some(Self { curve: curve.to_owned(), ei, gamut, range: range(last)? })
        };
        read().ok_or_else(|| {
            let example = "slog3, sgamut3-cine, full range";
            Invalid::new("camera", format!("must be a curve, a gamut and a range, such as `{example}`"))
        })
    }
}

/// A display in the document's terms; as text, `bt709, bt1886, 100 nits, full range`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DisplayId {
    /// The name of the built-in display that it is made from; none where it is made from none.
    pub standard: Option<String>,
    /// Its EOTF.
    #[serde(with = "by_name")]
    #[schemars(schema_with = "crate::by_name::schema::<Eotf>")]
    pub eotf: Eotf,
    /// Its peak in nits.
    pub peak: f64,
    /// The range of its signal.
    #[serde(with = "by_name")]
    #[schemars(schema_with = "crate::by_name::schema::<Range>")]
    pub range: Range,
}

impl DisplayId {
    /// That of a display with these settings.
    pub fn new(standard: Option<String>, settings: &DisplaySettings) -> Self {
        let DisplaySettings { eotf, peak, range, .. } = *settings;
        Self { standard, eotf, peak, range }
    }
}

impl fmt::Display for DisplayId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = self.standard.as_deref().unwrap_or(CUSTOM);
        write!(f, "{name}, {}, {} nits, {} range", self.eotf.name(), self.peak, self.range.name())
    }
}

/// Reads what `Display` writes: version 0.1 stated displays so in manifests, and headers of cubes still do.
impl FromStr for DisplayId {
    type Err = Invalid;

    fn from_str(text: &str) -> Result<Self, Invalid> {
        let read = || {
            let parts: Vec<&str> = text.split(", ").collect();
            let [name, eotf, peak, last] = parts.as_slice() else { return None };
            let peak = peak.strip_suffix(" nits")?.parse().ok().filter(|peak: &f64| peak.is_finite())?;
            let standard = (*name != CUSTOM).then(|| (*name).to_owned());
            Some(Self { standard, eotf: Eotf::from_name(eotf)?, peak, range: range(last)? })
        };
        read().ok_or_else(|| {
            let example = "bt709, bt1886, 100 nits, full range";
            Invalid::new("display", format!("must be a name, an EOTF, a peak and a range, such as `{example}`"))
        })
    }
}

/// A look in the document's terms: its file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LookId {
    /// The path of its document as the show states it; the name of the document, for a look that stands alone.
    pub file: String,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sentences_are_read_as_they_are_written() {
        for (curve, ei) in [("slog3", None), ("logc3", Some(400)), ("curves/a, b at EI x.toml", Some(800))] {
            for gamut in [Some("sgamut3-cine".to_owned()), None] {
                for range in Range::ALL {
                    let id = CameraId { curve: curve.to_owned(), ei, gamut: gamut.clone(), range };
                    assert_eq!(id.to_string().parse::<CameraId>().unwrap(), id, "{id}");
                }
            }
        }
        for standard in [Some("bt709".to_owned()), None] {
            for eotf in Eotf::ALL {
                for peak in [48.0, 100.5, 1000.0 / 3.0] {
                    let id = DisplayId { standard: standard.clone(), eotf, peak, range: Range::Legal };
                    assert_eq!(id.to_string().parse::<DisplayId>().unwrap(), id, "{id}");
                }
            }
        }
    }

    #[test]
    fn other_text_is_refused() {
        for text in ["", "slog3", "slog3, sgamut3-cine", "slog3, sgamut3-cine, wide range"] {
            assert!(text.parse::<CameraId>().is_err(), "{text}");
        }
        for text in [
            "",
            "bt709, bt1886, 100 nits",
            "bt709, bt1887, 100 nits, full range",
            "bt709, bt1886, NaN nits, full range",
        ] {
            assert!(text.parse::<DisplayId>().is_err(), "{text}");
        }
    }
}
