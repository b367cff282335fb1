//! Units: from what is written, else from what the numbers can be.
//!
//! The ranges are generous limits for model aircraft (common practice, no source): they tell volts
//! from millivolts, not a good reading from a bad one.

use super::cell::Cell;
use super::header::canonical_unit;
use super::log::Channel::{self, *};
use super::table::Table;
use crate::units;

/// Rows looked at to judge a column; a longer table is sampled evenly.
const SAMPLE_ROWS: usize = 2000;

/// What a column holds.
#[derive(Debug, Clone, Default)]
pub(super) struct Profile {
    /// Rows looked at.
    pub rows: usize,
    /// Numbers and bounds, sorted.
    pub values: Vec<f64>,
    /// Filled cells that are neither number nor bound.
    pub bad: usize,
}

impl Profile {
    pub fn of(table: &Table, column: usize) -> Self {
        let mut profile = Self::default();
        for row in sample(table) {
            profile.rows += 1;
            match table.raw(row, column) {
                Cell::Blank => {}
                Cell::Bad => profile.bad += 1,
                Cell::Number(x) | Cell::Above(x) | Cell::Below(x) => profile.values.push(x),
            }
        }
        profile.values.sort_by(f64::total_cmp);
        profile
    }

    /// Share of the rows that hold a value.
    pub fn filled(&self) -> f64 {
        self.values.len() as f64 / self.rows.max(1) as f64
    }

    /// Not empty and not zero throughout.
    pub fn is_live(&self) -> bool {
        self.values.iter().any(|&x| x != 0.0)
    }

    /// The value below which the fraction `p` lies (nearest rank); `None` in an empty column.
    pub fn quantile(&self, p: f64) -> Option<f64> {
        let last = self.values.len().checked_sub(1)?;
        self.values.get((p * last as f64).round() as usize).copied()
    }
}

/// Row indices, evenly spread.
pub(super) fn sample(table: &Table) -> impl Iterator<Item = usize> {
    let step = table.rows.len().div_ceil(SAMPLE_ROWS).max(1);
    (0..table.rows.len()).step_by(step)
}

/// `si = raw * factor + offset`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Conversion {
    pub factor: f64,
    pub offset: f64,
}

/// From a written unit to the channel's own; `None` if the unit measures something else.
pub(super) fn conversion(channel: Channel, unit: &str) -> Option<Conversion> {
    let word = canonical_unit(unit);
    let position = matches!(channel, Latitude | Longitude);
    let unit = units::find(word, channel.quantity())?;
    // Positions stay in degrees inside.
    let out = if position { 1f64.to_degrees() } else { 1.0 };
    Some(Conversion {
        factor: unit.factor * out,
        offset: unit.offset * out,
    })
}

/// Units tried in this order where none is written; empty: it cannot be told from the numbers.
pub(super) fn candidates(channel: Channel) -> &'static [&'static str] {
    match channel {
        Voltage => &["V", "mV"],
        Current => &["A", "mA"],
        Power => &["W", "mW"],
        Charge => &["mAh"],
        AngularSpeed => &["rpm"],
        GroundSpeed | Airspeed | ExhaustSpeed => &["m/s", "km/h", "cm/s"],
        VelocityNorth | VelocityEast | VelocityDown | ClimbRate => &["m/s", "cm/s"],
        Course => &["rad", "deg"],
        Height => &["m", "mm"],
        Latitude | Longitude => &["deg", "1e-7 deg"],
        AccelerationX | AccelerationY | AccelerationZ => &["m/s2"],
        ControllerTemperature | MotorTemperature | PackTemperature | AirTemperature => &["°C", "K"],
        Pressure => &["Pa", "hPa", "kPa"],
        Satellites => &["1"],
        // Grams, newtons, pounds and ounces of pull all look alike; time and throttle have their
        // own files.
        Thrust | Time | Throttle => &[],
    }
}

/// Least and greatest plausible value in the channel's own unit.
pub(super) fn range(channel: Channel) -> (f64, f64) {
    match channel {
        Voltage => (-1.0, 130.0),
        Current => (-100.0, 600.0),
        Power => (-3e3, 30e3),
        Charge => (-36e3, 360e3),
        AngularSpeed => (-1.0, 16e3),
        Thrust => (-100.0, 2000.0),
        ExhaustSpeed | GroundSpeed | Airspeed => (-20.0, 200.0),
        VelocityNorth | VelocityEast | VelocityDown | ClimbRate => (-200.0, 200.0),
        Course => (-3.2, 6.4),
        Height => (-500.0, 6000.0),
        Latitude => (-90.0, 90.0),
        Longitude => (-180.0, 360.0),
        AccelerationX | AccelerationY | AccelerationZ => (-400.0, 400.0),
        ControllerTemperature | MotorTemperature | PackTemperature => (230.0, 520.0),
        AirTemperature => (230.0, 340.0),
        Pressure => (40e3, 115e3),
        Satellites => (0.0, 100.0),
        Time | Throttle => (f64::NEG_INFINITY, f64::INFINITY),
    }
}

/// Whether nearly all values (2nd to 98th percentile) are plausible under a conversion.
pub(super) fn is_plausible(channel: Channel, profile: &Profile, by: Conversion) -> bool {
    let (low, high) = range(channel);
    [0.02, 0.98].into_iter().all(|p| {
        profile
            .quantile(p)
            .is_none_or(|x| (low..=high).contains(&(x * by.factor + by.offset)))
    })
}

/// The unit to read a column in where none is written, and whether it makes the values plausible.
pub(super) fn implied(channel: Channel, profile: &Profile) -> Option<(&'static str, bool)> {
    let units = candidates(channel);
    // Degrees and minutes run together (`4807.038`) are no ten-millionths of a degree.
    let large = profile.quantile(0.5).is_some_and(|x| x.abs() >= 1e6);
    units
        .iter()
        .filter(|unit| **unit != "1e-7 deg" || large)
        .find(|unit| conversion(channel, unit).is_some_and(|c| is_plausible(channel, profile, c)))
        .map(|unit| (*unit, true))
        .or_else(|| units.first().map(|unit| (*unit, false)))
}
