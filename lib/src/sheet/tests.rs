use super::*;
use crate::show::Show;
use crate::test_show;

fn show(steps: &str) -> Show {
    test_show::show(steps, "[displays.hdr]\nstandard = 'bt2100-pq'\n")
}

fn sheet(steps: &str, display: &str) -> DisplaySheet {
    let show = show(steps);
    let (look, camera) = (&show.looks()["night"].item, &show.cameras()["a"].item);
    DisplaySheet::of(display, &show.displays()[display], look, camera).unwrap()
}

#[test]
fn a_plain_look_has_no_cast_and_the_saturation_of_the_plain_rendering() {
    for display in ["onset", "hdr"] {
        let sheet = sheet("[[step]]\ndo = 'tone'\n", display);
        for level in &sheet.levels {
            assert!(level.cast_chroma() < 1e-6 && level.cast == "neutral", "{display} {level:?}");
            assert_eq!(level.chroma, level.plain_chroma);
        }
        let nits: Vec<f64> = sheet.levels.iter().map(|l| l.nits).collect();
        assert!(nits.windows(2).all(|w| w[0] <= w[1]), "{nits:?}");
        // 12 % of white, the tone curve's own mid-grey.
        assert!((sheet.mid_grey().nits / sheet.white - 0.12).abs() < 1e-6);
    }
}

#[test]
fn a_tint_shows_in_its_zone_and_saturation_in_its_ratio() {
    let look = "[[step]]\ndo = 'tint'\nshadows = [-0.2, 0, 0.2]\nhighlights = [0.1, 0, -0.1]\n[[step]]\ndo = 'tone'\n";
    let tinted = sheet(look, "onset");
    let cast = |stops| tinted.at(stops).unwrap().cast;
    assert_eq!((cast(-3.0), cast(0.0)), ("blue", "neutral"));
    assert!(["orange", "yellow"].contains(&cast(2.0)), "{}", cast(2.0));
    let grey = sheet("[[step]]\ndo = 'saturation'\namount = 0\n[[step]]\ndo = 'tone'\n", "hdr");
    assert!(grey.mid_grey().saturation.unwrap() < 1e-3);
    // Where the plain rendering has gone to white or to black, a ratio to it would be a large number that means nothing.
    for level in &grey.levels {
        assert_eq!(level.saturation.is_some(), level.plain_chroma >= 10.0, "{level:?}");
    }
    let less = sheet("[[step]]\ndo = 'saturation'\namount = 0.5\n[[step]]\ndo = 'tone'\n", "onset");
    let ratio = less.mid_grey().saturation.unwrap();
    assert!((0.4..0.7).contains(&ratio), "{ratio}");
}

#[test]
fn casts_are_named_by_their_hue() {
    // CIELAB of sRGB's primaries under D65, computed from IEC 61966-2-1.
    for (lab, name) in [
        ([53.2, 80.1, 67.2], "red"),
        ([87.7, -86.2, 83.2], "green"),
        ([97.1, -21.6, 94.5], "yellow"),
        ([91.1, -48.1, -14.1], "blue-green"),
        ([60.3, 98.2, -60.8], "magenta"),
        ([32.3, 79.2, -107.9], "blue"),
        ([50.0, 0.2, -0.5], "neutral"),
        ([50.0, 0.0, -5.0], "blue"),
        ([50.0, 3.0, 5.0], "orange"),
    ] {
        assert_eq!(cast(lab), name, "{lab:?}");
    }
}

#[test]
fn a_camera_is_told_in_codes_of_its_own_range() {
    let show = show("[[step]]\ndo = 'tone'\n");
    let sheet = CameraSheet::of("a", &show.cameras()["a"], show.measured("a")).unwrap();
    let grey = sheet.levels.iter().find(|l| l.stops == 0.0).unwrap();
    // Mid-grey of S-Log3 is code 420 (Sony, Technical Summary for S-Gamut3.Cine/S-Log3).
    assert!((grey.code_10 - 420.0).abs() < 1e-6, "{grey:?}");
    assert!(sheet.ratings.len() == 1 && !sheet.ratings[0].measured);
}
