//! What is noted of a shot that there is, into its entry of the show.

use super::document::{self, number, white};
use super::{Shots, found, stills};
use crate::preview::refusal::Refusal;
use crate::preview::studio::Studio;
use rushlight::step::balance::White;
use serde::Deserialize;
use serde_json::{Value as Json, json};
use std::sync::PoisonError;
use toml_edit::Value;

/// All notes of a shot that the page lets one write; one that is none or empty goes.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Question {
    scene: Option<String>,
    take: Option<String>,
    reel: Option<String>,
    timecode: Option<String>,
    ei: Option<f64>,
    kelvin: Option<f64>,
    note: Option<String>,
}

impl Shots {
    /// Writes them. The correction and its versions stay as they are, saved or not.
    pub(super) fn note(&self, studio: &Studio, name: &str, question: &Question) -> Result<Json, Refusal> {
        let _turn = self.turn.lock().unwrap_or_else(PoisonError::into_inner);
        let show = studio.show();
        let there = found(&show, name)?.notes.white;
        let Some((before, mut document)) = document::document(studio) else {
            return Err(Refusal::bad("the show cannot be read at this moment: try again"));
        };
        let Question { scene, take, reel, timecode, ei, kelvin, note } = question;
        let texts = [("scene", scene), ("take", take), ("reel", reel), ("timecode", timecode), ("note", note)];
        let mut values: Vec<_> = texts.map(|(key, text)| (key, stills::said(text).map(Value::from))).into();
        values.push(("ei", ei.map(number)));
        // A tint stays with its white, and a white that is given by its chromaticity has no kelvin that could differ.
        if there.and_then(|white| white.kelvin) != *kelvin {
            let tint = there.and_then(|white| white.tint);
            let new =
                kelvin.map(|kelvin| White { kelvin: Some(kelvin), tint, xy: None }.make().map(|_| white(kelvin, tint)));
            values.push(("white", new.transpose()?));
        }
        document::enter(&mut document, name, values).map_err(Refusal::bad)?;
        let after = document.to_string();
        if after != before {
            stills::enter(studio, &before, &after)?;
            studio.read_show_again()?;
            studio.tell(&json!({ "kind": "show" }));
        }
        self.report_of(&studio.show(), name)
    }
}
