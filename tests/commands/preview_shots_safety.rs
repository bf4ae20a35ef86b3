//! `preview`: what is asked of the shots by who has no business there, or with what makes no sense; and pins, which are stored.

use crate::preview_shots::{edit, scene};
use rushlight::frame::{Depth, Format, Frame, Info, write};
use rushlight_tests::server::Server;
use serde_json::{Value, json};
use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// Every address that does something to a shot.
const POSTS: [&str; 10] = [
    "shots",
    "shots/12A-3/edit",
    "shots/12A-3/save",
    "shots/12A-3/frame",
    "shots/12A-3/pins",
    "shots/12A-3/notes",
    "shots/12A-3/rename",
    "shots/12A-3/delete",
    "shots/12A-3/own",
    "cubes",
];
/// Of these, what may also be asked for.
const GETS: [&str; 2] = ["shots", "cubes"];

fn files(dir: &Path) -> Vec<String> {
    ["show.toml", "night.ccc", "day.ale", "day.csv", "day.edl"]
        .map(|name| fs::read_to_string(dir.join(name)).expect(name))
        .into()
}

#[test]
fn nothing_is_done_to_a_shot_for_another_page_or_by_another_method() {
    let dir = scene();
    let server = Server::start(dir.path(), "show.toml");
    let before = (files(dir.path()), server.get("shots").good());
    let origin = format!("http://{}", server.host);
    for path in POSTS {
        let whole = format!("{}/api/{path}", server.token);
        let ask = |method: &str, path: &str, headers: &[(&str, &str)]| server.ask(method, path, headers, b"{}").status;
        let json = ("Content-Type", "application/json");
        let host = ("Host", server.host.as_str());
        assert_eq!(ask("POST", &whole, &[host, json]), 403, "{path}: no origin");
        assert_eq!(ask("POST", &whole, &[host, ("Origin", "http://example.com"), json]), 403, "{path}: another origin");
        assert_eq!(ask("POST", &whole, &[host, ("Origin", "null"), json]), 403, "{path}: the origin null");
        assert_eq!(ask("POST", &whole, &[("Host", "example.com"), ("Origin", &origin), json]), 403, "{path}: its host");
        let other = format!("/{}/api/{path}", "0".repeat(32));
        assert_eq!(ask("POST", &other, &[host, ("Origin", &origin), json]), 404, "{path}: another token");
        assert_eq!(ask("DELETE", &whole, &[host, ("Origin", &origin)]), 405, "{path}: DELETE");
        if !GETS.contains(&path) {
            assert_eq!(ask("GET", &whole, &[host]), 405, "{path}: GET");
        }
        // A form of another page can send these without asking.
        if path != "shots/12A-3/frame" {
            assert_eq!(server.post_bytes(path, "text/plain", b"{}").status, 415, "{path}: text");
            assert_eq!(server.post_bytes(path, "application/json", &vec![b' '; 70 << 10]).status, 413, "{path}: long");
            assert_eq!(server.post_bytes(path, "application/json", b"{\"version\"").status, 400, "{path}: half");
        }
        for odd in ["12A-4", "..", "%2e%2e%2fshow.toml", "12A-3%00", &"9".repeat(3000)] {
            let path = path.replace("12A-3", odd);
            let status = server.post(&path, &json!({ "version": 1, "op": "reset", "pins": [] })).status;
            assert!((400..500).contains(&status), "{path}: {status}");
        }
    }
    assert_eq!((files(dir.path()), server.get("shots").good()), before);
}

/// What the frame of a shot is said to be, when it is none.
#[test]
fn the_frame_of_a_shot_is_a_picture_or_a_refusal() {
    let dir = scene();
    fs::create_dir(dir.path().join("frames")).unwrap();
    let place = dir.path().join("frames/12A-3.png");
    let still = |width: usize| {
        let info = Info::new(Format::Png, Depth::Integer(8));
        let frame = Frame::new(width, 2, false, vec![0.25; 6 * width], info).unwrap();
        write(&frame, Format::Png, Depth::Integer(8)).unwrap()
    };
    let server = Server::start(dir.path(), "show.toml --max-memory 1");
    let ask = || server.post("shots/12A-3/frame", &Value::Null);
    let refused = |part: &str| {
        let answer = ask();
        assert!((400..500).contains(&answer.status), "{part}: {}", answer.status);
        let why = answer.json()["error"].as_str().unwrap_or_default().to_owned();
        assert!(why.contains(part), "{part}: {why}");
        // Where the show lies on this machine is nobody's business.
        assert!(!why.contains(&*dir.path().to_string_lossy()), "{why}");
    };
    refused("12A-3.png");
    fs::write(&place, b"no picture at all").unwrap();
    refused("12A-3.png");
    fs::write(&place, &still(64)[..60]).unwrap();
    refused("12A-3.png");
    fs::remove_file(&place).unwrap();
    fs::create_dir(&place).unwrap();
    refused("12A-3.png");
    fs::remove_dir(&place).unwrap();
    // One that is larger than all frames together may be.
    fs::write(&place, still(60_000)).unwrap();
    refused("12A-3.png");
    // A shot without one, and one of a list.
    assert!(server.post("shots/12B-1/frame", &Value::Null).refused(404).contains("12B-1"));
    assert!(server.post("shots/31-2/frame", &Value::Null).refused(404).contains("31-2"));
    assert!(server.get("state").good()["frames"].as_array().unwrap().is_empty());
    fs::write(&place, still(8)).unwrap();
    let frame = ask().good();
    assert_eq!((&frame["name"], &frame["width"]), (&json!("frames/12A-3.png"), &json!(8)));
    // Asked for a hundred times it is there once.
    (0..100).for_each(|_| assert_eq!(ask().good()["id"], frame["id"]));
    assert_eq!(server.get("state").good()["frames"].as_array().unwrap().len(), 1);
}

fn pins(pins: Value) -> Value {
    json!({ "frame": "frames/12A-3.png", "width": 640, "height": 360, "pins": pins })
}

#[test]
fn pins_are_stored_with_their_shot_and_outlive_the_server() {
    let outer = TempDir::new().unwrap();
    let state = outer.path().join("state");
    let variables = [("XDG_STATE_HOME", state.as_os_str())];
    let dir = scene();
    let mut server = Server::start_with(dir.path(), "show.toml", &variables);
    let before = server.get("shots/12A-3").good();
    assert_eq!(before["pins"]["pins"], json!([]));
    let first = pins(json!([{ "x": 1, "y": 2, "width": 1, "height": 1 }]));
    let second =
        pins(json!([{ "x": 1, "y": 2, "width": 1, "height": 1 }, { "x": 600, "y": 300, "width": 40, "height": 60 }]));
    for wanted in [&first, &second] {
        assert_eq!(server.post("shots/12A-3/pins", wanted).good()["stored"], true);
        assert_eq!(&server.get("shots/12A-3").good()["pins"], wanted);
    }
    // They are no edit: nothing is to be saved or undone, and an edit upon the same version holds.
    let after = server.get("shots/12A-3").good();
    for key in ["version", "unsaved", "undo", "versions", "numbers"] {
        assert_eq!(after[key], before[key], "{key}");
    }
    edit(&server, "12A-3", json!({ "op": "set", "key": "saturation", "value": 0.5 }));
    edit(&server, "12A-3", json!({ "op": "undo" }));
    assert_eq!(server.get("shots/12A-3").good()["pins"], second);
    assert_eq!(server.get("shots/12B-1").good()["pins"]["pins"], json!([]));
    server.child.kill().unwrap();
    server.child.wait().unwrap();
    let server = Server::start_with(dir.path(), "show.toml", &variables);
    let again = server.get("shots/12A-3").good();
    assert_eq!((&again["pins"], &again["unsaved"]), (&second, &json!(false)));
    // What is refused changes nothing.
    let pin = |x: i64, y: i64, width: i64, height: i64| json!({ "x": x, "y": y, "width": width, "height": height });
    let nine: Vec<Value> = (0..9).map(|x| pin(x, 0, 1, 1)).collect();
    for (wanted, part) in [
        (pins(json!(nine)), "9 are more"),
        (pins(json!([pin(640, 0, 1, 1)])), "pins[0]"),
        (pins(json!([pin(0, 0, 1, 1), pin(0, 0, 641, 1)])), "pins[1]"),
        (pins(json!([pin(0, 0, 0, 1)])), "pins[0]"),
        (pins(json!([pin(4_294_967_295, 0, 4_294_967_295, 1)])), "pins[0]"),
        (pins(json!([pin(-1, 0, 1, 1)])), "invalid value"),
        (pins(json!([{ "x": 0 }])), "missing field"),
        (json!({ "frame": "a\nb", "width": 1, "height": 1, "pins": [] }), "one line"),
        (json!({ "frame": "a".repeat(5000), "width": 1, "height": 1, "pins": [] }), "one line"),
        (json!({ "frame": "a", "width": 0, "height": 1, "pins": [] }), "width and height"),
        (json!({ "frame": "a", "width": 1, "height": 1, "pins": [], "more": 1 }), "unknown field"),
    ] {
        let why = server.post("shots/12A-3/pins", &wanted).refused(400);
        assert!(why.contains(part), "{part}: {why}");
    }
    assert!(server.post("shots/99/pins", &first).refused(404).contains("99"));
    assert_eq!(server.get("shots/12A-3").good()["pins"], second);
}

#[test]
fn notes_are_written_into_the_entry_of_their_shot() {
    let dir = scene();
    let server = Server::start(dir.path(), "show.toml");
    let show = || fs::read_to_string(dir.path().join("show.toml")).unwrap();
    let before = show();
    edit(&server, "12A-3", json!({ "op": "set", "key": "saturation", "value": 0.5 }));
    let wanted = json!({ "scene": "12A", "take": "3", "reel": "A001", "timecode": null, "ei": 1250.0, "kelvin": 4300.0, "note": "lantern \"out\"" });
    let shot = server.post("shots/12A-3/notes", &wanted).good();
    let noted = json!([shot["scene"], shot["take"], shot["reel"], shot["timecode"], shot["ei"], shot["note"]]);
    assert_eq!(noted, json!(["12A", "3", "A001", null, 1250.0, "lantern \"out\""]));
    // The edit that is not saved stays, and so does the white, which is the same.
    assert_eq!((&shot["unsaved"], &shot["white"]["kelvin"]), (&json!(true), &json!(4300.0)));
    let after = before
        .replace("timecode = \"01:02:03:04\"\n", "")
        .replace("ei = 800", "ei = 1250")
        .replace("note = \"lantern in\"\n", "note = 'lantern \"out\"'\nscene = \"12A\"\ntake = \"3\"\n");
    assert_eq!(show(), after);
    // A shot of a list has no entry; its reel is the list's.
    assert_eq!(server.get("shots/31-2").good()["reel"], "B004");
    assert!(server.post("shots/31-2/notes", &wanted).refused(400).contains("comes from a list"));
    for (key, odd, part) in [
        ("timecode", json!("late"), "HH:MM:SS:FF"),
        ("ei", json!(-1.0), "ei"),
        ("kelvin", json!(90000.0), "kelvin"),
        ("note", json!("a\nb"), "one line"),
        ("scene", json!("9".repeat(300)), "letters"),
        ("frame", json!("../x"), "unknown field"),
    ] {
        let mut question = wanted.clone();
        question[key] = odd;
        let answer = server.post("shots/12A-3/notes", &question);
        assert!((400..500).contains(&answer.status), "{key}: {}", answer.status);
        assert!(answer.json()["error"].as_str().unwrap().contains(part), "{key}: {}", answer.json());
    }
    assert!(server.post("shots/99/notes", &wanted).refused(404).contains("99"));
    assert_eq!(show(), after);
    // Another white keeps its tint, and none goes; one that there cannot be is refused.
    let white = |kelvin: serde_json::Value| {
        let mut question = wanted.clone();
        question["kelvin"] = kelvin;
        server.post("shots/12A-3/notes", &question)
    };
    assert!(white(json!(0.0)).refused(422).contains("kelvin"));
    let shot = white(json!(3200.0)).good();
    assert_eq!((&shot["white"]["kelvin"], &shot["unsaved"]), (&json!(3200.0), &json!(true)));
    assert_eq!(show(), after.replace("kelvin = 4300", "kelvin = 3200"));
    assert_eq!(white(serde_json::Value::Null).good()["white"], serde_json::Value::Null);
    assert_eq!(show(), after.replace("white = { kelvin = 4300, tint = -2 }\n", ""));
}

#[test]
fn a_drag_of_exposure_and_white_is_one_version_upon_where_it_began() {
    let dir = scene();
    let server = Server::start(dir.path(), "show.toml");
    let on = server.get("shots/12B-1").good()["numbers"].clone();
    let way = json!({ "op": "balance", "on": on, "look": "night", "camera": "a", "display": "onset" });
    let drag = |stops: f64, kelvin: Option<f64>| {
        let mut question = way.clone();
        (question["stops"], question["kelvin"], question["drag"]) = (json!(stops), json!(kelvin), json!("d"));
        edit(&server, "12B-1", question)
    };
    drag(0.2, None);
    drag(0.7, Some(4300.0));
    let shot = drag(1.0, None);
    assert_eq!(shot["versions"].as_array().unwrap().len(), 2);
    // ACEScct (S-2016-001): a stop is a part of 17.52. What the drag went through left nothing.
    let offset = shot["numbers"]["offset"].as_array().unwrap();
    assert!(offset.iter().all(|v| (v.as_f64().unwrap() - 1.0 / 17.52).abs() < 1e-12), "{offset:?}");
    // As the two helpers one after the other.
    let dragged = drag(1.0, Some(4300.0))["numbers"].clone();
    edit(&server, "12B-1", json!({ "op": "undo" }));
    for op in [json!({ "op": "exposure", "stops": 1.0 }), json!({ "op": "white", "kelvin": 4300.0 })] {
        let mut question = json!({ "look": "night", "camera": "a", "display": "onset" });
        question.as_object_mut().unwrap().extend(op.as_object().unwrap().clone());
        edit(&server, "12B-1", question);
    }
    assert_eq!(server.get("shots/12B-1").good()["numbers"], dragged);
}
