//! A season of any length from the simulator, for measuring speed: flights of ten minutes at 50 Hz,
//! sixteen columns, about 3 MB each. Same arguments, same bytes.
//!
//! `cargo run --release --example make_flights -- FOLDER FLIGHTS`

#![allow(clippy::print_stderr)]

use std::fmt::Write;
use std::fs;
use std::io;
use std::path::Path;
use std::process::ExitCode;

use benchborne::simulate::season::PackPlan;
use benchborne::simulate::tune::Tuned;
use benchborne::simulate::{DayPlan, FlightPlan, LoggerKind, SeasonPlan, demo, export, fly_one};
use chrono::{Days, NaiveDate};
use rayon::prelude::*;

const SEED: u64 = 50_600;
const FLIGHTS_A_DAY: usize = 10;
const DURATION_S: f64 = 570.0;

/// Nothing to cut and nothing to clean: what is measured is the reading of ordinary files.
const SEASON_TOML: &str = r#"# Invented data from the simulator, to measure speed with.
title = "A season to measure speed with"
invented = true

[site]
elevation = "260 m"
zone = "Europe/Vienna"

[airframe.alder]
mass = "1.95 kg"
wing_area = "23.5 dm2"
span = "0.96 m"
stall_speed = "13 m/s"

[airframe.birch]
mass = "1.97 kg"
stall_speed = "13 m/s"

[controller.c80]
continuous = "80 A"
burst = "95 A"
burst_time = "10 s"

PACKS
[power.six-blade]
fan_diameter = "70 mm"
outlet_area = "33 cm2"
controller = "c80"
pack = "p1"

[power.eleven-blade]
fan_diameter = "70 mm"
outlet_area = "33 cm2"
controller = "c80"
pack = "p1"

[[bench]]
id = "six"
power = "six-blade"
file = "bench/six-blade.csv"
temperature = "14 degC"
pressure = "983 hPa"

[[bench]]
id = "eleven"
power = "eleven-blade"
file = "bench/eleven-blade.csv"
temperature = "16 degC"
pressure = "982 hPa"
[bench.channels]
thrust = "Pull [ozf]"

[[logs]]
files = "logs/*.csv"
[logs.channels]
throttle = { column = "throttle (%)", ends = [0, 100] }

[[question]]
kind = "carry-over"
baseline = "six-blade"
candidate = "eleven-blade"
"#;

const PACK_TOML: &str = r#"[pack.ID]
chemistry = "LiPo"
cells = 4
capacity = "8000 mAh"
c_rating = 40

"#;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [folder, flights] = arguments.as_slice() else {
        eprintln!("usage: make_flights FOLDER FLIGHTS");
        return ExitCode::from(2);
    };
    let Ok(flights) = flights.parse() else {
        eprintln!("make_flights: '{flights}' is no number of flights");
        return ExitCode::from(2);
    };
    match write(Path::new(folder), flights) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("make_flights: {error}");
            ExitCode::FAILURE
        }
    }
}

/// Both fans on both sisters every day; `flights` in all.
fn plan(flights: usize) -> SeasonPlan {
    let mut plan = demo::plan();
    plan.rate_hz = 50.0;
    plan.gps_rate_hz = 10.0;
    plan.duration_s = DURATION_S;
    // Enough to do for the whole flight.
    plan.passes = 18;
    plan.packs = (1..=4)
        .map(|i| PackPlan {
            id: format!("p{i}"),
            cells: 4,
            capacity_mah: 8000.0,
            resistance_ohm: 0.011,
            ageing: 0.0,
        })
        .collect();
    plan.days = (0..flights.div_ceil(FLIGHTS_A_DAY))
        .map(|day| DayPlan {
            date: NaiveDate::from_ymd_opt(2021, 3, 1).unwrap_or_default() + Days::new(day as u64),
            temperature_c: 12.0 + ((day * 5) % 11) as f64,
            pressure_hpa: 978.0 + ((day * 7) % 13) as f64,
            wind_m_s: 1.0 + ((day * 3) % 5) as f64,
            wind_from_deg: 240.0 + ((day * 37) % 90) as f64,
        })
        .collect();
    plan.flights = (0..flights)
        .map(|i| FlightPlan {
            day: i / FLIGHTS_A_DAY,
            airframe: (i / 2) % 2,
            fan: i % 2,
            pack: i % 4,
            logger: LoggerKind::Telemetry,
            start_min: 540.0 + 30.0 * (i % FLIGHTS_A_DAY) as f64,
        })
        .collect();
    plan
}

fn write(folder: &Path, flights: usize) -> io::Result<()> {
    let plan = plan(flights);
    let broken = || io::Error::other("the plan is broken");
    let tuned = Tuned::new(&plan).ok_or_else(broken)?;
    fs::create_dir_all(folder.join("logs"))?;
    fs::create_dir_all(folder.join("bench"))?;
    for file in demo::files().ok_or_else(broken)? {
        if file.path.starts_with("bench/") {
            fs::write(folder.join(&file.path), &file.bytes)?;
        }
    }
    let packs: String = plan
        .packs
        .iter()
        .map(|pack| PACK_TOML.replace("ID", &pack.id))
        .collect();
    fs::write(
        folder.join("season.toml"),
        SEASON_TOML.replace("PACKS", &packs),
    )?;
    let charges: Vec<f64> = (0..flights)
        .into_par_iter()
        .map(|i| {
            let flown = fly_one(&plan, &tuned, SEED, i).ok_or_else(broken)?;
            let air_c = plan.days[plan.flights[i].day].temperature_c;
            let bytes = export::wide(&flown.log, air_c, SEED + i as u64);
            fs::write(folder.join(log_name(i)), bytes)?;
            Ok(flown.truth.charge_mah)
        })
        .collect::<io::Result<_>>()?;
    let mut logbook = String::from(
        "flight,date,start,log,airframe,power,pack,put_back_mAh,temperature_C,pressure_hPa\n",
    );
    for (i, (flight, charge)) in plan.flights.iter().zip(charges).enumerate() {
        let day = &plan.days[flight.day];
        let minutes = flight.start_min as u32;
        let _ = writeln!(
            logbook,
            "f{i:04},{},{:02}:{:02},{},{},{},{},{:.0},{:.0},{:.0}",
            day.date,
            minutes / 60,
            minutes % 60,
            log_name(i),
            plan.airframes[flight.airframe].id,
            plan.fans[flight.fan].id,
            plan.packs[flight.pack].id,
            (charge * 1.01 / 10.0).round() * 10.0,
            day.temperature_c,
            day.pressure_hpa,
        );
    }
    fs::write(folder.join("logbook.csv"), logbook)
}

fn log_name(flight: usize) -> String {
    format!("logs/f{flight:04}.csv")
}
