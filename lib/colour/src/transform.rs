//! A function of a colour: what a compiled look, a table and a list of operations all are, and what every measure of a picture
//! takes, whichever of them it is given.
//!
//! ```
//! use rushlight_colour::{cube::{Cube, Interpolation}, transform::{ColourTransform, Interpolate, function}};
//!
//! fn mid(transform: impl ColourTransform) -> [f64; 3] {
//!     transform.transform([0.5; 3])
//! }
//! let half = function(|rgb| rgb.map(|v| 0.5 * v));
//! let cube = Cube::of(&half, 17)?;
//! assert_eq!(mid(&half), mid(cube.by(Interpolation::Tetrahedral)));
//! # Ok::<(), rushlight_colour::invalid::Refusals>(())
//! ```

use crate::cube::{Cube, Curves, Interpolation, ShapedCube, Table, UNIT};
use crate::pipeline::Pipeline;
use std::fmt;
use std::sync::Arc;

/// A function of a colour: three numbers to three numbers. What they mean, such as camera signal and display signal, is said
/// by what takes the function.
pub trait ColourTransform: Sync {
    /// What `rgb` becomes. Finite where the input is.
    fn transform(&self, rgb: [f64; 3]) -> [f64; 3];

    /// The lower and the upper bounds of the input that it is made for: 0..1, where it is not a table over other ones.
    fn domain(&self) -> [[f64; 3]; 2] {
        UNIT
    }
}

/// A table with values between its nodes, by one interpolation or the other.
pub trait Interpolate: Sync {
    /// The value at `rgb`, clamped to [`bounds`](Self::bounds).
    fn value(&self, rgb: [f64; 3], interpolation: Interpolation) -> [f64; 3];

    /// The lower and the upper bounds of the input.
    fn bounds(&self) -> [[f64; 3]; 2];

    /// The function that the table is to a device of that interpolation.
    fn by(&self, interpolation: Interpolation) -> Interpolated<'_, Self> {
        Interpolated { table: self, interpolation }
    }
}

/// A table under one interpolation.
#[derive(Debug)]
pub struct Interpolated<'t, T: ?Sized> {
    table: &'t T,
    interpolation: Interpolation,
}

impl<T: ?Sized> Clone for Interpolated<'_, T> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<T: ?Sized> Copy for Interpolated<'_, T> {}

impl<T: Interpolate + ?Sized> ColourTransform for Interpolated<'_, T> {
    fn transform(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.table.value(rgb, self.interpolation)
    }

    fn domain(&self) -> [[f64; 3]; 2] {
        self.table.bounds()
    }
}

/// Any function, as a transform over 0..1.
#[derive(Clone, Copy)]
pub struct Function<F>(F);

/// Any function, as a transform over 0..1.
pub const fn function<F: Fn([f64; 3]) -> [f64; 3] + Sync>(f: F) -> Function<F> {
    Function(f)
}

impl<F> fmt::Debug for Function<F> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Function")
    }
}

impl<F: Fn([f64; 3]) -> [f64; 3] + Sync> ColourTransform for Function<F> {
    fn transform(&self, rgb: [f64; 3]) -> [f64; 3] {
        (self.0)(rgb)
    }
}

/// The exact path, from camera signal to display signal.
impl ColourTransform for Pipeline {
    fn transform(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.apply(rgb).0
    }
}

impl ColourTransform for Curves {
    fn transform(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.at(rgb)
    }

    fn domain(&self) -> [[f64; 3]; 2] {
        Self::domain(self)
    }
}

macro_rules! through {
    ($($pointer:ty: $($also:ident)?;)+) => {
        $(
            impl<T: ColourTransform $(+ $also)? + ?Sized> ColourTransform for $pointer {
                fn transform(&self, rgb: [f64; 3]) -> [f64; 3] {
                    (**self).transform(rgb)
                }

                fn domain(&self) -> [[f64; 3]; 2] {
                    (**self).domain()
                }
            }
        )+
    };
}

through! {
    &T:;
    Box<T>:;
    Arc<T>: Send;
}

macro_rules! tables {
    ($($table:ident: $bounds:expr;)+) => {
        $(
            impl Interpolate for $table {
                fn value(&self, rgb: [f64; 3], interpolation: Interpolation) -> [f64; 3] {
                    self.at(rgb, interpolation)
                }

                fn bounds(&self) -> [[f64; 3]; 2] {
                    $bounds(self)
                }
            }
        )+
    };
}

tables! {
    Cube: Cube::domain;
    Table: Table::domain;
    ShapedCube: |shaped: &ShapedCube| shaped.shaper().map_or(shaped.cube().domain(), Curves::domain);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_form_of_a_table_is_one_function() {
        let domain = [[-0.5; 3], [2.0; 3]];
        let cube = Cube::sample_over(5, domain, |rgb| rgb.map(|v| v * v)).unwrap();
        let shaped = ShapedCube::from(cube.clone());
        let table = Table::from(cube.clone());
        for kind in Interpolation::ALL {
            let each: [Box<dyn ColourTransform + '_>; 3] =
                [Box::new(cube.by(kind)), Box::new(shaped.by(kind)), Box::new(table.by(kind))];
            for transform in &each {
                assert_eq!(transform.domain(), domain);
                for rgb in [[0.3, 0.9, 1.4], [-3.0, 0.0, 5.0]] {
                    assert_eq!(transform.transform(rgb), cube.at(rgb, kind));
                }
            }
        }
    }

    #[test]
    fn a_cube_of_a_transform_is_over_its_domain() {
        let domain = [[0.0, -1.0, 0.2], [1.0, 1.0, 3.0]];
        let first = Cube::sample_over(3, domain, |rgb| rgb.map(|v| v + v * v)).unwrap();
        let again = Cube::of(&first.by(Interpolation::Trilinear), 3).unwrap();
        assert_eq!(again.domain(), domain);
        // The second is sampled where the first has its nodes.
        for (a, b) in again.nodes().iter().zip(first.nodes()) {
            assert!((0..3).all(|i| (a[i] - b[i]).abs() < 1e-15));
        }
        let shared = Arc::new(function(|rgb| rgb.map(|v| 1.0 - v)));
        assert_eq!(shared.transform([0.25; 3]), [0.75; 3]);
        assert_eq!(shared.domain(), UNIT);
    }
}
