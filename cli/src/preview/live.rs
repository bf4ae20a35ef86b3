//! The live picture: frames as they come, the newest for every page, and the last seconds of them for looking back.
//!
//! One thread reads whatever the pages do, so that nothing waits for them: a page that is slow is given the newest frame, and
//! counts those that it was not given. What is kept has a bound in bytes and in seconds.

mod grab;
mod routes;

pub(super) use routes::{of, routes};

use super::refusal::Refusal;
use super::steady;
use crate::ffmpeg::{Clip, Feed, Source};
use crate::output;
use axum::body::Bytes;
use axum::http::StatusCode;
use rayon::prelude::*;
use rushlight::cube::fast::FastCube;
use rushlight::frame::{Depth, Format, Frame, FrameError, Info, Limits};
use serde_json::{Value as Json, json};
use std::collections::VecDeque;
use std::ops::ControlFlow;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};
use tokio::sync::{Semaphore, watch};

/// What the live picture is called among the frames of a page.
pub(super) const ID: &str = "live";
/// Seconds of frames that are kept, where their bytes allow it.
const LONGEST: Duration = Duration::from_secs(10);
/// A source that is away is opened again no sooner.
const AGAIN: Duration = Duration::from_secs(1);
/// A source that gave no frame for so long is said to be silent.
const SILENT: Duration = Duration::from_secs(1);
/// Over so long the rate is counted.
const COUNTED: Duration = Duration::from_secs(2);
/// What is held for a page that looks back is let go when the page has not asked for so long.
const HOLDS: Duration = Duration::from_secs(6);

/// Pictures that may be on their way to pages at once: each is held until the page has taken it.
const MOST_SENT: usize = 6;

/// What a live picture is started with.
pub(crate) struct Settings {
    pub(crate) source: Source,
    /// What the frames that are kept may take.
    pub(crate) memory: usize,
    /// Where stills go.
    pub(crate) grabs: PathBuf,
}

/// A frame as it came.
pub(super) struct Taken {
    /// Counts from 1 on.
    number: u64,
    at: SystemTime,
    since: Instant,
    raw: Vec<u8>,
    clip: Arc<Clip>,
}

#[derive(Debug, Clone, PartialEq)]
enum State {
    /// Nothing has come yet.
    Opening,
    Running,
    /// It gave nothing, or gives nothing any more: why.
    Away(String),
    /// It is at its end, and does not come back.
    Ended(String),
}

struct Inner {
    state: State,
    /// The newest is the last.
    kept: VecDeque<Arc<Taken>>,
    newest: Option<Arc<Taken>>,
    /// Frames that came.
    count: u64,
    /// When the last of them came.
    came: VecDeque<Instant>,
    /// How often the source went away.
    breaks: u64,
    /// Until then nothing of what is kept goes, and nothing comes to it.
    held: Option<Instant>,
    /// The bytes of a frame that went, for the next one: new memory for each takes longer than the frame.
    spare: Option<Vec<u8>>,
}

pub(super) struct Live {
    source: Source,
    limits: Limits,
    memory: usize,
    grabs: PathBuf,
    inner: Mutex<Inner>,
    /// The number of the newest frame.
    number: watch::Sender<u64>,
    /// The newest picture that was made for a page, with its number.
    shown: Mutex<Option<(u64, Bytes)>>,
    /// One picture at a time is made.
    turns: Arc<Semaphore>,
    /// Pictures on their way to pages.
    sending: Arc<Semaphore>,
}

/// A sample in 16 bits: what lies beyond the signal, as some colours of luma and chroma do, goes to its end.
fn code(signal: f32) -> u16 {
    (signal.clamp(0.0, 1.0) * 65535.0 + 0.5) as u16
}

impl Taken {
    fn size(&self) -> [usize; 2] {
        [self.clip.width, self.clip.height]
    }

    /// Milliseconds since 1970 (UTC) when it came.
    fn millis(&self) -> f64 {
        self.at.duration_since(UNIX_EPOCH).unwrap_or_default().as_secs_f64() * 1e3
    }

    /// The signal as a frame: what the page was given, and a still of the log signal holds.
    pub(super) fn signal(&self, format: Format) -> Result<Frame, FrameError> {
        let [width, height] = self.size();
        let mut samples = self.clip.layout.planes.samples(&self.raw, width * height);
        samples.iter_mut().for_each(|v| *v = f32::from(code(*v)) / 65535.0);
        Frame::new(width, height, false, samples, Info::new(format, Depth::Integer(16)))
    }

    /// The signal as u16 RGB, little end first.
    fn picture(&self) -> Bytes {
        let [width, height] = self.size();
        let samples = self.clip.layout.planes.samples(&self.raw, width * height);
        let mut bytes = vec![0; samples.len() * 2];
        let row = width * 3;
        bytes.par_chunks_mut(row * 2).zip(samples.par_chunks(row)).for_each(|(to, from)| {
            for (to, from) in to.as_chunks_mut::<2>().0.iter_mut().zip(from) {
                *to = code(*from).to_le_bytes();
            }
        });
        bytes.into()
    }

    /// Its colours by a cube as a page would draw them, RGBA of 8 bits; the signal itself in so many columns from the left.
    fn coloured(&self, cube: &FastCube, left: usize) -> Vec<u8> {
        let [width, height] = self.size();
        let mut samples = self.clip.layout.planes.samples(&self.raw, width * height);
        let mut shown = vec![255; width * height * 4];
        let left = left.min(width);
        shown.par_chunks_mut(width * 4).zip(samples.par_chunks_mut(width * 3)).for_each(|(to, row)| {
            // Whole pixels: there is nothing to refuse.
            let _ = cube.rgb_in_place(&mut row[left * 3..]);
            for (to, from) in to.as_chunks_mut::<4>().0.iter_mut().zip(row.as_chunks::<3>().0) {
                for (to, from) in to.iter_mut().zip(from) {
                    *to = (from.clamp(0.0, 1.0) * 255.0 + 0.5) as u8;
                }
            }
        });
        shown
    }
}

impl Inner {
    const fn new(state: State) -> Self {
        Self {
            state,
            kept: VecDeque::new(),
            newest: None,
            count: 0,
            came: VecDeque::new(),
            breaks: 0,
            held: None,
            spare: None,
        }
    }

    /// Takes a frame in.
    fn take(&mut self, taken: Taken, memory: usize) {
        let now = taken.since;
        self.came.push_back(now);
        while self.came.front().is_some_and(|first| now.duration_since(*first) > COUNTED) {
            self.came.pop_front();
        }
        self.count = taken.number;
        let taken = Arc::new(taken);
        self.newest = Some(taken.clone());
        if self.is_held(now) {
            return;
        }
        if self.held.take().is_some() {
            // Between these and what comes now there is a gap.
            self.kept.clear();
        }
        // Frames of another size are of another picture.
        if self.kept.back().is_some_and(|last| last.size() != taken.size()) {
            self.kept.clear();
        }
        self.kept.push_back(taken);
        let most = memory / self.kept.back().map_or(1, |taken| taken.raw.len().max(1));
        let old = |taken: &Arc<Taken>| now.duration_since(taken.since) > LONGEST;
        while self.kept.len() > most.max(1) || self.kept.front().is_some_and(old) {
            let gone = self.kept.pop_front();
            self.spare = gone.and_then(Arc::into_inner).map(|taken| taken.raw).or(self.spare.take());
        }
    }

    fn is_held(&self, now: Instant) -> bool {
        self.held.is_some_and(|until| now < until)
    }

    /// Frames a second that came of late.
    fn rate(&self, now: Instant) -> f64 {
        let of_late = self.came.iter().filter(|at| now.duration_since(**at) <= COUNTED);
        let (first, last) = (of_late.clone().next(), of_late.clone().next_back());
        let span = first.zip(last).map_or(0.0, |(first, last)| last.duration_since(*first).as_secs_f64());
        if span > 0.0 { (of_late.count() - 1) as f64 / span } else { 0.0 }
    }
}

impl Live {
    pub(super) fn new(settings: Settings, limits: Limits) -> Self {
        let Settings { source, memory, grabs } = settings;
        Self {
            source,
            limits,
            memory,
            grabs,
            inner: Mutex::new(Inner::new(State::Opening)),
            number: watch::channel(0).0,
            shown: Mutex::default(),
            turns: Arc::new(Semaphore::new(1)),
            sending: Arc::new(Semaphore::new(MOST_SENT)),
        }
    }

    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Reads from now on, and opens the source again whenever it was away.
    pub(super) fn start(self: &Arc<Self>) {
        let live = self.clone();
        let turn = move |feed: &mut Option<Feed>| live.turn(feed);
        steady::go_on("reading the live picture", None, turn, |_| {});
    }

    /// From one opening of the source to its end.
    fn turn(&self, feed: &mut Option<Feed>) -> ControlFlow<()> {
        let why = match self.source.open(feed, self.limits) {
            Err(why) => why,
            Ok(mut source) => {
                let clip = source.clip.clone();
                let size = clip.size(self.limits).unwrap_or_default();
                loop {
                    let spare = self.lock().spare.take().filter(|raw| raw.len() == size);
                    let mut raw = spare.unwrap_or_else(|| vec![0; size]);
                    if !source.next(&mut raw) {
                        break;
                    }
                    self.take(raw, &clip);
                }
                let (why, left) = source.end();
                *feed = left;
                why
            }
        };
        if self.source.ends() && feed.is_none() {
            self.change(State::Ended(why));
            return ControlFlow::Break(());
        }
        self.change(State::Away(why));
        std::thread::sleep(AGAIN);
        ControlFlow::Continue(())
    }

    fn take(&self, raw: Vec<u8>, clip: &Arc<Clip>) {
        let mut inner = self.lock();
        let number = inner.count + 1;
        let taken = Taken { number, at: SystemTime::now(), since: Instant::now(), raw, clip: clip.clone() };
        inner.take(taken, self.memory);
        drop(inner);
        if number == 1 {
            clip.notes.iter().for_each(|note| output::note(note));
        }
        self.change(State::Running);
        self.number.send_replace(number);
    }

    /// Takes a new state, and says on the terminal what is new of it.
    fn change(&self, state: State) {
        let mut inner = self.lock();
        if std::mem::discriminant(&inner.state) == std::mem::discriminant(&state) {
            inner.state = state;
            return;
        }
        let name = self.source.name();
        let words = match &state {
            State::Opening => None,
            State::Running if inner.breaks > 0 => Some(format!("the live picture of {name} is back")),
            State::Running => None,
            State::Away(why) => Some(format!("no live picture of {name}: {why}; it is opened again every second")),
            State::Ended(why) => Some(format!("the live picture of {name} has ended: {why}")),
        };
        inner.breaks += u64::from(state != State::Running);
        inner.state = state;
        drop(inner);
        if let Some(words) = words {
            output::say(&format!("rushlight: {words}"));
        }
    }

    /// How it is, for a page.
    pub(super) fn report(&self) -> Json {
        let (now, inner) = (Instant::now(), self.lock());
        let newest = inner.newest.as_ref();
        let silent = newest.map(|newest| now.duration_since(newest.since)).filter(|silent| *silent > SILENT);
        let (state, words) = match &inner.state {
            State::Opening => ("opening", String::new()),
            State::Running => match silent {
                Some(silent) => ("silent", format!("no frame for {:.0} s", silent.as_secs_f64())),
                None => ("running", String::new()),
            },
            State::Away(why) => ("away", why.clone()),
            State::Ended(why) => ("ended", why.clone()),
        };
        let ends = inner.kept.front().zip(inner.kept.back());
        json!({
            "name": self.source.name(), "state": state, "words": words, "warning": self.source.warning(),
            "count": inner.count, "breaks": inner.breaks, "rate": inner.rate(now),
            "stated": newest.and_then(|newest| newest.clip.rate()),
            "notes": newest.map(|newest| newest.clip.notes.clone()),
            "held": inner.is_held(now),
            "kept": ends.map(|(first, last)| json!({
                "first": first.number, "last": last.number,
                "seconds": last.since.duration_since(first.since).as_secs_f64(),
            })),
        })
    }

    /// As one of the frames of a page.
    pub(super) fn as_frame(&self) -> Json {
        let inner = self.lock();
        let [width, height] = inner.newest.as_ref().map_or([0, 0], |newest| newest.size());
        json!({
            "id": ID, "name": format!("Live: {}", self.source.name()), "width": width, "height": height,
            "reads_as": "log", "says": "live picture: taken for the signal of the camera, as recorded",
        })
    }

    /// A frame that came after `number`, as soon as there is one; none within so long.
    async fn after(&self, number: u64, within: Duration) -> Option<Arc<Taken>> {
        let mut numbers = self.number.subscribe();
        let newer = tokio::time::timeout(within, numbers.wait_for(|newest| *newest > number)).await;
        newer.ok()?.ok()?;
        self.lock().newest.clone()
    }

    /// A frame that is still kept; the newest where none is asked for.
    pub(super) fn kept(&self, number: Option<u64>) -> Result<Arc<Taken>, Refusal> {
        let inner = self.lock();
        let Some(number) = number else {
            return inner.newest.clone().ok_or_else(|| Refusal::not_found("there is no live frame yet"));
        };
        let newest = inner.newest.iter();
        let found = inner.kept.iter().chain(newest).find(|taken| taken.number == number);
        found.cloned().ok_or_else(|| Refusal::new(StatusCode::GONE, format!("frame {number} is not kept any more")))
    }

    /// Keeps what is kept, for a page that looks back, as long as it goes on to ask for that; or lets it go.
    fn hold(&self, on: bool) {
        let mut inner = self.lock();
        let now = Instant::now();
        // What is let go is cleared by the next frame, as is what was held too long.
        inner.held = if on { Some(now + HOLDS) } else { inner.held.map(|_| now) };
    }

    /// The picture of a frame, made once for all pages.
    fn picture(&self, taken: &Taken) -> Bytes {
        let mut shown = self.shown.lock().unwrap_or_else(PoisonError::into_inner);
        match &*shown {
            Some((number, bytes)) if *number == taken.number => bytes.clone(),
            _ => {
                let bytes = taken.picture();
                *shown = Some((taken.number, bytes.clone()));
                bytes
            }
        }
    }
}

#[cfg(test)]
mod tests;
