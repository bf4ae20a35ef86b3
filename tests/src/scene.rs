//! Runs of the binary in a folder of its own, with a small show to work on. Every helper panics when a run does not end as it
//! must.

#![allow(clippy::missing_panics_doc)]

use assert_cmd::Command;
use jsonschema::Validator;
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// A show of two cameras, two displays and two looks.
pub const SHOW: &str = r#"schema = 1
title = "Saltmarsh"

[cameras.a]
label = "A camera"
curve = "slog3"
gamut = "sgamut3-cine"

[cameras.b]
curve = "curves/heron.toml"
gamut = { red = [0.72, 0.28], green = [0.19, 0.85], blue = [0.11, -0.03], white = [0.3127, 0.329] }
range = "legal"

[displays.onset]
standard = "bt709"

[displays.grade]
label = "Grading monitor"
standard = "bt2100-pq"
range = "legal"

[looks]
night = "looks/night.toml"
plain = "looks/plain.toml"

[[bake]]
points = 5
"#;
/// Its look of the night.
pub const NIGHT: &str = r#"schema = 1
generation = 2
title = "Night exterior"
revision = 4

[[step]]
do = "compress"

[[step]]
do = "exposure"
stops = -1.0

[[step]]
do = "tint"
shadows = [-0.06, 0.10, -0.02]
highlights = [0.08, 0.02, -0.10]

[[step]]
do = "print"
"#;
/// Its plain look.
pub const PLAIN: &str = "schema = 1\ngeneration = 2\ntitle = 'Plain'\n[[step]]\ndo = 'tone'\n";
/// The curve of its second camera.
pub const CURVE: &str = r#"schema = 1
title = "Heron log"
source = "invented"
[table]
points = [[-8, 0.07], [-6, 0.1], [-3, 0.26], [0, 0.5], [3, 0.75], [6, 0.94]]
"#;

/// A folder with a show of two cameras, two displays and two looks.
pub fn saltmarsh() -> TempDir {
    let dir = TempDir::new().expect("a temporary folder");
    for (name, text) in
        [("show.toml", SHOW), ("looks/night.toml", NIGHT), ("looks/plain.toml", PLAIN), ("curves/heron.toml", CURVE)]
    {
        put(dir.path(), name, text);
    }
    dir
}

/// A folder with a show of no more than this text has, after its head.
pub fn show_of(text: &str) -> TempDir {
    let dir = TempDir::new().expect("a temporary folder");
    put(dir.path(), "show.toml", &format!("schema = 1\ntitle = 'Saltmarsh'\n{text}"));
    dir
}

/// Writes a show of one camera, the display `onset` and the look [`PLAIN`] beside [`saltmarsh`]'s, with `more` at its end.
pub fn small(dir: &Path, name: &str, more: &str) {
    let text = "schema = 1\ntitle = 'Small'\n[cameras.a]\ncurve = 'slog3'\ngamut = 'sgamut3-cine'\n\
        [displays.onset]\nstandard = 'bt709'\n[looks]\nplain = 'looks/plain.toml'\nnight = 'looks/night.toml'\n";
    put(dir, name, &format!("{text}{more}"));
}

/// A folder with the demo show, and within it the files of other folders, each in a folder of that name.
pub fn demo_with(folders: &[(PathBuf, &str)]) -> TempDir {
    let dir = TempDir::new().expect("a temporary folder");
    crate::demo::copy(dir.path());
    for (from, to) in folders {
        let to = dir.path().join(to);
        fs::create_dir_all(&to).expect("a folder");
        for (name, bytes) in files(from) {
            fs::write(to.join(name), bytes).expect("a file");
        }
    }
    dir
}

/// Writes a file into a folder, and the folders on its way.
pub fn put(dir: &Path, name: &str, text: &str) {
    let path = dir.join(name);
    fs::create_dir_all(path.parent().expect("it is within the folder")).expect("a folder");
    fs::write(path, text).expect("a file");
}

/// The binary, at work in `dir`, with words for its arguments.
pub fn run(dir: &Path, args: &str) -> Command {
    let mut command = Command::new(crate::rushlight());
    command.current_dir(dir).args(args.split_whitespace());
    command
}

/// Standard output of a run that must succeed and say nothing on standard error.
pub fn output(dir: &Path, args: &str) -> String {
    let run = run(dir, args).output().expect("it starts");
    let stderr = String::from_utf8(run.stderr).expect("UTF-8");
    assert_eq!(run.status.code(), Some(0), "{args}: {stderr}");
    assert_eq!(stderr, "", "{args}");
    String::from_utf8(run.stdout).expect("UTF-8")
}

/// Standard output of such a run, as JSON.
pub fn json(dir: &Path, args: &str) -> Value {
    serde_json::from_str(&output(dir, args)).expect("JSON")
}

/// The schema that `schema NAME` prints.
pub fn schema(dir: &Path, name: &str) -> Validator {
    jsonschema::validator_for(&json(dir, &format!("schema {name}"))).expect("a sound schema")
}

/// Asserts that a report holds to the schema that `schema NAME` prints.
pub fn assert_holds_to(dir: &Path, name: &str, report: &Value) {
    let validator = schema(dir, name);
    let wrong: Vec<String> = validator.iter_errors(report).map(|e| format!("{}: {e}", e.instance_path())).collect();
    assert!(wrong.is_empty(), "{name}: {wrong:?}");
}

/// Standard error of a run that must end with exit code 2 and give nothing on standard output.
pub fn refused(dir: &Path, args: &str) -> String {
    refused_with(&mut run(dir, args))
}

/// As [`refused`], of a command made elsewhere.
pub fn refused_with(command: &mut Command) -> String {
    let run = command.output().expect("it starts");
    assert_eq!(run.status.code(), Some(2), "{command:?}");
    assert_eq!(String::from_utf8_lossy(&run.stdout), "", "{command:?}");
    let stderr = String::from_utf8(run.stderr).expect("UTF-8");
    assert!(!stderr.contains("panicked"), "{stderr}");
    stderr
}

/// Asserts that a text has every part.
pub fn assert_says(stderr: &str, parts: &[&str]) {
    for part in parts {
        assert!(stderr.contains(part), "`{part}` is not in:\n{stderr}");
    }
}

/// What is printed for several commands, against `tests/expected/NAME.txt`: `RUSHLIGHT_BLESS=1` writes the file anew.
pub struct Transcript {
    name: &'static str,
    text: String,
}

impl Transcript {
    /// An empty one.
    pub fn of(name: &'static str) -> Self {
        Self { name, text: String::new() }
    }

    /// Adds a command and what was printed.
    pub fn add(&mut self, command: &str, printed: &str) {
        let command = command.replace('\n', "\\n");
        self.text.push_str(&format!("$ {command}\n{}\n\n", printed.trim_end()));
    }

    /// Asserts that it is the one that is kept.
    #[track_caller]
    pub fn check(&self) {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("expected").join(format!("{}.txt", self.name));
        if std::env::var("RUSHLIGHT_BLESS").is_ok_and(|v| v == "1") {
            fs::write(&path, &self.text).expect("the file of what is expected");
        }
        let kept = fs::read_to_string(&path).expect("what is printed is committed").replace("\r\n", "\n");
        assert_eq!(self.text, kept, "{}: run with RUSHLIGHT_BLESS=1 after an intended change", self.name);
    }
}

/// Runs that must be refused, each `command` (if there is one) with one of these arguments: what they say stands in
/// `tests/expected/NAME.txt`.
#[track_caller]
pub fn refusals(name: &'static str, dir: &Path, command: &str, arguments: &[&str]) {
    let mut transcript = Transcript::of(name);
    for arguments in arguments {
        let command = if command.is_empty() { (*arguments).to_owned() } else { format!("{command} {arguments}") };
        transcript.add(&command, &refused(dir, &command));
    }
    transcript.check();
}

/// Every file in `dir`, hidden ones too, by name.
pub fn files(dir: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = fs::read_dir(dir).expect("the folder is there").map(|e| e.expect("an entry"));
    let named = |e: fs::DirEntry| (e.file_name().into_string().expect("UTF-8"), e.path());
    entries.map(named).filter(|(_, path)| path.is_file()).map(|(n, p)| (n, fs::read(p).expect("a file"))).collect()
}

/// Every file in `dir` and in the folders in it, by its name from there, with forward slashes.
pub fn tree(dir: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = files(dir);
    for entry in fs::read_dir(dir).expect("a folder").flatten().filter(|e| e.path().is_dir()) {
        let within = entry.file_name().into_string().expect("UTF-8");
        found.extend(tree(&entry.path()).into_iter().map(|(name, bytes)| (format!("{within}/{name}"), bytes)));
    }
    found
}

/// Waits until something is so, looking often.
#[track_caller]
pub fn wait_until(what: &str, mut is_so: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !is_so() {
        assert!(begun.elapsed() < Duration::from_secs(300), "not within five minutes: {what}");
        std::thread::sleep(Duration::from_millis(2));
    }
}

/// The numbers of a JSON list.
pub fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().expect("a list").iter().map(|v| v.as_f64().expect("a number")).collect()
}

/// A folder in front of the path with programs of these names.
#[cfg(unix)]
pub fn path_with(dir: &Path, programs: &[(&str, &str)]) -> std::ffi::OsString {
    use std::os::unix::fs::PermissionsExt;
    let bin = dir.join("bin");
    fs::create_dir_all(&bin).expect("a folder");
    for (name, script) in programs {
        let file = bin.join(name);
        fs::write(&file, format!("#!/bin/sh\n{script}\n")).expect("a program");
        fs::set_permissions(&file, fs::Permissions::from_mode(0o755)).expect("it may be run");
    }
    let path = std::env::var_os("PATH").unwrap_or_default();
    std::env::join_paths(std::iter::once(bin).chain(std::env::split_paths(&path))).expect("a path")
}
