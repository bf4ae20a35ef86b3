//! Colours to and from the crate `palette`: our gamuts and encodings as types of its `Rgb`, and conversions both ways.
//!
//! | here | there | by |
//! | --- | --- | --- |
//! | [`Xyz`] | `Xyz<W, f64>` of any white | the same three numbers |
//! | [`Lab`] | `Lab<W, f64>` of any white | the same three numbers |
//! | [`Oklab`] | `Oklab<f64>` | the same three numbers |
//! | [`SceneLight`] | `Rgb<Linear<S>, f64>` of any gamut in [`space`] | [`Gamut::to`](crate::gamut::Gamut::to) and from AP1, white carried to white |
//! | [`DisplayLight`] | `Rgb<Linear<S>, f64>`, where `S` has the display's primaries | the same three numbers |
//! | [`Signal`] | `Rgb<(S, E), f64>` of any gamut in [`space`] and encoding in [`encoding`] | the same three numbers |
//!
//! Within `palette`, such an `Rgb` is decoded, encoded and taken to XYZ by `palette`'s own conversions. Its matrices follow
//! from our primaries and from [`white`], whose chromaticities are those of the standards. `palette`'s `white_point::D65` is
//! rounded elsewhere (Z is 1.08883, against 1.08906 of ITU-R BT.709), so it is another white: `adapt_into_unclamped` carries
//! one to the other, and grey stays grey.
//!
//! ```
//! use palette::{FromColor, LinSrgb, Xyz, chromatic_adaptation::AdaptIntoUnclamped, encoding::Linear, rgb::Rgb, white_point};
//! use rushlight_colour::colour::{SceneLight, Signal};
//! use rushlight_colour::palette::{encoding::SLog3, space::SGamut3Cine, white};
//!
//! let code = Rgb::<(SGamut3Cine, SLog3), f64>::new(0.41, 0.41, 0.41);
//! let linear: Rgb<Linear<SGamut3Cine>, f64> = code.into_linear();
//! let light = SceneLight::from(linear);
//! assert!((light[1] - 0.18).abs() < 0.002);
//! assert_eq!(Signal::from(code).0, [0.41; 3]);
//!
//! let xyz: Xyz<white::D65, f64> = Xyz::from_color(linear);
//! let adapted: Xyz<white_point::D65, f64> = xyz.adapt_into_unclamped();
//! let srgb = LinSrgb::from_color(adapted);
//! assert!((srgb.red - srgb.blue).abs() < 1e-6);
//! ```

use crate::chromaticity::Xy;
use crate::colour::{DisplayLight, Lab, Oklab, SceneLight, Signal, Xyz};
use crate::gamut::{AP1, Gamut};
use crate::transfer::Transfer;
use ::palette::encoding::{FromLinear, IntoLinear, Linear};
use ::palette::num::Real;
use ::palette::rgb::{Primaries, Rgb, RgbSpace};
use ::palette::white_point::{Any, WhitePoint};
use ::palette::{Xyz as PaletteXyz, Yxy};
use nalgebra::{Matrix3, Vector3};
use std::fmt;
use std::sync::{Arc, LazyLock};

/// A gamut as a type, for `Rgb<Linear<S>, f64>` and `Rgb<(S, E), f64>`.
pub trait Space: RgbSpace + Copy + fmt::Debug + 'static {
    /// The gamut.
    const GAMUT: Gamut;

    /// Linear light of this gamut to scene light and back, white carried to white by the gamut's own adaptation.
    #[doc(hidden)]
    fn scene() -> &'static [Matrix3<f64>; 2];
}

/// An encoding as a type, for `Rgb<(S, E), f64>`. What its light is measured in stands in
/// [`Encoding::light`](crate::transfer::Encoding::light).
pub trait Encoded: Copy + fmt::Debug + 'static {
    /// The encoding.
    const ENCODING: crate::transfer::Encoding;

    /// The curve; of an encoding with constants by exposure index, at its base rating.
    fn curve() -> &'static dyn Transfer;
}

fn yxy<T: Real>(primary: Xy) -> Yxy<Any, T> {
    // The luminance is that of white: palette scales the three to its white.
    Yxy::new(T::from_f64(primary.x), T::from_f64(primary.y), T::from_f64(1.0))
}

/// Whites by the chromaticities of their standards.
pub mod white {
    use super::{Any, PaletteXyz, Real, WhitePoint};
    use crate::chromaticity;

    macro_rules! whites {
        ($($(#[doc = $doc:literal])+ $name:ident = $white:ident;)+) => {
            $(
                $(#[doc = $doc])+
                #[derive(Debug, Clone, Copy, PartialEq, Eq)]
                pub struct $name;

                impl<T: Real> WhitePoint<T> for $name {
                    fn get_xyz() -> PaletteXyz<Any, T> {
                        let xyz = chromaticity::$white.to_xyz(1.0);
                        PaletteXyz::new(T::from_f64(xyz.x), T::from_f64(xyz.y), T::from_f64(xyz.z))
                    }
                }

                impl ::palette::xyz::meta::HasXyzMeta for $name {
                    type XyzMeta = Self;
                }
            )+
        };
    }

    whites! {
        /// [`chromaticity::D65`], of ITU-R BT.709-6 (2015).
        D65 = D65;
        /// [`chromaticity::ACES`], of SMPTE ST 2065-1:2021.
        Aces = ACES;
        /// [`chromaticity::DCI`], of SMPTE RP 431-2:2011.
        Dci = DCI;
    }
}

macro_rules! spaces {
    ($($name:ident = $gamut:ident under $white:ident;)+) => {
        /// Every built-in gamut of red, green and blue, as a type.
        pub mod space {
            use super::*;
            use crate::gamut;

            $(
                #[doc = concat!("[`gamut::", stringify!($gamut), "`].")]
                #[derive(Debug, Clone, Copy, PartialEq, Eq)]
                pub struct $name;

                impl<T: Real> Primaries<T> for $name {
                    fn red() -> Yxy<Any, T> {
                        yxy(gamut::$gamut.primaries[0])
                    }

                    fn green() -> Yxy<Any, T> {
                        yxy(gamut::$gamut.primaries[1])
                    }

                    fn blue() -> Yxy<Any, T> {
                        yxy(gamut::$gamut.primaries[2])
                    }
                }

                impl RgbSpace for $name {
                    type Primaries = Self;
                    type WhitePoint = white::$white;
                }

                impl Space for $name {
                    const GAMUT: Gamut = gamut::$gamut;

                    fn scene() -> &'static [Matrix3<f64>; 2] {
                        static BOTH: LazyLock<[Matrix3<f64>; 2]> =
                            LazyLock::new(|| [gamut::$gamut.to(&AP1, None), AP1.to(&gamut::$gamut, None)]);
                        &BOTH
                    }
                }
            )+
        }

        /// Every gamut of [`space`], in the order of [`CATALOGUE`](crate::gamut::CATALOGUE).
        pub const SPACES: &[Gamut] = &[$(<space::$name as Space>::GAMUT),+];
    };
}

spaces! {
    Bt709 = BT709 under D65;
    Bt2020 = BT2020 under D65;
    P3D65 = P3_D65 under D65;
    P3Dci = P3_DCI under Dci;
    Ap0 = AP0 under Aces;
    Ap1 = AP1 under Aces;
    SGamut = SGAMUT under D65;
    SGamut3 = SGAMUT3 under D65;
    SGamut3Cine = SGAMUT3_CINE under D65;
    Awg3 = AWG3 under D65;
    Awg4 = AWG4 under D65;
    VGamut = VGAMUT under D65;
    CinemaGamut = CINEMA_GAMUT under D65;
    RedWideGamut = REDWIDEGAMUT under D65;
    NGamut = NGAMUT under D65;
    FGamut = FGAMUT under D65;
    DGamut = DGAMUT under D65;
    AdobeRgb = ADOBE_RGB under D65;
}

macro_rules! encodings {
    ($($name:ident = $encoding:ident;)+) => {
        /// Every built-in encoding, as a type; [`LINEAR`](crate::curve::LINEAR) is `palette`'s own `Linear`.
        pub mod encoding {
            use super::*;
            use crate::curve;

            $(
                #[doc = concat!("[`curve::", stringify!($encoding), "`].")]
                #[derive(Debug, Clone, Copy, PartialEq, Eq)]
                pub struct $name;

                impl Encoded for $name {
                    const ENCODING: crate::transfer::Encoding = curve::$encoding;

                    fn curve() -> &'static dyn Transfer {
                        static CURVE: LazyLock<Arc<dyn Transfer>> = LazyLock::new(|| curve::$encoding.curve());
                        &**CURVE
                    }
                }

                impl IntoLinear<f64, f64> for $name {
                    fn into_linear(encoded: f64) -> f64 {
                        Self::curve().decode(encoded)
                    }
                }

                impl FromLinear<f64, f64> for $name {
                    fn from_linear(linear: f64) -> f64 {
                        Self::curve().encode(linear)
                    }
                }
            )+
        }

        /// The names of every encoding of [`encoding`], in the order of [`encodings`](crate::transfer::encodings).
        pub const ENCODINGS: &[&str] = &[$(<encoding::$name as Encoded>::ENCODING.name),+];
    };
}

encodings! {
    AcesCc = ACESCC;
    AcesCct = ACESCCT;
    LogC3 = LOGC3;
    LogC4 = LOGC4;
    SLog2 = SLOG2;
    SLog3 = SLOG3;
    VLog = VLOG;
    CanonLog = CANON_LOG;
    CanonLog2 = CANON_LOG2;
    CanonLog3 = CANON_LOG3;
    NLog = NLOG;
    FLog = FLOG;
    FLog2 = FLOG2;
    Log3G10 = LOG3G10;
    LLog = LLOG;
    DLog = DLOG;
    Bt1886 = BT1886;
    Srgb = SRGB;
    Gamma22 = GAMMA22;
    Gamma24 = GAMMA24;
    Gamma26 = GAMMA26;
    Pq = PQ;
    Hlg = HLG;
    Bt709Oetf = BT709_OETF;
}

/// The same three numbers both ways.
macro_rules! same_numbers {
    ([$($generics:tt)*] $ours:ident, $theirs:ty) => {
        impl<$($generics)*> From<$theirs> for $ours {
            fn from(colour: $theirs) -> Self {
                Self(colour.into())
            }
        }

        impl<$($generics)*> From<$ours> for $theirs {
            fn from(colour: $ours) -> Self {
                colour.0.into()
            }
        }
    };
}

same_numbers!([W] Xyz, PaletteXyz<W, f64>);
same_numbers!([W] Lab, ::palette::Lab<W, f64>);
same_numbers!([] Oklab, ::palette::Oklab<f64>);
same_numbers!([S: Space] DisplayLight, Rgb<Linear<S>, f64>);
same_numbers!([S: Space, E: Encoded] Signal, Rgb<(S, E), f64>);

impl<S: Space> From<Rgb<Linear<S>, f64>> for SceneLight {
    fn from(linear: Rgb<Linear<S>, f64>) -> Self {
        (S::scene()[0] * Vector3::from(<[f64; 3]>::from(linear))).into()
    }
}

impl<S: Space> From<SceneLight> for Rgb<Linear<S>, f64> {
    fn from(light: SceneLight) -> Self {
        <[f64; 3]>::from(S::scene()[1] * Vector3::from(light)).into()
    }
}
