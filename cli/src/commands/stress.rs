//! `stress`

pub(crate) mod html;
mod markdown;
mod text;

use crate::args::Stress;
use crate::failure::{BEYOND, Failure};
use crate::formats;
use crate::output;
use crate::progress::Progress;
use crate::target::{self, Target};
use rushlight::cube::{Reader, check_points};
use rushlight::show::{Job, Show};
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
    let step = args.step.as_deref().map(Try::parse).transpose();
    let step = step.map_err(|why| Failure::new(format!("--try: {why}")))?;
    let target = target::load(&args.of.file, &args.of.pick)?.of_shot(args.shot.as_deref())?;
    let jobs = jobs(&target, args.points, args.shot.as_deref())?;
    let cases = cases(&target.show, &jobs, args.reader, step.as_ref())?;
    let report = Report::new(target.show.title(), step, cases);
    formats::deliver(&wanted, |format| {
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
fn jobs(target: &Target, points: Option<usize>, shot: Option<&str>) -> Result<Vec<Job>, Failure> {
    let all = target.picked(target.show.jobs().to_vec())?;
    let given = |mut job: Job| {
        job.points = points.unwrap_or(job.points);
        job.shot = shot.map(str::to_owned);
        job
    };
    Ok(largest(all.into_iter().map(given)))
}

/// Each look, camera and display once, with its largest cube.
pub(crate) fn largest(jobs: impl IntoIterator<Item = Job>) -> Vec<Job> {
    let mut largest: BTreeMap<[String; 3], Job> = BTreeMap::new();
    for job in jobs {
        let names = [&job.look, &job.camera, &job.display].map(String::clone);
        let kept = largest.entry(names).or_insert_with(|| job.clone());
        kept.points = kept.points.max(job.points);
    }
    largest.into_values().collect()
}

/// What breaks each of `jobs`, with a bar on the terminal.
pub(crate) fn cases(show: &Show, jobs: &[Job], reader: Reader, step: Option<&Try>) -> Result<Vec<CaseReport>, Failure> {
    if jobs.is_empty() {
        return Ok(Vec::new());
    }
    let progress = Progress::new(jobs.len(), "{pos}/{len} cases, {eta} left");
    let mut cases = Vec::new();
    for job in jobs {
        cases.push(show.stress(job, reader, step).map_err(Failure::options)?);
        progress.step();
    }
    progress.end();
    Ok(cases)
}
