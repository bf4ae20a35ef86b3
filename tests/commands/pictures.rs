//! Two pictures compared, frames between a camera's signal and ACES light, and whose a file is.

use rushlight::camera::{Camera, Range};
use rushlight::difference::{Difference, Statistics};
use rushlight::display::{Display, standard};
use rushlight::frame::{Cicp, Depth, Format, Frame, Info, ReadOptions, Tags, description, read, write};
use rushlight::gamut::named_gamut;
use rushlight::slate::Slate;
use rushlight::transfer::encoding;
use rushlight_tests::scene::{assert_holds_to, assert_says, json, output, put, refusals, refused, run, saltmarsh};
use std::fs;
use std::path::Path;

const WIDTH: usize = 48;

fn ramp(by: f32) -> Vec<f32> {
    (0..WIDTH * 27 * 3).map(|i| (i * 37 % 211) as f32 / 211.0 * by).collect()
}

fn still(path: &Path, format: Format, depth: Depth, samples: Vec<f32>, tags: Tags) {
    let height = samples.len() / 3 / WIDTH;
    let frame = Frame::new(WIDTH, height, false, samples, Info { tags, ..Info::new(format, depth) }).unwrap();
    fs::write(path, write(&frame, format, depth).unwrap()).unwrap();
}

fn tags_of(name: &str) -> Tags {
    rushlight::apply::tags::tags(&Display::of(standard(name).unwrap()))
}

fn load(path: &Path) -> Frame {
    read(&fs::read(path).unwrap(), &ReadOptions::default()).unwrap()
}

#[test]
fn diff_compares_two_pictures_as_their_display_shows_them() {
    let dir = saltmarsh();
    let root = dir.path();
    let sixteen = Depth::Integer(16);
    still(&root.join("a.png"), Format::Png, sixteen, ramp(1.0), tags_of("bt709"));
    still(&root.join("b.tif"), Format::Tiff, sixteen, ramp(0.97), Tags::default());
    let report = json_of(root, "diff a.png b.tif --json", 1);
    assert_holds_to(root, "pictures", &report);
    assert_eq!(report["verdict"], "different");
    let pictures = &report["pictures"];
    // The same by the library's own difference, pixel by pixel.
    let difference = Difference::on(&Display::of(standard("bt709").unwrap()));
    let (a, b) = (load(&root.join("a.png")), load(&root.join("b.tif")));
    let place = |rgb: [f32; 3]| difference.place(rgb.map(f64::from));
    let each: Vec<f64> = a.pixels().zip(b.pixels()).map(|(a, b)| difference.between(place(a), place(b))).collect();
    let want = Statistics::of(&each);
    for (name, want) in [("mean", want.mean), ("p95", want.p95), ("p99", want.p99), ("max", want.max)] {
        assert!((pictures[name].as_f64().unwrap() - want).abs() < 1e-4, "{name}: {pictures}");
    }
    assert_eq!(pictures["worst_at"], serde_json::json!([want.worst % WIDTH, want.worst / WIDTH]));
    assert_says(report["display"].as_str().unwrap(), &["bt709", "of a.png", "the other picture does not say it"]);
    // Verdicts and exit codes.
    let text = text_of(root, "diff a.png b.tif", 1);
    assert_says(
        &text,
        &[
            "a.png -> b.tif: different",
            "more than a careful eye just sees",
            "from the left, from the top",
            "CIEDE2000: mean",
        ],
    );
    assert_says(&text_of(root, "diff a.png b.tif --limit max=50", 0), &["within the limits"]);
    assert_says(
        &text_of(root, "diff a.png b.tif --limit mean=0.01", 1),
        &["beyond the limits", "limit", "and mean=0.01 is allowed"],
    );
    assert_says(&text_of(root, "diff a.png a.png", 0), &["identical", "Every sample is the same."]);
    assert_says(&text_of(root, "diff a.png b.tif --display bt2100-pq --exit-zero", 0), &["Delta E ITP: mean"]);
    text_of(root, "diff a.png b.tif --format html=page.html", 1);
    let page = fs::read_to_string(root.join("page.html")).unwrap();
    assert_eq!(page.matches("<img src=\"data:image/png").count(), 3);
}

#[test]
fn pictures_that_cannot_be_compared_are_refused() {
    let dir = saltmarsh();
    let root = dir.path();
    let sixteen = Depth::Integer(16);
    still(&root.join("a.png"), Format::Png, sixteen, ramp(1.0), tags_of("bt709"));
    still(&root.join("pq.png"), Format::Png, sixteen, ramp(1.0), tags_of("bt2100-pq"));
    still(&root.join("b.tif"), Format::Tiff, sixteen, ramp(1.0), Tags::default());
    still(&root.join("small.tif"), Format::Tiff, sixteen, ramp(1.0)[..WIDTH * 3 * 20].to_vec(), Tags::default());
    let linear = Tags { cicp: Some(Cicp::rgb(9, 8)), ..Tags::default() };
    still(&root.join("light.png"), Format::Png, sixteen, ramp(1.0), linear);
    refusals(
        "pictures_pictures_that_cannot_be_compared_are_refused",
        root,
        "",
        &[
            "diff b.tif b.tif",
            "diff a.png pq.png",
            "diff light.png b.tif",
            "diff a.png small.tif",
            "diff a.png b.tif --format junit",
            "diff a.png b.tif --limit skin.max=1",
            "diff a.png b.tif --display x",
        ],
    );
}

fn text_of(root: &Path, args: &str, code: i32) -> String {
    let done = run(root, args).output().unwrap();
    assert_eq!(done.status.code(), Some(code), "{args}: {}", String::from_utf8_lossy(&done.stderr));
    String::from_utf8(done.stdout).unwrap()
}

fn json_of(root: &Path, args: &str, code: i32) -> serde_json::Value {
    serde_json::from_str(&text_of(root, args, code)).unwrap()
}

/// A frame of a camera becomes an ACES frame by the camera's published curve and gamut, and the same codes again.
#[test]
fn a_cameras_frame_becomes_an_aces_frame_and_back() {
    let dir = saltmarsh();
    let root = dir.path();
    let samples: Vec<f32> =
        (0..WIDTH * 9 * 3).map(|i| ((100 + i * 13 % 800) as f32 / 1023.0 * 65535.0).round() / 65535.0).collect();
    still(&root.join("log.tif"), Format::Tiff, Depth::Integer(16), samples, Tags::default());
    let said = output(root, "convert log.tif aces.exr --camera slog3+sgamut3-cine");
    assert_says(&said, &["signal of camera slog3+sgamut3-cine to light of aces-ap0, an ACES frame"]);
    let aces = load(&root.join("aces.exr"));
    assert_eq!(aces.info.depth, Depth::Half);
    let curve = encoding("slog3").unwrap().build(None).unwrap();
    let gamut = &named_gamut("sgamut3-cine").unwrap().gamut;
    let camera = Camera::new(curve, gamut, None, Range::Full, Vec::new()).unwrap();
    let ap0 = &named_gamut("aces-ap0").unwrap().gamut;
    let matrix = named_gamut("aces-ap1").unwrap().gamut.to(ap0, None);
    for (signal, got) in load(&root.join("log.tif")).pixels().zip(aces.pixels()) {
        let light = camera.decode(signal.map(f64::from)).0;
        let want: [f64; 3] = std::array::from_fn(|row| (0..3).map(|c| matrix[(row, c)] * light[c]).sum());
        for c in 0..3 {
            // A half has 11 bits.
            let off = (f64::from(got[c]) - want[c]).abs();
            assert!(off <= want[c].abs() / 2048.0 + 1e-6, "{signal:?}: {got:?} for {want:?}");
        }
    }
    output(root, "convert aces.exr back.tif --camera slog3+sgamut3-cine");
    // A dark channel beside a bright one is held no better than the bright one's half.
    for (then, now) in load(&root.join("log.tif")).pixels().zip(load(&root.join("back.tif")).pixels()) {
        let [then, now] = [then, now].map(|signal| camera.decode(signal.map(f64::from)));
        let brightest = then.iter().fold(0.0, |most: f64, v| most.max(v.abs()));
        assert!((0..3).all(|c| (then[c] - now[c]).abs() <= brightest / 512.0 + 1e-4), "{then:?} {now:?}");
    }
    // A camera of a show, and AP1.
    output(root, "convert log.tif ap1.exr --show show.toml --camera a --linear aces-ap1");
    let light = load(&root.join("ap1.exr")).rgb(5, 5);
    let want = camera.decode(load(&root.join("log.tif")).rgb(5, 5).map(f64::from));
    assert!(
        (0..3).all(|c| (f64::from(light[c]) - want[c]).abs() <= want[c].abs() / 2048.0 + 1e-6),
        "{light:?} {want:?}"
    );
    // Every attribute of the container: a flag, the primaries, no compression.
    let bytes = fs::read(root.join("aces.exr")).unwrap();
    let has = |part: &[u8]| bytes.windows(part.len()).any(|window| window == part);
    assert!(
        has(b"acesImageContainerFlag\0int\0\x04\0\0\0\x01\0\0\0") && has(b"compression\0compression\0\x01\0\0\0\0")
    );
    assert!(has(b"adoptedNeutral\0v2f\0\x08\0\0\0") && has(b"lineOrder\0lineOrder\0\x01\0\0\0\0"));
}

#[test]
fn frames_that_do_not_say_what_they_are_are_asked_about() {
    let dir = saltmarsh();
    let root = dir.path();
    let (log, sixteen) = (ramp(0.7), Depth::Integer(16));
    still(&root.join("log.tif"), Format::Tiff, sixteen, log.clone(), Tags::default());
    still(&root.join("log.exr"), Format::Exr, Depth::Half, log, Tags::default());
    still(&root.join("shown.png"), Format::Png, sixteen, ramp(1.0), tags_of("bt709"));
    let asked = "give --frame-camera NAME for a camera's signal, or --frame-linear GAMUT for light";
    for (name, part) in [
        ("log.tif", "without colour tags"),
        ("log.exr", "may hold a camera's log signal"),
        ("shown.png", "it is display signal for bt709"),
    ] {
        let said = refused(root, &format!("sheet show.toml --look plain --display onset --frame {name}"));
        assert_says(&said.replace('\n', " "), &[part]);
        assert_says(&said.split_whitespace().collect::<Vec<_>>().join(" "), &[asked]);
    }
    assert!(!root.join("sheet.html").exists());
    let done =
        run(root, "sheet show.toml --look plain --display onset --frame log.tif --frame-camera a").output().unwrap();
    assert_eq!(done.status.code(), Some(0));
    assert_says(&String::from_utf8_lossy(&done.stderr), &["log.tif: taken for the signal of camera a"]);
    assert_says(&refused(root, "convert log.tif x.exr"), &["log.tif: a TIFF without colour tags", "give --camera"]);
    for camera in ["", " --camera slog3+sgamut3"] {
        let said = refused(root, &format!("convert shown.png x.exr{camera}"));
        assert_says(&said, &["it is display signal for bt709", "a finished picture is not converted to light"]);
    }
    assert_says(&refused(root, "convert log.exr x.tif"), &["x.tif: a still of a camera's signal: give --camera"]);
    assert_says(
        &refused(root, "convert log.exr x.tif --camera slog3+sgamut3"),
        &["light with chromaticities is needed"],
    );
    assert_says(
        &refused(root, "sheet show.toml --frame log.tif --frame-camera c"),
        &["--frame-camera: unknown camera `c`"],
    );
}

/// A file says whose it is, and is found out when the show goes on without it.
#[test]
fn inspect_says_whose_a_file_is_and_whether_it_is_current() {
    let dir = saltmarsh();
    let root = dir.path();
    still(&root.join("log.tif"), Format::Tiff, Depth::Integer(16), ramp(0.7), Tags::default());
    output(
        root,
        "bake show.toml --look night --camera a --display onset --no-audit --points 5 --format cube --format clf",
    );
    let how = "apply show.toml --look night --camera a --display onset log.tif";
    for name in ["shown.png", "shown.exr", "shown.tif", "shown.jpg"] {
        output(root, &format!("{how} {name}"));
        let slate = description(&load(&root.join(name)).info)
            .as_deref()
            .and_then(Slate::parse)
            .unwrap_or_else(|| panic!("{name}"));
        assert_eq!(slate.get("show"), Some("Saltmarsh"), "{name}");
    }
    let baked: Vec<String> = fs::read_dir(root.join("cubes"))
        .unwrap()
        .map(|e| format!("cubes/{}", e.unwrap().file_name().to_str().unwrap()))
        .filter(|n| !n.ends_with(".json"))
        .collect();
    assert_eq!(baked.len(), 2, "{baked:?}");
    let files: Vec<String> =
        baked.into_iter().chain(["shown.png", "shown.exr", "shown.tif", "shown.jpg"].map(str::to_owned)).collect();
    for name in &files {
        let text = output(root, &format!("inspect {name} --show show.toml"));
        assert_says(
            &text,
            &[
                "current        yes",
                "show: Saltmarsh",
                "look: Night exterior, revision 4",
                "source: looks/night.toml sha256",
            ],
        );
    }
    assert_says(&output(root, "inspect shown.exr"), &["samples        display signal for bt709, by its description"]);
    // The look changes: what was made of it is no longer current.
    let look = fs::read_to_string(root.join("looks/night.toml")).unwrap();
    put(root, "looks/night.toml", &look.replace("stops = -1.0", "stops = -0.5"));
    for name in &files {
        let text = text_of(root, &format!("inspect {name} --show show.toml"), 1);
        assert_says(
            &text.split_whitespace().collect::<Vec<_>>().join(" "),
            &["current no: `looks/night.toml` has changed since it was made"],
        );
    }
    let report = json_of(root, "inspect shown.png --show show.toml --json", 1);
    assert_holds_to(root, "inspect", &report);
    assert_eq!(report["slate"]["current"], false);
    assert_eq!((&report["samples"], &report["bits"]), (&"display signal for bt709".into(), &16.into()));
    // A file that says nothing is not called current.
    assert_says(&text_of(root, "inspect log.tif --show show.toml", 1), &["current        not known"]);
    assert_says(&refused(root, "inspect show.toml"), &["show.toml is a document, not a table"]);
    let report = json(root, "inspect log.tif --json");
    assert_holds_to(root, "inspect", &report);
    assert_eq!((&report["samples"], &report["slate"]["version"]), (&serde_json::Value::Null, &serde_json::Value::Null));
}
