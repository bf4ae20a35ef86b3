//! The look sheet and the stress test of a hand-off.

use super::collect::Parcel;
use crate::commands::{sheet, stress};
use crate::failure::Failure;
use crate::output;
use rushlight::cube::Reader;
use rushlight::handoff::File;
use rushlight::show::{Show, slug};
use rushlight::stress::{CaseReport, PROPERTIES, Report};
use serde_json::{Value, json};
use std::path::Path;

/// Adds both, as `sheet` and `stress` make them; the sheet as PDF too, where a browser is to print it.
pub(super) fn reports(
    parcel: &mut Parcel,
    file: &Path,
    show: &Show,
    (searched, reader): (bool, Reader),
    browser: Option<&Path>,
) -> Result<(), Failure> {
    let title = slug(show.title());
    let jobs = if searched { stress::largest(show.jobs()) } else { Vec::new() };
    let cases = stress::cases(&jobs, reader, None)?;
    let cubes = sheet::Cubes::Told(parcel.cubes.clone());
    let (report, html) = sheet::make(&sheet::Request::of(file), &show.jobs(), &cubes, &cases)?;
    if let Some(browser) = browser {
        let pdf = sheet::printed_by(browser, show, &html)?;
        parcel.add(&File::new(format!("reports/{title}_sheet.pdf"), pdf, "look sheet, to print"))?;
    }
    parcel.add(&File::new(format!("reports/{title}_sheet.html"), html, "look sheet"))?;
    parcel.add(&File::new(format!("reports/{title}_sheet.json"), output::json(&report)?, "look sheet, as data"))?;
    if !searched {
        return Ok(());
    }
    parcel.grades = cases.iter().map(|case| (case.name(), case.grade)).collect();
    let report = Report::new(show.title(), None, cases);
    let about = json!({ "grade": report.grade, "cases": report.cases.iter().map(grades).collect::<Vec<_>>() });
    let html = stress::html::page(&report, show)?;
    let page = File::new(format!("reports/{title}_stress.html"), html, "stress test");
    parcel.add_with(&page, Some(about.clone()))?;
    let data = File::new(format!("reports/{title}_stress.json"), output::json(&report)?, "stress test, as data");
    parcel.add_with(&data, Some(about))
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
