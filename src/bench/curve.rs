//! The bench curve of a power system at reference conditions, and its full-throttle readings.

use crate::bench::air::density;
use crate::bench::checks::{electrical_power, outlet_area};
use crate::bench::model::{BenchPoint, BenchRun, Censor};
use crate::bench::reference_conditions::{EQUAL_THROTTLE, Exponents, exponents, step};
use crate::bench::uncertainty::{Source, StepOf, Uncertain};
use crate::ingest::Channel;
use crate::physics::power_curve::{Exponent, PowerCurve, between_knots};
use crate::season::{Finding, Season};
use crate::stats::pava::isotonic;

/// What the runs of one power system show together.
#[derive(Debug, Clone, PartialEq)]
pub struct PowerSystemCurve {
    pub power: String,
    /// Mean terminal voltage of the full-throttle readings, else that at the highest throttle, V;
    /// the curves hold at it.
    pub reference_voltage_v: Option<f64>,
    pub reference_density_kg_m3: f64,
    /// `None` with fewer than two throttles.
    pub current: Option<PowerCurve>,
    pub thrust: Option<ThrustCurve>,
    pub exponents: Exponents,
    /// `None` where neither outlet nor fan diameter is known.
    pub outlet_area: Option<Uncertain>,
    pub full_throttle: Vec<FullThrottle>,
    /// Every reading with a throttle and a voltage, at the reference conditions.
    pub points: Vec<ReferencePoint>,
    pub findings: Vec<Finding>,
}

/// Static thrust by throttle, like [`PowerCurve`].
#[derive(Debug, Clone, PartialEq)]
pub struct ThrustCurve {
    pub throttle: Vec<f64>,
    pub thrust_n: Vec<f64>,
    /// Standard uncertainty at the knots, N.
    pub thrust_u_n: Vec<f64>,
    pub reference_voltage_v: f64,
    pub reference_density_kg_m3: f64,
    pub voltage_exponent: Exponent,
    pub density_exponent: Exponent,
}

impl ThrustCurve {
    /// Thrust (N) and its standard uncertainty; `None` outside the bench's throttle range.
    pub fn thrust(&self, throttle: f64, voltage: f64, density: f64) -> Option<(f64, f64)> {
        let (thrust, u) =
            between_knots(&self.throttle, &self.thrust_n, &self.thrust_u_n, throttle)?;
        let (by_voltage, uv) = self
            .voltage_exponent
            .step(self.reference_voltage_v, voltage)?;
        let (by_density, ud) = self
            .density_exponent
            .step(self.reference_density_kg_m3, density)?;
        let value = thrust * by_voltage * by_density;
        let u = (u * by_voltage * by_density)
            .hypot(value * uv)
            .hypot(value * ud);
        Some((value, u))
    }
}

/// One full-throttle reading with its uncertainties by source.
#[derive(Debug, Clone, PartialEq)]
pub struct FullThrottle {
    pub run: String,
    pub line: u32,
    pub density: Uncertain,
    pub voltage: Option<Uncertain>,
    pub current: Option<Bounded>,
    pub power: Option<Bounded>,
    pub thrust: Option<Bounded>,
    pub exhaust: Option<Bounded>,
}

/// A value, or a bound at the end of its instrument.
pub type Bounded = (Uncertain, Censor);

/// One reading at reference conditions.
#[derive(Debug, Clone, PartialEq)]
pub struct ReferencePoint {
    pub run: String,
    pub line: u32,
    pub throttle: f64,
    pub current: Option<Uncertain>,
    pub thrust: Option<Uncertain>,
}

/// The curve of `power` from its `runs`. `None` when the season does not know the system or no run
/// has a usable full-throttle reading or a throttle.
pub fn curve(power: &str, runs: &[&BenchRun], season: &Season) -> Option<PowerSystemCurve> {
    let system = season.powers.get(power)?;
    let runs: Vec<&BenchRun> = runs.iter().copied().filter(|r| r.power == power).collect();
    let limit = season.rules.full_throttle.value;
    let exponents = exponents(system, &runs, limit);
    let full_throttle: Vec<FullThrottle> = runs
        .iter()
        .flat_map(|run| run.points.iter().map(move |p| (*run, p)))
        .filter(|(_, p)| p.throttle.is_some_and(|u| u >= limit))
        .map(|(run, p)| full(run, p))
        .collect();
    if runs.iter().all(|r| r.points.is_empty()) {
        return None;
    }
    let at_full = mean(
        full_throttle
            .iter()
            .filter_map(|p| Some(p.voltage.as_ref()?.value)),
    );
    let reference_voltage_v = at_full.or_else(|| voltage_at_top(&runs));
    let reference_density_kg_m3 = mean(full_throttle.iter().map(|p| p.density.value))
        .or_else(|| mean(runs.iter().map(|r| r.density.value)))?;
    let points: Vec<ReferencePoint> = match reference_voltage_v {
        Some(v) => runs
            .iter()
            .flat_map(|run| run.points.iter().map(move |p| (*run, p)))
            .filter_map(|(run, p)| {
                at_reference(run, p, &exponents, power, (v, reference_density_kg_m3))
            })
            .collect(),
        None => Vec::new(),
    };
    let mut found = PowerSystemCurve {
        power: power.to_owned(),
        reference_voltage_v,
        reference_density_kg_m3,
        current: None,
        thrust: None,
        outlet_area: system.outlet_area_m2.map(|area| outlet_area(area, power)),
        exponents,
        full_throttle,
        points,
        findings: Vec::new(),
    };
    if found.full_throttle.is_empty() {
        found.findings.push(
            Finding::warning(
                "no-full-throttle",
                format!("no bench reading of {power} is at full throttle"),
                "Add a full-throttle row, or declare the throttle's ends; without one there is no \
                 static gain.",
            )
            .in_file(runs.first().map(|r| r.file.clone()).unwrap_or_default()),
        );
    }
    draw(&mut found);
    Some(found)
}

/// Voltage at the highest throttle, where no run reaches full throttle.
fn voltage_at_top(runs: &[&BenchRun]) -> Option<f64> {
    runs.iter()
        .flat_map(|run| &run.points)
        .filter_map(|p| Some((p.throttle?, p.exact(Channel::Voltage)?.value)))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, voltage)| voltage)
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let values: Vec<f64> = values.collect();
    (!values.is_empty()).then(|| crate::stats::mean(&values))
}

fn full(run: &BenchRun, point: &BenchPoint) -> FullThrottle {
    let read = |channel| {
        let reading = point.get(channel)?;
        let value = Uncertain::reading(reading, &run.id, point.line, channel);
        Some((value, reading.censor))
    };
    let voltage = exact(read(Channel::Voltage));
    let current = read(Channel::Current);
    let power = electrical_power(point, &run.id).map(|p| (p, Censor::Exact));
    // Watts of a current that is a bound are one, where no meter shows them.
    let bound = || {
        let (amps, censor) = current.as_ref()?;
        let watts = Uncertain::apply(&[voltage.as_ref()?, amps], |x| x[0] * x[1])?;
        Some((watts, *censor))
    };
    FullThrottle {
        run: run.id.clone(),
        line: point.line,
        density: density(run.density, &run.id),
        power: power.or_else(bound),
        voltage,
        current,
        thrust: read(Channel::Thrust),
        exhaust: read(Channel::ExhaustSpeed),
    }
}

/// The value, where it is one.
pub(super) fn exact(reading: Option<Bounded>) -> Option<Uncertain> {
    reading
        .filter(|(_, censor)| *censor == Censor::Exact)
        .map(|(value, _)| value)
}

fn at_reference(
    run: &BenchRun,
    point: &BenchPoint,
    exponents: &Exponents,
    power: &str,
    to: (f64, f64),
) -> Option<ReferencePoint> {
    let throttle = point.throttle?;
    let read = |channel| {
        let reading = point.exact(channel)?;
        Some(Uncertain::reading(reading, &run.id, point.line, channel))
    };
    let voltage = read(Channel::Voltage).filter(|v| v.value > 0.0)?;
    let rho = density(run.density, &run.id);
    let mut by_voltage = exponents.current_by_voltage;
    by_voltage.exponent = by_voltage.exponent.of_current_at(throttle);
    let bring =
        |channel, n: Uncertain, m: Uncertain| step(&read(channel)?, (&voltage, &rho), to, &n, &m);
    Some(ReferencePoint {
        run: run.id.clone(),
        line: point.line,
        throttle,
        current: bring(
            Channel::Current,
            by_voltage.uncertain(StepOf::CurrentByVoltage, power),
            exponents
                .current_by_density
                .uncertain(StepOf::CurrentByDensity, power),
        ),
        thrust: bring(
            Channel::Thrust,
            exponents
                .thrust_by_voltage
                .uncertain(StepOf::ThrustByVoltage, power),
            exponents
                .thrust_by_density
                .uncertain(StepOf::ThrustByDensity, power),
        ),
    })
}

/// Knots of one quantity: repeats averaged, means that fall pooled.
struct Knots {
    throttle: Vec<f64>,
    value: Vec<f64>,
    u: Vec<f64>,
    /// Throttles whose means had to be pooled.
    pooled: Vec<f64>,
}

fn knots(
    points: &[ReferencePoint],
    (power, channel): (&str, Channel),
    of: fn(&ReferencePoint) -> Option<&Uncertain>,
) -> Option<Knots> {
    let mut sorted: Vec<(f64, &Uncertain)> = points
        .iter()
        .filter_map(|p| Some((p.throttle, of(p)?)))
        .collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let groups: Vec<(f64, Uncertain, usize)> = sorted
        .chunk_by(|a, b| b.0 - a.0 < EQUAL_THROTTLE)
        .filter_map(|group| {
            let throttle = group.iter().map(|g| g.0).sum::<f64>() / group.len() as f64;
            let all: Vec<Uncertain> = group.iter().map(|g| g.1.clone()).collect();
            let values: Vec<f64> = all.iter().map(|q| q.value).collect();
            let (mut mean, _) = Uncertain::mean(&all)?;
            if values.len() > 1 {
                // Scatter that the readings' own uncertainty does not explain.
                let scatter = crate::stats::sd(&values) / (values.len() as f64).sqrt();
                let excess = scatter.powi(2) - mean.u().powi(2);
                if excess > 0.0 {
                    let source = Source::Repeatability {
                        power: power.to_owned(),
                        channel,
                    };
                    mean = mean.with(source, excess.sqrt(), values.len() as f64 - 1.0);
                }
            }
            Some((throttle, mean, all.len()))
        })
        .collect();
    if groups.len() < 2 {
        return None;
    }
    let y: Vec<f64> = groups.iter().map(|g| g.1.value).collect();
    let weights: Vec<f64> = groups.iter().map(|g| g.2 as f64).collect();
    let value = isotonic(&y, &weights)?;
    let mut throttle: Vec<f64> = groups.iter().map(|g| g.0).collect();
    // Full throttle is full throttle, however the stick's end was read.
    if let Some(last) = throttle.last_mut().filter(|u| **u > 1.0 - EQUAL_THROTTLE) {
        *last = 1.0;
    }
    let pooled = (0..y.len())
        .filter(|i| value[*i] != y[*i])
        .map(|i| throttle[i])
        .collect();
    let u = (0..y.len())
        .map(|i| groups[i].1.u().hypot(value[i] - y[i]))
        .collect();
    Some(Knots {
        throttle,
        value,
        u,
        pooled,
    })
}

fn draw(found: &mut PowerSystemCurve) {
    let Some(reference_voltage_v) = found.reference_voltage_v else {
        return;
    };
    let current = knots(&found.points, (&found.power, Channel::Current), |p| {
        p.current.as_ref()
    });
    let thrust = knots(&found.points, (&found.power, Channel::Thrust), |p| {
        p.thrust.as_ref()
    });
    for (word, knots) in [("current", &current), ("thrust", &thrust)] {
        let Some(pooled) = knots.as_ref().map(|k| &k.pooled).filter(|p| !p.is_empty()) else {
            continue;
        };
        let at: Vec<String> = pooled
            .iter()
            .map(|u| format!("{:.0} %", 100.0 * u))
            .collect();
        found.findings.push(Finding::warning(
            "falling-curve",
            format!(
                "the bench {word} of {} falls with rising throttle at {}",
                found.power,
                at.join(", ")
            ),
            "The means there were pooled and the uncertainty widened; check the supply and repeat \
             those throttles.",
        ));
    }
    if current.is_none() && !found.full_throttle.is_empty() {
        found.findings.push(Finding::note(
            "one-throttle",
            format!(
                "the bench runs of {} have current at one throttle only",
                found.power
            ),
            "There is no curve by throttle: bench rows at 40, 60 and 80 % throttle would tell the \
             power at part throttle.",
        ));
    }
    let e = &found.exponents;
    found.current = current.map(|k| PowerCurve {
        power: found.power.clone(),
        throttle: k.throttle,
        current_a: k.value,
        current_u_a: k.u,
        reference_voltage_v,
        reference_density_kg_m3: found.reference_density_kg_m3,
        voltage_exponent: e.current_by_voltage.for_curve(),
        density_exponent: e.current_by_density.for_curve(),
    });
    found.thrust = thrust.map(|k| ThrustCurve {
        throttle: k.throttle,
        thrust_n: k.value,
        thrust_u_n: k.u,
        reference_voltage_v,
        reference_density_kg_m3: found.reference_density_kg_m3,
        voltage_exponent: e.thrust_by_voltage.for_curve(),
        density_exponent: e.thrust_by_density.for_curve(),
    });
}
