//! The one place that gives files their names, once they are whole.

use super::interrupt::unfinished;
use super::read::was_read;
use super::temporary::{END, Leftovers, temporary};
use super::{SAME_NAME, folder_of, name_of, plainly, read_end, read_start, unwritten};
use crate::failure::Failure;
use crate::system;
use rushlight::files::in_any_case;
use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// Bytes of a file among which the mark of its maker is looked for.
const START: usize = 1 << 16;
/// Bytes of a list of files.
const LIST: usize = 64 << 20;
/// What lists, pages and manuals of ours have in them.
const MARK: &[u8] = b"rushlight";
/// What comments and descriptions in tables, pictures and clips of ours begin with.
const MADE: [&[u8]; 2] = [b"made by rushlight ", b"converted by rushlight "];
/// Extensions of files whose comments may name this program although another made them: our own header makes one of them ours.
const HEADED: [&str; 2] = ["cube", "clf"];

/// How a file says who made it.
pub(crate) fn maker() -> String {
    format!("made by rushlight {}", env!("CARGO_PKG_VERSION"))
}

/// Whether a file may be written: what was read in this run, what is read-only and what is no file are not replaced.
pub(crate) fn check(path: &Path) -> Result<(), Failure> {
    if name_of(path)?.to_str().is_some_and(system::is_no_name) {
        return Err(unwritten(path, "this system can have no file of that name: name another"));
    }
    let Ok(there) = fs::metadata(path) else { return Ok(()) };
    let why = match () {
        () if there.is_dir() => "it is a folder",
        () if !there.is_file() => "it is a pipe or a device: name a file",
        () if was_read(path) => "it is read too: name another file",
        () if there.permissions().readonly() => "it is read-only: name another file, or let it be written to",
        () => return Ok(()),
    };
    Err(unwritten(path, why))
}

/// Files for one folder that appear together, each whole, once all of them are written.
pub(crate) struct Batch {
    dir: PathBuf,
    files: Vec<(NamedTempFile, PathBuf)>,
    /// Their names, as systems see them that take names in any case.
    taken: BTreeSet<String>,
    /// What killed runs left; of the files of this batch it is taken away.
    left: Leftovers,
    /// Where the names are of our choosing, the list of the files of an earlier run: a file that another program made is not replaced.
    ours: Option<Ours>,
}

/// Which files are of this program.
struct Ours {
    /// The list of an earlier run, or nothing.
    list: Vec<u8>,
    /// What helps who has another file of such a name.
    help: &'static str,
}

impl Batch {
    /// A batch for `dir`, which is made if it is not there; that it can be written to is found out now, before the work.
    pub(crate) fn new(dir: &Path) -> Result<Self, Failure> {
        let fail = |e: io::Error| Failure::new(format!("cannot write into {}: {}", dir.display(), plainly(&e)));
        fs::create_dir_all(dir).map_err(fail)?;
        let mut left = Leftovers::of(dir);
        // A run that was killed while it tried this left a file without a name.
        left.clear(OsStr::new(""));
        temporary(dir, OsStr::new(""), END, false).map_err(fail)?;
        Ok(Self { left, ..Self::within(dir) })
    }

    /// A batch for a folder that a batch was made for before.
    pub(crate) fn within(dir: &Path) -> Self {
        let (files, taken, left) = (Vec::new(), BTreeSet::new(), Leftovers::default());
        Self { dir: dir.to_owned(), files, taken, left, ours: None }
    }

    /// A batch for a folder in which the names are of our choosing, not the user's: without `force` a file is replaced only
    /// if it says that we made it, if it holds these very bytes, or if the file `list`, which says of itself that we made it,
    /// names it.
    pub(crate) fn of_our_names(dir: &Path, list: Option<&str>, force: bool) -> Result<Self, Failure> {
        let batch = Self::new(dir)?;
        Ok(if force { batch } else { batch.replacing_ours(list, "name another folder, or give --force") })
    }

    /// The same of a batch that there is; `help` says what to do about a file that another program made.
    pub(crate) fn replacing_ours(mut self, list: Option<&str>, help: &'static str) -> Self {
        let mut list = list.map(|list| read_start(&self.dir.join(list), LIST)).unwrap_or_default();
        if !is_marked(&list) {
            list.clear();
        }
        self.ours = Some(Ours { list, help });
        self
    }

    fn check_ours(&self, path: &Path, name: &OsStr, contents: &[u8]) -> Result<(), Failure> {
        let Some(Ours { list, help }) = &self.ours else { return Ok(()) };
        let named = format!("\"{}\"", name.to_string_lossy());
        let is_same = || read_start(path, contents.len() + 1) == contents;
        if !path.exists() || holds(list, named.as_bytes()) || is_ours(path) || is_same() {
            return Ok(());
        }
        Err(not_ours(path, help))
    }

    /// Writes a file under a temporary name.
    pub(crate) fn add(&mut self, name: impl AsRef<OsStr>, contents: impl AsRef<[u8]>) -> Result<(), Failure> {
        let (name, contents) = (name.as_ref(), contents.as_ref());
        let path = self.dir.join(name);
        check(&path)?;
        self.check_ours(&path, name, contents)?;
        self.add_by(name, |mut file| file.write_all(contents).map_err(|e| unwritten(&path, &plainly(&e))))
    }

    /// Writes a file that may be written under a temporary name, by `fill`.
    fn add_by(&mut self, name: &OsStr, fill: impl FnOnce(&File) -> Result<(), Failure>) -> Result<(), Failure> {
        let path = self.dir.join(name);
        if !self.taken.insert(in_any_case(&name.to_string_lossy())) {
            return Err(unwritten(&path, SAME_NAME));
        }
        self.left.clear(name);
        let fail = |e: io::Error| unwritten(&path, &plainly(&e));
        let file = temporary(&self.dir, name, END, false).map_err(fail)?;
        fill(file.as_file())?;
        file.as_file().sync_all().map_err(fail)?;
        self.files.push((file, path));
        Ok(())
    }

    /// Files with names that are there already; `list`, the list of all of them, is not counted.
    pub(crate) fn replaced(&self, list: &str) -> usize {
        self.files.iter().filter(|(_, path)| !path.ends_with(list) && path.exists()).count()
    }

    /// Gives every file its name, in the order in which they were added.
    pub(crate) fn finish(self) -> Result<(), Failure> {
        // An interrupt waits until every file has its name.
        let mut unfinished = unfinished();
        for (file, path) in self.files {
            unfinished.retain(|u| u != file.path());
            // It may have come since.
            check(&path)?;
            take_after(file.as_file(), &path);
            system::give_name(file, &path).map_err(|e| unwritten(&path, &plainly(&e)))?;
        }
        drop(unfinished);
        system::sync_folder(&self.dir);
        Ok(())
    }
}

fn holds(bytes: &[u8], part: &[u8]) -> bool {
    bytes.windows(part.len()).any(|window| window == part)
}

fn is_marked(bytes: &[u8]) -> bool {
    holds(bytes, MARK)
}

/// Whether a file says that we made it.
fn is_ours(path: &Path) -> bool {
    let extension = path.extension().and_then(OsStr::to_str).unwrap_or_default();
    let start = read_start(path, START);
    match HEADED.iter().any(|headed| extension.eq_ignore_ascii_case(headed)) {
        true => says_made(&start),
        false => is_marked(&start),
    }
}

fn says_made(bytes: &[u8]) -> bool {
    MADE.iter().any(|made| holds(bytes, made))
}

/// Whether a still or a clip says, where it begins or ends, that we made it.
pub(crate) fn says_ours(path: &Path) -> bool {
    says_made(&read_start(path, START)) || says_made(&read_end(path, START))
}

/// That a file of another maker is there; `help` says what to do.
pub(crate) fn not_ours(path: &Path, help: &str) -> Failure {
    unwritten(path, &format!("it is there and was not made by this program: {help}"))
}

/// Gives a new file who may do what with the one that it takes the place of, as far as the system lets us.
pub(super) fn take_after(file: &File, path: &Path) {
    let Ok(there) = fs::metadata(path) else { return };
    system::take_owner(file, &there);
    let _ = file.set_permissions(there.permissions());
}

/// Writes one file, whole or not at all; its folder is made if it is not there.
pub(crate) fn write(path: &Path, contents: impl AsRef<[u8]>) -> Result<(), Failure> {
    check(path)?;
    finish_one(Batch::new(folder_of(path))?, path, contents)
}

/// Writes one file that `fill` writes piece by piece, whole or not at all; its folder is made if it is not there.
pub(crate) fn write_by(path: &Path, fill: impl FnOnce(&File) -> Result<(), Failure>) -> Result<(), Failure> {
    check(path)?;
    let mut batch = Batch::new(folder_of(path))?;
    batch.add_by(name_of(path)?, fill)?;
    batch.finish()
}

/// Writes one file, whole or not at all, into a folder that a batch was made for before.
pub(crate) fn write_within(path: &Path, contents: impl AsRef<[u8]>) -> Result<(), Failure> {
    finish_one(Batch::within(folder_of(path)), path, contents)
}

fn finish_one(mut batch: Batch, path: &Path, contents: impl AsRef<[u8]>) -> Result<(), Failure> {
    batch.add(name_of(path)?, contents)?;
    batch.finish()
}

/// A file that another program writes, under a temporary name with the same extension until it is whole.
pub(crate) struct Pending {
    file: NamedTempFile,
    path: PathBuf,
}

impl Pending {
    pub(crate) fn new(path: &Path) -> Result<Self, Failure> {
        check(path)?;
        let extension = path.extension().map(|e| format!(".{}", e.to_string_lossy())).unwrap_or_default();
        let file =
            temporary(folder_of(path), name_of(path)?, &extension, false).map_err(|e| unwritten(path, &plainly(&e)))?;
        Ok(Self { file, path: path.to_owned() })
    }

    /// Where it is written.
    pub(crate) fn path(&self) -> &Path {
        self.file.path()
    }

    /// Gives it its name.
    pub(crate) fn finish(self) -> Result<(), Failure> {
        let dir = folder_of(&self.path).to_owned();
        Batch { files: vec![(self.file, self.path)], ..Batch::within(&dir) }.finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_written_over_that_must_stay() {
        let dir = tempfile::tempdir().unwrap();
        let at = |name: &str| dir.path().join(name);
        let said = |path: &Path| write(path, "new").unwrap_err().words();
        fs::write(at("read"), "old").unwrap();
        super::super::read_regular(&at("read")).unwrap();
        assert!(said(&at("read")).ends_with("it is read too: name another file"));
        assert!(said(&at("./read")).ends_with("it is read too: name another file"));
        assert!(said(dir.path()).ends_with("it is a folder"));
        fs::write(at("kept"), "old").unwrap();
        let mut closed = fs::metadata(at("kept")).unwrap().permissions();
        closed.set_readonly(true);
        fs::set_permissions(at("kept"), closed).unwrap();
        assert!(said(&at("kept")).contains("it is read-only"));
        for name in ["read", "kept"] {
            assert_eq!(fs::read(at(name)).unwrap(), b"old");
        }
        write(&at("other"), "new").unwrap();
        write(&at("other"), "newer").unwrap();
        assert_eq!(fs::read(at("other")).unwrap(), b"newer");
    }

    #[test]
    fn a_batch_of_our_own_names_replaces_our_own_files() {
        let dir = tempfile::tempdir().unwrap();
        let at = |name: &str| dir.path().join(name);
        let made = |text: &str, force: bool| {
            let mut batch = Batch::of_our_names(dir.path(), Some("list.json"), force).unwrap();
            batch.add("a.cube", text).and_then(|()| batch.add("list.json", "rushlight \"a.cube\"")).map(|()| batch)
        };
        fs::write(at("list.json"), "MINE").unwrap();
        assert!(made("no comment", false).is_err_and(|e| e.words().contains("--force")));
        assert_eq!(fs::read(at("list.json")).unwrap(), b"MINE");
        made("no comment", true).unwrap().finish().unwrap();
        made("another", false).unwrap().finish().unwrap();
        // What a killed run left without its list is the same, or is not ours.
        fs::remove_file(at("list.json")).unwrap();
        made("another", false).unwrap();
        assert!(made("longer than another", false).is_err_and(|e| e.words().contains("a.cube")));
    }

    #[test]
    fn two_files_of_a_batch_are_never_one_on_any_system() {
        let dir = tempfile::tempdir().unwrap();
        let mut batch = Batch::new(dir.path()).unwrap();
        batch.add("A001.cc", "one").unwrap();
        let why = batch.add("a001.cc", "two").unwrap_err().words();
        assert!(why.contains("a001.cc") && why.contains("in any case"), "{why}");
        batch.add("a002.cc", "three").and_then(|()| batch.finish()).unwrap();
        assert_eq!(fs::read(dir.path().join("A001.cc")).unwrap(), b"one");
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 2);
    }

    #[test]
    fn a_file_that_is_written_in_pieces_is_whole_or_not_there() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("new/file");
        let written = |last: Result<(), Failure>| {
            write_by(&path, |mut file| {
                file.write_all(b"one ").unwrap();
                file.write_all(b"two").unwrap();
                last
            })
        };
        assert!(written(Err(Failure::new("no more"))).is_err_and(|e| e.words() == "no more"));
        assert_eq!(fs::read_dir(dir.path().join("new")).unwrap().count(), 0);
        written(Ok(())).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"one two");
    }

    #[cfg(unix)]
    #[test]
    fn what_is_replaced_keeps_its_mode() {
        use std::os::unix::fs::PermissionsExt;
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("file");
        for mode in [0o600, 0o664, 0o755] {
            fs::write(&path, "old").unwrap();
            fs::set_permissions(&path, fs::Permissions::from_mode(mode)).unwrap();
            write(&path, "new").unwrap();
            assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o7777, mode);
        }
    }
}
