//! One look or version against another, by the numbers of `diff`.

use super::refusal::Refusal;
use super::shots::Corrected;
use super::studio::{At, Studio, Wanted};
use rushlight::compare::document::look_changes;
use rushlight::compare::{Pair, compare};
use serde_json::{Value as Json, json};

/// A look at a version: `night`, `night@saved`, `night@HEAD~2`.
fn side((text, shot): (&str, Option<Corrected>), camera: &str, display: &str) -> Wanted {
    let (look, at) = text.split_once('@').unwrap_or((text, ""));
    let [look, camera, display] = [look, camera, display].map(str::to_owned);
    Wanted { look, camera, display, at: At::from(at), shot }
}

/// What differs between `sides`, the older and the newer, each perhaps with a shot's correction.
pub(super) fn versus(
    studio: &Studio,
    sides: [(&str, Option<Corrected>); 2],
    camera: &str,
    display: &str,
) -> Result<Json, Refusal> {
    let [a, b] = [sides[0].0, sides[1].0];
    let [old, new] = sides.map(|one| side(one, camera, display));
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
