//! The declared season as plain SI values. Everything here was checked; ids refer to existing
//! entries.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveDateTime};
use serde::{Deserialize, Serialize};

use crate::units::{Quantity, Unit};

/// A declared value or a default that stands in for it. Defaults are shown as such in the report,
/// with what knowing the value would buy.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Declared {
    /// SI.
    pub value: f64,
    pub is_default: bool,
}

#[derive(Debug, Clone, Default, PartialEq)]
pub struct Season {
    pub title: String,
    /// Demo and example data say so on every page.
    pub invented: bool,
    pub site: Site,
    pub airframes: BTreeMap<String, Airframe>,
    pub powers: BTreeMap<String, Power>,
    pub controllers: BTreeMap<String, Controller>,
    pub packs: BTreeMap<String, Pack>,
    pub instruments: BTreeMap<String, Instrument>,
    pub benches: Vec<BenchDecl>,
    pub logs: Vec<LogSource>,
    pub questions: Vec<QuestionDecl>,
    pub rules: Rules,
    pub options: Vec<OptionDecl>,
    /// From `logbook.csv`, in file order.
    pub logbook: Vec<LogbookRow>,
    /// From `passes.csv`, in file order.
    pub passes: Vec<PassRow>,
    /// Defaults that were used: (what, value in words, what knowing it would buy).
    pub defaults: Vec<DefaultUsed>,
    /// Units that `season.toml` is written in.
    pub units_written: UnitsWritten,
}

/// How often each unit stands in a season file, by quantity and in the order of its first use.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct UnitsWritten(BTreeMap<Quantity, Vec<(&'static str, usize)>>);

impl UnitsWritten {
    pub fn add(&mut self, unit: &Unit) {
        let words = self.0.entry(unit.quantity).or_default();
        match words.iter_mut().find(|(word, _)| *word == unit.word) {
            Some((_, times)) => *times += 1,
            None => words.push((unit.word, 1)),
        }
    }

    /// The unit word written most often for a quantity; of equals the one written first.
    pub fn usual(&self, quantity: Quantity) -> Option<&'static str> {
        let words = self.0.get(&quantity)?;
        let most = words.iter().map(|(_, times)| *times).max()?;
        words.iter().find(|(_, times)| *times == most).map(|w| w.0)
    }
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DefaultUsed {
    /// Path in the season file, e.g. `power.stock.outlet_area`.
    pub key: String,
    pub value: String,
    pub would_buy: String,
}

#[derive(Debug, Clone, Default, PartialEq)]
pub struct Site {
    pub name: String,
    /// m above mean sea level.
    pub elevation_m: Option<f64>,
    pub zone: Option<chrono_tz::Tz>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Airframe {
    pub name: String,
    /// Flying mass with the usual pack, kg.
    pub mass_kg: Option<f64>,
    pub wing_area_m2: Option<f64>,
    pub span_m: Option<f64>,
    pub stall_speed_m_s: Option<f64>,
    /// Load factor flown without trouble so far, declared by the pilot.
    pub load_factor_limit: Option<f64>,
    /// The same pushing, below zero.
    pub negative_load_factor_limit: Option<f64>,
    /// Greatest speed of the declared envelope.
    pub speed_limit_m_s: Option<f64>,
    /// Wing chord; default: wing area over span.
    pub mean_chord_m: Option<f64>,
    /// From the thrust line to the joint that carries the mount, m.
    pub joint_arm_m: Option<f64>,
    /// Where fan unit and pack sit: behind the balance point, m (negative ahead of it).
    pub unit_arm_m: Option<f64>,
    pub pack_arm_m: Option<f64>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Power {
    pub name: String,
    pub fan_diameter_m: Option<f64>,
    pub hub_diameter_m: Option<f64>,
    pub blades: Option<u32>,
    /// m²; default: swept area less the hub (hub 0.4 of the diameter when unknown). `None` where the
    /// fan's diameter is not known either.
    pub outlet_area_m2: Option<Declared>,
    /// Motor velocity constant, rad/s per V.
    pub motor_kv_rad_s_v: Option<f64>,
    pub motor_resistance_ohm: Option<f64>,
    pub motor_no_load_current_a: Option<f64>,
    /// Fan, motor and housing, kg.
    pub unit_mass_kg: Option<f64>,
    pub controller: Option<String>,
    /// Pack type this system usually flies with.
    pub pack: Option<String>,
}

#[derive(Debug, Clone, Default, PartialEq)]
pub struct Controller {
    pub name: String,
    pub continuous_a: Option<f64>,
    pub burst_a: Option<f64>,
    pub burst_s: Option<f64>,
    /// What the maker lets it reach, K.
    pub temperature_limit_k: Option<f64>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Pack {
    pub name: String,
    pub chemistry: String,
    pub cells: u32,
    /// Rated charge, C (ampere-seconds).
    pub capacity_c: f64,
    /// Continuous C rating, 1/h.
    pub c_rating: Option<f64>,
    /// Pack resistance (default 1.5 mΩ x cells x 3.3 Ah / capacity), ohm.
    pub resistance_ohm: Declared,
    pub mass_kg: Option<f64>,
}

/// One measuring instrument; inputs that share one have correlated scale errors.
#[derive(Debug, Clone, PartialEq)]
pub struct Instrument {
    pub name: String,
    /// By channel word (`voltage`, `current`, `power`, `thrust`, `exhaust_speed`, `rpm`, ...).
    pub measures: BTreeMap<String, Accuracy>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Accuracy {
    /// Scale error limit as a fraction of reading (half-width, rectangular); marks defaults.
    pub fraction: Declared,
    /// Absolute error limit (zero, half-width, rectangular), SI.
    pub absolute: Declared,
    /// Step of the display, SI; 0 when unknown.
    pub resolution: Declared,
    /// Greatest value it can show, SI.
    pub range_end: Option<f64>,
    /// True for a meter that holds the peak instead of showing the live value.
    pub peak_hold: bool,
}

#[derive(Debug, Clone, PartialEq)]
pub struct BenchDecl {
    pub id: String,
    pub power: String,
    pub airframe: Option<String>,
    /// Relative to the season folder.
    pub file: String,
    pub date: Option<NaiveDate>,
    pub temperature_k: Option<f64>,
    pub pressure_pa: Option<f64>,
    pub relative_humidity: Option<f64>,
    /// Instrument ids used.
    pub instruments: Vec<String>,
    pub channels: ChannelMap,
    pub text: TextForm,
    /// Same throttle end points, timing and controller on both sides: throttle means duty.
    pub equal_duty: bool,
    /// Line in season.toml, for findings.
    pub line: u32,
}

/// How delimited text is written, where the season says so.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct TextForm {
    pub encoding: Option<&'static encoding_rs::Encoding>,
    /// Rows one cell longer than the header begin with their number.
    pub row_numbers: Option<bool>,
}

/// A glob of log files and how to read them.
#[derive(Debug, Clone, PartialEq)]
pub struct LogSource {
    pub id: String,
    /// Glob relative to the season folder.
    pub files: String,
    pub channels: ChannelMap,
    pub text: TextForm,
    /// Sampling rate when the file has no time column, Hz.
    pub rate_hz: Option<f64>,
    /// How the logger writes dates such as `03/04/2025`.
    pub dates: Option<DateOrder>,
    /// A date above the header is that of rows without one.
    pub preamble_date: bool,
    pub instruments: Vec<String>,
    pub line: u32,
}

/// Declared meaning of columns: channel word to column.
pub type ChannelMap = BTreeMap<String, ChannelDecl>;

#[derive(Debug, Clone, Default, PartialEq)]
pub struct ChannelDecl {
    /// Header text of the column, exactly, or `#3` for the third.
    pub column: String,
    /// Unit word that overrules the header's.
    pub unit: Option<String>,
    /// For throttle: raw values (in the column's own unit) that mean 0 and 1.
    pub ends: Option<(f64, f64)>,
    /// Raw values are multiplied by this after unit conversion (e.g. -1 to reverse).
    pub scale: Option<f64>,
    /// The column's decimal mark, `.` or `,`; the other one groups thousands.
    pub decimal: Option<char>,
    /// No column of the file is this channel.
    pub unused: bool,
}

/// How `a/b/year` is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DateOrder {
    DayFirst,
    MonthFirst,
    /// `25/05/03`: year, month, day.
    YearFirst,
}

impl DateOrder {
    /// With the words of season.toml.
    pub const ALL: [(&str, Self); 3] = [
        ("day-first", Self::DayFirst),
        ("month-first", Self::MonthFirst),
        ("year-first", Self::YearFirst),
    ];

    pub fn word(self) -> &'static str {
        match self {
            Self::DayFirst => "day-first",
            Self::MonthFirst => "month-first",
            Self::YearFirst => "year-first",
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum QuestionKind {
    CarryOver,
    PowerAndDuration,
    Controller,
    Airframe,
    Pack,
    Sisters,
    /// Asked by declaring options, not by a question.
    WhatToChange,
    Next,
}

/// What may act on level top speed beside the fan and differ between flights.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Covariate {
    /// Of the air, from the logbook.
    Temperature,
    /// Of the air, from the logbook.
    Pressure,
    /// Of the air, as the flight's analysis took it.
    Density,
    /// Charge drawn before the passes, as a share of the pack.
    ChargeUsed,
    /// Place among the flights of the day.
    Order,
    /// Speed of the wind found in the flight.
    Wind,
}

#[derive(Debug, Clone, PartialEq)]
pub struct QuestionDecl {
    pub kind: QuestionKind,
    /// Power-system ids (airframe ids for `Sisters`). Both are the same where there is only one
    /// power system.
    pub baseline: String,
    pub candidate: String,
    /// The smallest difference in level top speed that matters, as a fraction.
    pub margin: Declared,
    /// Day on which the pilot settled on the margin.
    pub margin_set: Option<NaiveDate>,
    /// What is held fixed in the comparison of flights, in the order declared.
    pub covariates: Vec<Covariate>,
    /// Line in season.toml; 0 where nobody declared the question and it was derived.
    pub line: u32,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Rules {
    /// Controller headroom wanted over the largest held current, fraction.
    pub headroom: Declared,
    /// Charge left at landing, fraction of rated capacity.
    pub reserve: Declared,
    /// Throttle above which a straight counts as full throttle, fraction.
    pub full_throttle: Declared,
    /// Least length of a pass, s.
    pub pass_min_s: Declared,
    /// Most flights of one day that a plan may ask for.
    pub flights_a_day: Declared,
    /// Air on the hottest day that is to be flown, K.
    pub hot_day_k: Option<f64>,
}

impl Default for Rules {
    fn default() -> Self {
        let default = |value| Declared {
            value,
            is_default: true,
        };
        Self {
            headroom: default(0.25),
            reserve: default(0.20),
            full_throttle: default(0.95),
            pass_min_s: default(2.0),
            flights_a_day: default(6.0),
            hot_day_k: None,
        }
    }
}

/// Something the pilot considers changing.
#[derive(Debug, Clone, PartialEq)]
pub struct OptionDecl {
    pub name: String,
    pub controller: Option<String>,
    pub pack: Option<String>,
    pub added_mass_kg: Option<f64>,
    /// Where the added mass sits: behind the balance point, m (negative ahead of it).
    pub added_mass_arm_m: Option<f64>,
    pub cost: Option<String>,
}

#[derive(Debug, Clone, Default, PartialEq)]
pub struct LogbookRow {
    /// Flight id; given, or `YYYY-MM-DD/n`.
    pub flight: String,
    pub date: Option<NaiveDate>,
    /// Local start time where written.
    pub start: Option<NaiveDateTime>,
    /// Log files relative to the season folder; empty: none, or found by start time.
    pub logs: Vec<String>,
    pub airframe: Option<String>,
    pub power: Option<String>,
    pub pack: Option<String>,
    /// Charge put back after landing, C.
    pub put_back_c: Option<f64>,
    /// 1-based column of its cell.
    pub put_back_column: Option<u32>,
    pub temperature_k: Option<f64>,
    pub pressure_pa: Option<f64>,
    pub remarks: String,
    /// 1-based line in logbook.csv.
    pub line: u32,
}

#[derive(Debug, Clone, PartialEq)]
pub struct PassRow {
    pub flight: String,
    /// Words such as `N`, `upwind`, `1`; reciprocal passes have two distinct ones.
    pub direction: String,
    /// Ground speed, m/s (from a radar, or base / time).
    pub speed_m_s: f64,
    /// Base length and time where a stopwatch was used.
    pub base_m: Option<f64>,
    pub time_s: Option<f64>,
    pub run_up_m: Option<f64>,
    pub run_up_s: Option<f64>,
    pub minutes_since_take_off: Option<f64>,
    pub line: u32,
}
