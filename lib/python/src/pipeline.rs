//! Pipelines: one camera, one look and one display as one function.

use crate::array::{Axes, floats, of_any};
use crate::camera::Camera;
use crate::cube::Cube;
use crate::display::Display;
use crate::look::Look;
use crate::problem::refused;
use pyo3::prelude::*;
use pyo3::types::PyDict;
use rushlight::cube::POINTS;
use rushlight::pipeline;
use rushlight::stress::Limits;

/// One camera, one look and one display, compiled into one function from the camera's signal to the display's: the exact
/// path, in float64, which a cube approximates. Call it on an array of signals.
///
/// Signals are code value over 1023 of 10 bits, 0 to 1 in full range.
#[pyclass(frozen, module = "rushlight")]
pub(crate) struct Pipeline {
    pub(crate) pipeline: pipeline::Pipeline,
    pub(crate) look: rushlight::look::Look,
    /// What the parts are called in reports: look, camera, display, and the shot.
    pub(crate) names: [String; 3],
    pub(crate) shot: Option<String>,
    /// The limits of the stress test.
    pub(crate) limits: Limits,
}

#[pymethods]
impl Pipeline {
    /// Pipeline(camera, look, display)
    #[new]
    fn new(camera: PyRef<'_, Camera>, look: PyRef<'_, Look>, display: PyRef<'_, Display>) -> PyResult<Self> {
        let compiled = pipeline::Pipeline::new(&camera.camera, &look.look, &display.display).map_err(refused)?;
        let names = [look.look.title().to_owned(), camera.id.to_string(), display.id.to_string()];
        Ok(Self { pipeline: compiled, look: look.look.clone(), names, shot: None, limits: Limits::default() })
    }

    /// Camera signal to display signal, exactly.
    ///
    /// Shape (..., 3), float32 or float64, computed in float64; into `out` where it is given, which may be the array itself.
    /// A colour with NaN gives NaN. For frames a cube is hundreds of times faster.
    #[pyo3(signature = (signal, *, out=None))]
    fn __call__<'py>(
        &self,
        signal: &Bound<'py, PyAny>,
        out: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        floats(signal, out, Axes::Pixels, &of_any(|signal| self.pipeline.apply(signal).0))
    }

    /// Scene light (linear ACES AP1, 0.18 mid-grey), as the camera sees it, to display signal; arrays as a call takes them.
    #[pyo3(signature = (light, *, out=None))]
    #[expect(
        clippy::wrong_self_convention,
        reason = "in Python it reads as where the light comes from, and makes no pipeline"
    )]
    fn from_light<'py>(
        &self,
        light: &Bound<'py, PyAny>,
        out: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        floats(light, out, Axes::Pixels, &of_any(|light| self.pipeline.apply_to_light(light).0))
    }

    /// Camera signal to the light that the display shows: linear, its primaries, 1 at diffuse white; arrays as a call takes
    /// them.
    #[pyo3(signature = (signal, *, out=None))]
    fn light<'py>(&self, signal: &Bound<'py, PyAny>, out: Option<&Bound<'py, PyAny>>) -> PyResult<Bound<'py, PyAny>> {
        floats(signal, out, Axes::Pixels, &of_any(|signal| self.pipeline.light(signal).0))
    }

    /// One signal after every stage of the path, in order: dicts of name, unit and rgb.
    fn stages<'py>(&self, py: Python<'py>, signal: [f64; 3]) -> PyResult<Vec<Bound<'py, PyDict>>> {
        let stage = |stage: pipeline::Stage| {
            let dict = PyDict::new(py);
            dict.set_item("name", stage.name)?;
            dict.set_item("unit", stage.unit)?;
            dict.set_item("rgb", stage.rgb)?;
            Ok(dict)
        };
        self.pipeline.stages(signal).into_iter().map(stage).collect()
    }

    /// The path sampled at `points` signals along each edge, over 0 to 1.
    #[pyo3(signature = (points=POINTS))]
    fn cube(&self, py: Python<'_>, points: usize) -> PyResult<Cube> {
        let cube = py.detach(|| self.pipeline.cube(points)).map_err(refused)?;
        Ok(Cube::new_of(self.title(), cube))
    }

    fn __repr__(&self) -> String {
        format!("<Pipeline {}>", self.title())
    }
}

impl Pipeline {
    /// Look, camera and display in a line, with the shot in front.
    pub(crate) fn title(&self) -> String {
        let [look, camera, display] = &self.names;
        let shot = self.shot.as_ref().map(|shot| format!("{shot}, ")).unwrap_or_default();
        format!("{shot}{look} r{}, {camera} to {display}", self.look.revision())
    }
}
