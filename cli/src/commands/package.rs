//! `package`

mod archive;
mod collect;
mod load_first;
mod readme;
mod reference;
mod reports;
pub(crate) mod verify;

use crate::args::Package as Args;
use crate::browser;
use crate::commands::sheet;
use crate::disk::{self, NewFolder};
use crate::drawing;
use crate::failure::Failure;
use crate::output;
use crate::target;
use archive::Archive;
use collect::{Parcel, collect};
use reports::reports;
use rushlight::bake::Options;
use rushlight::handoff::{File, MANIFEST, Manifest, SUMS, sums};
use rushlight::show::{self, Show, slug};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// The folder where the command names none.
const FOLDER: &str = "hand-off";
/// The day in a hand-off where none is given: the first that a .zip can say.
const DAY: [u16; 3] = [1980, 1, 1];
/// The page that says which file to load where.
const LOAD_FIRST: &str = "load_first.html";

pub(crate) fn run(args: &Args) -> Result<ExitCode, Failure> {
    if let Some(received) = &args.verify {
        return verify::run(received, args.json);
    }
    let Some(file) = &args.show else {
        return Err(Failure::new("give a show, or --verify with a received hand-off"));
    };
    // Stop cards are pages.
    drawing::Format::Pdf.check()?;
    let browser = args.pdf.then(browser::find).transpose()?;
    let day = args.date.as_deref().map(day).transpose()?.unwrap_or(DAY);
    let show = target::load_show(file, &None)?;
    for (what, none) in [("look", show.looks().is_empty()), ("display", show.displays().is_empty())] {
        if none {
            return Err(Failure::new(format!("the show has no {what}: add one under [{what}s]")));
        }
    }
    args.zip.as_deref().map(disk::check).transpose()?;
    let folder = match (&args.out, &args.zip) {
        (None, Some(zip)) => NewFolder::passing(zip)?,
        (out, _) => NewFolder::new(out.as_deref().unwrap_or(Path::new(FOLDER)))?,
    };
    let mut parcel = Parcel::new(folder);
    let time = format!("{:04}-{:02}-{:02}T00:00:00Z", day[0], day[1], day[2]);
    let options = Options { reader: args.reader, fit: args.fit, ..Options::default() };
    collect(&mut parcel, file, &show, &options, &time)?;
    reference::add(&mut parcel, &show, &args.frame, &args.frame_is)?;
    let sheet =
        sheet::Request { frames: args.frame.clone(), frame_is: args.frame_is.clone(), ..sheet::Request::of(file) };
    reports(&mut parcel, &sheet, &show, (!args.no_stress, options.reader), browser.as_deref())?;
    args.chain.iter().try_for_each(|report| chain(&mut parcel, report))?;
    let first = load_first::page(&show, &parcel);
    parcel.add(&File::new(LOAD_FIRST, first, "what to load where"))?;
    let name = file.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let readme = readme::readme(&show, &name, &parcel, &options);
    parcel.add(&File::new("README.txt", readme, "description of the contents"))?;
    seal(&mut parcel, &show, args)?;
    if let Some(path) = &args.zip {
        let mut names: Vec<&str> = parcel.records.iter().map(|r| r.file.as_str()).collect();
        names.extend([MANIFEST, SUMS]);
        names.sort_unstable();
        let root = format!("{}_hand-off", slug(show.title()));
        disk::write_by(path, |file| {
            let mut archive = Archive::new(file, path, &root, day)?;
            archive.add(&names, |name| parcel.folder.read(name))?;
            archive.finish()
        })?;
    }
    let made: Vec<PathBuf> = args.zip.iter().cloned().chain(parcel.folder.path().map(Path::to_owned)).collect();
    let text = if args.json {
        String::from_utf8_lossy(&parcel.folder.read(MANIFEST)?).into_owned()
    } else {
        text(&show, &parcel, &made)
    };
    parcel.folder.finish()?;
    output::print(&text)?;
    Ok(ExitCode::SUCCESS)
}

/// What a report of the chain is.
const CHAIN: &str = "check of the chain";

/// Adds a report of the chain.
fn chain(parcel: &mut Parcel, path: &Path) -> Result<(), Failure> {
    let kind = path.extension().and_then(|e| e.to_str()).filter(|e| ["csv", "html", "json"].contains(e));
    let (Some(_), Some(name)) = (kind, path.file_name().and_then(|n| n.to_str())) else {
        return Err(Failure::new(format!("--chain: {}: the name must end in .csv, .html or .json", path.display())));
    };
    let name = format!("reports/{name}");
    if parcel.records.iter().any(|r| r.file == name) {
        return Err(Failure::new(format!("--chain: {}: the hand-off has {name} already: rename it", path.display())));
    }
    parcel.add(&File::new(name, disk::read_bytes(path)?, CHAIN))
}

/// Adds the manifest and the checksums.
fn seal(parcel: &mut Parcel, show: &Show, args: &Args) -> Result<(), Failure> {
    parcel.records.sort_by(|a, b| a.file.cmp(&b.file));
    let manifest = Manifest::new(show, args.date.as_deref(), &parcel.notes, &parcel.records);
    // Of a large show it takes hundreds of megabytes: it is never whole in memory.
    parcel.folder.add_by(MANIFEST, |file| {
        serde_json::to_writer_pretty(&mut *file, &manifest)?;
        file.write_all(b"\n")
    })?;
    let own = disk::sha256_of(&parcel.folder.within(MANIFEST))?;
    let mut all: Vec<(&str, &str)> = parcel.records.iter().map(|r| (r.file.as_str(), r.sha256.as_str())).collect();
    all.push((MANIFEST, &own));
    all.sort_unstable();
    parcel.folder.add(SUMS, sums(all).as_bytes())
}

/// A day that a .zip can say.
fn day(text: &str) -> Result<[u16; 3], Failure> {
    let found = show::day(text).ok().filter(|[year, ..]| (1980..=2107).contains(year));
    found.ok_or_else(|| Failure::new(format!("--date {text}: must be a day from 1980 to 2107, such as 2026-11-25")))
}

fn text(show: &Show, parcel: &Parcel, made: &[PathBuf]) -> String {
    let names: Vec<String> = made.iter().map(|path| path.display().to_string()).collect();
    let count = parcel.records.len() + 2;
    let mut text = format!("{}: {count} files into {}\n\n", show.title(), names.join(" and "));
    for (folder, what, count) in parcel.folders() {
        let _ = writeln!(text, "  {folder:<12} {count:>4}  {what}");
    }
    for name in [LOAD_FIRST, "README.txt", MANIFEST, SUMS] {
        let _ = writeln!(text, "  {name}");
    }
    text.push('\n');
    for note in &parcel.notes {
        output::wrap(note, output::COLUMNS).iter().for_each(|line| text += &format!("{line}\n"));
    }
    text += "The receiver verifies it with `sha256sum -c SHA256SUMS` or\n`rushlight package --verify`.\n";
    text
}
