//! A hand-off as one .zip: the same bytes from the same files.

use crate::failure::Failure;
use std::io::{Cursor, Write};
use zip::write::{SimpleFileOptions, ZipWriter};
use zip::{CompressionMethod, DateTime, System};

/// Permissions of every entry.
const MODE: u32 = 0o644;
/// The level of compression: part of what the bytes are.
const LEVEL: i64 = 6;

/// Files that become a .zip, all within one folder and of one time.
pub(super) struct Archive {
    root: String,
    zip: ZipWriter<Cursor<Vec<u8>>>,
    options: SimpleFileOptions,
}

impl Archive {
    /// An archive whose files are in the folder `root`, of that day.
    pub(super) fn new(root: &str, [year, month, day]: [u16; 3]) -> Result<Self, Failure> {
        let time = DateTime::from_date_and_time(year, month as u8, day as u8, 0, 0, 0)
            .map_err(|_| Failure::new(format!("--date: a .zip has years from 1980 to 2107, not {year}")))?;
        let options = SimpleFileOptions::default()
            .compression_method(CompressionMethod::Deflated)
            .compression_level(Some(LEVEL))
            .last_modified_time(time)
            .system(System::Unix)
            .unix_permissions(MODE);
        Ok(Self { root: root.to_owned(), zip: ZipWriter::new(Cursor::new(Vec::new())), options })
    }

    /// Adds a file; files have to come in the order of their names.
    pub(super) fn add(&mut self, name: &str, bytes: &[u8]) -> Result<(), Failure> {
        let path = format!("{}/{name}", self.root);
        let fail = |why: String| Failure::new(format!("cannot put {name} into the .zip: {why}"));
        self.zip.start_file(path, self.options).map_err(|e| fail(e.to_string()))?;
        self.zip.write_all(bytes).map_err(|e| fail(e.to_string()))
    }

    /// The archive's bytes.
    pub(super) fn finish(self) -> Result<Vec<u8>, Failure> {
        let whole = self.zip.finish().map_err(|e| Failure::new(format!("cannot finish the .zip: {e}")))?;
        Ok(whole.into_inner())
    }
}
