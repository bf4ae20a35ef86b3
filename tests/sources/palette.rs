//! The palette of exposure zones against the `palette` crate: Oklch, and CIEDE2000 of what each kind of vision sees.

use palette::color_difference::Ciede2000;
use palette::convert::FromColorUnclamped;
use palette::white_point::D65;
use palette::{FromColor, Lab, LinSrgb, Oklch};
use rushlight::exposure::palette::{
    GREY_FROM_ALL, NAMED, NEIGHBOURS, Signpost, TWO_APART, from_picture, ladder, neutral, oklch, picture, srgb,
};
use rushlight::exposure::vision::Vision;
use rushlight::math::{exp, ln};

fn lab([r, g, b]: [f64; 3]) -> Lab<D65, f64> {
    Lab::from_color(LinSrgb::new(r, g, b))
}

#[test]
fn oklch_is_the_crates() {
    for l in [0.1, 0.4, 0.7, 1.0] {
        for hue in (0..360).step_by(30) {
            let ours = oklch(l, 0.1, f64::from(hue));
            let theirs = LinSrgb::from_color_unclamped(Oklch::new(l, 0.1, f64::from(hue)));
            // Its matrices are derived from other digits of the same source.
            for (a, b) in ours.into_iter().zip([theirs.red, theirs.green, theirs.blue]) {
                assert!((a - b).abs() < 2e-6, "{l} {hue}: {a} {b}");
            }
        }
    }
}

#[test]
fn every_ladder_can_be_told_apart_by_every_eye() {
    let mut made = 0;
    for under in 0..16 {
        for over in 0..16 {
            let Ok(colours) = ladder(under, over) else { continue };
            made += 1;
            assert_eq!(colours.len(), under + over + 3);
            for vision in Vision::ALL {
                let seen: Vec<_> = colours.iter().map(|c| lab(vision.see(*c))).collect();
                for (i, pair) in seen.windows(2).enumerate() {
                    let apart = pair[0].difference(pair[1]);
                    assert!(apart >= NEIGHBOURS, "{under} {over} {}: {i}, {apart}", vision.name());
                    assert!(pair[1].l > pair[0].l, "{under} {over} {}: {i} does not rise", vision.name());
                }
                // Seen alone, a zone is not taken for the one after its neighbour.
                let is_named = under <= NAMED[0] && over <= NAMED[1];
                for (i, three) in seen.windows(3).enumerate().filter(|_| is_named) {
                    let apart = three[0].difference(three[2]);
                    assert!(apart >= TWO_APART, "{under} {over} {}: {i}, {apart}", vision.name());
                }
                for (i, other) in seen.iter().enumerate().filter(|(i, _)| *i != under + 1) {
                    let apart = seen[under + 1].difference(*other);
                    assert!(apart >= GREY_FROM_ALL, "{under} {over} {}: {i}, {apart}", vision.name());
                }
            }
        }
    }
    assert!(made > 60, "{made}");
    assert!(ladder(10, 8).is_ok(), "a camera of eighteen stops has a ladder");
    let refused = ladder(30, 4).unwrap_err();
    assert!(refused.message.contains("more than can be told apart"), "{refused}");
}

/// A monitor that interpolates shows what lies between two neighbours, on a straight line of its signal: never a third zone.
#[test]
fn the_way_from_a_zone_to_the_next_shows_no_third() {
    let signal = |v: f64| exp(ln(v.max(1e-12)) / 2.4);
    let light = |v: f64| exp(ln(v.max(1e-12)) * 2.4);
    for (under, over) in [(2, 3), (3, 8), (6, 6), (9, 5), (10, 8)] {
        let colours = ladder(under, over).unwrap();
        let own: Vec<_> = colours.iter().map(|c| lab(*c)).collect();
        for i in 0..colours.len() - 1 {
            for step in 1..40 {
                let share = f64::from(step) / 40.0;
                let mixed = std::array::from_fn(|k| {
                    let (a, b) = (signal(colours[i][k]), signal(colours[i + 1][k]));
                    light(a + share * (b - a))
                });
                let here = lab(mixed);
                let away: Vec<f64> = own.iter().map(|zone| here.difference(*zone)).collect();
                let nearest = (0..own.len()).min_by(|a, b| away[*a].total_cmp(&away[*b])).unwrap();
                assert!(nearest == i || nearest == i + 1, "{under} {over}: from {i}, {share:.2}: zone {nearest}");
            }
        }
    }
}

#[test]
fn marks_stand_out_from_the_picture_and_from_each_other() {
    // From far under the floor to far over the clip.
    let greys: Vec<[f64; 3]> = (-200..=200).map(|i| picture(f64::from(i) / 10.0, -7.0, 6.0)).collect();
    let lightness = |rgb: [f64; 3]| lab(rgb).l;
    let (darkest, lightest) = (lightness(greys[0]), lightness(greys[400]));
    for mark in Signpost::ALL {
        for vision in Vision::ALL {
            let here = lab(vision.see(mark.colour()));
            for grey in &greys {
                let apart = here.difference(lab(*grey));
                assert!(apart >= NEIGHBOURS, "{mark:?} {}: {apart} from {grey:?}", vision.name());
            }
        }
        assert!(from_picture(mark.colour()) >= NEIGHBOURS);
        // In greyscale too: by lightness alone.
        let own = lightness(mark.colour());
        assert!(own < darkest || own > lightest, "{mark:?}: {own}");
        for edge in [greys[0], greys[400]] {
            let apart = lab(neutral(own)).difference(lab(edge));
            assert!(apart >= NEIGHBOURS, "{mark:?} in greyscale: {apart}");
        }
    }
    // Those that lie side by side, or both beside the picture, in one cube.
    use Signpost::{Clip, Floor, Grey, High, Low, Skin};
    for pair in [[Floor, Low], [Low, High], [High, Clip], [Grey, Skin]] {
        for vision in Vision::ALL {
            let [dark, light] = pair.map(|m| lab(vision.see(m.colour())));
            assert!(dark.difference(light) >= NEIGHBOURS, "{pair:?} {}", vision.name());
            assert!(light.l > dark.l + 5.0, "{pair:?} {}", vision.name());
        }
    }
}

/// Rows of the published matrices sum to one to their six digits: what has no colour keeps none.
#[test]
fn neutrals_stay_neutral_to_every_eye() {
    for vision in Vision::ALL {
        for level in [0.0, 0.18, 0.5, 1.0] {
            assert!(vision.see([level; 3]).iter().all(|v| (v - level).abs() < 2e-6), "{}", vision.name());
        }
    }
}

#[test]
fn the_picture_has_mid_grey_where_an_18_percent_grey_lies() {
    let grey = lab(picture(0.0, -7.0, 6.0));
    // L* of Y = 0.18 by CIE 15: 49.496.
    assert!((grey.l - 49.496).abs() < 0.01 && (picture(0.0, -7.0, 6.0)[0] - 0.18).abs() < 1e-4);
    let levels: Vec<f64> = (-90..=70).map(|i| picture(f64::from(i) / 10.0, -7.0, 6.0)[0]).collect();
    assert!(levels.windows(2).all(|w| w[1] >= w[0]) && levels[0] >= 0.0 && levels[160] <= 1.0);
    assert_eq!(srgb([0.0, 1.0, 0.2158605]), "#00ff80");
}
