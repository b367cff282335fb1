//! Two open data sets of real flights (sources in `datasets/*/README.md`).

use benchborne::flight::energy::draw;
use benchborne::flight::pack::pack_fit;
use benchborne::flight::phases::phases;
use benchborne::flight::rpm_alignment::{readings, rpm_alignment};
use benchborne::ingest::{Channel, Log};

use super::made::log;

/// Plain comma-separated numbers with one header line, columns in order.
fn read(text: &str, channels: &[(Channel, f64)]) -> Log {
    let mut time = Vec::new();
    let mut columns = vec![Vec::new(); channels.len()];
    for line in text.lines().skip(1) {
        let mut cells = line.split(',').map(|c| c.parse::<f64>().unwrap());
        time.push(cells.next().unwrap());
        for (column, (_, factor)) in columns.iter_mut().zip(channels) {
            column.push(cells.next().unwrap() * factor);
        }
    }
    let start = time[0];
    time.iter_mut().for_each(|t| *t -= start);
    let channels: Vec<(Channel, Vec<f64>)> = channels.iter().map(|c| c.0).zip(columns).collect();
    log(time, &channels)
}

const RPM: f64 = std::f64::consts::TAU / 60.0;

fn tail_sitter() -> Log {
    read(
        include_str!("../../datasets/tail-sitter/flight.csv"),
        &[
            (Channel::Voltage, 1.0),
            (Channel::Current, 1.0),
            (Channel::AngularSpeed, RPM),
            (Channel::Airspeed, 1.0),
            (Channel::VelocityNorth, 1.0),
            (Channel::VelocityEast, 1.0),
        ],
    )
}

fn tunnel() -> Log {
    read(
        include_str!("../../datasets/tail-sitter/wind-tunnel.csv"),
        &[
            (Channel::Voltage, 1.0),
            (Channel::Current, 1.0),
            (Channel::AngularSpeed, RPM),
            (Channel::Airspeed, 1.0),
        ],
    )
}

/// Mean of volts times amps over the rows of the file: 57.6 W; over its 86.95 s 1.39 W.h.
#[test]
fn power_of_the_tail_sitter() {
    let (drawn, findings) = draw(&tail_sitter(), None, None, None);
    let drawn = drawn.unwrap();
    assert!(findings.is_empty(), "{findings:?}");
    assert!(
        (drawn.mean_power_w.unwrap().value - 57.6).abs() < 0.05,
        "{drawn:?}"
    );
    assert!((drawn.energy_wh.unwrap().value - 1.39).abs() < 0.005);
    assert_eq!(drawn.peak_current_a, 8.87);
    assert_eq!(drawn.min_voltage_v, Some(14.01));
}

/// In tunnel and air the power at equal rotor speed falls with airspeed, and the two agree within a
/// fifth where both were measured.
#[test]
fn tail_sitter_meets_its_tunnel_by_rotor_speed() {
    let bench = readings(&tunnel());
    let flight = readings(&tail_sitter());
    let (found, findings) = rpm_alignment(&bench, &flight);
    let found = found.unwrap();
    assert!(findings.is_empty());
    let both: Vec<f64> = found.rows.iter().filter_map(|r| r.ratio).collect();
    assert!(!both.is_empty());
    assert!(
        both.iter().all(|r| (0.8..1.2).contains(r)),
        "{:?}",
        found.rows
    );
    let tunnel: Vec<f64> = found
        .rows
        .iter()
        .filter_map(|r| r.bench.map(|b| b.power_w))
        .collect();
    assert!(
        tunnel.len() == 3 && tunnel.windows(2).all(|w| w[1] < w[0]),
        "{tunnel:?}"
    );
    assert!(found.limits.iter().any(|l| l.contains("No throttle")));
    assert!(
        found.limits.iter().any(|l| l.contains("static point")),
        "{:?}",
        found.limits
    );
    let (none, findings) = rpm_alignment(&[], &flight);
    assert_eq!(none, None);
    assert_eq!(findings[0].code, "rpm-alignment-impossible");
}

/// The logger's own counter over these two minutes: 361.64 mA.h.
#[test]
fn charge_of_the_seaplane_against_its_own_counter() {
    let text = include_str!("../../datasets/solar-seaplane/battery.csv");
    let battery = read(
        text,
        &[
            (Channel::Voltage, 1.0),
            (Channel::Current, 1.0),
            (Channel::Charge, 3.6),
        ],
    );
    let counter = battery.get(Channel::Charge).unwrap();
    let counted = (counter[counter.len() - 1] - counter[0]) / 3.6;
    let drawn = draw(&battery, None, None, None).0.unwrap();
    assert!(
        (drawn.charge_mah.value / counted - 1.0).abs() < 0.002,
        "{drawn:?} {counted}"
    );
    assert!(drawn.charge_mah.low < counted && counted < drawn.charge_mah.high.unwrap());
    // Two rows of the file: 16.68 V at 0.3 A before the take-off run, 12.77 V at 50.9 A in it.
    let by_hand = (16.672 - 12.772) / (50.912 - 0.271);
    let fit = pack_fit(&battery).0.unwrap();
    assert!(
        (fit.resistance_ohm / by_hand - 1.0).abs() < 0.15,
        "{fit:?} {by_hand}"
    );
    let (low, high) = fit.resistance_interval_ohm.unwrap();
    assert!(low < by_hand && by_hand < high, "{fit:?} {by_hand}");
}

/// The fixes of the file: 0.3 m/s at 564 s, 4.5 at 576, 9 at 580 and seven metres higher at 588; last
/// gaining speed at 834 s and below 2 m/s at 841. The record has no stall speed and begins with nine
/// minutes afloat.
#[test]
fn phases_of_the_seaplane() {
    let gps = read(
        include_str!("../../datasets/solar-seaplane/gps.csv"),
        &[(Channel::GroundSpeed, 1.0), (Channel::Height, 1.0)],
    );
    let found = phases(&gps, None).0.unwrap();
    // `read` counts from the first row, which is at 0.32 s.
    let first = found.airborne[0].0 + 0.32;
    let last = found.airborne[found.airborne.len() - 1].1 + 0.32;
    assert!((573.0..582.0).contains(&first), "{:?}", found.airborne);
    assert!((834.0..841.0).contains(&last), "{:?}", found.airborne);
}

/// The files as they lie there, read by the program itself without any channel map.
#[test]
fn the_data_sets_are_read_without_a_map() {
    let read_log = |text: &str, file: &str| {
        benchborne::ingest::read_log(text.as_bytes(), file, &Default::default())
            .log
            .unwrap()
    };
    let flight = read_log(
        include_str!("../../datasets/tail-sitter/flight.csv"),
        "flight.csv",
    );
    let by_hand = tail_sitter();
    for channel in [
        Channel::Voltage,
        Channel::Current,
        Channel::AngularSpeed,
        Channel::Airspeed,
    ] {
        let (a, b) = (flight.get(channel).unwrap(), by_hand.get(channel).unwrap());
        assert_eq!(a.len(), b.len(), "{channel:?}");
        assert!(
            a.iter()
                .zip(b)
                .all(|(a, b)| (a - b).abs() <= 1e-9 * b.abs().max(1.0)),
            "{channel:?}"
        );
    }
    let tunnel = read_log(
        include_str!("../../datasets/tail-sitter/wind-tunnel.csv"),
        "tunnel.csv",
    );
    assert!(
        rpm_alignment(&readings(&tunnel), &readings(&flight))
            .0
            .is_some()
    );
    let gps = read_log(
        include_str!("../../datasets/solar-seaplane/gps.csv"),
        "gps.csv",
    );
    assert!(phases(&gps, None).0.is_some());
}

#[test]
fn the_tail_sitters_season_file_is_sound() {
    let text = benchborne::season::SeasonText {
        season_toml: include_str!("../../datasets/tail-sitter/season.toml"),
        logbook_csv: Some(include_str!("../../datasets/tail-sitter/logbook.csv")),
        passes_csv: None,
    };
    let loaded = benchborne::season::load(&text);
    let season = loaded.season.unwrap();
    let findings = loaded.findings;
    let worst = findings.iter().map(|f| f.severity).max();
    assert!(
        worst < Some(benchborne::season::Severity::Error),
        "{findings:#?}"
    );
    assert_eq!(
        season.benches[0].channels["airspeed"].column,
        "airspeed_m_s"
    );
    assert_eq!(season.logbook[0].power.as_deref(), Some("unit"));
}
