//! From a look document to a look: every value checked by the type that it makes.

use super::document::HeadDoc;
use super::{Draft, DraftStep, Look, Named, SCHEMA, generation};
use crate::document::{Document, Problems};
use crate::files::Recorder;
use crate::invalid::Invalid;
use crate::message::unknown;
use crate::step::{ForKind, KINDS, Kind, Maths, Rendering, Role, Settings, Step, StepSettings, Written, for_kind};

/// Beyond any look; two of them are compared step by step.
const MOST_STEPS: usize = 500;

/// Reads the look document `text` of the file `name`, and what it says, sound or not; its sources are left to the caller.
pub(crate) fn read(name: &str, text: &str, files: &Recorder<'_>) -> (Draft, Result<Look, Problems>) {
    let mut document = match Document::parse(name, text) {
        Ok(document) => document,
        Err(problems) => return (Draft::default(), Err(problems)),
    };
    let head = document.read_sound_part::<HeadDoc>("", &["step"]);
    document.check_head(SCHEMA, &["title"]);
    let of_this_generation = generation::check(&mut document, head.as_ref().and_then(|head| head.generation));
    if head.as_ref().is_some_and(|head| head.revision == 0) && of_this_generation {
        document.refuse(Invalid::new("revision", "must be a whole number, 1 or more"));
    }
    let before_steps = document.mark();
    let draft = draft(&mut document);
    if !of_this_generation {
        // What else would be found is no fault of its author.
        document.forget_since(before_steps);
        return (draft, Err(document.into_problems()));
    }
    let count = draft.steps.len();
    if count > MOST_STEPS {
        document.forget_since(before_steps);
        document.refuse(Invalid::new("step", format!("{count} steps: {MOST_STEPS} at most")));
        return (draft, Err(document.into_problems()));
    }
    let (steps, rendering) = make(&mut document, name, &draft, files);
    let note = head.as_ref().and_then(|head| note(&document, head.revision)).unwrap_or_default();
    let look = match (head, rendering) {
        (Some(head), Some(rendering)) if document.is_valid() => {
            Ok(Look::new(head.title, head.revision, steps, rendering).with_note(&note))
        }
        _ => Err(document.into_problems()),
    };
    (draft, look)
}

/// What a document says; what is of another type than it must be is noted.
pub(super) fn draft(document: &mut Document<'_>) -> Draft {
    let count = document.count("step");
    Draft {
        title: document.string("title"),
        revision: document.whole("revision"),
        generation: document.whole("generation"),
        steps: (0..count).map(|i| step(document, &format!("step[{i}]"))).collect(),
    }
}

fn step(document: &mut Document<'_>, path: &str) -> DraftStep {
    let names = || KINDS.iter().map(|kind| kind.name);
    let key = format!("{path}.do");
    let Some(name) = document.string(&key) else {
        let all = names().collect::<Vec<_>>().join(", ");
        let (key, message) = if !document.is_table(path) {
            (path.to_owned(), "must be a table, under [[step]]".to_owned())
        } else if document.has(&key) {
            (key, format!("must be a string: name the step, one of {all}"))
        } else {
            (path.to_owned(), format!("missing key `do`: name the step, one of {all}"))
        };
        document.refuse(Invalid::new(key, message));
        return DraftStep { name: String::new(), written: None };
    };
    let settings = for_kind(&name, Read { document: &mut *document, path });
    if settings.is_none() {
        document.refuse(Invalid::new(key, unknown("step", &name, names())));
    }
    let stated = || document.key_paths(path).into_iter().filter(|key| key != "do").collect();
    let written = settings.flatten().map(|settings| Written::new(settings, stated()));
    DraftStep { name, written }
}

/// Reads the table at a path as the settings of a kind: what is left of it where something in it is wrong, so that the rest
/// is judged too.
struct Read<'r, 't> {
    document: &'r mut Document<'t>,
    path: &'r str,
}

impl ForKind for Read<'_, '_> {
    type Output = Option<Settings>;

    fn run<S: StepSettings + Into<Settings>>(self) -> Option<Settings> {
        self.document.read_sound_part::<S>(self.path, &["do"]).map(Into::into)
    }
}

/// The steps of a draft and its rendering; what they get wrong is noted.
fn make(
    document: &mut Document<'_>,
    name: &str,
    draft: &Draft,
    files: &Recorder<'_>,
) -> (Vec<Step>, Option<Rendering>) {
    let count = draft.steps.len();
    let mut steps = Vec::new();
    let (mut rendering, mut misplaced) = (None, false);
    for (i, step) in draft.steps.iter().enumerate() {
        let path = format!("step[{i}]");
        let Some(written) = &step.written else { continue };
        // A recorder of its own: steps are compared by the files that they name.
        let own = files.apart();
        let made = written.make(&Named::new(name, &own));
        files.join(&own);
        match made {
            Err(refused) => document.refuse_standing(&path, refused),
            Ok(_) if document.is_wrong_within(&path) => {}
            Ok(Maths::Scene(maths)) => steps.push(Step::of(written.clone(), own.sources(), maths)),
            Ok(Maths::Rendering(maths)) if i + 1 == count => {
                rendering = Some(Rendering::of(written.clone(), own.sources(), maths));
            }
            Ok(Maths::Rendering(_)) => {
                misplaced = true;
                let message = "gives display light, which ends a look: it must be the last step".to_owned();
                document.refuse(Invalid::new(format!("{path}.do"), message));
            }
        }
    }
    // A last step that could not be read might have been a rendering.
    let last = format!("step[{}]", count.wrapping_sub(1));
    let is_invalid = match draft.steps.last() {
        None => document.is_wrong_within("step"),
        Some(step) => {
            let role = Kind::named(&step.name).map(|kind| kind.role);
            document.is_wrong_within(&last) && role != Some(Role::Scene)
        }
    };
    if rendering.is_none() && !is_invalid && !misplaced {
        let message = "the look does not end in display light: its last step must be `print`, `tone`, or a `cube` that gives a display";
        let key = if count == 0 { "step".to_owned() } else { last };
        document.refuse(Invalid::new(key, message));
    }
    (steps, rendering)
}

/// The note on a revision: the comment above it, as [`to_toml`](super::to_toml) writes it.
fn note(document: &Document<'_>, revision: u32) -> Option<String> {
    let line = document.line_above("revision")?;
    line.strip_prefix(&super::note_line(revision, "")).map(str::to_owned)
}
