//! Log files that a logbook names and that are not there.

use std::fs;

use benchborne::run::check;

/// What the pilot is told when the logbook names `named` and the folder holds `there`.
fn said(named: &str, there: &str) -> String {
    let dir = tempfile::tempdir().unwrap();
    let season = "[power.a]\n[[logs]]\nfiles = \"*-*.csv\"\n";
    fs::write(dir.path().join("season.toml"), season).unwrap();
    let logbook = format!("flight,date,power,log\nf1,2025-04-12,a,{named}\n");
    fs::write(dir.path().join("logbook.csv"), logbook).unwrap();
    let rows: String = (0..60)
        .map(|i| format!("{i},16.{},{i}\n", i % 10))
        .collect();
    fs::write(
        dir.path().join(there),
        format!("Time (s),Volts,Amps\n{rows}"),
    )
    .unwrap();
    let findings = check(dir.path()).unwrap();
    let found = findings.into_iter().find(|f| f.code == "missing-log");
    found.unwrap().to_do
}

#[test]
fn a_log_is_suggested_for_a_near_name_only() {
    let flown = "radio-2025-04-12-1041.csv";
    for slip in [
        "radoi-2025-04-12-1041.csv",
        "radio-2025-04-12-1014.csv",
        "Radio-2025-04-12-1041.csv",
        "radio_2025-04-12-1041.csv",
    ] {
        let said = said(slip, flown);
        assert!(
            said.contains(&format!("did you mean '{flown}'")),
            "{slip}: {said}"
        );
    }
    // Another kind of file, another flight's number, a short name of which half is wrong.
    for (named, there) in [
        ("track-of-may.csv", flown),
        ("flight-07.csv", "flight-08.csv"),
        ("a-b.csv", "x-y.csv"),
    ] {
        let said = said(named, there);
        assert!(!said.contains("did you mean"), "{named}: {said}");
        assert!(said.contains("correct its name"), "{named}: {said}");
    }
}
