//! Values between the nodes, in f64: the reference that every faster path is tested against.

use super::{Cube, Interpolation};

/// A corner of a cell and its share in a value. The corner's bits say where the node is the cell's next one: red in the
/// first, green in the second, blue in the third.
pub type Share = (usize, f64);

/// The cell that holds an input, and where in it the input lies.
#[derive(Debug, Clone, Copy)]
pub struct Cell {
    /// Steps to the cell's lowest node in red, green, blue.
    pub step: [usize; 3],
    /// 0..1 within the cell.
    pub fractions: [f64; 3],
}

impl Cube {
    /// The value at `rgb`, clamped to the domain; NaN goes to the low end.
    pub fn at(&self, rgb: [f64; 3], interpolation: Interpolation) -> [f64; 3] {
        let cell = Cell::of(self.size, &self.domain, rgb);
        match interpolation {
            Interpolation::Tetrahedral => self.mixed(&cell, &cell.tetrahedral()),
            Interpolation::Trilinear => self.mixed(&cell, &cell.trilinear()),
        }
    }

    fn mixed(&self, cell: &Cell, shares: &[Share]) -> [f64; 3] {
        let n = self.size;
        let base = cell.step[0] + n * (cell.step[1] + n * cell.step[2]);
        let mut value = [0.0; 3];
        for (corner, weight) in shares {
            let node = self.nodes[base + offset(n, *corner)];
            for i in 0..3 {
                value[i] += weight * node[i];
            }
        }
        value
    }
}

/// Steps in the node list of a cube of `size` points from a cell's lowest node to one of its corners.
pub const fn offset(size: usize, corner: usize) -> usize {
    (corner & 1) + size * ((corner >> 1 & 1) + size * (corner >> 2))
}

impl Cell {
    /// The cell of a cube of `size` points over `domain` that holds `rgb`.
    pub fn of(size: usize, domain: &[[f64; 3]; 2], rgb: [f64; 3]) -> Self {
        let [low, high] = domain;
        let last = size - 1;
        let mut cell = Self { step: [0; 3], fractions: [0.0; 3] };
        for i in 0..3 {
            let place = (rgb[i] - low[i]) / (high[i] - low[i]) * last as f64;
            // `max` before `min` sends NaN to the low end.
            let place = place.max(0.0).min(last as f64);
            cell.step[i] = (place as usize).min(last - 1);
            cell.fractions[i] = place - cell.step[i] as f64;
        }
        cell
    }

    /// From the lowest corner along the largest fraction first, to the highest corner along the smallest last.
    pub fn tetrahedral(&self) -> [Share; 4] {
        // Of equal fractions the earlier axis first.
        let [r, g, b] = self.fractions;
        let order = match (r >= g, r >= b, g >= b) {
            (true, _, true) => [0, 1, 2],
            (true, true, false) => [0, 2, 1],
            (true, false, false) => [2, 0, 1],
            (false, true, _) => [1, 0, 2],
            (false, false, true) => [1, 2, 0],
            (false, false, false) => [2, 1, 0],
        };
        let mut corner = 0;
        let mut before = 1.0;
        let mut shares = [(7, 0.0); 4];
        for (share, axis) in shares.iter_mut().zip(order) {
            *share = (corner, before - self.fractions[axis]);
            before = self.fractions[axis];
            corner |= 1 << axis;
        }
        shares[3].1 = before;
        shares
    }

    /// The eight corners.
    pub fn trilinear(&self) -> [Share; 8] {
        std::array::from_fn(|corner| {
            let weight = |axis: usize| {
                if corner >> axis & 1 == 1 { self.fractions[axis] } else { 1.0 - self.fractions[axis] }
            };
            (corner, weight(0) * weight(1) * weight(2))
        })
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

    #[test]
    fn tetrahedra_go_by_the_fractions_in_order_with_the_earlier_axis_first() {
        for i in 0..27usize {
            let fractions = [i % 3, i / 3 % 3, i / 9].map(|v| v as f64 / 4.0);
            let mut order = [0, 1, 2];
            order.sort_by(|a, b| fractions[*b].total_cmp(&fractions[*a]));
            let corners = [0, 1 << order[0], 1 << order[0] | 1 << order[1], 7];
            let shares = Cell { step: [0; 3], fractions }.tetrahedral();
            assert_eq!(shares.map(|(corner, _)| corner), corners, "{fractions:?}");
            let weights = [1.0 - fractions[order[0]], fractions[order[0]] - fractions[order[1]]];
            assert_eq!([shares[0].1, shares[1].1], weights, "{fractions:?}");
        }
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
