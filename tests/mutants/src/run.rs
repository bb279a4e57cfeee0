//! Turns on one mutant after the other and runs the tests that reach it until one fails.

use crate::mutant::{Mutant, folder};
use crate::table::{Fate, line};
use crate::tree::Failure;
use crate::trials::{Ended, Trial};
use std::collections::BTreeMap;
use std::fs;
use std::io::Write;
use std::path::Path;
use std::sync::Mutex;
use std::time::Instant;

/// How the run is made.
pub struct Plan<'a> {
    pub tree: &'a Path,
    pub table: &'a Path,
    pub jobs: usize,
    /// Tests are run, the fastest first, while their own times sum to no more than this, s.
    pub budget: f64,
}

/// What workers share: how often a test has killed a mutant of a file, what is done, the table.
struct Shared {
    next: usize,
    kills: BTreeMap<(String, usize), usize>,
    done: Vec<(Mutant, Fate)>,
    table: fs::File,
}

fn locked(shared: &Mutex<Shared>) -> std::sync::MutexGuard<'_, Shared> {
    shared.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
}

/// A test of the folder itself is worth five of others.
const OWN_FOLDER: f64 = 5.0;

/// Tests in the order in which they are run: quick ones, those of the folder, and those that have killed others of the file, first.
fn order(trials: &[Trial], mutant: &Mutant, shared: &Mutex<Shared>) -> Vec<usize> {
    let shared = locked(shared);
    let price = |place: usize| {
        let kills = shared.kills.get(&(mutant.file.clone(), place)).copied().unwrap_or(0);
        let own = if trials[place].name.contains(&format!("{}::", folder(&mutant.file))) { OWN_FOLDER } else { 1.0 };
        trials[place].seconds / (own + kills as f64)
    };
    let mut places: Vec<(f64, usize)> =
        (0..trials.len()).filter(|&place| trials[place].reached.contains(&mutant.number)).map(|place| (price(place), place)).collect();
    places.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    places.into_iter().map(|(_, place)| place).collect()
}

fn fate(plan: &Plan, trials: &[Trial], mutant: &Mutant, shared: &Mutex<Shared>) -> Result<Fate, Failure> {
    let reaching = order(trials, mutant, shared);
    if reaching.is_empty() {
        return Ok(Fate::NotReached);
    }
    let (mut spent, mut ran) = (0.0, 0);
    for &place in &reaching {
        if ran > 0 && spent + trials[place].seconds > plan.budget {
            continue;
        }
        let ended = trials[place].with(mutant.number, plan.tree)?;
        if ended != Ended::Passed {
            *locked(shared).kills.entry((mutant.file.clone(), place)).or_default() += 1;
            let test = trials[place].name.clone();
            return Ok(if ended == Ended::Failed { Fate::Killed(test) } else { Fate::TooLong(test) });
        }
        spent += trials[place].seconds;
        ran += 1;
    }
    Ok(Fate::Survived { ran, left_out: reaching.len() - ran })
}

/// The fates of `mutants`, in their order; each is written to the table as soon as it is known.
pub fn run(plan: &Plan, trials: &[Trial], mutants: &[Mutant]) -> Result<Vec<(Mutant, Fate)>, Failure> {
    let begun = Instant::now();
    let table = fs::OpenOptions::new().append(true).create(true).open(plan.table)?;
    let shared = Mutex::new(Shared { next: 0, kills: BTreeMap::new(), done: Vec::new(), table });
    let work = || -> Result<(), String> {
        loop {
            let place = {
                let mut shared = locked(&shared);
                shared.next += 1;
                shared.next - 1
            };
            let Some(mutant) = mutants.get(place) else { return Ok(()) };
            let fate = fate(plan, trials, mutant, &shared).map_err(|failure| failure.to_string())?;
            let mut shared = locked(&shared);
            shared.table.write_all(line(mutant, &fate).as_bytes()).map_err(|failure| failure.to_string())?;
            shared.done.push((mutant.clone(), fate));
            if shared.done.len().is_multiple_of(100) {
                let killed = shared.done.iter().filter(|(_, fate)| fate.is_killed()).count();
                eprintln!("{} of {} mutants, {killed} killed, {:.0} s", shared.done.len(), mutants.len(), begun.elapsed().as_secs_f64());
            }
        }
    };
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..plan.jobs).map(|_| scope.spawn(work)).collect();
        workers.into_iter().try_for_each(|worker| worker.join().unwrap_or_else(|_| Err("a worker stopped".to_owned())))
    })?;
    let mut done = shared.into_inner()?.done;
    done.sort_by_key(|(mutant, _)| mutant.number);
    Ok(done)
}
