//! What goes wrong around the program: full and read-only disks, folders that vanish, kills, two runs at once, clocks, names,
//! links, files that change, languages and time zones. Afterwards each file is the old one or the new one, whole.
//!
//! tests/reference/soak/kills.py does the same with a release build and a thousand kills.
#![cfg(unix)]

use rushlight::frame::{Depth, Format, Frame, Info, write};
use rushlight_tests::demo;
use rushlight_tests::scene::{assert_says, files, output, put, refused, run, saltmarsh, small, tree, wait_until};
use std::collections::BTreeMap;
use std::fs;
use std::io::Write as _;
use std::os::unix::fs::{PermissionsExt as _, symlink};
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant, SystemTime};
use tempfile::TempDir;

const NIGHT: &str = "apply show.toml --look night --camera a --display onset";

/// A show with a few frames of a shot.
fn shot(frames: usize) -> TempDir {
    let dir = saltmarsh();
    for n in 1..=frames {
        let sample = |i: usize| ((i * 97 + n * 31) % 256) as f32 / 255.0;
        let frame =
            Frame::new(48, 27, false, (0..48 * 27 * 3).map(sample).collect(), Info::new(Format::Exr, Depth::Float));
        let file = write(&frame.expect("a frame"), Format::Tiff, Depth::Float).expect("a file");
        fs::write(dir.path().join(format!("shot.{n:04}.tif")), file).expect("a file");
    }
    dir
}

fn unfinished(dir: &Path) -> Vec<String> {
    let entries = fs::read_dir(dir).expect("a folder").flatten();
    entries.map(|e| e.file_name().to_string_lossy().into_owned()).filter(|n| n.starts_with(".rushlight")).collect()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// Runs a script in a namespace of its own, where it may mount: `$R` is the binary. None where this machine does not let it.
fn with_mounts(dir: &Path, script: &str) -> Option<Output> {
    let unshare = |command: &[&str]| {
        let mut it = Command::new("unshare");
        it.args(["--map-root-user", "--mount"]).args(command).current_dir(dir).env("R", rushlight_tests::rushlight());
        it
    };
    let probe = "mkdir -p probe && mount -t tmpfs tmpfs probe";
    if !unshare(&["sh", "-c", probe]).stderr(Stdio::null()).status().is_ok_and(|s| s.success()) {
        eprintln!("skipped: nothing can be mounted here");
        return None;
    }
    let ran = unshare(&["sh", "-c", &format!("set -e\n{script}")]).output().expect("it starts");
    Some(ran)
}

#[test]
fn a_full_disk_leaves_what_was_there() {
    let dir = shot(2);
    demo_bracket(dir.path());
    small(dir.path(), "small.toml", "[[bake]]\nlooks = ['plain']\npoints = 5\n");
    for (what, first, second) in [
        (
            "bake",
            "bake show.toml --no-audit --out full/cubes",
            "bake show.toml --no-audit --points 33 --out full/cubes",
        ),
        ("apply", "apply show.toml --look plain --camera a --display onset --points 5 shot.0001.tif full/out.exr", ""),
        ("package", "", "package small.toml --no-stress --out full/sent"),
        ("zip", "", "package small.toml --no-stress --zip full/sent.zip"),
        ("zip alone", "", "package small.toml --no-stress --out sent --zip full/sent.zip"),
        ("ratings", "", "measure --list brackets/b.csv --show full/show/show.toml --camera b --write"),
    ] {
        let second = match what {
            // The same name, with less room than it needs.
            "apply" => "apply show.toml --look night --camera a --display onset --points 5 shot.0002.tif full/out.exr",
            _ => second,
        };
        let first = if first.is_empty() { "true".to_owned() } else { format!("$R {first} >/dev/null") };
        let script = format!(
            "rm -rf full was now; mkdir full was now; mount -t tmpfs -o size=400k tmpfs full
            mkdir full/show full/sub; cp -r demo/* full/show
            {first}
            head -c 1000000 /dev/zero >full/sub/fill 2>/dev/null || true
            cp -r full/. was
            code=0; $R {second} 2>said >/dev/null || code=$?
            cp -r full/. now
            exit $code"
        );
        let Some(ran) = with_mounts(dir.path(), &script) else { return };
        let said = fs::read_to_string(dir.path().join("said")).unwrap_or_default();
        assert_eq!(ran.status.code(), Some(2), "{what}: {said}{}", text(&ran.stderr));
        assert_says(&said, &["cannot write", "the disk is full"]);
        if what != "apply" {
            assert_eq!(said.lines().count(), 1, "{what}: {said}");
        }
        assert!(tree(&dir.path().join("was")) == tree(&dir.path().join("now")), "{what}");
    }
}

/// The demo show with a bracket, as `demo`, and the bracket beside the show as well.
fn demo_bracket(dir: &Path) {
    let from = demo::folder();
    demo::copy(&dir.join("demo"));
    fs::create_dir(dir.join("brackets")).expect("a folder");
    for (name, bytes) in files(&from.join("brackets")).into_iter().filter(|(name, _)| name.starts_with('b')) {
        fs::write(dir.join("brackets").join(name), bytes).expect("a file");
    }
}

#[test]
fn nothing_is_written_beside_a_show_on_a_read_only_disk() {
    let dir = shot(1);
    small(dir.path(), "small.toml", "[[bake]]\nlooks = ['plain']\npoints = 5\n");
    let script = "mkdir card; cp -r show.toml small.toml looks curves shot.0001.tif card
        mount --bind card card; mount -o remount,bind,ro card; cd card
        $R bake show.toml --no-audit --out ../cubes
        $R probe show.toml --look night --camera a --display onset 0.4 0.41 0.42
        $R apply show.toml --look night --camera a --display onset --points 5 shot.0001.tif ../out.tif
        $R package small.toml --no-stress --out ../sent
        code=0; $R bake show.toml 2>../said || code=$?; [ $code = 2 ]
        code=0; $R package show.toml 2>>../said || code=$?; [ $code = 2 ]
        code=0; $R apply show.toml --look night --camera a --display onset shot.0001.tif new.tif 2>>../said || code=$?; [ $code = 2 ]";
    let Some(ran) = with_mounts(dir.path(), script) else { return };
    assert!(ran.status.success(), "{}{}", text(&ran.stdout), text(&ran.stderr));
    let said = fs::read_to_string(dir.path().join("said")).expect("what was said");
    assert_eq!(said.matches("the disk is read-only").count(), 3, "{said}");
    assert_eq!(files(&dir.path().join("cubes")).len(), 9);
    assert!(dir.path().join("out.tif").is_file() && dir.path().join("sent/SHA256SUMS").is_file());
}

/// A folder without the right to write, for who is not root.
#[test]
fn a_folder_that_may_not_be_written_to_is_named() {
    let dir = saltmarsh();
    let closed = dir.path().join("closed");
    fs::create_dir(&closed).expect("a folder");
    fs::set_permissions(&closed, fs::Permissions::from_mode(0o555)).expect("rights");
    if fs::write(closed.join("x"), "").is_ok() {
        return eprintln!("skipped: whoever runs this may write anywhere");
    }
    assert_says(&refused(dir.path(), "bake show.toml --out closed/cubes"), &["closed", "permission denied"]);
    assert_says(&refused(dir.path(), "bake show.toml --out closed"), &["closed", "permission denied"]);
}

fn started(dir: &Path, args: &str) -> Child {
    let mut command = Command::new(rushlight_tests::rushlight());
    command.current_dir(dir).args(args.split_whitespace()).stdout(Stdio::null()).stderr(Stdio::piped());
    command.spawn().expect("it starts")
}

#[test]
fn a_folder_that_vanishes_is_said_once_and_nothing_is_left() {
    let dir = saltmarsh();
    let out = dir.path().join("cubes");
    let child = started(dir.path(), "bake show.toml --points 17");
    // Once the first of eight cubes is being written.
    wait_until("a cube is being written", || out.is_dir() && unfinished(&out).len() >= 2);
    fs::remove_dir_all(&out).expect("it goes");
    let ended = child.wait_with_output().expect("it ends");
    let said = text(&ended.stderr);
    assert_eq!(ended.status.code(), Some(2), "{said}");
    assert!(said.starts_with("error: cannot write cubes/") && said.lines().count() == 1, "{said}");
    assert!(!out.exists());
}

/// Kills `args` at moments of its run; after each, every file in `names` is among `versions`, whole.
fn kill(dir: &Path, kills: usize, args: &[String], seen: &dyn Fn() -> Result<(), String>) {
    let mut moments = fastrand::Rng::with_seed(0x5eed_cafe);
    let begun = Instant::now();
    output(dir, &args[0]);
    let whole = begun.elapsed();
    for n in 0..kills {
        let mut child = started(dir, &args[(n + 1) % args.len()]);
        std::thread::sleep(whole.mul_f64(moments.f64()));
        child.kill().expect("SIGKILL");
        child.wait().expect("it ends");
        if let Err(why) = seen() {
            panic!("after kill {n} of {}: {why}", args[(n + 1) % args.len()]);
        }
    }
}

/// Whether every file of a folder is that of one of two whole runs.
fn either(dir: &Path, one: &BTreeMap<String, Vec<u8>>, two: &BTreeMap<String, Vec<u8>>) -> Result<(), String> {
    for (name, bytes) in tree(dir).into_iter().filter(|(name, _)| !name.starts_with(".rushlight")) {
        if one.get(&name) != Some(&bytes) && two.get(&name) != Some(&bytes) {
            return Err(format!("{name}: {} bytes that are neither the old nor the new", bytes.len()));
        }
    }
    match one.keys().find(|name| !dir.join(name).is_file()) {
        Some(name) => Err(format!("{name} is gone")),
        None => Ok(()),
    }
}

#[test]
fn a_kill_leaves_the_old_cubes_or_the_new_ones() {
    let dir = saltmarsh();
    put(dir.path(), "other.toml", &fs::read_to_string(dir.path().join("show.toml")).expect("the show"));
    // The same names, other bytes.
    let other = fs::read_to_string(dir.path().join("other.toml")).expect("the show").replace("\"slog3\"", "\"logc4\"");
    put(dir.path(), "other.toml", &other);
    let runs = ["show.toml", "other.toml"].map(|show| format!("bake {show} --no-audit --points 9"));
    let [two, one] = [1, 0].map(|n| {
        output(dir.path(), &runs[n]);
        files(&dir.path().join("cubes"))
    });
    let out = dir.path().join("cubes");
    kill(dir.path(), 8, &runs, &|| either(&out, &one, &two));
    // What was left half-written goes with the next run.
    output(dir.path(), &runs[0]);
    assert!(files(&out) == one, "{:?}", files(&out).keys());
}

#[test]
fn a_kill_leaves_whole_frames() {
    let dir = shot(6);
    let runs = ["night", "plain"].map(|look| {
        format!("apply show.toml --look {look} --camera a --display onset --points 5 shot.####.tif out/o.####.png")
    });
    let [two, one] = [1, 0].map(|n| {
        output(dir.path(), &runs[n]);
        files(&dir.path().join("out"))
    });
    let out = dir.path().join("out");
    kill(dir.path(), 8, &runs, &|| either(&out, &one, &two));
    fs::remove_file(out.join("o.0003.png")).expect("it goes");
    output(dir.path(), &format!("{} --resume", runs[0]));
    assert_eq!(files(&out).keys().collect::<Vec<_>>(), one.keys().collect::<Vec<_>>());
}

#[test]
fn a_kill_leaves_the_old_show_or_the_rated_one() {
    let dir = TempDir::new().expect("a folder");
    demo_bracket(dir.path());
    let run = "measure --list brackets/b.csv --show demo/show.toml --camera b --write".to_owned();
    let show = dir.path().join("demo/show.toml");
    let old = fs::read(&show).expect("the show");
    output(dir.path(), &run);
    let new = fs::read(&show).expect("the show");
    assert!(old != new);
    kill(dir.path(), 6, std::slice::from_ref(&run), &|| {
        let now = fs::read(&show).map_err(|e| e.to_string())?;
        let whole = now == old || now == new;
        fs::write(&show, &old).map_err(|e| e.to_string())?;
        if whole { Ok(()) } else { Err("neither the old nor the new show".to_owned()) }
    });
}

#[test]
fn a_kill_leaves_a_whole_hand_off_or_none() {
    let dir = saltmarsh();
    small(dir.path(), "small.toml", "[[bake]]\nlooks = ['plain']\npoints = 5\n");
    output(dir.path(), "package small.toml --no-stress --out first");
    let whole = tree(&dir.path().join("first"));
    let (run, sent) = ("package small.toml --no-stress --out sent".to_owned(), dir.path().join("sent"));
    let taken = || {
        let found = if sent.is_dir() { tree(&sent) } else { whole.clone() };
        let _ = fs::remove_dir_all(&sent);
        if found == whole { Ok(()) } else { Err(format!("{:?}", found.keys())) }
    };
    let begun = Instant::now();
    output(dir.path(), &run);
    let whole_time = begun.elapsed();
    assert_eq!(taken(), Ok(()));
    let mut moments = fastrand::Rng::with_seed(0xfeed_beef);
    for n in 0..3 {
        let mut child = started(dir.path(), &run);
        std::thread::sleep(whole_time.mul_f64(moments.f64()));
        child.kill().expect("SIGKILL");
        child.wait().expect("it ends");
        assert_eq!(taken(), Ok(()), "after kill {n}");
    }
    output(dir.path(), &run);
    assert_eq!(unfinished(dir.path()), Vec::<String>::new(), "what was left is gone");
    assert_eq!(taken(), Ok(()));
}

#[test]
fn two_bakes_into_one_folder_do_not_disturb_each_other() {
    let dir = saltmarsh();
    output(dir.path(), "bake show.toml --points 9 --out alone");
    let alone = files(&dir.path().join("alone"));
    for _ in 0..2 {
        let both = [(); 3].map(|()| started(dir.path(), "bake show.toml --points 9 --out both"));
        for child in both {
            let ended = child.wait_with_output().expect("it ends");
            assert!(ended.status.success(), "{}", text(&ended.stderr));
        }
        assert!(files(&dir.path().join("both")) == alone);
    }
}

#[test]
fn a_clock_that_was_set_back_changes_nothing() {
    let dir = shot(2);
    let run = format!("{NIGHT} --points 5 shot.####.tif out/o.####.png --resume");
    output(dir.path(), "bake show.toml --points 5");
    output(dir.path(), &run);
    let was = tree(dir.path());
    let late = SystemTime::now() + Duration::from_secs(10 * 365 * 86_400);
    for name in was.keys() {
        let file = fs::File::options().write(true).open(dir.path().join(name)).expect("a file");
        file.set_modified(late).expect("a time");
    }
    fs::remove_file(dir.path().join("out/o.0001.png")).expect("it goes");
    output(dir.path(), "bake show.toml --points 5");
    output(dir.path(), &run);
    assert!(tree(dir.path()) == was);
}

#[test]
fn any_name_will_do() {
    let long = "x".repeat(200);
    for name in
        ["a show 'of' \"quotes\"", "Süßwasser 雪 🦢", " -leading and trailing ", "tab\tand$HOME;`id`*?[a]", &long]
    {
        let dir = shot(1);
        let odd = dir.path().join(name);
        fs::create_dir(&odd).expect("such a folder");
        for what in ["show.toml", "looks", "curves", "shot.0001.tif"] {
            fs::rename(dir.path().join(what), odd.join(what)).expect("it moves");
        }
        let file = |name: &str| odd.join(name).display().to_string();
        let said = |args: &[&str]| {
            let ran = run(dir.path(), "").args(args).output().expect("it starts");
            assert_eq!(ran.status.code(), Some(0), "{args:?}: {}", text(&ran.stderr));
            text(&ran.stdout)
        };
        let still = file(&format!("{name}.png"));
        let pick = ["--look", "night", "--camera", "a", "--display", "onset"];
        said(&["bake", &file("show.toml"), "--no-audit", "--points", "3", "--out", &file("cubes")]);
        assert_eq!(files(&odd.join("cubes")).len(), 9);
        said(&[&["apply", &file("show.toml"), &file("shot.0001.tif"), &still, "--points", "3"][..], &pick].concat());
        assert!(Path::new(&still).is_file());
        said(&[&["probe", &file("show.toml")][..], &pick, &["0.4", "0.41", "0.42"]].concat());
        // As the argument of a glob or an option, it is refused in words at worst.
        let ran = run(dir.path(), "").args(["inspect", name]).output().expect("it starts");
        assert!(!text(&ran.stderr).contains("panicked"), "{}", text(&ran.stderr));
    }
    // As long as a name may be: the temporary one is no longer.
    let dir = saltmarsh();
    let longest = format!("{}.clf", "é".repeat(125));
    put(dir.path(), "c.cube", "LUT_3D_SIZE 2\n0 0 0\n1 0 0\n0 1 0\n1 1 0\n0 0 1\n1 0 1\n0 1 1\n1 1 1\n");
    let ran = run(dir.path(), "").args(["convert", "c.cube", &longest]).output().expect("it starts");
    assert_eq!(ran.status.code(), Some(0), "{}", text(&ran.stderr));
    assert!(dir.path().join(longest).is_file());
}

#[test]
fn links_that_lead_round_are_refused() {
    let dir = shot(1);
    symlink("round", dir.path().join("round")).expect("a link");
    symlink(".", dir.path().join("self")).expect("a link");
    let round = [
        "bake round",
        "probe round 0.4 0.41 0.42",
        "inspect round",
        "bake show.toml --out round/cubes",
        "package --verify round",
    ];
    for args in round {
        assert_says(&refused(dir.path(), args), &["round"]);
    }
    // A folder within itself is no loop for who does not walk it.
    output(dir.path(), "bake self/self/show.toml --no-audit --points 3 --out self/cubes");
    assert_eq!(files(&dir.path().join("cubes")).len(), 9);
    assert_says(&refused(dir.path(), "package --verify self"), &["a link"]);
    let show = fs::read_to_string(dir.path().join("show.toml")).expect("the show");
    put(dir.path(), "looped.toml", &show.replace("looks/night.toml", "round"));
    assert_says(&refused(dir.path(), "bake looped.toml"), &["looks.night", "round"]);
    assert_eq!(refused(dir.path(), "bake looped.toml").lines().count(), 1);
}

#[test]
fn a_link_to_a_show_stays_one_when_ratings_are_written() {
    let dir = TempDir::new().expect("a folder");
    demo_bracket(dir.path());
    let show = dir.path().join("demo/show.toml");
    fs::rename(&show, dir.path().join("demo/kept.toml")).expect("it moves");
    symlink("kept.toml", &show).expect("a link");
    let kept = dir.path().join("demo/kept.toml");
    fs::set_permissions(&kept, fs::Permissions::from_mode(0o640)).expect("rights");
    let before = fs::read(&kept).expect("the show");
    output(dir.path(), "measure --list brackets/b.csv --show demo/show.toml --camera b --write");
    assert!(fs::symlink_metadata(&show).expect("it is there").is_symlink());
    assert!(fs::read(&kept).expect("the show") != before);
    assert_eq!(fs::metadata(&kept).expect("the show").permissions().mode() & 0o777, 0o640);
}

#[test]
fn a_file_that_changes_while_it_is_read_is_refused() {
    let dir = TempDir::new().expect("a folder");
    let path = dir.path().join("growing.cube");
    let comments = "# a comment that takes some room in a file that is being written\n".repeat(1 << 18);
    put(dir.path(), "growing.cube", &comments);
    let stop = AtomicBool::new(false);
    let refused = std::thread::scope(|scope| {
        scope.spawn(|| {
            let mut file = fs::File::options().append(true).open(&path).expect("a file");
            while !stop.load(Ordering::Relaxed) {
                file.write_all(b"# and more\n").expect("room");
                std::thread::sleep(Duration::from_micros(50));
            }
        });
        let mut said = Vec::new();
        for _ in 0..20 {
            let ran = run(dir.path(), "inspect growing.cube").output().expect("it starts");
            said.push(text(&ran.stderr));
            assert_eq!(ran.status.code(), Some(2), "it never is a cube");
            if said.iter().any(|s| s.contains("it changed while it was read")) {
                break;
            }
        }
        stop.store(true, Ordering::Relaxed);
        said
    });
    assert!(refused.iter().any(|s| s.contains("it changed while it was read")), "{refused:?}");
}

#[test]
fn a_pipe_is_a_file_like_any_other() {
    let dir = saltmarsh();
    symlink("/dev/stdin", dir.path().join("piped.cube")).expect("a link");
    let script = format!("cat c.cube | {} inspect piped.cube", rushlight_tests::rushlight().display());
    put(dir.path(), "c.cube", "LUT_1D_SIZE 2\n0 0 0\n1 1 1\n");
    let ran = Command::new("sh").args(["-c", &script]).current_dir(dir.path()).output().expect("it starts");
    assert_eq!(ran.status.code(), Some(0), "{}", text(&ran.stderr));
}

#[test]
fn language_and_time_zone_have_no_effect() {
    let dir = saltmarsh();
    let said = |language: &str, zone: &str, args: &str| {
        let ran = run(dir.path(), args).env("LC_ALL", language).env("LANG", language).env("TZ", zone).output();
        let ran = ran.expect("it starts");
        assert_eq!(ran.status.code(), Some(0), "{}", text(&ran.stderr));
        (text(&ran.stdout), files(&dir.path().join("cubes")))
    };
    for args in [
        "bake show.toml --points 5",
        "probe show.toml --look night --camera a --display onset 0.4 0.41 0.42",
        "camera show.toml",
    ] {
        // The first bake reports other words than those that replace its files.
        said("C", "UTC", args);
        let plain = said("C", "UTC", args);
        for (language, zone) in [("de_DE.UTF-8", "Pacific/Kiritimati"), ("fr_FR.UTF-8", "America/St_Johns")] {
            assert!(said(language, zone, args) == plain, "{args} in {language}, {zone}");
        }
    }
}
