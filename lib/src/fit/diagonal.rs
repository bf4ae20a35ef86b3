//! The grey diagonal of a cube as a problem of its own: red, green and blue equal in, one curve for each channel out.
//!
//! A tetrahedral reader finds a grey from the two nodes of the diagonal about it, so what is least wrong there is found
//! without the rest of the cube.

/// Parts of a step between two nodes at which the exact function is looked at.
pub(super) const PARTS: usize = 16;

/// Chooses the nodes of the diagonal. `ramp` holds the exact values at [`PARTS`] to the step, ends included, and `weights`
/// what the square of a small neutral step counts there. The ends stay exact; a channel that never falls along the ramp
/// never falls along the nodes.
pub(super) fn fit(ramp: &[[f64; 3]], weights: &[f64]) -> Vec<[f64; 3]> {
    let sampled: Vec<[f64; 3]> = ramp.iter().step_by(PARTS).copied().collect();
    let n = sampled.len();
    // Rows of the normal equations: with itself, with the next.
    let mut own = vec![0.0; n];
    let mut next = vec![0.0; n];
    let mut right = vec![[0.0; 3]; n];
    for (i, (want, weight)) in ramp.iter().zip(weights).enumerate() {
        let (low, t) = ((i / PARTS).min(n - 2), (i - (i / PARTS).min(n - 2) * PARTS) as f64 / PARTS as f64);
        let (a, b) = (1.0 - t, t);
        own[low] += weight * a * a;
        own[low + 1] += weight * b * b;
        next[low] += weight * a * b;
        for c in 0..3 {
            let away = want[c] - (a * sampled[low][c] + b * sampled[low + 1][c]);
            right[low][c] += weight * a * away;
            right[low + 1][c] += weight * b * away;
        }
    }
    let mut nodes = sampled.clone();
    let change = inner_solution(&own, &next, &right);
    for (node, change) in nodes.iter_mut().zip(change) {
        for c in 0..3 {
            node[c] += change[c];
        }
    }
    for c in 0..3 {
        if never_falls(ramp, c) {
            let mut channel: Vec<f64> = nodes.iter().map(|v| v[c]).collect();
            rising(&mut channel, &own);
            for (node, value) in nodes.iter_mut().zip(channel) {
                node[c] = value.clamp(sampled[0][c], sampled[n - 1][c]);
            }
        }
    }
    (nodes[0], nodes[n - 1]) = (sampled[0], sampled[n - 1]);
    nodes
}

fn never_falls(ramp: &[[f64; 3]], channel: usize) -> bool {
    ramp.windows(2).all(|w| w[0][channel] <= w[1][channel])
}

/// Puts right the order of `nodes`, the diagonal's, where it was lost in a channel of `ramp` that never falls.
pub(super) fn keep_order<'a>(ramp: &[[f64; 3]], nodes: impl Iterator<Item = &'a mut [f64; 3]>) {
    let mut nodes: Vec<_> = nodes.collect();
    for c in 0..3 {
        if never_falls(ramp, c) {
            let mut channel: Vec<f64> = nodes.iter().map(|v| v[c]).collect();
            rising(&mut channel, &vec![1.0; nodes.len()]);
            for (node, value) in nodes.iter_mut().zip(channel) {
                node[c] = value;
            }
        }
    }
}

/// Solves the tridiagonal system for all but the first and the last node, which change by nothing (Thomas).
fn inner_solution(own: &[f64], next: &[f64], right: &[[f64; 3]]) -> Vec<[f64; 3]> {
    let n = own.len();
    let mut change = vec![[0.0; 3]; n];
    let mut above = vec![0.0; n];
    for i in 1..n - 1 {
        let below = if i > 1 { next[i - 1] } else { 0.0 };
        let pivot = own[i] * (1.0 + RIDGE) - below * above[i - 1];
        // A part that no sample weighs stays.
        let scale = if pivot > 0.0 { 1.0 / pivot } else { 0.0 };
        above[i] = next[i] * scale;
        for c in 0..3 {
            change[i][c] = (right[i][c] - below * change[i - 1][c]) * scale;
        }
    }
    for i in (1..n - 2).rev() {
        for c in 0..3 {
            change[i][c] -= above[i] * change[i + 1][c];
        }
    }
    change
}

/// Pull towards the sampled nodes, of each node's own weight.
const RIDGE: f64 = 1e-3;

/// The nearest list that never falls: neighbours that fall take their weighted mean (pool adjacent violators).
fn rising(values: &mut [f64], weights: &[f64]) {
    let mut pools: Vec<(f64, f64, usize)> = Vec::with_capacity(values.len());
    for (value, weight) in values.iter().zip(weights) {
        let mut pool = (*value, weight.max(f64::MIN_POSITIVE), 1);
        while let Some(before) = pools.last().copied().filter(|before| before.0 > pool.0) {
            let weight = before.1 + pool.1;
            pool = ((before.0 * before.1 + pool.0 * pool.1) / weight, weight, before.2 + pool.2);
            pools.pop();
        }
        pools.push(pool);
    }
    let mut i = 0;
    for (value, _, count) in pools {
        values[i..i + count].fill(value);
        i += count;
    }
}
