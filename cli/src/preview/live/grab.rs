//! A still of the live picture: the signal as it came, and the same through the look beside it.

use super::super::refusal::Refusal;
use super::super::server::Server;
use super::super::studio::{self, Wanted};
use super::{Live, Taken};
use crate::disk::{self, Batch};
use rushlight::apply::{Transform, tags};
use rushlight::frame::{self, Depth, Format, Frame, FrameError, Tags};
use rushlight::look::GENERATION;
use rushlight::slate::{self, Slate};
use serde_json::{Value as Json, json};
use std::path::Path;

/// How the files of a still end.
const ENDS: [&str; 2] = ["log.tif", "graded.tif"];
/// Stills in a folder.
const MOST: u32 = 9999;

/// A number that no still in a folder has.
fn free(folder: &Path) -> Result<u32, Refusal> {
    let taken = disk::names(folder).into_iter().filter_map(|name| {
        let number = name.strip_prefix("grab-")?.split('-').next()?.parse::<u32>();
        number.ok()
    });
    let number = taken.max().unwrap_or(0) + 1;
    if number > MOST {
        return Err(Refusal::bad(format!("{} has {MOST} stills: name another folder with --grabs", folder.display())));
    }
    Ok(number)
}

fn written(mut frame: Frame, tags: Tags, slate: &str) -> Result<Vec<u8>, FrameError> {
    frame.info.tags = tags;
    frame::describe(&mut frame.info, slate, |old| Slate::parse(old).is_some());
    frame::write(&frame, Format::Tiff, Depth::Integer(16))
}

impl Live {
    /// Writes a frame as two TIFF of 16 bits, and gives it to every page as one of its frames.
    pub(super) fn grab(&self, taken: &Taken, server: &Server, wanted: &Wanted) -> Result<Json, Refusal> {
        let fail = |e: FrameError| Refusal::bad(format!("the still: {e}"));
        let show = server.studio.show();
        let camera = studio::camera(&show, &wanted.camera)?;
        let display = studio::display(&show, &wanted.display)?;
        let way = server.studio.path(wanted)?;
        let log = taken.signal(Format::Tiff).map_err(fail)?;
        let mut graded = log.clone();
        Transform::exact((*way.pipeline).clone()).frame(&mut graded);
        let source = format!("live picture: {}", self.source.name());
        let of_camera = format!("camera: {} ({})", camera.label, camera.id);
        let mut lines = vec![slate::made(), format!("show: {}", show.title()), source];
        let of_log = [lines.clone(), vec![of_camera.clone(), "samples: camera signal".to_owned()]].concat().join("\n");
        let look = server.studio.look(&wanted.look)?;
        let edited = if look.is_unsaved() { ", with changes that were not saved" } else { "" };
        lines.extend([format!(
            "look: {}, revision {}, picture of generation {GENERATION}{edited}",
            way.look.title(),
            way.look.revision()
        )]);
        lines.extend(wanted.shot.iter().map(|shot| format!("shot: {}, {}", shot.shot, shot.numbers)));
        lines.extend([of_camera, format!("display: {} ({})", display.label, display.id)]);
        let of_graded = slate::of_signal(lines, Some(&display.item)).join("\n");
        let [as_log, as_graded] = [
            written(log.clone(), Tags::default(), &of_log).map_err(fail)?,
            written(graded, tags::tags(&display.item), &of_graded).map_err(fail)?,
        ];
        // One after the other, so that two stills never have one number.
        let mut batch = Batch::new(&self.grabs)?;
        let number = free(&self.grabs)?;
        let names = ENDS.map(|end| format!("grab-{number:04}-{end}"));
        batch.add(&names[0], as_log)?;
        batch.add(&names[1], as_graded)?;
        batch.finish()?;
        let frame = server.frames.take_signal(names[0].clone(), log);
        let folder = self.grabs.display().to_string();
        Ok(json!({ "folder": folder, "files": names, "number": taken.number, "frame": frame }))
    }
}
