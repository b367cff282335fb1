//! What every question starts from, and the few words and intervals they share.

use crate::season::Season;
use crate::stats;
use crate::stats::estimate::Estimate;
use crate::store::{FlightRow, SeasonTables};

/// The season as declared and as measured.
#[derive(Debug, Clone, Copy)]
pub struct Evidence<'a> {
    pub season: &'a Season,
    pub tables: &'a SeasonTables,
}

impl<'a> Evidence<'a> {
    /// The pilot's name of a power system.
    pub fn power_name(&self, id: &str) -> String {
        self.season
            .powers
            .get(id)
            .map_or_else(|| id.to_owned(), |p| p.name.clone())
    }

    pub fn airframe_name(&self, id: &str) -> String {
        self.season
            .airframes
            .get(id)
            .map_or_else(|| id.to_owned(), |a| a.name.clone())
    }

    /// Place of a power system in the palette: its place among the declared ones.
    pub fn colour(&self, power: &str) -> u32 {
        self.season
            .powers
            .keys()
            .position(|k| k == power)
            .unwrap_or(0) as u32
    }

    pub fn flights_of(&self, power: &str) -> Vec<&'a FlightRow> {
        self.tables
            .flights
            .iter()
            .filter(|f| f.power.as_deref() == Some(power))
            .collect()
    }

    /// Relative half-width (95 %) of what a current sensor of this system's flights counts: the
    /// median over the flights of their own charge intervals. `None` without a sensor.
    pub fn charge_half_width(&self, power: &str) -> Option<f64> {
        let widths: Vec<f64> = self
            .flights_of(power)
            .iter()
            .filter(|f| f.has_current)
            .filter_map(|f| Some((f.charge_high_mah? - f.charge_low_mah?) / (2.0 * f.charge_mah?)))
            .filter(|w| w.is_finite())
            .collect();
        (!widths.is_empty()).then(|| stats::median(&widths))
    }
}

/// Mean over flights with its t interval: flights are the unit, whatever the sampling rate.
/// `None` without values; one value has no interval.
pub fn over_flights(values: &[f64], unit: &str, method: &str) -> Option<Estimate> {
    if values.is_empty() {
        return None;
    }
    let mean = stats::mean(values);
    let mut estimate = Estimate::interval(mean, mean, mean, 0.95, unit, method);
    if values.len() > 1 {
        let half = stats::t_quantile(0.975, (values.len() - 1) as f64) * stats::sd(values)
            / (values.len() as f64).sqrt();
        estimate.low = Some(mean - half);
        estimate.high = Some(mean + half);
    } else {
        estimate.low = None;
        estimate.high = None;
        estimate.basis.method += "; one flight only, so no interval";
    }
    Some(estimate.count("flights", values.len()))
}

/// "4.1 %" from 0.0412.
pub fn percent(fraction: f64) -> String {
    let shown = fraction * 100.0;
    // Avoids "-0.0 %".
    let shown = if shown.abs() < 0.05 { 0.0 } else { shown };
    format!("{shown:.1} %")
}

/// "p = 0.012"; what three digits cannot show is bounded.
pub fn p_value(p: f64) -> String {
    if p < 0.001 {
        "p < 0.001".to_owned()
    } else {
        format!("p = {p:.3}")
    }
}

/// "4.1 % (2.0 to 6.2 %)", one-sided ends in words.
pub fn percent_interval(estimate: &Estimate) -> String {
    with_interval(estimate, 100.0, 1, " %")
}

/// A value with its interval in words; `factor` and `suffix` as the sentence wants them.
pub fn with_interval(estimate: &Estimate, factor: f64, digits: usize, suffix: &str) -> String {
    let show = |v: f64| {
        let text = format!("{:.digits$}", v * factor);
        if text
            .trim_start_matches('-')
            .chars()
            .all(|c| c == '0' || c == '.')
        {
            text.trim_start_matches('-').to_owned()
        } else {
            text
        }
    };
    let ends = match (estimate.low, estimate.high) {
        (Some(low), Some(high)) => format!("{} to {}{suffix}", show(low), show(high)),
        (Some(low), None) => format!("at least {}{suffix}", show(low)),
        (None, Some(high)) => format!("at most {}{suffix}", show(high)),
        (None, None) => String::new(),
    };
    match (estimate.value, ends.is_empty()) {
        (Some(value), false) => format!("{}{suffix} ({ends})", show(value)),
        (Some(value), true) => format!("{}{suffix}", show(value)),
        (None, false) => ends,
        (None, true) => "unknown".to_owned(),
    }
}

/// Watts as a sentence says them: whole ones from a hundred up.
pub fn watts(estimate: &Estimate) -> String {
    let digits = if estimate.value.is_some_and(|v| v.abs() < 100.0) {
        1
    } else {
        0
    };
    with_interval(estimate, 1.0, digits, " W")
}

/// "3 flights", "1 flight".
pub fn counted(n: usize, noun: &str) -> String {
    let plural = match (n, noun) {
        (1, _) => noun.to_owned(),
        (_, noun) if noun.ends_with("pass") => format!("{noun}es"),
        _ => format!("{noun}s"),
    };
    format!("{n} {plural}")
}

/// A text as part of an id: lower case, blanks and marks to hyphens.
pub fn slug(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        if c.is_ascii_alphanumeric() {
            out.push(c.to_ascii_lowercase());
        } else if !out.ends_with('-') {
            out.push('-');
        }
    }
    out.trim_matches('-').to_owned()
}

/// `text` with a capital at its beginning.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
