//! What gusts do to the speed over ground, and how a fit looks through them.
//!
//! A jet does not follow a gust at once: the gust pushes, and the ground speed gives way over
//! seconds. So the residual of a run-up is no white noise but wanders off from the entry; a plain
//! least-squares fit takes the wandering for acceleration. Here the residual is modelled as a slow
//! state driven by gusts, seen through the receiver's noise, and every sequence of the fit passes
//! through the Kalman filter of that model, which leaves independent innovations (generalised least
//! squares; Harvey, Forecasting, Structural Time Series Models and the Kalman Filter, 1989, 3.4).

/// Standard deviation of the gusts along a pass, m/s, and how long one lasts, s (common practice,
/// no source).
pub const GUST_M_S: f64 = 0.7;
const GUST_S: f64 = 3.0;
/// Time in which the ground speed gives way to a gust, s: the run-up's own time constant, roughly.
const RESPONSE_S: f64 = 4.0;
/// Noise of one velocity sample, m/s.
const RECEIVER_M_S: f64 = 0.15;

/// The filter's gains at one sample; they depend on the times alone.
#[derive(Debug, Clone, Copy)]
struct Step {
    /// Carry-over from the sample before: of the speed, of the push into the speed, of the push.
    keep_speed: f64,
    push_in: f64,
    keep_push: f64,
    gain_speed: f64,
    gain_push: f64,
    /// 1/standard deviation of the innovation.
    weight: f64,
}

/// The filter over one pass.
#[derive(Debug, Clone)]
pub struct Whitener(Vec<Step>);

impl Whitener {
    pub fn new(time: &[f64]) -> Self {
        let push = (GUST_M_S / RESPONSE_S).powi(2);
        // Covariance of (speed, push): the entry speed is fitted, so it starts known.
        let (mut ss, mut sp, mut pp) = (0.0, 0.0, push);
        let mut steps = Vec::with_capacity(time.len());
        let mut previous = None;
        for &t in time {
            let (mut keep_speed, mut push_in, mut keep_push) = (1.0, 0.0, 1.0);
            if let Some(before) = previous {
                let dt: f64 = t - before;
                keep_speed = (-dt / RESPONSE_S).exp();
                keep_push = (-dt / GUST_S).exp();
                push_in = dt * 0.5 * (keep_speed + keep_push);
                let fresh = push * (1.0 - keep_push * keep_push);
                let ss_next = keep_speed * keep_speed * ss
                    + 2.0 * keep_speed * push_in * sp
                    + push_in * push_in * pp
                    + fresh * dt * dt / 3.0;
                let sp_next = keep_push * (keep_speed * sp + push_in * pp) + fresh * dt / 2.0;
                pp = keep_push * keep_push * pp + fresh;
                (ss, sp) = (ss_next, sp_next);
            }
            let variance = ss + RECEIVER_M_S * RECEIVER_M_S;
            let (gain_speed, gain_push) = (ss / variance, sp / variance);
            steps.push(Step {
                keep_speed,
                push_in,
                keep_push,
                gain_speed,
                gain_push,
                weight: 1.0 / variance.sqrt(),
            });
            let (ss_before, sp_before) = (ss, sp);
            ss -= gain_speed * ss_before;
            sp -= gain_speed * sp_before;
            pp -= gain_push * sp_before;
            previous = Some(t);
        }
        Self(steps)
    }

    /// A filter for one sequence, to be fed sample by sample.
    pub fn sequence(&self) -> Sequence<'_> {
        Sequence {
            steps: self.0.iter(),
            speed: 0.0,
            push: 0.0,
        }
    }
}

pub struct Sequence<'a> {
    steps: std::slice::Iter<'a, Step>,
    speed: f64,
    push: f64,
}

impl Sequence<'_> {
    /// The scaled innovation of the next value; 0 beyond the end of the pass.
    pub fn next(&mut self, value: f64) -> f64 {
        let Some(step) = self.steps.next() else {
            return 0.0;
        };
        let speed = step.keep_speed * self.speed + step.push_in * self.push;
        let push = step.keep_push * self.push;
        let innovation = value - speed;
        self.speed = speed + step.gain_speed * innovation;
        self.push = push + step.gain_push * innovation;
        innovation * step.weight
    }
}
