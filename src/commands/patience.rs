//! Word on stderr of how far a long calculation is.

use std::sync::mpsc::{self, RecvTimeoutError};
use std::sync::{Mutex, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use super::desk;
use crate::inherit::Progress;

/// After how long somebody who waits is told how long it may take, and again after twice that, four times that…
const PATIENCE: Duration = Duration::from_secs(3);

/// How far a calculation is.
#[derive(Debug, Clone, Copy)]
struct State {
    done: usize,
    all: usize,
    /// When the last was done.
    at: Duration,
}

/// Works, and says on stderr now and then how many of what there is to do (`sires weighed`, `modes judged`) are done.
pub(super) fn telling<T>(what: &str, work: impl FnOnce(Progress<'_>) -> T) -> T {
    let (started, state) = (Instant::now(), Mutex::new(State { done: 0, all: 0, at: Duration::ZERO }));
    let progress = |done: usize, all: usize| {
        let mut known = state.lock().unwrap_or_else(PoisonError::into_inner);
        *known = State { done: known.done.max(done), all, at: started.elapsed() };
    };
    let (working, over) = mpsc::channel::<()>();
    thread::scope(|scope| {
        scope.spawn(|| {
            let (over, mut next) = (over, PATIENCE);
            // Nothing is ever sent: whoever works lets go of the other end, also where it panics.
            while over.recv_timeout(next.saturating_sub(started.elapsed())) == Err(RecvTimeoutError::Timeout) {
                let known = *state.lock().unwrap_or_else(PoisonError::into_inner);
                known.words(what, started.elapsed(), rayon::current_num_threads()).iter().for_each(desk::note);
                next *= 2;
            }
        });
        let _working = working;
        work(&progress)
    })
}

impl State {
    /// What is said after so long. Nothing where it is not known how much there is to do.
    fn words(self, what: &str, waited: Duration, threads: usize) -> Option<String> {
        let State { done, all, at } = self;
        let left = all.checked_sub(done).filter(|left| *left > 0)?;
        if done == 0 {
            return Some(format!("{done} of {all} {what}"));
        }
        let by_those_done = waited.as_secs_f64() / done as f64 * left as f64;
        // The light ones are done first: those under way take as long at least as the last was done ago.
        let ago = waited.saturating_sub(at).as_secs_f64();
        let by_those_under_way = ago * (left.div_ceil(threads) - 1).max(1) as f64;
        Some(format!("{done} of {all} {what}, about {:.0} s to go", by_those_done.max(by_those_under_way)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(done: usize, at: f64, waited: f64) -> Option<String> {
        let [at, waited] = [at, waited].map(Duration::from_secs_f64);
        State { done, all: 14, at }.words("modes judged", waited, 2)
    }

    #[test]
    fn how_far_it_is_is_told_from_what_is_done_and_from_what_is_under_way() {
        assert_eq!(said(7, 12.0, 12.0).as_deref(), Some("7 of 14 modes judged, about 12 s to go"));
        // Nine light ones at once, then two that have taken 24 s by now, and three behind them in two turns.
        assert_eq!(said(9, 0.0, 24.0).as_deref(), Some("9 of 14 modes judged, about 48 s to go"));
        assert_eq!(said(0, 0.0, 3.0).as_deref(), Some("0 of 14 modes judged"));
        assert_eq!(said(14, 3.0, 3.0), None);
        assert_eq!(State { done: 0, all: 0, at: Duration::ZERO }.words("modes judged", PATIENCE, 2), None);
    }

    #[test]
    fn what_was_worked_out_comes_back_at_once() {
        let started = Instant::now();
        assert_eq!(telling("modes judged", |progress| (1..=3).map(|done| progress(done, 3)).count()), 3);
        assert!(started.elapsed() < PATIENCE);
    }
}
