//! What the tests and the pictures of the print share.

use nalgebra::{Matrix3, Vector3};
use rushlight::chromaticity::{D65, Xy};
use rushlight::gamut::{AP1, BT2020, Gamut};

/// Diffuse white at 203 cd/m² on a display of 1000 (ITU-R BT.2408-7, 2023).
pub const HIGH_RANGE: f64 = 1000.0 / 203.0;

/// Linear light of `gamut` to AP1.
pub fn to_ap1(gamut: &Gamut) -> Matrix3<f64> {
    gamut.to(&AP1, None)
}

/// Primaries of BT.2020, their complements, and mixes between, as AP1 with a largest component of about one.
pub fn strong_colours() -> Vec<Vector3<f64>> {
    let matrix = to_ap1(&BT2020);
    let levels = [0.0_f64, 0.1, 0.5, 1.0];
    let mut colours = Vec::new();
    for r in levels {
        for g in levels {
            for b in levels {
                let least = r.min(g).min(b);
                let most = r.max(g).max(b);
                if most == 1.0 && least < 1.0 {
                    colours.push(matrix * Vector3::new(r, g, b));
                }
            }
        }
    }
    colours
}

/// CIELAB (CIE 15:2018) of XYZ with Y = 1 at `white`.
pub fn lab(xyz: [f64; 3], white: Xy) -> [f64; 3] {
    let white = white.to_xyz(1.0);
    let f = |k: usize| {
        let t = xyz[k] / white[k];
        let edge: f64 = 6.0 / 29.0;
        if t > edge * edge * edge { rushlight::math::cbrt(t) } else { t / (3.0 * edge * edge) + 4.0 / 29.0 }
    };
    let [x, y, z] = [f(0), f(1), f(2)];
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

/// CIEDE2000 between two XYZ under D65, by palette.
pub fn difference(a: [f64; 3], b: [f64; 3]) -> f64 {
    use palette::color_difference::Ciede2000;
    let [a, b] = [a, b].map(|xyz| {
        let [l, a, b] = lab(xyz, D65);
        palette::Lab::<palette::white_point::D65, f64>::new(l, a, b)
    });
    a.difference(b)
}

/// Rows of a fixture: comment lines and the heading left out.
pub fn fixture(name: &str) -> Vec<Vec<String>> {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/reference").join(name);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let lines = text.lines().filter(|line| !line.starts_with('#')).skip(1);
    lines.map(|line| line.split(',').map(str::to_owned).collect()).collect()
}

/// Three neighbouring fields of a row as numbers.
pub fn three(row: &[String], first: usize) -> [f64; 3] {
    std::array::from_fn(|i| row[first + i].parse().expect("a number"))
}
