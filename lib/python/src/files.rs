//! Files: read beside a document, and written whole or not at all.

use crate::problem::invalid;
use pyo3::prelude::*;
use rushlight::files::{FileError, Files};
use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// The folder of a document.
pub(crate) struct Folder(pub(crate) PathBuf);

impl Folder {
    /// The folder that holds `document`.
    pub(crate) fn of(document: &Path) -> Self {
        Self(document.parent().unwrap_or(Path::new("")).to_owned())
    }
}

impl Files for Folder {
    fn read(&self, name: &str) -> Result<Vec<u8>, FileError> {
        fs::read(self.0.join(name)).map_err(FileError::from)
    }

    fn names(&self, folder: &str) -> Vec<String> {
        let entries = fs::read_dir(self.0.join(folder).join(".")).into_iter().flatten().flatten().take(1000);
        entries.filter_map(|entry| entry.file_name().into_string().ok()).collect()
    }
}

/// The error of the system, of the kind that Python has for it, with the file's name.
fn of_file(path: &Path, error: &io::Error) -> PyErr {
    io::Error::new(error.kind(), format!("{}: {error}", path.display())).into()
}

/// The bytes of a file that was named.
pub(crate) fn read(path: &Path) -> PyResult<Vec<u8>> {
    fs::read(path).map_err(|e| of_file(path, &e))
}

/// The text of a document that was named.
pub(crate) fn text(path: &Path) -> PyResult<String> {
    String::from_utf8(read(path)?).map_err(|e| {
        let at = e.utf8_error().valid_up_to();
        invalid("", format!("{} is not text: byte {at} is not UTF-8", path.display()))
    })
}

/// The last part of a path.
pub(crate) fn name(path: &Path) -> String {
    path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default()
}

/// Refuses a file that is there with other contents.
pub(crate) fn check_free(path: &Path, contents: &[u8]) -> PyResult<()> {
    match fs::metadata(path) {
        Err(_) => Ok(()),
        Ok(found) if found.is_file() && fs::read(path).is_ok_and(|there| there == contents) => Ok(()),
        Ok(_) => Err(invalid("path", format!("{} is there already: give replace=True to replace it", path.display()))),
    }
}

/// Writes a file, which appears whole or not at all. One that is there is replaced only where `replace` says so, or where it
/// holds the same bytes.
pub(crate) fn write(path: &Path, contents: &[u8], replace: bool) -> PyResult<()> {
    if !replace {
        check_free(path, contents)?;
    }
    let folder = path.parent().filter(|folder| *folder != Path::new("")).unwrap_or(Path::new("."));
    let put = || -> io::Result<()> {
        let mut builder = tempfile::Builder::new();
        builder.prefix(".rushlight-");
        // As any new file: the temporary one that is made by default is for its owner alone.
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let mut file = builder.tempfile_in(folder)?;
        file.write_all(contents)?;
        file.as_file().sync_all()?;
        file.persist(path)?;
        Ok(())
    };
    put().map_err(|e| of_file(path, &e))
}
