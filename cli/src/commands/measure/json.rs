//! What was measured, as JSON.

use super::rate::rating;
use super::{Findings, Measured, ZONES};
use rushlight::measure::report::{Bracket, Report};

/// The whole document.
pub(super) fn document(findings: &Findings) -> Report {
    let brackets = findings.measured.iter().map(bracket).collect();
    let floor = (findings.snr, super::report::usable(findings.snr));
    let compared = (&findings.compared[..], &ZONES[..]);
    Report::new(floor, brackets, compared, findings.modes.as_ref(), findings.processing.clone())
}

fn bracket(measured: &Measured) -> Bracket {
    let b = &measured.bracket;
    Bracket::new(measured.ei, &measured.measurement, &b.patch, b.size, b.choice.as_ref(), rating(measured))
}
