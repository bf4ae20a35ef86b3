//! Events of a list: a part of a clip by reel and timecode, with its correction if it has one. Such lists are edit decision
//! lists (SMPTE ST 258), the tab-separated interchange text of editing (`.ale`), comma-separated values, and
//! OpenTimelineIO's JSON (read only). What a list holds beside that stays in its text: [`enter`] changes corrections alone.

mod edl;
mod enter;
mod otio;
mod table;
#[cfg(test)]
mod tests;
mod write;

pub use enter::{append, enter};
pub use write::write;

use super::timecode::Timecode;
use super::{LineError, LineErrors, line_of, scan};
use rushlight_colour::invalid::{Invalid, Refusals};
use rushlight_colour::step::cdl::{Cdl, CdlNumbers};

/// The forms of a list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Form {
    /// Sections Heading, Column and Data, parted by tabs.
    Ale,
    /// A row of names, then rows of values, parted by commas, semicolons or tabs.
    Csv,
    /// An edit decision list, SMPTE ST 258.
    Edl,
    /// OpenTimelineIO's JSON, which is read and not written.
    Otio,
}

rushlight_colour::named!(Form, "form of an event list", { Ale => "ale", Csv => "csv", Edl => "edl", Otio => "otio" });

impl Form {
    /// The form of files that end so, in letters of either case.
    pub fn from_extension(extension: &str) -> Option<Self> {
        Self::from_name(&extension.to_ascii_lowercase())
    }

    /// Whether its rows have columns, one of which names the shots.
    pub const fn has_columns(self) -> bool {
        matches!(self, Self::Ale | Self::Csv)
    }
}

/// An event.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Event {
    /// Its line, from 1; in OpenTimelineIO its place among the clips, from 1.
    pub line: usize,
    /// The name of its clip or shot; empty where the list says none.
    pub name: String,
    /// The reel or tape that its clip is of.
    pub reel: Option<String>,
    /// The file of its clip.
    pub file: Option<String>,
    /// From where to where of the clip it goes; the end is not part of it.
    pub source: Option<[Timecode; 2]>,
    /// The text of its ASC_SOP; empty where it has none.
    pub sop: String,
    /// The text of its ASC_SAT; empty where it has none.
    pub sat: String,
    /// Why the row cannot be used at all.
    pub unusable: Option<String>,
    /// Why its timecodes cannot be used.
    pub untimed: Option<String>,
}

impl Event {
    /// Its correction, if it has one.
    ///
    /// # Errors
    /// All that is wrong with it, under the keys of its numbers.
    pub fn correction(&self) -> Result<Option<CdlNumbers>, Refusals> {
        if self.sop.is_empty() && self.sat.is_empty() {
            return Ok(None);
        }
        numbers(&self.sop, &self.sat).map(Some)
    }

    /// What it is called in a sentence: its name, or else its reel.
    pub fn called(&self) -> &str {
        if self.name.is_empty() { self.reel.as_deref().unwrap_or("unnamed") } else { &self.name }
    }
}

/// A list.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct EventList {
    /// Its title.
    pub title: Option<String>,
    /// Frames a second, where the list says it.
    pub rate: Option<f64>,
    /// The events with a picture, in their order.
    pub events: Vec<Event>,
    /// The line of its column names, or 1.
    pub head: usize,
    /// Whether it has a place for corrections: columns, or any line of them.
    pub has_corrections: bool,
}

pub(super) const SOP: &str = "ASC_SOP";
pub(super) const SAT: &str = "ASC_SAT";
/// Columns that name a shot, where none is chosen.
pub(super) const NAMES: [&str; 2] = ["Name", "Shot"];

/// Reads a list; `column` names the shots of one with columns (default: `Name`, or else `Shot`).
///
/// # Errors
/// What is wrong with the list beyond a single row, by line.
pub fn read(bytes: &[u8], form: Form, column: Option<&str>) -> Result<EventList, LineErrors> {
    let text = text(bytes)?;
    Ok(match form {
        Form::Edl => edl::read(text)?.list,
        Form::Otio => otio::read(text)?,
        Form::Ale | Form::Csv => table::read(text, form)?.events(column)?,
    })
}

/// The text of a list, without a mark of byte order.
fn text(bytes: &[u8]) -> Result<&str, Vec<LineError>> {
    let text = std::str::from_utf8(bytes).map_err(|e| {
        let line = line_of(bytes, e.valid_up_to());
        vec![LineError { line, message: "not UTF-8: save the list as that".to_owned() }]
    })?;
    Ok(text.strip_prefix('\u{feff}').unwrap_or(text))
}

fn error<T>(line: usize, message: impl Into<String>) -> Result<T, LineError> {
    Err(LineError { line, message: message.into() })
}

/// Lines as they are, without what ends them: older systems end them with a carriage return alone.
fn lines(text: &str) -> impl Iterator<Item = &str> {
    text.split(end(text))
}

/// What ends lines.
fn end(text: &str) -> char {
    if text.contains('\n') { '\n' } else { '\r' }
}

/// The source of an event, from its texts; none where one is empty.
fn source(start: &str, end: &str) -> Result<Option<[Timecode; 2]>, String> {
    if start.is_empty() || end.is_empty() {
        return Ok(None);
    }
    let time = |text: &str| text.parse::<Timecode>().map_err(|refused| refused.message);
    Ok(Some([time(start)?, time(end)?]))
}

/// The correction of two texts, either of which may be empty.
fn numbers(sop: &str, sat: &str) -> Result<CdlNumbers, Refusals> {
    let mut numbers = CdlNumbers::default();
    if !sop.is_empty() {
        [numbers.slope, numbers.offset, numbers.power] =
            triples(sop).map_err(|why| Invalid::plain(format!("{SOP} `{sop}`: {why}")))?;
    }
    if !sat.is_empty() {
        numbers.saturation = number(sat).map_err(|why| Invalid::plain(format!("{SAT}: {why}")))?;
    }
    Cdl::new(numbers, false)?;
    Ok(numbers)
}

fn number(word: &str) -> Result<f64, String> {
    match scan::number(word.as_bytes()) {
        Some((value, length)) if length == word.len() => Ok(value),
        _ => Err(format!("`{word}` is not a finite number")),
    }
}

/// `(1 1 1)(0 0 0)(1 1 1)`; numbers are parted by blanks or commas.
fn triples(text: &str) -> Result<[[f64; 3]; 3], String> {
    let shape = || "must be (slope)(offset)(power), three numbers each".to_owned();
    let mut triples = Vec::new();
    let mut rest = text.trim();
    while !rest.is_empty() {
        let (inside, after) = rest.strip_prefix('(').and_then(|r| r.split_once(')')).ok_or_else(shape)?;
        let words = inside.split([' ', '\t', ',']).filter(|word| !word.is_empty());
        let values = words.map(number).collect::<Result<Vec<_>, _>>()?;
        triples.push(<[f64; 3]>::try_from(values).map_err(|_| shape())?);
        rest = after.trim_start();
    }
    triples.try_into().map_err(|_| shape())
}

/// A correction as the texts of its ASC_SOP and its ASC_SAT.
pub fn texts(numbers: &CdlNumbers) -> [String; 2] {
    let triples = [numbers.slope, numbers.offset, numbers.power];
    let sop = triples.iter().map(|v| format!("({})", v.map(|v| v.to_string()).join(" "))).collect();
    [sop, numbers.saturation.to_string()]
}
