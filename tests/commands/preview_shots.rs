//! `preview`: shots are corrected, compared and saved into the very files that have them, and their cubes are those of `bake`.

use rushlight::frame::{Depth, Format, Frame, Info, write};
use rushlight_tests::scene::{SHOW, assert_says, json, put, refused, run, saltmarsh, wait_until};
use rushlight_tests::server::{Server, next_event};
use serde_json::{Value, json};
use std::fs;
use std::path::Path;
use tempfile::TempDir;

const WAY: &str = "look=night&camera=a&display=onset";
const CCC: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<!-- first night -->\n\
    <ColorCorrectionCollection xmlns=\"urn:ASC:CDL:v1.2\">\n  <ColorCorrection id=\"12A-3\">\n    <!-- by eye -->\n    <SOPNode>\n      \
    <Slope>1.020 1 0.98</Slope>\n      <Offset>0 0 0</Offset>\n      <Power>1 1 1</Power>\n    </SOPNode>\n    <SatNode>\n      \
    <Saturation>0.95</Saturation>\n    </SatNode>\n  </ColorCorrection>\n  <ColorCorrection id=\"12B-1\">\n    <SatNode><Saturation>0.9\
    </Saturation></SatNode>\n  </ColorCorrection>\n</ColorCorrectionCollection>\n";
const ALE: &str = "Heading\nFIELD_DELIM\tTABS\nFPS\t24\n\nColumn\nName\tTape\tASC_SOP\tASC_SAT\tRemark\n\nData\n\
    31-2\tB004\t(1 1 1.02)(0 0 0.004)(1 1 1)\t1\t fog \n31-4\tB004\t\t\t\n";
const CSV: &str = "Shot;Remark;ASC_SAT;ASC_SOP\n\n41-1;\"a; \"\"b\"\"\";1.0;\n41-2;;0.9;\n";
const EDL: &str = "TITLE: day 3\n001  A001     V     C        01:00:00:00 01:00:04:00 00:00:00:00 00:00:04:00\n\
    * FROM CLIP NAME: 51-1\n*ASC_SAT 0.9\n* LENS 40 mm\n";
const SHOTS: &str = r#"
[cdl]
files = ["night.ccc"]   # from the tent

[[shots]]
name = "12A-3"          # at dusk
look = "night"
camera = "a"
frame = "frames/12A-3.png"
ei = 800
white = { kelvin = 4300, tint = -2 }
reel = "A001"
timecode = "01:02:03:04"
note = "lantern in"

[[shots]]
name = "12B-1"

[[shots]]
list = "day.ale"

[[shots]]
list = "day.csv"
column = "shot"

[[shots]]
list = "day.edl"

# the last words
"#;

pub(crate) fn scene() -> TempDir {
    let dir = saltmarsh();
    put(dir.path(), "show.toml", &format!("{SHOW}{SHOTS}"));
    for (name, text) in [("night.ccc", CCC), ("day.ale", ALE), ("day.csv", CSV), ("day.edl", EDL)] {
        put(dir.path(), name, text);
    }
    dir
}

fn read(dir: &Path, name: &str) -> String {
    fs::read_to_string(dir.join(name)).expect(name)
}

pub(crate) fn edit(server: &Server, shot: &str, edit: Value) -> Value {
    let mut question = edit;
    question["version"] = server.get(&format!("shots/{shot}")).good()["version"].clone();
    server.post(&format!("shots/{shot}/edit"), &question).good()
}

fn save(server: &Server, shot: &str) -> Value {
    let version = server.get(&format!("shots/{shot}")).good()["version"].clone();
    let question = json!({ "version": version, "look": "night", "camera": "a", "display": "onset" });
    server.post(&format!("shots/{shot}/save"), &question).good()
}

/// Lines that are not the same in two texts of as many.
fn changed<'t>(before: &'t str, after: &'t str) -> Vec<&'t str> {
    assert_eq!(before.split('\n').count(), after.split('\n').count(), "{after}");
    before.split('\n').zip(after.split('\n')).filter(|(a, b)| a != b).map(|(_, b)| b).collect()
}

#[test]
fn shots_are_listed_with_what_the_show_notes_of_them() {
    let dir = scene();
    let server = Server::start(dir.path(), "show.toml --shot 12A-3");
    assert_eq!(server.get("state").good()["pick"]["shot"], "12A-3");
    let all = server.get("shots").good();
    let names: Vec<&str> = all["shots"].as_array().unwrap().iter().map(|s| s["name"].as_str().unwrap()).collect();
    assert_eq!(names, ["12A-3", "12B-1", "31-2", "41-1", "41-2", "51-1"]);
    let first = &all["shots"][0];
    let notes =
        json!([first["frame"], first["ei"], first["white"]["kelvin"], first["reel"], first["timecode"], first["note"]]);
    assert_eq!(notes, json!(["frames/12A-3.png", 800.0, 4300.0, "A001", "01:02:03:04", "lantern in"]));
    assert_eq!((&first["numbers"]["slope"], &first["unsaved"]), (&json!([1.02, 1.0, 0.98]), &json!(false)));
    assert!(all["grading"].as_str().unwrap().contains("before the look, in ACEScct"));
    assert_eq!(all["into"], json!(["night.ccc", "day.ale", "shots.ccc"]));
    assert_says(&refused(dir.path(), "preview show.toml --shot 12A-4 --no-open"), &["--shot", "did you mean `12A-3`"]);
    let wrong = SHOTS.replace("01:02:03:04", "1 o'clock").replace("ei = 800", "ei = -1").replace("A001", "A\\u0001");
    put(dir.path(), "wrong.toml", &format!("{SHOW}{wrong}"));
    let said = refused(dir.path(), "bake wrong.toml --out x");
    assert_says(&said, &["shots[0].timecode", "HH:MM:SS:FF", "shots[0].ei", "shots[0].reel", "one line"]);
    let of_list = SHOTS.replace("list = \"day.ale\"", "list = \"day.ale\"\nnote = \"x\"");
    put(dir.path(), "wrong.toml", &format!("{SHOW}{of_list}"));
    assert_says(&refused(dir.path(), "bake wrong.toml --out x"), &["shots[2].note", "goes with `name`"]);
}

#[test]
fn a_shot_is_seen_through_its_correction_as_bake_has_it() {
    let dir = scene();
    let server = Server::start(dir.path(), "show.toml");
    let cube = |more: &str| server.get(&format!("cube?{WAY}&points=5{more}")).body;
    let [plain, shot] = [cube(""), cube("&shot=12A-3")];
    assert_ne!(plain, shot);
    let probed =
        json(dir.path(), "probe show.toml 0.5 0.4 0.3 --look night --camera a --display onset --shot 12A-3 --json");
    let way = json!({ "signal": [0.5, 0.4, 0.3], "look": "night", "camera": "a", "display": "onset", "shot": "12A-3" });
    let seen = server.post("probe", &way).good();
    assert_eq!(seen["out"], probed["colours"][0]["out"]);
    // An edit is seen, and what is saved stays to be compared with.
    edit(&server, "12A-3", json!({ "op": "set", "key": "offset", "value": [0.05, 0.0, 0.0] }));
    assert_ne!(cube("&shot=12A-3"), shot);
    assert_eq!(cube("&shot=12A-3&shot_at=saved"), shot);
    edit(&server, "12A-3", json!({ "op": "reset" }));
    assert_eq!(cube("&shot=12A-3"), plain);
    let sides = "compare?a=night@now&b=night@now&camera=a&display=onset";
    assert_eq!(server.get(sides).good()["identical"], true);
    assert_eq!(server.get(&format!("{sides}&a_shot=12A-3&a_shot_at=saved&b_shot=12A-3")).good()["identical"], false);
}

#[test]
fn each_file_takes_its_correction_and_all_else_of_it_stays() {
    let dir = scene();
    let server = Server::start(dir.path(), "show.toml");
    edit(&server, "12A-3", json!({ "op": "set", "key": "slope", "value": [1.02, 1.0, 0.95] }));
    assert_eq!(save(&server, "12A-3")["unsaved"], false);
    let text = read(dir.path(), "night.ccc");
    assert_eq!(changed(CCC, &text), ["      <Slope>1.02 1 0.95</Slope>"]);
    edit(&server, "31-2", json!({ "op": "set", "key": "saturation", "value": 0.8 }));
    save(&server, "31-2");
    let text = read(dir.path(), "day.ale");
    assert_eq!(changed(ALE, &text), ["31-2\tB004\t(1 1 1.02)(0 0 0.004)(1 1 1)\t0.8\t fog "]);
    edit(&server, "41-2", json!({ "op": "set", "key": "power", "value": [1.1, 1.0, 1.0] }));
    save(&server, "41-2");
    let text = read(dir.path(), "day.csv");
    assert_eq!(changed(CSV, &text), ["41-2;;0.9;(1 1 1)(0 0 0)(1.1 1 1)"]);
    edit(&server, "51-1", json!({ "op": "set", "key": "saturation", "value": 1.1 }));
    save(&server, "51-1");
    let text = read(dir.path(), "day.edl");
    assert_eq!(
        text,
        EDL.replace("*ASC_SAT 0.9\n* LENS 40 mm\n", "* LENS 40 mm\n*ASC_SOP (1 1 1)(0 0 0)(1 1 1)\n*ASC_SAT 1.1\n")
    );
    assert_eq!(read(dir.path(), "show.toml"), format!("{SHOW}{SHOTS}"));
    // What other commands read of it.
    let probed =
        json(dir.path(), "probe show.toml 0.5 0.4 0.3 --look night --camera a --display onset --shot 31-2 --json");
    let way = json!({ "signal": [0.5, 0.4, 0.3], "look": "night", "camera": "a", "display": "onset", "shot": "31-2" });
    assert_eq!(server.post("probe", &way).good()["out"], probed["colours"][0]["out"]);
}

#[test]
fn another_program_is_never_written_over_unasked() {
    let dir = scene();
    let server = Server::start(dir.path(), "show.toml");
    let shot = edit(&server, "12A-3", json!({ "op": "set", "key": "saturation", "value": 0.5 }));
    let theirs = CCC.replace("<Saturation>0.95", "<Saturation>0.7");
    put(dir.path(), "night.ccc", &theirs);
    let ask = |version: &Value, anyway: bool| {
        let question =
            json!({ "version": version, "look": "night", "camera": "a", "display": "onset", "anyway": anyway });
        server.post("shots/12A-3/save", &question)
    };
    let refused = ask(&shot["version"], false);
    assert_eq!(refused.status, 409, "{}", refused.json());
    assert_eq!(read(dir.path(), "night.ccc"), theirs);
    // The server sees the file by itself, too, and the edit stays.
    wait_until("the file is seen", || server.get("shots/12A-3").good()["outside"] == true);
    let shot = server.get("shots/12A-3").good();
    let sats = json!([shot["numbers"]["saturation"], shot["saved"]["saturation"]]);
    assert_eq!(sats, json!([0.5, 0.7]));
    assert_eq!(ask(&json!(0), true).status, 409);
    assert_eq!(ask(&shot["version"], true).good()["saved"]["saturation"], 0.5);
    assert_eq!(changed(CCC, &read(dir.path(), "night.ccc")), ["      <Saturation>0.5</Saturation>"]);
    // A shot that is gone from its file is not put back without a word.
    let shot = edit(&server, "12A-3", json!({ "op": "reset" }));
    put(dir.path(), "night.ccc", &theirs.replace("12A-3", "12A-9"));
    assert_eq!(ask(&shot["version"], true).status, 409);
}

#[test]
fn versions_outlive_the_server_and_a_folder_that_is_moved() {
    let outer = TempDir::new().unwrap();
    let state = outer.path().join("state");
    let variables = [("XDG_STATE_HOME", state.as_os_str())];
    let from = scene();
    let at = |name: &str| outer.path().join(name);
    fs::rename(from.path(), at("one")).unwrap();
    let server = Server::start_with(&at("one"), "show.toml", &variables);
    for (i, saturation) in [0.8, 0.7, 0.6].into_iter().enumerate() {
        let shot = edit(&server, "12A-3", json!({ "op": "set", "key": "saturation", "value": saturation }));
        assert_eq!(shot["at"], i + 1);
    }
    edit(&server, "12A-3", json!({ "op": "undo" }));
    let before = server.get("shots/12A-3").good();
    let mut server = server;
    server.child.kill().unwrap();
    server.child.wait().unwrap();
    drop(server);
    fs::rename(at("one"), at("two")).unwrap();
    let server = Server::start_with(&at("two"), "show.toml", &variables);
    let after = server.get("shots/12A-3").good();
    for key in ["numbers", "saved", "versions", "at", "unsaved", "undo", "redo"] {
        assert_eq!(after[key], before[key], "{key}");
    }
    assert_eq!(edit(&server, "12A-3", json!({ "op": "redo" }))["numbers"]["saturation"], 0.6);
    assert_eq!(edit(&server, "12A-3", json!({ "op": "go", "at": 0 }))["unsaved"], false);
}

#[test]
fn helpers_write_the_offset_of_the_shows_space_and_say_so() {
    let dir = scene();
    let server = Server::start(dir.path(), "show.toml");
    let way = json!({ "look": "night", "camera": "a", "display": "onset" });
    let help = |op: Value| {
        let mut question = way.clone();
        question.as_object_mut().unwrap().extend(op.as_object().unwrap().clone());
        edit(&server, "12B-1", question)
    };
    let shot = help(json!({ "op": "exposure", "stops": 1.0 }));
    // ACEScct (S-2016-001): a stop is a part of 17.52.
    let offset = shot["numbers"]["offset"][1].as_f64().unwrap();
    assert!((offset - 1.0 / 17.52).abs() < 1e-12, "{offset}");
    assert!(shot["said"].as_str().unwrap().starts_with("offset +0.0571"), "{}", shot["said"]);
    let warm = help(json!({ "op": "white", "kelvin": 3200.0 }));
    let offsets = warm["numbers"]["offset"].as_array().unwrap();
    assert!(offsets[0].as_f64() < Some(offset) && offsets[2].as_f64() > Some(offset), "{offsets:?}");
    assert_eq!(warm["versions"].as_array().unwrap().len(), 3);
    for (op, part) in [
        (json!({ "op": "exposure", "stops": 99.0 }), "stops"),
        (json!({ "op": "white", "kelvin": 10.0 }), "kelvin"),
        (json!({ "op": "set", "key": "slope", "value": [-1.0, 1.0, 1.0] }), "slope"),
        (json!({ "op": "copy", "from": "nothing" }), "nothing"),
    ] {
        let mut question = if op["op"] == "set" || op["op"] == "copy" { json!({}) } else { way.clone() };
        question.as_object_mut().unwrap().extend(op.as_object().unwrap().clone());
        question["version"] = warm["version"].clone();
        let answer = server.post("shots/12B-1/edit", &question);
        assert!((400..500).contains(&answer.status), "{op}");
        assert!(answer.json()["error"].as_str().unwrap().contains(part), "{op}: {}", answer.json());
    }
    assert_eq!(server.get("shots/12B-1").good()["version"], warm["version"]);
}

#[test]
fn the_cube_of_a_saved_shot_is_that_of_bake() {
    let dir = scene();
    let server = Server::start(dir.path(), "show.toml --out box");
    edit(&server, "12A-3", json!({ "op": "set", "key": "offset", "value": [0.02, 0.0, -0.01] }));
    let saved = save(&server, "12A-3");
    assert_eq!(saved["baked"], json!(["saltmarsh_12A-3_night_r4_a_onset_5.cube"]), "{saved}");
    let warnings = saved["warnings"].as_array().expect("a list");
    assert!(warnings.iter().any(|w| w.as_str().is_some_and(|w| w.contains("order = "))), "{saved}");
    let name = "saltmarsh_12A-3_night_r4_a_onset_5.cube";
    run(dir.path(), "bake show.toml --shot 12A-3 --look night --camera a --display onset --out baked")
        .assert()
        .success();
    // The figures of its error follow while the box has it already.
    wait_until("the error is measured", || read(dir.path(), &format!("box/{name}")).contains("# error: "));
    assert_eq!(read(dir.path(), &format!("box/{name}")), read(dir.path(), &format!("baked/{name}")));
    // What another program has under that name stays.
    put(dir.path(), &format!("box/{name}"), "LUT_3D_SIZE 2\n");
    edit(&server, "12A-3", json!({ "op": "set", "key": "saturation", "value": 0.5 }));
    let saved = save(&server, "12A-3");
    assert!(saved["not_baked"].as_str().is_some_and(|why| why.contains("was not made by this program")), "{saved}");
    assert_eq!(read(dir.path(), &format!("box/{name}")), "LUT_3D_SIZE 2\n");
    assert_eq!(saved["unsaved"], false);
}

#[test]
fn a_new_shot_has_its_entry_its_correction_and_two_stills() {
    let dir = scene();
    let log = Frame::new(4, 2, false, vec![0.25; 24], Info::new(Format::Png, Depth::Integer(16))).unwrap();
    fs::write(dir.path().join("frame.png"), write(&log, Format::Png, Depth::Integer(16)).unwrap()).unwrap();
    let server = Server::start(dir.path(), "show.toml --out box --frame frame.png");
    edit(&server, "12A-3", json!({ "op": "set", "key": "saturation", "value": 0.5 }));
    let mut events = server.events();
    let mut wanted = json!({ "name": "14-1", "into": "night.ccc", "look": "night", "camera": "a", "display": "onset",
        "frame": "1", "as": "log", "from": "12A-3", "ei": 800.0, "kelvin": 4300.0, "reel": "A002", "timecode": "02:00:00:00",
        "note": "wind & rain" });
    let made = server.post("shots", &wanted).good();
    assert_eq!(made["stills"], json!(["stills/14-1_log.png", "stills/14-1_graded.png"]));
    assert_eq!(next_event(&mut events, "show")["problems"], Value::Null);
    let [numbers, of] = ["14-1", "12A-3"].map(|s| server.get(&format!("shots/{s}")).good()["numbers"].clone());
    assert_eq!(numbers, of);
    let text = read(dir.path(), "show.toml");
    let new = "\n[[shots]]\nname = \"14-1\"\nfile = \"night.ccc\"\nid = \"14-1\"\nlook = \"night\"\ncamera = \"a\"\n\
        frame = \"stills/14-1_log.png\"\nei = 800\nwhite = { kelvin = 4300 }\nreel = \"A002\"\ntimecode = \"02:00:00:00\"\n\
        note = \"wind & rain\"\n";
    assert_eq!(text.replacen(new, "", 1), format!("{SHOW}{SHOTS}"), "{text}");
    let ccc = read(dir.path(), "night.ccc");
    assert!(ccc.starts_with(CCC.strip_suffix("\n</ColorCorrectionCollection>\n").unwrap()), "{ccc}");
    assert!(ccc.contains("<Description>wind &amp; rain</Description>"), "{ccc}");
    let still = rushlight::frame::read(&fs::read(dir.path().join("stills/14-1_log.png")).unwrap(), &Default::default());
    assert!(still.unwrap().samples().iter().all(|v| (v - 0.25).abs() < 1e-4));
    // Its frame is the still.
    let frame = server.post("shots/14-1/frame", &Value::Null).good();
    assert_eq!((&frame["name"], &frame["width"]), (&json!("stills/14-1_log.png"), &json!(4)));
    assert_eq!(server.post("shots/14-1/frame", &Value::Null).good()["id"], frame["id"]);
    // Again it is refused, and into a list goes what a list has room for.
    assert!(server.post("shots", &wanted).refused(400).contains("14-1 already"));
    (wanted["name"], wanted["into"]) = (json!("15-1"), json!("day.ale"));
    let made = server.post("shots", &wanted).good();
    assert_eq!(made["not_noted"], json!(["frame", "ei", "white", "timecode", "note"]));
    let ale = read(dir.path(), "day.ale");
    assert_eq!(ale.strip_prefix(ALE).unwrap(), "15-1\tA002\t(1.02 1 0.98)(0 0 0)(1 1 1)\t0.5\t\n");
    (wanted["name"], wanted["into"]) = (json!("16-1"), json!("shots.ccc"));
    server.post("shots", &wanted).good();
    assert!(read(dir.path(), "shots.ccc").contains("<ColorCorrection id=\"16-1\">"));
    assert_eq!(server.get("shots/16-1").good()["file"], "shots.ccc");
    // Nothing of what is refused is left behind.
    let before = (read(dir.path(), "show.toml"), read(dir.path(), "night.ccc"));
    for (key, odd) in [
        ("name", json!("../x")),
        ("name", json!("a\u{1}")),
        ("into", json!("../../etc/passwd")),
        ("look", json!("noon")),
        ("from", json!("99")),
        ("ei", json!(-5.0)),
        ("timecode", json!("late")),
        ("kelvin", json!(1.0)),
        ("frame", json!("77")),
        ("more", json!(1)),
    ] {
        let mut question = wanted.clone();
        (question["name"], question["into"]) = (json!("17-1"), json!("night.ccc"));
        question[key] = odd.clone();
        let answer = server.post("shots", &question);
        assert!((400..500).contains(&answer.status), "{key} {odd}: {}", answer.status);
        assert_eq!((read(dir.path(), "show.toml"), read(dir.path(), "night.ccc")), before, "{key} {odd}");
    }
}
