//! Shows what is being done, but only when it takes longer than a second.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::IsTerminal;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

/// A line on the terminal that says what runs. Silent in pipes and when quiet.
pub(super) struct Progress {
    bar: ProgressBar,
    done: Arc<AtomicBool>,
}

impl Progress {
    /// Starts; nothing is shown within the first second.
    pub(super) fn start(quiet: bool) -> Self {
        let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
        bar.set_style(ProgressStyle::default_spinner());
        let done = Arc::new(AtomicBool::new(false));
        if !quiet && std::io::stderr().is_terminal() {
            let (bar, done) = (bar.clone(), done.clone());
            std::thread::spawn(move || {
                std::thread::sleep(Duration::from_secs(1));
                if !done.load(Ordering::Relaxed) {
                    bar.set_draw_target(ProgressDrawTarget::stderr());
                    bar.enable_steady_tick(Duration::from_millis(120));
                }
            });
        }
        Self { bar, done }
    }
    /// Says what is being done now.
    pub(super) fn say(&self, what: &str) {
        self.bar.set_message(what.to_owned());
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.done.store(true, Ordering::Relaxed);
        self.bar.finish_and_clear();
    }
}
