//! Uncertainty of bench quantities by linear propagation (JCGM 100:2008, GUM, 5.2): every quantity
//! keeps the signed contribution of each source, so that what two readings share (the scale error
//! of one instrument) cancels in a ratio and what they do not share does not.

use std::collections::BTreeMap;

use crate::bench::model::Measured;
use crate::ingest::Channel;
use crate::stats::gum::{Input, sensitivities, welch_satterthwaite};
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

/// Scatter of single readings taken with care by hand, relative (common practice, no source).
pub const USUAL_SCATTER: f64 = 0.01;

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
        let x: Vec<Input> = inputs
            .iter()
            .map(|q| Input::known(q.value, q.u()))
            .collect();
        let value = f(&x.iter().map(|i| i.value).collect::<Vec<_>>());
        let slopes = sensitivities(&f, &x);
        if !value.is_finite() || slopes.iter().any(|s| !s.is_finite()) {
            return None;
        }
        let mut parts: BTreeMap<Source, Part> = BTreeMap::new();
        for (input, slope) in inputs.iter().zip(slopes) {
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

    /// Weighted mean, and how many equal readings it is worth (1/Σw², at most the count). Weights
    /// are by what each quantity does not share with the others and the usual scatter of a reading.
    pub fn mean(inputs: &[Self]) -> Option<(Self, f64)> {
        // One scatter for all: a reading that happens to be low must not weigh more for it.
        let typical = inputs.iter().map(|q| q.value).sum::<f64>() / inputs.len() as f64;
        let scatter = (USUAL_SCATTER * typical).powi(2);
        let weights: Vec<f64> = inputs
            .iter()
            .map(|q| 1.0 / (q.own_variance() + scatter))
            .collect();
        let sum: f64 = weights.iter().sum();
        let equal = !sum.is_finite() || sum <= 0.0;
        let weights: Vec<f64> = weights
            .iter()
            .map(|w| {
                if equal {
                    1.0 / inputs.len() as f64
                } else {
                    w / sum
                }
            })
            .collect();
        let refs: Vec<&Self> = inputs.iter().collect();
        let mean = Self::apply(&refs, |x| x.iter().zip(&weights).map(|(x, w)| x * w).sum())?;
        let worth = 1.0 / weights.iter().map(|w| w * w).sum::<f64>();
        (!inputs.is_empty()).then_some((mean, worth))
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
        let parts = self.parts.values().map(|p| (p.u, p.degrees_of_freedom));
        welch_satterthwaite(self.u(), parts)
    }

    /// Half-width of the two-sided interval at `level`.
    pub fn half_width(&self, level: f64) -> f64 {
        match self.u() {
            0.0 => 0.0,
            u => t_quantile(0.5 + 0.5 * level, self.degrees_of_freedom()) * u,
        }
    }
}
