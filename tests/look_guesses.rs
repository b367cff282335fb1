//! Every guess that `look` tells comes with a line; put into a season it changes the reading.

use std::path::Path;
use std::process::Command;

use benchborne::ingest::Channel;
use benchborne::run::look::{Certainty, Kind, Look, LookOptions, look, screen};

fn seen(text: &str) -> Look {
    look(&text.as_bytes(), "a.csv", &LookOptions::default())
}

fn rows(head: &str, n: usize, row: impl Fn(usize) -> String) -> String {
    let rows: String = (0..n).map(|i| row(i) + "\n").collect();
    format!("{head}\n{rows}")
}

/// What `look` says of the file under a season that holds one more line.
fn under(text: &str, dir: &Path, line: Option<&str>) -> serde_json::Value {
    std::fs::write(dir.join("a.csv"), text).unwrap();
    let line = line.unwrap_or_default();
    let (of_source, of_map) = match line {
        l if ["rate", "dates", "preamble_date"]
            .iter()
            .any(|k| l.starts_with(k)) =>
        {
            (l, "")
        }
        l if l.starts_with("zone") => ("", ""),
        l => ("", l),
    };
    let site = if line.starts_with("zone") { line } else { "" };
    let season = format!(
        "[site]\n{site}\n[power.a]\nfan_diameter = \"70 mm\"\n[[logs]]\nfiles = \"a.csv\"\n{of_source}\n\
         [logs.channels]\n{of_map}\n"
    );
    std::fs::write(dir.join("season.toml"), &season).unwrap();
    let file = dir.join("a.csv");
    let output = Command::new(env!("CARGO_BIN_EXE_benchborne"))
        .args(["look", "--json", "--season", dir.to_str().unwrap()])
        .arg(&file)
        .output()
        .unwrap();
    let told = String::from_utf8_lossy(&output.stderr);
    assert!(!told.contains("error["), "{season}\n{told}");
    let looks: serde_json::Value =
        serde_json::from_slice(&output.stdout).unwrap_or_else(|e| panic!("{e}: {season}\n{told}"));
    looks[0].clone()
}

/// What was read: of each channel its column and its range in SI, and the clock.
fn reading(look: &serde_json::Value) -> String {
    let columns = look["columns"].as_array().unwrap();
    let columns: Vec<String> = columns
        .iter()
        .filter(|c| !c["channel"].is_null())
        .map(|c| {
            format!(
                "{} {} {} {}",
                c["channel"], c["number"], c["range_si"], c["unreadable"]
            )
        })
        .collect();
    let time = &look["time"];
    format!("{columns:?} {} {}", time["start"], time["duration_s"])
}

/// A file with a guess of each kind, and a word of its reason.
fn guesses() -> Vec<(&'static str, String)> {
    let climb = |i: usize| (i as f64 / 15.0).sin() * 30.0;
    vec![
        (
            "mark of thousands",
            rows("time_s,rpm", 120, |i| format!("{i},\"21,{:03}\"", 4 * i)),
        ),
        (
            "mark of thousands",
            rows("time_s,rpm,U_V", 99, |i| {
                format!("{i},21.{:03},16.{}", 4 * i, i % 10)
            }),
        ),
        (
            "electrical revolutions",
            rows("time_s,erpm", 60, |i| format!("{i},{}", 140_000 + i)),
        ),
        (
            "in its name",
            rows("time_s,RPM/100", 60, |i| format!("{i},{}", 200 + i)),
        ),
        (
            "counts electrical",
            rows("time_s,eRPM/100", 60, |i| format!("{i},{}", 1400 + i)),
        ),
        (
            "metres from feet",
            rows("time_s,voltage_V,Alt", 99, |i| {
                format!("{i},16.1,{}", climb(i))
            }),
        ),
        (
            "m/s was taken",
            rows("time_s,voltage_V,speed", 99, |i| {
                format!("{i},16.1,{}", i % 40)
            }),
        ),
        (
            "ends are not declared",
            rows("time_s,Thr (us)", 99, |i| format!("{i},{}", 1100 + 8 * i)),
        ),
        (
            "usual ends",
            rows("time_s,Thr (us)", 99, |i| format!("{i},{}", 1100 + 3 * i)),
        ),
        (
            "scale of the throttle",
            rows("time_s,Throttle,U_V", 99, |i| {
                format!("{i},{},16.{}", 5 * i, i % 9)
            }),
        ),
        (
            "run backwards",
            rows("time_s,Throttle %,I_A", 50, |i| {
                format!("{i},{},{}", 100 - 2 * i, 2 * i)
            }),
        ),
        (
            "several columns",
            rows("time_s,I_A,I_A", 50, |i| format!("{i},{},{}", 3 * i, i + 1)),
        ),
        (
            "may not be the plain",
            rows("time_s,filtered voltage (V)", 50, |i| {
                format!("{i},1{}", i % 7)
            }),
        ),
        (
            "no known unit",
            rows("time_s,Voltage (vlt)", 50, |i| format!("{i},1{}", i % 7)),
        ),
        (
            "hardly a",
            rows("time_s,Voltage (V)", 50, |i| format!("{i},12{}00", i % 7)),
        ),
        (
            "its steps and its length",
            rows("time,voltage_V", 50, |i| format!("{},12.{}", i * 50, i % 7)),
        ),
        (
            "no unit of current",
            rows("time_s,voltage_V,Current (V)", 50, |i| {
                format!("{i},12.{},{i}", i % 7)
            }),
        ),
        (
            "another order",
            rows("Date,voltage_V", 50, |i| {
                format!("04/05/2025 10:00:{i:02},12.{}", i % 7)
            }),
        ),
    ]
}

#[test]
fn each_line_that_overrules_a_guess_changes_the_reading() {
    let dir = tempfile::tempdir().unwrap();
    let mut tried = 0;
    for (reason, text) in guesses() {
        let look = seen(&text);
        let shown = screen(&look);
        let reasons: Vec<&String> = look.columns.iter().flat_map(|c| &c.reasons).collect();
        assert!(
            reasons.iter().any(|r| r.contains(reason)),
            "no '{reason}': {reasons:?}\n{shown}"
        );
        let bare = reading(&under(&text, dir.path(), None));
        let of_columns = look.columns.iter().filter_map(|c| c.overrule.as_ref());
        let lines: Vec<String> = of_columns
            .chain(&look.overrule)
            .map(|line| line.split("    #").next().unwrap_or_default().to_owned())
            .collect();
        assert!(!lines.is_empty(), "{reason}\n{shown}");
        for line in lines {
            assert!(shown.contains(&line), "{line}\n{shown}");
            let other = reading(&under(&text, dir.path(), Some(&line)));
            assert_ne!(bare, other, "{line} changes nothing of\n{shown}");
            tried += 1;
        }
    }
    assert!(tried >= 18, "{tried}");
}

#[test]
fn every_guess_of_a_column_has_its_line() {
    for (reason, text) in guesses() {
        let look = seen(&text);
        for column in look.columns.iter().filter(|c| !c.reasons.is_empty()) {
            let of_file = column.channel == Some(Channel::Time) && !look.overrule.is_empty();
            assert!(column.overrule.is_some() || of_file, "{reason}: {column:?}");
        }
    }
}

/// The line for a column that is not recognised names that column, and a channel that is free.
#[test]
fn the_example_for_an_unknown_column_is_one_that_works() {
    let text = rows("time_s,current_A,Foo", 50, |i| {
        format!("{i},{},{}", i % 7, i % 11)
    });
    let line = seen(&text).example.unwrap();
    assert!(
        line.contains("\"Foo\"") && !line.starts_with("current"),
        "{line}"
    );
    let dir = tempfile::tempdir().unwrap();
    let bare = reading(&under(&text, dir.path(), None));
    assert_ne!(bare, reading(&under(&text, dir.path(), Some(&line))));
}

#[test]
fn cells_that_give_no_value_are_counted_and_told_as_check_tells_them() {
    let text = rows("time_s,voltage_V,current_A", 100, |i| {
        let volts = if i % 10 == 3 { "err" } else { "16.5" };
        format!("{i},{volts},{}", i % 7)
    });
    let look = seen(&text);
    let volts = look.column(Channel::Voltage).unwrap();
    assert_eq!((volts.present, volts.unreadable), (0.9, 10));
    assert!(look.findings.iter().any(|f| f.code == "unreadable-cells"));
    assert!(screen(&look).contains("recognised, 10 unreadable"));

    let bench = "Throttle %,Volts V,Amps A,Thrust g\n0,16.8,0,0\n50,16.5,abc,900\n100,16,60,2000\n";
    let look = seen(bench);
    let amps = look.column(Channel::Current).unwrap();
    assert!(amps.present < 0.7 && amps.unreadable == 1, "{amps:?}");
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("a.csv"), bench).unwrap();
    let season =
        "[power.a]\nfan_diameter = \"70 mm\"\n[[bench]]\npower = \"a\"\nfile = \"a.csv\"\n";
    std::fs::write(dir.path().join("season.toml"), season).unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_benchborne"))
        .args(["check", "--json", dir.path().to_str().unwrap()])
        .output()
        .unwrap();
    let checked: Vec<benchborne::season::Finding> = serde_json::from_slice(&output.stdout).unwrap();
    let of_cells = |all: &[benchborne::season::Finding]| {
        let cells = all.iter().filter(|f| f.code == "bad-cell");
        cells.map(ToString::to_string).collect::<Vec<_>>()
    };
    assert_eq!(of_cells(&look.findings).len(), 1);
    assert_eq!(of_cells(&look.findings), of_cells(&checked));
}

#[test]
fn a_name_and_a_unit_that_contradict_each_other_are_told() {
    let text = rows("time_s,voltage_V,Current (V)", 50, |i| {
        format!("{i},12.{},{i}", i % 7)
    });
    let look = seen(&text);
    let finding = look
        .findings
        .iter()
        .find(|f| f.code == "wrong-unit")
        .unwrap();
    assert!(
        finding
            .what
            .contains("'V' is no unit of current but of voltage"),
        "{finding}"
    );
    assert_eq!(look.columns[2].certainty, Certainty::NotRecognised);
    assert_eq!(
        look.columns[2].overrule.as_deref(),
        Some("current = { column = \"Current (V)\", unit = \"A\" }")
    );
}

#[test]
fn a_clock_that_no_name_tells_is_a_guess_and_its_file_a_log() {
    let fast = rows("k,voltage_V,current_A", 90, |i| {
        format!("{},12.{},{}", 1000 + 50 * i, i % 7, i % 5)
    });
    let epoch = rows("stand,voltage_V,current_A", 90, |i| {
        format!("{},12.{},{}", 1_744_447_200 + i, i % 7, i % 5)
    });
    let dir = tempfile::tempdir().unwrap();
    for (text, rate) in [(fast, 20.0), (epoch, 1.0)] {
        let look = seen(&text);
        assert_eq!(look.kind, Kind::OnboardLog);
        let time = look.column(Channel::Time).unwrap();
        assert_eq!(time.certainty, Certainty::Guess);
        assert!((look.time.as_ref().unwrap().rate_hz - rate).abs() < 1e-6);
        let line = time.overrule.as_deref();
        assert_eq!(line, Some("time = false"));
        let bare = reading(&under(&text, dir.path(), None));
        assert_ne!(bare, reading(&under(&text, dir.path(), line)));
    }
    let unix = rows("unix,voltage_V,current_A", 90, |i| {
        format!("{},12.{},{}", 1_744_447_200 + i, i % 7, i % 5)
    });
    // 1,744,447,200 s after 1970-01-01T00:00:00Z (POSIX; `date -u -d @1744447200`).
    let start = seen(&unix).time.unwrap().start.unwrap();
    assert_eq!(start.to_rfc3339(), "2025-04-12T08:40:00+00:00");
}

#[test]
fn volts_and_amps_without_a_clock_are_no_bench_table_unless_few_or_stepped() {
    let kind = |n: usize, throttle: fn(usize) -> usize| {
        seen(&rows("Throttle %,voltage_V,current_A", n, |i| {
            format!("{},12.{},{}", throttle(i), i % 7, i % 5)
        }))
        .kind
    };
    assert_eq!(kind(200, |i| (i * 37) % 100), Kind::OnboardLog);
    assert_eq!(kind(100, |i| i), Kind::BenchTable);
    assert_eq!(kind(12, |i| (i * 37) % 100), Kind::BenchTable);
}

#[test]
fn a_date_above_the_header_dates_rows_that_carry_only_the_time_of_day() {
    let text = rows(
        "Logger 7\nDate: 12.04.2025\nTime,voltage_V,current_A",
        50,
        |i| format!("10:00:{i:02},12.{},{}", i % 7, i % 5),
    );
    let look = seen(&text);
    let start = look.time.as_ref().unwrap().start.unwrap();
    assert_eq!(start.to_rfc3339(), "2025-04-12T10:00:00+00:00");
    assert!(look.findings.iter().any(|f| f.code == "date-from-preamble"));
    assert!(
        look.overrule
            .iter()
            .any(|l| l.starts_with("preamble_date = false"))
    );
    let dir = tempfile::tempdir().unwrap();
    let bare = reading(&under(&text, dir.path(), None));
    let line = Some("preamble_date = false");
    assert_ne!(bare, reading(&under(&text, dir.path(), line)));
}

#[test]
fn pictures_json_and_licences_are_refused_in_words() {
    let mit = "Permission is hereby granted, free of charge, to any person obtaining a copy\n\
        of this software and associated documentation files, to deal\nin the Software without restriction, \
        including without limitation the rights\nto use, copy, modify, merge, publish, distribute, and/or sell\n\
        copies of the Software, subject to the following conditions, 2025:\n";
    for (bytes, code, word) in [
        (&b"\x89PNG\r\n\x1a\n\0\0"[..], "not-a-table", "PNG"),
        (b"{\"a\": [1, 2],\n \"b\": 4}\n", "not-a-table", "JSON"),
        (b"[1, 2, 3,\n4, 5, 6]\n", "not-a-table", "JSON"),
        (b"PK\x03\x04\x14\0\x06\0", "not-a-table", "ZIP"),
        (mit.as_bytes(), "prose", "prose"),
    ] {
        let look = look(&bytes, "a.csv", &LookOptions::default());
        assert_eq!(look.kind, Kind::Unreadable, "{word}");
        let finding = look.findings.iter().find(|f| f.code == code);
        assert!(
            finding.is_some_and(|f| f.what.contains(word)),
            "{:?}",
            look.findings
        );
    }
}

#[test]
fn an_encoding_of_single_bytes_told_by_few_of_them_is_a_guess() {
    let of = |head: &[u8]| {
        let mut bytes = head.to_vec();
        bytes.extend(b"0,1,2\n1,1,2\n2,1,2\n");
        look(&bytes, "a.csv", &LookOptions::default())
    };
    let few = of(b"time_s,voltage_V,temp \xB0C\n");
    assert!(few.dialect.as_ref().unwrap().encoding_is_guess);
    assert!(few.findings.iter().any(|f| f.code == "encoding-assumed"));
    // Czech, s with a caron and y with an acute: signs that Western tables do not hold.
    let odd = of(b"time_s,v\xFD\x9Aka,v\xFD\x9Aka 2\n");
    assert!(odd.dialect.as_ref().unwrap().encoding_is_guess);
    let sure = of("time_s,H\u{f6}he,\u{b0}C \u{e4}\u{fc}"
        .chars()
        .map(|c| c as u8)
        .chain([b'\n'])
        .collect::<Vec<_>>()
        .as_slice());
    assert!(!sure.dialect.as_ref().unwrap().encoding_is_guess);
}

/// The fields that README.md documents.
#[test]
fn the_documented_fields_of_look_as_json_exist() {
    let page = include_str!("../src/cli/help/look-json.txt");
    let told = |key: &str| {
        let mut words = page.split(|c: char| !c.is_alphanumeric() && c != '_');
        words.any(|word| word == key)
    };
    let text = rows("time,voltage_V,Alt", 50, |i| {
        format!("{},12.{},{i}", i * 50, i % 7)
    });
    let look = serde_json::to_value(seen(&text)).unwrap();
    for key in [
        "file",
        "bytes",
        "format",
        "kind",
        "dialect",
        "ledger",
        "restart_lines",
        "columns",
        "time",
        "findings",
        "overrule",
    ] {
        assert!(look.get(key).is_some() && told(key), "{key}");
    }
    for key in [
        "encoding",
        "encoding_is_guess",
        "delimiter",
        "decimal_comma",
        "header_line",
        "preamble",
    ] {
        assert!(look["dialect"].get(key).is_some() && told(key), "{key}");
    }
    let alt = &look["columns"][2];
    for key in [
        "number",
        "header",
        "key",
        "channel",
        "unit",
        "certainty",
        "reasons",
        "range",
        "range_si",
        "unit_si",
        "present",
        "unreadable",
        "overrule",
    ] {
        assert!(alt.get(key).is_some() && told(key), "{key}");
    }
    for key in ["rate_hz", "duration_s", "start", "zone_unknown", "gaps"] {
        assert!(look["time"].get(key).is_some() && told(key), "{key}");
    }
}

#[test]
fn several_files_are_not_run_together_as_one_table() {
    let file = "datasets/demo/bench/six-blade.csv";
    let output = Command::new(env!("CARGO_BIN_EXE_benchborne"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(["look", "--as", "csv", file, file])
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(output.stdout.is_empty());
}

/// Invented: a track most of whose points have lost their times.
#[test]
fn most_rows_set_aside_are_told_apart_from_their_reasons() {
    let head = "<gpx version=\"1.1\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><trkseg>\n";
    let points: String = (0..40)
        .map(|i| {
            let time = if i < 4 {
                format!("<time>2025-04-12T10:00:0{i}Z</time>")
            } else {
                String::new()
            };
            format!("<trkpt lat=\"45.79{i:02}\" lon=\"14.3\">{time}</trkpt>\n")
        })
        .collect();
    let look = seen(&format!("{head}{points}</trkseg></trk></gpx>\n"));
    assert_eq!(look.ledger.rows_set_aside, 36);
    let finding = look
        .findings
        .iter()
        .find(|f| f.code == "mostly-set-aside")
        .unwrap();
    assert!(finding.what.contains("36 of 40"), "{finding}");
    assert!(screen(&look).contains("36 of 40"));
}
