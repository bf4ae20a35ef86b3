//! A pipeline as transforms of its own kind: camera signal to ACES, ACES to ACES, ACES to the signal of a display.
//!
//! The exact path is one function; these are three files that a program for ACES takes one after the other. ACES is
//! linear AP0 light (SMPTE ST 2065-1). Tables stand in ACEScct, whose 0..1 is light from -0.007 to 223; what lies outside
//! is brought to its ends. So the steps of a look that begins with a compress are a table over AP0, where no light that
//! there is lies below zero.

use crate::audit::{Figures, audit_plausible};
use crate::camera::Camera;
use crate::colour::SceneLight;
use crate::cube::{Cube, Curves, Interpolation, UNIT};
use crate::display::Display;
use crate::format::clf::{BitDepth, LogParameters, LogStyle, Node, Operation, ProcessList};
use crate::gamut::{self, AP1, Gamut};
use crate::invalid::Refusals;
use crate::look::Look;
use crate::math::bounded;
use crate::pipeline::Pipeline;
use crate::shot::Correction;
use crate::step::Step;
use crate::transfer::Transfer;
use crate::transfer::acescct::{ACES_CCT, BREAK, LINE_SLOPE, LOG_OFFSET, LOG_SLOPE};
use crate::transform::ColourTransform;
use nalgebra::{Matrix3, Vector3};

/// Entries of a camera's curve: four steps to a code value of 10 bits, each of which is an entry.
const ENTRIES: usize = 4 * 1023 + 1;

const ACES: &str = "ACES2065-1, linear AP0 light, mid-grey 0.18";

fn node(description: &str, operation: Operation) -> Node {
    let (from, to) = (BitDepth::F32, BitDepth::F32);
    Node { id: None, name: None, descriptions: vec![description.to_owned()], from, to, operation }
}

fn matrix(description: &str, m: &Matrix3<f64>) -> Node {
    node(description, Operation::Matrix(std::array::from_fn(|r| [m[(r, 0)], m[(r, 1)], m[(r, 2)], 0.0])))
}

/// To ACEScct, or from it (Academy S-2016-001).
fn aces_cct(style: LogStyle) -> Node {
    let parameters = LogParameters {
        base: 2.0,
        log_slope: LOG_SLOPE,
        log_offset: LOG_OFFSET,
        lin_slope: 1.0,
        lin_offset: 0.0,
        lin_break: Some(BREAK),
        linear_slope: Some(LINE_SLOPE),
    };
    let way = if style == LogStyle::CameraLinToLog { "to ACEScct" } else { "from ACEScct" };
    node(way, Operation::Log(style, [Some(parameters); 3]))
}

fn list(id: String, name: String, [input, output]: [&str; 2], nodes: Vec<Node>) -> ProcessList {
    let made = vec![format!("made by rushlight {}", env!("CARGO_PKG_VERSION"))];
    let (input, output) = (Some(input.to_owned()), Some(output.to_owned()));
    ProcessList { id, name: Some(name), descriptions: made, input, output, nodes }
}

/// A camera's signal to ACES: its curve as a table, and a matrix. `terms` say what the signal is.
///
/// # Errors
/// None for a camera that decodes.
pub fn input(id: String, name: String, terms: &str, camera: &Camera) -> Result<ProcessList, Refusals> {
    let last = (ENTRIES - 1) as f64;
    let entries = (0..ENTRIES).map(|i| bounded(camera.linearise([i as f64 / last; 3]))).collect();
    let curve = node("the camera's curve", Operation::Lut1d(Curves::new(UNIT, entries)?));
    let to_aces = AP1.to(&gamut::AP0, None) * camera.to_ap1();
    let nodes = vec![curve, matrix("the camera's gamut to AP0", &to_aces)];
    Ok(list(id, name, [&format!("camera signal: {terms}"), ACES], nodes))
}

/// Points along each edge of the tables of the parts where the show's cubes have `points`: half as many cells again. They
/// span seventeen stops and more, where a camera's signal spans fourteen or so, and two of them are taken in a row.
pub fn part_points(points: usize) -> usize {
    (points.max(2) - 1) * 3 / 2 + 1
}

/// A table over the ACEScct of light in `gamut`, between matrices, from ACES; `f` is given AP1 light.
///
/// What lies outside the table is brought to its ends, and ACEScct ends just below zero. AP0 has every light that there is
/// above zero in all three channels. AP1 has not: a neon blue has less green than none there, which a `compress` must see.
fn table(
    points: usize,
    (name, gamut): (&str, &Gamut),
    what: &str,
    f: impl Fn([f64; 3]) -> [f64; 3] + Sync,
) -> Result<Vec<Node>, Refusals> {
    let to_ap1 = gamut.to(&AP1, None);
    let cube = Cube::sample(points, |v| f((to_ap1 * Vector3::from(v.map(|v| ACES_CCT.decode(v)))).into()))?;
    let shaped = [aces_cct(LogStyle::CameraLinToLog), node(what, Operation::Lut3d(cube, Interpolation::Tetrahedral))];
    let to_gamut = (name != AP0).then(|| matrix(&format!("AP0 to {name}"), &gamut::AP0.to(gamut, None)));
    Ok(to_gamut.into_iter().chain(shaped).collect())
}

const AP0: &str = "AP0";

/// Steps of a look, from ACES to ACES.
///
/// # Errors
/// A size that no cube has.
pub fn look(id: String, name: String, steps: &[Step], points: usize) -> Result<ProcessList, Refusals> {
    let graded = |light: [f64; 3]| steps.iter().fold(SceneLight(light), |light, step| step.apply(light)).0;
    // What nothing brings in is far below zero in AP1, and no table holds how it comes there from AP0.
    let compresses = steps.first().is_some_and(|step| step.compress().is_some());
    let gamut = if compresses { (AP0, &gamut::AP0) } else { ("AP1", &AP1) };
    let mut nodes = table(points, gamut, "the steps of the look, to ACEScct of AP1", |light| {
        graded(light).map(|v| ACES_CCT.encode(v))
    })?;
    nodes.extend([aces_cct(LogStyle::CameraLogToLin), matrix("AP1 to AP0", &AP1.to(&gamut::AP0, None))]);
    Ok(list(id, name, [ACES, ACES], nodes))
}

/// The rendering of a look on a display, from ACES to the display's signal, which `terms` describe.
///
/// # Errors
/// A look that does not fit the display, a size that no cube has.
pub fn output(
    id: String,
    name: String,
    terms: &str,
    (camera, look, display): (&Camera, &Look, &Display),
    points: usize,
) -> Result<ProcessList, Refusals> {
    let bare = look.with_steps(Vec::new());
    // No camera's: the path from light does not pass it.
    let path = Pipeline::new(camera, &bare, display)?;
    // A compress leaves no light outside AP1, and renderings make nothing of what is: a table over it has the least error.
    let what = "the look's rendering on the display";
    let nodes = table(points, ("AP1", &AP1), what, |light| path.apply_to_light(light).0)?;
    Ok(list(id, name, [ACES, &format!("display signal: {terms}")], nodes))
}

/// Transforms that are taken one after the other.
#[derive(Debug, Clone, Copy)]
pub struct Chain<'c> {
    /// Camera signal to ACES.
    pub input: &'c ProcessList,
    /// The steps before a shot's correction.
    pub first: Option<&'c ProcessList>,
    /// A shot's correction on scene light.
    pub correction: Option<&'c Correction>,
    /// The steps of the look, or the rest of them.
    pub look: Option<&'c ProcessList>,
    /// ACES to the display's signal.
    pub output: &'c ProcessList,
}

impl Chain<'_> {
    /// Camera signal to display signal.
    pub fn apply(&self, signal: [f64; 3]) -> [f64; 3] {
        let mut rgb = self.input.apply(signal);
        rgb = self.first.map_or(rgb, |first| first.apply(rgb));
        if let Some(correction) = self.correction {
            let light = gamut::AP0.to(&AP1, None) * Vector3::from(rgb);
            rgb = (AP1.to(&gamut::AP0, None) * Vector3::from(correction.on_light(light.into()))).into();
        }
        rgb = self.look.map_or(rgb, |look| look.apply(rgb));
        self.output.apply(rgb)
    }

    /// Its error against the exact path on colours that a camera meets.
    pub fn strays(&self, exact: &Pipeline) -> Figures {
        audit_plausible(exact, self)
    }
}

impl ColourTransform for Chain<'_> {
    fn transform(&self, signal: [f64; 3]) -> [f64; 3] {
        self.apply(signal)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::Range;
    use crate::display::standard;
    use crate::files::{FileError, Files};
    use crate::gamut::named_gamut;
    use crate::shot::Grading;
    use crate::show::Show;
    use crate::step::Rendering;
    use crate::step::cdl::CdlNumbers;
    use crate::step::exposure::ExposureSettings;
    use crate::step::tone::ToneSettings;
    use crate::stress::named_signals;
    use crate::test_colours::plausible;
    use crate::transfer::encoding;

    #[test]
    fn the_chain_is_the_path() {
        let curve = encoding("slog3").unwrap().build(None).unwrap();
        let gamut = named_gamut("sgamut3-cine").unwrap().gamut;
        let camera = Camera::new(curve, &gamut, None, Range::Legal, Vec::new()).unwrap();
        let display = Display::of(standard("bt709").unwrap());
        let steps = vec![Step::new(ExposureSettings::stops(-0.5)).unwrap()];
        let made = Look::new("x", 1, steps, Rendering::new(ToneSettings::default()).unwrap());
        let text = String::new;
        let into = input(text(), text(), "legal", &camera).unwrap();
        let steps = look(text(), text(), made.steps(), 33).unwrap();
        let out = output(text(), text(), "", (&camera, &made, &display), 33).unwrap();
        // Mid-grey is code 420 of the maker's table, squeezed into 64..940; in ACES it is 0.18.
        let grey = into.apply([Range::Legal.encode(420.0 / 1023.0); 3]);
        assert!(grey.iter().all(|v| (v - 0.18).abs() < 1e-6), "{grey:?}");
        let half = steps.apply([0.18; 3]);
        assert!(half.iter().all(|v| (v - 0.18 * 0.5f64.sqrt()).abs() < 1e-6), "{half:?}");
        let exact = Pipeline::new(&camera, &made, &display).unwrap();
        let numbers = CdlNumbers { slope: [1.1, 1.0, 0.95], ..CdlNumbers::default() };
        let correction = Grading::default().correction(numbers).unwrap();
        for correction in [None, Some(&correction)] {
            let chain = Chain { input: &into, first: None, correction, look: Some(&steps), output: &out };
            let strays = chain.strays(&exact.clone().with_correction(correction.cloned()));
            assert!(strays.mean < 0.5, "{strays:?}");
        }
    }

    struct Folder;

    impl Files for Folder {
        fn read(&self, name: &str) -> Result<Vec<u8>, FileError> {
            let demo = concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/demo/");
            Ok(std::fs::read(demo.to_owned() + name)?)
        }
    }

    /// By signal of the display, over colours that a camera meets and the lights by name at every stop: neon blue came to
    /// 0.13 of signal while the tables stood in AP1.
    #[test]
    fn the_chain_holds_for_every_colour_that_a_camera_meets() {
        const COUNT: usize = 4000;
        let text = String::from_utf8(Folder.read("show.toml").unwrap()).unwrap();
        let show = Show::parse("show.toml", &text, &Folder).unwrap();
        let points = part_points(33);
        assert_eq!(points, 49);
        for (look_name, made) in show.looks() {
            let (text, made) = (String::new, &made.item);
            let steps = look(text(), text(), made.steps(), points).unwrap();
            for (display_name, display) in show.displays() {
                let display = &display.item;
                let any = &show.cameras()["a"].item;
                let out = output(text(), text(), "", (any, made, display), points).unwrap();
                for (name, camera) in show.cameras() {
                    let camera = &camera.item;
                    let into = input(text(), text(), "", camera).unwrap();
                    let exact = Pipeline::new(camera, made, display).unwrap();
                    let chain = Chain { input: &into, first: None, correction: None, look: Some(&steps), output: &out };
                    let far = |signal: [f64; 3]| {
                        let (want, got) = (exact.apply(signal), chain.apply(signal));
                        (0..3).map(|i| (want[i] - got[i]).abs()).fold(0.0, f64::max)
                    };
                    let mut met: Vec<f64> = plausible(camera, 1, COUNT).into_iter().map(far).collect();
                    met.sort_by(f64::total_cmp);
                    let case = format!("{look_name} {name} {display_name}");
                    let (most, last) = (met[COUNT * 99 / 100], met[COUNT - 1]);
                    assert!(most <= 0.01 && last <= 0.05, "{case}: {most} at 99 %, {last} at most");
                    for (light, stops, signal) in named_signals(camera) {
                        let strays = far(signal);
                        assert!(strays <= 0.05, "{case}: {light} at {stops} stops: {strays}");
                    }
                }
            }
        }
    }
}
