//! `preview`: corrections of shots outlive kills at any moment, files of corrections are the old or the new one, whole, and no
//! question to an address of the shots breaks the server or reaches a file that it may not.

use rushlight_tests::scene::{SHOW, put, saltmarsh};
use rushlight_tests::server::Server;
use serde_json::{Value, json};
use std::fs;
use std::path::Path;
use std::time::Duration;
use tempfile::TempDir;

const CCC: &str = "<!-- first night -->\n<ColorCorrectionCollection>\n  <ColorCorrection id=\"a\">\n    <SOPNode><Slope>1 1 1</Slope>\
    <Offset>0 0 0</Offset><Power>1 1 1</Power></SOPNode>\n  </ColorCorrection>\n  <ColorCorrection id=\"b\">\n    <!-- as it was -->\n    \
    <SatNode><Saturation>0.90</Saturation></SatNode>\n  </ColorCorrection>\n</ColorCorrectionCollection>\n";

fn scene() -> TempDir {
    let dir = saltmarsh();
    put(dir.path(), "night.ccc", CCC);
    let shots = "\n[cdl]\nfiles = ['night.ccc']\n[[shots]]\nname = 'a'\n[[shots]]\nname = 'b'\n";
    put(dir.path(), "show.toml", &format!("{SHOW}{shots}"));
    dir
}

fn ccc(dir: &Path) -> String {
    fs::read_to_string(dir.join("night.ccc")).expect("the corrections")
}

/// An edit, and its number if it was answered.
fn edit(server: &Server, shot: &str, version: &mut Value, value: f64, drag: Option<&str>) {
    let question =
        json!({ "version": version, "drag": drag, "op": "set", "key": "offset", "value": [value, 0.0, 0.0] });
    *version = server.post(&format!("shots/{shot}/edit"), &question).good()["version"].clone();
}

fn offset(server: &Server, shot: &str) -> f64 {
    server.get(&format!("shots/{shot}")).good()["numbers"]["offset"][0].as_f64().expect("a number")
}

fn kill(mut server: Server) {
    server.child.kill().expect("it is there");
    server.child.wait().expect("it ends");
}

#[test]
fn an_edit_that_was_answered_outlives_a_kill() {
    let dir = scene();
    let mut last = 0.0;
    for round in 0..6 {
        let server = Server::start(dir.path(), "show.toml --out box");
        assert_eq!(offset(&server, "a"), last, "round {round}");
        let mut version = server.get("shots/a").good()["version"].clone();
        for i in 0..20 {
            last = f64::from(round * 20 + i + 1) / 1000.0;
            edit(&server, "a", &mut version, last, None);
        }
        // Of a drag, what is half a second old.
        for i in 0..10 {
            edit(&server, "a", &mut version, last + f64::from(i) / 10000.0, Some("drag"));
        }
        last += 9.0 / 10000.0;
        std::thread::sleep(Duration::from_millis(1500));
        kill(server);
    }
    // Half a line, and lines that are none, are passed over; the rest is there.
    let folder = dir.path().join("state/rushlight/shots");
    let journal = fs::read_dir(&folder).expect("a folder").flatten().next().expect("a journal").path();
    let mut bytes = fs::read(&journal).expect("a journal");
    bytes.extend(b"{\"shot\":\"a\",\"enter\":{\"numbers\":{\"slope\":[\n\xff\xfe\n{\"shot\":\"a\",\"go\":{\"at\":99999}}\n{\"shot\":\"c\",\"go\":{\"at\":1}}\n{");
    fs::write(&journal, bytes).expect("it is written");
    let server = Server::start(dir.path(), "show.toml");
    assert_eq!(offset(&server, "a"), last);
    assert_eq!(ccc(dir.path()), CCC);
    let versions = server.get("shots/a").good()["versions"].as_array().expect("versions").len();
    assert!(versions > 100, "{versions}");
}

#[test]
fn a_kill_while_it_saves_leaves_a_whole_file() {
    let dir = scene();
    for round in 0..8 {
        let server = Server::start(dir.path(), "show.toml --out box");
        let mut version = server.get("shots/a").good()["version"].clone();
        let value = f64::from(round + 1) / 100.0;
        edit(&server, "a", &mut version, value, None);
        let question = json!({ "version": version, "look": "night", "camera": "a", "display": "onset" });
        std::thread::scope(|scope| {
            let (host, body) = (&server, &question);
            scope.spawn(move || {
                let path = format!("{}/api/shots/a/save", host.token);
                let origin = format!("http://{}", host.host);
                let headers = [("Host", host.host.as_str()), ("Origin", &origin), ("Content-Type", "application/json")];
                let text = body.to_string();
                let mut head =
                    format!("POST {path} HTTP/1.1\r\nConnection: close\r\nContent-Length: {}\r\n", text.len());
                headers.iter().for_each(|(name, value)| head.push_str(&format!("{name}: {value}\r\n")));
                // It may be killed before it answers.
                let _ = host.send(format!("{head}\r\n{text}").as_bytes());
            });
            std::thread::sleep(Duration::from_millis(3 * round as u64));
            let _ = std::process::Command::new("kill").args(["-9", &host.child.id().to_string()]).status();
        });
        drop(server);
        let text = ccc(dir.path());
        let rest = |text: &str| text.lines().filter(|l| !l.contains("<Offset>")).map(str::to_owned).collect::<Vec<_>>();
        assert_eq!(rest(&text), rest(CCC), "round {round}");
        // Saved or not, the correction is there.
        let server = Server::start(dir.path(), "show.toml");
        assert_eq!(offset(&server, "a"), value, "round {round}");
        for cube in fs::read_dir(dir.path().join("box")).into_iter().flatten().flatten() {
            let name = cube.file_name().to_string_lossy().into_owned();
            if name.ends_with(".cube") {
                let text = fs::read_to_string(cube.path()).expect("a cube");
                let nodes = text.lines().filter(|l| l.starts_with(|c: char| c.is_ascii_digit())).count();
                assert_eq!(nodes, 125, "{name}");
            }
        }
    }
}

#[test]
fn no_question_about_shots_breaks_the_server() {
    let dir = scene();
    put(dir.path(), "secret.txt", "none of your business");
    let server = Server::start(dir.path(), "show.toml --out box");
    let before = ccc(dir.path());
    let show = fs::read_to_string(dir.path().join("show.toml")).expect("the show");
    for path in ["shots/c", "shots/..%2f..%2fsecret.txt", "shots/%00", "shots/a/b", "shots/", "shots/%ff"] {
        let status = server.get(path).status;
        assert!((400..500).contains(&status), "{path}: {status}");
    }
    let kind = "application/json";
    for address in ["shots", "shots/a/edit", "shots/a/save"] {
        for body in
            [&b""[..], b"{", b"[]", b"null", b"\xff\xfe", b"{\"version\":1}", b"{\"version\":-1,\"op\":\"undo\"}"]
        {
            assert_eq!(server.post_bytes(address, kind, body).status, 400, "{address}");
        }
        assert_eq!(server.post_bytes(address, kind, "[".repeat(60_000).as_bytes()).status, 400, "{address}");
        assert_eq!(server.post_bytes(address, kind, &vec![b' '; 1 << 20]).status, 413, "{address}");
        assert_eq!(server.post_bytes(address, "text/plain", b"{}").status, 415, "{address}");
        // No other page asks, and no other address.
        let path = format!("{}/api/{address}", server.token);
        let plain = [("Host", server.host.as_str()), ("Content-Type", kind)];
        assert_eq!(server.ask("POST", &path, &plain, b"{}").status, 403, "{address}");
        let evil = [plain[0], plain[1], ("Origin", "http://evil.example")];
        assert_eq!(server.ask("POST", &path, &evil, b"{}").status, 403, "{address}");
        let other = format!("/{}/api/{address}", "0".repeat(32));
        let own = format!("http://{}", server.host);
        let own = [plain[0], plain[1], ("Origin", own.as_str())];
        assert_eq!(server.ask("POST", &other, &own, b"{}").status, 404, "{address}");
    }
    let version = server.get("shots/a").good()["version"].clone();
    for edit in [
        json!({ "op": "set", "key": "slope", "value": [1, 2] }),
        json!({ "op": "set", "key": "slope", "value": [1e300, 1, 1] }),
        json!({ "op": "set", "key": "saturation", "value": { "a": null } }),
        json!({ "op": "set", "key": "power", "value": [0, 0, 0] }),
        json!({ "op": "go", "at": usize::MAX }),
        json!({ "op": "copy", "from": "../../etc/passwd" }),
        json!({ "op": "exposure", "stops": 1e308, "look": "night", "camera": "a", "display": "onset" }),
        json!({ "op": "exposure", "stops": 1, "look": "x".repeat(5000), "camera": "a", "display": "onset" }),
        json!({ "op": "white", "kelvin": 0, "look": "night", "camera": "a", "display": "onset" }),
    ] {
        let mut question = edit.clone();
        question["version"] = version.clone();
        let answer = server.post("shots/a/edit", &question);
        // A version that there is not changes nothing.
        let is_go = edit["op"] == "go";
        assert!(
            if is_go { answer.status == 200 } else { (400..500).contains(&answer.status) },
            "{edit}: {}",
            answer.status
        );
        assert!(answer.body.len() < 20_000, "{edit}");
    }
    assert_eq!(server.get("shots/a").good()["numbers"]["slope"], json!([1.0, 1.0, 1.0]));
    let save = json!({ "version": version, "look": "../x", "camera": "a", "display": "onset" });
    server.post("shots/a/save", &save);
    for (name, into) in
        [("../../x", "night.ccc"), ("x", "../night.ccc"), ("x", "secret.txt"), ("", "night.ccc"), ("a", "night.ccc")]
    {
        let question = json!({ "name": name, "into": into, "look": "night", "camera": "a", "display": "onset" });
        assert_eq!(server.post("shots", &question).status, 400, "{name} {into}");
    }
    assert_eq!(server.post("shots/b/frame", &Value::Null).status, 404);
    assert_eq!(ccc(dir.path()), before);
    assert_eq!(fs::read_to_string(dir.path().join("show.toml")).expect("the show"), show);
    // Where nothing can be stored the server lives, and says so.
    drop(server);
    let _ = fs::remove_dir_all(dir.path().join("state"));
    put(dir.path(), "state/rushlight", "a file where a folder should be");
    let server = Server::start(dir.path(), "show.toml");
    let mut version = server.get("shots/a").good()["version"].clone();
    edit(&server, "a", &mut version, 0.01, None);
    assert_eq!(offset(&server, "a"), 0.01);
}
