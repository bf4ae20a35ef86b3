//! What the entries of a show are in the document's own terms: values, whose `Display` is the sentence of reports.

use crate::by_name;
use crate::camera::Camera;
use crate::display::{Display, DisplaySettings, Eotf};
use crate::format::device::Device;
use crate::invalid::Invalid;
use crate::look::Look;
use crate::look::document::WhiteSchema;
use crate::range::Range;
use crate::step::balance::White;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::fmt;
use std::str::FromStr;

/// The words for primaries, and for a display, that have no name.
const CUSTOM: &str = "custom";
const CUSTOM_GAMUT: &str = "custom gamut";
const AT_EI: &str = " at EI ";
/// What stands before the light of a matrix, and before a white.
const MATRIX: &str = "matrix for ";
const WHITE: &str = ", white ";

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
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CameraId {
    /// The name of its curve, or the path of its curve file as the show states it.
    pub curve: String,
    /// The exposure index of the curve, where one is stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ei: Option<u32>,
    /// The name of its gamut; none for primaries or a matrix that the show states.
    pub gamut: Option<String>,
    /// The light that its matrix is for, where it has one instead of a gamut.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub matrix: Option<String>,
    /// The range of its signal.
    #[serde(with = "by_name")]
    #[schemars(schema_with = "crate::by_name::schema::<Range>")]
    pub range: Range,
    /// The white that becomes neutral before the look, where the show states one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<WhiteSchema>")]
    pub white: Option<White>,
}

/// Kelvin and tint, or x and y, of a white: `4300 K tint -2`.
fn white_words(white: &White) -> String {
    let tint = white.tint.map(|tint| format!(" tint {tint}")).unwrap_or_default();
    match (white.kelvin, white.xy) {
        (Some(kelvin), _) => format!("{kelvin} K{tint}"),
        (None, xy) => xy.map(|[x, y]| format!("x {x} y {y}")).unwrap_or_default(),
    }
}

/// The white that [`white_words`] states.
fn white_of(words: &str) -> Option<White> {
    let number = |text: &str| text.parse().ok().filter(|v: &f64| v.is_finite());
    if let Some((x, y)) = words.strip_prefix("x ").and_then(|rest| rest.split_once(" y ")) {
        return Some(White { kelvin: None, tint: None, xy: Some([number(x)?, number(y)?]) });
    }
    let (kelvin, rest) = words.split_once(" K")?;
    let tint = if rest.is_empty() { None } else { Some(number(rest.strip_prefix(" tint ")?)?) };
    Some(White { kelvin: Some(number(kelvin)?), tint, xy: None })
}

impl CameraId {
    /// The white as part of file names: `4300k`, with a tint of 2 towards green `4300k-g2`, towards magenta `4300k-m2`.
    pub fn white_part(&self) -> Option<String> {
        let white = self.white?;
        let part = |value: f64| value.to_string().replace('.', "p");
        Some(match (white.kelvin, white.xy) {
            (Some(kelvin), _) => {
                let side = |tint: f64| format!("-{}{}", if tint > 0.0 { "g" } else { "m" }, part(tint.abs()));
                let tint = white.tint.filter(|tint| *tint != 0.0).map(side).unwrap_or_default();
                format!("{}k{tint}", part(kelvin))
            }
            (None, xy) => xy.map(|[x, y]| format!("x{}-y{}", part(x), part(y))).unwrap_or_default(),
        })
    }

    /// The name of its gamut, or words for primaries or a matrix without one.
    pub fn gamut_name(&self) -> Cow<'_, str> {
        match &self.matrix {
            Some(light) => format!("{MATRIX}{light}").into(),
            None => self.gamut.as_deref().unwrap_or(CUSTOM_GAMUT).into(),
        }
    }

    /// The curve with its exposure index.
    pub fn curve_at_ei(&self) -> String {
        let at_ei = self.ei.map(|ei| format!("{AT_EI}{ei}")).unwrap_or_default();
        format!("{}{at_ei}", self.curve)
    }
}

impl fmt::Display for CameraId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, {}, {} range", self.curve_at_ei(), self.gamut_name(), self.range.name())?;
        self.white.map_or(Ok(()), |white| write!(f, "{WHITE}{}", white_words(&white)))
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
            let (text, white) = match text.rsplit_once(WHITE) {
                Some((text, words)) => (text, Some(white_of(words)?)),
                None => (text, None),
            };
            let (rest, last) = text.rsplit_once(", ")?;
            let (curve, gamut) = rest.rsplit_once(", ")?;
            let at_ei = curve.rsplit_once(AT_EI).and_then(|(curve, ei)| Some((curve, ei.parse().ok()?)));
            let (curve, ei) = at_ei.map_or((curve, None), |(curve, ei)| (curve, Some(ei)));
            let matrix = gamut.strip_prefix(MATRIX).map(str::to_owned);
            let gamut = (matrix.is_none() && gamut != CUSTOM_GAMUT).then(|| gamut.to_owned());
            Some(Self { curve: curve.to_owned(), ei, gamut, matrix, range: range(last)?, white })
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
        let tinted = White { tint: Some(-2.5), ..White::kelvin(3200.0) };
        let by_xy = White { kelvin: None, tint: None, xy: Some([0.31, 0.33]) };
        for (curve, ei) in [("slog3", None), ("logc3", Some(400)), ("curves/a, b at EI x.toml", Some(800))] {
            for gamut in [Some("sgamut3-cine".to_owned()), None] {
                for range in Range::ALL {
                    for white in [None, Some(White::kelvin(4300.0)), Some(tinted), Some(by_xy)] {
                        let (curve, gamut) = (curve.to_owned(), gamut.clone());
                        let plain = CameraId { curve, ei, gamut, matrix: None, range, white };
                        let matrix = Some("D55 and illuminant A at 4300 K".to_owned());
                        for id in [CameraId { gamut: None, matrix, ..plain.clone() }, plain] {
                            assert_eq!(id.to_string().parse::<CameraId>().unwrap(), id, "{id}");
                        }
                    }
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
        for text in [
            "",
            "slog3",
            "slog3, sgamut3-cine",
            "slog3, sgamut3-cine, wide range",
            "slog3, sgamut3-cine, full range, white warm",
        ] {
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
