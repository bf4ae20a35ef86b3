//! Finds how many bits the codes of a file use, and which codes are missing.
//!
//! A file of 10 bits may hold 8: then every code is one of 256, by a shift, or by scaling to the new largest code. Where
//! samples were calculated from fewer bits, or stretched, some codes never occur between others that are frequent (gaps), or
//! occur far more often than their neighbours (combs): gradients get bands.

use schemars::JsonSchema;
use serde::Serialize;

/// Lower depths that a file may contain.
const DEPTHS: [u8; 4] = [8, 10, 12, 14];
/// The fewest different codes to judge by.
const FEWEST: usize = 12;
/// Share of samples that may lie off the codes of a depth.
const STRAY: f64 = 1e-3;
/// Mean count of the codes on either side from which a code that never occurs is missing, not rare.
const FREQUENT: f64 = 20.0;
/// The same for counts that are compared with each other: chance is 5 % of these.
const COMPARED: f64 = 400.0;
/// Codes on either side that one is compared with.
const BESIDE: usize = 4;

/// Codes of one channel.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Codes {
    /// Red, green, blue or luma.
    pub channel: &'static str,
    /// Bits of the file's samples; none for floats.
    pub file_bits: Option<u8>,
    /// Bits that its codes need: those of the file, or fewer.
    pub true_bits: Option<u8>,
    /// Codes that never occur among frequent ones, per cent.
    pub missing_percent: f64,
    /// Codes that occur far more or less often than their neighbours, per cent; none where samples are too few to tell.
    pub uneven_percent: Option<f64>,
}

impl Codes {
    /// Bits of which as many codes would be used as are here.
    pub fn effective_bits(&self) -> Option<f64> {
        let bits = f64::from(self.true_bits.or(self.file_bits)?);
        Some(bits + crate::math::log2((1.0 - self.missing_percent / 100.0).max(1e-3)))
    }
}

/// Counts of codes.
#[derive(Debug, Clone)]
pub(super) struct Histogram {
    file_bits: Option<u8>,
    /// Bits that samples are counted by.
    bits: u8,
    counts: Vec<u32>,
}

impl Histogram {
    pub(super) fn new(file_bits: Option<u8>) -> Self {
        let bits = file_bits.unwrap_or(16).clamp(1, 16);
        Self { file_bits, bits, counts: vec![0; 1 << bits] }
    }

    pub(super) fn add(&mut self, signal: f64) {
        let top = (self.counts.len() - 1) as f64;
        if (-0.001..=1.001).contains(&signal) {
            self.counts[(signal * top).round().clamp(0.0, top) as usize] += 1;
        }
    }

    /// `None` if too few codes occur.
    pub(super) fn codes(&self, channel: &'static str) -> Option<Codes> {
        let different = self.counts.iter().filter(|c| **c > 0).count();
        if different < FEWEST {
            return None;
        }
        let held = DEPTHS.into_iter().filter(|d| *d < self.bits).find_map(|d| Some((d, self.held(d)?)));
        // Floats hold no bits unless their values are codes.
        let true_bits = held.as_ref().map(|h| h.0).or(self.file_bits);
        let all = held.map_or_else(|| self.counts.clone(), |h| h.1);
        if true_bits.is_none() {
            let (missing_percent, uneven_percent) = (0.0, None);
            return Some(Codes { channel, file_bits: None, true_bits, missing_percent, uneven_percent });
        }
        let (missing_percent, uneven_percent) = gaps(&all);
        Some(Codes { channel, file_bits: self.file_bits, true_bits, missing_percent, uneven_percent })
    }

    /// The counts by codes of fewer bits, where nearly all samples are such codes.
    fn held(&self, bits: u8) -> Option<Vec<u32>> {
        let (top, fewer) = ((self.counts.len() - 1) as f64, ((1u32 << bits) - 1) as f64);
        let shift = self.bits - bits;
        let by_shift = |code: usize| code.is_multiple_of(1 << shift).then_some(code >> shift);
        let by_scale = |code: usize| {
            let nearest = (code as f64 * fewer / top).round();
            ((nearest * top / fewer).round() as usize == code).then_some(nearest as usize)
        };
        let total: u64 = self.counts.iter().map(|c| u64::from(*c)).sum();
        let take = |of: &dyn Fn(usize) -> Option<usize>| {
            let mut counts = vec![0u32; 1 << bits];
            let mut off = 0u64;
            for (code, count) in self.counts.iter().enumerate().filter(|(_, c)| **c > 0) {
                match of(code) {
                    Some(at) => counts[at] += count,
                    None => off += u64::from(*count),
                }
            }
            (off as f64 <= STRAY * total as f64).then_some(counts)
        };
        take(&by_shift).or_else(|| take(&by_scale))
    }
}

/// Shares of codes that are missing, and that are uneven, per cent.
fn gaps(counts: &[u32]) -> (f64, Option<f64>) {
    let mean = |part: &[u32]| part.iter().map(|c| f64::from(*c)).sum::<f64>() / part.len().max(1) as f64;
    let (mut frequent, mut missing, mut compared, mut uneven) = (0usize, 0usize, 0usize, 0usize);
    // Not the ends of the range, where clips heap up.
    for i in BESIDE + 1..counts.len().saturating_sub(BESIDE + 1) {
        let (before, after) = (mean(&counts[i - BESIDE..i]), mean(&counts[i + 1..=i + BESIDE]));
        let own = f64::from(counts[i]);
        if before.min(after) >= FREQUENT {
            frequent += 1;
            missing += usize::from(own == 0.0);
        }
        // Where counts rise or fall steeply, a code cannot be compared with its neighbours.
        if before.min(after) >= COMPARED && before.max(after) < 1.5 * before.min(after) {
            compared += 1;
            let expected = (before + after) / 2.0;
            uneven += usize::from(own > 1.6 * expected || own < 0.6 * expected);
        }
    }
    let percent = |part: usize, all: usize| 100.0 * part as f64 / all.max(1) as f64;
    (percent(missing, frequent), (compared >= FEWEST).then(|| percent(uneven, compared)))
}
