//! Looks: built of steps, read, saved.

use crate::files::{self, Folder};
use crate::made;
use crate::problem::{arguments, documents, invalid};
use pyo3::IntoPyObjectExt as _;
use pyo3::prelude::*;
use pyo3::types::PyDict;
use rushlight::look;
use rushlight::message::unknown;
use rushlight::setting::Value;
use rushlight::step::{KINDS, Kind};
use std::path::PathBuf;

/// A look: an ordered list of steps, the same for every camera and every display. Looks are equal where they give the same
/// picture under the same title and revision.
#[pyclass(frozen, eq, module = "rushlight")]
#[derive(PartialEq)]
pub(crate) struct Look {
    pub(crate) look: look::Look,
}

impl Look {
    /// The documents of a look and the files that it names, which lie in `folder`.
    fn parsed(text: &str, name: &str, folder: &Folder) -> PyResult<Self> {
        let look = look::parse(name, text, folder).map_err(|problems| documents(&folder.0, [problems]))?;
        Ok(Self { look })
    }
}

#[pymethods]
impl Look {
    /// Look(title, steps, *, revision=1, folder=None)
    ///
    /// `steps` is a list of dicts as in a document: `do` names the step, the other keys are its settings, and what is not set
    /// has its default. The last step gives display light (print, tone or a cube). Files that steps name are found within
    /// `folder` (default: the working folder).
    #[new]
    #[pyo3(signature = (title, steps, *, revision=None, folder=None))]
    fn new(
        title: &Bound<'_, PyAny>,
        steps: &Bound<'_, PyAny>,
        revision: Option<&Bound<'_, PyAny>>,
        folder: Option<PathBuf>,
    ) -> PyResult<Self> {
        let mut table = made::table(&[("title", Some(title)), ("revision", revision), ("step", Some(steps))])?;
        table.insert("schema".to_owned(), i64::from(look::SCHEMA).into());
        table.insert("generation".to_owned(), i64::from(look::GENERATION).into());
        table.entry("revision").or_insert(1.into());
        let read = look::parse("", &table.to_string(), &made::folder(folder));
        Ok(Self { look: read.map_err(|problems| arguments("", [problems]))? })
    }

    /// A look document (.toml).
    #[staticmethod]
    fn read(path: PathBuf) -> PyResult<Self> {
        Self::parsed(&files::text(&path)?, &files::name(&path), &Folder::of(&path))
    }

    /// A look document that is a text; files that it names are found within `folder` (default: the working folder).
    #[staticmethod]
    #[pyo3(signature = (text, *, folder=None))]
    fn parse(text: &str, folder: Option<PathBuf>) -> PyResult<Self> {
        Self::parsed(text, "look", &made::folder(folder))
    }

    /// Writes the document. It appears whole or not at all; one that is there is replaced only with `replace=True`, and its
    /// comments go with it.
    #[pyo3(signature = (path, *, replace=false))]
    fn save(&self, path: PathBuf, replace: bool) -> PyResult<()> {
        let text = self.toml();
        let there = look::parse(&files::name(&path), &text, &Folder::of(&path));
        if there.as_ref().ok() != Some(&self.look) {
            let why = there.err().map(|problems| format!(": {problems}")).unwrap_or_default();
            let message = "the files that the steps name are found by their paths from the document's folder, and there are others";
            return Err(invalid("path", format!("{message}{why}")));
        }
        files::write(&path, text.as_bytes(), replace)
    }

    /// The document.
    fn toml(&self) -> String {
        look::to_toml(&self.look)
    }

    /// The title.
    #[getter]
    fn title(&self) -> &str {
        self.look.title()
    }

    /// The revision, from 1.
    #[getter]
    fn revision(&self) -> u32 {
        self.look.revision()
    }

    /// The note on the revision; empty where there is none.
    #[getter]
    fn note(&self) -> &str {
        self.look.note()
    }

    /// The steps as a document states them, dicts that `Look(title, steps)` takes again.
    #[getter]
    fn steps<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let document: toml::Table = self.toml().parse().expect("what the library writes is TOML");
        Ok(pythonize::pythonize(py, &document["step"])?)
    }

    /// What each step does, in sentences.
    #[getter]
    fn sentences(&self) -> Vec<String> {
        self.look.sentences().into_iter().map(|sentence| sentence.words).collect()
    }

    fn __repr__(&self) -> String {
        format!("<Look {:?}, revision {}>", self.title(), self.revision())
    }
}

/// The names of the steps that a look can have.
#[pyfunction]
pub(crate) fn steps() -> Vec<&'static str> {
    KINDS.iter().map(|kind| kind.name).collect()
}

/// The settings of a step with their defaults, by key; keys of tables within are joined by a point.
#[pyfunction]
pub(crate) fn defaults<'py>(py: Python<'py>, step: &str) -> PyResult<Bound<'py, PyDict>> {
    let kind = Kind::named(step).ok_or_else(|| invalid("step", unknown("step", step, KINDS.iter().map(|k| k.name))))?;
    let settings = PyDict::new(py);
    for (key, value) in (kind.new)().values() {
        let value = match value {
            Value::Number(number) => number.into_bound_py_any(py),
            Value::Numbers(numbers) => numbers.into_bound_py_any(py),
            Value::Whole(number) => number.into_bound_py_any(py),
            Value::Flag(yes) => yes.into_bound_py_any(py),
            Value::Text(text) => text.into_bound_py_any(py),
        };
        settings.set_item(key, value?)?;
    }
    Ok(settings)
}
