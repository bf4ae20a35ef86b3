//! `measure --white`: the white of the light on a grey card, for the camera of a show.

use super::bracket::{frames, given};
use crate::args::Measure;
use crate::commands::claims::load;
use crate::commands::show_edit::{Edited, Note, ShowEdit};
use crate::disk::read_bytes;
use crate::failure::Failure;
use crate::output;
use rushlight::files::sha256;
use rushlight::measure::MeasureError;
use rushlight::measure::report::{Report, WhiteFound};
use rushlight::measure::white::{White, white};
use rushlight::message::unknown;
use std::path::Path;
use toml_edit::{InlineTable, Value, value};

/// Measures the white of one frame, and writes it where that is asked for.
pub(super) fn run(args: &Measure, frame: &Path) -> Result<(), Failure> {
    let (Some(path), Some(name), Some(text)) = (args.show.as_deref(), args.camera.as_deref(), args.patch.as_deref())
    else {
        return Err(Failure::new("--white needs --show, --camera and --patch"));
    };
    let show = load(path)?;
    let names = show.cameras().keys().map(String::as_str);
    let entry = show
        .cameras()
        .get(name)
        .ok_or_else(|| Failure::new(format!("--camera: {}", unknown("camera", name, names))))?;
    let camera = &entry.item;
    let hash = sha256(&read_bytes(frame)?);
    let picture = frames(frame, args, 1)?.remove(0);
    let patch = given("--patch", text, [picture.width(), picture.height()])?;
    let fail = |e: MeasureError| Failure::new(format!("{}: {e}", frame.display()));
    let clip = args.ei.and_then(|ei| camera.rating(ei)).and_then(|r| r.clip);
    let found = white(camera, clip, &patch.of(&picture).map_err(fail)?).map_err(fail)?;
    let written = if args.write { Some(edited(args, path, name, &found, (frame, &hash))?) } else { None };
    if let Some((edited, _)) = &written {
        edited.write()?;
    }
    if args.json {
        let found = WhiteFound::new(&frame.display().to_string(), &hash, &found);
        let snr = (args.snr, super::report::usable(args.snr));
        let report = Report::new(snr, Vec::new(), (&[], &[], &[]), None, Default::default());
        return output::print_json(&report.with_white(found));
    }
    let [red, blue] = found.cast;
    let mut said = format!(
        "White of the light: {:.0} K, tint {:+.1} thousandths of Duv (x {:.4}, y {:.4})\n",
        found.kelvin, found.tint, found.xy.x, found.xy.y
    );
    let mut field = |name: &str, text: &str| crate::commands::chart::field(&mut said, name, text);
    field(
        "cast",
        &format!("{red:+.2} stops in red and {blue:+.2} in blue against green, in the camera's own channels"),
    );
    field("show", &format!("white = {}", stated(&found)));
    field(
        "note",
        "these are not the kelvin of the camera's menu. They are the true kelvin only if the camera shows daylight of 6504 K (D65) as grey",
    );
    if let Some((_, before)) = written {
        said += &format!("\nwhite written to {}\n  was: {before}\n", path.display());
    }
    output::print(&said)
}

/// A white as a show states it: whole kelvin, and a tenth of a thousandth of Duv.
fn stated(white: &White) -> InlineTable {
    let mut table = InlineTable::new();
    table.insert("kelvin", Value::from(white.kelvin.round() as i64));
    table.insert("tint", Value::from((white.tint * 10.0).round() / 10.0));
    table.fmt();
    table
}

/// The changed show, and what stood there.
fn edited<'a>(
    args: &Measure,
    path: &'a Path,
    camera: &str,
    white: &White,
    (frame, sha256): (&Path, &str),
) -> Result<(Edited<'a>, String), Failure> {
    let mut edit = ShowEdit::open(path, "the white")?;
    let apart =
        edit.fail(&format!("the white of cameras.{camera} is a table of its own: write it as white = {{ ... }} first"));
    let table = edit.camera(camera)?;
    let mut new = Value::InlineTable(stated(white));
    let before = match table.get_mut("white") {
        Some(item) => {
            let old = item.as_value_mut().ok_or(apart)?;
            let before = old.to_string().trim().to_owned();
            *new.decor_mut() = old.decor().clone();
            *old = new;
            before
        }
        None => {
            table.insert("white", value(new));
            "none: the camera balanced the light itself".to_owned()
        }
    };
    edit.note(camera, &Note { what: "white".to_owned(), date: args.date.as_deref(), frames: vec![(frame, sha256)] })?;
    Ok((edit.finish()?, before))
}
