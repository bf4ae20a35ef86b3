//! Folders that appear whole, or not at all.

use super::interrupt::unfinished;
use super::temporary::{END, HELD, Leftovers, temporary};
use super::{folder_of, name_of, plainly, unwritten};
use crate::failure::Failure;
use crate::system;
use std::fs;
use std::io::{self, BufWriter, ErrorKind, IntoInnerError, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// A folder that appears whole, once all of it is written, or not at all.
pub(crate) struct NewFolder {
    dir: PathBuf,
    path: Option<PathBuf>,
    /// The file beside it that says to other runs that this one is alive.
    held: NamedTempFile,
}

impl NewFolder {
    /// A folder that becomes `path`, where nothing may stand yet but an empty folder.
    pub(crate) fn new(path: &Path) -> Result<Self, Failure> {
        let taken = match fs::read_dir(path) {
            Ok(mut entries) => entries.next().is_some(),
            Err(e) => e.kind() != ErrorKind::NotFound,
        };
        if taken {
            return Err(Failure::new(format!("{} already exists: give the name of a new folder", path.display())));
        }
        Self::beside(path, Some(path.to_owned()))
    }

    /// A folder beside `path` that never gets a name.
    pub(crate) fn passing(path: &Path) -> Result<Self, Failure> {
        Self::beside(path, None)
    }

    fn beside(path: &Path, becomes: Option<PathBuf>) -> Result<Self, Failure> {
        let (parent, name) = (folder_of(path), name_of(path)?);
        let fail = |e: io::Error| Failure::new(format!("cannot write into {}: {}", parent.display(), plainly(&e)));
        fs::create_dir_all(parent).map_err(fail)?;
        Leftovers::of(parent).clear(name);
        let mut held = temporary(parent, name, HELD, false).map_err(fail)?;
        let dir = loop {
            let dir = held.path().with_extension(&END[1..]);
            // Listed before it is there, so that no interrupt misses it.
            unfinished().push(dir.clone());
            match fs::create_dir(&dir) {
                Ok(()) => break dir,
                Err(e) if e.kind() == ErrorKind::AlreadyExists => {
                    unfinished().retain(|path| *path != dir);
                    held = temporary(parent, name, HELD, false).map_err(fail)?;
                }
                Err(e) => return Err(fail(e)),
            }
        };
        Ok(Self { dir, path: becomes, held })
    }

    /// Its name, once it has one.
    pub(crate) fn path(&self) -> Option<&Path> {
        self.path.as_deref()
    }

    /// Where a name within it stands for now.
    pub(crate) fn within(&self, name: &str) -> PathBuf {
        self.dir.join(name)
    }

    /// Writes a file, and the folders on its way.
    pub(crate) fn add(&self, name: &str, contents: &[u8]) -> Result<(), Failure> {
        self.add_by(name, |file| file.write_all(contents))
    }

    /// Writes a file that `fill` writes piece by piece, and the folders on its way.
    pub(crate) fn add_by(
        &self,
        name: &str,
        fill: impl FnOnce(&mut dyn Write) -> io::Result<()>,
    ) -> Result<(), Failure> {
        let path = self.within(name);
        let write = || -> io::Result<()> {
            fs::create_dir_all(path.parent().unwrap_or(Path::new("")))?;
            let mut file = BufWriter::new(fs::File::create_new(&path)?);
            fill(&mut file)?;
            file.into_inner().map_err(IntoInnerError::into_error)?.sync_all()
        };
        write().map_err(|e| Failure::new(format!("cannot write {name}: {}", plainly(&e))))
    }

    /// The bytes of a file within it.
    pub(crate) fn read(&self, name: &str) -> Result<Vec<u8>, Failure> {
        fs::read(self.within(name)).map_err(|e| Failure::new(format!("cannot read {name}: {}", plainly(&e))))
    }

    /// Gives it its name.
    pub(crate) fn finish(self) -> Result<(), Failure> {
        let Some(path) = &self.path else { return Ok(()) };
        // An interrupt waits until it has its name.
        let mut unfinished = unfinished();
        unfinished.retain(|path| *path != self.dir);
        system::give_folder_name(&self.dir, path).map_err(|e| unwritten(path, &plainly(&e)))?;
        Ok(())
    }
}

impl Drop for NewFolder {
    fn drop(&mut self) {
        // Gone where it has got its name.
        let _ = fs::remove_dir_all(&self.dir);
        unfinished().retain(|path| *path != self.dir && path != self.held.path());
    }
}
