//! What was done, as text and as JSON.

use super::how::How;
use super::listed::Found;
use crate::output::{COLUMNS, push_field, wrap};
use rushlight::apply::Deviation;
use rushlight::apply::report::{self, ClipShot, Error, Listed, Report, SCHEMA};
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

/// Broken files that the text names one by one.
const NAMED: usize = 10;

/// A file that could not be read or written.
#[derive(Debug, Clone)]
pub(super) struct Broken {
    pub(super) file: PathBuf,
    pub(super) why: String,
}

impl Broken {
    fn record(&self) -> report::Broken {
        report::Broken { file: self.file.display().to_string(), why: self.why.clone() }
    }
}

/// What became of every file.
#[derive(Debug, Default)]
pub(super) struct Outcome {
    pub(super) done: Vec<PathBuf>,
    /// Those that were there already.
    pub(super) skipped: Vec<PathBuf>,
    pub(super) broken: Vec<Broken>,
    /// Those that were not begun after one was broken.
    pub(super) not_begun: usize,
    pub(super) error: Deviation,
    /// Frames of clips that were written.
    pub(super) frames: usize,
    /// What clips were made with, in words.
    pub(super) encoded: BTreeSet<String>,
    /// What stills of a format, or clips, have no place for.
    pub(super) lost: BTreeMap<&'static str, BTreeSet<&'static str>>,
    /// What one has to know of the files.
    pub(super) notes: Vec<String>,
    /// What an event list says of the files.
    pub(super) found: Option<Found>,
}

impl Outcome {
    /// Notes that an output, a still of a format or `a clip`, lacks the metadata of its input.
    pub(super) fn left_out(&mut self, of: &'static str, lost: BTreeSet<&'static str>) {
        if !lost.is_empty() {
            self.lost.entry(of).or_default().extend(lost);
        }
    }

    /// Takes what became of further files.
    pub(super) fn add(&mut self, other: Self) {
        let Self { done, skipped, broken, not_begun, error, frames, encoded, lost, notes, found: _ } = other;
        self.done.extend(done);
        self.skipped.extend(skipped);
        self.broken.extend(broken);
        self.not_begun += not_begun;
        self.error.merge(&error);
        self.frames += frames;
        self.encoded.extend(encoded);
        lost.into_iter().for_each(|(of, lost)| self.left_out(of, lost));
        self.notes.extend(notes);
    }

    /// Notes once which metadata was dropped.
    pub(super) fn say_left_out(&mut self) {
        for (of, lost) in std::mem::take(&mut self.lost) {
            let all = lost.into_iter().collect::<Vec<_>>().join("; ");
            self.notes.push(format!("{of} cannot store this, so it is missing in the output: {all}"));
        }
    }

    /// What the pictures are made with; by a list, each has its own shot.
    fn title<'h>(&self, how: &'h How) -> &'h str {
        if self.found.is_some() { &how.of_all } else { &how.title }
    }

    pub(super) fn text(&self, how: &How, written: Option<&str>) -> String {
        let mut text = format!("{}\n", self.title(how));
        push_field(&mut text, "path", &how.way);
        if let Some(terms) = &how.terms {
            push_field(&mut text, "for", terms);
        }
        if self.error.pixels > 0 {
            push_field(
                &mut text,
                "error",
                &format!(
                    "against the exact path: mean {:.2}, max {:.2} 10-bit codes, measured on {} pixels",
                    self.error.mean(),
                    self.error.max,
                    self.error.pixels
                ),
            );
        }
        let span = |files: &[PathBuf]| match files {
            [] => "nothing".to_owned(),
            [one] => one.display().to_string(),
            [first, .., last] => format!("{} files, {} to {}", files.len(), first.display(), last.display()),
        };
        let kind = written.map(|w| format!(": {w}")).unwrap_or_default();
        push_field(&mut text, "written", &format!("{}{kind}", span(&self.done)));
        if !self.skipped.is_empty() {
            push_field(&mut text, "skipped", &format!("{}: already written", span(&self.skipped)));
        }
        for (i, broken) in self.broken.iter().take(NAMED).enumerate() {
            push_field(&mut text, if i == 0 { "failed" } else { "" }, &broken.why);
        }
        if self.broken.len() > NAMED {
            push_field(&mut text, "", &format!("and {} more", self.broken.len() - NAMED));
        }
        if self.not_begun > 0 {
            push_field(
                &mut text,
                "pending",
                &format!("{} files, after the failure; --resume continues there", self.not_begun),
            );
        }
        if let Some(found) = &self.found {
            listed(&mut text, found);
        }
        for note in &self.notes {
            push_field(&mut text, "note", note);
        }
        text.push('\n');
        text.push_str(&wrap("Check it on your monitor: the output is the signal of that display.", COLUMNS).join("\n"));
        text.push('\n');
        text
    }

    pub(super) fn report(&self, how: &How, written: Option<&str>) -> Report {
        let shown = |files: &[PathBuf]| files.iter().map(|file| file.display().to_string()).collect();
        Report {
            schema: SCHEMA,
            title: self.title(how).to_owned(),
            path: how.way.clone(),
            points: how.points,
            interpolation: how.interpolation.map(str::to_owned),
            display: how.terms.clone(),
            error: Error::of(&self.error),
            written: written.map(str::to_owned),
            done: shown(&self.done),
            skipped: shown(&self.skipped),
            broken: self.broken.iter().map(Broken::record).collect(),
            not_begun: self.not_begun,
            clip_frames: self.frames,
            notes: self.notes.clone(),
            list: self.found.as_ref().map(|found| Listed {
                shots: found
                    .shots
                    .iter()
                    .map(|(clip, shot)| ClipShot { clip: clip.display().to_string(), shot: shot.clone() })
                    .collect(),
                clips_without_shot: shown(&found.without),
                shots_without_clip: found.unused.clone(),
            }),
        }
    }
}

/// The shot of each file, and the files and events without a match.
fn listed(text: &mut String, found: &Found) {
    let fields = |text: &mut String, name: &str, all: Vec<String>| {
        all.iter().enumerate().for_each(|(i, said)| push_field(text, if i == 0 { name } else { "" }, said));
    };
    fields(text, "shots", found.shots.iter().map(|(clip, shot)| format!("{}: {shot}", clip.display())).collect());
    let without = |clip: &PathBuf| format!("{}: no correction in the list; it has the look alone", clip.display());
    fields(text, "no shot", found.without.iter().map(without).collect());
    fields(text, "no clip", found.unused.iter().map(|event| format!("{event}: its clip is not here")).collect());
}
