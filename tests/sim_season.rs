//! A simulated season as the files that a pilot would have, read and answered by the whole chain.
//! Shared with the studies under examples/.

#![allow(dead_code)]

use std::fmt::Write;
use std::path::Path;

use benchborne::findings::{Answer, Verdict};
use benchborne::run::{Analysed, analyse};
use benchborne::season::QuestionKind;
use benchborne::simulate::bench::{BenchPlan, Meters, run};
use benchborne::simulate::export::{Damage, number, radio};
use benchborne::simulate::physics::air_density;
use benchborne::simulate::tune::pack;
use benchborne::simulate::{SeasonPlan, SeasonTruth, SimulatedSeason, Tuned, fly_tuned};
use chrono::TimeDelta;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

pub use crate::held::Held;

/// Smallest difference that matters, as the seasons declare it.
pub const MARGIN: f64 = 0.02;
/// Air on the bench, °C and hPa, as the season declares it.
const BENCH_AIR: (f64, f64) = (14.0, 983.0);
/// Limits of a charger's count and the most that a pack takes beyond what it gave: as the analysis
/// reckons with (common practice, no source).
const CHARGER: (f64, f64) = (0.02, 0.01);

const SEASON_TOML: &str = r#"
title = "Simulated season"
invented = true
[site]
elevation = "260 m"
zone = "Europe/Vienna"
[airframe.jet]
mass = "1.95 kg"
wing_area = "23.5 dm2"
span = "0.96 m"
stall_speed = "13 m/s"
[pack.p1]
chemistry = "LiPo"
cells = 4
capacity = "2600 mAh"
[power.stock]
fan_diameter = "70 mm"
hub_diameter = "26 mm"
outlet_area = "33 cm2"
pack = "p1"
[power.swap]
fan_diameter = "70 mm"
hub_diameter = "26 mm"
outlet_area = "33 cm2"
pack = "p1"
[instrument.meter.voltage]
accuracy = "1 %"
resolution = "0.01 V"
[instrument.meter.current]
accuracy = "2 %"
absolute = "0.1 A"
resolution = "0.1 A"
[instrument.scale.thrust]
accuracy = "2 %"
absolute = "0.05 N"
resolution = "0.05 N"
[instrument.radio.voltage]
accuracy = "1 %"
resolution = "0.01 V"
[instrument.radio.current]
accuracy = "3 %"
absolute = "0.5 A"
resolution = "0.1 A"
[[bench]]
id = "stock"
power = "stock"
file = "bench/stock.csv"
temperature = "14 degC"
pressure = "983 hPa"
instruments = ["meter", "scale"]
equal_duty = true
[[bench]]
id = "swap"
power = "swap"
file = "bench/swap.csv"
temperature = "14 degC"
pressure = "983 hPa"
instruments = ["meter", "scale"]
equal_duty = true
[[logs]]
id = "radio"
files = "logs/*.csv"
instruments = ["radio"]
[logs.channels]
throttle = { column = "Throttle [%]", ends = [-100, 100] }
[[question]]
kind = "carry-over"
baseline = "stock"
candidate = "swap"
margin = "2 %"
"#;

/// A season flown and what the chain made of its files.
pub struct Studied {
    pub plan: SeasonPlan,
    pub flown: SimulatedSeason,
    pub analysed: Analysed,
}

/// Flies the plan, writes its folder and answers it. An error says which step failed.
pub fn studied(plan: SeasonPlan, tuned: &Tuned, seed: u64) -> Result<Studied, String> {
    studied_after(plan, tuned, seed, |_| {})
}

/// The same, with something done to what the loggers recorded.
pub fn studied_after(
    plan: SeasonPlan,
    tuned: &Tuned,
    seed: u64,
    change: impl Fn(&mut SimulatedSeason),
) -> Result<Studied, String> {
    let mut flown = fly_tuned(&plan, tuned, seed).ok_or("the plan cannot be flown")?;
    change(&mut flown);
    let dir = tempfile::tempdir().map_err(|e| e.to_string())?;
    write(&plan, tuned, &flown, seed, dir.path()).map_err(|e| e.to_string())?;
    let analysed = analyse(dir.path()).map_err(|e| format!("{e:?}"))?;
    Ok(Studied {
        plan,
        flown,
        analysed,
    })
}

fn write(
    plan: &SeasonPlan,
    tuned: &Tuned,
    flown: &SimulatedSeason,
    seed: u64,
    dir: &Path,
) -> std::io::Result<()> {
    for sub in ["bench", "logs"] {
        std::fs::create_dir_all(dir.join(sub))?;
    }
    std::fs::write(dir.join("season.toml"), SEASON_TOML)?;
    let meters = Meters::draw(seed);
    for (index, fan) in plan.fans.iter().enumerate() {
        let readings = run(
            &BenchPlan::tens(air_density(BENCH_AIR.0, BENCH_AIR.1), 2),
            &tuned.powers[index],
            &pack(&plan.packs[0], 0),
            &meters,
            seed,
            index,
        );
        let mut text = String::from("throttle %,thrust N,volts,amps\n");
        for r in readings {
            let thrust = (r.thrust_n / 0.05).round() * 0.05;
            let _ = writeln!(
                text,
                "{},{},{},{}",
                number(100.0 * r.throttle, 0),
                number(thrust, 2),
                number(r.voltage, 2),
                number(r.current, 1)
            );
        }
        std::fs::write(dir.join(format!("bench/{}.csv", fan.id)), text)?;
    }
    // One charger all season.
    let mut charger = ChaCha8Rng::seed_from_u64(seed);
    charger.set_stream(u64::MAX);
    let mut share = || charger.random::<f64>();
    let put_back = (1.0 + CHARGER.0 * (2.0 * share() - 1.0)) * (1.0 + CHARGER.1 * share());
    let mut logbook = String::from(
        "flight,date,start,log,airframe,power,pack,put_back_mAh,temperature_C,pressure_hPa\n",
    );
    for (i, (flight, planned)) in flown.flights.iter().zip(&plan.flights).enumerate() {
        let day = &plan.days[planned.day];
        let start = day.date.and_time(chrono::NaiveTime::MIN)
            + TimeDelta::seconds((60.0 * planned.start_min).round() as i64);
        let _ = writeln!(
            logbook,
            "f{i:02},{},{},logs/f{i:02}.csv,jet,{},p1,{},{},{}",
            day.date,
            start.format("%H:%M"),
            plan.fans[planned.fan].id,
            number(put_back * flight.truth.charge_mah, 0),
            number(day.temperature_c, 0),
            number(day.pressure_hpa, 0),
        );
        let bytes = radio(
            &flight.log,
            start,
            day.temperature_c,
            "jet",
            1,
            Damage::default(),
            None,
        );
        std::fs::write(dir.join(format!("logs/f{i:02}.csv")), bytes)?;
    }
    std::fs::write(dir.join("logbook.csv"), logbook)
}

impl Studied {
    pub fn answer(&self) -> Option<&Answer> {
        self.analysed
            .findings
            .questions
            .iter()
            .find(|a| a.question == QuestionKind::CarryOver)
    }

    fn held(&self, key: &str, truth: f64) -> Option<Held> {
        let e = self.answer()?.estimates.get(key)?;
        Some(Held {
            value: e.value?,
            low: e.low?,
            high: e.high?,
            truth,
        })
    }

    pub fn same_pack(&self) -> Option<Held> {
        self.held(
            "observed_speed_gain_same_pack",
            self.flown.truth.speed_gain_same_pack,
        )
    }

    pub fn same_terminal_voltage(&self) -> Option<Held> {
        self.held(
            "observed_speed_gain_same_terminal_voltage",
            self.flown.truth.speed_gain_same_terminal_voltage,
        )
    }

    /// Relative error of each flight's level speed, at the voltage that its own logger shows; the
    /// flight's fan with it.
    pub fn level_errors(&self) -> Vec<(usize, f64)> {
        let rows = &self.analysed.tables.flights;
        self.flown
            .flights
            .iter()
            .zip(&self.plan.flights)
            .enumerate()
            .filter_map(|(i, (flight, planned))| {
                let row = rows.iter().find(|r| r.flight == format!("f{i:02}"))?;
                let log = &flight.log;
                let shown: Vec<f64> = flight
                    .truth
                    .passes
                    .iter()
                    .map(|p| {
                        let inside: Vec<f64> = (0..log.len())
                            .filter(|&k| log.time[k] >= p.start_s + 0.5 && log.time[k] <= p.end_s)
                            .map(|k| log.voltage[k])
                            .collect();
                        benchborne::stats::mean(&inside)
                    })
                    .collect();
                let step = row.pass_voltage_v? / benchborne::stats::mean(&shown);
                // Level speed goes with voltage to about this power; the step is a few permille.
                let truth = flight.truth.level_speed * step.powf(0.97);
                Some((planned.fan, row.level_speed_m_s? / truth - 1.0))
            })
            .collect()
    }

    /// The verdict says something untrue of what was simulated.
    pub fn is_wrong(&self) -> bool {
        self.answer()
            .is_some_and(|a| contradicts(a.verdict, &self.flown.truth))
    }
}

/// The reference band of the true static gains: equal outlets.
pub fn true_band(truth: &SeasonTruth) -> (f64, f64) {
    let thrust = (1.0 + truth.static_thrust_gain).sqrt() - 1.0;
    let power = (1.0 + truth.static_power_gain).cbrt() - 1.0;
    (thrust.min(power), thrust.max(power))
}

pub fn contradicts(verdict: Verdict, truth: &SeasonTruth) -> bool {
    let (pack, terminal) = (
        truth.speed_gain_same_pack,
        truth.speed_gain_same_terminal_voltage,
    );
    let (low, high) = true_band(truth);
    match verdict {
        Verdict::NoDifferenceThatMatters => pack.abs() >= MARGIN + 1e-4,
        Verdict::Worse => pack >= 0.0,
        Verdict::MoreThanTheReferenceCases => terminal <= high,
        Verdict::PartlyCarriedOver => terminal <= 0.0 || terminal >= low,
        Verdict::CarriedOver => terminal <= 0.0 || terminal < low - MARGIN,
        // The rest claims nothing of the gain.
        _ => false,
    }
}
