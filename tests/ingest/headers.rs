//! Header lines in ten languages against what a reader of the language takes them for.

use benchborne::ingest::{Channel, Purpose, assign_channels};
use benchborne::season::ChannelMap;

use super::{data, table};

/// Header, cell of the units row, the channel and the unit its values are written in.
type Column = (String, String, Option<(Channel, String)>);

fn columns(line: &str) -> Vec<Column> {
    line.split(" | ")
        .map(|column| {
            let (header, expected) = column.split_once(" => ").expect(column);
            let (name, unit) = header.split_once(" // ").unwrap_or((header, ""));
            let expected = match expected.trim() {
                "-" => None,
                words => {
                    let (channel, unit) = words.split_once(' ').expect(words);
                    let channel = Channel::from_word(channel).expect(channel);
                    Some((channel, unit.trim().to_owned()))
                }
            };
            (name.trim().to_owned(), unit.trim().to_owned(), expected)
        })
        .collect()
}

/// A value of the middle of what a model aircraft shows, in SI, and a step, so that columns differ.
fn usual(channel: Channel) -> (f64, f64) {
    use Channel::*;
    match channel {
        Time => (100.0, 0.1),
        Throttle => (0.2, 0.04),
        Voltage => (22.0, -0.05),
        Current => (35.0, 1.5),
        Power => (800.0, 30.0),
        Charge => (3000.0, 10.0),
        AngularSpeed => (3000.0, 20.0),
        Thrust => (20.0, 0.5),
        ExhaustSpeed | GroundSpeed | Airspeed => (30.0, 0.5),
        Height => (80.0, 1.0),
        Latitude => (48.1234, 1e-4),
        Longitude => (11.5678, 1e-4),
        Course => (1.5, 0.05),
        ControllerTemperature | MotorTemperature | PackTemperature => (320.0, 0.5),
        AirTemperature => (293.0, 0.1),
        Pressure => (96_000.0, 10.0),
        Satellites => (12.0, 0.0),
        _ => (1.0, 0.2),
    }
}

/// The unit's factor and offset, from the definitions of the units (NIST SP 811, appendix B).
fn definition(unit: &str) -> (f64, f64) {
    match unit {
        "s" | "V" | "A" | "W" | "m" | "m/s" | "m/s2" | "Pa" | "1" | "rad/s" => (1.0, 0.0),
        "ms" | "mV" | "mA" => (1e-3, 0.0),
        "us" => (1e-6, 0.0),
        "%" => (1e-2, 0.0),
        "mAh" => (3.6, 0.0),
        "rpm" => (std::f64::consts::TAU / 60.0, 0.0),
        "km/h" => (1.0 / 3.6, 0.0),
        "mph" => (0.447_04, 0.0),
        "kt" => (1852.0 / 3600.0, 0.0),
        "ft" => (0.3048, 0.0),
        "ft/min" => (0.3048 / 60.0, 0.0),
        "hPa" => (100.0, 0.0),
        "°C" => (1.0, 273.15),
        "°F" => (5.0 / 9.0, 273.15 - 32.0 * 5.0 / 9.0),
        "deg" => (1.0, 0.0),
        other => panic!("{other}"),
    }
}

fn written(column: &Column, row: usize) -> String {
    let Some((channel, unit)) = &column.2 else {
        return format!("{:.3}", 3.9 + 0.01 * row as f64);
    };
    let (start, step) = usual(*channel);
    let si = start + step * row as f64;
    let (mut factor, offset) = definition(unit);
    if *channel == Channel::Throttle && unit == "us" {
        // Pulses from 1000 to 2000 µs.
        return format!("{:.0}", 1000.0 + 1000.0 * (row as f64 / 19.0));
    }
    if *channel == Channel::Course {
        factor = 1f64.to_radians();
    }
    format!("{:.6}", (si - offset) / factor)
}

#[test]
fn headers_of_ten_languages_are_recognised() {
    let text = String::from_utf8(data("headers.txt")).unwrap();
    let (mut columns_right, mut columns_all, mut lines_right, mut lines_all) = (0, 0, 0, 0);
    let mut wrong = String::new();
    for line in text.lines().filter(|l| !l.starts_with('#')) {
        let (language, rest) = line.split_once(": ").expect(line);
        let columns = columns(rest);
        let mut file = String::new();
        let mut row = |cells: Vec<String>| file += &(cells.join("\t") + "\n");
        row(columns.iter().map(|c| c.0.clone()).collect());
        if columns.iter().any(|c| !c.1.is_empty()) {
            row(columns.iter().map(|c| c.1.clone()).collect());
        }
        for n in 0..20 {
            row(columns.iter().map(|c| written(c, n)).collect());
        }
        let table = table(file);
        let said = assign_channels(&table, &ChannelMap::new(), Purpose::Log);
        let mut all = true;
        for (index, column) in columns.iter().enumerate() {
            let found = said.columns.iter().find(|c| c.index == index);
            let ok = match (found, &column.2) {
                (None, None) => true,
                (Some(found), Some((channel, unit))) => {
                    let raw: f64 = written(column, 19).parse().unwrap();
                    let (start, step) = usual(*channel);
                    let si = start + step * 19.0;
                    let value = raw * found.factor + found.offset;
                    let scaled = match (channel, unit.as_str()) {
                        // The clock reads its own column.
                        (Channel::Time, _) | (Channel::Throttle, "us") => true,
                        _ => (value - si).abs() < 1e-3 * si.abs(),
                    };
                    found.channel == *channel && scaled
                }
                _ => false,
            };
            columns_all += 1;
            columns_right += usize::from(ok);
            all &= ok;
            if !ok {
                let what = found.map(|f| (f.channel, f.unit.as_str()));
                wrong += &format!("{language}: {:?} read as {what:?}\n", column.0);
            }
        }
        lines_all += 1;
        lines_right += usize::from(all);
    }
    println!("{columns_right} of {columns_all} columns, {lines_right} of {lines_all} lines");
    // Written before the vocabulary was widened: 249 of 363 columns, 24 of 68 lines.
    assert!(columns_all >= 300 && lines_all >= 60);
    // A short word that lost a letter is not guessed at.
    assert_eq!(wrong, "mangled: \"Hhe [m]\" read as None\n");
}
