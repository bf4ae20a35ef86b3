//! Reading, writing and evaluating, node by node, against numbers worked out by hand or by the specification's formulas.

use super::*;
use rushlight_colour::math;

/// A file with one node.
fn one(node: &str) -> String {
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<ProcessList id=\"t\" compCLFversion=\"3.0\">\n{node}\n</ProcessList>\n"
    )
}

fn list(node: &str) -> ProcessList {
    let list = read(one(node).as_bytes()).unwrap_or_else(|e| panic!("{e}\n{node}"));
    // What is written reads as the same, tables as the 32-bit floats that they are in a file.
    let again = read(list.to_xml().as_bytes()).unwrap();
    assert!(again.to_xml() == list.to_xml());
    for rgb in [[0.1, 0.5, 0.9], [-0.2, 0.3, 1.4]] {
        let (a, b) = (list.apply(rgb), again.apply(rgb));
        assert!((0..3).all(|c| (a[c] - b[c]).abs() <= 1e-7 * (1.0 + a[c].abs())), "{rgb:?}: {a:?} and {b:?}");
    }
    list
}

fn check(node: &str, cases: &[([f64; 3], [f64; 3])]) {
    let list = list(node);
    for (input, want) in cases {
        let got = list.apply(*input);
        assert!((0..3).all(|c| (got[c] - want[c]).abs() < 1e-12), "{input:?} gave {got:?} for {want:?}\n{node}");
    }
}

fn refused(text: &str, line: usize, message: &str) {
    let error = read(text.as_bytes()).unwrap_err();
    assert!(error.line == line && error.message.contains(message), "{error}, for line {line}: {message}");
}

const FLOAT: &str = "inBitDepth=\"32f\" outBitDepth=\"32f\"";

#[test]
fn blue_changes_fastest_in_a_lut3d() {
    // Each node says its own index: red 4, green 2, blue 1, in 10 bits.
    let rows: String = (0..8).map(|i| format!("{} {} {}\n", 1023 * (i >> 2), 1023 * (i >> 1 & 1), 0)).collect();
    let node = format!(
        "<LUT3D inBitDepth=\"8i\" outBitDepth=\"10i\" interpolation=\"tetrahedral\"><Array dim=\"2 2 2 3\">\n{rows}</Array></LUT3D>"
    );
    check(
        &node,
        &[
            ([1.0, 0.0, 0.0], [1.0, 0.0, 0.0]),
            ([0.25, 0.5, 1.0], [0.25, 0.5, 0.0]),
            ([2.0, -1.0, 0.0], [1.0, 0.0, 0.0]),
        ],
    );
    // Trilinear where it names none.
    let node = node.replace(" interpolation=\"tetrahedral\"", "");
    assert!(matches!(&list(&node).nodes[0].operation, Operation::Lut3d(_, Interpolation::Trilinear)));
}

#[test]
fn a_lut1d_has_one_column_or_three() {
    let node = "<LUT1D inBitDepth=\"32f\" outBitDepth=\"8i\"><Array dim=\"3 1\">0 51 255</Array></LUT1D>";
    check(node, &[([0.25, 0.5, 2.0], [0.1, 0.2, 1.0])]);
    let node = format!("<LUT1D {FLOAT}><Array dim=\"2 3\">0 1 0.5\n1 0 0.5</Array></LUT1D>");
    check(&node, &[([0.25, 0.25, 0.25], [0.25, 0.75, 0.5])]);
}

#[test]
fn a_lut1d_by_half_floats_goes_by_bit_patterns() {
    // Pattern 15360 is 1.0, pattern 14336 is 0.5: the table gives every half float itself, as raw patterns.
    let entries: String = (0..65536).map(|i| format!("{}\n", if i & 0x7c00 == 0x7c00 { 0 } else { i })).collect();
    let node = format!(
        "<LUT1D {FLOAT} halfDomain=\"true\" rawHalfs=\"true\"><Array dim=\"65536 1\">\n{entries}</Array></LUT1D>"
    );
    check(
        &node,
        &[
            ([1.0, 0.5, -3.25], [1.0, 0.5, -3.25]),
            ([0.1, 100.3, 0.0], [0.1, 100.3, 0.0]),
            ([1e9, f64::NAN, -1e9], [65504.0, 0.0, -65504.0]),
        ],
    );
}

#[test]
fn a_matrix_carries_the_ratio_of_the_depths() {
    // The specification's own case: 4095/1023 leaves colours as they are from 10i to 12i.
    let k = 4095.0 / 1023.0;
    let node = format!(
        "<Matrix inBitDepth=\"10i\" outBitDepth=\"12i\"><Array dim=\"3 4\">{k} 0 0 0 0 {k} 0 0 0 0 {k} 409.5</Array></Matrix>"
    );
    check(&node, &[([0.2, 0.4, 0.6], [0.2, 0.4, 0.7])]);
    // dim lacks its third number.
    let node = format!("<Matrix {FLOAT}><Array dim=\"3 3 3\">0 1 0 1 0 0 0 0 2</Array></Matrix>");
    check(&node, &[([0.1, 0.2, 0.3], [0.2, 0.1, 0.6])]);
}

#[test]
fn numbers_are_written_as_they_were_read_whatever_the_depths() {
    for (from, to) in [("12i", "32f"), ("10i", "8i"), ("16i", "12i"), ("32f", "10i"), ("8i", "16i"), ("16f", "32f")] {
        for n in 1..400u32 {
            let v = (42_240_000.0 / f64::from(n * n)).round() / 1e3;
            let depths = format!("inBitDepth=\"{from}\" outBitDepth=\"{to}\"");
            let rows = format!("{v} 0 -{} {n}\n0 0.000244201 0 0.1\n0 0 1 {v}\n", v + 0.0007);
            let matrix = list(&format!("<Matrix {depths}><Array dim=\"3 4\">\n{rows}</Array></Matrix>"));
            let text = matrix.to_xml();
            assert!(text.lines().map(str::trim).filter(|l| !l.starts_with('<')).eq(rows.lines()), "{text}for\n{rows}");
            let bounds =
                [("minIn", v - 1.0), ("maxIn", v), ("minOut", 0.07 * f64::from(n)), ("maxOut", 0.7 * f64::from(n))]
                    .map(|(name, value)| format!("<{name}Value>{value:.4}</{name}Value>"));
            let range = list(&format!("<Range {depths}>{}</Range>", bounds.concat()));
            for one in [matrix, range] {
                assert_eq!(read(one.to_xml().as_bytes()).unwrap(), one);
            }
        }
    }
}

#[test]
fn a_range_scales_and_limits() {
    let legal = "<Range inBitDepth=\"10i\" outBitDepth=\"10i\"><minInValue>64</minInValue><maxInValue>940</maxInValue><minOutValue>0</minOutValue><maxOutValue>1023</maxOutValue></Range>";
    check(legal, &[([64.0 / 1023.0, 502.0 / 1023.0, 1.0], [0.0, 0.5, 1.0])]);
    let free = legal.replace("<Range", "<Range style=\"noClamp\"");
    check(&free, &[([0.0, 940.0 / 1023.0, 1.0], [-64.0 / 876.0, 1.0, 959.0 / 876.0])]);
    let floor = format!("<Range {FLOAT}><minInValue>0.1</minInValue><minOutValue>0.1</minOutValue></Range>");
    check(&floor, &[([0.0, 0.1, 3.0], [0.1, 0.1, 3.0])]);
}

#[test]
fn logs_floor_their_argument_and_camera_logs_meet_their_line() {
    check(&format!("<Log {FLOAT} style=\"log10\"/>"), &[([0.01, 1.0, 100.0], [-2.0, 0.0, 2.0])]);
    check(&format!("<Log {FLOAT} style=\"antiLog2\"/>"), &[([-1.0, 0.0, 3.0], [0.5, 1.0, 8.0])]);
    let least = math::log2(f64::from(f32::MIN_POSITIVE));
    check(&format!("<Log {FLOAT} style=\"log2\"/>"), &[([0.0, -1.0, 4.0], [least, least, 2.0])]);
    // ACEScct by Academy S-2016-001, constants as printed there: the line and the logarithm, in one node.
    let cct = format!(
        "<Log {FLOAT} style=\"cameraLinToLog\"><LogParams base=\"2\" logSideSlope=\"0.05707762557077625\" logSideOffset=\"0.5547945205479452\" linSideBreak=\"0.0078125\"/></Log>"
    );
    let curve = rushlight_colour::transfer::encoding("acescct").unwrap().build(None).unwrap();
    let back = cct.replace("cameraLinToLog", "cameraLogToLin");
    for light in [-0.01, 0.0, 0.001, 0.0078125, 0.18, 1.0, 16.0] {
        let signal = list(&cct).apply([light; 3])[0];
        // The published line is rounded to 1e-9 or so of the tangent.
        assert!((signal - curve.encode(light)).abs() < 1e-8, "{light}: {signal}");
        assert!((list(&back).apply([signal; 3])[0] - light).abs() < 1e-13 * (1.0 + light.abs()));
    }
    // Channels that are not named stay as they are.
    let green =
        format!("<Log {FLOAT} style=\"linToLog\"><LogParams channel=\"G\" base=\"10\" logSideSlope=\"0.5\"/></Log>");
    check(&green, &[([0.3, 100.0, 0.7], [0.3, 1.0, 0.7])]);
}

#[test]
fn exponents_of_every_style_and_their_inverses() {
    let node = |style: &str, more: &str| {
        format!("<Exponent {FLOAT} style=\"{style}\"><ExponentParams exponent=\"2\"{more}/></Exponent>")
    };
    check(&node("basicFwd", ""), &[([0.5, -0.5, 2.0], [0.25, 0.0, 4.0])]);
    check(&node("basicRev", ""), &[([0.25, -0.5, 4.0], [0.5, 0.0, 2.0])]);
    check(&node("basicMirrorFwd", ""), &[([0.5, -0.5, 2.0], [0.25, -0.25, 4.0])]);
    check(&node("basicMirrorRev", ""), &[([0.25, -0.25, 4.0], [0.5, -0.5, 2.0])]);
    check(&node("basicPassThruFwd", ""), &[([0.5, -0.5, 2.0], [0.25, -0.5, 4.0])]);
    check(&node("basicPassThruRev", ""), &[([0.25, -0.5, 4.0], [0.5, -0.5, 2.0])]);
    // k = 0.1, g = 2: break at 0.1, where ((0.1 + 0.1) / 1.1)^2 = 4/121; slope 40/121.
    let offset = " offset=\"0.1\"";
    check(
        &node("monCurveFwd", offset),
        &[([0.1, 1.0, -0.1], [4.0 / 121.0, 1.0, -4.0 / 121.0]), ([0.05, 0.45, 0.0], [2.0 / 121.0, 0.25, 0.0])],
    );
    check(
        &node("monCurveRev", offset),
        &[([4.0 / 121.0, 1.0, -4.0 / 121.0], [0.1, 1.0, -0.1]), ([2.0 / 121.0, 0.25, 0.0], [0.05, 0.45, 0.0])],
    );
    check(&node("monCurveMirrorFwd", offset), &[([0.45, -0.45, -0.05], [0.25, -0.25, -2.0 / 121.0])]);
    check(&node("monCurveMirrorRev", offset), &[([0.25, -0.25, -2.0 / 121.0], [0.45, -0.45, -0.05])]);
    // Where the formula divides by zero.
    check(&node("monCurveFwd", " offset=\"0\""), &[([0.5, 0.0, -1.0], [0.25, 0.0, 0.0])]);
    let straight = node("monCurveFwd", " offset=\"0.25\"").replace("exponent=\"2\"", "exponent=\"1\"");
    check(&straight, &[([0.5, 0.0, -1.0], [0.4, 0.0, -0.8])]);
}

#[test]
fn a_cdl_runs_both_ways() {
    let node = |style: &str| {
        format!(
            "<ASC_CDL {FLOAT} style=\"{style}\"><SOPNode><Slope>1 0.5 2</Slope><Offset>0.1 0 0</Offset><Power>1 2 1</Power></SOPNode><SatNode><Saturation>1</Saturation></SatNode></ASC_CDL>"
        )
    };
    check(&node("Fwd"), &[([0.2, 0.4, 0.7], [0.3, 0.04, 1.0])]);
    check(&node("FwdNoClamp"), &[([0.2, -0.4, 0.7], [0.3, -0.2, 1.4])]);
    check(&node("Rev"), &[([0.3, 0.04, 1.0], [0.2, 0.4, 0.5])]);
    check(&node("RevNoClamp"), &[([0.3, -0.2, 1.4], [0.2, -0.4, 0.7])]);
    let sat = format!("<ASC_CDL {FLOAT}><SatNode><Saturation>0.5</Saturation></SatNode></ASC_CDL>");
    check(&sat, &[([1.0, 0.0, 0.0], [0.6063, 0.1063, 0.1063])]);
    check(&sat.replace("<ASC_CDL", "<ASC_CDL style=\"Rev\""), &[([0.6063, 0.1063, 0.1063], [1.0, 0.0, 0.0])]);
}

#[test]
fn tables_become_a_file_with_their_domains() {
    let cube = Cube::sample_over(3, [[-1.0; 3], [1.0, 2.0, 3.0]], |rgb| [rgb[2], rgb[0], 0.5 * rgb[1]]).unwrap();
    let shaper = Curves::sample(5, |v| v * v).unwrap();
    let tables = [Table::from(shaper), Table::from(cube)];
    let list = ProcessList::of_tables(
        "x",
        "Night & <day>",
        vec!["a \"remark\"".to_owned()],
        &tables,
        Interpolation::Tetrahedral,
    )
    .unwrap();
    let names: Vec<&str> = list.nodes.iter().map(|n| n.operation.name()).collect();
    assert_eq!(names, ["LUT1D", "Matrix", "LUT3D"]);
    let back = read(list.to_xml().as_bytes()).unwrap();
    assert_eq!(back.name.as_deref(), Some("Night & <day>"));
    assert_eq!(back.descriptions, list.descriptions);
    for rgb in [[0.1, 0.6, 0.9], [0.5, 0.25, 0.75], [1.0, 0.0, 0.3]] {
        let want = tables[1].at(tables[0].at(rgb, Interpolation::Tetrahedral), Interpolation::Tetrahedral);
        let got = back.apply(rgb);
        // Tables are 32-bit floats in the file.
        assert!((0..3).all(|c| (got[c] - want[c]).abs() < 1e-6), "{rgb:?}: {got:?} for {want:?}");
        assert!((0..3).all(|c| (list.apply(rgb)[c] - want[c]).abs() < 1e-14));
    }
}

#[test]
fn what_is_wrong_is_named_with_its_line() {
    let lut = |dim: &str, rows: &str| one(&format!("<LUT3D {FLOAT}>\n<Array dim=\"{dim}\">\n{rows}\n</Array></LUT3D>"));
    refused("", 1, "no XML element");
    refused("<ProcessList>", 1, "not closed");
    refused("<CLF/>", 1, "the root of a CLF file is ProcessList");
    refused("<ProcessList id=\"a\"/>", 1, "missing compCLFversion");
    refused("<ProcessList id=\"a\" compCLFversion=\"3.0\"/>", 1, "no process node");
    refused("<ProcessList id=\"a\" compCLFversion=\"3.0\" xmlns=\"urn:x\"/>", 1, "namespace");
    refused("<!DOCTYPE x>\n<ProcessList/>", 1, "a document type");
    refused(&one("<Matrx/>"), 3, "did you mean `Matrix`?");
    refused(&one("<Log inBitDepth=\"32f\" style=\"log2\"/>"), 3, "missing outBitDepth");
    refused(&one("<Log inBitDepth=\"9i\" outBitDepth=\"32f\" style=\"log2\"/>"), 3, "inBitDepth `9i`");
    refused(
        &one(&format!("<Log {FLOAT} style=\"log2\"/>\n<Log inBitDepth=\"10i\" outBitDepth=\"32f\" style=\"log2\"/>")),
        4,
        "inBitDepth 10i after",
    );
    refused(&lut("2 2 3 3", "0"), 4, "dim: `N N N 3`");
    refused(&lut("300 300 300 3", "0"), 4, "from 2 to 256");
    refused(&lut("2 2 2 3", "0 0 0\n0 0 0"), 4, "6 numbers where dim asks for 24");
    refused(&lut("2 2 2 3", &"0 0 0\n".repeat(9)), 13, "more than the 24 numbers");
    refused(&lut("2 2 2 3", "0 0 0\n0 nan 0"), 6, "`nan` is not a finite number");
    refused(
        &one(&format!("<LUT1D {FLOAT} halfDomain=\"true\"><Array dim=\"2 1\">0 1</Array></LUT1D>")),
        3,
        "halfDomain",
    );
    refused(&one(&format!("<LUT1D {FLOAT} rawHalfs=\"false\"><Array dim=\"2 1\">0 1</Array></LUT1D>")), 3, "absent");
    refused(&one(&format!("<Range {FLOAT}><minInValue>0</minInValue></Range>")), 3, "go together");
    refused(
        &one(&format!(
            "<Range {FLOAT} style=\"noClamp\"><minInValue>0</minInValue><minOutValue>0</minOutValue></Range>"
        )),
        3,
        "both ends",
    );
    refused(&one(&format!("<Log {FLOAT} style=\"cameraLinToLog\"><LogParams/></Log>")), 3, "missing linSideBreak");
    refused(
        &one(&format!(
            "<Exponent {FLOAT} style=\"monCurveFwd\"><ExponentParams exponent=\"0.5\" offset=\"0\"/></Exponent>"
        )),
        3,
        "between 1 and 10",
    );
    refused(&one(&format!("<ASC_CDL {FLOAT}><SOPNode><Slope>1 1 1</Slope></SOPNode></ASC_CDL>")), 3, "go together");
    refused(&one(&format!("<ASC_CDL {FLOAT}><SOPnode/></ASC_CDL>")), 3, "SOPnode: unknown");
    refused(&format!("{}&bomb;", "<a>".repeat(3)), 1, "&bomb; is not defined");
    refused(&"<a>".repeat(100), 1, "too many elements");
}
