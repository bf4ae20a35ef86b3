//! The zones of exposure cubes, and how true their edges are.

use super::*;
use crate::camera::{Camera, Range, Rating};
use crate::cube::Interpolation;
use crate::display::{Display, standard};
use crate::gamut::named_gamut;
use crate::transfer::encoding;

fn camera(curve: &str, gamut: &str) -> Camera {
    let curve = encoding(curve).unwrap().build(None).unwrap();
    Camera::new(curve, &named_gamut(gamut).unwrap().gamut, None, Range::Full, vec![]).unwrap()
}

fn rating() -> Rating {
    Rating { ei: 800.0, clip: Some(0.866), floor_stops: Some(-7.5) }
}

fn make(camera: &Camera, options: &Options) -> Result<ExposureCube, crate::invalid::Refusals> {
    ExposureCube::new(camera, Some(&rating()), false, &Display::of(standard("bt709").unwrap()), options)
}

fn options(kind: Kind, points: usize, soft: bool) -> Options {
    Options { zones: ZoneSettings::of(kind), basis: Basis::Luminance, points, soft }
}

#[test]
fn stops_closer_together_than_the_nodes_share_a_zone() {
    let camera = camera("slog3", "sgamut3-cine");
    let names = |points| -> Vec<String> {
        let made = make(&camera, &options(Kind::Ladder, points, false)).unwrap();
        made.zones.list.iter().map(|z| z.name.clone()).collect()
    };
    // S-Log3 has 27, 13 and 7 codes of 10 bits in the stops -5, -6 and -7; nodes are 32, 16 and 4 codes apart.
    assert_eq!(names(257 - 1)[..4], ["floor", "-7", "-6", "-5"]);
    assert_eq!(names(65)[..4], ["floor", "-7 to -6", "-5", "-4"]);
    assert_eq!(names(33)[..4], ["floor", "-7 to -5", "-4", "-3"]);
    let whole = names(129);
    assert_eq!(whole.iter().filter(|n| *n == "mid-grey").count(), 1);
    assert_eq!(whole.last().unwrap(), "+6");
}

#[test]
fn zones_stand_in_order_and_hold_their_stops() {
    let camera = camera("slog3", "sgamut3-cine");
    for kind in Kind::ALL {
        for points in [33, 65] {
            let made = make(&camera, &options(kind, points, false)).unwrap();
            let edges: Vec<f64> = made.zones.edges().map(|(stops, _)| stops).collect();
            assert!(edges.windows(2).all(|w| w[0] < w[1]), "{kind:?}: {edges:?}");
            for (stops, upper) in made.zones.edges() {
                assert_eq!((made.zones.at(stops), made.zones.at(stops - 1e-9)), (upper, upper - 1));
            }
            assert_eq!(made.zones.at(f64::NEG_INFINITY), 0);
            assert_eq!(made.zones.at(f64::NAN), 0);
            assert_eq!(made.colours.len(), made.zones.list.len() + usize::from(made.zones.clip.is_some()));
            assert!(made.edges.neutrals.iter().all(|e| e.lost == 0), "{kind:?} {points}: {:?}", made.edges.neutral);
        }
    }
}

#[test]
fn soft_edges_lie_where_they_should_on_neutrals() {
    for (curve, gamut) in [("slog3", "sgamut3-cine"), ("flog2", "fgamut"), ("vlog", "vgamut")] {
        let camera = camera(curve, gamut);
        let error = |points, soft, floor_stops| {
            let display = Display::of(standard("bt709").unwrap());
            let rating = Rating { floor_stops: Some(floor_stops), ..rating() };
            let options = options(Kind::Ladder, points, soft);
            ExposureCube::new(&camera, Some(&rating), false, &display, &options).unwrap().edges.neutrals[0].max
        };
        // Exactly, where every zone is one and a half times as wide as nodes are apart; nearer, where one is not.
        assert!(error(65, true, -4.5) < 1e-6, "{curve}: {}", error(65, true, -4.5));
        assert!(error(33, true, -7.5) < 0.5 * error(33, false, -7.5), "{curve}: {}", error(33, true, -7.5));
    }
}

#[test]
fn a_finer_cube_has_truer_edges() {
    let camera = camera("slog3", "sgamut3-cine");
    let errors = |points| make(&camera, &options(Kind::Ladder, points, false)).unwrap().edges;
    let (coarse, usual, fine) = (errors(33), errors(65), errors(129));
    for i in 0..Interpolation::ALL.len() {
        assert!(fine.neutrals[i].mean < usual.neutrals[i].mean && usual.neutrals[i].mean < coarse.neutrals[i].mean);
        assert!(fine.colours[i].mean < usual.colours[i].mean && usual.colours[i].mean < coarse.colours[i].mean);
    }
}

#[test]
fn codes_show_their_zone_or_one_beside_it() {
    let camera = camera("slog3", "sgamut3-cine");
    for (points, soft) in [(33, false), (33, true), (65, false), (65, true)] {
        for kind in Kind::ALL {
            let made = make(&camera, &options(kind, points, soft)).unwrap();
            let shown = &made.edges.shown;
            assert_eq!(shown.len(), made.colours.len());
            assert_eq!(shown.iter().map(|s| s.codes).sum::<usize>(), 1024, "every code of full range lies somewhere");
            assert!(shown.iter().all(|s| s.own.iter().all(|own| (0.0..=1.0).contains(own))));
            if kind == Kind::Ladder {
                assert!(shown.iter().all(|s| s.codes_of_other_zones == [0, 0]), "{points} {soft}: {shown:?}");
            }
        }
    }
    // Counted by hand at the zone of mid-grey of 65 points: the codes from half a stop under to half a stop over it.
    let made = make(&camera, &options(Kind::Ladder, 65, false)).unwrap();
    let grey = made.zones.list.iter().position(|zone| zone.name == "mid-grey").unwrap();
    let code = |stops| 1023.0 * made.signal_at(&camera, stops);
    let codes: Vec<f64> = (0..=1023).map(f64::from).filter(|k| *k >= code(-0.5) && *k < code(0.5)).collect();
    assert_eq!(made.edges.shown[grey].codes, codes.len());
    let shows = |k: &f64| {
        let out = made.cube.at([k / 1023.0; 3], Interpolation::Tetrahedral);
        let away = |zone: usize| (0..3).map(|i| (out[i] - made.colours[zone][i]).abs()).fold(0.0, f64::max);
        away(grey) < away(grey - 1) && away(grey) < away(grey + 1)
    };
    let share = codes.iter().filter(|k| shows(k)).count() as f64 / codes.len() as f64;
    assert!((made.edges.shown[grey].own[0] - share).abs() < 0.1, "{share}: {:?}", made.edges.shown[grey]);
    // A window from beside a node of 33 points to beside the next holds one, at its end: most of it shows what is outside.
    let zones = ZoneSettings { window: [-0.067, 0.366], ..ZoneSettings::of(Kind::Range) };
    let coarse = make(&camera, &Options { zones, ..options(Kind::Range, 33, false) }).unwrap();
    let weak: Vec<bool> = coarse.edges.shown.iter().map(Shown::is_weak).collect();
    assert_eq!(weak, [false, true, false, false], "{:?}", coarse.edges.shown);
}

#[test]
fn what_clips_is_marked_in_full() {
    let camera = camera("slog3", "sgamut3-cine");
    for points in [17, 33, 64, 65] {
        for soft in [false, true] {
            let made = make(
                &camera,
                &Options {
                    zones: ZoneSettings { zone: 2.0, ..ZoneSettings::of(Kind::Ladder) },
                    ..options(Kind::Ladder, points, soft)
                },
            )
            .unwrap();
            let clip = made.colours[made.colours.len() - 1];
            for low in [0.0, 0.2, 0.866] {
                for signal in [[0.866, low, low], [low, 0.866, low], [low, low, 0.866]] {
                    for kind in Interpolation::ALL {
                        let out = made.cube.at(signal, kind);
                        assert!((0..3).all(|i| (out[i] - clip[i]).abs() < 1e-9), "{points} {signal:?}");
                    }
                }
            }
        }
    }
}

#[test]
fn light_beyond_all_numbers_is_some_zone() {
    // A straight line as a camera's curve, and a gamut whose blue has a luminance below zero.
    for (curve, gamut) in [("linear", "aces-ap0"), ("acescc", "sgamut3-cine")] {
        for basis in Basis::ALL {
            let camera = camera(curve, gamut);
            let zones = ZoneSettings { zone: 2.0, ..ZoneSettings::of(Kind::Range) };
            let display = Display::of(standard("srgb").unwrap());
            let wide = Options { zones, basis, points: 65, soft: true };
            let made = ExposureCube::new(&camera, None, false, &display, &wide);
            let made = made.unwrap_or_else(|refused| panic!("{curve}: {refused:?}"));
            assert!(made.cube.nodes().iter().flatten().all(|v| (0.0..=1.0).contains(v)), "{curve} {basis:?}");
        }
    }
}

#[test]
fn the_chart_stops_at_the_clip() {
    let camera = camera("slog3", "sgamut3-cine");
    let ends = Ends::of(&camera, Some(&rating()), false).unwrap();
    let chart = chart::chart(&camera, &ends);
    assert_eq!(chart.len(), chart::WIDTH * chart::HEIGHT);
    let most = chart.iter().flatten().copied().fold(0.0, f64::max);
    assert_eq!(most, 0.866);
    // The first and the last of the patches lie beyond the floor and the clip.
    let row = &chart[(chart::HEIGHT - 1) * chart::WIDTH..];
    assert!(row[0][0] < ends.floor.0.signal && row[chart::WIDTH - 1][0] == 0.866);
    assert!(row.windows(2).all(|w| w[1][1] >= w[0][1]));
}
