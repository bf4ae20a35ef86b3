//! XML text, element by element, indented.

use quick_xml::Writer;
use quick_xml::escape::escape;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

/// Spaces of one level.
const INDENT: usize = 2;

pub(crate) type Attributes = Vec<(&'static str, String)>;

/// A file that is being written.
pub(crate) struct Xml(Writer<Vec<u8>>);

impl Xml {
    pub(crate) fn new() -> Self {
        let mut xml = Self(Writer::new_with_indent(Vec::new(), b' ', INDENT));
        xml.event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)));
        xml
    }

    /// The file's text.
    pub(crate) fn finish(self) -> String {
        let mut text = String::from_utf8(self.0.into_inner()).expect("what is written is UTF-8");
        text.push('\n');
        text
    }

    /// A comment, in which no two dashes may follow each other.
    pub(crate) fn comment(&mut self, text: &str) {
        let text = format!(" {} ", printable(text).replace("--", "- -"));
        self.event(Event::Comment(BytesText::from_escaped(text)));
    }

    /// Lines of their own, with nothing to escape, in an element that stands `level` deep.
    pub(crate) fn block(&mut self, mut text: String, level: usize) {
        text.push_str(&" ".repeat(level * INDENT));
        self.event(Event::Text(BytesText::from_escaped(text)));
    }

    fn event(&mut self, event: Event<'_>) {
        self.0.write_event(event).expect("memory takes any text");
    }

    fn start(name: &str, attributes: &Attributes) -> BytesStart<'static> {
        let mut start = BytesStart::new(name.to_owned());
        for (key, value) in attributes {
            start.push_attribute((*key, printable(value).as_str()));
        }
        start
    }

    pub(crate) fn open(&mut self, name: &str, attributes: &Attributes) {
        self.event(Event::Start(Self::start(name, attributes)));
    }

    pub(crate) fn close(&mut self, name: &str) {
        self.event(Event::End(BytesEnd::new(name)));
    }

    pub(crate) fn empty(&mut self, name: &str, attributes: &Attributes) {
        self.event(Event::Empty(Self::start(name, attributes)));
    }

    pub(crate) fn text(&mut self, name: &str, text: &str) {
        self.text_with(name, &Vec::new(), text);
    }

    pub(crate) fn text_with(&mut self, name: &str, attributes: &Attributes, text: &str) {
        self.open(name, attributes);
        self.event(Event::Text(BytesText::new(&printable(text))));
        self.close(name);
    }
}

/// Text as it stands between tags, or between quotes.
pub(crate) fn escaped(text: &str) -> String {
    escape(printable(text).as_str()).into_owned()
}

/// Text without the control characters that XML has no room for.
fn printable(text: &str) -> String {
    text.chars().map(|c| if c.is_control() && !matches!(c, '\n' | '\t') { '?' } else { c }).collect()
}
