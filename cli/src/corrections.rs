//! Files of corrections: ASC CDL as XML, shot lists and event lists.

use crate::disk::read_bytes;
use crate::failure::Failure;
use rushlight::format::cdl::{self, CdlFile, Kind};
use rushlight::format::shot_list::{self, Form};
use rushlight::format::{LineError, LineErrors};
use std::path::Path;

/// What a file was read as.
pub(crate) enum Read {
    Cdl(CdlFile),
    /// A list, its corrections with the names of the shots for ids, and how many rows have none.
    List(Form, CdlFile, usize),
}

impl Read {
    pub(crate) const fn file(&self) -> &CdlFile {
        match self {
            Self::Cdl(file) | Self::List(_, file, _) => file,
        }
    }
}

fn extension(path: &Path) -> &str {
    path.extension().and_then(|e| e.to_str()).unwrap_or_default()
}

/// The kind of a file of corrections, by its name.
pub(crate) fn kind(path: &Path) -> Option<Kind> {
    Kind::from_extension(extension(path))
}

/// The form of a shot list, by its name.
pub(crate) fn form(path: &Path) -> Option<Form> {
    Form::from_extension(extension(path))
}

/// Whether a file holds corrections, by its name.
pub(crate) fn is_corrections(path: &Path) -> bool {
    kind(path).is_some() || form(path).is_some()
}

/// All that is wrong in a file, by line.
pub(crate) fn wrong<'e>(path: &Path, wrong: impl IntoIterator<Item = &'e LineError>) -> String {
    let lines = wrong.into_iter().map(|e| format!("{}, {e}", path.display()));
    lines.collect::<Vec<_>>().join("\n")
}

/// Reads a file, correction by correction; `column` names the shots of a list.
pub(crate) fn load(path: &Path, column: Option<&str>) -> Result<Read, Failure> {
    let bytes = read_bytes(path)?;
    let fail = |all: LineErrors| Failure::new(wrong(path, &all));
    let Some(form) = form(path) else {
        return cdl::read_each(&bytes).map(Read::Cdl).map_err(fail);
    };
    let list = shot_list::read_each(&bytes, form, column).map_err(fail)?;
    let without = list.without;
    Ok(Read::List(form, list.into_corrections(), without))
}
