//! Cameras: log signal to scene light and back.

use crate::array::{Axes, floats, of_any};
use crate::made;
use pyo3::prelude::*;
use pyo3::types::PyDict;
use rushlight::camera;
use rushlight::show::CameraId;
use std::path::PathBuf;

/// A camera: a curve, a gamut and a range, which make scene light of its log signal.
///
/// Signal is code value over 1023 of 10 bits, 0 to 1 in full range. Scene light is linear ACES AP1, 0.18 is mid-grey,
/// unbounded.
#[pyclass(frozen, module = "rushlight")]
pub(crate) struct Camera {
    pub(crate) id: CameraId,
    pub(crate) camera: camera::Camera,
}

#[pymethods]
impl Camera {
    /// Camera(curve, gamut, *, ei=None, range=None, adaptation=None, rating=None, folder=None)
    ///
    /// What the keys of `[cameras.NAME]` in a show mean: `curve` a name or the path of a curve file, within `folder` (default:
    /// the working folder); `gamut` a name or a dict of red, green, blue and white; `range` full (default) or legal; `rating` a
    /// list of dicts of ei, clip and floor_stops.
    #[new]
    #[pyo3(signature = (curve, gamut, *, ei=None, range=None, adaptation=None, rating=None, folder=None))]
    fn new(
        curve: &Bound<'_, PyAny>,
        gamut: &Bound<'_, PyAny>,
        ei: Option<&Bound<'_, PyAny>>,
        range: Option<&Bound<'_, PyAny>>,
        adaptation: Option<&Bound<'_, PyAny>>,
        rating: Option<&Bound<'_, PyAny>>,
        folder: Option<PathBuf>,
    ) -> PyResult<Self> {
        let table = made::table(&[
            ("curve", Some(curve)),
            ("gamut", Some(gamut)),
            ("ei", ei),
            ("range", range),
            ("adaptation", adaptation),
            ("rating", rating),
        ])?;
        let (id, camera) = made::camera(table, &made::folder(folder))?;
        Ok(Self { id, camera })
    }

    /// Signal to scene light (AP1).
    ///
    /// Shape (..., 3), float32 or float64; into `out` where it is given, which may be the array itself. A colour with NaN
    /// gives NaN.
    #[pyo3(signature = (signal, *, out=None))]
    fn decode<'py>(&self, signal: &Bound<'py, PyAny>, out: Option<&Bound<'py, PyAny>>) -> PyResult<Bound<'py, PyAny>> {
        floats(signal, out, Axes::Pixels, &of_any(|signal| self.camera.decode(signal).0))
    }

    /// Scene light (AP1) to signal; arrays as `decode` takes them.
    #[pyo3(signature = (light, *, out=None))]
    fn encode<'py>(&self, light: &Bound<'py, PyAny>, out: Option<&Bound<'py, PyAny>>) -> PyResult<Bound<'py, PyAny>> {
        floats(light, out, Axes::Pixels, &of_any(|light| self.camera.encode(light).0))
    }

    /// full or legal.
    #[getter]
    fn range(&self) -> &'static str {
        self.camera.range().name()
    }

    /// What was measured at each exposure index: dicts of ei, clip (of the signal) and floor_stops (from mid-grey).
    #[getter]
    fn ratings<'py>(&self, py: Python<'py>) -> PyResult<Vec<Bound<'py, PyDict>>> {
        let rating = |rating: &camera::Rating| {
            let dict = PyDict::new(py);
            dict.set_item("ei", rating.ei)?;
            dict.set_item("clip", rating.clip)?;
            dict.set_item("floor_stops", rating.floor_stops)?;
            Ok(dict)
        };
        self.camera.ratings().iter().map(rating).collect()
    }

    fn __repr__(&self) -> String {
        format!("<Camera {}>", self.id)
    }
}
