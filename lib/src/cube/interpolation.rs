//! Values between the nodes, in f64: the reference that every faster path is tested against.

use super::{Cube, Interpolation};

/// The cell that holds an input, and where in it the input lies.
struct Cell {
    /// Index of the cell's lowest node.
    base: usize,
    /// Steps in the node list towards the next node in red, green, blue; 0 at the upper end of an edge.
    strides: [usize; 3],
    /// 0..1 within the cell.
    fractions: [f64; 3],
}

impl Cube {
    /// The value at `rgb`, clamped to the domain; NaN goes to the low end.
    pub fn at(&self, rgb: [f64; 3], interpolation: Interpolation) -> [f64; 3] {
        let cell = self.cell(rgb);
        match interpolation {
            Interpolation::Tetrahedral => self.tetrahedral(&cell),
            Interpolation::Trilinear => self.trilinear(&cell),
        }
    }

    fn cell(&self, rgb: [f64; 3]) -> Cell {
        let [low, high] = self.domain;
        let last = self.size - 1;
        let steps = [1, self.size, self.size * self.size];
        let mut cell = Cell { base: 0, strides: [0; 3], fractions: [0.0; 3] };
        for i in 0..3 {
            let place = (rgb[i] - low[i]) / (high[i] - low[i]) * last as f64;
            // `max` before `min` sends NaN to the low end.
            let place = place.max(0.0).min(last as f64);
            let step = (place as usize).min(last);
            cell.base += step * steps[i];
            cell.strides[i] = if step < last { steps[i] } else { 0 };
            cell.fractions[i] = place - step as f64;
        }
        cell
    }

    /// From the lowest corner along the largest fraction first, to the highest corner along the smallest last.
    fn tetrahedral(&self, cell: &Cell) -> [f64; 3] {
        let mut order = [0, 1, 2];
        order.sort_by(|a, b| cell.fractions[*b].total_cmp(&cell.fractions[*a]));
        let mut at = cell.base;
        let mut before = 1.0;
        let mut value = [0.0; 3];
        for axis in order {
            add(&mut value, before - cell.fractions[axis], self.nodes[at]);
            before = cell.fractions[axis];
            at += cell.strides[axis];
        }
        add(&mut value, before, self.nodes[at]);
        value
    }

    fn trilinear(&self, cell: &Cell) -> [f64; 3] {
        let mut value = [0.0; 3];
        for corner in 0..8usize {
            let mut at = cell.base;
            let mut weight = 1.0;
            for axis in 0..3 {
                let upper = corner >> axis & 1 == 1;
                at += if upper { cell.strides[axis] } else { 0 };
                weight *= if upper { cell.fractions[axis] } else { 1.0 - cell.fractions[axis] };
            }
            add(&mut value, weight, self.nodes[at]);
        }
        value
    }
}

fn add(value: &mut [f64; 3], weight: f64, node: [f64; 3]) {
    for i in 0..3 {
        value[i] += weight * node[i];
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn nodes_are_given_exactly() {
        let cube = Cube::sample(5, |rgb| rgb.map(|v| v * v + 0.1)).unwrap();
        for b in 0..5 {
            for g in 0..5 {
                for r in 0..5 {
                    for kind in Interpolation::ALL {
                        assert_eq!(cube.at(cube.input(r, g, b), kind), cube.node(r, g, b), "{r} {g} {b}");
                    }
                }
            }
        }
    }

    #[test]
    fn outside_and_nan_are_clamped() {
        let cube = Cube::sample(4, |rgb| rgb).unwrap();
        for kind in Interpolation::ALL {
            assert_eq!(cube.at([-1.0, 2.0, f64::NAN], kind), [0.0, 1.0, 0.0]);
            assert_eq!(cube.at([f64::NEG_INFINITY, f64::INFINITY, 1.0], kind), [0.0, 1.0, 1.0]);
        }
    }

    #[test]
    fn the_two_kinds_differ_off_the_diagonal_of_a_curved_cell() {
        // One node of the unit cell raised: 0.5, 0.5, 0 lies on a face that both share out differently.
        let cube = Cube::sample(2, |rgb| [rgb[0] * rgb[1], 0.0, 0.0]).unwrap();
        assert_eq!(cube.at([0.5, 0.5, 0.0], Interpolation::Trilinear)[0], 0.25);
        assert_eq!(cube.at([0.5, 0.5, 0.0], Interpolation::Tetrahedral)[0], 0.5);
    }

    proptest! {
        #[test]
        fn linear_functions_come_back(r in -0.2..1.2f64, g in -0.2..1.2f64, b in -0.2..1.2f64, size in 2usize..20) {
            let f = |v: [f64; 3]| [0.3 * v[0] - 0.2 * v[1] + 0.5, v[2] - v[0], v[1] + 2.0 * v[2]];
            let cube = Cube::sample(size, f).unwrap();
            let exact = f([r, g, b].map(|v| v.clamp(0.0, 1.0)));
            for kind in Interpolation::ALL {
                let got = cube.at([r, g, b], kind);
                for i in 0..3 {
                    prop_assert!((got[i] - exact[i]).abs() < 1e-14);
                }
            }
        }

        #[test]
        fn the_grey_diagonal_of_a_cell_needs_only_its_ends(grey in 0.0..1.0f64) {
            let cube = Cube::sample(3, |v| [v[0] * v[1], v[1] * v[2], v[0] * v[0]]).unwrap();
            let got = cube.at([grey; 3], Interpolation::Tetrahedral);
            let step = (grey * 2.0) as usize;
            let t = grey * 2.0 - step as f64;
            let (low, high) = (cube.node(step, step, step), cube.node((step + 1).min(2), (step + 1).min(2), (step + 1).min(2)));
            for i in 0..3 {
                prop_assert!((got[i] - (low[i] + t * (high[i] - low[i]))).abs() < 1e-15);
            }
        }
    }
}
