//! A correction into the text of a file that is there: the numbers of one that it has, or a new one at its end. All else stays
//! as it is, to the byte: comments, layout, other corrections, elements of other programs.

use super::read::{SAT, SOP, is};
use super::{Correction, DIALECT, Kind, read_each};
use crate::xml::{self, Element, escaped};
use crate::{LineError, LineErrors};
use rushlight_colour::step::cdl::CdlNumbers;
use std::ops::Range;

/// A part of the text, and what comes in its place.
type Change = (Range<usize>, String);

/// The text with the numbers of the correction of this id; none: of the only one. Numbers that stay have the digits that they
/// had.
///
/// # Errors
/// Text that is no file of corrections, by line; a correction that it does not have.
pub fn enter(text: &str, id: Option<&str>, numbers: &CdlNumbers) -> Result<String, LineErrors> {
    let (mark, text) = marked(text);
    let file = read_each(text.as_bytes())?;
    let root = xml::parse(text, DIALECT)?;
    let mut found = Vec::new();
    corrections(&root, &root.space, &mut found);
    let of_id = |element: &&&Element| id.is_none() || element.attribute("id").map(str::trim) == id;
    let element = match found.iter().filter(of_id).collect::<Vec<_>>()[..] {
        [one] => *one,
        [] => {
            let known = file.ids().collect::<Vec<_>>().join(", ");
            let message = format!("no correction `{}`: there are {known}", id.unwrap_or_default());
            return Err(LineError { line: root.line, message }.into());
        }
        _ => {
            let message = "several corrections, and no id says which".to_owned();
            return Err(LineError { line: root.line, message }.into());
        }
    };
    Ok(mark.to_owned() + &changed(text, changes(text, element, numbers)?))
}

/// The text with one more correction, after the last.
///
/// # Errors
/// Text that is no file of corrections, or one of a single correction (`.cc`); an id that it has. By line.
pub fn append(text: &str, correction: &Correction) -> Result<String, LineErrors> {
    let (mark, text) = marked(text);
    let file = read_each(text.as_bytes())?;
    let root = xml::parse(text, DIALECT)?;
    let error = |message: String| Err(LineError { line: root.line, message }.into());
    let id = correction.id.as_deref().unwrap_or_default();
    if file.kind == Kind::Correction {
        return error("a .cc holds one correction: a .ccc or .cdl takes more".to_owned());
    }
    if file.get(id).is_some() || file.refused(id).is_some() {
        return error(format!("it has a correction `{id}` already"));
    }
    let inside = |child: &&Element| child.space == root.space;
    let Some(last) = root.children.iter().rfind(inside) else {
        return error("no correction to write another after".to_owned());
    };
    let prefix = prefix(text, last)?;
    let [outer, step] = indents(text, &root, last);
    let deep = |level: usize| format!("{outer}{}", step.repeat(level));
    let tag = |name: &str| format!("{prefix}{name}");
    let media =
        correction.media.iter().take(1).map(|medium| format!("<{} ref=\"{}\"/>", tag("MediaRef"), escaped(medium)));
    let (open, close) = (tag("ColorCorrection"), tag("ColorCorrection"));
    let start = format!("<{open} id=\"{}\">", escaped(id));
    let remarks = correction.remarks.descriptions.iter();
    let remarks: Vec<String> =
        remarks.map(|said| format!("<{0}>{1}</{0}>", tag("Description"), escaped(said))).collect();
    let mut lines: Vec<(usize, String)> = Vec::new();
    let base = usize::from(file.kind == Kind::Decisions);
    if base == 1 {
        lines.push((0, format!("<{}>", tag("ColorDecision"))));
        lines.extend(media.map(|line| (1, line)));
    }
    lines.push((base, start));
    lines.extend(remarks.into_iter().map(|line| (base + 1, line)));
    for (level, line) in nodes(&prefix, &correction.numbers, [true; 2]) {
        lines.push((base + 1 + level, line));
    }
    lines.push((base, format!("</{close}>")));
    if base == 1 {
        lines.push((0, format!("</{}>", tag("ColorDecision"))));
    }
    let added: String = lines.into_iter().map(|(level, line)| format!("\n{}{line}", deep(level))).collect();
    Ok(mark.to_owned() + &changed(text, vec![(last.span.end..last.span.end, added)]))
}

/// The byte order mark that a text begins with, and the rest: places in it are counted from there.
pub(super) fn marked(text: &str) -> (&str, &str) {
    text.split_at(if text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 })
}

/// The corrections within an element, of its namespace.
pub(super) fn corrections<'e>(element: &'e Element, space: &Option<String>, found: &mut Vec<&'e Element>) {
    if element.space != *space {
        return;
    }
    if element.name == "ColorCorrection" {
        found.push(element);
    } else {
        element.children.iter().for_each(|child| corrections(child, space, found));
    }
}

/// What has to be written of `numbers` in a correction.
fn changes(text: &str, element: &Element, numbers: &CdlNumbers) -> Result<Vec<Change>, LineError> {
    let own = |names: [&str; 2]| element.children.iter().find(|c| c.space == element.space && is(c, names));
    let (sop, sat) = (own(SOP), own(SAT));
    let mut changes = Vec::new();
    let mut put = |node: Option<&Element>, name: &str, values: &[f64]| {
        let child = node.and_then(|node| node.children.iter().find(|c| c.space == node.space && c.name == name));
        let Some(child) = child else { return };
        if child.numbers_in(&child.text).is_ok_and(|there| there == values) {
            return;
        }
        let written = values.iter().map(f64::to_string).collect::<Vec<_>>().join(" ");
        // What else stands in it are comments.
        let rest = comments(text.get(child.inside.clone()).unwrap_or_default());
        changes.push((child.inside.clone(), written + &rest));
    };
    put(sop, "Slope", &numbers.slope);
    put(sop, "Offset", &numbers.offset);
    put(sop, "Power", &numbers.power);
    put(sat, "Saturation", &[numbers.saturation]);
    // A node that is absent leaves the picture as it is.
    let neutral = CdlNumbers::default();
    let is_sop_new = sop.is_none() && CdlNumbers { saturation: 1.0, ..*numbers } != neutral;
    let is_sat_new = sat.is_none() && numbers.saturation != neutral.saturation;
    if is_sop_new || is_sat_new {
        let prefix = prefix(text, element)?;
        let last = element.children.last().map_or(element.inside.clone(), |last| last.span.clone());
        let first = element.children.first().unwrap_or(element);
        let [outer, step] = indents(text, element, first);
        let line = |(level, line): (usize, String)| format!("\n{outer}{}{line}", step.repeat(level));
        let added: String = nodes(&prefix, numbers, [is_sop_new, is_sat_new]).into_iter().map(line).collect();
        // The SOPNode stands before the SatNode, as the schema has it.
        match sat.filter(|_| is_sop_new) {
            Some(sat) => {
                let trimmed = added.trim_start().to_owned();
                changes.push((sat.span.start..sat.span.start, format!("{trimmed}\n{outer}")));
            }
            None => changes.push((last.end..last.end, added)),
        }
    }
    Ok(changes)
}

/// The nodes of a correction, line by line with their depth: the SOPNode, the SatNode.
fn nodes(prefix: &str, numbers: &CdlNumbers, [sop, sat]: [bool; 2]) -> Vec<(usize, String)> {
    let triple = |v: [f64; 3]| v.map(|v| v.to_string()).join(" ");
    let value = |name: &str, text: String| (1, format!("<{prefix}{name}>{text}</{prefix}{name}>"));
    let node = |name: &str, values: Vec<(usize, String)>| {
        let (open, close) = ((0, format!("<{prefix}{name}>")), (0, format!("</{prefix}{name}>")));
        [vec![open], values, vec![close]].concat()
    };
    let mut lines = Vec::new();
    if sop {
        let CdlNumbers { slope, offset, power, .. } = *numbers;
        let values = [("Slope", slope), ("Offset", offset), ("Power", power)].map(|(name, v)| value(name, triple(v)));
        lines.extend(node(SOP[0], values.to_vec()));
    }
    if sat {
        lines.extend(node(SAT[0], vec![value("Saturation", numbers.saturation.to_string())]));
    }
    lines
}

/// The prefix of an element's name, with its colon.
fn prefix(text: &str, element: &Element) -> Result<String, LineError> {
    let tag = text.get(element.span.clone()).and_then(|tag| tag.strip_prefix('<'));
    let Some(tag) = tag else { return element.error("it cannot be found in the text again") };
    let name = tag.split(|c: char| c.is_whitespace() || c == '>' || c == '/').next().unwrap_or_default();
    Ok(name.rsplit_once(':').map_or(String::new(), |(prefix, _)| format!("{prefix}:")))
}

/// The blanks before a child on its line, and what it is further in than its parent.
fn indents(text: &str, parent: &Element, child: &Element) -> [String; 2] {
    let blanks = |at: usize| {
        let before = text.get(..at).unwrap_or_default();
        let line = before.rsplit('\n').next().unwrap_or_default();
        if line.trim().is_empty() { line.to_owned() } else { String::new() }
    };
    let (outer, inner) = (blanks(parent.span.start), blanks(child.span.start));
    let step = inner.strip_prefix(outer.as_str()).filter(|step| !step.is_empty()).unwrap_or("  ").to_owned();
    [inner, step]
}

/// The comments of a text, in their order.
fn comments(text: &str) -> String {
    let mut found = String::new();
    let mut rest = text;
    while let Some((_, after)) = rest.split_once("<!--") {
        let Some((comment, after)) = after.split_once("-->") else { break };
        found += &format!(" <!--{comment}-->");
        rest = after;
    }
    found
}

/// The text with its changes, none of which lies in another.
fn changed(text: &str, mut changes: Vec<Change>) -> String {
    changes.sort_by_key(|(place, _)| std::cmp::Reverse((place.start, place.end)));
    let mut text = text.to_owned();
    for (place, new) in changes {
        text.replace_range(place, &new);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cdl::read;

    const CCC: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<!-- Saltmarsh, night 1 -->\n\
        <ColorCorrectionCollection xmlns=\"urn:ASC:CDL:v1.2\">\n    <!-- the boat -->\n    \
        <ColorCorrection id=\"12A-3\">\n        <SOPNode>\n            <Description>as shot</Description>\n            \
        <Slope>1.10 1.00 0.90</Slope>\n            <Offset>0.010 0 -0.020<!-- a third of a stop --></Offset>\n            \
        <Power>1 1 1</Power>\n        </SOPNode>\n        <SatNode><Saturation>0.9</Saturation></SatNode>\n    \
        </ColorCorrection>\n    <ColorCorrection id=\"12B-1\">\n        <SatNode>\n            \
        <Saturation>1</Saturation>\n        </SatNode>\n    </ColorCorrection>\n</ColorCorrectionCollection>\n<!-- end -->\n";

    fn numbers() -> CdlNumbers {
        CdlNumbers { slope: [1.1, 1.0, 0.9], offset: [0.03, 0.0, -0.02], power: [1.0; 3], saturation: 0.9 }
    }

    fn lines_that_differ<'t>(a: &'t str, b: &'t str) -> Vec<(&'t str, &'t str)> {
        a.lines().zip(b.lines()).filter(|(a, b)| a != b).collect()
    }

    #[test]
    fn one_line_changes_where_one_value_does() {
        let text = enter(CCC, Some("12A-3"), &numbers()).unwrap();
        assert_eq!(read(text.as_bytes()).unwrap().get("12A-3").unwrap().numbers, numbers());
        let differ = lines_that_differ(CCC, &text);
        assert_eq!(differ.len(), 1);
        assert_eq!(differ[0].1.trim(), "<Offset>0.03 0 -0.02 <!-- a third of a stop --></Offset>");
        assert_eq!(text.lines().count(), CCC.lines().count());
        // A byte order mark stays, and places are counted behind it.
        assert_eq!(enter(&format!("\u{feff}{CCC}"), Some("12A-3"), &numbers()).unwrap(), format!("\u{feff}{text}"));
        // What is the same leaves the text as it is.
        let same = CdlNumbers { offset: [0.01, 0.0, -0.02], ..numbers() };
        assert_eq!(enter(CCC, Some("12A-3"), &same).unwrap(), CCC);
    }

    #[test]
    fn a_missing_node_is_added_in_its_place() {
        let text = enter(CCC, Some("12B-1"), &numbers()).unwrap();
        let file = read(text.as_bytes()).unwrap();
        assert_eq!((file.get("12B-1").unwrap().numbers, file.corrections.len()), (numbers(), 2));
        let [sop, sat] = ["<SOPNode>", "<SatNode>\n"].map(|node| text.rfind(node).unwrap());
        assert!(sop < sat, "{text}");
        assert!(text.contains("\n        <SOPNode>\n            <Slope>1.1 1 0.9</Slope>"), "{text}");
        let one = "<ColorCorrection><SOPNode><Slope>1 1 1</Slope><Offset>0 0 0</Offset><Power>1 1 1</Power></SOPNode></ColorCorrection>";
        let text = enter(one, None, &numbers()).unwrap();
        assert_eq!(read(text.as_bytes()).unwrap().corrections[0].numbers, numbers());
    }

    #[test]
    fn a_prefix_and_foreign_elements_stay() {
        let text = "<c:ColorDecisionList xmlns:c=\"urn:ASC:CDL:v1.01\" xmlns:o=\"urn:other\">\n  <c:ColorDecision>\n    \
            <c:MediaRef ref=\"A001C003\"/>\n    <c:ColorCorrection id=\"a\"><o:SOPNode/><c:SatNode><c:Saturation>1</c:Saturation>\
            </c:SatNode></c:ColorCorrection>\n  </c:ColorDecision>\n</c:ColorDecisionList>";
        let made = enter(text, Some("a"), &numbers()).unwrap();
        assert!(made.contains("<c:SOPNode>") && made.contains("<o:SOPNode/>"), "{made}");
        assert_eq!(read(made.as_bytes()).unwrap().get("a").unwrap().numbers, numbers());
        let new = Correction {
            id: Some("b & c".into()),
            numbers: numbers(),
            media: vec!["A\"1".into()],
            ..Correction::default()
        };
        let made = append(text, &new).unwrap();
        let file = read(made.as_bytes()).unwrap();
        assert_eq!(file.corrections[1].id, new.id);
        assert_eq!((file.corrections[1].numbers, &file.corrections[1].media), (numbers(), &new.media));
        assert!(made.starts_with(text.strip_suffix("\n</c:ColorDecisionList>").unwrap()), "{made}");
    }

    #[test]
    fn a_new_correction_comes_last_and_only_where_there_is_room() {
        let new = Correction { id: Some("12C-1".into()), numbers: numbers(), ..Correction::default() };
        let text = append(CCC, &new).unwrap();
        assert_eq!(read(text.as_bytes()).unwrap().ids().collect::<Vec<_>>(), ["12A-3", "12B-1", "12C-1"]);
        assert!(text.ends_with("\n    </ColorCorrection>\n</ColorCorrectionCollection>\n<!-- end -->\n"), "{text}");
        let again = Correction { id: Some("12A-3".into()), ..new.clone() };
        assert!(append(CCC, &again).unwrap_err().to_string().contains("it has a correction `12A-3` already"));
        let one = "<ColorCorrection id=\"x\"><SatNode><Saturation>1</Saturation></SatNode></ColorCorrection>";
        assert!(append(one, &new).unwrap_err().to_string().contains("a .cc holds one"));
        for (text, id, part) in
            [(CCC, Some("13"), "no correction `13`"), (CCC, None, "several corrections"), ("<a/>", None, "root")]
        {
            assert!(enter(text, id, &numbers()).unwrap_err().to_string().contains(part));
        }
    }
}
