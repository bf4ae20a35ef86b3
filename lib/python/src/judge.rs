//! Judgement: reports as plain objects.

use crate::cube::Cube;
use crate::files::{self, Folder};
use crate::pipeline::Pipeline;
use crate::problem::{incomparable, invalid, named, refused};
use crate::show::Show;
use pyo3::prelude::*;
use rushlight::audit::audit as audited;
use rushlight::compare::limits;
use rushlight::compare::report::Report;
use rushlight::cube::{Interpolation, POINTS, Reader};
use rushlight::diff::{Error, Input, Origin, Pick, Request, pair};
use rushlight::fit::fit as fitted_to;
use rushlight::stress::{CaseReport, Names, Subject, stress as stressed};
use serde::Serialize;
use std::path::{Path, PathBuf};

/// A report as dicts, lists, texts and numbers.
pub(crate) fn plain<'py>(py: Python<'py>, report: &impl Serialize) -> PyResult<Bound<'py, PyAny>> {
    Ok(pythonize::pythonize(py, report)?)
}

/// audit(pipeline, cube)
///
/// The error of a cube against the exact path, CIEDE2000 (Delta E ITP for PQ and HLG), as a dict: for each of the sets
/// uniform, centres, neutral and plausible, and for both interpolations, mean, p95, p99, max and the worst signal.
#[pyfunction]
pub(crate) fn audit<'py>(
    py: Python<'py>,
    pipeline: PyRef<'py, Pipeline>,
    cube: PyRef<'py, Cube>,
) -> PyResult<Bound<'py, PyAny>> {
    let (pipeline, cube) = (&pipeline.pipeline, &cube.cube);
    let found = py.detach(|| audited(pipeline, cube));
    plain(py, &found)
}

/// fit(pipeline, points=33, *, reader="tetrahedral")
///
/// A cube whose nodes are chosen for the least error between them, for a reader that interpolates so (tetrahedral, trilinear,
/// or either), and a dict of what was done: nodes, held_back, largest_change.
#[pyfunction]
#[pyo3(signature = (pipeline, points=POINTS, *, reader="tetrahedral"))]
pub(crate) fn fit<'py>(
    py: Python<'py>,
    pipeline: PyRef<'py, Pipeline>,
    points: usize,
    reader: &str,
) -> PyResult<(Cube, Bound<'py, PyAny>)> {
    let reader: Reader = named("reader", reader)?;
    let exact = &pipeline.pipeline;
    let fitted = py.detach(|| fitted_to(exact, points, reader, None)).map_err(refused)?;
    let cube = Cube::new_of(pipeline.title(), fitted.table.cube().clone());
    Ok((cube, plain(py, &fitted.report)?))
}

/// stress(pipeline, points=33, *, reader="tetrahedral")
///
/// What breaks the look, searched for on the exact path and on its cube of so many points, as the dict that
/// `rushlight stress --json` prints for one case; `verdict` is holds, marginal or breaks. A search proves what it finds, never
/// that there is nothing else.
#[pyfunction]
#[pyo3(signature = (pipeline, points=POINTS, *, reader="tetrahedral"))]
pub(crate) fn stress<'py>(
    py: Python<'py>,
    pipeline: PyRef<'py, Pipeline>,
    points: usize,
    reader: &str,
) -> PyResult<Bound<'py, PyAny>> {
    let reader: Reader = named("reader", reader)?;
    let Pipeline { pipeline: path, look, names, shot, limits } = &*pipeline;
    let (camera, display, correction) = (path.camera(), path.display(), path.correction());
    let subject = Subject { look, camera, display, correction, points, reader };
    let found = py.detach(|| stressed(&subject, limits)).map_err(refused)?;
    let [look_name, camera, display] = names;
    let names = Names { shot: shot.as_deref(), look: look_name, camera, display };
    plain(py, &CaseReport::new(names, look.revision(), (points, reader.name()), &found, None))
}

/// A file of the disk as a side of a comparison.
fn input(path: &Path, interpolation: Option<Interpolation>) -> PyResult<Input> {
    let name = files::name(path);
    let shown = path.display().to_string();
    let base = shown.strip_suffix(&name).unwrap_or_default().to_owned();
    let origin = Origin { base, name, bytes: files::read(path)?, files: Box::new(Folder::of(path)) };
    Input::read(origin, interpolation).map_err(incomparable)
}

/// diff(old, new, *, show=None, look=None, camera=None, display=None, limits=(), interpolation=None)
///
/// What differs between two files (looks, shows, or table files), in words and on the picture, as the dict that
/// `rushlight diff --json` prints; `verdict` is identical, different, within or beyond (the limits). `show` is the path of
/// the show whose cameras and displays the looks are seen with; without one, `camera` and `display` are built-in ones, such as
/// slog3+sgamut3-cine and bt709. A limit is a text such as skin.max=1.5.
#[pyfunction]
#[pyo3(signature = (old, new, *, show=None, look=None, camera=None, display=None, limits=Vec::new(), interpolation=None))]
#[expect(clippy::too_many_arguments, reason = "the arguments of a function of Python")]
pub(crate) fn diff<'py>(
    py: Python<'py>,
    old: PathBuf,
    new: PathBuf,
    show: Option<PathBuf>,
    look: Option<String>,
    camera: Option<String>,
    display: Option<String>,
    limits: Vec<String>,
    interpolation: Option<&str>,
) -> PyResult<Bound<'py, PyAny>> {
    let limit = |text: &String| limits::parse(text).map_err(|why| invalid("limits", why.message));
    let request = Request {
        show: show.map(Show::read).transpose()?.map(|show| show.show),
        pick: Pick { look, camera, display },
        limits: limits.iter().map(limit).collect::<PyResult<_>>()?,
        lenient: false,
    };
    let interpolation = interpolation.map(|name| named("interpolation", name)).transpose()?;
    let (one, two) = (input(&old, interpolation)?, input(&new, interpolation)?);
    let compare = || -> Result<Report, Error> {
        let item = pair(Some(&one), Some(&two), &request)?.item;
        Ok(Report::new(one.origin.shown(), two.origin.shown(), vec![item]))
    };
    plain(py, &compare().map_err(incomparable)?)
}
