//! The show's document, as far as shots are concerned: which files take a new shot, and the entry of one.

use crate::disk;
use crate::preview::studio::Studio;
use rushlight::step::balance::White;
use toml_edit::{ArrayOfTables, DocumentMut, InlineTable, Item, Table, Value, value};

/// The file of a first shot, beside the show.
pub(super) const NEW: &str = "shots.ccc";

/// The show's document; none where it stands alone as a look, or cannot be read at this moment.
pub(super) fn document(studio: &Studio) -> Option<(String, DocumentMut)> {
    let text = disk::read_document(studio.file()).ok()?;
    let document: DocumentMut = text.parse().ok()?;
    document.contains_key("cameras").then_some((text, document))
}

fn ends_in(file: &str, any: &[&str]) -> bool {
    file.rsplit_once('.').is_some_and(|(_, end)| any.iter().any(|one| one.eq_ignore_ascii_case(end)))
}

/// Files that a new shot may go into: those of corrections that the show names, then its lists, then a new one.
pub(super) fn files(studio: &Studio) -> Vec<String> {
    let Some((_, document)) = document(studio) else { return Vec::new() };
    let named = document.get("cdl").and_then(|cdl| cdl.get("files")).and_then(Item::as_array);
    let named = named.into_iter().flat_map(|list| list.iter().filter_map(Value::as_str));
    let shots = || document.get("shots").and_then(Item::as_array_of_tables).into_iter().flat_map(ArrayOfTables::iter);
    let own = shots().filter_map(|shot| shot.get("file").and_then(Item::as_str));
    let lists = shots().filter(|shot| !shot.contains_key("column"));
    let lists = lists.filter_map(|shot| shot.get("list").and_then(Item::as_str));
    let corrections = named.chain(own).filter(|file| ends_in(file, &["ccc", "cdl"]));
    let mut all: Vec<String> = Vec::new();
    for file in corrections.chain(lists.filter(|file| ends_in(file, &["ale", "csv", "ccc", "cdl"]))).chain([NEW]) {
        if !all.iter().any(|there| there == file) {
            all.push(file.to_owned());
        }
    }
    all
}

/// Whether the show takes every correction of a file for a shot, so that it needs no entry.
pub(super) fn is_list(document: &DocumentMut, file: &str) -> bool {
    let shots = document.get("shots").and_then(Item::as_array_of_tables).into_iter().flat_map(ArrayOfTables::iter);
    shots.filter_map(|shot| shot.get("list").and_then(Item::as_str)).any(|list| list == file)
}

/// What the show says of a new shot.
#[derive(Debug, Default)]
pub(super) struct NewEntry<'s> {
    pub(super) name: &'s str,
    pub(super) file: &'s str,
    pub(super) look: Option<&'s str>,
    pub(super) camera: Option<&'s str>,
    pub(super) frame: Option<&'s str>,
    pub(super) ei: Option<f64>,
    pub(super) white: Option<White>,
    pub(super) reel: Option<&'s str>,
    pub(super) timecode: Option<&'s str>,
    pub(super) note: Option<&'s str>,
}

/// A number as a person writes it: whole ones without a point.
fn number(v: f64) -> Value {
    if v.fract() == 0.0 && v.abs() < 1e9 { Value::from(v as i64) } else { Value::from(v) }
}

/// Adds the entry at the end of the shots.
pub(super) fn add(document: &mut DocumentMut, entry: &NewEntry<'_>) -> Result<(), String> {
    let mut table = Table::new();
    let texts = [
        ("name", Some(entry.name)),
        ("file", Some(entry.file)),
        ("id", Some(entry.name)),
        ("look", entry.look),
        ("camera", entry.camera),
        ("frame", entry.frame),
    ];
    for (key, text) in texts {
        if let Some(text) = text {
            table.insert(key, value(text));
        }
    }
    if let Some(ei) = entry.ei {
        table.insert("ei", Item::Value(number(ei)));
    }
    if let Some(White { kelvin: Some(kelvin), tint, .. }) = entry.white {
        let mut white = InlineTable::new();
        white.insert("kelvin", number(kelvin));
        tint.into_iter().for_each(|tint| drop(white.insert("tint", number(tint))));
        white.fmt();
        table.insert("white", Item::Value(Value::InlineTable(white)));
    }
    for (key, text) in [("reel", entry.reel), ("timecode", entry.timecode), ("note", entry.note)] {
        if let Some(text) = text {
            table.insert(key, value(text));
        }
    }
    table.decor_mut().set_prefix("\n");
    let shots = document.entry("shots").or_insert_with(|| Item::ArrayOfTables(ArrayOfTables::new()));
    let shots =
        shots.as_array_of_tables_mut().ok_or("`shots` of the show is no list of tables: write it as [[shots]]")?;
    // Where the last one stands, so that it is not printed among the tables after it.
    if let Some(position) = shots.iter().filter_map(Table::position).max() {
        table.set_position(Some(position));
    }
    shots.push(table);
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHOW: &str = "# Saltmarsh\ntitle = \"Saltmarsh\"\n\n[cameras.a]\n# the dunes\n\n[[shots]]\nname = \"12A-3\"   # at dusk\n\n\
        [[shots]]\nlist = \"day2.ale\"\n\n# what the box takes\n[devices.tent]\nmax_points = 33\n";

    #[test]
    fn an_entry_comes_after_the_shots_and_all_else_stays() {
        let mut document: DocumentMut = SHOW.parse().unwrap();
        let entry = NewEntry {
            name: "14-1",
            file: "night \"1\".ccc",
            camera: Some("a"),
            ei: Some(800.0),
            white: Some(White { kelvin: Some(4300.0), tint: Some(-2.5), xy: None }),
            note: Some("wind"),
            ..NewEntry::default()
        };
        add(&mut document, &entry).unwrap();
        let text = document.to_string();
        let new = "\n[[shots]]\nname = \"14-1\"\nfile = 'night \"1\".ccc'\nid = \"14-1\"\ncamera = \"a\"\nei = 800\n\
            white = { kelvin = 4300, tint = -2.5 }\nnote = \"wind\"\n";
        let at = text.find(new).unwrap_or_else(|| panic!("{text}"));
        assert_eq!(format!("{}{}", &text[..at], &text[at + new.len()..]), SHOW);
        assert!(at < text.find("[devices.tent]").unwrap(), "{text}");
        assert!(is_list(&document, "day2.ale") && !is_list(&document, "x.ale"));
        let mut none: DocumentMut = "title = \"x\"\n".parse().unwrap();
        add(&mut none, &entry).unwrap();
        assert!(none.to_string().starts_with("title = \"x\"\n\n[[shots]]\n"), "{none}");
        let mut odd: DocumentMut = "shots = 3\n".parse().unwrap();
        assert!(add(&mut odd, &entry).unwrap_err().contains("[[shots]]"));
    }
}
