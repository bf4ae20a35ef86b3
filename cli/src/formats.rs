//! `--format FORMAT[=FILE]`: which reports are wanted, and where they go.

use crate::failure::Failure;
use crate::{disk, output};
use rushlight::message::unknown;
use std::path::PathBuf;

/// A report that was asked for: how it is written, and where to; nowhere for standard output.
pub(crate) type Wanted<F> = (F, Option<PathBuf>);

/// The reports that `given` asks for, of the formats `known`; none given: the first of them.
pub(crate) fn wanted<F: Copy>(given: &[String], known: &[(&str, F)]) -> Result<Vec<Wanted<F>>, Failure> {
    let mut wanted = Vec::new();
    for text in given {
        let (name, path) = match text.split_once('=') {
            Some((name, path)) => (name, Some(PathBuf::from(path))),
            None => (text.as_str(), None),
        };
        let found = known.iter().find(|(known, _)| *known == name);
        let names = known.iter().map(|(name, _)| *name);
        let found = found.ok_or_else(|| Failure::new(format!("--format: {}", unknown("format", name, names))))?;
        wanted.push((found.1, path));
    }
    if wanted.iter().filter(|(_, path)| path.is_none()).count() > 1 {
        return Err(Failure::new("--format: only one report can go to standard output: give the others =FILE"));
    }
    let mut paths: Vec<&PathBuf> = wanted.iter().filter_map(|(_, path)| path.as_ref()).collect();
    paths.sort();
    if let Some([path, _]) = paths.windows(2).find(|two| two[0] == two[1]) {
        return Err(Failure::new(format!("--format: two reports into {}: give each a file", path.display())));
    }
    if wanted.is_empty() {
        wanted.extend(known.first().map(|(_, format)| (*format, None)));
    }
    Ok(wanted)
}

/// Writes every report that was asked for, those to files first. Where none is printed, `verdict` is, with the files.
pub(crate) fn deliver<F: Copy>(
    wanted: &[Wanted<F>],
    verdict: &str,
    mut text_of: impl FnMut(F) -> Result<String, Failure>,
) -> Result<(), Failure> {
    let mut printed = None;
    for (format, path) in wanted {
        let text = text_of(*format)?;
        match path {
            Some(path) => disk::write(path, output::clean(&text).into_owned())?,
            None => printed = Some(text),
        }
    }
    let files: Vec<String> = wanted.iter().filter_map(|(_, path)| Some(output::pasted(path.as_ref()?))).collect();
    output::print(&printed.unwrap_or_else(|| format!("{verdict}\nwritten to {}\n", files.join(", "))))
}
