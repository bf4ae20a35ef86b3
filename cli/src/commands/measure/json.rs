//! What was measured, as JSON.

use super::rate::rating;
use super::{Findings, Measured, ZONES};
use rushlight::measure::report::{Bracket, Report};

/// The whole document.
pub(super) fn document(findings: &Findings) -> Report {
    let brackets = findings.measured.iter().map(bracket).collect();
    let floor = (findings.snr, super::report::usable(findings.snr));
    let compared = (&findings.compared[..], &findings.compared_white[..], &ZONES[..]);
    Report::new(floor, brackets, compared, findings.modes.as_ref(), findings.processing.clone())
        .with_colour(findings.colour.clone())
}

fn bracket(measured: &Measured) -> Bracket {
    let b = &measured.bracket;
    let found = (&measured.measurement, &measured.noise);
    Bracket::new(measured.ei, found, &b.patch, b.size, b.choice.as_ref(), rating(measured))
}
