//! Bringing readings to a reference voltage and density (design 4.2). All steps are at equal
//! terminal voltage; the pack's own sag is added where two systems are compared on one pack.
//!
//! Model: a motor of winding resistance R and no-load current I0 turns a fan whose torque goes with
//! rho·w². With a = R·(I − I0)/(V − R·I) it follows that d ln w/d ln V = V/(V − R·I)/(1 + 2a) and
//! d ln w/d ln rho = −a/(1 + 2a). A typical set-up loses 3 % of the voltage in the winding and 3 %
//! of the current to no load: T ~ V^1.94·rho^0.94, I ~ V^1.88·rho^0.91.

use crate::bench::model::{BenchPoint, BenchRun, Check};
use crate::bench::supply::SUPPLY_LIMIT;
use crate::bench::uncertainty::{Source, StepOf, Uncertain};
use crate::ingest::Channel;
use crate::physics::power_curve::{CURRENT_EXPONENT_SLOPE, Exponent};
use crate::season::Power;
use crate::stats::gum::rectangular;
use crate::stats::{normal_quantile, t_quantile};

/// Voltages at equal throttle that differ by less are no sweep.
pub const SWEEP: f64 = 1.05;
/// Exponents are fitted at and above this throttle.
const FIT_FROM: f64 = 0.75;
/// Throttles closer than this are equal.
pub const EQUAL_THROTTLE: f64 = 0.01;

/// Where an exponent comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    Default,
    MotorConstants,
    Fitted,
}

/// One exponent with its origin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    pub exponent: Exponent,
    pub origin: Origin,
    pub degrees_of_freedom: f64,
    /// Readings it was fitted to.
    pub points: usize,
}

/// The four exponents of a power system, at full throttle.
#[derive(Debug, Clone, PartialEq)]
pub struct Exponents {
    pub thrust_by_voltage: Step,
    pub current_by_voltage: Step,
    pub thrust_by_density: Step,
    pub current_by_density: Step,
}

const fn default(value: f64, spread: f64) -> Step {
    Step {
        exponent: Exponent { value, spread },
        origin: Origin::Default,
        degrees_of_freedom: f64::INFINITY,
        points: 0,
    }
}

/// Defaults; the spread reaches from the ideal motor (2, 2, 1, 1) to a soft one with 10 % of the
/// voltage lost in the winding.
pub const DEFAULTS: Exponents = Exponents {
    thrust_by_voltage: default(1.94, 0.08),
    current_by_voltage: default(1.88, 0.10),
    thrust_by_density: default(0.94, 0.05),
    current_by_density: default(0.91, 0.05),
};

/// The exponents of a system: fitted where its runs sweep the voltage at equal throttle and the fit
/// is closer than the value known beforehand, else from
/// the motor's resistance, else the defaults.
pub fn exponents(system: &Power, runs: &[&BenchRun], full_throttle: f64) -> Exponents {
    let mut found = from_motor(system, runs, full_throttle).unwrap_or(DEFAULTS);
    for (channel, slope, density, step) in [
        (
            Channel::Thrust,
            0.0,
            found.thrust_by_density,
            &mut found.thrust_by_voltage,
        ),
        (
            Channel::Current,
            CURRENT_EXPONENT_SLOPE,
            found.current_by_density,
            &mut found.current_by_voltage,
        ),
    ] {
        // A short sweep, such as a pack that drains, tells less than what is known beforehand.
        *step = fit(runs, channel, slope, density.exponent.value)
            .filter(|fitted| fitted.exponent.spread < step.exponent.spread)
            .unwrap_or(*step);
    }
    found
}

/// Exponents from the winding's resistance and one full-throttle reading.
fn from_motor(system: &Power, runs: &[&BenchRun], full_throttle: f64) -> Option<Exponents> {
    let resistance = system.motor_resistance_ohm?;
    let (v, i) = runs
        .iter()
        .flat_map(|run| &run.points)
        .filter(|p| p.throttle.is_some_and(|u| u >= full_throttle))
        .find_map(|p| {
            Some((
                p.exact(Channel::Voltage)?.value,
                p.exact(Channel::Current)?.value,
            ))
        })?;
    let no_load = system.motor_no_load_current_a.unwrap_or(0.03 * i);
    let solve = |r: f64| {
        let back = v - r * i;
        let (a, share) = (r * (i - no_load) / back, (i - no_load) / i);
        let by_voltage = 2.0 * v / back / (1.0 + 2.0 * a);
        let by_density = 1.0 / (1.0 + 2.0 * a);
        (back > 0.0 && share > 0.0).then_some([
            by_voltage,
            share * by_voltage,
            by_density,
            share * by_density,
        ])
    };
    // The winding's resistance leaves out leads and controller, which may have as much again.
    let (near, far) = (solve(resistance)?, solve(2.0 * resistance)?);
    let step = |k: usize| Step {
        exponent: Exponent {
            value: near[k],
            spread: rectangular((far[k] - near[k]).abs()),
        },
        origin: Origin::MotorConstants,
        degrees_of_freedom: f64::INFINITY,
        points: 1,
    };
    Some(Exponents {
        thrust_by_voltage: step(0),
        current_by_voltage: step(1),
        thrust_by_density: step(2),
        current_by_density: step(3),
    })
}

/// One reading of the log-log regression.
struct Sample {
    run: usize,
    throttle: f64,
    /// ln V with its relative uncertainty: the reading's own part, and that of the run's zero.
    x: f64,
    ux: (f64, f64),
    /// ln of the quantity at unit density and full-throttle slope, with its uncertainty.
    y: f64,
    uy: (f64, f64),
}

/// Regression of ln(quantity) on ln V with one intercept a throttle. The scale errors of the
/// instruments drop out. Spread: the larger of the regression's standard error and what resolution
/// and zero of the readings bring.
fn fit(runs: &[&BenchRun], channel: Channel, slope: f64, by_density: f64) -> Option<Step> {
    let mut samples: Vec<Sample> = runs
        .iter()
        .enumerate()
        .flat_map(|(k, run)| run.points.iter().map(move |p| (k, run, p)))
        // A supply at its current limit pulses: mean volts and mean amps do not belong together.
        .filter(|(_, run, p)| {
            let limited = |c: &Check| c.code == SUPPLY_LIMIT && c.line == p.line;
            !run.checks.iter().any(limited)
        })
        .filter_map(|(k, run, p)| sample(k, p, run.density.value, channel, slope, by_density))
        .filter(|s| s.throttle >= FIT_FROM)
        .collect();
    samples.sort_by(|a, b| a.throttle.total_cmp(&b.throttle));
    let groups: Vec<&[Sample]> = samples
        .chunk_by(|a, b| b.throttle - a.throttle < EQUAL_THROTTLE)
        .filter(|g| {
            let (low, high) = g
                .iter()
                .fold((f64::MAX, f64::MIN), |(l, h), s| (l.min(s.x), h.max(s.x)));
            high - low >= SWEEP.ln()
        })
        .collect();
    let mean = |g: &[Sample], f: fn(&Sample) -> f64| g.iter().map(f).sum::<f64>() / g.len() as f64;
    let (mut sxx, mut sxy) = (0.0, 0.0);
    for g in &groups {
        let (mx, my) = (mean(g, |s| s.x), mean(g, |s| s.y));
        for s in *g {
            sxx += (s.x - mx).powi(2);
            sxy += (s.x - mx) * (s.y - my);
        }
    }
    let value = sxy / sxx;
    let points: usize = groups.iter().map(|g| g.len()).sum();
    if !value.is_finite() || points < 2 {
        return None;
    }
    let (mut rss, mut read) = (0.0, 0.0);
    let mut zeros = vec![(0.0, 0.0); runs.len()];
    for g in &groups {
        let (mx, my) = (mean(g, |s| s.x), mean(g, |s| s.y));
        for s in *g {
            let dx = s.x - mx;
            rss += (s.y - my - value * dx).powi(2);
            let weight = dx / sxx;
            read += weight.powi(2) * (s.uy.0.powi(2) + (value * s.ux.0).powi(2));
            zeros[s.run].0 += weight * value * s.ux.1;
            zeros[s.run].1 += weight * s.uy.1;
        }
    }
    let free = (points - groups.len()).saturating_sub(1);
    let from_residuals = if free > 0 {
        (rss / free as f64 / sxx).sqrt()
    } else {
        0.0
    };
    let zero: f64 = zeros.iter().map(|z| z.0 * z.0 + z.1 * z.1).sum();
    let from_readings = (read + zero).sqrt();
    Some(Step {
        exponent: Exponent {
            value,
            spread: from_residuals.max(from_readings),
        },
        origin: Origin::Fitted,
        degrees_of_freedom: if from_residuals > from_readings {
            free as f64
        } else {
            f64::INFINITY
        },
        points,
    })
}

fn sample(
    run: usize,
    point: &BenchPoint,
    density: f64,
    channel: Channel,
    slope: f64,
    by_density: f64,
) -> Option<Sample> {
    let throttle = point.throttle?;
    let (v, y) = (point.exact(Channel::Voltage)?, point.exact(channel)?);
    if v.value <= 0.0 || y.value <= 0.0 {
        return None;
    }
    let x = v.value.ln();
    Some(Sample {
        run,
        throttle,
        x,
        ux: (v.u_independent / v.value, v.u_zero / v.value),
        y: y.value.ln() - by_density * density.ln() + slope * (1.0 - throttle) * x,
        uy: (y.u_independent / y.value, y.u_zero / y.value),
    })
}

impl Step {
    /// The exponent with a spread that, doubled, covers as a t interval would.
    pub fn for_curve(&self) -> Exponent {
        let factor = t_quantile(0.975, self.degrees_of_freedom) / normal_quantile(0.975);
        Exponent {
            value: self.exponent.value,
            spread: self.exponent.spread * factor,
        }
    }

    /// The exponent as an uncertain quantity. What two systems on defaults have in common (both are
    /// softer than typical, say) is unknown: half of the variance is shared, half is their own.
    pub fn uncertain(&self, of: StepOf, power: &str) -> Uncertain {
        let own = Source::Exponent {
            of,
            power: Some(power.to_owned()),
        };
        let exact = Uncertain::exact(self.exponent.value);
        match self.origin {
            Origin::Default => {
                let half = self.exponent.spread * 0.5f64.sqrt();
                exact.with(own, half, f64::INFINITY).with(
                    Source::Exponent { of, power: None },
                    half,
                    f64::INFINITY,
                )
            }
            _ => exact.with(own, self.exponent.spread, self.degrees_of_freedom),
        }
    }

    /// For the method line of a gain.
    pub fn words(&self) -> String {
        let number = format!("{:.2} ± {:.2}", self.exponent.value, self.exponent.spread);
        match self.origin {
            Origin::Default => format!("{number} (default)"),
            Origin::MotorConstants => format!("{number} (from the motor's resistance)"),
            Origin::Fitted => format!("{number} (fitted to {} readings)", self.points),
        }
    }
}

/// `quantity`, read at `voltage` and `density`, at the reference conditions.
pub fn step(
    quantity: &Uncertain,
    from: (&Uncertain, &Uncertain),
    to: (f64, f64),
    by_voltage: &Uncertain,
    by_density: &Uncertain,
) -> Option<Uncertain> {
    Uncertain::apply(&[quantity, from.0, from.1, by_voltage, by_density], |x| {
        x[0] * (to.0 / x[1]).powf(x[3]) * (to.1 / x[2]).powf(x[4])
    })
}
