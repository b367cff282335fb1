//! What instruments make of the simulated truth: scale errors fixed for an instrument, noise,
//! converter steps, a GPS that lags and holds its values.

use super::jet::{STEP_S, State};
use super::noise::{Noise, Stream};
use super::season::SeasonPlan;

/// Scale and zero errors of one on-board instrument; the same all season.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Instrument {
    pub voltage_scale: f64,
    pub current_scale: f64,
    pub current_zero_a: f64,
    pub height_scale: f64,
}

impl Instrument {
    /// Drawn once a season for each of the two logger units.
    pub fn draw(noise: &mut Noise, factor: f64) -> Self {
        Self {
            voltage_scale: 1.0 + 0.004 * factor * noise.normal(),
            current_scale: 1.0 + 0.012 * factor * noise.normal(),
            current_zero_a: 0.15 * factor * noise.normal(),
            height_scale: 1.0 + 0.01 * factor * noise.normal(),
        }
    }
}

/// One row a sample; NaN where a sensor is absent. SI, angles in rad, position in degrees.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SimLog {
    pub time: Vec<f64>,
    pub throttle: Vec<f64>,
    pub voltage: Vec<f64>,
    pub current: Vec<f64>,
    /// 1/min.
    pub rpm: Vec<f64>,
    pub gps_speed: Vec<f64>,
    pub course: Vec<f64>,
    pub vn: Vec<f64>,
    pub ve: Vec<f64>,
    /// Barometric, m above the start.
    pub height: Vec<f64>,
    pub lat: Vec<f64>,
    pub lon: Vec<f64>,
    /// Truth, never exported: airspeed, terminal voltage, current, load factor.
    pub airspeed_true: Vec<f64>,
    pub voltage_true: Vec<f64>,
    pub current_true: Vec<f64>,
    pub load_factor_true: Vec<f64>,
    /// Force along the path without gravity, in weights; truth too.
    pub forward_g_true: Vec<f64>,
    /// Every GPS fix, by the GPS's own clock.
    pub track: Vec<Fix>,
}

impl SimLog {
    pub fn len(&self) -> usize {
        self.time.len()
    }
    pub fn is_empty(&self) -> bool {
        self.time.is_empty()
    }
}

/// A GPS fix.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fix {
    /// s, the position logger's clock (`FlightTruth::clock_offset_s` ahead of the power log's).
    pub time_s: f64,
    pub lat: f64,
    pub lon: f64,
    /// m above sea level.
    pub elevation_m: f64,
    pub speed: f64,
    pub course: f64,
    pub vn: f64,
    pub ve: f64,
}

/// A value to the nearest step.
pub fn step(value: f64, step: f64) -> f64 {
    (value / step).round() * step
}

/// Longest GPS lag that can be simulated, in steps.
const MEMORY: usize = 100;

pub struct Sensors<'a> {
    plan: &'a SeasonPlan,
    unit: Instrument,
    noise: Noise,
    past: Vec<State>,
    lag_steps: usize,
    clock_offset_s: f64,
    next_fix_s: f64,
    next_row_s: f64,
    drift: [f64; 3],
    baro_drift: f64,
    last: Option<Fix>,
    pub log: SimLog,
}

impl<'a> Sensors<'a> {
    pub fn new(
        plan: &'a SeasonPlan,
        seed: u64,
        flight: usize,
        unit: Instrument,
        lag_s: f64,
        clock_offset_s: f64,
    ) -> Self {
        let mut noise = Noise::new(seed, Stream::Sensors(flight));
        let drift = [noise.normal(), noise.normal(), noise.normal()];
        Self {
            plan,
            unit,
            past: Vec::with_capacity(MEMORY),
            lag_steps: ((lag_s / STEP_S).round() as usize).min(MEMORY - 1),
            clock_offset_s,
            next_fix_s: noise.uniform(0.0, 0.1),
            next_row_s: 1.0 / plan.rate_hz,
            drift,
            baro_drift: 0.0,
            last: None,
            log: SimLog::default(),
            noise,
        }
    }

    /// To be called after each step of the integration.
    pub fn observe(&mut self, index: usize, state: &State, throttle: f64) {
        if self.past.len() < MEMORY {
            self.past.push(*state);
        } else {
            self.past[index % MEMORY] = *state;
        }
        if state.time_s + 1e-9 >= self.next_fix_s {
            self.next_fix_s += 1.0 / self.plan.gps_rate_hz;
            self.fix(index, state.time_s);
        }
        if state.time_s + 1e-9 >= self.next_row_s {
            self.next_row_s += 1.0 / self.plan.rate_hz;
            self.row(state, throttle);
        }
    }

    fn fix(&mut self, index: usize, now: f64) {
        let Some(seen) = self
            .past
            .get(index.saturating_sub(self.lag_steps) % MEMORY)
            .copied()
        else {
            return;
        };
        let factor = self.plan.sensor_noise;
        let keep = (-1.0 / (20.0 * self.plan.gps_rate_hz)).exp();
        let kick = (1.0 - keep * keep).sqrt();
        for drift in &mut self.drift {
            *drift = *drift * keep + kick * self.noise.normal();
        }
        let north = seen.north_m + factor * (1.2 * self.drift[0] + 0.05 * self.noise.normal());
        let east = seen.east_m + factor * (1.2 * self.drift[1] + 0.05 * self.noise.normal());
        let vn = seen.velocity_north + factor * 0.12 * self.noise.normal();
        let ve = seen.velocity_east + factor * 0.12 * self.noise.normal();
        let elevation_m = self.plan.elevation_m + seen.height_m + factor * 2.5 * self.drift[2];
        // Metres a degree of latitude on a sphere of 6371 km: the analysis need not agree better.
        let metres = 6_371_000.0_f64.to_radians();
        self.last = Some(Fix {
            time_s: now + self.clock_offset_s,
            lat: self.plan.latitude + north / metres,
            lon: self.plan.longitude + east / (metres * self.plan.latitude.to_radians().cos()),
            elevation_m,
            speed: vn.hypot(ve),
            course: ve.atan2(vn).rem_euclid(std::f64::consts::TAU),
            vn,
            ve,
        });
        self.log.track.extend(self.last);
    }

    fn row(&mut self, state: &State, throttle: f64) {
        let factor = self.plan.sensor_noise;
        let log = &mut self.log;
        let electric = state.electric;
        let noise = &mut self.noise;
        let rounded = |value: f64, to: f64| if factor > 0.0 { step(value, to) } else { value };
        log.time.push(state.time_s);
        // The stick's own value, by its converter; 0.0 added so that no row says −0.
        log.throttle
            .push(rounded(throttle, 0.001).clamp(0.0, 1.0) + 0.0);
        let volts = electric.terminal_v * self.unit.voltage_scale + factor * 0.015 * noise.normal();
        log.voltage.push(rounded(volts, 0.01));
        let amps = electric.pack_current_a * self.unit.current_scale
            + self.unit.current_zero_a
            + factor * 0.4 * noise.normal();
        log.current.push(rounded(amps, 0.1));
        let rpm = state.omega * 60.0 / std::f64::consts::TAU;
        log.rpm
            .push(rounded(rpm * (1.0 + factor * 0.001 * noise.normal()), 10.0));
        self.baro_drift += factor * 0.01 * noise.normal();
        let height = state.height_m * self.unit.height_scale
            + self.baro_drift
            + factor * 0.25 * noise.normal();
        log.height.push(rounded(height, 0.1));
        let fix = self.last;
        let of = |get: fn(&Fix) -> f64| fix.as_ref().map_or(f64::NAN, get);
        log.gps_speed.push(of(|f| f.speed));
        log.course.push(of(|f| f.course));
        log.vn.push(of(|f| f.vn));
        log.ve.push(of(|f| f.ve));
        log.lat.push(of(|f| f.lat));
        log.lon.push(of(|f| f.lon));
        log.airspeed_true.push(state.airspeed);
        log.voltage_true.push(electric.terminal_v);
        log.current_true.push(electric.pack_current_a);
        log.load_factor_true.push(state.load_factor);
        log.forward_g_true.push(state.forward_g);
    }
}
