//! Displays: display light to signal and back.

use crate::array::{Axes, floats, of_any};
use crate::made;
use pyo3::prelude::*;
use pyo3::types::PyEllipsis;
use rushlight::display::{self, STANDARDS};
use rushlight::show::DisplayId;

/// A display: how display light becomes the signal of one monitor.
///
/// Display light is linear light of the display's primaries, 1 at diffuse white. Signal is code value over 1023 of 10 bits,
/// 0 to 1 in full range.
#[pyclass(frozen, module = "rushlight")]
pub(crate) struct Display {
    pub(crate) id: DisplayId,
    pub(crate) display: display::Display,
}

#[pymethods]
impl Display {
    /// Display(standard=None, *, gamut=None, eotf=None, peak=None, black=None, diffuse_white=None, range=None, mapping=None,
    ///         white=None, keep_white=None)
    ///
    /// One of `displays()`, changed where an argument says so; or, without `standard`, a gamut and an EOTF of your own. The
    /// arguments are the keys of `[displays.NAME]` in a show; peak, black and diffuse_white are in nits.
    #[new]
    #[pyo3(signature = (standard=None, *, gamut=None, eotf=None, peak=None, black=None, diffuse_white=None, range=None, mapping=None, white=None, keep_white=None))]
    #[expect(clippy::too_many_arguments, reason = "the keys of a display")]
    fn new(
        standard: Option<&Bound<'_, PyAny>>,
        gamut: Option<&Bound<'_, PyAny>>,
        eotf: Option<&Bound<'_, PyAny>>,
        peak: Option<&Bound<'_, PyAny>>,
        black: Option<&Bound<'_, PyAny>>,
        diffuse_white: Option<&Bound<'_, PyAny>>,
        range: Option<&Bound<'_, PyAny>>,
        mapping: Option<&Bound<'_, PyAny>>,
        white: Option<&Bound<'_, PyAny>>,
        keep_white: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Self> {
        let table = made::table(&[
            ("standard", standard),
            ("gamut", gamut),
            ("eotf", eotf),
            ("peak", peak),
            ("black", black),
            ("diffuse_white", diffuse_white),
            ("range", range),
            ("mapping", mapping),
            ("white", white),
            ("keep_white", keep_white),
        ])?;
        let (id, display) = made::display(table)?;
        Ok(Self { id, display })
    }

    /// Signal to display light.
    ///
    /// Shape (..., 3), float32 or float64; into `out` where it is given, which may be the array itself. A colour with NaN
    /// gives NaN.
    #[pyo3(signature = (signal, *, out=None))]
    fn decode<'py>(&self, signal: &Bound<'py, PyAny>, out: Option<&Bound<'py, PyAny>>) -> PyResult<Bound<'py, PyAny>> {
        floats(signal, out, Axes::Pixels, &of_any(|signal| self.display.decode(signal).0))
    }

    /// Display light, brought into the display's gamut, to the signal that is sent; arrays as `decode` takes them.
    #[pyo3(signature = (light, *, out=None))]
    fn encode<'py>(&self, light: &Bound<'py, PyAny>, out: Option<&Bound<'py, PyAny>>) -> PyResult<Bound<'py, PyAny>> {
        floats(light, out, Axes::Pixels, &of_any(|light| self.display.send(self.display.map(light)).0))
    }

    /// XYZ (CIE 1931) under the picture's white, Y = 1 at diffuse white, to the signal that is sent; arrays as `decode` takes
    /// them.
    #[pyo3(signature = (xyz, *, out=None))]
    fn show<'py>(&self, xyz: &Bound<'py, PyAny>, out: Option<&Bound<'py, PyAny>>) -> PyResult<Bound<'py, PyAny>> {
        floats(xyz, out, Axes::Pixels, &of_any(|xyz| self.display.show(xyz).0))
    }

    /// Luminance of a signal in nits, the display's black included: shape (..., 3) to (...).
    fn nits<'py>(&self, py: Python<'py>, signal: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let nits = floats(signal, None, Axes::Pixels, &of_any(|signal| [self.display.nits(signal); 3]))?;
        nits.get_item((PyEllipsis::get(py), 0))
    }

    /// Luminance of the brightest white, nits.
    #[getter]
    fn peak(&self) -> f64 {
        self.display.settings().peak
    }

    /// Luminance of black, nits.
    #[getter]
    fn black(&self) -> f64 {
        self.display.settings().black
    }

    /// Luminance of diffuse white, nits.
    #[getter]
    fn diffuse_white(&self) -> f64 {
        self.display.settings().diffuse_white
    }

    /// The name of the EOTF.
    #[getter]
    fn eotf(&self) -> &'static str {
        self.display.settings().eotf.name()
    }

    /// full or legal.
    #[getter]
    fn range(&self) -> &'static str {
        self.display.settings().range.name()
    }

    fn __repr__(&self) -> String {
        format!("<Display {}>", self.id)
    }
}

/// The names of the displays that are built in.
#[pyfunction]
pub(crate) fn displays() -> Vec<&'static str> {
    STANDARDS.iter().map(|standard| standard.name).collect()
}
