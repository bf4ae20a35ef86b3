//! `preview`: who is answered, edits and saves, files that change outside, what a page draws with against the other commands,
//! and garbage.

use rushlight::frame::{Depth, Format, Frame, Info, Tags, write};
use rushlight::gamut::AP1;
use rushlight_tests::scene::{NIGHT, SHOW, assert_says, json, numbers, output, put, refused, saltmarsh, wait_until};
use rushlight_tests::server::{Server, next_event};
use serde_json::{Value, json};
use std::fs;
use std::io::{Read, Write};
use std::path::Path;

const WAY: &str = "look=night&camera=a&display=onset";

fn floats(bytes: &[u8]) -> Vec<f32> {
    bytes.chunks_exact(4).map(|b| f32::from_le_bytes(b.try_into().expect("four bytes"))).collect()
}

fn edit(server: &Server, version: u64, edit: Value) -> Value {
    let mut question = edit;
    question["version"] = version.into();
    server.post("looks/night/edit", &question).good()
}

fn night(dir: &Path) -> String {
    fs::read_to_string(dir.join("looks/night.toml")).expect("the look")
}

#[test]
fn only_its_own_page_is_answered() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml");
    let (host, token) = (server.host.as_str(), server.token.as_str());
    let page = server.ask("GET", &format!("{token}/"), &[("Host", host)], b"");
    assert_eq!(page.status, 200);
    assert!(page.header("content-type").starts_with("text/html"));
    let policy = page.header("content-security-policy");
    assert!(
        policy.starts_with("default-src 'none'") && !policy.contains("unsafe") && !policy.contains("http"),
        "{policy}"
    );
    for (name, value) in [
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "no-referrer"),
        ("cache-control", "no-store"),
        ("cross-origin-resource-policy", "same-origin"),
    ] {
        assert_eq!(page.header(name), value, "{name}");
    }
    let other = format!("/{}/api/state", "0".repeat(32));
    for path in ["/", "/favicon.ico", "/api/state", &other, &format!("{}/api/state", &token[..20]), "/../etc/passwd"] {
        let answer = server.ask("GET", path, &[("Host", host)], b"");
        assert_eq!((answer.status, answer.body.len()), (404, 0), "{path}");
    }
    let state = format!("{token}/api/state");
    for odd in ["evil.example", "localhost", "127.0.0.1:1", &format!("evil.example@{host}")] {
        assert_eq!(server.ask("GET", &state, &[("Host", odd)], b"").status, 403, "{odd}");
    }
    for headers in [("Origin", "http://evil.example"), ("Origin", "null"), ("Sec-Fetch-Site", "cross-site")] {
        assert_eq!(server.ask("GET", &state, &[("Host", host), headers], b"").status, 403, "{headers:?}");
    }
    let undo = format!("{token}/api/looks/night/edit");
    let plain = [("Host", host), ("Content-Type", "application/json")];
    assert_eq!(server.ask("POST", &undo, &plain, b"{\"version\":1,\"op\":\"undo\"}").status, 403);
    for path in [
        "/../show.toml",
        "/..%2f..%2fshow.toml",
        "/%2e%2e/show.toml",
        "/show.toml",
        "/.html",
        "/api/",
        "/api/frames/../state",
    ] {
        let answer = server.ask("GET", &format!("{token}{path}"), &[("Host", host)], b"");
        assert_eq!(answer.status, 404, "{path}");
        assert!(!String::from_utf8_lossy(&answer.body).contains("Saltmarsh"), "{path}");
    }
    assert_eq!(server.ask("DELETE", &state, &[("Host", host)], b"").status, 405);
    let state = server.get("state").good();
    assert_eq!((state["title"].as_str(), state["schema"].as_u64()), (Some("Saltmarsh"), Some(1)));
    // SDR, though it is not the first.
    assert_eq!(state["pick"]["display"], "onset");
    assert!(state["kinds"].as_array().is_some_and(|k| k.len() > 8));
}

#[test]
fn edits_are_undone_redone_and_saved_with_the_comments_kept() {
    let dir = saltmarsh();
    let commented = NIGHT
        .replace("stops = -1.0", "stops = -1.0   # by eye")
        .replace("[[step]]\ndo = \"tint\"", "# Cold.\n[[step]]\ndo = \"tint\"");
    put(dir.path(), "looks/night.toml", &commented);
    let server = Server::start(dir.path(), "show.toml --look night");
    let mut version = 1;
    for stops in [-1.1, -1.2, -1.3] {
        let look =
            edit(&server, version, json!({ "op": "set", "step": 1, "key": "stops", "value": stops, "drag": "d" }));
        version = look["version"].as_u64().expect("a version");
        assert_eq!(
            (&look["unsaved"], &look["undo"], &look["steps"][1]["values"]["stops"]),
            (&json!(true), &json!(true), &json!(stops))
        );
    }
    // One drag is one step back.
    let look = edit(&server, version, json!({ "op": "undo" }));
    assert_eq!(
        (&look["steps"][1]["values"]["stops"], &look["undo"], &look["unsaved"]),
        (&json!(-1.0), &json!(false), &json!(false))
    );
    let look = edit(&server, version + 1, json!({ "op": "redo" }));
    assert_eq!(look["steps"][1]["says"], "exposure: -1.3 stops");
    let stale = server.post("looks/night/edit", &json!({ "version": 1, "op": "undo" }));
    assert!(stale.refused(409).contains("edited in the meantime"));
    assert_eq!(stale.json()["look"]["version"], version + 2);
    assert_eq!(night(dir.path()), commented);
    let saved = server.post("looks/night/save", &json!({ "version": version + 2, "note": "a little down" })).good();
    assert_eq!((&saved["revision"], &saved["unsaved"]), (&json!(5), &json!(false)));
    let line = "# Revision 5: a little down\nrevision = 5";
    assert_eq!(night(dir.path()), commented.replace("revision = 4", line).replace("stops = -1.0 ", "stops = -1.3 "));
    let version = saved["version"].as_u64().expect("a version");
    assert!(
        server.post("looks/night/save", &json!({ "version": version })).refused(400).contains("no unsaved changes")
    );
    // Left out for now: the picture has it not, the document does.
    let with = server.get(&format!("cube?{WAY}&points=3"));
    let look = edit(&server, version, json!({ "op": "bypass", "step": 1, "on": true }));
    assert_eq!((&look["steps"][1]["bypassed"], &look["unsaved"]), (&json!(true), &json!(false)));
    let without = server.get(&format!("cube?{WAY}&points=3"));
    assert_ne!(with.body, without.body);
    assert_eq!(server.get(&format!("cube?{WAY}&points=3&at=saved")).body, with.body);
    let moved = edit(&server, version + 1, json!({ "op": "move", "from": 1, "to": 0 }));
    assert_eq!((&moved["steps"][0]["do"], &moved["steps"][0]["bypassed"]), (&json!("exposure"), &json!(true)));
    // The error is reported, and the picture stays.
    let broken = edit(&server, version + 2, json!({ "op": "set", "step": 0, "key": "stops", "value": 99 }));
    assert!(broken["problems"][0].as_str().is_some_and(|p| p.contains("99 is out of range")), "{broken}");
    assert_eq!(server.get(&format!("cube?{WAY}&points=3")).status, 200);
    assert!(
        server
            .post("looks/night/save", &json!({ "version": version + 3 }))
            .refused(400)
            .contains("the look has errors")
    );
    let back = edit(&server, version + 3, json!({ "op": "revert" }));
    assert_eq!((&back["unsaved"], &back["problems"]), (&json!(false), &json!([])));
}

#[test]
fn a_file_that_changes_outside_is_never_written_over() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml");
    let mut events = server.events();
    put(dir.path(), "looks/night.toml", &NIGHT.replace("-1.0", "-2.0"));
    let event = next_event(&mut events, "outside");
    assert_eq!((&event["conflict"], &event["words"]), (&json!(false), &json!(["exposure -1.0 -> -2.0 stops"])));
    let look = server.get("looks/night").good();
    assert_eq!((&look["steps"][1]["values"]["stops"], &look["unsaved"]), (&json!(-2.0), &json!(false)));
    let version = look["version"].as_u64().expect("a version");
    let look = edit(&server, version, json!({ "op": "set", "step": 1, "key": "stops", "value": -3 }));
    assert_eq!(next_event(&mut events, "look")["version"], look["version"]);
    // Not waited for: it is looked at before it is written.
    let theirs = NIGHT.replace("-1.0", "-0.5").replace("revision = 4", "revision = 9");
    put(dir.path(), "looks/night.toml", &theirs);
    let conflict = server.post("looks/night/save", &json!({ "version": version + 1, "note": "" }));
    assert!(conflict.refused(409).contains("another program has changed the file"));
    assert_eq!(conflict.json()["disk"]["revision"], 9);
    assert_eq!(night(dir.path()), theirs);
    let look = server.get("looks/night").good();
    assert!(look["outside"].as_array().is_some_and(|w| w.len() == 2), "{look}");
    assert_eq!(look["steps"][1]["values"]["stops"], -3.0);
    // Theirs is taken, and ours can be had back.
    let look = edit(&server, version + 1, json!({ "op": "revert" }));
    assert_eq!((&look["revision"], &look["outside"], &look["unsaved"]), (&json!(9), &Value::Null, &json!(false)));
    let look = edit(&server, version + 2, json!({ "op": "undo" }));
    assert_eq!(look["steps"][1]["values"]["stops"], -3.0);
    put(dir.path(), "looks/night.toml", &theirs.replace("-0.5", "-0.6"));
    let saved = server.post("looks/night/save", &json!({ "version": version + 3, "anyway": true })).good();
    assert_eq!(saved["revision"], 10);
    assert!(night(dir.path()).contains("stops = -3.0"));
    // The show too.
    put(dir.path(), "show.toml", &SHOW.replace("[looks]", "[looks]\ndusk = \"looks/night.toml\""));
    assert_eq!(next_event(&mut events, "show")["problems"], Value::Null);
    assert_eq!(server.get("looks/dusk").good()["revision"], 10);
    put(dir.path(), "show.toml", &SHOW.replace("slog3", "slog33"));
    assert!(next_event(&mut events, "show")["problems"].as_str().is_some_and(|p| p.contains("slog33")));
    assert_eq!(server.get(&format!("cube?{WAY}&points=2")).status, 200);
}

#[test]
fn cubes_and_colours_are_those_of_bake_and_probe() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml");
    output(dir.path(), "bake show.toml --look night --points 5 --digits 10 --no-audit");
    for (camera, display) in [("a", "onset"), ("b", "grade")] {
        let answer = server.get(&format!("cube?look=night&camera={camera}&display={display}&points=5"));
        assert_eq!((answer.status, answer.header("x-points"), answer.header("x-version")), (200, "5", "1"));
        let text = fs::read_to_string(dir.path().join(format!("cubes/saltmarsh_night_r4_{camera}_{display}_5.cube")))
            .expect("the cube");
        let rows = text.lines().filter(|l| l.starts_with(|c: char| c.is_ascii_digit()));
        let baked: Vec<f32> = rows.flat_map(|l| l.split(' ').map(|v| v.parse().expect("a number"))).collect();
        let given = floats(&answer.body);
        assert_eq!((baked.len(), given.len()), (375, 375));
        for (a, b) in baked.iter().zip(&given) {
            assert!((a - b).abs() <= f32::EPSILON, "{a} {b}");
        }
    }
    let hdr = server.get("cube?look=night&camera=a&display=grade&points=3&screen=srgb");
    assert!(hdr.header("x-preview").contains("HDR of 1000 nits"), "{}", hdr.header("x-preview"));
    let signal = [0.41, 0.32, 0.55];
    let question = json!({ "look": "night", "camera": "a", "display": "onset", "signal": signal });
    let mut probed = server.post("probe", &question).good();
    let told = json(dir.path(), "probe show.toml 0.41 0.32 0.55 --look night --camera a --display onset --json");
    for stage in probed["stages"].as_array_mut().expect("stages") {
        stage["rgb"] = stage["values"].take();
        stage.as_object_mut().expect("a stage").remove("values");
    }
    assert_eq!(probed["stages"], told["colours"][0]["stages"]);
    assert_eq!(probed["out"], told["colours"][0]["out"]);
    let curve = server.get(&format!("curve?{WAY}")).good();
    let grey = &curve["stops"][32];
    assert_eq!(grey["stop"], 0.0);
    let told = json(dir.path(), "probe show.toml --stops 0 --look night --camera a --display onset --json");
    assert_eq!(numbers(&grey["out"]), numbers(&told["colours"][0]["out"]));
    // Fewer points where all of them would take too long, and never more.
    let quick = server.get(&format!("cube?{WAY}&points=33&within=0.0001"));
    assert_eq!(quick.header("x-points"), "13");
    let ladder = server.get("exposure?camera=a&kind=ladder&points=33");
    assert_eq!(floats(&ladder.body).len(), 33 * 33 * 33 * 3, "{}", String::from_utf8_lossy(&ladder.body));
    assert!(
        serde_json::from_str::<Value>(ladder.header("x-key")).is_ok_and(|k| k.as_array().is_some_and(|k| k.len() > 5))
    );
    edit(&server, 1, json!({ "op": "set", "step": 1, "key": "stops", "value": 0.5 }));
    let versus = server.get("compare?a=night@saved&b=night&camera=a&display=onset").good();
    assert_eq!(versus["changes"], json!(["exposure -1.0 -> 0.5 stops"]));
    assert!((versus["mid_grey"]["stops"].as_f64().expect("stops") - 1.5).abs() < 0.01);
    assert_eq!(server.get("compare?a=night&b=night&camera=a&display=onset").good()["identical"], true);
    assert_eq!(server.get(&format!("worst?{WAY}")).good()["version"], 2);
    for (question, status, says) in [
        ("cube?look=nihgt&camera=a&display=onset", 404, "did you mean `night`?"),
        ("cube?look=night&camera=c&display=onset", 404, "unknown camera `c`"),
        ("cube?look=night&camera=a&display=onset&points=1", 422, "out of range"),
        ("cube?look=night&camera=a&display=onset&points=256", 400, "more than a page is given"),
        ("cube?look=night&camera=a&display=onset&at=-x", 404, "repository"),
        ("cube?look=night", 400, "missing field"),
        ("exposure?camera=a&kind=zebra", 400, "one of ladder"),
        ("looks/nothing", 404, "unknown look"),
        ("frames/9", 404, "no frame 9"),
        ("nothing", 404, "not found"),
    ] {
        let said = server.get(question).refused(status);
        assert!(said.contains(says), "{question}: {said}");
    }
}

#[test]
fn frames_are_the_signal_of_the_camera() {
    let dir = saltmarsh();
    let samples: Vec<f32> = (0..24).map(|i| i as f32 * 0.03).collect();
    let tagged = |format, depth, tags| {
        let info = Info { tags, ..Info::new(format, depth) };
        let frame = Frame::new(4, 2, false, samples.clone(), info).expect("a frame");
        write(&frame, format, depth).expect("it is written")
    };
    let frame = |format, depth| tagged(format, depth, Tags::default());
    let [red, green, blue] = AP1.primaries;
    let ap1 = Tags { chromaticities: Some([red, green, blue, AP1.white]), ..Tags::default() };
    let light = tagged(Format::Exr, Depth::Float, ap1);
    fs::write(dir.path().join("frame.exr"), &light).expect("a file");
    let server = Server::start(dir.path(), "show.toml");
    let frames = server.get("state").good()["frames"].clone();
    assert_eq!(
        (&frames[0]["name"], &frames[0]["reads_as"], &frames[0]["width"]),
        (&json!("frame.exr"), &json!("light"), &json!(4))
    );
    let codes = |id: &Value, more: &str| -> Vec<u16> {
        let answer = server.get(&format!("frames/{}?camera=a{more}", id.as_str().expect("an id")));
        assert_eq!((answer.status, answer.header("x-width"), answer.header("x-height")), (200, "4", "2"));
        answer.body.chunks_exact(2).map(|b| u16::from_le_bytes([b[0], b[1]])).collect()
    };
    let camera = rushlight_tests::demo::show_of(&dir.path().join("show.toml")).cameras()["a"].item.clone();
    for (pixel, light) in codes(&frames[0]["id"], "").chunks_exact(4).zip(samples.chunks_exact(3)) {
        let signal = camera.encode([light[0], light[1], light[2]].map(f64::from));
        let code = |v: f64| (v.clamp(0.0, 1.0) * 65535.0).round() as u16;
        assert_eq!(pixel, [code(signal[0]), code(signal[1]), code(signal[2]), u16::MAX]);
    }
    let octets = "application/octet-stream";
    let dropped = server.post_bytes("frames?name=log.png", octets, &frame(Format::Png, Depth::Integer(16))).good();
    assert_eq!((&dropped["reads_as"], &dropped["name"]), (&json!("log"), &json!("log.png")));
    for (code, signal) in codes(&dropped["id"], "").chunks_exact(4).flat_map(|p| &p[..3]).zip(&samples) {
        assert!((f32::from(*code) / 65535.0 - signal).abs() < 1e-4);
    }
    assert_ne!(codes(&dropped["id"], "&as=display"), codes(&dropped["id"], ""));
    // A log frame must not pass for light: an EXR that does not say its primaries is not taken for it.
    let plain = frame(Format::Exr, Depth::Float);
    let unknown = server.post_bytes("frames?name=plain.exr", octets, &plain).good();
    assert_eq!(unknown["reads_as"], "log");
    assert!(unknown["says"].as_str().is_some_and(|says| says.contains("choose what it is")), "{unknown}");
    let chosen = server.post_bytes("frames?name=plain.exr&as=light", octets, &plain).good();
    assert_eq!(chosen["reads_as"], "light");
    assert!(
        server
            .get(&format!("frames/{}?camera=a&as=x", dropped["id"].as_str().unwrap_or_default()))
            .refused(400)
            .contains("it must be one of")
    );
    let torn = server.post_bytes("frames?name=torn.exr", octets, &light[..light.len() / 2]);
    assert!(torn.refused(422).contains("torn.exr"));
    for junk in [&b""[..], b"\x89PNG\r\n\x1a\n", &[0xff; 3000], b"schema = 1"] {
        assert!(server.post_bytes("frames?name=junk.bin", octets, junk).refused(422).contains("junk.bin"));
    }
    assert_eq!(server.get("state").good()["frames"].as_array().map(Vec::len), Some(4));
    assert_eq!(server.post_bytes("frames?name=a.png", "image/png", b"").status, 415);
    assert_eq!(server.post_bytes("frames", octets, b"").status, 400);
}

#[test]
fn a_server_that_gets_garbage_lives() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml");
    let address = "looks/night/edit";
    let kind = "application/json";
    for body in [
        &b""[..],
        b"{",
        b"[]",
        b"{\"version\":1}",
        b"{\"version\":-1,\"op\":\"undo\"}",
        b"\xff\xfe",
        b"{\"version\":1,\"op\":\"x\"}",
    ] {
        assert_eq!(server.post_bytes(address, kind, body).status, 400, "{}", String::from_utf8_lossy(body));
    }
    let deep = "[".repeat(60_000);
    assert_eq!(server.post_bytes(address, kind, deep.as_bytes()).status, 400);
    for edit in [
        json!({ "op": "set", "step": 0 }),
        json!({ "op": "set", "step": 99, "key": "stops", "value": 1 }),
        json!({ "op": "set", "step": 1, "key": "do", "value": "print" }),
        json!({ "op": "set", "step": 1, "key": "stops", "value": { "a": null } }),
        json!({ "op": "move", "from": 0, "to": usize::MAX }),
        json!({ "op": "remove", "step": 3 }),
        json!({ "op": "bypass", "step": 3, "on": true }),
        json!({ "op": "add", "do": "nothing", "at": 0 }),
    ] {
        let mut question = edit.clone();
        question["version"] = 1.into();
        assert_eq!(server.post(address, &question).status, 400, "{edit}");
    }
    assert_eq!(server.post_bytes(address, kind, &vec![b' '; 1 << 20]).status, 413);
    assert_eq!(server.post_bytes(address, "text/plain", b"{}").status, 415);
    // A size that is only claimed is refused before it comes.
    let host = &server.host;
    let head = format!(
        "POST {}/api/frames?name=a HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nContent-Type: application/octet-stream\r\nContent-Length: 900000000000\r\n\r\n",
        server.token
    );
    let mut claims = server.connect();
    claims.write_all(head.as_bytes()).expect("it is sent");
    let mut first = [0; 12];
    claims.read_exact(&mut first).expect("an answer");
    assert_eq!(&first, b"HTTP/1.1 413");
    for raw in [&b"\x16\x03\x01\x02\x00garbage\r\n\r\n"[..], b"GET\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n", &[0; 5000]] {
        let answer = server.send(raw);
        assert!(answer.is_none_or(|a| (400..=505).contains(&a.status)));
    }
    let long = format!("GET /{} HTTP/1.1\r\nHost: {host}\r\n\r\n", "a".repeat(100_000));
    assert!(server.send(long.as_bytes()).is_none_or(|a| a.status >= 400));
    // Half a request, two hundred times: those that are too many are turned away, and all are let go with their clients.
    let mut half: Vec<_> = (0..200).map(|_| server.connect()).collect();
    for stream in &mut half {
        let _ = stream.write_all(b"GET / HTTP/1.1\r\nHo");
    }
    let last = half.last_mut().expect("a connection");
    let mut answer = Vec::new();
    let _ = last.read_to_end(&mut answer);
    assert!(answer.is_empty() || answer.starts_with(b"HTTP/1.1 503"));
    drop(half);
    let head = format!("GET {}/api/state HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n", server.token);
    wait_until("the page is served again", || server.send(head.as_bytes()).is_some_and(|a| a.status == 200));
    assert_eq!(server.get("looks/night").good()["version"], 1);
    assert_eq!(night(dir.path()), NIGHT);
}

#[test]
fn it_ends_when_it_is_interrupted_and_says_what_it_cannot_do() {
    let dir = saltmarsh();
    #[cfg(unix)]
    {
        let mut server = Server::start(dir.path(), "looks/plain.toml --camera slog3+sgamut3-cine --display bt709");
        assert_eq!(server.get("state").good()["looks"][0]["name"], "plain");
        let title = json!({ "version": 1, "op": "title", "value": "Plainer" });
        assert_eq!(server.post("looks/plain/edit", &title).good()["title"], "Plainer");
        let id = server.child.id().to_string();
        assert!(std::process::Command::new("kill").args(["-INT", &id]).status().is_ok_and(|s| s.success()));
        assert_eq!(server.child.wait().expect("it ends").code(), Some(0));
        assert!(!fs::read_to_string(dir.path().join("looks/plain.toml")).expect("the look").contains("Plainer"));
    }
    let taken = std::net::TcpListener::bind("127.0.0.1:0").expect("a port");
    let port = taken.local_addr().expect("an address").port();
    assert_says(
        &refused(dir.path(), &format!("preview show.toml --no-open --port {port}")),
        &["another program listens there"],
    );
    assert_says(&refused(dir.path(), "preview show.toml --no-open --look nihgt"), &["did you mean `night`?"]);
    assert_says(
        &refused(dir.path(), "preview show.toml --no-open --frame show.toml"),
        &["show.toml", "neither a still"],
    );
    assert_says(&refused(dir.path(), "preview nothing.toml --no-open"), &["no such file"]);
}
