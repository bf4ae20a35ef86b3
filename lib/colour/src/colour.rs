//! The meanings that three numbers have, as types: what a function takes and gives cannot be mistaken.
//!
//! Each is three `f64` in an array and nothing else ([`From`] both ways, [`Deref`] to the array); functions take arrays
//! too, which then mean what the function says. One meaning never becomes another without the camera, display or matrix
//! between them.
//!
//! ```
//! use rushlight_colour::{camera::Camera, colour::SceneLight, curve, gamut};
//!
//! let camera = Camera::of(&curve::SLOG3, &gamut::SGAMUT3_CINE)?;
//! let light: SceneLight = camera.decode([420.0 / 1023.0; 3]);
//! assert!((light[1] - 0.18).abs() < 1e-9);
//! # Ok::<(), rushlight_colour::invalid::Refusals>(())
//! ```

use nalgebra::Vector3;
use std::ops::{Deref, DerefMut};

macro_rules! meanings {
    ($($(#[doc = $doc:literal])+ $name:ident;)+) => {
        $(
            $(#[doc = $doc])+
            #[derive(Debug, Clone, Copy, PartialEq, Default)]
            #[repr(transparent)]
            pub struct $name(pub [f64; 3]);

            impl From<[f64; 3]> for $name {
                fn from(numbers: [f64; 3]) -> Self {
                    Self(numbers)
                }
            }

            impl From<$name> for [f64; 3] {
                fn from(colour: $name) -> Self {
                    colour.0
                }
            }

            impl From<Vector3<f64>> for $name {
                fn from(vector: Vector3<f64>) -> Self {
                    Self(vector.into())
                }
            }

            impl From<$name> for Vector3<f64> {
                fn from(colour: $name) -> Self {
                    colour.0.into()
                }
            }

            impl Deref for $name {
                type Target = [f64; 3];

                fn deref(&self) -> &[f64; 3] {
                    &self.0
                }
            }

            impl DerefMut for $name {
                fn deref_mut(&mut self) -> &mut [f64; 3] {
                    &mut self.0
                }
            }

            impl PartialEq<[f64; 3]> for $name {
                fn eq(&self, other: &[f64; 3]) -> bool {
                    self.0 == *other
                }
            }
        )+
    };
}

meanings! {
    /// Red, green and blue of a camera's or a display's signal: code value over 1023 of 10 bits, 0..1 in full range.
    Signal;
    /// Scene light: linear ACES AP1, 0.18 is mid-grey, unbounded, may be negative.
    SceneLight;
    /// CIE XYZ (1931, 2 degrees), relative: Y = 1 at diffuse white.
    Xyz;
    /// Linear light of a display's primaries: 1.0 is diffuse white, up to peak over diffuse white.
    DisplayLight;
    /// CIELAB: L*, a*, b*.
    Lab;
    /// Oklab: L (1 at white), a, b.
    Oklab;
}
