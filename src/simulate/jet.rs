//! Equations of motion of a point-mass jet in moving air.

use super::physics::{Electric, GRAVITY, Pack, PowerSystem, Steady, Supply};

/// Step of the integration, s.
pub const STEP_S: f64 = 0.01;
/// The controller lets the duty grow by this much a second.
const DUTY_SLEW: f64 = 0.85;
const ROLL_FRICTION: f64 = 0.08;
const SPAN_EFFICIENCY: f64 = 0.75;

/// An airframe with its drag.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Jet {
    pub mass_kg: f64,
    pub span_m: f64,
    pub stall_m_s: f64,
    /// Parasite drag area, m².
    pub drag_area_m2: f64,
}

impl Jet {
    /// Drag, N, at airspeed `v` and load factor `load`.
    pub fn drag(&self, v: f64, load: f64, rho: f64) -> f64 {
        let q = 0.5 * rho * v * v;
        let lift = load * self.mass_kg * GRAVITY;
        // Below stall speed the wheels carry the rest, so the induced part is held there.
        let q_lift = q.max(0.5 * rho * self.stall_m_s * self.stall_m_s);
        let induced = lift * lift
            / (q_lift * std::f64::consts::PI * self.span_m * self.span_m * SPAN_EFFICIENCY);
        q * self.drag_area_m2 + induced
    }

    /// Level top speed at full throttle from a constant supply, by bisection on thrust − drag.
    pub fn level(&self, power: &PowerSystem, supply: Supply, rho: f64) -> (f64, Steady) {
        let (mut low, mut high) = (1.1 * self.stall_m_s, 150.0);
        for _ in 0..44 {
            let v = 0.5 * (low + high);
            if power.steady(supply, 1.0, v, rho).thrust_n > self.drag(v, 1.0, rho) {
                low = v;
            } else {
                high = v;
            }
        }
        let v = 0.5 * (low + high);
        (v, power.steady(supply, 1.0, v, rho))
    }
}

/// What the pilot's hands do.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Command {
    pub throttle: f64,
    /// Bank, rad, positive to the right.
    pub bank: f64,
    /// Flight path angle, rad.
    pub climb: f64,
}

/// Air around the jet now: wind (direction it blows to) and its change since the last step.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Air {
    pub north: f64,
    pub east: f64,
    pub change_north: f64,
    pub change_east: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct State {
    pub time_s: f64,
    pub north_m: f64,
    pub east_m: f64,
    pub height_m: f64,
    /// Airspeed, m/s.
    pub airspeed: f64,
    /// Heading, rad from north, unwrapped.
    pub heading: f64,
    pub climb: f64,
    pub bank: f64,
    /// rad/s.
    pub omega: f64,
    pub duty: f64,
    pub used_c: f64,
    /// Voltage over the pack's polarisation, V.
    pub polarised_v: f64,
    pub velocity_north: f64,
    pub velocity_east: f64,
    pub velocity_up: f64,
    pub electric: Electric,
    pub load_factor: f64,
    /// Force along the path without gravity, in weights: what an accelerometer feels.
    pub forward_g: f64,
    pub airborne: bool,
}

/// The jet, its power and its pack, integrated together.
#[derive(Debug, Clone, Copy)]
pub struct Plant {
    pub jet: Jet,
    pub power: PowerSystem,
    pub pack: Pack,
    pub rho: f64,
}

impl Plant {
    pub fn supply(&self, state: &State) -> Supply {
        let charge = 1.0 - state.used_c / self.pack.capacity_c;
        Supply::Pack {
            emf: self.pack.open_circuit_v(charge) - state.polarised_v,
            resistance: self.pack.ohmic(charge),
        }
    }

    /// One step of `STEP_S`.
    pub fn step(&self, state: &mut State, command: &Command, air: &Air) {
        let dt = STEP_S;
        let want = command.throttle.clamp(0.0, 1.0);
        state.duty += (want - state.duty).clamp(-4.0 * DUTY_SLEW * dt, DUTY_SLEW * dt);
        self.turn_rotor(state, self.supply(state), dt);
        let current = state.electric.pack_current_a;
        state.used_c += current * dt;
        state.polarised_v +=
            (current * self.pack.polarisation - state.polarised_v) * dt / self.pack.polarisation_s;

        let (sin_h, cos_h) = state.heading.sin_cos();
        let along = air.north * cos_h + air.east * sin_h;
        state.bank += (command.bank - state.bank) * dt / 0.22;
        state.climb += (command.climb - state.climb) * dt / 0.5;
        if !state.airborne {
            state.bank = 0.0;
            state.climb = 0.0;
        }
        state.load_factor = state.climb.cos() / state.bank.cos().max(0.1);
        let thrust = self
            .power
            .fan
            .thrust(state.omega, state.airspeed.max(0.0), self.rho);
        let weight = self.jet.mass_kg * GRAVITY;
        let mut felt = thrust - self.jet.drag(state.airspeed, state.load_factor, self.rho);
        let rolling = !state.airborne;
        if rolling {
            felt -= ROLL_FRICTION * weight;
        }
        let force = felt - weight * state.climb.sin();
        // Inertia holds the ground velocity while the wind changes under the jet.
        let gust = air.change_north * cos_h + air.change_east * sin_h;
        state.airspeed += force / self.jet.mass_kg * dt - gust;
        state.forward_g = felt / weight;
        if rolling {
            // Brakes hold it: on the ground it never rolls backwards.
            if state.airspeed <= -along {
                state.airspeed = -along;
                state.forward_g = 0.0;
            }
        } else {
            state.airspeed = state.airspeed.max(4.0);
            state.heading += GRAVITY * state.bank.tan() / state.airspeed * dt;
        }
        let flat = state.airspeed * state.climb.cos();
        state.velocity_north = flat * cos_h + air.north;
        state.velocity_east = flat * sin_h + air.east;
        if rolling {
            // Wheels do not drift sideways.
            state.velocity_north = (flat + along).max(0.0) * cos_h;
            state.velocity_east = (flat + along).max(0.0) * sin_h;
        }
        state.velocity_up = state.airspeed * state.climb.sin();
        state.north_m += state.velocity_north * dt;
        state.east_m += state.velocity_east * dt;
        state.height_m = (state.height_m + state.velocity_up * dt).max(0.0);
        state.time_s += dt;
    }

    /// Rotor speed one step on, implicit in the stiff motor term.
    pub fn turn_rotor(&self, state: &mut State, supply: Supply, dt: f64) {
        let v = state.airspeed.max(0.0);
        let net = |omega: f64| {
            let electric = self.power.electric(supply, state.duty, omega);
            self.power
                .net_torque(electric.motor_current_a, omega, v, self.rho)
        };
        let here = net(state.omega);
        let slope = (net(state.omega + 1.0) - here).min(0.0);
        let inertia = self.power.fan.inertia;
        state.omega = (state.omega + here * dt / (inertia - slope * dt)).max(0.0);
        state.electric = self.power.electric(supply, state.duty, state.omega);
    }
}
