//! A progress bar for people, and a time limit.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use shape::{Cancelled, Stage, Watch};
use std::io::IsTerminal;
use std::sync::Mutex;
use std::time::{Duration, Instant};

/// Work shorter than this shows no bar.
const PATIENCE: Duration = Duration::from_millis(500);

/// Shows progress on a terminal and ends the work when its time is up.
pub(crate) struct Progress {
    bar: ProgressBar,
    start: Instant,
    time_limit: Option<Duration>,
    shown: Mutex<bool>,
}

impl Progress {
    pub(crate) fn new() -> Self {
        let bar = ProgressBar::with_draw_target(Some(1000), ProgressDrawTarget::hidden());
        // The template is a constant of ours: were it wrong, the bar would show its default form.
        if let Ok(style) = ProgressStyle::with_template("  {bar:28} {percent:>3} %  {msg}") {
            bar.set_style(style.progress_chars("━━─"));
        }
        Self {
            bar,
            start: Instant::now(),
            time_limit: None,
            shown: Mutex::new(false),
        }
    }

    /// The same with a limit of time, counted from now.
    pub(crate) fn with_time_limit(seconds: Option<f64>) -> Self {
        let time_limit = seconds.and_then(|s| Duration::try_from_secs_f64(s).ok());
        let mut progress = Self::new();
        progress.time_limit = time_limit;
        progress
    }

    /// A watch for one stage of several: its 0 to 1 becomes `from` to `to` of the whole.
    pub(crate) fn stage<'a>(&'a self, name: &'a str, from: f64, to: f64) -> Stage<'a> {
        Stage::named(self, name, from, to)
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}

impl Watch for Progress {
    fn step(&self, what: &str, share: f64) -> Result<(), Cancelled> {
        if self
            .time_limit
            .is_some_and(|limit| self.start.elapsed() > limit)
        {
            return Err(Cancelled);
        }
        let mut shown = self
            .shown
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        if !*shown && self.start.elapsed() > PATIENCE && std::io::stderr().is_terminal() {
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
            *shown = true;
        }
        self.bar.set_message(what.to_owned());
        self.bar
            .set_position((share.clamp(0.0, 1.0) * 1000.0) as u64);
        Ok(())
    }
}
