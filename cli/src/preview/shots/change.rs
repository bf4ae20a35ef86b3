//! What the page asks to have done to a shot.

use super::session::{Became, Session};
use super::{Shots, found};
use crate::preview::refusal::Refusal;
use crate::preview::studio::{At, Studio, Wanted};
use rushlight::pipeline::{Helped, Pipeline};
use rushlight::show::Show;
use rushlight::spectrum::kelvin_and_tint;
use rushlight::step::balance::White;
use rushlight::step::cdl::{Cdl, CdlNumbers};
use serde::Deserialize;
use serde_json::{Value as Json, json};
use std::sync::Arc;

/// A change that is asked for, of the shot as it was at `version`.
#[derive(Debug, PartialEq, Deserialize)]
pub(super) struct Question {
    version: u64,
    /// The drag that the change is part of: all of one drag are one version.
    #[serde(default)]
    drag: Option<String>,
    #[serde(flatten)]
    change: Change,
}

/// Through which look and display a shot is seen, and of which camera.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Through {
    look: String,
    camera: String,
    display: String,
}

/// What is to be changed.
#[derive(Debug, PartialEq, Deserialize)]
#[serde(tag = "op", rename_all = "snake_case", deny_unknown_fields)]
enum Change {
    /// One of the ten numbers, or three of them.
    Set {
        key: Key,
        value: Json,
    },
    /// Stops of light before the correction.
    Exposure {
        stops: f64,
        look: String,
        camera: String,
        display: String,
    },
    /// Light of a colour temperature made neutral before the correction.
    White {
        kelvin: f64,
        #[serde(default)]
        tint: Option<f64>,
        look: String,
        camera: String,
        display: String,
    },
    /// Both, upon numbers that the shot had: where a drag began, so that all of it is two helpers and no more.
    Balance {
        on: CdlNumbers,
        stops: f64,
        #[serde(default)]
        kelvin: Option<f64>,
        look: String,
        camera: String,
        display: String,
    },
    /// So many stops, or such a white, in all: what the correction amounts to, whatever it is made of.
    Amount {
        #[serde(default)]
        stops: Option<f64>,
        #[serde(default)]
        kelvin: Option<f64>,
        #[serde(default)]
        tint: Option<f64>,
        look: String,
        camera: String,
        display: String,
    },
    /// No correction.
    Reset {},
    /// The numbers of another shot.
    Copy {
        from: String,
    },
    Undo {},
    Redo {},
    /// One of its versions.
    Go {
        at: usize,
    },
    /// What its file has.
    Revert {},
    /// The edits stay, though its file has changed.
    Stay {},
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Key {
    Slope,
    Offset,
    Power,
    Saturation,
}

/// The numbers with one of them set.
fn set(numbers: CdlNumbers, key: Key, value: &Json) -> Result<CdlNumbers, Refusal> {
    let three = || serde_json::from_value::<[f64; 3]>(value.clone()).map_err(|_| Refusal::bad("value: three numbers"));
    Ok(match key {
        Key::Slope => CdlNumbers { slope: three()?, ..numbers },
        Key::Offset => CdlNumbers { offset: three()?, ..numbers },
        Key::Power => CdlNumbers { power: three()?, ..numbers },
        Key::Saturation => {
            let saturation = value.as_f64().ok_or_else(|| Refusal::bad("value: a number"))?;
            CdlNumbers { saturation, ..numbers }
        }
    })
}

impl Key {
    /// What a version is called that has these numbers from now on: one where all channels have the same.
    fn words(self, numbers: &CdlNumbers) -> String {
        let three = |name: &str, [red, green, blue]: [f64; 3]| {
            if red == green && green == blue {
                format!("{name} {red}")
            } else {
                format!("{name} {red}, {green}, {blue}")
            }
        };
        match self {
            Self::Slope => three("slope", numbers.slope),
            Self::Offset => three("offset", numbers.offset),
            Self::Power => three("power", numbers.power),
            Self::Saturation => format!("saturation {}", numbers.saturation),
        }
    }
}

/// The path of a look, a camera and a display, without a correction.
fn plain(studio: &Studio, look: String, camera: String, display: String) -> Result<Arc<Pipeline>, Refusal> {
    let wanted = Wanted { look, camera, display, at: At::Now, shot: None };
    Ok(studio.path(&wanted)?.pipeline)
}

fn white_words(kelvin: f64, tint: Option<f64>) -> String {
    let tint = tint.filter(|tint| *tint != 0.0).map(|tint| format!(" tint {tint}"));
    format!("white {kelvin} K{}", tint.unwrap_or_default())
}

/// What a helper makes of numbers.
type Help = dyn Fn(&Show, CdlNumbers) -> Result<Helped, Refusal>;

/// What a change takes from elsewhere, before the shot is held.
enum Ready {
    Set(Key, Json),
    Helper(Box<Help>, String),
    To(CdlNumbers, String),
    Undo,
    Redo,
    Go(usize),
    Revert,
    Stay,
}

fn ready(shots: &Shots, studio: &Studio, change: Change) -> Result<Ready, Refusal> {
    Ok(match change {
        Change::Set { key, value } => Ready::Set(key, value),
        Change::Exposure { stops, look, camera, display } => {
            let path = plain(studio, look, camera, display)?;
            let words = format!("exposure {stops:+} stops");
            Ready::Helper(Box::new(move |show, numbers| Ok(path.exposed(show.grading(), numbers, stops)?)), words)
        }
        Change::White { kelvin, tint, look, camera, display } => {
            let path = plain(studio, look, camera, display)?;
            let white = White { kelvin: Some(kelvin), tint, xy: None }.make()?;
            let words = white_words(kelvin, tint);
            Ready::Helper(Box::new(move |show, numbers| Ok(path.whitened(show.grading(), numbers, white)?)), words)
        }
        Change::Balance { on, stops, kelvin, look, camera, display } => {
            let path = plain(studio, look, camera, display)?;
            let white = kelvin.map(White::kelvin).map(|white| white.make()).transpose()?;
            let kelvin = kelvin.map(|kelvin| format!(", white {kelvin} K")).unwrap_or_default();
            let words = format!("exposure {stops:+} stops{kelvin}");
            let help = move |show: &Show, _: CdlNumbers| {
                let exposed = path.exposed(show.grading(), on, stops)?;
                match white {
                    Some(white) => Ok(path.whitened(show.grading(), exposed.numbers, white)?),
                    None => Ok(exposed),
                }
            };
            Ready::Helper(Box::new(help), words)
        }
        Change::Amount { stops, kelvin, tint, look, camera, display } => {
            let path = plain(studio, look, camera, display)?;
            let white = kelvin.map(|kelvin| White { kelvin: Some(kelvin), tint, xy: None }.make()).transpose()?;
            let words =
                [stops.map(|stops| format!("exposure at {stops:+} stops")), kelvin.map(|k| white_words(k, tint))];
            let words = words.into_iter().flatten().collect::<Vec<_>>().join(", ");
            let help = move |show: &Show, numbers: CdlNumbers| -> Result<Helped, Refusal> {
                Ok(path.amounting(show.grading(), numbers, stops, white)?)
            };
            Ready::Helper(Box::new(help), words)
        }
        Change::Reset {} => Ready::To(CdlNumbers::default(), "reset".to_owned()),
        Change::Copy { from } => {
            let numbers = shots.corrected(studio, &from, "now")?.numbers;
            Ready::To(numbers, format!("copy of {from}"))
        }
        Change::Undo {} => Ready::Undo,
        Change::Redo {} => Ready::Redo,
        Change::Go { at } => Ready::Go(at),
        Change::Revert {} => Ready::Revert,
        Change::Stay {} => Ready::Stay,
    })
}

impl Shots {
    /// What a shot's correction amounts to in stops, kelvin and tint; what it does not have is none.
    pub(super) fn amount(&self, studio: &Studio, name: &str, through: Through) -> Result<Json, Refusal> {
        let show = studio.show();
        let (numbers, version) = {
            let inner = self.lock(&show);
            let session = inner.session(&show, name)?;
            (session.numbers(), session.version)
        };
        let path = plain(studio, through.look, through.camera, through.display)?;
        let amount = path.amount(show.grading(), numbers);
        let white = amount.and_then(|amount| amount.white).and_then(kelvin_and_tint);
        let (kelvin, tint) = white.unzip();
        Ok(json!({ "version": version, "stops": amount.map(|amount| amount.stops), "kelvin": kelvin, "tint": tint }))
    }

    /// Changes a shot; what comes back is the shot as it is then, with what a helper did, in words.
    pub(super) fn change(&self, studio: &Studio, name: &str, question: Question) -> Result<Json, Refusal> {
        let Question { version, drag, change } = question;
        let show = studio.show();
        found(&show, name)?;
        let ready = ready(self, studio, change)?;
        let drag = drag.as_deref();
        let act = |session: &mut Session| {
            if session.version != version {
                return Err(Refusal::conflict(
                    "the shot has been edited in the meantime",
                    "shot",
                    json!(session.version),
                ));
            }
            let enter = |session: &mut Session, numbers: CdlNumbers, words: &str| {
                Cdl::new(numbers, show.grading().clamps())?;
                Ok::<Became, Refusal>(session.enter(numbers, words, drag))
            };
            let mut said = None;
            let became = match &ready {
                Ready::Set(key, value) => {
                    let numbers = set(session.numbers(), *key, value)?;
                    enter(session, numbers, &key.words(&numbers))?
                }
                Ready::Helper(help, words) => {
                    let helped = help(&show, session.numbers())?;
                    said = Some(helped.words());
                    enter(session, helped.numbers, words)?
                }
                Ready::To(numbers, words) => enter(session, *numbers, words)?,
                Ready::Undo if session.can_undo() => session.go(session.at() - 1),
                Ready::Redo => session.go(session.at() + 1),
                Ready::Go(at) => session.go(*at),
                Ready::Undo => Became::Same,
                Ready::Revert => {
                    let saved = session.saved();
                    session.mark_outside(false);
                    session.enter(saved, "as its file has it now", None)
                }
                Ready::Stay => {
                    session.mark_outside(false);
                    Became::Same
                }
            };
            Ok((said, became))
        };
        let (said, version) = self.with(&show, name, act)?;
        studio.tell(&json!({ "kind": "shot", "name": name, "version": version }));
        let mut report = self.report_of(&show, name)?;
        report["said"] = json!(said);
        Ok(report)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_question_has_all_that_its_change_needs_and_nothing_else() {
        let read = |value: Json| serde_json::from_value::<Question>(value).map_err(|e| e.to_string());
        let set = json!({ "version": 3, "op": "set", "key": "slope", "value": [1, 1, 1.1], "drag": "d" });
        let change = Change::Set { key: Key::Slope, value: json!([1, 1, 1.1]) };
        assert_eq!(read(set), Ok(Question { version: 3, drag: Some("d".to_owned()), change }));
        for (value, part) in [
            (json!({ "op": "undo" }), "version"),
            (json!({ "version": 1, "op": "paint" }), "unknown variant `paint`"),
            (json!({ "version": 1, "op": "set", "key": "gamma", "value": 1 }), "unknown variant `gamma`"),
            (json!({ "version": 1, "op": "exposure", "stops": 1 }), "missing field `look`"),
            (json!({ "version": 1, "op": "balance", "stops": 1, "look": "a" }), "missing field `on`"),
            (json!({ "version": 1, "op": "reset", "at": 1 }), "unknown field `at`"),
            (json!({ "version": 1, "op": "go", "at": -1 }), "-1"),
        ] {
            let why = read(value).unwrap_err();
            assert!(why.contains(part), "{why}");
        }
    }

    #[test]
    fn a_number_is_set_and_the_others_stay() {
        let numbers = CdlNumbers { saturation: 0.9, ..CdlNumbers::default() };
        let changed = set(numbers, Key::Offset, &json!([0.1, 0, -0.1])).unwrap();
        assert_eq!(changed, CdlNumbers { offset: [0.1, 0.0, -0.1], ..numbers });
        assert_eq!(Key::Offset.words(&changed), "offset 0.1, 0, -0.1");
        assert_eq!(Key::Slope.words(&changed), "slope 1");
        assert_eq!(Key::Saturation.words(&changed), "saturation 0.9");
        for (key, value) in [(Key::Offset, json!(1)), (Key::Power, json!([1, 1])), (Key::Saturation, json!("x"))] {
            assert!(set(numbers, key, &value).is_err());
        }
    }
}
