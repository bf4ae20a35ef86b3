//! Writes the gamut or the matrix into a show document; comments and layout stay.

use super::Found;
use crate::args::Chart as Args;
use crate::commands::show_edit::{Edited, Note, ShowEdit};
use crate::failure::Failure;
use rushlight::camera::LightMatrix;
use rushlight::chart::fit;
use rushlight::chart::measure::Colours;
use rushlight::chromaticity::Xy;
use rushlight::gamut::Gamut;
use std::path::Path;
use toml_edit::{Array, InlineTable, Item, Value};

/// A fit that leaves less by no more than this, in the mean, is no better: the gamut of a show is stated to five decimals.
const BETTER: f64 = 0.02;

/// A show with a camera's colours in it.
pub(super) struct Written<'a> {
    pub(super) show: Edited<'a>,
    /// The key that was written: gamut or matrix.
    pub(super) key: &'static str,
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

/// Three rows as a show states them: six decimals.
pub(super) fn rows(matrix: &LightMatrix) -> Array {
    let row = |r: usize| -> Array { (0..3).map(|c| (matrix.to_xyz()[(r, c)] * 1e6).round() / 1e6).collect() };
    (0..3).map(|r| Value::Array(row(r))).collect()
}

/// The show's text with the fitted gamut or matrix in it.
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
    let said = words(found, &found.colours, found.between.as_ref().map(|b| b.0));
    let mut edit = ShowEdit::open(path, if args.matrix { "the matrix" } else { "the gamut" })?;
    let (key, before, after) = if args.matrix {
        let (before, after) = put_matrix(args, found, &mut edit, camera)?;
        ("matrix", before, after)
    } else {
        let (before, after) = put_gamut(found, &said, &mut edit, camera)?;
        ("gamut", before, after)
    };
    let reads = found.reads.iter().map(|r| (Path::new(&r.shot.name), r.sha256.as_str()));
    let note = Note { what: "colours".to_owned(), date: args.date.as_deref(), frames: reads.collect() };
    edit.note(camera, &note)?;
    Ok(Written { show: edit.finish()?, key, before, after })
}

/// What was fitted to what, and by which frames.
fn words(found: &Found, colours: &Colours, at: Option<f64>) -> String {
    let frames: Vec<String> = found
        .reads
        .iter()
        .filter(|r| colours.frames.iter().any(|f| f.name == r.shot.name))
        .map(|r| {
            let name = Path::new(&r.shot.name).file_name().map(|n| n.to_string_lossy().into_owned());
            format!("{} (SHA-256 {}...)", name.unwrap_or_default(), r.sha256.get(..12).unwrap_or_default())
        })
        .collect();
    let mut lights: Vec<&str> = colours.frames.iter().map(|f| f.light.as_str()).collect();
    lights.dedup();
    let at = at.map(|kelvin| format!(" for {kelvin} K")).unwrap_or_default();
    let said = format!(
        "fitted to {}{at} in {}, leaves CIEDE2000 {:.1} in the mean; by {}",
        found.target,
        lights.join(" and "),
        colours.after.mean,
        frames.join(", ")
    );
    // Line ends do not belong into a comment.
    said.replace(['\n', '\r'], " ")
}

/// Puts the gamut in the place of the old one; a matrix that stood there goes.
fn put_gamut(found: &Found, said: &str, edit: &mut ShowEdit<'_>, camera: &str) -> Result<(String, String), Failure> {
    let between = found.between.as_ref().map(|(_, matrix)| fit::gamut(matrix.to_xyz()).ok());
    let gamut = between.unwrap_or(found.colours.gamut).ok_or_else(|| {
        Failure::new(
            "--write: no primaries can state this matrix: give --matrix, and --date YYYY-MM-DD; nothing is written",
        )
    })?;
    let mut new = Value::InlineTable(stated(&gamut));
    let after = new.to_string();
    let apart =
        edit.fail(&format!("the gamut of cameras.{camera} is a table of its own: write it as gamut = {{ ... }} first"));
    let table = edit.camera(camera)?;
    let matrix = table.remove("matrix").map(|old| old.to_string().trim().to_owned());
    if matrix.is_some() {
        table.remove("kelvin");
        new.decor_mut().set_suffix(format!(" # {said}"));
        table.insert("gamut", Item::Value(new));
        return Ok((matrix.unwrap_or_default(), after));
    }
    let old = table.get_mut("gamut").and_then(Item::as_value_mut).ok_or(apart)?;
    let before = old.to_string().trim().to_owned();
    // A comment that stood beside the old gamut stays, after the new one's.
    let beside =
        old.decor().suffix().and_then(|s| s.as_str()).and_then(|s| s.split_once('#')).map(|(_, s)| s.trim().to_owned());
    let beside = beside.filter(|b| !b.is_empty()).map(|b| format!("; before: {b}")).unwrap_or_default();
    let prefix = old.decor().prefix().and_then(|p| p.as_str()).unwrap_or(" ").to_owned();
    new.decor_mut().set_prefix(prefix);
    new.decor_mut().set_suffix(format!(" # {said}{}", beside.replace(['\n', '\r'], " ")));
    *old = new;
    Ok((before, after))
}

/// Puts one matrix or two in the place of the gamut.
fn put_matrix(args: &Args, found: &Found, edit: &mut ShowEdit<'_>, camera: &str) -> Result<(String, String), Failure> {
    let lights = &found.by_light;
    if lights.len() > 2 {
        return Err(Failure::new(format!("--matrix: {} lights: one or two can be written", lights.len())));
    }
    if lights.len() == 2 && args.kelvin.is_none() {
        return Err(Failure::new("--matrix: frames in two lights need --kelvin, the light of the set between them"));
    }
    let mut list = Array::new();
    for (light, colours) in lights {
        let matrix = LightMatrix::new(colours.matrix).map_err(Failure::refused)?;
        let source = words(found, colours, None);
        let mut table = InlineTable::new();
        table.insert("to_xyz", Value::Array(rows(&matrix)));
        table.insert("illuminant", Value::from(light.name.replace(',', ";")));
        table.insert("kelvin", Value::from(light.kelvin.round() as i64));
        table.insert("source", Value::from(source));
        table.insert("date", Value::from(args.date.as_deref().unwrap_or_default()));
        table.fmt();
        let mut table = Value::InlineTable(table);
        table.decor_mut().set_prefix("\n    ");
        list.push_formatted(table);
    }
    list.set_trailing("\n");
    list.set_trailing_comma(true);
    let after = list.to_string();
    let table = edit.camera(camera)?;
    let old = [table.remove("gamut"), table.remove("matrix")];
    let before = old.into_iter().flatten().map(|old| old.to_string().trim().to_owned()).collect::<Vec<_>>().join(" ");
    // A matrix leads to XYZ under D65, so the adaptation of a gamut's white does not apply to it.
    table.remove("adaptation");
    table.insert("matrix", Item::Value(Value::Array(list)));
    table.remove("kelvin");
    if let Some(kelvin) = args.kelvin {
        // A whole number as people write it.
        let whole = if kelvin.fract() == 0.0 { Value::from(kelvin as i64) } else { Value::from(kelvin) };
        table.insert("kelvin", Item::Value(whole));
    }
    Ok((before, after))
}
