//! XML text as a small tree with line numbers, within limits that a hostile file cannot pass.

use super::ClfError;
use quick_xml::XmlVersion;
use quick_xml::escape::resolve_predefined_entity;
use quick_xml::events::{BytesStart, Event};
use quick_xml::reader::Reader;

/// How deep elements may stand in one another.
const DEEPEST: usize = 16;
/// Elements that a file may have.
const MOST: usize = 20_000;

/// An element.
#[derive(Debug)]
pub(super) struct Element {
    pub(super) name: String,
    pub(super) line: usize,
    pub(super) attributes: Vec<(String, String)>,
    pub(super) children: Vec<Element>,
    pub(super) text: String,
    /// The line on which the text begins.
    pub(super) text_line: usize,
}

impl Element {
    pub(super) fn error<T>(&self, message: impl Into<String>) -> Result<T, ClfError> {
        Err(ClfError { line: self.line, message: format!("{}: {}", self.name, message.into()) })
    }

    pub(super) fn attribute(&self, name: &str) -> Option<&str> {
        self.attributes.iter().find(|(key, _)| key == name).map(|(_, value)| value.as_str())
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
        if place > self.at {
            self.line += self.text[self.at..place].iter().filter(|b| **b == b'\n').count();
            self.at = place;
        }
        self.line
    }
}

/// The root element of `text`.
pub(super) fn parse(text: &str) -> Result<Element, ClfError> {
    let mut reader = Reader::from_str(text);
    let mut lines = Lines { text: text.as_bytes(), at: 0, line: 1 };
    let mut open: Vec<Element> = Vec::new();
    let mut root = None;
    let mut count = 0;
    loop {
        let line = lines.at(reader.buffer_position());
        let error = |message: String| ClfError { line, message };
        let event = match reader.read_event() {
            Ok(event) => event,
            Err(e) => {
                let line = lines.at(reader.error_position());
                return Err(ClfError { line, message: format!("not well-formed XML: {e}") });
            }
        };
        match event {
            Event::Start(start) => {
                count += 1;
                if open.len() == DEEPEST || count > MOST {
                    return Err(error("more elements than any such file has".to_owned()));
                }
                if open.is_empty() && root.is_some() {
                    return Err(error("a second root element".to_owned()));
                }
                open.push(element(&start, line, lines.at(reader.buffer_position()))?);
            }
            Event::Empty(start) => {
                count += 1;
                if count > MOST {
                    return Err(error("more elements than any such file has".to_owned()));
                }
                let made = element(&start, line, line)?;
                match open.last_mut() {
                    Some(parent) => parent.children.push(made),
                    None if root.is_none() => root = Some(made),
                    None => return Err(error("a second root element".to_owned())),
                }
            }
            Event::End(_) => {
                let Some(done) = open.pop() else {
                    return Err(error("an end without a beginning".to_owned()));
                };
                match open.last_mut() {
                    Some(parent) => parent.children.push(done),
                    None => root = Some(done),
                }
            }
            Event::Text(text) => add(&mut open, &text.xml10_content(), line)?,
            Event::CData(text) => add(&mut open, &text.xml10_content(), line)?,
            Event::GeneralRef(name) => {
                let character = name.resolve_char_ref().map_err(|e| error(e.to_string()))?;
                let content = name.xml10_content();
                match (character, resolve_predefined_entity(&content)) {
                    (Some(c), _) => add(&mut open, c.encode_utf8(&mut [0; 4]), line)?,
                    (None, Some(text)) => add(&mut open, text, line)?,
                    (None, None) => return Err(error(format!("&{content}; is not defined"))),
                }
            }
            Event::DocType(_) => return Err(error("a document type: a CLF file has none".to_owned())),
            Event::Comment(_) | Event::Decl(_) | Event::PI(_) => {}
            Event::Eof => break,
        }
    }
    match (open.last(), root) {
        (Some(open), _) => open.error("it is not closed before the file ends"),
        (None, Some(root)) => Ok(root),
        (None, None) => Err(ClfError { line: 1, message: "no XML element: a CLF file holds a ProcessList".to_owned() }),
    }
}

fn add(open: &mut [Element], text: &str, line: usize) -> Result<(), ClfError> {
    match open.last_mut() {
        Some(element) => {
            element.text.push_str(text);
            Ok(())
        }
        None if text.trim().is_empty() || text == "\u{feff}" => Ok(()),
        None => Err(ClfError { line, message: "text outside of the ProcessList".to_owned() }),
    }
}

fn element(start: &BytesStart<'_>, line: usize, text_line: usize) -> Result<Element, ClfError> {
    let mut attributes = Vec::new();
    for attribute in start.attributes() {
        let pair = attribute.map_err(|e| ClfError { line, message: format!("not well-formed XML: {e}") })?;
        let value = pair
            .normalized_value(XmlVersion::Implicit1_0)
            .map_err(|e| ClfError { line, message: format!("not well-formed XML: {e}") })?;
        attributes.push((pair.key.into_inner().to_owned(), value.into_owned()));
    }
    Ok(Element {
        name: start.local_name().into_inner().to_owned(),
        line,
        attributes,
        children: Vec::new(),
        text: String::new(),
        text_line,
    })
}
