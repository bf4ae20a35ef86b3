//! OpenTimelineIO's JSON (`.otio`): the clips of a timeline, wherever they are nested. Objects name their schema in
//! `OTIO_SCHEMA`; a clip has a range of its source in frames at a rate, and one media reference or several by name. A
//! correction is read from its metadata `cdl`, a reel from any metadata that has a `reel` (common practice, no source).

use super::{Event, EventList, error};
use crate::LineError;
use crate::timecode::{Timecode, base};
use serde_json::{Map, Value};

/// Nested objects that are followed; the reader of JSON refuses deeper ones anyway.
const DEPTH: usize = 64;

pub(super) fn read(text: &str) -> Result<EventList, Vec<LineError>> {
    let value: Value = serde_json::from_str(text)
        .map_err(|e| vec![LineError { line: e.line().max(1), message: format!("not JSON: {e}") }])?;
    let kind = schema(&value);
    if !matches!(kind, "Timeline" | "Stack" | "Track" | "Clip" | "SerializableCollection") {
        let why = "no timeline: the outermost object of an .otio has OTIO_SCHEMA, such as `Timeline.1`";
        return error(1, why).map_err(|e| vec![e]);
    }
    let mut list = EventList { title: text_of(&value, "name"), head: 1, ..EventList::default() };
    walk(&value, &mut list, 0);
    if list.events.is_empty() {
        return error(1, "a timeline without clips").map_err(|e| vec![e]);
    }
    Ok(list)
}

/// The name of an object's schema, without its version.
fn schema(value: &Value) -> &str {
    let name = value.get("OTIO_SCHEMA").and_then(Value::as_str).unwrap_or_default();
    name.split_once('.').map_or(name, |(name, _)| name)
}

fn text_of(value: &Value, key: &str) -> Option<String> {
    value.get(key).and_then(Value::as_str).map(str::trim).filter(|text| !text.is_empty()).map(str::to_owned)
}

fn walk(value: &Value, list: &mut EventList, depth: usize) {
    if depth > DEPTH {
        return;
    }
    match schema(value) {
        "Timeline" => value.get("tracks").iter().for_each(|tracks| walk(tracks, list, depth + 1)),
        "Track" if value.get("kind").and_then(Value::as_str) == Some("Audio") => {}
        "Stack" | "Track" | "SerializableCollection" => {
            let children = value.get("children").and_then(Value::as_array);
            children.into_iter().flatten().for_each(|child| walk(child, list, depth + 1));
        }
        "Clip" => clip(value, list),
        _ => {}
    }
}

/// A time in frames, and its rate.
fn time(value: Option<&Value>) -> Option<(f64, f64)> {
    let number = |key: &str| value?.get(key)?.as_f64().filter(|v| v.is_finite());
    Some((number("value")?, number("rate")?)).filter(|(_, rate)| *rate > 0.0)
}

fn clip(value: &Value, list: &mut EventList) {
    let active = text_of(value, "active_media_reference_key").unwrap_or_else(|| "DEFAULT_MEDIA".to_owned());
    let media = value.get("media_reference").or_else(|| value.get("media_references")?.get(&active));
    let available = media.and_then(|media| media.get("available_range")).filter(|range| range.is_object());
    let range = value.get("source_range").filter(|range| range.is_object()).or(available);
    let mut event = Event {
        line: list.events.len() + 1,
        name: text_of(value, "name").unwrap_or_default(),
        file: media.and_then(|media| text_of(media, "target_url")),
        ..Event::default()
    };
    let metadata = [Some(value), media].into_iter().flatten().filter_map(|v| v.get("metadata")?.as_object());
    for all in metadata {
        event.reel = event.reel.or_else(|| reel(all));
        if let Some(cdl) = all.get("cdl").filter(|_| event.sop.is_empty() && event.sat.is_empty()) {
            (event.sop, event.sat) = correction(cdl);
            list.has_corrections |= !event.sop.is_empty() || !event.sat.is_empty();
        }
    }
    match source(range) {
        Some(Ok((source, rate))) => {
            event.source = Some(source);
            list.rate = list.rate.or(Some(rate));
        }
        Some(Err(why)) => event.untimed = Some(why),
        None => {}
    }
    list.events.push(event);
}

/// From where to where, and at what rate.
fn source(range: Option<&Value>) -> Option<Result<([Timecode; 2], f64), String>> {
    let (start, rate) = time(range?.get("start_time"))?;
    let (length, length_rate) = time(range?.get("duration"))?;
    let Some(base) = base(rate) else { return Some(Err(format!("{rate} frames a second: no timecode counts that"))) };
    let (from, to) = (start.round(), (start + length * rate / length_rate).round());
    if from < 0.0 || to < from {
        return Some(Err(format!("a range from frame {from} to {to}")));
    }
    Some(Ok(([from, to].map(|frame| Timecode::of_frame(frame as u64, base, false)), rate)))
}

/// A reel in metadata or one object below.
fn reel(all: &Map<String, Value>) -> Option<String> {
    let named = |map: &Map<String, Value>| {
        let value = map.iter().find(|(key, _)| key.eq_ignore_ascii_case("reel"))?.1.as_str()?;
        Some(value.trim().to_owned()).filter(|reel| !reel.is_empty())
    };
    named(all).or_else(|| all.values().filter_map(Value::as_object).find_map(named))
}

/// The texts of a correction.
fn correction(cdl: &Value) -> (String, String) {
    let triple = |key: &str| {
        let values = cdl.get("asc_sop")?.get(key)?.as_array()?;
        Some(format!("({})", values.iter().map(Value::to_string).collect::<Vec<_>>().join(" ")))
    };
    let sop = ["slope", "offset", "power"].into_iter().map(triple).collect::<Option<String>>().unwrap_or_default();
    (sop, cdl.get("asc_sat").filter(|v| !v.is_null()).map(Value::to_string).unwrap_or_default())
}
