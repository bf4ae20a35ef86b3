//! XML to corrections.

use super::{CdlFile, Correction, DIALECT, Kind, Namespace, Refused, Remarks};
use crate::xml::{self, Element};
use crate::{LineError, LineErrors, MOST_ERRORS};
use rushlight_colour::message::{LONGEST_TITLE, beginning, unknown};
use rushlight_colour::step::cdl::{Cdl, CdlNumbers};
use std::collections::BTreeMap;

/// Reads a file of any of the three kinds, as a whole; its root says which.
///
/// Elements of other namespaces are ignored; unknown ones of its own are refused. Memory is bounded by the length of
/// `bytes`.
///
/// # Errors
/// Text that is no such XML, or all that is wrong with its corrections, by line.
pub fn read(bytes: &[u8]) -> Result<CdlFile, LineErrors> {
    let mut file = read_each(bytes)?;
    let mut wrong: Vec<LineError> = file.refused.drain(..).flat_map(|refused| refused.wrong).collect();
    wrong.sort_by_key(|e| e.line);
    wrong.truncate(MOST_ERRORS);
    if wrong.is_empty() { Ok(file) } else { Err(wrong.into()) }
}

/// The same, correction by correction: one that cannot be used does not hide the others.
///
/// # Errors
/// Text that is no such XML, or what is wrong with the file beyond the numbers of a correction, by line.
pub fn read_each(bytes: &[u8]) -> Result<CdlFile, LineErrors> {
    let one = |e: LineError| LineErrors::from(e);
    let mut root = xml::parse(DIALECT.text_of(bytes).map_err(one)?, DIALECT).map_err(one)?;
    let Some(kind) = Kind::ALL.into_iter().find(|kind| kind.root() == root.name) else {
        return root.error(unknown("root of a CDL file", &root.name, Kind::ALL.map(Kind::root))).map_err(one);
    };
    let space = root.space.clone().unwrap_or_default();
    let Some(namespace) = Namespace::ALL.into_iter().find(|n| n.uri() == space) else {
        let known = [Namespace::V101.uri(), Namespace::V12.uri()];
        return root.error(unknown("namespace", &space, known)).map_err(one);
    };
    keep_own(&mut root);
    let mut reading = Reading::default();
    let remarks = if kind == Kind::Correction { Remarks::default() } else { reading.remarks(&root) };
    match kind {
        Kind::Correction => reading.correction(&root, None),
        Kind::Collection => reading.collection(&root),
        Kind::Decisions => reading.decisions(&root),
    }
    if reading.corrections.is_empty() && reading.refused.is_empty() && reading.wrong.is_empty() {
        reading.note(&root, "no ColorCorrection: the file needs at least one");
    }
    let Reading { corrections, refused, mut wrong, .. } = reading;
    if wrong.is_empty() {
        return Ok(CdlFile { kind, namespace, remarks, corrections, refused });
    }
    wrong.extend(refused.into_iter().flat_map(|refused| refused.wrong));
    wrong.sort_by_key(|e| e.line);
    wrong.truncate(MOST_ERRORS);
    Err(wrong.into())
}

/// Takes out what is of another namespace.
fn keep_own(element: &mut Element) {
    let space = element.space.clone();
    element.children.retain(|child| child.space == space);
    element.children.iter_mut().for_each(keep_own);
}

const REMARKS: [&str; 3] = ["Description", "InputDescription", "ViewingDescription"];
/// What the schema takes for one another, in any case.
pub(super) const SOP: [&str; 2] = ["SOPNode", "ASC_SOP"];
pub(super) const SAT: [&str; 2] = ["SatNode", "ASC_SAT"];
const REFERENCE: [&str; 2] = ["ColorCorrectionRef", "ASC_CC_XML"];

pub(super) fn is(element: &Element, names: [&str; 2]) -> bool {
    names.iter().any(|name| name.eq_ignore_ascii_case(&element.name))
}

#[derive(Default)]
struct Reading {
    corrections: Vec<Correction>,
    /// Those that cannot be used.
    refused: Vec<Refused>,
    /// Line of each correction by its id, and where it stands among those that can be used.
    by_id: BTreeMap<String, (usize, Option<usize>)>,
    wrong: Vec<LineError>,
}

impl Reading {
    fn note(&mut self, at: &Element, message: impl Into<String>) {
        self.wrong.extend(at.error::<()>(message).err());
    }

    /// Refuses children that are neither remarks nor `known`.
    fn only(&mut self, element: &Element, known: &[&str]) {
        let all: Vec<&str> = REMARKS.into_iter().chain(known.iter().copied()).collect();
        self.wrong.extend(element.only(&all).err());
    }

    /// The only child of that name, if there is one.
    fn child<'e>(&mut self, element: &'e Element, name: &str) -> Option<&'e Element> {
        element.single(name).unwrap_or_else(|e| {
            self.wrong.push(e);
            None
        })
    }

    fn attribute(&mut self, element: &Element, name: &str) -> Option<String> {
        let value = element.attribute(name).map(str::to_owned);
        if value.is_none() {
            self.note(element, format!("missing {name}"));
        }
        value
    }

    fn remarks(&mut self, element: &Element) -> Remarks {
        let input = self.child(element, "InputDescription").map(Element::said);
        let viewing = self.child(element, "ViewingDescription").map(Element::said);
        Remarks { descriptions: element.descriptions(), input, viewing }
    }

    fn collection(&mut self, root: &Element) {
        self.only(root, &["ColorCorrection"]);
        for child in root.children.iter().filter(|c| c.name == "ColorCorrection") {
            self.correction(child, None);
        }
    }

    fn decisions(&mut self, root: &Element) {
        self.only(root, &["ColorDecision"]);
        // A reference may come before what it names.
        let mut references = Vec::new();
        for decision in root.children.iter().filter(|c| c.name == "ColorDecision") {
            self.only(decision, &["MediaRef", "ColorCorrection", REFERENCE[0], REFERENCE[1]]);
            let media = self.child(decision, "MediaRef").and_then(|m| self.attribute(m, "ref"));
            let own = self.child(decision, "ColorCorrection");
            let reference = decision.single_where(|child| is(child, REFERENCE)).unwrap_or_else(|e| {
                self.wrong.push(e);
                None
            });
            match (own, reference) {
                (Some(own), None) => self.correction(own, media),
                (None, Some(reference)) => {
                    references.extend(self.attribute(reference, "ref").map(|id| (reference, id, media)));
                }
                _ => self.note(decision, "needs a ColorCorrection or a ColorCorrectionRef, one of the two"),
            }
        }
        for (at, id, media) in references {
            if self.wrong.len() >= MOST_ERRORS {
                break;
            }
            match self.by_id.get(&id) {
                Some((_, place)) => {
                    place
                        .and_then(|i| self.corrections.get_mut(i))
                        .into_iter()
                        .for_each(|c| c.media.extend(media.clone()));
                }
                None => {
                    let why = unknown("correction", &id, self.by_id.keys().map(String::as_str));
                    self.note(at, format!("{why}; one of another file has to be copied into this one"));
                }
            }
        }
    }

    fn correction(&mut self, element: &Element, media: Option<String>) {
        let remarks = self.remarks(element);
        let id = element.attribute("id").map(|id| id.trim().to_owned());
        if id.as_deref() == Some("") {
            self.note(element, "an empty id: delete it, or give the correction a name");
        }
        if id.as_deref().is_some_and(|id| id.chars().any(char::is_control)) {
            self.note(element, "an id is one line of text, without control characters");
        }
        let letters = id.as_deref().map_or(0, |id| id.chars().count());
        if letters > LONGEST_TITLE {
            self.note(element, format!("the id has {letters} letters: {LONGEST_TITLE} at most"));
        }
        let line = element.line;
        let made = nodes_of_correction(element);
        if let Some(id) = &id {
            if let Some((first, _)) = self.by_id.get(id) {
                let first = *first;
                self.note(element, format!("duplicate id `{}`: the first is on line {first}", beginning(id)));
            } else {
                self.by_id.insert(id.clone(), (line, made.is_ok().then_some(self.corrections.len())));
            }
        }
        match made {
            Ok(Nodes { numbers, descriptions }) => self.corrections.push(Correction {
                id,
                numbers,
                remarks,
                node_descriptions: descriptions,
                media: media.into_iter().collect(),
                line,
            }),
            Err(wrong) => self.refused.push(Refused { id, line, wrong }),
        }
    }
}

/// The nodes of a correction, which has nothing beside them and remarks.
fn nodes_of_correction(element: &Element) -> Result<Nodes, Vec<LineError>> {
    let is_node = |c: &Element| is(c, SOP) || is(c, SAT);
    let other = element.children.iter().find(|c| !is_node(c) && !REMARKS.contains(&c.name.as_str()));
    let mut wrong = Vec::new();
    if let Some(other) = other {
        let known = [SOP[0], SAT[0]].join(", ");
        wrong.extend(other.error::<()>(format!("unknown in {}, which may have {known}", element.name)).err());
    }
    if !element.children.iter().any(is_node) {
        wrong.extend(element.error::<()>("neither a SOPNode nor a SatNode: it needs at least one").err());
    }
    match nodes(element) {
        Ok(nodes) if wrong.is_empty() => Ok(nodes),
        made => {
            wrong.extend(made.err().into_iter().flatten());
            Err(wrong)
        }
    }
}

/// The nodes of a correction.
#[derive(Default)]
pub(crate) struct Nodes {
    pub(crate) numbers: CdlNumbers,
    /// Of the SOPNode and of the SatNode.
    pub(crate) descriptions: [Vec<String>; 2],
}

/// Reads the SOPNode and the SatNode of `element`. One that is absent leaves the picture as it is.
pub(crate) fn nodes(element: &Element) -> Result<Nodes, Vec<LineError>> {
    let one = |e: LineError| vec![e];
    let sop = element.single_where(|child| is(child, SOP)).map_err(one)?;
    let sat = element.single_where(|child| is(child, SAT)).map_err(one)?;
    let mut wrong = Vec::new();
    let mut made = Nodes::default();
    let mut places: Vec<(&str, &Element)> = Vec::new();
    if let Some(sop) = sop {
        made.descriptions[0] = sop.descriptions();
        wrong.extend(sop.only(&["Slope", "Offset", "Power"]).err());
        let numbers = &mut made.numbers;
        for (name, key, into) in [
            ("Slope", "slope", &mut numbers.slope),
            ("Offset", "offset", &mut numbers.offset),
            ("Power", "power", &mut numbers.power),
        ] {
            match triple(sop, name) {
                Ok((child, triple)) => {
                    *into = triple;
                    places.push((key, child));
                }
                Err(e) => wrong.push(e),
            }
        }
    }
    if let Some(sat) = sat {
        made.descriptions[1] = sat.descriptions();
        wrong.extend(sat.only(&["Saturation"]).err());
        match saturation(sat) {
            Ok((child, value)) => {
                made.numbers.saturation = value;
                places.push(("saturation", child));
            }
            Err(e) => wrong.push(e),
        }
    }
    for refused in Cdl::new(made.numbers, false).err().into_iter().flatten() {
        let key = refused.key.split('[').next().unwrap_or_default();
        let at = places.iter().find(|(name, _)| *name == key).map_or(element, |(_, child)| child);
        wrong.extend(at.error::<()>(refused.message).err());
    }
    if wrong.is_empty() { Ok(made) } else { Err(wrong) }
}

fn triple<'e>(sop: &'e Element, name: &str) -> Result<(&'e Element, [f64; 3]), LineError> {
    let Some(child) = sop.single(name)? else {
        return sop.error(format!("no {name}: Slope, Offset and Power go together"));
    };
    match child.numbers_in(&child.text)?[..] {
        [r, g, b] => Ok((child, [r, g, b])),
        ref given => child.error(format!("{} numbers: it needs three, red, green and blue", given.len())),
    }
}

fn saturation(sat: &Element) -> Result<(&Element, f64), LineError> {
    let Some(child) = sat.single("Saturation")? else {
        return sat.error("missing Saturation");
    };
    match child.numbers_in(&child.text)?[..] {
        [value] => Ok((child, value)),
        ref given => child.error(format!("{} numbers: it needs one", given.len())),
    }
}
