//! Several trials at once, told in their order.

use rayon::prelude::*;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Trials that are worked on before the first of them is told, for each worker: enough to keep all busy, few enough for the memory.
const AHEAD: usize = 4;

/// Does `work` on each of `items`, on `jobs` threads, and hands each result to `tell` on this thread in the order of `items`. A result
/// is `None` where the work panicked: the others go on.
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
    for chunk in items.chunks(jobs.saturating_mul(AHEAD)) {
        let results: Vec<Option<R>> = pool.install(|| chunk.par_iter().map(caught).collect());
        for (item, result) in chunk.iter().zip(results) {
            tell(item, result);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::in_order;

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
}
