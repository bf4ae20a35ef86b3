//! The worst finding of the stress test, searched for in the background: of the newest version alone, on one core, once
//! nothing has been asked for a moment. A newer version stops the search of an older one.

use super::refusal::Refusal;
use super::server::Server;
use super::steady;
use super::studio::{Studio, Wanted};
use rushlight::cube::{POINTS, Reader};
use rushlight::stress::{CaseReport, FindingReport, Grade, Names, Subject, stress_until};
use serde_json::{Value as Json, json};
use std::collections::VecDeque;
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError, Weak};
use std::time::{Duration, Instant};

/// Nothing is searched while things change quicker than this.
const CALM: Duration = Duration::from_millis(400);
/// Findings that are kept.
const MOST_KEPT: usize = 64;
/// Wishes that wait: pages may show different cameras and displays.
const MOST_WISHES: usize = 4;

#[derive(Debug, Default)]
pub(super) struct Worst {
    inner: Mutex<Inner>,
    wish: Condvar,
}

#[derive(Debug, Default)]
struct Inner {
    /// What is asked for, the newest first.
    wishes: VecDeque<Wish>,
    /// The running search, and the flag that stops it.
    search: Option<(Wish, Arc<AtomicBool>)>,
    /// By the path's key.
    found: VecDeque<(Arc<str>, Json)>,
}

#[derive(Debug, Clone)]
struct Wish {
    wanted: Wanted,
    /// The key of its path.
    key: Arc<str>,
    since: Instant,
}

impl Inner {
    /// Something newer comes first.
    fn stop(&self) {
        if let Some((_, stop)) = &self.search {
            stop.store(true, Ordering::Relaxed);
        }
    }
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
        let searching = inner.search.as_ref().is_some_and(|(wish, _)| wish.key == way.key);
        let known = searching || inner.wishes.iter().any(|wish| wish.key == way.key);
        if found.is_none() && !known {
            inner.stop();
            inner.wishes.retain(|wish| wish.wanted != *wanted);
            inner.wishes.push_front(Wish { wanted: wanted.clone(), key: way.key.clone(), since: Instant::now() });
            inner.wishes.truncate(MOST_WISHES);
            self.wish.notify_one();
        }
        Ok(json!({
            "done": found.is_some(), "searching": searching, "version": way.version.number,
            "finding": found.unwrap_or_default(),
        }))
    }

    /// Nothing was found, by a fault of this program: it is not waited for.
    fn broke_off(&self, wish: &Wish) {
        let mut inner = self.lock();
        inner.search = None;
        inner.found.push_front((
            wish.key.clone(),
            json!({ "words": "the search broke off, which is a fault of this program" }),
        ));
        inner.found.truncate(MOST_KEPT);
    }

    /// A look was edited: what is searched for of it is out of date.
    pub(super) fn edited(&self, look: &str) {
        let inner = self.lock();
        if inner.search.as_ref().is_some_and(|(wish, _)| wish.wanted.look == look) {
            inner.stop();
        }
    }

    /// The next wish, once it is calm.
    fn next(&self) -> Option<Wish> {
        let mut inner = self.lock();
        loop {
            match inner.wishes.front() {
                Some(wish) if wish.since.elapsed() >= CALM => return inner.wishes.pop_front(),
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
                    if waited.timed_out() && inner.wishes.is_empty() {
                        return None;
                    }
                }
            }
        }
    }
}

/// Searches from now on, as long as the server is there.
pub(super) fn start(server: Weak<Server>) {
    let state = (server, None);
    let work = move |(server, doing): &mut (Weak<Server>, Option<Wish>)| {
        let Some(server) = server.upgrade() else { return ControlFlow::Break(()) };
        if let Some(wish) = server.worst.next() {
            *doing = Some(wish.clone());
            server.quiet.install(|| search(&server, wish));
            *doing = None;
        }
        ControlFlow::Continue(())
    };
    let mended = |(server, doing): &mut (Weak<Server>, Option<Wish>)| {
        if let (Some(server), Some(wish)) = (server.upgrade(), doing.take()) {
            server.worst.broke_off(&wish);
        }
    };
    steady::go_on("the search for the worst finding", state, work, mended);
}

fn search(server: &Server, wish: Wish) {
    let wanted = &wish.wanted;
    let Ok(way) = server.studio.path(wanted) else { return };
    let stop = Arc::new(AtomicBool::new(false));
    {
        let mut inner = server.worst.lock();
        // It may have been asked for again while it was searched for.
        if inner.found.iter().any(|(key, _)| *key == way.key) {
            return;
        }
        inner.search = Some((Wish { key: way.key.clone(), ..wish.clone() }, stop.clone()));
    }
    let show = server.studio.show();
    let (camera, display) = (way.pipeline.camera(), way.pipeline.display());
    let reader = Reader::Tetrahedral;
    let subject = Subject { look: &way.look, camera, display, correction: None, points: POINTS, reader };
    let found = stress_until(&subject, show.stress_limits(), &stop);
    let is_newest = || server.studio.path(wanted).is_ok_and(|newest| newest.key == way.key);
    let again = matches!(found, Ok(None)) && is_newest();
    let mut inner = server.worst.lock();
    inner.search = None;
    let finding = match found {
        // It is no longer asked for, or a newer one came first.
        Ok(None) => {
            if again && !inner.wishes.iter().any(|w| w.wanted == *wanted) {
                inner.wishes.push_back(wish);
            }
            return;
        }
        Ok(Some(found)) => {
            let Wanted { look, camera, display, .. } = wanted;
            let names = Names { shot: None, look, camera, display };
            let case = CaseReport::new(names, way.look.revision(), (POINTS, reader.name()), &found, None);
            case.findings.iter().max_by(|a, b| rank(a).total_cmp(&rank(b))).map_or(Json::Null, told)
        }
        Err(refused) => json!({ "words": refused.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ") }),
    };
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
        "value": worse.value, "unit": finding.unit, "limit": limit, "verdict": finding.grade,
        "holds": finding.grade == Grade::Holds, "place": place, "input": worse.at.as_ref().map(|at| at.signal),
        "hint": finding.hint,
        "words": format!("{}: {:.2} {}{}", finding.title, worse.value, finding.unit,
            place.map(|p| format!(", at {p}")).unwrap_or_default()),
    })
}
