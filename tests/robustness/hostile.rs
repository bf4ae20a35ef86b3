//! Files that mean harm: what coverage-guided fuzzing (tests/fuzz) runs on, here without its instruments: every kept input,
//! every fixture, and the same set of damaged ones on every run. And what a file may claim before anything is believed.

#[path = "../fuzz/src/targets.rs"]
mod targets;

use rushlight::format::{cdl, clf};
use rushlight::frame::{Depth, Format, Frame, Info, write};
use rushlight::look;
use rushlight::show::Show;
use rushlight_tests::scene::{assert_says, output, refused, run, saltmarsh, small};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};
use targets::TARGETS;

fn walk(dir: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(dir).into_iter().flatten().flatten() {
        let path = entry.path();
        if path.is_dir() { walk(&path, found) } else { found.push(path) }
    }
    found.sort();
}

/// Numbers that look random, the same from the same seed.
struct Chance(fastrand::Rng);

impl Chance {
    fn from(seed: u64) -> Self {
        Self(fastrand::Rng::with_seed(seed))
    }

    fn below(&mut self, end: usize) -> usize {
        self.0.usize(..end.max(1))
    }
}

/// One of a few ways to damage a file.
fn damaged(file: &[u8], other: &[u8], chance: &mut Chance) -> Vec<u8> {
    let mut bytes = file.to_vec();
    for _ in 0..=chance.below(4) {
        let at = chance.below(bytes.len());
        match chance.below(6) {
            0 if !bytes.is_empty() => bytes[at] ^= 1 << chance.below(8),
            1 if !bytes.is_empty() => bytes[at] = [0, 0xff, 0x7f, b'-', b'9', b'<', b'\n'][chance.below(7)],
            2 => bytes.truncate(at),
            3 => {
                let end = (at + chance.below(40)).min(bytes.len());
                let part = bytes[at..end].to_vec();
                bytes.splice(at..at, part);
            }
            4 => {
                let from = chance.below(other.len());
                let part = other[from..(from + chance.below(60)).min(other.len())].to_vec();
                bytes.splice(at..at, part);
            }
            _ => {
                let end = (at + chance.below(20)).min(bytes.len());
                bytes.drain(at..end);
            }
        }
    }
    bytes
}

/// Runs a target on a file; the file of one that breaks is kept.
fn try_on(target: &targets::Target, bytes: &[u8], what: &str) {
    if std::panic::catch_unwind(|| (target.run)(bytes)).is_err() {
        let kept = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{}-broken", target.name));
        let _ = fs::write(&kept, bytes);
        panic!("{} breaks on {what}: kept as {}", target.name, kept.display());
    }
}

/// Runs a target on what it starts from, and on damaged inputs: the same few on every run, and then others for as long as
/// was asked.
fn exercise(target: &targets::Target, fixtures: &[PathBuf], seconds: u64) {
    let mut inputs = Vec::new();
    walk(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/fuzz/corpus").join(target.name), &mut inputs);
    let ending = |path: &PathBuf| path.extension().and_then(|e| e.to_str()).unwrap_or_default().to_owned();
    let own = fixtures.iter().filter(|path| target.seeds.contains(&ending(path).as_str()));
    let read = |path: &PathBuf| (path.display().to_string(), fs::read(path).expect("an input"));
    let mut seeds: Vec<(String, Vec<u8>)> = own.map(read).collect();
    let kept: Vec<_> = inputs.iter().map(read).collect();
    if target.seeds.is_empty() {
        seeds.extend(kept.iter().cloned());
    }
    assert!(!seeds.is_empty(), "{} has nothing to start from", target.name);
    for (name, bytes) in seeds.iter().chain(&kept) {
        try_on(target, bytes, name);
    }
    // Long ones say nothing that short ones do not.
    seeds.retain(|(_, bytes)| bytes.len() < 8000);
    if seeds.is_empty() {
        seeds.push(("bytes".to_owned(), (0..=255).collect()));
    }
    let damage = |seeds: &[(String, Vec<u8>)], chance: &mut Chance, n: u64| {
        let (name, seed) = &seeds[chance.below(seeds.len())];
        let (_, other) = &seeds[chance.below(seeds.len())];
        try_on(target, &damaged(seed, other, chance), &format!("{name}, damaged for the {n}th time"));
    };
    let mut chance = Chance::from(0x0dd_ba11_5eed);
    (0..150).for_each(|n| damage(&seeds, &mut chance, n));
    if seconds > 0 {
        let (start, now) = (Instant::now(), SystemTime::now().duration_since(UNIX_EPOCH).expect("a clock after 1970"));
        let mut chance = Chance::from(now.as_nanos() as u64 | 1);
        seeds.extend(kept.into_iter().filter(|(_, bytes)| bytes.len() < 8000));
        let count = (0..).take_while(|n| {
            damage(&seeds, &mut chance, *n);
            start.elapsed() < Duration::from_secs(seconds)
        });
        println!("{}: {} damaged inputs", target.name, count.count());
    }
}

/// `RUSHLIGHT_DAMAGE_SECONDS` says for how long each reader is tried on more of them, others each time; what breaks is kept.
#[test]
fn every_kept_input_and_fixture_and_damaged_ones_are_survived() {
    let seconds = std::env::var("RUSHLIGHT_DAMAGE_SECONDS").map_or(0, |s| s.parse().expect("whole seconds"));
    let mut fixtures = Vec::new();
    walk(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures"), &mut fixtures);
    let next = AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                while let Some(target) = TARGETS.get(next.fetch_add(1, Ordering::Relaxed)) {
                    exercise(target, &fixtures, seconds);
                }
            });
        }
    });
}

#[test]
fn a_damaged_zip_is_never_taken_for_the_one_that_was_sent() {
    let dir = saltmarsh();
    small(dir.path(), "show.toml", "[[bake]]\nlooks = ['plain']\npoints = 3\n");
    output(dir.path(), "package show.toml --no-stress --zip sent.zip");
    output(dir.path(), "package --verify sent.zip");
    let sent = fs::read(dir.path().join("sent.zip")).expect("a zip");
    let mut chance = Chance::from(0x21b_5eed);
    for n in 0..40 {
        let mut bytes = sent.clone();
        // Half of them in the directory at the end, which says where all is and how long.
        let from = if n % 2 == 0 { bytes.len() - 2000 } else { 0 };
        match n % 5 {
            0 => bytes.truncate(chance.below(bytes.len())),
            _ => {
                let at = from + chance.below(bytes.len() - from);
                bytes[at] ^= 1 << chance.below(8);
            }
        }
        fs::write(dir.path().join("damaged.zip"), &bytes).expect("a file");
        let ran = run(dir.path(), "package --verify damaged.zip").output().expect("it starts");
        let said = String::from_utf8_lossy(&ran.stderr).into_owned();
        assert!(!said.contains("panicked"), "{n}: {said}");
        let code = ran.status.code().expect("no signal");
        // A flipped bit of a date or a permission is not of the files.
        assert!(code < 3 && (code > 0 || bytes.len() == sent.len()), "{n}: {code} {said}");
    }
}

/// A document with far too much of a thing, and the error for it.
#[test]
fn documents_that_ask_for_too_much_are_refused() {
    let files = BTreeMap::from([(
        "l.toml".to_owned(),
        b"schema = 1\ngeneration = 2\ntitle = 'l'\n[[step]]\ndo = 'tone'\n".to_vec(),
    )]);
    let many = |n: usize, entry: &dyn Fn(usize) -> String| (0..n).map(entry).collect::<String>();
    let camera = |i: usize| format!("[cameras.a{i}]\ncurve = 'vlog'\ngamut = 'vgamut'\n");
    let display = |i: usize| format!("[displays.d{i}]\nstandard = 'bt709'\n");
    let looks = |n: usize| "[looks]\n".to_owned() + &many(n, &|i| format!("l{i} = 'l.toml'\n"));
    let head = "schema = 1\ntitle = 'x'\n".to_owned();
    let sound = format!("{head}{}{}{}", camera(0), display(0), looks(1));
    let long = "x".repeat(100_000);
    for (text, why) in [
        (head.clone() + &many(60, &camera) + &many(60, &display) + &looks(60), "216000 cubes: 10000 at most"),
        (sound.clone() + &"[[bake]]\n".repeat(1001), "1001 entries: 1000 at most"),
        (sound.clone() + &"[[shots]]\n".repeat(20_000), "needs `name`, or else `list`"),
        (sound.clone() + &"[[cameras.a0.rating]]\n".repeat(20_000), "missing key `ei`"),
        (
            head.clone() + &camera(0) + &"[[cameras.a0.rating]]\nei = 800\n".repeat(501) + &display(0) + &looks(1),
            "501 ratings",
        ),
        (
            sound.clone() + &many(5000, &|i| format!("[[shots]]\nname = 's{i}'\nlook = 'none{i}'\n")),
            "more than 100 problems",
        ),
        (sound.clone() + &format!("[[bake]]\nlooks = ['{long}']\n"), "unknown look `xxx"),
        (sound.clone() + &many(20_000, &|i| format!("[k{i}]\n")), "unknown key"),
    ] {
        let found = Show::parse("s.toml", &text, &files).expect_err("too much");
        let said: String = found.iter().map(ToString::to_string).collect();
        assert!(said.contains(why), "{why}: {}", said.chars().take(500).collect::<String>());
        assert!(said.len() < 100_000, "{why}: {} bytes", said.len());
    }
    let step = "[[step]]\ndo = 'exposure'\nstops = 1\n";
    let text = format!("schema = 1\ngeneration = 2\ntitle = 'l'\n{}[[step]]\ndo = 'tone'\n", step.repeat(500));
    let found = look::parse("l.toml", &text, &files).expect_err("too much");
    assert!(found.to_string().contains("501 steps: 500 at most"), "{found}");
    // Every reference is compared with every id.
    let text = many(4000, &|i| {
        format!(
            "<ColorDecision><ColorCorrection id=\"c{i}\"><SatNode><Saturation>1</Saturation></SatNode></ColorCorrection></ColorDecision>"
        )
    }) + &many(4000, &|i| format!("<ColorDecision><ColorCorrectionRef ref=\"none{i}\"/></ColorDecision>"));
    let text = format!("<ColorDecisionList xmlns=\"urn:ASC:CDL:v1.2\">{text}</ColorDecisionList>");
    assert_eq!(cdl::read(text.as_bytes()).expect_err("too much").len(), 100);
}

/// By its own words a CDL file, whatever its corrections.
fn collection(within: &str) -> String {
    format!("<ColorCorrectionCollection xmlns=\"urn:ASC:CDL:v1.2\">{within}</ColorCorrectionCollection>")
}

#[test]
fn xml_expands_nothing_fetches_nothing_and_has_its_bounds() {
    let bomb = "<!DOCTYPE x [<!ENTITY a \"aaaaaaaaaa\"><!ENTITY b \"&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;\">]>".to_owned();
    let outside = "<!DOCTYPE x [<!ENTITY a SYSTEM \"file:///etc/passwd\">]>".to_owned();
    let deep = |n: usize| format!("{}{}", "<a>".repeat(n), "</a>".repeat(n));
    let many: String = (0..100_000).fold(String::new(), |text, i| text + &format!(" a{i}=\"\""));
    for (text, why) in [
        (bomb + &collection("&b;"), "a document type"),
        (outside + &collection("&a;"), "a document type"),
        (collection("&lol;"), "&lol; is not defined"),
        (collection(&deep(200_000)), "too many elements"),
        (collection(&"<a/>".repeat(200_001)), "too many elements"),
        (collection(&format!("<ColorCorrection{many}/>")), "more than 64 attributes"),
    ] {
        let found = cdl::read(text.as_bytes()).expect_err("hostile");
        assert!(found.iter().any(|e| e.message.contains(why)), "{why}: {found:?}");
        let list =
            text.replace("ColorCorrectionCollection", "ProcessList").replace("urn:ASC:CDL:v1.2", "urn:AMPAS:CLF:v3.0");
        let found = clf::read(list.as_bytes()).expect_err("hostile");
        assert!(found.message.contains(why), "{why}: {found:?}");
        assert!(clf::departures(list.as_bytes()).is_err());
    }
}

/// Runs the binary where it gets 700 MB of address space for all it is.
#[cfg(target_os = "linux")]
fn within_limits(dir: &Path, args: &str) -> (Option<i32>, String) {
    let script = format!("ulimit -v 700000; exec {} {args}", rushlight_tests::rushlight().display());
    let mut command = std::process::Command::new("sh");
    command.args(["-c", &script]).current_dir(dir).env("RAYON_NUM_THREADS", "1").env("MALLOC_ARENA_MAX", "1");
    let ran = command.output().expect("it starts");
    (ran.status.code(), String::from_utf8_lossy(&ran.stderr).into_owned())
}

#[test]
#[cfg(target_os = "linux")]
fn what_a_file_claims_takes_no_memory() {
    let dir = saltmarsh();
    let clf = |node: &str| {
        format!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?><ProcessList xmlns=\"urn:AMPAS:CLF:v3.0\" id=\"a\" compCLFversion=\"3.0\">{node}</ProcessList>"
        )
    };
    let depths = "inBitDepth=\"32f\" outBitDepth=\"32f\"";
    for (name, text) in [
        ("three.cube", "LUT_3D_SIZE 256\n0 0 0\n".to_owned()),
        ("both.cube", "LUT_1D_SIZE 65536\nLUT_3D_SIZE 256\n0 0 0\n".to_owned()),
        ("three.clf", clf(&format!("<LUT3D {depths}><Array dim=\"256 256 256 3\">0 0 0</Array></LUT3D>"))),
        (
            "far.clf",
            clf(&format!("<LUT3D {depths}><Array dim=\"4000000000 4000000000 4000000000 3\">0</Array></LUT3D>")),
        ),
        ("one.clf", clf(&format!("<LUT1D {depths}><Array dim=\"99999999999999999999 3\">0 0 0</Array></LUT1D>"))),
    ] {
        rushlight_tests::scene::put(dir.path(), name, &text);
        let (code, said) = within_limits(dir.path(), &format!("inspect {name}"));
        assert!(code.is_some_and(|code| code == 1 || code == 2), "{name}: {code:?} {said}");
        assert!(!said.contains("panicked") && !said.contains("memory allocation"), "{name}: {said}");
    }
    let frame = |format, depth| {
        let frame = Frame::new(4, 4, false, vec![0.5; 48], Info::new(format, depth)).expect("a frame");
        write(&frame, format, depth).expect("a file")
    };
    // Sides of 2^30 or as many as the field holds, where each format says them.
    let mut png = frame(Format::Png, Depth::Integer(8));
    png[16..24].copy_from_slice(&[0x40, 0, 0, 0, 0x40, 0, 0, 0]);
    let crc = crc32(&png[12..29]);
    png[29..33].copy_from_slice(&crc.to_be_bytes());
    let mut dpx = frame(Format::Dpx, Depth::Integer(10));
    dpx[772..780].fill(0x7f);
    let mut jpeg = frame(Format::Jpeg, Depth::Integer(8));
    let sof = jpeg.windows(2).position(|w| w == [0xff, 0xc0]).expect("a frame header");
    jpeg[sof + 5..sof + 9].fill(0xff);
    let mut exr = frame(Format::Exr, Depth::Half);
    let window = exr.windows(11).position(|w| w == b"dataWindow\0").expect("a window");
    let size = window + 11 + 6 + 4;
    exr[size + 8..size + 16].copy_from_slice(&[0xff, 0xff, 0xff, 0x3f, 0xff, 0xff, 0xff, 0x3f]);
    let mut tiff = frame(Format::Tiff, Depth::Integer(8));
    for tag in [256u16, 257] {
        let mut entries =
            (8..tiff.len() - 12).filter(|i| tiff[*i..i + 2] == tag.to_le_bytes() && tiff[i + 4..i + 8] == [1, 0, 0, 0]);
        let at = entries.next_back().expect("a side");
        tiff[at + 2..at + 4].copy_from_slice(&[4, 0]);
        tiff[at + 8..at + 12].copy_from_slice(&[0, 0, 0, 0x40]);
    }
    for (name, bytes) in [("a.png", png), ("a.dpx", dpx), ("a.jpg", jpeg), ("a.exr", exr), ("a.tif", tiff)] {
        fs::write(dir.path().join(name), bytes).expect("a file");
        let args = format!("apply show.toml --look plain --camera a --display onset --points 3 {name} out.png");
        let (code, said) = within_limits(dir.path(), &args);
        assert_eq!(code, Some(2), "{name}: {said}");
        assert_says(&said, &[&format!("cannot read {name}"), "nothing is written"]);
        assert!(!said.contains("panicked") && !dir.path().join("out.png").exists(), "{name}: {said}");
    }
}

/// The checksum of PNG, bit by bit.
#[cfg(target_os = "linux")]
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |c, _| if c & 1 == 1 { 0xedb8_8320 ^ (c >> 1) } else { c >> 1 })
    })
}

#[test]
fn the_memory_of_a_picture_is_for_the_user_to_allow() {
    let dir = saltmarsh();
    let frame =
        Frame::new(400, 300, false, vec![0.5; 360_000], Info::new(Format::Png, Depth::Integer(8))).expect("a frame");
    let file = write(&frame, Format::Png, Depth::Integer(8)).expect("a file");
    fs::write(dir.path().join("a.png"), file).expect("a file");
    let args = "apply show.toml --look plain --camera a --display onset --points 3 a.png out.png";
    assert_says(
        &refused(dir.path(), &format!("{args} --max-memory 1")),
        &["400 x 300", "1 MiB allowed", "--max-memory"],
    );
    output(dir.path(), &format!("{args} --max-memory 2"));
    assert_says(&refused(dir.path(), &format!("{args} --max-memory 0")), &["--max-memory"]);
    let measure = "measure a.png a.png a.png --stops 0,1,2 --curve slog3 --max-memory 1";
    assert_says(&refused(dir.path(), measure), &["400 x 300", "--max-memory"]);
}
