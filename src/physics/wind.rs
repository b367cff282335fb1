//! Airspeed and wind from velocities over ground. All in m/s (or any one unit of speed);
//! velocities as (east, north); wind as the velocity of the air, i.e. where it blows *to*.

/// Length of a velocity (or a way) by its two components. Asked of every sample of a log, many times: no
/// speed and no distance comes near an overflow or underflow of its square, which is all that the slower
/// `hypot` guards against.
pub fn length(one: f64, other: f64) -> f64 {
    (one * one + other * other).sqrt()
}

/// A velocity over ground or of the air.
pub type Velocity = (f64, f64);

/// Airspeed and wind that explain a set of ground velocities.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WindFit {
    pub airspeed: f64,
    pub wind_east: f64,
    pub wind_north: f64,
    /// Root mean square of | |g − w| − V |; zero for three legs.
    pub rms: f64,
    /// Standard uncertainties from the residuals (n − 3 degrees of freedom); NaN for three legs.
    pub u_airspeed: f64,
    pub u_wind_east: f64,
    pub u_wind_north: f64,
}

/// Ground velocity from speed and track (rad clockwise from north).
pub fn from_track(speed: f64, track_rad: f64) -> Velocity {
    (speed * track_rad.sin(), speed * track_rad.cos())
}

/// Airspeed and wind from three legs at one airspeed, on any three tracks.
///
/// |g_i − w| = V for each leg gives the linear system 2·(g_j − g_1)·w = |g_j|² − |g_1|². `None`
/// where the three velocities lie on a line. Source: Gray (1998), three-leg GPS method for true
/// airspeed.
pub fn three_legs(g: [Velocity; 3]) -> Option<WindFit> {
    linear_circle(&g)
}

/// Airspeed and wind from three legs at headings 120° apart, from the ground speeds alone.
///
/// Returns (airspeed, wind speed); `None` for speeds that no wind below airspeed explains.
/// Source: the equal-heading case of the three-leg method (attributed to Horton).
pub fn three_headings(ground_speed: [f64; 3]) -> Option<(f64, f64)> {
    let mean_square = ground_speed.iter().map(|v| v * v).sum::<f64>() / 3.0;
    let spread = ground_speed
        .iter()
        .map(|v| (v * v / mean_square - 1.0).powi(2))
        .sum::<f64>()
        / 6.0;
    let root = 0.25 - spread;
    if root.is_nan() || root < 0.0 {
        return None;
    }
    let b = 0.5 + root.sqrt();
    Some(((mean_square * b).sqrt(), (mean_square * spread / b).sqrt()))
}

/// Airspeed and wind from three or more ground velocities at one airspeed, by geometric least
/// squares: the sum of (|g − w| − V)² is least.
///
/// Gauss-Newton from the linear fit, which on a short arc pulls the circle small. `None` for fewer
/// than three legs, for legs on one line, or where it does not converge. Source: Chernov, Circular
/// and Linear Regression (2010), chapters 4 and 5. The velocities must be near equilibrium: in
/// turns and run-ups the airspeed is not one.
pub fn circle_fit(g: &[Velocity]) -> Option<WindFit> {
    let mut fit = linear_circle(g)?;
    if g.len() == 3 {
        return Some(fit);
    }
    let mut inverse = None;
    for _ in 0..100 {
        let (normal, gradient) = normal_equations(g, &fit);
        let inv = normal.try_inverse()?;
        let step = inv * gradient;
        fit.airspeed += step[0];
        fit.wind_east += step[1];
        fit.wind_north += step[2];
        inverse = Some(inv);
        if step.norm() <= 1e-12 * fit.airspeed.abs() {
            break;
        }
        if !step.norm().is_finite() {
            return None;
        }
    }
    let inverse = inverse?;
    let squares: f64 = g.iter().map(|v| residual(*v, &fit).powi(2)).sum();
    let variance = squares / (g.len() as f64 - 3.0);
    let u = |i: usize| (variance * inverse[(i, i)]).sqrt();
    fit.rms = (squares / g.len() as f64).sqrt();
    (fit.u_airspeed, fit.u_wind_east, fit.u_wind_north) = (u(0), u(1), u(2));
    (fit.airspeed > 0.0).then_some(fit)
}

fn residual(g: Velocity, fit: &WindFit) -> f64 {
    length(g.0 - fit.wind_east, g.1 - fit.wind_north) - fit.airspeed
}

fn normal_equations(
    g: &[Velocity],
    fit: &WindFit,
) -> (nalgebra::Matrix3<f64>, nalgebra::Vector3<f64>) {
    let mut normal = nalgebra::Matrix3::zeros();
    let mut gradient = nalgebra::Vector3::zeros();
    for v in g {
        let (e, n) = (v.0 - fit.wind_east, v.1 - fit.wind_north);
        let speed = length(e, n);
        let row = nalgebra::Vector3::new(1.0, e / speed, n / speed);
        normal += row * row.transpose();
        gradient += row * residual(*v, fit);
    }
    (normal, gradient)
}

/// Linear (Kåsa) circle through velocities: exact for three, least squares in |g|² for more.
fn linear_circle(g: &[Velocity]) -> Option<WindFit> {
    if g.len() < 3 || g.iter().any(|v| !(v.0.is_finite() && v.1.is_finite())) {
        return None;
    }
    let n = g.len() as f64;
    let (e0, n0) = (
        g.iter().map(|v| v.0).sum::<f64>() / n,
        g.iter().map(|v| v.1).sum::<f64>() / n,
    );
    let centred: Vec<Velocity> = g.iter().map(|v| (v.0 - e0, v.1 - n0)).collect();
    let sum = |f: &dyn Fn(f64, f64) -> f64| centred.iter().map(|v| f(v.0, v.1)).sum::<f64>();
    let (ee, nn, en) = (sum(&|e, _| e * e), sum(&|_, n| n * n), sum(&|e, n| e * n));
    let square = |e: f64, n: f64| e * e + n * n;
    let mean_square = sum(&square) / n;
    let be = sum(&|e, n| e * (square(e, n) - mean_square));
    let bn = sum(&|e, n| n * (square(e, n) - mean_square));
    let det = ee * nn - en * en;
    // Legs on one line leave the wind across it open.
    if det <= 1e-12 * (ee + nn) * (ee + nn) {
        return None;
    }
    let (ce, cn) = (
        0.5 * (be * nn - bn * en) / det,
        0.5 * (bn * ee - be * en) / det,
    );
    let mut fit = WindFit {
        airspeed: (mean_square + square(ce, cn)).sqrt(),
        wind_east: ce + e0,
        wind_north: cn + n0,
        rms: 0.0,
        u_airspeed: f64::NAN,
        u_wind_east: f64::NAN,
        u_wind_north: f64::NAN,
    };
    if g.len() > 3 {
        fit.rms = (g.iter().map(|v| residual(*v, &fit).powi(2)).sum::<f64>() / n).sqrt();
    }
    Some(fit)
}

/// Airspeed from a reciprocal pair flown along one *track* (crabbing): sqrt(mean² + crosswind²).
/// The plain mean of the two ground speeds reads low.
pub fn airspeed_track_held(ground: f64, ground_back: f64, crosswind: f64) -> f64 {
    (0.5 * (ground + ground_back)).hypot(crosswind)
}

/// Airspeed from a reciprocal pair flown at one *heading* and its reverse:
/// sqrt((g1² + g2²)/2 − wind²). The plain mean reads high. `None` for a wind above the speeds.
pub fn airspeed_heading_held(ground: f64, ground_back: f64, wind: f64) -> Option<f64> {
    let square = 0.5 * (ground * ground + ground_back * ground_back) - wind * wind;
    (square > 0.0).then(|| square.sqrt())
}
