//! The binary that the end-to-end tests run.

use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// The `rushlight` binary. The tests that run it are of its package, so cargo has built it with the profile of the test.
///
/// # Panics
/// When it is not there.
pub fn rushlight() -> &'static Path {
    static BINARY: OnceLock<PathBuf> = OnceLock::new();
    BINARY.get_or_init(|| {
        let binary = std::env::var_os("CARGO_BIN_EXE_rushlight").map_or_else(beside_the_test, PathBuf::from);
        assert!(binary.is_file(), "{} is not there: run the test by cargo", binary.display());
        binary
    })
}

/// Where cargo has it when it does not say so, or when the test is run by itself: TARGET/PROFILE, above deps/test-program.
fn beside_the_test() -> PathBuf {
    let program = std::env::current_exe().expect("a test program has a path");
    let profile = program.ancestors().nth(2).expect("cargo's layout");
    profile.join(format!("rushlight{}", std::env::consts::EXE_SUFFIX))
}
