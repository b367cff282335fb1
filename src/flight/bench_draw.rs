//! What the bench says that a flight drew, gathered by throttle: all that an estimate of its power
//! needs of its log. Estimates are linear in the unloading, and the unloading depends on throttle
//! (and at full throttle on airspeed) alone, so that a flight is gone through once, however many
//! unloadings it is asked about.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::flight::phases::Phases;
use crate::flight::track::{Track, at, tracks, tracks_of};
use crate::flight::unloading::bench_current;
use crate::ingest::{Channel, Log};
use crate::physics::power_curve::PowerCurve;

/// Width of a class of throttle: a step of the stick at 1,000 steps. Within it the bench current
/// changes by less than half a percent, and the unloading by less than a thousandth: what a class
/// stands for differs from its rows by their product.
const THROTTLE_CLASS: f64 = 0.001;
/// Width of a class of airspeed at full throttle, m/s. The unloading is linear there: only the peak
/// power knows of the classes.
const SPEED_CLASS_M_S: f64 = 0.5;
/// Throttle below which the motor is taken to stand, common practice, no source.
const MOTOR_OFF: f64 = 0.02;

/// A flight beside the bench curve of its power system.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BenchDraw {
    /// The log's name.
    pub file: String,
    pub has_throttle: bool,
    /// Without a voltage of its own the currents are those at one that is assumed later.
    pub has_voltage: bool,
    pub density_kg_m3: f64,
    pub classes: Vec<Class>,
    /// Mean of the bench current's relative standard uncertainty over the rows.
    pub relative_u: f64,
    /// Time counted, s, and how much of it in flight (the whole where no phase is told).
    pub counted_s: f64,
    pub flown_s: f64,
    /// Time below the lowest bench throttle with the motor running, and above the highest.
    pub below_bench_s: f64,
    pub above_bench_s: f64,
}

/// Rows of like throttle (and airspeed, at full throttle). Sums as if nothing were unloaded.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Class {
    /// Mean over the rows.
    pub throttle: f64,
    /// At full throttle, where it is known.
    pub airspeed_m_s: Option<f64>,
    pub flying: bool,
    /// Below the bench's lowest point: the current is that of the lowest point, an upper bound.
    pub below_bench: bool,
    pub rows: f64,
    pub time_s: f64,
    pub flown_s: f64,
    /// C, J and J in flight; 0 without a voltage.
    pub charge_c: f64,
    pub energy_j: f64,
    pub flown_j: f64,
    pub peak_w: f64,
}

/// What rows must share to be of one class: flying, below the bench, throttle, airspeed.
type Key = (bool, bool, i64, Option<i64>);

#[derive(Default)]
struct Sums {
    rows: f64,
    throttle: Spread,
    airspeed: Spread,
    time_s: f64,
    flown_s: f64,
    charge_c: f64,
    energy_j: f64,
    flown_j: f64,
    peak_w: f64,
}

/// A mean that lies within what it is of, rounding or not.
#[derive(Clone, Copy)]
struct Spread {
    sum: f64,
    low: f64,
    high: f64,
}

impl Default for Spread {
    fn default() -> Self {
        Self {
            sum: 0.0,
            low: f64::INFINITY,
            high: f64::NEG_INFINITY,
        }
    }
}

impl Spread {
    fn add(&mut self, x: f64) {
        self.sum += x;
        (self.low, self.high) = (self.low.min(x), self.high.max(x));
    }

    fn mean(&self, rows: f64) -> f64 {
        (self.sum / rows).max(self.low).min(self.high)
    }
}

/// What one row draws by the bench.
struct Row {
    key: Key,
    airspeed: Option<f64>,
    current_a: f64,
    voltage_v: f64,
}

impl BenchDraw {
    /// Goes through a log, whose airspeed is that through the air, with the curve of its power system.
    pub fn of(
        log: &Log,
        phases: Option<&Phases>,
        density_kg_m3: f64,
        curve: &PowerCurve,
        full_throttle: f64,
    ) -> Self {
        let voltage = tracks(log, Channel::Voltage);
        let mut out = Self {
            file: log.file.clone(),
            has_throttle: log.get(Channel::Throttle).is_some(),
            has_voltage: !voltage.is_empty(),
            density_kg_m3,
            classes: Vec::new(),
            relative_u: 0.0,
            counted_s: 0.0,
            flown_s: 0.0,
            below_bench_s: 0.0,
            above_bench_s: 0.0,
        };
        let Some(throttle) = log.get(Channel::Throttle) else {
            return out;
        };
        let (Some(&lowest), Some(&highest)) = (curve.throttle.first(), curve.throttle.last())
        else {
            return out;
        };
        let airspeed = tracks(log, Channel::Airspeed);
        // How a current goes with the voltage is asked again with the one that is assumed.
        let stand_in = (!out.has_voltage).then_some(curve.reference_voltage_v);
        let mut rows: Vec<Option<Row>> = Vec::with_capacity(log.len());
        let (mut below, mut above) = (Vec::new(), Vec::new());
        let (mut relative_u, mut compared) = (0.0, 0.0);
        for (&t, &u) in log.time.iter().zip(throttle) {
            let v = stand_in
                .or_else(|| at(&voltage, t))
                .filter(|_| u.is_finite());
            let Some(v) = v else {
                rows.push(None);
                below.push(f64::NAN);
                above.push(f64::NAN);
                continue;
            };
            below.push(f64::from(u8::from(u < lowest && u > MOTOR_OFF)));
            above.push(f64::from(u8::from(u > highest + 0.005)));
            let off = u <= MOTOR_OFF && u < lowest;
            let beside = bench_current(curve, u, v, density_kg_m3).filter(|_| !off);
            if let Some((current, current_u)) = beside {
                relative_u += current_u / current;
                compared += 1.0;
            }
            let at_lowest = || {
                let bound = bench_current(curve, lowest, v, density_kg_m3);
                bound.filter(|_| u < lowest).map(|(current, _)| current)
            };
            let current = if off { Some(0.0) } else { beside.map(|b| b.0) };
            // Standing on the ground the fan is as loaded as on the bench.
            let flying = phases.is_none_or(|p| p.is_airborne(t));
            let airspeed = at(&airspeed, t).filter(|_| flying && u >= full_throttle);
            let key = (
                flying,
                current.is_none(),
                class(u, THROTTLE_CLASS),
                airspeed.map(|v| class(v, SPEED_CLASS_M_S)),
            );
            rows.push(current.or_else(at_lowest).map(|current_a| Row {
                key,
                airspeed,
                current_a,
                voltage_v: v,
            }));
        }
        let (time, flown) = weights(log, &rows, phases);
        out.counted_s = time.iter().sum();
        out.flown_s = flown.iter().sum();
        let flown = if out.flown_s > 0.0 { &flown } else { &time };
        out.flown_s = flown.iter().sum();
        out.relative_u = relative_u / f64::max(compared, 1.0);
        let total = |series: &[f64]| -> f64 {
            let whole = |t: &Track| t.integral(t.start(), t.end()).0;
            tracks_of(log, series).iter().map(whole).sum()
        };
        (out.below_bench_s, out.above_bench_s) = (total(&below), total(&above));
        let mut classes: BTreeMap<Key, Sums> = BTreeMap::new();
        for (i, row) in rows.iter().enumerate() {
            let Some(row) = row else { continue };
            let sums = classes.entry(row.key).or_default();
            sums.rows += 1.0;
            sums.throttle.add(throttle[i]);
            if let Some(v) = row.airspeed {
                sums.airspeed.add(v);
            }
            sums.time_s += time[i];
            sums.flown_s += flown[i];
            if out.has_voltage {
                let power = row.current_a * row.voltage_v;
                sums.charge_c += time[i] * row.current_a;
                sums.energy_j += time[i] * power;
                sums.flown_j += flown[i] * power;
                sums.peak_w = sums.peak_w.max(power);
            }
        }
        out.classes = classes.into_iter().map(Class::of).collect();
        out
    }
}

impl BenchDraw {
    /// The same with a voltage that its log does not tell.
    #[must_use]
    pub fn at_voltage(&self, voltage_v: f64, curve: &PowerCurve) -> Self {
        let mut out = self.clone();
        let (mut relative_u, mut compared) = (0.0, 0.0);
        for class in &mut out.classes {
            if let Some(u) = class.set_voltage(voltage_v, self.density_kg_m3, curve) {
                relative_u += class.rows * u;
                compared += class.rows;
            }
        }
        out.relative_u = relative_u / f64::max(compared, 1.0);
        out
    }
}

impl Class {
    fn of(((flying, below_bench, _, speed), sums): (Key, Sums)) -> Self {
        Self {
            throttle: sums.throttle.mean(sums.rows),
            airspeed_m_s: speed.map(|_| sums.airspeed.mean(sums.rows)),
            flying,
            below_bench,
            rows: sums.rows,
            time_s: sums.time_s,
            flown_s: sums.flown_s,
            charge_c: sums.charge_c,
            energy_j: sums.energy_j,
            flown_j: sums.flown_j,
            peak_w: sums.peak_w,
        }
    }

    /// Sets the sums to those at a voltage that its log does not tell; the relative standard uncertainty
    /// of the bench current, where it is compared with the bench.
    fn set_voltage(
        &mut self,
        voltage_v: f64,
        density_kg_m3: f64,
        curve: &PowerCurve,
    ) -> Option<f64> {
        let lowest = *curve.throttle.first()?;
        let u = if self.below_bench {
            lowest
        } else {
            self.throttle
        };
        let off = u <= MOTOR_OFF && u < lowest;
        let beside = bench_current(curve, u, voltage_v, density_kg_m3).filter(|_| !off);
        let current = beside.map_or(0.0, |b| b.0);
        self.charge_c = self.time_s * current;
        self.energy_j = self.charge_c * voltage_v;
        self.flown_j = self.flown_s * current * voltage_v;
        self.peak_w = current * voltage_v;
        let (current, u) = beside.filter(|_| !self.below_bench)?;
        Some(u / current)
    }
}

fn class(x: f64, width: f64) -> i64 {
    (x / width).round() as i64
}

/// What each row counts for in an integral by the trapezoid rule over the rows that are there, s: of the
/// record, and of its flight.
fn weights(log: &Log, rows: &[Option<Row>], phases: Option<&Phases>) -> (Vec<f64>, Vec<f64>) {
    let number = |(i, row): (usize, &Option<Row>)| row.as_ref().map_or(f64::NAN, |_| i as f64);
    let numbers: Vec<f64> = rows.iter().enumerate().map(number).collect();
    let airborne = phases.map_or(&[][..], |p| &p.airborne);
    let (mut time, mut flown) = (vec![0.0; rows.len()], vec![0.0; rows.len()]);
    for track in tracks_of(log, &numbers) {
        for (t, row) in track.time.windows(2).zip(track.value.windows(2)) {
            let (a, b) = (row[0] as usize, row[1] as usize);
            let step = t[1] - t[0];
            time[a] += 0.5 * step;
            time[b] += 0.5 * step;
            for (from, to) in airborne {
                let (from, to) = (from.max(t[0]), to.min(t[1]));
                if to > from {
                    // A line over a part of the step: its value in the middle, times the part.
                    let share = (0.5 * (from + to) - t[0]) / step;
                    flown[a] += (to - from) * (1.0 - share);
                    flown[b] += (to - from) * share;
                }
            }
        }
    }
    (time, flown)
}
