//! Lists with columns: the tab-separated interchange text of editing (`.ale`, with its sections Heading, Column and Data)
//! and comma-separated values (common practice, no source).

use super::{Event, EventList, Form, NAMES, SAT, SOP, end, error, lines, source};
use crate::LineError;
use rushlight_colour::message::{beginning, unknown};
use std::ops::Range;

/// Columns that hold a reel, a clip's file, and where an event begins and ends.
pub(super) const REELS: [&str; 2] = ["Tape", "Reel"];
const FILES: [&str; 2] = ["Source File", "Filename"];
pub(super) const STARTS: [&str; 1] = ["Start"];
pub(super) const ENDS: [&str; 1] = ["End"];

/// A line and its fields.
pub(super) type Row = (usize, Vec<String>);

/// The rows of a list, and the names of their fields.
pub(super) struct Table {
    pub(super) header: Row,
    pub(super) rows: Vec<Row>,
    rate: Option<f64>,
    /// What parts the fields.
    pub(super) delimiter: char,
    /// Of comma-separated values: where the names and each row stand in the text, without what ends them.
    pub(super) spans: Vec<Range<usize>>,
}

pub(super) fn read(text: &str, form: Form) -> Result<Table, Vec<LineError>> {
    if form == Form::Csv { csv(text) } else { ale(text) }.map_err(|e| vec![e])
}

fn ale(text: &str) -> Result<Table, LineError> {
    #[derive(PartialEq)]
    enum Section {
        Before,
        Heading,
        Column,
        Data,
    }
    let mut section = Section::Before;
    let mut header: Option<Row> = None;
    let mut rows = Vec::new();
    let mut rate = None;
    for (line, text) in lines(text).enumerate().map(|(i, text)| (i + 1, text)) {
        let fields = || text.split('\t').map(|field| field.trim().to_owned()).collect::<Vec<_>>();
        let word = text.trim();
        if word.is_empty() {
            continue;
        }
        let next = match word.to_ascii_lowercase().as_str() {
            "heading" if section == Section::Before => Some(Section::Heading),
            "column" if section == Section::Heading => Some(Section::Column),
            "data" if header.is_some() && section == Section::Column => Some(Section::Data),
            _ => None,
        };
        if let Some(next) = next {
            section = next;
            continue;
        }
        match section {
            Section::Before => return error(line, "the first line of an ALE is `Heading`"),
            Section::Heading => match &fields()[..] {
                [key, value] if key == "FIELD_DELIM" && value != "TABS" => {
                    return error(line, format!("FIELD_DELIM `{value}`: it must be TABS"));
                }
                [key, value] if key == "FPS" => rate = value.parse().ok(),
                _ => {}
            },
            Section::Column if header.is_none() => header = Some((line, fields())),
            Section::Column => return error(line, "a second line of column names: `Data` comes next"),
            Section::Data => rows.push((line, fields())),
        }
    }
    match header {
        Some(header) if section == Section::Data => {
            Ok(Table { header, rows, rate, delimiter: '\t', spans: Vec::new() })
        }
        _ => error(lines(text).count().max(1), "it ends before its `Data`: an ALE has Heading, Column and Data"),
    }
}

fn csv(text: &str) -> Result<Table, LineError> {
    let first = text.lines().next().unwrap_or_default();
    let parts = |by: char| first.split(by).count();
    // Spreadsheets of many countries write semicolons.
    let delimiter = [',', ';', '\t'].into_iter().rev().max_by_key(|by| parts(*by)).unwrap_or(',');
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter as u8)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let is_end = |c: char| matches!(c, '\r' | '\n');
    let (mut rows, mut starts) = (Vec::new(), Vec::new());
    let (mut line, mut counted) = (1, 0);
    for record in reader.records() {
        let record = record.map_err(|e| {
            let line = e.position().map_or(1, csv::Position::line) as usize;
            LineError { line, message: format!("not CSV: {e}") }
        })?;
        // The reader's place may lie before the end of the line before, and before empty lines; so may its count of lines.
        let place = record.position().map_or(0, csv::Position::byte) as usize;
        let rest = text.get(place..).unwrap_or_default();
        let start = place + rest.len() - rest.trim_start_matches(is_end).len();
        line += text.get(counted..start).unwrap_or_default().matches(end(text)).count();
        counted = start;
        let is_row = record.iter().any(|field| !field.is_empty());
        starts.push((start, is_row));
        if is_row {
            rows.push((line, record.iter().map(str::to_owned).collect()));
        }
    }
    if rows.is_empty() {
        return error(1, "empty: a CSV begins with the names of its columns");
    }
    let header = rows.remove(0);
    let ends = starts.iter().skip(1).map(|(start, _)| *start).chain([text.len()]);
    let spans = starts.iter().zip(ends).filter(|((_, is_row), _)| *is_row).map(|((start, _), end)| {
        let part = text.get(*start..end).unwrap_or_default();
        *start..start + part.trim_end_matches(is_end).len()
    });
    Ok(Table { header, rows, rate: None, delimiter, spans: spans.collect() })
}

impl Table {
    /// Where a column stands, by its name in any case.
    pub(super) fn find(&self, wanted: &str) -> Option<usize> {
        self.header.1.iter().position(|name| name.eq_ignore_ascii_case(wanted))
    }

    /// The events; `column` names them.
    pub(super) fn events(&self, column: Option<&str>) -> Result<EventList, Vec<LineError>> {
        let (head, names) = &self.header;
        let known = || names.iter().map(String::as_str).filter(|name| !name.is_empty());
        let wrong = |message| vec![LineError { line: *head, message }];
        let missing = |wanted: &str| wrong(unknown("column", wanted, known()));
        let name_at = match column {
            Some(wanted) => self.find(wanted).ok_or_else(|| missing(wanted))?,
            None => NAMES.into_iter().find_map(|name| self.find(name)).ok_or_else(|| {
                wrong(format!(
                    "no column names the shots: it must be called {}, or be named by `column`; there are {}",
                    NAMES.map(|name| format!("`{name}`")).join(" or "),
                    known().collect::<Vec<_>>().join(", ")
                ))
            })?,
        };
        let any = |names: &[&str]| names.iter().find_map(|name| self.find(name));
        let (sop, sat, reel, file) = (self.find(SOP), self.find(SAT), any(&REELS), any(&FILES));
        let (start, end) = (any(&STARTS), any(&ENDS));
        let event = |(line, fields): &Row| {
            let field = |at: Option<usize>| at.and_then(|at| fields.get(at)).map_or("", |field| field.trim());
            let some = |at| Some(field(at).to_owned()).filter(|text| !text.is_empty());
            let extra = fields.iter().skip(names.len()).find(|field| !field.is_empty());
            let unusable = extra.map(|extra| {
                let counts = format!("the row has {} fields for {}", fields.len(), names.len());
                format!("`{}` has no column: {counts}", beginning(extra))
            });
            let (source, untimed) = match source(field(start), field(end)) {
                Ok(source) => (source, None),
                Err(why) => (None, Some(why)),
            };
            Event {
                line: *line,
                name: field(Some(name_at)).to_owned(),
                reel: some(reel),
                file: some(file),
                source,
                sop: field(sop).to_owned(),
                sat: field(sat).to_owned(),
                unusable,
                untimed,
            }
        };
        Ok(EventList {
            title: None,
            rate: self.rate,
            events: self.rows.iter().map(event).collect(),
            head: *head,
            has_corrections: sop.is_some() || sat.is_some(),
        })
    }
}
