//! Damaged copies of the demo season: what one wrong number may not do to the answers.

use benchborne::findings::{Answer, Verdict};
use benchborne::run::{Analysed, analyse, check};
use benchborne::season::{Finding, QuestionKind, Severity};

use super::folder::Season;

/// Telemetry flights with put-back and current logged whole.
const RADIO: [&str; 4] = ["f01", "f08", "f14", "f16"];

/// Replaces the put-back of each flight.
fn put_back(season: &Season, new: impl Fn(&str, f64) -> String) {
    let text = season.text("logbook.csv");
    let lines: Vec<String> = text
        .lines()
        .map(|line| {
            let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
            if let Ok(mah) = cells[7].parse::<f64>() {
                cells[7] = new(&cells[0], mah);
            }
            cells.join(",")
        })
        .collect();
    season.put("logbook.csv", &(lines.join("\n") + "\n"));
}

fn analysed(season: &Season) -> Analysed {
    analyse(&season.dir).unwrap_or_else(|e| panic!("{e:?}"))
}

fn all<'a>(out: &'a Analysed, code: &str) -> Vec<&'a Finding> {
    let findings = &out.findings.ledger.findings;
    findings.iter().filter(|f| f.code == code).collect()
}

/// Charges of the flights as used, mAh.
fn charges(out: &Analysed) -> Vec<f64> {
    let rows = &out.tables.flights;
    rows.iter().filter_map(|f| f.charge_mah).collect()
}

/// The same charge with its interval from season to season.
#[track_caller]
fn same(a: &[f64], b: &[f64]) {
    assert!(!a.is_empty() && a.len() == b.len(), "{a:?} {b:?}");
    for (a, b) in a.iter().zip(b) {
        assert!((a / b - 1.0).abs() < 1e-9, "{a} {b}");
    }
}

#[test]
fn put_backs_that_the_sensor_cannot_explain_are_refused_whatever_the_factor() {
    let plain = Season::with(&RADIO);
    put_back(&plain, |_, _| String::new());
    let as_it_is = charges(&analysed(&plain));
    for factor in [0.6, 1.25] {
        let season = Season::with(&RADIO);
        put_back(&season, |_, mah| format!("{:.0}", factor * mah));
        let out = analysed(&season);
        let told = all(&out, "put-back-contradicts");
        assert_eq!(told.len(), 1);
        assert_eq!(told[0].severity, Severity::Warning);
        for word in ["storage", "another pack", "charger"] {
            assert!(told[0].to_do.contains(word), "{}", told[0]);
        }
        assert!(all(&out, "current-calibrated").is_empty());
        same(&charges(&out), &as_it_is);
        assert!(out.tables.flights.iter().all(|f| f.put_back_mah.is_none()));
    }
    // As the charger wrote them they calibrate.
    let out = analysed(&Season::with(&RADIO));
    assert_eq!(all(&out, "current-calibrated").len(), 1);
    assert!(all(&out, "put-back-contradicts").is_empty());
}

#[test]
fn one_odd_put_back_is_left_out_and_named() {
    let season = Season::with(&RADIO);
    put_back(&season, |flight, mah| {
        let factor = if flight == "f08" { 0.6 } else { 1.0 };
        format!("{:.0}", factor * mah)
    });
    let out = analysed(&season);
    let told = all(&out, "put-back-outlier");
    assert!(
        told.len() == 1 && told[0].what.contains("'f08'"),
        "{told:?}"
    );
    let place = told[0].place.as_ref().unwrap();
    assert_eq!((place.line, place.column), (Some(3), Some(77)));
    let calibrated = all(&out, "current-calibrated");
    assert!(calibrated[0].what.contains("3 flights"), "{calibrated:?}");
    let blank = Season::with(&RADIO);
    put_back(&blank, |flight, mah| {
        if flight == "f08" {
            String::new()
        } else {
            mah.to_string()
        }
    });
    same(&charges(&out), &charges(&analysed(&blank)));
}

#[test]
fn more_than_a_pack_holds_cannot_be_put_back() {
    let season = Season::with(&["f01", "f14"]);
    put_back(&season, |flight, mah| {
        let factor = if flight == "f14" { 10.0 } else { 1.0 };
        format!("{:.0}", factor * mah)
    });
    let out = analysed(&season);
    for told in [
        check(&season.dir).unwrap(),
        out.findings.ledger.findings.clone(),
    ] {
        let found: Vec<_> = told
            .iter()
            .filter(|f| f.code == "put-back-above-rated")
            .collect();
        assert_eq!(found.len(), 1);
        let place = found[0].place.as_ref().unwrap();
        assert_eq!((place.file.as_str(), place.line), ("logbook.csv", Some(3)));
        assert!(place.column.is_some() && found[0].severity == Severity::Error);
        assert!(found[0].what.contains("20400 mAh"), "{}", found[0]);
    }
    let of = |id: &str| out.tables.flights.iter().find(|f| f.flight == id).unwrap();
    assert_eq!(of("f14").put_back_mah, None);
    assert!(of("f01").put_back_mah.is_some());
}

/// A zero lost in the capacity: 2,100 mAh used of 260.
#[test]
fn a_capacity_that_the_flights_contradict_gives_no_timer() {
    let season = Season::with(&RADIO);
    let text = season.text("season.toml");
    season.put("season.toml", &text.replace("\"2600 mAh\"", "\"260 mAh\""));
    let out = analysed(&season);
    for told in [
        check(&season.dir).unwrap(),
        out.findings.ledger.findings.clone(),
    ] {
        let found: Vec<_> = told
            .iter()
            .filter(|f| f.code == "capacity-contradicts")
            .collect();
        assert_eq!(found.len(), 2, "one a pack");
        assert!(found.iter().all(|f| f.severity == Severity::Error));
        assert!(
            found[0].what.contains("8.") && found[0].what.contains("times"),
            "{}",
            found[0]
        );
    }
    for question in &out.findings.questions {
        assert!(
            !question.estimates.keys().any(|k| k.contains("timer")),
            "{question:?}"
        );
    }
    assert!(out.tables.flights.iter().all(|f| f.to_reserve_s.is_none()));
}

#[test]
fn a_log_counts_for_one_flight_only() {
    let season = Season::with(&["f01", "f05"]);
    let f01 = "logs/radio-2025-04-12-1012.csv";
    let copy = season
        .text(f01)
        .replace("2025-04-12", "2025-06-01")
        .replace("12.04.2025", "01.06.2025");
    season.put("logs/radio-copy.csv", &copy);
    let rows = format!(
        "{}g1,02.06.2025,,{f01},alder,eleven-blade,red,,,,\ng2,01.06.2025,,logs/radio-copy.csv,alder,\
         eleven-blade,red,,,,\n",
        season.text("logbook.csv")
    );
    season.put("logbook.csv", &rows);
    let out = analysed(&season);
    for told in [
        check(&season.dir).unwrap(),
        out.findings.ledger.findings.clone(),
    ] {
        let found: Vec<_> = told.iter().filter(|f| f.code == "log-used-twice").collect();
        assert_eq!(found.len(), 2, "{told:?}");
        assert!(
            found
                .iter()
                .all(|f| f.what.contains("already used by flight 'f01' (line 2)"))
        );
        assert_eq!(found[0].place.as_ref().unwrap().line, Some(4));
    }
    for file in &out.findings.ledger.files {
        assert!(file.balances(), "{file:?}");
    }
    let counted: Vec<&str> = out
        .tables
        .flights
        .iter()
        .filter(|f| f.level_speed_m_s.is_some() || f.charge_mah.is_some())
        .map(|f| f.flight.as_str())
        .collect();
    assert_eq!(counted, ["f01", "f05"]);
}

/// Decimal commas elsewhere in the file: a point groups thousands.
#[test]
fn numbers_of_the_logbook_follow_its_own_decimal_mark() {
    let season = Season::with(&["f01", "f14"]);
    let text = season
        .text("logbook.csv")
        .replace(',', ";")
        .replace("2140;12;", "2.140;12,5;");
    season.put("logbook.csv", &text);
    let out = analysed(&season);
    let f01 = &out.tables.flights[0];
    assert!((f01.put_back_mah.unwrap() - 2140.0).abs() < 1e-6, "{f01:?}");
}

fn power<'a>(out: &'a Analysed, id: &str) -> &'a Answer {
    let found = out.findings.questions.iter().find(|q| {
        q.question == QuestionKind::PowerAndDuration && q.candidate.as_deref() == Some(id)
    });
    found.unwrap()
}

/// One flight draws a power and tells no duration; three flights tell both, or say which they do not.
#[test]
fn power_may_be_answered_where_the_duration_is_not() {
    let out = analysed(&Season::with(&RADIO));
    let one = power(&out, "six-blade");
    assert_eq!(one.verdict, Verdict::NotSettled, "{}", one.sentence);
    for words in ["Power answered", "how long: not settled, one flight alone"] {
        assert!(one.sentence.contains(words), "{}", one.sentence);
    }
    assert!(!one.missing.is_empty() && !one.next.is_empty());

    let season = Season::with(&RADIO);
    let text = season.text("season.toml").replace("\npack = \"blue\"", "");
    season.put("season.toml", &text);
    let text = season
        .text("logbook.csv")
        .replace(",red,", ",,")
        .replace(",blue,", ",,");
    season.put("logbook.csv", &text);
    let out = analysed(&season);
    let without = power(&out, "eleven-blade");
    assert_eq!(without.verdict, Verdict::NotSettled);
    assert!(
        without
            .sentence
            .contains("how long: not settled, no flight tells"),
        "{}",
        without.sentence
    );
    assert!(!without.missing.is_empty() && !without.next.is_empty());
    assert!(without.estimates["mean_power_in_flight"].value.is_some());
}
