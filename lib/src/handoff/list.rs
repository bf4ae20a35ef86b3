//! The list of a hand-off: what each file is, its size and its checksum; and what differs from it in a received one.

use super::{About, File};
use crate::bake::Tool;
use crate::files::{is_barred, sha256};
use crate::format::LineError;
use crate::invalid::Invalid;
use crate::message::beginning;
use crate::sheet::ShotNotes;
use crate::show::{Measured, Production, Show};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;
use std::io::Read;

/// The version of the manifest's shape.
pub const SCHEMA: u32 = 1;
/// The manifest of a hand-off.
pub const MANIFEST: &str = "manifest.json";
/// The checksums of a hand-off, the manifest's among them.
pub const SUMS: &str = "SHA256SUMS";
/// What the manifest calls itself.
pub const LIST: &str = "hand-off";

/// A file of a hand-off.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FileRecord {
    /// Its name, relative to the hand-off, with forward slashes.
    pub file: String,
    /// Its size.
    pub bytes: u64,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
    /// What it is, in a word.
    pub what: &'static str,
    /// Its record: what it was made from, and its error.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub about: Option<About>,
}

impl FileRecord {
    /// The record of a file.
    pub fn of(file: &File) -> Self {
        Self {
            file: file.name.clone(),
            bytes: file.bytes.len() as u64,
            sha256: sha256(&file.bytes),
            what: file.what,
            about: file.about.clone(),
        }
    }
}

/// The manifest of a hand-off, as it is written.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "Rushlight hand-off")]
pub struct Manifest<'m> {
    /// The version of its shape.
    pub schema: u32,
    /// What it is the list of: `hand-off`.
    pub kind: &'static str,
    /// What made it.
    pub tool: Tool,
    /// The title of the show.
    pub show: &'m str,
    /// Who made the looks, and for which day, as the show says.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub production: Option<&'m Production>,
    /// The day that was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub date: Option<&'m str>,
    /// What the corrections of the shots are before or after, and in which space.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub order: Option<String>,
    /// What was noted of each shot.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub shots: BTreeMap<&'m str, ShotNotes>,
    /// What was measured of each camera, when, and by which frames.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub measured: BTreeMap<&'m str, &'m [Measured]>,
    /// What the receiver has to know.
    #[serde(default, skip_serializing_if = "<[String]>::is_empty")]
    pub notes: &'m [String],
    /// Every file but the lists.
    pub files: &'m [FileRecord],
}

impl<'m> Manifest<'m> {
    /// Of a show and the files that were made of it.
    pub fn new(show: &'m Show, date: Option<&'m str>, notes: &'m [String], files: &'m [FileRecord]) -> Self {
        let noted = show.shots().iter().filter_map(|(name, shot)| Some((name.as_str(), ShotNotes::of(&shot.notes)?)));
        let measured = show.cameras().keys().map(|name| (name.as_str(), show.measured(name)));
        Self {
            schema: SCHEMA,
            kind: LIST,
            tool: Tool::this(),
            show: show.title(),
            production: Some(show.production()).filter(|production| !production.lines().is_empty()),
            date,
            order: (!show.shots().is_empty()).then(|| show.grading().words()),
            shots: noted.collect(),
            measured: measured.filter(|(_, all)| !all.is_empty()).collect(),
            notes,
            files,
        }
    }
}

/// The JSON Schema of a manifest.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(Manifest<'static>).to_value()
}

/// A manifest as a received hand-off is checked by it: what may be anything is not read.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct ManifestList {
    /// The version of its shape.
    pub schema: u32,
    /// What it is the list of: `hand-off`.
    pub kind: String,
    /// The title of the show.
    pub show: String,
    /// Every file but the lists.
    pub files: Vec<Listed>,
}

/// A file of a [`ManifestList`]. Other fields are ignored, and take no memory.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct Listed {
    /// Its name, relative to the hand-off, with forward slashes.
    pub file: String,
    /// Its size.
    pub bytes: u64,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
}

/// Reads a manifest piece by piece: memory is bounded by what it lists. A file should come through a `BufReader`.
///
/// # Errors
/// What is no manifest of a hand-off, or one of another version; a file that cannot be read.
pub fn parse_manifest(file: impl Read) -> Result<ManifestList, LineError> {
    let manifest: ManifestList =
        serde_json::from_reader(file).map_err(|e| LineError { line: e.line(), message: beginning(&e.to_string()) })?;
    let refuse = |message| Err(LineError { line: 1, message });
    if manifest.kind != LIST {
        return refuse(format!("of a {}, not of a {LIST}", beginning(&manifest.kind)));
    }
    if manifest.schema != SCHEMA {
        return refuse(format!("schema {} is not supported: this program reads {SCHEMA}", manifest.schema));
    }
    Ok(manifest)
}

/// Whether a file of that name is one that a desktop leaves in folders by itself (common practice, no source).
pub fn is_of_a_system(name: &str) -> bool {
    let of = |part: &str| {
        part.starts_with("._") || [".DS_Store", "Thumbs.db", "desktop.ini"].iter().any(|n| n.eq_ignore_ascii_case(part))
    };
    name.starts_with("__MACOSX/") || name.rsplit('/').next().is_some_and(of)
}

/// How a received file differs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Difference {
    /// It is not there.
    Missing,
    /// It is not of the list.
    Extra,
    /// It has other bytes.
    Changed,
    /// It is not the same in the manifest and in the checksums.
    Unlisted,
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Missing => "missing",
            Self::Extra => "not of this hand-off",
            Self::Changed => "changed",
            Self::Unlisted => "not the same in manifest.json and SHA256SUMS",
        })
    }
}

/// The checksums of files by name, as `sha256sum -c` takes them.
pub fn sums<'f>(files: impl IntoIterator<Item = (&'f str, &'f str)>) -> String {
    files.into_iter().map(|(file, sha256)| format!("{sha256}  {file}\n")).collect()
}

/// The checksums of a file that [`sums`] wrote, by name.
///
/// # Errors
/// The first line that is no checksum and name, and why.
pub fn parse_sums(text: &str) -> Result<BTreeMap<String, String>, LineError> {
    let mut found = BTreeMap::new();
    for (i, line) in text.lines().enumerate() {
        let fail = |why: &str| Err(LineError { line: i + 1, message: why.to_owned() });
        let Some((sum, name)) = line.split_once("  ") else {
            return fail("must be a checksum, two spaces and a name");
        };
        if sum.len() != 64 || !sum.bytes().all(|b| b.is_ascii_hexdigit()) {
            return fail("a SHA-256 has 64 hexadecimal digits");
        }
        if let Err(why) = safe_name(name) {
            return fail(&format!("`{name}`: {why}"));
        }
        if found.insert(name.to_owned(), sum.to_ascii_lowercase()).is_some() {
            return fail(&format!("duplicate name `{name}`"));
        }
    }
    if found.is_empty() { Err(LineError { line: 1, message: "no checksum".to_owned() }) } else { Ok(found) }
}

/// Checks that a name stays within its folder on every system, and can be that of a file there.
///
/// # Errors
/// Why it does not.
pub fn safe_name(name: &str) -> Result<(), Invalid> {
    let refuse = |why: &str| Err(Invalid::plain(why));
    if name.is_empty() {
        refuse("an empty name")
    } else if name.starts_with('/') || name.get(1..2) == Some(":") {
        refuse("a name from the root of a disk: it must stay within the folder")
    } else if name.contains('\\') {
        refuse("a backslash: names have forward slashes")
    } else if name.chars().any(char::is_control) {
        refuse("a control character")
    } else if name.split('/').any(|part| part == ".." || part == "." || part.is_empty()) {
        refuse("a name that leaves its folder, or goes through `.`")
    } else if name.split('/').any(is_barred) {
        refuse("a name that some systems have no file of")
    } else {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_are_read_as_they_are_written() {
        let one = sha256(b"one");
        let text = sums([("a/b c.cube", one.as_str()), ("z", &one)]);
        let read = parse_sums(&text).unwrap();
        assert_eq!(read.keys().collect::<Vec<_>>(), ["a/b c.cube", "z"]);
        assert!(read.values().all(|sum| *sum == one));
        for (text, part) in [
            ("", "no checksum"),
            ("abc  x\n", "line 1: a SHA-256"),
            (&text.replace("  z", " z"), "line 2: must be"),
            (&text.replace("  z", "  ../z"), "line 2: `../z`: a name that leaves"),
            (&text.replace("  z", "  a/b c.cube"), "line 2: duplicate name `a/b c.cube`"),
        ] {
            let why = parse_sums(text).unwrap_err();
            assert!(why.to_string().contains(part), "{why}");
        }
    }

    #[test]
    fn a_manifest_that_is_written_can_be_read() {
        let show = crate::test_show::show("[[step]]\ndo = 'tone'\n", "");
        let files = [FileRecord::of(
            &File::new("aces/a.clf", b"abc", "part").with(About::Part { title: "x".into(), points: 2 }),
        )];
        let written = serde_json::to_vec(&Manifest::new(&show, Some("2026-11-25"), &[], &files)).unwrap();
        let read = parse_manifest(&written[..]).unwrap();
        assert_eq!((read.show.as_str(), read.files.len()), ("Saltmarsh", 1));
        let Listed { file, bytes, sha256 } = &read.files[0];
        assert_eq!((file, *bytes, sha256), (&files[0].file, 3, &files[0].sha256));
    }

    #[test]
    fn a_manifest_is_read_by_what_it_lists() {
        let text = r#"{"schema":1,"kind":"hand-off","show":"S","files":[{"file":"a","bytes":3,"sha256":"x","what":"y","about":[[1]]}]}"#;
        let read = parse_manifest(text.as_bytes()).unwrap();
        assert_eq!((read.files[0].file.as_str(), read.files[0].bytes), ("a", 3));
        for (text, part) in [
            ("{", "line 1: EOF"),
            (&text.replace("hand-off", "bake"), "of a bake, not of a hand-off"),
            (&text.replace("\"schema\":1", "\"schema\":7"), "schema 7 is not supported"),
        ] {
            let why = parse_manifest(text.as_bytes()).unwrap_err();
            assert!(why.to_string().contains(part), "{why}");
        }
    }

    #[test]
    fn files_of_systems_are_known() {
        for name in [".DS_Store", "a/.ds_store", "cubes/Thumbs.db", "desktop.ini", "._a.cube", "__MACOSX/a/._b"] {
            assert!(is_of_a_system(name), "{name}");
        }
        for name in ["a.cube", "DS_Store", "thumbs.db/x", ".hidden"] {
            assert!(!is_of_a_system(name), "{name}");
        }
    }

    #[test]
    fn names_that_leave_are_known() {
        for name in ["a", "a/b.c", "..a", "12A-3 é.cube"] {
            assert_eq!(safe_name(name), Ok(()), "{name}");
        }
        for name in [
            "", "/a", "../a", "a/../b", "a/..", "c:/x", "a\\b", "a//b", "./a", "a\nb", "a/nul", "COM1.cc", "a?", "a..",
            "b. ",
        ] {
            assert!(safe_name(name).is_err(), "{name}");
        }
    }
}
