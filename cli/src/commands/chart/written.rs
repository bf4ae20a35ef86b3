//! The gamut back into a show document, whose comments and layout stay.

use super::Found;
use crate::args::Chart as Args;
use crate::commands::show_edit::{Edited, ShowEdit};
use crate::failure::Failure;
use rushlight::chromaticity::Xy;
use rushlight::gamut::Gamut;
use toml_edit::{Array, InlineTable, Item, Value};

/// A fit that leaves less by no more than this, in the mean, is no better: the gamut of a show is stated to five decimals.
const BETTER: f64 = 0.02;

/// A show with a camera's gamut in it.
pub(super) struct Written<'a> {
    pub(super) show: Edited<'a>,
    /// The gamut before and after, as they stand in the document.
    pub(super) before: String,
    pub(super) after: String,
}

/// A gamut as a show states it: five decimals, finer than any chart.
pub(super) fn stated(gamut: &Gamut) -> InlineTable {
    let pair = |xy: Xy| {
        let mut pair = Array::new();
        for v in [xy.x, xy.y] {
            pair.push((v * 1e5).round() / 1e5);
        }
        Value::Array(pair)
    };
    let mut table = InlineTable::new();
    for (key, xy) in ["red", "green", "blue"].into_iter().zip(gamut.primaries) {
        table.insert(key, pair(xy));
    }
    table.insert("white", pair(gamut.white));
    table.fmt();
    table
}

/// The show's text with the fitted gamut in it.
pub(super) fn edited<'a>(args: &'a Args, found: &Found, most: f64) -> Result<Written<'a>, Failure> {
    let (Some(path), Some(camera)) = (args.show.as_deref(), args.camera.as_deref()) else {
        return Err(Failure::new("--write needs --show and --camera"));
    };
    let after = &found.colours.after;
    let no = |why: String| {
        Failure::new(format!("--write: {why}; nothing is written. If it is right all the same, give --accept"))
    };
    if !args.accept && after.mean > most {
        return Err(no(format!("the matrix leaves {:.1} in the mean, which is more than {most}", after.mean)));
    }
    if let Some(before) = found.colours.before.as_ref().filter(|b| !args.accept && b.mean <= after.mean + BETTER) {
        return Err(no(format!(
            "the gamut of the show leaves {:.2} in the mean, the fitted one {:.2}",
            before.mean, after.mean
        )));
    }
    let gamut = found.between.as_ref().map_or(&found.colours.gamut, |b| &b.1);
    let mut new = Value::InlineTable(stated(gamut));
    let frames: Vec<String> = found
        .reads
        .iter()
        .map(|r| {
            let name = std::path::Path::new(&r.shot.name).file_name().map(|n| n.to_string_lossy().into_owned());
            format!("{} (SHA-256 {}...)", name.unwrap_or_default(), r.sha256.get(..12).unwrap_or_default())
        })
        .collect();
    let mut lights: Vec<&str> = found.colours.frames.iter().map(|f| f.light.as_str()).collect();
    lights.dedup();
    let at = found.between.as_ref().map(|(kelvin, _)| format!(" for {kelvin} K")).unwrap_or_default();
    let said = format!(
        "# fitted to {}{at} in {}, leaves CIEDE2000 {:.1} in the mean; by {}",
        found.target,
        lights.join(" and "),
        after.mean,
        frames.join(", ")
    );
    let mut edit = ShowEdit::open(path, "the gamut")?;
    let apart =
        edit.fail(&format!("the gamut of cameras.{camera} is a table of its own: write it as gamut = {{ ... }} first"));
    let old = edit.camera(camera)?.get_mut("gamut").and_then(Item::as_value_mut).ok_or(apart)?;
    let before = old.to_string().trim().to_owned();
    // A comment that stood beside the old gamut stays, after the new one's.
    let beside =
        old.decor().suffix().and_then(|s| s.as_str()).and_then(|s| s.split_once('#')).map(|(_, s)| s.trim().to_owned());
    let beside = beside.filter(|b| !b.is_empty()).map(|b| format!("; before: {b}")).unwrap_or_default();
    let prefix = old.decor().prefix().and_then(|p| p.as_str()).unwrap_or(" ").to_owned();
    let after = new.to_string();
    new.decor_mut().set_prefix(prefix);
    // Line ends do not belong into a comment.
    new.decor_mut().set_suffix(format!(" {}{}", said.replace(['\n', '\r'], " "), beside.replace(['\n', '\r'], " ")));
    *old = new;
    Ok(Written { show: edit.finish()?, before, after })
}
