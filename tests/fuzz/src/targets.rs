//! What is fuzzed: a function for each reader of files that the list below names. Each takes any bytes and must neither panic, hang nor take memory
//! that the bytes do not stand for; what it accepts must hold together.

use rushlight::compare;
use rushlight::cube::fast::{FastCube, Path, Sample};
use rushlight::cube::{Cube, Interpolation, Table};
use rushlight::curve_file;
use rushlight::format::cdl::Correction;
use rushlight::format::cube::{self, Strictness, WriteOptions};
use rushlight::format::{cdl, clf, events, hald, shot_list};
use rushlight::frame::{self, Depth, Format, Limits, ReadOptions};
use rushlight::handoff::{archive, parse_manifest, parse_sums, safe_name};
use rushlight::look::{self, Draft};
use rushlight::show::Show;
use rushlight::step::cdl::CdlNumbers;
use std::collections::BTreeMap;
use std::io::Cursor;

/// A reader under test.
pub(crate) struct Target {
    /// Its name, which is also that of its folder of inputs.
    pub(crate) name: &'static str,
    /// The endings of the fixtures that it starts from.
    pub(crate) seeds: &'static [&'static str],
    /// The reader.
    pub(crate) run: fn(&[u8]),
}

/// Every reader of files in the library.
pub(crate) const TARGETS: [Target; 20] = [
    Target { name: "cube_strict", seeds: &["cube"], run: cube_strict },
    Target { name: "cube_tolerant", seeds: &["cube"], run: cube_tolerant },
    Target { name: "clf", seeds: &["clf"], run: clf },
    Target { name: "cdl", seeds: &["cc", "ccc", "cdl"], run: cdl },
    Target { name: "ale", seeds: &["ale"], run: |bytes| shots(bytes, shot_list::Form::Ale) },
    Target { name: "csv", seeds: &["csv"], run: |bytes| shots(bytes, shot_list::Form::Csv) },
    Target { name: "edl", seeds: &["edl"], run: |bytes| shots(bytes, shot_list::Form::Edl) },
    Target { name: "otio", seeds: &["otio"], run: |bytes| shots(bytes, shot_list::Form::Otio) },
    Target { name: "look", seeds: &["toml"], run: look },
    Target { name: "show", seeds: &["toml"], run: show },
    Target { name: "curve", seeds: &["toml"], run: curve },
    Target { name: "hald", seeds: &["png"], run: hald },
    Target { name: "png", seeds: &["png"], run: |bytes| still(bytes, Format::Png) },
    Target { name: "tiff", seeds: &["tif"], run: |bytes| still(bytes, Format::Tiff) },
    Target { name: "exr", seeds: &["exr"], run: |bytes| still(bytes, Format::Exr) },
    Target { name: "jpeg", seeds: &["jpg"], run: |bytes| still(bytes, Format::Jpeg) },
    Target { name: "dpx", seeds: &["dpx"], run: |bytes| still(bytes, Format::Dpx) },
    Target { name: "zip", seeds: &[], run: zip },
    Target { name: "manifest", seeds: &[], run: manifest },
    Target { name: "kernel", seeds: &[], run: kernel },
];

/// Values on which whatever was accepted is tried.
const VALUES: [f64; 9] = [0.0, 0.18, 0.5, 1.0, -0.1, 1.7, 1e-310, 1e30, -1e30];

fn finite(values: &[f64], what: &str) {
    assert!(values.iter().all(|v| v.is_finite()), "{what}: {values:?}");
}

fn read_cube(bytes: &[u8], strictness: Strictness) -> Option<cube::CubeFile> {
    let file = cube::read(bytes, strictness).ok()?;
    for table in file.tables() {
        let rows = match &table {
            Table::Curves(curves) => curves.entries(),
            Table::Cube(cube) => cube.nodes(),
        };
        assert!(rows.iter().flatten().all(|v| v.is_finite()), "a table holds numbers");
    }
    Some(file)
}

/// By the letter: what is accepted is written, read and written again without a change.
fn cube_strict(bytes: &[u8]) {
    let Some(file) = read_cube(bytes, Strictness::Strict) else { return };
    assert!(file.warnings.is_empty() && file.shaper.is_none());
    let tolerant = cube::read(bytes, Strictness::Tolerant).expect("what is strict is tolerated");
    assert!(tolerant.table == file.table && tolerant.warnings.is_empty(), "two readings of one file");
    let options = WriteOptions { title: &file.title, ..WriteOptions::default() };
    let text = cube::write(&file.table, &options).expect("what was read can be written");
    let again = cube::read(text.as_bytes(), Strictness::Strict).expect("what is written is by the letter");
    assert!(cube::write(&again.table, &options) == Ok(text), "writing is stable");
}

fn cube_tolerant(bytes: &[u8]) {
    let Some(file) = read_cube(bytes, Strictness::Tolerant) else { return };
    for value in VALUES {
        for interpolation in Interpolation::ALL {
            finite(&file.table.at([value, 0.5, 0.5], interpolation), "a table");
        }
    }
}

fn clf(bytes: &[u8]) {
    let read = clf::read(bytes);
    let departures = clf::departures(bytes);
    let Ok(list) = read else { return };
    departures.expect("what is read can be judged");
    for value in VALUES {
        let _ = list.apply([value, 0.5, -value]);
    }
    let text = list.to_xml();
    let again = clf::read(text.as_bytes()).unwrap_or_else(|e| panic!("what is written is read: {e}\n{text}"));
    assert!(again.to_xml() == text, "writing is stable");
}

fn cdl(bytes: &[u8]) {
    let Ok(file) = cdl::read(bytes) else { return };
    let there = str::from_utf8(bytes).expect("what is read is UTF-8");
    let numbers = CdlNumbers { slope: [1.5, 1.0, 0.75], offset: [0.1, 0.0, -0.1], ..CdlNumbers::default() };
    for id in file.ids() {
        assert!(file.get(id).is_some(), "{id}");
        let entered = cdl::enter(there, Some(id), &numbers).unwrap_or_else(|e| panic!("{id}: {e:?}\n{there}"));
        let read =
            cdl::read(entered.as_bytes()).unwrap_or_else(|e| panic!("what is entered is read: {e:?}\n{entered}"));
        for (before, after) in file.corrections.iter().zip(&read.corrections) {
            let wanted = if before.id.as_deref() == Some(id) { &numbers } else { &before.numbers };
            assert!(after.id == before.id && after.numbers == *wanted, "{id}\n{entered}");
        }
        assert!(
            cdl::enter(&entered, Some(id), &numbers).as_ref() == Ok(&entered),
            "entering again changes nothing\n{entered}"
        );
    }
    let new = Correction { id: Some("another of the fuzzer".to_owned()), numbers, ..Correction::default() };
    if let Ok(more) = cdl::append(there, &new) {
        let read = cdl::read(more.as_bytes()).unwrap_or_else(|e| panic!("what is appended is read: {e:?}\n{more}"));
        assert!(read.corrections.len() == file.corrections.len() + 1, "{more}");
    }
    let Ok(text) = cdl::write(&file) else { return };
    let again = cdl::read(text.as_bytes()).unwrap_or_else(|e| panic!("what is written is read: {e:?}\n{text}"));
    assert!(cdl::write(&again) == Ok(text), "writing is stable");
}

fn shots(bytes: &[u8], form: shot_list::Form) {
    if let Ok(list) = events::read(bytes, form, None) {
        if let Ok(text) = events::write(&list, shot_list::Form::Edl) {
            // A reel may be called as black is.
            let black =
                list.events.iter().any(|e| e.reel.as_deref().is_some_and(|r| r.trim().eq_ignore_ascii_case("bl")));
            let again = events::read(text.as_bytes(), shot_list::Form::Edl, None);
            assert!(
                black || list.events.is_empty() || again.is_ok_and(|l| l.events.len() == list.events.len()),
                "{text}"
            );
        }
        if form != shot_list::Form::Otio {
            let same = events::enter(bytes, form, None, |_| None).expect("what was read");
            assert_eq!(same.as_bytes(), bytes, "nothing entered, nothing changed");
        }
    }
    for column in [None, Some("Tape")] {
        let Ok(list) = shot_list::read(bytes, form, column) else { continue };
        let text = shot_list::write_csv(list.shots.iter().map(|s| (s.name.as_str(), &s.numbers)));
        let again = shot_list::read(text.as_bytes(), shot_list::Form::Csv, None)
            .unwrap_or_else(|e| panic!("what is written is read: {e:?}\n{text}"));
        assert_eq!(again.shots.len(), list.shots.len(), "{text}");
    }
    if let Ok(text) = std::str::from_utf8(bytes) {
        let _ = parse_sums(text);
        let _ = compare::limits::parse(text);
    }
}

/// What the documents may name.
fn files() -> BTreeMap<String, Vec<u8>> {
    let cube = b"LUT_3D_SIZE 2\n0 0 0\n1 0 0\n0 1 0\n1 1 0\n0 0 1\n1 0 1\n0 1 1\n1 1 1\n";
    let look = "schema = 1\ngeneration = 2\ntitle = 'Plain'\n[[step]]\ndo = 'tone'\n";
    let curve = "schema = 1\ntitle = 'c'\nsource = 'invented'\n[table]\npoints = [[-8, 0.07], [0, 0.5], [6, 0.94]]\n";
    let correction = "<ColorCorrection id=\"a\"><SatNode><Saturation>1.1</Saturation></SatNode></ColorCorrection>";
    let list = "Name,ASC_SOP,ASC_SAT\na,(1 1 1)(0 0 0)(1 1 1),1\n";
    let files: [(&str, &[u8]); 5] = [
        ("a.cube", cube),
        ("a.toml", look.as_bytes()),
        ("c.toml", curve.as_bytes()),
        ("a.cc", correction.as_bytes()),
        ("a.csv", list.as_bytes()),
    ];
    files.into_iter().map(|(name, bytes)| (name.to_owned(), bytes.to_vec())).collect()
}

fn look(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let read = look::parse("l.toml", text, &files());
    if let Err(problems) = &read {
        assert!(!problems.list.is_empty() && !problems.to_string().is_empty());
        return;
    }
    let Ok(look) = read else { return };
    let _ = look.sentences();
    let plain = Draft::of("schema = 1\ngeneration = 2\ntitle = 'Plain'\n[[step]]\ndo = 'tone'\n");
    let _ = compare::document::look_changes(&plain, &Draft::from(&look));
    let _ = compare::document::look_changes(&Draft::from(&look), &plain);
    // What is written is the same look.
    let again = look::parse("l.toml", &look::to_toml(&look), &files());
    assert_eq!(again.expect("a look that was written is sound"), look);
}

fn show(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let Ok(show) = Show::parse("s.toml", text, &files()) else { return };
    let _ = compare::document::table_changes("schema = 1\ntitle = 'x'\n", text);
    for job in show.jobs().into_iter().chain(show.shot_jobs()).take(4) {
        let _ = job.file_stem();
        if let Ok(pipeline) = job.pipeline() {
            for value in VALUES {
                finite(&pipeline.apply([value, 0.4, -value]).0, "a show's path");
            }
        }
    }
}

fn curve(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let Ok(file) = curve_file::parse("c.toml", text) else { return };
    let curve = file.transfer();
    for value in VALUES {
        // A light beyond all numbers is one.
        assert!(!curve.encode(value).is_nan() && !curve.decode(value).is_nan(), "NaN of {value}");
    }
}

fn hald(bytes: &[u8]) {
    let Ok(picture) = hald::Hald::from_png(bytes) else { return };
    let cube = picture.to_cube();
    finite(&cube.at([0.3; 3], Interpolation::Tetrahedral), "a Hald image");
}

/// A limit of memory under which a megabyte of input stays below half a gigabyte with everything that decoders need.
const MEMORY: usize = 64 << 20;

fn still(bytes: &[u8], format: Format) {
    if Format::of(bytes) != Some(format) {
        return;
    }
    let options = ReadOptions { limits: Limits { memory: MEMORY }, layer: None };
    let Ok(frame) = frame::read(bytes, &options) else { return };
    assert_eq!(frame.samples().len(), frame.width() * frame.height() * frame.channels());
    // Written back with all that is kept of it, where that is quick.
    if frame.samples().len() < 1 << 16 {
        for depth in [Depth::Integer(8), Depth::Integer(10), Depth::Integer(16), Depth::Half, Depth::Float] {
            if let Ok(file) = frame::write(&frame, format, depth) {
                let again = frame::read(&file, &ReadOptions::default()).expect("what is written is read");
                assert_eq!((again.width(), again.height()), (frame.width(), frame.height()));
            }
        }
    }
}

/// The directory of a .zip: entries that are taken lie within the file, one after the other, each name once.
fn zip(bytes: &[u8]) {
    let Ok(entries) = archive::entries(&mut Cursor::new(bytes)) else { return };
    let mut free = 0;
    for (i, entry) in entries.iter().enumerate() {
        assert!(entry.header >= free, "entries overlap");
        free = entry.header + 30 + entry.name.len() as u64 + entry.packed;
        assert!(free <= bytes.len() as u64, "an entry reaches outside");
        assert!(entries[..i].iter().all(|other| other.name != entry.name), "a name twice");
    }
}

/// The lists of a hand-off.
fn manifest(bytes: &[u8]) {
    if let Ok(manifest) = parse_manifest(bytes) {
        for file in &manifest.files {
            let _ = safe_name(&file.file);
        }
    }
    if let Some(sums) = std::str::from_utf8(bytes).ok().and_then(|text| parse_sums(text).ok()) {
        assert!(sums.keys().all(|name| safe_name(name).is_ok()), "a name that leaves");
    }
}

/// The fast path over frames of any length at any place in memory: it agrees with the reference, and stays within.
fn kernel(bytes: &[u8]) {
    let [size, kind, offset, rest @ ..] = bytes else { return };
    let size = 2 + usize::from(*size) % 16;
    let cube = Cube::sample(size, |[r, g, b]| [r * r, 0.5 * g + 0.4 * b, 1.0 - b]).expect("a cube");
    let interpolation = Interpolation::ALL[usize::from(*kind) % 2];
    for path in Path::available() {
        let fast = FastCube::on_path(&cube, interpolation, *path).expect("a fast cube");
        let offset = usize::from(*offset) % 17;
        match kind / 2 % 3 {
            0 => pixels(&cube, &fast, rest, offset, 1.0),
            1 => {
                let codes: Vec<u16> = rest.as_chunks::<2>().0.iter().map(|b| u16::from_ne_bytes(*b)).collect();
                pixels(&cube, &fast, &codes, offset, 257.0);
            }
            _ => {
                let floats: Vec<f32> = rest.as_chunks::<4>().0.iter().map(|b| f32::from_ne_bytes(*b)).collect();
                pixels(&cube, &fast, &floats, offset, 1.0 / 255.0);
            }
        }
    }
}

/// `step`: what a 255th of 1.0 is in samples.
fn pixels<S: Sample + Into<f64> + Copy>(cube: &Cube, fast: &FastCube, samples: &[S], offset: usize, step: f64) {
    let samples = &samples[offset.min(samples.len())..];
    let count = samples.len().min(3000) / 3;
    // As long as they must be: whatever lies behind is not theirs.
    let source: Vec<S> = samples[..3 * count].to_vec();
    let mut target = vec![S::default(); 3 * count];
    fast.rgb(&source, &mut target).expect("whole pixels");
    let mut planes = [0, 1, 2].map(|c| source.iter().skip(c).step_by(3).copied().collect::<Vec<S>>());
    let [r, g, b] = &mut planes;
    fast.planar_in_place([r, g, b]).expect("planes of one length");
    for (i, (from, to)) in source.chunks_exact(3).zip(target.chunks_exact(3)).enumerate() {
        let signal = [from[0], from[1], from[2]].map(|v| v.into() / (255.0 * step));
        let exact = cube.at(signal.map(|v| if v.is_nan() { 0.0 } else { v }), fast.interpolation());
        for c in 0..3 {
            let (got, plane): (f64, f64) = (to[c].into(), planes[c][i].into());
            assert!(got == plane, "layouts differ");
            assert!((got / (255.0 * step) - exact[c]).abs() < 0.51 / 255.0, "{signal:?}: {got}, {}", exact[c]);
        }
    }
}
