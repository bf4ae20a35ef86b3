//! `package --verify`: whether a received hand-off is the one that was sent.

use crate::disk;
use crate::failure::{BEYOND, Failure};
use crate::output;
use rushlight::files::Hasher;
use rushlight::handoff::archive;
use rushlight::handoff::{
    Difference, Listed, MANIFEST, SCHEMA, SUMS, is_of_a_system, parse_manifest, parse_sums, safe_name,
};
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File};
use std::io::{BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use zip::ZipArchive;

/// Most bytes of the checksums.
const LARGEST_LIST: u64 = 64 << 20;
/// Most bytes of a manifest: 9 KB a cube with its CLF.
const LARGEST_MANIFEST: u64 = 1 << 30;
/// Most bytes of a file whose size is not known.
const LARGEST: u64 = 1 << 32;
/// Most bytes of all files of a .zip together.
const LARGEST_SUM: u64 = 1 << 38;
/// Deepest folder in a hand-off.
const DEEPEST: usize = 32;

#[derive(Serialize, JsonSchema)]
#[schemars(title = "Rushlight package --verify")]
struct Report<'r> {
    /// The version of its shape.
    schema: u32,
    /// The folder or .zip.
    hand_off: String,
    /// The title of the show; none where its manifest is not the one that was sent.
    show: Option<&'r str>,
    /// Files that it should have.
    files: usize,
    /// Whether it is the hand-off as it was sent.
    same: bool,
    /// What is not as it was sent.
    differences: Vec<Found>,
    /// Files that a desktop left there: not of the hand-off, and no harm.
    of_a_system: Vec<String>,
}

#[derive(Serialize, JsonSchema, PartialEq, Eq, PartialOrd, Ord)]
struct Found {
    /// The file.
    file: String,
    /// How it differs: missing, changed, not of this hand-off, or not the same in both lists.
    difference: String,
}

/// The JSON Schema of the report.
pub(crate) fn schema() -> serde_json::Value {
    schemars::schema_for!(Report<'static>).to_value()
}

pub(super) fn run(path: &Path, json: bool) -> Result<ExitCode, Failure> {
    let mut received = Received::open(path)?;
    let named = |name: &str| format!("{}/{name}", path.display());
    let Some(sums) = received.list(SUMS)? else {
        return Err(Failure::new(format!("{}: not a hand-off: it has no {SUMS}", path.display())));
    };
    let text = String::from_utf8(sums).map_err(|_| Failure::new(format!("{} is not text", named(SUMS))))?;
    let expected = parse_sums(&text).map_err(|why| Failure::new(format!("{}, {why}", named(SUMS))))?;
    let mut found = Vec::new();
    let mut note = |file: &str, difference: Difference| {
        found.push(Found { file: file.to_owned(), difference: difference.to_string() });
    };
    // The manifest speaks only where it is the one that was sent. It may be larger than memory; the list in it is not.
    let sent = expected
        .get(MANIFEST)
        .is_some_and(|sum| matches!(received.sum(MANIFEST, None), Ok(Some(Some(got))) if got == *sum));
    let manifest = match sent {
        true => received.with(MANIFEST, |file| Ok(parse_manifest(BufReader::new(file.take(LARGEST_MANIFEST)))))?,
        false => None,
    };
    let manifest = manifest.transpose().map_err(|why| Failure::new(format!("{}, {why}", named(MANIFEST))))?;
    let mut sizes: BTreeMap<&str, u64> = BTreeMap::new();
    if let Some(manifest) = &manifest {
        let listed: BTreeMap<&str, &Listed> = manifest.files.iter().map(|f| (f.file.as_str(), f)).collect();
        sizes = listed.iter().map(|(name, f)| (*name, f.bytes)).collect();
        for (name, sum) in expected.iter().filter(|(name, _)| *name != MANIFEST) {
            if listed.get(name.as_str()).is_none_or(|f| f.sha256 != *sum) {
                note(name, Difference::Unlisted);
            }
        }
        for name in listed.keys().filter(|name| !expected.contains_key(**name)) {
            note(name, Difference::Unlisted);
        }
    } else if !expected.contains_key(MANIFEST) {
        note(MANIFEST, Difference::Unlisted);
    }
    let mut of_a_system = Vec::new();
    for name in received.names() {
        if name == SUMS || expected.contains_key(&name) {
            continue;
        }
        if is_of_a_system(&name) { of_a_system.push(name) } else { note(&name, Difference::Extra) }
    }
    for (name, sum) in &expected {
        match received.sum(name, sizes.get(name.as_str()).copied())? {
            None => note(name, Difference::Missing),
            Some(got) if got.as_deref() != Some(sum) => note(name, Difference::Changed),
            Some(_) => {}
        }
    }
    found.sort();
    let report = Report {
        schema: SCHEMA,
        hand_off: path.display().to_string(),
        show: manifest.as_ref().map(|m| m.show.as_str()),
        files: expected.len() + 1,
        same: found.is_empty(),
        differences: found,
        of_a_system,
    };
    if json {
        output::print_json(&report)?;
    } else {
        output::print(&text_of(&report))?;
    }
    Ok(if report.same { ExitCode::SUCCESS } else { ExitCode::from(BEYOND) })
}

fn text_of(report: &Report<'_>) -> String {
    // Title and names are of the sender: one line of each.
    let one_line = |text: &str| text.chars().map(|c| if c.is_control() { '?' } else { c }).collect::<String>();
    let title = |show: &str| one_line(&show.chars().take(200).collect::<String>());
    let show = report.show.map(|show| format!("{}: ", title(show))).unwrap_or_default();
    let mut text = if report.same {
        format!("{show}{} files, all as in the hand-off\n", report.files)
    } else {
        format!("{show}differs from the hand-off\n")
    };
    for Found { file, difference } in &report.differences {
        text += &format!("  {}: {difference}\n", one_line(file));
    }
    for file in &report.of_a_system {
        text += &format!("  {}: not of this hand-off: the system of a computer left it there\n", one_line(file));
    }
    text
}

/// What was received.
enum Received {
    Folder(PathBuf, Vec<String>),
    /// With its path, and the place of each file by its name.
    Zip(PathBuf, Box<ZipArchive<File>>, BTreeMap<String, usize>),
}

impl Received {
    fn open(path: &Path) -> Result<Self, Failure> {
        let fail = |why: String| Failure::new(format!("cannot read {}: {why}", path.display()));
        let meta = fs::metadata(path).map_err(|e| fail(disk::plainly(&e)))?;
        if meta.is_dir() {
            let mut names = Vec::new();
            walk(path, "", 0, &mut names)?;
            return Ok(Self::Folder(path.to_owned(), names));
        }
        let (mut file, _) = disk::open(path).map_err(fail)?;
        let entries = archive::entries(&mut file).map_err(|refused| fail(refused.message))?;
        let mut zip = ZipArchive::new(file).map_err(|e| fail(format!("not a .zip: {e}")))?;
        if zip.len() != entries.len() || entries.iter().map(|e| e.bytes).sum::<u64>() > LARGEST_SUM {
            return Err(fail(
                "not a .zip of a hand-off: its files are too large, or not those of its directory".to_owned(),
            ));
        }
        let known: BTreeSet<(u64, &str)> = entries.iter().map(|e| (e.header, e.name.as_str())).collect();
        let mut places = BTreeMap::new();
        for i in 0..zip.len() {
            let entry = zip.by_index_raw(i).map_err(|e| fail(e.to_string()))?;
            let name = entry.name().map_err(|e| fail(e.to_string()))?.into_owned();
            let refuse = |why: &str| Err(Failure::new(format!("{}: `{name}`: {why}", path.display())));
            if let Err(why) = safe_name(name.trim_end_matches('/')) {
                return refuse(&why.message);
            }
            if entry.is_symlink() {
                return refuse("a link, which a hand-off never has");
            }
            if !known.contains(&(entry.header_start(), name.as_str())) {
                return refuse("its directory is ambiguous");
            }
            if !entry.is_dir() {
                places.insert(name, i);
            }
        }
        // All of it is in one folder: that of its checksums, where no other has any. Files beside that folder are not of it.
        let of_sums = |name: &String| name.strip_suffix(SUMS)?.strip_suffix('/').map(str::to_owned);
        let roots: Vec<String> = places.keys().filter_map(of_sums).filter(|root| !root.contains('/')).collect();
        if let ([root], false) = (&roots[..], places.contains_key(SUMS)) {
            let within = |name: String| match name.strip_prefix(root.as_str()).and_then(|rest| rest.strip_prefix('/')) {
                Some(rest) => rest.to_owned(),
                None if is_of_a_system(&name) => name,
                None => format!("../{name}"),
            };
            places = places.into_iter().map(|(name, i)| (within(name), i)).collect();
        }
        Ok(Self::Zip(path.to_owned(), Box::new(zip), places))
    }

    fn names(&self) -> Vec<String> {
        match self {
            Self::Folder(_, names) => names.clone(),
            Self::Zip(.., places) => places.keys().cloned().collect(),
        }
    }

    /// Gives a file to `take`; none where it is not there.
    fn with<T>(
        &mut self,
        name: &str,
        take: impl FnOnce(&mut dyn Read) -> std::io::Result<T>,
    ) -> Result<Option<T>, Failure> {
        let (Self::Folder(root, _) | Self::Zip(root, ..)) = &self;
        let place = root.join(name);
        let fail = |why: String| Failure::new(format!("cannot read {}: {why}", place.display()));
        match self {
            Self::Folder(_, names) => {
                if names.binary_search_by(|n| n.as_str().cmp(name)).is_err() {
                    return Ok(None);
                }
                let (mut file, _) = disk::open(&place).map_err(fail)?;
                take(&mut file).map(Some).map_err(|e| fail(disk::plainly(&e)))
            }
            Self::Zip(_, zip, places) => {
                let Some(place) = places.get(name) else { return Ok(None) };
                let mut entry = zip.by_index(*place).map_err(|e| fail(e.to_string()))?;
                take(&mut entry).map(Some).map_err(|e| fail(e.to_string()))
            }
        }
    }

    /// The bytes of a list.
    fn list(&mut self, name: &str) -> Result<Option<Vec<u8>>, Failure> {
        let read = self.with(name, |file| {
            let mut bytes = Vec::new();
            file.take(LARGEST_LIST + 1).read_to_end(&mut bytes)?;
            Ok(bytes)
        })?;
        match read {
            Some(bytes) if bytes.len() as u64 > LARGEST_LIST => {
                Err(Failure::new(format!("{name}: larger than any list of a hand-off ({LARGEST_LIST} bytes)")))
            }
            read => Ok(read),
        }
    }

    /// The checksum of a file of that size; within, none where its size is another.
    fn sum(&mut self, name: &str, bytes: Option<u64>) -> Result<Option<Option<String>>, Failure> {
        let most = bytes.unwrap_or(LARGEST);
        let is_zip = matches!(self, Self::Zip(..));
        let read = self.with(name, |file| {
            let mut hasher = Hasher::default();
            let mut block = vec![0; 1 << 16];
            let mut left = most + 1;
            loop {
                let want = block.len().min(left as usize);
                match file.read(&mut block[..want]) {
                    Ok(0) => break,
                    Ok(n) => {
                        hasher.add(&block[..n]);
                        left -= n as u64;
                    }
                    // An archive that cannot be unpacked is not the one that was sent.
                    Err(_) if is_zip => return Ok(None),
                    Err(e) => return Err(e),
                }
            }
            let read = most + 1 - left;
            Ok(bytes.is_none_or(|bytes| bytes == read).then(|| hasher.finish()))
        });
        match read {
            // Nor is what cannot even be begun.
            Err(_) if is_zip => Ok(Some(None)),
            read => read,
        }
    }
}

/// Every file in a folder, by name, in order; a link counts as a file that it is not.
fn walk(root: &Path, within: &str, depth: usize, names: &mut Vec<String>) -> Result<(), Failure> {
    let dir = root.join(within);
    let fail = |e: &std::io::Error| Failure::new(format!("cannot read {}: {}", dir.display(), disk::plainly(e)));
    if depth > DEEPEST {
        return Err(Failure::new(format!("{}: deeper than any hand-off", dir.display())));
    }
    for entry in fs::read_dir(&dir).map_err(|e| fail(&e))? {
        let entry = entry.map_err(|e| fail(&e))?;
        let name = entry.file_name().to_string_lossy().into_owned();
        let name = if within.is_empty() { name } else { format!("{within}/{name}") };
        let kind = entry.file_type().map_err(|e| fail(&e))?;
        if kind.is_symlink() {
            return Err(Failure::new(format!("{}: a link, which a hand-off never has", root.join(&name).display())));
        }
        if kind.is_dir() {
            walk(root, &name, depth + 1, names)?;
        } else if kind.is_file() {
            names.push(name);
        } else {
            let name = root.join(&name);
            return Err(Failure::new(format!("{}: a pipe or a device, which a hand-off never has", name.display())));
        }
    }
    if depth == 0 {
        names.sort();
    }
    Ok(())
}
