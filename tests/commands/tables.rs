//! `inspect` and `convert`, with good, odd, wrong and missing files.

use rushlight::cube::Table;
use rushlight::format::clf;
use rushlight::format::cube::{CubeFile, Strictness, read};
use rushlight_tests::scene::{assert_holds_to, assert_says, files, json, numbers, output, put, refusals, refused, run};
use serde_json::Value;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

const CURVES: &str = "TITLE \"Bend\"\nLUT_1D_SIZE 3\n0 0 0\n0.25 0.5 0.75\n1 1 1\n";

/// A cube of `size` points that bends red, leaves green and turns blue over, with `head` in front.
fn cube(size: usize, head: &str) -> String {
    let at = |i: usize| i as f64 / (size - 1) as f64;
    let mut text = format!("{head}LUT_3D_SIZE {size}\n");
    for i in 0..size * size * size {
        let [r, g, b] = [at(i % size), at(i / size % size), at(i / size / size)];
        text += &format!("{:.9} {:.9} {:.9}\n", r * r, g, 1.0 - b);
    }
    text
}

/// A folder with tables of every kind.
fn tables() -> TempDir {
    let dir = TempDir::new().expect("a temporary folder");
    put(dir.path(), "day.cube", &cube(4, "TITLE \"Day\"\n"));
    put(dir.path(), "wide.cube", &cube(3, "DOMAIN_MIN -1 -1 -1\nDOMAIN_MAX 2 2 2\n"));
    put(dir.path(), "curves.cube", CURVES);
    let shaped = "LUT_1D_SIZE 3\nLUT_3D_SIZE 2\n0 0 0\n.25 .25 .25\n1 1 1\n".to_owned()
        + cube(2, "").split_once('\n').expect("a line").1;
    put(dir.path(), "shaped.cube", &shaped);
    dir
}

fn cube_file(path: &Path) -> CubeFile {
    read(&fs::read(path).expect("it is there"), Strictness::Strict).expect("by the specification")
}

/// What a reader of the file gets.
fn probed(dir: &Path, file: &str, rgb: [f64; 3]) -> Vec<f64> {
    let [r, g, b] = rgb;
    numbers(&json(dir, &format!("probe {file} {r} {g} {b} --json"))["colours"][0]["out"])
}

fn assert_close(got: &[f64], want: [f64; 3], close: f64) {
    assert!((0..3).all(|c| (got[c] - want[c]).abs() <= close), "{got:?} for {want:?}");
}

#[test]
fn inspect_says_what_a_cube_is_like() {
    let dir = tables();
    let text = output(dir.path(), "inspect day.cube --strict");
    assert_says(&text, &["day.cube", "Day", "3d, 4 points", "blue at 48 steps", "conforms       yes"]);
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    assert_says(&text, &["verdict        look at it: a grey gets darker by up to", "a channel falls by up to"]);
    assert_says(&text, &["monotone       greys: falls: "]);
    // Rows of one curve for all channels.
    let curve = |of: fn(f64) -> f64| {
        let rows: String = (0..=16).map(|i| format!("{0:.6} {0:.6} {0:.6}\n", of(f64::from(i) / 16.0))).collect();
        put(dir.path(), "curve.cube", &format!("LUT_1D_SIZE 17\n{rows}"));
        output(dir.path(), "inspect curve.cube")
    };
    assert_says(&curve(|x| x), &["verdict        sound"]);
    assert_says(&curve(|x| (2.0 * x).min(1.0)), &["verdict        look at it: 53 % of the values are clipped at 1"]);
    assert_says(&curve(|x| f64::from(x > 0.5)), &["neighbours jump by up to 1.0000"]);
    assert_says(&curve(|_| 0.5), &["greys are flat"]);
    let report = json(dir.path(), "inspect day.cube --json");
    assert_holds_to(dir.path(), "inspect", &report);
    assert_eq!(report["concerns"].as_array().map(Vec::len), Some(2));
    assert_eq!((&report["schema"], &report["kind"], &report["size"]), (&1.into(), &"3d".into(), &4.into()));
    assert_eq!((&report["title"], &report["conforms"]), (&"Day".into(), &true.into()));
    assert_eq!(report["figures"]["monotone"][2]["falls"], 48);
    assert_eq!(report["figures"]["monotone"][0]["holds"], true);
    let report = json(dir.path(), "inspect wide.cube --json");
    assert_eq!(report["domain"], serde_json::json!([[-1.0, -1.0, -1.0], [2.0, 2.0, 2.0]]));
    let kind = |file: &str| json(dir.path(), &format!("inspect {file} --json"))["kind"].clone();
    assert_eq!((kind("curves.cube"), kind("shaped.cube")), ("1d".into(), "1d+3d".into()));
}

#[test]
fn strict_inspection_names_each_departure_and_exits_with_1() {
    let dir = tables();
    put(dir.path(), "odd.cube", &cube(2, "title \"t\"\n\n").replace("1.000000000 0.", "1.000000000\t0."));
    output(dir.path(), "inspect odd.cube");
    let strict = run(dir.path(), "inspect odd.cube --strict").output().expect("it starts");
    assert_eq!(strict.status.code(), Some(1));
    let text = String::from_utf8(strict.stdout).expect("UTF-8");
    assert_says(
        &text,
        &["line 1: `title`: keywords are in upper case", "[rule", "keyword]", "line 2:", "[rule blank-line]", "a tab"],
    );
    let strict = run(dir.path(), "inspect odd.cube --strict --json").output().expect("it starts");
    assert_eq!(strict.status.code(), Some(1));
    let report: Value = serde_json::from_slice(&strict.stdout).expect("JSON");
    assert_holds_to(dir.path(), "inspect", &report);
    let told = report["departures"].as_array().expect("a list");
    let rules: Vec<&str> = told.iter().map(|d| d["rule"].as_str().expect("a name")).collect();
    assert_eq!(rules, ["keyword", "blank-line", "spaces"]);
    assert_eq!((&told[2]["line"], &report["conforms"]), (&5.into(), &false.into()));
    // Windows line ends are none.
    put(dir.path(), "crlf.cube", &cube(2, "").replace('\n', "\r\n"));
    output(dir.path(), "inspect crlf.cube --strict");
}

#[test]
fn clf_is_inspected_by_its_letter_too() {
    let dir = tables();
    output(dir.path(), "convert curves.cube wide.cube out.clf");
    assert_says(&output(dir.path(), "inspect out.clf --strict"), &["clf, 3 points", "conforms       yes"]);
    let odd = fs::read_to_string(dir.path().join("out.clf")).unwrap().replace("dim=\"3 4\"", "dim=\"3 4 3\"");
    put(dir.path(), "odd.clf", &odd.replace("<LUT3D ", "<LUT3D shape=\"round\" "));
    output(dir.path(), "inspect odd.clf");
    let strict = run(dir.path(), "inspect odd.clf --strict").output().expect("it starts");
    assert_eq!(strict.status.code(), Some(1));
    let text = String::from_utf8(strict.stdout).expect("UTF-8");
    assert_says(&text, &["dim `3 4 3`", "[rule dim]", "LUT3D: unknown attribute `shape`", "attribute]"]);
    put(dir.path(), "bad.clf", &odd.replace("32f", "9f"));
    assert_says(&refused(dir.path(), "inspect bad.clf"), &["bad.clf, line ", "inBitDepth `9f`"]);
}

#[test]
fn inspect_refuses_what_it_cannot_read() {
    let dir = tables();
    put(dir.path(), "short.cube", "LUT_3D_SIZE 2\n0 0 0\n");
    put(dir.path(), "picture.png", "no picture");
    put(dir.path(), "notes.txt", "LUT_3D_SIZE 2\n");
    refusals(
        "tables_inspect_refuses_what_it_cannot_read",
        dir.path(),
        "",
        &[
            "inspect none.cube",
            "inspect short.cube",
            "inspect short.cube --strict --json",
            "inspect picture.png",
            "inspect notes.txt",
            "inspect .",
            "inspect",
            "inspect day.cube --plot curves.gif",
            "inspect short.cube --plot curves.png",
        ],
    );
    assert_eq!(files(dir.path()).len(), 7, "nothing is written");
}

#[test]
fn inspect_draws_every_kind_of_table() {
    let dir = tables();
    output(dir.path(), "convert day.cube out.clf");
    // A panel for the greys and one for each channel; curves alone are one, curves in front one more.
    for (file, panels) in [("day.cube", 4), ("wide.cube", 4), ("curves.cube", 1), ("shaped.cube", 5), ("out.clf", 4)] {
        let said = output(dir.path(), &format!("inspect {file} --plot plots/{file}.svg"));
        assert_says(&said, &[file, "identity"]);
        let svg = fs::read_to_string(dir.path().join(format!("plots/{file}.svg"))).expect("a drawing");
        assert_eq!(svg.matches("<polyline").count(), 3 * panels, "{file}");
        assert!(svg.contains(file) && svg.ends_with("</svg>\n"), "{file}");
    }
    for (end, start) in [("png", &b"\x89PNG"[..]), ("pdf", b"%PDF-"), ("html", b"<!DOCTYPE html>"), ("svg", b"<svg ")] {
        output(dir.path(), &format!("inspect day.cube --plot again.{end} --json"));
        let bytes = fs::read(dir.path().join(format!("again.{end}"))).expect("a drawing");
        assert!(bytes.starts_with(start) && bytes.len() > 2000, "{end}");
    }
    let plots = files(&dir.path().join("plots"));
    assert_eq!(fs::read(dir.path().join("again.svg")).unwrap(), plots["day.cube.svg"], "the same each time");
    assert!(!files(dir.path()).keys().any(|name| name.starts_with(".rushlight")), "no temporary file is left");
}

#[test]
fn convert_keeps_nodes_where_it_can() {
    let dir = tables();
    for (args, said) in [
        ("convert day.cube same.cube", "nodes as they were"),
        ("convert day.cube day.clf", "nodes as they were"),
        ("convert day.clf again.clf", "as it was"),
        ("convert day.cube day.png", "nodes as they were"),
        ("convert day.png back.cube", "nodes as they were"),
        ("convert day.clf of-clf.cube", "nodes as they were"),
        ("convert wide.cube wide-same.cube", "nodes as they were"),
        ("convert wide.cube wide.clf", "nodes as they were"),
        ("convert wide.clf wide-again.cube", "nodes as they were"),
        ("convert curves.cube curves.clf", "nodes as they were"),
        ("convert shaped.cube shaped.clf", "nodes as they were"),
    ] {
        assert_says(&output(dir.path(), args), &[said]);
    }
    let day = cube_file(&dir.path().join("day.cube"));
    let same = cube_file(&dir.path().join("same.cube"));
    for (one, other) in [("same.cube", "of-clf.cube"), ("wide-same.cube", "wide-again.cube")] {
        let [one, other] = [one, other].map(|name| cube_file(&dir.path().join(name)).table);
        assert_eq!(one, other);
    }
    assert_eq!((same.title.as_str(), same.table.size()), ("Day", 4));
    for (got, want) in same.table.rows().iter().zip(day.table.rows()) {
        assert_close(got, *want, 5e-7);
    }
    // A level-2 Hald image holds 4 points in 16 bits.
    let back = cube_file(&dir.path().join("back.cube"));
    for (got, want) in back.table.rows().iter().zip(day.table.rows()) {
        assert_close(got, *want, 0.5 / 65535.0 + 5e-7);
    }
    for rgb in [[0.1, 0.4, 0.9], [0.5, 0.25, 0.75]] {
        let day = probed(dir.path(), "day.cube", rgb);
        assert_close(&probed(dir.path(), "again.clf", rgb), [day[0], day[1], day[2]], 1e-7);
        let shaped = probed(dir.path(), "shaped.cube", rgb);
        assert_close(&probed(dir.path(), "shaped.clf", rgb), [shaped[0], shaped[1], shaped[2]], 1e-7);
    }
    for name in ["day.clf", "again.clf", "curves.clf", "shaped.clf"] {
        let text = fs::read(dir.path().join(name)).unwrap();
        assert_eq!(clf::departures(&text).unwrap(), [], "{name}");
    }
}

/// A node of the source that the new cube has no node at, in the range that the new cube takes.
#[test]
fn convert_says_the_largest_difference_and_what_it_clamped() {
    let dir = tables();
    let identity = |odd: &str| {
        let rows = (0..125).map(|i| match i {
            // At 0.75, 0.5, 0.25.
            38 => odd.to_owned(),
            _ => format!("{} {} {}\n", (i % 5) as f64 / 4.0, (i / 5 % 5) as f64 / 4.0, (i / 25) as f64 / 4.0),
        });
        format!("LUT_3D_SIZE 5\n{}", rows.collect::<String>())
    };
    put(dir.path(), "odd.cube", &identity("0.75 0.9123 0.25\n"));
    let convert = |args: &str| {
        output(dir.path(), &format!("convert odd.cube {args}")).split_whitespace().collect::<Vec<_>>().join(" ")
    };
    assert_says(&convert("three.cube --points 3"), &["sampled with 3 points", "by up to 0.4123 of full scale"]);
    assert_says(&convert("legal.cube --points 3 --input full-to-legal"), &["by up to 0.41"]);
    // What is clamped is counted, and stands in the file.
    put(dir.path(), "odd.cube", &identity("0.75 1.3 -0.25\n"));
    assert_says(&convert("same.cube"), &["same.cube: nodes as they were"]);
    assert_says(&convert("cut.cube --clamp"), &["cut.cube: 1 of 125 nodes lay outside 0 to 1 and were clamped"]);
    assert_says(
        &fs::read_to_string(dir.path().join("cut.cube")).unwrap(),
        &["changed: clamped to 0 to 1", "\n0.750000 1.000000 0.000000\n"],
    );
    put(dir.path(), "odd.cube", &cube(4, "").replacen("0.000000000 0.000000000 1.000000000", "0 -0.5 1", 1));
    assert_says(
        &convert("cut.png --bits 8"),
        &["1 of 64 nodes lay outside 0 to 1 and were clamped; rounded to 8 bits"],
    );
    assert_says(&convert("short.cube --digits 4"), &["nodes as they were; rounded to 4 decimals"]);
}

/// The longest words of each kind of file.
#[test]
fn convert_and_inspect_keep_within_a_terminal() {
    let dir = tables();
    for args in
        ["day.cube a-rather-long-name-of-a-table.cube --points 9 --output full-to-legal", "day.cube x.cube --clamp"]
    {
        let said = output(dir.path(), &format!("convert {args}"));
        assert!(said.lines().all(|line| line.chars().count() <= 80), "{said}");
    }
}

#[test]
fn convert_changes_size_domain_and_range() {
    let dir = tables();
    assert_says(&output(dir.path(), "convert day.cube big.cube --points 7"), &["sampled with 7 points"]);
    // What is lost between two points of a curve that bends by a quarter in the middle.
    let said = output(dir.path(), "convert curves.cube two.cube --points 2");
    assert_says(&said, &["differs from the input by up to 0.2500 of\n"]);
    let said = output(dir.path(), "convert curves.cube three.cube --points 3");
    assert_says(&said, &["differs from the input by up to 0.0000"]);
    // 7 points hold the 4 among them, and between them what the tetrahedral interpolant gives.
    let big = cube_file(&dir.path().join("big.cube"));
    assert_eq!(big.table.size(), 7);
    assert_close(&probed(dir.path(), "big.cube", [1.0 / 6.0, 0.5, 5.0 / 6.0]), [1.0 / 18.0, 0.5, 1.0 / 6.0], 1e-6);

    output(dir.path(), "convert wide.cube narrow.cube --domain 0 0.5 --points 5");
    let narrow = cube_file(&dir.path().join("narrow.cube"));
    assert_eq!(narrow.table.domain(), [[0.0; 3], [0.5; 3]]);
    for v in [0.0, 0.125, 0.5] {
        let want = probed(dir.path(), "wide.cube", [v, v, v]);
        assert_close(&probed(dir.path(), "narrow.cube", [v, v, v]), [want[0], want[1], want[2]], 1e-6);
    }

    // Curves become a cube; the first file's domain is the result's.
    output(dir.path(), "convert curves.cube three.cube --points 3");
    let three = cube_file(&dir.path().join("three.cube"));
    assert!(matches!(three.table, Table::Cube(_)));
    assert_close(&probed(dir.path(), "three.cube", [0.5; 3]), [0.25, 0.5, 0.75], 1e-6);

    // Code 64 of 1023 is legal black: full-range output 0 becomes it, and an input of it is read as 0.
    let (black, white) = (64.0 / 1023.0, 940.0 / 1023.0);
    output(dir.path(), "convert day.cube legal.cube --output full-to-legal");
    assert_close(&probed(dir.path(), "legal.cube", [0.0, 1.0, 0.0]), [black, white, white], 1e-6);
    output(dir.path(), "convert legal.cube full.cube --output legal-to-full");
    assert_close(&probed(dir.path(), "full.cube", [0.0, 1.0, 0.0]), [0.0, 1.0, 1.0], 1e-5);
    output(dir.path(), "convert three.cube takes_legal.cube --input full-to-legal --points 65");
    assert_close(&probed(dir.path(), "takes_legal.cube", [white; 3]), [1.0; 3], 2e-2);
    assert_close(&probed(dir.path(), "takes_legal.cube", [1.0; 3]), [1.0; 3], 1e-6);
    output(dir.path(), "convert day.cube both.cube --input full-to-legal --output full-to-legal --points 33");
    assert_close(&probed(dir.path(), "both.cube", [black, black, black]), [black, black, white], 5e-3);
}

#[test]
fn several_files_become_one() {
    let dir = tables();
    assert_says(&output(dir.path(), "convert curves.cube day.cube both.cube --points 33"), &["sampled with 33"]);
    assert_eq!(cube_file(&dir.path().join("both.cube")).title, "Bend");
    // At 0.5 the curves give 0.25, 0.5, 0.75; the cube then squares red between its nodes and turns blue over.
    assert_close(&probed(dir.path(), "both.cube", [0.5; 3]), [0.25 / 3.0, 0.5, 0.25], 1e-6);
    assert_says(&output(dir.path(), "convert curves.cube day.cube both.clf"), &["nodes as they were"]);
    assert_close(&probed(dir.path(), "both.clf", [0.5; 3]), [0.25 / 3.0, 0.5, 0.25], 1e-6);
}

#[test]
fn convert_writes_as_it_is_told() {
    let dir = tables();
    output(dir.path(), "convert day.cube out.cube --digits 4 --plain --title Dusk");
    let text = fs::read_to_string(dir.path().join("out.cube")).unwrap();
    assert!(text.starts_with("TITLE \"Dusk\"\n") && !text.contains('#') && text.contains("\n0.1111 0.0000 1.0000\n"));
    output(dir.path(), "convert day.cube out.cube --digits 10");
    let text = fs::read_to_string(dir.path().join("out.cube")).unwrap();
    assert!(text.contains("# converted by rushlight") && text.contains("\n0.1111111110 0.0000000000 1.0000000000\n"));
    output(dir.path(), "convert day.cube out.clf --title Dusk");
    assert!(fs::read_to_string(dir.path().join("out.clf")).unwrap().contains("name=\"Dusk\""));

    put(dir.path(), "over.cube", "LUT_1D_SIZE 2\n-1 0 0\n1 2 1\n");
    output(dir.path(), "convert over.cube clamped.cube --clamp");
    assert_eq!(cube_file(&dir.path().join("clamped.cube")).table.rows(), [[0.0; 3], [1.0; 3]]);

    output(dir.path(), "convert day.cube eight.png --bits 8");
    output(dir.path(), "convert day.cube sixteen.png");
    let depth = |name: &str| fs::read(dir.path().join(name)).expect("a picture")[24];
    // PNG (W3C, third edition), 11.2.1: the byte after width and height in IHDR is the bit depth.
    assert_eq!((depth("eight.png"), depth("sixteen.png")), (8, 16));
}

#[test]
fn convert_refuses_and_writes_nothing() {
    let dir = tables();
    put(dir.path(), "short.cube", "LUT_3D_SIZE 2\n0 0 0\n");
    let before = files(dir.path());
    for (args, parts) in [
        ("convert day.cube", &["files to read, then the file to write"][..]),
        ("convert", &["<IN... OUT>"]),
        ("convert day.cube out.gif", &["out.gif", "must end in .cube, .clf or .png"]),
        ("convert none.cube out.cube", &["none.cube", "no such file"]),
        ("convert short.cube out.cube", &["short.cube, line 2"]),
        ("convert day.cube short.cube out.cube", &["short.cube, line 2"]),
        ("convert day.cube out.cube --points 1", &["--points", "2"]),
        ("convert day.cube out.cube --points 257", &["--points", "256"]),
        ("convert day.cube out.cube --domain 1 0", &["domain"]),
        ("convert day.cube out.cube --domain 1", &["--domain"]),
        ("convert day.cube out.cube --digits 3", &["--digits", "4"]),
        ("convert day.cube out.cube --digits 11", &["--digits", "10"]),
        ("convert day.cube out.cube --input full", &["full-to-legal"]),
        ("convert day.cube out.png --bits 12", &["--bits"]),
        ("convert day.cube out.png --points 5", &["out.png", "5 points", "a square number"]),
        ("convert day.cube out.png --domain 0 2", &["out.png", "domain"]),
    ] {
        assert_says(&refused(dir.path(), args), parts);
        assert!(files(dir.path()) == before, "{args} wrote something");
    }
    // An old file survives.
    put(dir.path(), "out.cube", "kept");
    refused(dir.path(), "convert short.cube out.cube");
    assert_eq!(fs::read_to_string(dir.path().join("out.cube")).unwrap(), "kept");
}
