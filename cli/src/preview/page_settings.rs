//! How a user has the page: of the user, not of a show, and stored from one day to the next.

use crate::disk::{self, Expected};
use crate::failure::Failure;
use crate::system;
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// What is chosen of the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct PageSettings {
    surround: Surround,
    page: Page,
    side: Side,
    controls: Controls,
    /// Single letters are keys.
    letters: bool,
    #[serde(default)]
    scopes: Scopes,
}

/// Which scopes stand beside the picture, and how they are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Scopes {
    stops: bool,
    display: bool,
    chromaticity: bool,
    histogram: bool,
    pins: bool,
    channels: Channels,
    unit: Unit,
}

/// How red, green and blue stand in a scope.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Channels {
    Over,
    Side,
}

/// What the display's signal is stated in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Unit {
    Percent,
    Nits,
}

impl Default for Scopes {
    /// The two waveforms: exposure, and what the monitor is given.
    fn default() -> Self {
        Self {
            stops: true,
            display: true,
            chromaticity: false,
            histogram: false,
            pins: false,
            channels: Channels::Over,
            unit: Unit::Percent,
        }
    }
}

/// What lies around the picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Surround {
    Dim,
    Grey,
    Black,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Page {
    Dark,
    Light,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Side {
    Open,
    Folded,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Controls {
    Low,
    Tall,
    Folded,
}

impl Default for PageSettings {
    /// Dark and dim: a picture is judged here.
    fn default() -> Self {
        Self {
            surround: Surround::Dim,
            page: Page::Dark,
            side: Side::Open,
            controls: Controls::Low,
            letters: true,
            scopes: Scopes::default(),
        }
    }
}

fn file() -> Option<PathBuf> {
    Some(system::state_folder()?.join("rushlight").join("page.json"))
}

impl PageSettings {
    /// What was chosen last; the defaults where nothing was, or nothing that can be read.
    pub(super) fn read() -> Self {
        let text = file().and_then(|file| disk::regular(&file).ok());
        text.and_then(|text| serde_json::from_slice(&text).ok()).unwrap_or_default()
    }

    /// Stores it for the next start.
    pub(super) fn store(self) -> Result<(), Failure> {
        let file = file().ok_or_else(|| Failure::new("this user has no home folder"))?;
        std::fs::create_dir_all(disk::folder_of(&file))?;
        let text = serde_json::to_string_pretty(&self).unwrap_or_default();
        // Of this program alone, and read at every start: what was read here is written again.
        disk::replace(&file, Expected::Anything, &text).map(|_| ())
    }
}
