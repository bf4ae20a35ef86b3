//! Pictures of a sheet: what a camera records, the plain rendering of it, and the look, on each display.

use crate::failure::Failure;
use crate::picture::{self, Scene, Screen};
use rayon::prelude::*;
use rushlight::cube::{Cube, Interpolation, POINTS};
use rushlight::display::{self, Display};
use rushlight::frame::{Format, Frame};
use rushlight::look::Look;
use rushlight::pipeline::Pipeline;
use rushlight::sheet::plain;
use rushlight::show::Show;
use rushlight::transform::{ColourTransform, Interpolate, function};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;

/// Pixels down a row of the chart, and the gap under it.
const ROW: usize = 12;
const GAP: usize = 1;

/// An image with its size in pixels.
pub(super) struct Image {
    pub(super) uri: String,
    pub(super) size: [usize; 2],
    /// `Frame`, or `Chart`.
    pub(super) title: &'static str,
}

/// The scenes of one camera, one under the other.
pub(super) type Column = Rc<Vec<Image>>;

/// What draws the pictures; those that looks share are drawn once.
pub(super) struct Pictures<'s> {
    show: &'s Show,
    frames: &'s [Frame],
    scenes: RefCell<BTreeMap<String, Rc<Vec<Scene>>>>,
    drawn: RefCell<BTreeMap<[String; 2], Column>>,
}

impl<'s> Pictures<'s> {
    pub(super) fn new(show: &'s Show, frames: &'s [Frame]) -> Self {
        let (scenes, drawn) = (RefCell::new(BTreeMap::new()), RefCell::new(BTreeMap::new()));
        Self { show, frames, scenes, drawn }
    }

    /// Height over width of a column of pictures.
    pub(super) fn aspect(&self, camera: &str) -> f64 {
        self.scenes(camera).iter().map(|scene| scene.height() as f64 / scene.width as f64).sum()
    }

    /// How many pictures stand in a column.
    pub(super) fn count(&self) -> usize {
        self.frames.len() + 1
    }

    fn scenes(&self, camera: &str) -> Rc<Vec<Scene>> {
        let mut all = self.scenes.borrow_mut();
        let made = || {
            let camera = &self.show.cameras()[camera].item;
            let frames = self.frames.iter().map(|frame| Scene::frame(camera, frame));
            Rc::new(frames.chain([Scene { title: "Chart", ..Scene::chart(camera, ROW, GAP) }]).collect())
        };
        all.entry(camera.to_owned()).or_insert_with(made).clone()
    }

    fn once(&self, key: [&str; 2], draw: impl FnOnce() -> Result<Column, Failure>) -> Result<Column, Failure> {
        let key = key.map(str::to_owned);
        if let Some(there) = self.drawn.borrow().get(&key) {
            return Ok(there.clone());
        }
        let column = draw()?;
        self.drawn.borrow_mut().insert(key, column.clone());
        Ok(column)
    }

    /// The camera's signal as a monitor of standard dynamic range shows it without a cube.
    pub(super) fn log(&self, camera: &str) -> Result<Column, Failure> {
        self.once([camera, ""], || {
            let monitor = Display::of(&display::BT709);
            draw(&self.scenes(camera), &Screen::of(&monitor), function(|signal| signal))
        })
    }

    /// The plain rendering.
    pub(super) fn plain(&self, camera: &str, display: &str) -> Result<Column, Failure> {
        self.once([camera, display], || self.through("plain", &plain(), camera, display))
    }

    /// The look.
    pub(super) fn look(&self, look: &str, camera: &str, display: &str) -> Result<Column, Failure> {
        self.through(look, self.show.look(look).map_err(Failure::refused)?.item(), camera, display)
    }

    fn through(&self, name: &str, look: &Look, camera: &str, display: &str) -> Result<Column, Failure> {
        let item = self.show.camera(camera).map_err(Failure::refused)?.item();
        let (to, display) = (display, self.show.display(display).map_err(Failure::refused)?.item());
        let path = Pipeline::new(item, look, display).map_err(|refused| Failure::of_path(name, to, refused))?;
        let cube = Cube::of(&path, POINTS).map_err(Failure::refused)?;
        draw(&self.scenes(camera), &Screen::of(display), cube.by(Interpolation::Tetrahedral))
    }
}

fn draw(scenes: &[Scene], screen: &Screen<'_>, path: impl ColourTransform) -> Result<Column, Failure> {
    let image = |scene: &Scene| {
        let pixels = scene.signals.par_iter().map(|signal| screen.show(path.transform(*signal))).collect();
        // The chart has sharp edges and few colours; a frame is a photograph.
        let format = if scene.title == "Chart" { Format::Png } else { Format::Jpeg };
        let uri = picture::data_uri(pixels, scene.width, format)?;
        Ok(Image { uri, size: [scene.width, scene.height()], title: scene.title })
    };
    Ok(Rc::new(scenes.iter().map(image).collect::<Result<_, Failure>>()?))
}
