//! The language of the program: help in plain words, and examples that run as they stand.

use rushlight_tests::rushlight;
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Output, Stdio};

/// Words that the program must not use; the rules stand in DEVELOPERS.md.
const BARRED: [&str; 17] = [
    "left out",
    "leave it out",
    "strays",
    "told:",
    "who will read it",
    "reckon",
    "goes by",
    "nobody",
    "anybody",
    "whoever",
    "somebody",
    "known here",
    "which it needs",
    "may stand there",
    "a second time",
    "of the crew's own",
    "says the same",
];
/// Those that comments must not use either.
const BARRED_COMMENTS: [&str; 18] = [
    "left out:",
    "; left out",
    "nobody",
    "anybody",
    "whoever",
    "somebody",
    "goes by",
    "told only",
    "as told",
    "being told",
    "and said.",
    "by reckoning",
    "reckon",
    "strays",
    "nothing is said",
    "says nothing",
    "is told to",
    "what is seen of",
];

fn run(words: &[&str], folder: &Path) -> Output {
    Command::new(rushlight()).args(words).current_dir(folder).output().expect("the binary runs")
}

fn help(words: &[&str]) -> String {
    let words: Vec<&str> = words.iter().copied().chain(["--help"]).collect();
    String::from_utf8(run(&words, Path::new(".")).stdout).expect("help is UTF-8")
}

/// The commands that `--help` names.
fn commands() -> Vec<String> {
    let all = help(&[]);
    let list = all.split("Commands:\n").nth(1).and_then(|t| t.split("\n\n").next()).expect("a list of commands");
    let names = list.lines().filter_map(|l| l.strip_prefix("  ").filter(|l| !l.starts_with(' ')));
    let names: Vec<String> = names.filter_map(|l| l.split_whitespace().next().map(str::to_owned)).collect();
    assert!(names.len() > 15, "{names:?}");
    names.into_iter().filter(|name| name != "help").collect()
}

/// The examples at the end of a command's help, with lines that end in a backslash joined.
fn examples(help: &str) -> Vec<String> {
    let text = help.split("\nExamples:\n").nth(1).unwrap_or_default().replace("\\\n", " ");
    text.lines().map(|line| line.trim().to_owned()).filter(|line| !line.is_empty()).collect()
}

#[test]
fn help_is_plain_and_has_examples() {
    let mut all = vec![(String::new(), help(&[]))];
    all.extend(commands().into_iter().map(|name| {
        let text = help(&[&name]);
        (name, text)
    }));
    for (name, text) in &all {
        let found: Vec<&&str> = BARRED.iter().filter(|word| text.contains(**word)).collect();
        assert!(found.is_empty(), "{name}: {found:?}");
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{name} is wider than 80 columns");
        assert!((1..=3).contains(&examples(text).len()), "{name} has one to three examples");
    }
}

/// String literals of the sources: no report, error or page uses the words either, nor do comments. Keys of JSON are one word
/// each, and stay.
#[test]
fn sources_print_no_barred_words() {
    fn search(folder: &Path, found: &mut Vec<String>) {
        for entry in fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                search(&path, found);
            } else if path.extension().is_some_and(|e| e == "rs") {
                let text = fs::read_to_string(&path).expect("UTF-8");
                for (i, line) in text.lines().enumerate().filter(|(_, l)| l.trim_start().starts_with("//")) {
                    let line_in_small = line.to_lowercase();
                    if BARRED_COMMENTS.iter().any(|word| line_in_small.contains(word)) {
                        found.push(format!("{}:{}: {}", path.display(), i + 1, line.trim()));
                    }
                }
                // Literals are every second part between quotes of a line without comments; keys have no blank.
                for (i, line) in text.lines().enumerate().filter(|(_, l)| !l.trim_start().starts_with("//")) {
                    let literals = line.split('"').skip(1).step_by(2).filter(|part| part.contains(' '));
                    let barred = literals
                        .filter(|part| BARRED.iter().any(|word| part.contains(word) && !part.contains("{strays")));
                    found.extend(barred.map(|part| format!("{}:{}: {part}", path.display(), i + 1)));
                }
            }
        }
    }
    let mut found = Vec::new();
    for folder in
        ["../cli/src", "../lib/src", "../lib/colour/src", "../lib/formats/src", "../lib/image/src", "../lib/python/src"]
    {
        search(&Path::new(env!("CARGO_MANIFEST_DIR")).join(folder), &mut found);
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("a folder");
    for entry in fs::read_dir(from).expect("a folder") {
        let entry = entry.expect("an entry").path();
        let target = to.join(entry.file_name().expect("a name"));
        if entry.is_dir() {
            copy(&entry, &target);
        } else {
            fs::copy(&entry, &target).expect("a copy");
        }
    }
}

/// In the order of `--help`, whose first command bakes the cubes that later examples read.
#[test]
fn every_example_runs_as_it_stands() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    copy(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/demo"), &folder.path().join("fixtures/demo"));
    for name in commands() {
        for example in examples(&help(&[&name])) {
            let words: Vec<&str> = example.split_whitespace().collect();
            assert_eq!(words[..2], ["rushlight", name.as_str()], "{example}");
            if name == "preview" {
                serves(&words[1..], folder.path());
                continue;
            }
            let done = run(&words[1..], folder.path());
            let code = done.status.code();
            let good = code == Some(0) || name == "stress" && code == Some(1);
            assert!(good, "{example}: {}", String::from_utf8_lossy(&done.stderr));
        }
    }
}

/// A server that prints its address, without a browser.
fn serves(words: &[&str], folder: &Path) {
    let mut command = Command::new(rushlight());
    command.args(words).arg("--no-open").current_dir(folder).env("XDG_STATE_HOME", folder.join("state"));
    if words.contains(&"--no-open") {
        command = Command::new(rushlight());
        command.args(words).current_dir(folder).env("XDG_STATE_HOME", folder.join("state"));
    }
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("it starts");
    let out = BufReader::new(child.stdout.take().expect("it is piped"));
    let has_address = out.lines().map_while(Result::ok).any(|line| line.contains("http://"));
    child.kill().expect("it can be ended");
    child.wait().expect("it ends");
    assert!(has_address, "{words:?} prints its address");
}

/// What `schema` prints is read by users: no links of the source, and no keys of other words than the reports have.
#[test]
fn schemas_are_in_plain_words() {
    const KEYS: [&str; 7] = ["strays", "kept", "left", "parts_stray", "astray", "left_out", "grade"];
    let help = help(&["schema"]);
    let names = help.split("[possible values:").nth(1).and_then(|t| t.split(']').next()).expect("a list of schemas");
    let names: Vec<&str> = names.split(',').map(str::trim).collect();
    assert!(names.len() > 15, "{names:?}");
    for name in names {
        let text = String::from_utf8(run(&["schema", name], Path::new(".")).stdout).expect("UTF-8");
        assert!(!text.contains("[`") && !text.contains("](Self"), "{name}");
        let found: Vec<&&str> = KEYS.iter().filter(|key| text.contains(&format!("\"{key}\": {{"))).collect();
        assert!(found.is_empty(), "{name}: {found:?}");
    }
}
