//! `new`: a first season from the files in a folder.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use benchborne::run::look::Kind;
use benchborne::run::new::{Draft, draft, write};
use benchborne::run::{RunError, analyse, check};
use benchborne::season::{Finding, Severity};
use tempfile::TempDir;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn copy(from: &str, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(root().join(from)).unwrap() {
        let entry = entry.unwrap();
        fs::copy(entry.path(), to.join(entry.file_name())).unwrap();
    }
}

fn written(dir: &TempDir) -> Draft {
    let draft = draft(dir.path()).unwrap();
    write(dir.path(), &draft).unwrap();
    draft
}

fn errors(dir: &Path) -> Vec<Finding> {
    let mut findings = check(dir).unwrap();
    findings.retain(|f| f.severity == Severity::Error);
    findings
}

fn count(draft: &Draft, kind: Kind) -> usize {
    draft.found.iter().filter(|f| f.look.kind == kind).count()
}

/// The log column of a logbook, as sets of names.
fn flights(logbook: &str) -> BTreeSet<BTreeSet<String>> {
    let mut reader = csv::Reader::from_reader(logbook.as_bytes());
    let column = reader
        .headers()
        .unwrap()
        .iter()
        .position(|h| h == "log")
        .unwrap();
    let rows = reader.records().map(Result::unwrap);
    rows.map(|r| r[column].split(" + ").map(str::to_owned).collect())
        .filter(|logs: &BTreeSet<String>| logs.iter().any(|l| !l.is_empty()))
        .collect()
}

#[test]
fn the_demo_s_files_make_a_season_that_checks_and_runs() {
    let dir = tempfile::tempdir().unwrap();
    copy("datasets/demo/bench", &dir.path().join("bench"));
    copy("datasets/demo/logs", &dir.path().join("logs"));
    let draft = written(&dir);
    assert_eq!(count(&draft, Kind::BenchTable), 2);
    assert_eq!(count(&draft, Kind::OnboardLog), 16);
    assert_eq!(count(&draft, Kind::PositionTrack), 8);
    for line in [
        "[power.six-blade]",
        "[power.eleven-blade]",
        "files = \"logs/radio-*.csv\"",
        "files = \"logs/power-*.csv\"",
        "files = \"logs/track-*.gpx\"",
        "file = \"bench/six-blade.csv\"",
        "# throttle = { column = \"throttle\", unit = \"us\", ends = [1000, 2000] }",
    ] {
        assert!(
            draft.season_toml.contains(line),
            "{line}\n{}",
            draft.season_toml
        );
    }
    // The demo's own logbook says which logs belong together.
    let own = fs::read_to_string(root().join("datasets/demo/logbook.csv")).unwrap();
    let own = flights(&own);
    let ours = flights(&draft.logbook_csv);
    assert!(own.is_subset(&ours), "{own:?}\n{ours:?}");
    let named: usize = ours.iter().map(BTreeSet::len).sum();
    assert_eq!(named, 24, "each log once");
    assert_eq!(errors(dir.path()), []);
    let analysed = analyse(dir.path()).unwrap();
    assert!(!analysed.nothing_usable);
    assert!(!analysed.tables.flights.is_empty());
    assert!(!analysed.findings.questions.is_empty());
}

#[test]
fn dates_and_starts_come_from_the_logs() {
    let dir = tempfile::tempdir().unwrap();
    copy("datasets/demo/logs", dir.path());
    let draft = written(&dir);
    let row = |name: &str| {
        let line = draft.logbook_csv.lines().find(|l| l.contains(name));
        line.unwrap()
            .split(',')
            .map(str::to_owned)
            .collect::<Vec<_>>()
    };
    // By its own stamps; the demo's logbook says 10:12.
    let radio = row("radio-2025-04-12-1012.csv");
    assert_eq!((radio[1].as_str(), &radio[2][..5]), ("2025-04-12", "10:12"));
    // The power log has no date, its name has; the track counts in UTC.
    let power = row("power-2025-04-12-1041.csv");
    assert_eq!((power[1].as_str(), &power[2][..5]), ("2025-04-12", "10:41"));
}

#[test]
fn nothing_is_overwritten() {
    const BOTH: [&str; 2] = ["season.toml", "logbook.csv"];
    for there in [&BOTH[..], &BOTH[1..]] {
        let dir = tempfile::tempdir().unwrap();
        copy("datasets/demo/bench", dir.path());
        for name in there {
            fs::write(dir.path().join(name), "mine").unwrap();
        }
        let made = draft(dir.path()).unwrap();
        let Err(RunError::Input(why)) = write(dir.path(), &made) else {
            panic!("{there:?} was overwritten");
        };
        assert!(
            why.contains(there[0]) && why.contains("move it away"),
            "{why}"
        );
        for name in there {
            assert_eq!(fs::read_to_string(dir.path().join(name)).unwrap(), "mine");
        }
        let found = BOTH.map(|n| dir.path().join(n).exists());
        assert_eq!(found.iter().filter(|b| **b).count(), there.len());
    }
    // Beside a season file, even one that cannot be read, only the logbook is written.
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("season.toml"), "mine").unwrap();
    let made = draft(dir.path()).unwrap();
    assert_eq!(write(dir.path(), &made).unwrap(), ["logbook.csv"]);
    let kept = fs::read_to_string(dir.path().join("season.toml")).unwrap();
    assert_eq!(kept, "mine");
}

#[test]
fn an_empty_folder_gets_a_form_that_loads() {
    let dir = tempfile::tempdir().unwrap();
    let draft = written(&dir);
    assert!(draft.found.is_empty());
    assert_eq!(errors(dir.path()), []);
    assert!(matches!(
        benchborne::run::new::draft(&dir.path().join("none")),
        Err(RunError::Input(_))
    ));
}

#[test]
fn check_says_that_an_empty_season_holds_nothing_to_analyse() {
    let dir = tempfile::tempdir().unwrap();
    written(&dir);
    let findings = check(dir.path()).unwrap();
    let said = findings
        .iter()
        .find(|f| f.code == "nothing-usable")
        .unwrap();
    // Files may still come: no error.
    assert_eq!(said.severity, Severity::Warning);
    assert_eq!(said.place.as_ref().unwrap().file, "season.toml");
    assert!(said.to_do.contains("[[bench]]") && said.to_do.contains("[[logs]]"));
}

#[test]
fn the_baseline_of_several_fans_is_marked_as_guessed() {
    let dir = tempfile::tempdir().unwrap();
    copy("datasets/demo/bench", &dir.path().join("bench"));
    let text = written(&dir).season_toml;
    let mark = "# guessed: 'eleven-blade' is the baseline only because its name comes first";
    assert!(text.contains(mark), "{text}");
    assert!(
        text.contains("# baseline = \"eleven-blade\"\n# candidate = \"six-blade\""),
        "{text}"
    );
    // One fan is no choice.
    let one = tempfile::tempdir().unwrap();
    fs::copy(
        root().join("datasets/demo/bench/six-blade.csv"),
        one.path().join("six-blade.csv"),
    )
    .unwrap();
    let text = written(&one).season_toml;
    assert!(!text.contains("because its name comes first"), "{text}");
}

/// Every line that is only marked as a comment must be right once its mark is taken off.
#[test]
fn the_examples_to_fill_in_load_as_they_stand() {
    let dir = tempfile::tempdir().unwrap();
    copy("datasets/demo/bench", &dir.path().join("bench"));
    copy("datasets/demo/logs", &dir.path().join("logs"));
    written(&dir);
    let path = dir.path().join("season.toml");
    let text = fs::read_to_string(&path).unwrap();
    let mut bared = 0;
    let bare: Vec<&str> = text
        .lines()
        .map(|line| match line.strip_prefix("# ") {
            Some(rest)
                if rest.starts_with('[') || rest.split('#').next().unwrap().contains(" = ") =>
            {
                bared += usize::from(!rest.starts_with("guessed") && !rest.starts_with("fill in"));
                if rest.starts_with("guessed") || rest.starts_with("fill in") {
                    line
                } else {
                    rest
                }
            }
            _ => line,
        })
        .collect();
    assert!(bared > 30, "{bared}");
    fs::write(&path, bare.join("\n")).unwrap();
    assert_eq!(errors(dir.path()), [], "{}", bare.join("\n"));
}

#[test]
fn tracks_alone_make_a_season() {
    let dir = tempfile::tempdir().unwrap();
    copy("tests/data/tracks", dir.path());
    let draft = written(&dir);
    assert!(count(&draft, Kind::PositionTrack) >= 3);
    assert!(draft.season_toml.contains("[power.system]"));
    assert_eq!(errors(dir.path()), []);
}

#[test]
fn a_published_folder_of_bench_tables_makes_a_season() {
    let dir = tempfile::tempdir().unwrap();
    copy("datasets/static-tests/bench", &dir.path().join("tests"));
    let draft = written(&dir);
    assert_eq!(count(&draft, Kind::BenchTable), 4);
    // f4_7 and f4_11 differ by a number alone.
    for id in ["f4", "f5"] {
        let section = format!("[power.{id}]    # guessed: one power system of 2 bench tables");
        assert!(
            draft.season_toml.contains(&section),
            "{}",
            draft.season_toml
        );
    }
    assert_eq!(errors(dir.path()), []);
    assert!(!analyse(dir.path()).unwrap().nothing_usable);
}

#[test]
fn odd_names_and_unreadable_files_do_no_harm() {
    let dir = tempfile::tempdir().unwrap();
    // Each its own readings: a copy of another flight's log would be an error.
    let log = |n: usize| {
        let rows = (0..300)
            .map(|i| format!("{}.0,{},16.{},{}\n", i, i % 100, (i + n) % 10, i % 60))
            .collect::<String>();
        "time_s,throttle_%,voltage_V,current_A\n".to_owned() + &rows
    };
    let names = [
        "my log 1.csv",
        "it's \"quoted\".csv",
        "[brackets] and *.csv",
        "über/größe.CSV",
        "tab\there.csv",
        "no extension",
        "a+b.csv",
        ".hidden.csv",
    ];
    fs::create_dir(dir.path().join("über")).unwrap();
    for (n, name) in names.iter().enumerate() {
        fs::write(dir.path().join(name), log(n)).unwrap();
    }
    fs::write(
        dir.path().join("picture.png"),
        [0x89, 0x50, 0, 1, 2, 3, 0xff, 0xfe],
    )
    .unwrap();
    fs::write(dir.path().join("empty.csv"), "").unwrap();
    fs::write(dir.path().join("half.parquet"), "PAR1 and no more").unwrap();
    fs::write(
        dir.path().join("notes.txt"),
        "Flew well. Wind from the west, 3 m/s.\n",
    )
    .unwrap();
    fs::create_dir(dir.path().join("report")).unwrap();
    fs::write(dir.path().join("report/findings.json"), "{}").unwrap();
    fs::write(dir.path().join("report/flights.csv"), log(9)).unwrap();
    let draft = written(&dir);
    assert_eq!(count(&draft, Kind::OnboardLog), 7, "{draft:?}");
    assert_eq!(draft.flights, 6);
    assert!(draft.left_out.iter().any(|l| l.starts_with("a+b.csv")));
    assert!(draft.left_out.iter().any(|l| l.starts_with("report/")));
    assert!(!draft.season_toml.contains("hidden"));
    assert_eq!(errors(dir.path()), [], "{}", draft.season_toml);
    let analysed = analyse(dir.path()).unwrap();
    let read: BTreeSet<&str> = analysed
        .findings
        .ledger
        .files
        .iter()
        .map(|f| f.file.as_str())
        .collect();
    for name in &names[..6] {
        assert!(read.contains(name), "{name} was not read: {read:?}");
    }
    assert!(
        !read.contains("empty.csv") && !read.contains(".hidden.csv"),
        "{read:?}"
    );
}

#[test]
fn a_thousand_logs_become_a_thousand_flights_of_two_sources() {
    let dir = tempfile::tempdir().unwrap();
    let rows: String = (0..30).map(|i| format!("{i}.0,16.5,{i}\n")).collect();
    for i in 0..1000 {
        let (kind, header) = if i % 2 == 0 {
            ("radio", "time_s,voltage_V,current_A\n")
        } else {
            ("meter", "time (s),Volts,Amps\n")
        };
        let day = i / 40 + 1;
        let name = format!(
            "{kind}-2025-05-{day:02}-{:02}{:02}.csv",
            8 + i % 40 / 4,
            i % 40 % 4 * 15
        );
        fs::write(dir.path().join(name), format!("{header}{rows}")).unwrap();
    }
    let draft = written(&dir);
    assert_eq!(draft.found.len(), 1000);
    assert_eq!(draft.flights, 1000);
    assert_eq!(
        draft.season_toml.matches("\n[[logs]]").count(),
        2,
        "{}",
        draft.season_toml
    );
}

#[test]
fn a_log_without_a_clock_is_left_for_the_pilot_to_complete() {
    let dir = tempfile::tempdir().unwrap();
    let rows: String = (0..900)
        .map(|i| format!("{},16.5,{}\n", i % 100, i % 60))
        .collect();
    fs::write(
        dir.path().join("raw.csv"),
        format!("Throttle %,Volts,Amps\n{rows}"),
    )
    .unwrap();
    let draft = written(&dir);
    assert!(
        draft.season_toml.contains("# rate = \"10 Hz\""),
        "{}",
        draft.season_toml
    );
}

#[test]
fn a_bench_table_that_cannot_be_used_is_left_as_a_comment_with_the_reason() {
    let dir = tempfile::tempdir().unwrap();
    let rows = "30,2.1,16.5,10\n60,5.3,16.1,30\n100,9.8,15.2,60\n";
    for (name, header) in [
        ("good.csv", "Throttle %,Thrust N,Volts,Amps\n"),
        ("bare.csv", "Throttle %,Thrust,Volts,Amps\n"),
    ] {
        fs::write(dir.path().join(name), format!("{header}{rows}")).unwrap();
    }
    let draft = written(&dir);
    let text = &draft.season_toml;
    assert!(text.contains("\nfile = \"good.csv\""), "{text}");
    assert!(text.contains("\n# file = \"bare.csv\""), "{text}");
    assert!(
        text.contains("# fill in: not usable as it stands: 'Thrust' has no unit"),
        "{text}"
    );
    assert_eq!(errors(dir.path()), []);
}
