//! Places of a shot's frame that the page reads, up to eight: they are stored as its versions are, and are no part of the correction.

use super::journal::Entry;
use super::{Shots, found};
use crate::preview::refusal::Refusal;
use crate::preview::scopes_api::MOST_PLACES;
use crate::preview::studio::Studio;
use rushlight::message::LONGEST_TITLE;
use serde::{Deserialize, Serialize};
use serde_json::{Value as Json, json};

/// Pixels across or down a frame that has pins.
const LARGEST: u32 = 1 << 16;

/// A pixel, or a rectangle, of the frame as the page shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Pin {
    x: u32,
    y: u32,
    width: u32,
    height: u32,
}

/// The pins of a shot, and the frame that they are of. Of another frame they say nothing.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Pins {
    frame: String,
    width: u32,
    height: u32,
    pins: Vec<Pin>,
}

impl Pins {
    fn check(&self) -> Result<(), Refusal> {
        let Self { frame, width, height, pins } = self;
        if frame.chars().any(char::is_control) || frame.chars().count() > LONGEST_TITLE {
            return Err(Refusal::bad(format!("frame: one line of {LONGEST_TITLE} letters at most")));
        }
        if [width, height].into_iter().any(|v| !(1..=LARGEST).contains(v)) {
            return Err(Refusal::bad(format!("width and height: 1 to {LARGEST} pixels")));
        }
        if pins.len() > MOST_PLACES {
            return Err(Refusal::bad(format!("pins: {} are more than a shot has, {MOST_PLACES}", pins.len())));
        }
        let fits = |at: u32, size: u32, all: u32| size > 0 && at < all && size <= all - at;
        match pins.iter().position(|pin| !fits(pin.x, pin.width, *width) || !fits(pin.y, pin.height, *height)) {
            Some(at) => {
                Err(Refusal::bad(format!("pins[{at}]: it must lie within the frame, {width} x {height} pixels")))
            }
            None => Ok(()),
        }
    }
}

impl Shots {
    /// Takes the pins of a shot in the place of those that it has. They change no picture, so its version stays.
    pub(super) fn pin(&self, studio: &Studio, name: &str, pins: Pins) -> Result<Json, Refusal> {
        pins.check()?;
        let show = studio.show();
        found(&show, name)?;
        let mut inner = self.lock(&show);
        let session = inner.all.get_mut(name).ok_or_else(|| Refusal::not_found(format!("there is no shot {name}")))?;
        if session.pins != pins {
            session.pins = pins;
            let entry = Entry::pins(name, session);
            inner.note(vec![entry]);
        }
        Ok(json!({ "stored": !inner.said }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pins_lie_within_their_frame() {
        let check = |change: &dyn Fn(&mut Pins)| {
            let pin = Pin { x: 3, y: 4, width: 5, height: 2 };
            let mut pins = Pins { frame: "a.exr".to_owned(), width: 8, height: 6, pins: vec![pin] };
            change(&mut pins);
            pins.check().map_err(|refusal| refusal.body["error"].as_str().unwrap_or_default().to_owned())
        };
        assert_eq!(check(&|_| ()), Ok(()));
        assert_eq!(check(&|pins| pins.pins.clear()), Ok(()));
        type Change<'c> = &'c dyn Fn(&mut Pins);
        let cases: [(Change<'_>, &str); 9] = [
            (&|pins| pins.pins[0].x = 4, "pins[0]"),
            (&|pins| pins.pins[0].y = u32::MAX, "pins[0]"),
            (&|pins| pins.pins[0].width = u32::MAX, "pins[0]"),
            (&|pins| pins.pins[0].height = 0, "pins[0]"),
            (&|pins| pins.pins = vec![pins.pins[0]; MOST_PLACES + 1], "9 are more"),
            (&|pins| pins.width = 0, "width and height"),
            (&|pins| pins.height = LARGEST + 1, "width and height"),
            (&|pins| pins.frame = "a\nb".to_owned(), "one line"),
            (&|pins| pins.frame = "a".repeat(LONGEST_TITLE + 1), "one line"),
        ];
        for (change, part) in cases {
            let why = check(change).unwrap_err();
            assert!(why.contains(part), "{why}");
        }
    }
}
