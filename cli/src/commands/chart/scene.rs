//! `chart --at`: camera B matched to camera A by even things that one scene shows to both.

use super::{Found, Input, Read, failure, finish, had, of_show, report};
use crate::args::Chart as Args;
use crate::drawing::Format;
use crate::failure::Failure;
use rushlight::camera::Camera;
use rushlight::chart::measure::{Shot, matched};
use rushlight::chart::read::places;
use rushlight::chart::{Chart, light::Light, scene};
use rushlight::frame::Frame;
use rushlight::measure::Claim;
use rushlight::show::Show;
use std::path::{Path, PathBuf};

/// A point is read as a square of this part of the frame's width.
const SQUARE: f64 = 1.0 / 80.0;

pub(super) fn run(
    args: &Args,
    show: Option<&Show>,
    own: Option<&Camera>,
    claim: Claim,
    picture: Option<(PathBuf, Format)>,
) -> Result<(), Failure> {
    let ([path], [other_path]) = (&args.frames[..], &args.matched[..]) else {
        return Err(Failure::new("--at takes one frame, and one of the other camera by --match"));
    };
    if args.at.len() != args.match_at.len() {
        return Err(Failure::new(format!(
            "--match-at: {} places for {} of --at: give the same things in the same order",
            args.match_at.len(),
            args.at.len()
        )));
    }
    if args.matrix {
        return Err(Failure::new("--matrix states the light of a chart, and that of a scene is not known"));
    }
    let (show, name) = show.zip(args.to.as_deref()).ok_or_else(|| Failure::new("--match needs --show and --to"))?;
    let other = of_show(show, "--to", name)?;
    let other_claim = Claim { name: name.to_owned(), curve: other.shared_curve(), range: other.range() };
    let chart = scene(args.at.len());
    let two = read(args, other_path, "--match-at", &args.match_at, &chart, &other_claim, other)?;
    let one = read(args, path, "--at", &args.at, &chart, &claim, own.unwrap_or(other))?;
    let (shots, others) = ([one.shot.clone()], [two.shot]);
    let before = own.map(|camera| camera.clone().unbalanced().to_d65());
    let colours = matched(&chart, &shots, &others, &other.to_d65(), before.as_ref()).map_err(failure)?;
    let seen = report::through_look(args, show, &chart, &claim, (&colours, &shots), (name, &others))?;
    let target = format!("camera {name} of the show, by {} places of one scene", chart.patches.len());
    let (had, reads) = (had(args, Some(show)), vec![one]);
    finish(
        args,
        &Found { chart, claim, reads, colours, had, target, between: None, by_light: Vec::new(), seen },
        picture,
    )
}

fn read(
    args: &Args,
    path: &Path,
    option: &str,
    texts: &[String],
    chart: &Chart,
    claim: &Claim,
    camera: &Camera,
) -> Result<Read, Failure> {
    let (frame, sha256) = Input::of(args).opened(path)?;
    let rectangles = texts.iter().map(|text| place(option, text, &frame)).collect::<Result<Vec<_>, Failure>>()?;
    let clip = args.ei.and_then(|ei| camera.rating(ei)).and_then(|r| r.clip);
    let name = path.display().to_string();
    let view = places(&frame, chart, &rectangles, claim, clip).map_err(|why| Failure::new(format!("{name}: {why}")))?;
    Ok(Read { shot: Shot { name, light: Light::unknown(), view }, sha256, frame })
}

/// X,Y or X,Y,W,H.
fn place(option: &str, text: &str, frame: &Frame) -> Result<[f64; 4], Failure> {
    let numbers: Option<Vec<f64>> =
        text.split(',').map(|n| n.trim().parse().ok().filter(|v: &f64| v.is_finite())).collect();
    let (width, height) = (frame.width() as f64, frame.height() as f64);
    let side = (SQUARE * width).max(8.0);
    let [x, y, w, h] = match numbers.as_deref() {
        Some(&[x, y]) => [x - side / 2.0, y - side / 2.0, side, side],
        Some(&[x, y, w, h]) => [x, y, w, h],
        _ => {
            let why = "it must be X,Y or X,Y,W,H in pixels, such as 412,230 or 400,220,24,20";
            return Err(Failure::new(format!("{option}: `{text}`: {why}")));
        }
    };
    if !(w > 0.0 && h > 0.0 && x >= 0.0 && y >= 0.0 && x + w <= width && y + h <= height) {
        let why = format!("it reaches outside the frame, which has {width} x {height} pixels");
        return Err(Failure::new(format!("{option}: `{text}`: {why}")));
    }
    Ok([x, y, w, h])
}
