//! The spectra against colour-science 0.4.7: fixtures/reference/spectrum.csv, made by tests/reference/make/spectrum.py.
//!
//! Columns x5 to z5 are sums over the library's own wavelengths, so only rounding may differ. Columns x1 to z1 are sums
//! over 360 to 830 nm by 1 nm: there the tolerance is what samples at 5 nm cost, stated per kind.

use nalgebra::Vector3;
use rushlight::chromaticity::Xy;
use rushlight::spectrum::{
    Spectrum, daylight, daylight_chromaticity, gaussian, illuminant_a, illuminant_d, illuminant_d65, line,
    line_chromaticity, locus_white, observer, planck, planckian_chromaticity, test_colours, wavelengths,
};

struct Row {
    kind: String,
    name: String,
    a: f64,
    b: f64,
    coarse: [f64; 3],
    fine: Option<[f64; 3]>,
}

/// The rows of one kind; a cell left empty is NaN.
fn rows(kind: &str) -> Vec<Row> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/reference/spectrum.csv");
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_path(path).expect("the fixture is there");
    let number = |cell: &str| if cell.is_empty() { f64::NAN } else { cell.parse().expect("a number") };
    let rows: Vec<Row> = reader
        .records()
        .map(|record| {
            let record = record.expect("a row of ten cells");
            let three = |from: usize| std::array::from_fn(|i| number(&record[from + i]));
            Row {
                kind: record[0].to_owned(),
                name: record[1].to_owned(),
                a: number(&record[2]),
                b: number(&record[3]),
                coarse: three(4),
                fine: (!record[7].is_empty()).then(|| three(7)),
            }
        })
        .filter(|row| row.kind == kind)
        .collect();
    assert!(!rows.is_empty(), "no rows of {kind}");
    rows
}

/// The largest of many differences and where it is.
struct Worst(f64, String);

impl Worst {
    fn new() -> Self {
        Self(-1.0, String::new())
    }

    fn add(&mut self, differs: f64, row: &Row) {
        // A NaN is the worst of all.
        if differs.is_nan() || differs > self.0 {
            *self = Self(differs, format!("{} {} {} {}", row.kind, row.name, row.a, row.b));
        }
    }

    #[track_caller]
    fn within(self, tolerance: f64) {
        println!("{}: {:e}, allowed {tolerance:e}", self.1, self.0);
        assert!(self.0 >= 0.0 && self.0 <= tolerance, "{}: {:e} over {tolerance:e}", self.1, self.0);
    }
}

/// The largest relative difference of the components; one of zero must be met exactly.
fn relative(ours: &[f64], theirs: [f64; 3]) -> f64 {
    ours.iter().zip(theirs).map(|(a, b)| if *a == b { 0.0 } else { (a / b - 1.0).abs() }).fold(0.0, f64::max)
}

fn apart(a: Xy, b: [f64; 3]) -> f64 {
    (a.x - b[0]).abs().max((a.y - b[1]).abs())
}

/// Checks every row of a kind of light: XYZ to rounding, chromaticity to the row's `cost` against the sum by 1 nm.
#[track_caller]
fn check_lights(kind: &str, cost: impl Fn(&Row) -> f64, light: impl Fn(&Row) -> Spectrum) {
    let (mut coarse, mut fine) = (Worst::new(), Worst::new());
    for row in rows(kind) {
        let ours = light(&row);
        coarse.add(relative(ours.to_xyz().as_slice(), row.coarse), &row);
        let xyz = row.fine.map_or_else(|| row.coarse.into(), Vector3::from);
        let xy = Xy::from_xyz(&xyz).unwrap();
        fine.add(apart(ours.chromaticity().unwrap(), [xy.x, xy.y, 0.0]) / cost(&row), &row);
    }
    coarse.within(3e-15);
    fine.within(1.0);
}

#[test]
fn illuminants() {
    check_lights(
        "illuminant",
        |_| 1e-5,
        |row| if row.name == "A" { illuminant_a() } else { illuminant_d(row.a).unwrap() },
    );
}

/// The tables that the CIE prints, to half a unit of their last digit: three decimals, but four below 100 for A and
/// D65. Between its tens, D65 was interpolated from rounded values, which costs up to another half unit.
#[test]
fn printed_tables_of_illuminants() {
    for name in ["A", "D50", "D55", "D65", "D75"] {
        let mut worst = Worst::new();
        let light = match name {
            "A" => illuminant_a(),
            _ => illuminant_d(name[1..].parse::<f64>().unwrap() * 100.0).unwrap(),
        };
        for row in rows("table").into_iter().filter(|row| row.name == name) {
            let index = wavelengths().position(|nm| nm == row.a).unwrap();
            let four = row.coarse[0] < 100.0 && ["A", "D65"].contains(&name);
            let between = name == "D65" && row.a % 10.0 != 0.0;
            let allowed = if four { 1e-4 } else { 1e-3 } * if between { 1.0 } else { 0.5 };
            worst.add((light.samples()[index] * 100.0 - row.coarse[0]).abs() / allowed, &row);
        }
        worst.within(1.0 + 1e-9);
    }
}

#[test]
fn daylights() {
    check_lights("daylight", |_| 1.6e-5, |row| daylight(row.a).unwrap());
    let mut worst = Worst::new();
    for row in rows("locus") {
        worst.add(apart(daylight_chromaticity(row.a).unwrap(), row.coarse), &row);
    }
    worst.within(2e-16);
}

#[test]
fn radiators() {
    // The sum by 5 nm leaves out what lies below 380 nm, much of it blue for a hot body, and beyond 780 nm.
    check_lights("planck", |row| if row.a <= 5600.0 { 3.5e-5 } else { 1.05e-4 }, |row| planck(row.a).unwrap());
    for row in rows("planck") {
        assert_eq!(planckian_chromaticity(row.a).unwrap(), planck(row.a).unwrap().chromaticity().unwrap());
    }
}

#[test]
fn bands() {
    // The widest reaches beyond both ends.
    check_lights("band", |row| if row.b < 200.0 { 1.2e-6 } else { 5.5e-5 }, |row| gaussian(row.a, row.b).unwrap());
}

#[test]
fn lines() {
    check_lights("line", |_| 2e-16, |row| line(row.a).unwrap());
    let (mut smooth, mut straight) = (Worst::new(), Worst::new());
    for row in rows("spectral") {
        smooth.add(apart(line_chromaticity(row.a).unwrap(), row.coarse), &row);
        straight.add(apart(line(row.a).unwrap().chromaticity().unwrap(), row.coarse), &row);
    }
    smooth.within(4.4e-5);
    straight.within(3.8e-3);
}

#[test]
fn colour_matching_functions() {
    let (mut sprague, mut table) = (Worst::new(), Worst::new());
    for row in rows("observer") {
        let ours = observer(row.a);
        let differs = |theirs: [f64; 3]| (Vector3::from(ours) - Vector3::from(theirs)).amax();
        sprague.add(differs(row.coarse), &row);
        if let Some(fine) = row.fine {
            table.add(differs(fine), &row);
        }
    }
    sprague.within(3e-15);
    table.within(4.9e-4);
}

#[test]
fn samples() {
    let colours: Vec<_> = test_colours().collect();
    let (mut coarse, mut fine) = (Worst::new(), Worst::new());
    for row in rows("sample") {
        let light = if row.name == "A" { illuminant_a() } else { illuminant_d65() };
        let ours = colours[row.a as usize - 1].reflectance.to_xyz_under(&light).unwrap();
        coarse.add(relative(ours.as_slice(), row.coarse), &row);
        fine.add((ours - Vector3::from(row.fine.unwrap())).amax(), &row);
    }
    coarse.within(2e-15);
    fine.within(9e-5);
}

#[test]
fn whites() {
    let (mut bare, mut coarse, mut fine) = (Worst::new(), Worst::new(), Worst::new());
    for row in rows("white") {
        let ours = locus_white(row.a, row.b).unwrap();
        if row.b == 0.0 { &mut bare } else { &mut coarse }.add(apart(ours, row.coarse), &row);
        fine.add(apart(ours, row.fine.unwrap()), &row);
    }
    bare.within(5e-16);
    // The other side takes the direction of the locus from a step of 0.01 K to one side, this one its derivative.
    coarse.within(5.7e-8);
    fine.within(2.6e-5);
}
