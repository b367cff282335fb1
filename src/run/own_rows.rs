//! The rows of flights' own pictures: in the store, or else on the shelf.

use std::sync::Arc;

use super::kept::{Kept, Key};
use super::shelf::{Shelf, ShelvedRows};
use crate::store::{FetchRows, FlightRows};

/// Kind of the store's entries that hold them.
const KIND: &str = "rows";

/// Where those of one flight lie.
pub enum RowsAt {
    Kept(Key),
    Shelved(ShelvedRows),
}

impl RowsAt {
    /// Those of an earlier run, if they are there.
    pub fn earlier(kept: &Kept, key: Key) -> Option<Self> {
        kept.has(KIND, key).then_some(Self::Kept(key))
    }

    pub fn put(rows: FlightRows, key: Option<Key>, (shelf, kept): (&Shelf, &Kept)) -> Self {
        match key.filter(|key| shelf.is_sound() && kept.put(KIND, *key, &rows)) {
            Some(key) => Self::Kept(key),
            None => Self::Shelved(shelf.put_rows(rows)),
        }
    }
}

/// Those of all flights, in their order.
pub struct RowsOfFlights {
    pub shelf: Arc<Shelf>,
    pub kept: Arc<Kept>,
    pub at: Vec<RowsAt>,
}

impl FetchRows for RowsOfFlights {
    fn fetch(&self, flight: usize) -> FlightRows {
        match self.at.get(flight) {
            None => FlightRows::default(),
            Some(RowsAt::Shelved(rows)) => self.shelf.rows(rows),
            Some(RowsAt::Kept(key)) => self.kept.get(KIND, *key).unwrap_or_else(|| {
                let what = "the store beside the report changed while the report was written";
                self.shelf.changed(what.to_owned());
                FlightRows::default()
            }),
        }
    }
}
