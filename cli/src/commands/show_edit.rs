//! Edits one camera in a show document; comments and layout stay.

use crate::disk::{Expected, Folder, Replaced, read_document, replace};
use crate::failure::Failure;
use crate::system;
use rushlight::show::{Show, day};
use std::path::Path;
use toml_edit::{Array, DocumentMut, InlineTable, Item, TableLike, Value, value};

/// A show that is being changed.
pub(crate) struct ShowEdit<'a> {
    pub(crate) path: &'a Path,
    /// What is written, for errors: `the ratings`.
    what: &'static str,
    /// Its text as it was read.
    was: String,
    document: DocumentMut,
}

/// What was measured, and by which frames.
pub(crate) struct Note<'n> {
    /// What it is, such as colours.
    pub(crate) what: String,
    /// The day of the test.
    pub(crate) date: Option<&'n str>,
    /// Paths of the frames, each with its SHA-256.
    pub(crate) frames: Vec<(&'n Path, &'n str)>,
}

impl Note<'_> {
    fn table(&self) -> InlineTable {
        let mut frames = InlineTable::new();
        for (path, sha256) in &self.frames {
            // Two frames of one name in two folders differ by the folder.
            let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
            let name = if frames.contains_key(&name) { system::in_document(path) } else { name };
            frames.insert(name, Value::from(*sha256));
        }
        let mut table = InlineTable::new();
        table.insert("what", Value::from(self.what.as_str()));
        if let Some(date) = self.date {
            table.insert("date", Value::from(date));
        }
        table.insert("frames", Value::InlineTable(frames));
        table.fmt();
        table
    }
}

/// A show that was changed, and is sound.
pub(crate) struct Edited<'a> {
    pub(crate) path: &'a Path,
    was: String,
    text: String,
}

impl<'a> ShowEdit<'a> {
    pub(crate) fn open(path: &'a Path, what: &'static str) -> Result<Self, Failure> {
        let was = read_document(path)?;
        let document = was.parse().map_err(|e: toml_edit::TomlError| fail(path, what, e.message()))?;
        Ok(Self { path, what, was, document })
    }

    /// Why it cannot be changed.
    pub(crate) fn fail(&self, why: &str) -> Failure {
        fail(self.path, self.what, why)
    }

    /// The table of a camera.
    pub(crate) fn camera(&mut self, name: &str) -> Result<&mut dyn TableLike, Failure> {
        let missing = self.fail(&format!("it has no table cameras.{name}"));
        self.document
            .get_mut("cameras")
            .and_then(|c| c.as_table_like_mut())
            .and_then(|c| c.get_mut(name))
            .and_then(|c| c.as_table_like_mut())
            .ok_or(missing)
    }

    /// Notes a measurement of a camera, in place of an earlier one of the same quantity.
    pub(crate) fn note(&mut self, camera: &str, note: &Note<'_>) -> Result<(), Failure> {
        let table = self.camera(camera)?;
        if !table.contains_key("measured") {
            table.insert("measured", value(Array::new()));
        }
        let new = note.table();
        let what = |item: Option<&Item>| item.and_then(Item::as_str) == Some(note.what.as_str());
        let list = table.get_mut("measured");
        if let Some(tables) = list.and_then(Item::as_array_of_tables_mut) {
            let at = tables.iter().position(|t| what(t.get("what")));
            match at.and_then(|at| tables.get_mut(at)) {
                Some(old) => *old = new.into_table(),
                None => tables.push(new.into_table()),
            }
            return Ok(());
        }
        let Some(array) = self.camera(camera)?.get_mut("measured").and_then(Item::as_array_mut) else {
            return Err(self.fail("`measured` is not a list of tables"));
        };
        let of =
            |v: &Value| v.as_inline_table().and_then(|t| t.get("what")).and_then(Value::as_str) == Some(&note.what);
        let at = array.iter().position(of);
        match at {
            Some(at) => drop(array.replace(at, new)),
            None => array.push(new),
        }
        Ok(())
    }

    /// The changed show, which must be read again by the show's own reader.
    pub(crate) fn finish(self) -> Result<Edited<'a>, Failure> {
        let text = self.document.to_string();
        parsed(self.path, &text)?;
        Ok(Edited { path: self.path, was: self.was, text })
    }
}

impl Edited<'_> {
    /// The show as it was.
    pub(crate) fn before(&self) -> Result<Show, Failure> {
        parsed(self.path, &self.was)
    }

    /// Puts it in the place of the document, unless that changed meanwhile.
    pub(crate) fn write(&self) -> Result<(), Failure> {
        if let Replaced::Other(_) = replace(self.path, Expected::Text(&self.was), &self.text)? {
            let path = self.path.display();
            return Err(Failure::new(format!("cannot write {path}: it changed since it was read: nothing is written")));
        }
        Ok(())
    }
}

/// The day of a test as an option states it.
pub(crate) fn checked_day(date: Option<&str>) -> Result<(), Failure> {
    date.map_or(Ok(()), |date| day(date).map(drop).map_err(|why| Failure::new(format!("--date: {why}"))))
}

fn fail(path: &Path, what: &str, why: &str) -> Failure {
    Failure::new(format!("cannot write {what} into {}: {why}", path.display()))
}

fn parsed(path: &Path, text: &str) -> Result<Show, Failure> {
    let folder = Folder::of(path);
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    Show::parse(&name, text, &folder).map_err(|problems| folder.failure(problems))
}
