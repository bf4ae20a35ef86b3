//! The scopes of the frames that a sheet is given, and of those that the show has of its shots: a side of its own.

use crate::drawing::{Drawing, scope};
use crate::failure::Failure;
use crate::frames;
use crate::output;
use crate::page::chart;
use crate::picture::Scene;
use maud::{Markup, html};
use rushlight::camera::Camera;
use rushlight::cube::{Cube, Interpolation, POINTS};
use rushlight::frame::{Frame, ReadOptions};
use rushlight::image_state::{self, From, ImageState, to_ap1};
use rushlight::scope::{Plane, Scales};
use rushlight::sheet::{LookSheet, ScopeOf, ScopeSummary, ends_at};
use rushlight::show::Show;
use rushlight::transform::Interpolate;
use std::path::Path;

/// Pixels across that are counted, as the page of `preview` counts them.
const ACROSS: usize = 1920;
/// Frames on a side of A4.
const ON_A_SIDE: usize = 4;

/// The scopes of one frame: in numbers, and drawn.
pub(super) struct Scoped {
    pub(super) summary: ScopeSummary,
    drawings: [Drawing; 3],
}

/// Those of a look: of `given`, frames of AP1 light with their names, through its first camera; then of its shots' frames.
pub(super) fn scopes(
    look: &LookSheet,
    show: &Show,
    given: &[(String, &Frame)],
    folder: &Path,
) -> Result<Vec<Scoped>, Failure> {
    let Some(first) = look.cameras.first() else { return Ok(Vec::new()) };
    let mut all = Vec::new();
    for (name, frame) in given {
        let camera = &show.camera(&first.name).map_err(Failure::refused)?.item();
        let of = ScopeOf { frame: name, camera: &first.name, display: "", shot: None };
        all.extend(scoped(look, show, of, &Scene::frame_within(camera, frame, ACROSS), None)?);
    }
    for shot in &look.shots {
        let Some(noted) = show.shots().get(&shot.name) else { continue };
        let Some(file) = &noted.notes.frame else { continue };
        let name = shot.camera.as_ref().unwrap_or(&first.name);
        // A shot of a camera that this look is not baked for.
        if !look.cameras.iter().any(|camera| camera.name == *name) {
            continue;
        }
        let camera = show.camera(name).map_err(Failure::refused)?.item();
        match scene(&folder.join(file), camera) {
            Ok(scene) => {
                let of = ScopeOf { frame: file, camera: name, display: "", shot: Some(&shot.name) };
                all.extend(scoped(look, show, of, &scene, noted.notes.ei)?);
            }
            // A sheet without it is better than none.
            Err(failure) => output::note(&format!("no scopes of the shot {}: {}", shot.name, failure.words())),
        }
    }
    Ok(all)
}

/// The frame of a shot as signals of its camera.
fn scene(path: &Path, camera: &Camera) -> Result<Scene, Failure> {
    let mut frame = frames::still(path, &ReadOptions::default())?;
    // What does not say that it is anything else is the camera's signal, as the show says of it.
    match image_state::of(&frame).map(|known| known.state) {
        Ok(ImageState::Light(gamut)) => {
            to_ap1(&mut frame, From::Light(&gamut));
            Ok(Scene::frame_within(camera, &frame, ACROSS))
        }
        Ok(state @ ImageState::Display(_)) => Err(Failure::new(format!(
            "{}: it is {state}: give a frame of the camera's signal or of light",
            path.display()
        ))),
        Ok(ImageState::Camera) | Err(_) => Ok(Scene::signal(&frame, ACROSS)),
    }
}

/// Through the first display of standard dynamic range that the camera is baked for, or else the first.
fn scoped(
    look: &LookSheet,
    show: &Show,
    of: ScopeOf<'_>,
    scene: &Scene,
    ei: Option<f64>,
) -> Result<Option<Scoped>, Failure> {
    let baked = |display: &str| show.jobs().iter().any(|job| job.names() == [&look.name, of.camera, display]);
    let mut displays: Vec<_> = look.displays.iter().filter(|display| baked(&display.name)).collect();
    displays.sort_by_key(|display| display.hdr);
    let Some(display) = displays.first() else { return Ok(None) };
    let of = ScopeOf { display: &display.name, ..of };
    let job = show.job(&look.name, of.camera, of.display, POINTS).and_then(|job| job.with_shot(of.shot));
    let job = job.map_err(Failure::refused)?;
    let path = job.pipeline().map_err(|refused| Failure::of_path(&look.name, of.display, refused))?;
    let cube = Cube::of(&path, POINTS).map_err(Failure::refused)?;
    let (camera, monitor) = (path.camera(), path.display());
    let ends = ends_at(camera, ei).map_err(|refused| Failure::new(format!("camera {}: {refused}", of.camera)))?;
    let scales = Scales::of(camera, ends.ei, monitor);
    let counted = scales.count(scene.width, &scene.signals, &cube.by(Interpolation::Tetrahedral));
    let summary = ScopeSummary::of(of, &counted, &scene.signals, &ends);
    let said = summary.words();
    let drawings = [
        scope::stops(&counted, summary.floor, summary.clip, &format!("Waveform in stops from mid-grey. {said}"))?,
        scope::display(&counted, monitor, &shown(&summary))?,
        scope::chromaticity(&counted, &Plane::of(camera, monitor), &place(&summary))?,
    ];
    Ok(Some(Scoped { summary, drawings }))
}

/// What it is of, in words.
fn title(summary: &ScopeSummary) -> String {
    let ScopeSummary { frame, camera, display, shot, ei, .. } = summary;
    let shot = shot.as_ref().map_or_else(String::new, |shot| format!("shot {shot}, "));
    let ei = ei.map_or_else(String::new, |ei| format!(" at EI {ei}"));
    format!("{shot}{frame}: camera {camera}{ei}, on {display}")
}

fn shown(summary: &ScopeSummary) -> String {
    let [low, middle, high] = summary.display_code_10;
    format!(
        "Waveform of the display\u{2019}s channels, {}. 90 % of their values lie between the 10-bit codes {low:.0} and {high:.0}, half \
         under {middle:.0}.",
        title(summary)
    )
}

fn place(summary: &ScopeSummary) -> String {
    let mean = summary.chromaticity.map_or_else(String::new, |[u, v]| format!(" The mean is at {u:.3}, {v:.3}."));
    format!("Chromaticity of the display\u{2019}s light in CIE 1976 u\u{2032}, v\u{2032}, {}.{mean}", title(summary))
}

fn percent(shares: [f64; 3]) -> String {
    let one =
        |share: f64| if share > 0.0 && share < 5e-4 { "<0.1".to_owned() } else { format!("{:.1}", 100.0 * share) };
    shares.map(one).join(", ")
}

/// Sides of scopes under `running`, what stands over every side.
pub(super) fn sides(all: &[Scoped], running: &Markup) -> Markup {
    html! {
        @for (i, some) in all.chunks(ON_A_SIDE).enumerate() {
            section.side.scopes {
                (running)
                h2 { "Scopes" }
                @if i == 0 {
                    p.note {
                        "The pixels of each frame through this look and a 33-point cube, from left to right as in the picture: the \
                         camera\u{2019}s channels in stops from mid-grey, and the display\u{2019}s. The more pixels, the stronger the colour. A frame wider than \
                         1920 pixels is first reduced to 1920. A single clipped pixel can then disappear."
                    }
                }
                @for Scoped { summary, drawings } in some {
                    div.scope {
                        p {
                            b { (title(summary)) } ". " (summary.words().replace(" -", " \u{2212}")) " Red, green, blue at the clip: "
                            (percent(summary.clipped)) " %; under the floor: " (percent(summary.under_floor)) " %."
                        }
                        div.three { @for drawing in drawings { (chart(drawing)) } }
                    }
                }
            }
        }
    }
}
