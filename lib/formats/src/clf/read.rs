//! CLF text to a list of nodes.

use super::apply::half;
use super::{
    BitDepth, CdlStyle, DIALECT, ExponentParameters, ExponentStyle, LARGEST_3D, LineError, LogParameters, LogStyle,
    Node, Operation, ProcessList, Range, coefficient, turned,
};
use crate::xml::{self, Element};
use crate::{cdl, line_of, scan};
use rushlight_colour::cube::{Cube, Curves, ENTRIES, Interpolation, UNIT};
use rushlight_colour::message::unknown;

/// Namespaces that a ProcessList may name, or none: the Academy's of version 3, and that of SMPTE ST 2136-1.
const NAMESPACES: [&str; 2] = ["urn:AMPAS:CLF:v3.0", SMPTE];
const SMPTE: &str = "http://www.smpte-ra.org/ns/2136-1/2024";
/// The element that identifies a file of SMPTE ST 2136-1, in the place of the attribute `id` (from memory).
pub(super) const ID: &str = "Id";
/// Process nodes of version 3.
pub(super) const NODES: [&str; 7] = ["LUT1D", "LUT3D", "Matrix", "Range", "Log", "Exponent", "ASC_CDL"];
/// Entries of a table by half floats.
const HALVES: usize = 65536;
/// Bounds of the parameters of an Exponent node (CLF v3.0).
const EXPONENT: [f64; 2] = [1.0, 10.0];
const OFFSET: [f64; 2] = [0.0, 0.9];

/// Reads a CLF file. `Info` is ignored; unknown elements are refused.
///
/// Memory is bounded by the length of `text`, whatever size it declares.
///
/// # Errors
/// The first thing that is wrong, with its line.
pub fn read(text: &[u8]) -> Result<ProcessList, LineError> {
    let root = xml::parse(DIALECT.text_of(text)?, DIALECT)?;
    if root.name != "ProcessList" {
        return root.error("the root of a CLF file is ProcessList");
    }
    if let Some(space) = root.attribute("xmlns").filter(|space| !NAMESPACES.contains(space)) {
        return root.error(unknown("namespace", space, NAMESPACES));
    }
    let smpte = root.attribute("xmlns") == Some(SMPTE);
    // The namespace of SMPTE ST 2136-1 says it by itself.
    let version = if smpte { root.attribute("compCLFversion") } else { Some(needed(&root, "compCLFversion")?) };
    if let Some(version) = version.filter(|version| !matches!(version.split('.').next(), Some("2" | "3"))) {
        return root.error(format!("compCLFversion `{version}`: this program reads 3.0"));
    }
    let of_element = root.children.iter().find(|child| smpte && child.name == ID).map(|child| child.text.trim());
    let mut list = ProcessList {
        id: of_element.map_or_else(|| needed(&root, "id"), Ok)?.to_owned(),
        name: root.attribute("name").map(str::to_owned),
        descriptions: Vec::new(),
        input: None,
        output: None,
        nodes: Vec::new(),
    };
    for child in &root.children {
        let text = || child.text.trim().to_owned();
        match child.name.as_str() {
            "Description" => list.descriptions.push(text()),
            "InputDescriptor" => list.input = Some(text()),
            "OutputDescriptor" => list.output = Some(text()),
            "Info" => {}
            ID if smpte => {}
            _ => {
                let node = node(child)?;
                if let Some(before) = list.nodes.last().filter(|before| before.to != node.from) {
                    let (given, want) = (node.from.name(), before.to.name());
                    return child.error(format!("inBitDepth {given} after a node whose outBitDepth is {want}"));
                }
                list.nodes.push(node);
            }
        }
    }
    if list.nodes.is_empty() { root.error("no process node: the file needs at least one") } else { Ok(list) }
}

fn needed<'e>(element: &'e Element, name: &str) -> Result<&'e str, LineError> {
    match element.attribute(name) {
        Some(value) => Ok(value),
        None => element.error(format!("missing {name}")),
    }
}

fn depth(element: &Element, name: &str) -> Result<BitDepth, LineError> {
    let given = needed(element, name)?;
    match BitDepth::ALL.into_iter().find(|d| d.name() == given) {
        Some(depth) => Ok(depth),
        None => element.error(unknown(name, given, BitDepth::ALL.map(BitDepth::name))),
    }
}

fn node(element: &Element) -> Result<Node, LineError> {
    if !NODES.contains(&element.name.as_str()) {
        return element.error(unknown("process node", &element.name, NODES));
    }
    let (from, to) = (depth(element, "inBitDepth")?, depth(element, "outBitDepth")?);
    let operation = match element.name.as_str() {
        "LUT1D" => lut1d(element, to)?,
        "LUT3D" => lut3d(element, to)?,
        "Matrix" => matrix(element, from, to)?,
        "Range" => range(element, from, to)?,
        "Log" => log(element)?,
        "Exponent" => exponent(element)?,
        _ => asc_cdl(element)?,
    };
    Ok(Node {
        id: element.attribute("id").map(str::to_owned),
        name: element.attribute("name").map(str::to_owned),
        descriptions: element.descriptions(),
        from,
        to,
        operation,
    })
}

/// A style, `default` where none is named.
fn style<T: Copy>(
    element: &Element,
    all: &[T],
    name: impl Fn(T) -> &'static str,
    default: Option<T>,
) -> Result<T, LineError> {
    match (element.attribute("style"), default) {
        (None, Some(style)) => Ok(style),
        (None, None) => element.error("missing style"),
        (Some(given), _) => match all.iter().find(|s| name(**s) == given) {
            Some(style) => Ok(*style),
            None => element.error(unknown("style", given, all.iter().map(|s| name(*s)))),
        },
    }
}

/// A flag, which is "true" where it is there.
fn flag(element: &Element, name: &str) -> Result<bool, LineError> {
    match element.attribute(name) {
        None => Ok(false),
        Some("true") => Ok(true),
        Some(other) => element.error(format!("{name} must be \"true\" or absent, not \"{other}\"")),
    }
}

/// The Array of a node: what `dim` says, and every number.
struct Array<'e> {
    element: &'e Element,
    dim: Vec<usize>,
}

impl<'e> Array<'e> {
    fn of(node: &'e Element) -> Result<Self, LineError> {
        node.only(&["Array"])?;
        let Some(element) = node.single("Array")? else {
            return node.error("missing Array");
        };
        let given = needed(element, "dim")?;
        match given.split_ascii_whitespace().map(|n| n.parse().ok()).collect::<Option<Vec<usize>>>() {
            Some(dim) if !dim.is_empty() => Ok(Self { element, dim }),
            _ => element.error(format!("dim `{given}`: it must be whole numbers")),
        }
    }

    /// The numbers, `count` of them. Beyond 32-bit floats there are none.
    fn numbers(&self, count: usize) -> Result<Vec<f64>, LineError> {
        let text = self.element.text.as_bytes();
        // A number and what parts it from the next are two bytes at least.
        let mut numbers = Vec::with_capacity(count.min(text.len() / 2 + 1));
        let error = |rest: &[u8], message: String| {
            let line = self.element.text_line - 1 + line_of(text, text.len() - rest.len());
            Err(LineError { line, message })
        };
        let mut rest = text.trim_ascii_start();
        while !rest.is_empty() {
            let ends = |length: usize| rest.get(length).is_none_or(u8::is_ascii_whitespace);
            let parsed = scan::number(rest);
            let Some((value, length)) = parsed.filter(|(v, n)| ends(*n) && v.abs() <= f64::from(f32::MAX)) else {
                let word: Vec<u8> = rest.iter().copied().take_while(|b| !b.is_ascii_whitespace()).take(40).collect();
                return error(rest, format!("`{}` is not a finite number", String::from_utf8_lossy(&word)));
            };
            if numbers.len() == count {
                return error(rest, format!("more than the {count} numbers of dim"));
            }
            numbers.push(value);
            rest = rest.get(length..).unwrap_or_default().trim_ascii_start();
        }
        if numbers.len() == count {
            Ok(numbers)
        } else {
            self.element.error(format!("{} numbers where dim asks for {count}", numbers.len()))
        }
    }
}

fn refused(element: &Element, refused: rushlight_colour::invalid::Refusals) -> LineError {
    let why = refused.first().map(ToString::to_string).unwrap_or_default();
    LineError { line: element.line, message: format!("{}: {why}", element.name) }
}

fn lut1d(element: &Element, to: BitDepth) -> Result<Operation, LineError> {
    if let Some(other) = element.attribute("interpolation").filter(|i| *i != "linear") {
        return element.error(format!("interpolation `{other}`: a LUT1D is linear"));
    }
    let (by_half, raw) = (flag(element, "halfDomain")?, flag(element, "rawHalfs")?);
    let array = Array::of(element)?;
    let (size, columns) = match array.dim[..] {
        [size, columns @ (1 | 3)] if ENTRIES.contains(&size) => (size, columns),
        _ => return array.element.error("dim: `N 1` or `N 3`, N from 2 to 65536"),
    };
    if by_half && size != HALVES {
        return array.element.error(format!("{size} entries: halfDomain has one for each of the {HALVES} half floats"));
    }
    let numbers = array.numbers(size * columns)?;
    let bits = |v: f64| (0.0..=65535.0).contains(&v) && v.fract() == 0.0;
    if raw && !numbers.iter().copied().all(bits) {
        return array.element.error("rawHalfs: each entry is the bit pattern of a half float, 0 to 65535");
    }
    let value = |v: f64| if raw { half(v as u16) } else { to.level(v) };
    let entries: Vec<[f64; 3]> = match columns {
        1 => numbers.iter().map(|v| [value(*v); 3]).collect(),
        _ => numbers.as_chunks().0.iter().map(|row: &[f64; 3]| row.map(value)).collect(),
    };
    if by_half {
        return Ok(Operation::HalfLut1d(entries));
    }
    Curves::new(UNIT, entries).map(Operation::Lut1d).map_err(|r| refused(array.element, r))
}

fn lut3d(element: &Element, to: BitDepth) -> Result<Operation, LineError> {
    let interpolation = match element.attribute("interpolation") {
        None => Interpolation::Trilinear,
        Some(given) => match Interpolation::from_name(given) {
            Some(kind) => kind,
            None => return element.error(unknown("interpolation", given, Interpolation::ALL.map(Interpolation::name))),
        },
    };
    let array = Array::of(element)?;
    let size = match array.dim[..] {
        [r, g, b, 3] if r == g && g == b && (2..=LARGEST_3D).contains(&r) => r,
        _ => return array.element.error(format!("dim: `N N N 3`, N from 2 to {LARGEST_3D}")),
    };
    let numbers = array.numbers(size * size * size * 3)?;
    let mut nodes = Vec::with_capacity(size * size * size);
    nodes.extend(turned(numbers.as_chunks::<3>().0, size).map(|row| row.map(|v| to.level(v))));
    let cube = Cube::new(size, UNIT, nodes).map_err(|r| refused(array.element, r))?;
    Ok(Operation::Lut3d(cube, interpolation))
}

fn matrix(element: &Element, from: BitDepth, to: BitDepth) -> Result<Operation, LineError> {
    let array = Array::of(element)?;
    // Older files have a third number, which is ignored.
    let columns = match array.dim[..] {
        [3, columns @ (3 | 4)] | [3, columns @ (3 | 4), _] => columns,
        _ => return array.element.error("dim: `3 3` or `3 4`"),
    };
    let numbers = array.numbers(3 * columns)?;
    let coefficient = |v| coefficient(v, from, to);
    let mut rows = [[0.0; 4]; 3];
    for (row, given) in rows.iter_mut().zip(numbers.chunks_exact(columns)) {
        *row = match *given {
            [r, g, b, offset] => [coefficient(r), coefficient(g), coefficient(b), to.level(offset)],
            [r, g, b] => [coefficient(r), coefficient(g), coefficient(b), 0.0],
            _ => *row,
        };
    }
    Ok(Operation::Matrix(rows))
}

/// One number in a child of that name.
fn value(element: &Element, name: &str) -> Result<Option<f64>, LineError> {
    let Some(child) = element.single(name)? else { return Ok(None) };
    match child.numbers_in(&child.text)?[..] {
        [value] => Ok(Some(value)),
        _ => child.error("one number"),
    }
}

fn range(element: &Element, from: BitDepth, to: BitDepth) -> Result<Operation, LineError> {
    element.only(&["minInValue", "maxInValue", "minOutValue", "maxOutValue"])?;
    let clamp = match element.attribute("style") {
        None | Some("Clamp") => true,
        Some("noClamp") => false,
        Some(other) => return element.error(unknown("style", other, ["Clamp", "noClamp"])),
    };
    let pair = |end: &str| -> Result<Option<[f64; 2]>, LineError> {
        match (value(element, &format!("{end}InValue"))?, value(element, &format!("{end}OutValue"))?) {
            (Some(inside), Some(out)) => Ok(Some([from.level(inside), to.level(out)])),
            (None, None) => Ok(None),
            _ => element.error(format!("{end}InValue and {end}OutValue go together")),
        }
    };
    let range = Range { low: pair("min")?, high: pair("max")?, clamp };
    match (range.low, range.high) {
        (None, None) => element.error("no bounds: it needs those of one end at least"),
        (Some(low), Some(high)) if low[0] >= high[0] => element.error("maxInValue must be above minInValue"),
        (Some(low), Some(high)) if low[1] > high[1] => element.error("maxOutValue must not be below minOutValue"),
        (Some(_), Some(_)) => Ok(Operation::Range(range)),
        _ if !clamp => element.error("style noClamp needs the bounds of both ends"),
        (Some([inside, out]), _) | (_, Some([inside, out])) => {
            // Written to some decimals on either side.
            if (inside - out).abs() > 1e-6 * inside.abs().max(1.0) {
                return element.error("with bounds of one end, out must be in times the ratio of the bit depths");
            }
            Ok(Operation::Range(range))
        }
    }
}

/// Parameters by channel: those of elements called `name`.
fn by_channel<T: Copy>(
    element: &Element,
    name: &str,
    read: impl Fn(&Element) -> Result<T, LineError>,
) -> Result<[Option<T>; 3], LineError> {
    let mut channels = [None; 3];
    for child in element.children.iter().filter(|c| c.name == name) {
        let parameters = read(child)?;
        let (first, count) = match child.attribute("channel") {
            None => (0, 3),
            Some("R") => (0, 1),
            Some("G") => (1, 1),
            Some("B") => (2, 1),
            Some(other) => return child.error(format!("channel `{other}`: it must be R, G or B")),
        };
        for slot in channels.iter_mut().skip(first).take(count) {
            if slot.replace(parameters).is_some() {
                return child.error("duplicate parameters of a channel");
            }
        }
    }
    Ok(channels)
}

/// An attribute that holds a number.
fn number(element: &Element, name: &str) -> Result<Option<f64>, LineError> {
    let Some(text) = element.attribute(name) else { return Ok(None) };
    match element.numbers_in(text)?[..] {
        [value] => Ok(Some(value)),
        _ => element.error(format!("{name} must be one number")),
    }
}

fn log(element: &Element) -> Result<Operation, LineError> {
    element.only(&["LogParams"])?;
    let style = style(element, LogStyle::ALL, LogStyle::name, None)?;
    let camera = matches!(style, LogStyle::CameraLinToLog | LogStyle::CameraLogToLin);
    let plain = matches!(style, LogStyle::Log10 | LogStyle::AntiLog10 | LogStyle::Log2 | LogStyle::AntiLog2);
    let channels = by_channel(element, "LogParams", |child| {
        let base = LogParameters::default();
        let p = LogParameters {
            base: number(child, "base")?.unwrap_or(base.base),
            log_slope: number(child, "logSideSlope")?.unwrap_or(base.log_slope),
            log_offset: number(child, "logSideOffset")?.unwrap_or(base.log_offset),
            lin_slope: number(child, "linSideSlope")?.unwrap_or(base.lin_slope),
            lin_offset: number(child, "linSideOffset")?.unwrap_or(base.lin_offset),
            lin_break: number(child, "linSideBreak")?,
            linear_slope: number(child, "linearSlope")?,
        };
        if p.base <= 0.0 || p.base == 1.0 {
            return child.error(format!("base {}: it must be above 0 and not 1", p.base));
        }
        if p.log_slope == 0.0 || p.lin_slope == 0.0 || p.linear_slope == Some(0.0) {
            return child.error("a slope of 0");
        }
        match p.lin_break {
            None if camera => child.error(format!("missing linSideBreak, which {} needs", style.name())),
            Some(at) if camera && p.lin_slope * at + p.lin_offset <= 0.0 => {
                child.error("linSideBreak: the logarithm has no value there")
            }
            _ => Ok(p),
        }
    })?;
    if channels.iter().flatten().any(|p| Some(p.base) != channels.iter().flatten().next().map(|p| p.base)) {
        return element.error("base must be the same for every channel");
    }
    match channels {
        [None, None, None] if camera => element.error("missing LogParams"),
        [None, None, None] => Ok(Operation::Log(style, [Some(LogParameters::default()); 3])),
        // Some programs write parameters without effect there.
        _ if plain && !element.children.iter().filter(|c| c.name == "LogParams").all(|c| says_nothing(c, style)) => {
            element.error(format!("LogParams: {} has none", style.name()))
        }
        _ if plain => Ok(Operation::Log(style, [Some(LogParameters::default()); 3])),
        _ => Ok(Operation::Log(style, channels)),
    }
}

/// Whether parameters that a style does not have would change nothing: its own base, slopes of 1 and offsets of 0.
pub(super) fn says_nothing(parameters: &Element, style: LogStyle) -> bool {
    let own = if matches!(style, LogStyle::Log10 | LogStyle::AntiLog10) { 10.0 } else { 2.0 };
    let is =
        |name: &str, neutral: f64| matches!(number(parameters, name), Ok(value) if value.is_none_or(|v| v == neutral));
    let slopes = ["logSideSlope", "linSideSlope"].into_iter().all(|name| is(name, 1.0));
    let offsets = ["logSideOffset", "linSideOffset"].into_iter().all(|name| is(name, 0.0));
    let linear = ["linSideBreak", "linearSlope"].into_iter().any(|name| parameters.attribute(name).is_some());
    is("base", own) && slopes && offsets && !linear
}

fn exponent(element: &Element) -> Result<Operation, LineError> {
    element.only(&["ExponentParams"])?;
    let style = style(element, ExponentStyle::ALL, ExponentStyle::name, None)?;
    let is_curve = style.name().starts_with("monCurve");
    let channels = by_channel(element, "ExponentParams", |child| {
        let Some(exponent) = number(child, "exponent")? else {
            return child.error("missing exponent");
        };
        let offset = number(child, "offset")?;
        let within = |v: f64, [low, high]: [f64; 2]| (low..=high).contains(&v);
        if is_curve && !within(exponent, EXPONENT) {
            return child.error(format!("exponent {exponent}: it must lie between 1 and 10"));
        }
        if !is_curve && !within(exponent, [0.01, 100.0]) {
            return child.error(format!("exponent {exponent}: it must lie between 0.01 and 100"));
        }
        match offset {
            // Some programs write an offset of 0 there, which has no effect.
            Some(0.0) if !is_curve => Ok(ExponentParameters { exponent, offset: 0.0 }),
            Some(_) if !is_curve => child.error(format!("offset: {} has none", style.name())),
            Some(offset) if !within(offset, OFFSET) => {
                child.error(format!("offset {offset}: it must lie between 0 and 0.9"))
            }
            None if is_curve => child.error(format!("missing offset, which {} needs", style.name())),
            _ => Ok(ExponentParameters { exponent, offset: offset.unwrap_or(0.0) }),
        }
    })?;
    match channels {
        [None, None, None] => element.error("missing ExponentParams"),
        _ => Ok(Operation::Exponent(style, channels)),
    }
}

fn asc_cdl(element: &Element) -> Result<Operation, LineError> {
    element.only(&["SOPNode", "SatNode"])?;
    let style = style(element, CdlStyle::ALL, CdlStyle::name, Some(CdlStyle::Fwd))?;
    let parameters = cdl::nodes(element).map_err(|mut all| all.swap_remove(0))?.numbers;
    let reverse = matches!(style, CdlStyle::Rev | CdlStyle::RevNoClamp);
    if reverse && (parameters.saturation == 0.0 || parameters.slope.contains(&0.0)) {
        return element.error(format!("a slope or a saturation of 0 has no inverse, which {} is", style.name()));
    }
    Ok(Operation::Cdl(style, parameters))
}
