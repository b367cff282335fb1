//! Links between the pages.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::findings::{Findings, FlightSheet};
use crate::report::chart;
use crate::report::names::{Names, Place, flight_at};

#[derive(Debug, Clone, Serialize)]
pub(super) struct Link {
    pub href: String,
    pub words: String,
    /// Of the power system it is about.
    pub colour: Option<String>,
}

impl Link {
    fn new(href: Option<String>, words: impl Into<String>) -> Option<Self> {
        let words = words.into();
        href.map(|href| Self {
            href,
            words,
            colour: None,
        })
    }

    fn coloured(mut self, colour: Option<u32>) -> Self {
        self.colour = colour.map(|place| chart::look(place).colour.hex());
        self
    }
}

/// Pages on which an answer stands with all its pictures and tables.
pub(super) fn homes(findings: &Findings, names: &Names, place: Place, question: &str) -> Vec<Link> {
    let pairs = findings.comparisons.iter().enumerate();
    let pairs = pairs.filter(|(_, c)| holds(&c.sheet.questions, question));
    let powers = findings.powers.iter().enumerate();
    let powers = powers.filter(|(_, p)| holds(&p.sheet.questions, question));
    pairs
        .filter_map(|(i, _)| comparison(findings, names, place, i))
        .chain(powers.filter_map(|(i, _)| power(findings, names, place, i)))
        .collect()
}

fn holds(ids: &[String], id: &str) -> bool {
    ids.iter().any(|known| known == id)
}

pub(super) fn comparison(
    findings: &Findings,
    names: &Names,
    place: Place,
    index: usize,
) -> Option<Link> {
    let pair = findings.comparisons.get(index)?;
    let words = format!("{} against {}", pair.candidate_name, pair.baseline_name);
    Link::new(place.comparison(names, index), words)
}

pub(super) fn power(
    findings: &Findings,
    names: &Names,
    place: Place,
    index: usize,
) -> Option<Link> {
    let power = findings.powers.get(index)?;
    Link::new(place.power(names, index), &power.name).map(|l| l.coloured(Some(power.colour)))
}

pub(super) fn power_by_id(
    findings: &Findings,
    names: &Names,
    place: Place,
    id: &str,
) -> Option<Link> {
    let index = findings.powers.iter().position(|p| p.id == id)?;
    power(findings, names, place, index)
}

pub(super) fn flight(
    findings: &Findings,
    names: &Names,
    place: Place,
    index: usize,
) -> Option<Link> {
    let flight = findings.flights.get(index)?;
    Link::new(place.flight(names, index), &flight.id)
        .map(|l| l.coloured(colour_of(findings, flight)))
}

pub(super) fn flights(
    findings: &Findings,
    names: &Names,
    place: Place,
    ids: &[String],
) -> Vec<Link> {
    let places = ids.iter().filter_map(|id| flight_at(&findings.flights, id));
    places
        .filter_map(|i| flight(findings, names, place, i))
        .collect()
}

fn colour_of(findings: &Findings, flight: &FlightSheet) -> Option<u32> {
    let power = flight.power.as_ref()?;
    let known = findings.powers.iter().find(|p| p.id == *power)?;
    Some(known.colour)
}

/// The flights of a day, a cell a power system.
#[derive(Debug, Serialize)]
pub(super) struct Day<'a> {
    day: Option<&'a str>,
    cells: Vec<Vec<Link>>,
}

/// Columns and days of the calendar: power systems in their order, then flights without one.
#[derive(Debug, Serialize)]
pub(super) struct Calendar<'a> {
    columns: Vec<Option<Link>>,
    days: Vec<Day<'a>>,
}

pub(super) fn calendar<'a>(findings: &'a Findings, names: &Names, place: Place) -> Calendar<'a> {
    let powers: Vec<&str> = findings.powers.iter().map(|p| p.id.as_str()).collect();
    let column = |flight: &FlightSheet| {
        let power = flight.power.as_deref();
        let known = power.and_then(|id| powers.iter().position(|p| *p == id));
        known.unwrap_or(powers.len())
    };
    let any_without = findings.flights.iter().any(|f| column(f) == powers.len());
    let width = powers.len() + usize::from(any_without);
    // Days in order, those not known at the end.
    let mut days: BTreeMap<(bool, &str), Vec<Vec<Link>>> = BTreeMap::new();
    for (index, entry) in findings.flights.iter().enumerate() {
        let day = entry.day.as_deref();
        let cells = days
            .entry((day.is_none(), day.unwrap_or("")))
            .or_insert_with(|| vec![Vec::new(); width]);
        let Some(link) = flight(findings, names, place, index) else {
            continue;
        };
        if let Some(cell) = cells.get_mut(column(entry)) {
            cell.push(link);
        }
    }
    let known = (0..powers.len()).map(|i| power(findings, names, place, i));
    Calendar {
        columns: known.chain(any_without.then_some(None)).collect(),
        days: days
            .into_iter()
            .map(|((unknown, day), cells)| Day {
                day: (!unknown).then_some(day),
                cells,
            })
            .collect(),
    }
}
