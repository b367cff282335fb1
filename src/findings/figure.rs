//! Finished series for the pictures: a chart draws what stands here and computes nothing.

use serde::{Deserialize, Serialize};

use crate::findings::answer::Verdict;

/// One picture: its data, its caption (which states the finding) and its text alternative.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Figure {
    /// Unique; file stem of the SVG and PNG.
    pub id: String,
    pub caption: String,
    pub alt: String,
    pub data: FigureData,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "kind")]
pub enum FigureData {
    BenchCurves(BenchCurves),
    BenchAgainstFlight(BenchAgainstFlight),
    Ladder(Ladder),
    CurrentDuration(CurrentDuration),
    FlightStrip(FlightStrip),
    LevelSpeeds(LevelSpeeds),
    PassFit(PassFit),
    VelocityVectors(VelocityVectors),
    Plots(Plots),
    CellMap(CellMap),
    TrackMap(TrackMap),
    Calendar(Calendar),
}

/// Added to a power system's place in the palette: single readings behind the system's own figures.
pub const FAINT: u32 = 100;

/// Place in the palette of what belongs to no power system.
pub const NEUTRAL: u32 = 1000;

/// A line with optional band. `colour`: place in the palette. A power system keeps its own throughout
/// a report; see [`FAINT`] and [`NEUTRAL`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Line {
    pub label: String,
    pub colour: u32,
    pub x: Vec<f64>,
    pub y: Vec<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub low: Option<Vec<f64>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub high: Option<Vec<f64>>,
}

/// Points with optional vertical intervals (`null` where there is none).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Points {
    pub label: String,
    pub colour: u32,
    pub x: Vec<f64>,
    pub y: Vec<f64>,
    pub low: Vec<Option<f64>>,
    pub high: Vec<Option<f64>>,
}

/// An axis: quantity in words and the unit as shown, e.g. ("throttle", "%").
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Axis {
    pub quantity: String,
    pub unit: String,
}

/// Thrust and current by throttle at reference conditions, one panel each.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BenchCurves {
    pub panels: Vec<Panel>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Panel {
    pub x: Axis,
    pub y: Axis,
    pub lines: Vec<Line>,
    pub points: Vec<Points>,
}

/// Bench curve as line, holds in flight as points, one panel a power system.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BenchAgainstFlight {
    pub panels: Vec<PowerPanel>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PowerPanel {
    pub title: String,
    pub panel: Panel,
}

/// Interval ladder: static gain, reference cases, observed; rungs top to bottom.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Ladder {
    pub x: Axis,
    pub rungs: Vec<Rung>,
    /// Shaded from `low` to `high`, in the x unit (the reference band).
    pub band: Option<Span>,
    /// The smallest difference that matters, drawn at ± this.
    pub margin: Option<f64>,
    /// What the intervals are held against where it is not zero, in the x unit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit: Option<Mark>,
    pub verdict: Option<Verdict>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Rung {
    pub label: String,
    /// Second line under the label, in small print.
    pub note: String,
    pub value: Option<f64>,
    pub low: Option<f64>,
    pub high: Option<f64>,
    pub group: RungGroup,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RungGroup {
    Static,
    Reference,
    Observed,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Span {
    pub low: f64,
    pub high: f64,
    pub label: String,
}

/// Largest mean current held for t seconds (log t axis), with ratings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CurrentDuration {
    pub x: Axis,
    pub y: Axis,
    pub lines: Vec<Line>,
    /// Horizontal rating lines over a span of durations.
    pub ratings: Vec<Rating>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Rating {
    pub label: String,
    pub current: f64,
    pub from_s: f64,
    /// Finite, as JSON wants it: for a rating without end any time beyond the longest line.
    pub to_s: f64,
}

/// Stacked strips over one time axis, holds shaded, gaps left open.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FlightStrip {
    pub x: Axis,
    pub strips: Vec<Strip>,
    /// Shaded spans of time: holds and passes.
    pub shades: Vec<Shade>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Strip {
    pub y: Axis,
    /// One run of samples between gaps each.
    pub segments: Vec<Line>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Shade {
    pub from: f64,
    pub to: f64,
    /// `hold` or `pass`.
    pub what: String,
}

/// Level top speed of each flight with its interval, grouped by day, coloured by fan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LevelSpeeds {
    pub y: Axis,
    /// Day labels in order; each point's x is a day index plus a small offset.
    pub days: Vec<String>,
    pub points: Vec<Points>,
}

/// One flight's passes: airspeed against time since the start of the pass, with the joint fit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PassFit {
    pub x: Axis,
    pub y: Axis,
    pub measured: Vec<Line>,
    pub fitted: Vec<Line>,
    pub level_speed: Span,
    pub level_value: f64,
}

/// Ground velocities (east, north) of the passes, with the wind and the circle of level speed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct VelocityVectors {
    pub unit: String,
    /// Exit velocities.
    pub points: Vec<Points>,
    pub wind_east: f64,
    pub wind_north: f64,
    pub wind_se: f64,
    pub radius: f64,
}

/// Lines and points against each other, a panel each; marks are limits and ratings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Plots {
    pub panels: Vec<Plot>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Plot {
    /// Over the panel; may be empty.
    pub title: String,
    pub x: Axis,
    pub y: Axis,
    pub x_range: AxisRange,
    pub y_range: AxisRange,
    pub lines: Vec<Line>,
    pub points: Vec<Points>,
    pub marks: Vec<Mark>,
}

/// What an axis spans.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AxisRange {
    /// What is drawn, and a little more.
    Fitted,
    /// From zero, where nothing drawn is below it.
    FromZero,
    /// A logarithmic axis over what is drawn; values at or below zero are left out.
    Logarithmic,
}

/// A labelled straight line over the whole panel: a limit, a rating, a reserve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Mark {
    pub label: String,
    pub at: f64,
    pub across: Across,
}

/// The axis that a mark stands on: `x` is an upright line at a value of x.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Across {
    X,
    Y,
}

/// Values over two quantities in classes, each written in its cell; a panel each.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CellMap {
    pub panels: Vec<CellPanel>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CellPanel {
    pub title: String,
    pub x: Axis,
    pub y: Axis,
    /// What the cells hold.
    pub value: Axis,
    /// Digits after the point of the values.
    pub digits: u8,
    /// Class limits, ascending, one more than columns.
    pub x_edges: Vec<f64>,
    /// Class limits, ascending, one more than rows; the first row is the lowest.
    pub y_edges: Vec<f64>,
    pub cells: Vec<MapCell>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MapCell {
    pub column: u32,
    pub row: u32,
    pub value: f64,
    /// Small print under the value, such as a count; may be empty.
    pub note: String,
}

/// A flight's path over the ground, seen from above, with its passes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrackMap {
    /// Of all positions, from the flight's first one.
    pub unit: String,
    /// Unbroken stretches; x to the east, y to the north.
    pub path: Vec<Line>,
    pub passes: Vec<MapPass>,
    /// Where the flight began and ended.
    pub places: Vec<MapPlace>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wind: Option<MapWind>,
}

/// One pass on a map, in the direction flown.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MapPass {
    /// As in the table of passes.
    pub number: u32,
    /// False: found and set aside.
    pub used: bool,
    pub line: Line,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MapPlace {
    pub label: String,
    pub east: f64,
    pub north: f64,
}

/// The wind, by the direction it blows to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MapWind {
    pub unit: String,
    pub to_east: f64,
    pub to_north: f64,
    /// Standard error of either component.
    pub se: f64,
    /// The error leaves the direction open.
    pub direction_open: bool,
    /// Speed, direction and error.
    pub words: Vec<String>,
}

/// Flights by day, one mark a flight, one row a power system.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Calendar {
    /// Flying days in order.
    pub days: Vec<String>,
    pub rows: Vec<CalendarRow>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CalendarRow {
    pub label: String,
    pub colour: u32,
    pub flights: Vec<CalendarFlight>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CalendarFlight {
    pub flight: String,
    /// Place among the days, from 0.
    pub day: u32,
    /// Order within the day, from 1.
    pub order: u32,
}
