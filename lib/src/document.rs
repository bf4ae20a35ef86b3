//! Reading a TOML document so that every problem in it is reported in one go, each with line, column and key.
//!
//! Serde stops at its first error. Here a document is parsed with spans; where a value fails, the failure is noted,
//! that one entry is taken out, and the rest is read again, until all is read. A key that is missing is noted and stood in
//! for, so that the next one is found too. Values that a validated type refuses later are placed by their key path.

mod messages;
pub(crate) mod numbers;
mod problem;
mod syntax;
mod tree;

pub use problem::{Problem, Problems};

use crate::invalid::Invalid;
use crate::message::LONGEST_TITLE;
use messages::reword;
use serde::de::DeserializeOwned;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue, ValueDeserializer};
use tree::{STAND_IN, holder, join, path_parts, put, stand_ins, take_out};

/// Most bytes of a document: more than any has, and what is made of its text in memory is some hundred times as large.
pub const LARGEST: usize = 2 << 20;
/// Problems of one document that are listed; what is beyond would only hide the first ones.
const MOST: usize = 100;
/// Bytes of text that are read again, all in all, to find one problem after another.
const READ_AGAIN: usize = 32 << 20;

/// A parsed TOML document and the problems found in it so far.
#[derive(Debug)]
pub struct Document<'t> {
    name: &'t str,
    text: &'t str,
    root: Spanned<DeTable<'t>>,
    list: Vec<Problem>,
}

impl<'t> Document<'t> {
    /// Parses the syntax of `text`; `name` is the file's name for messages.
    ///
    /// # Errors
    /// Every syntax error; a text of more than [`LARGEST`] bytes.
    pub fn parse(name: &'t str, text: &'t str) -> Result<Self, Problems> {
        if text.len() > LARGEST {
            let message = format!("{} bytes: a document has {LARGEST} at most", text.len());
            let problem = Problem { key: String::new(), message, span: 0..0, line: 1, column: 1 };
            return Err(Problems { name: name.to_owned(), text: String::new(), list: vec![problem] });
        }
        let (root, errors) = DeTable::parse_recoverable(text);
        let mut document = Self { name, text, root, list: Vec::new() };
        let errors = errors.iter().map(|error| (error.span(), error.message().to_owned())).collect::<Vec<_>>();
        if !errors.is_empty() {
            for (span, message) in syntax::explained(text, errors) {
                document.note(String::new(), span, message);
            }
        }
        if document.list.is_empty() { Ok(document) } else { Err(document.into_problems()) }
    }

    /// Adds a problem at bytes `span`; `None` is the start of the document.
    fn note(&mut self, key: String, span: Option<Range<usize>>, message: String) {
        if self.list.len() > MOST {
            return;
        }
        if self.list.len() == MOST {
            let message = format!("more than {MOST} problems: the others are not listed");
            let end = self.text.len();
            let line = self.text.matches('\n').count() + 1;
            self.list.push(Problem { key: String::new(), message, span: end..end, line, column: 1 });
            return;
        }
        let span = span.unwrap_or(0..0);
        let start = self.boundary(span.start);
        let span = start..self.boundary(span.end).max(start);
        let before = &self.text[..span.start];
        let line = before.matches('\n').count() + 1;
        let column = before.rsplit('\n').next().unwrap_or("").chars().count() + 1;
        let problem = Problem { key, message, span, line, column };
        if !self.list.contains(&problem) {
            self.list.push(problem);
        }
    }

    /// The last character boundary at or before byte `at`.
    fn boundary(&self, at: usize) -> usize {
        let at = at.min(self.text.len());
        (0..=at).rev().find(|i| self.text.is_char_boundary(*i)).unwrap_or(0)
    }

    /// Checks what every document starts with: that `schema` is `version`, and that the strings under `texts` say
    /// something. What is missing or of another type is left to [`read`](Self::read).
    pub fn check_head(&mut self, version: u32, texts: &[&str]) {
        if let Some(DeValue::Integer(given)) = self.value("schema").map(Spanned::get_ref)
            && i64::from_str_radix(given.as_str(), given.radix()) != Ok(i64::from(version))
        {
            let message = format!("{given} is not supported: this program reads {version}");
            self.refuse(Invalid::new("schema", message));
        }
        for key in texts {
            let Some(text) = self.string(key) else { continue };
            let letters = text.chars().count();
            if text.trim().is_empty() {
                self.refuse(Invalid::new(*key, "must not be empty"));
            } else if *key == "title" && letters > LONGEST_TITLE {
                self.refuse(Invalid::new(*key, format!("has {letters} letters: {LONGEST_TITLE} at most")));
            } else if *key == "title" && text.chars().any(char::is_control) {
                self.refuse(Invalid::new(*key, "is one line of text, without control characters"));
            }
        }
    }

    /// Adds what a validated type refused; its key is a path from the top of the document.
    pub fn refuse(&mut self, invalid: Invalid) {
        let span = self.locate(&invalid.key);
        self.note(invalid.key, span, invalid.message);
    }

    /// Adds what a validated type refused; its keys are relative to `path`.
    pub fn refuse_within(&mut self, path: &str, refused: impl IntoIterator<Item = Invalid>) {
        for invalid in refused {
            self.refuse(invalid.within(path));
        }
    }

    /// The same of a table that may have been noted to have something wrong in it: what stands there is judged by itself, and
    /// what is refused of a value that stands in, or of the table as a whole, might be wrong only for that.
    pub fn refuse_standing(&mut self, path: &str, refused: impl IntoIterator<Item = Invalid>) {
        let wrong = self.is_wrong_within(path);
        let stands = |key: &str| key != path && self.has(key) && !self.is_wrong_within(key);
        let refused = refused.into_iter().map(|r| r.within(path)).filter(|r| !wrong || stands(&r.key));
        let refused: Vec<Invalid> = refused.collect();
        refused.into_iter().for_each(|r| self.refuse(r));
    }

    /// Whether there are more problems than are listed: no more need be looked for.
    pub fn is_truncated(&self) -> bool {
        self.list.len() > MOST
    }

    /// Whether nothing is wrong so far.
    pub fn is_valid(&self) -> bool {
        self.list.is_empty()
    }

    /// The problems, in the order of the text.
    pub fn into_problems(mut self) -> Problems {
        // A misspelt table is one mistake, not another one for each table in it.
        let unknown: Vec<(String, String)> =
            self.list.iter().map(|p| (format!("{}.", p.key), p.message.clone())).collect();
        self.list.retain(|p| {
            let is_twice =
                |(key, message): &(String, String)| key != "." && p.key.starts_with(&**key) && p.message == *message;
            !(p.message.starts_with("unknown key") && unknown.iter().any(is_twice))
        });
        self.list.sort_by(|a, b| (a.span.start, &a.key).cmp(&(b.span.start, &b.key)));
        Problems { name: self.name.to_owned(), text: self.text.to_owned(), list: self.list }
    }

    /// How many entries stand in the list under the top-level key `array`; what stands there otherwise is noted.
    pub fn count(&mut self, array: &str) -> usize {
        let Some(found) = self.root.get_ref().get(array) else { return 0 };
        if let DeValue::Array(entries) = found.get_ref() {
            return entries.len();
        }
        let span = found.span();
        self.note(array.to_owned(), Some(span), format!("must be a list of tables, each under [[{array}]]"));
        0
    }

    /// Whether a table stands at `path`.
    pub fn is_table(&self, path: &str) -> bool {
        self.value(path).is_some_and(|value| value.get_ref().is_table())
    }

    /// Whether something stands at `path`.
    pub fn has(&self, path: &str) -> bool {
        self.value(path).is_some()
    }

    /// The string at `path`, if there is one.
    pub fn string(&self, path: &str) -> Option<String> {
        match self.value(path)?.get_ref() {
            DeValue::String(s) => Some(s.clone().into_owned()),
            _ => None,
        }
    }

    /// The whole number at `path`, if there is one.
    pub fn whole(&self, path: &str) -> Option<u32> {
        match self.value(path)?.get_ref() {
            DeValue::Integer(n) => u32::from_str_radix(n.as_str(), n.radix()).ok(),
            _ => None,
        }
    }

    /// The paths of all values within the table at `path`; a table is replaced by the keys in it.
    pub fn key_paths(&self, path: &str) -> Vec<String> {
        fn add(table: &DeTable<'_>, path: &str, all: &mut Vec<String>) {
            for (key, value) in table.iter() {
                let here = join(path, key.get_ref());
                match value.get_ref() {
                    DeValue::Table(table) => add(table, &here, all),
                    _ => all.push(here),
                }
            }
        }
        let mut all = Vec::new();
        if let Some(table) = self.value(path).and_then(|value| value.get_ref().as_table()) {
            add(table, "", &mut all);
        }
        all
    }

    /// The line above the one that the top-level key `key` is on.
    pub fn line_above(&self, key: &str) -> Option<&'t str> {
        let (key, _) = self.root.get_ref().iter().find(|(k, _)| *k.get_ref() == key)?;
        self.text[..self.boundary(key.span().start)].lines().next_back()
    }

    /// How many problems there are so far.
    pub const fn mark(&self) -> usize {
        self.list.len()
    }

    /// Forgets the problems that were noted since a mark.
    pub fn forget_since(&mut self, mark: usize) {
        self.list.truncate(mark);
    }

    /// The keys of the table at `path`, none where there is no table.
    pub fn keys(&self, path: &str) -> Vec<String> {
        let table = self.value(path).and_then(|v| v.get_ref().as_table());
        table.map(|t| t.keys().map(|k| k.get_ref().clone().into_owned()).collect()).unwrap_or_default()
    }

    /// Whether something within `path` is wrong so far.
    pub fn is_wrong_within(&self, path: &str) -> bool {
        let within =
            |key: &str| key.strip_prefix(path).is_some_and(|rest| rest.is_empty() || rest.starts_with(['.', '[']));
        self.list.iter().any(|p| within(&p.key))
    }

    /// The table at `path` (empty: the whole document) as a `T`, without the keys in `without`. `None` where something
    /// in it is wrong, all of which is then noted.
    pub fn read<T: DeserializeOwned>(&mut self, path: &str, without: &[&str]) -> Option<T> {
        let before = self.list.len();
        self.read_sound_part(path, without).filter(|_| self.list.len() == before)
    }

    /// As [`read`](Self::read), but gives what is left when every entry that is wrong is taken out, so that the rest can
    /// be checked too. `None` where the rest is no `T`.
    pub fn read_sound_part<T: DeserializeOwned>(&mut self, path: &str, without: &[&str]) -> Option<T> {
        let (mut table, span) = if path.is_empty() {
            (self.root.get_ref().clone(), self.root.span())
        } else {
            let found = self.value(path).map(|v| (v.span(), v.get_ref().as_table().cloned()));
            match found {
                Some((span, Some(table))) => (table, span),
                Some((span, None)) => {
                    self.note(path.to_owned(), Some(span), "must be a table".to_owned());
                    return None;
                }
                None => (DeTable::new(), 0..0),
            }
        };
        for key in without {
            table.remove(*key);
        }
        let stand_ins = stand_ins();
        let mut taken: Vec<String> = Vec::new();
        let mut filled_in: Vec<String> = Vec::new();
        let mut left = (READ_AGAIN / self.text.len().max(1)).clamp(MOST / 10, 20 * MOST);
        loop {
            let error = match deserialize::<T>(&table, &span) {
                Ok(made) => return Some(made),
                Err(error) => error,
            };
            left = left.saturating_sub(1);
            if left == 0 || self.is_truncated() {
                let end = self.text.len();
                self.note(
                    String::new(),
                    Some(end..end),
                    "there may be more problems: the check stopped here".to_owned(),
                );
                return None;
            }
            let message = reword(error.message());
            let missing = message.strip_prefix("missing key `").and_then(|m| m.strip_suffix('`'));
            let at = error.span();
            if let Some(key) = missing {
                let holder = at.as_ref().and_then(|s| holder(&table, s, ""));
                let (place, bytes) = holder.clone().unwrap_or_else(|| (String::new(), span.clone()));
                // A key that was there and wrong has been reported as that; the keys of a stand-in are in no document.
                if bytes != STAND_IN && !taken.contains(&join(&place, key)) {
                    let bytes = self.first_line(bytes);
                    self.note(join(path, &place), Some(bytes), message.clone());
                }
                let fits = |stand_in: &DeValue<'static>| {
                    let mut filled = table.clone();
                    put(&mut filled, &place, key, stand_in)?;
                    let same =
                        |e: toml::de::Error| e.span() == Some(STAND_IN) && !e.message().contains("missing field");
                    (!deserialize::<T>(&filled, &span).err().is_some_and(same)).then_some(filled)
                };
                // Still missing after it was put in: it is not the table that it seemed to be (two may have the same bytes).
                if filled_in.contains(&join(&place, key)) {
                    return None;
                }
                filled_in.push(join(&place, key));
                // Each value that is tried reads it all.
                left = left.saturating_sub(stand_ins.len() / 2);
                table = stand_ins.iter().find_map(fits)?;
                continue;
            }
            let out = at.as_ref().and_then(|s| take_out(&mut table, s, ""));
            let (place, bytes) = match &out {
                Some((place, bytes)) => (place.as_str(), bytes.clone()),
                None => ("", at.unwrap_or_else(|| span.clone())),
            };
            if bytes != STAND_IN {
                self.note(join(path, place), Some(bytes), message);
            }
            taken.push(out?.0);
        }
    }

    /// The first line of `bytes`.
    fn first_line(&self, bytes: Range<usize>) -> Range<usize> {
        let end = self.boundary(bytes.end);
        let start = self.boundary(bytes.start).min(end);
        start..self.text[start..end].find('\n').map_or(end, |n| start + n)
    }

    /// The value at `path`.
    fn value(&self, path: &str) -> Option<&Spanned<DeValue<'t>>> {
        let mut parts = path_parts(path).into_iter();
        let mut here = self.root.get_ref().get(parts.next()?.as_str())?;
        for part in parts {
            here = match here.get_ref() {
                DeValue::Table(table) => table.get(part.as_str())?,
                DeValue::Array(array) => array.get(part.parse::<usize>().ok()?)?,
                _ => return None,
            };
        }
        Some(here)
    }

    /// The bytes of the value at `path`, or of the nearest thing around it that exists.
    fn locate(&self, path: &str) -> Option<Range<usize>> {
        let mut path = path.to_owned();
        loop {
            if let Some(found) = self.value(&path) {
                return Some(found.span());
            }
            let cut = path.rfind(['.', '[']).unwrap_or(0);
            if cut == 0 {
                return None;
            }
            path.truncate(cut);
        }
    }
}

fn deserialize<T: DeserializeOwned>(table: &DeTable<'_>, span: &Range<usize>) -> Result<T, toml::de::Error> {
    T::deserialize(ValueDeserializer::from(Spanned::new(span.clone(), DeValue::Table(table.clone()))))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::message::unknown;
    use serde::Deserialize;
    use std::collections::BTreeMap;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Inner {
        curve: String,
        #[serde(default, deserialize_with = "crate::document::numbers::some_numbers")]
        lights: Option<[f64; 3]>,
    }

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Outer {
        #[expect(dead_code)]
        title: String,
        #[serde(default)]
        cameras: BTreeMap<String, Inner>,
    }

    fn problems(text: &str) -> Vec<(String, usize, String)> {
        let mut document = Document::parse("t.toml", text).unwrap();
        assert!(document.read::<Outer>("", &[]).is_none());
        document.into_problems().list.into_iter().map(|p| (p.key, p.line, p.message)).collect()
    }

    #[test]
    fn a_sound_document_is_read() {
        let text = "title = 'x'\n[cameras.a]\ncurve = 'slog3'\nlights = [1, 2.5, 3]\n";
        let mut document = Document::parse("t.toml", text).unwrap();
        let outer: Outer = document.read("", &[]).unwrap();
        assert_eq!(outer.cameras["a"].curve, "slog3");
        assert_eq!(outer.cameras["a"].lights, Some([1.0, 2.5, 3.0]));
        assert!(document.is_valid());
    }

    #[test]
    fn every_problem_is_reported_in_the_order_of_the_text() {
        let found = problems(
            "titel = 'x'\n[cameras.a]\ncurve = 3\nlights = [1, 'two', 3]\n[cameras.b]\ncurve = 'slog3'\nligths = [1,2,3]\n",
        );
        let keys: Vec<_> = found.iter().map(|(k, line, _)| (k.as_str(), *line)).collect();
        assert!(keys.contains(&("titel", 1)), "{found:?}");
        assert!(keys.contains(&("cameras.a.curve", 3)), "{found:?}");
        assert!(keys.contains(&("cameras.a.lights", 4)), "{found:?}");
        assert!(keys.contains(&("cameras.b.ligths", 7)), "{found:?}");
        assert!(found.iter().any(|(_, _, m)| m == "unknown key `ligths`: did you mean `lights`?"), "{found:?}");
        assert!(found.iter().any(|(_, _, m)| m == "missing key `title`"), "{found:?}");
        assert!(found.windows(2).all(|w| w[0].1 <= w[1].1));
    }

    #[test]
    fn a_list_of_another_length_is_refused() {
        for lights in ["[1, 2]", "[1, 2, 3, 4]", "[]"] {
            let found = problems(&format!("title = 'x'\n[cameras.a]\ncurve = 'vlog'\nlights = {lights}\n"));
            assert_eq!((found[0].0.as_str(), found[0].1), ("cameras.a.lights", 4));
            assert!(found[0].2.ends_with("but must be a list of 3"), "{found:?}");
        }
    }

    #[test]
    fn a_long_value_of_another_type_is_not_repeated_whole() {
        for (value, said) in [
            ("1e300", "is number `1e300`, but must be "),
            ("33.0", "is number `33.0`, but must be "),
            (&format!("'{}'", "a".repeat(3000)), "aaa..., but must be "),
        ] {
            let found = problems(&format!("title = 'x'\n[cameras.a]\ncurve = 'vlog'\nlights = {value}\n"));
            assert!(found[0].2.contains(said) && found[0].2.len() < 150, "{found:?}");
        }
    }

    #[test]
    fn a_missing_key_of_an_inner_table_is_placed_there() {
        let found = problems("title = 'x'\n[cameras.a]\nlights = [1,2,3]\n[cameras.b]\n");
        assert_eq!(found.len(), 2, "{found:?}");
        let found_in_empty = problems("[cameras.a]\n");
        assert_eq!(found_in_empty.len(), 2, "{found_in_empty:?}");
        assert_eq!((found[0].0.as_str(), found[0].1), ("cameras.a", 2));
        assert_eq!((found[1].0.as_str(), found[1].1), ("cameras.b", 4));
    }

    #[test]
    fn a_refusal_is_placed_by_its_path() {
        let text = "title = 'x'\n[[step]]\ndo = 'print'\nlights = [1, 2, 99]\n";
        let mut document = Document::parse("t.toml", text).unwrap();
        document.refuse_within("step[0]", [Invalid::new("lights[2]", "too much"), Invalid::new("missing", "gone")]);
        let problems = document.into_problems();
        assert_eq!(problems.to_string(), "t.toml:2:1: step[0].missing: gone\nt.toml:4:17: step[0].lights[2]: too much");
    }

    #[test]
    fn broken_syntax_has_line_and_column() {
        let problems = Document::parse("t.toml", "a = 1\nb = = 2\n").unwrap_err();
        assert_eq!(problems.list[0].line, 2);
        assert!(problems.to_string().starts_with("t.toml:2:5: not valid TOML"), "{problems}");
    }

    #[test]
    fn near_names_are_offered() {
        assert_eq!(unknown("curve", "slog-3", ["slog3", "vlog"]), "unknown curve `slog-3`: did you mean `slog3`?");
        for (given, known) in
            [("zzz", ["slog3", "vlog"]), ("mylog", ["dlog", "vlog"]), ("hue", ["cube", "tone"]), ("c", ["a", "b"])]
        {
            let list = known.join(", ");
            assert_eq!(unknown("name", given, known), format!("unknown name `{given}`: it must be one of {list}"));
        }
        // Two letters that changed places are one slip.
        assert!(unknown("look", "plian", ["plain"]).ends_with("did you mean `plain`?"));
    }
}
