//! The law "same bytes everywhere": a show baked with one and with two threads gives the cubes whose SHA-256 stands in
//! fixtures/reference/bake_hashes.txt, in debug and in release, on every machine.
//!
//! When a change is meant to change them, write the file anew and commit it with the change:
//!
//!     RUSHLIGHT_BLESS=1 cargo test -p rushlight --test determinism
//!
//! The file names the generation of the picture that it is of, and holds beside each cube's bytes those of its numbers
//! alone. Once the changelog has a release of that generation, other numbers are not written before
//! `look::GENERATION` is raised.

use rushlight::bake::{Format, Manifest, Options, bake};
use rushlight::camera::Rating;
use rushlight::exposure::{self, Basis, ExposureCube, Kind, ZoneSettings};
use rushlight::files::sha256;
use rushlight::format::cube::DEFAULT_DIGITS;
use rushlight::look::GENERATION;
use rushlight::show::Show;
use rushlight::transfer::MID_GREY;
use std::collections::BTreeMap;

const SHOW: &str = r#"
schema = 1
title = "Saltmarsh"

[cameras.a]
curve = "slog3"
gamut = "sgamut3-cine"

[cameras.b]
curve = "logc3"
ei = 1600
gamut = "awg3"
range = "legal"

[cameras.c]
curve = "curves/invented.toml"
gamut = { red = [0.72, 0.29], green = [0.18, 0.82], blue = [0.11, -0.02], white = [0.3127, 0.329] }
adaptation = "cat16"

[displays.onset]
standard = "bt709"
black = 0.02
range = "legal"

[displays.cinema]
standard = "p3-dci"
white = "keep"

[displays.pq]
standard = "bt2100-pq"

[displays.hlg]
standard = "bt2100-hlg"
mapping = "clip"

[looks]
night = "looks/night.toml"
plain = "looks/plain.toml"
own = "looks/own.toml"

[[bake]]
points = 17
"#;

const CURVE: &str = r#"
schema = 1
title = "Invented log"
source = "invented for a test"
[table]
points = [[-7, 0.12], [-4, 0.21], [-1, 0.43], [0, 0.5], [2, 0.66], [6, 0.97]]
black = 0.09
"#;

const NIGHT: &str = r#"
schema = 1
generation = 2
title = "Saltmarsh, night"
revision = 3
[[step]]
do = "exposure"
stops = -0.7
[[step]]
do = "balance"
from = { kelvin = 4300, tint = 3 }
adaptation = "cat02"
[[step]]
do = "printer"
points = [1, -2, 3]
[[step]]
do = "cdl"
slope = [1.05, 1.0, 0.97]
offset = [0.01, 0.0, -0.01]
power = [1.02, 1.0, 0.98]
saturation = 1.1
[[step]]
do = "saturation"
amount = 0.9
[[step]]
do = "contrast"
amount = 1.1
pivot = -1
[[step]]
do = "tint"
shadows = [-0.06, 0.10, -0.02]
highlights = [0.08, 0.02, -0.10]
[[step]]
do = "cube"
file = "../cubes/own.cube"
strength = 0.5
expects = { curve = "acescct", gamut = "aces-ap1" }
gives = { curve = "acescct", gamut = "aces-ap1" }
[[step]]
do = "compress"
[[step]]
do = "print"
lights = [26, 25, 24]
flare = 0.002
"#;

const PLAIN: &str = "schema = 1\ngeneration = 2\ntitle = 'Plain'\n[[step]]\ndo = 'tone'\n";

const OWN: &str = r#"
schema = 1
generation = 2
title = "A cube of our own"
[[step]]
do = "cube"
file = "../cubes/own.cube"
interpolation = "trilinear"
expects = { curve = "slog3", gamut = "sgamut3-cine" }
gives = { display = "bt709" }
"#;

const CUBE: &str = "LUT_3D_SIZE 2\n0 0 0.05\n0.9 0.1 0\n0.1 0.9 0\n1 1 0.1\n0 0 0.9\n0.9 0 0.95\n0.1 1 1\n1 0.9 0.95\n";

const HASHES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/reference/bake_hashes.txt");

const EXPOSURE_HASHES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/reference/exposure_hashes.txt");

const EXPOSURE_HEADER: &str = "\
# SHA-256 of every exposure cube that lib/tests/determinism.rs makes, 33 points.
# Source: this project. Written by that test when RUSHLIGHT_BLESS=1 is set; do not edit:
#   RUSHLIGHT_BLESS=1 cargo test -p rushlight --test determinism
";

const HEADER: &str = "\
# SHA-256 of every cube that lib/tests/determinism.rs bakes, 17 points, audit included, of the numbers alone of each, and
# of their manifest.
# Source: this project. Written by that test when RUSHLIGHT_BLESS=1 is set; do not edit:
#   RUSHLIGHT_BLESS=1 cargo test -p rushlight --test determinism
";

fn show() -> Show {
    let files: BTreeMap<String, Vec<u8>> = [
        ("looks/night.toml", NIGHT),
        ("looks/plain.toml", PLAIN),
        ("looks/own.toml", OWN),
        ("curves/invented.toml", CURVE),
        ("cubes/own.cube", CUBE),
    ]
    .into_iter()
    .map(|(name, text)| (name.to_owned(), text.as_bytes().to_vec()))
    .collect();
    Show::parse("show.toml", SHOW, &files).unwrap_or_else(|problems| panic!("{}", problems[0]))
}

/// The line of the file that says which generation its numbers are of.
const OF_GENERATION: &str = "# Generation of the picture: ";

/// What ends a line with the hash of a cube's numbers alone.
const NUMBERS: &str = ", numbers alone";

/// A cube's text without its comments.
fn numbers(cube: &str) -> String {
    cube.lines().filter(|line| !line.starts_with(['#', 'T'])).fold(String::new(), |text, line| text + line + "\n")
}

/// The hashes of every cube and of the manifest, on so many threads.
fn hashes(threads: usize) -> String {
    let show = show();
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    let mut manifest = Manifest::new(&show);
    let mut text = format!("{HEADER}{OF_GENERATION}{GENERATION}\n");
    for job in show.jobs() {
        let options = Options::default();
        let baked = pool.install(|| bake(&job, &options)).unwrap();
        assert_eq!(baked.table().cube().size(), 17);
        for format in [Format::Cube, Format::Clf] {
            let file = baked.file(format).unwrap();
            text += &format!("{}  {}\n", sha256(file.text.as_bytes()), file.name);
            if format == Format::Cube {
                text += &format!("{}  {}{NUMBERS}\n", sha256(numbers(&file.text).as_bytes()), file.name);
            }
            manifest.add(&baked, &file);
        }
    }
    text + &format!("{}  manifest.json\n", sha256(manifest.to_json().as_bytes()))
}

#[test]
fn the_same_bytes_on_any_number_of_threads_and_at_any_optimisation() {
    let one = hashes(1);
    assert_eq!(one, hashes(2), "one thread and two give other bytes");
    for extension in [".cube", ".clf"] {
        assert_eq!(one.lines().filter(|line| line.ends_with(extension)).count(), 36);
    }
    if blesses() {
        let changelog = std::fs::read_to_string(CHANGELOG).expect("the changelog can be read");
        let committed = std::fs::read_to_string(HASHES).expect("the hashes are committed");
        assert_eq!(may_replace(&committed, &one, &changelog), Ok(()));
    }
    hold_to(HASHES, &one);
}

const CHANGELOG: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../CHANGELOG.md");

/// The generation of the picture that the newest release in a changelog states: its section has a line "Generation of the
/// picture: N."; the section of what is not released yet says so in its heading.
fn released(changelog: &str) -> Option<u32> {
    let sections = changelog.split("\n## ").skip(1);
    let mut released = sections.filter(|s| !s.lines().next().is_some_and(|heading| heading.contains("unreleased")));
    let stated = released.next()?.lines().find_map(|line| line.strip_prefix("Generation of the picture: "));
    let stated = stated.expect("a release states the generation of its picture");
    Some(stated.trim_end_matches('.').parse().expect("the generation is a number"))
}

/// Whether hashes may be written in place of others: not where they are of other numbers within a generation that is
/// released.
fn may_replace(old: &str, new: &str, changelog: &str) -> Result<(), String> {
    let of = |hashes: &str| hashes.lines().find_map(|line| line.strip_prefix(OF_GENERATION)?.parse::<u32>().ok());
    let numbers = |hashes: &str| {
        let lines = hashes.lines().filter_map(|line| line.strip_suffix(NUMBERS)?.split_once("  "));
        lines.map(|(hash, name)| (name.to_owned(), hash.to_owned())).collect::<BTreeMap<_, _>>()
    };
    let (before, after) = (numbers(old), numbers(new));
    let changed = before.iter().filter(|(name, hash)| after.get(*name).is_some_and(|now| now != *hash)).count();
    match (of(new), released(changelog)) {
        (Some(generation), Some(released)) if changed > 0 && of(old) == Some(generation) && generation <= released => {
            Err(format!(
                "{changed} cubes have other numbers, and generation {released} of the picture is released: raise \
                 look::GENERATION, and say in the changelog what it changes"
            ))
        }
        _ => Ok(()),
    }
}

#[test]
fn a_released_picture_is_not_changed_without_a_new_generation() {
    let hashes = |generation: u32, hash: &str, text: &str| {
        format!("# A comment\n{OF_GENERATION}{generation}\n{text}  a.cube\n{hash}  a.cube{NUMBERS}\n")
    };
    let (old, other, words) = (hashes(2, "aa", "11"), hashes(2, "bb", "22"), hashes(2, "aa", "22"));
    let working = "# Changelog\n\n## 0.2.0, unreleased\n\n## 0.1.0\n\nGeneration of the picture: 2.\n";
    assert!(may_replace(&old, &other, working).unwrap_err().contains("raise look::GENERATION"));
    assert_eq!(may_replace(&old, &words, working), Ok(()), "other comments are not another picture");
    assert_eq!(may_replace(&old, &hashes(3, "bb", "22"), working), Ok(()), "a new generation");
    let earlier = working.replace("picture: 2", "picture: 1");
    assert_eq!(may_replace(&old, &other, &earlier), Ok(()), "not released yet");
    assert_eq!(may_replace(&old, &other, "# Changelog\n\n## 0.1.0, unreleased\n"), Ok(()), "nothing is released");
    // The changelog as it stands states the generation of what is to be released next.
    let changelog = std::fs::read_to_string(CHANGELOG).expect("the changelog can be read");
    let next = changelog.split("\n## ").nth(1).expect("a section");
    assert!(next.contains(&format!("\nGeneration of the picture: {GENERATION}.\n")), "{next:.200}");
    assert!(released(&changelog).is_none_or(|released| released <= GENERATION));
}

/// Whether what is made is to be written as what is right.
fn blesses() -> bool {
    std::env::var("RUSHLIGHT_BLESS").is_ok_and(|v| v == "1")
}

/// Holds hashes to the committed ones, or writes them where that is asked for.
fn hold_to(path: &str, hashes: &str) {
    if blesses() {
        std::fs::write(path, hashes).expect("the fixtures can be written");
        return;
    }
    // A checkout may have changed the ends of lines.
    let committed = std::fs::read_to_string(path).expect("the hashes are committed").replace("\r\n", "\n");
    let differ: Vec<_> = hashes.lines().zip(committed.lines()).filter(|(a, b)| a != b).collect();
    assert!(hashes == committed, "other bytes than committed, {} lines: {differ:#?}", differ.len());
}

/// The hashes of exposure cubes of every camera and kind, on so many threads.
fn exposure_hashes(threads: usize) -> String {
    let show = show();
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    let mut text = EXPOSURE_HEADER.to_owned();
    for name in show.cameras().keys() {
        let camera = show.camera(name).unwrap();
        for (display, basis) in [("onset", Basis::Luminance), ("pq", Basis::Highest)] {
            for kind in Kind::ALL {
                for soft in [false, true] {
                    // Half a stop of the key is too narrow for 33 points of a legal range.
                    let zones = ZoneSettings { width: 1.0, ..ZoneSettings::of(kind) };
                    let job = exposure::Job {
                        show: &show,
                        camera,
                        ei: Some(800.0),
                        display: show.display(display).unwrap(),
                        device: None,
                        options: exposure::Options { zones, basis, points: 33, soft },
                        digits: DEFAULT_DIGITS,
                        plain: false,
                    };
                    // Five stops over mid-grey or so.
                    let grey = camera.item().encode([MID_GREY; 3])[1];
                    let rating = Rating { ei: 800.0, clip: Some(grey + 0.4), floor_stops: Some(-6.0) };
                    let made = || {
                        let display = job.display.item();
                        let made = ExposureCube::new(camera.item(), Some(&rating), false, display, &job.options);
                        job.text(&made.unwrap()).unwrap()
                    };
                    text += &format!("{}  {}\n", sha256(pool.install(made).as_bytes()), job.file_name());
                }
            }
        }
    }
    text
}

#[test]
fn exposure_cubes_are_the_same_bytes_too() {
    let one = exposure_hashes(1);
    assert_eq!(one, exposure_hashes(2), "one thread and two give other bytes");
    assert_eq!(one.lines().filter(|line| line.ends_with(".cube")).count(), 48);
    hold_to(EXPOSURE_HASHES, &one);
}

/// A file that two looks name stands among the sources of both.
#[test]
fn shared_files_are_sources_of_every_look() {
    let cube = CUBE.as_bytes().to_vec();
    let files = BTreeMap::from([
        ("looks/night.toml".to_owned(), NIGHT.as_bytes().to_vec()),
        ("looks/own.toml".to_owned(), OWN.as_bytes().to_vec()),
        ("looks/plain.toml".to_owned(), PLAIN.as_bytes().to_vec()),
        ("curves/invented.toml".to_owned(), CURVE.as_bytes().to_vec()),
        ("cubes/own.cube".to_owned(), cube),
    ]);
    let show = Show::parse("show.toml", SHOW, &files).unwrap();
    for look in ["night", "own"] {
        let names: Vec<_> = show.looks()[look].item.sources().iter().map(|s| s.file.as_str()).collect();
        assert_eq!(names, ["cubes/own.cube".to_owned(), format!("looks/{look}.toml")]);
    }
    assert_eq!(show.sources().len(), 6);
}
