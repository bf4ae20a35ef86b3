//! The charts of the demo: what the show's two invented cameras give of a chart of 24 patches.

use crate::chart_scene::Scene;
use crate::demo;
use crate::sensor::Sensor;
use nalgebra::Matrix3;
use rushlight::chart::classic::classic;
use rushlight::chart::light::Light;
use rushlight::chart::place::Place;
use rushlight::chart::{Chart, Colour};
use rushlight::frame::{Depth, Format, write};
use rushlight::math::exp2;
use rushlight::measure::Claim;
use rushlight::spectrum::{Spectrum, wavelengths};
use rushlight::transfer::MID_GREY;
use std::path::PathBuf;

/// Pixels of a frame.
const SIZE: [usize; 2] = [320, 180];
/// Where the chart lies: corners clockwise from its first patch.
const CORNERS: [[f64; 2]; 4] = [[62.0, 26.0], [262.0, 34.0], [256.0, 160.0], [58.0, 150.0]];

/// Sensitivities of an invented camera: bands of Gaussian shape, centre and width in nm, and what each channel catches of
/// its neighbours. No camera has them; they are as far from the eye's as a small camera's may be.
const BANDS: [[[f64; 3]; 2]; 3] = [
    [[600.0, 78.0, 1.0], [540.0, 80.0, 0.12]],
    [[535.0, 92.0, 1.0], [600.0, 70.0, 0.14]],
    [[455.0, 58.0, 1.0], [535.0, 90.0, 0.10]],
];

/// What the three channels of the invented camera give of a surface under a light, 1 of the perfect diffuser.
pub fn caught(reflectance: &Spectrum, light: &Spectrum) -> [f64; 3] {
    BANDS.map(|bands| {
        let (mut of, mut all) = (0.0, 0.0);
        for ((nm, power), r) in wavelengths().zip(light.samples()).zip(reflectance.samples()) {
            let sensitivity = sensitivity(&bands, nm);
            (of, all) = (of + sensitivity * power * r, all + sensitivity * power);
        }
        of / all
    })
}

/// What the invented camera gives of white under a light where it is balanced for another: green is 1.
///
/// # Panics
/// For lights without a spectrum.
pub fn white_under(light: &Light, balanced: &Light) -> [f64; 3] {
    let all = |light: &Light| {
        let power = light.spectrum.as_ref().expect("a light with a spectrum");
        BANDS.map(|bands| {
            let seen = |(nm, power): (f64, &f64)| power * sensitivity(&bands, nm);
            wavelengths().zip(power.samples()).map(seen).sum::<f64>()
        })
    };
    let (one, other) = (all(light), all(balanced));
    let [r, g, b] = std::array::from_fn(|c| one[c] / other[c]);
    [r / g, 1.0, b / g]
}

/// How much light of a wavelength in nm a channel catches.
fn sensitivity(bands: &[[f64; 3]; 2], nm: f64) -> f64 {
    bands
        .iter()
        .map(|[centre, width, gain]| gain * exp2(-4.0 * ((nm - centre) / width) * ((nm - centre) / width)))
        .sum()
}

/// The light of every patch in the invented camera's channels.
pub fn of_camera(chart: &Chart, light: &Light) -> Vec<[f64; 3]> {
    let power = light.spectrum.as_ref().expect("a light with a spectrum");
    let of = |colour: &Colour| match colour {
        Colour::Spectrum(reflectance) => caught(reflectance, power),
        Colour::Xyz { .. } => panic!("a chart of spectra"),
    };
    chart.patches.iter().map(|p| of(&p.colour)).collect()
}

/// The sensor of a camera of the show at an exposure index.
///
/// # Panics
/// For a camera that the show does not have.
pub fn sensor(camera: &str, ei: u32) -> Sensor {
    let item = demo::show().cameras()[camera].item.clone();
    let mut sensor = Sensor::new("slog3");
    sensor.claim = Claim { name: camera.to_owned(), curve: item.shared_curve(), range: item.range() };
    (sensor.electrons, sensor.read, sensor.pattern, sensor.bits) = ([2000.0; 3], 5.1, 0.008, 10);
    sensor.full = [MID_GREY * exp2(if ei == 200 { 4.0 } else { 6.0 }); 3];
    sensor
}

/// The folder of the charts.
pub fn folder() -> PathBuf {
    demo::folder().join("chart")
}

/// Every file by name: camera `a` in daylight, camera `b` in daylight and tungsten light.
///
/// # Panics
/// When a frame cannot be written.
pub fn files() -> Vec<(String, Vec<u8>)> {
    let chart = classic();
    let place = Place::of_corners(CORNERS, chart.columns, chart.rows).expect("a convex place");
    let scene = |colours: Vec<[f64; 3]>, sees: Matrix3<f64>, stops: f64| Scene {
        size: SIZE,
        place,
        colours,
        things: vec![([10.0, 60.0, 30.0, 60.0], [0.3, 0.12, 0.1])],
        stops,
        vignette: 0.1,
        slope: 0.04,
        sees,
        shine: None,
    };
    let show = demo::show();
    let sees = show.cameras()["a"].item.to_xyz().try_inverse().expect("a camera's colours have an inverse");
    let (day, tungsten) = (Light::parse("d55").expect("a light"), Light::parse("a").expect("a light"));
    let reference = chart.reference(&day).expect("a light with power");
    let of_b = |light: &Light| scene(of_camera(&chart, light), Matrix3::identity(), -0.1);
    [
        ("a_d55.png", scene(reference, sees, 0.0), sensor("a", 800), 41),
        ("b_d55.png", of_b(&day), sensor("b", 200), 42),
        ("b_a.png", of_b(&tungsten), sensor("b", 200), 43),
    ]
    .into_iter()
    .map(|(name, scene, sensor, seed)| {
        let frame = scene.seen(&chart, &sensor, seed);
        (name.to_owned(), write(&frame, Format::Png, Depth::Integer(16)).expect("a PNG"))
    })
    .collect()
}
