//! Many chains drawn by seed, checked, and what each was taken for.

use crate::chain::{KINDS, Truth, Way, capture, captured, chart_of, fault, given};
use crate::demo;
use crate::sensor::Draw;
use rayon::prelude::*;
use rushlight::chain::bank::{Bank, Candidate};
use rushlight::chain::explain::{Evidence, Explanation, FINE, explain};
use rushlight::chain::model::{Change, Fault, Loaded};
use rushlight::chain::patches::{STOPS, patches};
use rushlight::chain::read::read;
use rushlight::cube::Cube;
use rushlight::difference::Difference;
use rushlight::frame::Frame;
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// The cubes of a package: the right one, another look, another camera, another display, an older revision, an exposure cube.
pub struct Stage {
    /// The cubes, the right one first.
    pub cubes: Vec<Cube>,
    /// The same for the check.
    pub bank: Bank,
    /// The chart.
    pub chart: Frame,
    /// Signals of its patches.
    pub signals: Vec<[f64; 3]>,
    /// Differences on the display.
    pub difference: Difference,
}

/// The name of the right cube.
pub const NAME: &str = "saltmarsh_night_r3_a_onset_33";

/// The demo, once.
///
/// # Panics
/// When the demo is broken.
pub fn stage() -> &'static Stage {
    static STAGE: OnceLock<Stage> = OnceLock::new();
    STAGE.get_or_init(|| {
        let show = demo::show();
        let of = |look: &str, camera: &str, display: &str| {
            show.pipeline(look, camera, display).expect("a path").cube(33).expect("a cube")
        };
        let older = demo::older();
        let mut cubes = vec![of("night", "a", "onset"), of("day", "a", "onset"), of("night", "b", "onset")];
        cubes.push(of("night", "a", "hdr"));
        cubes.push(older.pipeline("night", "a", "onset").expect("a path").cube(33).expect("a cube"));
        let names = [NAME, "day_a_onset", "night_b_onset", "night_a_hdr", "night_r2_a_onset"];
        let bank = Bank { cubes: cubes.iter().zip(names).map(|(c, n)| Candidate::new(n, None, c.clone())).collect() };
        let chart = chart_of(&show, NAME, [960, 540]);
        let all = patches(&[400; STOPS]);
        let signals = all.iter().filter(|p| p.kind.is_flat()).map(|p| p.signal()).collect();
        let difference = Difference::on(&show.displays()["onset"].item);
        Stage { cubes, bank, chart, signals, difference }
    })
}

/// Root mean square between two chains over the patches.
fn apart(one: &[Fault], two: &[Fault], way: Way) -> f64 {
    let s = stage();
    let square = |signal: &[f64; 3]| {
        let (a, b) = (given(&s.cubes, one, way, *signal), given(&s.cubes, two, way, *signal));
        (0..3).map(|c| (a[c] - b[c]) * (a[c] - b[c])).sum::<f64>() / 3.0
    };
    (s.signals.iter().map(square).sum::<f64>() / s.signals.len() as f64).sqrt()
}

/// Mean difference of a chain from the right one, CIEDE2000.
pub fn off(faults: &[Fault], way: Way) -> f64 {
    let s = stage();
    let one = |signal: &[f64; 3]| {
        let [a, b] = [given(&s.cubes, faults, way, *signal), given(&s.cubes, &[], way, *signal)];
        s.difference.between(s.difference.place(a), s.difference.place(b))
    };
    s.signals.iter().map(one).sum::<f64>() / s.signals.len() as f64
}

fn key(fault: &Fault) -> String {
    let side = |c: &Change| format!("{c:?}").split('(').next().unwrap_or_default().to_lowercase();
    match fault {
        Fault::Input(c) => format!("input {}", side(c)),
        Fault::Output(c) => format!("output {}", side(c)),
        Fault::Cube(Loaded::None) => "no cube".to_owned(),
        Fault::Cube(Loaded::Twice) => "cube twice".to_owned(),
        Fault::Cube(Loaded::Other(_)) => "other cube".to_owned(),
        Fault::Cube(Loaded::Before(_)) => "cube before".to_owned(),
        Fault::Nearest => "nearest".to_owned(),
        Fault::Points(_) => "fewer points".to_owned(),
        Fault::Domain => "domain".to_owned(),
    }
}

/// What two faults do that is less than this, no capture tells: root mean square in signal.
const SEEN: f64 = 0.003;

/// The same for what only a capture of ten bits tells at all.
const SEEN_FINELY: f64 = 7e-4;

/// Eight bits somewhere, and fewer points: a capture of eight bits hides them.
fn is_fine(fault: &Fault) -> bool {
    matches!(fault, Fault::Output(Change::Eight(_)) | Fault::Input(Change::Eight(_)) | Fault::Points(_))
}

/// A chain of so many faults, each of which can be seen beside the others.
fn truth(seed: u64, count: usize) -> Truth {
    let s = stage();
    let mut draw = Draw::new(seed);
    let way = if draw.unit() < 0.5 { Way::Tetrahedra } else { Way::Corners };
    loop {
        let mut faults: Vec<Fault> = Vec::new();
        while faults.len() < count {
            let kind = ((draw.unit() * KINDS as f64).ceil() as usize).clamp(1, KINDS) - 1;
            faults.push(fault(&mut draw, kind, s.cubes.len()));
        }
        let mut capture = capture(&mut draw);
        if faults.iter().any(is_fine) {
            // A capture that is as coarse itself hides it.
            (capture.bits, capture.quarter, capture.noise) = (capture.bits.max(10), false, capture.noise.min(0.001));
        }
        let none = faults.contains(&Fault::Cube(Loaded::None));
        let clear = |f: &Fault| match f {
            // Without a cube there is no before and after, and nothing is read.
            Fault::Input(_) | Fault::Nearest | Fault::Points(_) => !none,
            _ => true,
        };
        let places = count < 2 || faults[0].place() != faults[1].place();
        let seen = (0..count).all(|i| {
            let rest: Vec<Fault> = faults.iter().enumerate().filter(|(j, _)| *j != i).map(|(_, f)| *f).collect();
            apart(&faults, &rest, way) > if is_fine(&faults[i]) { SEEN_FINELY } else { SEEN }
        });
        if places && seen && faults.iter().all(clear) {
            return Truth { faults, way, capture };
        }
    }
}

fn checked(truth: &Truth, seed: u64) -> Explanation {
    let s = stage();
    let frame = captured(&s.chart, &s.cubes, truth, &mut Draw::new(seed ^ 0xfeed));
    let reading = read(&frame).unwrap_or_else(|lost| panic!("seed {seed}: {lost:?}, {truth:?}"));
    explain(&s.bank, &Evidence::of(&reading), &s.difference)
}

/// Every fault is named, and none besides.
fn is_named(truth: &Truth, found: &Explanation) -> bool {
    let all = |a: &[Fault], b: &[Fault]| a.iter().all(|f| b.iter().any(|g| g.is_like(*f)));
    all(&truth.faults, &found.best.faults) && all(&found.best.faults, &truth.faults)
}

/// What became of many chains.
pub struct Confusion {
    /// Chains.
    pub count: usize,
    /// Those whose every fault was named, and none besides.
    pub named: usize,
    /// Of each truth: how often it was drawn, how often it was named right, and what else it was taken for.
    pub rows: BTreeMap<String, (usize, usize, BTreeMap<String, usize>)>,
    /// Chains off by more than CIEDE2000 1 in the mean that were called right.
    pub fine: Vec<String>,
    /// What went wrong, a chain a line.
    pub wrong: Vec<String>,
}

impl Confusion {
    /// The share that is named right.
    pub fn share(&self) -> f64 {
        self.named as f64 / self.count as f64
    }
}

impl std::fmt::Display for Confusion {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        writeln!(f, "{} of {} named right ({:.1} %)", self.named, self.count, 100.0 * self.share())?;
        writeln!(f, "{:44} {:>5} {:>5}  taken for", "truth", "drawn", "right")?;
        for (truth, (count, right, others)) in &self.rows {
            let others: Vec<String> = others.iter().map(|(name, n)| format!("{name} ({n})")).collect();
            writeln!(f, "{}", format!("{truth:44} {count:5} {right:5}  {}", others.join(", ")).trim_end())?;
        }
        Ok(())
    }
}

fn names(faults: &[Fault]) -> String {
    let mut names: Vec<String> = faults.iter().map(key).collect();
    names.sort();
    if names.is_empty() { "right".to_owned() } else { names.join(" + ") }
}

/// Chains of so many faults by these seeds, checked.
pub fn confusion(seeds: &[u64], faults: usize) -> Confusion {
    // Made before the work of many threads begins: within it, threads could wait for each other without end.
    stage();
    let run = |seed: &u64| {
        let truth = truth(*seed, faults);
        let found = checked(&truth, *seed);
        (*seed, truth, found)
    };
    let all: Vec<_> = seeds.par_iter().map(run).collect();
    let (mut rows, mut fine, mut wrong, mut named) = (BTreeMap::new(), Vec::new(), Vec::new(), 0);
    for (seed, truth, found) in &all {
        let is_right = is_named(truth, found);
        let row: &mut (usize, usize, BTreeMap<String, usize>) = rows.entry(names(&truth.faults)).or_default();
        row.0 += 1;
        if is_right {
            row.1 += 1;
            named += 1;
        } else {
            *row.2.entry(names(&found.best.faults)).or_default() += 1;
            let (best, second) = (&found.best, &found.second);
            wrong.push(format!("{seed}: {truth:?}\n    taken for {best:?}\n    then {second:?}"));
        }
        let measured = found.off.iter().sum::<f64>() / found.off.len() as f64;
        if best_is_right(found) && measured <= FINE && off(&truth.faults, truth.way) > FINE {
            fine.push(format!("{seed}: {truth:?}"));
        }
    }
    Confusion { count: seeds.len(), named, rows, fine, wrong }
}

fn best_is_right(found: &Explanation) -> bool {
    found.best.faults.is_empty()
}
