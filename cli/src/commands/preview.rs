//! `preview`

use crate::args::{Live, Preview as Args};
use crate::disk::{self, Passing};
use crate::failure::Failure;
use crate::ffmpeg::Source;
use crate::preview::{LiveSettings, Options, Preview};
use crate::{output, picture, system};
use rushlight::frame::Limits;
use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

pub(crate) fn run(args: &Args) -> Result<(), Failure> {
    let limits = args.memory.limits();
    // What is kept of a live picture and all other frames share what they may take.
    let share = Limits { memory: limits.memory / 2 };
    let live = live(&args.live, &args.of.file, share)?;
    let options = Options {
        file: &args.of.file,
        pick: &args.of.pick,
        port: args.port,
        frames: picture::stills(&args.of.file, &args.frame),
        limits: if live.is_some() { share } else { limits },
        live,
        token_file: args.token_file.as_deref(),
        page_from: args.page_from.clone(),
        shot: args.shot.as_deref(),
        out: args.out.clone(),
    };
    let preview = Preview::new(options)?;
    let at_the_end = preview.at_the_end();
    disk::when_interrupted(move || {
        at_the_end().iter().for_each(|line| output::say(&format!("rushlight: {line}")));
        0
    });
    let address = preview.address();
    output::print(&format!(
        "{}\n{address}\nOnly this machine can open the page. Do not show the address to others. Ctrl-C ends it.\nThe monitor is the judge, not \
         the browser.\n",
        preview.title()
    ))?;
    if !args.no_open {
        let visited = preview.visited();
        // The address has been printed: who has no browser here, or no room for a file, copies it.
        std::thread::spawn(move || open(&address, &visited));
    }
    // Beside the page: it follows many lights through every shot.
    let warnings = preview.order_warnings();
    std::thread::spawn(move || output::warn(&warnings()));
    preview.run()
}

/// The live picture that is asked for, if one is.
fn live(args: &Live, document: &Path, share: Limits) -> Result<Option<LiveSettings>, Failure> {
    let Some(input) = &args.input else { return Ok(None) };
    let source = Source::new(input, args.live_format.as_deref(), &args.live_option, args.live_width.into())?;
    if let Some(warning) = source.warning() {
        output::note(&warning);
    }
    let grabs = args.grabs.clone().unwrap_or_else(|| document.parent().unwrap_or(Path::new("")).join("grabs"));
    Ok(Some(LiveSettings { source, memory: share.memory, grabs }))
}

/// How long a browser may take to open the page.
const PATIENCE: Duration = Duration::from_secs(60);

/// Opens the page in the user's browser, where there is one: by way of a file that only this user can read and that leads
/// there. The arguments of a program can be read by everybody on this machine, and the address is the key.
fn open(address: &str, visited: &AtomicBool) {
    let Ok(mut door) = Passing::new("open", ".html") else { return };
    let page = format!(
        "<!doctype html><meta charset=\"utf-8\"><meta name=\"referrer\" content=\"no-referrer\">\
         <meta http-equiv=\"refresh\" content=\"0; url={address}\"><title>Rushlight</title>"
    );
    if door.write_all(page.as_bytes()).and_then(|()| door.flush()).is_err() {
        return;
    }
    let mut command = Command::new(system::opener());
    command.arg(door.path()).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    let Ok(mut opener) = command.spawn() else { return };
    let by = Instant::now() + PATIENCE;
    while !visited.load(Ordering::Relaxed) && Instant::now() < by {
        std::thread::sleep(Duration::from_millis(100));
    }
    drop(door);
    // It may be the browser itself, which ends when the user ends it.
    let _ = opener.wait();
}
