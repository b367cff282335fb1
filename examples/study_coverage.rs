//! Do the intervals of the observed gain hold the truth? Seasons flown by the simulator, written as
//! the files a pilot would have, read and answered by the whole chain.
//!
//! Prints the table kept in `datasets/studies/coverage.csv` (run `scripts/study-coverage`).

#![allow(clippy::print_stdout, clippy::print_stderr)]

#[path = "../tests/held.rs"]
mod held;
#[path = "../tests/sim_season.rs"]
mod sim_season;

use std::sync::atomic::{AtomicUsize, Ordering};

use benchborne::findings::Verdict;
use benchborne::simulate::{SeasonPlan, Sharing, Tuned};
use benchborne::stats::mean;
use sim_season::{Held, studied};

const FLIGHTS_A_FAN: [usize; 4] = [2, 3, 4, 6];
const SHARINGS: [(Sharing, &str); 3] = [
    (Sharing::EachDay, "both fans each day"),
    (Sharing::OneSharedDay, "one shared day"),
    (Sharing::Swapped, "a fan a day"),
];
const EFFECTS: [f64; 4] = [0.0, 0.02, 0.04, 0.08];
const WINDS_M_S: [f64; 4] = [0.0, 2.7, 5.3, 8.0];
/// Rows a second of log and receiver.
const RATES_HZ: [(f64, f64); 3] = [(10.0, 5.0), (20.0, 10.0), (50.0, 10.0)];
const SEASONS_A_CELL: usize = 7;
const SEED: u64 = 40_000;

#[derive(Clone, Copy)]
struct Case {
    flights: usize,
    sharing: usize,
    effect: usize,
    wind: usize,
    rate: usize,
    seed: u64,
}

/// What one season taught.
struct Outcome {
    case: Case,
    pack: Option<Held>,
    terminal: Option<Held>,
    /// Mean over fans of the mean relative error of the level speeds; their difference.
    level_bias: f64,
    level_gain_bias: f64,
    verdict: Option<Verdict>,
    wrong: bool,
}

fn cases(seasons: usize) -> Vec<Case> {
    let mut out = Vec::new();
    for (f, flights) in FLIGHTS_A_FAN.into_iter().enumerate() {
        for sharing in 0..SHARINGS.len() {
            for effect in 0..EFFECTS.len() {
                for i in 0..seasons {
                    out.push(Case {
                        flights,
                        sharing,
                        effect,
                        // Winds and rates take turns, each wind with each rate over the cells.
                        wind: i % WINDS_M_S.len(),
                        rate: (i + f + sharing + effect) % RATES_HZ.len(),
                        seed: SEED + out.len() as u64,
                    });
                }
            }
        }
    }
    out
}

fn outcome(case: Case, tuned: &[Tuned]) -> Option<Outcome> {
    let (rate, gps_rate) = RATES_HZ[case.rate];
    let plan = SeasonPlan::coverage(
        case.flights,
        EFFECTS[case.effect],
        SHARINGS[case.sharing].0,
        WINDS_M_S[case.wind],
    )
    .rate(rate, gps_rate);
    let season = match studied(plan, &tuned[case.effect], case.seed) {
        Ok(season) => season,
        Err(error) => {
            eprintln!("season {}: {error}", case.seed);
            return None;
        }
    };
    let errors = season.level_errors();
    let of = |fan: usize| {
        let errors: Vec<f64> = errors.iter().filter(|e| e.0 == fan).map(|e| e.1).collect();
        mean(&errors)
    };
    let out = Outcome {
        case,
        pack: season.same_pack(),
        terminal: season.same_terminal_voltage(),
        level_bias: 0.5 * (of(0) + of(1)),
        level_gain_bias: of(1) - of(0),
        verdict: season.answer().map(|a| a.verdict),
        wrong: season.is_wrong(),
    };
    if std::env::var_os("STUDY_VERBOSE").is_some() {
        eprintln!(
            "{} n={} {} effect {} wind {} rate {rate}: {:?} {:?} wrong {} level {:.4} {:.4} | {}",
            case.seed,
            case.flights,
            SHARINGS[case.sharing].1,
            EFFECTS[case.effect],
            WINDS_M_S[case.wind],
            out.pack.map(|h| (h.value, h.low, h.high, h.truth)),
            out.terminal.map(|h| (h.value, h.low, h.high, h.truth)),
            out.wrong,
            out.level_bias,
            out.level_gain_bias,
            season.answer().map_or("", |a| a.sentence.as_str())
        );
    }
    Some(out)
}

/// Every season in turn, by as many threads as there are cores. Not by nested rayon loops: a worker
/// that waits for the flights of one season would take up others, and hold them all in memory.
fn outcomes(cases: &[Case], tuned: &[Tuned]) -> Vec<Outcome> {
    let next = AtomicUsize::new(0);
    let threads = std::thread::available_parallelism().map_or(1, |n| n.get());
    let mut found: Vec<(usize, Outcome)> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads)
            .map(|_| {
                scope.spawn(|| {
                    let mut mine = Vec::new();
                    let Ok(pool) = rayon::ThreadPoolBuilder::new().num_threads(1).build() else {
                        return mine;
                    };
                    loop {
                        let i = next.fetch_add(1, Ordering::Relaxed);
                        let Some(case) = cases.get(i) else {
                            return mine;
                        };
                        mine.extend(pool.install(|| outcome(*case, tuned)).map(|o| (i, o)));
                    }
                })
            })
            .collect();
        workers
            .into_iter()
            .filter_map(|w| w.join().ok())
            .flatten()
            .collect()
    });
    found.sort_by_key(|f| f.0);
    found.into_iter().map(|f| f.1).collect()
}

fn main() {
    let seasons = std::env::args()
        .nth(1)
        .and_then(|a| a.parse().ok())
        .unwrap_or(SEASONS_A_CELL);
    // Tuning a fan takes as long as a flight: once an effect.
    let tuned: Vec<Tuned> = EFFECTS
        .iter()
        .filter_map(|e| Tuned::new(&SeasonPlan::coverage(2, *e, Sharing::EachDay, 0.0)))
        .collect();
    if tuned.len() < EFFECTS.len() {
        eprintln!("a plan cannot be tuned");
        return;
    }
    let cases = cases(seasons);
    let outcomes = outcomes(&cases, &tuned);
    println!(
        "# Coverage of the observed gain's 95 % intervals on simulated seasons with a known truth, \
         from log files to the answer; made by scripts/study-coverage."
    );
    println!(
        "# {} seasons, seeds {SEED} to {}; 8 passes a flight, gusts 0.8 m/s, level speed scatters by \
         0.6 % from day to day and 0.3 % from flight to flight; winds {WINDS_M_S:?} m/s and logs of \
         10, 20 and 50 Hz in turn.",
        outcomes.len(),
        SEED + cases.len() as u64 - 1
    );
    println!(
        "# Shares are of the seasons, coverage of the estimable ones; gain errors and half-widths in \
         percentage points; level speed bias in % (of both fans; candidate less baseline). A verdict \
         is wrong if it contradicts the simulated truth."
    );
    println!(
        "flights_a_fan,sharing,true_gain_percent,wind_m_s,rate_hz,seasons,estimable,\
         coverage_same_pack,coverage_same_terminal_voltage,bias_same_pack_points,\
         bias_same_terminal_voltage_points,half_width_same_pack_points,\
         half_width_same_terminal_voltage_points,level_speed_bias_percent,\
         level_speed_bias_difference_points,wrong_verdicts,not_settled"
    );
    let some = "3 or more";
    let row = |labels: [&str; 5], keep: &dyn Fn(&Case) -> bool| {
        let kept: Vec<&Outcome> = outcomes.iter().filter(|o| keep(&o.case)).collect();
        println!("{},{}", labels.join(","), summary(&kept));
    };
    for n in FLIGHTS_A_FAN {
        for (s, (_, sharing)) in SHARINGS.iter().enumerate() {
            for (e, effect) in EFFECTS.iter().enumerate() {
                row(
                    [
                        &n.to_string(),
                        sharing,
                        &number(100.0 * effect),
                        "all",
                        "all",
                    ],
                    &|c| c.flights == n && c.sharing == s && c.effect == e,
                );
            }
        }
    }
    for n in FLIGHTS_A_FAN {
        row([&n.to_string(), "all", "all", "all", "all"], &|c| {
            c.flights == n
        });
    }
    for (s, (_, sharing)) in SHARINGS.iter().enumerate() {
        row([some, sharing, "all", "all", "all"], &|c| {
            c.flights >= 3 && c.sharing == s
        });
    }
    for (e, effect) in EFFECTS.iter().enumerate() {
        row([some, "all", &number(100.0 * effect), "all", "all"], &|c| {
            c.flights >= 3 && c.effect == e
        });
    }
    for (w, wind) in WINDS_M_S.iter().enumerate() {
        row([some, "all", "all", &number(*wind), "all"], &|c| {
            c.flights >= 3 && c.wind == w
        });
    }
    for (r, rate) in RATES_HZ.iter().enumerate() {
        row([some, "all", "all", "all", &number(rate.0)], &|c| {
            c.flights >= 3 && c.rate == r
        });
    }
    row([some, "all", "all", "all", "all"], &|c| c.flights >= 3);
    row(["all", "all", "all", "all", "all"], &|_| true);
}

fn number(value: f64) -> String {
    format!("{value}")
}

/// A mean with `digits`, blank where there is nothing to average.
fn shown(values: &[f64], digits: usize) -> String {
    if values.is_empty() {
        String::new()
    } else {
        let text = format!("{:.digits$}", mean(values));
        match text.strip_prefix('-') {
            Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
            _ => text,
        }
    }
}

fn summary(outcomes: &[&Outcome]) -> String {
    let held = |pick: fn(&Outcome) -> Option<Held>| -> Vec<Held> {
        outcomes.iter().filter_map(|o| pick(o)).collect()
    };
    let (pack, terminal) = (held(|o| o.pack), held(|o| o.terminal));
    let share = |is: &dyn Fn(&Outcome) -> bool| -> Vec<f64> {
        outcomes
            .iter()
            .map(|o| f64::from(u8::from(is(o))))
            .collect()
    };
    let of = |held: &[Held], value: &dyn Fn(&Held) -> f64| -> Vec<f64> {
        held.iter().map(value).collect()
    };
    let covers = |h: &Held| f64::from(u8::from(h.covers()));
    let error = |h: &Held| 100.0 * h.error();
    let half = |h: &Held| 100.0 * h.half_width();
    let finite = |pick: fn(&Outcome) -> f64| -> Vec<f64> {
        outcomes
            .iter()
            .map(|o| 100.0 * pick(o))
            .filter(|v| v.is_finite())
            .collect()
    };
    [
        outcomes.len().to_string(),
        shown(&share(&|o| o.pack.is_some()), 3),
        shown(&of(&pack, &covers), 3),
        shown(&of(&terminal, &covers), 3),
        shown(&of(&pack, &error), 2),
        shown(&of(&terminal, &error), 2),
        shown(&of(&pack, &half), 2),
        shown(&of(&terminal, &half), 2),
        shown(&finite(|o| o.level_bias), 2),
        shown(&finite(|o| o.level_gain_bias), 2),
        shown(&share(&|o| o.wrong), 3),
        shown(&share(&|o| o.verdict == Some(Verdict::NotSettled)), 3),
    ]
    .join(",")
}
