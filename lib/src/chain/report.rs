//! The report of captures: for people in sentences, for programs as JSON.

use super::bank::Bank;
use super::depth::Signal;
use super::explain::{Chain, Evidence, Explanation, explain};
use super::find::Lost;
use super::model::{Change, Fault};
use super::origin::Origin;
use super::photo::{self, photograph};
use super::read::{Reading, SLANT};
use super::words;
use crate::cube::Interpolation;
use crate::difference::{Difference, Statistics};
use schemars::JsonSchema;
use serde::Serialize;

/// Version of the report's shape.
pub const SCHEMA: u32 = 1;

/// The report of a run.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Report {
    /// Version of this shape: 1.
    pub schema: u32,
    /// The cube that should be in the chain, by name.
    pub expected: String,
    /// Its show, look, revision, camera and display.
    pub origin: Origin,
    /// Points along each edge of that cube.
    pub points: usize,
    /// Unit of the differences: ciede2000 or delta-e-itp.
    pub difference: String,
    /// Each capture, in the order given.
    pub captures: Vec<Capture>,
}

/// A verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// As it should be.
    Right,
    /// Something is wrong.
    Wrong,
    /// The capture cannot be judged.
    Unknown,
}

/// A capture.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Capture {
    /// Its name, such as that of the box it comes from.
    pub label: String,
    /// The file.
    pub file: String,
    /// The verdict.
    pub verdict: Verdict,
    /// The verdict in a sentence or two.
    pub summary: String,
    /// What to do, in order.
    pub help: Vec<String>,
    /// Its faults.
    pub faults: Vec<FaultRecord>,
    /// The interpolation of the box, if the capture shows it: tetrahedral or trilinear.
    pub interpolation: Option<String>,
    /// Bits of a sample of the capture.
    pub bits: Option<u8>,
    /// Bits of the signal, 8, 10 or 12, if its pixels use the codes of fewer bits than the capture has.
    pub signal_bits: Option<u8>,
    /// Whether the signal of those bits is dithered, or was noisy before it was rounded.
    pub dithered: Option<bool>,
    /// Sampling of colour: 4:4:4, 4:2:2 or 4:2:0.
    pub chroma: Option<String>,
    /// The next best explanation.
    pub second: Option<Second>,
    /// Differences of the capture from the right chain.
    pub off: Option<Figures>,
    /// Differences of the capture from the explanation.
    pub unexplained: Option<Figures>,
    /// What the chart says of itself.
    pub chart: Option<Chart>,
    /// Where the chart was found.
    pub found: Option<Found>,
    /// Further notes, in sentences.
    pub notes: Vec<String>,
    /// The patches, for pages; JSON does not have them.
    #[serde(skip)]
    #[schemars(skip)]
    pub read: Option<Box<Read>>,
}

/// The data that a page draws from a capture.
#[derive(Debug, Clone, PartialEq)]
pub struct Read {
    /// The capture, read.
    pub reading: Reading,
    /// The captured and the expected signal, patch by patch of [`Reading::flat`].
    pub given: Vec<[f64; 3]>,
    /// What the right chain gives.
    pub wanted: Vec<[f64; 3]>,
    /// Differences from the right chain.
    pub off: Vec<f64>,
}

/// A fault.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FaultRecord {
    /// A stable name: `input-` and `output-` before and after the cube, such as `input-range-stretched`; `picture-` for a
    /// picture that is turned; others are at the cube.
    pub key: String,
    /// In words.
    pub what: String,
    /// The setting of a knob: saturation or gain (1 changes nothing), lift (signal, 0 changes nothing).
    pub amount: Option<f64>,
}

/// The next best explanation.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Second {
    /// Its faults; empty for the right chain.
    pub faults: Vec<FaultRecord>,
    /// How many times the difference of the best explanation it leaves (root mean square in signal).
    pub times: f64,
}

/// Differences.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Figures {
    /// Mean.
    pub mean: f64,
    /// The difference that 99 of 100 patches do not exceed.
    pub p99: f64,
    /// The largest.
    pub max: f64,
    /// Column and row of the patch with the largest, from 1.
    pub worst: [usize; 2],
}

/// The mark of a chart.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Chart {
    /// The cube that it is for; null if only the number could be read.
    pub name: Option<String>,
    /// Its number.
    pub number: String,
    /// Whether both readings agree; null if one of them failed.
    pub agree: Option<bool>,
}

/// Where the chart was found.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Found {
    /// Pixels of the capture, across and down.
    pub size: [usize; 2],
    /// Upper left corner of the chart as it lies in the capture, pixels.
    pub corner: [f64; 2],
    /// Pixels of the chart in the capture, across and down.
    pub chart: [f64; 2],
    /// 1 where the capture is as sharp as the chart.
    pub sharpness: f64,
    /// Mirrored left to right, upside down.
    pub flipped: [bool; 2],
}

/// The JSON Schema of the report.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(Report).to_value()
}

/// If a grey differs by more than this over the picture, in signal, the light is uneven.
const UNEVEN: f64 = 0.03;

/// A mean difference that heavy compression alone can cause: up to it, the right chain is not called wrong.
const BLURRED_BY_CODING: f64 = 2.0;

/// The verdict on a capture that the user calls `label`; `is_photo` where another camera took it of a screen.
pub fn judge(
    [label, file]: [&str; 2],
    read: Result<Reading, Lost>,
    bank: &Bank,
    difference: &Difference,
    is_photo: bool,
) -> Capture {
    let mut capture = Capture {
        label: label.to_owned(),
        file: file.to_owned(),
        verdict: Verdict::Unknown,
        summary: String::new(),
        help: Vec::new(),
        faults: Vec::new(),
        interpolation: None,
        bits: None,
        signal_bits: None,
        dithered: None,
        chroma: None,
        second: None,
        off: None,
        unexplained: None,
        chart: None,
        found: None,
        notes: Vec::new(),
        read: None,
    };
    let reading = match read {
        Ok(reading) => reading,
        Err(lost) => {
            let (why, help) = said(lost);
            capture.summary = format!("It cannot be judged: {why}.");
            capture.help.push(help.to_owned());
            return capture;
        }
    };
    describe(&mut capture, &reading, bank);
    if is_photo || reading.slant > SLANT || reading.uneven > UNEVEN {
        photographed(&mut capture, &reading, bank, is_photo);
    } else {
        explained(&mut capture, reading, bank, difference);
    }
    capture
}

/// Notes on a reading beside its colours.
fn describe(capture: &mut Capture, reading: &Reading, bank: &Bank) {
    let [left, top] = reading.place.at([0.0, 0.0]);
    let [right, bottom] = reading.place.at([super::layout::ACROSS, super::layout::DOWN]);
    capture.bits = reading.bits;
    capture.signal_bits = reading.signal.map(|s| s.bits);
    capture.dithered = reading.signal.map(|s| s.dithered);
    capture.chroma = reading.chroma.map(|c| c.name().to_owned());
    capture.found = Some(Found {
        size: reading.size,
        corner: [left.min(right), top.min(bottom)],
        chart: [(right - left).abs(), (bottom - top).abs()],
        sharpness: reading.sharpness,
        flipped: reading.flipped,
    });
    let number = reading.mark.as_ref().map(|m| m.number).or(reading.number);
    capture.chart = number.map(|number| Chart {
        name: reading.mark.as_ref().map(|m| m.name.clone()),
        number: number.digits(),
        agree: reading.mark.as_ref().zip(reading.number).map(|(m, n)| m.number == n),
    });
    let notes = &mut capture.notes;
    match (&capture.chart, number) {
        (None, _) => notes.push("Neither the bar code nor the printed number could be read.".to_owned()),
        (Some(Chart { agree: Some(false), .. }), _) => {
            notes.push("The bar code and the printed number differ: the picture may be of two charts.".to_owned());
        }
        (Some(chart), Some(number)) if number != super::mark::Number::of(&bank.expected().name) => {
            let of = chart.name.clone().unwrap_or_else(|| format!("number {}", chart.number));
            notes.push(format!(
                "The chart was drawn for {of}; it is compared with {}. If the older cube may be in the chain, give it by --with.",
                bank.expected().name
            ));
        }
        _ => {}
    }
}

fn said(lost: Lost) -> (String, &'static str) {
    match lost {
        Lost::Flat => (
            "the picture is almost one tone".to_owned(),
            "Check that the chart plays, and that the capture is of this input.",
        ),
        Lost::Marks(n) => (
            format!("the chart was not found: {n} of its 4 corner marks were"),
            "Capture the whole chart, with all four corners; overlays must not cover them.",
        ),
        Lost::Corners => (
            "corner marks were found, but not as the corners of one chart".to_owned(),
            "Show one chart alone in the capture, the right way up.",
        ),
        Lost::Blurred => (
            "the chart is too blurred or too small".to_owned(),
            "Capture it at its own size: a quarter of the size of the smallest chart is the least.",
        ),
    }
}

/// The report of a photograph of a screen.
fn photographed(capture: &mut Capture, reading: &Reading, bank: &Bank, is_photo: bool) {
    if let Some(said) = words::turned(reading.flipped) {
        capture.notes.push(format!("{}, or the photograph is.", said.what));
    }
    let why = if is_photo {
        "it is a photograph of a screen"
    } else if reading.slant > SLANT {
        "the chart is at an angle, as in a photograph of a screen"
    } else {
        "one grey differs over the picture, as in a photograph of a screen"
    };
    capture.summary = format!("It cannot be judged: {why}, which does not show colours.");
    let photo = photograph(reading);
    let order = match photo.disordered {
        0 => "Greys are in the right order.".to_owned(),
        n => format!(
            "{n} of {} greys are darker than the grey of the next lower code. Uneven light in the photograph can do this, and so \
             can a false colour or a broken cube.",
            photo.greys
        ),
    };
    capture.notes.push(order);
    if let (Some(low), Some(high)) = (photo.lowest, photo.highest) {
        let right = photo::right(bank);
        let mut said = format!("Steps of grey can be told apart from code {low} to {high}");
        if let (Some(low), Some(high)) = (right.lowest, right.highest) {
            said += &format!(", in the right picture from {low} to {high}");
        }
        capture.notes.push(format!(
            "{said}. If the photograph has fewer, that can be a clipped monitor, or the photograph itself. If it has more, that is \
             noise or uneven light, and proves nothing."
        ));
        capture.notes.extend(photo.clipped(&right).map(|what| format!("{what}.")));
    }
    capture.help.push("Capture the signal itself: by a recorder, a loop output or a screen grab.".to_owned());
    capture.help.push("Without any of them, play the display chart and read it by eye.".to_owned());
}

fn explained(capture: &mut Capture, reading: Reading, bank: &Bank, difference: &Difference) {
    let evidence = Evidence::of(&reading);
    let found = explain(bank, &evidence, difference);
    let figures = |differences: &[f64]| {
        let s = Statistics::of(differences);
        let worst = reading.flat().nth(s.worst).map_or([0, 0], |m| [m.patch.column + 1, m.patch.row + 1]);
        Figures { mean: s.mean, p99: s.p99, max: s.max, worst }
    };
    let (off, unexplained) = (figures(&found.off), figures(&found.unexplained));
    capture.off = Some(off);
    capture.unexplained = Some(unexplained);
    capture.interpolation = found.interpolation.map(|i: Interpolation| i.name().to_owned());
    capture.second = found.second.as_ref().map(|second| Second {
        faults: records(second, bank),
        // Below the precision of reading, no explanation is better than another.
        times: (second.left.max(evidence.precision) / found.best.left.max(evidence.precision)).max(1.0),
    });
    verdict(capture, &found, bank, reading.signal, [off, unexplained]);
    if let Some(said) = words::turned(reading.flipped) {
        turned(capture, said);
    }
    let is_eight = |f: &FaultRecord, side: &str| f.key == format!("{side}-8-bits");
    if capture.faults.iter().any(|f| is_eight(f, "output")) && !capture.faults.iter().any(|f| is_eight(f, "input")) {
        let hidden = "The 8 bits after the cube hide whether 8 bits with dither reach the cube, too.";
        capture.notes.push(hidden.to_owned());
    }
    if reading.bits.is_some_and(|bits| bits < 10) {
        capture.notes.push("The capture has 8 bits: whether the chain has more, it does not say.".to_owned());
    }
    capture.read = Some(Box::new(Read { reading, given: found.given, wanted: found.wanted, off: found.off }));
}

fn verdict(
    capture: &mut Capture,
    found: &Explanation,
    bank: &Bank,
    signal: Option<Signal>,
    [off, unexplained]: [Figures; 2],
) {
    let difference = format!("Difference from the right picture: {:.1} mean, {:.1} at most", off.mean, off.max);
    capture.faults = records(&found.best, bank);
    let said: Vec<words::Said> = found.best.faults.iter().map(|f| words::fault(*f, bank)).collect();
    if !found.fits && said.is_empty() && unexplained.mean <= BLURRED_BY_CODING {
        capture.summary = format!(
            "It cannot be judged: no fault fits, and the remaining difference is one that heavy compression can cause. {difference}."
        );
        capture.help.push("Capture it with less compression: a still, or an intra-only codec of 10 bits.".to_owned());
        return;
    }
    if !found.fits {
        capture.verdict = Verdict::Wrong;
        let mut summary = "Something is wrong that none of the known faults explains.".to_owned();
        if let Some(first) = said.first() {
            summary += &format!(" Nearest to it: {}", lower(&first.what));
            said[1..].iter().for_each(|s| summary += &format!("; {}", lower(&s.what)));
            summary += &format!(" (which leaves {:.1} mean).", unexplained.mean);
        }
        capture.summary = format!("{summary} {difference}.");
        capture.faults.clear();
        capture.help.push("Take boxes out of the chain one by one, and check each.".to_owned());
        capture.help.push("Give cubes that may be loaded: --with FOLDER.".to_owned());
        return;
    }
    if said.is_empty() {
        capture.verdict = Verdict::Right;
        let fine = if off.max <= 3.0 { "fine for judging by eye" } else { "fine but for the patch named below" };
        let sound = words::sound(capture.interpolation.as_deref(), capture.bits, signal);
        capture.summary = format!("{sound}. Difference left: {:.1} mean, {:.1} at most: {fine}.", off.mean, off.max);
        return;
    }
    capture.verdict = Verdict::Wrong;
    let what: Vec<&str> = said.iter().map(|s| s.what.as_str()).collect();
    capture.summary = format!("{}. {difference}.", what.join(". "));
    for s in said {
        if !capture.help.contains(&s.help) {
            capture.help.push(s.help);
        }
    }
}

/// Adds the fault that the picture is turned, which is independent of its colours.
fn turned(capture: &mut Capture, said: words::Said) {
    let words::Said { key, what, help } = said;
    let rest = match capture.verdict {
        Verdict::Right => format!("All else is as it should be: {}", lower(&capture.summary)),
        Verdict::Wrong | Verdict::Unknown => capture.summary.clone(),
    };
    capture.summary = format!("{what}. {rest}");
    capture.verdict = Verdict::Wrong;
    capture.faults.push(FaultRecord { key, what, amount: None });
    capture.help.push(help);
}

fn lower(text: &str) -> String {
    let mut characters = text.chars();
    characters.next().map_or_else(String::new, |c| c.to_lowercase().chain(characters).collect())
}

fn records(chain: &Chain, bank: &Bank) -> Vec<FaultRecord> {
    let record = |fault: &Fault| {
        let words::Said { key, what, .. } = words::fault(*fault, bank);
        let amount = match fault {
            Fault::Output(Change::Saturation(v) | Change::Gain(v) | Change::Lift(v)) => Some(*v),
            _ => None,
        };
        FaultRecord { key, what, amount }
    };
    chain.faults.iter().map(record).collect()
}
