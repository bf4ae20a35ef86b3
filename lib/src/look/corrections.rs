//! Files of corrections that look and show documents name.

use crate::files::Recorder;
use crate::format::LineError;
use crate::format::cdl::{self, CdlFile, Correction, Refused};
use crate::format::shot_list::{self, Form, ShotList};
use crate::invalid::{Invalid, Refusals};
use crate::message::unknown;

/// The corrections of the file that the document `from` names as `path`, and the file's own name; `column` names the shots of
/// a list. Those that cannot be used
/// are among the refused ones.
///
/// # Errors
/// What is wrong with the file beyond single corrections, with its lines, under an empty key.
pub(crate) fn corrections(
    path: &str,
    column: Option<&str>,
    from: &str,
    files: &Recorder<'_>,
) -> Result<(String, CdlFile), Refusals> {
    let (file, bytes) = files.bytes(from, path).map_err(|why| Invalid::plain(why.to_string()))?;
    let extension = path.rsplit_once('.').map_or("", |(_, extension)| extension);
    let read = match Form::from_extension(extension) {
        Some(form) => shot_list::read_each(&bytes, form, column).map(with_reels),
        None => cdl::read_each(&bytes),
    };
    match read {
        Ok(read) => Ok((file, read)),
        Err(wrong) => Err(in_file(&file, wrong)),
    }
}

/// A list as corrections, each with the reel that the list has of it.
fn with_reels(list: ShotList) -> CdlFile {
    let reels: Vec<Option<String>> = list.shots.iter().map(|shot| shot.reel.clone()).collect();
    let mut file = list.into_corrections();
    for (correction, reel) in file.corrections.iter_mut().zip(reels) {
        correction.media = reel.into_iter().collect();
    }
    file
}

/// The same refusals, under a key.
fn within(key: &str, refused: Refusals) -> Refusals {
    refused.into_iter().map(|r| r.within(key)).collect()
}

/// What is wrong with the lines of a file, under an empty key.
pub(crate) fn in_file(file: &str, wrong: impl IntoIterator<Item = LineError>) -> Refusals {
    wrong.into_iter().map(|e| Invalid::plain(format!("`{file}`, {e}"))).collect()
}

/// The correction `id`, or the only one.
///
/// # Errors
/// Under `id`: there is none of that id, or there are several and none is named. Under `file`: what is wrong with it.
pub(crate) fn one_of<'f>(read: &'f CdlFile, file: &str, id: Option<&str>) -> Result<&'f Correction, Refusals> {
    let refuse = |why: String| Err(Invalid::new("id", why).into());
    let unusable = |refused: &Refused| Err(within("file", in_file(file, refused.wrong.clone())));
    match (id, &read.corrections[..], &read.refused[..]) {
        (None, [only], []) => Ok(only),
        (None, [], [only]) => unusable(only),
        (None, several, refused) => {
            let ids = read.ids().collect::<Vec<_>>().join(", ");
            let left = read.left().map(|left| format!("; {left}")).unwrap_or_default();
            let count = several.len() + refused.len();
            refuse(format!("`{file}` holds {count} corrections: name one of {ids}{left}"))
        }
        (Some(id), ..) => match (read.get(id), read.refused(id)) {
            (Some(found), _) => Ok(found),
            (None, Some(refused)) => unusable(refused),
            (None, None) => refuse(format!("{} in `{file}`", unknown("correction", id, read.ids()))),
        },
    }
}
