//! What the README and the guide show is what the binary prints: every block of console is run on the demo show. A block
//! whose last line is `...` shows the first lines of what is printed. After an intended change, write them anew and read them:
//!
//!     RUSHLIGHT_BLESS=1 cargo test --workspace --test project readme::

use rushlight_tests::rushlight;
use std::path::Path;
use std::process::Command;
use std::{env, fs};

/// Runs a line `$ rushlight ...` in `folder`.
fn run(line: &str, folder: &Path) -> String {
    let words: Vec<&str> = line.split_whitespace().collect();
    assert_eq!(words[0], "rushlight", "{line}");
    let output = Command::new(rushlight()).args(&words[1..]).current_dir(folder).output().expect("the binary runs");
    assert!(output.status.success(), "{line}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).expect("reports are UTF-8")
}

/// A folder that holds the demo show where the repository has it.
fn with_demo() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/demo");
    for file in [
        "show.toml",
        "looks/night.toml",
        "looks/day.toml",
        "revisions/night-2.toml",
        "curves/harbour.toml",
        "cdl/night1.ccc",
        "cdl/day2.ale",
    ] {
        let to = folder.path().join("fixtures/demo").join(file);
        fs::create_dir_all(to.parent().expect("a folder")).expect("a folder");
        fs::copy(demo.join(file), to).expect("a copy");
    }
    for part in ["brackets", "camera_tests", "chart"] {
        let to = folder.path().join("fixtures/demo").join(part);
        fs::create_dir_all(&to).expect("a folder");
        for entry in fs::read_dir(demo.join(part)).expect("frames of the demo") {
            let from = entry.expect("a file").path();
            fs::copy(&from, to.join(from.file_name().expect("a name"))).expect("a copy");
        }
    }
    folder
}

/// What a block of console should be, as `printed` by its command, and as long as it is `shown`.
fn shortened(printed: &str, shown: &str) -> String {
    if !shown.ends_with("\n...\n") {
        return printed.to_owned();
    }
    let lines = shown.lines().count() - 1;
    let first: Vec<&str> = printed.lines().take(lines).collect();
    assert!(printed.lines().count() > lines, "nothing follows, so `...` is untrue:\n{printed}");
    format!("{}\n...\n", first.join("\n"))
}

/// Checks every block of console of a page, or writes it anew.
fn shows_what_is_printed(page: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(page);
    let text = fs::read_to_string(&path).unwrap_or_else(|e| panic!("{page}: {e}"));
    let folder = with_demo();
    let bless = env::var("RUSHLIGHT_BLESS").is_ok_and(|v| v == "1");
    let mut blessed = text.clone();
    for block in text.split("```console\n").skip(1) {
        let block = block.split("```").next().expect("a block ends");
        // A command may go on after a backslash.
        let joined = block.replace("\\\n", "\0\0");
        let length = joined.find('\n').expect("a command and what it prints");
        let (command, shown) = (&block[..length], &block[length + 1..]);
        let line = command.strip_prefix("$ ").expect("a prompt").replace("\\\n", " ");
        let printed = run(&line, folder.path());
        let right = shortened(&printed, shown);
        if bless {
            blessed = blessed.replace(block, &format!("{command}\n{right}"));
        } else {
            assert_eq!(right, shown, "{page}: {command}");
        }
    }
    if bless {
        fs::write(&path, blessed).expect("the page is written");
    }
}

/// One test for each page, so that they run at once.
macro_rules! pages {
    ($($test:ident $page:literal),* $(,)?) => {
        const PAGES: &[&str] = &[$($page),*];
        $(#[test]
        fn $test() {
            shows_what_is_printed($page);
        })*
    };
}
pages! {
    the_readme "README.md",
    the_page_start "cli/guide/start.md",
    the_page_looks "cli/guide/looks.md",
    the_page_cameras "cli/guide/cameras.md",
    the_page_know_your_camera "cli/guide/know-your-camera.md",
    the_page_monitors "cli/guide/monitors.md",
    the_page_cubes "cli/guide/cubes.md",
    the_page_chain "cli/guide/chain.md",
    the_page_frames "cli/guide/frames.md",
    the_page_shots "cli/guide/shots.md",
    the_page_stress "cli/guide/stress.md",
    the_page_versions "cli/guide/versions.md",
    the_page_hand_off "cli/guide/hand-off.md",
    the_page_preview "cli/guide/preview.md",
    the_page_python "cli/guide/python.md",
    the_page_formulas "cli/guide/formulas.md",
    the_page_reference "cli/guide/reference.md",
    the_page_terms "cli/guide/terms.md",
}

#[test]
fn every_page_of_the_guide_is_checked() {
    let guide = Path::new(env!("CARGO_MANIFEST_DIR")).join("../cli/guide");
    let mut pages: Vec<String> = fs::read_dir(guide)
        .expect("the guide")
        .map(|entry| entry.expect("a file").file_name().into_string().expect("UTF-8"))
        .filter(|name| name.ends_with(".md"))
        .map(|name| format!("cli/guide/{name}"))
        .collect();
    pages.push("README.md".to_owned());
    pages.sort();
    let mut checked = PAGES.to_vec();
    checked.sort_unstable();
    assert_eq!(pages, checked);
}

#[test]
fn a_block_may_show_the_first_lines() {
    assert_eq!(shortened("a\nb\nc\n", "x\n...\n"), "a\n...\n");
    assert_eq!(shortened("a\nb\n", "a\nb\n"), "a\nb\n");
    assert!(std::panic::catch_unwind(|| shortened("a\n", "a\n...\n")).is_err());
}

/// The README is read in one go; lines of Markdown fit an editor.
#[test]
fn the_readme_is_short_and_no_line_is_long() {
    for page in PAGES {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(page);
        let text = fs::read_to_string(path).expect("a page");
        for line in text.lines() {
            assert!(line.chars().count() <= 130, "{page}: {line}");
        }
        assert!(*page != "README.md" || text.lines().count() <= 150, "README.md: {} lines", text.lines().count());
    }
}

#[test]
fn every_link_names_a_file() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let mut links = 0;
    for page in PAGES.iter().chain(&["tests/CONFORMANCE.md"]) {
        let text = fs::read_to_string(root.join(page)).expect("a page");
        let folder = root.join(page).parent().expect("a folder").to_owned();
        for link in text.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
            let file = link.split('#').next().unwrap_or_default();
            assert!(folder.join(file).exists(), "{page}: {link}");
            links += 1;
        }
    }
    assert!(links > 40, "{links} links");
}

/// A page names commands and options; each of them is there.
#[test]
fn every_option_that_a_page_names_exists() {
    // Every option of every command, as a shell completes them.
    let script = run("rushlight completions fish", Path::new("."));
    let words: Vec<&str> = script.split_whitespace().collect();
    let known: Vec<&str> = words.windows(2).filter(|pair| pair[0] == "-l").map(|pair| pair[1]).collect();
    assert!(known.contains(&"camera") && known.len() > 100, "{known:?}");
    // Options of other programs that pages call.
    let others = ["--requeue", "--array", "--release", "--workspace", "--path", "--locked", "--git", "--ext-diff"];
    for page in PAGES {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(page);
        let text = fs::read_to_string(path).expect("a page");
        for word in text.split(|c: char| !(c.is_ascii_alphanumeric() || c == '-')) {
            let is_option = word.starts_with("--") && word.len() > 4 && !word.ends_with('-');
            let is_known = word.strip_prefix("--").is_some_and(|name| known.contains(&name));
            assert!(!is_option || others.contains(&word) || is_known, "{page}: no option {word}");
        }
    }
}

/// The page on looks names every step and every number of it.
#[test]
fn the_page_on_looks_names_every_number() {
    let guide = Path::new(env!("CARGO_MANIFEST_DIR")).join("../cli/guide/looks.md");
    let text = fs::read_to_string(guide).expect("the page");
    let part = text.split("## Every step").nth(1).and_then(|t| t.split("\n## ").next()).expect("its heading");
    let schema: serde_json::Value =
        serde_json::from_str(&run("rushlight schema look", Path::new("."))).expect("the schema is JSON");
    let mut steps = 0;
    let mut open = vec![&schema];
    while let Some(value) = open.pop() {
        if let Some(step) = value["properties"]["do"]["const"].as_str() {
            steps += 1;
            let numbers = value["properties"].as_object().expect("properties").keys().filter(|key| *key != "do");
            for name in numbers.map(String::as_str).chain([step]) {
                assert!(part.contains(&format!("`{name}`")), "{step}: {name}");
            }
        }
        match value {
            serde_json::Value::Object(map) => open.extend(map.values()),
            serde_json::Value::Array(list) => open.extend(list),
            _ => {}
        }
    }
    assert!(steps >= 11, "{steps} steps");
}

/// A look that has the demo's title is the demo's look; tables that are shown stand so in the demo show.
#[test]
fn the_documents_in_the_readme_and_the_guide_are_the_demos() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let read = |name: &str| fs::read_to_string(root.join(name)).expect("it is committed");
    let parse = |text: &str| text.parse::<toml::Table>().expect("TOML");
    let (night, show) = (parse(&read("fixtures/demo/looks/night.toml")), parse(&read("fixtures/demo/show.toml")));
    let (mut looks, mut tables) = (0, 0);
    for page in PAGES {
        let text = read(page);
        for shown in text.split("```toml\n").skip(1).filter_map(|t| t.split("```").next()).map(parse) {
            if shown.contains_key("step") {
                let is_night = shown["title"] == night["title"];
                assert!(!is_night || shown == night, "{page}");
                looks += usize::from(is_night);
                let folder = tempfile::tempdir().expect("a temporary folder");
                fs::write(folder.path().join("look.toml"), toml::to_string(&shown).expect("TOML")).expect("a file");
                run("rushlight probe look.toml --camera slog3+sgamut3-cine --display bt709 0.4 0.4 0.4", folder.path());
                continue;
            }
            for (kind, table) in shown {
                tables += 1;
                if let Some(entries) = table.as_array() {
                    let all = show[&kind].as_array().expect("a list");
                    assert!(entries.iter().all(|entry| all.contains(entry)), "{page}: {kind}: {entries:?}");
                    continue;
                }
                for (name, table) in table.as_table().expect("tables of names") {
                    assert_eq!(Some(table), show[&kind].get(name), "{page}: {kind}.{name}");
                }
            }
        }
    }
    assert!(looks >= 1 && tables >= 3, "the demo's look, its devices, its corrections and its shots");
}
