//! `probe`

use crate::args::Probe;
use crate::failure::Failure;
use crate::table;
use crate::{output, target};
use rushlight::pipeline::{Pipeline, Stage};
use rushlight::table_file::Kind;
use rushlight::table_file::TableFile;
use rushlight::transfer::MID_GREY;
use schemars::JsonSchema;
use serde::Serialize;
use std::fmt::Write as _;
use std::io::Read;

#[derive(Serialize, JsonSchema)]
struct PathReport {
    /// The shot whose correction is on the path.
    #[serde(skip_serializing_if = "Option::is_none")]
    shot: Option<String>,
    /// What its correction is before or after, and in which space.
    #[serde(skip_serializing_if = "Option::is_none")]
    order: Option<String>,
    /// Name of the look.
    look: String,
    /// Name of the camera.
    camera: String,
    /// Name of the display.
    display: String,
    /// Each colour with what becomes of it.
    colours: Vec<Colour>,
}

#[derive(Serialize, JsonSchema)]
struct Colour {
    /// The signal that goes in.
    r#in: [f64; 3],
    /// What it is after each stage.
    stages: Vec<StageReport>,
    /// The signal that comes out.
    out: [f64; 3],
}

impl Colour {
    /// What comes out is the last stage.
    fn new(signal: [f64; 3], stages: Vec<StageReport>) -> Self {
        Self { r#in: signal, out: stages.last().map_or(signal, |s| s.rgb), stages }
    }
}

#[derive(Serialize, JsonSchema)]
struct StageReport {
    /// Name of the stage.
    name: &'static str,
    /// What the numbers are.
    unit: &'static str,
    /// Red, green and blue.
    rgb: [f64; 3],
}

/// What is printed as JSON.
#[derive(Serialize, JsonSchema)]
#[serde(untagged)]
#[schemars(title = "Rushlight probe")]
enum Report {
    /// On the path of a show.
    Path(PathReport),
    /// Through a table.
    Table(TableReport),
}

/// The JSON Schema of the report.
pub(crate) fn schema() -> serde_json::Value {
    schemars::schema_for!(Report).to_value()
}

pub(crate) fn run(args: &Probe) -> Result<(), Failure> {
    if Kind::of(&args.file).is_some() {
        return run_table(args);
    }
    if args.interpolation.is_some() {
        return Err(Failure::new("--interpolation: only for a table file; the path of a show is exact"));
    }
    let target = target::load(&args.file, &args.pick)?.of_shot(args.shot.as_deref())?;
    let job = target.job(args.shot.as_deref())?;
    let [look, camera, display] = job.names();
    let pipeline = job.pipeline().map_err(|refused| Failure::of_path(look, display, refused))?;
    let colours = colours(args, Some(&pipeline))?;
    let colour = |signal: [f64; 3]| {
        let stages = pipeline.stages(signal).into_iter();
        let stages = stages.map(|Stage { name, unit, rgb }| StageReport { name, unit, rgb }).collect();
        Colour::new(signal, stages)
    };
    let colours: Vec<Colour> = colours.into_iter().map(colour).collect();
    let finite = |colour: &Colour| colour.stages.iter().all(|s| s.rgb.iter().all(|v| v.is_finite()));
    if let Some(Colour { r#in: [r, g, b], .. }) = colours.iter().find(|c| !finite(c)) {
        let largest = r.max(*g).max(*b);
        return Err(Failure::new(no_signal(if largest > 1.0 { largest } else { r.min(*g).min(*b) })));
    }
    let shot = job.shot().map(str::to_owned);
    let order = shot.as_ref().map(|_| target.show.grading().words());
    let [look, camera, display] = [look, camera, display].map(str::to_owned);
    let report = PathReport { shot, order, look, camera, display, colours };
    if args.json {
        return output::print_json(&Report::Path(report));
    }
    let mut head = format!("look {}, camera {}, display {}\n", report.look, report.camera, report.display);
    if let (Some(shot), Some(order)) = (&report.shot, &report.order) {
        head = format!("shot {shot}, {head}{order}\n");
    }
    output::print(&text(&head, "camera signal, code value over 1023", &report.colours))
}

#[derive(Serialize, JsonSchema)]
struct TableReport {
    /// The file.
    file: String,
    /// Its interpolation; none where it states its own.
    interpolation: Option<&'static str>,
    /// Each colour with what becomes of it.
    colours: Vec<Colour>,
}

/// What a reader of a table file gets.
fn run_table(args: &Probe) -> Result<(), Failure> {
    if args.shot.is_some() {
        return Err(Failure::new("--shot: only for a show, not for a table file"));
    }
    if args.pick.look.is_some() || args.pick.camera.is_some() || args.pick.display.is_some() {
        return Err(Failure::new("--look, --camera, --display: only for a show, not for a table file"));
    }
    let source = table::load(&args.file)?;
    let source = source.read_by(args.interpolation);
    let colour = |signal: [f64; 3]| {
        let stages = source.stages(signal).into_iter();
        let stages: Vec<StageReport> =
            stages.map(|(name, rgb)| StageReport { name, unit: "signal, as the file has it", rgb }).collect();
        Colour::new(signal, stages)
    };
    let asked = colours(args, None)?;
    let [low, high] = source.domain();
    let is_outside = |rgb: &[f64; 3]| (0..3).any(|c| rgb[c] < low[c] || rgb[c] > high[c]);
    // A CLF may be steps without bounds.
    let has_edge = matches!(source, TableFile::Cube(..));
    if let Some([r, g, b]) = asked.iter().find(|rgb| has_edge && is_outside(rgb)) {
        let [r, g, b] = [r, g, b].map(|v| rushlight::invalid::short(*v));
        output::note(&format!(
            "{r} {g} {b} lies outside the domain of the file: what is printed is the edge of its table"
        ));
    }
    let report = TableReport {
        file: args.file.display().to_string(),
        interpolation: source.interpolation(),
        colours: asked.into_iter().map(colour).collect(),
    };
    if args.json {
        return output::print_json(&Report::Table(report));
    }
    let by = report.interpolation.map(|kind| format!(", {kind}")).unwrap_or_default();
    output::print(&text(&format!("{}{by}\n", report.file), "signal", &report.colours))
}

/// What is wrong with a signal that no light belongs to, with the signal that its code stands for where it is one.
pub(crate) fn no_signal(given: f64) -> String {
    let said = rushlight::invalid::short(given);
    let code = (given.fract() == 0.0 && (2.0..=1023.0).contains(&given))
        .then(|| format!(": code {said} of 10 bits is {:.4} ({said} / 1023)", given / 1023.0));
    format!("{said} is no signal: a signal is 0 to 1{}", code.unwrap_or_default())
}

/// The signals that were asked for.
fn colours(args: &Probe, pipeline: Option<&Pipeline>) -> Result<Vec<[f64; 3]>, Failure> {
    if let Some(stops) = args.stops {
        if !(-30.0..=30.0).contains(&stops) {
            return Err(Failure::new(format!("--stops: {stops} is out of range: it must lie between -30 and 30")));
        }
        let Some(pipeline) = pipeline else {
            return Err(Failure::new("--stops: a table file does not state where mid-grey is: give a colour"));
        };
        return Ok(vec![pipeline.camera().encode([MID_GREY * rushlight::math::exp2(stops); 3]).0]);
    }
    match args.colour.as_slice() {
        [dash] if dash == "-" => {
            let mut text = String::new();
            std::io::stdin().read_to_string(&mut text).map_err(|e| Failure::new(format!("standard input: {e}")))?;
            let lines = text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty());
            let colours = lines.map(|(i, line)| {
                let words: Vec<&str> = line.split([' ', '\t', ',']).filter(|w| !w.is_empty()).collect();
                triple(&words).map_err(|why| Failure::new(format!("standard input, line {}: {why}", i + 1)))
            });
            let colours: Vec<[f64; 3]> = colours.collect::<Result<_, _>>()?;
            if colours.is_empty() {
                Err(Failure::new("standard input has no colour: give red, green and blue on each line"))
            } else {
                Ok(colours)
            }
        }
        [] => Err(Failure::new("no colour: give red, green and blue of the camera signal, or --stops, or `-`")),
        words => {
            let words: Vec<&str> = words.iter().map(String::as_str).collect();
            let help = "give red, green and blue of the signal, or --stops, or `-`";
            triple(&words).map(|c| vec![c]).map_err(|why| Failure::new(format!("{why}: {help}")))
        }
    }
}

fn triple(words: &[&str]) -> Result<[f64; 3], String> {
    let [r, g, b] = words else {
        return Err(format!("{} numbers where a colour has three", words.len()));
    };
    let number = |word: &str| {
        word.parse().ok().filter(|v: &f64| v.is_finite()).ok_or_else(|| format!("`{word}` is not a finite number"))
    };
    Ok([number(r)?, number(g)?, number(b)?])
}

fn text(head: &str, unit: &str, colours: &[Colour]) -> String {
    let mut text = head.to_owned();
    for colour in colours {
        let row = |name: &str, rgb: &[f64; 3]| {
            format!("\n{name:<11}{:>12}{:>12}{:>12}", number(rgb[0]), number(rgb[1]), number(rgb[2]))
        };
        text.push_str(&row("in", &colour.r#in));
        let _ = writeln!(text, "\n           {unit}");
        for stage in &colour.stages {
            text.push_str(&row(stage.name, &stage.rgb));
            let _ = writeln!(text, "\n           {}", stage.unit);
        }
    }
    text
}

/// Six significant digits or so, in as few characters as they need.
fn number(v: f64) -> String {
    if v != 0.0 && (v.abs() >= 1e6 || v.abs() < 1e-4) { format!("{v:.4e}") } else { format!("{v:.6}") }
}
