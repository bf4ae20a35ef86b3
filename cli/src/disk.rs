//! Files: reading them beside a document, and writing them whole or not at all.

use crate::failure::Failure;
use rushlight::document::Problems;
use rushlight::files::{Files, NO_FILE};
use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::fs::{self, TryLockError};
use std::io::{self, ErrorKind, Read as _, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use tempfile::{NamedTempFile, TempDir};

/// Largest document, curve or cube file that is read: a cube of 256 points is below it.
const LARGEST: u64 = 1 << 30;

/// Temporary files and folders that have no name of their own yet.
static UNFINISHED: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());
/// The exit code of a program that was interrupted, as shells give it.
const INTERRUPTED: i32 = 130;

/// What is done when an interrupt ends the program; it gives the exit code.
type Last = Box<dyn FnOnce() -> i32 + Send>;
static LAST: Mutex<Option<Last>> = Mutex::new(None);

/// An interrupt is how this command ends: `last` is done then, and gives the exit code.
pub(crate) fn when_interrupted(last: impl FnOnce() -> i32 + Send + 'static) {
    *LAST.lock().unwrap_or_else(PoisonError::into_inner) = Some(Box::new(last));
}

/// From now on an interrupt (Ctrl-C), or being told to end, takes the temporary files away before it ends the program;
/// `first` is done before.
pub(crate) fn tidy_up_when_interrupted(first: fn()) {
    // Where no handler can be set an interrupt ends the program all the same.
    let _ = ctrlc::set_handler(move || {
        first();
        // It may write, so it comes before what is unfinished is taken away.
        let last = LAST.lock().unwrap_or_else(PoisonError::into_inner).take();
        let code = last.map_or(INTERRUPTED, |last| last());
        let unfinished = unfinished();
        for path in unfinished.iter() {
            let _ = if path.is_dir() { fs::remove_dir_all(path) } else { fs::remove_file(path) };
        }
        std::process::exit(code);
    });
}

fn unfinished() -> MutexGuard<'static, Vec<PathBuf>> {
    UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The folder of a document.
pub(crate) struct Folder(PathBuf);

impl Folder {
    /// The folder that holds `document`.
    pub(crate) fn of(document: &Path) -> Self {
        Self(document.parent().unwrap_or(Path::new("")).to_owned())
    }

    /// Where a file within it is, by the name that the document has for it.
    pub(crate) fn within(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }

    /// Problems of the documents within, each under the path by which the user finds its file from where they stand.
    pub(crate) fn failure(&self, documents: impl IntoIterator<Item = Problems>) -> Failure {
        let found = |p: Problems| Problems { name: self.0.join(&p.name).display().to_string(), ..p };
        Failure::Documents(documents.into_iter().map(found).collect())
    }
}

impl Files for Folder {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        read(&self.0.join(name))
    }

    fn names(&self, folder: &str) -> Vec<String> {
        let entries = fs::read_dir(self.0.join(folder).join(".")).into_iter().flatten().flatten().take(1000);
        entries.filter_map(|entry| entry.file_name().into_string().ok()).collect()
    }
}

/// What an error of the system means, without its number.
pub(crate) fn plainly(error: &io::Error) -> String {
    match error.kind() {
        ErrorKind::NotFound => NO_FILE.to_owned(),
        ErrorKind::PermissionDenied => "permission denied".to_owned(),
        ErrorKind::NotADirectory => "a file is where a folder should be".to_owned(),
        ErrorKind::AlreadyExists => "a file of that name is there".to_owned(),
        ErrorKind::StorageFull => "the disk is full".to_owned(),
        ErrorKind::ReadOnlyFilesystem => "the disk is read-only".to_owned(),
        _ => error.to_string(),
    }
}

/// The bytes of a file of a sane size, which stays as it is while it is read.
fn read(path: &Path) -> Result<Vec<u8>, String> {
    let too_large = |bytes: u64| format!("{bytes} bytes: larger than any document or cube ({LARGEST} bytes)");
    let mut file = fs::File::open(path).map_err(|e| plainly(&e))?;
    let before = file.metadata().map_err(|e| plainly(&e))?;
    if before.is_dir() {
        return Err("it is a folder".to_owned());
    }
    if before.len() > LARGEST {
        return Err(too_large(before.len()));
    }
    let mut bytes = Vec::with_capacity(before.len() as usize);
    // A pipe or a device has no length of its own, and a file that is being written has another by now.
    let read = (&mut file).take(LARGEST + 1).read_to_end(&mut bytes).map_err(|e| plainly(&e))? as u64;
    if read > LARGEST {
        return Err(too_large(read));
    }
    let after = file.metadata().map_err(|e| plainly(&e))?;
    let moved = before.modified().ok() != after.modified().ok();
    if before.is_file() && (moved || read != before.len() || after.len() != before.len()) {
        return Err("it changed while it was read: try again once it is whole".to_owned());
    }
    Ok(bytes)
}

/// The bytes of a file.
pub(crate) fn read_bytes(path: &Path) -> Result<Vec<u8>, Failure> {
    read(path).map_err(|why| Failure::new(format!("cannot read {}: {why}", path.display())))
}

/// The text of a document.
pub(crate) fn read_text(path: &Path) -> Result<String, Failure> {
    let bytes = read_bytes(path)?;
    String::from_utf8(bytes).map_err(|e| {
        let at = e.utf8_error().valid_up_to();
        Failure::new(format!("{} is not text: byte {at} is not UTF-8", path.display()))
    })
}

/// Files for one folder that appear together, each whole, once all of them are written.
pub(crate) struct Batch {
    dir: PathBuf,
    files: Vec<(NamedTempFile, PathBuf)>,
    /// What killed runs left of these files is taken away in the end.
    tidy: bool,
}

impl Batch {
    /// A batch for `dir`, which is made if it is not there; that it can be written to is found out now, before the work.
    pub(crate) fn new(dir: &Path) -> Result<Self, Failure> {
        let fail = |e: io::Error| Failure::new(format!("cannot write into {}: {}", dir.display(), plainly(&e)));
        fs::create_dir_all(dir).map_err(fail)?;
        temporary(dir, OsStr::new(""), ".tmp").map_err(fail)?;
        Ok(Self { dir: dir.to_owned(), files: Vec::new(), tidy: true })
    }

    /// A batch for a folder that a batch was made for before.
    pub(crate) fn within(dir: &Path) -> Self {
        Self { dir: dir.to_owned(), files: Vec::new(), tidy: false }
    }

    /// Writes a file under a temporary name.
    pub(crate) fn add(&mut self, name: impl AsRef<OsStr>, contents: impl AsRef<[u8]>) -> Result<(), Failure> {
        let name = name.as_ref();
        let path = self.dir.join(name);
        let fail = |e: io::Error| Failure::new(format!("cannot write {}: {}", path.display(), plainly(&e)));
        if path.is_dir() {
            return Err(Failure::new(format!("cannot write {}: it is a folder", path.display())));
        }
        let mut file = temporary(&self.dir, name, ".tmp").map_err(fail)?;
        file.write_all(contents.as_ref()).and_then(|()| file.as_file().sync_all()).map_err(fail)?;
        self.files.push((file, path));
        Ok(())
    }

    /// Gives every file its name, in the order in which they were added.
    pub(crate) fn finish(self) -> Result<(), Failure> {
        // An interrupt waits until every file has its name.
        let mut unfinished = unfinished();
        let mut names = BTreeSet::new();
        for (file, path) in self.files {
            unfinished.retain(|u| u != file.path());
            names.extend(path.file_name().map(|n| n.to_string_lossy().into_owned()));
            file.persist(&path)
                .map_err(|e| Failure::new(format!("cannot write {}: {}", path.display(), plainly(&e.error))))?;
        }
        drop(unfinished);
        // The names are safe once the folder itself is; some systems cannot open a folder, and lose nothing by it.
        if let Ok(dir) = fs::File::open(&self.dir) {
            let _ = dir.sync_all();
        }
        if self.tidy {
            clear(&self.dir, &names);
        }
        Ok(())
    }
}

/// A folder that appears whole, once all of it is written, or not at all.
pub(crate) struct NewFolder {
    dir: TempDir,
    path: Option<PathBuf>,
    /// Says to other runs that this one is alive.
    _held: Option<fs::File>,
}

impl NewFolder {
    /// A folder that becomes `path`, where nothing may stand yet but an empty folder.
    pub(crate) fn new(path: &Path) -> Result<Self, Failure> {
        let taken = match fs::read_dir(path) {
            Ok(mut entries) => entries.next().is_some(),
            Err(e) => e.kind() != ErrorKind::NotFound,
        };
        if taken {
            return Err(Failure::new(format!("{} is there already: name a folder that is not", path.display())));
        }
        Self::beside(path, Some(path.to_owned()))
    }

    /// A folder beside `path` that never gets a name.
    pub(crate) fn passing(path: &Path) -> Result<Self, Failure> {
        Self::beside(path, None)
    }

    fn beside(path: &Path, becomes: Option<PathBuf>) -> Result<Self, Failure> {
        let (parent, name) = (folder_of(path), name_of(path)?);
        let fail = |e: io::Error| Failure::new(format!("cannot write into {}: {}", parent.display(), plainly(&e)));
        fs::create_dir_all(parent).map_err(fail)?;
        clear(parent, &BTreeSet::from([name.to_string_lossy().into_owned()]));
        let mut builder = tempfile::Builder::new();
        let prefix = format!("{BEGINNING}{}-", part_of(name));
        builder.prefix(&prefix).suffix(".tmp");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            builder.permissions(fs::Permissions::from_mode(0o777));
        }
        let mut unfinished = unfinished();
        let (dir, held) = loop {
            let dir = builder.tempdir_in(parent).map_err(fail)?;
            let file = fs::File::open(dir.path()).ok();
            if file.as_ref().is_none_or(|file| hold(file, dir.path())) {
                break (dir, file);
            }
        };
        unfinished.push(dir.path().to_owned());
        Ok(Self { dir, path: becomes, _held: held })
    }

    /// Its name, once it has one.
    pub(crate) fn path(&self) -> Option<&Path> {
        self.path.as_deref()
    }

    /// Where a name within it stands for now.
    pub(crate) fn within(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    /// Writes a file, and the folders on its way.
    pub(crate) fn add(&self, name: &str, contents: &[u8]) -> Result<(), Failure> {
        let path = self.within(name);
        let write = || -> io::Result<()> {
            fs::create_dir_all(path.parent().unwrap_or(Path::new("")))?;
            let mut file = fs::File::create_new(&path)?;
            file.write_all(contents)?;
            file.sync_all()
        };
        write().map_err(|e| Failure::new(format!("cannot write {name}: {}", plainly(&e))))
    }

    /// The bytes of a file within it.
    pub(crate) fn read(&self, name: &str) -> Result<Vec<u8>, Failure> {
        fs::read(self.within(name)).map_err(|e| Failure::new(format!("cannot read {name}: {}", plainly(&e))))
    }

    /// The files of a folder within it, by their names from its top, in order.
    pub(crate) fn names(&self, folder: &str) -> Result<Vec<String>, Failure> {
        let fail = |e: io::Error| Failure::new(format!("cannot read {folder}: {}", plainly(&e)));
        let mut names = Vec::new();
        for entry in fs::read_dir(self.within(folder)).map_err(fail)? {
            names.push(format!("{folder}/{}", entry.map_err(fail)?.file_name().to_string_lossy()));
        }
        names.sort();
        Ok(names)
    }

    /// Gives it its name.
    pub(crate) fn finish(self) -> Result<(), Failure> {
        let Some(path) = &self.path else { return Ok(()) };
        // An interrupt waits until it has its name.
        let _unfinished = unfinished();
        fs::rename(self.dir.path(), path)
            .map_err(|e| Failure::new(format!("cannot write {}: {}", path.display(), plainly(&e))))?;
        // There is nothing left to take away.
        let _ = self.dir.keep();
        Ok(())
    }
}

/// Writes one file, whole or not at all; its folder is made if it is not there.
pub(crate) fn write(path: &Path, contents: impl AsRef<[u8]>) -> Result<(), Failure> {
    finish_one(Batch::new(folder_of(path))?, path, contents)
}

/// Writes one file, whole or not at all, into a folder that a batch was made for before.
pub(crate) fn write_within(path: &Path, contents: impl AsRef<[u8]>) -> Result<(), Failure> {
    finish_one(Batch::within(folder_of(path)), path, contents)
}

fn finish_one(mut batch: Batch, path: &Path, contents: impl AsRef<[u8]>) -> Result<(), Failure> {
    batch.add(name_of(path)?, contents)?;
    batch.finish()
}

fn name_of(path: &Path) -> Result<&OsStr, Failure> {
    path.file_name().ok_or_else(|| Failure::new(format!("cannot write {}: it names no file", path.display())))
}

/// Writes a document of the user's anew, where a link leads and with the permissions that it has, if it still is `was`.
pub(crate) fn replace(path: &Path, was: &str, contents: &str) -> Result<(), Failure> {
    let fail = |why: String| Failure::new(format!("cannot write {}: {why}", path.display()));
    let place = fs::canonicalize(path).map_err(|e| fail(plainly(&e)))?;
    let mut batch = Batch::new(folder_of(&place))?;
    batch.add(name_of(&place)?, contents)?;
    let permissions = fs::metadata(&place).map_err(|e| fail(plainly(&e)))?.permissions();
    for (file, _) in &batch.files {
        file.as_file().set_permissions(permissions.clone()).map_err(|e| fail(plainly(&e)))?;
    }
    if read(&place).map_err(fail)? != was.as_bytes() {
        return Err(fail("it changed since it was read: nothing is written".to_owned()));
    }
    batch.finish()
}

/// The folder that a file is in.
pub(crate) fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|folder| *folder != Path::new("")).unwrap_or(Path::new("."))
}

/// A file that another program writes, under a temporary name with the same extension until it is whole.
pub(crate) struct Pending {
    file: NamedTempFile,
    path: PathBuf,
}

impl Pending {
    pub(crate) fn new(path: &Path) -> Result<Self, Failure> {
        let extension = path.extension().map(|e| format!(".{}", e.to_string_lossy())).unwrap_or_default();
        let file = temporary(folder_of(path), name_of(path)?, &extension)
            .map_err(|e| Failure::new(format!("cannot write {}: {}", path.display(), plainly(&e))))?;
        Ok(Self { file, path: path.to_owned() })
    }

    /// Where it is written.
    pub(crate) fn path(&self) -> &Path {
        self.file.path()
    }

    /// Gives it its name.
    pub(crate) fn finish(self) -> Result<(), Failure> {
        let dir = folder_of(&self.path).to_owned();
        Batch { dir, files: vec![(self.file, self.path)], tidy: false }.finish()
    }
}

/// How temporary files begin; the name that they will have follows.
const BEGINNING: &str = ".rushlight-";
/// Bytes of that name that find room beside the rest: systems take 255 in all.
const ROOM: usize = 200;

/// The name that a file will have, as part of a temporary one.
fn part_of(name: &OsStr) -> String {
    let name = name.to_string_lossy();
    let end = (0..=name.len().min(ROOM)).rev().find(|at| name.is_char_boundary(*at)).unwrap_or(0);
    name[..end].to_owned()
}

/// Takes away what runs that were killed left of the files or folders that are to have these names. What a run is still
/// writing is locked, and stays.
pub(crate) fn clear(dir: &Path, names: &BTreeSet<String>) {
    let Ok(entries) = fs::read_dir(dir) else { return };
    let names: BTreeSet<String> = names.iter().map(|name| part_of(name.as_ref())).collect();
    for entry in entries.flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        // The name ends at the last dash, before what makes it the only one and an extension.
        let of = name.strip_prefix(BEGINNING).and_then(|n| n.rsplit_once('-')).map(|(of, _)| of);
        if of.is_some_and(|of| names.contains(of)) {
            let path = entry.path();
            let Ok(left) = fs::File::open(&path) else { continue };
            if left.try_lock().is_ok() {
                let _ = if path.is_dir() { fs::remove_dir_all(&path) } else { fs::remove_file(&path) };
            }
        }
    }
}

/// Says to other runs that what is at `path` is being written. False where one of them has just taken it for something
/// left behind: then it goes, and another is needed.
fn hold(file: &fs::File, path: &Path) -> bool {
    match file.try_lock() {
        Ok(()) => path.exists(),
        Err(TryLockError::WouldBlock) => false,
        // Where nothing can be locked nothing is taken away either.
        Err(TryLockError::Error(_)) => true,
    }
}

/// A temporary file for what will be called `name`.
fn temporary(dir: &Path, name: &OsStr, suffix: &str) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    let prefix = format!("{BEGINNING}{}-", part_of(name));
    builder.prefix(&prefix).suffix(suffix);
    #[cfg(unix)]
    {
        // As any new file: open to whom the user's umask lets in, where a temporary file is private.
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    let mut unfinished = unfinished();
    let file = loop {
        let file = builder.tempfile_in(dir)?;
        if hold(file.as_file(), file.path()) {
            break file;
        }
    };
    unfinished.push(file.path().to_owned());
    Ok(file)
}
