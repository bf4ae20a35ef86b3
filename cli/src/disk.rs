//! Files: reading them beside a document, and writing them whole or not at all.
//!
//! `read` is the one place that opens files to read them, `write` the one that gives files their names: what was read is
//! never written over, and nor is what may not be. `replace` puts another text into a document of the user's, `folder` makes
//! folders, `temporary` names what has no name yet, and takes away what killed runs left of it.

mod folder;
mod interrupt;
mod lines;
mod read;
mod replace;
mod temporary;
mod write;

pub(crate) use folder::NewFolder;
pub(crate) use interrupt::{tidy_up_when_interrupted, when_interrupted};
pub(crate) use read::{
    LARGEST, check_opens, open, peek, read_bytes, read_document, read_end, read_regular, read_start, read_text,
    regular, sha256_of,
};
pub(crate) use replace::{Expected, Replaced, replace};
pub(crate) use temporary::{Leftovers, Passing};
pub(crate) use write::{Batch, Pending, check, maker, not_ours, says_ours, write, write_by, write_within};

use crate::failure::Failure;
use rushlight::document::Problems;
use rushlight::files::{FileError, Files};
use std::ffi::OsStr;
use std::fs;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// Why a file is not written beside another whose name differs by case alone.
pub(crate) const SAME_NAME: &str =
    "it would be the same file as another on some systems, which take names in any case: rename one";

/// The names in a folder, sorted; none where it cannot be read.
pub(crate) fn names(dir: &Path) -> Vec<String> {
    let entries = fs::read_dir(dir).into_iter().flatten().flatten();
    let mut names: Vec<String> = entries.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

/// The folder of a document.
pub(crate) struct Folder(PathBuf);

impl Folder {
    /// The folder that holds `document`.
    pub(crate) fn of(document: &Path) -> Self {
        Self(document.parent().unwrap_or(Path::new("")).to_owned())
    }

    /// Where a file within it is, by the name that the document has for it.
    pub(crate) fn within(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }

    /// The same for the target of a link, as far as it can be resolved.
    pub(crate) fn place(&self, name: &str) -> PathBuf {
        let path = self.within(name);
        path.canonicalize().or_else(|_| std::path::absolute(&path)).unwrap_or(path)
    }

    /// Problems of the documents within, each under the path by which the user finds its file from where they stand.
    pub(crate) fn failure(&self, documents: impl IntoIterator<Item = Problems>) -> Failure {
        let found = |p: Problems| Problems { name: self.0.join(&p.name).display().to_string(), ..p };
        Failure::Documents(documents.into_iter().map(found).collect())
    }
}

impl Files for Folder {
    fn read(&self, name: &str) -> Result<Vec<u8>, FileError> {
        Ok(read::regular(&self.0.join(name))?)
    }

    fn names(&self, folder: &str) -> Vec<String> {
        let entries = fs::read_dir(self.0.join(folder).join(".")).into_iter().flatten().flatten().take(1000);
        entries.filter_map(|entry| entry.file_name().into_string().ok()).collect()
    }
}

/// What an error of the system means, without its number.
pub(crate) fn plainly(error: &io::Error) -> String {
    match error.kind() {
        ErrorKind::NotFound => FileError::MISSING.to_owned(),
        ErrorKind::PermissionDenied => "permission denied".to_owned(),
        ErrorKind::NotADirectory => "a part of the path is a file, not a folder".to_owned(),
        ErrorKind::IsADirectory => "it is a folder".to_owned(),
        ErrorKind::AlreadyExists => "a file of that name exists".to_owned(),
        ErrorKind::StorageFull => "the disk is full".to_owned(),
        ErrorKind::ReadOnlyFilesystem => "the disk is read-only".to_owned(),
        _ => error.to_string(),
    }
}

/// The folder that a file is in.
pub(crate) fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|folder| *folder != Path::new("")).unwrap_or(Path::new("."))
}

fn name_of(path: &Path) -> Result<&OsStr, Failure> {
    path.file_name().ok_or_else(|| unwritten(path, "it names no file"))
}

/// That a file cannot be written, and why.
pub(crate) fn unwritten(path: &Path, why: &str) -> Failure {
    Failure::new(format!("cannot write {}: {why}", path.display()))
}
