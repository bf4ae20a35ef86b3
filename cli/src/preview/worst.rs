//! The worst finding of the stress test, searched for in the background: of the newest version alone, on one core, once
//! nothing has been asked for a moment.

use super::refusal::Refusal;
use super::server::Server;
use super::studio::{Studio, Wanted};
use rushlight::cube::{POINTS, Reader};
use rushlight::stress::{CaseReport, FindingReport, Grade, Names, Subject, stress};
use serde_json::{Value as Json, json};
use std::collections::VecDeque;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError, Weak};
use std::time::{Duration, Instant};

/// Nothing is searched while things change quicker than this.
const CALM: Duration = Duration::from_millis(400);
/// Findings that are kept.
const MOST_KEPT: usize = 64;

#[derive(Debug, Default)]
pub(super) struct Worst {
    inner: Mutex<Inner>,
    wish: Condvar,
}

#[derive(Debug, Default)]
struct Inner {
    /// The newest wish, its path's key, and since when.
    wanted: Option<(Wanted, Arc<str>, Instant)>,
    /// By the path's key.
    found: VecDeque<(Arc<str>, Json)>,
}

impl Worst {
    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What was found of the newest version; otherwise it is searched for from now on.
    pub(super) fn finding(&self, studio: &Studio, wanted: &Wanted) -> Result<Json, Refusal> {
        let way = studio.path(wanted)?;
        let mut inner = self.lock();
        let found = inner.found.iter().find(|(key, _)| *key == way.key).map(|(_, finding)| finding.clone());
        // Asking again for the same does not put it off.
        if found.is_none() && inner.wanted.as_ref().is_none_or(|(_, key, _)| *key != way.key) {
            inner.wanted = Some((wanted.clone(), way.key.clone(), Instant::now()));
            self.wish.notify_one();
        }
        Ok(json!({ "done": found.is_some(), "version": way.version.number, "finding": found.unwrap_or_default() }))
    }

    /// The next wish, once it is calm.
    fn next(&self) -> Option<Wanted> {
        let mut inner = self.lock();
        loop {
            match &inner.wanted {
                Some((.., since)) if since.elapsed() >= CALM => return inner.wanted.take().map(|(wanted, ..)| wanted),
                Some(_) => {
                    drop(inner);
                    std::thread::sleep(CALM / 4);
                    inner = self.lock();
                }
                None => {
                    let (next, waited) = match self.wish.wait_timeout(inner, Duration::from_secs(1)) {
                        Ok(woken) => woken,
                        Err(poisoned) => poisoned.into_inner(),
                    };
                    inner = next;
                    // From time to time, whether there still is a server.
                    if waited.timed_out() && inner.wanted.is_none() {
                        return None;
                    }
                }
            }
        }
    }
}

/// Searches from now on, as long as the server is there.
pub(super) fn start(server: Weak<Server>) {
    std::thread::spawn(move || {
        let Ok(one) = rayon::ThreadPoolBuilder::new().num_threads(1).build() else { return };
        while let Some(server) = server.upgrade() {
            let Some(wanted) = server.worst.next() else { continue };
            one.install(|| search(&server, &wanted));
        }
    });
}

fn search(server: &Server, wanted: &Wanted) {
    let Ok(way) = server.studio.path(wanted) else { return };
    // It may have been asked for again while it was searched for.
    if server.worst.lock().found.iter().any(|(key, _)| *key == way.key) {
        return;
    }
    let show = server.studio.show();
    let (camera, display) = (way.pipeline.camera(), way.pipeline.display());
    let reader = Reader::Tetrahedral;
    let subject = Subject { look: &way.look, camera, display, correction: None, points: POINTS, reader };
    let finding = match stress(&subject, show.stress_limits()) {
        Ok(found) => {
            let Wanted { look, camera, display, .. } = wanted;
            let names = Names { shot: None, look, camera, display };
            let case = CaseReport::new(names, way.look.revision(), (POINTS, reader.name()), &found, None);
            case.findings.iter().max_by(|a, b| rank(a).total_cmp(&rank(b))).map_or(Json::Null, told)
        }
        Err(refused) => json!({ "words": refused.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ") }),
    };
    let mut inner = server.worst.lock();
    inner.found.push_front((way.key.clone(), finding));
    inner.found.truncate(MOST_KEPT);
    drop(inner);
    let Wanted { look, camera, display, .. } = wanted;
    let version = way.version.number;
    server
        .studio
        .tell(&json!({ "kind": "worst", "name": look, "camera": camera, "display": display, "version": version }));
}

/// How bad a finding is: its grade, and within it how near to the limit, or how far beyond.
fn rank(finding: &FindingReport) -> f64 {
    let Some(limits) = finding.limits else { return -1.0 };
    let value = finding.worse().value.abs();
    let limit = limits.breaks.abs();
    let share = if finding.more_is_worse { value / limit.max(1e-9) } else { limit / value.max(1e-9) };
    let grade = match finding.grade {
        Grade::Holds => 0.0,
        Grade::Marginal => 1.0,
        Grade::Breaks => 2.0,
    };
    grade + share / (1.0 + share)
}

fn told(finding: &FindingReport) -> Json {
    let worse = finding.worse();
    let place = finding.place();
    let limit = finding.limits.map(|l| if finding.grade == Grade::Breaks { l.breaks } else { l.holds });
    json!({
        "property": finding.property, "figure": finding.figure, "title": finding.title, "means": finding.means,
        "value": worse.value, "unit": finding.unit, "limit": limit, "grade": finding.grade,
        "holds": finding.grade == Grade::Holds, "place": place, "input": worse.at.as_ref().map(|at| at.signal),
        "hint": finding.hint,
        "words": format!("{}: {:.2} {}{}", finding.title, worse.value, finding.unit,
            place.map(|p| format!(", at {p}")).unwrap_or_default()),
    })
}
