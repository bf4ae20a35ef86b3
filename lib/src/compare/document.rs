//! What changed in a document, in words: steps added, removed and moved, settings from old to new with their units.
//!
//! Looks are compared by their settings, of which one that is not set counts with its default; shows and
//! other documents as they stand in TOML.

use crate::camera::{CLIP, EI, FLOOR_STOPS};
use crate::display::{BLACK, DIFFUSE_WHITE, PEAK};
use crate::files::Source;
use crate::look::{Draft, DraftStep as Step, FIRST_GENERATION};
use crate::setting::number;
use crate::step::{Kind as StepKind, Set, Written, phrase, unit};
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;
use toml::{Table, Value};

/// What happened to a part of a document.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// It is new.
    Added,
    /// It is gone.
    Removed,
    /// It stands elsewhere among the steps.
    Moved,
    /// It has another value.
    Changed,
}

/// One change of a document.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Change {
    /// What happened.
    pub kind: Kind,
    /// The key in the newer document, or in the older one where it is gone there: `step[2].stops`.
    pub key: String,
    /// The older value, as written.
    pub old: Option<String>,
    /// The newer value.
    pub new: Option<String>,
    /// The unit of both, where they have one.
    pub unit: Option<String>,
    /// The change in words.
    pub words: String,
}

fn changed(key: String, phrase: &str, old: &str, new: &str, unit_of: &str) -> Change {
    Change {
        kind: Kind::Changed,
        words: format!("{phrase} {old} -> {new}{}", unit(phrase, unit_of)),
        key,
        old: Some(old.to_owned()),
        new: Some(new.to_owned()),
        unit: (!unit_of.is_empty()).then(|| unit_of.to_owned()),
    }
}

/// What changed between two documents of a look.
pub fn look_changes(old: &Draft, new: &Draft) -> Vec<Change> {
    let mut changes = Vec::new();
    let mut head = |key: &str, old: String, new: String| {
        if old != new {
            changes.push(changed(key.to_owned(), key, &old, &new, ""));
        }
    };
    let of = |draft: &Draft| draft.title.clone().unwrap_or_default();
    head("title", of(old), of(new));
    let of = |draft: &Draft| draft.revision.unwrap_or(1).to_string();
    head("revision", of(old), of(new));
    let of = |draft: &Draft| draft.generation.unwrap_or(FIRST_GENERATION).to_string();
    head("generation", of(old), of(new));
    changes.extend(step_changes(&old.steps, &new.steps));
    changes
}

/// Whether two steps have the same settings, stated or not.
fn does_the_same(a: &Step, b: &Step) -> bool {
    a.name == b.name && a.written.as_ref().map(Written::settings) == b.written.as_ref().map(Written::settings)
}

fn step_changes(old: &[Step], new: &[Step]) -> Vec<Change> {
    let mut partner_of_old: Vec<Option<usize>> = vec![None; old.len()];
    let mut partner: Vec<Option<usize>> = vec![None; new.len()];
    let mut moved = vec![false; new.len()];
    for (i, j) in aligned(old, new) {
        (partner_of_old[i], partner[j]) = (Some(j), Some(i));
    }
    // Of what is left, a step of the same name has moved; first those that do the same.
    for same in [true, false] {
        for j in 0..new.len() {
            let left = |i: &usize| {
                partner_of_old[*i].is_none()
                    && if same { does_the_same(&old[*i], &new[j]) } else { old[*i].name == new[j].name }
            };
            if partner[j].is_none()
                && let Some(i) = (0..old.len()).find(left)
            {
                (partner_of_old[i], partner[j], moved[j]) = (Some(j), Some(i), true);
            }
        }
    }
    let title = |steps: &[Step], i: usize| {
        let name = &steps[i].name;
        let several = steps.iter().filter(|s| s.name == *name).count() > 1;
        if several { format!("{name} (step {})", i + 1) } else { name.clone() }
    };
    let mut changes = Vec::new();
    for (i, gone) in old.iter().enumerate().filter(|(i, _)| partner_of_old[*i].is_none()) {
        changes.push(Change {
            kind: Kind::Removed,
            key: format!("step[{i}]"),
            old: Some(gone.name.clone()),
            new: None,
            unit: None,
            words: format!("{} removed, was step {}{}", gone.name, i + 1, gone.said()),
        });
    }
    for (j, step) in new.iter().enumerate() {
        let Some(i) = partner[j] else {
            changes.push(Change {
                kind: Kind::Added,
                key: format!("step[{j}]"),
                old: None,
                new: Some(step.name.clone()),
                unit: None,
                words: format!("{} added as step {}{}", step.name, j + 1, step.said()),
            });
            continue;
        };
        if moved[j] {
            changes.push(Change {
                kind: Kind::Moved,
                key: format!("step[{j}]"),
                old: Some((i + 1).to_string()),
                new: Some((j + 1).to_string()),
                unit: None,
                words: format!("{} moved: step {} -> step {}", step.name, i + 1, j + 1),
            });
        }
        changes.extend(setting_changes(&old[i], step, &title(new, j), &format!("step[{j}]")));
    }
    changes
}

/// Pairs of steps of the same name in the same order, as many as there can be, and of those as many as do the same.
fn aligned(old: &[Step], new: &[Step]) -> Vec<(usize, usize)> {
    let worth = |i: usize, j: usize| match (old[i].name == new[j].name, does_the_same(&old[i], &new[j])) {
        (false, _) => None,
        (true, false) => Some(2),
        (true, true) => Some(3),
    };
    let mut best = vec![vec![0; new.len() + 1]; old.len() + 1];
    for i in (0..old.len()).rev() {
        for j in (0..new.len()).rev() {
            let paired = worth(i, j).map_or(0, |w| w + best[i + 1][j + 1]);
            best[i][j] = paired.max(best[i + 1][j]).max(best[i][j + 1]);
        }
    }
    let (mut i, mut j, mut pairs) = (0, 0, Vec::new());
    while i < old.len() && j < new.len() {
        if worth(i, j).is_some_and(|w| w + best[i + 1][j + 1] == best[i][j]) {
            pairs.push((i, j));
            (i, j) = (i + 1, j + 1);
        } else if best[i + 1][j] == best[i][j] {
            i += 1;
        } else {
            j += 1;
        }
    }
    pairs
}

fn setting_changes(old: &Step, new: &Step, title: &str, path: &str) -> Vec<Change> {
    let (Some(kind), Some(before), Some(after)) = (StepKind::named(&new.name), &old.written, &new.written) else {
        return Vec::new();
    };
    let (before, after) = (before.values(), after.values());
    let find = |all: &[Set], key: &str| all.iter().find(|set| set.key == key).cloned();
    let gone = before.iter().filter(|set| find(&after, &set.key).is_none());
    let mut changes = Vec::new();
    for key in after.iter().chain(gone).map(|set| &set.key) {
        let (before, after) = (find(&before, key), find(&after, key));
        // The step's own name stands in the title, perhaps with its place.
        let phrase = phrase(kind, title, key);
        let key = format!("{path}.{key}");
        let written = |set: &Set| set.value.written(set.unit);
        match (before, after) {
            (Some(b), Some(a)) if b.value != a.value => {
                changes.push(changed(key, &phrase, &written(&b), &written(&a), a.unit));
            }
            (Some(_), Some(_)) | (None, None) => {}
            (b, a) => {
                let kind = if a.is_some() { Kind::Added } else { Kind::Removed };
                let one = a.as_ref().or(b.as_ref());
                let said = one.map(|set| format!("{}{}", written(set), unit(&phrase, set.unit))).unwrap_or_default();
                let what = if kind == Kind::Added { "set to" } else { "no longer set, was" };
                changes.push(Change {
                    kind,
                    key,
                    unit: one.map(|set| set.unit.to_owned()).filter(|unit| !unit.is_empty()),
                    words: format!("{phrase} {what} {said}"),
                    old: b.as_ref().map(written),
                    new: a.as_ref().map(written),
                });
            }
        }
    }
    changes
}

/// A value of a show as people write it.
fn written(value: &Value, unit: &str) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Integer(n) => number(*n as f64, unit),
        Value::Float(v) => number(*v, unit),
        Value::Boolean(yes) => if *yes { "yes" } else { "no" }.to_owned(),
        Value::Array(values) => {
            format!("[{}]", values.iter().map(|v| written(v, unit)).collect::<Vec<_>>().join(", "))
        }
        other => other.to_string(),
    }
}

/// Every value of a table by its key path.
fn flat(table: &Table) -> Vec<(String, Value)> {
    let mut all = Vec::new();
    for (key, value) in table {
        flatten(key, value, &mut all);
    }
    all
}

fn flatten(path: &str, value: &Value, all: &mut Vec<(String, Value)>) {
    match value {
        Value::Table(table) => table.iter().for_each(|(key, value)| flatten(&format!("{path}.{key}"), value, all)),
        Value::Array(entries) if entries.iter().any(Value::is_table) => {
            entries.iter().enumerate().for_each(|(i, value)| flatten(&format!("{path}[{i}]"), value, all));
        }
        value => all.push((path.to_owned(), value.clone())),
    }
}

/// A key as words; the names of files in it stay.
fn words(key: &str) -> String {
    if key.contains("frames.") { key.to_owned() } else { key.replace('_', " ") }
}

/// What changed between two texts of a show, or of any other document: by section.
pub fn table_changes(old: &str, new: &str) -> Vec<Change> {
    let sections = |text: &str| {
        let mut sections: BTreeMap<String, Vec<(String, Value)>> = BTreeMap::new();
        for (path, value) in flat(&text.parse().unwrap_or_default()) {
            let (section, key) = split(&path);
            sections.entry(section).or_default().push((key, value));
        }
        sections
    };
    let (old, new) = (sections(old), sections(new));
    let mut names: Vec<&String> = old.keys().chain(new.keys()).collect();
    names.sort();
    names.dedup();
    let mut changes = Vec::new();
    for section in names {
        match (old.get(section), new.get(section)) {
            (Some(before), Some(after)) => changes.extend(section_changes(section, before, after)),
            (before, after) => {
                let kind = if after.is_some() { Kind::Added } else { Kind::Removed };
                let said = |entries: Option<&Vec<(String, Value)>>| {
                    let entries = entries?.iter().map(|(key, value)| {
                        let unit_of = unit_of(key);
                        let value = format!("{}{}", written(value, unit_of), unit(key, unit_of));
                        if key.is_empty() { value } else { format!("{} {value}", words(key)) }
                    });
                    Some(entries.collect::<Vec<_>>().join(", "))
                };
                let (old, new) = (said(before), said(after));
                let what = if kind == Kind::Added { "added" } else { "removed" };
                let all = new.as_ref().or(old.as_ref()).cloned().unwrap_or_default();
                let words = format!("{} {what}: {all}", section_title(section));
                changes.push(Change { kind, key: section.clone(), old, new, unit: None, words });
            }
        }
    }
    changes
}

/// A path as the section that it stands in and its key there: `cameras.a` and `curve`, `bake[0]` and `points`. A look's
/// path and a limit are sections of their own; so is a key at the top.
fn split(path: &str) -> (String, String) {
    if path.starts_with("looks.") || path.starts_with("limits.") {
        return (path.to_owned(), String::new());
    }
    let depth = if path.split('.').next().is_some_and(|first| first.ends_with(']')) { 1 } else { 2 };
    let at = path.match_indices('.').nth(depth - 1).map(|(at, _)| at);
    at.map_or_else(|| (path.to_owned(), String::new()), |at| (path[..at].to_owned(), path[at + 1..].to_owned()))
}

/// A section in words: `camera a`, `bake entry 1`, `limit neutral.max`.
fn section_title(section: &str) -> String {
    let (first, rest) = section.split_once('.').unwrap_or((section, ""));
    if let Some((name, number)) = first.strip_suffix(']').and_then(|f| f.split_once('[')) {
        return format!("{name} entry {}", number.parse::<usize>().map_or(0, |n| n + 1));
    }
    let singular = match first {
        "cameras" | "displays" | "looks" | "limits" | "frames" | "shots" => &first[..first.len() - 1],
        other => other,
    };
    if rest.is_empty() { singular.replace('_', " ") } else { format!("{singular} {rest}") }
}

/// The unit of a number of a show by the end of its key.
fn unit_of(key: &str) -> &'static str {
    let key = key.rsplit('.').next().unwrap_or(key);
    let all = [PEAK, BLACK, DIFFUSE_WHITE, EI, CLIP, FLOOR_STOPS];
    all.iter().find(|p| p.key == key).map_or("", |p| if p.key == EI.key { "" } else { p.unit })
}

fn section_changes(section: &str, old: &[(String, Value)], new: &[(String, Value)]) -> Vec<Change> {
    let find = |all: &[(String, Value)], key: &str| all.iter().find(|(k, _)| k == key).map(|(_, v)| v.clone());
    let mut keys: Vec<&String> = old.iter().chain(new).map(|(key, _)| key).collect();
    keys.sort();
    keys.dedup();
    let title = section_title(section);
    let mut changes = Vec::new();
    for key in keys {
        let unit_of = unit_of(key);
        let value = |all| find(all, key).map(|v| written(&v, unit_of));
        let (before, after) = (value(old), value(new));
        let phrase = if key.is_empty() { title.clone() } else { format!("{title}: {}", words(key)) };
        let path = if key.is_empty() { section.to_owned() } else { format!("{section}.{key}") };
        match (before, after) {
            (Some(b), Some(a)) if a != b => changes.push(changed(path, &phrase, &b, &a, unit_of)),
            (Some(_), Some(_)) | (None, None) => {}
            (before, after) => {
                let kind = if after.is_some() { Kind::Added } else { Kind::Removed };
                let what = if kind == Kind::Added { "set to" } else { "no longer set, was" };
                let one = after.as_ref().or(before.as_ref()).cloned().unwrap_or_default();
                let words = format!("{phrase} {what} {one}{}", unit(&phrase, unit_of));
                let unit = (!unit_of.is_empty()).then(|| unit_of.to_owned());
                changes.push(Change { kind, key: path, old: before, new: after, unit, words });
            }
        }
    }
    changes
}

/// Files that a document reads and whose contents changed under the same name; `documents` are reported elsewhere.
pub fn file_changes(old: &[Source], new: &[Source], documents: &[&str]) -> Vec<Change> {
    new.iter()
        .filter(|source| !documents.contains(&source.file.as_str()))
        .filter_map(|source| {
            let before = old.iter().find(|o| o.file == source.file && o.sha256 != source.sha256)?;
            Some(Change {
                kind: Kind::Changed,
                key: source.file.clone(),
                old: Some(before.sha256.clone()),
                new: Some(source.sha256.clone()),
                unit: None,
                words: format!("{}: other contents", source.file),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(changes: Vec<Change>) -> Vec<String> {
        changes.into_iter().map(|c| c.words).collect()
    }

    fn look_changes(old: &str, new: &str) -> Vec<Change> {
        super::look_changes(&Draft::of(old), &Draft::of(new))
    }

    const OLD: &str = "schema = 1\ngeneration = 2\ntitle = 'Night'\n[[step]]\ndo = 'compress'\n[[step]]\ndo = 'exposure'\nstops = -1\n\
        [[step]]\ndo = 'tint'\nshadows = [-0.1, 0, 0.1]\n[[step]]\ndo = 'print'\nvariant = 'deep'\n";

    #[test]
    fn a_changed_setting_is_said_with_its_unit() {
        let new = OLD.replace("stops = -1", "stops = -1.5").replace("title = 'Night'", "title = 'Night'\nrevision = 2");
        assert_eq!(words(look_changes(OLD, &new)), ["revision 1 -> 2", "exposure -1.0 -> -1.5 stops"]);
        assert!(look_changes(OLD, OLD).is_empty());
        // A look that states no generation is of the first.
        let before = OLD.replace("generation = 2\n", "");
        assert_eq!(words(look_changes(&before, OLD)), ["generation 1 -> 2"]);
    }

    #[test]
    fn what_is_left_out_counts_with_its_value() {
        // The deep variant's own toe; and the default of a tint.
        let new = OLD
            .replace("variant = 'deep'", "variant = 'deep'\ntoe = 1.0")
            .replace("shadows = [-0.1, 0, 0.1]", "shadows = [-0.1, 0.0, 0.1]\nshadow_width = 3.0\nkeep_grey = false");
        assert_eq!(
            words(look_changes(OLD, &new)),
            ["tint shadow width 4.0 -> 3.0 stops", "tint keep grey yes -> no", "print toe 1.4 -> 1.0 stops"]
        );
        let said = OLD.replace("variant = 'deep'", "variant = 'deep'\ntoe = 1.4");
        assert!(look_changes(OLD, &said).is_empty());
    }

    #[test]
    fn steps_come_go_and_move() {
        let new = "schema = 1\ngeneration = 2\ntitle = 'Night'\n[[step]]\ndo = 'exposure'\nstops = -1\n[[step]]\ndo = 'compress'\n\
            [[step]]\ndo = 'contrast'\namount = 1.1\n[[step]]\ndo = 'print'\nvariant = 'deep'\n";
        let changes = look_changes(OLD, new);
        let kinds: Vec<_> = changes.iter().map(|c| c.kind).collect();
        assert_eq!(kinds, [Kind::Removed, Kind::Moved, Kind::Added]);
        assert_eq!(
            words(changes),
            [
                "tint removed, was step 3: shadows [-0.1, 0.0, 0.1] stops",
                "compress moved: step 1 -> step 2",
                "contrast added as step 3: 1.1 stops out per stop in",
            ]
        );
    }

    #[test]
    fn one_of_several_steps_of_a_name_is_told_by_its_place() {
        let two = OLD.replace("[[step]]\ndo = 'tint'", "[[step]]\ndo = 'exposure'\nstops = 0.5\n[[step]]\ndo = 'tint'");
        let new = two.replace("stops = 0.5", "stops = 0.25");
        assert_eq!(words(look_changes(&two, &new)), ["exposure (step 3) 0.5 -> 0.25 stops"]);
        assert_eq!(words(look_changes(OLD, &two)), ["exposure added as step 3: 0.5 stops"]);
    }

    #[test]
    fn shows_are_told_by_their_sections() {
        let old = "schema = 1\ntitle = 'S'\n[cameras.a]\ncurve = 'slog3'\ngamut = 'sgamut3-cine'\n[displays.m]\n\
            standard = 'bt709'\npeak = 100\n[looks]\nnight = 'night.toml'\n[limits]\nneutral.max = 0.3\n[[bake]]\npoints = 33\n";
        let new = "schema = 1\ntitle = 'S'\n[cameras.a]\ncurve = 'slog3'\ngamut = 'sgamut3'\nlabel = 'A'\n[displays.m]\n\
            standard = 'bt709'\npeak = 48\n[displays.hdr]\nstandard = 'bt2100-pq'\n[looks]\nnight = 'dusk.toml'\n\
            [limits]\nneutral.max = 0.5\n[[bake]]\npoints = 17\n";
        assert_eq!(
            words(table_changes(old, new)),
            [
                "bake entry 1: points 33 -> 17",
                "camera a: gamut sgamut3-cine -> sgamut3",
                "camera a: label set to A",
                "display hdr added: standard bt2100-pq",
                "display m: peak 100 -> 48 nits",
                "limit neutral.max 0.3 -> 0.5",
                "look night night.toml -> dusk.toml",
            ]
        );
    }
}
