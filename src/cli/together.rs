//! Several trials at once, told in their order.

use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::channel;

/// Trials that are begun before the first of them is told, for each worker: enough to keep all busy behind one that takes long, few enough for the memory.
const AHEAD: usize = 4;

/// Does `work` on each of `items`, on `jobs` threads, and hands each result to `tell` on this thread in the order of `items`. A result
/// is `None` where the work panicked: the others go on. At most `4·jobs` results wait for their turn.
pub fn in_order<T: Sync, R: Send>(items: &[T], jobs: usize, work: impl Fn(&T) -> R + Sync, mut tell: impl FnMut(&T, Option<R>)) {
    let caught = |item: &T| catch_unwind(AssertUnwindSafe(|| work(item))).ok();
    let pool =
        if jobs > 1 && items.len() > 1 { rayon::ThreadPoolBuilder::new().num_threads(jobs.min(items.len())).build().ok() } else { None };
    let Some(pool) = pool else {
        for item in items {
            let result = caught(item);
            tell(item, result);
        }
        return;
    };
    let ahead = jobs.saturating_mul(AHEAD);
    pool.in_place_scope(|scope| {
        let (sender, done) = channel();
        let caught = &caught;
        let mut waiting = BTreeMap::new();
        let (mut begun, mut told) = (0, 0);
        while let Some(item) = items.get(told) {
            while let Some(item) = items.get(begun).filter(|_| begun - told < ahead) {
                let (sender, place) = (sender.clone(), begun);
                scope.spawn(move |_| drop(sender.send((place, caught(item)))));
                begun += 1;
            }
            match waiting.remove(&told) {
                Some(result) => {
                    tell(item, result);
                    told += 1;
                }
                None => {
                    let Ok((place, result)) = done.recv() else { return };
                    waiting.insert(place, result);
                }
            }
        }
    });
}

#[cfg(test)]
mod tests {
    use super::{AHEAD, in_order};
    use std::sync::atomic::{AtomicUsize, Ordering};

    #[test]
    fn results_come_in_order_and_a_panic_stops_nothing() {
        let items: Vec<u64> = (0..50).collect();
        for jobs in [1, 3] {
            let mut told = Vec::new();
            in_order(&items, jobs, |item| if *item == 7 { panic!("seven") } else { item * 2 }, |item, result| told.push((*item, result)));
            let expected: Vec<(u64, Option<u64>)> = items.iter().map(|item| (*item, (*item != 7).then_some(item * 2))).collect();
            assert_eq!(told, expected, "{jobs} jobs");
        }
    }

    #[test]
    fn one_that_takes_long_does_not_let_all_others_pile_up() {
        let (begun, told) = (AtomicUsize::new(0), AtomicUsize::new(0));
        let items: Vec<u64> = (0..200).collect();
        let work = |item: &u64| {
            let ahead = begun.fetch_add(1, Ordering::SeqCst) - told.load(Ordering::SeqCst).min(begun.load(Ordering::SeqCst));
            if *item == 0 {
                std::thread::sleep(std::time::Duration::from_millis(100));
            }
            ahead
        };
        let mut most = 0;
        in_order(&items, 3, work, |_, ahead| {
            told.fetch_add(1, Ordering::SeqCst);
            most = most.max(ahead.unwrap_or(usize::MAX));
        });
        assert!((3..=3 * AHEAD).contains(&most), "{most} at once");
    }
}
