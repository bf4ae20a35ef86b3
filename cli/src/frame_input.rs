//! Frames that commands take as scene light: what each is, by its tags or by an option.

use crate::failure::Failure;
use crate::frames;
use crate::output;
use rushlight::camera::Camera;
use rushlight::frame::{Frame, ReadOptions};
use rushlight::gamut::{CATALOGUE, Gamut, named_gamut};
use rushlight::image_state::{self, From, ImageState, to_ap1};
use rushlight::message::unknown;
use rushlight::show::{Show, standing_camera};
use std::path::Path;

/// What the user says that frames are.
#[derive(Debug, Clone, Default, clap::Args)]
pub(crate) struct FrameIs {
    /// Take the frames as the signal of this camera: one of the show, or CURVE+GAMUT
    #[arg(long, value_name = "CAMERA", conflicts_with = "frame_linear")]
    pub(crate) frame_camera: Option<String>,
    /// Take the frames as scene-linear light of this built-in gamut, mid-grey at 0.18 [default: as their tags say]
    #[arg(long, value_name = "GAMUT")]
    pub(crate) frame_linear: Option<String>,
}

/// A still as light of ACES AP1. What it was taken for is printed on standard error, unless its tags say AP1.
///
/// # Errors
/// A frame that does not say what it is, or is a display's signal, of which no scene light can be made.
pub(crate) fn light(path: &Path, is: &FrameIs, show: Option<&Show>) -> Result<Frame, Failure> {
    let mut still = frames::still(path, &ReadOptions::default())?;
    let shown = path.display();
    let told = "--frame-camera NAME for a camera's signal, or --frame-linear GAMUT for light";
    if let Some(name) = &is.frame_camera {
        to_ap1(&mut still, From::Camera(&camera("--frame-camera", name, show)?));
        output::note(&format!("{shown}: taken for the signal of camera {name}"));
        return Ok(still);
    }
    if let Some(name) = &is.frame_linear {
        to_ap1(&mut still, From::Light(&gamut("--frame-linear", name)?));
        return Ok(still);
    }
    match image_state::of(&still) {
        Err(why) => Err(Failure::new(format!("{shown}: {why}: give {told}"))),
        Ok(known) => match &known.state {
            ImageState::Light(gamut) => {
                let said = known.state.to_string();
                to_ap1(&mut still, From::Light(gamut));
                if said != "scene light of aces-ap1" || known.by != "its chromaticities" {
                    output::note(&format!("{shown}: taken for {said}, by {}", known.by));
                }
                Ok(still)
            }
            state => Err(Failure::new(format!(
                "{shown}: it is {state}, by {}: such a picture gives no scene light; give a frame of the camera or of light. \
                 If the tags are wrong, give {told}",
                known.by
            ))),
        },
    }
}

/// A built-in gamut by its name.
pub(crate) fn gamut(option: &str, name: &str) -> Result<Gamut, Failure> {
    let known = CATALOGUE.map(|gamut| gamut.name);
    let found =
        named_gamut(name).ok_or_else(|| Failure::new(format!("{option}: {}", unknown("gamut", name, known))))?;
    Ok(found.gamut)
}

/// A camera of the show, or CURVE+GAMUT.
pub(crate) fn camera(option: &str, name: &str, show: Option<&Show>) -> Result<Camera, Failure> {
    if let Some(entry) = show.and_then(|show| show.cameras().get(name)) {
        return Ok(entry.item.clone());
    }
    match show {
        Some(show) if !name.contains('+') => {
            let known = show.cameras().keys().map(String::as_str);
            Err(Failure::new(format!("{option}: {}", unknown("camera", name, known))))
        }
        _ => Ok(standing_camera(name).map_err(Failure::options)?.1.item),
    }
}
