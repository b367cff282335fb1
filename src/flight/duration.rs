//! How long can I fly: the time at which the reserve is reached, and a timer that keeps it.

use crate::flight::phases::Phases;
use crate::flight::track::tracks;
use crate::ingest::{Channel, Log};
use crate::season::Finding;
use crate::stats;
use crate::stats::tolerance::one_sided_factor;

/// Airborne time at which the reserve is reached.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToReserve {
    pub airborne_s: f64,
    /// False: the flight landed before, and the time is carried on at its mean draw in the air (a
    /// censored observation: all that was seen is that it lasted longer than it flew).
    pub reached: bool,
    /// Airborne time actually flown, s.
    pub flown_s: f64,
    pub mean_current_a: f64,
}

/// Counts `current_scale` (1, or put-back's) times the logged current from the start of the record
/// against `capacity_c`·(1 − `reserve`). `None` without current or phases, or where the recording
/// has gaps longer than a hundredth of it: what was drawn meanwhile is not known.
pub fn to_reserve(
    log: &Log,
    phases: &Phases,
    capacity_c: f64,
    reserve: f64,
    current_scale: f64,
) -> Option<ToReserve> {
    let usable_c = capacity_c * (1.0 - reserve);
    let current = tracks(log, Channel::Current);
    let recorded = log.time.last()? - log.time.first()?;
    let covered: f64 = current.iter().map(|t| t.length()).sum();
    if recorded <= 0.0 || covered < 0.99 * recorded || usable_c <= 0.0 {
        return None;
    }
    let mut used = 0.0;
    for track in &current {
        for i in 1..track.time.len() {
            let dt = track.time[i] - track.time[i - 1];
            let (a, b) = (
                current_scale * track.value[i - 1],
                current_scale * track.value[i],
            );
            let more = 0.5 * (a + b) * dt;
            if used + more >= usable_c && more > 0.0 {
                let at = track.time[i - 1] + dt * (usable_c - used) / more;
                let airborne_s = phases.airborne_until(at);
                return Some(ToReserve {
                    airborne_s,
                    reached: true,
                    flown_s: phases.airborne_s(),
                    mean_current_a: used / airborne_s.max(dt),
                });
            }
            used += more;
        }
    }
    let (mut airborne_c, mut airborne_s) = (0.0, 0.0);
    for &(from, to) in &phases.airborne {
        for track in &current {
            let (charge, length) = track.integral(from, to);
            airborne_c += current_scale * charge;
            airborne_s += length;
        }
    }
    let mean_current_a = airborne_c / airborne_s;
    (airborne_s > 0.0 && mean_current_a > 0.0).then(|| ToReserve {
        airborne_s: phases.airborne_s() + (usable_c - used) / mean_current_a,
        reached: false,
        flown_s: phases.airborne_s(),
        mean_current_a,
    })
}

/// A timer setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Timer {
    /// Lower one-sided 95/95 tolerance limit: with 95 % confidence, 95 % of such flights still have
    /// their reserve at this time. Airborne s.
    pub limit_s: f64,
    pub mean_s: f64,
    pub sd_s: f64,
    pub flights: usize,
    /// Flights that landed before their reserve, carried on at their mean draw.
    pub extrapolated: usize,
    pub method: String,
}

/// Below five flights k is above 5 and the limit says more about the method than about the jet.
const FEWEST_FLIGHTS: usize = 5;

/// Timer from the flights' times to reserve. `charge_relative_u` is the relative standard
/// uncertainty of the charge scale, which all flights share and which averaging does not shrink.
pub fn timer(times: &[ToReserve], charge_relative_u: f64) -> (Option<Timer>, Vec<Finding>) {
    let n = times.len();
    if n < FEWEST_FLIGHTS {
        let finding = Finding::note(
            "timer-needs-flights",
            format!("no honest timer limit exists from {n} flights"),
            format!(
                "Fly {} more with the current logged; until then land on the voltage you know.",
                FEWEST_FLIGHTS - n
            ),
        )
        .expected(format!("{FEWEST_FLIGHTS} flights or more"));
        return (None, vec![finding]);
    }
    let seconds: Vec<f64> = times.iter().map(|t| t.airborne_s).collect();
    let (mean_s, sd_s) = (stats::mean(&seconds), stats::sd(&seconds));
    let k = one_sided_factor(n, 0.95, 0.95);
    let shared = stats::normal_quantile(0.95) * charge_relative_u * mean_s;
    let limit_s = mean_s - k * sd_s - shared;
    let extrapolated = times.iter().filter(|t| !t.reached).count();
    let mut findings = Vec::new();
    if extrapolated > 0 {
        findings.push(Finding::note(
            "reserve-extrapolated",
            format!(
                "{extrapolated} of {n} flights landed before their reserve; their time to it is \
                 carried on at their own mean draw"
            ),
            "Nothing is wrong with that; a flight that ends with a different draw than its mean \
             would differ.",
        ));
    }
    if limit_s <= 0.0 {
        findings.push(Finding::warning(
            "timer-impossible",
            format!(
                "the flights differ too much for a timer: {mean_s:.0} s on average, {sd_s:.0} s \
                 from flight to flight"
            ),
            "Tell apart calm and hard flying in the logbook, or fly by charge used.",
        ));
        return (None, findings);
    }
    let method = format!(
        "lower one-sided 95/95 tolerance limit of a normal distribution over {n} flights \
         (ISO 16269-6, k = {k:.2}), less {shared:.0} s for the shared error of the charge scale"
    );
    (
        Some(Timer {
            limit_s,
            mean_s,
            sd_s,
            flights: n,
            extrapolated,
            method,
        }),
        findings,
    )
}
