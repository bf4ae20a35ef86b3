//! A hand-off as one .zip: the same bytes from the same files.

use crate::disk::{plainly, unwritten};
use crate::failure::Failure;
use rayon::prelude::*;
use std::fs::File;
use std::io::{self, BufWriter, Cursor, ErrorKind, Seek, SeekFrom, Write};
use std::path::Path;
use zip::read::ZipArchive;
use zip::result::{ZipError, ZipResult};
use zip::write::{SimpleFileOptions, ZipWriter};
use zip::{CompressionMethod, DateTime, System};

/// Permissions of every entry.
const MODE: u32 = 0o644;
/// The level of compression; it determines the bytes.
const LEVEL: i64 = 2;
/// Kinds of file that are compressed already.
const COMPRESSED: [&str; 2] = [".png", ".pdf"];
/// Files that are in memory at once.
const AT_ONCE: usize = 16;

/// Files that become a .zip, all within one folder and of one time. What is added goes into the file at once.
pub(super) struct Archive<'f> {
    root: String,
    path: &'f Path,
    zip: ZipWriter<Output<'f>>,
    options: SimpleFileOptions,
}

impl<'f> Archive<'f> {
    /// An archive in a file, which is to be at `path`, whose files are in the folder `root`, of that day.
    pub(super) fn new(
        file: &'f File,
        path: &'f Path,
        root: &str,
        [year, month, day]: [u16; 3],
    ) -> Result<Self, Failure> {
        let time = DateTime::from_date_and_time(year, month as u8, day as u8, 0, 0, 0)
            .map_err(|_| Failure::new(format!("--date: a .zip has years from 1980 to 2107, not {year}")))?;
        let options = SimpleFileOptions::default()
            .compression_method(CompressionMethod::Deflated)
            .compression_level(Some(LEVEL))
            .last_modified_time(time)
            .system(System::Unix)
            .unix_permissions(MODE);
        Ok(Self { root: root.to_owned(), path, zip: ZipWriter::new(Output::new(file)), options })
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
                part.map_err(|e| failure(self.path, &e, &format!("cannot put {name} into the .zip")))?;
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

    /// Writes the directory at its end.
    pub(super) fn finish(self) -> Result<(), Failure> {
        let ended = self.zip.finish().and_then(|mut output| Ok(output.flush()?));
        ended.map_err(|e| failure(self.path, &e, "cannot finish the .zip"))
    }
}

/// What an error means: one of the system's is of the file that is written.
fn failure(path: &Path, error: &ZipError, what: &str) -> Failure {
    match error {
        ZipError::Io(error) => unwritten(path, &plainly(error)),
        other => Failure::new(format!("{what}: {other}")),
    }
}

/// The file of an archive. An error is given once, and from then on nothing is written and nothing fails: when the archive is
/// dropped it is ended once more, and a second error of that would go to standard error past all that we say.
struct Output<'f> {
    file: BufWriter<&'f File>,
    failed: bool,
}

impl<'f> Output<'f> {
    fn new(file: &'f File) -> Self {
        Self { file: BufWriter::new(file), failed: false }
    }

    /// What `act` gives, or `instead` after an error.
    fn unless_failed<T>(
        &mut self,
        instead: T,
        act: impl FnOnce(&mut BufWriter<&'f File>) -> io::Result<T>,
    ) -> io::Result<T> {
        if self.failed {
            return Ok(instead);
        }
        // What was interrupted is tried again.
        act(&mut self.file).inspect_err(|e| self.failed = e.kind() != ErrorKind::Interrupted)
    }
}

impl Write for Output<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.unless_failed(bytes.len(), |file| file.write(bytes))
    }

    fn flush(&mut self) -> io::Result<()> {
        self.unless_failed((), |file| file.flush())
    }
}

impl Seek for Output<'_> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.unless_failed(0, |file| file.seek(to))
    }
}

/// With a file that takes nothing, which Linux alone is sure to have.
#[cfg(all(test, target_os = "linux"))]
mod tests {
    use super::*;

    #[test]
    fn a_full_disk_is_said_once_and_by_the_name_of_the_file() {
        let full = File::options().write(true).open("/dev/full").unwrap();
        let mut archive = Archive::new(&full, Path::new("sent.zip"), "sent", [2026, 11, 25]).unwrap();
        let noise: Vec<u8> = (0..100_000_u32).map(|n| (n.wrapping_mul(2_654_435_761) >> 24) as u8).collect();
        let why = archive.add(&["a"], |_| Ok(noise.clone())).unwrap_err().words();
        assert_eq!(why, "cannot write sent.zip: the disk is full");
        // Nothing that comes after it fails.
        assert!(archive.zip.flush().is_ok());
        archive.finish().unwrap();
        let archive = Archive::new(&full, Path::new("sent.zip"), "sent", [2026, 11, 25]).unwrap();
        assert_eq!(archive.finish().unwrap_err().words(), "cannot write sent.zip: the disk is full");
    }
}
