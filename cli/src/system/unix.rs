//! Linux, macOS and the other systems of POSIX.

use std::ffi::OsStr;
use std::fs::{File, Metadata, OpenOptions, Permissions, TryLockError};
use std::io;
use std::os::fd::{AsFd, BorrowedFd};
use std::os::unix::fs::{FileExt, FileTypeExt, MetadataExt, OpenOptionsExt, PermissionsExt, fchown};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::Command;
use tempfile::NamedTempFile;

/// An end of a pipe, perhaps.
pub(crate) use std::os::fd::AsFd as AsEnd;

/// Bytes that a pipe may hold, where the system lets it: the most that it allows everyone.
#[cfg(target_os = "linux")]
const PIPE: usize = 1 << 20;

/// Lets a pipe hold more, so that both ends have to wait for each other less often; nothing where it is no pipe. Only Linux
/// can: others let a pipe grow by themselves, to 64 KiB.
pub(crate) fn widen(end: &impl AsEnd) {
    #[cfg(target_os = "linux")]
    let _ = rustix::pipe::fcntl_setpipe_size(end, PIPE);
    #[cfg(not(target_os = "linux"))]
    let _ = end;
}

/// Apart from us, so that an interrupt comes to us alone, and we end it.
pub(crate) fn set_apart(command: &mut Command) {
    command.process_group(0);
}

/// This very program, also where its file has another name or is gone by now.
pub(crate) fn this_program() -> PathBuf {
    if cfg!(target_os = "linux") {
        PathBuf::from("/proc/self/exe")
    } else {
        std::env::current_exe().unwrap_or_default()
    }
}

/// The program that opens a file as the user would.
pub(crate) fn opener() -> &'static OsStr {
    OsStr::new(if cfg!(target_os = "macos") { "open" } else { "xdg-open" })
}

/// XDG Base Directory Specification 0.8; macOS has a folder of its own.
pub(super) fn default_state_folder() -> Option<PathBuf> {
    let within = if cfg!(target_os = "macos") { "Library/Application Support" } else { ".local/state" };
    Some(std::env::home_dir()?.join(within)).filter(|path| path.is_absolute())
}

/// Says to other runs that what is at `path` is being written, as long as the file is open. False where one of them has just
/// taken it for something left behind: then it goes, and another is needed.
pub(crate) fn hold(file: &File, path: &Path) -> bool {
    match file.try_lock() {
        Ok(()) => path.exists(),
        Err(TryLockError::WouldBlock) => false,
        // Where nothing can be locked nothing is taken away either.
        Err(TryLockError::Error(_)) => true,
    }
}

/// Whether no run holds the file, or it is not there.
pub(crate) fn is_free(path: &Path) -> bool {
    let mut options = OpenOptions::new();
    do_not_wait(options.read(true));
    match options.open(path) {
        Ok(file) => file.try_lock().is_ok(),
        Err(_) => !path.exists(),
    }
}

/// A file is opened without waiting for the other end of what turned out to be a pipe.
pub(crate) fn do_not_wait(options: &mut OpenOptions) {
    options.custom_flags(rustix::fs::OFlags::NONBLOCK.bits().cast_signed());
}

/// Whether it is a named pipe.
pub(crate) fn is_pipe(found: &Metadata) -> bool {
    found.file_type().is_fifo()
}

/// Whether the system can have no file of that name: never.
pub(crate) const fn is_no_name(_: &str) -> bool {
    false
}

/// A path as a document has it, with forward slashes.
pub(crate) fn in_document(path: &Path) -> String {
    path.display().to_string()
}

/// Whether both are of one file.
pub(crate) fn is_same(a: &Metadata, b: &Metadata) -> bool {
    (a.dev(), a.ino()) == (b.dev(), b.ino())
}

/// A new file that this user alone can read.
pub(crate) fn of_this_user(options: &mut OpenOptions) {
    options.mode(0o600);
}

/// A new folder that this user alone can read.
pub(crate) fn folder_of_this_user(builder: &mut tempfile::Builder<'_, '_>) {
    builder.permissions(Permissions::from_mode(0o700));
}

/// Who may read a temporary file: this user alone, or, as any new file, whom the user's umask lets in.
pub(crate) fn readers(builder: &mut tempfile::Builder<'_, '_>, private: bool) {
    builder.permissions(Permissions::from_mode(if private { 0o600 } else { 0o666 }));
}

/// What lets others than this user at a file, and what to do about it.
pub(crate) fn let_in(found: &Metadata) -> Option<String> {
    let mode = found.permissions().mode() & 0o777;
    (mode & 0o077 != 0).then(|| format!("other users can read or change it (mode {mode:o}): run chmod 600 on it"))
}

/// Gives a new file the owner of the one that it takes the place of, as far as the system lets us.
pub(crate) fn take_owner(file: &File, there: &Metadata) {
    if file.metadata().is_ok_and(|own| (own.uid(), own.gid()) != (there.uid(), there.gid())) {
        // Its owner where we may, else its group alone.
        let _ = fchown(file, Some(there.uid()), Some(there.gid())).or_else(|_| fchown(file, None, Some(there.gid())));
    }
}

/// Gives a temporary file its name, in the place of any file there.
pub(crate) fn give_name(file: NamedTempFile, name: &Path) -> io::Result<()> {
    file.persist(name).map(|_| ()).map_err(|e| e.error)
}

/// The same of a folder: nothing may stand there but an empty one.
pub(crate) fn give_folder_name(folder: &Path, name: &Path) -> io::Result<()> {
    std::fs::rename(folder, name)
}

/// Names are safe once their folder is.
pub(crate) fn sync_folder(dir: &Path) {
    if let Ok(dir) = File::open(dir) {
        let _ = dir.sync_all();
    }
}

/// Standard input or output as a file that is read and written by place, with where it stands and its length; none where it is
/// no file, or takes everything at its end whatever the place.
pub(crate) fn placed(end: &impl AsFd) -> Option<(File, u64, u64)> {
    use std::io::Seek as _;
    let appends = |end: BorrowedFd<'_>| Some(rustix::fs::fcntl_getfl(end).ok()?.contains(rustix::fs::OFlags::APPEND));
    if appends(end.as_fd())? {
        return None;
    }
    let mut file = File::from(end.as_fd().try_clone_to_owned().ok()?);
    let about = file.metadata().ok().filter(Metadata::is_file)?;
    let place = file.stream_position().ok()?;
    Some((file, place, about.len()))
}

/// Fills `bytes` from a place of a file.
pub(crate) fn read_at(file: &File, bytes: &mut [u8], place: u64) -> io::Result<()> {
    file.read_exact_at(bytes, place)
}

/// Writes all `bytes` to a place of a file.
pub(crate) fn write_at(file: &File, bytes: &[u8], place: u64) -> io::Result<()> {
    file.write_all_at(bytes, place)
}
