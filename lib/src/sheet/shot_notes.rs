//! What was noted of a shot, in reports.

use crate::shot::Notes;
use schemars::JsonSchema;
use serde::Serialize;

/// What was noted of a shot; what was not is left away.
#[derive(Debug, Clone, PartialEq, Default, Serialize, JsonSchema)]
pub struct ShotNotes {
    /// The scene.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scene: Option<String>,
    /// The take.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub take: Option<String>,
    /// The reel or card that its clip is on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reel: Option<String>,
    /// A timecode within its clip.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub timecode: Option<String>,
    /// The exposure index that the camera was set to.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ei: Option<f64>,
    /// The white that the camera was set to, in kelvin.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kelvin: Option<f64>,
    /// A frame of it, relative to the show.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub frame: Option<String>,
    /// Anything else.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl ShotNotes {
    /// Of what a show notes; none where it notes nothing.
    pub fn of(notes: &Notes) -> Option<Self> {
        let Notes { frame, ei, white, scene, take, reel, timecode, note } = notes.clone();
        let kelvin = white.and_then(|white| white.kelvin);
        let made = Self { scene, take, reel, timecode, ei, kelvin, frame, note };
        (made != Self::default()).then_some(made)
    }

    /// In one line; the frame is left out.
    pub fn words(&self) -> String {
        let Self { scene, take, reel, timecode, ei, kelvin, note, .. } = self;
        let named = |name: &str, text: &Option<String>| text.as_ref().map(|text| format!("{name} {text}"));
        let all = [
            named("scene", scene),
            named("take", take),
            named("reel", reel),
            timecode.clone(),
            ei.map(|ei| format!("EI {ei}")),
            kelvin.map(|kelvin| format!("{kelvin} K")),
            note.clone(),
        ];
        all.into_iter().flatten().collect::<Vec<_>>().join(", ")
    }
}
