//! A show: its cameras, its displays, its looks, and what to bake of them.
//!
//! Read from TOML by [`Show::parse`]; the shape of the document is given by [`schema`].

mod cameras;
mod document;
mod id;
mod job;
mod measured;
mod order;
mod production;
mod resolve;
mod shots;
mod standing;
mod stress;

pub use id::{CameraId, DisplayId, Identified, LookId};
pub use job::{Job, Named};
pub use measured::{Measured, day};
pub use order::OrderDifference;
pub use production::Production;
pub use standing::{standing_camera, standing_display};

use crate::camera::Camera;
use crate::compare::limits::Limits;
use crate::cube::POINTS;
use crate::display::Display;
use crate::document::Problems;
use crate::files::{Files, Recorder, Source};
use crate::format::device::Device;
use crate::invalid::{Invalid, Refusals};
use crate::look::Look;
use crate::pipeline::Pipeline;
use crate::shot::{Correction, Grading, Shot};
use crate::stress::Limits as StressLimits;
use job::JobNames;
use std::collections::BTreeMap;
use std::fmt;

/// The version of the document's shape that is read.
pub const SCHEMA: u32 = 1;

/// Why a show could not be read: problems of the show document, or of a document that it names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShowError(Vec<Problems>);

impl fmt::Display for ShowError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, problems) in self.0.iter().enumerate() {
            write!(f, "{}{problems}", if i == 0 { "" } else { "\n" })?;
        }
        Ok(())
    }
}

impl std::error::Error for ShowError {}

impl std::ops::Deref for ShowError {
    type Target = [Problems];

    fn deref(&self) -> &[Problems] {
        &self.0
    }
}

impl From<Vec<Problems>> for ShowError {
    fn from(all: Vec<Problems>) -> Self {
        Self(all)
    }
}

impl IntoIterator for ShowError {
    type Item = Problems;
    type IntoIter = std::vec::IntoIter<Problems>;

    fn into_iter(self) -> Self::IntoIter {
        self.0.into_iter()
    }
}

/// A camera, display, look or device with what the show says of it.
#[derive(Debug, Clone)]
pub struct Entry<T: Identified> {
    /// The label for reports; the name where none is given.
    pub label: String,
    /// What it is in the document's own terms.
    pub id: T::Id,
    /// The thing itself.
    pub item: T,
}

/// A show, read and validated.
#[derive(Debug, Clone)]
pub struct Show {
    title: String,
    production: Production,
    cameras: BTreeMap<String, Entry<Camera>>,
    measured: BTreeMap<String, Vec<Measured>>,
    displays: BTreeMap<String, Entry<Display>>,
    looks: BTreeMap<String, Entry<Look>>,
    devices: BTreeMap<String, Entry<Device>>,
    stress: StressLimits,
    grading: Grading,
    /// Whether the document does not state where the corrections come.
    order_left_out: bool,
    shots: BTreeMap<String, Shot>,
    jobs: Vec<JobNames>,
    limits: Limits,
    remarks: Vec<String>,
    sources: Vec<Source>,
}

impl Show {
    /// Reads the document `text`, whose file is `name`; files that it names come from `files`.
    ///
    /// # Errors
    /// Every problem of the show and of its looks.
    pub fn parse(name: &str, text: &str, files: &dyn Files) -> Result<Self, ShowError> {
        let recorder = Recorder::new(files);
        recorder.note(name, text.as_bytes());
        let mut show = resolve::read(name, text, &recorder)?;
        show.sources = recorder.sources();
        Ok(show)
    }

    /// A show of one look, called `name`, one camera and one display, for a look that stands alone in the document `file`.
    pub fn of_look(
        name: String,
        file: String,
        look: Look,
        camera: (String, Entry<Camera>),
        display: (String, Entry<Display>),
    ) -> Self {
        let job = JobNames { look: name.clone(), camera: camera.0.clone(), display: display.0.clone(), points: POINTS };
        Self {
            title: look.title().to_owned(),
            production: Production::default(),
            sources: look.sources().to_vec(),
            looks: BTreeMap::from([(name, Entry { label: look.title().to_owned(), id: LookId { file }, item: look })]),
            cameras: BTreeMap::from([camera]),
            measured: BTreeMap::new(),
            displays: BTreeMap::from([display]),
            devices: BTreeMap::new(),
            stress: StressLimits::default(),
            grading: Grading::default(),
            order_left_out: true,
            shots: BTreeMap::new(),
            jobs: vec![job],
            limits: Limits::none(),
            remarks: Vec::new(),
        }
    }

    /// The title.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// What was measured of a camera, when, and by which frames.
    pub fn measured(&self, camera: &str) -> &[Measured] {
        self.measured.get(camera).map_or(&[], Vec::as_slice)
    }

    /// Who made the looks, and for which day.
    pub const fn production(&self) -> &Production {
        &self.production
    }

    /// The cameras, by name.
    pub const fn cameras(&self) -> &BTreeMap<String, Entry<Camera>> {
        &self.cameras
    }

    /// The displays, by name.
    pub const fn displays(&self) -> &BTreeMap<String, Entry<Display>> {
        &self.displays
    }

    /// The looks, by name.
    pub const fn looks(&self) -> &BTreeMap<String, Entry<Look>> {
        &self.looks
    }

    /// The boxes that the cubes are for, by name; a look that stands alone has none.
    pub const fn devices(&self) -> &BTreeMap<String, Entry<Device>> {
        &self.devices
    }

    /// Limits of the stress test; a look that stands alone has the defaults.
    pub const fn stress_limits(&self) -> &StressLimits {
        &self.stress
    }

    /// How the corrections of the shots are meant.
    pub const fn grading(&self) -> &Grading {
        &self.grading
    }

    /// The shots, by name.
    pub const fn shots(&self) -> &BTreeMap<String, Shot> {
        &self.shots
    }

    /// What else there is to say of it: corrections of its files that cannot be used, and that no shot asks for.
    pub fn remarks(&self) -> &[String] {
        &self.remarks
    }

    /// What a new version may change of the picture.
    pub const fn limits(&self) -> &Limits {
        &self.limits
    }

    /// Every file that the show was read from.
    pub fn sources(&self) -> &[Source] {
        &self.sources
    }

    /// The compiled path of a look, a camera and a display of this show, by name.
    ///
    /// # Errors
    /// A name that the show does not have, under `look`, `camera` or `display`; or what the look gets wrong on the display.
    pub fn pipeline(&self, look: &str, camera: &str, display: &str) -> Result<Pipeline, Refusals> {
        self.job(look, camera, display, POINTS)?.pipeline()
    }

    /// The correction of a shot, as the show means it.
    ///
    /// # Errors
    /// As [`shot`](Self::shot).
    pub fn correction(&self, shot: &str) -> Result<Correction, Refusals> {
        self.grading.correction(self.shot(shot).map_err(Refusals::from)?.numbers)
    }

    /// A shot by name.
    ///
    /// # Errors
    /// The show does not have it, under `shot`.
    pub fn shot(&self, name: &str) -> Result<&Shot, Invalid> {
        let known = || self.shots.keys().map(String::as_str);
        self.shots.get(name).ok_or_else(|| match self.shots.len() {
            0 => Invalid::new("shot", "the show has no shots: add them under [[shots]]"),
            _ => Invalid::new("shot", crate::message::unknown("shot", name, known())),
        })
    }
}

fn find<'s, T: Identified>(
    map: &'s BTreeMap<String, Entry<T>>,
    what: &str,
    name: &str,
) -> Result<Named<'s, T>, Refusals> {
    let known = || map.keys().map(String::as_str);
    let found = map.get_key_value(name).map(|(name, entry)| Named { name, entry });
    found.ok_or_else(|| Invalid::new(what, crate::message::unknown(what, name, known())).into())
}

/// A title as part of a file name: lower-case ASCII letters, digits and single hyphens.
pub fn slug(title: &str) -> String {
    let mut slug = String::new();
    for c in title.chars() {
        if c.is_ascii_alphanumeric() {
            slug.push(c.to_ascii_lowercase());
        } else if !slug.ends_with('-') && !slug.is_empty() {
            slug.push('-');
        }
    }
    let slug = slug.trim_end_matches('-');
    if slug.is_empty() { "untitled".to_owned() } else { slug.to_owned() }
}

/// The JSON Schema of a show document.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(document::ShowDoc).to_value()
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHOW: &str = r#"
schema = 1
title = "Saltmarsh"

[cameras.a]
label = "A camera"
curve = "slog3"
gamut = "sgamut3-cine"
[[cameras.a.rating]]
ei = 800
clip = 0.94
floor_stops = -7.5

[cameras.b]
curve = "logc3"
ei = 400
gamut = { red = [0.7, 0.3], green = [0.2, 0.75], blue = [0.13, 0.04], white = [0.3127, 0.329] }
range = "legal"

[displays.onset]
standard = "bt709"

[displays.grade]
gamut = "p3-d65"
eotf = "gamma26"
peak = 48
white = "keep"

[looks]
night = "looks/night.toml"
"#;
    const NIGHT: &str = r#"
schema = 1
generation = 2
title = "Night"
revision = 4
[[step]]
do = "exposure"
stops = -1.0
[[step]]
do = "print"
"#;

    fn files() -> BTreeMap<String, Vec<u8>> {
        BTreeMap::from([("looks/night.toml".to_owned(), NIGHT.as_bytes().to_vec())])
    }

    fn problems(show: &str) -> String {
        let problems = Show::parse("show.toml", show, &files()).unwrap_err();
        problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
    }

    #[test]
    fn a_show_without_bake_bakes_everything() {
        let show = Show::parse("show.toml", SHOW, &files()).unwrap();
        let names: Vec<_> = show.jobs().iter().map(Job::file_stem).collect();
        assert_eq!(
            names,
            [
                "saltmarsh_night_r4_a_grade_33",
                "saltmarsh_night_r4_a_onset_33",
                "saltmarsh_night_r4_b_grade_33",
                "saltmarsh_night_r4_b_onset_33",
            ]
        );
        let sources: Vec<_> = show.sources().iter().map(|s| s.file.as_str()).collect();
        assert_eq!(sources, ["looks/night.toml", "show.toml"]);
        assert_eq!(show.cameras()["a"].label, "A camera");
        assert_eq!(show.cameras()["b"].id.to_string(), "logc3 at EI 400, custom gamut, legal range");
        assert_eq!(show.cameras()["a"].item.rating(800.0).unwrap().clip, Some(0.94));
    }

    #[test]
    fn mid_grey_comes_out_where_the_print_puts_it() {
        let show = Show::parse("show.toml", SHOW, &files()).unwrap();
        let pipeline = show.pipeline("night", "a", "onset").unwrap();
        let grey = pipeline.camera().encode([0.36; 3]);
        let light = pipeline.display().decode(pipeline.apply(grey));
        assert!(light.iter().all(|c| (c - 0.12).abs() < 1e-6), "{light:?}");
        let stages = pipeline.stages(grey);
        assert_eq!(stages.last().unwrap().rgb, pipeline.apply(grey).0);
        assert!(show.pipeline("nihgt", "a", "c").unwrap_err()[0].message.contains("did you mean `night`?"));
    }

    #[test]
    fn bake_entries_pick_and_repeats_are_dropped() {
        let text =
            format!("{SHOW}\n[[bake]]\ncameras = ['a']\npoints = 17\n[[bake]]\ndisplays = ['onset']\npoints = 17\n");
        let show = Show::parse("show.toml", &text, &files()).unwrap();
        let jobs: Vec<_> = show.jobs().iter().map(|j| (j.camera().name, j.display().name, j.points())).collect();
        assert_eq!(jobs, [("a", "grade", 17), ("a", "onset", 17), ("b", "onset", 17)]);
    }

    #[test]
    fn every_problem_of_a_show_is_reported() {
        let text = SHOW
            .replace("curve = \"slog3\"", "curve = \"slog-3\"")
            .replace("ei = 400", "ei = 401")
            .replace("standard = \"bt709\"", "standard = \"bt709\"\nrange = \"video\"")
            .replace("clip = 0.94", "clip = 1.2")
            .replace("eotf = \"gamma26\"", "eotff = \"gamma26\"")
            .replace("looks/night.toml", "looks/nigth.toml");
        let text = format!("{text}\n[[bake]]\nlooks = ['dawn']\npoints = 1\n");
        let found = problems(&text);
        for expected in [
            "show.toml:7:9: cameras.a.curve: unknown curve `slog-3`: did you mean `slog3`?",
            "cameras.b.ei:",
            "displays.onset.range:",
            "cameras.a.rating[0].clip: 1.2 is out of range",
            "displays.grade.eotff: unknown key `eotff`: did you mean `eotf`?",
            "looks.night: cannot read `looks/nigth.toml`: no such file",
            "bake[0].looks[0]: unknown look `dawn`",
            "bake[0].points: 1 is out of range",
        ] {
            assert!(found.contains(expected), "{expected}\nnot in:\n{found}");
        }
    }

    #[test]
    fn problems_of_looks_carry_the_looks_own_name() {
        let broken = NIGHT.replace("stops = -1.0", "stops = 'one'").replace("revision = 4", "revison = 4");
        let files = BTreeMap::from([("looks/night.toml".to_owned(), broken.into_bytes())]);
        let problems = Show::parse("show.toml", SHOW, &files).unwrap_err();
        let text = problems[0].to_string();
        assert!(
            text.contains("looks/night.toml:5:1: revison: unknown key `revison`: did you mean `revision`?"),
            "{text}"
        );
        assert!(text.contains("looks/night.toml:8:9: step[0].stops: "), "{text}");
    }

    #[test]
    fn titles_become_file_names() {
        assert_eq!(slug("Saltmarsh, night exterior!"), "saltmarsh-night-exterior");
        assert_eq!(slug("Éé"), "untitled");
    }
}
