//! What a capture says of its chain: the simplest explanation, the next best one, and what no explanation takes away.

use super::bank::Bank;
use super::depth::Signal;
use super::dither;
use super::model::{Change, Fault, Loaded, Rounding};
use super::read::Reading;
use super::search::{Search, Tried, readings};
use crate::cube::Interpolation;
use crate::difference::{Difference, Statistics};

/// What a search has to explain.
#[derive(Debug, Clone)]
pub struct Evidence {
    /// The chart's signal of each patch.
    pub signals: Vec<[f64; 3]>,
    /// What was read of it.
    pub measured: Vec<[f64; 3]>,
    /// Some pixels of each patch, where they are known.
    pub pixels: Vec<Vec<[f32; 3]>>,
    /// How exactly a sound chain can be read, in signal (root mean square).
    pub precision: f64,
    /// The capture itself has eight bits or fewer, so that it does not say whether its signal had more.
    pub is_coarse: bool,
    /// Bits of the signal, where the pixels say it.
    pub signal: Option<Signal>,
}

/// The root mean square by which codes of some bits are rounded, for a step of 1: the square root of 1/12.
const ROUNDING: f64 = 0.288_675_134_594_812_9;
/// The precision where nothing is rounded.
const FINEST: f64 = 1.5e-4;

impl Evidence {
    /// Of a capture.
    pub fn of(reading: &Reading) -> Self {
        let step = reading.bits.map_or(0.0, |bits| 1.0 / ((1u64 << bits.min(32)) - 1) as f64);
        Self {
            signals: reading.flat().map(|m| m.patch.signal()).collect(),
            measured: reading.flat().map(|m| m.mean).collect(),
            pixels: reading.flat().map(|m| m.pixels.clone()).collect(),
            precision: (ROUNDING * step).max(FINEST),
            is_coarse: reading.bits.is_some_and(|bits| bits <= 8),
            signal: reading.signal,
        }
    }
}

/// An explanation.
#[derive(Debug, Clone, PartialEq)]
pub struct Chain {
    /// What is not as it should be; empty for the right chain.
    pub faults: Vec<Fault>,
    /// The root mean square in signal of what it leaves.
    pub left: f64,
}

/// What was found.
#[derive(Debug, Clone)]
pub struct Explanation {
    /// The simplest chain that fits.
    pub best: Chain,
    /// The next best one that is not the best with something more; beside the right chain, the nearest fault.
    pub second: Option<Chain>,
    /// How the cube is read; none where that cannot be told.
    pub interpolation: Option<Interpolation>,
    /// Whether what is left is little enough for the explanation to be one.
    pub fits: bool,
    /// From what the right chain gives to what was read, patch by patch.
    pub off: Vec<f64>,
    /// From what the best chain gives to what was read.
    pub unexplained: Vec<f64>,
    /// What the best chain gives.
    pub given: Vec<[f64; 3]>,
    /// What the right chain gives.
    pub wanted: Vec<[f64; 3]>,
}

/// A mean difference that is fine for judging by eye, in CIEDE2000 or Delta E ITP.
pub const FINE: f64 = 1.0;
/// How much worse the other interpolation must fit for the better one to be told.
const TOLD: f64 = 1.12;
/// How much more a fault must leave (mean square) than the right chain does, to be the next best explanation.
const WORSE: f64 = 1.2;

/// Explains what was read by what may be in the chain; differences are those of `difference`.
pub fn explain(bank: &Bank, evidence: &Evidence, difference: &Difference) -> Explanation {
    let between = |given: &[[f64; 3]]| -> Vec<f64> {
        let pairs = given.iter().zip(&evidence.measured);
        pairs.map(|(a, b)| difference.between(difference.place(*a), difference.place(*b))).collect()
    };
    let chain =
        |tried: &Tried| -> Vec<[f64; 3]> { bank.captured(&tried.faults, tried.interpolation, &evidence.signals) };
    // About a mean difference of 1 in the signal of a usual display.
    let enough = 6e-3;
    let tried = Search::new(bank, evidence).run(enough * enough);
    let floor = evidence.precision * evidence.precision;
    let best = &tried[0];
    // Beside the right chain, that is the fault that is nearest to being there; one that changes nothing is none.
    let is_other = |t: &&Tried| match best.faults.is_empty() {
        true => !t.faults.is_empty() && t.left + floor > WORSE * (best.left + floor),
        false => !t.is_like(best) && !t.has_all(best),
    };
    let second = tried.iter().find(is_other);
    let given = chain(best);
    let unexplained = between(&given);
    let wanted = bank.captured(&[], best.interpolation, &evidence.signals);
    let [tetrahedral, trilinear] = readings(bank, evidence, &best.faults);
    let is_told = best.faults.iter().all(|f| !matches!(f, Fault::Nearest | Fault::Cube(Loaded::None)));
    let interpolation = match (tetrahedral + floor) / (trilinear + floor) {
        ratio if is_told && ratio > TOLD => Some(Interpolation::Trilinear),
        ratio if is_told && ratio < 1.0 / TOLD => Some(Interpolation::Tetrahedral),
        _ => None,
    };
    let as_chain = |t: &Tried| Chain { faults: t.faults.clone(), left: t.left.sqrt() };
    let mut told = as_chain(best);
    if let Some(Signal { bits: 8, dithered }) = evidence.signal.filter(|_| !evidence.is_coarse) {
        // Means of dithered patches do not show it, nor may rounding show beside what else is left.
        if !told.faults.iter().any(|f| matches!(f, Fault::Output(Change::Eight(_)))) {
            let rounding = if dithered { Rounding::Dithered } else { Rounding::Nearest };
            told.faults.push(Fault::Output(Change::Eight(rounding)));
        }
    } else if !evidence.is_coarse && dither::is_before(bank, &told.faults, best.interpolation, evidence) {
        told.faults.insert(0, Fault::Input(Change::Eight(Rounding::Dithered)));
    }
    Explanation {
        best: told,
        second: second.map(as_chain),
        interpolation,
        fits: Statistics::of(&unexplained).mean <= FINE,
        off: between(&wanted),
        unexplained,
        given,
        wanted,
    }
}
