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
use rushlight::camera::Range;
use rushlight::cube::{Cube, Interpolation, POINTS, Table, check_points};
use rushlight::format::clf::ProcessList;
use rushlight::format::cube::{WriteOptions, write};
use rushlight::format::hald::{Depth, Hald};
use rushlight::table_file::{Kind, TableFile};
use std::path::Path;

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
    let title = args.title.clone().unwrap_or_else(|| sources[0].title().to_owned());
    let (contents, said) = match whole(&sources, args, kind) {
        Some(Whole::List(mut list)) => {
            list.name = Some(title).filter(|t| !t.is_empty());
            (list.to_xml().into_bytes(), "as it was".to_owned())
        }
        Some(Whole::Tables(tables)) => (file(&tables, kind, &title, out, args)?, "nodes as they were".to_owned()),
        None => {
            let cube = sampled(&sources, args)?;
            let said = format!("sampled with {} points", cube.size());
            (file(&[cube.into()], kind, &title, out, args)?, said)
        }
    };
    disk::write(out, contents)?;
    output::print(&format!("{}: {said}\n", out.display()))
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
                TableFile::Clf(_) => None,
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

/// One cube that does what all of them do, with the changes of range.
fn sampled(sources: &[TableFile], args: &Convert) -> Result<Cube, Failure> {
    let points = args.points.or_else(|| sources.iter().filter_map(TableFile::points).max()).unwrap_or(POINTS);
    let domain = match args.domain.as_deref() {
        Some([low, high]) => [[*low; 3], [*high; 3]],
        _ => sources[0].domain(),
    };
    let (into, out) = (args.input.map(ranges), args.output.map(ranges));
    let cube = Cube::sample_over(points, domain, |rgb| {
        // What goes in is in the range that the result is to take, and is turned into the range of the files.
        let rgb = into.map_or(rgb, |(made_for, takes)| rgb.map(|v| made_for.encode(takes.decode(v))));
        let rgb = sources.iter().fold(rgb, |rgb, source| source.apply(rgb));
        let rgb = out.map_or(rgb, |(given, wanted)| rgb.map(|v| wanted.encode(given.decode(v))));
        if args.clamp { rgb.map(|v| v.clamp(0.0, 1.0)) } else { rgb }
    });
    cube.map_err(Failure::options)
}

fn ranges(change: RangeChange) -> (Range, Range) {
    match change {
        RangeChange::FullToLegal => (Range::Full, Range::Legal),
        RangeChange::LegalToFull => (Range::Legal, Range::Full),
    }
}

fn file(tables: &[Table], kind: Kind, title: &str, out: &Path, args: &Convert) -> Result<Vec<u8>, Failure> {
    match (kind, tables) {
        (Kind::Clf, _) => {
            let id = out.file_stem().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
            let made = vec![format!("made by rushlight {}", env!("CARGO_PKG_VERSION"))];
            let list = ProcessList::of_tables(id, title, made, tables, Interpolation::Tetrahedral);
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
            let comments = [format!("converted by rushlight {}", env!("CARGO_PKG_VERSION"))];
            let options =
                WriteOptions { title, comments: &comments, digits: args.digits, plain: args.plain, clamp: args.clamp };
            Ok(write(table, &options).map_err(Failure::options)?.into_bytes())
        }
        _ => Err(Failure::new(format!("{}: such a file holds one table", out.display()))),
    }
}
