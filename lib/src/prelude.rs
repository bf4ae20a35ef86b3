//! What most programs use, in one `use`.
//!
//! ```
//! use rushlight::prelude::*;
//!
//! let camera = Camera::of(&curve::SLOG3, &gamut::SGAMUT3_CINE)?;
//! let look = Look::new("Plain", 1, vec![], Rendering::new(PrintSettings::default())?);
//! let path = Pipeline::new(&camera, &look, &Display::of(&display::BT709))?;
//! let light: DisplayLight = path.light(Signal([0.41, 0.30, 0.52]));
//! assert!(light.iter().all(|c| (0.0..=1.0).contains(c)));
//! # Ok::<(), Refusals>(())
//! ```

pub use crate::camera::{Camera, Rating};
pub use crate::colour::{DisplayLight, Lab, Oklab, SceneLight, Signal, Xyz};
pub use crate::cube::{Cube, Interpolation};
pub use crate::display::{Display, DisplaySettings};
pub use crate::gamut::Gamut;
pub use crate::invalid::{Invalid, Refusals};
pub use crate::look::Look;
pub use crate::named::Named;
pub use crate::pipeline::Pipeline;
pub use crate::range::Range;
pub use crate::show::Show;
pub use crate::step::print::PrintSettings;
pub use crate::step::{Rendering, Step};
pub use crate::transform::{ColourTransform, Interpolate};
pub use crate::{curve, display, gamut, look};
