//! What an interrupt leaves behind: nothing.

use std::fs;
use std::path::PathBuf;
use std::sync::{Mutex, MutexGuard, PoisonError};

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

/// From now on an interrupt (Ctrl-C) or a signal to end takes the temporary files away before it ends the program;
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

/// An interrupt waits as long as this is held.
pub(super) fn unfinished() -> MutexGuard<'static, Vec<PathBuf>> {
    UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner)
}
