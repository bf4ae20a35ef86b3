//! What stands in the plane of CIE 1976 u′ and v′ beside the pixels: gamuts, white, the colours of skin and of single wavelengths.

use crate::adaptation::Adaptation;
use crate::camera::Camera;
use crate::chromaticity::{D65, Xy};
use crate::display::Display;
use crate::math::pow;
use crate::spectrum::{FIRST, LAST, Spectrum, illuminant_d65, line_chromaticity, test_colours};
use nalgebra::{Matrix3, Vector3};

/// The sample of CIE 13.3-1995 that stands for skin, and depths of its pigment from pale to dark: its reflectance to a power
/// (Beer and Lambert). The depths are our own choice.
const SKIN: usize = 13;
const DEPTHS: [f64; 9] = [0.4, 0.7, 1.0, 1.3, 1.6, 2.0, 2.4, 2.8, 3.2];
/// Between wavelengths of the spectral locus, in nm.
const LOCUS_STEP: f64 = 5.0;

/// Places of u′ and v′. What is not the display's own is adapted to the white of its picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Plane {
    /// The white of the display's picture.
    pub white: [f64; 2],
    /// Red, green and blue of the display. A channel without a chromaticity is none.
    pub display: Vec<Option<[f64; 2]>>,
    /// Red, green and blue of the camera.
    pub camera: Vec<Option<[f64; 2]>>,
    /// One published sample of skin under daylight, with less and with more pigment, from pale to dark.
    pub skin: Vec<[f64; 2]>,
    /// Single wavelengths, from the shortest: no light lies outside.
    pub locus: Vec<[f64; 2]>,
}

impl Plane {
    /// That of a camera and a display.
    pub fn of(camera: &Camera, display: &Display) -> Self {
        let white = display.picture_white();
        let adapted = Adaptation::Bradford.matrix(D65, white);
        Self {
            white: uv(white),
            display: corners(&display.gamut().to_xyz()),
            camera: corners(&(adapted * camera.to_d65())),
            skin: skin(&adapted),
            locus: locus(),
        }
    }
}

/// CIE 1976 u', v', which are CIE 1960 u and 1.5 v.
fn uv(xy: Xy) -> [f64; 2] {
    let (u, v) = xy.to_uv_1960();
    [u, 1.5 * v]
}

/// Where red, green and blue of a matrix to XYZ lie.
fn corners(to_xyz: &Matrix3<f64>) -> Vec<Option<[f64; 2]>> {
    to_xyz.column_iter().map(|column| Xy::from_xyz(&column.into_owned()).map(uv)).collect()
}

/// Skin from pale to dark, under D65 that is carried to a white.
fn skin(adapted: &Matrix3<f64>) -> Vec<[f64; 2]> {
    let Some(sample) = test_colours().nth(SKIN - 1) else { return Vec::new() };
    let light = illuminant_d65();
    let at = |depth: &f64| {
        let deep = Spectrum::new(sample.reflectance.samples().map(|r| pow(r, *depth))).ok()?;
        let xyz: Vector3<f64> = adapted * deep.to_xyz_under(&light).ok()?;
        Some(uv(Xy::from_xyz(&xyz)?))
    };
    DEPTHS.iter().filter_map(at).collect()
}

/// The colours of single wavelengths.
fn locus() -> Vec<[f64; 2]> {
    let count = ((LAST - FIRST) / LOCUS_STEP) as usize;
    (0..=count).filter_map(|i| line_chromaticity(FIRST + LOCUS_STEP * i as f64).ok()).map(uv).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gamut::BT709;

    /// CIE 15:2004, 8.1: u' = 4 x / (-2 x + 12 y + 3), v' = 9 y / (-2 x + 12 y + 3); D65 is 0.1978, 0.4683.
    #[test]
    fn chromaticities_are_those_of_1976() {
        let [u, v] = uv(BT709.white);
        assert!((u - 0.1978).abs() < 5e-5 && (v - 0.4683).abs() < 5e-5, "{u} {v}");
        // ITU-R BT.709's red, x 0.640, y 0.330, by the same formula.
        let [red, ..] = corners(&BT709.to_xyz())[..] else { panic!("three corners") };
        let [u, v] = red.expect("red has a chromaticity");
        assert!((u - 2.56 / 5.68).abs() < 1e-9 && (v - 2.97 / 5.68).abs() < 1e-9, "{u} {v}");
    }

    /// Deeper skin is redder, and all of it lies between white and the red corner.
    #[test]
    fn skin_runs_from_pale_to_dark() {
        let skin = skin(&Matrix3::identity());
        assert_eq!(skin.len(), DEPTHS.len());
        assert!(skin.windows(2).all(|two| two[0][0] < two[1][0]), "{skin:?}");
        assert!(skin.iter().all(|[u, v]| (0.2..0.35).contains(u) && (0.47..0.54).contains(v)), "{skin:?}");
    }
}
