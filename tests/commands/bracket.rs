//! A bracket that cannot be misread: which patch is the card, and what is wrong with the bracket rather than the camera.

use rushlight::frame::{Depth, Format, Frame, write};
use rushlight::math::exp2;
use rushlight::measure::choice::choose;
use rushlight::measure::faults::moved;
use rushlight::measure::grid::Grid;
use rushlight::measure::patch::Patch;
use rushlight::measure::{Settings, Shot, measure};
use rushlight::processing::noise::noise;
use rushlight::transfer::MID_GREY;
use rushlight_tests::scene::{assert_says, json, output, put, refused};
use rushlight_tests::sensor::{Draw, Sensor};
use std::fs;
use tempfile::TempDir;

/// Pixels of a frame with a card in it.
const SIZE: [usize; 2] = [240, 136];

/// A rectangle of a scene, and its stops from mid-grey.
type Part = ([usize; 4], f64);

/// A frame of a scene of parts, each over those before it, on a ground.
fn frame(sensor: &Sensor, stops: f64, ground: f64, parts: &[Part], seed: u64) -> Frame {
    sensor.picture(SIZE[0], SIZE[1], seed, |x, y| {
        let inside = |[left, top, w, h]: [usize; 4]| x >= left && x < left + w && y >= top && y < top + h;
        let level = parts.iter().rev().find(|p| inside(p.0)).map_or(ground, |p| p.1);
        [MID_GREY * exp2(stops + level); 3]
    })
}

fn grids(frames: &[(f64, Frame)]) -> Vec<Grid> {
    frames.iter().map(|(stops, f)| Grid::of(format!("at {stops:+}"), *stops, f)).collect()
}

fn bracket(sensor: &Sensor, ground: f64, parts: &[Part]) -> Vec<(f64, Frame)> {
    (-8..=7).map(f64::from).map(|s| (s, frame(sensor, s, ground, parts, (s + 50.0) as u64))).collect()
}

fn within(patch: &Patch, [x, y, w, h]: [usize; 4]) -> bool {
    patch.x >= x && patch.y >= y && patch.x + patch.width <= x + w && patch.y + patch.height <= y + h
}

const CARD: [usize; 4] = [84, 44, 72, 48];

/// The surround is larger and more even than the card, and 1.6 stops darker: it was once taken for it.
#[test]
fn the_card_is_taken_and_not_the_surround() {
    for curve in ["slog3", "vlog", "logc3"] {
        for electrons in [900.0, 20_000.0] {
            for ground in [-1.6, -0.8, 0.9] {
                let sensor = Sensor { electrons: [electrons; 3], bits: 10, ..Sensor::new(curve) };
                let frames = bracket(&sensor, ground, &[(CARD, 0.0)]);
                for claim in [None, Some(&sensor.claim)] {
                    let said = format!("{curve} {electrons} {ground} {}", claim.is_some());
                    match choose(&grids(&frames), claim) {
                        Ok(choice) => {
                            assert!(within(&choice.best.patch, CARD), "{said}: {}", choice.best.patch);
                            let next = choice.runner_up.unwrap_or_else(|| panic!("{said}: there is a surround"));
                            assert!((next.stops - ground).abs() < 0.1, "{said}: {}", next.stops);
                        }
                        // A brighter surround may be refused, never taken.
                        Err(why) => assert!(ground > 0.0 && why.to_string().contains("two patches"), "{said}: {why}"),
                    }
                }
            }
        }
    }
}

#[test]
fn a_card_that_fills_the_frame_is_taken_whole_and_one_in_clutter_is_found() {
    let sensor = Sensor::new("slog3");
    let choice = choose(&grids(&bracket(&sensor, 0.0, &[])), None).unwrap();
    assert!(choice.best.share > 0.8 && choice.runner_up.is_none(), "{choice:?}");
    let scene = |stops: f64, seed: u64| {
        sensor.picture(SIZE[0], SIZE[1], seed, |x, y| {
            let card = (90..160).contains(&x) && (40..100).contains(&y);
            let level = if card { 0.0 } else { -2.0 + (x as f64 / 9.0).fract() * 3.0 + (y as f64 / 13.0).fract() };
            [MID_GREY * exp2(stops + level); 3]
        })
    };
    let frames: Vec<(f64, Frame)> = (-8..=7).map(|s| (f64::from(s), scene(f64::from(s), (s + 9) as u64))).collect();
    let choice = choose(&grids(&frames), None).unwrap();
    assert!(within(&choice.best.patch, [90, 40, 70, 60]), "{}", choice.best.patch);
}

#[test]
fn two_patches_that_could_be_the_card_are_both_named() {
    let sensor = Sensor::new("slog3");
    // A grey and a light card side by side.
    let cards = [([50, 40, 60, 56], 0.0), ([130, 40, 60, 56], 1.3)];
    let frames = bracket(&sensor, -3.0, &cards);
    let why = choose(&grids(&frames), None).unwrap_err().to_string();
    assert!(why.contains("two patches could be the card") && why.matches("--patch ").count() == 2, "{why}");
    assert!(why.contains("1.30 stops") || why.contains("1.29 stops") || why.contains("1.31 stops"), "{why}");
    // Where the camera's curve is known, the meter's mid-grey tells them apart.
    let choice = choose(&grids(&frames), Some(&sensor.claim));
    assert!(choice.is_err() || within(&choice.unwrap().best.patch, cards[0].0));
}

#[test]
fn a_card_that_moves_is_told_apart() {
    let sensor = Sensor::new("slog3");
    let shifted = |by: usize| -> Vec<(f64, Frame)> {
        (-6..=6)
            .map(|s| {
                let [x, y, w, h] = CARD;
                let at = if s == 2 { [x + by, y, w, h] } else { CARD };
                let stops = f64::from(s);
                (stops, frame(&sensor, stops, -2.0, &[(at, 0.0)], (s + 30) as u64))
            })
            .collect()
    };
    let patch = Patch::new([CARD[0] + 4, CARD[1] + 4, CARD[2] - 8, CARD[3] - 8], SIZE[0], SIZE[1]).unwrap();
    assert_eq!(moved(&grids(&shifted(0)), &patch), []);
    let found = moved(&grids(&shifted(30)), &patch);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].lost && found[0].name == "at +2", "{found:?}");
    assert!((found[0].pixels[0] - 30.0).abs() < 4.0, "{found:?}");
    // A patch that stays on the card.
    let inner = Patch::new([CARD[0] + 34, CARD[1] + 8, CARD[2] - 44, CARD[3] - 16], SIZE[0], SIZE[1]).unwrap();
    let found = moved(&grids(&shifted(30)), &inner);
    assert!(found.len() == 1 && !found[0].lost, "{found:?}");
}

fn shots(sensor: &Sensor, stops: impl Iterator<Item = (f64, f64)>, frames: u64) -> Vec<Shot> {
    stops
        .map(|(said, truth)| {
            let seed = |k: u64| 1000 * ((said + 30.0) * 4.0) as u64 + k;
            let patches = (0..frames).map(|k| sensor.card(truth, 48, 48, seed(k))).collect();
            Shot { name: format!("card_{said:+}.tif"), stops: said, patches }
        })
        .collect()
}

#[test]
fn a_step_that_lies_is_named_and_a_second_patch_confirms_it() {
    let sensor = Sensor::new("slog3");
    // From -1 on every exposure has 0.4 stops more than it says.
    let lying = |s: f64| if s >= -1.0 { s + 0.4 } else { s };
    let bracket = shots(&sensor, (-7..=6).map(|s| (f64::from(s), lying(f64::from(s)))), 1);
    let signal = |stops: f64| sensor.claim.encode(MID_GREY * exp2(stops));
    // The witness has its own level: what the exposures do to it is the truth.
    let witness: Vec<f64> = (-7..=6).map(|s| signal(lying(f64::from(s)) - 1.5)).collect();
    let claim = Some(sensor.claim.clone());
    let settings = Settings { claim: claim.clone(), witness: Some(witness), ..Settings::default() };
    let said = measure(&bracket, &settings).unwrap().remarks.join("\n");
    assert!(said.contains("the step from card_-2.tif to card_-1.tif is 1.4"), "{said}");
    assert!(said.contains("a second patch shows the same"), "{said}");
    let alone =
        measure(&bracket, &Settings { claim: claim.clone(), ..Settings::default() }).unwrap().remarks.join("\n");
    assert!(alone.contains("card_-1.tif is 1.4") && !alone.contains("second patch"), "{alone}");
    // A second patch that goes on evenly says that it is the curve.
    let even: Vec<f64> = (-7..=6).map(|s| signal(f64::from(s) - 1.5)).collect();
    let settings = Settings { claim, witness: Some(even), ..Settings::default() };
    let said = measure(&bracket, &settings).unwrap().remarks.join("\n");
    assert!(!said.contains("the step from"), "{said}");
}

#[test]
fn steps_that_are_all_shorter_are_named() {
    let sensor = Sensor::new("slog3");
    let bracket = shots(&sensor, (-7..=7).map(|s| (f64::from(s), 0.8 * f64::from(s))), 1);
    let settings = Settings { claim: Some(sensor.claim.clone()), ..Settings::default() };
    let said = measure(&bracket, &settings).unwrap().remarks.join("\n");
    assert!(said.contains("each stop of the bracket is 0.8"), "{said}");
    let right = shots(&sensor, (-7..=7).map(|s| (f64::from(s), f64::from(s))), 1);
    let said = measure(&right, &settings).unwrap().remarks.join("\n");
    assert!(!said.contains("each stop") && !said.contains("the step from") && !said.contains("flicker"), "{said}");
}

#[test]
fn a_light_that_flickers_is_told_apart_from_noise() {
    let sensor = Sensor::new("slog3");
    let mut bracket = shots(&sensor, (-7..=6).map(|s| (f64::from(s), f64::from(s))), 4);
    let settings = Settings { claim: Some(sensor.claim.clone()), ..Settings::default() };
    let before = measure(&bracket, &settings).unwrap();
    assert!(!before.remarks.join("\n").contains("flickers"), "{:?}", before.remarks);
    for shot in &mut bracket {
        for (k, patch) in shot.patches.iter_mut().enumerate() {
            *patch = sensor.card(shot.stops + [0.1, -0.1, 0.06, 0.0][k], 48, 48, 77 + k as u64);
        }
    }
    let measured = measure(&bracket, &settings).unwrap();
    assert!(measured.remarks.join("\n").contains("the light flickers"), "{:?}", measured.remarks);
    // And it is not counted as noise.
    let (a, b) = (before.floor().unwrap().stops, measured.floor().unwrap().stops);
    assert!((a - b).abs() < 0.1, "{a} {b}");
    // Bands of a light at mains frequency.
    let mut bands = shots(&sensor, (-7..=6).map(|s| (f64::from(s), f64::from(s))), 1);
    for shot in &mut bands {
        shot.patches[0] = sensor
            .picture(48, 48, 5, |_, y| [MID_GREY * exp2(shot.stops + 0.06 * rushlight::math::sin(y as f64 / 3.0)); 3]);
    }
    let said = measure(&bands, &settings).unwrap().remarks.join("\n");
    assert!(said.contains("bands run across the patch"), "{said}");
}

/// Frames through a mean over a square of pixels, as strong noise reduction does.
fn smoothed(frame: &Frame, edge: usize) -> Frame {
    let (w, h) = (frame.width() - edge, frame.height() - edge);
    let samples = (0..w * h)
        .flat_map(|i| {
            let all = || (0..edge * edge).map(move |k| (i % w + k % edge, i / w + k / edge));
            std::array::from_fn::<f32, 3, _>(|c| {
                all().map(|(x, y)| frame.rgb(x, y)[c]).sum::<f32>() / (edge * edge) as f32
            })
        })
        .collect();
    Frame::new(w, h, false, samples, frame.info.clone()).unwrap()
}

#[test]
fn smoothed_noise_is_no_card_that_moves() {
    let dir = TempDir::new().unwrap();
    let sensor = Sensor { pattern: 0.0, bits: 16, ..Sensor::new("slog3") };
    let soft: Vec<(f64, Frame)> =
        (-6..=5).map(|s| (f64::from(s), smoothed(&sensor.card(f64::from(s), 182, 182, (s + 900) as u64), 6))).collect();
    let names = save(&dir, &soft);
    output(dir.path(), &format!("measure {names} --stops -6:5:1 --curve slog3 --patch 0,0,176,176"));
}

#[test]
fn noise_reduction_is_seen_and_the_floor_is_given_without_it() {
    let sensor = Sensor { pattern: 0.0, bits: 16, ..Sensor::new("slog3") };
    let settings = Settings { claim: Some(sensor.claim.clone()), ..Settings::default() };
    let truth = sensor.floor(1, 1.0);
    let mut plain = sensor.bracket((-9..=7).map(f64::from), 96, 1);
    let seen = measure(&plain, &settings).unwrap();
    let found = noise(&plain, &seen, 1.0);
    assert!(found.smoothed_pixels.unwrap() < 1.15 && found.flattered.is_none(), "{found:?}");
    for (edge, flattered) in [(2usize, false), (5, true)] {
        for (i, shot) in plain.iter_mut().enumerate() {
            shot.patches = vec![smoothed(&sensor.card(shot.stops, 96, 96, 4000 + i as u64), edge)];
        }
        let measured = measure(&plain, &settings).unwrap();
        let found = noise(&plain, &measured, 1.0);
        let pixels = found.smoothed_pixels.unwrap();
        assert!((pixels / edge as f64 - 1.0).abs() < 0.2, "{edge}: {pixels}");
        assert_eq!(found.flattered.is_some(), flattered, "{:?}", found.flattered);
        // Smoothed in log: the darkest frames differ a little from light.
        assert!(measured.floor().unwrap().stops < truth - 0.7, "{edge}: it flatters");
        let white = found.white.floor_stops.unwrap();
        assert!((white - truth).abs() < 0.35, "{edge}: {white} for {truth}");
    }
}

fn save(dir: &TempDir, frames: &[(f64, Frame)]) -> String {
    let name = |stops: f64| format!("card_{:02}.tif", (stops + 20.0) as i32);
    for (stops, frame) in frames {
        fs::write(dir.path().join(name(*stops)), write(frame, Format::Tiff, Depth::Integer(16)).unwrap()).unwrap();
    }
    frames.iter().map(|f| name(f.0)).collect::<Vec<_>>().join(" ")
}

const SHOW: &str = "schema = 1\ntitle = 'Saltmarsh'\n# the boat\n[cameras.b]\ncurve = 'slog3'\ngamut = 'sgamut3-cine'\n[[cameras.b.rating]]\nei = 800\nclip = 0.88 # by the maker\nfloor_stops = -6\n";

#[test]
fn the_report_shows_the_patch_and_a_picture_of_it() {
    let dir = TempDir::new().unwrap();
    let sensor = Sensor::new("slog3");
    let names = save(&dir, &bracket(&sensor, -1.6, &[(CARD, 0.0)]));
    let line = format!("measure {names} --stops -8:7:1 --ei 800 --date 2026-03-14 --picture patch.svg --plot plot.svg");
    let text = output(dir.path(), &line);
    assert_says(&text, &["found (`#`)", ".####", "picture written to patch.svg"]);
    assert_says(&text.split_whitespace().collect::<Vec<_>>().join(" "), &["next best ", " -1.6"]);
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    let svg = fs::read_to_string(dir.path().join("patch.svg")).unwrap();
    assert_says(&svg, &["measured", "next best, -1.6", "Measured patch: the camera, EI 800, 2026-03-14"]);
    let plot = fs::read_to_string(dir.path().join("plot.svg")).unwrap();
    assert_says(&plot, &["Measured: the camera, EI 800, 2026-03-14", "patch ", "stops from mid-grey"]);
    let nowhere = refused(dir.path(), &format!("measure {names} --stops -8:7:1 --date 2026-03-14"));
    assert_says(&nowhere, &["--date is written nowhere: give --write, --plot or --picture"]);
    let found = json(dir.path(), &format!("measure {names} --stops -8:7:1 --json"));
    let next = &found["brackets"][0]["choice"]["runner_up"];
    assert!((next["stops"].as_f64().unwrap() + 1.6).abs() < 0.1, "{next}");
}

#[test]
fn two_patches_and_a_card_that_moves_are_refused() {
    let dir = TempDir::new().unwrap();
    let sensor = Sensor::new("slog3");
    let names = save(&dir, &bracket(&sensor, -3.0, &[([50, 40, 60, 56], 0.0), ([130, 40, 60, 56], 1.3)]));
    let said = refused(dir.path(), &format!("measure {names} --stops -8:7:1"));
    assert_says(&said, &["two patches could be the card", "--patch "]);
    let mut frames = bracket(&sensor, -2.0, &[(CARD, 0.0)]);
    frames[9].1 = frame(&sensor, 1.0, -2.0, &[([120, 44, 72, 48], 0.0)], 4);
    let names = save(&dir, &frames);
    let said = refused(dir.path(), &format!("measure {names} --stops -8:7:1 --patch 88,48,64,40"));
    assert_says(&said, &["card_21.tif: the card lies about 3", "is partly beside it"]);
}

#[test]
fn what_lies_off_the_curve_or_is_flattered_is_written_only_if_accepted() {
    let dir = TempDir::new().unwrap();
    put(dir.path(), "show.toml", SHOW);
    let sensor = Sensor::new("slog3");
    let names = save(&dir, &bracket(&sensor, -0.8, &[(CARD, 0.0)]));
    let args =
        |patch: &str| format!("measure {names} --stops -8:7:1 --ei 800 --show show.toml --camera b --write {patch}");
    // The surround, by name: 0.8 stops under the curve.
    let said = refused(dir.path(), &args("--patch 4,4,60,30"));
    assert_says(&said, &["0.80 stops under mid-grey of the camera's curve", "nothing is written", "--accept"]);
    assert_eq!(fs::read_to_string(dir.path().join("show.toml")).unwrap(), SHOW);
    let said = output(dir.path(), &args("--patch 4,4,60,30 --accept"));
    assert_says(&said, &["EI 800: clip was 0.88, is 0.8", "EI 800: floor was -6.0 stops, is -"]);
    // What a bracket did not reach stays as it was.
    put(dir.path(), "show.toml", SHOW);
    let short: Vec<(f64, Frame)> = bracket(&sensor, -1.6, &[(CARD, 0.0)]).into_iter().take(12).collect();
    let names = save(&dir, &short);
    let args = format!("measure {names} --stops -8:3:1 --ei 800 --show show.toml --camera b --write");
    assert_says(&output(dir.path(), &args), &["EI 800: clip stays 0.88, which this bracket did not measure"]);
    let written = fs::read_to_string(dir.path().join("show.toml")).unwrap();
    assert!(written.contains("clip = 0.88 # by the maker") && written.contains("# the boat"), "{written}");
    // Strong noise reduction.
    put(dir.path(), "show.toml", SHOW);
    let soft: Vec<(f64, Frame)> =
        (-8..=7).map(|s| (f64::from(s), smoothed(&sensor.card(f64::from(s), 100, 100, (s + 60) as u64), 6))).collect();
    let names = save(&dir, &soft);
    let args = format!("measure {names} --stops -8:7:1 --ei 800 --show show.toml --camera b");
    assert_says(&output(dir.path(), &args), &["flattered", "noise is smoothed over about"]);
    let said = refused(dir.path(), &format!("{args} --write"));
    assert_says(&said, &["is flattered", "--accept"]);
    assert_eq!(fs::read_to_string(dir.path().join("show.toml")).unwrap(), SHOW);
    // What smoothing flatters never stands alone: not in the rating, not where exposure indices are compared.
    let text = output(dir.path(), &args);
    assert_says(&text, &[" as seen, ", " with white"]);
    let rows: Vec<String> = names.split(' ').zip(-8..=7).map(|(name, stops)| format!("{name},{stops},800")).collect();
    put(dir.path(), "list.csv", &format!("file,stops,ei\n{}\n", rows.join("\n")));
    let compare = "measure --list list.csv --show show.toml --camera b --compare 800 800:+1";
    let text = output(dir.path(), &format!("{compare} --plot plot.svg"));
    assert_says(&text, &["(and percent), as seen", "(and percent), with"]);
    assert_says(&fs::read_to_string(dir.path().join("plot.svg")).unwrap(), &["with white noise", "expose by these"]);
    let found = json(dir.path(), &format!("{compare} --json"));
    let grey = |key: &str| {
        let zones = found[key][0]["zones"].as_array().unwrap();
        let grey = zones.iter().find(|z| z["stops"] == 0.0).unwrap();
        grey["noise_stops"].as_f64().unwrap()
    };
    // Means of 36 pixels have a sixth of the noise.
    assert!((grey("compared_white") / grey("compared") / 6.0 - 1.0).abs() < 0.25, "{found}");
}

/// Over many drawn scenes the patch is the card, or none is chosen.
#[test]
fn over_drawn_scenes_the_patch_is_right_or_refused() {
    let mut draw = Draw::new(4);
    let (mut right, mut refused) = (0, 0);
    for _ in 0..24 {
        let sensor = Sensor { electrons: [800.0 + 8000.0 * draw.unit(); 3], bits: 10, ..Sensor::new("vlog") };
        let between = |draw: &mut Draw, from: f64, to: f64| from + (to - from) * draw.unit();
        let (w, h) = (between(&mut draw, 50.0, 120.0) as usize, between(&mut draw, 40.0, 80.0) as usize);
        let (x, y) = ((SIZE[0] - w) / 2, (SIZE[1] - h) / 2);
        let (x, y) = (x + (20.0 * draw.unit()) as usize - 10, y + (12.0 * draw.unit()) as usize - 6);
        let ground = between(&mut draw, -3.0, -0.5);
        let clutter =
            ([(180.0 * draw.unit()) as usize, (8.0 * draw.unit()) as usize, 40, 20], between(&mut draw, -4.0, 3.0));
        let card = [x, y, w, h];
        match choose(&grids(&bracket(&sensor, ground, &[clutter, (card, 0.0)])), None) {
            Ok(choice) => {
                assert!(within(&choice.best.patch, card), "{card:?} {ground} {clutter:?}: {}", choice.best.patch);
                right += 1;
            }
            Err(why) => {
                assert!(why.to_string().contains("two patches"), "{why}");
                refused += 1;
            }
        }
    }
    assert!(right > 15, "{right} right, {refused} refused");
}
