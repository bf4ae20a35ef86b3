//! Stills from a camera's signal to ACES light, and back.

use crate::args::Convert;
use crate::disk;
use crate::failure::Failure;
use crate::frame_input::{camera, gamut};
use crate::frames;
use crate::output;
use crate::target;
use rushlight::camera::Camera;
use rushlight::frame::{self, Depth, Format, Frame, ReadOptions, Tags, write_aces};
use rushlight::gamut::Gamut;
use rushlight::image_state::{self, From, ImageState, Known, from_ap1, to_ap1};
use std::path::{Path, PathBuf};

/// The gamut of ACES frames.
const ACES: &str = "aces-ap0";

fn still(path: &Path) -> Option<Format> {
    path.extension().and_then(|e| e.to_str()).and_then(Format::from_extension)
}

/// Whether both are stills; two PNG are Hald images.
pub(super) fn is_about(input: &Path, out: &Path) -> bool {
    match (still(input), still(out)) {
        (Some(Format::Png), Some(Format::Png)) => false,
        (Some(_), Some(_)) => true,
        _ => false,
    }
}

pub(super) fn run(args: &Convert, inputs: &[PathBuf], out: &Path) -> Result<(), Failure> {
    let [input] = inputs else {
        return Err(Failure::new("frames are converted one by one: give one to read and one to write"));
    };
    let show = args.show.as_deref().map(|path| target::load_show(path, &None)).transpose()?;
    let of_camera = args.camera.as_deref().map(|name| camera("--camera", name, show.as_ref())).transpose()?;
    let mut frame = frames::still(input, &ReadOptions::default())?;
    let Some(format) = still(out) else { return Err(Failure::new("the file to write is no still")) };
    let known = image_state::of(&frame);
    // A float format is for light, the others for a signal.
    if format == Format::Exr {
        let name = args.linear.as_deref().unwrap_or(ACES);
        let to = gamut("--linear", name)?;
        let from = match (&known, &of_camera) {
            (Ok(known), None) => match &known.state {
                ImageState::Light(gamut) => {
                    let said = format!("{}, by {}", known.state, known.by);
                    to_ap1(&mut frame, From::Light(&gamut.clone()));
                    said
                }
                ImageState::Camera => return Err(no_light(input, &format!("it is {}, by {}", known.state, known.by))),
                _ => return Err(of_a_display(input, known)),
            },
            (Err(why), None) => return Err(no_light(input, &why.message)),
            (Ok(known), Some(_)) if matches!(known.state, ImageState::Light(_)) => {
                let said = format!("it is {}, by {}: drop --camera", known.state, known.by);
                return Err(Failure::new(format!("{}: {said}", input.display())));
            }
            (Ok(known), Some(_)) if !matches!(known.state, ImageState::Camera) => {
                return Err(of_a_display(input, known));
            }
            (_, Some(camera)) => {
                to_ap1(&mut frame, From::Camera(camera));
                format!("signal of camera {}", args.camera.as_deref().unwrap_or_default())
            }
        };
        disk::write(out, exr(frame, name, &to, out)?)?;
        let rules = if name == ACES { ", an ACES frame (SMPTE ST 2065-1 in the container of ST 2065-4)" } else { "" };
        return output::print(&format!("{}: {from} to light of {name}{rules}\n", out.display()));
    }
    let Some(camera) = of_camera else {
        return Err(Failure::new(format!(
            "{}: a still of a camera's signal: give --camera, one of --show SHOW or CURVE+GAMUT",
            out.display()
        )));
    };
    let light = match known {
        Ok(known) => match known.state {
            ImageState::Light(gamut) => gamut,
            state => {
                return Err(Failure::new(format!(
                    "{}: it is {state}, by {}: light is needed",
                    input.display(),
                    known.by
                )));
            }
        },
        Err(why) => {
            return Err(Failure::new(format!("{}: {why}: light with chromaticities is needed", input.display())));
        }
    };
    to_ap1(&mut frame, From::Light(&light));
    let cut = signal(&mut frame, &camera);
    let depth = match format {
        Format::Dpx => Depth::Integer(10),
        Format::Jpeg => {
            return Err(Failure::new(format!(
                "{}: a camera's signal needs more than the 8 bits of a JPEG",
                out.display()
            )));
        }
        _ => Depth::Integer(16),
    };
    let bytes = frame::write(&frame, format, depth)
        .map_err(|e| Failure::new(format!("cannot write {}: {e}", out.display())))?;
    disk::write(out, bytes)?;
    let cut = match cut {
        0 => String::new(),
        n => format!("; {n} samples lay outside the signal's 0 to 1 and were clipped"),
    };
    output::print(&format!(
        "{}: light to the signal of camera {}{cut}\n",
        out.display(),
        args.camera.as_deref().unwrap_or_default()
    ))
}

fn of_a_display(input: &Path, known: &Known) -> Failure {
    Failure::new(format!(
        "{}: it is {}, by {}: a finished picture is not converted to light; give the frame that the camera recorded",
        input.display(),
        known.state,
        known.by
    ))
}

fn no_light(input: &Path, why: &str) -> Failure {
    Failure::new(format!(
        "{}: {why}: give --camera for a camera's signal, one of --show SHOW or CURVE+GAMUT",
        input.display()
    ))
}

/// An EXR of light of a gamut from light of AP1.
fn exr(mut frame: Frame, name: &str, to: &Gamut, out: &Path) -> Result<Vec<u8>, Failure> {
    frame.associate(true);
    from_ap1(&mut frame, to);
    // The texts and layers of another file are not of this one.
    frame.info.kept = None;
    let written = if name == ACES { write_aces(&frame) } else { frame::write(&frame, Format::Exr, Depth::Half) };
    written.map_err(|e| Failure::new(format!("cannot write {}: {e}", out.display())))
}

/// The signal of a camera from light of AP1; how many samples were clipped.
fn signal(frame: &mut Frame, camera: &Camera) -> usize {
    frame.associate(false);
    let mut cut = 0;
    let channels = frame.channels();
    for pixel in frame.samples_mut().chunks_exact_mut(channels) {
        let out = camera.encode([0, 1, 2].map(|c| f64::from(pixel[c]))).0;
        for (sample, value) in pixel.iter_mut().zip(out) {
            cut += usize::from(!(0.0..=1.0).contains(&value));
            *sample = value.clamp(0.0, 1.0) as f32;
        }
    }
    // No tag of a still says which log it is.
    (frame.info.tags, frame.info.kept) = (Tags::default(), None);
    cut
}
