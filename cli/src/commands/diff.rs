//! `diff`

mod git;
mod html;
mod junit;
mod markdown;
mod origin;
mod pictures;
mod stills;
mod text;

use crate::args::Diff;
use crate::disk;
use crate::failure::{BEYOND, Failure};
use crate::formats::{self, Wanted};
use crate::{frame_input, output, picture, target};
use rushlight::compare::limits;
use rushlight::compare::report::Report;
use rushlight::cube::Interpolation;
use rushlight::diff::{Input, Outcome, Pick, Request, pair};
use rushlight::frame::Frame;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// How a report is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Format {
    Text,
    Json,
    Markdown,
    Html,
    Junit,
}

const FORMATS: [(&str, Format); 5] = [
    ("text", Format::Text),
    ("json", Format::Json),
    ("markdown", Format::Markdown),
    ("html", Format::Html),
    ("junit", Format::Junit),
];

pub(crate) fn run(args: &Diff) -> Result<ExitCode, Failure> {
    let wanted = wanted(args)?;
    let limits =
        args.limit.iter().map(|text| limits::parse(text).map_err(|why| Failure::new(format!("--limit: {why}"))));
    let mut request = Request {
        limits: limits.collect::<Result<_, _>>()?,
        show: args.show.as_deref().map(|path| target::load_show(path, &None)).transpose()?,
        pick: Pick {
            look: args.pick.look.clone(),
            camera: args.pick.camera.clone(),
            display: args.pick.display.clone(),
        },
        lenient: matches!(args.paths.len(), 7 | 9),
    };
    let interpolation = args.interpolation;
    let drawn = wanted.iter().any(|(format, _)| matches!(format, Format::Html));
    let still =
        args.frame.clone().or_else(|| picture::beside(args.paths.get(1).or(args.paths.first())?).filter(|_| drawn));
    if let [old, new] = &args.paths[..]
        && args.git.is_empty()
        && stills::are_pictures(old, new)
    {
        return stills::run(args, &wanted, &request.limits, [old, new]);
    }
    let of_show = request.show.as_ref();
    let frame = still.filter(|_| drawn).map(|path| frame_input::light(&path, &args.frame_is, of_show)).transpose()?;
    if !args.git.is_empty() {
        let (names, found) = git::sides(&args.git, &args.paths, interpolation)?;
        let mut pairs = Vec::new();
        for f in &found {
            // A look that no show names, found on the way, is reported without a picture; one that was named needs a camera.
            request.lenient = !f.is_named && request.pick.is_empty();
            pairs.push(pair(f.old.as_ref(), f.new.as_ref(), &request)?);
        }
        let [old, new] = names;
        return finish(args, &wanted, frame.as_ref(), old, new, pairs);
    }
    match args.paths.as_slice() {
        [old, new] => {
            let read = |path: &PathBuf| Ok::<_, Failure>(Input::read(origin::disk(path)?, interpolation)?);
            let (old, new) = (read(old)?, read(new)?);
            let pairs = vec![pair(Some(&old), Some(&new), &request)?];
            finish(args, &wanted, frame.as_ref(), old.origin.shown(), new.origin.shown(), pairs)
        }
        // As git calls an external diff: path, old file, its hash and mode, new file, its hash and mode, and for a file
        // that was renamed its other name and how alike they are.
        [path, old, _, _, new, _, _] => driven(args, &wanted, &request, [[path, old], [path, new]], interpolation),
        [path, old, _, _, new, _, _, other, _] => {
            driven(args, &wanted, &request, [[path, old], [other, new]], interpolation)
        }
        // An unmerged path.
        [path] if std::env::var_os("GIT_DIFF_PATH_COUNTER").is_some() => {
            output::print(&format!("{}: not merged\n", path.display()))?;
            Ok(ExitCode::SUCCESS)
        }
        _ => Err(Failure::new("give two files, OLD and NEW, or --git REV [REV] -- PATH...")),
    }
}

/// What git asks of an external diff: a failure is reported in its place, and git goes on to the next file.
fn driven(
    args: &Diff,
    wanted: &[Wanted<Format>],
    request: &Request,
    [old, new]: [[&PathBuf; 2]; 2],
    interpolation: Option<Interpolation>,
) -> Result<ExitCode, Failure> {
    let side = |[path, file]: [&PathBuf; 2]| -> Result<Option<Input>, Failure> {
        if file == Path::new("/dev/null") || file == Path::new("nul") {
            return Ok(None);
        }
        // The file's own name and folder, where the files that it names are; its bytes from git.
        Ok(Some(Input::read(origin::beside(path, disk::read_bytes(file)?), interpolation)?))
    };
    let run = || -> Result<(), Failure> {
        let (one, two) = (side(old)?, side(new)?);
        let pairs = vec![pair(one.as_ref(), two.as_ref(), request)?];
        let [before, after] = [old, new].map(|[path, _]| path.display());
        finish(args, wanted, None, format!("a/{before}"), format!("b/{after}"), pairs).map(|_| ())
    };
    if let Err(failure) = run() {
        output::print(&format!("{}: cannot be compared\n", new[0].display()))?;
        failure.report();
    }
    Ok(ExitCode::SUCCESS)
}

fn wanted(args: &Diff) -> Result<Vec<Wanted<Format>>, Failure> {
    if args.json { Ok(vec![(Format::Json, None)]) } else { formats::wanted(&args.format, &FORMATS) }
}

/// Writes every report that was asked for, those to files first; the exit code says what it comes to.
fn finish(
    args: &Diff,
    wanted: &[Wanted<Format>],
    frame: Option<&Frame>,
    old: String,
    new: String,
    pairs: Vec<Outcome<'_>>,
) -> Result<ExitCode, Failure> {
    let (items, compared): (Vec<_>, Vec<_>) = pairs.into_iter().map(|p| (p.item, p.compared)).unzip();
    let report = Report::new(old, new, items);
    let verdict = format!("{} -> {}: {}", report.old, report.new, report.verdict);
    formats::deliver(wanted, &verdict, |format| {
        Ok(match format {
            Format::Text => text::text(&report),
            Format::Json => output::json(&report)?,
            Format::Markdown => markdown::markdown(&report),
            Format::Html => html::html(&report, &compared, frame)?,
            Format::Junit => junit::junit(&report),
        })
    })?;
    Ok(if report.passes() || args.exit_zero { ExitCode::SUCCESS } else { ExitCode::from(BEYOND) })
}
