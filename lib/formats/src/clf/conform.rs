//! What a CLF file that can be read does against the letter of the specification.

use super::read::{ID, NODES};
use super::{DIALECT, LineError, VERSION};
use crate::line_of;
use crate::xml::{self, Element};
use rushlight_colour::message::unknown;
use std::fmt;

/// Sides of a 3D table beyond which the specification advises against it.
const ADVISED_3D: usize = 128;

/// A departure from the specification that does not make the file ambiguous.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Departure {
    /// The line, from 1.
    pub line: usize,
    /// The rule's name in reports, one of [`RULES`].
    pub rule: &'static str,
    /// What is there and what would be right.
    pub message: String,
}

impl fmt::Display for Departure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: {} ({})", self.line, self.message, self.rule)
    }
}

/// Names of the rules: the XML declaration; newlines alone; the version written; what identifies the file; the order of
/// elements; elements that occur once; attributes that the specification has; text where elements stand; dimensions of two
/// numbers for a matrix; sides of a cube; parameters that a style does not have.
pub const RULES: [&str; 11] =
    ["declaration", "line-end", "version", "id", "order", "repeated", "attribute", "text", "dim", "size", "style"];

/// Departures of a file, by line.
///
/// # Errors
/// Text that is not XML. What [`read`](super::read()) refuses is not looked for here.
pub fn departures(text: &[u8]) -> Result<Vec<Departure>, LineError> {
    let text = DIALECT.text_of(text)?;
    let root = xml::parse(text, DIALECT)?;
    let mut found = Found(Vec::new());
    found.declaration(text);
    if let Some(at) = text.find('\r') {
        found.note(line_of(text.as_bytes(), at), "line-end", "a carriage return: lines end in a newline alone");
    }
    found.list(&root);
    // Stable: of one line, in the order in which they were found.
    found.0.sort_by_key(|departure| departure.line);
    Ok(found.0)
}

struct Found(Vec<Departure>);

impl Found {
    fn note(&mut self, line: usize, rule: &'static str, message: impl Into<String>) {
        self.0.push(Departure { line, rule, message: message.into() });
    }

    fn at(&mut self, element: &Element, rule: &'static str, message: impl fmt::Display) {
        self.note(element.line, rule, format!("{}: {message}", element.name));
    }

    fn declaration(&mut self, text: &str) {
        const RIGHT: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>";
        let start = text.trim_start_matches('\u{feff}');
        let given = start.strip_prefix("<?xml ").and_then(|rest| rest.split_once("?>")).map(|(given, _)| given);
        match given {
            None => self.note(1, "declaration", format!("no XML declaration: a file begins with {RIGHT}")),
            Some(given) => {
                let given = given.replace('\'', "\"");
                let says = |what: &str| given.to_ascii_lowercase().contains(what);
                if !says("version=\"1.0\"") || !says("encoding=\"utf-8\"") {
                    self.note(1, "declaration", format!("`<?xml {given}?>`: a file begins with {RIGHT}"));
                }
            }
        }
    }

    fn list(&mut self, root: &Element) {
        self.attributes(root, &["id", "compCLFversion", "name", "inverseOf"]);
        if root.attribute("id").is_some_and(|id| id.trim().is_empty()) {
            self.at(root, "id", "an empty id: it identifies the file");
        }
        if let Some(version) = root.attribute("compCLFversion").filter(|v| *v != VERSION) {
            self.at(root, "version", format!("compCLFversion `{version}`: it must be {VERSION}"));
        }
        if let Some(id) = root.children.iter().find(|child| child.name == ID) {
            self.at(id, "id", "an element: the attribute `id` of ProcessList identifies a file by CLF v3.0");
        }
        if root.attribute("compCLFversion").is_none() {
            self.at(root, "version", format!("no compCLFversion: files of this version say {VERSION}"));
        }
        self.between(root);
        const HEAD: [&str; 5] = [ID, "Description", "InputDescriptor", "OutputDescriptor", "Info"];
        let rank = |e: &Element| HEAD.iter().position(|name| *name == e.name).unwrap_or(HEAD.len());
        let mut reached: Option<&Element> = None;
        for child in &root.children {
            match reached {
                Some(before) if rank(child) < rank(before) => {
                    let order = "Description, InputDescriptor, OutputDescriptor, Info, then the process nodes";
                    self.at(child, "order", format!("after {}: the order is {order}", before.name));
                }
                Some(before) if before.name == child.name && rank(child) < HEAD.len() && child.name != HEAD[1] => {
                    self.at(child, "repeated", "duplicate: it may occur once");
                }
                _ => reached = Some(child),
            }
            if NODES.contains(&child.name.as_str()) {
                self.node(child);
            }
        }
    }

    fn node(&mut self, node: &Element) {
        let own: &[&str] = match node.name.as_str() {
            "LUT1D" => &["interpolation", "halfDomain", "rawHalfs"],
            "LUT3D" => &["interpolation"],
            "Range" | "Log" | "Exponent" | "ASC_CDL" => &["style"],
            _ => &[],
        };
        self.attributes(node, &[&["id", "name", "inBitDepth", "outBitDepth"], own].concat());
        self.between(node);
        let mut first: Option<&Element> = None;
        for child in &node.children {
            match (child.name.as_str(), first) {
                ("Description", Some(before)) => {
                    self.at(child, "order", format!("after {}: descriptions of a node come first in it", before.name));
                }
                ("Description", None) => {}
                _ => first = first.or(Some(child)),
            }
            match child.name.as_str() {
                "Array" => self.array(node, child),
                "LogParams" => self.log(node, child),
                "ExponentParams" => {
                    self.attributes(child, &["exponent", "offset", "channel"]);
                    let style = node.attribute("style").unwrap_or_default();
                    if style.starts_with("basic") && child.attribute("offset").is_some() {
                        self.at(child, "style", format!("offset under style `{style}`, which has none"));
                    }
                }
                "SOPNode" | "SatNode" => self.between(child),
                _ => {}
            }
        }
    }

    fn array(&mut self, node: &Element, array: &Element) {
        self.attributes(array, &["dim"]);
        let dim = array.attribute("dim").unwrap_or_default();
        let numbers: Vec<&str> = dim.split_ascii_whitespace().collect();
        let side = numbers.first().and_then(|n| n.parse::<usize>().ok());
        match (node.name.as_str(), &numbers[..]) {
            ("Matrix", [rows, columns, _]) => {
                self.at(array, "dim", format!("dim `{dim}`: a matrix has two numbers, `{rows} {columns}`"));
            }
            ("LUT3D", _) if side.is_some_and(|n| n > ADVISED_3D) => {
                self.at(array, "size", format!("dim `{dim}`: no more than {ADVISED_3D} points along an edge"));
            }
            _ => {}
        }
    }

    fn log(&mut self, node: &Element, parameters: &Element) {
        const PLAIN: [&str; 6] = ["base", "logSideSlope", "logSideOffset", "linSideSlope", "linSideOffset", "channel"];
        const CAMERA: [&str; 2] = ["linSideBreak", "linearSlope"];
        self.attributes(parameters, &[&PLAIN[..], &CAMERA].concat());
        let style = node.attribute("style").unwrap_or_default();
        if matches!(style, "log10" | "antiLog10" | "log2" | "antiLog2") {
            self.at(parameters, "style", format!("under style `{style}`, which has none"));
        }
        for name in CAMERA.into_iter().filter(|name| parameters.attribute(name).is_some()) {
            if !style.starts_with("camera") {
                let right = "only cameraLinToLog and cameraLogToLin have it";
                self.at(parameters, "attribute", format!("{name} under style `{style}`: {right}"));
            }
        }
    }

    /// Attributes that are neither `known` nor of XML itself.
    fn attributes(&mut self, element: &Element, known: &[&'static str]) {
        for (key, _) in &element.attributes {
            let of_xml = key == "xmlns" || key.contains(':');
            if !of_xml && !known.contains(&key.as_str()) {
                self.at(element, "attribute", unknown("attribute", key, known.iter().copied()));
            }
        }
    }

    /// Text where only elements stand.
    fn between(&mut self, element: &Element) {
        if let Some(word) = element.text.split_whitespace().next() {
            let word: String = word.chars().take(40).collect();
            self.at(element, "text", format!("text between its elements: `{word}`"));
        }
    }
}
