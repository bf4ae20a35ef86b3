use super::*;
use crate::cube::{WriteOptions, write};
use proptest::prelude::*;

const GOOD: &str = "LUT_1D_SIZE 2\n0 0 0\n1 1 1\n";

fn strict(text: &str) -> Result<CubeFile, CubeError> {
    read(text.as_bytes(), Strictness::Strict)
}

fn tolerant(text: &str) -> Result<CubeFile, CubeError> {
    read(text.as_bytes(), Strictness::Tolerant)
}

#[test]
fn what_is_written_is_read_back() {
    let cube = Cube::sample(3, |[r, g, b]| [r * 0.5, -1e-9 * g, b - 2.0]).unwrap();
    let options =
        WriteOptions { title: "Night, \"r4\"", comments: &["made for a test".to_owned()], ..Default::default() };
    let text = write(&cube.clone().into(), &options).unwrap();
    let file = strict(&text).unwrap();
    assert_eq!(file.title, "Night, 'r4'");
    for (got, want) in file.table.rows().iter().zip(cube.nodes()) {
        assert!((0..3).all(|i| (got[i] - want[i]).abs() <= 5e-7));
    }
    assert_eq!(strict(&text.replace('\n', "\r\n")).unwrap(), file);
    let blanks = tolerant(&text.replace('\n', " \n")).unwrap();
    assert_eq!(blanks.table, file.table);
    assert_eq!(blanks.warnings.len(), 1);
    assert_eq!(blanks.warnings[0].count, 27 + 4);
    assert!(blanks.warnings[0].to_string().ends_with("[rule spaces], and 30 more lines"));
}

#[test]
fn curves_in_front_of_a_cube_are_read_tolerantly() {
    let cube: String = (0..8).map(|i| format!("{} {} {}\n", i & 1, i >> 1 & 1, i >> 2)).collect();
    let text = format!(
        "LUT_1D_SIZE 3\nLUT_1D_INPUT_RANGE -1 3\nLUT_3D_SIZE 2\nLUT_3D_INPUT_RANGE 0 2\n0 0 0\n.5 .5 .5\n2 2 2\n{cube}"
    );
    let file = tolerant(&text).unwrap();
    let shaper = file.shaper.as_ref().unwrap();
    assert_eq!((shaper.size(), shaper.domain()), (3, [[-1.0; 3], [3.0; 3]]));
    assert_eq!((file.table.size(), file.table.domain()), (2, [[0.0; 3], [2.0; 3]]));
    assert_eq!(file.warnings.len(), 3);
    assert_eq!(strict(&text).unwrap_err().rule, Rule::Keyword);
    assert!(file.into_cube().is_err());
}

#[test]
fn a_large_size_allocates_nothing() {
    let error = tolerant("LUT_3D_SIZE 256\n0 0 0\n").unwrap_err();
    assert_eq!((error.line, error.rule), (2, Rule::RowCount));
    assert!(error.message.contains("ends after 1 of the 16777216 rows"), "{error}");
    assert_eq!(tolerant("LUT_3D_SIZE 256").unwrap_err().line, 1);
}

#[test]
fn messages_stay_short_and_printable() {
    let error = tolerant(&format!("LUT_1D_SIZE 2\n0 0 {}\u{7}\n", "x".repeat(90_000))).unwrap_err();
    assert!(error.message.len() < 120 && error.message.chars().all(|c| !c.is_control()));
}

proptest! {
    /// Of any text, the strict take just what the tolerant take without a warning.
    #[test]
    fn strict_and_tolerant_agree(at in 0usize..GOOD.len() + 1, insert in "[ \t\r\n#\"a-zA-Z0-9.,+\u{e9}-]{0,12}", cut in 0usize..6) {
        let mut text = GOOD.to_owned();
        let end = (at + cut).min(text.len());
        text.replace_range(at..end, &insert);
        match (strict(&text), tolerant(&text)) {
            (Ok(a), Ok(b)) => prop_assert_eq!(a, b),
            (Err(_), Err(_)) => {}
            (Err(e), Ok(b)) => prop_assert!(b.warnings.iter().any(|w| w.rule == e.rule && w.line == e.line)),
            (Ok(_), Err(e)) => prop_assert!(false, "strict takes what tolerant refuses: {}", e),
        }
    }

    #[test]
    fn no_bytes_make_it_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let _ = read(&bytes, Strictness::Tolerant);
        let mut text = b"LUT_1D_SIZE 3\n".to_vec();
        text.extend(bytes);
        let _ = read(&text, Strictness::Tolerant);
    }
}
