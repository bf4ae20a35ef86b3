//! What a hand-off holds: its documents, cubes and corrections, as names and bytes; see [`aces`](super::aces) for the
//! look in parts. Pages and drawings of a hand-off are the caller's.

use super::list::safe_name;
use crate::bake::{self, Baked, CubeRecord, Format, Options};
use crate::files::{Files, sha256};
use crate::format::cdl::{self, CdlFile, Correction, Kind, Namespace, Remarks};
use crate::invalid::{Invalid, Refusals};
use crate::show::{Job, Show, slug};
use crate::stress::{CaseGrades, Grade};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;

/// Folders of a hand-off, and what is in each.
pub const FOLDERS: [(&str, &str); 10] = [
    ("cubes/", "a cube for each look, camera and display (.cube, .clf)"),
    ("shots/", "a cube for each shot, with its correction"),
    ("cdl/", "the corrections of the shots, under the shots' names"),
    ("aces/", "the look in parts, from camera to ACES to display (.clf)"),
    ("amf/", "ACES Metadata Files that refer to aces/"),
    ("exposure/", "exposure cubes with their keys and test frames"),
    ("stops/", "stop tables, and a card for each camera"),
    ("reference/", "a frame of each camera, and the picture expected of it"),
    ("reports/", "look sheet (.html, .json), and stress test if it was run"),
    ("documents/", "the documents from which all of it is made"),
];

/// A file of a hand-off.
#[derive(Debug, Clone, PartialEq)]
pub struct File {
    /// Its name, relative to the hand-off, with forward slashes.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// What it is, in a word.
    pub what: &'static str,
    /// What is known of it.
    pub about: Option<About>,
}

impl File {
    /// A file of which nothing more is known.
    pub fn new(name: impl Into<String>, bytes: impl Into<Vec<u8>>, what: &'static str) -> Self {
        Self { name: name.into(), bytes: bytes.into(), what, about: None }
    }

    /// The same with what is known of it.
    #[must_use]
    pub fn with(self, about: About) -> Self {
        Self { about: Some(about), ..self }
    }

    /// Whether it can be received everywhere.
    ///
    /// # Errors
    /// Why its name cannot be that of a file on every system.
    pub fn check(&self) -> Result<(), Invalid> {
        safe_name(&self.name).map_err(|why| Invalid::new(self.name.clone(), format!("{why}: rename it")))
    }
}

/// What the manifest says of a file beside what it is.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum About {
    /// Of a cube, what the manifest of a bake says.
    Cube(Box<CubeRecord>),
    /// Of a part of the look.
    Part {
        /// Its title.
        title: String,
        /// Points along each edge of its cube.
        points: usize,
    },
    /// Of an ACES Metadata File.
    Amf {
        /// The shot whose correction is in it.
        shot: Option<String>,
        /// Name of the look.
        look: String,
        /// Name of the camera.
        camera: String,
        /// Name of the display.
        display: String,
        /// The error of the parts, taken one after the other, against the exact path.
        parts_error: crate::audit::Figures,
    },
    /// Of a stress test.
    Stress {
        /// The worst verdict: `holds`, `marginal` or `breaks`.
        #[serde(rename = "verdict")]
        grade: Grade,
        /// The verdicts of each path.
        cases: Vec<CaseGrades>,
    },
    /// Of a reference frame.
    Frame {
        /// Name of the camera whose signal it is.
        camera: String,
    },
    /// Of the expected picture of a reference frame.
    Expected {
        /// The shot whose correction is on the path.
        shot: Option<String>,
        /// Name of the look.
        look: String,
        /// Name of the camera.
        camera: String,
        /// Name of the display.
        display: String,
        /// The reference frame.
        of: String,
    },
}

/// The cube of one job, in every format.
#[derive(Debug, Clone)]
pub struct CubeFiles<'s> {
    /// The cube.
    pub baked: Baked<'s>,
    /// Its files, in the order of [`Format::ALL`].
    pub files: Vec<File>,
}

/// What a hand-off of a show holds.
#[derive(Debug, Clone)]
pub struct Plan<'s> {
    show: &'s Show,
    options: Options<'s>,
    /// Each job with the folder of its files.
    jobs: Vec<(&'static str, Job<'s>)>,
}

impl<'s> Plan<'s> {
    /// The plan of a show, whose cubes are baked by `options`.
    ///
    /// # Errors
    /// What can be known to be wrong with the files before they are made.
    pub fn new(show: &'s Show, options: Options<'s>) -> Result<Self, Refusals> {
        let plain = show.jobs().into_iter().map(|job| ("cubes", job));
        let jobs: Vec<_> = plain.chain(show.shot_jobs().into_iter().map(|job| ("shots", job))).collect();
        for (_, job) in &jobs {
            for format in Format::ALL {
                bake::preflight(job, format, &options)?;
            }
        }
        Ok(Self { show, options, jobs })
    }

    /// The show.
    pub const fn show(&self) -> &'s Show {
        self.show
    }

    /// What to bake: the jobs of the show, then those of its shots.
    pub fn jobs(&self) -> impl ExactSizeIterator<Item = Job<'s>> {
        self.jobs.iter().map(|(_, job)| *job)
    }

    /// What the hand-off lacks, in sentences.
    pub fn notes(&self) -> Vec<String> {
        let has_cube = |name: &str| self.jobs().any(|job| job.shot() == Some(name));
        let without = self.show.shots().keys().filter(|name| !has_cube(name));
        without
            .map(|name| format!("Shot {name} has no cube: no [[bake]] entry of the show matches its look and camera."))
            .collect()
    }

    /// Every document, where the others find it by its relative name. `files` are those that the show was read from.
    ///
    /// # Errors
    /// A document that cannot be read, that changed since, or that is named from the root of a disk.
    pub fn documents(&self, files: &dyn Files) -> Result<Vec<File>, Refusals> {
        let depth = |name: &str| name.split('/').take_while(|part| *part == "..").count();
        let sources = self.show.sources();
        // Folders above the show's, as many as any document is up, get names of their own.
        let up = sources.iter().map(|s| depth(&s.file)).max().unwrap_or(0);
        let mut documents = Vec::new();
        for source in sources {
            let name = &source.file;
            let refuse = |why: String| Refusals::from(Invalid::plain(why));
            if name.starts_with('/') || name.get(1..2) == Some(":") {
                return Err(refuse(format!(
                    "{name}: a document that is named from the root of a disk would not be found by the receiver: name \
                     it relative to the show, and store it beside the show"
                )));
            }
            let bytes = files.read(name).map_err(|why| refuse(format!("cannot read {name}: {why}")))?;
            if sha256(&bytes) != source.sha256 {
                return Err(refuse(format!("{name} changed while the hand-off was made: begin again")));
            }
            let above = depth(name);
            let base: String = "show/".repeat(up - above);
            let rest = name.split('/').skip(above).collect::<Vec<_>>().join("/");
            documents.push(File::new(format!("documents/{base}{rest}"), bytes, "document"));
        }
        Ok(documents)
    }

    /// The cube of each job in order, two a thread at a time: all of them may be too many for memory.
    ///
    /// # Errors
    /// As [`bake::bake`].
    pub fn cubes(&self) -> impl Iterator<Item = Result<CubeFiles<'s>, Refusals>> {
        let made = |(folder, job): &(&str, Job<'s>)| {
            let baked = bake::bake(job, &self.options)?;
            let file = |format: Format| {
                let file = baked.file(format)?;
                let what = if format == Format::Cube { "cube" } else { "cube, as CLF" };
                let about = Some(About::Cube(Box::new(CubeRecord::of(&baked, &file))));
                Ok(File { about, ..File::new(format!("{folder}/{}", file.name), file.text, what) })
            };
            let files = Format::ALL.map(file).into_iter().collect::<Result<_, Refusals>>()?;
            Ok(CubeFiles { baked, files })
        };
        let group = 2 * rayon::current_num_threads();
        self.jobs.chunks(group).flat_map(move |jobs| jobs.par_iter().map(made).collect::<Vec<_>>())
    }

    /// The corrections of the shots in one collection; none for a show without shots.
    ///
    /// # Errors
    /// Numbers that the format does not hold.
    pub fn corrections(&self) -> Result<Option<File>, Refusals> {
        let show = self.show;
        if show.shots().is_empty() {
            return Ok(None);
        }
        let described = |words: String| Remarks { descriptions: vec![words], ..Remarks::default() };
        let corrections = show.shots().iter().map(|(name, shot)| Correction {
            id: Some(name.clone()),
            numbers: shot.numbers,
            remarks: described(format!("{} of {}", shot.id, shot.file)),
            ..Correction::default()
        });
        let file = CdlFile {
            kind: Kind::Collection,
            namespace: Namespace::default(),
            remarks: described(format!("{}: {}", show.title(), show.grading().words())),
            corrections: corrections.collect(),
            refused: Vec::new(),
        };
        let name = format!("cdl/{}_shots.ccc", slug(show.title()));
        Ok(Some(File::new(name, cdl::write(&file)?, "corrections of the shots")))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_show::{self, NIGHT, SHOW};
    use std::collections::BTreeMap;

    /// The show in a folder beside that of its look.
    fn text() -> String {
        SHOW.replace("looks/night.toml", "../looks/night.toml")
    }

    fn files() -> BTreeMap<String, Vec<u8>> {
        test_show::files(&[("../looks/night.toml", NIGHT), ("show.toml", &text())])
    }

    #[test]
    fn documents_find_each_other_and_are_those_that_were_read() {
        let show = Show::parse("show.toml", &text(), &files()).unwrap();
        let plan = Plan::new(&show, Options::default()).unwrap();
        let names = |files: &[File]| files.iter().map(|f| f.name.clone()).collect::<Vec<_>>();
        assert_eq!(
            names(&plan.documents(&files()).unwrap()),
            ["documents/looks/night.toml", "documents/show/show.toml"]
        );
        let mut other = files();
        other.insert("show.toml".to_owned(), b"x".to_vec());
        let why = plan.documents(&other).unwrap_err().to_string();
        assert!(why.contains("show.toml changed while"), "{why}");
        other.remove("show.toml");
        assert!(plan.documents(&other).unwrap_err().to_string().contains("cannot read show.toml"));
    }

    #[test]
    fn every_job_has_a_cube_in_every_format() {
        let show = Show::parse("show.toml", &text(), &files()).unwrap();
        let plan = Plan::new(&show, Options::default()).unwrap();
        assert_eq!(plan.jobs().len(), 1);
        assert!(plan.corrections().unwrap().is_none() && plan.notes().is_empty());
        let made: Vec<File> = plan.cubes().flat_map(|cube| cube.unwrap().files).collect();
        let stem = "cubes/saltmarsh_night_r1_a_onset_5";
        assert_eq!(
            made.iter().map(|f| f.name.as_str()).collect::<Vec<_>>(),
            [format!("{stem}.cube"), format!("{stem}.clf")]
        );
        for file in &made {
            file.check().unwrap();
            let Some(About::Cube(record)) = &file.about else { panic!("{file:?}") };
            assert_eq!(record.sha256, sha256(&file.bytes));
        }
        let odd = File::new("cubes/nul", "", "cube").check().unwrap_err().to_string();
        assert!(odd.contains("cubes/nul") && odd.contains("rename it"), "{odd}");
    }
}
