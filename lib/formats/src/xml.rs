//! XML text as a small tree with line numbers, within limits that a hostile file cannot pass.

mod write;

pub(super) use write::{Attributes, Xml, escaped};

use super::{LineError, line_of, scan};
use quick_xml::XmlVersion;
use quick_xml::escape::resolve_predefined_entity;
use quick_xml::events::{BytesStart, Event};
use quick_xml::reader::Reader;
use std::ops::Range;

/// How deep elements may stand in one another.
const DEEPEST: usize = 16;
/// Attributes that an element may have; each is compared with all before it.
const MOST_ATTRIBUTES: usize = 64;

/// A kind of file, for messages and limits.
#[derive(Debug, Clone, Copy)]
pub(super) struct Dialect {
    /// What the file is called.
    pub(super) file: &'static str,
    /// What its root is called.
    pub(super) root: &'static str,
    /// Elements that a file may have.
    pub(super) most: usize,
}

impl Dialect {
    /// A file's text.
    pub(super) fn text_of<'b>(&self, bytes: &'b [u8]) -> Result<&'b str, LineError> {
        std::str::from_utf8(bytes).map_err(|e| {
            let line = line_of(bytes, e.valid_up_to());
            LineError { line, message: format!("not UTF-8: a {} is", self.file) }
        })
    }
}

/// An element.
#[derive(Debug)]
pub(super) struct Element {
    pub(super) name: String,
    /// The namespace that its name is of, by the declarations in scope.
    pub(super) space: Option<String>,
    pub(super) line: usize,
    pub(super) attributes: Vec<(String, String)>,
    pub(super) children: Vec<Element>,
    pub(super) text: String,
    /// The line on which the text begins.
    pub(super) text_line: usize,
    /// Where it stands in the text that was parsed, with its tags; and what is between those.
    pub(super) span: Range<usize>,
    pub(super) inside: Range<usize>,
}

impl Element {
    pub(super) fn error<T>(&self, message: impl Into<String>) -> Result<T, LineError> {
        Err(LineError { line: self.line, message: format!("{}: {}", self.name, message.into()) })
    }

    /// What its text says, without the spaces around it.
    pub(super) fn said(&self) -> String {
        self.text.trim().to_owned()
    }

    pub(super) fn attribute(&self, name: &str) -> Option<&str> {
        self.attributes.iter().find(|(key, _)| key == name).map(|(_, value)| value.as_str())
    }
}

/// Ways to take an element apart.
impl Element {
    /// Refuses children other than those of `known` and descriptions.
    pub(super) fn only(&self, known: &[&str]) -> Result<(), LineError> {
        match self.children.iter().find(|c| c.name != "Description" && !known.contains(&c.name.as_str())) {
            Some(child) => child.error(format!("unknown in {}, which may have {}", self.name, known.join(", "))),
            None => Ok(()),
        }
    }

    /// The only child of that name.
    pub(super) fn single(&self, name: &str) -> Result<Option<&Self>, LineError> {
        self.single_where(|child| child.name == name)
    }

    /// The only child that `is` one of a kind.
    pub(super) fn single_where(&self, is: impl Fn(&Self) -> bool) -> Result<Option<&Self>, LineError> {
        let mut all = self.children.iter().filter(|c| is(c));
        let first = all.next();
        match (first, all.next()) {
            (Some(first), Some(second)) if first.name != second.name => {
                let line = first.line;
                second.error(format!("duplicate: a {} is on line {line} already", first.name))
            }
            (_, Some(second)) => second.error("duplicate: it may occur once"),
            (first, None) => Ok(first),
        }
    }

    /// Its descriptions.
    pub(super) fn descriptions(&self) -> Vec<String> {
        self.children.iter().filter(|c| c.name == "Description").map(Self::said).collect()
    }

    /// Finite numbers parted by blanks, such as `text`, which stands in it.
    pub(super) fn numbers_in(&self, text: &str) -> Result<Vec<f64>, LineError> {
        let mut numbers = Vec::new();
        for word in text.split_ascii_whitespace() {
            match scan::number(word.as_bytes()).filter(|(v, n)| *n == word.len() && v.abs() <= f64::from(f32::MAX)) {
                Some((value, _)) => numbers.push(value),
                None => return self.error(format!("`{word}` is not a finite number")),
            }
        }
        Ok(numbers)
    }
}

/// Counts lines up to places that only grow.
struct Lines<'t> {
    text: &'t [u8],
    at: usize,
    line: usize,
}

impl Lines<'_> {
    fn at(&mut self, place: u64) -> usize {
        let place = (place as usize).min(self.text.len());
        if let Some(passed) = self.text.get(self.at..place) {
            self.line += passed.iter().filter(|b| **b == b'\n').count();
            self.at = place;
        }
        self.line
    }
}

/// The root element of `text`.
pub(super) fn parse(text: &str, dialect: Dialect) -> Result<Element, LineError> {
    let mut reader = Reader::from_str(text);
    let mut lines = Lines { text: text.as_bytes(), at: 0, line: 1 };
    let mut open: Vec<Element> = Vec::new();
    let mut root = None;
    let mut count = 0;
    loop {
        let place = reader.buffer_position() as usize;
        let line = lines.at(place as u64);
        let error = |message: String| LineError { line, message };
        let event = match reader.read_event() {
            Ok(event) => event,
            Err(e) => {
                let line = lines.at(reader.error_position());
                return Err(LineError { line, message: format!("not well-formed XML: {e}") });
            }
        };
        match event {
            Event::Start(start) => {
                count += 1;
                if open.len() == DEEPEST || count > dialect.most {
                    return Err(error("more elements than any such file has".to_owned()));
                }
                if open.is_empty() && root.is_some() {
                    return Err(error("a second root element".to_owned()));
                }
                let mut made = element(&start, line, lines.at(reader.buffer_position()), &open)?;
                let after = reader.buffer_position() as usize;
                (made.span, made.inside) = (place..after, after..after);
                open.push(made);
            }
            Event::Empty(start) => {
                count += 1;
                if count > dialect.most {
                    return Err(error("more elements than any such file has".to_owned()));
                }
                let mut made = element(&start, line, line, &open)?;
                let after = reader.buffer_position() as usize;
                (made.span, made.inside) = (place..after, after..after);
                match open.last_mut() {
                    Some(parent) => parent.children.push(made),
                    None if root.is_none() => root = Some(made),
                    None => return Err(error("a second root element".to_owned())),
                }
            }
            Event::End(_) => {
                let Some(mut done) = open.pop() else {
                    return Err(error("an end without a beginning".to_owned()));
                };
                done.inside.end = place;
                done.span.end = reader.buffer_position() as usize;
                match open.last_mut() {
                    Some(parent) => parent.children.push(done),
                    None => root = Some(done),
                }
            }
            Event::Text(text) => add(&mut open, &text.xml10_content(), line, dialect)?,
            Event::CData(text) => add(&mut open, &text.xml10_content(), line, dialect)?,
            Event::GeneralRef(name) => {
                let character = name.resolve_char_ref().map_err(|e| error(e.to_string()))?;
                if let Some(c) = character.filter(|c| !is_xml(*c)) {
                    return Err(error(format!("not well-formed XML: &#{}; is not a character of XML", u32::from(c))));
                }
                let content = name.xml10_content();
                match (character, resolve_predefined_entity(&content)) {
                    (Some(c), _) => add(&mut open, c.encode_utf8(&mut [0; 4]), line, dialect)?,
                    (None, Some(text)) => add(&mut open, text, line, dialect)?,
                    (None, None) => return Err(error(format!("&{content}; is not defined"))),
                }
            }
            Event::DocType(_) => return Err(error(format!("a document type: a {} has none", dialect.file))),
            Event::Comment(_) | Event::Decl(_) | Event::PI(_) => {}
            Event::Eof => break,
        }
    }
    match (open.last(), root) {
        (Some(open), _) => open.error("it is not closed before the file ends"),
        (None, Some(root)) => Ok(root),
        (None, None) => {
            let message = format!("no XML element: a {} holds a {}", dialect.file, dialect.root);
            Err(LineError { line: 1, message })
        }
    }
}

/// Whether XML 1.0 has a character (section 2.2, `Char`).
const fn is_xml(c: char) -> bool {
    matches!(c, '\t' | '\n' | '\r' | '\u{20}'..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..)
}

fn add(open: &mut [Element], text: &str, line: usize, dialect: Dialect) -> Result<(), LineError> {
    if let Some(c) = text.chars().find(|c| !is_xml(*c)) {
        return Err(LineError {
            line,
            message: format!("not well-formed XML: character {} is not one of XML", u32::from(c)),
        });
    }
    match open.last_mut() {
        Some(element) => {
            element.text.push_str(text);
            Ok(())
        }
        None if text.trim().is_empty() || text == "\u{feff}" => Ok(()),
        None => Err(LineError { line, message: format!("text outside of the {}", dialect.root) }),
    }
}

fn element(start: &BytesStart<'_>, line: usize, text_line: usize, open: &[Element]) -> Result<Element, LineError> {
    let mut attributes: Vec<(String, String)> = Vec::new();
    for attribute in start.attributes() {
        if attributes.len() == MOST_ATTRIBUTES {
            return Err(LineError { line, message: format!("more than {MOST_ATTRIBUTES} attributes in one element") });
        }
        let pair = attribute.map_err(|e| LineError { line, message: format!("not well-formed XML: {e}") })?;
        let value = pair
            .normalized_value(XmlVersion::Implicit1_0)
            .map_err(|e| LineError { line, message: format!("not well-formed XML: {e}") })?;
        if let Some(c) = value.chars().find(|c| !is_xml(*c)) {
            let message = format!("not well-formed XML: character {} is not one of XML", u32::from(c));
            return Err(LineError { line, message });
        }
        attributes.push((pair.key.into_inner().to_owned(), value.into_owned()));
    }
    let declared = match start.name().prefix() {
        Some(prefix) => format!("xmlns:{}", prefix.into_inner()),
        None => "xmlns".to_owned(),
    };
    let own = attributes.iter().find(|(key, _)| *key == declared).map(|(_, value)| value.as_str());
    let space = own.or_else(|| open.iter().rev().find_map(|e| e.attribute(&declared)));
    if space.is_none() && declared != "xmlns" {
        return Err(LineError { line, message: format!("{declared} is not declared") });
    }
    Ok(Element {
        name: start.local_name().into_inner().to_owned(),
        space: space.filter(|s| !s.is_empty()).map(str::to_owned),
        line,
        attributes,
        children: Vec::new(),
        text: String::new(),
        text_line,
        span: 0..0,
        inside: 0..0,
    })
}
