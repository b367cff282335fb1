//! What the screens of `look`, `check` and `new` must not leave out. All invented.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use benchborne::run::look::{Look, LookOptions, look, screen};

use crate::run::folder::Season;

fn seen(text: impl AsRef<[u8]>) -> Look {
    look(&text.as_ref(), "a.csv", &LookOptions::default())
}

fn command(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_benchborne"))
        .args(arguments)
        .output()
        .unwrap()
}

fn words(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

fn word(path: &Path) -> &str {
    path.to_str().unwrap()
}

const HEADER: &str = "Time (s),Throttle (%),Voltage (V),Current (A)\n";

/// A flight of two minutes at 10 Hz: half a minute at rest, then bursts of throttle.
fn flown(current: impl Fn(usize, f64) -> f64) -> String {
    let mut text = HEADER.to_owned();
    for i in 0..1200 {
        let throttle = if i < 300 || i % 200 < 80 {
            0.0
        } else {
            40.0 + (i % 200) as f64 / 3.5
        };
        let drawn = throttle * 0.8 + ((i * 37) % 11) as f64 * 0.03;
        text += &format!(
            "{}.{},{throttle:.0},{:.2},{:.2}\n",
            i / 10,
            i % 10,
            24.6 - 0.02 * drawn,
            current(i, drawn)
        );
    }
    text
}

#[test]
fn no_finding_of_the_json_is_dropped_from_the_screen() {
    let rows = |from: usize, to: usize, cells: usize| -> String {
        let row = |i: usize| format!("{}.{}{}\n", i / 10, i % 10, ",5".repeat(cells - 1));
        (from..to).map(row).collect()
    };
    let changed = HEADER.to_owned()
        + &rows(0, 60, 4)
        + "Time (s),Throttle (%),Height (m),Voltage (V)\n"
        + &rows(60, 90, 4);
    let look = seen(changed);
    assert!(look.findings.iter().any(|f| f.code == "header-changed"));
    let shown = screen(&look);
    assert!(shown.contains("Split the file at this line"), "{shown}");
    let timeless = "Throttle (%),Voltage (V),Current (A),Height (m)\n".to_owned()
        + &(0..600)
            .map(|i| format!("{},24,{},{}\n", (i * 7) % 50, i % 9, i % 60))
            .collect::<String>();
    let look = seen(timeless);
    let error = look.findings.iter().find(|f| f.code == "no-time").unwrap();
    let shown = screen(&look).replace("\n      ", " ");
    assert!(shown.contains(&error.to_do), "{shown}");
}

#[test]
fn a_current_sensor_at_its_end_or_off_its_zero_is_told() {
    let clipped = flown(|_, a| a.min(72.0));
    let shown = screen(&seen(&clipped));
    assert!(shown.contains("saturated-current"), "{shown}");
    let off = flown(|_, a| a + 3.0);
    let shown = screen(&seen(&off));
    assert!(shown.contains("current-zero"), "{shown}");
    let sound = screen(&seen(flown(|_, a| a)));
    assert!(
        !sound.contains("current-zero") && !sound.contains("saturated"),
        "{sound}"
    );
    // `check` says the same.
    let season = Season::with(&["f01"]);
    let mut toml = season.text("season.toml");
    toml += "\n[[logs]]\nid = \"other\"\nfiles = \"other/*.csv\"\n";
    season.put("season.toml", &toml);
    fs::create_dir_all(season.dir.join("other")).unwrap();
    season.put("other/a.csv", &clipped);
    season.put("other/b.csv", &off);
    let mut logbook = season.text("logbook.csv");
    let row = logbook.lines().nth(1).unwrap().to_owned();
    let log = row.split(',').find(|c| c.contains("logs/")).unwrap();
    for (flight, file) in [("f98", "other/a.csv"), ("f99", "other/b.csv")] {
        logbook += &(row.replacen("f01", flight, 1).replace(log, file) + "\n");
    }
    season.put("logbook.csv", &logbook);
    let said = words(&command(&["check", word(&season.dir)]).stderr);
    for code in ["saturated-current", "current-zero"] {
        assert!(said.contains(code), "{code}: {said}");
    }
}

#[test]
fn what_is_no_text_is_not_called_delimited_text() {
    let picture = screen(&seen(b"\xFF\xD8\xFF\xE0\0\x10JFIF"));
    assert!(
        picture.starts_with("a.csv: could not be read (no table"),
        "{picture}"
    );
    let dir = tempfile::tempdir().unwrap();
    let folder = command(&["look", word(dir.path())]);
    assert_eq!(folder.status.code(), Some(2));
    assert!(words(&folder.stderr).contains("it is a folder"));
    assert!(!words(&folder.stdout).contains("delimited"));
}

#[test]
fn a_reading_beyond_the_scale_is_shown_as_one() {
    let text = HEADER.to_owned()
        + &(0..60)
            .map(|i| {
                format!(
                    "{}.0,{},24.{},{}\n",
                    i,
                    i,
                    i % 7,
                    if i > 40 {
                        ">80".to_owned()
                    } else {
                        (2 * i).to_string()
                    }
                )
            })
            .collect::<String>();
    let look = seen(text);
    assert_eq!(
        (look.columns[3].bounds, look.columns[3].unreadable),
        (19, 0)
    );
    let shown = screen(&look);
    assert!(
        shown.contains("0…>80 A") && shown.contains("recognised, 19 bounds"),
        "{shown}"
    );
}

#[test]
fn a_range_is_shown_whole() {
    let mut text = "timestamp,ground speed (kts),battery voltage of the receiver (mV)\n".to_owned();
    for i in 0..50 {
        text += &format!(
            "2025-05-03T10:12:{i:02}.250,{}.25,{}\n",
            100 + i,
            4980 + i % 9
        );
    }
    let shown = screen(&seen(text));
    for end in ["2025-05-03T10:12:00.250", "2025-05-03T10:12:49.250", "m/s"] {
        assert!(shown.contains(end), "{end}: {shown}");
    }
    assert!(shown.lines().all(|l| l.chars().count() <= 100), "{shown}");
}

#[test]
fn as_csv_says_what_it_leaves_out_and_what_it_cannot_read() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("a.csv");
    let mut text = HEADER.to_owned();
    for i in 0..40 {
        text += &format!(
            "{}.0,{i},24.10,{}\n",
            i,
            if i == 20 { "1\0\0" } else { "10.50" }
        );
    }
    text += "40.0,4";
    fs::write(&path, text).unwrap();
    let written = command(&["look", "--as", "csv", word(&path)]);
    assert_eq!(written.status.code(), Some(0));
    assert_eq!(words(&written.stdout).lines().count(), 40);
    let said = words(&written.stderr);
    assert!(
        said.contains(
            "2 row(s) left out: 1 damaged-row (first in line 22); 1 cut-off-row (first in line 42)"
        ),
        "{said}"
    );
    let packed = format!(
        "{}/tests/data/compressed/brotli.parquet",
        env!("CARGO_MANIFEST_DIR")
    );
    let refused = command(&["look", "--as", "csv", &packed]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(words(&refused.stderr).contains("compressed with brotli"));
    assert!(refused.stdout.is_empty());
}

#[test]
fn look_with_a_season_shows_what_is_wrong_with_the_season() {
    let season = Season::with(&["f01"]);
    let toml = season.text("season.toml") + "\n[pack.broken]\ncells = \"many\"\n";
    season.put("season.toml", &toml);
    let log = season.dir.join("logs/radio-2025-04-12-1012.csv");
    let looked = command(&[
        "look",
        "--season",
        word(&season.dir),
        word(&log),
        word(&log),
    ]);
    let said = words(&looked.stderr);
    assert!(
        said.contains("error[") && said.contains("season.toml"),
        "{said}"
    );
    let checked = words(&command(&["check", word(&season.dir)]).stderr);
    let errors = |text: &str| text.matches("error[").count();
    assert_eq!(
        errors(&said),
        errors(&checked),
        "once, not once a file: {said}"
    );
}

#[test]
fn check_mentions_files_that_nothing_names() {
    let season = Season::with(&["f01"]);
    let before = words(&command(&["check", word(&season.dir)]).stderr);
    assert!(!before.contains("files-not-named"), "{before}");
    season.put("logs/forgotten.csv", HEADER);
    let said = words(&command(&["check", word(&season.dir)]).stderr);
    assert!(
        said.contains("note[files-not-named]") && said.contains("'logs/forgotten.csv'"),
        "{said}"
    );
}

#[test]
fn new_says_why_a_file_is_not_used_and_drafts_a_logbook_that_lacks() {
    let dir = tempfile::tempdir().unwrap();
    let put = |name: &str, text: &[u8]| fs::write(dir.path().join(name), text).unwrap();
    put(
        "shopping.csv",
        b"item,price\nglue,3.20\nfoam,7.90\ntape,2.10\n",
    );
    put("photo.csv", b"\xFF\xD8\xFF\xE0\0\x10JFIF");
    put("flight-quiet.csv", flown(|_, a| a).as_bytes());
    put(
        "season.toml",
        b"[power.quiet]\nfan_diameter = \"70 mm\"\n[power.loud]\nfan_diameter = \"70 mm\"\n",
    );
    let own = fs::read(dir.path().join("season.toml")).unwrap();
    let made = command(&["new", word(dir.path())]);
    assert_eq!(made.status.code(), Some(0), "{}", words(&made.stderr));
    let said = words(&made.stdout);
    assert!(
        said.contains("photo.csv: this is a picture (JPEG)"),
        "{said}"
    );
    assert!(
        said.contains("shopping.csv: none of its columns is recognised"),
        "{said}"
    );
    assert!(
        said.contains("season.toml was there and stays as it is"),
        "{said}"
    );
    assert_eq!(fs::read(dir.path().join("season.toml")).unwrap(), own);
    // The power system is one that the season declares.
    let logbook = fs::read_to_string(dir.path().join("logbook.csv")).unwrap();
    assert!(logbook.contains(",flight-quiet.csv,,quiet,"), "{logbook}");
    assert_eq!(command(&["new", word(dir.path())]).status.code(), Some(2));
}

#[test]
fn small_words_are_right() {
    let mut text = "Time (s),Voltage (V),Course (deg)\n".to_owned();
    for i in 0..200 {
        text += &format!(
            "{:.1},24.{},{}\n",
            0.2 * (i / 4) as f64 + 3.4,
            i % 9,
            4000 + i
        );
    }
    let shown = screen(&seen(text)).replace("\n      ", " ");
    assert!(shown.contains("ticks every 0.2 s"), "{shown}");
    assert!(shown.contains("hardly an angle"), "{shown}");
}
