//! The card of a camera, to tape to it: A6, a ruler of its signal with the stops of each rating above each other.

use super::Study;
use crate::drawing::{Anchor, Canvas, Drawing, Paint, Text, Unit, theme};
use crate::failure::Failure;
use crate::output::short;
use rushlight::exposure::{Level, Limit, Mark, StopTable};
use rushlight::show::Measured;

/// A6, lying, in millimetres.
const WIDTH: f64 = 148.0;
const HEIGHT: f64 = 105.0;
const MARGIN: f64 = 6.0;
/// The ruler: from its left end to its right one.
const LEFT: f64 = 28.0;
const RIGHT: f64 = 107.0;
/// Where the numbers of stops over and under end.
const ABOVE: f64 = RIGHT + 10.0;
const BELOW: f64 = RIGHT + 21.5;
/// The rows of the ratings: from the top of the first to the bottom of the last at most, and a row's height.
const TOP: f64 = 25.0;
const BOTTOM: f64 = 72.0;
const TALLEST: f64 = 30.0;
const LOWEST: f64 = 5.2;
/// The least space between the middles of two numbers of a row.
const APART: f64 = 3.0;

/// Text of a size in millimetres; none is smaller than 2.3, six and a half points.
const fn set(size: f64) -> Text<'static> {
    Text { size, ..Text::PLAIN }
}

const SMALL: Text<'static> = Text { colour: theme::QUIET, ..set(2.3) };
const BODY: Text<'static> = set(2.7);
const STRONG: Text<'static> = Text { bold: true, ..set(3.2) };
/// Numbers of stops along a ruler: as large as its height allows.
fn numbers(row: f64) -> f64 {
    (row / 5.0).clamp(2.3, 2.7)
}

/// The card of one camera.
pub(super) fn card(show: &str, study: &Study<'_>, highlight: f64, margin: f64) -> Result<Drawing, Failure> {
    let tables = &study.tables;
    let row = ((BOTTOM - TOP) / tables.len() as f64).min(TALLEST);
    if row < LOWEST {
        let most = ((BOTTOM - TOP) / LOWEST).floor();
        let message = format!("--out: {} ratings: a card has room for {most}; choose one with --ei", tables.len());
        return Err(Failure::new(message));
    }
    let mut canvas = Canvas::new(&format!("Stops of {}", study.label), WIDTH, HEIGHT, Unit::Mm);
    let title = if study.label == study.name { format!("Camera {}", study.name) } else { study.label.to_owned() };
    let heading = Text { bold: true, ..set(5.0) };
    let beside = SMALL.width_of(show) + 4.0;
    canvas.text([MARGIN, 10.5], &heading.cut(&title, WIDTH - 2.0 * MARGIN - beside), &heading);
    canvas.text([WIDTH - MARGIN, 10.5], show, &SMALL.anchor(Anchor::End));
    canvas.text([MARGIN, 15.2], &BODY.cut(&study.terms, WIDTH - 2.0 * MARGIN), &BODY.colour(theme::QUIET));
    let scale = Scale::of(tables);
    let end = TOP + row * tables.len() as f64;
    rule(&mut canvas, &scale, end);
    canvas.text([ABOVE, TOP - 2.2], "over", &SMALL.anchor(Anchor::End));
    canvas.text([BELOW, TOP - 2.2], "under", &SMALL.anchor(Anchor::End));
    canvas.text([WIDTH - MARGIN - 1.6, TOP - 2.2], "open up", &SMALL.anchor(Anchor::End));
    for (i, table) in tables.iter().enumerate() {
        rating(&mut canvas, &scale, table, TOP + row * i as f64, row);
    }
    foot(&mut canvas, study, highlight, margin);
    Ok(canvas.finish())
}

/// Signal along the ruler.
struct Scale {
    low: f64,
    high: f64,
}

impl Scale {
    /// From the lowest floor to the highest clip, to whole tenths of the signal.
    fn of(tables: &[StopTable]) -> Self {
        let low = tables.iter().map(|t| t.floor.signal).fold(f64::INFINITY, f64::min);
        let high = tables.iter().map(|t| t.clip.signal).fold(0.0, f64::max);
        let tenth = |v: f64| v * 10.0;
        Self { low: ((tenth(low) + 0.2).floor() / 10.0).min(low), high: (tenth(high) - 1e-9).ceil() / 10.0 }
    }

    fn x(&self, signal: f64) -> f64 {
        LEFT + (RIGHT - LEFT) * (signal - self.low) / (self.high - self.low)
    }
}

/// The scale of the signal: percent above, code values of 10 bits below.
fn rule(canvas: &mut Canvas, scale: &Scale, end: f64) {
    let grid = Paint::stroke(theme::GRID, 0.2);
    let middle = SMALL.anchor(Anchor::Middle);
    for percent in (0..=100).step_by(10) {
        let signal = f64::from(percent) / 100.0;
        if signal < scale.low - 1e-9 || signal > scale.high + 1e-9 {
            continue;
        }
        let x = scale.x(signal);
        canvas.line([x, TOP - 1.2], [x, end + 1.2], &grid);
        canvas.text([x, TOP - 2.2], &format!("{percent}"), &middle);
    }
    canvas.text([MARGIN, TOP - 2.2], "% of full", &SMALL);
    let (first, last) = ((scale.low * 1023.0 / 100.0).ceil() as u32, (scale.high * 1023.0 / 100.0).floor() as u32);
    for hundred in first..=last {
        let x = scale.x(f64::from(hundred) * 100.0 / 1023.0);
        canvas.line([x, end], [x, end + 1.2], &Paint::stroke(theme::FRAME, 0.2));
        canvas.text([x, end + 3.8], &format!("{}", hundred * 100), &middle);
    }
    canvas.text([MARGIN, end + 3.8], "10 bits", &SMALL);
}

fn signed(stops: f64, decimals: usize) -> String {
    let said = format!("{:+.decimals$}", stops);
    said.replace('-', "\u{2212}")
}

/// The mark of a number that was not measured.
fn star(limit: Limit) -> &'static str {
    match limit {
        Limit::Rating => "",
        Limit::Extrapolated => "+",
        Limit::Curve => "*",
    }
}

/// One rating: its ruler from the floor to the clip.
fn rating(canvas: &mut Canvas, scale: &Scale, table: &StopTable, y: f64, row: f64) {
    let (top, bottom) = (y + 0.5, y + row - 0.9);
    let base = bottom - (bottom - top) / 2.0 + 1.1;
    let ei = table.ei.map_or_else(|| "not rated".to_owned(), |ei| format!("EI {}", short(ei)));
    canvas.text([MARGIN, base], &ei, &STRONG);
    let at = |level: Level| scale.x(level.signal);
    let (floor, grey, clip) = (at(table.floor), at(table.grey), at(table.clip));
    canvas.rect([floor, top], [grey - floor, bottom - top], &Paint::fill(theme::DARK_HALF));
    canvas.rect([grey, top], [clip - grey, bottom - top], &Paint::fill(theme::LIGHT_HALF));
    canvas.rect([floor, top], [clip - floor, bottom - top], &Paint::stroke(theme::INK, 0.25));
    // A clip that was measured is a heavy end; where the curve merely ends, a broken line.
    let dash: &[f64] = if table.clip_from == Limit::Curve { &[0.8, 0.6] } else { &[] };
    canvas.line([clip, top - 0.3], [clip, bottom + 0.3], &Paint { dash, ..Paint::stroke(theme::INK, 0.9) });
    let whole = |stops: f64| (stops - stops.round()).abs() < 1e-9;
    let mut steps: Vec<&Level> = table
        .rows
        .iter()
        .filter(|r| matches!(r.mark, None | Some(Mark::Grey | Mark::Skin)))
        .map(|r| &r.level)
        .collect();
    for level in &steps {
        let x = scale.x(level.signal);
        let (length, width) = if level.stops == 0.0 {
            (bottom - top, 0.5)
        } else if whole(level.stops) {
            (1.3, 0.25)
        } else {
            (0.7, 0.15)
        };
        canvas.line([x, bottom - length], [x, bottom], &Paint::stroke(theme::INK, width));
    }
    // The white, as a tick from above.
    let white = at(table.white);
    if table.white.stops < table.clip.stops {
        canvas.line([white, top], [white, top + 1.3], &Paint::stroke(theme::INK, 0.35));
    }
    // Numbers from mid-grey outward, as long as they stand apart.
    steps.retain(|level| whole(level.stops));
    steps.sort_by(|a, b| a.stops.abs().total_cmp(&b.stops.abs()));
    let mut placed: Vec<f64> = Vec::new();
    let size = numbers(row);
    let number = Text { anchor: Anchor::Middle, ..set(size) };
    // The floor has a number too, in front of the ruler; the clip's is in the column beside.
    let lowest = format!("{}{}", signed(table.floor.stops, 1), star(table.floor_from));
    canvas.text([floor - 0.8, bottom - 0.6], &lowest, &SMALL.anchor(Anchor::End));
    let apart = APART * size / 2.3;
    for level in steps {
        let x = scale.x(level.signal);
        let inside = x - floor > apart / 2.0 && clip - x > apart / 2.0 + 0.4;
        if inside && placed.iter().all(|p| (p - x).abs() >= apart) && level.stops != 0.0 {
            canvas.text([x, bottom - 1.9], &signed(level.stops, 0), &number);
            placed.push(x);
        } else if level.stops == 0.0 {
            placed.push(x);
        }
    }
    let beside = |canvas: &mut Canvas, x: f64, value: String, limit: &str| {
        canvas.text([x, base], &value, &BODY.anchor(Anchor::End));
        canvas.text([x + 0.3, base], limit, &BODY);
    };
    beside(canvas, ABOVE, format!("{:.1}", table.above), star(table.clip_from));
    beside(canvas, BELOW, format!("{:.1}", table.below), star(table.floor_from));
    beside(canvas, WIDTH - MARGIN - 1.6, signed(table.open_up, 1), star(table.clip_from));
}

/// Mid-grey, skin and white in numbers, and what the signs mean.
fn foot(canvas: &mut Canvas, study: &Study<'_>, highlight: f64, margin: f64) {
    let tables = &study.tables[..];
    let (head, x) = (SMALL.anchor(Anchor::End), [54.0, 74.0, 94.0, 114.0]);
    for (x, said) in x.into_iter().zip(["% of full", "% of legal", "10 bits", "12 bits"]) {
        canvas.text([x, 80.2], said, &head);
    }
    let first = &tables[0];
    for (i, (said, level)) in
        [("Mid-grey", first.grey), ("Skin, +1", first.skin), ("White, 90 %", first.white)].into_iter().enumerate()
    {
        let y = 83.8 + 3.6 * i as f64;
        let bold = Text { bold: i == 0, ..BODY };
        canvas.text([MARGIN, y], said, &bold);
        let values = [
            format!("{:.1}", level.percent_full),
            format!("{:.1}", level.percent_legal),
            format!("{:.0}", level.code_10),
            format!("{:.0}", level.code_12),
        ];
        for (x, value) in x.into_iter().zip(values) {
            canvas.text([x, y], &value, &bold.anchor(Anchor::End));
        }
    }
    let free = if margin > 0.0 { format!(", {} headroom", short(margin)) } else { String::new() };
    let mut said = format!(
        "Line in the middle: mid-grey. Short tick at the top edge: white of 90 %. Thick bar at the right end: clip. Left end: \
         floor. Open up: how many stops you can open until a highlight, {} stops from grey, clips{free}. ",
        signed(highlight, 1)
    );
    // What is on the card: the exposure. All frames and checksums stand in the sheet.
    let measured: Vec<&Measured> = study.measured.iter().filter(|m| m.what.starts_with("exposure")).collect();
    if let Some((name, _)) = measured.iter().find_map(|m| m.frames.first_key_value()) {
        let titles: Vec<String> = measured.iter().map(|m| m.title()).collect();
        let count: usize = measured.iter().map(|m| m.frames.len()).sum();
        let by = if count > 1 { format!("{count} frames, the first {name}") } else { name.clone() };
        said.push_str(&format!("Measured: {}; by {by}. ", titles.join("; ")));
    }
    let limits = || tables.iter().flat_map(|t| [t.clip_from, t.floor_from]);
    if limits().any(|l| l == Limit::Curve) {
        said.push_str("* NOT MEASURED: the end of the curve; the sensor may clip sooner. ");
    }
    if limits().all(|l| l == Limit::Rating) {
        said.push_str("Clip and floor: as rated in the show. ");
    }
    if limits().any(|l| l == Limit::Extrapolated) {
        said.push_str("+ extrapolated from another EI. ");
    }
    if tables.iter().any(|t| t.own_curve) && tables.len() > 1 {
        said.push_str(&format!("Skin and white: at EI {}. ", first.ei.map(short).unwrap_or_default()));
    }
    if let Some(t) = tables.iter().find(|t| t.lacks_curve) {
        said.push_str(&format!("EI {}: by another EI's curve. ", t.ei.map(short).unwrap_or_default()));
    }
    said.push_str("Not a light meter: test it on your camera.");
    for (i, line) in SMALL.wrap(&said, WIDTH - 2.0 * MARGIN).iter().enumerate() {
        canvas.text([MARGIN, 95.4 + 2.9 * i as f64], line, &SMALL);
    }
}
