//! A correction in the text of the file that has it.

use rushlight::format::LineErrors;
use rushlight::format::cdl::{self, CdlFile, Correction, Kind, Namespace, Remarks};
use rushlight::format::events::{self, Event, texts};
use rushlight::format::shot_list::{self, Form};
use rushlight::step::cdl::CdlNumbers;

/// What a file is by its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum FileKind {
    Corrections,
    List(Form),
}

impl FileKind {
    /// What files that are written to may be.
    pub(super) fn of(file: &str) -> Result<Self, String> {
        let extension = file.rsplit_once('.').map_or("", |(_, extension)| extension);
        match (Kind::from_extension(extension), Form::from_extension(extension)) {
            (Some(_), _) => Ok(Self::Corrections),
            (_, Some(Form::Otio)) => Err(format!(
                "{file}: OpenTimelineIO's JSON is read and not written: convert it to an .ale, .csv or .edl"
            )),
            (_, Some(form)) => Ok(Self::List(form)),
            _ => Err(format!("{file}: it must end in .cc, .ccc, .cdl, .ale, .csv or .edl")),
        }
    }
}

fn in_file(file: &str) -> impl Fn(LineErrors) -> String {
    move |wrong| format!("{file}: {wrong}")
}

/// The numbers of a shot as a text has them; none where it does not have the shot.
pub(super) fn numbers(file: &str, text: &str, id: &str, column: Option<&str>) -> Result<Option<CdlNumbers>, String> {
    let read = match FileKind::of(file)? {
        FileKind::Corrections => cdl::read_each(text.as_bytes()),
        FileKind::List(form) => {
            shot_list::read_each(text.as_bytes(), form, column).map(shot_list::ShotList::into_corrections)
        }
    };
    let read = read.map_err(in_file(file))?;
    let found = if id.is_empty() { read.corrections.first() } else { read.get(id) };
    Ok(found.map(|correction| correction.numbers))
}

/// The text with other numbers of a shot.
pub(super) fn entered(
    file: &str,
    text: &str,
    id: &str,
    column: Option<&str>,
    numbers: &CdlNumbers,
) -> Result<String, String> {
    let made = match FileKind::of(file)? {
        FileKind::Corrections => cdl::enter(text, Some(id).filter(|id| !id.is_empty()), numbers),
        FileKind::List(form) => {
            // Rows of the shot that have none stay so.
            let has_one = |event: &Event| !event.sop.is_empty() || !event.sat.is_empty();
            let of = |event: &Event| (event.name == id && has_one(event)).then_some(*numbers);
            events::enter(text.as_bytes(), form, column, of)
        }
    };
    made.map_err(in_file(file))
}

/// A shot that is new to a file.
#[derive(Debug, Default)]
pub(super) struct NewShot<'s> {
    pub(super) name: &'s str,
    pub(super) numbers: CdlNumbers,
    pub(super) reel: Option<&'s str>,
    pub(super) note: Option<&'s str>,
}

/// The text with one more shot; of none, a new file.
pub(super) fn appended(file: &str, text: Option<&str>, shot: &NewShot<'_>) -> Result<String, String> {
    let correction = || Correction {
        id: Some(shot.name.to_owned()),
        numbers: shot.numbers,
        remarks: Remarks { descriptions: shot.note.map(str::to_owned).into_iter().collect(), ..Remarks::default() },
        media: shot.reel.map(str::to_owned).into_iter().collect(),
        ..Correction::default()
    };
    match (FileKind::of(file)?, text) {
        (FileKind::Corrections, Some(text)) => cdl::append(text, &correction()).map_err(in_file(file)),
        (FileKind::Corrections, None) => {
            let extension = file.rsplit_once('.').map_or("", |(_, extension)| extension);
            let kind = Kind::from_extension(extension).unwrap_or(Kind::Collection);
            let (namespace, remarks) = (Namespace::default(), Remarks::default());
            let made = CdlFile { kind, namespace, remarks, corrections: vec![correction()], refused: Vec::new() };
            cdl::write_made(&made, &crate::disk::maker()).map_err(|refused| format!("{file}: {}", refused[0]))
        }
        (FileKind::List(form), Some(text)) => {
            let [sop, sat] = texts(&shot.numbers);
            let reel = shot.reel.map(str::to_owned);
            let event = Event { name: shot.name.to_owned(), reel, sop, sat, ..Event::default() };
            events::append(text.as_bytes(), form, None, &event).map_err(in_file(file))
        }
        (FileKind::List(_), None) => Err(format!("{file}: there is no such list")),
    }
}
