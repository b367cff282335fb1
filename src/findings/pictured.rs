//! A flight with the rows that its own pictures are made of.

use crate::findings::evidence::Evidence;
use crate::store::{FlightRow, FlightRows};

pub struct Pictured<'a> {
    pub evidence: &'a Evidence<'a>,
    pub row: &'a FlightRow,
    pub own: FlightRows,
    /// As it stands in ids.
    pub slug: String,
    /// Its place in the palette.
    pub colour: u32,
}

impl<'a> Pictured<'a> {
    /// `None`: there is no such flight.
    pub fn of(evidence: &'a Evidence<'a>, flight: &str) -> Option<Self> {
        let flights = &evidence.tables.flights;
        let number = flights.iter().position(|f| f.flight == flight)?;
        let row = &flights[number];
        Some(Self {
            evidence,
            row,
            own: evidence.tables.own.of(number),
            slug: evidence.flight_slug(flight),
            colour: row.power.as_deref().map_or(0, |p| evidence.colour(p)),
        })
    }
}
