//! Which events of a list are of which clips: by the names of files, or by reel and timecode.

use crate::format::events::Event;
use crate::format::timecode::{Timecode, base};
use std::collections::BTreeMap;

/// A clip with its metadata.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Clip {
    /// The name of its file, without folders.
    pub file: String,
    /// Its reel or tape.
    pub reel: Option<String>,
    /// The timecode of its first frame.
    pub timecode: Option<Timecode>,
    /// The number of its frames.
    pub frames: Option<u64>,
    /// Frames a second.
    pub rate: Option<f64>,
}

/// The result of matching clips and events.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Assigned {
    /// The places of the events of each clip, in their order.
    pub events: Vec<Vec<usize>>,
    /// The places of events that are of no clip.
    pub unused: Vec<usize>,
}

/// Which events are of which clips. An event is of a clip whose file it names, by its source file or its own name, with or
/// without the extension, in any case; or whose reel it names, where the timecodes of both overlap. A reel stands in what
/// the clip says of itself, or begins the name of its file. Where both have timecodes that do not overlap, it is of another
/// clip. Timecode alone is not enough: every day of a shoot counts the same hours.
pub fn assign(given: &[Clip], events: &[Event]) -> Assigned {
    let of = |clip: &Clip| (0..events.len()).filter(|at| is_of(&events[*at], clip)).collect();
    let by_clip: Vec<Vec<usize>> = given.iter().map(of).collect();
    let used: BTreeMap<usize, ()> = by_clip.iter().flatten().map(|at| (*at, ())).collect();
    Assigned { unused: (0..events.len()).filter(|at| !used.contains_key(at)).collect(), events: by_clip }
}

/// A file's name without its extension.
fn stem(name: &str) -> &str {
    name.rsplit_once('.').map_or(name, |(stem, _)| stem)
}

/// The last part of a path or an address, whatever system wrote it.
fn last(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
}

fn is_of(event: &Event, clip: &Clip) -> bool {
    let overlap = overlap(event, clip);
    let same = |a: &str, b: &str| !a.is_empty() && a.eq_ignore_ascii_case(b);
    let file = &clip.file;
    let names = |name: &str| same(name, file) || same(name, stem(file)) || same(stem(name), stem(file));
    if event.file.as_deref().is_some_and(|f| names(last(f))) || same(&event.name, file) || same(&event.name, stem(file))
    {
        return overlap != Some(false);
    }
    let reel = event.reel.as_deref().unwrap_or_default();
    let said = clip.reel.as_deref().map(|of| same(reel, of));
    // What a clip says of its reel may be its whole name, of which a list has the beginning.
    let begins = |name: &str| starts(name, reel);
    let fits = said == Some(true) || clip.reel.as_deref().is_some_and(begins) || (said.is_none() && begins(stem(file)));
    fits && overlap == Some(true)
}

/// Whether a clip's name begins with a reel: A001 begins A001C003 and A001_C003, but not A0012.
fn starts(name: &str, reel: &str) -> bool {
    let Some(start) = name.get(..reel.len()).filter(|_| !reel.is_empty()) else { return false };
    let rest = &name[reel.len()..];
    start.eq_ignore_ascii_case(reel)
        && !rest.starts_with(|c: char| c.is_ascii_digit())
        && (rest.is_empty() || reel.ends_with(|c: char| c.is_ascii_digit()) || !rest.starts_with(char::is_alphanumeric))
}

/// Whether the timecodes of both overlap; none where one has none.
fn overlap(event: &Event, clip: &Clip) -> Option<bool> {
    let base = base(clip.rate?)?;
    let first = clip.timecode?.frame(base).ok()?;
    let [from, to] = event.source?.map(|time| time.frame(base));
    let (from, to) = (from.ok()?, to.ok()?);
    // An event of one frame or of none is where it begins; over midnight, the end is of the next day.
    let day = 24 * 3600 * u64::from(base);
    let to = if to < from { to + day } else { to.max(from + 1) };
    // Of a clip of unknown length the first frame is all that is sure.
    let end = first + clip.frames.unwrap_or(1);
    let within = |shift: u64| from + shift < end && first < to + shift;
    Some(within(0) || (end > day && within(day)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn event(name: &str, reel: &str, file: &str, source: [&str; 2]) -> Event {
        let some = |text: &str| Some(text.to_owned()).filter(|t| !t.is_empty());
        let source = (!source[0].is_empty()).then(|| source.map(|t| t.parse::<Timecode>().unwrap()));
        Event { name: name.to_owned(), reel: some(reel), file: some(file), source, ..Event::default() }
    }

    fn clip(file: &str, reel: &str, start: &str, frames: u64) -> Clip {
        Clip {
            file: file.to_owned(),
            reel: Some(reel.to_owned()).filter(|t| !t.is_empty()),
            timecode: start.parse::<Timecode>().ok(),
            frames: Some(frames),
            rate: Some(24.0),
        }
    }

    #[test]
    fn by_reel_and_timecode_or_by_name() {
        let times = ["01:00:02:00", "01:00:04:00"];
        for (event, fits) in [
            (event("12A-3", "A001", "", times), true),
            (event("12A-3", "a001c003_261125", "", times), true),
            (event("12A-3", "A00", "", times), false),
            (event("12A-3", "A002", "", times), false),
            (event("12A-3", "A001", "", ["", ""]), false),
            (event("12A-3", "A001", "", ["02:00:00:00", "02:00:01:00"]), false),
            (event("12A-3", "", "", times), false),
            (event("A001C003_261125", "", "", ["", ""]), true),
            (event("12A-3", "", "D:\\day 1\\A001C003_261125.mxf", times), true),
            (event("12A-3", "A002", "file:///day/a001c003_261125.MOV", times), true),
            (event("12A-3", "", "A001C003_261125.mov", ["02:00:00:00", "02:00:01:00"]), false),
        ] {
            for reel in ["A001C003_261125", ""] {
                let clip = clip("A001C003_261125.mov", reel, "01:00:00:00", 96);
                assert_eq!(is_of(&event, &clip), fits, "{event:?} {reel}");
            }
        }
        // The reel that a clip says goes before the name of its file.
        let renamed = clip("A001C003.mov", "B004", "01:00:00:00", 96);
        assert!(
            !is_of(&event("12A-3", "A001", "", times), &renamed) && is_of(&event("31-2", "B004", "", times), &renamed)
        );
    }

    #[test]
    fn the_end_of_a_clip_is_no_part_of_it() {
        let clip = clip("A001.mov", "", "01:00:00:00", 48);
        let at = |from, to| is_of(&event("", "A001", "", [from, to]), &clip);
        assert!(
            at("01:00:01:23", "01:00:02:00") && !at("01:00:02:00", "01:00:03:00") && !at("00:59:59:00", "01:00:00:00")
        );
        assert!(at("00:59:59:00", "01:00:00:01") && at("01:00:01:00", "01:00:01:00"));
        let late = self::clip("A001.mov", "", "23:59:59:00", 48);
        assert!(is_of(&event("", "A001", "", ["00:00:00:00", "00:00:00:12"]), &late));
        assert!(is_of(&event("", "A001", "", ["23:59:59:12", "00:00:00:12"]), &late));
    }

    #[test]
    fn an_event_is_of_a_clip_of_unknown_length_where_it_has_its_first_frame() {
        let clip = Clip { frames: None, ..clip("A001C003.mxf", "", "01:00:00:00", 0) };
        let at = |from, to| is_of(&event("", "A001", "", [from, to]), &clip);
        assert!(at("01:00:00:00", "01:00:00:05") && at("00:59:59:00", "01:00:00:01"));
        assert!(!at("02:00:00:00", "02:00:00:05") && !at("01:00:00:01", "01:00:00:05"));
    }

    #[test]
    fn what_is_left_over_is_listed() {
        let clips = [clip("A001C003.mov", "", "01:00:00:00", 96), clip("A001C004.mov", "", "02:00:00:00", 96)];
        let events = [
            event("12A-3", "A001", "", ["01:00:00:00", "01:00:01:00"]),
            event("12B-1", "A001", "", ["03:00:00:00", "03:00:01:00"]),
            event("12A-3", "A001", "", ["01:00:02:00", "01:00:03:00"]),
        ];
        assert_eq!(assign(&clips, &events), Assigned { events: vec![vec![0, 2], vec![]], unused: vec![1] });
    }
}
