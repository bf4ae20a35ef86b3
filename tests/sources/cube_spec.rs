//! The Cube LUT Specification 1.0 (2013), rule by rule, and the corpus of good, odd and bad files in fixtures/cubes.

use rushlight::cube::{Interpolation, Table};
use rushlight::format::cube::{CubeError, CubeFile, Rule, Strictness, read};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/cubes");
const ROWS: &str = "0 0 0\n1 0 0\n0 1 0\n1 1 0\n0 0 1\n1 0 1\n0 1 1\n1 1 1\n";

fn strict(text: &str) -> Result<CubeFile, CubeError> {
    read(text.as_bytes(), Strictness::Strict)
}

fn rule(text: &str) -> Rule {
    strict(text).expect_err(text).rule
}

/// A 3D file of two points with `head` in front.
fn cube(head: &str) -> String {
    format!("{head}LUT_3D_SIZE 2\n{ROWS}")
}

#[test]
fn rule_5_3_a_line_has_at_most_250_bytes_without_its_newline() {
    assert!(strict(&cube(&format!("#{}\n", "x".repeat(249)))).is_ok());
    assert_eq!(rule(&cube(&format!("#{}\n", "x".repeat(250)))), Rule::LineLength);
    let row = format!("0 0 {:.247}\n", 0.5);
    assert_eq!(rule(&cube("").replacen("0 0 0\n", &row, 1)), Rule::LineLength);
}

#[test]
fn rule_5_3_lines_are_parted_by_newlines() {
    assert_eq!(rule(&cube("").replace('\n', "\r")), Rule::LineEnd);
    // 5.3 refuses files whose separator is a carriage return. Before a newline it is let pass: the sample reader of Annex B
    // splits such files at the newline and notes nothing.
    assert!(strict(&cube("TITLE \"t\"\n# c\n").replace('\n', "\r\n")).is_ok());
    assert_eq!(rule(&cube("").replacen('\n', "\r\r\n", 1)), Rule::Spaces);
    assert_eq!(rule(&cube("\n").replace('\n', "\r\n")), Rule::BlankLine);
    let long = format!("#{}\r\n", "x".repeat(249));
    assert_eq!(rule(&cube(&long)), Rule::LineLength, "the newline is not counted, a carriage return is");
}

#[test]
fn rule_text_is_ascii_without_a_byte_order_mark() {
    assert_eq!(rule(&cube("# caf\u{e9}\n")), Rule::Characters);
    assert_eq!(rule(&cube("\u{feff}")), Rule::Characters);
}

/// Section 5.6 writes `<sp>` between fields: the sample reader of Annex B takes any run of blanks, and so does the strict.
#[test]
fn rule_5_6_fields_are_parted_by_spaces() {
    assert!(strict(&cube("DOMAIN_MAX   2 2  2\n").replace("1 1 0", "1  1   0")).is_ok());
    assert_eq!(rule(&cube("").replace("1 1 0", "1\t1 0")), Rule::Spaces);
    assert_eq!(rule(&cube("").replace("1 1 0", " 1 1 0")), Rule::Spaces);
    assert_eq!(rule(&cube("").replace("1 1 0", "1 1 0 ")), Rule::Spaces);
}

#[test]
fn rule_5_3_a_line_is_a_keyword_a_comment_or_a_row() {
    assert_eq!(rule(&cube("\n")), Rule::BlankLine);
    assert_eq!(rule(&cube("hello\n")), Rule::Keyword);
}

#[test]
fn rule_5_6_the_title_is_in_quotes_and_may_be_left_out() {
    assert_eq!(strict(&cube("TITLE \"Night #3\"\n")).unwrap().title, "Night #3");
    assert_eq!(strict(&cube("")).unwrap().title, "");
    assert_eq!(rule(&cube("TITLE Night\n")), Rule::Title);
}

#[test]
fn rule_5_6_the_domain_is_0_to_1_unless_given() {
    assert_eq!(strict(&cube("")).unwrap().table.domain(), [[0.0; 3], [1.0; 3]]);
    assert_eq!(strict(&cube("DOMAIN_MAX 1 2 3\n")).unwrap().table.domain(), [[0.0; 3], [1.0, 2.0, 3.0]]);
    assert_eq!(strict(&cube("DOMAIN_MIN -1 -2 .5\n")).unwrap().table.domain(), [[-1.0, -2.0, 0.5], [1.0; 3]]);
    assert_eq!(rule(&cube("DOMAIN_MIN 0 1 0\n")), Rule::Domain);
}

#[test]
fn rule_5_8_comments_are_whole_lines_and_stand_anywhere() {
    assert!(strict(&format!("# first\n{}# last", cube("# head\n").replace("1 1 0\n", "1 1 0\n# inside\n"))).is_ok());
    assert_eq!(rule(&cube(" # indented\n")), Rule::Comment);
    assert_eq!(rule(&cube("").replace("1 1 0", "1 1 0 # late")), Rule::Comment);
}

#[test]
fn rule_keywords_occur_once_in_any_order_before_the_table() {
    assert!(strict(&format!("LUT_3D_SIZE 2\nDOMAIN_MAX 2 2 2\nTITLE \"t\"\nDOMAIN_MIN 0 0 0\n{ROWS}")).is_ok());
    assert_eq!(rule(&cube("TITLE \"a\"\nTITLE \"b\"\n")), Rule::Repeated);
    assert_eq!(rule(&(cube("") + "TITLE \"late\"\n")), Rule::Order);
    assert_eq!(rule(&cube("title \"t\"\n")), Rule::Keyword);
    for twice in ["DOMAIN_MIN 0 0 0\n", "DOMAIN_MAX 1 1 1\n", "LUT_3D_SIZE 2\n"] {
        assert_eq!(rule(&cube(&twice.repeat(2))), Rule::Repeated, "{twice}");
    }
}

#[test]
fn rule_7_1_one_size_within_its_bounds() {
    let curve = |n: usize| format!("LUT_1D_SIZE {n}\n{}", "0 0 0\n".repeat(n));
    for good in [2, 65536] {
        assert!(matches!(strict(&curve(good)).unwrap().table, Table::Curves(c) if c.size() == good));
    }
    for bad in [0, 1, 65537] {
        assert_eq!(rule(&curve(bad)), Rule::Size);
    }
    for bad in ["0", "1", "257", "-2", "2.0", "two"] {
        assert_eq!(rule(&format!("LUT_3D_SIZE {bad}\n{ROWS}")), Rule::Size, "{bad}");
    }
    assert_eq!(rule(&format!("LUT_1D_SIZE 2\nLUT_3D_SIZE 2\n{ROWS}")), Rule::Size);
    assert_eq!(rule(&format!("LUT_3D_SIZE\n{ROWS}")), Rule::Size);
    assert_eq!(rule(ROWS), Rule::Size);
}

#[test]
fn rule_7_2_red_changes_fastest_and_blue_least() {
    let file = strict(&cube("").replace("1 0 0\n", "7 0 0\n").replace("0 0 1\n", "0 0 9\n")).unwrap();
    assert_eq!(file.table.at([1.0, 0.0, 0.0], Interpolation::Tetrahedral), [7.0, 0.0, 0.0]);
    assert_eq!(file.table.at([0.0, 0.0, 1.0], Interpolation::Tetrahedral), [0.0, 0.0, 9.0]);
}

#[test]
fn rule_7_2_as_many_rows_as_the_size_asks_for() {
    assert_eq!(rule(&(cube("") + "0 0 0\n")), Rule::RowCount);
    assert_eq!(rule(cube("").strip_suffix("1 1 1\n").unwrap()), Rule::RowCount);
}

#[test]
fn rule_rows_hold_three_numbers() {
    assert_eq!(rule(&cube("").replace("1 1 0", "1 1")), Rule::Row);
    assert_eq!(rule(&cube("").replace("1 1 0", "1 1 0 0")), Rule::Row);
}

#[test]
fn rule_numbers_are_finite_and_within_1e37() {
    for good in ["1e37", "-1e37", "+.5", "1.", "1E-3", "0", "1023"] {
        assert!(strict(&cube("").replace("1 1 0", &format!("1 {good} 0"))).is_ok(), "{good}");
    }
    for bad in ["1.0001e37", "-1e38", "nan", "inf", "-inf", "1e999", "0x1", "1,5", "1..5", "--1", "1e"] {
        assert_eq!(rule(&cube("").replace("1 1 0", &format!("1 {bad} 0"))), Rule::Number, "{bad}");
    }
    assert_eq!(rule(&cube("").replace("1 1 0", "nan 1 0")), Rule::Number);
}

/// Section 8: tetrahedral between the nodes of a cube, linear between the entries of curves.
#[test]
fn rule_8_tetrahedral_for_cubes_and_linear_for_curves() {
    assert_eq!(Interpolation::default(), Interpolation::Tetrahedral);
    let file = strict("LUT_1D_SIZE 2\n0 1 0\n1 0 4\n").unwrap();
    assert_eq!(file.table.at([0.25; 3], Interpolation::default()), [0.25, 0.75, 1.0]);
}

#[test]
fn every_file_of_the_corpus_is_read_as_its_name_says() {
    let mut seen = BTreeMap::new();
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_path(format!("{FOLDER}/expected.csv")).unwrap();
    for record in reader.records().map(|record| record.unwrap()) {
        let (file, line, rule, message) = (&record[0], record[1].parse::<usize>().unwrap(), &record[2], &record[3]);
        let text = fs::read(format!("{FOLDER}/{file}")).unwrap();
        let error = read(&text, Strictness::Strict).expect_err(file);
        let (strict, tolerant) = (error.clone(), read(&text, Strictness::Tolerant));
        let told = if file.starts_with("odd_") {
            let warning = tolerant.expect(file).warnings[0].clone();
            assert_eq!((strict.line, strict.rule), (warning.line, warning.rule), "{file}");
            CubeError { line: warning.line, rule: warning.rule, message: warning.message }
        } else {
            tolerant.expect_err(file)
        };
        assert_eq!((told.line, told.rule.name()), (line, rule), "{file}: {told}");
        assert!(told.message.contains(message), "{file}: {told}");
        seen.insert(file.to_owned(), rule.to_owned());
    }
    let met: BTreeSet<String> = seen.values().cloned().collect();
    let all: BTreeSet<String> = Rule::ALL.iter().map(|rule| rule.name().to_owned()).collect();
    assert_eq!(met, all, "each rule has a file that breaks it");
    for entry in fs::read_dir(FOLDER).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        if name.starts_with("good_") {
            let file = read(&fs::read(format!("{FOLDER}/{name}")).unwrap(), Strictness::Strict).expect(&name);
            assert!(file.warnings.is_empty());
        } else {
            assert!(name == "expected.csv" || seen.contains_key(&name), "{name} is not in expected.csv");
        }
    }
}
