//! The demo show: that it reads, that every job compiles, and that its cameras are what it says they are.

use rushlight::camera::Camera;
use rushlight::math;
use rushlight::show::Show;
use rushlight::transfer::MID_GREY;
use rushlight_tests::demo;

/// Stops from mid-grey of a neutral signal.
fn stops(camera: &Camera, signal: f64) -> f64 {
    math::log2(camera.curve().decode(camera.range().decode(signal)) / MID_GREY)
}

fn camera<'s>(show: &'s Show, name: &str) -> &'s Camera {
    &show.cameras()[name].item
}

#[test]
fn every_job_compiles_and_looks_begin_with_compress() {
    let show = demo::show();
    assert_eq!(show.title(), "Saltmarsh");
    // Two looks, two cameras and two displays at 33 points; two looks and two cameras on set at 17.
    assert_eq!(show.jobs().len(), 8 + 4);
    for job in show.jobs() {
        let pipeline = job.pipeline().unwrap();
        for signal in [[0.0; 3], [0.5; 3], [1.0; 3], [0.1, 0.2, 0.95], [1.0, 0.0, 0.0]] {
            let out = pipeline.apply(signal);
            assert!(out.iter().all(|v| (0.0..=1.0).contains(v)), "{job:?} gives {out:?} for {signal:?}");
        }
        assert_eq!(pipeline.stages([0.5; 3])[2].name, "compress");
    }
    let files: Vec<_> = show.sources().iter().map(|s| s.file.as_str()).collect();
    assert_eq!(
        files,
        ["cdl/day2.ale", "cdl/night1.ccc", "curves/harbour.toml", "looks/day.toml", "looks/night.toml", "show.toml",]
    );
}

#[test]
fn mid_grey_of_the_invented_camera_sits_near_half() {
    let show = demo::show();
    let b = camera(&show, "b");
    let grey = b.encode([MID_GREY; 3]);
    assert!(grey.iter().all(|v| (1023.0 * v).round() == 512.0), "{grey:?}");
    // A stop is a factor of two (common practice, no source): a stop over grey lies 0.07 of signal higher, less what
    // the offset inside the logarithm takes away.
    let over = b.encode([2.0 * MID_GREY; 3]);
    assert!((stops(b, over[0]) - 1.0).abs() < 1e-12);
    assert!((over[0] - grey[0] - 0.07).abs() < 0.001, "{over:?}");
}

/// Common practice, no source: a camera whose log puts mid-grey near 50 % reads a stop under when skin that belongs a
/// stop over grey is set to 50 %.
#[test]
fn a_face_set_to_half_is_a_stop_under() {
    let show = demo::show();
    let belongs = 1.0;
    let under = |name: &str| stops(camera(&show, name), 0.5) - belongs;
    assert!((under("b") + 1.0).abs() < 0.001, "{}", under("b"));
    // The other camera has mid-grey at code 420 (its maker's table): 50 % there is 1.2 stops over grey, so the same
    // face is a fifth of a stop over.
    assert!((under("a") - 0.2).abs() < 0.03, "{}", under("a"));
}

#[test]
fn ratings_move_a_stop_from_below_grey_to_above_for_each_doubling() {
    let show = demo::show();
    let b = camera(&show, "b");
    // At EI 100: three stops over grey, seven under.
    for (doublings, ei) in [100.0, 200.0, 400.0, 800.0].into_iter().enumerate() {
        let rating = b.rating(ei).unwrap();
        let over = stops(b, rating.clip.unwrap());
        // The clip is written with four decimals: half of the last is 0.0007 stops.
        assert!((over - (3.0 + doublings as f64)).abs() < 0.001, "EI {ei} clips {over} stops over");
        assert_eq!(rating.floor_stops, Some(-7.0 + doublings as f64));
    }
    let a = camera(&show, "a");
    for (ei, over, floor) in
        [(400.0, 5.0, -8.5), (800.0, 6.0, -7.5), (1600.0, 7.0, -6.5), (3200.0, 6.0, -6.5), (6400.0, 7.0, -5.5)]
    {
        let rating = a.rating(ei).unwrap();
        // Three decimals of signal: half of the last is 0.0065 stops.
        let clip = stops(a, rating.clip.unwrap());
        assert!((clip - over).abs() < 0.0066, "EI {ei} clips {clip} stops over");
        assert_eq!(rating.floor_stops, Some(floor));
    }
}

#[test]
fn the_cameras_agree_on_a_colour() {
    let show = demo::show();
    // The same light through either camera gives the same picture: a look is one for all cameras.
    for light in [[0.18, 0.18, 0.18], [0.4, 0.2, 0.1], [0.02, 0.05, 0.3]] {
        let [a, b] = ["a", "b"].map(|name| {
            let pipeline = show.pipeline("night", name, "onset").unwrap();
            pipeline.apply(pipeline.camera().encode(light))
        });
        assert!((0..3).all(|i| (a[i] - b[i]).abs() < 1e-12), "{a:?} {b:?}");
    }
}
