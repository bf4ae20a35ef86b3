//! Brackets of simulated sensors of known truth: what is measured is what was put in.

use rushlight::camera::Range;
use rushlight::math::{exp2, log2};
use rushlight::measure::compare::{Exposure, Zone, compare};
use rushlight::measure::curve;
use rushlight::measure::modes::{self, Finding};
use rushlight::measure::patch::Patch;
use rushlight::measure::{MeasureError, Measurement, Settings, Shot, Used, measure};
use rushlight::transfer::{MID_GREY, encoding};
use rushlight_tests::sensor::Sensor;

fn stops(from: i32, to: i32) -> impl Iterator<Item = f64> {
    (from..=to).map(f64::from)
}

fn claimed(sensor: &Sensor) -> Settings {
    Settings { claim: Some(sensor.claim.clone()), ..Settings::default() }
}

/// What the task asks of every sensor: clip to 0.02 stop, floor to 0.1 stop, mid-grey to 1 code of 10 bits.
fn holds(sensor: &Sensor, measured: &Measurement, said: &str) {
    for c in 0..3 {
        let channel = &measured.channels[c];
        assert!(channel.clip.seen, "{said}");
        let clip = log2(sensor.full[c] / MID_GREY);
        assert!((channel.clip.stops - clip).abs() < 0.02, "{said} {c}: clip {} for {clip}", channel.clip.stops);
        let signal = sensor.claim.encode(sensor.full[c]);
        assert!(
            (channel.clip.signal - signal).abs() < 1.0 / 1023.0,
            "{said} {c}: {} for {signal}",
            channel.clip.signal
        );
        let floor = channel.floor.unwrap().stops;
        let truth = sensor.floor(c, 1.0);
        assert!((floor - truth).abs() < 0.1, "{said} {c}: floor {floor} for {truth}");
        let grey = sensor.claim.encode(MID_GREY);
        assert!((channel.grey - grey).abs() < 1.0 / 1023.0, "{said} {c}: grey {} for {grey}", channel.grey);
    }
}

#[test]
fn the_truth_of_sensors_comes_back() {
    let uneven = Sensor {
        electrons: [2000.0, 4200.0, 2600.0],
        full: [MID_GREY * exp2(5.7), MID_GREY * exp2(6.3), MID_GREY * exp2(6.1)],
        ..Sensor::new("logc3")
    };
    let coarse = Sensor { bits: 10, ..Sensor::new("slog3") };
    let legal = {
        let mut sensor = Sensor::new("vlog");
        sensor.claim.range = Range::Legal;
        sensor
    };
    let clean = Sensor { electrons: [30_000.0; 3], read: 9.0, pattern: 0.004, bits: 16, ..Sensor::new("log3g10") };
    for (said, sensor) in
        [("plain", Sensor::new("slog3")), ("uneven", uneven), ("10 bits", coarse), ("legal", legal), ("clean", clean)]
    {
        let measured = measure(&sensor.bracket(stops(-10, 8), 96, 1), &claimed(&sensor)).unwrap();
        assert_eq!(measured.exposures.len(), 19);
        holds(&sensor, &measured, said);
        let clip = measured.clip().unwrap();
        let first = sensor.full.iter().copied().fold(f64::INFINITY, f64::min);
        assert!((clip.stops - log2(first / MID_GREY)).abs() < 0.02, "{said}: the first channel to clip");
    }
}

#[test]
fn noise_comes_back_within_five_percent() {
    for bits in [10, 12, 16] {
        let sensor = Sensor { bits, ..Sensor::new("slog3") };
        let measured = measure(&sensor.bracket(stops(-10, 8), 200, 1), &claimed(&sensor)).unwrap();
        for c in 0..3 {
            let (found, truth) = (measured.channels[c].noise.unwrap(), sensor.truth(c));
            let pairs = [(found.dark, truth.dark), (found.gain, truth.gain), (found.fixed, truth.fixed)];
            for (name, (found, truth)) in ["dark", "gain", "fixed"].into_iter().zip(pairs) {
                assert!((found / truth - 1.0).abs() < 0.05, "{bits} bits, channel {c}, {name}: {found} for {truth}");
            }
        }
    }
}

/// EMVA 1288: the difference of two frames is free of the fixed pattern.
#[test]
fn two_frames_of_each_exposure_leave_the_fixed_pattern_out() {
    let sensor = Sensor { pattern: 0.05, ..Sensor::new("slog3") };
    let measured = measure(&sensor.bracket(stops(-9, 8), 120, 3), &claimed(&sensor)).unwrap();
    assert!(measured.temporal);
    for c in 0..3 {
        let (found, truth) = (measured.channels[c].noise.unwrap(), sensor.truth(c));
        // What is left of the pattern: shot noise goes through the pixel's own gain, 1 + 0.05^2 in the mean.
        assert!(found.fixed < 0.03 * truth.fixed, "{}", found.fixed);
        assert!((found.gain / truth.gain - 1.0).abs() < 0.05, "{} for {}", found.gain, truth.gain);
    }
}

#[test]
fn without_a_claim_the_published_curve_is_found() {
    for name in ["slog3", "vlog", "canon-log2"] {
        let sensor = Sensor::new(name);
        let measured = measure(&sensor.bracket(stops(-8, 8), 64, 1), &Settings::default()).unwrap();
        assert!(matches!(&measured.used, Used::Published(claim) if claim.name == name), "{:?}", measured.matches);
        holds(&sensor, &measured, name);
    }
}

#[test]
fn a_curve_that_nobody_published_is_fitted() {
    let mut sensor = Sensor::new("slog3");
    let document = "schema = 1\ntitle = 't'\nsource = 's'\n[log]\nlog_base = 2\nlog_slope = 0.07\nlight_gain = 1.0\n\
        light_offset = 0.002\nsignal_offset = 0.68\nbreak_light = 0.006\n";
    sensor.claim.curve = rushlight::curve_file::parse("c.toml", document).unwrap().transfer();
    sensor.full = [MID_GREY * 32.0; 3];
    let measured = measure(&sensor.bracket(stops(-8, 7), 96, 1), &Settings::default()).unwrap();
    let Used::Fitted(claim, fitted) = &measured.used else { panic!("{:?}", measured.matches) };
    assert!(fitted.rms < 0.05, "{}", fitted.rms);
    for stop in -6..=5 {
        let light = MID_GREY * exp2(f64::from(stop));
        let apart = log2(claim.decode(sensor.claim.encode(light)) / light);
        assert!(apart.abs() < 0.03, "{stop}: {apart}");
    }
    holds(&sensor, &measured, "fitted");
}

#[test]
fn an_offset_of_the_meter_is_told_apart_from_the_curve() {
    let sensor = Sensor::new("slog3");
    let mut shots = sensor.bracket(stops(-9, 8).map(|s| s + 0.4), 96, 1);
    for shot in &mut shots {
        shot.stops = (shot.stops - 0.4).round();
    }
    let measured = measure(&shots, &claimed(&sensor)).unwrap();
    for channel in &measured.channels {
        assert!((channel.offset - 0.4).abs() < 0.02, "{}", channel.offset);
        assert!(channel.worst.abs() < 0.1, "{}", channel.worst);
        let grey = sensor.claim.encode(MID_GREY * exp2(0.4));
        assert!((channel.grey - grey).abs() < 1.0 / 1023.0);
        assert!((channel.clip.stops - 5.6).abs() < 0.02, "{}", channel.clip.stops);
    }
    assert!(measured.remarks.iter().any(|r| r.contains("0.40 stops over")), "{:?}", measured.remarks);
}

/// A show counts its ratings from the curve's mid-grey, wherever the meter reads its own.
#[test]
fn a_rating_has_the_floor_from_the_curves_mid_grey() {
    for offset in [-0.7, 0.0, 0.7] {
        let sensor = Sensor::new("slog3");
        let mut shots = sensor.bracket(stops(-9, 8).map(|s| s + offset), 96, 1);
        for shot in &mut shots {
            shot.stops = (shot.stops - offset).round();
        }
        let measured = measure(&shots, &claimed(&sensor)).unwrap();
        let truth = sensor.floor(0, 1.0);
        let rated = measured.rated_floor().unwrap();
        assert!((rated - truth).abs() < 0.1, "{offset}: {rated} for {truth}");
        let metered = measured.floor().unwrap().stops;
        assert!((metered - (truth - offset)).abs() < 0.1, "{offset}: {metered}");
    }
}

/// A published curve is named only where the noise lets one: the true one is always among those that fit alike.
#[test]
fn no_curve_is_named_on_a_difference_within_the_noise() {
    let mut named = 0;
    for (name, electrons, side) in [
        ("slog3", 3500.0, 64),
        ("slog3", 2000.0, 20),
        ("slog3", 1200.0, 32),
        ("logc3", 2000.0, 24),
        ("flog2", 3500.0, 16),
    ] {
        for offset in [-1.0, -0.5, 0.0, 0.5] {
            for draw in 0..4 {
                let sensor = Sensor { electrons: [electrons; 3], bits: 10, ..Sensor::new(name) };
                let mut shots = sensor.drawn(stops(-8, 7).map(|s| s + offset), side, 1, 100 * draw);
                for shot in &mut shots {
                    shot.stops = (shot.stops - offset).round();
                }
                let measured = measure(&shots, &Settings::default()).unwrap();
                let is = |m: &&rushlight::measure::identify::Match| m.claim.name.split(' ').next() == Some(name);
                let said = format!("{name}, {electrons} e, {side} pixels, {offset:+}: {:?}", measured.matches);
                let truth = measured.matches.iter().find(is).unwrap_or_else(|| panic!("{said}"));
                assert!(truth.alike && (truth.offset - offset).abs() < 0.05, "{said}");
                match &measured.used {
                    Used::Published(claim) => {
                        assert_eq!(claim.name.split(' ').next(), Some(name), "{said}");
                        named += 1;
                    }
                    Used::Alike(_) => assert!(measured.matches.iter().filter(|m| m.alike).count() > 1, "{said}"),
                    other => panic!("{other:?}: {said}"),
                }
            }
        }
    }
    assert!(named > 8, "a bracket that is quiet enough names its curve: {named}");
}

/// What a moved clip is in stops of light.
#[test]
fn a_moved_clip_is_said_in_stops() {
    let sensor = Sensor::new("slog3");
    let early = Sensor { full: [MID_GREY * exp2(5.25); 3], ..Sensor::new("slog3") };
    let [a, b] = [&sensor, &early].map(|s| measure(&s.bracket(stops(-6, 8), 64, 1), &claimed(&sensor)).unwrap());
    let pairs = modes::brackets(&a, &b).unwrap();
    let found = pairs[1].findings();
    assert!(matches!(found[..], [Finding::ClipMoved { stops: Some(by), .. }] if (by + 0.75).abs() < 0.02), "{found:?}");
    let said = modes::words(&found[0], None);
    assert!(said.contains("clips 0.75 stops earlier: 0.75 stops of highlights are lost"), "{said}");
}

/// Also where the second mode has another range or curve, and is measured by the first's as the command does.
#[test]
fn a_moved_clip_is_found_through_another_range_and_curve() {
    let sensor = |curve: &str, range: Range, stops: f64| {
        let mut sensor = Sensor { full: [MID_GREY * exp2(stops); 3], ..Sensor::new(curve) };
        sensor.claim.range = range;
        sensor
    };
    let of = |first: &Sensor, second: &Sensor| {
        let [a, b] = [(first, 0), (second, 500)]
            .map(|(s, draw)| measure(&s.drawn(stops(-8, 8), 64, 1, draw), &claimed(first)).unwrap());
        let pairs = modes::brackets(&a, &b).unwrap();
        pairs.map(|p| match p.findings().last() {
            Some(Finding::ClipMoved { stops, .. }) => stops.unwrap(),
            other => panic!("{other:?}"),
        })
    };
    let full = sensor("slog3", Range::Full, 6.0);
    let legal = sensor("slog3", Range::Legal, 6.0);
    for (first, second, truth) in [
        (&full, sensor("slog3", Range::Legal, 5.5), -0.5),
        (&full, sensor("slog3", Range::Legal, 7.0), 1.0),
        (&legal, sensor("slog3", Range::Full, 5.5), -0.5),
        (&full, sensor("logc3", Range::Full, 5.0), -1.0),
        (&full, sensor("logc3", Range::Full, 7.0), 1.0),
        (&full, sensor("vlog", Range::Legal, 5.3), -0.7),
    ] {
        for found in of(first, &second) {
            assert!(
                (found - truth).abs() < 0.03,
                "{} {:?}: {found} for {truth}",
                second.claim.name,
                second.claim.range
            );
        }
    }
}

/// The mean of a log of noisy light lies under the log of the mean, by several codes in the dark.
#[test]
fn more_noise_is_no_other_curve() {
    let quiet = Sensor { bits: 10, ..Sensor::new("slog3") };
    let noisy = Sensor { electrons: [900.0; 3], ..quiet.clone() };
    for draw in [500, 700, 900] {
        let [a, b] = [(&quiet, 0), (&noisy, draw)]
            .map(|(s, draw)| measure(&s.drawn(stops(-9, 8), 96, 1, draw), &claimed(s)).unwrap());
        let apart = a.exposures.iter().zip(&b.exposures).map(|(a, b)| a.channels[1].signal - b.channels[1].signal);
        assert!(apart.fold(0.0, f64::max) > 2.0 / 1023.0, "the means of the signals do differ");
        let found = modes::brackets(&a, &b).unwrap().map(|p| p.findings());
        assert!(found.iter().all(|f| f == &[Finding::Same]), "{found:?}");
    }
}

/// One frame whose exposure is a stop off, in light of less than 8 times its noise.
#[test]
fn a_wrong_step_in_the_dark_is_named() {
    let sensor = Sensor::new("slog3");
    let wrong = |at: f64, by: f64| {
        let mut shots = sensor.bracket(stops(-9, 8), 96, 1);
        let shot = shots.iter_mut().find(|s| s.stops == at).unwrap();
        shot.patches = sensor.drawn([at + by], 96, 1, 300).remove(0).patches;
        measure(&shots, &claimed(&sensor)).unwrap().remarks.join("; ")
    };
    for at in [-5.0, -4.0] {
        let said = wrong(at, -1.0);
        assert!(said.contains(&format!("card_{at:+}.tif deviates by -1.0")), "{at}: {said}");
    }
    assert!(wrong(-4.0, 0.0).is_empty(), "{}", wrong(-4.0, 0.0));
}

#[test]
fn a_fit_before_the_range_is_the_curve_itself() {
    let mut sensor = Sensor::new("slog3");
    sensor.claim.range = Range::Legal;
    let measured = measure(&sensor.bracket(stops(-9, 8), 96, 1), &claimed(&sensor)).unwrap();
    let fitted = curve::fit(&measured.points_in(Range::Legal)).unwrap().claim();
    for stop in -4..=5 {
        let light = MID_GREY * exp2(f64::from(stop));
        let (got, want) = (fitted.encode(light), sensor.claim.curve.encode(light));
        assert!((got - want).abs() < 3.0 / 1023.0, "{stop}: {got} for {want}");
    }
}

#[test]
fn a_lifted_black_does_not_deepen_the_floor() {
    let sensor = Sensor { black: 0.004, ..Sensor::new("slog3") };
    let measured = measure(&sensor.bracket(stops(-10, 8), 96, 1), &claimed(&sensor)).unwrap();
    for c in 0..3 {
        let channel = &measured.channels[c];
        assert!((channel.black / 0.004 - 1.0).abs() < 0.1, "{}", channel.black);
        let floor = channel.floor.unwrap().stops;
        assert!((floor - sensor.floor(c, 1.0)).abs() < 0.15, "{floor} for {}", sensor.floor(c, 1.0));
    }
}

#[test]
fn a_bracket_that_never_clips_says_so() {
    let sensor = Sensor::new("slog3");
    let measured = measure(&sensor.bracket(stops(-8, 4), 64, 1), &claimed(&sensor)).unwrap();
    assert!(measured.clip().is_none());
    assert!((measured.channels[0].clip.stops - 4.0).abs() < 0.05);
    assert_eq!(measured.remarks.iter().filter(|r| r.contains("does not clip")).count(), 3);
}

#[test]
fn one_shot_alone_at_the_clip_is_enough() {
    let sensor = Sensor::new("slog3");
    let shots = sensor.bracket([-8.0, -6.0, -4.0, -2.0, 0.0, 2.0, 4.0, 5.0, 6.5], 96, 1);
    let measured = measure(&shots, &claimed(&sensor)).unwrap();
    holds(&sensor, &measured, "one at the top");
}

fn refusal(shots: &[Shot]) -> MeasureError {
    let error = measure(shots, &claimed(&Sensor::new("slog3"))).unwrap_err();
    println!("{error}");
    error
}

#[test]
fn brackets_that_cannot_be_measured_are_refused_in_words() {
    let sensor = Sensor::new("slog3");
    let good = || sensor.bracket(stops(-6, 6), 32, 1);
    let contains = |error: MeasureError, part: &str| assert!(error.to_string().contains(part), "{part}: {error}");

    contains(refusal(&good()[..1]), "one exposure: a bracket needs at least 3");
    let mut reversed = good();
    let signs: Vec<f64> = reversed.iter().map(|s| -s.stops).collect();
    reversed.iter_mut().zip(signs).for_each(|(s, stops)| s.stops = stops);
    contains(refusal(&reversed), "in the other order");
    let mut swapped = good();
    let (a, b) = (swapped[4].stops, swapped[5].stops);
    (swapped[4].stops, swapped[5].stops) = (b, a);
    let error = refusal(&swapped);
    assert!(matches!(error, MeasureError::Order(_)));
    contains(error, "card_-1.tif at -2 stops");
    let mut twice = good();
    twice[3].stops = twice[2].stops;
    contains(refusal(&twice), "both given -4 stops");
    let mut sizes = good();
    sizes[2].patches = vec![sensor.card(-4.0, 16, 32, 1)];
    assert!(matches!(refusal(&sizes), MeasureError::Mismatch(_)));
    contains(refusal(&sensor.bracket(stops(-24, -18), 32, 1)), "every exposure is black");
    contains(refusal(&sensor.bracket(stops(7, 12), 32, 1)), "every exposure is clipped");
    contains(refusal(&sensor.bracket(stops(5, 12), 32, 1)), "shoot the bracket darker");

    let mut moved = good();
    let dark = |x: usize| if x < 14 { 0.3 } else { 1.0 };
    moved[7].patches = vec![sensor.picture(32, 32, 5, |x, _| [MID_GREY * exp2(dark(x)); 3])];
    contains(refusal(&moved), "the card or the camera moved");
    let mut broken = good();
    broken[3].patches[0].samples_mut()[5] = f32::NAN;
    contains(refusal(&broken), "not numbers");
}

#[test]
fn a_wrong_stop_is_remarked() {
    let sensor = Sensor::new("slog3");
    let mut shots = sensor.bracket(stops(-6, 8), 48, 1);
    shots[5].stops += 0.6;
    let measured = measure(&shots, &claimed(&sensor)).unwrap();
    assert!(measured.remarks.iter().any(|r| r.contains("card_-1.tif deviates by -0.6")), "{:?}", measured.remarks);
}

#[test]
fn patches_outside_the_frame_or_too_small_are_refused() {
    assert!(Patch::new([230, 0, 20, 20], 240, 160).is_err());
    assert!(Patch::new([0, 0, 4, 20], 240, 160).is_err());
}

#[test]
fn pulled_exposure_is_set_against_another_at_the_same_brightness() {
    // Two stops fewer electrons for the same light, and a clip two stops further down: gain, nothing else.
    let base = Sensor { electrons: [8000.0; 3], read: 4.0, full: [MID_GREY * exp2(6.0); 3], ..Sensor::new("slog3") };
    let high = Sensor { electrons: [2000.0; 3], full: [MID_GREY * exp2(6.0); 3], ..base.clone() };
    let [base_m, high_m] = [&base, &high].map(|s| measure(&s.bracket(stops(-10, 8), 96, 1), &claimed(s)).unwrap());
    let zones = [-6.0, -4.0, -2.0, 0.0, 2.0, 5.0];
    let ways = [
        Exposure { ei: 400.0, measured: &base_m, over: 0.0 },
        Exposure { ei: 1600.0, measured: &high_m, over: 0.0 },
        Exposure { ei: 1600.0, measured: &high_m, over: 2.0 },
    ];
    let rows = compare(&ways, &zones);
    assert!((rows[2].clip - 4.0).abs() < 0.03 && rows[2].zones[5] == Zone::Clipped);
    for (i, zone) in zones.iter().enumerate().take(5) {
        let noise = |row: usize| match rows[row].zones[i] {
            Zone::Noise(stops) => stops,
            other => panic!("{zone}: {other:?}"),
        };
        // Two stops over, the high one catches what the low one does: the same electrons, the same noise.
        assert!((noise(2) / noise(0) - 1.0).abs() < 0.06, "{zone}: {} {}", noise(2), noise(0));
        assert!(noise(1) > noise(0) * 1.1);
        let truth = base.truth(0).stops(MID_GREY * exp2(*zone));
        assert!((noise(0) / truth - 1.0).abs() < 0.05);
    }
    assert!((Zone::Noise(0.1).percent().unwrap() - 6.93).abs() < 0.01);
}

#[test]
fn modes_are_told_apart_in_brackets() {
    let sensor = Sensor::new("slog3");
    // Noise drawn anew, as in any second bracket.
    let measured = |s: &Sensor, draw: u64| measure(&s.drawn(stops(-8, 8), 64, 1, draw), &claimed(s)).unwrap();
    let first = measured(&sensor, 0);
    let findings = |s: &Sensor| modes::brackets(&first, &measured(s, 500)).unwrap().map(|p| p.findings());
    assert_eq!(findings(&sensor), [vec![Finding::Same], vec![Finding::Same], vec![Finding::Same]]);
    let mut legal = sensor.clone();
    legal.claim.range = Range::Legal;
    assert_eq!(findings(&legal)[1], [Finding::Squeezed]);
    let low = Sensor { full: [MID_GREY * exp2(5.0); 3], ..sensor.clone() };
    let found = findings(&low)[0].clone();
    assert!(
        matches!(found[..], [Finding::ClipMoved { from, to, stops: Some(_) }]
        if (from - sensor.claim.encode(sensor.full[0])).abs() < 1e-3 && (to - sensor.claim.encode(low.full[0])).abs() < 1e-3),
        "{found:?}"
    );
    let lifted = Sensor { black: 0.004, ..sensor.clone() };
    let found = findings(&lifted)[1].clone();
    assert!(matches!(found[..], [Finding::BlackMoved(by)] if by > 0.015 && by < 0.03), "{found:?}");
    let mut other = sensor.clone();
    other.claim.curve = encoding("vlog").unwrap().build(None).unwrap();
    let found = findings(&other)[2].clone();
    assert!(matches!(found[0], Finding::Curve { .. }), "{found:?}");
    println!("{}", modes::words(&found[0], Some(2)));
}

#[test]
fn modes_are_told_apart_in_two_frames() {
    let sensor = Sensor::new("slog3");
    let scene = |x: usize, y: usize| [MID_GREY * exp2((x as f64 + (y % 7) as f64) / 14.0 - 8.0); 3];
    // Noise drawn anew, as in any second frame.
    let frame = |s: &Sensor, seed: u64| s.picture(220, 160, seed, scene);
    let first = frame(&sensor, 9);
    let mut legal = sensor.clone();
    legal.claim.range = Range::Legal;
    let low = Sensor { full: [MID_GREY * exp2(5.0); 3], ..sensor.clone() };
    let words = |s: &Sensor| {
        let pairs = modes::frames(&first, &frame(s, 10)).unwrap();
        pairs[1].findings().iter().map(|f| modes::words(f, None)).collect::<Vec<_>>().join("; ")
    };
    assert_eq!(words(&sensor), "no difference beyond noise and rounding");
    assert_eq!(words(&legal), "the second is the first squeezed from full into legal range");
    assert!(words(&low).starts_with("the second clips lower: the clip moved from signal 0."), "{}", words(&low));
    assert!(modes::frames(&first, &sensor.card(0.0, 20, 20, 1)).is_err());
}

/// Of a flat card every difference between pixels is noise: sorted by its own frame's, it would look like a curve.
#[test]
fn noise_is_no_mode() {
    let sensor = Sensor { bits: 10, ..Sensor::new("slog3") };
    let mut legal = sensor.clone();
    legal.claim.range = Range::Legal;
    let blocks = |x: usize, y: usize| [MID_GREY * exp2(((x / 10 * 7 + y / 10 * 3) % 11) as f64 - 6.0); 3];
    let flat = |_: usize, _: usize| [MID_GREY; 3];
    let scenes: [&dyn Fn(usize, usize) -> [f64; 3]; 2] = [&blocks, &flat];
    for (scene, size) in scenes.into_iter().zip([[240, 90], [80, 60]]) {
        for seed in 1..=3 {
            let first = sensor.picture(size[0], size[1], 20 + seed, scene);
            let words = |s: &Sensor| {
                let pairs = modes::frames(&first, &s.picture(size[0], size[1], 40 + seed, scene)).unwrap();
                pairs.map(|p| p.findings().iter().map(|f| modes::words(f, None)).collect::<Vec<_>>().join("; "))
            };
            for said in words(&sensor) {
                assert_eq!(said, "no difference beyond noise and rounding");
            }
            for said in words(&legal) {
                assert_eq!(said, "the second is the first squeezed from full into legal range");
            }
        }
    }
}

/// What stands in the patch raises the noise across it, and must not hide behind it.
#[test]
fn a_thing_in_the_patch_is_told_from_noise() {
    let sensor = Sensor::new("slog3");
    let corner = |x: usize, y: usize| if x >= 32 && y < 16 { 0.02 } else { 1.0 };
    let half = |x: usize, _: usize| if x >= 26 { 0.3 } else { 1.0 };
    let things: [&dyn Fn(usize, usize) -> f64; 2] = [&corner, &half];
    for thing in things {
        for (i, stop) in [(6, 0.0), (8, 2.0)] {
            let mut shots = sensor.bracket(stops(-6, 8), 48, 1);
            shots[i].patches = vec![sensor.picture(48, 48, 5, |x, y| [MID_GREY * exp2(stop) * thing(x, y); 3])];
            let error = refusal(&shots).to_string();
            assert!(error.contains(&format!("card_{stop:+}.tif: the patch is not even")), "{error}");
        }
    }
    // Noise alone is none, however much of it there is.
    let noisy = Sensor { electrons: [300.0; 3], ..sensor };
    measure(&noisy.bracket(stops(-6, 8), 16, 1), &claimed(&noisy)).unwrap();
}
