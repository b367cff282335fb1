//! One line on the terminal while a run goes on: what is done, how fast, how long yet. The clock of
//! the whole program lives here.

use std::fmt;
use std::io::IsTerminal;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use indicatif::{HumanBytes, ProgressBar, ProgressDrawTarget, ProgressState, ProgressStyle};

use crate::run::{Observer, Progress, Stage};

/// A watcher for a run, on a terminal that wants one; the line goes when this is dropped.
pub struct Line(Option<Arc<Bar>>);

impl Line {
    /// Nothing is shown where standard error is no terminal, or where `quiet` is asked for.
    pub fn on_terminal(quiet: bool) -> Self {
        let shown = !quiet && std::io::stderr().is_terminal();
        Self(shown.then(|| Arc::new(Bar::default())))
    }

    pub fn progress(&self) -> Progress {
        match &self.0 {
            Some(bar) => Progress::told_to(bar.clone()),
            None => Progress::default(),
        }
    }
}

impl Drop for Line {
    fn drop(&mut self) {
        if let Some(bar) = &self.0 {
            bar.replace(None);
        }
    }
}

#[derive(Default)]
struct Bar {
    shown: Mutex<Option<ProgressBar>>,
    bytes: Arc<AtomicU64>,
}

impl Bar {
    fn replace(&self, new: Option<ProgressBar>) {
        let mut shown = match self.shown.lock() {
            Ok(shown) => shown,
            Err(poisoned) => poisoned.into_inner(),
        };
        if let Some(old) = std::mem::replace(&mut *shown, new) {
            old.finish_and_clear();
        }
    }
}

impl Observer for Bar {
    fn begun(&self, stage: Stage, total: usize) {
        self.bytes.store(0, Ordering::Relaxed);
        let target = ProgressDrawTarget::stderr();
        let bar = ProgressBar::with_draw_target(Some(total as u64), target);
        bar.set_style(style(stage, self.bytes.clone()));
        bar.enable_steady_tick(Duration::from_millis(250));
        self.replace(Some(bar));
    }

    fn done(&self, _: Stage, bytes: u64) {
        self.bytes.fetch_add(bytes, Ordering::Relaxed);
        let shown = match self.shown.lock() {
            Ok(shown) => shown,
            Err(poisoned) => poisoned.into_inner(),
        };
        if let Some(bar) = &*shown {
            bar.inc(1);
        }
    }
}

fn style(stage: Stage, bytes: Arc<AtomicU64>) -> ProgressStyle {
    let (doing, things) = match stage {
        Stage::Logs => ("Reading logs", "files"),
        Stage::Flights => ("Analysing flights", "flights"),
        Stage::Pictures => ("Drawing", "pictures"),
    };
    let told = move |state: &ProgressState, out: &mut dyn fmt::Write| {
        let seconds = state.elapsed().as_secs_f64();
        let _ = out.write_str(&told(
            state.pos(),
            seconds,
            bytes.load(Ordering::Relaxed),
            things,
            state.eta(),
        ));
    };
    let template = format!("{doing}: {{pos}} of {{len}} {things}{{told}}");
    ProgressStyle::with_template(&template)
        .unwrap_or_else(|_| ProgressStyle::default_bar())
        .with_key("told", told)
}

/// The rate and the time left, once there is something to judge by.
fn told(done: u64, seconds: f64, bytes: u64, things: &str, left: Duration) -> String {
    if done == 0 || seconds <= 0.0 {
        return String::new();
    }
    let rate = if bytes > 0 {
        format!("{}/s", HumanBytes((bytes as f64 / seconds) as u64))
    } else {
        format!("{:.1} {things}/s", done as f64 / seconds)
    };
    // Rounded up: nobody likes to be told that nothing is left, and to wait.
    let left = left.as_secs() + u64::from(left.subsec_nanos() > 0);
    let left = match left {
        0 => return format!(", {rate}"),
        s if s < 60 => format!("{s} s"),
        s => format!("{} min {} s", s / 60, s % 60),
    };
    format!(", {rate}, about {left} left")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rate_and_time_left_in_words() {
        let left = Duration::from_millis(2_400);
        assert_eq!(told(0, 1.0, 0, "files", left), "");
        assert_eq!(
            told(4, 2.0, 6 << 20, "files", left),
            ", 3.00 MiB/s, about 3 s left"
        );
        assert_eq!(
            told(3, 2.0, 0, "flights", Duration::from_secs(75)),
            ", 1.5 flights/s, about 1 min 15 s left"
        );
        assert_eq!(
            told(3, 2.0, 0, "flights", Duration::ZERO),
            ", 1.5 flights/s"
        );
    }
}
