//! Charts and spectra as text: CSV, and the tables of ISO 28178 (CGATS).
//!
//! A chart in CSV has a head: `name`, and either `X`, `Y`, `Z`, or `L`, `a`, `b` (CIELAB), or wavelengths in nm. In CGATS text
//! the fields are `SAMPLE_ID` or `SAMPLE_NAME`, and `XYZ_X` ..., `LAB_L` ..., or spectral ones that end in their wavelength,
//! such as `SPECTRAL_NM_400`. XYZ, CIELAB and reflectance in per cent are known by their size. Measured XYZ and CIELAB are
//! of D50, as graphic arts measure (ISO 13655, from memory).

use super::light::covers;
use super::{Chart, ChartError, Colour, Patch};
use crate::chromaticity::D50;
use crate::spectrum::{Spectrum, wavelengths};

/// Most patches of a chart.
pub const MOST: usize = 400;
/// Fewest patches: a matrix that keeps white has six numbers.
pub const FEWEST: usize = 8;

/// A chart from the text of a file: CGATS where it begins a data format, else CSV. `layout` is its columns and rows; left
/// out: six by four for 24 patches, or as names such as B3 say, a letter for the row and a number for the column.
///
/// # Errors
/// Text that describes no chart, with its line.
pub fn parse(text: &str, layout: Option<[usize; 2]>) -> Result<Chart, ChartError> {
    if text.lines().any(|line| line.trim().eq_ignore_ascii_case("BEGIN_DATA_FORMAT")) {
        parse_cgats(text, layout)
    } else {
        parse_csv(text, layout)
    }
}

fn fail<T>(line: usize, why: impl Into<String>) -> Result<T, ChartError> {
    Err(ChartError::File(line, why.into()))
}

/// A chart from CSV text. Lines that begin with `#` are comments.
///
/// # Errors
/// As [`parse`].
pub fn parse_csv(text: &str, layout: Option<[usize; 2]>) -> Result<Chart, ChartError> {
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).trim(csv::Trim::All).from_reader(text.as_bytes());
    let bad =
        |error: csv::Error| ChartError::File(error.position().map_or(0, |p| p.line() as usize), error.to_string());
    let head: Vec<String> = reader.headers().map_err(bad)?.iter().map(str::to_owned).collect();
    let mut rows = Vec::new();
    for row in reader.records() {
        let row = row.map_err(bad)?;
        let line = row.position().map_or(0, |p| p.line() as usize);
        rows.push((line, row.iter().map(str::to_owned).collect()));
    }
    chart(&head, &rows, layout)
}

/// A chart from CGATS text.
///
/// # Errors
/// As [`parse`].
pub fn parse_cgats(text: &str, layout: Option<[usize; 2]>) -> Result<Chart, ChartError> {
    let (mut head, mut rows, mut part) = (Vec::new(), Vec::new(), "");
    for (i, line) in text.lines().enumerate() {
        let line = line.split('#').next().unwrap_or("").trim();
        let word = line.to_ascii_uppercase();
        match word.as_str() {
            "BEGIN_DATA_FORMAT" => part = "format",
            "BEGIN_DATA" if part == "format" => return fail(i + 1, "BEGIN_DATA stands before END_DATA_FORMAT"),
            "BEGIN_DATA" => part = "data",
            "END_DATA_FORMAT" => part = "",
            // A file may hold several tables: the first is the chart.
            "END_DATA" => break,
            "" => {}
            _ if part == "format" => head.extend(words(line)),
            _ if part == "data" => rows.push((i + 1, words(line))),
            _ => {}
        }
    }
    if head.is_empty() {
        return fail(0, "the table has no fields between BEGIN_DATA_FORMAT and END_DATA_FORMAT");
    }
    chart(&head, &rows, layout)
}

/// Words between blanks; quotes hold a word together.
fn words(line: &str) -> Vec<String> {
    let mut found = Vec::new();
    for (i, part) in line.split('"').enumerate() {
        if i % 2 == 1 {
            found.push(part.to_owned());
        } else {
            found.extend(part.split_whitespace().map(str::to_owned));
        }
    }
    found
}

/// What the columns of a table are.
enum Fields {
    Xyz([usize; 3]),
    Lab([usize; 3]),
    Spectra(Vec<(f64, usize)>),
}

fn fields(head: &[String]) -> Option<Fields> {
    let at = |names: [&str; 2]| head.iter().position(|h| names.iter().any(|n| h.eq_ignore_ascii_case(n)));
    let three = |names: [[&str; 2]; 3]| Some([at(names[0])?, at(names[1])?, at(names[2])?]);
    let mut bands: Vec<(f64, usize)> =
        head.iter().enumerate().filter_map(|(i, name)| wavelength(name).map(|nm| (nm, i))).collect();
    bands.sort_by(|a, b| a.0.total_cmp(&b.0));
    // Spectra say most: they stand before what was computed from them.
    if bands.len() >= 16 {
        return Some(Fields::Spectra(bands));
    }
    three([["X", "XYZ_X"], ["Y", "XYZ_Y"], ["Z", "XYZ_Z"]])
        .map(Fields::Xyz)
        .or_else(|| three([["L", "LAB_L"], ["a", "LAB_A"], ["b", "LAB_B"]]).map(Fields::Lab))
}

/// The wavelength that a field is named by: `400`, `nm400`, `SPECTRAL_NM_400`.
fn wavelength(name: &str) -> Option<f64> {
    let digits = name.trim_start_matches(|c: char| !c.is_ascii_digit());
    let before = name[..name.len() - digits.len()].to_ascii_uppercase();
    let known = before.is_empty() || before.contains("NM") || before.starts_with("SPEC");
    digits.parse::<f64>().ok().filter(|nm| known && (300.0..=1100.0).contains(nm))
}

fn chart(head: &[String], rows: &[(usize, Vec<String>)], layout: Option<[usize; 2]>) -> Result<Chart, ChartError> {
    let Some(fields) = fields(head) else {
        return fail(1, "its fields must be X, Y, Z, or L, a, b, or at least 16 wavelengths from 400 to 700 nm");
    };
    let named = |of: &[&str]| head.iter().position(|h| of.iter().any(|n| h.eq_ignore_ascii_case(n)));
    let name = named(&["name", "SAMPLE_NAME"]).or_else(|| named(&["SAMPLE_ID", "SAMPLE_LOC"]));
    if rows.len() < FEWEST || rows.len() > MOST {
        return fail(0, format!("it has {} patches: a chart has {FEWEST} to {MOST}", rows.len()));
    }
    let mut names = Vec::new();
    let mut values: Vec<Vec<f64>> = Vec::new();
    let used: Vec<usize> = match &fields {
        Fields::Xyz(at) | Fields::Lab(at) => at.to_vec(),
        Fields::Spectra(bands) => bands.iter().map(|b| b.1).collect(),
    };
    for (i, (line, row)) in rows.iter().enumerate() {
        if row.len() != head.len() {
            return fail(*line, format!("it has {} values, but there are {} fields", row.len(), head.len()));
        }
        let number = |at: &usize| {
            row[*at]
                .parse::<f64>()
                .ok()
                .filter(|v| v.is_finite())
                .ok_or_else(|| ChartError::File(*line, format!("{}: `{}` is not a number", head[*at], row[*at])))
        };
        values.push(used.iter().map(number).collect::<Result<_, _>>()?);
        names.push(name.map_or_else(|| (i + 1).to_string(), |at| row[at].clone()));
    }
    if let Some(twice) = (1..names.len()).find(|i| names[..*i].contains(&names[*i])) {
        return fail(rows[twice].0, format!("`{}` is the name of two patches", names[twice]));
    }
    let [columns, down] = laid_out(&names, layout)?;
    // No surface reflects twice its light: such numbers are per cent.
    let most = match &fields {
        Fields::Xyz(_) => values.iter().map(|v| v[1]).fold(0.0, f64::max),
        Fields::Lab(_) => 0.0,
        Fields::Spectra(_) => values.iter().flatten().copied().fold(0.0, f64::max),
    };
    let scale = if most > 2.0 { 0.01 } else { 1.0 };
    let mut patches = Vec::new();
    for ((name, value), (line, _)) in names.into_iter().zip(values).zip(rows) {
        let colour = match &fields {
            Fields::Xyz(_) => Colour::Xyz { xyz: [0, 1, 2].map(|i| scale * value[i]), white: D50 },
            Fields::Lab(_) => Colour::Xyz { xyz: of_lab([value[0], value[1], value[2]]), white: D50 },
            Fields::Spectra(bands) => {
                let points: Vec<(f64, f64)> = bands.iter().zip(&value).map(|(b, v)| (b.0, scale * v)).collect();
                let at = |why: ChartError| ChartError::File(*line, why.to_string());
                Colour::Spectrum(Box::new(resampled(&points).map_err(at)?))
            }
        };
        if let Colour::Xyz { xyz, .. } = &colour
            && !(xyz[1] > 0.0 && xyz[1] < 2.0)
        {
            return fail(
                *line,
                format!("`{name}` has a luminance of {}: it must be above 0, and white at most 1 or 100", xyz[1]),
            );
        }
        patches.push(Patch { name, colour });
    }
    Ok(Chart { name: "chart".to_owned(), source: "as described".to_owned(), columns, rows: down, patches })
}

/// Columns and rows.
fn laid_out(names: &[String], layout: Option<[usize; 2]>) -> Result<[usize; 2], ChartError> {
    let count = names.len();
    if let Some([columns, rows]) = layout {
        if columns * rows != count {
            return fail(0, format!("{columns} x {rows} is no layout of {count} patches"));
        }
        return Ok([columns, rows]);
    }
    let place = |name: &String| {
        let (row, column) = name.split_at_checked(1)?;
        let row = row.chars().next().filter(char::is_ascii_alphabetic)?.to_ascii_uppercase() as usize - 'A' as usize;
        Some((row, column.parse::<usize>().ok()?.checked_sub(1)?))
    };
    let places: Option<Vec<(usize, usize)>> = names.iter().map(place).collect();
    if let Some(places) = places {
        let columns = places.iter().map(|p| p.1).max().unwrap_or(0) + 1;
        let in_order = places.iter().enumerate().all(|(i, (row, column))| row * columns + column == i);
        if in_order && count.is_multiple_of(columns) {
            return Ok([columns, count / columns]);
        }
    }
    if count == 24 {
        return Ok([6, 4]);
    }
    fail(0, format!("how {count} patches are laid out is unknown: give --layout COLUMNSxROWS, row after row"))
}

/// XYZ under D50 of CIELAB (CIE 15:2018, 8.2.1, inverted).
fn of_lab([l, a, b]: [f64; 3]) -> [f64; 3] {
    let y = (l + 16.0) / 116.0;
    let back = |f: f64| if f > 6.0 / 29.0 { f * f * f } else { 3.0 * (6.0 / 29.0) * (6.0 / 29.0) * (f - 4.0 / 29.0) };
    let white = D50.to_xyz(1.0);
    [white.x * back(y + a / 500.0), white.y * back(y), white.z * back(y - b / 200.0)]
}

/// Two columns of numbers, by rising wavelength; a head is passed over.
pub(super) fn columns(text: &str) -> Result<Vec<(f64, f64)>, ChartError> {
    let mut points: Vec<(f64, f64)> = Vec::new();
    for (i, line) in text.lines().enumerate() {
        let cells: Vec<&str> = line.split([',', ';', '\t']).map(str::trim).collect();
        if line.trim().is_empty() || line.starts_with('#') {
            continue;
        }
        let number = |at: usize| cells.get(at).and_then(|c| c.parse::<f64>().ok()).filter(|v| v.is_finite());
        match (number(0), number(1)) {
            (Some(nm), Some(value)) => {
                if points.last().is_some_and(|p| p.0 >= nm) {
                    return fail(i + 1, format!("{nm} nm does not lie above the wavelength before it"));
                }
                points.push((nm, value));
            }
            _ if points.is_empty() => {}
            _ => return fail(i + 1, format!("`{line}`: it must be a wavelength in nm and a number")),
        }
    }
    Ok(points)
}

/// A spectrum from measured points: through the four nearest by Lagrange's cubic, as CIE 15 allows (from memory), held at
/// its ends, and nowhere below zero.
pub(super) fn resampled(points: &[(f64, f64)]) -> Result<Spectrum, ChartError> {
    if points.len() < 16 || !covers(points) {
        return fail(0, "a spectrum must reach from 400 to 700 nm, with at least 16 points between 300 and 1100 nm");
    }
    let (first, last) = (points[0], points[points.len() - 1]);
    let value = |nm: f64| {
        if nm <= first.0 {
            return first.1;
        }
        if nm >= last.0 {
            return last.1;
        }
        let after = points.partition_point(|p| p.0 <= nm);
        let from = after.saturating_sub(2).min(points.len() - 4);
        let near = &points[from..from + 4];
        let term = |i: usize| {
            let others = (0..4).filter(|j| *j != i);
            near[i].1 * others.map(|j| (nm - near[j].0) / (near[i].0 - near[j].0)).product::<f64>()
        };
        (0..4).map(term).sum::<f64>()
    };
    let mut samples = [0.0; crate::spectrum::COUNT];
    samples.iter_mut().zip(wavelengths()).for_each(|(s, nm)| *s = value(nm).max(0.0));
    Spectrum::new(samples).map_err(|why| ChartError::File(0, why.message))
}

#[cfg(test)]
mod tests {
    use super::super::classic::classic;
    use super::super::light::Light;
    use super::*;

    /// The classic chart as CGATS text, by XYZ in per cent and by reflectance every 10 nm.
    fn written(spectra: bool) -> String {
        let chart = classic();
        let d50 = Light::parse("d50").unwrap();
        let mut text =
            "CGATS.17\nORIGINATOR \"a test\"\nNUMBER_OF_FIELDS 4\nBEGIN_DATA_FORMAT\nSAMPLE_ID SAMPLE_NAME ".to_owned();
        let bands: Vec<usize> = (0..81).step_by(2).collect();
        if spectra {
            bands.iter().for_each(|i| text += &format!("SPECTRAL_NM_{} ", 380 + 5 * i));
        } else {
            text += "XYZ_X XYZ_Y XYZ_Z";
        }
        text += "\nEND_DATA_FORMAT\nBEGIN_DATA\n";
        for (i, patch) in chart.patches.iter().enumerate() {
            let Colour::Spectrum(s) = &patch.colour else { panic!() };
            text += &format!("{} \"{}\" ", i + 1, patch.name);
            if spectra {
                bands.iter().for_each(|b| text += &format!("{} ", s.samples()[*b]));
            } else {
                let xyz = s.to_xyz_under(d50.spectrum.as_ref().unwrap()).unwrap();
                text += &format!("{} {} {}", 100.0 * xyz.x, 100.0 * xyz.y, 100.0 * xyz.z);
            }
            text += "\n";
        }
        text + "END_DATA\n"
    }

    #[test]
    fn cgats_tables_are_read_by_spectra_and_by_xyz() {
        let d50 = Light::parse("d50").unwrap();
        let truth = classic().reference(&d50).unwrap();
        for spectra in [false, true] {
            let chart = parse(&written(spectra), None).unwrap();
            assert_eq!((chart.columns, chart.rows, chart.patches[1].name.as_str()), (6, 4, "light skin"));
            let white: [f64; 3] = crate::chromaticity::D65.to_xyz(1.0).into();
            for (a, b) in chart.reference(&d50).unwrap().iter().zip(&truth) {
                let [a, b] = [a, b].map(|xyz| crate::difference::lab(*xyz, white));
                assert!(crate::difference::ciede2000(a, b) < 0.1, "{a:?} {b:?}");
            }
        }
    }

    #[test]
    fn tables_that_are_no_chart_are_refused_with_their_line() {
        let good = "name,X,Y,Z\n".to_owned() + &(1..=8).map(|i| format!("A{i},10,1{i},9\n")).collect::<String>();
        let chart = parse(&good, None).unwrap();
        assert_eq!((chart.columns, chart.rows), (8, 1));
        for (text, line, why) in [
            (good.replace("13,9", "x,9"), 4, "Y: `x` is not a number"),
            (good.replace("A3", "A2"), 4, "two patches"),
            (good.replace("name,X", "name,Q"), 1, "must be X, Y, Z"),
            (good.replace("A8,10,18,9\n", ""), 0, "it has 7 patches"),
            (good.replace("10,13,9", "10,-13,9"), 4, "luminance"),
            (good.replace("A3", "Q"), 0, "--layout"),
        ] {
            let Err(ChartError::File(at, said)) = parse(&text, None) else { panic!("{text}") };
            assert!(at == line && said.contains(why), "{at}: {said} for {why}");
        }
        assert!(parse(&good, Some([3, 3])).is_err() && parse(&good, Some([4, 2])).is_ok());
        assert!(parse(&written(true).replace("END_DATA_FORMAT", "BEGIN_DATA"), None).is_err());
    }
}
