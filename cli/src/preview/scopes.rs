//! What the scopes measure by: the light of a camera's codes, the light of a display's codes, gamuts, and the colours of skin.

use super::bakes::{end, ends};
use super::refusal::Refusal;
use super::studio::{self, Studio, Wanted};
use rushlight::difference::Difference;
use rushlight::math::log2;
use rushlight::range::Range;
use rushlight::scope::{
    CAMERA_CODES, DISPLAY_CODES, Plane, camera_light, display_light as light, display_nits as nits, stops,
};
use rushlight::transfer::MID_GREY;
use serde::{Deserialize, Serialize};
use serde_json::{Value as Json, json};

/// Light that a place may have; mid-grey is 0.18.
const MOST_LIGHT: f64 = 1e6;

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
    let rows: Vec<Vec<f64>> = to_xyz.row_iter().map(|row| row.iter().copied().collect()).collect();
    let plane = Plane::of(camera, display);
    let says = json!({
        "camera_codes": CAMERA_CODES, "display_codes": DISPLAY_CODES, "ei": ends.ei,
        "clip": end(&ends.clip), "floor": end(&ends.floor),
        "to_xyz": rows, "white": plane.white,
        "display_gamut": plane.display, "camera_gamut": plane.camera,
        "skin": plane.skin, "locus": plane.locus,
        // Codes of 10 bits of the signal's 0 and 100 %.
        "black_code": settings.range.code(settings.range.encode(0.0), 10),
        "white_code": settings.range.code(settings.range.encode(1.0), 10),
        "legal": settings.range == Range::Legal, "hdr": settings.eotf.is_hdr(),
        "peak": settings.peak, "diffuse_white": settings.diffuse_white,
    });
    Ok((tables.flat_map(f32::to_le_bytes).collect(), says))
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
