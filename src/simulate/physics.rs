//! Motor, fan and pack: the forces and currents of the simulated world.
//!
//! Deliberately not the model of the analysis: the motor has a resistance and a no-load current,
//! the fan has torque and thrust coefficients that depend on the advance ratio, and the pack has an
//! open-circuit curve, an ohmic part and a polarisation part. Constants are invented but of the
//! size a 70 mm fan on four cells has (common practice, no source).

/// Gravity, m/s².
pub const GRAVITY: f64 = 9.806_65;
/// Specific gas constant of dry air, J/(kg·K).
const GAS_CONSTANT: f64 = 287.053;
/// Receiver and servos, A.
const AVIONICS_A: f64 = 0.35;

/// Density of dry air, kg/m³, from °C and hPa.
pub fn air_density(temperature_c: f64, pressure_hpa: f64) -> f64 {
    pressure_hpa * 100.0 / (GAS_CONSTANT * (temperature_c + 273.15))
}

/// A brushless motor with the controller's resistance lumped in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motor {
    /// rad/s per V.
    pub kv: f64,
    /// ohm.
    pub resistance: f64,
    /// A at 4000 rad/s.
    pub no_load_current: f64,
}

/// A ducted fan. `thrust = rho D⁴ (ct0 w² − ct1 w v/R − ct2 v²/R²)`; torque alike with D⁵.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fan {
    /// m.
    pub diameter: f64,
    pub ct: [f64; 3],
    pub cq: [f64; 3],
    /// Rotor and motor bell, kg·m².
    pub inertia: f64,
}

impl Fan {
    /// The sister fan every plan starts from.
    pub fn baseline() -> Self {
        Self {
            diameter: 0.07,
            ct: [0.0356, 1.58, 0.85],
            cq: [0.0064, 0.08, 0.45],
            inertia: 3.2e-5,
        }
    }

    fn polynomial(c: [f64; 3], omega: f64, advance: f64) -> f64 {
        // Blades work a little better at a higher Reynolds number.
        let reynolds = 0.95 + 0.05 * (omega / 4000.0).min(1.5);
        c[0] * reynolds * (omega * omega - c[1] * omega * advance - c[2] * advance * advance)
    }

    /// N at rotor speed `omega` (rad/s), airspeed `v` (m/s), density `rho` (kg/m³).
    pub fn thrust(&self, omega: f64, v: f64, rho: f64) -> f64 {
        let advance = v / (0.5 * self.diameter);
        rho * self.diameter.powi(4) * Self::polynomial(self.ct, omega, advance)
    }

    /// N·m; negative where the wind turns the fan.
    pub fn torque(&self, omega: f64, v: f64, rho: f64) -> f64 {
        let advance = v / (0.5 * self.diameter);
        rho * self.diameter.powi(5) * Self::polynomial(self.cq, omega, advance)
    }
}

/// What feeds the controller.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Supply {
    /// Constant terminal voltage, V.
    Terminal(f64),
    /// Constant open-circuit voltage (V) behind a resistance (ohm).
    Pack { emf: f64, resistance: f64 },
}

impl Supply {
    fn parts(self) -> (f64, f64) {
        match self {
            Supply::Terminal(v) => (v, 0.0),
            Supply::Pack { emf, resistance } => (emf, resistance),
        }
    }
}

/// Volts and amperes at one instant.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Electric {
    pub terminal_v: f64,
    pub pack_current_a: f64,
    pub motor_current_a: f64,
}

/// Motor and fan on one shaft.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PowerSystem {
    pub motor: Motor,
    pub fan: Fan,
}

/// A steady state of the power system.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Steady {
    pub omega: f64,
    pub thrust_n: f64,
    pub electric: Electric,
}

impl PowerSystem {
    pub fn baseline() -> Self {
        let rpm = std::f64::consts::TAU / 60.0;
        Self {
            motor: Motor {
                kv: 2950.0 * rpm,
                resistance: 0.0165,
                no_load_current: 2.3,
            },
            fan: Fan::baseline(),
        }
    }

    /// Currents at duty `duty` with the rotor at `omega`. The controller chops: pack current is
    /// duty times motor current, a little more for switching losses; it does not brake.
    pub fn electric(&self, supply: Supply, duty: f64, omega: f64) -> Electric {
        let (emf, pack_r) = supply.parts();
        let emf = emf - pack_r * AVIONICS_A;
        let back = omega / self.motor.kv;
        let share = duty * (1.0 + 0.05 * duty * (1.0 - duty));
        // V = emf − pack_r·share·I and I = (duty·V − back)/R, solved together.
        let current =
            (duty * emf - back) / (self.motor.resistance + pack_r * share * duty).max(1e-9);
        let motor_current_a = current.max(0.0);
        let pack = share * motor_current_a;
        Electric {
            terminal_v: emf - pack_r * pack,
            pack_current_a: pack + AVIONICS_A,
            motor_current_a,
        }
    }

    /// Net torque on the rotor, N·m.
    pub fn net_torque(&self, motor_current_a: f64, omega: f64, v: f64, rho: f64) -> f64 {
        let friction = self.motor.no_load_current * (0.6 + 0.4 * omega / 4000.0);
        // Friction cannot turn the rotor backwards.
        let friction = friction * (omega / 20.0).min(1.0);
        (motor_current_a - friction) / self.motor.kv - self.fan.torque(omega, v, rho)
    }

    /// Rotor speed at which the torques balance, by bisection.
    pub fn steady(&self, supply: Supply, duty: f64, v: f64, rho: f64) -> Steady {
        let (mut low, mut high) = (0.0, supply.parts().0 * self.motor.kv * 1.2 + 1000.0);
        for _ in 0..46 {
            let omega = 0.5 * (low + high);
            let electric = self.electric(supply, duty, omega);
            if self.net_torque(electric.motor_current_a, omega, v, rho) > 0.0 {
                low = omega;
            } else {
                high = omega;
            }
        }
        let omega = 0.5 * (low + high);
        Steady {
            omega,
            thrust_n: self.fan.thrust(omega, v, rho),
            electric: self.electric(supply, duty, omega),
        }
    }
}

/// A pack as built and as it aged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pack {
    pub cells: u32,
    /// Coulombs.
    pub capacity_c: f64,
    /// Ohmic part when full, ohm.
    pub resistance: f64,
    /// Polarisation: ohm and its time constant in s.
    pub polarisation: f64,
    pub polarisation_s: f64,
}

impl Pack {
    /// Open-circuit voltage at state of charge 0..1.
    pub fn open_circuit_v(&self, state: f64) -> f64 {
        let s = state.clamp(0.0, 1.0);
        let cell = 3.5 + 0.9 * s - 0.6 * s * s + 0.4 * s.powi(3) - 0.3 * (-20.0 * s).exp();
        cell * f64::from(self.cells)
    }

    /// Ohmic resistance at a state of charge: an emptier pack is a softer one.
    pub fn ohmic(&self, state: f64) -> f64 {
        self.resistance * (1.0 + 0.12 * (1.0 - state))
    }

    /// The pack as a supply in a steady state: polarisation has built up.
    pub fn settled(&self, state: f64) -> Supply {
        Supply::Pack {
            emf: self.open_circuit_v(state),
            resistance: self.ohmic(state) + self.polarisation,
        }
    }
}
