//! `bake`

use crate::args::Bake;
use crate::disk::Batch;
use crate::failure::Failure;
use crate::{output, target};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use rushlight::bake::{Manifest, bake};
use rushlight::cube::SIZES;
use rushlight::document::unknown;
use rushlight::show::{Job, Show};
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::time::{Duration, Instant};

/// Work shorter than this shows no progress.
const PATIENCE: Duration = Duration::from_secs(1);

pub(crate) fn run(args: &Bake) -> Result<(), Failure> {
    if let Some(points) = args.points.filter(|p| !SIZES.contains(p)) {
        let (least, most) = (SIZES.start(), SIZES.end());
        return Err(Failure::new(format!(
            "--points: {points} is out of range: it must lie between {least} and {most}"
        )));
    }
    let show = target::load(&args.file, &args.pick)?;
    let jobs = jobs(&show, args)?;
    let mut batch = Batch::new(&args.out)?;
    let mut manifest = Manifest::new(&show);
    let progress = ProgressBar::with_draw_target(Some(jobs.len() as u64), ProgressDrawTarget::hidden());
    progress.set_style(
        ProgressStyle::with_template("{bar:30} {pos}/{len} cubes, {eta} left").expect("the template is right"),
    );
    let start = Instant::now();
    for job in &jobs {
        let baked = bake(&show, job).map_err(Failure::options)?;
        batch.add(&baked.file, &baked.text)?;
        manifest.add(&show, job, &baked);
        if progress.is_hidden() && start.elapsed() > PATIENCE {
            progress.set_draw_target(ProgressDrawTarget::stderr());
        }
        progress.inc(1);
    }
    progress.finish_and_clear();
    batch.add("manifest.json", &manifest.to_json())?;
    batch.finish()?;
    output::print(&if args.json { manifest.to_json() } else { report(&show, &jobs, args) })
}

/// The cubes that were asked for.
fn jobs(show: &Show, args: &Bake) -> Result<Vec<Job>, Failure> {
    let alone = show.jobs().len() == 1;
    let wanted = |what: &str, given: &Option<String>, all: Vec<&String>| match given {
        // A look that stands alone has just the camera and the display that were named.
        Some(name) if !all.contains(&name) && !(alone && what != "look") => {
            Err(Failure::new(format!("--{what}: {}", unknown(what, name, all.iter().map(|n| n.as_str())))))
        }
        _ => Ok(given.clone().filter(|name| all.contains(&name))),
    };
    let look = wanted("look", &args.pick.look, show.looks().keys().collect())?;
    let camera = wanted("camera", &args.pick.camera, show.cameras().keys().collect())?;
    let display = wanted("display", &args.pick.display, show.displays().keys().collect())?;
    let fits = |wanted: &Option<String>, name: &String| wanted.as_ref().is_none_or(|w| w == name);
    let jobs: BTreeSet<Job> = show
        .jobs()
        .iter()
        .filter(|job| fits(&look, &job.look) && fits(&camera, &job.camera) && fits(&display, &job.display))
        .map(|job| Job { points: args.points.unwrap_or(job.points), ..job.clone() })
        .collect();
    if jobs.is_empty() {
        return Err(Failure::new("the show's [[bake]] entries have no such cube: add one, or leave an option out"));
    }
    Ok(jobs.into_iter().collect())
}

fn report(show: &Show, jobs: &[Job], args: &Bake) -> String {
    let mut text = format!("{}: {} into {}\n", show.title(), count(jobs.len(), "cube"), args.out.display());
    for job in jobs {
        let (camera, display) = (&show.cameras()[&job.camera], &show.displays()[&job.display]);
        let look = &show.looks()[&job.look];
        let _ = writeln!(text, "\n  {}", show.file_name(job));
        let _ = writeln!(text, "    look     {}, revision {}", look.item.title(), look.item.revision());
        let _ = writeln!(text, "    camera   {}: {}", camera.label, camera.terms);
        let _ = writeln!(text, "    display  {}: {}", display.label, display.terms);
    }
    text.push_str("\nmanifest.json says what each cube is and what it was made from.\n");
    text.push_str("A cube is not a light meter: look at it on your own camera and monitor first.\n");
    text
}

fn count(n: usize, what: &str) -> String {
    if n == 1 { format!("1 {what}") } else { format!("{n} {what}s") }
}
