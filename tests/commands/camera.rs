//! `camera`: the stop table, against the makers' documents and the rules of the trade.

use assert_cmd::Command;
use rushlight_tests::demo;
use rushlight_tests::scene::{Transcript, assert_holds_to, show_of};
use serde_json::Value;
use std::fs;
use std::path::Path;

fn run(dir: &Path, args: &str) -> (i32, String, String) {
    let mut command = Command::new(rushlight_tests::rushlight());
    let run = command.args(args.split_whitespace()).current_dir(dir).output().expect("it starts");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    (run.status.code().expect("a code"), text(run.stdout), text(run.stderr))
}

fn output(dir: &Path, args: &str) -> String {
    let (code, out, err) = run(dir, args);
    assert_eq!((code, err.as_str()), (0, ""), "{args}");
    assert!(out.ends_with(".\n") || args.contains("--json") || args.contains("--csv"), "{out}");
    out
}

fn json(dir: &Path, args: &str) -> Value {
    let report = serde_json::from_str(&output(dir, &format!("{args} --json"))).expect("JSON");
    assert_holds_to(dir, "camera", &report);
    report
}

fn refused(dir: &Path, args: &str, parts: &[&str]) -> String {
    let (code, out, err) = run(dir, args);
    assert_eq!((code, out.as_str()), (2, ""), "{args}: {err}");
    assert!(!err.contains("panicked"), "{err}");
    for part in parts {
        assert!(err.contains(part), "`{part}` is not in: {err}");
    }
    err
}

fn tables(report: &Value, camera: usize) -> Vec<Value> {
    report["cameras"][camera]["tables"].as_array().expect("tables").clone()
}

fn near(value: &Value, wanted: f64, slack: f64) {
    let value = value.as_f64().expect("a number");
    assert!((value - wanted).abs() <= slack, "{value}, not {wanted}");
}

/// Common practice, no source: at a fixed clip of the sensor each doubling of the EI moves a stop from below mid-grey to
/// above it; a camera with ten stops that has three over grey at its base EI of 100 has seven under.
#[test]
fn each_doubling_moves_a_stop_from_below_grey_to_above() {
    let report = json(&demo::folder(), "camera show.toml --camera b");
    for (i, table) in tables(&report, 0).iter().enumerate() {
        let moved = i as f64;
        assert_eq!(table["ei"], 100.0 * f64::from(1 << i));
        // The ratings have four decimals, a 700th of a stop.
        near(&table["above"], 3.0 + moved, 2e-3);
        near(&table["below"], 7.0 - moved, 2e-3);
        assert_eq!(table["unlike"], Value::Null);
    }
    // From the base alone, extrapolated.
    let dir = show_of(
        "[cameras.b]\ncurve = 'slog3'\ngamut = 'sgamut3'\nrating = [{ ei = 100, clip = 0.6362, floor_stops = -7 }]\n",
    );
    for (ei, above) in [(50, 2.0), (100, 3.0), (200, 4.0), (800, 6.0)] {
        let report = json(dir.path(), &format!("camera show.toml --ei {ei} --extrapolate"));
        let table = &tables(&report, 0)[0];
        near(&table["above"], above, 2e-3);
        near(&table["below"], 10.0 - above, 2e-3);
        assert_eq!(table["clip_from"], if ei == 100 { "rating" } else { "extrapolated" });
    }
}

/// Common practice, no source: skin belongs a stop over grey. Where a log puts mid-grey at 50 %, a face that is set to
/// 50 % is a stop under.
#[test]
fn skin_at_50_percent_is_a_stop_under_where_grey_is_at_50() {
    let report = json(&demo::folder(), "camera show.toml --camera b --ei 100");
    let table = &tables(&report, 0)[0];
    near(&table["grey"]["percent_full"], 50.0, 0.001);
    let row = table["rows"].as_array().unwrap().iter().find(|r| r["mark"] == "skin").expect("a row for skin");
    near(&row["stops"], 1.0, 0.0);
    assert_eq!(row["signal"], table["skin"]["signal"]);
    // The stop at a signal of 50 %, by the table, against where skin belongs.
    let rows = table["rows"].as_array().unwrap();
    let at_half =
        rows.iter().find(|r| (r["percent_full"].as_f64().unwrap() - 50.0).abs() < 0.001).expect("a row at 50 %");
    near(&at_half["stops"], table["skin"]["stops"].as_f64().unwrap() - 1.0, 1e-12);
}

/// Mid-grey and a white of 90 % in code values of 10 bits, as the makers' own documents print them.
#[test]
fn grey_and_white_are_where_the_makers_say() {
    for (curve, grey, white) in [
        // Sony, S-Log2 Technical Paper, V1.0, 2012.
        ("slog2", 347.0, 582.0),
        // Sony, Technical Summary for S-Gamut3.Cine/S-Log3 and S-Gamut3/S-Log3, V1.00, 2014.
        ("slog3", 420.0, 598.0),
        // Panasonic, V-Log/V-Gamut Reference Manual, Rev. 1.0, 2014.
        ("vlog", 433.0, 602.0),
        // Thorpe, Canon-Log Transfer Characteristic, 2012.
        ("canon-log", 351.0, 614.0),
        // Fujifilm, F-Log Data Sheet, Ver. 1.1, 2022.
        ("flog", 470.0, 705.0),
        // Fujifilm, F-Log2 Data Sheet, Ver. 1.0, 2022.
        ("flog2", 400.0, 570.0),
    ] {
        let dir = show_of(&format!("[cameras.a]\ncurve = '{curve}'\ngamut = 'bt2020'\n"));
        let report = json(dir.path(), "camera show.toml");
        let table = &tables(&report, 0)[0];
        near(&table["grey"]["code_10"], grey, 0.5);
        near(&table["white"]["code_10"], white, 0.5);
    }
}

/// ARRI, "ALEXA Log C Curve, Usage in VFX", 2012: constants by EI, mid-grey at 400/1023 at every one, and the clip of the
/// sensor at the signal of its table, which is a light of 0.045 EI 255/256.
#[test]
fn a_curve_with_constants_by_ei_has_its_own_at_each_rating() {
    let dir = show_of(
        "[cameras.a]\ncurve = 'logc3'\nei = 800\ngamut = 'awg3'\nrating = [{ ei = 160, clip = 0.8128 }, \
         { ei = 400, clip = 0.8968 }, { ei = 800, clip = 0.9539 }, { ei = 850 }]\n",
    );
    let report = json(dir.path(), "camera show.toml");
    let tables = tables(&report, 0);
    for (table, ei) in tables.iter().zip([160.0, 400.0, 800.0]) {
        assert_eq!((&table["ei"], &table["own_curve"]), (&Value::from(ei), &Value::from(true)));
        near(&table["grey"]["code_10"], 400.0, 1e-3);
        // The table prints the clips with four digits.
        let clip: f64 = 0.045 * ei * 255.0 / 256.0;
        near(&table["above"], rushlight::math::log2(clip / 0.18), 2e-3);
    }
    assert_eq!(tables[3]["own_curve"], false);
    let text = output(dir.path(), "camera show.toml");
    assert_eq!(text.matches("mid-grey").count(), 4, "a table each:\n{text}");
    for heading in
        ["\nEI 160, the curve of this EI\n", "\nEI 800, the curve of this EI\n", "\nEI 850, the camera's curve\n"]
    {
        assert!(text.contains(heading), "{heading}:\n{text}");
    }
    assert!(text.contains("the curve is not published for EI 850:"), "{text}");
    assert_eq!((&tables[2]["lacks_curve"], &tables[3]["lacks_curve"]), (&Value::from(false), &Value::from(true)));
}

#[test]
fn a_rating_without_a_clip_ends_with_its_curve_and_says_so() {
    let dir = show_of("[cameras.a]\ncurve = 'slog3'\ngamut = 'sgamut3'\nrange = 'legal'\nrating = [{ ei = 800 }]\n");
    let report = json(dir.path(), "camera show.toml");
    let table = &tables(&report, 0)[0];
    assert_eq!((&table["clip_from"], &table["floor_from"]), (&Value::from("curve"), &Value::from("curve")));
    // ITU-R BT.709-6, table 4: white of the legal range is code 940 of 10 bits and 3760 of 12.
    near(&table["clip"]["code_10"], 940.0, 1e-9);
    near(&table["clip"]["code_12"], 3760.0, 1e-9);
    near(&table["clip"]["percent_legal"], 100.0, 1e-9);
    let text = output(dir.path(), "camera show.toml");
    assert!(text.contains("* NOT MEASURED: where the curve ends"), "{text}");
    // What follows from the clip is marked too, and so are the levels in the table.
    let row = text.lines().find(|line| line.trim_start().starts_with("800 ")).expect("the rating");
    assert_eq!(row.matches('*').count(), 3, "{row}");
    assert!(text.contains("floor* EI 800") && text.contains("clip* EI 800"), "{text}");
    let bare = show_of("[cameras.a]\ncurve = 'slog3'\ngamut = 'sgamut3'\n");
    assert_eq!(tables(&json(bare.path(), "camera show.toml"), 0)[0]["ei"], Value::Null);
}

#[test]
fn opening_up_counts_to_the_clip_less_the_margin() {
    let up = |options: &str| {
        let report = json(&demo::folder(), &format!("camera show.toml --camera a --ei 800 {options}"));
        let table = tables(&report, 0).remove(0);
        (table["open_up"].as_f64().unwrap(), table["above"].as_f64().unwrap())
    };
    let (open, above) = up("--highlight 4 --margin 0.5");
    assert!((open - (above - 4.5)).abs() < 1e-12 && open > 1.0);
    assert!(up("--highlight 8").0 < 0.0);
    // A white of 90 % by default.
    assert!((up("").0 - (above - rushlight::math::log2(5.0))).abs() < 1e-12);
}

/// A clip that misses a step by less than a bracket can tell stands beside it, with its own code.
#[test]
fn a_clip_beside_a_step_is_noted_with_its_code() {
    let dir = show_of(
        "[cameras.a]\ncurve = 'slog3'\ngamut = 'sgamut3'\nrating = [{ ei = 400, clip = 0.7881 }, { ei = 800, clip = 0.866 }, \
         { ei = 1600, clip = 0.94 }]\n",
    );
    let text = output(dir.path(), "camera show.toml");
    let rows: Vec<&str> = text.lines().filter(|l| l.starts_with("  +")).collect();
    let at = |stops: &str| rows.iter().filter(|l| l.trim_start().starts_with(stops)).copied().collect::<Vec<_>>();
    assert_eq!((at("+4.99").len(), at("+5.00").len(), at("+6.00").len()), (0, 1, 1), "{text}");
    assert!(at("+6.00")[0].contains("clip EI 800") && text.contains("(885.9)"), "{text}");
}

/// Where neither end of a rating is known there is nothing to move.
#[test]
fn nothing_is_called_extrapolated_where_the_curve_ends_both() {
    let dir = show_of("[cameras.a]\ncurve = 'slog3'\ngamut = 'sgamut3'\nrating = [{ ei = 800 }]\n");
    let text = output(dir.path(), "camera show.toml --ei 400 --extrapolate");
    assert!(text.contains("* NOT MEASURED") && !text.contains("extrapolated"), "{text}");
    let dir = show_of("[cameras.a]\ncurve = 'slog3'\ngamut = 'sgamut3'\nrating = [{ ei = 800, clip = 0.9 }]\n");
    let text = output(dir.path(), "camera show.toml --ei 400 --extrapolate");
    assert!(text.contains("+ extrapolated from EI 800"), "{text}");
}

#[test]
fn another_base_of_the_sensor_is_noticed() {
    let report = json(&demo::folder(), "camera show.toml --camera a");
    let unlike: Vec<_> = tables(&report, 0).into_iter().filter(|t| !t["unlike"].is_null()).collect();
    assert_eq!(unlike.len(), 1);
    assert_eq!(unlike[0]["ei"], 3200.0);
    // Two stops under where one base would put it, of which the signal has room for 1.74.
    near(&unlike[0]["unlike"]["stops"], -1.74, 0.01);
}

#[test]
fn the_reports_agree_and_fit() {
    for per_stop in 1..=3 {
        let args = format!("camera show.toml --per-stop {per_stop}");
        let report = json(&demo::folder(), &args);
        assert_eq!(report["schema"], 1);
        let csv = output(&demo::folder(), &format!("{args} --csv"));
        let mut reader = csv::Reader::from_reader(csv.as_bytes());
        let head = reader.headers().expect("a head").clone();
        let column = |name: &str| head.iter().position(|h| h == name).unwrap_or_else(|| panic!("no column {name}"));
        let mut lines = reader.records().map(|r| r.expect("a row"));
        for camera in report["cameras"].as_array().unwrap() {
            for table in camera["tables"].as_array().unwrap() {
                for row in table["rows"].as_array().unwrap() {
                    let line = lines.next().expect("a line for each row");
                    assert_eq!(&line[column("camera")], camera["name"].as_str().unwrap());
                    assert_eq!(line[column("ei")].parse::<f64>().unwrap(), table["ei"].as_f64().unwrap());
                    assert_eq!(&line[column("mark")], row["mark"].as_str().unwrap_or(""));
                    for name in ["stops", "light", "signal", "percent_full", "percent_legal", "code_10", "code_12"] {
                        near(&row[name], line[column(name)].parse().unwrap(), 5.1e-7);
                    }
                }
                let rows = table["rows"].as_array().unwrap();
                let (floor, clip) =
                    (table["floor"]["stops"].as_f64().unwrap(), table["clip"]["stops"].as_f64().unwrap());
                let n = f64::from(per_stop);
                let steps = (clip * n).floor() - (floor * n).ceil() + 1.0;
                // A floor on a step is that step.
                let own = [floor, clip].iter().filter(|s| ((*s * n).round() - *s * n).abs() > 1e-6).count();
                assert_eq!(rows.len(), steps as usize + own + 1, "the steps, the floor, the white and the clip");
                assert!(rows.windows(2).all(|w| w[1]["stops"].as_f64() > w[0]["stops"].as_f64()), "a stop twice");
            }
        }
        assert!(lines.next().is_none());
        let text = output(&demo::folder(), &args);
        assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    }
}

#[test]
fn a_show_of_cameras_alone_has_tables_but_no_bake() {
    let dir = show_of("[cameras.a]\ncurve = 'slog3'\ngamut = 'sgamut3'\n");
    output(dir.path(), "camera show.toml");
    refused(dir.path(), "bake show.toml", &["the show has no look: add one under [looks]"]);
    refused(dir.path(), "probe show.toml --stops 0", &["the show has no look"]);
}

#[test]
fn a_card_is_drawn_of_one_camera() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (name, magic) in [("c.svg", "<svg"), ("c.html", "<!DOCTYPE html>"), ("c.pdf", "%PDF"), ("c.png", "\u{fffd}PNG")]
    {
        let path = folder.path().join(name);
        output(&demo::folder(), &format!("camera show.toml --camera a --out {}", path.display()));
        let bytes = fs::read(&path).expect("the card");
        assert!(String::from_utf8_lossy(&bytes).starts_with(magic), "{name}");
    }
    let svg = fs::read_to_string(folder.path().join("c.svg")).expect("the card");
    // A6, lying (ISO 216), with every rating and the numbers of its table.
    assert!(svg.contains("width=\"148mm\" height=\"105mm\""), "{}", &svg[..200]);
    for said in [
        "EI 400",
        "EI 6400",
        "A camera, the dunes and the house",
        ">420<",
        ">8.5<",
        ">7.0<",
        "light meter: test it on your camera.",
    ] {
        assert!(svg.contains(said), "{said}");
    }
    let never = folder.path().join("never.png");
    let to = never.display();
    let demo = demo::folder();
    refused(&demo, &format!("camera show.toml --out {to}"), &["--out: a card is of one camera", "one of a, b"]);
    refused(&demo, "camera show.toml --camera a --out card.gif", &["must end in .svg, .png, .pdf or .html"]);
    let many: Vec<String> = (1..=12).map(|i| format!("{{ ei = {} }}", 100 * i)).collect();
    let dir = show_of(&format!("[cameras.a]\ncurve = 'slog3'\ngamut = 'sgamut3'\nrating = [{}]\n", many.join(", ")));
    refused(dir.path(), &format!("camera show.toml --out {to}"), &["--out: 12 ratings: a card has room for 9"]);
    assert!(!never.exists());
}

#[test]
fn what_cannot_be_is_refused() {
    let demo = demo::folder();
    let mut transcript = Transcript::of("camera_what_cannot_be_is_refused");
    for args in [
        "camera show.toml --camera c",
        "camera show.toml --camera a --ei 640",
        "camera show.toml --camera b --ei 100000 --extrapolate",
        "camera show.toml --per-stop 4",
        "camera show.toml --highlight nan",
        "camera show.toml --margin -1",
        "camera show.toml --extrapolate",
        "camera show.toml --json --csv",
        "camera looks/night.toml",
        "camera nowhere.toml",
    ] {
        transcript.add(args, &refused(&demo, args, &[]));
    }
    transcript.check();
    let head = "[cameras.a]\ncurve = 'slog3'\ngamut = 'sgamut3'\n";
    for (cameras, parts) in [
        ("[cameras.a]\ngamut = 'sgamut3'\n", ["cameras.a: missing key `curve`"]),
        ("[cameras.a]\ncurve = 'slog3'\n", ["cameras.a: missing key `gamut`"]),
        (&format!("{head}rating = [{{ ei = 800, clip = 0.3 }}]\n"), ["clip: 0.3 is not above mid-grey"]),
        (&format!("{head}rating = [{{ ei = 800 }}, {{ ei = 800 }}]\n"), ["EI 800 is listed twice"]),
    ] {
        refused(show_of(cameras).path(), "camera show.toml", &parts);
    }
    // A curve that is over before mid-grey.
    let dir = show_of("[cameras.a]\ncurve = 'dim.toml'\ngamut = 'bt2020'\n");
    let curve = "schema = 1\ntitle = 'Dim'\nsource = 'invented'\n[table]\npoints = [[-7, 0.1], [-1, 0.5]]\n";
    fs::write(dir.path().join("dim.toml"), curve).expect("a file");
    refused(
        dir.path(),
        "camera show.toml",
        &["cameras.a.curve: dim.toml:4:1: table: it ends at 0.5, not above mid-grey"],
    );
}

#[test]
fn a_card_for_the_night_has_no_white() {
    let dir = demo::folder();
    let out = tempfile::tempdir().expect("a temporary folder");
    let card = |options: &str| {
        let path = out.path().join("card.svg");
        output(&dir, &format!("camera show.toml --camera a --out {} {options}", path.display()));
        fs::read_to_string(path).expect("a card")
    };
    let (day, night) = (card(""), card("--dark"));
    assert!(day.contains("\"#ffffff\"") && !night.contains("\"#ffffff\""));
    assert_eq!(day.matches("<text").count(), night.matches("<text").count());
    // Every rating has the number of its floor.
    assert!(
        ["\u{2212}8.5<", "\u{2212}7.5<", "\u{2212}6.5<", "\u{2212}5.5<"].iter().all(|floor| day.contains(floor)),
        "{day}"
    );
}
