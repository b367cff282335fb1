//! One picture a file. Each takes finished series and draws them; none computes a result.

mod calendar;
mod canvas;
mod cell_map;
mod current_duration;
mod flight_strip;
mod frame;
mod ladder;
mod level_speeds;
mod marks;
mod naming;
mod palette;
mod panels;
mod pass_fit;
mod place;
mod scale;
mod series;
mod spots;
mod track_map;
mod velocity;

pub use frame::short_decimals;
pub use palette::look;

use crate::findings::FigureData;
use crate::report::ReportError;

/// Width that a picture is set for; text keeps its size, the layout changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sheet {
    /// A page or a desktop window.
    Wide,
    /// A phone held upright.
    Narrow,
}

impl Sheet {
    /// Logical pixels.
    fn width(self) -> f64 {
        match self {
            Self::Wide => 720.0,
            Self::Narrow => 358.0,
        }
    }

    fn is_wide(self) -> bool {
        self == Self::Wide
    }
}

/// The picture as SVG; `None` where there is nothing to draw.
pub fn draw(data: &FigureData, sheet: Sheet) -> Result<Option<String>, ReportError> {
    match data {
        FigureData::BenchCurves(data) => panels::curves(data, sheet),
        FigureData::BenchAgainstFlight(data) => panels::against_flight(data, sheet),
        FigureData::Ladder(data) => ladder::draw(data, sheet),
        FigureData::CurrentDuration(data) => current_duration::draw(data, sheet),
        FigureData::FlightStrip(data) => flight_strip::draw(data, sheet),
        FigureData::LevelSpeeds(data) => level_speeds::draw(data, sheet),
        FigureData::PassFit(data) => pass_fit::draw(data, sheet),
        FigureData::VelocityVectors(data) => velocity::draw(data, sheet),
        FigureData::Plots(data) => panels::plots(data, sheet),
        FigureData::CellMap(data) => cell_map::draw(data, sheet),
        FigureData::TrackMap(data) => track_map::draw(data, sheet),
        FigureData::Calendar(data) => calendar::draw(data, sheet),
    }
}
