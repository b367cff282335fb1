//! The demo season's pages of their own: what they hold is what the tables hold, and nothing dangles.

use std::collections::BTreeSet;

use benchborne::findings::{DataCell, Findings, Sheet};
use benchborne::season::QuestionKind;

use super::demo::demo;

fn findings() -> &'static Findings {
    &demo().findings
}

fn sheets() -> Vec<(&'static str, &'static Sheet)> {
    let all = findings();
    let flights = all.flights.iter().map(|f| (f.id.as_str(), &f.sheet));
    let powers = all.powers.iter().map(|p| (p.id.as_str(), &p.sheet));
    let pairs = all.comparisons.iter().map(|c| (c.id.as_str(), &c.sheet));
    flights.chain(powers).chain(pairs).collect()
}

#[test]
fn every_name_on_a_sheet_leads_somewhere_and_every_estimate_has_its_place() {
    let all = findings();
    let figures: BTreeSet<&str> = all.figures.iter().map(|f| f.id.as_str()).collect();
    let tables: BTreeSet<&str> = all.tables.iter().map(|t| t.id.as_str()).collect();
    let questions: BTreeSet<&str> = all.questions.iter().map(|q| q.id.as_str()).collect();
    assert_eq!(sheets().len(), 17 + 2 + 1);
    for (id, sheet) in sheets() {
        for (names, known) in [
            (&sheet.figures, &figures),
            (&sheet.tables, &tables),
            (&sheet.questions, &questions),
        ] {
            assert!(names.iter().all(|n| known.contains(n.as_str())), "{id}");
        }
        let grouped: Vec<&String> = sheet.groups.iter().flat_map(|g| &g.keys).collect();
        let keys: BTreeSet<&String> = grouped.iter().copied().collect();
        assert_eq!(grouped.len(), keys.len(), "{id}: a key stands twice");
        assert!(keys.into_iter().eq(sheet.estimates.keys()), "{id}");
        let ledger = all.ledger.findings.len() as u64;
        assert!(sheet.findings.iter().all(|i| *i < ledger), "{id}");
        let rows = sheet.rows;
        assert_eq!(rows.rows_in, rows.rows_used + rows.rows_set_aside, "{id}");
        assert!(rows.rows_in > 0 || id == "f07", "{id}");
    }
    // Each question about a system or a pair is at home on one page.
    for question in &all.questions {
        let homes = sheets()
            .into_iter()
            .skip(17)
            .filter(|(_, s)| s.questions.contains(&question.id));
        let wanted = match question.question {
            QuestionKind::Pack
            | QuestionKind::Sisters
            | QuestionKind::WhatToChange
            | QuestionKind::Next => 0,
            _ => 1,
        };
        assert_eq!(homes.count(), wanted, "{}", question.id);
    }
}

#[test]
fn a_flights_sheet_says_what_the_flights_table_holds() {
    for (row, flight) in demo().tables.flights.iter().zip(&findings().flights) {
        assert_eq!(row.flight, flight.id);
        let value = |key: &str| flight.sheet.estimates.get(key).and_then(|e| e.value);
        for (key, held) in [
            ("mean_power", row.mean_power_w),
            ("charge", row.charge_mah),
            ("level_speed", row.level_speed_m_s),
            ("peak_current", row.peak_current_a),
            ("airborne", row.airborne_s),
            ("charge_put_back", row.put_back_mah),
        ] {
            assert_eq!(value(key), held, "{} {key}", flight.id);
        }
    }
    // No logger was on board of f07.
    let timed = findings().flights.iter().find(|f| f.id == "f07").unwrap();
    assert!(timed.logs.is_empty() && timed.sheet.figures.is_empty());
    assert!(!timed.sheet.estimates.contains_key("mean_power"));
    assert!(timed.sentence.contains("stopwatch"), "{}", timed.sentence);
    // Two logs of one flight, and what was found wrong with one of them.
    let joined = findings().flights.iter().find(|f| f.id == "f09").unwrap();
    assert_eq!(joined.logs.len(), 2);
    let found = joined.sheet.findings.iter();
    let found: Vec<&str> = found
        .map(|i| findings().ledger.findings[*i as usize].code.as_str())
        .collect();
    assert!(found.contains(&"cut-off-row"), "{found:?}");
}

/// km/h by NIST SP 811 (2008), B.8: 1 km/h = 2.777 778 E-01 m/s, exactly 1/3.6.
#[test]
fn speeds_stand_in_the_seasons_own_unit_too() {
    let all = findings();
    let units: Vec<(&str, &str, bool)> = all
        .units
        .iter()
        .map(|u| (u.unit.as_str(), u.shown.as_str(), u.written))
        .collect();
    // The season file writes km/h and rpm; its scale reads N.
    assert!(units.contains(&("m/s", "km/h", true)), "{units:?}");
    assert!(units.contains(&("rad/s", "/min", true)), "{units:?}");
    assert!(units.iter().all(|(unit, ..)| *unit != "N"), "{units:?}");
    let mut seen = 0;
    for estimate in sheets().iter().flat_map(|(_, s)| s.estimates.values()) {
        let Some(shown) = &estimate.shown else {
            assert_ne!(estimate.unit, "m/s");
            continue;
        };
        seen += 1;
        assert_eq!(
            (estimate.unit.as_str(), shown.unit.as_str()),
            ("m/s", "km/h")
        );
        for (si, own) in [
            (estimate.value, shown.value),
            (estimate.low, shown.low),
            (estimate.high, shown.high),
        ] {
            let Some((si, own)) = si.zip(own) else {
                assert_eq!((si, own), (None, None));
                continue;
            };
            assert!((si * 3.6 - own).abs() < 1e-9 * own.abs().max(1.0));
        }
    }
    assert!(seen >= 3 * 16, "{seen}");
    for table in &all.tables {
        for (at, column) in table.columns.iter().enumerate() {
            let Some(shown) = &column.shown else { continue };
            assert_eq!(shown.cells.len(), table.rows.len(), "{}", table.id);
            for (row, own) in table.rows.iter().zip(&shown.cells) {
                if let (DataCell::Number(si), DataCell::Number(own)) = (&row[at], own) {
                    let factor = if column.unit == "m/s" {
                        3.6
                    } else {
                        30.0 / std::f64::consts::PI
                    };
                    assert!((si * factor - own).abs() < 1e-9 * own.abs().max(1.0));
                }
            }
        }
    }
}
