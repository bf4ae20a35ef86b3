//! What every page of one server works on: the show, its looks as they are edited, and compiled paths of them.

use super::left::{self, Of};
use super::look::Session;
use super::refusal::Refusal;
use super::seats;
pub(super) use super::wanted::{At, Version, Wanted};
use crate::args::Pick;
use crate::disk::{self, Expected, Folder, Replaced};
use crate::failure::Failure;
use crate::git::Within;
use crate::target::{self, Target};
use rushlight::camera::Camera;
use rushlight::display::Display;
use rushlight::files::Files;
use rushlight::look::{self, Draft, Look};
use rushlight::message::unknown;
use rushlight::pipeline::Pipeline;
use rushlight::show::{Entry, Job, OrderDifference, Show};
use serde::Serialize;
use serde_json::{Value as Json, json};
use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};
use tokio::sync::broadcast;

/// Compiled paths that are kept.
const MOST_KEPT: usize = 24;
/// Events that a slow page may be behind.
const EVENTS: usize = 256;

/// A file that is looked after.
#[derive(Debug)]
pub(super) struct Watched {
    /// Its name from the show's folder.
    pub(super) file: String,
    pub(super) is_look: bool,
    /// The checksum of what was read of it, where that is known.
    pub(super) read: Option<String>,
}

/// Where the corrections of a show's shots come.
#[derive(Debug, Serialize)]
pub(super) struct Order {
    /// As the show says, or by default.
    is: &'static str,
    /// The show does not say it, and it has a choice.
    is_open: bool,
    /// Shots to which it matters.
    differences: Vec<OrderDifference>,
    /// The same in words.
    pub(super) warnings: Vec<String>,
}

/// A compiled path.
#[derive(Debug, Clone)]
pub(super) struct Way {
    /// What no other path is called.
    pub(super) key: Arc<str>,
    pub(super) pipeline: Arc<Pipeline>,
    pub(super) look: Arc<Look>,
    pub(super) version: Version,
}

pub(super) struct Studio {
    /// The document that was given.
    file: PathBuf,
    pick: Pick,
    /// The shot that a page begins with.
    shot: Option<String>,
    pub(super) folder: Folder,
    /// Where it is.
    place: PathBuf,
    inner: Mutex<Inner>,
    /// Who reads the show again holds this.
    reading: Mutex<()>,
    events: broadcast::Sender<Arc<str>>,
}

pub(super) struct Inner {
    pub(super) show: Arc<Show>,
    /// What there is to say of where the corrections of the shots come; made when it is asked for.
    order: Arc<OnceLock<Arc<Order>>>,
    /// Rises when the show is read again.
    show_version: u64,
    pub(super) looks: BTreeMap<String, Session>,
    picked: [String; 3],
    kept: VecDeque<Way>,
}

impl Studio {
    pub(super) fn new(file: &Path, pick: &Pick, shot: Option<&str>) -> Result<Self, Failure> {
        let folder = Folder::of(file);
        let target = target::load(file, pick)?.of_shot(shot)?;
        let name = file.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        let place = folder.place(&name);
        let mut looks: BTreeMap<String, Session> = sessions(file, &folder, &target.show)?;
        let of = Of { title: target.show.title().to_owned(), place: place.clone() };
        for left in left::offer(looks.values_mut(), &of) {
            let name = seats::free_name(&looks, &left.look);
            looks.extend(Session::of_left(name.clone(), left, &folder).map(|look| (name, look)));
        }
        let picked = picked(&target)?;
        let (events, _) = broadcast::channel(EVENTS);
        let (show, order) = (Arc::new(target.show), Arc::default());
        let inner = Inner { show, order, show_version: 1, looks, picked, kept: VecDeque::new() };
        let shot = shot.map(str::to_owned);
        Ok(Self {
            file: file.to_owned(),
            pick: pick.clone(),
            shot,
            folder,
            place,
            inner: Mutex::new(inner),
            reading: Mutex::default(),
            events,
        })
    }

    pub(super) fn lock(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn events(&self) -> broadcast::Receiver<Arc<str>> {
        self.events.subscribe()
    }

    /// Tells every page.
    pub(super) fn tell(&self, event: &Json) {
        // Without a listener it is no failure.
        let _ = self.events.send(event.to_string().into());
    }

    pub(super) fn show(&self) -> Arc<Show> {
        self.lock().show.clone()
    }

    /// The document that was given, and where it is.
    pub(super) fn file(&self) -> &Path {
        &self.file
    }

    pub(super) fn place(&self) -> &Path {
        &self.place
    }

    pub(super) fn title(&self) -> String {
        self.lock().show.title().to_owned()
    }

    /// The camera that a page begins with.
    pub(super) fn picked_camera(&self) -> String {
        self.lock().picked[1].clone()
    }

    /// What a page begins with, but for the frames.
    pub(super) fn state(&self) -> Json {
        let inner = self.lock();
        let looks: Vec<Json> = inner
            .looks
            .values()
            .filter(|l| !l.away || l.is_unsaved() || l.left().is_some())
            .map(|l| {
                json!({ "name": l.name, "title": l.draft().title, "revision": l.draft().revision, "unsaved": l.is_unsaved(),
                        "left": l.left().is_some(), "away": l.away })
            })
            .collect();
        let cameras = inner.show.cameras().iter().map(|(name, entry)| {
            let eis: Vec<f64> = entry.item.ratings().iter().map(|r| r.ei).collect();
            json!({ "name": name, "label": entry.label, "terms": entry.id.to_string(), "eis": eis, "base": entry.id.ei,
                    "curve": entry.id.curve_at_ei(), "gamut": entry.id.gamut_name() })
        });
        let displays = inner.show.displays().iter().map(|(name, entry)| {
            json!({ "name": name, "label": entry.label, "terms": entry.id.to_string(), "hdr": entry.item.settings().eotf.is_hdr(),
                    "peak_nits": entry.item.settings().peak, "sdr_note": sdr_note(&entry.item) })
        });
        let [look, camera, display] = &inner.picked;
        json!({
            "schema": 1, "title": inner.show.title(), "file": self.file.display().to_string(),
            "version_of_tool": env!("CARGO_PKG_VERSION"), "looks": looks,
            "cameras": cameras.collect::<Vec<_>>(), "displays": displays.collect::<Vec<_>>(),
            "pick": { "look": look, "camera": camera, "display": display, "shot": self.shot },
        })
    }

    /// Where the corrections of the show's shots come, and to which of them it matters.
    pub(super) fn order(&self) -> Arc<Order> {
        // Not within the lock: it follows many lights through every shot.
        let (show, order) = {
            let inner = self.lock();
            (inner.show.clone(), inner.order.clone())
        };
        let made = || {
            let jobs = show.shot_jobs();
            let differences = show.order_differences(&jobs);
            let is_open = show.leaves_order_open(&jobs);
            let warnings = OrderDifference::warnings(&differences, is_open);
            Arc::new(Order { is: show.grading().order().name(), is_open, differences, warnings })
        };
        order.get_or_init(made).clone()
    }

    /// A look as it is now.
    pub(super) fn look(&self, name: &str) -> Result<Session, Refusal> {
        found("look", name, &mut self.lock().looks).cloned()
    }

    /// Does something to a look, one after the other; then every page is told of its version. Files may be read meanwhile: all
    /// else goes on with the look as it was. What was done holds even where `act` refuses what comes next.
    pub(super) fn with_look<T>(
        &self,
        name: &str,
        act: impl FnOnce(&mut Session) -> Result<T, Refusal>,
    ) -> Result<T, Refusal> {
        let mut turn = self.look(name)?.turn;
        let (made, before, version) = loop {
            let held = turn.lock().unwrap_or_else(PoisonError::into_inner);
            let mut look = self.look(name)?;
            if !Arc::ptr_eq(&look.turn, &turn) {
                // It is called something else by now.
                drop(held);
                turn = look.turn;
                continue;
            }
            let before = look.version;
            let made = act(&mut look);
            let version = look.version;
            self.put_back(look);
            break (made, before, version);
        };
        if version != before {
            self.tell(&json!({ "kind": "look", "name": name, "version": version }));
        }
        made
    }

    /// Takes a look as it has become.
    fn put_back(&self, look: Session) {
        let mut inner = self.lock();
        if let Some(there) = inner.looks.values_mut().find(|there| there.id == look.id) {
            // What the show says of it may be news.
            *there = look.seated(there);
        } else if look.is_unsaved() {
            let name = seats::free_name(&inner.looks, &look.name);
            inner.looks.insert(name.clone(), look.aside(name));
        }
    }

    /// Every look by its number, with its document where it has edits that were not saved; and the show.
    pub(super) fn edited(&self) -> (Vec<(u64, Option<Session>)>, Of) {
        let inner = self.lock();
        let of = Of { title: inner.show.title().to_owned(), place: self.place.clone() };
        (inner.looks.values().map(|look| (look.id, look.is_unsaved().then(|| look.clone()))).collect(), of)
    }

    /// Offers a look the next of the edits that earlier servers left of it.
    pub(super) fn offer_next(&self, name: &str) {
        let (_, of) = self.edited();
        // What it is refused for is that the look is gone.
        let _ = self.with_look(name, |look| {
            left::offer(std::iter::once(look), &of);
            Ok(())
        });
    }

    /// The look at a version, and what its document says.
    pub(super) fn look_at(&self, name: &str, at: &At) -> Result<(Arc<Look>, Version, Arc<Draft>), Refusal> {
        let mut inner = self.lock();
        let look = found("look", name, &mut inner.looks)?;
        match at {
            At::Now => {
                let version = Version { id: format!("now {}", look.version), number: look.version };
                Ok((look.good(), version, look.draft().clone()))
            }
            At::Saved => {
                let (saved, number) = look.saved();
                Ok((saved, Version { id: format!("saved {number}"), number }, look.disk_draft().clone()))
            }
            At::Held(id) => {
                let (held, draft) = look.held(*id).map_err(Refusal::not_found)?;
                Ok((held, Version { id: format!("held {id}"), number: 0 }, draft))
            }
            At::Revision(revision) => {
                let file = look.file.clone();
                drop(inner);
                self.look_of(&file, revision)
            }
        }
    }

    /// The look of a file as it was at a revision of git.
    fn look_of(&self, file: &str, revision: &str) -> Result<(Arc<Look>, Version, Arc<Draft>), Refusal> {
        let files = Within::at(&self.folder.within(""), revision).map_err(Refusal::not_found)?;
        let bytes = files.read(file).map_err(|why| Refusal::not_found(format!("{file}: {why}")))?;
        let text = String::from_utf8(bytes).map_err(|_| Refusal::bad(format!("{file} is not text at {revision}")))?;
        let (draft, look) = look::read(file, &text, &files);
        let look = look.map_err(|p| Failure::Documents(vec![p]))?;
        let id = format!("commit {}", files.tree.commit.unwrap_or_default());
        Ok((Arc::new(look), Version { id, number: 0 }, Arc::new(draft)))
    }

    /// Writes a look, with its revision raised and a note; not over what was changed outside, unless `anyway`.
    pub(super) fn save(&self, name: &str, version: u64, note: &str, anyway: bool) -> Result<Json, Refusal> {
        self.with_look(name, |look| {
            look.check_newest(version)?;
            let there = disk::read_document(&look.place).ok();
            if let Some(text) = &there {
                look.found(text.clone(), &self.folder);
            }
            if !anyway && let Some(conflict) = look.conflict(there.as_deref()) {
                return Err(conflict);
            }
            if !look.is_unsaved() && there.is_some() {
                return Err(Refusal::bad("no unsaved changes"));
            }
            let text = look.to_save(note).map_err(Refusal::bad)?;
            let was = look.disk().to_owned();
            let expected = if anyway { Expected::Anything } else { Expected::Text(&was) };
            match disk::replace(&look.place, expected, &text)? {
                Replaced::Done => look.saved_as(text, note, &self.folder),
                // Another request was quicker.
                Replaced::Other(there) => {
                    if let Some(text) = &there {
                        look.found(text.clone(), &self.folder);
                    }
                    let changed = || Refusal::bad("the file has changed: look at it, and save again");
                    return Err(look.conflict(there.as_deref()).unwrap_or_else(changed));
                }
            }
            Ok(serde_json::to_value(look.report()).unwrap_or_default())
        })
    }

    /// Names of the looks that a file is the document of.
    pub(super) fn looks_of(&self, file: &str) -> Vec<String> {
        self.lock().looks.values().filter(|l| l.file == file).map(|l| l.name.clone()).collect()
    }

    /// The compiled path of what is wanted, of the newest version that there is.
    pub(super) fn path(&self, wanted: &Wanted) -> Result<Way, Refusal> {
        let (look, version, _) = self.look_at(&wanted.look, &wanted.at)?;
        let (key, show) = {
            let inner = self.lock();
            let Wanted { look, camera, display, shot, .. } = wanted;
            let shot = shot.as_ref().map(|shot| shot.numbers.to_string()).unwrap_or_default();
            let key = format!("{}\n{look}\n{camera}\n{display}\n{}\n{shot}", inner.show_version, version.id);
            if let Some(way) = inner.kept.iter().find(|way| *way.key == *key) {
                return Ok(way.clone());
            }
            (key, inner.show.clone())
        };
        let (camera, display) = (camera(&show, &wanted.camera)?, self::display(&show, &wanted.display)?);
        let correction = wanted.shot.as_ref().map(|shot| show.grading().correction(shot.numbers)).transpose()?;
        let pipeline = Pipeline::new(&camera.item, &look, &display.item)?.with_correction(correction);
        let pipeline = Arc::new(pipeline);
        let way = Way { key: key.into(), pipeline, look, version };
        let mut inner = self.lock();
        inner.kept.push_front(way.clone());
        inner.kept.truncate(MOST_KEPT);
        Ok(way)
    }

    /// Reads the show again, since a file of it has changed. Looks with edits that were not saved stay, whatever the show
    /// says: they follow their files, and stand aside where it has them no more.
    pub(super) fn read_show_again(&self) -> Result<(), Failure> {
        // One after the other, from the files to what is taken up: else what was read first could be taken up last.
        let _turn = self.reading.lock().unwrap_or_else(PoisonError::into_inner);
        // The look to begin with may have left; the others are there all the same.
        let mut target = target::load(&self.file, &Pick { look: None, ..self.pick.clone() })?;
        target.look = self.pick.look.clone().filter(|look| target.show.looks().contains_key(look));
        let new = sessions(&self.file, &self.folder, &target.show)?;
        let picked = picked(&target)?;
        let places: Vec<PathBuf> = self.lock().looks.values().map(|look| look.place.clone()).collect();
        let gone: BTreeSet<PathBuf> = places.into_iter().filter(|place| !place.exists()).collect();
        let stay = {
            let mut inner = self.lock();
            let old = std::mem::take(&mut inner.looks);
            let (looks, stay) = seats::seat(old, new, &gone);
            inner.looks = looks;
            inner.show = Arc::new(target.show);
            inner.order = Arc::default();
            inner.picked = picked;
            inner.show_version += 1;
            inner.kept.clear();
            stay
        };
        for name in stay {
            // A look that has gone meanwhile needs nothing; nor does a file, of which the watch tells.
            let _ = self.with_look(&name, |look| {
                let _ = look.look_at_disk(&self.folder);
                look.read_again(&self.folder);
                Ok(())
            });
        }
        let without = |look: &&Session| look.left().is_none();
        let names: Vec<String> = self.lock().looks.values().filter(without).map(|look| look.name.clone()).collect();
        names.iter().for_each(|name| self.offer_next(name));
        Ok(())
    }

    /// Every file that the pages rest on: looks first.
    pub(super) fn files(&self) -> Vec<Watched> {
        let inner = self.lock();
        let look = |l: &Session| Watched { file: l.file.clone(), is_look: true, read: None };
        let mut all: Vec<Watched> = inner.looks.values().map(look).collect();
        let of_show = inner.show.sources().iter().map(|s| (&s.file, Some(&s.sha256)));
        let named = inner.looks.values().flat_map(|l| l.files.iter().map(|file| (file, None)));
        for (file, sha256) in of_show.chain(named) {
            if !all.iter().any(|w| w.file == *file) {
                all.push(Watched { file: file.clone(), is_look: false, read: sha256.cloned() });
            }
        }
        all
    }
}

/// A session for each look of a show.
fn sessions(file: &Path, folder: &Folder, show: &Show) -> Result<BTreeMap<String, Session>, Failure> {
    let mut looks = BTreeMap::new();
    for (name, entry) in show.looks() {
        let named = &entry.id.file;
        let text = disk::read_document(&folder.within(named))?;
        let session = Session::new(name, named, text, folder).map_err(|p| folder.failure([p]))?;
        looks.insert(name.clone(), session);
    }
    if looks.is_empty() {
        return Err(Failure::new(format!("{} has no look: add one under [looks]", file.display())));
    }
    Ok(looks)
}

/// The look, camera and display that a page begins with.
fn picked(target: &Target) -> Result<[String; 3], Failure> {
    let show = &target.show;
    let jobs: Vec<Job<'_>> = show.jobs().into_iter().filter(|job| target.fits(job)).collect();
    // A browser shows SDR best.
    let is_sdr = |job: &&Job<'_>| !job.display().item().settings().eotf.is_hdr();
    if let Some(job) = jobs.iter().find(is_sdr).or(jobs.first()) {
        return Ok(job.names().map(str::to_owned));
    }
    let first = |what: &str, picked: &Option<String>, name: Option<&String>| {
        let none = || Failure::new(format!("the show has no {what}: add one under [{what}s]"));
        picked.clone().or_else(|| name.cloned()).ok_or_else(none)
    };
    Ok([
        first("look", &target.look, show.looks().keys().next())?,
        first("camera", &target.camera, show.cameras().keys().next())?,
        first("display", &target.display, show.displays().keys().next())?,
    ])
}

/// What is said of a display's picture on a screen of standard dynamic range.
pub(super) fn sdr_note(display: &Display) -> Option<String> {
    let settings = display.settings();
    settings.eotf.is_hdr().then(|| {
        format!(
            "HDR of {} nits, shown on an SDR screen: diffuse white of {} nits is the screen's white, and what is brighter is \
             clipped",
            settings.peak, settings.diffuse_white
        )
    })
}

fn found<'m, T>(what: &str, name: &str, all: &'m mut BTreeMap<String, T>) -> Result<&'m mut T, Refusal> {
    if !all.contains_key(name) {
        return Err(Refusal::not_found(unknown(what, name, all.keys().map(String::as_str))));
    }
    all.get_mut(name).ok_or_else(|| Refusal::not_found(format!("unknown {what}")))
}

pub(super) fn camera<'s>(show: &'s Show, name: &str) -> Result<&'s Entry<Camera>, Refusal> {
    let cameras = show.cameras();
    cameras.get(name).ok_or_else(|| Refusal::not_found(unknown("camera", name, cameras.keys().map(String::as_str))))
}

pub(super) fn display<'s>(show: &'s Show, name: &str) -> Result<&'s Entry<Display>, Refusal> {
    let displays = show.displays();
    displays.get(name).ok_or_else(|| Refusal::not_found(unknown("display", name, displays.keys().map(String::as_str))))
}
