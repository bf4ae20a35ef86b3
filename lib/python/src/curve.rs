//! Curves: light to signal and back.

use crate::array::{Axes, Function, floats};
use crate::files;
use crate::problem::{documents, invalid, refused};
use pyo3::prelude::*;
use rushlight::curve_file;
use rushlight::message::unknown;
use rushlight::transfer::{Light, Transfer, encoding, encodings};
use std::path::PathBuf;
use std::sync::Arc;

/// A published encoding by name, or a curve file: light to signal and back.
///
/// Signal is code value over 1023 of 10 bits, the same ratio at other depths, in full range. What light is measured in says
/// `light`: for cameras it is scene reflectance, 0.18 is mid-grey.
#[pyclass(frozen, module = "rushlight")]
pub(crate) struct Curve {
    name: String,
    title: String,
    source: String,
    light: &'static str,
    transfer: Arc<dyn Transfer>,
}

#[pymethods]
impl Curve {
    /// Curve(name, *, ei=None)
    ///
    /// One of `curves()`; `ei` is the exposure index of a curve that has constants by it.
    #[new]
    #[pyo3(signature = (name, *, ei=None))]
    fn new(name: &str, ei: Option<u32>) -> PyResult<Self> {
        let named = encoding(name)
            .ok_or_else(|| invalid("name", unknown("curve", name, encodings().iter().map(|e| e.name))))?;
        let light = match named.light {
            Light::SceneReflectance => "scene reflectance, mid-grey 0.18",
            Light::SceneFraction => "scene light, 1 gives signal 1",
            Light::Nits => "nits",
            Light::FractionOfWhite => "fraction of the display's white",
        };
        let transfer = named.build(ei).map_err(refused)?;
        let (title, source) = (named.title.to_owned(), named.source.to_owned());
        Ok(Self { name: name.to_owned(), title, source, light, transfer })
    }

    /// A curve file (.toml), for a camera whose curve is not built in.
    #[staticmethod]
    fn read(path: PathBuf) -> PyResult<Self> {
        let name = files::name(&path);
        let read = curve_file::parse(&name, &files::text(&path)?);
        let file = read.map_err(|problems| documents(&files::Folder::of(&path).0, [problems]))?;
        let (title, source) = (file.title().to_owned(), file.source().to_owned());
        Ok(Self { name, title, source, light: "scene reflectance, mid-grey 0.18", transfer: file.transfer() })
    }

    /// Light to signal.
    ///
    /// Any shape, float32 or float64; into `out` where it is given, which may be the array itself. NaN gives NaN.
    #[pyo3(signature = (light, *, out=None))]
    fn encode<'py>(&self, light: &Bound<'py, PyAny>, out: Option<&Bound<'py, PyAny>>) -> PyResult<Bound<'py, PyAny>> {
        floats(light, out, Axes::Values, &Function(|light| self.transfer.encode_each(light)))
    }

    /// Signal to light; arrays as `encode` takes them.
    #[pyo3(signature = (signal, *, out=None))]
    fn decode<'py>(&self, signal: &Bound<'py, PyAny>, out: Option<&Bound<'py, PyAny>>) -> PyResult<Bound<'py, PyAny>> {
        floats(signal, out, Axes::Values, &Function(|signal: [f64; 3]| signal.map(|v| self.transfer.decode(v))))
    }

    /// The name in documents, or the name of the file.
    #[getter]
    fn name(&self) -> &str {
        &self.name
    }

    /// The name in its own document.
    #[getter]
    fn title(&self) -> &str {
        &self.title
    }

    /// The document that the numbers are from.
    #[getter]
    fn source(&self) -> &str {
        &self.source
    }

    /// What light is measured in.
    #[getter]
    fn light(&self) -> &str {
        self.light
    }

    fn __repr__(&self) -> String {
        format!("Curve({:?})", self.name)
    }
}

/// The names of the curves that are built in.
#[pyfunction]
pub(crate) fn curves() -> Vec<&'static str> {
    encodings().iter().map(|encoding| encoding.name).collect()
}
