//! The same numbers in the units that the pilot uses, so that a page can show either and compute
//! nothing.
//!
//! What goes out is in SI units and those accepted for use with them (SI Brochure, 9th edition, table
//! 8: min, h, degree; so mAh and Wh too). The pilot's unit of a quantity is the one that the season file
//! writes most often; where it writes none, the usual one of the trade (common practice, no source).

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::findings::answer::{DataCell, DataTable, Findings, ShownColumn};
use crate::season::Season;
use crate::stats::estimate::{Estimate, Shown, ShownValue};
use crate::units::{self, Quantity, Unit};

/// A unit of the findings and the pilot's own for it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UnitShown {
    /// In words, e.g. "speed".
    pub quantity: String,
    /// UCUM codes.
    pub unit: String,
    pub shown: String,
    /// The season file is written in it; else it is the usual one of the trade.
    pub written: bool,
}

/// A unit that the findings use and a pilot may not.
struct Switched {
    /// UCUM code in the findings, and its word.
    code: &'static str,
    word: &'static str,
    quantity: Quantity,
    /// The pilot's word where the season file has none of the quantity.
    usual: Option<&'static str>,
    /// Pilots' words of the same size, which alone may take its place.
    fits: &'static [&'static str],
}

const SWITCHED: [Switched; 9] = [
    Switched {
        code: "m/s",
        word: "m/s",
        quantity: Quantity::Speed,
        usual: Some("km/h"),
        fits: &[
            "km/h", "kmh", "kph", "mph", "kt", "kts", "kn", "knots", "ft/s", "fps",
        ],
    },
    Switched {
        code: "N",
        word: "N",
        quantity: Quantity::Force,
        usual: Some("kgf"),
        fits: &["gf", "kgf", "kp", "lbf", "ozf"],
    },
    Switched {
        code: "rad/s",
        word: "rad/s",
        quantity: Quantity::AngularSpeed,
        usual: Some("rpm"),
        fits: &["rpm", "krpm"],
    },
    Switched {
        code: "m",
        word: "m",
        quantity: Quantity::Length,
        usual: None,
        fits: &["ft", "yd"],
    },
    Switched {
        code: "mm",
        word: "mm",
        quantity: Quantity::Length,
        usual: None,
        fits: &["in"],
    },
    Switched {
        code: "cm2",
        word: "cm2",
        quantity: Quantity::Area,
        usual: None,
        fits: &["in2"],
    },
    Switched {
        code: "kg",
        word: "kg",
        quantity: Quantity::Mass,
        usual: None,
        fits: &["lb", "lbs"],
    },
    Switched {
        code: "g",
        word: "g",
        quantity: Quantity::Mass,
        usual: None,
        fits: &["oz"],
    },
    Switched {
        code: "Cel",
        word: "degC",
        quantity: Quantity::Temperature,
        usual: None,
        fits: &["degF", "°F", "F"],
    },
];

/// UCUM codes of the pilots' words.
const CODES: [(&str, &str); 24] = [
    ("km/h", "km/h"),
    ("kmh", "km/h"),
    ("kph", "km/h"),
    ("mph", "[mi_i]/h"),
    ("kt", "[kn_i]"),
    ("kts", "[kn_i]"),
    ("kn", "[kn_i]"),
    ("knots", "[kn_i]"),
    ("ft/s", "[ft_i]/s"),
    ("fps", "[ft_i]/s"),
    ("gf", "gf"),
    ("kgf", "kgf"),
    ("kp", "kgf"),
    ("lbf", "[lbf_av]"),
    ("ozf", "[oz_av].[g]"),
    ("rpm", "/min"),
    ("krpm", "10*3/min"),
    ("ft", "[ft_i]"),
    ("yd", "[yd_i]"),
    ("in", "[in_i]"),
    ("in2", "[sin_i]"),
    ("lb", "[lb_av]"),
    ("lbs", "[lb_av]"),
    ("oz", "[oz_av]"),
];
const FAHRENHEIT: &str = "[degF]";

/// From a unit of the findings to the pilot's.
#[derive(Debug, Clone, Copy)]
struct Step {
    from: &'static Unit,
    to: &'static Unit,
    code: &'static str,
}

impl Step {
    fn of(&self, value: f64) -> f64 {
        self.to.from_si(self.from.to_si(value))
    }

    /// Digits after the point that keep the resolution of `digits` in the other unit.
    fn digits(&self, digits: u8) -> u8 {
        let finer = (self.from.factor / self.to.factor).log10().round();
        (f64::from(digits) - finer).clamp(0.0, 9.0) as u8
    }
}

/// Fills in every number's twin and lists the units that have one.
pub(super) fn fill(season: &Season, findings: &mut Findings) {
    let mut steps: BTreeMap<&str, Step> = BTreeMap::new();
    let mut units = Vec::new();
    for switched in &SWITCHED {
        if let Some((step, written)) = step(season, switched) {
            steps.insert(switched.code, step);
            units.push(UnitShown {
                quantity: switched.quantity.name().to_owned(),
                unit: switched.code.to_owned(),
                shown: step.code.to_owned(),
                written,
            });
        }
    }
    let questions = findings.questions.iter_mut().map(|q| &mut q.estimates);
    let flights = findings.flights.iter_mut().map(|f| &mut f.sheet.estimates);
    let powers = findings.powers.iter_mut().map(|p| &mut p.sheet.estimates);
    let pairs = findings
        .comparisons
        .iter_mut()
        .map(|c| &mut c.sheet.estimates);
    for estimates in questions.chain(flights).chain(powers).chain(pairs) {
        estimates.values_mut().for_each(|e| estimate(e, &steps));
    }
    findings.tables.iter_mut().for_each(|t| table(t, &steps));
    findings.units = units;
}

/// The pilot's unit and whether the season file writes it; `None` where the findings' own is the pilot's.
fn step(season: &Season, switched: &Switched) -> Option<(Step, bool)> {
    let usual = season.units_written.usual(switched.quantity);
    let (word, written) = match usual {
        // Of a quantity with units of several sizes (mm, ft) the file's usual one tells the system.
        Some(word) if switched.fits.contains(&word) => (word, true),
        Some(word) if imperial(word) => {
            (switched.fits.iter().copied().find(|w| imperial(w))?, true)
        }
        Some(_) => return None,
        None => (switched.usual?, false),
    };
    let code = CODES
        .iter()
        .find(|(w, _)| *w == word)
        .map_or(FAHRENHEIT, |(_, code)| code);
    let step = Step {
        from: units::find(switched.word, switched.quantity)?,
        to: units::find(word, switched.quantity)?,
        code,
    };
    Some((step, written))
}

/// Words of the customary units of English-speaking countries.
fn imperial(word: &str) -> bool {
    [
        "ft", "yd", "in", "in2", "ft2", "lb", "lbs", "oz", "lbf", "ozf", "mph", "ft/s", "fps",
        "ft/min", "degF", "°F", "F",
    ]
    .contains(&word)
}

fn estimate(estimate: &mut Estimate, steps: &BTreeMap<&str, Step>) {
    if let Some(step) = steps.get(estimate.unit.as_str()) {
        estimate.shown = Some(Shown {
            value: estimate.value.map(|v| step.of(v)),
            low: estimate.low.map(|v| step.of(v)),
            high: estimate.high.map(|v| step.of(v)),
            unit: step.code.to_owned(),
        });
    }
    for condition in estimate.at.values_mut() {
        if let Some(step) = steps.get(condition.unit.as_str()) {
            condition.shown = Some(ShownValue {
                value: step.of(condition.value),
                unit: step.code.to_owned(),
            });
        }
    }
}

fn table(table: &mut DataTable, steps: &BTreeMap<&str, Step>) {
    for (at, column) in table.columns.iter_mut().enumerate() {
        let Some(step) = steps.get(column.unit.as_str()) else {
            continue;
        };
        let cells = table.rows.iter().map(|row| cell(row.get(at), step));
        column.shown = Some(ShownColumn {
            unit: step.code.to_owned(),
            digits: step.digits(column.digits),
            cells: cells.collect(),
        });
    }
}

fn cell(cell: Option<&DataCell>, step: &Step) -> DataCell {
    match cell {
        Some(DataCell::Number(value)) => DataCell::Number(step.of(*value)),
        Some(DataCell::Interval { value, low, high }) => DataCell::Interval {
            value: step.of(*value),
            low: low.map(|v| step.of(v)),
            high: high.map(|v| step.of(v)),
        },
        Some(DataCell::Text(_) | DataCell::Blank(())) | None => DataCell::Blank(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn season_with(words: &[(&str, Quantity)]) -> Season {
        let mut season = Season::default();
        for (word, quantity) in words {
            season
                .units_written
                .add(units::find(word, *quantity).unwrap());
        }
        season
    }

    fn shown(season: &Season, code: &str, value: f64) -> Option<(f64, &'static str)> {
        let switched = SWITCHED.iter().find(|s| s.code == code).unwrap();
        step(season, switched).map(|(step, _)| (step.of(value), step.code))
    }

    /// NIST SP 811 (2008), appendix B.8: 1 mi/h = 4.4704 E-01 m/s, 1 lbf = 4.448 222 N, 1 kgf =
    /// 9.806 65 N, t/°F = 1.8 t/°C + 32.
    #[test]
    fn the_pilots_unit_is_the_one_the_season_file_writes() {
        let metric = season_with(&[("km/h", Quantity::Speed), ("m", Quantity::Length)]);
        assert_eq!(shown(&metric, "m/s", 50.0), Some((180.0, "km/h")));
        assert_eq!(shown(&metric, "m", 120.0), None);
        assert_eq!(shown(&metric, "Cel", 20.0), None);
        let customary = season_with(&[
            ("mph", Quantity::Speed),
            ("in", Quantity::Length),
            ("lbf", Quantity::Force),
            ("degF", Quantity::Temperature),
        ]);
        let near = |code: &str, value: f64, wanted: f64, unit: &str| {
            let (value, found) = shown(&customary, code, value).unwrap();
            assert!((value - wanted).abs() < 1e-6 * wanted, "{code}: {value}");
            assert_eq!(found, unit);
        };
        near("m/s", 44.704, 100.0, "[mi_i]/h");
        near("N", 44.482_22, 10.0, "[lbf_av]");
        near("m", 30.48, 100.0, "[ft_i]");
        near("Cel", 20.0, 68.0, "[degF]");
        let silent = Season::default();
        assert_eq!(shown(&silent, "m/s", 10.0), Some((36.0, "km/h")));
        assert_eq!(shown(&silent, "N", 9.806_65), Some((1.0, "kgf")));
    }

    #[test]
    fn nothing_is_twinned_where_the_pilot_writes_the_findings_own_unit() {
        let season = season_with(&[("m/s", Quantity::Speed)]);
        assert_eq!(shown(&season, "m/s", 10.0), None);
    }
}
