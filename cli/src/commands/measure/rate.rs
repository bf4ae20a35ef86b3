//! Writes ratings into a show document; comments and layout stay.

use super::Measured;
use crate::args::Measure;
use crate::commands::show_edit::{Edited, Note, ShowEdit};
use crate::failure::Failure;
use rushlight::camera::Rating;
use std::path::Path;
use toml_edit::{ArrayOfTables, InlineTable, Item, Table, TableLike, Value, value};

/// The rating of a bracket as a show has it, from the curve's mid-grey, and as exact as a bracket is: the signal to four
/// decimals, the floor to a tenth of a stop.
pub(super) fn rating(measured: &Measured) -> Option<Rating> {
    let round = |v: f64, by: f64| (v * by).round() / by;
    Some(Rating {
        ei: measured.ei?,
        clip: measured.measurement.clip().map(|c| round(c.signal, 1e4).min(1.0)),
        floor_stops: measured.measurement.rated_floor().map(|stops| round(stops, 10.0).clamp(-20.0, 0.0)),
    })
}

/// The show with the ratings in it.
pub(super) struct Rated<'a> {
    pub(super) show: Edited<'a>,
    /// Old and new values, a sentence each.
    pub(super) changes: Vec<String>,
}

/// Further than this off the show's curve, in stops, nothing is written.
const OFF: f64 = 0.5;

/// The reason why a bracket should not rate the camera.
fn doubt(measured: &Measured) -> Option<String> {
    let ei = measured.ei.map_or(String::new(), |ei| format!(" at EI {ei}"));
    let flattered = measured.noise.flattered.as_ref().map(|why| format!("the floor{ei} is flattered: {why}"));
    off_the_curve(measured).or(flattered)
}

/// That a bracket is too far off the curve of its camera, and what to check.
pub(super) fn off_the_curve(measured: &Measured) -> Option<String> {
    let m = &measured.measurement;
    let ei = measured.ei.map_or(String::new(), |ei| format!(" at EI {ei}"));
    let offset = m.channels.iter().map(|c| c.offset).fold(0.0, |a: f64, b| if b.abs() > a.abs() { b } else { a });
    if offset.abs() > OFF {
        let way = if offset > 0.0 { "over" } else { "under" };
        return Some(format!(
            "mid-grey of the meter{ei} lies {:.2} stops {way} mid-grey of the camera's curve: check the curve and the camera that you named, the patch, the meter, the lens, the shutter and the exposure index",
            offset.abs()
        ));
    }
    let worst = m.channels.iter().map(|c| c.worst).fold(0.0, |a: f64, b| if b.abs() > a.abs() { b } else { a });
    if worst.abs() > OFF {
        return Some(format!(
            "the bracket{ei} deviates from the camera's curve by {worst:+.2} stops: check the curve and the range of the camera"
        ));
    }
    None
}

/// The changes of a rating, in a sentence each.
fn changes(rating: &Rating, was: Option<&Rating>) -> Vec<String> {
    let floor = |stops: f64| format!("{stops:.1} stops");
    let one = |name: &str, was: Option<f64>, now: Option<f64>, said: &dyn Fn(f64) -> String| {
        let ei = rating.ei;
        Some(match (was, now) {
            (Some(was), Some(now)) => format!("EI {ei}: {name} was {}, is {}", said(was), said(now)),
            (None, Some(now)) => format!("EI {ei}: {name} was not there, is {}", said(now)),
            (Some(was), None) => format!("EI {ei}: {name} stays {}, which this bracket did not measure", said(was)),
            (None, None) => return None,
        })
    };
    let clip = one("clip", was.and_then(|r| r.clip), rating.clip, &|v| v.to_string());
    clip.into_iter().chain(one("floor", was.and_then(|r| r.floor_stops), rating.floor_stops, &floor)).collect()
}

/// The show's text with the ratings in it.
pub(super) fn edited<'a>(args: &'a Measure, measured: &[Measured]) -> Result<Rated<'a>, Failure> {
    let (Some(path), Some(camera)) = (args.show.as_deref(), args.camera.as_deref()) else {
        return Err(Failure::new("--write needs --show and --camera"));
    };
    let ratings: Option<Vec<Rating>> = measured.iter().map(rating).collect();
    let ratings = ratings.ok_or_else(|| Failure::new("--write: the exposure index is unknown: give --ei"))?;
    if let Some(r) = ratings.iter().find(|r| r.clip.is_none() && r.floor_stops.is_none()) {
        return Err(Failure::new(format!(
            "--write: the bracket shows neither clip nor floor at EI {}: add exposures",
            r.ei
        )));
    }
    if let Some(why) = measured.iter().find_map(doubt).filter(|_| !args.accept) {
        return Err(Failure::new(format!(
            "--write: {why}; nothing is written. If it is right all the same, give --accept"
        )));
    }
    let mut edit = ShowEdit::open(path, "the ratings")?;
    for rating in &ratings {
        let table = edit.camera(camera)?;
        set(table, rating).map_err(|why| edit.fail(&why))?;
    }
    for one in measured {
        let hashes: Vec<(&Path, &str)> =
            one.bracket.files.iter().map(|(path, sha256)| (path.as_path(), sha256.as_str())).collect();
        let what = one.ei.map_or("exposure".to_owned(), |ei| format!("exposure at EI {ei}"));
        edit.note(camera, &Note { what, date: args.date.as_deref(), frames: hashes })?;
    }
    let show = edit.finish()?;
    let before = show.before()?;
    let rated = |ei: f64| before.cameras().get(camera).and_then(|c| c.item.rating(ei));
    let changes = ratings.iter().flat_map(|r| changes(r, rated(r.ei))).collect();
    Ok(Rated { show, changes })
}

/// Changes the rating of its EI, or adds it.
fn set(camera: &mut dyn TableLike, rating: &Rating) -> Result<(), String> {
    if !camera.contains_key("rating") {
        camera.insert("rating", Item::ArrayOfTables(ArrayOfTables::new()));
    }
    let Some(list) = camera.get_mut("rating") else { return Err("no place for `rating`".to_owned()) };
    let same = |table: &dyn TableLike| number(table.get("ei")) == Some(rating.ei);
    if let Some(tables) = list.as_array_of_tables_mut() {
        if let Some(table) = tables.iter_mut().find(|t| same(*t)) {
            put(table, rating);
        } else {
            let mut table = Table::new();
            table.decor_mut().set_prefix("\n");
            put(&mut table, rating);
            tables.push(table);
        }
        return Ok(());
    }
    let array = list.as_array_mut().ok_or("`rating` is not a list of tables")?;
    for value in array.iter_mut() {
        if let Some(table) = value.as_inline_table_mut().filter(|t| same(*t)) {
            put(table, rating);
            // The space before the brace would stand before a comma.
            table.fmt();
            return Ok(());
        }
    }
    let mut table = InlineTable::new();
    put(&mut table, rating);
    array.push(table);
    Ok(())
}

fn number(item: Option<&Item>) -> Option<f64> {
    let item = item?;
    item.as_float().or_else(|| item.as_integer().map(|i| i as f64))
}

/// Sets the measured values; others stay as they are.
fn put(table: &mut dyn TableLike, rating: &Rating) {
    // A whole EI as people write it.
    let ei = if rating.ei.fract() == 0.0 { Value::from(rating.ei as i64) } else { Value::from(rating.ei) };
    if number(table.get("ei")) != Some(rating.ei) {
        change(table, "ei", ei);
    }
    for (key, measured) in [("clip", rating.clip), ("floor_stops", rating.floor_stops)] {
        if let Some(measured) = measured {
            change(table, key, Value::from(measured));
        }
    }
}

/// A new value with what stood around the old one.
fn change(table: &mut dyn TableLike, key: &str, mut new: Value) {
    if let Some(old) = table.get_mut(key).and_then(Item::as_value_mut) {
        *new.decor_mut() = old.decor().clone();
        *old = new;
    } else {
        table.insert(key, value(new));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use toml_edit::DocumentMut;

    fn with(text: &str, rating: &Rating) -> String {
        let mut document: DocumentMut = text.parse().unwrap();
        let cameras = document.get_mut("cameras").unwrap().as_table_like_mut().unwrap();
        set(cameras.get_mut("a").unwrap().as_table_like_mut().unwrap(), rating).unwrap();
        document.to_string()
    }

    #[test]
    fn a_rating_is_changed_in_its_place_and_a_new_one_is_added_after_it() {
        let text = "# a show\n[cameras.a]\ncurve = 'slog3'   # a curve\n\n# as measured\n[[cameras.a.rating]]\nei = 800\nclip = 0.5 # first\nfloor_stops = -7\n\n[cameras.b]\ncurve = 'vlog'\n";
        let new = Rating { ei: 800.0, clip: Some(0.8662), floor_stops: Some(-7.3) };
        let changed = with(text, &new);
        assert_eq!(changed, text.replace("0.5 # first", "0.8662 # first").replace("= -7\n", "= -7.3\n"));
        let other = Rating { ei: 1600.0, clip: None, floor_stops: Some(-6.3) };
        let added = with(text, &other);
        let place = "floor_stops = -7\n\n[[cameras.a.rating]]\nei = 1600\nfloor_stops = -6.3\n\n[cameras.b]";
        assert!(added.contains(place), "{added}");
    }

    #[test]
    fn a_camera_without_ratings_and_one_with_them_in_a_line_get_theirs() {
        let new = Rating { ei: 400.0, clip: Some(0.9), floor_stops: Some(-6.0) };
        let bare = with("[cameras.a]\ncurve = 'slog3'\n\n[cameras.b]\ncurve = 'vlog'\n", &new);
        let place = "curve = 'slog3'\n\n[[cameras.a.rating]]\nei = 400\nclip = 0.9\nfloor_stops = -6.0\n\n[cameras.b]";
        assert!(bare.contains(place), "{bare}");
        let line = with("[cameras.a]\nrating = [{ ei = 400, clip = 0.5 }]\n", &new);
        assert_eq!(line, "[cameras.a]\nrating = [{ ei = 400, clip = 0.9, floor_stops = -6.0 }]\n");
    }
}
