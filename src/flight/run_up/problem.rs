//! The least-squares problem of the joint fit and its solution.
//!
//! Unknown to the solver: level speed, wind and time constant (unless given), each kept within its
//! bounds by a transformation. Heading is free at every sample: what is fitted is the size of the
//! ground velocity less the wind, since pilots let the heading wander. The entry speed of every pass
//! is eliminated: at each trial point it takes its best value, and the Jacobian is projected off it
//! (variable projection; Kaufman, BIT 15 (1975) 49). That leaves four unknowns whatever the number of passes, so the
//! damped normal equations (Marquardt 1963; damping as in Madsen, Nielsen and Tingleff, Methods for
//! Non-Linear Least Squares Problems, 2004, alg. 3.16) are solved directly.

use nalgebra::{Matrix4, Vector4};

use super::gusts::Whitener;
use super::model::{Shape, Speed};
use crate::flight::straights::Straight;
use crate::physics::wind::length;

/// Weak prior of the time constant: 3 s, times or by e at one standard deviation (common practice).
pub const PRIOR_TIME_CONSTANT_S: f64 = 3.0;
pub const PRIOR_LN_SD: f64 = 1.0;
const TIME_CONSTANT_RANGE_S: (f64, f64) = (0.4, 25.0);
/// No model jet flies in more wind than this, m/s (per component).
const WIND_LIMIT: f64 = 25.0;
const MOST_STEPS: usize = 60;
/// How close a held wind stays to its value, m/s.
const HELD_M_S: f64 = 0.05;

/// Share of its range beyond which an unknown counts as stopped by its bound.
const AT_BOUND: f64 = 0.02;

/// Level speed, time constant, wind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Globals {
    pub level: f64,
    pub time_constant: f64,
    pub wind_north: f64,
    pub wind_east: f64,
}

/// What is believed of the wind before the flight is looked at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WindPrior {
    /// m/s, the way it blows to.
    pub north_m_s: f64,
    pub east_m_s: f64,
    pub se_m_s: f64,
}

/// A straight, prepared: level-speed factor of the voltage and height steps at its samples.
#[derive(Debug, Clone)]
pub struct Run<'a> {
    pub straight: &'a Straight,
    pub scale: Vec<f64>,
    pub climb: Vec<f64>,
    whitener: Whitener,
}

impl<'a> Run<'a> {
    pub fn new(straight: &'a Straight, voltage: Option<f64>, exponent: f64) -> Self {
        let n = straight.time.len();
        let scale = match voltage {
            // A dropped-out reading is no voltage to scale a speed with.
            Some(mean)
                if straight.voltage.len() == n
                    && straight.voltage.iter().all(|v| *v > 0.3 * mean) =>
            {
                straight
                    .voltage
                    .iter()
                    .map(|v| (v / mean).powf(exponent))
                    .collect()
            }
            _ => vec![1.0; n],
        };
        let climb = if straight.height.len() == n && n > 0 {
            std::iter::once(0.0)
                .chain(straight.height.windows(2).map(|h| h[1] - h[0]))
                .collect()
        } else {
            vec![0.0; n]
        };
        Self {
            straight,
            scale,
            climb,
            whitener: Whitener::new(&straight.time),
        }
    }

    fn sweep(&self, shape: Shape, at: &Globals, entry: f64, out: &mut Vec<Speed>) {
        out.clear();
        let mut speed = Speed::entry(entry);
        let time = &self.straight.time;
        for k in 0..time.len() {
            if k > 0 {
                speed = speed.step(
                    shape,
                    at.level,
                    at.time_constant,
                    self.scale[k],
                    time[k] - time[k - 1],
                    self.climb[k],
                );
            }
            out.push(speed);
        }
    }

    /// Airspeed measured, given the wind.
    pub fn airspeed(&self, at: &Globals) -> Vec<f64> {
        let s = self.straight;
        s.north
            .iter()
            .zip(&s.east)
            .map(|(n, e)| length(n - at.wind_north, e - at.wind_east))
            .collect()
    }

    /// The run-up with the entry speed that fits best, starting the search at `entry`.
    fn best(
        &self,
        shape: Shape,
        at: &Globals,
        mut entry: f64,
        air: &[f64],
        out: &mut Vec<Speed>,
    ) -> f64 {
        for _ in 0..4 {
            self.sweep(shape, at, entry, out);
            let (mut top, mut bottom) = (0.0, 0.0);
            let (mut left, mut by) = (self.whitener.sequence(), self.whitener.sequence());
            for (s, a) in out.iter().zip(air) {
                let (residual, d) = (left.next(a - s.v), by.next(s.by_entry));
                top += d * residual;
                bottom += d * d;
            }
            let step = if bottom > 0.0 { top / bottom } else { 0.0 };
            entry = (entry + step).clamp(0.1 * at.level, 2.0 * at.level);
            if step.abs() < 1e-7 {
                break;
            }
        }
        self.sweep(shape, at, entry, out);
        entry
    }

    /// Fitted airspeed at the samples.
    pub fn fitted(&self, shape: Shape, at: &Globals) -> Vec<f64> {
        let air = self.airspeed(at);
        let mut out = Vec::new();
        self.best(
            shape,
            at,
            air.first().copied().unwrap_or(at.level),
            &air,
            &mut out,
        );
        out.iter().map(|s| s.v).collect()
    }
}

/// Where the solver starts and what it must respect.
#[derive(Debug, Clone, Copy)]
pub struct Setting {
    pub shape: Shape,
    /// Time constant held at this value.
    pub fixed_time_constant: Option<f64>,
    pub wind: WindPrior,
    /// Course of the line that all passes follow, rad: the wind across it is held at the prior's.
    pub line: Option<f64>,
    pub level_range: (f64, f64),
}

impl Setting {
    /// The unknown that the solution holds at its bound: then the bound was found, not the flight.
    pub fn at_bound(&self, at: &Globals) -> Option<&'static str> {
        let near = |share: f64| !(AT_BOUND..=1.0 - AT_BOUND).contains(&share);
        let (low, high) = self.level_range;
        let (short, long) = TIME_CONSTANT_RANGE_S;
        let most_wind = at.wind_north.abs().max(at.wind_east.abs());
        if most_wind > (1.0 - AT_BOUND) * WIND_LIMIT {
            Some("wind")
        } else if near((at.level - low) / (high - low)) {
            Some("level speed")
        } else if self.fixed_time_constant.is_none()
            && near((at.time_constant / short).ln() / (long / short).ln())
        {
            Some("time constant")
        } else {
            None
        }
    }
}

fn logistic(p: f64) -> f64 {
    1.0 / (1.0 + (-p).exp())
}

fn logit(share: f64) -> f64 {
    let share = share.clamp(1e-4, 1.0 - 1e-4);
    (share / (1.0 - share)).ln()
}

/// Globals at `p` and the derivative of each by its own parameter, in the order level speed, wind
/// north, wind east, time constant.
fn globals(setting: &Setting, p: &Vector4<f64>) -> (Globals, Vector4<f64>) {
    let (low, high) = setting.level_range;
    let share = logistic(p[0]);
    let wind = |x: f64| (WIND_LIMIT * x.tanh(), WIND_LIMIT * (1.0 - x.tanh().powi(2)));
    let ((wind_north, d_north), (wind_east, d_east)) = (wind(p[1]), wind(p[2]));
    let (time_constant, d_time_constant) = match setting.fixed_time_constant {
        Some(value) => (value, 0.0),
        None => {
            let (short, long) = TIME_CONSTANT_RANGE_S;
            let ratio = (long / short).ln();
            let share = logistic(p[3]);
            let value = short * (ratio * share).exp();
            (value, value * ratio * share * (1.0 - share))
        }
    };
    let at = Globals {
        level: low + (high - low) * share,
        time_constant,
        wind_north,
        wind_east,
    };
    let slope = Vector4::new(
        (high - low) * share * (1.0 - share),
        d_north,
        d_east,
        d_time_constant,
    );
    (at, slope)
}

fn parameters(setting: &Setting, at: &Globals) -> Vector4<f64> {
    let (low, high) = setting.level_range;
    let (short, long) = TIME_CONSTANT_RANGE_S;
    let wind = |w: f64| (w / WIND_LIMIT).clamp(-0.999, 0.999).atanh();
    Vector4::new(
        logit((at.level - low) / (high - low)),
        wind(at.wind_north),
        wind(at.wind_east),
        logit((at.time_constant / short).ln() / (long / short).ln()),
    )
}

/// Sum of squares with its gradient and Gauss-Newton curvature in the natural unknowns.
struct Squares {
    cost: f64,
    gradient: Vector4<f64>,
    curvature: Matrix4<f64>,
}

impl Squares {
    fn row(&mut self, residual: f64, by: Vector4<f64>) {
        self.cost += residual * residual;
        self.gradient += by * residual;
        self.curvature += by * by.transpose();
    }

    /// Rows whose direction `d` is free: the residuals are already at their least along it, the
    /// derivatives are taken off it.
    fn rows_off(&mut self, rows: &[(f64, Vector4<f64>)], d: &[f64]) {
        let bottom: f64 = d.iter().map(|x| x * x).sum();
        let mut top = Vector4::zeros();
        for ((_, by), x) in rows.iter().zip(d) {
            top += by * *x;
        }
        let share = if bottom > 0.0 {
            top / bottom
        } else {
            top * 0.0
        };
        for ((residual, by), x) in rows.iter().zip(d) {
            self.row(*residual, by - share * *x);
        }
    }
}

struct Problem<'a, 'b> {
    runs: &'b [&'a Run<'a>],
    setting: Setting,
    /// Entry speeds, kept from one trial point to the next.
    entries: Vec<f64>,
    speeds: Vec<Speed>,
    rows: Vec<(f64, Vector4<f64>)>,
    /// Direction of the eliminated unknown over those rows.
    free: Vec<f64>,
}

impl Problem<'_, '_> {
    fn squares(&mut self, at: &Globals) -> Squares {
        let mut out = Squares {
            cost: 0.0,
            gradient: Vector4::zeros(),
            curvature: Matrix4::zeros(),
        };
        for (run, entry) in self.runs.iter().zip(&mut self.entries) {
            let s = run.straight;
            let air = run.airspeed(at);
            *entry = run.best(self.setting.shape, at, *entry, &air, &mut self.speeds);
            let vector = |k: usize| (s.north[k] - at.wind_north, s.east[k] - at.wind_east);
            self.rows.clear();
            self.free.clear();
            let mut white: [_; 6] = std::array::from_fn(|_| run.whitener.sequence());
            for (k, speed) in self.speeds.iter().enumerate() {
                let (an, ae) = vector(k);
                let size = air[k].max(1e-3);
                let by = [
                    -speed.by_level,
                    -an / size,
                    -ae / size,
                    -speed.by_time_constant,
                ];
                let by = Vector4::from_fn(|i, _| white[i].next(by[i]));
                self.rows.push((white[4].next(air[k] - speed.v), by));
                self.free.push(white[5].next(speed.by_entry));
            }
            out.rows_off(&self.rows, &self.free);
        }
        let prior = self.setting.wind;
        let u = 1.0 / prior.se_m_s;
        out.row(
            (at.wind_north - prior.north_m_s) * u,
            Vector4::new(0.0, u, 0.0, 0.0),
        );
        out.row(
            (at.wind_east - prior.east_m_s) * u,
            Vector4::new(0.0, 0.0, u, 0.0),
        );
        if let Some(course) = self.setting.line {
            let (n, e) = (-course.sin() / HELD_M_S, course.cos() / HELD_M_S);
            let off = (at.wind_north - prior.north_m_s) * n + (at.wind_east - prior.east_m_s) * e;
            out.row(off, Vector4::new(0.0, n, e, 0.0));
        }
        out.row(
            (at.time_constant / PRIOR_TIME_CONSTANT_S).ln() / PRIOR_LN_SD,
            Vector4::new(0.0, 0.0, 0.0, 1.0 / at.time_constant / PRIOR_LN_SD),
        );
        out
    }
}

/// The best globals, and the curvature (inverse covariance under the nominal gusts) there in
/// level speed, wind north, wind east, ln(time constant); priors included.
pub fn solve(
    runs: &[&Run<'_>],
    setting: Setting,
    start: &Globals,
) -> Option<(Globals, Matrix4<f64>)> {
    if !(start.level.is_finite() && start.level > 0.0) {
        return None;
    }
    let entries = runs
        .iter()
        .map(|r| r.airspeed(start).first().copied().unwrap_or(start.level))
        .collect();
    let mut problem = Problem {
        runs,
        setting,
        entries,
        speeds: Vec::new(),
        rows: Vec::new(),
        free: Vec::new(),
    };
    let mut p = parameters(&setting, start);
    let (mut at, mut slope) = globals(&setting, &p);
    let mut here = problem.squares(&at);
    let (mut damping, mut grow) = (1e-3, 2.0);
    for _ in 0..MOST_STEPS {
        let gradient = here.gradient.component_mul(&slope);
        let scale = Matrix4::from_diagonal(&slope);
        let mut normal = scale * here.curvature * scale;
        for i in 0..4 {
            normal[(i, i)] += damping * normal[(i, i)] + 1e-12;
        }
        let step = -(normal.try_inverse()? * gradient);
        if !step.iter().all(|x| x.is_finite()) {
            break;
        }
        let trial_p = p + step;
        let (trial_at, trial_slope) = globals(&setting, &trial_p);
        let trial = problem.squares(&trial_at);
        let expected = -step.dot(&gradient);
        if trial.cost.is_finite() && trial.cost <= here.cost {
            let gained = here.cost - trial.cost;
            let settled = (trial_at.level - at.level).abs() < 1e-6 * at.level
                && (trial_at.time_constant - at.time_constant).abs() < 1e-5 * at.time_constant;
            (p, at, slope, here) = (trial_p, trial_at, trial_slope, trial);
            let ratio = gained / expected.max(1e-300);
            damping *= (1.0 - (2.0 * ratio - 1.0).powi(3)).max(1.0 / 3.0);
            grow = 2.0;
            if settled || gained < 1e-10 * here.cost {
                break;
            }
        } else {
            damping *= grow;
            grow *= 2.0;
            if step.norm() < 1e-9 {
                break;
            }
        }
    }
    if !here.cost.is_finite() {
        return None;
    }
    let mut unit = Vector4::new(1.0, 1.0, 1.0, at.time_constant);
    let mut curvature = here.curvature;
    if setting.fixed_time_constant.is_some() {
        unit[3] = 0.0;
    }
    let scale = Matrix4::from_diagonal(&unit);
    curvature = scale * curvature * scale;
    if setting.fixed_time_constant.is_some() {
        curvature[(3, 3)] = 1e18;
    }
    Some((at, curvature))
}
