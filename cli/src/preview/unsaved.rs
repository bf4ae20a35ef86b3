//! Edits that are on no disk yet, kept where they outlive the server: in a folder of this user's, beside nothing of theirs.
//!
//! Each server has a folder of its own under `unsaved`, made with the first edit, and holds the file `held` in it by a lock
//! as long as it lives. What lies in a folder that nobody holds was left by a server that is gone, and is offered. A file
//! there is the look's document, whole, under comment lines that say what it is of and which document it began with.

use super::look::Session;
use super::studio::Studio;
use crate::disk;
use crate::failure::Failure;
use rushlight::files::sha256;
use std::collections::BTreeMap;
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::time::SystemTime;

/// The file of a folder that its server holds.
const HELD: &str = "held";
/// How a file of edits begins; comments of TOML, so that it is a look by itself.
const FIRST: &str = "# Edits that `rushlight preview` kept because they were not saved.";
/// Before the checksum of the document that the edits began with.
const BEGAN: &str = "# Made on a document with SHA-256 ";
/// Lines above the document.
const LINES: usize = 3;
/// A file that is larger is none of ours.
const LARGEST: u64 = 16 << 20;

/// Edits that a server left which was ended before they were saved.
#[derive(Debug, Clone)]
pub(super) struct Left {
    /// Where they are kept.
    pub(super) path: PathBuf,
    /// The checksum of the document that they were made on.
    pub(super) began: String,
    pub(super) text: String,
}

/// What this server keeps.
#[derive(Debug, Default)]
pub(super) struct Unsaved(Mutex<Own>);

#[derive(Debug, Default)]
struct Own {
    /// The folder, once there is one, and what holds it.
    folder: Option<(PathBuf, File)>,
    /// Texts that are in it, by the names of their files.
    kept: BTreeMap<String, String>,
    /// That nothing can be kept has been said.
    said: bool,
}

/// The folder in which programs of this user keep what is to outlive them (XDG Base Directory Specification 0.8; on macOS and
/// Windows the system's own).
fn state_folder() -> Option<PathBuf> {
    let named = |name: &str| std::env::var_os(name).map(PathBuf::from).filter(|path| path.is_absolute());
    let home = |within: &str| Some(std::env::home_dir()?.join(within)).filter(|path| path.is_absolute());
    let base = named("XDG_STATE_HOME").or_else(|| match std::env::consts::OS {
        "windows" => named("LOCALAPPDATA"),
        "macos" => home("Library/Application Support"),
        _ => home(".local/state"),
    });
    Some(base?.join("rushlight").join("unsaved"))
}

/// The name of the file for a look: of the document and of its name in the show, both.
fn name_of(look: &str, path: &Path) -> String {
    let of = [path.as_os_str().as_encoded_bytes(), look.as_bytes()].join(&b'\n');
    format!("{}.toml", &sha256(&of)[..32])
}

/// The newest edits of a look that nobody's server keeps any more.
pub(super) fn left(look: &str, path: &Path) -> Option<Left> {
    let name = name_of(look, path);
    let folders = fs::read_dir(state_folder()?).ok()?.flatten().map(|entry| entry.path());
    let newest = |file: &PathBuf| fs::metadata(file).and_then(|m| m.modified()).unwrap_or(SystemTime::UNIX_EPOCH);
    folders
        .filter(|folder| folder.join(&name).is_file() && !is_held(folder))
        .map(|folder| folder.join(&name))
        .max_by_key(newest)
        .and_then(|file| read(&file))
}

fn is_held(folder: &Path) -> bool {
    matches!(File::open(folder.join(HELD)).map(|held| held.try_lock()), Ok(Err(fs::TryLockError::WouldBlock)))
}

fn read(file: &Path) -> Option<Left> {
    if fs::metadata(file).ok()?.len() > LARGEST {
        return None;
    }
    let whole = disk::read_text(file).ok()?;
    let (head, text) = whole.match_indices('\n').nth(LINES - 1).map(|(end, _)| whole.split_at(end + 1))?;
    let began = head.lines().find_map(|line| line.strip_prefix(BEGAN)).filter(|_| head.starts_with(FIRST))?;
    Some(Left { path: file.to_owned(), began: began.to_owned(), text: text.to_owned() })
}

/// Takes edits away that were taken up, or are not wanted, and their folder once it has no more.
pub(super) fn take_away(file: &Path) {
    let _ = fs::remove_file(file);
    if let Some(folder) = file.parent().filter(|folder| !is_held(folder)) {
        tidy(folder);
    }
}

/// Takes a folder away in which nothing is kept any more.
fn tidy(folder: &Path) {
    let mut left = fs::read_dir(folder).into_iter().flatten().flatten();
    // A kill may have left half a file, too.
    if left.all(|entry| !entry.file_name().to_string_lossy().ends_with(".toml")) {
        let _ = fs::remove_dir_all(folder);
    }
}

impl Unsaved {
    /// Keeps the edits of every look as they are now, and none of a look that has none; the names of looks that have.
    pub(super) fn keep(&self, studio: &Studio) -> Vec<String> {
        let look = |look: &Session| {
            let path = studio.path_of(&look.file);
            let document = look.is_unsaved().then(|| document(look, &path));
            (look.name.clone(), name_of(&look.name, &path), document)
        };
        let mut own = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        // Under the lock above, so that nothing older is written over what is newer.
        let looks: Vec<_> = studio.lock().looks.values().map(look).collect();
        let mut unsaved = Vec::new();
        for (look, file, document) in looks {
            let kept = match document {
                Some(document) => {
                    unsaved.push(look);
                    own.write(file, document)
                }
                None => own.remove(&file),
            };
            if let Err(failure) = kept
                && !std::mem::replace(&mut own.said, true)
            {
                let why = failure.words();
                eprintln!("rushlight: edits are lost if this is ended before they are saved: {why}");
            }
        }
        unsaved
    }

    /// For when the server is ended: what became of the edits, a line a look.
    pub(super) fn at_the_end(&self, studio: &Studio) -> Vec<String> {
        let unsaved = self.keep(studio);
        let own = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((folder, _)) = &own.folder {
            tidy(folder);
        }
        let looks = unsaved.into_iter().map(|look| {
            if own.said {
                format!("the look {look} was not saved, and its edits are lost")
            } else {
                format!("the look {look} was not saved: its edits are kept, and offered when it is opened again")
            }
        });
        looks.collect()
    }
}

fn document(look: &Session, path: &Path) -> String {
    let began = sha256(look.disk().as_bytes());
    // As one line, whatever the names have in them.
    format!("{FIRST}\n# The look {:?}, of {path:?}\n{BEGAN}{began}\n{}", look.name, look.text())
}

impl Own {
    fn write(&mut self, file: String, document: String) -> Result<(), Failure> {
        if self.kept.get(&file) == Some(&document) {
            return Ok(());
        }
        let path = self.folder()?.join(&file);
        disk::write(&path, &document)?;
        self.kept.insert(file, document);
        Ok(())
    }

    fn remove(&mut self, file: &str) -> Result<(), Failure> {
        if self.kept.remove(file).is_some()
            && let Some((folder, _)) = &self.folder
        {
            fs::remove_file(folder.join(file))?;
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
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o700));
        let folder = builder.tempdir_in(&all).map_err(fail)?.keep();
        let held = File::create(folder.join(HELD)).map_err(fail)?;
        // Where nothing can be locked, another server may offer what this one still keeps: nothing is lost by that.
        let _ = held.try_lock();
        self.folder = Some((folder.clone(), held));
        Ok(folder)
    }
}
