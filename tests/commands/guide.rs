//! The guide on the terminal and as manual pages.

use rushlight_tests::scene::{assert_says, files, output, refused};
use std::path::Path;
use std::process::Command;
use tempfile::TempDir;

#[test]
fn pages_are_listed_and_printed() {
    let dir = TempDir::new().expect("a temporary folder");
    let list = output(dir.path(), "guide");
    for page in ["start", "looks", "cameras", "cubes", "hand-off", "terms"] {
        let line = list.lines().find(|line| line.starts_with(&format!("  {page} ")));
        assert!(line.is_some_and(|line| line.len() > 30), "{page}: {list}");
        let shown = output(dir.path(), &format!("guide {page}"));
        let title: Vec<&str> = shown.lines().take(2).collect();
        assert!(title[0].to_lowercase() == page && title[1] == "=".repeat(page.len()), "{page}: {title:?}");
        assert!(shown.contains("\nWhat can go wrong\n-----------------\n"), "{page}");
        assert!(shown.lines().all(|line| line.chars().count() <= 80), "{page}");
    }
}

#[test]
fn an_unknown_page_is_one_clear_error() {
    let dir = TempDir::new().expect("a temporary folder");
    let said = refused(dir.path(), "guide cubs");
    assert_says(&said, &["'cubs'", "cubes", "similar"]);
}

#[test]
fn manual_pages_hold_the_guide() {
    let dir = TempDir::new().expect("a temporary folder");
    output(dir.path(), "man --out pages");
    let pages = files(&dir.path().join("pages"));
    let text = String::from_utf8(pages["rushlight-guide-cubes.7"].clone()).expect("UTF-8");
    assert!(text.starts_with(".TH rushlight-guide-cubes 7\n"), "{text}");
    assert_eq!(pages.keys().filter(|name| name.ends_with(".7")).count(), guide_pages());
    // As man shows it, where there is one.
    let shown = Command::new("man").args(["-l", "pages/rushlight-guide-cubes.7"]).current_dir(dir.path()).output();
    if let Ok(shown) = shown.as_ref().map(|o| String::from_utf8_lossy(&o.stdout)) {
        assert!(shown.is_empty() || shown.contains("--max-error mean=0.25,p99=1,max=2"), "{shown}");
    }
    // A second run replaces its own pages.
    output(dir.path(), "man --out pages");
    assert_eq!(files(&dir.path().join("pages")), pages);
}

fn guide_pages() -> usize {
    let guide = Path::new(env!("CARGO_MANIFEST_DIR")).join("../cli/guide");
    std::fs::read_dir(guide)
        .expect("the guide")
        .filter(|entry| entry.as_ref().is_ok_and(|e| e.path().extension().is_some_and(|e| e == "md")))
        .count()
}

/// A term that nothing else uses is not a term of the program.
#[test]
fn every_term_is_used() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let mut used = String::new();
    let sources = ["cli/src", "lib/src", "lib/colour/src", "lib/formats/src", "lib/image/src", "cli/guide"];
    let mut folders = sources.map(|folder| root.join(folder)).to_vec();
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            let is_text = path.extension().is_some_and(|e| ["rs", "md", "html", "js"].iter().any(|known| e == *known));
            if path.is_dir() {
                folders.push(path);
            } else if is_text && !path.ends_with("terms.md") {
                used += &std::fs::read_to_string(&path).expect("UTF-8").to_lowercase().replace('\n', " ");
            }
        }
    }
    let terms = std::fs::read_to_string(root.join("cli/guide/terms.md")).expect("the terms");
    let cells = terms.lines().filter_map(|line| line.strip_prefix("| ")?.split(" | ").next());
    let terms: Vec<&str> = cells.filter(|term| *term != "term" && !term.starts_with("---")).collect();
    assert!(terms.len() > 40, "{terms:?}");
    // As it stands in a sentence: without what tells it from another term of the name.
    let word = |term: &str| {
        let alone = term.split(" (").next().unwrap_or(term);
        alone.trim_matches('`').to_lowercase()
    };
    let unused: Vec<&&str> =
        terms.iter().filter(|term| term.split(", ").any(|part| !used.contains(&word(part)))).collect();
    assert!(unused.is_empty(), "{unused:?}");
}
