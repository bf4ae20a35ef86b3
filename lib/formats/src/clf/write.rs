//! A list of nodes to CLF text.

use super::{
    BitDepth, ExponentParameters, LogParameters, LogStyle, Node, Operation, ProcessList, Range, VERSION, coefficient,
    turned,
};
use crate::cdl;
use crate::xml::{Attributes, Xml};
use std::fmt::Write as _;
use std::iter::successors;

impl ProcessList {
    /// The file's text. Tables are written as 32-bit floats, in which a CLF file is processed; other numbers whole.
    pub fn to_xml(&self) -> String {
        let mut xml = Xml::new();
        let mut head = vec![("id", self.id.clone()), ("compCLFversion", VERSION.to_owned())];
        head.extend(self.name.iter().map(|name| ("name", name.clone())));
        xml.open("ProcessList", &head);
        for text in &self.descriptions {
            xml.text("Description", text);
        }
        for (name, text) in [("InputDescriptor", &self.input), ("OutputDescriptor", &self.output)] {
            if let Some(text) = text {
                xml.text(name, text);
            }
        }
        for node in &self.nodes {
            xml.node(node);
        }
        xml.close("ProcessList");
        xml.finish()
    }
}

impl Xml {
    fn node(&mut self, node: &Node) {
        let mut attributes: Attributes = Vec::new();
        attributes.extend(node.id.iter().map(|id| ("id", id.clone())));
        attributes.extend(node.name.iter().map(|name| ("name", name.clone())));
        attributes.push(("inBitDepth", node.from.name().to_owned()));
        attributes.push(("outBitDepth", node.to.name().to_owned()));
        let (from, to) = (node.from, node.to);
        match &node.operation {
            Operation::Lut1d(_) => {}
            Operation::HalfLut1d(_) => attributes.push(("halfDomain", "true".to_owned())),
            Operation::Lut3d(_, kind) => attributes.push(("interpolation", kind.name().to_owned())),
            Operation::Range(range) if !range.clamp => attributes.push(("style", "noClamp".to_owned())),
            Operation::Matrix(_) | Operation::Range(_) => {}
            Operation::Log(style, _) => attributes.push(("style", style.name().to_owned())),
            Operation::Exponent(style, _) => attributes.push(("style", style.name().to_owned())),
            Operation::Cdl(style, _) => attributes.push(("style", style.name().to_owned())),
        }
        let name = node.operation.name();
        self.open(name, &attributes);
        for text in &node.descriptions {
            self.text("Description", text);
        }
        match &node.operation {
            Operation::Lut1d(curves) => self.rows(format!("{} 3", curves.size()), curves.entries().iter(), to.scale()),
            Operation::HalfLut1d(entries) => self.rows(format!("{} 3", entries.len()), entries.iter(), to.scale()),
            Operation::Lut3d(cube, _) => {
                let n = cube.size();
                self.rows(format!("{n} {n} {n} 3"), turned(cube.nodes(), n), to.scale());
            }
            Operation::Matrix(rows) => {
                let row = |[r, g, b, offset]: &[f64; 4]| {
                    let [r, g, b] = [r, g, b].map(|&m| coefficient_text(m, from, to));
                    [r, g, b, level_text(*offset, to)].join(" ")
                };
                self.array("3 4".to_owned(), rows.iter().map(row));
            }
            Operation::Range(range) => self.range(range, from, to),
            Operation::Log(style, channels) => {
                if !matches!(style, LogStyle::Log10 | LogStyle::AntiLog10 | LogStyle::Log2 | LogStyle::AntiLog2) {
                    self.channels("LogParams", channels, log_attributes);
                }
            }
            Operation::Exponent(style, channels) => {
                let is_curve = style.name().starts_with("monCurve");
                self.channels("ExponentParams", channels, |p: &ExponentParameters| {
                    let mut attributes = vec![("exponent", p.exponent.to_string())];
                    if is_curve {
                        attributes.push(("offset", p.offset.to_string()));
                    }
                    attributes
                });
            }
            Operation::Cdl(_, numbers) => cdl::write_nodes(self, "", numbers, [&[], &[]]),
        }
        self.close(name);
    }

    fn range(&mut self, range: &Range, from: BitDepth, to: BitDepth) {
        for (name, bound, depth) in [
            ("minInValue", range.low.map(|p| p[0]), from),
            ("maxInValue", range.high.map(|p| p[0]), from),
            ("minOutValue", range.low.map(|p| p[1]), to),
            ("maxOutValue", range.high.map(|p| p[1]), to),
        ] {
            if let Some(value) = bound {
                self.text(name, &level_text(value, depth));
            }
        }
    }

    /// One element for all channels where they are alike, else one each.
    fn channels<T: PartialEq>(&mut self, name: &str, channels: &[Option<T>; 3], say: impl Fn(&T) -> Attributes) {
        if let [Some(first), Some(second), Some(third)] = channels
            && first == second
            && second == third
        {
            return self.empty(name, &say(first));
        }
        for (channel, parameters) in ["R", "G", "B"].into_iter().zip(channels) {
            if let Some(parameters) = parameters {
                let mut attributes = vec![("channel", channel.to_owned())];
                attributes.extend(say(parameters));
                self.empty(name, &attributes);
            }
        }
    }

    /// The rows of a table, as 32-bit floats.
    fn rows<'r>(&mut self, dim: String, rows: impl Iterator<Item = &'r [f64; 3]>, scale: f64) {
        let lines = rows.map(|row| {
            let [r, g, b] = row.map(|v| (v * scale) as f32);
            let mut line = String::with_capacity(36);
            for (i, v) in [r, g, b].into_iter().enumerate() {
                let before = if i == 0 { "" } else { " " };
                let tiny = v != 0.0 && v.abs() < 1e-4;
                let _ = if tiny { write!(line, "{before}{v:e}") } else { write!(line, "{before}{v}") };
            }
            line
        });
        self.array(dim, lines);
    }

    fn array(&mut self, dim: String, lines: impl Iterator<Item = String>) {
        self.open("Array", &vec![("dim", dim)]);
        let mut text = "\n".to_owned();
        for line in lines {
            text.push_str(&line);
            text.push('\n');
        }
        // Within ProcessList and its node.
        self.block(text, 2);
        self.close("Array");
    }
}

fn level_text(value: f64, depth: BitDepth) -> String {
    read_as(value, value * depth.scale(), |v| depth.level(v))
}

fn coefficient_text(value: f64, from: BitDepth, to: BitDepth) -> String {
    read_as(value, value * to.scale() / from.scale(), |v| coefficient(v, from, to))
}

/// The number that a reader makes `value` of, to the bit, where there is one: the shortest of `near`, which lacks or has too
/// much by a few roundings, and its neighbours. So what was read is written as it was, and stays so.
fn read_as(value: f64, near: f64, read: impl Fn(f64) -> f64) -> String {
    let up = successors(Some(near), |v| Some(v.next_up()));
    let down = successors(Some(near), |v| Some(v.next_down()));
    let exact = up.zip(down).take(5).flat_map(|(u, d)| [u, d]).filter(|v| v.is_finite() && read(*v) == value);
    exact.map(|v| v.to_string()).min_by_key(String::len).unwrap_or_else(|| near.to_string())
}

fn log_attributes(p: &LogParameters) -> Attributes {
    let mut attributes = vec![
        ("base", p.base.to_string()),
        ("logSideSlope", p.log_slope.to_string()),
        ("logSideOffset", p.log_offset.to_string()),
        ("linSideSlope", p.lin_slope.to_string()),
        ("linSideOffset", p.lin_offset.to_string()),
    ];
    attributes.extend(p.lin_break.map(|v| ("linSideBreak", v.to_string())));
    attributes.extend(p.linear_slope.map(|v| ("linearSlope", v.to_string())));
    attributes
}
