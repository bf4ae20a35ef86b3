//! What the scopes measure by: the stops of a camera's codes, the light of a display's codes, gamuts and the colours of skin.

use super::refusal::Refusal;
use super::studio::{self, Studio};
use rushlight::camera::Camera;
use rushlight::chromaticity::Xy;
use rushlight::display::{Display, Eotf};
use rushlight::gamut::Gamut;
use rushlight::math::{log2, pow};
use rushlight::range::Range;
use rushlight::spectrum::{Spectrum, illuminant_d65, test_colours};
use rushlight::transfer::MID_GREY;
use serde_json::{Value as Json, json};

/// Codes of a frame's channel, as a page is given it.
const CAMERA_CODES: usize = 1 << 16;
/// Codes of a display's channel.
const DISPLAY_CODES: usize = 1 << 10;
/// Stops of a code that holds no light: under every scale.
const NO_LIGHT: f32 = -99.0;
/// The code beside which the light of the others is stated; any that is neither black nor clipped.
const BESIDE: f64 = 0.5;
/// The sample of CIE 13.3-1995 that stands for skin, and depths of its pigment from pale to dark: its reflectance to a power
/// (Beer and Lambert). The depths are our own choice.
const SKIN: usize = 13;
const DEPTHS: [f64; 9] = [0.4, 0.7, 1.0, 1.3, 1.6, 2.0, 2.4, 2.8, 3.2];

/// Tables of f32, one after the other: stops from mid-grey of each code of the camera's channel, light of each code of the
/// display's channel beside another, nits of each grey of the display. With them what stands in words and few numbers.
pub(super) fn scales(studio: &Studio, camera: &str, display: &str) -> Result<(Vec<u8>, Json), Refusal> {
    let show = studio.show();
    let (camera, display) = (&studio::camera(&show, camera)?.item, &studio::display(&show, display)?.item);
    let tables = stops(camera).chain(light(display)).chain(nits(display));
    let bytes = tables.flat_map(f32::to_le_bytes).collect();
    let settings = display.settings();
    let limits = (settings.range == Range::Legal).then(|| [0.0, 1.0].map(|v| settings.range.encode(v)));
    let matrix = display.gamut().to_xyz();
    Ok((
        bytes,
        json!({
            "camera_codes": CAMERA_CODES, "display_codes": DISPLAY_CODES,
            "camera_gamut": corners(camera.gamut()), "display_gamut": corners(display.gamut()),
            "display_white": uv(display.gamut().white), "skin": skin(),
            "to_xyz": (0..3).map(|i| matrix.row(i).iter().copied().collect::<Vec<f64>>()).collect::<Vec<_>>(),
            "legal": limits, "peak": settings.peak, "hdr": matches!(settings.eotf, Eotf::Pq | Eotf::Hlg),
        }),
    ))
}

fn stops(camera: &Camera) -> impl Iterator<Item = f32> {
    (0..CAMERA_CODES).map(|code| {
        let light = camera.linearise([code as f64 / (CAMERA_CODES - 1) as f64; 3])[0] / MID_GREY;
        if light > 0.0 { log2(light) as f32 } else { NO_LIGHT }
    })
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

fn corners(gamut: &Gamut) -> [[f64; 2]; 3] {
    gamut.primaries.map(uv)
}

/// Skin from pale to dark under D65.
fn skin() -> Vec<[f64; 2]> {
    let Some(sample) = test_colours().nth(SKIN - 1) else { return Vec::new() };
    let light = illuminant_d65();
    let at = |depth: &f64| {
        let deep = Spectrum::new(sample.reflectance.samples().map(|r| pow(r, *depth))).ok()?;
        Some(uv(Xy::from_xyz(&deep.to_xyz_under(&light).ok()?)?))
    };
    DEPTHS.iter().filter_map(at).collect()
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
    }

    /// Deeper skin is redder, and all of it lies between white and the red corner.
    #[test]
    fn skin_runs_from_pale_to_dark() {
        let skin = skin();
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
        let wanted = (256.0_f64 / 511.0).powi(2);
        assert!((low / high - wanted).abs() < 1e-5, "{low} {high} {wanted}");
    }
}
