//! Mistakes that people make on set and at night, and the errors for them: the place, the mistake, and what would be right.

use rushlight_tests::scene::{NIGHT, assert_says, output, put, refusals, refused, run, saltmarsh};
use std::fs;

const HEAD: &str = "schema = 1\ntitle = \"Mistakes\"\n";
const REST: &str = "[displays.d]\nstandard = \"bt709\"\n[looks]\nnight = \"looks/night.toml\"\n";

/// A show of one camera, with these lines in its table.
fn show(camera: &str) -> String {
    format!("{HEAD}[cameras.a]\n{camera}{REST}")
}

const CURVE: &str = "schema = 1\ntitle = \"measured\"\nsource = \"my bracket\"\n[table]\npoints = ";
const CODES: &str = "[[-6, 95], [-4, 150], [-2, 280], [0, 420], [2, 560], [4, 720], [6, 880]]\n";

/// Every command refuses a curve in codes alike, and takes it once it says so.
#[test]
fn a_curve_in_codes_is_refused_by_every_command() {
    let dir = saltmarsh();
    put(dir.path(), "c.toml", &format!("{CURVE}{CODES}"));
    put(
        dir.path(),
        "show.toml",
        &show("curve = \"c.toml\"\ngamut = \"aces-ap1\"\nrating = [{ ei = 800, clip = 0.7 }]\n"),
    );
    let said = "c.toml:5:10: table.points: a signal is 0 to 1, not 880: these look like codes of 10 bits: divide by 1023, or set `codes = 10`";
    for command in [
        "bake show.toml --points 5",
        "stress show.toml",
        "sheet show.toml",
        "camera show.toml",
        "probe show.toml 0.4 0.4 0.4",
        "curve c.toml",
    ] {
        assert_says(&refused(dir.path(), command), &[said]);
    }
    put(dir.path(), "c.toml", &format!("{CURVE}{CODES}codes = 10\n"));
    output(dir.path(), "bake show.toml --points 5 --no-audit");
    let text = output(dir.path(), "camera show.toml");
    assert!(text.contains("420") && !text.contains("inf"), "{text}");
}

/// All that is wrong in one table, at once.
#[test]
fn mistakes_of_one_table_are_found_in_one_round() {
    let dir = saltmarsh();
    put(dir.path(), "show.toml", &show("range = \"fulll\"\ngamut = \"sgamut9\"\nlens = 3\n"));
    assert_says(
        &refused(dir.path(), "bake show.toml"),
        &[
            "cameras.a: missing key `curve`",
            "cameras.a.range: unknown range `fulll`",
            "cameras.a.gamut: unknown gamut `sgamut9`",
            "cameras.a.lens: unknown key `lens`",
        ],
    );
    put(dir.path(), "show.toml", &show("curve = \"mylog\"\ngamut = \"sgamut3\"\nrange = 3\n"));
    let said = refused(dir.path(), "bake show.toml");
    assert_says(
        &said,
        &[
            "cameras.a.curve: unknown curve `mylog`: it must be one of",
            "or the path of a curve file (.toml)",
            "cameras.a.range",
        ],
    );
    assert!(!said.contains("did you mean"), "{said}");
    let camera = "curve = \"slog3\"\ngamut = \"sgamut3\"\n";
    put(dir.path(), "show.toml", &show(camera).replace("\"bt709\"", "\"P3\"\npeak = -4"));
    let said = refused(dir.path(), "bake show.toml");
    assert_says(
        &said,
        &["displays.d.standard: unknown display `P3`: did you mean `p3-d65` or `p3-dci`?", "displays.d.peak: -4"],
    );
    assert!(!said.contains("displays.d.black"), "what a wrong peak does to the black is no mistake of its own: {said}");
    put(
        dir.path(),
        "looks/night.toml",
        &NIGHT.replacen("[[step]]", "[[step]]\ndo = \"contrast\"\namount = 99\npivot = \"x\"\nways = 1\n[[step]]", 1),
    );
    let said = refused(dir.path(), "probe looks/night.toml --camera slog3+sgamut3 --display bt709 0.4 0.4 0.4");
    assert_says(&said, &["step[0].amount: 99 is out of range", "step[0].pivot: is", "step[0].ways: unknown key"]);
}

#[test]
fn the_place_and_the_mistake_are_said() {
    let dir = saltmarsh();
    let root = dir.path();
    put(root, "curves/harbour.toml", &format!("{CURVE}[[-6, 0.1], [0, 0.4], [6, 0.9]]\n"));
    put(root, "merge.toml", &format!("{HEAD}<<<<<<< HEAD\n{REST}=======\n{REST}>>>>>>> night\n"));
    put(
        root,
        "twice.toml",
        &format!(
            "{}[cameras.a]\ncurve = \"vlog\"\ngamut = \"vgamut\"\n",
            show("curve = \"vlog\"\ngamut = \"vgamut\"\n")
        ),
    );
    put(root, "near.toml", &show("curve = \"curves/harbor.toml\"\ngamut = \"vgamut\"\n"));
    put(root, "back.toml", &show("curve = 'curves\\harbour.toml'\ngamut = \"vgamut\"\n"));
    put(root, "device.toml", &show("curve = \"curves/aux.toml\"\ngamut = \"vgamut\"\n"));
    put(root, "curves/aux.toml", "title = \"Windows cannot have it\"");
    put(root, "question.toml", &show("curve = \"which?/harbour.toml\"\ngamut = \"vgamut\"\n"));
    put(root, "newline.toml", &show("curve = \"curves\\new.toml\"\ngamut = \"vgamut\"\n"));
    put(root, "long.toml", &show("curve = \"vlog\"\ngamut = \"vgamut\"\n").replace("Mistakes", &"a".repeat(201)));
    put(root, "name.toml", &show("curve = \"vlog\"\ngamut = \"vgamut\"\n").replace("Mistakes", &"a".repeat(190)));
    put(root, "large.toml", &format!("{HEAD}{}", "# all of it\n".repeat(200_000)));
    put(root, "frame.exr", "v/1");
    put(root, "day.ccc", "<x/>");
    fs::write(root.join("word.cube"), "root:x:0:0:root:/root:/bin/sh\n").unwrap();
    put(
        root,
        "looks/cube.toml",
        &NIGHT.replacen("[[step]]", "[[step]]\ndo = \"cube\"\nfile = \"../word.cube\"\nstage = \"scene\"\n[[step]]", 1),
    );
    refusals(
        "mistakes_the_place_and_the_mistake_are_said",
        root,
        "",
        &[
            "bake merge.toml",
            "bake twice.toml",
            "bake near.toml",
            "bake back.toml",
            "bake device.toml",
            "bake question.toml",
            "bake newline.toml",
            "bake long.toml",
            "bake name.toml",
            "bake large.toml",
            "bake frame.exr",
            "bake day.ccc",
            "bake curves/harbour.toml",
            "bake show.toml --camera z",
        ],
    );
    let said = refused(root, "probe looks/cube.toml --camera slog3+sgamut3 --display bt709 0.4 0.4 0.4");
    assert!(said.contains("is it a cube?") && !said.contains("root"), "a file that is no cube keeps its words: {said}");
    assert!(!root.join("cubes").exists(), "nothing is written");
}

/// A document can neither clear the screen, nor set the window's title, nor write a line of its own.
#[test]
fn control_characters_of_documents_do_not_reach_a_terminal() {
    let dir = saltmarsh();
    let root = dir.path();
    let key = "\"\\u001b[2J\\u001b]0;pwn\\u0007\" = 1\n";
    put(root, "key.toml", &format!("{HEAD}{key}[[step]]\ndo = \"print\"\n"));
    put(root, "title.toml", &show("curve = \"vlog\"\ngamut = \"vgamut\"\n").replace("Mistakes", "a\\u001b[2J"));
    put(
        root,
        "esc.ccc",
        "<ColorCorrectionCollection><ColorCorrection id='a\u{9b}2J'><SatNode><Saturation>1</Saturation></SatNode></ColorCorrection></ColorCorrectionCollection>",
    );
    for command in ["bake key.toml", "bake title.toml", "inspect esc.ccc"] {
        let done = run(root, command).output().unwrap();
        assert_eq!(done.status.code(), Some(2), "{command}");
        let said = [done.stdout, done.stderr].concat();
        let odd = String::from_utf8(said).unwrap().chars().find(|c| c.is_control() && *c != '\n');
        assert_eq!(odd, None, "{command}");
    }
    let long = "k".repeat(1 << 20);
    put(root, "long.toml", &format!("{HEAD}{long} = 1\n[[step]]\ndo = \"print\"\n"));
    let said = refused(root, "bake long.toml");
    assert!(said.len() < 2000, "{} letters", said.len());
}
