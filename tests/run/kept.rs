//! Results kept from earlier runs: the report is that of a run without them, whatever changed, and only
//! what a change touches is worked out anew.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use benchborne::run::{RunError, RunOptions, run};

use super::folder::{Season, contents};

/// Two loggers, a gap, a flight without a current sensor, one timed from the ground, both fans and jets.
const FLIGHTS: [&str; 10] = [
    "f01", "f02", "f03", "f04", "f05", "f08", "f10", "f12", "f13", "f16",
];

struct Runs {
    season: Season,
    place: tempfile::TempDir,
}

impl Runs {
    fn new() -> Self {
        Self {
            season: Season::with(&FLIGHTS),
            place: tempfile::tempdir().unwrap(),
        }
    }

    fn options(&self, name: &str, cache: bool) -> RunOptions {
        RunOptions {
            season: self.season.dir.clone(),
            out: self.place.path().join(name),
            threads: Some(2),
            no_pages: true,
            cache,
            ..RunOptions::default()
        }
    }

    fn store(&self) -> PathBuf {
        self.place.path().join("report.cache")
    }

    /// Runs with the store and without, and compares; how many entries of each kind the run had to make.
    fn made(&self, what: &str) -> BTreeMap<String, usize> {
        let before = entries(&self.store());
        let (with, without) = (self.options("report", true), self.options("fresh", false));
        // A report says what changed since the one before: both have the same one.
        let _ = fs::remove_dir_all(&without.out);
        if with.out.exists() {
            for (name, bytes) in contents(&with.out) {
                let to = without.out.join(name);
                fs::create_dir_all(to.parent().unwrap()).unwrap();
                fs::write(to, bytes).unwrap();
            }
        }
        let (kept, fresh) = (run(&with).unwrap(), run(&without).unwrap());
        assert!(kept.json().unwrap() == fresh.json().unwrap(), "{what}");
        assert!(contents(&with.out) == contents(&without.out), "{what}");
        assert!(!self.place.path().join("fresh.cache").exists());
        let mut made = BTreeMap::new();
        for name in entries(&self.store()) {
            if !before.contains(&name) {
                let kind = name.split('-').next().unwrap_or_default().to_owned();
                *made.entry(kind).or_insert(0) += 1;
            }
        }
        made
    }
}

fn entries(store: &Path) -> Vec<String> {
    let Ok(names) = fs::read_dir(store) else {
        return Vec::new();
    };
    names
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .filter(|n| n.ends_with(".kept"))
        .collect()
}

fn counts<const N: usize>(of: [(&str, usize); N]) -> BTreeMap<String, usize> {
    of.map(|(kind, n)| (kind.to_owned(), n)).into()
}

#[test]
fn a_change_makes_anew_what_it_touches_and_the_report_is_that_of_a_run_without() {
    let runs = Runs::new();
    let season = &runs.season;
    let all = runs.made("at first");
    let files = all["read"];
    assert!(
        files > FLIGHTS.len() && all["survey"] == FLIGHTS.len() - 1,
        "{all:?}"
    );
    assert_eq!(all["flight"], all["survey"], "{all:?}");
    assert!(all["replay"] > 0, "{all:?}");

    // What no flight depends on.
    season.replace("season.toml", "Two sister jets, two fans", "Two jets");
    assert_eq!(runs.made("title"), counts([]));

    // The map of one source: its files and their flights, and nobody else's. What a flight depends on of
    // the others may be the same as before.
    season.replace("season.toml", "ends = [-100, 100]", "ends = [-100, 99]");
    let made = runs.made("map");
    let text = season.text("logbook.csv");
    let radio = text.matches("logs/radio").count();
    assert_eq!((made["read"], made["survey"]), (radio, radio), "{made:?}");

    // A remark is a flight's own, and moves no line of the others.
    let logbook = season.text("logbook.csv");
    let last = logbook.trim_end().lines().last().unwrap().to_owned();
    let remark = if last.ends_with(',') {
        format!("{last}calm")
    } else {
        format!("{last} and calm")
    };
    season.put("logbook.csv", &logbook.replace(&last, &remark));
    let made = runs.made("remark");
    assert!(made.get("flight").is_none_or(|n| *n == 1), "{made:?}");
    assert!(
        !made.contains_key("read") && !made.contains_key("side"),
        "{made:?}"
    );

    // A reading of one file.
    let radio = "logs/radio-2025-04-12-1012.csv";
    let log = season.text(radio);
    season.put(radio, &log.replacen(",0;", ",1;", 1));
    let made = runs.made("reading");
    assert_eq!(
        (made["read"], made["survey"], made["side"]),
        (1, 1, 1),
        "{made:?}"
    );

    // Rules, an airframe, a bench, a pack, an accuracy, a question.
    for (what, file, from, to) in [
        (
            "rule",
            "season.toml",
            "[rules]",
            "[rules]\nfull_throttle = 0.93",
        ),
        (
            "airframe",
            "season.toml",
            "mass = \"1.95 kg\"",
            "mass = \"1.90 kg\"",
        ),
        (
            "pack",
            "season.toml",
            "capacity = \"2600 mAh\"",
            "capacity = \"2500 mAh\"",
        ),
        (
            "site",
            "season.toml",
            "elevation = \"260 m\"",
            "elevation = \"900 m\"",
        ),
        (
            "controller",
            "season.toml",
            "burst_time = \"10 s\"",
            "burst_time = \"4 s\"",
        ),
    ] {
        season.replace(file, from, to);
        let made = runs.made(what);
        assert!(
            !made.contains_key("read") && made.contains_key("flight"),
            "{what}: {made:?}"
        );
    }
    let bench = season.text("bench/six-blade.csv");
    let line = bench.lines().rfind(|l| l.contains(',')).unwrap().to_owned();
    season.put(
        "bench/six-blade.csv",
        &bench.replace(&format!("{line}\n"), ""),
    );
    let made = runs.made("bench");
    assert!(
        !made.contains_key("survey") && made.contains_key("flight"),
        "{made:?}"
    );

    // A flight less, and the same flight again: entries without use do not stay.
    let logbook = season.text("logbook.csv");
    let before = entries(&runs.store()).len();
    let first = logbook.lines().nth(1).unwrap();
    season.put("logbook.csv", &logbook.replace(&format!("{first}\n"), ""));
    let made = runs.made("a flight less");
    assert!(!made.contains_key("survey"), "{made:?}");
    assert!(entries(&runs.store()).len() < before);
    season.put("logbook.csv", &logbook);
    // Its file was read meanwhile as one that belongs to no flight.
    assert_eq!(runs.made("again")["survey"], 1);
}

#[test]
fn damaged_and_foreign_entries_are_made_anew() {
    let runs = Runs::new();
    runs.made("at first");
    let whole: Vec<(PathBuf, Vec<u8>)> = entries(&runs.store())
        .iter()
        .map(|name| runs.store().join(name))
        .map(|path| (path.clone(), fs::read(path).unwrap()))
        .collect();
    for (n, (path, bytes)) in whole.iter().enumerate() {
        match n % 4 {
            0 => fs::write(path, &bytes[..bytes.len() / 2]).unwrap(),
            1 => {
                let mut bytes = bytes.clone();
                let middle = bytes.len() / 2;
                bytes[middle] ^= 0x10;
                fs::write(path, bytes).unwrap();
            }
            // Another's entry, whole, under this name.
            2 => fs::write(path, &whole[(n + 4) % whole.len()].1).unwrap(),
            _ => fs::write(path, []).unwrap(),
        }
    }
    // Else nothing changed, and the run would end at once.
    fs::remove_file(runs.store().join("run.json")).unwrap();
    runs.made("damaged");
    for (path, bytes) in &whole {
        assert!(fs::read(path).unwrap() == *bytes, "{}", path.display());
    }
    // Someone's else folder, a folder in the place of an entry, a store that cannot be made.
    fs::remove_dir_all(runs.store()).unwrap();
    fs::write(runs.store(), "no folder").unwrap();
    runs.made("no store");
    fs::remove_file(runs.store()).unwrap();
    fs::create_dir_all(&whole[0].0).unwrap();
    runs.made("a folder for an entry");
}

/// A file of the same length and time as before with other readings: found out where its log is asked for,
/// and looked at anew by the next run.
#[test]
fn a_file_that_hides_its_change_is_found_out() {
    let runs = Runs::new();
    let radio = "logs/radio-2025-04-12-1012.csv";
    let long_ago = SystemTime::now() - Duration::from_secs(60);
    let set_back = || {
        let path = runs.season.dir.join(radio);
        let file = fs::File::options().write(true).open(path).unwrap();
        file.set_modified(long_ago).unwrap();
    };
    set_back();
    runs.made("at first");
    let log = runs.season.text(radio);
    runs.season.put(radio, &log.replacen(",0;", ",1;", 1));
    set_back();
    runs.season
        .replace("season.toml", "[rules]", "[rules]\nfull_throttle = 0.93");
    let Err(RunError::Input(said)) = run(&runs.options("report", true)) else {
        panic!("the change was not found out");
    };
    assert!(said.contains(radio) && said.contains("run again"), "{said}");
    let made = runs.made("again");
    assert_eq!((made["read"], made["survey"]), (1, 1), "{made:?}");
}
