//! Rows that only a flight's own pictures show: hundreds to thousands a flight, too many to hold for all
//! flights of a season.

use std::fmt;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::tables::{PassSampleRow, StripRow, TrackRow};

/// Such rows of one flight.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct FlightRows {
    pub strips: Vec<StripRow>,
    pub track: Vec<TrackRow>,
    pub pass_samples: Vec<PassSampleRow>,
}

/// Where they are fetched from.
pub trait FetchRows: Send + Sync {
    /// Those of a flight by its place among the season's flights, from 0.
    fn fetch(&self, flight: usize) -> FlightRows;
}

impl FetchRows for Vec<FlightRows> {
    fn fetch(&self, flight: usize) -> FlightRows {
        self.get(flight).cloned().unwrap_or_default()
    }
}

/// The rows of every flight, wherever they lie; none by default.
#[derive(Clone, Default)]
pub struct OwnRows(Option<Arc<dyn FetchRows>>);

impl OwnRows {
    pub fn new(from: Arc<dyn FetchRows>) -> Self {
        Self(Some(from))
    }

    pub fn of(&self, flight: usize) -> FlightRows {
        self.0
            .as_ref()
            .map_or_else(FlightRows::default, |from| from.fetch(flight))
    }
}

impl fmt::Debug for OwnRows {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("OwnRows")
    }
}

/// The same place to fetch from.
impl PartialEq for OwnRows {
    fn eq(&self, other: &Self) -> bool {
        match (&self.0, &other.0) {
            (Some(one), Some(other)) => Arc::ptr_eq(one, other),
            (one, other) => one.is_none() && other.is_none(),
        }
    }
}
