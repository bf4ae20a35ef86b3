//! `measure`: from files to findings, ratings, curves and charts.

use rushlight::frame::{Depth, Format, Frame, FrameError, ReadOptions, read, write};
use rushlight::gamut::AP1;
use rushlight::math::{exp2, log2};
use rushlight::transfer::MID_GREY;
use rushlight_tests::brackets::{self, Bracket};
use rushlight_tests::demo;
use rushlight_tests::scene::{
    Transcript, assert_says, demo_with, files, json, output, put, refused, refused_with, run,
};
use rushlight_tests::sensor::Sensor;
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use tempfile::TempDir;

/// A folder with the demo show, its curve, its looks and its brackets.
fn demo() -> TempDir {
    demo_with(&[(demo::folder().join("brackets"), "brackets")])
}

#[test]
fn the_brackets_are_what_their_maker_makes() {
    let committed = files(&brackets::folder());
    let made = brackets::files();
    assert_eq!(committed.len(), made.len());
    for (name, bytes) in made {
        let (a, b) = (&committed[&name], &bytes);
        if name.ends_with(".png") {
            let pixels = |file: &[u8]| -> Result<Frame, FrameError> { read(file, &ReadOptions::default()) };
            assert_eq!(pixels(a), pixels(b), "{name}: make them again with the binary `demo_brackets`");
        } else {
            assert_eq!(a, b, "{name}");
        }
    }
}

/// The findings against the truth of the sensor: the tolerances of the library's own tests.
fn holds(found: &Value, bracket: &Bracket) {
    for (c, channel) in found["channels"].as_array().unwrap().iter().enumerate() {
        let number = |v: &Value| v.as_f64().unwrap_or(f64::NAN);
        let truth = &bracket.sensor;
        let clip = log2(truth.full[c] / MID_GREY);
        assert!((number(&channel["clip"]["stops"]) - clip).abs() < 0.02, "{channel} for {clip}");
        assert!((number(&channel["floor"]["stops"]) - truth.floor(c, 1.0)).abs() < 0.1, "{channel}");
        assert!((number(&channel["grey"]) - truth.claim.encode(MID_GREY)).abs() < 1.0 / 1023.0, "{channel}");
    }
}

#[test]
fn the_demo_cameras_are_measured_as_they_are() {
    let dir = demo();
    let all = brackets::brackets();
    for camera in ["a", "b"] {
        let found = json(
            dir.path(),
            &format!("measure --list brackets/{camera}.csv --show show.toml --camera {camera} --json"),
        );
        assert_eq!(found["schema"], 1);
        let found = found["brackets"].as_array().unwrap().clone();
        let own: Vec<&Bracket> = all.iter().filter(|b| b.camera == camera).collect();
        assert_eq!(found.len(), own.len());
        for (found, bracket) in found.iter().zip(own) {
            assert_eq!(found["ei"], f64::from(bracket.ei));
            assert_eq!(found["curve"]["source"], "claimed");
            holds(found, bracket);
        }
    }
}

#[test]
fn text_fits_the_terminal_and_says_what_was_found() {
    let dir = demo();
    let text = output(dir.path(), "measure --list brackets/a.csv --show show.toml --camera a --compare 800 1600:+1");
    assert_says(
        &text,
        &[
            "EI 800: 17 exposures",
            "slog3, as given",
            "read noise",
            "latitude",
            "ei = 1600, clip = 0.9",
            "EI 1600 +1",
            "EI 1600 +1 is exposed 1 stop\nover",
        ],
    );
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    assert!(text.find("  latitude") < text.find("  patch"), "the verdict comes before the figures: {text}");
    // The same sensor, the same light: as little noise as the base, with its clip where the base has it.
    let found =
        json(dir.path(), "measure --list brackets/a.csv --show show.toml --camera a --compare 800 1600:+1 --json");
    let rows = found["compared"].as_array().unwrap();
    let clip = |i: usize| rows[i]["clip_stops"].as_f64().unwrap();
    assert!((clip(0) - clip(1)).abs() < 0.03);
    for zone in 2..10 {
        let noise = |i: usize| rows[i]["zones"][zone]["noise_stops"].as_f64().unwrap();
        assert!((noise(0) / noise(1) - 1.0).abs() < 0.1, "{zone}: {} {}", noise(0), noise(1));
    }
}

#[test]
fn ratings_go_into_the_show_and_nothing_else_changes() {
    let dir = demo();
    let before = fs::read_to_string(dir.path().join("show.toml")).unwrap();
    output(dir.path(), "measure --list brackets/a.csv --show show.toml --camera a --write");
    let after = fs::read_to_string(dir.path().join("show.toml")).unwrap();
    // One line is new: what was measured, by which frames.
    let (noted, kept): (Vec<&str>, Vec<&str>) = after.lines().partition(|line| line.starts_with("measured = "));
    assert_eq!(noted.len(), 1);
    assert_says(
        noted[0],
        &["what = \"exposure at EI 800\"", "what = \"exposure at EI 1600\"", "\"a_800_01.png\" = \""],
    );
    let changed: Vec<(&str, &str)> = before.lines().zip(kept.iter().copied()).filter(|(a, b)| a != b).collect();
    assert_eq!(before.lines().count(), kept.len());
    assert!(!changed.is_empty() && changed.len() <= 4, "{changed:?}");
    for (a, b) in changed {
        let comment = |l: &str| l.find('#').map(|at| l[at..].to_owned());
        assert_eq!(comment(a), comment(b));
        assert!(b.starts_with("clip = 0.") || b.starts_with("floor_stops = -"), "{b}");
    }
    // A camera at an EI that the show does not rate yet.
    let list = fs::read_to_string(dir.path().join("brackets/b.csv")).unwrap().replace(",200\n", ",250\n");
    put(dir.path(), "brackets/b250.csv", &list);
    let said = output(dir.path(), "measure --list brackets/b250.csv --show show.toml --camera b --write");
    assert_says(&said, &["ratings written to show.toml"]);
    let show = fs::read_to_string(dir.path().join("show.toml")).unwrap();
    assert!(show.contains("\n[[cameras.b.rating]]\nei = 250\nclip = 0.7"), "{show}");
    // The stop table reads them.
    assert_says(&output(dir.path(), "camera show.toml --camera b"), &["250"]);
}

#[test]
fn a_curve_is_fitted_and_a_chart_is_drawn() {
    let dir = demo();
    let text = output(dir.path(), "measure --list brackets/b.csv --fit heron.toml --plot chart.svg");
    assert_says(&text, &["a fitted curve, since no published curve fits", "residuals ", " at +3", "by ISO 15739"]);
    let curve = output(dir.path(), "curve heron.toml");
    assert_says(&curve, &["heron", "fitted by rushlight to a bracket of 14 exposures at EI 200 in full"]);
    let svg = fs::read_to_string(dir.path().join("chart.svg")).unwrap();
    assert!(
        svg.starts_with("<svg") && svg.contains("deviation from the curve") && svg.contains("EI 200: signal to noise")
    );
    assert!(svg.contains("Latitude: EI 200: 9.9 stops"), "the latitude of one index is a sentence");
    // Latitude at the exposure indices that were measured, and at no round number between them.
    output(dir.path(), "measure --list brackets/a.csv --plot two.svg");
    let svg = fs::read_to_string(dir.path().join("two.svg")).unwrap();
    assert!(svg.contains(">800<") && svg.contains(">1600<") && !svg.contains(">1500<"));
    assert_says(&refused(dir.path(), "measure --list brackets/b.csv --plot chart.gif"), &["must end in .svg"]);
}

/// A bracket of TIFF files in `dir`.
fn bracket(dir: &Path, sensor: &Sensor, stops: impl Iterator<Item = i32>) -> Vec<String> {
    stops
        .map(|stop| {
            let frame = sensor.card(f64::from(stop), 48, 48, (stop + 100) as u64);
            let name = format!("card_{:02}.tif", stop + 20);
            fs::write(dir.join(&name), write(&frame, Format::Tiff, Depth::Integer(16)).unwrap()).unwrap();
            name
        })
        .collect()
}

/// Printed and written ratings are in the show's terms, also where the meter reads another mid-grey than the curve has.
#[test]
fn a_rating_is_counted_from_the_curves_mid_grey() {
    let dir = demo();
    let show = rushlight_tests::demo::show();
    let camera = &show.cameras()["a"].item;
    let mut sensor = Sensor::new("slog3");
    (sensor.claim.curve, sensor.claim.range) = (camera.shared_curve(), camera.range());
    let names = bracket(dir.path(), &sensor, -9..=8).join(" ");
    // The meter says 0.7 stops less than there was.
    let args = "--stops -9.7:7.3:1 --ei 640 --show show.toml --camera a --write --accept";
    let text = output(dir.path(), &format!("measure {names} {args}"));
    assert_says(&text, &["0.70 stops over mid-grey of the", "floor_stops of the rating counts from mid-grey"]);
    let truth = sensor.floor(0, 1.0);
    let written = fs::read_to_string(dir.path().join("show.toml")).unwrap();
    let rating = written.split("ei = 640\n").nth(1).expect("a rating");
    let floor = rating.lines().find_map(|l| l.strip_prefix("floor_stops = ")).unwrap();
    assert!((floor.parse::<f64>().unwrap() - truth).abs() < 0.1, "{floor} for {truth}");
    assert!(text.contains(&format!("floor_stops = {floor}")), "{text}");
    // The stop table ends where the sensor does.
    let tables = json(dir.path(), "camera show.toml --camera a --json");
    let said = tables.to_string();
    assert!(said.contains(floor), "{said}");
}

#[test]
fn what_cannot_be_measured_is_said_and_nothing_is_written() {
    let dir = demo();
    let sensor = Sensor::new("slog3");
    let names = bracket(dir.path(), &sensor, -6..=6);
    let all = names.join(" ");
    let show = fs::read(dir.path().join("show.toml")).unwrap();
    let refusals: Vec<String> = vec![
        format!("measure {all}"),
        format!("measure {all} --stops -6:+5:1"),
        format!("measure {all} --stops -6:x"),
        format!("measure {all} --stops 6:-6:1"),
        format!("measure {} --stops 0", names[0]),
        format!("measure {all} --stops -6:6:1 --patch 40,40,20,20"),
        format!("measure {all} --stops -6:6:1 --patch middle"),
        format!("measure {all} --stops -6:6:1 --curve slog"),
        format!("measure {all} --stops -6:6:1 --show show.toml --camera c"),
        format!("measure {all} --stops -6:6:1 --show show.toml --camera a --write"),
        format!("measure {all} --stops -6:6:1 --snr 0"),
        format!("measure {all} nothing.tif --stops -6:7:1"),
        format!("measure {all} show.toml --stops -6:7:1"),
        "measure --list show.toml".to_owned(),
        format!("measure {all} --stops -6:6:1 --compare 800"),
        "measure --list brackets/a.csv --compare 100".to_owned(),
        format!("measure {all} --stops -6:6:1 --exif-from {}", names[6]),
        format!("measure {all} --exif-from {}", names[6]),
    ];
    let mut transcript = Transcript::of("measure_what_cannot_be_measured_is_said_and_nothing_is_written");
    for args in refusals {
        transcript.add(&args.replace(&all, "FRAMES"), &refused(dir.path(), &args));
    }
    transcript.check();
    let [red, green, blue] = AP1.primaries;
    let mut light = sensor.card(0.0, 48, 48, 3);
    light.info.tags.chromaticities = Some([red, green, blue, AP1.white]);
    fs::write(dir.path().join("light.exr"), write(&light, Format::Exr, Depth::Float).unwrap()).unwrap();
    let args = format!("measure {all} light.exr --stops -6:7:1");
    assert_says(
        &refused(dir.path(), &args),
        &["light.exr: it is scene light of aces-ap1", "not the signal of a camera"],
    );
    let wide = sensor.card(7.0, 64, 48, 3);
    fs::write(dir.path().join("wide.tif"), write(&wide, Format::Tiff, Depth::Integer(16)).unwrap()).unwrap();
    let said = refused(dir.path(), &format!("measure {all} wide.tif --stops -6:7:1"));
    assert_says(&said, &["wide.tif has 64 x 48 pixels", "one size"]);
    assert_eq!(fs::read(dir.path().join("show.toml")).unwrap(), show);
}

/// A camera whose curve is published by exposure index is held to the one of the frames' own.
#[test]
fn the_claim_is_that_of_the_exposure_index() {
    let dir = TempDir::new().unwrap();
    let show = "schema = 1\ntitle = 'Saltmarsh'\n[cameras.l]\ncurve = 'logc3'\ngamut = 'awg3'\n\
                rating = [{ ei = 800, clip = 0.9 }]\n";
    put(dir.path(), "show.toml", show);
    let mut list = "file,stops,ei\n".to_owned();
    // Full wells at five stops over grey and at six.
    for (ei, over) in [(200, 5), (800, 6)] {
        let mut sensor = Sensor::new("slog3");
        sensor.claim.curve = rushlight::transfer::encoding("logc3").unwrap().build(Some(ei)).unwrap();
        sensor.full = [MID_GREY * exp2(f64::from(over)); 3];
        for stop in -7..=7 {
            let frame = sensor.card(f64::from(stop), 40, 40, u64::from(ei) + (stop + 20) as u64);
            let name = format!("{ei}_{:02}.tif", stop + 8);
            fs::write(dir.path().join(&name), write(&frame, Format::Tiff, Depth::Integer(16)).unwrap()).unwrap();
            list += &format!("{name},{stop},{ei}\n");
        }
    }
    put(dir.path(), "all.csv", &list);
    let found = json(dir.path(), "measure --list all.csv --show show.toml --camera l --json");
    for (bracket, (ei, over)) in found["brackets"].as_array().unwrap().iter().zip([(200, 5.0), (800, 6.0)]) {
        assert_eq!(bracket["curve"]["name"], format!("logc3 at EI {ei}"));
        let channel = &bracket["channels"][1];
        let clip = channel["clip"]["stops"].as_f64().unwrap();
        assert!((clip - over).abs() < 0.02, "EI {ei}: {clip}");
        assert!(channel["largest_deviation_stops"].as_f64().unwrap().abs() < 0.1, "EI {ei}: {channel}");
    }
    // An index that the maker does not list.
    put(dir.path(), "odd.csv", &list.replace(",800\n", ",850\n").replace(",200\n", ",800\n"));
    let text = output(dir.path(), "measure --list odd.csv --show show.toml --camera l");
    assert_says(&text, &["the curve is not published for EI 850"]);
}

/// A block of EXIF: an exposure time, an f-number and a sensitivity.
fn exif(time: [u32; 2], f_number: [u32; 2], iso: u16) -> Vec<u8> {
    let mut block = b"II*\0\x08\0\0\0".to_vec();
    let entry = |tag: u16, kind: u16, at: u32| -> Vec<u8> {
        [&tag.to_le_bytes()[..], &kind.to_le_bytes(), &1u32.to_le_bytes(), &at.to_le_bytes()].concat()
    };
    // One entry: where the second directory is.
    block.extend([&1u16.to_le_bytes()[..], &entry(0x8769, 4, 26), &[0; 4]].concat());
    // A short stands in its entry.
    let sensitivity =
        [&0x8827u16.to_le_bytes()[..], &3u16.to_le_bytes(), &1u32.to_le_bytes(), &iso.to_le_bytes(), &[0; 2]];
    let tags = [entry(0x829a, 5, 68), entry(0x829d, 5, 76), sensitivity.concat()];
    block.extend([&3u16.to_le_bytes()[..], &tags.concat(), &[0; 4]].concat());
    block.extend(time.into_iter().chain(f_number).flat_map(u32::to_le_bytes));
    block
}

#[test]
fn stops_come_from_exposure_tags() {
    let dir = TempDir::new().unwrap();
    let sensor = Sensor::new("vlog");
    let mut names = Vec::new();
    for stop in -6..=8 {
        let mut frame = sensor.card(f64::from(stop), 64, 64, (stop + 50) as u64);
        // Shutter down to four stops under, then aperture.
        let (shutter, aperture) = (stop.max(-4), (stop + 4).min(0));
        let n = (4.0 * exp2(-0.5 * f64::from(aperture)) * 1000.0).round() as u32;
        frame.info.exif = Some(exif([1 << (shutter + 4), 1600], [n, 1000], 800));
        let name = format!("{}.png", stop + 10);
        fs::write(dir.path().join(&name), write(&frame, Format::Png, Depth::Integer(16)).unwrap()).unwrap();
        names.push(name);
    }
    let found = json(dir.path(), &format!("measure {} --exif-from 10.png --json", names.join(" ")));
    let found = &found["brackets"][0];
    assert_eq!(found["curve"]["name"], "vlog");
    for (shot, stop) in found["exposures"].as_array().unwrap().iter().zip(-6..=8) {
        assert!((shot["stops"].as_f64().unwrap() - f64::from(stop)).abs() < 0.001, "{}", shot["stops"]);
    }
    assert!((found["channels"][0]["clip"]["stops"].as_f64().unwrap() - 6.0).abs() < 0.02);
    let mut other = sensor.card(2.0, 64, 64, 9);
    other.info.exif = Some(exif([64, 1600], [4000, 1000], 400));
    fs::write(dir.path().join("other.png"), write(&other, Format::Png, Depth::Integer(16)).unwrap()).unwrap();
    let said = refused(dir.path(), &format!("measure {} other.png --exif-from 10.png", names.join(" ")));
    assert_says(&said, &["other.png was shot at ISO 400, 10.png at ISO 800"]);
}

#[test]
fn modes_are_compared_in_words() {
    let dir = TempDir::new().unwrap();
    let sensor = Sensor::new("slog3");
    let mut legal = sensor.clone();
    legal.claim.range = rushlight::camera::Range::Legal;
    let scene = |x: usize, y: usize| [MID_GREY * exp2((x as f64 + (y % 7) as f64) / 10.0 - 8.0); 3];
    for (name, sensor, seed) in [("one.exr", &sensor, 4), ("two.exr", &legal, 5), ("same.exr", &sensor, 6)] {
        let frame = sensor.picture(160, 120, seed, scene);
        fs::write(dir.path().join(name), write(&frame, Format::Exr, Depth::Float).unwrap()).unwrap();
    }
    let text = output(dir.path(), "measure one.exr --against two.exr");
    assert_says(&text, &["the second is the first squeezed from full into legal range"]);
    assert_says(&output(dir.path(), "measure one.exr --against same.exr"), &["no difference"]);
    let names = bracket(dir.path(), &sensor, -7..=8).join(" ");
    let found = json(dir.path(), &format!("measure {names} --stops -7:8:1 --against {names} --json"));
    assert_eq!(found["modes"][1]["findings"][0]["kind"], "same");
    assert_says(&refused(dir.path(), "measure one.exr --against two.exr --plot a.png"), &["--plot needs a bracket"]);
}

fn ffmpeg() -> bool {
    Command::new("ffmpeg").arg("-version").output().is_ok_and(|o| o.status.success())
}

#[test]
fn without_ffmpeg_a_clip_is_refused_in_words() {
    let dir = TempDir::new().unwrap();
    put(dir.path(), "card.mov", "no still");
    let mut command = run(dir.path(), "measure card.mov --stops 0");
    command.env("PATH", dir.path());
    assert_says(&refused_with(&mut command), &["clips need the program `ffprobe`", "install ffmpeg"]);
    if ffmpeg() {
        assert_says(&refused(dir.path(), "measure card.mov --stops 0"), &["cannot read card.mov"]);
    }
}

/// A clip of 10-bit 4:2:2 video for each exposure, written by ffmpeg: its code values come through as they are, and the
/// noise is that between frames.
#[test]
fn clips_are_measured_at_their_own_code_values() {
    if !ffmpeg() {
        eprintln!("skipped: no ffmpeg here");
        return;
    }
    let dir = TempDir::new().unwrap();
    let sensor = Sensor { bits: 10, ..Sensor::new("slog3") };
    let mut names: Vec<PathBuf> = Vec::new();
    for stop in -8..=7 {
        let mut raw: Vec<u8> = Vec::new();
        for k in 0..3 {
            let frame = sensor.card(f64::from(stop), 64, 64, (1000 * (stop + 20) + k) as u64);
            // Luma of the green channel's codes, chroma of none.
            raw.extend(frame.pixels().flat_map(|p| ((f64::from(p[1]) * 1023.0).round() as u16).to_le_bytes()));
            raw.extend((0..2 * 32 * 64).flat_map(|_| 512u16.to_le_bytes()));
        }
        let name = format!("card_{:02}.mov", stop + 20);
        fs::write(dir.path().join("raw"), raw).unwrap();
        let made = Command::new("ffmpeg")
            .current_dir(dir.path())
            .args(["-v", "error", "-f", "rawvideo", "-pix_fmt", "yuv422p10le", "-s", "64x64", "-i", "raw"])
            .args(["-c:v", "ffv1", "-color_range", "tv", "-colorspace", "bt709", "-y", &name])
            .status()
            .unwrap();
        assert!(made.success());
        names.push(name.into());
    }
    let all: Vec<String> = names.iter().map(|n| n.display().to_string()).collect();
    let found =
        json(dir.path(), &format!("measure {} --stops -8:7:1 --curve slog3 --patch 8,8,48,48 --json", all.join(" ")));
    let found = &found["brackets"][0];
    assert_eq!(found["noise"], "temporal");
    let grey = found["channels"][1]["grey"].as_f64().unwrap();
    assert!((grey * 1023.0 - 420.0).abs() < 1.0, "{grey}");
    let clip = &found["channels"][1]["clip"];
    assert!((clip["stops"].as_f64().unwrap() - 6.0).abs() < 0.02, "{clip}");
    // The same sensor without its fixed pattern, which two frames share.
    let gain = found["channels"][1]["photon_transfer"]["b"].as_f64().unwrap();
    assert!((gain * sensor.electrons[1] - 1.0).abs() < 0.1, "{gain}");
}
