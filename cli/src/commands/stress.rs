//! `stress`

mod charts;
pub(crate) mod html;
mod lights;
mod markdown;
mod text;

use crate::args::Stress;
use crate::failure::{BEYOND, Failure};
use crate::formats;
use crate::output;
use crate::progress::Progress;
use crate::target::{self, Target};
use rayon::prelude::*;
use rushlight::cube::{Reader, check_points};
use rushlight::show::Job;
use rushlight::stress::{CaseReport, Grade, Report, Try};
use std::collections::BTreeMap;
use std::process::ExitCode;

/// How the report is written.
#[derive(Debug, Clone, Copy)]
enum Format {
    Text,
    Json,
    Markdown,
    Html,
}

const FORMATS: [(&str, Format); 4] =
    [("text", Format::Text), ("json", Format::Json), ("markdown", Format::Markdown), ("html", Format::Html)];

pub(crate) fn run(args: &Stress) -> Result<ExitCode, Failure> {
    args.points.map(|p| check_points("points", p)).transpose().map_err(Failure::options)?;
    let wanted = if args.json { vec![(Format::Json, None)] } else { formats::wanted(&args.format, &FORMATS)? };
    let step = args.step.as_deref().map(str::parse::<Try>).transpose();
    let step = step.map_err(|why| Failure::new(format!("--try: {why}")))?;
    let target = target::load(&args.of.file, &args.of.pick)?.of_shot(args.shot.as_deref())?;
    let jobs = jobs(&target, args.points, args.shot.as_deref())?;
    let cases = cases(&jobs, args.reader, step.as_ref())?;
    let report = Report::new(target.show.title(), step, cases);
    let verdict = format!("{}: {}", report.show, report.grade.name());
    formats::deliver(&wanted, &verdict, |format| {
        Ok(match format {
            Format::Text => text::report(&report),
            Format::Json => output::json(&report)?,
            Format::Markdown => markdown::report(&report),
            Format::Html => html::page(&report, &target.show)?,
        })
    })?;
    output::warn(&target.show.order_warnings(&jobs));
    let most = if args.strict { Grade::Holds } else { Grade::Marginal };
    Ok(if report.grade > most { ExitCode::from(BEYOND) } else { ExitCode::SUCCESS })
}

/// What was asked for: each look, camera and display once, with its largest cube, and with the shot if one is named.
fn jobs<'s>(target: &'s Target, points: Option<usize>, shot: Option<&str>) -> Result<Vec<Job<'s>>, Failure> {
    let all = target.picked(target.show.jobs())?.into_iter();
    let given = all.map(|job| job.with_points(points.unwrap_or(job.points())).with_shot(shot));
    Ok(largest(given.collect::<Result<Vec<_>, _>>().map_err(Failure::options)?))
}

/// Each look, camera and display once, with its largest cube.
pub(crate) fn largest<'s>(jobs: impl IntoIterator<Item = Job<'s>>) -> Vec<Job<'s>> {
    let mut largest: BTreeMap<[&str; 3], Job<'s>> = BTreeMap::new();
    for job in jobs {
        let kept = largest.entry(job.names()).or_insert(job);
        *kept = kept.with_points(kept.points().max(job.points()));
    }
    largest.into_values().collect()
}

/// What breaks each of `jobs`, with a bar on the terminal.
pub(crate) fn cases(jobs: &[Job<'_>], reader: Reader, step: Option<&Try>) -> Result<Vec<CaseReport>, Failure> {
    if jobs.is_empty() {
        return Ok(Vec::new());
    }
    let progress = Progress::new(jobs.len(), "{pos}/{len} cases, {eta} left");
    // A search waits for its slowest colour again and again: another one fills the gaps.
    let case = |job: &Job<'_>| {
        let [look, _, display] = job.names();
        let case = job.stress(reader, step).map_err(|refused| Failure::of_path(look, display, refused));
        progress.step();
        case
    };
    let cases: Vec<_> = jobs.par_iter().map(case).collect();
    progress.end();
    cases.into_iter().collect()
}
