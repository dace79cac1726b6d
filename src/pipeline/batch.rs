//! Many photos at once, few in memory, results in order.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc;

/// Runs `job` on every item, `at_once` at a time on the worker threads, and hands each result to `each` on this thread
/// in the order of the items as soon as it and all before it are done.
///
/// A worker takes the next item only when it has finished its last, so at most `at_once` photos are in memory; results
/// that wait for an earlier one are kept, so they should be small.
pub fn in_order<T: Sync, R: Send>(
    items: &[T],
    at_once: usize,
    job: impl Fn(&T) -> R + Sync,
    mut each: impl FnMut(usize, R),
) {
    let next = AtomicUsize::new(0);
    let (send, receive) = mpsc::channel();
    rayon::in_place_scope(|scope| {
        for _ in 0..at_once.clamp(1, items.len().max(1)) {
            let (send, next, job) = (send.clone(), &next, &job);
            scope.spawn(move |_| {
                while let Some((i, item)) =
                    Some(next.fetch_add(1, Ordering::Relaxed)).and_then(|i| Some((i, items.get(i)?)))
                {
                    if send.send((i, job(item))).is_err() {
                        return;
                    }
                }
            });
        }
        drop(send);
        let mut waiting = BTreeMap::new();
        let mut due = 0;
        for (i, result) in receive {
            waiting.insert(i, result);
            while let Some(result) = waiting.remove(&due) {
                each(due, result);
                due += 1;
            }
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::AtomicUsize;

    #[test]
    fn results_come_in_order_and_few_are_under_way() {
        let items: Vec<u64> = (0..40).collect();
        let (under_way, most) = (AtomicUsize::new(0), AtomicUsize::new(0));
        let mut seen = Vec::new();
        in_order(
            &items,
            2,
            |i| {
                most.fetch_max(under_way.fetch_add(1, Ordering::SeqCst) + 1, Ordering::SeqCst);
                std::thread::sleep(std::time::Duration::from_micros(200 * (40 - i)));
                under_way.fetch_sub(1, Ordering::SeqCst);
                i * i
            },
            |i, r| seen.push((i, r)),
        );
        assert_eq!(seen, items.iter().map(|i| (usize::try_from(*i).unwrap(), i * i)).collect::<Vec<_>>());
        assert!(most.load(Ordering::SeqCst) <= 2);
    }

    #[test]
    fn nothing_to_do_is_done_at_once() {
        in_order(&[] as &[u8], 2, |_| (), |_, ()| unreachable!());
    }
}
