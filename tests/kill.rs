//! Killed at any moment: the report folder holds the old report or the new one, whole.
//!
//! `scripts/kill` runs this with more kills.

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tempfile::TempDir;

use crate::run::folder::{Season, contents};

/// Kills in the ordinary tests; the environment may ask for more.
const KILLS: usize = 12;

type Files = BTreeMap<String, Vec<u8>>;

struct Place {
    _keep: TempDir,
    seasons: [Season; 2],
    out: PathBuf,
}

impl Place {
    /// Two states of a season, and a folder beside which nothing else lies.
    fn new() -> Self {
        let keep = tempfile::tempdir().unwrap();
        let seasons = [Season::with(&[]), Season::with(&[])];
        // What the one report has and the other has not.
        seasons[1].remove("bench/eleven-blade.csv");
        let out = keep.path().join("reports/season");
        Self {
            _keep: keep,
            seasons,
            out,
        }
    }

    fn start(&self, which: usize) -> Child {
        Command::new(env!("CARGO_BIN_EXE_benchborne"))
            .arg("run")
            .arg(&self.seasons[which].dir)
            .arg("--out")
            .arg(&self.out)
            .args(["--threads", "1"])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap()
    }

    fn complete(&self, which: usize) -> (Files, Duration) {
        let start = Instant::now();
        assert!(self.start(which).wait().unwrap().success());
        (self.report(), start.elapsed())
    }

    /// The report's files, without the pilot's own.
    fn report(&self) -> Files {
        let mut files: Files = contents(&self.out).into_iter().collect();
        files.remove("notes.txt");
        files
    }

    fn stages(&self) -> Vec<PathBuf> {
        let beside = fs::read_dir(self.out.parent().unwrap()).unwrap();
        let beside = beside.map(|e| e.unwrap().path());
        let store = self.out.with_extension("cache");
        beside.filter(|p| *p != self.out && *p != store).collect()
    }
}

fn differing(one: &Files, other: &Files) -> Vec<String> {
    let names = one.keys().chain(other.keys());
    let mut names: Vec<String> = names
        .filter(|n| one.get(*n) != other.get(*n))
        .cloned()
        .collect();
    names.dedup();
    names
}

/// What the system does to a killed program leaves no time to tidy up.
fn kill(child: &mut Child) {
    child.kill().unwrap();
    child.wait().unwrap();
}

#[test]
fn killed_at_any_moment_a_run_leaves_the_old_report_or_the_new_one() {
    let kills = std::env::var("BENCHBORNE_KILLS")
        .ok()
        .map_or(KILLS, |n| n.parse().unwrap());
    let place = Place::new();
    let (first, time) = place.complete(0);
    let (second, _) = place.complete(1);
    assert!(differing(&first, &second).len() > 3);
    assert_ne!(first.len(), second.len(), "the reports have the same files");
    let wanted = [first, second];
    fs::write(place.out.join("notes.txt"), "mine").unwrap();

    let mut random = ChaCha8Rng::seed_from_u64(20_250_412);
    let mut stands = 1;
    let (mut old, mut new, mut in_putting) = (0, 0, 0);
    for i in 0..kills {
        let next = 1 - stands;
        let mut child = place.start(next);
        if i % 2 == 0 {
            // Anywhere in the run.
            std::thread::sleep(time.mul_f64(random.random_range(0.0..1.1)));
        } else {
            // While the report is put down, which is short: seen by the folder it is made in.
            while place.stages().is_empty() && child.try_wait().unwrap().is_none() {}
            let pause = Duration::from_micros(random.random_range(0..30_000));
            std::thread::sleep(pause);
        }
        kill(&mut child);
        in_putting += usize::from(!place.stages().is_empty());

        let found = place.report();
        assert_eq!(fs::read(place.out.join("notes.txt")).unwrap(), b"mine");
        if found == wanted[next] {
            new += 1;
            stands = next;
        } else {
            let mixed = differing(&found, &wanted[stands]);
            assert!(
                mixed.is_empty(),
                "kill {i} left a mix: {mixed:?} are not the old ones"
            );
            old += 1;
        }
        // Enough leavings for one run to clear, and the other report.
        if i % 4 == 3 {
            stands = 1 - stands;
            let (whole, _) = place.complete(stands);
            assert!(whole == wanted[stands], "the run after kill {i} differs");
            assert_eq!(place.stages(), Vec::<PathBuf>::new());
            assert_eq!(fs::read(place.out.join("notes.txt")).unwrap(), b"mine");
        }
    }
    println!(
        "{kills} kills: {old} left the old report, {new} the new one; {in_putting} fell while it was put down"
    );
    assert!(old > 0 && in_putting > 0, "no kill came in time");
}

/// Both end well, one after the other, and what lies there is the one or the other.
#[test]
fn two_runs_into_one_folder_at_once() {
    let place = Place::new();
    let wanted = [place.complete(0).0, place.complete(1).0];
    for _ in 0..2 {
        let mut runs = [place.start(0), place.start(1), place.start(0)];
        for run in &mut runs {
            assert!(run.wait().unwrap().success());
        }
        let found = place.report();
        assert!(
            wanted.contains(&found),
            "a mix: {:?} are not the first's",
            differing(&found, &wanted[0])
        );
        assert_eq!(place.stages(), Vec::<PathBuf>::new());
    }
}
