//! Documents that are wrong, and documents that mean harm: every problem in one go, each with file, line, column and key,
//! and never a panic. The files of fixtures/bad stand beside the errors for each (`.expected`); after a change of words,
//!
//!     RUSHLIGHT_BLESS=1 cargo test --workspace --test sources documents::
//!
//! writes those anew, to be read before they are committed.

use proptest::prelude::*;
use rushlight::curve_file;
use rushlight::document::Problems;
use rushlight::files::{FileError, Files};
use rushlight::look::{self};
use rushlight::show::{self, Show};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

const BAD: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/bad");

const SHOW: &str = r#"
schema = 1
title = "Saltmarsh"
[cameras.a]
label = "A camera"
curve = "slog3"
gamut = "sgamut3-cine"
range = "full"
[[cameras.a.rating]]
ei = 800
clip = 0.94
floor_stops = -7.5
[cameras.b]
curve = "curve.toml"
gamut = { red = [0.7, 0.3], green = [0.2, 0.75], blue = [0.13, 0.04], white = [0.3127, 0.329] }
adaptation = "cat02"
[displays.onset]
standard = "bt709"
black = 0.02
[displays.own]
gamut = "p3-d65"
eotf = "gamma26"
peak = 48
white = "keep"
keep_white = [0.32, 0.34]
mapping = "clip"
[looks]
night = "look.toml"
[[bake]]
looks = ["night"]
points = 17
"#;

const LOOK: &str = r#"
schema = 1
generation = 2
title = "Night"
revision = 4
[[step]]
do = "exposure"
stops = -1.0
[[step]]
do = "balance"
from = { kelvin = 3200, tint = 2.5 }
to = { xy = [0.3127, 0.329] }
adaptation = "cat16"
[[step]]
do = "cdl"
slope = [1.1, 1, 0.9]
offset = [0.01, 0, -0.01]
power = [1, 1, 1.2]
saturation = 0.9
clamp = true
[[step]]
do = "printer"
points = [1, 0, -1]
[[step]]
do = "saturation"
amount = 0.9
[[step]]
do = "contrast"
amount = 1.1
pivot = 0.5
[[step]]
do = "tint"
shadows = [-0.06, 0.10, -0.02]
highlights = [0.08, 0.02, -0.10]
keep_grey = true
[[step]]
do = "compress"
limits = [1.2, 1.3, 1.4]
[[step]]
do = "cube"
file = "own.cube"
expects = { curve = "logc3", ei = 800, gamut = "awg3" }
gives = { curve = "slog3", gamut = "sgamut3" }
strength = 0.5
[[step]]
do = "print"
grey = 0.11
lights = [25, 26, 24]
"#;

const CURVE: &str = r#"
schema = 1
title = "Invented log"
source = "invented for a test"
[log]
log_base = 2
log_slope = 0.065
light_gain = 1.0
light_offset = 0.01
signal_offset = 0.65
break_light = 0.004
[log.linear_toe]
slope = 6.7
"#;

const CUBE: &str = "LUT_3D_SIZE 2\n0 0 0\n1 0 0\n0 1 0\n1 1 0\n0 0 1\n1 0 1\n0 1 1\n1 1 1\n";

/// Files of a folder.
struct Folder(PathBuf);

impl Files for Folder {
    fn read(&self, name: &str) -> Result<Vec<u8>, FileError> {
        Ok(fs::read(self.0.join(name))?)
    }
}

fn files(look: &str, curve: &str, cube: &str) -> BTreeMap<String, Vec<u8>> {
    [("look.toml", look), ("curve.toml", curve), ("own.cube", cube)]
        .map(|(name, text)| (name.to_owned(), text.as_bytes().to_vec()))
        .into()
}

fn lines(problems: &[Problems]) -> String {
    problems.iter().map(|p| format!("{p}\n")).collect()
}

/// The errors of a document, which is of the kind that its file name starts with.
fn said(name: &str, text: &str, files: &dyn Files) -> String {
    match name.split('-').next().unwrap() {
        "show" => Show::parse(name, text, files).err().map(|p| lines(&p)),
        "look" => look::parse(name, text, files).err().map(|p| lines(&[p])),
        "curve" => curve_file::parse(name, text).err().map(|p| lines(&[p])),
        other => panic!("{other}: neither show, look nor curve"),
    }
    .unwrap_or_default()
}

#[test]
fn every_bad_file_is_told_what_is_wrong() {
    let folder = Folder(BAD.into());
    let mut names: Vec<PathBuf> = fs::read_dir(BAD).unwrap().map(|entry| entry.unwrap().path()).collect();
    names.retain(|path| path.extension().is_some_and(|e| e == "toml"));
    names.sort();
    assert!(names.len() > 15);
    for path in names {
        let name = path.file_name().unwrap().to_str().unwrap();
        // What is no text is refused by whoever reads it, here the show that names it.
        let Ok(text) = fs::read_to_string(&path) else { continue };
        let found = said(name, &text, &folder);
        let expected = path.with_extension("expected");
        if std::env::var("RUSHLIGHT_BLESS").is_ok_and(|v| v == "1") {
            fs::write(&expected, &found).unwrap();
        }
        let expected = fs::read_to_string(&expected).expect("what is said is committed").replace("\r\n", "\n");
        assert_eq!(found, expected, "{name}");
        for line in found.lines() {
            let mut parts = line.splitn(4, ':');
            assert!(Path::new(BAD).join(parts.next().unwrap()).exists(), "no file at the start of {line}");
            for what in ["line", "column"] {
                assert!(parts.next().unwrap().parse::<usize>().is_ok_and(|n| n > 0), "no {what} in {line}");
            }
        }
    }
}

#[test]
fn the_sound_documents_are_sound() {
    let files = files(LOOK, CURVE, CUBE);
    assert_eq!(said("show-.toml", SHOW, &files), "");
    assert_eq!(said("show-.toml", &SHOW.replace('\n', "\r\n"), &files), "");
    // A step of every kind but the other rendering.
    for name in rushlight::step::KINDS.iter().map(|kind| kind.name).filter(|name| *name != "tone") {
        assert!(LOOK.contains(&format!("do = \"{name}\"")), "{name}");
    }
}

#[test]
fn documents_that_mean_harm_are_refused() {
    let none = BTreeMap::new();
    let deep = 100_000;
    for text in [
        format!("a = {}{}", "[".repeat(deep), "]".repeat(deep)),
        format!("a = {}{}", "{ a = ".repeat(deep), "}".repeat(deep)),
        "a.".repeat(deep) + "a = 1",
        format!("[{}a]", "a.".repeat(deep)),
        format!("schema = 1\ntitle = 't'\nstep = [{}]", "[0], ".repeat(20_000)),
        format!("schema = 1\ntitle = 't'\n{}", "[[step]]\ndo = 'prnt'\n".repeat(20_000)),
        format!(
            "schema = 1\ngeneration = 2\ntitle = 't'\n[[step]]\ndo = 'print'\nlights = [{}]",
            "1, ".repeat(500_000)
        ),
        (0..5_000).fold("schema = 1\n".to_owned(), |text, i| text + &format!("key{i} = {i}\n")),
        format!("schema = 1\ntitle = '{}'\n\"{}\" = 1\n", "t".repeat(1 << 20), "k".repeat(1 << 20)),
        "\0".to_owned(),
        "\u{feff}schema = 1".to_owned(),
        "schema = 99999999999999999999999".to_owned(),
        "schema = 1\ntitle = 't'\n[[cameras]]\n[[displays]]\n[[looks]]\n".to_owned(),
        "\"\" = 1\n\"a.b\" = 2\n\"a[0]\" = 3\n\"é\" = 4".to_owned(),
        "schema = 1\ntitle = 't'\n[cameras.\"\"]\n[cameras.\"a.b\"]\n[cameras.\"a[0]\"]\n[displays.\"..\"]\n"
            .to_owned(),
    ] {
        for name in ["show.toml", "look.toml", "curve.toml"] {
            let start = std::time::Instant::now();
            let found = said(name.replace('.', "-.").as_str(), &text, &none);
            assert!(!found.is_empty(), "{name} took {:.60}", text);
            assert!(found.lines().count() < 400, "{name}: {} lines of {:.60}", found.lines().count(), text);
            assert!(start.elapsed().as_secs() < 20, "{name}: {:?} for {:.60}", start.elapsed(), text);
        }
    }
}

/// A change to a document: one line dropped, doubled, moved or replaced, or some bytes.
#[derive(Debug, Clone)]
enum Change {
    Drop(prop::sample::Index),
    Double(prop::sample::Index),
    Swap(prop::sample::Index, prop::sample::Index),
    Replace(prop::sample::Index, prop::sample::Index),
    Value(prop::sample::Index, &'static str),
    Bytes(prop::sample::Index, String),
}

fn changes() -> impl Strategy<Value = Vec<Change>> {
    let index = any::<prop::sample::Index>;
    let value = prop::sample::select(vec![
        "nan",
        "-inf",
        "1e999",
        "-1",
        "0",
        "''",
        "'é'",
        "[]",
        "[1]",
        "[nan, 1, 1]",
        "[[0, 0]]",
        "{}",
        "{ a = 1 }",
        "true",
        "1979-05-27",
        "0x7fffffffffffffff",
        "1e-320",
        "1e308",
        "'../../x'",
        "'/'",
        "'own.cube'",
        "'curve.toml'",
        "'pq'",
        "[1e-320, 1e-320]",
        "[0.04, 0.95]",
    ]);
    let change = prop_oneof![
        index().prop_map(Change::Drop),
        index().prop_map(Change::Double),
        (index(), index()).prop_map(|(a, b)| Change::Swap(a, b)),
        (index(), index()).prop_map(|(a, b)| Change::Replace(a, b)),
        (index(), value).prop_map(|(at, value)| Change::Value(at, value)),
        (index(), ".{0,6}").prop_map(|(at, text)| Change::Bytes(at, text)),
    ];
    prop::collection::vec(change, 1..5)
}

fn changed(text: &str, changes: &[Change]) -> String {
    let mut text = text.to_owned();
    for change in changes {
        let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
        if lines.is_empty() {
            break;
        }
        let count = lines.len();
        match change {
            Change::Drop(at) => drop(lines.remove(at.index(count))),
            Change::Double(at) => lines.insert(at.index(count), lines[at.index(count)].clone()),
            Change::Swap(a, b) => lines.swap(a.index(count), b.index(count)),
            Change::Replace(a, b) => lines[a.index(count)] = lines[b.index(count)].clone(),
            Change::Value(at, value) => {
                let line = &mut lines[at.index(count)];
                if let Some((key, _)) = line.split_once(" = ") {
                    *line = format!("{key} = {value}");
                }
            }
            Change::Bytes(at, some) => {
                let line = &mut lines[at.index(count)];
                let place = (0..=line.len() / 2).rev().find(|i| line.is_char_boundary(*i)).unwrap();
                line.insert_str(place, some);
            }
        }
        text = lines.join("\n");
    }
    text
}

/// Numbers within their bounds that send light beyond all numbers: signals of any size, a CDL at its ends.
#[test]
fn light_beyond_all_numbers_is_no_nan() {
    let cdl = "[[step]]\ndo = 'cdl'\nslope = [16, 16, 16]\noffset = [4, 4, 4]\npower = [16, 16, 16]\nsaturation = 16\n";
    let look = |steps: &str| format!("schema = 1\ngeneration = 2\ntitle = 'far'\n{steps}[[step]]\ndo = 'print'\n");
    let curve = |gain: &str| {
        format!(
            "schema = 1\ntitle = 'Invented log'\nsource = 'invented for a test'\n[log]\nlog_base = 2\nlog_slope = 0.065\n\
             light_gain = {gain}\nlight_offset = 0.01\nsignal_offset = 0.65\nbreak_light = 0.004\n"
        )
    };
    let show = "schema = 1\ntitle = 'far'\n[cameras.a]\ncurve = 'curve.toml'\ngamut = 'sgamut3-cine'\n\
        [displays.onset]\nstandard = 'bt709'\n[displays.hdr]\nstandard = 'bt2100-hlg'\n[looks]\nfar = 'look.toml'\n";
    let refused = Show::parse("show.toml", show, &files(&look(""), &curve("1e-320"), CUBE)).unwrap_err();
    assert!(refused[0].to_string().contains("log: it rises by 0"), "{refused:?}");
    for (steps, gain) in [("", "1.0"), (cdl, "1.0"), (cdl, "1e-2")] {
        let files = files(&look(steps), &curve(gain), CUBE);
        let show = Show::parse("show.toml", show, &files).unwrap();
        for display in ["onset", "hdr"] {
            let pipeline = show.pipeline("far", "a", display).unwrap();
            for signal in [[0.0, 0.65, 0.0], [0.9, 0.3, 0.5], [-0.5, 1.5, 1.0], [1e300, -1e300, 0.0]] {
                let out = pipeline.apply(signal);
                assert!(out.iter().all(|v| v.is_finite()), "{gain} {display} {signal:?}: {out:?}");
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_change_to_a_document_makes_it_panic(
        which in 0..4usize, changes in changes(), light in prop::array::uniform3(-0.5..1.5f64)
    ) {
        let mut texts = [SHOW, LOOK, CURVE, CUBE].map(str::to_owned);
        texts[which] = changed(&texts[which], &changes);
        let files = files(&texts[1], &texts[2], &texts[3]);
        match Show::parse("show.toml", &texts[0], &files) {
            Ok(show) => {
                let job = show.jobs()[which % show.jobs().len()];
                let out = job.pipeline().unwrap().apply(light);
                prop_assert!(out.iter().all(|v| v.is_finite()), "{light:?} {out:?} by\n{}", texts[which]);
            }
            Err(problems) => {
                prop_assert!(!problems.is_empty());
                for p in problems.iter() {
                    prop_assert!(!p.list.is_empty());
                    for one in &p.list {
                        prop_assert!(one.line >= 1 && one.column >= 1 && p.text.get(one.span.clone()).is_some());
                        prop_assert!(!one.message.is_empty());
                    }
                }
            }
        }
    }

    #[test]
    fn no_text_makes_the_readers_panic(text in "(?s).{0,200}") {
        let none = BTreeMap::new();
        for name in ["show-", "look-", "curve-"] {
            prop_assert!(!said(name, &text, &none).is_empty());
        }
    }
}

fn as_json(text: &str) -> Value {
    serde_json::to_value(toml::from_str::<toml::Table>(text).unwrap()).unwrap()
}

/// What to put in place of what.
type Edits = &'static [(&'static str, &'static str)];

#[test]
fn schemas_take_what_is_right_and_refuse_what_is_wrong() {
    let cases: [(Value, &str, Edits); 3] = [
        (
            show::schema(),
            SHOW,
            &[
                ("schema = 1", "schema = 2"),
                ("title = \"Saltmarsh\"", "title = \"\""),
                ("title = \"Saltmarsh\"", "titel = \"Saltmarsh\""),
                ("curve = \"slog3\"", "curve = \"slog4\""),
                ("gamut = \"sgamut3-cine\"", "gamut = \"sgamut4\""),
                ("gamut = \"sgamut3-cine\"", "gamma = \"sgamut3-cine\""),
                ("range = \"full\"", "range = \"video\""),
                ("clip = 0.94", "clip = 1.2"),
                ("ei = 800", ""),
                ("floor_stops = -7.5", "floor = -7.5"),
                ("blue = [0.13, 0.04]", "blue = [0.13]"),
                ("white = [0.3127, 0.329]", "weiss = [0.3127, 0.329]"),
                ("standard = \"bt709\"", "standard = \"bt710\""),
                ("eotf = \"gamma26\"", "eotf = \"gamma28\""),
                ("peak = 48", "peak = 0"),
                ("white = \"keep\"", "white = \"kept\""),
                ("points = 17", "points = 1"),
                ("[cameras.a]", "[cameras.\"A camera\"]"),
            ],
        ),
        (
            look::schema(),
            LOOK,
            &[
                ("schema = 1", "schema = 2"),
                ("generation = 2", ""),
                ("generation = 2", "generation = 1"),
                ("revision = 4", "revision = 0"),
                ("revision = 4", "revison = 4"),
                ("do = \"exposure\"", "do = \"exposition\""),
                ("do = \"exposure\"", ""),
                ("stops = -1.0", "stops = -21"),
                ("stops = -1.0", "stop = -1.0"),
                ("kelvin = 3200", "kelvin = 100"),
                ("tint = 2.5", "tnt = 2.5"),
                ("adaptation = \"cat16\"", "adaptation = \"cat61\""),
                ("slope = [1.1, 1, 0.9]", "slope = [1.1, 1]"),
                ("slope = [1.1, 1, 0.9]", "slope = [1.1, 1, -1]"),
                ("clamp = true", "clamp = 1"),
                ("points = [1, 0, -1]", ""),
                ("limits = [1.2, 1.3, 1.4]", "limits = [1.2, 1.3, 1.0]"),
                ("file = \"own.cube\"", ""),
                ("gives = { curve = \"slog3\"", "gives = { curv = \"slog3\""),
                ("strength = 0.5", "strength = 1.5"),
                ("lights = [25, 26, 24]", "lights = 25"),
                ("grey = 0.11", "variant = \"none\""),
            ],
        ),
        (
            curve_file::schema(),
            CURVE,
            &[
                ("schema = 1", "schema = 2"),
                ("source = \"invented for a test\"", ""),
                ("log_base = 2", "log_base = 3"),
                ("log_slope = 0.065", "log_slop = 0.065"),
                ("log_slope = 0.065", "log_slope = \"steep\""),
                ("slope = 6.7", "slop = 6.7"),
                ("[log.linear_toe]", "[table]\npoints = [[0, 0.5], [1, 0.6]]\n[log.linear_toe]"),
            ],
        ),
    ];
    for (schema, right, wrong) in cases {
        let title = schema["title"].clone();
        assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
        let validator = jsonschema::validator_for(&schema).unwrap();
        let found: Vec<String> =
            validator.iter_errors(&as_json(right)).map(|e| format!("{}: {e}", e.instance_path())).collect();
        assert!(found.is_empty(), "{title}: {found:?}");
        for (from, to) in wrong {
            assert!(right.contains(from), "{from}");
            let text = right.replacen(from, to, 1);
            assert!(!validator.is_valid(&as_json(&text)), "{title} takes `{to}` for `{from}`");
        }
    }
    let tone = json!({ "schema": 1, "generation": 2, "title": "t", "step": [{ "do": "tone", "grey": 0.1 }] });
    assert!(jsonschema::is_valid(&look::schema(), &tone));
    assert!(!jsonschema::is_valid(&look::schema(), &json!({ "schema": 1, "generation": 2, "title": "t", "step": [] })));
}

/// Every table of a schema refuses unknown keys, and every key says what it is; every number of a step has bounds.
#[test]
fn schemas_are_closed_and_explained() {
    fn visit(schema: &Value, at: &str, seen: &mut usize) {
        if let Some(properties) = schema.get("properties").and_then(Value::as_object) {
            *seen += 1;
            let closed = schema.get("additionalProperties") == Some(&json!(false));
            assert!(closed || schema.get("unevaluatedProperties") == Some(&json!(false)), "{at} is open");
            for (key, property) in properties {
                let here = format!("{at}.{key}");
                if key != "do" {
                    let explained = property.get("description").or_else(|| property.get("$ref"));
                    assert!(explained.is_some(), "{here} is not explained: {property}");
                }
            }
        }
        match schema {
            Value::Object(map) => map.iter().for_each(|(k, v)| visit(v, &format!("{at}.{k}"), seen)),
            Value::Array(list) => list.iter().enumerate().for_each(|(i, v)| visit(v, &format!("{at}[{i}]"), seen)),
            _ => {}
        }
    }
    for (name, schema, tables) in
        [("show", show::schema(), 6), ("look", look::schema(), 14), ("curve", curve_file::schema(), 6)]
    {
        let mut seen = 0;
        visit(&schema, name, &mut seen);
        assert!(seen >= tables, "{name}: {seen} tables");
    }
    let look = look::schema().to_string();
    for (name, help) in rushlight::step::KINDS.iter().map(|kind| (kind.name, kind.help)) {
        assert!(look.contains(&format!("\"const\":\"{name}\"")), "{name}");
        assert!(look.contains(help), "{help}");
    }
}
