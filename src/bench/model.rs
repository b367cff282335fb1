//! Plain types of the bench floor.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::ingest::Channel;
use crate::season::Declared;

/// A cell that only bounds its quantity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Censor {
    #[default]
    Exact,
    /// True value above `value` (`>100`, or at the instrument's range end).
    Above,
    /// True value below `value` (`<5`).
    Below,
}

/// One reading, SI, with its standard uncertainty split by what two readings share.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    pub value: f64,
    /// Independent part (resolution, repeatability), standard uncertainty, same unit.
    pub u_independent: f64,
    /// Scale part, relative standard uncertainty, common to every reading of `instrument`.
    pub u_scale: f64,
    /// Zero part, absolute standard uncertainty, common to every reading of `instrument`.
    pub u_zero: f64,
    pub instrument: Option<String>,
    pub censor: Censor,
}

/// One row of a bench table.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BenchPoint {
    pub file: String,
    pub line: u32,
    /// 0..1; `None` where the table has no throttle (a single full-throttle reading counts as 1).
    pub throttle: Option<f64>,
    pub readings: BTreeMap<Channel, Measured>,
    /// Readings a check has set aside, and why.
    pub set_aside: BTreeMap<Channel, String>,
}

/// One bench run as read and checked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BenchRun {
    pub id: String,
    pub power: String,
    pub airframe: Option<String>,
    pub file: String,
    /// Air density, kg/m³; default from the site's elevation.
    pub density: Declared,
    pub points: Vec<BenchPoint>,
    pub checks: Vec<Check>,
}

/// The outcome of one check on one point.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Check {
    /// `shown-power`, `exhaust-against-thrust`, `efficiency`, `range-end`, ...
    pub code: String,
    pub line: u32,
    pub passed: bool,
    pub what: String,
    /// What was done about it.
    pub action: String,
}

impl Measured {
    /// Combined standard uncertainty, same unit as the value.
    pub fn u(&self) -> f64 {
        self.u_independent
            .hypot(self.u_scale * self.value)
            .hypot(self.u_zero)
    }

    pub fn is_exact(&self) -> bool {
        self.censor == Censor::Exact
    }
}

impl BenchPoint {
    /// The reading, unless a check has set it aside.
    pub fn get(&self, channel: Channel) -> Option<&Measured> {
        self.readings
            .get(&channel)
            .filter(|_| !self.set_aside.contains_key(&channel))
    }

    /// The reading where it is a value, not a bound.
    pub fn exact(&self, channel: Channel) -> Option<&Measured> {
        self.get(channel).filter(|m| m.is_exact())
    }
}
