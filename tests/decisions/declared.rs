//! What is declared for a decision, and what a whole run makes of it.

use std::fmt::Write;

use benchborne::findings::Verdict;
use benchborne::physics::atmosphere::G0;
use benchborne::run::analyse;
use benchborne::season::{QuestionKind, SeasonText, load};
use benchborne::simulate::{SeasonPlan, Sharing, fly};

const HEAD: &str = r#"
title = "Declared"
invented = true
[airframe.jet]
mass = "1.95 kg"
span = "0.96 m"
wing_area = "23.5 dm2"
stall_speed = "13 m/s"
load_factor_limit = 6
joint_arm = "40 mm"
unit_arm = "-12 cm"
mean_chord = "25 cm"
[power.stock]
fan_diameter = "70 mm"
unit_mass = "160 g"
"#;

#[test]
fn arms_and_masses_are_read_in_si() {
    let loaded = load(&SeasonText {
        season_toml: HEAD,
        logbook_csv: None,
        passes_csv: None,
    });
    let season = loaded.season.unwrap();
    let jet = &season.airframes["jet"];
    assert_eq!(jet.joint_arm_m, Some(0.04));
    assert_eq!(jet.unit_arm_m, Some(-0.12));
    assert_eq!(jet.mean_chord_m, Some(0.25));
    assert_eq!(season.powers["stock"].unit_mass_kg, Some(0.16));
}

/// Each mistake is told with its line, what was expected, and the rest is read.
#[test]
fn mistakes_in_what_is_declared_have_their_place() {
    for (right, wrong, line, code) in [
        (
            "joint_arm = \"40 mm\"",
            "joint_arm = \"-40 mm\"",
            10,
            "not-physical",
        ),
        (
            "unit_arm = \"-12 cm\"",
            "unit_arm = \"-12 kg\"",
            11,
            "wrong-unit",
        ),
        (
            "unit_mass = \"160 g\"",
            "unit_mass = \"160 kg\"",
            15,
            "not-physical",
        ),
        (
            "mean_chord = \"25 cm\"",
            "mean_cord = \"25 cm\"",
            12,
            "unknown-key",
        ),
    ] {
        let toml = HEAD.replacen(right, wrong, 1);
        assert_ne!(toml, HEAD);
        let loaded = load(&SeasonText {
            season_toml: &toml,
            logbook_csv: None,
            passes_csv: None,
        });
        let place = |f: &benchborne::season::Finding| f.place.as_ref().and_then(|p| p.line);
        let told: Vec<_> = loaded
            .findings
            .iter()
            .map(|f| (f.code.as_str(), place(f)))
            .collect();
        assert!(told.contains(&(code, Some(line))), "{wrong}: {told:?}");
        assert!(loaded.season.is_some());
    }
}

/// The whole chain with a sensor upside down in a column of its own unit, and a flight whose pack is
/// named nowhere: both said, loads and the rest answered.
#[test]
fn a_run_with_a_sensor_upside_down_answers_and_says_so() {
    let plan = SeasonPlan::coverage(2, 0.04, Sharing::EachDay, 3.0);
    let flown = fly(&plan, 21).unwrap();
    let dir = tempfile::tempdir().unwrap();
    let mut toml = HEAD.to_owned();
    toml += "[power.swap]\nfan_diameter = \"70 mm\"\nunit_mass = \"190 g\"\n\
             [pack.p1]\ncells = 4\ncapacity = \"2600 mAh\"\n[pack.p2]\ncells = 4\ncapacity = \"2600 mAh\"\n\
             [[logs]]\nid = \"all\"\nfiles = \"*.log.csv\"\n";
    std::fs::write(dir.path().join("season.toml"), toml).unwrap();
    let mut book = String::from("flight,date,log,airframe,power,pack\n");
    for (i, (flight, planned)) in flown.flights.iter().zip(&plan.flights).enumerate() {
        let log = &flight.log;
        let mut text = String::from(
            "time [s],throttle [%],voltage [V],current [A],GPS speed [m/s],GPS course [deg],\
             altitude [m],acc z [m/s2]\n",
        );
        for k in 0..log.len() {
            let _ = writeln!(
                text,
                "{:.2},{:.1},{:.2},{:.1},{:.2},{:.1},{:.1},{:.3}",
                log.time[k],
                100.0 * log.throttle[k],
                log.voltage[k],
                log.current[k],
                log.gps_speed[k],
                log.course[k].to_degrees(),
                log.height[k],
                -G0 * log.load_factor_true[k],
            );
        }
        std::fs::write(dir.path().join(format!("f{i}.log.csv")), text).unwrap();
        let _ = writeln!(
            book,
            "f{i},{},f{i}.log.csv,jet,{},{}",
            plan.days[planned.day].date,
            plan.fans[planned.fan].id,
            if i == 0 { "" } else { "p1" },
        );
    }
    std::fs::write(dir.path().join("logbook.csv"), book).unwrap();
    let found = analyse(dir.path()).unwrap();
    let codes: Vec<&str> = found
        .findings
        .ledger
        .findings
        .iter()
        .map(|f| f.code.as_str())
        .collect();
    let upside_down = codes
        .iter()
        .filter(|c| **c == "accelerometer-upside-down")
        .count();
    assert_eq!(upside_down, flown.flights.len(), "{codes:?}");
    assert_eq!(found.tables.flight_loads.len(), flown.flights.len());
    for row in &found.tables.flight_loads {
        assert_eq!(row.source, "accelerometer");
        assert!((3.0..4.5).contains(&row.greatest_load_factor), "{row:?}");
    }
    let of = |kind: QuestionKind| {
        found
            .findings
            .questions
            .iter()
            .find(|q| q.question == kind)
            .unwrap()
    };
    let loads = of(QuestionKind::Airframe);
    assert!(
        loads.estimates.contains_key("damage_ratio_exponent_5"),
        "{}",
        loads.sentence
    );
    assert!(loads.estimates.contains_key("balance_point_shift"));
    let pack = of(QuestionKind::Pack);
    assert!(
        pack.remarks.iter().any(|r| r.contains("names no pack")),
        "{:?}",
        pack.remarks
    );
    assert!(pack.estimates.contains_key("resistance"));
    // No controller and no option is declared: the first is said, the second not asked.
    assert_eq!(of(QuestionKind::Controller).verdict, Verdict::NotSettled);
    assert!(
        found
            .findings
            .questions
            .iter()
            .all(|q| q.question != QuestionKind::WhatToChange)
    );
}
