//! CLF version 3 (the Academy's "CLF Specification v3.0"): the corpus of good, odd and bad files in fixtures/clf.

use rushlight::format::clf::{RULES, departures, read};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/clf");

fn bytes(name: &str) -> Vec<u8> {
    fs::read(format!("{FOLDER}/{name}")).expect(name)
}

#[test]
fn every_file_of_the_corpus_is_read_as_its_name_says() {
    let mut seen = BTreeMap::new();
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_path(format!("{FOLDER}/expected.csv")).unwrap();
    for record in reader.records().map(|record| record.unwrap()) {
        let (file, line, rule, message) = (&record[0], record[1].parse::<usize>().unwrap(), &record[2], &record[3]);
        let text = bytes(file);
        if file.starts_with("odd_") {
            read(&text).expect(file);
            let first = departures(&text).unwrap().remove(0);
            assert_eq!((first.line, first.rule), (line, rule), "{file}: {first}");
            assert!(first.message.contains(message), "{file}: {first}");
        } else {
            let error = read(&text).expect_err(file);
            assert!(error.line == line && error.message.contains(message), "{file}: {error}");
        }
        seen.insert(file.to_owned(), rule.to_owned());
    }
    for entry in fs::read_dir(FOLDER).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        if name.starts_with("good_") {
            read(&bytes(&name)).expect(&name);
            assert_eq!(departures(&bytes(&name)).unwrap(), [], "{name}");
        } else {
            assert!(name == "expected.csv" || seen.contains_key(&name), "{name} is not in expected.csv");
        }
    }
    // A cube of more points than advised would be a large file: it has a test of its own.
    let met: BTreeSet<&str> = seen.values().map(String::as_str).filter(|rule| !rule.is_empty()).collect();
    assert_eq!(met, RULES.into_iter().filter(|rule| *rule != "size").collect(), "each rule has a file that breaks it");
}

#[test]
fn cubes_of_more_than_128_points_are_advised_against() {
    let text = |n: usize| {
        let smallest = String::from_utf8(bytes("good_smallest.clf")).unwrap();
        let (head, tail) = smallest.split_at(smallest.find("  <Log").unwrap());
        let rows = "0 0 0\n".repeat(n * n * n);
        let node = format!(
            "<LUT3D inBitDepth=\"32f\" outBitDepth=\"32f\">\n<Array dim=\"{n} {n} {n} 3\">\n{rows}</Array></LUT3D>"
        );
        format!("{head}{node}{}", &tail[tail.find("</ProcessList>").unwrap()..]).into_bytes()
    };
    assert_eq!(departures(&text(3)).unwrap(), []);
    let large = text(129);
    read(&large).unwrap();
    let told = departures(&large).unwrap();
    assert_eq!((told.len(), told[0].line, told[0].rule), (1, 4, "size"));
    assert!(told[0].message.contains("no more than 128"), "{}", told[0]);
}

/// Whatever `convert` and `bake` write keeps to every rule.
#[test]
fn what_is_written_is_by_the_letter() {
    let mut every = read(&bytes("good_every_node.clf")).unwrap();
    // Descriptions may be several.
    every.descriptions = vec!["one".to_owned(), "two".to_owned(), "three".to_owned()];
    assert_eq!(departures(every.to_xml().as_bytes()).unwrap(), []);
    assert_eq!(every.nodes.len(), 7);
}
