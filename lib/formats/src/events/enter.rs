//! Corrections into a list that is there; all else of it stays as it is.

use super::{Event, EventList, Form, NAMES, SAT, SOP, edl, end, lines, table, text, texts};
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
    let (head, names) = &table.header;
    let mut out = text.to_owned();
    // From the last, so that the places of those before stay.
    let rows = std::iter::once((head, names)).chain(table.rows.iter().map(|(line, fields)| (line, fields)));
    for ((line, fields), span) in rows.zip(&table.spans).collect::<Vec<_>>().into_iter().rev() {
        if line == head {
            let added: String = new.iter().map(|name| format!("{}{name}", table.delimiter)).collect();
            out.insert_str(span.end, &added);
        } else if let Some(numbers) = given.get(line) {
            let mut fields = fields.clone();
            put(&mut fields, places, numbers);
            out.replace_range(span.clone(), &row(&table, &fields));
        }
    }
    Ok(out)
}

/// A row of comma-separated values, without its end.
fn row(table: &table::Table, fields: &[String]) -> String {
    let mut writer = csv::WriterBuilder::new().delimiter(table.delimiter as u8).flexible(true).from_writer(Vec::new());
    writer.write_record(fields).expect("memory takes any text");
    let made = writer.into_inner().expect("memory takes any text");
    String::from_utf8(made).expect("what is written is UTF-8").trim_end_matches(['\r', '\n']).to_owned()
}

/// The text of a list with columns, with one more row after the last: name, reel, source and correction of `event`, under the
/// columns that there are. Columns for the correction are added where they are missing.
///
/// # Errors
/// What is wrong with the list, by line; a name that it has already; a list without columns.
pub fn append(bytes: &[u8], form: Form, column: Option<&str>, event: &Event) -> Result<String, LineErrors> {
    let whole = std::str::from_utf8(bytes).unwrap_or_default();
    let text = text(bytes)?;
    let mark = &whole[..whole.len() - text.len()];
    let refuse = |line: usize, message: String| Err(LineError { line, message }.into());
    if !form.has_columns() {
        let message = "a new shot goes into an .ale, .csv, .ccc or .cdl".to_owned();
        return refuse(1, message);
    }
    let table = table::read(text, form)?;
    let list = table.events(column)?;
    if let Some(there) = list.events.iter().find(|there| there.name == event.name) {
        return refuse(there.line, format!("it has a row `{}` already", event.name));
    }
    let ([sop, sat], new) = columns(&table);
    let any = |names: &[&str]| names.iter().find_map(|name| table.find(name));
    let mut fields = vec![String::new(); table.header.1.len() + new.len()];
    let time = |i: usize| event.source.and_then(|source| source.get(i).map(ToString::to_string)).unwrap_or_default();
    for (at, said) in [
        (column.map_or_else(|| any(&NAMES), |column| table.find(column)), event.name.clone()),
        (any(&table::REELS), event.reel.clone().unwrap_or_default()),
        (any(&table::STARTS), time(0)),
        (any(&table::ENDS), time(1)),
        (Some(sop), event.sop.clone()),
        (Some(sat), event.sat.clone()),
    ] {
        if let Some(field) = at.and_then(|at| fields.get_mut(at)) {
            *field = said;
        }
    }
    let ends = if text.contains("\r\n") { "\r\n".to_owned() } else { end(text).to_string() };
    let made = if form == Form::Csv {
        let mut out = text.trim_end_matches(['\r', '\n']).to_owned();
        let added: String = new.iter().map(|name| format!("{}{name}", table.delimiter)).collect();
        if let Some(head) = table.spans.first() {
            out.insert_str(head.end, &added);
        }
        format!("{out}{ends}{}{ends}", row(&table, &fields))
    } else {
        // The last line of a list may have no end.
        let text = if text.ends_with(end(text)) { text.to_owned() } else { format!("{text}{ends}") };
        let last = table.rows.last().map(|(line, _)| *line);
        // Without a row, after the line `Data`.
        let data = || lines(&text).position(|line| line.trim().eq_ignore_ascii_case("data")).map_or(0, |at| at + 1);
        let last = last.unwrap_or_else(data);
        let carriage = if ends == "\r\n" { "\r" } else { "" };
        let mut out: Vec<String> = Vec::new();
        for (number, line) in lines(&text).enumerate().map(|(at, line)| (at + 1, line)) {
            let bare = line.strip_suffix('\r').unwrap_or(line);
            let added: String = if number == table.header.0 {
                new.iter().map(|name| format!("\t{name}")).collect()
            } else {
                String::new()
            };
            let rest = line.get(bare.len()..).unwrap_or_default();
            out.push(format!("{bare}{added}{rest}"));
            if number == last {
                out.push(fields.join("\t") + carriage);
            }
        }
        out.join(&end(&text).to_string())
    };
    Ok(format!("{mark}{made}"))
}
