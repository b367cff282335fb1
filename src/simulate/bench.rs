//! Bench runs: the simulated motor, fan and pack standing still, read from simulated meters.

use super::noise::{Noise, Stream};
use super::physics::{Pack, PowerSystem, Supply};

/// Outlet area of the simulated duct, m².
pub const OUTLET_AREA_M2: f64 = 0.0033;

/// How a run is done.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchPlan {
    /// Throttle settings in the order flown, 0..1.
    pub throttle: Vec<f64>,
    /// Sweeps through all of them, one after the other on one pack.
    pub sweeps: usize,
    /// kg/m³.
    pub density: f64,
    /// Charge used at the start, fraction.
    pub used: f64,
    /// Seconds at each setting.
    pub dwell_s: f64,
    /// Reading scatter is multiplied by this.
    pub noise: f64,
}

impl BenchPlan {
    /// 30 to 100 % in tens, `sweeps` times.
    pub fn tens(density: f64, sweeps: usize) -> Self {
        Self {
            throttle: (3..=10).map(|i| f64::from(i) / 10.0).collect(),
            sweeps,
            density,
            used: 0.05,
            dwell_s: 8.0,
            noise: 1.0,
        }
    }
}

/// Scale errors of the bench meters, common to every run they are used on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meters {
    pub thrust: f64,
    pub exhaust: f64,
    pub voltage: f64,
    pub current: f64,
}

impl Meters {
    /// Drawn within the limits that the demo season declares: 2, 3, 1 and 2 %.
    pub fn draw(seed: u64) -> Self {
        let mut noise = Noise::new(seed, Stream::Bench(0));
        let mut scale = |limit: f64| 1.0 + noise.uniform(-limit, limit);
        Self {
            thrust: scale(0.02),
            exhaust: scale(0.03),
            voltage: scale(0.01),
            current: scale(0.02),
        }
    }
}

/// One line of a bench table, before the displays round it. SI; rpm in 1/min.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    pub throttle: f64,
    pub thrust_n: f64,
    pub exhaust_m_s: f64,
    pub voltage: f64,
    pub current: f64,
    /// Of a meter that keeps the peak since it was reset, which is at each setting.
    pub peak_power_w: f64,
    pub rpm: f64,
}

/// Runs `plan`; `run` numbers the run, so that each has noise of its own.
pub fn run(
    plan: &BenchPlan,
    power: &PowerSystem,
    pack: &Pack,
    meters: &Meters,
    seed: u64,
    run: usize,
) -> Vec<Reading> {
    let mut noise = Noise::new(seed, Stream::Bench(run + 1));
    let mut used = plan.used;
    let mut readings = Vec::new();
    for _ in 0..plan.sweeps {
        for &throttle in &plan.throttle {
            let supply = pack.settled(1.0 - used);
            let steady = power.steady(supply, throttle, 0.0, plan.density);
            let electric = steady.electric;
            used += electric.pack_current_a * plan.dwell_s / pack.capacity_c;
            // Opening up, the rotor lags and the meter catches the surge.
            let power_w = electric.terminal_v * electric.pack_current_a;
            let peak_power_w =
                power_w * meters.voltage * meters.current * noise.uniform(1.04, 1.10);
            let mut scatter = |sd: f64| 1.0 + plan.noise * sd * noise.normal();
            readings.push(Reading {
                throttle,
                thrust_n: steady.thrust_n * meters.thrust * scatter(0.008),
                exhaust_m_s: exhaust(steady.thrust_n, plan.density)
                    * meters.exhaust
                    * scatter(0.012),
                voltage: electric.terminal_v * meters.voltage * scatter(0.0008),
                current: electric.pack_current_a * meters.current * scatter(0.004),
                peak_power_w,
                rpm: steady.omega * 60.0 / std::f64::consts::TAU * scatter(0.0015),
            });
        }
    }
    readings
}

/// Mean speed of the jet whose momentum is the thrust.
fn exhaust(thrust_n: f64, rho: f64) -> f64 {
    (thrust_n.max(0.0) / (rho * OUTLET_AREA_M2)).sqrt()
}

/// True static state at equal terminal voltage, for tests: thrust N, current A, power W.
pub fn static_truth(power: &PowerSystem, voltage: f64, throttle: f64, rho: f64) -> (f64, f64, f64) {
    let steady = power.steady(Supply::Terminal(voltage), throttle, 0.0, rho);
    let current = steady.electric.pack_current_a;
    (steady.thrust_n, current, current * voltage)
}
