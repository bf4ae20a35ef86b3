//! The slate: lines by which a file says whose it is. They stand in the comments of a .cube, the descriptions of a CLF and
//! the description of a still, one fact a line, and are read back by [`Slate::parse`].

use crate::display::{Display, DisplaySettings, STANDARDS};
use crate::exposure::has_rating;
use crate::files::Source;
use crate::look::{GENERATION, Look};
use crate::show::{DisplayId, Job, Show};
use std::collections::{BTreeMap, BTreeSet};

/// How the first line begins.
pub(crate) const MADE: &str = "made by rushlight ";
/// The line of a frame that holds a display's signal.
const SIGNAL: &str = "display signal";

/// The first line.
pub fn made() -> String {
    format!("{MADE}{}", env!("CARGO_PKG_VERSION"))
}

/// The slate of a file of a job.
pub fn lines(job: &Job<'_>) -> Vec<String> {
    let (show, look) = (job.show(), job.look().item());
    let (camera, display) = (job.camera().entry, job.display().entry);
    let mut lines = vec![
        made(),
        format!("show: {}", show.title()),
        format!("look: {}, revision {}, picture of generation {GENERATION}", look.title(), look.revision()),
        format!("camera: {} ({})", camera.label, camera.id),
        format!("display: {} ({})", display.label, display.id),
    ];
    lines.extend(show.production().lines().iter().map(|(name, said)| format!("{name}: {said}")));
    if let Some((name, shot)) = job.shot().zip(job.correction()) {
        lines.push(format!("shot: {name}, {}", shot.numbers));
        lines.push(format!("order: {}", show.grading().words()));
    }
    let of_shot = job.correction().into_iter();
    let of_shot = of_shot.flat_map(|shot| show.sources().iter().filter(|s| s.file == shot.file));
    let all = of_shot.chain(look.sources());
    lines.extend(all.map(|s| format!("source: {} sha256 {}", s.file, s.sha256)));
    lines
}

/// The slate of a page on some looks of a show; names that the show does not have are ignored.
pub fn of_looks<'n>(show: &Show, names: impl IntoIterator<Item = &'n str>) -> Vec<String> {
    let names: BTreeSet<&str> = names.into_iter().collect();
    let looks: Vec<&Look> = names.iter().filter_map(|name| Some(&show.looks().get(*name)?.item)).collect();
    let of = looks.iter().map(|look| format!("look: {}, revision {}", look.title(), look.revision()));
    let others = show.looks().iter().filter(|(name, _)| !names.contains(name.as_str()));
    let own: BTreeSet<&str> = looks.iter().flat_map(|look| look.sources()).map(|s| s.file.as_str()).collect();
    let of_others = others.flat_map(|(_, look)| look.item.sources()).map(|s| s.file.as_str());
    let of_others: BTreeSet<&str> = of_others.filter(|file| !own.contains(file)).collect();
    from(show, of.collect(), looks.iter().flat_map(|look| look.sources()), &of_others)
}

/// The slate of a page or a drawing on a camera of a show.
pub fn of_camera(show: &Show, name: &str) -> Vec<String> {
    let camera = show.cameras().get(name).map(|camera| format!("camera: {} ({})", camera.label, camera.id));
    from(show, camera.into_iter().collect(), std::iter::empty(), &BTreeSet::new())
}

/// `what`, then what the show was made from and `more`, but for the files in `not`.
fn from<'s>(
    show: &'s Show,
    what: Vec<String>,
    more: impl Iterator<Item = &'s Source>,
    not: &BTreeSet<&str>,
) -> Vec<String> {
    let mut lines = vec![made(), format!("show: {}", show.title())];
    lines.extend(what);
    lines.extend(show.production().lines().iter().map(|(name, said)| format!("{name}: {said}")));
    let mut seen = BTreeSet::new();
    let sources = show.sources().iter().chain(more).filter(|s| !not.contains(s.file.as_str()) && seen.insert(&s.file));
    lines.extend(sources.map(|s| format!("source: {} sha256 {}", s.file, s.sha256)));
    lines
}

/// A slate that was read.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Slate {
    /// The version of the program that made the file.
    pub version: String,
    /// Every line: its name and its text.
    pub lines: Vec<(String, String)>,
}

impl Slate {
    /// From text that begins with a slate's first line somewhere; lines of a .cube's comments may have their `#`.
    pub fn parse(text: &str) -> Option<Self> {
        let mut lines = text.lines().map(|line| line.trim().trim_start_matches('#').trim_start());
        let version = lines.find_map(|line| line.strip_prefix(MADE))?.trim().to_owned();
        // A word and a colon; what is another file's own text has none, or comes after a line that has none.
        let named = |line: &str| {
            let (name, said) = line.split_once(':')?;
            let word = !name.is_empty() && name.bytes().all(|b| b.is_ascii_lowercase() || b == b' ');
            word.then(|| (name.to_owned(), said.trim().to_owned()))
        };
        Some(Self { version, lines: lines.map_while(named).collect() })
    }

    /// That of a still's description.
    #[cfg(feature = "frame")]
    pub fn of_frame(frame: &crate::frame::Frame) -> Option<Self> {
        crate::frame::description(&frame.info).as_deref().and_then(Self::parse)
    }

    /// The text of the first line of that name.
    pub fn get(&self, name: &str) -> Option<&str> {
        self.lines.iter().find(|(key, _)| key == name).map(|(_, said)| said.as_str())
    }

    /// Whether it says that its file holds a display's signal, and which built-in display's.
    pub fn display_signal(&self) -> Option<Option<&'static str>> {
        let said = self.get("samples")?.strip_prefix(SIGNAL)?;
        let name = said.trim_start_matches(" of ").trim();
        Some(STANDARDS.iter().find(|standard| standard.name == name).map(|standard| standard.name))
    }

    /// What an exposure cube shows, and of which camera and rating it is, in words; none of another file.
    pub fn exposure(&self) -> Option<[String; 2]> {
        let shows = self.get("exposure cube")?.to_owned();
        let camera = self.get("camera").map_or("?", |said| said.split(" (").next().unwrap_or(said));
        let rated = self.get("rating").and_then(|said| Some(format!(", {}", said.split_once(',')?.0)));
        Some([shows, format!("{camera}{}", rated.unwrap_or_default())])
    }

    /// Whether it says that its file holds a camera's signal.
    pub fn is_camera_signal(&self) -> bool {
        self.get("samples") == Some("camera signal")
    }

    /// The files that it was made from.
    pub fn sources(&self) -> Vec<Source> {
        let source = |(name, said): &(String, String)| {
            let (file, sha256) = said.split_once(" sha256 ").filter(|_| name == "source")?;
            Some(Source { file: file.to_owned(), sha256: sha256.to_owned() })
        };
        self.lines.iter().filter_map(source).collect()
    }

    /// The differences from the show as it is now, in sentences; empty if the file is current.
    pub fn stale(&self, show: &Show) -> Vec<String> {
        let mut stale = Vec::new();
        if let Some(of) = self.get("show").filter(|of| *of != show.title()) {
            stale.push(format!("it is of another show: {of}"));
        }
        let looks = show.looks().values().flat_map(|look| look.item.sources());
        let now: BTreeMap<&str, &str> =
            show.sources().iter().chain(looks).map(|s| (s.file.as_str(), s.sha256.as_str())).collect();
        for source in self.sources() {
            match now.get(source.file.as_str()) {
                None => stale.push(format!("the show does not have `{}`, from which it was made", source.file)),
                Some(sha256) if *sha256 != source.sha256 => {
                    stale.push(format!("`{}` has changed since it was made", source.file));
                }
                Some(_) => {}
            }
        }
        let is = |name: &str, known: &dyn Fn(&str) -> bool, what: &str, stale: &mut Vec<String>| {
            if let Some(said) = self.get(name).filter(|said| !known(said)) {
                stale.push(format!("the show has no such {what} any more: {said}"));
            }
        };
        let cameras = |said: &str| {
            let named = show.cameras().values().filter(|c| said == format!("{} ({})", c.label, c.id));
            named.map(|c| &c.item).collect::<Vec<_>>()
        };
        let camera = |said: &str| !cameras(said).is_empty();
        // A built-in display is what it was, whatever displays the show has.
        let built_in = |said: &str| {
            STANDARDS.iter().any(|standard| {
                let id = DisplayId::new(Some(standard.name.to_owned()), &DisplaySettings::of(standard));
                said == format!("{} ({id})", standard.name)
            })
        };
        let display =
            |said: &str| built_in(said) || show.displays().values().any(|d| said == format!("{} ({})", d.label, d.id));
        let shot = |said: &str| {
            let mut shots = show.shots().iter();
            shots.any(|(name, shot)| said == format!("{name}, {}", shot.numbers))
        };
        is("camera", &camera, "camera", &mut stale);
        is("display", &display, "display", &mut stale);
        is("shot", &shot, "shot with this correction", &mut stale);
        let rated = self.get("rating").zip(self.get("camera")).map(|(rating, camera)| (rating, cameras(camera)));
        if let Some((rating, of)) = rated.filter(|(_, of)| !of.is_empty())
            && !of.iter().any(|camera| has_rating(camera, rating))
        {
            stale.push(format!("the camera has no such rating any more: {rating}"));
        }
        if let Some(order) = self.get("order").filter(|order| *order != show.grading().words()) {
            stale.push(format!("its correction is meant otherwise: {order}"));
        }
        stale
    }
}

/// The lines of a frame that holds the signal of a display, which is named where it is a built-in one as it stands.
pub fn of_signal(mut lines: Vec<String>, display: Option<&Display>) -> Vec<String> {
    let settings = display.map(Display::settings);
    let standard = STANDARDS.iter().find(|standard| settings == Some(&DisplaySettings::of(standard)));
    let said = standard.map(|standard| format!(" of {}", standard.name)).unwrap_or_default();
    lines.insert(1.min(lines.len()), format!("samples: {SIGNAL}{said}"));
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_read_back() {
        let text = "TITLE \"x\"\n# made by rushlight 0.1.0\n# show: Saltmarsh\n# look: Night, revision 2, picture of generation 2\n\
            # source: looks/night.toml sha256 00ff\n# source: a, b.csv sha256 1\nLUT_3D_SIZE 2\n";
        let slate = Slate::parse(text).unwrap();
        assert_eq!((&*slate.version, slate.get("show"), slate.lines.len()), ("0.1.0", Some("Saltmarsh"), 4));
        let sources: Vec<_> = slate.sources().into_iter().map(|s| (s.file, s.sha256)).collect();
        assert_eq!(sources, [("looks/night.toml".into(), "00ff".into()), ("a, b.csv".into(), "1".into())]);
        assert_eq!(Slate::parse("made by another program"), None);
        let display = Display::of(crate::display::standard("bt709").unwrap());
        let signal = of_signal(vec!["made by rushlight 1".to_owned(), "show: x".to_owned()], Some(&display)).join("\n");
        assert_eq!(Slate::parse(&signal).unwrap().display_signal(), Some(Some("bt709")));
        assert_eq!(slate.display_signal(), None);
    }
}
