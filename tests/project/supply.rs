//! What the program is built from: licences, code that runs while it is built, and a reason for each direct dependency.

use serde_json::Value;
use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;

/// Licences that let anybody use and pass on the program, with no condition but to name their authors.
const LICENCES: [&str; 13] = [
    "0BSD",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "IJG",
    "ISC",
    "MIT",
    "MIT-0",
    "Unicode-3.0",
    "Zlib",
];

/// Packages with a build script: each asks the compiler what it can do or writes tables, and was read.
const BUILD_SCRIPTS: [&str; 38] = [
    "ahash",
    "alloca",
    "assert_cmd",
    "borsh",
    "constant_time_eq",
    "crc32fast",
    "crossbeam-deque",
    "crossbeam-epoch",
    "crossbeam-utils",
    "getrandom",
    "httparse",
    "icu_locale_fallback_data",
    "icu_segmenter_data",
    "jsonschema-value",
    "libc",
    "libm",
    "matrixmultiply",
    "nix",
    "num-traits",
    "parking_lot_core",
    "paste",
    "portable-atomic",
    "proc-macro2",
    "proc-macro2-diagnostics",
    "pulldown-cmark",
    "pulp",
    "quote",
    "rayon-core",
    "ref-cast",
    "rustix",
    "rustversion",
    "serde",
    "serde_core",
    "serde_json",
    "slotmap",
    "unicode-general-category",
    "zerocopy",
    "zmij",
];

/// Signs of a script that goes to the network or starts something other than the compiler.
const SUSPICIOUS: [&str; 10] =
    ["TcpStream", "UdpSocket", "reqwest", "ureq", "curl", "wget", "git2", "\"git\"", "\"sh\"", "\"bash\""];

fn top() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/.."))
}

/// All packages of the workspace and what they need, from cargo, without a network.
fn packages() -> Vec<Value> {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let ran = Command::new(cargo)
        .args(["metadata", "--offline", "--locked", "--format-version", "1", "--filter-platform"])
        .arg(if cfg!(target_os = "linux") { "x86_64-unknown-linux-gnu" } else { std::env::consts::ARCH })
        .current_dir(top())
        .output()
        .expect("cargo runs");
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    let all: Value = serde_json::from_slice(&ran.stdout).expect("JSON");
    all["packages"].as_array().expect("a list").clone()
}

fn text<'v>(value: &'v Value, key: &str) -> &'v str {
    value[key].as_str().unwrap_or_default()
}

/// Whether an SPDX expression can be met by the licences above; `/` is how older packages write OR.
fn allowed(expression: &str) -> bool {
    let flat = expression.replace(" / ", " OR ").replace('/', " OR ");
    // No expression here nests deeper than (A OR B) AND C.
    flat.split(" AND ").all(|part| {
        let part = part.trim().trim_start_matches('(').trim_end_matches(')');
        part.split(" OR ").any(|one| LICENCES.contains(&one.trim()))
    })
}

#[test]
fn every_licence_is_allowed() {
    for (expression, right) in [
        ("MIT/Apache-2.0", true),
        ("(MIT OR Apache-2.0) AND Unicode-3.0", true),
        ("GPL-3.0-only", false),
        ("MIT AND GPL-2.0-only", false),
        ("GPL-2.0-only OR MIT", true),
        ("", false),
    ] {
        assert_eq!(allowed(expression), right, "{expression}");
    }
    let bad: Vec<String> = packages()
        .iter()
        .filter(|p| !allowed(text(p, "license")))
        .map(|p| format!("{} {}: `{}`", text(p, "name"), text(p, "version"), text(p, "license")))
        .collect();
    assert!(bad.is_empty(), "{bad:#?}");
}

#[test]
fn build_scripts_are_known_and_fetch_nothing() {
    let mut found = BTreeSet::new();
    for package in packages() {
        for target in package["targets"].as_array().expect("a list") {
            if !target["kind"].as_array().is_some_and(|kinds| kinds.iter().any(|k| k == "custom-build")) {
                continue;
            }
            found.insert(text(&package, "name").to_owned());
            let script = std::fs::read_to_string(text(target, "src_path")).expect("a script");
            let code =
                script.lines().filter(|line| !line.trim_start().starts_with("//")).collect::<Vec<_>>().join("\n");
            let signs: Vec<&str> = SUSPICIOUS.into_iter().filter(|sign| code.contains(sign)).collect();
            assert!(signs.is_empty(), "{}: {signs:?}", text(&package, "name"));
        }
    }
    let known: BTreeSet<String> = BUILD_SCRIPTS.into_iter().map(str::to_owned).collect();
    let new: Vec<&String> = found.difference(&known).collect();
    assert!(new.is_empty(), "read their build scripts, then name them here: {new:?}");
    let gone: Vec<&String> = known.difference(&found).collect();
    assert!(gone.is_empty(), "no longer there: {gone:?}");
}

/// The table in DEVELOPERS.md has every direct dependency, and no other.
#[test]
fn every_direct_dependency_has_its_reason() {
    let own: Vec<Value> = packages().into_iter().filter(|p| p["source"].is_null()).collect();
    let names: BTreeSet<&str> = own.iter().map(|p| text(p, "name")).collect();
    let needed: BTreeSet<String> = own
        .iter()
        .flat_map(|p| p["dependencies"].as_array().expect("a list"))
        .map(|d| text(d, "name").to_owned())
        .filter(|name| !names.contains(name.as_str()))
        .collect();
    let developers = std::fs::read_to_string(top().join("DEVELOPERS.md")).expect("DEVELOPERS.md");
    let (_, rest) = developers.split_once("\n## Dependencies\n").expect("a section of dependencies");
    let table = rest.split("\n## ").next().unwrap_or_default();
    let rows = table.lines().filter_map(|line| line.strip_prefix("| `")?.split_once('`'));
    let reasons: BTreeSet<String> = rows
        .map(|(name, reason)| {
            assert!(reason.trim_matches([' ', '|']).len() > 10, "{name} needs a reason");
            name.to_owned()
        })
        .collect();
    assert_eq!(reasons, needed);
}

/// Who needs curves, matrices and cubes alone builds few packages.
#[test]
fn the_core_needs_few_packages() {
    for (what, features, most) in [
        ("curves and matrices", &["--no-default-features"][..], 20),
        ("cubes and pipelines on all processors", &[], 26),
    ] {
        let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
        let ran = Command::new(cargo)
            .args(["tree", "--offline", "--locked", "-p", "rushlight-colour", "-e", "normal,build", "--prefix", "none"])
            .args(features)
            .current_dir(top())
            .output()
            .expect("cargo runs");
        assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
        let tree = String::from_utf8_lossy(&ran.stdout).into_owned();
        let packages: BTreeSet<&str> = tree.lines().filter_map(|line| line.split(' ').next()).collect();
        assert!(
            packages.contains("nalgebra") && packages.len() <= most,
            "{what}: {} of {most}: {packages:?}",
            packages.len()
        );
    }
}

/// What a lock file holds: the packages with their versions, and by its name what a package needs.
fn locked(file: &str) -> (BTreeSet<(String, String)>, impl Fn(&str) -> BTreeSet<String>) {
    let text = std::fs::read_to_string(top().join(file)).expect("a lock file");
    let lock: toml::Table = text.parse().expect("TOML");
    let all = lock["package"].as_array().expect("a list").clone();
    let name = |p: &toml::Value| p["name"].as_str().expect("a name").to_owned();
    let versions = all.iter().map(|p| (name(p), p["version"].as_str().expect("a version").to_owned())).collect();
    let needs = move |of: &str| {
        let package = all.iter().find(|p| name(p) == of).expect("a package");
        let needed = package["dependencies"].as_array().expect("a list").iter().filter_map(toml::Value::as_str);
        // The version stands behind a name that two have.
        needed.map(|n| n.split(' ').next().unwrap_or_default().to_owned()).collect()
    };
    (versions, needs)
}

/// The lock file of tests/fuzz, which no build of the workspace looks at, is up to date, and what is fuzzed is what is built.
#[test]
fn the_fuzzed_program_is_built_from_the_same_packages() {
    let (workspace, _) = locked("Cargo.lock");
    let (fuzzed, needs) = locked("tests/fuzz/Cargo.lock");
    let names: BTreeSet<&str> = workspace.iter().map(|(name, _)| name.as_str()).collect();
    let other: Vec<_> = fuzzed.iter().filter(|p| names.contains(p.0.as_str()) && !workspace.contains(p)).collect();
    assert!(other.is_empty(), "other versions than Cargo.lock has: {other:?}");
    let all = packages();
    for name in ["rushlight", "rushlight-colour", "rushlight-formats", "rushlight-image"] {
        let library = all.iter().find(|p| text(p, "name") == name).expect("the library");
        let declared = library["dependencies"].as_array().expect("a list").iter().filter(|d| text(d, "kind") != "dev");
        let names = |these: Vec<&Value>| these.into_iter().map(|d| text(d, "name").to_owned()).collect::<BTreeSet<_>>();
        let (all, always) = (declared.clone().collect(), declared.filter(|d| d["optional"] != true).collect());
        // Of those that a feature brings, the fuzzed program has some.
        let (all, always, needed) = (names(all), names(always), needs(name));
        assert!(
            needed.is_subset(&all) && needed.is_superset(&always),
            "{name}: run `cargo metadata --offline` in tests/fuzz: {needed:?}, {always:?} to {all:?}"
        );
    }
}

/// What Python loads is built from the versions that the program is built from, under the same licences.
#[test]
fn the_package_for_python_is_built_from_the_same_packages() {
    let (workspace, _) = locked("Cargo.lock");
    let (built, _) = locked("lib/python/Cargo.lock");
    let names: BTreeSet<&str> = workspace.iter().map(|(name, _)| name.as_str()).collect();
    let other: Vec<_> = built.iter().filter(|p| names.contains(p.0.as_str()) && !workspace.contains(p)).collect();
    assert!(other.is_empty(), "other versions than Cargo.lock has: {other:?}");
    let developers = std::fs::read_to_string(top().join("DEVELOPERS.md")).expect("DEVELOPERS.md");
    let manifest = std::fs::read_to_string(top().join("lib/python/Cargo.toml")).expect("a manifest");
    let manifest: toml::Table = manifest.parse().expect("TOML");
    let direct = manifest["dependencies"].as_table().expect("a table").keys();
    let reasons =
        |name: &str| [format!("| {name} |"), format!("| `{name}` |")].iter().any(|row| developers.contains(row));
    let missing: Vec<&String> = direct.filter(|name| *name != "rushlight" && !reasons(name)).collect();
    assert!(missing.is_empty(), "they need a reason in DEVELOPERS.md: {missing:?}");
}
