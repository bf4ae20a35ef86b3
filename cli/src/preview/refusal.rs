//! Why a request is not answered: a status and one sentence.

use crate::failure::Failure;
use axum::http::StatusCode;
use rushlight::invalid::Refusals;
use serde_json::{Value as Json, json};

/// The error that a page gets in place of an answer.
#[derive(Debug)]
pub(super) struct Refusal {
    pub(super) status: StatusCode,
    pub(super) body: Json,
}

impl Refusal {
    pub(super) fn new(status: StatusCode, why: impl Into<String>) -> Self {
        Self { status, body: json!({ "error": why.into() }) }
    }

    /// What was asked for makes no sense.
    pub(super) fn bad(why: impl Into<String>) -> Self {
        Self::new(StatusCode::BAD_REQUEST, why)
    }

    pub(super) fn not_found(why: impl Into<String>) -> Self {
        Self::new(StatusCode::NOT_FOUND, why)
    }

    /// It rests on something that is not so any more; `more` says what is.
    pub(super) fn conflict(why: &str, more: &str, what: Json) -> Self {
        let mut refusal = Self::new(StatusCode::CONFLICT, why);
        refusal.body[more] = what;
        refusal
    }
}

impl From<Failure> for Refusal {
    fn from(failure: Failure) -> Self {
        Self::new(StatusCode::UNPROCESSABLE_ENTITY, failure.words())
    }
}

impl From<Refusals> for Refusal {
    fn from(refused: Refusals) -> Self {
        Self::from(Failure::refused(refused))
    }
}
