//! The table of unit words. Factors after NIST SP 811 (2008), Appendix B.

use std::f64::consts::{PI, TAU};

use super::aliases::canonical;
use super::{G0, MAH, Quantity, Quantity as Q, RPM, WH, ZERO_CELSIUS};

/// One unit word: `si = raw * factor + offset`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// As people write it; matching ignores case only where no other word differs by case alone.
    pub word: &'static str,
    pub quantity: Quantity,
    pub factor: f64,
    pub offset: f64,
}

impl Unit {
    pub fn to_si(&self, raw: f64) -> f64 {
        raw * self.factor + self.offset
    }

    pub fn from_si(&self, si: f64) -> f64 {
        (si - self.offset) / self.factor
    }
}

const fn unit(word: &'static str, quantity: Quantity, factor: f64) -> Unit {
    Unit {
        word,
        quantity,
        factor,
        offset: 0.0,
    }
}

/// The international pound-force, N (exact).
const LBF: f64 = 4.448_221_615_260_5;

/// All known unit words; the first of a quantity is its SI unit.
pub const UNITS: &[Unit] = &[
    unit("s", Q::Time, 1.0),
    unit("sec", Q::Time, 1.0),
    unit("ms", Q::Time, 1e-3),
    unit("us", Q::Time, 1e-6),
    unit("µs", Q::Time, 1e-6),
    unit("μs", Q::Time, 1e-6),
    unit("ns", Q::Time, 1e-9),
    unit("min", Q::Time, 60.0),
    unit("h", Q::Time, 3600.0),
    unit("hr", Q::Time, 3600.0),
    unit("m", Q::Length, 1.0),
    unit("mm", Q::Length, 1e-3),
    unit("cm", Q::Length, 1e-2),
    unit("dm", Q::Length, 1e-1),
    unit("km", Q::Length, 1e3),
    unit("ft", Q::Length, 0.3048),
    unit("in", Q::Length, 0.0254),
    unit("yd", Q::Length, 0.9144),
    unit("m2", Q::Area, 1.0),
    unit("m²", Q::Area, 1.0),
    unit("m^2", Q::Area, 1.0),
    unit("dm2", Q::Area, 1e-2),
    unit("dm²", Q::Area, 1e-2),
    unit("cm2", Q::Area, 1e-4),
    unit("cm²", Q::Area, 1e-4),
    unit("mm2", Q::Area, 1e-6),
    unit("mm²", Q::Area, 1e-6),
    unit("in2", Q::Area, 0.0254 * 0.0254),
    unit("ft2", Q::Area, 0.3048 * 0.3048),
    unit("kg", Q::Mass, 1.0),
    unit("g", Q::Mass, 1e-3),
    unit("lb", Q::Mass, 0.453_592_37),
    unit("lbs", Q::Mass, 0.453_592_37),
    unit("oz", Q::Mass, 0.453_592_37 / 16.0),
    unit("N", Q::Force, 1.0),
    unit("mN", Q::Force, 1e-3),
    unit("kN", Q::Force, 1e3),
    unit("gf", Q::Force, G0 * 1e-3),
    unit("kgf", Q::Force, G0),
    unit("kp", Q::Force, G0),
    unit("lbf", Q::Force, LBF),
    unit("ozf", Q::Force, LBF / 16.0),
    // Hanging scales are marked in units of mass; on a thrust column they mean the force.
    unit("g", Q::Force, G0 * 1e-3),
    unit("kg", Q::Force, G0),
    unit("oz", Q::Force, LBF / 16.0),
    unit("lb", Q::Force, LBF),
    unit("lbs", Q::Force, LBF),
    unit("m/s", Q::Speed, 1.0),
    unit("mps", Q::Speed, 1.0),
    unit("km/h", Q::Speed, 1.0 / 3.6),
    unit("kmh", Q::Speed, 1.0 / 3.6),
    unit("kph", Q::Speed, 1.0 / 3.6),
    unit("mph", Q::Speed, 0.447_04),
    unit("kt", Q::Speed, 1852.0 / 3600.0),
    unit("kts", Q::Speed, 1852.0 / 3600.0),
    unit("kn", Q::Speed, 1852.0 / 3600.0),
    unit("knots", Q::Speed, 1852.0 / 3600.0),
    unit("ft/s", Q::Speed, 0.3048),
    unit("fps", Q::Speed, 0.3048),
    unit("ft/min", Q::Speed, 0.3048 / 60.0),
    unit("m/min", Q::Speed, 1.0 / 60.0),
    unit("cm/s", Q::Speed, 1e-2),
    unit("mm/s", Q::Speed, 1e-3),
    unit("m/s2", Q::Acceleration, 1.0),
    unit("m/s²", Q::Acceleration, 1.0),
    unit("m/s^2", Q::Acceleration, 1.0),
    unit("g", Q::Acceleration, G0),
    unit("V", Q::Voltage, 1.0),
    unit("volt", Q::Voltage, 1.0),
    unit("volts", Q::Voltage, 1.0),
    unit("mV", Q::Voltage, 1e-3),
    unit("A", Q::Current, 1.0),
    unit("amp", Q::Current, 1.0),
    unit("amps", Q::Current, 1.0),
    unit("ampere", Q::Current, 1.0),
    unit("mA", Q::Current, 1e-3),
    unit("W", Q::Power, 1.0),
    unit("watt", Q::Power, 1.0),
    unit("watts", Q::Power, 1.0),
    unit("kW", Q::Power, 1e3),
    unit("mW", Q::Power, 1e-3),
    unit("hp", Q::Power, 745.699_871_582_270_2),
    unit("J", Q::Energy, 1.0),
    unit("Wh", Q::Energy, WH),
    unit("mWh", Q::Energy, WH * 1e-3),
    unit("kJ", Q::Energy, 1e3),
    unit("C", Q::Charge, 1.0),
    unit("mAh", Q::Charge, MAH),
    unit("Ah", Q::Charge, MAH * 1e3),
    unit("ohm", Q::Resistance, 1.0),
    unit("Ω", Q::Resistance, 1.0),
    unit("mohm", Q::Resistance, 1e-3),
    unit("mΩ", Q::Resistance, 1e-3),
    unit("Pa", Q::Pressure, 1.0),
    unit("hPa", Q::Pressure, 100.0),
    unit("kPa", Q::Pressure, 1e3),
    unit("mbar", Q::Pressure, 100.0),
    unit("bar", Q::Pressure, 1e5),
    unit("mmHg", Q::Pressure, 133.322_387_415),
    unit("inHg", Q::Pressure, 3_386.388_640_341),
    unit("psi", Q::Pressure, 6_894.757_293_168_361),
    unit("lbf/ft2", Q::Pressure, LBF / (0.3048 * 0.3048)),
    unit("K", Q::Temperature, 1.0),
    Unit {
        word: "°C",
        quantity: Q::Temperature,
        factor: 1.0,
        offset: ZERO_CELSIUS,
    },
    Unit {
        word: "degC",
        quantity: Q::Temperature,
        factor: 1.0,
        offset: ZERO_CELSIUS,
    },
    Unit {
        word: "C",
        quantity: Q::Temperature,
        factor: 1.0,
        offset: ZERO_CELSIUS,
    },
    Unit {
        word: "celsius",
        quantity: Q::Temperature,
        factor: 1.0,
        offset: ZERO_CELSIUS,
    },
    Unit {
        word: "°F",
        quantity: Q::Temperature,
        factor: 1.0 / 1.8,
        offset: ZERO_CELSIUS - 32.0 / 1.8,
    },
    Unit {
        word: "degF",
        quantity: Q::Temperature,
        factor: 1.0 / 1.8,
        offset: ZERO_CELSIUS - 32.0 / 1.8,
    },
    Unit {
        word: "F",
        quantity: Q::Temperature,
        factor: 1.0 / 1.8,
        offset: ZERO_CELSIUS - 32.0 / 1.8,
    },
    unit("kg/m3", Q::Density, 1.0),
    unit("kg/m³", Q::Density, 1.0),
    unit("kg/m^3", Q::Density, 1.0),
    unit("slug/ft3", Q::Density, 515.378_818_393_196_3),
    unit("rad", Q::Angle, 1.0),
    unit("deg", Q::Angle, PI / 180.0),
    unit("°", Q::Angle, PI / 180.0),
    // Positions as whole numbers.
    unit("1e-7 deg", Q::Angle, 1e-7 * PI / 180.0),
    unit("1e-6 deg", Q::Angle, 1e-6 * PI / 180.0),
    unit("1e-5 deg", Q::Angle, 1e-5 * PI / 180.0),
    unit("1e-2 deg", Q::Angle, 1e-2 * PI / 180.0),
    unit("rad/s", Q::AngularSpeed, 1.0),
    unit("rpm", Q::AngularSpeed, RPM),
    unit("1/min", Q::AngularSpeed, RPM),
    unit("U/min", Q::AngularSpeed, RPM),
    unit("krpm", Q::AngularSpeed, RPM * 1e3),
    unit("rps", Q::AngularSpeed, TAU),
    unit("rad/s/V", Q::VelocityConstant, 1.0),
    unit("rpm/V", Q::VelocityConstant, RPM),
    unit("kv", Q::VelocityConstant, RPM),
    unit("1", Q::Ratio, 1.0),
    unit("%", Q::Ratio, 0.01),
    unit("percent", Q::Ratio, 0.01),
    unit("pct", Q::Ratio, 0.01),
    unit("Hz", Q::Frequency, 1.0),
];

/// Whether `word` is `unit.word` in another case. `MW` is not a habit of writing `mW`: a capital M
/// is mega, and only where no mega unit makes sense here (`MAH`, `MM`, `MS`) is it read as milli.
fn same_word(unit: &Unit, word: &str) -> bool {
    let mega = word.starts_with('M')
        && matches!(
            unit.quantity,
            Q::Power | Q::Voltage | Q::Current | Q::Force | Q::Resistance
        )
        && unit.word.starts_with('m');
    !mega && unit.word.to_lowercase() == word.to_lowercase()
}

/// The unit that `word` names for `quantity`: exact first, then without regard to case.
pub fn find(word: &str, quantity: Quantity) -> Option<&'static Unit> {
    let word = canonical(word);
    let of = || UNITS.iter().filter(move |u| u.quantity == quantity);
    of().find(|u| u.word == word).or_else(|| {
        let mut hits = of().filter(|u| same_word(u, word));
        let first = hits.next()?;
        // Two units that differ by case alone: only an unambiguous hit counts.
        hits.all(|u| u.factor == first.factor && u.offset == first.offset)
            .then_some(first)
    })
}

/// Every quantity that `word` can be a unit of (`C` is charge or temperature).
pub fn guess(word: &str) -> Vec<&'static Unit> {
    let word = canonical(word);
    let exact: Vec<_> = UNITS.iter().filter(|u| u.word == word).collect();
    if !exact.is_empty() {
        return exact;
    }
    UNITS.iter().filter(|u| same_word(u, word)).collect()
}

/// The words for units of `quantity`, for messages.
pub fn words(quantity: Quantity) -> Vec<&'static str> {
    UNITS
        .iter()
        .filter(|u| u.quantity == quantity)
        .map(|u| u.word)
        .collect()
}
