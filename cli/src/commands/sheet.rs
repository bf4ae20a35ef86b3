//! `sheet`

mod charts;
mod cubes;
mod html;
mod pictures;
mod shots;
mod text;

use crate::args::Sheet;
use crate::commands::stress;
use crate::disk::{self, Batch};
use crate::failure::Failure;
use crate::target::{self, Target};
use crate::{browser, output, picture};
pub(crate) use cubes::Cubes;
use pictures::Pictures;
use rushlight::cube::Reader;
use rushlight::files::Source;
use rushlight::frame::Frame;
use rushlight::invalid::Refusals;
use rushlight::sheet::{CameraSheet, DisplaySheet, HeldSheet, LookSheet, Report, SCHEMA, ShotSheet};
use rushlight::show::{Job, Show};
use rushlight::stress::CaseReport;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// The page of who names none.
const PAGE: &str = "sheet.html";

pub(crate) fn run(args: &Sheet) -> Result<(), Failure> {
    let mut page = Out::new("out", page_of(args), &["html", "htm"])?;
    if args.out.is_none() {
        page.batch = page.batch.replacing_ours(None, "name the page by --out");
    }
    let printed = args.pdf.as_deref().map(|path| Out::new("pdf", path, &["pdf"])).transpose()?;
    let browser = args.pdf.as_ref().map(|_| browser::find()).transpose()?;
    let target = target::load(&args.of.file, &args.of.pick)?;
    let show = &target.show;
    let cubes = Cubes::new(args.cubes.as_deref(), show)?;
    let jobs = target.picked(show.jobs().to_vec())?;
    let searched = if args.stress { stress::largest(jobs.iter().cloned()) } else { Vec::new() };
    let cases = stress::cases(show, &searched, Reader::Tetrahedral, None)?;
    let (report, html) = make(args, &target, &cubes, &cases)?;
    let pdf = browser.map(|browser| browser::pdf(&browser, &html)).transpose()?;
    let mut outs = vec![page.with(&html)?];
    if let Some((printed, pdf)) = printed.zip(pdf) {
        outs.push(printed.with(&pdf)?);
    }
    outs.into_iter().try_for_each(Batch::finish)?;
    if args.json {
        return output::print_json(&report);
    }
    output::print(&text::text(&report))
}

/// Where the page goes.
fn page_of(args: &Sheet) -> &Path {
    args.out.as_deref().unwrap_or(Path::new(PAGE))
}

/// The sheet as data and as a page, with what a stress test found.
pub(crate) fn make(
    args: &Sheet,
    target: &Target,
    cubes: &Cubes,
    cases: &[CaseReport],
) -> Result<(Report, String), Failure> {
    let frames = frames(args)?;
    let show = &target.show;
    let jobs = target.picked(show.jobs().to_vec())?;
    let names: BTreeSet<&String> = jobs.iter().map(|job| &job.look).collect();
    let mut looks = Vec::new();
    for name in names {
        let jobs: Vec<&Job> = jobs.iter().filter(|job| job.look == *name).collect();
        looks.push(look_sheet(args, show, name, &jobs, (cubes, cases))?);
    }
    let path = |path: &Path| path.display().to_string();
    let report = Report {
        schema: SCHEMA,
        version: env!("CARGO_PKG_VERSION"),
        show: show.title().to_owned(),
        page: path(page_of(args)),
        pdf: args.pdf.as_deref().map(path),
        looks,
    };
    let html = html::html(&report, show, &Pictures::new(show, &frames))?;
    Ok((report, html))
}

/// A file to be written, whose place is tried before the work.
struct Out {
    batch: Batch,
    name: String,
}

impl Out {
    fn new(option: &str, path: &Path, endings: &[&str]) -> Result<Self, Failure> {
        let ending = path.extension().and_then(|e| e.to_str()).unwrap_or_default();
        if !endings.iter().any(|e| ending.eq_ignore_ascii_case(e)) {
            return Err(Failure::new(format!("--{option} {}: the name must end in .{}", path.display(), endings[0])));
        }
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        disk::check(path)?;
        Ok(Self { batch: Batch::new(disk::folder_of(path))?, name })
    }

    fn with(mut self, contents: impl AsRef<[u8]>) -> Result<Batch, Failure> {
        self.batch.add(&self.name, contents)?;
        Ok(self.batch)
    }
}

/// The stills for the pictures.
fn frames(args: &Sheet) -> Result<Vec<Frame>, Failure> {
    let read = |path: &PathBuf| picture::read(&disk::read_bytes(path)?, &path.display().to_string());
    picture::stills(&args.of.file, &args.frame).iter().map(read).collect()
}

fn look_sheet(
    args: &Sheet,
    show: &Show,
    name: &str,
    jobs: &[&Job],
    (cubes, cases): (&Cubes, &[CaseReport]),
) -> Result<LookSheet, Failure> {
    let entry = &show.looks()[name];
    let look = &entry.item;
    let named = args.of.file.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    // A look that stands alone is the document itself.
    let file = if entry.terms.is_empty() { named } else { entry.terms.clone() };
    let document = look.sources().iter().find(|source| source.file == file).cloned();
    let document = document.ok_or_else(|| Failure::new(format!("{file} is not one of the files that were read")))?;
    let cameras: BTreeSet<&String> = jobs.iter().map(|job| &job.camera).collect();
    let displays: BTreeSet<&String> = jobs.iter().map(|job| &job.display).collect();
    let first = &show.cameras()[&jobs[0].camera].item;
    let camera = |name: &&String| {
        let fail = |refused: Refusals| {
            Failure::new(refused.iter().map(|r| format!("camera {name}: {r}")).collect::<Vec<_>>().join("\n"))
        };
        CameraSheet::of(name, &show.cameras()[*name]).map_err(fail)
    };
    let display =
        |name: &&String| DisplaySheet::of(name, &show.displays()[*name], look, first).map_err(Failure::options);
    Ok(LookSheet {
        name: name.to_owned(),
        title: look.title().to_owned(),
        revision: look.revision(),
        sources: sources(show, name),
        steps: look.sentences(),
        document,
        cameras: cameras.iter().map(camera).collect::<Result<_, _>>()?,
        displays: displays.iter().map(display).collect::<Result<_, _>>()?,
        cubes: cubes.of(show, jobs)?,
        stress: cases.iter().filter(|case| case.look == name).map(HeldSheet::of).collect(),
        shots: shots(show, name),
    })
}

/// The shots that are seen in a look.
fn shots(show: &Show, look: &str) -> Vec<ShotSheet> {
    let of = show.shots().iter().filter(|(_, shot)| shot.look.as_ref().is_none_or(|l| l == look));
    of.map(|(name, shot)| ShotSheet::of(name, shot, show.grading())).collect()
}

/// What a look and the show around it were read from: all but the files of other looks.
fn sources(show: &Show, name: &str) -> Vec<Source> {
    let mut others: BTreeMap<&str, bool> = BTreeMap::new();
    for (look, entry) in show.looks() {
        for source in entry.item.sources() {
            *others.entry(&source.file).or_default() |= look == name;
        }
    }
    show.sources().iter().filter(|s| others.get(s.file.as_str()).copied().unwrap_or(true)).cloned().collect()
}
