//! Files of corrections by the ASC CDL: good and bad by name in fixtures/cdl, `inspect`, `convert`, and the step `cdl`.

#![allow(clippy::disallowed_methods, reason = "the formula, by another power than the library's")]

use rushlight::format::cdl::{Kind, Namespace, read, write};
use rushlight_tests::cdl::{DAY, LIST, shots};
use rushlight_tests::scene::{
    NIGHT, Transcript, assert_holds_to, assert_says, files, json, numbers, output, put, refusals, refused, run,
    saltmarsh,
};
use rushlight_tests::schemas::{Schema, assert_valid};
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

fn fixtures() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/cdl")
}

fn fixture(name: &str) -> Vec<u8> {
    fs::read(fixtures().join(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

#[test]
fn good_files_are_read_and_written_back() {
    for (name, namespace, ids) in [
        ("good_v101.ccc", Namespace::V101, &["12A-3", "12A-4"][..]),
        ("good_v12.ccc", Namespace::V12, &["12A-3"]),
        ("good_plain.ccc", Namespace::None, &["12A-3"]),
        ("good_prefix.ccc", Namespace::V12, &["12A-3"]),
        ("good_crlf.ccc", Namespace::V12, &["12A-3"]),
        ("good_one.cc", Namespace::V12, &["12A-3"]),
        ("good_sat_only.cc", Namespace::None, &[]),
        ("good_decisions.cdl", Namespace::V12, &["12A-3", "31-2"]),
        // ASC_SOP, ASC_SAT, ASC_CC_XML of the ASC's schema, version 1.01 (2007), and other cases, in any order.
        ("good_other_names.cdl", Namespace::V101, &["12A-3", "31-2"]),
    ] {
        let file = read(&fixture(name)).unwrap_or_else(|e| panic!("{name}: {e:?}"));
        assert_eq!(file.namespace, namespace, "{name}");
        assert_eq!(file.ids().collect::<Vec<_>>(), ids, "{name}");
        assert_eq!(Some(file.kind), Kind::from_extension(name.rsplit('.').next().unwrap()), "{name}");
        if let Some(first) = file.get("12A-3") {
            let n = first.numbers;
            assert_eq!((n.slope, n.offset), ([1.1, 1.0, 0.9], [0.01, 0.0, -0.02]), "{name}");
            assert_eq!((n.power, n.saturation), ([1.0, 1.0, 1.2], 0.9), "{name}");
        }
        if ids.is_empty() {
            assert_says(&write(&file).unwrap_err()[0].to_string(), &["a correction without an id"]);
            continue;
        }
        let text = write(&file).unwrap_or_else(|e| panic!("{name}: {e:?}"));
        if file.namespace != Namespace::None {
            let text = text.replace("urn:ASC:CDL:v1.2", "urn:ASC:CDL:v1.01");
            assert_valid(Schema::Cdl, [(name, text.as_bytes())]);
        }
        let mut again = read(text.as_bytes()).unwrap_or_else(|e| panic!("{name}: {e:?}"));
        again.corrections.iter_mut().zip(&file.corrections).for_each(|(new, old)| new.line = old.line);
        assert_eq!(again, file, "{name}");
    }
    let decisions = read(&fixture("good_decisions.cdl")).unwrap();
    assert_eq!(decisions.corrections[0].media, ["12A-3.mov", "12A-4.mov"]);
    let one = read(&fixture("good_one.cc")).unwrap();
    assert_eq!(one.corrections[0].remarks.descriptions, ["Lantern & moon \u{2014} warm"]);
    assert_eq!(one.corrections[0].node_descriptions[0], ["timed on set"]);
    let list = read(&fixture("good_v101.ccc")).unwrap();
    assert_eq!(list.remarks.input.as_deref(), Some("ACEScct"));
}

#[test]
fn bad_files_are_refused_by_line() {
    let mut names: Vec<String> = files(&fixtures()).into_keys().filter(|name| name.starts_with("bad")).collect();
    names.sort();
    assert!(names.len() > 30, "{names:?}");
    let mut transcript = Transcript::of("cdl_files_bad");
    for name in names {
        let wrong = read(&fixture(&name)).unwrap_err();
        transcript.add(&name, &wrong.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"));
    }
    transcript.check();
    let several = read(&fixture("bad_several.ccc")).unwrap_err();
    assert_eq!(several.len(), 3, "all that is wrong, once: {several:?}");
}

#[test]
fn any_cut_or_changed_byte_is_read_or_refused() {
    let whole = fixture("good_decisions.cdl");
    for at in 0..whole.len() {
        let _ = read(&whole[..at]);
        let mut changed = whole.clone();
        changed[at] ^= 0x15;
        let _ = read(&changed);
    }
}

fn folder() -> TempDir {
    let dir = TempDir::new().expect("a temporary folder");
    put(dir.path(), "day3.ccc", DAY);
    put(dir.path(), "day3.ale", LIST);
    dir
}

#[test]
fn inspect_lists_corrections() {
    let dir = folder();
    let text = output(dir.path(), "inspect day3.ccc");
    assert_says(
        &text,
        &[
            "collection, urn:ASC:CDL:v1.2, 2 corrections",
            "day 3",
            "12A-3\n    slope 1.1 1 0.9, offset 0.01 0 -0.02, power 1 1 1.2, saturation 0.9\n",
            "does not say in which space",
        ],
    );
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let report = json(dir.path(), "inspect day3.ale --json");
    assert_holds_to(dir.path(), "inspect", &report);
    assert_eq!((&report["schema"], &report["kind"]), (&1.into(), &"ale".into()));
    assert_eq!((&report["rows_without"], &report["corrections"][0]["id"]), (&1.into(), &"31-2".into()));
    assert_eq!(report["corrections"][0]["line"], 8);
    refusals("cdl_files_inspect_lists_corrections", dir.path(), "", &["inspect day3.ccc --strict", "inspect none.ccc"]);
}

/// One absurd correction does not hide the good ones of its file.
#[test]
fn good_corrections_of_a_file_with_a_bad_one_are_taken_by_name() {
    let dir = shots(|text| text);
    let root = dir.path();
    put(root, "cdl/day3.ccc", &DAY.replacen("<Slope>1 1 1<", "<Slope>1 -1 1<", 1));
    let found = |args: &str| {
        let done = run(root, args).output().unwrap();
        (String::from_utf8(done.stdout).unwrap(), done.status.code())
    };
    let (text, code) = found("inspect cdl/day3.ccc");
    assert_eq!(code, Some(1), "{text}");
    assert_says(
        &text,
        &[
            "2 corrections\n  1 of them cannot be used",
            "none: cannot be used\n    line 16: Slope: -1",
            "12A-3\n    slope",
        ],
    );
    let (text, _) = found("inspect cdl/day3.ccc --json");
    let report: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_holds_to(root, "inspect", &report);
    assert_eq!((&report["corrections"][0]["id"], &report["corrections"][1]["id"]), (&"12A-3".into(), &"none".into()));
    assert_says(&report["corrections"][1]["wrong"][0].to_string(), &["line 16: Slope: -1 is out of range"]);

    assert_says(
        &refused(root, "convert cdl/day3.ccc out.ccc"),
        &["cdl/day3.ccc, line 16: Slope: -1 is out", "with --id"],
    );
    assert_says(&refused(root, "convert cdl/day3.ccc out.cc --id none"), &["cdl/day3.ccc, line 16: Slope: -1 is out"]);
    let said = output(root, "convert cdl/day3.ccc out.cc --id 12A-3");
    assert_says(
        &said,
        &["out.cc: 1 correction", "cdl/day3.ccc: not converted: corrections that cannot be used: `none` (line 14)"],
    );

    // The show asks for it by the id of a shot, then no more.
    assert_says(
        &refused(root, "bake show.toml --no-audit"),
        &["shots[1].id: `cdl/day3.ccc`, line 16: Slope: -1 is out"],
    );
    let second = "[[shots]]\nname = \"12A-4\"\nid = \"none\"\nlook = \"night\"\ncamera = \"a\"\n";
    let show = fs::read_to_string(root.join("show.toml")).unwrap();
    assert!(show.contains(second));
    put(root, "show.toml", &show.replace(second, ""));
    let done = run(root, "probe show.toml --shot 12A-3 --display onset 0.4 0.4 0.4").output().unwrap();
    assert!(done.status.success(), "{done:?}");
    assert_says(
        &String::from_utf8_lossy(&done.stderr),
        &["note: `cdl/day3.ccc`: corrections that cannot be used: `none` (line 14)"],
    );
}

/// Nor does one absurd row of a list.
#[test]
fn good_rows_of_a_list_with_a_bad_one_are_taken_by_name() {
    let rows = LIST.to_owned() + "31-5\tB004\t(1 -1 1)(0 0 0)(1 1 1)\t1\n31-6\tB004\t\t0.8\n31-6\tB004\t\t0.7\n";
    let values = "Name,ASC_SAT\n31-2,1.1\n31-5,x\n";
    let dir = shots(|text| {
        text.replace("list = \"cdl/day3.ale\"", "name = \"31-2\"\nfile = \"cdl/day4.ale\"")
            + "\n[[shots]]\nname = \"B\"\nid = \"B004\"\nfile = \"cdl/tape.ale\"\ncolumn = \"Tape\"\nlook = \"plain\"\n"
    });
    let root = dir.path();
    put(root, "cdl/day4.ale", &rows);
    put(root, "cdl/tape.ale", LIST);
    put(root, "day4.csv", values);
    let found = run(root, "inspect cdl/day4.ale").output().unwrap();
    assert_eq!(found.status.code(), Some(1));
    assert_says(
        &String::from_utf8_lossy(&found.stdout),
        &[
            "4 corrections\n  3 of them cannot be used",
            "31-5: cannot be used\n    line 10: 31-5: slope[1]: -1",
            "31-6: cannot be used\n    line 11: 31-6: another row of this shot",
            "line 12: 31-6: another correction than on line 11",
            "31-2\n    slope",
        ],
    );
    for (file, bad, line) in
        [("cdl/day4.ale", "31-5", "line 10: 31-5: slope[1]"), ("day4.csv", "31-5", "line 3: 31-5: ASC_SAT")]
    {
        assert_says(&refused(root, &format!("convert {file} out.ccc")), &[line, "with --id"]);
        assert_says(&refused(root, &format!("convert {file} out.cc --id {bad}")), &[line]);
        let said = output(root, &format!("convert {file} out.cc --id 31-2"));
        assert_says(&said, &["out.cc: 1 correction", "not converted: corrections that cannot be used: `31-5` (line"]);
    }
    // A shot that is asked for by name does not suffer either; the whole list is refused.
    let done = run(root, "probe show.toml --shot 31-2 --camera a --display onset 0.4 0.4 0.4").output().unwrap();
    assert!(done.status.success(), "{done:?}");
    assert_says(
        &String::from_utf8_lossy(&done.stderr),
        &["note: `cdl/day4.ale`: corrections that cannot be used: `31-5` (line 10), `31-6`"],
    );
    let show = fs::read_to_string(root.join("show.toml")).unwrap();
    put(root, "show.toml", &show.replace("name = \"31-2\"\nfile = ", "list = "));
    assert_says(
        &refused(root, "bake show.toml --no-audit"),
        &["shots[2].list: `cdl/day4.ale`, line 10: 31-5: slope[1]", "by `name` and `file`"],
    );
}

/// The schema requires an id: a correction without one gets the name of its file.
#[test]
fn a_correction_without_an_id_is_named_after_its_file() {
    let dir = folder();
    put(dir.path(), "nameless.cc", "<ColorCorrection><SatNode><Saturation>1</Saturation></SatNode></ColorCorrection>");
    let said = output(dir.path(), "convert nameless.cc lamp.cc");
    assert_says(&said, &["a correction without an id (line 1): its id is `lamp` now"]);
    let read = read(&fs::read(dir.path().join("lamp.cc")).unwrap()).unwrap();
    assert_eq!(read.ids().collect::<Vec<_>>(), ["lamp"]);
}

#[test]
fn convert_goes_between_all_kinds() {
    let dir = folder();
    let root = dir.path();
    output(root, "convert day3.ccc day3.cdl");
    output(root, "convert day3.cdl again.ccc");
    assert_eq!(fs::read_to_string(root.join("again.ccc")).unwrap(), DAY);
    assert_says(&output(root, "convert day3.ale list.ccc"), &["list.ccc: 1 correction", "day3.ale: rows without"]);
    assert_says(&output(root, "convert day3.ale list.ccc"), &["day3.ale: only names and corrections are converted"]);
    assert_says(&output(root, "convert day3.ccc list.ccc all.csv"), &["descriptions are not converted"]);
    let text = fs::read_to_string(root.join("all.csv")).unwrap();
    assert!(text.contains("\n12A-3,(1.1 1 0.9)(0.01 0 -0.02)(1 1 1.2),0.9\n"), "{text}");
    output(root, "convert all.csv all.ccc");
    let all = read(&fs::read(root.join("all.ccc")).unwrap()).unwrap();
    assert_eq!(all.ids().collect::<Vec<_>>(), ["12A-3", "none", "31-2"]);
    output(root, "convert day3.ccc one.cc --id 12A-3");
    let one = read(&fs::read(root.join("one.cc")).unwrap()).unwrap();
    assert_eq!((one.kind, one.corrections[0].id.as_deref()), (Kind::Correction, Some("12A-3")));
    assert_eq!(one.corrections[0].remarks.descriptions, ["day 3"]);
    output(root, "convert all.ccc each/");
    assert_eq!(files(&root.join("each")).into_keys().collect::<Vec<_>>(), ["12A-3.cc", "31-2.cc", "none.cc"]);
}

/// The formula of the ASC CDL v1.2, written out here, within the ASC_CDL node of a CLF.
#[test]
fn a_correction_becomes_a_clf() {
    let dir = folder();
    for (options, clamp) in [("", false), ("--clamp", true)] {
        output(dir.path(), &format!("convert day3.ccc --id 12A-3 one.clf {options}"));
        for rgb in [[0.2, 0.4, 0.6], [0.95, 1.0, 1.1], [-0.1, 0.0, 0.01]] {
            let [r, g, b] = rgb;
            let got = numbers(&json(dir.path(), &format!("probe one.clf --json {r} {g} {b}"))["colours"][0]["out"]);
            let limit = |v: f64| if clamp { v.clamp(0.0, 1.0) } else { v };
            let sop: Vec<f64> = (0..3)
                .map(|c| {
                    let v = limit(rgb[c] * [1.1, 1.0, 0.9][c] + [0.01, 0.0, -0.02][c]);
                    if v > 0.0 { v.powf([1.0, 1.0, 1.2][c]) } else { v }
                })
                .collect();
            let luma = 0.2126 * sop[0] + 0.7152 * sop[1] + 0.0722 * sop[2];
            for c in 0..3 {
                let want = limit(luma + 0.9 * (sop[c] - luma));
                assert!((got[c] - want).abs() < 1e-9, "{rgb:?} {options}: {got:?}, {want} in {c}");
            }
        }
    }
}

#[test]
fn convert_refuses_what_no_file_can_hold_and_writes_nothing() {
    let dir = folder();
    put(dir.path(), "twice.ccc", DAY);
    put(dir.path(), "nameless.cc", "<ColorCorrection><SatNode><Saturation>1</Saturation></SatNode></ColorCorrection>");
    refusals(
        "cdl_files_convert_refuses_what_no_file_can_hold_and_writes_nothing",
        dir.path(),
        "convert",
        &[
            "day3.ccc out.cc",
            "day3.ccc out.clf",
            "day3.ccc twice.ccc out.ccc",
            "day3.ccc out.ccc --id 12A-4",
            "nameless.cc out.csv",
            "day3.ccc out.cube",
            "day3.ccc out.ale",
            "day3.ccc out.ccc --points 9",
            "day3.ccc out.ccc --clamp",
            "day3.ale out.ccc --column Clip",
        ],
    );
    let names: Vec<String> = files(dir.path()).into_keys().collect();
    assert_eq!(names, ["day3.ale", "day3.ccc", "nameless.cc", "twice.ccc"]);
}

#[test]
fn a_look_takes_a_correction_from_a_file() {
    let dir = saltmarsh();
    put(dir.path(), "cdl/day3.ccc", DAY);
    let step = |words: &str| NIGHT.replacen("[[step]]", &format!("[[step]]\ndo = \"cdl\"\n{words}\n[[step]]"), 1);
    let out = |words: &str| {
        put(dir.path(), "looks/night.toml", &step(words));
        let report = json(dir.path(), "probe show.toml --look night --camera a --display onset --json 0.5 0.4 0.3");
        numbers(&report["colours"][0]["out"])
    };
    let numbers = "slope = [1.1, 1, 0.9]\noffset = [0.01, 0, -0.02]\npower = [1, 1, 1.2]\nsaturation = 0.9";
    let of_file = "file = \"../cdl/day3.ccc\"\nid = \"12A-3\"";
    assert_eq!(out(numbers), out(of_file));
    let manifest = json(dir.path(), "bake show.toml --look night --camera a --display onset --json --no-audit");
    assert_says(&manifest["sources"].to_string(), &["cdl/day3.ccc"]);
    for (words, part) in [
        ("file = \"../cdl/day3.ccc\"", "step[0].id: `cdl/day3.ccc` holds 2 corrections: name one of 12A-3, none"),
        ("file = \"../cdl/day3.ccc\"\nid = \"12A\"", "looks/night.toml:9:6: step[0].id: unknown correction `12A`"),
        ("file = \"../cdl/day4.ccc\"", "step[0].file: cannot read `cdl/day4.ccc`: no such file"),
        ("id = \"12A-3\"", "step[0].id: names a correction of a `file`, which is missing"),
        ("file = \"../cdl/day3.ccc\"\nslope = [1, 1, 1]", "step[0].file: holds the numbers"),
        ("file = \"night.toml\"", "step[0].file: `looks/night.toml`, line 1: "),
    ] {
        put(dir.path(), "looks/night.toml", &step(words));
        assert_says(&refused(dir.path(), "bake show.toml"), &[part]);
    }
}
