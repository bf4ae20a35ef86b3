//! Table files from the disk.

use crate::disk::read_bytes;
use crate::failure::Failure;
use rushlight::slate::Slate;
use rushlight::table_file::{Kind, TableFile};
use std::path::Path;

/// What a file is that has to be a table, by its name.
pub(crate) fn kind(path: &Path) -> Result<Kind, Failure> {
    refuse_document(path)?;
    Kind::of(path).ok_or_else(|| Failure::new(format!("{}: the name must end in .cube, .clf or .png", path.display())))
}

/// Refuses a show or a look where a file made from one is needed.
pub(crate) fn refuse_document(path: &Path) -> Result<(), Failure> {
    let is_document = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("toml"));
    match is_document && path.is_file() {
        true => Err(Failure::new(format!(
            "{} is a document, not a table: `rushlight bake` checks a show or a look, and makes cubes of it",
            path.display()
        ))),
        false => Ok(()),
    }
}

/// Reads a table file, tolerantly.
pub(crate) fn load(path: &Path) -> Result<TableFile, Failure> {
    parse(kind(path)?, &read_bytes(path)?, path)
}

/// What `bytes`, which `path` holds, are.
pub(crate) fn parse(kind: Kind, bytes: &[u8], path: &Path) -> Result<TableFile, Failure> {
    TableFile::read(kind, bytes).map_err(|why| Failure::new(format!("{}, {why}", path.display())))
}

/// Lines at the start of a table's file among which its slate is looked for.
const HEADER: usize = 64;

/// The comments at the start of a .cube; none of a Hald image.
fn header(bytes: &[u8]) -> String {
    let lines = bytes.split(|b| *b == b'\n').take(HEADER).filter_map(|line| std::str::from_utf8(line).ok());
    lines.filter(|line| line.starts_with('#')).collect::<Vec<_>>().join("\n")
}

/// What a table that `bytes` hold says of where it comes from.
pub(crate) fn slate(source: &TableFile, bytes: &[u8]) -> Option<Slate> {
    match source {
        TableFile::Clf(list) => Slate::parse(&list.descriptions.join("\n")),
        TableFile::Cube(..) => Slate::parse(&header(bytes)),
    }
}
