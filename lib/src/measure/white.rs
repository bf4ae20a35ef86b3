//! The white of the light in a frame, by a patch of a grey card: what the white of a camera in a show is set to.

use super::MeasureError;
use crate::camera::Camera;
use crate::chromaticity::Xy;
use crate::frame::Frame;
use crate::math::log2;
use crate::spectrum::kelvin_and_tint;
use crate::spectrum::locus::KELVIN;
use nalgebra::Vector3;

/// A white that was measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct White {
    /// Chromaticity, CIE 1931 x and y, as the camera sees it where its own neutral is D65.
    pub xy: Xy,
    /// Correlated colour temperature, kelvin, as [`locus_white`](crate::spectrum::locus_white) has it.
    pub kelvin: f64,
    /// Thousandths of Duv beside the locus; above 0 towards green.
    pub tint: f64,
    /// Stops of red and of blue over green in the camera's own channels.
    pub cast: [f64; 2],
}

/// Light under this counts as black: it has more noise than colour. Mid-grey is 0.18.
const BLACK: f64 = 1e-3;
/// More than this part of the pixels at the clip, and the patch clips.
const CLIPS: f64 = 0.01;

/// The white of a grey patch by a camera without the white balance that a show states. `clip` is the signal at which the
/// camera clips, where it is known.
///
/// # Errors
/// A patch that is black or clips, or whose colour is that of no light.
pub fn white(camera: &Camera, clip: Option<f64>, patch: &Frame) -> Result<White, MeasureError> {
    let fail = |why: &str| MeasureError::Patch(why.to_owned());
    // Without a known clip, the top of the signal.
    let clip = clip.map_or(0.97, |clip| clip - 0.002);
    let (mut sum, mut count, mut clipped) = ([0.0; 3], 0usize, 0usize);
    for rgb in patch.pixels() {
        let signal = rgb.map(f64::from);
        clipped += usize::from(signal.iter().any(|v| *v >= clip));
        let light = camera.linearise(signal);
        (0..3).for_each(|c| sum[c] += light[c]);
        count += 1;
    }
    if clipped as f64 > CLIPS * count as f64 {
        return Err(fail("the patch clips, and what clips has no colour: shoot the card darker"));
    }
    let light = sum.map(|s| s / count.max(1) as f64);
    if !light.iter().all(|v| *v > BLACK && v.is_finite()) {
        return Err(fail("the patch is black: a white is measured on a grey card in the light of the scene"));
    }
    let plain = camera.clone().unbalanced();
    let xyz = plain.to_d65() * Vector3::from(light);
    let xy = Xy::from_xyz(&xyz).ok_or_else(|| fail("the patch has no colour"))?;
    let (kelvin, tint) = kelvin_and_tint(xy).ok_or_else(|| {
        MeasureError::Patch(format!(
            "the patch has x {:.4}, y {:.4}, which is the white of no light from {} to {} K: is it a grey card?",
            xy.x, xy.y, KELVIN.min, KELVIN.max
        ))
    })?;
    Ok(White { xy, kelvin, tint, cast: [log2(light[0] / light[1]), log2(light[2] / light[1])] })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::Range;
    use crate::chromaticity::D65;
    use crate::frame::{Depth, Format, Info};
    use crate::gamut::{AP1, SGAMUT3_CINE};
    use crate::spectrum::locus_white;
    use crate::transfer::encoding;

    fn grey(camera: &Camera, xy: Xy, light: f64) -> Frame {
        let to_ap1 = AP1.from_xyz() * crate::adaptation::Adaptation::Bradford.matrix(D65, AP1.white);
        let signal = camera.encode(<[f64; 3]>::from(to_ap1 * xy.to_xyz(light)));
        let samples = std::iter::repeat_n(signal.0.map(|v| v as f32), 256).flatten().collect();
        Frame::new(16, 16, false, samples, Info::new(Format::Tiff, Depth::Float)).unwrap()
    }

    #[test]
    fn the_white_that_is_measured_makes_the_card_neutral() {
        let camera = Camera::new(encoding("slog3").unwrap().curve(), &SGAMUT3_CINE, None, Range::Full, vec![]).unwrap();
        for (kelvin, tint) in [(3200.0, 0.0), (4300.0, -6.0), (5600.0, 3.0), (9000.0, 0.0)] {
            let xy = locus_white(kelvin, tint).unwrap();
            let frame = grey(&camera, xy, 0.18);
            let found = white(&camera, None, &frame).unwrap();
            assert!((found.kelvin / kelvin - 1.0).abs() < 1e-3 && (found.tint - tint).abs() < 0.1, "{found:?}");
            let balanced = camera.clone().balanced(found.xy).unwrap();
            let light = balanced.decode(frame.rgb(3, 3).map(f64::from));
            assert!(light.iter().all(|v| (v - light[1]).abs() < 1e-5), "{light:?}");
            // A white balance that the show states is ignored here.
            assert_eq!(white(&balanced, None, &frame).unwrap(), found);
        }
        let warm = locus_white(3200.0, 0.0).unwrap();
        assert!(white(&camera, None, &grey(&camera, warm, 1e-4)).unwrap_err().to_string().contains("black"));
        assert!(white(&camera, Some(0.3), &grey(&camera, warm, 0.18)).unwrap_err().to_string().contains("clips"));
        let blue = grey(&camera, Xy::new(0.16, 0.08), 0.18);
        assert!(white(&camera, None, &blue).unwrap_err().to_string().contains("no light"));
    }
}
