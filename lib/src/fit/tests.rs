use super::*;
use crate::audit::{SETS, audit_of};
use crate::cube::Cell;
use crate::display::{Display, standard};
use crate::math;
use crate::transform::function;
use proptest::prelude::*;
use samples::{Sample, Samples};
use tensors::Tensors;

fn difference() -> Difference {
    Difference::on(&Display::of(standard("bt709").unwrap()))
}

fn fitted(exact: impl Fn([f64; 3]) -> [f64; 3] + Sync, size: usize, reader: Reader) -> Fitted {
    let plausible = test_colours::uniform(7777, 4000);
    let exact = &function(exact);
    fit_to(&Target { exact, difference: &difference(), plausible: &plausible, shaper: None }, size, reader).unwrap()
}

/// Neutral in, neutral out, and bent everywhere.
fn bent([r, g, b]: [f64; 3]) -> [f64; 3] {
    let mean = (r + g + b) / 3.0;
    [r, g, b].map(|v| {
        let v = mean + 0.8 * (v - mean) * (1.2 - mean);
        0.95 / (1.0 + math::exp(-7.0 * (v - 0.45)))
    })
}

/// A hard edge off the grid.
fn edged(rgb: [f64; 3]) -> [f64; 3] {
    let light = (rgb[0] + 2.0 * rgb[1] - 0.5 * rgb[2]).clamp(0.0, 1.13);
    [light, (rgb[1] * 1.4 - 0.2).clamp(0.0, 1.0), (1.7 * rgb[2] - 0.8 * rgb[0]).clamp(0.0, 1.0)].map(|v| v / 1.13)
}

#[test]
fn what_a_reader_gives_exactly_keeps_its_nodes() {
    let nodes = test_colours::uniform(99, 125).into_iter().map(|p| p.map(|v| 0.2 + 0.6 * v)).collect();
    let cube = Cube::new(5, UNIT, nodes).unwrap();
    for (reader, kind) in
        [(Reader::Tetrahedral, Interpolation::Tetrahedral), (Reader::Trilinear, Interpolation::Trilinear)]
    {
        let fitted = fitted(|rgb| cube.at(rgb, kind), 5, reader);
        // A trilinear grey bends within its cell, and the diagonal is fitted as tetrahedra read it.
        let grey = |i: usize| kind == Interpolation::Trilinear && i.is_multiple_of(31);
        for (i, (got, want)) in fitted.table.cube().nodes().iter().zip(cube.nodes()).enumerate() {
            let close = (0..3).all(|c| (got[c] - want[c]).abs() < 1e-9);
            assert!(close || kind == Interpolation::Trilinear, "{i}: {got:?} {want:?}");
            assert!(close || grey(i) || kind == Interpolation::Trilinear);
        }
        if kind == Interpolation::Tetrahedral {
            assert!(fitted.report.largest_change < 1e-9 && fitted.report.held_back == 0, "{:?}", fitted.report);
        }
    }
}

#[test]
fn the_thread_count_does_not_change_a_node() {
    let on = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| fitted(edged, 9, Reader::Either))
    };
    let one = on(1);
    assert_eq!(one, on(2));
    assert_eq!(one, on(5));
}

#[test]
fn neutrals_stay_neutral_and_never_fall() {
    for reader in Reader::ALL {
        let fitted = fitted(bent, 9, reader);
        let cube = fitted.table.cube();
        let greys: Vec<[f64; 3]> = (0..9).map(|i| cube.node(i, i, i)).collect();
        assert!(greys.iter().all(|g| g[0] == g[1] && g[1] == g[2]), "{greys:?}");
        assert!(greys.windows(2).all(|w| w[0][0] <= w[1][0]));
        assert_eq!([greys[0], greys[8]], [bent([0.0; 3]), bent([1.0; 3])]);
    }
}

#[test]
fn a_bent_function_is_met_better_and_no_maximum_rises() {
    let difference = difference();
    let plausible = test_colours::uniform(1 << 40, 4000);
    for (exact, name) in [(bent as fn([f64; 3]) -> [f64; 3], "bent"), (edged, "edged")] {
        let sampled = audit_of(function(exact), &difference, &plausible, &Cube::sample(9, exact).unwrap());
        for reader in Reader::ALL {
            let fitted = fitted(exact, 9, reader);
            let audit = audit_of(function(exact), &difference, &plausible, fitted.table.cube());
            for kind in reader.interpolations() {
                let (before, after) = (sampled.uniform.by(*kind), audit.uniform.by(*kind));
                // Squares are made least: about an edge the mean may grow while what is largest shrinks.
                let [before, after] = [before, after].map(|f| if name == "bent" { f.mean } else { f.p99 });
                let enough = if name == "bent" { 0.65 } else { 0.9 };
                assert!(after < enough * before, "{name} {reader:?} {kind:?}: {after} {before}");
                for set in SETS {
                    let [before, after] = [&sampled, &audit].map(|a| a.set(set).unwrap().by(*kind).max);
                    assert!(after <= before, "{name} {reader:?} {kind:?} {set}: {after} {before}");
                }
            }
        }
    }
}

#[test]
fn a_shaper_is_taken_into_account() {
    let shaper = Curves::sample(65, |v| v * (0.5 + 0.5 * v)).unwrap();
    let (difference, plausible) = (difference(), test_colours::uniform(7777, 4000));
    let target =
        Target { exact: &function(bent), difference: &difference, plausible: &plausible, shaper: Some(&shaper) };
    let table = fit_to(&target, 17, Reader::Tetrahedral).unwrap().table;
    let worst = test_colours::uniform(1 << 40, 2000).into_iter().map(|signal| {
        let got = table.at(signal, Interpolation::Tetrahedral);
        difference.between(difference.place(bent(signal)), difference.place(got))
    });
    assert!(worst.fold(0.0, f64::max) < 2.0);
}

#[test]
fn sizes_have_limits() {
    let (difference, plausible) = (difference(), test_colours::uniform(1, 10));
    let target = Target { exact: &function(|rgb| rgb), difference: &difference, plausible: &plausible, shaper: None };
    for size in [0, 1, 66, 300] {
        assert_eq!(fit_to(&target, size, Reader::Either).unwrap_err()[0].key, "points");
    }
    for size in 2..5 {
        let table = fit_to(&target, size, Reader::Either).unwrap().table;
        assert!((table.at([0.3, 0.7, 0.1], Interpolation::Trilinear)[1] - 0.7).abs() < 1e-9);
    }
}

/// Some numbers for each node, never the same.
fn field(size: usize, first: u64) -> Field {
    let mut field = Field::zero(size);
    for (node, value) in test_colours::uniform(first, size * size * size).into_iter().enumerate() {
        field.set(node, value.map(|v| v - 0.5));
    }
    field
}

#[test]
fn products_of_the_normal_matrix_are_those_of_its_samples() {
    let size = 5;
    let sampled = Cube::sample(size, |rgb| rgb).unwrap();
    let tensors = Tensors::at_nodes(&difference(), &sampled, &UNIT);
    let x = field(size, 5000);
    let list: Vec<Sample> =
        test_colours::uniform(1, 300).into_iter().map(|at| Sample::new(size, at, [0.5; 3])).collect();
    for (kind, reach) in
        [(Interpolation::Tetrahedral, Reach::Tetrahedral), (Interpolation::Trilinear, Reach::Trilinear)]
    {
        let mut normal = Normal::zero(size, reach);
        let samples = Samples::sorted(size, list.clone());
        normal.each_layer(|layer| samples.add(layer, &sampled, &tensors, &[kind], 1.0));
        let mut product = Field::zero(size);
        let total = normal.times(&x, &mut product);
        // The sum of x' A' G A x over the samples, one by one.
        let values: Vec<[f64; 3]> = (0..size * size * size).map(|node| x.get(node)).collect();
        let mut expected = 0.0;
        for sample in &list {
            let none = Sample { want: [0.0; 3], ..*sample };
            sample.read(kind, |shares| {
                expected += tensors::square(&tensors.mixed(sample.cell.step, shares), none.away(size, &values, shares));
            });
        }
        assert!((total - expected).abs() < 1e-9 * expected, "{total} {expected}");
    }
}

/// Cells say in closed form what samples say that fill them.
#[test]
fn cells_count_what_many_samples_of_them_count() {
    let size = 3;
    let quadratic = |[r, g, b]: [f64; 3]| [0.3 * r * r + 0.2 * g * b, 0.5 * r * b + 0.1 * b * b, 0.4 * g * g];
    let fine = Cube::sample(5, quadratic).unwrap();
    let sampled = Cube::sample(size, quadratic).unwrap();
    // One tensor everywhere.
    let grey = Cube::sample(size, |_| [0.5; 3]).unwrap();
    let tensors = Tensors::at_nodes(&difference(), &grey, &UNIT);
    // Above zero, so that sums do not cancel.
    let mut x = field(size, 5000);
    for node in 0..size * size * size {
        let value = x.get(node).map(|v| v + 0.6);
        x.set(node, value);
    }
    let parts = 48;
    let middle = |i: usize| (i as f64 + 0.5) / parts as f64;
    let list = (0..parts * parts * parts)
        .map(|i| [middle(i % parts), middle(i / parts % parts), middle(i / (parts * parts))])
        .map(|at| Sample { cell: Cell::of(size, &UNIT, at), want: quadratic(at) })
        .collect();
    let samples = Samples::sorted(size, list);
    for (kind, reach) in
        [(Interpolation::Tetrahedral, Reach::Tetrahedral), (Interpolation::Trilinear, Reach::Trilinear)]
    {
        let (mut whole, mut many) = (Normal::zero(size, reach), Normal::zero(size, reach));
        whole.each_layer(|layer| cells::add(layer, &fine, &tensors, &[kind], 0.0));
        // Eight cells, each counted once.
        let weight = 8.0 / (parts * parts * parts) as f64;
        many.each_layer(|layer| samples.add(layer, &sampled, &tensors, &[kind], weight));
        let [a, b] = [&whole, &many].map(|normal| {
            let form = normal.times(&x, &mut Field::zero(size));
            let right: f64 = (0..size)
                .map(|blue| x.plane(blue).iter().zip(normal.right(blue)).map(|(x, y)| x * y).sum::<f64>())
                .sum();
            (form, right)
        });
        assert!((a.0 - b.0).abs() < 3e-3 * b.0, "{kind:?} {a:?} {b:?}");
        assert!((a.1 - b.1).abs() < 3e-3 * b.1.abs(), "{kind:?} {a:?} {b:?}");
    }
}

#[test]
fn the_solution_has_no_slope_left_where_it_is_free() {
    let size = 9;
    let fine = Cube::sample(17, bent).unwrap();
    let sampled = Cube::sample(size, bent).unwrap();
    let tensors = Tensors::at_nodes(&difference(), &sampled, &UNIT);
    let mut normal = Normal::zero(size, Reach::Tetrahedral);
    normal.each_layer(|layer| cells::add(layer, &fine, &tensors, &[Interpolation::Tetrahedral], RIDGE));
    let mut free = Field::zero(size);
    (0..size * size * size).filter(|node| node % 7 != 0).for_each(|node| free.set(node, [1.0; 3]));
    let mut solution = Field::zero(size);
    solution.set(7, [0.01; 3]);
    solve::solve(&normal, size, &free, &mut solution);
    assert_eq!((solution.get(0), solution.get(7)), ([0.0; 3], [0.01; 3]));
    let value = |x: &Field| {
        let form = normal.times(x, &mut Field::zero(size));
        let right: f64 =
            (0..size).map(|b| x.plane(b).iter().zip(normal.right(b)).map(|(x, y)| x * y).sum::<f64>()).sum();
        0.5 * form - right
    };
    // No way from the solution leads further down.
    let least = value(&solution);
    for first in [1, 1000, 2000] {
        for length in [1e-3, -1e-3] {
            let mut way = field(size, first);
            (0..size * size * size).filter(|node| node % 7 == 0).for_each(|node| way.set(node, [0.0; 3]));
            let mut moved = solution.clone();
            moved.add(length, &way);
            assert!(value(&moved) > least);
        }
    }
}

proptest! {
    #[test]
    fn the_diagonal_keeps_its_ends_and_its_order(values in prop::collection::vec(0.0..1.0f64, 4 * diagonal::PARTS + 1)) {
        let mut values = values;
        values.sort_by(f64::total_cmp);
        let ramp: Vec<[f64; 3]> = values.iter().map(|v| [*v, 1.0 - v, *v]).collect();
        let mut nodes = diagonal::fit(&ramp, &vec![1.0; ramp.len()]);
        prop_assert_eq!(nodes.len(), 5);
        prop_assert_eq!([nodes[0], nodes[4]], [ramp[0], ramp[ramp.len() - 1]]);
        prop_assert!(nodes.windows(2).all(|w| w[0][0] <= w[1][0] && w[0][0] == w[0][2]));
        nodes.swap(1, 3);
        diagonal::keep_order(&ramp, nodes.iter_mut());
        prop_assert!(nodes.windows(2).all(|w| w[0][0] <= w[1][0]));
    }
}
