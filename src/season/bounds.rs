//! What a declared value can be. The bounds catch slips of the pen (a pack of 3300 Ah, a pressure
//! of 986 Pa), so they lie far outside anything flown; they are ours, no standard's.

use crate::units::{self, Quantity, ZERO_CELSIUS};

/// A quantity and the range that makes sense, SI.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bound {
    pub quantity: Quantity,
    pub low: f64,
    pub high: f64,
    /// The range in words.
    pub words: &'static str,
    /// A difference: 1 degC is 1 K, not 274.15 K.
    pub difference: bool,
}

const fn bound(quantity: Quantity, low: f64, high: f64, words: &'static str) -> Bound {
    Bound {
        quantity,
        low,
        high,
        words,
        difference: false,
    }
}

pub(super) const MASS: Bound = bound(Quantity::Mass, 0.01, 150.0, "10 g to 150 kg");
/// Mass may be taken out as well.
pub(super) const ADDED_MASS: Bound = bound(Quantity::Mass, -50.0, 50.0, "-50 kg to 50 kg");
pub(super) const WING_AREA: Bound = bound(Quantity::Area, 1e-3, 20.0, "10 cm2 to 20 m2");
pub(super) const SPAN: Bound = bound(Quantity::Length, 0.05, 15.0, "5 cm to 15 m");
pub(super) const STALL: Bound = bound(Quantity::Speed, 1.0, 100.0, "1 m/s to 100 m/s");
/// Behind (or ahead of) the balance point.
pub(super) const ARM: Bound = bound(Quantity::Length, -5.0, 5.0, "-5 m to 5 m");
pub(super) const JOINT_ARM: Bound = bound(Quantity::Length, 0.0, 5.0, "0 to 5 m");
pub(super) const PART_MASS: Bound = bound(Quantity::Mass, 1e-3, 50.0, "1 g to 50 kg");
pub(super) const FAN: Bound = bound(Quantity::Length, 0.01, 0.5, "10 mm to 500 mm");
pub(super) const OUTLET: Bound = bound(Quantity::Area, 1e-5, 0.2, "0.1 cm2 to 2000 cm2");
pub(super) const KV: Bound = bound(Quantity::VelocityConstant, 1.0, 6283.0, "10 to 60000 rpm/V");
pub(super) const OHM: Bound = bound(Quantity::Resistance, 1e-5, 2.0, "0.01 mohm to 2 ohm");
pub(super) const AMPS: Bound = bound(Quantity::Current, 0.01, 2000.0, "0.01 A to 2000 A");
pub(super) const BURST_TIME: Bound = bound(Quantity::Time, 0.1, 600.0, "0.1 s to 10 min");
pub(super) const CAPACITY: Bound = bound(Quantity::Charge, 36.0, 720e3, "10 mAh to 200 Ah");
pub(super) const PUT_BACK: Bound = bound(Quantity::Charge, 0.0, 720e3, "0 to 200 Ah");
pub(super) const TEMPERATURE: Bound = bound(
    Quantity::Temperature,
    ZERO_CELSIUS - 60.0,
    ZERO_CELSIUS + 60.0,
    "-60 degC to 60 degC",
);
pub(super) const PART_TEMPERATURE: Bound = bound(
    Quantity::Temperature,
    ZERO_CELSIUS + 30.0,
    ZERO_CELSIUS + 250.0,
    "30 degC to 250 degC",
);
pub(super) const PRESSURE: Bound = bound(Quantity::Pressure, 40e3, 110e3, "400 hPa to 1100 hPa");
pub(super) const HUMIDITY: Bound = bound(Quantity::Ratio, 0.0, 1.0, "0 % to 100 %");
pub(super) const ELEVATION: Bound = bound(Quantity::Length, -450.0, 6500.0, "-450 m to 6500 m");
pub(super) const RATE: Bound = bound(Quantity::Frequency, 0.01, 1e5, "0.01 Hz to 100 kHz");
pub(super) const FRACTION: Bound = bound(Quantity::Ratio, 0.0, 0.5, "0 % to 50 %");
pub(super) const MARGIN: Bound = bound(Quantity::Ratio, 1e-4, 0.5, "0.01 % to 50 %");
pub(super) const HEADROOM: Bound = bound(Quantity::Ratio, 0.0, 2.0, "0 % to 200 %");
pub(super) const RESERVE: Bound = bound(Quantity::Ratio, 0.0, 0.9, "0 % to 90 %");
pub(super) const FULL_THROTTLE: Bound = bound(Quantity::Ratio, 0.5, 1.0, "50 % to 100 %");
pub(super) const PASS_TIME: Bound = bound(Quantity::Time, 0.1, 60.0, "0.1 s to 60 s");
pub(super) const PASS_SPEED: Bound = bound(Quantity::Speed, 1.0, 300.0, "1 m/s to 300 m/s");
pub(super) const BASE: Bound = bound(Quantity::Length, 1.0, 5e3, "1 m to 5 km");
pub(super) const WATCH: Bound = bound(Quantity::Time, 0.05, 600.0, "0.05 s to 10 min");
pub(super) const RUN_UP: Bound = bound(Quantity::Length, 0.0, 5e3, "0 m to 5 km");
pub(super) const RUN_UP_TIME: Bound = bound(Quantity::Time, 0.0, 600.0, "0 s to 10 min");
pub(super) const AIRBORNE: Bound = bound(Quantity::Time, 0.0, 7200.0, "0 to 120 min");

impl Bound {
    pub fn holds(&self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }

    /// The same number with a unit that would make sense, e.g. `3300 mAh` for 3300 Ah. A unit that
    /// differs from the written one by a prefix comes first.
    pub fn other_unit(&self, text: &str) -> Option<String> {
        let (digits, written) = units::number_and_unit(text);
        let number = units::number(digits)?.ok()?;
        let fits = |u: &&units::Unit| {
            u.quantity == self.quantity && u.word != "1" && self.holds(u.to_si(number))
        };
        let kin = |u: &&units::Unit| {
            !written.is_empty() && (u.word.ends_with(written) || written.ends_with(u.word))
        };
        let mut all = units::UNITS.iter().filter(fits);
        let unit = all.clone().find(kin).or_else(|| all.next())?;
        Some(format!("{number} {}", unit.word))
    }
}
