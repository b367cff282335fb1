//! Does every interval hold what it says, is a verdict ever wrong, is "not settled" said too often,
//! and does the planner keep its promise? Tens of thousands of seasons made up at the level of the
//! season's tables (tests/row_season.rs), answered by the analysis.
//!
//! Prints the table kept in `datasets/studies/calibration.csv` (run `scripts/calibrate`).

#![allow(clippy::print_stdout, clippy::print_stderr, clippy::unwrap_used)]

#[path = "../tests/row_season.rs"]
mod row_season;

use benchborne::findings::Verdict;
use benchborne::stats::chance::Rule;
use benchborne::stats::estimate::Estimate;
use benchborne::stats::mover::Bounds;
use benchborne::stats::planning::{self, Scatter, Target};
use row_season::{Answered, Case, MARGIN, Made, Sharing, Slot, WORLDS, answered, make, season};

const FLIGHTS_A_FAN: [usize; 6] = [2, 3, 4, 6, 8, 12];
const SHARINGS: [(Sharing, &str); 4] = [
    (Sharing::EachDay, "both fans each day"),
    (Sharing::OneSharedDay, "one shared day"),
    (Sharing::SwappedAtHome, "a fan a day"),
    (Sharing::ADayEach, "one day a fan"),
];
/// True gain in flight, and what the bench's gains mean: all of it carried over, or half; nothing.
const GAINS: [(f64, f64); 8] = [
    (0.0, 0.04),
    (0.0, 0.06),
    (0.02, 0.02),
    (0.02, 0.04),
    (0.04, 0.04),
    (0.04, 0.08),
    (0.08, 0.08),
    (0.08, 0.16),
];
const SEASONS: usize = 12;
/// So many times more where both fans share one day only, from four flights on: the design farthest
/// behind its oracle. They stand in the rows of that way of sharing alone.
const MORE_OF_ONE_DAY: usize = 3;
const SEED: u64 = 9_000_000;

/// What one season taught; `None` where there was nothing to hold.
#[derive(Clone, Default)]
struct Outcome {
    estimable: bool,
    /// In the order of [`COVERED`].
    covered: [Option<bool>; 9],
    half_width: Option<f64>,
    error: Option<f64>,
    wrong: bool,
    open: bool,
    oracle_open: bool,
    promised: Option<f64>,
    /// Of an open season after its card was flown: settled rightly, wrongly, still open.
    after_card: Option<(bool, bool, usize)>,
}

const COVERED: [&str; 9] = [
    "same_pack_95",
    "same_pack_90",
    "same_terminal_voltage_95",
    "same_terminal_voltage_90",
    "band_low_95",
    "band_high_95",
    "fraction_of_thrust_case_95",
    "fraction_of_power_case_95",
    "airframes_95",
];

fn holds(estimate: Option<&Estimate>, truth: f64) -> Option<bool> {
    let e = estimate?;
    Some((e.low?..=e.high?).contains(&truth))
}

fn outcome(case: Case) -> Outcome {
    let mut made = make(case);
    let declared = season(&case.world);
    let found = answered(&declared, &made.tables);
    let answer = &found.carry_over;
    let truth = &made.truth;
    let key = |k: &str| answer.estimates.get(k);
    let within = |b: Option<Bounds>, truth: f64, ninety: bool| {
        b.map(|b| {
            let (low, high) = if ninety {
                (b.low90, b.high90)
            } else {
                (b.low, b.high)
            };
            (low..=high).contains(&truth)
        })
    };
    let (low, high) = truth.band();
    let fraction = |of: &str, case: f64| {
        holds(
            key(&format!("carry_over_fraction_{of}")),
            truth.terminal / case,
        )
    };
    let airframes = found.sisters.as_ref().and_then(|s| {
        let e = s.estimates.get("level_speed_change_between_airframes");
        holds(e, 0.03_f64.exp_m1())
    });
    let band = row_season::band_end(answer, "reference_speed_gain_low")
        .zip(row_season::band_end(answer, "reference_speed_gain_high"));
    let static_gain = key("static_thrust_gain")
        .and_then(|e| e.low.zip(e.high))
        .unwrap_or((0.0, 0.0));
    let mut out = Outcome {
        estimable: found.pack.is_some(),
        covered: [
            within(found.pack, truth.pack, false),
            within(found.pack, truth.pack, true),
            within(found.terminal, truth.terminal, false),
            within(found.terminal, truth.terminal, true),
            holds(key("reference_speed_gain_low"), low),
            holds(key("reference_speed_gain_high"), high),
            fraction("from_thrust", truth.from_thrust),
            fraction("from_power", truth.from_power),
            airframes,
        ],
        half_width: found.pack.map(|b| 0.5 * (b.high - b.low)),
        error: found.pack.map(|b| b.value - truth.pack),
        wrong: truth.contradicts(answer.verdict),
        open: answer.verdict == Verdict::NotSettled,
        oracle_open: !row_season::oracle_settles(&made, band, static_gain),
        promised: promised(&made, band),
        after_card: None,
    };
    if out.open && case.flights <= 4 {
        out.after_card = after_card(&mut made, &found, &declared);
    }
    out
}

/// The planner's chance for the flights as flown, told the true scatter.
fn promised(made: &Made, band: Option<(Bounds, Bounds)>) -> Option<f64> {
    let slots: Vec<planning::Slot> = made
        .slots
        .iter()
        .map(|s| planning::Slot {
            day: s.day,
            candidate: s.candidate,
            airframe: s.airframe,
        })
        .collect();
    let scatter = Scatter {
        flight: made.flight_sd(),
        day: made.case.world.day_sd,
    };
    let precision = planning::precision(&slots, Target::Fan, scatter)?;
    let pack = made.truth.pack.ln_1p();
    let rule = Rule {
        margin: MARGIN,
        band,
        common_pack: made.common_error(),
        common_compared: made.common_error(),
        compared_less_pack: Some(made.truth.terminal.ln_1p() - pack),
    };
    Some(rule.chance(precision, pack))
}

/// Flies the flights that the answer asks for and answers again.
fn after_card(
    made: &mut Made,
    found: &Answered,
    declared: &benchborne::season::Season,
) -> Option<(bool, bool, usize)> {
    let plan = found.carry_over.plan.as_ref()?;
    let next_day = made.slots.iter().map(|s| s.day).max()?;
    let slots: Vec<Slot> = plan
        .flights
        .iter()
        .map(|f| Slot {
            day: next_day + f.day as usize,
            candidate: f.power == "new",
            airframe: usize::from(f.airframe.as_deref() == Some("birch")),
        })
        .collect();
    made.fly(&slots);
    let verdict = answered(declared, &made.tables).carry_over.verdict;
    let wrong = made.truth.contradicts(verdict);
    let right = verdict != Verdict::NotSettled && !wrong;
    Some((right, wrong, slots.len()))
}

/// The seasons of the grid, the same number a cell.
fn cases(seasons: usize) -> Vec<Case> {
    let mut out = Vec::new();
    for flights in FLIGHTS_A_FAN {
        for (sharing, _) in SHARINGS {
            // Two flights a fan with one shared day are all on that day.
            if flights == 2 && sharing == Sharing::OneSharedDay {
                continue;
            }
            for world in WORLDS {
                for (gain, bench) in GAINS {
                    for _ in 0..seasons {
                        out.push(Case {
                            flights,
                            sharing,
                            world,
                            gain,
                            bench,
                            seed: SEED + out.len() as u64,
                        });
                    }
                }
            }
        }
    }
    out
}

/// More seasons of the cells with one shared day, with seeds of their own.
fn more_cases(cases: &[Case]) -> Vec<Case> {
    let first = SEED + cases.len() as u64;
    let of_one_day = |c: &&Case| c.sharing == Sharing::OneSharedDay && c.flights >= 4;
    let again = (0..MORE_OF_ONE_DAY).flat_map(|_| cases.iter().filter(of_one_day));
    again
        .zip(first..)
        .map(|(case, seed)| Case { seed, ..*case })
        .collect()
}

fn main() {
    let seasons = std::env::args()
        .nth(1)
        .and_then(|a| a.parse().ok())
        .unwrap_or(SEASONS);
    let mut cases = cases(seasons);
    let of_grid = cases.len();
    cases.extend(more_cases(&cases));
    let outcomes: Vec<Outcome> = {
        use rayon::prelude::*;
        cases.par_iter().map(|case| outcome(*case)).collect()
    };
    let all: Vec<(&Case, &Outcome)> = cases.iter().zip(&outcomes).collect();
    let grid = &all[..of_grid];
    println!(
        "# Calibration: {of_grid} seasons made up as rows of flights and static gains with a known truth, \
         answered by the analysis, and {} more with one shared day, which stand in the rows of that way \
         of sharing alone; seeds {SEED} to {}; made by scripts/calibrate.",
        cases.len() - of_grid,
        SEED + cases.len() as u64 - 1
    );
    println!(
        "# 8 passes a flight that scatter by 1 %, flights by 0.3 %, days by 0.6 % (or as the world \
         says), errors in common to a fan's flights 0.2 %; bench gains good to 0.6 % with 10 degrees \
         of freedom; margin 2 %."
    );
    println!(
        "# Coverage and its Monte Carlo standard error are of the seasons that give the interval; \
         half-width and bias in percentage points; the oracle knows design and conditions and has to \
         estimate the variance; right: settled and true; promised: the planner's chance at the true \
         scatter; after the card: open seasons of up to 4 flights a fan with the flights flown that \
         their answer asked for."
    );
    let heads: Vec<String> = COVERED.iter().map(|c| format!("{c},se,n")).collect();
    println!(
        "flights_a_fan,sharing,world,true_gain_percent,bench_percent,seasons,estimable,{},\
         half_width_points,bias_points,wrong,not_settled,oracle_not_settled,right,promised,\
         cards_flown,card_flights,right_after_card,wrong_after_card",
        heads.join(",")
    );
    let row = |labels: [&str; 5], of: &[(&Case, &Outcome)], keep: &dyn Fn(&Case) -> bool| {
        let kept: Vec<&Outcome> = of
            .iter()
            .filter(|(c, _)| keep(c))
            .map(|(_, o)| *o)
            .collect();
        if !kept.is_empty() {
            println!("{},{}", labels.join(","), summary(&kept));
        }
    };
    let percent = |g: f64| format!("{}", (1000.0 * g).round() / 10.0);
    for n in FLIGHTS_A_FAN {
        for (sharing, name) in SHARINGS {
            for world in WORLDS {
                // Coverage does not hang on the gain: all of them together.
                row(
                    [&n.to_string(), name, world.name, "all", "all"],
                    &all,
                    &|c| c.flights == n && c.sharing == sharing && c.world.name == world.name,
                );
            }
        }
    }
    for (sharing, name) in SHARINGS {
        for world in WORLDS {
            row(["4 or more", name, world.name, "all", "all"], &all, &|c| {
                c.flights >= 4 && c.sharing == sharing && c.world.name == world.name
            });
        }
    }
    let estimable = |c: &Case| c.sharing != Sharing::ADayEach;
    for (gain, bench) in GAINS {
        row(
            [
                "4 or more",
                "estimable",
                "all",
                &percent(gain),
                &percent(bench),
            ],
            grid,
            &|c| c.flights >= 4 && estimable(c) && c.gain == gain && c.bench == bench,
        );
    }
    for world in WORLDS {
        row(
            ["4 or more", "estimable", world.name, "all", "all"],
            grid,
            &|c| c.flights >= 4 && estimable(c) && c.world.name == world.name,
        );
    }
    row(["all", "estimable", "all", "all", "all"], grid, &estimable);
    row(["all", "all", "all", "all", "all"], grid, &|_| true);
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Blank without values.
fn shown(values: &[f64], digits: usize) -> String {
    if values.is_empty() {
        return String::new();
    }
    let text = format!("{:.digits$}", mean(values));
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        _ => text,
    }
}

fn summary(outcomes: &[&Outcome]) -> String {
    let share = |is: &dyn Fn(&Outcome) -> bool| -> Vec<f64> {
        outcomes
            .iter()
            .map(|o| f64::from(u8::from(is(o))))
            .collect()
    };
    let mut out = vec![
        outcomes.len().to_string(),
        shown(&share(&|o| o.estimable), 3),
    ];
    for i in 0..COVERED.len() {
        let held: Vec<f64> = outcomes
            .iter()
            .filter_map(|o| o.covered[i])
            .map(|c| f64::from(u8::from(c)))
            .collect();
        let p = mean(&held);
        let se = (p * (1.0 - p) / held.len() as f64).sqrt();
        out.push(shown(&held, 3));
        out.push(if held.is_empty() {
            String::new()
        } else {
            format!("{se:.3}")
        });
        out.push(held.len().to_string());
    }
    let values = |pick: fn(&Outcome) -> Option<f64>| -> Vec<f64> {
        outcomes.iter().filter_map(|o| pick(o)).collect()
    };
    let points = |pick: fn(&Outcome) -> Option<f64>| -> Vec<f64> {
        values(pick).into_iter().map(|v| 100.0 * v).collect()
    };
    out.push(shown(&points(|o| o.half_width), 2));
    out.push(shown(&points(|o| o.error), 2));
    out.push(shown(&share(&|o| o.wrong), 3));
    out.push(shown(&share(&|o| o.open), 3));
    out.push(shown(&share(&|o| o.oracle_open), 3));
    out.push(shown(&share(&|o| !o.open && !o.wrong), 3));
    out.push(shown(&values(|o| o.promised), 3));
    let cards: Vec<(bool, bool, usize)> = outcomes.iter().filter_map(|o| o.after_card).collect();
    let of =
        |pick: fn(&(bool, bool, usize)) -> f64| -> Vec<f64> { cards.iter().map(pick).collect() };
    out.push(cards.len().to_string());
    out.push(shown(&of(|c| c.2 as f64), 1));
    out.push(shown(&of(|c| f64::from(u8::from(c.0))), 3));
    out.push(shown(&of(|c| f64::from(u8::from(c.1))), 3));
    out.join(",")
}
