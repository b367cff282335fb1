//! Metres or feet: what else in a file tells the unit of its heights.
//!
//! Heights are held against another column of heights with a unit, and against the integral of a
//! vertical speed with a unit, over stretches of [`WINDOW_S`]: the slope through the pairs is 1 for
//! metres and 3.28 for feet. It counts where the pairs lie on a line ([`LEAST_CORRELATION`]) and the
//! slope is near one of the two.

use super::channels::{AssignedColumn, Assignment};
use super::clock;
use super::log::Channel;
use super::plausible::{self, conversion};
use super::table::Table;
use super::words::{self, Purpose};

/// Stretch over which a climb is looked at, s: long against the lag of a vertical speed, short
/// against a flight.
const WINDOW_S: f64 = 3.0;
const LEAST_CORRELATION: f64 = 0.8;
/// Pairs that make a slope.
const LEAST_PAIRS: usize = 8;
/// Climbs smaller than this are noise, m (root of their mean square).
const LEAST_CLIMB_M: f64 = 0.5;
/// Metres in a foot (exact).
const FOOT_M: f64 = 0.3048;

/// The unit and what tells it.
pub(super) struct Found {
    pub unit: &'static str,
    pub why: String,
}

/// `column` holds heights without a unit.
pub(super) fn evidence(
    table: &Table,
    assignment: &Assignment,
    column: &AssignedColumn,
) -> Option<Found> {
    by_other_height(table, column.index).or_else(|| by_climb(table, assignment, column.index))
}

fn by_other_height(table: &Table, column: usize) -> Option<Found> {
    let (index, by) = (0..table.header.len()).find_map(|i| {
        let header = &table.header[i];
        let unit = header.unit.as_deref().filter(|_| i != column)?;
        let meaning = words::recognise(&header.name, Some(unit), Purpose::Log)?;
        let by = conversion(Channel::Height, unit)?;
        (meaning.channel == Channel::Height).then_some((i, by))
    })?;
    let both: Vec<(f64, f64)> = plausible::sample(table)
        .filter_map(|row| {
            let other = table.raw(row, index).number()? * by.factor;
            Some((other, table.raw(row, column).number()?))
        })
        .collect();
    let mean = |pick: fn(&(f64, f64)) -> f64| {
        both.iter().map(pick).sum::<f64>() / both.len().max(1) as f64
    };
    let (a, b) = (mean(|p| p.0), mean(|p| p.1));
    let pairs: Vec<_> = both.iter().map(|p| (p.0 - a, p.1 - b)).collect();
    let (unit, slope) = unit_of(&pairs)?;
    Some(Found {
        unit,
        why: format!(
            "it changes by {slope:.2} where '{}' changes by 1 m",
            table.column_name(index)
        ),
    })
}

fn by_climb(table: &Table, assignment: &Assignment, column: usize) -> Option<Found> {
    let (climb, sign) = [(Channel::ClimbRate, 1.0), (Channel::VelocityDown, -1.0)]
        .into_iter()
        .find_map(|(channel, sign)| Some((assignment.get(channel)?, sign)))?;
    // A vertical speed without a unit would tell only what was guessed of it.
    table.header[climb.index].unit.as_ref()?;
    let seconds = clock::rough(table, assignment)?;
    let rows: Vec<(f64, f64, f64)> = seconds
        .iter()
        .enumerate()
        .filter_map(|(row, &t)| {
            let speed = table.value(row, climb).number()? * sign;
            let height = table.raw(row, column).number()?;
            t.is_finite().then_some((t, speed, height))
        })
        .collect();
    let (mut pairs, mut start, mut climbed) = (Vec::new(), 0, 0.0);
    for i in 1..rows.len() {
        let (before, now) = (rows[i - 1], rows[i]);
        let step = now.0 - before.0;
        if !(0.0..=WINDOW_S).contains(&step) {
            (start, climbed) = (i, 0.0);
            continue;
        }
        climbed += 0.5 * (before.1 + now.1) * step;
        if now.0 - rows[start].0 >= WINDOW_S {
            pairs.push((climbed, now.2 - rows[start].2));
            (start, climbed) = (i, 0.0);
        }
    }
    let (unit, slope) = unit_of(&pairs)?;
    Some(Found {
        unit,
        why: format!(
            "it changes by {slope:.2} where '{}' says 1 m",
            table.column_name(climb.index)
        ),
    })
}

/// The unit of the second of each pair where the first is in metres, and the slope.
fn unit_of(pairs: &[(f64, f64)]) -> Option<(&'static str, f64)> {
    if pairs.len() < LEAST_PAIRS {
        return None;
    }
    let sum = |f: fn(&(f64, f64)) -> f64| pairs.iter().map(f).sum::<f64>();
    let (aa, bb, ab) = (sum(|p| p.0 * p.0), sum(|p| p.1 * p.1), sum(|p| p.0 * p.1));
    let climbs = (aa / pairs.len() as f64).sqrt() >= LEAST_CLIMB_M;
    let correlated = ab / (aa * bb).sqrt() >= LEAST_CORRELATION;
    if !climbs || !correlated {
        return None;
    }
    // Both ways, so that noise in either does not flatten the slope.
    let slope = (ab / aa * (bb / ab)).sqrt();
    [("m", 1.0), ("ft", 1.0 / FOOT_M)]
        .into_iter()
        .find(|(_, right)| (slope / right - 1.0).abs() <= 0.25)
        .map(|(unit, _)| (unit, slope))
}
