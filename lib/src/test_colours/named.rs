//! The colours that are compared, as camera signals: deterministic, and the same for every pair of looks.

use crate::adaptation::Adaptation;
use crate::camera::Camera;
use crate::chromaticity::D65;
use crate::gamut::AP1;
use crate::math;
use crate::spectrum::{
    Spectrum, daylight, gaussian, illuminant_a, illuminant_d, illuminant_d65, planck, samples::test_colours,
};
use crate::transfer::MID_GREY;
use nalgebra::{Matrix3, Vector3};

/// A colour with its name.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Input {
    /// Camera signal, clipped to 0..1 as the camera does.
    pub(crate) signal: [f64; 3],
    /// What it is, where it has a name.
    pub(crate) name: Option<String>,
}

/// Stops on either side of mid-grey that the neutral ramp reaches, and steps of it in a stop.
const REACH: i32 = 7;
const STEPS: i32 = 4;
/// Entries of the ramp of a signal whose camera is not known: as many steps as the ramp in stops has, made a power of two.
const GREYS: usize = 65;
/// The number of the sample that stands for skin (CIE 13.3-1995).
const SKIN: usize = 13;
/// Depths of skin: the sample's reflectance to a power, as a deeper layer of the same pigment would have it (Beer and
/// Lambert). The steps are our own choice.
const DEPTHS: [f64; 3] = [1.0, 1.6, 2.4];
/// Stops of exposure of skin, about the one at which an 18 % grey in the same light is mid-grey.
const EXPOSURES: std::ops::RangeInclusive<i32> = -2..=1;
/// Saturated lights: a name, and the centre and width in nm of a band, as coloured LEDs have (common practice, no source).
const BANDS: [(&str, f64, f64); 5] = [
    ("red", 630.0, 20.0),
    ("amber", 595.0, 18.0),
    ("green", 525.0, 34.0),
    ("blue", 460.0, 24.0),
    ("violet", 415.0, 18.0),
];
/// Stops of the strongest AP1 channel of a saturated light over mid-grey.
const LEVELS: std::ops::RangeInclusive<i32> = -2..=4;

/// Stops as people write them: `+2`, `-0.25`, `0`.
pub(crate) fn signed(stops: f64) -> String {
    if stops > 0.0 { format!("+{stops}") } else { format!("{stops}") }
}

/// The stops of the neutral ramp.
pub(crate) fn ramp_stops() -> impl Iterator<Item = f64> {
    (0..=2 * REACH * STEPS).map(|i| f64::from(i - REACH * STEPS) / f64::from(STEPS))
}

/// Greys from 7 stops under mid-grey to 7 over.
pub(crate) fn neutral(camera: &Camera) -> Vec<Input> {
    ramp_stops()
        .map(|stops| Input {
            signal: signal(camera, Vector3::repeat(MID_GREY * math::exp2(stops))),
            name: Some(format!("grey, {} stops", signed(stops))),
        })
        .collect()
}

/// Greys all along a signal of which nothing is known but its bounds.
pub(crate) fn neutral_signal([low, high]: [[f64; 3]; 2]) -> Vec<Input> {
    (0..GREYS)
        .map(|i| {
            let t = i as f64 / (GREYS - 1) as f64;
            Input { signal: std::array::from_fn(|c| low[c] + t * (high[c] - low[c])), name: None }
        })
        .collect()
}

/// Skin: sample 13 of CIE 13.3-1995 in three depths, along the lights from tungsten to a cold sky, from two stops under to
/// one over. (Sample 14 is a leaf, and stands among the samples.)
pub(crate) fn skin(camera: &Camera) -> Vec<Input> {
    let sample = test_colours().nth(SKIN - 1).expect("there are fourteen").reflectance;
    let real = "a temperature within the domain";
    let lights = [
        ("illuminant A", illuminant_a()),
        ("3200 K", planck(3200.0).expect(real)),
        ("4000 K", planck(4000.0).expect(real)),
        ("D50", illuminant_d(5000.0).expect(real)),
        ("5600 K", daylight(5600.0).expect(real)),
        ("D65", illuminant_d65()),
        ("10000 K", daylight(10_000.0).expect(real)),
    ];
    let mut inputs = Vec::new();
    for depth in DEPTHS {
        let skin = Spectrum::new(sample.samples().map(|r| math::pow(r, depth))).expect("a power of a reflectance");
        for (name, light) in &lights {
            let seen = under(&skin, light);
            inputs.extend(EXPOSURES.map(|stops| Input {
                signal: signal(camera, seen * math::exp2(f64::from(stops))),
                name: Some(format!("skin, depth {depth}, under {name}, {} stops", signed(f64::from(stops)))),
            }));
        }
    }
    inputs
}

/// The fourteen samples of CIE 13.3-1995 under D65 and illuminant A, exposed so that an 18 % grey is mid-grey.
pub(crate) fn samples(camera: &Camera) -> Vec<Input> {
    [("D65", illuminant_d65()), ("illuminant A", illuminant_a())]
        .iter()
        .flat_map(|(light_name, light)| {
            test_colours().map(move |t| Input {
                signal: signal(camera, under(&t.reflectance, light)),
                name: Some(format!("sample {}, {}, under {light_name}", t.number, t.appearance)),
            })
        })
        .collect()
}

/// Saturated lights: narrow bands from two stops under to four over mid-grey, by their strongest channel.
pub(crate) fn lights(camera: &Camera) -> Vec<Input> {
    BANDS
        .iter()
        .flat_map(|(name, centre, width)| {
            let light = to_ap1() * gaussian(*centre, *width).expect("within the bounds of a band").to_xyz();
            LEVELS.map(move |stops| Input {
                signal: signal(camera, light * (MID_GREY * math::exp2(f64::from(stops)) / light.max())),
                name: Some(format!("{name} light, {centre} nm, {} stops", signed(f64::from(stops)))),
            })
        })
        .collect()
}

/// XYZ to AP1 as a camera balanced for D65 sees it.
fn to_ap1() -> Matrix3<f64> {
    AP1.from_xyz() * Adaptation::Bradford.matrix(D65, AP1.white)
}

/// Scene light (AP1) of a surface in a light, so exposed that an 18 % grey is mid-grey.
pub(crate) fn under(surface: &Spectrum, light: &Spectrum) -> Vector3<f64> {
    to_ap1() * surface.to_xyz_under(light).expect("the light is seen")
}

fn signal(camera: &Camera, light: Vector3<f64>) -> [f64; 3] {
    camera.encode(light).map(|v| v.clamp(0.0, 1.0))
}
