//! Another text in the place of a document of the user's, which two may want to change at once.

use super::lines::{like, plain};
use super::temporary::{END, temporary};
use super::write::take_after;
use super::{folder_of, name_of, plainly, unwritten};
use crate::failure::Failure;
use crate::system;
use std::fs::{self, File, TryLockError};
use std::io::{Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// A document is locked for no longer than it takes to write it.
const PATIENCE: Duration = Duration::from_secs(10);

/// What must stand in a document for it to be replaced.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Expected<'t> {
    /// This text, as [`read_document`](super::read_document) gives it.
    Text(&'t str),
    /// Anything, or nothing.
    Anything,
}

/// What became of a document.
#[derive(Debug)]
pub(crate) enum Replaced {
    Done,
    /// Another text stands there, as [`read_document`](super::read_document) gives it; none where no file does. Nothing is
    /// written.
    Other(Option<String>),
}

/// Puts `contents` in the place of a document, where a link leads, whole or not at all: with the permissions, the byte order
/// mark and the line ends that it has. The check of the old contents and the write are one step under a lock: another
/// writer of the same document waits.
pub(crate) fn replace(path: &Path, expected: Expected<'_>, contents: &str) -> Result<Replaced, Failure> {
    let fail = |why: &str| unwritten(path, why);
    let place = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let Some(mut held) = held(&place).map_err(|why| fail(&why))? else {
        return match expected {
            Expected::Text(_) => Ok(Replaced::Other(None)),
            Expected::Anything => super::write(&place, contents).map(|()| Replaced::Done),
        };
    };
    if held.metadata().is_ok_and(|found| found.permissions().readonly()) {
        return Err(fail("it is read-only: let it be written to, or save a copy"));
    }
    // By the handle that is held: another could not read it on every system.
    let mut there = Vec::new();
    held.read_to_end(&mut there).map_err(|e| fail(&plainly(&e)))?;
    let there = String::from_utf8_lossy(&there);
    if let Expected::Text(text) = expected
        && plain(&there) != text
    {
        return Ok(Replaced::Other(Some(plain(&there))));
    }
    write(&place, &like(&there, contents)).map_err(|e| fail(&plainly(&e)))?;
    Ok(Replaced::Done)
}

fn write(place: &Path, text: &str) -> std::io::Result<()> {
    let name = name_of(place).map_err(|_| std::io::ErrorKind::InvalidFilename)?;
    let dir = folder_of(place);
    super::Leftovers::of(dir).clear(name);
    let mut file = temporary(dir, name, END, true)?;
    file.write_all(text.as_bytes())?;
    take_after(file.as_file(), place);
    file.as_file().sync_all()?;
    let mut unfinished = super::interrupt::unfinished();
    unfinished.retain(|path| path != file.path());
    system::give_name(file, place)?;
    drop(unfinished);
    system::sync_folder(dir);
    Ok(())
}

/// The document that stands at `place`, held; none where there is none.
fn held(place: &PathBuf) -> Result<Option<File>, String> {
    let by = Instant::now() + PATIENCE;
    loop {
        if !place.exists() {
            return Ok(None);
        }
        let (file, found) = super::read::peek(place)?;
        match file.try_lock() {
            // Another may have taken its place before it was held.
            Ok(()) if fs::metadata(place).is_ok_and(|now| system::is_same(&found, &now)) => return Ok(Some(file)),
            Ok(()) | Err(TryLockError::WouldBlock) => {}
            // Where nothing can be locked, it is looked at and written, as well as that goes.
            Err(TryLockError::Error(_)) => return Ok(Some(file)),
        }
        if Instant::now() >= by {
            return Err("another program holds it".to_owned());
        }
        drop(file);
        std::thread::sleep(Duration::from_millis(5));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_many_who_replace_the_same_text_one_does() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("look.toml");
        for round in 0..20 {
            fs::write(&path, "old\n").unwrap();
            let start = std::sync::Barrier::new(6);
            let done = std::thread::scope(|scope| {
                let (path, start) = (&path, &start);
                let all: Vec<_> = (0..6)
                    .map(|n| {
                        scope.spawn(move || {
                            start.wait();
                            replace(path, Expected::Text("old\n"), &format!("{n}\n")).unwrap()
                        })
                    })
                    .collect();
                let all = all.into_iter().map(|one| one.join().unwrap());
                all.enumerate().filter(|(_, r)| matches!(r, Replaced::Done)).map(|(n, _)| n).collect::<Vec<_>>()
            });
            assert_eq!(done.len(), 1, "round {round}");
            assert_eq!(fs::read_to_string(&path).unwrap(), format!("{}\n", done[0]));
        }
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_document_keeps_its_mark_and_its_line_ends() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("look.toml");
        fs::write(&path, "\u{feff}a\r\nb\r\n").unwrap();
        assert!(matches!(replace(&path, Expected::Text("a\nb\n"), "a\nc\n").unwrap(), Replaced::Done));
        assert_eq!(fs::read_to_string(&path).unwrap(), "\u{feff}a\r\nc\r\n");
        let other = replace(&path, Expected::Text("a\nb\n"), "x\n").unwrap();
        assert!(matches!(other, Replaced::Other(Some(text)) if text == "a\nc\n"));
        fs::remove_file(&path).unwrap();
        assert!(matches!(replace(&path, Expected::Text(""), "x\n").unwrap(), Replaced::Other(None)));
        assert!(matches!(replace(&path, Expected::Anything, "x\n").unwrap(), Replaced::Done));
    }
}
