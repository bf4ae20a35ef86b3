//! Colours to and from the crate palette: round both ways, and against palette's own arithmetic on the same primaries, whites
//! and curves.

use palette::chromatic_adaptation::AdaptIntoUnclamped;
use palette::convert::FromColorUnclamped;
use palette::encoding::{FromLinear, IntoLinear, Linear};
use palette::rgb::{Primaries, Rgb, RgbSpace};
use palette::white_point::WhitePoint;
use palette::xyz::meta::HasXyzMeta;
use palette::{Lab, LinSrgb, Oklab, Xyz, Yxy};
use rushlight::camera::Camera;
use rushlight::colour::{self, DisplayLight, SceneLight, Signal};
use rushlight::palette::{ENCODINGS, Encoded, SPACES, Space, encoding, space, white};
use rushlight::transfer::{encoding as named_encoding, encodings};
use rushlight::{curve, difference, gamut};

/// Linear lights: dark, bright, saturated, beyond the gamut.
const LIGHTS: [[f64; 3]; 5] = [[0.18; 3], [1.0; 3], [0.9, 0.01, 0.3], [12.0, 4.0, 0.02], [-0.1, 0.4, 0.05]];

fn near(got: [f64; 3], want: [f64; 3], most: f64) -> bool {
    (0..3).all(|i| (got[i] - want[i]).abs() <= most * want.iter().fold(1.0, |a, w| w.abs().max(a)))
}

/// XYZ and scene light of one gamut's linear light, by palette and by us, and back.
fn check_space<S>()
where
    S: Space + RgbSpace<Primaries = S>,
    S: Primaries<f64>,
    S::WhitePoint: WhitePoint<f64> + HasXyzMeta<XyzMeta = S::WhitePoint>,
    Xyz<S::WhitePoint, f64>: FromColorUnclamped<Rgb<Linear<S>, f64>>,
    Rgb<Linear<S>, f64>: FromColorUnclamped<Xyz<S::WhitePoint, f64>>,
{
    let name = std::any::type_name::<S>();
    for numbers in LIGHTS {
        let linear = Rgb::<Linear<S>, f64>::from(numbers);
        // palette derives its matrix from the primaries and the white; so do we, by nalgebra.
        let xyz = Xyz::<S::WhitePoint, f64>::from_color_unclamped(linear);
        let own: [f64; 3] = (S::GAMUT.to_xyz() * nalgebra::Vector3::from(numbers)).into();
        assert!(near(colour::Xyz::from(xyz).0, own, 1e-12), "{name}: {numbers:?}: {own:?}");
        let back = Rgb::<Linear<S>, f64>::from_color_unclamped(Xyz::from(colour::Xyz(own)));
        assert!(near(back.into(), numbers, 1e-10), "{name}: {numbers:?}: {back:?}");

        let light = SceneLight::from(linear);
        let want: [f64; 3] = (S::GAMUT.to(&gamut::AP1, None) * nalgebra::Vector3::from(numbers)).into();
        assert!(near(light.0, want, 1e-13), "{name}");
        assert!(near(Rgb::<Linear<S>, f64>::from(light).into(), numbers, 1e-12), "{name}");
        let display = DisplayLight::from(linear);
        assert_eq!((display.0, Rgb::<Linear<S>, f64>::from(display)), (numbers, linear), "{name}");
    }
}

#[test]
fn every_gamut_agrees_with_palettes_matrices() {
    macro_rules! each {
        ($($name:ident)+) => {
            $(check_space::<space::$name>();)+
            assert_eq!([$(<space::$name as Space>::GAMUT),+].as_slice(), SPACES);
        };
    }
    each!(Bt709 Bt2020 P3D65 P3Dci Ap0 Ap1 SGamut SGamut3 SGamut3Cine Awg3 Awg4 VGamut CinemaGamut RedWideGamut NGamut FGamut
        DGamut AdobeRgb);
    let catalogue: Vec<gamut::Gamut> = gamut::CATALOGUE.iter().map(|g| g.gamut).filter(|g| *g != gamut::XYZ).collect();
    assert_eq!(SPACES, catalogue, "every gamut of the catalogue has its type");
}

/// palette's own matrix of BT.709, which it prints with seven digits for a white rounded elsewhere: the same once the white is
/// carried over by palette.
#[test]
fn palettes_own_srgb_is_bt709() {
    for numbers in LIGHTS {
        let ours = Rgb::<Linear<space::Bt709>, f64>::from(numbers);
        let xyz = Xyz::<white::D65, f64>::from_color_unclamped(ours);
        let adapted: Xyz<palette::white_point::D65, f64> = xyz.adapt_into_unclamped();
        let theirs = LinSrgb::<f64>::from_color_unclamped(adapted);
        assert!(near(theirs.into(), numbers, 2e-4), "{numbers:?}: {theirs:?}");
    }
}

/// Signal, linear light and scene light of a camera: palette's chain of types does what `Camera` does.
#[test]
fn a_camera_is_a_space_and_an_encoding() {
    let camera = Camera::of(&curve::SLOG3, &gamut::SGAMUT3_CINE).expect("a camera");
    for code in [[420.0 / 1023.0; 3], [0.1, 0.5, 0.93], [0.41, 0.30, 0.52]] {
        let signal = Rgb::<(space::SGamut3Cine, encoding::SLog3), f64>::from(code);
        assert_eq!(Signal::from(signal).0, code);
        let linear: Rgb<Linear<space::SGamut3Cine>, f64> = signal.into_linear();
        let light = SceneLight::from(linear);
        assert!(near(light.0, camera.decode(code).0, 1e-14), "{code:?}: {light:?}");
        let there = Rgb::<Linear<space::SGamut3Cine>, f64>::from(light);
        let back = Rgb::<(space::SGamut3Cine, encoding::SLog3), f64>::from_linear(there);
        assert!(near(back.into(), code, 1e-12), "{code:?}: {back:?}");
        assert_eq!(Rgb::<(space::SGamut3Cine, encoding::SLog3), f64>::from(Signal(code)), signal);
    }
}

fn check_encoding<E: Encoded + IntoLinear<f64, f64> + FromLinear<f64, f64>>() {
    let curve = named_encoding(E::ENCODING.name).expect("of the catalogue").curve();
    for signal in [0.05, 0.2, 0.41, 0.6, 0.9] {
        let light = E::into_linear(signal);
        assert_eq!(light, curve.decode(signal), "{}", E::ENCODING.name);
        assert_eq!(E::from_linear(light), curve.encode(light), "{}", E::ENCODING.name);
        assert!((E::from_linear(light) - signal).abs() < 1e-6, "{}: {signal}", E::ENCODING.name);
    }
}

#[test]
fn every_encoding_is_its_curve() {
    macro_rules! each {
        ($($name:ident)+) => {
            $(check_encoding::<encoding::$name>();)+
            assert_eq!([$(<encoding::$name as Encoded>::ENCODING.name),+].as_slice(), ENCODINGS);
        };
    }
    each!(AcesCc AcesCct LogC3 LogC4 SLog2 SLog3 VLog CanonLog CanonLog2 CanonLog3 NLog FLog FLog2 Log3G10 LLog DLog Bt1886
        Srgb Gamma22 Gamma24 Gamma26 Pq Hlg Bt709Oetf);
    let catalogue: Vec<&str> = encodings().iter().map(|e| e.name).filter(|name| *name != "linear").collect();
    assert_eq!(ENCODINGS, catalogue, "every encoding of the catalogue has its type");
    // palette's transfer functions of its own, from the same standards.
    for signal in [0.01, 0.2, 0.5, 1.0] {
        let theirs = <palette::encoding::Srgb as IntoLinear<f64, f64>>::into_linear(signal);
        assert!((<encoding::Srgb as IntoLinear<f64, f64>>::into_linear(signal) - theirs).abs() < 1e-7);
        let theirs = <palette::encoding::RecOetf as IntoLinear<f64, f64>>::into_linear(signal);
        assert!((<encoding::Bt709Oetf as IntoLinear<f64, f64>>::into_linear(signal) - theirs).abs() < 1e-3);
    }
}

/// CIELAB and Oklab: palette's arithmetic on our XYZ, and ours, under the same white.
#[test]
fn lab_and_oklab_are_palettes() {
    let white = <white::D65 as WhitePoint<f64>>::get_xyz();
    let white = colour::Xyz([white.x, white.y, white.z]);
    for xyz in [[0.2, 0.1, 0.6], [0.4, 0.5, 0.1], [0.02, 0.03, 0.01], [0.001, 0.002, 0.0005]].map(colour::Xyz) {
        let theirs = Lab::<white::D65, f64>::from_color_unclamped(Xyz::from(xyz));
        let ours = difference::lab(xyz, white);
        assert!(near(colour::Lab::from(theirs).0, ours.0, 1e-12), "{theirs:?} {ours:?}");
        assert_eq!(colour::Lab::from(Lab::<white::D65, f64>::from(ours)), ours);

        // palette has matrices with more digits than the article prints.
        let theirs = Oklab::<f64>::from_color_unclamped(Xyz::<palette::white_point::D65, f64>::from(xyz));
        let ours = rushlight::oklab::oklab(xyz);
        assert!(near(colour::Oklab::from(theirs).0, ours.0, 1e-3), "{theirs:?} {ours:?}");
        assert_eq!(colour::Oklab::from(Oklab::<f64>::from(ours)), ours);
        assert_eq!(colour::Xyz::from(Xyz::<white::D65, f64>::from(xyz)), xyz);
    }
    let grey = Yxy::<white::D65, f64>::from_color_unclamped(Xyz::from(white));
    assert!((grey.x - 0.3127).abs() < 1e-15 && (grey.y - 0.3290).abs() < 1e-15, "{grey:?}");
}
