//! Fitted cubes and shapers on the demo show: what the nodes gain and what they must not lose. The ratios are our own, of
//! a fitted cube's audit to a sampled one's; for 33 points they stand in benches/README.md.

use rushlight::audit::{Audit, SETS, audit, audit_shaped};
use rushlight::cube::{Cube, Interpolation, Reader, ShapedCube};
use rushlight::difference::Difference;
use rushlight::fit::fit;
use rushlight::pipeline::Pipeline;
use rushlight::shaper::shaper;
use rushlight_tests::demo;

const POINTS: usize = 17;
use Interpolation::{Tetrahedral, Trilinear};

fn night() -> Pipeline {
    demo::show().pipeline("night", "a", "onset").expect("a job of the demo")
}

fn sampled(pipeline: &Pipeline) -> Audit {
    audit(pipeline, &Cube::sample(POINTS, |signal| pipeline.apply(signal)).expect("a size"))
}

/// Fitted over sampled: mean, 99th percentile and maximum of a set.
fn ratios(after: &Audit, before: &Audit, set: &str, kind: Interpolation) -> [f64; 3] {
    let [after, before] = [after, before].map(|a| *a.set(set).expect("a set").by(kind));
    [after.mean / before.mean, after.p99 / before.p99, after.max / before.max]
}

#[test]
fn no_maximum_rises_on_any_job_of_the_demo() {
    let show = demo::show();
    for look in show.looks().keys() {
        for camera in show.cameras().keys() {
            for display in show.displays().keys() {
                let pipeline = show.pipeline(look, camera, display).expect("a job of the demo");
                let table = fit(&pipeline, POINTS, Reader::Tetrahedral, None).expect("a fit").table;
                let (after, before) = (audit_shaped(&pipeline, &table), sampled(&pipeline));
                for set in SETS {
                    let [mean, p99, max] = ratios(&after, &before, set, Tetrahedral);
                    println!("{look} {camera} {display} {set}: {mean:.3} {p99:.3} {max:.3}");
                    assert!(max <= 1.0, "{look} {camera} {display} {set}: {max}");
                }
                let [mean, p99, max] = ratios(&after, &before, "plausible", Tetrahedral);
                // What any job reaches at so few points. The smoother a look, the less is left for a fit to win.
                let [most, most_p99, most_max] = [0.8, 0.9, 1.0];
                let reached = mean < most && p99 < most_p99 && max <= most_max;
                assert!(reached, "{look} {camera} {display}: {mean} {p99} {max}");
                assert!(ratios(&after, &before, "uniform", Tetrahedral)[0] < 0.6);
            }
        }
    }
}

/// `tone` keeps greys grey: the cube does so to the last bit that the exact path has, and never falls.
#[test]
fn greys_stay_grey_and_never_fall() {
    let pipeline = demo_with_look("[[step]]\ndo = 'compress'\n[[step]]\ndo = 'tone'\n");
    let table = fit(&pipeline, POINTS, Reader::Tetrahedral, None).expect("a fit").table;
    let greys: Vec<[f64; 3]> = (0..POINTS).map(|i| table.cube().node(i, i, i)).collect();
    let sampled = |i: usize| pipeline.apply([i as f64 / (POINTS - 1) as f64; 3]).0;
    for (i, grey) in greys.iter().enumerate() {
        let cast = |c: [f64; 3]| (c[0] - c[1]).abs().max((c[2] - c[1]).abs());
        assert!(cast(*grey) < 1e-12 + 2.0 * cast(sampled(i)), "{grey:?}");
    }
    assert!(greys.windows(2).all(|w| (0..3).all(|c| w[0][c] <= w[1][c])));
    assert_eq!([greys[0], greys[POINTS - 1]], [sampled(0), sampled(POINTS - 1)]);
}

/// The demo's A camera and on-set monitor with other steps.
fn demo_with_look(steps: &str) -> Pipeline {
    let look = format!("schema = 1\ngeneration = 2\ntitle = 'Measured'\n{steps}");
    let look = rushlight::look::parse("look.toml", &look, &std::collections::BTreeMap::new()).expect("a sound look");
    let show = demo::show();
    Pipeline::new(&show.cameras()["a"].item, &look, &show.displays()["onset"].item).expect("the look fits")
}

/// Without `compress` the path has edges, where least squares alone would raise the maximum.
#[test]
fn no_maximum_rises_on_a_path_with_edges() {
    let pipeline = demo_with_look("[[step]]\ndo = 'print'\n");
    let fitted = fit(&pipeline, POINTS, Reader::Tetrahedral, None).expect("a fit");
    assert!(fitted.report.held_back > 0, "{:?}", fitted.report);
    let (after, before) = (audit_shaped(&pipeline, &fitted.table), sampled(&pipeline));
    for set in SETS {
        let [_, _, max] = ratios(&after, &before, set, Tetrahedral);
        assert!(max <= 1.0, "{set}: {max}");
    }
    assert!(ratios(&after, &before, "plausible", Tetrahedral)[0] < 0.75);
}

/// The largest chroma that a trilinear reader gives greys which the exact path leaves neutral, in CIELAB.
fn cast(pipeline: &Pipeline, table: &ShapedCube) -> f64 {
    let difference = Difference::on(pipeline.display());
    let chroma = (0..=512).map(|i| {
        let [_, a, b] = difference.place(table.at([f64::from(i) / 512.0; 3], Trilinear));
        (a * a + b * b).sqrt()
    });
    chroma.fold(0.0, f64::max)
}

#[test]
fn a_fit_for_either_reader_serves_both() {
    let pipeline = demo_with_look("[[step]]\ndo = 'compress'\n[[step]]\ndo = 'print'\n");
    let before = sampled(&pipeline);
    let [one, both] =
        [Reader::Tetrahedral, Reader::Either].map(|reader| fit(&pipeline, POINTS, reader, None).expect("a fit").table);
    // Greys between the nodes of so few points: no worse by a trilinear reader than with a fit for the other.
    assert!(
        cast(&pipeline, &both) < 1.05 * cast(&pipeline, &one),
        "{} {}",
        cast(&pipeline, &both),
        cast(&pipeline, &one)
    );
    let [one, both] = [one, both].map(|table| audit_shaped(&pipeline, &table));
    for kind in [Tetrahedral, Trilinear] {
        for set in SETS {
            let [_, _, max] = ratios(&both, &before, set, kind);
            assert!(max <= 1.0, "{set} {kind:?}: {max}");
        }
        assert!(ratios(&both, &before, "plausible", kind)[0] < 0.85);
    }
    assert!(both.plausible.trilinear.mean < one.plausible.trilinear.mean);
}

#[test]
fn a_shaper_helps_and_a_fit_behind_it_helps_more() {
    let pipeline = night();
    let before = sampled(&pipeline);
    let curves = shaper(&pipeline);
    let cube = Cube::sample(POINTS, |place| pipeline.apply(curves.inverse(place))).expect("a size");
    let shaped = ShapedCube::new(Some(curves.clone()), cube).expect("a rising curve");
    let [mean, p99, max] = ratios(&audit_shaped(&pipeline, &shaped), &before, "plausible", Tetrahedral);
    assert!(mean < 0.75 && p99 < 0.75 && max < 1.0, "{mean} {p99} {max}");
    let fitted = fit(&pipeline, POINTS, Reader::Tetrahedral, Some(&curves)).expect("a fit").table;
    let [mean, p99, max] = ratios(&audit_shaped(&pipeline, &fitted), &before, "plausible", Tetrahedral);
    assert!(mean < 0.56 && p99 < 0.6 && max < 0.85, "{mean} {p99} {max}");
}
