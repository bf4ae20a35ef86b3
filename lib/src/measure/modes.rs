//! Compares two camera modes by the same scene, in words.
//!
//! Two pictures of one scene, or two brackets, give pairs of signals: this mode's and the other's. From them follows
//! whether the other mode squeezes the range, clips elsewhere, lifts black, or has another curve.

use super::{CHANNELS, MeasureError, Measurement, State};
use crate::camera::Range;
use crate::frame::Frame;

/// Signals of the same light under both modes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// Under the first.
    pub first: f64,
    /// Under the second.
    pub second: f64,
    /// How uncertain the difference is, one standard deviation.
    pub error: f64,
}

/// One channel in both modes.
#[derive(Debug, Clone, PartialEq)]
pub struct Pairs {
    /// Pairs, rising in the first signal, without what clips in either mode.
    pub pairs: Vec<Pair>,
    /// The clip of each mode, where it was seen.
    pub clips: [Option<f64>; 2],
    /// Stops by which the second mode clips later than the first, on the scale of the meter; none where it is not known,
    /// as from two frames.
    pub clip_moved: Option<f64>,
}

/// A difference between modes; signals are those of the second mode less the first's unless stated otherwise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Finding {
    /// No difference beyond noise and rounding.
    Same,
    /// The second is the first, full range, squeezed into legal range.
    Squeezed,
    /// The second is the first, legal range, spread to full range.
    Spread,
    /// Every signal is moved by so much.
    Shifted(f64),
    /// At the darkest the second lies higher by so much (lower where below 0), which fades towards the highlights.
    BlackMoved(f64),
    /// The curve differs: the largest difference, and the signal of the first mode where it is.
    Curve {
        /// The difference there.
        by: f64,
        /// The first mode's signal.
        at: f64,
    },
    /// The clip moved from one signal to another.
    ClipMoved {
        /// The first mode's.
        from: f64,
        /// The second mode's.
        to: f64,
        /// Stops of light by which the second clips later, earlier where below 0; none where they are not known.
        stops: Option<f64>,
    },
}

/// Two codes of 10 bits: less is rounding.
const ROUNDING: f64 = 2.0 / 1023.0;
/// Clips nearer to each other than this are at the same light, in stops.
const SAME_STOPS: f64 = 0.05;
/// The clip of the squeezed range may be off by this: a codec rounds.
const CLIP_ROUNDING: f64 = 3.0 / 1023.0;

impl Pairs {
    /// The differences between two modes.
    pub fn findings(&self) -> Vec<Finding> {
        let relation = self.relation();
        let mut found = vec![relation];
        if let [Some(from), Some(to)] = self.clips
            && (self.second_of(&relation, from) - to).abs() > CLIP_ROUNDING
        {
            found.push(Finding::ClipMoved { from, to, stops: self.clip_moved });
        }
        if found.len() > 1 {
            found.retain(|f| *f != Finding::Same);
        }
        found
    }

    /// How the second mode's signals follow from the first's below the clip.
    fn relation(&self) -> Finding {
        let far =
            |f: &dyn Fn(f64) -> f64| self.pairs.iter().filter(|p| (p.second - f(p.first)).abs() > slack(p)).count();
        // A pair in twenty may deviate: dust, a moved leaf.
        let agree = |f: &dyn Fn(f64) -> f64| far(f) * 20 <= self.pairs.len();
        let shift = {
            let mut apart: Vec<f64> = self.pairs.iter().map(|p| p.second - p.first).collect();
            apart.sort_by(f64::total_cmp);
            apart.get(apart.len() / 2).copied().unwrap_or(0.0)
        };
        if agree(&|v| v) {
            return Finding::Same;
        }
        if agree(&|v| Range::Legal.encode(v)) {
            return Finding::Squeezed;
        }
        if agree(&|v| Range::Legal.decode(v)) {
            return Finding::Spread;
        }
        if shift.abs() > ROUNDING && agree(&move |v| v + shift) {
            return Finding::Shifted(shift);
        }
        if let Some(moved) = self.black_moved() {
            return Finding::BlackMoved(moved);
        }
        let apart = |p: &&Pair| (p.second - p.first).abs() - slack(p);
        let most = self.pairs.iter().max_by(|a, b| apart(a).total_cmp(&apart(b)));
        most.map_or(Finding::Same, |p| Finding::Curve { by: p.second - p.first, at: p.first })
    }

    /// The second mode's signal where the first's is `v`, by their relation.
    fn second_of(&self, relation: &Finding, v: f64) -> f64 {
        match relation {
            Finding::Squeezed => Range::Legal.encode(v),
            Finding::Spread => Range::Legal.decode(v),
            Finding::Shifted(by) => v + by,
            Finding::Curve { .. } => follow(&self.pairs, v),
            Finding::Same | Finding::BlackMoved(_) | Finding::ClipMoved { .. } => v,
        }
    }

    /// The difference at the darkest pair, when it fades from there and the brightest third agrees: a light added to all.
    fn black_moved(&self) -> Option<f64> {
        let apart = |p: &Pair| p.second - p.first;
        let upper = &self.pairs[self.pairs.len() * 2 / 3..];
        let strays = upper.iter().filter(|p| apart(p).abs() > slack(p)).count();
        let fades =
            self.pairs.windows(2).all(|w| apart(&w[1]).abs() <= apart(&w[0]).abs() + slack(&w[0]).max(slack(&w[1])));
        let darkest = self.pairs.first()?;
        (fades && strays * 5 <= upper.len() && apart(darkest).abs() > slack(darkest)).then(|| apart(darkest))
    }
}

fn slack(p: &Pair) -> f64 {
    ROUNDING.max(4.0 * p.error)
}

/// The second signal for a first one, on the line through the pairs, which goes on beyond its ends.
fn follow(pairs: &[Pair], at: f64) -> f64 {
    let Some(i) = pairs.windows(2).position(|w| at <= w[1].first).or(pairs.len().checked_sub(2)) else { return at };
    let (a, b) = (pairs[i], pairs[i + 1]);
    let width = b.first - a.first;
    if width <= 0.0 { b.second } else { a.second + (b.second - a.second) * (at - a.first) / width }
}

/// The first mode's signal for the second's, by a relation that can be undone.
fn first_of(relation: &Finding, v: f64) -> Option<f64> {
    match relation {
        Finding::Squeezed => Some(Range::Legal.decode(v)),
        Finding::Spread => Some(Range::Legal.encode(v)),
        Finding::Shifted(by) => Some(v - by),
        Finding::Same | Finding::BlackMoved(_) => Some(v),
        Finding::Curve { .. } | Finding::ClipMoved { .. } => None,
    }
}

/// Pairs of two brackets of the same stops, red, green and blue. Each signal is that of the mean light by the bracket's curve:
/// the mean of the signals themselves lies lower the more noise there is.
///
/// # Errors
/// Fewer than three exposures in common.
pub fn brackets(first: &Measurement, second: &Measurement) -> Result<[Pairs; 3], MeasureError> {
    let common: Vec<_> = first
        .exposures
        .iter()
        .filter_map(|a| second.exposures.iter().find(|b| b.stops == a.stops).map(|b| (a, b)))
        .collect();
    if common.len() < 3 {
        let why = format!("the two brackets have {} stops in common: three or more are needed", common.len());
        return Err(MeasureError::TooFew(why));
    }
    let [claim, other] = [first, second].map(|m| m.used.claim());
    Ok(std::array::from_fn(|c| {
        let good = common.iter().map(|(a, b)| (&a.channels[c], &b.channels[c]));
        let pairs = good
            .filter(|(a, b)| a.state == State::Good && b.state == State::Good)
            .map(|(a, b)| {
                let noise = a.signal_noise * a.signal_noise + b.signal_noise * b.signal_noise;
                let error = (noise / first.samples as f64).sqrt();
                Pair { first: claim.encode(a.light), second: other.encode(b.light), error }
            })
            .collect();
        let clips = [first, second].map(|m| Some(m.channels[c].clip).filter(|clip| clip.seen).map(|clip| clip.signal));
        let mut pairs = Pairs { pairs, clips, clip_moved: None };
        if let [Some(_), Some(to)] = clips {
            let stops = match first_of(&pairs.relation(), to) {
                Some(signal) => Some(first.stops_of(c, signal)),
                None => reached(second, c, to),
            };
            pairs.clip_moved = stops.map(|stops| stops - first.channels[c].clip.stops);
        }
        pairs
    }))
}

/// Stops at which a bracket's own response reaches a signal beyond its last good exposure: by a parabola through the last
/// three, for a curve that is not known.
fn reached(m: &Measurement, c: usize, signal: f64) -> Option<f64> {
    let good: Vec<(f64, f64)> = m
        .exposures
        .iter()
        .filter(|e| e.channels[c].state == State::Good)
        .map(|e| (e.stops, e.channels[c].signal))
        .collect();
    let [.., (x0, y0), (x1, y1), (x2, y2)] = good[..] else { return None };
    let [slow, fast] = [(y1 - y0) / (x1 - x0), (y2 - y1) / (x2 - x1)];
    let bend = (fast - slow) / (x2 - x0);
    // signal - y2 = slope t + bend t^2 at t stops over the last, with the slope there.
    let slope = fast + bend * (x2 - x1);
    let root = (slope * slope + 4.0 * bend * (signal - y2)).sqrt();
    let t = 2.0 * (signal - y2) / (slope + root);
    (slope > 0.0 && t.is_finite()).then_some(x2 + t)
}

/// Levels into which the signals of a frame are sorted.
const BINS: usize = 96;
/// Pixels that a level needs to count.
const ENOUGH: usize = 16;
/// A frame clips where this share of it lies within a code of 10 bits of its highest signal.
const CLIPPED_SHARE: f64 = 0.002;

/// Pairs of two frames of one scene, pixel by pixel: red, green and blue.
///
/// # Errors
/// Frames of different sizes.
pub fn frames(first: &Frame, second: &Frame) -> Result<[Pairs; 3], MeasureError> {
    if (first.width(), first.height()) != (second.width(), second.height()) {
        return Err(MeasureError::Mismatch(format!(
            "the frames have {} x {} and {} x {} pixels: they must show one scene at one size",
            first.width(),
            first.height(),
            second.width(),
            second.height()
        )));
    }
    Ok(std::array::from_fn(|c| {
        let values: Vec<[f64; 2]> =
            first.pixels().zip(second.pixels()).map(|(a, b)| [f64::from(a[c]), f64::from(b[c])]).collect();
        let code = 1.0 / 1023.0;
        let clip = |k: usize| {
            let highest = values.iter().map(|v| v[k]).fold(f64::MIN, f64::max);
            let within = |from: f64, to: f64| values.iter().filter(|v| v[k] >= from && v[k] < to).count();
            // They heap up there; a tail of noise, or a highlight that thins out, does not.
            let (heap, under) = (within(highest - code, f64::INFINITY), within(highest - 3.0 * code, highest - code));
            (heap as f64 >= CLIPPED_SHARE * values.len() as f64 && heap > under).then_some(highest)
        };
        let clips = [clip(0), clip(1)];
        // Sorted by what is about a pixel, in both frames, never by the pixel itself: its own noise would be sorted too, and
        // the brighter half of it would seem to be darker in the other frame (regression to the mean).
        let levels = surroundings(&values, first.width());
        let (least, most) = levels.iter().fold((f64::MAX, f64::MIN), |(a, b), v| (a.min(*v), b.max(*v)));
        let width = ((most - least) / BINS as f64).max(f64::MIN_POSITIVE);
        let mut bins = vec![Bin::default(); BINS];
        for (level, [a, b]) in levels.iter().zip(&values) {
            let bin = &mut bins[(((level - least) / width) as usize).min(BINS - 1)];
            let clipped = [*a, *b].iter().zip(clips).any(|(v, clip)| clip.is_some_and(|clip| *v >= clip - code));
            bin.add(*a, *b, clipped);
        }
        let below = |v: f64, clip: Option<f64>| clip.is_none_or(|clip| v < clip - 6.0 * code);
        let pairs = bins
            .iter()
            .filter(|bin| bin.count >= ENOUGH && bin.clipped * 200 <= bin.count)
            .map(Bin::pair)
            .filter(|p| below(p.first, clips[0]) && below(p.second, clips[1]));
        let mut pairs: Vec<Pair> = pairs.collect();
        pairs.sort_by(|a, b| a.first.total_cmp(&b.first));
        Pairs { pairs, clips, clip_moved: None }
    }))
}

/// The pixels of one level.
#[derive(Debug, Clone, Copy, Default)]
struct Bin {
    count: usize,
    clipped: usize,
    /// Sums of both signals, and of the square of their difference.
    sums: [f64; 2],
    squares: f64,
}

impl Bin {
    fn add(&mut self, a: f64, b: f64, clipped: bool) {
        self.count += 1;
        self.clipped += usize::from(clipped);
        self.sums = [self.sums[0] + a, self.sums[1] + b];
        self.squares += (b - a) * (b - a);
    }

    fn pair(&self) -> Pair {
        let n = self.count as f64;
        let [first, second] = self.sums.map(|sum| sum / n);
        let spread = (self.squares / n - (second - first) * (second - first)).max(0.0);
        Pair { first, second, error: (spread / n).sqrt() }
    }
}

/// How far off the pixels about one are that say how bright it is there: beyond what demosaicing and halved chroma share.
const ABOUT: usize = 2;

/// The mean of both frames about each pixel, without the pixel.
fn surroundings(values: &[[f64; 2]], width: usize) -> Vec<f64> {
    let height = values.len() / width.max(1);
    let sum = |i: usize| values[i][0] + values[i][1];
    let about = |i: usize| {
        let (x, y) = (i % width, i / width);
        let left = x.checked_sub(ABOUT).map(|_| i - ABOUT);
        let right = (x + ABOUT < width).then_some(i + ABOUT);
        let up = y.checked_sub(ABOUT).map(|_| i - ABOUT * width);
        let down = (y + ABOUT < height).then_some(i + ABOUT * width);
        let found = [left, right, up, down].into_iter().flatten().map(sum);
        let (total, count) = found.fold((0.0, 0.0), |(total, count), v| (total + v, count + 2.0));
        // A frame too small to have any has but one level.
        if count > 0.0 { total / count } else { 0.0 }
    };
    (0..values.len()).map(about).collect()
}

/// The width of the second mode's range over the first's: 1 unless every channel is squeezed or spread.
pub fn width(pairs: &[Pairs; 3]) -> f64 {
    let squeezed = Range::Legal.encode(1.0) - Range::Legal.encode(0.0);
    let relations = pairs.each_ref().map(Pairs::relation);
    let all = |one: Finding| relations.iter().all(|relation| *relation == one);
    if all(Finding::Squeezed) {
        squeezed
    } else if all(Finding::Spread) {
        1.0 / squeezed
    } else {
        1.0
    }
}

/// The sentence on a finding, for the channel of that number; `None` for all three.
pub fn words(finding: &Finding, channel: Option<usize>) -> String {
    let who = channel.map(|c| format!("{}: ", CHANNELS[c])).unwrap_or_default();
    let codes = |v: f64| format!("{:.0}", (v * 1023.0).abs());
    let higher = |v: f64| if v > 0.0 { "higher" } else { "lower" };
    let said = match *finding {
        Finding::Same => "no difference beyond noise and rounding".to_owned(),
        Finding::Squeezed => "the second is the first squeezed from full into legal range".to_owned(),
        Finding::Spread => "the second is the first spread from legal to full range".to_owned(),
        Finding::Shifted(by) => {
            format!("the second lies {} 10-bit codes {} everywhere", codes(by), higher(by))
        }
        Finding::BlackMoved(by) => {
            let lifted = if by > 0.0 { "lifted" } else { "lowered" };
            format!("black is {lifted} by {} 10-bit codes, which fades towards the highlights", codes(by))
        }
        Finding::Curve { by, at } => format!(
            "the curve differs: at signal {at:.3} (code {}) the second lies {} 10-bit codes {}",
            codes(at),
            codes(by),
            higher(by)
        ),
        Finding::ClipMoved { from, to, stops } => {
            let codes = format!("signal {from:.4} (code {}) to {to:.4} (code {})", codes(from), codes(to));
            match stops {
                Some(by) if by.abs() < SAME_STOPS => {
                    format!("the clip moved from {codes}, at the same light: the highlights end where they did")
                }
                Some(by) => {
                    let (way, what) = if by < 0.0 { ("earlier", "lost") } else { ("later", "gained") };
                    let by = by.abs();
                    format!(
                        "the second clips {by:.2} stops {way}: {by:.2} stops of highlights are {what}; the clip moved from {codes}"
                    )
                }
                None => {
                    let way = if to < from { "lower" } else { "higher" };
                    format!(
                        "the second clips {way}: the clip moved from {codes}; measure a bracket of each for the difference in stops"
                    )
                }
            }
        }
    };
    who + &said
}
