//! Folders of clips as inputs.

use super::plan::extension;
use crate::failure::Failure;
use crate::ffmpeg::CONTAINERS;
use std::fs;
use std::path::PathBuf;

/// The inputs with the clips of each folder in its place, in the order of their names.
pub(super) fn clips_of_folders(inputs: &[PathBuf]) -> Result<Vec<PathBuf>, Failure> {
    let mut all = Vec::new();
    for input in inputs {
        if !input.is_dir() {
            all.push(input.clone());
            continue;
        }
        let unread = |e: std::io::Error| Failure::new(format!("cannot read the folder {}: {e}", input.display()));
        let mut clips = Vec::new();
        for entry in fs::read_dir(input).map_err(unread)? {
            let path = entry.map_err(unread)?.path();
            let is_clip = CONTAINERS.iter().any(|c| extension(&path).eq_ignore_ascii_case(c));
            // Some systems leave a file of the same name with a dot in front beside each.
            let hidden = path.file_name().is_some_and(|name| name.to_string_lossy().starts_with('.'));
            if is_clip && !hidden && path.is_file() {
                clips.push(path);
            }
        }
        if clips.is_empty() {
            let known = CONTAINERS.join(", ");
            return Err(Failure::new(format!("{}: no clip in this folder: clips end in {known}", input.display())));
        }
        clips.sort();
        all.extend(clips);
    }
    Ok(all)
}
