//! Curves in front of a cube that put its nodes where the picture bends most.
//!
//! Between nodes h apart a cube has an error of about h² times the function's second derivative. Where nodes stand at a density d,
//! the sum of the squares of what happens to many colours is therefore the integral of b / d⁴, b being how often a channel
//! takes a value times the square of the bend found there; it is least where d goes with the fifth root of b. The bends
//! are measured at plausible colours and all over the domain, along each axis, and along the greys, in the units of the
//! display's difference.
//!
//! One curve serves all three channels, so that greys stay on the cube's diagonal. It rises everywhere, from 0 to 1.

use crate::cube::{Curves, UNIT};
use crate::difference::Difference;
use crate::math;
use crate::pipeline::Pipeline;
use crate::test_colours;
use crate::transform::ColourTransform;
use rayon::prelude::*;

/// Entries of the curve.
pub const ENTRIES: usize = 1025;

/// Colours of each kind at which bends are measured.
const COLOURS: usize = 1500;
/// Greys at which they are.
const GREYS: usize = 513;
/// The step in signal over which they are.
const STEP: f64 = 1.0 / 64.0;
/// Number of parts into which the signal's range is divided.
const BINS: usize = 64;
/// Entries to each side over which the density is smoothed, twice.
const SMOOTH: usize = 32;
/// Share of the nodes that are spread evenly whatever the bends.
const EVEN: f64 = 0.1;

/// The curve for the cubes of a pipeline.
pub fn shaper(pipeline: &Pipeline) -> Curves {
    let plausible = test_colours::plausible(pipeline.camera(), 1, COLOURS);
    shaper_for(pipeline, &Difference::on(pipeline.display()), &plausible)
}

/// The curve for any function over 0..1 that meets the `plausible` inputs.
pub fn shaper_for(exact: impl ColourTransform, difference: &Difference, plausible: &[[f64; 3]]) -> Curves {
    let place = |signal| difference.place(exact.transform(signal));
    // The square of the bend where `axes` move together.
    let bend = |signal: &[f64; 3], axes: std::ops::Range<usize>| -> f64 {
        let mut middle = *signal;
        middle[axes.clone()].iter_mut().for_each(|v| *v = v.clamp(STEP, 1.0 - STEP));
        let moved = |step: f64| {
            let mut moved = middle;
            moved[axes.clone()].iter_mut().for_each(|v| *v += step);
            place(moved)
        };
        let (here, low, high) = (place(middle), moved(-STEP), moved(STEP));
        let bend = difference.between(here, std::array::from_fn(|i| low[i] + high[i] - here[i]));
        bend * bend
    };
    let mut found = [0.0; BINS];
    let mut add = |value: f64, bend: f64, count: usize| {
        found[((value * BINS as f64) as usize).min(BINS - 1)] += bend / count as f64;
    };
    for inputs in [plausible, &test_colours::uniform(1, COLOURS)] {
        let bends: Vec<[f64; 3]> =
            inputs.par_iter().map(|signal| std::array::from_fn(|axis| bend(signal, axis..axis + 1))).collect();
        for (input, bends) in inputs.iter().zip(bends) {
            (0..3).for_each(|axis| add(input[axis], bends[axis], inputs.len()));
        }
    }
    let greys = test_colours::neutral(GREYS);
    let bends: Vec<f64> = greys.par_iter().map(|grey| bend(grey, 0..3)).collect();
    greys.iter().zip(bends).for_each(|(grey, bend)| add(grey[0], bend, GREYS));
    from_density(&found.map(|sum| math::pow(sum, 0.2)))
}

/// The curve that puts nodes at a density.
fn from_density(bins: &[f64; BINS]) -> Curves {
    let mean = bins.iter().sum::<f64>() / BINS as f64;
    // A function without bends is served by even steps.
    let bent = if mean > 0.0 && mean.is_finite() { 1.0 - EVEN } else { 0.0 };
    let last = ENTRIES - 1;
    let mut density: Vec<f64> = (0..ENTRIES).map(|i| bins[i * BINS / ENTRIES] / mean).collect();
    for _ in 0..2 {
        let before = density.clone();
        for (i, value) in density.iter_mut().enumerate() {
            let about = &before[i.saturating_sub(SMOOTH)..=(i + SMOOTH).min(last)];
            *value = about.iter().sum::<f64>() / about.len() as f64;
        }
    }
    let mut sum = 0.0;
    let mut curve = vec![0.0];
    for pair in density.windows(2) {
        sum += if bent > 0.0 { EVEN + bent * 0.5 * (pair[0] + pair[1]) } else { 1.0 };
        curve.push(sum);
    }
    Curves::new(UNIT, curve.iter().map(|v| [v / sum; 3]).collect()).expect("finite, and as many as curves may have")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::display::{Display, standard};
    use crate::transform::function;

    fn curve(exact: impl Fn([f64; 3]) -> [f64; 3] + Sync) -> Curves {
        let difference = Difference::on(&Display::of(standard("bt709").unwrap()));
        shaper_for(function(exact), &difference, &test_colours::uniform(5000, 200))
    }

    #[test]
    fn it_rises_from_0_to_1_and_leads_back() {
        let curves = curve(|rgb| rgb.map(|v| if v < 0.5 { 0.2 * v } else { 0.1 + 1.8 * (v - 0.5) }));
        assert!(curves.rising());
        assert_eq!([curves.entries()[0], curves.entries()[ENTRIES - 1]], UNIT);
        for i in 0..=500 {
            let v = f64::from(i) / 500.0;
            let back = curves.inverse(curves.at([v, 1.0 - v, v * v]));
            assert!(
                (back[0] - v).abs() < 1e-12 && (back[1] - 1.0 + v).abs() < 1e-12 && (back[2] - v * v).abs() < 1e-12
            );
        }
    }

    #[test]
    fn nodes_crowd_where_the_bend_is() {
        // A knee at 0.7: the curve is steepest there.
        let curves = curve(|rgb| rgb.map(|v| if v < 0.7 { v } else { 0.7 + 0.2 * (v - 0.7) }));
        let slope = |v: f64| curves.at([v + 0.02; 3])[0] - curves.at([v - 0.02; 3])[0];
        // In the dark CIELAB itself bends.
        let others = [0.3, 0.5, 0.95].map(slope);
        assert!(others.iter().all(|s| slope(0.7) > 1.4 * s), "{} {others:?}", slope(0.7));
    }

    #[test]
    fn a_constant_is_served_by_even_steps() {
        let curves = curve(|_| [0.5; 3]);
        assert!((curves.at([0.25; 3])[0] - 0.25).abs() < 1e-12);
    }
}
