//! `convert`

mod corrections;
mod events;
mod frames;

use crate::args::{Convert, PngBits, RangeChange};
use crate::corrections::is_corrections;
use crate::disk;
use crate::failure::Failure;
use crate::output;
use crate::table;
use rayon::prelude::*;
use rushlight::camera::Range;
use rushlight::cube::{Cube, Interpolation, POINTS, Table, check_points};
use rushlight::format::clf::ProcessList;
use rushlight::format::cube::{DEFAULT_DIGITS, WriteOptions, write};
use rushlight::format::hald::{Depth, Hald};
use rushlight::slate::{self, Slate};
use rushlight::table_file::{Kind, TableFile};
use std::path::Path;

/// Points along each axis at which a new cube is compared with its source: 47 steps share no place with those of usual cubes but
/// the ends.
const CHECK_POINTS: usize = 48;

/// Most of the places along an axis at which it is compared.
const MOST_PLACES: usize = 130;

pub(crate) fn run(args: &Convert) -> Result<(), Failure> {
    let Some((out, inputs)) = args.files.split_last().filter(|(_, inputs)| !inputs.is_empty()) else {
        return Err(Failure::new("give files to read, then the file to write"));
    };
    if frames::is_about(&inputs[0], out) {
        return frames::run(args, inputs, out);
    }
    if args.camera.is_some() || args.linear.is_some() {
        return Err(Failure::new("--camera, --linear: only for stills, such as in.tif out.exr"));
    }
    if is_corrections(&inputs[0]) && events::is_about(args, out) {
        return events::run(args, inputs, out);
    }
    if is_corrections(&inputs[0]) {
        return corrections::run(args, inputs, out);
    }
    if !args.id.is_empty() || args.column.is_some() || args.into.is_some() || args.rate.is_some() {
        return Err(Failure::new("--id, --column, --into, --rate: only for corrections, not for tables: drop them"));
    }
    let kind = table::kind(out)?;
    args.points.map(|p| check_points("points", p)).transpose().map_err(Failure::options)?;
    let sources = inputs.iter().map(|path| table::load(path)).collect::<Result<Vec<_>, _>>()?;
    let ranges = [("input", args.input), ("output", args.output)];
    let ranges: Vec<String> =
        ranges.iter().filter_map(|(of, change)| Some(format!("{of} {}", words((*change)?)))).collect();
    let title = args.title.clone().unwrap_or_else(|| match (sources[0].title(), &ranges[..]) {
        ("", _) => String::new(),
        (title, []) => title.to_owned(),
        (title, changed) => format!("{title} ({})", changed.join(", ")),
    });
    let slate = match (&inputs, &sources[..]) {
        ([path], [source]) => table::slate(source, &disk::read_bytes(path)?),
        _ => None,
    };
    let (contents, said) = match whole(&sources, args, kind) {
        Some(Whole::List(mut list)) => {
            list.name = Some(title).filter(|t| !t.is_empty());
            (list.to_xml().into_bytes(), "as it was".to_owned())
        }
        Some(Whole::Tables(tables)) => {
            let clamped = clamped(&tables, kind, args);
            let changed: Vec<String> = clamped.iter().map(|_| CLAMPED.to_owned()).collect();
            let comments = comments(slate, kind, &changed, false);
            let said = clamped.unwrap_or_else(|| "nodes as they were".to_owned()) + &rounded(kind, args);
            (file(&tables, kind, (&title, &comments), out, args)?, said)
        }
        None => {
            let cube = sampled(&sources, args)?;
            let said = format!("sampled with {} points", cube.size());
            let mut changed = vec![said.clone()];
            changed.extend(args.domain.as_deref().map(|d| format!("domain {} to {}", d[0], d[1])));
            changed.extend(ranges.iter().cloned());
            changed.extend(args.clamp.then(|| CLAMPED.to_owned()));
            let is_other = args.domain.is_some() || !ranges.is_empty();
            let comments = comments(slate, kind, &changed, is_other);
            let (off, colours) = deviation(&sources, args, &cube);
            let outside = outside(&sources, args);
            let tables = [cube.into()];
            let clamped = clamped(&tables, kind, args).map(|c| format!("; {c}")).unwrap_or_default();
            let said = format!(
                "{said}; it differs from the input by up to {off:.4} of full scale ({colours} colours compared){outside}{clamped}{}",
                rounded(kind, args)
            );
            (file(&tables, kind, (&title, &comments), out, args)?, said)
        }
    };
    disk::write(out, contents)?;
    output::print(&output::paragraph(&format!("{}: {said}", out.display())))
}

/// What a clamp is called in the comments of a file.
const CLAMPED: &str = "clamped to 0 to 1";

/// How many nodes lie outside what is written, where any does: a Hald image holds 0 to 1.
fn clamped(tables: &[Table], kind: Kind, args: &Convert) -> Option<String> {
    let rows = tables.iter().flat_map(Table::rows);
    let (mut all, mut beyond) = (0, 0);
    for rgb in rows {
        (all, beyond) = (all + 1, beyond + usize::from(rgb.iter().any(|v| !(0.0..=1.0).contains(v))));
    }
    ((args.clamp || kind == Kind::Png) && beyond > 0)
        .then(|| format!("{beyond} of {all} nodes lay outside 0 to 1 and were clamped"))
}

/// To what the nodes are rounded, where it is coarser than what usual files hold.
fn rounded(kind: Kind, args: &Convert) -> String {
    match (kind, args.bits) {
        (Kind::Png, PngBits::Eight) => "; rounded to 8 bits".to_owned(),
        (Kind::Cube, _) if args.digits < DEFAULT_DIGITS => format!("; rounded to {} decimals", args.digits),
        _ => String::new(),
    }
}

/// What is written of where the table comes from: the lines of its source with what was changed. Camera and display of a
/// table for other signals (`is_other`) are those that it was for.
fn comments(slate: Option<Slate>, kind: Kind, changed: &[String], is_other: bool) -> Vec<String> {
    let version = env!("CARGO_PKG_VERSION");
    let mut lines = match (kind, &slate) {
        // Of a CLF the first line says who made it, and a slate says that itself.
        (Kind::Clf, None) => vec![slate::made()],
        (Kind::Clf, Some(_)) => Vec::new(),
        _ => vec![format!("converted by rushlight {version}")],
    };
    lines.extend(slate.iter().map(|slate| format!("made by rushlight {}", slate.version)));
    for (name, said) in slate.into_iter().flat_map(|slate| slate.lines) {
        match name.as_str() {
            // Of the table as it was.
            "error" | "fit" if !changed.is_empty() => {}
            "camera" | "display" if is_other => lines.push(format!("{name} of the source: {said}")),
            _ => lines.push(format!("{name}: {said}")),
        }
    }
    if !changed.is_empty() {
        lines.push(format!("changed: {}", changed.join(", ")));
    }
    lines
}

/// A change of range in words.
const fn words(change: RangeChange) -> &'static str {
    match change {
        RangeChange::FullToLegal => "full to legal",
        RangeChange::LegalToFull => "legal to full",
    }
}

/// What can be written without sampling.
enum Whole {
    List(ProcessList),
    Tables(Vec<Table>),
}

fn whole(sources: &[TableFile], args: &Convert, kind: Kind) -> Option<Whole> {
    if args.points.is_some() || args.domain.is_some() || args.input.is_some() || args.output.is_some() {
        return None;
    }
    match sources {
        [TableFile::Clf(list)] if kind == Kind::Clf && !args.clamp => Some(Whole::List(list.clone())),
        _ => {
            let tables = sources.iter().map(|source| match source {
                TableFile::Cube(file, _) => Some(file.tables()),
                TableFile::Clf(list) => list.tables(),
            });
            let tables = tables.collect::<Option<Vec<_>>>()?.concat();
            let fits = match kind {
                Kind::Clf => !args.clamp,
                Kind::Cube => tables.len() == 1,
                Kind::Png => tables.len() == 1 && matches!(tables[0], Table::Cube(_)),
            };
            fits.then_some(Whole::Tables(tables))
        }
    }
}

/// What all of them do to a colour, with the changes of range.
fn path(sources: &[TableFile], args: &Convert, rgb: [f64; 3]) -> [f64; 3] {
    let (into, out) = (args.input.map(ranges), args.output.map(ranges));
    // What goes in is in the range that the result is to take, and is turned into the range of the files.
    let rgb = into.map_or(rgb, |(made_for, takes)| rgb.map(|v| made_for.encode(takes.decode(v))));
    let rgb = through(sources, rgb);
    let rgb = out.map_or(rgb, |(given, wanted)| rgb.map(|v| wanted.encode(given.decode(v))));
    if args.clamp { rgb.map(|v| v.clamp(0.0, 1.0)) } else { rgb }
}

fn through(sources: &[TableFile], rgb: [f64; 3]) -> [f64; 3] {
    sources.iter().fold(rgb, |rgb, source| source.apply(rgb))
}

/// One cube that does what all of them do.
fn sampled(sources: &[TableFile], args: &Convert) -> Result<Cube, Failure> {
    let points = args.points.or_else(|| sources.iter().filter_map(TableFile::points).max()).unwrap_or(POINTS);
    let domain = match args.domain.as_deref() {
        Some([low, high]) => [[*low; 3], [*high; 3]],
        _ => sources[0].domain(),
    };
    Cube::sample_over(points, domain, |rgb| path(sources, args, rgb)).map_err(Failure::options)
}

/// How far a cube is from what it was sampled from, at most, and at how many colours: over a lattice that shares next to no
/// node with it, at the middles between its nodes, and at the nodes of the first file.
fn deviation(sources: &[TableFile], args: &Convert, cube: &Cube) -> (f64, usize) {
    let [low, high] = cube.domain();
    let spread = |count: usize| -> [Vec<f64>; 3] {
        let part = |i: usize| i as f64 / (count - 1) as f64;
        [0, 1, 2].map(|c: usize| (0..count).map(|i| low[c] + part(i) * (high[c] - low[c])).collect())
    };
    let middles = |axis: Vec<f64>| axis.windows(2).map(|w| (w[0] + w[1]) / 2.0).collect::<Vec<f64>>();
    let mut lattices = vec![spread(CHECK_POINTS), spread(cube.size()).map(middles)];
    if let [TableFile::Cube(file, _), ..] = sources
        && let Table::Cube(first) = &file.table
    {
        // Where a node of the first file lies in what the new cube takes.
        let back = args.input.map(ranges);
        let [from, to] = first.domain();
        let last = (first.size() - 1) as f64;
        lattices.push([0, 1, 2].map(|c: usize| {
            let nodes = (0..first.size()).map(|i| from[c] + i as f64 / last * (to[c] - from[c]));
            let nodes = nodes.map(|v| back.map_or(v, |(made_for, takes)| takes.encode(made_for.decode(v))));
            nodes.filter(|v| (low[c]..=high[c]).contains(v)).collect()
        }));
    }
    let off = |rgb: [f64; 3]| {
        let [there, here] = [path(sources, args, rgb), cube.at(rgb, Interpolation::Tetrahedral)];
        (0..3).map(|c| (here[c] - there[c]).abs()).fold(0.0, f64::max)
    };
    let most = |[red, green, blue]: &[Vec<f64>; 3]| {
        let of_plane = |b: &f64| {
            let places = green.iter().flat_map(|g| red.iter().map(move |r| [*r, *g, *b]));
            places.map(off).fold(0.0, f64::max)
        };
        blue.par_iter().map(of_plane).reduce(|| 0.0, f64::max)
    };
    // Of very fine cubes a part: two million colours take a second.
    for axis in lattices.iter_mut().flatten() {
        let every = axis.len().div_ceil(MOST_PLACES);
        *axis = axis.iter().copied().step_by(every.max(1)).collect();
    }
    let colours = lattices.iter().map(|axes| axes.iter().map(Vec::len).product::<usize>()).sum();
    (lattices.iter().map(most).fold(0.0, f64::max), colours)
}

/// That a CLF gives more than the new cube for signals outside 0 to 1, where no domain was asked for.
fn outside(sources: &[TableFile], args: &Convert) -> &'static str {
    const BESIDE: [f64; 4] = [-0.2, 0.3, 0.7, 1.2];
    let differs = |rgb: [f64; 3]| {
        let (there, at_the_end) = (through(sources, rgb), through(sources, rgb.map(|v| v.clamp(0.0, 1.0))));
        (0..3).any(|c| (there[c] - at_the_end[c]).abs() > 1e-4)
    };
    let mut lattice =
        BESIDE.iter().flat_map(|r| BESIDE.iter().flat_map(move |g| BESIDE.iter().map(move |b| [*r, *g, *b])));
    match (sources, &args.domain) {
        ([TableFile::Clf(_), ..], None) if lattice.any(differs) => {
            "; inputs below 0 and above 1 are clamped, which the CLF does not do: --domain covers them"
        }
        _ => "",
    }
}

fn ranges(change: RangeChange) -> (Range, Range) {
    match change {
        RangeChange::FullToLegal => (Range::Full, Range::Legal),
        RangeChange::LegalToFull => (Range::Legal, Range::Full),
    }
}

fn file(
    tables: &[Table],
    kind: Kind,
    (title, comments): (&str, &[String]),
    out: &Path,
    args: &Convert,
) -> Result<Vec<u8>, Failure> {
    match (kind, tables) {
        (Kind::Clf, _) => {
            let id = out.file_stem().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
            let list = ProcessList::of_tables(id, title, comments.to_vec(), tables, Interpolation::Tetrahedral);
            Ok(list.map_err(Failure::options)?.to_xml().into_bytes())
        }
        (Kind::Png, [Table::Cube(cube)]) => {
            let depth = match args.bits {
                PngBits::Eight => Depth::Eight,
                PngBits::Sixteen => Depth::Sixteen,
            };
            let hald = Hald::from_cube(cube, depth).map_err(|e| Failure::new(format!("{}: {e}", out.display())))?;
            Ok(hald.to_png())
        }
        (_, [table]) => {
            let options = WriteOptions { title, comments, digits: args.digits, plain: args.plain, clamp: args.clamp };
            Ok(write(table, &options).map_err(Failure::options)?.into_bytes())
        }
        _ => Err(Failure::new(format!("{}: such a file holds one table", out.display()))),
    }
}
