//! Files that change outside: the show, its looks, and what they name. Looked after every half second, which every system
//! and every file system can; edits that are in no file are kept as often.

use super::steady;
use super::studio::{Studio, Watched};
use crate::disk;
use rushlight::files::sha256;
use serde_json::json;
use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::path::Path;
use std::sync::Weak;
use std::time::{Duration, SystemTime};

/// How often files are looked after.
const GLANCE: Duration = Duration::from_millis(500);

/// When a file was written, and its length; none: it was not there.
type Stamp = Option<(SystemTime, u64)>;

/// How a file was last seen.
#[derive(Debug, Default)]
struct Seen {
    /// At rest, with the checksum of its bytes.
    rested: Option<(Stamp, String)>,
    /// Otherwise: it may still be written, and is looked at once it rests.
    moving: Option<Stamp>,
}

/// What was seen, by the name of each file.
#[derive(Debug, Default)]
struct Watch(BTreeMap<String, Seen>);

/// Looks after the files from now on, as long as the server is there.
pub(super) fn start(server: Weak<super::server::Server>) {
    let work = move |watch: &mut Watch| {
        let Some(server) = server.upgrade() else { return ControlFlow::Break(()) };
        // First, so that nothing that goes wrong with a file comes before.
        server.unsaved.keep(&server.studio);
        server.shots.keep();
        watch.glance(&server.studio);
        drop(server);
        std::thread::sleep(GLANCE);
        ControlFlow::Continue(())
    };
    // What was seen stays, so that a file that breaks it off does so once.
    steady::go_on("looking after the files", Watch::default(), work, |_| {});
}

impl Watch {
    /// Looks once, and tells what is new.
    fn glance(&mut self, studio: &Studio) {
        let files = studio.files();
        let mut show_changed = false;
        for Watched { file, is_look, read } in &files {
            let Some((before, now)) = self.change(file, &studio.folder.within(file)) else { continue };
            if *is_look {
                look_changed(studio, file);
            } else if before.as_ref().or(read.as_ref()).is_some_and(|before| *before != now) {
                show_changed = true;
            }
        }
        self.0.retain(|name, _| files.iter().any(|w| w.file == *name));
        if show_changed {
            let problems = studio.read_show_again().err().map(|failure| failure.words());
            studio.tell(&json!({ "kind": "show", "problems": problems }));
        }
    }

    /// The checksums before and now of a file that rests and has changed, or rests for the first time.
    fn change(&mut self, file: &str, path: &Path) -> Option<(Option<String>, String)> {
        let stamp = std::fs::metadata(path).ok().and_then(|m| Some((m.modified().ok()?, m.len())));
        let seen = self.0.entry(file.to_owned()).or_default();
        if seen.rested.as_ref().is_some_and(|(rested, _)| *rested == stamp) {
            seen.moving = None;
            return None;
        }
        if seen.moving.replace(stamp) != Some(stamp) {
            return None;
        }
        seen.moving = None;
        let now = disk::read_regular(path).map(|bytes| sha256(&bytes)).unwrap_or_default();
        let before = seen.rested.replace((stamp, now.clone())).map(|(_, before)| before);
        (before.as_ref() != Some(&now)).then_some((before, now))
    }
}

/// Tells the looks of this file what stands there now.
fn look_changed(studio: &Studio, file: &str) {
    for name in studio.looks_of(file) {
        let found = studio.with_look(&name, |look| {
            let found = look.look_at_disk(&studio.folder);
            Ok(found.map(|words| words.map(|words| (words, look.outside.is_some()))))
        });
        let (words, conflict) = match found {
            Ok(Ok(Some(news))) => news,
            Ok(Err(failure)) => (vec![failure.words()], false),
            // What it has already; or the look has gone meanwhile.
            Ok(Ok(None)) | Err(_) => continue,
        };
        studio.tell(&json!({ "kind": "outside", "name": name, "words": words, "conflict": conflict }));
    }
}

#[cfg(test)]
mod tests {
    use super::super::refusal::Refusal;
    use super::*;
    use crate::args::Pick;

    // A save that comes between the look at a file and the look's turn is not undone by what was there before.
    #[test]
    fn what_a_save_has_replaced_is_no_news() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("first.toml");
        let old = include_str!("../../templates/looks/first.toml");
        std::fs::write(&place, old).unwrap();
        let pick = Pick { look: None, camera: Some("slog3+sgamut3-cine".into()), display: Some("bt709".into()) };
        let studio = Studio::new(&place, &pick, None).unwrap();
        let name = studio.looks_of("first.toml").remove(0);
        std::thread::scope(|scope| {
            let saved = studio.with_look(&name, |look| {
                scope.spawn(|| look_changed(&studio, "first.toml"));
                // Long enough for a text that is read without the turn to be the old one.
                std::thread::sleep(Duration::from_millis(200));
                let new = look.to_save("a note").map_err(Refusal::bad)?;
                disk::replace(&look.place, disk::Expected::Text(old), &new)?;
                look.saved_as(new, "a note", &studio.folder);
                Ok(())
            });
            assert!(saved.is_ok());
        });
        let past = serde_json::to_value(studio.look(&name).unwrap().past()).unwrap();
        assert_eq!(past["entries"][0]["saved"]["revision"], 2, "{past}");
    }
}
