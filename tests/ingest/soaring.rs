//! IGC files, and wind and airspeed from ground velocity alone.

use benchborne::ingest::{Channel, Log, LogRead};
use benchborne::physics::wind::{Velocity, WindFit, circle_fit, from_track};
use benchborne::stats;

use super::{close, codes, data, log_read};

fn soaring() -> LogRead {
    log_read(data("tracks/soaring.igc"), &Default::default())
}

#[test]
fn fixes_of_a_recorded_flight_have_their_extensions() {
    let read = soaring();
    assert_eq!((read.ledger.rows_in, read.ledger.rows_used), (760, 760));
    let log = read.log.unwrap();
    assert_eq!(log.start.unwrap().to_rfc3339(), "2011-09-02T10:16:43+00:00");
    // B1017085346300N02025055EA00126001240060080824609612276002980210, line 34 of the file.
    let row = log.lines.iter().position(|l| *l == 34).unwrap();
    let text = String::from_utf8(data("tracks/soaring.igc")).unwrap();
    let line = text.lines().nth(33).unwrap();
    let digits = |from: usize, to: usize| line[from - 1..to].parse::<f64>().unwrap();
    let value = |c| log.get(c).unwrap()[row];
    close(
        value(Channel::Latitude),
        digits(8, 9) + digits(10, 14) / 60_000.0,
    );
    close(
        value(Channel::Longitude),
        digits(16, 18) + digits(19, 23) / 60_000.0,
    );
    close(value(Channel::Height), digits(26, 30));
    close(value(Channel::Airspeed), digits(42, 46) / 360.0);
    close(value(Channel::GroundSpeed), digits(47, 51) / 360.0);
    close(value(Channel::Course), digits(52, 54).to_radians());
    close(value(Channel::ClimbRate), digits(55, 59) / 100.0);
    close(
        value(Channel::AirTemperature),
        digits(60, 63) / 10.0 + 273.15,
    );
}

/// A record without extensions: the example of the open guide to the format, from memory.
const PLAIN: &str = "B1602405407121N00249342WA0028000421";

#[test]
fn plain_records_without_extensions_are_read() {
    // 54° 07.121' N, 2° 49.342' W at 280 m (pressure) and 421 m (receiver), as the guide explains its
    // example (from memory as well).
    let later = PLAIN
        .replace("B160240", "B160245")
        .replace("00280", "00281");
    let text = format!("AXXX001\r\nHFDTEDATE:160701,01\r\n{PLAIN}\r\n{later}\r\nGabc\r\n");
    let log = log_read(text, &Default::default()).log.unwrap();
    assert_eq!(log.start.unwrap().to_rfc3339(), "2001-07-16T16:02:40+00:00");
    assert_eq!(log.time, [0.0, 5.0]);
    close(log.get(Channel::Latitude).unwrap()[0], 54.0 + 7.121 / 60.0);
    close(
        log.get(Channel::Longitude).unwrap()[0],
        -(2.0 + 49.342 / 60.0),
    );
    assert_eq!(log.get(Channel::Height).unwrap(), &[280.0, 281.0]);
}

#[test]
fn without_a_pressure_sensor_the_receiver_s_height_of_good_fixes_counts() {
    let record = |time: &str, valid: char, height: u32| {
        format!("B{time}5407121N00249342W{valid}00000{height:05}\n")
    };
    let text = record("235959", 'A', 421) + &record("000001", 'V', 0) + &record("000003", 'A', 423);
    let read = log_read(text, &Default::default());
    let log = read.log.unwrap();
    assert_eq!(log.time, [0.0, 2.0, 4.0]);
    let height = log.get(Channel::Height).unwrap();
    assert!(height[0] == 421.0 && height[1].is_nan() && height[2] == 423.0);
    assert!(codes(&read.findings).contains(&"no-date"));
}

#[test]
fn damaged_records_are_set_aside() {
    let text = format!(
        "AXXX\n{PLAIN}\n{}\n?\n{}\n",
        &PLAIN[..20],
        PLAIN.replace("07121", "67121")
    );
    let read = log_read(text, &Default::default());
    let reasons: Vec<_> = read
        .ledger
        .reasons
        .iter()
        .map(|r| (r.code.as_str(), r.count, r.first_line))
        .collect();
    assert_eq!(reasons, [("bad-record", 2, 3), ("no-record", 1, 4)]);
    assert_eq!(read.ledger.rows_used, 1);
}

/// Rows of at least two full turns one way, without a pause.
fn circling(log: &Log) -> Vec<std::ops::Range<usize>> {
    const SLOWEST_TURN: f64 = 4.0;
    let course = log.get(Channel::Course).unwrap();
    let speed = log.get(Channel::GroundSpeed).unwrap();
    let turned = |i: usize| {
        let turn = (course[i] - course[i - 1]).to_degrees();
        turn - 360.0 * (turn / 360.0).round()
    };
    let (mut out, mut start, mut sum) = (Vec::new(), 0, 0.0f64);
    for (i, &fast) in speed.iter().enumerate().skip(1) {
        let step = log.time[i] - log.time[i - 1];
        let turn = turned(i);
        let goes_on = (turn / step).abs() >= SLOWEST_TURN
            && step <= 8.0
            && fast > 5.0
            && (sum == 0.0 || turn * sum > 0.0);
        if goes_on {
            sum += turn;
            continue;
        }
        if sum.abs() >= 720.0 {
            out.push(start..i);
        }
        (start, sum) = (i, 0.0);
    }
    out
}

fn fit(log: &Log, rows: std::ops::Range<usize>) -> WindFit {
    let course = log.get(Channel::Course).unwrap();
    let speed = log.get(Channel::GroundSpeed).unwrap();
    let velocities: Vec<Velocity> = rows.map(|i| from_track(speed[i], course[i])).collect();
    circle_fit(&velocities).unwrap()
}

/// The recorder's own wind (J and K records: direction from, degrees; speed, km/h and hundredths).
fn recorded_wind() -> Vec<Velocity> {
    let text = String::from_utf8(data("tracks/soaring.igc")).unwrap();
    text.lines()
        .filter(|l| l.starts_with('K'))
        .map(|l| {
            let from: f64 = l[7..10].parse().unwrap();
            let speed = l[10..15].parse::<f64>().unwrap() / 360.0;
            from_track(speed, (from + 180.0).to_radians())
        })
        .collect()
}

/// Circling gives airspeed and wind from ground velocity alone. Against the recorded airspeed every
/// circle reads high by much the same factor, and so does straight flight (1.06): what differs is the
/// recorded speed. At these heights (0.5 to 1.2 km) an indicated airspeed reads 4 to 5 % below the
/// true one, and the rest is the pitot's own error, so that the mean must lie between nothing and
/// the density factor plus 5 %. What the method itself scatters is the spread between segments:
/// pilots do not hold their airspeed better than about 2 m/s (6 %) within a circle, of which a
/// segment of a dozen fixes or more averages out all but 2 to 3 %.
#[test]
fn airspeed_and_wind_from_circling_agree_with_the_recorded_ones() {
    let log = soaring().log.unwrap();
    let recorded = log.get(Channel::Airspeed).unwrap();
    let segments = circling(&log);
    assert!(segments.len() >= 8, "{segments:?}");
    let mut ratios = Vec::new();
    let (mut east, mut north) = (Vec::new(), Vec::new());
    for rows in segments {
        let fit = fit(&log, rows.clone());
        ratios.push(fit.airspeed / stats::mean(&recorded[rows]));
        east.push(fit.wind_east);
        north.push(fit.wind_north);
    }
    let (mean, sd) = (stats::mean(&ratios), stats::sd(&ratios));
    println!(
        "airspeed by circles / recorded: {mean:.4} (sd {sd:.4}, {} segments)",
        ratios.len()
    );
    assert!((1.0..1.10).contains(&mean), "{mean}: {ratios:?}");
    assert!(sd < 0.03, "{sd}: {ratios:?}");
    let own = recorded_wind();
    let of = |f: fn(&Velocity) -> f64| stats::mean(&own.iter().map(f).collect::<Vec<_>>());
    let off = (stats::mean(&east) - of(|w| w.0)).hypot(stats::mean(&north) - of(|w| w.1));
    println!("mean wind differs from the recorder's own by {off:.2} m/s");
    // Wind aloft changes by more than a metre a second over half an hour.
    assert!(off < 1.5, "{off}");
}

/// Invented fixes in the format's own layout: `V` is a fix without a third dimension.
#[test]
fn a_height_of_zero_without_a_third_dimension_is_none() {
    let mut text = "AXXX001\nHFDTE030525\n".to_owned();
    for i in 0..30 {
        let (state, heights) = if i == 4 || i == 17 {
            ("V", "0000000000")
        } else {
            ("A", "0024000251")
        };
        let drift = i % 3;
        text += &format!(
            "B1000{i:02}4812{i:03}N01618{i:03}E{state}{}\n",
            heights.replace("240", &format!("24{drift}"))
        );
    }
    let read = log_read(&text, &Default::default());
    let log = read.log.unwrap();
    let heights = log.get(Channel::Height).unwrap();
    assert!(heights[4].is_nan() && heights[17].is_nan());
    assert_eq!(heights.iter().filter(|h| h.is_finite()).count(), 28);
    let marked = &read.ledger.marked[0];
    assert_eq!(
        (marked.code.as_str(), marked.count, marked.first_line),
        ("no-height", 2, 7)
    );
    assert!(codes(&read.findings).contains(&"no-height"));
}
