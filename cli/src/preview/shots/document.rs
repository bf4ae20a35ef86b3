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
    pub(super) scene: Option<&'s str>,
    pub(super) take: Option<&'s str>,
    pub(super) reel: Option<&'s str>,
    pub(super) timecode: Option<&'s str>,
    pub(super) note: Option<&'s str>,
}

/// A number as a person writes it: whole ones without a point.
pub(super) fn number(v: f64) -> Value {
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
    let noted = [
        ("scene", entry.scene),
        ("take", entry.take),
        ("reel", entry.reel),
        ("timecode", entry.timecode),
        ("note", entry.note),
    ];
    for (key, text) in noted {
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

/// Puts values into the entry of a shot: one that is none goes, and what stands beside the others stays.
///
/// # Errors
/// The show has no entry of that name: the shot is one of a list.
pub(super) fn enter(document: &mut DocumentMut, shot: &str, values: Vec<(&str, Option<Value>)>) -> Result<(), String> {
    let tables = document.get_mut("shots").and_then(Item::as_array_of_tables_mut);
    let named = |table: &&mut Table| table.get("name").and_then(Item::as_str) == Some(shot);
    let table = tables.into_iter().flat_map(ArrayOfTables::iter_mut).find(named);
    let table = table.ok_or_else(|| {
        format!("{shot} is a shot of a list: give it an entry of its own in the show, by `name` and `file`, for notes")
    })?;
    for (key, new) in values {
        match (new, table.get_mut(key).and_then(Item::as_value_mut)) {
            (Some(mut new), Some(there)) => {
                *new.decor_mut() = there.decor().clone();
                *there = new;
            }
            (Some(new), None) => drop(table.insert(key, Item::Value(new))),
            (None, _) => drop(table.remove(key)),
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHOW: &str = "# Saltmarsh\ntitle = \"Saltmarsh\"\n\n[cameras.a]\n# the dunes\n\n[[shots]]\nname = \"12A-3\"   # at dusk\n\n\
        [[shots]]\nlist = \"day2.ale\"\n\n# what the box takes\n[devices.tent]\nmax_points = 33\n";

    #[test]
    fn notes_are_put_into_their_entry_and_all_else_stays() {
        let mut document: DocumentMut = SHOW.parse().unwrap();
        let note = |text: &str| Some(Value::from(text));
        enter(&mut document, "12A-3", vec![("note", note("wind \"4\"")), ("ei", Some(number(800.0))), ("take", None)])
            .unwrap();
        let wanted = SHOW.replace("# at dusk\n", "# at dusk\nnote = 'wind \"4\"'\nei = 800\n");
        assert_eq!(document.to_string(), wanted);
        let commented = wanted.replace("ei = 800\n", "ei = 800  # by the card\n");
        let mut document: DocumentMut = commented.parse().unwrap();
        enter(&mut document, "12A-3", vec![("note", None), ("ei", Some(number(1250.0)))]).unwrap();
        let wanted = SHOW.replace("# at dusk\n", "# at dusk\nei = 1250  # by the card\n");
        assert_eq!(document.to_string(), wanted);
        assert!(enter(&mut document, "31-2", Vec::new()).unwrap_err().contains("a shot of a list"));
    }

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
