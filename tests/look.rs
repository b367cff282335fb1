//! `look`: what is in a file.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use benchborne::ingest::{Channel, ReadOptions};
use benchborne::run::look::{Certainty, Kind, Look, LookOptions, Unwritten, as_csv, look, screen};
use benchborne::season::{SeasonText, Severity, load};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn look_at(name: &str) -> Look {
    let bytes = std::fs::read(root().join(name)).unwrap_or_else(|e| panic!("{name}: {e}"));
    look(&bytes, name, &LookOptions::default())
}

fn look_text(text: impl AsRef<[u8]>) -> Look {
    look(&text.as_ref(), "a.csv", &LookOptions::default())
}

fn as_text(bytes: impl AsRef<[u8]>) -> String {
    let mut written = Vec::new();
    as_csv(&bytes.as_ref(), "a.csv", &mut written).expect("a table");
    String::from_utf8(written).unwrap()
}

fn command(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_benchborne"))
        .args(arguments)
        .current_dir(root())
        .output()
        .unwrap()
}

fn files_below(dir: &str) -> Vec<String> {
    fn into(dir: &Path, out: &mut Vec<PathBuf>) {
        for entry in std::fs::read_dir(dir).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                into(&path, out);
            } else {
                out.push(path);
            }
        }
    }
    let mut paths = Vec::new();
    into(&root().join(dir), &mut paths);
    paths.sort();
    paths
        .iter()
        .map(|p| p.strip_prefix(root()).unwrap().to_str().unwrap().to_owned())
        .collect()
}

/// Expected contents: the JSON files of the corpus (csv-spectrum), read with another parser.
#[test]
fn the_open_corpus_written_as_csv_says_what_its_json_says() {
    let names = files_below("tests/data/csv-spectrum/json");
    assert_eq!(names.len(), 12);
    for json in names {
        let csv = json.replace("/json/", "/").replace(".json", ".csv");
        let text = as_text(std::fs::read(root().join(&csv)).unwrap());
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let mut rows: Vec<BTreeMap<String, String>> =
            reader.deserialize().map(Result::unwrap).collect();
        let bytes = std::fs::read(root().join(&json)).unwrap();
        let mut said: Vec<BTreeMap<String, String>> = serde_json::from_slice(&bytes)
            .unwrap_or_else(|_| vec![serde_json::from_slice(&bytes).unwrap()]);
        if json.contains("location_coordinates") {
            // The corpus is at odds with itself here: 2095257564 in the CSV, 1234567890 in the JSON.
            for row in rows.iter_mut().chain(&mut said) {
                assert!(row.remove("Contact Phone Number").is_some());
            }
        }
        assert_eq!(rows, said, "{csv}");
    }
}

/// RFC 4180, sections 2.1 to 2.7.
#[test]
fn as_csv_is_the_table_as_it_was_read() {
    let text = "Logger 7;\nPilot;Ann\n\ntime ;volts;\"note; or \"\"remark\"\"\"\ns;V;\n\
                0,0; 16,8;a, b\n0,1;16,7\n0,2;16,6;c;d\n0,3;16,5;\n0,4;16,4;\n\nend of log\n";
    assert_eq!(
        as_text(text),
        "time  s,volts V,\"note; or \"\"remark\"\"\"\r\n\"0,0\",\" 16,8\",\"a, b\"\r\n\
         \"0,1\",\"16,7\",\r\n\"0,2\",\"16,6\",c,d\r\n\"0,3\",\"16,5\",\r\n\"0,4\",\"16,4\",\r\n"
    );
}

#[test]
fn as_csv_invents_no_header_and_keeps_every_cell() {
    assert_eq!(
        as_text("1,2.50\n2,>3\n3,n/a\n"),
        "1,2.50\r\n2,>3\r\n3,n/a\r\n"
    );
    // Latin-1, bare CR, header cells as written.
    assert_eq!(
        as_text(b"# Zeit ;H\xf6he m\r1;2,0\r2;2,5\r"),
        "# Zeit ,H\u{f6}he m\r\n1,\"2,0\"\r\n2,\"2,5\"\r\n"
    );
    assert_eq!(as_text("a,b\n"), "a,b\r\n");
    let junk: &[u8] = b"\x00\x01\x02\x03\x04\x05\x06";
    let refused = as_csv(&junk, "a.bin", &mut Vec::new());
    assert!(matches!(refused, Err(Unwritten::Found(f)) if f[0].code == "not-text"));
}

#[test]
fn every_file_of_the_data_sets_is_told_apart_by_its_content() {
    let mut told = 0;
    for name in files_below("datasets") {
        let expected = match name.as_str() {
            n if n.ends_with(".md") || n.contains("LICENSE") || n.ends_with(".toml") => continue,
            n if n.ends_with("truth.json") || n.contains("studies/") => continue,
            n if n.ends_with("logbook.csv") || n.ends_with("passes.csv") => continue,
            n if n.contains("/bench/") => Kind::BenchTable,
            n if n.ends_with(".gpx") || n.ends_with("gps.csv") => Kind::PositionTrack,
            _ => Kind::OnboardLog,
        };
        assert_eq!(look_at(&name).kind, expected, "{name}");
        told += 1;
    }
    assert!(told >= 30, "{told}");
    for name in files_below("tests/data/static-tests") {
        if name.ends_with(".csv") {
            assert_eq!(look_at(&name).kind, Kind::BenchTable, "{name}");
        }
    }
    // Prose and the season's own files are neither.
    for name in [
        "README.md",
        "LICENSE",
        "datasets/demo/season.toml",
        "datasets/demo/logbook.csv",
    ] {
        let kind = look_at(name).kind;
        assert!(
            matches!(kind, Kind::OtherTable | Kind::Unreadable),
            "{name}: {kind:?}"
        );
    }
}

#[test]
fn a_radio_log_shows_its_dialect_columns_and_clock() {
    let look = look_at("datasets/demo/logs/radio-2025-04-12-1012.csv");
    let dialect = look.dialect.as_ref().unwrap();
    assert_eq!(dialect.encoding, "windows-1252");
    assert_eq!((dialect.delimiter, dialect.decimal_comma), (';', true));
    assert_eq!(dialect.header_line, Some(5));
    let throttle = look.column(Channel::Throttle).unwrap();
    assert_eq!(throttle.range.map(|r| r.0), Some(-100.0));
    assert_eq!(throttle.range_si.map(|r| r.0), Some(0.0));
    let course = look.column(Channel::Course).unwrap();
    let (_, most) = course.range.unwrap();
    assert!((course.range_si.unwrap().1 - most.to_radians()).abs() < 1e-9);
    // Ten rows a second by its own stamps.
    assert!((look.time.as_ref().unwrap().rate_hz - 10.0).abs() < 0.01);
    let text = screen(&look);
    for word in [
        "windows-1252",
        "semicolon",
        "line 5",
        "10 Hz",
        "12.04.2025",
        "ground speed",
    ] {
        assert!(text.contains(word), "{word} is not in\n{text}");
    }
}

/// The great-circle distance on a sphere of 6371 km (haversine formula): another way than the
/// program's, to 0.6 %.
#[test]
fn a_gpx_file_gets_a_track_summary() {
    let name = "tests/data/tracks/track_with_speed.gpx";
    let text = std::fs::read_to_string(root().join(name)).unwrap();
    let number = |line: &str, key: &str| -> Option<f64> {
        let rest = line.split_once(&format!("{key}=\""))?.1;
        rest.split_once('"')?.0.parse().ok()
    };
    let points: Vec<(f64, f64)> = text
        .split("<trkpt")
        .skip(1)
        .map(|p| (number(p, "lat").unwrap(), number(p, "lon").unwrap()))
        .collect();
    let track = look_at(name).track.unwrap();
    assert_eq!(track.points, points.len());
    let north = points.iter().map(|p| p.0).fold(f64::NEG_INFINITY, f64::max);
    assert_eq!(track.latitude_deg.1, north);
    let haversine = |a: (f64, f64), b: (f64, f64)| {
        let half = |x: f64, y: f64| ((x - y).to_radians() / 2.0).sin().powi(2);
        let h = half(a.0, b.0) + a.0.to_radians().cos() * b.0.to_radians().cos() * half(a.1, b.1);
        2.0 * 6_371_000.0 * h.sqrt().asin()
    };
    let farthest = points
        .iter()
        .map(|p| haversine(points[0], *p))
        .fold(0.0, f64::max);
    assert!(farthest > 0.0);
    assert!(
        (track.farthest_m / farthest - 1.0).abs() < 0.006,
        "{} {farthest}",
        track.farthest_m
    );
    let text = screen(&look_at(name));
    assert!(
        text.contains("position track (GPX") && text.contains("over the ground"),
        "{text}"
    );
}

/// A columnar file shows its columns like any table and can be written as one.
#[test]
fn a_parquet_table_shows_its_columns_with_their_units() {
    let dir = tempfile::tempdir().unwrap();
    let out = dir.path().join("report");
    let (season, out) = ("datasets/static-tests", out.to_str().unwrap());
    assert_eq!(
        command(&["run", season, "--out", out]).status.code(),
        Some(0)
    );
    let points = dir.path().join("report/tables/bench_points.parquet");
    let output = command(&["look", "--json", points.to_str().unwrap()]);
    let looks: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(looks[0]["format"], "parquet");
    let columns = looks[0]["columns"].as_array().unwrap();
    let thrust = columns.iter().find(|c| c["channel"] == "thrust").unwrap();
    assert_eq!(thrust["unit"], "N");
    let output = command(&["look", "--as", "csv", points.to_str().unwrap()]);
    let text = String::from_utf8(output.stdout).unwrap();
    let rows = looks[0]["ledger"]["rows_in"].as_u64().unwrap();
    assert_eq!(text.lines().count() as u64, rows + 1);
}

#[test]
fn restarts_gaps_and_rows_set_aside_are_told_with_their_lines() {
    let mut text = "time_s,voltage_V,current_A\n".to_owned();
    for i in 0..50 {
        text += &format!("{}.0,12.{},3.5\n", i, i % 10);
    }
    text += "time_s,voltage_V,current_A\n0.0,12.0,3\n1.0,12\n2.0,12.0,3\n100.0,12,3\n101.0,12,3\n";
    let look = look_text(&text);
    assert_eq!(look.restart_lines, [53]);
    assert_eq!(look.ledger.rows_set_aside, 1);
    assert_eq!(look.ledger.reasons[0].first_line, 54);
    let gaps: Vec<u32> = look
        .time
        .as_ref()
        .unwrap()
        .gaps
        .iter()
        .map(|g| g.line)
        .collect();
    assert_eq!(gaps, [53, 56]);
    let shown = screen(&look);
    assert!(
        shown.contains("before line 53") && shown.contains("first in line 54"),
        "{shown}"
    );
}

#[test]
fn a_sparkline_follows_its_column() {
    let rows: String = (0..80).map(|i| format!("{i},{i},{}\n", 79 - i)).collect();
    let look = look_text(format!("time_s,voltage_V,current_A\n{rows}"));
    let of = |c| look.column(c).unwrap().sparkline.as_str();
    assert_eq!(of(Channel::Voltage), "▁▂▂▃▄▅▆▇▇█");
    assert_eq!(of(Channel::Current), "█▇▇▆▅▄▃▂▂▁");
}

#[test]
fn a_screen_is_at_most_a_hundred_wide_and_holds_no_control_characters() {
    let mut screens = 0;
    for dir in ["datasets", "tests/data"] {
        for name in files_below(dir) {
            let text = screen(&look_at(&name));
            for line in text.lines() {
                let is_map = line.trim_start().contains(" = {");
                assert!(line.chars().count() <= 100 || is_map, "{name}: {line}");
                assert!(!line.chars().any(char::is_control), "{name}: {line:?}");
            }
            screens += 1;
        }
    }
    assert!(screens > 60);
    let evil = screen(&look_text("time_s,\x1b[31mred\x07 V\n0,1\n1,2\n2,3\n"));
    assert!(!evil.contains('\x1b') && !evil.contains('\x07'), "{evil:?}");
}

#[test]
fn a_file_that_cannot_be_read_is_told_and_the_others_are_shown() {
    let good = "datasets/demo/bench/six-blade.csv";
    let output = command(&["look", "no-such-file.csv", good]);
    assert_eq!(output.status.code(), Some(2));
    let shown = String::from_utf8(output.stdout).unwrap();
    assert!(shown.contains("six-blade.csv: bench table"), "{shown}");
    assert!(!shown.contains('\x1b'));
    let told = String::from_utf8(output.stderr).unwrap();
    assert!(told.contains("no-such-file.csv"), "{told}");
    assert_eq!(command(&["look", good]).status.code(), Some(0));
    assert_eq!(command(&["look"]).status.code(), Some(2));
}

#[test]
fn strict_turns_rows_set_aside_into_exit_1() {
    let dir = tempfile::tempdir().unwrap();
    let cut = dir.path().join("cut.csv");
    std::fs::write(
        &cut,
        "time_s,voltage_V,current_A\n0,12,3\n1,12,3\n2,12\n3,12,3\n",
    )
    .unwrap();
    let cut = cut.to_str().unwrap();
    assert_eq!(command(&["look", cut]).status.code(), Some(0));
    assert_eq!(command(&["look", "--strict", cut]).status.code(), Some(1));
    let whole = "datasets/demo/bench/six-blade.csv";
    assert_eq!(command(&["look", "--strict", whole]).status.code(), Some(0));
}

#[test]
fn json_holds_what_the_screen_shows() {
    let output = command(&[
        "look",
        "--json",
        "datasets/demo/logs/power-2025-04-12-1041.csv",
        "datasets/demo/logs/track-2025-04-12-1041.gpx",
    ]);
    let looks: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(looks[0]["kind"], "onboard-log");
    assert_eq!(looks[0]["columns"][1]["channel"], "throttle");
    assert_eq!(looks[0]["columns"][1]["certainty"], "guess");
    let ledger = &looks[0]["ledger"];
    assert_eq!(
        ledger["rows_in"].as_u64().unwrap(),
        ledger["rows_used"].as_u64().unwrap() + ledger["rows_set_aside"].as_u64().unwrap()
    );
    assert_eq!(looks[1]["format"], "gpx");
    assert!(looks[1]["track"]["points"].as_u64().unwrap() > 100);
}

#[test]
fn a_season_tells_how_to_read_its_files() {
    let log = "datasets/demo/logs/power-2025-04-12-1041.csv";
    let output = command(&["look", "--json", "--season", "datasets/demo", log]);
    let looks: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(looks[0]["columns"][1]["certainty"], "declared");
    let stray = command(&["look", "--season", "datasets/demo", "README.md"]);
    assert_eq!(stray.status.code(), Some(2));
}

/// The line for another unit than the one written is obeyed: whole-number positions, microseconds,
/// a throttle with its ends.
#[test]
fn a_line_that_overrules_a_unit_is_obeyed() {
    let text = "clock,Stick,bat_A,posn,pose\n".to_owned()
        + &(0..100)
            .map(|i| {
                let (lat, lon) = (481_234_567 + 10 * i, 115_678_901 + 10 * i);
                format!("{},{},{},{lat},{lon}\n", i * 100_000, 1050 + 9 * i, 3 * i)
            })
            .collect::<String>();
    let season = "[power.a]\n[[logs]]\nfiles = \"a.csv\"\n[logs.channels]\n\
        time = { column = \"clock\", unit = \"usec\" }\n\
        throttle = { column = \"Stick\", unit = \"us\", ends = [1050, 1950] }\n\
        current = { column = \"bat_A\", unit = \"mA\" }\n\
        latitude = { column = \"posn\", unit = \"1e-7 deg\" }\n\
        longitude = { column = \"#5\", unit = \"degE7\" }\n";
    let loaded = load(&SeasonText {
        season_toml: season,
        ..SeasonText::default()
    });
    let errors = loaded
        .findings
        .iter()
        .filter(|f| f.severity == Severity::Error);
    assert_eq!(errors.count(), 0, "{:?}", loaded.findings);
    let read = ReadOptions {
        channels: loaded.season.unwrap().logs[0].channels.clone(),
        ..ReadOptions::default()
    };
    let bytes = text.as_bytes();
    let seen = look(
        &bytes,
        "a.csv",
        &LookOptions {
            read,
            bench: false,
            current: None,
        },
    );
    let si = |channel| {
        let column = seen.column(channel).unwrap();
        assert_eq!(column.certainty, Certainty::Declared);
        column.range_si.unwrap()
    };
    let near = |(low, high): (f64, f64), least: f64, most: f64| {
        assert!((low - least).abs() < 1e-9, "{low} {least}");
        assert!((high - most).abs() < 1e-9, "{high} {most}");
    };
    near(si(Channel::Time), 0.0, 9.9);
    near(si(Channel::Throttle), 0.0, 0.99);
    near(si(Channel::Current), 0.0, 0.297);
    near(si(Channel::Latitude), 48.123_456_7, 48.123_555_7);
    near(si(Channel::Longitude), 11.567_890_1, 11.567_989_1);
}
