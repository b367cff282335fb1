//! The budget of a static gain (JCGM 100:2008, 5.1 and G.4): which error of which instrument limits
//! it, and what half of that error would buy.

use std::collections::BTreeMap;

use crate::bench::uncertainty::{Part, Source, StepOf, Uncertain};
use crate::ingest::Channel;

/// One contributor to the variance of a result.
#[derive(Debug, Clone, PartialEq)]
pub struct Contribution {
    /// What kind of error, in words a pilot reads.
    pub kind: &'static str,
    /// Instrument ids, or the quantity that no instrument tells; empty where there is none.
    pub of: String,
    /// What is read, e.g. `thrust`; empty where it is none.
    pub quantity: &'static str,
    /// Share of the variance, 0..1. Scale errors of an instrument used on both sides cancel first.
    pub share: f64,
    /// Its part of the standard uncertainty, in the result's unit.
    pub u: f64,
    /// Half-width of the 95 % interval as it is, and with this error halved.
    pub half_width: f64,
    pub half_width_if_halved: f64,
}

const LEVEL: f64 = 0.95;

/// Contributions, the largest first. Empty for a result without uncertainty.
pub fn budget(result: &Uncertain) -> Vec<Contribution> {
    let mut groups: BTreeMap<(&'static str, String, &'static str), Vec<&Source>> = BTreeMap::new();
    for source in result.parts.keys() {
        groups
            .entry(contributor(result, source))
            .or_default()
            .push(source);
    }
    let variance = result.u().powi(2);
    if variance <= 0.0 {
        return Vec::new();
    }
    let half_width = result.half_width(LEVEL);
    let mut found: Vec<Contribution> = groups
        .into_iter()
        .filter_map(|((kind, of, quantity), sources)| {
            let own: f64 = sources.iter().map(|s| result.parts[*s].u.powi(2)).sum();
            // What cancels leaves rounding.
            (own > 1e-12 * variance).then(|| Contribution {
                kind,
                of,
                quantity,
                share: own / variance,
                u: own.sqrt(),
                half_width,
                half_width_if_halved: halved(result, &sources).half_width(LEVEL),
            })
        })
        .collect();
    found.sort_by(|a, b| b.share.total_cmp(&a.share));
    found
}

/// The result with some of its errors half as large.
fn halved(result: &Uncertain, sources: &[&Source]) -> Uncertain {
    let parts = result
        .parts
        .iter()
        .map(|(source, part)| {
            let scale = if sources.contains(&source) { 0.5 } else { 1.0 };
            (
                source.clone(),
                Part {
                    u: scale * part.u,
                    ..*part
                },
            )
        })
        .collect();
    Uncertain {
        value: result.value,
        parts,
    }
}

fn contributor(result: &Uncertain, source: &Source) -> (&'static str, String, &'static str) {
    match source {
        Source::Scale {
            instrument,
            channel,
        } => ("accuracy", instrument.clone(), word(*channel)),
        Source::Zero { channel, .. } => {
            ("zero drift", instruments(result, *channel), word(*channel))
        }
        Source::Reading { channel, .. } => (
            "resolution and failed checks",
            instruments(result, *channel),
            word(*channel),
        ),
        Source::Repeatability { channel, .. } => {
            ("scatter of repeats", String::new(), word(*channel))
        }
        Source::Density { .. } => ("air density", String::new(), ""),
        Source::OutletArea { .. } => ("outlet area", String::new(), ""),
        Source::Exponent { of, .. } => (
            match of {
                StepOf::ThrustByVoltage | StepOf::CurrentByVoltage => "step to equal voltage",
                StepOf::ThrustByDensity | StepOf::CurrentByDensity => "step to equal air density",
            },
            String::new(),
            "",
        ),
        Source::PackResistance => ("pack resistance", String::new(), ""),
    }
}

/// The instruments that read a quantity: those whose scale is among the sources, cancelled or not.
fn instruments(result: &Uncertain, channel: Channel) -> String {
    let mut names: Vec<&str> = result
        .parts
        .keys()
        .filter_map(|source| match source {
            Source::Scale {
                instrument,
                channel: of,
            } if *of == channel => Some(instrument.as_str()),
            _ => None,
        })
        .collect();
    names.dedup();
    names.join(" ")
}

fn word(channel: Channel) -> &'static str {
    match channel {
        Channel::Voltage => "voltage",
        Channel::Current => "current",
        Channel::Power => "power",
        Channel::Thrust => "thrust",
        Channel::ExhaustSpeed => "exhaust speed",
        _ => "",
    }
}
