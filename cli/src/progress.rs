//! A bar on the terminal for work that takes its time.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::time::{Duration, Instant};

/// Work shorter than this shows no progress.
const PATIENCE: Duration = Duration::from_secs(1);

pub(crate) struct Progress {
    bar: ProgressBar,
    start: Instant,
}

impl Progress {
    /// For so many steps; `words` stand beside the bar, as a template of indicatif. Drawn on a terminal alone.
    pub(crate) fn new(steps: usize, words: &str) -> Self {
        let bar = ProgressBar::with_draw_target(Some(steps as u64), ProgressDrawTarget::hidden());
        let style = ProgressStyle::with_template(&format!("{{bar:30}} {words}")).expect("the template is right");
        bar.set_style(style);
        Self { bar, start: Instant::now() }
    }

    /// One step is done.
    pub(crate) fn step(&self) {
        if self.bar.is_hidden() && self.start.elapsed() > PATIENCE {
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
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
