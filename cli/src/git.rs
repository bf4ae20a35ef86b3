//! Files as they were at a revision of a git repository, through the `git` program.

use crate::disk;
use rushlight::files::Files;
use std::path::{Path, PathBuf};
use std::process::Command;
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
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        let path = normal(&format!("{}{name}", self.folder)).ok_or("it lies outside the repository")?;
        self.tree.read(&path)
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
            Some(commit) => git(&self.top, &["cat-file", "blob", &format!("{commit}:{path}")])
                .map_err(|_| format!("no such file at {}", self.name)),
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
    let found = git(top, &["rev-parse", "--verify", "--quiet", "--end-of-options", &name])
        .map_err(|_| format!("`{revision}` is no revision of this repository"))?;
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
    // No folder is where we stand.
    let folder = if folder == Path::new("") { Path::new(".") } else { folder };
    let output = Command::new("git").arg("-C").arg(folder).args(args).output();
    let output = output.map_err(|e| format!("the program `git` does not run: {e}"))?;
    if output.status.success() {
        return Ok(output.stdout);
    }
    let said = String::from_utf8_lossy(&output.stderr);
    Err(said.trim().trim_start_matches("fatal: ").to_owned())
}

fn line(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).trim_end_matches(['\n', '\r']).to_owned()
}
