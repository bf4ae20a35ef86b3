//! Names of files that not every system can have: they are refused, or written as names that every system can have.

use rushlight::files::{is_barred, sha256};
use rushlight_tests::cdl::shots;
use rushlight_tests::scene::{NIGHT, SHOW, assert_says, files, output, put, refused, run, saltmarsh, small};
use std::fs;

/// A collection of corrections of these ids, the first of a slope of 1.1, the next of 1.2, and so on.
fn collection(ids: &[&str]) -> String {
    let one = |(i, id): (usize, &&str)| {
        let slope = format!("1.{}", i + 1);
        format!(
            "<ColorCorrection id=\"{id}\"><SOPNode><Slope>{slope} 1 1</Slope><Offset>0 0 0</Offset>\
             <Power>1 1 1</Power></SOPNode></ColorCorrection>"
        )
    };
    let all: String = ids.iter().enumerate().map(one).collect();
    format!("<ColorCorrectionCollection xmlns=\"urn:ASC:CDL:v1.2\">{all}</ColorCorrectionCollection>\n")
}

fn names(dir: &std::path::Path) -> Vec<String> {
    files(dir).into_keys().collect()
}

/// Some systems take `A001.cc` and `a001.cc` for one file: one of two corrections was lost there without a word.
#[test]
fn ids_that_differ_by_case_alone_are_never_one_file() {
    let dir = saltmarsh();
    let root = dir.path();
    put(root, "twice.ccc", &collection(&["A001", "a001", "b"]));
    let said = refused(root, "convert twice.ccc out/");
    assert_says(&said, &["corrections `A001` and `a001` would be one file", "--id"]);
    assert!(!root.join("out").exists());
    // As it says, one by one; and together in a file where ids are no names.
    output(root, "convert twice.ccc upper/ --id A001 --id b");
    output(root, "convert twice.ccc lower/ --id a001");
    assert_eq!(
        (names(&root.join("upper")), names(&root.join("lower"))),
        (vec!["A001.cc".into(), "b.cc".into()], vec!["a001.cc".into()])
    );
    assert_says(&fs::read_to_string(root.join("upper/A001.cc")).unwrap(), &["id=\"A001\"", "1.1"]);
    assert_says(&fs::read_to_string(root.join("lower/a001.cc")).unwrap(), &["id=\"a001\"", "1.2"]);
    output(root, "convert twice.ccc both.csv");
    assert_says(&fs::read_to_string(root.join("both.csv")).unwrap(), &["\nA001,", "\na001,"]);
    // Of the shots of a show each has files of its own.
    put(root, "show.toml", &format!("{SHOW}\n[[shots]]\nlist = \"twice.ccc\"\nlook = \"night\"\n"));
    let said = refused(root, "bake show.toml --shots");
    assert_says(&said, &["show.toml:", "shots[0].list: shots `a001` and `A001` would have the same file names"]);
    assert!(!root.join("cubes").exists());
}

#[test]
fn pictures_of_two_folders_are_never_one_file() {
    let dir = saltmarsh();
    let root = dir.path();
    let picture = fs::read(rushlight_tests::demo::folder().join("brackets/a_800_09.png")).expect("it is there");
    for name in ["one/A001.png", "two/a001.png", "two/A001.png"] {
        put(root, name, "");
        fs::write(root.join(name), &picture).unwrap();
    }
    let apply = "apply show.toml --look night --camera a --display onset --points 5";
    let said = refused(root, &format!("{apply} one/A001.png two/a001.png out/"));
    let both = "out/a001.png: one/A001.png and two/a001.png would both be written there";
    assert_says(&said, &[both, "there on systems that take names in any case"]);
    let said = refused(root, &format!("{apply} one/A001.png two/A001.png out/"));
    assert!(said.trim_end().ends_with("two/A001.png would both be written there"), "{said}");
    assert!(!root.join("out").exists());
    output(root, &format!("{apply} one/A001.png out/"));
    output(root, &format!("{apply} two/a001.png other/"));
    assert_eq!(
        (names(&root.join("out")), names(&root.join("other"))),
        (vec!["A001.png".into()], vec!["a001.png".into()])
    );
}

/// Windows has no files of these names, with any extension.
#[test]
fn ids_that_are_devices_become_names_of_files() {
    let dir = shots(|text| {
        text.replace("\"cdl/day3.ccc\"", "\"cdl/day3.ccc\", \"devices.ccc\"")
            .replace("name = \"12A-4\"\nid = \"none\"", "name = \"COM1\"")
    });
    let root = dir.path();
    put(root, "devices.ccc", &collection(&["nul", "COM1", "aux.2", "what?", "A002"]));
    let said = output(root, "convert devices.ccc out/");
    assert_says(&said, &["out/: 5 corrections"]);
    assert_eq!(names(&root.join("out")), ["-COM1.cc", "-aux.2.cc", "-nul.cc", "A002.cc", "what-.cc"]);
    // The id itself stays.
    assert_says(&fs::read_to_string(root.join("out/-COM1.cc")).unwrap(), &["id=\"COM1\"", "1.2 1 1"]);
    run(root, "bake show.toml --shots --display onset --points 5 --no-audit --out cubes").assert().success();
    let made = names(&root.join("cubes"));
    assert!(made.contains(&"saltmarsh_-COM1_night_r4_a_onset_5.cube".to_owned()), "{made:?}");
    assert!(made.iter().all(|name| !is_barred(name)), "{made:?}");
}

/// Whatever system a document was written on, it reads on all: no backslash, and no name that Windows has no file of.
#[test]
fn a_document_names_files_as_every_system_can_have_them() {
    let dir = shots(|text| text);
    let root = dir.path();
    let whole = fs::read_to_string(root.join("show.toml")).unwrap();
    // Where backslashes are letters these files are there, and are not read all the same.
    for name in [
        "looks\\night.toml",
        "cdl\\day3.ccc",
        "cdl\\day3.ale",
        "curves\\heron.toml",
        "looks/con.toml",
        "looks/night.toml.",
    ] {
        if cfg!(unix) {
            put(root, name, NIGHT);
        }
    }
    let slashes = "write the path with forward slashes, on every system: `";
    for (old, new, parts) in [
        ("\"looks/night.toml\"", "'looks\\night.toml'", ["looks.night: ", &*format!("{slashes}looks/night.toml`")]),
        ("\"looks/night.toml\"", "\"looks\\\\night.toml\"", ["looks.night: ", &*format!("{slashes}looks/night.toml`")]),
        // `\n` is the end of a line.
        ("\"looks/night.toml\"", "\"looks\\night.toml\"", ["looks.night: ", "so write forward slashes"]),
        (
            "\"curves/heron.toml\"",
            "'curves\\heron.toml'",
            ["cameras.b.curve: ", &*format!("{slashes}curves/heron.toml`")],
        ),
        ("\"cdl/day3.ccc\"", "'cdl\\day3.ccc'", ["cdl.files[0]: ", &*format!("{slashes}cdl/day3.ccc`")]),
        ("\"cdl/day3.ale\"", "'cdl\\day3.ale'", ["shots[2].list: ", &*format!("{slashes}cdl/day3.ale`")]),
        (
            "name = \"12A-3\"\n",
            "name = \"12A-3\"\nframe = 'stills\\12A-3.exr'\n",
            ["shots[0].frame: ", &*format!("{slashes}stills/12A-3.exr`")],
        ),
        (
            "\"looks/night.toml\"",
            "\"looks/con.toml\"",
            ["looks.night: ", "Windows can have no file of the name `con.toml`"],
        ),
        (
            "\"looks/night.toml\"",
            "\"looks/night.toml.\"",
            ["looks.night: ", "Windows can have no file of the name `night.toml.`"],
        ),
        (
            "name = \"12A-3\"\n",
            "name = \"12A-3\"\nframe = 'stills/aux.exr'\n",
            ["shots[0].frame: ", "no file of the name `aux.exr`"],
        ),
    ] {
        assert!(whole.contains(old), "{old}");
        put(root, "show.toml", &whole.replacen(old, new, 1));
        let line = whole
            .replacen(old, new, 1)
            .lines()
            .position(|line| line.contains(new.trim_end().lines().last().unwrap()))
            .unwrap()
            + 1;
        let said = refused(root, "bake show.toml --out cubes");
        assert_says(&said, &[&format!("show.toml:{line}:"), parts[0], parts[1]]);
        assert!(!root.join("cubes").exists(), "{new}");
    }
    // As it says.
    put(root, "show.toml", &whole);
    output(root, "bake show.toml --look night --camera a --display onset --no-audit --out cubes");
    let manifest = fs::read_to_string(root.join("cubes/manifest.json")).unwrap();
    assert!(manifest.contains("\"looks/night.toml\"") && !manifest.contains('\\'), "{manifest}");
}

/// A hand-off from elsewhere is not taken out of its folder, nor into a device.
#[test]
fn a_received_hand_off_of_such_names_is_refused() {
    let dir = saltmarsh();
    let root = dir.path();
    small(root, "small.toml", "[[bake]]\nlooks = ['plain']\npoints = 5\n");
    output(root, "package small.toml --no-stress --out sent");
    let [manifest, sums] =
        ["manifest.json", "SHA256SUMS"].map(|name| fs::read_to_string(root.join("sent").join(name)).unwrap());
    let old = "documents/looks/plain.toml";
    for (new, why) in [
        ("documents\\\\looks\\\\plain.toml", "a backslash: names have forward slashes"),
        ("documents/looks/COM1.toml", "a name that some systems have no file of"),
        ("documents/looks/plain.toml.", "a name that some systems have no file of"),
    ] {
        let manifest = manifest.replace(old, new);
        let sum = sha256(manifest.as_bytes());
        let listed = |line: &str| {
            if line.ends_with("  manifest.json") { format!("{sum}  manifest.json\n") } else { format!("{line}\n") }
        };
        put(root, "sent/manifest.json", &manifest);
        put(
            root,
            "sent/SHA256SUMS",
            &sums.replace(old, &new.replace("\\\\", "\\")).lines().map(listed).collect::<String>(),
        );
        assert_says(&refused(root, "package --verify sent"), &[why]);
    }
}
