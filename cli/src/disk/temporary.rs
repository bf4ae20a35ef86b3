//! Files and folders that have no name yet. Their temporary names begin alike and hold the name that they will have; the run
//! that writes them holds them, so that others can tell what was left behind.

use super::interrupt::unfinished;
use crate::system;
use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// How temporary files begin; the name that they will have follows.
const BEGINNING: &str = ".rushlight-";
/// Bytes of that name that find room beside the rest: systems take 255 in all.
const ROOM: usize = 200;
/// The end of a temporary file or folder that has no other.
pub(super) const END: &str = ".tmp";
/// The end of the file beside a temporary folder that is held in its place: not every system can lock a folder.
pub(super) const HELD: &str = ".held";

/// The name that a file will have, as part of a temporary one.
fn part_of(name: &OsStr) -> String {
    let name = name.to_string_lossy();
    let end = (0..=name.len().min(ROOM)).rev().find(|at| name.is_char_boundary(*at)).unwrap_or(0);
    name[..end].to_owned()
}

/// What runs left unfinished in a folder, as it was found there, by the name that each was to have.
#[derive(Debug, Default)]
pub(crate) struct Leftovers(BTreeMap<String, Vec<PathBuf>>);

impl Leftovers {
    /// Those of a folder; none of one that cannot be listed.
    pub(crate) fn of(dir: &Path) -> Self {
        let mut found: BTreeMap<String, Vec<PathBuf>> = BTreeMap::new();
        for entry in fs::read_dir(dir).into_iter().flatten().flatten() {
            let name = entry.file_name().to_string_lossy().into_owned();
            // The name ends at the last dash, before what makes it the only one and an extension.
            if let Some((of, _)) = name.strip_prefix(BEGINNING).and_then(|n| n.rsplit_once('-')) {
                found.entry(of.to_owned()).or_default().push(entry.path());
            }
        }
        Self(found)
    }

    /// Takes away what was left of the file or folder that is to have this name. What a run is still writing is held, and
    /// stays.
    pub(crate) fn clear(&mut self, name: &OsStr) {
        self.0.remove(&part_of(name)).into_iter().flatten().for_each(|path| take_away(&path));
    }

    /// The same of every name that `is_ours` says.
    pub(crate) fn clear_all(&mut self, is_ours: impl Fn(&str) -> bool) {
        let names: Vec<String> = self.0.keys().filter(|name| is_ours(name)).cloned().collect();
        names.iter().for_each(|name| self.clear(name.as_ref()));
    }
}

fn take_away(path: &Path) {
    if !path.is_dir() {
        // What holds a folder goes with it.
        let locks = path.extension().is_some_and(|end| OsStr::new(&HELD[1..]) == end);
        if !(locks && path.with_extension(&END[1..]).exists()) && system::is_free(path) {
            let _ = fs::remove_file(path);
        }
        return;
    }
    let held = path.with_extension(&HELD[1..]);
    if system::is_free(&held) {
        let _ = fs::remove_dir_all(path);
        let _ = fs::remove_file(held);
    }
}

/// A temporary file for what will be called `name`; of this user alone where it is `private`.
pub(super) fn temporary(dir: &Path, name: &OsStr, suffix: &str, private: bool) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    let prefix = format!("{BEGINNING}{}-", part_of(name));
    builder.prefix(&prefix).suffix(suffix);
    system::readers(&mut builder, private);
    let mut unfinished = unfinished();
    let file = loop {
        let file = builder.tempfile_in(dir)?;
        if system::hold(file.as_file(), file.path()) {
            break file;
        }
    };
    unfinished.push(file.path().to_owned());
    Ok(file)
}

/// A file for a while, in the system's folder for such, which only this user can read. It goes with this value, with an
/// interrupt, and, where a kill left it, with the next of its name.
#[derive(Debug)]
pub(crate) struct Passing(NamedTempFile);

impl Passing {
    pub(crate) fn new(name: &str, suffix: &str) -> io::Result<Self> {
        let dir = std::env::temp_dir();
        Leftovers::of(&dir).clear(name.as_ref());
        temporary(&dir, name.as_ref(), suffix, true).map(Self)
    }

    pub(crate) fn path(&self) -> &Path {
        self.0.path()
    }
}

impl Write for Passing {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

impl Drop for Passing {
    fn drop(&mut self) {
        unfinished().retain(|path| path != self.0.path());
    }
}
