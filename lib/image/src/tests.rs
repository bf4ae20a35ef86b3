mod making;

use super::*;

fn frame(alpha: bool, depth: Depth) -> Frame {
    let channels = if alpha { 4 } else { 3 };
    let value = |i: usize| match depth {
        Depth::Integer(8) => (i * 37 % 256) as f32 / 255.0,
        Depth::Integer(_) => (i * 9973 % 65536) as f32 / 65535.0,
        // Exact as halves; below 0 and above 1.
        _ => (i * 53 % 512) as f32 / 64.0 - 1.0,
    };
    let samples = (0..13 * 7 * channels).map(value).collect();
    Frame::new(13, 7, alpha, samples, Info::new(Format::Exr, depth)).unwrap()
}

const WRITTEN: [(Format, Depth); 7] = [
    (Format::Exr, Depth::Half),
    (Format::Exr, Depth::Float),
    (Format::Tiff, Depth::Integer(8)),
    (Format::Tiff, Depth::Integer(16)),
    (Format::Tiff, Depth::Float),
    (Format::Png, Depth::Integer(8)),
    (Format::Png, Depth::Integer(16)),
];

fn back(file: &[u8]) -> Frame {
    read(file, &ReadOptions::default()).unwrap()
}

#[test]
fn every_format_gives_back_what_was_written() {
    for (format, depth) in WRITTEN {
        for alpha in [false, true] {
            let frame = frame(alpha, depth);
            let file = write(&frame, format, depth).unwrap();
            assert_eq!(Format::of(&file), Some(format));
            let back = back(&file);
            assert_eq!((back.info.format, back.info.depth, back.info.grey), (format, depth, false));
            assert_eq!((back.width(), back.height(), back.alpha()), (13, 7, alpha));
            assert_eq!(back.samples(), frame.samples(), "{format:?} {depth:?} {alpha}");
        }
    }
}

#[test]
fn dpx_gives_back_codes_of_ten_bits_and_its_header() {
    let mut frame = frame(false, Depth::Integer(16));
    frame.samples_mut().iter_mut().enumerate().for_each(|(i, v)| *v = (i * 97 % 1024) as f32 / 1023.0);
    let first = write(&frame, Format::Dpx, Depth::Integer(10)).unwrap();
    let mut back = back(&first);
    assert_eq!((back.info.depth, back.samples()), (Depth::Integer(10), frame.samples()));
    // Whatever a writer has put into its header stays: a creator, and a header of other length and byte order.
    let mut other = first[..2048].to_vec();
    other[160..165].copy_from_slice(b"heron");
    other.extend([7; 4096]);
    other[4..8].copy_from_slice(&6144u32.to_be_bytes());
    other[808..812].copy_from_slice(&6144u32.to_be_bytes());
    other.extend(&first[2048..]);
    let again = self::back(&other);
    assert_eq!(again.samples(), frame.samples());
    let second = write(&again, Format::Dpx, Depth::Integer(10)).unwrap();
    assert_eq!((&second[160..165], &second[2048..6144]), (&b"heron"[..], &[7; 4096][..]));
    assert_eq!(second[6144..], first[2048..]);
    back.info.kept = None;
    assert_eq!(write(&back, Format::Dpx, Depth::Integer(10)).unwrap(), first);
    let alpha = self::frame(true, Depth::Integer(8));
    assert!(matches!(write(&alpha, Format::Dpx, Depth::Integer(10)), Err(FrameError::Unsupported(_))));
}

#[test]
fn alpha_says_whether_colour_holds_it() {
    for (format, depth, associated) in [
        (Format::Exr, Depth::Float, true),
        (Format::Tiff, Depth::Float, true),
        (Format::Tiff, Depth::Float, false),
        (Format::Png, Depth::Integer(16), false),
    ] {
        let mut frame = frame(true, depth);
        frame.info.associated = associated;
        let back = back(&write(&frame, format, depth).unwrap());
        assert_eq!(back.info.associated, associated, "{format:?}");
    }
    let samples = vec![0.5, 0.25, 0.125, 0.5, 0.5, 0.25, 0.125, 0.0];
    let mut frame = Frame::new(2, 1, true, samples, Info::new(Format::Exr, Depth::Float)).unwrap();
    frame.associate(false);
    assert_eq!(frame.samples(), [1.0, 0.5, 0.25, 0.5, 0.5, 0.25, 0.125, 0.0]);
    frame.associate(true);
    assert_eq!(frame.samples(), [0.5, 0.25, 0.125, 0.5, 0.0, 0.0, 0.0, 0.0]);
}

#[test]
fn jpeg_comes_back_nearly() {
    let mut frame = frame(false, Depth::Integer(8));
    for (i, v) in frame.samples_mut().iter_mut().enumerate() {
        *v = 0.2 + 0.01 * (i / 3 % 13) as f32 + 0.1 * (i % 3) as f32;
    }
    let back = back(&write(&frame, Format::Jpeg, Depth::Integer(8)).unwrap());
    for (a, b) in back.samples().iter().zip(frame.samples()) {
        // The quantiser at quality 95, and the rounding of YCbCr.
        assert!((a - b).abs() < 4.0 / 255.0, "{a} {b}");
    }
    let alpha = self::frame(true, Depth::Integer(8));
    assert!(matches!(write(&alpha, Format::Jpeg, Depth::Integer(8)), Err(FrameError::Unsupported(_))));
}

#[test]
fn tags_are_kept_where_there_is_a_place() {
    let mut frame = frame(false, Depth::Integer(16));
    let bt2020 = [(0.708, 0.292), (0.17, 0.797), (0.131, 0.046), (0.3127, 0.329)].map(|(x, y)| Xy::new(x, y));
    frame.info.tags = Tags { cicp: Some(Cicp::rgb(9, 16)), chromaticities: Some(bt2020), ..Tags::default() };
    frame.info.exposure = Exposure { time: Some(0.25), f_number: Some(4.0), iso: Some(800.0) };
    let png = back(&write(&frame, Format::Png, Depth::Integer(16)).unwrap());
    assert_eq!(png.info.tags, frame.info.tags);
    let exr = back(&write(&frame, Format::Exr, Depth::Float).unwrap());
    assert_eq!(exr.info.exposure, frame.info.exposure);
    let near = |a: Xy, b: Xy| (a.x - b.x).abs() < 1e-7 && (a.y - b.y).abs() < 1e-7;
    assert!(exr.info.tags.chromaticities.unwrap().into_iter().zip(bt2020).all(|(a, b)| near(a, b)));

    frame.info.tags = Tags { srgb: true, ..Tags::default() };
    assert!(back(&write(&frame, Format::Png, Depth::Integer(8)).unwrap()).info.tags.srgb);
    frame.info.tags = Tags { icc: Some(vec![7; 300]), ..Tags::default() };
    for (format, depth) in
        [(Format::Png, Depth::Integer(8)), (Format::Tiff, Depth::Float), (Format::Jpeg, Depth::Integer(8))]
    {
        assert_eq!(back(&write(&frame, format, depth).unwrap()).info.tags.icc, frame.info.tags.icc, "{format:?}");
    }
}

#[test]
fn integers_are_the_nearest_and_stay_in_range() {
    let values = [-1.0, 0.5 / 65535.0 + 1e-7, 2.0, f32::NAN, f32::INFINITY, f32::NEG_INFINITY];
    let frame = Frame::new(2, 1, false, values.to_vec(), Info::new(Format::Exr, Depth::Float)).unwrap();
    let codes: Vec<u16> = frame.codes(65535).collect();
    assert_eq!(codes, [0, 1, 65535, 0, 65535, 0]);
    // What a half cannot hold becomes the largest half.
    let large = Frame::new(1, 1, false, vec![1e9, -1e9, 1.0], Info::new(Format::Exr, Depth::Float)).unwrap();
    assert_eq!(back(&write(&large, Format::Exr, Depth::Half).unwrap()).samples(), [65504.0, -65504.0, 1.0]);
}

#[test]
fn a_file_cut_anywhere_is_refused_and_never_a_panic() {
    for (format, depth) in WRITTEN.into_iter().chain([(Format::Jpeg, Depth::Integer(8))]) {
        let file = write(&frame(false, depth), format, depth).unwrap();
        for length in 0..file.len() - 16 {
            let cut = read(&file[..length], &ReadOptions::default());
            // The end of a PNG, of a JPEG's last block or of a TIFF's directory may be missed by nothing.
            if let Ok(frame) = cut {
                assert!(length > file.len() / 2, "{format:?} {depth:?} at {length}: {:?}", frame.info);
            }
        }
    }
}

#[test]
fn flipped_bytes_are_never_a_panic() {
    for (format, depth) in WRITTEN.into_iter().chain([(Format::Jpeg, Depth::Integer(8))]) {
        let file = write(&frame(true, depth), format, depth).or_else(|_| write(&frame(false, depth), format, depth));
        let file = file.unwrap();
        let options = ReadOptions { limits: Limits { memory: 1 << 24 }, layer: None };
        for at in 0..file.len() {
            for with in [0x00, 0x7f, 0xff] {
                let mut broken = file.clone();
                broken[at] = with;
                let _ = read(&broken, &options);
            }
        }
    }
}

#[test]
fn claims_are_checked_before_memory_is_taken() {
    // 4096 x 4096 pixels in about a hundred bytes.
    let frame = Frame::new(1, 1, false, vec![0.5; 3], Info::new(Format::Png, Depth::Integer(8))).unwrap();
    let mut png = write(&frame, Format::Png, Depth::Integer(8)).unwrap();
    png[16..24].copy_from_slice(&[0, 0, 0x10, 0, 0, 0, 0x10, 0]);
    // The checksum of the chunk is then wrong, which is found first: make it right.
    let crc = crc32(&png[12..29]);
    png[29..33].copy_from_slice(&crc.to_be_bytes());
    let found = read(&png, &ReadOptions::default()).unwrap_err();
    assert!(matches!(&found, FrameError::Malformed(why) if why.contains("4096 x 4096")), "{found:?}");
    let tight = ReadOptions { limits: Limits { memory: 1000 }, layer: None };
    for (format, depth) in WRITTEN.into_iter().chain([(Format::Jpeg, Depth::Integer(8))]) {
        let file = write(&self::frame(false, depth), format, depth).unwrap();
        let found = read(&file, &tight).unwrap_err();
        assert!(matches!(found, FrameError::Limit(_)), "{format:?}: {found:?}");
    }
}

/// The checksum of PNG, bit by bit.
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |c, _| if c & 1 == 1 { 0xedb8_8320 ^ (c >> 1) } else { c >> 1 })
    })
}

#[test]
fn what_is_no_picture_and_what_is_not_written_is_said() {
    for file in [&b""[..], b"II*", b"P6\n1 1\n255\n...", b"schema = 1\n"] {
        let found = read(file, &ReadOptions::default()).unwrap_err();
        assert_eq!(found.to_string(), "not a picture of a known kind: EXR, TIFF, PNG, JPEG, DPX");
    }
    let frame = frame(false, Depth::Float);
    for (format, depth) in [(Format::Dpx, Depth::Integer(12)), (Format::Png, Depth::Float), (Format::Tiff, Depth::Half)]
    {
        assert!(matches!(write(&frame, format, depth), Err(FrameError::Unsupported(_))));
    }
    assert!(Frame::new(0, 4, false, vec![], frame.info.clone()).is_err());
    assert!(Frame::new(2, 2, true, vec![0.0; 12], frame.info.clone()).is_err());
}
