//! Rules of the project: what it is built from, its language, and that the README and the guide show what is printed.
//! One file: `cargo test --workspace --test project readme::`.

mod language;
mod library;
mod readme;
mod supply;

/// A file that no line of its program names would be left out without a word.
#[test]
fn every_file_of_tests_is_named() {
    let tests = concat!(env!("CARGO_MANIFEST_DIR"), "/../tests");
    for (program, named) in [
        ("sources", include_str!("../sources/main.rs")),
        ("commands", include_str!("../commands/main.rs")),
        ("robustness", include_str!("../robustness/main.rs")),
        ("project", include_str!("main.rs")),
    ] {
        for entry in std::fs::read_dir(format!("{tests}/{program}")).expect("the folder of the tests") {
            let name = entry.expect("an entry").file_name().into_string().expect("a name in Unicode");
            if let Some(module) = name.strip_suffix(".rs").filter(|&m| m != "main") {
                assert!(named.contains(&format!("\nmod {module};\n")), "{name} is not in tests/{program}/main.rs");
            }
        }
    }
}
