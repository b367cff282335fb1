//! The one type of a reported number.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

/// A number with its interval, unit, conditions and origin. Every number in `findings.json` and on
/// a page is one of these (or a count).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// Best value, in `unit`. `None`: only a bound is known (then one of `low`, `high` is set).
    pub value: Option<f64>,
    /// Lower end of the interval; `None` when unbounded below or unknown.
    pub low: Option<f64>,
    /// Upper end of the interval; `None` when unbounded above or unknown.
    pub high: Option<f64>,
    /// Coverage of the interval, e.g. 0.95.
    pub level: f64,
    /// UCUM code; gains and fractions have "1".
    pub unit: String,
    /// The same in the unit that the pilot uses, where that is another one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shown: Option<Shown>,
    /// Conditions it holds at: quantity name to (value, UCUM code).
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub at: BTreeMap<String, Condition>,
    pub basis: Basis,
}

/// A number and its interval in another unit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Shown {
    pub value: Option<f64>,
    pub low: Option<f64>,
    pub high: Option<f64>,
    /// UCUM code.
    pub unit: String,
}

/// One condition of an [`Estimate`], e.g. voltage 14.1 V.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Condition {
    pub value: f64,
    pub unit: String,
    /// The same in the unit that the pilot uses, where that is another one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shown: Option<ShownValue>,
}

/// A number in another unit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShownValue {
    pub value: f64,
    /// UCUM code.
    pub unit: String,
}

/// Where an [`Estimate`] comes from.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Basis {
    /// Method in words, with its source where there is one.
    pub method: String,
    /// What was counted: "flights" => 8, "passes" => 41, "bench points" => 9, ...
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub counts: BTreeMap<String, u64>,
    /// Files or table columns it was made from.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub inputs: Vec<String>,
}

impl Estimate {
    /// A two-sided interval.
    pub fn interval(value: f64, low: f64, high: f64, level: f64, unit: &str, method: &str) -> Self {
        Self {
            value: Some(value),
            low: Some(low),
            high: Some(high),
            level,
            unit: unit.to_owned(),
            shown: None,
            at: BTreeMap::new(),
            basis: Basis {
                method: method.to_owned(),
                ..Basis::default()
            },
        }
    }

    /// `value` ± `half` (half-width at 95 %).
    pub fn plus_minus(value: f64, half: f64, unit: &str, method: &str) -> Self {
        Self::interval(value, value - half, value + half, 0.95, unit, method)
    }

    pub fn at(mut self, name: &str, value: f64, unit: &str) -> Self {
        self.at.insert(
            name.to_owned(),
            Condition {
                value,
                unit: unit.to_owned(),
                shown: None,
            },
        );
        self
    }

    pub fn count(mut self, what: &str, n: usize) -> Self {
        self.basis.counts.insert(what.to_owned(), n as u64);
        self
    }

    pub fn input(mut self, name: impl Into<String>) -> Self {
        self.basis.inputs.push(name.into());
        self
    }
}
