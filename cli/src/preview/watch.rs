//! Files that change outside: the show, its looks, and what they name. Looked after every half second, which every system
//! and every file system can.

use super::studio::Studio;
use crate::disk;
use rushlight::files::sha256;
use serde_json::json;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Weak;
use std::time::{Duration, SystemTime};

/// How often files are looked after.
const GLANCE: Duration = Duration::from_millis(500);

/// How a file was last seen.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Seen {
    /// None: it was not there.
    stamp: Option<(SystemTime, u64)>,
    sha256: String,
}

/// What was seen, by the name of each file.
#[derive(Debug, Default)]
struct Watch(BTreeMap<String, Seen>);

/// Looks after the files from now on, as long as the server is there.
pub(super) fn start(server: Weak<super::server::Server>) {
    std::thread::spawn(move || {
        let mut watch = Watch::default();
        while let Some(server) = server.upgrade() {
            watch.glance(&server.studio);
            drop(server);
            std::thread::sleep(GLANCE);
        }
    });
}

impl Watch {
    /// Looks once, and tells what is new.
    fn glance(&mut self, studio: &Studio) {
        let files = studio.files();
        let mut show_changed = false;
        for (file, is_look) in &files {
            let first = !self.0.contains_key(file);
            if !self.has_changed(file, studio.folder.within(file)) {
                continue;
            }
            // A look that changed before it was first seen here is compared with what was read.
            if *is_look {
                look_changed(studio, file);
            } else if !first {
                show_changed = true;
            }
        }
        self.0.retain(|file, _| files.iter().any(|(f, _)| f == file));
        if show_changed {
            let problems = studio.read_show_again().err().map(|failure| failure.words());
            studio.tell(&json!({ "kind": "show", "problems": problems }));
        }
    }

    fn has_changed(&mut self, file: &str, path: PathBuf) -> bool {
        let stamp = std::fs::metadata(&path).ok().and_then(|m| Some((m.modified().ok()?, m.len())));
        let before = self.0.get(file);
        if before.is_some_and(|seen| seen.stamp == stamp) {
            return false;
        }
        let sha256 = disk::read_bytes(&path).map(|bytes| sha256(&bytes)).unwrap_or_default();
        let changed = before.is_none_or(|seen| seen.sha256 != sha256);
        self.0.insert(file.to_owned(), Seen { stamp, sha256 });
        changed
    }
}

/// Tells the looks of this file what stands there now.
fn look_changed(studio: &Studio, file: &str) {
    let found = disk::read_text(&studio.folder.within(file));
    for name in studio.looks_of(file) {
        match &found {
            Ok(text) => {
                let news = studio.with_look(&name, |look| Ok(look.found(text.clone(), &studio.folder)));
                let Ok(Some(words)) = news else { continue };
                let conflict = studio.with_look(&name, |look| Ok(look.outside.is_some())).unwrap_or_default();
                studio.tell(&json!({ "kind": "outside", "name": name, "words": words, "conflict": conflict }));
            }
            Err(failure) => {
                let words = [failure.words()];
                studio.tell(&json!({ "kind": "outside", "name": name, "words": words, "conflict": false }));
            }
        }
    }
}
