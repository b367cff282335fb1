//! The controller's temperature against the current it passed: warming with the square of the motor's
//! current, cooling with the difference from the air (a body of one temperature, Newton's cooling).

use serde::{Deserialize, Serialize};

use crate::flight::ticks::Ticks;
use crate::flight::track::{Track, at, tracks};
use crate::ingest::{Channel, Log};
use crate::stats;
use crate::stats::linear;

/// Time constants tried, s.
const SHORTEST_S: f64 = 5.0;
const LONGEST_S: f64 = 400.0;
const TRIED: usize = 24;
/// Rows a fit is made from, about.
const ROWS: usize = 1000;
/// Below this throttle pack current over duty says nothing of the motor's.
const LEAST_DUTY: f64 = 0.2;
/// A rise that a sensor of whole degrees shows well, K.
const LEAST_RISE_K: f64 = 5.0;

/// What one flight says.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Heat {
    /// First reading, and the greatest.
    pub start_k: f64,
    pub greatest_k: f64,
    /// Mean square of the current, motor's where the throttle is logged, A².
    pub mean_square_a2: f64,
    pub of_motor: bool,
    /// Rise at which a lasting current settles over its square, K/A², with the time constant; `None`
    /// where the record does not tell them.
    pub fit: Option<HeatFit>,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct HeatFit {
    pub rise_k_per_a2: f64,
    pub time_constant_s: f64,
    pub residual_rms_k: f64,
}

/// `None` without a controller temperature or a current.
pub fn controller_heat(log: &Log) -> Option<Heat> {
    let temperature = tracks(log, Channel::ControllerTemperature);
    let current = tracks(log, Channel::Current);
    let throttle = tracks(log, Channel::Throttle);
    let longest = current
        .iter()
        .max_by(|a, b| a.length().total_cmp(&b.length()))
        .filter(|t| t.length() > 4.0 * SHORTEST_S)?;
    let of_motor = !throttle.is_empty();
    let square = |t: f64, amps: f64| -> f64 {
        let duty = if of_motor {
            at(&throttle, t).unwrap_or(1.0).max(LEAST_DUTY)
        } else {
            1.0
        };
        (amps.max(0.0) / duty).powi(2)
    };
    let squares = Track {
        time: longest.time.clone(),
        value: longest
            .time
            .iter()
            .zip(&longest.value)
            .map(|(t, i)| square(*t, *i))
            .collect(),
    };
    let ticks = Ticks::of(&squares.time);
    let shown: Vec<Option<f64>> = squares.time.iter().map(|t| at(&temperature, *t)).collect();
    let known: Vec<f64> = shown.iter().flatten().copied().collect();
    let start_k = *known.first()?;
    let greatest_k = known.iter().copied().max_by(f64::total_cmp)?;
    let (sum, covered) = squares.integral(f64::NEG_INFINITY, f64::INFINITY);
    let fit = (greatest_k - start_k >= LEAST_RISE_K)
        .then(|| {
            let best = |from: f64, to: f64| {
                (0..TRIED)
                    .map(|k| from * (to / from).powf(k as f64 / (TRIED - 1) as f64))
                    .filter_map(|tau| heat_fit(&squares, &ticks, &shown, tau))
                    .min_by(|a, b| a.residual_rms_k.total_cmp(&b.residual_rms_k))
            };
            let coarse = best(SHORTEST_S, LONGEST_S)?;
            let step = (LONGEST_S / SHORTEST_S).powf(1.0 / (TRIED - 1) as f64);
            best(coarse.time_constant_s / step, coarse.time_constant_s * step)
        })
        .flatten()
        // At the end of what was tried the record is too short to tell.
        .filter(|f| f.rise_k_per_a2 > 0.0 && f.time_constant_s < 0.95 * LONGEST_S);
    Some(Heat {
        start_k,
        greatest_k,
        mean_square_a2: sum / covered,
        of_motor,
        fit,
    })
}

/// T = air + k·(square smoothed with tau) + (start − air)·exp(−t/tau), linear in what is unknown.
fn heat_fit(squares: &Track, ticks: &Ticks, shown: &[Option<f64>], tau: f64) -> Option<HeatFit> {
    let (mut smooth, mut fading) = (0.0, 1.0);
    let mut keeps = ticks.map(|dt| (-dt / tau).exp());
    let (mut warm, mut fade, mut y) = (Vec::new(), Vec::new(), Vec::new());
    let every = shown.len().div_ceil(ROWS);
    for (i, shown) in shown.iter().enumerate() {
        if i > 0 {
            let keep = keeps.next()?;
            let mean = 0.5 * (squares.value[i] + squares.value[i - 1]);
            smooth = smooth * keep + mean * (1.0 - keep);
            fading *= keep;
        }
        if let Some(kelvin) = shown.filter(|_| i % every == 0) {
            warm.push(smooth);
            fade.push(fading);
            y.push(kelvin);
        }
    }
    let fit = linear::fit(&[fade, warm], &y)?;
    let squares: Vec<f64> = fit.residuals.iter().map(|r| r * r).collect();
    Some(HeatFit {
        rise_k_per_a2: fit.coefficient(2)?.value,
        time_constant_s: tau,
        residual_rms_k: stats::mean(&squares).sqrt(),
    })
}
