//! Repeatability of full-throttle readings: scatter of repeats within a run and between runs,
//! pooled over both sides of a comparison (type A, GUM 4.2); an assumed one where nothing repeats.

use std::collections::BTreeMap;

use crate::bench::curve::{FullThrottle, PowerSystemCurve, exact};
use crate::bench::reference_conditions::Origin;
use crate::bench::side::bring;
use crate::bench::uncertainty::{Source, USUAL_SCATTER, Uncertain};
use crate::ingest::Channel;

/// Degrees of freedom of an assumed scatter: itself uncertain by a quarter (GUM G.4.2).
const ASSUMED_FREEDOM: f64 = 8.0;

/// Relative standard deviation of a single reading, with its degrees of freedom.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Scatter {
    relative: f64,
    degrees_of_freedom: f64,
}

/// Scatter by channel.
#[derive(Debug, Clone, Default)]
pub struct Repeats {
    within: BTreeMap<Channel, Scatter>,
    between: BTreeMap<Channel, Scatter>,
    /// Runs with full-throttle readings, by power system.
    runs: BTreeMap<String, usize>,
}

const CHANNELS: [Channel; 3] = [Channel::Current, Channel::Thrust, Channel::ExhaustSpeed];

impl Repeats {
    pub(super) fn of(sides: &[&PowerSystemCurve]) -> Self {
        let mut repeats = Self::default();
        let mut squares: BTreeMap<(Channel, bool), (f64, f64)> = BTreeMap::new();
        for side in sides {
            let mut by_run: BTreeMap<&str, Vec<&FullThrottle>> = BTreeMap::new();
            for point in &side.full_throttle {
                by_run.entry(&point.run).or_default().push(point);
            }
            repeats.runs.insert(side.power.clone(), by_run.len());
            for channel in CHANNELS {
                let mut means = Vec::new();
                for points in by_run.values() {
                    let logs: Vec<f64> = points
                        .iter()
                        .filter_map(|p| log_value(side, p, channel))
                        .collect();
                    if let Some(mean) = add(&mut squares, (channel, true), &logs, 0.0) {
                        means.push(mean);
                    }
                }
                // A fitted exponent used up one degree of freedom of the run means.
                let used = fitted(side, channel);
                add(&mut squares, (channel, false), &means, used);
            }
        }
        for ((channel, within), (sum, freedom)) in squares {
            if freedom <= 0.0 {
                continue;
            }
            let scatter = Scatter {
                relative: (sum / freedom).sqrt(),
                degrees_of_freedom: freedom,
            };
            if within {
                repeats.within.insert(channel, scatter);
            } else {
                repeats.between.insert(channel, scatter);
            }
        }
        repeats
    }

    /// Adds the scatter of a mean that is worth `n` readings of one system.
    pub(super) fn charge(
        &self,
        mean: Uncertain,
        power: &str,
        channel: Channel,
        n: f64,
    ) -> Uncertain {
        let runs = self.runs.get(power).copied().unwrap_or(1).max(1) as f64;
        let of_mean = |scatter: Option<&Scatter>, count: f64| {
            scatter.map(|s| (s.relative / count.sqrt(), s.degrees_of_freedom))
        };
        let (relative, freedom) = [
            of_mean(self.within.get(&channel), n.max(1.0)),
            of_mean(self.between.get(&channel), runs),
        ]
        .into_iter()
        .flatten()
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap_or((assumed(channel), ASSUMED_FREEDOM));
        let source = Source::Repeatability {
            power: power.to_owned(),
            channel,
        };
        let u = relative * mean.value.abs();
        mean.with(source, u, freedom)
    }

    pub(super) fn words(&self) -> String {
        let count = |scatter: &BTreeMap<Channel, Scatter>| {
            scatter
                .get(&Channel::Thrust)
                .map_or(0.0, |s| s.degrees_of_freedom)
        };
        let (within, between) = (count(&self.within), count(&self.between));
        if within + between == 0.0 {
            format!(
                "no repeats: {:.0} % scatter assumed (common practice, no source)",
                100.0 * assumed(Channel::Thrust)
            )
        } else {
            format!(
                "scatter from repeats ({within:.0} degrees of freedom within runs, {between:.0} \
                 between)"
            )
        }
    }
}

/// Scatter assumed where nothing repeats.
fn assumed(channel: Channel) -> f64 {
    match channel {
        Channel::ExhaustSpeed => 0.03,
        _ => USUAL_SCATTER,
    }
}

fn fitted(side: &PowerSystemCurve, channel: Channel) -> f64 {
    let step = match channel {
        Channel::Current => side.exponents.current_by_voltage,
        _ => side.exponents.thrust_by_voltage,
    };
    if step.origin == Origin::Fitted {
        1.0
    } else {
        0.0
    }
}

/// ln of the reading, at the side's own reference conditions where a voltage was read.
fn log_value(side: &PowerSystemCurve, point: &FullThrottle, channel: Channel) -> Option<f64> {
    let raw = || match channel {
        Channel::Current => exact(point.current.clone()),
        Channel::Thrust => exact(point.thrust.clone()),
        _ => exact(point.exhaust.clone()),
    };
    let stepped = side.reference_voltage_v.and_then(|v| {
        let brought = bring(side, point, (v, side.reference_density_kg_m3));
        match channel {
            Channel::Current => exact(brought.current),
            Channel::Thrust => exact(brought.thrust),
            _ => exact(brought.exhaust),
        }
    });
    let value = stepped.or_else(raw)?.value;
    (value > 0.0).then(|| value.ln())
}

/// Adds the sum of squares about the mean; returns the mean.
fn add(
    squares: &mut BTreeMap<(Channel, bool), (f64, f64)>,
    key: (Channel, bool),
    values: &[f64],
    used: f64,
) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let mean = crate::stats::mean(values);
    let freedom = values.len() as f64 - 1.0 - used;
    if freedom > 0.0 {
        let entry = squares.entry(key).or_insert((0.0, 0.0));
        entry.0 += values.iter().map(|v| (v - mean).powi(2)).sum::<f64>();
        entry.1 += freedom;
    }
    Some(mean)
}
