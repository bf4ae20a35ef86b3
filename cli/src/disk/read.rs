//! The one place that opens files to read them. What is opened is a regular file, so that nothing waits for ever: a pipe is
//! read only where the user named it.

use super::{lines, plainly};
use crate::failure::Failure;
use crate::system::{do_not_wait, is_pipe};
use rushlight::files::Hasher;
use std::collections::BTreeSet;
use std::fs::{self, File, Metadata};
use std::io::{Read as _, Seek as _, SeekFrom};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// Largest document, curve or cube file that is read: a cube of 256 points is below it.
pub(crate) const LARGEST: u64 = 1 << 30;

/// What this run has read, where links lead: no output takes its place.
static READ: Mutex<BTreeSet<PathBuf>> = Mutex::new(BTreeSet::new());

/// Takes note of a file that this run, or a program for it, reads.
fn seen(path: &Path) {
    // A pipe leads nowhere.
    if let Ok(place) = fs::canonicalize(path) {
        READ.lock().unwrap_or_else(PoisonError::into_inner).insert(place);
    }
}

/// Whether this run has read the file that stands where `path` leads.
pub(super) fn was_read(path: &Path) -> bool {
    fs::canonicalize(path).is_ok_and(|place| READ.lock().unwrap_or_else(PoisonError::into_inner).contains(&place))
}

/// Opens a regular file for what this run is about.
pub(crate) fn open(path: &Path) -> Result<(File, Metadata), String> {
    let opened = opened(path, false)?;
    seen(path);
    Ok(opened)
}

/// The same of a file that is only looked at, and may be written all the same.
pub(crate) fn peek(path: &Path) -> Result<(File, Metadata), String> {
    opened(path, false)
}

fn opened(path: &Path, pipes: bool) -> Result<(File, Metadata), String> {
    let check = |found: &Metadata| match found.file_type() {
        kind if kind.is_file() => Ok(()),
        kind if kind.is_dir() => Err("it is a folder".to_owned()),
        _ if pipes && is_pipe(found) => Ok(()),
        _ if is_pipe(found) => Err("it is a pipe: a file is needed".to_owned()),
        _ => Err("it is a device: a file is needed".to_owned()),
    };
    // Before it is opened, which blocks at a pipe without a writer.
    check(&fs::metadata(path).map_err(|e| plainly(&e))?)?;
    let mut options = fs::OpenOptions::new();
    options.read(true);
    if !pipes {
        // It may have become another since.
        do_not_wait(&mut options);
    }
    let file = options.open(path).map_err(|e| plainly(&e))?;
    let found = file.metadata().map_err(|e| plainly(&e))?;
    check(&found)?;
    Ok((file, found))
}

/// How a regular file begins; nothing where it cannot be read.
pub(crate) fn read_start(path: &Path, most: usize) -> Vec<u8> {
    let mut start = Vec::new();
    if let Ok((file, _)) = peek(path) {
        let _ = file.take(most as u64).read_to_end(&mut start);
    }
    start
}

/// How a regular file ends; nothing where it cannot be read.
pub(crate) fn read_end(path: &Path, most: usize) -> Vec<u8> {
    let mut end = Vec::new();
    if let Ok((mut file, found)) = peek(path)
        && file.seek(SeekFrom::Start(found.len().saturating_sub(most as u64))).is_ok()
    {
        let _ = file.take(most as u64).read_to_end(&mut end);
    }
    end
}

/// The bytes of a file of a sane size, which stays as it is while it is read.
fn whole((mut file, before): (File, Metadata)) -> Result<Vec<u8>, String> {
    let too_large = |bytes: u64| format!("{bytes} bytes: larger than any document or cube ({LARGEST} bytes)");
    if before.len() > LARGEST {
        return Err(too_large(before.len()));
    }
    let mut bytes = Vec::with_capacity(before.len() as usize);
    // A pipe has no length of its own, and a file that is being written has another by now.
    let read = (&mut file).take(LARGEST + 1).read_to_end(&mut bytes).map_err(|e| plainly(&e))? as u64;
    if read > LARGEST {
        return Err(too_large(read));
    }
    let after = file.metadata().map_err(|e| plainly(&e))?;
    let moved = before.modified().ok() != after.modified().ok();
    if before.is_file() && (moved || read != before.len() || after.len() != before.len()) {
        return Err("it changed while it was read: try again once it is whole".to_owned());
    }
    Ok(bytes)
}

/// The bytes of a regular file.
pub(crate) fn regular(path: &Path) -> Result<Vec<u8>, String> {
    whole(open(path)?)
}

fn unread(path: &Path, why: &str) -> Failure {
    let show = path.join("show.toml");
    if path.is_dir() && show.is_file() {
        let show = crate::output::pasted(&show);
        return Failure::new(format!("cannot read {}: {why}: give the show in it, {show}", path.display()));
    }
    Failure::new(format!("cannot read {}: {why}", path.display()))
}

/// Refuses a path that is not a file that can be opened.
pub(crate) fn check_opens(path: &Path) -> Result<(), Failure> {
    opened(path, false).map(drop).map_err(|why| unread(path, &why))
}

/// The bytes of a regular file.
pub(crate) fn read_regular(path: &Path) -> Result<Vec<u8>, Failure> {
    regular(path).map_err(|why| unread(path, &why))
}

/// The bytes of a file that the user named, which may be a pipe.
pub(crate) fn read_bytes(path: &Path) -> Result<Vec<u8>, Failure> {
    let bytes = opened(path, true).and_then(whole).map_err(|why| unread(path, &why))?;
    seen(path);
    Ok(bytes)
}

/// The SHA-256 of a file, which may be larger than memory.
pub(crate) fn sha256_of(path: &Path) -> Result<String, Failure> {
    let (mut file, _) = open(path).map_err(|why| unread(path, &why))?;
    let mut hasher = Hasher::default();
    let mut part = vec![0; 1 << 20];
    loop {
        match file.read(&mut part).map_err(|e| unread(path, &e.to_string()))? {
            0 => return Ok(hasher.finish()),
            n => hasher.add(&part[..n]),
        }
    }
}

/// The text of a document that the user named, which may be a pipe.
pub(crate) fn read_text(path: &Path) -> Result<String, Failure> {
    text(path, read_bytes(path)?)
}

/// The text of a document without its byte order mark and with plain line ends, for [`replace`](super::replace), which puts
/// both back.
pub(crate) fn read_document(path: &Path) -> Result<String, Failure> {
    Ok(lines::plain(&text(path, read_regular(path)?)?))
}

fn text(path: &Path, bytes: Vec<u8>) -> Result<String, Failure> {
    String::from_utf8(bytes).map_err(|e| {
        let at = e.utf8_error().valid_up_to();
        Failure::new(format!("{} is not text: byte {at} is not UTF-8", path.display()))
    })
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    #[test]
    fn a_pipe_that_nobody_writes_to_is_not_waited_for() {
        let dir = tempfile::tempdir().unwrap();
        let pipe = dir.path().join("pipe");
        let made = std::process::Command::new("mkfifo").arg(&pipe).status().unwrap();
        assert!(made.success());
        assert_eq!(regular(&pipe).unwrap_err(), "it is a pipe: a file is needed");
        assert_eq!(regular(dir.path()).unwrap_err(), "it is a folder");
        assert_eq!(regular(Path::new("/dev/zero")).unwrap_err(), "it is a device: a file is needed");
        assert!(read_start(&pipe, 9).is_empty());
        // One that the user named has a writer.
        let writer = std::thread::spawn({
            let pipe = pipe.clone();
            move || fs::write(pipe, "text").unwrap()
        });
        assert_eq!(read_bytes(&pipe).unwrap(), b"text");
        writer.join().unwrap();
    }
}
