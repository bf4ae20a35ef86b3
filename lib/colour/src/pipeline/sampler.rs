//! Cubes of a path that changes little by little, as while a look is edited: what stays is not computed again.

use super::Pipeline;
use crate::camera::Camera;
use crate::colour::SceneLight;
use crate::cube::{Cube, SIZES, UNIT, input};
use crate::invalid::Refusals;
use crate::parallel;
use crate::shot::Space;
use crate::step::Step;

/// Keeps the scene light of every node as it is before the first step that changed last, so that the next cube begins
/// there. The nodes are those of [`Pipeline::cube`] to the bit.
#[derive(Debug, Default)]
pub struct Sampler {
    last: Option<Start>,
    /// After how many steps, and red fastest.
    held: Option<(usize, Vec<[f64; 3]>)>,
}

/// What the light of the nodes depends on.
#[derive(Debug)]
struct Start {
    points: usize,
    camera: Camera,
    steps: Vec<Step>,
}

impl Start {
    /// The steps that a path has in common with this one, from the first.
    fn common(&self, pipeline: &Pipeline, points: usize) -> Option<usize> {
        let same = self.points == points && self.camera.decodes_as(&pipeline.camera);
        same.then(|| self.steps.iter().zip(&pipeline.steps).take_while(|(old, new)| old == new).count())
    }
}

impl Sampler {
    /// The cube of `points` along each edge over 0..1 of a path and of what comes after it, on all threads.
    ///
    /// # Errors
    /// As [`Pipeline::cube_then`].
    pub fn cube_then(
        &mut self,
        pipeline: &Pipeline,
        points: usize,
        then: impl Fn([f64; 3]) -> [f64; 3] + Sync,
    ) -> Result<Cube, Refusals> {
        if pipeline.correction.is_some() || !SIZES.contains(&points) {
            return pipeline.cube_then(points, then);
        }
        let common = self.last.as_ref().and_then(|last| last.common(pipeline, points));
        self.last = Some(Start { points, camera: pipeline.camera.clone(), steps: pipeline.steps.clone() });
        let Some(common) = common else {
            self.held = None;
            return pipeline.cube_then(points, then);
        };
        let light = self.light(pipeline, points, common);
        let rest = &pipeline.steps[common..];
        let graded = |light| rest.iter().fold(SceneLight(light), |light, step| step.apply(light));
        let after = |light| then(pipeline.shown(graded(light)).0);
        Cube::sample_steps(points, UNIT, |[red, green, blue]| after(light[red + points * (green + points * blue)]))
    }

    /// The light of every node after `count` steps, kept.
    fn light(&mut self, pipeline: &Pipeline, points: usize, count: usize) -> &[[f64; 3]] {
        let (done, mut light) = match self.held.take() {
            Some((done, light)) if done <= count => (done, light),
            _ => (0, pipeline.scene_light(points)),
        };
        let steps = &pipeline.steps[done..count];
        if !steps.is_empty() {
            parallel::chunks(&mut light, points.max(1), |_, line| {
                for rgb in line {
                    *rgb = steps.iter().fold(SceneLight(*rgb), |light, step| step.apply(light)).0;
                }
            });
        }
        &self.held.insert((count, light)).1
    }
}

impl Pipeline {
    /// The path as a cube of `points` along each edge over 0..1, on all threads: [`apply`](Self::apply) at every node.
    ///
    /// # Errors
    /// A size that no cube has.
    pub fn cube(&self, points: usize) -> Result<Cube, Refusals> {
        self.cube_then(points, |signal| signal)
    }

    /// [`cube`](Self::cube) of the path and of what comes after it.
    ///
    /// # Errors
    /// A size that no cube has, and values that are not finite.
    pub fn cube_then(&self, points: usize, then: impl Fn([f64; 3]) -> [f64; 3] + Sync) -> Result<Cube, Refusals> {
        if self.correction.as_ref().is_some_and(|correction| matches!(correction.space(), Space::Camera)) {
            return Cube::sample(points, |signal| then(self.apply(signal).0));
        }
        let light = self.linear(points);
        Cube::sample_steps(points, UNIT, |at| then(self.after_camera(self.node_light(&light, at)).0))
    }

    /// Light in the camera's gamut at each step of an axis: a channel's depends on its own step alone, so that it is
    /// computed once for all nodes.
    fn linear(&self, points: usize) -> Vec<[f64; 3]> {
        let steps = if SIZES.contains(&points) { points } else { 0 };
        (0..steps).map(|i| self.camera.linearise(input(&UNIT, points, [i; 3]))).collect()
    }

    fn node_light(&self, linear: &[[f64; 3]], at: [usize; 3]) -> SceneLight {
        self.camera.scene_light([linear[at[0]][0], linear[at[1]][1], linear[at[2]][2]])
    }

    /// Scene light of every node, red fastest.
    fn scene_light(&self, points: usize) -> Vec<[f64; 3]> {
        let linear = self.linear(points);
        let node = |i: usize| self.node_light(&linear, [i % points, i / points % points, i / (points * points)]).0;
        parallel::collect(points * points * points, points, node)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::display::{Display, standard};
    use crate::gamut::named_gamut;
    use crate::look::Look;
    use crate::range::Range;
    use crate::step::{
        Rendering, compress::CompressSettings, exposure::ExposureSettings, print::PrintSettings, tint::TintSettings,
    };
    use crate::transfer::encoding;

    fn camera(curve: &str, gamut: &str) -> Camera {
        let curve = encoding(curve).unwrap().build(None).unwrap();
        Camera::new(curve, &named_gamut(gamut).unwrap().gamut, None, Range::Full, vec![]).unwrap()
    }

    fn look(exposure: f64, shadows: f64, contrast: f64) -> Look {
        let compress = Step::new(CompressSettings::default()).unwrap();
        let exposure = Step::new(ExposureSettings::stops(exposure)).unwrap();
        let tint = Step::new(TintSettings { shadows: [shadows, 0.0, 0.0], ..TintSettings::default() }).unwrap();
        let print = Rendering::new(PrintSettings { contrast, ..PrintSettings::default() }).unwrap();
        Look::new("Dusk", 1, vec![compress, exposure, tint], print)
    }

    #[test]
    fn every_edit_gives_the_cube_of_a_fresh_start() {
        let cameras = [camera("slog3", "sgamut3-cine"), camera("llog", "bt2020")];
        let display = Display::of(standard("bt709").unwrap());
        let edits = [
            (0, 9, -0.4, 0.1, 3.0),
            (0, 9, -0.4, 0.1, 3.2),
            (0, 9, -0.4, 0.2, 3.2),
            (0, 9, -0.4, 0.3, 3.2),
            (0, 9, 0.5, 0.3, 3.2),
            (0, 9, 0.7, 0.3, 3.2),
            (0, 9, 0.7, 0.3, 2.5),
            (0, 7, 0.7, 0.3, 2.5),
            (1, 7, 0.7, 0.3, 2.5),
            (1, 7, 0.8, 0.3, 2.5),
        ];
        let mut sampler = Sampler::default();
        for (camera, points, exposure, shadows, contrast) in edits {
            let pipeline = Pipeline::new(&cameras[camera], &look(exposure, shadows, contrast), &display).unwrap();
            let cube = sampler.cube_then(&pipeline, points, |signal| signal.map(|v| v * 0.5)).unwrap();
            let fresh = Cube::sample(points, |signal| pipeline.apply(signal).map(|v| v * 0.5)).unwrap();
            assert_eq!(cube, fresh);
            assert_eq!(pipeline.cube(points).unwrap(), Cube::sample(points, |s| pipeline.apply(s)).unwrap());
        }
        let pipeline = Pipeline::new(&cameras[0], &look(0.0, 0.0, 3.0), &display).unwrap();
        assert!(sampler.cube_then(&pipeline, 1, |v| v).is_err() && pipeline.cube(usize::MAX).is_err());
    }
}
