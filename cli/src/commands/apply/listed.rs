//! `--list`: which correction each file has, by an event list.

use super::how::Correction;
use super::plan::{Direction, Item};
use crate::args::Apply as Args;
use crate::corrections::{form, wrong};
use crate::disk::read_bytes;
use crate::failure::Failure;
use crate::ffmpeg;
use crate::target;
use rushlight::clips::{Assigned, Clip, assign};
use rushlight::format::LineError;
use rushlight::format::events::{self, Event};
use rushlight::format::timecode::Timecode;
use rushlight::show::Show;
use serde::Serialize;
use std::path::{Path, PathBuf};

/// Files that have the same correction, or none.
pub(super) struct Part {
    pub(super) items: Vec<Item>,
    pub(super) correction: Option<Correction>,
}

/// What the list says of the files.
#[derive(Debug, Default, Serialize)]
pub(super) struct Found {
    /// Each file with its shot.
    pub(super) shots: Vec<(PathBuf, String)>,
    /// Files for which the list has no correction.
    pub(super) without: Vec<PathBuf>,
    /// Events of the list for which no file is here, in words.
    pub(super) unused: Vec<String>,
}

/// The files of `items`, by their corrections, in the order of the files.
pub(super) fn parts(
    items: Vec<Item>,
    way: Direction,
    list: &Path,
    show: &Path,
    args: &Args,
) -> Result<(Vec<Part>, Found), Failure> {
    let Some(form) = form(list) else {
        return Err(Failure::new(format!("--list {}: the name must end in .edl, .ale, .csv or .otio", list.display())));
    };
    let bytes = read_bytes(list)?;
    let read = events::read(&bytes, form, args.column.as_deref());
    let events = read.map_err(|all| Failure::new(wrong(list, &all)))?.events;
    let show = target::load(show, &args.pick)?.show;
    let corrections = corrections(&events, &show).map_err(|all| Failure::new(wrong(list, &all)))?;
    let clips = items.iter().map(|item| clip(item, way)).collect::<Result<Vec<_>, _>>()?;
    let Assigned { events: by_clip, unused } = assign(&clips, &events);
    let mut found = Found::default();
    let mut parts: Vec<Part> = Vec::new();
    for (item, of) in items.into_iter().zip(by_clip) {
        let mut correction: Option<(usize, &Correction)> = None;
        for at in of {
            let Some(next) = corrections.get(at).and_then(Option::as_ref) else { continue };
            match correction {
                Some((first, one)) if one.numbers != next.numbers => {
                    let lines = [first, at].map(|at| events.get(at).map_or(0, |e| e.line));
                    return Err(Failure::new(format!(
                        "{}: lines {} and {} of {} give it different corrections: cut it into a clip for each, or give \
                         --shot for it alone",
                        item.input.display(),
                        lines[0],
                        lines[1],
                        list.display()
                    )));
                }
                Some(_) => {}
                None => correction = Some((at, next)),
            }
        }
        let correction = correction.map(|(_, one)| one.clone());
        match &correction {
            Some(one) => found.shots.push((item.input.clone(), one.shot.clone())),
            None => found.without.push(item.input.clone()),
        }
        match parts.iter_mut().find(|part| part.correction == correction) {
            Some(part) => part.items.push(item),
            None => parts.push(Part { items: vec![item], correction }),
        }
    }
    found.unused = unused.iter().filter_map(|at| events.get(*at)).map(said).collect();
    Ok((parts, found))
}

/// An event in words.
fn said(event: &Event) -> String {
    let time = event.source.map(|[start, _]| format!(" at {start}")).unwrap_or_default();
    let reel = event.reel.as_deref().map(|reel| format!(", reel {reel}")).unwrap_or_default();
    format!("{} (line {}{reel}{time})", event.called(), event.line)
}

/// The correction of each event: its own, or else that of the show's shot of its name.
fn corrections(events: &[Event], show: &Show) -> Result<Vec<Option<Correction>>, Vec<LineError>> {
    let mut wrong = Vec::new();
    let mut corrections = Vec::new();
    for event in events {
        let mut refuse = |message: String| wrong.push(LineError { line: event.line, message });
        event.unusable.iter().chain(&event.untimed).for_each(|why| refuse(format!("{}: {why}", event.called())));
        let of_show = show.shots().get(&event.name);
        let (numbers, of_show) = match event.correction() {
            Ok(Some(numbers)) => (Some(numbers), of_show.is_some()),
            Ok(None) => (of_show.map(|shot| shot.numbers), of_show.is_some()),
            Err(all) => {
                all.iter().for_each(|why| refuse(format!("{}: {why}", event.called())));
                (None, false)
            }
        };
        let shot = event.called().to_owned();
        corrections.push(numbers.map(|numbers| Correction { shot, numbers, of_show }));
    }
    if wrong.is_empty() { Ok(corrections) } else { Err(wrong) }
}

/// What a file says of itself.
fn clip(item: &Item, way: Direction) -> Result<Clip, Failure> {
    let name = |path: &Path| path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    if !way.reads_clips() {
        return Ok(Clip { file: still(&name(&item.input), item.number.is_some()), ..Clip::default() });
    }
    let of = ffmpeg::Clip::open(&item.input)?;
    Ok(Clip {
        file: name(&item.input),
        timecode: of.timecode.as_deref().and_then(|text| text.parse::<Timecode>().ok()),
        frames: of.length(),
        rate: of.rate(),
        reel: of.reel,
    })
}

/// The name of a still, without the number that it has in a sequence.
fn still(name: &str, numbered: bool) -> String {
    match name.rsplit_once('.') {
        Some((stem, extension)) if numbered => {
            let stem = stem.trim_end_matches(|c: char| c.is_ascii_digit()).trim_end_matches(['.', '_', '-']);
            format!("{stem}.{extension}")
        }
        _ => name.to_owned(),
    }
}
