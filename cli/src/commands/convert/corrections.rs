//! Corrections from one kind of file to another.

use crate::args::Convert;
use crate::corrections::{Read, form, kind, load, wrong};
use crate::disk::{self, Batch};
use crate::failure::Failure;
use crate::output;
use rushlight::files::in_any_case;
use rushlight::format::cdl::{self, CdlFile, Correction, Kind, Namespace, Refused, Remarks};
use rushlight::format::clf::{BitDepth, CdlStyle, Node, Operation, ProcessList};
use rushlight::format::shot_list::{Form, write_csv};
use rushlight::message::unknown;
use rushlight::shot::file_part;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

pub(super) fn run(args: &Convert, inputs: &[PathBuf], out: &Path) -> Result<(), Failure> {
    let for_tables = [
        ("points", args.points.is_some()),
        ("domain", args.domain.is_some()),
        ("input", args.input.is_some()),
        ("output", args.output.is_some()),
        ("plain", args.plain),
        ("rate", args.rate.is_some()),
    ];
    if let Some((name, _)) = for_tables.iter().find(|(_, given)| *given) {
        let what = if *name == "rate" { "event lists" } else { "tables" };
        return Err(Failure::new(format!("--{name}: only for {what}, not for corrections: drop it")));
    }
    let to = Target::of(out)?;
    if args.clamp && to != Target::Clf {
        return Err(Failure::new("--clamp: only for a .clf, because a CDL file cannot state it: drop it"));
    }
    let read = inputs.iter().map(|path| load(path, args.column.as_deref())).collect::<Result<Vec<_>, _>>()?;
    let left = usable(&read, inputs, &args.id)?;
    let mut file = chosen(together(&read, inputs)?, &args.id)?;
    let named = if matches!(to, Target::Cdl(_)) { name_all(&mut file, out) } else { Vec::new() };
    let count = file.corrections.len();
    let mut said = format!("{}: {count} correction{}\n", out.display(), if count == 1 { "" } else { "s" });
    for (path, without) in inputs.iter().zip(&read).filter_map(|(path, read)| match read {
        Read::List(_, _, without) if *without > 0 => Some((path, without)),
        _ => None,
    }) {
        said += &format!("{}: rows without a correction, skipped: {without}\n", path.display());
    }
    for line in left.into_iter().chain(named).chain(lost(&read, inputs, &file, to)) {
        said += &line;
        said.push('\n');
    }
    write(file, to, out, args)?;
    output::print(&said.lines().map(output::paragraph).collect::<String>())
}

/// What the new file has no place for, in words.
fn lost(read: &[Read], inputs: &[PathBuf], file: &CdlFile, to: Target) -> Vec<String> {
    let lists = inputs.iter().zip(read).filter(|(_, read)| matches!(read, Read::List(..)));
    let mut said: Vec<String> = lists
        .map(|(path, _)| {
            format!("{}: only names and corrections are converted, no reels, timecodes or notes", path.display())
        })
        .collect();
    let has_remarks = |remarks: &Remarks| *remarks != Remarks::default();
    let described = |c: &Correction| has_remarks(&c.remarks) || c.node_descriptions.iter().any(|d| !d.is_empty());
    let files_described = read.iter().any(|read| has_remarks(&read.file().remarks));
    if to == Target::Csv && (files_described || file.corrections.iter().any(described)) {
        said.push("descriptions are not converted: a .csv has no place for them".to_owned());
    } else if read.len() > 1 && files_described {
        said.push("descriptions of the files themselves are not converted: several files become one".to_owned());
    }
    said
}

/// What is left of the files, and why: corrections that cannot be used, and that `ids` do not ask for.
///
/// # Errors
/// What is wrong with one that is asked for; with all, where none is named.
pub(super) fn usable(read: &[Read], inputs: &[PathBuf], ids: &[String]) -> Result<Vec<String>, Failure> {
    let mut left = Vec::new();
    for (read, path) in read.iter().zip(inputs) {
        let file = read.file();
        let asked = |c: &&Refused| ids.is_empty() || c.id.as_ref().is_some_and(|id| ids.contains(id));
        let mut bad = file.refused.iter().filter(asked).flat_map(|c| &c.wrong).peekable();
        if bad.peek().is_some() {
            let good = file.ids().count() > 0 && ids.is_empty();
            let hint = if good { "\nconvert the other corrections one by one with --id" } else { "" };
            return Err(Failure::new(wrong(path, bad) + hint));
        }
        left.extend(file.left().map(|left| format!("{}: not converted: {left}", path.display())));
    }
    Ok(left)
}

/// Gives corrections without an id one: the name of the file that is written, with a number where there are several. Which
/// they are, in words.
fn name_all(file: &mut CdlFile, out: &Path) -> Vec<String> {
    let stem = out.file_stem().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let single = file.corrections.len() == 1;
    let taken: Vec<String> = file.ids().map(str::to_owned).collect();
    let mut said = Vec::new();
    for (i, correction) in file.corrections.iter_mut().enumerate().filter(|(_, c)| c.id.is_none()) {
        let mut id = if single { stem.clone() } else { format!("{stem}-{}", i + 1) };
        while taken.contains(&id) {
            id.push('_');
        }
        said.push(format!("a correction without an id (line {}): its id is `{id}` now", correction.line));
        correction.id = Some(id);
    }
    said
}

/// What is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Target {
    Cdl(Kind),
    Csv,
    Clf,
    /// A .cc for each.
    Folder,
}

impl Target {
    fn of(out: &Path) -> Result<Self, Failure> {
        let is_clf = out.extension().is_some_and(|e| e.eq_ignore_ascii_case("clf"));
        match (kind(out), form(out)) {
            (Some(kind), _) => Ok(Self::Cdl(kind)),
            (_, Some(Form::Csv)) => Ok(Self::Csv),
            _ if is_clf => Ok(Self::Clf),
            _ if out.is_dir() || out.to_string_lossy().ends_with(std::path::is_separator) => Ok(Self::Folder),
            _ => Err(Failure::new(format!(
                "{}: corrections are written as .cc, .ccc, .cdl, .csv, .edl, .ale or .clf, or into a folder, whose name ends in `/`",
                out.display()
            ))),
        }
    }
}

/// The corrections of all files.
pub(super) fn together(read: &[Read], inputs: &[PathBuf]) -> Result<CdlFile, Failure> {
    if let [one] = read {
        return Ok(one.file().clone());
    }
    let mut corrections: Vec<Correction> = Vec::new();
    let mut first: BTreeMap<&str, &Path> = BTreeMap::new();
    for (read, path) in read.iter().zip(inputs) {
        for correction in &read.file().corrections {
            if let Some(id) = correction.id.as_deref()
                && let Some(other) = first.insert(id, path)
            {
                let (file, line, other) = (path.display(), correction.line, other.display());
                return Err(Failure::new(format!("{file}, line {line}: id `{id}` is in {other} too")));
            }
            corrections.push(correction.clone());
        }
    }
    let spaces: Vec<Namespace> = read.iter().map(|r| r.file().namespace).collect();
    let namespace = if spaces.windows(2).all(|w| w[0] == w[1]) { spaces[0] } else { Namespace::default() };
    Ok(CdlFile { kind: Kind::Collection, namespace, remarks: Remarks::default(), corrections, refused: Vec::new() })
}

/// Those of the given ids, in the order of the file; all where none is given.
pub(super) fn chosen(file: CdlFile, ids: &[String]) -> Result<CdlFile, Failure> {
    if let Some(none) = ids.iter().find(|id| file.get(id).is_none()) {
        return Err(Failure::new(format!("--id: {}", unknown("correction", none, file.ids()))));
    }
    let keep = |c: &Correction| ids.is_empty() || c.id.as_ref().is_some_and(|id| ids.contains(id));
    Ok(CdlFile { corrections: file.corrections.into_iter().filter(keep).collect(), ..file })
}

fn write(mut file: CdlFile, to: Target, out: &Path, args: &Convert) -> Result<(), Failure> {
    if let Some(title) = &args.title {
        file.remarks.descriptions = vec![title.clone()];
    }
    let text = |file: &CdlFile| cdl::write(file).map_err(Failure::options);
    match to {
        Target::Cdl(kind) => {
            // A file of one correction has no remarks but the correction's own.
            let of_file = std::mem::take(&mut file.remarks);
            match &mut file.corrections[..] {
                [one] if kind == Kind::Correction => {
                    one.remarks.descriptions.splice(0..0, of_file.descriptions);
                    one.remarks.input = one.remarks.input.take().or(of_file.input);
                    one.remarks.viewing = one.remarks.viewing.take().or(of_file.viewing);
                }
                _ => file.remarks = of_file,
            }
            file.kind = kind;
            disk::write(out, text(&file)?)
        }
        Target::Csv => {
            let mut named = Vec::new();
            for c in &file.corrections {
                let Some(id) = c.id.as_deref() else {
                    return Err(Failure::new(
                        "a correction has no id, but each row of a .csv needs a name: give it an id",
                    ));
                };
                if id.starts_with(['=', '+', '-', '@']) {
                    return Err(Failure::new(format!(
                        "id `{id}`: a spreadsheet takes what begins with {} for a formula: give it another id",
                        &id[..1]
                    )));
                }
                named.push((id, &c.numbers));
            }
            disk::write(out, write_csv(named))
        }
        Target::Clf => disk::write(out, clf(&file, out, args)?),
        Target::Folder => {
            let mut files: BTreeMap<String, CdlFile> = BTreeMap::new();
            let mut taken: BTreeMap<String, &str> = BTreeMap::new();
            for c in &file.corrections {
                let Some(id) = &c.id else {
                    return Err(Failure::new("a correction without an id, which would name its file"));
                };
                let one = CdlFile { kind: Kind::Correction, corrections: vec![c.clone()], ..file.clone() };
                let name = format!("{}.cc", file_part(id));
                if let Some(other) = taken.insert(in_any_case(&name), id) {
                    return Err(Failure::new(format!(
                        "corrections `{other}` and `{id}` would be one file, {name}, on some systems: convert them one by one, with --id"
                    )));
                }
                files.insert(name, one);
            }
            let mut batch = Batch::of_our_names(out, None, args.force)?;
            for (name, one) in &files {
                batch.add(name, cdl::write_made(one, &disk::maker()).map_err(Failure::options)?)?;
            }
            batch.finish()
        }
    }
}

/// A CLF of one ASC_CDL node.
fn clf(file: &CdlFile, out: &Path, args: &Convert) -> Result<String, Failure> {
    let [one] = &file.corrections[..] else {
        let ids = file.ids().collect::<Vec<_>>().join(", ");
        return Err(Failure::new(format!("a .clf takes one correction: choose it with --id, one of {ids}")));
    };
    let style = if args.clamp { CdlStyle::Fwd } else { CdlStyle::FwdNoClamp };
    let node = Node {
        id: None,
        name: one.id.clone(),
        descriptions: one.remarks.descriptions.clone(),
        from: BitDepth::F32,
        to: BitDepth::F32,
        operation: Operation::Cdl(style, one.numbers),
    };
    let list = ProcessList {
        id: out.file_stem().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default(),
        name: args.title.clone().or_else(|| one.id.clone()),
        descriptions: vec![format!("made by rushlight {}", env!("CARGO_PKG_VERSION"))],
        input: None,
        output: None,
        nodes: vec![node],
    };
    Ok(list.to_xml())
}
