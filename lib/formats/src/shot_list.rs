//! Shot lists with colour corrections: the events of a list that have one, each a shot by its name.
//!
//! `ASC_SOP` is `(slope)(offset)(power)`, three numbers each; `ASC_SAT` one number (common practice, no source).

use super::cdl::{CdlFile, Correction, Kind, Namespace, Refused, Remarks};
pub use super::events::Form;
use super::events::{self, Event, EventList, NAMES, SAT, SOP, texts};
use super::{LineError, LineErrors, MOST_ERRORS};
use rushlight_colour::message::{LONGEST_TITLE, beginning_of};
use rushlight_colour::step::cdl::CdlNumbers;
use std::collections::BTreeMap;

/// A shot with its correction.
#[derive(Debug, Clone, PartialEq)]
pub struct ListedShot {
    /// Its name.
    pub name: String,
    /// Its correction.
    pub numbers: CdlNumbers,
    /// The reel or tape that its clip is of.
    pub reel: Option<String>,
    /// Its line, from 1.
    pub line: usize,
}

/// A list.
#[derive(Debug, Clone, PartialEq)]
pub struct ShotList {
    /// The shots that have a correction, in their order; one that stands there twice with the same correction, once.
    pub shots: Vec<ListedShot>,
    /// Rows whose correction cannot be used, in their order: also those of one shot with several corrections. None in a
    /// list that [`read`] gave, which has one shot at least.
    pub refused: Vec<Refused>,
    /// Rows that have none.
    pub without: usize,
}

impl ShotList {
    /// The same as a file of corrections, with the names of the shots for ids.
    pub fn into_corrections(self) -> CdlFile {
        let correction = |ListedShot { name, numbers, line, .. }| Correction {
            id: Some(name),
            numbers,
            line,
            ..Correction::default()
        };
        CdlFile {
            kind: Kind::Collection,
            namespace: Namespace::default(),
            remarks: Remarks::default(),
            corrections: self.shots.into_iter().map(correction).collect(),
            refused: self.refused,
        }
    }
}

/// Reads a list as a whole; `column` names the shots (default: `Name`, or else `Shot`). Names of columns are taken in any case.
///
/// # Errors
/// All that is wrong, by line.
pub fn read(bytes: &[u8], form: Form, column: Option<&str>) -> Result<ShotList, LineErrors> {
    let mut list = read_each(bytes, form, column)?;
    let wrong = list.refused.drain(..).flat_map(|row| row.wrong).take(MOST_ERRORS).collect::<Vec<_>>();
    if wrong.is_empty() { Ok(list) } else { Err(wrong.into()) }
}

/// The same, row by row: one that cannot be used does not hide the others.
///
/// # Errors
/// What is wrong with the list beyond the correction of a row, by line.
pub fn read_each(bytes: &[u8], form: Form, column: Option<&str>) -> Result<ShotList, LineErrors> {
    let events = events::read(bytes, form, column)?;
    if !events.has_corrections {
        let message = if form.has_columns() {
            format!(
                "neither a column {SOP}, with slope, offset and power such as (1 1 1)(0 0 0)(1 1 1), nor a column {SAT}"
            )
        } else {
            format!("no event has {SOP} or {SAT}")
        };
        return Err(LineError { line: events.head, message }.into());
    }
    let name = match form {
        Form::Edl => "FROM CLIP NAME",
        Form::Otio => "name",
        Form::Ale | Form::Csv => column.unwrap_or(NAMES[0]),
    };
    Ok(shots(&events, name)?)
}

/// Corrections as a list of comma-separated values, by their names.
pub fn write_csv<'s>(shots: impl IntoIterator<Item = (&'s str, &'s CdlNumbers)>) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let mut row = |fields: [&str; 3]| writer.write_record(fields).expect("memory takes any text");
    row([NAMES[0], SOP, SAT]);
    for (name, numbers) in shots {
        let [sop, sat] = texts(numbers);
        row([name, &sop, &sat]);
    }
    String::from_utf8(writer.into_inner().expect("memory takes any text")).expect("what is written is UTF-8")
}

/// The shots of a list whose events take their names from `name_of`.
fn shots(events: &EventList, name_of: &str) -> Result<ShotList, Vec<LineError>> {
    let mut list = ShotList { shots: Vec::new(), refused: Vec::new(), without: 0 };
    // Which rows are of a name, and where it stands among those that can be used.
    let mut by_name: BTreeMap<&str, Vec<Option<usize>>> = BTreeMap::new();
    for event in &events.events {
        let Event { line, name, reel, unusable, .. } = event;
        let made = match (unusable, event.correction()) {
            (Some(why), _) => Err(vec![why.clone()]),
            (None, Ok(None)) => {
                list.without += 1;
                continue;
            }
            _ if name.is_empty() => Err(vec![format!("a correction for no shot: `{name_of}` is empty")]),
            _ if name.chars().count() > LONGEST_TITLE => {
                let letters = name.chars().count();
                Err(vec![format!("the name of the shot has {letters} letters: {LONGEST_TITLE} at most")])
            }
            (None, Ok(Some(numbers))) => Ok(numbers),
            (None, Err(all)) => Err(all.iter().map(|why| format!("{name}: {why}")).collect()),
        };
        let rows = by_name.entry(name).or_default();
        match made {
            Ok(numbers) => {
                let same = rows.iter().flatten().any(|at| list.shots.get(*at).is_some_and(|s| s.numbers == numbers));
                if !same {
                    rows.push(Some(list.shots.len()));
                    list.shots.push(ListedShot { name: name.to_owned(), numbers, reel: reel.clone(), line: *line });
                }
            }
            Err(why) => {
                rows.push(None);
                let id = Some(beginning_of(name, LONGEST_TITLE)).filter(|name| !name.is_empty());
                let wrong = why.into_iter().map(|message| LineError { line: *line, message }).collect();
                list.refused.push(Refused { id, line: *line, wrong });
            }
        }
    }
    // Which of several corrections a shot was meant to have cannot be known.
    let twice = |name: &str| by_name.get(name).is_some_and(|rows| rows.len() > 1);
    let (twice, shots): (Vec<_>, Vec<_>) = list.shots.into_iter().partition(|shot| twice(&shot.name));
    list.shots = shots;
    let mut first: BTreeMap<String, usize> = BTreeMap::new();
    for ListedShot { name, line, .. } in twice {
        let message = match first.get(&name) {
            Some(first) => format!("{name}: another correction than on line {first}"),
            None => format!("{name}: another row of this shot has another correction"),
        };
        first.entry(name.clone()).or_insert(line);
        list.refused.push(Refused { id: Some(name), line, wrong: vec![LineError { line, message }] });
    }
    list.refused.sort_by_key(|row| row.line);
    if list.shots.is_empty() && list.refused.is_empty() {
        return Err(vec![LineError { line: events.head, message: format!("no row has a value under {SOP} or {SAT}") }]);
    }
    Ok(list)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALE: &str = "Heading\nFIELD_DELIM\tTABS\nFPS\t24\n\nColumn\nName\tTape\tASC_SOP\tASC_SAT\n\nData\n\
        12A-3\tA001\t(1.1 1 0.9)(0.01 0 -0.02)(1 1 1.2)\t0.9\n12A-4\tA001\t\t\n\
        12B-1\tA002\t(1,1,1) (0,0,0) (1,1,1)\n12A-3\tA001\t(1.1 1 0.9)(0.01 0 -0.02)(1 1 1.2)\t0.9\n";

    fn messages(text: &str, form: Form, column: Option<&str>) -> String {
        let wrong = read(text.as_bytes(), form, column).unwrap_err();
        wrong.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
    }

    #[test]
    fn an_ale_with_any_line_ends() {
        let expected =
            CdlNumbers { slope: [1.1, 1.0, 0.9], offset: [0.01, 0.0, -0.02], power: [1.0, 1.0, 1.2], saturation: 0.9 };
        for ends in ["\n", "\r\n", "\r"] {
            let list = read(ALE.replace('\n', ends).as_bytes(), Form::Ale, None).unwrap();
            let names: Vec<_> = list.shots.iter().map(|s| (s.name.as_str(), s.line)).collect();
            assert_eq!(names, [("12A-3", 9), ("12B-1", 11)]);
            assert_eq!((list.shots[0].numbers, list.without), (expected, 1));
            assert_eq!(list.shots[1].numbers, CdlNumbers::default());
        }
    }

    #[test]
    fn a_csv_with_any_delimiter() {
        for by in [",", ";", "\t"] {
            let text = format!(
                "\u{feff}shot{by}asc_sop{by}ASC_SAT\r\n12A-3{by}\"(1 1 1)(0 0 0)(1 1 1)\"{by}1.5\r\n{by}{by}\r\n12B{by}{by}\r\n"
            );
            let list = read(text.as_bytes(), Form::Csv, None).unwrap();
            assert_eq!((list.shots[0].name.as_str(), list.shots[0].numbers.saturation), ("12A-3", 1.5));
            assert_eq!((list.shots.len(), list.without), (1, 1));
        }
    }

    #[test]
    fn what_is_written_is_read_again() {
        let list = read(ALE.as_bytes(), Form::Ale, None).unwrap();
        let text = write_csv(list.shots.iter().map(|s| (s.name.as_str(), &s.numbers)));
        let again = read(text.as_bytes(), Form::Csv, None).unwrap();
        let plain = |list: &ShotList| list.shots.iter().map(|s| (s.name.clone(), s.numbers)).collect::<Vec<_>>();
        assert_eq!(plain(&list), plain(&again));
    }

    #[test]
    fn another_column_may_name_the_shots() {
        let text = ALE.replace("(1,1,1) (0,0,0) (1,1,1)", "");
        let list = read(text.as_bytes(), Form::Ale, Some("tape")).unwrap();
        assert_eq!(list.shots[0].name, "A001");
    }

    #[test]
    fn every_bad_row_is_named() {
        let found = messages(
            &ALE.replace("(1 1 1.2)\t0.9\n12A-4", "(1 1 nan)\t0.9\n12A-4")
                .replace("12A-4\tA001\t\t", "12A-4\tA001\t(-1 1 1)(0 0 0)(1 0 1)\tx")
                .replace("(1,1,1) (0,0,0) (1,1,1)", "(1,1,1)(0,0,0)"),
            Form::Ale,
            None,
        );
        for part in [
            "line 9: 12A-3: ASC_SOP `(1.1 1 0.9)(0.01 0 -0.02)(1 1 nan)`: `nan` is not a finite number",
            "line 10: 12A-4: ASC_SAT: `x` is not a finite number",
            "line 11: 12B-1: ASC_SOP `(1,1,1)(0,0,0)`: must be (slope)(offset)(power), three numbers each",
        ] {
            assert!(found.contains(part), "{found}");
        }
        let twice = ALE.replacen("0.9\n12A-4", "0.8\n12A-4", 1);
        assert!(messages(&twice, Form::Ale, None).contains("line 12: 12A-3: another correction than on line 9"));
        let negative = "name,ASC_SOP\nx,(-1 1 1)(0 0 0)(1 0 1)\n";
        let found = messages(negative, Form::Csv, None);
        assert!(found.contains("line 2: x: slope[0]: -1 is out of range") && found.contains("power[1]: 0"), "{found}");
    }

    #[test]
    fn one_bad_row_does_not_hide_the_good_ones() {
        let rows = "a\t(-1 1 1)(0 0 0)(1 1 1)\t1\nb\t\t0.9\n\t\t1\nc\t\t0.8\nd\t\t0.7\nc\t\t0.6\nd\t\t0.7\ne\t\t1\ne\t\tx\nf\t\t1\ty\n";
        let text = format!("Heading\nColumn\nName\tASC_SOP\tASC_SAT\nData\n{rows}");
        let list = read_each(text.as_bytes(), Form::Ale, None).unwrap();
        assert_eq!(list.shots.iter().map(|s| (&*s.name, s.line)).collect::<Vec<_>>(), [("b", 6), ("d", 9)]);
        let long = format!("Name,ASC_SAT\n{},1\nb,{}\nc,1\n", "n".repeat(1 << 20), "x".repeat(1 << 20));
        let one = read_each(long.as_bytes(), Form::Csv, None).unwrap();
        assert_eq!((one.shots.len(), one.refused.len()), (1, 2));
        assert!(one.refused.iter().all(|row| row.id.as_ref().is_some_and(|id| id.len() < 210)), "{:?}", one.refused);
        assert!(one.refused[0].wrong[0].to_string().contains("has 1048576 letters: 200 at most"));
        assert!(one.refused[1].wrong[0].to_string().len() < 4000);
        let refused: Vec<_> = list.refused.iter().map(|row| (row.id.as_deref(), row.wrong[0].to_string())).collect();
        assert_eq!(
            refused[0],
            (Some("a"), "line 5: a: slope[0]: -1 is out of range: it must lie between 0 and 16".to_owned())
        );
        assert_eq!(refused[1], (None, "line 7: a correction for no shot: `Name` is empty".to_owned()));
        assert_eq!(refused[2].1, "line 8: c: another row of this shot has another correction");
        assert_eq!(refused[3].1, "line 10: c: another correction than on line 8");
        assert_eq!(refused[4].1, "line 12: e: another row of this shot has another correction");
        assert_eq!(refused[5].1, "line 13: e: ASC_SAT: `x` is not a finite number");
        assert_eq!(refused[6], (Some("f"), "line 14: `y` has no column: the row has 4 fields for 3".to_owned()));
        assert_eq!(read(text.as_bytes(), Form::Ale, None).unwrap_err().len(), 7);
        let file = list.into_corrections();
        assert!(file.get("b").is_some() && file.refused("c").is_some() && file.left().is_some());
    }

    #[test]
    fn what_is_no_list() {
        for (text, form, part) in [
            ("", Form::Ale, "line 1: it ends before its `Data`"),
            ("Name\tx\n", Form::Ale, "line 1: the first line of an ALE is `Heading`"),
            ("Heading\nFIELD_DELIM\tCOMMAS\n", Form::Ale, "line 2: FIELD_DELIM `COMMAS`"),
            ("Heading\nColumn\nName\tTape\nData\nx\ty\n", Form::Ale, "line 3: neither a column ASC_SOP"),
            ("Heading\nColumn\nTape\tASC_SOP\nData\n", Form::Ale, "line 3: no column names the shots"),
            ("Heading\nColumn\nName\tASC_SAT\nData\nx\t1\ty\n", Form::Ale, "line 5: `y` has no column"),
            ("Heading\nColumn\nName\tASC_SAT\nData\nx\n", Form::Ale, "line 3: no row has a value"),
            ("Heading\nColumn\nName\tASC_SAT\nData\n\t1\n", Form::Ale, "line 5: a correction for no shot"),
            ("", Form::Csv, "line 1: empty"),
        ] {
            let found = messages(text, form, None);
            assert!(found.contains(part), "{text:?}: {found}");
        }
        assert!(messages(ALE, Form::Ale, Some("Tapes")).contains("did you mean `Tape`?"));
        assert_eq!(read(b"Name,ASC_SAT\nx\xff,1\n", Form::Csv, None).unwrap_err()[0].line, 2);
    }
}
