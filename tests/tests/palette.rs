//! The palette of exposure zones against the `palette` crate: Oklch, and CIEDE2000 of what each kind of vision sees.

use palette::color_difference::Ciede2000;
use palette::convert::FromColorUnclamped;
use palette::white_point::D65;
use palette::{FromColor, Lab, LinSrgb, Oklch};
use rushlight::exposure::palette::{
    GREY_FROM_ALL, NEIGHBOURS, Signpost, from_neutrals, ladder, neutral, oklch, picture, srgb,
};
use rushlight::exposure::vision::Vision;

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

#[test]
fn marks_stand_out_from_every_grey_and_from_each_other() {
    for mark in Signpost::ALL {
        for vision in Vision::ALL {
            let here = lab(vision.see(mark.colour()));
            for level in 0..=200 {
                let apart = here.difference(lab(neutral(f64::from(level) / 2.0)));
                assert!(apart >= NEIGHBOURS, "{mark:?} {}: {apart} from grey {level}", vision.name());
            }
        }
        assert!(from_neutrals(mark.colour()) >= NEIGHBOURS);
    }
    for pair in Signpost::ALL.windows(2) {
        for vision in Vision::ALL {
            let [dark, light] = [pair[0], pair[1]].map(|m| lab(vision.see(m.colour())));
            assert!(dark.difference(light) >= NEIGHBOURS, "{pair:?} {}", vision.name());
            assert!(light.l > dark.l, "{pair:?} {}", vision.name());
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
