//! Level speed from full-throttle straights, by method, on simulated flights with a known truth:
//! bias and scatter of the level speed, and what is left of it in the gain of one fan over another.
//!
//! Prints the table kept in `datasets/studies/level-speed.csv` (run `scripts/study-level-speed`).

#![allow(clippy::print_stdout)]

#[path = "../tests/sim_log.rs"]
mod sim_log;

use benchborne::flight::cross_checks::{cross_checks, naive};
use benchborne::flight::run_up::model::Shape;
use benchborne::flight::run_up::{Fit, TimeConstant, VOLTAGE_EXPONENT, fit_shaped, pool};
use benchborne::flight::straights::{Straight, find};
use benchborne::flight::{clock, velocity};
use benchborne::season::Rules;
use benchborne::simulate::{SeasonPlan, Sharing, SimulatedFlight, fly};
use benchborne::stats::{mean, sd, t_quantile};

const SEEDS: u64 = 12;
const FLIGHTS_A_FAN: usize = 8;
const METHODS: [&str; 6] = [
    "mean of the pass",
    "last two seconds",
    "dv/dt at the end",
    "joint fit with its own time constant",
    "joint fit with an exponential",
    "joint fit",
];

struct Case {
    wind_m_s: f64,
    rate_hz: f64,
    gps_rate_hz: f64,
    entry: (f64, f64),
    gust_tau_s: f64,
}

fn main() {
    println!("# Level speed by method on simulated flights; made by scripts/study-level-speed.");
    println!(
        "# {} seasons of {FLIGHTS_A_FAN} flights a fan and case, 8 passes a flight, gusts of \
         0.8 m/s. Errors in % of the true level speed,",
        SEEDS
    );
    println!(
        "# gain errors in percentage points (candidate's mean error less baseline's), each with \
         its standard error over seasons."
    );
    println!(
        "wind_m_s,rate_hz,gps_rate_hz,entry_low,entry_high,gust_time_s,method,flights,\
         level_bias_percent,level_bias_se_percent,scatter_a_flight_percent,gain_bias_points,\
         gain_bias_se_points,gain_scatter_a_season_points,coverage_95"
    );
    let case = |wind_m_s, rate_hz, gps_rate_hz, entry, gust_tau_s| Case {
        wind_m_s,
        rate_hz,
        gps_rate_hz,
        entry,
        gust_tau_s,
    };
    let usual = (0.70, 0.85);
    for case in [
        case(0.0, 20.0, 10.0, usual, 3.0),
        case(4.0, 20.0, 10.0, usual, 3.0),
        case(8.0, 20.0, 10.0, usual, 3.0),
        case(4.0, 10.0, 5.0, usual, 3.0),
        case(4.0, 50.0, 10.0, usual, 3.0),
        case(4.0, 10.0, 1.0, usual, 3.0),
        case(4.0, 20.0, 10.0, (0.70, 0.75), 3.0),
        case(4.0, 20.0, 10.0, (0.80, 0.85), 3.0),
        case(4.0, 20.0, 10.0, usual, 1.5),
        case(4.0, 20.0, 10.0, usual, 6.0),
    ] {
        study(&case);
    }
}

/// Errors of one season by method and fan, in %; and whether intervals held the truth.
struct Season {
    errors: Vec<[Vec<f64>; 2]>,
    covered: Vec<bool>,
}

fn study(case: &Case) {
    let seasons: Vec<Season> = (0..SEEDS).map(|seed| season(case, 100 + seed)).collect();
    for (m, method) in METHODS.iter().enumerate() {
        let all: Vec<f64> = seasons
            .iter()
            .flat_map(|s| s.errors[m].iter().flatten())
            .copied()
            .collect();
        let by_season: Vec<f64> = seasons
            .iter()
            .map(|s| 0.5 * (mean(&s.errors[m][0]) + mean(&s.errors[m][1])))
            .collect();
        let gains: Vec<f64> = seasons
            .iter()
            .map(|s| mean(&s.errors[m][1]) - mean(&s.errors[m][0]))
            .collect();
        let within: Vec<f64> = seasons
            .iter()
            .flat_map(|s| s.errors[m].iter().map(|e| sd(e)))
            .collect();
        let root = (seasons.len() as f64).sqrt();
        let covered: Vec<f64> = seasons
            .iter()
            .flat_map(|s| &s.covered)
            .map(|c| f64::from(u8::from(*c)))
            .collect();
        println!(
            "{},{},{},{},{},{},{method},{},{:.2},{:.2},{:.2},{:.2},{:.2},{:.2},{}",
            case.wind_m_s,
            case.rate_hz,
            case.gps_rate_hz,
            case.entry.0,
            case.entry.1,
            case.gust_tau_s,
            all.len(),
            mean(&by_season),
            sd(&by_season) / root,
            mean(&within),
            mean(&gains),
            sd(&gains) / root,
            sd(&gains),
            if *method == "joint fit" {
                format!("{:.2}", mean(&covered))
            } else {
                String::new()
            },
        );
    }
}

/// A flight's straights, its free fits and what it really was.
struct Flown<'a> {
    fan: usize,
    straights: Vec<Straight>,
    jet: Fit,
    exponential: Fit,
    flight: &'a SimulatedFlight,
    /// Mean logged voltage over the true passes: the truth's voltage as this logger shows it.
    truth_voltage: f64,
}

impl Flown<'_> {
    /// Error of `level` found at `voltage`, %.
    fn error(&self, level: f64, voltage: f64) -> f64 {
        let truth =
            self.flight.truth.level_speed * (voltage / self.truth_voltage).powf(VOLTAGE_EXPONENT);
        100.0 * (level / truth - 1.0)
    }
}

fn season(case: &Case, seed: u64) -> Season {
    let mut plan = SeasonPlan::coverage(FLIGHTS_A_FAN, 0.04, Sharing::EachDay, case.wind_m_s)
        .rate(case.rate_hz, case.gps_rate_hz)
        .entries(case.entry.0, case.entry.1);
    plan.gust_tau_s = case.gust_tau_s;
    let mut out = Season {
        errors: vec![[Vec::new(), Vec::new()]; METHODS.len()],
        covered: Vec::new(),
    };
    let Some(simulated) = fly(&plan, seed) else {
        return out;
    };
    let flown: Vec<Flown<'_>> = simulated
        .flights
        .iter()
        .zip(&plan.flights)
        .filter_map(|(flight, planned)| flown(flight, planned.fan))
        .collect();
    for fan in 0..2 {
        let mine: Vec<&Flown<'_>> = flown.iter().filter(|f| f.fan == fan).collect();
        let pooled = |fits: Vec<Fit>| pool(&fits).map_or(TimeConstant::Free, |p| p.for_fit());
        let jet = pooled(mine.iter().map(|f| f.jet.clone()).collect());
        let exponential = pooled(mine.iter().map(|f| f.exponential.clone()).collect());
        for f in mine {
            let Some(voltage) = f.jet.voltage_v else {
                continue;
            };
            let fits = (
                fit_shaped(&f.straights, jet, None, Shape::Jet),
                fit_shaped(&f.straights, exponential, None, Shape::Exponential),
                naive(&f.straights, f.jet.voltage_v),
            );
            let (Ok(joint), Ok(exponential), Some(naive)) = fits else {
                continue;
            };
            let dvdt = cross_checks(&f.straights, &joint)
                .dvdt_m_s
                .unwrap_or(f64::NAN);
            let levels = [
                naive.mean_m_s,
                naive.last_two_seconds_m_s,
                dvdt,
                f.jet.level_speed_m_s,
                exponential.level_speed_m_s,
                joint.level_speed_m_s,
            ];
            for (errors, level) in out.errors.iter_mut().zip(levels) {
                errors[fan].push(f.error(level, voltage));
            }
            let se = joint.level_speed_se_m_s.hypot(joint.shared_error_m_s());
            let half = t_quantile(0.975, joint.passes.len() as f64 - 1.0) * se;
            let off = f.error(joint.level_speed_m_s, voltage) / 100.0 * joint.level_speed_m_s;
            out.covered.push(off.abs() <= half);
        }
    }
    out
}

fn flown(flight: &SimulatedFlight, fan: usize) -> Option<Flown<'_>> {
    let log = sim_log::log_of(&flight.log);
    let velocity = velocity::of(&log).ok()?;
    let lag = clock::gps_lag(&log, &velocity).map_or(clock::USUAL_LAG.0, |l| l.value_s);
    let straights = find(&log, &velocity, &Rules::default(), lag).used;
    let volts: Vec<f64> = flight
        .truth
        .passes
        .iter()
        .map(|p| {
            let inside: Vec<f64> = (0..log.len())
                .filter(|&i| log.time[i] >= p.start_s + 0.5 && log.time[i] <= p.end_s)
                .map(|i| flight.log.voltage[i])
                .collect();
            mean(&inside)
        })
        .collect();
    Some(Flown {
        fan,
        jet: fit_shaped(&straights, TimeConstant::Free, None, Shape::Jet).ok()?,
        exponential: fit_shaped(&straights, TimeConstant::Free, None, Shape::Exponential).ok()?,
        straights,
        flight,
        truth_voltage: mean(&volts),
    })
}
