//! Corrections into a list that is there; all else of it stays as it is.

use super::{Event, EventList, Form, SAT, SOP, edl, lines, table, text, texts};
use crate::{LineError, LineErrors};
use rushlight_colour::step::cdl::CdlNumbers;
use std::collections::BTreeMap;

/// The text of a list with the corrections that `correction` gives its events; an event for which it gives none stays as it
/// is. Columns that it does not have are added; lines, notes and columns that are not known here stay.
///
/// # Errors
/// What is wrong with the list, by line; a form that is not written.
pub fn enter(
    bytes: &[u8],
    form: Form,
    column: Option<&str>,
    correction: impl Fn(&Event) -> Option<CdlNumbers>,
) -> Result<String, LineErrors> {
    let whole = std::str::from_utf8(bytes).unwrap_or_default();
    let text = text(bytes)?;
    // A mark of byte order stays.
    let mark = &whole[..whole.len() - text.len()];
    let made = match form {
        Form::Edl => notes(text, correction)?,
        Form::Ale => fields(text, column, correction)?,
        Form::Csv => rows(text, column, correction)?,
        Form::Otio => {
            let message = "OpenTimelineIO's JSON is read and not written: give an .edl, .ale or .csv".to_owned();
            return Err(LineError { line: 1, message }.into());
        }
    };
    Ok(format!("{mark}{made}"))
}

/// What ends lines.
fn end(text: &str) -> char {
    if text.contains('\n') { '\n' } else { '\r' }
}

fn notes(text: &str, correction: impl Fn(&Event) -> Option<CdlNumbers>) -> Result<String, Vec<LineError>> {
    let edl = edl::read(text)?;
    let mut gone = Vec::new();
    let mut added: BTreeMap<usize, Vec<String>> = BTreeMap::new();
    for (event, place) in edl.list.events.iter().zip(&edl.places) {
        let Some(numbers) = correction(event) else { continue };
        gone.extend(&place.corrections);
        let [sop, sat] = texts(&numbers);
        added.entry(place.after).or_default().extend([format!("*{SOP} {sop}"), format!("*{SAT} {sat}")]);
    }
    let mut out: Vec<String> = Vec::new();
    for (at, line) in lines(text).enumerate() {
        if !gone.contains(&at) {
            out.push(line.to_owned());
        }
        let carriage = if line.ends_with('\r') { "\r" } else { "" };
        out.extend(added.remove(&at).unwrap_or_default().into_iter().map(|line| format!("{line}{carriage}")));
    }
    Ok(out.join(&end(text).to_string()))
}

/// Where the corrections of a table stand, and columns that are missing, which come after the last.
fn columns(table: &table::Table) -> ([usize; 2], Vec<&'static str>) {
    let mut new = Vec::new();
    let mut place = |name: &'static str| {
        table.find(name).unwrap_or_else(|| {
            new.push(name);
            table.header.1.len() + new.len() - 1
        })
    };
    ([place(SOP), place(SAT)], new)
}

/// The corrections that are to be entered, by line.
fn given(list: &EventList, correction: impl Fn(&Event) -> Option<CdlNumbers>) -> BTreeMap<usize, CdlNumbers> {
    let usable = list.events.iter().filter(|event| event.unusable.is_none());
    usable.filter_map(|event| Some((event.line, correction(event)?))).collect()
}

fn put(fields: &mut Vec<String>, [sop_at, sat_at]: [usize; 2], numbers: &CdlNumbers) {
    for (at, text) in [sop_at, sat_at].into_iter().zip(texts(numbers)) {
        if fields.len() <= at {
            fields.resize(at + 1, String::new());
        }
        if let Some(field) = fields.get_mut(at) {
            *field = text;
        }
    }
}

fn fields(
    text: &str,
    column: Option<&str>,
    correction: impl Fn(&Event) -> Option<CdlNumbers>,
) -> Result<String, Vec<LineError>> {
    let table = table::read(text, Form::Ale)?;
    let given = given(&table.events(column)?, correction);
    if given.is_empty() {
        return Ok(text.to_owned());
    }
    let (places, new) = columns(&table);
    let width = table.header.1.len();
    let line = |(at, line): (usize, &str)| {
        let number = at + 1;
        let (line, carriage) = line.strip_suffix('\r').map_or((line, ""), |line| (line, "\r"));
        let mut fields: Vec<String> = line.split('\t').map(str::to_owned).collect();
        if number == table.header.0 {
            fields.extend(new.iter().map(|name| (*name).to_owned()));
        } else if let Some(numbers) = given.get(&number) {
            // An empty field at the end of a row has no column.
            fields.truncate(width.max(1));
            put(&mut fields, places, numbers);
        }
        fields.join("\t") + carriage
    };
    Ok(lines(text).enumerate().map(line).collect::<Vec<_>>().join(&end(text).to_string()))
}

fn rows(
    text: &str,
    column: Option<&str>,
    correction: impl Fn(&Event) -> Option<CdlNumbers>,
) -> Result<String, Vec<LineError>> {
    let table = table::read(text, Form::Csv)?;
    let given = given(&table.events(column)?, correction);
    if given.is_empty() {
        return Ok(text.to_owned());
    }
    let (places, new) = columns(&table);
    let mut writer = csv::WriterBuilder::new().delimiter(table.delimiter as u8).flexible(true).from_writer(Vec::new());
    let header = table.header.1.iter().map(String::as_str).chain(new.iter().copied());
    writer.write_record(header).expect("memory takes any text");
    for (line, fields) in &table.rows {
        let mut fields = fields.clone();
        if let Some(numbers) = given.get(line) {
            put(&mut fields, places, numbers);
        }
        writer.write_record(&fields).expect("memory takes any text");
    }
    Ok(String::from_utf8(writer.into_inner().expect("memory takes any text")).expect("what is written is UTF-8"))
}
