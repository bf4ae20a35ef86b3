//! What would bring a cube nearest to its exact path: more points, `compress`, a shaper, a fit.
//!
//! Each remedy is tried on plausible colours of the audit. Only the nodes about them are worked out, but for the fit,
//! which is tried on a cube of at most 17 points and taken for as good, in proportion, at the size that is asked for.

use crate::cube::{Cell, Curves, Interpolation, Reader, UNIT};
use crate::difference::Difference;
use crate::fit::{MOST_POINTS, fit};
use crate::invalid::Refusals;
use crate::look::Look;
use crate::pipeline::Pipeline;
use crate::shaper::shaper;
use crate::step::{Step, compress::CompressSettings};
use crate::test_colours::{self, FIRST};
use rayon::prelude::*;

/// Colours on which the remedies are tried.
const COLOURS: usize = 2000;
/// Points of a cube on which a fit is tried.
const TRIAL: usize = 17;
/// Share of the mean error that a remedy must take off to be listed.
const WORTH: f64 = 0.1;

/// A remedy for the error of a cube.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Improvement {
    /// So many points.
    Points(usize),
    /// `compress` at the beginning of the look, which changes the look where colours are hard.
    Compress,
    /// Curves in front of the cube.
    Shaper,
    /// Nodes chosen by least squares.
    Fit,
}

/// How a cube is made, and what may be done to it.
#[derive(Debug, Clone, Copy)]
pub struct Made {
    /// Points along each edge.
    pub points: usize,
    /// Points that it may have at most.
    pub most: usize,
    /// Who reads it.
    pub reader: Reader,
    /// Whether it is fitted.
    pub fit: bool,
    /// Whether curves stand in front of it.
    pub shaper: bool,
}

/// The mean error on plausible colours as the cube is made, and with each remedy, the best first; remedies that take off
/// too little are not listed.
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    /// As it is made.
    pub now: f64,
    /// Ways, and the mean difference by each.
    pub ways: Vec<(Improvement, f64)>,
}

/// Tries the ways for a cube of `look` on the pipeline's camera and display.
///
/// # Errors
/// None for a pipeline that bakes.
pub fn advise(pipeline: &Pipeline, look: &Look, made: Made) -> Result<Advice, Refusals> {
    let curves = shaper(pipeline);
    let front = made.shaper.then_some(&curves);
    let plain = |points, front| mean(pipeline, points, made.reader, front);
    let sampled = plain(made.points, front);
    // A fit is only known by its trial.
    let trial =
        if made.points <= MOST_POINTS { gain(pipeline, made.points.min(TRIAL), made.reader, front)? } else { 1.0 };
    let fitted = if made.fit { trial } else { 1.0 };
    let now = sampled * fitted;
    let mut ways = Vec::new();
    let more = 2 * made.points - 1;
    if more <= made.most {
        ways.push((Improvement::Points(more), plain(more, front) * if more <= MOST_POINTS { fitted } else { 1.0 }));
    }
    if !look.steps().iter().any(|step| step.compress().is_some()) {
        let mut steps = vec![Step::new(CompressSettings::default())?];
        steps.extend(look.steps().iter().cloned());
        let look = look.with_steps(steps);
        let compressed = Pipeline::new(pipeline.camera(), &look, pipeline.display())?;
        let compressed = compressed.with_correction(pipeline.correction().cloned());
        ways.push((Improvement::Compress, mean(&compressed, made.points, made.reader, front) * fitted));
    }
    if !made.shaper {
        ways.push((Improvement::Shaper, plain(made.points, Some(&curves)) * fitted));
    }
    if !made.fit {
        ways.push((Improvement::Fit, sampled * trial));
    }
    ways.retain(|(_, mean)| *mean < (1.0 - WORTH) * now);
    ways.sort_by(|a, b| a.1.total_cmp(&b.1));
    Ok(Advice { now, ways })
}

/// What a fit leaves of the mean difference.
fn gain(pipeline: &Pipeline, points: usize, reader: Reader, front: Option<&Curves>) -> Result<f64, Refusals> {
    let table = fit(pipeline, points, reader, front)?.table;
    let difference = Difference::on(pipeline.display());
    let read = |signal: &[f64; 3], want: [f64; 3], kind| {
        difference.between(difference.place(want), difference.place(table.at(*signal, kind)))
    };
    let fitted = worse(pipeline, reader, |signal, kind| read(signal, pipeline.apply(*signal).0, kind));
    let sampled = mean(pipeline, points, reader, front);
    Ok(if sampled > 0.0 { fitted / sampled } else { 1.0 })
}

/// The mean difference of a sampled cube, of which only the nodes in use are worked out.
fn mean(pipeline: &Pipeline, size: usize, reader: Reader, front: Option<&Curves>) -> f64 {
    let difference = Difference::on(pipeline.display());
    let last = (size - 1) as f64;
    worse(pipeline, reader, |signal, kind| {
        let place = front.map_or(*signal, |curves| curves.at(*signal));
        let cell = Cell::of(size, &UNIT, place);
        let node = |corner: usize| {
            let place = std::array::from_fn(|axis| (cell.step[axis] + (corner >> axis & 1)) as f64 / last);
            pipeline.apply(front.map_or(place, |curves| curves.inverse(place)))
        };
        let shares: &[_] = match kind {
            Interpolation::Tetrahedral => &cell.tetrahedral(),
            Interpolation::Trilinear => &cell.trilinear(),
        };
        let mut got = [0.0; 3];
        for (corner, share) in shares {
            let node = node(*corner);
            (0..3).for_each(|c| got[c] += share * node[c]);
        }
        difference.between(difference.place(pipeline.apply(*signal).0), difference.place(got))
    })
}

/// The mean over plausible colours, by the reading that is the worse in the mean.
fn worse(pipeline: &Pipeline, reader: Reader, difference: impl Fn(&[f64; 3], Interpolation) -> f64 + Sync) -> f64 {
    let colours = test_colours::plausible(pipeline.camera(), FIRST, COLOURS);
    let mean = |kind: &Interpolation| {
        let all: Vec<f64> = colours.par_iter().map(|signal| difference(signal, *kind)).collect();
        all.iter().sum::<f64>() / COLOURS as f64
    };
    reader.interpolations().iter().map(mean).fold(0.0, f64::max)
}
