//! Arguments of Python as the table of a document, which the library's one reader then reads: the same keys, bounds and
//! words of errors as in a document.

use crate::files::Folder;
use crate::problem::{self, invalid};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList, PyTuple};
use rushlight::camera::Camera;
use rushlight::display::Display;
use rushlight::show::{CameraId, DisplayId, Show};
use std::path::PathBuf;
use toml::{Table, Value};

/// A value as a document has it. What NumPy gives counts as its plain value.
fn value(key: &str, given: &Bound<'_, PyAny>) -> PyResult<Value> {
    if let Ok(dict) = given.cast::<PyDict>() {
        let entry = |(name, value_of): (Bound<'_, PyAny>, Bound<'_, PyAny>)| {
            let name: String = name.extract().map_err(|_| invalid(key, "names must be texts"))?;
            let inner = value(&format!("{key}.{name}"), &value_of)?;
            Ok((name, inner))
        };
        return dict.iter().map(entry).collect::<PyResult<Table>>().map(Value::Table);
    }
    if given.is_instance_of::<PyList>() || given.is_instance_of::<PyTuple>() {
        let items = given.try_iter()?.enumerate();
        let item = |(i, item): (usize, PyResult<Bound<'_, PyAny>>)| value(&format!("{key}[{i}]"), &item?);
        return items.map(item).collect::<PyResult<Vec<_>>>().map(Value::Array);
    }
    if given.hasattr("tolist")? {
        return value(key, &given.call_method0("tolist")?);
    }
    pythonize::depythonize(given).map_err(|_| {
        let kind = given.get_type().name().map(|name| name.to_string()).unwrap_or_default();
        invalid(
            key,
            format!("a value of type {kind} cannot stand in a document: give a number, a text, a list or a dict"),
        )
    })
}

/// A table of those arguments that were given.
pub(crate) fn table(arguments: &[(&str, Option<&Bound<'_, PyAny>>)]) -> PyResult<Table> {
    let given =
        arguments.iter().filter_map(|(key, given)| given.filter(|given| !given.is_none()).map(|given| (*key, given)));
    given.map(|(key, given)| Ok((key.to_owned(), value(key, given)?))).collect()
}

/// The folder in which files are found that arguments name; by default the one that Python works in.
pub(crate) fn folder(given: Option<PathBuf>) -> Folder {
    Folder(given.unwrap_or_else(|| PathBuf::from(".")))
}

/// The name of what arguments make, within its document.
const IT: &str = "it";

fn show(cameras: Table, displays: Option<Table>, prefix: &str, folder: &Folder) -> PyResult<Show> {
    let mut document = Table::new();
    document.insert("schema".to_owned(), Value::Integer(rushlight::show::SCHEMA.into()));
    document.insert("title".to_owned(), "Made in Python".into());
    document.insert("cameras".to_owned(), Table::from_iter([(IT.to_owned(), cameras.into())]).into());
    if let Some(displays) = displays {
        document.insert("displays".to_owned(), Table::from_iter([(IT.to_owned(), displays.into())]).into());
    }
    Show::parse("", &document.to_string(), folder).map_err(|problems| problem::arguments(prefix, problems))
}

/// The camera of a table such as `[cameras.a]` of a show.
pub(crate) fn camera(table: Table, folder: &Folder) -> PyResult<(CameraId, Camera)> {
    let show = show(table, None, "cameras.it", folder)?;
    let entry = &show.cameras()[IT];
    Ok((entry.id.clone(), entry.item.clone()))
}

/// The display of a table such as `[displays.onset]` of a show.
pub(crate) fn display(table: Table) -> PyResult<(DisplayId, Display)> {
    // A show has a camera; which one is of no matter to its displays.
    let any = Table::from_iter([("curve".to_owned(), "linear".into()), ("gamut".to_owned(), "aces-ap1".into())]);
    let show = show(any, Some(table), "displays.it", &folder(None))?;
    let entry = &show.displays()[IT];
    Ok((entry.id.clone(), entry.item.clone()))
}
