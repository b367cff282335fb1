//! Drag from idle glides: what the jet loses of its energy height with the throttle closed.
//!
//! m·g·P_s = −D·v. The fan windmills meanwhile and its own drag is in D: no flight can tell it from
//! the airframe's, since both go with the dynamic pressure (adding c·q to the drag and to the thrust
//! of the same fan changes nothing that a logger sees). So the drag here is that of the jet with its
//! fan idling, and thrust found with it is counted from the idling fan.

use serde::{Deserialize, Serialize};

use crate::flight::air_path::{AirPath, Motion};
use crate::flight::phases::Phases;
use crate::physics::drag::{excess_thrust, induced_constant, polar_drag};
use crate::physics::turn::dynamic_pressure;
use crate::season::Finding;
use crate::stats;

/// Throttle up to which the fan only windmills in flight: at a tenth of the voltage the motor turns
/// slower than the airstream turns it (common practice, no source); a logged current must agree.
pub const IDLE_THROTTLE: f64 = 0.10;
/// Share of the flight's largest current above which the motor still works.
const IDLE_CURRENT: f64 = 0.03;
/// Wait after the throttle was closed until the fan windmills, s.
const RUN_DOWN_S: f64 = 1.0;
/// Closed throttles this close together are one glide, s.
const JOINED_S: f64 = 0.3;
/// Share of the greatest lift used, (stall speed/v)²·n, beyond which a polar is no parabola.
const LIFT_SHARE: f64 = 0.5;
/// Load factor up to which a glide counts where no stall speed is declared.
const LOAD_LIMIT: f64 = 1.5;
/// Glides wanted, and flights from which on the flights are the clusters: with fewer no scatter can
/// be told.
const GLIDES: usize = 3;
/// Ratio of the fastest to the slowest speed below which one term only is fitted.
const SPEED_RANGE: f64 = 1.3;
/// Span efficiency of a model jet, and how far it may be off, relative (common practice, no source).
const EFFICIENCY: f64 = 0.8;
const EFFICIENCY_SPREAD: f64 = 0.25;

/// What is known of the airframe.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Airframe {
    pub mass_kg: f64,
    pub span_m: Option<f64>,
    pub stall_speed_m_s: Option<f64>,
}

/// Where the induced drag comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Induced {
    /// Fitted, the span's own value weighed in where the span is declared.
    Fitted,
    /// Of the span: the glides' speeds lie too close together.
    OfSpan,
    /// None: no span, and the speeds lie too close together. The drag area takes it all.
    Left,
}

/// Drag with the fan idling, of one airframe and power system.
#[derive(Debug, Clone, PartialEq)]
pub struct IdleDrag {
    pub drag_area_m2: f64,
    /// K of [`crate::physics::drag`], N²/m².
    pub induced: f64,
    pub induced_from: Induced,
    pub flights: usize,
    pub glides: usize,
    pub windows: usize,
    pub slowest_m_s: f64,
    pub fastest_m_s: f64,
    /// (S, K) with each flight (below three flights: each glide) left out in turn.
    left_out: Vec<(f64, f64)>,
    /// The same with the span's own K one standard deviation higher; none without a span.
    other_span: Option<(f64, f64)>,
}

impl IdleDrag {
    /// Drag, N, and its standard error, at a density, an airspeed and a load factor.
    pub fn drag(&self, density_kg_m3: f64, v: f64, n: f64) -> (f64, f64) {
        let q = dynamic_pressure(density_kg_m3, v);
        let of = |(area, induced): (f64, f64)| polar_drag(area, induced, q, n);
        let value = of((self.drag_area_m2, self.induced));
        let left: Vec<f64> = self.left_out.iter().map(|p| of(*p)).collect();
        let g = left.len() as f64;
        // Jackknife: Efron and Tibshirani (1993), chapter 11.
        let se = (g - 1.0) / g.sqrt() * stats::sd(&left);
        let model = self.other_span.map_or(0.0, |p| of(p) - value);
        (value, se.hypot(model))
    }

    pub fn degrees_of_freedom(&self) -> f64 {
        self.left_out.len() as f64 - 1.0
    }
}

/// One window of a glide.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Window {
    /// Which glide of the flight.
    pub glide: usize,
    /// Dynamic pressure, Pa.
    pub q: f64,
    /// Load factor.
    pub n: f64,
    /// N.
    pub drag: f64,
    /// Airspeed, m/s.
    pub v: f64,
}

/// The idle glides of one flight, each cut into windows.
pub fn glides(
    path: &AirPath,
    phases: Option<&Phases>,
    airframe: Airframe,
    density_kg_m3: f64,
) -> Vec<Window> {
    let idle_current = path.most_current().map(|most| IDLE_CURRENT * most);
    // A closed throttle that moves a little is one glide.
    let mut spans: Vec<(f64, f64)> = Vec::new();
    for (from, to, throttle) in path.steady_throttle() {
        if throttle > IDLE_THROTTLE {
            continue;
        }
        match spans.last_mut() {
            Some(last) if from - last.1 < JOINED_S => last.1 = to,
            _ => spans.push((from, to)),
        }
    }
    let mut out = Vec::new();
    for (glide, (from, to)) in spans.into_iter().enumerate() {
        for m in path.windows(from + RUN_DOWN_S, to) {
            let flies = phases.is_some_and(|p| p.is_airborne(m.start_s) && p.is_airborne(m.end_s));
            let idles = m
                .current_a
                .zip(idle_current)
                .is_none_or(|(i, most)| i <= most);
            if flies && idles && parabolic(&m, airframe) {
                let v = m.airspeed_m_s;
                out.push(Window {
                    glide,
                    q: dynamic_pressure(density_kg_m3, v),
                    n: m.load_factor,
                    drag: -excess_thrust(airframe.mass_kg, m.excess_power_m_s, v),
                    v,
                });
            }
        }
    }
    out
}

/// Fits the drag of the glides of one airframe and power system, a list a flight, or says in words
/// why it cannot.
pub fn idle_drag(flights: &[Vec<Window>], airframe: Airframe) -> Result<IdleDrag, Finding> {
    // Flight, glide, window.
    let all: Vec<(usize, usize, &Window)> = flights
        .iter()
        .enumerate()
        .flat_map(|(f, windows)| windows.iter().map(move |w| (f, w.glide, w)))
        .collect();
    let mut glides: Vec<(usize, usize)> = all.iter().map(|(f, g, _)| (*f, *g)).collect();
    glides.dedup();
    let mut with: Vec<usize> = glides.iter().map(|g| g.0).collect();
    with.dedup();
    if glides.len() < GLIDES {
        return Err(Finding::note(
            "drag-no-glides",
            format!(
                "drag needs {GLIDES} glides with the throttle closed for three seconds or more; \
                 there are {}",
                glides.len()
            ),
            "close the throttle at the end of a pass and let the jet coast level for four seconds, \
             four times a flight",
        ));
    }
    let speeds = all.iter().map(|(_, _, w)| w.v);
    let slowest_m_s = speeds.clone().fold(f64::INFINITY, f64::min);
    let fastest_m_s = speeds.fold(0.0, f64::max);
    let wide = fastest_m_s > SPEED_RANGE * slowest_m_s;
    let span = airframe
        .span_m
        .map(|b| induced_constant(airframe.mass_kg, b, EFFICIENCY));
    let no_fit = || {
        Finding::note(
            "drag-no-fit",
            "the glides with the throttle closed do not give a drag above zero",
            "look at the height and the speed of these logs: a glide must lose energy",
        )
    };
    let fit = |keep: &dyn Fn(usize, usize) -> bool, k: Option<f64>| {
        let some: Vec<&Window> = all
            .iter()
            .filter(|(f, g, _)| keep(*f, *g))
            .map(|(_, _, w)| *w)
            .collect();
        solve(&some, wide, k)
    };
    let (drag_area_m2, induced) = fit(&|_, _| true, span).ok_or_else(no_fit)?;
    let left_out: Option<Vec<(f64, f64)>> = if with.len() >= GLIDES {
        with.iter()
            .map(|out| fit(&|f, _| f != *out, span))
            .collect()
    } else {
        glides
            .iter()
            .map(|out| fit(&|f, g| (f, g) != *out, span))
            .collect()
    };
    Ok(IdleDrag {
        drag_area_m2,
        induced,
        induced_from: match (wide, span) {
            (true, _) => Induced::Fitted,
            (false, Some(_)) => Induced::OfSpan,
            (false, None) => Induced::Left,
        },
        flights: with.len(),
        glides: glides.len(),
        windows: all.len(),
        slowest_m_s,
        fastest_m_s,
        left_out: left_out.ok_or_else(no_fit)?,
        other_span: span.and_then(|k| fit(&|_, _| true, Some(k * (1.0 + EFFICIENCY_SPREAD)))),
    })
}

/// Far enough from the stall that drag goes with the square of the lift.
fn parabolic(m: &Motion, airframe: Airframe) -> bool {
    match airframe.stall_speed_m_s {
        Some(stall) => m.load_factor * (stall / m.airspeed_m_s).powi(2) <= LIFT_SHARE,
        None => m.load_factor <= LOAD_LIMIT,
    }
}

/// (S, K) by least squares; `span`: the induced constant of the span, weighed in by its own spread.
fn solve(windows: &[&Window], wide: bool, span: Option<f64>) -> Option<(f64, f64)> {
    if !wide {
        let k = span.unwrap_or(0.0);
        let (mut qq, mut qy) = (0.0, 0.0);
        for w in windows {
            qq += w.q * w.q;
            qy += w.q * (w.drag - k * w.n * w.n / w.q);
        }
        return Some((qy / qq, k)).filter(|(s, _)| *s > 0.0);
    }
    let sums = |weight: f64| {
        let (mut aa, mut ab, mut bb, mut ay, mut by) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for w in windows {
            let (a, b) = (w.q, w.n * w.n / w.q);
            aa += a * a;
            ab += a * b;
            bb += b * b;
            ay += a * w.drag;
            by += b * w.drag;
        }
        if let Some(k) = span {
            bb += weight;
            by += weight * k;
        }
        let det = aa * bb - ab * ab;
        let fitted = ((ay * bb - by * ab) / det, (by * aa - ay * ab) / det);
        (det > 1e-9 * aa * bb).then_some(fitted)
    };
    // The span's value counts as one reading, whose error is the windows' own scatter in drag.
    let first = sums(0.0).or_else(|| sums(1e-6))?;
    let squares: f64 = windows
        .iter()
        .map(|w| (w.drag - w.q * first.0 - first.1 * w.n * w.n / w.q).powi(2))
        .sum();
    let variance = squares / (windows.len() as f64 - 2.0).max(1.0);
    let weight = span.map_or(0.0, |k| variance / (EFFICIENCY_SPREAD * k).powi(2));
    let (area, induced) = sums(weight)?;
    if induced < 0.0 {
        // Scatter cannot make lift cost nothing: the rest is the drag area's.
        return solve(windows, false, span);
    }
    Some((area, induced)).filter(|(s, _)| *s > 0.0)
}
