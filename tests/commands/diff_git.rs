//! `diff` in a real git repository: two revisions, the files as they stand, and as git's external diff.

use rushlight_tests::rushlight;
use rushlight_tests::scene::{CURVE, NIGHT, SHOW, assert_says, put, refused, run, saltmarsh};
use std::fs;
use std::path::Path;
use std::process::Command;
use tempfile::TempDir;

/// Runs git with nobody's own settings; its standard output.
fn git(dir: &Path, args: &[&str]) -> String {
    let output = git_command(dir, args).output().expect("git runs");
    assert!(output.status.success(), "git {args:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).expect("UTF-8")
}

fn git_command(dir: &Path, args: &[&str]) -> Command {
    let mut command = Command::new("git");
    command.current_dir(dir).args(args);
    let settings = [
        ("GIT_CONFIG_GLOBAL", "/dev/null"),
        ("GIT_CONFIG_SYSTEM", "/dev/null"),
        ("GIT_AUTHOR_NAME", "A"),
        ("GIT_AUTHOR_EMAIL", "a@example.org"),
        ("GIT_COMMITTER_NAME", "A"),
        ("GIT_COMMITTER_EMAIL", "a@example.org"),
        ("GIT_PAGER", "cat"),
    ];
    command.envs(settings);
    command
}

fn commit(dir: &Path, message: &str) {
    git(dir, &["add", "--all"]);
    git(dir, &["commit", "--quiet", "--message", message]);
}

fn diff(dir: &Path, args: &str) -> (Option<i32>, String) {
    let run = run(dir, args).output().expect("it starts");
    assert_eq!(String::from_utf8_lossy(&run.stderr), "", "{args}");
    (run.status.code(), String::from_utf8(run.stdout).expect("UTF-8"))
}

/// The show, committed; then another exposure and another curve of the B camera, committed.
fn repository() -> TempDir {
    let dir = saltmarsh();
    git(dir.path(), &["init", "--quiet"]);
    commit(dir.path(), "one");
    put(dir.path(), "looks/night.toml", &NIGHT.replace("stops = -1.0", "stops = -1.25"));
    put(dir.path(), "curves/heron.toml", &CURVE.replace("[0, 0.5]", "[0, 0.52]"));
    commit(dir.path(), "two");
    dir
}

#[test]
fn two_revisions_and_the_files_as_they_stand() {
    let dir = repository();
    // The look, through the cameras of the show of its own revision.
    let (code, text) = diff(dir.path(), "diff --git HEAD~1 HEAD -- looks/");
    assert_eq!(code, Some(1), "{text}");
    assert!(text.contains("exposure -1.0 -> -1.25 stops") && text.contains("a, onset"), "{text}");
    // The show, whose own text is the same: its look and its curve are not, and are reported once.
    let (code, text) = diff(dir.path(), "diff --git HEAD~1 HEAD");
    assert_eq!(code, Some(1));
    assert!(text.contains("look night") && text.contains("curves/heron.toml: other contents"), "{text}");
    assert_eq!(text.matches("exposure -1.0 -> -1.25 stops").count(), 1, "{text}");
    assert!(text.contains("camera b differs") || text.contains("plain, b, onset"), "{text}");
    // From a folder within; against the files as they stand.
    put(dir.path(), "looks/night.toml", NIGHT);
    let (code, text) = diff(&dir.path().join("looks"), "diff --git HEAD -- night.toml");
    assert_eq!(code, Some(1));
    assert!(text.contains("exposure -1.25 -> -1.0 stops"), "{text}");
    let (code, text) = diff(dir.path(), "diff --git HEAD~1 -- looks");
    assert_eq!(code, Some(0), "{text}");
    // New and gone.
    fs::rename(dir.path().join("looks/night.toml"), dir.path().join("looks/dusk.toml")).expect("a rename");
    put(dir.path(), "show.toml", &SHOW.replace("looks/night.toml", "looks/dusk.toml"));
    let (code, text) = diff(dir.path(), "diff --git HEAD~1 -- looks");
    assert_eq!(code, Some(1));
    assert!(text.contains("looks/dusk.toml: added") && text.contains("looks/night.toml: removed"), "{text}");
}

#[test]
fn a_file_that_git_takes_for_renamed_is_compared() {
    let dir = repository();
    git(dir.path(), &["mv", "looks/night.toml", "looks/dusk.toml"]);
    let moved =
        fs::read_to_string(dir.path().join("looks/dusk.toml")).unwrap().replace("stops = -1.25", "stops = -2.0");
    put(dir.path(), "looks/dusk.toml", &moved);
    put(dir.path(), "show.toml", &SHOW.replace("looks/night.toml", "looks/dusk.toml"));
    commit(dir.path(), "three");
    let (code, text) = diff(dir.path(), "diff --git HEAD~1 HEAD -- looks/");
    assert_eq!(code, Some(1), "{text}");
    assert!(text.contains("exposure -1.25 -> -2.0 stops") && text.contains("-0.75 stops"), "{text}");
    assert!(!text.contains("removed") && !text.contains("added"), "{text}");
}

#[test]
fn a_look_that_no_show_names_is_told_of_without_a_picture() {
    let dir = saltmarsh();
    put(dir.path(), "looks/alone.toml", NIGHT);
    git(dir.path(), &["init", "--quiet"]);
    commit(dir.path(), "one");
    put(dir.path(), "looks/alone.toml", &NIGHT.replace("stops = -1.0", "stops = -1.25"));
    put(dir.path(), "looks/night.toml", &NIGHT.replace("stops = -1.0", "stops = -1.5"));
    let (code, text) = diff(dir.path(), "diff --git HEAD -- looks/");
    assert_eq!(code, Some(1), "{text}");
    assert_says(&text, &["exposure -1.0 -> -1.25 stops", "no picture", "exposure -1.0 -> -1.5 stops"]);
    // A limit is not taken to hold where nothing was measured; with a camera and a display it is.
    let (code, text) = diff(dir.path(), "diff --git HEAD --limit max=90 -- looks/");
    assert_eq!(code, Some(1), "{text}");
    assert_says(&text, &["no picture", "no limit is known to hold"]);
    let failures = |args: &str| {
        let (code, xml) = diff(dir.path(), &format!("diff --format junit {args}"));
        (code, xml.matches("<failure ").count())
    };
    assert_eq!(failures("--git HEAD --limit max=90 -- looks/"), (Some(1), 1));
    let (code, text) =
        diff(dir.path(), "diff --git HEAD --limit max=90 --camera a --display onset --show show.toml -- looks/");
    assert_eq!(code, Some(0), "{text}");
    // Limits of a show are those of its looks: what it does not name is judged without, and said so.
    put(dir.path(), "show.toml", &format!("{SHOW}\n[limits]\nmean = 50\n"));
    let (code, text) = diff(dir.path(), "diff --git HEAD -- looks/ show.toml");
    assert_eq!(code, Some(1), "{text}");
    assert_says(&text, &["none is exceeded", "no limits apply to this file"]);
    // Named itself, it needs a camera and a display, as before.
    assert_says(&refused(dir.path(), "diff --git HEAD -- looks/alone.toml"), &["--camera"]);
    // A file that is new has nothing to be compared with, whatever the limits: in every report.
    commit(dir.path(), "two");
    put(dir.path(), "new.cube", "LUT_3D_SIZE 2\n0 0 0\n1 0 0\n0 1 0\n1 1 0\n0 0 1\n1 0 1\n0 1 1\n1 1 1\n");
    commit(dir.path(), "three");
    for (revisions, state) in [("HEAD~1 HEAD", "added"), ("HEAD HEAD~1", "removed")] {
        let (code, text) = diff(dir.path(), &format!("diff --git {revisions} --limit max=90"));
        assert_eq!(code, Some(1), "{text}");
        assert_says(&text, &[&format!("new.cube: {state}")]);
        assert_eq!(failures(&format!("--git {revisions} --limit max=90")), (Some(1), 1), "{state}");
    }
}

#[test]
fn what_is_no_revision_and_no_repository_is_said() {
    let dir = repository();
    assert_says(&refused(dir.path(), "diff --git HEAD~7 -- looks"), &["--git: `HEAD~7` is not a revision"]);
    assert_says(&refused(dir.path(), "diff --git HEAD -- nowhere"), &["nowhere: neither HEAD nor"]);
    let bare = TempDir::new().expect("a folder");
    let mut command = run(bare.path(), "diff --git HEAD");
    command.env("GIT_CEILING_DIRECTORIES", bare.path().parent().expect("a folder"));
    assert_says(&rushlight_tests::scene::refused_with(&mut command), &["--git: ", "not a git repository"]);
}

#[test]
fn git_calls_it_for_looks_and_cubes() {
    let dir = repository();
    let cube = |v: &str| format!("LUT_3D_SIZE 2\n{}", format!("{v} 0.2 0.3\n").repeat(8));
    put(dir.path(), ".gitattributes", "looks/*.toml diff=rushlight\n*.cube diff=rushlight\n");
    put(dir.path(), "a.cube", &cube("0.1"));
    put(dir.path(), "looks/test.toml", rushlight_tests::scene::PLAIN);
    commit(dir.path(), "three");
    put(dir.path(), "a.cube", &cube("0.2"));
    put(dir.path(), "looks/night.toml", &NIGHT.replace("stops = -1.0", "stops = 0.5"));
    fs::remove_file(dir.path().join("looks/test.toml")).expect("it was there");
    put(
        dir.path(),
        "looks/dawn.toml",
        "schema = 1\ngeneration = 2\ntitle = 'Dawn'\n[[step]]\ndo = 'tone'\ntoe = 1.0\n",
    );
    git(dir.path(), &["add", "--intent-to-add", "looks/dawn.toml"]);
    let program = format!("\"{}\" diff", rushlight().display());
    let setting = format!("diff.rushlight.command={program}");
    let shown = git(dir.path(), &["-c", &setting, "diff", "--no-renames"]);
    for part in [
        "exposure -1.25 -> 0.5 stops",
        "a, onset",
        "looks/test.toml: removed",
        "looks/dawn.toml: added",
        "tone added as step 1: toe 1.0 stops",
        "bt709 (BT.1886, 100 nits) is assumed",
    ] {
        assert!(shown.contains(part), "{part}:\n{shown}");
    }
    // A file that git takes for renamed, and that no show names.
    let shown =
        git(dir.path(), &["-c", &setting, "diff", "--find-renames=10%", "--", "looks/test.toml", "looks/dawn.toml"]);
    assert!(shown.contains("a/looks/test.toml -> b/looks/dawn.toml"), "{shown}");
    assert!(shown.contains("tone toe 1.5 -> 1.0 stops") && shown.contains("no picture: "), "{shown}");
    // For one command, by the environment; a look that cannot be read is reported, and git goes on.
    put(dir.path(), "looks/night.toml", "schema = 1\ntitle = 3\n");
    let mut command = git_command(dir.path(), &["diff", "--", "looks/night.toml", "a.cube"]);
    let output = command.env("GIT_EXTERNAL_DIFF", program).output().expect("git runs");
    let (shown, said) = (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert!(output.status.success(), "{said}");
    assert!(shown.contains("a.cube") && shown.contains("looks/night.toml: cannot be compared"), "{shown}");
    assert!(said.contains("looks/night.toml"), "{said}");
}
