//! `preview`: shots get other names, are deleted, get entries of their own; cubes that are older than look or correction are known;
//! exposure and white are what a correction amounts to.

use crate::preview_shots::{edit, scene};
use rushlight_tests::scene::{NIGHT, put, wait_until};
use rushlight_tests::server::Server;
use serde_json::{Value, json};
use std::fs;
use std::path::Path;
use tempfile::TempDir;

fn read(dir: &Path, name: &str) -> String {
    fs::read_to_string(dir.join(name)).expect(name)
}

fn names(server: &Server) -> Vec<String> {
    let all = server.get("shots").good();
    all["shots"].as_array().unwrap().iter().map(|shot| shot["name"].as_str().unwrap().to_owned()).collect()
}

/// Asks for something of the newest version of a shot.
fn ask(server: &Server, shot: &str, what: &str, mut question: Value) -> rushlight_tests::server::Answer {
    question["version"] = server.get(&format!("shots/{shot}")).good()["version"].clone();
    server.post(&format!("shots/{shot}/{what}"), &question)
}

fn rename(server: &Server, shot: &str, to: &str) -> rushlight_tests::server::Answer {
    ask(server, shot, "rename", json!({ "to": to }))
}

#[test]
fn a_shot_gets_another_name_in_the_show_and_in_its_file_and_all_else_stays() {
    let outer = TempDir::new().unwrap();
    let state = outer.path().join("state");
    let variables = [("XDG_STATE_HOME", state.as_os_str())];
    let dir = scene();
    let (show, ccc) = (read(dir.path(), "show.toml"), read(dir.path(), "night.ccc"));
    let mut server = Server::start_with(dir.path(), "show.toml --out box", &variables);
    edit(&server, "12A-3", json!({ "op": "set", "key": "saturation", "value": 0.5 }));
    put(dir.path(), "box/saltmarsh_12A-3_night_r4_a_onset_5.cube", "# theirs\n");
    let before = server.get("shots/12A-3").good();
    let made = rename(&server, "12A-3", "12A-4 \"b\"").good();
    let remains = json!({ "stills": ["frames/12A-3.png"], "cubes": ["saltmarsh_12A-3_night_r4_a_onset_5.cube"] });
    assert_eq!((&made["name"], &made["remains"]), (&json!("12A-4 \"b\""), &remains));
    let text = show.replace("name = \"12A-3\"   ", "name = '12A-4 \"b\"'   ");
    assert_eq!(read(dir.path(), "show.toml"), text);
    assert_eq!(read(dir.path(), "night.ccc"), ccc.replace("id=\"12A-3\"", "id=\"12A-4 &quot;b&quot;\""));
    assert_eq!(read(dir.path(), "box/saltmarsh_12A-3_night_r4_a_onset_5.cube"), "# theirs\n");
    // Its versions come along, also the one that is not saved, and also over a restart.
    let name = "12A-4%20%22b%22";
    let check = |server: &Server| {
        let now = server.get(&format!("shots/{name}")).good();
        for key in ["numbers", "saved", "versions", "at", "unsaved", "look", "note"] {
            assert_eq!(now[key], before[key], "{key}");
        }
        assert!(server.get("shots/12A-3").refused(404).contains("12A-3"));
    };
    check(&server);
    server.child.kill().unwrap();
    server.child.wait().unwrap();
    let server = Server::start_with(dir.path(), "show.toml --out box", &variables);
    check(&server);
    // Letters of another case are the same name for files, and the shot's own.
    rename(&server, "12B-1", "12b-1").good();
    assert_eq!(names(&server), ["12A-4 \"b\"", "12b-1", "31-2", "41-1", "41-2", "51-1"]);
    let before = (read(dir.path(), "show.toml"), read(dir.path(), "night.ccc"), read(dir.path(), "day.ale"));
    for (to, part) in
        [("12b-1", "already"), ("12B-1", "same file names"), ("../x", "letter or a digit"), ("", "letter")]
    {
        let why = rename(&server, name, to).refused(400);
        assert!(why.contains(part), "{to}: {why}");
    }
    assert!(rename(&server, "31-2", "31-3").refused(400).contains("row of the list day.ale"));
    let stale = server.post(&format!("shots/{name}/rename"), &json!({ "version": 0, "to": "13" }));
    assert_eq!(stale.status, 409);
    assert!(server.post("shots/12b-1/rename", &json!({ "version": 1 })).refused(400).contains("missing field"));
    assert_eq!((read(dir.path(), "show.toml"), read(dir.path(), "night.ccc"), read(dir.path(), "day.ale")), before);
}

#[test]
fn a_name_that_another_shot_needs_stays_in_the_file() {
    let dir = scene();
    let show = read(dir.path(), "show.toml").replace("name = \"12B-1\"\n", "name = \"12B-1\"\nid = \"12A-3\"\n");
    put(dir.path(), "show.toml", &show);
    let ccc = read(dir.path(), "night.ccc");
    let server = Server::start(dir.path(), "show.toml");
    rename(&server, "12A-3", "12A-4").good();
    assert_eq!(read(dir.path(), "night.ccc"), ccc);
    assert!(read(dir.path(), "show.toml").contains("name = \"12A-4\"          # at dusk\n"));
    assert!(read(dir.path(), "show.toml").contains("id = \"12A-3\"\n\n[[shots]]\nname = \"12B-1\""));
    // And a correction that another shot has stays when one of them goes.
    let gone = ask(&server, "12A-4", "delete", json!({})).good();
    assert_eq!(gone["correction_stays"], true);
    assert_eq!(read(dir.path(), "night.ccc"), ccc);
    assert_eq!(names(&server), ["12B-1", "31-2", "41-1", "41-2", "51-1"]);
}

#[test]
fn a_shot_that_is_deleted_leaves_all_else_as_it_was() {
    let dir = scene();
    let (show, ccc) = (read(dir.path(), "show.toml"), read(dir.path(), "night.ccc"));
    put(dir.path(), "box/saltmarsh_12A-3_night_r4_a_onset_5.cube", "# theirs\n");
    let server = Server::start(dir.path(), "show.toml --out box");
    edit(&server, "12A-3", json!({ "op": "set", "key": "saturation", "value": 0.5 }));
    assert_eq!(server.post("shots/12A-3/delete", &json!({ "version": 0 })).status, 409);
    assert_eq!((read(dir.path(), "show.toml"), read(dir.path(), "night.ccc")), (show.clone(), ccc.clone()));
    let gone = ask(&server, "12A-3", "delete", json!({})).good();
    assert_eq!(
        (&gone["correction_stays"], &gone["remains"]["cubes"][0]),
        (&json!(false), &json!("saltmarsh_12A-3_night_r4_a_onset_5.cube"))
    );
    let entry =
        &show[show.find("[[shots]]\nname = \"12A-3\"").unwrap()..show.find("[[shots]]\nname = \"12B-1\"").unwrap()];
    assert_eq!(read(dir.path(), "show.toml"), show.replace(entry, ""));
    let element = &ccc[ccc.find("\n  <ColorCorrection id=\"12A-3\">").unwrap()
        ..ccc.find("\n  <ColorCorrection id=\"12B-1\">").unwrap()];
    assert_eq!(read(dir.path(), "night.ccc"), ccc.replace(element, ""));
    assert_eq!(read(dir.path(), "box/saltmarsh_12A-3_night_r4_a_onset_5.cube"), "# theirs\n");
    assert!(server.get("shots/12A-3").refused(404).contains("12A-3"));
    // The last of its file stays there, since a file of none is none; a row of a list is the list's.
    assert_eq!(ask(&server, "12B-1", "delete", json!({})).good()["correction_stays"], true);
    assert!(read(dir.path(), "night.ccc").contains("12B-1"));
    assert!(ask(&server, "31-2", "delete", json!({})).refused(400).contains("row of the list day.ale"));
    assert_eq!(names(&server), ["31-2", "41-1", "41-2", "51-1"]);
    // One that is made under the name begins anew.
    let wanted = json!({ "name": "12A-3", "into": "night.ccc", "look": "night", "camera": "a", "display": "onset" });
    server.post("shots", &wanted).good();
    let anew = server.get("shots/12A-3").good();
    assert_eq!((anew["versions"].as_array().unwrap().len(), &anew["unsaved"]), (1, &json!(false)));
}

#[test]
fn a_shot_of_a_list_gets_an_entry_of_its_own_for_its_notes() {
    let dir = scene();
    let lists = ["day.ale", "day.csv", "day.edl", "night.ccc"].map(|name| read(dir.path(), name));
    let server = Server::start(dir.path(), "show.toml");
    let of_list = |shot: &str| {
        let all = server.get("shots").good();
        all["shots"].as_array().unwrap().iter().find(|one| one["name"] == shot).unwrap()["of_list"].clone()
    };
    assert_eq!((of_list("12A-3"), of_list("31-2")), (json!(false), json!(true)));
    let (all, before) = (names(&server), server.get("shots/31-2").good());
    let notes = json!({ "scene": "31", "take": "2", "reel": "B004", "timecode": null, "ei": 200.0, "note": "fog" });
    for shot in ["31-2", "41-2", "51-1"] {
        assert!(server.post(&format!("shots/{shot}/notes"), &notes).refused(400).contains("comes from a list"));
        server.post(&format!("shots/{shot}/own"), &json!({})).good();
        assert_eq!(of_list(shot), false);
        assert_eq!(server.post(&format!("shots/{shot}/notes"), &notes).good()["note"], "fog");
    }
    assert!(
        read(dir.path(), "show.toml").contains("name = \"31-2\"\nfile = \"day.ale\"\nid = \"31-2\"\nreel = \"B004\"\n")
    );
    assert!(read(dir.path(), "show.toml").contains("file = \"day.csv\"\nid = \"41-2\"\ncolumn = \"shot\"\n"));
    // It is the same shot still: once, with its numbers, saved into the list.
    let after = server.get("shots/31-2").good();
    assert_eq!((names(&server), &after["numbers"], &after["versions"]), (all, &before["numbers"], &before["versions"]));
    assert_eq!(["day.ale", "day.csv", "day.edl", "night.ccc"].map(|name| read(dir.path(), name)), lists);
    // Asked for again it is there already; its name stays the list's.
    let show = read(dir.path(), "show.toml");
    server.post("shots/31-2/own", &json!({})).good();
    assert!(rename(&server, "31-2", "31-3").refused(400).contains("row of the list"));
    assert!(ask(&server, "31-2", "delete", json!({})).refused(400).contains("row of the list"));
    assert_eq!(read(dir.path(), "show.toml"), show);
}

#[test]
fn cubes_of_an_older_look_or_correction_are_known_and_baked_anew() {
    let dir = scene();
    let server = Server::start(dir.path(), "show.toml --out box");
    let save = |shot: &str| {
        ask(&server, shot, "save", json!({ "look": "night", "camera": "a", "display": "onset" })).good()["baked"]
            .clone()
    };
    assert_eq!(server.get("cubes").good()["old"], json!([]));
    for shot in ["12A-3", "12B-1"] {
        edit(&server, shot, json!({ "op": "set", "key": "saturation", "value": 0.5 }));
        save(shot);
    }
    put(dir.path(), "box/saltmarsh_12A-3_night_r3_b_onset_5.cube", "LUT_3D_SIZE 2\n");
    assert_eq!(server.get("cubes").good(), json!({ "out": "box", "old": [] }));
    // Another program changes a correction; then the look gets another revision.
    let ccc = read(dir.path(), "night.ccc");
    let at = ccc.rfind("<Saturation>0.5").unwrap();
    put(dir.path(), "night.ccc", &format!("{}<Saturation>0.6{}", &ccc[..at], &ccc[at + "<Saturation>0.5".len()..]));
    let old = |file: &str, shot: &str, why: &str| json!({ "shot": shot, "file": format!("saltmarsh_{file}.cube"), "why": why });
    let is = |wanted: Value| wait_until("the old cubes are known", || server.get("cubes").good()["old"] == wanted);
    is(json!([old("12B-1_night_r4_a_onset_5", "12B-1", "another correction")]));
    put(dir.path(), "looks/night.toml", &NIGHT.replace("revision = 4", "revision = 5"));
    is(json!([
        old("12A-3_night_r4_a_onset_5", "12A-3", "look of revision 4"),
        old("12B-1_night_r4_a_onset_5", "12B-1", "look of revision 4")
    ]));
    let before = read(dir.path(), "box/saltmarsh_12A-3_night_r4_a_onset_5.cube");
    let baked = server.post("cubes", &json!({})).good();
    assert_eq!(
        baked["baked"],
        json!(["saltmarsh_12A-3_night_r5_a_onset_5.cube", "saltmarsh_12B-1_night_r5_a_onset_5.cube"])
    );
    assert_eq!(server.get("cubes").good()["old"], json!([]));
    assert_eq!(read(dir.path(), "box/saltmarsh_12A-3_night_r4_a_onset_5.cube"), before);
    for shot in ["12A-3", "12B-1"] {
        let name = format!("box/saltmarsh_{shot}_night_r5_a_onset_5.cube");
        wait_until("their errors are measured", || read(dir.path(), &name).contains("# error: "));
    }
    assert!(server.post("cubes", &json!({ "x": 1 })).refused(400).contains("unknown field"));
    let without = Server::start(dir.path(), "show.toml");
    assert_eq!(without.get("cubes").good(), json!({ "out": null, "old": [] }));
    assert!(without.post("cubes", &json!({})).refused(400).contains("--out"));
}

#[test]
fn exposure_and_white_are_what_a_correction_amounts_to() {
    let dir = scene();
    let server = Server::start(dir.path(), "show.toml");
    let way = "look=night&camera=a&display=onset";
    let amount = |shot: &str| server.get(&format!("shots/{shot}/amount?{way}")).good();
    let close = |value: &Value, wanted: f64| (value.as_f64().unwrap() - wanted).abs() < 1e-6;
    let help = |op: Value| {
        let mut question = json!({ "look": "night", "camera": "a", "display": "onset" });
        question.as_object_mut().unwrap().extend(op.as_object().unwrap().clone());
        edit(&server, "12B-1", question)
    };
    assert!(close(&amount("12B-1")["stops"], 0.0));
    help(json!({ "op": "exposure", "stops": 0.25 }));
    help(json!({ "op": "exposure", "stops": 0.5 }));
    assert!(close(&amount("12B-1")["stops"], 0.75));
    let set = help(json!({ "op": "amount", "stops": 1.5 }));
    // ACEScct (S-2016-001): a stop is a part of 17.52.
    assert!(close(&set["numbers"]["offset"][0], 1.5 / 17.52), "{}", set["numbers"]);
    assert_eq!(set["versions"][3]["words"], "exposure at +1.5 stops");
    help(json!({ "op": "amount", "kelvin": 4300.0 }));
    let set = help(json!({ "op": "amount", "kelvin": 4300.0, "tint": 0.0 }));
    assert_eq!(set["versions"].as_array().unwrap().len(), 5, "set again it is the same");
    let now = amount("12B-1");
    assert!(close(&now["stops"], 1.5) && (now["kelvin"].as_f64().unwrap() - 4300.0).abs() < 0.5, "{now}");
    assert_eq!(now["version"], set["version"]);
    for (op, part) in [
        (json!({ "op": "amount", "stops": 11.0 }), "out of range"),
        (json!({ "op": "amount", "kelvin": 100.0 }), "kelvin"),
        (json!({ "op": "amount", "more": 1 }), "unknown field"),
    ] {
        let mut question = json!({ "version": set["version"], "look": "night", "camera": "a", "display": "onset" });
        question.as_object_mut().unwrap().extend(op.as_object().unwrap().clone());
        let answer = server.post("shots/12B-1/edit", &question);
        assert!(
            (400..500).contains(&answer.status) && answer.json()["error"].as_str().unwrap().contains(part),
            "{op}: {}",
            answer.json()
        );
    }
    assert!(server.get(&format!("shots/99/amount?{way}")).refused(404).contains("99"));
    assert_eq!(server.get("shots/12B-1/amount?look=night").status, 400);
    // After the look there is none, and stops are added.
    let show = read(dir.path(), "show.toml").replace("[cdl]\n", "[cdl]\norder = \"after\"\n");
    put(dir.path(), "show.toml", &show);
    let after = Server::start(dir.path(), "show.toml");
    assert_eq!(after.get(&format!("shots/12A-3/amount?{way}")).good()["stops"], Value::Null);
}
