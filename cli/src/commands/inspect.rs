//! `inspect`

mod corrections;
mod events;
mod pages;
mod plot;
mod slate;
mod stills;

use crate::args::Inspect;
use crate::corrections::{form, is_corrections};
use crate::disk;
use crate::drawing::{Drawing, Format};
use crate::failure::{BEYOND, Failure};
use crate::ffmpeg::CONTAINERS;
use crate::output::{self, push_entry};
use crate::table;
use rushlight::format::clf;
use rushlight::format::hald::Hald;
use rushlight::frame::Format as Still;
use rushlight::inspect::report::{self, Origin, Report};
use rushlight::inspect::{CLIPPED, FALL, Inspection, Monotone, inspect, inspect_list};
use rushlight::table_file::{Kind, TableFile};
use slate::{fields, is_beyond, origin};
use std::path::Path;
use std::process::ExitCode;

pub(crate) fn run(args: &Inspect) -> Result<ExitCode, Failure> {
    if let Some(form) = form(&args.file).filter(|form| !form.has_columns()) {
        return events::run(args, form);
    }
    if is_corrections(&args.file) {
        return corrections::run(args);
    }
    if is_clip(&args.file) {
        return stills::clip(args);
    }
    if let Some(kind) = pages::kind(extension(&args.file)) {
        return pages::run(args, kind);
    }
    if is_still(&args.file)? {
        return stills::still(args);
    }
    let format = args.plot.as_deref().map(Format::of).transpose()?;
    let Some(kind) = Kind::of(&args.file) else {
        disk::check_opens(&args.file)?;
        table::refuse_document(&args.file)?;
        return Err(Failure::new(format!(
            "{}: unknown kind of file: it must be a table (.cube, .clf, or .png for a Hald image), corrections (.cc, .ccc, .cdl, .ale, .csv), an event list (.edl, .otio), a still, a clip, or a page or drawing (.html, .svg, .pdf)",
            args.file.display()
        )));
    };
    let bytes = disk::read_bytes(&args.file)?;
    let source = table::parse(kind, &bytes, &args.file)?;
    let fail = |why: String| Failure::new(format!("{}, {why}", args.file.display()));
    let mut report = match &source {
        TableFile::Cube(file, _) => inspect(file),
        TableFile::Clf(list) => {
            let departures = clf::departures(&bytes).map_err(|e| fail(e.to_string()))?;
            inspect_list(list, &departures).map_err(|refused| fail(refused[0].to_string()))?
        }
    };
    if let (Some(path), Some(format)) = (&args.plot, format) {
        disk::write(path, plot::draw(&source, &report, &args.file).bytes(format, Drawing::DPI)?)?;
    }
    let origin = origin(table::slate(&source, &bytes), args)?;
    let exposure = origin.exposure();
    if exposure.is_some() {
        // Its zones are meant to jump, and to fall from one colour to the next.
        report.concerns.retain(|concern| concern.contains("specification"));
    }
    let is_beyond = args.strict && !report.conforms || is_beyond(&origin, args);
    if args.json {
        output::print_json(&Report::Table(Box::new(report::Table { inspection: report, exposure, slate: origin })))?
    } else {
        output::print(&text(&report, args, &origin))?
    }
    Ok(if is_beyond { ExitCode::from(BEYOND) } else { ExitCode::SUCCESS })
}

/// Columns of the names in a report.
const NAMES: usize = 15;

fn extension(path: &Path) -> &str {
    path.extension().and_then(|e| e.to_str()).unwrap_or_default()
}

fn is_clip(path: &Path) -> bool {
    CONTAINERS.iter().any(|container| extension(path).eq_ignore_ascii_case(container))
}

/// Whether a file is a picture; a PNG may be a table instead.
fn is_still(path: &Path) -> Result<bool, Failure> {
    Ok(match Still::from_extension(extension(path)) {
        Some(Still::Png) => Hald::from_png(&disk::read_bytes(path)?).is_err(),
        still => still.is_some(),
    })
}

fn text(report: &Inspection, args: &Inspect, origin: &Origin) -> String {
    let mut text = format!("{}\n", args.file.display());
    let exposure = origin.exposure();
    let mut line = |name: &str, said: String| push_entry(&mut text, NAMES, name, &said);
    line(
        "verdict",
        match (&report.concerns[..], &exposure) {
            ([], Some([shows, _])) => format!("exposure cube: {shows}; its zones jump on purpose"),
            ([], None) => "sound: greys rise, little is clipped, nothing jumps".to_owned(),
            (all, _) => format!("look at it: {}", all.join("; ")),
        },
    );
    line("title", if report.title.is_empty() { "none".to_owned() } else { report.title.clone() });
    line("kind", kind(report));
    line("domain", span(report.domain));
    let f = &report.figures;
    line("range", span(f.range));
    line(
        "clipped",
        format!(
            "{:.2} % at or below 0, {:.2} % at or above 1{}",
            100.0 * f.clipped[0],
            100.0 * f.clipped[1],
            // The first and the last node of a small table are a large share of it.
            if f.clipped.iter().any(|share| *share > CLIPPED) && !report.concerns.iter().any(|c| c.contains("clipped"))
            {
                format!(
                    "; a cube of {} points that changes nothing has {:.2} %",
                    report.size,
                    100.0 / report.size.max(1) as f64
                )
            } else {
                String::new()
            }
        ),
    );
    line("monotone", format!("greys: {}", monotone(&f.neutral_monotone, "they rise everywhere", false)));
    line("", format!("channel axes: {}", monotone(&f.monotone, "each channel rises everywhere along its own", true)));
    line(
        "identity",
        format!("difference in signal: mean {:.6}, max {:.6}", f.identity_distance.mean, f.identity_distance.max),
    );
    line(
        "neutral cast",
        format!("max {:.6}, at {}: {}", f.neutral_cast.max, triple(f.neutral_cast.at), triple(f.neutral_cast.rgb)),
    );
    let step = &f.largest_step;
    line(
        "largest step",
        format!("{:.6} in {}, from {} to {}", step.step, step.channel, triple(step.from), triple(step.to)),
    );
    let rise = match f.neutral_rise {
        Some(rise) => format!("greys go from 10 % to 90 % of their height within {:.0} % of the input", 100.0 * rise),
        None => "greys are flat".to_owned(),
    };
    line(
        "made for",
        match &exposure {
            Some([_, of]) => format!("camera signal of {of}"),
            None => format!("{} input, likely: {rise}", f.likely_input),
        },
    );
    if report.conforms {
        line("conforms", "yes".to_owned());
    }
    for (i, departure) in report.departures.iter().enumerate() {
        let more = if departure.count > 1 { format!(", {} lines in all", departure.count) } else { String::new() };
        let said = format!("line {}: {} [rule {}]{more}", departure.line, departure.message, departure.rule);
        line(if i == 0 { "departures" } else { "" }, said);
    }
    fields(origin, args).into_iter().for_each(|(name, said)| line(name, said));
    text
}

fn kind(report: &Inspection) -> String {
    let shaper = report.shaper_size.map(|n| format!(", curves of {n} entries in front")).unwrap_or_default();
    let what = if report.kind == "1d" { "entries" } else { "points" };
    format!("{}, {} {what}{shaper}", report.kind, report.size)
}

fn triple(v: [f64; 3]) -> String {
    v.map(|v| format!("{v:.4}")).join(" ")
}

fn span([low, high]: [[f64; 3]; 2]) -> String {
    format!("{} to {}", triple(low), triple(high))
}

/// `may_fall`: small falls are no fault.
fn monotone(channels: &[Monotone; 3], sound: &str, may_fall: bool) -> String {
    let falls: Vec<String> = ["red", "green", "blue"]
        .into_iter()
        .zip(channels)
        .filter(|(_, m)| !m.holds)
        .map(|(name, m)| {
            let steps = if m.falls == 1 { "1 step".to_owned() } else { format!("{} steps", m.falls) };
            format!("{name} at {steps}, by {:.6} at most", m.deepest)
        })
        .collect();
    let deepest = channels.iter().map(|m| m.deepest).fold(0.0, f64::max);
    match (falls.is_empty(), deepest <= FALL) {
        (true, _) => sound.to_owned(),
        (false, true) if may_fall => format!("small falls, usual in a film look (up to {FALL}): {}", falls.join("; ")),
        (false, _) => format!("falls: {}", falls.join("; ")),
    }
}
