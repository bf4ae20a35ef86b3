//! Chromaticity coordinates and white points, one definition each, with its source.
//!
//! Components are CIE 1931 x, y (2-degree observer). A colour as XYZ is relative: Y = 1 is the reference white.

use nalgebra::Vector3;

/// A chromaticity in CIE 1931 x, y.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Xy {
    /// x, 0 to 1 for a real light (a primary of a camera gamut may lie outside).
    pub x: f64,
    /// y, above 0 for a light that has luminance.
    pub y: f64,
}

impl Xy {
    /// A chromaticity from its coordinates.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// XYZ of this chromaticity at luminance `luminance`. Shape: three components X, Y, Z. `y` must not be zero.
    pub fn to_xyz(self, luminance: f64) -> Vector3<f64> {
        let scale = luminance / self.y;
        Vector3::new(self.x * scale, luminance, (1.0 - self.x - self.y) * scale)
    }

    /// The chromaticity of XYZ, or `None` where X + Y + Z is zero.
    pub fn from_xyz(xyz: &Vector3<f64>) -> Option<Self> {
        let sum = xyz.x + xyz.y + xyz.z;
        (sum != 0.0).then(|| Self::new(xyz.x / sum, xyz.y / sum))
    }

    /// CIE 1960 u, v, in which a tint runs square to the Planckian locus.
    pub fn to_uv_1960(self) -> (f64, f64) {
        let d = -2.0 * self.x + 12.0 * self.y + 3.0;
        (4.0 * self.x / d, 6.0 * self.y / d)
    }

    /// From CIE 1960 u, v.
    pub fn from_uv_1960(u: f64, v: f64) -> Self {
        let d = 2.0 * u - 8.0 * v + 4.0;
        Self::new(3.0 * u / d, 2.0 * v / d)
    }
}

/// D65 as the ITU gives it (ITU-R BT.709-6, 2015, item 1.4; the same in BT.2020-2 and BT.2100-2).
pub const D65: Xy = Xy::new(0.3127, 0.3290);

/// The white of the ACES encodings, near D60 (SMPTE ST 2065-1:2021, 4.1.2; Academy S-2014-004).
pub const ACES: Xy = Xy::new(0.32168, 0.33767);

/// The white of a cinema projector at its calibration point (SMPTE RP 431-2:2011).
pub const DCI: Xy = Xy::new(0.314, 0.351);

/// CIE illuminant E, of equal energy; the white of XYZ as a gamut.
pub const E: Xy = Xy::new(1.0 / 3.0, 1.0 / 3.0);

/// CIE illuminant A, tungsten at 2856 K (CIE 15:2004, table T.3).
pub const A: Xy = Xy::new(0.44758, 0.40745);

/// D50, the white of print viewing (CIE 15:2004, table T.3).
pub const D50: Xy = Xy::new(0.34567, 0.35851);
