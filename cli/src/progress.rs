//! A bar on the terminal for work that takes its time.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::thread;
use std::time::Duration;

/// Work shorter than this shows no progress.
const PATIENCE: Duration = Duration::from_secs(1);

pub(crate) struct Progress {
    bar: ProgressBar,
}

impl Progress {
    /// For so many steps; `words` stand beside the bar, as a template of indicatif. Drawn on a terminal alone.
    pub(crate) fn new(steps: usize, words: &str) -> Self {
        let bar = ProgressBar::with_draw_target(Some(steps as u64), ProgressDrawTarget::hidden());
        let style = ProgressStyle::with_template(&words_for(steps, words)).expect("the template is right");
        bar.set_style(style);
        // By a clock of its own: a single step may be long.
        let shown = bar.clone();
        thread::spawn(move || {
            thread::sleep(PATIENCE);
            if !shown.is_finished() {
                shown.set_draw_target(ProgressDrawTarget::stderr());
                shown.enable_steady_tick(PATIENCE);
            }
        });
        Self { bar }
    }

    /// One step is done.
    pub(crate) fn step(&self) {
        self.bar.inc(1);
    }

    /// Prints a line above the bar, to standard error.
    pub(crate) fn say(&self, line: &str) {
        self.bar.suspend(|| crate::output::say(line));
    }

    /// Takes the bar away.
    pub(crate) fn end(&self) {
        self.bar.finish_and_clear();
    }
}

/// What stands on the line: without an end where none is known, and with the time where one step is all.
fn words_for(steps: usize, words: &str) -> String {
    match steps {
        0 => format!("{{spinner}} {}, {{elapsed}}", words.replace("{pos}/{len}", "{pos}").replace(", {eta} left", "")),
        1 => format!("{{spinner}} {}, {{elapsed}}", words.replace(", {eta} left", "")),
        _ => format!("{{bar:30}} {words}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_has_no_known_end_says_none() {
        let words = "{pos}/{len} frames, {per_sec}, {eta} left";
        assert_eq!(words_for(0, words), "{spinner} {pos} frames, {per_sec}, {elapsed}");
        assert_eq!(words_for(1, words), "{spinner} {pos}/{len} frames, {per_sec}, {elapsed}");
        assert!(words_for(2, words).ends_with(words));
        (0..3).for_each(|steps| assert!(ProgressStyle::with_template(&words_for(steps, words)).is_ok()));
    }
}
