//! `bake --fit`, `--shaper`, and what a bake advises.

use rushlight::format::clf::{Operation, read};
use rushlight_tests::scene::{assert_says, files, json, output, refused, saltmarsh};
use serde_json::Value;

const NIGHT: &str = "bake show.toml --look night --camera a --display onset --points 9";

fn mean(cube: &Value, set: &str, reader: &str) -> f64 {
    cube["audit"][set][reader]["mean"].as_f64().expect("a number")
}

#[test]
fn a_fit_brings_the_cube_nearer_and_says_so() {
    let dir = saltmarsh();
    let sampled = json(dir.path(), &format!("{NIGHT} --json"))["cubes"][0].clone();
    for reader in ["tetrahedral", "trilinear", "either"] {
        let fitted =
            json(dir.path(), &format!("{NIGHT} --fit --for {reader} --json --out {reader}"))["cubes"][0].clone();
        assert_eq!(fitted["fit"]["reader"], reader);
        assert_eq!(fitted["fit"]["nodes"], 729);
        let read: &[&str] = if reader == "either" { &["tetrahedral", "trilinear"] } else { &[reader] };
        for kind in read {
            let (after, before) = (mean(&fitted, "plausible", kind), mean(&sampled, "plausible", kind));
            assert!(after < 0.85 * before, "{reader} {kind}: {after} {before}");
        }
        let name = fitted["file"].as_str().expect("a name");
        let text = String::from_utf8(files(&dir.path().join(reader))[name].clone()).expect("ASCII");
        assert!(text.contains(&format!("# nodes: fitted for {reader} reading")), "{text:.800}");
    }
    assert!(sampled.get("fit").is_none());
    // The same bytes again.
    let first = files(&dir.path().join("either"));
    output(dir.path(), &format!("{NIGHT} --fit --for either --json --out again"));
    assert!(first == files(&dir.path().join("again")));
}

#[test]
fn a_shaper_stands_in_front_of_the_cube_in_a_clf() {
    let dir = saltmarsh();
    let sampled = json(dir.path(), &format!("{NIGHT} --json"))["cubes"][0].clone();
    let both = json(dir.path(), &format!("{NIGHT} --fit --shaper --format clf --json --out both"))["cubes"][0].clone();
    assert_eq!(both["shaper"], 1025);
    let (after, before) = (mean(&both, "plausible", "tetrahedral"), mean(&sampled, "plausible", "tetrahedral"));
    assert!(after < 0.6 * before, "{after} {before}");
    let text = &files(&dir.path().join("both"))[both["file"].as_str().expect("a name")];
    let list = read(text).expect("a CLF");
    let names: Vec<&str> = list.nodes.iter().map(|node| node.operation.name()).collect();
    assert_eq!(names, ["LUT1D", "LUT3D"]);
    let Operation::Lut1d(curves) = &list.nodes[0].operation else { unreachable!() };
    assert!(curves.rising() && curves.size() == 1025);
}

#[test]
fn what_goes_together_with_neither_is_refused_before_the_work() {
    let dir = saltmarsh();
    for (args, part) in [
        ("--shaper", "--shaper: a .cube holds either a cube or curves: add --format clf"),
        ("--shaper --format cube,clf", "--shaper: a .cube holds either a cube or curves"),
        ("--fit --points 66", "fit: takes 65 points at most, and 66 are asked for"),
    ] {
        let args = format!("bake show.toml --look night --camera a --display onset {args} --out none");
        assert_says(&refused(dir.path(), &args), &[part]);
    }
    assert!(!dir.path().join("none").exists());
}

#[test]
fn a_bake_ends_with_what_would_help_most() {
    let dir = saltmarsh();
    let report = output(dir.path(), NIGHT);
    let advice = report.split("\n\n").last().expect("a paragraph").replace('\n', " ");
    assert!(advice.starts_with("saltmarsh_night_r4_a_onset_9.cube: max "), "{advice}");
    assert!(
        advice.contains("Estimated mean: ")
            && advice.contains(" with 17 points")
            && advice.contains(" with a fit (--fit)"),
        "{advice}"
    );
    // The cube whose largest error is the largest, not the one that is off the most in the mean.
    let report = output(dir.path(), "bake show.toml --look night --camera a --points 9 --out several");
    for line in report.split("\n\n").filter(|part| part.starts_with("Largest error: ")) {
        let file = line.split_whitespace().nth(2).expect("a file").trim_end_matches(':');
        let max = |row: &str| row.split_whitespace().last().and_then(|v| v.parse::<f64>().ok());
        let table = report.split("\n\n").find(|part| part.contains("  max\n") && part.contains(&format!("  {file} ")));
        let rows: Vec<&str> = table.expect("its table").lines().skip(1).collect();
        let most = rows.iter().filter_map(|row| max(row)).fold(0.0, f64::max);
        let own = rows.iter().find(|row| row.trim_start().starts_with(file)).and_then(|row| max(row));
        assert_eq!(own, Some(most), "{report}");
    }
    assert!(report.contains("Largest error: "), "{report}");
    // What is there already is not advised again.
    let report = output(dir.path(), &format!("{NIGHT} --fit --shaper --format clf --out shaped"));
    let advice = report.split("\n\n").last().expect("a paragraph").replace('\n', " ");
    assert!(!advice.contains("--fit") && !advice.contains("--shaper"), "{advice}");
    // Without an audit nothing is known.
    assert!(!output(dir.path(), &format!("{NIGHT} --no-audit")).contains("Estimated mean"));
}
