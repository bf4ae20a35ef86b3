//! `chart`: from frames to a report, a picture, and a gamut in the show.

use rushlight::frame::{Frame, FrameError, ReadOptions, read};
use rushlight_tests::charts;
use rushlight_tests::scene::{assert_holds_to, assert_says, demo_with, files, json, output, put, refused};
use std::fs;
use tempfile::TempDir;

/// A folder with the demo show and its charts.
fn demo() -> TempDir {
    demo_with(&[(charts::folder(), "")])
}

#[test]
fn the_charts_are_what_their_maker_makes() {
    let committed = files(&charts::folder());
    let made = charts::files();
    assert_eq!(committed.len(), made.len());
    let pixels = |file: &[u8]| -> Result<Frame, FrameError> { read(file, &ReadOptions::default()) };
    for (name, bytes) in made {
        assert_eq!(pixels(&committed[&name]), pixels(&bytes), "{name}: make it again with the binary `demo_charts`");
    }
}

const B: &str = "--show show.toml --camera b";

#[test]
fn the_report_has_the_verdict_first_and_a_picture_is_always_written() {
    let dir = demo();
    let text = output(dir.path(), &format!("chart b_d55.png --light d55 {B}"));
    assert!(text.starts_with("Error after the fit: CIEDE2000 "), "{text}");
    assert_says(
        &text,
        &["before ", "unseen", "gamut     { red = [", "published", "dark skin", "b_d55.png, D55", "b_d55_chart.svg"],
    );
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    let svg = fs::read_to_string(dir.path().join("b_d55_chart.svg")).unwrap();
    assert_says(&svg, &["1 dark skin", "The chart as it was found", "made by rushlight"]);
    // Its own picture is written again, somebody else's is not.
    output(dir.path(), &format!("chart b_d55.png --light d55 {B}"));
    put(dir.path(), "b_d55_chart.svg", "a drawing of mine");
    let said = refused(dir.path(), &format!("chart b_d55.png --light d55 {B}"));
    assert_says(&said, &["b_d55_chart.svg", "--picture"]);
    output(dir.path(), &format!("chart b_d55.png --light d55 {B} --picture found.png"));
    assert!(read(&fs::read(dir.path().join("found.png")).unwrap(), &ReadOptions::default()).is_ok());
}

#[test]
fn the_json_holds_to_its_schema() {
    let dir = demo();
    let found = json(dir.path(), &format!("chart b_d55.png b_a.png --light d55 a {B} --json"));
    assert_holds_to(dir.path(), "chart", &found);
    assert_eq!(found["frames"].as_array().unwrap().len(), 2);
    let (before, after) = (found["before"]["mean"].as_f64().unwrap(), found["after"]["mean"].as_f64().unwrap());
    assert!(after < 0.7 * before && after < 3.0, "{after} {before}");
    assert_eq!(found["frames"][0]["sha256"].as_str().unwrap().len(), 64);
}

#[test]
fn the_gamut_goes_into_the_show_and_nothing_else_changes() {
    let dir = demo();
    let before = fs::read_to_string(dir.path().join("show.toml")).unwrap();
    let first = json(dir.path(), &format!("chart b_d55.png --light d55 {B} --json"));
    let text = output(dir.path(), &format!("chart b_d55.png --light d55 {B} --write"));
    assert_says(&text, &["gamut written to show.toml", "was       { red = [0.70, 0.30]", "is        { red = ["]);
    let after = fs::read_to_string(dir.path().join("show.toml")).unwrap();
    // One line is new: what was measured, by which frames.
    let (noted, kept): (Vec<&str>, Vec<&str>) = after.lines().partition(|line| line.starts_with("measured = "));
    assert_eq!(noted.len(), 1);
    assert_says(noted[0], &["what = \"colours\"", "\"b_d55.png\" = \""]);
    let changed: Vec<(&str, &str)> = before.lines().zip(kept.iter().copied()).filter(|(a, b)| a != b).collect();
    assert_eq!(before.lines().count(), kept.len());
    assert_eq!(changed.len(), 1, "{changed:?}");
    assert_says(changed[0].1, &["gamut = { red = [", "# fitted to 24 patches", "in D55", "b_d55.png (SHA-256 "]);
    // What the show has now is what was fitted.
    let again = json(dir.path(), &format!("chart b_d55.png --light d55 {B} --json"));
    let mean = |v: &serde_json::Value, key: &str| v[key]["mean"].as_f64().unwrap();
    assert!((mean(&again, "before") - mean(&first, "after")).abs() < 1e-2);
    // It is no better, so it is not written again.
    let said = refused(dir.path(), &format!("chart b_d55.png --light d55 {B} --write"));
    assert_says(&said, &["the gamut of the show leaves", "nothing is written", "--accept"]);
}

#[test]
fn two_lights_give_a_gamut_between_them_and_b_is_matched_to_a() {
    let dir = demo();
    let text = output(dir.path(), &format!("chart b_d55.png b_a.png --light d55 a {B} --kelvin 4000"));
    assert_says(&text, &["4000 K", "between the two", "illuminant A (28"]);
    assert_says(
        &refused(dir.path(), &format!("chart b_d55.png --light d55 {B} --kelvin 4000")),
        &["--kelvin needs frames in two lights"],
    );
    assert_says(
        &refused(dir.path(), &format!("chart b_d55.png b_a.png --light d55 a {B} --kelvin 9000")),
        &["--kelvin: 9000 lies outside the two lights"],
    );
    let text = output(
        dir.path(),
        &format!("chart b_d55.png --light d55 {B} --match a_d55.png --to a --look night --display onset"),
    );
    assert_says(&text, &["camera a of the show", "through the look night on onset", "matched"]);
    // Every patch stands there twice: in the scene, and on the display.
    assert_eq!(text.matches("yellow green").count(), 2, "{text}");
    let args = format!("chart b_d55.png --light d55 {B} --match a_d55.png --to a --look night --display onset --json");
    let found = json(dir.path(), &args);
    assert_holds_to(dir.path(), "chart", &found);
    let seen = &found["through_look"];
    let patches = seen["patches"].as_array().unwrap();
    assert!(patches.len() == 24 && patches[10]["name"] == "yellow green", "{seen}");
    let mean = patches.iter().map(|p| p["after"].as_f64().unwrap()).sum::<f64>() / 24.0;
    assert!((mean - seen["after"]["mean"].as_f64().unwrap()).abs() < 1e-9, "{seen}");
    assert!(mean < seen["before"]["mean"].as_f64().unwrap(), "{seen}");
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
}

#[test]
fn what_cannot_be_used_is_refused_in_words() {
    let dir = demo();
    put(dir.path(), "few.csv", "name,X,Y,Z\na,1,2,3\n");
    put(dir.path(), "bad.csv", "nm,power\n400,1\n500,x\n");
    let cases: Vec<(String, &[&str])> = vec![
        (format!("chart b_d55.png --light noon {B}"), &["--light: `noon` is not a light", "d5600"]),
        (format!("chart b_d55.png --light d55 a {B}"), &["2 lights for 1 frames"]),
        (format!("chart b_d55.png --light bad.csv {B}"), &["bad.csv:3:"]),
        (format!("chart b_d55.png --light d55 {B} --patches few.csv"), &["few.csv: it has 1 patches"]),
        (format!("chart b_d55.png --light d55 {B} --corners 1,2 3 4,5 6,7"), &["--corners: `3`", "X,Y in pixels"]),
        (format!("chart b_d55.png --light d55 {B} --corners 1,2 300,2 300,900 4,170"), &["outside the frame"]),
        (format!("chart show.toml --light d55 {B}"), &["show.toml: it must be a still"]),
        (format!("chart none.png --light d55 {B}"), &["none.png"]),
        (format!("chart b_d55.png --light d55 {B} --match a_d55.png --to x"), &["--to: ", "`x`"]),
    ];
    let before = files(dir.path()).len();
    for (args, says) in cases {
        assert_says(&refused(dir.path(), &args), says);
    }
    assert_eq!(files(dir.path()).len(), before, "nothing is written");
}

/// The corners of the demo's chart, by hand.
#[test]
fn corners_give_what_the_search_finds() {
    let dir = demo();
    let found = json(dir.path(), &format!("chart b_d55.png --light d55 {B} --json"));
    let given =
        json(dir.path(), &format!("chart b_d55.png --light d55 {B} --corners 62,26 262,34 256,160 58,150 --json"));
    let mean = |v: &serde_json::Value| v["after"]["mean"].as_f64().unwrap();
    assert!((mean(&found) - mean(&given)).abs() < 0.05, "{} {}", mean(&found), mean(&given));
    let said = refused(dir.path(), &format!("chart b_d55.png --light d55 {B} --corners 256,160 58,150 62,26 262,34"));
    assert_says(&said, &["the chart is turned"]);
}
