//! `bake`

use crate::args::Bake;
use crate::disk::Batch;
use crate::failure::Failure;
use crate::output::{self, wrap};
use crate::target::{self, Target};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use rushlight::bake::{Manifest, bake};
use rushlight::cube::check_points;
use rushlight::show::{Job, Show};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::time::{Duration, Instant};

/// Work shorter than this shows no progress.
const PATIENCE: Duration = Duration::from_secs(1);

pub(crate) fn run(args: &Bake) -> Result<(), Failure> {
    args.points.map(|p| check_points("points", p)).transpose().map_err(|r| Failure::options(vec![r]))?;
    let target = target::load(&args.file, &args.pick)?;
    let jobs = jobs(&target, args)?;
    let show = &target.show;
    let mut batch = Batch::new(&args.out)?;
    let mut manifest = Manifest::new(show);
    let progress = ProgressBar::with_draw_target(Some(jobs.len() as u64), ProgressDrawTarget::hidden());
    progress.set_style(
        ProgressStyle::with_template("{bar:30} {pos}/{len} cubes, {eta} left").expect("the template is right"),
    );
    let start = Instant::now();
    for job in &jobs {
        let baked = bake(show, job).map_err(Failure::options)?;
        batch.add(&baked.file, &baked.text)?;
        manifest.add(show, job, &baked);
        if progress.is_hidden() && start.elapsed() > PATIENCE {
            progress.set_draw_target(ProgressDrawTarget::stderr());
        }
        progress.inc(1);
    }
    progress.finish_and_clear();
    batch.add("manifest.json", manifest.to_json())?;
    batch.finish()?;
    output::print(&if args.json { manifest.to_json() } else { report(show, &jobs, args) })
}

/// The cubes that were asked for.
fn jobs(target: &Target, args: &Bake) -> Result<Vec<Job>, Failure> {
    let fits = |picked: &Option<String>, name: &String| picked.as_ref().is_none_or(|p| p == name);
    let Target { show, look, camera, display } = target;
    let jobs: BTreeSet<Job> = show
        .jobs()
        .iter()
        .filter(|job| fits(look, &job.look) && fits(camera, &job.camera) && fits(display, &job.display))
        .map(|job| Job { points: args.points.unwrap_or(job.points), ..job.clone() })
        .collect();
    if jobs.is_empty() {
        return Err(Failure::new("the show's [[bake]] entries have no such cube: add one, or leave an option out"));
    }
    Ok(jobs.into_iter().collect())
}

/// Characters for the names in a report.
const NAME_WIDTH: usize = 13;

fn report(show: &Show, jobs: &[Job], args: &Bake) -> String {
    let mut text = format!("{}: {} into {}\n", show.title(), count(jobs.len(), "cube"), args.out.display());
    let mut legend = |what: &str, entries: BTreeMap<&String, String>| {
        let _ = writeln!(text, "\n{what}{}", if entries.len() == 1 { "" } else { "s" });
        for (name, said) in entries {
            // A name that is longer than its column has a line of its own.
            let alone = name.len() > NAME_WIDTH;
            if alone {
                let _ = writeln!(text, "  {name}");
            }
            for (i, line) in wrap(&said, 64).into_iter().enumerate() {
                let _ = writeln!(text, "  {:<NAME_WIDTH$} {line}", if i == 0 && !alone { name } else { "" });
            }
        }
    };
    let said = |name: &String, label: &str, terms: &str| {
        if label == name { terms.to_owned() } else { format!("{label}: {terms}") }
    };
    let look = |job: &Job| &show.looks()[&job.look];
    let entries = jobs.iter().map(|j| (&j.look, format!("{}, revision {}", look(j).label, look(j).item.revision())));
    legend("look", entries.collect());
    let camera = |job: &Job| &show.cameras()[&job.camera];
    legend("camera", jobs.iter().map(|j| (&j.camera, said(&j.camera, &camera(j).label, &camera(j).terms))).collect());
    let display = |job: &Job| &show.displays()[&job.display];
    legend(
        "display",
        jobs.iter().map(|j| (&j.display, said(&j.display, &display(j).label, &display(j).terms))).collect(),
    );
    text.push('\n');
    for job in jobs {
        let _ = writeln!(text, "  {}", show.file_name(job));
    }
    text.push_str("  manifest.json: what each cube is and what it was made from\n");
    text.push_str("\nA cube is not a light meter: look at it on your own camera and monitor first.\n");
    text
}

fn count(n: usize, what: &str) -> String {
    if n == 1 { format!("1 {what}") } else { format!("{n} {what}s") }
}
