//! Shows: documents of cameras, displays and looks.

use crate::camera::Camera;
use crate::display::Display;
use crate::files::{self, Folder};
use crate::look::Look;
use crate::pipeline::Pipeline;
use crate::problem::{documents, refused};
use pyo3::prelude::*;
use rushlight::cube::POINTS;
use rushlight::show;
use std::path::PathBuf;

/// A show document: its cameras, displays, looks and shots by name, and what to bake of them.
#[pyclass(frozen, module = "rushlight")]
pub(crate) struct Show {
    pub(crate) show: show::Show,
}

#[pymethods]
impl Show {
    /// A show document (.toml), with the looks and curves that it names.
    #[staticmethod]
    pub(crate) fn read(path: PathBuf) -> PyResult<Self> {
        let folder = Folder::of(&path);
        let read = show::Show::parse(&files::name(&path), &files::text(&path)?, &folder);
        Ok(Self { show: read.map_err(|problems| documents(&folder.0, problems))? })
    }

    /// A look by name.
    fn look(&self, name: &str) -> PyResult<Look> {
        Ok(Look { look: self.show.look(name).map_err(refused)?.item().clone() })
    }

    /// A camera by name.
    fn camera(&self, name: &str) -> PyResult<Camera> {
        let found = self.show.camera(name).map_err(refused)?;
        Ok(Camera { id: found.entry.id.clone(), camera: found.item().clone() })
    }

    /// A display by name.
    fn display(&self, name: &str) -> PyResult<Display> {
        let found = self.show.display(name).map_err(refused)?;
        Ok(Display { id: found.entry.id.clone(), display: found.item().clone() })
    }

    /// The compiled path of a look, a camera and a display by name; with the correction of a shot where one is named.
    #[pyo3(signature = (look, camera, display, *, shot=None))]
    fn pipeline(&self, look: &str, camera: &str, display: &str, shot: Option<&str>) -> PyResult<Pipeline> {
        let job = self.show.job(look, camera, display, POINTS).and_then(|job| job.with_shot(shot)).map_err(refused)?;
        Ok(Pipeline {
            pipeline: job.pipeline().map_err(refused)?,
            look: job.look().item().clone(),
            names: job.names().map(str::to_owned),
            shot: shot.map(str::to_owned),
            limits: self.show.stress_limits().clone(),
        })
    }

    /// The title.
    #[getter]
    fn title(&self) -> &str {
        self.show.title()
    }

    /// Names of the looks.
    #[getter]
    fn looks(&self) -> Vec<&str> {
        self.show.looks().keys().map(String::as_str).collect()
    }

    /// Names of the cameras.
    #[getter]
    fn cameras(&self) -> Vec<&str> {
        self.show.cameras().keys().map(String::as_str).collect()
    }

    /// Names of the displays.
    #[getter]
    fn displays(&self) -> Vec<&str> {
        self.show.displays().keys().map(String::as_str).collect()
    }

    /// Names of the shots.
    #[getter]
    fn shots(&self) -> Vec<&str> {
        self.show.shots().keys().map(String::as_str).collect()
    }

    fn __repr__(&self) -> String {
        format!("<Show {:?}>", self.title())
    }
}
