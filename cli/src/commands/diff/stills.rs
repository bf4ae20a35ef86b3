//! Two pictures of a display's signal, such as the expected one and what a chain gave.

use super::Format;
use super::html::{STYLE, class, key};
use super::pictures::{colour, factor};
use crate::args::Diff;
use crate::failure::{BEYOND, Failure};
use crate::formats::{self, Wanted};
use crate::frames;
use crate::output::{self, push_field};
use crate::page::Page;
use crate::picture::{Screen, data_uri};
use crate::{disk, target};
use maud::html;
use rushlight::compare::GroupName;
use rushlight::difference::Formula;
use rushlight::display::Display;
use rushlight::format::hald::Hald;
use rushlight::frame::{Format as Still, Frame, ReadOptions};
use rushlight::image_state::{self, ImageState};
use rushlight::limit::Limit;
use rushlight::pictures::{Compared, Figures, Report, compare};
use rushlight::show::standing_display;
use rushlight::table_file::Kind;
use std::path::Path;
use std::process::ExitCode;

/// Whether two files are pictures and not tables: a PNG may be either, and is a table where both are.
pub(super) fn are_pictures(old: &Path, new: &Path) -> bool {
    let still = |path: &Path| path.extension().and_then(|e| e.to_str()).and_then(Still::from_extension);
    let hald = |path: &Path| {
        Kind::of(path).is_some() && disk::read_bytes(path).is_ok_and(|bytes| Hald::from_png(&bytes).is_ok())
    };
    still(old).is_some() && still(new).is_some() && !(hald(old) && hald(new))
}

pub(super) fn run(
    args: &Diff,
    wanted: &[Wanted<Format>],
    limits: &[Limit],
    [old, new]: [&Path; 2],
) -> Result<ExitCode, Failure> {
    let known = |format: &Format| matches!(format, Format::Text | Format::Json | Format::Html);
    if wanted.iter().any(|(format, _)| !known(format)) {
        return Err(Failure::new("--format: of two pictures, text, json and html are written"));
    }
    if let Some(limit) = limits.iter().find(|l| l.set.as_deref().is_some_and(|set| set != GroupName::Whole.name())) {
        return Err(Failure::new(format!("--limit {limit}: two pictures have one group, whole")));
    }
    let read = |path: &Path| frames::still(path, &ReadOptions::default());
    let (a, b) = (read(old)?, read(new)?);
    let (display, said) = display(args, [(old, &a), (new, &b)])?;
    let compared = compare(&a, &b, &display)
        .map_err(|why| Failure::new(format!("{} and {}: {}", old.display(), new.display(), why.message)))?;
    let sides = [old, new].map(|path| path.display().to_string());
    let report = Report::new(sides, said, compared.figures.clone(), limits);
    let short = text(&report);
    formats::deliver(wanted, short.lines().next().unwrap_or_default(), |format| {
        Ok(match format {
            Format::Json => output::json(&report)?,
            Format::Html => html(&report, &compared, [&a, &b], &display)?,
            _ => text(&report),
        })
    })?;
    Ok(if report.verdict.passes() || args.exit_zero { ExitCode::SUCCESS } else { ExitCode::from(BEYOND) })
}

/// The display whose signal both pictures are, and the reason for taking it, in words.
fn display(args: &Diff, pictures: [(&Path, &Frame); 2]) -> Result<(Display, String), Failure> {
    if let Some(name) = &args.pick.display {
        let show = args.show.as_deref().map(|path| target::load_show(path, &None)).transpose()?;
        let found = show.as_ref().and_then(|show| show.displays().get(name));
        let entry = match found {
            Some(entry) => entry.clone(),
            None => standing_display(name).map_err(Failure::options)?.1,
        };
        return Ok((entry.item, format!("{name} ({})", entry.id)));
    }
    let mut names: Vec<(&Path, &'static str, &'static str)> = Vec::new();
    let mut unknown = Vec::new();
    for (path, frame) in pictures {
        match image_state::of(frame) {
            Ok(known) => match known.state {
                ImageState::Display(Some(name)) => names.push((path, name, known.by)),
                ImageState::Display(None) => {
                    unknown.push(format!("{}: {} does not say for which display", path.display(), known.by))
                }
                state => {
                    return Err(Failure::new(format!(
                        "{}: it is {state}, by {}: two pictures are compared as a display shows them: give --display if it \
                         holds a display's signal",
                        path.display(),
                        known.by
                    )));
                }
            },
            Err(why) => unknown.push(format!("{}: {why}", path.display())),
        }
    }
    match names[..] {
        [(path, one, _), (other_path, other, _)] if one != other => Err(Failure::new(format!(
            "{} is for {one}, {} for {other}: give --display if one of the tags is wrong",
            path.display(),
            other_path.display()
        ))),
        [(path, name, by), ..] => {
            let (_, entry) = standing_display(name).map_err(Failure::options)?;
            let other =
                if unknown.is_empty() { "" } else { "; the other picture does not say it, and is taken for the same" };
            Ok((entry.item, format!("{name} ({}), by {by} of {}{other}", entry.id, path.display())))
        }
        [] => Err(Failure::new(format!("{}: give --display, such as --display bt709", unknown.join("\n")))),
    }
}

fn title(report: &Figures) -> &'static str {
    if report.difference == Formula::DeltaEItp.name() { Formula::DeltaEItp.title() } else { Formula::Ciede2000.title() }
}

fn codes(signal: [f64; 3]) -> String {
    signal.map(|v| format!("{:.1}", v * 1023.0)).join(" ")
}

/// What one can say of the picture as a whole, in a sentence.
fn sentence(report: &Figures) -> String {
    if report.identical {
        return "Every sample is the same.".to_owned();
    }
    let unit = title(report);
    let seen = match report.seen_percent {
        0.0 => "no pixel differs by as much as a careful eye just sees".to_owned(),
        share => {
            format!("{share:.1} % of the pixels differ by more than a careful eye just sees side by side (1 {unit})")
        }
    };
    let [x, y] = report.worst_at;
    format!("{seen}; the largest difference, {:.2} {unit}, is at {x}, {y} (from the left, from the top)", report.max)
}

fn text(report: &Report) -> String {
    let figures = &report.pictures;
    let mut text = format!("{} -> {}: {}\n", report.old, report.new, report.verdict);
    push_field(&mut text, "", &sentence(figures));
    push_field(&mut text, "display", &report.display);
    report.limits_exceeded.iter().for_each(|why| push_field(&mut text, "limit", why));
    if !figures.identical {
        let Figures { mean, p95, p99, max, shift_codes_10: [r, g, b], .. } = figures;
        let unit = title(figures);
        push_field(
            &mut text,
            "figures",
            &format!("{unit}: mean {mean:.2}, 95 % {p95:.2}, 99 % {p99:.2}, max {max:.2}"),
        );
        push_field(
            &mut text,
            "worst",
            &format!(
                "{} became {}, in 10-bit codes of red, green and blue",
                codes(figures.worst_old),
                codes(figures.worst_new)
            ),
        );
        push_field(
            &mut text,
            "shift",
            &format!("{r:+.1} {g:+.1} {b:+.1} codes of 10 bits in the mean; {:.1} at most", figures.max_codes_10),
        );
    }
    text
}

fn html(report: &Report, compared: &Compared, pictures: [&Frame; 2], display: &Display) -> Result<String, Failure> {
    let figures = &report.pictures;
    let unit = title(figures);
    let [width, height] = figures.size;
    let screen = Screen::of(display);
    let image =
        |frame: &Frame| data_uri(frame.pixels().map(|p| screen.show(p.map(f64::from))).collect(), width, Still::Png);
    let scale = factor(figures.difference);
    let map = data_uri(compared.each.iter().map(|d| colour(d / scale)).collect(), width, Still::Png)?;
    let images = [("old", image(pictures[0])?), ("new", image(pictures[1])?), ("difference", map)];
    let body = html! {
        header {
            h1 { "Picture diff" }
            p.verdict.(class(report.verdict)) { (report.verdict) }
            p.sides {
                span { (report.old) } " " b aria-label="to" { "→" } " " span { (report.new) }
            }
        }
        main {
            p { (sentence(figures)) }
            p.note { (report.display) }
            @for why in &report.limits_exceeded { p.verdict.bad { (why) } }
            div.scroll {
                table {
                    thead { tr { @for name in [unit, "mean", "95 %", "99 %", "max"] { th { (name) } } } }
                    tbody {
                        tr {
                            td { "all pixels" }
                            @for figure in [figures.mean, figures.p95, figures.p99, figures.max] {
                                td { (format!("{figure:.2}")) }
                            }
                        }
                    }
                }
            }
            div.triple {
                @for (name, uri) in &images {
                    figure {
                        img src=(uri) width=(width) height=(height) alt=(name);
                        figcaption { (name) }
                    }
                }
            }
            (key(unit, figures.difference))
        }
        footer {
            p {
                "1 " (unit) " is a difference that a careful eye just sees side by side. The pictures are mapped to an sRGB \
                 screen, light above diffuse white clipped."
            }
        }
    };
    Ok(Page { title: "Picture diff", style: STYLE, font: false, slate: &[], body }.html())
}
