//! Steps and renderings as a look has them: settings, and the maths that was made of them.

use super::{BuiltIn, Context, Kind, Settings, Written, compress::CompressSettings};
use crate::chromaticity::Xy;

use crate::colour::{SceneLight, Xyz};
use crate::invalid::{Invalid, Refusals};
use crate::math::bounded;
use crate::source::Source;
use std::fmt::Debug;
use std::sync::Arc;

/// The maths of a step on scene light.
pub trait OnScene: Debug + Send + Sync {
    /// The light after the step.
    fn apply(&self, rgb: [f64; 3]) -> [f64; 3];

    /// What it is without what it does to one channel more than to another.
    fn uncast(&self) -> Uncast {
        Uncast::Same
    }
}

/// A step without the cast that it asks for.
#[derive(Debug)]
pub enum Uncast {
    /// It asks for none.
    Same,
    /// Nothing is left of it.
    Nothing,
    /// What it does to all channels alike.
    Less(Arc<dyn OnScene>),
}

/// The maths of a rendering, which is fitted to a display.
pub trait Renders: Debug + Send + Sync {
    /// Fits it to a display whose picture has its white at `white` and whose peak is `peak` times its diffuse white (1 for
    /// SDR).
    ///
    /// # Errors
    /// What is wrong, by key.
    fn compile(&self, white: Xy, peak: f64) -> Result<Compiled, Refusals>;

    /// The same without the cast that it asks for; none where it asks for none.
    fn uncast(&self) -> Option<Arc<dyn Renders>> {
        None
    }
}

/// A rendering fitted to a display.
pub trait Rendered: Debug + Send + Sync {
    /// Graded scene light (AP1) to display light: XYZ under the display's white, Y = 1 at diffuse white.
    fn render(&self, rgb: [f64; 3]) -> [f64; 3];
}

/// A rendering fitted to a display, finite for any finite light.
#[derive(Debug, Clone)]
pub struct Compiled(Arc<dyn Rendered>);

impl Compiled {
    /// Of its maths.
    pub fn new(rendered: impl Rendered + 'static) -> Self {
        Self(Arc::new(rendered))
    }

    /// Graded scene light (AP1) to display light: XYZ under the display's white, Y = 1 at diffuse white.
    pub fn render(&self, light: impl Into<SceneLight>) -> Xyz {
        Xyz(bounded(self.0.render(light.into().0)))
    }
}

/// What settings make.
#[derive(Debug)]
pub enum Maths {
    /// A step on scene light.
    Scene(Arc<dyn OnScene>),
    /// A rendering.
    Rendering(Arc<dyn Renders>),
}

impl Maths {
    /// A step on scene light.
    pub fn scene(step: impl OnScene + 'static) -> Self {
        Self::Scene(Arc::new(step))
    }

    /// A rendering.
    pub fn rendering(rendering: impl Renders + 'static) -> Self {
        Self::Rendering(Arc::new(rendering))
    }
}

/// Sound settings with their maths.
#[derive(Debug)]
pub struct Made<M: ?Sized> {
    written: Written,
    files: Vec<Source>,
    maths: Arc<M>,
    /// Whether the maths is another than the settings make.
    altered: bool,
}

/// One step on scene light.
pub type Step = Made<dyn OnScene>;
/// The last step of a look: graded scene light to display light. [`Rendering::compile`] fits it to a display.
pub type Rendering = Made<dyn Renders>;

impl<M: ?Sized> Clone for Made<M> {
    fn clone(&self) -> Self {
        let Self { written, files, maths, altered } = self;
        Self { written: written.clone(), files: files.clone(), maths: maths.clone(), altered: *altered }
    }
}

/// The same settings, and the same contents of the files that they name.
impl<M: ?Sized> PartialEq for Made<M> {
    fn eq(&self, other: &Self) -> bool {
        let as_made = !self.altered && !other.altered;
        self.settings() == other.settings()
            && self.files == other.files
            && (as_made || Arc::ptr_eq(&self.maths, &other.maths))
    }
}

impl<M: ?Sized> Made<M> {
    /// Of settings, the files that they name, and the maths that [`Written::make`] made of them.
    pub fn of(written: Written, files: Vec<Source>, maths: Arc<M>) -> Self {
        Self { written, files, maths, altered: false }
    }

    /// The settings.
    pub const fn settings(&self) -> &Settings {
        self.written.settings()
    }

    /// The settings as a document writes them.
    pub const fn written(&self) -> &Written {
        &self.written
    }

    /// The kind of step.
    pub fn kind(&self) -> &'static Kind {
        self.settings().kind()
    }

    /// The name in documents.
    pub fn name(&self) -> &'static str {
        self.kind().name
    }

    /// The same settings with other maths.
    pub fn with_maths(&self, maths: Arc<M>) -> Self {
        Self { maths, altered: true, ..self.clone() }
    }
}

impl Step {
    /// A step of settings that name no files.
    ///
    /// # Errors
    /// Everything that the settings get wrong, by key; under `do`, that they give display light.
    pub fn new(settings: impl Into<Settings>) -> Result<Self, Refusals> {
        Self::with(settings, &BuiltIn)
    }

    /// A step of settings that name files, which `context` finds.
    ///
    /// # Errors
    /// As [`new`](Self::new); what is wrong with the files.
    pub fn with(settings: impl Into<Settings>, context: &dyn Context) -> Result<Self, Refusals> {
        let written = Written::of(settings.into());
        match written.make(context)? {
            Maths::Scene(maths) => Ok(Self::of(written, context.sources(), maths)),
            Maths::Rendering(_) => Err(Invalid::new("do", "gives display light, which ends a look").into()),
        }
    }

    /// The light after this step: finite for any finite light.
    pub fn apply(&self, light: impl Into<SceneLight>) -> SceneLight {
        SceneLight(bounded(self.maths.apply(light.into().0)))
    }

    /// The same without the cast that it asks for.
    pub fn uncast(&self) -> Uncast {
        self.maths.uncast()
    }

    /// Its settings where it is a gamut compression.
    pub const fn compress(&self) -> Option<&CompressSettings> {
        match self.settings() {
            Settings::Compress(settings) => Some(settings),
            _ => None,
        }
    }
}

impl Rendering {
    /// A rendering of settings that name no files.
    ///
    /// # Errors
    /// Everything that the settings get wrong, by key; under `do`, that they do not give display light.
    pub fn new(settings: impl Into<Settings>) -> Result<Self, Refusals> {
        Self::with(settings, &BuiltIn)
    }

    /// A rendering of settings that name files, which `context` finds.
    ///
    /// # Errors
    /// As [`new`](Self::new); what is wrong with the files.
    pub fn with(settings: impl Into<Settings>, context: &dyn Context) -> Result<Self, Refusals> {
        let written = Written::of(settings.into());
        match written.make(context)? {
            Maths::Rendering(maths) => Ok(Self::of(written, context.sources(), maths)),
            Maths::Scene(_) => Err(Invalid::new("do", "does not give display light, which ends a look").into()),
        }
    }

    /// Fits it to a display whose picture has its white at `white` and whose peak is `peak` times its diffuse white (1 for
    /// SDR).
    ///
    /// # Errors
    /// What the settings get wrong, by key.
    pub fn compile(&self, white: Xy, peak: f64) -> Result<Compiled, Refusals> {
        self.maths.compile(white, peak)
    }

    /// The same without the cast that it asks for; none where it asks for none.
    pub fn uncast(&self) -> Option<Arc<dyn Renders>> {
        self.maths.uncast()
    }
}
