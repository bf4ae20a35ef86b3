//! The look sheet and the stress test of a hand-off.

use super::collect::{Parcel, command};
use crate::args::Command;
use crate::commands::{sheet, stress};
use crate::failure::Failure;
use crate::{output, target};
use rushlight::cube::Reader;
use rushlight::show::slug;
use rushlight::stress::{CaseReport, PROPERTIES, Report};
use serde_json::{Value, json};
use std::path::Path;

/// Adds both, as `sheet` and `stress` make them.
pub(super) fn reports(parcel: &mut Parcel, file: &Path, searched: bool, reader: Reader) -> Result<(), Failure> {
    let Command::Sheet(args) = command(["sheet".into(), file.into()]) else { unreachable!("it is that command") };
    let target = target::load(file, &args.of.pick)?;
    let show = &target.show;
    let title = slug(show.title());
    let jobs = if searched { stress::largest(show.jobs().iter().cloned()) } else { Vec::new() };
    let cases = stress::cases(show, &jobs, reader, None)?;
    let cubes = sheet::Cubes::Told(parcel.cubes.clone());
    let (report, html) = sheet::make(&args, &target, &cubes, &cases)?;
    parcel.add(&format!("reports/{title}_sheet.html"), html.as_bytes(), "look sheet", None)?;
    parcel.add(
        &format!("reports/{title}_sheet.json"),
        output::json(&report)?.as_bytes(),
        "look sheet, as data",
        None,
    )?;
    if !searched {
        return Ok(());
    }
    parcel.grades = cases.iter().map(|case| (case.name(), case.grade)).collect();
    let report = Report::new(show.title(), None, cases);
    let about = json!({ "grade": report.grade, "cases": report.cases.iter().map(grades).collect::<Vec<_>>() });
    let html = stress::html::page(&report, show)?;
    parcel.add(&format!("reports/{title}_stress.html"), html.as_bytes(), "stress test", Some(about.clone()))?;
    let json = output::json(&report)?;
    parcel.add(&format!("reports/{title}_stress.json"), json.as_bytes(), "stress test, as data", Some(about))
}

/// The grades of one path.
fn grades(case: &CaseReport) -> Value {
    let CaseReport { look, revision, camera, display, points, reader, grade, .. } = case;
    let properties = PROPERTIES.map(|(name, _)| (name.to_owned(), json!(case.grade_of(name))));
    let properties = Value::Object(properties.into_iter().collect());
    json!({
        "look": look, "revision": revision, "camera": camera, "display": display, "points": points, "reader": reader,
        "grade": grade, "properties": properties,
    })
}
