//! Synthetic flights with known answers.

use std::collections::BTreeMap;

use benchborne::flight::phases::Phases;
use benchborne::ingest::{Channel, Log};
use benchborne::physics::power_curve::{Exponent, PowerCurve};
use benchborne::season::{Accuracy, Declared};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

pub fn log(time: Vec<f64>, channels: &[(Channel, Vec<f64>)]) -> Log {
    let steps: Vec<f64> = time.windows(2).map(|w| w[1] - w[0]).collect();
    let step_s = if steps.is_empty() {
        0.0
    } else {
        benchborne::stats::median(&steps)
    };
    let breaks = steps
        .iter()
        .enumerate()
        .filter(|(_, s)| **s > (10.0 * step_s).max(1.0))
        .map(|(i, _)| i + 1)
        .collect();
    Log {
        file: "logs/made.csv".to_owned(),
        start: None,
        clock_s: None,
        lines: (0..time.len()).map(|i| i as u32 + 2).collect(),
        channels: channels.iter().cloned().collect::<BTreeMap<_, _>>(),
        breaks,
        step_s,
        time,
    }
}

pub fn accuracy(fraction: f64) -> Accuracy {
    let declared = |value| Declared {
        value,
        is_default: false,
    };
    Accuracy {
        fraction: declared(fraction),
        absolute: declared(0.0),
        resolution: declared(0.0),
        range_end: None,
        peak_hold: false,
    }
}

/// Bench: 80 A at full throttle, 22.2 V, 1.2 kg/m³; from 20 % up.
pub fn curve() -> PowerCurve {
    let throttle: Vec<f64> = (2..=10).map(|n| f64::from(n) / 10.0).collect();
    let current_a: Vec<f64> = throttle.iter().map(|u| 80.0 * u.powf(2.5)).collect();
    PowerCurve {
        power: "made".to_owned(),
        current_u_a: current_a.iter().map(|i| 0.01 * i).collect(),
        throttle,
        current_a,
        reference_voltage_v: 22.2,
        reference_density_kg_m3: 1.2,
        voltage_exponent: Exponent {
            value: 1.9,
            spread: 0.05,
        },
        density_exponent: Exponent {
            value: 0.85,
            spread: 0.05,
        },
    }
}

/// The truth behind a synthetic flight.
#[derive(Clone)]
pub struct Truth {
    pub rate_hz: f64,
    /// First-order lag of the current, s; its half-way point comes 0.693 of it after a step.
    pub lag_s: f64,
    /// kappa = level + slope · (v − 40).
    pub kappa: f64,
    pub slope: f64,
    pub resistance_ohm: f64,
    /// Fall of the open-circuit voltage, V per A.h.
    pub fall: f64,
    pub throttle_noise: f64,
    pub current_noise_a: f64,
    pub seed: u64,
    /// (until, throttle)
    pub programme: Vec<(f64, f64)>,
}

pub const FULL_V: f64 = 25.2;
pub const DENSITY: f64 = 1.15;
/// On the ground until here, and from `end` − 5 s on.
pub const LIFT_OFF_S: f64 = 8.0;

impl Default for Truth {
    fn default() -> Self {
        // Standing, then cruise and full throttle in turn, then standing.
        let mut programme = vec![(5.0, 0.0)];
        for n in 0..12 {
            let t = 5.0 + 12.0 * f64::from(n);
            programme.push((t + 6.0, 1.0));
            programme.push((t + 12.0, [0.5, 0.7, 0.3][n as usize % 3]));
        }
        programme.push((159.0, 0.0));
        Self {
            rate_hz: 20.0,
            lag_s: 0.3,
            kappa: 0.92,
            slope: 0.0,
            resistance_ohm: 0.020,
            fall: 1.0,
            throttle_noise: 0.0,
            current_noise_a: 0.0,
            seed: 1,
            programme,
        }
    }
}

impl Truth {
    pub fn end(&self) -> f64 {
        self.programme.last().map_or(0.0, |p| p.0)
    }

    fn throttle(&self, t: f64) -> f64 {
        self.programme
            .iter()
            .find(|p| t < p.0)
            .or(self.programme.last())
            .map_or(0.0, |p| p.1)
    }

    /// Flies it: integrated at 1 kHz, sampled at the rate. Speed runs up to 55 m/s at full throttle
    /// and down to 30 otherwise with a time constant of 3 s.
    pub fn fly(&self) -> Log {
        let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
        let mut noise = |sd: f64| {
            let sum: f64 = (0..12).map(|_| rng.random::<f64>()).sum::<f64>() - 6.0;
            sd * sum
        };
        let bench = curve();
        let dt = 0.001;
        let every = (1.0 / (self.rate_hz * dt)).round() as usize;
        let mut rows: [Vec<f64>; 6] = Default::default();
        let (mut i, mut q, mut v, mut volts) = (0.0, 0.0, 0.0, FULL_V);
        let steps = (self.end() / dt).round() as usize;
        for n in 0..=steps {
            let t = n as f64 * dt;
            let u = self.throttle(t);
            let flying = t >= LIFT_OFF_S && t < self.end() - 5.0;
            let goal = if !flying && u < 0.05 {
                0.0
            } else if u > 0.9 {
                55.0
            } else {
                30.0
            };
            v += dt * (goal - v) / if goal == 0.0 { 0.3 } else { 3.0 };
            let k = if flying {
                self.kappa + self.slope * (v - 40.0)
            } else {
                1.0
            };
            let wanted = if u < 0.02 {
                0.0
            } else {
                k * bench
                    .current(u.clamp(0.2, 1.0), volts, DENSITY)
                    .map_or(0.0, |c| c.0)
            };
            i += dt * (wanted - i) / self.lag_s.max(dt);
            q += i * dt / 3600.0;
            volts = FULL_V - self.fall * q - self.resistance_ohm * i;
            if n % every == 0 {
                let height = if flying { 60.0 } else { 0.0 };
                let read = i + noise(self.current_noise_a);
                let row = [t, u + noise(self.throttle_noise), volts, read, v, height];
                rows.iter_mut().zip(row).for_each(|(c, x)| c.push(x));
            }
        }
        let [time, throttle, voltage, current, airspeed, height] = rows;
        log(
            time,
            &[
                (Channel::Throttle, throttle),
                (Channel::Voltage, voltage),
                (Channel::Current, current),
                (Channel::GroundSpeed, airspeed.clone()),
                (Channel::Airspeed, airspeed),
                (Channel::Height, height),
            ],
        )
    }
}

pub fn without(log: &Log, channels: &[Channel]) -> Log {
    let mut log = log.clone();
    channels.iter().for_each(|c| drop(log.channels.remove(c)));
    log
}

pub fn airborne(spans: &[(f64, f64)]) -> Phases {
    Phases {
        spans: Vec::new(),
        airborne: spans.to_vec(),
        channels: Vec::new(),
        basis: String::new(),
    }
}
