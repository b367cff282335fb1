//! What a power system draws at a throttle, a terminal voltage and an air density: the bench curve
//! as a pure function.

use crate::stats::monotone::monotone_at;

/// An exponent with its standard uncertainty, as in I ~ V^n.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exponent {
    pub value: f64,
    /// Standard uncertainty of `value`.
    pub spread: f64,
}

/// How the voltage exponent of the current falls below full throttle, per unit of throttle.
///
/// The no-load current does not shrink with throttle as the load current does: a set-up with
/// I ~ V^1.88 at full throttle has V^1.78 at half throttle (motor with resistance and no-load
/// current behind a chopping controller, solved numerically).
pub const CURRENT_EXPONENT_SLOPE: f64 = 0.20;

/// Extra spread of an exponent below the throttle it was found at, per unit of throttle.
const EXPONENT_SPREAD_SLOPE: f64 = 0.10;

impl Exponent {
    /// The exponent of the current at `throttle`, given the one at full throttle.
    pub fn of_current_at(self, throttle: f64) -> Self {
        let below = (1.0 - throttle).max(0.0);
        Self {
            value: self.value - CURRENT_EXPONENT_SLOPE * below,
            spread: self.spread + EXPONENT_SPREAD_SLOPE * below,
        }
    }

    /// (factor, relative standard uncertainty) of the step from `from` to `to`.
    pub fn step(self, from: f64, to: f64) -> Option<(f64, f64)> {
        let log = (to / from).ln();
        log.is_finite()
            .then(|| ((self.value * log).exp(), self.spread * log.abs()))
    }
}

/// Bench current of one power system by throttle, at a reference voltage and density.
#[derive(Debug, Clone, PartialEq)]
pub struct PowerCurve {
    /// Power-system id.
    pub power: String,
    /// Knots, 0..1, strictly increasing.
    pub throttle: Vec<f64>,
    /// A at the knots, never falling.
    pub current_a: Vec<f64>,
    /// Standard uncertainty at the knots, A.
    pub current_u_a: Vec<f64>,
    /// Terminal voltage of the pack, V.
    pub reference_voltage_v: f64,
    pub reference_density_kg_m3: f64,
    /// At full throttle; see [`Exponent::of_current_at`].
    pub voltage_exponent: Exponent,
    pub density_exponent: Exponent,
}

impl PowerCurve {
    /// Current (A) and its standard uncertainty at `throttle` (0..1), terminal `voltage` (V) and
    /// `density` (kg/m³). `None` outside the bench's throttle range: it does not extrapolate.
    pub fn current(&self, throttle: f64, voltage: f64, density: f64) -> Option<(f64, f64)> {
        self.at(throttle, density)?.current(voltage)
    }

    /// The same for several voltages at one throttle and density.
    pub fn at(&self, throttle: f64, density: f64) -> Option<AtThrottle> {
        let current = between_knots(&self.throttle, &self.current_a, &self.current_u_a, throttle)?;
        let exponent = self.voltage_exponent.of_current_at(throttle);
        let by_density = self
            .density_exponent
            .step(self.reference_density_kg_m3, density)?;
        Some(AtThrottle {
            current,
            exponent,
            reference_voltage_v: self.reference_voltage_v,
            by_density,
        })
    }
}

/// A power curve at one throttle and density.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtThrottle {
    /// A at the reference voltage and density, with its standard uncertainty.
    current: (f64, f64),
    exponent: Exponent,
    reference_voltage_v: f64,
    /// Factor and its relative standard uncertainty.
    by_density: (f64, f64),
}

impl AtThrottle {
    /// Current (A) and its standard uncertainty at a terminal voltage (V).
    pub fn current(&self, voltage: f64) -> Option<(f64, f64)> {
        let (by_voltage, u_voltage) = self.exponent.step(self.reference_voltage_v, voltage)?;
        let ((current, u), (by_density, u_density)) = (self.current, self.by_density);
        let factor = by_voltage * by_density;
        let value = current * factor;
        let u = (u * factor)
            .hypot(value * u_voltage)
            .hypot(value * u_density);
        Some((value, u))
    }
}

/// Monotone cubic between knots (Fritsch and Carlson 1980) with the uncertainty interpolated
/// linearly; `None` outside the knots.
pub fn between_knots(x: &[f64], y: &[f64], u: &[f64], at: f64) -> Option<(f64, f64)> {
    let value = monotone_at(x, y, at)?;
    let i = x.partition_point(|knot| *knot <= at).clamp(1, x.len() - 1) - 1;
    let (left, right) = (u.get(i)?, u.get(i + 1)?);
    let share = (at - x[i]) / (x[i + 1] - x[i]);
    Some((value, left + share * (right - left)))
}
