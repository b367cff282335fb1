//! Uncertainty of bench quantities by linear propagation (JCGM 100:2008, GUM, 5.2): every quantity
//! keeps the signed contribution of each source, so that what two readings share (the scale error
//! of one instrument) cancels in a ratio and what they do not share does not.

use std::collections::BTreeMap;

use crate::bench::model::Measured;
use crate::ingest::Channel;
use crate::season::{Accuracy, BenchDecl, Declared, Season};
use crate::stats::t_quantile;

/// Where an error comes from. Equal sources are one and the same error.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Source {
    /// Scale error of an instrument, the same wherever it is used.
    Scale {
        instrument: String,
        channel: Channel,
    },
    /// Zero error: an instrument is zeroed anew for each run.
    Zero {
        run: String,
        channel: Channel,
    },
    /// Resolution and what a failed check added, of one reading.
    Reading {
        run: String,
        line: u32,
        channel: Channel,
    },
    /// Scatter of repeats on one side.
    Repeatability {
        power: String,
        channel: Channel,
    },
    Density {
        run: String,
    },
    /// Outlet area of one power system, or of all that declare the same one.
    OutletArea {
        of: String,
    },
    /// Exponent of a step to reference conditions; `power` is none for what defaults share.
    Exponent {
        of: StepOf,
        power: Option<String>,
    },
    PackResistance,
}

/// Which exponent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum StepOf {
    ThrustByVoltage,
    CurrentByVoltage,
    ThrustByDensity,
    CurrentByDensity,
}

/// Contribution of one source to a quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Sensitivity times standard uncertainty; the sign matters where sources are shared.
    pub u: f64,
    /// Degrees of freedom; infinite for a limit stated beforehand (type B).
    pub degrees_of_freedom: f64,
}

/// A value with its contributions.
#[derive(Debug, Clone, PartialEq)]
pub struct Uncertain {
    pub value: f64,
    pub parts: BTreeMap<Source, Part>,
}

impl Uncertain {
    pub fn exact(value: f64) -> Self {
        Self {
            value,
            parts: BTreeMap::new(),
        }
    }

    /// Adds an uncertainty `u` (standard, absolute) of its own to the quantity.
    pub fn with(mut self, source: Source, u: f64, degrees_of_freedom: f64) -> Self {
        if u != 0.0 {
            self.parts.insert(
                source,
                Part {
                    u,
                    degrees_of_freedom,
                },
            );
        }
        self
    }

    pub fn reading(measured: &Measured, run: &str, line: u32, channel: Channel) -> Self {
        let instrument = measured
            .instrument
            .clone()
            .unwrap_or_else(|| format!("undeclared in {run}"));
        Self::exact(measured.value)
            .with(
                Source::Scale {
                    instrument,
                    channel,
                },
                measured.u_scale * measured.value,
                f64::INFINITY,
            )
            .with(
                Source::Zero {
                    run: run.to_owned(),
                    channel,
                },
                measured.u_zero,
                f64::INFINITY,
            )
            .with(
                Source::Reading {
                    run: run.to_owned(),
                    line,
                    channel,
                },
                measured.u_independent,
                f64::INFINITY,
            )
    }

    /// `f` of `inputs`, contributions propagated to first order with central differences. `None`
    /// where `f` is not finite.
    pub fn apply(inputs: &[&Self], f: impl Fn(&[f64]) -> f64) -> Option<Self> {
        let mut x: Vec<f64> = inputs.iter().map(|q| q.value).collect();
        let value = f(&x);
        if !value.is_finite() {
            return None;
        }
        let mut parts: BTreeMap<Source, Part> = BTreeMap::new();
        for (i, input) in inputs.iter().enumerate() {
            if input.parts.is_empty() {
                continue;
            }
            let step = (input.value.abs() * 1e-6).max(1e-9);
            x[i] = input.value + step;
            let above = f(&x);
            x[i] = input.value - step;
            let below = f(&x);
            x[i] = input.value;
            let slope = (above - below) / (2.0 * step);
            if !slope.is_finite() {
                return None;
            }
            for (source, part) in &input.parts {
                let entry = parts.entry(source.clone()).or_insert(Part {
                    u: 0.0,
                    degrees_of_freedom: part.degrees_of_freedom,
                });
                entry.u += slope * part.u;
                entry.degrees_of_freedom = entry.degrees_of_freedom.min(part.degrees_of_freedom);
            }
        }
        Some(Self { value, parts })
    }

    /// Mean weighted by what each quantity does not share with the others; plain where that is 0.
    pub fn mean(inputs: &[Self]) -> Option<Self> {
        let own: Vec<f64> = inputs.iter().map(Self::own_variance).collect();
        let equal = own.iter().any(|v| *v <= 0.0);
        let weights: Vec<f64> = own
            .iter()
            .map(|v| if equal { 1.0 } else { 1.0 / v })
            .collect();
        let sum: f64 = weights.iter().sum();
        let refs: Vec<&Self> = inputs.iter().collect();
        Self::apply(&refs, |x| {
            x.iter().zip(&weights).map(|(x, w)| x * w).sum::<f64>() / sum
        })
    }

    /// Variance without the scale errors of instruments.
    fn own_variance(&self) -> f64 {
        self.parts
            .iter()
            .filter(|(source, _)| !matches!(source, Source::Scale { .. }))
            .map(|(_, part)| part.u * part.u)
            .sum()
    }

    /// Combined standard uncertainty.
    pub fn u(&self) -> f64 {
        self.parts.values().map(|p| p.u * p.u).sum::<f64>().sqrt()
    }

    /// Effective degrees of freedom (Welch-Satterthwaite, GUM G.4).
    pub fn degrees_of_freedom(&self) -> f64 {
        let below: f64 = self
            .parts
            .values()
            .map(|p| p.u.powi(4) / p.degrees_of_freedom)
            .sum();
        if below > 0.0 {
            self.u().powi(4) / below
        } else {
            f64::INFINITY
        }
    }

    /// Half-width of the two-sided interval at `level`.
    pub fn half_width(&self, level: f64) -> f64 {
        match self.u() {
            0.0 => 0.0,
            u => t_quantile(0.5 + 0.5 * level, self.degrees_of_freedom()) * u,
        }
    }
}

/// Standard uncertainty of a rectangular distribution of half-width `limit` (GUM 4.3.7).
pub fn rectangular(limit: f64) -> f64 {
    limit / 3f64.sqrt()
}

/// Standard uncertainty of a display that steps by `step` (GUM F.2.2.1).
pub fn resolution(step: f64) -> f64 {
    step / 12f64.sqrt()
}

/// Word of a channel as instruments and channel maps name it.
pub fn channel_word(channel: Channel) -> &'static str {
    match channel {
        Channel::Voltage => "voltage",
        Channel::Current => "current",
        Channel::Power => "power",
        Channel::Thrust => "thrust",
        Channel::ExhaustSpeed => "exhaust_speed",
        Channel::AngularSpeed => "angular_speed",
        Channel::Throttle => "throttle",
        _ => "other",
    }
}

/// The instrument that a run used for `channel`, with its accuracy.
pub fn instrument_for(
    season: &Season,
    decl: &BenchDecl,
    channel: Channel,
) -> Option<(String, Accuracy)> {
    let word = channel_word(channel);
    decl.instruments.iter().find_map(|id| {
        let measures = &season.instruments.get(id)?.measures;
        let accuracy = measures.get(word).or_else(|| {
            (channel == Channel::AngularSpeed)
                .then(|| measures.get("rpm"))
                .flatten()
        })?;
        Some((id.clone(), accuracy.clone()))
    })
}

/// What stands in for an instrument that is not declared: limits that hobby instruments keep
/// (common practice, no source).
pub fn default_accuracy(channel: Channel) -> Accuracy {
    let fraction = match channel {
        Channel::Voltage => 0.01,
        Channel::Current | Channel::Thrust => 0.02,
        Channel::Power => 0.03,
        Channel::ExhaustSpeed => 0.05,
        _ => 0.005,
    };
    let default = |value| Declared {
        value,
        is_default: true,
    };
    Accuracy {
        fraction: default(fraction),
        absolute: default(0.0),
        resolution: default(0.0),
        range_end: None,
        peak_hold: false,
    }
}
