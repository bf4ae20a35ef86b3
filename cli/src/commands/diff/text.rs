//! The report as text of 80 columns, in one screen where it can be.

use crate::output::{COLUMNS, wrap};
use rushlight::compare::limits::Check;
use rushlight::compare::report::{Item, Picture, Report, State};
use rushlight::compare::{Comparison, Direction, Group, GroupName};
use std::fmt::Write as _;

/// Pictures that are reported in full; of more, a line each and the one that differs most in full.
const IN_FULL: usize = 2;

pub(super) fn text(report: &Report) -> String {
    let mut text = format!("{} -> {}\n{}\n", report.old, report.new, report.verdict);
    let some_limited = report.items.iter().any(|item| !item.limits.is_empty());
    for item in &report.items {
        push_item(&mut text, item, report.items.len() > 1);
        if some_limited && item.limits.is_empty() && !item.is_identical() {
            let why = match item.state {
                State::Added | State::Removed => only_one(item),
                _ => "no limits apply to this file: any difference of it is exit code 1".to_owned(),
            };
            push_wrapped(&mut text, "  ", &why);
        }
    }
    text
}

fn push_item(text: &mut String, item: &Item, named: bool) {
    let state = state(item.state);
    if named || matches!(item.state, State::Added | State::Removed) {
        let _ = writeln!(text, "\n{}: {state}", item.name);
    }
    for note in &item.notes {
        push_wrapped(text, "  ", &format!("({note})"));
    }
    for document in item.documents.iter().filter(|d| !d.changes.is_empty()) {
        let _ = writeln!(text, "\n{}", document.name);
        for change in &document.changes {
            push_wrapped(text, "  ", &change.words);
        }
    }
    let changed: Vec<&Picture> = item.pictures.iter().filter(|p| p.state != State::Identical).collect();
    if changed.len() <= IN_FULL {
        changed.iter().for_each(|p| push_picture(text, p));
    } else {
        push_summary(text, &changed);
        let mean = |p: &&&Picture| p.comparison.as_ref().and_then(headline).map_or(0.0, |g| g.mean);
        if let Some(worst) = changed.iter().max_by(|a, b| mean(a).total_cmp(&mean(b))) {
            text.push_str("\nthe most changed");
            push_picture(text, worst);
        }
    }
    let same = item.pictures.len() - changed.len();
    if same > 0 && !changed.is_empty() {
        let _ = writeln!(text, "\n{same} other picture{} the same", if same == 1 { " is" } else { "s are" });
    }
    if !item.limits.is_empty() && !changed.is_empty() {
        push_limits(text, item);
    }
}

/// Why a file that is on one side alone fails.
pub(super) fn only_one(item: &Item) -> String {
    format!("{}, so there is nothing to compare it with: exit code 1, whatever the limits", state(item.state))
}

pub(super) const fn state(state: State) -> &'static str {
    match state {
        State::Identical => "identical",
        State::Changed => "changed",
        State::Added => "added",
        State::Removed => "removed",
        State::Incomparable => "cannot be compared",
    }
}

/// The group that speaks for a picture where there is room for one.
pub(super) fn headline(comparison: &Comparison) -> Option<&Group> {
    comparison.group(GroupName::Plausible).or_else(|| comparison.group(GroupName::Whole))
}

pub(super) fn words(direction: &Direction) -> String {
    direction.words.join(", ")
}

/// A shift in stops as a figure; what rounds to none is +0.00.
pub(super) fn shift(stops: f64) -> String {
    format!("{:+.2}", (100.0 * stops).round() / 100.0 + 0.0)
}

/// The same with its unit.
pub(super) fn stops_of(stops: f64) -> String {
    shift(stops) + " stops"
}

/// Mid-grey's shift in words.
pub(super) fn grey(comparison: &Comparison) -> Option<String> {
    let grey = comparison.grey.as_ref()?;
    let stops = match grey.stops {
        Some(stops) => stops_of(stops),
        None => "beyond the range of the old side".to_owned(),
    };
    let signal = |rgb: [f64; 3]| rgb.map(|v| format!("{v:.3}")).join(" ");
    let [old, new] = grey.nits;
    Some(format!("{stops}; signal {} -> {}; {old:.2} -> {new:.2} nits", signal(grey.old), signal(grey.new)))
}

/// Where a group's largest difference is.
pub(super) fn place(group: &Group) -> Option<String> {
    let worst = group.worst.as_ref()?;
    let signal = worst.signal.map(|v| format!("{v:.4}")).join(" ");
    Some(match (&worst.name, worst.stops) {
        (Some(name), _) => name.clone(),
        (None, Some(stops)) => format!("signal {signal}, {stops:+.1} stops"),
        (None, None) => format!("signal {signal}"),
    })
}

fn push_picture(text: &mut String, picture: &Picture) {
    let state = match picture.state {
        State::Changed | State::Identical => String::new(),
        other => format!(": {}", self::state(other)),
    };
    let _ = writeln!(text, "\n{}{state}", picture.title());
    if let Some(note) = &picture.note {
        push_wrapped(text, "  ", &format!("({note})"));
    }
    let Some(found) = &picture.comparison else { return };
    let head = format!("  {}", found.formula);
    let _ = writeln!(text, "{head:<14}{:>7}{:>7}{:>8}  direction; place of the max", "mean", "95 %", "max");
    for group in &found.groups {
        let row = format!("  {:<12}{:>7.2}{:>7.2}{:>8.2}", group.name.name(), group.mean, group.p95, group.max);
        let said = [Some(words(&group.direction)).filter(|w| !w.is_empty()), place(group)];
        let said = said.into_iter().flatten().collect::<Vec<_>>().join("; ");
        for (i, line) in wrap(&said, COLUMNS - row.len() - 2).into_iter().enumerate() {
            let row = if i == 0 { row.clone() } else { " ".repeat(row.len()) };
            let _ = writeln!(text, "{}", format!("{row}  {line}").trim_end());
        }
    }
    if let Some(grey) = grey(found) {
        push_wrapped(text, "  ", &format!("mid-grey    {grey}"));
    }
}

fn push_summary(text: &mut String, pictures: &[&Picture]) {
    let width = pictures.iter().map(|p| p.title().chars().count()).max().unwrap_or(0).max(11);
    let mut unit = None;
    for picture in by_unit(pictures) {
        if unit != Some(formula(picture)) {
            unit = Some(formula(picture));
            let head = formula(picture).unwrap_or("not compared");
            let figures = if formula(picture).is_some() { ["mean", "95 %", "max", "mid-grey"] } else { [""; 4] };
            let [mean, p95, max, grey] = figures;
            let _ = writeln!(text, "{}", format!("\n{head:<width$}{mean:>8}{p95:>8}{max:>8}{grey:>15}").trim_end());
        }
        let _ = write!(text, "{:<width$}", picture.title());
        match picture.comparison.as_ref().and_then(|c| Some((c, headline(c)?))) {
            Some((found, group)) => {
                let stops = found.grey.as_ref().and_then(|g| g.stops);
                let stops = stops.map(stops_of).unwrap_or_default();
                let _ = writeln!(text, "{:>8.2}{:>8.2}{:>8.2}{stops:>15}", group.mean, group.p95, group.max);
            }
            None => {
                let _ = writeln!(text, "  {}", state(picture.state));
            }
        }
    }
    push_wrapped(text, "", &format!("({SEEN})"));
}

/// What the figures of a summary are of.
pub(super) const SEEN: &str =
    "differences of colours that a camera meets; 1 is what a careful eye just sees side by side";

/// The unit of a picture's figures.
pub(super) fn formula(picture: &Picture) -> Option<&'static str> {
    picture.comparison.as_ref().map(|c| c.formula)
}

/// Pictures of one unit after another; those that were not compared come last.
pub(super) fn by_unit<'p>(pictures: &[&'p Picture]) -> Vec<&'p Picture> {
    let mut sorted = pictures.to_vec();
    sorted.sort_by_key(|p| (formula(p).is_none(), formula(p)));
    sorted
}

fn push_limits(text: &mut String, item: &Item) {
    let broken = broken(item);
    let _ = writeln!(text, "\nlimits {}", item.limits.join(", "));
    for line in &broken {
        push_wrapped(text, "  ", line);
    }
    if broken.is_empty() {
        text.push_str("  none is exceeded\n");
    }
}

/// What does not hold, in words: pictures that cannot be compared, and of each limit the breach that goes farthest, with how
/// many more there are.
pub(super) fn broken(item: &Item) -> Vec<String> {
    let apart = item.pictures.iter().filter(|p| p.state == State::Incomparable);
    let mut lines: Vec<String> = apart.map(|p| format!("{}: cannot be compared", p.title())).collect();
    let all = || {
        let of =
            |p: &'_ Picture| p.checks.iter().filter(|c| !c.holds).map(|c| (p.title(), c.clone())).collect::<Vec<_>>();
        item.pictures.iter().flat_map(of)
    };
    for limit in &item.limits {
        let mut of: Vec<(String, Check)> = all().filter(|(_, check)| check.limit == *limit).collect();
        // One that could not be measured is worse than any.
        of.sort_by(|(_, a), (_, b)| b.value.unwrap_or(f64::INFINITY).total_cmp(&a.value.unwrap_or(f64::INFINITY)));
        let Some((title, worst)) = of.first() else { continue };
        let said = match worst.value {
            Some(value) => {
                format!("{title}: {} {} {value:.3}, limit {}", worst.group.name(), worst.figure, worst.most)
            }
            None => format!("{title}: {} could not be measured ({limit})", worst.group.name()),
        };
        let more = match of.len() - 1 {
            0 => String::new(),
            1 => "; and 1 more".to_owned(),
            n => format!("; and {n} more"),
        };
        lines.push(said + &more);
    }
    lines
}

fn push_wrapped(text: &mut String, indent: &str, said: &str) {
    for (i, line) in wrap(said, COLUMNS - 2 * indent.len()).into_iter().enumerate() {
        let _ = writeln!(text, "{indent}{}{line}", if i == 0 { "" } else { indent });
    }
}
