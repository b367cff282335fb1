//! A rerun of which nothing changed does nothing; whatever changed, the report is that of a run without
//! a record.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use benchborne::run::{RunOptions, RunOutcome, run};

use super::folder::{Season, contents};

fn options(season: &Season, out: &Path) -> RunOptions {
    RunOptions {
        season: season.dir.clone(),
        out: out.to_owned(),
        threads: Some(2),
        cache: true,
        ..RunOptions::default()
    }
}

/// The outcome, and whether the report was written.
fn ran(options: &RunOptions) -> (RunOutcome, bool) {
    let page = options.out.join("findings.json");
    let written = || -> Option<SystemTime> { fs::metadata(&page).ok()?.modified().ok() };
    let before = written();
    let outcome = run(options).unwrap();
    (outcome, written() != before)
}

fn record(out: &Path) -> PathBuf {
    out.with_extension("cache").join("run.json")
}

/// The report that is there is that of a run elsewhere which keeps no record.
fn as_without(season: &Season, out: &Path) {
    let place = tempfile::tempdir().unwrap();
    let fresh = RunOptions {
        cache: false,
        ..options(season, &place.path().join("fresh"))
    };
    run(&fresh).unwrap();
    assert!(contents(out) == contents(&fresh.out));
    assert!(!record(&fresh.out).exists());
}

#[test]
fn nothing_is_done_again_until_something_changed() {
    let season = Season::with(&["f01", "f05"]);
    let place = tempfile::tempdir().unwrap();
    let out = place.path().join("report");
    let options = options(&season, &out);
    let inputs = contents(&season.dir);
    let (first, written) = ran(&options);
    assert!(written && record(&out).exists());
    let (again, written) = ran(&options);
    assert!(!written);
    assert_eq!(
        (again.json().unwrap(), again.set_aside),
        (first.json().unwrap(), first.set_aside)
    );
    assert_eq!(again.nothing_usable, first.nothing_usable);
    assert!(
        contents(&season.dir) == inputs,
        "the season folder is left alone"
    );

    // A word in a channel map, a reading, a file of the report, a file more.
    season.replace("season.toml", "ends = [-100, 100]", "ends = [-100, 99]");
    assert!(ran(&options).1 && !ran(&options).1);
    as_without(&season, &out);
    let log = season.text("logbook.csv");
    let log = log
        .split([',', ' '])
        .find(|w| w.starts_with("logs/radio"))
        .unwrap();
    let text = season.text(log);
    season.put(log, &text.replacen(",0;", ",1;", 1));
    assert!(ran(&options).1 && !ran(&options).1);
    as_without(&season, &out);
    fs::write(out.join("index.html"), "not the report").unwrap();
    assert!(ran(&options).1 && !ran(&options).1);
    as_without(&season, &out);
    season.put("logs/radio-more.csv", "a;b\n1;2\n");
    assert!(ran(&options).1 && !ran(&options).1);
    as_without(&season, &out);
    season.remove("logs/radio-more.csv");
    assert!(ran(&options).1);

    // A record that is not whole, is of other hands, or is not wanted.
    let whole = fs::read(record(&out)).unwrap();
    let other =
        String::from_utf8(whole.clone())
            .unwrap()
            .replacen("\"version\":2", "\"version\":3", 1);
    let cut = whole[..whole.len() / 2].to_vec();
    for damaged in [other.into_bytes(), cut, b"{}".to_vec(), Vec::new()] {
        fs::write(record(&out), damaged).unwrap();
        assert!(ran(&options).1 && !ran(&options).1);
    }
    let unwanted = RunOptions {
        cache: false,
        ..options.clone()
    };
    assert!(ran(&unwanted).1);
    let without = RunOptions {
        no_pages: true,
        ..options
    };
    let (outcome, written) = ran(&without);
    assert!(written && outcome.json().unwrap() == contents_of(&out, "findings.json"));
    let names: Vec<String> = contents(&out).into_iter().map(|(name, _)| name).collect();
    let pages = names
        .iter()
        .filter(|n| n.ends_with(".html") || n.ends_with(".png"));
    assert_eq!(pages.count(), 0, "{names:?}");
    assert!(names.iter().any(|n| n == "tables/flights.parquet"));
}

fn contents_of(dir: &Path, name: &str) -> String {
    fs::read_to_string(dir.join(name)).unwrap()
}

#[test]
fn logs_put_aside_change_nothing() {
    // Two loggers, a gap, a flight without a current, one without a throttle-independent power.
    let season = Season::with(&["f01", "f02", "f03", "f04", "f05", "f08", "f10", "f13"]);
    let place = tempfile::tempdir().unwrap();
    let held = |name: &str, held_bytes| RunOptions {
        held_bytes,
        no_pages: true,
        cache: false,
        ..options(&season, &place.path().join(name))
    };
    let (all, none) = (held("all", None), held("none", Some(0)));
    // Some of them, so that both ways meet in one run.
    let some = held("some", Some(3 << 19));
    for options in [&all, &none, &some] {
        run(options).unwrap();
    }
    assert!(contents(&all.out) == contents(&none.out));
    assert!(contents(&all.out) == contents(&some.out));
}
