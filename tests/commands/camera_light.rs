//! The light of a set-up: the white of a camera, matrices for one light and for two, and what was measured, when, by what.

use rushlight_tests::charts;
use rushlight_tests::scene::{assert_holds_to, assert_says, demo_with, files, json, output, put, refused};
use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// A folder with the demo show and its charts.
fn demo() -> TempDir {
    demo_with(&[(charts::folder(), "")])
}

const B: &str = "--show show.toml --camera b";
const CARD: &str = "--patch 75,135,14,14";

fn show(dir: &Path) -> String {
    fs::read_to_string(dir.join("show.toml")).unwrap()
}

/// The show with `more` in the table of its camera b.
fn with(dir: &Path, more: &str) {
    let text = show(dir);
    put(dir, "show.toml", &text.replace("label = \"B camera", &format!("{more}\nlabel = \"B camera")));
}

#[test]
fn a_white_is_measured_on_a_grey_card_and_makes_it_neutral() {
    let dir = demo();
    let root = dir.path();
    let found = json(root, &format!("measure --white b_d55.png {CARD} {B} --json"));
    assert_holds_to(root, "measure", &found);
    let kelvin = found["white"]["kelvin"].as_f64().unwrap();
    let before = show(root);
    let text = output(root, &format!("measure --white b_d55.png {CARD} {B} --write --date 2026-03-14"));
    assert_says(
        &text,
        &["White of the light: ", "white written to show.toml", "was: none", "not the kelvin of the camera's menu"],
    );
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    let after = show(root);
    let added: Vec<&str> = after.lines().filter(|line| !before.lines().any(|b| b == *line)).collect();
    assert_eq!(added.len(), 2, "{added:?}");
    assert_says(added[0], &[&format!("white = {{ kelvin = {kelvin:.0}, tint = ")]);
    assert_says(added[1], &["measured = [{ what = \"white\", date = \"2026-03-14\", frames = { \"b_d55.png\" = \""]);
    // Measured again, it is what it was, and stands where it stood.
    let again = json(root, &format!("measure --white b_d55.png {CARD} {B} --json"));
    assert_eq!(again["white"], found["white"]);
    output(root, &format!("measure --white b_d55.png {CARD} {B} --write --date 2026-03-14"));
    assert_eq!(show(root), after);
}

#[test]
fn cubes_and_manifests_carry_the_white_and_it_comes_before_the_look() {
    let dir = demo();
    let root = dir.path();
    let plain = json(root, "probe show.toml --look day --camera b --display onset 0.5 0.45 0.4 --json");
    with(root, "white = { kelvin = 3200, tint = -2 }");
    let warm = json(root, "probe show.toml --look day --camera b --display onset 0.5 0.45 0.4 --json");
    assert_ne!(plain, warm);
    output(root, "bake show.toml --camera b --display onset --look day --out baked");
    let names = files(&root.join("baked"));
    assert!(names.keys().any(|n| n == "saltmarsh_day_r1_b-3200k-m2_onset_33.cube"), "{:?}", names.keys());
    let manifest: serde_json::Value = serde_json::from_slice(&names["manifest.json"]).unwrap();
    assert!(manifest.to_string().contains(r#""white":{"kelvin":3200.0,"tint":-2.0}"#), "{manifest}");
    let cube = String::from_utf8_lossy(&names["saltmarsh_day_r1_b-3200k-m2_onset_33.cube"]).into_owned();
    assert_says(&cube, &["white 3200 K tint -2"]);
    for (bad, says) in [
        ("white = { kelvin = 300 }", "white.kelvin"),
        ("white = { tint = 3 }", "needs `kelvin` or `xy`"),
        ("white = { kelvin = 3200, tnit = 1 }", "tnit"),
    ] {
        let dir = demo();
        with(dir.path(), bad);
        assert_says(&refused(dir.path(), "bake show.toml --out baked"), &["show.toml:", says]);
    }
}

#[test]
fn two_lights_are_written_as_two_matrices_with_their_sources() {
    let dir = demo();
    let root = dir.path();
    let run = "chart b_d55.png b_a.png --light d55 a --show show.toml --camera b";
    assert_says(&refused(root, &format!("{run} --write --matrix --date 2026-03-14")), &["need --kelvin"]);
    assert_says(&refused(root, &format!("{run} --write --matrix --kelvin 4000")), &["--date"]);
    assert_says(&refused(root, &format!("{run} --write --date 14.3.2026")), &["--date", "YYYY-MM-DD"]);
    let text = output(root, &format!("{run} --write --matrix --date 2026-03-14 --kelvin 5503"));
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_says(
        &text,
        &["matrix written to show.toml", "in D55 by its own matrix", "in illuminant A by its own matrix"],
    );
    let text = show(root);
    assert_says(
        &text,
        &[
            "{ to_xyz = [[",
            "illuminant = \"D55\", kelvin = 5503",
            "date = \"2026-03-14\"",
            "kelvin = 5503\n",
            "b_a.png",
        ],
    );
    assert!(!text.contains("red = [0.70"), "{text}");
    // At the kelvin of one light it is the matrix of that light.
    let mean = |value: &serde_json::Value, key: &str| value[key]["mean"].as_f64().unwrap();
    let day = json(root, &format!("chart b_d55.png --light d55 {B} --json"));
    assert!(
        (mean(&day, "before") - mean(&day, "after")).abs() < 0.02,
        "{} {}",
        mean(&day, "before"),
        mean(&day, "after")
    );
    // A gamut takes the place of the matrices again.
    output(root, &format!("chart b_d55.png --light d55 {B} --write --accept"));
    let text = show(root);
    assert!(text.contains("gamut = { red = [") && !text.contains("to_xyz") && !text.contains("kelvin"), "{text}");
}

#[test]
fn a_matrix_that_cannot_be_is_refused_by_its_key() {
    let rows = "to_xyz = [[0.5, 0.3, 0.15046], [0.3, 0.6, 0.1], [0.0, 0.1, 0.98906]]";
    let made =
        |rows: &str, more: &str| format!("matrix = [{{ {rows}, source = \"test\", date = \"2026-03-14\"{more} }}]");
    let cases = [
        (made(rows, ", illuminant = \"D55\""), "give one of the two"),
        (made("to_xyz = [[1, 0, 0], [0, 1, 0], [0, 0, 1]]", ", illuminant = \"D55\""), "does not keep white"),
        (made("to_xyz = [[1, 0, 0], [0, 1, 0]]", ", illuminant = \"D55\""), "three rows"),
        (made(rows, ""), "illuminant"),
        (made(rows, ", illuminant = \"D55\"").replace("03-14", "02-30"), "is not a date"),
        (format!("{}\nkelvin = 4000", made(rows, ", illuminant = \"D55\"")), "there is one"),
    ];
    for (i, (matrix, says)) in cases.iter().enumerate() {
        let dir = demo();
        if i > 0 {
            let text = show(dir.path());
            let line = text.lines().find(|l| l.starts_with("gamut = { red")).unwrap();
            put(dir.path(), "show.toml", &text.replace(&format!("{line}\n"), ""));
        }
        with(dir.path(), matrix);
        assert_says(&refused(dir.path(), "bake show.toml --out baked"), &["show.toml:", says]);
    }
    let dir = demo();
    let text = show(dir.path());
    let line = text.lines().find(|l| l.starts_with("gamut = { red")).unwrap();
    put(dir.path(), "show.toml", &text.replace(&format!("{line}\n"), &(made(rows, ", illuminant = \"D55\"") + "\n")));
    output(dir.path(), "bake show.toml --camera b --look day --display onset --out baked");
}

#[test]
fn b_is_matched_to_a_by_places_of_one_scene() {
    let dir = demo();
    let root = dir.path();
    // The squares of the same chart in both frames stand in for things of a scene: six of each row, no light named.
    let chart = json(root, &format!("chart b_d55.png --light d55 {B} --match a_d55.png --to a --json"));
    let corners = [[62.0, 26.0], [262.0, 34.0], [256.0, 160.0], [58.0, 150.0]];
    let places: Vec<String> = (0..24)
        .map(|i| {
            let (u, v) = ((f64::from(i % 6) + 0.5) / 6.0, (f64::from(i / 6) + 0.5) / 4.0);
            let at = |c: usize| {
                let top = corners[0][c] + u * (corners[1][c] - corners[0][c]);
                let bottom = corners[3][c] + u * (corners[2][c] - corners[3][c]);
                top + v * (bottom - top)
            };
            format!("{:.0},{:.0}", at(0), at(1))
        })
        .collect();
    let places = places.join(" ");
    let by = format!("chart b_d55.png --match a_d55.png --to a --at {places} --match-at {places} {B}");
    let found = json(root, &format!("{by} --json"));
    let mean = |v: &serde_json::Value, key: &str| v[key]["mean"].as_f64().unwrap();
    assert!(mean(&found, "after") < 1.5, "{}", mean(&found, "after"));
    assert!(mean(&found, "after") < 0.5 * mean(&found, "before"));
    let under = |v: &serde_json::Value| v["frames"][0]["under_stops"].as_f64().unwrap();
    assert!((under(&found) - under(&chart)).abs() < 0.1, "{} {}", under(&found), under(&chart));
    assert!(found["frames"][0]["kelvin"].is_null());
    let text = output(root, &format!("{by} --look night --display onset"));
    assert_says(&text, &["by 24 places of one scene", "place 1", "through the look night on onset"]);
    assert_says(
        &refused(root, &format!("chart b_d55.png --match a_d55.png --to a --at 80,40 90,50 --match-at 80,40 {B}")),
        &["--match-at: 1 places for 2"],
    );
    assert_says(
        &refused(root, &format!("chart b_d55.png --match a_d55.png --to a --at 80 --match-at 80,40 {B}")),
        &["--at: `80`", "X,Y"],
    );
}

#[test]
fn what_was_measured_goes_into_the_sheet_the_card_and_the_hand_off() {
    let dir = demo();
    let root = dir.path();
    let sha = "0a".repeat(32);
    with(
        root,
        &format!(
            "measured = [{{ what = \"exposure at EI 100\", date = \"2026-03-14\", frames = {{ \"b_01.png\" = \"{sha}\" }} }}]"
        ),
    );
    let title = "exposure at EI 100, 2026-03-14";
    let sheet = json(root, "sheet show.toml --look day --json");
    assert_says(&sheet.to_string(), &[&sha, "exposure at EI 100"]);
    output(root, "sheet show.toml --look day --out sheet.html");
    assert_says(&fs::read_to_string(root.join("sheet.html")).unwrap(), &[title, "b_01.png (SHA-256 0a0a0a0a0a0a...)"]);
    output(root, "camera show.toml --camera b --out card.svg");
    assert_says(&fs::read_to_string(root.join("card.svg")).unwrap(), &["2026-03-14", "b_01.png"]);
    assert_says(&json(root, "camera show.toml --camera b --json").to_string(), &[&sha]);
    output(root, "package show.toml --out handoff");
    let readme = files(&root.join("handoff"));
    let readme = readme.iter().find(|(name, _)| name.starts_with("README")).unwrap().1;
    assert_says(&String::from_utf8_lossy(readme), &["Measurements of the cameras", title]);
    let dir = demo();
    with(dir.path(), "measured = [{ what = \"white\", frames = { \"x.png\" = \"12\" } }]");
    assert_says(&refused(dir.path(), "bake show.toml --out baked"), &["64 hexadecimal digits"]);
}
