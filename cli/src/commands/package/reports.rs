//! The look sheet and the stress test of a hand-off.

use super::collect::Parcel;
use crate::commands::{sheet, stress};
use crate::failure::Failure;
use crate::output;
use rushlight::cube::Reader;
use rushlight::handoff::{About, File};
use rushlight::show::{Show, slug};
use rushlight::stress::{CaseGrades, Report};
use std::path::Path;

/// Adds both, as `sheet` and `stress` make them; the sheet as PDF too, where a browser is to print it.
pub(super) fn reports(
    parcel: &mut Parcel,
    sheet: &sheet::Request,
    show: &Show,
    (searched, reader): (bool, Reader),
    browser: Option<&Path>,
) -> Result<(), Failure> {
    let title = slug(show.title());
    let jobs = if searched { stress::largest(show.jobs()) } else { Vec::new() };
    let cases = stress::cases(&jobs, reader, None)?;
    let cubes = sheet::Cubes::Told(parcel.cubes.clone());
    let (report, html) = sheet::make(sheet, &show.jobs(), &cubes, &cases)?;
    if let Some(browser) = browser {
        let pdf = sheet::printed_by(browser, show, &report, &html)?;
        parcel.add(&File::new(format!("reports/{title}_sheet.pdf"), pdf, "look sheet, to print"))?;
    }
    parcel.add(&File::new(format!("reports/{title}_sheet.html"), html, "look sheet"))?;
    parcel.add(&File::new(format!("reports/{title}_sheet.json"), output::json(&report)?, "look sheet, as data"))?;
    if !searched {
        return Ok(());
    }
    parcel.grades = cases.iter().map(|case| (case.name(), case.grade)).collect();
    let report = Report::new(show.title(), None, cases);
    let about = About::Stress { grade: report.grade, cases: report.cases.iter().map(CaseGrades::from).collect() };
    let html = stress::html::page(&report, show)?;
    let page = File::new(format!("reports/{title}_stress.html"), html, "stress test");
    parcel.add(&page.with(about.clone()))?;
    let data = File::new(format!("reports/{title}_stress.json"), output::json(&report)?, "stress test, as data");
    parcel.add(&data.with(about))
}
