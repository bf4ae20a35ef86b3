//! What `inspect` reports of a file, by what the file is.

use super::Inspection;
use crate::format::cdl::{CdlFile, Correction, Refused};
use crate::format::events::{Event, EventList, Form};
use crate::show::Show;
use crate::slate::Slate;
use crate::step::cdl::CdlNumbers;
use schemars::JsonSchema;
use serde::Serialize;

/// The version of these reports' shapes.
pub const SCHEMA: u32 = 1;

/// The report on a file.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(untagged)]
#[schemars(title = "Rushlight inspect")]
pub enum Report {
    /// On a cube, CLF or Hald image.
    Table(Box<Table>),
    /// On a still.
    Still(File<Still>),
    /// On a clip.
    Clip(File<Clip>),
    /// On a page, a drawing or a PDF.
    Page(File<Page>),
    /// On an event list.
    Events(Events),
    /// On a file of corrections.
    Corrections(Corrections),
}

/// What is said of a file that its manifest does not have as it is.
const CHANGED: &str = "the file is not as its manifest states: it was changed after it was made";

/// Where a file comes from by its slate, and whether it is still as a show has it.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, JsonSchema)]
pub struct Origin {
    /// The version of the program that made the file; none without a slate.
    pub version: Option<String>,
    /// The lines of the slate: what each is about, and what it says; none without a slate.
    pub lines: Option<Vec<(String, String)>>,
    /// Whether the show has the file as it is; none where no show was asked, or without a slate.
    pub current: Option<bool>,
    /// What is not as in the show; none where `current` is none.
    pub stale: Option<Vec<String>>,
    /// Whether the file has the SHA-256 that the manifest beside it or above it states; none where no show was asked, or no
    /// manifest lists the file.
    pub matches_manifest: Option<bool>,
}

impl Origin {
    /// By a slate, if the file has one, against a show, if one is asked, and by what a manifest says of its bytes.
    pub fn of(slate: Option<Slate>, show: Option<&Show>, matches_manifest: Option<bool>) -> Self {
        let mut stale = slate.as_ref().zip(show).map(|(slate, show)| slate.stale(show));
        let is_changed = show.is_some() && matches_manifest == Some(false);
        if is_changed {
            stale.get_or_insert_default().insert(0, CHANGED.to_owned());
        }
        let (version, lines) = slate.map(|slate| (slate.version, slate.lines)).unzip();
        Self { version, lines, current: stale.as_ref().map(Vec::is_empty), stale, matches_manifest }
    }

    /// What an exposure cube shows, and of which camera and rating it is; none of another file.
    pub fn exposure(&self) -> Option<[String; 2]> {
        let (version, lines) = self.version.clone().zip(self.lines.clone())?;
        Slate { version, lines }.exposure()
    }
}

/// The report on a table.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Table {
    /// What the table is like. Of an exposure cube, jumps and falls are no concerns.
    #[serde(flatten)]
    pub inspection: Inspection,
    /// What an exposure cube shows, and of which camera and rating it is; none of another table.
    pub exposure: Option<[String; 2]>,
    /// Where it comes from.
    pub slate: Origin,
}

/// The report on a file of which little more is known than what it is.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "{T}File", deny_unknown_fields)]
pub struct File<T> {
    /// The version of its shape.
    pub schema: u32,
    /// The file.
    pub file: String,
    /// What it is.
    #[serde(flatten)]
    pub what: T,
    /// Where it comes from.
    pub slate: Origin,
}

impl<T> File<T> {
    /// The report on `file`.
    pub const fn new(file: String, what: T, slate: Origin) -> Self {
        Self { schema: SCHEMA, file, what, slate }
    }
}

/// What a still is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Still {
    /// The name of its format.
    pub format: &'static str,
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Bits of a sample.
    pub bits: u8,
    /// What its samples are, in words; none where the file does not say it.
    pub samples: Option<String>,
    /// Its description, which is where a slate stands.
    pub description: Option<String>,
}

#[cfg(feature = "frame")]
impl Still {
    /// Of a frame that was read.
    pub fn of(frame: &crate::frame::Frame) -> Self {
        let info = &frame.info;
        Self {
            format: info.format.name(),
            width: frame.width(),
            height: frame.height(),
            bits: info.depth.bits(),
            samples: crate::image_state::of(frame).ok().map(|known| known.state.to_string()),
            description: crate::frame::description(info),
        }
    }
}

/// What a clip is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Clip {
    /// `clip`.
    pub format: &'static str,
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Frames a second: `24`, or a ratio such as `24000/1001`.
    pub rate: String,
    /// How many frames it has, as the file says; none where it does not say it.
    pub frames: Option<usize>,
    /// The timecode of its first frame.
    pub timecode: Option<String>,
    /// Its reel or tape.
    pub reel: Option<String>,
}

/// What a page is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Page {
    /// `HTML page`, `SVG drawing` or `PDF`.
    pub format: &'static str,
}

/// The report on an event list.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Events {
    /// The version of its shape.
    pub schema: u32,
    /// The file.
    pub file: String,
    /// The form of the list: `edl`, `otio`.
    pub kind: &'static str,
    /// Its title.
    pub title: Option<String>,
    /// Frames a second, where the list says it.
    pub rate: Option<f64>,
    /// The events with a picture, in their order.
    pub events: Vec<EventReport>,
}

/// An event of a list.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct EventReport {
    /// Its line, from 1; in OpenTimelineIO its place among the clips.
    pub line: usize,
    /// The name of its clip or shot; empty for none.
    pub name: String,
    /// Its reel or tape.
    pub reel: Option<String>,
    /// The file of its clip.
    pub source_file: Option<String>,
    /// Timecodes from where to where of the clip it goes; the end is not part of it.
    pub source: Option<[String; 2]>,
    /// Its correction.
    pub correction: Option<CdlNumbers>,
    /// What is wrong with it; empty where all of it can be used.
    pub wrong: Vec<String>,
}

impl Events {
    /// On a list that was read.
    pub fn of(file: String, form: Form, list: &EventList) -> Self {
        let events = list.events.iter().map(EventReport::of).collect();
        Self { schema: SCHEMA, file, kind: form.name(), title: list.title.clone(), rate: list.rate, events }
    }
}

impl EventReport {
    fn of(event: &Event) -> Self {
        let (correction, refused) = match event.correction() {
            Ok(correction) => (correction, None),
            Err(refused) => (None, Some(refused)),
        };
        let mut wrong: Vec<String> = event.unusable.iter().chain(&event.untimed).cloned().collect();
        wrong.extend(refused.into_iter().flatten().map(|refused| refused.to_string()));
        Self {
            line: event.line,
            name: event.name.clone(),
            reel: event.reel.clone(),
            source_file: event.file.clone(),
            source: event.source.map(|source| source.map(|time| time.to_string())),
            correction,
            wrong,
        }
    }
}

/// The report on a file of corrections.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Corrections {
    /// The version of its shape.
    pub schema: u32,
    /// The file.
    pub file: String,
    /// `correction`, `collection` or `decision list`, or the form of a shot list.
    pub kind: &'static str,
    /// The namespace of the file; empty for none.
    pub namespace: &'static str,
    /// Its remarks.
    pub descriptions: Vec<String>,
    /// Rows of a shot list without a correction; no other file has this key.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rows_without: Option<usize>,
    /// The corrections, by their lines.
    pub corrections: Vec<CorrectionReport>,
}

/// A correction of a file.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct CorrectionReport {
    /// Its name.
    pub id: Option<String>,
    /// Its line, from 1.
    pub line: usize,
    /// Its numbers, where it can be used.
    #[serde(flatten)]
    pub numbers: Option<CdlNumbers>,
    /// What is wrong with it, where it cannot be used.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub wrong: Vec<String>,
    /// Its remarks.
    pub descriptions: Vec<String>,
    /// What its input is, in words.
    pub input: Option<String>,
    /// How it is viewed, in words.
    pub viewing: Option<String>,
    /// The media that it is of, in a list of decisions.
    pub media: Vec<String>,
}

impl Corrections {
    /// On a file that was read correction by correction: `kind` and `namespace` say what it was read as, and `rows_without`
    /// how many rows of a list have none.
    pub fn of(file: String, [kind, namespace]: [&'static str; 2], rows_without: Option<usize>, read: &CdlFile) -> Self {
        let mut corrections: Vec<_> = read.corrections.iter().map(CorrectionReport::of).collect();
        corrections.extend(read.refused.iter().map(CorrectionReport::of_refused));
        corrections.sort_by_key(|correction| correction.line);
        let descriptions = read.remarks.descriptions.clone();
        Self { schema: SCHEMA, file, kind, namespace, descriptions, rows_without, corrections }
    }
}

impl CorrectionReport {
    fn of(correction: &Correction) -> Self {
        let [sop, sat] = &correction.node_descriptions;
        Self {
            id: correction.id.clone(),
            line: correction.line,
            numbers: Some(correction.numbers),
            wrong: Vec::new(),
            descriptions: correction.remarks.descriptions.iter().chain(sop).chain(sat).cloned().collect(),
            input: correction.remarks.input.clone(),
            viewing: correction.remarks.viewing.clone(),
            media: correction.media.clone(),
        }
    }

    fn of_refused(refused: &Refused) -> Self {
        Self {
            id: refused.id.clone(),
            line: refused.line,
            numbers: None,
            wrong: refused.wrong.iter().map(ToString::to_string).collect(),
            descriptions: Vec::new(),
            input: None,
            viewing: None,
            media: Vec::new(),
        }
    }
}

/// The JSON Schema of the report: one of several shapes.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(Report).to_value()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_show::show;

    #[test]
    fn a_file_is_current_only_where_a_show_was_asked() {
        let slate = Slate::parse("made by rushlight 0.1.0\nshow: Estuary\nsource: looks/night.toml sha256 00ff\n");
        let origin = Origin::of(slate.clone(), None, None);
        assert_eq!((origin.version.as_deref(), origin.current, origin.stale), (Some("0.1.0"), None, None));
        assert_eq!(origin.lines.map(|lines| lines.len()), Some(2));
        let show = show("[[step]]\ndo = 'tone'\n", "");
        let origin = Origin::of(slate, Some(&show), Some(true));
        assert_eq!((origin.current, origin.stale.map(|stale| stale.len())), (Some(false), Some(2)));
        assert_eq!(Origin::of(None, Some(&show), None), Origin::default());
        assert_eq!(Origin::of(None, Some(&show), Some(false)).current, Some(false));
    }
}
