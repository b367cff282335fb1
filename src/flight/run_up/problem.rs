//! The least-squares problem of the joint fit, in the form the `levenberg-marquardt` crate wants.
//!
//! Unknown to the solver: level speed, time constant (unless given) and wind, each kept within its
//! bounds by a transformation. Entry speed and heading of every pass are eliminated: at each trial
//! point they take their best value, and the Jacobian is projected off them (variable projection;
//! Kaufman, BIT 15 (1975) 49).

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::{DMatrix, DVector, Dyn, Matrix4, Owned};

use super::model::{Shape, Speed};
use crate::flight::straights::Straight;

/// Gusts that a pass cannot average out: standard deviation and how long one lasts (common
/// practice, no source). They set only the weight of the passes against the priors below; standard
/// errors come from the passes themselves.
pub const GUST_M_S: f64 = 0.7;
pub const GUST_S: f64 = 2.0;
/// Weight of the sideways residual: pilots let the heading wander, so a drift of the track says
/// less about the wind than the speed does.
const SIDEWAYS: f64 = 0.3;
/// Weak prior of the time constant: 3 s, times or by e at one standard deviation (common practice).
pub const PRIOR_TIME_CONSTANT_S: f64 = 3.0;
pub const PRIOR_LN_SD: f64 = 1.0;
const TIME_CONSTANT_RANGE_S: (f64, f64) = (0.4, 25.0);
/// No model jet flies in more wind than this, m/s (per component).
const WIND_LIMIT: f64 = 25.0;

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
    /// Weight of one sample.
    pub weight: f64,
}

impl<'a> Run<'a> {
    pub fn new(straight: &'a Straight, voltage: Option<f64>, exponent: f64) -> Self {
        let n = straight.time.len();
        let scale = match voltage {
            Some(mean) if straight.voltage.len() == n => {
                straight.voltage.iter().map(|v| (v / mean).powf(exponent)).collect()
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
        let step = (straight.end_s - straight.start_s) / (n.max(2) - 1) as f64;
        Self {
            straight,
            scale,
            climb,
            weight: (step / GUST_S).min(1.0).sqrt() / GUST_M_S,
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
            .map(|(n, e)| (n - at.wind_north).hypot(e - at.wind_east))
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
            for (s, a) in out.iter().zip(air) {
                top += s.by_entry * (a - s.v);
                bottom += s.by_entry * s.by_entry;
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
        self.best(shape, at, air.first().copied().unwrap_or(at.level), &air, &mut out);
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
    pub level_range: (f64, f64),
}

struct Problem<'a> {
    runs: Vec<&'a Run<'a>>,
    setting: Setting,
    p: DVector<f64>,
    entries: Vec<f64>,
    residuals: DVector<f64>,
    jacobian: DMatrix<f64>,
}

fn logistic(p: f64) -> f64 {
    1.0 / (1.0 + (-p).exp())
}

fn logit(share: f64) -> f64 {
    let share = share.clamp(1e-4, 1.0 - 1e-4);
    (share / (1.0 - share)).ln()
}

/// Globals at `p` and the derivative of each by its own parameter.
fn globals(setting: &Setting, p: &DVector<f64>) -> (Globals, [f64; 4]) {
    let (low, high) = setting.level_range;
    let share = logistic(p[0]);
    let wind = |x: f64| (WIND_LIMIT * x.tanh(), WIND_LIMIT * (1.0 - x.tanh().powi(2)));
    let ((wind_north, d_north), (wind_east, d_east)) = (wind(p[1]), wind(p[2]));
    let (time_constant, d_tau) = match setting.fixed_time_constant {
        Some(value) => (value, 0.0),
        None => {
            let (short, long) = TIME_CONSTANT_RANGE_S;
            let ratio = (long / short).ln();
            let share = logistic(p[3]);
            let value = short * (ratio * share).exp();
            (value, value * ratio * share * (1.0 - share))
        }
    };
    (
        Globals {
            level: low + (high - low) * share,
            time_constant,
            wind_north,
            wind_east,
        },
        [(high - low) * share * (1.0 - share), d_north, d_east, d_tau],
    )
}

fn parameters(setting: &Setting, at: &Globals) -> DVector<f64> {
    let (low, high) = setting.level_range;
    let wind = |w: f64| (w / WIND_LIMIT).clamp(-0.999, 0.999).atanh();
    let mut p = vec![
        logit((at.level - low) / (high - low)),
        wind(at.wind_north),
        wind(at.wind_east),
    ];
    if setting.fixed_time_constant.is_none() {
        let (short, long) = TIME_CONSTANT_RANGE_S;
        p.push(logit((at.time_constant / short).ln() / (long / short).ln()));
    }
    DVector::from_vec(p)
}

/// Takes the direction `d` out of the rows `from..from + d.len()` of every column.
fn project(jacobian: &mut DMatrix<f64>, from: usize, d: &[f64]) {
    let bottom: f64 = d.iter().map(|x| x * x).sum();
    if bottom <= 0.0 {
        return;
    }
    for mut column in jacobian.column_iter_mut() {
        let top: f64 = d.iter().enumerate().map(|(k, x)| x * column[from + k]).sum();
        for (k, x) in d.iter().enumerate() {
            column[from + k] -= x * top / bottom;
        }
    }
}

impl Problem<'_> {
    fn evaluate(&mut self) {
        let (at, slope) = globals(&self.setting, &self.p);
        let free = self.setting.fixed_time_constant.is_none();
        let mut row = 0;
        let mut speeds = Vec::new();
        let (r, jac) = (&mut self.residuals, &mut self.jacobian);
        for (run, entry) in self.runs.iter().zip(&mut self.entries) {
            let s = run.straight;
            let n = s.time.len();
            let w = run.weight;
            let air = run.airspeed(&at);
            *entry = run.best(self.setting.shape, &at, *entry, &air, &mut speeds);
            for k in 0..n {
                let (an, ae) = (s.north[k] - at.wind_north, s.east[k] - at.wind_east);
                r[row + k] = w * (air[k] - speeds[k].v);
                jac[(row + k, 0)] = -w * speeds[k].by_level * slope[0];
                jac[(row + k, 1)] = -w * an / air[k].max(1e-3) * slope[1];
                jac[(row + k, 2)] = -w * ae / air[k].max(1e-3) * slope[2];
                if free {
                    jac[(row + k, 3)] = -w * speeds[k].by_time_constant * slope[3];
                }
            }
            let d: Vec<f64> = speeds.iter().map(|s| s.by_entry).collect();
            project(jac, row, &d);
            row += n;
            // Sideways: the pass's heading is the direction that leaves least across it.
            let w = w * SIDEWAYS;
            let (sn, se) = (0..n).fold((0.0, 0.0), |(sn, se), k| {
                let v = air[k];
                (
                    sn + v * (s.north[k] - at.wind_north),
                    se + v * (s.east[k] - at.wind_east),
                )
            });
            let length = sn.hypot(se).max(1e-9);
            let (en, ee) = (sn / length, se / length);
            let mut along = Vec::with_capacity(n);
            for k in 0..n {
                let (an, ae) = (s.north[k] - at.wind_north, s.east[k] - at.wind_east);
                r[row + k] = w * (ae * en - an * ee);
                jac[(row + k, 0)] = 0.0;
                jac[(row + k, 1)] = w * ee * slope[1];
                jac[(row + k, 2)] = -w * en * slope[2];
                if free {
                    jac[(row + k, 3)] = 0.0;
                }
                along.push(an * en + ae * ee);
            }
            project(jac, row, &along);
            row += n;
        }
        let prior = self.setting.wind;
        let rows = [
            ((at.wind_north - prior.north_m_s) / prior.se_m_s, 1, slope[1] / prior.se_m_s),
            ((at.wind_east - prior.east_m_s) / prior.se_m_s, 2, slope[2] / prior.se_m_s),
        ];
        for (value, column, d) in rows {
            r[row] = value;
            jac.row_mut(row).fill(0.0);
            jac[(row, column)] = d;
            row += 1;
        }
        if free {
            r[row] = (at.time_constant / PRIOR_TIME_CONSTANT_S).ln() / PRIOR_LN_SD;
            jac.row_mut(row).fill(0.0);
            jac[(row, 3)] = slope[3] / at.time_constant / PRIOR_LN_SD;
        }
    }
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Problem<'_> {
    type ParameterStorage = Owned<f64, Dyn>;
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;

    fn set_params(&mut self, p: &DVector<f64>) {
        self.p.copy_from(p);
        self.evaluate();
    }
    fn params(&self) -> DVector<f64> {
        self.p.clone()
    }
    fn residuals(&self) -> Option<DVector<f64>> {
        Some(self.residuals.clone())
    }
    fn jacobian(&self) -> Option<DMatrix<f64>> {
        Some(self.jacobian.clone())
    }
}

/// The best globals, and the curvature (inverse covariance under the nominal gusts) there in
/// level speed, wind north, wind east, ln(time constant); priors included.
pub fn solve(runs: Vec<&Run<'_>>, setting: Setting, start: &Globals) -> Option<(Globals, Matrix4<f64>)> {
    let free = setting.fixed_time_constant.is_none();
    let samples: usize = runs.iter().map(|r| r.straight.time.len()).sum();
    let rows = 2 * samples + 2 + usize::from(free);
    let columns = 3 + usize::from(free);
    let entries = runs
        .iter()
        .map(|r| r.airspeed(start).first().copied().unwrap_or(start.level))
        .collect();
    let p = parameters(&setting, start);
    let mut problem = Problem {
        runs,
        setting,
        p: p.clone(),
        entries,
        residuals: DVector::zeros(rows),
        jacobian: DMatrix::zeros(rows, columns),
    };
    problem.set_params(&p);
    let (problem, report) = LevenbergMarquardt::new()
        .with_ftol(1e-10)
        .with_xtol(1e-8)
        .with_patience(30)
        .minimize(problem);
    if !report.objective_function.is_finite() {
        return None;
    }
    let (at, slope) = globals(&problem.setting, &problem.p);
    let normal = problem.jacobian.transpose() * &problem.jacobian;
    let mut unit = slope;
    unit[3] = if free { slope[3] / at.time_constant } else { 1.0 };
    let mut curvature = Matrix4::zeros();
    for i in 0..columns {
        for j in 0..columns {
            curvature[(i, j)] = normal[(i, j)] / (unit[i] * unit[j]);
        }
    }
    if !free {
        curvature[(3, 3)] = f64::MAX.sqrt();
    }
    Some((at, curvature))
}
