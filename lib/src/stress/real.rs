//! Which signals of a camera a light can make, and which come of noise or of a clipped channel alone.
//!
//! A light is a mixture of wavelengths: its chromaticity lies within the convex hull of the spectral locus (CIE 1931).
//! Wide camera primaries reach beyond it, some to a negative luminance. No lamp, sign or LED is there.

use crate::camera::Camera;
use crate::spectrum::{line_chromaticity, wavelengths};
use nalgebra::Vector3;

/// The lights that there are, over one camera's primaries.
pub(super) struct RealLights {
    /// A real light (linear camera RGB) lies on the positive side of every one of these planes.
    planes: Vec<Vector3<f64>>,
}

impl RealLights {
    pub(super) fn of(camera: &Camera) -> Self {
        let locus: Vec<[f64; 2]> =
            wavelengths().filter_map(|nm| line_chromaticity(nm).ok()).map(|xy| [xy.x, xy.y]).collect();
        let hull = hull(locus);
        let to_xyz = camera.to_xyz();
        let point = |[x, y]: [f64; 2]| Vector3::new(x, y, 1.0 - x - y);
        let planes = hull.iter().zip(hull.iter().cycle().skip(1));
        Self { planes: planes.map(|(p, q)| to_xyz.transpose() * point(*p).cross(&point(*q))).collect() }
    }

    /// The largest saturation (0 grey, 1 a channel without light) that a light of a hue has, by its shares of red,
    /// green and blue in full saturation.
    pub(super) fn most_saturated(&self, shares: [f64; 3]) -> f64 {
        let lost = Vector3::from(shares.map(|share| 1.0 - share));
        self.planes.iter().fold(1.0, |most: f64, plane| {
            // Light of saturation s is white less s of what is lost.
            let (white, lost) = (plane.sum().max(0.0), plane.dot(&lost));
            if lost > white { most.min(white / lost) } else { most }
        })
    }
}

/// The convex hull of points, counter-clockwise (A. M. Andrew, "Another efficient algorithm for convex hulls in two
/// dimensions", Information Processing Letters 9, 1979).
fn hull(mut points: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    points.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    points.dedup();
    let half = |points: &mut dyn Iterator<Item = [f64; 2]>| {
        let mut chain: Vec<[f64; 2]> = Vec::new();
        for point in points {
            while let [.., a, b] = chain[..]
                && (b[0] - a[0]) * (point[1] - a[1]) - (b[1] - a[1]) * (point[0] - a[0]) <= 0.0
            {
                chain.pop();
            }
            chain.push(point);
        }
        chain.pop();
        chain
    };
    let mut hull = half(&mut points.iter().copied());
    hull.extend(half(&mut points.iter().rev().copied()));
    hull
}

#[cfg(test)]
mod tests {
    use super::super::rays::hexagon;
    use super::*;
    use crate::camera::Range;
    use crate::gamut::{BT709, Gamut, named_gamut};
    use crate::spectrum::{gaussian, line};
    use crate::transfer::encoding;

    fn real(gamut: &Gamut) -> RealLights {
        let curve = encoding("slog3").unwrap().build(None).unwrap();
        RealLights::of(&Camera::new(curve, gamut, None, Range::Full, vec![]).unwrap())
    }

    /// Every saturation of the grid of hues that is real, and the chromaticity of the edge.
    #[test]
    fn a_wide_camera_reaches_beyond_every_light_in_blue_and_a_narrow_one_nowhere() {
        let narrow = real(&BT709);
        assert!((0..24).all(|i| narrow.most_saturated(hexagon(15.0 * f64::from(i))) == 1.0));
        // The blue of this camera, x 0.089 y -0.087, has a negative luminance; its red, x 0.766 y 0.275, no light has.
        let gamut = named_gamut("sgamut3-cine").unwrap().gamut;
        let wide = real(&gamut);
        let blue = wide.most_saturated(hexagon(240.0));
        assert!((0.5..0.99).contains(&blue), "{blue}");
        let at = |s: f64| gamut.to_xyz() * Vector3::from(hexagon(240.0).map(|share| 1.0 - s * (1.0 - share)));
        let y = |xyz: Vector3<f64>| xyz.y / xyz.sum();
        assert!(y(at(blue)) > 0.0 && y(at(1.0)) < 0.0, "{} {}", y(at(blue)), y(at(1.0)));
    }

    /// Lights that are made of wavelengths are found to be real, to the last one: XYZ is on the right side of each plane.
    #[test]
    fn every_wavelength_and_every_band_is_real() {
        let gamut = named_gamut("sgamut3-cine").unwrap().gamut;
        let lights = real(&gamut);
        let back = gamut.from_xyz();
        let bands = wavelengths().flat_map(|nm| [line(nm).ok(), gaussian(nm, 10.0).ok(), gaussian(nm, 40.0).ok()]);
        for spectrum in bands.flatten() {
            let xyz = spectrum.to_xyz();
            let rgb = back * xyz / xyz.sum();
            assert!(lights.planes.iter().all(|plane| plane.dot(&rgb) > -1e-9), "{rgb:?}");
        }
    }
}
