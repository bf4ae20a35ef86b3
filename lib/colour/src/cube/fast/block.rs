//! The path for any machine: loops over arrays of fixed length, which the compiler turns into vectors.

use super::frame::{Frame, Kernel, Source, Target, tiles};
use super::sample::Sample;
use super::{Axis, FastCube, Interpolation, Lane, Node, Plan, TILE};

/// Runs the frame.
pub(super) fn run<F: Frame>(cube: &FastCube, frame: F) {
    let axes = cube.axes(F::Sample::MAX_CODE);
    match cube.interpolation {
        Interpolation::Tetrahedral => tiles(Tetrahedral { cube, axes, plan: Plan::new() }, frame),
        Interpolation::Trilinear => tiles(Trilinear { cube, axes, plan: Plan::new() }, frame),
    }
}

struct Tetrahedral<'a> {
    cube: &'a FastCube,
    axes: [Axis; 3],
    plan: Plan,
}

struct Trilinear<'a> {
    cube: &'a FastCube,
    axes: [Axis; 3],
    plan: Plan,
}

/// The grid step below each sample, and the fraction above it. In f64: without a fused multiply-add, f32 would lose the
/// fraction's last places.
#[inline(always)]
fn place<S: Sample>(axis: &Axis, samples: &Lane<S>, fraction: &mut Lane<f32>, step: &mut Lane<u32>) {
    for i in 0..TILE {
        let above = samples[i].number() - axis.low;
        // Written so that NaN fails the first comparison.
        let above = if above > 0.0 { above } else { 0.0 };
        let above = if above < axis.range { above } else { axis.range };
        let place = f64::from(above) * axis.scale_f64;
        let whole = place as i32;
        step[i] = whole as u32;
        fraction[i] = (place - f64::from(whole)) as f32;
    }
}

#[inline(always)]
fn select<T>(condition: bool, yes: T, no: T) -> T {
    if condition { yes } else { no }
}

/// `sum + weight * node`, fused where the target always has that instruction.
#[inline(always)]
fn add(sum: [f32; 4], weight: f32, node: Node) -> [f32; 4] {
    std::array::from_fn(|i| {
        if cfg!(target_arch = "aarch64") { weight.mul_add(node.0[i], sum[i]) } else { sum[i] + weight * node.0[i] }
    })
}

impl Kernel for Tetrahedral<'_> {
    const INTEGERS: bool = false;

    #[inline(always)]
    fn plan<S: Sample>(&mut self, source: Source<'_, S>) {
        let source = source.planes();
        let plan = &mut self.plan;
        let mut fraction = [[0.0f32; TILE]; 3];
        let mut step = [[0u32; TILE]; 3];
        for c in 0..3 {
            place(&self.axes[c], source[c], &mut fraction[c], &mut step[c]);
        }
        let [red, green, blue] = self.cube.strides().map(|s| s as u32);
        let total = red + green + blue;
        for i in 0..TILE {
            let (r, g, b) = (fraction[0][i], fraction[1][i], fraction[2][i]);
            let red_first = r >= g;
            let (more, less) = (select(red_first, r, g), select(red_first, g, r));
            let (over, under) = (b > more, b < less);
            let (high, low) = (select(over, b, more), select(under, b, less));
            let middle = select(over, more, select(under, less, b));
            let first = select(over, blue, select(red_first, red, green));
            let last = select(under, blue, select(red_first, green, red));
            let base = step[0][i] * red + step[1][i] * green + step[2][i] * blue;
            plan.index[0][i] = base;
            plan.index[1][i] = base + first;
            plan.index[2][i] = base + (total - last);
            plan.weight[0][i] = 1.0 - high;
            plan.weight[1][i] = high - middle;
            plan.weight[2][i] = middle - low;
            plan.weight[3][i] = low;
        }
    }

    #[inline(always)]
    fn blend<S: Sample>(&self, target: Target<'_, S>, _large: bool) {
        let plan = &self.plan;
        let nodes = &self.cube.nodes[..];
        let total = self.cube.strides().iter().sum::<usize>();
        let [red, green, blue] = target.planes();
        for i in 0..TILE {
            let at = [0, 1, 2].map(|k| plan.index[k][i] as usize);
            let mut sum = nodes[at[0]].0.map(|v| v * plan.weight[0][i]);
            sum = add(sum, plan.weight[1][i], nodes[at[1]]);
            sum = add(sum, plan.weight[2][i], nodes[at[2]]);
            sum = add(sum, plan.weight[3][i], nodes[at[0] + total]);
            (red[i], green[i], blue[i]) = (S::from_value(sum[0]), S::from_value(sum[1]), S::from_value(sum[2]));
        }
    }
}

impl Kernel for Trilinear<'_> {
    const INTEGERS: bool = false;

    #[inline(always)]
    fn plan<S: Sample>(&mut self, source: Source<'_, S>) {
        let source = source.planes();
        let plan = &mut self.plan;
        let mut step = [[0u32; TILE]; 3];
        for c in 0..3 {
            place(&self.axes[c], source[c], &mut plan.weight[c], &mut step[c]);
        }
        let [red, green, blue] = self.cube.strides().map(|s| s as u32);
        for i in 0..TILE {
            plan.index[0][i] = step[0][i] * red + step[1][i] * green + step[2][i] * blue;
        }
    }

    #[inline(always)]
    fn blend<S: Sample>(&self, target: Target<'_, S>, _large: bool) {
        let plan = &self.plan;
        let nodes = &self.cube.nodes[..];
        let [_, green_step, blue_step] = self.cube.strides();
        let [red, green, blue] = target.planes();
        let mix = |t: f32, a: Node, b: Node| Node(add(a.0, t, Node(std::array::from_fn(|i| b.0[i] - a.0[i]))));
        for i in 0..TILE {
            let [r, g, b] = [0, 1, 2].map(|c| plan.weight[c][i]);
            let edge = |at: usize| mix(r, nodes[at], nodes[at + 1]);
            let face = |at: usize| mix(g, edge(at), edge(at + green_step));
            let at = plan.index[0][i] as usize;
            let sum = mix(b, face(at), face(at + blue_step)).0;
            (red[i], green[i], blue[i]) = (S::from_value(sum[0]), S::from_value(sum[1]), S::from_value(sum[2]));
        }
    }
}
