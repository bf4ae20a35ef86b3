//! A correction of a file a second time under another id, or taken out of it. All else of the text stays as it is, to the byte.

use super::enter::{corrections, marked};
use super::{DIALECT, Kind, read_each};
use crate::xml::{self, Element, escaped};
use crate::{LineError, LineErrors};
use std::ops::Range;

/// The text with a correction a second time, right behind the first, under the id `new` and with all that stands in it.
///
/// # Errors
/// Text that is no file of several corrections; a correction that it does not have; an id that it has already. By line.
pub fn copy(text: &str, id: &str, new: &str) -> Result<String, LineErrors> {
    let (mark, text) = marked(text);
    let root = xml::parse(text, DIALECT)?;
    let (whole, own) = find(text, &root, id)?;
    let tag = text.get(own.span.start..own.inside.start).unwrap_or_default();
    let Some(value) = value_of_id(tag) else {
        return own.error("its id cannot be found").map_err(Into::into);
    };
    let at = |place: usize| own.span.start - whole.start + place;
    let mut copied = text.get(whole.clone()).unwrap_or_default().to_owned();
    copied.replace_range(at(value.start)..at(value.end), &escaped(new));
    let before = text.get(line_start(text, whole.start)..whole.start).unwrap_or_default();
    checked(format!("{mark}{}{before}{copied}{}", &text[..whole.end], &text[whole.end..]))
}

/// The text without a correction, and without the line break before it.
///
/// # Errors
/// Text that is no file of several corrections; a correction that it does not have, that it has alone, or that another entry of it
/// refers to. By line.
pub fn remove(text: &str, id: &str) -> Result<String, LineErrors> {
    let (mark, text) = marked(text);
    let root = xml::parse(text, DIALECT)?;
    let (whole, _) = find(text, &root, id)?;
    checked(format!("{mark}{}{}", &text[..line_start(text, whole.start)], &text[whole.end..]))
}

/// That it still reads as a file of corrections.
fn checked(text: String) -> Result<String, LineErrors> {
    read_each(text.as_bytes()).map(|_| text)
}

/// The correction of an id, and the place of all that is of it: in a list of decisions the whole decision.
fn find<'r>(text: &str, root: &'r Element, id: &str) -> Result<(Range<usize>, &'r Element), LineErrors> {
    if root.name == Kind::Correction.root() {
        let message = "a .cc is one correction".to_owned();
        return Err(LineError { line: root.line, message }.into());
    }
    read_each(text.as_bytes())?;
    let mut found = Vec::new();
    corrections(root, &root.space, &mut found);
    let Some(own) = found.into_iter().find(|element| element.attribute("id").map(str::trim) == Some(id)) else {
        return Err(LineError { line: root.line, message: format!("no correction `{id}`") }.into());
    };
    let within = |child: &&Element| child.span.start <= own.span.start && own.span.end <= child.span.end;
    let whole = root.children.iter().find(within).unwrap_or(own);
    Ok((whole.span.clone(), own))
}

/// Where the line break and the blanks begin that stand before a place, if nothing else does.
fn line_start(text: &str, place: usize) -> usize {
    let before = text.get(..place).unwrap_or_default();
    match before.rfind('\n') {
        Some(at) if before[at..].trim().is_empty() => at,
        _ => place,
    }
}

/// Where the value of the attribute `id` stands in a tag, without its quotes.
fn value_of_id(tag: &str) -> Option<Range<usize>> {
    let mut at = tag.find(char::is_whitespace)?;
    loop {
        let rest = tag.get(at..)?;
        let name = rest.trim_start();
        let equals = name.find('=')?;
        let from = at + rest.len() - name.len();
        let value = name.get(equals + 1..)?.trim_start();
        let quote = value.chars().next().filter(|c| matches!(c, '"' | '\''))?;
        let start = from + (name.len() - value.len()) + 1;
        let end = start + tag.get(start..)?.find(quote)?;
        if name.get(..equals)?.trim_end() == "id" {
            return Some(start..end);
        }
        at = end + 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CCC: &str = "\u{feff}<?xml version=\"1.0\"?>\n<ColorCorrectionCollection xmlns=\"urn:ASC:CDL:v1.2\">\n  <!-- the boat -->\n  \
        <ColorCorrection\n      xmlns:o='urn:o' o:id=\"x=1\" id = '12A-3'>\n    <!-- by eye -->\n    <SatNode><Saturation>0.9</Saturation>\
        </SatNode>\n  </ColorCorrection>\n  <ColorCorrection id=\"12B-1\"><SatNode><Saturation>1</Saturation></SatNode></ColorCorrection>\n\
        </ColorCorrectionCollection>\n";

    #[test]
    fn a_copy_less_its_original_differs_in_the_id_alone() {
        let both = copy(CCC, "12A-3", "12A-4 & \"5\"").unwrap();
        let file = crate::cdl::read(both.as_bytes()).unwrap();
        assert_eq!(file.ids().collect::<Vec<_>>(), ["12A-3", "12A-4 & \"5\"", "12B-1"]);
        assert_eq!(file.corrections[0].numbers, file.corrections[1].numbers);
        let renamed = remove(&both, "12A-3").unwrap();
        assert_eq!(renamed.replace("12A-4 &amp; &quot;5&quot;", "12A-3"), CCC);
        let without = remove(CCC, "12A-3").unwrap();
        assert!(without.contains("<!-- the boat -->\n  <ColorCorrection id=\"12B-1\">"), "{without}");
        assert!(!without.contains("by eye"), "{without}");
    }

    #[test]
    fn a_decision_goes_as_a_whole_unless_another_refers_to_it() {
        let decision =
            |media: &str, inner: &str| format!("<ColorDecision><MediaRef ref=\"{media}\"/>{inner}</ColorDecision>");
        let own = |id: &str| {
            format!("<ColorCorrection id=\"{id}\"><SatNode><Saturation>1</Saturation></SatNode></ColorCorrection>")
        };
        let list = |all: &[String]| format!("<ColorDecisionList>{}</ColorDecisionList>", all.concat());
        let text = list(&[decision("A1", &own("a")), decision("A2", &own("b"))]);
        assert_eq!(remove(&text, "a").unwrap(), list(&[decision("A2", &own("b"))]));
        let both = copy(&text, "a", "c").unwrap();
        assert_eq!(both, list(&[decision("A1", &own("a")), decision("A1", &own("c")), decision("A2", &own("b"))]));
        let reference = "<ColorCorrectionRef ref=\"a\"/>";
        let text = list(&[decision("A1", &own("a")), decision("A2", reference), decision("A3", &own("b"))]);
        assert!(remove(&text, "a").unwrap_err().to_string().contains("`a`"));
        assert!(remove(&text, "b").is_ok());
    }

    #[test]
    fn what_cannot_be_is_refused() {
        let one = remove(CCC, "12A-3").unwrap();
        assert!(remove(&one, "12B-1").unwrap_err().to_string().contains("needs at least one"));
        assert!(copy(CCC, "12A-3", "12B-1").unwrap_err().to_string().contains("duplicate id"));
        for text in
            ["<ColorCorrection id=\"a\"><SatNode><Saturation>1</Saturation></SatNode></ColorCorrection>", "<a/>", CCC]
        {
            assert!(remove(text, "13").is_err() && copy(text, "13", "14").is_err(), "{text}");
        }
    }
}
