//! Frames that a page shows: read once, and given as the signal of the camera that is looked through.

use super::refusal::Refusal;
use crate::disk;
use crate::failure::Failure;
use crate::ffmpeg::{self, Trouble};
use crate::picture::mean;
use axum::http::StatusCode;
use rayon::prelude::*;
use rushlight::adaptation::Adaptation;
use rushlight::camera::Camera;
use rushlight::display::{self, Display};
use rushlight::frame::{self, Depth, Format, Frame, FrameError, Info, Limits, ReadOptions};
use rushlight::gamut::{AP1, Gamut};
use rushlight::image_state::{self, ImageState};
use serde_json::{Value as Json, json};
use std::array::from_fn;
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Frames that were dropped onto pages and are kept; the oldest goes.
const MOST_DROPPED: usize = 8;
/// Pixels across a picture, unless all of them are asked for.
const WIDTH: usize = 1920;

/// What the samples of a file are taken for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Reading {
    /// The camera's own signal.
    Log,
    /// Scene light: linear ACES AP1.
    Light,
    /// A finished picture in sRGB.
    Display,
}

impl Reading {
    const ALL: [Self; 3] = [Self::Log, Self::Light, Self::Display];

    const fn name(self) -> &'static str {
        match self {
            Self::Log => "log",
            Self::Light => "light",
            Self::Display => "display",
        }
    }

    pub(super) fn from_name(name: &str) -> Result<Self, Refusal> {
        Self::ALL.into_iter().find(|r| r.name() == name).ok_or_else(|| {
            Refusal::bad(format!("as: `{name}`: it must be one of {}", Self::ALL.map(Self::name).join(", ")))
        })
    }

    const fn says(self) -> &'static str {
        match self {
            Self::Log => "taken for the signal of the camera, as recorded",
            Self::Light => {
                "scene light (linear, mid-grey 0.18; ACES AP1 unless the file states other primaries), encoded to the camera's log"
            }
            Self::Display => {
                "a finished picture (sRGB), turned back into light and encoded to the camera's log: an estimate, with no \
                 highlights over white"
            }
        }
    }

    /// What a file is by what it says of itself, and how that is known. A file that does not say it is taken for the
    /// camera's signal, never for light: a log frame that passes for light looks like a choice.
    fn of(frame: &Frame) -> (Self, String) {
        match image_state::of(frame) {
            Ok(known) => {
                let reading = match known.state {
                    ImageState::Camera => Self::Log,
                    ImageState::Light(_) => Self::Light,
                    ImageState::Display(_) => Self::Display,
                };
                (reading, format!("by {}", known.by))
            }
            Err(why) => (Self::Log, format!("{why}: choose what it is")),
        }
    }
}

/// A frame and where it comes from.
#[derive(Debug)]
struct Still {
    id: String,
    name: String,
    frame: Frame,
    reading: Reading,
    /// How it is known what the samples are; empty where the user says it.
    by: String,
    dropped: bool,
}

impl Still {
    /// What its samples take.
    fn bytes(&self) -> usize {
        self.frame.width() * self.frame.height() * if self.frame.alpha() { 16 } else { 12 }
    }

    fn report(&self) -> Json {
        let format = self.frame.info.format.name();
        let by = if self.by.is_empty() { String::new() } else { format!(" ({})", self.by) };
        json!({
            "id": self.id, "name": self.name, "width": self.frame.width(), "height": self.frame.height(),
            "reads_as": self.reading.name(), "says": format!("{format}: {}{by}", self.reading.says()),
        })
    }
}

/// A picture for a page: u16 RGBA, little end first.
pub(super) struct Picture {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) says: &'static str,
    pub(super) bytes: Vec<u8>,
}

#[derive(Debug, Default)]
pub(super) struct Frames {
    kept: Mutex<Kept>,
    /// What the samples of all of them may take together.
    limits: Limits,
}

#[derive(Debug, Default)]
struct Kept {
    stills: Vec<Arc<Still>>,
    count: u64,
}

impl Kept {
    /// Lets go of the oldest that were dropped, until those that stay are few and small enough; never of the newest.
    fn make_room(&mut self, limits: Limits) {
        loop {
            let dropped = self.stills.iter().filter(|s| s.dropped).count();
            let bytes: usize = self.stills.iter().map(|s| s.bytes()).sum();
            let oldest = self.stills.iter().position(|s| s.dropped).filter(|at| at + 1 < self.stills.len());
            match oldest {
                Some(oldest) if dropped > MOST_DROPPED || bytes > limits.memory => self.stills.remove(oldest),
                _ => return,
            };
        }
    }
}

impl Frames {
    fn lock(&self) -> MutexGuard<'_, Kept> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Reads files of this machine.
    pub(super) fn of(paths: &[std::path::PathBuf], limits: Limits) -> Result<Self, Failure> {
        let frames = Self { limits, ..Self::default() };
        for path in paths {
            let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
            let frame = read(path, &name, 0.0, frames.room())?;
            frames.keep(name, frame, None, false);
        }
        Ok(frames)
    }

    pub(super) fn report(&self) -> Vec<Json> {
        self.lock().stills.iter().map(|s| s.report()).collect()
    }

    /// Takes a file that was dropped onto a page, which lies at `path` for now.
    pub(super) fn take(&self, path: &Path, name: &str, at: f64, reading: Option<Reading>) -> Result<Json, Refusal> {
        let frame = read(path, name, at, self.room())?;
        Ok(self.keep(name.to_owned(), frame, reading, true).report())
    }

    /// Takes a frame that is the signal of a camera.
    pub(super) fn take_signal(&self, name: String, frame: Frame) -> Json {
        self.keep(name, frame, Some(Reading::Log), true).report()
    }

    /// A file beside the show, which the show has as the frame of a shot; the same one again costs nothing.
    pub(super) fn of_shot(&self, path: &Path, name: &str) -> Result<Json, Refusal> {
        let there = self.lock().stills.iter().find(|s| s.name == name).map(|s| s.report());
        if let Some(there) = there {
            return Ok(there);
        }
        let frame = read(path, name, 0.0, self.room())?;
        Ok(self.keep(name.to_owned(), frame, None, true).report())
    }

    /// What a new frame may take: those that were named at the start stay.
    fn room(&self) -> Limits {
        let taken: usize = self.lock().stills.iter().filter(|s| !s.dropped).map(|s| s.bytes()).sum();
        Limits { memory: self.limits.memory.saturating_sub(taken) }
    }

    fn keep(&self, name: String, frame: Frame, reading: Option<Reading>, dropped: bool) -> Arc<Still> {
        let mut kept = self.lock();
        kept.count += 1;
        let (reading, by) = reading.map_or_else(|| Reading::of(&frame), |reading| (reading, String::new()));
        let still = Arc::new(Still { id: kept.count.to_string(), name, frame, reading, by, dropped });
        kept.stills.push(still.clone());
        kept.make_room(self.limits);
        still
    }

    /// A frame as the signal of a camera.
    pub(super) fn picture(
        &self,
        id: &str,
        camera: &Camera,
        reading: Option<Reading>,
        full: bool,
    ) -> Result<Picture, Refusal> {
        let still = self.lock().stills.iter().find(|s| s.id == id).cloned();
        let still = still.ok_or_else(|| Refusal::not_found(format!("there is no frame {id}")))?;
        let reading = reading.unwrap_or(still.reading);
        let frame = &still.frame;
        let width = if full { frame.width() } else { frame.width().min(WIDTH) };
        let height = (frame.height() * width / frame.width()).max(1);
        let screen = Display::of(&display::SRGB);
        let gamut = if reading == Reading::Display { *screen.gamut() } else { own_gamut(frame).unwrap_or(AP1) };
        let matrix = gamut.to(&AP1, None);
        let to_ap1 = |[r, g, b]: [f64; 3]| from_fn(|i| matrix[(i, 0)] * r + matrix[(i, 1)] * g + matrix[(i, 2)] * b);
        let signal = |rgb: [f64; 3]| match reading {
            Reading::Log => rgb,
            Reading::Light => camera.encode(to_ap1(rgb)).0,
            Reading::Display => camera.encode(to_ap1(screen.decode(rgb).0)).0,
        };
        let code = |v: f64| if v.is_finite() { (v.clamp(0.0, 1.0) * 65535.0).round() as u16 } else { 0 };
        let mut bytes = vec![0; width * height * 8];
        bytes.par_chunks_mut(width * 8).enumerate().for_each(|(y, row)| {
            for (x, pixel) in row.chunks_exact_mut(8).enumerate() {
                let [r, g, b] = signal(mean(frame, [x, y], [width, height])).map(code);
                for (place, value) in pixel.chunks_exact_mut(2).zip([r, g, b, u16::MAX]) {
                    place.copy_from_slice(&value.to_le_bytes());
                }
            }
        });
        Ok(Picture { width, height, says: reading.says(), bytes })
    }

    /// A frame as the signal of a camera, with all of its pixels.
    pub(super) fn signal(&self, id: &str, camera: &Camera, reading: Option<Reading>) -> Result<Frame, Refusal> {
        let Picture { width, height, bytes, .. } = self.picture(id, camera, reading, true)?;
        let sample = |two: &[u8]| f32::from(u16::from_le_bytes([two[0], two[1]])) / 65535.0;
        let samples = bytes.chunks_exact(8).flat_map(|pixel| pixel[..6].chunks_exact(2).map(sample)).collect();
        let info = Info::new(Format::Png, Depth::Integer(16));
        Frame::new(width, height, false, samples, info)
            .map_err(|e| Refusal::new(StatusCode::INTERNAL_SERVER_ERROR, format!("the frame: {e}")))
    }
}

/// The primaries that a file of light says it has.
fn own_gamut(frame: &Frame) -> Option<Gamut> {
    let [red, green, blue, white] = frame.info.tags.chromaticities?;
    Gamut::new([red, green, blue], white, Adaptation::Bradford).ok()
}

/// A still, or the frame of a clip at so many seconds.
fn read(path: &Path, name: &str, at: f64, limits: Limits) -> Result<Frame, Failure> {
    let bytes = disk::read_regular(path)?;
    if Format::of(&bytes).is_some() {
        let options = ReadOptions { limits, ..ReadOptions::default() };
        let more = |e: &FrameError| if matches!(e, FrameError::Limit(_)) { ": --max-memory allows more" } else { "" };
        return frame::read(&bytes, &options).map_err(|e| Failure::new(format!("{name}: {e}{}", more(&e))));
    }
    drop(bytes);
    ffmpeg::frame_at(path, at, limits).map_err(|trouble| {
        let why = match trouble {
            Trouble::NoClip(_) => "neither a still (EXR, TIFF, PNG, DPX, JPEG) nor a clip that ffmpeg reads".to_owned(),
            Trouble::Large(size) => format!("{size} are more than is read"),
            Trouble::Program(why) | Trouble::Clip(why) => why,
        };
        Failure::new(format!("{name}: {why}"))
    })
}

/// A file that is larger than is taken.
pub(super) fn too_large(most: u64) -> Refusal {
    Refusal::new(StatusCode::PAYLOAD_TOO_LARGE, format!("a file of more than {} MB is not taken", most >> 20))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dropped_frames_share_what_all_of_them_may_take() {
        let frame = |pixels: usize| {
            let info = Info::new(Format::Png, Depth::Integer(8));
            Frame::new(pixels, 1, false, vec![0.0; 3 * pixels], info).unwrap()
        };
        let frames = Frames { limits: Limits { memory: 100 * 12 }, ..Frames::default() };
        let ids = || frames.report().iter().map(|s| s["name"].as_str().unwrap().to_owned()).collect::<Vec<_>>();
        frames.keep("named".to_owned(), frame(20), None, false);
        assert_eq!(frames.room().memory, 80 * 12);
        for name in ["a", "b", "c"] {
            frames.keep(name.to_owned(), frame(30), None, true);
        }
        assert_eq!(ids(), ["named", "b", "c"]);
        frames.keep("d".to_owned(), frame(80), None, true);
        assert_eq!(ids(), ["named", "d"]);
        (0..20).for_each(|n| drop(frames.keep(n.to_string(), frame(1), None, true)));
        assert_eq!(ids().len(), 1 + MOST_DROPPED);
    }
}
