//! `diff`: two versions of a look, show or cube, in every format, with limits, and wrong input.

use quick_xml::events::Event;
use rushlight_tests::scene::{NIGHT, SHOW, Transcript, assert_holds_to, assert_says, put, refused, run, saltmarsh};
use serde_json::Value;
use std::fs;
use std::path::Path;

/// Exit code and standard output of a run that says nothing on standard error.
fn ran(dir: &Path, args: &str) -> (i32, String) {
    let run = run(dir, args).output().expect("it starts");
    assert_eq!(String::from_utf8_lossy(&run.stderr), "", "{args}");
    (run.status.code().expect("it ends"), String::from_utf8(run.stdout).expect("UTF-8"))
}

fn json(dir: &Path, args: &str) -> (i32, Value) {
    let (code, text) = ran(dir, args);
    let report: Value = serde_json::from_str(&text).expect("JSON");
    assert_holds_to(dir, "diff", &report);
    (code, report)
}

/// A group of the first picture.
fn group<'v>(report: &'v Value, name: &str) -> &'v Value {
    let groups = report["items"][0]["pictures"][0]["comparison"]["groups"].as_array().expect("groups");
    groups.iter().find(|g| g["name"] == name).unwrap_or_else(|| panic!("{name}"))
}

/// The show, and beside it its night look with another exposure.
fn with_new() -> tempfile::TempDir {
    let dir = saltmarsh();
    put(
        dir.path(),
        "new/night.toml",
        &NIGHT.replace("stops = -1.0", "stops = -1.5").replace("revision = 4", "revision = 5"),
    );
    dir
}

const STANDING: &str = "--camera slog3+sgamut3-cine --display bt709";

#[test]
fn a_darker_look_is_told_in_words_and_figures() {
    let dir = with_new();
    let args = format!("diff looks/night.toml new/night.toml {STANDING}");
    let (code, text) = ran(dir.path(), &args);
    assert_eq!(code, 1);
    for part in [
        "revision 4 -> 5",
        "exposure -1.0 -> -1.5 stops",
        "CIEDE2000",
        "neutral",
        "darker",
        "-0.50 stops",
        "\ndifferent\n",
    ] {
        assert!(text.contains(part), "{part}:\n{text}");
    }
    assert!(text.lines().all(|l| l.chars().count() <= 80) && text.lines().count() <= 40, "{text}");
    assert_eq!(text.lines().nth(1), Some("different"), "the verdict comes before the figures: {text}");
    let (code, report) = json(dir.path(), &format!("{args} --json"));
    assert_eq!((code, report["verdict"].as_str(), report["schema"].as_u64()), (1, Some("different"), Some(1)));
    let grey = &report["items"][0]["pictures"][0]["comparison"]["grey"];
    assert!((grey["stops"].as_f64().expect("stops") + 0.5).abs() < 1e-9, "{grey}");
    assert_eq!(report["items"][0]["pictures"][0]["comparison"]["groups"].as_array().map(Vec::len), Some(6));
    assert_eq!(ran(dir.path(), &format!("{args} --exit-zero")).0, 0);
    // The other way round: the same figures, the other direction.
    let (_, back) = json(dir.path(), &format!("diff new/night.toml looks/night.toml {STANDING} --json"));
    for name in ["whole", "plausible", "neutral", "skin", "samples", "lights"] {
        let (there, back) = (group(&report, name), group(&back, name));
        assert_eq!((&there["mean"], &there["max"]), (&back["mean"], &back["max"]), "{name}");
        let up = |g: &Value| g["direction"]["lightness"].as_f64().expect("a number");
        assert_eq!(up(there), -up(back), "{name}");
    }
}

#[test]
fn the_show_above_a_look_says_its_cameras_and_displays() {
    let dir = with_new();
    let (code, report) = json(dir.path(), "diff looks/night.toml new/night.toml --json");
    assert_eq!(code, 1);
    let pictures = report["items"][0]["pictures"].as_array().expect("pictures");
    let of = |key: &str| pictures.iter().map(|p| p[key].as_str().unwrap_or("")).collect::<Vec<_>>();
    assert_eq!(of("camera"), ["a", "a", "b", "b"]);
    assert_eq!(of("display"), ["grade", "onset", "grade", "onset"]);
    let formulas: Vec<_> = pictures.iter().map(|p| p["comparison"]["difference"].as_str()).collect();
    assert_eq!(formulas[..2], [Some("delta-e-itp"), Some("ciede2000")]);
    let (_, one) =
        json(dir.path(), "diff looks/night.toml new/night.toml --show show.toml --camera b --display onset --json");
    assert_eq!(one["items"][0]["pictures"][0]["comparison"], pictures[3]["comparison"]);
}

#[test]
fn the_same_is_identical_and_comments_mean_nothing() {
    let dir = saltmarsh();
    for args in [format!("diff looks/night.toml looks/night.toml {STANDING}"), "diff show.toml show.toml".to_owned()] {
        let (code, text) = ran(dir.path(), &args);
        assert_eq!(code, 0, "{text}");
        assert!(text.ends_with("\nidentical\n"), "{text}");
    }
    put(dir.path(), "looks/said.toml", &format!("# Said again.\n{NIGHT}"));
    let (code, report) = json(dir.path(), &format!("diff looks/night.toml looks/said.toml {STANDING} --json"));
    assert_eq!((code, report["verdict"].as_str()), (0, Some("identical")));
    let groups = report["items"][0]["pictures"][0]["comparison"]["groups"].as_array().expect("they were measured");
    assert!(groups.iter().all(|g| g["max"] == 0.0 && g["worst"].is_null()));
}

#[test]
fn limits_decide_and_shows_hold_their_own() {
    let dir = with_new();
    let args = format!("diff looks/night.toml new/night.toml {STANDING}");
    let (code, text) = ran(dir.path(), &format!("{args} --limit mean=50,max=90"));
    assert_eq!(code, 0, "{text}");
    assert!(text.contains("none is exceeded") && text.contains("\nwithin the limits\n"));
    let (code, text) = ran(dir.path(), &format!("{args} --limit mean=50 --limit neutral.max=0.3"));
    assert_eq!(code, 1);
    assert!(text.contains("neutral max ") && text.contains("limit 0.3") && text.contains("\nbeyond the limits\n"));
    // A show with limits, whose look changes.
    let new = tempfile::tempdir().expect("a folder");
    for (name, text) in [
        ("show.toml", format!("{SHOW}\n[limits]\nskin = {{ mean = 90 }}\n")),
        ("looks/night.toml", NIGHT.replace("stops = -1.0", "stops = -1.1")),
        ("looks/plain.toml", rushlight_tests::scene::PLAIN.to_owned()),
        ("curves/heron.toml", rushlight_tests::scene::CURVE.to_owned()),
    ] {
        put(new.path(), name, &text);
    }
    let to = new.path().join("show.toml");
    let args = format!("diff show.toml {} --camera a --display onset", to.display());
    let (code, report) = json(dir.path(), &format!("{args} --json"));
    assert_eq!((code, report["verdict"].as_str()), (0, Some("within")));
    let words: Vec<_> = report["items"][0]["documents"]
        .as_array()
        .expect("documents")
        .iter()
        .flat_map(|d| d["changes"].as_array().expect("changes"))
        .map(|c| c["words"].as_str().expect("words"))
        .collect();
    assert_eq!(words, ["limit skin.mean added: 90", "exposure -1.0 -> -1.1 stops"]);
    let states: Vec<_> = report["items"][0]["pictures"]
        .as_array()
        .expect("pictures")
        .iter()
        .map(|p| (p["look"].as_str().unwrap(), p["state"].as_str().unwrap()))
        .collect();
    assert_eq!(states, [("night", "changed"), ("plain", "identical")]);
    assert_eq!(ran(dir.path(), &format!("{args} --limit skin.mean=0.001")).0, 1);
    // A limit that is none, with line and key.
    put(new.path(), "show.toml", &format!("{SHOW}\n[limits]\nneutral.maxx = 1\nskin.max = -1\n"));
    assert_says(
        &refused(dir.path(), &format!("diff show.toml {}", to.display())),
        &["limits.neutral.maxx: unknown key `maxx`: did you mean `max`?", "limits.skin.max", "a number from 0 up"],
    );
}

#[test]
fn a_look_by_itself_keeps_to_the_show_above_it() {
    let dir = with_new();
    let root = dir.path();
    put(root, "looks/new.toml", &NIGHT.replace("stops = -1.0", "stops = -1.5"));
    put(root, "show.toml", &format!("{SHOW}\n[limits]\nmax = 90\n"));
    let args = "diff looks/night.toml looks/new.toml";
    let (code, text) = ran(root, &format!("{args} --camera a --display onset"));
    assert_eq!(code, 0, "{text}");
    assert!(text.contains("limits max=90") && text.contains("\nwithin the limits\n"), "{text}");
    assert!(text.contains("a, onset") && !text.contains("b, onset"), "{text}");
    // A limit of a group's own takes the place of the one on all; of each, the worst breach is reported once.
    let (code, text) = ran(root, &format!("{args} --limit max=0.01 --limit skin.max=90"));
    assert_eq!(code, 1);
    let of_limits: Vec<&str> = text.lines().filter(|line| line.contains(", limit ")).collect();
    assert!(matches!(of_limits[..], [one] if one.contains("; and ") && !one.contains("skin")), "{text}");
    // A show that is broken is reported as broken.
    put(root, "show.toml", &SHOW.replace("night = \"looks/night.toml\"", "night = \"looks/night.toml\"\nnihgt = 3"));
    assert_says(&refused(root, args), &["show.toml", "nihgt"]);
}

#[test]
fn a_look_under_another_name_is_measured_all_the_same() {
    let dir = saltmarsh();
    let root = dir.path();
    put(root, "looks/dusk.toml", &NIGHT.replace("stops = -1.0", "stops = 2.7"));
    let renamed =
        SHOW.replace("night = \"looks/night.toml\"", "dusk = \"looks/dusk.toml\"").replace("\"night\"", "\"dusk\"");
    put(root, "new.toml", &renamed);
    let (code, report) = json(root, "diff show.toml new.toml --limit max=1 --camera a --display onset --json");
    assert_eq!((code, report["verdict"].as_str()), (1, Some("beyond")), "{report}");
    let picture = &report["items"][0]["pictures"][0];
    assert_eq!((picture["look"].as_str(), picture["state"].as_str()), (Some("dusk"), Some("changed")));
    assert_eq!(picture["note"], "look night is called dusk now");
    let words = report["items"][0]["documents"].to_string();
    assert!(words.contains("exposure -1.0 -> 2.7 stops"), "{words}");
}

#[test]
fn a_cube_says_by_its_header_what_it_is_for() {
    let dir = saltmarsh();
    let root = dir.path();
    run(root, "bake show.toml --look night --points 5 --no-audit --out cubes").output().expect("it starts");
    let all: Vec<_> = fs::read_dir(root.join("cubes")).unwrap().map(|e| e.unwrap().file_name()).collect();
    let cubes: Vec<String> =
        all.iter().map(|n| n.to_string_lossy().into_owned()).filter(|n| n.ends_with(".cube")).collect();
    let of = |part: &str| cubes.iter().find(|name| name.contains(part)).unwrap_or_else(|| panic!("{part}: {cubes:?}"));
    let (a, b) = (of("_a_onset_"), of("_b_onset_"));
    fs::remove_file(root.join("cubes/manifest.json")).unwrap();
    assert_says(
        &refused(root, &format!("diff cubes/{a} cubes/{b}")),
        &["by its manifest or header", "is for the camera", "slog3, sgamut3-cine"],
    );
    let (code, text) = ran(root, &format!("diff cubes/{a} cubes/{a}"));
    assert_eq!(code, 0);
    assert!(!text.contains("taken for"), "{text}");
}

#[test]
fn shows_whose_display_is_another_cannot_be_compared_there() {
    let dir = saltmarsh();
    put(dir.path(), "new.toml", &SHOW.replace("standard = \"bt709\"", "standard = \"bt709\"\npeak = 203"));
    let (code, report) = json(dir.path(), "diff show.toml new.toml --look plain --camera a --json --limit max=1");
    assert_eq!((code, report["verdict"].as_str()), (1, Some("beyond")));
    let pictures = report["items"][0]["pictures"].as_array().expect("pictures");
    assert_eq!(
        (pictures[0]["state"].as_str(), pictures[1]["state"].as_str()),
        (Some("identical"), Some("incomparable"))
    );
    assert!(pictures[1]["note"].as_str().expect("a note").contains("100 nits"), "{}", pictures[1]);
}

#[test]
fn a_cube_is_compared_with_its_look_and_with_another_cube() {
    let dir = with_new();
    ran(dir.path(), "bake show.toml --points 9 --look night --camera a --display onset --out cubes");
    let cube = "cubes/saltmarsh_night_r4_a_onset_9.cube";
    // By its manifest the cube is of this camera and display.
    let (_, report) = json(dir.path(), &format!("diff show.toml {cube} --look night --json"));
    let manifest: Value = serde_json::from_slice(&fs::read(dir.path().join("cubes/manifest.json")).unwrap()).unwrap();
    let audit = &manifest["cubes"][0]["audit"];
    for (set, name) in [("uniform", "whole"), ("plausible", "plausible")] {
        let (figures, group) = (&audit[set]["tetrahedral"], group(&report, name));
        for figure in ["mean", "p95", "max"] {
            let (a, b) = (figures[figure].as_f64().unwrap(), group[figure].as_f64().unwrap());
            // Cube text has ten significant digits or so.
            assert!((a - b).abs() < 1e-3, "{name} {figure}: {a} {b}");
        }
    }
    // Two cubes.
    put(dir.path(), "looks/night.toml", &NIGHT.replace("stops = -1.0", "stops = -0.9"));
    ran(dir.path(), "bake show.toml --points 9 --look night --camera a --display onset --out later");
    let (code, report) = json(dir.path(), &format!("diff {cube} later/saltmarsh_night_r4_a_onset_9.cube --json"));
    assert_eq!(code, 1);
    assert_eq!(group(&report, "whole")["count"], 729);
    let grey = &report["items"][0]["pictures"][0]["comparison"]["grey"]["stops"];
    assert!((grey.as_f64().expect("by the manifest's camera") - 0.1).abs() < 0.05, "{grey}");
    // With neither a manifest nor a header the assumptions are reported.
    for (from, to) in [(cube, "one.cube"), ("later/saltmarsh_night_r4_a_onset_9.cube", "two.cube")] {
        let text = fs::read_to_string(dir.path().join(from)).expect("text");
        let plain: String = text.lines().filter(|l| !l.starts_with('#')).flat_map(|l| [l, "\n"]).collect();
        put(dir.path(), to, &plain);
    }
    let (_, text) = ran(dir.path(), "diff one.cube two.cube");
    assert!(text.contains("bt709 (BT.1886, 100 nits) is assumed") && !text.contains("skin "), "{text}");
    assert_eq!(ran(dir.path(), "diff one.cube one.cube").0, 0);
}

#[test]
fn every_format_is_written_and_read_back() {
    let dir = with_new();
    let args = format!(
        "diff looks/night.toml new/night.toml {STANDING} --limit neutral.max=0.3,whole.mean=90 --format text --format json=out/d.json --format markdown=out/d.md --format html=out/d.html --format junit=out/d.xml"
    );
    let (code, text) = ran(dir.path(), &args);
    assert_eq!(code, 1);
    assert!(text.contains("beyond the limits"));
    let read = |name: &str| fs::read_to_string(dir.path().join("out").join(name)).expect("it was written");
    let report: Value = serde_json::from_str(&read("d.json")).expect("JSON");
    assert_eq!(report["verdict"], "beyond");
    let markdown = read("d.md");
    assert!(markdown.contains("exposure -1.0 → -1.5 stops") && markdown.contains("| neutral |"), "{markdown}");
    let page = read("d.html");
    assert!(page.starts_with("<!DOCTYPE html>") && page.contains("data:image/png;base64,") && page.contains("<svg"));
    assert!(
        page.contains("Rows from the top: greys by the stop; the CIE 13.3 samples"),
        "what the chart shows is said"
    );
    for outside in ["http-equiv=\"refresh\"", "<script", "<link", "src=\"http", "url("] {
        assert!(!page.contains(outside), "{outside}");
    }
    let (mut cases, mut failures, mut names) = (0, 0, Vec::new());
    let xml = read("d.xml");
    let mut reader = quick_xml::Reader::from_str(&xml);
    loop {
        match reader.read_event().expect("XML") {
            Event::Start(e) | Event::Empty(e) if e.name().as_ref() == "testcase" => {
                cases += 1;
                let name = e.try_get_attribute("name").expect("XML").expect("a name");
                names.push(name.value.into_owned());
            }
            Event::Start(e) | Event::Empty(e) if e.name().as_ref() == "failure" => failures += 1,
            Event::Eof => break,
            _ => {}
        }
    }
    assert_eq!((cases, failures), (2, 1), "{xml}");
    assert_eq!(names, ["neutral.max at most 0.3", "whole.mean at most 90"]);
    // As often as one likes, the same bytes.
    ran(dir.path(), &args.replace("out/", "again/"));
    for name in ["d.json", "d.md", "d.html", "d.xml"] {
        assert!(read(name) == fs::read_to_string(dir.path().join("again").join(name)).expect("again"), "{name}");
    }
}

#[test]
fn wrong_input_is_one_clear_error() {
    let dir = with_new();
    let cube = |domain: &str| format!("LUT_3D_SIZE 2\n{domain}{}", "0.1 0.2 0.3\n".repeat(8));
    put(dir.path(), "unit.cube", &cube(""));
    put(dir.path(), "wide.cube", &cube("DOMAIN_MIN -1 -1 -1\nDOMAIN_MAX 2 2 2\n"));
    put(dir.path(), "odd/dusk.toml", NIGHT);
    put(dir.path(), "Cargo.toml", "[package]\nname = 'x'\n");
    let mut transcript = Transcript::of("diff_wrong_input_is_one_clear_error");
    for args in [
        "diff one.toml new/night.toml",
        "diff new/night.toml",
        "diff unit.cube wide.cube",
        "diff odd/dusk.toml odd/dusk.toml",
        "diff unit.cube unit.cube --limit greys.max=1",
        "diff unit.cube unit.cube --limit max=-1",
        "diff unit.cube unit.cube --format htm",
        "diff unit.cube unit.cube --format text --format json",
        "diff unit.cube unit.cube --display bt70",
        "diff show.toml unit.cube --look night",
        "diff show.toml unit.cube",
        "diff Cargo.toml new/night.toml",
        "diff unit.cube notes.txt",
    ] {
        transcript.add(args, &refused(dir.path(), args));
    }
    transcript.check();
    // Cubes for different displays, by their manifests.
    ran(dir.path(), "bake show.toml --points 5 --look plain --camera a --out cubes");
    let cube = |display: &str| format!("cubes/saltmarsh_plain_r1_a_{display}_5.cube");
    let both = format!("diff {} {}", cube("onset"), cube("grade"));
    assert_says(&refused(dir.path(), &both), &["is for the display bt2100-pq"]);
    // A report that cannot be written leaves the old one as it was.
    put(dir.path(), "out.md/file", "");
    assert_says(&refused(dir.path(), &format!("diff unit.cube unit.cube --format markdown={}", "out.md")), &["folder"]);
}
