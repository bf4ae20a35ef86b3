//! What was measured of a camera, when, and by which frames: it goes into what leaves, and changes no picture.

use super::cameras::CameraDoc;
use crate::invalid::{Invalid, Refusals};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What was measured.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct MeasuredDoc {
    /// What it is, such as colours, white, or exposure at EI 800.
    #[schemars(length(min = 1))]
    pub(super) what: String,
    /// The day of the test, YYYY-MM-DD; default: not known.
    pub(super) date: Option<String>,
    /// The frames by name, each with its SHA-256 in hexadecimal.
    pub(super) frames: BTreeMap<String, String>,
}

/// A measurement of a camera.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Measured {
    /// What was measured.
    pub what: String,
    /// The day of the test, YYYY-MM-DD, where it is known.
    pub date: Option<String>,
    /// Where it comes from, of a matrix that the show states.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
    /// The frames by name, each with its SHA-256 in hexadecimal.
    pub frames: BTreeMap<String, String>,
}

impl Measured {
    /// What and when: `colours, 2026-03-14`.
    pub fn title(&self) -> String {
        let date = self.date.as_deref().unwrap_or("day not known");
        format!("{}, {date}", self.what)
    }

    /// By what: the first frames with the beginnings of their SHA-256, or the source.
    pub fn by(&self) -> String {
        const FIRST: usize = 2;
        let frames: Vec<String> = self
            .frames
            .iter()
            .take(FIRST)
            .map(|(name, sha256)| format!("{name} (SHA-256 {}...)", sha256.get(..12).unwrap_or(sha256)))
            .collect();
        let more = self.frames.len().saturating_sub(FIRST);
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        let source = self.source.iter().cloned();
        source.chain((!frames.is_empty()).then(|| frames.join(", ") + &more)).collect::<Vec<_>>().join("; ")
    }
}

/// Everything that a document states of a camera's measurements, its matrices included.
pub(super) fn of(doc: &CameraDoc) -> Vec<Measured> {
    let matrices = doc.matrix.iter().map(|m| Measured {
        what: format!("matrix for {}", m.illuminant),
        date: Some(m.date.clone()),
        source: Some(m.source.clone()),
        frames: BTreeMap::new(),
    });
    let frames = doc.measured.iter().map(|m| Measured {
        what: m.what.clone(),
        date: m.date.clone(),
        source: None,
        frames: m.frames.clone(),
    });
    matrices.chain(frames).collect()
}

/// Checks what is stated, under `measured[0].date` and so on.
pub(super) fn check(docs: &[MeasuredDoc]) -> Result<(), Refusals> {
    let mut refusals = Refusals::new();
    for (i, doc) in docs.iter().enumerate() {
        let mut one = Refusals::new();
        if doc.what.trim().is_empty() || doc.what.chars().any(char::is_control) {
            one.push("what", "must be one line that says what was measured");
        }
        if let Some(Err(why)) = doc.date.as_deref().map(day) {
            one.push("date", why.message);
        }
        if doc.frames.is_empty() {
            one.push("frames", "needs at least one frame with its SHA-256");
        }
        for (name, sha256) in &doc.frames {
            if name.chars().any(char::is_control) {
                one.push("frames", "the name of a frame must be one line");
            } else if sha256.len() != 64 || !sha256.chars().all(|c| c.is_ascii_hexdigit()) {
                one.push("frames", format!("{name}: a SHA-256 has 64 hexadecimal digits, and this has other text"));
            }
        }
        let refused: Vec<Invalid> = one.finish(|| ()).err().into_iter().flatten().collect();
        refusals.extend(refused.into_iter().map(|r| r.within(&format!("measured[{i}]"))));
    }
    refusals.finish(|| ())
}

/// Year, month and day of a text that is a day of the calendar as ISO 8601 writes it.
///
/// # Errors
/// What would be right.
pub fn day(text: &str) -> Result<[u16; 3], Invalid> {
    let wrong = || Invalid::plain(format!("`{text}` is not a date: it must be YYYY-MM-DD, such as 2026-03-14"));
    let parts: Vec<&str> = text.split('-').collect();
    let [year, month, day] = parts[..] else { return Err(wrong()) };
    if [year.len(), month.len(), day.len()] != [4, 2, 2] || !text.chars().all(|c| c.is_ascii_digit() || c == '-') {
        return Err(wrong());
    }
    let number = |part: &str| part.parse::<u16>().map_err(|_| wrong());
    let (year, month, day) = (number(year)?, number(month)?, number(day)?);
    let leap = year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
    let days = match month {
        2 => 28 + u16::from(leap),
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => return Err(wrong()),
    };
    if (1..=days).contains(&day) { Ok([year, month, day]) } else { Err(wrong()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_those_of_the_calendar() {
        for good in ["2026-03-14", "2024-02-29", "2000-02-29", "2026-12-31"] {
            assert!(day(good).is_ok(), "{good}");
        }
        for bad in ["", "2026-3-14", "2026-02-29", "1900-02-29", "2026-13-01", "2026-00-10", "2026-04-31", "14.3.2026"]
        {
            assert!(day(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn what_is_stated_is_checked_by_key() {
        let doc = |date: &str, sha: &str| MeasuredDoc {
            what: "colours".to_owned(),
            date: Some(date.to_owned()),
            frames: BTreeMap::from([("b.png".to_owned(), sha.to_owned())]),
        };
        let good = doc("2026-03-14", &"0a".repeat(32));
        assert!(check(std::slice::from_ref(&good)).is_ok());
        let refused = check(&[good, doc("2026-14-03", "0a")]).unwrap_err();
        let keys: Vec<_> = refused.into_iter().map(|r| r.key).collect();
        assert_eq!(keys, ["measured[1].date", "measured[1].frames"]);
    }
}
