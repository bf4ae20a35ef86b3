//! Shots: a correction by the ASC CDL for each, and where on the path it works.
//!
//! A CDL says neither in which space its numbers work nor whether before or after the look; a [`Grading`] does, once for
//! all shots of a show.

use crate::invalid::{Invalid, Refusals};
use crate::range::Range;
use crate::step::balance::White;
use crate::step::cdl::{Cdl, CdlNumbers};
use crate::step::cube::LogSpace;

/// Where a shot's CDL comes: before the look or after it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Order {
    /// Before: on what the look is given.
    #[default]
    Before,
    /// After the `compress` that the look begins with: on light that has no colour beyond AP1 any more.
    AfterCompress,
    /// After: on the signal of the display.
    After,
}

crate::named!(Order, "order", { Before => "before", AfterCompress => "after-compress", After => "after" });

impl Order {
    const fn words(self) -> &'static str {
        match self {
            Self::Before => "before the look",
            Self::AfterCompress => "after the look's compress",
            Self::After => "after the look",
        }
    }
}

/// What a shot's CDL works on: values that are 0 to 1 over the range of the signal.
#[derive(Debug, Clone, Default)]
pub enum Space {
    /// ACEScct, as the step `cdl` does.
    #[default]
    AcesCct,
    /// Another log and gamut, the same for every camera, under its name.
    Log(String, LogSpace),
    /// The signal of the camera itself.
    Camera,
    /// The signal of the display, after the look.
    Display,
}

/// Names of the spaces that need no further word.
pub const SPACES: [&str; 4] = ["acescct", "acescc", "camera", "display"];

impl Space {
    /// The name in documents, or the log and gamut.
    pub fn name(&self) -> &str {
        match self {
            Self::AcesCct => "acescct",
            Self::Log(name, _) => name,
            Self::Camera => "camera",
            Self::Display => "display",
        }
    }

    /// In words, as `in ACEScct`.
    fn words(&self) -> String {
        match self {
            Self::AcesCct => "in ACEScct".to_owned(),
            Self::Log(name, _) if name == "acescc" => "in ACEScc".to_owned(),
            Self::Log(name, _) => format!("in {name}"),
            Self::Camera => "on the camera's log signal".to_owned(),
            Self::Display => "on the display's signal".to_owned(),
        }
    }
}

/// How the CDLs of a show's shots are meant.
#[derive(Debug, Clone, Default)]
pub struct Grading {
    order: Order,
    space: Space,
    clamp: bool,
}

impl Grading {
    /// From where the CDLs come, what they work on, and whether they clamp to 0..1 as the specification's formula does.
    ///
    /// # Errors
    /// A space that there is not at that place, under `space`.
    pub fn new(order: Order, space: Space, clamp: bool) -> Result<Self, Invalid> {
        let refuse = |message: String| Err(Invalid::new("space", message));
        match (order, &space) {
            (Order::Before | Order::AfterCompress, Space::Display) => {
                refuse("before the look there is no display signal: use order = \"after\"".to_owned())
            }
            (Order::After, Space::AcesCct | Space::Log(..) | Space::Camera) => {
                let name = space.name();
                refuse(format!(
                    "order = \"after\" corrects the display signal: use space = \"display\", or order = \"before\" for `{name}`"
                ))
            }
            (Order::AfterCompress, Space::Camera) => {
                refuse("after compress there is no camera signal: use order = \"before\" for `camera`".to_owned())
            }
            _ => Ok(Self { order, space, clamp }),
        }
    }

    /// Where the CDL comes.
    pub const fn order(&self) -> Order {
        self.order
    }

    /// What the CDL works on.
    pub const fn space(&self) -> &Space {
        &self.space
    }

    /// Whether it clamps to 0..1.
    pub const fn clamps(&self) -> bool {
        self.clamp
    }

    /// The order, the space and the style in words, as `CDL before the look, in ACEScct, not clamped`.
    pub fn words(&self) -> String {
        let style = if self.clamp { "clamped to 0..1" } else { "not clamped" };
        format!("CDL {}, {}, {style}", self.order.words(), self.space.words())
    }

    /// A correction meant so.
    ///
    /// # Errors
    /// As [`Cdl::new`].
    pub fn correction(&self, numbers: CdlNumbers) -> Result<Correction, Refusals> {
        Ok(Correction { cdl: Cdl::new(numbers, self.clamp)?, order: self.order, space: self.space.clone() })
    }
}

/// A shot of a show.
#[derive(Debug, Clone, PartialEq)]
pub struct Shot {
    /// The id of its correction where that stands.
    pub id: String,
    /// The file that it stands in, by its name beside the show.
    pub file: String,
    /// The column of that file that names it, where the show chooses one.
    pub column: Option<String>,
    /// The correction.
    pub numbers: CdlNumbers,
    /// The only look that it is seen in, if it names one.
    pub look: Option<String>,
    /// The only camera that it was shot with, if it names one.
    pub camera: Option<String>,
    /// What was noted of it.
    pub notes: Notes,
}

/// What a show notes of a shot. None of it changes the picture.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Notes {
    /// A frame of it, as the signal of the camera: a file beside the show.
    pub frame: Option<String>,
    /// The exposure index that the camera was set to.
    pub ei: Option<f64>,
    /// The white that the camera was set to.
    pub white: Option<White>,
    /// The scene.
    pub scene: Option<String>,
    /// The take.
    pub take: Option<String>,
    /// The reel or card that its clip is on.
    pub reel: Option<String>,
    /// A timecode within its clip.
    pub timecode: Option<String>,
    /// Anything else, in one line.
    pub note: Option<String>,
}

/// A shot's name as part of a file name: ASCII letters, digits, `-`, `_` and `.`, not in front; with a `-` before what
/// some systems take for a device.
pub fn file_part(name: &str) -> String {
    let fits = |(i, c): (usize, char)| c.is_ascii_alphanumeric() || c == '-' || c == '_' || (c == '.' && i > 0);
    let part: String = name.chars().enumerate().map(|(i, c)| if fits((i, c)) { c } else { '-' }).collect();
    if is_device(&part) { format!("-{part}") } else { part }
}

/// Whether a file name is that of a device on some system, with any extension ("Naming Files, Paths, and Namespaces", in
/// the documents of Win32).
pub fn is_device(name: &str) -> bool {
    let stem = name.split('.').next().unwrap_or_default().trim_end().to_ascii_lowercase();
    // The superscripts that are digits in ISO 8859-1 count, too.
    let digit = |n: &str| matches!(n, "\u{b9}" | "\u{b2}" | "\u{b3}") || matches!(n.as_bytes(), [b'1'..=b'9']);
    let numbered = |of: &str| stem.strip_prefix(of).is_some_and(digit);
    matches!(stem.as_str(), "con" | "prn" | "aux" | "nul" | "conin$" | "conout$") || numbered("com") || numbered("lpt")
}

/// A correction with what it works on.
#[derive(Debug, Clone)]
pub struct Correction {
    cdl: Cdl,
    order: Order,
    space: Space,
}

impl Correction {
    /// The correction.
    pub const fn cdl(&self) -> &Cdl {
        &self.cdl
    }

    /// Where it comes.
    pub const fn order(&self) -> Order {
        self.order
    }

    /// What it works on.
    pub const fn space(&self) -> &Space {
        &self.space
    }

    /// The part of the correction that is equal in all channels; `None` if the whole correction treats them alike.
    pub fn even(&self) -> Option<Self> {
        self.cdl.even().map(|cdl| Self { cdl, ..self.clone() })
    }

    /// The signal of a camera or a display of a range, corrected; a display's stays within the range.
    pub fn on_signal(&self, range: Range, signal: [f64; 3]) -> [f64; 3] {
        let corrected = self.cdl.correct(signal.map(|v| range.decode(v)));
        let limit = |v: f64| if matches!(self.space, Space::Display) { v.clamp(0.0, 1.0) } else { v };
        corrected.map(|v| range.encode(limit(v)))
    }

    /// Scene light (AP1), corrected; as it is for a correction of signals.
    pub fn on_light(&self, light: [f64; 3]) -> [f64; 3] {
        match &self.space {
            Space::AcesCct => self.cdl.apply(light),
            Space::Log(_, space) => space.decode(self.cdl.correct(space.encode(light))),
            Space::Camera | Space::Display => light,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn warm() -> CdlNumbers {
        CdlNumbers { slope: [1.2, 1.0, 0.8], ..CdlNumbers::default() }
    }

    #[test]
    fn words_say_the_order_the_space_and_the_style() {
        assert_eq!(Grading::default().words(), "CDL before the look, in ACEScct, not clamped");
        let after = Grading::new(Order::After, Space::Display, true).unwrap();
        assert_eq!(after.words(), "CDL after the look, on the display's signal, clamped to 0..1");
        let compressed = Grading::new(Order::AfterCompress, Space::AcesCct, false).unwrap();
        assert_eq!(compressed.words(), "CDL after the look's compress, in ACEScct, not clamped");
        for (order, space) in [
            (Order::Before, Space::Display),
            (Order::AfterCompress, Space::Display),
            (Order::AfterCompress, Space::Camera),
            (Order::After, Space::AcesCct),
            (Order::After, Space::Camera),
        ] {
            assert_eq!(Grading::new(order, space, false).unwrap_err().key, "space");
        }
    }

    #[test]
    fn a_signal_is_corrected_over_its_own_range() {
        let camera = Grading::new(Order::Before, Space::Camera, false).unwrap().correction(warm()).unwrap();
        let legal = Range::Legal;
        let out = camera.on_signal(legal, [0.5; 3].map(|v| legal.encode(v)));
        let expected = [0.6, 0.5, 0.4].map(|v| legal.encode(v));
        assert!(out.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-15), "{out:?}");
        assert!(camera.on_signal(Range::Full, [0.9; 3])[0] > 1.0);
        let display = Grading::new(Order::After, Space::Display, false).unwrap().correction(warm()).unwrap();
        assert_eq!(display.on_signal(legal, [legal.encode(0.9); 3])[0], legal.encode(1.0));
    }

    #[test]
    fn names_become_parts_of_file_names() {
        assert_eq!(file_part("12A-3"), "12A-3");
        assert_eq!(file_part("A001_C003.mov"), "A001_C003.mov");
        assert_eq!(file_part("../12 A/3é"), "-.-12-A-3-");
        for (device, part) in [("COM1", "-COM1"), ("nul", "-nul"), ("aux.2", "-aux.2"), ("com10", "com10")] {
            assert_eq!(file_part(device), part);
        }
        for device in ["con", "PRN.txt", "Com9.a.b", "lpt\u{b2}.cube", "CONOUT$", "nul .cc"] {
            assert!(is_device(device), "{device}");
        }
        for name in ["com", "com0", "com10", "console", "anul", "lptx", "conin"] {
            assert!(!is_device(name), "{name}");
        }
    }
}
