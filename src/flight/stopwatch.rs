//! Level speed from stopwatch and radar passes (`passes.csv`): no logger on board.
//!
//! A pass is timed over a base, or a radar reads it. Two directions cancel the wind along the base.
//! What was not written down (run-up, minutes since take-off) widens the answer instead of being
//! guessed.

use serde::{Deserialize, Serialize};

use super::run_up::PooledTimeConstant;
use super::run_up::model::{Shape, after};
use crate::season::{Finding, PassRow};
use crate::stats;

/// Reaction of the hand at either end of the base, s, standard deviation (common practice).
pub const REACTION_S: f64 = 0.1;
/// Length of the base as paced or taped, standard uncertainty as a fraction (common practice).
pub const BASE_FRACTION: f64 = 0.01;
/// A radar reads v·cos of the angle to its beam: up to 10° low by 1.5 % (common practice), and
/// within 0.5 m/s.
const RADAR_ANGLE_DEG: f64 = 10.0;
const RADAR_M_S: f64 = 0.5;
/// Entry speed as a share of level speed: a jet leaves a turn 20 to 30 % slow (design 4.7).
const ENTRY_SHARE: (f64, f64) = (0.70, 0.85);
/// Time constants met in model jets, s, where no flight gives one (common practice, no source).
const TIME_CONSTANT_S: (f64, f64) = (2.0, 6.0);
/// Seconds at full throttle before the base when nobody wrote them down.
const RUN_UP_S: (f64, f64) = (2.0, 8.0);
/// Level speed falls over a pack by about this fraction; passes without a time since take-off may
/// lie anywhere in it (common practice).
const OVER_THE_PACK: f64 = 0.08;

/// One pass with its errors.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TimedPass {
    pub direction: String,
    pub radar: bool,
    /// Ground speed over the base, m/s.
    pub ground_speed_m_s: f64,
    /// Standard uncertainty that passes do not share (hand, radar).
    pub u_own_m_s: f64,
    /// Level speed over the mean speed in the base, from the run-up; 1 where it reached it.
    pub run_up_factor: f64,
    /// Its standard uncertainty, common to passes flown alike.
    pub u_run_up: f64,
    pub minutes_since_take_off: Option<f64>,
    pub line: u32,
}

/// Level speed of a flight from its timed passes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TimedLevelSpeed {
    /// Airspeed, at the mean charge of the passes, m/s.
    pub level_speed_m_s: f64,
    /// Standard uncertainty that this flight does not share with others.
    pub u_own_m_s: f64,
    /// Standard uncertainty common to flights timed alike (base length, run-up, radar angle): it
    /// mostly cancels in a gain.
    pub u_shared_m_s: f64,
    /// Half the difference of the two directions: the wind along the base.
    pub wind_along_m_s: f64,
    pub passes: Vec<TimedPass>,
    /// Mean minutes since take-off where every pass has it.
    pub minutes_since_take_off: Option<f64>,
    #[serde(with = "crate::season::finding::whole")]
    pub findings: Vec<Finding>,
}

/// Level speed from the passes of one flight, or why there is none. `time_constant`: the power
/// system's, where flights with a logger gave one.
pub fn level_speed(
    rows: &[&PassRow],
    time_constant: Option<&PooledTimeConstant>,
) -> Result<TimedLevelSpeed, Finding> {
    let Some(first) = rows.first() else {
        return Err(Finding::warning(
            "no-passes",
            "the flight has no timed passes",
            "time two or more passes each way",
        ));
    };
    let mut findings = Vec::new();
    let passes: Vec<TimedPass> = rows
        .iter()
        .filter(|r| r.speed_m_s.is_finite() && r.speed_m_s > 0.0)
        .map(|r| timed(r, time_constant))
        .collect();
    let there: Vec<&TimedPass> = passes
        .iter()
        .filter(|p| same_way(&p.direction, &first.direction))
        .collect();
    let back: Vec<&TimedPass> = passes
        .iter()
        .filter(|p| !same_way(&p.direction, &first.direction))
        .collect();
    let mut ways: Vec<&str> = Vec::new();
    for pass in &passes {
        if !ways.iter().any(|w| same_way(w, &pass.direction)) {
            ways.push(&pass.direction);
        }
    }
    if ways.len() != 2 || there.is_empty() || back.is_empty() {
        let what = format!(
            "passes of flight {} go {} way(s) ({}): the wind along the base is not taken out",
            first.flight,
            ways.len(),
            ways.join(", ")
        );
        return Err(Finding::warning(
            "not-reciprocal",
            what,
            "time passes in two opposite directions and give each a word of its own",
        )
        .at("passes.csv", first.line, None));
    }
    let level = |p: &&TimedPass| p.ground_speed_m_s * p.run_up_factor;
    let mean = |way: &[&TimedPass]| stats::mean(&way.iter().map(level).collect::<Vec<_>>());
    let (v_there, v_back) = (mean(&there), mean(&back));
    let level_speed_m_s = 0.5 * (v_there + v_back);
    let wind = 0.5 * (v_there - v_back).abs();
    if wind > level_speed_m_s / 3.0 {
        findings.push(
            Finding::warning(
                "strong-wind",
                format!("the two directions differ by {:.0} m/s", 2.0 * wind),
                "check the directions and distances, or repeat the passes on a calmer day",
            )
            .at("passes.csv", first.line, None),
        );
    }

    // Own error: the hand of each pass, or the scatter within a direction where that is larger.
    let hand = |way: &[&TimedPass]| {
        let n = way.len() as f64;
        let own = way
            .iter()
            .map(|p| (p.u_own_m_s * p.run_up_factor).powi(2))
            .sum::<f64>()
            / n;
        let scatter = stats::sd(&way.iter().map(level).collect::<Vec<_>>());
        let scatter = if scatter.is_finite() {
            scatter * scatter
        } else {
            0.0
        };
        own.max(scatter) / n
    };
    let mut own = 0.25 * (hand(&there) + hand(&back));
    let minutes = mean_minutes(&passes);
    if minutes.is_none() {
        // Anywhere in the pack: rectangular over the fall, for the flight as a whole.
        own += (OVER_THE_PACK * level_speed_m_s / 12f64.sqrt()).powi(2);
        findings.push(
            Finding::note(
                "no-minutes",
                "minutes since take-off are missing for some passes: how full the pack was is \
                 unknown, and the answer is wider",
                "note the minutes since take-off of each pass",
            )
            .at("passes.csv", first.line, None),
        );
    }
    if rows
        .iter()
        .any(|r| r.run_up_m.is_none() && r.run_up_s.is_none())
    {
        findings.push(
            Finding::note(
                "no-run-up",
                "the run-up before the base is missing for some passes: how close they came to \
                 level speed is unknown, and the answer is wider",
                "note the distance or seconds at full throttle before the base",
            )
            .at("passes.csv", first.line, None),
        );
    }
    let base = if passes.iter().any(|p| !p.radar) {
        BASE_FRACTION
    } else {
        0.0
    };
    let run_up = stats::mean(
        &passes
            .iter()
            .map(|p| p.u_run_up / p.run_up_factor)
            .collect::<Vec<_>>(),
    );
    let radar = if passes.iter().any(|p| p.radar) {
        radar_bound() / 12f64.sqrt()
    } else {
        0.0
    };
    Ok(TimedLevelSpeed {
        level_speed_m_s,
        u_own_m_s: own.sqrt(),
        u_shared_m_s: level_speed_m_s * (base * base + run_up * run_up + radar * radar).sqrt(),
        wind_along_m_s: wind,
        minutes_since_take_off: minutes,
        passes,
        findings,
    })
}

fn same_way(a: &str, b: &str) -> bool {
    a.trim().eq_ignore_ascii_case(b.trim())
}

/// What a radar beside the line can read low by, as a fraction.
fn radar_bound() -> f64 {
    1.0 - RADAR_ANGLE_DEG.to_radians().cos()
}

fn mean_minutes(passes: &[TimedPass]) -> Option<f64> {
    let minutes: Option<Vec<f64>> = passes.iter().map(|p| p.minutes_since_take_off).collect();
    minutes.filter(|m| !m.is_empty()).map(|m| stats::mean(&m))
}

fn timed(row: &PassRow, time_constant: Option<&PooledTimeConstant>) -> TimedPass {
    let v = row.speed_m_s;
    let radar = row.time_s.is_none() || row.base_m.is_none();
    let (ground_speed_m_s, u_own_m_s, base_s) = match (row.base_m, row.time_s) {
        // Both ends of the base are judged by eye and hand.
        (Some(_), Some(t)) if t > 0.0 => (v, v * REACTION_S * 2f64.sqrt() / t, t),
        // The radar reads low by a share anywhere between nothing and its bound.
        _ => (v * (1.0 + 0.5 * radar_bound()), RADAR_M_S, 0.0),
    };
    let (run_up_factor, u_run_up) = run_up_factor(row, v, base_s, time_constant);
    TimedPass {
        direction: row.direction.clone(),
        radar,
        ground_speed_m_s,
        u_own_m_s,
        run_up_factor,
        u_run_up,
        minutes_since_take_off: row.minutes_since_take_off,
        line: row.line,
    }
}

/// Level speed over mean speed in the base, and its standard uncertainty: the middle of what entry
/// speeds, time constants and (where unknown) run-ups allow.
fn run_up_factor(
    row: &PassRow,
    v: f64,
    base_s: f64,
    time_constant: Option<&PooledTimeConstant>,
) -> (f64, f64) {
    let run_up = match (row.run_up_s, row.run_up_m) {
        (Some(s), _) => (s, s),
        // The run-up is flown a little slower than the base.
        (None, Some(m)) => (m / (0.92 * v), m / (0.92 * v)),
        (None, None) => RUN_UP_S,
    };
    let tau = match time_constant {
        Some(t) => (
            (t.value_s - 1.73 * t.se_s).max(0.5),
            t.value_s + 1.73 * t.se_s,
        ),
        None => TIME_CONSTANT_S,
    };
    // Half a dozen even steps of each: mean and spread of the factor under ignorance.
    const STEPS: usize = 6;
    let between =
        |(low, high): (f64, f64), k: usize| low + (high - low) * (k as f64 + 0.5) / STEPS as f64;
    let mut factors = Vec::with_capacity(STEPS.pow(3));
    for a in 0..STEPS {
        for b in 0..STEPS {
            for c in 0..STEPS {
                let (entry, tau, start) =
                    (between(ENTRY_SHARE, a), between(tau, b), between(run_up, c));
                // Mean speed in the base, level speed 1 (Simpson).
                let at = |t: f64| after(Shape::Jet, entry, 1.0, tau, t);
                let mean = (at(start) + 4.0 * at(start + 0.5 * base_s) + at(start + base_s)) / 6.0;
                factors.push(1.0 / mean);
            }
        }
    }
    (stats::mean(&factors), stats::sd(&factors))
}
