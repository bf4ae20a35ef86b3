//! What is wrong with the syntax of a document, in words: the parser's own, or the mistake that is behind them.

use crate::message::beginning;
use std::collections::BTreeMap;
use std::ops::Range;

/// A problem of syntax: its bytes, and what is wrong.
pub(super) type Wrong = (Option<Range<usize>>, String);

/// The parser's errors as what was probably done, in their order; several that one mistake makes are one.
pub(super) fn explained(text: &str, errors: Vec<Wrong>) -> Vec<Wrong> {
    if let Some(markers) = merge_markers(text) {
        return vec![markers];
    }
    let lines = Lines::of(text);
    let mut found: Vec<Wrong> = Vec::new();
    for (span, message) in errors {
        let at = span.as_ref().map_or(0, |span| span.start).min(text.len());
        let (line, range) = lines.line_at(at);
        let wrong = if message.contains("duplicate key") {
            twice(&lines, at, line).map(|(span, message)| (Some(span), message))
        } else {
            mistake(&text[range.clone()]).map(|(within, message)| {
                (Some(range.start + within.start..range.start + within.end), format!("not valid TOML: {message}"))
            })
        };
        let wrong = wrong.unwrap_or_else(|| (span, format!("not valid TOML: {message}")));
        if !found.contains(&wrong) {
            found.push(wrong);
        }
    }
    found
}

/// The first mark that a merge left, where there is one.
fn merge_markers(text: &str) -> Option<Wrong> {
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        let is = |mark: &str| line.trim_end() == mark || line.starts_with(&format!("{mark} "));
        if is("<<<<<<<") || is(">>>>>>>") || is("|||||||") {
            let message = "a merge was not finished here: keep one of the two sides, and delete the lines <<<<<<<, ======= and >>>>>>>";
            return Some((Some(at..at + 7), message.to_owned()));
        }
        at += line.len();
    }
    None
}

/// What is often done in a line that the parser does not take: its bytes within the line, and what would be right.
fn mistake(line: &str) -> Option<(Range<usize>, String)> {
    let code = |c: char| format!("U+{:04X}", u32::from(c));
    // Within straight quotes anything may stand.
    let mut quoted: Option<char> = None;
    let odd = line.char_indices().find_map(|(at, c)| {
        match quoted {
            Some(quote) if c == quote => quoted = None,
            None if matches!(c, '"' | '\'') => quoted = Some(c),
            _ => {}
        }
        if quoted.is_some() {
            return None;
        }
        let what = match c {
            '\u{201c}' | '\u{201d}' | '\u{201e}' | '\u{2018}' | '\u{2019}' | '\u{ab}' | '\u{bb}' => {
                format!("a curly quote ({}): write a straight one, \"", code(c))
            }
            '\u{a0}' | '\u{2007}' | '\u{202f}' | '\u{2009}' | '\u{3000}' => {
                format!("a no-break space ({}): write an ordinary space", code(c))
            }
            '\u{200b}' | '\u{feff}' | '\u{2060}' => format!("an invisible character ({}): delete it", code(c)),
            '\u{2212}' | '\u{2013}' => format!("a dash ({}): write a hyphen, -, before a number below 0", code(c)),
            _ => return None,
        };
        Some((at..at + c.len_utf8(), what))
    });
    if odd.is_some() {
        return odd;
    }
    let Some(open) = line.find('{').filter(|open| line[..*open].trim_end().ends_with('=')) else {
        return wrong_value(line);
    };
    // A table in one line: each of its values by itself.
    let mut at = open + 1;
    line[at..].trim_end_matches('}').split(',').find_map(|pair| {
        let found = wrong_value(pair).map(|(within, message)| (at + within.start..at + within.end, message));
        at += pair.len() + 1;
        found
    })
}

/// The same of a key and its value.
fn wrong_value(line: &str) -> Option<(Range<usize>, String)> {
    let (key, value) = line.split_once('=')?;
    let begin = key.len() + 1 + (value.len() - value.trim_start().len());
    let value = value.trim();
    let place = begin..begin + value.len();
    let bare = key.trim();
    let is_key = !bare.is_empty() && bare.bytes().all(|b| b.is_ascii_alphanumeric() || matches!(b, b'_' | b'-'));
    if is_key && value.split('#').next().is_none_or(|value| value.trim().is_empty()) {
        return Some((key.len()..key.len() + 1, format!("the value of `{}` is missing after the =", beginning(bare))));
    }
    if let Some(inner) = value.strip_prefix('"') {
        let path = inner.split('"').next().unwrap_or(inner);
        return path.contains('\\').then(|| {
            (
                place,
                format!(
                    "a backslash in quotes starts an escape: write the path with forward slashes, \"{}\"",
                    beginning(&path.replace('\\', "/"))
                ),
            )
        });
    }
    let value = value.split('#').next().unwrap_or(value).trim();
    let digits = value.strip_prefix(['-', '+']).unwrap_or(value);
    let number: usize = digits.find(|c: char| !c.is_ascii_digit() && c != '.' && c != '_')?;
    if number == 0 {
        return None;
    }
    let end = value.len() - digits.len() + number;
    let rest = &value[end..];
    if let Some(decimals) = rest.strip_prefix(',').filter(|d| !d.is_empty() && d.bytes().all(|b| b.is_ascii_digit())) {
        return Some((place, format!("a comma in a number: write {}.{decimals}", &value[..end])));
    }
    let unit = rest.trim_start();
    let is_unit = unit.chars().count() <= 8 && unit.chars().all(|c| c.is_alphabetic() || "%°/".contains(c));
    (is_unit && !unit.is_empty() && !unit.starts_with(['e', 'E']))
        .then(|| (place, format!("a unit after a number: write {} alone", &value[..end])))
}

/// The lines of a document by where they begin.
struct Lines<'t> {
    text: &'t str,
    starts: Vec<usize>,
}

impl<'t> Lines<'t> {
    fn of(text: &'t str) -> Self {
        let starts = std::iter::once(0).chain(text.match_indices('\n').map(|(at, _)| at + 1)).collect();
        Self { text, starts }
    }

    /// The line, from 0, that holds the byte `at`, and its bytes.
    fn line_at(&self, at: usize) -> (usize, Range<usize>) {
        let line = self.starts.partition_point(|start| *start <= at).saturating_sub(1);
        (line, self.bytes(line))
    }

    fn bytes(&self, line: usize) -> Range<usize> {
        let end = self.starts.get(line + 1).map_or(self.text.len(), |next| next - 1);
        self.starts[line]..end
    }

    fn get(&self, line: usize) -> &'t str {
        self.text[self.bytes(line)].trim()
    }
}

/// What a line begins: a table, an entry of a list of tables, or a key.
fn begins(line: &str) -> Option<(char, String)> {
    let plain = |name: &str| name.chars().filter(|c| !c.is_whitespace() && *c != '"' && *c != '\'').collect::<String>();
    if let Some(entry) = line.strip_prefix("[[") {
        return Some(('l', plain(entry.split("]]").next()?)));
    }
    if let Some(table) = line.strip_prefix('[') {
        return Some(('t', plain(table.split(']').next()?)));
    }
    line.split_once('=').filter(|_| !line.starts_with('#')).map(|(key, _)| ('k', plain(key)))
}

/// What stands a second time at the byte `at` of line `line`: the whole table that it is in, or a key.
fn twice(lines: &Lines<'_>, at: usize, line: usize) -> Option<(Range<usize>, String)> {
    // The first line of each table, and of each key in the table that it is in.
    let mut tables: BTreeMap<String, usize> = BTreeMap::new();
    let mut keys: BTreeMap<String, usize> = BTreeMap::new();
    let mut second: Option<(usize, String, usize)> = None;
    for i in 0..=line {
        match begins(lines.get(i)) {
            Some(('t', name)) => {
                keys.clear();
                let first = *tables.entry(name.clone()).or_insert(i);
                second = (first < i).then_some((i, name, first));
            }
            Some(('l', name)) => {
                keys.clear();
                second = None;
                // The tables within belong to this entry.
                tables.retain(|table, _| !table.starts_with(&format!("{name}.")));
            }
            Some((_, key)) => {
                let first = *keys.entry(key.clone()).or_insert(i);
                if i == line && first < i && second.is_none() {
                    let message = format!("duplicate key `{}`: the first is on line {}", beginning(&key), first + 1);
                    return Some((at..lines.bytes(i).end, message));
                }
            }
            None => {}
        }
    }
    let (i, name, first) = second?;
    let message = format!("duplicate table [{}]: the first is on line {}", beginning(&name), first + 1);
    Some((lines.bytes(i), message))
}

#[cfg(test)]
mod tests {
    use crate::document::Document;

    #[test]
    fn mistakes_are_said_as_what_was_done() {
        for (text, said) in [
            ("a = 1\nstops = -0,4\n", &["2:9: not valid TOML: a comma in a number: write -0.4"][..]),
            ("title =\n", &["1:7: not valid TOML: the value of `title` is missing after the ="]),
            ("title = # night\n", &["1:7: not valid TOML: the value of `title` is missing after the ="]),
            ("kelvin = 5400K\n", &["1:10: not valid TOML: a unit after a number: write 5400 alone"]),
            ("kelvin = 5400 K # warm\n", &["1:10: not valid TOML: a unit after a number: write 5400 alone"]),
            ("a = { x = 1, kelvin = 5400K }\n", &["1:23: not valid TOML: a unit after a number: write 5400 alone"]),
            ("title = \u{201c}Night\u{201d}\n", &["1:9: not valid TOML: a curly quote (U+201C): write a straight one"]),
            ("stops =\u{a0}1\n", &["1:8: not valid TOML: a no-break space (U+00A0): write an ordinary space"]),
            ("stops = \u{2212}1\n", &["1:9: not valid TOML: a dash (U+2212): write a hyphen"]),
            ("look = \"looks\\day.toml\"\n", &["1:8: not valid TOML: a backslash in quotes", "\"looks/day.toml\""]),
            ("[a]\nx = 1\n[b]\ny = 1\n[a]\nx = 2\nz = 1\n", &["5:1: duplicate table [a]: the first is on line 1"]),
            ("[a]\nx = 1\ny = 1\nx = 2\n", &["4:1: duplicate key `x`: the first is on line 2"]),
            ("[a]\n<<<<<<< HEAD\nx = 1\n=======\nx = 2\n>>>>>>> night\n", &["2:1: a merge was not finished here"]),
            ("a = \"\u{2013} \u{201c}x\u{201d}\" 2\n", &["1:"]),
            ("b = = 2\n", &["1:5: not valid TOML: "]),
        ] {
            let problems = Document::parse("t", text).expect_err(text);
            let all = problems.to_string();
            assert!(said.iter().all(|part| all.contains(part)), "{said:?} is not in {all}");
            assert!(all.starts_with(&format!("t:{}", said[0])), "{all}");
            let is_known = !said[0].ends_with([':', ' ']);
            assert!(!is_known || problems.list.len() == 1, "once: {all}");
        }
    }
}
