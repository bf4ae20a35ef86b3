//! Arrays of Python through functions of the library: any shape and any strides, nothing copied that lies as it is needed,
//! the interpreter's lock released, on all processors.

use crate::problem::invalid;
use numpy::ndarray::{ArrayViewD, ArrayViewMutD, Axis};
use numpy::{Element, PyArrayDyn, PyArrayMethods as _, PyUntypedArray, PyUntypedArrayMethods as _};
use pyo3::exceptions::PyTypeError;
use pyo3::intern;
use pyo3::prelude::*;
use pyo3::types::PyDict;
use rayon::prelude::*;

/// Samples that one thread takes at a time; fewer are not shared out.
const PART: usize = 3 << 11;

/// What the last axis of an array is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Axes {
    /// Any axis: each number is by itself.
    Values,
    /// Red, green and blue, or X, Y and Z.
    Pixels,
}

/// A function of samples, from one array to another or in place.
pub(crate) trait Work<T>: Sync {
    /// From samples to others.
    fn apart(&self, source: &[T], target: &mut [T]);

    /// In place.
    fn in_place(&self, samples: &mut [T]);

    /// From planes to others; false where it has no quicker way for planes.
    fn planes(&self, source: [&[T]; 3], target: [&mut [T]; 3]) -> bool {
        let _ = (source, target);
        false
    }
}

/// Samples that a function in f64 takes and gives.
pub(crate) trait Float: Element + Copy + Send + Sync {
    /// As f64.
    fn wide(self) -> f64;
    /// The nearest of an f64.
    fn narrow(value: f64) -> Self;
}

impl Float for f64 {
    fn wide(self) -> f64 {
        self
    }

    fn narrow(value: f64) -> Self {
        value
    }
}

impl Float for f32 {
    fn wide(self) -> f64 {
        f64::from(self)
    }

    fn narrow(value: f64) -> Self {
        value as f32
    }
}

/// A function of three numbers, in f64: of a colour, or of three values each by itself.
pub(crate) struct Function<F>(pub(crate) F);

impl<F: Fn([f64; 3]) -> [f64; 3] + Sync> Function<F> {
    fn three<T: Float>(&self, source: [T; 3]) -> [T; 3] {
        (self.0)(source.map(T::wide)).map(T::narrow)
    }

    /// What is left of values that are not a multiple of three is filled up with the last.
    fn rest<T: Float>(&self, source: &[T], target: &mut [T]) {
        if let Some(last) = source.last() {
            let three = self.three([source[0], *source.get(1).unwrap_or(last), *last]);
            target.copy_from_slice(&three[..source.len()]);
        }
    }

    fn part<T: Float>(&self, source: &[T], target: &mut [T]) {
        let ((source, rest), (target, rest_of_target)) = (source.as_chunks::<3>(), target.as_chunks_mut::<3>());
        for (source, target) in source.iter().zip(target) {
            *target = self.three(*source);
        }
        self.rest(rest, rest_of_target);
    }

    fn part_in_place<T: Float>(&self, samples: &mut [T]) {
        let (threes, rest) = samples.as_chunks_mut::<3>();
        for three in threes {
            *three = self.three(*three);
        }
        let copy: Vec<T> = rest.to_vec();
        self.rest(&copy, rest);
    }
}

impl<T: Float, F: Fn([f64; 3]) -> [f64; 3] + Sync> Work<T> for Function<F> {
    fn apart(&self, source: &[T], target: &mut [T]) {
        if source.len() <= PART {
            return self.part(source, target);
        }
        source.par_chunks(PART).zip(target.par_chunks_mut(PART)).for_each(|(source, target)| self.part(source, target));
    }

    fn in_place(&self, samples: &mut [T]) {
        if samples.len() <= PART {
            return self.part_in_place(samples);
        }
        samples.par_chunks_mut(PART).for_each(|part| self.part_in_place(part));
    }
}

/// A function of finite colours for any: a colour with NaN gives NaN, an infinity counts as the largest number.
pub(crate) fn of_any(f: impl Fn([f64; 3]) -> [f64; 3] + Sync) -> Function<impl Fn([f64; 3]) -> [f64; 3] + Sync> {
    Function(
        move |rgb: [f64; 3]| {
            if rgb.iter().any(|v| v.is_nan()) { [f64::NAN; 3] } else { f(rgb.map(|v| v.clamp(f64::MIN, f64::MAX))) }
        },
    )
}

/// The axis to halve: the longest, but for the last of pixels.
fn longest(shape: &[usize], axes: Axes) -> Option<Axis> {
    let outer = if axes == Axes::Pixels { &shape[..shape.len() - 1] } else { shape };
    let (axis, length) = outer.iter().enumerate().max_by_key(|(_, length)| **length)?;
    (*length > 1).then_some(Axis(axis))
}

/// The three planes of pixels where each lies in one piece.
fn planes<'v, T>(view: &'v ArrayViewD<'_, T>) -> Option<[&'v [T]; 3]> {
    let plane = |i: usize| view.index_axis(Axis(view.ndim() - 1), i).to_slice();
    Some([plane(0)?, plane(1)?, plane(2)?])
}

fn planes_mut<'v, T>(view: ArrayViewMutD<'v, T>) -> Option<[&'v mut [T]; 3]> {
    let last = Axis(view.ndim() - 1);
    let (red, rest) = view.split_at(last, 1);
    let (green, blue) = rest.split_at(last, 1);
    let plane = |view: ArrayViewMutD<'v, T>| view.index_axis_move(last, 0).into_slice();
    Some([plane(red)?, plane(green)?, plane(blue)?])
}

fn apart<T: Copy + Send + Sync>(
    source: ArrayViewD<'_, T>,
    mut target: ArrayViewMutD<'_, T>,
    axes: Axes,
    work: &impl Work<T>,
) {
    if let (Some(source), Some(target)) = (source.as_slice(), target.as_slice_mut()) {
        return work.apart(source, target);
    }
    if axes == Axes::Pixels
        && let Some(from) = planes(&source)
        && let Some(to) = planes_mut(target.view_mut())
        && work.planes(from, to)
    {
        return;
    }
    if let Some(axis) = longest(source.shape(), axes).filter(|_| source.len() > PART) {
        let middle = source.shape()[axis.0] / 2;
        let ((a, b), (to_a, to_b)) = (source.split_at(axis, middle), target.split_at(axis, middle));
        rayon::join(|| apart(a, to_a, axes, work), || apart(b, to_b, axes, work));
        return;
    }
    // Little, and strewn over memory: gathered and put back.
    let mut samples: Vec<T> = source.iter().copied().collect();
    work.in_place(&mut samples);
    target.iter_mut().zip(samples).for_each(|(target, sample)| *target = sample);
}

fn in_place<T: Copy + Send + Sync>(mut view: ArrayViewMutD<'_, T>, axes: Axes, work: &impl Work<T>) {
    if let Some(samples) = view.as_slice_mut() {
        return work.in_place(samples);
    }
    if let Some(axis) = longest(view.shape(), axes).filter(|_| view.len() > PART) {
        let middle = view.shape()[axis.0] / 2;
        let (a, b) = view.split_at(axis, middle);
        rayon::join(|| in_place(a, axes, work), || in_place(b, axes, work));
        return;
    }
    let mut samples: Vec<T> = view.iter().copied().collect();
    work.in_place(&mut samples);
    view.iter_mut().zip(samples).for_each(|(target, sample)| *target = sample);
}

/// An array that Python gave, of samples that a call takes, or made of numbers and lists as float64.
pub(crate) fn array<'py>(given: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyUntypedArray>> {
    if let Ok(array) = given.cast::<PyUntypedArray>() {
        return Ok(array.clone());
    }
    let py = given.py();
    let options = PyDict::new(py);
    options.set_item(intern!(py, "dtype"), intern!(py, "float64"))?;
    let numpy = py.import(intern!(py, "numpy"))?;
    let made = numpy.call_method(intern!(py, "asarray"), (given,), Some(&options));
    let made = made.map_err(|error| match error.is_instance_of::<PyTypeError>(py) {
        true => invalid("x", "must be an array, a number, or lists of numbers"),
        false => invalid("x", error.value(py).to_string()),
    })?;
    Ok(made.cast_into::<PyUntypedArray>()?)
}

/// A sample type that was not taken.
pub(crate) fn wrong_type(array: &Bound<'_, PyUntypedArray>, right: &str) -> PyErr {
    invalid("x", format!("an array of {}: it must be of {right}; .astype(\"float64\") makes one", array.dtype()))
}

/// An array through `work`, if its samples are of type `T`: into `out` where that is given, in place where that is the same
/// array, and else into a new one.
pub(crate) fn through<'py, T: Element + Copy + Send + Sync>(
    given: &Bound<'py, PyUntypedArray>,
    out: Option<&Bound<'py, PyAny>>,
    axes: Axes,
    work: &impl Work<T>,
) -> PyResult<Option<Bound<'py, PyAny>>> {
    let Ok(source) = given.cast::<PyArrayDyn<T>>() else { return Ok(None) };
    let py = given.py();
    if axes == Axes::Pixels && source.shape().last() != Some(&3) {
        let shape = source.shape();
        return Err(invalid("x", format!("an array of shape {shape:?}: the last axis must be 3, red, green and blue")));
    }
    if !source.is_aligned() {
        return Err(invalid("x", "samples that are not aligned in memory: .copy() makes an array whose samples are"));
    }
    if let Some(out) = out.filter(|out| !out.is_none()) {
        let target = out
            .cast::<PyArrayDyn<T>>()
            .map_err(|_| invalid("out", format!("must be an array of {}, as the input is", source.dtype())))?;
        if target.shape() != source.shape() {
            let (is, must) = (target.shape(), source.shape());
            return Err(invalid("out", format!("an array of shape {is:?}: it must be {must:?}, as the input is")));
        }
        let overlaps = target.shape().iter().zip(target.strides()).any(|(length, stride)| *length > 1 && *stride == 0);
        if !target.is_aligned() || overlaps {
            return Err(invalid("out", "samples that are not aligned in memory, or stand in one place"));
        }
        let written =
            |_| invalid("out", "cannot be written: it is read-only, or in use, or shares memory with the input");
        if target.is(source) {
            let mut samples = target.try_readwrite().map_err(written)?;
            let view = samples.as_array_mut();
            py.detach(|| in_place(view, axes, work));
        } else {
            let from = source.try_readonly().map_err(|_| invalid("x", "is being written by another call"))?;
            let mut to = target.try_readwrite().map_err(written)?;
            let (from, to) = (from.as_array(), to.as_array_mut());
            py.detach(|| apart(from, to, axes, work));
        }
        return Ok(Some(out.clone()));
    }
    let made = PyArrayDyn::<T>::zeros(py, source.shape(), false);
    {
        let from = source.try_readonly().map_err(|_| invalid("x", "is being written by another call"))?;
        let mut to = made.readwrite();
        let (from, to) = (from.as_array(), to.as_array_mut());
        py.detach(|| apart(from, to, axes, work));
    }
    // As NumPy's own functions, a number of a number.
    if source.ndim() == 0 { made.get_item(()).map(Some) } else { Ok(Some(made.into_any())) }
}

/// Floats of either width through `work`.
pub(crate) fn floats<'py>(
    given: &Bound<'py, PyAny>,
    out: Option<&Bound<'py, PyAny>>,
    axes: Axes,
    work: &(impl Work<f32> + Work<f64>),
) -> PyResult<Bound<'py, PyAny>> {
    let given = array(given)?;
    if let Some(done) = through::<f64>(&given, out, axes, work)? {
        return Ok(done);
    }
    through::<f32>(&given, out, axes, work)?.ok_or_else(|| wrong_type(&given, "float32 or float64"))
}
