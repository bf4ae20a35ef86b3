//! A hand-off as one .zip: the same bytes from the same files.

use crate::failure::Failure;
use rayon::prelude::*;
use std::io::{Cursor, Write};
use zip::read::ZipArchive;
use zip::result::ZipResult;
use zip::write::{SimpleFileOptions, ZipWriter};
use zip::{CompressionMethod, DateTime, System};

/// Permissions of every entry.
const MODE: u32 = 0o644;
/// The level of compression: part of what the bytes are.
const LEVEL: i64 = 2;
/// Kinds of file that are compressed already.
const COMPRESSED: [&str; 2] = [".png", ".pdf"];
/// Files that are in memory at once.
const AT_ONCE: usize = 16;

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

    /// Adds files in the order of their names; each is compressed by itself, several at once.
    pub(super) fn add<'n>(
        &mut self,
        names: &[&'n str],
        read: impl Fn(&'n str) -> Result<Vec<u8>, Failure>,
    ) -> Result<(), Failure> {
        for names in names.chunks(AT_ONCE) {
            let files = names.iter().map(|name| Ok((*name, read(name)?))).collect::<Result<Vec<_>, Failure>>()?;
            let parts: Vec<_> = files.par_iter().map(|(name, bytes)| self.compressed(name, bytes)).collect();
            for (part, name) in parts.into_iter().zip(names) {
                let part = part.and_then(|part| {
                    let mut part = ZipArchive::new(Cursor::new(part))?;
                    self.zip.raw_copy_file(part.by_index_raw(0)?)
                });
                part.map_err(|e| Failure::new(format!("cannot put {name} into the .zip: {e}")))?;
            }
        }
        Ok(())
    }

    /// An archive of one file.
    fn compressed(&self, name: &str, bytes: &[u8]) -> ZipResult<Vec<u8>> {
        let mut part = ZipWriter::new(Cursor::new(Vec::new()));
        let options = match COMPRESSED.iter().any(|end| name.ends_with(end)) {
            true => self.options.compression_method(CompressionMethod::Stored).compression_level(None),
            false => self.options,
        };
        part.start_file(format!("{}/{name}", self.root), options)?;
        part.write_all(bytes)?;
        Ok(part.finish()?.into_inner())
    }

    /// The archive's bytes.
    pub(super) fn finish(self) -> Result<Vec<u8>, Failure> {
        let whole = self.zip.finish().map_err(|e| Failure::new(format!("cannot finish the .zip: {e}")))?;
        Ok(whole.into_inner())
    }
}
