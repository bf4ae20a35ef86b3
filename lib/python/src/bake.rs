//! Baking the cubes of a show.

use crate::files;
use crate::judge::plain;
use crate::problem::{invalid, refused};
use crate::show::Show;
use pyo3::prelude::*;
use pyo3::types::PyDict;
use rushlight::bake::{self as baking, BakedFile, Format, MANIFEST, Manifest, Options, preflight};
use rushlight::cube::check_points;
use rushlight::format::cube::{DEFAULT_DIGITS, check_digits};
use rushlight::format::device::Device;
use rushlight::invalid::Refusals;
use rushlight::message::unknown;
use rushlight::show::{Job, Named};
use std::fs;
use std::path::PathBuf;

/// The names that were picked, each of which there must be.
fn check_picked<'n>(what: &str, picked: Option<&Vec<String>>, known: impl Iterator<Item = &'n String>) -> PyResult<()> {
    let known: Vec<&str> = known.map(String::as_str).collect();
    match picked.into_iter().flatten().find(|name| !known.contains(&name.as_str())) {
        Some(name) => Err(invalid(&format!("{what}s"), unknown(what, name, known))),
        None => Ok(()),
    }
}

/// bake(show, *, out=None, looks=None, cameras=None, displays=None, shots=False, points=None, format="cube",
///      reader="tetrahedral", fit=False, shaper=False, audit=True, digits=6, device=None, replace=False)
///
/// Bakes what the show says, or those of it whose look, camera and display are picked by name; with `shots=True` a cube for
/// every shot. Gives a dict: `manifest`, as manifest.json has it, and `files`, the text of each file by its name. With `out`
/// the files and the manifest are written into that folder, each whole or not at all; a file that is there with other contents
/// is replaced only with `replace=True`.
#[pyfunction]
#[pyo3(signature = (show, *, out=None, looks=None, cameras=None, displays=None, shots=false, points=None, format="cube", reader="tetrahedral", fit=false, shaper=false, audit=true, digits=DEFAULT_DIGITS, device=None, replace=false))]
#[expect(clippy::too_many_arguments, reason = "the arguments of a function of Python")]
pub(crate) fn bake<'py>(
    py: Python<'py>,
    show: PyRef<'py, Show>,
    out: Option<PathBuf>,
    looks: Option<Vec<String>>,
    cameras: Option<Vec<String>>,
    displays: Option<Vec<String>>,
    shots: bool,
    points: Option<usize>,
    format: &str,
    reader: &str,
    fit: bool,
    shaper: bool,
    audit: bool,
    digits: usize,
    device: Option<&str>,
    replace: bool,
) -> PyResult<Bound<'py, PyDict>> {
    let show = &show.show;
    points.map(|points| check_points("points", points)).transpose().map_err(refused)?;
    check_digits("digits", digits).map_err(refused)?;
    check_picked("look", looks.as_ref(), show.looks().keys())?;
    check_picked("camera", cameras.as_ref(), show.cameras().keys())?;
    check_picked("display", displays.as_ref(), show.displays().keys())?;
    let named_format = Format::ALL.into_iter().find(|known| known.name() == format);
    let format = named_format
        .ok_or_else(|| invalid("format", unknown("format", format, Format::ALL.iter().map(|format| format.name()))))?;
    let device = device.map(|name| find_device(show, name)).transpose()?;
    let reader = crate::problem::named("reader", reader)?;
    let options = Options { reader, fit, shaper, audit, digits, plain: false, device };
    let picked =
        |picked: &Option<Vec<String>>, name: &str| picked.as_ref().is_none_or(|all| all.iter().any(|n| n == name));
    let wanted = |job: &Job<'_>| {
        let [look, camera, display] = job.names();
        picked(&looks, look) && picked(&cameras, camera) && picked(&displays, display)
    };
    let all = if shots { show.shot_jobs() } else { show.jobs() };
    let jobs: Vec<Job<'_>> =
        all.into_iter().filter(wanted).map(|job| job.with_points(points.unwrap_or(job.points()))).collect();
    if jobs.is_empty() {
        return Err(invalid(
            "show",
            "no [[bake]] entry of it, or no shot, is of what was picked: there is nothing to bake",
        ));
    }
    let baked = py.detach(|| -> Result<(Vec<BakedFile>, Manifest), Refusals> {
        jobs.iter().try_for_each(|job| preflight(job, format, &options))?;
        let mut manifest = Manifest::new(show);
        let mut files = Vec::new();
        for job in &jobs {
            let baked = baking::bake(job, &options)?;
            let file = baked.file(format)?;
            manifest.add(&baked, &file);
            files.push(file);
        }
        Ok((files, manifest))
    });
    let (made, manifest) = baked.map_err(refused)?;
    if let Some(out) = out {
        fs::create_dir_all(&out)?;
        let listed = manifest.to_json();
        let every = made.iter().map(|file| (file.name.as_str(), &file.text)).chain([(MANIFEST, &listed)]);
        let every: Vec<_> = every.map(|(name, text)| (out.join(name), text.as_bytes())).collect();
        // All are looked at before the first is written.
        every.iter().filter(|_| !replace).try_for_each(|(path, text)| files::check_free(path, text))?;
        every.iter().try_for_each(|(path, text)| files::write(path, text, replace))?;
    }
    let result = PyDict::new(py);
    result.set_item("manifest", plain(py, &manifest)?)?;
    let texts = PyDict::new(py);
    made.iter().try_for_each(|file| texts.set_item(&file.name, &file.text))?;
    result.set_item("files", texts)?;
    Ok(result)
}

fn find_device<'s>(show: &'s rushlight::show::Show, name: &str) -> PyResult<Named<'s, Device>> {
    let found = show.devices().get_key_value(name).map(|(name, entry)| Named { name, entry });
    found.ok_or_else(|| invalid("device", unknown("device", name, show.devices().keys().map(String::as_str))))
}
