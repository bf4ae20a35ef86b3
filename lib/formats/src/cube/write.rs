//! Tables to cube text.

use super::{LINE_LIMIT, NUMBER_LIMIT};
use crate::fixed::{self, DIGITS};
use rushlight_colour::cube::{Cube, Table};
use rushlight_colour::invalid::{Invalid, Refusals, short};
use std::fmt::Write as _;

/// Decimals when nothing else is asked for.
pub const DEFAULT_DIGITS: usize = 6;

/// How a table is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WriteOptions<'o> {
    /// The title; none is written for an empty one. It is made to fit by [`clean_title`].
    pub title: &'o str,
    /// Comment lines at the top; what is not printable ASCII becomes `?`, what is too long is cut.
    pub comments: &'o [String],
    /// Decimals, among [`DIGITS`].
    pub digits: usize,
    /// No comments, for devices that refuse them.
    pub plain: bool,
    /// Values are limited to 0..1.
    pub clamp: bool,
}

impl Default for WriteOptions<'_> {
    fn default() -> Self {
        Self { title: "", comments: &[], digits: DEFAULT_DIGITS, plain: false, clamp: false }
    }
}

/// `table` as the text of a cube file, by the letter of the specification.
///
/// # Errors
/// Digits out of [`DIGITS`]; values or bounds beyond 1e37.
pub fn write(table: &Table, options: &WriteOptions<'_>) -> Result<String, Refusals> {
    match table {
        Table::Curves(curves) => put("LUT_1D_SIZE", curves.size(), curves.domain(), curves.entries(), options),
        Table::Cube(cube) => write_cube(cube, options),
    }
}

/// [`write()`] for a cube.
///
/// # Errors
/// As [`write()`].
pub fn write_cube(cube: &Cube, options: &WriteOptions<'_>) -> Result<String, Refusals> {
    put("LUT_3D_SIZE", cube.size(), cube.domain(), cube.nodes(), options)
}

fn put(
    keyword: &str,
    size: usize,
    domain: [[f64; 3]; 2],
    rows: &[[f64; 3]],
    options: &WriteOptions<'_>,
) -> Result<String, Refusals> {
    check(&domain, rows, options.digits)?;
    let mut head = String::new();
    let title = clean_title(options.title);
    if !title.is_empty() {
        let _ = writeln!(head, "TITLE \"{title}\"");
    }
    for comment in options.comments.iter().filter(|_| !options.plain) {
        let _ = writeln!(head, "# {}", printable(comment, LINE_LIMIT - 2));
    }
    let [low, high] = domain.map(|bound| bound.map(short));
    let _ = writeln!(head, "DOMAIN_MIN {}", low.join(" "));
    let _ = writeln!(head, "DOMAIN_MAX {}", high.join(" "));
    let _ = writeln!(head, "{keyword} {size}");
    let mut text = head.into_bytes();
    if options.clamp {
        let rows: Vec<[f64; 3]> = rows.iter().map(|row| row.map(|v| v.clamp(0.0, 1.0))).collect();
        fixed::write_rows(&rows, options.digits, &mut text);
    } else {
        fixed::write_rows(rows, options.digits, &mut text);
    }
    Ok(String::from_utf8(text).expect("every byte is ASCII"))
}

/// `digits` if a file may have that many decimals.
///
/// # Errors
/// A refusal under `key`.
pub fn check_digits(key: &str, digits: usize) -> Result<usize, Invalid> {
    if DIGITS.contains(&digits) {
        return Ok(digits);
    }
    let (least, most) = (DIGITS.start(), DIGITS.end());
    Err(Invalid::new(key, format!("{digits} is out of range: it must lie between {least} and {most}")))
}

fn check(domain: &[[f64; 3]; 2], rows: &[[f64; 3]], digits: usize) -> Result<(), Refusals> {
    let mut refusals = Refusals::new();
    refusals.extend(check_digits("digits", digits).err());
    let fits = |row: &[f64; 3]| row.iter().all(|v| v.abs() <= NUMBER_LIMIT);
    if !domain.iter().all(fits) {
        refusals.push("domain", "beyond 1e37, which no cube file may hold");
    }
    if let Some(at) = rows.iter().position(|row| !fits(row)) {
        refusals.push("table", format!("row {} is beyond 1e37, which no cube file may hold", at + 1));
    }
    refusals.finish(|| ())
}

/// The title as a cube file can hold it: printable ASCII, no double quotes, short enough for its line.
pub fn clean_title(title: &str) -> String {
    printable(title.trim(), LINE_LIMIT - "TITLE \"\"".len()).replace('"', "'")
}

/// Printable ASCII, at most `limit` bytes.
fn printable(text: &str, limit: usize) -> String {
    let clean: String = text.chars().map(|c| if (' '..='~').contains(&c) { c } else { '?' }).take(limit).collect();
    clean.trim_end().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cube::{Strictness, read};
    use rushlight_colour::cube::{Cube, Curves};

    fn cube() -> Table {
        Cube::sample(2, |[r, g, b]| [1.5 * r - 0.25, -1e-9 * g, b]).unwrap().into()
    }

    #[test]
    fn the_whole_text() {
        let options =
            WriteOptions { title: "Saltmarsh", comments: &["night".to_owned()], digits: 4, ..Default::default() };
        let text = write(&Curves::sample(3, |v| v - 0.5).unwrap().into(), &options).unwrap();
        let want = "TITLE \"Saltmarsh\"\n# night\nDOMAIN_MIN 0 0 0\nDOMAIN_MAX 1 1 1\nLUT_1D_SIZE 3\n\
                    -0.5000 -0.5000 -0.5000\n0.0000 0.0000 0.0000\n0.5000 0.5000 0.5000\n";
        assert_eq!(text, want);
        let plain = write(&cube(), &WriteOptions { plain: true, ..options }).unwrap();
        assert!(!plain.contains('#'));
        assert!(!plain.contains("-0.0000 "));
    }

    #[test]
    fn titles_and_comments_are_made_to_fit() {
        let comments = ["x\ny".to_owned(), "é".repeat(400), "trailing ".to_owned()];
        let title = "é\"".repeat(400);
        let text = write(&cube(), &WriteOptions { title: &title, comments: &comments, ..Default::default() }).unwrap();
        assert!(text.starts_with("TITLE \"?'?'"));
        assert!(text.contains("# x?y\n") && text.contains("# trailing\n"));
        assert!(read(text.as_bytes(), Strictness::Strict).is_ok());
    }

    #[test]
    fn a_clamped_file_stays_within_0_and_1() {
        let text = write(&cube(), &WriteOptions { clamp: true, ..Default::default() }).unwrap();
        let file = read(text.as_bytes(), Strictness::Strict).unwrap();
        assert!(file.table.rows().iter().flatten().all(|v| (0.0..=1.0).contains(v)));
        assert!(write(&cube(), &WriteOptions::default()).unwrap().contains("-0.25"));
    }

    #[test]
    fn extreme_bounds_and_values_are_written_within_a_line_or_refused() {
        let domain = [[-1e37, 1e-300, 0.1], [1e37, 1e-299, 0.30000000000000004]];
        let table = Table::from(Cube::new(2, domain, vec![[1e37, -1e37, 1e-37]; 8]).unwrap());
        let text = write(&table, &WriteOptions { digits: 10, ..Default::default() }).unwrap();
        assert_eq!(read(text.as_bytes(), Strictness::Strict).unwrap().table.domain(), domain);
        let table = Table::from(Cube::new(2, [[0.0; 3], [1.0; 3]], vec![[1e38; 3]; 8]).unwrap());
        assert_eq!(write(&table, &WriteOptions::default()).unwrap_err()[0].key, "table");
        assert_eq!(write(&cube(), &WriteOptions { digits: 3, ..Default::default() }).unwrap_err()[0].key, "digits");
    }
}
