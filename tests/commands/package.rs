//! `package`: what is in a hand-off, that its files are what its lists say, and that a received one is checked.

use rushlight::files::sha256;
use rushlight::format::{cdl, clf, cube::Strictness};
use rushlight_tests::cdl::shots;
use rushlight_tests::scene::{
    SHOW, assert_holds_to, assert_says, output, put, refusals, refused, run, saltmarsh, tree,
};
use rushlight_tests::schemas::{Schema, assert_valid};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::io::Write;
use std::path::Path;
use std::sync::OnceLock;
use tempfile::TempDir;

/// A small show: one camera and display, at 9 points.
fn show(change: impl Fn(String) -> String) -> TempDir {
    let dir = shots(|text| text.replace("look = \"plain\"\n", "look = \"plain\"\ncamera = \"a\"\n"));
    let text = fs::read_to_string(dir.path().join("show.toml")).unwrap();
    let text = text.replace("points = 5", "cameras = [\"a\"]\ndisplays = [\"onset\"]\npoints = 9");
    let rated = text.replacen(
        "gamut = \"sgamut3-cine\"\n",
        "gamut = \"sgamut3-cine\"\n[[cameras.a.rating]]\nei = 800\nclip = 0.94\n",
        1,
    );
    put(dir.path(), "show.toml", &change(rated));
    dir
}

/// A hand-off of that show as a folder and as a .zip, made once.
fn made() -> &'static TempDir {
    static MADE: OnceLock<TempDir> = OnceLock::new();
    MADE.get_or_init(|| {
        let dir = show(|text| text);
        let text = output(dir.path(), "package show.toml --out sent --zip sent.zip --date 2026-11-25");
        put(dir.path(), "said.txt", &text);
        dir
    })
}

fn copy(to: &Path) {
    for (name, bytes) in tree(&made().path().join("sent")) {
        let path = to.join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
}

fn manifest(files: &BTreeMap<String, Vec<u8>>) -> Value {
    let manifest = serde_json::from_slice(&files["manifest.json"]).unwrap();
    assert_holds_to(made().path(), "hand-off", &manifest);
    manifest
}

/// A name that looks like an option was once read as one in the midst of the work, which left a folder half made.
#[test]
fn a_show_may_be_called_like_an_option() {
    let dir = show(|text| text);
    fs::rename(dir.path().join("show.toml"), dir.path().join("-x.toml")).unwrap();
    output(dir.path(), "package --no-stress --out sent -- -x.toml");
    let files = tree(&dir.path().join("sent"));
    for name in ["documents/-x.toml", "exposure/exposure.json", "stops/saltmarsh_stops.csv"] {
        assert!(files.contains_key(name), "{name}: {:?}", files.keys());
    }
    let mut names: Vec<_> = fs::read_dir(dir.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    names.sort();
    assert!(names.iter().all(|name| !name.to_string_lossy().starts_with('.')), "{names:?}");
}

#[test]
fn a_hand_off_holds_everything_and_its_lists_are_true() {
    let dir = made().path();
    let files = tree(&dir.join("sent"));
    for name in [
        "README.txt",
        "cubes/saltmarsh_night_r4_a_onset_9.cube",
        "cubes/saltmarsh_night_r4_a_onset_9.clf",
        "cubes/saltmarsh_plain_r1_a_onset_9.cube",
        "shots/saltmarsh_12A-3_night_r4_a_onset_9.cube",
        "shots/saltmarsh_12A-3_night_r4_a_onset_9.clf",
        "shots/saltmarsh_31-2_plain_r1_a_onset_9.cube",
        "cdl/saltmarsh_shots.ccc",
        "aces/saltmarsh_input_a.clf",
        "aces/saltmarsh_look_night_r4.clf",
        "aces/saltmarsh_output_night_r4_onset.clf",
        "amf/saltmarsh_night_r4_a_onset.amf",
        "amf/saltmarsh_12A-3_night_r4_a_onset.amf",
        "exposure/saltmarsh_a_ei800_ladder_bt709_65.cube",
        "exposure/saltmarsh_a_ei800_ladder_bt709_65_key.png",
        "exposure/exposure.json",
        "stops/saltmarsh_stops.csv",
        "stops/saltmarsh_card_a.pdf",
        "documents/show.toml",
        "documents/looks/night.toml",
        "documents/curves/heron.toml",
        "documents/cdl/day3.ccc",
        "documents/cdl/day3.ale",
    ] {
        assert!(files.contains_key(name), "{name} is not in {:?}", files.keys());
    }
    assert!(
        !files.contains_key("aces/saltmarsh_look_plain_r1.clf"),
        "a look of nothing but a rendering has no such part"
    );
    let manifest = manifest(&files);
    let listed = manifest["files"].as_array().unwrap();
    assert_eq!(listed.len() + 2, files.len());
    let sums = String::from_utf8(files["SHA256SUMS"].clone()).unwrap();
    for record in listed {
        let name = record["file"].as_str().unwrap();
        assert_eq!(
            (&record["sha256"], &record["bytes"]),
            (&sha256(&files[name]).into(), &files[name].len().into()),
            "{name}"
        );
        assert!(sums.contains(&format!("{}  {name}\n", sha256(&files[name]))), "{name}");
    }
    assert!(sums.contains(&format!("{}  manifest.json\n", sha256(&files["manifest.json"]))));
    assert_eq!(manifest["order"], "CDL before the look, in ACEScct, not clamped");
    let about = |name: &str| &listed.iter().find(|r| r["file"] == name).unwrap()["about"];
    let cube = about("shots/saltmarsh_12A-3_night_r4_a_onset_9.cube");
    assert_eq!((&cube["shot"]["name"], &cube["shot"]["space"]), (&"12A-3".into(), &"acescct".into()));
    assert!(cube["audit"]["plausible"]["tetrahedral"]["mean"].as_f64().unwrap() > 0.0);
    for (name, bytes) in &files {
        if name.ends_with(".cube") {
            rushlight::format::cube::read(bytes, Strictness::Strict).unwrap_or_else(|e| panic!("{name}: {e}"));
        } else if name.ends_with(".clf") {
            assert_eq!(clf::departures(bytes).unwrap(), [], "{name}");
        }
    }
    let text = fs::read_to_string(dir.join("said.txt")).unwrap();
    assert_says(&text, &["files into sent.zip and sent", "cubes/ ", "SHA256SUMS"]);
    let readme = String::from_utf8(files["README.txt"].clone()).unwrap();
    for text in [&text, &readme] {
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    }
    assert_says(
        &readme,
        &[
            "2. the shot's CDL (CDL before the look, in ACEScct, not clamped)",
            "slog3, sgamut3-cine, full range",
            "12A-3  slope 1.1 1 0.9",
            "Night exterior, revision 4: compress, exposure, tint, print",
        ],
    );
}

/// The documents in it are whole: the same cubes come of them, to the byte.
#[test]
fn the_documents_in_it_bake_the_same_cubes() {
    let sent = made().path().join("sent");
    let again = TempDir::new().unwrap();
    let show = sent.join("documents/show.toml");
    for options in ["", "--shots"] {
        run(again.path(), &format!("bake {} --out again {options}", show.display())).assert().success();
    }
    let files = tree(&sent);
    for (name, bytes) in tree(&again.path().join("again")).iter().filter(|(name, _)| name.ends_with(".cube")) {
        let sent = files.get(&format!("cubes/{name}")).or_else(|| files.get(&format!("shots/{name}")));
        assert!(sent == Some(bytes), "{name}");
    }
}

/// What is written holds to the published schemas, but for the newer namespace of corrections.
#[test]
fn amfs_and_corrections_meet_the_published_schemas() {
    let files = tree(&made().path().join("sent"));
    let of = |folder: &str| files.iter().filter(|(name, _)| name.starts_with(folder)).collect::<Vec<_>>();
    let amfs = of("amf/");
    assert!(amfs.len() > 1, "{:?}", files.keys());
    assert_valid(Schema::Amf, amfs.iter().map(|(name, bytes)| (name.as_str(), bytes.as_slice())));
    for (name, bytes) in of("cdl/") {
        let text = String::from_utf8(bytes.clone()).unwrap().replace("urn:ASC:CDL:v1.2", "urn:ASC:CDL:v1.01");
        assert_valid(Schema::Cdl, [(name.as_str(), text.as_bytes())]);
    }
}

/// An AMF says what the exact path does: its transforms, one after the other, give the cube's colours.
#[test]
fn what_an_amf_points_to_gives_the_look() {
    let files = tree(&made().path().join("sent"));
    let text = String::from_utf8(files["amf/saltmarsh_12A-3_night_r4_a_onset.amf"].clone()).unwrap();
    assert_says(
        &text,
        &[
            "xmlns:aces=\"urn:ampas:aces:amf:v2.0\"",
            "<aces:creationDateTime>2026-11-25T00:00:00Z</aces:creationDateTime>",
            "<aces:clipName>12A-3</aces:clipName>",
            "<aces:file>../aces/saltmarsh_input_a.clf</aces:file>",
            "<cdl:Slope>1.1 1 0.9</cdl:Slope>",
            "<aces:file>../aces/saltmarsh_look_night_r4.clf</aces:file>",
            "<aces:file>../aces/saltmarsh_output_night_r4_onset.clf</aces:file>",
        ],
    );
    let list = |name: &str| clf::read(&files[name]).unwrap();
    let chain = [
        list("aces/saltmarsh_input_a.clf"),
        list("aces/saltmarsh_look_night_r4.clf"),
        list("aces/saltmarsh_output_night_r4_onset.clf"),
    ];
    let cube = list("cubes/saltmarsh_night_r4_a_onset_9.clf");
    // Mid-grey of the camera is mid-grey of ACES.
    let aces = chain[0].apply([420.0 / 1023.0; 3]);
    assert!(aces.iter().all(|v| (v - 0.18).abs() < 1e-6), "{aces:?}");
    for v in [0.2, 0.41, 0.6] {
        let out = chain.iter().fold([v; 3], |rgb, list| list.apply(rgb));
        let want = cube.apply([v; 3]);
        // Both have 9 points, and errors as large as that.
        assert!((0..3).all(|c| (out[c] - want[c]).abs() < 0.05), "{v}: {out:?} {want:?}");
    }
    let corrections = cdl::read(&files["cdl/saltmarsh_shots.ccc"]).unwrap();
    assert_eq!(corrections.ids().collect::<Vec<_>>(), ["12A-3", "12A-4", "31-2"]);
    assert_says(&corrections.remarks.descriptions[0], &["CDL before the look, in ACEScct, not clamped"]);
}

#[test]
fn the_same_documents_give_the_same_zip() {
    let dir = show(|text| text);
    let mut command = run(dir.path(), "package show.toml --zip again.zip --date 2026-11-25");
    command.env("RAYON_NUM_THREADS", "1").assert().success();
    assert!(fs::read(dir.path().join("again.zip")).unwrap() == fs::read(made().path().join("sent.zip")).unwrap());
    assert!(!dir.path().join("hand-off").exists(), "a .zip alone");
    let hidden: Vec<_> = fs::read_dir(dir.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert!(!hidden.iter().any(|name| name.to_str().unwrap().starts_with('.')), "{hidden:?}");
}

#[test]
fn a_received_hand_off_is_checked() {
    let root = made().path();
    for whole in ["sent", "sent.zip"] {
        let text = output(root, &format!("package --verify {whole}"));
        assert_says(&text, &["Saltmarsh: ", " files, all as in the hand-off"]);
    }
    let dir = TempDir::new().unwrap();
    copy(&dir.path().join("got"));
    let got = dir.path().join("got");
    let cube = got.join("cubes/saltmarsh_night_r4_a_onset_9.cube");
    let mut bytes = fs::read(&cube).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    fs::write(&cube, bytes).unwrap();
    fs::remove_file(got.join("cdl/saltmarsh_shots.ccc")).unwrap();
    fs::write(got.join("cubes/more.cube"), "x").unwrap();
    let before = tree(&got);
    let checked = run(dir.path(), "package --verify got").output().unwrap();
    assert_eq!(checked.status.code(), Some(1));
    let text = String::from_utf8(checked.stdout).unwrap();
    assert_says(
        &text,
        &[
            "  cdl/saltmarsh_shots.ccc: missing\n",
            "  cubes/more.cube: not of this hand-off\n",
            "  cubes/saltmarsh_night_r4_a_onset_9.cube: changed\n",
        ],
    );
    let report = run(dir.path(), "package --verify got --json").output().unwrap().stdout;
    let report: Value = serde_json::from_slice(&report).unwrap();
    assert_holds_to(dir.path(), "verify", &report);
    assert_eq!((&report["same"], report["differences"].as_array().unwrap().len()), (&false.into(), 3));
    assert!(tree(&got) == before, "nothing is written");
}

/// Any single changed byte is named.
#[test]
fn a_changed_byte_in_any_file_is_found() {
    let dir = TempDir::new().unwrap();
    let got = dir.path().join("got");
    copy(&got);
    for name in
        ["README.txt", "manifest.json", "SHA256SUMS", "aces/saltmarsh_input_a.clf", "stops/saltmarsh_card_a.pdf"]
    {
        let whole = fs::read(got.join(name)).unwrap();
        let mut changed = whole.clone();
        // Within a checksum of the list: a digit for another.
        let at = if name == "SHA256SUMS" { 3 } else { whole.len() / 3 };
        changed[at] = if changed[at] == b'1' { b'2' } else { b'1' };
        fs::write(got.join(name), changed).unwrap();
        let checked = run(dir.path(), "package --verify got").output().unwrap();
        assert_eq!(checked.status.code(), Some(1), "{name}");
        let text = String::from_utf8(checked.stdout).unwrap();
        // A changed list is known by the file that it no longer fits.
        let said = if name == "SHA256SUMS" { "manifest.json and SHA256SUMS" } else { name };
        assert_says(&text, &[said, "differs from the hand-off"]);
        fs::write(got.join(name), whole).unwrap();
    }
    run(dir.path(), "package --verify got").assert().success();
}

/// A .zip of those names, all with the same few bytes.
fn zip_of(path: &Path, names: &[&str]) {
    let mut zip = zip::ZipWriter::new(fs::File::create(path).unwrap());
    for name in names {
        zip.start_file(*name, zip::write::SimpleFileOptions::default()).unwrap();
        zip.write_all(b"x\n").unwrap();
    }
    zip.finish().unwrap();
}

#[test]
fn what_is_no_hand_off_is_refused_and_nothing_is_written() {
    let dir = TempDir::new().unwrap();
    let root = dir.path();
    for (name, entry) in
        [("up.zip", "a/../../up"), ("root.zip", "/etc/x"), ("back.zip", "a\\..\\x"), ("disk.zip", "c:/x")]
    {
        zip_of(&root.join(name), &["a/SHA256SUMS", entry]);
    }
    zip_of(&root.join("other.zip"), &["a/x", "a/y"]);
    put(root, "plain.zip", "no archive");
    put(root, "empty/x", "");
    put(root, "words/SHA256SUMS", "word  x\n");
    put(root, "leaves/SHA256SUMS", &format!("{}  ../x\n", sha256(b"")));
    let before = tree(root);
    let names = "up.zip root.zip back.zip disk.zip other.zip plain.zip none empty words leaves";
    let names: Vec<&str> = names.split(' ').collect();
    refusals("package_what_is_no_hand_off_is_refused_and_nothing_is_written", root, "package --verify", &names);
    assert!(tree(root) == before);
    #[cfg(unix)]
    {
        put(root, "linked/SHA256SUMS", &format!("{}  x\n", sha256(b"")));
        std::os::unix::fs::symlink("/etc/hostname", root.join("linked/x")).unwrap();
        assert_says(&refused(root, "package --verify linked"), &["linked/x: a link, which a hand-off never has"]);
    }
}

#[test]
fn reports_of_the_chain_go_into_the_hand_off() {
    let dir = show(|text| text);
    let root = dir.path();
    output(root, "chain chart show.toml --look night --camera a --display onset --size 960x540 --points 9");
    let capture = fs::read_dir(root.join("chart")).unwrap().map(|entry| entry.unwrap().path());
    let capture = capture.into_iter().find(|path| path.to_str().unwrap().ends_with("_expected.png")).unwrap();
    let capture = capture.strip_prefix(root).unwrap().to_str().unwrap().to_owned();
    let reports = "csv=chain.csv,json=chain.json,html=chain.html";
    let check = format!(
        "chain check show.toml --look night --camera a --display onset --points 9 box={capture} --format {reports}"
    );
    output(root, &check);
    output(root, "package show.toml --no-stress --out sent --chain chain.csv chain.json chain.html");
    let sent = tree(&root.join("sent"));
    let list: Value = serde_json::from_slice(&sent["manifest.json"]).unwrap();
    for name in ["chain.csv", "chain.json", "chain.html"] {
        assert!(sent[&format!("reports/{name}")] == fs::read(root.join(name)).unwrap(), "{name}");
        let is_listed = |f: &Value| f["file"] == format!("reports/{name}") && f["what"] == "check of the chain";
        assert!(list["files"].as_array().unwrap().iter().any(is_listed), "{name}: {list}");
    }
    assert!(String::from_utf8_lossy(&sent["reports/chain.csv"]).contains("box,chart/"));
    assert_says(&output(root, "package --verify sent"), &["all as in the hand-off"]);
    let before = tree(root);
    put(root, "other/chain.csv", "capture\n");
    for (args, said) in [
        ("chain.csv other/chain.csv", "the hand-off has reports/chain.csv already: rename it"),
        ("show.toml", "--chain: show.toml: the name must end in .csv, .html or .json"),
        ("absent.csv", "absent.csv"),
    ] {
        assert_says(&refused(root, &format!("package show.toml --no-stress --out again --chain {args}")), &[said]);
        fs::remove_dir_all(root.join("other")).ok();
        assert!(tree(root) == before, "{args}");
        put(root, "other/chain.csv", "capture\n");
    }
}

/// A .zip of a hand-off with other entries before its own.
fn zip_with(path: &Path, more: &[(&str, &str)]) {
    let mut zip = zip::ZipWriter::new(fs::File::create(path).unwrap());
    let options = zip::write::SimpleFileOptions::default();
    for (name, text) in more {
        zip.start_file(*name, options).unwrap();
        zip.write_all(text.as_bytes()).unwrap();
    }
    for (name, bytes) in tree(&made().path().join("sent")) {
        zip.start_file(format!("sent/{name}"), options).unwrap();
        zip.write_all(&bytes).unwrap();
    }
    zip.finish().unwrap();
}

#[test]
fn files_that_a_system_leaves_are_named_and_do_no_harm() {
    let dir = TempDir::new().unwrap();
    copy(&dir.path().join("got"));
    put(dir.path(), "got/.DS_Store", "x");
    put(dir.path(), "got/cubes/Thumbs.db", "x");
    let text = output(dir.path(), "package --verify got");
    assert_says(
        &text,
        &["all as in the hand-off", "  .DS_Store: not of this hand-off: the system", "  cubes/Thumbs.db: not of"],
    );
    zip_with(&dir.path().join("more.zip"), &[("__MACOSX/sent/._README.txt", "x"), ("sent/desktop.ini", "x")]);
    let text = output(dir.path(), "package --verify more.zip");
    assert_says(&text, &["all as in the hand-off", "  __MACOSX/sent/._README.txt: not of", "  desktop.ini: not of"]);
    zip_with(&dir.path().join("other.zip"), &[("sent/.hidden", "x")]);
    let checked = run(dir.path(), "package --verify other.zip").output().unwrap();
    assert_eq!(checked.status.code(), Some(1), "another file is not the hand-off's");
    // Beside the folder of the hand-off, as a second thing that somebody packed with it.
    zip_with(&dir.path().join("beside.zip"), &[("notes.txt", "x"), ("extra/a.cube", "x")]);
    let checked = run(dir.path(), "package --verify beside.zip").output().unwrap();
    assert_eq!(checked.status.code(), Some(1));
    let text = String::from_utf8(checked.stdout).unwrap();
    assert_says(&text, &["  ../extra/a.cube: not of this hand-off\n", "  ../notes.txt: not of this hand-off\n"]);
    assert_eq!(text.lines().count(), 3, "{text}");
}

/// A program that unpacks as it reads takes another file than one that goes by the directory.
#[test]
fn a_zip_that_can_be_read_in_two_ways_is_refused() {
    let dir = TempDir::new().unwrap();
    let name = "sent/README.txt";
    let bytes = {
        // The writer takes no name twice: another of the same length becomes it.
        zip_with(&dir.path().join("two.zip"), &[("sent/README.txu", "evil")]);
        fs::read(dir.path().join("two.zip")).unwrap()
    };
    let places: Vec<usize> = (0..bytes.len() - 15).filter(|at| bytes[*at..].starts_with(b"sent/README.txu")).collect();
    assert_eq!(places.len(), 2, "in its local header and in the directory");
    let renamed = |places: &[usize]| {
        let mut bytes = bytes.clone();
        places.iter().for_each(|at| bytes[*at..at + name.len()].copy_from_slice(name.as_bytes()));
        bytes
    };
    fs::write(dir.path().join("twice.zip"), renamed(&places)).unwrap();
    fs::write(dir.path().join("other.zip"), renamed(&places[..1])).unwrap();
    let both = ["twice.zip", "other.zip"];
    refusals("package_a_zip_that_can_be_read_in_two_ways_is_refused", dir.path(), "package --verify", &both);
}

#[cfg(unix)]
#[test]
fn a_pipe_in_a_received_folder_is_refused_not_waited_for() {
    let dir = TempDir::new().unwrap();
    copy(&dir.path().join("got"));
    fs::remove_file(dir.path().join("got/README.txt")).unwrap();
    let made = std::process::Command::new("mkfifo").arg(dir.path().join("got/README.txt")).status().unwrap();
    assert!(made.success());
    assert_says(&refused(dir.path(), "package --verify got"), &["got/README.txt: a pipe or a device"]);
    fs::rename(dir.path().join("got/README.txt"), dir.path().join("pipe.zip")).unwrap();
    assert_says(&refused(dir.path(), "package --verify pipe.zip"), &["pipe.zip: it is a pipe: a file is needed"]);
}

#[test]
fn a_hand_off_that_cannot_be_made_leaves_nothing() {
    let dir = show(|text| text);
    put(dir.path(), "there/file", "kept");
    put(dir.path(), "plain", "kept");
    let wrong = [
        "package",
        "package show.toml --out there",
        "package show.toml --out plain",
        "package show.toml --out new --date 2026-2-30",
        "package show.toml --out new --date 2026-02-30",
        "package show.toml --verify there",
        "package looks/night.toml --out new",
    ];
    refusals("package_a_hand_off_that_cannot_be_made_leaves_nothing", dir.path(), "", &wrong);
    let bad = show(|text| text.replace("name = \"12A-3\"", "name = \"12A-7\""));
    assert_says(
        &refused(bad.path(), "package show.toml --out new"),
        &["shots[0].name: `12A-7` is in no file of [cdl]"],
    );
    for dir in [&dir, &bad] {
        let names: Vec<String> =
            fs::read_dir(dir.path()).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
        assert!(!names.iter().any(|n| n == "new" || n.starts_with('.')), "{names:?}");
    }
    assert_eq!(fs::read(dir.path().join("there/file")).unwrap(), b"kept");
}

/// A space that an AMF cannot say: the shots' cubes are there, and the README says why no AMF is.
#[test]
fn a_correction_that_an_amf_cannot_say_is_in_the_cubes_alone() {
    let dir = show(|text| text.replacen("[cdl]", "[cdl]\nspace = \"camera\"", 1));
    output(dir.path(), "package show.toml --out sent");
    let files = tree(&dir.path().join("sent"));
    assert!(files.contains_key("shots/saltmarsh_12A-3_night_r4_a_onset_9.cube"));
    assert!(files.contains_key("amf/saltmarsh_night_r4_a_onset.amf"));
    assert!(!files.keys().any(|name| name.starts_with("amf/saltmarsh_12A")), "{:?}", files.keys());
    let readme = String::from_utf8(files["README.txt"].clone()).unwrap().replace('\n', " ");
    assert_says(&readme, &["No AMF for the shots", "before the look, on the camera's log signal, not clamped"]);
}

/// Its curve reaches further than the zones of a ladder can tell apart at a stop each.
#[test]
fn a_wide_curve_without_a_rating_is_handed_on_with_wider_zones() {
    let dir = saltmarsh();
    let show = SHOW.replace("curve = \"slog3\"\ngamut = \"sgamut3-cine\"", "curve = \"logc4\"\ngamut = \"awg4\"");
    assert_ne!(show, SHOW);
    put(dir.path(), "show.toml", &show);
    let said = output(dir.path(), "package show.toml --no-stress --out out");
    assert_says(&said, &["camera a has zones of 2 stops"]);
    let readme = fs::read_to_string(dir.path().join("out/README.txt")).unwrap();
    assert_says(&readme, &["camera a has zones of 2 stops"]);
    assert!(tree(&dir.path().join("out")).keys().any(|name| name.contains("_a_") && name.contains("ladder")));
}
