//! From two sides to what differs between them.

use super::context::{Context, contexts};
use super::input::{Content, Input};
use super::{Error, Request, refuse};
use crate::camera::Camera;
use crate::compare::document::{Change, Kind as ChangeKind, file_changes, look_changes, table_changes};
use crate::compare::limits::Limits;
use crate::compare::report::{Document, Item, Kind, Picture, State};
use crate::compare::{Pair, compare};
use crate::cube::UNIT;
use crate::display::Display;
use crate::invalid::Invalid;
use crate::look::{Draft, Look};
use crate::pipeline::Pipeline;
use crate::show::Show;
use crate::table_file::TableFile;
use crate::test_colours::uniform;
use crate::transform::ColourTransform;
use std::collections::{BTreeMap, BTreeSet};

/// What one side makes of a camera signal: the signal of a display.
pub enum SignalMap<'s> {
    /// The exact path of a look.
    Exact(Box<Pipeline>),
    /// A table file.
    Table(&'s TableFile),
}

impl SignalMap<'_> {
    fn one(&self) -> &dyn ColourTransform {
        match self {
            Self::Exact(pipeline) => pipeline,
            Self::Table(file) => *file,
        }
    }
}

impl ColourTransform for SignalMap<'_> {
    fn transform(&self, signal: [f64; 3]) -> [f64; 3] {
        self.one().transform(signal)
    }

    fn domain(&self) -> [[f64; 3]; 2] {
        self.one().domain()
    }
}

/// Both sides of a picture that was measured, for those who draw it.
pub struct Compared<'s> {
    /// What the old side makes of a signal.
    pub old: SignalMap<'s>,
    /// What the new side makes of it.
    pub new: SignalMap<'s>,
    /// The camera, where it is known.
    pub camera: Option<Camera>,
    /// The display.
    pub display: Display,
}

/// What differs between two files.
pub struct Outcome<'s> {
    /// The item of the report.
    pub item: Item,
    /// For each picture of the item that was measured, both sides of it.
    pub compared: Vec<Option<Compared<'s>>>,
}

/// Compares two files, of which one may not be there.
///
/// # Errors
/// Files of which one is no look, show or cube while the other is; sides that are for different cameras or displays; names
/// that the show does not have.
pub fn pair<'s>(old: Option<&'s Input>, new: Option<&'s Input>, request: &Request) -> Result<Outcome<'s>, Error> {
    let side = new.or(old).ok_or_else(|| refuse("there is nothing to compare"))?;
    let mut item = Item {
        name: side.origin.shown(),
        kind: match side.content {
            Content::Show(_) => Kind::Show,
            Content::Look(_) => Kind::Look,
            Content::Table(..) => Kind::Cube,
            Content::Other => Kind::Document,
        },
        state: State::Changed,
        notes: Vec::new(),
        documents: Vec::new(),
        pictures: Vec::new(),
        limits: Vec::new(),
    };
    let (Some(old), Some(new)) = (old, new) else {
        item.state = if new.is_some() { State::Added } else { State::Removed };
        let name = item.name.clone();
        let changes = changes(old, new);
        let changes = changes.into_iter().filter(|c| c.kind != ChangeKind::Changed).collect();
        item.documents.push(Document { name, changes });
        return Ok(Outcome { item, compared: Vec::new() });
    };
    let above = match above([new, old], request) {
        Err(error) if request.lenient => {
            item.notes.push(format!("no show: {error}"));
            None
        }
        found => found?,
    };
    let show = request.show.as_ref().or(above.as_ref());
    let limits = limits(old, new, show, request);
    item.limits = limits.iter().map(ToString::to_string).collect();
    let identical = old.origin.bytes == new.origin.bytes && old.sources() == new.sources();
    let mut pictures = Vec::new();
    match (&old.content, &new.content) {
        (Content::Other, Content::Other) => item.documents.push(document("document", old, new)),
        (Content::Other, _) | (_, Content::Other) => {
            let (a, b) = (old.origin.shown(), new.origin.shown());
            return Err(refuse(format!("{a} and {b}: one of them is not a look, a show or a cube")));
        }
        (Content::Show(a), Content::Show(b)) => {
            item.documents.push(document("show", old, new));
            show_documents(a, b, &mut item);
            pictures = shows(a, b, request, &limits)?;
        }
        (a, b) => {
            if matches!((a, b), (Content::Look(_), Content::Look(_))) {
                item.documents.push(document("look", old, new));
            }
            let found = contexts(old, new, show, &request.pick);
            let (contexts, notes) = match found {
                Err(why @ (Error::Refused(_) | Error::Standing { .. })) if request.lenient => {
                    let unknown = if limits.is_empty() { "" } else { "; no limit is known to hold" };
                    (Vec::new(), vec![format!("no picture: {why}{unknown}")])
                }
                found => found?,
            };
            item.notes.extend(notes);
            if let (Content::Look(a), Content::Look(b)) = (a, b) {
                item.notes.extend(same_revision("the look", a, b));
            }
            one_domain(a, b)?;
            for context in contexts {
                pictures.push(one(old, new, context, identical, &limits)?);
            }
        }
    }
    let unseen = pictures.is_empty() && !matches!(item.kind, Kind::Show | Kind::Document) && !identical;
    let nothing = !unseen && item.documents.iter().all(|d| d.changes.is_empty());
    let (pictures, compared) = pictures.into_iter().unzip();
    item.pictures = pictures;
    if nothing && item.pictures.iter().all(|p| p.state == State::Identical) {
        item.state = State::Identical;
        if !identical {
            item.notes.push("the files differ only in comments or layout".to_owned());
        }
    }
    Ok(Outcome { item, compared })
}

fn changes(old: Option<&Input>, new: Option<&Input>) -> Vec<Change> {
    let draft = |side: Option<&Input>| match side.map(|side| &side.content) {
        None => Some(Draft::default()),
        Some(Content::Look(look)) => Some(Draft::from(&**look)),
        Some(_) => None,
    };
    let text = |side: Option<&Input>| side.map_or("", Input::text).to_owned();
    match (draft(old), draft(new)) {
        (Some(old), Some(new)) => look_changes(&old, &new),
        _ => table_changes(&text(old), &text(new)),
    }
}

fn document(name: &str, old: &Input, new: &Input) -> Document {
    let mut changes = changes(Some(old), Some(new));
    // Looks of a show are reported by themselves.
    let looks: Vec<String> = match &new.content {
        Content::Show(show) => show.looks().values().map(|look| look.id.file.clone()).collect(),
        _ => Vec::new(),
    };
    let known: Vec<&str> = looks.iter().map(String::as_str).chain([new.origin.name.as_str()]).collect();
    changes.extend(file_changes(&old.sources(), &new.sources(), &known));
    Document { name: name.to_owned(), changes }
}

/// That a look changed and its revision did not, by which its files are told apart.
fn same_revision(name: &str, old: &Look, new: &Look) -> Option<String> {
    let changed = old.steps() != new.steps() || old.rendering() != new.rendering();
    let revision = new.revision();
    (changed && old.revision() == revision).then(|| {
        format!("{name} changed, and its revision is still {revision}: raise it, or two pictures have one file name")
    })
}

/// What changed in the looks that both shows have.
fn show_documents(a: &Show, b: &Show, item: &mut Item) {
    let renamed = renamed(a, b);
    for (name, look) in b.looks() {
        let was = renamed.get(name).unwrap_or(name);
        let Some(before) = a.looks().get(was).filter(|l| l.item.sources() != look.item.sources()) else { continue };
        let changes = look_changes(&Draft::from(&before.item), &Draft::from(&look.item));
        item.notes.extend(same_revision(&format!("look {name}"), &before.item, &look.item));
        item.documents.push(Document { name: format!("look {name}"), changes });
    }
}

/// Looks that have another name in the new show, by their new one, with the old: those of the same document; or the only one
/// that is gone, for the only one that came.
fn renamed(a: &Show, b: &Show) -> BTreeMap<String, String> {
    let only = |one: &Show, other: &Show| -> Vec<(String, String)> {
        let looks = one.looks().iter().filter(|(name, _)| !other.looks().contains_key(*name));
        looks.map(|(name, look)| (name.clone(), look.id.file.clone())).collect()
    };
    let (gone, came) = (only(a, b), only(b, a));
    if let ([(old, _)], [(new, _)]) = (gone.as_slice(), came.as_slice()) {
        return BTreeMap::from([(new.clone(), old.clone())]);
    }
    let same = |(new, file): &(String, String)| {
        gone.iter().find(|(_, other)| other == file).map(|(old, _)| (new.clone(), old.clone()))
    };
    came.iter().filter_map(same).collect()
}

/// The show that a look is of, where none was named and neither side is one.
fn above(sides: [&Input; 2], request: &Request) -> Result<Option<Show>, Error> {
    let has_show = request.show.is_some() || sides.iter().any(|s| matches!(s.content, Content::Show(_)));
    // A camera that stands by itself needs no show.
    if has_show || request.pick.camera.as_deref().is_some_and(|camera| camera.contains('+')) {
        return Ok(None);
    }
    for side in sides.into_iter().filter(|s| matches!(s.content, Content::Look(_))) {
        if let Some(show) = side.origin.show_above()? {
            return Ok(Some(show));
        }
    }
    Ok(None)
}

/// The new show's limits, and those of the command line over them.
fn limits(old: &Input, new: &Input, show: Option<&Show>, request: &Request) -> Limits {
    let own = |side: &Input| match &side.content {
        Content::Show(show) => Some(show.limits().clone()),
        _ => None,
    };
    let above = || show.map(|show| show.limits().clone());
    let mut limits = own(new).or_else(|| own(old)).or_else(above).unwrap_or_default();
    request.limits.iter().for_each(|limit| limits.set(limit.clone()));
    limits
}

/// Refuses sides whose inputs have not the same bounds.
fn one_domain(a: &Content, b: &Content) -> Result<(), Error> {
    let of = |content: &Content| match content {
        Content::Table(file, _) => file.domain(),
        _ => UNIT,
    };
    let (old, new) = (of(a), of(b));
    if old == new {
        return Ok(());
    }
    let said = |[low, high]: [[f64; 3]; 2]| format!("{low:?} to {high:?}");
    Err(refuse(format!(
        "the sides have different domains, {} and {}: convert one of them with `rushlight convert --domain`",
        said(old),
        said(new)
    )))
}

type Drawn<'s> = (Picture, Option<Compared<'s>>);

fn picture(context: &Context) -> Picture {
    let camera = context.camera.as_ref();
    Picture {
        look: context.look.clone(),
        camera: camera.map(|(name, _)| name.clone()),
        camera_terms: camera.map(|(_, camera)| camera.id.to_string()),
        display: context.display.0.clone(),
        display_terms: context.display.1.id.to_string(),
        state: State::Identical,
        note: None,
        comparison: None,
        checks: Vec::new(),
    }
}

/// Two sides of which not both are shows, under one context.
fn one<'s>(
    old: &'s Input,
    new: &'s Input,
    context: Context,
    identical: bool,
    limits: &Limits,
) -> Result<Drawn<'s>, Error> {
    let mut picture = picture(&context);
    if picture.look.is_none() {
        let look = |side: &Input| matches!(side.content, Content::Look(_)).then(|| side.origin.name.clone());
        picture.look = look(new).or_else(|| look(old)).map(|name| name.trim_end_matches(".toml").to_owned());
    }
    if identical {
        return Ok((picture, None));
    }
    let (display, camera) = (&context.display.1.item, context.camera.as_ref().map(|(_, c)| &c.item));
    let map = |side: &'s Input| -> Result<SignalMap<'s>, Error> {
        let compiled = |look: &Look| {
            let camera = camera.ok_or_else(|| Error::from(Invalid::new("camera", "a look needs one: choose it")))?;
            Pipeline::new(camera, look, display)
                .map(|p| SignalMap::Exact(Box::new(p)))
                .map_err(|refused| refuse(format!("{}: {}", side.origin.shown(), refused[0])))
        };
        match &side.content {
            Content::Table(file, _) => Ok(SignalMap::Table(file)),
            Content::Look(look) => compiled(look),
            Content::Show(show) => {
                let name = picture.look.clone().unwrap_or_default();
                let look = show.looks().get(&name);
                compiled(&look.ok_or_else(|| refuse(format!("the show has no look `{name}`")))?.item)
            }
            Content::Other => Err(refuse("there is no picture")),
        }
    };
    let (old, new) = (map(old)?, map(new)?);
    let camera = camera.cloned();
    Ok(measured(picture, Compared { old, new, camera, display: display.clone() }, limits))
}

fn measured<'s>(mut picture: Picture, both: Compared<'s>, limits: &Limits) -> Drawn<'s> {
    let nodes = match (&both.old, &both.new) {
        (SignalMap::Table(a), SignalMap::Table(b)) => a.cube().zip(b.cube()).filter(|(a, b)| a.size() == b.size()),
        _ => None,
    };
    let found = compare(&Pair {
        old: &both.old,
        new: &both.new,
        camera: both.camera.as_ref(),
        display: &both.display,
        nodes: nodes.map(|(a, b)| [a.nodes(), b.nodes()]),
    });
    picture.state = if found.is_nothing() { State::Identical } else { State::Changed };
    picture.checks = limits.check(&found.groups);
    picture.comparison = Some(found);
    (picture, Some(both))
}

/// Every look, camera and display of two shows.
fn shows<'s>(a: &Show, b: &Show, request: &Request, limits: &Limits) -> Result<Vec<Drawn<'s>>, Error> {
    let pick = &request.pick;
    let fits = |picked: &Option<String>, name: &str| picked.as_ref().is_none_or(|p| p == name);
    let jobs = |show: &Show| -> BTreeSet<[String; 3]> {
        let jobs = show.jobs().into_iter().map(|job| job.names().map(str::to_owned));
        jobs.filter(|[l, c, d]| fits(&pick.look, l) && fits(&pick.camera, c) && fits(&pick.display, d)).collect()
    };
    let renamed = renamed(a, b);
    let named = |[look, camera, display]: [String; 3]| {
        let new = renamed.iter().find(|(_, old)| **old == look).map(|(new, _)| new.clone());
        [new.unwrap_or(look), camera, display]
    };
    let before: BTreeSet<[String; 3]> = jobs(a).into_iter().map(named).collect();
    let after = jobs(b);
    if before.is_empty() && after.is_empty() && (pick.look.is_some() || pick.camera.is_some() || pick.display.is_some())
    {
        return Err(refuse(
            "neither show bakes a look, a camera and a display of these names: give names of the show, or compare looks that no show lists in a run of their own",
        ));
    }
    let mut drawn = Vec::new();
    for job in before.union(&after) {
        let [look, camera, display] = job;
        let from = if after.contains(job) { b } else { a };
        let mut picture = picture(&Context {
            look: Some(look.clone()),
            camera: Some((camera.clone(), from.cameras()[camera].clone())),
            display: (display.clone(), from.displays()[display].clone()),
        });
        if !(before.contains(job) && after.contains(job)) {
            picture.state = if after.contains(job) { State::Added } else { State::Removed };
            drawn.push((picture, None));
            continue;
        }
        let (old_screen, new_screen) = (&a.displays()[display], &b.displays()[display]);
        if !means_the_same(&old_screen.item, &new_screen.item) {
            picture.state = State::Incomparable;
            picture.note = Some(format!("display {display} differs: {} -> {}", old_screen.id, new_screen.id));
            drawn.push((picture, None));
            continue;
        }
        let (old_camera, new_camera) = (&a.cameras()[camera], &b.cameras()[camera]);
        let same_camera = takes_the_same(&old_camera.item, &new_camera.item);
        if !same_camera {
            picture.note = Some(format!(
                "camera {camera} differs, {} -> {}: both sides are compared on the signal of the new one",
                old_camera.id, new_camera.id
            ));
        }
        let was = renamed.get(look).unwrap_or(look);
        if was != look {
            let said = format!("look {was} is called {look} now");
            picture.note = Some(picture.note.take().map_or(said.clone(), |note| format!("{said}; {note}")));
        }
        let same_look = a.looks()[was].item.sources() == b.looks()[look].item.sources();
        if same_look && same_camera && old_screen.item.settings() == new_screen.item.settings() {
            drawn.push((picture, None));
            continue;
        }
        let path = |show: &Show, look: &str| {
            show.pipeline(look, camera, display)
                .map(|p| SignalMap::Exact(Box::new(p)))
                .map_err(|refused| refuse(format!("look {look} on display {display}: {}", refused[0])))
        };
        let both = Compared {
            old: path(a, was)?,
            new: path(b, look)?,
            camera: Some(new_camera.item.clone()),
            display: new_screen.item.clone(),
        };
        drawn.push(measured(picture, both, limits));
    }
    Ok(drawn)
}

/// Whether a signal is the same light on both displays.
fn means_the_same(a: &Display, b: &Display) -> bool {
    let (a, b) = (a.settings(), b.settings());
    (a.gamut, a.eotf, a.peak, a.black, a.range) == (b.gamut, b.eotf, b.peak, b.black, b.range)
}

/// Whether a signal is the same light to both cameras, asked of many signals.
fn takes_the_same(a: &Camera, b: &Camera) -> bool {
    uniform(1, 256).into_iter().all(|signal| a.decode(signal) == b.decode(signal))
}
