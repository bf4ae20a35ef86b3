//! Windows. Constants are those of the Win32 documents, by their names.

use std::ffi::OsStr;
use std::fs::{self, File, Metadata, OpenOptions};
use std::io;
use std::os::windows::fs::OpenOptionsExt;
use std::os::windows::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::Command;
use tempfile::NamedTempFile;

/// An end of a pipe, perhaps.
pub(crate) use std::os::windows::io::AsHandle as AsEnd;

/// `CREATE_NEW_PROCESS_GROUP`.
const NEW_PROCESS_GROUP: u32 = 0x200;

/// Nothing: the size of a pipe is set when it is made.
pub(crate) fn widen(_: &impl AsEnd) {}

/// Apart from us, so that an interrupt comes to us alone, and we end it.
pub(crate) fn set_apart(command: &mut Command) {
    command.creation_flags(NEW_PROCESS_GROUP);
}

/// This very program.
pub(crate) fn this_program() -> PathBuf {
    std::env::current_exe().unwrap_or_default()
}

/// The program that opens a file as the user would.
pub(crate) fn opener() -> &'static OsStr {
    OsStr::new("explorer")
}

/// The folder of programs' data that stays on this machine.
pub(super) fn default_state_folder() -> Option<PathBuf> {
    super::named("LOCALAPPDATA")
}

/// Says to other runs that what is at `path` is being written, as long as the file is open: by being open ([`is_free`]). A lock
/// would keep out the very programs that are to write or read it: here locks bind everybody.
pub(crate) fn hold(_: &File, path: &Path) -> bool {
    path.exists()
}

/// Whether no run holds the file, or it is not there: whether it can be had alone.
pub(crate) fn is_free(path: &Path) -> bool {
    OpenOptions::new().read(true).share_mode(0).open(path).is_ok() || !path.exists()
}

/// Nothing: a file of a folder is never a pipe.
pub(crate) fn do_not_wait(_: &mut OpenOptions) {}

/// Never: pipes have a place of their own.
pub(crate) const fn is_pipe(_: &Metadata) -> bool {
    false
}

/// Whether the system can have no file of that name.
pub(crate) fn is_no_name(name: &str) -> bool {
    rushlight::files::is_barred(name)
}

/// A path as a document has it, with forward slashes.
pub(crate) fn in_document(path: &Path) -> String {
    path.display().to_string().replace('\\', "/")
}

/// Whether both are of one file, as far as its times and its length tell.
pub(crate) fn is_same(a: &Metadata, b: &Metadata) -> bool {
    (a.modified().ok(), a.created().ok(), a.len()) == (b.modified().ok(), b.created().ok(), b.len())
}

/// Nothing: a file is for those whom its folder lets in, as the user's own folders do only the user.
pub(crate) fn of_this_user(_: &mut OpenOptions) {}

/// Nothing, as for a file.
pub(crate) fn folder_of_this_user(_: &mut tempfile::Builder<'_, '_>) {}

/// Nothing, as for a file.
pub(crate) fn readers(_: &mut tempfile::Builder<'_, '_>, _private: bool) {}

/// Not known here: access is by lists that the standard library does not read.
pub(crate) const fn let_in(_: &Metadata) -> Option<String> {
    None
}

/// Nothing: the owner is who writes it.
pub(crate) fn take_owner(_: &File, _: &Metadata) {}

/// Gives a temporary file its name, in the place of any file there, also while another program has that one open.
pub(crate) fn give_name(file: NamedTempFile, name: &Path) -> io::Result<()> {
    // It is no longer marked as temporary then; the standard library renames over what is open, where the system can.
    let (open, from) = file.keep().map_err(|e| e.error)?;
    let named = fs::rename(&from, name);
    drop(open);
    named.inspect_err(|_| {
        let _ = fs::remove_file(&from);
    })
}

/// The same of a folder: nothing may stand there but an empty one, which not every version lets us rename over.
pub(crate) fn give_folder_name(folder: &Path, name: &Path) -> io::Result<()> {
    let stood = fs::remove_dir(name).is_ok();
    fs::rename(folder, name).inspect_err(|_| {
        if stood {
            let _ = fs::create_dir(name);
        }
    })
}

/// Nothing: a folder cannot be opened so, and the file system's journal keeps names.
pub(crate) fn sync_folder(_: &Path) {}

/// Never: a handle does not tell whether it takes everything at its end whatever the place.
pub(crate) const fn placed(_: &impl AsEnd) -> Option<(File, u64, u64)> {
    None
}

/// Fills `bytes` from a place of a file.
pub(crate) fn read_at(file: &File, mut bytes: &mut [u8], mut place: u64) -> io::Result<()> {
    use std::os::windows::fs::FileExt;
    while !bytes.is_empty() {
        match file.seek_read(bytes, place) {
            Ok(0) => return Err(io::ErrorKind::UnexpectedEof.into()),
            Ok(n) => (bytes, place) = (&mut bytes[n..], place + n as u64),
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
    Ok(())
}

/// Writes all `bytes` to a place of a file.
pub(crate) fn write_at(file: &File, mut bytes: &[u8], mut place: u64) -> io::Result<()> {
    use std::os::windows::fs::FileExt;
    while !bytes.is_empty() {
        match file.seek_write(bytes, place) {
            Ok(0) => return Err(io::ErrorKind::WriteZero.into()),
            Ok(n) => (bytes, place) = (&bytes[n..], place + n as u64),
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
    Ok(())
}
