//! What the README shows is what the binary prints. After an intended change, write it anew and read it:
//!
//!     RUSHLIGHT_BLESS=1 cargo test --workspace --test all readme::

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
    let brackets = folder.path().join("fixtures/demo/brackets");
    fs::create_dir_all(&brackets).expect("a folder");
    for entry in fs::read_dir(demo.join("brackets")).expect("the brackets") {
        let from = entry.expect("a file").path();
        fs::copy(&from, brackets.join(from.file_name().expect("a name"))).expect("a copy");
    }
    folder
}

#[test]
fn every_command_in_the_readme_prints_what_stands_there() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../README.md");
    let text = fs::read_to_string(&path).expect("the README");
    let folder = with_demo();
    let blocks: Vec<&str> = text.split("```console\n").skip(1).collect();
    assert!(blocks.len() >= 4, "the README has a tour");
    let bless = env::var("RUSHLIGHT_BLESS").is_ok_and(|v| v == "1");
    let mut blessed = text.clone();
    for block in blocks {
        let block = block.split("```").next().expect("a block ends");
        let (command, shown) = block.split_once('\n').expect("a command and what it prints");
        let printed = run(command.strip_prefix("$ ").expect("a prompt"), folder.path());
        if bless {
            blessed = blessed.replace(block, &format!("{command}\n{printed}"));
        } else {
            assert_eq!(printed, shown, "{command}");
        }
    }
    if bless {
        fs::write(&path, blessed).expect("the README is written");
    }
}

/// A look that is shown is the demo's look; tables that are shown stand so in the demo show.
#[test]
fn the_documents_in_the_readme_are_the_demos() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let read = |name: &str| fs::read_to_string(root.join(name)).expect("it is committed");
    let parse = |text: &str| text.parse::<toml::Table>().expect("TOML");
    let (night, show) = (parse(&read("fixtures/demo/looks/night.toml")), parse(&read("fixtures/demo/show.toml")));
    let readme = read("README.md");
    let blocks: Vec<_> = readme.split("```toml\n").skip(1).filter_map(|t| t.split("```").next()).map(parse).collect();
    assert!(blocks.len() >= 2, "a look and a table of the show");
    for shown in blocks {
        if shown.contains_key("step") {
            assert_eq!(shown, night);
            continue;
        }
        for (kind, tables) in shown {
            if let Some(entries) = tables.as_array() {
                let all = show[&kind].as_array().expect("a list");
                assert!(entries.iter().all(|entry| all.contains(entry)), "{kind}: {entries:?}");
                continue;
            }
            for (name, table) in tables.as_table().expect("tables of names") {
                assert_eq!(Some(table), show[&kind].get(name), "{kind}.{name}");
            }
        }
    }
}
