//! Addresses of the shots, and what they are answered.

use super::{change, manage, notes, pins, save, stills};
use crate::preview::api::{Answer, Shared, answer_json, away, query, question};
use crate::preview::refusal::Refusal;
use crate::preview::server::Server;
use axum::Router;
use axum::extract::{Path, Request, State};
use axum::http::Uri;
use axum::routing::{get, post};
use serde_json::Value as Json;
use std::sync::Arc;

pub(in crate::preview) fn router() -> Router<Arc<Server>> {
    Router::new()
        .route("/api/shots", get(all).post(make))
        .route("/api/shots/{name}", get(one))
        .route("/api/shots/{name}/edit", post(edit))
        .route("/api/shots/{name}/save", post(keep))
        .route("/api/shots/{name}/frame", post(frame))
        .route("/api/shots/{name}/pins", post(pin))
        .route("/api/shots/{name}/notes", post(note))
        .route("/api/shots/{name}/amount", get(amount))
        .route("/api/shots/{name}/rename", post(rename))
        .route("/api/shots/{name}/delete", post(delete))
        .route("/api/shots/{name}/own", post(own))
        .route("/api/cubes", get(cubes).post(bake))
}

/// Waits for one of the turns of work that takes long, and answers with what it gives.
async fn worked(server: Arc<Server>, work: impl FnOnce(&Server) -> Result<Json, Refusal> + Send + 'static) -> Answer {
    let working = server.working.clone();
    away(&working, Box::new(move || Ok(answer_json(&work(&server)?)))).await
}

async fn all(State(server): Shared) -> Answer {
    worked(server, move |server| Ok(server.shots.report(&server.studio))).await
}

async fn one(State(server): Shared, Path(name): Path<String>) -> Answer {
    Ok(answer_json(&server.shots.report_of(&server.studio.show(), &name)?))
}

async fn edit(State(server): Shared, Path(name): Path<String>, request: Request) -> Answer {
    let asked: change::Question = question(request).await?;
    worked(server, move |server| server.shots.change(&server.studio, &name, asked)).await
}

async fn note(State(server): Shared, Path(name): Path<String>, request: Request) -> Answer {
    let asked: notes::Question = question(request).await?;
    worked(server, move |server| server.shots.note(&server.studio, &name, &asked)).await
}

async fn amount(State(server): Shared, Path(name): Path<String>, uri: Uri) -> Answer {
    let asked: change::Through = query(&uri)?;
    worked(server, move |server| server.shots.amount(&server.studio, &name, asked)).await
}

async fn rename(State(server): Shared, Path(name): Path<String>, request: Request) -> Answer {
    let asked: manage::Rename = question(request).await?;
    worked(server, move |server| server.shots.rename(&server.studio, &name, &asked)).await
}

async fn delete(State(server): Shared, Path(name): Path<String>, request: Request) -> Answer {
    let asked: manage::Delete = question(request).await?;
    worked(server, move |server| server.shots.delete(&server.studio, &name, &asked)).await
}

async fn own(State(server): Shared, Path(name): Path<String>, request: Request) -> Answer {
    let manage::Nothing {} = question(request).await?;
    worked(server, move |server| server.shots.own(&server.studio, &name)).await
}

async fn cubes(State(server): Shared) -> Answer {
    worked(server, move |server| server.shots.old_cubes(&server.studio)).await
}

async fn bake(State(server): Shared, request: Request) -> Answer {
    let manage::Nothing {} = question(request).await?;
    let working = server.working.clone();
    let work = move || {
        let (report, later) = server.shots.bake_old(&server.studio)?;
        measure_later(&server, move |server| server.shots.audit_later(&server.studio, &later));
        Ok(answer_json(&report))
    };
    away(&working, Box::new(work)).await
}

/// The page has its answer, and the box its cubes; what is left are the figures in the cubes' comments. The next save does not wait
/// for them, and a page that saves without end does not make threads without end.
fn measure_later(server: &Arc<Server>, measure: impl FnOnce(&Server) + Send + 'static) {
    if let Ok(turn) = server.measuring.clone().try_acquire_owned() {
        let server = server.clone();
        std::thread::spawn(move || {
            server.quiet.install(|| measure(&server));
            drop(turn);
        });
    }
}

async fn pin(State(server): Shared, Path(name): Path<String>, request: Request) -> Answer {
    let asked: pins::Pins = question(request).await?;
    worked(server, move |server| server.shots.pin(&server.studio, &name, asked)).await
}

async fn keep(State(server): Shared, Path(name): Path<String>, request: Request) -> Answer {
    let asked: save::Question = question(request).await?;
    let working = server.working.clone();
    let work = move || {
        let report = server.shots.save(&server.studio, &name, &asked)?;
        let numbers = server.shots.corrected(&server.studio, &name, "saved")?.numbers;
        // The cube that is there is right; where this fails it lacks the figures.
        measure_later(&server, move |server| drop(server.shots.audit(&server.studio, &name, &asked, numbers)));
        Ok(answer_json(&report))
    };
    away(&working, Box::new(work)).await
}

async fn make(State(server): Shared, request: Request) -> Answer {
    let asked: stills::Question = question(request).await?;
    let live = asked.live(&server)?;
    worked(server, move |server| server.shots.make(server, live.as_deref(), &asked)).await
}

/// The frame that the show has of a shot, among those that a page can show.
async fn frame(State(server): Shared, Path(name): Path<String>) -> Answer {
    let reads = server.reading.clone();
    let work = move || {
        let show = server.studio.show();
        let shot = super::found(&show, &name)?;
        let Some(file) = &shot.notes.frame else {
            return Err(Refusal::not_found(format!("the show names no frame of the shot {name}")));
        };
        Ok(answer_json(&server.frames.of_shot(&server.studio.folder.within(file), file)?))
    };
    away(&reads, Box::new(work)).await
}
