//! The product: everything `findings.json` holds. Pages are a view of it.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::findings::card::Card;
use crate::findings::figure::Figure;
use crate::findings::margins::Margins;
use crate::findings::sheets::{ComparisonSheet, FlightSheet, PowerSheet};
use crate::findings::shown::UnitShown;
use crate::ingest::FileLedger;
use crate::season::{DefaultUsed, Finding, QuestionKind};
use crate::stats::estimate::Estimate;
use crate::stats::observed::{Confounded, NotEstimable};

/// Version of the JSON's shape (see the committed JSON Schema).
pub const SCHEMA: u32 = 1;

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Findings {
    pub schema: u32,
    /// Program version that wrote it.
    pub version: String,
    pub season: SeasonSummary,
    pub ledger: Ledger,
    #[serde(default)]
    pub margins: Margins,
    pub questions: Vec<Answer>,
    pub figures: Vec<Figure>,
    /// Tables that pages show, cells with units in their column heads.
    pub tables: Vec<DataTable>,
    pub cautions: Vec<String>,
    /// What to measure and fly next, for one page.
    #[serde(default)]
    pub card: Card,
    /// What is known of each flight, power system and comparison, a page each; in season order.
    #[serde(default)]
    pub flights: Vec<FlightSheet>,
    #[serde(default)]
    pub powers: Vec<PowerSheet>,
    #[serde(default)]
    pub comparisons: Vec<ComparisonSheet>,
    /// Units that the pilot uses where the numbers here stand in others.
    #[serde(default)]
    pub units: Vec<UnitShown>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SeasonSummary {
    pub title: String,
    pub invented: bool,
    pub site: String,
    pub airframes: Vec<String>,
    pub powers: Vec<NamedPower>,
    pub days: Vec<String>,
    pub flights: u64,
    pub bench_runs: u64,
    pub defaults: Vec<DefaultUsed>,
    /// Seed of every resampling.
    pub seed: u64,
}

/// A power system with the place it has in the palette (one colour a system throughout).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NamedPower {
    pub id: String,
    pub name: String,
    pub colour: u32,
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Ledger {
    pub files: Vec<FileLedger>,
    pub findings: Vec<Finding>,
    /// Over all files.
    #[serde(default)]
    pub totals: RowsBehind,
}

/// Rows of the input files that something rests on: `rows_in == rows_used + rows_set_aside`.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct RowsBehind {
    pub files: u64,
    pub rows_in: u64,
    pub rows_used: u64,
    pub rows_set_aside: u64,
}

impl Ledger {
    /// Sets aside what was used of a flight's file: the flight had no use for it.
    pub fn withdraw_file(&mut self, file: &str, code: &str, first_line: u32) {
        let entry = self
            .files
            .iter_mut()
            .find(|f| f.file == file && f.rows_used > 0);
        if let Some(entry) = entry {
            entry.withdraw_all(
                code,
                u64::from(first_line),
                "the flight could not use this log",
            );
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    NotSettled,
    NoDifferenceThatMatters,
    Worse,
    MoreThanTheReferenceCases,
    PartlyCarriedOver,
    CarriedOver,
    /// The static gain's own interval includes 0: only the flight difference is reported.
    NothingToCarry,
    /// For questions whose answer is a number or a list.
    Answered,
    Enough,
    NotEnough,
    LoadsAlike,
    LoadedHarder,
}

impl Verdict {
    pub fn words(self) -> &'static str {
        match self {
            Self::NotSettled => "Not settled",
            Self::NoDifferenceThatMatters => "No difference that matters",
            Self::Worse => "Worse",
            Self::MoreThanTheReferenceCases => "More than the reference cases",
            Self::PartlyCarriedOver => "Partly carried over",
            Self::CarriedOver => "Carried over",
            Self::NothingToCarry => "Nothing to carry",
            Self::Answered => "Answered",
            Self::Enough => "Enough",
            Self::NotEnough => "Not enough",
            Self::LoadsAlike => "Loads alike",
            Self::LoadedHarder => "Loaded harder",
        }
    }
}

/// The answer to one question of design section 1.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Answer {
    pub question: QuestionKind,
    /// Unique, for links and file names, e.g. `carry-over-stock-swap`.
    pub id: String,
    /// The question in words, e.g. "Did the static gain carry over into flight?".
    pub asks: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub baseline: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub candidate: Option<String>,
    pub verdict: Verdict,
    /// The answer in a few words, where the verdict's own words say too little.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub in_short: Option<String>,
    /// The answer in one sentence.
    pub sentence: String,
    /// Keys into `estimates`, most important first: shown large.
    pub headline: Vec<String>,
    pub estimates: BTreeMap<String, Estimate>,
    /// What is missing for a (better) answer.
    pub missing: Vec<Step>,
    /// What to measure or fly next for it.
    pub next: Vec<Step>,
    /// Flights that would settle it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plan: Option<FlightPlan>,
    /// Honest causes, assumptions and remarks that belong to the verdict.
    pub remarks: Vec<String>,
    pub how: HowWeKnow,
    /// Rows of bench tables and logs that were read for it.
    #[serde(default)]
    pub rows: RowsBehind,
    /// Ids of figures and tables that belong to it, most important first.
    pub figures: Vec<String>,
    pub tables: Vec<String>,
    pub cautions: Vec<String>,
}

/// Something to do, or to get, for a (better) answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Step {
    pub kind: StepKind,
    /// In words: a sentence or a few.
    pub what: String,
}

/// How a step is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum StepKind {
    /// By further flights.
    Fly,
    /// On the bench, in the workshop or at the charger.
    Measure,
    /// By an entry in the season's files.
    Declare,
    /// By looking at the model, or at what was entered.
    Inspect,
    /// By a sensor or logger that is not on board yet.
    Equip,
}

impl Step {
    pub fn fly(what: impl Into<String>) -> Self {
        Self::new(StepKind::Fly, what)
    }

    pub fn measure(what: impl Into<String>) -> Self {
        Self::new(StepKind::Measure, what)
    }

    pub fn declare(what: impl Into<String>) -> Self {
        Self::new(StepKind::Declare, what)
    }

    pub fn inspect(what: impl Into<String>) -> Self {
        Self::new(StepKind::Inspect, what)
    }

    pub fn equip(what: impl Into<String>) -> Self {
        Self::new(StepKind::Equip, what)
    }

    /// What separates the effects that the flights flown cannot tell apart.
    pub fn separates(open: &NotEstimable) -> Self {
        let kind = match open.confounded {
            Confounded::NoScatter => StepKind::Inspect,
            _ => StepKind::Fly,
        };
        Self::new(kind, open.cross_over.clone())
    }

    fn new(kind: StepKind, what: impl Into<String>) -> Self {
        Self {
            kind,
            what: what.into(),
        }
    }
}

/// Flights to add to a season, in the order to fly them. How many, and the chance that they settle
/// the question, stand among the answer's estimates.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FlightPlan {
    pub flights: Vec<PlannedFlight>,
    pub passes_a_flight: u64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlannedFlight {
    /// Flying day, from 1.
    pub day: u64,
    /// Ids of power system, airframe and pack; `None` where the season names none.
    pub power: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub airframe: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pack: Option<String>,
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct HowWeKnow {
    pub method: Vec<String>,
    pub sources: Vec<String>,
    pub inputs: Vec<String>,
    /// What would change the answer.
    pub would_change: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DataTable {
    pub id: String,
    pub title: String,
    pub columns: Vec<DataColumn>,
    pub rows: Vec<Vec<DataCell>>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DataColumn {
    pub name: String,
    /// UCUM code, empty for text.
    pub unit: String,
    /// Digits after the point when shown.
    pub digits: u8,
    /// The column in the unit that the pilot uses, where that is another one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shown: Option<ShownColumn>,
}

/// A column of a [`DataTable`] in another unit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShownColumn {
    /// UCUM code.
    pub unit: String,
    pub digits: u8,
    /// One a row; texts stay where they are and are blank here.
    pub cells: Vec<DataCell>,
}

/// A cell: text, a number, or a number with its interval.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum DataCell {
    Text(String),
    Interval {
        value: f64,
        low: Option<f64>,
        high: Option<f64>,
    },
    Number(f64),
    /// Unknown, shown as a dash.
    Blank(()),
}

impl Answer {
    /// The answer in a few words.
    pub fn short(&self) -> &str {
        self.in_short
            .as_deref()
            .unwrap_or_else(|| self.verdict.words())
    }

    /// An answer that is not settled until evidence says otherwise.
    pub fn new(question: QuestionKind, id: &str, asks: &str) -> Self {
        Self {
            question,
            id: id.to_owned(),
            asks: asks.to_owned(),
            baseline: None,
            candidate: None,
            verdict: Verdict::NotSettled,
            in_short: None,
            sentence: String::new(),
            headline: Vec::new(),
            estimates: BTreeMap::new(),
            missing: Vec::new(),
            next: Vec::new(),
            plan: None,
            remarks: Vec::new(),
            how: HowWeKnow::default(),
            rows: RowsBehind::default(),
            figures: Vec::new(),
            tables: Vec::new(),
            cautions: Vec::new(),
        }
    }
}

impl DataColumn {
    pub fn new(name: &str, unit: &str, digits: u8) -> Self {
        Self {
            name: name.to_owned(),
            unit: unit.to_owned(),
            digits,
            shown: None,
        }
    }
}

impl DataCell {
    pub fn text(text: Option<&str>) -> Self {
        text.map_or(Self::Blank(()), |t| Self::Text(t.to_owned()))
    }

    pub fn number(value: Option<f64>) -> Self {
        value.map_or(Self::Blank(()), Self::Number)
    }

    /// Blank without a value, whatever the bounds.
    pub fn interval(value: Option<f64>, low: Option<f64>, high: Option<f64>) -> Self {
        value.map_or(Self::Blank(()), |value| Self::Interval { value, low, high })
    }
}
