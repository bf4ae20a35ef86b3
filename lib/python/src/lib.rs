//! Rushlight for Python: the library's own types on NumPy arrays.
//!
//! Nothing is computed here. A class holds a value of the library, a call goes over an array by [`array`], an error becomes a
//! `ValueError` by [`problem`], and reports become plain objects by serde. What Python gives as settings is read as the
//! document that would say the same, by the library's one reader of documents ([`made`]).

mod array;
mod bake;
mod camera;
mod cube;
mod curve;
mod display;
mod files;
mod gamut;
mod judge;
mod look;
mod made;
mod pipeline;
mod problem;
mod show;

use pyo3::prelude::*;

/// Camera log signal, looks, displays and cubes on NumPy arrays.
#[pymodule]
mod rushlight {
    #[pymodule_export]
    use crate::bake::bake;
    #[pymodule_export]
    use crate::camera::Camera;
    #[pymodule_export]
    use crate::cube::Cube;
    #[pymodule_export]
    use crate::curve::{Curve, curves};
    #[pymodule_export]
    use crate::display::{Display, displays};
    #[pymodule_export]
    use crate::gamut::{Gamut, gamuts};
    #[pymodule_export]
    use crate::judge::{audit, diff, fit, stress};
    #[pymodule_export]
    use crate::look::{Look, defaults, steps};
    #[pymodule_export]
    use crate::pipeline::Pipeline;
    #[pymodule_export]
    use crate::problem::Invalid;
    #[pymodule_export]
    use crate::show::Show;

    use pyo3::prelude::*;

    #[pymodule_init]
    fn init(module: &Bound<'_, PyModule>) -> PyResult<()> {
        module.add("__version__", env!("CARGO_PKG_VERSION"))
    }
}
