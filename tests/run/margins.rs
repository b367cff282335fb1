//! A margin changed after results were seen is told on every later report.

use std::fs;
use std::path::Path;

use benchborne::findings::{Answer, Findings};
use benchborne::run::{RunOptions, run};
use benchborne::season::QuestionKind;

const SEASON: &str = r#"
title = "Timed by hand"
[power.stock]
fan_diameter = "70 mm"
[power.swap]
fan_diameter = "70 mm"
[airframe.alder]
[[question]]
kind = "carry-over"
baseline = "stock"
candidate = "swap"
margin = "2 %"
margin_set = 2025-04-01
"#;

const LOGBOOK: &str = "flight,date,airframe,power
f1,2025-04-12,alder,stock
f2,2025-04-12,alder,swap
f3,2025-04-12,alder,stock
f4,2025-04-12,alder,swap
";

fn pass(flight: &str, direction: &str, seconds: f64) -> String {
    format!("{flight},{direction},100,{seconds},180,1.5\n")
}

/// `each`: directions that a flight was timed in.
fn season(dir: &Path, each: &[&str]) {
    fs::write(dir.join("season.toml"), SEASON).unwrap();
    fs::write(dir.join("logbook.csv"), LOGBOOK).unwrap();
    let mut passes =
        "flight,direction,distance_m,time_s,run_up_m,minutes_since_take_off\n".to_owned();
    for (i, flight) in ["f1", "f2", "f3", "f4"].into_iter().enumerate() {
        for (k, direction) in each.iter().enumerate() {
            let time = 1.80 - 0.08 * (i % 2) as f64 + 0.01 * i as f64 + 0.03 * (k % 2) as f64;
            passes += &pass(flight, direction, time);
        }
    }
    fs::write(dir.join("passes.csv"), passes).unwrap();
}

fn report(season: &Path, out: &Path) -> (Findings, String) {
    let outcome = run(&RunOptions {
        season: season.to_owned(),
        out: out.to_owned(),
        threads: Some(1),
        ..RunOptions::default()
    })
    .unwrap_or_else(|e| panic!("{e:?}"));
    let json = outcome.json().unwrap();
    (outcome.findings, json)
}

fn change(dir: &Path, from: &str, to: &str) {
    let text = fs::read_to_string(dir.join("season.toml")).unwrap();
    assert!(text.contains(from), "{from}");
    fs::write(dir.join("season.toml"), text.replace(from, to)).unwrap();
}

const CHANGED: &str = "was changed from 2 % to 1 % (set on 2025-05-01) after results were seen.";

fn carry_over(findings: &Findings) -> &Answer {
    let mut answers = findings.questions.iter();
    answers
        .find(|q| q.question == QuestionKind::CarryOver)
        .unwrap()
}

/// What stands beside the verdict, not folded away.
fn cautions(findings: &Findings) -> &[String] {
    &carry_over(findings).cautions
}

#[test]
fn a_margin_changed_after_results_were_seen() {
    let place = tempfile::tempdir().unwrap();
    let (dir, out) = (place.path().join("season"), place.path().join("report"));
    fs::create_dir(&dir).unwrap();
    season(&dir, &["east", "west", "east", "west"]);
    let (first, first_json) = report(&dir, &out);
    assert_eq!(first.margins.digest.len(), 16);
    assert_eq!(first.margins.used[0].set.as_deref(), Some("2025-04-01"));
    assert!(!cautions(&first).iter().any(|r| r.contains("was changed")));
    // Again with the same margin: the same bytes, though a report lies there.
    assert_eq!(report(&dir, &out).1, first_json);

    change(
        &dir,
        "margin = \"2 %\"\nmargin_set = 2025-04-01",
        "margin = \"1 %\"\nmargin_set = 2025-05-01",
    );
    let (second, second_json) = report(&dir, &out);
    assert!(
        cautions(&second)[0].contains(CHANGED),
        "{:?}",
        cautions(&second)
    );
    // It was set after the flights, too.
    assert!(
        carry_over(&second)
            .remarks
            .iter()
            .any(|r| r.contains("after the first flights"))
    );
    assert!(
        second
            .ledger
            .findings
            .iter()
            .any(|f| f.code == "margin-changed" && f.what.starts_with(&carry_over(&second).asks))
    );
    let page = fs::read_to_string(out.join("index.html")).unwrap();
    assert!(
        page.replace('\u{a0}', " ")
            .contains("was changed from 2 % to 1 %")
    );
    // It stays over later runs, to the byte.
    assert_eq!(report(&dir, &out).1, second_json);

    // And where the margin goes back.
    change(&dir, "margin = \"1 %\"", "margin = \"2 %\"");
    let (third, _) = report(&dir, &out);
    assert!(
        cautions(&third)[0].contains("from 2 % to 1 % (set on 2025-05-01), then to 2 %"),
        "{:?}",
        cautions(&third)
    );
    // A fresh folder knows nothing of it.
    let (fresh, _) = report(&dir, &place.path().join("elsewhere"));
    assert!(!cautions(&fresh).iter().any(|r| r.contains("was changed")));
}

#[test]
fn a_broken_or_foreign_report_is_ignored_with_a_remark() {
    let place = tempfile::tempdir().unwrap();
    let (dir, out) = (place.path().join("season"), place.path().join("report"));
    fs::create_dir(&dir).unwrap();
    season(&dir, &["east", "west"]);
    for text in [
        "not json",
        "{}",
        "{\"season\": {\"title\": \"Timed by hand\"}, \"margins\": 7}",
        "{\"season\": {\"title\": \"Another season\"}, \"margins\": {\"digest\": \"x\", \"used\": []}}",
    ] {
        fs::create_dir_all(&out).unwrap();
        fs::write(out.join("findings.json"), text).unwrap();
        let (findings, _) = report(&dir, &out);
        let note = findings
            .ledger
            .findings
            .iter()
            .find(|f| f.code == "earlier-report-ignored")
            .unwrap_or_else(|| panic!("{text}"));
        assert_eq!(note.place.as_ref().unwrap().file, "findings.json");
        assert!(!note.to_do.is_empty());
    }
}

/// A stopwatch flight with a single pass: the wind is in its speed, so what comes out is words or an
/// interval wider than with both directions, never a bare number.
#[test]
fn one_pass_a_flight() {
    let place = tempfile::tempdir().unwrap();
    let (dir, out) = (place.path().join("season"), place.path().join("report"));
    fs::create_dir(&dir).unwrap();
    season(&dir, &["east"]);
    let (findings, json) = report(&dir, &out);
    assert!(!json.contains("NaN") && !json.contains("Infinity"));
    let carry = findings
        .questions
        .iter()
        .find(|q| q.question == QuestionKind::CarryOver)
        .unwrap();
    match carry.estimates.get("observed_speed_gain_same_pack") {
        None => assert!(
            carry.sentence.starts_with("Not settled: "),
            "{}",
            carry.sentence
        ),
        Some(one) => {
            season(&dir, &["east", "west", "east", "west"]);
            let (both, _) = report(&dir, &place.path().join("both"));
            let both = both
                .questions
                .iter()
                .find(|q| q.question == QuestionKind::CarryOver)
                .unwrap();
            let width =
                |e: &benchborne::stats::estimate::Estimate| e.high.unwrap() - e.low.unwrap();
            assert!(
                width(one) > width(&both.estimates["observed_speed_gain_same_pack"]),
                "{one:?}"
            );
        }
    }
}

#[test]
fn covariates_and_their_spelling() {
    let place = tempfile::tempdir().unwrap();
    let dir = place.path();
    season(dir, &["east", "west"]);
    change(
        dir,
        "margin_set",
        "covariates = [\"Charge used\", \"temprature\"]\nmargin_set",
    );
    let findings = benchborne::run::check(dir).unwrap();
    let wrong = findings
        .iter()
        .find(|f| f.code == "unknown-covariate")
        .unwrap();
    assert!(wrong.to_do.contains("temperature"), "{wrong}");
    assert!(wrong.place.is_some());
}

#[test]
fn a_second_margin_added_after_results_were_seen() {
    let place = tempfile::tempdir().unwrap();
    let (dir, out) = (place.path().join("season"), place.path().join("report"));
    fs::create_dir(&dir).unwrap();
    season(&dir, &["east", "west", "east", "west"]);
    report(&dir, &out);
    let text = fs::read_to_string(dir.join("season.toml")).unwrap();
    let question = text[text.find("[[question]]").unwrap()..].replace("\"2 %\"", "\"5 %\"");
    fs::write(dir.join("season.toml"), format!("{text}\n{question}")).unwrap();
    let added = "of 5 % was added after results with 2 % were seen.";
    let told = |findings: &Findings| -> Vec<bool> {
        let mut of = findings.questions.iter();
        let of = of
            .by_ref()
            .filter(|q| q.question == QuestionKind::CarryOver);
        of.map(|a| a.cautions.iter().any(|c| c.contains(added)))
            .collect()
    };
    let (second, json) = report(&dir, &out);
    assert_eq!(told(&second), [false, true]);
    // It stays over later runs, to the byte.
    assert_eq!(report(&dir, &out).1, json);
    // Where both were there from the start, nothing was added.
    let (fresh, json) = report(&dir, &place.path().join("elsewhere"));
    assert_eq!(told(&fresh), [false, false]);
    assert_eq!(report(&dir, &place.path().join("elsewhere")).1, json);
}
