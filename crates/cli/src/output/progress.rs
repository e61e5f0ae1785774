//! A sign of life on anything that takes over a second, on a terminal only; and what is under way, for whoever is told that it
//! was left.

use indicatif::{ProgressBar, ProgressStyle};
use std::io::IsTerminal;
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

/// Nothing is shown before this much time has passed.
const PATIENCE: Duration = Duration::from_secs(1);
const FRAME: Duration = Duration::from_millis(120);

/// What was said last, on a terminal or not.
static UNDER_WAY: Mutex<String> = Mutex::new(String::new());

/// What is being done, as progress tells it.
pub fn under_way() -> String {
    let said = UNDER_WAY.lock().unwrap_or_else(PoisonError::into_inner).clone();
    if said.is_empty() { "Reading the job".to_owned() } else { said }
}

fn is_under_way(what: &str) {
    what.clone_into(&mut UNDER_WAY.lock().unwrap_or_else(PoisonError::into_inner));
}

/// Shows on standard error what is being done and for how long, from [`Progress::start`] until it is dropped.
#[derive(Debug)]
pub struct Progress {
    stop: Option<Sender<()>>,
    shown: Option<JoinHandle<()>>,
    what: Arc<Mutex<String>>,
}

impl Progress {
    /// Begins; `what` says what is being done, e.g. `Predicting levels`.
    pub fn start(what: &'static str) -> Self {
        is_under_way(what);
        if !std::io::stderr().is_terminal() {
            return Self { stop: None, shown: None, what: Arc::default() };
        }
        let said = Arc::new(Mutex::new(what.to_owned()));
        let read = Arc::clone(&said);
        let (stop, stopped) = channel::<()>();
        let shown = std::thread::spawn(move || {
            if stopped.recv_timeout(PATIENCE) != Err(RecvTimeoutError::Timeout) {
                return;
            }
            let bar = ProgressBar::new_spinner().with_message(what);
            if let Ok(style) = ProgressStyle::with_template("{spinner} {msg}, {elapsed}") {
                bar.set_style(style);
            }
            bar.set_elapsed(PATIENCE);
            while stopped.recv_timeout(FRAME) == Err(RecvTimeoutError::Timeout) {
                if let Ok(what) = read.lock() {
                    bar.set_message(what.clone());
                }
                bar.tick();
            }
            bar.finish_and_clear();
        });
        Self { stop: Some(stop), shown: Some(shown), what: said }
    }

    /// Says something else from now on.
    pub fn say(&self, what: String) {
        is_under_way(&what);
        if let Ok(mut said) = self.what.lock() {
            *said = what;
        }
    }

    /// Ends and clears the line, before data is written.
    pub fn finish(self) {
        drop(self);
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        drop(self.stop.take());
        if let Some(shown) = self.shown.take() {
            // A thread that only draws has nothing to tell when it ends.
            let _ = shown.join();
        }
    }
}
