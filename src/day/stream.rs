//! Works on many items with several threads and takes the results in the order of the items. At most a window of them is under way or
//! waiting at any time, so memory does not grow with their number.

use rayon::iter::{ParallelBridge, ParallelIterator};
use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::sync::mpsc::{Receiver, Sender, channel, sync_channel};
use std::time::{Duration, Instant};

/// How far work may run ahead of the results taken, and how long results gather before they are taken together.
#[derive(Debug, Clone, Copy)]
pub struct Pace {
    /// Item `n + window` is only begun once result `n` has been taken, so that one slow item never lets results pile up
    /// behind it.
    pub window: usize,
    /// The least time from one taking of results to the next, while there is more to begin. It is cut short once the whole window is done.
    pub gather: Duration,
}

/// While results gather, how long to sleep before looking again whether the whole window is done.
const NAP: Duration = Duration::from_millis(10);

/// Works on every item with `threads` threads (0 stands for one for each core) and hands the results to `take` in the order of the
/// items, as many at once as are ready. Where `take` breaks off, what was begun is finished first and what `take` gave comes back; `None`
/// where it went on to the end.
pub fn in_order<T: Sync, R: Send, B>(
    items: &[T],
    threads: usize,
    pace: Pace,
    work: impl Fn(&T) -> R + Sync,
    mut take: impl FnMut(Vec<R>) -> ControlFlow<B>,
) -> Option<B> {
    let window = pace.window.max(1);
    std::thread::scope(|scope| {
        let (feed, fed) = sync_channel::<usize>(window);
        let (give, got) = channel::<(usize, R)>();
        let work = &work;
        scope.spawn(move || work_on(items, threads, work, fed, give));
        let mut begun = 0;
        let mut taken = 0;
        let mut woken = None::<Instant>;
        let mut early: BTreeMap<usize, R> = BTreeMap::new();
        while taken < items.len() {
            while begun < items.len() && begun < taken + window {
                if feed.send(begun).is_err() {
                    return None;
                }
                begun += 1;
            }
            if begun < items.len()
                && let Some(woken) = woken
            {
                // Once the whole window is done there is nothing more to wait for.
                while early.len() < begun - taken
                    && let Some(rest) = pace.gather.checked_sub(woken.elapsed())
                {
                    std::thread::sleep(rest.min(NAP));
                    early.extend(got.try_iter());
                }
            }
            if !early.contains_key(&taken) {
                let Ok((at, result)) = got.recv() else {
                    return None;
                };
                early.insert(at, result);
            }
            woken = Some(Instant::now());
            early.extend(got.try_iter());
            let mut ready = Vec::new();
            while let Some(result) = early.remove(&taken) {
                ready.push(result);
                taken += 1;
            }
            if !ready.is_empty()
                && let ControlFlow::Break(why) = take(ready)
            {
                return Some(why);
            }
        }
        None
    })
}

/// Works on the items whose numbers are fed, on a pool of so many threads, and gives each result with its number.
fn work_on<T: Sync, R: Send>(
    items: &[T],
    threads: usize,
    work: &(impl Fn(&T) -> R + Sync),
    fed: Receiver<usize>,
    give: Sender<(usize, R)>,
) {
    let run = || {
        fed.into_iter()
            .par_bridge()
            .for_each_with(give, |give, at| {
                if let Some(item) = items.get(at) {
                    // After a stop nobody takes results any more, which is no fault.
                    let _ = give.send((at, work(item)));
                }
            });
    };
    match rayon::ThreadPoolBuilder::new().num_threads(threads).build() {
        Ok(pool) => pool.install(run),
        // Where no threads can be had, the library's own pool, which has at least one, does the work.
        Err(_) => run(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering::SeqCst};

    const PACE: Pace = Pace {
        window: 16,
        gather: Duration::from_millis(2),
    };

    #[test]
    fn in_order_whoever_is_first_and_never_far_ahead() {
        let items: Vec<usize> = (0..500).collect();
        let (taken, furthest) = (AtomicUsize::new(0), AtomicUsize::new(0));
        let mut all = Vec::new();
        let stopped: Option<()> = in_order(
            &items,
            4,
            PACE,
            |&n| {
                furthest.fetch_max(n - taken.load(SeqCst).min(n), SeqCst);
                // Early ones are the slow ones.
                std::thread::sleep(std::time::Duration::from_micros(if n % 16 == 0 {
                    500
                } else {
                    10
                }));
                n
            },
            |ready| {
                taken.fetch_add(ready.len(), SeqCst);
                all.extend(ready);
                ControlFlow::Continue(())
            },
        );
        assert!(stopped.is_none());
        assert_eq!(all, items);
        assert!(furthest.load(SeqCst) <= PACE.window);
    }

    #[test]
    fn stops_when_told() {
        let items: Vec<usize> = (0..1000).collect();
        let worked = AtomicUsize::new(0);
        let stopped = in_order(
            &items,
            2,
            Pace { window: 8, ..PACE },
            |&n| {
                worked.fetch_add(1, SeqCst);
                n
            },
            |ready| match ready.iter().max() {
                Some(&last) if last >= 20 => ControlFlow::Break(last),
                _ => ControlFlow::Continue(()),
            },
        );
        assert!(stopped.is_some_and(|last| last >= 20));
        assert!(worked.load(SeqCst) < 60);
    }
}
