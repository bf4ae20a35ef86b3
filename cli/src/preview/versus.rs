//! One look or version against another, by the numbers of `diff`.

use super::refusal::Refusal;
use super::studio::{At, Studio, Wanted};
use rushlight::compare::document::look_changes;
use rushlight::compare::{Pair, compare};
use serde_json::{Value as Json, json};

/// A look at a version: `night`, `night@saved`, `night@HEAD~2`.
fn side(text: &str, camera: &str, display: &str) -> Wanted {
    let (look, at) = text.split_once('@').unwrap_or((text, ""));
    Wanted { look: look.to_owned(), camera: camera.to_owned(), display: display.to_owned(), at: At::from(at) }
}

/// What differs between `a`, the older, and `b`.
pub(super) fn versus(studio: &Studio, a: &str, b: &str, camera: &str, display: &str) -> Result<Json, Refusal> {
    let [old, new] = [a, b].map(|text| side(text, camera, display));
    let (before, after) = (studio.path(&old)?, studio.path(&new)?);
    let draft = |wanted: &Wanted| studio.look_at(&wanted.look, &wanted.at).map(|(_, _, draft)| draft);
    let changes = look_changes(draft(&old)?.as_ref(), draft(&new)?.as_ref());
    let found = compare(&Pair {
        old: &before.pipeline,
        new: &after.pipeline,
        camera: Some(after.pipeline.camera()),
        display: after.pipeline.display(),
        nodes: None,
    });
    let groups = found.groups.iter().map(|g| {
        json!({ "name": g.name, "title": g.name.title(), "count": g.count, "mean": g.mean, "p95": g.p95, "max": g.max,
                "words": g.direction.words, "worst": g.worst })
    });
    Ok(json!({
        "a": a, "b": b, "identical": found.is_nothing(), "metric": found.formula,
        "groups": groups.collect::<Vec<_>>(), "mid_grey": found.grey,
        "changes": changes.iter().map(|c| &c.words).collect::<Vec<_>>(),
    }))
}
