//! Advice on the error of a cube: more points, `compress`, a shaper, or a fit.
//!
//! Each remedy is tried on plausible colours of the audit, for which only the nodes around them are computed. The fit is
//! tried on a cube of at most 17 points; its relative gain is assumed to be the same at the requested size.

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
/// Share of the mean error that a remedy must remove to be listed.
const WORTH: f64 = 0.1;

/// A remedy for the error of a cube.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Improvement {
    /// This number of points.
    Points(usize),
    /// `compress` at the beginning of the look, which changes very saturated colours.
    Compress,
    /// Curves in front of the cube.
    Shaper,
    /// Nodes chosen by least squares.
    Fit,
}

/// The parameters of a cube, and the remedies that are possible.
#[derive(Debug, Clone, Copy)]
pub struct Made {
    /// Points along each edge.
    pub points: usize,
    /// The most points that it may have.
    pub most: usize,
    /// The interpolation of the box that reads it.
    pub reader: Reader,
    /// Whether it is fitted.
    pub fit: bool,
    /// Whether curves are in front of it.
    pub shaper: bool,
}

/// The mean error on plausible colours without and with each remedy, the best first; remedies that remove too little are not
/// listed.
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    /// Without a remedy.
    pub now: f64,
    /// Remedies, and the mean error with each.
    pub ways: Vec<(Improvement, f64)>,
}

/// Tries the remedies for a cube of `look` on the pipeline's camera and display.
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

/// The mean error after a fit, as a share.
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

/// The mean error of a sampled cube, for which only the nodes in use are computed.
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

/// The mean over plausible colours, with the interpolation that has the larger mean.
fn worse(pipeline: &Pipeline, reader: Reader, difference: impl Fn(&[f64; 3], Interpolation) -> f64 + Sync) -> f64 {
    let colours = test_colours::plausible(pipeline.camera(), FIRST, COLOURS);
    let mean = |kind: &Interpolation| {
        let all: Vec<f64> = colours.par_iter().map(|signal| difference(signal, *kind)).collect();
        all.iter().sum::<f64>() / COLOURS as f64
    };
    reader.interpolations().iter().map(mean).fold(0.0, f64::max)
}
