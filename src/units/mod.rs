//! Units: text to SI once, at the edge; UCUM codes for what goes out.
//!
//! Factors: NIST SP 811 (2008), Appendix B. Inside the crate everything is SI; angular speed is in
//! rad/s, charge in C, energy in J, temperature in K, positions in degrees.

mod aliases;
mod marks;
mod nearest;
mod parse;
mod table;

pub use aliases::canonical;
pub use marks::{clear_mark, decimal_mark, with_decimal};
pub use nearest::{nearest, nearest_unit};
pub use parse::{QuantityError, number, number_and_unit, parse, parse_difference};
pub use table::{UNITS, Unit, find, guess, words};

use serde::{Deserialize, Serialize};

/// Standard acceleration of free fall, m/s² (exact, CGPM 1901).
pub const G0: f64 = 9.80665;
/// C in one mAh.
pub const MAH: f64 = 3.6;
/// J in one Wh.
pub const WH: f64 = 3600.0;
/// rad/s in one revolution per minute.
pub const RPM: f64 = std::f64::consts::TAU / 60.0;
/// K at 0 °C.
pub const ZERO_CELSIUS: f64 = 273.15;

/// A kind of quantity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Quantity {
    Time,
    Length,
    Area,
    Mass,
    Force,
    Speed,
    Acceleration,
    Voltage,
    Current,
    Power,
    Energy,
    Charge,
    Resistance,
    Pressure,
    Temperature,
    Density,
    Angle,
    AngularSpeed,
    /// Motor constant, rad/s per V.
    VelocityConstant,
    /// Dimensionless; percent is 0.01.
    Ratio,
    Frequency,
}

impl Quantity {
    /// UCUM code of the SI unit used inside.
    pub fn si(self) -> &'static str {
        match self {
            Self::Time => "s",
            Self::Length => "m",
            Self::Area => "m2",
            Self::Mass => "kg",
            Self::Force => "N",
            Self::Speed => "m/s",
            Self::Acceleration => "m/s2",
            Self::Voltage => "V",
            Self::Current => "A",
            Self::Power => "W",
            Self::Energy => "J",
            Self::Charge => "C",
            Self::Resistance => "Ohm",
            Self::Pressure => "Pa",
            Self::Temperature => "K",
            Self::Density => "kg/m3",
            Self::Angle => "rad",
            Self::AngularSpeed => "rad/s",
            Self::VelocityConstant => "rad/s/V",
            Self::Ratio => "1",
            Self::Frequency => "Hz",
        }
    }

    /// The word for it in messages.
    pub fn name(self) -> &'static str {
        match self {
            Self::Time => "time",
            Self::Length => "length",
            Self::Area => "area",
            Self::Mass => "mass",
            Self::Force => "force",
            Self::Speed => "speed",
            Self::Acceleration => "acceleration",
            Self::Voltage => "voltage",
            Self::Current => "current",
            Self::Power => "power",
            Self::Energy => "energy",
            Self::Charge => "charge",
            Self::Resistance => "resistance",
            Self::Pressure => "pressure",
            Self::Temperature => "temperature",
            Self::Density => "density",
            Self::Angle => "angle",
            Self::AngularSpeed => "rotational speed",
            Self::VelocityConstant => "velocity constant",
            Self::Ratio => "ratio",
            Self::Frequency => "frequency",
        }
    }

    /// `a mass`, `an area`.
    pub fn with_article(self) -> String {
        let name = self.name();
        let article = if name.starts_with(['a', 'e', 'i', 'o', 'u']) {
            "an"
        } else {
            "a"
        };
        format!("{article} {name}")
    }
}
