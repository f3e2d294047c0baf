//! Progress on stderr, for work that takes its time.

use std::io::IsTerminal;
use std::sync::mpsc::{self, RecvTimeoutError, Sender};
use std::thread::JoinHandle;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// Work that is done sooner than this shows no bar.
const PATIENCE: Duration = Duration::from_millis(500);

/// Time between two looks of the bar.
const TICK: Duration = Duration::from_millis(100);

/// A bar that counts the stages of the work; shown on a terminal only, and only once the work has
/// taken half a second. It vanishes when dropped.
pub struct Progress {
    bar: ProgressBar,
    done: Option<Sender<()>>,
    waiter: Option<JoinHandle<()>>,
}

impl Progress {
    /// A bar for a number of stages. Nothing is shown if `quiet`.
    pub fn new(stages: usize, quiet: bool) -> Self {
        let shown = !quiet && std::io::stderr().is_terminal();
        let target = ProgressDrawTarget::hidden();
        let bar = ProgressBar::with_draw_target(Some(stages as u64), target);
        let template = "{spinner} [{bar:24}] {pos}/{len} {wide_msg}";
        if let Ok(style) = ProgressStyle::with_template(template) {
            bar.set_style(style.progress_chars("=> "));
        }
        let mut progress = Self {
            bar,
            done: None,
            waiter: None,
        };
        if shown {
            progress.show_later();
        }
        progress
    }

    fn show_later(&mut self) {
        let (done, wait) = mpsc::channel();
        let bar = self.bar.clone();
        self.done = Some(done);
        self.waiter = Some(std::thread::spawn(move || {
            if wait.recv_timeout(PATIENCE) == Err(RecvTimeoutError::Timeout) {
                bar.set_draw_target(ProgressDrawTarget::stderr());
                bar.enable_steady_tick(TICK);
            }
        }));
    }

    /// Does something that prints, with the bar out of the way.
    pub fn aside(&self, print: impl FnOnce()) {
        self.bar.suspend(print);
    }

    /// The next stage begins: what it does, in a word or two.
    pub fn stage(&self, doing: impl Into<String>) {
        if !self.bar.message().is_empty() {
            self.bar.inc(1);
        }
        self.bar.set_message(doing.into());
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.done = None;
        if let Some(waiter) = self.waiter.take() {
            // A waiter that has panicked only cost the bar.
            let _ = waiter.join();
        }
        self.bar.finish_and_clear();
    }
}
