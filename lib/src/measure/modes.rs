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
        let mut found = Vec::new();
        let far =
            |f: &dyn Fn(f64) -> f64| self.pairs.iter().filter(|p| (p.second - f(p.first)).abs() > slack(p)).count();
        // A pair in twenty may deviate: dust, a moved leaf.
        let agree = |f: &dyn Fn(f64) -> f64| far(f) * 20 <= self.pairs.len();
        let shift = {
            let mut apart: Vec<f64> = self.pairs.iter().map(|p| p.second - p.first).collect();
            apart.sort_by(f64::total_cmp);
            apart.get(apart.len() / 2).copied().unwrap_or(0.0)
        };
        let relation: Box<dyn Fn(f64) -> f64> = if agree(&|v| v) {
            Box::new(|v| v)
        } else if agree(&|v| Range::Legal.encode(v)) {
            found.push(Finding::Squeezed);
            Box::new(|v| Range::Legal.encode(v))
        } else if agree(&|v| Range::Legal.decode(v)) {
            found.push(Finding::Spread);
            Box::new(|v| Range::Legal.decode(v))
        } else if agree(&move |v| v + shift) {
            found.push(Finding::Shifted(shift));
            Box::new(move |v| v + shift)
        } else if let Some(moved) = self.black_moved() {
            found.push(Finding::BlackMoved(moved));
            Box::new(|v| v)
        } else {
            let apart = |p: &&Pair| (p.second - p.first).abs() - slack(p);
            if let Some(p) = self.pairs.iter().max_by(|a, b| apart(a).total_cmp(&apart(b))) {
                found.push(Finding::Curve { by: p.second - p.first, at: p.first });
            }
            let pairs = self.pairs.clone();
            Box::new(move |v| follow(&pairs, v))
        };
        if let [Some(from), Some(to)] = self.clips
            && (relation(from) - to).abs() > CLIP_ROUNDING
        {
            found.push(Finding::ClipMoved { from, to, stops: self.clip_moved });
        }
        if found.is_empty() {
            found.push(Finding::Same);
        }
        found
    }

    /// The difference at the darkest pair, when it fades from there and the brightest third agrees: a light added to all.
    fn black_moved(&self) -> Option<f64> {
        let apart = |p: &Pair| p.second - p.first;
        let upper = &self.pairs[self.pairs.len() * 2 / 3..];
        let strays = upper.iter().filter(|p| apart(p).abs() > slack(p)).count();
        let fades =
            self.pairs.windows(2).all(|w| apart(&w[1]).abs() <= apart(&w[0]).abs() + slack(&w[0]).max(slack(&w[1])));
        let darkest = self.pairs.first()?;
        (fades && strays * 5 <= upper.len()).then(|| apart(darkest))
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

/// Pairs of two brackets of the same stops, red, green and blue.
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
    Ok(std::array::from_fn(|c| {
        let good = common.iter().map(|(a, b)| (&a.channels[c], &b.channels[c]));
        let pairs = good
            .filter(|(a, b)| a.state == State::Good && b.state == State::Good)
            .map(|(a, b)| {
                let noise = a.signal_noise * a.signal_noise + b.signal_noise * b.signal_noise;
                Pair { first: a.signal, second: b.signal, error: (noise / first.samples as f64).sqrt() }
            })
            .collect();
        let clip = |m: &Measurement| Some(m.channels[c].clip).filter(|c| c.seen).map(|c| c.signal);
        let [a, b] = [first, second].map(|m| Some(m.channels[c].clip).filter(|clip| clip.seen).map(|clip| clip.stops));
        Pairs { pairs, clips: [clip(first), clip(second)], clip_moved: a.zip(b).map(|(a, b)| b - a) }
    }))
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
