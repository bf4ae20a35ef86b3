//! Colour differences against published pairs and against colour-science.

use nalgebra::Matrix3;
use rushlight::difference::{ciede2000, ciede2000_tensor, delta_e_itp, ictcp, lab};
use rushlight_tests::print::{fixture, three};

/// Sharma, Wu and Dalal, "The CIEDE2000 color-difference formula: implementation notes, supplementary test data, and
/// mathematical observations", Color Research and Application 30 (1), 2005, table 1.
#[rustfmt::skip]
const SHARMA: [([f64; 3], [f64; 3], f64); 34] = [
    ([50.0, 2.6772, -79.7751], [50.0, 0.0, -82.7485], 2.0425),
    ([50.0, 3.1571, -77.2803], [50.0, 0.0, -82.7485], 2.8615),
    ([50.0, 2.8361, -74.0200], [50.0, 0.0, -82.7485], 3.4412),
    ([50.0, -1.3802, -84.2814], [50.0, 0.0, -82.7485], 1.0000),
    ([50.0, -1.1848, -84.8006], [50.0, 0.0, -82.7485], 1.0000),
    ([50.0, -0.9009, -85.5211], [50.0, 0.0, -82.7485], 1.0000),
    ([50.0, 0.0, 0.0], [50.0, -1.0, 2.0], 2.3669),
    ([50.0, -1.0, 2.0], [50.0, 0.0, 0.0], 2.3669),
    ([50.0, 2.4900, -0.0010], [50.0, -2.4900, 0.0009], 7.1792),
    ([50.0, 2.4900, -0.0010], [50.0, -2.4900, 0.0010], 7.1792),
    ([50.0, 2.4900, -0.0010], [50.0, -2.4900, 0.0011], 7.2195),
    ([50.0, 2.4900, -0.0010], [50.0, -2.4900, 0.0012], 7.2195),
    ([50.0, -0.0010, 2.4900], [50.0, 0.0009, -2.4900], 4.8045),
    ([50.0, -0.0010, 2.4900], [50.0, 0.0010, -2.4900], 4.8045),
    ([50.0, -0.0010, 2.4900], [50.0, 0.0011, -2.4900], 4.7461),
    ([50.0, 2.5000, 0.0], [50.0, 0.0, -2.5000], 4.3065),
    ([50.0, 2.5000, 0.0], [73.0, 25.0, -18.0], 27.1492),
    ([50.0, 2.5000, 0.0], [61.0, -5.0, 29.0], 22.8977),
    ([50.0, 2.5000, 0.0], [56.0, -27.0, -3.0], 31.9030),
    ([50.0, 2.5000, 0.0], [58.0, 24.0, 15.0], 19.4535),
    ([50.0, 2.5000, 0.0], [50.0, 3.1736, 0.5854], 1.0000),
    ([50.0, 2.5000, 0.0], [50.0, 3.2972, 0.0], 1.0000),
    ([50.0, 2.5000, 0.0], [50.0, 1.8634, 0.5757], 1.0000),
    ([50.0, 2.5000, 0.0], [50.0, 3.2592, 0.3350], 1.0000),
    ([60.2574, -34.0099, 36.2677], [60.4626, -34.1751, 39.4387], 1.2644),
    ([63.0109, -31.0961, -5.8663], [62.8187, -29.7946, -4.0864], 1.2630),
    ([61.2901, 3.7196, -5.3901], [61.4292, 2.2480, -4.9620], 1.8731),
    ([35.0831, -44.1164, 3.7933], [35.0232, -40.0716, 1.5901], 1.8645),
    ([22.7233, 20.0904, -46.6940], [23.0331, 14.9730, -42.5619], 2.0373),
    ([36.4612, 47.8580, 18.3852], [36.2715, 50.5065, 21.2231], 1.4146),
    ([90.8027, -2.0831, 1.4410], [91.1528, -1.6435, 0.0447], 1.4441),
    ([90.9257, -0.5406, -0.9208], [88.6381, -0.8985, -0.7239], 1.5381),
    ([6.7747, -0.2908, -2.4247], [5.8714, -0.0985, -2.2286], 0.6377),
    ([2.0776, 0.0795, -1.1350], [0.9033, -0.0636, -0.5514], 0.9082),
];

/// Pairs 10 and 14 have hues exactly opposite, where one rounding more picks the other side.
#[test]
fn every_pair_of_sharma_wu_and_dalal() {
    for (i, (one, two, published)) in SHARMA.into_iter().enumerate() {
        for got in [ciede2000(one, two), ciede2000(two, one)] {
            assert!((got - published).abs() <= 0.5e-4 + 1e-12, "pair {}: {got}, published {published}", i + 1);
        }
    }
}

/// colour-science 0.4.7 (tests/reference/make/difference.py): Lab, CIEDE2000, ICtCp and Delta E ITP of the same light.
#[test]
fn colour_science_agrees() {
    let rows = fixture("difference.csv");
    assert!(rows.len() > 150, "{} rows", rows.len());
    for row in rows {
        let (one, two) = (three(&row, 1), three(&row, 4));
        let value = |i: usize| row[i].parse::<f64>().unwrap();
        let got = match row[0].as_str() {
            "ciede2000" => ciede2000(one, two),
            "itp" => delta_e_itp(ictcp(one), ictcp(two)),
            "lab" => {
                let white = [0.3127 / 0.3290, 1.0, (1.0 - 0.3127 - 0.3290) / 0.3290];
                let got = lab(one, white);
                assert!((0..3).all(|i| (got[i] - two[i]).abs() < 1e-10), "{one:?}: {got:?} {two:?}");
                0.0
            }
            other => panic!("{other}"),
        };
        // PQ multiplies a rounding of the light by up to m1 m2; 720 times that of I, Ct and Cp.
        let tolerance = if row[0] == "itp" { 1e-9 } else { 1e-10 };
        assert!((got - value(7)).abs() < tolerance, "{row:?}: {got}");
    }
}

/// ITU-R BT.2100-2, table 7: white of 10000 nits is I = 1, and greys have neither Ct nor Cp.
#[test]
fn greys_lie_on_the_axis_of_intensity() {
    let white = ictcp([10000.0; 3]);
    assert!((white[0] - 1.0).abs() < 1e-12, "{white:?}");
    for nits in [0.0, 0.01, 1.0, 100.0, 1000.0] {
        let [_, ct, cp] = ictcp([nits; 3]);
        assert!(ct.abs() < 1e-12 && cp.abs() < 1e-12, "{nits}: {ct} {cp}");
    }
}

#[test]
fn the_tensor_is_the_limit_of_the_difference() {
    for (one, _, _) in SHARMA {
        let tensor: Matrix3<f64> = ciede2000_tensor(one);
        for step in [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [0.5, -0.7, 0.4]] {
            let t = 1e-6;
            let two: [f64; 3] = std::array::from_fn(|i| one[i] + t * step[i]);
            let step = nalgebra::Vector3::from(step);
            let want = (step.transpose() * tensor * step)[0].sqrt();
            let got = ciede2000(one, two) / t;
            // To first order in the step; near the axis the hue turns within it.
            assert!((got - want).abs() < 1e-4 * want, "{one:?} {step:?}: {got} {want}");
        }
    }
}
