//! `chain display`

use super::size;
use crate::args::ChainDisplay as Args;
use crate::disk;
use crate::failure::Failure;
use crate::output;
use rushlight::chain::screen::{READINGS, screen};
use rushlight::frame::{self, Depth, Format};
use std::fmt::Write as _;

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    let [width, height] = size(&args.size)?;
    let extension = args.out.extension().and_then(|e| e.to_str()).unwrap_or_default();
    let (format, depth) = match Format::from_extension(extension) {
        Some(format @ (Format::Png | Format::Tiff)) => (format, Depth::Integer(16)),
        Some(Format::Dpx) => (Format::Dpx, Depth::Integer(10)),
        _ => {
            let path = args.out.display();
            return Err(Failure::new(format!("--out: {path}: the name must end in .png, .tif or .dpx")));
        }
    };
    let chart = screen(usize::from(width), usize::from(height)).map_err(|why| Failure::new(why.message))?;
    let bytes = frame::write(&chart, format, depth).map_err(|e| Failure::new(format!("cannot draw the chart: {e}")))?;
    disk::write(&args.out, bytes)?;
    let mut text = format!("Display chart, {width} x {height} pixels: {}\n\n", args.out.display());
    text += "Send it to the monitor without a cube, in a dark room. You see\n\n";
    for (seen, meaning) in READINGS {
        let _ = writeln!(text, "  {seen}:");
        output::wrap(meaning, output::COLUMNS - 4).iter().for_each(|line| {
            let _ = writeln!(text, "    {line}");
        });
    }
    let gamma = "Gamma: step back until you no longer see the lines; the patch that is as bright as its frame names the gamma. It \
                 holds only where the monitor neither scales nor sharpens.";
    let _ = writeln!(text, "\n{}", output::wrap(gamma, output::COLUMNS).join("\n"));
    output::print(&text)
}
