//! Full-throttle means of one power system: as measured, at a terminal voltage, on a pack.

use crate::bench::curve::{Bounded, FullThrottle, PowerSystemCurve, exact};
use crate::bench::model::Censor;
use crate::bench::reference_conditions::{SWEEP, step};
use crate::bench::repeats::Repeats;
use crate::bench::uncertainty::{Source, StepOf, Uncertain};
use crate::ingest::Channel;
use crate::stats::censored::{Seen, normal_fit};

/// Means of one side under one condition.
#[derive(Debug, Clone, Default)]
pub(super) struct Side {
    pub voltage: Option<Uncertain>,
    pub density: Option<Uncertain>,
    pub current: Option<Bounded>,
    pub power: Option<Bounded>,
    pub thrust: Option<Bounded>,
    pub exhaust: Option<Bounded>,
    pub points: usize,
}

fn mean_of<'a>(
    points: impl Iterator<Item = &'a FullThrottle>,
    of: impl Fn(&FullThrottle) -> Option<Uncertain>,
) -> Option<Uncertain> {
    let (mean, _) = Uncertain::mean(&points.filter_map(of).collect::<Vec<_>>())?;
    Some(mean)
}

/// Mean with its scatter. Bounds among the readings enter by their likelihood where at least two
/// other readings tell the scatter; else they make the mean a bound.
fn mean_of_bounded<'a>(
    points: impl Iterator<Item = &'a FullThrottle>,
    of: impl Fn(&FullThrottle) -> Option<Bounded>,
    (repeats, power, channel): (&Repeats, &str, Channel),
) -> Option<Bounded> {
    let all: Vec<Bounded> = points.filter_map(of).collect();
    if let Some(mean) = by_likelihood(&all, (power, channel)) {
        return Some((mean, Censor::Exact));
    }
    let has = |censor| all.iter().any(|(_, c)| *c == censor);
    let censor = match (has(Censor::Above), has(Censor::Below)) {
        (true, true) => return None,
        (true, false) => Censor::Above,
        (false, true) => Censor::Below,
        (false, false) => Censor::Exact,
    };
    let values: Vec<Uncertain> = all.into_iter().map(|(q, _)| q).collect();
    let (mean, worth) = Uncertain::mean(&values)?;
    let scattered = repeats.charge(mean, power, channel, worth);
    Some((scattered, censor))
}

/// The mean of readings of which some are bounds, by maximum likelihood; `None` where none is, or
/// where fewer than two different readings are values. What the readings share (scale, zero) is that
/// of the exact ones, the scatter that of the fit.
fn by_likelihood(readings: &[Bounded], (power, channel): (&str, Channel)) -> Option<Uncertain> {
    let exact: Vec<Uncertain> = readings
        .iter()
        .filter(|(_, c)| *c == Censor::Exact)
        .map(|(q, _)| q.clone())
        .collect();
    if exact.len() < 2 || exact.len() == readings.len() {
        return None;
    }
    let seen: Vec<Seen> = readings
        .iter()
        .map(|(q, censor)| match censor {
            Censor::Exact => Seen::Exact(q.value),
            Censor::Above => Seen::Above(q.value),
            Censor::Below => Seen::Below(q.value),
        })
        .collect();
    let fitted = normal_fit(&seen).ok()?;
    let (mean, _) = Uncertain::mean(&exact)?;
    let moved = Uncertain::apply(&[&mean], |x| x[0] * fitted.mean / mean.value)?;
    let source = Source::Repeatability {
        power: power.to_owned(),
        channel,
    };
    // Maximum likelihood divides by n where a variance wants n - 1.
    let freedom = exact.len() as f64 - 1.0;
    let small = (readings.len() as f64 / (readings.len() as f64 - 1.0)).sqrt();
    let u = fitted.covariance[0][0].sqrt() * small;
    Some(moved.with(source, u, freedom))
}

/// Means as measured: of the run with the highest voltage where the runs sweep it, else of all.
pub(super) fn measured(side: &PowerSystemCurve, repeats: &Repeats) -> Side {
    let voltage = |p: &FullThrottle| p.voltage.as_ref().map_or(f64::NAN, |v| v.value);
    let highest = side.full_throttle.iter().map(voltage).fold(0.0, f64::max);
    let chosen = |p: &&FullThrottle| {
        let v = voltage(p);
        v.is_nan() || v * SWEEP >= highest
    };
    let points = || side.full_throttle.iter().filter(chosen);
    let n = points().count();
    let with = |channel| (repeats, side.power.as_str(), channel);
    Side {
        voltage: mean_of(points(), |p| p.voltage.clone()),
        density: mean_of(points(), |p| Some(p.density.clone())),
        current: mean_of_bounded(points(), |p| p.current.clone(), with(Channel::Current)),
        // Volts are steady beside amps: the scatter of the power is that of the current.
        power: mean_of_bounded(points(), |p| p.power.clone(), with(Channel::Current)),
        thrust: mean_of_bounded(points(), |p| p.thrust.clone(), with(Channel::Thrust)),
        exhaust: mean_of_bounded(points(), |p| p.exhaust.clone(), with(Channel::ExhaustSpeed)),
        points: n,
    }
}

/// One full-throttle reading at the reference conditions: current, thrust, exhaust.
pub(super) struct Brought {
    pub current: Option<Bounded>,
    pub thrust: Option<Bounded>,
    pub exhaust: Option<Bounded>,
}

pub(super) fn bring(side: &PowerSystemCurve, point: &FullThrottle, to: (f64, f64)) -> Brought {
    let (e, name) = (&side.exponents, side.power.as_str());
    let thrust_v = e.thrust_by_voltage.uncertain(StepOf::ThrustByVoltage, name);
    let thrust_d = e.thrust_by_density.uncertain(StepOf::ThrustByDensity, name);
    let current_v = e
        .current_by_voltage
        .uncertain(StepOf::CurrentByVoltage, name);
    let current_d = e
        .current_by_density
        .uncertain(StepOf::CurrentByDensity, name);
    let from = |q: &Option<Bounded>, n: &Uncertain, m: &Uncertain| {
        let (q, censor) = q.as_ref()?;
        let stepped = step(q, (point.voltage.as_ref()?, &point.density), to, n, m)?;
        Some((stepped, *censor))
    };
    // T = rho·A·w²: the exhaust speed goes with the root of T/rho.
    let half = |n: &Uncertain, less: f64| Uncertain::apply(&[n], |x| 0.5 * (x[0] - less));
    let halves = half(&thrust_v, 0.0).zip(half(&thrust_d, 1.0));
    Brought {
        current: from(&point.current, &current_v, &current_d),
        thrust: from(&point.thrust, &thrust_v, &thrust_d),
        exhaust: halves.and_then(|(n, m)| from(&point.exhaust, &n, &m)),
    }
}

/// Means at terminal voltage `to.0` and density `to.1`.
pub(super) fn brought(side: &PowerSystemCurve, to: (f64, f64), repeats: &Repeats) -> Side {
    let points = || side.full_throttle.iter();
    let n = points().filter(|p| p.voltage.is_some()).count();
    let with = |channel| (repeats, side.power.as_str(), channel);
    let current = mean_of_bounded(
        points(),
        |p| bring(side, p, to).current,
        with(Channel::Current),
    );
    Side {
        voltage: Some(Uncertain::exact(to.0)),
        density: Some(Uncertain::exact(to.1)),
        power: current
            .as_ref()
            .and_then(|(i, censor)| Some((Uncertain::apply(&[i], |x| x[0] * to.0)?, *censor))),
        current,
        thrust: mean_of_bounded(
            points(),
            |p| bring(side, p, to).thrust,
            with(Channel::Thrust),
        ),
        exhaust: mean_of_bounded(
            points(),
            |p| bring(side, p, to).exhaust,
            with(Channel::ExhaustSpeed),
        ),
        points: n,
    }
}

/// The same on a pack: V = open − R·I(V), solved with the system's own exponents. A current that is
/// only bounded does not tell how far the pack sags.
pub(super) fn on_pack(
    side: &PowerSystemCurve,
    at: &Side,
    reference: f64,
    open: f64,
    resistance: &Uncertain,
) -> Option<Side> {
    let e = &side.exponents;
    let current = &exact(at.current.clone())?;
    let by_voltage = e
        .current_by_voltage
        .uncertain(StepOf::CurrentByVoltage, &side.power);
    let thrust_by_voltage = e
        .thrust_by_voltage
        .uncertain(StepOf::ThrustByVoltage, &side.power);
    let solve = |x: &[f64]| terminal_voltage(open, x[2], reference, x[0], x[1]);
    let inputs = [current, &by_voltage, resistance];
    let with = |q: &Option<Bounded>, f: &dyn Fn(f64, f64, f64) -> f64| {
        let (q, censor) = q.as_ref()?;
        let moved = Uncertain::apply(
            &[current, &by_voltage, resistance, q, &thrust_by_voltage],
            |x| f(solve(x), x[3], x[4]),
        )?;
        Some((moved, *censor))
    };
    let exactly = |f: &dyn Fn(&[f64]) -> f64| Some((Uncertain::apply(&inputs, f)?, Censor::Exact));
    let drawn = |x: &[f64]| x[0] * (solve(x) / reference).powf(x[1]);
    Some(Side {
        voltage: Uncertain::apply(&inputs, solve),
        density: at.density.clone(),
        current: exactly(&drawn),
        power: exactly(&|x| drawn(x) * solve(x)),
        thrust: with(&at.thrust, &|v, t, n| t * (v / reference).powf(n)),
        exhaust: with(&at.exhaust, &|v, w, n| w * (v / reference).powf(0.5 * n)),
        points: at.points,
    })
    .filter(|side| side.voltage.is_some())
}

/// Terminal voltage where V = open − R·I·(V/V_ref)^n, by bisection; NaN where there is none.
fn terminal_voltage(open: f64, resistance: f64, reference: f64, current: f64, n: f64) -> f64 {
    if !(open > 0.0 && resistance >= 0.0 && current >= 0.0) {
        return f64::NAN;
    }
    let (mut low, mut high) = (0.0, open);
    for _ in 0..100 {
        let v = 0.5 * (low + high);
        if v + resistance * current * (v / reference).powf(n) > open {
            high = v;
        } else {
            low = v;
        }
    }
    0.5 * (low + high)
}
