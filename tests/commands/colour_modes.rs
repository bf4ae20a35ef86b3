//! `measure --chart` and `--to`: what another mode of a camera does to colours.

use rushlight::chart::classic::classic;
use rushlight::chart::light::Light;
use rushlight::chart::measure::Shot;
use rushlight::chart::modes::{By, Modes, by_frames, by_matrices};
use rushlight::chart::place::Place;
use rushlight::chart::read::view;
use rushlight::chromaticity::D65;
use rushlight::difference::{ciede2000, lab};
use rushlight::frame::{Depth, Format, write};
use rushlight::gamut::named_gamut;
use rushlight::math::exp2;
use rushlight::nalgebra::{Matrix3, Vector3};
use rushlight_tests::chart_scene::Scene;
use rushlight_tests::charts;
use rushlight_tests::scene::{assert_holds_to, assert_says, files, json, output, refused};
use rushlight_tests::sensor::Sensor;
use std::fs;
use tempfile::TempDir;

fn demo() -> TempDir {
    let dir = TempDir::new().unwrap();
    rushlight_tests::demo::copy(dir.path());
    for (name, bytes) in files(&charts::folder()) {
        fs::write(dir.path().join(name), bytes).unwrap();
    }
    dir
}

fn matrix(gamut: &str) -> Matrix3<f64> {
    let gamut = &named_gamut(gamut).unwrap().gamut;
    gamut.adaptation.matrix(gamut.white, D65) * gamut.to_xyz()
}

/// The differences by their own formula, at the exposure with the least of the robust sum, searched for on a fine grid.
fn expected(reference: &[[f64; 3]], first: &Matrix3<f64>, second: &Matrix3<f64>) -> Vec<f64> {
    let white: [f64; 3] = D65.to_xyz(1.0).into();
    let inverse = second.try_inverse().unwrap();
    let at = |stops: f64| -> Vec<f64> {
        let of = |xyz: &[f64; 3]| {
            let seen = first * (inverse * Vector3::from(*xyz)) * exp2(stops);
            ciede2000(lab(*xyz, white), lab(seen, white))
        };
        reference.iter().map(of).collect()
    };
    let cost = |d: &[f64]| d.iter().map(|e| (1.0 + e * e).sqrt() - 1.0).sum::<f64>();
    let all = (-4000..=4000).map(|i| at(f64::from(i) / 10_000.0));
    all.min_by(|a, b| cost(a).total_cmp(&cost(b))).unwrap()
}

#[test]
fn matrices_differ_by_what_a_frame_of_one_is_through_the_other() {
    let (chart, light) = (classic(), Light::parse("d55").unwrap());
    let reference = chart.reference(&light).unwrap();
    let gamuts = ["sgamut3-cine", "vgamut", "awg4", "bt2020"];
    for (one, two) in gamuts.iter().flat_map(|one| gamuts.iter().map(move |two| (*one, *two))) {
        let (first, second) = (matrix(one), matrix(two));
        let found = by_matrices(&chart, &reference, &first, &second).unwrap();
        let all = expected(&reference, &first, &second);
        let (mean, most) = (all.iter().sum::<f64>() / 24.0, all.iter().copied().fold(0.0, f64::max));
        for (patch, truth) in found.patches.iter().zip(&all) {
            assert!((patch.through_first - truth).abs() < 0.02, "{one}, {two}: {patch:?} for {truth}");
            assert!(patch.by_its_own < 1e-3, "{one}, {two}: {patch:?}");
        }
        // Two makers' gamuts that differ by less than an eye sees serve one another.
        assert_eq!(found.alike(), mean <= 1.0 && most <= 2.5, "{one}, {two}: {:?}", found.through_first);
        assert!(found.alike() || one != two, "{one}");
    }
    // Seen through the wider gamut, what was stated in the narrower one is more saturated, and the other way about.
    let narrow = by_matrices(&chart, &reference, &matrix("sgamut3-cine"), &matrix("bt709")).unwrap();
    assert!(narrow.saturation > 1.2, "{}", narrow.saturation);
    assert_says(&narrow.words().join("\n"), &["colours differ", "more saturated", "furthest apart: "]);
    let wide = by_matrices(&chart, &reference, &matrix("bt709"), &matrix("sgamut3-cine")).unwrap();
    assert!(wide.saturation < 0.8, "{}", wide.saturation);
    assert_says(&wide.words().join("\n"), &["less saturated"]);
    let singular = Matrix3::repeat(1.0);
    assert!(by_matrices(&chart, &reference, &matrix("bt709"), &singular).is_err());
}

/// Frames of both modes say what their matrices say, and exposure and white by themselves.
#[test]
fn frames_say_what_the_matrices_say() {
    let (chart, light) = (classic(), Light::parse("d55").unwrap());
    let reference = chart.reference(&light).unwrap();
    let mut sensor = Sensor::new("slog3");
    (sensor.electrons, sensor.pattern) = ([60_000.0; 3], 0.0);
    let place = Place::of_corners([[90.0, 40.0], [390.0, 46.0], [386.0, 236.0], [86.0, 228.0]], 6, 4).unwrap();
    let shot = |gamut: &str, stops: f64, cast: [f64; 2], seed: u64| {
        let gains = Matrix3::from_diagonal(&Vector3::new(exp2(cast[0]), 1.0, exp2(cast[1])));
        let sees = gains * matrix(gamut).try_inverse().unwrap();
        let scene = Scene {
            size: [480, 270],
            place,
            colours: reference.clone(),
            things: Vec::new(),
            stops,
            vignette: 0.0,
            slope: 0.0,
            sees,
            shine: None,
        };
        let frame = scene.seen(&chart, &sensor, seed);
        let view = view(&frame, &chart, &reference, &sensor.claim, None, None).unwrap();
        Shot { name: "chart.tif".to_owned(), light: light.clone(), view }
    };
    for (one, two, stops, cast) in [
        ("sgamut3-cine", "vgamut", 0.4, [0.0, 0.0]),
        ("vgamut", "sgamut3-cine", -0.3, [0.12, -0.2]),
        ("sgamut3-cine", "sgamut3-cine", 0.0, [0.0, 0.0]),
    ] {
        let first = matrix(one);
        let found: Modes = by_frames(&chart, &shot(one, 0.0, [0.0; 2], 1), &shot(two, stops, cast, 2), &first).unwrap();
        let truth = by_matrices(&chart, &reference, &first, &matrix(two)).unwrap();
        assert_eq!(found.by, By::Frames);
        assert!((found.stops - stops).abs() < 0.03, "{one}, {two}: {}", found.stops);
        assert!((0..2).all(|c| (found.cast_stops[c] - cast[c]).abs() < 0.03), "{one}, {two}: {:?}", found.cast_stops);
        for (a, b) in found.patches.iter().zip(&truth.patches) {
            assert!((a.through_first - b.through_first).abs() < 0.5, "{one}, {two}: {a:?} for {b:?}");
        }
        assert!((found.saturation - truth.saturation).abs() < 0.02, "{one}, {two}: {}", found.saturation);
        assert!((found.hue_degrees - truth.hue_degrees).abs() < 1.0, "{one}, {two}: {}", found.hue_degrees);
        let said = found.words().join("\n");
        assert_eq!(said.starts_with("colours are the same"), one == two, "{said}");
        assert_eq!(said.contains("white differs"), cast != [0.0; 2], "{said}");
        assert_eq!(said.contains("stops brighter"), stops > 0.1, "{said}");
        assert_eq!(said.contains("stops darker"), stops < -0.1, "{said}");
    }
}

#[test]
fn the_command_says_it_by_frames_and_by_what_the_show_states() {
    let dir = demo();
    let root = dir.path();
    let same = "measure --chart b_d55.png b_d55.png --light d55 --show show.toml --camera b";
    let text = output(root, same);
    assert_says(
        &text,
        &["what the second mode does to colours, by the chart in both, in D55", "colours are the same: CIEDE2000 0.00"],
    );
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    // B has a curve of its own.
    let other = "measure --chart a_d55.png b_d55.png --light d55 --show show.toml --camera a --to b";
    let text = output(root, other);
    assert_says(&text, &["colours differ: ", "furthest apart: ", "first's matrix", "dark skin"]);
    let found = json(root, &format!("{other} --json"));
    assert_holds_to(root, "measure", &found);
    assert_eq!(found["colour"]["frames"][1]["file"], "b_d55.png");
    assert_eq!(found["colour"]["frames"][1]["sha256"].as_str().unwrap().len(), 64);
    let match_left = json(
        root,
        "chart b_d55.png --light d55 --match a_d55.png --to a --show show.toml --camera b --picture found.svg --json",
    );
    let mean = |v: &serde_json::Value| v.as_f64().unwrap();
    assert!((mean(&found["colour"]["by_its_own"][0]) - mean(&match_left["after"]["mean"])).abs() < 0.05);
    // What the show states of both.
    let text = output(root, "measure --to b --show show.toml --camera a");
    assert_says(&text, &["as the show states both, in D65", "colours differ"]);
    let text = output(root, "measure --to a --show show.toml --camera a --light a");
    assert_says(&text, &["in illuminant A", "colours are the same"]);
    // Without a show, the first mode's matrix is fitted to its own frame.
    let text = output(root, "measure --chart b_d55.png b_d55.png --light d55 --curve curves/harbour.toml");
    assert_says(&text, &["colours are the same"]);
    for (args, says) in [
        ("measure --chart b_d55.png --light d55 --show show.toml --camera b", "2 values required"),
        ("measure --chart b_d55.png b_d55.png --show show.toml --camera b", "--light"),
        ("measure --chart b_d55.png b_d55.png --light d55", "the curve is unknown: give --show, or --curve"),
        (
            "measure --chart b_d55.png b_d55.png b_a.png --light d55 --show show.toml --camera b",
            "--chart takes two frames, this mode's and the other mode's: b_a.png is one too many",
        ),
        ("measure --to x --show show.toml --camera b", "--to: unknown camera `x`"),
        ("measure --chart b_d55.png b_d55.png --light noon --show show.toml --camera b", "`noon` is not a light"),
    ] {
        assert_says(&refused(root, args), &[says]);
    }
    // Beside the brackets or the frames of both modes.
    let frames =
        "measure b_d55.png --against b_a.png --chart b_d55.png b_a.png --light d55 --show show.toml --camera b";
    assert_says(
        &output(root, frames),
        &["modes: the second against the first", "what the second mode does to colours"],
    );
}

/// The frame that is written here is read as it is.
#[test]
fn a_frame_without_a_chart_is_refused_by_its_name() {
    let dir = demo();
    let card = Sensor::new("slog3").card(0.0, 320, 180, 3);
    fs::write(dir.path().join("card.png"), write(&card, Format::Png, Depth::Integer(16)).unwrap()).unwrap();
    let args = "measure --chart b_d55.png card.png --light d55 --show show.toml --camera b";
    assert_says(&refused(dir.path(), args), &["card.png"]);
}
