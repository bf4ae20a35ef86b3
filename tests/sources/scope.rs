//! Scopes against NumPy and colour-science 0.4.7, bin for bin: fixtures/reference/scopes.csv, made by
//! tests/reference/make/scopes.py.

use rushlight::camera::Camera;
use rushlight::display::{self, Display};
use rushlight::scope::{Bins, Counted, Scales};
use rushlight::transform::function;
use rushlight::{curve, gamut};

const SIZE: [usize; 2] = [24, 12];

/// The picture of `codes` in tests/reference/make/scopes.py.
fn picture() -> Vec<[f64; 3]> {
    let mut x: u32 = 1;
    let mut code = |black: bool| {
        x = x.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        if black { 0.0 } else { f64::from(x >> 16) / 65535.0 }
    };
    (0..SIZE[0] * SIZE[1]).map(|i| std::array::from_fn(|_| code(i < 3))).collect()
}

fn counted() -> Counted {
    let camera = Camera::of(&curve::SLOG3, &gamut::SGAMUT3_CINE).expect("a camera");
    let scales = Scales::of(&camera, None, &Display::of(&display::BT709));
    scales.count(SIZE[0], &picture(), &function(|signal| signal))
}

#[test]
fn every_bin_has_the_pixels_that_numpy_counts() {
    let counted = counted();
    assert_eq!(counted.size, SIZE);
    let path = format!("{}/../fixtures/reference/scopes.csv", env!("CARGO_MANIFEST_DIR"));
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_path(path).expect("the fixture is there");
    let mut kinds = [("stops", counted.stops), ("display", counted.display), ("chroma", counted.chroma)];
    let mut rows = 0;
    for record in reader.records() {
        let record = record.expect("a full row");
        let [channel, column, row, count] = [1, 2, 3, 4].map(|i| record[i].parse::<usize>().expect("a number"));
        let (_, bins) = kinds.iter_mut().find(|(kind, _)| *kind == &record[0]).expect("a kind");
        let Bins { columns, counts } = bins;
        let there = &mut counts[row * *columns + column][channel];
        assert_eq!(*there as usize, count, "{record:?}");
        *there = 0;
        rows += 1;
    }
    assert!(rows > 1000, "{rows}");
    // And no other bin has any.
    for (kind, bins) in &kinds {
        assert!(bins.counts.iter().flatten().all(|count| *count == 0), "{kind}");
    }
}

#[test]
fn every_pixel_is_in_each_waveform_once() {
    let counted = counted();
    let pixels = (SIZE[0] * SIZE[1]) as u64;
    for (bins, rows) in [(&counted.stops, 288), (&counted.display, 256)] {
        assert_eq!((bins.columns, bins.rows()), (SIZE[0], rows));
        let sums = bins.sums();
        assert_eq!([0, 1, 2].map(|c| sums.iter().map(|row| row[c]).sum::<u64>()), [pixels; 3]);
    }
    assert_eq!(counted.chroma.sums().iter().map(|row| row[0]).sum::<u64>(), pixels - 3);
}
