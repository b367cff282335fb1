//! In-flight power without a current sensor: bench current at (throttle, voltage, density) times the
//! unloading of the same power system. Its error is found by leaving each sensored flight out.

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::flight::bench_draw::BenchDraw;
use crate::flight::energy::Bounded;
use crate::flight::holds::Hold;
use crate::flight::unloading::{FlightHolds, Gathered, Point, Unloading, beside_bench, impossible};
use crate::physics::power_curve::PowerCurve;
use crate::season::Finding;
use crate::stats;

/// kappa by throttle, straight lines between the bins' means and level beyond them; at full
/// throttle corrected for airspeed where the slope is known.
#[derive(Debug, Clone, PartialEq)]
pub struct Kappa {
    knots: Vec<(f64, f64)>,
    /// Relative standard uncertainty, from the bins' intervals; `None` where a bin has none.
    pub relative_u: Option<f64>,
    speed: Option<(f64, f64, f64)>,
    full_throttle: f64,
}

impl Kappa {
    pub fn of(unloading: &Unloading, full_throttle: f64) -> Option<Self> {
        let knots: Vec<(f64, f64)> = unloading
            .bins
            .iter()
            .map(|b| (b.throttle, b.kappa))
            .collect();
        let us: Option<Vec<f64>> = unloading
            .bins
            .iter()
            .map(|b| {
                b.kappa_interval
                    .map(|(low, high)| (high - low) / 4.0 / b.kappa)
            })
            .collect();
        (!knots.is_empty()).then(|| Self {
            knots,
            relative_u: us.map(|u| stats::mean(&u)),
            speed: unloading
                .speed
                .as_ref()
                .map(|s| (s.slope_s_m, s.centre.0, s.centre.1)),
            full_throttle,
        })
    }

    pub fn at(&self, throttle: f64, airspeed_m_s: Option<f64>) -> f64 {
        if let (Some((slope, v0, k0)), Some(v)) = (self.speed, airspeed_m_s)
            && throttle >= self.full_throttle
        {
            return k0 + slope * (v - v0);
        }
        let after = self.knots.partition_point(|(u, _)| *u < throttle);
        match (
            after.checked_sub(1).and_then(|i| self.knots.get(i)),
            self.knots.get(after),
        ) {
            (Some((u0, k0)), Some((u1, k1))) => k0 + (k1 - k0) * (throttle - u0) / (u1 - u0),
            (Some((_, k)), None) | (None, Some((_, k))) => *k,
            (None, None) => 1.0,
        }
    }
}

/// How far estimates of this system are off, each flight estimated from the others.
#[derive(Debug, Clone, PartialEq)]
pub struct EstimateError {
    /// Mean of ln(estimated energy / measured energy).
    pub bias_log: f64,
    pub sd_log: f64,
    /// Relative standard uncertainty of the sensors that measured: what they are all wrong by, an
    /// estimate learned from them is wrong by too.
    pub measured_u: f64,
    pub by_flight: Vec<FlightError>,
}

/// One flight estimated from the others.
#[derive(Debug, Clone, PartialEq)]
pub struct FlightError {
    pub flight: String,
    /// Estimated / measured - 1.
    pub relative: f64,
    /// The same of the ends of the interval that the others would have given: 95 and 90 %. `None`
    /// where the others are fewer than three.
    pub interval: Option<(f64, f64)>,
    pub interval_90: Option<(f64, f64)>,
}

impl EstimateError {
    /// Mean error of an estimate, as a fraction.
    pub fn bias(&self) -> f64 {
        self.bias_log.exp() - 1.0
    }

    /// Half-width (log) of the 95 % prediction interval for one more flight.
    fn half_log(&self) -> f64 {
        half_log(self.by_flight.len(), self.sd_log, 0.95).hypot(2.0 * self.measured_u)
    }
}

/// Half-width of the prediction interval for one more of `n` values of standard deviation `sd`.
fn half_log(n: usize, sd: f64, level: f64) -> f64 {
    let n = n as f64;
    stats::t_quantile(0.5 + 0.5 * level, n - 1.0) * sd * (1.0 + 1.0 / n).sqrt()
}

/// Estimated draw of one flight.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EstimatedDraw {
    pub charge_mah: Bounded,
    pub energy_wh: Bounded,
    pub mean_power_w: Bounded,
    pub peak_power_w: f64,
    pub counted_s: f64,
    /// Time below the lowest bench throttle, where the current is only known to lie between zero
    /// and the lowest bench current; half of it is counted, and half charged to the interval.
    pub below_bench_s: f64,
    /// Time above the highest bench throttle: left out.
    pub above_bench_s: f64,
    pub voltage_assumed: bool,
}

/// Relative standard uncertainty of a voltage that was assumed: half of the span from a full to a
/// nearly empty pack, rectangular (common practice, no source).
const ASSUMED_VOLTAGE_U: f64 = 0.05;

/// Estimates one flight. `assumed_voltage_v` stands in where no voltage was logged. `error` is
/// [`leave_one_flight_out`]'s where there is one: it corrects the bias and gives the interval.
pub fn estimate(
    drawn: &BenchDraw,
    curve: &PowerCurve,
    kappa: &Kappa,
    assumed_voltage_v: Option<f64>,
    error: Option<&EstimateError>,
) -> (Option<EstimatedDraw>, Vec<Finding>) {
    let refuse = |what: &str, to_do: &str| {
        (
            None,
            vec![Finding::warning("power-not-estimated", what, to_do).in_file(&drawn.file)],
        )
    };
    if !drawn.has_throttle {
        return refuse(
            "without throttle and without current the power of this flight cannot be estimated",
            "Log the throttle.",
        );
    }
    let assumed = match (drawn.has_voltage, assumed_voltage_v) {
        (true, _) => None,
        (false, Some(voltage)) => Some(drawn.at_voltage(voltage, curve)),
        (false, None) => {
            return refuse(
                "without a voltage the power of this flight cannot be estimated",
                "Log the pack's voltage.",
            );
        }
    };
    let voltage_assumed = assumed.is_some();
    let drawn = assumed.as_ref().unwrap_or(drawn);
    let (Some(&lowest), Some(&highest)) = (curve.throttle.first(), curve.throttle.last()) else {
        return refuse(
            "the bench curve is empty",
            "Add a bench run of this power system.",
        );
    };
    let sums = sums(drawn, kappa);
    let [charge, energy, flown] = sums.counted;
    let [half, half_power, half_flown] = sums.bound;
    if drawn.counted_s <= 0.0 || charge <= 0.0 {
        return refuse(
            "the throttle of this flight never comes into the range of the bench run",
            "Add bench points at the throttle you fly at.",
        );
    }
    let mut findings = Vec::new();
    let (below_bench_s, above_bench_s) = (drawn.below_bench_s, drawn.above_bench_s);
    if below_bench_s > 0.0 {
        findings.push(
            Finding::note(
                "throttle-below-bench",
                format!(
                    "{below_bench_s:.0} s were flown below the lowest bench throttle ({:.0} %): the \
                     current there is only known to lie between zero and the lowest bench current, \
                     which widens the charge by {:.1} %",
                    100.0 * lowest,
                    100.0 * half / charge
                ),
                "Add bench points at low throttle.",
            )
            .in_file(&drawn.file),
        );
    }
    if above_bench_s > 0.0 {
        findings.push(
            Finding::warning(
                "throttle-above-bench",
                format!(
                    "{above_bench_s:.0} s were flown above the highest bench throttle ({:.0} %) and are left out",
                    100.0 * highest
                ),
                "Add a bench point at full throttle.",
            )
            .in_file(&drawn.file),
        );
    }
    // Undeclared or single-flight unloading: 5 %, the range of kappa seen in trial.
    let voltage_u = if voltage_assumed {
        ASSUMED_VOLTAGE_U
    } else {
        0.0
    };
    let u = drawn
        .relative_u
        .hypot(kappa.relative_u.unwrap_or(0.05))
        .hypot(voltage_u);
    let (correction, half_log) = error.map_or((1.0, 2.0 * u), |e| {
        ((-e.bias_log).exp(), e.half_log().hypot(2.0 * voltage_u))
    });
    let bounded = |sum: f64, half: f64, factor: f64| {
        let value = sum * correction;
        Bounded {
            value: value * factor,
            low: (value * (-half_log).exp() - half).max(0.0) * factor,
            // What was flown above the bench drew more than anything counted: no upper end.
            high: (above_bench_s <= 0.0).then_some((value * half_log.exp() + half) * factor),
        }
    };
    let estimated = EstimatedDraw {
        charge_mah: bounded(charge, half, 1.0 / 3.6),
        energy_wh: bounded(energy, half_power, 1.0 / 3600.0),
        mean_power_w: bounded(flown, half_flown, 1.0 / drawn.flown_s),
        peak_power_w: correction * sums.peak_w,
        counted_s: drawn.counted_s,
        below_bench_s,
        above_bench_s,
        voltage_assumed,
    };
    (Some(estimated), findings)
}

/// What a flight drew by the bench, unloaded.
#[derive(Default)]
struct Unloaded {
    /// Charge, C; energy, J; energy in flight, J.
    counted: [f64; 3],
    /// Half of what it may at most have drawn below the bench, which is counted, and as much may be wrong.
    bound: [f64; 3],
    peak_w: f64,
}

fn sums(drawn: &BenchDraw, kappa: &Kappa) -> Unloaded {
    let mut out = Unloaded::default();
    for class in &drawn.classes {
        let kappa = if class.flying {
            kappa.at(class.throttle, class.airspeed_m_s)
        } else {
            1.0
        };
        let share = if class.below_bench {
            0.5 * kappa
        } else {
            kappa
        };
        let sums = [class.charge_c, class.energy_j, class.flown_j];
        for ((counted, bound), sum) in out.counted.iter_mut().zip(&mut out.bound).zip(sums) {
            *counted += share * sum;
            if class.below_bench {
                *bound += share * sum;
            }
        }
        out.peak_w = out.peak_w.max(share * class.peak_w);
    }
    out
}

/// A flight with a sensor, for finding out how good estimates would have been.
#[derive(Clone, Copy)]
pub struct SensoredFlight<'a> {
    pub flight: &'a str,
    pub drawn: &'a BenchDraw,
    pub holds: &'a [Hold],
    pub energy_wh: f64,
}

/// Up to so many flights the others' errors are found anew without each flight. Beyond, one flight
/// moves the unloading of the others by less than a thirtieth of their scatter, and the work would grow
/// with the square of the flights.
const FOUND_ANEW: usize = 30;

/// Flights from which an error and its scatter can be told, at least.
const FEWEST: usize = 3;

/// Estimates each flight from the unloading of the others. `measured_u` is the relative standard
/// uncertainty that their measured energies share. `None` below three flights.
pub fn leave_one_flight_out(
    flights: &[SensoredFlight<'_>],
    curve: &PowerCurve,
    full_throttle: f64,
    measured_u: f64,
) -> (Option<EstimateError>, Vec<Finding>) {
    let too_few = |n: usize| {
        Finding::note(
            "estimate-error-unknown",
            format!(
                "the error of estimated power of `{}` cannot be stated from {n} flights with a current sensor",
                curve.power
            ),
            "Three flights with a sensor are the least.",
        )
    };
    let left_out = LeftOut::of(flights, curve, full_throttle);
    let all: Vec<usize> = (0..flights.len()).collect();
    let logs = left_out.errors(&all);
    if logs.len() < FEWEST {
        return (None, vec![too_few(logs.len())]);
    }
    let found: Vec<f64> = logs.iter().map(|(_, log)| *log).collect();
    let error = EstimateError {
        bias_log: stats::mean(&found),
        sd_log: stats::sd(&found),
        measured_u,
        by_flight: logs
            .iter()
            .map(|(n, log)| {
                // The interval that this flight would have had knows nothing of it: the others'
                // errors are found among the others alone.
                let others: Vec<f64> = if flights.len() <= FOUND_ANEW {
                    let others: Vec<usize> = (0..flights.len()).filter(|m| m != n).collect();
                    let errors = left_out.errors(&others);
                    errors.into_iter().map(|(_, log)| log).collect()
                } else {
                    let errors = logs.iter().filter(|(m, _)| m != n);
                    errors.map(|(_, log)| *log).collect()
                };
                flight_error(flights[*n].flight, *log, &others)
            })
            .collect(),
    };
    (Some(error), Vec::new())
}

/// Flights beside the bench, each to be estimated from others.
struct LeftOut<'a> {
    flights: &'a [SensoredFlight<'a>],
    curve: &'a PowerCurve,
    full_throttle: f64,
    points: Vec<Point>,
    gathered: Gathered,
}

impl<'a> LeftOut<'a> {
    fn of(flights: &'a [SensoredFlight<'a>], curve: &'a PowerCurve, full_throttle: f64) -> Self {
        let holds = flights.iter().map(|f| FlightHolds {
            flight: f.flight,
            holds: f.holds,
            density_kg_m3: f.drawn.density_kg_m3,
            level_speed_m_s: None,
        });
        let (points, _) = beside_bench(&holds.collect::<Vec<_>>(), curve);
        Self {
            gathered: Gathered::of(&points, full_throttle),
            flights,
            curve,
            full_throttle,
            points,
        }
    }

    /// ln(estimated / measured energy) of each of some flights by the unloading of the rest of them, with
    /// its place.
    fn errors(&self, of: &[usize]) -> Vec<(usize, f64)> {
        let error = |n: usize| -> Option<f64> {
            let with = |flight: usize| flight != n && of.binary_search(&flight).is_ok();
            // One flight of many does not make the rest impossible.
            if self.flights.len() <= FOUND_ANEW {
                let others = self.points.iter().filter(|p| with(p.flight));
                if impossible(&others.collect::<Vec<_>>(), &self.curve.power).is_some() {
                    return None;
                }
            }
            let found = self.gathered.over(&with)?;
            let kappa = Kappa {
                knots: found.knots,
                relative_u: None,
                speed: found.speed,
                full_throttle: self.full_throttle,
            };
            let left_out = &self.flights[n];
            let estimated = estimate(left_out.drawn, self.curve, &kappa, None, None).0;
            let log = (estimated?.energy_wh.value / left_out.energy_wh).ln();
            log.is_finite().then_some(log)
        };
        of.par_iter()
            .filter_map(|&n| Some((n, error(n)?)))
            .collect()
    }
}

/// Error of a flight and the intervals that the others' errors would have given it.
fn flight_error(flight: &str, log: f64, others: &[f64]) -> FlightError {
    let interval = |level: f64| {
        (others.len() >= FEWEST).then(|| {
            let middle = log - stats::mean(others);
            let half = half_log(others.len(), stats::sd(others), level);
            ((middle - half).exp_m1(), (middle + half).exp_m1())
        })
    };
    FlightError {
        flight: flight.to_owned(),
        relative: log.exp_m1(),
        interval: interval(0.95),
        interval_90: interval(0.90),
    }
}
