//! What is wrong, as one `ValueError` with the place of every problem.

use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList};
use rushlight::diff;
use rushlight::document::Problems;
use rushlight::invalid::{self, Refusals};
use rushlight::named::Named;
use std::path::Path;

pyo3::create_exception!(
    rushlight,
    Invalid,
    PyValueError,
    "A value, a document or a file that cannot be used.\n\n`problems` is a list of dicts, each with `key` (empty where no key \
     is concerned), `message`, and `file`, `line` and `column` (None for what stands in no file)."
);

/// One problem and its place.
struct Place {
    file: Option<String>,
    at: Option<(usize, usize)>,
    key: String,
    message: String,
}

fn raise(message: String, places: Vec<Place>) -> PyErr {
    let error = Invalid::new_err(message);
    let listed = Python::attach(|py| -> PyResult<()> {
        let list = PyList::empty(py);
        for place in places {
            let entry = PyDict::new(py);
            entry.set_item("file", place.file)?;
            entry.set_item("line", place.at.map(|at| at.0))?;
            entry.set_item("column", place.at.map(|at| at.1))?;
            entry.set_item("key", place.key)?;
            entry.set_item("message", place.message)?;
            list.append(entry)?;
        }
        error.value(py).setattr("problems", list)
    });
    listed.err().unwrap_or(error)
}

/// A value under its key.
pub(crate) fn invalid(key: &str, message: impl Into<String>) -> PyErr {
    refused(invalid::Invalid::new(key, message))
}

/// What a type of the library refused.
pub(crate) fn refused(refused: impl Into<Refusals>) -> PyErr {
    let refused: Refusals = refused.into();
    let place = |r: &invalid::Invalid| Place { file: None, at: None, key: r.key.clone(), message: r.message.clone() };
    raise(refused.to_string(), refused.iter().map(place).collect())
}

/// What is wrong with a file that is no document, with its line in the words.
pub(crate) fn file(path: &Path, why: impl std::fmt::Display) -> PyErr {
    let (file, message) = (path.display().to_string(), why.to_string());
    raise(format!("{file}, {message}"), vec![Place { file: Some(file), at: None, key: String::new(), message }])
}

/// Problems of documents, whose names are those within `folder`.
pub(crate) fn documents(folder: &Path, documents: impl IntoIterator<Item = Problems>) -> PyErr {
    let named = |p: Problems| Problems { name: folder.join(&p.name).display().to_string(), ..p };
    listed(documents.into_iter().map(named).collect())
}

fn listed(documents: Vec<Problems>) -> PyErr {
    let words: Vec<String> = documents.iter().map(ToString::to_string).collect();
    let places = documents.into_iter().flat_map(|document| {
        let name = document.name;
        document.list.into_iter().map(move |p| Place {
            file: Some(name.clone()),
            at: Some((p.line, p.column)),
            key: p.key,
            message: p.message,
        })
    });
    raise(words.join("\n"), places.collect())
}

/// Problems of a document that was made of arguments: each under its argument, without `prefix`, and in no file.
pub(crate) fn arguments(prefix: &str, documents: impl IntoIterator<Item = Problems>) -> PyErr {
    let own = |key: &str| key.strip_prefix(prefix).map(|key| key.trim_start_matches('.')).unwrap_or(key).to_owned();
    let all = documents.into_iter().flat_map(|document| document.list);
    refused(all.map(|p| invalid::Invalid::new(own(&p.key), p.message)).collect::<Refusals>())
}

/// Why two files cannot be compared.
pub(crate) fn incomparable(error: diff::Error) -> PyErr {
    match error {
        diff::Error::Documents(documents) => listed(documents),
        diff::Error::Refused(why) => refused(why),
        other => invalid("", other.to_string()),
    }
}

/// The value of a list by its name, given as the argument `key`.
pub(crate) fn named<T: Named>(key: &str, name: &str) -> PyResult<T> {
    T::named(name).map_err(|why| invalid(key, why.to_string()))
}
