//! What systems do differently, and nothing else of the program knows: one file for each, with the same functions.
//!
//! What they have in common is Rust's standard library: it renames over a file, locks, takes paths of more than 260 characters
//! on Windows, and knows the folder for temporary files.

#[cfg(unix)]
mod unix;
#[cfg(windows)]
mod windows;

#[cfg(unix)]
pub(crate) use unix::*;
#[cfg(windows)]
pub(crate) use windows::*;

use std::path::PathBuf;

/// The value of a variable that names a folder from the root.
fn named(name: &str) -> Option<PathBuf> {
    std::env::var_os(name).map(PathBuf::from).filter(|path| path.is_absolute())
}

/// The folder in which programs of this user keep what is to outlive them: `XDG_STATE_HOME` on every system, else the system's
/// default.
pub(crate) fn state_folder() -> Option<PathBuf> {
    named("XDG_STATE_HOME").or_else(default_state_folder)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs::{self, File};
    use std::io::Write as _;

    #[test]
    fn a_file_that_is_written_is_held_and_every_program_can_read_it() {
        let dir = tempfile::tempdir().unwrap();
        let mut file = tempfile::NamedTempFile::new_in(dir.path()).unwrap();
        assert!(is_free(file.path()));
        assert!(hold(file.as_file(), file.path()));
        file.write_all(b"new").unwrap();
        assert!(!is_free(file.path()));
        // Another handle stands for another program: locks of a file's bytes would keep it out on Windows.
        assert_eq!(fs::read(file.path()).unwrap(), b"new");
        fs::OpenOptions::new().append(true).open(file.path()).unwrap().write_all(b"er").unwrap();
        let name = dir.path().join("name");
        fs::write(&name, "old").unwrap();
        // The old one is open meanwhile.
        let reader = File::open(&name).unwrap();
        give_name(file, &name).unwrap();
        drop(reader);
        assert_eq!(fs::read(&name).unwrap(), b"newer");
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
        assert!(is_free(&name) && is_free(&dir.path().join("none")));
    }

    #[test]
    fn a_folder_takes_the_place_of_an_empty_one_only() {
        let dir = tempfile::tempdir().unwrap();
        let at = |name: &str| dir.path().join(name);
        for name in ["new", "empty", "full"] {
            fs::create_dir(at(name)).unwrap();
        }
        fs::write(at("new/file"), "new").unwrap();
        fs::write(at("full/file"), "old").unwrap();
        assert!(give_folder_name(&at("new"), &at("full")).is_err());
        assert_eq!(fs::read(at("full/file")).unwrap(), b"old");
        give_folder_name(&at("new"), &at("empty")).unwrap();
        assert_eq!(fs::read(at("empty/file")).unwrap(), b"new");
        assert!(!at("new").exists());
    }

    #[test]
    fn a_file_is_the_same_by_any_name() {
        let dir = tempfile::tempdir().unwrap();
        let (a, b) = (dir.path().join("a"), dir.path().join("b"));
        fs::write(&a, "a").unwrap();
        fs::write(&b, "bb").unwrap();
        let about = |path| fs::metadata(path).unwrap();
        assert!(is_same(&about(&a), &about(&a)));
        assert!(!is_same(&about(&a), &about(&b)));
    }
}
