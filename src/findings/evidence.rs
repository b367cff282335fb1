//! What every question starts from, and the few words and intervals they share.

use crate::season::Season;
use crate::stats;
use crate::stats::estimate::Estimate;
use crate::store::{DistanceEnergyRow, FlightRow, SeasonTables};

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

    /// A flight's name as a part of ids, different for every flight of the season.
    pub fn flight_slug(&self, flight: &str) -> String {
        let own = slug(flight);
        let flights = self.tables.flights.iter().map(|f| f.flight.as_str());
        let before = flights.take_while(|f| *f != flight);
        match (own.as_str(), before.filter(|f| slug(f) == own).count()) {
            ("", n) => format!("flight--{}", n + 1),
            (_, 0) => own,
            // No slug has two dashes in a row.
            (_, n) => format!("{own}--{}", n + 1),
        }
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

    /// Energy for a kilometre of two systems at one airspeed on the same airframes: the middle of the
    /// airspeeds that both are told at.
    pub fn matched_distance(
        &self,
        powers: [&str; 2],
    ) -> Option<(&'a DistanceEnergyRow, &'a DistanceEnergyRow)> {
        let of = |power: &str| -> Vec<&'a DistanceEnergyRow> {
            let rows = self.tables.energy_per_distance.iter();
            rows.filter(|r| r.power == power).collect()
        };
        let (old, new) = (of(powers[0]), of(powers[1]));
        let pairs: Vec<_> = old
            .into_iter()
            .filter_map(|a| {
                let alike = |b: &&&DistanceEnergyRow| {
                    b.airspeed_m_s == a.airspeed_m_s && b.airframes == a.airframes
                };
                new.iter().find(alike).map(|b| (a, *b))
            })
            .collect();
        pairs.get(pairs.len() / 2).copied()
    }
}

/// The interval with a relative half-width that all flights share in it, in quadrature.
pub fn widened(estimate: Estimate, shared: f64) -> Estimate {
    let Some(value) = estimate.value else {
        return estimate;
    };
    let end =
        |end: Option<f64>, sign: f64| end.map(|e| value + sign * (e - value).hypot(shared * value));
    not_negative(Estimate {
        low: end(estimate.low, -1.0),
        high: end(estimate.high, 1.0),
        ..estimate
    })
}

/// Units of what is positive by its nature.
const POSITIVE: [&str; 7] = ["W", "W.h", "mA.h", "A", "s", "mOhm", "h-1"];

/// No charge, time, energy, current or resistance is below zero: the interval of a positive value ends
/// there.
fn not_negative(mut estimate: Estimate) -> Estimate {
    let positive = POSITIVE.contains(&estimate.unit.as_str());
    if positive && estimate.value.is_some_and(|v| v >= 0.0) {
        estimate.low = estimate.low.map(|low| low.max(0.0));
    }
    estimate
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
    Some(not_negative(estimate).count("flights", values.len()))
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

/// A sentence as it goes on after a colon.
pub fn uncapital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_lowercase().chain(letters).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two flights of 10 and 30 A: 20 ± 12.71·10 A by the t table (n = 2), and no current is negative.
    #[test]
    fn what_is_positive_has_no_interval_below_zero() {
        let amps = over_flights(&[10.0, 30.0], "A", "").unwrap();
        assert_eq!(amps.low, Some(0.0));
        assert!((amps.high.unwrap() - 147.06).abs() < 0.01, "{amps:?}");
        let speed = over_flights(&[10.0, 30.0], "m/s", "").unwrap();
        assert!(speed.low.unwrap() < -100.0);
    }

    /// Half-width 3 of 100 and a shared 4 %: 5 (3, 4, 5).
    #[test]
    fn a_shared_error_adds_in_quadrature_and_scatter_does_not_hide_it() {
        let own = [
            (Some(96.0), Some(100.0), Some(104.0)),
            (None, Some(90.0), None),
        ];
        let shared = stats::median_relative_half_width(own);
        assert!((shared - 0.04).abs() < 1e-12);
        let wide = widened(Estimate::plus_minus(100.0, 3.0, "W", ""), shared);
        assert!(
            (wide.low.unwrap() - 95.0).abs() < 1e-9 && (wide.high.unwrap() - 105.0).abs() < 1e-9
        );
        // One flight has no interval to widen.
        let one = widened(over_flights(&[100.0], "W", "").unwrap(), shared);
        assert_eq!((one.low, one.high), (None, None));
    }
}
