//! `preview`: versions of a look that are held beside it, what was done to a look in words, and exposure cubes over the picture.

use rushlight_tests::scene::{NIGHT, SHOW, json, numbers, put, run, saltmarsh};
use rushlight_tests::server::Server;
use serde_json::{Value, json};
use std::fs;

const WAY: &str = "look=night&camera=a&display=onset&points=5";

/// An edit upon the version that there is.
fn ask(server: &Server, edit: Value) -> rushlight_tests::server::Answer {
    let mut question = edit;
    question["version"] = server.get("looks/night").good()["version"].clone();
    server.post("looks/night/edit", &question)
}

fn stops(server: &Server, value: f64) -> Value {
    ask(server, json!({ "op": "set", "step": 1, "key": "stops", "value": value })).good()
}

fn ids(look: &Value) -> Vec<u64> {
    look["held"].as_array().expect("a list").iter().map(|held| held["id"].as_u64().expect("a number")).collect()
}

fn cube(server: &Server, at: &str) -> Vec<u8> {
    let answer = server.get(&format!("cube?{WAY}&at={at}"));
    assert_eq!(answer.status, 200, "{}", String::from_utf8_lossy(&answer.body));
    answer.body
}

#[test]
fn versions_that_are_held_stay_as_they_were_and_one_is_taken() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml");
    let first = cube(&server, "now");
    ask(&server, json!({ "op": "hold" })).good();
    assert!(ask(&server, json!({ "op": "hold" })).refused(400).contains("held already"));
    let steps = json!({ "op": "hold_steps", "step": 1, "key": "stops", "values": [-2.0, -1.0, 0.5] });
    let look = ask(&server, steps).good();
    // The value that the look has is the look as it is now.
    let held = ids(&look);
    assert_eq!(held.len(), 3);
    assert_eq!(
        [&look["held"][0]["changes"], &look["held"][1]["changes"], &look["held"][2]["changes"]],
        [&json!([]), &json!(["exposure -1.0 -> -2.0 stops"]), &json!(["exposure -1.0 -> 0.5 stops"])]
    );
    assert_eq!(look["unsaved"], false);
    // The same once more: what is held is not held twice.
    let again = json!({ "op": "hold_steps", "step": 1, "key": "stops", "values": [-2.0, -1.0, 0.5] });
    assert_eq!(ids(&ask(&server, again).good()), held);
    // Through every path that a page asks for, a version is what an edit to it would be.
    let at = |id: u64| format!("held%20{id}");
    let of_steps = cube(&server, &at(held[2]));
    let question = |at: &str| {
        let signal = [0.41, 0.32, 0.55];
        json!({ "look": "night", "camera": "a", "display": "onset", "signal": signal, "at": at })
    };
    let probed = server.post("probe", &question(&format!("held {}", held[2]))).good();
    let look = stops(&server, 0.5);
    assert_eq!(cube(&server, "now"), of_steps);
    assert_eq!(probed["stages"], server.post("probe", &question("now")).good()["stages"]);
    assert_eq!(look["held"][0]["changes"], json!(["exposure 0.5 -> -1.0 stops"]));
    // Whatever is edited since, it stays.
    assert_eq!(cube(&server, &at(held[0])), first);
    // A bypassed step is part of it, and said.
    ask(&server, json!({ "op": "bypass", "step": 2, "on": true })).good();
    let look = server.get("looks/night").good();
    assert_eq!(look["held"][2]["changes"], json!(["tint not bypassed any more"]));
    // All of a series, or none.
    let odd = json!({ "op": "hold_steps", "step": 1, "key": "stops", "values": [1.0, 99.0] });
    assert!(ask(&server, odd).refused(400).contains("99 is out of range"));
    let many = json!({ "op": "hold_steps", "step": 1, "key": "stops", "values": [1, 2, 3, 4, 5, 6] });
    assert!(ask(&server, many).refused(400).contains("over 8"));
    assert!(ask(&server, json!({ "op": "hold_steps", "step": 9, "key": "stops", "values": [1] })).status == 400);
    assert!(ask(&server, json!({ "op": "drop_held", "id": 0 })).refused(400).contains("not held any more"));
    assert_eq!(ids(&server.get("looks/night").good()), held);
    let look = ask(&server, json!({ "op": "drop_held", "id": held[1] })).good();
    assert_eq!(ids(&look), [held[0], held[2]]);
    let gone = server.get(&format!("cube?{WAY}&at={}", at(held[1])));
    assert!(gone.refused(404).contains("not held any more"));
    // One is taken, and all others go; what was before can be had back.
    let look = ask(&server, json!({ "op": "take_held", "id": held[0] })).good();
    assert_eq!((ids(&look), &look["steps"][1]["values"]["stops"]), (vec![], &json!(-1.0)));
    assert_eq!((&look["unsaved"], &look["steps"][2]["bypassed"]), (&json!(false), &json!(false)));
    assert_eq!(cube(&server, "now"), first);
    let look = ask(&server, json!({ "op": "undo" })).good();
    assert_eq!((&look["steps"][1]["values"]["stops"], &look["steps"][2]["bypassed"]), (&json!(0.5), &json!(true)));
    // Of a look with errors none is held.
    stops(&server, 99.0);
    assert!(ask(&server, json!({ "op": "hold" })).refused(400).contains("the look has errors"));
    ask(&server, json!({ "op": "drop_held" })).good();
}

fn history(server: &Server) -> Value {
    server.get("looks/night/history").good()
}

fn words(past: &Value) -> Vec<String> {
    let entries = past["entries"].as_array().expect("a list");
    entries
        .iter()
        .map(|entry| entry["words"].as_array().map_or(0, Vec::len).to_string() + &entry["words"].to_string())
        .collect()
}

fn now(past: &Value) -> usize {
    let entries = past["entries"].as_array().expect("a list");
    entries.iter().position(|entry| entry["is_now"] == true).expect("one of them is now")
}

/// Neither its note nor the way back to it.
#[test]
fn what_was_saved_is_not_lost_by_going_back() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml");
    let save = |note: &str| {
        let version = server.get("looks/night").good()["version"].clone();
        server.post("looks/night/save", &json!({ "version": version, "note": note })).good()
    };
    stops(&server, -1.25);
    save("one");
    let first = history(&server)["entries"][2]["id"].clone();
    ask(&server, json!({ "op": "go_to", "id": first })).good();
    save("two");
    let past = history(&server);
    assert_eq!(past["notes"], json!([{ "revision": 6, "note": "two" }, { "revision": 5, "note": "one" }]));
    let entries = past["entries"].as_array().expect("a list");
    let saved: Vec<&Value> = entries.iter().map(|entry| &entry["saved"]["revision"]).collect();
    assert_eq!(saved, [&json!(6), &Value::Null, &json!(5), &Value::Null, &Value::Null]);
    let look = ask(&server, json!({ "op": "go_to", "id": entries[2]["id"] })).good();
    assert_eq!(look["steps"][1]["values"]["stops"], -1.25);
}

/// In the words of `diff`, newest first, with the way back to each.
#[test]
fn what_was_done_to_a_look_is_said_and_can_be_gone_back_to() {
    let dir = saltmarsh();
    put(dir.path(), "looks/night.toml", &NIGHT.replace("revision = 4", "# Revision 4: for the boat\nrevision = 4"));
    let server = Server::start(dir.path(), "show.toml");
    let past = history(&server);
    assert_eq!((past["entries"].as_array().map(Vec::len), &past["entries"][0]["is_first"]), (Some(1), &json!(true)));
    assert_eq!(past["notes"], json!([{ "revision": 4, "note": "for the boat" }]));
    stops(&server, -1.25);
    ask(&server, json!({ "op": "bypass", "step": 2, "on": true })).good();
    ask(&server, json!({ "op": "add", "do": "saturation", "at": 3 })).good();
    let look = server.get("looks/night").good();
    let before = fs::read_to_string(dir.path().join("looks/night.toml")).expect("the look");
    server.post("looks/night/save", &json!({ "version": look["version"], "note": "the sign is calmer" })).good();
    let past = history(&server);
    let said = words(&past);
    assert_eq!(past["entries"][0]["saved"], json!({ "revision": 5, "note": "the sign is calmer" }));
    assert!(said[1].starts_with("1[\"") && said[1].contains("saturation"), "{said:?}");
    assert_eq!([&said[2], &said[3]], ["1[\"tint bypassed\"]", "1[\"exposure -1.0 -> -1.25 stops\"]"]);
    assert_eq!(past["notes"][0], json!({ "revision": 5, "note": "the sign is calmer" }));
    // The same words as `diff` has for the two documents, over the first of which is the file as it was.
    put(dir.path(), "before.toml", &before);
    put(dir.path(), "after.toml", &before.replace("stops = -1.0", "stops = -1.25"));
    let show = |name: &str| SHOW.replace("looks/night.toml", name);
    put(dir.path(), "one.toml", &show("before.toml"));
    put(dir.path(), "two.toml", &show("after.toml"));
    let diff = run(dir.path(), "diff one.toml two.toml --look night --camera a --display onset").output();
    let diff = String::from_utf8(diff.expect("it starts").stdout).expect("UTF-8");
    assert!(diff.contains("exposure -1.0 -> -1.25 stops"), "{diff}");
    // Times do not run backwards.
    let when: Vec<f64> =
        past["entries"].as_array().expect("a list").iter().map(|e| e["when"].as_f64().expect("a time")).collect();
    assert!(when.windows(2).all(|two| two[0] >= two[1]) && when[0] > 1.7e12, "{when:?}");
    // Back to the exposure alone, forth to the end, and undo goes on from there.
    let to = past["entries"][3]["id"].clone();
    let look = ask(&server, json!({ "op": "go_to", "id": to })).good();
    assert_eq!((&look["steps"][1]["values"]["stops"], &look["steps"][2]["bypassed"]), (&json!(-1.25), &json!(false)));
    assert_eq!(
        (now(&history(&server)), &look["redo"], look["steps"].as_array().map(Vec::len)),
        (3, &json!(true), Some(4))
    );
    assert_eq!(history(&server)["entries"][0]["is_undone"], true);
    let last = past["entries"][0]["id"].clone();
    let look = ask(&server, json!({ "op": "go_to", "id": last })).good();
    assert_eq!((&look["revision"], &look["redo"], &look["unsaved"]), (&json!(5), &json!(false), &json!(false)));
    ask(&server, json!({ "op": "undo" })).good();
    assert_eq!(now(&history(&server)), 1);
    assert!(ask(&server, json!({ "op": "go_to", "id": 0 })).refused(400).contains("not remembered any more"));
    server.get("looks/nothing/history").refused(404);
    // A drag is one change, from where it began to where it ended.
    for value in [-1.5, -1.75] {
        ask(&server, json!({ "op": "set", "step": 1, "key": "stops", "value": value, "drag": "d" })).good();
    }
    assert_eq!(words(&history(&server))[0], "1[\"exposure -1.25 -> -1.75 stops\"]");
    // A long day: the newest hundred are listed, and how many are not.
    for i in 0..120 {
        stops(&server, f64::from(i) / 100.0);
    }
    let past = history(&server);
    assert_eq!(past["entries"].as_array().map(Vec::len), Some(100));
    assert!(past["more"].as_u64().is_some_and(|more| more > 20), "{}", past["more"]);
}

/// What a page says of a setting is what `list` says.
#[test]
fn settings_say_what_they_do_as_the_list_does() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml");
    let kinds = server.get("state").good()["kinds"].clone();
    let mut checked = 0;
    for kind in kinds.as_array().expect("a list") {
        let name = kind["do"].as_str().expect("a name");
        let listed = json(dir.path(), &format!("list steps {name} --json"));
        let text = listed.to_string();
        for field in kind["fields"].as_array().expect("a list") {
            for part in ["help", "too_low", "too_high"] {
                if field[part].is_null() {
                    continue;
                }
                assert!(text.contains(&field[part].to_string()), "{name}.{}: {part} {}", field["key"], field[part]);
                checked += 1;
            }
        }
    }
    assert!(checked > 100, "{checked}");
}

/// The key names every zone, one after the other, with the stops at which one gives way to the next.
#[test]
fn overlays_say_what_they_read_and_every_zone() {
    let dir = saltmarsh();
    let ratings = "[[cameras.a.rating]]\nei = 800\nclip = 0.8663\nfloor_stops = -7.5\n\n[cameras.b]";
    put(dir.path(), "show.toml", &SHOW.replace("[cameras.b]", ratings));
    let server = Server::start(dir.path(), "show.toml");
    let overlay = |query: &str| {
        let answer = server.get(&format!("exposure?camera=a&ei=800&points=33&{query}"));
        assert_eq!(answer.status, 200, "{query}: {}", String::from_utf8_lossy(&answer.body));
        let key: Value = serde_json::from_str(answer.header("x-key")).expect("JSON");
        (answer.body.clone(), key, answer.header("x-preview").to_owned())
    };
    for kind in ["ladder", "key", "clip", "range"] {
        let (_, key, says) = overlay(&format!("kind={kind}"));
        let zones = key.as_array().expect("a list");
        assert!(zones[0]["from"].is_null(), "{kind}: {key}");
        let marks = zones.windows(2).filter(|two| !two[1]["from"].is_null() && two[0]["to"].is_null()).count();
        assert_eq!(marks, 0, "{kind}: a zone without its end: {key}");
        assert!(zones.windows(2).all(|two| two[0]["to"] == two[1]["from"]), "{kind}: {key}");
        assert!(says.contains("not a light meter"), "{kind}: {says}");
    }
    let (_, key, _) = overlay("kind=key");
    let grey = key.as_array().expect("a list").iter().find(|zone| zone["label"] == "mid-grey").expect("mid-grey");
    assert_eq!((&grey["from"], &grey["to"]), (&json!(-0.25), &json!(0.25)));
    // What exposure is read from, and the window.
    let (luminance, ..) = overlay("kind=range");
    assert_eq!(overlay("kind=range&basis=luminance").0, luminance);
    let (highest, ..) = overlay("kind=range&basis=highest");
    assert_ne!(highest, luminance);
    let (wide, key, _) = overlay("kind=range&low=-2&high=3");
    assert_ne!(wide, luminance);
    assert!(key.to_string().contains("below -2 stops") && key.to_string().contains("above +3 stops"), "{key}");
    assert_eq!(numbers(&json!([key[1]["from"], key[1]["to"]])), [-2.0, 3.0]);
    for (query, status, part) in [
        ("basis=brightest", 400, "one of luminance, highest"),
        ("low=3&high=-3", 422, "below the upper"),
        ("low=-99", 422, "out of range"),
        ("low=abc", 400, "low"),
    ] {
        let said = server.get(&format!("exposure?camera=a&kind=range&{query}")).refused(status);
        assert!(said.contains(part), "{query}: {said}");
    }
}
