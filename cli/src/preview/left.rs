//! Edits that an earlier server left, which are offered again: which of them are of which look.
//!
//! A file of them is the look's document, whole, under comment lines that say what it is of: the look, its file, the show, and
//! the document that it began with. They are found again when the show or its folder was moved or renamed since, too.

use super::look::Session;
use super::unsaved::{is_held, state_folder, tidy};
use crate::disk;
use rushlight::files::sha256;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// How a file of edits begins; comments of TOML, so that it is a look by itself.
const FIRST: &str = "# Edits that `rushlight preview` kept because they were not saved.";
/// Before the name of the look, and its file.
const LOOK: &str = "# The look ";
/// Before the show's title, its file, and the look's as the show names it.
const SHOW: &str = "# Of the show ";
/// Before the checksum of the document that the edits began with.
const BEGAN: &str = "# Made on a document with SHA-256 ";
/// Lines above the document, at most.
const LINES: usize = 4;
/// A file that is larger is none of ours.
const LARGEST: u64 = 16 << 20;

/// The show that a look is of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Of {
    pub(super) title: String,
    /// Where its file is.
    pub(super) place: PathBuf,
}

/// Edits that a server left which was ended before they were saved.
#[derive(Debug, Clone)]
pub(super) struct Left {
    /// Where they are kept.
    pub(super) path: PathBuf,
    /// The look, and its file.
    pub(super) look: String,
    pub(super) of: PathBuf,
    /// The show, and the look's file as it names it.
    show: Option<(Of, String)>,
    /// The checksum of the document that they were made on.
    pub(super) began: String,
    pub(super) text: String,
}

/// What is kept of a look.
pub(super) fn document(look: &Session, show: &Of) -> String {
    let began = sha256(look.disk().as_bytes());
    // Each as one line, whatever the names have in them.
    let quoted = |text: &str| serde_json::Value::from(text).to_string();
    let path = |path: &Path| quoted(&path.to_string_lossy());
    format!(
        "{FIRST}\n{LOOK}{}, of {}\n{SHOW}{}, {}, as {}\n{BEGAN}{began}\n{}",
        quoted(&look.name),
        path(&look.place),
        quoted(&show.title),
        path(&show.place),
        quoted(&look.file),
        look.text()
    )
}

/// Quoted texts of a line, with what stands between them.
fn texts<const N: usize>(line: &str, between: [&str; N]) -> Option<Vec<String>> {
    let mut rest = line;
    let mut found = Vec::new();
    for part in std::iter::once("").chain(between) {
        rest = rest.strip_prefix(part)?;
        let mut values = serde_json::Deserializer::from_str(rest).into_iter::<String>();
        found.push(values.next()?.ok()?);
        rest = &rest[values.byte_offset()..];
    }
    Some(found)
}

fn read(file: &Path) -> Option<Left> {
    if fs::metadata(file).ok()?.len() > LARGEST {
        return None;
    }
    let whole = disk::read_document(file).ok()?;
    let head = whole.match_indices('\n').take(LINES).find(|(end, _)| {
        let start = whole[..*end].rfind('\n').map_or(0, |at| at + 1);
        whole[start..*end].starts_with(BEGAN)
    });
    let (head, text) = head.map(|(end, _)| whole.split_at(end + 1))?;
    let line = |start: &str| head.lines().find_map(|line| line.strip_prefix(start));
    let began = line(BEGAN).filter(|_| head.starts_with(FIRST))?;
    let [look, of] = texts(line(LOOK)?, [", of "])?.try_into().ok()?;
    let show = line(SHOW).and_then(|line| {
        let [title, place, file] = texts(line, [", ", ", as "])?.try_into().ok()?;
        Some((Of { title, place: place.into() }, file))
    });
    let (began, text) = (began.to_owned(), text.to_owned());
    Some(Left { path: file.to_owned(), look, of: of.into(), show, began, text })
}

/// All that servers left which are gone, the newest first.
pub(super) fn all() -> Vec<Left> {
    let folders = state_folder().and_then(|folder| fs::read_dir(folder).ok()).into_iter().flatten().flatten();
    let folders = folders.map(|entry| entry.path()).filter(|folder| !is_held(folder));
    let files = folders.flat_map(|folder| fs::read_dir(folder).into_iter().flatten().flatten());
    let files = files.map(|entry| entry.path()).filter(|path| path.extension().is_some_and(|end| end == "toml"));
    let when = |file: &PathBuf| fs::metadata(file).and_then(|m| m.modified()).unwrap_or(SystemTime::UNIX_EPOCH);
    let mut files: Vec<(SystemTime, PathBuf)> = files.map(|file| (when(&file), file)).collect();
    files.sort();
    files.iter().rev().filter_map(|(_, file)| read(file)).collect()
}

/// How surely edits are of a look, the surest first; none where they are not.
fn rank(left: &Left, look: &Session, show: &Of) -> Option<u8> {
    if left.of == look.place {
        return Some(u8::from(left.look != look.name));
    }
    // A folder that was moved or renamed: nothing stands any more where it was.
    let moved = !left.of.exists();
    let same = |(of, file): &(Of, String)| of.title == show.title && *file == look.file;
    match () {
        () if moved && left.began == sha256(look.disk().as_bytes()) => Some(2),
        () if moved && left.show.as_ref().is_some_and(same) => Some(3),
        () => None,
    }
}

/// Offers each look the newest edits that were left of it, those of its own name first. What is given are edits of looks that
/// the show does not have.
pub(super) fn offer<'s>(looks: impl Iterator<Item = &'s mut Session>, show: &Of) -> Vec<Left> {
    let mut left: Vec<Option<Left>> = all().into_iter().map(Some).collect();
    let mut looks: Vec<&mut Session> = looks.collect();
    for wanted in 0..4 {
        for look in looks.iter_mut().filter(|look| look.left().is_none()) {
            let fits = |left: &&mut Option<Left>| {
                left.as_ref().is_some_and(|left| rank(left, look, show).is_some_and(|rank| rank == wanted))
            };
            let found = left.iter_mut().find(fits).and_then(Option::take);
            if found.is_some() {
                look.offer(found);
            }
        }
    }
    let is_own = |left: &Left| {
        let of = left.show.as_ref().map(|(of, _)| of);
        of.is_some_and(|of| of.place == show.place || (!of.place.exists() && of.title == show.title))
    };
    // Older edits of a look that has been offered newer ones come after those.
    let is_of_none = |left: &Left| looks.iter().all(|look| rank(left, look, show).is_none());
    let mut seen = BTreeSet::new();
    let alone = left.into_iter().flatten().filter(|left| is_own(left) && is_of_none(left));
    alone.filter(|left| seen.insert((left.of.clone(), left.look.clone()))).collect()
}

/// Takes edits away that were taken up, or are not wanted, and their folder once it has no more.
pub(super) fn take_away(file: &Path) {
    let _ = fs::remove_file(file);
    if let Some(folder) = file.parent().filter(|folder| !is_held(folder)) {
        tidy(folder);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_are_read_as_they_were_quoted() {
        let odd = ["a", "b \"c\", of \"d\"", "e\nf\\g"];
        let line = format!(
            "{}, {}, as {}",
            serde_json::Value::from(odd[0]),
            serde_json::Value::from(odd[1]),
            serde_json::Value::from(odd[2])
        );
        assert_eq!(texts(&line, [", ", ", as "]).unwrap(), odd);
        assert!(texts("\"a\" of", [", of "]).is_none() && texts("", [", "]).is_none());
    }
}
