//! A timer that keeps the reserve, from the flights' times to it.

use crate::flight::duration::ToReserve;
use crate::season::Finding;
use crate::stats;
use crate::stats::censored::Seen;
use crate::stats::tolerance::{FEWEST_EXACT, censored_lower_limit, one_sided_factor};

/// What a timer rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TimerBasis {
    /// Times at which the reserve was reached; flights landed before it bound theirs from below.
    Seen,
    /// Too few flights reached the reserve: times carried on at each flight's mean draw.
    Extrapolated,
}

/// A timer setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Timer {
    pub basis: TimerBasis,
    /// Lower one-sided 95/95 tolerance limit: with 95 % confidence, 95 % of such flights still have
    /// their reserve at this time. Airborne s.
    pub limit_s: f64,
    pub mean_s: f64,
    /// 95 %.
    pub mean_interval_s: (f64, f64),
    pub sd_s: f64,
    pub flights: usize,
    /// Flights that landed before their reserve.
    pub landed_before: usize,
    pub method: String,
}

/// Below five flights k is above 5 and the limit says more about the method than about the jet.
const FEWEST_FLIGHTS: usize = 5;
/// With flights landed early the limit can fall so far below the mean that it tells how few came to
/// the reserve, not when (share ours, no source).
const LEAST_TELLING: f64 = 0.5;
const SHARE: f64 = 0.95;
const CONFIDENCE: f64 = 0.95;

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
    let mut findings = Vec::new();
    let telling = |t: &Timer| t.landed_before == 0 || t.limit_s >= LEAST_TELLING * t.mean_s;
    let seen = seen(times, charge_relative_u).filter(telling);
    let mut timer = seen.unwrap_or_else(|| {
        findings.push(Finding::note(
            "reserve-extrapolated",
            format!(
                "only {} of {n} flights reached their reserve, too few for a limit on its time; \
                 each flight is carried on at its own mean draw instead",
                times.iter().filter(|t| t.reached).count()
            ),
            format!(
                "The figure holds as long as the end of a flight draws what its mean draws. {} \
                 flights down to the reserve (and not below it) give a limit that was seen.",
                FEWEST_EXACT
            ),
        ));
        extrapolated(times, charge_relative_u)
    });
    let shared = stats::normal_quantile(CONFIDENCE) * charge_relative_u * timer.mean_s;
    timer.limit_s -= shared;
    timer.method += &format!(", less {shared:.0} s for the shared error of the charge scale");
    if timer.limit_s <= 0.0 {
        findings.push(Finding::warning(
            "timer-impossible",
            format!(
                "the flights differ too much for a timer: {:.0} s on average, {:.0} s from flight \
                 to flight",
                timer.mean_s, timer.sd_s
            ),
            "Tell apart calm and hard flying in the logbook, or fly by charge used.",
        ));
        return (None, findings);
    }
    (Some(timer), findings)
}

/// From what was seen; `None` where too few flights reached the reserve.
fn seen(times: &[ToReserve], charge_relative_u: f64) -> Option<Timer> {
    let n = times.len();
    let observed: Vec<Seen> = times.iter().map(ToReserve::seen).collect();
    let limit = censored_lower_limit(&observed, SHARE, CONFIDENCE).ok()?;
    let fit = limit.fit;
    // The maximum likelihood divides by n; the interval by as many as the values are worth.
    let size = limit.size as f64;
    let wider = (size / (size - 1.0)).sqrt();
    let half = (stats::t_quantile(0.975, size - 1.0) * wider * fit.covariance[0][0].sqrt())
        .hypot(2.0 * charge_relative_u * fit.mean);
    let method = if fit.censored == 0 {
        format!(
            "lower one-sided 95/95 tolerance limit of a normal distribution over {n} flights \
             (ISO 16269-6, k = {:.2})",
            one_sided_factor(n, SHARE, CONFIDENCE)
        )
    } else {
        format!(
            "lower one-sided 95/95 tolerance limit of a normal distribution over {n} flights, {} of \
             which landed before their reserve and count as lasting longer than they flew (profile \
             likelihood; without such flights it is the limit of ISO 16269-6)",
            fit.censored
        )
    };
    Some(Timer {
        basis: TimerBasis::Seen,
        limit_s: limit.limit,
        mean_s: fit.mean,
        mean_interval_s: ((fit.mean - half).max(0.0), fit.mean + half),
        sd_s: fit.sd * wider,
        flights: n,
        landed_before: fit.censored,
        method,
    })
}

fn extrapolated(times: &[ToReserve], charge_relative_u: f64) -> Timer {
    let n = times.len();
    let seconds: Vec<f64> = times.iter().map(|t| t.airborne_s).collect();
    let (mean_s, sd_s) = (stats::mean(&seconds), stats::sd(&seconds));
    let k = one_sided_factor(n, SHARE, CONFIDENCE);
    let half = (stats::t_quantile(0.975, n as f64 - 1.0) * sd_s / (n as f64).sqrt())
        .hypot(2.0 * charge_relative_u * mean_s);
    Timer {
        basis: TimerBasis::Extrapolated,
        limit_s: mean_s - k * sd_s,
        mean_s,
        mean_interval_s: ((mean_s - half).max(0.0), mean_s + half),
        sd_s,
        flights: n,
        landed_before: times.iter().filter(|t| !t.reached).count(),
        method: format!(
            "extrapolated: each flight carried on at its own mean draw, then the lower one-sided \
             95/95 tolerance limit of a normal distribution over {n} flights (ISO 16269-6, k = \
             {k:.2})"
        ),
    }
}
