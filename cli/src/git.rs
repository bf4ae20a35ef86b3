//! Files as they were at a revision of a git repository, through the `git` program.

use crate::disk;
use rushlight::files::{FileError, Files};
use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;

/// A commit, or the files as they stand.
#[derive(Debug, Clone)]
pub(crate) struct Tree {
    /// The top folder of the repository.
    pub(crate) top: Arc<Path>,
    /// The commit; none for the files as they stand.
    pub(crate) commit: Option<String>,
    /// What people call it.
    pub(crate) name: String,
}

/// The files of a tree as a document in `folder` names them.
#[derive(Debug, Clone)]
pub(crate) struct Within {
    pub(crate) tree: Tree,
    /// From the top, ending in a slash where it is not empty.
    pub(crate) folder: String,
}

impl Files for Within {
    fn read(&self, name: &str) -> Result<Vec<u8>, FileError> {
        let path = normal(&format!("{}{name}", self.folder)).ok_or("it lies outside the repository")?;
        Ok(self.tree.read(&path)?)
    }
}

impl Within {
    /// What stood in `folder` at a revision.
    pub(crate) fn at(folder: &Path, revision: &str) -> Result<Self, String> {
        let (top, folder) = place(folder)?;
        let commit = commit(&top, revision)?;
        Ok(Self { tree: Tree { top, commit: Some(commit), name: revision.to_owned() }, folder })
    }
}

impl Tree {
    /// The bytes of the file at `path`, from the top.
    pub(crate) fn read(&self, path: &str) -> Result<Vec<u8>, String> {
        match &self.commit {
            None => disk::regular(&self.top.join(path)),
            Some(commit) => {
                let blob = format!("{commit}:{path}");
                match printed(&self.top, &["cat-file", "blob", &blob], disk::LARGEST) {
                    Err(Trouble::Large) => Err("larger than any document or cube".to_owned()),
                    other => other.map_err(|_| format!("no such file at {}", self.name)),
                }
            }
        }
    }
}

/// The top folder of the repository that `folder` lies in, and the way down from there.
pub(crate) fn place(folder: &Path) -> Result<(Arc<Path>, String), String> {
    let top = git(folder, &["rev-parse", "--show-toplevel"])?;
    let down = git(folder, &["rev-parse", "--show-prefix"])?;
    Ok((PathBuf::from(line(&top)).into(), line(&down)))
}

/// The commit that a revision names.
pub(crate) fn commit(top: &Path, revision: &str) -> Result<String, String> {
    let name = format!("{revision}^{{commit}}");
    let found =
        git(top, &["rev-parse", "--verify", "--quiet", "--end-of-options", &name]).map_err(|_| {
            match Path::new(revision).exists() {
                true => format!(
                    "`{revision}` is not a revision but a path: paths come after `--`, as in --git main -- {revision}"
                ),
                false => format!("`{revision}` is not a revision of this repository"),
            }
        })?;
    Ok(line(&found))
}

/// A path without `.` and `..`; nothing for one that leads out of the repository.
pub(crate) fn normal(path: &str) -> Option<String> {
    let mut parts: Vec<&str> = Vec::new();
    for part in path.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                parts.pop()?;
            }
            part => parts.push(part),
        }
    }
    Some(parts.join("/"))
}

/// What `git` prints, or why it could not.
pub(crate) fn git(folder: &Path, args: &[&str]) -> Result<Vec<u8>, String> {
    printed(folder, args, MOST_PRINTED).map_err(|trouble| match trouble {
        Trouble::Large => format!("`git {}` prints more than {MOST_PRINTED} bytes", args.join(" ")),
        Trouble::Git(why) => why,
    })
}

/// Bytes of a list of files that `git` prints.
const MOST_PRINTED: u64 = 64 << 20;

/// Why `git` printed nothing of use.
enum Trouble {
    /// More than is read.
    Large,
    /// What it printed, or why it did not run.
    Git(String),
}

/// What `git` prints, where that is no more than `most` bytes. It asks for no password, and no server for what is not
/// there.
fn printed(folder: &Path, args: &[&str], most: u64) -> Result<Vec<u8>, Trouble> {
    // No folder is where we stand.
    let folder = if folder == Path::new("") { Path::new(".") } else { folder };
    let mut command = Command::new("git");
    command.env("GIT_TERMINAL_PROMPT", "0").env("GIT_NO_LAZY_FETCH", "1").arg("-C").arg(folder).args(args);
    let child = command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn();
    let not_run = |e: std::io::Error| Trouble::Git(format!("the program `git` does not run: {e}"));
    let mut child = child.map_err(not_run)?;
    let mut text = Vec::new();
    let read = child.stdout.take().map(|out| out.take(most + 1).read_to_end(&mut text));
    if text.len() as u64 > most {
        let _ = child.kill();
        let _ = child.wait();
        return Err(Trouble::Large);
    }
    let ended = child.wait_with_output().map_err(not_run)?;
    match read {
        Some(Err(error)) => Err(not_run(error)),
        _ if ended.status.success() => Ok(text),
        _ => Err(Trouble::Git(String::from_utf8_lossy(&ended.stderr).trim().trim_start_matches("fatal: ").to_owned())),
    }
}

fn line(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).trim_end_matches(['\n', '\r']).to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_more_is_read_than_may_be() {
        let Ok(top) = git(Path::new(env!("CARGO_MANIFEST_DIR")), &["rev-parse", "--show-toplevel"]) else {
            return eprintln!("skipped: no repository here");
        };
        let long = top.len() as u64;
        let read = |most| printed(Path::new(""), &["rev-parse", "--show-toplevel"], most);
        assert!(matches!(read(long), Ok(text) if text == top));
        assert!(matches!(read(long - 1), Err(Trouble::Large)));
    }
}
