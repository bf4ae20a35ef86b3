//! Edit decision lists: SMPTE ST 258:2004 (from memory), one event a line, and lines of notes after it. The notes
//! `* FROM CLIP NAME:`, `* TO CLIP NAME:`, `* SOURCE FILE:`, `*ASC_SOP` and `*ASC_SAT` are common practice, no source.
//!
//! ```text
//! 001  A001     V     C        01:00:00:00 01:00:04:00 00:00:00:00 00:00:04:00
//! * FROM CLIP NAME: 12A-3
//! *ASC_SOP (1.02 1 0.98)(0.006 0 -0.004)(1 1 1.01)
//! *ASC_SAT 0.95
//! ```

use super::{Event, EventList, error, lines, source};
use crate::LineError;
use crate::timecode::Timecode;
use rushlight_colour::message::beginning;

/// Reels of no clip: black, and what comes from no reel.
const BLACK: &str = "BL";
const NO_REEL: &str = "AX";
/// Lines of one list that are named when they are wrong.
const MOST: usize = crate::MOST_ERRORS;

/// An event's place in the text: the lines, from 0, of its corrections, and the line that new ones come after.
#[derive(Debug, Clone, Default)]
pub(super) struct Place {
    pub(super) corrections: Vec<usize>,
    pub(super) after: usize,
}

/// A list, and for each of its events its place.
#[derive(Debug, Default)]
pub(super) struct Edl {
    pub(super) list: EventList,
    pub(super) places: Vec<Place>,
}

/// What a line of notes says.
enum Note<'a> {
    From(&'a str),
    To(&'a str),
    File(&'a str),
    Sop(&'a str),
    Sat(&'a str),
}

pub(super) fn read(text: &str) -> Result<Edl, Vec<LineError>> {
    let mut edl = Edl::default();
    edl.list.head = 1;
    let mut wrong = Vec::new();
    // Which events the group of the last number has, and which of them notes are about; none for sound.
    let mut number = String::new();
    let mut group: Vec<usize> = Vec::new();
    let mut about: Option<usize> = None;
    for (at, line) in lines(text).enumerate() {
        let line = line.trim();
        if let Some(title) = line.strip_prefix("TITLE:") {
            edl.list.title = Some(title.trim().to_owned()).filter(|title| !title.is_empty());
        } else if line.starts_with(|c: char| c.is_ascii_digit()) {
            match event(line, at + 1) {
                Ok((of, Some(event))) => {
                    if of != number {
                        (number, group) = (of, Vec::new());
                    }
                    group.push(edl.list.events.len());
                    about = Some(edl.list.events.len());
                    edl.list.events.push(event);
                    edl.places.push(Place { corrections: Vec::new(), after: at });
                }
                Ok((of, None)) => {
                    if of != number {
                        (number, group) = (of, Vec::new());
                    }
                    about = None;
                }
                Err(why) => wrong.push(why),
            }
        } else if let (true, None, Some(of)) = (line.starts_with('*'), note(line), about) {
            edl.places.get_mut(of).into_iter().for_each(|place| place.after = at);
        } else if let (Some(note), Some(last)) = (note(line), about) {
            // A dissolve has two lines of one number: the clip that goes, and the one that comes.
            let of = match note {
                Note::From(_) => group.first().copied().unwrap_or(last),
                Note::To(_) => group.last().copied().unwrap_or(last),
                _ => last,
            };
            about = Some(of);
            if let (Some(event), Some(place)) = (edl.list.events.get_mut(of), edl.places.get_mut(of)) {
                match note {
                    Note::From(name) | Note::To(name) => event.name = name.to_owned(),
                    Note::File(file) => event.file = Some(file.to_owned()),
                    Note::Sop(text) => (event.sop, edl.list.has_corrections) = (text.to_owned(), true),
                    Note::Sat(text) => (event.sat, edl.list.has_corrections) = (text.to_owned(), true),
                }
                if matches!(note, Note::Sop(_) | Note::Sat(_)) {
                    place.corrections.push(at);
                }
                place.after = at;
            }
        }
        if wrong.len() >= MOST {
            break;
        }
    }
    if !wrong.is_empty() {
        return Err(wrong);
    }
    if edl.list.events.is_empty() {
        return error(
            1,
            "no event with a picture: an edit decision list has lines such as `001 A001 V C` and four timecodes",
        )
        .map_err(|e| vec![e]);
    }
    Ok(edl)
}

/// A note that is known here.
fn note(line: &str) -> Option<Note<'_>> {
    let text = line.strip_prefix('*')?.trim_start();
    let after = |word: &str| {
        let start = text.get(..word.len()).filter(|start| start.eq_ignore_ascii_case(word))?;
        let rest = &text[start.len()..];
        // `ASC_SATURATION` is another word.
        let ends = rest.starts_with(|c: char| c == ':' || c == '(' || c.is_whitespace());
        ends.then(|| rest.trim_start().trim_start_matches(':').trim())
    };
    None.or_else(|| after("FROM CLIP NAME").map(Note::From))
        .or_else(|| after("TO CLIP NAME").map(Note::To))
        .or_else(|| after("SOURCE FILE").map(Note::File))
        .or_else(|| after(super::SOP).map(Note::Sop))
        .or_else(|| after(super::SAT).map(Note::Sat))
}

/// The number of an event, and the event; none where it has no picture.
fn event(text: &str, line: usize) -> Result<(String, Option<Event>), LineError> {
    let shape = || LineError {
        line,
        message: format!("`{}`: an event has number, reel, tracks, transition and four timecodes", beginning(text)),
    };
    let words: Vec<&str> = text.split_whitespace().collect();
    let (number, rest) = words.split_first().ok_or_else(shape)?;
    let at = rest.len().checked_sub(4).ok_or_else(shape)?;
    let (about, times) = rest.split_at(at);
    let [start, end, record @ ..] = times else { return Err(shape()) };
    for time in record {
        time.parse::<Timecode>().or_else(|why| error(line, why.message))?;
    }
    let source = source(start, end).or_else(|why| error(line, why))?;
    // The transition is a cut, or a dissolve, wipe or key with its length.
    let about = match about {
        [about @ .., cut] if cut.eq_ignore_ascii_case("C") => about,
        [about @ .., kind, length]
            if kind.starts_with(['D', 'W', 'K', 'd', 'w', 'k']) && length.bytes().all(|b| b.is_ascii_digit()) =>
        {
            about
        }
        [about @ .., kind] if kind.starts_with(['K', 'k']) => about,
        _ => return Err(shape()),
    };
    let (tracks, reel) = about.split_last().filter(|(_, reel)| !reel.is_empty()).ok_or_else(shape)?;
    let reel = reel.join(" ");
    let tracks = tracks.to_ascii_uppercase();
    // `B` is picture and sound.
    let seen = (tracks.contains('V') || tracks == "B") && !reel.eq_ignore_ascii_case(BLACK);
    let event = seen.then(|| Event {
        line,
        reel: Some(reel).filter(|reel| !reel.eq_ignore_ascii_case(NO_REEL)),
        source,
        ..Event::default()
    });
    Ok(((*number).to_owned(), event))
}
