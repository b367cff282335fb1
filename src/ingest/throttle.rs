//! The throttle's scale: per cent, fraction, -100..100, or the width of the controller's pulse.
//!
//! Ends that are declared decide. Without them a pulse is scaled between the 1st and the 99th
//! percentile observed, if these are plausible ends ([`LOW_US`], [`HIGH_US`]), else between 1000
//! and 2000 µs; either way a finding says that the ends were not declared, since a log that never
//! saw full throttle cannot tell.

use super::header::canonical_unit;
use super::plausible::{Conversion, Profile};
use crate::units::{self, Quantity};

/// Plausible pulse widths at no throttle and at full throttle, µs (common practice, no source).
pub const LOW_US: (f64, f64) = (800.0, 1250.0);
pub const HIGH_US: (f64, f64) = (1750.0, 2250.0);

/// How raw throttle turns into 0..1.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Scale {
    pub conversion: Conversion,
    /// The unit in words, e.g. `us 1050..2000`.
    pub unit: String,
    pub doubt: Option<Doubt>,
}

/// What had to be assumed.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Doubt {
    pub code: &'static str,
    pub what: String,
    /// The next likely ends.
    pub others: (f64, f64),
}

/// Full scales of radios and loggers (common practice, no source).
const FULL_SCALES: [f64; 9] = [
    1.0, 100.0, 255.0, 1000.0, 1023.0, 2047.0, 4095.0, 10_000.0, 65_535.0,
];

/// The scale of a throttle column from the ends and unit declared, the unit written, the values.
pub(super) fn scale(ends: Option<(f64, f64)>, unit: Option<&str>, profile: &Profile) -> Scale {
    if let Some((low, high)) = ends.filter(|(low, high)| low != high) {
        return between(low, high, unit.unwrap_or("raw"), None);
    }
    let (Some(least), Some(most)) = (profile.quantile(0.0), profile.quantile(1.0)) else {
        return between(0.0, 1.0, "1", None);
    };
    let known = unit.map(canonical_unit);
    if let Some(time) = known.and_then(|u| units::find(u, Quantity::Time)) {
        return pulse(profile, 1e-6 / time.factor, time.word);
    }
    let ratio = known.and_then(|u| units::find(u, Quantity::Ratio));
    let percent = ratio.is_some_and(|u| u.factor != 1.0);
    if percent || (ratio.is_none() && most > 1.02 && most <= 110.0 && least >= -110.0) {
        return if least < -5.0 {
            between(-100.0, 100.0, "%", None)
        } else {
            between(0.0, 100.0, "%", None)
        };
    }
    if ratio.is_some() || (least >= -1.02 && most <= 1.02) {
        return if least < -0.05 {
            between(-1.0, 1.0, "1", None)
        } else {
            between(0.0, 1.0, "1", None)
        };
    }
    if least >= 700.0 && most <= 2400.0 {
        return pulse(profile, 1.0, "us");
    }
    let (low, high) = observed(profile).unwrap_or((least, most));
    let (low, high) = if low < high {
        (low, high)
    } else {
        (least, least + 1.0)
    };
    between(
        low,
        high,
        unit.unwrap_or("raw"),
        Some(Doubt {
            code: "throttle-scale-unknown",
            what: format!(
                "the scale of the throttle is not known; the observed ends {low} and {high} were taken"
            ),
            others: (0.0, full_scale(low, high)),
        }),
    )
}

/// The least full scale that holds the values and is not what was taken.
fn full_scale(low: f64, high: f64) -> f64 {
    let differs = |full: f64| low != 0.0 || full != high;
    let full = FULL_SCALES.into_iter().find(|&f| f >= high && differs(f));
    full.unwrap_or(2.0 * high.abs().max(1.0))
}

fn observed(profile: &Profile) -> Option<(f64, f64)> {
    Some((profile.quantile(0.01)?, profile.quantile(0.99)?))
}

/// `per_us`: raw units in one microsecond.
fn pulse(profile: &Profile, per_us: f64, unit: &str) -> Scale {
    let within = |x: f64, (low, high): (f64, f64)| (low * per_us..=high * per_us).contains(&x);
    let plausible = observed(profile).filter(|&(l, h)| within(l, LOW_US) && within(h, HIGH_US));
    let (low, high) = plausible.unwrap_or((1000.0 * per_us, 2000.0 * per_us));
    let (how, others) = match (plausible, observed(profile)) {
        (None, Some((l, h))) if l < h && (l, h) != (low, high) => ("usual ends", (l, h)),
        (None, _) => ("usual ends", (1100.0 * per_us, 1900.0 * per_us)),
        (Some((l, h)), _) if (l, h) == (1000.0 * per_us, 2000.0 * per_us) => {
            ("observed ends", (1100.0 * per_us, 1900.0 * per_us))
        }
        _ => ("observed ends", (1000.0 * per_us, 2000.0 * per_us)),
    };
    between(
        low,
        high,
        unit,
        Some(Doubt {
            code: "throttle-ends-observed",
            what: format!(
                "the throttle's ends are not declared; the {how} {low} and {high} {unit} were taken \
                 as no and full throttle"
            ),
            others,
        }),
    )
}

fn between(low: f64, high: f64, unit: &str, doubt: Option<Doubt>) -> Scale {
    let factor = 1.0 / (high - low);
    Scale {
        conversion: Conversion {
            factor,
            offset: -low * factor,
        },
        unit: format!("{unit} {low}..{high}"),
        doubt,
    }
}

/// Spearman's rank correlation of pairs; `None` below ten pairs or without any variation.
pub(super) fn rank_correlation(pairs: &[(f64, f64)]) -> Option<f64> {
    if pairs.len() < 10 {
        return None;
    }
    let a = ranks(pairs.iter().map(|p| p.0));
    let b = ranks(pairs.iter().map(|p| p.1));
    let mean = (pairs.len() as f64 - 1.0) / 2.0;
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (x, y) in a.iter().zip(&b) {
        ab += (x - mean) * (y - mean);
        aa += (x - mean).powi(2);
        bb += (y - mean).powi(2);
    }
    (aa > 0.0 && bb > 0.0).then(|| ab / (aa * bb).sqrt())
}

/// Ranks from 0; ties share their mean rank.
fn ranks(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut order: Vec<(f64, usize)> = values.enumerate().map(|(i, x)| (x, i)).collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut ranks = vec![0.0; order.len()];
    let mut start = 0;
    while start < order.len() {
        let tied = order[start..]
            .iter()
            .take_while(|o| o.0 == order[start].0)
            .count();
        let rank = start as f64 + (tied as f64 - 1.0) / 2.0;
        for &(_, index) in &order[start..start + tied] {
            ranks[index] = rank;
        }
        start += tied;
    }
    ranks
}
