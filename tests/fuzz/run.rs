//! Feeds a target, catches panics, watches time and memory, and says how many inputs it took.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::time::{Duration, Instant};

use broodhue::photo::identity;

use crate::mutate::Mutator;

/// Longest that one input may take on a busy machine.
const PATIENCE: Duration = Duration::from_secs(20);

/// Most memory that the whole process may ever have held, in MiB: far below what one unbounded input would ask for.
const MEMORY: u64 = 1500;

/// A setting of the run from the environment.
pub(crate) fn setting(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).map_or(otherwise, |n| n.parse().unwrap())
}

/// Tries the inputs that broke something before, the seeds as they are, then spoilt ones made by `make`.
pub(crate) fn fuzz(
    target: &str,
    share: u64,
    kept: &[Vec<u8>],
    mut make: impl FnMut(&mut Mutator) -> Vec<u8>,
    mut feed: impl FnMut(&[u8]) -> bool,
) {
    let inputs = setting("BROODHUE_FUZZ", 300) / share;
    let mut mutator = Mutator::new(setting("BROODHUE_FUZZ_SEED", 1));
    let (mut broken, mut taken, mut slowest) = (Vec::new(), 0_u64, Duration::ZERO);
    let start = Instant::now();
    let before = fixtures(target).into_iter().chain(kept.iter().cloned());
    let all = before.map(Some).chain((0..inputs).map(|_| None));
    for ready in all {
        let input = ready.unwrap_or_else(|| make(&mut mutator));
        let began = Instant::now();
        match catch_unwind(AssertUnwindSafe(|| feed(&input))) {
            Ok(accepted) => taken += u64::from(accepted),
            Err(_) => broken.push(keep(target, &input)),
        }
        slowest = slowest.max(began.elapsed());
        if slowest > PATIENCE {
            broken.push(format!("{} (slow)", keep(target, &input)));
        }
        if broken.len() > 5 {
            break;
        }
    }
    let seconds = start.elapsed().as_secs_f64();
    println!(
        "{target}: {inputs} inputs, {taken} of them read, in {seconds:.1} s; slowest {slowest:.1?}; peak {} MiB",
        peak()
    );
    assert!(broken.is_empty(), "{target} broke on {broken:?}");
    assert!(peak() < MEMORY, "{target} held {} MiB", peak());
}

/// Inputs of earlier breaks.
fn fixtures(target: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/fuzz");
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut paths: Vec<_> = entries.map(|e| e.unwrap().path()).collect();
    paths.sort();
    let ours =
        |p: &&std::path::PathBuf| p.file_name().is_some_and(|n| n.to_string_lossy().starts_with(&format!("{target}-")));
    paths.iter().filter(ours).map(|p| std::fs::read(p).unwrap()).collect()
}

fn keep(target: &str, input: &[u8]) -> String {
    let path = std::env::temp_dir().join(format!("{target}-{}", &identity(input)[..12]));
    std::fs::write(&path, input).unwrap();
    path.display().to_string()
}

/// Most memory this process ever held, in MiB; 0 where the system does not say.
fn peak() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    line.and_then(|l| l.trim().trim_end_matches(" kB").parse::<u64>().ok()).unwrap_or(0) / 1024
}
