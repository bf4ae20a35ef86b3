//! Every command of the binary, with good, wrong and missing input.

use rushlight::format::cube::Strictness;
use rushlight::gamut::{CATALOGUE, named_gamut};
use rushlight::step::print::{VARIANTS, parameters};
use rushlight::transfer::{encoding, encodings};
use rushlight_tests::demo;
use rushlight_tests::scene::{
    CURVE, PLAIN, SHOW, assert_holds_to, assert_says, files, json, numbers, output, put, refusals, refused,
    refused_with, run, saltmarsh, schema, small,
};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::process::Stdio;
use tempfile::TempDir;
#[test]
fn probe_answers_by_its_contract() {
    let dir = saltmarsh();
    let pick = "probe show.toml --look night --camera a --display onset --json";
    let report = json(dir.path(), &format!("{pick} 0.41 0.3 0.52"));
    assert_holds_to(dir.path(), "probe", &report);
    let colours = report["colours"].as_array().expect("a list");
    assert_eq!(colours.len(), 1);
    assert_eq!(numbers(&colours[0]["in"]), [0.41, 0.3, 0.52]);
    let stages = colours[0]["stages"].as_array().expect("a list");
    let names: Vec<&str> = stages.iter().map(|s| s["name"].as_str().expect("a name")).collect();
    assert_eq!(names, ["linear", "camera", "compress", "exposure", "tint", "print", "display", "gamut", "signal"]);
    assert!(stages.iter().all(|s| numbers(&s["rgb"]).len() == 3));
    assert_eq!(colours[0]["out"], stages[8]["rgb"]);

    // One colour a line, blanks or commas between, the same numbers.
    let run = run(dir.path(), &format!("{pick} -")).write_stdin("0.1 0.2 0.3\n\n0.41,0.3,\t0.52\n").output();
    let many: Value = serde_json::from_slice(&run.expect("it starts").stdout).expect("JSON");
    assert_eq!(many["colours"].as_array().expect("a list").len(), 2);
    assert_eq!(many["colours"][1], colours[0]);

    // A look that stands alone takes the same path.
    let alone = "probe looks/night.toml --camera slog3+sgamut3-cine --display bt709 --json 0.41 0.3 0.52";
    assert_eq!(json(dir.path(), alone)["colours"][0], colours[0]);
}

#[test]
fn probe_gives_what_the_cube_holds() {
    let dir = saltmarsh();
    output(dir.path(), "bake show.toml");
    for name in ["night_r4_a_onset", "night_r4_b_grade", "plain_r1_b_onset"] {
        let [look, _, camera, display] = name.split('_').collect::<Vec<_>>()[..] else { panic!("four parts") };
        let text = fs::read_to_string(dir.path().join(format!("cubes/saltmarsh_{name}_5.cube"))).expect("it is baked");
        let cube = rushlight::format::cube::read(text.as_bytes(), Strictness::Strict)
            .expect("a cube")
            .into_cube()
            .expect("a 3D table");
        let nodes = (0..125).map(|i| cube.input(i % 5, i / 5 % 5, i / 25)).collect::<Vec<_>>();
        let lines: String = nodes.iter().map(|[r, g, b]| format!("{r} {g} {b}\n")).collect();
        let args = format!("probe show.toml --look {look} --camera {camera} --display {display} --json -");
        let run = run(dir.path(), &args).write_stdin(lines).output().expect("it starts");
        let report: Value = serde_json::from_slice(&run.stdout).expect("JSON");
        for (i, node) in cube.nodes().iter().enumerate() {
            let out = numbers(&report["colours"][i]["out"]);
            // Half a unit of the sixth decimal.
            assert!((0..3).all(|c| (out[c] - node[c]).abs() <= 5.0000001e-7), "{name} {i}: {out:?} {node:?}");
        }
    }
}

/// What a look gets wrong on a display is no fault of an option: there is no `--peak`.
#[test]
fn a_look_that_does_not_fit_a_display_is_named() {
    let dir = saltmarsh();
    let wide = "[displays.wide]\ngamut = 'bt2020'\neotf = 'pq'\npeak = 10000\ndiffuse_white = 100\n\
        [[bake]]\nlooks = ['night']\ndisplays = ['onset']\n";
    small(dir.path(), "wide.toml", wide);
    let frame = demo::folder().join("frame.exr");
    for args in [
        "probe wide.toml --look night --display wide 0.4 0.4 0.4",
        &format!("apply wide.toml {} out.png --look night --display wide", frame.display()),
    ] {
        assert_says(
            &refused(dir.path(), args),
            &[
                "error: look night on display wide: peak: 100 is out of range: it must lie between 1 and 50 times diffuse white",
            ],
        );
    }
}

#[test]
fn probe_by_stops() {
    let dir = saltmarsh();
    for (camera, stops, signal) in [
        ("a", "0", encoding("slog3").unwrap().build(None).unwrap().encode(0.18)),
        ("a", "-2", encoding("slog3").unwrap().build(None).unwrap().encode(0.045)),
        // The curve file's own points, brought from full to legal range: codes 64 to 940.
        ("b", "3", 0.75),
    ] {
        let args = format!("probe show.toml --look plain --camera {camera} --display onset --json --stops {stops}");
        let report = json(dir.path(), &args);
        let rgb = numbers(&report["colours"][0]["in"]);
        let signal = if camera == "b" { (64.0 + 876.0 * signal) / 1023.0 } else { signal };
        assert!(rgb.iter().all(|v| (v - signal).abs() < 1e-13), "{camera} {stops}: {rgb:?}, not {signal}");
    }
}

#[test]
fn probe_refuses_what_is_no_colour() {
    let dir = saltmarsh();
    let pick = "probe show.toml --look night --camera a --display onset";
    refusals(
        "cli_probe_refuses_what_is_no_colour",
        dir.path(),
        pick,
        &[
            "",
            "0.1 0.2",
            "0.1 0.2 0.3 0.4",
            "0.1 0.2 x",
            "0.1 nan 0.2",
            "0.1 0.2 inf",
            "0.1 0.2 1e300",
            "--stops 31",
            "--stops nan",
            "--stops 1 0.1 0.2 0.3",
        ],
    );
    for (lines, parts) in [
        ("", &["standard input has no colour"][..]),
        ("0.1 0.2 0.3\n0.1 0.2\n", &["standard input, line 2: 2 numbers where a colour has three"]),
        ("0.1 0.2 0,3\n", &["standard input, line 1: 4 numbers"]),
    ] {
        assert_says(&refused_with(run(dir.path(), &format!("{pick} -")).write_stdin(lines)), parts);
    }
    let several = refused(dir.path(), "probe show.toml --camera a --display onset 0.1 0.2 0.3");
    assert_says(&several, &["several looks", "--look", "night, plain"]);
}

#[test]
fn curve_answers_in_full_digits() {
    let dir = TempDir::new().expect("a temporary folder");
    let given = [-0.01, -1.5e-6, 0.0, 0.18, 0.7310585786300049, 1.0];
    let words = given.map(|v| format!("{v:e}")).join(" ");
    for curve in encodings() {
        let transfer = curve.build(None).expect("its base rating");
        for (way, f) in [("encode", true), ("decode", false)] {
            let report = json(dir.path(), &format!("curve {} --json --{way} {words}", curve.name));
            assert_eq!((&report["curve"], &report["direction"]), (&curve.name.into(), &way.into()));
            let values = report["values"].as_array().expect("a list");
            assert_eq!(values.len(), given.len());
            for (value, given) in values.iter().zip(given) {
                let expected = if f { transfer.encode(given) } else { transfer.decode(given) };
                assert_eq!(value["in"].as_f64().map(f64::to_bits), Some(given.to_bits()));
                assert_eq!(value["out"].as_f64().map(f64::to_bits), Some(expected.to_bits()), "{} {given}", curve.name);
            }
        }
        let text = output(dir.path(), &format!("curve {} --encode 0.18", curve.name));
        let bits = |word: Option<&str>| word.and_then(|w| w.parse().ok()).map(f64::to_bits);
        assert_eq!(bits(text.split_whitespace().nth(1)), Some(transfer.encode(0.18).to_bits()), "{}", curve.name);
    }
}

#[test]
fn curve_by_exposure_index() {
    let dir = TempDir::new().expect("a temporary folder");
    for &ei in encoding("logc3").expect("it is built in").ratings {
        let report = json(dir.path(), &format!("curve logc3 --ei {ei} --encode 0.5 --json"));
        let expected = encoding("logc3").unwrap().build(Some(ei)).unwrap().encode(0.5);
        assert_eq!(report["values"][0]["out"].as_f64().map(f64::to_bits), Some(expected.to_bits()), "{ei}");
        assert_eq!(report["ei"], ei);
        assert_holds_to(dir.path(), "curve-values", &report);
    }
    assert_holds_to(dir.path(), "curve-values", &json(dir.path(), "curve slog3 --json"));
    assert_says(&refused(dir.path(), "curve logc3 --ei 801 --encode 0.5"), &["--ei: logc3", "160", "1600"]);
    assert_says(&refused(dir.path(), "curve slog3 --ei 800"), &["--ei: slog3 is the same curve at every EI"]);
}

#[test]
fn curve_of_a_file() {
    let dir = saltmarsh();
    let report = json(dir.path(), "curve curves/heron.toml --json --encode 0.18 1.44");
    assert!((report["values"][0]["out"].as_f64().unwrap() - 0.5).abs() < 1e-14);
    assert!((report["values"][1]["out"].as_f64().unwrap() - 0.75).abs() < 1e-14);
    assert!(output(dir.path(), "curve curves/heron.toml").starts_with("Heron log\n  source  invented\n"));
    put(dir.path(), "curves/bad.toml", &CURVE.replace("[0, 0.5]", "[0, 0.2]").replace("source", "sourse"));
    let said = refused(dir.path(), "curve curves/bad.toml");
    assert_says(&said, &["curves/bad.toml:3:1: sourse: unknown key `sourse`: did you mean `source`?"]);
    assert_says(&refused(dir.path(), "curve curves/none.toml"), &["cannot read curves/none.toml: "]);
    assert_says(&refused(dir.path(), "curve curves/heron.toml --ei 800"), &["--ei: "]);
}

#[test]
fn curve_refuses() {
    let dir = TempDir::new().expect("a temporary folder");
    for (args, parts) in [
        ("curve", &["<NAME>"][..]),
        ("curve slog4", &["unknown curve `slog4`: did you mean `slog"]),
        ("curve slog3 --encode", &["--encode"]),
        ("curve slog3 --encode grey", &["'grey'"]),
        ("curve slog3 --encode inf", &["--encode: inf is not a finite number"]),
        ("curve slog3 --decode nan", &["--decode: NaN is not a finite number"]),
        ("curve slog3 --encode 1 --decode 1", &["cannot be used with"]),
        ("curve slog3 --decode 1 1e300", &["--decode: 1", "is no signal: a signal is 0 to 1"]),
        ("curve slog3 --decode 1 1e300 --json", &["is no signal"]),
    ] {
        assert_says(&refused(dir.path(), args), parts);
    }
}

#[test]
fn gamut_answers_by_its_contract() {
    let dir = TempDir::new().expect("a temporary folder");
    for from in &CATALOGUE {
        let report = json(dir.path(), &format!("gamut {} --json", from.name));
        let to = named_gamut("xyz").expect("it is built in");
        assert_eq!(report["to"], "xyz");
        let expected = from.gamut.to(&to.gamut, None);
        for r in 0..3 {
            let row = numbers(&report["matrix"][r]);
            assert!((0..3).all(|c| row[c].to_bits() == expected[(r, c)].to_bits()), "{}", from.name);
        }
    }
    for method in ["none", "bradford", "cat02", "cat16", "von-kries"] {
        let report = json(dir.path(), &format!("gamut aces-ap0 bt709 --adapt {method} --json"));
        assert_eq!(report["adaptation"], method);
        assert_eq!(report["matrix"].as_array().expect("rows").len(), 3);
        assert_holds_to(dir.path(), "gamut", &report);
    }
    refusals(
        "cli_gamut_answers_by_its_contract",
        dir.path(),
        "",
        &["gamut", "gamut bt790", "gamut bt709 p3", "gamut bt709 xyz --adapt bradfrod"],
    );
}

#[test]
fn list_names_everything() {
    let dir = TempDir::new().expect("a temporary folder");
    let all = json(dir.path(), "list --json");
    assert_holds_to(dir.path(), "list", &all);
    let print = json(dir.path(), "list steps print --json");
    assert_holds_to(dir.path(), "list", &print);
    let variants = print["steps"][0]["variant_numbers"].as_array().expect("the variants of the print");
    assert_eq!(variants.len(), VARIANTS.len());
    for (shown, variant) in variants.iter().zip(VARIANTS) {
        assert_eq!(shown["name"], variant.name);
        assert_eq!(shown["help"], variant.help);
        let numbers = &shown["numbers"];
        assert_eq!(numbers["grey"], variant.settings.grey, "{numbers}");
        assert_eq!(numbers["lights"], serde_json::json!(variant.settings.lights), "{numbers}");
        assert_eq!(numbers.as_object().expect("numbers").len(), parameters::ALL.len(), "{numbers}");
    }
    let count = |kind: &str| all[kind].as_array().expect("a list").len();
    assert_eq!((count("curves"), count("gamuts")), (encodings().len(), CATALOGUE.len()));
    assert_eq!((count("displays"), count("steps")), (7, rushlight::step::KINDS.len()));
    let text = output(dir.path(), "list");
    for kind in ["curves", "gamuts", "displays", "steps"] {
        let one = output(dir.path(), &format!("list {kind}"));
        assert!(text.contains(&one), "{kind}");
        assert_eq!(json(dir.path(), &format!("list {kind} --json"))[kind], all[kind]);
        for entry in all[kind].as_array().expect("a list") {
            assert!(one.contains(&format!("  {} ", entry["name"].as_str().expect("a name"))), "{entry}");
        }
    }
    assert_says(&refused(dir.path(), "list looks"), &["'looks'", "curves, gamuts, displays, steps"]);
}

#[test]
fn init_makes_a_show_that_bakes_at_once() {
    let dir = TempDir::new().expect("a temporary folder");
    let said = output(dir.path(), "init new/show");
    // What it says to do next is what works.
    let next = said.lines().find_map(|l| l.trim().strip_prefix("rushlight ")).expect("it says how to bake");
    output(dir.path(), next);
    let baked = files(&dir.path().join("new/show/cubes"));
    assert_eq!(baked.len(), 2, "{:?}", baked.keys());
    let before = files(&dir.path().join("new/show"));
    assert_says(&refused(dir.path(), "init new/show"), &["already exists"]);
    assert_eq!(files(&dir.path().join("new/show")), before);

    // One of its files is there: nothing is written.
    put(dir.path(), "half/show.toml", "mine");
    assert_says(&refused(dir.path(), "init half"), &["half/show.toml already exists"]);
    assert_eq!(files(&dir.path().join("half")), BTreeMap::from([("show.toml".to_owned(), b"mine".to_vec())]));
    assert!(!dir.path().join("half/looks").exists());
    put(dir.path(), "plain-file", "x");
    assert_says(&refused(dir.path(), "init plain-file"), &["plain-file"]);
    assert_says(&refused(dir.path(), "init"), &["<DIR>"]);
}

#[test]
fn schemas_are_of_draft_2020_12() {
    let dir = TempDir::new().expect("a temporary folder");
    for (document, required) in [("show", "cameras"), ("look", "step"), ("curve", "source")] {
        let schema = json(dir.path(), &format!("schema {document}"));
        assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
        assert!(schema["required"].as_array().expect("a list").contains(&required.into()), "{document}");
        assert!(schema["properties"][required].is_object(), "{document}");
    }
    let reports = "apply camera chain chart curve-values diff false-colour gamut hand-off inspect \
        list manifest measure pictures probe processing sheet stress verify";
    for report in reports.split_whitespace() {
        schema(dir.path(), report);
    }
    assert_says(&refused(dir.path(), "schema cube"), &["'cube'", "show, look, curve"]);
}

#[test]
fn completions_and_manual_pages() {
    let dir = TempDir::new().expect("a temporary folder");
    for (shell, mark) in [("bash", "complete -F"), ("zsh", "#compdef rushlight"), ("fish", "complete -c rushlight")] {
        let text = output(dir.path(), &format!("completions {shell}"));
        assert!(text.contains(mark), "{shell}");
        assert!(["bake", "probe", "curve", "gamut", "init"].iter().all(|c| text.contains(c)), "{shell}");
    }
    assert_says(&refused(dir.path(), "completions tcsh"), &["'tcsh'"]);
    assert!(output(dir.path(), "man").contains(".TH rushlight 1"));
    output(dir.path(), "man --out pages");
    let pages = files(&dir.path().join("pages"));
    assert!(pages.len() >= 10, "{:?}", pages.keys());
    for part in ["rushlight-chain", "rushlight-chain-chart", "rushlight-chain-check", "rushlight-chain-display"] {
        let text = String::from_utf8_lossy(&pages[&format!("{part}.1")]).into_owned();
        assert!(text.contains(&format!(".TH {part} 1")), "{part}: {text}");
    }
    for (name, text) in pages.iter().filter(|(name, _)| name.ends_with(".1")) {
        assert!(text.starts_with(b".ie") && String::from_utf8_lossy(text).contains(".SH SYNOPSIS"), "{name}");
    }
}

#[test]
fn unknown_and_missing_commands() {
    let dir = TempDir::new().expect("a temporary folder");
    assert_says(&refused(dir.path(), "bke"), &["unrecognized subcommand 'bke'", "bake"]);
    assert_says(&refused(dir.path(), ""), &["Usage: rushlight <COMMAND>"]);
    assert!(output(dir.path(), "--version").starts_with("rushlight "));
    assert!(output(dir.path(), "--help").contains("Exit codes: 0, the command succeeded; 1, "));
    assert!(output(dir.path(), "help bake").contains("SHOW-or-LOOK"));
    assert!(output(dir.path(), "bake --help").contains("Files appear whole or not at all."));
}

#[test]
fn every_problem_of_the_documents_is_said_with_its_place() {
    let dir = saltmarsh();
    let broken = SHOW
        .replace("curve = \"slog3\"", "curve = \"slog33\"")
        .replace("standard = \"bt709\"", "standrad = \"bt709\"")
        .replace("range = \"legal\"\n\n[displays.onset]", "range = \"narrow\"\n\n[displays.onset]")
        .replace("points = 5", "points = 999");
    put(dir.path(), "sub/show.toml", &broken.replace("\"looks/", "\"../looks/").replace("\"curves/", "\"../curves/"));
    put(dir.path(), "looks/plain.toml", &PLAIN.replace("'tone'", "'tone'\ncontrats = 3"));
    let expected = [
        "error: sub/show.toml:6:9: cameras.a.curve: ",
        "error: sub/show.toml:12:9: cameras.b.range: ",
        "error: sub/show.toml:15:1: displays.onset.standrad: unknown key `standrad`: did you mean `standard`?",
        "error: sub/show.toml:27:10: bake[0].points: 999 is out of range",
        "looks/plain.toml:6:1: step[0].contrats: unknown key `contrats`: did you mean `contrast`?",
    ];
    for args in ["bake sub/show.toml", "probe sub/show.toml 0.1 0.2 0.3"] {
        let said = refused(dir.path(), args);
        assert_says(&said, &expected);
        assert!(said.lines().all(|l| l.starts_with("error: ")), "{said}");
    }
    assert!(!dir.path().join("cubes").exists());

    put(dir.path(), "syntax.toml", "schema = 1\ntitle = = 2\n");
    assert_says(&refused(dir.path(), "bake syntax.toml"), &["error: syntax.toml:2:9: not valid TOML"]);
    put(dir.path(), "empty.toml", "");
    assert_says(&refused(dir.path(), "bake empty.toml"), &["empty.toml:1:1: missing key `schema`"]);
    put(dir.path(), "open.toml", "schema = 1\ngeneration = 2\ntitle = 'x'\n[[step]]\ndo = 'exposure'\nstops = 1\n");
    let open = refused(dir.path(), "bake open.toml --camera slog3+sgamut3 --display bt709");
    assert_says(&open, &["open.toml:", "display light", "print", "tone"]);
}

/// A reader that is gone, such as `head` after its lines, is no failure.
#[test]
fn a_closed_reader_is_no_failure() {
    let dir = saltmarsh();
    for args in [
        "list",
        "list --json",
        "guide cubes",
        "curve slog3",
        "gamut bt709",
        "schema show",
        "completions bash",
        "man",
        "--help",
        "bake --help",
        "probe show.toml --look night --camera a --display onset 0.1 0.2 0.3",
        "bake show.toml --json",
        "init fresh",
    ] {
        let (reader, writer) = std::io::pipe().expect("a pipe");
        drop(reader);
        let child = std::process::Command::new(rushlight_tests::rushlight())
            .current_dir(dir.path())
            .args(args.split_whitespace())
            .stdout(writer)
            .stderr(Stdio::piped())
            .spawn()
            .expect("it starts");
        let run = child.wait_with_output().expect("it ends");
        assert_eq!(String::from_utf8_lossy(&run.stderr), "", "{args}");
        assert_eq!(run.status.code(), Some(0), "{args}");
    }
    assert_eq!(files(&dir.path().join("cubes")).len(), 9, "the cubes are there all the same");
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_under_standard_output_is_a_failure() {
    let dir = TempDir::new().expect("a temporary folder");
    let full = fs::OpenOptions::new().write(true).open("/dev/full").expect("Linux has it");
    let run = std::process::Command::new(rushlight_tests::rushlight())
        .current_dir(dir.path())
        .arg("list")
        .stdout(full)
        .output()
        .expect("it starts");
    assert_eq!(run.status.code(), Some(2));
    assert_says(&String::from_utf8_lossy(&run.stderr), &["error: cannot write to standard output: "]);
}

#[test]
fn reports_fit_80_columns() {
    let dir = saltmarsh();
    let mut all = vec![
        "list".to_owned(),
        "bake show.toml".to_owned(),
        "bake looks/night.toml --camera log3g10+redwidegamut --display bt2100-hlg --out alone".to_owned(),
        "init elsewhere".to_owned(),
        "curve curves/heron.toml".to_owned(),
        "probe show.toml --look night --camera b --display grade 0.1 0.9 -0.2".to_owned(),
        "probe show.toml --look plain --camera a --display onset 9 -1e9 1e-9".to_owned(),
    ];
    all.extend(encodings().iter().map(|e| format!("curve {}", e.name)));
    all.extend(CATALOGUE.iter().map(|g| format!("gamut {}", g.name)));
    all.extend(CATALOGUE.iter().map(|g| format!("gamut {} bt2020", g.name)));
    for args in &all {
        for line in output(dir.path(), args).lines() {
            assert!(line.chars().count() <= 80, "{args}: {} columns: {line}", line.chars().count());
        }
    }
}

/// `list steps NAME`: every setting with its range and default, and an example that a look can have.
#[test]
fn a_step_is_listed_with_all_its_settings() {
    let dir = TempDir::new().expect("a temporary folder");
    for kind in rushlight::step::KINDS {
        let text = output(dir.path(), &format!("list steps {}", kind.name));
        assert!(text.starts_with(&format!("{}: {}", kind.name, kind.help)[..20]), "{text}");
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
        for (key, field) in kind.shape.leaves() {
            let line = text.lines().find(|line| line.split_whitespace().next() == Some(&key));
            let line = line.unwrap_or_else(|| panic!("{key}: {text}"));
            assert!(
                field.parameter().is_none_or(|p| p.min.abs() < 1e-4 && p.min != 0.0
                    || line.contains(&p.min.to_string())
                    || line.contains('[')),
                "{line}"
            );
        }
        for line in kind.example.lines() {
            assert!(text.contains(&format!("  {line}\n")), "{line}: {text}");
        }
        let all = json(dir.path(), &format!("list steps {} --json", kind.name));
        assert_eq!(all["steps"][0]["settings"].as_array().unwrap().len(), kind.shape.leaves().len());
    }
    let tint = output(dir.path(), "list steps tint");
    assert!(tint.contains("\n  shadow_width     0.5 to 10 stops; default 4\n"), "{tint}");
    let one = output(dir.path(), "list curves slog3");
    assert_eq!(one.lines().filter(|line| line.starts_with("  ") && !line.starts_with("   ")).count(), 1, "{one}");
    for (args, why) in [
        ("list steps tnt", "unknown step `tnt`: did you mean `tint`?"),
        ("list curves slog-3", "unknown curve `slog-3`: did you mean `slog3`?"),
    ] {
        assert_says(&refused(dir.path(), args), &[why]);
    }
}
