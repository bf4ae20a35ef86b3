//! A new list of events.

use super::{Event, EventList, Form, NAMES, SAT, SOP, texts};
use crate::timecode::{Timecode, base};
use rushlight_colour::invalid::Invalid;
use rushlight_colour::step::cdl::CdlNumbers;
use std::fmt::Write as _;

/// The record side of a new list begins at one hour (common practice, no source).
const RECORD: u64 = 3600;

/// A new list of that form, one event after the other, each with its correction; those whose correction cannot be used have
/// none.
///
/// # Errors
/// What the form needs and the list does not say, under `rate` or `source`; a form that is not written, under `form`.
pub fn write(list: &EventList, form: Form) -> Result<String, Invalid> {
    match form {
        Form::Edl => edl(list),
        Form::Ale => ale(list),
        Form::Csv => Ok(csv(list)),
        Form::Otio => Err(Invalid::new("form", "OpenTimelineIO's JSON is read and not written")),
    }
}

fn correction(event: &Event) -> Option<CdlNumbers> {
    event.correction().ok().flatten()
}

/// One line of text, whatever a name holds.
fn line(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

fn edl(list: &EventList) -> Result<String, Invalid> {
    let rate = list.rate.and_then(base);
    let base =
        rate.ok_or_else(|| Invalid::new("rate", "an .edl needs frames a second, which this list does not say"))?;
    let mut text = format!("TITLE: {}\n", line(list.title.as_deref().unwrap_or("untitled")));
    let drop = list.events.iter().any(|e| e.source.is_some_and(|[start, _]| start.is_drop()));
    let _ = writeln!(text, "FCM: {}\n", if drop { "DROP FRAME" } else { "NON-DROP FRAME" });
    let mut record = RECORD * u64::from(base);
    for (number, event) in list.events.iter().enumerate().map(|(i, e)| (i + 1, e)) {
        let refuse = |why: String| Invalid::new("source", format!("{}: {why}", event.called()));
        let [start, end] = event.source.ok_or_else(|| refuse("no timecodes, which an .edl needs".to_owned()))?;
        let cannot = |why: Invalid| refuse(why.message);
        let [from, to] = [start.frame(base).map_err(cannot)?, end.frame(base).map_err(cannot)?];
        let length = to.checked_sub(from).ok_or_else(|| refuse(format!("it ends at {end}, before {start}")))?;
        // A reel is one word.
        let reel: String = event.reel.as_deref().unwrap_or("AX").split_whitespace().collect::<Vec<_>>().join("_");
        let times = [record, record + length].map(|frame| Timecode::of_frame(frame, base, drop));
        let _ = writeln!(text, "{number:03}  {reel:<8} V     C        {start} {end} {} {}", times[0], times[1]);
        record += length;
        if !event.name.is_empty() {
            let _ = writeln!(text, "* FROM CLIP NAME: {}", line(&event.name));
        }
        if let Some(file) = &event.file {
            let _ = writeln!(text, "* SOURCE FILE: {}", line(file));
        }
        if let Some(numbers) = correction(event) {
            let [sop, sat] = texts(&numbers);
            let _ = writeln!(text, "*{SOP} {sop}\n*{SAT} {sat}");
        }
    }
    Ok(text)
}

/// The fields of an event: name, reel, file, start, end and the correction.
fn fields(event: &Event) -> [String; 7] {
    let time = |i: usize| event.source.and_then(|source| source.get(i).copied());
    let time = |i| time(i).map(|t: Timecode| t.to_string()).unwrap_or_default();
    let [sop, sat] = correction(event).map(|numbers| texts(&numbers)).unwrap_or_default();
    let text = |text: &Option<String>| line(text.as_deref().unwrap_or_default());
    [line(&event.name), text(&event.reel), text(&event.file), time(0), time(1), sop, sat]
}

const COLUMNS: [&str; 7] = [NAMES[0], "Tape", "Source File", "Start", "End", SOP, SAT];

fn ale(list: &EventList) -> Result<String, Invalid> {
    let rate =
        list.rate.ok_or_else(|| Invalid::new("rate", "an .ale needs frames a second, which this list does not say"))?;
    let mut text = format!("Heading\nFIELD_DELIM\tTABS\nFPS\t{rate}\n\nColumn\n{}\n\nData\n", COLUMNS.join("\t"));
    for event in &list.events {
        let _ = writeln!(text, "{}", fields(event).join("\t"));
    }
    Ok(text)
}

fn csv(list: &EventList) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(COLUMNS).expect("memory takes any text");
    for event in &list.events {
        writer.write_record(fields(event)).expect("memory takes any text");
    }
    String::from_utf8(writer.into_inner().expect("memory takes any text")).expect("what is written is UTF-8")
}
