//! Cubes made from other tables: another size, another domain, several in a row, full and legal range.

use super::{Cube, Curves, Interpolation, Table};
use crate::invalid::{Invalid, Refusals};
use crate::range::Range;

/// 0 to 1 in each channel.
pub const UNIT: [[f64; 3]; 2] = [[0.0; 3], [1.0; 3]];

impl Cube {
    /// The same function with `size` points along each edge, by the tetrahedral interpolant.
    ///
    /// # Errors
    /// A size that no cube has.
    pub fn resized(&self, size: usize) -> Result<Self, Refusals> {
        self.resampled(size, self.domain())
    }

    /// The same function with `size` points over `domain`, by the tetrahedral interpolant. Where `domain` reaches beyond
    /// the cube's own, the cube's edge goes on.
    ///
    /// # Errors
    /// A size or a domain that no cube has.
    pub fn resampled(&self, size: usize, domain: [[f64; 3]; 2]) -> Result<Self, Refusals> {
        if size == self.size() && domain == self.domain() {
            return Ok(self.clone());
        }
        Self::sample_over(size, domain, |rgb| self.at(rgb, Interpolation::Tetrahedral))
    }

    /// A cube that does what three curves do, with `size` points over their domain.
    ///
    /// # Errors
    /// A size that no cube has.
    pub fn from_curves(curves: &Curves, size: usize) -> Result<Self, Refusals> {
        Self::sample_over(size, curves.domain(), |rgb| curves.at(rgb))
    }

    /// One cube of `size` points over `domain` that does what `tables` do one after the other, cubes by the tetrahedral
    /// interpolant.
    ///
    /// # Errors
    /// No tables, a size or a domain that no cube has.
    pub fn concatenated(tables: &[Table], size: usize, domain: [[f64; 3]; 2]) -> Result<Self, Refusals> {
        if tables.is_empty() {
            return Err(Invalid::new("tables", "none: at least one is needed").into());
        }
        Self::sample_over(size, domain, |rgb| {
            tables.iter().fold(rgb, |rgb, table| table.at(rgb, Interpolation::Tetrahedral))
        })
    }

    /// The cube for a signal in the range `to` where it was made for a signal in the range `from`: its domain moves, its
    /// nodes stay, so nothing is lost.
    ///
    /// # Errors
    /// None for a domain of sane magnitude.
    pub fn with_input_range(&self, from: Range, to: Range) -> Result<Self, Refusals> {
        let domain = self.domain().map(|bound| bound.map(|v| to.encode(from.decode(v))));
        Self::new(self.size(), domain, self.nodes().to_vec())
    }

    /// The cube that gives a signal in the range `to` where it gave one in the range `from`.
    ///
    /// # Errors
    /// None for nodes of sane magnitude.
    pub fn with_output_range(&self, from: Range, to: Range) -> Result<Self, Refusals> {
        let nodes = self.nodes().iter().map(|n| n.map(|v| to.encode(from.decode(v)))).collect();
        Self::new(self.size(), self.domain(), nodes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bent() -> Cube {
        Cube::sample(5, |[r, g, b]| [r * r, g * b, 0.5 * r + 0.25 * g * g]).unwrap()
    }

    #[test]
    fn a_size_that_holds_every_node_keeps_the_function() {
        // 5 points lie on every second of 9, so each new node lies on the old interpolant and the old cells are halved.
        let (small, large) = (bent(), bent().resized(9).unwrap());
        assert_eq!(large.resized(5).unwrap(), small);
        for i in 0..200 {
            let t = f64::from(i) / 199.0;
            let rgb = [t, 1.0 - t * t, (7.3 * t) % 1.0];
            let (a, b) = (small.at(rgb, Interpolation::Tetrahedral), large.at(rgb, Interpolation::Tetrahedral));
            assert!((0..3).all(|c| (a[c] - b[c]).abs() < 1e-15), "{rgb:?}: {a:?} and {b:?}");
        }
        assert!(small.resized(1).is_err());
    }

    #[test]
    fn a_wider_domain_goes_on_at_the_edge_and_a_narrower_one_keeps_the_function() {
        let wide = bent().resampled(9, [[-0.5; 3], [1.5; 3]]).unwrap();
        assert_eq!(wide.node(0, 0, 0), bent().node(0, 0, 0));
        assert_eq!(wide.node(8, 8, 8), bent().node(4, 4, 4));
        let narrow = bent().resampled(3, [[0.25; 3], [0.75; 3]]).unwrap();
        assert_eq!(narrow.node(2, 1, 0), bent().node(3, 2, 1));
        assert_eq!(bent().resampled(5, [[1.0; 3], [0.0; 3]]).unwrap_err()[0].key, "domain");
    }

    #[test]
    fn curves_become_a_cube() {
        let curves = Curves::new([[0.0; 3], [2.0; 3]], (0..5).map(|i| [f64::from(i * i), f64::from(i), 1.0]).collect());
        let cube = Cube::from_curves(&curves.unwrap(), 5).unwrap();
        assert_eq!(cube.domain(), [[0.0; 3], [2.0; 3]]);
        assert_eq!(cube.node(3, 2, 1), [9.0, 2.0, 1.0]);
    }

    #[test]
    fn tables_follow_one_another_in_the_order_given() {
        let half = Table::from(Curves::sample(2, |v| 0.5 * v).unwrap());
        let lifted = Table::from(Cube::sample(2, |rgb| rgb.map(|v| 0.2 + 0.5 * v)).unwrap());
        let cube = Cube::concatenated(&[half.clone(), lifted.clone()], 3, UNIT).unwrap();
        assert_eq!(cube.node(2, 1, 0), [0.45, 0.325, 0.2]);
        let cube = Cube::concatenated(&[lifted, half], 3, UNIT).unwrap();
        assert_eq!(cube.node(2, 0, 0), [0.35, 0.1, 0.1]);
        assert!(Cube::concatenated(&[], 3, UNIT).is_err());
    }

    /// ITU-R BT.709-6, table 4: 10-bit black is code 64, white code 940.
    #[test]
    fn ranges_move_the_domain_and_the_nodes() {
        let cube = bent().with_input_range(Range::Full, Range::Legal).unwrap();
        assert_eq!(cube.domain(), [[64.0 / 1023.0; 3], [940.0 / 1023.0; 3]]);
        assert_eq!(cube.nodes(), bent().nodes());
        let grey = cube.at([502.0 / 1023.0; 3], Interpolation::Tetrahedral);
        assert!((0..3).all(|c| (grey[c] - bent().node(2, 2, 2)[c]).abs() < 1e-15));
        let legal = bent().with_output_range(Range::Full, Range::Legal).unwrap();
        assert_eq!(legal.node(4, 0, 0)[0], 940.0 / 1023.0);
        assert_eq!(legal.node(0, 0, 0)[0], 64.0 / 1023.0);
        let back = legal.with_output_range(Range::Legal, Range::Full).unwrap();
        for (a, b) in back.nodes().iter().zip(bent().nodes()) {
            assert!((0..3).all(|c| (a[c] - b[c]).abs() < 1e-15));
        }
    }
}
