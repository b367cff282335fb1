//! One flight's or bench run's results as rows of the season's tables; Parquet with the unit of each
//! column in the Arrow field metadata. polars lives here and nowhere else.

pub mod columns;
pub mod from_bench;
pub mod from_flight;
mod from_loads;
pub mod from_motion;
mod from_track;
mod own_rows;
pub mod parquet;
pub mod query;
pub mod schema;
pub mod tables;

pub use own_rows::{FetchRows, FlightRows, OwnRows};
pub use tables::*;
