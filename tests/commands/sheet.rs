//! `sheet`: the page and its figures against the other commands, the cubes of a bake, and wrong input.

use rushlight::files::sha256;
use rushlight::frame::{Depth, Format, Frame, Info, Tags, write};
use rushlight::gamut::AP1;
use rushlight_tests::scene::{
    NIGHT, assert_holds_to, assert_says, files, json, numbers, output, put, refused, refused_with, run, saltmarsh,
};
use serde_json::Value;
use std::fs;
use std::path::Path;

/// One look, one camera, one display.
const ONE: &str = "sheet show.toml --look night --camera a --display onset";

/// The show, and a still of eight by four pixels from black to four stops over grey.
fn with_frame() -> tempfile::TempDir {
    let dir = saltmarsh();
    let samples = (0..96).map(|i| (i / 3) as f32 * 0.09).collect();
    let [red, green, blue] = AP1.primaries;
    let tags = Tags { chromaticities: Some([red, green, blue, AP1.white]), ..Tags::default() };
    let info = Info { tags, ..Info::new(Format::Exr, Depth::Half) };
    let frame = Frame::new(8, 4, false, samples, info).expect("a frame");
    fs::write(dir.path().join("still.exr"), write(&frame, Format::Exr, Depth::Half).expect("it is written"))
        .expect("a file");
    dir
}

fn page(dir: &Path) -> String {
    fs::read_to_string(dir.join("sheet.html")).expect("the page")
}

/// Elements that have no end.
const VOID: [&str; 2] = ["meta", "img"];

/// Every start of an element, whose ends must stand in order; the name and the rest of each.
fn elements(page: &str) -> Vec<(&str, &str)> {
    let (mut open, mut all) = (Vec::new(), Vec::new());
    for part in page.strip_prefix("<!DOCTYPE html>").expect("a document type").split('<').skip(1) {
        // Style is no element's content: it has no `<`.
        let (tag, _) = part.split_once('>').expect("a tag ends");
        let (name, rest) = tag.split_once(char::is_whitespace).unwrap_or((tag, ""));
        if let Some(name) = name.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name), "an end of {name}");
        } else {
            if !VOID.contains(&name) && !rest.ends_with('/') {
                open.push(name);
            }
            all.push((name, rest));
        }
    }
    assert!(open.is_empty(), "{open:?} have no end");
    all
}

#[test]
fn the_page_is_one_file_whose_pictures_say_what_they_are() {
    let dir = with_frame();
    let text = output(dir.path(), &format!("{ONE} --frame still.exr"));
    assert_says(&text, &["look night, revision 4", "1 stop darker", "mid-grey"]);
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    let page = page(dir.path());
    let elements = elements(&page);
    // Before and after at the head; log, before and after, each with the still and the chart.
    let pictures: Vec<_> = elements.iter().filter(|(name, _)| *name == "img").collect();
    assert_eq!(pictures.len(), 8);
    for (_, rest) in pictures {
        assert!(rest.contains("alt=\"Frame: A camera, ") || rest.contains("alt=\"Chart: A camera, "), "{rest:.200}");
        assert!(rest.starts_with("src=\"data:image/"), "{rest:.60}");
    }
    // Signal, light, two casts, chroma, then the scopes of the frame; what each says stands first in it.
    let charts: Vec<_> = page.split("<svg xmlns").skip(1).collect();
    assert_eq!(charts.len(), 5 + 3);
    for (i, chart) in charts.into_iter().enumerate() {
        let said = chart.split("<title>").nth(1).and_then(|s| s.split("</title>").next()).expect("a title");
        assert!(said.len() > 60 && (i > 5 || said.contains("stops from mid-grey")), "{said}");
    }
    assert!(elements.iter().all(|(name, _)| !["script", "link", "iframe", "object"].contains(name)));
    let asked = page.split("src=").skip(1).chain(page.split("href=").skip(1)).chain(page.split("url(").skip(1));
    assert!(asked.into_iter().all(|to| to.trim_start_matches('"').starts_with(['#', 'd'])), "nothing from elsewhere");
    for said in ["0.06, green", "<b>Tint.</b>", "before, ", "revision <b>4</b>", "slog3, sgamut3-cine, full range"] {
        assert!(page.to_lowercase().contains(&said.to_lowercase()), "{said}");
    }
    assert!(files(dir.path()).keys().all(|name| ["show.toml", "still.exr", "sheet.html"].contains(&name.as_str())));
}

#[test]
fn its_figures_are_those_of_the_other_commands() {
    let dir = with_frame();
    let report = json(dir.path(), &format!("{ONE} --json"));
    assert_holds_to(dir.path(), "sheet", &report);
    let look = &report["looks"][0];
    let page = page(dir.path());
    // The checksum is that of the document as it lies there.
    let sum = sha256(NIGHT.as_bytes());
    assert_eq!(look["document"]["sha256"], sum.as_str());
    assert!(page.matches(&sum).count() >= 2, "at the top and among the files");
    assert!(!page.contains(&sha256(rushlight_tests::scene::PLAIN.as_bytes())), "no other look's files");
    let levels = look["displays"][0]["levels"].as_array().expect("levels");
    let cameras = json(dir.path(), "camera show.toml --camera a --json");
    let rows = cameras["cameras"][0]["tables"][0]["rows"].as_array().expect("rows");
    for stops in [-5.0, 0.0, 3.0] {
        let probed = json(
            dir.path(),
            &format!("probe show.toml --look night --camera a --display onset --stops {stops} --json"),
        );
        let out = numbers(&probed["colours"][0]["out"]);
        let level = levels.iter().find(|l| l["stops"] == stops).expect("the stop");
        let signal = numbers(&level["signal"]);
        assert!(out.iter().zip(&signal).all(|(a, b)| (a - b).abs() < 1e-9), "{stops}: {out:?} {signal:?}");
        let codes: Vec<String> = out.iter().map(|v| format!("{:.0}", 1023.0 * v)).collect();
        assert!(page.contains(&format!("<td>{}</td>", codes.join(" "))), "{stops}: {codes:?}");
        let row = rows.iter().find(|r| r["stops"] == stops).expect("the row");
        let camera =
            look["cameras"][0]["levels"].as_array().expect("levels").iter().find(|l| l["stops"] == stops).expect("it");
        let close = |key: &str| (camera[key].as_f64().unwrap() - row[key].as_f64().unwrap()).abs() < 1e-9;
        assert!(close("signal") && close("code_10"), "{camera} {row}");
        assert!(page.contains(&format!("<td class=\"first\">{:.0}</td>", row["code_10"].as_f64().unwrap())), "{stops}");
    }
    // BT.1886 at 100 nits: luminance is the weighted signal to the power of 2.4.
    let grey = levels.iter().find(|l| l["stops"] == 0.0).expect("mid-grey");
    let light: f64 = numbers(&grey["signal"])
        .iter()
        .zip([0.2126, 0.7152, 0.0722])
        .map(|(v, w)| w * rushlight::math::pow(*v, 2.4))
        .sum();
    assert!((grey["nits"].as_f64().unwrap() - 100.0 * light).abs() < 5e-3, "{grey}");
}

#[test]
fn cubes_are_those_of_the_bake() {
    let dir = saltmarsh();
    let cubes = |args: &str| -> Value { json(dir.path(), &format!("{args} --json"))["looks"][0]["cubes"].take() };
    // Every display of one camera; those of the other stay out.
    output(dir.path(), "bake show.toml --look night --camera a");
    let args = "sheet show.toml --look night --camera a";
    let from_folder = cubes(&format!("{args} --cubes cubes"));
    let manifest: Value = serde_json::from_slice(&fs::read(dir.path().join("cubes/manifest.json")).unwrap()).unwrap();
    let sums = |list: &Value| list.as_array().unwrap().iter().map(|c| c["sha256"].clone()).collect::<Vec<_>>();
    assert_eq!(sums(&from_folder), sums(&manifest["cubes"]));
    let p99 = |i: usize| &manifest["cubes"][i]["audit"]["plausible"]["tetrahedral"]["p99"];
    assert_eq!((&from_folder[0]["error"]["p99"], &from_folder[1]["error"]["p99"]), (p99(0), p99(1)));
    assert_eq!(cubes(args), from_folder, "without a folder: what bake would write");
    let page = page(dir.path());
    // On paper the last digits do not appear: they are in an element of their own.
    let whole = page.replace("<span class=\"rest\">", "");
    assert!(sums(&from_folder).iter().all(|sum| whole.contains(sum.as_str().unwrap())));
    assert!(page.contains("mapped to SDR"), "the second display is PQ");
    // The page that was there stays when the next one fails.
    let name = from_folder[0]["file"].as_str().unwrap().to_owned();
    let baked = fs::read_to_string(dir.path().join("cubes").join(&name)).unwrap();
    put(dir.path(), &format!("cubes/{name}"), &baked.replace("\n0.1", "\n0.2"));
    assert_says(&refused(dir.path(), &format!("{args} --cubes cubes")), &[&name, "bake again"]);
    put(dir.path(), "looks/night.toml", &NIGHT.replace("-1.0", "-1.5"));
    assert_says(
        &refused(dir.path(), &format!("{args} --cubes cubes")),
        &["looks/night.toml", "another version", "bake again"],
    );
    assert_eq!(fs::read_to_string(dir.path().join("sheet.html")).unwrap(), page);
}

#[test]
fn a_look_alone_has_a_sheet_and_its_title_cannot_break_the_page() {
    let dir = saltmarsh();
    put(
        dir.path(),
        "looks/odd.toml",
        "schema = 1\ngeneration = 2\ntitle = '<b>Odd & \"quoted\"</i>'\n[[step]]\ndo = 'tone'\n",
    );
    let args = "sheet looks/odd.toml --camera logc3+awg3 --display srgb --out out/odd.html";
    let text = output(dir.path(), args);
    assert_says(&text, &["out/odd.html", "neutral", "100 %"]);
    let page = fs::read_to_string(dir.path().join("out/odd.html")).expect("the page");
    elements(&page);
    assert!(page.contains("&lt;b&gt;Odd &amp; &quot;quoted&quot;&lt;/i&gt;") && !page.contains("<b>Odd"));
    assert!(page.contains("not measured: where the curve ends"));
    // The same bytes on any number of threads.
    run(dir.path(), args).env("RAYON_NUM_THREADS", "1").assert().success();
    assert_eq!(fs::read_to_string(dir.path().join("out/odd.html")).expect("the page"), page);
}

#[test]
fn wrong_input_is_refused_and_nothing_is_written() {
    let dir = with_frame();
    put(dir.path(), "note.txt", "no picture");
    let before = files(dir.path());
    for (args, parts) in [
        ("sheet show.toml --look dusk", &["--look", "dusk"][..]),
        ("sheet show.toml --out sheet.pdf", &["--out", ".html"]),
        ("sheet show.toml --pdf sheet.html", &["--pdf", ".pdf"]),
        ("sheet looks/night.toml", &["--camera", "--display"]),
        ("sheet nothing.toml", &["nothing.toml", "no such file"]),
        ("sheet show.toml --frame note.txt", &["note.txt"]),
        ("sheet show.toml --frame gone.exr", &["gone.exr", "no such file"]),
        ("sheet show.toml --cubes gone", &["manifest.json", "no such file"]),
    ] {
        assert_says(&refused(dir.path(), args), parts);
    }
    let mut command = run(dir.path(), &format!("{ONE} --pdf sheet.pdf"));
    command.env("PATH", dir.path());
    // Where a browser is installed without a place on the path, there is one all the same.
    if !cfg!(any(windows, target_os = "macos")) {
        assert_says(&refused_with(&mut command), &["--pdf", "chromium", "install one"]);
    }
    put(dir.path(), "cubes/manifest.json", "{}");
    assert_says(&refused(dir.path(), "sheet show.toml --cubes cubes"), &["manifest.json", "as the manifest of a bake"]);
    assert_eq!(files(dir.path()), before);
}

/// The frame that is given, in numbers; without one there is no side of scopes.
#[test]
fn a_frame_that_is_given_has_its_scopes() {
    let dir = with_frame();
    assert!(json(dir.path(), &format!("{ONE} --json"))["looks"][0].get("scopes").is_none());
    assert!(!page(dir.path()).contains("<h2>Scopes</h2>"));
    let report = json(dir.path(), &format!("{ONE} --frame still.exr --json"));
    let scopes = &report["looks"][0]["scopes"];
    assert_eq!(scopes.as_array().map(Vec::len), Some(1), "{scopes}");
    let one = &scopes[0];
    assert_eq!((&one["frame"], &one["camera"], &one["display"]), (&"still.exr".into(), &"a".into(), &"onset".into()));
    assert_eq!(one["pixels"], serde_json::json!([8, 4]));
    // Of greys of 0, 0.09, 0.18 ... 2.79, half lie up to 1.35, 2.907 stops over 0.18, and 19 of 20 up to 2.7, 3.907 stops: the
    // middles of their twelfths.
    let stops = numbers(&one["stops"]);
    assert!((stops[1] - 2.875).abs() < 1e-9 && (stops[2] - 3.875).abs() < 1e-9, "{stops:?}");
    let codes = numbers(&one["display_code_10"]);
    assert!(codes.windows(2).all(|two| two[0] < two[1]) && codes[2] < 1023.0, "{codes:?}");
    // One of 32 is black, and none is clipped.
    assert_eq!(
        (&one["under_floor"], &one["clipped"]),
        (&serde_json::json!([0.03125, 0.03125, 0.03125]), &serde_json::json!([0.0, 0.0, 0.0]))
    );
    let page = page(dir.path());
    assert_eq!(page.matches("<h2>Scopes</h2>").count(), 1);
    assert_eq!(page.matches("<image ").count(), 3);
    elements(&page);
}

/// The frames that the show has of its shots, each through its correction; one that is not there is left out, and said.
#[test]
fn the_frames_of_shots_have_their_scopes_and_notes() {
    let dir = crate::preview_shots::scene();
    let run = run(dir.path(), &format!("{ONE} --json")).assert().success();
    let said = String::from_utf8_lossy(&run.get_output().stderr).into_owned();
    assert_says(&said, &["no scopes of the shot 12A-3", "12A-3.png"]);
    let grey = |code: f32| {
        let info = Info::new(Format::Png, Depth::Integer(16));
        let frame = Frame::new(40, 20, false, vec![code; 2400], info).expect("a frame");
        fs::create_dir_all(dir.path().join("frames")).expect("a folder");
        let file = write(&frame, Format::Png, Depth::Integer(16)).expect("it is written");
        fs::write(dir.path().join("frames/12A-3.png"), file).expect("a file");
    };
    // The greys of S-Log3's table of code values (Sony, "Technical Summary for S-Gamut3.Cine/S-Log3 and S-Gamut3/S-Log3"):
    // 18 % is 420 of 1023, 90 % is 598, 2.32 stops over it.
    grey(598.0 / 1023.0);
    let report = json(dir.path(), &format!("{ONE} --json"));
    let look = &report["looks"][0];
    let shot =
        look["shots"].as_array().and_then(|all| all.iter().find(|shot| shot["name"] == "12A-3")).expect("the shot");
    let notes = &shot["notes"];
    assert_eq!(
        (&notes["reel"], &notes["note"], &notes["kelvin"]),
        (&"A001".into(), &"lantern in".into(), &4300.0.into())
    );
    assert!(page(dir.path()).contains("reel A001, 01:02:03:04, EI 800, 4300 K, lantern in"));
    let one = &look["scopes"][0];
    assert_eq!((&one["shot"], &one["frame"]), (&"12A-3".into(), &"frames/12A-3.png".into()));
    let stops = numbers(&one["stops"]);
    assert!(stops.iter().all(|stop| (stop - 2.32).abs() < 0.05), "{stops:?}");
}
