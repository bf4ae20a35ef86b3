//! Corrections to XML.

use super::{CdlFile, Correction, Kind, Namespace, Remarks};
use crate::xml::{Attributes, Xml};
use rushlight_colour::invalid::{Invalid, Refusals};
use rushlight_colour::step::cdl::CdlNumbers;

/// The file's text.
///
/// # Errors
/// Not exactly one correction for a `.cc`; none at all; two of one id; a correction without an id, which the schema
/// requires. All under the key `id`.
pub fn write(file: &CdlFile) -> Result<String, Refusals> {
    text(file, None)
}

/// The same with a comment at its beginning: who made it.
///
/// # Errors
/// As [`write()`].
pub fn write_made(file: &CdlFile, maker: &str) -> Result<String, Refusals> {
    text(file, Some(maker))
}

fn text(file: &CdlFile, maker: Option<&str>) -> Result<String, Refusals> {
    let corrections = &file.corrections;
    let refuse = |message: String| Err(Invalid::new("id", message).into());
    let mut ids: Vec<&str> = file.ids().collect();
    ids.sort_unstable();
    if let Some(twice) = ids.iter().zip(ids.iter().skip(1)).find(|(id, next)| id == next) {
        return refuse(format!("`{}` is the id of more than one correction", twice.0));
    }
    match file.kind {
        _ if corrections.is_empty() => return refuse("there is no correction to write".to_owned()),
        Kind::Correction if corrections.len() > 1 => {
            let count = corrections.len();
            return refuse(format!(
                "a .cc holds one correction, and there are {count}: choose one of {}",
                ids.join(", ")
            ));
        }
        _ if ids.len() < corrections.len() => {
            return refuse("a correction without an id: the schema of CDL files requires one".to_owned());
        }
        _ => {}
    }
    let mut xml = Xml::new();
    maker.iter().for_each(|maker| xml.comment(maker));
    if file.kind == Kind::Correction {
        corrections.iter().for_each(|each| correction(&mut xml, each, file.namespace));
        return Ok(xml.finish());
    }
    xml.open(file.kind.root(), &namespace(file.namespace));
    write_remarks(&mut xml, &file.remarks);
    for each in corrections {
        if file.kind == Kind::Decisions {
            decisions(&mut xml, each);
        } else {
            correction(&mut xml, each, Namespace::None);
        }
    }
    xml.close(file.kind.root());
    Ok(xml.finish())
}

fn namespace(namespace: Namespace) -> Attributes {
    Some(namespace.uri()).filter(|uri| !uri.is_empty()).map(|uri| ("xmlns", uri.to_owned())).into_iter().collect()
}

fn write_remarks(xml: &mut Xml, remarks: &Remarks) {
    remarks.descriptions.iter().for_each(|text| xml.text("Description", text));
    for (name, text) in [("InputDescription", &remarks.input), ("ViewingDescription", &remarks.viewing)] {
        text.iter().for_each(|text| xml.text(name, text));
    }
}

/// A decision; one for each medium, the further ones by reference.
fn decisions(xml: &mut Xml, each: &Correction) {
    let medium = |xml: &mut Xml, medium: &String| xml.empty("MediaRef", &vec![("ref", medium.clone())]);
    xml.open("ColorDecision", &Vec::new());
    each.media.iter().take(1).for_each(|m| medium(xml, m));
    correction(xml, each, Namespace::None);
    xml.close("ColorDecision");
    for more in each.media.iter().skip(1) {
        xml.open("ColorDecision", &Vec::new());
        medium(xml, more);
        xml.empty("ColorCorrectionRef", &vec![("ref", each.id.clone().unwrap_or_default())]);
        xml.close("ColorDecision");
    }
}

/// A correction; `space` where it is the root.
fn correction(xml: &mut Xml, each: &Correction, space: Namespace) {
    let mut attributes = namespace(space);
    attributes.extend(each.id.iter().map(|id| ("id", id.clone())));
    xml.open("ColorCorrection", &attributes);
    write_remarks(xml, &each.remarks);
    let [sop, sat] = &each.node_descriptions;
    write_nodes(xml, "", &each.numbers, [sop, sat]);
    xml.close("ColorCorrection");
}

/// The SOPNode and the SatNode, each with its descriptions; names begin with `prefix`.
pub(crate) fn write_nodes(xml: &mut Xml, prefix: &str, numbers: &CdlNumbers, descriptions: [&[String]; 2]) {
    let triple = |v: &[f64; 3]| v.map(|v| v.to_string()).join(" ");
    let name = |name: &str| format!("{prefix}{name}");
    let CdlNumbers { slope, offset, power, saturation } = numbers;
    let sop = [("Slope", triple(slope)), ("Offset", triple(offset)), ("Power", triple(power))];
    let sat = [("Saturation", saturation.to_string())];
    for (node, descriptions, values) in [("SOPNode", descriptions[0], &sop[..]), ("SatNode", descriptions[1], &sat)] {
        xml.open(&name(node), &Vec::new());
        descriptions.iter().for_each(|text| xml.text(&name("Description"), text));
        values.iter().for_each(|(value, text)| xml.text(&name(value), text));
        xml.close(&name(node));
    }
}
