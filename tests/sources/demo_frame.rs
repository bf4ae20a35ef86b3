//! The demo frame: that it is what its maker makes, that its charts hold, and what the looks make of it.

use palette::{IntoColor, LinSrgb, OklabHue, Oklch};
use rushlight::frame::{Depth, Frame};
use rushlight::look;
use rushlight::math::{exp2, log2};
use rushlight::pipeline::Pipeline;
use rushlight::transfer::MID_GREY;
use rushlight_tests::{demo, demo_frame};

/// Pixels of the sign's tube, and of the face's lit side.
const TUBE: [usize; 2] = [66, 65];
const FACE: [usize; 2] = [340, 160];

fn frame_file() -> Frame {
    demo::still(&demo::folder().join("frame.exr"))
}

fn pixel(still: &Frame, [x, y]: [usize; 2]) -> [f64; 3] {
    still.rgb(x, y).map(f64::from)
}

#[test]
fn the_frame_is_what_its_maker_makes() {
    let committed = frame_file();
    let made = demo_frame::render();
    assert_eq!((committed.width(), committed.height()), (demo_frame::WIDTH, demo_frame::HEIGHT));
    assert_eq!((committed.info.depth, committed.info.layer.as_deref()), (Depth::Half, None));
    let apart = committed.pixels().zip(made.pixels()).filter(|(a, b)| a.map(f32::to_bits) != b.map(f32::to_bits));
    assert_eq!(apart.count(), 0, "pixels that differ: make the frame again with the binary `demo_frame`");
    // SMPTE ST 2065-1 and Academy S-2014-004: AP1 and the ACES white, as the file states them.
    let stated = [[0.713f32, 0.293], [0.165, 0.83], [0.128, 0.044], [0.32168, 0.33767]];
    let told = committed.info.tags.chromaticities.expect("primaries");
    assert_eq!(told.map(|c| [c.x as f32, c.y as f32]), stated);
}

#[test]
fn patches_stand_a_stop_apart() {
    let frame = frame_file();
    let across = |k: usize| (2 * k + 1) * demo_frame::WIDTH / 30;
    for k in 0..15 {
        let rgb = pixel(&frame, [across(k), 340]);
        let want = MID_GREY * exp2(k as f64 - 7.0);
        // Half float: 11 bits, so half of the last bit is 2^-11 of the number at worst.
        assert!(rgb.iter().all(|v| (v / want - 1.0).abs() <= exp2(-11.0)), "{k}: {rgb:?} for {want}");
        assert_eq!(rgb, [rgb[0]; 3]);
    }
}

/// The sign at its level in the scene: its strongest channel four stops over mid-grey, before the glow of the lens.
#[test]
fn the_sign_is_a_wide_blue_four_stops_over() {
    let [r, g, b] = pixel(&frame_file(), TUBE);
    let stops = log2(b / MID_GREY);
    assert!((4.0..4.2).contains(&stops), "{stops} stops");
    assert!(r < 0.25 * b && g < 0.25 * b, "{r} {g} {b}");
}

/// From the dark to far over, no look makes the sign or the face darker as its light grows, and the sign stays blue.
#[test]
fn colours_of_the_frame_rise_with_their_light() {
    let (show, frame) = (demo::show(), frame_file());
    for look in ["night", "day"] {
        for display in ["onset", "hdr"] {
            let pipeline = show.pipeline(look, "a", display).unwrap();
            let weights = pipeline.display().settings().gamut.luminance_weights();
            for at in [TUBE, FACE] {
                let mut last = f64::NEG_INFINITY;
                for step in -64..=64 {
                    let light = pixel(&frame, at).map(|v| v * exp2(f64::from(step) / 16.0));
                    let out = pipeline.apply_to_light(light);
                    let linear = pipeline.display().decode(out);
                    let luminance = (0..3).map(|i| weights[i] * linear[i]).sum::<f64>();
                    assert!(luminance > last, "{look} on {display}, {at:?}: {luminance} after {last} at step {step}");
                    last = luminance;
                    if at == TUBE {
                        assert!(out[2] > out[0] && out[2] > out[1], "{look} on {display}: {out:?} at step {step}");
                    }
                }
            }
        }
    }
}

/// Faces are legible and black is no hole: what the looks were set for, in codes of 8 bits on the on-set monitor.
#[test]
fn the_looks_put_a_face_where_it_reads() {
    let (show, frame) = (demo::show(), frame_file());
    for (look, range) in [("night", 115.0..150.0), ("day", 135.0..170.0)] {
        let pipeline = show.pipeline(look, "a", "onset").unwrap();
        let [r, g, b] = pipeline.apply_to_light(pixel(&frame, FACE)).map(|v| 255.0 * v);
        assert!(range.contains(&g) && r > g && g > b, "{look}: {r} {g} {b}");
        let codes: Vec<f64> =
            (-5..=5).map(|stop| 255.0 * pipeline.apply_to_light([MID_GREY * exp2(f64::from(stop)); 3])[1]).collect();
        assert!(codes.windows(2).all(|w| w[1] - w[0] > 0.5), "{look}: {codes:?}");
    }
}

/// The hues of the sign (Oklab, degrees) between four stops under mid-grey and eight over, wherever it has colour to see
/// (chroma above 0.03): the widest two apart.
fn hue_span(pipeline: &Pipeline, sign: [f64; 3]) -> f64 {
    let hues: Vec<f64> = (-128..=64)
        .map(|step| sign.map(|v| v * exp2(f64::from(step) / 16.0)))
        .map(|light| pipeline.display().decode(pipeline.apply_to_light(light)).0)
        .map(|[r, g, b]| LinSrgb::new(r, g, b).into_color())
        .filter(|lch: &Oklch<f64>| lch.chroma > 0.03)
        .map(|lch| OklabHue::into_positive_degrees(lch.hue))
        .collect();
    assert!(hues.len() > 150, "{} of 193 have colour", hues.len());
    hues.iter().copied().fold(f64::MIN, f64::max) - hues.iter().copied().fold(f64::MAX, f64::min)
}

/// The sign keeps its blue as its light grows, without `compress` too: what that is for is the cube (`cube_error`).
#[test]
fn the_sign_keeps_its_hue() {
    let (show, sign) = (demo::show(), pixel(&frame_file(), TUBE));
    for name in ["night", "day"] {
        let with = show.pipeline(name, "a", "onset").unwrap();
        let file = format!("looks/{name}.toml");
        let text = std::fs::read_to_string(demo::folder().join(&file)).unwrap();
        let bare = text.replacen("[[step]]\ndo = \"compress\"\n", "", 1);
        assert_ne!(bare, text);
        let look = look::parse(&file, &bare, &demo::Folder(demo::folder())).unwrap();
        let without = Pipeline::new(with.camera(), &look, with.display()).unwrap();
        let [with, without] = [with, without].map(|pipeline| hue_span(&pipeline, sign));
        assert!(with < 9.0 && without < 9.0, "{name}: {with} with, {without} without");
    }
}
