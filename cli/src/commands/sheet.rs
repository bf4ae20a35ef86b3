//! `sheet`

mod charts;
mod cubes;
mod html;
mod paper;
mod pictures;
mod scopes;
mod shots;
mod text;

use crate::args::Sheet;
use crate::commands::stress;
use crate::disk::{self, Batch};
use crate::failure::Failure;
use crate::frame_input::{self, FrameIs};
use crate::target;
use crate::{browser, output, picture};
pub(crate) use cubes::Cubes;
use pictures::Pictures;
use rushlight::camera::Camera;
use rushlight::cube::Reader;
use rushlight::display::Display;
use rushlight::files::Source;
use rushlight::frame::Frame;
use rushlight::invalid::Refusals;
use rushlight::sheet::{CameraSheet, DisplaySheet, LookSheet, Report, SCHEMA, ShotSheet, StressSummary};
use rushlight::show::{Entry, Job, Show};
use rushlight::slate;
use rushlight::stress::CaseReport;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// The default page.
const PAGE: &str = "sheet.html";

/// What a sheet is made of.
#[derive(Debug, Clone)]
pub(crate) struct Request {
    /// The document of the show or look.
    pub(crate) document: PathBuf,
    /// Stills for the pictures; by default the one beside the document.
    pub(crate) frames: Vec<PathBuf>,
    /// What the stills are.
    pub(crate) frame_is: FrameIs,
    /// The page, and the PDF of it, as the sheet names them.
    pub(crate) page: PathBuf,
    pub(crate) pdf: Option<PathBuf>,
}

impl Request {
    /// The sheet of a document where nothing more is asked for.
    pub(crate) fn of(document: &Path) -> Self {
        Self {
            document: document.to_owned(),
            frames: Vec::new(),
            frame_is: FrameIs::default(),
            page: PAGE.into(),
            pdf: None,
        }
    }
}

impl From<&Sheet> for Request {
    fn from(args: &Sheet) -> Self {
        let default = Self::of(&args.of.file);
        let page = args.out.clone().unwrap_or(default.page);
        Self { frames: args.frame.clone(), frame_is: args.frame_is.clone(), page, pdf: args.pdf.clone(), ..default }
    }
}

pub(crate) fn run(args: &Sheet) -> Result<(), Failure> {
    let request = Request::from(args);
    let mut page = Out::new("out", &request.page, &["html", "htm"])?;
    if args.out.is_none() {
        page.batch = page.batch.replacing_ours(None, "name the page by --out");
    }
    let printed = args.pdf.as_deref().map(|path| Out::new("pdf", path, &["pdf"])).transpose()?;
    let browser = args.pdf.as_ref().map(|_| browser::find()).transpose()?;
    let target = target::load(&args.of.file, &args.of.pick)?;
    let show = &target.show;
    let cubes = Cubes::new(args.cubes.as_deref(), show)?;
    let jobs = target.picked(show.jobs())?;
    let searched = if args.stress { stress::largest(jobs.iter().copied()) } else { Vec::new() };
    let cases = stress::cases(&searched, Reader::Tetrahedral, None)?;
    let (report, html) = make(&request, &jobs, &cubes, &cases)?;
    let pdf = browser.map(|browser| printed_by(&browser, show, &report, &html)).transpose()?;
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

/// The page as a PDF.
pub(crate) fn printed_by(browser: &Path, show: &Show, report: &Report, html: &str) -> Result<Vec<u8>, Failure> {
    let slate = slate::of_looks(show, report.looks.iter().map(|look| look.name.as_str()));
    browser::pdf(browser, html, &format!("{}: look sheet", show.title()), &slate)
}

/// The sheet of the looks of jobs of one show as data and as a page, with what a stress test found.
pub(crate) fn make(
    request: &Request,
    jobs: &[Job<'_>],
    cubes: &Cubes,
    cases: &[CaseReport],
) -> Result<(Report, String), Failure> {
    let show = jobs.first().ok_or_else(|| Failure::new("the show bakes nothing: add an entry under [[bake]]"))?.show();
    let frames = frames(request, show)?;
    // The still beside the document stands for every look: its scopes are made where it is asked for.
    let given: Vec<(String, &Frame)> = request.frames.iter().map(|path| named(path)).zip(&frames).collect();
    let folder = disk::folder_of(&request.document);
    let names: BTreeSet<&str> = jobs.iter().map(|job| job.look().name).collect();
    let (mut looks, mut scoped) = (Vec::new(), Vec::new());
    for name in names {
        let jobs: Vec<Job<'_>> = jobs.iter().filter(|job| job.look().name == name).copied().collect();
        if let Some(first) = jobs.first() {
            let mut look = look_sheet(first, &jobs, (cubes, cases))?;
            let of = scopes::scopes(&look, show, &given, folder)?;
            look.scopes = of.iter().map(|one| one.summary.clone()).collect();
            looks.push(look);
            scoped.push(of);
        }
    }
    let path = |path: &Path| path.display().to_string();
    let report = Report {
        schema: SCHEMA,
        version: env!("CARGO_PKG_VERSION"),
        show: show.title().to_owned(),
        page: path(&request.page),
        pdf: request.pdf.as_deref().map(path),
        looks,
    };
    let html = html::html(&report, show, &Pictures::new(show, &frames), &scoped)?;
    Ok((report, html))
}

/// A file's name, without the folders that lead to it.
fn named(path: &Path) -> String {
    path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default()
}

/// A file to write; its place is checked before the work.
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
        let name = named(path);
        disk::check(path)?;
        Ok(Self { batch: Batch::new(disk::folder_of(path))?, name })
    }

    fn with(mut self, contents: impl AsRef<[u8]>) -> Result<Batch, Failure> {
        self.batch.add(&self.name, contents)?;
        Ok(self.batch)
    }
}

/// The stills for the pictures.
fn frames(request: &Request, show: &Show) -> Result<Vec<Frame>, Failure> {
    let read = |path: &PathBuf| frame_input::light(path, &request.frame_is, Some(show));
    picture::stills(&request.document, &request.frames).iter().map(read).collect()
}

/// The sheet of the look of `first` and of the other jobs.
fn look_sheet(
    first: &Job<'_>,
    jobs: &[Job<'_>],
    (cubes, cases): (&Cubes, &[CaseReport]),
) -> Result<LookSheet, Failure> {
    let (show, name, look) = (first.show(), first.look().name, first.look().item());
    let file = &first.look().entry.id.file;
    let document = look.sources().iter().find(|source| source.file == *file).cloned();
    let document = document.ok_or_else(|| Failure::new(format!("{file} is not one of the files that were read")))?;
    let cameras: BTreeMap<&str, &Entry<Camera>> =
        jobs.iter().map(|job| (job.camera().name, job.camera().entry)).collect();
    let displays: BTreeMap<&str, &Entry<Display>> =
        jobs.iter().map(|job| (job.display().name, job.display().entry)).collect();
    let camera = |(name, entry): (&&str, &&Entry<Camera>)| {
        let fail = |refused: Refusals| {
            Failure::new(refused.iter().map(|r| format!("camera {name}: {r}")).collect::<Vec<_>>().join("\n"))
        };
        CameraSheet::of(name, entry, show.measured(name)).map_err(fail)
    };
    let display = |(display, entry): (&&str, &&Entry<Display>)| {
        DisplaySheet::of(display, entry, look, first.camera().item())
            .map_err(|refused| Failure::of_path(name, display, refused))
    };
    Ok(LookSheet {
        name: name.to_owned(),
        title: look.title().to_owned(),
        revision: look.revision(),
        sources: sources(show, name),
        steps: look.sentences(),
        document,
        cameras: cameras.iter().map(camera).collect::<Result<_, _>>()?,
        displays: displays.iter().map(display).collect::<Result<_, _>>()?,
        cubes: cubes.of(jobs)?,
        stress: cases.iter().filter(|case| case.look == name).map(StressSummary::of).collect(),
        shots: shots(show, name),
        scopes: Vec::new(),
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
