//! Bad input: each ends in a finding that says what, where and what to do, and the rest still runs.

use std::fs;

use benchborne::findings::{Answer, Verdict};
use benchborne::run::{Analysed, RunError, RunOptions, analyse, check, run};
use benchborne::season::{Finding, QuestionKind, Severity};

use super::folder::{Season, demo};

/// The telemetry of f01 (day one, six-blade) and f05 (day two, eleven-blade).
const F01: &str = "logs/radio-2025-04-12-1012.csv";

fn season() -> Season {
    Season::with(&["f01", "f05"])
}

fn analysed(season: &Season) -> Analysed {
    let out = analyse(&season.dir).unwrap_or_else(|e| panic!("{e:?}"));
    for file in &out.findings.ledger.files {
        assert!(file.balances(), "{file:?}");
    }
    // Whatever is wrong, every complaint says where and what to do.
    for finding in &out.findings.ledger.findings {
        assert!(
            !finding.what.is_empty() && !finding.to_do.is_empty(),
            "{finding}"
        );
        assert!(finding.place.is_some(), "{finding}");
    }
    out
}

#[track_caller]
fn found<'a>(findings: &'a [Finding], code: &str, file: &str) -> &'a Finding {
    findings
        .iter()
        .find(|f| f.code == code && f.place.as_ref().is_some_and(|p| p.file == file))
        .unwrap_or_else(|| {
            let all: Vec<String> = findings.iter().map(Finding::to_string).collect();
            panic!("no {code} in {file}:\n{}", all.join("\n"))
        })
}

fn carry_over(out: &Analysed) -> &Answer {
    out.findings
        .questions
        .iter()
        .find(|q| q.question == QuestionKind::CarryOver)
        .unwrap()
}

/// Not settled, with what is missing said.
#[track_caller]
fn not_settled(out: &Analysed, words: &str) {
    let answer = carry_over(out);
    assert_eq!(answer.verdict, Verdict::NotSettled, "{}", answer.sentence);
    assert!(answer.sentence.contains(words), "{}", answer.sentence);
    assert!(
        !answer.missing.is_empty() && !answer.next.is_empty(),
        "{answer:?}"
    );
}

/// Whatever is missing, a report can be set from the rest.
fn reported(out: &Analysed) {
    benchborne::report::render(&out.findings).unwrap();
}

/// The step that a newcomer forgets: told by `check` and by the run alike.
#[test]
fn flights_without_a_power_system_are_told() {
    let season = season();
    let text = fs::read_to_string(season.dir.join("logbook.csv")).unwrap();
    let blank = text.replace("six-blade", "");
    assert_ne!(text, blank);
    fs::write(season.dir.join("logbook.csv"), blank).unwrap();
    let told = check(&season.dir).unwrap();
    let finding = found(&told, "flights-without-power", "logbook.csv");
    assert!(finding.what.contains("'f01'"), "{finding}");
    let out = analysed(&season);
    found(
        &out.findings.ledger.findings,
        "flights-without-power",
        "logbook.csv",
    );
    not_settled(&out, "has not flown");
}

/// One airframe alone says nothing of the other, however many flights the card orders.
#[test]
fn a_card_claims_nothing_for_a_question_that_its_flights_do_not_serve() {
    let card = analysed(&season()).findings.card;
    let frames: Vec<_> = card.flights.iter().map(|f| f.airframe.clone()).collect();
    let sisters = card.open.iter().find(|o| o.asks.contains("alike")).unwrap();
    let both = frames.iter().any(|f| *f != frames[0]);
    assert_eq!(
        both,
        sisters.settled_by.contains("Chance to settle it"),
        "{sisters:?} {frames:?}"
    );
    let served = card
        .flights
        .iter()
        .any(|f| f.letters.contains(&sisters.letter));
    assert_eq!(both, served, "{frames:?}");
}

/// The other flight's level speed is still found.
#[track_caller]
fn other_flight_stands(out: &Analysed) {
    let f05 = out
        .tables
        .flights
        .iter()
        .find(|f| f.flight == "f05")
        .unwrap();
    assert!(f05.level_speed_m_s.is_some() && f05.energy_wh.is_some());
}

#[test]
fn a_wrong_unit() {
    let season = season();
    season.replace("season.toml", "1.95 kg", "1.95 kilo");
    let out = analysed(&season);
    let finding = found(&out.findings.ledger.findings, "unknown-unit", "season.toml");
    assert_eq!(finding.severity, Severity::Error);
    assert!(finding.what.contains("kilo") && finding.what.contains("airframe.alder.mass"));
    assert!(finding.expected.as_ref().unwrap().contains("kg"));
    let line = season
        .text("season.toml")
        .lines()
        .position(|l| l.contains("kilo"))
        .unwrap();
    assert_eq!(finding.place.as_ref().unwrap().line, Some(line as u32 + 1));
    other_flight_stands(&out);
}

#[test]
fn an_unknown_airframe_in_the_logbook() {
    let season = season();
    season.replace("logbook.csv", "alder", "aldor");
    let out = analysed(&season);
    let finding = found(
        &out.findings.ledger.findings,
        "unknown-airframe",
        "logbook.csv",
    );
    assert_eq!(finding.place.as_ref().unwrap().line, Some(2));
    assert!(finding.what.contains("aldor") && finding.to_do.contains("alder"));
    // The flight keeps all but its airframe.
    let f01 = &out.tables.flights[0];
    assert_eq!(f01.airframe, None);
    assert!(f01.level_speed_m_s.is_some());
    other_flight_stands(&out);
}

#[test]
fn a_missing_log() {
    let season = season();
    season.replace(
        "logbook.csv",
        "radio-2025-05-03-0930",
        "radio-2025-05-03-0939",
    );
    let out = analysed(&season);
    let finding = found(&out.findings.ledger.findings, "missing-log", "logbook.csv");
    assert_eq!(finding.place.as_ref().unwrap().line, Some(3));
    assert!(finding.what.contains("0939") && finding.what.contains("f05"));
    assert!(
        finding.to_do.contains("radio-2025-05-03-0930"),
        "{}",
        finding.to_do
    );
    assert_eq!(out.tables.flights.len(), 2);
    assert!(out.tables.flights[0].level_speed_m_s.is_some());
}

#[test]
fn a_missing_bench_table() {
    let season = season();
    season.remove("bench/six-blade.csv");
    let out = analysed(&season);
    let finding = found(
        &out.findings.ledger.findings,
        "missing-bench",
        "season.toml",
    );
    assert!(finding.what.contains("bench/six-blade.csv"));
    assert!(finding.place.as_ref().unwrap().line.is_some());
    assert!(out.tables.static_gains.is_empty() && !out.tables.bench_points.is_empty());
    other_flight_stands(&out);
}

#[test]
fn logs_with_nothing_in_them() {
    let header = |rows: usize| {
        let text = season().text(F01);
        let at = text.lines().position(|l| l.starts_with("Date;")).unwrap();
        text.lines()
            .take(at + 1 + rows)
            .collect::<Vec<_>>()
            .join("\n")
            + "\n"
    };
    let junk: String = (0..4000_u32)
        .map(|i| char::from(((i * 7919 + i * i * 31) % 256) as u8))
        .collect();
    for (content, code, severity) in [
        (String::new(), "empty-file", Severity::Error),
        (junk, "not-text", Severity::Error),
        (header(0), "no-rows", Severity::Error),
        (header(1), "one-row", Severity::Warning),
    ] {
        let season = season();
        season.put(F01, &content);
        let out = analysed(&season);
        let finding = found(&out.findings.ledger.findings, code, F01);
        assert_eq!(finding.severity, severity, "{finding}");
        assert!(out.tables.flights[0].level_speed_m_s.is_none());
        other_flight_stands(&out);
        // `check` tells the same, and never that nothing is wrong.
        let checked = check(&season.dir).unwrap();
        assert_eq!(found(&checked, code, F01), finding);
    }
}

#[test]
fn a_dead_current_sensor() {
    let season = season();
    season.cells(F01, "Current", |_| "0,0".into());
    let out = analysed(&season);
    let f01 = &out.tables.flights[0];
    assert!(!f01.has_current && f01.pack_resistance_ohm.is_none());
    assert_ne!(f01.power_source, "measured");
    assert!(f01.level_speed_m_s.is_some());
    let finding = found(&out.findings.ledger.findings, "dead-column", F01);
    assert!(finding.what.contains("Current") && finding.what.contains("zero"));
    let header = season
        .text(F01)
        .lines()
        .position(|l| l.starts_with("Date;"));
    assert_eq!(
        finding.place.as_ref().unwrap().line,
        header.map(|l| l as u32 + 1)
    );
    other_flight_stands(&out);
}

#[test]
fn throttle_never_above_half() {
    let season = season();
    // The radio's throttle runs from -100 to 100.
    season.cells(F01, "Throttle", |v| {
        let value: f64 = v.replace(',', ".").parse().unwrap_or(-100.0);
        format!("{:.0}", value.min(0.0))
    });
    let out = analysed(&season);
    let f01 = &out.tables.flights[0];
    assert_eq!(f01.passes, 0);
    assert!(f01.level_speed_m_s.is_none() && f01.energy_wh.is_some());
    not_settled(&out, "baseline has not flown");
    other_flight_stands(&out);
}

#[test]
fn a_reversed_throttle() {
    let season = season();
    season.cells(F01, "Throttle", |v| {
        let value: f64 = v.replace(',', ".").parse().unwrap_or(-100.0);
        format!("{:.0}", -value)
    });
    let out = analysed(&season);
    let said: Vec<&Finding> = out
        .findings
        .ledger
        .findings
        .iter()
        .filter(|f| f.place.as_ref().unwrap().file == F01 && f.severity >= Severity::Warning)
        .collect();
    assert!(
        said.iter().any(|f| f.what.contains("throttle")),
        "a reversed throttle passes in silence: {said:?}"
    );
    // Nothing is made of it: the current tells full throttle, and no hold is held against the bench.
    let f01 = &out.tables.flights[0];
    assert!(!f01.has_throttle, "{f01:?}");
    assert!(out.tables.holds.iter().all(|h| h.flight != f01.flight));
    // 61.68 m/s in the demo's truth.json.
    let speed = f01.level_speed_m_s.unwrap();
    assert!((speed / 61.680 - 1.0).abs() < 0.015, "{speed}");
    other_flight_stands(&out);
}

#[test]
fn a_bench_of_one_point() {
    let season = season();
    let text = season.text("bench/six-blade.csv");
    let last = text.lines().last().unwrap();
    let one = format!("{}\n{last}\n", text.lines().next().unwrap());
    season.put("bench/six-blade.csv", &one);
    let out = analysed(&season);
    // One full-throttle reading gives a static gain, no curve.
    let thrust = out
        .tables
        .static_gains
        .iter()
        .find(|g| g.quantity == "thrust" && g.condition == "same_terminal_voltage")
        .unwrap();
    // Truth of the demo season: 0.20.
    assert!(
        thrust.low.unwrap() < 0.2 && 0.2 < thrust.high.unwrap(),
        "{thrust:?}"
    );
    let six = out
        .tables
        .bench_curves
        .iter()
        .filter(|c| c.power == "six-blade");
    assert_eq!(six.count(), 0);
    other_flight_stands(&out);

    // One reading at part throttle gives none, and says so.
    let first = text.lines().take(2).collect::<Vec<_>>().join("\n") + "\n";
    season.put("bench/six-blade.csv", &first);
    let out = analysed(&season);
    let finding = found(
        &out.findings.ledger.findings,
        "no-full-throttle",
        "bench/six-blade.csv",
    );
    assert!(finding.to_do.contains("full-throttle row"));
}

#[test]
fn a_bench_with_a_wrong_unit_in_its_header() {
    let season = season();
    season.replace("bench/six-blade.csv", "[gf]", "[bar]");
    let out = analysed(&season);
    let said: Vec<&Finding> = out
        .findings
        .ledger
        .findings
        .iter()
        .filter(|f| f.place.as_ref().unwrap().file == "bench/six-blade.csv")
        .collect();
    let finding = said
        .iter()
        .find(|f| f.what.contains("bar") && f.severity >= Severity::Warning)
        .unwrap_or_else(|| panic!("{said:?}"));
    assert_eq!(finding.place.as_ref().unwrap().line, Some(1), "{finding}");
    // No thrust is made of pressure; current still compares.
    let gain = |quantity: &str| {
        out.tables
            .static_gains
            .iter()
            .any(|g| g.quantity == quantity && g.gain.is_some())
    };
    assert!(!gain("thrust") && gain("current"));
    other_flight_stands(&out);
}

#[test]
fn one_day_a_fan() {
    let out = analysed(&season());
    not_settled(&out, "one day only");
}

#[test]
fn each_airframe_with_one_fan_only() {
    let out = analysed(&Season::with(&["f01", "f02", "f03", "f04"]));
    not_settled(&out, "airframes of its own");
    let sisters = out
        .findings
        .questions
        .iter()
        .find(|q| q.question == QuestionKind::Sisters)
        .unwrap();
    assert_eq!(sisters.verdict, Verdict::NotSettled, "{}", sisters.sentence);
}

#[test]
fn two_flights_only_on_one_day() {
    let season = Season::with(&["f01", "f02"]);
    season.replace("logbook.csv", "birch", "alder");
    let out = analysed(&season);
    not_settled(&out, "");
    assert!(
        out.tables
            .flights
            .iter()
            .all(|f| f.level_speed_m_s.is_some())
    );
}

#[test]
fn no_logger_knows_height_or_course() {
    let season = season();
    for log in [F01, "logs/radio-2025-05-03-0930.csv"] {
        for header in ["Course", "Altitude", "GPS lat", "GPS lon"] {
            season.without_column(log, header);
        }
    }
    let out = analysed(&season);
    for flight in &out.tables.flights {
        assert!(
            flight.energy_wh.is_some() && !flight.has_position,
            "{flight:?}"
        );
    }
    not_settled(&out, "");
    let finding = found(&out.findings.ledger.findings, "no-course", F01);
    assert!(finding.to_do.contains("passes.csv"), "{finding}");
    reported(&out);
}

#[test]
fn no_logbook_at_all() {
    let season = season();
    season.remove("logbook.csv");
    let out = analysed(&season);
    let finding = found(&out.findings.ledger.findings, "no-logbook", "logbook.csv");
    assert_eq!(finding.severity, Severity::Warning);
    assert!(finding.what.contains("2 log(s)") && finding.to_do.contains("logbook.csv"));
    assert_eq!(out.tables.flights.len(), 2);
    assert!(
        out.tables
            .flights
            .iter()
            .all(|f| f.power.is_none() && f.energy_wh.is_some())
    );
    not_settled(&out, "");
}

#[test]
fn a_log_is_found_by_its_start_time() {
    let season = season();
    season.replace("logbook.csv", F01, "");
    let out = analysed(&season);
    let finding = found(&out.findings.ledger.findings, "log-found-by-time", F01);
    assert!(finding.what.contains("f01"));
    assert_eq!(out.tables.flights[0].files, F01);
    assert!(out.tables.flights[0].level_speed_m_s.is_some());
}

#[test]
fn a_log_that_fits_no_flight() {
    let season = season();
    let stray = "logs/radio-2025-06-14-1040.csv";
    fs::copy(demo().join(stray), season.dir.join(stray)).unwrap();
    let out = analysed(&season);
    let finding = found(&out.findings.ledger.findings, "log-without-flight", stray);
    assert!(finding.to_do.contains("logbook.csv"));
    let file = out
        .findings
        .ledger
        .files
        .iter()
        .find(|f| f.file == stray)
        .unwrap();
    assert!(file.rows_in > 1000 && file.rows_used == 0);
    let reason = &file.reasons[0];
    assert_eq!(
        (reason.code.as_str(), reason.count),
        ("no-flight", file.rows_in)
    );
    // The first data row, behind the preamble and the header.
    let first = season
        .text(stray)
        .lines()
        .position(|l| l.starts_with(|c: char| c.is_ascii_digit()))
        .unwrap();
    assert_eq!(reason.first_line, first as u64 + 1);
    assert_eq!(out.tables.flights.len(), 2);
}

/// Two logs of one source fit one flight: neither is guessed.
#[test]
fn two_logs_that_fit_one_flight() {
    let season = season();
    season.replace("logbook.csv", F01, "");
    let copy = "logs/radio-2025-04-12-copy.csv";
    season.write(copy, &season.bytes(F01));
    let out = analysed(&season);
    for log in [F01, copy] {
        let finding = found(&out.findings.ledger.findings, "log-without-flight", log);
        assert!(finding.what.contains("does not tell which"), "{finding}");
    }
    assert!(out.tables.flights[0].level_speed_m_s.is_none());
    other_flight_stands(&out);
}

#[test]
fn a_season_without_any_flight_answers_from_the_bench() {
    let season = season();
    fs::remove_dir_all(season.dir.join("logs")).unwrap();
    season.remove("logbook.csv");
    let out = analysed(&season);
    assert!(!out.nothing_usable);
    reported(&out);
    found(
        &out.findings.ledger.findings,
        "no-log-matches",
        "season.toml",
    );
    let answer = carry_over(&out);
    assert_eq!(answer.verdict, Verdict::NotSettled);
    let thrust = &answer.estimates["static_thrust_gain"];
    assert!(thrust.low.unwrap() < 0.2 && 0.2 < thrust.high.unwrap());
}

#[test]
fn a_season_with_nothing_usable() {
    let season = season();
    fs::remove_dir_all(season.dir.join("logs")).unwrap();
    fs::remove_dir_all(season.dir.join("bench")).unwrap();
    let out = analysed(&season);
    assert!(out.nothing_usable);
    reported(&out);
    found(
        &out.findings.ledger.findings,
        "nothing-usable",
        "season.toml",
    );
}

#[test]
fn a_folder_that_is_not_there() {
    let place = tempfile::tempdir().unwrap();
    let dir = place.path().join("nowhere");
    for error in [analyse(&dir).unwrap_err(), check(&dir).unwrap_err()] {
        let RunError::Input(what) = error else {
            panic!("{error:?}")
        };
        assert!(
            what.contains("nowhere") && what.contains("benchborne demo"),
            "{what}"
        );
    }
}

#[test]
fn a_season_file_with_a_syntax_error() {
    let season = season();
    season.replace("season.toml", "title = \"", "title = ");
    let out = season.dir.join("report");
    let error = run(&RunOptions {
        season: season.dir.clone(),
        out: out.clone(),
        threads: Some(1),
        ..RunOptions::default()
    })
    .unwrap_err();
    let RunError::Season(findings) = error else {
        panic!("{error:?}")
    };
    let finding = found(&findings, "toml-syntax", "season.toml");
    assert_eq!(finding.place.as_ref().unwrap().line, Some(2));
    assert!(finding.excerpt.as_ref().unwrap().contains('^'));
    assert!(!out.exists(), "outputs appear whole or not at all");
    assert_eq!(check(&season.dir).unwrap(), findings);
}

/// Even root cannot put a folder where a file stands.
#[test]
fn a_report_that_cannot_be_written() {
    let season = season();
    let target = season.dir.join("in-the-way");
    fs::write(&target, "mine").unwrap();
    for out in [target.clone(), target.join("below")] {
        let error = run(&RunOptions {
            season: season.dir.clone(),
            out,
            threads: Some(2),
            ..RunOptions::default()
        })
        .unwrap_err();
        let RunError::Input(what) = error else {
            panic!("{error:?}")
        };
        assert!(
            what.contains("in-the-way") && what.contains("--out"),
            "{what}"
        );
    }
    assert_eq!(fs::read_to_string(&target).unwrap(), "mine");
    let left: Vec<_> = fs::read_dir(&season.dir)
        .unwrap()
        .map(|e| e.unwrap().file_name())
        .filter(|n| n.to_string_lossy().starts_with('.'))
        .collect();
    assert!(left.is_empty(), "{left:?}");
}

/// f02's positions were recorded on 12 April.
#[test]
fn a_flight_under_the_wrong_date_is_told() {
    let season = Season::with(&["f01", "f02"]);
    assert!(
        !check(&season.dir)
            .unwrap()
            .iter()
            .any(|f| f.code == "logbook-date-differs")
    );
    let logbook = season.text("logbook.csv");
    season.put(
        "logbook.csv",
        &logbook.replace("f02,12.04.2025", "f02,13.04.2025"),
    );
    let findings = check(&season.dir).unwrap();
    let told = found(&findings, "logbook-date-differs", "logbook.csv");
    assert!(told.what.contains("2025-04-13") && told.what.contains("2025-04-12"));
    assert_eq!(told.place.as_ref().unwrap().line, Some(3));
    found(
        &analysed(&season).findings.ledger.findings,
        "logbook-date-differs",
        "logbook.csv",
    );
}

/// The blue pack flies in Birch from 10:41; a row puts it into Alder a minute later.
#[test]
fn a_pack_in_two_jets_at_once_is_told() {
    let season = Season::with(&["f01", "f02"]);
    let row = "f03,12.04.2025,10:43,,alder,six-blade,blue,2100,12,981,\n";
    let logbook = season.text("logbook.csv") + row;
    season.put("logbook.csv", &logbook);
    let findings = check(&season.dir).unwrap();
    let told = found(&findings, "pack-in-two-places", "logbook.csv");
    assert!(
        told.what.contains("'f02'") && told.what.contains("'f03'"),
        "{told}"
    );
    // Twenty minutes later it may.
    season.put("logbook.csv", &logbook.replace("10:43", "11:05"));
    let later = check(&season.dir).unwrap();
    assert!(!later.iter().any(|f| f.code == "pack-in-two-places"));
}
