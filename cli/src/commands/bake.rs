//! `bake`

use crate::args::{Bake, BakeFormat};
use crate::disk::{Batch, names, read_start};
use crate::failure::{BEYOND, Failure};
use crate::output::{self, COLUMNS, wrap};
use crate::progress::Progress;
use crate::target::{self, Target};
use rushlight::advice::Improvement;
use rushlight::audit::{Audit, FIGURES, Figures, SETS};
use rushlight::bake::{self, Format, MANIFEST, Manifest, Options};
use rushlight::cube::{self, check_points};
use rushlight::format::cube::check_digits;
use rushlight::limit::Limit;
use rushlight::show::{Identified, Job, Named, Show};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::{Display, Write as _};
use std::path::Path;
use std::process::ExitCode;

/// The set that a limit is of when it names none.
const SET: &str = "plausible";
/// Bytes of the manifest of an earlier bake.
const LIST: usize = 64 << 20;

pub(crate) fn run(args: &Bake) -> Result<ExitCode, Failure> {
    args.points.map(|p| check_points("points", p)).transpose().map_err(Failure::options)?;
    check_digits("digits", args.digits).map_err(Failure::options)?;
    let limits = limits(args)?;
    let target = target::load(&args.of.file, &args.of.pick)?;
    let jobs = jobs(&target, args)?;
    let show = &target.show;
    let options = Options {
        reader: args.reader,
        fit: args.fit,
        shaper: args.shaper,
        audit: !args.no_audit,
        digits: args.digits,
        plain: args.plain,
        device: target::device(show, args.device.as_deref())?,
    };
    let formats: BTreeSet<Format> = args.format.iter().copied().map(format).collect();
    if options.shaper && formats.contains(&Format::Cube) {
        return Err(Failure::new("--shaper: a .cube holds either a cube or curves: add --format clf"));
    }
    preflight(&jobs, &formats, &options)?;
    let mut batch = Batch::of_our_names(&args.out, Some(MANIFEST), args.force)?;
    let mut manifest = Manifest::new(show);
    let progress = Progress::new(jobs.len(), "{pos}/{len} cubes, {eta} left");
    let mut lines = Vec::new();
    for job in &jobs {
        let baked = bake::bake(job, &options).map_err(Failure::refused)?;
        for format in &formats {
            let file = baked.file(*format).map_err(Failure::refused)?;
            batch.add(&file.name, &file.text)?;
            manifest.add(&baked, &file);
            lines.push(Line {
                file: file.name,
                job: *job,
                held_back: baked.fit().map(|f| f.held_back),
                audit: baked.audit().copied(),
            });
        }
        progress.step();
    }
    progress.end();
    let orphans = orphans(&args.out, &lines);
    batch.add(MANIFEST, manifest.to_json())?;
    let replaced = batch.replaced(MANIFEST);
    batch.finish()?;
    if args.json {
        output::print(&manifest.to_json())?;
    } else {
        output::print(&(report(show, &jobs, &lines, &options, args, replaced) + &advice(&lines, &options)?))?;
    }
    let stale = stale(&args.out, &lines);
    if !stale.is_empty() {
        let them = if stale.len() == 1 { "This cube is" } else { "These cubes are" };
        let dir = args.out.display();
        output::warn(&[format!("{them} of another revision, and still in {dir}: {}", stale.join(", "))]);
    }
    if !orphans.is_empty() {
        let (them, dir) = (count(orphans.len(), "cube"), args.out.display());
        output::warn(&[format!(
            "{MANIFEST} lists this bake alone, and no longer {them} of an earlier bake in {dir}: {}. Give another --out to \
             have both listed",
            orphans.join(", ")
        )]);
    }
    output::warn(&show.order_warnings(&jobs));
    let broken: Vec<String> = lines.iter().flat_map(|line| line.broken(&limits, options.reader)).collect();
    broken.iter().for_each(|b| output::say(&format!("limit exceeded: {b}")));
    Ok(if broken.is_empty() { ExitCode::SUCCESS } else { ExitCode::from(BEYOND) })
}

/// Files in `dir` that have the name of one of `lines` but for the revision of the look.
fn stale(dir: &Path, lines: &[Line<'_>]) -> Vec<String> {
    let revised = bake::of_any_revision;
    let ours: BTreeSet<String> = lines.iter().map(|line| revised(&line.file)).collect();
    let is_ours = |name: &String| lines.iter().any(|line| line.file == *name);
    names(dir).into_iter().filter(|name| ours.contains(&revised(name)) && !is_ours(name)).collect()
}

/// Cubes of the manifest that this one replaces which are still there, and not of this bake.
fn orphans(dir: &Path, lines: &[Line<'_>]) -> Vec<String> {
    let before = Manifest::parse(&read_start(&dir.join(MANIFEST), LIST)).map_or_else(|_| Vec::new(), |m| m.cubes);
    let others = before.into_iter().map(|cube| cube.file).filter(|file| !lines.iter().any(|line| line.file == *file));
    let mut others: Vec<String> = others.filter(|file| dir.join(file).is_file()).collect();
    let stale = stale(dir, lines);
    others.retain(|file| !stale.contains(file));
    others.sort();
    others.dedup();
    others
}

/// A file, and its error.
struct Line<'s> {
    file: String,
    job: Job<'s>,
    /// Nodes that a fit held back.
    held_back: Option<usize>,
    audit: Option<Audit>,
}

impl Line<'_> {
    /// The limits that the file breaks under any interpolation that its reader may use, in words.
    fn broken(&self, limits: &[Limit], reader: cube::Reader) -> Vec<String> {
        let mut broken = Vec::new();
        for limit in limits {
            let set = limit.set.as_deref().unwrap_or(SET);
            for kind in reader.interpolations() {
                let value = self.audit.as_ref().and_then(|a| a.set(set)).and_then(|s| s.by(*kind).get(&limit.figure));
                if let Some(value) = value.filter(|v| limit.is_broken_by(*v)) {
                    let colours =
                        if set == SET { "colours that a camera meets".to_owned() } else { format!("{set} colours") };
                    broken.push(format!("{}: {value:.4} is more than {limit}, {colours}, {}", self.file, kind.name()));
                }
            }
        }
        broken
    }
}

fn limits(args: &Bake) -> Result<Vec<Limit>, Failure> {
    let parse = |text: &String| Limit::parse(text, &SETS, &FIGURES);
    args.max_error
        .iter()
        .map(parse)
        .collect::<Result<_, _>>()
        .map_err(|why| Failure::new(format!("--max-error: {why}")))
}

fn format(format: BakeFormat) -> Format {
    match format {
        BakeFormat::Cube => Format::Cube,
        BakeFormat::Clf => Format::Clf,
    }
}

/// Everything that can be known to be wrong before the work, in one go.
fn preflight(jobs: &[Job<'_>], formats: &BTreeSet<Format>, options: &Options<'_>) -> Result<(), Failure> {
    let mut all = Vec::new();
    for job in jobs {
        for format in formats {
            if let Err(problems) = bake::preflight(job, *format, options) {
                let name = format!("{}.{}", job.file_stem(), format.name());
                all.extend(problems.iter().map(|p| format!("{name}: {p}")));
            }
        }
    }
    if all.is_empty() { Ok(()) } else { Err(Failure::new(all.join("\n"))) }
}

/// The cubes that were asked for.
fn jobs<'s>(target: &'s Target, args: &Bake) -> Result<Vec<Job<'s>>, Failure> {
    let show = &target.show;
    for (what, none) in [("look", show.looks().is_empty()), ("display", show.displays().is_empty())] {
        if none {
            return Err(Failure::new(format!("the show has no {what}: add one under [{what}s]")));
        }
    }
    let of_shots = args.shots || !args.shot.is_empty();
    let all = if of_shots { shot_jobs(show, &args.shot)? } else { show.jobs() };
    // Of one size, several may be the same.
    let sized = |job: Job<'s>| job.with_points(args.points.unwrap_or(job.points()));
    let jobs: BTreeSet<Job<'s>> = target.picked(all)?.into_iter().map(sized).collect();
    Ok(jobs.into_iter().collect())
}

/// The cubes of the shots that were named, or of all.
fn shot_jobs<'s>(show: &'s Show, named: &[String]) -> Result<Vec<Job<'s>>, Failure> {
    named.iter().try_for_each(|name| show.shot(name).map(|_| ())).map_err(Failure::options)?;
    if show.shots().is_empty() {
        return Err(Failure::new("--shots: the show has no shots: add them under [[shots]]"));
    }
    let jobs = show.shot_jobs();
    let is_named = |name: &str| named.is_empty() || named.iter().any(|n| n == name);
    if let Some(none) =
        show.shots().keys().find(|name| is_named(name) && !jobs.iter().any(|j| j.shot() == Some(name.as_str())))
    {
        return Err(Failure::new(format!(
            "shot {none}: no [[bake]] entry of the show matches its look and camera: add one"
        )));
    }
    Ok(jobs.into_iter().filter(|job| job.shot().is_some_and(is_named)).collect())
}

/// Characters for the names in a report.
const NAME_WIDTH: usize = 13;
/// Characters for file names beside figures, within 80 columns.
const FILE_WIDTH: usize = 41;

/// The report; `replaced` files were there before.
fn report(
    show: &Show,
    jobs: &[Job<'_>],
    lines: &[Line<'_>],
    options: &Options<'_>,
    args: &Bake,
    replaced: usize,
) -> String {
    let mut text = format!("{}: {} into {}\n", show.title(), count(lines.len(), "cube"), args.out.display());
    if replaced > 0 {
        let _ = writeln!(text, "{} of an earlier bake replaced", count(replaced, "cube"));
    }
    let mut legend = |what: &str, entries: BTreeMap<&str, String>| {
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
    fn described<'s, T: Identified<Id: Display>>(of: Named<'s, T>) -> (&'s str, String) {
        let Named { name, entry } = of;
        let words = if entry.label == name { entry.id.to_string() } else { format!("{}: {}", entry.label, entry.id) };
        (name, words)
    }
    let looks = jobs.iter().map(Job::look);
    let looks =
        looks.map(|Named { name, entry }| (name, format!("{}, revision {}", entry.label, entry.item.revision())));
    legend("look", looks.collect());
    legend("camera", jobs.iter().map(|job| described(job.camera())).collect());
    legend("display", jobs.iter().map(|job| described(job.display())).collect());
    let shots = jobs.iter().filter_map(|job| job.shot().zip(job.correction()));
    let shots: BTreeMap<&str, String> = shots.map(|(name, shot)| (name, shot.numbers.to_string())).collect();
    if !shots.is_empty() {
        legend("shot", shots);
        let _ = writeln!(text, "  ({})", show.grading().words());
    }
    text.push('\n');
    text.push_str(&files(lines, options.reader));
    text.push_str(&held_back(lines));
    text.push_str("  manifest.json: what each cube is and what it was made from\n");
    text.push_str("\nA cube is not a light meter: test it on your camera and monitor first.\n");
    text
}

/// The files, with their errors, a table for each unit.
fn files(lines: &[Line<'_>], reader: cube::Reader) -> String {
    let width = lines.iter().map(|l| l.file.len()).max().unwrap_or(0).min(FILE_WIDTH);
    let mut text = String::new();
    for line in lines.iter().filter(|line| line.audit.is_none()) {
        let _ = writeln!(text, "  {}", line.file);
    }
    let mut by_formula: BTreeMap<&str, Vec<(&Line<'_>, &Audit)>> = BTreeMap::new();
    for (line, audit) in lines.iter().filter_map(|line| line.audit.as_ref().map(|audit| (line, audit))) {
        by_formula.entry(audit.formula()).or_default().push((line, audit));
    }
    if !by_formula.is_empty() {
        let read = match reader {
            cube::Reader::Either => "the worse of tetrahedral and trilinear interpolation".to_owned(),
            one => format!("{} interpolation", one.name()),
        };
        let said = format!(
            "Error of each cube against the exact path, for colours that a camera meets, with {read}. An error of 1 is what \
             a careful eye just sees side by side."
        );
        text.push_str(&(wrap(&said, COLUMNS).join("\n") + "\n\n"));
    }
    // A table for each unit.
    for (formula, audited) in by_formula {
        let _ = writeln!(text, "  {formula:<width$} {:>7} {:>7} {:>7}", "mean", "99 %", "max");
        audited.iter().for_each(|(line, audit)| push_line(&mut text, line, audit, reader, width));
        text.push('\n');
    }
    text
}

/// A file with its error, the larger one of both readings where its reader may use either.
fn push_line(text: &mut String, line: &Line<'_>, audit: &Audit, reader: cube::Reader, width: usize) {
    if line.file.len() > width {
        let _ = writeln!(text, "  {}", line.file);
    }
    let name = if line.file.len() > width { "" } else { &line.file };
    let of = |pick: fn(&Figures) -> f64| {
        let all = reader.interpolations().iter().map(|kind| pick(audit.plausible.by(*kind)));
        all.fold(0.0, f64::max)
    };
    let (mean, p99, max) = (of(|f| f.mean), of(|f| f.p99), of(|f| f.max));
    let _ = writeln!(text, "  {name:<width$} {mean:>7.3} {p99:>7.3} {max:>7.3}");
}

/// What fits held back.
fn held_back(lines: &[Line<'_>]) -> String {
    let held = lines.iter().filter(|line| line.held_back.is_some_and(|nodes| nodes > 0)).count();
    if held == 0 {
        return String::new();
    }
    let said = format!(
        "(in {} the fit leaves some or all nodes as sampled, where fitted ones would raise the largest error)",
        count(held, "cube")
    );
    wrap(&said, 76).iter().map(|line| format!("  {line}\n")).collect()
}

/// What would lower the error, of the cube with the largest one in each unit.
fn advice(lines: &[Line<'_>], options: &Options<'_>) -> Result<String, Failure> {
    let of = |line: &Line<'_>, pick: fn(&Figures) -> f64| {
        let worst = |audit: &Audit| {
            options.reader.interpolations().iter().map(|k| pick(audit.plausible.by(*k))).fold(0.0, f64::max)
        };
        line.audit.as_ref().map_or(0.0, worst)
    };
    let mut worst: BTreeMap<&str, &Line<'_>> = BTreeMap::new();
    for (line, audit) in lines.iter().filter_map(|line| line.audit.as_ref().map(|audit| (line, audit))) {
        let there = worst.entry(audit.formula()).or_insert(line);
        if of(line, |f| f.max) > of(there, |f| f.max) {
            *there = line;
        }
    }
    let mut text = String::new();
    for (formula, line) in worst {
        text.push_str(&remedies(formula, line, lines.len() > 1, [of(line, |f| f.mean), of(line, |f| f.max)], options)?);
    }
    Ok(text)
}

/// Advice on lowering the error of one cube, given its mean and its largest error, in one sentence.
fn remedies(
    formula: &str,
    line: &Line<'_>,
    is_one_of_many: bool,
    [mean, max]: [f64; 2],
    options: &Options<'_>,
) -> Result<String, Failure> {
    if mean <= 0.0 {
        return Ok(String::new());
    }
    let advice = bake::advice(&line.job, options).map_err(Failure::refused)?;
    let option = |way: &Improvement| match way {
        Improvement::Points(points) => format!("{points} points"),
        Improvement::Compress => "`compress` at the start of the look".to_owned(),
        Improvement::Shaper => "a shaper (--shaper, CLF)".to_owned(),
        Improvement::Fit => "a fit (--fit)".to_owned(),
    };
    // In proportion to what the audit measured: the remedies are tried on fewer colours.
    let share = mean / advice.now;
    let estimates: Vec<String> =
        advice.ways.iter().map(|(way, to)| format!("{:.2} with {}", to * share, option(way))).collect();
    if estimates.is_empty() {
        return Ok(String::new());
    }
    let said = format!(
        "{}{}: max {max:.2}, mean {mean:.2} ({formula}). Estimated mean: {}.",
        if is_one_of_many { "Largest error: " } else { "" },
        line.file,
        estimates.join("; ")
    );
    Ok(wrap(&said, COLUMNS).iter().fold("\n".to_owned(), |text, line| text + line + "\n"))
}

fn count(n: usize, what: &str) -> String {
    if n == 1 { format!("1 {what}") } else { format!("{n} {what}s") }
}
