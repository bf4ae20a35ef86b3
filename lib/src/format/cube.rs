//! The Cube LUT Specification, version 1.0 (2013): 3D tables as text.
//!
//! [`write`] gives a file by the letter of the specification: ASCII, LF, lines below 250 bytes, keywords before rows,
//! red fastest. [`read`] takes 3D files by the same rules, and blank lines and CR LF beside them.

use crate::cube::{Cube, SIZES};
use std::fmt::{self, Write as _};

/// Bytes that a line may have (specification, 5.3).
const LINE_LIMIT: usize = 250;
/// Magnitude that a number may have.
const NUMBER_LIMIT: f64 = 1e37;

/// A cube with the title of its file.
#[derive(Debug, Clone, PartialEq)]
pub struct CubeFile {
    /// The title, empty for none.
    pub title: String,
    /// The table.
    pub cube: Cube,
}

/// What is wrong with a cube file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CubeError {
    /// The line, from 1.
    pub line: usize,
    /// What is wrong and what would be right.
    pub message: String,
}

impl fmt::Display for CubeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: {}", self.line, self.message)
    }
}

impl std::error::Error for CubeError {}

/// `cube` as text with `title` and `comments`, numbers with `digits` decimals.
///
/// Characters that the specification has no room for are replaced: quotes in the title by apostrophes, anything beyond
/// printable ASCII by `?`; what would make a line too long is cut.
pub fn write(cube: &Cube, title: &str, comments: &[String], digits: usize) -> String {
    let mut text = String::with_capacity(cube.nodes().len() * (3 * (digits + 3)) + 1024);
    if !title.is_empty() {
        let _ = writeln!(text, "TITLE \"{}\"", clean(title, LINE_LIMIT - 8).replace('"', "'"));
    }
    for comment in comments {
        let _ = writeln!(text, "# {}", clean(comment, LINE_LIMIT - 2));
    }
    let [low, high] = cube.domain();
    let _ = writeln!(text, "DOMAIN_MIN {} {} {}", low[0], low[1], low[2]);
    let _ = writeln!(text, "DOMAIN_MAX {} {} {}", high[0], high[1], high[2]);
    let _ = writeln!(text, "LUT_3D_SIZE {}", cube.size());
    for node in cube.nodes() {
        // What rounds to zero is written without a sign.
        let [r, g, b] = node.map(|v| if v.abs() < 0.5 * step(digits) { 0.0 } else { v });
        let _ = writeln!(text, "{r:.digits$} {g:.digits$} {b:.digits$}");
    }
    text
}

/// One unit of the last decimal.
fn step(digits: usize) -> f64 {
    (0..digits).fold(1.0, |s, _| s / 10.0)
}

/// Printable ASCII, at most `limit` bytes.
fn clean(text: &str, limit: usize) -> String {
    text.chars().map(|c| if (' '..='~').contains(&c) { c } else { '?' }).take(limit).collect()
}

/// Reads a 3D cube file.
///
/// # Errors
/// The first rule that it breaks, with its line.
pub fn read(text: &str) -> Result<CubeFile, CubeError> {
    let mut header = Header::default();
    let mut nodes: Vec<[f64; 3]> = Vec::new();
    let mut last = 0;
    for (index, raw) in text.split('\n').enumerate() {
        let line = index + 1;
        let error = |message: String| CubeError { line, message };
        let content = raw.strip_suffix('\r').unwrap_or(raw);
        if content.len() > LINE_LIMIT {
            return Err(error(format!("{} bytes: a line has at most {LINE_LIMIT}", content.len())));
        }
        if content.trim().is_empty() || content.starts_with('#') {
            continue;
        }
        last = line;
        let first = content.trim_start().as_bytes()[0];
        if first.is_ascii_alphabetic() {
            if !nodes.is_empty() {
                return Err(error("a keyword after the table has begun: keywords come first".to_owned()));
            }
            header.keyword(content.trim()).map_err(error)?;
            continue;
        }
        let Some(size) = header.size else {
            return Err(error("a row of the table before LUT_3D_SIZE".to_owned()));
        };
        if nodes.len() == size * size * size {
            return Err(error(format!("more rows than the {} that {size} points have", size * size * size)));
        }
        nodes.push(row(content).map_err(error)?);
    }
    let size = header.size.ok_or(CubeError { line: last.max(1), message: "no LUT_3D_SIZE".to_owned() })?;
    let count = size * size * size;
    if nodes.len() < count {
        let message = format!("the file ends after {} of {count} rows", nodes.len());
        return Err(CubeError { line: last, message });
    }
    let domain = [header.min.unwrap_or([0.0; 3]), header.max.unwrap_or([1.0; 3])];
    let cube = Cube::new(size, domain, nodes)
        .map_err(|refused| CubeError { line: last, message: refused[0].message.clone() })?;
    Ok(CubeFile { title: header.title.unwrap_or_default(), cube })
}

/// The keywords met so far.
#[derive(Default)]
struct Header {
    title: Option<String>,
    min: Option<[f64; 3]>,
    max: Option<[f64; 3]>,
    size: Option<usize>,
}

impl Header {
    fn keyword(&mut self, content: &str) -> Result<(), String> {
        let (key, rest) = content.split_once([' ', '\t']).unwrap_or((content, ""));
        let rest = rest.trim();
        match key {
            "TITLE" => {
                let inner = rest.strip_prefix('"').and_then(|r| r.strip_suffix('"'));
                let title = inner.ok_or("TITLE needs its text in double quotes")?;
                once(&mut self.title, key, title.to_owned())
            }
            "DOMAIN_MIN" => once(&mut self.min, key, row(rest)?),
            "DOMAIN_MAX" => once(&mut self.max, key, row(rest)?),
            "LUT_3D_SIZE" => {
                let size = rest.parse().ok().filter(|s| SIZES.contains(s)).ok_or_else(|| {
                    format!("LUT_3D_SIZE `{rest}`: a whole number from {} to {}", SIZES.start(), SIZES.end())
                })?;
                once(&mut self.size, key, size)
            }
            "LUT_1D_SIZE" => Err("a 1D table: a 3D table is needed here".to_owned()),
            _ => Err(crate::document::unknown("keyword", key, ["TITLE", "DOMAIN_MIN", "DOMAIN_MAX", "LUT_3D_SIZE"])),
        }
    }
}

fn once<T>(slot: &mut Option<T>, key: &str, value: T) -> Result<(), String> {
    match slot.replace(value) {
        None => Ok(()),
        Some(_) => Err(format!("{key} a second time")),
    }
}

/// Three numbers.
fn row(content: &str) -> Result<[f64; 3], String> {
    let mut values = [0.0; 3];
    let mut fields = content.split_ascii_whitespace();
    for value in &mut values {
        let field = fields.next().ok_or("fewer than three numbers on the line")?;
        *value = field
            .parse()
            .ok()
            .filter(|v: &f64| v.abs() <= NUMBER_LIMIT)
            .ok_or_else(|| format!("`{field}` is not a number within 1e37"))?;
    }
    match fields.next() {
        None => Ok(values),
        Some(_) => Err("more than three numbers on the line".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample() -> Cube {
        Cube::sample(3, |[r, g, b]| [r * 0.5, -1e-9 * g, b - 2.0]).unwrap()
    }

    #[test]
    fn what_is_written_is_read_back() {
        let text = write(&sample(), "Night, \"r4\"", &["made for a test".to_owned()], 6);
        let file = read(&text).unwrap();
        assert_eq!(file.title, "Night, 'r4'");
        for (got, want) in file.cube.nodes().iter().zip(sample().nodes()) {
            assert!((0..3).all(|i| (got[i] - want[i]).abs() <= 5e-7));
        }
        assert!(!text.contains("-0.000000"));
        assert!(text.is_ascii() && text.lines().all(|l| l.len() <= LINE_LIMIT));
        assert_eq!(read(&text.replace('\n', "\r\n")).unwrap(), file);
    }

    #[test]
    fn titles_and_comments_are_made_to_fit() {
        let text = write(&sample(), &"é".repeat(400), &["x\ny".to_owned()], 4);
        assert!(text.starts_with("TITLE \"????"));
        assert!(text.contains("# x?y\n"));
        assert!(text.lines().all(|l| l.len() <= LINE_LIMIT));
    }

    #[test]
    fn each_broken_rule_is_named_with_its_line() {
        let good = write(&Cube::sample(2, |rgb| rgb).unwrap(), "t", &[], 6);
        let cases = [
            (good.replace("LUT_3D_SIZE 2", "LUT_3D_SIZE 1"), 4, "a whole number from 2 to 256"),
            (good.replace("LUT_3D_SIZE 2", "LUT_3D_SIZE 2\nLUT_3D_SIZE 2"), 5, "a second time"),
            (good.replace("LUT_3D_SIZE 2", "LUT_3D_SZE 2"), 4, "did you mean `LUT_3D_SIZE`?"),
            (good.replace("LUT_3D_SIZE 2", "LUT_1D_SIZE 2"), 4, "a 3D table is needed"),
            (good.replace("TITLE \"t\"", "TITLE t"), 1, "double quotes"),
            (good.replace("DOMAIN_MAX 1 1 1", "DOMAIN_MAX 0 1 1"), 12, "below its upper bound"),
            (good.replace("0.000000 0.000000 0.000000", "0 0"), 5, "fewer than three"),
            (good.replace("0.000000 0.000000 0.000000", "0 0 0 0"), 5, "more than three"),
            (good.replace("0.000000 0.000000 0.000000", "0 0 1e38"), 5, "is not a number within 1e37"),
            (good.replace("0.000000 0.000000 0.000000", "0 nan 0"), 5, "is not a number"),
            (format!("{good}0 0 0\n"), 13, "more rows than the 8"),
            (good.replace("1.000000 1.000000 1.000000\n", ""), 11, "ends after 7 of 8 rows"),
            (format!("{good}TITLE \"late\"\n"), 13, "keywords come first"),
            (String::new(), 1, "no LUT_3D_SIZE"),
            ("0 0 0\n".to_owned(), 1, "before LUT_3D_SIZE"),
        ];
        for (text, line, message) in cases {
            let error = read(&text).unwrap_err();
            assert_eq!(error.line, line, "{error}");
            assert!(error.message.contains(message), "{error}");
        }
    }

    #[test]
    fn comments_may_stand_anywhere_and_a_large_size_allocates_nothing() {
        let good = write(&Cube::sample(2, |rgb| rgb).unwrap(), "t", &[], 6);
        let commented = good.replace("1.000000 0.000000 0.000000", "# between\n\n1.000000 0.000000 0.000000");
        assert_eq!(read(&commented).unwrap(), read(&good).unwrap());
        assert!(read("LUT_3D_SIZE 256\n0 0 0\n").unwrap_err().message.contains("ends after 1 of"));
    }
}
