//! `preview`

use crate::args::Preview as Args;
use crate::disk;
use crate::failure::Failure;
use crate::preview::{Options, Preview};
use crate::{output, picture};
use std::process::{Command, Stdio};

pub(crate) fn run(args: &Args) -> Result<(), Failure> {
    let options = Options {
        file: &args.of.file,
        pick: &args.of.pick,
        port: args.port,
        frames: picture::stills(&args.of.file, &args.frame),
        token_file: args.token_file.as_deref(),
        page_from: args.page_from.clone(),
    };
    let preview = Preview::new(options)?;
    let at_the_end = preview.at_the_end();
    disk::when_interrupted(move || {
        at_the_end().iter().for_each(|line| eprintln!("rushlight: {line}"));
        0
    });
    let address = preview.address();
    output::print(&format!(
        "{}\n{address}\nFor this machine alone; the address is the key. Ctrl-C ends it.\nThe monitor is the judge, not \
         the browser.\n",
        preview.title()
    ))?;
    if !args.no_open {
        open(&address);
    }
    preview.run()
}

/// Opens the page in the user's browser, where there is one.
fn open(address: &str) {
    let program = match std::env::consts::OS {
        "macos" => "open",
        "windows" => "explorer",
        _ => "xdg-open",
    };
    // The address has been printed: who has no browser here copies it.
    let _ = Command::new(program).arg(address).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).spawn();
}
