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
use rushlight::inspect::{Inspection, Monotone, inspect, inspect_list};
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
    let kind = Kind::of(&args.file).ok_or_else(|| {
        let known =
            "tables (.cube, .clf, .png), corrections, event lists, stills, clips, pages and drawings are known by their extensions";
        Failure::new(format!("{}: {known}", args.file.display()))
    })?;
    let bytes = disk::read_bytes(&args.file)?;
    let source = table::parse(kind, &bytes, &args.file)?;
    let fail = |why: String| Failure::new(format!("{}, {why}", args.file.display()));
    let report = match &source {
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
    let is_beyond = args.strict && !report.conforms || is_beyond(&origin, args);
    if args.json {
        output::print_json(&Report::Table(Box::new(report::Table { inspection: report, slate: origin })))?
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
    let mut line = |name: &str, said: String| push_entry(&mut text, NAMES, name, &said);
    line(
        "verdict",
        match &report.concerns[..] {
            [] => "sound: greys rise, little is clipped, nothing jumps".to_owned(),
            all => format!("look at it: {}", all.join("; ")),
        },
    );
    line("title", if report.title.is_empty() { "none".to_owned() } else { report.title.clone() });
    line("kind", kind(report));
    line("domain", span(report.domain));
    let f = &report.figures;
    line("range", span(f.range));
    line(
        "clipped",
        format!("{:.2} % at or below 0, {:.2} % at or above 1", 100.0 * f.clipped[0], 100.0 * f.clipped[1]),
    );
    line("monotone", format!("channel axes: {}", monotone(&f.monotone)));
    line("", format!("neutral axis: {}", monotone(&f.neutral_monotone)));
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
        Some(rise) => format!("neutrals rise over {:.0} % of the input", 100.0 * rise),
        None => "neutrals are flat".to_owned(),
    };
    line("made for", format!("{} input, likely: {rise}", f.likely_input));
    if report.conforms {
        line("conforms", "yes".to_owned());
    }
    for (i, departure) in report.departures.iter().enumerate() {
        let more = if departure.count > 1 { format!(", {} lines in all", departure.count) } else { String::new() };
        let said = format!("line {}: {} ({}){more}", departure.line, departure.message, departure.rule);
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

fn monotone(channels: &[Monotone; 3]) -> String {
    let falls: Vec<String> = ["red", "green", "blue"]
        .into_iter()
        .zip(channels)
        .filter(|(_, m)| !m.holds)
        .map(|(name, m)| format!("{name} falls {} times, by up to {:.6}", m.falls, m.deepest))
        .collect();
    if falls.is_empty() { "yes".to_owned() } else { falls.join("; ") }
}
