//! The looks of the show as a page works on them: edits, saves, and what was done to them.

use super::api::{Answer, Shared, answer_json, away, question, serialised};
use super::edit::Edit;
use super::left;
use super::question::{Change, Question};
use super::refusal::Refusal;
use super::server::Server;
use axum::Router;
use axum::extract::{Path, Request, State};
use axum::routing::{get, post};
use serde::Deserialize;
use std::sync::Arc;

/// Their addresses.
pub(super) fn routes() -> Router<Arc<Server>> {
    Router::new()
        .route("/api/looks/{name}", get(look))
        .route("/api/looks/{name}/edit", post(edit))
        .route("/api/looks/{name}/save", post(save))
        .route("/api/looks/{name}/history", get(history))
}

async fn look(State(server): Shared, Path(name): Path<String>) -> Answer {
    Ok(answer_json(&serialised(&server.studio.look(&name)?.report())))
}

async fn edit(State(server): Shared, Path(name): Path<String>, request: Request) -> Answer {
    let Question { version, drag, change } = question(request).await?;
    let working = server.working.clone();
    let work = move || {
        let files = &server.studio.folder;
        let (is_drag, is_dropped) = (drag.is_some(), change == Change::DropLeft {});
        let mut done_with = None;
        let edited = server.studio.with_look(&name, |look| {
            look.check_newest(version)?;
            let edit = match change {
                Change::Set { step, key, value } => Some(Edit::Set { step, key, value }),
                Change::Move { from, to } => Some(Edit::Move { from, to }),
                Change::Add { r#do, at } => Some(Edit::Add { what: r#do, at }),
                Change::Remove { step } => Some(Edit::Remove { step }),
                Change::Title { value } => Some(Edit::Title(value)),
                Change::Raise { stops } => {
                    look.raise(stops, files).map_err(Refusal::bad)?;
                    None
                }
                Change::Bypass { step, on } => {
                    look.bypass(step, on, files).map_err(Refusal::bad)?;
                    None
                }
                Change::Undo {} => {
                    look.undo(files);
                    None
                }
                Change::Redo {} => {
                    look.redo(files);
                    None
                }
                Change::Revert {} => {
                    look.revert(files);
                    None
                }
                Change::GoTo { id } => {
                    look.go_to(id, files).map_err(Refusal::bad)?;
                    None
                }
                Change::Hold {} => {
                    look.hold().map_err(Refusal::bad)?;
                    None
                }
                Change::HoldSteps { step, key, values } => {
                    look.hold_steps(step, &key, values, files).map_err(Refusal::bad)?;
                    None
                }
                Change::TakeHeld { id } => {
                    look.take_held(id, files).map_err(Refusal::bad)?;
                    None
                }
                Change::DropHeld { id } => {
                    look.drop_held(id).map_err(Refusal::bad)?;
                    None
                }
                Change::TakeLeft {} | Change::DropLeft {} => {
                    done_with = look.take_left(!is_dropped, files);
                    None
                }
            };
            if let Some(edit) = edit {
                look.edit(&edit, drag.as_deref(), files).map_err(Refusal::bad)?;
            }
            Ok(answer_json(&serialised(&look.report())))
        })?;
        server.worst.edited(&name);
        // Of a drag, every half second will do.
        let is_kept = is_drag || server.unsaved.keep(&server.studio).iter().all(|edited| edited.kept);
        // What was taken up and is kept nowhere else stays where it is.
        if let Some(file) = done_with.filter(|_| is_kept || is_dropped) {
            left::take_away(&file);
            server.studio.offer_next(&name);
            return Ok(answer_json(&serialised(&server.studio.look(&name)?.report())));
        }
        Ok(edited)
    };
    away(&working, Box::new(work)).await
}

/// What was done to a look, in words.
async fn history(State(server): Shared, Path(name): Path<String>) -> Answer {
    let working = server.working.clone();
    away(&working, Box::new(move || Ok(answer_json(&serialised(&server.studio.look(&name)?.past()))))).await
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Save {
    version: u64,
    #[serde(default)]
    note: String,
    #[serde(default)]
    anyway: bool,
}

async fn save(State(server): Shared, Path(name): Path<String>, request: Request) -> Answer {
    let Save { version, note, anyway } = question(request).await?;
    let working = server.working.clone();
    let work = move || {
        let saved = server.studio.save(&name, version, &note, anyway)?;
        server.unsaved.keep(&server.studio);
        Ok(answer_json(&saved))
    };
    away(&working, Box::new(work)).await
}
