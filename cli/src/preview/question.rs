//! What the page asks to have done to a look.

use serde::Deserialize;
use serde_json::Value as Json;

/// A change that is asked for, of the look as it was at `version`.
#[derive(Debug, PartialEq, Deserialize)]
pub(super) struct Question {
    pub(super) version: u64,
    /// The drag that the change is part of: all of one drag are undone together.
    #[serde(default)]
    pub(super) drag: Option<String>,
    #[serde(flatten)]
    pub(super) change: Change,
}

/// What is to be changed.
#[derive(Debug, PartialEq, Deserialize)]
#[serde(tag = "op", rename_all = "snake_case", deny_unknown_fields)]
pub(super) enum Change {
    /// A setting by its key path; null takes it out.
    Set {
        step: usize,
        key: String,
        #[serde(default)]
        value: Json,
    },
    Move {
        from: usize,
        to: usize,
    },
    Add {
        r#do: String,
        at: usize,
    },
    Remove {
        step: usize,
    },
    Title {
        value: String,
    },
    /// The light by so many stops.
    Raise {
        stops: f64,
    },
    Bypass {
        step: usize,
        on: bool,
    },
    // With braces, so that what does not belong to them is refused.
    Undo {},
    Redo {},
    Revert {},
    /// Edits of an earlier run that are in no file.
    TakeLeft {},
    DropLeft {},
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_question_has_all_that_its_change_needs_and_nothing_else() {
        let read = |value: Json| serde_json::from_value::<Question>(value).map_err(|e| e.to_string());
        let set = json!({ "version": 3, "op": "set", "step": 1, "key": "stops", "value": -0.5, "drag": "d" });
        let change = Change::Set { step: 1, key: "stops".to_owned(), value: json!(-0.5) };
        assert_eq!(read(set), Ok(Question { version: 3, drag: Some("d".to_owned()), change }));
        let undo = read(json!({ "version": 1, "op": "undo", "drag": null }));
        assert_eq!(undo, Ok(Question { version: 1, drag: None, change: Change::Undo {} }));
        for (value, part) in [
            (json!({ "op": "undo" }), "version"),
            (json!({ "version": 1 }), "op"),
            (json!({ "version": 1, "op": "paint" }), "unknown variant `paint`, expected one of `set`, `move`"),
            (json!({ "version": 1, "op": "set", "step": 0 }), "missing field `key`"),
            (json!({ "version": 1, "op": "move", "from": 0, "to": -1 }), "-1"),
            (json!({ "version": 1, "op": "remove", "step": 0, "at": 1 }), "unknown field `at`"),
            (json!({ "version": 1, "op": "redo", "step": 0 }), "unknown field `step`"),
            (json!({ "version": 1, "op": "title", "value": 7 }), "invalid type"),
        ] {
            let why = read(value).unwrap_err();
            assert!(why.contains(part), "{why}");
        }
    }
}
