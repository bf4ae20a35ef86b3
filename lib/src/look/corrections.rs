//! Files of corrections that look and show documents name.

use crate::document::unknown;
use crate::files::Recorder;
use crate::format::LineError;
use crate::format::cdl::{self, CdlFile, Correction};
use crate::invalid::Invalid;

/// The corrections of the file that the document `from` names as `path`, and the file's own name.
///
/// # Errors
/// All that is wrong with the file, with its lines, under an empty key.
pub(crate) fn corrections(path: &str, from: &str, files: &Recorder<'_>) -> Result<(String, CdlFile), Vec<Invalid>> {
    let (file, bytes) = files.bytes(from, path).map_err(|why| vec![Invalid::new("", why)])?;
    match cdl::read(&bytes) {
        Ok(read) => Ok((file, read)),
        Err(wrong) => Err(in_file(&file, wrong)),
    }
}

/// What is wrong with the lines of a file, under an empty key.
pub(crate) fn in_file(file: &str, wrong: Vec<LineError>) -> Vec<Invalid> {
    wrong.into_iter().map(|e| Invalid::new("", format!("`{file}`, {e}"))).collect()
}

/// The correction `id`, or the only one.
///
/// # Errors
/// Under `id`: there is none of that id, or there are several and none is named.
pub(crate) fn one_of<'f>(read: &'f CdlFile, file: &str, id: Option<&str>) -> Result<&'f Correction, Invalid> {
    match (id, &read.corrections[..]) {
        (None, [only]) => Ok(only),
        (None, several) => {
            let ids = read.ids().collect::<Vec<_>>().join(", ");
            Err(Invalid::new("id", format!("`{file}` holds {} corrections: name one of {ids}", several.len())))
        }
        (Some(id), _) => read
            .get(id)
            .ok_or_else(|| Invalid::new("id", format!("{} in `{file}`", unknown("correction", id, read.ids())))),
    }
}
