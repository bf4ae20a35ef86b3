//! What the scopes measure by: the light of a camera's codes, the light of a display's codes, gamuts, and the colours of skin.

use super::bakes::{end, ends};
use super::refusal::Refusal;
use super::studio::{self, Studio, Wanted};
use rushlight::adaptation::Adaptation;
use rushlight::camera::Camera;
use rushlight::chromaticity::{D65, Xy};
use rushlight::difference::Difference;
use rushlight::display::Display;
use rushlight::math::{log2, pow};
use rushlight::nalgebra::{Matrix3, Vector3};
use rushlight::range::Range;
use rushlight::spectrum::{FIRST, LAST, Spectrum, illuminant_d65, line_chromaticity, test_colours};
use rushlight::transfer::MID_GREY;
use serde::{Deserialize, Serialize};
use serde_json::{Value as Json, json};

/// Codes of a frame's channel, as a page is given it.
const CAMERA_CODES: usize = 1 << 16;
/// Codes of a display's channel.
const DISPLAY_CODES: usize = 1 << 10;
/// Stops of a code that holds no light: under every scale.
const NO_LIGHT: f32 = -99.0;
/// The value of the curve beside which the light of the others is stated; any that is neither black nor clipped.
const BESIDE: f64 = 0.5;
/// The sample of CIE 13.3-1995 that stands for skin, and depths of its pigment from pale to dark: its reflectance to a power
/// (Beer and Lambert). The depths are our own choice.
const SKIN: usize = 13;
const DEPTHS: [f64; 9] = [0.4, 0.7, 1.0, 1.3, 1.6, 2.0, 2.4, 2.8, 3.2];
/// Light that a place may have; mid-grey is 0.18.
const MOST_LIGHT: f64 = 1e6;
/// Between wavelengths of the spectral locus, in nm.
const LOCUS_STEP: f64 = 5.0;

/// Tables of f32, one after the other: stops from mid-grey and light (mid-grey 0.18) of each code of the camera's channel at an
/// exposure index, light of each code of the display's channel beside another, nits of each grey of the display. With them what
/// stands in few numbers.
pub(super) fn scales(
    studio: &Studio,
    camera: &str,
    display: &str,
    ei: Option<f64>,
) -> Result<(Vec<u8>, Json), Refusal> {
    let show = studio.show();
    let (camera, display) = (&studio::camera(&show, camera)?.item, &studio::display(&show, display)?.item);
    let ends = ends(camera, ei)?;
    let lit = camera_light(camera, ends.ei);
    let tables =
        lit.iter().map(|v| stops(*v)).chain(lit.iter().map(|v| *v as f32)).chain(light(display)).chain(nits(display));
    let settings = display.settings();
    let to_xyz = display.gamut().to_xyz();
    let white = display.picture_white();
    let rows: Vec<Vec<f64>> = to_xyz.row_iter().map(|row| row.iter().copied().collect()).collect();
    // Everything that is not the display's own lies beside its picture's white.
    let adapted = Adaptation::Bradford.matrix(D65, white);
    let says = json!({
        "camera_codes": CAMERA_CODES, "display_codes": DISPLAY_CODES, "ei": ends.ei,
        "clip": end(&ends.clip), "floor": end(&ends.floor),
        "to_xyz": rows, "white": uv(white),
        "display_gamut": corners(&to_xyz), "camera_gamut": corners(&(adapted * camera.to_d65())),
        "skin": skin(&adapted), "locus": locus(),
        // Codes of 10 bits of the signal's 0 and 100 %.
        "black_code": settings.range.code(settings.range.encode(0.0), 10),
        "white_code": settings.range.code(settings.range.encode(1.0), 10),
        "legal": settings.range == Range::Legal, "hdr": settings.eotf.is_hdr(),
        "peak": settings.peak, "diffuse_white": settings.diffuse_white,
    });
    Ok((tables.flat_map(f32::to_le_bytes).collect(), says))
}

/// Light of every code of a channel in the camera's own colours.
fn camera_light(camera: &Camera, ei: Option<f64>) -> Vec<f64> {
    let curve = ei.map_or_else(|| camera.shared_curve(), |ei| camera.shared_curve_at(ei));
    let range = camera.range();
    (0..CAMERA_CODES).map(|code| curve.decode(range.decode(code as f64 / (CAMERA_CODES - 1) as f64))).collect()
}

fn stops(light: f64) -> f32 {
    if light > 0.0 { log2(light / MID_GREY) as f32 } else { NO_LIGHT }
}

fn signal(code: usize) -> f64 {
    code as f64 / (DISPLAY_CODES - 1) as f64
}

/// Beside one channel that stays: what all channels of a pixel have in common, as the system gamma of HLG is, drops out.
fn light(display: &Display) -> impl Iterator<Item = f32> {
    let beside = display.settings().range.encode(BESIDE);
    (0..DISPLAY_CODES).map(move |code| {
        let light = display.decode([signal(code), beside, beside]).0;
        (light[0] / light[1]).max(0.0) as f32
    })
}

fn nits(display: &Display) -> impl Iterator<Item = f32> {
    (0..DISPLAY_CODES).map(|code| display.nits([signal(code); 3]) as f32)
}

/// CIE 1976 u', v', which are CIE 1960 u and 1.5 v.
fn uv(xy: Xy) -> [f64; 2] {
    let (u, v) = xy.to_uv_1960();
    [u, 1.5 * v]
}

/// Where red, green and blue of a matrix to XYZ lie; a channel without a chromaticity is none.
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

/// The colours of single wavelengths: what no light lies outside of.
fn locus() -> Vec<[f64; 2]> {
    let count = ((LAST - FIRST) / LOCUS_STEP) as usize;
    (0..=count).filter_map(|i| line_chromaticity(FIRST + LOCUS_STEP * i as f64).ok()).map(uv).collect()
}

/// A place of a picture that is read: a pixel by its signal, or a rectangle by the mean of its light, in the camera's own colours.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Place {
    Signal([f64; 3]),
    Light([f64; 3]),
}

/// What a place is, from the camera's signal to the display's light.
#[derive(Debug, Serialize)]
pub(super) struct Reading {
    /// Of the camera's red, green and blue, from mid-grey; none where there is no light.
    channel_stops: [Option<f64>; 3],
    /// Of the luminance.
    stops: Option<f64>,
    camera_code_10: [f64; 3],
    display_code_10: [f64; 3],
    nits: f64,
    /// CIE 1976 L*, a*, b* under the picture's diffuse white.
    lab: [f64; 3],
}

/// Reads places through a look, by the exact path; and the version of the look.
pub(super) fn read(studio: &Studio, wanted: &Wanted, places: &[Place]) -> Result<(u64, Vec<Reading>), Refusal> {
    let way = studio.path(wanted)?;
    let (camera, display) = (way.pipeline.camera(), way.pipeline.display());
    let difference = Difference::lab_on(display);
    let range = display.settings().range;
    let reading = |place: &Place| {
        let signal = match *place {
            Place::Signal(signal) => signal,
            Place::Light(light) if light.iter().all(|v| v.abs() <= MOST_LIGHT) => {
                light.map(|v| camera.range().encode(camera.curve().encode(v)))
            }
            Place::Light(_) => return Err(Refusal::bad(format!("places: light must be within {MOST_LIGHT} of black"))),
        };
        let light = camera.linearise(signal);
        if !light.iter().all(|v| v.is_finite()) {
            return Err(Refusal::bad("places: out of range: the light is not a finite number"));
        }
        let out = way.pipeline.apply(signal);
        Ok(Reading {
            channel_stops: light.map(|v| (v > 0.0).then(|| log2(v / MID_GREY))),
            stops: camera.stops(signal),
            camera_code_10: signal.map(|v| camera.range().code(v, 10).round()),
            display_code_10: out.map(|v| range.code(v, 10).round()),
            nits: display.nits(out),
            lab: difference.place(out),
        })
    };
    Ok((way.version.number, places.iter().map(reading).collect::<Result<_, _>>()?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use rushlight::display;
    use rushlight::gamut::BT709;

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

    /// The light of HLG beside another code is its inverse OETF's, whatever the system gamma does to both.
    #[test]
    fn light_of_hlg_is_without_its_system_gamma() {
        let hlg = Display::of(display::standard("bt2100-hlg").expect("a standard"));
        let table: Vec<f32> = light(&hlg).collect();
        // ITU-R BT.2100-2, table 5: below a signal of 0.5, light is the square of the signal over three.
        let [low, high] = [256, 511].map(|code| f64::from(table[code]));
        let wanted = (256.0_f64 / 511.0) * (256.0 / 511.0);
        assert!((low / high - wanted).abs() < 1e-5, "{low} {high} {wanted}");
    }
}
