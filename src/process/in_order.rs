use std::{
    collections::BTreeMap,
    ops::ControlFlow,
    panic::{self, AssertUnwindSafe},
    sync::{
        Mutex, PoisonError,
        mpsc::{self, Receiver, Sender},
    },
    thread,
};

/// How many items are given out for each thread before their results are taken. Chosen: at 2, a thread whose
/// core is busy with something else does not keep the others waiting; more would take more memory.
const ITEMS_PER_THREAD: usize = 2;

/// Does `work` for every item, on as many threads as there are cores, and hands the results to `take` on this
/// thread, in the order of the items, until it breaks off.
///
/// Twice as many items as threads are in work or wait to be taken at a time, and no more. Breaking off waits
/// for the work that was begun and for nothing else.
pub(crate) fn work_in_order<I: Sync, T: Send, B>(
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
    let (give, given) = mpsc::channel();
    let given = Mutex::new(given);
    thread::scope(|scope| {
        // Both ends are inside, so that leaving ends the threads.
        let give: Sender<usize> = give;
        let (hand_in, results) = mpsc::channel();
        for _ in 0..thread_count {
            let (given, hand_in) = (&given, hand_in.clone());
            scope.spawn(move || work_off(items, given, &hand_in, work));
        }
        let mut places = 0..items.len();
        for place in places.by_ref().take(thread_count * ITEMS_PER_THREAD) {
            let _ = give.send(place);
        }
        let mut early = BTreeMap::new();
        for (place, item) in items.iter().enumerate() {
            let result = arrived(place, &mut early, &results);
            if let Some(next) = places.next() {
                let _ = give.send(next);
            }
            take(item, result.unwrap_or_else(|panicked| panic::resume_unwind(panicked)))?;
        }
        ControlFlow::Continue(())
    })
}

/// What one thread does: item after item, until none is given or no one takes results any more.
fn work_off<I, T>(
    items: &[I],
    given: &Mutex<Receiver<usize>>,
    hand_in: &Sender<(usize, thread::Result<T>)>,
    work: &impl Fn(&I) -> T,
) {
    loop {
        // No one panics while this is locked.
        let next = given.lock().unwrap_or_else(PoisonError::into_inner).recv();
        let Some((place, item)) = next.ok().and_then(|place| Some((place, items.get(place)?)))
        else {
            return;
        };
        // A panic is handed over as well: waiting for a result that never comes would last for ever.
        let result = panic::catch_unwind(AssertUnwindSafe(|| work(item)));
        if hand_in.send((place, result)).is_err() {
            return;
        }
    }
}

/// The result for this place; those that come before it wait among the early ones.
fn arrived<T>(place: usize, early: &mut BTreeMap<usize, T>, results: &Receiver<(usize, T)>) -> T {
    loop {
        if let Some(result) = early.remove(&place) {
            return result;
        }
        let (other, result) =
            results.recv().expect("every place is given out, and every result is handed in");
        early.insert(other, result);
    }
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
        // 11 taken, and two for each thread that were given out by then.
        let done = done.into_inner();
        assert!((11..=19).contains(&done), "{done} were done");
    }

    #[test]
    fn no_more_than_two_results_for_each_thread_wait() {
        let (made, taken) = (AtomicUsize::new(0), AtomicUsize::new(0));
        let work = |_: &u64| made.fetch_add(1, Ordering::SeqCst);
        let items: Vec<u64> = (0..200).collect();
        let outcome = work_on(3, &items, &work, &mut |_, _| {
            thread::sleep(Duration::from_micros(200));
            let waiting = made.load(Ordering::SeqCst) - taken.fetch_add(1, Ordering::SeqCst);
            if waiting > 7 { ControlFlow::Break(waiting) } else { ControlFlow::Continue(()) }
        });
        assert_eq!(outcome, ControlFlow::Continue(()), "six wait, and one is being taken");
    }

    #[test]
    fn one_slow_item_does_not_keep_the_others_waiting() {
        let items: Vec<u64> = (0..4).collect();
        let done = AtomicUsize::new(0);
        let work = |item: &u64| {
            // The first waits for all others, which a thread that does every second item would never do.
            let limit = std::time::Instant::now() + Duration::from_secs(30);
            while *item == 0 && done.load(Ordering::SeqCst) < 3 {
                assert!(std::time::Instant::now() < limit, "the others were never done");
                thread::yield_now();
            }
            done.fetch_add(1, Ordering::SeqCst);
        };
        let outcome = work_on(2, &items, &work, &mut |_, ()| ControlFlow::<()>::Continue(()));
        assert!(outcome.is_continue());
    }

    #[test]
    fn a_panic_is_passed_on_and_does_not_hang() {
        let items: Vec<u64> = (0..20).collect();
        let work = |item: &u64| assert_ne!(*item, 7, "on purpose");
        let outcome = panic::catch_unwind(|| {
            work_on(3, &items, &work, &mut |_, ()| ControlFlow::<()>::Continue(()))
        });
        assert!(outcome.is_err());
    }
}
