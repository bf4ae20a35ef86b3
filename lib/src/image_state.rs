//! What the samples of a frame are: a camera's signal, scene light, or a display's signal. ISO 22028-1 calls it the image
//! state. Files say it by their tags, or not at all: then it is asked, not guessed, since a log frame that passes for light gives a
//! wrong picture that looks like a choice.

use crate::adaptation::Adaptation;
use crate::apply::tags::code;
use crate::camera::Camera;
use crate::chromaticity::Xy;
use crate::frame::{Format, Frame, Tags};
use crate::gamut::{AP1, BT709, BT2020, CATALOGUE, Gamut, P3_D65, P3_DCI};
use crate::invalid::Invalid;
use crate::slate::Slate;
use std::fmt;

/// H.273: light as it is.
const LINEAR: u8 = 8;
/// Chromaticities in a file are of 32-bit floats, and some programs round to four decimals.
const CLOSE: f64 = 6e-5;
/// What no code of a full-range signal exceeds.
const CODES: f32 = 1.0;

/// What the samples of a frame are.
#[derive(Debug, Clone, PartialEq)]
pub enum ImageState {
    /// A camera's log signal, 0 to 1 over its codes.
    Camera,
    /// Scene-linear light of these primaries, mid-grey at 0.18.
    Light(Gamut),
    /// The signal of a display: by its name among the built-in ones, where the tags say one of these.
    Display(Option<&'static str>),
}

impl fmt::Display for ImageState {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Camera => f.write_str("camera signal"),
            Self::Light(gamut) => match gamut_name(gamut) {
                Some(name) => write!(f, "scene light of {name}"),
                None => f.write_str("scene light of its own primaries"),
            },
            Self::Display(Some(name)) => write!(f, "display signal for {name}"),
            Self::Display(None) => f.write_str("display signal"),
        }
    }
}

/// The name of a built-in gamut.
pub fn gamut_name(gamut: &Gamut) -> Option<&'static str> {
    CATALOGUE.iter().find(|named| same(&named.gamut, gamut)).map(|named| named.name)
}

/// A state, and how it is known.
#[derive(Debug, Clone, PartialEq)]
pub struct Known {
    /// What the samples are.
    pub state: ImageState,
    /// By what, in words.
    pub by: &'static str,
}

fn same(a: &Gamut, b: &Gamut) -> bool {
    let close = |a: Xy, b: Xy| (a.x - b.x).abs() < CLOSE && (a.y - b.y).abs() < CLOSE;
    close(a.white, b.white) && a.primaries.iter().zip(b.primaries).all(|(a, b)| close(*a, b))
}

/// What a frame is, by what its file says of it.
///
/// # Errors
/// The file does not say it, in words: what is missing.
pub fn of(frame: &Frame) -> Result<Known, Invalid> {
    let tags = &frame.info.tags;
    let known = |state, by| Ok(Known { state, by });
    if let Some(slate) = Slate::of_frame(frame) {
        if let Some(said) = slate.display_signal() {
            return known(ImageState::Display(said), "its description");
        }
        if slate.is_camera_signal() {
            return known(ImageState::Camera, "its description");
        }
    }
    if let Some(cicp) = tags.cicp {
        let gamut = match cicp.primaries {
            code::BT709 => Some(BT709),
            code::BT2020 => Some(BT2020),
            code::P3_DCI => Some(P3_DCI),
            code::P3_D65 => Some(P3_D65),
            _ => None,
        };
        return match (cicp.transfer, gamut) {
            (LINEAR, Some(gamut)) => known(ImageState::Light(gamut), "its code points (ITU-T H.273)"),
            (LINEAR, None) => refuse("its code points say linear light of primaries that have no name"),
            _ => known(ImageState::Display(display(tags)), "its code points (ITU-T H.273)"),
        };
    }
    match frame.info.format {
        Format::Exr => light(frame),
        _ if tags.srgb => known(ImageState::Display(Some("srgb")), "its sRGB tag"),
        _ if tags.icc.is_some() => known(ImageState::Display(None), "its ICC profile"),
        _ if tags.gamma.is_some() => known(ImageState::Display(None), "its gamma tag"),
        Format::Jpeg => {
            known(ImageState::Display(Some("srgb")), "being a JPEG without tags (common practice, no source)")
        }
        format => refuse(format!(
            "a {} without colour tags may be a camera's signal, light or a display's signal",
            format.name()
        )),
    }
}

fn refuse(why: impl Into<String>) -> Result<Known, Invalid> {
    Err(Invalid::plain(why))
}

/// The built-in display of code points.
fn display(tags: &Tags) -> Option<&'static str> {
    let cicp = tags.cicp?;
    match (cicp.primaries, cicp.transfer) {
        (code::BT709, code::BT709) => Some("bt709"),
        (code::BT709, code::SRGB) => Some("srgb"),
        (code::BT2020, code::BT709 | code::BT2020_10) => Some("bt2020"),
        (code::BT2020, code::PQ) => Some("bt2100-pq"),
        (code::BT2020, code::HLG) => Some("bt2100-hlg"),
        _ => None,
    }
}

fn light(frame: &Frame) -> Result<Known, Invalid> {
    let known = |gamut, by| Ok(Known { state: ImageState::Light(gamut), by });
    match frame.info.tags.chromaticities {
        Some([red, green, blue, white]) => {
            let own = Gamut::new([red, green, blue], white, Adaptation::Bradford).map_err(|refused| {
                Invalid::plain(format!("its chromaticities are of no gamut: {}", refused[0].message))
            })?;
            let named = CATALOGUE.iter().find(|named| same(&named.gamut, &own));
            known(named.map_or(own, |named| named.gamut), "its chromaticities")
        }
        None if frame.samples().iter().any(|v| *v > CODES) => {
            known(AP1, "being an EXR with light over 1; without chromaticities, it is taken for AP1")
        }
        None => {
            refuse("an EXR without chromaticities whose values all lie within 0 to 1 may hold a camera's log signal")
        }
    }
}

/// Light of ACES AP1 from a frame that holds light of another gamut, or a camera's signal. Alpha stays; where colour is
/// multiplied by it, that is undone for a curve and done again.
pub fn to_ap1(frame: &mut Frame, from: From<'_>) {
    match from {
        From::Light(gamut) => linear(frame, gamut, &AP1),
        From::Camera(camera) => {
            let associated = frame.info.associated;
            frame.associate(false);
            each(frame, |rgb| camera.decode(rgb).0);
            frame.associate(associated);
        }
    }
    frame.info.tags = tags(&AP1);
}

/// Light of a gamut from a frame that holds light of ACES AP1.
pub fn from_ap1(frame: &mut Frame, to: &Gamut) {
    linear(frame, &AP1, to);
    frame.info.tags = tags(to);
}

fn tags(gamut: &Gamut) -> Tags {
    let [red, green, blue] = gamut.primaries;
    Tags { chromaticities: Some([red, green, blue, gamut.white]), ..Tags::default() }
}

fn each(frame: &mut Frame, f: impl Fn([f64; 3]) -> [f64; 3]) {
    let channels = frame.channels();
    for pixel in frame.samples_mut().chunks_exact_mut(channels) {
        let out = f([0, 1, 2].map(|c| f64::from(pixel[c])));
        (0..3).for_each(|c| pixel[c] = out[c] as f32);
    }
}

/// By one matrix, which leaves colour that is multiplied by alpha so.
fn linear(frame: &mut Frame, from: &Gamut, to: &Gamut) {
    if !same(from, to) {
        let matrix = from.to(to, None);
        each(frame, |[r, g, b]| {
            let out = matrix * nalgebra::Vector3::new(r, g, b);
            [out.x, out.y, out.z]
        });
    }
}

/// What light is made of.
#[derive(Debug, Clone, Copy)]
pub enum From<'a> {
    /// Light of this gamut.
    Light(&'a Gamut),
    /// The signal of this camera.
    Camera(&'a Camera),
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::display::{Display, STANDARDS, standard};
    use crate::frame::{Cicp, Depth, Info};
    use crate::gamut::named_gamut;

    fn frame(format: Format, value: f32, tags: Tags) -> Frame {
        let info = Info { tags, ..Info::new(format, Depth::Integer(16)) };
        Frame::new(1, 1, false, vec![value; 3], info).unwrap()
    }

    fn chromaticities(gamut: &Gamut) -> Tags {
        let [red, green, blue] = gamut.primaries;
        // As an EXR gives them back.
        let rounded = [red, green, blue, gamut.white].map(|c| Xy::new(f64::from(c.x as f32), f64::from(c.y as f32)));
        Tags { chromaticities: Some(rounded), ..Tags::default() }
    }

    #[test]
    fn light_is_known_by_chromaticities_and_code_points() {
        for gamut in CATALOGUE {
            let known = of(&frame(Format::Exr, 0.5, chromaticities(&gamut.gamut))).unwrap();
            // Some cameras' gamuts are one under two names.
            let ImageState::Light(found) = known.state else { panic!("{}", gamut.name) };
            assert!(same(&found, &gamut.gamut) && known.by == "its chromaticities", "{}", gamut.name);
        }
        let linear = Tags { cicp: Some(Cicp::rgb(9, 8)), ..Tags::default() };
        assert_eq!(of(&frame(Format::Png, 0.5, linear)).unwrap().state, ImageState::Light(BT2020));
    }

    #[test]
    fn a_displays_signal_is_known_by_what_apply_writes() {
        for built_in in &STANDARDS {
            let tags = crate::apply::tags::tags(&Display::of(standard(built_in.name).unwrap()));
            let said = of(&frame(Format::Png, 0.5, tags)).unwrap().state;
            let ImageState::Display(name) = said else { panic!("{}", built_in.name) };
            assert!(name.is_none_or(|name| name == built_in.name), "{name:?} of {}", built_in.name);
        }
        assert_eq!(of(&frame(Format::Jpeg, 0.5, Tags::default())).unwrap().state, ImageState::Display(Some("srgb")));
    }

    #[test]
    fn what_a_file_does_not_say_is_asked_and_not_guessed() {
        for format in [Format::Tiff, Format::Png, Format::Dpx] {
            assert!(of(&frame(format, 0.4, Tags::default())).unwrap_err().message.contains("without colour tags"));
        }
        assert!(of(&frame(Format::Exr, 0.4, Tags::default())).unwrap_err().message.contains("a camera's log signal"));
        let light = of(&frame(Format::Exr, 1.5, Tags::default())).unwrap();
        assert_eq!(light.state, ImageState::Light(AP1));
        assert!(light.by.contains("taken for AP1"));
    }

    /// Academy TB-2014-004: the white of AP0 and AP1 is one, so that neutrals stay neutrals; and back again.
    #[test]
    fn light_of_another_gamut_and_signals_become_ap1() {
        let mut neutral = frame(Format::Exr, 0.18, Tags::default());
        to_ap1(&mut neutral, From::Light(&named_gamut("aces-ap0").unwrap().gamut));
        assert!(neutral.rgb(0, 0).iter().all(|v| (v - 0.18).abs() < 1e-6), "{:?}", neutral.rgb(0, 0));
        let curve = crate::transfer::encoding("slog3").unwrap().build(None).unwrap();
        let gamut = &named_gamut("sgamut3-cine").unwrap().gamut;
        let camera = Camera::new(curve, gamut, None, crate::camera::Range::Full, Vec::new()).unwrap();
        let mut grey = frame(Format::Tiff, 420.0 / 1023.0, Tags::default());
        to_ap1(&mut grey, From::Camera(&camera));
        assert!(grey.rgb(0, 0).iter().all(|v| (v - 0.18).abs() < 1e-4), "{:?}", grey.rgb(0, 0));
        assert_eq!(
            of(&grey).unwrap_err().message,
            "a TIFF without colour tags may be a camera's signal, light or a display's signal"
        );
    }
}
