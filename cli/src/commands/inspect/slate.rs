//! Where a file comes from by its slate, and whether it is still current, in words.

use crate::args::Inspect;
use crate::disk::{read_regular, sha256_of};
use crate::failure::Failure;
use crate::target;
use rushlight::bake::MANIFEST;
use rushlight::inspect::report::Origin;
use rushlight::slate::Slate;
use serde_json::Value;
use std::path::Path;

/// By the slate of a file, against the show that the arguments name.
pub(super) fn origin(slate: Option<Slate>, args: &Inspect) -> Result<Origin, Failure> {
    let show = args.show.as_deref().map(|path| target::load_show(path, &None)).transpose()?;
    let listed = show.is_some().then(|| matches_manifest(&args.file)).flatten();
    Ok(Origin::of(slate, show.as_ref(), listed))
}

/// Lists of files with their checksums that the program writes.
const LISTS: [&str; 3] = [MANIFEST, "exposure.json", "chart.json"];
/// Folders above a file in which a list may stand: that of a hand-off is one or two above.
const FOLDERS: usize = 3;

/// Whether a file is as a list beside or above it has it; none where none lists it.
fn matches_manifest(path: &Path) -> Option<bool> {
    let whole = path.canonicalize().ok()?;
    whole.ancestors().skip(1).take(FOLDERS).find_map(|folder| {
        let name = whole.strip_prefix(folder).ok()?.to_str()?.replace('\\', "/");
        LISTS.iter().find_map(|list| {
            let bytes = read_regular(&folder.join(list)).ok()?;
            let stated = listed(&serde_json::from_slice(&bytes).ok()?, &name)?;
            Some(sha256_of(path).ok()? == stated)
        })
    })
}

/// The checksum of a file in a list.
fn listed(list: &Value, name: &str) -> Option<String> {
    match list {
        Value::Object(entry) if entry.get("file").and_then(Value::as_str) == Some(name) => {
            entry.get("sha256").and_then(Value::as_str).map(str::to_owned)
        }
        Value::Object(entry) => entry.values().find_map(|value| listed(value, name)),
        Value::Array(all) => all.iter().find_map(|value| listed(value, name)),
        _ => None,
    }
}

/// Whether a show was asked and does not have the file as it is, or it cannot be known.
pub(super) fn is_beyond(origin: &Origin, args: &Inspect) -> bool {
    args.show.is_some() && origin.current != Some(true)
}

/// Lines of a report: a name, and what it says.
pub(super) fn fields(origin: &Origin, args: &Inspect) -> Vec<(&'static str, String)> {
    let mut fields = Vec::new();
    let (Some(version), Some(lines)) = (&origin.version, &origin.lines) else {
        match &origin.stale {
            Some(stale) => fields.extend(stale.iter().map(|why| ("current", format!("no: {why}")))),
            None if args.show.is_some() => {
                fields.push(("current", "not known: the file does not name its show".to_owned()));
            }
            None => {}
        }
        return fields;
    };
    match &origin.stale {
        Some(stale) if stale.is_empty() => {
            let said = match origin.matches_manifest {
                Some(_) => "yes: as the show is now, and unchanged since it was made, by its manifest",
                None => "yes: its show and documents are as they were; no manifest says whether the file was changed",
            };
            fields.push(("current", said.to_owned()));
        }
        Some(stale) => {
            for (i, why) in stale.iter().enumerate() {
                fields.push((
                    if i == 0 { "current" } else { "" },
                    if i == 0 { format!("no: {why}") } else { why.clone() },
                ));
            }
        }
        None => {}
    }
    fields.push(("slate", format!("made by rushlight {version}")));
    fields.extend(lines.iter().map(|(name, fact)| ("", format!("{name}: {}", short(fact)))));
    fields
}

/// Digits of a checksum in text; the JSON has all of them.
const DIGITS: usize = 16;

/// A fact of which a checksum at the end is cut to its first digits, so that it fits a terminal's line.
fn short(fact: &str) -> String {
    match fact.rsplit_once(" sha256 ") {
        Some((file, sum)) if sum.len() > DIGITS => format!("{file} sha256 {}...", sum.get(..DIGITS).unwrap_or(sum)),
        _ => fact.to_owned(),
    }
}
