//! `preview`: edits that were not saved stay when the show, its looks or its folder change, and saving changes nothing else.

use rushlight_tests::scene::{NIGHT, PLAIN, SHOW, put, saltmarsh};
use rushlight_tests::server::{Server, next_event};
use serde_json::{Value, json};
use std::fs;
use std::io::{Read, Write};
use std::path::Path;

/// An edit of a look, upon the version that there is.
fn edit(server: &Server, look: &str, edit: Value) -> Value {
    let mut question = edit;
    question["version"] = server.get(&format!("looks/{look}")).good()["version"].clone();
    server.post(&format!("looks/{look}/edit"), &question).good()
}

fn stops(server: &Server, look: &str, value: f64) -> Value {
    edit(server, look, json!({ "op": "set", "step": 1, "key": "stops", "value": value }))
}

/// The looks of the page: name, whether edits are unsaved, left from before, and whether the show has it no more.
fn looks(server: &Server) -> Vec<(String, [bool; 3])> {
    let state = server.get("state").good();
    let is = |look: &Value, key: &str| look[key].as_bool().expect(key);
    let all = state["looks"].as_array().expect("looks").iter();
    all.map(|l| (l["name"].as_str().expect("a name").to_owned(), ["unsaved", "left", "away"].map(|key| is(l, key))))
        .collect()
}

const fn named(name: &str, is: [bool; 3]) -> (&str, [bool; 3]) {
    (name, is)
}

fn assert_looks(server: &Server, wanted: &[(&str, [bool; 3])]) {
    let found = looks(server);
    let found: Vec<(&str, [bool; 3])> = found.iter().map(|(name, is)| (name.as_str(), *is)).collect();
    assert_eq!(found, wanted);
}

/// The show changes, and the server has seen it.
fn change(server: &Server, dir: &Path, show: &str) {
    let mut events = server.events();
    put(dir, "show.toml", show);
    assert_eq!(next_event(&mut events, "show")["problems"], Value::Null);
}

fn value(look: &Value) -> f64 {
    look["steps"][1]["values"]["stops"].as_f64().expect("stops")
}

/// A page goes on with a look where the show changes and nothing of the look does, as when a shot is saved.
#[test]
fn a_change_of_the_show_does_not_overtake_edits() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml --look night");
    let version = stops(&server, "night", -1.5)["version"].clone();
    change(&server, dir.path(), &format!("{SHOW}\n# Another line.\n"));
    let next = json!({ "op": "set", "step": 1, "key": "stops", "value": -1.6, "version": version });
    assert_eq!(value(&server.post("looks/night/edit", &next).good()), -1.6);
}

#[test]
fn edits_stay_while_their_look_is_not_in_the_show() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml --look night");
    stops(&server, "night", -1.5);
    let without = SHOW.replace("night = \"looks/night.toml\"\n", "");
    change(&server, dir.path(), &without);
    assert_looks(&server, &[named("night", [true, false, true]), named("plain", [false, false, false])]);
    let look = stops(&server, "night", -1.6);
    assert_eq!((&look["away"], &look["undo"]), (&json!(true), &json!(true)));
    change(&server, dir.path(), SHOW);
    assert_looks(&server, &[named("night", [true, false, false]), named("plain", [false, false, false])]);
    let look = server.get("looks/night").good();
    assert_eq!((value(&look), &look["undo"], &look["away"]), (-1.6, &json!(true), &json!(false)));
    // Under another name, and under another name of its file.
    change(&server, dir.path(), &SHOW.replace("night = ", "nacht = "));
    assert_eq!(value(&server.get("looks/nacht").good()), -1.6);
    fs::rename(dir.path().join("looks/night.toml"), dir.path().join("looks/nacht.toml")).expect("it is renamed");
    change(&server, dir.path(), &SHOW.replace("night = \"looks/night", "nacht = \"looks/nacht"));
    let look = server.get("looks/nacht").good();
    assert_eq!((value(&look), &look["file"], &look["unsaved"]), (-1.6, &json!("looks/nacht.toml"), &json!(true)));
    // Its name now is another look's: both are there, each with its own.
    put(dir.path(), "looks/new.toml", &NIGHT.replace("-1.0", "2.0"));
    change(&server, dir.path(), &SHOW.replace("night = \"looks/night", "nacht = \"looks/new"));
    assert_looks(
        &server,
        &[
            named("nacht", [false, false, false]),
            named("nacht (2)", [true, false, true]),
            named("plain", [false, false, false]),
        ],
    );
    assert_eq!(value(&server.get("looks/nacht").good()), 2.0);
    let aside = server.get("looks/nacht%20(2)").good();
    assert_eq!(value(&aside), -1.6);
    // It is saved where it came from, and is not asked about any more.
    server.post("looks/nacht%20(2)/save", &json!({ "version": aside["version"] })).good();
    assert!(fs::read_to_string(dir.path().join("looks/nacht.toml")).expect("the look").contains("stops = -1.6"));
    assert_looks(&server, &[named("nacht", [false, false, false]), named("plain", [false, false, false])]);
}

#[test]
fn edits_are_offered_when_the_folder_was_moved_or_their_look_is_gone_from_the_show() {
    let dir = saltmarsh();
    let state = dir.path().join("state");
    let [first, second] = ["first", "second"].map(|name| dir.path().join(name));
    for (name, text) in [
        ("show.toml", SHOW),
        ("looks/night.toml", NIGHT),
        ("looks/plain.toml", PLAIN),
        ("curves/heron.toml", rushlight_tests::scene::CURVE),
    ] {
        put(&first, name, text);
    }
    let start = |dir: &Path| Server::start_with(dir, "show.toml", &[("XDG_STATE_HOME", state.as_os_str())]);
    let server = start(&first);
    stops(&server, "night", -1.5);
    drop(server);
    fs::rename(&first, &second).expect("it is moved");
    let server = start(&second);
    assert_eq!(server.get("looks/night").good()["left"]["changes"], json!(["exposure -1.0 -> -1.5 stops"]));
    let look = edit(&server, "night", json!({ "op": "take_left" }));
    assert_eq!((value(&look), &look["unsaved"]), (-1.5, &json!(true)));
    // Out of the show, and the server is killed.
    change(&server, &second, &SHOW.replace("night = \"looks/night.toml\"\n", ""));
    drop(server);
    let server = start(&second);
    assert_looks(&server, &[named("night", [false, true, true]), named("plain", [false, false, false])]);
    drop(server);
    // Another show, of the same name and with a look of the same name, is none of this.
    let other = tempfile::tempdir().expect("a folder");
    for (name, text) in [("show.toml", SHOW.replace("Saltmarsh", "Reeds")), ("looks/night.toml", NIGHT.to_owned())] {
        put(other.path(), name, &text);
    }
    put(other.path(), "looks/plain.toml", PLAIN);
    put(other.path(), "curves/heron.toml", rushlight_tests::scene::CURVE);
    let server = start(other.path());
    assert_looks(&server, &[named("night", [false; 3]), named("plain", [false; 3])]);
    drop(server);
    // Back under another name.
    put(&second, "show.toml", &SHOW.replace("night = ", "nacht = "));
    let server = start(&second);
    assert_looks(&server, &[named("nacht", [false, true, false]), named("plain", [false; 3])]);
    let look = edit(&server, "nacht", json!({ "op": "drop_left" }));
    assert_eq!((value(&look), &look["left"]), (-1.0, &Value::Null));
    assert_eq!(fs::read_dir(state.join("rushlight/unsaved")).map_or(0, Iterator::count), 0);
}

#[test]
fn saving_keeps_the_mode_the_line_ends_and_the_byte_order_mark() {
    let dir = saltmarsh();
    let file = dir.path().join("looks/night.toml");
    let windows = format!("\u{feff}{}", NIGHT.replace('\n', "\r\n"));
    fs::write(&file, &windows).expect("a look");
    #[cfg(unix)]
    let mode = |mode: Option<u32>| {
        use std::os::unix::fs::PermissionsExt;
        let set = mode.map(fs::Permissions::from_mode);
        set.into_iter().for_each(|set| fs::set_permissions(&file, set).expect("a mode"));
        fs::metadata(&file).expect("the look").permissions().mode() & 0o777
    };
    #[cfg(unix)]
    mode(Some(0o664));
    let server = Server::start(dir.path(), "show.toml");
    let look = stops(&server, "night", -1.5);
    server.post("looks/night/save", &json!({ "version": look["version"] })).good();
    let wanted = windows.replace("stops = -1.0", "stops = -1.5").replace("revision = 4", "revision = 5");
    assert_eq!(fs::read_to_string(&file).expect("the look"), wanted);
    #[cfg(unix)]
    {
        assert_eq!(mode(None), 0o664);
        mode(Some(0o444));
        let look = stops(&server, "night", -1.7);
        let refused = server.post("looks/night/save", &json!({ "version": look["version"] }));
        assert!(refused.refused(422).contains("read-only"));
        assert_eq!(fs::read_to_string(&file).expect("the look"), wanted);
        assert_eq!(server.get("looks/night").good()["unsaved"], true);
    }
}

#[cfg(unix)]
#[test]
fn a_look_that_becomes_a_pipe_stops_nothing() {
    let dir = saltmarsh();
    let mut server = Server::start(dir.path(), "show.toml");
    let look = stops(&server, "night", -1.5);
    let file = dir.path().join("looks/night.toml");
    fs::remove_file(&file).expect("it was there");
    assert!(std::process::Command::new("mkfifo").arg(&file).status().is_ok_and(|s| s.success()));
    let saved = server.post("looks/night/save", &json!({ "version": look["version"], "anyway": true }));
    assert!(saved.refused(422).contains("it is a pipe"), "{saved:?}");
    // Files are still looked after: what changes beside the pipe is seen.
    let mut events = server.events();
    put(dir.path(), "looks/plain.toml", &PLAIN.replace("Plain", "Plainer"));
    // An error of the pipe itself may come first.
    while next_event(&mut events, "outside")["name"] != "plain" {}
    assert_eq!(server.get("looks/night").good()["unsaved"], true);
    let id = server.child.id().to_string();
    assert!(std::process::Command::new("kill").args(["-INT", &id]).status().is_ok_and(|s| s.success()));
    assert_eq!(server.child.wait().expect("it ends").code(), Some(0));
}

/// A browser that writes down its own arguments, and reads the file that it is given.
#[cfg(unix)]
#[test]
fn the_key_is_on_no_command_line() {
    use rushlight_tests::scene::wait_until;
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    let dir = saltmarsh();
    let (bin, temporary) = (dir.path().join("bin"), dir.path().join("tmp"));
    fs::create_dir_all(&temporary).expect("a folder");
    let said = dir.path().join("said");
    put(&bin, "xdg-open", &format!("#!/bin/sh\necho \"$@\" > {0}.part; mv {0}.part {0}\n", said.display()));
    fs::set_permissions(bin.join("xdg-open"), fs::Permissions::from_mode(0o755)).expect("it may be run");
    let path = std::env::join_paths(
        std::iter::once(bin).chain(std::env::split_paths(&std::env::var_os("PATH").unwrap_or_default())),
    )
    .expect("a path");
    let variables = [("PATH", path.as_os_str()), ("TMPDIR", temporary.as_os_str())];
    let server = Server::start_opened(dir.path(), "show.toml", &variables);
    wait_until("the browser is started", || said.exists());
    let arguments = fs::read_to_string(&said).expect("the arguments");
    assert!(!arguments.contains(server.token.trim_start_matches('/')) && !arguments.contains("http"), "{arguments}");
    let door = Path::new(arguments.trim());
    assert_eq!(fs::metadata(door).expect("the file").mode() & 0o777, 0o600);
    let page = fs::read_to_string(door).expect("the file");
    assert!(page.contains(&format!("url=http://{}{}/", server.host, server.token)), "{page}");
    // The page opens, and the file has done its work.
    assert_eq!(server.ask("GET", &format!("{}/", server.token), &[("Host", &server.host)], b"").status, 200);
    wait_until("the file is gone", || !door.exists());
}

#[test]
fn strangers_do_not_keep_the_page_out() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml");
    let mut strangers: Vec<_> = (0..150).map(|_| server.connect()).collect();
    for _ in 0..5 {
        assert_eq!(server.get("looks/night").status, 200);
        strangers.extend((0..30).map(|_| server.connect()));
    }
    // Slow files do not keep edits out, either.
    let head = format!(
        "POST {}/api/frames?name=a.mov HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nContent-Type: application/octet-stream\r\nExpect: 100-continue\r\nContent-Length: 1000000\r\n\r\n",
        server.token,
        host = server.host
    );
    let mut slow: Vec<_> = (0..6).map(|_| server.connect()).collect();
    for stream in &mut slow {
        stream.write_all(head.as_bytes()).expect("it is sent");
    }
    // The first is being read once it is asked for its body, of which only a part comes.
    let mut asked = [0; 12];
    slow[0].read_exact(&mut asked).expect("an answer");
    assert_eq!(&asked, b"HTTP/1.1 100");
    for stream in &mut slow {
        stream.write_all(b"abc").expect("it is sent");
    }
    let start = std::time::Instant::now();
    assert_eq!(value(&stops(&server, "night", -1.5)), -1.5);
    assert!(start.elapsed() < std::time::Duration::from_secs(10));
}
