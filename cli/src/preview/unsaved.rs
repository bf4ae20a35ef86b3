//! Edits that are on no disk yet, kept where they outlive the server: in a folder of this user's, beside nothing of theirs.
//!
//! Each server has a folder of its own under `unsaved`, made with the first edit, and holds the file `held` in it by a lock
//! as long as it lives. A folder without a lock was left by a server that has ended, and is offered (`left`). A
//! file goes when its look has been saved, or its edits were given up, and not otherwise.

use super::left;
use super::studio::Studio;
use crate::disk;
use crate::failure::Failure;
use crate::output;
use crate::system;
use std::collections::BTreeMap;
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// The file of a folder that its server holds.
const HELD: &str = "held";

/// What this server keeps.
#[derive(Debug, Default)]
pub(super) struct Unsaved(Mutex<Own>);

#[derive(Debug, Default)]
struct Own {
    /// The folder, once there is one, and what holds it.
    folder: Option<(PathBuf, File)>,
    /// Texts that are in it, by the numbers of their looks.
    kept: BTreeMap<u64, String>,
    /// That nothing can be kept has been said.
    said: bool,
}

/// The folder in which servers of this user keep edits.
pub(super) fn state_folder() -> Option<PathBuf> {
    Some(system::state_folder()?.join("rushlight").join("unsaved"))
}

/// Whether a server that lives has the folder.
pub(super) fn is_held(folder: &Path) -> bool {
    matches!(disk::peek(&folder.join(HELD)).map(|(held, _)| held.try_lock()), Ok(Err(fs::TryLockError::WouldBlock)))
}

/// Takes a folder away in which nothing is kept any more.
pub(super) fn tidy(folder: &Path) {
    let mut left = fs::read_dir(folder).into_iter().flatten().flatten();
    // A kill may have left half a file, too.
    if left.all(|entry| !entry.file_name().to_string_lossy().ends_with(".toml")) {
        let _ = fs::remove_dir_all(folder);
    }
}

/// A look with edits that are in no file of the user's.
#[derive(Debug)]
pub(super) struct Edited {
    look: String,
    /// They outlive the server.
    pub(super) kept: bool,
}

impl Unsaved {
    /// Keeps the edits of every look as they are now, and none of a look that has none.
    pub(super) fn keep(&self, studio: &Studio) -> Vec<Edited> {
        let mut own = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        // Under the lock above, so that nothing older is written over what is newer.
        let (looks, show) = studio.edited();
        let mut edited = Vec::new();
        let mut failed = None;
        for (id, look) in looks {
            let kept = match &look {
                Some(look) => own.write(id, left::document(look, &show)),
                None => own.remove(id),
            };
            edited.extend(look.map(|look| Edited { look: look.name, kept: kept.is_ok() }));
            failed = failed.or(kept.err());
        }
        let was_said = std::mem::replace(&mut own.said, failed.is_some());
        match failed {
            Some(failure) if !was_said => {
                let why = failure.words();
                output::say(&format!("rushlight: edits are lost if this is ended before they are saved: {why}"));
            }
            None if was_said => output::say("rushlight: edits are kept again"),
            _ => {}
        }
        edited
    }

    /// For when the server is ended: what became of the edits, a line a look.
    pub(super) fn at_the_end(&self, studio: &Studio) -> Vec<String> {
        let edited = self.keep(studio);
        let own = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((folder, _)) = &own.folder {
            tidy(folder);
        }
        let said = |Edited { look, kept }: Edited| match kept {
            true => format!("the look {look} was not saved: its edits are kept, and offered when it is opened again"),
            false => format!("the look {look} was not saved, and its edits are lost"),
        };
        edited.into_iter().map(said).collect()
    }
}

fn file_of(id: u64) -> String {
    format!("{id}.toml")
}

impl Own {
    fn write(&mut self, id: u64, document: String) -> Result<(), Failure> {
        let path = self.folder()?.join(file_of(id));
        if self.kept.get(&id) != Some(&document) || !path.exists() {
            disk::write(&path, &document)?;
            self.kept.insert(id, document);
        }
        Ok(())
    }

    fn remove(&mut self, id: u64) -> Result<(), Failure> {
        if self.kept.remove(&id).is_some()
            && let Some((folder, _)) = &self.folder
        {
            fs::remove_file(folder.join(file_of(id)))?;
        }
        Ok(())
    }

    /// The folder of this server, made and held where it was not yet.
    fn folder(&mut self) -> Result<PathBuf, Failure> {
        if let Some((folder, _)) = &self.folder {
            return Ok(folder.clone());
        }
        let all = state_folder().ok_or_else(|| Failure::new("this user has no home folder"))?;
        let fail =
            |e: std::io::Error| Failure::new(format!("cannot write into {}: {}", all.display(), disk::plainly(&e)));
        fs::create_dir_all(&all).map_err(fail)?;
        let mut builder = tempfile::Builder::new();
        builder.prefix("preview-");
        system::folder_of_this_user(&mut builder);
        let folder = builder.tempdir_in(&all).map_err(fail)?.keep();
        let held = File::create(folder.join(HELD)).map_err(fail)?;
        // Where nothing can be locked, another server may offer what this one still keeps: nothing is lost by that.
        let _ = held.try_lock();
        self.folder = Some((folder.clone(), held));
        Ok(folder)
    }
}
