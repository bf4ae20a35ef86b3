//! Cube text to tables.
//!
//! One code path for both kinds of reading: whatever departs from the specification and can be let pass goes through
//! [`Reader::depart`], which is an error for the strict and a warning for the tolerant.

use super::{CubeError, CubeFile, LINE_LIMIT, NUMBER_LIMIT, Rule, Strictness, Warning};
use crate::scan;
use rushlight_colour::cube::{Cube, Curves, ENTRIES, SIZES, Table, UNIT};
use rushlight_colour::invalid::Refusals;
use rushlight_colour::message::unknown;
use std::borrow::Cow;
use std::ops::RangeInclusive;

/// The specification's keywords.
const KEYWORDS: [&str; 5] = ["TITLE", "DOMAIN_MIN", "DOMAIN_MAX", "LUT_1D_SIZE", "LUT_3D_SIZE"];
/// Keywords of older writers: two bounds of the input for all channels.
const OLDER: [&str; 2] = ["LUT_1D_INPUT_RANGE", "LUT_3D_INPUT_RANGE"];
/// The shortest row there is: `0 0 0` and its newline.
const SHORTEST_ROW: usize = 6;
const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";

/// Reads a cube file.
///
/// Memory is bounded by the length of `text`, whatever size it declares.
///
/// # Errors
/// The first rule that the file breaks, with its line: of all rules when `strictness` is strict, of those that leave the
/// table in doubt when it is tolerant.
pub fn read(mut text: &[u8], strictness: Strictness) -> Result<CubeFile, CubeError> {
    let mut reader = Reader { strictness, line: 1, warnings: Vec::new(), header: Header::default() };
    if let Some(rest) = text.strip_prefix(BYTE_ORDER_MARK) {
        reader.depart(Rule::Characters, "a byte order mark: the file starts with its first line")?;
        text = rest;
    }
    let mut text = Cow::Borrowed(text);
    if text.contains(&b'\r') && !text.contains(&b'\n') {
        reader.depart(Rule::LineEnd, "lines end in a carriage return alone: they must end in a newline, 0x0A")?;
        text = Cow::Owned(text.iter().map(|b| if *b == b'\r' { b'\n' } else { *b }).collect());
    }
    let rest = reader.head(&text)?;
    let rows = reader.table(rest)?;
    reader.finish(rows)
}

struct Reader {
    strictness: Strictness,
    line: usize,
    warnings: Vec<Warning>,
    header: Header,
}

/// The keywords met so far.
#[derive(Default)]
struct Header {
    title: Option<String>,
    min: Option<[f64; 3]>,
    max: Option<[f64; 3]>,
    one: Option<usize>,
    three: Option<usize>,
    one_range: Option<[f64; 2]>,
    three_range: Option<[f64; 2]>,
}

impl Header {
    /// Rows of the whole file.
    fn rows(&self) -> usize {
        self.one.unwrap_or(0) + self.three.map_or(0, |n| n * n * n)
    }

    /// What asks for that many rows.
    fn asks(&self) -> String {
        match (self.one, self.three) {
            (Some(one), Some(three)) => format!("LUT_1D_SIZE {one} and LUT_3D_SIZE {three}"),
            (Some(one), None) => format!("LUT_1D_SIZE {one}"),
            (_, three) => format!("LUT_3D_SIZE {}", three.unwrap_or(0)),
        }
    }
}

/// What comes before the first byte that is `wanted`, and what comes after it; all and nothing where there is none.
fn halves(text: &[u8], wanted: impl Fn(&u8) -> bool) -> (&[u8], &[u8]) {
    let mut parts = text.splitn(2, wanted);
    (parts.next().unwrap_or_default(), parts.next().unwrap_or_default())
}

/// A line without its newline, and those after it.
fn first_line(text: &[u8]) -> (&[u8], &[u8]) {
    halves(text, |b| *b == b'\n')
}

/// Text for a message, cut to a sane length.
fn quoted(bytes: &[u8]) -> String {
    const MOST: usize = 40;
    let text = String::from_utf8_lossy(bytes);
    let cut: String = text.chars().take(MOST).map(|c| if c.is_control() { '?' } else { c }).collect();
    if text.chars().count() > MOST { format!("`{cut}...`") } else { format!("`{cut}`") }
}

fn is_blank(byte: &u8) -> bool {
    matches!(byte, b' ' | b'\t' | b'\r' | 0x0b | 0x0c)
}

fn trim(mut line: &[u8]) -> &[u8] {
    while let [first, rest @ ..] = line
        && is_blank(first)
    {
        line = rest;
    }
    while let [rest @ .., last] = line
        && is_blank(last)
    {
        line = rest;
    }
    line
}

impl Reader {
    fn error<T>(&self, rule: Rule, message: impl Into<String>) -> Result<T, CubeError> {
        Err(CubeError { line: self.line, rule, message: message.into() })
    }

    /// A departure from the specification that does not make the table ambiguous.
    fn depart(&mut self, rule: Rule, message: impl Into<String>) -> Result<(), CubeError> {
        if self.strictness == Strictness::Strict {
            return self.error(rule, message);
        }
        let message = message.into();
        match self.warnings.iter_mut().find(|w| w.rule == rule && w.message == message) {
            Some(warning) => warning.count += 1,
            None => self.warnings.push(Warning { line: self.line, rule, message, count: 1 }),
        }
        Ok(())
    }

    /// Reads up to the first row of the table; what is left.
    fn head<'t>(&mut self, mut text: &'t [u8]) -> Result<&'t [u8], CubeError> {
        while !text.is_empty() {
            let (raw, rest) = first_line(text);
            if matches!(trim(raw).first(), Some(b'+'..=b':')) {
                break;
            }
            let content = self.content(raw)?;
            if !content.is_empty() {
                self.keyword(content)?;
            }
            text = rest;
            self.line += 1;
        }
        Ok(text)
    }

    /// What a line says, without the blanks about it; nothing for a comment.
    fn content<'t>(&mut self, raw: &'t [u8]) -> Result<&'t [u8], CubeError> {
        if raw.len() > LINE_LIMIT {
            self.depart(Rule::LineLength, format!("longer than the {LINE_LIMIT} bytes that a line may have"))?;
        }
        let mut line = raw;
        // A carriage return before the newline belongs to the line's end.
        if let [rest @ .., b'\r'] = line {
            line = rest;
        }
        let content = trim(line);
        if content.is_empty() {
            self.depart(Rule::BlankLine, "a blank line: a line is a keyword, a comment or a row")?;
            return Ok(content);
        }
        if content.iter().any(|b| !matches!(b, b' '..=b'~' | b'\t')) {
            self.depart(Rule::Characters, "characters beyond ASCII: a cube file is plain text")?;
        }
        if content.starts_with(b"#") {
            if !line.starts_with(b"#") {
                self.depart(Rule::Comment, "blanks before a comment: `#` comes first on its line")?;
            }
            return Ok(&[]);
        }
        if line.first().is_some_and(is_blank) {
            self.depart(Rule::Spaces, "blanks before the first field of the line")?;
        }
        if line.last().is_some_and(is_blank) {
            self.depart(Rule::Spaces, "blanks after the last field of the line")?;
        }
        if content.contains(&b'\t') {
            self.depart(Rule::Spaces, "a tab: fields are parted by spaces")?;
        }
        Ok(content)
    }

    /// A keyword line of the head.
    fn keyword(&mut self, content: &[u8]) -> Result<(), CubeError> {
        let (word, rest) = halves(content, is_blank);
        let given = String::from_utf8_lossy(word).into_owned();
        let upper = given.to_ascii_uppercase();
        let rest = trim(rest);
        if !KEYWORDS.contains(&upper.as_str()) && !OLDER.contains(&upper.as_str()) {
            // NaN and infinity begin with a letter too.
            if self.header.rows() > 0 && matches!(upper.as_str(), "NAN" | "INF" | "INFINITY") {
                return self.error(Rule::Number, format!("{} is not a number: no NaN, no infinity", quoted(content)));
            }
            // A file that is no cube keeps its words for itself: a document may name any file.
            let is_keyword =
                word.len() <= 40 && word.iter().all(|b| b.is_ascii_uppercase() || matches!(b, b'_' | b'0'..=b'9'));
            let said = if is_keyword {
                unknown("keyword", &quoted(word).replace('`', ""), KEYWORDS)
            } else {
                "neither a keyword nor a row of numbers: is it a cube?".to_owned()
            };
            return self.error(Rule::Keyword, said);
        }
        if upper != given {
            self.depart(Rule::Keyword, format!("`{given}`: keywords are in upper case, `{upper}`"))?;
        }
        match upper.as_str() {
            "TITLE" => {
                let title = self.title(rest)?;
                once(&mut self.header.title, title)
            }
            "DOMAIN_MIN" => {
                let bound = self.numbers(rest, Rule::Domain, "DOMAIN_MIN")?;
                once(&mut self.header.min, bound)
            }
            "DOMAIN_MAX" => {
                let bound = self.numbers(rest, Rule::Domain, "DOMAIN_MAX")?;
                once(&mut self.header.max, bound)
            }
            "LUT_1D_SIZE" => {
                let size = self.size(rest, ENTRIES, "LUT_1D_SIZE")?;
                self.second_size(self.header.three.is_some())?;
                once(&mut self.header.one, size)
            }
            "LUT_3D_SIZE" => {
                let size = self.size(rest, SIZES, "LUT_3D_SIZE")?;
                self.second_size(self.header.one.is_some())?;
                once(&mut self.header.three, size)
            }
            older => {
                let message = format!("`{older}` is an obsolete keyword: use DOMAIN_MIN and DOMAIN_MAX");
                self.depart(Rule::Keyword, message)?;
                let range = self.numbers(rest, Rule::Domain, older)?;
                let slot = match older {
                    "LUT_1D_INPUT_RANGE" => &mut self.header.one_range,
                    _ => &mut self.header.three_range,
                };
                once(slot, range)
            }
        }
        .or_else(|()| self.error(Rule::Repeated, format!("duplicate {upper}: it may occur once")))
    }

    /// A size where another stands already is a shaper's, which only the tolerant know.
    fn second_size(&mut self, is_second: bool) -> Result<(), CubeError> {
        if !is_second {
            return Ok(());
        }
        let message = "LUT_1D_SIZE and LUT_3D_SIZE: a file has one of the two; read as curves in front of a cube";
        self.depart(Rule::Size, message)
    }

    fn title(&mut self, rest: &[u8]) -> Result<String, CubeError> {
        let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
        let Some(inner) = rest.strip_prefix(b"\"") else {
            let what = if rest.is_empty() { "no title" } else { "a title without quotes" };
            self.depart(Rule::Title, format!("{what}: TITLE is followed by its text in double quotes"))?;
            return Ok(text(rest));
        };
        let (title, after) = halves(inner, |b| *b == b'"');
        if title.len() == inner.len() {
            self.depart(Rule::Title, "the title's closing quote is missing")?;
        } else if !after.is_empty() {
            self.depart(Rule::Title, "text after the closing quote of the title is ignored")?;
        }
        Ok(text(title))
    }

    fn size(&mut self, rest: &[u8], bounds: RangeInclusive<usize>, key: &str) -> Result<usize, CubeError> {
        let rest = self.without_trailing_comment(rest)?;
        let digits = if rest.iter().all(u8::is_ascii_digit) { std::str::from_utf8(rest).ok() } else { None };
        match digits.and_then(|d| d.parse().ok()).filter(|size| bounds.contains(size)) {
            Some(size) => Ok(size),
            None => {
                let (least, most) = (bounds.start(), bounds.end());
                self.error(Rule::Size, format!("{key} {}: a whole number from {least} to {most}", quoted(rest)))
            }
        }
    }

    /// `rest` up to a `#`, which the tolerant take for a comment.
    fn without_trailing_comment<'t>(&mut self, rest: &'t [u8]) -> Result<&'t [u8], CubeError> {
        let (values, _) = halves(rest, |b| *b == b'#');
        if values.len() == rest.len() {
            return Ok(rest);
        }
        self.depart(Rule::Comment, "a comment after values: put it on a separate line")?;
        Ok(trim(values))
    }

    /// `N` numbers and nothing else.
    fn numbers<const N: usize>(&mut self, rest: &[u8], rule: Rule, what: &str) -> Result<[f64; N], CubeError> {
        let rest = self.without_trailing_comment(rest)?;
        let mut values = [0.0; N];
        let mut count = 0;
        for field in rest.split(is_blank).filter(|f| !f.is_empty()) {
            let value = scan::number(field).filter(|(v, length)| *length == field.len() && v.abs() <= NUMBER_LIMIT);
            let Some((value, _)) = value else {
                let comma = field.contains(&b',');
                let hint = if comma { ": the decimal sign is a point, fields are parted by spaces" } else { "" };
                let is_large = scan::number(field).is_some_and(|(_, length)| length == field.len());
                let why = if is_large { "is too large: 1e37 at most, of either sign" } else { "is not a number" };
                return self.error(Rule::Number, format!("{} {why}{hint}", quoted(field)));
            };
            if let Some(slot) = values.get_mut(count) {
                *slot = value;
            }
            count += 1;
        }
        if count == N { Ok(values) } else { self.error(rule, format!("{count} numbers: {what} has {N}")) }
    }

    /// Reads the table, which is the rest of the file.
    fn table(&mut self, mut text: &[u8]) -> Result<Vec<[f64; 3]>, CubeError> {
        let count = self.header.rows();
        if count == 0 {
            let before = if text.is_empty() { "the file ends without" } else { "a row of the table before" };
            self.line = if text.is_empty() { (self.line - 1).max(1) } else { self.line };
            return self.error(Rule::Size, format!("{before} LUT_1D_SIZE or LUT_3D_SIZE"));
        }
        let mut rows: Vec<[f64; 3]> = Vec::with_capacity(count.min(text.len() / SHORTEST_ROW + 1));
        // The line to name when the file ends too soon.
        let mut last = self.line.saturating_sub(usize::from(text.is_empty())).max(1);
        while !text.is_empty() {
            if rows.len() < count
                && let Some((row, rest)) = plain_row(text)
            {
                rows.push(row);
                last = self.line;
                text = rest;
                self.line += 1;
                continue;
            }
            let (raw, rest) = first_line(text);
            let content = self.content(raw)?;
            if !content.is_empty() {
                last = self.line;
                match self.later_line(content)? {
                    Some(_) if rows.len() == count => {
                        let message = format!("more rows than the {count} of {}", self.header.asks());
                        return self.error(Rule::RowCount, message);
                    }
                    Some(row) => rows.push(row),
                    None => {}
                }
            }
            text = rest;
            self.line += 1;
        }
        if rows.len() < count {
            self.line = last;
            let message = format!("the file ends after {} of the {count} rows of {}", rows.len(), self.header.asks());
            return self.error(Rule::RowCount, message);
        }
        Ok(rows)
    }

    /// A line of the table that is no comment.
    fn later_line(&mut self, content: &[u8]) -> Result<Option<[f64; 3]>, CubeError> {
        let word = String::from_utf8_lossy(halves(content, is_blank).0).to_ascii_uppercase();
        if KEYWORDS.contains(&word.as_str()) || OLDER.contains(&word.as_str()) {
            return self.error(Rule::Order, format!("{word} after the table has begun: keywords come first"));
        }
        self.numbers(content, Rule::Row, "a row").map(Some)
    }

    fn finish(self, mut rows: Vec<[f64; 3]>) -> Result<CubeFile, CubeError> {
        let Header { title, min, max, one, three, one_range, three_range } = &self.header;
        let last = self.line.saturating_sub(1).max(1);
        let error = |rule, message: String| CubeError { line: last, rule, message };
        let given = (min.is_some() || max.is_some()).then(|| [min.unwrap_or(UNIT[0]), max.unwrap_or(UNIT[1])]);
        let older = |range: &Option<[f64; 2]>| range.map(|[low, high]| [[low; 3], [high; 3]]);
        if given.is_some() && (one_range.is_some() || three_range.is_some()) {
            let message = "DOMAIN_MIN or DOMAIN_MAX beside an input range: the domain is given twice";
            return Err(error(Rule::Domain, message.to_owned()));
        }
        for (range, size, key) in [(one_range, one, OLDER[0]), (three_range, three, OLDER[1])] {
            if range.is_some() && size.is_none() {
                return Err(error(Rule::Domain, format!("{key}: the file has no such table")));
            }
        }
        let refused = |all: Refusals| {
            let first = all.first();
            let rule = if first.is_some_and(|r| r.key == "domain") { Rule::Domain } else { Rule::Number };
            error(rule, first.map(ToString::to_string).unwrap_or_default())
        };
        // The first table that a colour meets has the domain that DOMAIN_MIN and DOMAIN_MAX give.
        let one_domain = older(one_range).or(given).unwrap_or(UNIT);
        let cube_domain = older(three_range).or(if one.is_none() { given } else { None }).unwrap_or(UNIT);
        let (shaper, table) = match (*one, *three) {
            (Some(entries), Some(size)) => {
                let nodes = rows.split_off(entries);
                let shaper = Curves::new(one_domain, rows).map_err(refused)?;
                (Some(shaper), Table::Cube(Cube::new(size, cube_domain, nodes).map_err(refused)?))
            }
            (None, Some(size)) => (None, Table::Cube(Cube::new(size, cube_domain, rows).map_err(refused)?)),
            _ => (None, Table::Curves(Curves::new(one_domain, rows).map_err(refused)?)),
        };
        Ok(CubeFile { title: title.clone().unwrap_or_default(), shaper, table, warnings: self.warnings })
    }
}

fn once<T>(slot: &mut Option<T>, value: T) -> Result<(), ()> {
    match slot.replace(value) {
        None => Ok(()),
        Some(_) => Err(()),
    }
}

/// A row by the letter, single spaces between, and the lines after it. Every other line gives `None` and is looked at
/// closely.
#[inline]
fn plain_row(text: &[u8]) -> Option<([f64; 3], &[u8])> {
    let mut row = [0.0; 3];
    let mut rest = text;
    for (value, after) in row.iter_mut().zip(*b"  \n") {
        let (number, length) = scan::number(rest)?;
        rest = rest.get(length..)?;
        if after == b'\n' {
            rest = rest.strip_prefix(b"\r").unwrap_or(rest);
        }
        rest = rest.strip_prefix(&[after])?;
        if number.abs() > NUMBER_LIMIT {
            return None;
        }
        *value = number;
    }
    (text.len() - rest.len() <= LINE_LIMIT + 1).then_some((row, rest))
}

#[cfg(test)]
mod tests;
