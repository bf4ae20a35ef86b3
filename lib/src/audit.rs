//! The error of a cube against the exact pipeline, measured on fixed sets of signals between its nodes.
//!
//! | set | what it is |
//! | --- | --- |
//! | `uniform` | 20000 signals all over the domain, a low-discrepancy sequence |
//! | `centres` | the centres of the cells, at most 20000 of them |
//! | `neutral` | a ramp of 4097 greys |
//! | `plausible` | 20000 colours that a camera meets ([`crate::test_colours::plausible`]) |
//!
//! Differences are CIEDE2000, or Delta E ITP for PQ and HLG ([`crate::difference`]), and do not depend on the thread
//! count.

use crate::cube::{Cube, Interpolation, ShapedCube};
use crate::difference::{Difference, Formula, Statistics};
use crate::pipeline::Pipeline;
use crate::test_colours::{self, FIRST, MANY};
use crate::transform::{ColourTransform, Interpolate};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Greys on the ramp: a power of two of steps, and one.
const GREYS: usize = 4097;

/// The differences of one set, under one interpolation.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Figures {
    /// The mean.
    pub mean: f64,
    /// The difference that 95 of 100 colours do not exceed.
    pub p95: f64,
    /// The difference that 99 of 100 colours do not exceed.
    pub p99: f64,
    /// The largest.
    pub max: f64,
    /// The signal where the largest is.
    pub worst: [f64; 3],
}

/// A set under both interpolations.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SetFigures {
    /// Signals in the set.
    pub count: usize,
    /// With tetrahedral interpolation.
    pub tetrahedral: Figures,
    /// With trilinear interpolation.
    pub trilinear: Figures,
}

impl SetFigures {
    /// The figures of one interpolation.
    pub const fn by(&self, interpolation: Interpolation) -> &Figures {
        match interpolation {
            Interpolation::Tetrahedral => &self.tetrahedral,
            Interpolation::Trilinear => &self.trilinear,
        }
    }
}

/// The error of a cube against the exact pipeline.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Audit {
    /// The formula: `ciede2000` or `delta-e-itp`.
    #[serde(with = "crate::by_name")]
    #[schemars(schema_with = "crate::by_name::schema::<Formula>")]
    pub difference: Formula,
    /// All over the domain.
    pub uniform: SetFigures,
    /// Centres of cells.
    pub centres: SetFigures,
    /// Greys.
    pub neutral: SetFigures,
    /// Colours that a camera meets.
    pub plausible: SetFigures,
}

/// Names of the sets.
pub const SETS: [&str; 4] = ["uniform", "centres", "neutral", "plausible"];
/// Names of the figures.
pub const FIGURES: [&str; 4] = ["mean", "p95", "p99", "max"];

impl Audit {
    /// The set of that name in [`SETS`].
    pub fn set(&self, name: &str) -> Option<&SetFigures> {
        match name {
            "uniform" => Some(&self.uniform),
            "centres" => Some(&self.centres),
            "neutral" => Some(&self.neutral),
            "plausible" => Some(&self.plausible),
            _ => None,
        }
    }

    /// The formula's name in sentences.
    pub fn formula(&self) -> &'static str {
        self.difference.title()
    }

    /// One line of text on plausible colours, under one interpolation.
    pub fn line(&self, interpolation: Interpolation) -> String {
        let f = self.plausible.by(interpolation);
        format!("{} mean {:.3}, 99 % {:.3}, max {:.3}", self.formula(), f.mean, f.p99, f.max)
    }
}

impl Figures {
    /// The figure of that name in [`FIGURES`].
    pub fn get(&self, name: &str) -> Option<f64> {
        match name {
            "mean" => Some(self.mean),
            "p95" => Some(self.p95),
            "p99" => Some(self.p99),
            "max" => Some(self.max),
            _ => None,
        }
    }
}

/// Audits a cube of `pipeline`.
pub fn audit(pipeline: &Pipeline, cube: &Cube) -> Audit {
    let (difference, plausible) = (Difference::on(pipeline.display()), plausible(pipeline));
    audit_of(pipeline, &difference, &plausible, cube)
}

/// Audits a cube of `pipeline` with or without curves in front.
pub fn audit_shaped(pipeline: &Pipeline, shaped: &ShapedCube) -> Audit {
    let (difference, plausible) = (Difference::on(pipeline.display()), plausible(pipeline));
    let centres: Vec<_> =
        test_colours::centres(shaped.cube().size(), MANY).into_iter().map(|place| shaped.signal(place)).collect();
    audit_table(pipeline, &difference, &plausible, &centres, shaped)
}

/// The error against `pipeline` of anything else that takes a camera's signal, on colours that a camera meets.
pub fn audit_plausible(pipeline: &Pipeline, other: impl ColourTransform) -> Figures {
    let (difference, inputs) = (Difference::on(pipeline.display()), plausible(pipeline));
    let between = |input: &[f64; 3]| {
        difference.between(difference.place(pipeline.apply(*input)), difference.place(other.transform(*input)))
    };
    figures(&inputs.par_iter().map(between).collect::<Vec<_>>(), &inputs)
}

fn plausible(pipeline: &Pipeline) -> Vec<[f64; 3]> {
    test_colours::plausible(pipeline.camera(), FIRST, MANY)
}

/// Audits a cube of any function over 0..1 to signals of the display that `difference` is on.
pub fn audit_of(exact: impl ColourTransform, difference: &Difference, plausible: &[[f64; 3]], cube: &Cube) -> Audit {
    let centres = test_colours::centres(cube.size(), MANY);
    audit_table(&exact, difference, plausible, &centres, cube)
}

fn audit_table(
    exact: &impl ColourTransform,
    difference: &Difference,
    plausible: &[[f64; 3]],
    centres: &[[f64; 3]],
    table: &impl Interpolate,
) -> Audit {
    let measure = |inputs: &[[f64; 3]]| set(exact, difference, inputs, table);
    Audit {
        difference: difference.formula(),
        uniform: measure(&test_colours::uniform(FIRST, MANY)),
        centres: measure(centres),
        neutral: measure(&test_colours::neutral(GREYS)),
        plausible: measure(plausible),
    }
}

fn set(
    exact: &impl ColourTransform,
    difference: &Difference,
    inputs: &[[f64; 3]],
    table: &impl Interpolate,
) -> SetFigures {
    let (tetrahedral, trilinear): (Vec<f64>, Vec<f64>) = inputs
        .par_iter()
        .map(|input| {
            let want = difference.place(exact.transform(*input));
            let read = |kind| difference.between(want, difference.place(table.value(*input, kind)));
            (read(Interpolation::Tetrahedral), read(Interpolation::Trilinear))
        })
        .unzip();
    SetFigures {
        count: inputs.len(),
        tetrahedral: figures(&tetrahedral, inputs),
        trilinear: figures(&trilinear, inputs),
    }
}

fn figures(differences: &[f64], inputs: &[[f64; 3]]) -> Figures {
    let Statistics { mean, p95, p99, max, worst, .. } = Statistics::of(differences);
    Figures { mean, p95, p99, max, worst: inputs[worst] }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::display::{Display, standard};
    use crate::transform::function;

    fn identity(size: usize) -> Audit {
        let difference = Difference::on(&Display::of(standard("bt709").unwrap()));
        let cube = Cube::sample(size, |rgb| rgb).unwrap();
        audit_of(function(|rgb| rgb), &difference, &test_colours::uniform(1, 1000), &cube)
    }

    #[test]
    fn a_cube_of_the_identity_does_not_stray() {
        for size in [2, 9, 17] {
            let audit = identity(size);
            for name in SETS {
                let set = audit.set(name).unwrap();
                assert!(set.count == 1 || set.count > 500);
                // Rounding of the weights alone.
                assert!(set.tetrahedral.max < 1e-9 && set.trilinear.max < 1e-9, "{name}: {set:?}");
            }
        }
    }

    #[test]
    fn a_raised_node_is_found_where_it_is() {
        let difference = Difference::on(&Display::of(standard("bt709").unwrap()));
        let exact = Cube::sample(5, |rgb| rgb).unwrap();
        let mut nodes = exact.nodes().to_vec();
        nodes[2 + 5 * (3 + 5)][1] += 0.1;
        let cube = Cube::new(5, exact.domain(), nodes).unwrap();
        let audit = audit_of(function(|rgb| rgb), &difference, &test_colours::uniform(1, 10), &cube);
        let worst = audit.uniform.tetrahedral.worst;
        assert!((0..3).all(|i| (worst[i] - [0.5, 0.75, 0.25][i]).abs() < 0.05), "{worst:?}");
        assert!(audit.uniform.tetrahedral.max > 2.0 && audit.neutral.tetrahedral.max < 1e-9);
    }
}
