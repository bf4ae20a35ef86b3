//! Cubes: read, made of an array, applied, written.

use crate::array::{self, Axes, Function, Work, through};
use crate::files;
use crate::problem::{file, invalid, named, refused};
use numpy::ndarray::Array4;
use numpy::{PyArray4, PyReadonlyArrayDyn, PyUntypedArrayMethods as _};
use pyo3::prelude::*;
use rushlight::cube::fast::{FastCube, Sample};
use rushlight::cube::{self, Interpolation, UNIT};
use rushlight::format::cube::{DEFAULT_DIGITS, WriteOptions, write_cube};
use rushlight::table_file::{Kind, TableFile};
use std::path::PathBuf;
use std::sync::OnceLock;

/// A cube: colours at the nodes of a grid over a box of signals. Call it on an array of signals.
#[pyclass(frozen, module = "rushlight")]
pub(crate) struct Cube {
    title: String,
    pub(crate) cube: cube::Cube,
    /// Made ready for frames when first called, for each interpolation.
    fast: [OnceLock<FastCube>; 2],
}

/// Samples through the kernels, which share frames out themselves.
struct Fast<'c>(&'c FastCube);

impl<S: Sample> Work<S> for Fast<'_> {
    fn apart(&self, source: &[S], target: &mut [S]) {
        self.0.rgb(source, target).expect("arrays of pixels, of one shape");
    }

    fn in_place(&self, samples: &mut [S]) {
        self.0.rgb_in_place(samples).expect("an array of pixels");
    }

    fn planes(&self, source: [&[S]; 3], target: [&mut [S]; 3]) -> bool {
        self.0.planar(source, target).is_ok()
    }
}

impl Cube {
    /// With its title.
    pub(crate) fn new_of(title: String, cube: cube::Cube) -> Self {
        Self { title, cube, fast: Default::default() }
    }

    fn fast(&self, kind: Interpolation) -> PyResult<&FastCube> {
        let place = &self.fast[usize::from(kind == Interpolation::Trilinear)];
        if let Some(made) = place.get() {
            return Ok(made);
        }
        let made = FastCube::new(&self.cube, kind).map_err(refused)?;
        Ok(place.get_or_init(|| made))
    }
}

#[pymethods]
impl Cube {
    /// Cube(nodes, *, domain=None, title="")
    ///
    /// `nodes` has the shape (n, n, n, 3), by steps of red, green and blue, float32 or float64; `domain` is the lower and the
    /// upper bound of the input, each red, green and blue (default: 0 to 1).
    #[new]
    #[pyo3(signature = (nodes, *, domain=None, title=String::new()))]
    fn new(nodes: &Bound<'_, PyAny>, domain: Option<[[f64; 3]; 2]>, title: String) -> PyResult<Self> {
        let given = array::array(nodes)?;
        let shape = given.shape().to_vec();
        let [n, g, b, 3] = shape[..] else { return Err(wrong_shape(&shape)) };
        if n != g || g != b {
            return Err(wrong_shape(&shape));
        }
        cube::check_points("nodes", n).map_err(refused)?;
        let wide = given.call_method1("astype", ("float64",))?;
        let read: PyReadonlyArrayDyn<'_, f64> = wide.extract()?;
        let view = read.as_array();
        let mut list = Vec::with_capacity(n * n * n);
        for blue in 0..n {
            for green in 0..n {
                list.extend((0..n).map(|red| [0, 1, 2].map(|c| view[[red, green, blue, c]])));
            }
        }
        let made = cube::Cube::new(n, domain.unwrap_or(UNIT), list).map_err(refused)?;
        Ok(Self::new_of(title, made))
    }

    /// A cube of a file: .cube, .clf with a cube and nothing else, or a Hald image (.png).
    #[staticmethod]
    fn read(py: Python<'_>, path: PathBuf) -> PyResult<Self> {
        let kind = Kind::of(&path)
            .ok_or_else(|| invalid("path", format!("{}: the name must end in .cube, .clf or .png", path.display())))?;
        let bytes = files::read(&path)?;
        let read = py.detach(|| TableFile::read(kind, &bytes)).map_err(|why| file(&path, why))?;
        let alone = read.alone().ok_or_else(|| file(&path, "it holds more than one cube, or no cube"))?;
        Ok(Self::new_of(read.title().to_owned(), alone.0.clone()))
    }

    /// Signal through the cube.
    ///
    /// Shape (..., 3); into `out` where it is given, which may be the array itself. float64 is interpolated in float64.
    /// float32, and uint8 and uint16 as code values (255 and 65535 stand for 1), take the fast kernels, in float32. Input is
    /// held within the domain; NaN counts as its lower end. `interpolation` is tetrahedral or trilinear. Fastest are planes:
    /// an array of shape (3, ...) by `numpy.moveaxis(planes, 0, -1)`.
    #[pyo3(signature = (signal, *, interpolation="tetrahedral", out=None))]
    fn __call__<'py>(
        &self,
        signal: &Bound<'py, PyAny>,
        interpolation: &str,
        out: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let kind: Interpolation = named("interpolation", interpolation)?;
        let given = array::array(signal)?;
        let exact = Function(|rgb| self.cube.at(rgb, kind));
        if let Some(done) = through::<f64>(&given, out, Axes::Pixels, &exact)? {
            return Ok(done);
        }
        let fast = Fast(self.fast(kind)?);
        if let Some(done) = through::<f32>(&given, out, Axes::Pixels, &fast)? {
            return Ok(done);
        }
        if let Some(done) = through::<u16>(&given, out, Axes::Pixels, &fast)? {
            return Ok(done);
        }
        let done = through::<u8>(&given, out, Axes::Pixels, &fast)?;
        done.ok_or_else(|| array::wrong_type(&given, "float32, float64, uint16 or uint8"))
    }

    /// Writes a .cube file by the Cube LUT Specification 1.0. It appears whole or not at all; one that is there is replaced
    /// only with `replace=True`.
    #[pyo3(signature = (path, *, title=None, comments=Vec::new(), digits=DEFAULT_DIGITS, replace=false))]
    fn write(
        &self,
        py: Python<'_>,
        path: PathBuf,
        title: Option<&str>,
        comments: Vec<String>,
        digits: usize,
        replace: bool,
    ) -> PyResult<()> {
        if Kind::of(&path) != Some(Kind::Cube) {
            return Err(invalid("path", format!("{}: the name must end in .cube", path.display())));
        }
        let title = title.unwrap_or(&self.title);
        let options = WriteOptions { title, comments: &comments, digits, ..WriteOptions::default() };
        let text = py.detach(|| write_cube(&self.cube, &options)).map_err(refused)?;
        files::write(&path, text.as_bytes(), replace)
    }

    /// The nodes: shape (n, n, n, 3), by steps of red, green and blue, float64; a copy.
    #[getter]
    fn nodes<'py>(&self, py: Python<'py>) -> Bound<'py, PyArray4<f64>> {
        let n = self.cube.size();
        let node = |(red, green, blue, c): (usize, usize, usize, usize)| self.cube.node(red, green, blue)[c];
        PyArray4::from_owned_array(py, Array4::from_shape_fn((n, n, n, 3), node))
    }

    /// The lower and the upper bound of the input, each red, green and blue.
    #[getter]
    fn domain(&self) -> [[f64; 3]; 2] {
        self.cube.domain()
    }

    /// Nodes along each edge.
    #[getter]
    fn points(&self) -> usize {
        self.cube.size()
    }

    /// The title; empty where there is none.
    #[getter]
    fn title(&self) -> &str {
        &self.title
    }

    fn __repr__(&self) -> String {
        format!("<Cube {:?}, {} points>", self.title, self.points())
    }
}

fn wrong_shape(shape: &[usize]) -> PyErr {
    invalid("nodes", format!("an array of shape {shape:?}: it must be [n, n, n, 3]"))
}
