//! `preview`: edits outlive a server that is killed, the newest of them are stress-tested, and clips that keep one waiting.

#[cfg(unix)]
use rushlight_tests::scene::path_with;
use rushlight_tests::scene::{NIGHT, put, saltmarsh, wait_until};
use rushlight_tests::server::{Server, next_event};
use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};

/// An edit upon the version that there is.
fn edit(server: &Server, edit: Value) -> Value {
    let mut question = edit;
    question["version"] = server.get("looks/night").good()["version"].clone();
    server.post("looks/night/edit", &question).good()
}

fn stops(server: &Server, value: f64) -> Value {
    edit(server, json!({ "op": "set", "step": 1, "key": "stops", "value": value }))
}

/// Files of edits in the state folder of `dir`.
fn kept(dir: &Path) -> Vec<PathBuf> {
    let folders = fs::read_dir(dir.join("state/rushlight/unsaved")).into_iter().flatten().flatten();
    let files = folders.flat_map(|folder| fs::read_dir(folder.path()).expect("a folder").flatten());
    files.map(|file| file.path()).filter(|path| path.extension().is_some_and(|e| e == "toml")).collect()
}

fn folders(dir: &Path) -> usize {
    fs::read_dir(dir.join("state/rushlight/unsaved")).map_or(0, Iterator::count)
}

/// Ends the server without a warning.
fn kill(mut server: Server) {
    server.child.kill().expect("it is killed");
    server.child.wait().expect("it ends");
}

#[test]
fn edits_outlive_a_server_that_is_killed() {
    let dir = saltmarsh();
    let commented = NIGHT.replace("stops = -1.0", "stops = -1.0   # by eye");
    put(dir.path(), "looks/night.toml", &commented);
    let server = Server::start(dir.path(), "show.toml");
    assert_eq!(server.get("looks/night").good()["left"], Value::Null);
    assert!(kept(dir.path()).is_empty() && folders(dir.path()) == 0);
    stops(&server, -1.5);
    let file = kept(dir.path()).pop().expect("kept before it is answered");
    let edited = commented.replace("stops = -1.0 ", "stops = -1.5 ");
    let text = fs::read_to_string(&file).expect("text");
    assert!(text.ends_with(&format!("\n{edited}")) && text.starts_with("# Edits"), "{text}");
    // What is undone is kept no more.
    edit(&server, json!({ "op": "undo" }));
    assert!(kept(dir.path()).is_empty());
    edit(&server, json!({ "op": "redo" }));
    // Nobody is offered what a server still keeps.
    let second = Server::start(dir.path(), "show.toml");
    assert_eq!(second.get("looks/night").good()["left"], Value::Null);
    kill(second);
    kill(server);

    let server = Server::start(dir.path(), "show.toml");
    let look = server.get("looks/night").good();
    assert_eq!((&look["unsaved"], &look["left"]["same"]), (&json!(false), &json!(true)));
    assert_eq!(look["left"]["changes"], json!(["exposure -1.0 -> -1.5 stops"]));
    assert_eq!(look["left"]["file"], file.display().to_string());
    let looks = server.get("state").good()["looks"].clone();
    assert!(looks.as_array().is_some_and(|l| l.iter().any(|l| l["name"] == "night" && l["left"] == true)), "{looks}");
    let look = edit(&server, json!({ "op": "take_left" }));
    assert_eq!(
        (&look["unsaved"], &look["left"], &look["undo"], &look["steps"][1]["values"]["stops"]),
        (&json!(true), &Value::Null, &json!(true), &json!(-1.5))
    );
    // In this server's own folder now, and nowhere else.
    assert!(!file.exists() && kept(dir.path()).len() == 1 && folders(dir.path()) == 1);
    let saved = server.post("looks/night/save", &json!({ "version": look["version"] })).good();
    assert_eq!(saved["unsaved"], false);
    assert!(kept(dir.path()).is_empty());
    let on_disk = fs::read_to_string(dir.path().join("looks/night.toml")).expect("the look");
    assert_eq!(on_disk, edited.replace("revision = 4", "revision = 5"));

    // On another document than they were made on, which is reported; and discarded.
    stops(&server, -2.0);
    kill(server);
    put(dir.path(), "looks/night.toml", &on_disk.replace("stops = -1.5 ", "stops = -0.5 "));
    let server = Server::start(dir.path(), "show.toml");
    let left = server.get("looks/night").good()["left"].clone();
    assert_eq!((&left["same"], &left["changes"]), (&json!(false), &json!(["exposure -0.5 -> -2.0 stops"])));
    // Edits of this server come beside them, and are let go by themselves.
    stops(&server, -0.6);
    assert_eq!(kept(dir.path()).len(), 2);
    let look = edit(&server, json!({ "op": "drop_left" }));
    assert_eq!((&look["left"], &look["steps"][1]["values"]["stops"]), (&Value::Null, &json!(-0.6)));
    assert_eq!(kept(dir.path()).len(), 1);
    edit(&server, json!({ "op": "revert" }));
    #[cfg(unix)]
    {
        interrupt(server);
        assert_eq!(folders(dir.path()), 0);
        // Ended by a signal with edits: they are kept as well.
        let server = Server::start(dir.path(), "show.toml");
        stops(&server, -0.7);
        interrupt(server);
        let server = Server::start(dir.path(), "show.toml");
        assert_eq!(server.get("looks/night").good()["left"]["changes"], json!(["exposure -0.5 -> -0.7 stops"]));
    }
}

#[cfg(unix)]
fn interrupt(mut server: Server) {
    let id = server.child.id().to_string();
    assert!(std::process::Command::new("kill").args(["-INT", &id]).status().is_ok_and(|s| s.success()));
    assert_eq!(server.child.wait().expect("it ends").code(), Some(0));
}

#[test]
fn files_that_are_no_edits_are_not_offered() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml");
    stops(&server, -1.5);
    let file = kept(dir.path()).pop().expect("kept");
    kill(server);
    for text in ["", "\n\n\n", "# Edits\n", "schema = 1\n\n\n\n", "\u{fffd}"] {
        fs::write(&file, text).expect("a file");
        let server = Server::start(dir.path(), "show.toml");
        assert_eq!(server.get("looks/night").good()["left"], Value::Null, "{text:?}");
        kill(server);
    }
    // A folder of this user that is none: edits go on, with a warning that they are in danger.
    fs::remove_dir_all(dir.path().join("state")).expect("it was there");
    put(dir.path(), "state", "a file");
    let server = Server::start(dir.path(), "show.toml");
    assert_eq!(stops(&server, -1.5)["unsaved"], true);
}

#[test]
fn the_newest_edit_is_stressed_and_an_older_search_is_stopped() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml");
    let ask = || server.get("worst?look=night&camera=a&display=onset").good();
    assert_eq!(ask()["done"], false);
    wait_until("the search has begun", || ask()["searching"] == true);
    let look = stops(&server, -1.5);
    let mut events = server.events();
    let asked = ask();
    assert_eq!((&asked["done"], &asked["version"]), (&json!(false), &look["version"]));
    let event = next_event(&mut events, "worst");
    assert_eq!((&event["version"], &event["name"], &event["camera"]), (&look["version"], &json!("night"), &json!("a")));
    let found = ask();
    assert_eq!((&found["done"], &found["version"]), (&json!(true), &look["version"]));
    assert!(found["finding"]["words"].as_str().is_some_and(|w| w.contains(": ")), "{found}");
    assert!(["holds", "marginal", "breaks"].iter().any(|g| found["finding"]["verdict"] == *g), "{found}");
}

#[cfg(unix)]
#[test]
fn a_clip_sends_no_more_than_its_frame() {
    let dir = saltmarsh();
    let probed =
        r#"echo '{"streams":[{"codec_type":"video","width":4,"height":2,"pix_fmt":"gbrp","r_frame_rate":"25/1"}]}'"#;
    let drop = |server: &Server, at: f64| {
        let address = format!("frames?name=clip.mov&at={at}");
        server.post_bytes(&address, "application/octet-stream", b"a clip").refused(422)
    };
    for (ffprobe, ffmpeg, says) in [
        (probed, "exec yes", "clip.mov: ffmpeg sent more than 24 bytes, and was ended"),
        ("exec yes", "exit 1", "clip.mov: ffprobe sent more than 1048576 bytes, and was ended"),
        (probed, "exit 0", "clip.mov: it has no frame at 3.5 s"),
        (probed, "echo broken >&2; exit 1", "clip.mov: broken"),
        ("echo '{}'", "exit 1", "clip.mov: it has no video"),
        ("exit 1", "exit 1", "clip.mov: neither a still"),
        (
            r#"echo '{"streams":[{"codec_type":"video","width":99999,"height":99999,"pix_fmt":"gbrp","r_frame_rate":"25/1"}]}'"#,
            "exit 1",
            "clip.mov: 99999 x 99999 pixels are more than is read",
        ),
    ] {
        let path = path_with(dir.path(), &[("ffprobe", ffprobe), ("ffmpeg", ffmpeg)]);
        let server = Server::start_with(dir.path(), "show.toml", &[("PATH", &path)]);
        let said = drop(&server, 3.5);
        assert!(said.starts_with(says), "{said}");
        assert_eq!(server.get("state").good()["frames"], json!([]));
    }
}
