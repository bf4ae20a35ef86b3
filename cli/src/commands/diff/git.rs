//! Both sides from a git repository, through the `git` program: every file of a side is read at that side's revision.

use crate::failure::Failure;
use crate::git::{Tree, Within, commit, git, normal, place};
use rushlight::cube::Interpolation;
use rushlight::diff::{Content, Input, Origin};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Names of files that are compared.
const KINDS: [&str; 4] = [".toml", ".cube", ".clf", ".png"];

/// What of a tree is compared.
trait Compared {
    /// Every file of our kinds under `path`.
    fn list(&self, path: &str) -> Result<BTreeSet<String>, Failure>;
    /// The file at `path`, with the files that it names.
    fn origin(&self, path: &str) -> Result<Origin, Failure>;
}

impl Compared for Tree {
    fn list(&self, path: &str) -> Result<BTreeSet<String>, Failure> {
        let literal = format!(":(literal){path}");
        let within: &[&str] = if path.is_empty() { &[] } else { &["--", &literal] };
        let args = match &self.commit {
            Some(commit) => {
                let within: &[&str] = if path.is_empty() { &[] } else { &["--", path] };
                [&["ls-tree", "-r", "-z", "--name-only", commit.as_str()], within].concat()
            }
            None => [&["ls-files", "-z", "--cached", "--others", "--exclude-standard"], within].concat(),
        };
        let found = git(&self.top, &args).map_err(Failure::new)?;
        let names = found.split(|b| *b == 0).map(|name| String::from_utf8_lossy(name).into_owned());
        let kept = |name: &String| {
            KINDS.iter().any(|kind| name.ends_with(kind)) && (self.commit.is_some() || self.top.join(name).is_file())
        };
        Ok(names.filter(kept).collect())
    }

    fn origin(&self, path: &str) -> Result<Origin, Failure> {
        let (folder, name) = path.rsplit_once('/').map_or(("", path), |(folder, name)| (folder, name));
        let folder = if folder.is_empty() { String::new() } else { format!("{folder}/") };
        let base = match self.commit {
            Some(_) => format!("{}:{folder}", self.name),
            None => folder.clone(),
        };
        let bytes = self.read(path).map_err(|why| Failure::new(format!("cannot read {}:{path}: {why}", self.name)))?;
        let files = Box::new(Within { tree: self.clone(), folder });
        Ok(Origin { base, name: name.to_owned(), bytes, files })
    }
}

/// Two sides of one path, one of which may not be there.
pub(super) struct Found {
    pub(super) path: String,
    pub(super) old: Option<Input>,
    pub(super) new: Option<Input>,
    /// The user named this very file.
    pub(super) is_named: bool,
}

/// Files that git takes for the same under another name; a tree of the disk knows none that git does not have yet.
fn renames(top: &Path, old: &Tree, new: &Tree) -> Vec<[String; 2]> {
    let revisions = old.commit.as_deref().into_iter().chain(new.commit.as_deref());
    let args: Vec<&str> =
        ["diff", "--name-status", "-z", "-M", "--diff-filter=R"].into_iter().chain(revisions).collect();
    let said = git(top, &args).unwrap_or_default();
    let words: Vec<String> = said.split(|b| *b == 0).map(|w| String::from_utf8_lossy(w).into_owned()).collect();
    words.chunks_exact(3).map(|w| [w[1].clone(), w[2].clone()]).collect()
}

/// What two revisions (without a second: the files as they stand) have under `paths` (none: everything) and is not the
/// same: each file that a path names, and under its folders shows, looks and table files.
pub(super) fn sides(
    revisions: &[String],
    paths: &[PathBuf],
    interpolation: Option<Interpolation>,
) -> Result<([String; 2], Vec<Found>), Failure> {
    let (top, prefix) = place(Path::new(".")).map_err(|why| Failure::new(format!("--git: {why}")))?;
    let tree = |revision: Option<&String>| -> Result<Tree, Failure> {
        let Some(name) = revision else {
            return Ok(Tree { top: top.clone(), commit: None, name: "the files as they stand".to_owned() });
        };
        let commit = commit(&top, name).map_err(|why| Failure::new(format!("--git: {why}")))?;
        Ok(Tree { top: top.clone(), commit: Some(commit), name: name.clone() })
    };
    let (old, new) = (tree(revisions.first())?, tree(revisions.get(1))?);
    let everything = [PathBuf::from(".")];
    let paths = if paths.is_empty() { &everything } else { paths };
    let mut named = BTreeSet::new();
    let mut all = BTreeSet::new();
    for given in paths {
        let text = given.to_string_lossy();
        let path = normal(&format!("{prefix}{text}"))
            .ok_or_else(|| Failure::new(format!("{text} lies outside the repository")))?;
        let found: BTreeSet<String> = old.list(&path)?.union(&new.list(&path)?).cloned().collect();
        if found.is_empty() {
            let (old, new) = (&old.name, &new.name);
            return Err(Failure::new(format!("{text}: neither {old} nor {new} has a look, show or cube there")));
        }
        if found.contains(&path) {
            named.insert(path);
        }
        all.extend(found);
    }
    let (before, after) = (old.list("")?, new.list("")?);
    let mut founds = Vec::new();
    let mut covered = BTreeSet::new();
    for path in all {
        let is_named = named.contains(&path);
        let read = |tree: &Tree, has: &BTreeSet<String>| -> Result<Option<Input>, Failure> {
            if !has.contains(&path) {
                return Ok(None);
            }
            let origin = tree.origin(&path)?;
            // A picture is a Hald image only when it is named as one.
            if path.ends_with(".png") && !is_named {
                return Ok(None);
            }
            Ok(Some(Input::read(origin, interpolation)?))
        };
        let (one, two) = (read(&old, &before)?, read(&new, &after)?);
        let is_other = |side: &Option<Input>| side.as_ref().is_none_or(|s| matches!(s.content, Content::Other));
        let same = match (&one, &two) {
            (Some(a), Some(b)) => a.origin.bytes == b.origin.bytes && a.sources() == b.sources(),
            _ => false,
        };
        if !is_named && (same || (is_other(&one) && is_other(&two))) {
            continue;
        }
        let folder = path.rsplit_once('/').map_or(String::new(), |(folder, _)| format!("{folder}/"));
        for side in [&one, &two].into_iter().flatten().filter(|s| matches!(s.content, Content::Show(_))) {
            let files = side.sources().into_iter().map(|s| s.file).filter(|file| *file != side.origin.name);
            covered.extend(files.filter_map(|file| normal(&format!("{folder}{file}"))));
        }
        founds.push(Found { path, old: one, new: two, is_named });
    }
    for [from, to] in renames(&top, &old, &new) {
        let at = |path: &str| founds.iter().position(|f| f.path == path);
        let (Some(gone), Some(came)) = (at(&from), at(&to)) else { continue };
        if founds[gone].new.is_none() && founds[came].old.is_none() {
            founds[came].old = founds[gone].old.take();
            founds.remove(gone);
        }
    }
    // What a show reports is not reported twice.
    founds.retain(|f| named.contains(&f.path) || !covered.contains(&f.path));
    Ok(([old.name, new.name], founds))
}
