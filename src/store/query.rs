//! Season-wide summaries over the tables, as group-bys of a data-frame engine (polars): the same
//! queries run on the Parquet files of a fleet.

use polars::prelude::*;

use super::schema::{Column as TableColumn, Row, Values};
use super::tables::FlightRow;

/// What a power system did over the season.
#[derive(Debug, Clone, PartialEq)]
pub struct PowerSummary {
    pub power: String,
    pub flights: usize,
    /// Flights with a measured current.
    pub measured: usize,
    pub airborne_s: f64,
    pub mean_energy_wh: Option<f64>,
    pub peak_current_a: Option<f64>,
}

/// Rows as a polars frame.
pub fn frame<R: Row>(rows: &[R]) -> PolarsResult<DataFrame> {
    let columns: Vec<Column> = R::columns(rows).into_iter().map(series).collect();
    DataFrame::new(rows.len(), columns)
}

fn series(column: TableColumn) -> Column {
    let name = PlSmallStr::from_static(column.name);
    match column.values {
        Values::Float(v) => Series::new(name, v).into(),
        Values::Int(v) => Series::new(name, v).into(),
        Values::Text(v) => Series::new(name, v).into(),
        Values::Bool(v) => Series::new(name, v).into(),
    }
}

/// Flights, time, energy and peak current by power system, sorted by its id.
pub fn by_power(flights: &[FlightRow]) -> PolarsResult<Vec<PowerSummary>> {
    let out = frame(flights)?
        .lazy()
        .filter(col("power").is_not_null())
        .group_by([col("power")])
        .agg([
            len().alias("flights"),
            col("has_current").sum().alias("measured"),
            col("airborne_s").sum().alias("airborne_s"),
            col("energy_wh").mean().alias("mean_energy_wh"),
            col("peak_current_a").max().alias("peak_current_a"),
        ])
        .sort(["power"], SortMultipleOptions::default())
        .collect()?;
    (0..out.height())
        .map(|row| {
            Ok(PowerSummary {
                power: text(&out, "power", row)?,
                flights: count(&out, "flights", row)?,
                measured: count(&out, "measured", row)?,
                airborne_s: float(&out, "airborne_s", row)?.unwrap_or(0.0),
                mean_energy_wh: float(&out, "mean_energy_wh", row)?,
                peak_current_a: float(&out, "peak_current_a", row)?,
            })
        })
        .collect()
}

fn text(frame: &DataFrame, name: &str, row: usize) -> PolarsResult<String> {
    Ok(frame
        .column(name)?
        .str()?
        .get(row)
        .unwrap_or_default()
        .to_owned())
}

fn float(frame: &DataFrame, name: &str, row: usize) -> PolarsResult<Option<f64>> {
    Ok(frame.column(name)?.f64()?.get(row))
}

fn count(frame: &DataFrame, name: &str, row: usize) -> PolarsResult<usize> {
    Ok(frame
        .column(name)?
        .cast(&DataType::UInt64)?
        .u64()?
        .get(row)
        .unwrap_or(0) as usize)
}
