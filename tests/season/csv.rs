//! `logbook.csv` and `passes.csv` as pilots write them.

use benchborne::season::{Loaded, LogbookRow, PassRow, SeasonText, Severity, load};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

use super::{GOOD, near, places};

fn read(logbook: Option<&str>, passes: Option<&str>) -> Loaded {
    load(&SeasonText {
        season_toml: GOOD,
        logbook_csv: logbook,
        passes_csv: passes,
    })
}

/// The rows of a logbook that must be read without a finding.
fn clean(logbook: &str) -> Vec<LogbookRow> {
    let loaded = read(Some(logbook), None);
    assert_eq!(loaded.findings, []);
    loaded.season.unwrap().logbook
}

fn clean_passes(passes: &str) -> Vec<PassRow> {
    let loaded = read(None, Some(passes));
    assert_eq!(loaded.findings, []);
    loaded.season.unwrap().passes
}

const LOGBOOK: &str = "\
flight,date,start,log,airframe,power,pack,put_back_mAh,temperature_C,pressure_hPa,remarks
a1,2025-04-12,14:05,logs/a1.csv + logs/a1.gpx,alder,stock,p1,2410,14,986,\"calm, clear\"
a2,2025-04-12,,,birch,swap,,,,,
";

#[test]
fn a_logbook_is_read_in_si() {
    let rows = clean(LOGBOOK);
    let row = &rows[0];
    assert_eq!(row.logs, ["logs/a1.csv", "logs/a1.gpx"]);
    assert_eq!(row.start.unwrap().to_string(), "2025-04-12 14:05:00");
    assert!(near(row.put_back_c.unwrap(), 2.41 * 3600.0));
    assert!(near(row.temperature_k.unwrap(), 287.15));
    assert!(near(row.pressure_pa.unwrap(), 98_600.0));
    assert_eq!((row.remarks.as_str(), row.line), ("calm, clear", 2));
    assert_eq!(rows[1].start, None);
    assert_eq!((rows[1].put_back_c, rows[1].pack.as_deref()), (None, None));
    let season = read(Some(LOGBOOK), None).season.unwrap();
    assert_eq!(season.pack_of(&rows[0]).unwrap().cells, 4);
    // No pack in the row and none declared with its power system.
    assert!(season.pack_of(&rows[1]).is_none());
}

#[test]
fn delimiter_decimal_comma_order_and_case_do_not_matter() {
    let german = "Datum;Antrieb;Modell;geladen (Ah);Temperatur [°C];Luftdruck hPa;Bemerkung\r\n\
                  12.4.2025;STOCK;Alder;2,41;14,5;986,4;\r\n\r\n\
                  12.04.25;swap;birch;2,525;;;böig\r\n";
    let rows = clean(german);
    assert_eq!(rows.len(), 2);
    assert_eq!(rows[0].power.as_deref(), Some("stock"));
    assert!(near(rows[0].put_back_c.unwrap(), 2.41 * 3600.0));
    // 2,525 could group thousands, but the other rows show a decimal comma.
    assert!(near(rows[1].put_back_c.unwrap(), 2.525 * 3600.0));
    assert!(near(rows[0].temperature_k.unwrap(), 287.65));
    assert_eq!((rows[0].line, rows[1].line), (2, 4));
    assert_eq!(
        (rows[0].flight.as_str(), rows[1].flight.as_str()),
        ("2025-04-12/1", "2025-04-12/2")
    );

    let tabs = "\u{feff}POWER\tPut-back in Ah\tDATE\rstock\t2.41\t4/13/2025\rswap\t-\t4/1/2025\r";
    let rows = clean(tabs);
    assert_eq!(rows[0].date.unwrap().to_string(), "2025-04-13");
    // The whole column decides: 4/13 shows that the month comes first.
    assert_eq!(rows[1].date.unwrap().to_string(), "2025-04-01");
    assert_eq!(rows[1].put_back_c, None);
    assert_eq!((rows[0].line, rows[1].line), (2, 3));
}

#[test]
fn a_unit_in_the_cell_overrules_the_header() {
    let rows =
        clean("date,power,put_back_mAh,temperature_C\n12 Apr 2025 9:30,stock,2.41 Ah,59 °F\n");
    assert!(near(rows[0].put_back_c.unwrap(), 8676.0));
    // 59 °F = 15 °C (NIST SP 811).
    assert!((rows[0].temperature_k.unwrap() - 288.15).abs() < 1e-9);
    assert_eq!(rows[0].start.unwrap().to_string(), "2025-04-12 09:30:00");
}

#[test]
fn an_open_order_of_dates_is_said() {
    let loaded = read(Some("date,power\n3/4/2025,stock\n5/4/2025,swap\n"), None);
    assert_eq!(places(&loaded.findings), ["ambiguous-date:2:1"]);
    assert_eq!(loaded.findings[0].severity, Severity::Warning);
    assert_eq!(
        loaded.season.unwrap().logbook[0].date.unwrap().to_string(),
        "2025-04-03"
    );
    // The same number twice is the same date either way.
    assert_eq!(clean("date,power\n4/4/2025,stock\n").len(), 1);
}

#[test]
fn mistakes_in_a_logbook_keep_the_row() {
    let text = "flight,date,start,airframe,power,pack,put_back_mAh,log,wind\n\
                a1,31.2.2025,14:05,aldr,stock,p1,24o0,logs/a.csv,\n\
                a2,1.3.2025,25:00,alder,stok,p9,3300000,../a.csv,\n";
    let loaded = read(Some(text), None);
    let mut found = places(&loaded.findings);
    found.sort();
    let mut wanted = [
        "unknown-column:1:56",
        "not-a-date:2:4",
        "no-date:2:14",
        "unknown-airframe:2:20",
        "unknown-unit:2:34",
        "not-a-time:3:13",
        "unknown-power:3:25",
        "unknown-pack:3:30",
        "not-physical:3:33",
        "path-outside:3:41",
    ];
    wanted.sort_unstable();
    assert_eq!(found, wanted);
    let by = |code: &str| loaded.findings.iter().find(|f| f.code == code).unwrap();
    assert_eq!(by("unknown-airframe").to_do, "Did you mean 'alder'?");
    assert_eq!(by("unknown-power").to_do, "Did you mean 'stock'?");
    assert!(
        by("unknown-power")
            .excerpt
            .as_deref()
            .unwrap()
            .ends_with(" ^^^^")
    );
    let rows = loaded.season.unwrap().logbook;
    assert_eq!(rows.len(), 2);
    assert_eq!(
        (rows[0].airframe.clone(), rows[0].power.as_deref()),
        (None, Some("stock"))
    );
}

#[test]
fn a_missing_unit_is_one_mistake() {
    let loaded = read(Some("power,put-back\nstock,2410\nswap,2500\n"), None);
    assert_eq!(places(&loaded.findings), ["no-unit:2:7"]);
    assert!(loaded.findings[0].to_do.contains("put_back_mAh"));
    let loaded = read(Some("power,put_back_kg\nstock,\n"), None);
    assert_eq!(places(&loaded.findings), ["wrong-unit:1:7"]);
}

#[test]
fn a_file_without_header_is_one_mistake() {
    let loaded = read(Some("a1,2025-04-12,alder\na2,2025-04-13,alder\n"), None);
    assert_eq!(places(&loaded.findings), ["no-header:1:1"]);
    assert!(loaded.season.unwrap().logbook.is_empty());
    assert!(clean("").is_empty() && clean("flight,date\n").is_empty());
}

#[test]
fn a_quote_that_is_never_closed_does_not_swallow_rows_in_silence() {
    let text =
        "date,power,remarks\n2025-04-12,stock,fine\n2025-04-13,swap,\"gusty\n2025-04-14,stock,\n";
    let loaded = read(Some(text), None);
    assert_eq!(places(&loaded.findings), ["open-quote:3:18"]);
    let rows = clean("date,power,remarks\n2025-04-12,stock,\"two\nlines\"\n2025-04-13,swap,\n");
    assert_eq!((rows[0].remarks.as_str(), rows[1].line), ("two\nlines", 4));
}

#[test]
fn a_year_of_two_digits_among_hyphens_is_refused() {
    // 25-04-12 is 25 April 2012 or 12 April 2025.
    let loaded = read(Some("date,power\n25-04-12,stock\n"), None);
    assert_eq!(places(&loaded.findings), ["not-a-date:2:1"]);
    let rows = clean("date,power\n13/4/25,stock\n");
    assert_eq!(rows[0].date.unwrap().to_string(), "2025-04-13");
}

#[test]
fn flights_numbered_anew_each_day_are_told_apart() {
    let text = "flight,date,power\n1,2025-04-12,stock\n2,2025-04-12,stock\n1,2025-04-13,swap\n";
    let loaded = read(Some(text), None);
    assert_eq!(loaded.findings[0].severity, Severity::Note);
    let ids: Vec<_> = loaded
        .season
        .unwrap()
        .logbook
        .into_iter()
        .map(|r| r.flight)
        .collect();
    assert_eq!(ids, ["2025-04-12/1", "2", "2025-04-13/1"]);
}

#[test]
fn a_flight_written_twice_is_left_out_once() {
    let text = "flight,date,power\na,2025-04-12,stock\na,2025-04-12,stock\n";
    let loaded = read(Some(text), None);
    assert_eq!(places(&loaded.findings), ["duplicate-flight:3:1"]);
    assert!(loaded.findings[0].what.contains("line 2"));
    assert_eq!(loaded.season.unwrap().logbook.len(), 1);
}

#[test]
fn a_blank_id_means_the_only_one_there_is() {
    let toml = "[power.a]\nfan_diameter = \"70 mm\"\n";
    let loaded = load(&SeasonText {
        season_toml: toml,
        logbook_csv: Some("date,remarks\n2025-04-12,x\n"),
        passes_csv: None,
    });
    let row = &loaded.season.unwrap().logbook[0];
    assert_eq!(
        (row.power.as_deref(), row.airframe.as_deref()),
        (Some("a"), None)
    );
}

#[test]
fn rows_that_hang_on_an_unreadable_power_system_are_counted() {
    let toml = "[power.a]\nfan_diameter = \"70 mm\"\n[power.b]\nfan_diameter = 5\n";
    let loaded = load(&SeasonText {
        season_toml: toml,
        logbook_csv: Some("date,power\n2025-04-12,b\n2025-04-12,a\n"),
        passes_csv: None,
    });
    assert_eq!(
        places(&loaded.findings),
        ["no-unit:4:16", "flights-without-power:0:0"]
    );
    assert_eq!(loaded.season.unwrap().logbook[0].power, None);
}

#[test]
fn passes_by_radar_and_by_stopwatch_are_kept_apart() {
    let rows = clean_passes(
        "flight,direction,speed_km/h,distance_m,time_s,run_up_m,run_up_s,minutes_since_take_off\n\
         f1,N,216,,,80,,2.5\n\
         f1,S,,200,3.2,,4,\n",
    );
    assert!(near(rows[0].speed_m_s, 60.0));
    assert_eq!((rows[0].base_m, rows[0].time_s), (None, None));
    assert_eq!((rows[0].run_up_m, rows[0].run_up_s), (Some(80.0), None));
    assert!(near(rows[0].minutes_since_take_off.unwrap(), 2.5));
    assert!(near(rows[1].speed_m_s, 62.5));
    assert_eq!((rows[1].base_m, rows[1].time_s), (Some(200.0), Some(3.2)));
    assert_eq!((rows[1].run_up_s, rows[1].line), (Some(4.0), 3));
    let rows = clean_passes("direction;flight;speed (mph)\nupwind;f1;134,2\n");
    assert!(near(rows[0].speed_m_s, 134.2 * 0.44704));
}

#[test]
fn passes_that_say_no_speed_are_findings() {
    let passes = "flight,direction,speed_km/h,distance_m,time_s\n\
                  a1,N,,200,\n\
                  a1,S,fast,,\n\
                  a9,N,210,,\n\
                  a1,,210,,\n\
                  ,N,210,,\n\
                  a1,N,216,200,4\n\
                  a1,N,,200,0.1\n";
    let loaded = read(Some(LOGBOOK), Some(passes));
    assert_eq!(
        places(&loaded.findings),
        [
            "no-speed:2:1",
            "not-a-number:3:6",
            "unknown-flight:4:1",
            "no-direction:5:1",
            "no-flight:6:1",
            "speeds-differ:7:1",
            "not-physical:8:1",
        ]
    );
    assert!(loaded.findings[2].to_do.starts_with("Did you mean 'a1'"));
    let lines: Vec<_> = loaded
        .season
        .unwrap()
        .passes
        .iter()
        .map(|p| p.line)
        .collect();
    assert_eq!(lines, [5, 7]);
}

fn logbook_text() -> impl Strategy<Value = String> {
    let cell = prop_oneof![
        "[a-zA-Z0-9 ,;.°µ\"'+/\\\\-]{0,12}",
        Just("2025-04-12".to_owned()),
        Just("stock".to_owned()),
        Just("flight".to_owned()),
        Just("put_back_mAh".to_owned()),
        Just("\r\n".to_owned()),
    ];
    prop::collection::vec(cell, 0..40).prop_map(|cells| cells.join(","))
}

/// The same cases on every run.
fn seeded(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(20_250_412),
        ..ProptestConfig::default()
    }
}

proptest! {
    #![proptest_config(seeded(200))]

    #[test]
    fn arbitrary_text_never_panics(toml in "\\PC{0,200}", logbook in logbook_text(), bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let text = benchborne::ingest::encoding::decode(&bytes).text.into_owned();
        for (season_toml, csv) in [(toml.as_str(), logbook.as_str()), (GOOD, &text), (GOOD, &logbook)] {
            let loaded = load(&SeasonText { season_toml, logbook_csv: Some(csv), passes_csv: Some(csv) });
            // Whatever was not read was complained about.
            prop_assert!(loaded.season.is_some() || !loaded.findings.is_empty());
            for finding in &loaded.findings {
                prop_assert!(!finding.to_do.is_empty() && !finding.what.is_empty());
            }
        }
    }

    #[test]
    fn a_season_with_one_byte_changed_never_panics(at in 0..GOOD.len(), byte in 0x20u8..0x7f) {
        let mut bytes = GOOD.as_bytes().to_vec();
        bytes[at] = byte;
        let text = benchborne::ingest::encoding::decode(&bytes).text.into_owned();
        let loaded = load(&SeasonText { season_toml: &text, ..SeasonText::default() });
        prop_assert!(loaded.season.is_some() || !loaded.findings.is_empty());
    }

    #[test]
    fn every_iso_date_is_read_back(day in 0i64..36_000) {
        let date = chrono::NaiveDate::from_ymd_opt(1995, 1, 1).unwrap() + chrono::Duration::days(day);
        for format in ["%Y-%m-%d", "%d.%m.%Y", "%d %B %Y", "%Y/%m/%d"] {
            let text = format!("date,power\n{},stock\n", date.format(format));
            prop_assert_eq!(clean(&text)[0].date, Some(date));
        }
    }
}
