//! What was done to the shots of a show, line by line, in a file of this user's: every version outlives the server, however it
//! ends. A line is whole or is not read; the last of a server that was killed may be half.

use super::pins::Pins;
use super::session::{Became, Session};
use crate::disk;
use crate::failure::Failure;
use crate::system;
use rushlight::files::sha256;
use rushlight::step::cdl::CdlNumbers;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs::{self, File, OpenOptions};
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// Bytes of a journal that is written anew, shorter, when a server begins.
const LONG: u64 = 4 << 20;
/// A file that is longer is none of ours.
const LARGEST: u64 = 256 << 20;
/// Letters of the name of a journal.
const NAME: usize = 24;

/// The first line: of which show it is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Head {
    show: String,
    place: PathBuf,
}

/// What was done to a shot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Entry {
    shot: String,
    #[serde(flatten)]
    what: What,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum What {
    /// New numbers; `on` is what the file had.
    Enter { numbers: CdlNumbers, words: String, on: CdlNumbers },
    /// Other numbers of the same drag.
    Drag { numbers: CdlNumbers, words: String },
    /// Another of its versions.
    Go { at: usize },
    /// The file has these numbers; whether another program wrote them under edits that are not saved.
    File {
        numbers: CdlNumbers,
        #[serde(default)]
        outside: bool,
    },
    /// These places are read; `on` is what the file had.
    Pins { pins: Pins, on: CdlNumbers },
    /// It is called something else.
    Renamed { to: String },
    /// It was deleted: one that is made under its name is another.
    Deleted {},
}

impl Entry {
    /// What a change of a shot is in the journal; none where nothing changed.
    pub(super) fn of(shot: &str, session: &Session, became: Became) -> Option<Self> {
        let (numbers, words) = (session.numbers(), session.now().words.clone());
        let what = match became {
            Became::Same => return None,
            Became::New => What::Enter { numbers, words, on: session.saved() },
            Became::Dragged => What::Drag { numbers, words },
            Became::Moved => What::Go { at: session.at() },
        };
        Some(Self { shot: shot.to_owned(), what })
    }

    /// The pins of a shot.
    pub(super) fn pins(shot: &str, session: &Session) -> Self {
        Self { shot: shot.to_owned(), what: What::Pins { pins: session.pins.clone(), on: session.saved() } }
    }

    /// That a shot has another name from now on.
    pub(super) fn renamed(shot: &str, to: &str) -> Self {
        Self { shot: shot.to_owned(), what: What::Renamed { to: to.to_owned() } }
    }

    /// That a shot was deleted.
    pub(super) fn deleted(shot: &str) -> Self {
        Self { shot: shot.to_owned(), what: What::Deleted {} }
    }

    /// That the file of a shot has these numbers.
    pub(super) fn file(shot: &str, session: &Session) -> Self {
        let what = What::File { numbers: session.saved(), outside: session.is_outside() };
        Self { shot: shot.to_owned(), what }
    }
}

/// The journal of a show.
#[derive(Debug, Default)]
pub(super) struct Journal {
    path: Option<PathBuf>,
    head: Option<Head>,
    file: Option<File>,
}

impl Journal {
    /// That of the show whose document is at `place`, and the shots that it has. A folder that was moved or renamed since is
    /// found by the show's title, if nothing stands any more where it was.
    pub(super) fn open(title: &str, place: &Path) -> (Self, BTreeMap<String, Session>) {
        let Some(folder) = system::state_folder().map(|folder| folder.join("rushlight").join("shots")) else {
            return (Self::default(), BTreeMap::new());
        };
        let head = Head { show: title.to_owned(), place: place.to_owned() };
        let path = folder.join(name_of(place));
        let from = if path.exists() { Some(path.clone()) } else { moved(&folder, &head) };
        let all = from.as_deref().and_then(read).map(|(_, entries)| replayed(entries)).unwrap_or_default();
        let mut journal = Self { path: Some(path.clone()), head: Some(head), file: None };
        let is_long = fs::metadata(&path).is_ok_and(|about| about.len() > LONG);
        if is_long || from.as_ref().is_some_and(|from| *from != path) {
            // Where it cannot be written, what there is stays as it is.
            let _ = journal.write_anew(&all);
        }
        (journal, all)
    }

    /// Adds lines.
    pub(super) fn add(&mut self, entries: &[Entry]) -> Result<(), Failure> {
        let text: String =
            entries.iter().filter_map(|entry| serde_json::to_string(entry).ok()).map(|l| l + "\n").collect();
        if text.is_empty() {
            return Ok(());
        }
        let fail = |e: std::io::Error| Failure::new(disk::plainly(&e));
        let file = match &mut self.file {
            Some(file) => file,
            none => none.insert(begun(self.path.as_deref(), self.head.as_ref())?),
        };
        // One write, so that the lines of two servers do not lie in one another.
        let done = file.write_all(text.as_bytes());
        if done.is_err() {
            self.file = None;
        }
        done.map_err(fail)
    }

    /// The versions of all shots and nothing else, in the place of what there is.
    fn write_anew(&mut self, all: &BTreeMap<String, Session>) -> Result<(), Failure> {
        let (Some(path), Some(head)) = (&self.path, &self.head) else { return Ok(()) };
        let mut lines = vec![serde_json::to_string(head).unwrap_or_default()];
        for (shot, session) in all {
            let mut entries = Vec::new();
            for (i, version) in session.versions().iter().enumerate() {
                let (numbers, words, on) = (version.numbers, version.words.clone(), session.saved());
                let what =
                    if i == 0 { What::File { numbers, outside: false } } else { What::Enter { numbers, words, on } };
                entries.push(Entry { shot: shot.clone(), what });
            }
            entries.push(Entry { shot: shot.clone(), what: What::Go { at: session.at() } });
            entries.push(Entry::file(shot, session));
            if session.pins != Pins::default() {
                entries.push(Entry::pins(shot, session));
            }
            lines.extend(entries.iter().filter_map(|entry| serde_json::to_string(entry).ok()));
        }
        fs::create_dir_all(disk::folder_of(path))?;
        disk::replace(path, disk::Expected::Anything, &(lines.join("\n") + "\n")).map(|_| ())
    }
}

/// The journal, open at its end.
fn begun(path: Option<&Path>, head: Option<&Head>) -> Result<File, Failure> {
    let (Some(path), Some(head)) = (path, head) else { return Err(Failure::new("this user has no home folder")) };
    let fail = |e: std::io::Error| Failure::new(format!("cannot write {}: {}", path.display(), disk::plainly(&e)));
    fs::create_dir_all(disk::folder_of(path)).map_err(fail)?;
    let mut file = OpenOptions::new().append(true).create(true).open(path).map_err(fail)?;
    let length = file.metadata().map_err(fail)?.len();
    // A line that a kill cut off ends here.
    let start = if length == 0 { serde_json::to_string(head).unwrap_or_default() } else { String::new() };
    file.write_all(format!("{start}\n").as_bytes()).map_err(fail)?;
    Ok(file)
}

fn name_of(place: &Path) -> String {
    let name: String = sha256(place.to_string_lossy().as_bytes()).chars().take(NAME).collect();
    format!("{name}.jsonl")
}

/// A journal of a show of this title that is not any more where it was.
fn moved(folder: &Path, head: &Head) -> Option<PathBuf> {
    let all = fs::read_dir(folder).into_iter().flatten().flatten().map(|entry| entry.path());
    let mut fits = all.filter(|path| {
        let other = first_line(path);
        other.is_some_and(|other| other.show == head.show && !other.place.exists())
    });
    // Of two nothing says which.
    fits.next().filter(|_| fits.next().is_none())
}

fn first_line(path: &Path) -> Option<Head> {
    let start = disk::read_start(path, 1 << 16);
    let line = start.split(|b| *b == b'\n').next()?;
    serde_json::from_slice(line).ok()
}

fn read(path: &Path) -> Option<(Head, Vec<Entry>)> {
    if fs::metadata(path).ok()?.len() > LARGEST {
        return None;
    }
    let bytes = fs::read(path).ok()?;
    let mut lines = bytes.split(|b| *b == b'\n');
    let head = serde_json::from_slice(lines.next()?).ok()?;
    Some((head, lines.filter_map(|line| serde_json::from_slice(line).ok()).collect()))
}

/// The shots as they were left.
fn replayed(entries: Vec<Entry>) -> BTreeMap<String, Session> {
    let mut all: BTreeMap<String, Session> = BTreeMap::new();
    for Entry { shot, what } in entries {
        // The first line of a shot says what its file had.
        if let What::Enter { on: first, .. } | What::File { numbers: first, .. } | What::Pins { on: first, .. } = &what
        {
            all.entry(shot.clone()).or_insert_with(|| Session::new(*first));
        }
        let Some(session) = all.get_mut(&shot) else { continue };
        match what {
            What::Renamed { to } => drop(all.remove(&shot).map(|session| all.insert(to, session))),
            What::Deleted {} => drop(all.remove(&shot)),
            What::Enter { numbers, words, on } => {
                session.written(on);
                session.push(numbers, &words);
            }
            What::Drag { numbers, words } => session.replace(numbers, &words),
            What::Go { at } => drop(session.go(at)),
            What::File { numbers, outside } => {
                session.written(numbers);
                session.mark_outside(outside);
            }
            What::Pins { pins, .. } => session.pins = pins,
        }
    }
    all.values_mut().for_each(|session| session.here = false);
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    fn slope(slope: f64) -> CdlNumbers {
        CdlNumbers { slope: [slope; 3], ..CdlNumbers::default() }
    }

    fn state(session: &Session) -> (Vec<super::super::session::Version>, usize, CdlNumbers) {
        (session.versions().to_vec(), session.at(), session.saved())
    }

    /// What is done to a shot, and what a server that begins then has of it.
    #[test]
    fn a_shot_is_as_it_was_left() {
        let mut live = Session::new(slope(1.0));
        let mut lines = Vec::new();
        let did = |live: &mut Session, became: Became, lines: &mut Vec<Entry>| {
            lines.extend(Entry::of("12A-3", live, became));
            let text: Vec<String> = lines.iter().map(|l| serde_json::to_string(l).unwrap()).collect();
            let again = text.iter().map(|line| serde_json::from_str(line).unwrap()).collect();
            if let Some(there) = replayed(again).get("12A-3") {
                assert_eq!(state(there), state(live), "{text:?}");
                assert!(!there.here);
            }
        };
        for (n, drag) in [(1.1, None), (1.2, Some("a")), (1.3, Some("a")), (1.4, Some("b"))] {
            let became = live.enter(slope(n), "slope", drag);
            did(&mut live, became, &mut lines);
        }
        for at in [2, 0, 1] {
            let became = live.go(at);
            did(&mut live, became, &mut lines);
        }
        let numbers = live.numbers();
        live.written(numbers);
        lines.push(Entry::file("12A-3", &live));
        did(&mut live, Became::Same, &mut lines);
        let became = live.enter(slope(2.0), "slope", None);
        did(&mut live, became, &mut lines);
        assert!(live.is_unsaved());
        for i in 0..300 {
            let became = live.enter(slope(3.0 + f64::from(i) / 1000.0), "slope", None);
            did(&mut live, became, &mut lines);
        }
    }

    #[test]
    fn a_journal_is_found_again_and_half_a_line_is_none() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("journal.jsonl");
        let head = Head { show: "Saltmarsh".into(), place: dir.path().join("show.toml") };
        let mut journal = Journal { path: Some(path.clone()), head: Some(head.clone()), file: None };
        let mut session = Session::new(slope(1.0));
        let became = session.enter(slope(1.5), "slope", None);
        journal.add(&[Entry::of("a", &session, became).unwrap()]).unwrap();
        OpenOptions::new().append(true).open(&path).unwrap().write_all(b"{\"shot\":\"a\",\"go\":{\"a").unwrap();
        let mut next = Journal { path: Some(path.clone()), head: Some(head.clone()), file: None };
        next.add(&[Entry::file("b", &Session::new(slope(2.0)))]).unwrap();
        let (first, entries) = read(&path).unwrap();
        assert_eq!((first, entries.len()), (head.clone(), 2));
        let all = replayed(entries);
        assert_eq!((all["a"].numbers(), all["b"].saved()), (slope(1.5), slope(2.0)));
        // Pins stay through all of it; a shot of which nothing else is known has them, too.
        let pins: Pins = serde_json::from_str(
            r#"{"frame":"a.exr","width":9,"height":9,"pins":[{"x":1,"y":2,"width":3,"height":4}]}"#,
        )
        .unwrap();
        let mut pinned = Session::new(slope(2.5));
        pinned.pins = pins.clone();
        next.add(&[Entry::pins("a", &pinned), Entry::pins("c", &pinned)]).unwrap();
        let all = replayed(read(&path).unwrap().1);
        assert_eq!((&all["a"].pins, all["a"].numbers()), (&pins, slope(1.5)));
        assert_eq!((&all["c"].pins, all["c"].numbers()), (&pins, slope(2.5)));
        next.write_anew(&all).unwrap();
        let again = replayed(read(&path).unwrap().1);
        assert_eq!(state(&again["a"]), state(&all["a"]));
        assert_eq!((&again["a"].pins, &again["c"].pins), (&pins, &pins));
        // Under another name it is the same shot, and one that was deleted has no past.
        let mut last = Journal { path: Some(path.clone()), head: Some(head.clone()), file: None };
        last.add(&[Entry::renamed("a", "d"), Entry::deleted("c"), Entry::file("c", &pinned)]).unwrap();
        let all = replayed(read(&path).unwrap().1);
        assert_eq!((state(&all["d"]), all.contains_key("a")), (state(&again["a"]), false));
        assert_eq!((all["d"].pins.clone(), all["c"].pins.clone()), (pins, Pins::default()));
        // Where its show is gone, another of the same title takes it over; not where two could.
        let other = Head { show: "Saltmarsh".into(), place: dir.path().join("new/show.toml") };
        assert_eq!(moved(dir.path(), &other), Some(path.clone()));
        fs::copy(&path, dir.path().join("second.jsonl")).unwrap();
        assert_eq!(moved(dir.path(), &other), None);
    }
}
