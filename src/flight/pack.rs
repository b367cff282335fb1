//! The pack in flight: open-circuit voltage and resistance from current steps, sag, rest voltage.

use serde::{Deserialize, Serialize};

use crate::flight::track::{at, tracks};
use crate::ingest::{Channel, Log};
use crate::season::Finding;
use crate::stats;
use crate::stats::compressed::Compressed;
use crate::stats::jackknife::jackknife;

/// V = OCV(charge used) − I·R over one flight.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PackFit {
    pub resistance_ohm: f64,
    /// 95 %, jackknife over blocks of time (neighbouring samples are not independent).
    pub resistance_interval_ohm: Option<(f64, f64)>,
    /// OCV = sum of `ocv_v[k]`·(charge used, A.h)^k, charge counted from the start of the record.
    pub ocv_v: Vec<f64>,
    pub open_circuit_start_v: f64,
    /// Open-circuit less terminal voltage at the peak current.
    pub sag_at_peak_v: f64,
    pub peak_current_a: f64,
    pub residual_rms_v: f64,
    pub blocks: usize,
}

impl PackFit {
    pub fn open_circuit_v(&self, charge_ah: f64) -> f64 {
        polynomial(&self.ocv_v, charge_ah)
    }
}

fn polynomial(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

/// Least length of a block, s: longer than a gust or a throttle blip, and than the pack's own fast
/// relaxation (a few seconds, common practice, no source).
const BLOCK_S: f64 = 10.0;
const MOST_BLOCKS: usize = 30;

struct Sample {
    time: f64,
    voltage: f64,
    current: f64,
    charge_ah: f64,
}

/// Fits one flight. Needs both sensors and a current that moves by a tenth of its peak.
pub fn pack_fit(log: &Log) -> (Option<PackFit>, Vec<Finding>) {
    let samples = samples(log);
    let refuse = |what: &str| {
        let finding = Finding::note(
            "pack-resistance-unknown",
            format!("the pack's resistance cannot be told from this flight: {what}"),
            "Log volts and amps together, with a few clean throttle steps.",
        );
        (None, vec![finding.in_file(&log.file)])
    };
    if log.get(Channel::Current).is_none() || log.get(Channel::Voltage).is_none() {
        return (None, Vec::new());
    }
    if samples.len() < 20 {
        return refuse("fewer than 20 readings of volts and amps");
    }
    let currents: Vec<f64> = samples.iter().map(|s| s.current).collect();
    let peak = currents.iter().fold(f64::NEG_INFINITY, |a, &b| a.max(b));
    if peak <= 0.0 || stats::sd(&currents) < 0.1 * peak {
        return refuse("the current hardly changes");
    }
    let used = samples.last().map_or(0.0, |s| s.charge_ah);
    let blocks = Blocks::over(&samples, used);
    let order = blocks.best_order();
    let Some((ocv_v, resistance)) = blocks.fit(order, None) else {
        return refuse("current and charge used cannot be told apart");
    };
    if resistance <= 0.0 {
        return refuse("the voltage does not fall when the current rises");
    }
    let resistance_interval_ohm = blocks.interval(order);
    let residuals: Vec<f64> = samples
        .iter()
        .map(|s| s.voltage - polynomial(&ocv_v, s.charge_ah) + s.current * resistance)
        .collect();
    let rms = (residuals.iter().map(|r| r * r).sum::<f64>() / residuals.len() as f64).sqrt();
    let at_peak = samples.iter().find(|s| s.current == peak);
    let sag = at_peak.map_or(0.0, |s| polynomial(&ocv_v, s.charge_ah) - s.voltage);
    let fit = PackFit {
        resistance_ohm: resistance,
        resistance_interval_ohm,
        open_circuit_start_v: ocv_v[0],
        ocv_v,
        sag_at_peak_v: sag,
        peak_current_a: peak,
        residual_rms_v: rms,
        blocks: blocks.held.len(),
    };
    (Some(fit), Vec::new())
}

/// Volts and amps at the moments of the current readings, with the charge drawn before (gaps of the
/// recording draw nothing: their charge is not known, and the polynomial takes the step up).
fn samples(log: &Log) -> Vec<Sample> {
    let voltage = tracks(log, Channel::Voltage);
    let mut samples = Vec::new();
    let mut charge = 0.0;
    for track in tracks(log, Channel::Current) {
        for i in 0..track.time.len() {
            if i > 0 {
                charge += 0.5
                    * (track.value[i] + track.value[i - 1])
                    * (track.time[i] - track.time[i - 1])
                    / 3600.0;
            }
            if let Some(v) = at(&voltage, track.time[i]) {
                samples.push(Sample {
                    time: track.time[i],
                    voltage: v,
                    current: track.value[i],
                    charge_ah: charge,
                });
            }
        }
    }
    samples
}

/// Highest order of the open-circuit voltage in charge used.
const MOST_ORDER: usize = 3;

/// The samples in equal blocks of time, each compressed: of a record all that a fit needs, however
/// many rows a second it has.
struct Blocks {
    held: Vec<Compressed>,
    /// Charge is scaled by it, so that its powers are of one size, A.h.
    scale: f64,
}

impl Blocks {
    fn over(samples: &[Sample], used: f64) -> Self {
        let first = samples.first().map_or(0.0, |s| s.time);
        let length = samples.last().map_or(0.0, |s| s.time) - first;
        let count = ((length / BLOCK_S).floor() as usize).clamp(1, MOST_BLOCKS);
        let of = |t: f64| (((t - first) / length * count as f64) as usize).min(count - 1);
        let scale = if used > 0.0 { used } else { 1.0 };
        let mut held = Vec::with_capacity(count);
        let mut from = 0;
        for block in 0..count {
            let to = from + samples[from..].partition_point(|s| of(s.time) <= block);
            let own = &samples[from..to];
            from = to;
            let column = |of: &dyn Fn(&Sample) -> f64| own.iter().map(of).collect::<Vec<f64>>();
            let mut design = vec![vec![1.0; own.len()]];
            for k in 1..=MOST_ORDER {
                design.push(column(&|s| (s.charge_ah / scale).powi(k as i32)));
            }
            design.push(column(&|s| -s.current));
            held.push(Compressed::of(&design, &column(&|s| s.voltage)));
        }
        // Values that are no numbers leave nothing to fit.
        let held = held.into_iter().collect::<Option<_>>().unwrap_or_default();
        Self { held, scale }
    }

    /// Ones, powers of the charge up to `order`, current: the current comes last, it is what the smooth
    /// part must leave something of.
    fn columns(order: usize) -> Vec<usize> {
        (0..=order).chain([MOST_ORDER + 1]).collect()
    }

    /// Coefficients without the block left out.
    fn solve(&self, order: usize, out: Option<usize>) -> Option<Vec<f64>> {
        let others = self.held.iter().enumerate();
        let others = others.filter(|(n, _)| Some(*n) != out).map(|(_, b)| b);
        Compressed::solve(others, &Self::columns(order))
    }

    /// Open-circuit voltage by powers of the charge, and the resistance; `None` where charge and current
    /// cannot be told apart.
    fn fit(&self, order: usize, out: Option<usize>) -> Option<(Vec<f64>, f64)> {
        let mut found = self.solve(order, out)?;
        let resistance = found.pop()?;
        let powers = found.iter().enumerate();
        let ocv = powers.map(|(k, b)| b / self.scale.powi(k as i32)).collect();
        Some((ocv, resistance))
    }

    /// Order of the open-circuit voltage in charge used: the one that foretells left-out blocks best. A
    /// higher one than the flight bears lets charge pass for current and spoils the resistance.
    fn best_order(&self) -> usize {
        if self.held.len() < 4 {
            return 1;
        }
        let error = |order: usize| -> Option<f64> {
            let blocks = self.held.iter().enumerate();
            let missed = |(out, block): (usize, &Compressed)| {
                let found = self.solve(order, Some(out))?;
                Some(block.misses(&Self::columns(order), &found))
            };
            blocks.map(missed).sum()
        };
        (1..=MOST_ORDER)
            .filter_map(|order| Some((order, error(order)?)))
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .map_or(1, |(order, _)| order)
    }

    /// 95 % interval of the resistance, leaving out one block of time at a time.
    fn interval(&self, order: usize) -> Option<(f64, f64)> {
        let count = self.held.len();
        if count < 4 {
            return None;
        }
        let left = jackknife(count, |out| Some(self.fit(order, out)?.1))?;
        let half = stats::t_quantile(0.975, count as f64 - 1.0) * left.se;
        Some((left.value - half, left.value + half))
    }
}

/// Mean voltage at rest before the first load: current below 2 % of its peak (or throttle below
/// 2 % where there is no current), for at least a second. `None` where the log starts under load.
pub fn rest_voltage(log: &Log) -> Option<f64> {
    let current = tracks(log, Channel::Current);
    let peak = current
        .iter()
        .flat_map(|t| &t.value)
        .fold(0.0_f64, |a, &b| a.max(b));
    let (load, level) = if peak > 0.0 {
        (current, 0.02 * peak)
    } else {
        (tracks(log, Channel::Throttle), 0.02)
    };
    let first = load.first()?;
    let until = load
        .iter()
        .flat_map(|t| t.time.iter().zip(&t.value))
        .find(|(_, v)| **v > level)
        .map_or(first.end(), |(t, _)| *t);
    let voltage = tracks(log, Channel::Voltage);
    let rest: Vec<f64> = voltage
        .iter()
        .flat_map(|t| t.time.iter().zip(&t.value))
        .filter(|(t, _)| **t >= first.start() && **t < until)
        .map(|(_, v)| *v)
        .collect();
    (until - first.start() >= 1.0 && !rest.is_empty()).then(|| stats::mean(&rest))
}
