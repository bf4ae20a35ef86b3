//! `stress`

mod html;
mod markdown;
mod text;

use crate::args::Stress;
use crate::failure::{BEYOND, Failure};
use crate::formats;
use crate::output;
use crate::target::{self, Target};
use indicatif::{ProgressBar, ProgressStyle};
use rushlight::cube::{Reader, check_points};
use rushlight::show::Job;
use rushlight::stress::{self, CaseReport, Grade, Report, Subject, Try};
use std::collections::BTreeMap;
use std::process::ExitCode;
use std::time::Duration;

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
    args.points.map(|p| check_points("points", p)).transpose().map_err(|r| Failure::options(vec![r]))?;
    let wanted = if args.json { vec![(Format::Json, None)] } else { formats::wanted(&args.format, &FORMATS)? };
    let step = args.step.as_deref().map(Try::parse).transpose();
    let step = step.map_err(|why| Failure::new(format!("--try: {why}")))?;
    let target = target::load(&args.file, &args.pick)?;
    let jobs = jobs(&target, args.points)?;
    let progress = ProgressBar::new(jobs.len() as u64);
    progress
        .set_style(ProgressStyle::with_template("{bar:30} {pos}/{len}, {eta} left").expect("the template is right"));
    progress.enable_steady_tick(Duration::from_secs(1));
    let mut cases = Vec::new();
    for job in &jobs {
        cases.push(case(&target, job, args.reader.into(), step.as_ref())?);
        progress.inc(1);
    }
    progress.finish_and_clear();
    let report = Report::new(target.show.title(), step, cases);
    formats::deliver(&wanted, |format| {
        Ok(match format {
            Format::Text => text::report(&report),
            Format::Json => output::json(&report)?,
            Format::Markdown => markdown::report(&report),
            Format::Html => html::page(&report, &target.show)?,
        })
    })?;
    Ok(if report.grade == Grade::Breaks { ExitCode::from(BEYOND) } else { ExitCode::SUCCESS })
}

/// What was asked for: each look, camera and display once, with its largest cube.
fn jobs(target: &Target, points: Option<usize>) -> Result<Vec<Job>, Failure> {
    let mut largest: BTreeMap<[String; 3], Job> = BTreeMap::new();
    for mut job in target.picked(target.show.jobs().to_vec())? {
        job.points = points.unwrap_or(job.points);
        let names = [&job.look, &job.camera, &job.display].map(String::clone);
        let kept = largest.entry(names).or_insert_with(|| job.clone());
        kept.points = kept.points.max(job.points);
    }
    Ok(largest.into_values().collect())
}

fn case(target: &Target, job: &Job, reader: Reader, step: Option<&Try>) -> Result<CaseReport, Failure> {
    let show = &target.show;
    let look = &show.looks()[&job.look].item;
    let (camera, display) = (&show.cameras()[&job.camera].item, &show.displays()[&job.display].item);
    let stressed = |look| {
        let subject = Subject { look, camera, display, points: job.points, reader };
        stress::stress(&subject, show.stress_limits()).map_err(Failure::options)
    };
    let found = stressed(look)?;
    let other = step.map(|step| step.on(look)).transpose().map_err(|r| Failure::options(vec![r]))?.flatten();
    let tried = other.as_ref().map(stressed).transpose()?;
    let names = [&*job.look, &*job.camera, &*job.display];
    Ok(CaseReport::new(names, look.revision(), (job.points, reader.name()), &found, tried.as_ref()))
}
