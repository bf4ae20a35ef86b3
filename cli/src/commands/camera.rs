//! `camera`

mod card;

use crate::args::{Camera as Args, Rated};
use crate::disk;
use crate::drawing::{Drawing, Format, theme};
use crate::failure::Failure;
use crate::output::{self, COLUMNS, push_field, short, wrap};
use crate::target;
use rushlight::camera::{Camera, Rating};
use rushlight::exposure::{HIGHLIGHT, Level, Limit, Mark, Settings, StopTable, extrapolate};
use rushlight::invalid::Refusals;
use rushlight::show::Measured;
use rushlight::show::{Entry, Show};
use rushlight::slate;
use schemars::JsonSchema;
use serde::Serialize;
use std::fmt::Write as _;

/// The version of the report's shape.
const SCHEMA: u32 = 1;

/// The stop tables of a show.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "Rushlight camera")]
pub(crate) struct Report<'a> {
    /// The version of its shape.
    schema: u32,
    /// The title of the show.
    show: &'a str,
    /// Stops over mid-grey of a highlight that must not clip.
    highlight: f64,
    /// Stops that stay free between the highlight and the clip.
    margin: f64,
    /// The cameras.
    cameras: Vec<Study<'a>>,
}

/// Cameras of a show, and at which exposure index.
#[derive(Debug, Clone, Default)]
pub(crate) struct Ratings {
    /// One camera, by name; every one by default.
    pub(crate) camera: Option<String>,
    /// One exposure index; every rated one by default.
    pub(crate) ei: Option<f64>,
    /// Whether one that is not rated is extrapolated.
    pub(crate) extrapolated: bool,
}

impl From<&Rated> for Ratings {
    fn from(args: &Rated) -> Self {
        Self { camera: args.camera.clone(), ei: args.ei, extrapolated: args.extrapolate }
    }
}

/// Which stop tables to make.
#[derive(Debug, Clone, Default)]
pub(crate) struct Request {
    pub(crate) of: Ratings,
    pub(crate) settings: Settings,
}

impl From<&Args> for Request {
    fn from(args: &Args) -> Self {
        let highlight = args.highlight.unwrap_or(HIGHLIGHT.default);
        let settings = Settings { per_stop: args.per_stop, highlight, margin: args.margin };
        Self { of: (&args.of).into(), settings }
    }
}

/// Dots to the inch of a card as PNG: enough for print.
const CARD_DPI: f64 = 300.0;

/// One camera with its tables, in order of EI.
#[derive(Serialize, JsonSchema)]
pub(crate) struct Study<'a> {
    /// Its name in the show.
    pub(crate) name: &'a str,
    /// Its label.
    pub(crate) label: &'a str,
    /// Its curve, gamut and range, in words.
    pub(crate) terms: String,
    /// The range of its signal: full or legal.
    range: &'static str,
    /// A table for each exposure index.
    pub(crate) tables: Vec<StopTable>,
    /// What is odd about its ratings, in sentences.
    warnings: Vec<String>,
    /// What was measured of it, when, and by which frames.
    #[serde(default, skip_serializing_if = "<[Measured]>::is_empty")]
    pub(crate) measured: &'a [Measured],
}

/// The JSON Schema of the report.
pub(crate) fn schema() -> serde_json::Value {
    schemars::schema_for!(Report<'static>).to_value()
}

pub(crate) fn run(args: &Args) -> Result<(), Failure> {
    let format = args.out.as_deref().map(Format::of).transpose()?;
    let show = target::load_show(&args.of.show, &args.of.camera)?;
    let report = report(&show, &args.into())?;
    if let (Some(path), Some(format)) = (&args.out, format) {
        let card = drawn(&show, &report)?;
        let card = if args.dark { theme::at_night(&card) } else { card };
        disk::write(path, card.bytes(format, CARD_DPI)?)?;
    }
    if args.json {
        return output::print_json(&report);
    }
    if args.csv {
        return output::print(&csv(&report));
    }
    let written = args.out.as_ref().map(|path| format!("card written to {}\n\n", path.display())).unwrap_or_default();
    output::print(&(written + &text(&report)))
}

/// Makes stop tables.
pub(crate) fn report<'s>(show: &'s Show, request: &Request) -> Result<Report<'s>, Failure> {
    let Request { of, settings } = request;
    let cameras = show.cameras().iter().filter(|(name, _)| of.camera.as_ref().is_none_or(|c| c == *name));
    let cameras: Vec<Study<'_>> = cameras
        .map(|(name, entry)| {
            let tables = tables(name, &entry.item, of, settings)?;
            let Entry { label, id, item } = entry;
            let (terms, range, measured) = (id.to_string(), item.range().name(), show.measured(name));
            let ratings = tables.iter().filter_map(|table| item.rating(table.ei?));
            let warnings = ratings.filter_map(|rating| item.odd_clip(rating)).collect();
            Ok(Study { name, label, terms, range, tables, warnings, measured })
        })
        .collect::<Result<_, Failure>>()?;
    let Settings { highlight, margin, .. } = *settings;
    Ok(Report { schema: SCHEMA, show: show.title(), highlight, margin, cameras })
}

/// The card of the one camera that there is.
pub(crate) fn drawn(show: &Show, report: &Report<'_>) -> Result<Drawing, Failure> {
    let [study] = &report.cameras[..] else {
        let names: Vec<&str> = report.cameras.iter().map(|c| c.name).collect();
        return Err(Failure::new(format!(
            "--out: a card is of one camera: choose with --camera, one of {}",
            names.join(", ")
        )));
    };
    let card = card::card(report.show, study, report.highlight, report.margin)?;
    Ok(card.with_slate(&slate::of_camera(show, study.name)))
}

fn tables(name: &str, camera: &Camera, of: &Ratings, settings: &Settings) -> Result<Vec<StopTable>, Failure> {
    let fail = |refused: Refusals| {
        let (ours, camera): (Vec<_>, Vec<_>) = refused.into_iter().partition(|r| r.key != "curve");
        let camera: Vec<String> = camera.iter().map(|r| format!("camera {name}: {r}")).collect();
        if camera.is_empty() { Failure::options(ours) } else { Failure::new(camera.join("\n")) }
    };
    let Some(ei) = of.ei else {
        return StopTable::all(camera, settings).map_err(fail);
    };
    let (rating, from) = rating(name, camera, ei, of.extrapolated)?;
    Ok(vec![StopTable::of(camera, Some(&rating), from, settings).map_err(fail)?])
}

/// The rating of `camera` at `ei`, and the EI from which it was extrapolated where it has none and that is allowed.
pub(crate) fn rating(name: &str, camera: &Camera, ei: f64, allowed: bool) -> Result<(Rating, Option<f64>), Failure> {
    if let Some(rating) = camera.rating(ei) {
        return Ok((*rating, None));
    }
    if allowed {
        let extrapolated = extrapolate(camera, ei).map_err(Failure::options)?;
        return Ok((extrapolated.0, Some(extrapolated.1)));
    }
    let mut known: Vec<f64> = camera.ratings().iter().map(|r| r.ei).collect();
    known.sort_by(f64::total_cmp);
    let known: Vec<String> = known.iter().map(f64::to_string).collect();
    Err(Failure::new(if known.is_empty() {
        format!("--ei: camera {name} has no ratings: add a [[cameras.{name}.rating]] table, or drop --ei")
    } else {
        format!(
            "--ei: camera {name} is rated at EI {}, not at {ei}: add a rating, or give --extrapolate to count from the nearest one",
            known.join(", ")
        )
    }))
}

/// The columns of the CSV.
const COLUMNS_OF_CSV: &str = "camera,ei,mark,limit,stops,light,signal,percent_full,percent_legal,code_10,code_12\n";

/// The stop tables as CSV.
pub(crate) fn csv(report: &Report<'_>) -> String {
    let mut text = COLUMNS_OF_CSV.to_owned();
    for study in &report.cameras {
        for table in &study.tables {
            for row in &table.rows {
                let limit = match row.mark {
                    Some(Mark::Floor) => table.floor_from.name(),
                    Some(Mark::Clip) => table.clip_from.name(),
                    _ => "",
                };
                let ei = table.ei.map(|ei| ei.to_string()).unwrap_or_default();
                let mark = row.mark.map_or("", Mark::name);
                let Level { stops, light, signal, percent_full, percent_legal, code_10, code_12 } = row.level;
                let numbers = [stops, light, signal, percent_full, percent_legal, code_10, code_12].map(short);
                let _ = writeln!(text, "{},{ei},{mark},{limit},{}", study.name, numbers.join(","));
            }
        }
    }
    text
}

fn text(report: &Report<'_>) -> String {
    let mut text =
        format!("{}: {}\n", report.show, if report.cameras.len() == 1 { "stop table" } else { "stop tables" });
    for study in &report.cameras {
        let label = if study.label == study.name { String::new() } else { format!(": {}", study.label) };
        let _ = writeln!(text, "\ncamera {}{label}", study.name);
        push_field(&mut text, "signal", &study.terms);
        let grey = study.tables[0].grey;
        push_field(
            &mut text,
            "grey",
            &format!(
                "{:.4}: {:.2} % of full range, {:.2} % of legal range, code {:.1} of 10 bits, {:.1} of 12 bits",
                grey.signal, grey.percent_full, grey.percent_legal, grey.code_10, grey.code_12
            ),
        );
        summary(&mut text, report, &study.tables, &study.warnings);
        // Where every rating has the same curve one table holds them all.
        if study.tables.iter().any(|t| t.own_curve) {
            for table in &study.tables {
                let curve = if table.own_curve { "the curve of this EI" } else { "the camera's curve" };
                let _ = write!(text, "\nEI {}, {curve}", ei(table));
                rows(&mut text, std::slice::from_ref(table));
            }
        } else {
            rows(&mut text, &study.tables);
        }
    }
    text.push_str("\nA stop table is not a light meter: test it on your camera.\n");
    text
}

fn ei(table: &StopTable) -> String {
    table.ei.map_or_else(|| "none".to_owned(), |ei| ei.to_string())
}

/// The mark of a number that was not measured; a blank for one that was.
fn star(limit: Limit) -> &'static str {
    match limit {
        Limit::Rating => " ",
        Limit::Extrapolated => "+",
        Limit::Curve => "*",
    }
}

/// A line a rating, and the notes on them.
fn summary(text: &mut String, report: &Report<'_>, tables: &[StopTable], odd: &[String]) {
    let _ = writeln!(
        text,
        "\n{:>9}{:>10}{:>9}{:>9}{:>9}{:>9}{:>10}",
        "EI", "clip", "10 bits", "over", "under", "all", "open up"
    );
    for t in tables {
        let _ = writeln!(
            text,
            "{:>9}{:>10.4}{:>9.1}{:>8.2}{}{:>8.2}{}{:>8.2}{:>10}{}",
            ei(t),
            t.clip.signal,
            t.clip.code_10,
            t.above,
            star(t.clip_from),
            t.below,
            star(t.floor_from),
            t.above + t.below,
            format!("{:+.2}", t.open_up),
            star(t.clip_from).trim_end()
        );
    }
    let mut say = |said: String| {
        for line in wrap(&said, COLUMNS - 2) {
            let _ = writeln!(text, "  {line}");
        }
    };
    let free = if report.margin > 0.0 { format!(" less {} stops", short(report.margin)) } else { String::new() };
    say(format!(
        "open up: how many stops you can open until a highlight, {:.2} stops over grey, clips{free}; a negative figure: close by so many stops",
        report.highlight
    ));
    odd.iter().for_each(|odd| say(format!("WARNING: {odd}")));
    let limits = || tables.iter().flat_map(|t| [t.clip_from, t.floor_from]);
    if limits().any(|l| l == Limit::Curve) {
        say(
            "* NOT MEASURED: where the curve ends (at the floor, one code of 10 bits over black). The sensor may clip \
             sooner and be noisy sooner: measure it"
                .to_owned(),
        );
    }
    let moved = |t: &&StopTable| [t.clip_from, t.floor_from].contains(&Limit::Extrapolated);
    for from in tables.iter().filter(moved).filter_map(|t| t.extrapolated_from) {
        say(format!("+ extrapolated from EI {from} as if the sensor had one base; a camera with two bases differs"));
    }
    let lacking: Vec<String> = tables.iter().filter(|t| t.lacks_curve).map(ei).collect();
    if !lacking.is_empty() {
        say(format!(
            "the curve is not published for EI {}: the curve of the camera is used instead, and the levels may be wrong; \
             measure them",
            lacking.join(", ")
        ));
    }
    for (t, unlike) in tables.iter().filter_map(|t| Some((t, t.unlike?))) {
        say(format!(
            "EI {} clips at {:+.2} stops. If the camera had one base, by EI {} it would clip at {:+.2}. So it has a second \
             base, or one of the ratings is wrong",
            ei(t),
            t.above,
            unlike.ei,
            t.above - unlike.stops
        ));
    }
}

/// Stops within which the end of a rating is noted beside a step: as near as a bracket tells. Where it is another code value,
/// that is noted with it.
const BESIDE: f64 = 0.02;
/// Code values of 10 bits that a table shows as one.
const SAME_CODE: f64 = 0.05;

/// The rows of tables of one curve, merged.
fn rows(text: &mut String, tables: &[StopTable]) {
    let mut merged: Vec<(Level, Vec<String>)> = Vec::new();
    let mut note = |level: Level, said: Option<String>| match merged
        .iter_mut()
        .find(|(there, _)| (there.stops - level.stops).abs() < BESIDE)
    {
        Some((there, notes)) => {
            let apart = (there.code_10 - level.code_10).abs() >= SAME_CODE;
            let said = said.map(|s| if apart { format!("{s} ({:.1})", level.code_10) } else { s });
            notes.extend(said.filter(|s| !notes.contains(s)));
        }
        None => merged.push((level, said.into_iter().collect())),
    };
    for pass in [false, true] {
        for table in tables {
            let alone = tables.len() == 1 && table.ei.is_none();
            let of = if alone { String::new() } else { format!(" EI {}", ei(table)) };
            for row in &table.rows {
                let end = matches!(row.mark, Some(Mark::Floor | Mark::Clip));
                if end == pass {
                    let said = row.mark.map(|mark| match mark {
                        Mark::Floor => format!("floor{}{of}", star(table.floor_from).trim_end()),
                        Mark::Grey => "mid-grey".to_owned(),
                        Mark::Skin => "skin".to_owned(),
                        Mark::White => "white, 90 %".to_owned(),
                        Mark::Clip => format!("clip{}{of}", star(table.clip_from).trim_end()),
                    });
                    note(row.level, said);
                }
            }
        }
    }
    merged.sort_by(|a, b| a.0.stops.total_cmp(&b.0.stops));
    let head = ["stops", "light", "signal", "full %", "legal %", "10 bits", "12 bits"];
    let _ = writeln!(
        text,
        "\n{:>7}{:>11}{:>9}{:>8}{:>9}{:>9}{:>9}",
        head[0], head[1], head[2], head[3], head[4], head[5], head[6]
    );
    for (level, notes) in &merged {
        let Level { stops, light, signal, percent_full, percent_legal, code_10, code_12 } = level;
        let stops = if *stops == 0.0 { "0.00".to_owned() } else { format!("{stops:+.2}") };
        let line = format!(
            "{stops:>7}{light:>11.5}{signal:>9.4}{percent_full:>8.2}{percent_legal:>9.2}{code_10:>9.1}{code_12:>9.1}"
        );
        let notes = if notes.is_empty() { Vec::new() } else { wrap(&together(notes), COLUMNS - 64) };
        let _ = writeln!(text, "{}", format!("{line}  {}", notes.first().map_or("", String::as_str)).trim_end());
        for more in notes.iter().skip(1) {
            let _ = writeln!(text, "{:64}{more}", "");
        }
    }
}

/// `clip EI 400` and `clip EI 800` in one: `clip EI 400, 800`.
fn together(notes: &[String]) -> String {
    let mut said: Vec<String> = Vec::new();
    for note in notes {
        match (note.rsplit_once(' '), said.last_mut()) {
            (Some((what, value)), Some(last)) if what.ends_with("EI") && last.starts_with(what) => {
                last.push_str(", ");
                last.push_str(value);
            }
            _ => said.push(note.clone()),
        }
    }
    said.join("; ")
}
