//! The line of a channel map under which a column would be read another way: the next likely
//! reading, not the one at hand, so that copying it changes something.

use super::log::Channel;
use super::plausible::{self, Profile};
use super::table::Table;
use crate::units::Quantity;

/// `height = { column = "Alt", unit = "ft" }`.
pub(super) struct Line<'a> {
    channel: Channel,
    table: &'a Table,
    column: usize,
    keys: Vec<String>,
}

impl<'a> Line<'a> {
    pub fn of(table: &'a Table, channel: Channel, column: usize) -> Self {
        Self {
            channel,
            table,
            column,
            keys: Vec::new(),
        }
    }

    pub fn unit(mut self, unit: &str) -> Self {
        self.keys.push(format!("unit = {}", toml_string(unit)));
        self
    }

    pub fn ends(mut self, low: f64, high: f64) -> Self {
        self.keys
            .push(format!("ends = [{}, {}]", tidy(low), tidy(high)));
        self
    }

    pub fn scale(mut self, scale: f64) -> Self {
        self.keys.push(format!("scale = {}", tidy(scale)));
        self
    }

    pub fn decimal(mut self, mark: char) -> Self {
        self.keys.push(format!("decimal = \"{mark}\""));
        self
    }

    pub fn text(self) -> String {
        let key = toml_string(&self.table.column_key(self.column));
        let word = self.channel.word();
        if self.keys.is_empty() {
            return format!("{word} = {key}");
        }
        format!("{word} = {{ column = {key}, {} }}", self.keys.join(", "))
    }
}

/// The line by which no column is the channel.
pub(super) fn unused(channel: Channel) -> String {
    format!("{} = false", channel.word())
}

/// The unit that is next likely after the one taken.
pub(super) fn other_unit(channel: Channel, taken: &str, profile: &Profile) -> Option<&'static str> {
    let taken = plausible::conversion(channel, taken);
    let differs = |unit: &&&str| plausible::conversion(channel, unit) != taken;
    let fits = |unit: &&&str| {
        plausible::conversion(channel, unit)
            .is_some_and(|by| plausible::is_plausible(channel, profile, by))
    };
    let likely = alternatives(channel.quantity());
    let others = || likely.iter().filter(differs);
    others().find(fits).or_else(|| others().next()).copied()
}

/// The unit that loggers write of a quantity.
pub(super) fn usual_unit(quantity: Quantity) -> &'static str {
    alternatives(quantity).first().copied().unwrap_or("1")
}

/// Units that loggers write, the likeliest first.
fn alternatives(quantity: Quantity) -> &'static [&'static str] {
    match quantity {
        Quantity::Time => &["s", "ms", "us"],
        Quantity::Length => &["m", "ft", "mm", "cm"],
        Quantity::Speed => &["m/s", "km/h", "kn", "mph", "cm/s"],
        Quantity::Voltage => &["V", "mV"],
        Quantity::Current => &["A", "mA"],
        Quantity::Power => &["W", "mW", "kW"],
        Quantity::Charge => &["mAh", "Ah"],
        Quantity::AngularSpeed => &["rpm", "rad/s", "rps"],
        Quantity::Angle => &["deg", "rad"],
        Quantity::Temperature => &["°C", "°F", "K"],
        Quantity::Pressure => &["hPa", "Pa", "kPa"],
        Quantity::Acceleration => &["m/s2", "g"],
        Quantity::Force => &["g", "N", "kg", "oz"],
        _ => &[],
    }
}

/// A number without the dust of its arithmetic.
fn tidy(x: f64) -> f64 {
    let rounded = (x * 1e4).round() / 1e4;
    if rounded == 0.0 { 0.0 } else { rounded }
}

/// A TOML basic string.
pub fn toml_string(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => out += "\\\"",
            '\\' => out += "\\\\",
            c if c.is_control() => out += &format!("\\u{:04X}", u32::from(c)),
            c => out.push(c),
        }
    }
    out + "\""
}
