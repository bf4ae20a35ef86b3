use super::*;
use proptest::prelude::*;

/// SMPTE ST 258: a cut, a dissolve of two clips, sound alone, black, a motion effect, and notes that are not known here.
const EDL: &str = "TITLE: SALTMARSH DAY 1\nFCM: NON-DROP FRAME\n\n\
    001  A001     V     C        01:00:00:00 01:00:04:00 00:00:00:00 00:00:04:00\n\
    * FROM CLIP NAME: 12A-3\n* SOURCE FILE: A001C003.mov\n* COMMENT: the boat\n\
    *ASC_SOP (1.02 1 0.98)(0.006 0 -0.004)(1 1 1.01)\n*ASC_SAT 0.95\n\
    002  A001     V     C        01:02:00:00 01:02:00:00 00:00:04:00 00:00:04:00\n\
    002  B004     V     D    024 10:00:00:00 10:00:03:00 00:00:04:00 00:00:07:00\n\
    * FROM CLIP NAME: 12B-1\n* asc_sat: 0.9\n* TO CLIP NAME: 31-2\n* ASC_SOP(1 1 1.02) (0 0 0.004) (1 1 1)\n\
    M2   B004       048.0                10:00:00:00\n\
    003  A001     A2    C        01:00:00:00 01:00:04:00 00:00:07:00 00:00:11:00\n* FROM CLIP NAME: wild track\n\
    004  BL       V     C        00:00:00:00 00:00:01:00 00:00:11:00 00:00:12:00\n\
    005  AX       B     C        00:00:00:00 00:00:01:00 00:00:12:00 00:00:13:00\n* FROM CLIP NAME: titles\n";

const ALE: &str = "Heading\r\nFIELD_DELIM\tTABS\r\nVIDEO_FORMAT\t1080\r\nFPS\t24\r\n\r\nColumn\r\n\
    Name\tTape\tStart\tEnd\tLens\tASC_SOP\r\n\r\nData\r\n31-2\tB004\t10:00:00:00\t10:00:03:00\t40 mm\t\r\n\
    31-3\tB004\t10:00:05:00\t10:00:99:00\t 27 mm \t(1 1 1)(0 0 0)(1 1 1)\r\n";

fn edl() -> EventList {
    read(EDL.as_bytes(), Form::Edl, None).unwrap()
}

fn saturated(saturation: f64) -> CdlNumbers {
    CdlNumbers { saturation, ..CdlNumbers::default() }
}

#[test]
fn an_edit_decision_list_gives_its_events_with_a_picture() {
    let list = edl();
    assert_eq!(list.title.as_deref(), Some("SALTMARSH DAY 1"));
    let said: Vec<_> = list.events.iter().map(|e| (e.line, &*e.name, e.reel.as_deref())).collect();
    let (a, b) = (Some("A001"), Some("B004"));
    assert_eq!(said, [(4, "12A-3", a), (10, "12B-1", a), (11, "31-2", b), (20, "titles", None)]);
    let first = &list.events[0];
    assert_eq!(first.file.as_deref(), Some("A001C003.mov"));
    assert_eq!(first.source.unwrap().map(|t| t.to_string()), ["01:00:00:00", "01:00:04:00"]);
    let numbers = first.correction().unwrap().unwrap();
    assert_eq!(
        (numbers.slope, numbers.offset, numbers.power, numbers.saturation),
        ([1.02, 1.0, 0.98], [0.006, 0.0, -0.004], [1.0, 1.0, 1.01], 0.95)
    );
    // Of a dissolve the first correction is of the clip that goes, the second of the clip that comes.
    assert_eq!(list.events[1].correction().unwrap().unwrap(), saturated(0.9));
    assert_eq!(list.events[2].correction().unwrap().unwrap().slope, [1.0, 1.0, 1.02]);
    assert_eq!(list.events[3].correction(), Ok(None));
}

#[test]
fn corrections_are_entered_and_all_else_stays() {
    // Nothing to enter: the same bytes.
    for (text, form) in [(EDL, Form::Edl), (ALE, Form::Ale)] {
        for text in [text.to_owned(), text.replace("\r\n", "\n").replace('\n', "\r\n"), format!("\u{feff}{text}")] {
            assert_eq!(enter(text.as_bytes(), form, None, |_| None).unwrap(), text);
        }
    }
    let entered = enter(EDL.as_bytes(), Form::Edl, None, |e| (e.name != "31-2").then(|| saturated(0.5))).unwrap();
    let again = read(entered.as_bytes(), Form::Edl, None).unwrap();
    let saturations: Vec<f64> = again.events.iter().map(|e| e.correction().unwrap().unwrap().saturation).collect();
    assert_eq!(saturations, [0.5, 0.5, 1.0, 0.5]);
    let plain = |text: &str| -> Vec<String> {
        text.lines().filter(|l| !l.to_ascii_uppercase().contains("ASC_S")).map(str::to_owned).collect()
    };
    assert_eq!(plain(&entered), plain(EDL));
    assert_eq!(entered.matches("*ASC_SAT").count(), 3, "the old corrections are gone:\n{entered}");
    // A column that was missing comes after the others, and lines end as they did.
    let entered = enter(ALE.as_bytes(), Form::Ale, None, |e| (e.name == "31-2").then(|| saturated(0.8))).unwrap();
    assert!(entered.contains("Lens\tASC_SOP\tASC_SAT\r\n"), "{entered}");
    assert!(
        entered.contains("31-2\tB004\t10:00:00:00\t10:00:03:00\t40 mm\t(1 1 1)(0 0 0)(1 1 1)\t0.8\r\n"),
        "{entered}"
    );
    assert!(entered.contains("31-3\tB004\t10:00:05:00\t10:00:99:00\t 27 mm \t(1 1 1)(0 0 0)(1 1 1)\r\n"), "{entered}");
    let csv = "shot;remark;ASC_SAT\n12A-3;\"a; b\";1\n12B-1;;\n";
    let entered = enter(csv.as_bytes(), Form::Csv, None, |e| (e.name == "12B-1").then(|| saturated(0.8))).unwrap();
    assert_eq!(entered, "shot;remark;ASC_SAT;ASC_SOP\n12A-3;\"a; b\";1\n12B-1;;0.8;(1 1 1)(0 0 0)(1 1 1)\n");
    assert!(enter(OTIO.as_bytes(), Form::Otio, None, |_| None).unwrap_err()[0].message.contains("not written"));
}

/// Rows of comma-separated values that are not changed stay to the byte: quotes, blank lines, line ends, blanks around fields.
#[test]
fn rows_beside_the_one_that_changes_stay_as_they_are() {
    for ends in ["\n", "\r\n"] {
        let csv = "\u{feff}Shot, Remark ,ASC_SAT\n\n\"12A-3\", \"a\nb\" ,1.0\n12B-1,\"c\",\n\n".replace('\n', ends);
        let entered = enter(csv.as_bytes(), Form::Csv, None, |e| (e.name == "12B-1").then(|| saturated(0.8))).unwrap();
        let wanted =
            csv.replace("ASC_SAT", "ASC_SAT,ASC_SOP").replace("12B-1,\"c\",", "12B-1,c,0.8,(1 1 1)(0 0 0)(1 1 1)");
        assert_eq!(entered, wanted);
    }
}

#[test]
fn a_new_row_comes_last_under_the_columns_that_there_are() {
    let [sop, sat] = texts(&saturated(0.8));
    let source = Some(["01:00:00:00", "01:00:02:00"].map(|text| text.parse().unwrap()));
    let reel = Some("A7".to_owned());
    let event = Event { name: "40-1".to_owned(), reel, source, sop, sat, ..Event::default() };
    for text in [ALE.to_owned(), ALE.trim_end().to_owned(), ALE.replace("\r\n", "\n"), format!("\u{feff}{ALE}")] {
        let made = append(text.as_bytes(), Form::Ale, None, &event).unwrap();
        let ends = if text.contains('\r') { "\r\n" } else { "\n" };
        let row = format!("40-1\tA7\t01:00:00:00\t01:00:02:00\t\t(1 1 1)(0 0 0)(1 1 1)\t0.8{ends}");
        let before = made.strip_suffix(&row).unwrap_or_else(|| panic!("{made}"));
        let whole = if text.ends_with('\n') { text } else { text + ends };
        assert_eq!(before, whole.replace("ASC_SOP", "ASC_SOP\tASC_SAT"));
        let read = read(made.as_bytes(), Form::Ale, None).unwrap();
        assert_eq!(read.events.last().unwrap().correction(), Ok(Some(saturated(0.8))));
    }
    let csv = "shot;remark;ASC_SAT\n12A-3;\"a; b\";1";
    let made = append(csv.as_bytes(), Form::Csv, None, &event).unwrap();
    assert_eq!(made, "shot;remark;ASC_SAT;ASC_SOP\n12A-3;\"a; b\";1\n40-1;;0.8;(1 1 1)(0 0 0)(1 1 1)\n");
    assert!(append(made.as_bytes(), Form::Csv, None, &event).unwrap_err()[0].message.contains("40-1` already"));
    let empty = "Heading\nFIELD_DELIM\tTABS\n\nColumn\nName\n\nData\n";
    let made = append(empty.as_bytes(), Form::Ale, None, &event).unwrap();
    assert_eq!(read(made.as_bytes(), Form::Ale, None).unwrap().events.len(), 1, "{made}");
    for (text, form) in [(EDL, Form::Edl), (OTIO, Form::Otio)] {
        assert!(append(text.as_bytes(), form, None, &event).unwrap_err()[0].message.contains("a new shot goes into"));
    }
}

#[test]
fn a_new_list_is_read_again() {
    let list = EventList { rate: Some(24.0), ..edl() };
    for form in [Form::Edl, Form::Ale, Form::Csv] {
        let text = write(&list, form).unwrap();
        let again = read(text.as_bytes(), form, None).unwrap();
        let plain = |list: &EventList| -> Vec<_> {
            list.events
                .iter()
                .map(|e| (e.name.clone(), e.reel.clone(), e.file.clone(), e.source, e.correction()))
                .collect()
        };
        assert_eq!(plain(&again), plain(&list), "{text}");
    }
    assert!(write(&list, Form::Edl).unwrap().contains(" 01:00:00:00 01:00:04:00 01:00:00:00 01:00:04:00\n"));
    assert_eq!(write(&edl(), Form::Edl).unwrap_err().key, "rate");
    let mut untimed = list;
    untimed.events[0].source = None;
    assert_eq!(write(&untimed, Form::Edl).unwrap_err().key, "source");
}

const OTIO: &str = r#"{
  "OTIO_SCHEMA": "Timeline.1", "name": "Saltmarsh", "global_start_time": null, "metadata": {},
  "tracks": { "OTIO_SCHEMA": "Stack.1", "name": "tracks", "source_range": null, "children": [
    { "OTIO_SCHEMA": "Track.1", "kind": "Video", "children": [
      { "OTIO_SCHEMA": "Clip.2", "name": "12A-3", "active_media_reference_key": "DEFAULT_MEDIA",
        "source_range": { "OTIO_SCHEMA": "TimeRange.1",
          "start_time": { "OTIO_SCHEMA": "RationalTime.1", "rate": 24.0, "value": 86400.0 },
          "duration": { "OTIO_SCHEMA": "RationalTime.1", "rate": 24.0, "value": 96.0 } },
        "media_references": { "DEFAULT_MEDIA": { "OTIO_SCHEMA": "ExternalReference.1", "target_url": "A001C003.mov",
          "available_range": null, "metadata": {} } },
        "metadata": { "camera": { "reel": "A001" },
          "cdl": { "asc_sat": 0.95, "asc_sop": { "slope": [1.02, 1.0, 0.98], "offset": [0.006, 0.0, -0.004], "power": [1.0, 1.0, 1.01] } } } },
      { "OTIO_SCHEMA": "Gap.1", "source_range": null },
      { "OTIO_SCHEMA": "Stack.1", "children": [ { "OTIO_SCHEMA": "Clip.1", "name": "12B-1", "media_reference": {
          "OTIO_SCHEMA": "MissingReference.1", "available_range": {
          "start_time": { "rate": 24.0, "value": 10.0 }, "duration": { "rate": 48.0, "value": 96.0 } } } } ] } ] },
    { "OTIO_SCHEMA": "Track.1", "kind": "Audio", "children": [ { "OTIO_SCHEMA": "Clip.1", "name": "sound" } ] } ] } }"#;

#[test]
fn a_timeline_gives_its_clips() {
    let list = read(OTIO.as_bytes(), Form::Otio, None).unwrap();
    assert_eq!((list.title.as_deref(), list.rate, list.events.len()), (Some("Saltmarsh"), Some(24.0), 2));
    let [first, second] = &list.events[..] else { panic!() };
    assert_eq!(
        (&*first.name, first.reel.as_deref(), first.file.as_deref()),
        ("12A-3", Some("A001"), Some("A001C003.mov"))
    );
    assert_eq!(first.source.unwrap().map(|t| t.to_string()), ["01:00:00:00", "01:00:04:00"]);
    assert_eq!(first.correction(), edl().events[0].correction());
    assert_eq!(second.source.unwrap().map(|t| t.to_string()), ["00:00:00:10", "00:00:02:10"]);
    for (bad, part) in
        [("{", "not JSON"), ("{}", "OTIO_SCHEMA"), (r#"{"OTIO_SCHEMA":"Stack.1","children":[]}"#, "without clips")]
    {
        assert!(read(bad.as_bytes(), Form::Otio, None).unwrap_err()[0].message.contains(part), "{bad}");
    }
}

#[test]
fn every_bad_line_is_named() {
    let bad = EDL
        .replace("10:00:03:00 00:00:04:00", "10:00:61:00 00:00:04:00")
        .replace("003  A001     A2    C ", "003  A001     A2      ");
    let wrong = read(bad.as_bytes(), Form::Edl, None).unwrap_err();
    let said: Vec<String> = wrong.iter().map(ToString::to_string).collect();
    assert!(said[0].starts_with("line 11: `10:00:61:00` is no time of day"), "{said:?}");
    assert!(said[1].starts_with("line 17:") && said[1].contains("an event has number, reel"), "{said:?}");
    assert!(read(b"TITLE: x\n", Form::Edl, None).unwrap_err()[0].message.contains("no event with a picture"));
    let list = read(ALE.as_bytes(), Form::Ale, None).unwrap();
    assert_eq!(list.events[1].untimed.as_deref(), Some("`10:00:99:00` is no time of day"));
    assert!(list.events[1].correction().unwrap().is_some(), "a bad timecode does not hide a correction");
}

proptest! {
    /// Whatever the text, reading ends, and entering nothing changes nothing.
    #[test]
    fn any_text(text in "(?s)([0-9]{3} A V C |\\*|ASC_SAT 1|TITLE:|01:00:00:00 |\n|\r|\t|.){0,60}") {
        for form in Form::ALL {
            let _ = read(text.as_bytes(), form, None);
        }
        if let Ok(same) = enter(text.as_bytes(), Form::Edl, None, |_| None) {
            prop_assert_eq!(same, text);
        }
    }
}
