//! Gamuts: primaries, white, and the matrices that follow.

use crate::array::{Axes, Function, floats};
use crate::problem::{invalid, named, refused};
use nalgebra::{Matrix3, Vector3};
use numpy::PyArray2;
use pyo3::prelude::*;
use rushlight::adaptation::Adaptation;
use rushlight::chromaticity::Xy;
use rushlight::gamut::{self, CATALOGUE, named_gamut};
use rushlight::message::unknown;

/// Three primaries and a white: linear light red, green, blue, where 1, 1, 1 is the white at Y = 1.
#[pyclass(frozen, module = "rushlight")]
pub(crate) struct Gamut {
    name: Option<&'static str>,
    gamut: gamut::Gamut,
}

fn rows<'py>(py: Python<'py>, matrix: &Matrix3<f64>) -> PyResult<Bound<'py, PyArray2<f64>>> {
    let rows: Vec<Vec<f64>> = matrix.row_iter().map(|row| row.iter().copied().collect()).collect();
    Ok(PyArray2::from_vec2(py, &rows)?)
}

impl Gamut {
    fn matrix(&self, other: &Self, adaptation: Option<&str>) -> PyResult<Matrix3<f64>> {
        let adaptation = adaptation.map(|name| named::<Adaptation>("adaptation", name)).transpose()?;
        let carried = self.gamut.adaptation_to(&other.gamut, adaptation);
        if ![self.gamut.white, other.gamut.white].iter().all(|white| carried.sees(*white)) {
            return Err(invalid("white", "is too far from any light's white to be adapted"));
        }
        Ok(self.gamut.to(&other.gamut, adaptation))
    }
}

#[pymethods]
impl Gamut {
    /// Gamut(name) or Gamut(red=, green=, blue=, white=)
    ///
    /// One of `gamuts()`, or primaries and a white as CIE 1931 x and y.
    #[new]
    #[pyo3(signature = (name=None, *, red=None, green=None, blue=None, white=None))]
    fn new(
        name: Option<&str>,
        red: Option<[f64; 2]>,
        green: Option<[f64; 2]>,
        blue: Option<[f64; 2]>,
        white: Option<[f64; 2]>,
    ) -> PyResult<Self> {
        let xy = |[x, y]: [f64; 2]| Xy::new(x, y);
        match (name, red, green, blue, white) {
            (Some(name), None, None, None, None) => {
                let known = CATALOGUE.map(|gamut| gamut.name);
                let entry = named_gamut(name).ok_or_else(|| invalid("name", unknown("gamut", name, known)))?;
                Ok(Self { name: Some(entry.name), gamut: entry.gamut })
            }
            (None, Some(red), Some(green), Some(blue), Some(white)) => {
                let made = gamut::Gamut::new([xy(red), xy(green), xy(blue)], xy(white), Adaptation::default());
                Ok(Self { name: None, gamut: made.map_err(refused)? })
            }
            _ => Err(invalid("name", "give a name, or all of red, green, blue and white")),
        }
    }

    /// Linear light to XYZ under this gamut's own white, Y = 1 at white: a matrix of shape (3, 3), float64.
    fn to_xyz<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray2<f64>>> {
        rows(py, &self.gamut.to_xyz())
    }

    /// Linear light of this gamut to that of another: a matrix of shape (3, 3), float64.
    ///
    /// The white is carried to the other's white by `adaptation` (bradford, cat02, cat16, von-kries, none); by default as in
    /// the maker's own matrices for a camera's gamut, and by Bradford elsewhere.
    #[pyo3(signature = (other, *, adaptation=None))]
    fn to<'py>(
        &self,
        py: Python<'py>,
        other: PyRef<'_, Self>,
        adaptation: Option<&str>,
    ) -> PyResult<Bound<'py, PyArray2<f64>>> {
        rows(py, &self.matrix(&other, adaptation)?)
    }

    /// Linear light of this gamut as linear light of another.
    ///
    /// Shape (..., 3), float32 or float64; into `out` where it is given, which may be the array itself.
    #[pyo3(signature = (light, other, *, adaptation=None, out=None))]
    fn convert<'py>(
        &self,
        light: &Bound<'py, PyAny>,
        other: PyRef<'_, Self>,
        adaptation: Option<&str>,
        out: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let matrix = self.matrix(&other, adaptation)?;
        floats(light, out, Axes::Pixels, &Function(|light: [f64; 3]| (matrix * Vector3::from(light)).into()))
    }

    /// Red, green and blue as CIE 1931 x and y.
    #[getter]
    fn primaries(&self) -> [[f64; 2]; 3] {
        self.gamut.primaries.map(|p| [p.x, p.y])
    }

    /// The white as CIE 1931 x and y.
    #[getter]
    fn white(&self) -> [f64; 2] {
        [self.gamut.white.x, self.gamut.white.y]
    }

    /// The name in documents; None for primaries of your own.
    #[getter]
    fn name(&self) -> Option<&str> {
        self.name
    }

    fn __repr__(&self) -> String {
        let [red, green, blue] = self.primaries();
        match self.name {
            Some(name) => format!("Gamut({name:?})"),
            None => format!("Gamut(red={red:?}, green={green:?}, blue={blue:?}, white={:?})", self.white()),
        }
    }
}

/// The names of the gamuts that are built in.
#[pyfunction]
pub(crate) fn gamuts() -> Vec<&'static str> {
    CATALOGUE.iter().map(|gamut| gamut.name).collect()
}
