//! One camera, one look and one display, compiled into a single function of a colour.
//!
//! This is the exact path, in f64. Baking, probing, comparing and every other use of a look take this function; nothing
//! implements it a second time.

mod amount;
mod helper;
mod sampler;

pub use amount::Amount;
pub use helper::{Helped, Key};
pub use sampler::Sampler;

use crate::camera::Camera;
use crate::colour::{DisplayLight, SceneLight, Signal};
use crate::display::Display;
use crate::invalid::Refusals;
use crate::look::Look;
use crate::math::bounded;
use crate::shot::{Correction, Order, Space};
use crate::step::{Compiled, Step};

/// The compiled path from camera signal to display signal.
#[derive(Debug, Clone)]
pub struct Pipeline {
    camera: Camera,
    steps: Vec<Step>,
    rendering: Compiled,
    rendering_name: &'static str,
    display: Display,
    correction: Option<Correction>,
}

/// A colour after one stage of the path.
#[derive(Debug, Clone, PartialEq)]
pub struct Stage {
    /// What the stage is: `camera`, a step's name, the rendering's name, `display`, `gamut`, `signal`; `shot's cdl`.
    pub name: &'static str,
    /// What the three numbers are.
    pub unit: &'static str,
    /// The colour: red, green, blue, or X, Y, Z where the unit says so.
    pub rgb: [f64; 3],
}

/// Units of the stages.
const SCENE: &str = "scene light, ACES AP1, mid-grey 0.18";
const SIGNAL: &str = "display signal, code value over 1023";
/// The stage of a shot's correction.
const CDL: &str = "shot's cdl";

impl Pipeline {
    /// Compiles the path.
    ///
    /// # Errors
    /// What the look's rendering gets wrong on this display, by key within the look's last step.
    pub fn new(camera: &Camera, look: &Look, display: &Display) -> Result<Self, Refusals> {
        let rendering = look.rendering().compile(display.picture_white(), display.peak_ratio())?;
        Ok(Self {
            camera: camera.clone(),
            steps: look.steps().to_vec(),
            rendering,
            rendering_name: look.rendering().name(),
            display: display.clone(),
            correction: None,
        })
    }

    /// The same path with a shot's correction.
    #[must_use]
    pub fn with_correction(self, correction: Option<Correction>) -> Self {
        Self { correction, ..self }
    }

    /// A shot's correction, where there is one.
    pub const fn correction(&self) -> Option<&Correction> {
        self.correction.as_ref()
    }

    /// Camera signal to display signal. Domain: any finite signal; range: 0..1 (full range) or the legal codes.
    pub fn apply(&self, signal: impl Into<Signal>) -> Signal {
        self.after_camera(self.camera.decode(self.on_camera(signal.into().0)))
    }

    /// The light that the display makes of the signal of [`apply`](Self::apply).
    pub fn light(&self, signal: impl Into<Signal>) -> DisplayLight {
        self.display.decode(self.apply(signal))
    }

    /// Scene light (AP1), as the camera sees it, to display signal: the path without its camera.
    pub fn apply_to_light(&self, light: impl Into<SceneLight>) -> Signal {
        let light = light.into();
        match &self.correction {
            Some(correction) if matches!(correction.space(), Space::Camera) => self.apply(self.camera.encode(light)),
            _ => self.after_camera(light),
        }
    }

    /// What the camera's signal is decoded from: itself, or what a correction of it makes of it.
    fn on_camera(&self, signal: [f64; 3]) -> [f64; 3] {
        match &self.correction {
            Some(correction) if matches!(correction.space(), Space::Camera) => {
                bounded(correction.on_signal(self.camera.range(), signal))
            }
            _ => signal,
        }
    }

    /// The steps before a correction of scene light, and those after it.
    fn around_correction(&self) -> (&[Step], &[Step]) {
        let order = self.correction.as_ref().map(Correction::order);
        match (order, self.steps.first().and_then(Step::compress)) {
            (Some(Order::AfterCompress), Some(_)) => self.steps.split_at(1),
            _ => self.steps.split_at(0),
        }
    }

    /// The rest of the path.
    fn after_camera(&self, light: SceneLight) -> Signal {
        let (first, rest) = self.around_correction();
        let apply = |light: SceneLight, step: &Step| step.apply(light);
        let light = first.iter().fold(light, apply);
        let light =
            self.correction.as_ref().map_or(light, |correction| SceneLight(bounded(correction.on_light(light.0))));
        let graded = rest.iter().fold(light, apply);
        let signal = self.shown(graded);
        match &self.correction {
            Some(correction) if matches!(correction.space(), Space::Display) => {
                Signal(correction.on_signal(self.display.settings().range, signal.0))
            }
            _ => signal,
        }
    }

    /// Graded scene light to display signal.
    fn shown(&self, graded: SceneLight) -> Signal {
        self.display.show(self.rendering.render(graded))
    }

    /// The colour after every stage, in order.
    pub fn stages(&self, signal: impl Into<Signal>) -> Vec<Stage> {
        let mut stages = Vec::with_capacity(self.steps.len() + 6);
        let mut push = |name, unit, rgb: [f64; 3]| stages.push(Stage { name, unit, rgb });
        let mut signal = signal.into().0;
        let on = self.correction.as_ref().map(Correction::space);
        if let Some(Space::Camera) = on {
            signal = self.on_camera(signal);
            push(CDL, "camera signal, corrected", signal);
        }
        push("linear", "scene light, camera gamut, mid-grey 0.18", self.camera.linearise(signal));
        let mut light = self.camera.decode(signal);
        push("camera", SCENE, light.0);
        let (first, rest) = self.around_correction();
        for step in first {
            light = step.apply(light);
            push(step.name(), SCENE, light.0);
        }
        if let (Some(correction), Some(Space::AcesCct | Space::Log(..))) = (&self.correction, on) {
            light = SceneLight(bounded(correction.on_light(light.0)));
            push(CDL, SCENE, light.0);
        }
        for step in rest {
            light = step.apply(light);
            push(step.name(), SCENE, light.0);
        }
        let xyz = self.rendering.render(light);
        push(self.rendering_name, "display light, XYZ, diffuse white Y 1", xyz.0);
        let linear = self.display.to_linear(xyz);
        push("display", "display light, display primaries, diffuse white 1", linear.0);
        let mapped = self.display.map(linear);
        push("gamut", "display light within the display's gamut", mapped.0);
        let sent = self.display.send(mapped);
        push("signal", SIGNAL, sent.0);
        if let (Some(correction), Some(Space::Display)) = (&self.correction, on) {
            push(CDL, SIGNAL, correction.on_signal(self.display.settings().range, sent.0));
        }
        stages
    }

    /// The camera at its start.
    pub const fn camera(&self) -> &Camera {
        &self.camera
    }

    /// The display at its end.
    pub const fn display(&self) -> &Display {
        &self.display
    }
}
