//! The search over chains: every fault by itself, every two of different places, and a third where two are not enough.
//!
//! A chain is judged by what is left between what it gives and what was read: the mean square over the patches without the
//! worst of them, which an overlay may cover. Each fault costs something, so that the simplest chain that fits wins:
//!
//! ```text
//! cost = patches x ln(mean square + precision^2) + PRICE x faults
//! ```
//!
//! There are thousands of chains. Each is judged by every fifth patch first, and the best of them by all.

use super::bank::{Bank, FEWER};
use super::explain::Evidence;
use super::model::{Change, Fault, Loaded, after};
use crate::cube::Interpolation;
use crate::math::ln;
use rayon::prelude::*;

type Rgb = [f64; 3];

/// What a fault costs, as a share of the number of patches: it must take away so much of what is left (natural logarithm).
const PRICE: f64 = 0.08;
/// Of a knob, whose amount is fitted.
const KNOB: f64 = 0.15;
/// The share of patches that do not count, the worst ones.
const WORST: f64 = 0.03;
/// The least amounts of knobs that are called a fault: less, no eye sees, and codecs do.
const LEAST: [f64; 3] = [0.03, 0.02, 0.008];
/// The largest amounts.
const MOST: [f64; 3] = [0.8, 0.4, 0.25];
/// One patch of so many is looked at first: no step of the chart's own patterns is a multiple of it.
const EVERY: usize = 5;
/// Chains that are judged by all patches then.
const BEST: usize = 480;
/// Chains that are looked at again with every interpolation.
const AGAIN: usize = 48;
/// Chains that a third fault is tried on.
const THIRD: usize = 24;

/// A chain that was tried.
#[derive(Debug, Clone)]
pub(super) struct Tried {
    pub(super) faults: Vec<Fault>,
    pub(super) interpolation: Interpolation,
    /// Mean square in signal that is left.
    pub(super) left: f64,
    pub(super) cost: f64,
}

impl Tried {
    /// Whether two chains have the same faults but for amounts.
    pub(super) fn is_like(&self, other: &Self) -> bool {
        self.faults.len() == other.faults.len() && self.has_all(other)
    }

    /// Whether it has every fault of another.
    pub(super) fn has_all(&self, other: &Self) -> bool {
        other.faults.iter().all(|f| self.faults.iter().any(|g| g.is_like(*f)))
    }
}

/// Saturation, gain and lift: what is fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Knob {
    Saturation,
    Gain,
    Lift,
}

impl Knob {
    const ALL: [Self; 3] = [Self::Saturation, Self::Gain, Self::Lift];

    fn change(self, amount: f64) -> Change {
        match self {
            Self::Saturation => Change::Saturation(amount),
            Self::Gain => Change::Gain(amount),
            Self::Lift => Change::Lift(amount),
        }
    }

    const fn at_rest(self) -> f64 {
        if matches!(self, Self::Lift) { 0.0 } else { 1.0 }
    }

    /// The amount that leads from signals to others best (least squares), of those that neither clip.
    fn fit(self, from: &[Rgb], to: &[Rgb]) -> f64 {
        let (mut over, mut under) = (0.0, 0.0);
        for (a, b) in from.iter().zip(to) {
            let grey = Change::Saturation(0.0).apply(*a);
            for c in (0..3).filter(|c| (0.01..0.99).contains(&b[*c]) && (0.004..0.996).contains(&a[*c])) {
                let (x, y) = match self {
                    Self::Saturation => (a[c] - grey[c], b[c] - grey[c]),
                    Self::Gain => (a[c], b[c]),
                    Self::Lift => (1.0, b[c] - a[c]),
                };
                over += x * y;
                under += x * x;
            }
        }
        if under > 0.0 { over / under } else { self.at_rest() }
    }

    /// Whether an amount is large enough to be a fault, and small enough for a knob.
    fn is_fault(self, amount: f64) -> bool {
        let off = (amount - self.at_rest()).abs();
        off >= LEAST[self as usize] && off <= MOST[self as usize]
    }
}

/// The fault after the cube that is tried.
#[derive(Debug, Clone, Copy)]
enum Out {
    Plain(Change),
    Knob(Knob),
}

impl Out {
    const fn of(change: Change) -> Self {
        match change {
            Change::Saturation(_) => Self::Knob(Knob::Saturation),
            Change::Gain(_) => Self::Knob(Knob::Gain),
            Change::Lift(_) => Self::Knob(Knob::Lift),
            plain => Self::Plain(plain),
        }
    }

    fn place(self) -> u8 {
        match self {
            Self::Plain(change) => change.place(),
            Self::Knob(knob) => knob.change(knob.at_rest()).place(),
        }
    }
}

/// Patches by which chains are judged: signals of the chart, and what was read of them.
struct View {
    signals: Vec<Rgb>,
    measured: Vec<Rgb>,
}

impl View {
    /// One patch of every so many.
    fn of(evidence: &Evidence, every: usize) -> Self {
        let some = |all: &[Rgb]| all.iter().step_by(every).copied().collect();
        Self { signals: some(&evidence.signals), measured: some(&evidence.measured) }
    }
}

pub(super) struct Search<'s> {
    bank: &'s Bank,
    precision: f64,
    some: View,
    all: View,
    outs: Vec<Out>,
    /// Before the cube and at it.
    fronts: Vec<Fault>,
}

impl<'s> Search<'s> {
    pub(super) fn new(bank: &'s Bank, evidence: &Evidence) -> Self {
        let is_hidden = |c: &Change| evidence.is_coarse && matches!(c, Change::Eight(_));
        let mut outs: Vec<Out> = Change::plain().into_iter().filter(|c| !is_hidden(c)).map(Out::Plain).collect();
        outs.extend(Knob::ALL.map(Out::Knob));
        let mut fronts: Vec<Fault> = Change::plain().into_iter().map(Fault::Input).collect();
        fronts.extend([Loaded::None, Loaded::Twice].map(Fault::Cube));
        for i in 1..bank.cubes.len() {
            fronts.extend([Loaded::Other(i), Loaded::Before(i)].map(Fault::Cube));
        }
        fronts.push(Fault::Nearest);
        fronts.extend(FEWER.into_iter().filter(|n| *n < bank.expected().points()).map(Fault::Points));
        fronts.extend(bank.expected().has_domain().then_some(Fault::Domain));
        Self { outs, fronts, ..Self::bare(bank, evidence) }
    }

    /// One that tries nothing.
    fn bare(bank: &'s Bank, evidence: &Evidence) -> Self {
        let (some, all) = (View::of(evidence, EVERY), View::of(evidence, 1));
        Self { bank, precision: evidence.precision, some, all, outs: Vec::new(), fronts: Vec::new() }
    }

    /// All chains of up to two faults, the best first, and of three where the best leaves more than `enough` (mean square).
    pub(super) fn run(&self, enough: f64) -> Vec<Tried> {
        let mut fronts: Vec<Vec<Fault>> = vec![Vec::new()];
        fronts.extend(self.fronts.iter().map(|f| vec![*f]));
        for (i, a) in self.fronts.iter().enumerate() {
            fronts.extend(self.fronts[..i].iter().filter(|b| is_apart(**b, *a)).map(|b| vec![*b, *a]));
        }
        let first: Vec<Tried> = fronts.par_iter().flat_map_iter(|front| self.ends(front, 2)).collect();
        let mut tried = self.again(self.by_all(first));
        if tried.first().is_some_and(|best| best.left > enough) {
            let two: Vec<&Tried> = tried.iter().filter(|t| t.faults.len() == 2).take(THIRD).collect();
            let three: Vec<Tried> = two.par_iter().flat_map_iter(|chain| self.thirds(chain)).collect();
            tried.extend(self.by_all(three));
            tried = self.again(tried);
        }
        tried
    }

    /// The best of chains that were judged by some patches, judged by all.
    fn by_all(&self, mut tried: Vec<Tried>) -> Vec<Tried> {
        tried.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        let judged = |t: &Tried| {
            let (front, outs) = parts(&t.faults);
            let through = self.through(&front, Interpolation::Tetrahedral, &self.all);
            self.end(&front, &through, &outs, &self.all)
        };
        tried.par_iter().take(BEST).filter_map(judged).collect()
    }

    /// A chain with one fault more, every one that fits in it.
    fn thirds(&self, chain: &Tried) -> Vec<Tried> {
        let (front, outs) = parts(&chain.faults);
        let mut tried = Vec::new();
        for fault in self.fronts.iter().filter(|f| front.iter().all(|g| is_apart(*g, **f))) {
            let longer: Vec<Fault> = front.iter().copied().chain([*fault]).collect();
            let through = self.through(&longer, Interpolation::Tetrahedral, &self.some);
            tried.extend(self.end(&longer, &through, &outs, &self.some));
        }
        let through = self.through(&front, Interpolation::Tetrahedral, &self.some);
        for out in self.outs.iter().filter(|o| outs.iter().all(|p| p.place() != o.place())) {
            let mut more: Vec<Out> = outs.iter().copied().chain([*out]).collect();
            more.sort_by_key(|o| o.place());
            tried.extend(self.end(&front, &through, &more, &self.some));
        }
        tried
    }

    /// A front with every end after it of up to so many faults in all.
    fn ends(&self, front: &[Fault], most: usize) -> Vec<Tried> {
        let through = self.through(front, Interpolation::Tetrahedral, &self.some);
        let mut tried = vec![self.judge(front.to_vec(), &through, Interpolation::Tetrahedral, &self.some)];
        let left = most - front.len().min(most);
        if left == 0 {
            return tried;
        }
        for (i, a) in self.outs.iter().enumerate() {
            tried.extend(self.end(front, &through, &[*a], &self.some));
            if left > 1 {
                let others = self.outs[..i].iter().filter(|b| b.place() != a.place());
                tried.extend(others.filter_map(|b| self.end(front, &through, &[*b, *a], &self.some)));
            }
        }
        tried
    }

    /// What comes out of the cube for every patch of a view.
    fn through(&self, front: &[Fault], interpolation: Interpolation, view: &View) -> Vec<Rgb> {
        self.bank.captured(front, interpolation, &view.signals)
    }

    /// A front with these ends; none where a knob is hardly turned.
    fn end(&self, front: &[Fault], through: &[Rgb], outs: &[Out], view: &View) -> Option<Tried> {
        let mut plain: Vec<Fault> =
            outs.iter().filter_map(|o| if let Out::Plain(c) = o { Some(Fault::Output(*c)) } else { None }).collect();
        let knobs: Vec<Knob> = outs.iter().filter_map(|o| if let Out::Knob(k) = o { Some(*k) } else { None }).collect();
        // Knobs come after all but the eight bits, which are too fine to matter to them.
        let coarse: Vec<Fault> =
            plain.iter().copied().filter(|f| !matches!(f, Fault::Output(Change::Eight(_)))).collect();
        let before = after(&coarse, through);
        let amounts = fitted(&knobs, &before, &view.measured)?;
        plain.extend(knobs.iter().zip(amounts).map(|(k, amount)| Fault::Output(k.change(amount))));
        let given = after(&plain, through);
        let faults = front.iter().copied().chain(plain).collect();
        Some(self.judge(faults, &given, Interpolation::Tetrahedral, view))
    }

    fn judge(&self, mut faults: Vec<Fault>, given: &[Rgb], interpolation: Interpolation, view: &View) -> Tried {
        let count = given.len();
        let mut squares: Vec<f64> = given.iter().zip(&view.measured).map(|(a, b)| square(*a, *b)).collect();
        let counted = count - (count as f64 * WORST) as usize;
        if counted < count {
            squares.select_nth_unstable_by(counted, f64::total_cmp);
        }
        let left = squares[..counted].iter().sum::<f64>() / counted.max(1) as f64;
        let precision = self.precision;
        let knobs = faults.iter().filter(|f| is_knob(**f)).count();
        let price = PRICE * (faults.len() - knobs) as f64 + KNOB * knobs as f64;
        let cost = count as f64 * (ln(left + precision * precision) + price);
        faults.sort_by_key(|f| f.place());
        Tried { faults, interpolation, left, cost }
    }

    /// The best chains once more with the other interpolation, and all of them in order.
    fn again(&self, mut tried: Vec<Tried>) -> Vec<Tried> {
        tried.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        let other = |t: &Tried| {
            let given = self.through(&t.faults, Interpolation::Trilinear, &self.all);
            self.judge(t.faults.clone(), &given, Interpolation::Trilinear, &self.all)
        };
        let is_read = |t: &&Tried| {
            t.interpolation == Interpolation::Tetrahedral
                && !t.faults.contains(&Fault::Nearest)
                && !t.faults.contains(&Fault::Cube(Loaded::None))
        };
        let more: Vec<Tried> = tried.par_iter().take(AGAIN).filter(is_read).map(other).collect();
        tried.extend(more);
        tried.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        tried
    }
}

/// A chain's faults before the cube and at it, and those after it.
fn parts(faults: &[Fault]) -> (Vec<Fault>, Vec<Out>) {
    let front = faults.iter().copied().filter(|f| !matches!(f, Fault::Output(_))).collect();
    let out = |f: &Fault| if let Fault::Output(c) = f { Some(Out::of(*c)) } else { None };
    (front, faults.iter().filter_map(out).collect())
}

pub(super) const fn is_knob(fault: Fault) -> bool {
    matches!(fault, Fault::Output(Change::Saturation(_) | Change::Gain(_) | Change::Lift(_)))
}

/// Whether two faults can be in one chain.
fn is_apart(a: Fault, b: Fault) -> bool {
    // Without a cube nothing is read, and what is before it and what is after it are the same, and called after.
    let reading = |f: Fault| matches!(f, Fault::Nearest | Fault::Points(_) | Fault::Domain | Fault::Input(_));
    let none = |f: Fault| f == Fault::Cube(Loaded::None);
    a.place() != b.place() && !(none(a) && reading(b) || none(b) && reading(a))
}

fn square(a: Rgb, b: Rgb) -> f64 {
    (0..3).map(|c| (a[c] - b[c]) * (a[c] - b[c])).sum::<f64>() / 3.0
}

/// Amounts of one or two knobs, in the order of their places; none where one is hardly turned.
fn fitted(knobs: &[Knob], before: &[Rgb], measured: &[Rgb]) -> Option<Vec<f64>> {
    let mut amounts: Vec<f64> = knobs.iter().map(|k| k.at_rest()).collect();
    let turned = |amounts: &[f64], skip: usize| -> Vec<Rgb> {
        let changes: Vec<Fault> = (0..skip).map(|i| Fault::Output(knobs[i].change(amounts[i]))).collect();
        after(&changes, before)
    };
    match knobs.len() {
        0 => {}
        3.. => return None,
        1 => amounts[0] = knobs[0].fit(before, measured),
        _ => {
            // The second after the first, and the first against what the second, undone, leaves.
            for _ in 0..4 {
                amounts[1] = knobs[1].fit(&turned(&amounts, 1), measured);
                let undone: Vec<Rgb> = measured.iter().map(|v| undone(knobs[1], amounts[1], *v)).collect();
                amounts[0] = knobs[0].fit(before, &undone);
            }
        }
    }
    knobs.iter().zip(&amounts).all(|(k, a)| k.is_fault(*a)).then_some(amounts)
}

fn undone(knob: Knob, amount: f64, rgb: Rgb) -> Rgb {
    match knob {
        // What clipped stays so, and is left out by the fit.
        Knob::Gain => rgb.map(|v| if v > 0.995 { 1.0 } else { v / amount.max(0.1) }),
        Knob::Lift => rgb.map(|v| if !(0.005..0.995).contains(&v) { v } else { v - amount }),
        Knob::Saturation => Change::Saturation(1.0 / amount.max(0.1)).apply(rgb),
    }
}

/// How each interpolation leaves the chain of these faults, as a mean square: tetrahedral, trilinear.
pub(super) fn readings(bank: &Bank, evidence: &Evidence, faults: &[Fault]) -> [f64; 2] {
    let search = Search::bare(bank, evidence);
    [Interpolation::Tetrahedral, Interpolation::Trilinear]
        .map(|kind| search.judge(faults.to_vec(), &search.through(faults, kind, &search.all), kind, &search.all).left)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn knobs_are_fitted_one_and_two_at_a_time() {
        let before: Vec<Rgb> =
            (0..200).map(|i| [0.1 + 0.003 * f64::from(i), 0.2 + 0.0017 * f64::from(i * 7 % 200), 0.5]).collect();
        let turn = |changes: &[Change]| -> Vec<Rgb> {
            let faults: Vec<Fault> = changes.iter().map(|c| Fault::Output(*c)).collect();
            after(&faults, &before)
        };
        let one = fitted(&[Knob::Gain], &before, &turn(&[Change::Gain(1.1)])).unwrap();
        assert!((one[0] - 1.1).abs() < 1e-9);
        let two =
            fitted(&[Knob::Saturation, Knob::Lift], &before, &turn(&[Change::Saturation(0.8), Change::Lift(0.05)]));
        let two = two.unwrap();
        assert!((two[0] - 0.8).abs() < 2e-3 && (two[1] - 0.05).abs() < 1e-3, "{two:?}");
        assert!(fitted(&[Knob::Lift], &before, &turn(&[Change::Lift(0.001)])).is_none());
    }

    #[test]
    fn a_cube_that_is_not_there_is_not_read() {
        let none = Fault::Cube(Loaded::None);
        assert!(!is_apart(none, Fault::Nearest) && !is_apart(Fault::Points(17), none));
        let before = Fault::Input(Change::Clamp);
        assert!(!is_apart(none, before) && is_apart(Fault::Nearest, before));
        assert!(is_apart(Fault::Nearest, Fault::Points(17)) && !is_apart(none, Fault::Cube(Loaded::Twice)));
    }

    #[test]
    fn readings_differ_where_the_cube_bends() {
        let cube = crate::cube::Cube::sample(5, |[r, g, b]| [r * g, g * b, b * r]).unwrap();
        let bank = Bank { cubes: vec![super::super::bank::Candidate::new("bent", None, cube)] };
        let signals: Vec<Rgb> =
            (0..60).map(|i| [0.05 + 0.013 * f64::from(i), 0.9 - 0.01 * f64::from(i), 0.33]).collect();
        let measured = bank.captured(&[], Interpolation::Trilinear, &signals);
        let evidence =
            Evidence { signals, measured, pixels: Vec::new(), precision: 1e-4, is_coarse: false, signal: None };
        let [tetrahedral, trilinear] = readings(&bank, &evidence, &[]);
        assert!(trilinear < 1e-12 && tetrahedral > 1e-6);
    }
}
