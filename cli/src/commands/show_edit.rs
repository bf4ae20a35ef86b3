//! A change of one camera in a show document, whose comments and layout stay.

use crate::disk::{Expected, Folder, Replaced, read_document, replace};
use crate::failure::Failure;
use rushlight::show::Show;
use std::path::Path;
use toml_edit::{DocumentMut, TableLike};

/// A show that is being changed.
pub(crate) struct ShowEdit<'a> {
    pub(crate) path: &'a Path,
    /// What is written, for errors: `the ratings`.
    what: &'static str,
    /// Its text as it was read.
    was: String,
    document: DocumentMut,
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

fn fail(path: &Path, what: &str, why: &str) -> Failure {
    Failure::new(format!("cannot write {what} into {}: {why}", path.display()))
}

fn parsed(path: &Path, text: &str) -> Result<Show, Failure> {
    let folder = Folder::of(path);
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    Show::parse(&name, text, &folder).map_err(|problems| folder.failure(problems))
}
