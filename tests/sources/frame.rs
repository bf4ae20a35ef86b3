//! Stills that other programs wrote (fixtures/frames, by tests/reference/make/frames.py): Pillow, ffmpeg, tifffile, and OpenEXR's
//! own library. The codes stand there and here.

use rushlight::frame::{Cicp, Depth, Exposure, Format, Frame, FrameError, Limits, ReadOptions, read};
use std::path::Path;

fn file(name: &str) -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/frames").join(name);
    std::fs::read(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

fn open(name: &str) -> Frame {
    read(&file(name), &ReadOptions::default()).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// Red, green, blue and alpha in 8 bits.
fn eight(x: u32, y: u32) -> [u32; 4] {
    [32 * x + y, 255 - (32 * x + y), 7 * (8 * y + x), 255 - 8 * (8 * y + x)]
}

fn code(bits: u8, x: u32, y: u32) -> [f32; 4] {
    let low = match bits {
        10 => x & 3,
        12 => x,
        16 => 17 * x,
        _ => 0,
    };
    eight(x, y).map(|c| ((c << (bits - 8)) + low) as f32 / ((1u32 << bits) - 1) as f32)
}

fn number(x: u32, y: u32) -> [f32; 4] {
    eight(x, y).map(|c| (c as f32 - 64.0) / 16.0)
}

/// Every sample as expected; a grey picture has the first channel three times.
fn compare(name: &str, frame: &Frame, expected: impl Fn(u32, u32) -> [f32; 4]) {
    assert_eq!((frame.width() % 8, frame.height() % 4), (0, 0), "{name}");
    let channels = frame.channels();
    for (i, pixel) in frame.samples().chunks_exact(channels).enumerate() {
        let (x, y) = ((i % frame.width()) as u32, (i / frame.width()) as u32);
        let [r, g, b, a] = expected(x % 8, y % 4);
        let want = if frame.info.grey { [r, r, r, a] } else { [r, g, b, a] };
        assert_eq!(pixel, &want[..channels], "{name} at {x}, {y}");
    }
}

#[test]
fn integers_of_every_format_are_the_codes_that_were_written() {
    // The file, its format, bits, alpha, grey.
    let files = [
        ("pillow_rgb8.png", Format::Png, 8, false, false),
        ("pillow_rgba8.png", Format::Png, 8, true, false),
        ("pillow_grey8.png", Format::Png, 8, false, true),
        ("pillow_grey16.png", Format::Png, 16, false, true),
        ("pillow_palette.png", Format::Png, 8, false, false),
        ("ffmpeg_rgb16.png", Format::Png, 16, false, false),
        ("ffmpeg_rgba16.png", Format::Png, 16, true, false),
        ("cicp16.png", Format::Png, 16, false, false),
        ("srgb8.png", Format::Png, 8, false, false),
        ("icc8.png", Format::Png, 8, false, false),
        ("pillow_rgb8_lzw.tif", Format::Tiff, 8, false, false),
        ("pillow_rgba8.tif", Format::Tiff, 8, true, false),
        ("ffmpeg_rgb16_deflate.tif", Format::Tiff, 16, false, false),
        ("tifffile_rgb16_be.tif", Format::Tiff, 16, false, false),
        ("tifffile_rgb16_big.tif", Format::Tiff, 16, false, false),
        ("tifffile_rgb16_planar.tif", Format::Tiff, 16, false, false),
        ("tifffile_rgb16_tiled.tif", Format::Tiff, 16, false, false),
        ("tifffile_grey16.tif", Format::Tiff, 16, false, true),
        ("ffmpeg_rgb8.dpx", Format::Dpx, 8, false, false),
        ("ffmpeg_rgb10_le.dpx", Format::Dpx, 10, false, false),
        ("ffmpeg_rgb10_be.dpx", Format::Dpx, 10, false, false),
        ("ffmpeg_rgb12_le.dpx", Format::Dpx, 12, false, false),
        ("ffmpeg_rgba16_be.dpx", Format::Dpx, 16, true, false),
    ];
    for (name, format, bits, alpha, grey) in files {
        let frame = open(name);
        let info = &frame.info;
        assert_eq!(
            (info.format, info.depth, frame.alpha(), info.grey),
            (format, Depth::Integer(bits), alpha, grey),
            "{name}"
        );
        compare(name, &frame, |x, y| code(bits, x, y));
    }
}

#[test]
fn floats_are_the_numbers_that_were_written() {
    let files = [
        ("openexr_half_zip.exr", Depth::Half, false, false),
        ("openexr_tagged.exr", Depth::Half, false, false),
        ("openexr_float_piz.exr", Depth::Float, true, false),
        ("openexr_grey.exr", Depth::Float, false, true),
        ("openexr_layers.exr", Depth::Float, false, false),
        ("openexr_parts.exr", Depth::Half, false, false),
        ("ffmpeg_float.exr", Depth::Float, false, false),
        ("tifffile_rgb32f.tif", Depth::Float, false, false),
        ("tifffile_rgb16f.tif", Depth::Half, false, false),
    ];
    for (name, depth, alpha, grey) in files {
        let frame = open(name);
        assert_eq!((frame.info.depth, frame.alpha(), frame.info.grey), (depth, alpha, grey), "{name}");
        compare(name, &frame, number);
    }
}

#[test]
fn a_layer_is_picked_by_its_name() {
    let layer = |name: &str, layer: &str| {
        read(&file(name), &ReadOptions { layer: Some(layer.to_owned()), ..ReadOptions::default() })
    };
    assert_eq!(open("openexr_layers.exr").info.layer.as_deref(), Some("beauty"));
    compare("beauty", &layer("openexr_layers.exr", "beauty").unwrap(), number);
    compare("right", &layer("openexr_parts.exr", "right").unwrap(), |x, y| number(x, y).map(|v| -v));
    let missing = layer("openexr_parts.exr", "middle").unwrap_err();
    assert_eq!(missing.to_string(), "the EXR has no layer `middle`: its layers are `left`, `right`");
}

#[test]
fn jpeg_is_read_to_within_what_it_takes_away() {
    for (name, grey) in [("pillow.jpg", false), ("pillow_progressive.jpg", false), ("pillow_grey.jpg", true)] {
        let frame = open(name);
        assert_eq!((frame.info.grey, frame.width(), frame.height()), (grey, 64, 32), "{name}");
        for y in 0..4 {
            for x in 0..8 {
                let want = code(8, x, y);
                let got = frame.rgb(8 * x as usize + 4, 8 * y as usize + 4);
                let want = if grey { [want[0]; 3] } else { [want[0], want[1], want[2]] };
                assert!((0..3).all(|c| (got[c] - want[c]).abs() <= 2.5 / 255.0), "{name} {x} {y}: {got:?} {want:?}");
            }
        }
    }
}

#[test]
fn what_a_file_says_of_its_colours_and_exposure_is_read() {
    let tags = open("cicp16.png").info.tags;
    assert_eq!(tags.cicp, Some(Cicp::rgb(9, 16)));
    let tags = open("srgb8.png").info.tags;
    assert!(tags.srgb);
    assert_eq!(tags.gamma, Some(0.45455));
    assert_eq!(tags.chromaticities.map(|c| (c[1].x, c[3].y)), Some((0.3, 0.329)));
    for name in ["icc8.png", "pillow_rgb8_lzw.tif"] {
        let icc = open(name).info.tags.icc.unwrap_or_default();
        // ICC.1:2022, 7.2: the file signature of a profile.
        assert_eq!(icc.get(36..40), Some(&b"acsp"[..]), "{name}");
    }
    assert!(open("ffmpeg_rgb16.png").info.tags.icc.is_none());
    let exposed = Exposure { time: Some(1.0 / 48.0), f_number: Some(2.8), iso: Some(800.0) };
    for name in ["pillow_rgba8.png", "pillow_rgba8.tif", "pillow.jpg"] {
        assert_eq!(open(name).info.exposure, exposed, "{name}");
    }
    let tagged = open("openexr_tagged.exr").info;
    let single = |v: f32| Some(f64::from(v));
    assert_eq!(tagged.exposure, Exposure { time: single(0.02), f_number: single(2.8), iso: single(800.0) });
    assert_eq!(tagged.tags.chromaticities.map(|c| c[0].x as f32), Some(0.708));
    assert_eq!(open("pillow_rgb8.png").info.exposure, Exposure::default());
}

#[test]
fn what_is_not_read_is_said() {
    let said = |name: &str| match read(&file(name), &ReadOptions::default()) {
        Err(FrameError::Unsupported(why)) => why,
        other => panic!("{name}: {other:?}"),
    };
    assert_eq!(said("bad_cmyk.tif"), "a TIFF of CMYK: only grey, RGB and RGBA are read");
    assert_eq!(said("bad_u32.tif"), "a TIFF of 32 bits: 8 and 16 bits, half and 32-bit float are read");
    assert_eq!(said("bad_cmyk.jpg"), "a JPEG of CMYK: only grey and colour are read");
    assert_eq!(said("bad_no_colour.exr"), "the EXR has no channels R, G and B: its channels are Z");
}

#[test]
fn a_dpx_that_is_cut_or_claims_too_much_is_refused() {
    let dpx = file("ffmpeg_rgb10_be.dpx");
    for length in 4..dpx.len() {
        let cut = read(&dpx[..length], &ReadOptions::default());
        assert!(matches!(&cut, Err(FrameError::Malformed(why)) if why.starts_with("the DPX is cut short")), "{length}");
    }
    // The width, as 2^20.
    let mut wide = dpx.clone();
    wide[772..776].copy_from_slice(&[0, 0x10, 0, 0]);
    assert!(matches!(read(&wide, &ReadOptions::default()), Err(FrameError::Malformed(_))));
    let options = ReadOptions { limits: Limits { memory: 1 << 20 }, layer: None };
    assert!(matches!(read(&wide, &options), Err(FrameError::Limit(_))));
    for at in 768..832 {
        for with in [0, 2, 0x7f, 0xff] {
            let mut broken = dpx.clone();
            broken[at] = with;
            let _ = read(&broken, &options);
        }
    }
}
