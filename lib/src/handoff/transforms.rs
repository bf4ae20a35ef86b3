//! A pipeline as transforms of its own kind: camera signal to ACES, ACES to ACES, ACES to the signal of a display.
//!
//! The exact path is one function; these are three files that a program for ACES takes one after the other. ACES is
//! linear AP0 light (SMPTE ST 2065-1). Tables stand in ACEScct, whose 0..1 is light from -0.007 to 223; what lies outside
//! is brought to its ends.

use crate::audit::{Figures, audit_plausible};
use crate::camera::Camera;
use crate::cube::{Cube, Curves, Interpolation, UNIT};
use crate::display::Display;
use crate::format::clf::{BitDepth, LogParameters, LogStyle, Node, Operation, ProcessList};
use crate::gamut::{AP1, Gamut, named_gamut};
use crate::invalid::Invalid;
use crate::look::Look;
use crate::math::bounded;
use crate::pipeline::Pipeline;
use crate::shot::Grade;
use crate::step::Step;
use crate::transfer::Transfer;
use crate::transfer::acescct::{ACES_CCT, BREAK, LINE_SLOPE, LOG_OFFSET, LOG_SLOPE};
use nalgebra::{Matrix3, Vector3};

/// Entries of a camera's curve: four steps to a code value of 10 bits, each of which is an entry.
const ENTRIES: usize = 4 * 1023 + 1;

const ACES: &str = "ACES2065-1, linear AP0 light, mid-grey 0.18";

/// The gamut of ACES2065-1.
fn ap0() -> Gamut {
    named_gamut("aces-ap0").expect("the catalogue has it").gamut
}

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
pub fn input(id: String, name: String, terms: &str, camera: &Camera) -> Result<ProcessList, Vec<Invalid>> {
    let last = (ENTRIES - 1) as f64;
    let entries = (0..ENTRIES).map(|i| bounded(camera.linearise([i as f64 / last; 3]))).collect();
    let curve = node("the camera's curve", Operation::Lut1d(Curves::new(UNIT, entries)?));
    let to_aces = AP1.to(&ap0(), None) * camera.to_ap1();
    let nodes = vec![curve, matrix("the camera's gamut to AP0", &to_aces)];
    Ok(list(id, name, [&format!("camera signal: {terms}"), ACES], nodes))
}

/// A table in ACEScct between two matrices, from ACES.
fn table(points: usize, what: &str, f: impl Fn([f64; 3]) -> [f64; 3] + Sync) -> Result<Vec<Node>, Vec<Invalid>> {
    let cube = Cube::sample(points, |v| f(v.map(|v| ACES_CCT.decode(v))))?;
    Ok(vec![
        matrix("AP0 to AP1", &ap0().to(&AP1, None)),
        aces_cct(LogStyle::CameraLinToLog),
        node(what, Operation::Lut3d(cube, Interpolation::Tetrahedral)),
    ])
}

/// Steps of a look, from ACES to ACES.
///
/// # Errors
/// A size that no cube has.
pub fn look(id: String, name: String, steps: &[Step], points: usize) -> Result<ProcessList, Vec<Invalid>> {
    let graded = |light: [f64; 3]| steps.iter().fold(light, |rgb, step| step.apply(rgb));
    let mut nodes =
        table(points, "the steps of the look, in ACEScct", |light| graded(light).map(|v| ACES_CCT.encode(v)))?;
    nodes.extend([aces_cct(LogStyle::CameraLogToLin), matrix("AP1 to AP0", &AP1.to(&ap0(), None))]);
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
) -> Result<ProcessList, Vec<Invalid>> {
    let bare = Look::new(look.title(), look.revision(), Vec::new(), look.rendering().clone());
    // No camera's: the path from light does not pass it.
    let path = Pipeline::new(camera, &bare, display)?;
    let nodes = table(points, "the look's rendering on the display", |light| path.apply_to_light(light))?;
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
    pub grade: Option<&'c Grade>,
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
        if let Some(grade) = self.grade {
            let light = ap0().to(&AP1, None) * Vector3::from(rgb);
            rgb = (AP1.to(&ap0(), None) * Vector3::from(grade.on_light(light.into()))).into();
        }
        rgb = self.look.map_or(rgb, |look| look.apply(rgb));
        self.output.apply(rgb)
    }

    /// How far it strays from the exact path on colours that a camera meets.
    pub fn strays(&self, exact: &Pipeline) -> Figures {
        audit_plausible(exact, |signal| self.apply(signal))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::Range;
    use crate::display::standard;
    use crate::gamut::named_gamut;
    use crate::shot::Grading;
    use crate::step::Rendering;
    use crate::step::cdl::CdlNumbers;
    use crate::step::exposure::Exposure;
    use crate::step::tone::ToneSettings;
    use crate::transfer::encoding;

    #[test]
    fn the_chain_is_the_path() {
        let curve = encoding("slog3").unwrap().build(None).unwrap();
        let gamut = named_gamut("sgamut3-cine").unwrap().gamut;
        let camera = Camera::new(curve, &gamut, None, Range::Legal, Vec::new()).unwrap();
        let display = Display::of(standard("bt709").unwrap());
        let steps = vec![Step::Exposure(Exposure::from_stops(-0.5).unwrap())];
        let made = Look::new("x", 1, steps, Rendering::Tone(ToneSettings::default()));
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
        let grade = Grading::default().grade(numbers).unwrap();
        for grade in [None, Some(&grade)] {
            let chain = Chain { input: &into, first: None, grade, look: Some(&steps), output: &out };
            let strays = chain.strays(&exact.clone().with_grade(grade.cloned()));
            assert!(strays.mean < 0.5, "{strays:?}");
        }
    }
}
