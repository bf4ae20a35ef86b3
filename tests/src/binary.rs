//! The binary that the end-to-end tests run.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

/// The `rushlight` binary, built once for each test program with the profile that the test was built with: `cargo test`
/// builds no binary of another crate by itself.
///
/// # Panics
/// When it does not build.
pub fn rushlight() -> &'static Path {
    static BINARY: OnceLock<PathBuf> = OnceLock::new();
    BINARY.get_or_init(build)
}

fn build() -> PathBuf {
    // TARGET/PROFILE/deps/test-program
    let program = std::env::current_exe().expect("a test program has a path");
    let profile = program.ancestors().nth(2).expect("cargo's layout");
    let target = profile.parent().expect("cargo's layout");
    let name = match profile.file_name().and_then(|n| n.to_str()) {
        Some("debug") | None => "dev",
        Some(name) => name,
    };
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let built = Command::new(cargo)
        // With a test among its targets, as `cargo test --workspace`: the same features of every dependency, built once.
        .args(["build", "--quiet", "--workspace", "--bin", "rushlight", "--test", "all", "--profile", name])
        .args(["--message-format", "json-render-diagnostics", "--target-dir"])
        .arg(target)
        .current_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/.."))
        .output()
        .expect("cargo runs");
    assert!(built.status.success(), "the binary does not build:\n{}", String::from_utf8_lossy(&built.stderr));
    let executable = |line: &str| {
        let message: serde_json::Value = serde_json::from_str(line).ok()?;
        // The test has an executable too.
        let is_it = message["target"]["name"] == "rushlight" && message["profile"]["test"] == false;
        message["executable"].as_str().filter(|_| is_it).map(PathBuf::from)
    };
    let lines = String::from_utf8(built.stdout).expect("cargo speaks UTF-8");
    lines.lines().find_map(executable).expect("cargo says where the binary is")
}
