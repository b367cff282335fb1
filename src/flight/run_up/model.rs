//! The run-up of a jet in level flight: airspeed against time, with its derivatives.
//!
//! Thrust rho·A·w·(w − v) and drag ½·rho·v²·S (design 4.5) give dv/dt = −c·(v − v1)·(v − v2) with
//! level speed v1 > 0 and a second root v2 = −v1/(1 − x), x = v1/w. Its solution is a straight line
//! in time for ln((v − v1)/(v − v2)); near v1 it is an exponential with time constant
//! 1/(c·(v1 − v2)). The ratio −v2/v1 follows from the areas alone and moves the curve little.
//! The solution of the equation is elementary (separation of variables).

use crate::units::G0;

/// −v2/v1. Level speeds of 0.65 to 0.85 of the jet speed (common practice, no source) give 2.9 to
/// 6.7; the induced drag, which grows as the jet slows down, takes from the acceleration far from
/// level speed and so acts as a smaller root. The choice is one: from 3.5 to infinity (the
/// exponential) the level speed moves by 0.5 %, much the same for either fan of a comparison; the
/// fit charges it to the level speed's error ([`super::Fit::model_error_m_s`]).
pub const SECOND_ROOT: f64 = 2.5;

/// Which curve the run-up follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// The linearisation: dv/dt = (v1 − v)/tau.
    Exponential,
    /// The jet's own equation, second root at −`SECOND_ROOT`·v1.
    Jet,
}

/// Airspeed and its derivatives by the entry speed, the level speed and the time constant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Speed {
    pub v: f64,
    pub by_entry: f64,
    pub by_level: f64,
    pub by_time_constant: f64,
}

impl Speed {
    pub fn entry(v: f64) -> Self {
        Self {
            v,
            by_entry: 1.0,
            by_level: 0.0,
            by_time_constant: 0.0,
        }
    }

    /// One step of `dt` s. `scale` is the level speed's factor at this moment's voltage (the time
    /// constant goes with its inverse, since c does not depend on voltage); `climb_m` the height
    /// gained, charged as energy.
    pub fn step(
        self,
        shape: Shape,
        level: f64,
        time_constant: f64,
        scale: f64,
        dt: f64,
        climb_m: f64,
    ) -> Self {
        let v1 = level * scale;
        let rate = dt * scale / time_constant;
        let e = (-rate).exp();
        let (v, by_v, by_rate) = match shape {
            Shape::Exponential => {
                let v = v1 + (self.v - v1) * e;
                (v, e, -(self.v - v1) * e)
            }
            Shape::Jet => {
                let r = SECOND_ROOT;
                let below = self.v + r * v1;
                let y = (self.v - v1) / below * e;
                let v = v1 * (1.0 + r * y) / (1.0 - y);
                let by_y = v1 * (1.0 + r) / (1.0 - y).powi(2);
                (v, by_y * e * (1.0 + r) * v1 / (below * below), -by_y * y)
            }
        };
        // v is homogeneous of degree one in (v before, v1).
        let by_v1 = (v - self.v * by_v) / v1;
        let next = Self {
            v,
            by_entry: by_v * self.by_entry,
            by_level: by_v * self.by_level + by_v1 * scale,
            by_time_constant: by_v * self.by_time_constant - by_rate * rate / time_constant,
        };
        next.climb(climb_m)
    }

    /// Height gained at constant energy.
    fn climb(self, climb_m: f64) -> Self {
        if climb_m == 0.0 {
            return self;
        }
        let v = (self.v * self.v - 2.0 * G0 * climb_m).max(1.0).sqrt();
        let factor = self.v / v;
        Self {
            v,
            by_entry: factor * self.by_entry,
            by_level: factor * self.by_level,
            by_time_constant: factor * self.by_time_constant,
        }
    }
}

/// Airspeed after `time` s of run-up from `entry` in level flight at constant voltage.
pub fn after(shape: Shape, entry: f64, level: f64, time_constant: f64, time: f64) -> f64 {
    Speed::entry(entry)
        .step(shape, level, time_constant, 1.0, time, 0.0)
        .v
}

/// Level speed of a jet that accelerates at `acceleration` (m/s²) while it flies at `v`.
pub fn level_from(v: f64, acceleration: f64, time_constant: f64) -> f64 {
    // The equation of motion solved for v1: r v1² + (v − r v − a·tau·(1 + r)) v1 − v² = 0.
    let r = SECOND_ROOT;
    let b = v - r * v - acceleration * time_constant * (1.0 + r);
    (-b + (b * b + 4.0 * r * v * v).sqrt()) / (2.0 * r)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_closed_form_solves_the_equation_of_motion() {
        // Against Runge-Kutta on m dv/dt = rho A w (w - v) - ½ rho v² S with x = 1 - 1/2.5.
        let (level, tau) = (55.0, 2.6);
        let c = 1.0 / (tau * level * (1.0 + SECOND_ROOT));
        let f = |v: f64| -c * (v - level) * (v + SECOND_ROOT * level);
        let (mut v, h) = (40.0, 1e-3);
        for _ in 0..4000 {
            let k1 = f(v);
            let k2 = f(v + 0.5 * h * k1);
            let k3 = f(v + 0.5 * h * k2);
            let k4 = f(v + h * k3);
            v += h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4);
        }
        assert!((after(Shape::Jet, 40.0, level, tau, 4.0) - v).abs() < 1e-9);
    }

    #[test]
    fn acceleration_gives_the_level_speed_back() {
        let (level, tau, h) = (55.0, 2.6, 1e-4);
        let v = |t: f64| after(Shape::Jet, 40.0, level, tau, t);
        let acceleration = (v(1.0 + h) - v(1.0 - h)) / (2.0 * h);
        assert!((level_from(v(1.0), acceleration, tau) - level).abs() < 1e-5);
    }

    #[test]
    fn derivatives_agree_with_differences() {
        for shape in [Shape::Exponential, Shape::Jet] {
            let run = |entry: f64, level: f64, tau: f64| {
                let mut s = Speed::entry(entry);
                for k in 0..20 {
                    let scale = 1.0 - 0.001 * f64::from(k);
                    s = s.step(shape, level, tau, scale, 0.2, 0.1 * f64::from(k % 3));
                }
                s
            };
            let s = run(38.0, 52.0, 2.4);
            let h = 1e-5;
            let slope = |a: Speed, b: Speed| (a.v - b.v) / (2.0 * h);
            let by_entry = slope(run(38.0 + h, 52.0, 2.4), run(38.0 - h, 52.0, 2.4));
            let by_level = slope(run(38.0, 52.0 + h, 2.4), run(38.0, 52.0 - h, 2.4));
            let by_tau = slope(run(38.0, 52.0, 2.4 + h), run(38.0, 52.0, 2.4 - h));
            assert!((s.by_entry - by_entry).abs() < 1e-6, "{shape:?}");
            assert!((s.by_level - by_level).abs() < 1e-6, "{shape:?}");
            assert!((s.by_time_constant - by_tau).abs() < 1e-6, "{shape:?}");
        }
    }
}
