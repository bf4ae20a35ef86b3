//! Table files from the disk.

use crate::disk::read_bytes;
use crate::failure::Failure;
use rushlight::table_file::{Kind, TableFile};
use std::path::Path;

/// What a file is that has to be a table, by its name.
pub(crate) fn kind(path: &Path) -> Result<Kind, Failure> {
    Kind::of(path).ok_or_else(|| Failure::new(format!("{}: the name must end in .cube, .clf or .png", path.display())))
}

/// Reads a table file, tolerantly.
pub(crate) fn load(path: &Path) -> Result<TableFile, Failure> {
    parse(kind(path)?, &read_bytes(path)?, path)
}

/// What `bytes`, which `path` holds, are.
pub(crate) fn parse(kind: Kind, bytes: &[u8], path: &Path) -> Result<TableFile, Failure> {
    TableFile::read(kind, bytes).map_err(|why| Failure::new(format!("{}, {why}", path.display())))
}
