use std::{ops::ControlFlow, sync::mpsc, thread};

/// Does `work` for every item, on as many threads as there are cores, and hands the results to `take` on this
/// thread, in the order of the items, until it breaks off.
///
/// Each thread does every n-th item and waits with one result until that is taken, so that no more results
/// than threads wait at a time. Breaking off waits for the work that was begun and for no more.
pub(super) fn work_in_order<I: Sync, T: Send, B>(
    items: &[I],
    work: impl Fn(&I) -> T + Sync,
    mut take: impl FnMut(&I, T) -> ControlFlow<B>,
) -> ControlFlow<B> {
    let core_count = thread::available_parallelism().map_or(1, usize::from);
    work_on(core_count.min(items.len()), items, &work, &mut take)
}

fn work_on<I: Sync, T: Send, B>(
    thread_count: usize,
    items: &[I],
    work: &(impl Fn(&I) -> T + Sync),
    take: &mut impl FnMut(&I, T) -> ControlFlow<B>,
) -> ControlFlow<B> {
    if thread_count < 2 {
        return items.iter().try_for_each(|item| take(item, work(item)));
    }
    thread::scope(|scope| {
        let results: Vec<_> = (0..thread_count)
            .map(|first| {
                // Nothing is stored in between: the sender waits until its result is taken.
                let (sender, receiver) = mpsc::sync_channel(0);
                scope.spawn(move || {
                    let mut own = items.iter().skip(first).step_by(thread_count);
                    // It ends with its items, or when no one takes results any more.
                    own.try_for_each(|item| sender.send(work(item))).ok();
                });
                receiver
            })
            .collect();
        for (item, receiver) in items.iter().zip(results.iter().cycle()) {
            // A thread that has ended early has panicked, which the scope passes on.
            let Ok(result) = receiver.recv() else { break };
            take(item, result)?;
        }
        ControlFlow::Continue(())
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::{
        sync::atomic::{AtomicUsize, Ordering},
        time::Duration,
    };

    /// Work that takes longer for some items than for others.
    fn uneven(item: &u64) -> u64 {
        thread::sleep(Duration::from_micros(item * 7919 % 13 * 50));
        item * item
    }

    #[test]
    fn results_come_in_the_order_of_the_items() {
        for thread_count in 1..9 {
            for item_count in [0, 1, 2, 7, 50] {
                let items: Vec<u64> = (0..item_count).collect();
                let mut taken = Vec::new();
                let outcome = work_on(thread_count, &items, &uneven, &mut |item, square| {
                    taken.push((*item, square));
                    ControlFlow::<()>::Continue(())
                });
                assert!(outcome.is_continue());
                let expected: Vec<_> = items.iter().map(|item| (*item, item * item)).collect();
                assert_eq!(taken, expected, "{thread_count} threads");
            }
        }
    }

    #[test]
    fn breaking_off_leaves_the_rest_undone() {
        let items: Vec<u64> = (0..1000).collect();
        let done = AtomicUsize::new(0);
        let work = |item: &u64| {
            done.fetch_add(1, Ordering::Relaxed);
            *item
        };
        let outcome = work_on(4, &items, &work, &mut |_, item| {
            if item == 10 { ControlFlow::Break(item) } else { ControlFlow::Continue(()) }
        });
        assert_eq!(outcome, ControlFlow::Break(10));
        // 11 taken, and at most two for each thread: one that waits and one that was begun.
        let done = done.into_inner();
        assert!((11..=19).contains(&done), "{done} were done");
    }

    #[test]
    fn no_more_results_wait_than_there_are_threads() {
        let (made, taken) = (AtomicUsize::new(0), AtomicUsize::new(0));
        let work = |_: &u64| made.fetch_add(1, Ordering::SeqCst);
        let items: Vec<u64> = (0..200).collect();
        let outcome = work_on(3, &items, &work, &mut |_, _| {
            thread::sleep(Duration::from_micros(200));
            let waiting = made.load(Ordering::SeqCst) - taken.fetch_add(1, Ordering::SeqCst);
            if waiting > 4 { ControlFlow::Break(waiting) } else { ControlFlow::Continue(()) }
        });
        assert_eq!(outcome, ControlFlow::Continue(()), "three wait, and one is being taken");
    }
}
