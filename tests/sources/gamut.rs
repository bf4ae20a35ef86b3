//! Matrices against the digits that documents print, and against colour-science 0.4.7 (fixtures/reference/gamut.csv, made
//! by tests/reference/make/gamut.py).
//!
//! A printed matrix is met to half a unit of its last digit; where a document itself is further from its own primaries,
//! the check says so. Digits marked "from memory" were written down without the document at hand.

use nalgebra::{Matrix3, Vector3};
use rushlight::adaptation::Adaptation;
use rushlight::chromaticity::{D65, Xy};
use rushlight::gamut::{AP1, BT709, BT2020, CATALOGUE, Gamut, named_gamut};
use rushlight_tests::{Row, Worst, table};

fn gamut(name: &str) -> Gamut {
    named_gamut(name).unwrap_or_else(|| panic!("{name} is built in")).gamut
}

/// A matrix from its rows.
fn rows(m: [[f64; 3]; 3]) -> Matrix3<f64> {
    Matrix3::from_fn(|r, c| m[r][c])
}

/// Half a unit of the last of `digits` decimals, and what halves that are not binary fractions need.
fn half_unit(digits: i32) -> f64 {
    0.5 * (0..digits).fold(1.0, |unit, _| unit / 10.0) + 1e-15
}

#[track_caller]
fn agrees(ours: Matrix3<f64>, printed: Matrix3<f64>, tolerance: f64) {
    let differs = (ours - printed).amax();
    assert!(differs <= tolerance, "{differs:e} over {tolerance:e}: {ours} for {printed}");
}

/// ITU-R BT.709-6 (2015), item 3.2, and ITU-R BT.2020-2 (2015), table 4: the coefficients of luma.
#[test]
fn luma_coefficients_of_the_itu() {
    for (gamut, printed) in [(BT709, [0.2126, 0.7152, 0.0722]), (BT2020, [0.2627, 0.6780, 0.0593])] {
        assert!((gamut.luminance_weights() - Vector3::from(printed)).amax() <= half_unit(4));
    }
}

/// SMPTE RP 177-1993, its worked examples (from memory): BT.709, and the primaries of SMPTE C.
#[test]
fn worked_values_of_rp_177() {
    let bt709 = [[0.412391, 0.357584, 0.180481], [0.212639, 0.715169, 0.072192], [0.019331, 0.119195, 0.950532]];
    agrees(BT709.to_xyz(), rows(bt709), half_unit(6));
    let c = [Xy::new(0.630, 0.340), Xy::new(0.310, 0.595), Xy::new(0.155, 0.070)];
    let smpte_c = [[0.393521, 0.365258, 0.191677], [0.212376, 0.701060, 0.086564], [0.018739, 0.111934, 0.958385]];
    agrees(Gamut::new(c, D65, Adaptation::Bradford).unwrap().to_xyz(), rows(smpte_c), half_unit(6));
}

/// IEC 61966-2-1:1999: both matrices, the second of which is the inverse of the first as printed.
#[test]
fn the_matrices_of_srgb() {
    let to_xyz = rows([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]);
    let from_xyz = rows([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]]);
    agrees(BT709.to_xyz(), to_xyz, half_unit(4));
    agrees(to_xyz.try_inverse().unwrap(), from_xyz, half_unit(4));
}

/// ITU-R BT.2087-0 (2015), Annex 1: BT.709 to BT.2020; ITU-R BT.2407-0 (2017), Annex 1: the way back (both from memory).
/// The first row of the second sums to 1.0001 as printed: each of its digits is rounded by itself.
#[test]
fn between_bt709_and_bt2020() {
    let there = rows([[0.6274, 0.3293, 0.0433], [0.0691, 0.9195, 0.0114], [0.0164, 0.0880, 0.8956]]);
    let back = rows([[1.6605, -0.5876, -0.0728], [-0.1246, 1.1329, -0.0083], [-0.0182, -0.1006, 1.1187]]);
    agrees(BT709.to(&BT2020, None), there, half_unit(4));
    agrees(BT2020.to(&BT709, None), back, half_unit(4));
    assert!((back.row(0).sum() - 1.0001).abs() < 1e-12);
    // White stays white all the same.
    assert!((BT2020.to(&BT709, None) * Vector3::repeat(1.0) - Vector3::repeat(1.0)).amax() < 1e-14);
}

/// Academy S-2014-004 (2014), Annex: AP0, AP1 and XYZ (from memory); SMPTE ST 2065-1:2021: AP0 to XYZ.
#[test]
fn the_matrices_of_aces() {
    let ap0 = gamut("aces-ap0");
    let to_ap1 = [
        [1.4514393161, -0.2365107469, -0.2149285693],
        [-0.0765537734, 1.1762296998, -0.0996759264],
        [0.0083161484, -0.0060324498, 0.9977163014],
    ];
    let to_ap0 = [
        [0.6954522414, 0.1406786965, 0.1638690622],
        [0.0447945634, 0.8596711185, 0.0955343182],
        [-0.0055258826, 0.0040252103, 1.0015006723],
    ];
    let ap1_to_xyz = [
        [0.6624541811, 0.1340042065, 0.1561876870],
        [0.2722287168, 0.6740817658, 0.0536895174],
        [-0.0055746495, 0.0040607335, 1.0103391003],
    ];
    let xyz_to_ap1 = [
        [1.6410233797, -0.3248032942, -0.2364246952],
        [-0.6636628587, 1.6153315917, 0.0167563477],
        [0.0117218943, -0.0082844420, 0.9883948585],
    ];
    let ap0_to_xyz =
        [[0.9525523959, 0.0, 0.0000936786], [0.3439664498, 0.7281660966, -0.0721325464], [0.0, 0.0, 1.0088251844]];
    agrees(ap0.to(&AP1, None), rows(to_ap1), half_unit(10));
    agrees(AP1.to(&ap0, None), rows(to_ap0), half_unit(10));
    agrees(AP1.to_xyz(), rows(ap1_to_xyz), half_unit(10));
    agrees(AP1.from_xyz(), rows(xyz_to_ap1), half_unit(10));
    agrees(ap0.to_xyz(), rows(ap0_to_xyz), half_unit(10));
}

/// Camera to ACES AP0 as the input transforms of the makers and the Academy print it (all from memory).
#[test]
fn cameras_to_aces() {
    let ap0 = gamut("aces-ap0");
    // Sony, input transforms for S-Log3, 2020 (Academy).
    let sgamut3 = [
        [0.7529825954, 0.1433702162, 0.1036471884],
        [0.0217076974, 1.0153188355, -0.0370265329],
        [-0.0094160528, 0.0033704179, 1.0060456349],
    ];
    let cine = [
        [0.6387886672, 0.2723514337, 0.0888598992],
        [-0.0039159061, 1.0880732308, -0.0841573249],
        [-0.0299072021, -0.0264325799, 1.0563397820],
    ];
    // ARRI, ALEXA Log C Curve, Usage in VFX, 2012.
    let awg3 = [[0.680206, 0.236137, 0.083658], [0.085415, 1.017471, -0.102886], [0.002057, -0.062563, 1.060506]];
    // ARRI LogC4 Logarithmic Color Space, Specification, 2022.
    let awg4 = [
        [0.750957362824734131, 0.144422786709757084, 0.104619850465508965],
        [0.000821837079380207, 1.007397584885003194, -0.008219421964383583],
        [-0.000499952143533471, -0.000854177231436971, 1.001354129374970370],
    ];
    // Canon, input transforms, version 202007.
    let cinema = [
        [0.763064454775734, 0.149021161133860, 0.0879143840904060],
        [0.00365745670512393, 1.10696038037622, -0.110617837081339],
        [-0.0094077940457189, -0.218383304989987, 1.22779109903571],
    ];
    for (name, printed, tolerance) in [
        // Its -0.0370265329 is printed for -0.03702653295: 0.504 of a unit.
        ("sgamut3", sgamut3, 5.04e-11),
        // Its 0.0888598992 is a whole unit high: the first row sums to 1.0000000001 as printed.
        ("sgamut3-cine", cine, 1e-10),
        ("awg3", awg3, half_unit(6)),
        ("awg4", awg4, 1e-14),
        // Printed with 15 digits, of which eleven decimals are right.
        ("cinema-gamut", cinema, 3.3e-12),
    ] {
        println!("{name}");
        assert_eq!(gamut(name).adaptation, Adaptation::Cat02);
        agrees(gamut(name).to(&ap0, None), rows(printed), tolerance);
    }
    // Panasonic, V-Log/V-Gamut input transform, 2014, and RED, input transform for Log3G10, 2017: rounded on the way,
    // with rows that do not sum to 1. Bradford is the nearest of the adaptations, and what the Academy's present
    // transforms derive.
    let vgamut = [
        [0.724382758, 0.166748484, 0.108497411],
        [0.021354009, 0.985138372, -0.006319092],
        [-0.009234278, -0.00104295, 1.010272625],
    ];
    let red = [[0.785043, 0.083844, 0.131118], [0.023172, 1.087892, -0.111055], [-0.073769, -0.314639, 1.388537]];
    for (name, printed) in [("vgamut", vgamut), ("redwidegamut", red)] {
        println!("{name}");
        let apart = |by| (gamut(name).to(&ap0, Some(by)) - rows(printed)).amax();
        assert_eq!(gamut(name).adaptation, Adaptation::Bradford);
        assert!(apart(Adaptation::Bradford) < 4e-4, "{:e}", apart(Adaptation::Bradford));
        assert!(apart(Adaptation::Cat02) > 10.0 * apart(Adaptation::Bradford));
    }
}

fn matrix(row: &Row) -> Matrix3<f64> {
    Matrix3::from_row_slice(&row.numbers::<9>(4))
}

fn of_kind(kind: &str) -> Vec<Row> {
    let found: Vec<Row> = table("gamut.csv").into_iter().filter(|row| row.text(0) == kind).collect();
    assert!(!found.is_empty(), "no rows of {kind}");
    found
}

/// The makers' own matrices to XYZ, at their digits. D-Gamut's four digits (White Paper on D-Log and D-Gamut, 2017) are
/// 1.9e-4 away from its own primaries.
#[test]
fn printed_matrices_to_xyz() {
    let printed = [
        ("aces-ap0", half_unit(10)),
        ("sgamut", half_unit(10)),
        ("sgamut3", half_unit(10)),
        ("sgamut3-cine", half_unit(10)),
        ("awg3", half_unit(6)),
        ("awg4", 1e-15),
        ("vgamut", half_unit(6)),
        ("redwidegamut", half_unit(6)),
        ("dgamut", 1.9e-4),
        ("adobe-rgb", half_unit(5)),
    ];
    let stored = of_kind("stored");
    for (name, tolerance) in printed {
        println!("{name}");
        let row = stored.iter().find(|row| row.text(1) == name).expect("a row of that gamut");
        agrees(gamut(name).to_xyz(), matrix(row), tolerance);
        // The primaries and the white come back from the printed digits.
        let columns = matrix(row);
        for (i, primary) in gamut(name).primaries.iter().enumerate() {
            let back = Xy::from_xyz(&columns.column(i).into_owned()).unwrap();
            let most = 3.0 * tolerance / columns.column(i).sum();
            assert!((back.x - primary.x).abs().max((back.y - primary.y).abs()) <= most, "{name}: {back:?}");
        }
        let back = Xy::from_xyz(&(columns * Vector3::repeat(1.0))).unwrap();
        let white = gamut(name).white;
        assert!((back.x - white.x).abs().max((back.y - white.y).abs()) <= 3.0 * tolerance, "{name}: {back:?}");
    }
}

/// The primaries of the ITU, to the digits that it gives, from matrices that other documents print.
#[test]
fn the_primaries_of_the_itu_come_back() {
    // ITU-R BT.2087-0 carries BT.709 to BT.2020, so its columns are BT.709's primaries in BT.2020.
    let there = rows([[0.6274, 0.3293, 0.0433], [0.0691, 0.9195, 0.0114], [0.0164, 0.0880, 0.8956]]);
    let srgb = rows([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]);
    for columns in [BT2020.to_xyz() * there, srgb] {
        for (i, primary) in BT709.primaries.iter().enumerate() {
            let back = Xy::from_xyz(&columns.column(i).into_owned()).unwrap();
            assert!((back.x - primary.x).abs().max((back.y - primary.y).abs()) < half_unit(3), "{back:?}");
        }
    }
}

#[test]
fn every_gamut_against_colour_science() {
    let mut worst = Worst::default();
    let derived = of_kind("derived");
    for row in &derived {
        worst.add((gamut(row.text(1)).to_xyz() - matrix(row)).amax(), row.text(1));
    }
    worst.within(5e-16);
    // All but XYZ itself.
    assert_eq!(derived.len(), CATALOGUE.len() - 1);
}

#[test]
fn conversions_against_colour_science() {
    let mut worst = Worst::default();
    for row in of_kind("convert") {
        let by = Adaptation::from_name(row.text(3)).unwrap();
        worst.add((gamut(row.text(1)).to(&gamut(row.text(2)), Some(by)) - matrix(&row)).amax(), row);
    }
    worst.within(1e-14);
}

#[test]
fn adaptations_against_colour_science() {
    let mut worst = Worst::default();
    let white = |cell: &str| {
        let (x, y) = cell.split_once(' ').unwrap();
        Xy::new(x.parse().unwrap(), y.parse().unwrap())
    };
    for row in of_kind("adapt") {
        let by = Adaptation::from_name(row.text(3)).unwrap();
        worst.add((by.matrix(white(row.text(1)), white(row.text(2))) - matrix(&row)).amax(), row);
    }
    worst.within(1e-14);
}
