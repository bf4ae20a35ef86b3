//! The sampled tables: a 3D cube of nodes and its interpolants, 1D curves, and conversions between them.
//!
//! A cube knows neither looks nor files. Input is three components, clamped to the cube's domain; output is whatever the
//! nodes hold. Red changes fastest in [`Cube::nodes`], as in the Cube LUT Specification 1.0 (2013), 7.2.

mod convert;
mod curves;
pub mod fast;
mod interpolation;
mod reader;
mod shaped;
mod table;

pub use convert::UNIT;
pub use curves::{Curves, ENTRIES};
pub use interpolation::{Cell, Share, offset};
pub use reader::Reader;
pub use shaped::ShapedCube;
pub use table::Table;

use crate::invalid::{Invalid, Refusals};
use crate::parallel;
use crate::transform::ColourTransform;

/// Sizes that a cube may have: nodes along each edge.
pub const SIZES: std::ops::RangeInclusive<usize> = 2..=256;

/// Nodes along each edge when nothing says how many.
pub const POINTS: usize = 33;

/// `points` if a cube may have that many along each edge.
///
/// # Errors
/// A refusal under `key`.
pub fn check_points(key: &str, points: usize) -> Result<usize, Invalid> {
    if SIZES.contains(&points) {
        return Ok(points);
    }
    let (least, most) = (SIZES.start(), SIZES.end());
    Err(Invalid::new(key, format!("{points} is out of range: it must lie between {least} and {most}")))
}

/// How values between the nodes are found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Interpolation {
    /// By the tetrahedron among the cell's six that share its grey diagonal; the cube specification's own advice.
    #[default]
    Tetrahedral,
    /// By all eight corners of the cell.
    Trilinear,
}

crate::named!(Interpolation, "interpolation", { Tetrahedral => "tetrahedral", Trilinear => "trilinear" });

/// A 3D table of `size`³ nodes over a box of inputs.
#[derive(Debug, Clone, PartialEq)]
pub struct Cube {
    size: usize,
    domain: [[f64; 3]; 2],
    nodes: Vec<[f64; 3]>,
}

impl Cube {
    /// A cube from its nodes, red fastest, over the domain from `domain[0]` to `domain[1]`.
    ///
    /// # Errors
    /// `size` out of [`SIZES`], a domain that is not finite and ascending, a wrong count of nodes, nodes that are not
    /// finite.
    pub fn new(size: usize, domain: [[f64; 3]; 2], nodes: Vec<[f64; 3]>) -> Result<Self, Refusals> {
        let mut refusals = Refusals::new();
        if !SIZES.contains(&size) {
            refusals.push("size", format!("{size} points: it must lie between {} and {}", SIZES.start(), SIZES.end()));
        } else if nodes.len() != size * size * size {
            refusals.push("nodes", format!("{} nodes: {size} points need {}", nodes.len(), size * size * size));
        }
        check_domain(&domain, &mut refusals);
        if let Some(at) = nodes.iter().position(|n| !n.iter().all(|v| v.is_finite())) {
            refusals.push("nodes", format!("node {at} is not finite"));
        }
        refusals.finish(|| Self { size, domain, nodes })
    }

    /// Samples `f` over 0..1 with `size` points along each edge, on all threads; the nodes do not depend on how many.
    ///
    /// # Errors
    /// As [`new`](Self::new).
    pub fn sample<C: Into<[f64; 3]>>(size: usize, f: impl Fn([f64; 3]) -> C + Sync) -> Result<Self, Refusals> {
        Self::sample_over(size, UNIT, f)
    }

    /// Samples a transform over its own domain with `points` along each edge, on all threads.
    ///
    /// # Errors
    /// As [`new`](Self::new).
    pub fn of(transform: &(impl ColourTransform + ?Sized), points: usize) -> Result<Self, Refusals> {
        Self::sample_over(points, transform.domain(), |rgb| transform.transform(rgb))
    }

    /// [`sample`](Self::sample) over another domain.
    ///
    /// # Errors
    /// As [`new`](Self::new).
    pub fn sample_over<C: Into<[f64; 3]>>(
        size: usize,
        domain: [[f64; 3]; 2],
        f: impl Fn([f64; 3]) -> C + Sync,
    ) -> Result<Self, Refusals> {
        Self::sample_steps(size, domain, |at| f(input(&domain, size, at)).into())
    }

    /// [`sample_over`](Self::sample_over) for a function of the steps in red, green and blue: 0 to `size` - 1.
    pub(crate) fn sample_steps(
        size: usize,
        domain: [[f64; 3]; 2],
        f: impl Fn([usize; 3]) -> [f64; 3] + Sync,
    ) -> Result<Self, Refusals> {
        let count = if SIZES.contains(&size) { size * size * size } else { 0 };
        let mut nodes = vec![[0.0; 3]; count];
        parallel::chunks(&mut nodes, size.max(1), |row, line| {
            let (green, blue) = (row % size, row / size);
            for (red, node) in line.iter_mut().enumerate() {
                *node = f([red, green, blue]);
            }
        });
        Self::new(size, domain, nodes)
    }

    /// Nodes along each edge.
    pub const fn size(&self) -> usize {
        self.size
    }

    /// The lower and the upper bounds of the input.
    pub const fn domain(&self) -> [[f64; 3]; 2] {
        self.domain
    }

    /// The nodes, red fastest.
    pub fn nodes(&self) -> &[[f64; 3]] {
        &self.nodes
    }

    /// The node at red, green and blue steps `r`, `g` and `b`.
    ///
    /// # Panics
    /// When a step is not below [`size`](Self::size).
    pub fn node(&self, r: usize, g: usize, b: usize) -> [f64; 3] {
        assert!(r < self.size && g < self.size && b < self.size, "node out of the cube");
        self.nodes[r + self.size * (g + self.size * b)]
    }

    /// The input at red, green and blue steps `r`, `g` and `b`.
    pub fn input(&self, r: usize, g: usize, b: usize) -> [f64; 3] {
        input(&self.domain, self.size, [r, g, b])
    }
}

/// The input of the node at the steps `at` of a cube.
pub(crate) fn input(domain: &[[f64; 3]; 2], size: usize, at: [usize; 3]) -> [f64; 3] {
    let last = (size - 1) as f64;
    let [low, high] = domain;
    std::array::from_fn(|i| low[i] + at[i] as f64 / last * (high[i] - low[i]))
}

/// Refuses a domain that is not finite and ascending.
fn check_domain(domain: &[[f64; 3]; 2], refusals: &mut Refusals) {
    let [low, high] = domain;
    if !(0..3).all(|i| low[i] < high[i] && (high[i] - low[i]).is_finite()) {
        refusals.push("domain", "each lower bound must be below its upper bound");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn red_changes_fastest() {
        let cube = Cube::sample(3, |rgb| rgb).unwrap();
        assert_eq!(cube.nodes()[1], [0.5, 0.0, 0.0]);
        assert_eq!(cube.nodes()[3], [0.0, 0.5, 0.0]);
        assert_eq!(cube.nodes()[9], [0.0, 0.0, 0.5]);
        assert_eq!(cube.node(2, 1, 0), [1.0, 0.5, 0.0]);
        assert_eq!(cube.input(2, 1, 0), [1.0, 0.5, 0.0]);
    }

    #[test]
    fn what_is_no_cube_is_refused() {
        let unit = [[0.0; 3], [1.0; 3]];
        assert_eq!(Cube::new(1, unit, vec![[0.0; 3]]).unwrap_err()[0].key, "size");
        assert_eq!(Cube::new(2, unit, vec![[0.0; 3]; 7]).unwrap_err()[0].key, "nodes");
        assert_eq!(Cube::new(2, [[0.0; 3], [0.0; 3]], vec![[0.0; 3]; 8]).unwrap_err()[0].key, "domain");
        let mut nodes = vec![[0.0; 3]; 8];
        nodes[5][1] = f64::NAN;
        assert_eq!(Cube::new(2, unit, nodes).unwrap_err()[0].message, "node 5 is not finite");
        assert!(Cube::sample(0, |rgb| rgb).is_err());
        assert!(Cube::sample(257, |rgb| rgb).is_err());
    }

    #[cfg(feature = "parallel")]
    #[test]
    fn the_thread_count_does_not_change_a_node() {
        let f = |rgb: [f64; 3]| rgb.map(|v| crate::math::pow(v, 0.45) / 3.0);
        let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap().install(|| Cube::sample(17, f));
        let many = rayon::ThreadPoolBuilder::new().num_threads(5).build().unwrap().install(|| Cube::sample(17, f));
        assert_eq!(one, many);
    }
}
