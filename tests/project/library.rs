//! Rules of the library's public face.

use std::fs;
use std::path::Path;

/// The sources of the four crates, by file.
fn sources() -> Vec<(String, String)> {
    fn walk(folder: &Path, found: &mut Vec<(String, String)>) {
        for entry in fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                walk(&path, found);
            } else if path.extension().is_some_and(|e| e == "rs") {
                let text = fs::read_to_string(&path).expect("UTF-8");
                found.push((path.display().to_string(), text));
            }
        }
    }
    let lib = Path::new(env!("CARGO_MANIFEST_DIR")).join("../lib");
    let mut found = Vec::new();
    ["src", "colour/src", "formats/src", "image/src"].iter().for_each(|f| walk(&lib.join(f), &mut found));
    assert!(found.len() > 200, "{}", found.len());
    found
}

/// The error of a public function's signature, where it gives a `Result` of two types.
fn error_of(signature: &str) -> Option<&str> {
    let inside = signature.split_once("-> Result<")?.1;
    let mut depth = 0;
    let mut parts = vec![0];
    for (at, c) in inside.char_indices() {
        match c {
            '<' | '(' | '[' => depth += 1,
            '>' | ')' | ']' if depth == 0 => return (parts.len() == 2).then(|| inside[parts[1]..at].trim()),
            '>' | ')' | ']' => depth -= 1,
            ',' if depth == 0 => parts.push(at + 1),
            _ => {}
        }
    }
    None
}

/// An error that is text or a bare list is no `std::error::Error`: `?` cannot pass it on.
#[test]
fn no_public_function_gives_text_or_a_list_as_its_error() {
    assert_eq!(error_of("pub fn a(x: &str) -> Result<Vec<(u8, [f64; 3])>, String> {"), Some("String"));
    assert_eq!(error_of("pub fn a() -> Result<(), Vec<LineError>> {"), Some("Vec<LineError>"));
    assert_eq!(error_of("pub fn a() -> io::Result<u8> {"), None);
    let mut seen = 0;
    let mut bad = Vec::new();
    for (file, text) in sources() {
        // What stands in a module of tests is no part of the face.
        let text = text.split("\n#[cfg(test)]\nmod tests {").next().unwrap_or_default();
        let aliases = text.match_indices("pub type ").map(|(at, _)| text[at..].split(';').next().unwrap_or_default());
        bad.extend(aliases.filter(|a| a.contains("Error = Vec<")).map(|a| format!("{file}: {a}")));
        for (at, _) in text.match_indices("fn ") {
            let before = text[..at].rsplit('\n').next().unwrap_or_default().trim();
            if !matches!(before, "pub" | "pub const" | "") {
                continue;
            }
            // Without `pub` it is a method of a trait, or private: the former ends in a semicolon.
            let rest = &text[at..];
            let end = rest.find(['{', ';']).unwrap_or(rest.len());
            let signature = &rest[..end];
            if before.is_empty() && !rest[end..].starts_with(';') {
                continue;
            }
            let Some(error) = error_of(signature) else { continue };
            seen += 1;
            if error == "String" || error.starts_with("Vec<") || error.starts_with('&') {
                bad.push(format!("{file}: {}", signature.split('(').next().unwrap_or_default()));
            }
        }
    }
    assert!(seen > 100, "{seen}");
    assert!(bad.is_empty(), "{bad:#?}");
}
