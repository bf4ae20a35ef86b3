//! What ffprobe says of a clip.

use super::program::{self, Ended, Program};
use super::{Stream, Trouble, command, last};
use crate::disk;
use crate::failure::Failure;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::Path;
use std::process::{ChildStdout, Command, Stdio};
use std::time::Duration;

/// The most bytes of ffprobe's output on a clip.
const MOST_PROBED: usize = 1 << 20;

#[derive(Debug, Deserialize)]
struct Probe {
    #[serde(default)]
    streams: Vec<serde_json::Value>,
    #[serde(default)]
    format: Container,
}

#[derive(Debug, Default, Deserialize)]
pub(super) struct Container {
    pub(super) start_time: Option<String>,
    pub(super) duration: Option<String>,
    #[serde(default)]
    pub(super) tags: BTreeMap<String, String>,
}

/// A tag by its name, which some containers write in capitals.
pub(super) fn tag<'t>(tags: &'t BTreeMap<String, String>, name: &str) -> Option<&'t String> {
    tags.iter().find(|(key, _)| key.eq_ignore_ascii_case(name)).map(|(_, value)| value)
}

/// What ffprobe says of a clip.
pub(super) struct Probed {
    pub(super) stream: Stream,
    pub(super) container: Container,
    pub(super) reel: Option<String>,
    /// Bytes of its file.
    pub(super) bytes: u64,
}

/// What is asked of a picture.
fn question(command: &mut Command) {
    // Of all streams: the reel stands with the timecode, which is a stream of its own in some files.
    command.args(["-of", "json", "-show_entries"]).arg(
        "stream=codec_type,width,height,pix_fmt,color_range,color_space,r_frame_rate,avg_frame_rate,sample_aspect_ratio,\
         field_order,start_time,duration,nb_frames:stream_tags=timecode,reel_name:format=start_time,duration:format_tags=timecode,reel_name,comment",
    );
}

pub(super) fn probe(path: &Path, time: Duration) -> Result<Probed, Trouble> {
    // Before the program opens it, which would wait at a pipe.
    let bytes = disk::open(path).map_err(Trouble::Clip)?.1.len();
    let mut command = command::ffprobe();
    command::reading(&mut command, path);
    question(&mut command);
    Ok(Probed { bytes, ..understood(&program::run(&mut command, time, MOST_PROBED)?)? })
}

/// The same of a live picture: `start` begins the program, `input` says what it reads.
pub(super) fn probe_live(
    input: impl FnOnce(&mut Command),
    start: impl FnOnce(&mut Command) -> Result<(Program, Option<ChildStdout>), Failure>,
    time: Duration,
) -> Result<Probed, Trouble> {
    let mut command = command::ffprobe();
    input(&mut command);
    question(&mut command);
    command.stdout(Stdio::piped());
    let (program, stdout) = start(&mut command).map_err(|failure| Trouble::Program(failure.words()))?;
    understood(&program::to_end(program, stdout.expect("it is piped"), "ffprobe", time, MOST_PROBED)?)
}

fn understood(Ended { good, sent, said }: &Ended) -> Result<Probed, Trouble> {
    if !good {
        return Err(Trouble::NoClip(last(said)));
    }
    let probe: Probe = serde_json::from_slice(sent).map_err(|e| Trouble::NoClip(format!("ffprobe: {e}")))?;
    let Probe { streams, format: container } = probe;
    let of_stream = |stream: &serde_json::Value| {
        let tags: BTreeMap<String, String> = serde_json::from_value(stream.get("tags")?.clone()).ok()?;
        tag(&tags, "reel_name").cloned()
    };
    let reel = streams.iter().find_map(of_stream).or_else(|| tag(&container.tags, "reel_name").cloned());
    let reel = reel.filter(|reel| !reel.trim().is_empty());
    let video = streams.into_iter().find(|stream| stream["codec_type"] == "video");
    let video = video.ok_or_else(|| Trouble::Clip("it has no video".to_owned()))?;
    let stream = serde_json::from_value(video).map_err(|e| Trouble::NoClip(format!("ffprobe: {e}")))?;
    Ok(Probed { stream, container, reel, bytes: 0 })
}
