//! Files of the disk as sides of a comparison.

use crate::disk::{Folder, read_bytes};
use crate::failure::Failure;
use rushlight::diff::Origin;
use std::path::Path;

/// A file of the disk.
pub(super) fn disk(path: &Path) -> Result<Origin, Failure> {
    Ok(beside(path, read_bytes(path)?))
}

/// Bytes that stand for the file at `path`, and name the files beside it.
pub(super) fn beside(path: &Path, bytes: Vec<u8>) -> Origin {
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let shown = path.display().to_string();
    let base = shown.strip_suffix(&name).unwrap_or_default().to_owned();
    Origin { base, name, bytes, files: Box::new(Folder::of(path)) }
}
