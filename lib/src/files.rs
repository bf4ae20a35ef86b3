//! Where a document finds the files that it names: by relative names, with no path of any machine.

pub use crate::format::checksum::{Hasher, digest, sha256};
pub use crate::source::Source;

use crate::message::{beginning, beginning_of, nearest};
use crate::shot::is_device;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::{fmt, io};

/// Why a file cannot be read, in words for the user.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileError(String);

impl FileError {
    /// The message for a file that does not exist.
    pub const MISSING: &'static str = "no such file";

    /// A file that is not there: a name near to it is looked for.
    pub fn missing() -> Self {
        Self(Self::MISSING.to_owned())
    }
}

impl fmt::Display for FileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for FileError {}

impl From<String> for FileError {
    fn from(why: String) -> Self {
        Self(why)
    }
}

impl From<&str> for FileError {
    fn from(why: &str) -> Self {
        Self(why.to_owned())
    }
}

impl From<io::Error> for FileError {
    fn from(error: io::Error) -> Self {
        if error.kind() == io::ErrorKind::NotFound { Self::missing() } else { Self(error.to_string()) }
    }
}

/// Whether some system can have no file or folder of this name, which is one part of a path: devices of Windows with any
/// extension, its reserved characters, and a point or a blank at the end ("Naming Files, Paths, and Namespaces", in the
/// documents of Win32).
pub fn is_barred(part: &str) -> bool {
    let dots = part == "." || part == "..";
    !dots && (is_device(part) || part.ends_with(['.', ' ']) || part.contains(['<', '>', ':', '"', '|', '?', '*']))
}

/// A name as systems see it that take names in any case: two names that become the same one can be one file.
pub fn in_any_case(name: &str) -> String {
    name.to_lowercase()
}

/// Checks that a document names a file as every system can have it: with forward slashes, and no name that some system bars.
///
/// # Errors
/// What is wrong with the path, and what would be right.
pub fn check_path(path: &str) -> Result<(), FileError> {
    if path.is_empty() {
        return Err("no file is named".into());
    }
    if path.contains('\\') {
        let right = path.replace('\\', "/");
        return Err(format!("write the path with forward slashes, on every system: `{}`", beginning(&right)).into());
    }
    if path.chars().any(char::is_control) {
        let why = "the path has a control character: a backslash in quotes starts an escape (`\\n` is the end of a line), so write forward slashes";
        return Err(why.into());
    }
    // The letter of a disk is no part of a name.
    let parts = path.get(2..).filter(|_| path.get(1..2) == Some(":")).unwrap_or(path);
    match parts.split('/').find(|part| is_barred(part)) {
        Some(part) => Err(format!("Windows can have no file of the name `{}`: rename it", beginning(part)).into()),
        None => Ok(()),
    }
}

/// Gives the bytes of a file by its name, relative to the folder of the first document, with forward slashes.
pub trait Files {
    /// The bytes.
    ///
    /// # Errors
    /// Why it cannot be read.
    fn read(&self, name: &str) -> Result<Vec<u8>, FileError>;

    /// The names of the files in a folder, as far as they are known: for a hint at the one that was meant.
    fn names(&self, folder: &str) -> Vec<String> {
        let _ = folder;
        Vec::new()
    }
}

impl Files for BTreeMap<String, Vec<u8>> {
    fn read(&self, name: &str) -> Result<Vec<u8>, FileError> {
        self.get(name).cloned().ok_or_else(FileError::missing)
    }

    fn names(&self, folder: &str) -> Vec<String> {
        let of = |name: &String| name.rsplit_once('/').map_or("", |(of, _)| of) == folder;
        self.keys().filter(|name| of(name)).filter_map(|name| name.rsplit('/').next()).map(str::to_owned).collect()
    }
}

/// [`Files`] that remembers what was read.
pub struct Recorder<'f> {
    files: &'f dyn Files,
    read: RefCell<BTreeMap<String, String>>,
}

impl<'f> Recorder<'f> {
    /// Reads through `files`.
    pub fn new(files: &'f dyn Files) -> Self {
        Self { files, read: RefCell::default() }
    }

    /// The bytes of the file that `from` names as `path`, and its own name.
    ///
    /// # Errors
    /// Why it cannot be read.
    pub fn bytes(&self, from: &str, path: &str) -> Result<(String, Vec<u8>), FileError> {
        check_path(path)?;
        let name = join(from, path);
        let bytes = self.files.read(&name).map_err(|why| {
            let hint = if why == FileError::missing() { self.near(&name) } else { None };
            let hint = hint.map(|near| format!(": did you mean `{near}`?")).unwrap_or_default();
            format!("cannot read `{}`: {why}{hint}", beginning_of(&name, 300))
        })?;
        self.note(&name, &bytes);
        Ok((name, bytes))
    }

    /// The file beside the one of that name, which is not there, that was probably meant.
    fn near(&self, name: &str) -> Option<String> {
        let (folder, file) = name.rsplit_once('/').unwrap_or(("", name));
        let there = self.files.names(folder);
        let near = nearest(file, there.iter().map(String::as_str))?;
        Some(if folder.is_empty() { near.to_owned() } else { format!("{folder}/{near}") })
    }

    /// The text of the file that `from` names as `path`, and its own name.
    ///
    /// # Errors
    /// Why it cannot be read.
    pub fn text(&self, from: &str, path: &str) -> Result<(String, String), FileError> {
        let (name, bytes) = self.bytes(from, path)?;
        let text = String::from_utf8(bytes).map_err(|e| {
            let at = e.utf8_error().valid_up_to();
            format!("`{name}` is not text: byte {at} is not UTF-8")
        })?;
        Ok((name, text))
    }

    /// Another recorder of the same files that has read nothing yet.
    #[must_use]
    pub fn apart(&self) -> Self {
        Self::new(self.files)
    }

    /// Remembers what `other` has read.
    pub fn join(&self, other: &Self) {
        self.read.borrow_mut().extend(other.read.borrow().clone());
    }

    /// Remembers a file that was read elsewhere.
    pub fn note(&self, name: &str, bytes: &[u8]) {
        self.read.borrow_mut().insert(name.to_owned(), sha256(bytes));
    }

    /// Every file read so far, by name.
    pub fn sources(&self) -> Vec<Source> {
        self.read.borrow().iter().map(|(file, sha256)| Source { file: file.clone(), sha256: sha256.clone() }).collect()
    }
}

/// `path` as the document `from` names it, relative to the first document's folder.
fn join(from: &str, path: &str) -> String {
    if path.starts_with('/') {
        return path.to_owned();
    }
    let mut parts: Vec<&str> = from.split('/').collect();
    parts.pop();
    for part in path.split('/') {
        match part {
            "." | "" => {}
            // Above the root is the root.
            ".." if parts == [""] => {}
            ".." if parts.last().is_some_and(|p| *p != "..") => {
                parts.pop();
            }
            _ => parts.push(part),
        }
    }
    parts.join("/")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_relative_to_the_document_that_gives_them() {
        for (from, path, name) in [
            ("show.toml", "looks/night.toml", "looks/night.toml"),
            ("looks/night.toml", "x.cube", "looks/x.cube"),
            ("looks/night.toml", "../cubes/./x.cube", "cubes/x.cube"),
            ("show.toml", "../other/x.cube", "../other/x.cube"),
            ("show.toml", "/abs/x.cube", "/abs/x.cube"),
            ("/show.toml", "../../x.cube", "/x.cube"),
            ("../a/show.toml", "../../x.cube", "../../x.cube"),
        ] {
            assert_eq!(join(from, path), name);
        }
    }

    #[test]
    fn what_was_read_is_remembered_with_its_checksum() {
        let files = BTreeMap::from([("a.toml".to_owned(), b"abc".to_vec()), ("b".to_owned(), vec![0xff])]);
        let recorder = Recorder::new(&files);
        assert_eq!(recorder.text("show.toml", "a.toml").unwrap(), ("a.toml".to_owned(), "abc".to_owned()));
        assert!(recorder.text("show.toml", "c").unwrap_err().to_string().contains("no such file"));
        assert!(recorder.text("show.toml", "b").unwrap_err().to_string().contains("not UTF-8"));
        // FIPS 180-4, the worked example for "abc".
        let sha = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(recorder.sources()[0].sha256, sha);
    }
}
