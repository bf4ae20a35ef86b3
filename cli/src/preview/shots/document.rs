//! The show's document, as far as shots are concerned: which files take a new shot, and the entry of one.

use crate::disk;
use crate::preview::studio::Studio;
use rushlight::step::balance::White;
use std::collections::BTreeSet;
use std::ops::Range;
use toml_edit::{ArrayOfTables, Document, DocumentMut, InlineTable, Item, Table, Value, value};

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
pub(super) fn files(document: Option<&DocumentMut>) -> Vec<String> {
    let Some(document) = document else { return Vec::new() };
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
    pub(super) column: Option<&'s str>,
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

/// The white that a camera was set to.
pub(super) fn white(kelvin: f64, tint: Option<f64>) -> Value {
    let mut white = InlineTable::new();
    white.insert("kelvin", number(kelvin));
    tint.into_iter().for_each(|tint| drop(white.insert("tint", number(tint))));
    white.fmt();
    Value::InlineTable(white)
}

/// Adds the entry at the end of the shots.
pub(super) fn add(document: &mut DocumentMut, entry: &NewEntry<'_>) -> Result<(), String> {
    let mut table = Table::new();
    let texts = [
        ("name", Some(entry.name)),
        ("file", Some(entry.file)),
        ("id", Some(entry.name)),
        ("column", entry.column),
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
        table.insert("white", Item::Value(white(kelvin, tint)));
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

fn is_named(table: &Table, shot: &str) -> bool {
    table.get("name").and_then(Item::as_str) == Some(shot)
}

/// The shots that have an entry of their own.
pub(super) fn entries(document: &DocumentMut) -> BTreeSet<&str> {
    let shots = document.get("shots").and_then(Item::as_array_of_tables).into_iter().flat_map(ArrayOfTables::iter);
    shots.filter_map(|shot| shot.get("name").and_then(Item::as_str)).collect()
}

fn entry_of<'d>(document: &'d mut DocumentMut, shot: &str) -> Result<&'d mut Table, String> {
    let tables = document.get_mut("shots").and_then(Item::as_array_of_tables_mut);
    let table = tables.into_iter().flat_map(ArrayOfTables::iter_mut).find(|table| is_named(table, shot));
    table.ok_or_else(|| format!("{shot} comes from a list: it needs an entry of its own in the show first"))
}

/// Gives the entry of a shot another name, and another id where it had one or needs one now.
pub(super) fn rename(document: &mut DocumentMut, shot: &str, to: &str, id: &str) -> Result<(), String> {
    let has_id = entry_of(document, shot)?.contains_key("id");
    let id = (!id.is_empty() && (has_id || id != to)).then(|| ("id", Some(Value::from(id))));
    let values = std::iter::once(("name", Some(Value::from(to)))).chain(id);
    enter(document, shot, values.collect())
}

/// The text without the entry of a shot. Comments before it stay, for who wrote them knows what they are of.
pub(super) fn without(text: &str, shot: &str) -> Result<String, String> {
    let none = || format!("{shot} has no entry of its own in the show");
    let document: Document<&str> = Document::parse(text).map_err(|e| e.to_string())?;
    let tables = document.get("shots").and_then(Item::as_array_of_tables);
    let table =
        tables.into_iter().flat_map(ArrayOfTables::iter).find(|table| is_named(table, shot)).ok_or_else(none)?;
    // That of a table is its header's or more; what is in it may end later.
    let places: Vec<Range<usize>> =
        table.span().into_iter().chain(table.iter().filter_map(|(_, item)| item.span())).collect();
    let start = places.iter().map(|place| place.start).min().ok_or_else(none)?;
    let end = places.iter().map(|place| place.end).max().ok_or_else(none)?;
    let start = text[..start].rfind('\n').map_or(0, |at| at + 1);
    let end = text[end..].find('\n').map_or(text.len(), |at| end + at + 1);
    // Of the blank lines before it and after it, those after stay.
    let before = &text[..start];
    let bare = before.trim_end_matches('\n');
    let before =
        if text[end..].starts_with('\n') && before.len() > bare.len() { &before[..=bare.len()] } else { before };
    Ok(format!("{before}{}", &text[end..]))
}

/// Puts values into the entry of a shot: one that is none goes, and what stands beside the others stays.
///
/// # Errors
/// The show has no entry of that name: the shot is one of a list.
pub(super) fn enter(document: &mut DocumentMut, shot: &str, values: Vec<(&str, Option<Value>)>) -> Result<(), String> {
    let table = entry_of(document, shot)?;
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
        assert!(enter(&mut document, "31-2", Vec::new()).unwrap_err().contains("comes from a list"));
        assert_eq!(entries(&document).into_iter().collect::<Vec<_>>(), ["12A-3"]);
    }

    #[test]
    fn an_entry_gets_another_name_and_all_else_stays() {
        let mut document: DocumentMut = SHOW.parse().unwrap();
        rename(&mut document, "12A-3", "12A-4", "12A-4").unwrap();
        assert_eq!(document.to_string(), SHOW.replace("12A-3\"   #", "12A-4\"   #"));
        // An id that stays is stated from now on; one that is stated follows.
        rename(&mut document, "12A-4", "13", "12A-4").unwrap();
        assert_eq!(document.to_string(), SHOW.replace("12A-3\"   # at dusk\n", "13\"   # at dusk\nid = \"12A-4\"\n"));
        rename(&mut document, "13", "14", "14").unwrap();
        assert_eq!(document.to_string(), SHOW.replace("12A-3\"   # at dusk\n", "14\"   # at dusk\nid = \"14\"\n"));
        assert!(rename(&mut document, "13", "15", "15").is_err());
    }

    #[test]
    fn an_entry_goes_and_all_else_stays() {
        assert_eq!(without(SHOW, "12A-3").unwrap(), SHOW.replace("[[shots]]\nname = \"12A-3\"   # at dusk\n\n", ""));
        let whole = "title = \"x\"\n\n# the first\n[[shots]]\nname = \"a\"\nwhite = { kelvin = 4300 }  # by the card\n# the second\n\
            [[shots]]\nname = \"b\"\nnote = \"\"\"\n[[shots]]\n\"\"\"";
        let first = "[[shots]]\nname = \"a\"\nwhite = { kelvin = 4300 }  # by the card\n";
        assert_eq!(without(whole, "a").unwrap(), whole.replace(first, ""));
        let second = &whole[whole.rfind("[[shots]]\nname = \"b\"").unwrap()..];
        assert_eq!(without(whole, "b").unwrap(), whole.replace(second, ""));
        for text in [without(whole, "a").unwrap(), without(whole, "b").unwrap()] {
            assert_eq!(text.parse::<DocumentMut>().unwrap()["shots"].as_array_of_tables().unwrap().len(), 1);
        }
        assert!(without(whole, "c").unwrap_err().contains("no entry"));
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
