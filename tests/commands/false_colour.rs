//! `false-colour`: exposure cubes, their zones, keys and test frames.

use assert_cmd::Command;
use rushlight::cube::{Cube, Interpolation};
use rushlight::files::sha256;
use rushlight::format::cube::{Strictness, read};
use rushlight::math::{exp2, log2};
use rushlight_tests::demo;
use rushlight_tests::scene::{Transcript, assert_holds_to, show_of};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

fn run(dir: &Path, args: &str, out: &Path) -> (i32, String, String) {
    let mut command = Command::new(rushlight_tests::rushlight());
    let run = command.args(args.split_whitespace()).arg("--out").arg(out).current_dir(dir).output().expect("it starts");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    (run.status.code().expect("a code"), text(run.stdout), text(run.stderr))
}

struct Made {
    report: Value,
    files: BTreeMap<String, Vec<u8>>,
}

impl Made {
    fn cube(&self, i: usize) -> (&Value, Cube) {
        let record = &self.report["cubes"][i];
        let name = record["file"].as_str().expect("a name");
        let file = read(&self.files[name], Strictness::Strict).expect("a cube by the specification");
        assert_eq!(file.title, record["title"].as_str().unwrap());
        (record, file.into_cube().expect("a 3D table"))
    }
}

/// What a run on `show` makes.
fn made(dir: &Path, args: &str) -> Made {
    let out = tempfile::tempdir().expect("a temporary folder");
    let (code, stdout, stderr) = run(dir, &format!("false-colour show.toml --json {args}"), out.path());
    assert_eq!((code, stderr.as_str()), (0, ""), "{args}");
    let files = fs::read_dir(out.path()).expect("the folder").map(|e| {
        let path = e.expect("an entry").path();
        (path.file_name().unwrap().to_str().unwrap().to_owned(), fs::read(&path).expect("a file"))
    });
    let files: BTreeMap<String, Vec<u8>> = files.collect();
    assert_eq!(stdout.as_bytes(), files["exposure.json"]);
    let report = serde_json::from_str(&stdout).expect("JSON");
    assert_holds_to(dir, "false-colour", &report);
    Made { report, files }
}

fn refused(dir: &Path, args: &str, parts: &[&str]) -> String {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let out = folder.path().join("never");
    let (code, stdout, stderr) = run(dir, &format!("false-colour {args}"), &out);
    assert_eq!((code, stdout.as_str()), (2, ""), "{args}: {stderr}");
    assert!(!stderr.contains("panicked"), "{stderr}");
    for part in parts {
        assert!(stderr.contains(part), "`{part}` is not in: {stderr}");
    }
    assert!(!out.exists(), "{args} left a folder");
    stderr
}

/// S-Log3 as its document gives it (Sony, Technical Summary for S-Gamut3.Cine/S-Log3, V1.00, 2014), code over 1023.
fn slog3(light: f64) -> f64 {
    let log10 = |v: f64| log2(v) / log2(10.0);
    if light >= 0.01125 {
        (420.0 + log10((light + 0.01) / (0.18 + 0.01)) * 261.5) / 1023.0
    } else {
        (light * (171.2102946929 - 95.0) / 0.01125 + 95.0) / 1023.0
    }
}

fn at(cube: &Cube, stops: f64, kind: Interpolation) -> [f64; 3] {
    cube.at([slog3(0.18 * exp2(stops)); 3], kind)
}

fn triple(value: &Value) -> [f64; 3] {
    let list = value.as_array().expect("a list");
    std::array::from_fn(|i| list[i].as_f64().expect("a number"))
}

fn away(a: [f64; 3], b: [f64; 3]) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b) * (a - b)).sum::<f64>().sqrt()
}

/// The number of the zone whose colour is nearest.
fn nearest(record: &Value, rgb: [f64; 3]) -> usize {
    let zones = record["zones"].as_array().unwrap();
    (0..zones.len())
        .min_by(|a, b| away(triple(&zones[*a]["signal"]), rgb).total_cmp(&away(triple(&zones[*b]["signal"]), rgb)))
        .unwrap()
}

/// The stops from which each zone of a report reaches, the lowest from far down.
fn from(record: &Value, i: usize) -> f64 {
    record["zones"][i]["from"].as_f64().unwrap_or(-30.0)
}

#[test]
fn each_stop_has_the_colour_of_its_zone() {
    for options in ["", "--points 33", "--points 33 --soft", "--soft", "--basis highest"] {
        let made = made(&demo::folder(), &format!("--camera a --ei 800 {options}"));
        let (record, cube) = made.cube(0);
        let zones = record["zones"].as_array().unwrap();
        assert_eq!(record["zones"][zones.len() - 1]["name"], "clip");
        for kind in Interpolation::ALL {
            for i in 0..zones.len() - 1 {
                // In the middle of its signals a zone has its own colour before any other; the highest, over which the
                // clip is marked early, at the last node that is not.
                let last = record["points"].as_f64().unwrap() - 1.0;
                let (low, high) = (slog3(0.18 * exp2(from(record, i))), slog3(0.18 * exp2(from(record, i + 1))));
                let place = if i + 2 < zones.len() {
                    0.5 * (low + high)
                } else {
                    ((record["clip"]["signal"].as_f64().unwrap() * last).floor() - 1.0) / last
                };
                let middle = cube.at([place; 3], kind);
                assert_eq!(nearest(record, middle), i, "{options}: {} by {}", zones[i]["name"], kind.name());
            }
            // At the clip, and wherever one channel clips.
            let clip = record["clip"]["signal"].as_f64().unwrap();
            let colour = triple(&zones[zones.len() - 1]["signal"]);
            for signal in [[clip; 3], [clip, 0.3, 0.3], [0.3, clip, 0.1], [0.2, 0.3, clip], [1.0; 3]] {
                assert!(away(cube.at(signal, kind), colour) < 1e-5, "{options}: {signal:?}");
            }
        }
        // The mid-grey zone at grey and a third of a stop to either side.
        let grey = zones.iter().position(|z| z["name"] == "mid-grey").expect("mid-grey");
        for stops in [-0.3, 0.0, 0.3] {
            assert_eq!(nearest(record, at(&cube, stops, Interpolation::Tetrahedral)), grey, "{options}: {stops}");
        }
    }
}

#[test]
fn the_edge_errors_are_those_of_the_cube() {
    for options in ["", "--points 33", "--soft", "--points 33 --soft"] {
        let made = made(&demo::folder(), &format!("--camera a --ei 800 {options}"));
        let (record, cube) = made.cube(0);
        let edges = record["edges"]["neutral"].as_array().unwrap();
        for (k, kind) in Interpolation::ALL.into_iter().enumerate() {
            for (i, edge) in edges.iter().enumerate() {
                let (stops, error) = (edge["stops"].as_f64().unwrap(), edge["errors"][k].as_f64().expect("not lost"));
                let (below, above) = (triple(&record["zones"][i]["signal"]), triple(&record["zones"][i + 1]["signal"]));
                // Where the error says, the output is as far from one zone as from the other.
                let out = at(&cube, stops + error, kind);
                assert!((away(out, below) - away(out, above)).abs() < 2e-5, "{options}: {stops} {error}");
                // The lowest zones are hardly wider than the nodes are apart.
                if options.contains("soft") && kind == Interpolation::Tetrahedral && stops > -4.0 {
                    assert!(error.abs() < 1e-3, "{options}: {stops} {error}");
                }
                // Never more than half the distance between two nodes.
                let points = record["points"].as_f64().unwrap();
                let moved = slog3(0.18 * exp2(stops + error)) - slog3(0.18 * exp2(stops));
                let slack = if kind == Interpolation::Tetrahedral { 1e-6 } else { 0.3 / (points - 1.0) };
                assert!(moved.abs() <= 0.5 / (points - 1.0) + slack, "{options}: {stops} {error}");
            }
        }
        assert_eq!(record["edges"]["neutrals"][0]["lost"], 0);
        for (k, kind) in Interpolation::ALL.into_iter().enumerate() {
            let early = record["edges"]["clip"][k].as_f64().unwrap();
            assert!(early < 0.0 && early > -0.8, "{early}");
            // There the output is half the clip's colour and half the top zone's.
            let zones = record["zones"].as_array().unwrap();
            let (top, clip) = (triple(&zones[zones.len() - 2]["signal"]), triple(&zones[zones.len() - 1]["signal"]));
            let out = at(&cube, record["clip"]["stops"].as_f64().unwrap() + early, kind);
            assert!((away(out, top) - away(out, clip)).abs() < 2e-5, "{options}: {out:?}");
        }
    }
    let mean = |options: &str| {
        let made = made(&demo::folder(), &format!("--camera a --ei 800 {options}"));
        made.report["cubes"][0]["edges"]["neutrals"][0]["mean"].as_f64().unwrap()
    };
    assert!(mean("--points 129") < mean("") && mean("") < mean("--points 33"));
}

#[test]
fn the_other_kinds_mark_a_grey_picture() {
    let made = made(
        &demo::folder(),
        "--camera a --ei 800 --points 97 --kind key,clip,range --window -1 2.5 --near 0.75 --width 0.6",
    );
    let names: Vec<&str> =
        made.report["cubes"].as_array().unwrap().iter().map(|c| c["kind"].as_str().unwrap()).collect();
    assert_eq!(names, ["key", "clip", "range"]);
    let is_grey = |rgb: [f64; 3]| (rgb[0] - rgb[1]).abs() < 1e-5 && (rgb[1] - rgb[2]).abs() < 1e-5;
    let colour = |record: &Value, name: &str| {
        let zone = record["zones"].as_array().unwrap().iter().find(|z| z["name"] == name);
        triple(&zone.unwrap_or_else(|| panic!("no zone {name}"))["signal"])
    };
    let is = |rgb: [f64; 3], wanted: [f64; 3]| away(rgb, wanted) < 1e-5;
    let tetra = Interpolation::Tetrahedral;
    let (key, cube) = made.cube(0);
    assert!(is(at(&cube, 0.0, tetra), colour(key, "mid-grey")) && is(at(&cube, 1.0, tetra), colour(key, "+1")));
    for stops in [-6.0, -2.0, -1.0, 0.5, 2.0, 4.0, 6.5] {
        assert!(is_grey(at(&cube, stops, tetra)), "{stops}");
    }
    let (clip, cube) = made.cube(1);
    assert!(
        is(at(&cube, 6.0, tetra), colour(clip, "clip")) && is(at(&cube, 5.5, tetra), colour(clip, "near the clip"))
    );
    assert!(is(at(&cube, -30.0, tetra), colour(clip, "floor")));
    for stops in [-5.0, -3.0, 0.0, 1.0, 3.0, 4.7] {
        assert!(is_grey(at(&cube, stops, tetra)), "{stops}");
    }
    // Lightness of the picture rises all the way.
    let levels: Vec<f64> = (-50..=47).map(|i| at(&cube, f64::from(i) / 10.0, tetra)[1]).collect();
    assert!(levels.windows(2).all(|w| w[1] > w[0]));
    let (range, cube) = made.cube(2);
    assert!(is(at(&cube, -2.0, tetra), colour(range, "under")) && is(at(&cube, 3.0, tetra), colour(range, "over")));
    for stops in [-0.7, 0.0, 1.0, 2.2] {
        assert!(is_grey(at(&cube, stops, tetra)), "{stops}");
    }
}

/// By luminance a saturated blue is dark, by its highest channel it is not; the clip is any channel's by either.
#[test]
fn the_basis_says_what_exposure_is_read_from() {
    // The weight of S-Gamut3.Cine's blue primary in luminance is below zero (derived from its published primaries).
    let blue = [slog3(0.0), slog3(0.0), slog3(0.18 * 4.0)];
    for (basis, name) in [("luminance", "floor"), ("highest", "+2")] {
        let made = made(&demo::folder(), &format!("--camera a --ei 800 --basis {basis}"));
        let (record, cube) = made.cube(0);
        let zone = nearest(record, cube.at(blue, Interpolation::Tetrahedral));
        assert_eq!(record["zones"][zone]["name"], name);
    }
}

/// Each zone says how much of it shows its own colour, and one that hardly does is warned of: in the report, as text, on the key.
#[test]
fn zones_say_how_much_of_them_is_theirs() {
    let fine = made(&demo::folder(), "--camera a --ei 800");
    let record = &fine.report["cubes"][0];
    assert_eq!(record["warning"], Value::Null);
    for zone in record["zones"].as_array().unwrap() {
        assert!(zone["own"].as_array().unwrap().iter().all(|own| own.as_f64().unwrap() >= 0.5), "{zone}");
        assert_eq!(zone["codes_of_other_zones"], serde_json::json!([0, 0]), "{zone}");
    }
    // A window just as wide as two nodes of 33 points are apart, from beside one to beside the next: grey for a third of it.
    let args = "--camera a --ei 800 --points 33 --kind range --window -0.067 0.366";
    let coarse = made(&demo::folder(), args);
    let record = &coarse.report["cubes"][0];
    let warning = record["warning"].as_str().expect("a zone as narrow as a step");
    for zone in record["zones"].as_array().unwrap() {
        let least = zone["own"].as_array().unwrap().iter().map(|own| own.as_f64().unwrap()).fold(1.0, f64::min);
        let named = warning.contains(&format!("{} ({:.0} %)", zone["name"].as_str().unwrap(), 100.0 * least));
        assert_eq!(named, least < 0.5, "{zone}: {warning}");
        assert_eq!(named, zone["name"] == "inside", "{zone}");
    }
    assert!(warning.contains("use 65 points, or use a wider --window"), "{warning}");
    let key = record["keys"][1].as_str().unwrap();
    let svg = std::str::from_utf8(&coarse.files[key]).unwrap();
    assert!(svg.contains("Warning: do not rely on these zones"), "{key}");
    let out = tempfile::tempdir().unwrap();
    let (code, text, _) = run(&demo::folder(), &format!("false-colour show.toml {args}"), out.path());
    assert!(code == 0 && text.contains("  WARNING these zones show their colour in less than half"), "{text}");
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
}

/// A cube by which a picture would be exposed wrongly is not written, unless that is asked for; the key says it all the same.
#[test]
fn a_cube_with_edges_half_a_stop_off_is_refused() {
    // Of few points, and with a zone so narrow that no blend of two nodes reaches its edge.
    let args = "--camera b --ei 100 --points 17 --zone 2";
    let parts = ["camera b at EI 100", "would mislead", "the edge at -7 stops", "--points 65", "--accept"];
    refused(&demo::folder(), &format!("show.toml {args}"), &parts);
    let made = made(&demo::folder(), &format!("{args} --accept"));
    let record = &made.report["cubes"][0];
    let key = std::str::from_utf8(&made.files[record["keys"][1].as_str().unwrap()]).unwrap();
    assert!(key.contains("Warning: do not rely on the zones there"), "{key}");
}

/// Where nodes lie stops apart, at the foot of a log curve, a plain edge is blended rather than wrong.
#[test]
fn an_edge_that_would_be_off_is_soft() {
    let made = made(&demo::folder(), "--camera a --ei 400");
    let record = &made.report["cubes"][0];
    for errors in record["edges"]["neutrals"].as_array().unwrap() {
        assert!(errors["max"].as_f64().unwrap() <= 0.5, "{errors}");
    }
    let notes = record["notes"].as_array().unwrap();
    assert!(notes.iter().any(|note| note.as_str().unwrap().starts_with("the edge at -8.5 is soft")), "{notes:?}");
    assert!(record["apart"]["two_apart"].as_f64().unwrap() >= 12.0, "{}", record["apart"]);
}

#[test]
fn a_camera_without_a_rating_is_warned_of() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let camera = "[cameras.a]\ncurve = \"slog3\"\ngamut = \"sgamut3\"\n";
    let show = format!("schema = 1\ntitle = \"Bare\"\n{camera}");
    fs::write(dir.path().join("show.toml"), show).expect("it is written");
    let made = made(dir.path(), "");
    let record = &made.report["cubes"][0];
    let said = "clip and floor are not measured: the ends of the curve are used instead. Measure the camera before you rely on this cube";
    assert_eq!(record["unrated"], said);
    let key = std::str::from_utf8(&made.files[record["keys"][1].as_str().unwrap()]).unwrap();
    assert!(key.contains("Warning: clip and floor are not measured"), "{key}");
}

#[test]
fn every_rating_has_its_files() {
    let made = made(&demo::folder(), "--points 17 --kind ladder --kind clip --zone 2 --accept");
    let cubes = made.report["cubes"].as_array().unwrap();
    assert_eq!(cubes.len(), 18, "two kinds of nine ratings");
    let mut expected = vec!["exposure.json".to_owned()];
    for cube in cubes {
        let name = cube["file"].as_str().unwrap();
        assert_eq!(cube["sha256"], sha256(&made.files[name]), "{name}");
        expected.push(name.to_owned());
        expected.push(cube["applied"].as_str().unwrap().to_owned());
        for key in cube["keys"].as_array().unwrap() {
            let key = key.as_str().unwrap();
            let magic: &[u8] = if key.ends_with("png") { b"\x89PNG" } else { b"<svg" };
            assert!(made.files[key].starts_with(magic), "{key}");
            expected.push(key.to_owned());
        }
        let text = std::str::from_utf8(&made.files[name]).expect("ASCII");
        assert!(text.contains("# not a light meter") && text.contains("# rating: EI "), "{name}");
    }
    expected.extend(made.report["frames"].as_array().unwrap().iter().map(|f| f.as_str().unwrap().to_owned()));
    expected.sort();
    assert_eq!(made.files.keys().cloned().collect::<Vec<_>>(), expected);
    assert!(made.files.contains_key("saltmarsh_b_ei100_clip_bt709_17.cube"), "{:?}", made.files.keys());
}

#[test]
fn the_bytes_do_not_depend_on_the_threads() {
    let make = |threads: &str| {
        let out = tempfile::tempdir().expect("a temporary folder");
        let mut command = Command::new(rushlight_tests::rushlight());
        let args = "false-colour show.toml --camera b --ei 200 --points 33 --soft --kind ladder --kind key --out";
        command.args(args.split(' ')).arg(out.path()).env("RAYON_NUM_THREADS", threads).current_dir(demo::folder());
        command.assert().success();
        let mut files: Vec<_> = fs::read_dir(out.path()).unwrap().map(|e| e.unwrap().path()).collect();
        files.sort();
        files.into_iter().map(|p| sha256(&fs::read(p).unwrap())).collect::<Vec<_>>()
    };
    assert_eq!(make("1"), make("2"));
}

#[test]
fn displays_and_ranges_are_kept() {
    let dir = show_of(
        "[cameras.a]\ncurve = 'slog3'\ngamut = 'sgamut3'\nrange = 'legal'\nrating = [{ ei = 800, clip = 0.8 }]\n\
         [displays.wall]\nstandard = 'bt2100-pq'\nrange = 'legal'\n[devices.box]\nmax_points = 33\ntitle_length = 60\n",
    );
    let made = made(dir.path(), "--display wall --device box --accept");
    let (record, cube) = made.cube(0);
    assert_eq!(record["points"], 33, "as many as the box takes");
    assert!(cube.nodes().iter().flatten().all(|v| (64.0 / 1023.0 - 1e-6..=940.0 / 1023.0).contains(v)));
    // White of the ladder is diffuse white: 203 nits, 58 % of PQ (ITU-R BT.2408), in legal codes.
    let white = triple(&record["zones"].as_array().unwrap().last().unwrap()["signal"]);
    assert!((white[1] - (64.0 + 876.0 * 0.58) / 1023.0).abs() < 1e-3, "{white:?}");
    // Mid-grey of the legal signal: code 64 + 876 x 420 / 1023.
    let grey = [(64.0 + 876.0 * 420.0 / 1023.0) / 1023.0; 3];
    let zone = nearest(record, cube.at(grey, Interpolation::Tetrahedral));
    assert_eq!(record["zones"][zone]["name"], "mid-grey");
    // Every display of the show takes legal range, and the default one does not.
    let out = tempfile::tempdir().expect("a temporary folder");
    let (code, _, said) = run(dir.path(), "false-colour show.toml --accept", &out.path().join("cubes"));
    assert_eq!(code, 0, "{said}");
    assert!(said.contains("the cubes send full range") && said.contains("Give one of them: `wall`"), "{said}");
    refused(dir.path(), "show.toml --device box --points 65", &["devices.box.max_points: 65 points", "at most 33"]);
    refused(dir.path(), "show.toml --device bix", &["--device", "did you mean `box`?"]);
}

#[test]
fn what_cannot_be_is_refused() {
    let demo = demo::folder();
    let mut transcript = Transcript::of("false_colour_what_cannot_be_is_refused");
    for args in [
        "show.toml --camera a --ei 800 --zone 0.5",
        "show.toml --camera a --ei 800 --points 9",
        "show.toml --camera a --ei 800 --kind key --width 0.1",
        "show.toml --camera a --ei 800 --kind key --width 2",
        "show.toml --camera a --ei 800 --kind range --window 2 -1",
        "show.toml --camera a --ei 800 --kind range --window 2 9",
        "show.toml --camera a --ei 800 --kind clip --near nan",
        "show.toml --camera a --ei 800 --points 1",
        "show.toml --camera a --ei 800 --digits 2",
        "show.toml --camera a --ei 800 --display wall",
        "show.toml --camera a --ei 640",
        "looks/night.toml",
    ] {
        transcript.add(&format!("false-colour {args}"), &refused(&demo, args, &[]));
    }
    transcript.check();
    let head = "[cameras.a]\ncurve = 'slog3'\ngamut = 'sgamut3'\n";
    for (cameras, parts) in [
        ("[cameras.a]\ngamut = 'sgamut3'\n", ["missing key `curve`"]),
        ("[cameras.a]\ncurve = 'slog3'\n", ["missing key `gamut`"]),
        (&format!("{head}rating = [{{ ei = 800, clip = 0.3 }}]\n"), ["clip: 0.3 is not above mid-grey"]),
        (&format!("{head}rating = [{{ ei = 800 }}, {{ ei = 800 }}]\n"), ["EI 800 is listed twice"]),
    ] {
        refused(show_of(cameras).path(), "show.toml", &parts);
    }
    // The curve of this one ends eleven stops over grey.
    let dir = show_of("[cameras.a]\ncurve = 'logc4'\ngamut = 'awg4'\n");
    refused(dir.path(), "show.toml", &["camera a: --zone:", "over it are more than can be told apart"]);
}

#[test]
fn the_report_fits_and_the_alias_works() {
    let out = tempfile::tempdir().expect("a temporary folder");
    for name in ["false-colour", "false-color"] {
        let (code, text, err) = run(&demo::folder(), &format!("{name} show.toml --camera a --ei 3200"), out.path());
        assert_eq!((code, err.as_str()), (0, ""));
        assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
        assert!(text.contains("not a light meter"), "{text}");
    }
}
