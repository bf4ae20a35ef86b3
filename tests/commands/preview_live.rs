//! `preview --live`: ffmpeg's own test pictures as a device, a looped clip, a pipe and a stream over the loopback; what a page is
//! given of them, what is kept, what is grabbed, and what becomes of ffmpeg when the server is killed.

use rushlight::cube::{Cube, Interpolation};
use rushlight::frame::{Frame, ReadOptions, read};
use rushlight_tests::scene::{assert_says, output, refused, run, saltmarsh, wait_until};
use rushlight_tests::server::{Answer, Server};
use serde_json::{Value, json};
use std::fs;
use std::net::UdpSocket;
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// ffmpeg at work in a folder, ended when this goes.
struct Sender(Child);

impl Drop for Sender {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn ffmpeg(dir: &Path, words: &str, output: Stdio) -> Child {
    let mut command = Command::new("ffmpeg");
    command.current_dir(dir).args(["-nostdin", "-hide_banner", "-v", "error", "-y"]).args(words.split_whitespace());
    command.stdin(Stdio::null()).stdout(output).spawn().expect("ffmpeg starts")
}

fn made(dir: &Path, words: &str) {
    assert!(ffmpeg(dir, words, Stdio::null()).wait().expect("it ends").success(), "{words}");
}

fn report(server: &Server) -> Value {
    server.get("live").good()
}

fn runs(server: &Server) -> bool {
    report(server)["state"] == "running"
}

/// The next frame after one, which must come.
fn next(server: &Server, after: u64) -> Answer {
    let mut answer = server.get(&format!("live/frame?after={after}"));
    wait_until("a frame comes", || {
        if answer.status == 204 {
            answer = server.get(&format!("live/frame?after={after}"));
        }
        answer.status == 200
    });
    answer
}

fn number(answer: &Answer) -> u64 {
    answer.header("x-number").parse().expect("a number")
}

/// Red, green and blue of each pixel in 16 bits; `channels` of them stand in the body.
fn codes(answer: &Answer, channels: usize) -> Vec<[u16; 3]> {
    let all: Vec<u16> = answer.body.chunks_exact(2).map(|b| u16::from_le_bytes([b[0], b[1]])).collect();
    all.chunks_exact(channels).map(|p| [p[0], p[1], p[2]]).collect()
}

#[test]
fn a_test_picture_comes_as_a_device_does() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml --live testsrc2=s=320x180:r=25 --live-format lavfi");
    let state = server.get("state").good();
    assert_eq!((&state["frames"][0]["id"], &state["frames"][0]["reads_as"]), (&json!("live"), &json!("log")));
    let first = next(&server, 0);
    assert_eq!((first.header("x-width"), first.header("x-height"), first.body.len()), ("320", "180", 320 * 180 * 6));
    let second = next(&server, number(&first));
    assert!(number(&second) > number(&first) && second.body != first.body);
    // Who is late is given the newest, and can count what was not given.
    wait_until("more come", || report(&server)["count"].as_u64() > Some(number(&second) + 5));
    let third = next(&server, number(&second));
    assert!(number(&third) > number(&second) + 5);
    let taken: f64 = third.header("x-taken").parse().expect("milliseconds");
    let since = std::time::UNIX_EPOCH.elapsed().expect("a time").as_secs_f64() * 1e3 - taken;
    assert!((-1.0..30_000.0).contains(&since), "{since}");
    let told: Value = serde_json::from_str(third.header("x-live")).expect("JSON");
    assert_eq!((&told["state"], &told["stated"], &told["breaks"]), (&json!("running"), &json!(25.0), &json!(0)));
    // What is kept is the very frame.
    let kept = told["kept"]["first"].as_u64().expect("a number");
    let again = server.get(&format!("live/frame?number={kept}"));
    assert_eq!((again.status, number(&again)), (200, kept));
    if kept == number(&first) {
        assert_eq!(again.body, first.body);
    }
    // Held, it stays though others come.
    let held = server.post("live/hold", &json!({ "on": true })).good();
    assert_eq!(held["held"], true);
    let (kept, count) = (held["kept"].clone(), held["count"].as_u64().expect("a number"));
    wait_until("more come", || report(&server)["count"].as_u64() > Some(count + 5));
    assert_eq!(report(&server)["kept"], kept);
    server.post("live/hold", &json!({ "on": false })).good();
    wait_until("it goes on", || report(&server)["kept"]["first"].as_u64() > kept["last"].as_u64());
    assert!(server.get(&format!("live/frame?number={}", kept["first"])).refused(410).contains("not kept"));
    for (body, status) in [(json!({}), 400), (json!({ "on": 1 }), 400), (json!({ "on": true, "x": 1 }), 400)] {
        assert_eq!(server.post("live/hold", &body).status, status, "{body}");
    }
    for odd in ["live/frame?after=-1", "live/frame?number=x", "live/frame?after=1e99"] {
        assert_eq!(server.get(odd).status, 400, "{odd}");
    }
}

/// A page that draws slowly is given the colours of frames by the very table that it has: as bytes, beside the signal or alone.
#[test]
fn the_server_colours_frames_by_the_table_of_a_page() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml --live testsrc2=s=64x36:r=25 --live-format lavfi");
    let table = server.get("cube?look=night&camera=a&display=onset&points=17&screen=srgb");
    let id = table.header("x-table").to_owned();
    let values: Vec<f64> = table.body.as_chunks().0.iter().map(|v| f64::from(f32::from_le_bytes(*v))).collect();
    let cube = Cube::new(17, [[0.0; 3], [1.0; 3]], values.as_chunks().0.to_vec()).expect("a cube");
    next(&server, 0);
    let held = server.post("live/hold", &json!({ "on": true })).good();
    let number = held["kept"]["last"].as_u64().expect("a number");
    let pixels = 64 * 36;
    let both = server.get(&format!("live/frame?number={number}&by={id}&divide=0.25"));
    let headers = |answer: &Answer| (answer.header("x-signal").to_owned(), answer.header("x-table").to_owned());
    assert_eq!((headers(&both), both.body.len()), (("1".into(), id.clone()), 10 * pixels));
    let (signal, colours) = both.body.split_at(6 * pixels);
    let byte = |v: f64| (v.clamp(0.0, 1.0) * 255.0).round();
    let mut changed = 0;
    for (at, (signal, shown)) in signal.as_chunks::<6>().0.iter().zip(colours.as_chunks::<4>().0).enumerate() {
        let signal = [0, 2, 4].map(|c| f64::from(u16::from_le_bytes([signal[c], signal[c + 1]])) / 65535.0);
        // A quarter from the left is the signal itself.
        let wanted = if at % 64 < 16 { signal } else { cube.at(signal, Interpolation::Tetrahedral) };
        for c in 0..3 {
            assert!((f64::from(shown[c]) - byte(wanted[c])).abs() <= 1.0, "pixel {at}: {shown:?}, {wanted:?}");
            changed += usize::from((byte(signal[c]) - byte(wanted[c])).abs() > 20.0);
        }
        assert_eq!(shown[3], 255);
    }
    assert!(changed > pixels, "the table changes the picture: {changed}");
    let alone = server.get(&format!("live/frame?number={number}&by={id}&divide=0.25&colours=true"));
    assert_eq!((headers(&alone), &alone.body[..]), (("0".into(), id.clone()), colours));
    // An exposure cube is a table too.
    let zones = server.get("exposure?camera=a&kind=clip").header("x-table").to_owned();
    let marked = server.get(&format!("live/frame?number={number}&by={zones}&colours=true"));
    assert!(marked.body.len() == 4 * pixels && marked.body != alone.body);
    // Without the table there is the signal.
    let none = server.get(&format!("live/frame?number={number}&by=999999&colours=true"));
    assert_eq!((none.header("x-signal"), none.body.len()), ("1", 6 * pixels));
    for odd in ["by=x", "by=-1", "divide=left", "colours=2"] {
        assert_eq!(server.get(&format!("live/frame?number={number}&{odd}")).status, 400, "{odd}");
    }
    for extreme in ["divide=nan", "divide=-9", "divide=1e300"] {
        let answer = server.get(&format!("live/frame?number={number}&by={id}&colours=true&{extreme}"));
        assert_eq!((answer.status, answer.body.len()), (200, 4 * pixels), "{extreme}");
    }
}

/// Another site's page, a program without the key, and a form that no page of ours sends are refused by every route; nothing is
/// held and nothing is written for them.
#[test]
fn every_route_of_a_live_picture_is_guarded() {
    let dir = saltmarsh();
    let server = Server::start(dir.path(), "show.toml --live testsrc2=s=64x36:r=25 --live-format lavfi");
    let frame = next(&server, 0);
    assert_eq!(
        (frame.header("cache-control"), frame.header("cross-origin-resource-policy")),
        ("no-store", "same-origin")
    );
    let (host, token, strange) = (server.host.as_str(), server.token.as_str(), format!("/{}", "0".repeat(32)));
    let origin = format!("http://{host}");
    let grab = json!({ "look": "night", "camera": "a", "display": "onset" }).to_string();
    let routes = [
        ("GET", "live", ""),
        ("GET", "live/frame", ""),
        ("GET", "live/frame?number=1", ""),
        ("POST", "live/hold", "{\"on\":true}"),
        ("POST", "live/grab", &grab),
    ];
    let json = ("Content-Type", "application/json");
    for (method, path, body) in routes {
        let ask = |token: &str, headers: &[(&str, &str)]| {
            server.ask(method, &format!("{token}/api/{path}"), headers, body.as_bytes()).status
        };
        let (good, body) = ([("Host", host), ("Origin", &origin), json], body.as_bytes());
        assert_eq!(ask(&strange, &good), 404, "{method} {path} without the key");
        assert_eq!(
            server.ask(method, &format!("/api/{path}"), &good, body).status,
            404,
            "{method} {path} without a key"
        );
        for odd in [
            [("Host", host), ("Origin", "http://evil.example"), json],
            [("Host", host), ("Origin", "null"), json],
            [("Host", "evil.example"), ("Origin", &origin), json],
            [("Host", host), ("Sec-Fetch-Site", "cross-site"), json],
        ] {
            assert_eq!(ask(token, &odd), 403, "{method} {path} {odd:?}");
        }
        if method == "POST" {
            assert_eq!(ask(token, &[("Host", host), json]), 403, "{path} without an origin");
            assert_eq!(
                ask(token, &[("Host", host), ("Origin", &origin), ("Content-Type", "text/plain")]),
                415,
                "{path}"
            );
        }
        let other = if method == "GET" { "POST" } else { "GET" };
        assert_eq!(server.ask(other, &format!("{token}/api/{path}"), &good, b"{}").status, 405, "{other} {path}");
    }
    assert_eq!((&report(&server)["held"], dir.path().join("grabs").exists()), (&json!(false), false));
}

/// Kinds of samples and how a clip of them is written: of RGB and of luma, of 8 and of 10 bits, in both ranges.
const KINDS: [(&str, &str); 4] = [
    ("rgb.mov", "format=rgb24 -c:v png"),
    ("ten.mkv", "format=yuv422p10le -c:v ffv1 -color_range tv -colorspace bt709"),
    ("full.mkv", "format=yuv444p -c:v ffv1 -color_range pc -colorspace bt709"),
    ("untagged.mkv", "format=yuv420p -c:v ffv1"),
];

#[test]
fn a_clip_has_the_codes_that_it_has_as_a_frame() {
    let dir = saltmarsh();
    for (name, kind) in KINDS {
        made(dir.path(), &format!("-f lavfi -i smptehdbars=s=192x108:r=10:d=0.3 -vf {kind} {name}"));
        let server = Server::start(dir.path(), &format!("show.toml --live {name} --frame {name}"));
        let live = next(&server, 0);
        let id = server.get("state").good()["frames"][1]["id"].as_str().expect("a frame").to_owned();
        let still = server.get(&format!("frames/{id}?camera=a&as=log"));
        let (live, still) = (codes(&live, 3), codes(&still, 4));
        assert_eq!((live.len(), still.len()), (192 * 108, 192 * 108), "{name}");
        let off = live.iter().flatten().zip(still.iter().flatten()).map(|(a, b)| a.abs_diff(*b)).max();
        // By rounding alone: one is computed in single precision, the other in double.
        assert!(off <= Some(1), "{name}: {off:?}");
        // It goes on from the start.
        wait_until("it is played in a loop", || report(&server)["count"].as_u64() > Some(7));
    }
}

#[test]
fn a_wider_picture_is_made_smaller_and_that_is_said() {
    let dir = saltmarsh();
    let args = "show.toml --live color=c=#336699:s=1280x720,format=gbrp --live-format lavfi --live-width 96";
    let server = Server::start(dir.path(), args);
    let frame = next(&server, 0);
    assert_eq!((frame.header("x-width"), frame.header("x-height")), ("96", "54"));
    assert!(codes(&frame, 3).iter().all(|p| *p == [0x33 * 257, 0x66 * 257, 0x99 * 257]));
    let notes = report(&server)["notes"].to_string();
    assert!(notes.contains("1280 x 720 pixels are shown as 96 x 54"), "{notes}");
}

#[test]
fn a_grab_is_the_signal_and_the_same_through_the_look() {
    let dir = saltmarsh();
    made(dir.path(), "-f lavfi -i smptehdbars=s=96x54:r=10:d=0.5 -vf format=rgb48le -c:v png bars.mov");
    let server = Server::start(dir.path(), "show.toml --live bars.mov --grabs stills");
    let frame = next(&server, 0);
    let question = json!({ "number": number(&frame), "look": "night", "camera": "a", "display": "onset" });
    let grabbed = server.post("live/grab", &question).good();
    assert_eq!(grabbed["files"], json!(["grab-0001-log.tif", "grab-0001-graded.tif"]));
    assert_eq!(server.get("state").good()["frames"][1]["name"], "grab-0001-log.tif");
    let still = |name: &str| -> Frame {
        let bytes = fs::read(dir.path().join(name)).expect("it is there");
        read(&bytes, &ReadOptions::default()).expect("a still")
    };
    let log = still("stills/grab-0001-log.tif");
    let sixteen = |frame: &Frame| -> Vec<[u16; 3]> {
        let pixels = (0..frame.height()).flat_map(|y| (0..frame.width()).map(move |x| frame.rgb(x, y)));
        pixels.map(|rgb| rgb.map(|v| (v * 65535.0).round() as u16)).collect()
    };
    assert_eq!(sixteen(&log), codes(&frame, 3));
    // What `apply` makes of it, by the exact path.
    output(
        dir.path(),
        "apply show.toml stills/grab-0001-log.tif applied.tif --look night --camera a --display onset --exact",
    );
    assert_eq!(sixteen(&still("applied.tif")), sixteen(&still("stills/grab-0001-graded.tif")));
    let said = output(dir.path(), "inspect stills/grab-0001-graded.tif");
    assert_says(&said, &["Night exterior", "bars.mov"]);
    // Nothing is written over, and what is wrong writes nothing.
    let second = server.post("live/grab", &json!({ "look": "night", "camera": "b", "display": "onset" })).good();
    assert_eq!(second["files"][0], "grab-0002-log.tif");
    for (key, value, status) in [("look", "nihgt", 404), ("camera", "c", 404), ("display", "x", 404)] {
        let mut odd = question.clone();
        odd[key] = value.into();
        assert_eq!(server.post("live/grab", &odd).status, status, "{odd}");
    }
    let mut gone = question;
    gone["number"] = 999_999.into();
    assert_eq!(server.post("live/grab", &gone).status, 410);
    assert_eq!(fs::read_dir(dir.path().join("stills")).expect("a folder").count(), 4);
}

#[test]
fn a_pipe_is_read_to_its_end() {
    let dir = saltmarsh();
    let words = "-re -f lavfi -i testsrc2=s=64x36:r=25:d=3 -vf format=yuv422p10le -c:v rawvideo -f nut pipe:1";
    let mut sender = Sender(ffmpeg(dir.path(), words, Stdio::piped()));
    let pipe = sender.0.stdout.take().expect("it is piped");
    let server = Server::start_fed(dir.path(), "--no-open show.toml --live -", &[], pipe.into());
    assert_eq!(next(&server, 0).header("x-width"), "64");
    wait_until("it ends", || report(&server)["state"] == "ended");
    // What ffprobe was shown was given to ffmpeg, too.
    assert_eq!(report(&server)["count"], 75);
    assert_eq!(server.get("live/frame?after=75").status, 204);
    assert_eq!(server.get("live/frame").status, 200);
}

/// A named pipe stands for a device that is plugged in again: its end is said, and the next writer is shown.
#[cfg(unix)]
#[test]
fn a_source_that_goes_away_is_taken_up_again() {
    let dir = saltmarsh();
    assert!(Command::new("mkfifo").arg(dir.path().join("device")).status().is_ok_and(|s| s.success()));
    let server = Server::start(dir.path(), "show.toml --live device");
    assert_eq!(server.get("live/frame").status, 204);
    assert_eq!(report(&server)["state"], "opening");
    let send =
        |kind: &str| made(dir.path(), &format!("-f lavfi -i color=s={kind}:r=25:d=0.4 -c:v rawvideo -f nut device"));
    send("64x36");
    wait_until("it is away", || report(&server)["state"] == "away");
    let count = report(&server)["count"].as_u64().expect("a number");
    assert_eq!((count, &report(&server)["breaks"]), (10, &json!(1)));
    // Garbage is not shown, and harms nothing.
    fs::write(dir.path().join("device"), vec![7; 300_000]).expect("it is read");
    // What is written before the reader has done with the garbage is taken for more of it.
    let words = "-f lavfi -i color=s=48x48:r=25:d=0.4 -c:v rawvideo -f nut device";
    let shown = || {
        let _ = ffmpeg(dir.path(), words, Stdio::null()).wait();
        server.get(&format!("live/frame?after={count}")).status == 200
    };
    wait_until("the next writer is shown", shown);
    let back = server.get("live/frame?after=0");
    assert_eq!((back.header("x-width"), back.header("x-height")), ("48", "48"));
    wait_until("it is away", || report(&server)["state"] == "away");
    assert!(report(&server)["count"].as_u64() >= Some(20) && report(&server)["breaks"].as_u64() >= Some(2));
}

/// A port of the loopback that is free.
fn port() -> u16 {
    UdpSocket::bind("127.0.0.1:0").and_then(|socket| socket.local_addr()).expect("a port").port()
}

#[test]
fn a_stream_over_the_loopback_is_shown() {
    let (dir, port) = (saltmarsh(), port());
    let words = format!(
        "-re -f lavfi -i testsrc2=s=160x90:r=25 -c:v mpeg2video -g 5 -b:v 4M -f mpegts udp://127.0.0.1:{port}?pkt_size=1316"
    );
    let sender = Sender(ffmpeg(dir.path(), &words, Stdio::null()));
    let server = Server::start(dir.path(), &format!("show.toml --live udp://127.0.0.1:{port}"));
    assert_eq!(next(&server, 0).header("x-width"), "160");
    assert!(runs(&server));
    assert_eq!(report(&server)["warning"], Value::Null);
    drop(sender);
    wait_until("it is silent", || report(&server)["state"] == "silent");
    let count = report(&server)["count"].as_u64().expect("a number");
    let _again = Sender(ffmpeg(dir.path(), &words, Stdio::null()));
    next(&server, count);
    wait_until("it runs", || runs(&server));
}

/// Programs whose command has `word` in it.
#[cfg(target_os = "linux")]
fn at_work(word: &str) -> usize {
    let all = fs::read_dir("/proc").expect("processes").flatten();
    let commands = all.filter_map(|entry| fs::read(entry.path().join("cmdline")).ok());
    commands.filter(|command| command.windows(word.len()).any(|part| part == word.as_bytes())).count()
}

#[cfg(target_os = "linux")]
#[test]
fn ffmpeg_ends_with_a_server_that_is_killed() {
    let dir = saltmarsh();
    // Nothing comes by this port, so that no program would find out by itself that it writes to no one.
    let silent = format!("udp://127.0.0.1:{}?fifo_size=77777", port());
    let running = "testsrc2=s=72x54:r=23";
    for (args, mark) in [(silent.clone(), silent), (format!("{running} --live-format lavfi"), running.to_owned())] {
        for signal in ["-KILL", "-INT"] {
            let mut server = Server::start(dir.path(), &format!("show.toml --live {args}"));
            wait_until("ffmpeg is at work", || at_work(&mark) >= 2);
            let id = server.child.id().to_string();
            assert!(Command::new("kill").args([signal, &id]).status().is_ok_and(|s| s.success()));
            let _ = server.child.wait();
            wait_until("ffmpeg has ended", || at_work(&mark) == 0);
        }
    }
}

#[test]
fn what_cannot_be_a_live_picture_is_refused_at_once() {
    let dir = saltmarsh();
    for (args, says) in [
        ("--live nothing.mov", "name a clip, a pipe or an address"),
        ("--live show.toml", "show.toml"),
        ("--live looks", "--live-format"),
        ("--live gopher://127.0.0.1/", "must begin with one of udp://"),
        ("--live x --live-format nonsense", "reads no such format"),
        ("--live x --live-format ../x", "reads no such format"),
        ("--live x --live-format lavfi --live-option y", "KEY=VALUE"),
        ("--live x --live-format lavfi --live-option protocol_whitelist=tcp", "set by the command itself"),
        ("--live-format lavfi", "--live"),
        ("--live x --live-width 1", "16"),
    ] {
        assert_says(&refused(dir.path(), &format!("preview show.toml --no-open {args}")), &[says]);
    }
    let server = Server::start(dir.path(), "show.toml");
    for path in ["live", "live/frame"] {
        assert!(server.get(path).refused(404).contains("--live"), "{path}");
    }
    assert!(server.post("live/hold", &json!({ "on": true })).refused(404).contains("--live"));
}

/// A file that leads elsewhere leads nowhere: lists of files are no clips, and a clip may open no address.
#[test]
fn a_live_file_opens_nothing_else() {
    let dir = saltmarsh();
    let listener = std::net::TcpListener::bind("127.0.0.1:0").expect("a port");
    let port = listener.local_addr().expect("an address").port();
    listener.set_nonblocking(true).expect("it can be asked");
    let list = format!("#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\nhttp://127.0.0.1:{port}/a.ts\n#EXT-X-ENDLIST\n");
    fs::write(dir.path().join("list.m3u8"), &list).expect("a file");
    fs::write(dir.path().join("list.ffconcat"), format!("ffconcat version 1.0\nfile http://127.0.0.1:{port}/a.ts\n"))
        .expect("a file");
    for args in ["list.m3u8", "list.ffconcat"] {
        refused(dir.path(), &format!("preview show.toml --no-open --live {args}"));
    }
    // Named as what it is, it still opens files alone.
    let server = Server::start(dir.path(), "show.toml --live list.m3u8 --live-format hls");
    wait_until("it is away", || report(&server)["state"] == "away");
    assert!(listener.accept().is_err(), "nothing was asked of the address");
}

/// The frame that was seen becomes a shot, while others come; and with a shot in view a grab goes through its correction.
#[test]
fn a_shot_is_made_of_a_live_frame() {
    let dir = saltmarsh();
    // Luma and chroma, of which some colours lie beyond the signal: both stills are of what is in the one of them.
    let args = "show.toml --live testsrc2=s=96x54:r=25 --live-format lavfi --grabs grabs --out box";
    let server = Server::start(dir.path(), args);
    let frame = next(&server, 0);
    server.post("live/hold", &json!({ "on": true })).good();
    wait_until("more come", || report(&server)["count"].as_u64() > Some(number(&frame) + 5));
    let wanted = json!({ "name": "12A-3", "into": "shots.ccc", "look": "night", "camera": "a", "display": "onset",
        "frame": "live", "number": number(&frame), "ei": 800.0, "timecode": "01:02:03:04" });
    // Nothing of what is refused is left behind.
    for (key, odd, status) in [
        ("number", json!(999_999), 410),
        ("number", json!(-1), 400),
        ("frame", json!("1"), 400),
        ("camera", json!("x"), 404),
        ("name", json!("../x"), 400),
    ] {
        let mut question = wanted.clone();
        question[key] = odd.clone();
        assert_eq!(server.post("shots", &question).status, status, "{key} {odd}");
        assert!(!dir.path().join("stills").exists() && !dir.path().join("shots.ccc").exists(), "{key} {odd}");
    }
    let made = server.post("shots", &wanted).good();
    assert_eq!(made["stills"], json!(["stills/12A-3_log.png", "stills/12A-3_graded.png"]));
    let sixteen = |name: &str| -> Vec<[u16; 3]> {
        let still =
            read(&fs::read(dir.path().join(name)).expect("it is there"), &ReadOptions::default()).expect("a still");
        let pixels = (0..still.height()).flat_map(|y| (0..still.width()).map(move |x| (x, y)));
        pixels.map(|(x, y)| still.rgb(x, y).map(|v| (v * 65535.0).round() as u16)).collect()
    };
    assert_eq!(sixteen("stills/12A-3_log.png"), codes(&frame, 3));
    let show = fs::read_to_string(dir.path().join("show.toml")).expect("a show");
    assert_says(&show, &["name = \"12A-3\"", "frame = \"stills/12A-3_log.png\"", "timecode = \"01:02:03:04\""]);
    assert!(fs::read_dir(dir.path().join("box")).expect("a folder").count() > 0, "its cube is baked");
    // The live picture goes on beside it, and the shot's frame is among the frames.
    assert_eq!(server.get("state").good()["frames"][0]["id"], "live");
    server.post("shots/12A-3/frame", &Value::Null).good();
    assert_eq!(server.get("state").good()["frames"][1]["name"], "stills/12A-3_log.png");
    let version = server.get("shots/12A-3").good()["version"].clone();
    let edit = json!({ "version": version, "op": "set", "key": "offset", "value": [0.05, 0.0, -0.02] });
    let version = server.post("shots/12A-3/edit", &edit).good()["version"].clone();
    let mut question = json!({ "number": number(&frame), "look": "night", "camera": "a", "display": "onset" });
    let plain = server.post("live/grab", &question).good();
    question["shot"] = json!("12A-3");
    let corrected = server.post("live/grab", &question).good();
    question["shot"] = json!("12A-4");
    assert_eq!(server.post("live/grab", &question).status, 404);
    let way = json!({ "version": version, "look": "night", "camera": "a", "display": "onset" });
    server.post("shots/12A-3/save", &way).good();
    let words = "apply show.toml grabs/grab-0002-log.tif applied.tif --look night --camera a --display onset --shot 12A-3 --exact";
    // It warns of where the correction comes.
    assert!(run(dir.path(), words).output().expect("it starts").status.success());
    let graded = |grabbed: &Value| sixteen(&format!("grabs/{}", grabbed["files"][1].as_str().expect("a file")));
    assert_eq!(graded(&corrected), sixteen("applied.tif"));
    assert_ne!(graded(&corrected), graded(&plain));
    assert_says(&output(dir.path(), "inspect grabs/grab-0002-graded.tif"), &["12A-3"]);
    // Without a live picture there is nothing to make it of.
    let still = Server::start(dir.path(), "show.toml");
    let mut question = wanted;
    question["name"] = json!("12A-4");
    assert!(still.post("shots", &question).refused(404).contains("--live"));
}

/// Pages that take nothing of what they asked for cannot make the server hold a frame for each of them.
#[cfg(target_os = "linux")]
#[test]
fn frames_on_their_way_have_a_bound() {
    use std::io::Write as _;
    let dir = saltmarsh();
    // 12 MB a frame, more than the system's buffers of a connection.
    let args = "show.toml --live testsrc2=s=1920x1080:r=12,format=gbrp16le --live-format lavfi --live-width 1920 --max-memory 256";
    let server = Server::start(dir.path(), args);
    let first = next(&server, 0);
    assert_eq!(first.body.len(), 1920 * 1080 * 6);
    let resident = || -> usize {
        let status = fs::read_to_string(format!("/proc/{}/status", server.child.id())).expect("a process");
        let line = status.lines().find(|line| line.starts_with("VmRSS:")).expect("a size");
        line.split_whitespace().nth(1).and_then(|kib| kib.parse::<usize>().ok()).expect("a number") >> 10
    };
    let mut after = number(&first);
    let mut stuck = Vec::new();
    for _ in 0..40 {
        let mut stream = server.connect();
        let request =
            format!("GET {}/api/live/frame?after={after} HTTP/1.1\r\nHost: {}\r\n\r\n", server.token, server.host);
        stream.write_all(request.as_bytes()).expect("it is sent");
        stuck.push(stream);
        wait_until("another comes", || report(&server)["count"].as_u64() > Some(after));
        after = report(&server)["count"].as_u64().expect("a number");
    }
    // 40 of them would take 500 MB.
    let taken = resident();
    assert!(taken < 500, "{taken} MB");
    drop(stuck);
    next(&server, after);
}
