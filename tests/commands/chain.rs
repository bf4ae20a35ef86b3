//! The check of a chain against chains whose truth is known, drawn by seed.
//!
//! Even seeds were looked at while the search was tuned, odd ones were not; both are held to the same bounds. A run of the
//! tests draws some of them; with `RUSHLIGHT_CHAINS=all` it draws 400 chains with one fault, 200 with two and 100 with none, and
//! what they are taken for must be what `fixtures/reference` says (`RUSHLIGHT_BLESS=1` writes it anew). These tables are
//! printed. Chains by ffmpeg and NumPy: `tests/reference/check/chain.py`.

use rushlight::chain::explain::{Evidence, explain};
use rushlight::chain::read::read;
use rushlight::cube::Interpolation;
use rushlight::frame::{self, Depth, Format, ReadOptions};
use rushlight_tests::chain::{Truth, Way, capture, captured};
use rushlight_tests::confusion::{NAME, confusion, stage};
use rushlight_tests::demo;
use rushlight_tests::rushlight;
use rushlight_tests::scene::assert_holds_to;
use rushlight_tests::sensor::Draw;
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

/// Seeds of one half.
fn seeds(count: u64, is_held_out: bool) -> Vec<u64> {
    (0..count).map(|i| 2 * i + u64::from(is_held_out)).collect()
}

/// The faults are named, and no other, in so many chains of 100; and no chain that is off by more than 1 is called right.
fn hold(faults: usize, counts: [u64; 2], least: f64) {
    let is_all = std::env::var("RUSHLIGHT_CHAINS").is_ok_and(|v| v == "all");
    let count = counts[usize::from(is_all)];
    let mut text = String::new();
    for is_held_out in [false, true] {
        let found = confusion(&seeds(count / 2, is_held_out), faults);
        let half = if is_held_out { "odd seeds, not looked at" } else { "even seeds, looked at" };
        text += &format!("{faults} at once, {half}: {found}\n");
        assert!(found.share() >= least, "{found}\n{}", found.wrong.join("\n"));
        assert!(found.fine.is_empty(), "{}", found.fine.join("\n"));
    }
    let file = demo::folder().join(format!("../reference/chain_confusion_{faults}.txt"));
    if is_all && std::env::var_os("RUSHLIGHT_BLESS").is_some() {
        fs::write(&file, &text).expect("the table is written");
    }
    println!("{text}");
    if is_all {
        let committed = fs::read_to_string(&file).expect("the table of all chains");
        assert_eq!(text, committed, "what chains are taken for has changed");
    }
}

#[test]
fn no_fault_is_named_where_there_is_none() {
    hold(0, [6, 100], 1.0);
}

#[test]
fn one_fault_is_named() {
    hold(1, [24, 400], 0.98);
}

#[test]
fn two_faults_are_named() {
    hold(2, [12, 200], 0.90);
}

#[test]
fn a_right_chain_has_no_fault_and_its_reading_is_told() {
    let s = stage();
    let mut told = 0;
    for seed in 0..8 {
        let mut draw = Draw::new(7000 + seed);
        let way = [Way::Tetrahedra, Way::Corners][seed as usize % 2];
        let truth = Truth { faults: Vec::new(), way, capture: capture(&mut draw) };
        let frame = captured(&s.chart, &s.cubes, &truth, &mut draw);
        let reading = read(&frame).unwrap_or_else(|lost| panic!("{lost:?}: {truth:?}"));
        assert_eq!(reading.mark.as_ref().map(|m| m.name.as_str()), Some(NAME));
        let found = explain(&s.bank, &Evidence::of(&reading), &s.difference);
        assert!(found.best.faults.is_empty() && found.fits, "{truth:?}: {found:?}");
        let wanted = [Interpolation::Tetrahedral, Interpolation::Trilinear][seed as usize % 2];
        assert!(found.interpolation.is_none_or(|kind| kind == wanted), "{truth:?}");
        told += usize::from(found.interpolation.is_some());
    }
    assert!(told >= 4, "{told} of 8 readings could be told");
}

fn run(words: &[&str], folder: &Path) -> Output {
    Command::new(rushlight()).args(words).current_dir(folder).output().expect("the binary runs")
}

/// Runs, and expects an exit code; what was printed.
fn ran(words: &[&str], folder: &Path, code: i32) -> String {
    let done = run(words, folder);
    let said = String::from_utf8_lossy(&done.stderr);
    assert_eq!(done.status.code(), Some(code), "{words:?}\n{said}\n{}", String::from_utf8_lossy(&done.stdout));
    String::from_utf8(done.stdout).expect("UTF-8")
}

const OF: [&str; 6] = ["--look", "night", "--camera", "a", "--display", "onset"];
const STEM: &str = "saltmarsh_night_r1_a_onset_33_chart_960x540";

fn show() -> String {
    demo::folder().join("show.toml").to_str().expect("a path in UTF-8").to_owned()
}

/// A folder with the chart and what a capture ought to be.
fn charted() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let show = show();
    let words = [&["chain", "chart", &show][..], &OF, &["--size", "960x540", "--format", "png,dpx"]].concat();
    let text = ran(&words, folder.path(), 0);
    assert!(text.contains(&format!("chart/{STEM}.dpx")), "{text}");
    folder
}

#[test]
fn captures_are_judged_in_every_form_of_report() {
    let folder = charted();
    let (right, none) = (format!("chart/{STEM}_expected.png"), format!("chart/{STEM}.dpx"));
    let show = show();
    let text = ran(&["chain", "check", &show, "--camera", "a", "--display", "onset", &right], folder.path(), 0);
    assert!(text.contains("Right cube, right range, tetrahedral interpolation, 10 bits or more."), "{text}");
    let line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(line.contains("both readings agree") && line.contains(" times worse"), "{text}");
    assert!(line.contains(" next ") && !line.contains(" next the right chain"), "{text}");

    let (recorder, app) = (format!("recorder={right}"), format!("app={none}"));
    let reports = "text,json=chain.json,csv=chain.csv,html=chain.html";
    let words = [&["chain", "check", &show][..], &OF, &[&recorder, &app, "--format", reports]].concat();
    let text = ran(&words, folder.path(), 1);
    let rows = [
        "  capture   verdict          before the cube  cube     after the cube\n",
        "  recorder  as it should be  right            right    right\n",
        "  app       wrong            right            no-cube  right\n",
    ];
    assert!(text.contains(&rows.concat()), "{text}");
    assert!(text.contains("No cube is applied: the camera's signal goes through."), "{text}");

    let json: Value = serde_json::from_slice(&fs::read(folder.path().join("chain.json")).expect("JSON")).expect("JSON");
    assert_holds_to(folder.path(), "chain", &json);
    assert_eq!(json["captures"][1]["faults"][0]["key"], "no-cube");
    assert_eq!(json["captures"][0]["verdict"], "right");

    let table = fs::read_to_string(folder.path().join("chain.csv")).expect("a table");
    assert_eq!(table.lines().count(), 3);
    assert!(table.contains("app,chart/") && table.contains(",wrong,right,no-cube,right,no-cube,ciede2000,"), "{table}");
    let mut rows = csv::Reader::from_reader(table.as_bytes());
    let head = rows.headers().expect("a head").clone();
    for row in rows.records() {
        let row = row.expect("a row");
        let said = |name: &str| row[head.iter().position(|h| h == name).expect("a column")].to_owned();
        let of = ["cube", "points", "show", "look", "revision", "camera", "display"].map(said);
        let wanted = [
            "saltmarsh_night_r1_a_onset_33",
            "33",
            "Saltmarsh",
            "Saltmarsh, night exterior",
            "1",
            "A camera, the dunes and the house (slog3, sgamut3-cine, full range)",
            "On-set monitor, 100 nits (bt709, bt1886, 100 nits, full range)",
        ];
        assert_eq!(of, wanted);
    }
    let page = fs::read_to_string(folder.path().join("chain.html")).expect("a page");
    assert!(page.contains("<h2>recorder</h2>") && page.contains("<polygon") && page.contains("data:image/png"));
}

#[test]
fn bits_of_the_signal_and_dither_are_told() {
    let folder = charted();
    let bytes = fs::read(folder.path().join(format!("chart/{STEM}_expected.png"))).expect("the right picture");
    let right = frame::read(&bytes, &ReadOptions::default()).expect("a PNG");
    let mut draw = Draw::new(5);
    let mut rounded = |bits: u32, dither: f64, name: &str| {
        let top = f64::from((1u32 << bits) - 1);
        let mut frame = right.clone();
        frame.samples_mut().iter_mut().for_each(|v| {
            let code = (f64::from(*v) * top + dither * (draw.unit() - 0.5)).round().clamp(0.0, top);
            *v = (code / top) as f32;
        });
        let bytes = frame::write(&frame, Format::Png, Depth::Integer(16)).expect("a PNG");
        fs::write(folder.path().join(name), bytes).expect("written");
    };
    rounded(8, 1.0, "dithered.png");
    rounded(8, 0.0, "rounded.png");
    rounded(10, 0.0, "ten.png");
    rounded(12, 1.0, "twelve.png");
    let check = |name: &str, code: i32| checked(folder.path(), name, code);
    for (name, what, dithered) in [
        ("dithered.png", "The signal has 8 bits, dithered, after the cube.", true),
        ("rounded.png", "The signal has 8 bits after the cube.", false),
    ] {
        let (text, json) = check(name, 1);
        assert!(text.contains(what), "{text}");
        assert_eq!(json["faults"].as_array().map(Vec::len), Some(1), "{json}");
        assert_eq!((&json["signal_bits"], &json["dithered"]), (&8.into(), &dithered.into()));
    }
    for (name, what) in
        [("ten.png", "tetrahedral interpolation, 10 bits."), ("twelve.png", "interpolation, 12 bits with dither.")]
    {
        let (text, _) = check(name, 0);
        assert!(text.contains(what), "{text}");
    }
}

/// What is said of a capture, with an exit code: the text on one line, and the JSON.
fn checked(folder: &Path, name: &str, code: i32) -> (String, Value) {
    let show = show();
    let words = [&["chain", "check", &show][..], &OF, &[name, "--format", "text,json=chain.json"]].concat();
    let text = ran(&words, folder, code).split_whitespace().collect::<Vec<_>>().join(" ");
    let json = fs::read(folder.join("chain.json")).expect("JSON");
    (text, serde_json::from_slice::<Value>(&json).expect("JSON")["captures"][0].clone())
}

fn keys(capture: &Value) -> Vec<&str> {
    capture["faults"].as_array().expect("faults").iter().filter_map(|f| f["key"].as_str()).collect()
}

#[test]
fn eight_bits_with_dither_before_the_cube_are_told_from_noise() {
    let folder = charted();
    let bytes = fs::read(folder.path().join(format!("chart/{STEM}.dpx"))).expect("the chart");
    let chart = frame::read(&bytes, &ReadOptions::default()).expect("a DPX");
    let cube = &stage().cubes[0];
    let round = |v: f64, top: f64| (v * top).round().clamp(0.0, top) / top;
    // The chart through what happens before the cube, the cube, and ten bits or what comes after it.
    let show = |name: &str, before: &mut dyn FnMut(f64) -> f64, after: &mut dyn FnMut(f64) -> f64| {
        let mut frame = chart.clone();
        for pixel in frame.samples_mut().chunks_exact_mut(3) {
            let rgb = [pixel[0], pixel[1], pixel[2]].map(|v| before(f64::from(v)));
            let out = cube.at(rgb, Interpolation::Tetrahedral);
            (0..3).for_each(|c| pixel[c] = after(out[c]) as f32);
        }
        let bytes = frame::write(&frame, Format::Png, Depth::Integer(16)).expect("a PNG");
        fs::write(folder.path().join(name), bytes).expect("written");
    };
    let (mut one, mut two) = (Draw::new(11), Draw::new(12));
    let mut ten = |v: f64| round(v, 1023.0);
    show("flat.png", &mut |v| round(v + (one.unit() - 0.5) / 255.0, 255.0), &mut ten);
    show("triangle.png", &mut |v| round(v + (one.unit() + two.unit() - 1.0) / 255.0, 255.0), &mut ten);
    show("noise.png", &mut |v| v + (one.unit() - 0.5) / 255.0, &mut ten);
    let mut dithered = |v: f64| round(v + (two.unit() - 0.5) / 255.0, 255.0);
    show("both.png", &mut |v| round(v + (one.unit() - 0.5) / 255.0, 255.0), &mut dithered);
    for name in ["flat.png", "triangle.png"] {
        let (text, json) = checked(folder.path(), name, 1);
        assert_eq!(keys(&json), ["input-8-bits"], "{name}: {text}");
        assert!(text.contains("The signal has 8 bits, dithered, before the cube."), "{text}");
    }
    let (text, json) = checked(folder.path(), "noise.png", 0);
    assert_eq!(keys(&json), [""; 0], "{text}");
    let (text, json) = checked(folder.path(), "both.png", 1);
    assert_eq!(keys(&json), ["output-8-bits"], "{text}");
    assert!(text.contains("hide whether 8 bits with dither reach the cube, too"), "{text}");
}

#[test]
fn a_picture_that_is_turned_is_wrong_whatever_its_colours_are() {
    let folder = charted();
    let read = |name: &str| {
        let bytes = fs::read(folder.path().join(format!("chart/{STEM}{name}"))).expect("a picture");
        frame::read(&bytes, &ReadOptions::default()).expect("a picture")
    };
    let (right, none) = (read("_expected.png"), read(".dpx"));
    let turned = |of: &frame::Frame, [across, down]: [bool; 2], name: &str| {
        let mut frame = of.clone();
        let (w, h) = (of.width(), of.height());
        for (i, pixel) in frame.samples_mut().chunks_exact_mut(3).enumerate() {
            let (x, y) = (i % w, i / w);
            pixel.copy_from_slice(&of.rgb(if across { w - 1 - x } else { x }, if down { h - 1 - y } else { y }));
        }
        let bytes = frame::write(&frame, Format::Png, Depth::Integer(16)).expect("a PNG");
        fs::write(folder.path().join(name), bytes).expect("written");
    };
    for (flip, key, what) in [
        (
            [true, false],
            "picture-mirrored",
            "The picture is mirrored left to right. All else is as it should be: right cube,",
        ),
        ([false, true], "picture-upside-down", "The picture is mirrored top to bottom. All else"),
        ([true, true], "picture-turned", "The picture is turned by 180 degrees. All else"),
    ] {
        turned(&right, flip, "turned.png");
        let (text, json) = checked(folder.path(), "turned.png", 1);
        assert_eq!(keys(&json), [key], "{text}");
        assert!(text.contains(what) && text.contains("do Switch"), "{text}");
        assert_eq!(json["verdict"], "wrong");
        let found = "found 960 x 540 of 960 x 540 pixels, from 0, 0;";
        assert!(text.contains(found) && !text.contains(" left after the explanation"), "{text}");
        turned(&none, flip, "turned.png");
        let (text, json) = checked(folder.path(), "turned.png", 1);
        assert_eq!(keys(&json), ["no-cube", key], "{text}");
    }
}

#[test]
fn a_domain_that_a_box_does_not_read_is_named() {
    let folder = charted();
    // The same table with and without its domain: what a box shows that does not read that line.
    let mut text = String::from("LUT_3D_SIZE 17\n");
    for i in 0..17 * 17 * 17 {
        let place = |at: usize| (i / at % 17) as f64 / 16.0;
        let node = |at: usize| place(at) * place(at) * 0.9 + 0.03;
        text += &format!("{:.6} {:.6} {:.6}\n", node(1), node(17), node(289));
    }
    let domain = "DOMAIN_MIN -0.1 -0.1 -0.1\nDOMAIN_MAX 1.2 1.2 1.2\n";
    fs::write(folder.path().join("wide.cube"), format!("{domain}{text}")).expect("written");
    fs::write(folder.path().join("unit.cube"), text).expect("written");
    let chart = format!("chart/{STEM}.png");
    for (cube, code, what) in
        [("wide", 0, "Right cube"), ("unit", 1, "The cube's domain is not read: it is taken as 0 to 1.")]
    {
        let (cube, shown) = (format!("{cube}.cube"), format!("{cube}.png"));
        ran(&["apply", "--cube", &cube, &chart, &shown], folder.path(), 0);
        let text = ran(&["chain", "check", "wide.cube", &shown], folder.path(), code);
        assert!(text.split_whitespace().collect::<Vec<_>>().join(" ").contains(what), "{text}");
    }
}

#[test]
fn other_cubes_are_named_from_the_show_and_from_a_folder() {
    let folder = charted();
    let show = show();
    // The right cube of the day look, where the night look should be.
    let day = ["--look", "day", "--camera", "a", "--display", "onset"];
    let words = [&["chain", "chart", &show][..], &day, &["--size", "960x540", "--out", "day"]].concat();
    ran(&words, folder.path(), 0);
    let capture = "day/saltmarsh_day_r1_a_onset_33_chart_960x540_expected.png";
    let words = [&["chain", "check", &show][..], &OF, &[capture]].concat();
    let text = ran(&words, folder.path(), 1);
    assert!(text.contains("Another cube is loaded: saltmarsh_day_r1_a_onset_33"), "{text}");
    assert!(text.contains("The chart was drawn for saltmarsh_day_r1_a_onset_33"), "{text}");

    // An exposure cube that was left on is known from its folder.
    ran(&["false-colour", &show, "--camera", "a", "--ei", "800", "--points", "33", "--out", "keys"], folder.path(), 0);
    let cube = "keys/saltmarsh_a_ei800_ladder_bt709_33.cube";
    let chart = format!("chart/{STEM}.png");
    ran(&["apply", "--cube", cube, &chart, "keyed.png"], folder.path(), 0);
    let words = [&["chain", "check", &show][..], &OF, &["keyed.png"]].concat();
    let text = ran(&words, folder.path(), 1);
    assert!(text.contains("Something is wrong that none of the known faults explains."), "{text}");
    let words = [&["chain", "check", &show][..], &OF, &["keyed.png", "--with", "keys"]].concat();
    let text = ran(&words, folder.path(), 1);
    assert!(text.contains("Another cube is loaded: saltmarsh_a_ei800_ladder_bt709_33"), "{text}");

    // A cube alone, without a show.
    let text = ran(&["chain", "check", cube, "keyed.png"], folder.path(), 0);
    assert!(text.contains("Right cube"), "{text}");
}

#[test]
fn what_cannot_be_judged_is_said_and_mistakes_are_refused() {
    let folder = charted();
    let show = show();
    let frame = demo::folder().join("brackets/a_800_09.png");
    let words = [&["chain", "check", &show][..], &OF, &[frame.to_str().expect("a path")]].concat();
    let text = ran(&words, folder.path(), 2);
    assert!(text.contains("It cannot be judged:"), "{text}");
    let right = format!("chart/{STEM}_expected.png");
    let words = [&["chain", "check", &show][..], &OF, &[&right, "--photo"]].concat();
    let text = ran(&words, folder.path(), 2);
    assert!(text.contains("it is a photograph of a screen") && text.contains("Greys are in the right order"), "{text}");

    let refused = |words: &[&str], why: &str| {
        let done = run(words, folder.path());
        let said = String::from_utf8_lossy(&done.stderr).replace('\n', " ");
        assert_eq!(done.status.code(), Some(2), "{words:?}");
        assert!(said.contains(why), "{words:?}: {said}");
    };
    let chart = [&["chain", "chart", &show][..], &OF].concat();
    refused(&[&chart[..], &["--size", "uhd"]].concat(), "--size: `uhd`: it must be WIDTHxHEIGHT, such as 3840x2160");
    refused(&[&chart[..], &["--size", "640x360"]].concat(), "it must lie between 960 x 540 and 8192 x 8192");
    refused(&["chain", "chart", &show], "give --look");
    refused(&[&["chain", "check", &show][..], &OF, &["absent.png"]].concat(), "absent.png");
    refused(&[&["chain", "check", &show][..], &OF, &[&right, "--with", "chart"]].concat(), "holds no cube");
    refused(&["chain", "display", "--out", "display.jpg"], "the name must end in .png, .tif or .dpx");
    let text = ran(&["chain", "display", "--size", "960x540", "--out", "display.dpx"], folder.path(), 0);
    assert!(text.contains("5 to 8 on black, 1 to 4 on white"), "{text}");
}

#[test]
fn charts_and_captures_are_clips_too() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let show = show();
    let words =
        [&["chain", "chart", &show][..], &OF, &["--size", "960x540", "--format", "intra,lossless", "--seconds", "1"]];
    ran(&words.concat(), folder.path(), 0);
    for (file, codes) in [("mov", "recorded"), ("mkv", "tagged")] {
        let file = format!("chart/{STEM}.{file}");
        let words = [&["chain", "check", &show][..], &OF, &[&file, "--clip-codes", codes]].concat();
        let text = ran(&words, folder.path(), 1);
        // The chart itself, without a cube; its codes are the signal.
        assert!(text.contains("No cube is applied: the camera's signal goes through. Difference"), "{text}");
    }
    let clip = format!("chart/{STEM}.mov");
    let words = [&["chain", "check", &show][..], &OF, &[&clip]].concat();
    let text = ran(&words, folder.path(), 1);
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.contains("Legal range is stretched to full range after the cube"), "{text}");
}
