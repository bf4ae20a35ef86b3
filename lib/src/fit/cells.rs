//! What the cells of a cube give to the normal equations, all over them and not only at samples.
//!
//! Within a cell the exact function is taken for a quadratic through its values at half steps, and the square of its
//! distance from the interpolant is integrated in closed form. That says as much as some thirty samples in each cell.

use super::normal::{Block, Layer};
use super::tensors::Tensors;
use crate::cube::{Cube, Interpolation, offset};

/// The corners of the six tetrahedra, in the order in which the interpolant walks along them.
const TETRAHEDRA: [[usize; 4]; 6] =
    [[0, 1, 3, 7], [0, 1, 5, 7], [0, 2, 3, 7], [0, 2, 6, 7], [0, 4, 5, 7], [0, 4, 6, 7]];

/// A cell of a cube and the values at its half steps.
struct Cell<'a> {
    step: [usize; 3],
    /// The cube with half steps, and the index of the cell's lowest node in it.
    fine: &'a Cube,
    base: usize,
    tensors: [&'a Block; 8],
}

impl Cell<'_> {
    fn corner(&self, corner: usize) -> [f64; 3] {
        self.fine.nodes()[self.base + 2 * offset(self.fine.size(), corner)]
    }

    /// How far the value between two corners is from their mean.
    fn surplus(&self, one: usize, two: usize) -> [f64; 3] {
        let n = self.fine.size();
        let middle = self.fine.nodes()[self.base + offset(n, one) + offset(n, two)];
        let (a, b) = (self.corner(one), self.corner(two));
        std::array::from_fn(|c| middle[c] - 0.5 * (a[c] + b[c]))
    }

    fn tensor(&self, corners: &[usize]) -> Block {
        let share = 1.0 / corners.len() as f64;
        std::array::from_fn(|i| share * corners.iter().map(|c| self.tensors[*c][i]).sum::<f64>())
    }

    /// Barycentric monomials over a tetrahedron of volume V: the square of one coordinate integrates to V/10, the product
    /// of two to V/20, of three to V/120, the square of one times another to V/60; a quadratic's surplus on an edge has the
    /// shape of 4 times the product of the edge's two.
    fn add_tetrahedra(&self, layer: &mut Layer<'_>, weight: f64) {
        let volume = weight / 6.0;
        for corners in TETRAHEDRA {
            let tensor = self.tensor(&corners);
            let mut pulls = [[0.0; 3]; 4];
            for i in 0..4 {
                layer.add_pair(self.step, [corners[i]; 2], &tensor, volume / 10.0);
                for j in i + 1..4 {
                    layer.add_pair(self.step, [corners[i], corners[j]], &tensor, volume / 20.0);
                    let surplus = self.surplus(corners[i], corners[j]);
                    for (k, pull) in pulls.iter_mut().enumerate() {
                        let share = if k == i || k == j { 2.0 } else { 1.0 };
                        for c in 0..3 {
                            pull[c] += share * surplus[c];
                        }
                    }
                }
            }
            for (corner, pull) in corners.iter().zip(pulls) {
                layer.add_right(self.step, *corner, super::normal::times(&tensor, pull), volume / 30.0);
            }
        }
    }

    /// Products over the axes: of two hats 1/3 for the same, 1/6 for both; of a hat and the quadratic that is 1 at one of
    /// 0, 1/2 and 1, by Simpson's rule, 1/6 at its own end, 1/3 in the middle, 0 at the other end.
    fn add_box(&self, layer: &mut Layer<'_>, weight: f64) {
        let tensor = self.tensor(&[0, 1, 2, 3, 4, 5, 6, 7]);
        for one in 0..8usize {
            for two in one..8 {
                let product: f64 =
                    (0..3).map(|a| if (one ^ two) >> a & 1 == 0 { 1.0 / 3.0 } else { 1.0 / 6.0 }).product();
                layer.add_pair(self.step, [one, two], &tensor, weight * product);
            }
        }
        let values = self.surpluses();
        for corner in 0..8usize {
            let mut pull = [0.0; 3];
            for (at, value) in values.iter().enumerate() {
                let share: f64 = [at % 3, at / 3 % 3, at / 9]
                    .iter()
                    .enumerate()
                    .map(|(axis, half)| match (*half, corner >> axis & 1) {
                        (1, _) => 1.0 / 3.0,
                        (0, 0) | (2, 1) => 1.0 / 6.0,
                        _ => 0.0,
                    })
                    .product();
                for c in 0..3 {
                    pull[c] += share * value[c];
                }
            }
            layer.add_right(self.step, corner, super::normal::times(&tensor, pull), weight);
        }
    }

    /// How far the 27 values are from the trilinear interpolant, red fastest.
    fn surpluses(&self) -> [[f64; 3]; 27] {
        let n = self.fine.size();
        let corners: [[f64; 3]; 8] = std::array::from_fn(|c| self.corner(c));
        std::array::from_fn(|at| {
            let half = [at % 3, at / 3 % 3, at / 9];
            let mut value = self.fine.nodes()[self.base + half[0] + n * (half[1] + n * half[2])];
            for (corner, node) in corners.iter().enumerate() {
                let share: f64 = (0..3)
                    .map(|axis| {
                        let t = half[axis] as f64 / 2.0;
                        if corner >> axis & 1 == 1 { t } else { 1.0 - t }
                    })
                    .product();
                for c in 0..3 {
                    value[c] -= share * node[c];
                }
            }
            value
        })
    }
}

/// Adds the cells of a layer, as readers of `kinds` see them, and a pull of `ridge` towards no change.
pub(super) fn add(layer: &mut Layer<'_>, fine: &Cube, tensors: &Tensors, kinds: &[Interpolation], ridge: f64) {
    let n = tensors.size;
    let share = 1.0 / kinds.len() as f64;
    for green in 0..n - 1 {
        for red in 0..n - 1 {
            let step = [red, green, layer.blue()];
            let base = 2 * (red + fine.size() * (green + fine.size() * layer.blue()));
            let cell = Cell { step, fine, base, tensors: tensors.corners(step) };
            for kind in kinds {
                match kind {
                    Interpolation::Tetrahedral => cell.add_tetrahedra(layer, share),
                    Interpolation::Trilinear => cell.add_box(layer, share),
                }
            }
            for corner in 0..8 {
                layer.add_pair(step, [corner; 2], cell.tensors[corner], ridge / 8.0);
            }
        }
    }
}
