//! The demo season: an invented scenario with a known truth, written as a pilot would keep it.

use std::fmt::Write;
use std::path::Path;

use chrono::{NaiveDateTime, TimeDelta};

use super::bench::{self, BenchPlan, Meters, Reading};
use super::demo_plan::{BLUE, ELEVEN, SIX};
pub use super::demo_plan::{SEED, plan};
use super::demo_text::SEASON_TOML;
use super::demo_truth::truth;
use super::export::{Damage, gpx, latin1, number, power_logger, radio};
use super::fly::{SimulatedSeason, fly};
use super::noise::{Noise, Stream};
use super::physics::{GRAVITY, air_density};
use super::season::{DayPlan, FlightPlan, LoggerKind, SeasonPlan};
use super::tune::{Tuned, pack};

/// Central European Summer Time on all four days, h ahead of UTC.
const ZONE_H: i64 = 2;
/// Upper end of the anemometer, as season.toml declares it.
const ANEMOMETER_END_KM_H: f64 = 260.0;
/// The radio writes every second row of the simulation's 20 Hz.
const RADIO_EVERY: usize = 2;

/// Remarks in the logbook, by flight number.
const REMARKS: [(usize, &str); 6] = [
    (2, "clock of the position logger not set"),
    (3, "radio lost power for a moment, log starts again"),
    (
        7,
        "both loggers left at home; stopwatch over the 100 m base",
    ),
    (9, "card full"),
    (10, "current sensor unplugged"),
    (
        16,
        "she said \"<b>smoother</b> than before\", I am not so sure",
    ),
];

/// A file of the demo season: path in the folder, with `/`, and content.
#[derive(Debug, Clone, PartialEq)]
pub struct DemoFile {
    pub path: String,
    pub bytes: Vec<u8>,
}

fn file(path: impl Into<String>, bytes: impl Into<Vec<u8>>) -> DemoFile {
    DemoFile {
        path: path.into(),
        bytes: bytes.into(),
    }
}

/// Every file of the demo season, in a fixed order. `None` only if the plan were broken.
pub fn files() -> Option<Vec<DemoFile>> {
    let plan = plan();
    let season = fly(&plan, SEED)?;
    let mut files = vec![
        file("season.toml", SEASON_TOML),
        file("logbook.csv", logbook(&plan, &season)),
        file("passes.csv", passes(&season)),
    ];
    files.extend(benches(&plan)?);
    for (index, flight) in season.flights.iter().enumerate() {
        let plan_flight = plan.flights.get(index)?;
        let start = start(&plan, plan_flight);
        let name = log_name(&plan, index);
        let damage = Damage {
            gap_s: (index + 1 == 3).then_some((188.0, 200.5)),
            cut_off: index + 1 == 9,
        };
        let mut shake = Noise::new(SEED, Stream::Export(2000 + index));
        match plan_flight.logger {
            LoggerKind::Telemetry | LoggerKind::NoCurrent => {
                let air_c = plan.days.get(plan_flight.day)?.temperature_c;
                let model = &plan.airframes.get(plan_flight.airframe)?.id;
                let log = &flight.log;
                let bytes = radio(log, start, air_c, model, RADIO_EVERY, damage, Some(shake));
                files.push(file(format!("logs/radio-{name}.csv"), bytes));
            }
            LoggerKind::PowerAndTrack => {
                let bytes = power_logger(&flight.log, damage, &mut shake);
                files.push(file(format!("logs/power-{name}.csv"), bytes));
                // Set up differently from flight to flight, as it happens.
                let (every, with_speed) = match index + 1 {
                    4 | 15 => (2, false),
                    11 => (5, true),
                    6 | 13 => (2, true),
                    _ => (1, true),
                };
                let utc = start - TimeDelta::hours(ZONE_H);
                let bytes = gpx(&flight.log.track, utc, every, with_speed, &name);
                files.push(file(format!("logs/track-{name}.gpx"), bytes));
            }
            LoggerKind::None => {}
        }
    }
    files.push(file("truth.json", truth(&plan, &season)));
    Some(files)
}

/// Writes the demo season into `dir`; the same bytes always.
pub fn write(dir: &Path) -> std::io::Result<()> {
    let files = files().ok_or_else(|| std::io::Error::other("the demo plan is broken"))?;
    for folder in ["bench", "logs"] {
        std::fs::create_dir_all(dir.join(folder))?;
    }
    for file in files {
        std::fs::write(dir.join(&file.path), &file.bytes)?;
    }
    Ok(())
}

pub(super) fn flight_id(index: usize) -> String {
    format!("f{:02}", index + 1)
}

fn start(plan: &SeasonPlan, flight: &FlightPlan) -> NaiveDateTime {
    let date = plan
        .days
        .get(flight.day)
        .map(|day| day.date)
        .unwrap_or_default();
    date.and_time(chrono::NaiveTime::MIN)
        + TimeDelta::seconds((flight.start_min * 60.0).round() as i64)
}

/// `2025-04-12-1012`: date and time of day.
fn log_name(plan: &SeasonPlan, index: usize) -> String {
    plan.flights.get(index).map_or_else(String::new, |flight| {
        start(plan, flight).format("%Y-%m-%d-%H%M").to_string()
    })
}

fn quoted(cell: &str) -> String {
    if cell.contains(['"', ',', ';']) {
        format!("\"{}\"", cell.replace('"', "\"\""))
    } else {
        cell.to_owned()
    }
}

fn logbook(plan: &SeasonPlan, season: &SimulatedSeason) -> String {
    let mut text = String::from(
        "flight,date,start,log,airframe,power,pack,put_back_mAh,temperature_C,pressure_hPa,remarks\n",
    );
    let of = |id: Option<&String>| id.cloned().unwrap_or_default();
    for (index, (flight, flown)) in plan.flights.iter().zip(&season.flights).enumerate() {
        let mut noise = Noise::new(SEED, Stream::Export(index));
        let start = start(plan, flight);
        let name = log_name(plan, index);
        let log = match flight.logger {
            // Left blank: the log is to be found by its start.
            _ if index + 1 == 12 => String::new(),
            LoggerKind::Telemetry | LoggerKind::NoCurrent => format!("logs/radio-{name}.csv"),
            LoggerKind::PowerAndTrack => {
                format!("logs/power-{name}.csv + logs/track-{name}.gpx")
            }
            LoggerKind::None => String::new(),
        };
        // A charger puts back a little more than was drawn.
        let put_back = flown.truth.charge_mah * 1.012 * (1.0 + 0.006 * noise.normal());
        let put_back = match index + 1 {
            5 | 13 => String::new(),
            _ => number((put_back / 10.0).round() * 10.0, 0),
        };
        let day = plan.days.get(flight.day);
        let weather = |get: fn(&DayPlan) -> f64, blank: bool| match day {
            Some(day) if !blank => number(get(day), 0),
            _ => String::new(),
        };
        let remark = REMARKS.iter().find(|(number, _)| *number == index + 1);
        let _ = writeln!(
            text,
            "{},{},{},{log},{},{},{},{put_back},{},{},{}",
            flight_id(index),
            start.format("%d.%m.%Y"),
            start.format("%H:%M"),
            of(plan.airframes.get(flight.airframe).map(|a| &a.id)),
            of(plan.fans.get(flight.fan).map(|f| &f.id)),
            of(plan.packs.get(flight.pack).map(|p| &p.id)),
            weather(|d| d.temperature_c, matches!(index + 1, 4 | 8)),
            weather(|d| d.pressure_hpa, matches!(index + 1, 4 | 8 | 16)),
            quoted(remark.map_or("", |(_, text)| text)),
        );
    }
    text
}

/// Stopwatch passes of flight 7, radar speeds of flight 15.
fn passes(season: &SimulatedSeason) -> String {
    let mut text = String::from(
        "flight,direction,speed_km/h,distance_m,time_s,run_up_m,minutes_since_take_off\n",
    );
    for (index, flight) in season.flights.iter().enumerate() {
        let mut noise = Noise::new(SEED, Stream::Export(1000 + index));
        for pass in &flight.truth.passes {
            let direction = if pass.heading.sin() < 0.0 { "W" } else { "E" };
            let minutes = number((pass.start_s - flight.truth.take_off_s) / 60.0, 1);
            let run_up = number((pass.run_up_m / 20.0).round() * 20.0, 0);
            let id = flight_id(index);
            let _ = match index + 1 {
                7 => {
                    let time_s = pass.base_m / pass.base_speed + 0.05 * noise.normal();
                    let time = number(time_s, 2);
                    let base = number(pass.base_m, 0);
                    writeln!(text, "{id},{direction},,{base},{time},{run_up},{minutes}")
                }
                15 => {
                    // The beam meets the path at some degrees: a radar reads a little low.
                    let speed = number(pass.base_speed * 3.6 * 0.995 + noise.normal(), 0);
                    writeln!(text, "{id},{direction},{speed},,,{run_up},{minutes}")
                }
                _ => Ok(()),
            };
        }
    }
    text
}

fn benches(plan: &SeasonPlan) -> Option<[DemoFile; 2]> {
    let tuned = Tuned::new(plan)?;
    let meters = Meters::draw(SEED);
    // Both runs on a new blue pack.
    let pack = pack(plan.packs.get(BLUE)?, 0);
    let run = |fan: usize, temperature, pressure| {
        let plan = BenchPlan::tens(air_density(temperature, pressure), 3);
        Some(bench::run(
            &plan,
            tuned.powers.get(fan)?,
            &pack,
            &meters,
            SEED,
            fan,
        ))
    };
    Some([
        file(
            "bench/six-blade.csv",
            six_blade_table(&run(SIX, 14.0, 983.0)?),
        ),
        file(
            "bench/eleven-blade.csv",
            eleven_blade_table(&run(ELEVEN, 16.0, 982.0)?),
        ),
    ])
}

fn exhaust(reading: &Reading) -> String {
    let speed = reading.exhaust_m_s * 3.6;
    if speed > ANEMOMETER_END_KM_H {
        format!(">{}", number(ANEMOMETER_END_KM_H, 0))
    } else {
        number(speed, 0)
    }
}

/// Semicolons and decimal commas, thrust in gf to 5 gf.
fn six_blade_table(readings: &[Reading]) -> Vec<u8> {
    let mut text = String::from(
        "Throttle [%];Thrust [gf];Exhaust speed [km/h];Voltage [V];Current [A];Power [W];Speed [rpm]\n",
    );
    for reading in readings {
        let _ = writeln!(
            text,
            "{};{};{};{};{};{};{}",
            number(reading.throttle * 100.0, 0),
            number((reading.thrust_n / GRAVITY * 200.0).round() * 5.0, 0),
            exhaust(reading),
            number(reading.voltage, 2).replace('.', ","),
            number(reading.current, 1).replace('.', ","),
            number(reading.peak_power_w, 0),
            number((reading.rpm / 10.0).round() * 10.0, 0),
        );
    }
    latin1(&text)
}

/// Commas, thrust in ozf to 0.2 ozf, no rpm.
fn eleven_blade_table(readings: &[Reading]) -> Vec<u8> {
    /// N, exact by definition of the pound-force.
    const OZF_N: f64 = 4.448_221_615_260_5 / 16.0;
    let mut text = String::from("stick %,Pull [ozf],exhaust speed km/h,volts,amps,watts\n");
    for reading in readings {
        let _ = writeln!(
            text,
            "{},{},{},{},{},{}",
            number(reading.throttle * 100.0, 0),
            number((reading.thrust_n / OZF_N * 5.0).round() / 5.0, 1),
            exhaust(reading),
            number(reading.voltage, 2),
            number(reading.current, 1),
            number(reading.peak_power_w, 0),
        );
    }
    text.into_bytes()
}
