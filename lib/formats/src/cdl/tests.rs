use super::*;
use proptest::prelude::*;
use rushlight_colour::step::cdl::CdlNumbers;

fn file(kind: Kind, corrections: Vec<Correction>) -> CdlFile {
    CdlFile { kind, namespace: Namespace::V12, remarks: Remarks::default(), corrections, refused: Vec::new() }
}

#[test]
fn what_no_file_can_hold_is_refused() {
    let named = |id: &str| Correction { id: Some(id.to_owned()), ..Correction::default() };
    for (kind, corrections, part) in [
        (Kind::Correction, vec![named("a"), named("b")], "choose one of a, b"),
        (Kind::Collection, vec![named("a"), named("a")], "`a` is the id of more than one"),
        (Kind::Collection, vec![Correction::default()], "without an id"),
        (Kind::Decisions, vec![Correction::default()], "without an id"),
        (Kind::Correction, vec![Correction::default()], "without an id"),
        (Kind::Decisions, vec![], "no correction"),
    ] {
        let refused = write(&file(kind, corrections)).unwrap_err();
        assert!(refused[0].message.contains(part), "{refused:?}");
    }
}

proptest! {
    #[test]
    fn numbers_and_words_come_back_to_the_bit(
        slope in prop::array::uniform3(0.0..16.0f64),
        offset in prop::array::uniform3(-4.0..4.0f64),
        power in prop::array::uniform3(0.01..16.0f64),
        saturation in 0.0..16.0f64,
        words in "[ -~é]{0,20}",
        space in 0..3usize,
        kind in 0..3usize,
    ) {
        let words = words.trim().to_owned();
        let one = Correction {
            id: Some(format!("12A {words}").trim().to_owned()),
            numbers: CdlNumbers { slope, offset, power, saturation },
            remarks: Remarks { descriptions: vec![words.clone()], input: Some(words.clone()), viewing: None },
            node_descriptions: [vec![words.clone()], vec![]],
            media: Vec::new(),
            line: 0,
        };
        let mut given = file(Kind::ALL[kind], vec![one]);
        given.namespace = Namespace::ALL[space];
        let text = write(&given).unwrap();
        let mut read = read(text.as_bytes()).unwrap();
        read.corrections[0].line = 0;
        prop_assert_eq!(read, given);
    }

    #[test]
    fn no_bytes_panic(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let _ = read(&bytes);
    }
}
