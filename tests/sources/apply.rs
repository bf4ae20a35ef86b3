//! A cube between its nodes, against colour-science 0.4.7 (the f64 reference) and against ffmpeg (the fast path, in 16
//! bits): fixtures/reference/apply_colour.csv and apply_ffmpeg.csv, made by tests/reference/make/apply.py.

use rushlight::cube::fast::{FastCube, Path};
use rushlight::cube::{Cube, Interpolation};
use std::collections::BTreeMap;

fn read(name: &str) -> Vec<csv::StringRecord> {
    let path = format!("{}/../fixtures/reference/{name}", env!("CARGO_MANIFEST_DIR"));
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_path(path).expect("the fixture is there");
    reader.records().map(|record| record.expect("a full row")).collect()
}

/// The nodes of `node` in tests/reference/make/apply.py.
fn cube(size: usize, domain: [f64; 2]) -> Cube {
    let mut nodes = Vec::new();
    let edge = (size - 1) as f64;
    for k in 0..size {
        for j in 0..size {
            for i in 0..size {
                let (r, g, b) = (i as f64 / edge, j as f64 / edge, k as f64 / edge);
                let smooth =
                    [0.1 + 0.7 * r * r + 0.2 * g * b, 0.05 + 0.8 * g * (1.2 - 0.3 * g), 0.9 * b * b * b + 0.1 * r];
                let rough = |c: usize| (i * (31 + c) + j * (17 + 2 * c) + k * (57 + 3 * c) + i * j * k) % 97;
                nodes.push([0, 1, 2].map(|c| 0.75 * smooth[c] + 0.25 * (rough(c) as f64 / 96.0)));
            }
        }
    }
    Cube::new(size, domain.map(|v| [v; 3]), nodes).expect("a cube")
}

fn interpolation(name: &str) -> Interpolation {
    Interpolation::from_name(name).expect("a kind of interpolation")
}

#[test]
fn the_reference_agrees_with_colour_science() {
    let mut cubes = BTreeMap::new();
    let rows = read("apply_colour.csv");
    assert_eq!(rows.len(), 1000);
    for row in rows {
        let number = |i: usize| row[i].parse::<f64>().expect("a number");
        let key = (row[0].to_owned(), row[1].to_owned(), row[2].to_owned());
        let cube = cubes.entry(key).or_insert_with(|| cube(number(0) as usize, [number(1), number(2)]));
        let got = cube.at([number(4), number(5), number(6)], interpolation(&row[3]));
        for c in 0..3 {
            let off = (got[c] - number(7 + c)).abs();
            // Measured: the two differ in the last places of double precision only.
            assert!(off <= COLOUR_LIMIT, "{row:?}: {got:?} is off by {off:e}");
        }
    }
}

/// Double precision, a few operations in another order on values up to 1, and a place on the grid up to 64.
const COLOUR_LIMIT: f64 = 2e-14;

#[test]
fn sixteen_bit_pictures_agree_with_ffmpeg_within_one_code_value() {
    let mut cubes = BTreeMap::new();
    let rows = read("apply_ffmpeg.csv");
    assert_eq!(rows.len(), 3 * 2 * 384);
    for row in rows {
        let code = |i: usize| row[i].parse::<u16>().expect("a code value");
        for path in Path::available() {
            let kind = interpolation(&row[1]);
            let key = (code(0), row[1].to_owned(), *path == Path::Block);
            let made = || FastCube::on_path(&cube(code(0).into(), [0.0, 1.0]), kind, *path).expect("a cube for f32");
            let fast = cubes.entry(key).or_insert_with(made);
            let mut pixel = [code(2), code(3), code(4)];
            fast.rgb_in_place(&mut pixel).expect("one pixel");
            for c in 0..3 {
                assert!(pixel[c].abs_diff(code(5 + c)) <= 1, "{path:?} {row:?}: {pixel:?}");
            }
        }
    }
}
